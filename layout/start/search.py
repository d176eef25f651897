"""The best start of a lattice whose directions do not part: branch and bound over one cell."""

from __future__ import annotations

import heapq
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from layout.tiles.widths import cut_widths, narrowest
from layout.units import EPS, TOUCH

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from layout.plan.patterns import Pattern

    Floats = NDArray[np.float64]

SEARCH_LEAST, SEARCH_MOST, SEARCH_WORK = 300, 1500, 40_000
"""How many starts a search tries at least and at most, and edges times starts between them."""
CLIMB, FAN = 12.0, 32
"""How far a climb looks at first, mm, and in how many directions."""


@dataclass(frozen=True, slots=True)
class Searched:
    """A start found by search: where, what it gives, how much a better one could give, and the work done."""

    at: tuple[float, float]
    value: float
    gap: float
    evaluations: int


def search_offsets(edges: Floats, play: Floats, pattern: Pattern, cap: float, *, good_to: float = 1.0, most: int | None = None) -> Searched:
    """The best start of a lattice whose directions do not part, by branch and bound over one cell.

    Within a radius r of a start a cut changes its width by no more than r; only cuts narrower than r,
    or met over less than 2 r of the wall, can vanish. So no start in a box of that radius is better than
    the narrowest of the other cuts plus r. Boxes are halved, most promising first, until none can be
    better than the best found by more than `good_to` mm, or `most` starts were tried (fewer where there are many
    edges, if not given): then the gap says so.
    Each new best is climbed from: moved by what the cuts there, taken as they are, say is best.
    """
    v1, v2 = pattern.vectors
    count = 0
    if most is None:
        most = min(max(SEARCH_WORK // max(len(edges), 1), SEARCH_LEAST), SEARCH_MOST)

    def measured(u: float, v: float, radius: float) -> tuple[float, float]:
        nonlocal count
        count += 1
        value, limit = narrowest(edges - (u * v1 + v * v2), play, pattern, cap, radius=radius)
        return value, limit

    def radius_of(half: float) -> float:
        return half * max(float(np.hypot(*(v1 + v2))), float(np.hypot(*(v1 - v2))))

    inverse = np.linalg.inv(np.array([v1, v2]))

    def climbed(value: float, place: tuple[float, float]) -> tuple[float, tuple[float, float]]:
        nonlocal count
        reach = CLIMB
        while reach > good_to / 4 and count < most:
            count += 1
            move = _uphill(edges - (place[0] * v1 + place[1] * v2), play, pattern, cap, reach)
            du, dv = move @ inverse
            found = measured(place[0] + du, place[1] + dv, 0.0)[0]
            if found > value + EPS:
                value, place = found, (place[0] + du, place[1] + dv)
            else:
                reach /= 4.0
        return value, place

    best, place = climbed(measured(0.5, 0.5, 0.0)[0], (0.5, 0.5))
    heap: list[tuple[float, float, float, float]] = []
    for u in (0.25, 0.75):
        for v in (0.25, 0.75):
            value, limit = measured(u, v, radius_of(0.25))
            if value > best + EPS:
                best, place = climbed(value, (u, v))
            heapq.heappush(heap, (-limit, u, v, 0.25))
    while heap and count < most and -heap[0][0] > best + good_to:
        _, u, v, half = heapq.heappop(heap)
        half /= 2.0
        for du in (-half, half):
            for dv in (-half, half):
                value, limit = measured(u + du, v + dv, radius_of(half))
                if value > best + EPS:
                    best, place = climbed(value, (u + du, v + dv))
                if limit > best + good_to:
                    heapq.heappush(heap, (-limit, u + du, v + dv, half))
    gap = max(-heap[0][0] - best, 0.0) if heap else 0.0
    at = place[0] * v1 + place[1] * v2
    return Searched((float(at[0]), float(at[1])), best, max(gap, 0.0) if gap > good_to else min(gap, good_to), count)


def _uphill(edges: Floats, play: Floats, pattern: Pattern, cap: float, reach: float) -> Floats:
    """The move within a reach after which the narrowest of the cuts there would be widest, (2,), mm.

    Each cut grows by the move square to its wall; one that would vanish no longer counts, new ones are not foreseen.
    """
    crossed = cut_widths(edges, pattern)
    own = crossed.widths > TOUCH
    way = edges[crossed.edge[own], 1] - edges[crossed.edge[own], 0]
    normal = np.column_stack([-way[:, 1], way[:, 0]]) / np.hypot(way[:, 0], way[:, 1])[:, None]
    width = crossed.widths[own] - play[crossed.edge[own]]
    angle = np.arange(FAN) * (2.0 * math.pi / FAN)
    spread = np.column_stack([np.cos(angle), np.sin(angle)])
    moves = np.concatenate([spread * (reach * part) for part in (0.1, 0.25, 0.5, 0.75, 1.0)])
    grown = width[:, None] + normal @ moves.T
    grown = np.where(grown > TOUCH, grown, cap)
    result: Floats = moves[int(grown.min(axis=0, initial=cap).argmax())]
    return result
