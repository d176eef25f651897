"""The next best starts of a surface, each divided and laid before it is told."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from layout.setout.values import RunnerUp
from layout.start.mends import MOST_TILES, weak_count
from layout.start.offsets import Offset, snapped
from layout.start.settled import put, together
from layout.start.weighed import DIFFERS

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from layout.errors import Point
    from layout.joints.values import Division
    from layout.start.measured import Measured
    from layout.start.settle import Settler
    from layout.start.settled import Settled
    from layout.tiles.lay import TileField

EACH_WAY, MOST_TOLD = 2, 3
"""So many are looked at along each direction, and so many are told."""


def runners_up(
    settler: Settler,
    settled: Settled,
    field: TileField,
    seen: Measured,
    lay: Callable[[Point], tuple[Point, TileField, Measured, Division] | None],
    moved: Callable[[Sequence[float]], Point],
) -> tuple[RunnerUp, ...]:
    """The next best starts that truly differ, best first: one direction changed at a time, each laid as a plan that fixes it would have it.

    `field` and `seen` are what the start taken lays; `lay` lays another start: the corner to type, its tiles, what is measured, how it is divided.
    On an upright face, and on a field too large to lay again, starts stand where the one taken is `moved` to along the joint frame's axes, and their figures are those of the edges along each direction.
    """
    faces = settler.faces
    again = faces.surface.kind == "floor" and len(field.whole) + len(field.cut) <= MOST_TILES
    own = settler.given_by(settled)
    tried: list[tuple[tuple[Offset, Offset], int, Offset]] = []
    for axis in (0, 1):
        for offset in settler.differing(axis, settled, max(DIFFERS, faces.rules.wall_tolerance))[:EACH_WAY]:
            tried.append(((offset, own[1]) if axis == 0 else (own[0], offset), axis, offset))
    if not tried:
        return ()
    if again:
        own = (seen.into(own[0]), seen.into(own[1]))
    found: list[tuple[tuple[Offset, Offset], int, Division, RunnerUp]] = []
    for k in settler.order([(given, settled.division) for given, _, _ in tried])[:MOST_TOLD]:
        given, axis, offset = tried[k]
        drawn, worst = (min(getattr(each, name) for each in _pieces(settler, settled, given)) for name in ("drawn", "worst"))
        weak, division = 0, settled.division
        if again:
            made = lay(put(settled.start, axis, snapped(offset.at)))
            if made is None:
                continue
            at, laid, there, division = made
            given, drawn, worst = (there.into(given[0]), there.into(given[1])), there.drawn, there.worst
            weak = weak_count(laid) - weak_count(field)
        else:
            move = [0.0, 0.0]
            move[axis] = math.remainder(offset.at - settled.start[axis], faces.lattice[axis].pitch)
            at = moved(move)
        why = settler.criteria.why_behind(together(own), together(given), weak)
        found.append((given, weak, division, RunnerUp(at, drawn, worst, why, laid=again)))
    ranked = settler.order([(given, division) for given, _, division, _ in found])
    ranked.sort(key=lambda k: found[k][1] > 0)  # those that leave more weak pieces come behind
    return tuple(found[k][3] for k in ranked)


def _pieces(settler: Settler, settled: Settled, given: tuple[Offset, Offset]) -> tuple[Offset, Offset]:
    """What offsets along both directions give by pieces as they are high, not by what is seen of them at a foot."""
    if not settler.faces.covered.any():
        return given
    bare = replace(settler, faces=replace(settler.faces, covered=np.zeros(len(settler.faces.covered))))
    one, other = (bare.gives(k, [offset.at], settled.start, settled.division)[0] for k, offset in enumerate(given))
    return one, other
