"""Temporal networks with least and greatest lags: whether they can be kept, when each moment is at the earliest and latest, what clashes.

A simple temporal network (Dechter, Meiri and Pearl, Temporal constraint networks, Artificial Intelligence 49, 1991): each limit
says that one moment comes no later than so long after another. It can be kept just if its graph has no cycle that adds up to less
than nothing; shortest ways are found by Bellman and Ford's method (Cormen and others, Introduction to algorithms, chapter on
single-source shortest paths), and the cycle that stands in the way is given back limit by limit.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from layout.units import EPS

if TYPE_CHECKING:
    from collections.abc import Sequence


@dataclass(frozen=True, slots=True)
class Limit:
    """Moment `to` comes no later than `most` after moment `of`; below 0: it comes at least so long before. `why` in words."""

    of: int
    to: int
    most: float
    why: str = ""


@dataclass(frozen=True, slots=True)
class Times:
    """Earliest and latest of each moment, counted from moment 0; infinite where nothing bounds it."""

    earliest: tuple[float, ...]
    latest: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Clash:
    """Limits that cannot be kept together, each beginning where the last ends; `short` is by how much they miss."""

    limits: tuple[Limit, ...]

    @property
    def short(self) -> float:
        """How much longer the window had to be, or how much less all that must pass in it."""
        return -math.fsum(limit.most for limit in self.limits)


def at_least(of: int, to: int, least: float, why: str = "") -> Limit:
    """Moment `to` comes no sooner than `least` after moment `of`."""
    return Limit(to, of, -least, why)


def keep(moments: int, limits: Sequence[Limit]) -> Times | Clash:
    """Earliest and latest of each of so many moments, or what clashes."""
    clash = _clash(moments, limits)
    if clash is not None:
        return clash
    latest = _ways(moments, [(limit.of, limit.to, limit.most) for limit in limits])
    back = _ways(moments, [(limit.to, limit.of, limit.most) for limit in limits])
    return Times(tuple(-each for each in back), tuple(latest))


def _ways(moments: int, edges: Sequence[tuple[int, int, float]]) -> list[float]:
    """Shortest ways from moment 0; there is no cycle below 0."""
    result = [math.inf] * moments
    result[0] = 0.0
    for _ in range(moments):
        changed = False
        for of, to, most in edges:
            if result[of] + most < result[to] - EPS:
                result[to] = result[of] + most
                changed = True
        if not changed:
            break
    return result


def _clash(moments: int, limits: Sequence[Limit]) -> Clash | None:
    """A cycle that adds up to less than nothing, if there is one: all moments begin at 0, so that each is reached."""
    far = [0.0] * moments
    by: list[Limit | None] = [None] * moments
    last = -1
    for _ in range(moments + 1):
        last = -1
        for limit in limits:
            if far[limit.of] + limit.most < far[limit.to] - EPS:
                far[limit.to] = far[limit.of] + limit.most
                by[limit.to] = limit
                last = limit.to
        if last < 0:
            return None
    at = last
    for _ in range(moments):  # go back until for certain on the cycle
        brought = by[at]
        assert brought is not None, "what was brought down in the last round has a limit that did it"
        at = brought.of
    cycle: list[Limit] = []
    here = at
    while True:
        brought = by[here]
        assert brought is not None, "on a cycle each moment has a limit before it"
        cycle.append(brought)
        here = brought.of
        if here == at:
            return Clash(tuple(reversed(cycle)))
