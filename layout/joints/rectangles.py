"""The least length of joint that divides a rectangle into bays that keep a rule."""

from __future__ import annotations

import functools
import math
from typing import TYPE_CHECKING, NamedTuple

from layout.joints.limits import counts, keeps, least_under
from layout.units import EPS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from layout.standards.rules import RuleSet

DEPTH = 5
"""How often a rectangle is cut again; uneven cuts are tried in the first two."""
MOST_UNEVEN = 6.0
"""A rectangle that takes more bays than this is divided in equal parts only."""
MOST_KNOWN = 200_000
"""Rectangles kept by their sides: bounds memory, not results."""


class Best(NamedTuple):
    """Length of the best division, mm, and its first cuts: axis and low faces from the rectangle's corner."""

    length: float
    axis: int = 0
    lows: tuple[float, ...] = ()


KEPT, NONE = Best(0.0), Best(math.inf)
"""A rectangle that needs no cut; one for which none is found."""


class Rectangles:
    """Least length of joint in rectangles under one rule and width of joint, by their sides; what was asked is kept."""

    def __init__(self, rule: RuleSet, joint: float) -> None:
        self.rule, self.joint = rule, joint
        self._least = least_under(rule, joint)
        self._known: dict[tuple[float, float, int], Best] = {}

    def cost(self, width: float, height: float, below: float = math.inf) -> float:
        """Least length of joint that divides a rectangle, mm; infinite if none is found, or none `below` a length."""
        return self.best(width, height, below=below).length

    def best(self, width: float, height: float, depth: int = DEPTH, below: float = math.inf) -> Best:
        """The best division of a rectangle: equal parts each way, and for few bays one cut as far from an end as a limit reaches.

        None if it is not shorter than `below`: whoever asks has a better one already.
        """
        if keeps(max(width, height), max(min(width, height), EPS), width * height, self.rule, self.joint):
            return KEPT
        if depth == 0:
            return NONE
        key = (round(width, 3), round(height, 3), depth)
        found = self._known.get(key)
        if found is None:
            if self._least(width, height) >= below - EPS:
                return NONE
            found = self._weighed(width, height, depth)
            if len(self._known) > MOST_KNOWN:
                self._known.clear()
            self._known[key] = found
        return found

    def _weighed(self, width: float, height: float, depth: int) -> Best:
        """The first of the shortest divisions. Ways are gone into by the least joint their bays must have, until that is no shorter."""
        found, first = NONE, 0
        ways: list[tuple[float, int, int, float, tuple[float, ...], tuple[tuple[float, int], ...]]] = []
        for axis, along, other in ((0, width, height), (1, height, width)):
            for lows, bays in self._ways(along, other, uneven=depth >= DEPTH - 1):
                bound = len(lows) * other
                for bay, number in bays:
                    bound += number * self._least(bay, other)
                ways.append((bound, len(ways), axis, other, lows, bays))
        for bound, place, axis, other, lows, bays in sorted(ways):
            before = place < first  # of ways as short the first counts
            bar = found.length + (EPS if before else -EPS)
            if bound >= bar:
                if bound > found.length + EPS:
                    break
                continue
            total = len(lows) * other
            for bay, number in bays:
                total += number * self.best(*((bay, other) if axis == 0 else (other, bay)), depth - 1, (bar - total) / number).length
                if total >= bar:
                    break
            if total < bar:
                found, first = Best(min(total, found.length), axis, lows), place
        return found

    def _ways(self, along: float, other: float, *, uneven: bool) -> Iterator[tuple[tuple[float, ...], tuple[tuple[float, int], ...]]]:
        """Low faces of cuts across a side, with the bays they leave and how many of each."""
        joint = self.joint
        for count in counts(along, other, along * other, self.rule, joint):
            bay = (along - (count - 1) * joint) / count
            if bay > joint:
                yield tuple((k + 1) * bay + k * joint for k in range(count - 1)), ((bay, count),)
        most = min(self.rule.max_edge**2, (self.rule.max_area_m2 or math.inf) * 1e6)
        if not uneven or along * other > MOST_UNEVEN * most:
            return
        limits = [self.rule.max_edge]
        if self.rule.max_area_m2 is not None:
            limits += [self.rule.max_area_m2 * 1e6 / other, self.rule.max_area_m2 * 2e6 / other]
        if self.rule.max_aspect is not None:
            limits += [other * self.rule.max_aspect, other / self.rule.max_aspect]
        for limit in limits:
            if joint < limit < along - 2 * joint:
                yield (limit,), ((limit, 1), (along - limit - joint, 1))


@functools.lru_cache(maxsize=16)
def rectangles_under(rule: RuleSet, joint: float) -> Rectangles:
    """Rectangles under a rule and a width of joint, kept: surfaces and rooms of a plan ask alike."""
    return Rectangles(rule, joint)
