"""Reads what a site writes down: temperature and air day by day, and what was really done."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from layout.errors import PlanError, PlanFaults
from layout.fields import Count, Faults, Text, shown
from layout.keys import Form, told_unknown
from layout.plan.works import CELSIUS, DayWeather, Moment
from layout.programme.done import DoneRow
from layout.readers.texts import read_text, table_rows

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

WEATHER = Form(DayWeather)
AREA = Count(1, 10_000)
DAYS = "give lines like 2026-12-01,14,65 under date,temperature,humidity"


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
    for number, row in columns(read_text(path, begin=DAYS), path.name, tuple(WEATHER.rows), ("date", "temperature")):
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
        faults.add("", "it has no days", DAYS)
    if faults.found:
        raise PlanFaults(tuple(faults.found))
    return tuple(days)


def read_done(path: str | Path) -> tuple[DoneRow, ...]:
    """What was done, from a CSV file with a head or from JSON: a list of the same, or such a list as `done` of an object.

    Columns are `room`, `stage` (as in the programme's records), `start`, and where known `area`, `end` (without it the stage is under
    way) and `temperature` of the surface.

    Raises
    ------
    PlanError, PlanFaults
        With file, row, column, value found and what would be right.
    """
    path = Path(path)
    text = read_text(path, begin=ROWS)
    faults = Faults(path.name)
    rows = []
    for place, row in _from_json(text, path.name) if text.lstrip()[:1] in ("{", "[") else _from_csv(text, path.name):
        given = {name: _done_cell(name, value, f"{place}, {name}", faults) for name, value in row.items() if value is not None}
        for name in DONE_MUST:
            if name not in given:
                faults.add(f"{place}, {name}", "it is missing", f"give {', '.join(DONE_MUST)} of each stage")
        if not faults.found:
            rows.append(DoneRow(**given, place=f"{path.name}: {place}"))
    if not rows and not faults.found:
        faults.add("", "it has no rows", ROWS)
    if faults.found:
        raise PlanFaults(tuple(faults.found))
    return tuple(rows)


DONE = ("room", "stage", "area", "start", "end", "temperature")
ROWS = "give lines like Wash-up,prime,1,2026-11-30T07:00,2026-11-30T09:20,18 under " + ",".join(DONE)
DONE_MUST = ("room", "stage", "start")


def _from_csv(text: str, name: str) -> Iterator[tuple[str, dict[str, Any]]]:
    for number, row in columns(text, name, DONE, DONE_MUST):
        yield f"line {number}", dict(row)


def _from_json(text: str, name: str) -> Iterator[tuple[str, dict[str, Any]]]:
    try:
        held = json.loads(text)
    except (ValueError, RecursionError):
        raise PlanError(name, "it is not JSON", 'give a list of rows, or {"done": [...]}') from None
    rows = held.get("done") if isinstance(held, dict) else held
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise PlanError(name, "it holds no list of rows", 'give a list of rows, or {"done": [...]}')
    for number, row in enumerate(rows, 1):
        for key in row:
            if key not in DONE:
                raise PlanError(f"{name}: row {number}, {shown(key)}", "there is no such key", "keys are " + ", ".join(DONE))
        yield f"row {number}", row


def _done_cell(name: str, value: object, place: str, faults: Faults) -> Any:  # noqa: ANN401
    """One value of a row as its column wants it; None with a fault noted if it is wrong."""
    if name in ("start", "end"):
        return Moment().read(value, place, faults)
    if name in ("room", "stage"):
        return Text(1).read(value, place, faults)
    number = number_of(value, place, faults) if isinstance(value, str) else value
    if number is None:
        return None
    return AREA.read(number, place, faults) if name == "area" else CELSIUS.read(number, place, faults)


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
