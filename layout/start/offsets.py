"""The exact best start along one direction: where the first tile goes so that the narrowest cut is as wide as it can be.

Every wall gives a saw-tooth in the offset (`start.walls`). The lowest of the teeth is highest at a crossing of a
rising and a falling tooth or at the end of a flat, so the best start is found exactly from those.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from layout.plan.wishes import MEASURE_NAMES, Criteria, Measures, missed, targets_of
from layout.start.crossings import ASIDE, candidates_of, reach
from layout.start.teeth import few, lacking, least_over_play, lengths_under, narrowest
from layout.start.walls import Walls, merged
from layout.units import EPS, SNAP, TOUCH, snap

if TYPE_CHECKING:
    from collections.abc import Sequence

    from layout.plan.wishes import Wish
    from layout.vectors import Floats, Ints

MEASURED, MOST_MEASURED = 12, 400
"""How many promising offsets are measured at every wall; more if they are equally good."""
MOST_GIVEN = 6
"""So many offsets are given at most."""
PLAIN = Criteria()
CHALK = 2.0
"""Starts nearer than this are the same: a chalk line is that wide, mm (design, section 5)."""


@dataclass(frozen=True, slots=True)
class Offset:
    """One candidate along one direction: where a tile's low edge falls, the narrowest cuts, what it misses and saws, mm.

    `drawn` and `worst` are of what is in view, `hidden` of what is not, over the play.
    """

    at: float
    drawn: float
    worst: float
    hidden: float = math.inf
    whole: float = 0.0
    asked: float = 0.0
    habits: float = 0.0
    unlike: float = 0.0
    sawn: float = 0.0
    short: float = 0.0
    view: float = 0.0


def best_offsets(
    walls: Walls, pitch: float, size: float, *, wishes: Sequence[Wish] = (), criteria: Criteria = PLAIN, apart: float = CHALK
) -> list[Offset]:
    """Offsets along one direction, best first, exact.

    Parameters
    ----------
    walls : walls across the direction.
    pitch, size : module and work size along it, mm.
    wishes : pulls along the direction.
    criteria : how offsets are ranked; by the narrowest cut if not given.
    apart : how far those that are given stand apart, mm.

    Returns
    -------
    Offsets in [0, pitch), best first, none nearer than `apart` to a better one; at least one.

    Costs n log n in the number of walls: teeth are sorted, and at each offset only those are measured that can be the lowest
    (`start.teeth`). Where nothing comes before the narrowest cut, only the most promising crossings are measured; else, or where
    weights are given, every break of what is weighed: all of it is piecewise linear in the offset, so the best is among them.
    Where cuts within a tolerance are equal, the ends of what is equal are measured too.
    """
    ends = _end_walls(walls)
    walls = merged(walls, pitch)
    flat = targets_of(wishes, pitch, size)  # a wish may be met on the flat of a whole tile, where no tooth breaks
    if (walls.strip & walls.hidden).any():
        return _with_hidden(walls, ends, pitch, size, wishes, criteria, apart)
    strips = walls.of(walls.strip)
    if len(strips.at) == 0:
        at = np.concatenate([flat, [0.0], _breaks(walls, ends, pitch, size, [])])
        return _ranked(walls, ends, at, pitch, size, wishes, criteria, apart)
    scored = strips
    candidates, bound = candidates_of(scored, pitch, size)
    if bound.max() <= EPS:  # no start survives the play: the best as drawn
        scored = strips.still()
        candidates, bound = candidates_of(scored, pitch, size)
    if not criteria.plain or any(wish.asked for wish in wishes):
        breaks = np.concatenate(
            [candidates, _breaks(walls, ends, pitch, size, [criteria.least, criteria.least - criteria.tolerance]), flat]
        )
        found = _ranked(walls, ends, breaks, pitch, size, wishes, criteria, apart)
        if criteria.tolerance == 0.0:
            return found
        # what is equal ends under the top, which may miss more of what is asked
        seen = measures(walls, breaks, pitch, size, wishes, ends, least=criteria.least)
        tops = sorted({float(seen.worst.max()), float(seen.drawn.max()), found[0].worst, found[0].drawn})
        level = _breaks(walls, ends, pitch, size, [*tops, *(top - criteria.tolerance for top in tops)])
        near = _nearest_to_least(strips, found[0].worst, pitch, size, criteria)
        at = np.concatenate([breaks, level, near])
        return _ranked_to_ends(walls, ends, at, pitch, size, wishes, criteria, apart)
    kept = _promising(scored, candidates, bound, pitch, size)
    if criteria.tolerance == 0.0:
        first = np.append(bound[kept], np.full(len(flat), -1.0))
        return _ranked(walls, ends, np.append(candidates[kept], flat), pitch, size, wishes, criteria, apart, first=first)
    top = float(least_over_play(scored, candidates[kept], pitch, size).max())
    level = _breaks(walls, ends, pitch, size, [top - criteria.tolerance, criteria.least, criteria.least - criteria.tolerance])
    more = np.concatenate([level, flat, _nearest_to_least(strips, top, pitch, size, criteria)])
    at = np.append(candidates[kept], more[reach(scored, more, pitch, size) >= top - criteria.tolerance - 2 * ASIDE])
    ranked = _ranked_to_ends if top < criteria.least else _ranked
    return ranked(walls, ends, at, pitch, size, wishes, criteria, apart)


def _ranked_to_ends(
    walls: Walls, ends: Walls, at: Floats, pitch: float, size: float, wishes: Sequence[Wish], criteria: Criteria, apart: float
) -> list[Offset]:
    """The best offset among all breaks and where what is equal ends, then the best of the breaks: those ends lie close by, and are no other starts."""
    found = _ranked(walls, ends, at, pitch, size, wishes, criteria, apart)
    more = _ends_of_equals(walls, ends, at, pitch, size, wishes, criteria)
    best = _ranked(walls, ends, np.append(at, more), pitch, size, wishes, criteria, apart)[0]
    return [best, *(each for each in found if abs(math.remainder(each.at - best.at, pitch)) >= apart)][:MOST_GIVEN]


def _with_hidden(
    walls: Walls, ends: Walls, pitch: float, size: float, wishes: Sequence[Wish], criteria: Criteria, apart: float
) -> list[Offset]:
    """The best offsets where some walls are out of view: the narrowest cut in view first, then the narrowest out of it.

    Each is highest at a crossing of its own teeth, or, among those that are equal in what comes before, where a tooth ends or passes
    the level at which equals end: every break is measured.
    """
    parts = [targets_of(wishes, pitch, size)]
    for own in (walls.strip & ~walls.hidden, walls.strip & walls.hidden):
        if own.any():
            found, bound = candidates_of(walls.of(own), pitch, size)
            parts.append(found)
            if bound.max() <= EPS:  # no start survives the play: the best as drawn
                parts.append(candidates_of(walls.of(own).still(), pitch, size)[0])
    parts.append(_breaks(walls, ends, pitch, size, [criteria.least, criteria.least - criteria.tolerance]))
    best = _ranked(walls, ends, np.concatenate(parts), pitch, size, wishes, criteria, apart)
    if criteria.tolerance == 0.0:
        return best
    seen = measures(walls, np.concatenate(parts), pitch, size, wishes, ends, least=criteria.least)
    parts.append(_nearest_to_least(walls.of(walls.strip & ~walls.hidden), best[0].worst, pitch, size, criteria))
    for _ in range(2):  # equals in view end at a level; among them what is out of view is highest, and equals of that end at another
        tops = {float(seen.worst.max()), float(seen.drawn.max()), best[0].worst, best[0].drawn, best[0].hidden}
        parts.append(_breaks(walls, ends, pitch, size, sorted(top - criteria.tolerance for top in tops)))
        parts.append(_ends_of_equals(walls, ends, np.concatenate(parts), pitch, size, wishes, criteria))
        best = _ranked(walls, ends, np.concatenate(parts), pitch, size, wishes, criteria, apart)
    return best


def _nearest_to_least(walls: Walls, top: float, pitch: float, size: float, criteria: Criteria) -> Floats:
    """Offsets at which the narrowest cut can be nearest to a least that is not had over the play, where `top` is, mm.

    A cut is short of it as drawn, or over the play by more than walls are known to: what a wall stands off counts less by so much.
    """
    if top >= criteria.least or len(walls.at) == 0:
        return np.empty(0)
    known = replace(walls, play=np.maximum(walls.play - criteria.tolerance, 0.0))
    return candidates_of(known, pitch, size)[0]


def _ends_of_equals(walls: Walls, ends: Walls, at: Floats, pitch: float, size: float, wishes: Sequence[Wish], criteria: Criteria) -> Floats:
    """Where starts end that are equal in what they lack to the least, the mean too: between two of all breaks `at` that is straight."""
    found = measures(walls, at, pitch, size, wishes, ends, least=criteria.least)
    under = float(criteria.under(found)[criteria.equal_before("least", found)].min())
    tops = [criteria.least - under - part * criteria.tolerance for part in (1, 2)] if under > EPS else []  # as drawn, and over the play
    level = _breaks(walls, ends, pitch, size, tops)
    place: Floats = np.unique(np.round(np.mod(np.append(at, level), pitch), 6))
    found = measures(walls, place, pitch, size, wishes, ends, least=criteria.least)
    off = found.lacking - float(found.lacking[criteria.equal_before("metres", found)].min()) - criteria.tolerance
    after, then = np.append(place[1:], place[0] + pitch), np.roll(off, -1)
    k = np.flatnonzero(off * then < 0.0)
    return np.concatenate([level, place[k] + (after[k] - place[k]) * off[k] / (off[k] - then[k])])


def _promising(walls: Walls, candidates: Floats, bound: Floats, pitch: float, size: float) -> Ints:
    """The candidates among which the highest lowest tooth is: those whose bound is not under what a better one gives."""
    order = np.lexsort((candidates, -np.round(bound, 6)))
    behind = bound[order]
    kept = max(MEASURED, min(MOST_MEASURED, int((bound >= bound.max() - EPS).sum())))
    best = float(least_over_play(walls, candidates[order[:kept]], pitch, size).max())
    # without play the bound is the tooth itself: no candidate behind gives more
    while (walls.slant + walls.play).any() and kept < len(order) and behind[kept] > best + EPS:
        more = order[kept : 2 * kept + MOST_MEASURED]
        best = max(best, float(least_over_play(walls, candidates[more], pitch, size).max()))
        kept += len(more)
    own = np.round(behind, 6) >= round(best, 6)
    return order[own | (np.arange(len(order)) < MEASURED)]


def _end_walls(walls: Walls) -> Walls:
    """The first and the last wall along the direction, whose cuts are liked alike; none if there are not two."""
    if len(walls.at) == 0:
        return walls
    return walls.of(np.array([int(walls.at.argmin()), int(walls.at.argmax())]))


def _breaks(walls: Walls, ends: Walls, pitch: float, size: float, levels: Sequence[float]) -> Floats:
    """Where a tooth ends, passes a level, or the cuts at the two ends are alike: with the crossings, every break of the criteria.

    Teeth jump where they end, so both sides of each break count, and the middles between.
    """
    if len(walls.at) == 0:
        return np.empty(0)
    sign: Floats = np.where(walls.ahead, 1.0, -1.0).astype(np.float64)
    zero = np.where(walls.ahead, walls.at - size, walls.at)
    t = walls.slant + walls.play
    reaches: list[Floats | float] = [
        pitch - t + walls.out,
        pitch - walls.slant,
        t + 2 * SNAP,
        size + t,
        size + t - walls.into,
        size + walls.slant,
        0.0,
        size,
    ]
    reaches += [part for level in levels for part in (t + level, walls.slant + level)]
    if walls.covered.any():
        reaches += [t + walls.covered + 2 * SNAP, *(part + walls.covered for level in levels for part in (t + level, walls.slant + level))]
    face = ends.at + np.where(ends.ahead, ends.covered, -ends.covered)
    alike = (float(face[0]) + float(face[-1]) - size) / 2
    breaks = np.unique(np.mod(np.concatenate([*(zero + sign * reach for reach in reaches), [alike, alike + pitch / 2]]), pitch))
    middles = (breaks + np.append(breaks[1:], breaks[0] + pitch)) / 2
    return np.concatenate([breaks, breaks - ASIDE, breaks + ASIDE, middles])


def _ranked(
    walls: Walls,
    ends: Walls,
    candidates: Floats,
    pitch: float,
    size: float,
    wishes: Sequence[Wish],
    criteria: Criteria,
    apart: float,
    *,
    first: Floats | None = None,
) -> list[Offset]:
    """The best of some offsets, measured at every wall, none nearer than `apart` to a better one."""
    candidates, index = np.unique(np.round(np.mod(candidates, pitch), 6), return_index=True)
    found = measures(walls, candidates, pitch, size, wishes, ends, least=criteria.least)
    near = walls.of(walls.datum)
    datum = np.round(-near.phases(candidates, pitch, size).max(axis=1, initial=0.0), 3)
    keys = criteria.keys(found)
    if first is not None:  # rounding of a candidate must not put one before another that its exact tooth beats
        own = np.round(np.where(np.abs(first[index] - found.worst) < ASIDE, first[index], found.worst), 6).astype(np.float64)
        keys.insert(0, -own)
    order = np.lexsort((candidates, datum, *keys[::-1]))
    result: list[Offset] = []
    while len(order) and len(result) < MOST_GIVEN:
        k = int(order[0])
        result.append(Offset(float(candidates[k]), **{name: float(getattr(found, name)[k]) for name in MEASURE_NAMES}))
        away = np.abs(candidates[order] - candidates[k])
        order = order[(np.minimum(away, pitch - away) >= apart) & (np.arange(len(order)) > 0)]
    return result


def measures(
    walls: Walls, offset: Floats, pitch: float, size: float, wishes: Sequence[Wish], ends: Walls | None = None, *, least: float
) -> Measures:
    """What each of many offsets gives, arrays of (k,); `ends` are the walls whose cuts are liked alike, the outermost if not given.

    `least` is the tile's least cut, mm.
    """
    ends = _end_walls(walls) if ends is None else ends
    unlike = np.zeros(len(offset))
    if len(ends.at):
        both = ends.widths(offset, pitch, size, play=False)
        unlike = np.abs(both[:, 0] - both[:, -1])
    by = _by_all if few(walls, offset) else _by_few
    worst, drawn, hidden, lowest, sawn, short = by(walls, offset, pitch, size, min(least, size))
    return Measures(
        worst=worst,
        drawn=drawn,
        hidden=hidden,
        whole=(lowest >= size - TOUCH).astype(float),
        asked=missed(wishes, offset, pitch, size, asked=True),
        habits=missed(wishes, offset, pitch, size, asked=False),
        unlike=unlike,
        sawn=sawn,
        short=short,
        view=np.full(len(offset), math.fsum(walls.weight[walls.strip & ~walls.hidden])),
    )


def _by_all(walls: Walls, offset: Floats, pitch: float, size: float, least: float) -> tuple[Floats, ...]:
    """Narrowest strips in view, over the play and as drawn, out of view and of all walls, the length of wall with cuts, and what strips in view lack.

    (k,) each: all teeth measured.
    """
    drawn, worst = walls.as_drawn_and_over_play(walls.phases(offset, pitch, size), pitch, size)
    seen, behind = walls.strip & ~walls.hidden, walls.strip & walls.hidden
    return (
        np.where(seen, worst, size).min(axis=1, initial=size),
        np.where(seen, drawn, size).min(axis=1, initial=size),
        np.where(behind, worst, size).min(axis=1, initial=size),
        worst.min(axis=1, initial=size),
        (drawn < size - TOUCH) @ walls.weight,
        np.maximum(least - worst, 0.0) @ (walls.weight * seen),
    )


def _by_few(walls: Walls, offset: Floats, pitch: float, size: float, least: float) -> tuple[Floats, ...]:
    """The same, of all teeth those alone measured that can be the lowest."""
    parts = [walls.of(own) for own in (walls.strip & ~walls.hidden, walls.strip & walls.hidden, ~walls.strip)]
    (drawn, worst), (_, hidden), (_, others) = (narrowest(part, offset, pitch, size) for part in parts)
    sawn = lengths_under(walls, offset, pitch, size, size - TOUCH)
    short = lacking(parts[0], offset, pitch, size, least) if least > 0.0 else np.zeros(len(offset))
    return worst, drawn, hidden, np.minimum(np.minimum(worst, hidden), others), sawn, short


def snapped(offset: float) -> float:
    """A start as it is used: on the grid of `SNAP`."""
    return snap(offset)
