"""Starts that leave no weak piece: the one the search takes, and the least shift of one that the plan fixes."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from layout.joints.divide import divide
from layout.shapes import turned
from layout.start.laid import laid_out
from layout.start.measured import measure
from layout.start.offsets import snapped
from layout.tiles.weakness import weak
from layout.units import EPS
from layout.vectors import pair

if TYPE_CHECKING:
    from layout.errors import Point
    from layout.start.offsets import Offset
    from layout.start.settle import Settler
    from layout.start.settled import Settled
    from layout.tiles.lay import TileField

SHIFTS = (0.05, 0.1, 0.2, 0.35, 0.5, 0.7, 1.0)
"""Shifts tried each way along each direction, parts of half the module: small ones disturb least."""
MOST_TILES = 10_000
"""A larger field is left alone: trying shifts would take longer than all the rest."""
GRID, MOST_TRIED = 8, 24
"""Starts looked at along each direction beside the best ones, and how many of all pairs are laid to see whether any piece is weak."""


@dataclass(frozen=True, slots=True)
class Shift:
    """A shift of the start that mends something: how far and to where, mm; the narrowest cut over the play then; weak pieces left."""

    by: float
    to: Point
    worst: float
    left: int = 0

    def words(self) -> str:
        """How a person would do it."""
        return f"shifted by {self.by:.0f} mm to [{self.to[0]:.1f}, {self.to[1]:.1f}]"

    def offered(self) -> str:
        """How it is offered for weak pieces."""
        return f"{self.words()} leaves {'none' if self.left == 0 else f'only {self.left}'} and no cut under {self.worst:.0f}"


def weak_count(field: TileField) -> int:
    """How many cut pieces of a field are weak."""
    return int(sum(weak(laid.pieces).sum() for laid in field.bays if len(laid.pieces)))


def without_weak(settler: Settler, settled: Settled) -> Settled:
    """The best start without a weak piece among those tried, if the settled one has any; else the settled one.

    Only where the criteria put weak pieces before what the other start gives up; a start that the plan fixes stays.
    """
    before = settler.criteria.before_weak
    faces = settler.faces
    if before is None or settled.method != "exact" or faces.surface.kind not in ("floor", "wall", "plinth-top"):
        return settled
    field, _ = laid_out(faces, settled.division)
    if len(field.whole) + len(field.cut) > MOST_TILES or weak_count(field) == 0:
        return settled
    own = []
    for axis in (0, 1):
        g = faces.lattice[axis]
        grid = [] if settler.given[axis] is not None else [settled.start[axis] + g.pitch * k / GRID for k in range(1, GRID)]
        offsets = [settled.start[axis], *(c.at for c in settled.choices[axis]), *grid]
        if settler.given[axis] is not None:
            offsets = offsets[:1]
        own.append([settler.at(axis, offset, settled) for offset in offsets])
    pairs = list(itertools.product(*own))
    short = faces.has_short and not settled.division.cuts
    seeds = settler.with_both(settler.seeds()) if short else []
    ranked = settler.order([(each, settled.division) for each in pairs])
    pairs += seeds  # laid first: what the others are thought to give is no less than they do
    ranked = [*range(len(pairs) - len(seeds), len(pairs)), *ranked]
    best = settler.keys([pairs[k] for k in ranked])
    found: list[tuple[Offset, Offset]] = []
    for place, k in enumerate(ranked[:MOST_TRIED]):
        if any(float(key[place]) > float(key.min()) for key in best[:before]):
            continue
        start = (snapped(pairs[k][0].at), snapped(pairs[k][1].at))
        division = settler.abutted(start)
        if weak_count(laid_out(faces, division)[0]) > 0:
            continue
        if not short:
            return settler.started_at(start, division, settled)
        found.append(settler.as_laid(*pairs[k]))  # what short edges cut shows only as laid
    if not found:
        return settled
    x, y = found[settler.order([(each, settled.division) for each in found])[0]]
    start = (snapped(x.at), snapped(y.at))
    return settler.started_at(start, settler.abutted(start), settled)


def shift_off_weak(settler: Settler, field: TileField, origin: Point, least: float) -> Shift | None:
    """The shift of a start along one direction that leaves the fewest weak pieces, the least of those alike, no cut narrower than `least`.

    Each is tried as the plan would take it: divided, laid and measured from the place that is told. None if there is no weak
    piece, or no shift tried halves their number, or the field is too large to try.
    """
    if len(field.whole) + len(field.cut) > MOST_TILES:
        return None
    now = weak_count(field)
    if now == 0:
        return None
    faces = settler.faces
    reach = [float(np.abs(vector).max()) / 2 for vector in field.pattern.vectors]
    tries = sorted((reach[axis] * part, axis, side) for axis in (0, 1) for part in SHIFTS for side in (-1.0, 1.0))
    best: Shift | None = None
    for by, axis, side in tries:
        move = np.zeros(2)
        move[axis] = side * by
        to = np.round(np.array(origin) + turned(move[None], faces.turn)[0], 1)
        fixed = pair(turned(to[None], -faces.frame)[0])
        tried, bays = laid_out(faces, divide(settler.undivided, fixed))
        left = weak_count(tried)
        if left >= (best.left if best else now / 2 + EPS):
            continue
        worst = measure(faces, tried, bays).worst
        if worst < least - EPS:
            continue
        best = Shift(by, pair(to), worst, left)
        if left == 0:
            break
    return best
