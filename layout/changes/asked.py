"""As-measured figures the way a setting-out sheet asks for them: by wall, diagonal, pair of corners, or offset of a snapped line.

Walls and pairs of corners become readings between corners. An offset of a line that is snapped tells where a wall stands:
the wall is moved square to itself by what the figure differs from the plan's, at one end or at both.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from layout.errors import PlanError, PlanFaults
from layout.survey.readings import Reading
from layout.units import metres_meant

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from layout.plan.values import Room
    from layout.vectors import Floats

PAIR = re.compile(r"(?:diagonal|corners?|from)?\s*(\d+)\s*(?:-|–|—|/|to|and|\s)\s*(?:corner\s*)?(\d+)", re.IGNORECASE)
LINE = re.compile(r"line\s+([A-Za-z]\d*)\s+(?:(?:from|to|off)\s+)?(.+?)(?:\s+at\s+(?:corner\s+)?(\d+))?", re.IGNORECASE)
AS_METRES = 0.1
"""A bare figure is metres where, taken so, it lies this near to the plan's: part of it."""
ALONG = 10.0
"""A line is measured from a wall that runs with it to within so many degrees."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One as-measured figure as it was written down: what was measured, in words; its number, mm; `bare` if no unit was written."""

    what: str
    length: float
    bare: bool
    place: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Remeasured:
    """An as-measured figure beside what was drawn, mm: `corners` (from 1) of a distance, or the `line` and the wall's ends that it moves."""

    what: str
    drawn: float
    length: float
    corners: tuple[int, int]
    line: str = ""
    place: str = ""


def figures_in_room(
    figures: Sequence[Figure], room: Room, lines: Mapping[str, tuple[Floats, Floats]]
) -> tuple[tuple[Remeasured, ...], bool]:
    """What figures mean in a room, each with what was drawn there; and whether bare ones were taken for metres.

    `lines` are the snapped lines by name, by their ends (2,) mm.

    Raises
    ------
    PlanFaults
        If one names no wall, corner or line of the room, or seems to be of another unit than the rest.
    """
    faults: list[PlanError] = []
    found = []
    for figure in figures:
        try:
            found.append(_meant(figure, room, lines))
        except PlanError as error:
            faults.append(error)
    if faults:
        raise PlanFaults(tuple(faults))
    pairs = list(zip(figures, found, strict=True))
    bare = [(figure, row) for figure, row in pairs if figure.bare]
    metres = [figure.length < 1000.0 and abs(figure.length * 1000.0 - row.drawn) <= AS_METRES * row.drawn for figure, row in bare]
    if bare and all(metres):
        return tuple(_scaled(row, 1000.0 if figure.bare else 1.0) for figure, row in pairs), True
    for (figure, row), is_metres in zip(bare, metres, strict=True):
        if is_metres:
            mend = metres_meant(figure.length) or "write its unit"
            faults.append(PlanError(figure.place, f"{figure.what} reads {figure.length:g}, the plan {row.drawn:.0f}", mend))
    if faults:
        raise PlanFaults(tuple(faults))
    return tuple(found), False


def _scaled(row: Remeasured, by: float) -> Remeasured:
    return Remeasured(what=row.what, drawn=row.drawn, length=row.length * by, corners=row.corners, line=row.line, place=row.place)


def _meant(figure: Figure, room: Room, lines: Mapping[str, tuple[Floats, Floats]]) -> Remeasured:
    points = np.array([vertex.to for vertex in room.outline])
    what = figure.what.strip()
    pair = PAIR.fullmatch(what)
    line = LINE.fullmatch(what)
    if line is not None:
        return _off_line(figure, line, room, points, lines)
    if pair is not None:
        ends = (int(pair[1]), int(pair[2]))
    else:
        edge = _edge(room, what)
        if edge is None:
            known = [vertex.wall for vertex in room.outline if vertex.wall] + [note.name for note in room.walls if note.name]
            also = f" (or {', '.join(known[:6])})" if known else ""
            mend = f"write wall 1 to {len(points)}{also}, corners 1-3, or line A from wall 2"
            raise PlanError(figure.place, f"{what!r} is no wall, no pair of corners and no line", mend)
        ends = (edge, edge % len(points) + 1)
    if not all(1 <= end <= len(points) for end in ends) or ends[0] == ends[1]:
        raise PlanError(figure.place, f"{what!r} found", f"corners are numbered 1 to {len(points)} as the plan types them")
    drawn = float(math.dist(points[ends[0] - 1], points[ends[1] - 1]))
    return Remeasured(what=what, drawn=drawn, length=figure.length, corners=ends, place=figure.place)


def _edge(room: Room, what: str) -> int | None:
    edge = room.edge_of(what)
    if edge is None and what.lower().startswith("wall "):
        edge = room.edge_of(what[5:].strip())
    return edge if edge is not None and 1 <= edge <= len(room.outline) else None


def _off_line(figure: Figure, words: re.Match[str], room: Room, points: Floats, lines: Mapping[str, tuple[Floats, Floats]]) -> Remeasured:
    """An offset of a line: the wall's ends that it tells of, and what was drawn there."""
    name, wall, corner = words[1].upper(), words[2], words[3]
    if name not in lines:
        raise PlanError(figure.place, f"there is no line {name}", f"lines to snap are {', '.join(lines) or 'not set out'}")
    edge = _edge(room, wall)
    if edge is None:
        raise PlanError(figure.place, f"there is no wall {wall!r}", f"walls are numbered 1 to {len(points)}")
    ends = (edge, edge % len(points) + 1)
    if corner is not None and int(corner) not in ends:
        raise PlanError(figure.place, f"corner {corner} is no end of {wall}", f"its ends are corners {ends[0]} and {ends[1]}")
    own = (int(corner), int(corner)) if corner is not None else ends
    a, b = lines[name]
    way = (b - a) / max(float(np.hypot(*(b - a))), 1e-9)
    side = points[ends[1] - 1] - points[ends[0] - 1]
    slant = abs(math.degrees(math.atan2(way[0] * side[1] - way[1] * side[0], float(way @ side))))
    if min(slant, 180.0 - slant) > ALONG:
        raise PlanError(figure.place, f"line {name} does not run along {wall}", "measure it from the walls that it runs with")
    offs = [abs(float(way[0] * (points[k - 1] - a)[1] - way[1] * (points[k - 1] - a)[0])) for k in own]
    return Remeasured(what=figure.what, drawn=float(np.mean(offs)), length=figure.length, corners=own, line=name, place=figure.place)


def shifted_by_lines(rows: Sequence[Remeasured], points: Floats, lines: Mapping[str, tuple[Floats, Floats]]) -> Floats:
    """The drawn corners (n, 2) with those moved, square to the line, whose wall stands elsewhere than drawn by an offset of a line."""
    result = points.astype(float).copy()
    for row in rows:
        if not row.line:
            continue
        a, b = lines[row.line]
        way = (b - a) / max(float(np.hypot(*(b - a))), 1e-9)
        for k in dict.fromkeys(row.corners):
            off = float(way[0] * (points[k - 1] - a)[1] - way[1] * (points[k - 1] - a)[0])
            result[k - 1] += np.array([-way[1], way[0]]) * math.copysign(1.0, off) * (row.length - row.drawn)
    return result


def readings_of(rows: Sequence[Remeasured]) -> tuple[Reading, ...]:
    """Distances between corners as readings; offsets of lines are none."""
    return tuple(Reading(f"{row.corners[0]}", f"{row.corners[1]}", row.length, row.place) for row in rows if not row.line)
