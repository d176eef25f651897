"""Which room of a new plan is which of the old one, and how it lies against it.

Rooms are known by name, then by shape. Two outlines of the same sides in the same order are one shape shifted and turned;
others are held against each other as they stand, since drawings of one job share their axes.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.shapes import following, turned
from layout.units import TOUCH

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from layout.setout.values import RoomSetOut, SurfaceSetOut

    Floats = NDArray[np.float64]

ALIKE = 0.6
"""Least share of two rooms' joint area that both cover, if rooms of other names are to be one."""


@dataclass(frozen=True, slots=True)
class Motion:
    """How a room was moved as a whole: turned about the origin by `turn` degrees, then shifted, mm."""

    turn: float = 0.0
    shift: tuple[float, float] = (0.0, 0.0)

    @property
    def still(self) -> bool:
        """Whether it was not moved."""
        return abs(self.turn) < 1e-6 and math.hypot(*self.shift) < TOUCH

    def moved(self, points: Floats) -> Floats:
        """Points (n, 2) of the old plan where they lie in the new one."""
        result: Floats = turned(points, self.turn) + np.array(self.shift)
        return result

    def words(self) -> str:
        """The motion in words."""
        parts = [f"turned by {self.turn:.2f}°"] if abs(self.turn) >= 1e-6 else []
        parts += [f"shifted by {self.shift[0]:.1f}, {self.shift[1]:.1f}"] if math.hypot(*self.shift) >= TOUCH else []
        return ", ".join(parts)


def pairs_of(before: Sequence[RoomSetOut], after: Sequence[RoomSetOut]) -> list[tuple[int | None, int | None]]:
    """Rooms that are one, by index: by name first, then by shape; rooms that went or came stand alone. In the order of the new plan."""
    names = {room.name: k for k, room in enumerate(before)}
    found: dict[int, int] = {k: names[room.name] for k, room in enumerate(after) if room.name in names}
    left = [k for k in range(len(before)) if k not in found.values()]
    open_ones = [k for k in range(len(after)) if k not in found]
    ranked = sorted((-_likeness(before[a], after[b]), a, b) for a in left for b in open_ones)
    for likeness, a, b in ranked:
        if -likeness >= ALIKE and b not in found and a not in found.values():
            found[b] = a
    result: list[tuple[int | None, int | None]] = [(found.get(k), k) for k in range(len(after))]
    return result + [(k, None) for k in range(len(before)) if k not in found.values()]


def _likeness(one: RoomSetOut, other: RoomSetOut) -> float:
    """Share of the area that either covers which both cover: one if their sides are alike, else their middles laid on each other."""
    if _motion(one, other) is not None:
        return 1.0
    a, b = one.lining.outline.outer.polygon(), other.lining.outline.outer.polygon()
    shift = np.array(b.centroid.coords[0]) - np.array(a.centroid.coords[0])
    a = shapely.transform(a, lambda points: points + shift)
    return float(shapely.area(shapely.intersection(a, b)) / shapely.area(shapely.union(a, b)))


def motion_of(before: RoomSetOut, after: RoomSetOut) -> Motion:
    """How the old room lies in the new plan: moved as a whole if its shape is the same, else as it stands."""
    return _motion(before, after) or Motion()


def _motion(before: RoomSetOut, after: RoomSetOut) -> Motion | None:
    """The least motion that lays one outline on the other; None if their sides are not alike."""
    one, two = (np.array(room.lining.outline.outer.points) for room in (before, after))
    if len(one) != len(two):
        return None
    sides, others = following(one) - one, following(two) - two
    figures, wanted = _figures(sides), _figures(others)
    best: Motion | None = None
    for first in range(len(two)):
        if np.abs(np.roll(wanted, -first, axis=0) - figures).max() > TOUCH:
            continue
        way = np.roll(others, -first, axis=0)
        longest = int(np.hypot(*sides.T).argmax())
        turn = math.degrees(math.atan2(*way[longest][::-1]) - math.atan2(*sides[longest][::-1]))
        turn = round(math.remainder(turn, 360.0), 6) + 0.0
        shift = np.roll(two, -first, axis=0).mean(axis=0) - turned(one, turn).mean(axis=0)
        motion = Motion(turn, (round(float(shift[0]), 3) + 0.0, round(float(shift[1]), 3) + 0.0))
        if best is None or (abs(motion.turn), math.hypot(*motion.shift)) < (abs(best.turn), math.hypot(*best.shift)):
            best = motion
    return best


def _figures(sides: Floats) -> Floats:
    """Length of each side and how far it leaves the one before, mm: what turning and shifting cannot change, (n, 3)."""
    length = np.hypot(*sides.T)
    before = np.roll(sides, 1, axis=0) / np.roll(length, 1)[:, None]
    along = (sides * before).sum(axis=1)
    across = before[:, 0] * sides[:, 1] - before[:, 1] * sides[:, 0]
    return np.column_stack([length, along, across])


def wall_pairs(before: RoomSetOut, after: RoomSetOut, motion: Motion) -> list[tuple[int | None, int | None]]:
    """Walls that are one, by index: by the name a person gave, then by place and direction, then by length."""
    one, two = before.lining.outline.walls, after.lining.outline.walls
    named = {wall.name: k for k, wall in enumerate(one) if wall.name != wall.label}
    found = {k: named[wall.name] for k, wall in enumerate(two) if wall.name != wall.label and wall.name in named}
    ranked = []
    for a, old in enumerate(one):
        ends = motion.moved(np.array([old.run.points[0], old.run.points[-1]]))
        for b, new in enumerate(two):
            others = np.array([new.run.points[0], new.run.points[-1]])
            way, other = ends[1] - ends[0], others[1] - others[0]
            across = abs(way[0] * other[1] - way[1] * other[0])
            if float(way @ other) > 0.0 and across < 0.2 * float(way @ other):
                ranked.append((float(np.abs(ends - others).max()), a, b))
    for _, a, b in sorted(ranked):
        if b not in found and a not in found.values():
            found[b] = a
    result: list[tuple[int | None, int | None]] = [(found.get(k), k) for k in range(len(two))]
    return result + [(k, None) for k in range(len(one)) if k not in found.values()]


def surface_pairs(before: RoomSetOut, after: RoomSetOut, motion: Motion) -> list[tuple[SurfaceSetOut | None, SurfaceSetOut | None]]:
    """Tiled surfaces that are one: walls as `wall_pairs` has them, all others by their name. In the order of the new room."""
    one, two = before.lining.outline.walls, after.lining.outline.walls
    numbers = {two[b].run.number: one[a].run.number for a, b in wall_pairs(before, after, motion) if a is not None and b is not None}

    def known(surface: SurfaceSetOut, *, new: bool) -> tuple[object, ...]:
        own = surface.surface
        if own.kind != "wall":
            return own.kind, own.name
        return own.kind, numbers.get(own.id.number, -own.id.number) if new else own.id.number

    old: dict[tuple[object, ...], list[SurfaceSetOut]] = {}
    for each in before.surfaces:
        old.setdefault(known(each, new=False), []).append(each)
    result: list[tuple[SurfaceSetOut | None, SurfaceSetOut | None]] = []
    for each in after.surfaces:
        same = old.get(known(each, new=True))
        result.append((same.pop(0) if same else None, each))
    return result + [(each, None) for rest in old.values() for each in rest]
