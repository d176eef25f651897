"""Fills tile after tile under the rule of factory edges, large pieces first: ways to begin with.

Each tile takes the largest piece that is still wanted and the best that goes beside it. A step looks only at what is still wanted and
fits beside that one piece, with numpy over all of it at once, so that a job of many rooms is filled in about the time of its kinds.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, partial
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from layout.quantities.blanks import kinds_in

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from numpy.typing import NDArray

    from layout.quantities.blanks import Layout, Option

    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]

WIDER = 8
"""How many pieces that are wider than the largest are tried at its side, the best first."""


@dataclass(frozen=True, slots=True)
class Way:
    """A blank of a kind as it may lie in one half of a tile: its extent across and along the cut that parts the halves."""

    kind: int
    option: Option
    across: int
    along: int


class Held(NamedTuple):
    """What a half of a tile holds: the area of its pieces, square steps, the width that they take, and how they lie."""

    area: int
    across: int
    ways: tuple[Way, ...]


class Ways:
    """Ways to fill a half: strips, and pieces at its low and high corner, each by their width."""

    def __init__(self, low: list[Way], high: list[Way], strip: list[Way]) -> None:
        self.strip = strip
        both = [(way.across, end, way.along, way.kind, k) for end, ways in ((0, low), (1, high)) for k, way in enumerate(ways)]
        self.corners = [(end, (low, high)[end][k]) for _, end, _, _, k in sorted(both)]


class WayTable:
    """Ways to fill a half, in figures: the best content of a width is asked for without a walk over the ways."""

    def __init__(self, ways: Ways) -> None:
        self.strips = sorted(ways.strip, key=lambda way: way.across)
        self.strip = np.array([(way.across, way.kind) for way in self.strips], dtype=np.int64).reshape(-1, 2).T
        self.corners = [way for _, way in ways.corners]
        table = [(way.across, way.kind, way.along, end, way.across * way.along) for end, way in ways.corners]
        self.across, self.kind, self.along, self.end, self.area = np.array(table, dtype=np.int64).reshape(-1, 5).T
        by_length = np.argsort(self.along, kind="stable")
        self.by_length = tuple(by_length[self.end[by_length] == end] for end in (0, 1))
        self.of: dict[int, list[tuple[int | None, Way]]] = {}
        for end, way in ((None, each) for each in self.strips):
            self.of.setdefault(way.kind, []).append((end, way))
        for corner in ways.corners:
            self.of.setdefault(corner[1].kind, []).append(corner)

    def best(self, free: Flags, length: int, room: int) -> Held:
        """The largest content no wider than a room: a strip, or pieces at both corners that leave a `length` between them.

        `free` says which kinds are still wanted, (n,).
        """
        found = [Held(0, 0, ())]
        fits = np.flatnonzero(free[self.strip[1][: np.searchsorted(self.strip[0], room, side="right")]])
        if len(fits):
            way = self.strips[int(fits[-1])]
            found.append(Held(way.across * way.along, way.across, (way,)))
        narrow = free[self.kind] & (self.across <= room)
        if narrow.any():
            low, high = (own[narrow[own]] for own in self.by_length)
            found += [self._held(int(own[self.area[own].argmax()])) for own in (low, high) if len(own)]
            found += self._pair(low, high, length)
        return max(found, key=lambda held: held.area)

    def with_first(self, first: tuple[int | None, Way], free: Flags, length: int) -> Iterator[Held]:
        """A strip or a corner piece; this with the largest at the other corner that is no wider; and with wider ones, the largest first."""
        end, way = first
        alone = Held(way.across * way.along, way.across, (way,))
        yield alone
        if end is None:
            return
        others = self.by_length[1 - end]
        others = others[: np.searchsorted(self.along[others], length - way.along, side="right")]
        others = others[free[self.kind[others]]]
        wider = self.across[others] > way.across
        narrow, wide = others[~wider], others[wider]
        if len(narrow):
            yield self._held(int(narrow[self.area[narrow].argmax()]), alone)
        for k in wide[np.argsort(-self.area[wide], kind="stable")][:WIDER].tolist():
            yield self._held(k, alone)

    def _pair(self, low: Ints, high: Ints, length: int) -> list[Held]:
        """The largest two at both corners, both by their length."""
        if not len(low) or not len(high):
            return []
        last = np.searchsorted(self.along[high], length - self.along[low], side="right")
        low, last = low[last > 0], last[last > 0]
        if not len(low):
            return []
        best = int((self.area[low] + np.maximum.accumulate(self.area[high])[last - 1]).argmax())
        beside = int(high[self.area[high[: last[best]]].argmax()])
        return [self._held(beside, self._held(int(low[best])))]

    def _held(self, k: int, beside: Held | None = None) -> Held:
        way = self.corners[k]
        if beside is None:
            return Held(int(self.area[k]), way.across, (way,))
        return Held(beside.area + int(self.area[k]), max(beside.across, way.across), (*beside.ways, way))


class Across(NamedTuple):
    """A direction in which a tile is cut right across: its size across and along the cut, its halves, how their contents make a tile."""

    width: int
    height: int
    near: WayTable
    far: WayTable
    laid: Callable[[tuple[Way, ...], tuple[Way, ...]], Layout]


def fullest(
    cuts: Sequence[Across], kerf: int, kinds: Sequence[int], demand: Ints, alone: Callable[[int, Flags], Layout | None]
) -> list[Layout]:
    """Fills tile after tile, large pieces before small ones, till nothing is wanted any more.

    Parameters
    ----------
    cuts : the directions of the cut.
    kerf : lost between two pieces, steps.
    kinds : what is filled in, the largest first.
    demand : (n,) how often each kind is wanted.
    alone : the tile that a piece has to itself, with what comes out of the corners that it leaves, of the kinds that are free,
        (n,); None for a piece that shares its tile.
    """
    left = demand.copy()
    result: list[Layout] = []
    for kind in kinds:
        while left[kind] > 0:
            free = left > 0
            free[kind] = left[kind] > 1
            made = alone(kind, free) or _with(kind, free, kerf, cuts)
            held = kinds_in(made, len(demand))
            times = max(1, int((left[held > 0] // held[held > 0]).min()))
            left = np.maximum(left - times * held, 0)
            result.append(made)
    return result


def _with(kind: int, free: Flags, kerf: int, cuts: Sequence[Across]) -> Layout:
    """The fullest tile that holds a piece of a kind, with others that are free."""
    most, best = -1, None
    for cut in cuts:
        room, length = cut.width - kerf, cut.height - kerf
        for own, other, far in ((cut.near, cut.far, False), (cut.far, cut.near, True)):
            if far and own is other:
                continue
            rest = cache(partial(other.best, free, length))
            for first in own.of.get(kind, ()):
                beside_it = rest(room - first[1].across).area
                for held in own.with_first(first, free, length):
                    if held.area + beside_it <= most:
                        continue
                    beside = rest(room - held.across)
                    if held.area + beside.area > most:
                        most = held.area + beside.area
                        best = partial(cut.laid, *((beside.ways, held.ways) if far else (held.ways, beside.ways)))
    if best is None:
        msg = f"no half of a tile holds a piece of kind {kind}"
        raise ValueError(msg)
    return best()
