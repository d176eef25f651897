"""A room's own frame: a place and a direction that come from its shape, so that where a room stands and how it lies changes nothing.

The frame begins at the base wall's start, going anticlockwise, its x along that wall: the longest straight wall, and of walls
as long the one whose bearing comes first. What is chosen of a room is chosen there and moved out again.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
import shapely

from layout.room.rings import anticlockwise, runs_of
from layout.shapes import turned
from layout.units import EPS, SNAP
from layout.vectors import pair

if TYPE_CHECKING:
    from collections.abc import Callable

    from shapely.geometry.base import BaseGeometry

    from layout.errors import Point
    from layout.plan.things import Vertex
    from layout.plan.values import Plan, Room
    from layout.room.outlines import Outline
    from layout.room.rings import Run
    from layout.vectors import Floats

_Move: TypeAlias = "Callable[[Floats], Floats]"
HUNDREDTH = 0.01
NEAR = 0.003
"""A room typed at an odd angle has every coordinate rounded by half a thousandth: in its own frame a place this near to a
hundredth of a millimetre stands on it, so that a room measured in whole millimetres is the same room at every angle, mm."""
AS_NEAR = 0.05
"""Walls whose distances from a place differ less are as near, mm."""
WALLS_TRIED = 6
"""Along so many of a room's longest walls it is tried whether the room was measured in whole millimetres there."""


@dataclass(frozen=True, slots=True)
class OwnFrame:
    """Where a room's own frame stands in the axes that it is typed in: `turn` degrees anticlockwise, `origin` mm.

    `turned_whole` says that the room was measured in its own frame, in whole hundredths, and typed at an odd angle.
    """

    turn: float
    origin: Point
    turned_whole: bool = False

    @property
    def square(self) -> bool:
        """Whether its axes are those of the plan, turned by quarters: then moving is exact."""
        return self.turn % 90.0 == 0.0

    def into(self, points: Floats) -> Floats:
        """Points (n, 2) of the plan in the room's own frame, on the places that were measured where those can be told."""
        moved: Floats = turned(np.asarray(points, dtype=float) - np.array(self.origin), -self.turn)
        if self.square:
            return np.round(moved, 3) + 0.0
        if not self.turned_whole:
            return np.round(moved, 8) + 0.0  # to the last bit the same of a room and of its twin: ties are no matter of noise
        coarse = np.round(moved / HUNDREDTH) * HUNDREDTH
        return np.where(np.abs(moved - coarse) <= NEAR, np.round(coarse, 2), np.round(moved, 3)) + 0.0

    def out(self, points: Floats) -> Floats:
        """Points (n, 2) of the room's own frame in the plan's axes."""
        moved: Floats = turned(np.asarray(points, dtype=float), self.turn) + np.array(self.origin)
        return np.round(moved, 9) + 0.0

    def shape_out(self, shape: BaseGeometry) -> BaseGeometry:
        """A shape of the room's own frame in the plan's axes."""
        result: BaseGeometry = shapely.transform(shape, self.out)
        return result


def as_measured(plan: Plan, index: int) -> Plan:
    """The plan with one room on the places that were measured, where it was measured in whole millimetres or tenths and typed at an odd angle.

    Typed in thousandths each corner of such a room is off by up to half of one, and its lengths and areas with it. Along one of its walls all its
    corners stand on whole places again: there they are put on them, and moved out as the room lies, so that it is the same room at every angle.
    """
    frame = _measured_in(plan.rooms[index])
    return plan if frame is None else back_out(plan, at_home(plan, index, frame), index, frame)


def _measured_in(room: Room) -> OwnFrame | None:
    """The frame along one of its walls in which a room was measured; None where that is the plan's, or none is found."""
    corners = np.array([vertex.to for vertex in room.outline])
    off = corners - corners[0]
    if float(np.abs(off - np.round(off, 2)).max()) <= EPS:
        return None  # as typed
    ways = np.roll(corners, -1, axis=0) - corners
    longest = np.argsort(-np.round(np.hypot(*ways.T), 1), kind="stable")[:WALLS_TRIED]
    for grid in (0, 1):
        for way in ways[longest]:
            frame = _fitted(off, math.degrees(math.atan2(way[1], way[0])) % 90.0, grid)
            if frame is not None:
                return replace(frame, origin=pair(corners[0] + frame.origin))
    return None


def _fitted(off: Floats, turn: float, grid: int) -> OwnFrame | None:
    """The frame near a direction in which places (n, 2) lie on whole tenths (`grid` 1) or millimetres (0), by least squares; None if they lie on none."""
    there = turned(off, -turn)
    whole = np.round(there, grid)
    middle, own = there.mean(axis=0), whole.mean(axis=0)
    a, b = there - middle, whole - own
    more = math.degrees(math.atan2(float((b[:, 0] * a[:, 1] - b[:, 1] * a[:, 0]).sum()), float((a * b).sum())))
    if float(np.abs(turned(a, -more) - b).max()) > SNAP:
        return None
    turn = round(turn + more, 9)
    return OwnFrame(turn, pair(off.mean(axis=0) - turned(own[None], turn)[0]), turned_whole=True)


def own_frame(outline: Outline) -> OwnFrame:
    """The frame that a room's shape gives it."""
    base = _base(outline)[0]
    way = base.points[-1] - base.points[0]
    if math.hypot(*way) < EPS:  # a wall that comes back to its start
        way = base.points[len(base.points) // 2] - base.points[0]
    frame = OwnFrame(_angle(way), pair(base.points[0]))
    if frame.square:
        return frame
    corners = turned(np.array([vertex.to for vertex in outline.room.outline]) - np.array(frame.origin), -frame.turn)
    whole = bool((np.abs(corners - np.round(corners / HUNDREDTH) * HUNDREDTH) <= NEAR).all())
    return replace(frame, turned_whole=whole)


def _base(outline: Outline) -> tuple[Run, ...]:
    """The walls as they come anticlockwise, the base wall first."""
    runs = runs_of(*anticlockwise(outline.room.outline)[:3])
    straight = [k for k, run in enumerate(runs) if run.straight] or list(range(len(runs)))
    longest = max(round(runs[k].length, 1) for k in straight)
    like = [k for k in straight if round(runs[k].length, 1) == longest]
    base = min(like, key=lambda k: (outline.bearing(k), runs[k].number)) if len(like) > 1 else like[0]
    return (*runs[base:], *runs[:base])


@dataclass(frozen=True, slots=True, eq=False)
class Walk:
    """A walk round a room along its walls, anticlockwise from the base wall's start: typed numbers of walls have no say in it."""

    frame: OwnFrame
    ring: shapely.LineString
    walls: dict[int, int]

    def place(self, points: Floats) -> Floats:
        """Where points (n, 2) of the plan are met, (n, 4): how far along the walk, how far off it, then where they stand in the room's own frame, mm."""
        at = np.asarray(shapely.points(points), dtype=object)
        apart = shapely.distance(self.ring, at)
        corners = shapely.get_coordinates(self.ring)
        sides = np.asarray(shapely.linestrings(np.stack([corners[:-1], corners[1:]], axis=1)), dtype=object)
        # a place as near to two walls, as on a valley out of a corner, is met at the one that comes first
        which, near = shapely.STRtree(sides).query(at, predicate="dwithin", distance=apart + AS_NEAR)
        first = np.full(len(at), len(sides), dtype=np.int64)
        np.minimum.at(first, which, near)
        before = np.concatenate([[0.0], np.cumsum(shapely.length(sides))])
        met = np.column_stack([before[first] + shapely.line_locate_point(sides[first], at), apart])
        places = np.column_stack([met, self.frame.into(points)[:, ::-1]]).astype(np.float64)
        found: Floats = np.round(places, 1) + 0.0
        return found


def walk_of(outline: Outline) -> Walk:
    """The walk round a room; `walls` tells for the number of each wall the place at which it comes."""
    runs = _base(outline)
    corners = np.concatenate([run.points[:-1] for run in runs] + [runs[0].points[:1]])
    return Walk(own_frame(outline), shapely.LineString(corners), {run.number: place for place, run in enumerate(runs)})


def _angle(way: Floats) -> float:
    """Direction in [0, 360), exact along the axes, degrees."""
    if abs(way[1]) < EPS:
        return 0.0 if way[0] > 0.0 else 180.0
    if abs(way[0]) < EPS:
        return 90.0 if way[1] > 0.0 else 270.0
    return math.degrees(math.atan2(way[1], way[0])) % 360.0


def at_home(plan: Plan, index: int, frame: OwnFrame) -> Plan:
    """The plan with one room in its own frame, its place on a key plan kept."""
    room = plan.rooms[index]
    there = turned(np.array([frame.origin]), room.turn)[0] + np.array(room.at)
    moved = replace(_moved(room, frame.into, -frame.turn, 4 if frame.turned_whole else 9), at=pair(there), turn=room.turn + frame.turn)
    return _with_room(plan, index, moved)


def back_out(plan: Plan, home: Plan, index: int, frame: OwnFrame) -> Plan:
    """The plan with one room as its own frame has it, moved out again: what was typed, within the rounding of a turned room."""
    room = plan.rooms[index]
    moved = replace(_moved(home.rooms[index], frame.out, frame.turn, 9), at=room.at, turn=room.turn, kept_lines=room.kept_lines)
    return _with_room(plan, index, moved)


def _with_room(plan: Plan, index: int, room: Room) -> Plan:
    return replace(plan, rooms=tuple(room if k == index else each for k, each in enumerate(plan.rooms)))


def _point(move: _Move, at: Point) -> Point:
    return pair(move(np.array([at]))[0])


def _moved(room: Room, move: _Move, turn: float, digits: int) -> Room:
    """A room with every place in it moved, and what is turned against its axes turned with it, degrees to so many digits."""

    def at(point: Point) -> Point:
        return _point(move, point)

    def maybe(point: Point | None) -> Point | None:
        return None if point is None else at(point)

    def angle(degrees: float) -> float:
        return round(degrees + turn, digits) + 0.0

    def corners(vertices: tuple[Vertex, ...]) -> tuple[Vertex, ...]:
        return tuple(replace(vertex, to=at(vertex.to)) for vertex in vertices)

    return replace(
        room,
        outline=corners(room.outline),
        drains=tuple(
            replace(each, middle=maybe(each.middle), begin=maybe(each.begin), end=maybe(each.end), angle=angle(each.angle))
            for each in room.drains
        ),
        plinths=tuple(replace(each, outline=corners(each.outline)) for each in room.plinths),
        columns=tuple(replace(each, outline=corners(each.outline)) for each in room.columns),
        pipes=tuple(replace(each, at=maybe(each.at)) for each in room.pipes),
        fixings=tuple(replace(each, at=at(each.at), turn=angle(each.turn)) if each.at is not None else each for each in room.fixings),
        structural_joints=tuple(replace(each, line=(at(each.line[0]), at(each.line[1]))) for each in room.structural_joints),
        day_joints=tuple(replace(each, line=(at(each.line[0]), at(each.line[1]))) for each in room.day_joints),
        falls=tuple(
            replace(each, region=tuple(at(p) for p in each.region), plane=tuple((*at((x, y)), z) for x, y, z in each.plane))
            for each in room.falls
        ),
        pulls=tuple(replace(each, at=maybe(each.at)) for each in room.pulls),
        kept_lines=tuple(
            each
            if each.direction is None  # on an upright face
            else replace(each, at=at(each.at), direction=round(each.direction + turn, 9), bay=tuple(at(p) for p in each.bay))
            for each in room.kept_lines
        ),
        kept_joints=tuple(replace(each, line=(at(each.line[0]), at(each.line[1]))) for each in room.kept_joints),
    )
