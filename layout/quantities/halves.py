"""Ways to cut a tile right across once under the rule of factory edges: two halves, and corners that notches leave."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from layout.quantities.blanks import CORNERS, Option, Placed, options_of
from layout.quantities.filling import Across, Way, Ways, WayTable, fullest

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from layout.quantities.blanks import Blank, Found, Layout, Slot

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]
    Ints = NDArray[np.int64]
    _Weighed = tuple[float, list[tuple[float, Callable[[], Layout]]]]
    """What a tile is worth at the most, and tiles by their worth, laid out when asked for."""

SWAPPED: dict[Slot, Slot] = {
    "lower-left": "lower-left",
    "lower-right": "upper-left",
    "upper-left": "lower-right",
    "upper-right": "upper-right",
    "left": "bottom",
    "right": "top",
    "bottom": "left",
    "top": "right",
}
"""Slots as they are named when a tile's two directions change places."""

AT_ONCE = 100
"""Ways to cut a tile that are taken into the programme at once."""

OPPOSITE: dict[Slot, Slot] = {
    "lower-left": "upper-right",
    "lower-right": "upper-left",
    "upper-left": "lower-right",
    "upper-right": "lower-left",
    "left": "right",
    "right": "left",
    "bottom": "top",
    "top": "bottom",
}
"""Slots after a half turn of the tile."""


class Halves:
    """Finds the most valuable way to cut a tile under the rule of factory edges."""

    def __init__(self, blanks: Sequence[Blank], demand: Ints, tile: tuple[int, int], kerf: int, turns: tuple[int, ...]) -> None:
        self.blanks, self.demand, self.tile, self.kerf = blanks, demand, tile, kerf
        self.options = [options_of(blank, tile, turns) for blank in blanks]
        self.directions = (True,) if 1 in turns else (True, False)  # a square tile that may be turned is alike both ways
        self.halves = {upright: self._ways(upright=upright, alike=2 in turns) for upright in self.directions}
        self.left = {leaf: self._fitting(*leaf) for blank in blanks for leaf in blank.leaves}

    def singles(self) -> list[Layout]:
        """Each kind from a tile of its own."""
        result: list[Layout] = []
        for k, blank in enumerate(self.blanks):
            if self.options[k]:
                result.append((self._placed(k, self.options[k][0]),))
            else:
                result.append((Placed(k, 0, 0, 0, blank.width, blank.height),))
        return result

    def pairs(self) -> list[Layout] | None:
        """The fewest tiles where all pieces are strips and either side of a tile will do; None where they are not.

        A tile then holds two strips of one direction at the most, so the fewest tiles are the greatest matching: the widest
        strip with the narrowest one wherever these fit, else alone (two pointers on the sorted widths; exact).
        """
        if any(not options or any(option.slot in CORNERS for option in options) for options in self.options):
            return None
        result: list[Layout] = []
        taken: set[int] = set()
        for upright, (near, far) in self.halves.items():
            if near is not far:
                return None
            width = self.tile[0 if upright else 1]
            own = {way.kind: way for way in near.strip if way.kind not in taken}
            taken |= set(own)
            left = sorted((way for kind, way in own.items() for _ in range(int(self.demand[kind]))), key=lambda way: (way.across, way.kind))
            low, high = 0, len(left) - 1
            while low <= high:
                wide, narrow = left[high], left[low]
                fits = low < high and wide.across + narrow.across + self.kerf <= width
                result.append((*self._laid((wide,)), *(self._laid((narrow,), turned=True) if fits else ())))
                low, high = low + int(fits), high - 1
        return result

    def better(self, value: Floats, *, wanted: bool) -> Found:
        """What a tile is worth at the most, and the most valuable tiles, the best first; only `wanted` ones, or any."""
        return self._better(value, wanted, AT_ONCE)

    def _better(self, value: Floats, wanted: bool, many: int) -> Found:
        """As `better`, so many tiles at the most: only those are laid out in full."""
        ways = [self._cut_across(value, upright, wanted) for upright in self.directions] + [self._beside_notch(value)]
        found = sorted((each for _, made in ways for each in made), key=lambda each: -each[0])[:many]
        return max(most for most, _ in ways), [(worth, made()) for worth, made in found]

    def likely(self, demand: Ints) -> list[Layout]:
        """Tiles to begin with: always the fullest one that holds the largest piece of all that is still wanted."""
        area = [0 if blank.whole and not blank.leaves else blank.width * blank.height for blank in self.blanks]
        kinds = sorted((kind for kind, own in enumerate(area) if own), key=lambda kind: (-area[kind], kind))
        return fullest([self._across(upright=upright) for upright in self.directions], self.kerf, kinds, demand, self._alone)

    def _across(self, *, upright: bool) -> Across:
        """A direction of the cut in figures."""
        near, far = self.halves[upright]
        half = WayTable(near)
        laid = partial(self._both, turned=near is far)
        return Across(*(self.tile if upright else self.tile[::-1]), half, half if near is far else WayTable(far), laid)

    def _alone(self, kind: int, free: Flags) -> Layout | None:
        """The tile that a notched piece has to itself, with the largest out of its corners; None where a piece shares its tile."""
        if not self.blanks[kind].leaves:
            return None
        beside: list[tuple[int, Option]] = []
        for leaf in self.blanks[kind].leaves:
            kinds, options = self.left[leaf]
            wanted = np.flatnonzero(free[kinds]).tolist()
            if wanted:
                best = max(wanted, key=lambda k: options[k].width * options[k].height)
                beside.append((int(kinds[best]), options[best]))
        return self._notched(kind, beside)

    def _ways(self, *, upright: bool, alike: bool) -> tuple[Ways, Ways]:
        """Ways by slot, for the near and the far half of a tile that is cut along its height (upright) or its width.

        Where the tile may be turned by a half, both halves are `alike`: what fits one fits the other turned.
        """
        near = Ways(*(self._in_slot(slot, upright=upright) for slot in ("lower-left", "upper-left", "left")))
        if alike:
            return near, near
        return near, Ways(*(self._in_slot(slot, upright=upright) for slot in ("lower-right", "upper-right", "right")))

    def _in_slot(self, slot: Slot, *, upright: bool) -> list[Way]:
        ways = []
        for kind, options in enumerate(self.options):
            for option in options:
                if (option.slot if upright else SWAPPED[option.slot]) == slot:
                    size = (option.width, option.height) if upright else (option.height, option.width)
                    ways.append(Way(kind, option, *size))
        return ways

    def _cut_across(self, value: Floats, upright: bool, wanted: bool) -> _Weighed:
        width, height = self.tile if upright else self.tile[::-1]
        near, far = self.halves[upright]
        one = self._half(near, value, width, height)
        two = one if far is near else self._half(far, value, width, height)
        room = width - self.kerf
        chosen: list[tuple[float, tuple[Way, ...], tuple[Way, ...]]] = [(float(one.worth[width]), one.at(width), ())]
        if two is not one:
            chosen.append((float(two.worth[width]), (), two.at(width)))
        for worth, across, ways in one.by_kind(room, two.worth).values():
            more, beside = float(two.worth[room - across]), two.at(room - across)
            if wanted and self._wanted(ways) and not self._wanted((*ways, *beside)):
                more, beside = two.beside(room - across, ways, self._wanted)
            chosen.append((worth + more, ways, beside))
        steps = np.arange(room + 1)
        most = max(float((one.worth[steps] + two.worth[room - steps]).max()), float(one.worth[width]), float(two.worth[width]))
        return most, [
            (worth, partial(self._both, ways, beside, turned=two is one))
            for worth, ways, beside in chosen
            if (ways or beside) and (not wanted or self._wanted((*ways, *beside)))
        ]

    def _both(self, ways: tuple[Way, ...], beside: tuple[Way, ...], *, turned: bool) -> Layout:
        return (*self._laid(ways), *self._laid(beside, turned=turned))

    def _laid(self, ways: tuple[Way, ...], *, turned: bool = False) -> Layout:
        return tuple(self._placed(way.kind, _half_turned(way.option) if turned else way.option) for way in ways)

    def _wanted(self, ways: tuple[Way, ...]) -> bool:
        """Whether no kind comes more often than it is wanted."""
        kinds = [way.kind for way in ways]
        return all(kinds.count(kind) <= self.demand[kind] for kind in set(kinds))

    def _half(self, ways: Ways, value: Floats, width: int, height: int) -> _Half:
        """The best of a half by its greatest width: a strip, or pieces at its two corners."""
        half = _Half(width)
        for way in ways.strip:
            half.offer(way.across, float(value[way.kind]), (way,))
        worths = (np.zeros(height + 1), np.zeros(height + 1))
        holds = (np.full(height + 1, None, dtype=object), np.full(height + 1, None, dtype=object))
        for end, way in ways.corners:
            worth = float(value[way.kind])
            if worth <= 0.0:
                continue
            free = height - self.kerf - way.along
            beside = holds[1 - end][free] if free >= 1 else None
            if beside is not None:
                half.offer(way.across, worth + float(worths[1 - end][free]), (way, beside))
            half.offer(way.across, worth, (way,))
            own = worths[end][way.along :]
            better = own < worth
            own[better] = worth
            holds[end][way.along :][better] = way
        half.close()
        return half

    def _fitting(self, slot: Slot, width: int, height: int) -> tuple[Ints, list[Option]]:
        """Kinds, in their order, that come out of a corner which a notched piece leaves, and how each lies there."""
        room = (width - self.kerf, height - self.kerf)
        fits = [
            (kind, option)
            for kind, options in enumerate(self.options)
            for option in options
            if option.slot == slot and option.width <= room[0] and option.height <= room[1]
        ]
        return np.array([kind for kind, _ in fits], dtype=np.int64), [option for _, option in fits]

    def _beside_notch(self, value: Floats) -> _Weighed:
        """Notched pieces as large as their tile, each with the best pieces out of the corners it leaves."""
        found: list[tuple[float, Callable[[], Layout]]] = []
        for kind, blank in enumerate(self.blanks):
            total, beside = float(value[kind]), []
            for leaf in blank.leaves:
                kinds, options = self.left[leaf]
                if len(kinds):
                    best = int(value[kinds].argmax())
                    total += float(value[kinds[best]])
                    beside.append((int(kinds[best]), options[best]))
            if blank.leaves:
                found.append((total, partial(self._notched, kind, beside)))
        return max((worth for worth, _ in found), default=0.0), found

    def _notched(self, kind: int, beside: list[tuple[int, Option]]) -> Layout:
        blank = self.blanks[kind]
        return (Placed(kind, 0, 0, 0, blank.width, blank.height), *(self._placed(k, option) for k, option in beside))

    def _placed(self, kind: int, option: Option) -> Placed:
        x = self.tile[0] - option.width if option.slot in ("lower-right", "upper-right", "right") else 0
        y = self.tile[1] - option.height if option.slot in ("upper-left", "upper-right", "top") else 0
        return Placed(kind, option.quarters, x, y, option.width, option.height)


def _half_turned(option: Option) -> Option:
    """The same in the opposite slot, turned by a half."""
    return Option(OPPOSITE[option.slot], (option.quarters + 2) % 4, option.width, option.height)


class _Half:
    """The most valuable content of a half of a tile by its width, steps."""

    def __init__(self, width: int) -> None:
        self.worth: Floats = np.zeros(width + 1)
        self.made: list[tuple[Way, ...]] = [()] * (width + 1)
        self.offers: list[tuple[int, float, tuple[Way, ...]]] = []
        self.ranked: list[tuple[int, float, tuple[Way, ...]]] = []

    def offer(self, width: int, worth: float, made: tuple[Way, ...]) -> None:
        """Take a content of a width if it is worth more."""
        self.offers.append((width, worth, made))
        if worth > self.worth[width]:
            self.worth[width], self.made[width] = worth, made

    def by_kind(self, room: int, other: Floats) -> dict[int, tuple[float, int, tuple[Way, ...]]]:
        """For each kind the best content that begins with it, with the best of the other half beside it: its worth, width, content."""
        result: dict[int, tuple[float, int, tuple[Way, ...]]] = {}
        for width, worth, made in self.offers:
            if width <= room:
                total = worth + float(other[room - width])
                known = result.get(made[0].kind)
                if known is None or total > known[0] + float(other[room - known[1]]):
                    result[made[0].kind] = (worth, width, made)
        return result

    def beside(self, room: int, there: tuple[Way, ...], wanted: Callable[[tuple[Way, ...]], bool]) -> tuple[float, tuple[Way, ...]]:
        """The best content within a width that is wanted beside what is there."""
        if not self.ranked:
            self.ranked = sorted(self.offers, key=lambda offer: -offer[1])
        return next(((worth, made) for width, worth, made in self.ranked if width <= room and wanted((*there, *made))), (0.0, ()))

    def close(self) -> None:
        """Let a wider half hold what a narrower one does."""
        for k in range(1, len(self.worth)):
            if self.worth[k - 1] >= self.worth[k]:
                self.worth[k], self.made[k] = self.worth[k - 1], self.made[k - 1]

    def at(self, width: int) -> tuple[Way, ...]:
        """The content of a half of a width."""
        return self.made[width]
