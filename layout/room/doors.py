"""Doors that two rooms share: a plan that types both rooms types the door twice, and it is one door."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
import shapely

from layout.shapes import turned
from layout.units import TOUCH
from layout.vectors import length_of, rightward, unit

if TYPE_CHECKING:
    from collections.abc import Sequence

    from layout.plan.values import Room
    from layout.room.outlines import OpeningAt, Outline
    from layout.vectors import Floats

DoorKey: TypeAlias = tuple[int, int]
"""A door by its room and its place among the room's openings."""

WALL_MOST = 600.0
"""Walls between two rooms are no thicker, mm (common practice, no source)."""
OFF_LINE = 60.0
"""How far the middles and the widths of two doors may differ along the wall to be one: each room was measured for itself, mm."""
PARALLEL = 0.02
"""Greatest sine of the angle between the walls of one door."""
OVERLAP = 0.01
"""Rooms that lie over each other by more of the smaller one than this are not placed on a key plan."""


@dataclass(frozen=True, slots=True, eq=False)
class _Door:
    """A door on the key plan: its line from first to last, the room on the left; how far the room goes out through it, mm."""

    key: DoorKey
    line: Floats
    reach: float


def line_of(outline: Outline, door: OpeningAt) -> Floats:
    """A door's line on the face of its wall, (2, 2), the room on its left, mm."""
    run = outline.walls[door.wall].run
    return np.array([run.at(door.s0), run.at(door.s1)])


def shared_doors(rooms: Sequence[Room], outlines: Sequence[Outline]) -> dict[DoorKey, DoorKey]:
    """Doors of later rooms that are doors of earlier ones, as the plan says (`same_as`) or as the rooms stand on the key plan.

    By their place two doors are one if they face each other across no more than a wall, are alike wide and opposite, and no two
    rooms that share one are of two storeys or lie over each other. A door that the plan pairs is not paired by place.
    """
    result: dict[DoorKey, DoorKey] = {}
    told: set[DoorKey] = set()
    names = {room.name: k for k, room in enumerate(rooms)}
    for r, room in enumerate(rooms):
        for k, opening in enumerate(room.openings):
            if opening.same_as is None or opening.same_as.room not in names:
                continue
            other = names[opening.same_as.room]
            place = next((j for j, each in enumerate(rooms[other].openings) if each.name == opening.same_as.opening), None)
            if place is not None and other != r:
                first, second = sorted([(r, k), (other, place)])
                result[second] = first
                told |= {first, second}
    doors = [
        [_placed(room, outline, (r, door)) for door in outline.openings if door.door]
        for r, (room, outline) in enumerate(zip(rooms, outlines, strict=True))
    ]
    areas = [_area(room, outline) for room, outline in zip(rooms, outlines, strict=True)]
    for early, late in _near(doors):
        if rooms[early].storey != rooms[late].storey:
            continue
        pairs = [(a, b) for a in doors[early] for b in doors[late] if not {a.key, b.key} & told and b.key not in result and _one(a, b)]
        if pairs and shapely.intersection(areas[early], areas[late]).area <= OVERLAP * min(areas[early].area, areas[late].area):
            result |= {b.key: a.key for a, b in pairs}
    return result


def _near(doors: Sequence[Sequence[_Door]]) -> list[tuple[int, int]]:
    """Pairs of rooms, the earlier first, some door of which is near enough to a door of the other to be the same."""
    rooms = np.array([r for r, own in enumerate(doors) for _ in own], dtype=np.int64)
    middles = [shapely.Point(each.line.mean(axis=0)) for own in doors for each in own]
    if not middles:
        return []
    found = shapely.STRtree(middles).query(middles, predicate="dwithin", distance=math.hypot(WALL_MOST + OFF_LINE, OFF_LINE) + TOUCH)
    pairs = {(int(a), int(b)) for a, b in rooms[found].T.tolist() if a < b}
    return sorted(pairs)


def _placed(room: Room, outline: Outline, at: tuple[int, OpeningAt]) -> _Door:
    line = turned(line_of(outline, at[1]), room.turn) + np.array(room.at)
    return _Door((at[0], at[1].index), line, at[1].reach)


def _area(room: Room, outline: Outline) -> shapely.Polygon:
    points = np.concatenate([wall.run.points[:-1] for wall in outline.walls])
    return shapely.Polygon(turned(points, room.turn) + np.array(room.at))


def _one(one: _Door, other: _Door) -> bool:
    """Whether two doors on the key plan face each other across a wall."""
    way, back = unit(one.line[1] - one.line[0]), unit(other.line[1] - other.line[0])
    if way @ back > 0.0 or abs(way[0] * back[1] - way[1] * back[0]) > PARALLEL:
        return False
    apart = other.line.mean(axis=0) - one.line.mean(axis=0)
    across, along = float(apart @ rightward(way)), abs(float(apart @ way))
    wide = abs(length_of(one.line[1] - one.line[0]) - length_of(other.line[1] - other.line[0]))
    return -OFF_LINE <= across <= WALL_MOST + OFF_LINE and along <= OFF_LINE and wide <= OFF_LINE
