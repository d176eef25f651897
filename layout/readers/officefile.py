"""Reads the office's own files: products with their packs and consumptions, and rates to price a take-off."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from layout.errors import PlanFaults
from layout.fields import Faults, Number, shown
from layout.quantities.bill import Rate, Rates
from layout.readers.texts import parse_toml, read_text
from layout.standards.products import FIGURES, OWN, Products

if TYPE_CHECKING:
    from collections.abc import Mapping

    from layout.errors import Rule

RATE = Number(0.0, length=False)


def read_figures(path: str | Path, *, named: bool = False) -> Mapping[str, Rule]:
    """Figures of products that a file gives: each key a number, or a table of value and source; `named` if a plan names it.

    Raises
    ------
    PlanError, PlanFaults
        With file, key, value found and what would be right.
    """
    path = Path(path)
    faults = Faults(path.name)
    given = FIGURES.read(parse_toml(read_text(path, named=named), path.name), "", faults)
    if given is None:
        raise PlanFaults(tuple(faults.found))
    own = f"products file {path.name}"
    return {name: replace(rule, source=own) if rule.source == OWN else rule for name, rule in given.items()}


def read_products(path: str | Path) -> Products:
    """Products from a file, the generic figures where it gives none. Errors are those of `read_figures`."""
    return replace(Products(), **read_figures(path))


def read_rates(path: str | Path) -> Rates:
    """Rates from a file: `currency`, and under [rates] a rate and a unit for each item.

    Raises
    ------
    PlanError, PlanFaults
        With file, key, value found and what would be right.
    """
    path = Path(path)
    faults = Faults(path.name)
    raw = parse_toml(read_text(path), path.name)
    currency = raw.pop("currency", "")
    table = raw.pop("rates", None)
    if not isinstance(currency, str):
        faults.add("currency", f"{shown(currency)} found", 'give its letters, as currency = "EUR"')
    for key in raw:
        faults.add(shown(key)[1:-1], "it is no key of a rates file", "keys are currency and rates")
    rates: dict[str, Rate] = {}
    if not isinstance(table, dict) or not table:
        faults.add("rates", "it is missing", 'give [rates] with lines like membrane = { rate = 9.5, unit = "kg" }')
        table = {}
    for key, value in table.items():
        place = f"rates.{shown(key)}"
        if not isinstance(value, dict) or set(value) != {"rate", "unit"} or not isinstance(value["unit"], str):
            faults.add(place, f"{shown(value)} found", 'give { rate = 9.5, unit = "kg" }')
            continue
        found = RATE.read(value["rate"], f"{place}.rate", faults)
        if found is not None:
            rates[key] = Rate(key, found, value["unit"])
    if faults.found:
        raise PlanFaults(tuple(faults.found))
    return Rates(source=path.name, currency=currency, rates=rates)
