"""Reads what a site writes down: temperature and air day by day."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from layout.errors import PlanError, PlanFaults
from layout.fields import Faults, shown
from layout.keys import Form, told_unknown
from layout.plan.works import DayWeather
from layout.readers.texts import read_text, table_rows

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

WEATHER = Form(DayWeather)


def read_weather(path: str | Path) -> tuple[DayWeather, ...]:
    """Days of a CSV file with a head: `date`, `temperature` and, where known, `humidity` and `air`, in the order of the dates.

    Raises
    ------
    PlanError, PlanFaults
        With file, line, column, value found and what would be right.
    """
    path = Path(path)
    faults = Faults(path.name)
    days = []
    for number, row in columns(read_text(path), path.name, tuple(WEATHER.rows), ("date", "temperature")):
        place = f"line {number}"
        given: dict[str, object] = {}
        for name, cell in row.items():
            given[name] = cell if name == "date" else number_of(cell, f"{place}, {name}", faults)
        if any(value is None for value in given.values()):
            continue
        day = WEATHER.read(given, place, faults)
        if day is not None:
            days.append(day)
    if not days and not faults.found:
        faults.add("", "it has no days", "give lines like 2026-12-01,14,65 under date,temperature,humidity")
    if faults.found:
        raise PlanFaults(tuple(faults.found))
    return tuple(days)


def columns(text: str, name: str, known: Sequence[str], must: Sequence[str]) -> Iterator[tuple[int, dict[str, str]]]:
    """Lines of a CSV text with a head, by number, each as its cells by column; empty cells are left out.

    Raises
    ------
    PlanError : a column that is not known or is missing, a line with more cells than the head.
    """
    rows = table_rows(text, name)
    (line, head), *body = rows
    names = [cell.lower().replace(" ", "_") for cell in head]
    faults = Faults(name)
    for each in names:
        if each not in known:
            told_unknown(each, tuple(known), f"line {line}, {shown(each)}", faults)
    for each in must:
        if each not in names:
            faults.add(f"line {line}", f"there is no column {each}", "begin with a head as " + ",".join(known))
    if faults.found:
        raise PlanFaults(tuple(faults.found))
    for number, cells in body:
        if len(cells) > len(names):
            raise PlanError(
                f"{name}: line {number}", f"{len(cells)} cells found under {len(names)} columns", "put text with commas in quotes"
            )
        yield number, {key: cell for key, cell in zip(names, cells, strict=False) if cell}


def number_of(cell: str, place: str, faults: Faults) -> float | None:
    """A number of a table, with a point or a comma; None with a fault noted if it is none."""
    try:
        return float(cell.replace(",", "."))
    except ValueError:
        faults.add(place, f"{shown(cell)} found", "give a number")
        return None
