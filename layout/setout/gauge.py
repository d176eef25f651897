"""The gauge: joints of a direction a few tenths wider or narrower, so that runs come out in whole tiles or an end cut reaches the least.

A tiler does so with his rod. By how much a joint would have to open is reckoned from the runs of the plain start; what that gives is
seen only when the floor is set out so, and the plain start stays unless the pieces bear it out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from layout.setout.runs import COUNTED, runs_of
from layout.standards.rules import JOINT_LEAST, JOINT_PER_SCATTER, RESIN_JOINT_LEAST
from layout.start.mends import weak_count
from layout.units import EPS, TOUCH

if TYPE_CHECKING:
    from collections.abc import Callable

    from layout.errors import Point
    from layout.plan.ruling import Rules
    from layout.plan.values import Tile
    from layout.setout.runs import Run
    from layout.setout.values import SurfaceSetOut

MOST_TRIED = 3
"""So many openings of one direction are set out, those that most of its lines ask for first."""
FINE = 4
"""Decimals that an opening is kept to, mm: over a hundred joints it adds up to a hundredth."""


def least_joint(tile: Tile) -> float:
    """The narrowest joint that a tile may be laid with, mm, by its scatter and what resin grout fills."""
    by_scatter = 0.0 if tile.scatter is None else JOINT_PER_SCATTER.value * tile.scatter
    return max(JOINT_LEAST.value, RESIN_JOINT_LEAST.value, by_scatter)


@dataclass(frozen=True, slots=True)
class Bounds:
    """How far a joint may close (negative) and open, mm."""

    least: float
    most: float

    def hold(self, by: float) -> bool:
        """Whether a joint may open by so much."""
        return self.least - EPS <= by <= self.most + EPS


def bounds_of(tile: Tile, rules: Rules) -> Bounds:
    """How far the joint of a tile may close and open: by `rules.joint_play`, never under its least joint."""
    return Bounds(-min(rules.joint_play, max(tile.joint - least_joint(tile), 0.0)), rules.joint_play)


def openings(run: Run, size: float, tile: Tile, rules: Rules) -> list[float]:
    """By how much the joint would have to open for a run to come out in whole tiles, or for both its cuts to reach the least, mm.

    Of a run L long, less its movement joints, n tiles of w and g joints make n w + g j; what is over is taken by the two edge joints as
    far as `rules.edge_joint_range` and as a tile's joint may fall on the edge.
    """
    bounds, free = bounds_of(tile, rules), run.length - run.moving
    edge = max(min(tile.joint, rules.edge_joint_range[1] - rules.perimeter_joint), 0.0)
    found = []
    for count in {math.floor(free / (size + tile.joint)), math.ceil(free / (size + tile.joint))}:
        gaps = count - 1 - run.moves
        if gaps <= 0:
            continue
        low, high = ((free - over - count * size) / gaps - tile.joint for over in (2.0 * edge, 0.0))
        by = min(max(high, bounds.least), bounds.most)  # the edge joints as the plan has them, if that is to be had
        if low - EPS <= by <= high + EPS:
            found.append(by)
    cuts = [cut for cut in run.cuts if cut > 0.0]
    if len(cuts) == 2 and min(cuts) < tile.least_cut - TOUCH:
        gaps = run.tiles + 1 - run.moves
        by = (free - 2.0 * (tile.least_cut + TOUCH) - run.tiles * size) / gaps - tile.joint if gaps > 0 else math.inf
        if bounds.hold(by):
            found.append(by)
    return sorted((round(by, FINE) for by in found if abs(by) > 10.0**-FINE), key=abs)


def asked(done: SurfaceSetOut, rules: Rules, axis: int) -> list[float]:
    """The openings that the runs of a floor ask for along an axis, those of most lines first."""
    lines: dict[float, int] = {}
    for run in runs_of(done):
        if run.axis == axis and (run.cuts != (0.0, 0.0) or run.within):
            for by in openings(run, done.field.pattern.box[axis], done.tile, rules):
                lines[by] = lines.get(by, 0) + run.lines
    return sorted(lines, key=lambda by: (-lines[by], abs(by)))[:MOST_TRIED]


def taken(plain: SurfaceSetOut, rules: Rules, lay: Callable[[Tile], SurfaceSetOut | None]) -> Tile | None:
    """The tile with the opening that serves a floor best, laid and measured direction by direction; None where the plain start stays.

    `lay` sets the floor out with a tile. An opening is taken that leaves fewer weak pieces, brings the narrowest cut to the least, or cuts
    fewer tiles without a cut narrower by more than the walls' tolerance; pulls that are met stay met.
    """
    if plain.tile.pattern not in COUNTED or plain.tile.start is not None:
        return None
    best, key = plain, _key(plain)
    for axis in (0, 1):
        start = best
        for by in asked(start, rules, axis):
            opened: Point = (by, start.tile.opened[1]) if axis == 0 else (start.tile.opened[0], by)
            made = lay(replace(plain.tile, opened=opened))
            if made is None or made.start.smallest < min(best.start.smallest - rules.wall_tolerance, plain.tile.least_cut) - TOUCH:
                continue
            if _key(made) < key:
                best, key = made, _key(made)
    return None if best is plain else best.tile


def _key(done: SurfaceSetOut) -> tuple[float, ...]:
    """What an opening is judged by, less being better."""
    missed = math.fsum(round(pull.miss) for pull in done.start.pulls if pull.asked)
    return (weak_count(done.field), float(done.start.smallest < done.tile.least_cut - TOUCH), missed, done.field.places_cut())
