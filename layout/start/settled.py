"""A start settled with its division, as values, and what a person's own line gives."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal, TypeAlias

import numpy as np
import shapely

from layout.errors import SetOutError
from layout.plan.wishes import Measures
from layout.room.outlines import membrane_on
from layout.shapes import turned
from layout.start.offsets import Offset, best_offsets, snapped
from layout.start.walls import Walls
from layout.units import TOUCH
from layout.vectors import leftward, length_of, unit

if TYPE_CHECKING:
    from collections.abc import Sequence

    from layout.errors import Finding, Point
    from layout.joints.values import Division, Lattice1D, Parting
    from layout.start.faces import Faces, Part
    from layout.vectors import Floats

Method: TypeAlias = Literal["exact", "search", "tried", "fixed"]
"""How a start was found: the best along each direction of all there are, with its joints as they are; by a search that bounds what a better one
could give; the best of those that were tried; given by the plan."""

SHORT = 0.05
"""A start gives less than was found where it is less by more than this, mm: starts are rounded."""


@dataclass(frozen=True, slots=True, eq=False)
class Settled:
    """A start in the joint frame, mm, with the division that goes with it.

    `choices` are what each direction offers, best first; `gap` mm is how much a start that was not found could give more, where it
    was searched, or where walls out of square are weighed along each direction; `tried` how many starts were weighed, where the best of those that were tried is taken.
    `promised` mm is the narrowest cut that a searched start was found to give. `off_weak` says that weak pieces are left, come first in the
    order, and that no shift of those that a finding would offer helps.
    """

    start: Point
    choices: tuple[tuple[Offset, ...], tuple[Offset, ...]]
    method: Method
    division: Division
    gap: float = 0.0
    findings: tuple[Finding, ...] = ()
    tried: int = 0
    promised: float = 0.0
    off_weak: bool = False

    def gap_over(self, worst: float) -> float:
        """How much a start that was not found could give more than one that gives `worst` as laid, mm.

        A piece between two edges, which no edge cuts right across by itself, may be narrower than the search saw.
        """
        short = self.promised - worst
        return self.gap + (short if short > SHORT else 0.0)


@dataclass(frozen=True, slots=True, eq=False)
class Tried:
    """A start on the way with its division: what it gives along each axis, and what else each offers."""

    start: Point
    given: tuple[Offset, Offset]
    division: Division
    choices: tuple[tuple[Offset, ...], tuple[Offset, ...]]


def together(given: Sequence[Offset]) -> Measures:
    """What offsets of several directions give as one start, (1,)."""
    ways = (
        ("worst", min),
        ("drawn", min),
        ("hidden", min),
        ("whole", min),
        ("asked", sum),
        ("habits", sum),
        ("unlike", sum),
        ("sawn", sum),
        ("short", sum),
        ("view", sum),
    )
    return Measures(**{name: np.array([how(getattr(offset, name) for offset in given)]) for name, how in ways})


def put(start: Point, axis: int, at: float) -> Point:
    """A start with another offset along an axis."""
    return (at, start[1]) if axis == 0 else (start[0], at)


def cut_faces(segment: Floats, width: float) -> list[Floats]:
    """Both faces of a cut along its centre line, each with its tile on the left."""
    normal = leftward(unit(segment[-1] - segment[0])) * (width / 2.0)
    line = segment[[0, -1]]
    return [line + normal, line[::-1] - normal]


def given_line(faces: Faces) -> tuple[float | None, float | None]:
    """Start along each axis that the person's line fixes: a tile's edge on that line."""
    line = faces.tile.start_line
    result: list[float | None] = [None, None]
    if line is None or not faces.aligned or not faces.surface.borders:
        return None, None
    outline = faces.lining.outline
    index = outline.wall_index(line.wall)
    if index is None:
        place = f"{faces.lining.plan.source}: tiles.{faces.tile.name}.start_line.wall"
        mend = f"walls are numbered 1 to {len(faces.lining.room.outline)}"
        raise SetOutError(place, f'there is no wall {line.wall!r} in "{faces.lining.room.name}"', mend)
    wall = outline.walls[index]
    membrane = membrane_on(wall.tanked, faces.rules)
    bare = line.at + {"bare": 0.0, "membrane": membrane, "finished": wall.build_up}[line.face]
    frame = turned(wall.run.points[[0, -1]], -faces.frame)
    for axis in (0, 1):
        edges = faces.across(axis)
        rows = np.flatnonzero(edges.mask & (faces.numbers == wall.run.number))
        if len(rows):
            g = faces.lattice[axis]
            way = 1.0 if edges.ahead[rows[0]] else -1.0
            at = float(frame[:, axis].mean()) + way * bare
            result[axis] = snapped((at - g.size if way > 0 else at) % g.pitch)
    return result[0], result[1]


def joint_faces(faces: Faces, cuts: Sequence[Parting], axis: int, parts: Sequence[Part]) -> list[Walls]:
    """Faces of the joints across an axis whose place is given, as walls of the bays beside them; each course of a bond that meets them counts."""
    found = []
    for cut in cuts:
        if not cut.fixed or cut.axis != axis:
            continue
        length = math.fsum(length_of(segment[-1] - segment[0]) for segment in cut.segments)
        for part in parts:
            beside = [] if part.region is None else [segment for segment in cut.segments if _beside(segment, part.region)]
            if part.region is None or not beside:
                continue
            low, high = part.region.bounds[axis], part.region.bounds[axis + 2]
            spans: Floats = np.sort([segment[[0, -1], 1 - axis] for segment in beside], axis=1)
            span = np.clip(spans, part.region.bounds[1 - axis], part.region.bounds[3 - axis])
            for at, ahead, side in ((cut.low, False, high), (cut.low + cut.width, True, low)):
                if abs(side - at) < TOUCH:
                    count = len(span)
                    face = Walls.plain(np.full(count, at - part.shift), [ahead] * count, np.zeros(count))
                    found.append(faces.met(replace(face, weight=np.full(count, length / count)), span, axis, part))
    return found


def moved_along(division: Division, axis: int, *, still: bool = False) -> Division:
    """A division with those bays alone that a start moves along an axis, or with those that stand still."""
    own = division.own or ((False, False),) * len(division.bays)
    return replace(division, bays=tuple(bay for bay, kept in zip(division.bays, own, strict=True) if kept[axis] == still))


def top(walls: Walls, lattice: Lattice1D, given: float | None) -> float:
    """The widest narrowest cut that any start along a direction gives, or the one `given`, over the play, mm."""
    if given is None:
        return best_offsets(walls, lattice.pitch, lattice.size)[0].worst
    return float(walls.least(np.array([given]), lattice.pitch, lattice.size, play=True)[0])


def _beside(segment: Floats, part: shapely.Polygon) -> bool:
    """Whether a segment of a cut runs along a bay, not only in line with it."""
    return bool(shapely.LineString(segment).distance(part) < 50.0)
