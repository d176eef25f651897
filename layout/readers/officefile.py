"""Reads the office's own files: products with their packs and consumptions, and rates to price a take-off."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from layout.errors import PlanError, PlanFaults
from layout.fields import Faults, Number, Text, shown, words_of
from layout.keys import told_unknown
from layout.plan.values import Stage
from layout.quantities.bill import FreeLine, Rate, Rates
from layout.readers.texts import parse_toml, read_text
from layout.standards.products import FIGURES, OWN, Products

if TYPE_CHECKING:
    from collections.abc import Mapping

    from layout.errors import Rule

RATE = Number(0.0, length=False)
TEXT = Text(1)
STAGE = words_of(Stage)
A_RATE = 'give [rates] with lines like membrane = { rate = 9.5, unit = "kg" }'
A_FIGURE = "give figures of the data sheets, as membrane_pack_kg = 20"


def read_figures(path: str | Path, *, named: bool = False) -> Mapping[str, Rule]:
    """Figures of products that a file gives: each key a number, or a table of value and source; `named` if a plan names it.

    Raises
    ------
    PlanError, PlanFaults
        With file, key, value found and what would be right.
    """
    path = Path(path)
    faults = Faults(path.name)
    given = FIGURES.read(parse_toml(read_text(path, named=named, begin=A_FIGURE), path.name), "", faults)
    if given is None:
        raise PlanFaults(tuple(faults.found))
    own = f"products file {path.name}"
    return {name: replace(rule, source=own) if rule.source == OWN else rule for name, rule in given.items()}


def read_products(path: str | Path) -> Products:
    """Products from a file, the generic figures where it gives none. Errors are those of `read_figures`."""
    return replace(Products(), **read_figures(path))


def read_rates(path: str | Path) -> Rates:
    """Rates from a file: `currency`, under [rates] a rate and a unit for each item, and [[lines]] that are free.

    A unit is the item's own or "pack". A free line has name, rate, and if need be quantity (1), unit ("sum") and stage.

    Raises
    ------
    PlanError, PlanFaults
        With file, key, value found and what would be right.
    """
    path = Path(path)
    if path.suffix.lower() in (".csv", ".xls", ".xlsx"):
        mend = 'give a .toml file with [rates] and lines like adhesive = { rate = 18.5, unit = "pack" }; takeoff --keys shows the keys'
        raise PlanError(path.name, "rates are not read from tables", mend)
    faults = Faults(path.name)
    raw = parse_toml(read_text(path, begin=A_RATE), path.name)
    currency = raw.pop("currency", "")
    table = raw.pop("rates", None)
    if not isinstance(currency, str):
        faults.add("currency", f"{shown(currency)} found", 'give its letters, as currency = "EUR"')
    lines = _free_lines(raw.pop("lines", []), faults)
    for key in raw:
        told_unknown(key, ("currency", "rates", "lines"), shown(key)[1:-1], faults)
    rates: dict[str, Rate] = {}
    if table is None and lines:
        table = {}
    elif not isinstance(table, dict) or not table:
        faults.add("rates", "it is missing", A_RATE)
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
    return Rates(source=path.name, currency=currency, rates=rates, lines=tuple(lines))


def _free_lines(table: object, faults: Faults) -> list[FreeLine]:
    """Plant and lump sums: lines that no item measures."""
    result: list[FreeLine] = []
    if not isinstance(table, list) or not all(isinstance(row, dict) for row in table):
        faults.add("lines", f"{shown(table)} found", 'give [[lines]] with name = "mixer hire", rate = 80, unit = "week", quantity = 2')
        return result
    for number, row in enumerate(table):
        place = f"lines[{number}]"
        line = {"quantity": 1.0, "unit": "sum", "stage": "general", **row}
        unknown = [key for key in line if key not in ("name", "quantity", "unit", "rate", "stage")]
        if unknown or "name" not in line or "rate" not in line:
            found = f"{unknown[0]!r} found" if unknown else "name or rate is missing"
            faults.add(place, found, "give name and rate, and if need be quantity, unit and stage")
            continue
        name, unit = (TEXT.read(line[key], f"{place}.{key}", faults) for key in ("name", "unit"))
        quantity, rate = (RATE.read(line[key], f"{place}.{key}", faults) for key in ("quantity", "rate"))
        stage = STAGE.read(line["stage"], f"{place}.stage", faults)
        if name is not None and unit is not None and quantity is not None and rate is not None and stage is not None:
            result.append(FreeLine(name=name, quantity=quantity, unit=unit, rate=rate, stage=stage))
    return result
