"""Reads a site survey: a table of distances between named corners, walls and diagonals in any order."""

from __future__ import annotations

import math
from pathlib import Path

from layout.errors import PlanError, PlanFaults
from layout.fields import LIMIT, Faults, shown, unseen
from layout.readers.texts import read_text, table_rows
from layout.survey.readings import Reading
from layout.units import parse_length

MOST_LETTERS = 40
"""Letters of a corner's name."""


def read_survey(path: str | Path) -> tuple[Reading, ...]:
    """Readings from a CSV file with the columns from, to, length; lines that begin with # are remarks.

    Raises
    ------
    PlanError, PlanFaults
        With line, value found and what would be right.
    """
    path = Path(path)
    faults = Faults(path.name)
    found: list[Reading] = []
    seen: dict[frozenset[str], int] = {}
    rows = table_rows(read_text(path), path.name)
    if not rows or [cell.lower() for cell in rows[0][1]] != ["from", "to", "length"]:
        raise PlanError(path.name, "its first line does not name the columns", "begin with: from,to,length")
    for number, cells in rows[1:]:
        place = f"line {number}"
        if len(cells) != 3 or not cells[0] or not cells[1]:
            faults.add(place, f"{shown(','.join(cells))} found", "give two corners and a length: A,B,3620")
            continue
        first, second, length = cells
        odd = next((each for each in (first, second) if len(each) > MOST_LETTERS or unseen(each)), None)
        if odd is not None:
            faults.add(place, f"a corner called {shown(odd)}", f"call corners by a letter or a number, {MOST_LETTERS} letters at most")
            continue
        try:
            value = parse_length(length)
        except ValueError:
            value = 0.0
        if not 0.0 < value < 1e6:
            faults.add(place, f"length {shown(length)} found", "give a length above 0, in mm or with its unit")
        elif first == second:
            faults.add(place, f"{first} to itself", "measure between two corners")
        elif frozenset((first, second)) in seen:
            faults.add(place, f"{first}–{second} is measured in line {seen[frozenset((first, second))]} already", "keep one, or their mean")
        else:
            seen[frozenset((first, second))] = number
            found.append(Reading(first, second, value, f"{path.name}: {place}"))
    if faults.found:
        raise PlanFaults(tuple(faults.found))
    return tuple(found)


COLUMNS = (("name", "x", "y"), ("name", "along", "offset"))


def read_points(path: str | Path) -> list[tuple[float, float]]:
    """Corners from a CSV file: name, x, y, or name, along, offset from a base line (to its left positive), in order round the room, mm.

    Raises
    ------
    PlanError, PlanFaults
        With line, value found and what would be right.
    """
    path = Path(path)
    faults = Faults(path.name)
    rows = table_rows(read_text(path), path.name)
    head = tuple(cell.lower() for cell in rows[0][1]) if rows else ()
    if head[:3] not in COLUMNS:
        raise PlanError(path.name, "its first line does not name the columns", "begin with: name,x,y or name,along,offset")
    found: list[tuple[float, float]] = []
    for number, cells in rows[1:]:
        try:
            x, y = (parse_length(cell) for cell in cells[1:3])
        except ValueError:
            x = y = math.inf
        if not (abs(x) <= LIMIT and abs(y) <= LIMIT):
            faults.add(f"line {number}", f"{shown(','.join(cells))} found", f"give {', '.join(head[:3])} in mm or with units: A,0,3620")
            continue
        found.append((round(x, 1), round(y, 1)))
    if faults.found:
        raise PlanFaults(tuple(faults.found))
    if len(found) < 3:
        raise PlanError(path.name, f"{len(found)} points found", "a room has three corners at least, in order round it")
    return found
