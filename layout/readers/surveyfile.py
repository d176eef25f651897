"""Reads a site survey: a table of distances between named corners, walls and diagonals in any order."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING

from layout.errors import PlanError, PlanFaults
from layout.readers.fields import Faults
from layout.readers.texts import read_text
from layout.survey import Reading
from layout.units import parse_length

if TYPE_CHECKING:
    from pathlib import Path


def read_survey(path: Path) -> tuple[Reading, ...]:
    """Readings from a CSV file with the columns from, to, length; lines that begin with # are remarks.

    Raises
    ------
    PlanError, PlanFaults
        With line, value found and what would be right.
    """
    faults = Faults(path.name)
    found: list[Reading] = []
    seen: dict[frozenset[str], int] = {}
    rows = [
        (number, line) for number, line in enumerate(read_text(path).splitlines(), 1) if line.strip() and not line.lstrip().startswith("#")
    ]
    if not rows or [cell.strip().lower() for cell in rows[0][1].split(",")] != ["from", "to", "length"]:
        raise PlanError(path.name, "its first line does not name the columns", "begin with: from,to,length")
    for number, line in rows[1:]:
        cells = [cell.strip() for cell in next(csv.reader(io.StringIO(line)))]
        place = f"line {number}"
        if len(cells) != 3 or not cells[0] or not cells[1]:
            faults.add(place, f"{line.strip()!r} found", "give two corners and a length: A,B,3620")
            continue
        first, second, length = cells
        try:
            value = parse_length(length)
        except ValueError:
            value = 0.0
        if not 0.0 < value < 1e6:
            faults.add(place, f"length {length!r} found", "give a length above 0, in mm or with its unit")
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
