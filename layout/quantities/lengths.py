"""Strips as long as their tile, cut anywhere: the fewest lengths for pieces of few or many sizes, in one dimension.

Length after length is filled: the longest piece that is left, and beside it what fills the rest best (minimal bin slack,
Gupta and Ho 1999). Dual feasible functions give a bound at once (Fekete and Schepers 2001; Carlier, Clautiaux and
Moukrim 2007). Where the two do not meet, the patterns are priced against each other (`layout.quantities.solver`), whose
linear optimum rounded up is the better bound, and hardly ever missed (round-up property).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from layout.quantities.knapsack import Filling
from layout.quantities.solver import least_cover

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

MOST_PARTS = 20
"""Parts of the length by which the bound rounds."""
AT_ONCE = 60
"""Patterns that are taken into the programme at once."""


def fewest_lengths(size: Ints, demand: Ints, room: int) -> tuple[list[Ints], int]:
    """Patterns (n,), one for each length, that give each size as often as it is wanted; and the least number possible.

    `size` (n,) in steps, the longest first, none longer than `room`; a kerf stands in both.
    """
    best, bound = filled(size, demand, room), dual_bound(size, demand, room)
    if len(best) <= bound:
        return best, bound
    finder = _Patterns(size, demand, room)
    first = {each.tobytes(): each for each in (*best, *finder.singles())}
    cover = least_cover(demand, list(first.values()), finder.better, lambda made: made, lambda left: filled(size, left, room))
    bound = max(bound, cover.bound)
    return (_trimmed(cover.chosen, demand) if len(cover.chosen) < len(best) else best), bound


def filled(size: Ints, demand: Ints, room: int) -> list[Ints]:
    """Length after length: the longest piece left with what fills the rest best, long pieces rather than short ones."""
    left, sizes = demand.tolist(), size.tolist()
    result: list[Ints] = []
    first = 0
    while first < len(sizes):
        if left[first] == 0:
            first += 1
            continue
        left[first] -= 1
        pattern = np.zeros(len(sizes), dtype=np.int64)
        pattern[first] = 1
        for kind, count in fullest_length(sizes, left, first, room - sizes[first]):
            left[kind] -= count
            pattern[kind] += count
        result.append(pattern)
    return result


def fullest_length(sizes: list[int], left: list[int], first: int, room: int) -> list[tuple[int, int]]:
    """Kinds from the first on, and how many of each, that fill a room best: sums that can be reached, a bit for each.

    Of fillings alike the one of earlier kinds; the first exact one that shows is taken.
    """
    mask, known, order = (1 << (room + 1)) - 1, [1], []
    for kind in range(first, len(sizes)):
        count = min(left[kind], room // sizes[kind])
        if count == 0:
            continue
        reached, step = known[-1], sizes[kind]
        while count:
            own = 1
            while own * 2 <= count + 1:  # one, two, four of them together
                reached |= reached << (own * step)
                count, own = count - own, own * 2
            if count:
                reached |= reached << (count * step)
                count = 0
        known.append(reached & mask)
        order.append(kind)
        if known[-1] >> room:
            break
    at = known[-1].bit_length() - 1
    result = []
    for k in range(len(order) - 1, -1, -1):
        count = 0
        while not known[k] >> at & 1:
            at, count = at - sizes[order[k]], count + 1
        if count:
            result.append((order[k], count))
    return result


def dual_bound(size: Ints, demand: Ints, room: int) -> int:
    """The least number of lengths by dual feasible functions: sizes weighed so that no length holds more than its own weight."""
    half = room // 2
    best = -(-int(size @ demand) // room)
    least = np.unique(np.concatenate([[0], size[size <= half]]))[:, None]
    cut = np.where(size > room - least, room, np.where(size < least, 0, size))  # the small left out, their partners a whole length
    best = max(best, int((-(-(cut @ demand) // room)).max()))
    for parts in range(2, MOST_PARTS):
        even = (parts + 1) * cut % room == 0
        own = np.where(even, cut * parts, (parts + 1) * cut // room * room)
        best = max(best, int((-(-(own @ demand) // (parts * room))).max()))
    step = np.arange(1, half + 1)[:, None]
    whole = room // step
    own = np.where(2 * size > room, 2 * (whole - (room - size) // step), np.where(2 * size == room, whole, 2 * (size // step)))
    return max(best, int((-(-(own @ demand) // (2 * whole[:, 0]))).max(initial=0)))


class _Patterns:
    """Finds patterns that are worth more than a length."""

    def __init__(self, size: Ints, demand: Ints, room: int) -> None:
        self.size, self.demand, self.room = size, demand, room

    def singles(self) -> list[Ints]:
        """Each size as often as it goes into a length."""
        most = np.maximum(np.minimum(self.room // self.size, self.demand), 1)
        return [np.where(np.arange(len(most)) == k, count, 0) for k, count in enumerate(most.tolist())]

    def better(self, value: Floats, *, wanted: bool) -> tuple[float, list[tuple[float, Ints]]]:
        """For each size the most valuable pattern that holds it, the best first; the best of all bounds them."""
        last = len(self.size) - 1
        filling = Filling(self.size[::-1], value[::-1], self.room)  # the shortest first: a longer one must be worth more
        worth = value + filling.full[-1][self.room - self.size]
        found: dict[bytes, tuple[float, Ints]] = {}
        for k in np.argsort(-worth, kind="stable")[: AT_ONCE * 2].tolist():
            if worth[k] <= 1.0:
                break
            held = [k, *(last - j for j in filling.chosen(len(self.size), self.room - int(self.size[k])))]
            pattern = np.bincount(held, minlength=len(self.size)).astype(np.int64)
            if wanted:
                pattern = np.minimum(pattern, self.demand)
            found.setdefault(pattern.tobytes(), (float(pattern @ value), pattern))
        ranked = sorted(found.values(), key=lambda each: -each[0])[:AT_ONCE]
        return max(float(filling.full[-1][-1]), 0.0), ranked


def _trimmed(chosen: Sequence[Ints], demand: Ints) -> list[Ints]:
    """Patterns without what is more than wanted."""
    left, result = demand.copy(), []
    for pattern in chosen:
        own: Ints = np.minimum(pattern, left)
        if own.any():
            left = left - own
            result.append(own)
    return result
