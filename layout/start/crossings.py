"""Where along one direction the lowest of the teeth can be highest: their crossings, breaks and flats, and what each can give at most."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from layout.start.teeth import least_over_play
from layout.units import SNAP

if TYPE_CHECKING:
    from layout.start.walls import Walls
    from layout.vectors import Bools, Floats

ASIDE = 3 * SNAP
"""How far beside a break of a tooth its limit is measured, mm."""


def candidates_of(walls: Walls, pitch: float, size: float) -> tuple[Floats, Floats]:
    """Every offset at which the lowest tooth can be highest, and what the narrowest cut over the play there cannot be over.

    Between two breaks of any tooth the falling ones have a lowest line A - s and the rising ones s - B;
    the narrowest cut is min(A - s, s - B, size), best where they cross or on the flat of a whole tile.
    At a break itself one side's limit is attained; where a joint lies on a wall, a tile is whole from there on.
    """
    sign: Floats = np.where(walls.ahead, 1.0, -1.0).astype(np.float64)
    zero = np.where(walls.ahead, walls.at - size, walls.at)  # the phase is sign * (offset - zero)
    t = walls.slant + walls.play
    # what an edge joint takes keeps a joint on the wall over the play, but no slanted wall has one on it from end to end
    peak = np.mod(zero + sign * np.minimum(pitch - t + walls.out, pitch - walls.slant), pitch)
    end = np.mod(zero + sign * _lost(walls), pitch)
    turns = [peak, end, np.zeros(1)]
    jumps = _lost(walls).any()
    if jumps:
        turns += [np.mod(zero + sign * turn, pitch) for turn in (np.full(len(t), size), np.clip(size + t - walls.into, size, pitch))]
    events = np.unique(np.round(np.concatenate(turns), 7))
    upper = np.append(events[1:], pitch + events[0])
    middle = (events + upper) / 2.0
    fall, rise = _lines(walls, pitch, size)
    near_a, near_b = _ahead(fall, middle, pitch), _behind(rise, middle, pitch)
    crossing = np.where(np.isfinite(near_a) & np.isfinite(near_b), (near_a + near_b) / 2.0, np.where(np.isfinite(near_a), events, upper))
    best = np.clip(crossing, events, upper)
    flat_low = np.clip(np.where(np.isfinite(near_b), near_b + size, events), events, upper)
    flat_high = np.clip(np.where(np.isfinite(near_a), near_a - size, upper), events, upper)
    dead = _dead(walls, peak, end, middle, pitch)
    whole = size - float(_lost(walls).max(initial=0.0)) - ASIDE

    def bound(at: Floats) -> Floats:
        value = np.minimum(np.minimum(near_a - at, at - near_b), size)
        return np.where(dead, 0.0, np.maximum(np.where(value >= whole, size, value), 0.0))

    places, values = [best], [bound(best)]
    for at in (flat_low, flat_high, (flat_low + flat_high) / 2.0):
        value = np.where(flat_low <= flat_high, bound(at), -1.0)
        places.append(at)
        values.append(value)
    if jumps:  # at a break the tooth of a wall that stands off, or of a foot that is covered, jumps up to a whole tile
        places += [events, middle]
        values += [np.minimum(reach(walls, each, pitch, size), size) for each in (events, middle)]
    one, other = np.sort(np.round(peak[walls.ahead] / SNAP)), np.round(peak[~walls.ahead] / SNAP)
    both = other[np.take(one, np.searchsorted(one, other), mode="clip") == other] * SNAP if len(one) else one
    if len(both):
        both = np.unique(both)
        places.append(both)
        values.append(least_over_play(walls, both, pitch, size))
    at, value = np.round(np.mod(np.concatenate(places), pitch), 6), np.concatenate(values)
    return at[value >= 0.0], value[value >= 0.0]


def reach(walls: Walls, at: Floats, pitch: float, size: float) -> Floats:
    """No more than this can an offset give, (k,): the nearest teeth each way, a whole tile where a joint may lie on the wall."""
    fall, rise = _lines(walls, pitch, size)
    at = np.mod(at, pitch)
    value = np.minimum(_ahead(fall, at, pitch) - at, at - _behind(rise, at, pitch))
    whole = size - float(_lost(walls).max(initial=0.0)) - ASIDE
    result: Floats = np.where(value >= whole, size, value)
    return result


def _lines(walls: Walls, pitch: float, size: float) -> tuple[Floats, Floats]:
    """Phases of the falling and of the rising teeth over their play, sorted: a falling one gives A - s, a rising one s - B."""
    lost = _lost(walls)
    return np.sort(np.mod(walls.at - lost, pitch)[~walls.ahead]), np.sort(np.mod(walls.at - size + lost, pitch)[walls.ahead])


def _lost(walls: Walls) -> Floats:
    """What a cut counts less than it is wide where the wall lies on average, (n,), mm."""
    return walls.slant + walls.play + walls.covered


def _dead(walls: Walls, peak: Floats, end: Floats, middle: Floats, pitch: float) -> Bools:
    """Places where some wall's play makes a sliver: between the break of its tooth and its rise."""
    t = walls.slant + walls.play
    if (_lost(walls) + np.maximum(t - walls.out, walls.slant) >= pitch).any():
        return np.ones(len(middle), dtype=bool)
    starts = np.where(walls.ahead, peak, end)
    stops = np.where(walls.ahead, end, peak)
    own = _lost(walls) > 0.0
    starts, stops = starts[own], stops[own]
    wrapped = int((starts > stops).sum())
    at = np.mod(middle, pitch)
    count = np.searchsorted(np.sort(starts), at, side="right") - np.searchsorted(np.sort(stops), at, side="right") + wrapped
    return np.asarray(count > 0, dtype=bool)


def _ahead(sorted_phases: Floats, at: Floats, pitch: float) -> Floats:
    if len(sorted_phases) == 0:
        return np.full(len(at), np.inf)
    ring = np.concatenate([sorted_phases, sorted_phases + pitch, sorted_phases + 2 * pitch])
    result: Floats = ring[np.searchsorted(ring, at)]
    return result


def _behind(sorted_phases: Floats, at: Floats, pitch: float) -> Floats:
    if len(sorted_phases) == 0:
        return np.full(len(at), -np.inf)
    ring = np.concatenate([sorted_phases - pitch, sorted_phases, sorted_phases + pitch])
    result: Floats = ring[np.searchsorted(ring, at, side="right") - 1]
    return result
