"""As-measured figures out of a table or a line of words: what was measured and its length, in the way the sheet asks for it."""

from __future__ import annotations

import re
from pathlib import Path

from layout.changes.asked import Figure
from layout.errors import PlanError, PlanFaults
from layout.fields import Faults, shown, unseen
from layout.readers.surveyfile import read_survey
from layout.readers.texts import comma_decimals, parted_by, read_bytes, read_text, source_name, table_rows
from layout.readers.ticksfile import read_measured
from layout.record.values import SCHEMA as TICKS
from layout.units import parse_length

MOST_LETTERS = 80
"""Letters of what was measured."""
SPOKEN = re.compile(r"(.+?)(?:\s+measured|\s+reads|\s*[=:]|\s)\s*([\d.,]+\s*(?:mm|cm|m|in|ft|\"|')?)", re.IGNORECASE)
HEAD = ("from", "to", "length")


def read_figures_of(given: str | Path) -> tuple[Figure, ...]:
    """As-measured figures: of a file, or of words as "wall 7 measured 7145; 1-3 reads 8021".

    A file is a table whose last cell is the length and whose others say what was measured ("wall 7", "corners 1-3", "line A from
    wall 2"), parted by commas, semicolons or tabs, with decimals by a point, or by a comma where cells are parted by something
    else; a survey with the columns from, to, length; or the ticks of a page.

    Raises
    ------
    PlanError, PlanFaults
        With line, value found and what would be right.
    """
    path = Path(given)
    if str(given) != "-" and not path.exists() and re.search(r"\d\s*$|\d\s*(?:mm|cm|m)\s*$", str(given)):
        return _spoken(str(given))
    if str(given) != "-" and TICKS.encode() in read_bytes(path, most_mb=10.0, bound="file_mb")[:400]:
        return tuple(_of_reading(r.first, r.second, r.length, r.place) for r in read_measured(path))
    text, name = read_text(path), source_name(path)
    rows = table_rows(text, name)
    if rows and tuple(cell.lower() for cell in rows[0][1][:3]) == HEAD:
        return tuple(_of_reading(r.first, r.second, r.length, r.place) for r in read_survey(path))
    return _table(rows, comma_decimals(rows, parted_by(text)), name)


def _of_reading(first: str, second: str, length: float, place: str) -> Figure:
    return Figure(what=f"{first}-{second}", length=length, bare=False, place=place)


def _table(rows: list[tuple[int, list[str]]], comma: bool, name: str) -> tuple[Figure, ...]:
    faults = Faults(name)
    found = []
    body = rows[1:] if rows and not any(char.isdigit() for char in rows[0][1][-1]) else rows
    for number, cells in body:
        parted = len(cells) == 3 and cells[1].isdecimal() and cells[2].isdecimal() and not cells[0].isdecimal()  # wall 1,3012,5
        what = " ".join(cell for cell in cells[:-1] if cell)
        figure = None if parted else _figure(what, cells[-1], f"{name}: line {number}", comma=comma)
        if figure is None:
            more = "; decimals by a comma want cells parted by ; or a tab" if parted else ""
            faults.add(f"line {number}", f"{shown(','.join(cells))} found", f"give what was measured and its length: wall 7,7145{more}")
        else:
            found.append(figure)
    if faults.found:
        raise PlanFaults(tuple(faults.found))
    if not found:
        raise PlanError(name, "no figure is in it", "give what was measured and its length, one on a line: wall 7,7145")
    return tuple(found)


def _spoken(text: str) -> tuple[Figure, ...]:
    found = []
    for k, part in enumerate(re.split(r"[;\n]", text), 1):
        said = SPOKEN.fullmatch(part.strip())
        comma = said is not None and "," in said[2]
        figure = _figure(said[1], said[2], f"--measured, figure {k}", comma=comma) if said is not None else None
        if figure is None:
            raise PlanError("--measured", f"{shown(part.strip())} found", 'name a file, or write "wall 7 measured 7145; 1-3 reads 8021"')
        found.append(figure)
    return tuple(found)


def _figure(what: str, length: str, place: str, *, comma: bool) -> Figure | None:
    """A figure of its words; None if they are none."""
    try:
        value = parse_length(length, comma=comma)
    except ValueError:
        return None
    if not what or len(what) > MOST_LETTERS or unseen(what) or not 0.0 < value < 1e6:
        return None
    return Figure(what=what, length=value, bare=re.fullmatch(r"\s*[\d.,]+\s*", length) is not None, place=place)
