"""Reads the office's own files: products with their packs and consumptions, and rates to price a take-off."""

from __future__ import annotations

import difflib
import math
import tomllib
from pathlib import Path
from typing import Any

from layout.errors import PlanError, PlanFaults, Rule
from layout.quantities.bill import Rate, Rates
from layout.readers.fields import Faults, shown
from layout.readers.texts import read_text
from layout.standards.products import PRODUCT_KEYS, Products


def _table(path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(read_text(path))
    except tomllib.TOMLDecodeError as error:
        raise PlanError(path.name, f"not TOML: {error}", "mend the line named") from None


def _number(value: object, place: str, faults: Faults, *, above: bool) -> float | None:
    bad = isinstance(value, bool) or not isinstance(value, (int, float)) or not math.isfinite(value)
    if bad or (isinstance(value, (int, float)) and (value < 0.0 or (above and value == 0.0))):
        faults.add(place, f"{shown(value)} found", f"give a number {'above' if above else 'from'} 0")
        return None
    return float(value)  # type: ignore[arg-type]  # a number: checked above


def read_products(path: str | Path) -> Products:
    """Products from a file: each key a number, or a table of value and source.

    Raises
    ------
    PlanError, PlanFaults
        With file, key, value found and what would be right.
    """
    path = Path(path)
    faults = Faults(path.name)
    given: dict[str, Rule] = {}
    defaults = Products()
    for key, value in _table(path).items():
        if key not in PRODUCT_KEYS:
            near = difflib.get_close_matches(key, PRODUCT_KEYS, n=1)
            faults.add(key, "it is no figure of a product", f"did you mean {near[0]}?" if near else "keys are " + ", ".join(PRODUCT_KEYS))
            continue
        default: Rule = getattr(defaults, key)
        source = f"products file {path.name}"
        number: object = value
        if isinstance(value, dict):
            unknown = [name for name in value if name not in ("value", "unit", "source")]
            if unknown or "value" not in value:
                faults.add(key, "it lacks a value" if "value" not in value else f"{unknown[0]!r} found", "give value, and source if known")
                continue
            if value.get("unit", default.unit) != default.unit:
                faults.add(f"{key}.unit", f"{shown(value['unit'])} found", f'this figure is in "{default.unit}"')
                continue
            number, source = value["value"], str(value.get("source", source))
        found = _number(number, key, faults, above=default.value > 0.0)
        if found is not None:
            given[key] = Rule(found, default.unit, source)
    if faults.found:
        raise PlanFaults(tuple(faults.found))
    return Products(**given)


def read_rates(path: str | Path) -> Rates:
    """Rates from a file: `currency`, and under [rates] a rate and a unit for each item.

    Raises
    ------
    PlanError, PlanFaults
        With file, key, value found and what would be right.
    """
    path = Path(path)
    faults = Faults(path.name)
    raw = _table(path)
    currency = raw.pop("currency", "")
    table = raw.pop("rates", None)
    if not isinstance(currency, str):
        faults.add("currency", f"{shown(currency)} found", 'give its letters, as currency = "EUR"')
    for key in raw:
        faults.add(key, "it is no key of a rates file", "keys are currency and rates")
    rates: dict[str, Rate] = {}
    if not isinstance(table, dict) or not table:
        faults.add("rates", "it is missing", 'give [rates] with lines like membrane = { rate = 9.5, unit = "kg" }')
        table = {}
    for key, value in table.items():
        place = f'rates."{key}"'
        if not isinstance(value, dict) or set(value) != {"rate", "unit"} or not isinstance(value["unit"], str):
            faults.add(place, f"{shown(value)} found", 'give { rate = 9.5, unit = "kg" }')
            continue
        found = _number(value["rate"], f"{place}.rate", faults, above=False)
        if found is not None:
            rates[key] = Rate(key, found, value["unit"])
    if faults.found:
        raise PlanFaults(tuple(faults.found))
    return Rates(source=path.name, currency=currency, rates=rates)
