"""Reads a site survey: distances between named corners, points, levels by water or laser; as a CSV in any office's dialect."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from layout.errors import PlanError, PlanFaults
from layout.fields import LIMIT, Faults, shown, unseen
from layout.readers.texts import comma_decimals, parted_by, read_text, source_name, table_rows
from layout.survey.levels import Rise
from layout.survey.readings import Reading
from layout.units import metres_meant, metres_typed, parse_length

if TYPE_CHECKING:
    from pathlib import Path

MOST_LETTERS = 40
"""Letters of a corner's name."""


class _Table:
    """A table of a survey: its rows, and lengths read as its decimals are parted."""

    def __init__(self, path: str | Path, heads: tuple[tuple[str, ...], ...]) -> None:
        self.name = source_name(path)
        text = read_text(path, begin=f"begin with a line of heads: {','.join(heads[0])}")
        self.rows = table_rows(text, self.name)
        self.comma = comma_decimals(self.rows, parted_by(text))
        self.head = tuple(cell.lower() for cell in self.rows[0][1]) if self.rows else ()
        self.faults = Faults(self.name)
        if not any(self.head[: len(head)] == head for head in heads):
            mend = "begin with: " + " or ".join(",".join(head) for head in heads)
            raise PlanError(self.name, "its first line does not name the columns", mend)

    def length(self, text: str) -> float | None:
        """A length, mm; None where the cell holds none."""
        try:
            return parse_length(text, comma=self.comma)
        except ValueError:
            return None

    def named(self, place: str, names: list[str]) -> bool:
        """Whether points are called by names that can be told and printed; the fault noted if not."""
        odd = next((each for each in names if len(each) > MOST_LETTERS or unseen(each)), None)
        if odd is not None:
            self.faults.add(place, f"a corner called {shown(odd)}", f"call corners by a letter or a number, {MOST_LETTERS} letters at most")
        return odd is None

    def done(self) -> None:
        """Raise what was noted."""
        if self.faults.found:
            raise PlanFaults(tuple(self.faults.found))


def read_survey(path: str | Path) -> tuple[Reading, ...]:
    """Readings from a CSV file with the columns from, to, length; lines that begin with # are remarks.

    Cells may be parted by commas, semicolons or tabs; with the latter two decimals may be parted by a comma.

    Raises
    ------
    PlanError, PlanFaults
        With line, value found and what would be right.
    """
    table = _Table(path, (("from", "to", "length"),))
    found: list[Reading] = []
    seen: dict[frozenset[str], int] = {}
    metres = all(metres_typed(cells[2], comma=table.comma) for _, cells in table.rows[1:] if len(cells) == 3)
    for number, cells in table.rows[1:]:
        place = f"line {number}"
        if len(cells) != 3 or not cells[0] or not cells[1]:
            table.faults.add(place, f"{shown(','.join(cells))} found", "give two corners and a length: A,B,3620")
            continue
        first, second, text = cells
        if not table.named(place, [first, second]):
            continue
        length = table.length(text)
        if length is None or not 0.0 < length < 1e6:
            table.faults.add(place, f"length {shown(text)} found", "give a length above 0, in mm or with its unit")
        elif metres_typed(text, comma=table.comma) and (metres or not text.isdecimal()):
            table.faults.add(place, f"length {shown(text)} found", metres_meant(length))
        elif first == second:
            table.faults.add(place, f"{first} to itself", "measure between two corners")
        elif frozenset((first, second)) in seen:
            already = f"{first}–{second} is measured in line {seen[frozenset((first, second))]} already"
            table.faults.add(place, already, "keep one, or their mean")
        else:
            seen[frozenset((first, second))] = number
            found.append(Reading(first, second, length, f"{table.name}: {place}"))
    table.done()
    return tuple(found)


LEVEL_HEADS = (("from", "to", "rise"), ("at", "reading"))


def read_levels(path: str | Path) -> tuple[Rise, ...]:
    """Levels from a CSV file: from, to, rise by a water level; or at, reading down from a laser's line, with a third column setup.

    Raises
    ------
    PlanError, PlanFaults
        With line, value found and what would be right.
    """
    table = _Table(path, LEVEL_HEADS)
    water = table.head[0] == "from"
    found: list[Rise] = []
    for number, cells in table.rows[1:]:
        place = f"line {number}"
        laser = cells[2] if not water and len(cells) == 3 else "laser"
        names, text = (cells[:2], cells[-1]) if water else ([laser, *cells[:1]], cells[1] if len(cells) > 1 else "")
        if (len(cells) != 3 if water else len(cells) not in (2, 3)) or not all(names):
            table.faults.add(place, f"{shown(','.join(cells))} found", "give A,B,-4 (from,to,rise) or A,1204 (at,reading)")
            continue
        if not table.named(place, names):
            continue
        length = table.length(text)
        if length is None or abs(length) > 1e5:
            table.faults.add(place, f"{shown(text)} found", "give a rise or a reading in mm or with its unit")
        elif names[0] == names[1] and water:
            table.faults.add(place, f"{names[0]} to itself", "read two points")
        else:
            found.append(Rise(names[0], names[1], length if water else -length, f"{table.name}: {place}", of_laser=not water))
    table.done()
    return tuple(found)


COLUMNS = (("name", "x", "y"), ("name", "along", "offset"))


def read_points(path: str | Path) -> list[tuple[float, float]]:
    """Corners from a CSV file: name, x, y, or name, along, offset from a base line (to its left positive), in order round the room, mm.

    Raises
    ------
    PlanError, PlanFaults
        With line, value found and what would be right.
    """
    table = _Table(path, COLUMNS)
    found: list[tuple[float, float]] = []
    for number, cells in table.rows[1:]:
        values = [table.length(cell) for cell in cells[1:3]]
        x, y = (math.inf if value is None else value for value in (*values, None, None)[:2])
        if not (abs(x) <= LIMIT and abs(y) <= LIMIT):
            mend = f"give {', '.join(table.head[:3])} in mm or with units: A,0,3620"
            table.faults.add(f"line {number}", f"{shown(','.join(cells))} found", mend)
            continue
        found.append((round(x, 1), round(y, 1)))
    table.done()
    if len(found) < 3:
        raise PlanError(table.name, f"{len(found)} points found", "a room has three corners at least, in order round it")
    most = max(max(abs(x), abs(y)) for x, y in found)
    if metres_meant(most):
        raise PlanError(table.name, f"no corner lies farther than {most:g} from the base", metres_meant(most))
    return found
