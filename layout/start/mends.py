"""Starts that leave no weak piece: the one the search takes, and the least shift of one that the plan fixes."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from layout.joints.divide import divide, divided
from layout.joints.values import Division
from layout.shapes import turned
from layout.start.laid import laid_out, weak_as_laid, weak_in
from layout.start.measured import measure
from layout.start.offsets import Offset, snapped
from layout.units import EPS
from layout.vectors import pair

if TYPE_CHECKING:
    from layout.errors import Point
    from layout.joints.lines import Bay
    from layout.start.faces import Faces
    from layout.start.measured import Measured
    from layout.start.settle import Settler
    from layout.start.settled import Settled
    from layout.tiles.lay import TileField
    from layout.vectors import Floats

SHIFTS = (0.05, 0.1, 0.2, 0.35, 0.5, 0.7, 1.0)
"""Shifts tried each way along each direction, parts of half the module: small ones disturb least."""
MOST_TILES = 10_000
"""A larger field is left alone: trying shifts would take longer than all the rest."""
FINE, SPREAD = 64, 2
"""Places looked at along one direction in line with a start, and how many of them in the order of the criteria are passed over."""
FEW = 4
"""So many starts that are laid where short edges make the directions hang together are tried for weak pieces."""
GRID, MOST_TRIED = 8, 24
"""Starts looked at along each direction beside the best ones, and how many of all pairs are laid to see whether any piece is weak."""

NEXT = 3
"""So many of the best places along each direction are tried where the plan fixes a start."""


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
    return sum(weak_in(laid.pieces) for laid in field.bays)


def without_weak(settler: Settler, settled: Settled) -> Settled:
    """The best start without a weak piece among those tried, if the settled one has any; else the settled one.

    Only where the criteria put weak pieces before what the other start gives up; a start that the plan fixes stays. No shift is left that a
    finding would offer and that is better in the order of the criteria.
    """
    if settler.criteria.before_weak is None or settled.method == "fixed":
        return settled
    field, bays = laid_out(settler.faces, settled.division)
    if len(field.whole) + len(field.cut) > MOST_TILES or weak_count(field) == 0:
        return settled
    taken = settled
    if settled.choices[0] and settler.faces.surface.kind in ("floor", "wall", "plinth-top"):
        taken = _elsewhere(settler, settled)
        if taken is not settled:
            field, bays = laid_out(settler.faces, taken.division)
    return _shifted(settler, taken, field, bays)


def _elsewhere(settler: Settler, settled: Settled) -> Settled:
    """The best start without a weak piece among pairs of what each direction offers, or in line with the settled one; else the settled one."""
    faces, before = settler.faces, settler.criteria.before_weak or 0
    own = []
    for axis in (0, 1):
        g = faces.lattice[axis]
        grid = [] if settler.given[axis] is not None else [settled.start[axis] + g.pitch * k / GRID for k in range(1, GRID)]
        offsets = [settled.start[axis], *(c.at for c in settled.choices[axis]), *grid]
        if settler.given[axis] is not None:
            offsets = offsets[:1]
        own.append(settler.gives(axis, offsets, settled.start, settled.division))
    pairs: list[tuple[Offset, Offset]] = [(x, y) for x in own[0] for y in own[1]]
    short = faces.has_short and not settled.division.cuts
    seeds = settler.with_both(settler.seeds()[:FEW]) if short else []
    ranked = settler.order([(each, settled.division) for each in pairs])
    pairs += seeds  # laid first: what the others are thought to give is no less than they do
    ranked = [*range(len(pairs) - len(seeds), len(pairs)), *ranked]
    best = settler.keys([pairs[k] for k in ranked])
    found: list[tuple[Offset, Offset]] = []
    for place, k in enumerate(ranked[:MOST_TRIED]):
        if any(float(key[place]) > float(key.min()) for key in best[:before]):
            continue
        if _weak_at(settler, pairs[k]):
            continue
        found.append(settler.as_laid(*pairs[k]) if short else pairs[k])  # what short edges cut shows only as laid
        if not short:
            break
    now = (own[0][0], own[1][0])
    worst = min(each.worst for each in now)
    if before == 0 and (not found or max(min(x.worst, y.worst) for x, y in found) < worst - settler.criteria.tolerance):
        found += _beside(settler, settled, now, worst - settler.criteria.tolerance, laid=short)
        if not found and settler.criteria.least < worst - settler.criteria.tolerance:
            found = _beside(settler, settled, now, settler.criteria.least, laid=short)
    if not found:
        return settled
    x, y = found[settler.order([(each, settled.division) for each in found])[0]]
    start = (snapped(x.at), snapped(y.at))
    made = settler.started_at(start, settler.abutted(start), settled)
    return replace(made, method="tried", tried=made.tried + len(pairs))


def _weak_at(settler: Settler, given: tuple[Offset, Offset]) -> bool:
    """Whether a start leaves any weak piece, its bays standing as a plan that fixes the start would have them."""
    return weak_as_laid(settler.faces, settler.abutting((snapped(given[0].at), snapped(given[1].at)))) > 0


def _beside(settler: Settler, settled: Settled, own: tuple[Offset, Offset], least: float, *, laid: bool) -> list[tuple[Offset, Offset]]:
    """Starts in line with a settled one, one way or the other, that leave no weak piece and no cut under `least` over the play, mm.

    No written pull is given up for them. A pipe or a corner makes weak pieces of a few tiles only: beside it the same cuts at the walls are often to be had.
    """
    pairs: list[tuple[Offset, Offset]] = []
    for axis in (0, 1):
        if settler.given[axis] is not None:
            continue
        pitch = settler.faces.lattice[axis].pitch
        offsets = [settled.start[axis] + pitch * k / FINE for k in range(1, FINE)]
        for other in settler.gives(axis, offsets, settled.start, settled.division):
            if other.worst >= least and other.asked <= own[axis].asked + EPS:
                pairs.append((other, own[1]) if axis == 0 else (own[0], other))
    if not pairs:
        return []
    found: list[tuple[Offset, Offset]] = []
    for k in settler.order([(each, settled.division) for each in pairs])[::SPREAD][:MOST_TRIED]:
        if _weak_at(settler, pairs[k]):
            continue
        seen = settler.as_laid(*pairs[k]) if laid else pairs[k]
        if min(seen[0].worst, seen[1].worst) >= least:
            found.append(seen)
    return found


def _shifted(settler: Settler, settled: Settled, field: TileField, bays: tuple[Bay, ...]) -> Settled:
    """A settled start, or the one that findings would offer beside it, step by step while that is better in the order of the criteria."""
    now, seen, at, tried = weak_count(field), measure(settler.faces, field, bays, told=False), settled, 0
    while now:
        found, count = _one_shift(settler, at, now, seen)
        tried += count
        if found is None:
            break
        at, now, seen = found
    at = replace(at, off_weak=settler.criteria.before_weak == 0 and settler.faces.tile.start_line is None)
    if at.start == settled.start and at.division is settled.division:
        return at
    if settled.method == "search" and not at.division.cuts:
        return replace(at, tried=settled.tried + tried)  # what was found bounds what any start gives
    return replace(at, method="tried", gap=0.0, promised=0.0, tried=settled.tried + tried)


def _one_shift(settler: Settler, settled: Settled, now: int, seen: Measured) -> tuple[tuple[Settled, int, Measured] | None, int]:
    """The shift of a start that is best in the order of the criteria and leaves half of `now` weak pieces or fewer, with what it leaves and gives.

    Bays beside given joints start for themselves, or as where a plan fixes the start. None if the start as it is, `seen` as laid, comes before
    all of them; and how many were tried.
    """
    faces, before = settler.faces, settler.criteria.before_weak or 0
    least = min(seen.worst, faces.tile.least_cut) - EPS
    tried: list[tuple[Settled, int, Measured]] = [(settled, now, seen)]
    most, count = now / 2, 0
    for _, axis, move in _shifts(faces):
        if settler.given[axis] is not None:
            continue
        by = turned(move[None], faces.turn - faces.frame)[0]
        start = (snapped(settled.start[0] + float(by[0])), snapped(settled.start[1] + float(by[1])))
        count += 1
        ways = [settler.abutting(start), divided(settler.undivided, start)]
        for way in ways if any(cut.fixed for cut in settled.division.cuts) else ways[:1]:
            parts, kept = itertools.tee(way)  # bays are cut no further than they are looked at
            left = weak_as_laid(faces, parts, most)
            if left > most:
                continue
            division = Division.joined(kept)
            laid = measure(faces, *laid_out(faces, division), told=False)
            if laid.worst < least:
                continue
            most = left if before == 0 else most
            tried.append((replace(settled, start=start, division=division), left, laid))
    keys = settler.keys([_given(settler, each, laid) for each, _, laid in tried])
    keys.insert(before, np.array([left for _, left, _ in tried], dtype=float))
    best = int(np.lexsort(keys[::-1])[0])  # stable: the start as it is before its equals, then the least shift
    if best == 0:
        return None, count
    made, left, laid = tried[best]
    return (settler.started_at(made.start, made.division, settled) if settled.choices[0] else made, left, laid), count


def _given(settler: Settler, settled: Settled, laid: Measured) -> tuple[Offset, Offset]:
    """What a start gives along each direction, its narrowest strips as laid; those alone where the directions do not part."""
    size = settler.faces.pattern.widest
    given = settler.given_by(settled) if settled.choices[0] else tuple(Offset(at, size, size) for at in settled.start)
    return laid.into(given[0]), laid.into(given[1])


def _shifts(faces: Faces) -> list[tuple[float, int, Floats]]:
    """The shifts that are tried, least first: how far, mm, along which direction, and the move in the lattice's axes."""
    reach = [float(np.abs(vector).max()) / 2 for vector in faces.pattern.vectors]
    tries = sorted((reach[axis] * part, axis, side) for axis in (0, 1) for part in SHIFTS for side in (-1.0, 1.0))
    return [(by, axis, side * by * np.eye(2)[axis]) for by, axis, side in tries]


def shift_to_best(settler: Settler, field: TileField, origin: Point, worst: float) -> Shift | None:
    """The shift of a start that the plan fixes to the best one near, that leaves a wider cut than `worst` over the play and no more weak pieces.

    The best places along each direction are tried as the plan would take them: divided, laid and measured from the place that is told. None if
    none of them is better by a millimetre, the directions do not part, or the field is too large to try.
    """
    faces = settler.faces
    if not faces.aligned or not faces.pattern.level_courses or len(field.whole) + len(field.cut) > MOST_TILES:
        return None
    start = pair(turned(np.array([origin]), -faces.frame)[0])
    division, now = divide(settler.undivided, start), weak_count(field)
    moves: list[list[float]] = []
    for axis, g in enumerate(faces.lattice):
        found = settler.better(axis, start, division)[:NEXT]
        moves.append(list(dict.fromkeys([0.0, *(math.remainder(each.at - start[axis], g.pitch) for each in found)])))
    best: tuple[bool, float, float, Shift] | None = None
    for move in [(x, y) for x in moves[0] for y in moves[1] if (x, y) != (0.0, 0.0)]:
        to = np.round(np.array(origin) + turned(np.array([move]), faces.frame)[0], 1)
        laid, bays = laid_out(faces, divide(settler.undivided, pair(turned(to[None], -faces.frame)[0])))
        left, cut = weak_count(laid), measure(faces, laid, bays).worst
        if cut < worst + 1.0:
            continue
        tried = (left > now, -round(cut, 1), math.hypot(*move), Shift(math.hypot(*move), pair(to), cut, left))
        best = tried if best is None or tried[:3] < best[:3] else best
    return None if best is None or best[0] else best[3]


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
    best: Shift | None = None
    for by, axis, move in _shifts(faces):
        if settler.given[axis] is not None and faces.tile.start_line is None:
            continue  # a course or a joint that other faces share
        to = np.round(np.array(origin) + turned(move[None], faces.turn)[0], 1)
        fixed = pair(turned(to[None], -faces.frame)[0])
        left = weak_as_laid(faces, divided(settler.undivided, fixed), best.left if best else now / 2)
        if left >= (best.left if best else now / 2 + EPS):
            continue
        worst = measure(faces, *laid_out(faces, divide(settler.undivided, fixed))).worst
        if worst < least - EPS:
            continue
        best = Shift(by, pair(to), worst, left)
        if left == 0:
            break
    return best
