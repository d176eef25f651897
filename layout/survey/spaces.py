"""Free space between walls, parted at its necks: shrunk by half a door it falls apart; grown back, its parts are the rooms.

A part grows back with square corners, so that the line over a neck runs in line with the walls beside it, and the rooms
keep the walls as drawn. What a part loses on the way (a recess narrower than a door) is given back to it; what lies
between two parts (the thickness of a wall in its door) is neither's.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import LineString, Point, Polygon

from layout.shapes import parts_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    Floats = NDArray[np.float64]

ROOM_AREA, ROOM_WIDE = 0.6e6, 550.0
"""Free space with less area, mm², or nowhere so wide, mm, is no room."""
DOORS = (225.0, 300.0, 375.0, 450.0, 525.0, 600.0, 675.0)
"""Half of the necks that part one room from another, narrow ones first, mm."""
GATES = (900.0, 1200.0, 1500.0, 1850.0, 2500.0)
"""Half of the necks that part a room that bears words from the outside: gates and shop windows, mm."""
PEN = 0.5
"""Half the thickness that a line takes while space is free beside it, mm; given back at the end."""
HAIR = 0.01
"""Closes slits that are no wider than a line's two sides, mm."""
ROUND = 3000.0
"""Open ground round the drawing, mm."""
SHORTEST = 50.0
"""A line over a neck that is shorter, mm, is noise at a corner."""


@dataclass(frozen=True, slots=True, eq=False)
class Parted:
    """Spaces that walls and necks enclose, and the lines (2, 2) that were drawn over their necks."""

    spaces: tuple[Polygon, ...]
    closings: tuple[Floats, ...]


def parted(lines: Floats, words: Floats) -> Parted:
    """The spaces between lines (n, 2, 2), mm; `words` (m, 2) are places where the drawing names or notes something."""
    pen = shapely.union_all(shapely.buffer(shapely.linestrings(lines), PEN, cap_style="square", join_style="mitre"))
    x0, y0, x1, y1 = pen.bounds
    ground = shapely.box(x0 - ROUND, y0 - ROUND, x1 + ROUND, y1 + ROUND)
    spaces: list[Polygon] = []
    outside: list[Polygon] = []
    for part in parts_of(shapely.difference(ground, pen)):
        (outside if shapely.touches(part, ground.exterior) or shapely.intersects(part, ground.exterior) else spaces).append(part)
    spaces = [space for space in spaces if is_room(space)]
    closings: list[Floats] = []
    for half in DOORS:
        found = []
        for space in spaces:
            parts, lines_over = _at_necks(space, half)
            found += [part for part in parts if is_room(part)] if len(parts) > 1 else [space]
            closings += lines_over if len(parts) > 1 else []
        spaces = found
        outside, inner, lines_over = _off_the_outside(outside, half, ground)
        spaces += inner
        closings += lines_over
    marks = np.array([Point(at) for at in words.tolist()], dtype=object)
    for half in GATES:
        outside, inner, lines_over = _off_the_outside(outside, half, ground)
        named = [space for space in inner if shapely.contains(space, marks).any()]
        outside = parts_of(shapely.union_all([*outside, *(space for space in inner if not any(space is kept for kept in named))]))
        closings += lines_over
        for space in named:
            parts, lines_over = _at_gates(space, half, marks)
            spaces += parts
            closings += lines_over
    # a hair more, and back: a wall of one line that ends in a room is no slit in it
    grown = [shapely.buffer(shapely.buffer(space, PEN + HAIR, join_style="mitre"), -HAIR, join_style="mitre") for space in spaces]
    return Parted(tuple(part for each in grown for part in parts_of(each)), tuple(closings))


def _at_gates(space: Polygon, half: float, marks: NDArray[np.object_]) -> tuple[list[Polygon], list[Floats]]:
    """A space that opens to the outside by a gate, parted at doors and gates no wider where each part bears words."""
    spaces, closings = [space], []
    for less in (neck for neck in (*DOORS, *GATES) if neck <= half):
        found = []
        for each in spaces:
            parts, over = _at_necks(each, less)
            rooms = [part for part in parts if is_room(part)]
            apart = len(rooms) > 1 and all(shapely.contains(room, marks).any() for room in rooms)
            found += rooms if apart else [each]
            closings += over if apart else []
        spaces = found
    return spaces, closings


def is_room(space: Polygon) -> bool:
    """Whether a space is large and wide enough for a room."""
    return space.area >= ROOM_AREA and not space.buffer(-ROOM_WIDE / 2).is_empty


def _off_the_outside(outside: list[Polygon], half: float, ground: Polygon) -> tuple[list[Polygon], list[Polygon], list[Floats]]:
    """What is still outside, spaces that necks part from it, and the lines over those necks."""
    still, inner, closings = [], [], []
    for space in outside:
        parts, over = _at_necks(space, half)
        away = [part for part in parts if not shapely.intersects(part, ground.exterior)]
        rooms = [part for part in away if is_room(part)]
        rest = [part for part in parts if not any(part is room for room in rooms)]
        still += parts_of(shapely.union_all(rest)) if rooms else [space]
        inner += rooms
        edges = shapely.union_all([room.boundary for room in rooms]) if rooms else None
        closings += [line for line in over if edges is not None and LineString(line).dwithin(edges, 1.0)]
    return still, inner, closings


def _at_necks(space: Polygon, half: float) -> tuple[list[Polygon], list[Floats]]:
    """A space in parts where it is narrower than twice `half`, and the lines over those necks (2, 2)."""
    cores = parts_of(shapely.buffer(space, -half, join_style="mitre"))
    grown = [shapely.buffer(core, half, join_style="mitre") for core in cores]
    kept = [(core, shape) for core, shape in zip(cores, grown, strict=True) if shape.area >= ROOM_AREA]
    over = _lines_over(space, [shape for _, shape in kept])
    if not over:
        return [space], []
    noded = shapely.unary_union([space.boundary, *(LineString(_drawn_on(line)) for line in over)])
    faces = [face for face in shapely.get_parts(shapely.polygonize([noded])) if shapely.contains(space, face.representative_point())]
    owners = {int(np.argmax(shapely.area(shapely.intersection(np.asarray(faces), core)))) for core, _ in kept}
    return _parts(faces, owners), over


def _lines_over(space: Polygon, grown: Sequence[BaseGeometry]) -> list[Floats]:
    """The straight edges of grown parts that do not lie on the edge of their space."""
    edge = shapely.buffer(space.boundary, 0.3)
    result = []
    for shape in grown:
        for line in shapely.get_parts(shapely.difference(shape.boundary, edge)):
            points = shapely.get_coordinates(line)
            result += [np.array([a, b]) for a, b in pairwise(points) if float(np.hypot(*(b - a))) > SHORTEST]
    return result


def _drawn_on(line: Floats, by: float = 2.0) -> Floats:
    """A line a little longer at both ends, so that it meets what it ends at."""
    way = (line[1] - line[0]) / max(float(np.hypot(*(line[1] - line[0]))), 1e-9)
    return np.array([line[0] - by * way, line[1] + by * way])


def _parts(faces: list[Polygon], owners: set[int]) -> list[Polygon]:
    """Faces as parts: a recess goes to the one part that it opens to; a passage between several stands by itself if it is a room."""
    tree = shapely.STRtree(faces)
    beside: dict[int, set[int]] = {k: set() for k in range(len(faces))}
    for a, b in tree.query(faces, predicate="intersects").T.tolist():
        if a != b and shapely.intersection(faces[a], faces[b]).length > SHORTEST / 2:
            beside[a].add(b)
    part_of = {k: k for k in owners}
    left = [k for k in range(len(faces)) if k not in owners]
    seen: set[int] = set()
    for k in left:
        if k in seen:
            continue
        group = [k]
        seen.add(k)
        for each in group:
            more = [j for j in sorted(beside[each]) if j not in owners and j not in seen]
            seen.update(more)
            group += more
        near = {j for each in group for j in beside[each] if j in owners}
        if len(near) == 1:
            part_of.update(dict.fromkeys(group, next(iter(near))))
        elif near and is_room(max(parts_of(shapely.union_all([faces[each] for each in group])), key=lambda p: p.area)):
            part_of.update(dict.fromkeys(group, k))
    parts: dict[int, list[Polygon]] = {}
    for k, owner in part_of.items():
        parts.setdefault(owner, []).append(faces[k])
    return [piece for group in parts.values() for piece in parts_of(shapely.union_all(group))]
