"""How a start line is found on site: from the face that is there when it is snapped, in words.

Lines are snapped on the membrane, before any wall tile is fixed (common practice, no source). A line along a wall is measured
square off that wall's face at both ends; any other is struck between two points, each measured along a wall from a corner.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from layout.vectors import pair
from layout.words import say, worded

if TYPE_CHECKING:
    from collections.abc import Sequence

    from layout.setout.values import RoomSetOut
    from layout.start.start_lines import LineOffset, StartLine
    from layout.vectors import Floats

SQUARE_TO = 0.02
"""Sine of the angle by which a line may be out of a wall's direction and still be measured square off it."""
NEAR = 60.0
"""How far beyond a start line's end the wall may stand that it runs to, mm, over the wall's build-up."""


@dataclass(frozen=True, slots=True, eq=False)
class Walked:
    """A point on a wall's face: so far along it from the corner with another wall, mm; `face` is where it is measured."""

    wall: int
    corner_with: int
    along: float
    at: tuple[float, float]
    face: str


def face_of(room: RoomSetOut, wall: int) -> tuple[str, float]:
    """The face of a wall that is there when lines are snapped, and how far it stands in front of the bare wall, mm."""
    own = next(each for each in room.lining.outline.walls if each.run.number == wall)
    if own.tanking_height > 0.0:
        return worded("membrane"), room.lining.plan.rules.membrane
    return worded("bare wall"), 0.0


def tiled(room: RoomSetOut, wall: int) -> bool:
    """Whether a wall takes tile: only then it has a tile face."""
    return next(each for each in room.lining.outline.walls if each.run.number == wall).tile is not None


def measured(room: RoomSetOut, offset: LineOffset) -> tuple[float, str]:
    """A line's distance from the face that is there when it is snapped, mm, and that face's name."""
    name, _ = face_of(room, offset.wall)
    return (offset.membrane if name == "membrane" else offset.bare), name


def along_its_wall(room: RoomSetOut, line: StartLine) -> bool:
    """Whether a line runs along the wall that it is measured from, so that it can be measured square off it."""
    if len(line.offsets) != 2:
        return False
    wall = next(each for each in room.lining.outline.walls if each.run.number == line.offsets[0].wall)
    way = wall.run.points[-1] - wall.run.points[0]
    own = np.array(line.end) - np.array(line.start)
    cross = float(way[0] * own[1] - way[1] * own[0])
    return abs(cross) <= SQUARE_TO * float(np.hypot(*way)) * float(np.hypot(*own))


def struck_between(room: RoomSetOut, line: StartLine) -> tuple[Walked, ...]:
    """The points on the walls' faces that a line is struck between, at its start and its end; fewer where it ends at no straight wall."""
    a, b = np.array(line.start), np.array(line.end)
    ends = (_walked(room, a, a - b), _walked(room, b, b - a))
    return tuple(end for end in ends if end is not None)


def _walked(room: RoomSetOut, end: Floats, way: Floats) -> Walked | None:
    walls = room.lining.outline.walls
    way = way / max(float(np.hypot(*way)), 1e-9)
    best: tuple[float, int, Floats] | None = None
    for k, wall in enumerate(walls):
        if not wall.run.straight:
            continue
        face = _face_line(room, k)
        hit = _crossing(end, way, *face)
        if hit is None:
            continue
        far, part = hit
        if -1.0 <= far <= NEAR + wall.build_up / SQUARE_TO and 0.0 <= part <= 1.0 and (best is None or far < best[0]):
            best = (far, k, end + way * far)
    if best is None:
        return None
    _, k, at = best
    corners = [(float(np.hypot(*(corner - at))), other) for corner, other in _corners(room, k)]
    if not corners:
        return None
    along, other = min(corners)
    name, _ = face_of(room, walls[k].run.number)
    return Walked(walls[k].run.number, walls[other].run.number, along, pair(at), name)


def _face_line(room: RoomSetOut, index: int) -> tuple[Floats, Floats]:
    """A straight wall's line moved to the face that is there when lines are snapped."""
    run = room.lining.outline.walls[index].run
    a, b = run.points[0], run.points[-1]
    way = (b - a) / max(float(np.hypot(*(b - a))), 1e-9)
    _, thick = face_of(room, run.number)
    inward = np.array([-way[1], way[0]]) * thick
    return a + inward, b + inward


def _corners(room: RoomSetOut, index: int) -> list[tuple[Floats, int]]:
    """Where a wall's face meets its neighbours', with the neighbours: straight ones that turn from it."""
    walls = room.lining.outline.walls
    a, b = _face_line(room, index)
    way = (b - a) / max(float(np.hypot(*(b - a))), 1e-9)
    found = []
    for other, wall in enumerate(walls):
        touches = min(
            math.dist(pair(p), pair(q))
            for p in (wall.run.points[0], wall.run.points[-1])
            for q in (walls[index].run.points[0], walls[index].run.points[-1])
        )
        if other == index or not wall.run.straight or touches > 1.0:
            continue
        hit = _crossing(a, way, *_face_line(room, other))
        if hit is not None:
            found.append((a + way * hit[0], other))
    return found


def _crossing(start: Floats, way: Floats, a: Floats, b: Floats) -> tuple[float, float] | None:
    """How far along `way` from `start` the line through a and b lies, mm, and which part of a to b that is; None if they are parallel."""
    along = b - a
    cross = float(way[0] * along[1] - way[1] * along[0])
    if abs(cross) < 1e-6 * max(float(np.hypot(*along)), 1e-9):
        return None
    apart = a - start
    far = float(apart[0] * along[1] - apart[1] * along[0]) / cross
    part = float(apart[0] * way[1] - apart[1] * way[0]) / cross
    return far, part


def where(walked: Sequence[Walked]) -> list[str]:
    """The points in words, for a table."""
    return [
        say("{along:.0f} along wall {wall} from wall {corner_with}", along=each.along, wall=each.wall, corner_with=each.corner_with)
        for each in walked
    ]
