"""Start lines: where the first tile goes so that the narrowest cut is as wide as it can be.

A cut's width at a wall is the distance, square to the wall, from the joint's face to the tile's far
factory edge. Along one direction of a straight lattice every wall gives a saw-tooth in the offset:
it rises by a millimetre a millimetre up to the whole tile, stays while the joint lies on the wall,
and drops to nothing where a sliver begins. The lowest of the teeth is highest at a crossing of a
rising and a falling tooth or at the end of a flat, so the best start is found exactly from those.

Walls are never true: over a play of +-t the tooth drops t earlier on one side and counts t less, and
a joint on the wall is perfect only if it stays one over the whole play.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from layout.plan.wishes import MEASURE_NAMES, Criteria, Measures, missed, targets_of
from layout.units import EPS, SNAP, TOUCH, snap

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from layout.plan.wishes import Wish

    Floats = NDArray[np.float64]

MEASURED, MOST_MEASURED = 12, 400
"""How many promising offsets are measured at every wall; more if they are equally good."""
ASIDE = 3 * SNAP
"""How far beside a break of a tooth its limit is measured, mm."""
AT_ONCE = 2_000_000
"""Widths measured at once: offsets by walls."""
PLAIN = Criteria()
CHALK = 2.0
"""Starts nearer than this are the same: a chalk line is that wide, mm (design, section 5)."""


@dataclass(frozen=True, slots=True, eq=False)
class Walls:
    """Walls across one direction of a lattice.

    Attributes
    ----------
    at : (n,) float
        Position along the direction, less the shift of the bay it stands in, mm.
    ahead : (n,) bool
        Whether the room lies ahead of the wall, on the side of growing positions.
    play : (n,) float
        How far the wall may stand to either side of `at`, mm.
    datum : (n,) bool
        The wall that offsets are measured from.
    weight : (n,) float
        Length of the wall, mm.
    """

    at: Floats
    ahead: NDArray[np.bool_]
    play: Floats
    datum: NDArray[np.bool_]
    weight: Floats

    def phases(self, offset: Floats, pitch: float, size: float) -> Floats:
        """Distance from wall to the far edge of the tile it crosses, (k, n), in (0, pitch]."""
        offset = np.atleast_1d(offset)[:, None]
        away = np.where(self.ahead, offset + size - self.at, self.at - offset)
        phase = away - pitch * np.floor(away / pitch)  # half the time of mod; both ends count as the joint on the wall
        return np.where((phase <= SNAP) | (phase > pitch - 1e-9), pitch, phase)

    def least(self, offset: Floats, pitch: float, size: float, *, play: bool) -> Floats:
        """Narrowest cut at each of many offsets, (k,), as drawn or over the play."""
        widths = self.widths(offset, pitch, size, play=play)
        result: Floats = widths.min(axis=1, initial=size)
        return result

    def widths(self, offset: Floats, pitch: float, size: float, *, play: bool) -> Floats:
        """Width at each wall, (k, n): the tile's size where nothing is cut."""
        return self.left(self.phases(offset, pitch, size), pitch, size, play=play)

    def left(self, phase: Floats, pitch: float, size: float, *, play: bool) -> Floats:
        """What phases leave of the tile at each wall, as drawn or over the play, (k, n)."""
        if not play:
            return np.minimum(phase, size)
        t = self.play
        kept = ((phase > t) & (phase <= pitch - t + 2 * SNAP)) | (t == 0.0)
        return np.where(kept, np.clip(phase - t, 0.0, size), 0.0)


def joined_walls(walls: list[Walls]) -> Walls:
    """Walls of several bays as one set."""
    return Walls(*(np.concatenate([getattr(each, name) for each in walls]) for name in ("at", "ahead", "play", "datum", "weight")))


@dataclass(frozen=True, slots=True)
class Offset:
    """One candidate along one direction: where a tile's low edge falls, the narrowest cuts, what it misses and saws, mm."""

    at: float
    drawn: float
    worst: float
    asked: float = 0.0
    habits: float = 0.0
    unlike: float = 0.0
    sawn: float = 0.0


def best_offsets(walls: Walls, pitch: float, size: float, *, wishes: Sequence[Wish] = (), criteria: Criteria = PLAIN) -> list[Offset]:
    """Offsets along one direction, best first, exact.

    Parameters
    ----------
    walls : walls across the direction.
    pitch, size : module and work size along it, mm.
    wishes : pulls along the direction.
    criteria : how offsets are ranked; by the narrowest cut if not given.

    Returns
    -------
    Offsets in [0, pitch), those that no other beats by more than `CHALK` nearby; at least one.

    Costs n log n in the number of walls: teeth are sorted once, and only the most promising crossings
    are measured at every wall. Where something comes before the narrowest cut, or weights are given, every
    break of what is weighed is measured: all of it is piecewise linear in the offset, so the best is among them.
    """
    if len(walls.at) == 0:
        at = np.append(targets_of(wishes, pitch), 0.0)
        free = Walls(np.empty(0), np.empty(0, dtype=bool), np.empty(0), np.empty(0, dtype=bool), np.empty(0))
        return _ranked(free, at, pitch, size, wishes, criteria)
    candidates, bound = _candidates(walls, pitch, size)
    if bound.max() <= EPS:  # no start survives the play: the best as drawn
        still = Walls(walls.at, walls.ahead, np.zeros(len(walls.at)), walls.datum, walls.weight)
        candidates, bound = _candidates(still, pitch, size)
    if criteria.plain and not any(wish.asked for wish in wishes):
        order = np.lexsort((candidates, -np.round(bound, 6)))
        kept = order[: max(MEASURED, int((bound >= bound.max() - EPS).sum()))][:MOST_MEASURED]
        flat = targets_of(wishes, pitch)  # a wish may be met on the flat of a whole tile, where no tooth breaks
        return _ranked(
            walls, np.append(candidates[kept], flat), pitch, size, wishes, criteria, first=np.append(bound[kept], flat * 0.0 - 1.0)
        )
    breaks = np.concatenate([candidates, _breaks(walls, pitch, size, criteria.least), targets_of(wishes, pitch)])
    return _ranked(walls, breaks, pitch, size, wishes, criteria)


def _breaks(walls: Walls, pitch: float, size: float, least: float) -> Floats:
    """Where a tooth ends, passes the least cut, or the cuts at the two ends are alike: with the crossings, every break of the criteria.

    Teeth jump where they end, so both sides of each break count, and the middles between.
    """
    sign: Floats = np.where(walls.ahead, 1.0, -1.0).astype(np.float64)
    zero = np.where(walls.ahead, walls.at - size, walls.at)
    ends = [zero + sign * reach for reach in (pitch - walls.play, walls.play + 2 * SNAP, walls.play + least, size + walls.play, 0.0, size)]
    low, high = walls.at.min(), walls.at.max()
    alike = (low + high - size) / 2
    breaks = np.unique(np.mod(np.concatenate([*ends, np.array([alike, alike + pitch / 2])]), pitch))
    middles = (breaks + np.append(breaks[1:], breaks[0] + pitch)) / 2
    return np.concatenate([breaks, breaks - ASIDE, breaks + ASIDE, middles])


def _ranked(
    walls: Walls, candidates: Floats, pitch: float, size: float, wishes: Sequence[Wish], criteria: Criteria, *, first: Floats | None = None
) -> list[Offset]:
    """The best of some offsets, measured at every wall, none nearer than `CHALK` to a better one."""
    candidates, index = np.unique(np.round(np.mod(candidates, pitch), 6), return_index=True)
    found = measures(walls, candidates, pitch, size, wishes)
    near = Walls(*(getattr(walls, name)[walls.datum] for name in ("at", "ahead", "play", "datum", "weight")))
    datum = np.round(-near.phases(candidates, pitch, size).max(axis=1, initial=0.0), 3)
    keys = criteria.keys(found)
    if first is not None:  # rounding of a candidate must not put one before another that its exact tooth beats
        own = np.round(np.where(first[index] >= 0.0, first[index], found.worst), 6).astype(np.float64)
        keys.insert(0, -own)
    order = np.lexsort((candidates, datum, *keys[::-1]))
    result: list[Offset] = []
    for k in order:
        s = float(candidates[k])
        if all(min(abs(s - o.at), pitch - abs(s - o.at)) >= CHALK for o in result):
            values = [found.drawn, found.worst, found.asked, found.habits, found.unlike, found.sawn]
            result.append(Offset(s, *(float(value[k]) for value in values)))
        if len(result) == 6:
            break
    return result


def measures(walls: Walls, offset: Floats, pitch: float, size: float, wishes: Sequence[Wish]) -> Measures:
    """What each of many offsets gives, arrays of (k,)."""
    if len(offset) * len(walls.at) > AT_ONCE and len(offset) > 1:
        halves = [measures(walls, part, pitch, size, wishes) for part in np.array_split(offset, 2)]
        return Measures(**{name: np.concatenate([getattr(half, name) for half in halves]) for name in MEASURE_NAMES})
    phase = walls.phases(offset, pitch, size)
    widths = walls.left(phase, pitch, size, play=False)
    cut = widths < size - TOUCH
    unlike = np.zeros(len(offset))
    if len(walls.at):
        unlike = np.abs(widths[:, int(walls.at.argmin())] - widths[:, int(walls.at.argmax())])
    return Measures(
        worst=walls.left(phase, pitch, size, play=True).min(axis=1, initial=size),
        drawn=widths.min(axis=1, initial=size),
        asked=missed(wishes, offset, pitch, size, asked=True),
        habits=missed(wishes, offset, pitch, size, asked=False),
        unlike=unlike,
        sawn=cut @ walls.weight,
    )


def _candidates(walls: Walls, pitch: float, size: float) -> tuple[Floats, Floats]:
    """Every offset at which the lowest tooth can be highest, and the narrowest cut over the play there.

    Between two breaks of any tooth the falling ones have a lowest line A - s and the rising ones s - B;
    the narrowest cut is min(A - s, s - B, size), best where they cross or on the flat of a whole tile.
    At a break itself one side's limit is attained; only where a rising and a falling tooth peak at one
    place, which is where both walls fall on joints, do neither side's limits tell, and it is measured.
    """
    sign = np.where(walls.ahead, 1.0, -1.0)
    zero = np.where(walls.ahead, walls.at - size, walls.at)  # the phase is sign * (offset - zero)
    peak = np.mod(zero + sign * (pitch - walls.play), pitch)
    end = np.mod(zero + sign * walls.play, pitch)
    events = np.unique(np.round(np.concatenate([peak, end, [0.0]]), 7))
    upper = np.append(events[1:], pitch + events[0])
    middle = (events + upper) / 2.0
    fall = np.sort(np.mod(walls.at - walls.play, pitch)[~walls.ahead])
    rise = np.sort(np.mod(walls.at - size + walls.play, pitch)[walls.ahead])
    near_a, near_b = _ahead(fall, middle, pitch), _behind(rise, middle, pitch)
    crossing = np.where(np.isfinite(near_a) & np.isfinite(near_b), (near_a + near_b) / 2.0, np.where(np.isfinite(near_a), events, upper))
    best = np.clip(crossing, events, upper)
    flat_low = np.clip(np.where(np.isfinite(near_b), near_b + size, events), events, upper)
    flat_high = np.clip(np.where(np.isfinite(near_a), near_a - size, upper), events, upper)
    dead = _dead(walls, peak, end, middle, pitch)

    def bound(at: Floats) -> Floats:
        value = np.minimum(np.minimum(near_a - at, at - near_b), size)
        return np.where(dead, 0.0, np.maximum(value, 0.0))

    places, values = [best], [bound(best)]
    for at in (flat_low, flat_high, (flat_low + flat_high) / 2.0):
        value = np.where(flat_low <= flat_high, bound(at), -1.0)
        places.append(at)
        values.append(value)
    one, other = np.sort(np.round(peak[walls.ahead] / SNAP)), np.round(peak[~walls.ahead] / SNAP)
    both = other[np.take(one, np.searchsorted(one, other), mode="clip") == other] * SNAP if len(one) else one
    if len(both):
        places.append(both)
        values.append(walls.least(both, pitch, size, play=True))
    at, value = np.round(np.mod(np.concatenate(places), pitch), 6), np.concatenate(values)
    return at[value >= 0.0], value[value >= 0.0]


def _dead(walls: Walls, peak: Floats, end: Floats, middle: Floats, pitch: float) -> NDArray[np.bool_]:
    """Places where some wall's play makes a sliver: between the break of its tooth and its rise."""
    long = 2.0 * walls.play >= pitch
    if long.any():
        return np.ones(len(middle), dtype=bool)
    starts = np.where(walls.ahead, peak, end)
    stops = np.where(walls.ahead, end, peak)
    own = walls.play > 0.0
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


def snapped(offset: float) -> float:
    """A start as it is used: on the grid of `SNAP`."""
    return snap(offset)
