"""Starts weighed as laid, where laying shows what neither direction by itself does: strips beside saw lines and joints, and between two edges."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from layout.start.laid import laid_out
from layout.start.measured import measure
from layout.start.mends import weak_count
from layout.start.offsets import Offset, snapped
from layout.units import EPS

if TYPE_CHECKING:
    from layout.errors import Point
    from layout.start.settle import Settler
    from layout.start.settled import Settled

MOST_TILES = 5_000
"""A larger field is taken as it is thought: to lay it again and again would take longer than all the rest."""
STEPS, MOST_LAID = 8, 10
"""Offsets looked at along each direction beside the best ones, and how many of all pairs are laid."""
DIFFERS = 10.0
"""A start nearer to another is no other start to a person, mm: cuts differ by less than what walls are true to (common practice, no source)."""


def bay_by_bay(settler: Settler, settled: Settled) -> Settled:
    """A settled start of a bond, or one whose bays start for themselves along the courses beside given joints, where that gives more as laid.

    Without it each bay beyond such a joint follows from the first: which one that is, is by chance, and its far cut too.
    """
    faces = settler.faces
    across = any(cut.fixed and cut.axis == 0 for cut in settled.division.cuts)
    free = settled.choices[0] and settler.given[0] is None and settler.undivided.rules.bays == "shift"
    if not across or not free or faces.lattice[0].straight or not settler.few_tiles:
        return settled
    other = replace(settler, courses=True).settled()
    both = []
    for each in (settled, other):
        seen = measure(faces, *laid_out(faces, each.division), told=False)
        x, y = settler.given_by(each)
        both.append((seen.into(x), seen.into(y)))
    keys = settler.keys(both)[: settler.criteria.decisive]
    better = np.lexsort(keys[::-1])[0] == 1
    return replace(other if better else settled, method="tried", gap=0.0, tried=max(settled.tried, 1) + max(other.tried, 1))


def weighed_as_laid(settler: Settler, settled: Settled) -> Settled:
    """The settled start of a floor, or one that comes before it in the order of the criteria once both are laid.

    Where it gives as laid what its directions were thought to give, no start comes before it. Else the best of what they offer are laid with
    their joints, those that would be told beside it among them. One that leaves more weak pieces is not taken where those come first.
    """
    faces, before = settler.faces, settler.criteria.before_weak
    if (
        faces.surface.kind != "floor"
        or not settled.choices[0]
        or (faces.has_short and not settled.division.cuts and faces.surface.saw_lines is None)
    ):
        return settled
    field, bays = laid_out(faces, settled.division)
    if len(field.whole) + len(field.cut) > MOST_TILES:
        return settled
    seen, thought = measure(faces, field, bays, told=False), settler.given_by(settled)
    own = (seen.into(thought[0]), seen.into(thought[1]))
    if not any(float(key[1]) > float(key[0]) for key in settler.keys([thought, own])[: settler.criteria.decisive]):
        return settled
    now = weak_count(field)
    given, divisions, weak = [own], [settled.division], [now]
    starts = _starts(settler, settled)
    for start in starts:
        division = settler.abutted(start)
        field, bays = laid_out(faces, division)
        left = weak_count(field)
        if before == 0 and left > now:
            continue
        seen = measure(faces, field, bays, told=False)
        x, y = settler.given_by(replace(settled, start=start, division=division))
        given.append((seen.into(x), seen.into(y)))
        divisions.append(division)
        weak.append(left)
    keys = settler.keys(given)
    if before:
        keys.insert(before, np.array(weak, dtype=float))
    best = int(np.lexsort(keys[::-1])[0])  # stable: the settled start before its equals
    if best == 0:
        return settled
    made = settler.started_at((given[best][0].at, given[best][1].at), divisions[best], settled)
    return replace(made, method="tried", gap=0.0, tried=settled.tried + len(starts))


def _starts(settler: Settler, settled: Settled) -> list[Point]:
    """The starts that are laid: those told beside the settled one, then pairs of what each direction offers, the best as thought first."""
    told: list[tuple[Offset, Offset]] = []
    own: list[list[Offset]] = []
    at = settler.given_by(settled)
    for axis, lattice in enumerate(settler.faces.lattice):
        free = settler.given[axis] is None
        beside = settler.differing(axis, settled, max(DIFFERS, settler.criteria.tolerance))[:2]
        told += [(each, at[1]) if axis == 0 else (at[0], each) for each in beside]
        grid = [settled.start[axis] + lattice.pitch * k / STEPS for k in range(1, STEPS)]
        offsets = [*(each.at for each in settled.choices[axis]), *grid] if free else []
        own.append([at[axis], *settler.gives(axis, offsets, settled.start, settled.division)] if offsets else [at[axis]])
    pairs = [(x, y) for x in own[0] for y in own[1]]
    ranked = [pairs[k] for k in settler.order([(each, settled.division) for each in pairs])]
    starts = dict.fromkeys((snapped(x.at), snapped(y.at)) for x, y in (*told, *ranked))
    return [start for start in starts if max(abs(start[k] - settled.start[k]) for k in (0, 1)) > EPS][:MOST_LAID]
