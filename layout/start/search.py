"""The best start of a lattice whose directions do not part: branch and bound over one cell."""

from __future__ import annotations

import heapq
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from layout.tiles.widths import Play, cut_widths, narrowest_many
from layout.units import EPS, TOUCH
from layout.vectors import pair

if TYPE_CHECKING:
    from layout.errors import Point
    from layout.plan.patterns import Pattern
    from layout.vectors import Bools, Floats

SEARCH_LEAST, SEARCH_MOST, SEARCH_WORK = 300, 1500, 40_000
"""How many starts a search tries at least and at most, and edges times starts between them."""
AT_ONCE = 64
"""Boxes bounded in one call."""
QUARTERS = np.array([[-1.0, -1.0], [-1.0, 1.0], [1.0, -1.0], [1.0, 1.0]])
FITS = 1e-3
"""Directions nearer than this are one, as parts of a unit vector."""
CLIMB, FAN = 12.0, 32
"""How far a climb looks at first, mm, and in how many directions."""


@dataclass(frozen=True, slots=True)
class Searched:
    """A start found by search: where, what it gives, how much a better one could give, and the work done."""

    at: tuple[float, float]
    value: float
    gap: float
    evaluations: int


def search_offsets(
    edges: Floats, play: Play, pattern: Pattern, cap: float, *, good_to: float = 1.0, most: int | None = None, begin: Point | None = None
) -> Searched:
    """The best start of a lattice whose directions do not part, by branch and bound over one cell.

    No start in a box is better than the narrowest of the cuts that are sure to stay in it, plus its radius
    (`widths.narrowest_many`). Boxes are quartered `AT_ONCE` at a time, most promising first, until none can be better than
    the best found by more than `good_to` mm, or `most` starts were tried (fewer where there are many edges, if not given):
    then the gap says so. It begins at a place, mm, if one is given. Each new best is climbed from: moved by what the cuts there, taken as they are, say is best.
    """
    v1, v2 = pattern.vectors
    if most is None:
        most = min(max(SEARCH_WORK // max(len(edges), 1), SEARCH_LEAST), SEARCH_MOST)
    reach = max(float(np.hypot(*(v1 + v2))), float(np.hypot(*(v1 - v2))))
    place = np.array([0.5, 0.5]) if begin is None else np.array(begin) @ np.linalg.inv(pattern.vectors)
    best = float(narrowest_many(edges, play, pattern, cap, (place @ pattern.vectors)[None], 0.0)[0][0])
    best, place, count = _climbed(edges, play, pattern, cap, best, place, good_to)
    count += 1
    corners = _in_corners(edges, pattern)
    if len(corners):
        values, _ = narrowest_many(edges, play, pattern, cap, corners @ pattern.vectors, 0.0)
        count += len(corners)
        whole = np.flatnonzero(_cuts_nothing(edges, pattern, corners @ pattern.vectors))
        if len(whole):  # where a room comes out whole, nothing that is cut is as good
            k = int(whole[values[whole].argmax()])
            return Searched(pair(corners[k] @ pattern.vectors), float(values[k]), 0.0, count)
        if values.max() > best + EPS:
            best, place = float(values.max()), corners[int(values.argmax())]
    heap: list[tuple[float, float, float, float]] = [(-cap, 0.5, 0.5, 0.5)]
    while heap and count < most and -heap[0][0] > best + good_to:
        half = heap[0][3] / 2.0
        taken: list[tuple[float, float]] = []
        while heap and len(taken) < AT_ONCE // 4 and heap[0][3] == 2.0 * half and -heap[0][0] > best + good_to:
            taken.append(heapq.heappop(heap)[1:3])
        places = (np.array(taken)[:, None, :] + half * QUARTERS).reshape(-1, 2)
        values, limits = narrowest_many(edges, play, pattern, cap, places @ pattern.vectors, half * reach)
        count += len(places)
        k = int(values.argmax())
        if values[k] > best + EPS:
            best, place, more = _climbed(edges, play, pattern, cap, float(values[k]), places[k], good_to)
            count += more
        for limit, (u, v) in zip(limits.tolist(), places.tolist(), strict=True):
            if limit > best + good_to:
                heapq.heappush(heap, (-limit, u, v, half))
    gap = max(-heap[0][0] - best, 0.0) if heap else good_to
    return Searched(pair(place @ pattern.vectors), best, gap if gap > good_to else min(gap, good_to, cap - best), count)


def _in_corners(edges: Floats, pattern: Pattern) -> Floats:
    """Starts that set a tile into a corner that it fits, in parts of the vectors, those first that fit most corners, (k, 2).

    A room that comes out in whole tiles does so at a start that has slivers a hair beside it: no climb leads there.
    """
    follows = np.flatnonzero(np.abs(edges[:-1, 1] - edges[1:, 0]).max(axis=1, initial=0.0) < TOUCH)
    into, out = (_ways(edges[rows]) for rows in (follows, follows + 1))
    found = []
    for member in pattern.members:
        sides = _ways(np.stack([np.roll(member, 1, axis=0), member], axis=1))
        fits = (np.abs(into[:, None] - sides).max(axis=2) < FITS) & (np.abs(out[:, None] - np.roll(sides, -1, axis=0)).max(axis=2) < FITS)
        corner, vertex = np.nonzero(fits)
        found.append(edges[follows[corner], 1] - member[vertex])
    moves: Floats = np.concatenate(found) @ np.linalg.inv(pattern.vectors)
    if len(moves) == 0:
        return moves
    keys = np.round((moves % 1.0) * np.hypot(*pattern.vectors.T) / TOUCH) * TOUCH
    _, first, votes = np.unique(keys, axis=0, return_index=True, return_counts=True)
    result: Floats = moves[first[np.argsort(-votes, kind="stable")[:AT_ONCE]]] % 1.0
    return result


def _cuts_nothing(edges: Floats, pattern: Pattern, moves: Floats) -> Bools:
    """Whether a lattice moved by each of many moves (k, 2) has no edge across a tile as drawn, (k,)."""
    crossed = cut_widths((edges[None] - moves[:, None, None, :]).reshape(-1, 2, 2), pattern)
    real = (crossed.widths > TOUCH) & (crossed.gone > TOUCH)
    result: Bools = np.bincount(crossed.edge[real] // len(edges), minlength=len(moves)) == 0
    return result


def _ways(edges: Floats) -> Floats:
    """Unit directions of edges, (n, 2)."""
    way = edges[:, 1] - edges[:, 0]
    result: Floats = way / np.hypot(way[:, 0], way[:, 1])[:, None]
    return result


def _climbed(
    edges: Floats, play: Play, pattern: Pattern, cap: float, value: float, place: Floats, good_to: float
) -> tuple[float, Floats, int]:
    """A start moved uphill while that helps: its value, its place in parts of the vectors, and how many starts were tried."""
    inverse = np.linalg.inv(pattern.vectors)
    reach, count = CLIMB, 0
    while reach > good_to / 4:
        count += 1
        move = _uphill(edges - place @ pattern.vectors, play, pattern, cap, reach)
        after = place + move @ inverse
        found = float(narrowest_many(edges, play, pattern, cap, (after @ pattern.vectors)[None], 0.0)[0][0])
        if found > value + EPS:
            value, place = found, after
        else:
            reach /= 4.0
    return value, place, count


def _uphill(edges: Floats, play: Play, pattern: Pattern, cap: float, reach: float) -> Floats:
    """The move within a reach after which the narrowest of the cuts there would be widest, (2,), mm.

    Each cut grows by the move square to its wall; one that would vanish no longer counts, new ones are not foreseen.
    """
    crossed = cut_widths(edges, pattern)
    own = (crossed.across | play.partly[crossed.edge]) & (crossed.widths > TOUCH)
    way = edges[crossed.edge[own], 1] - edges[crossed.edge[own], 0]
    normal = np.column_stack([-way[:, 1], way[:, 0]]) / np.hypot(way[:, 0], way[:, 1])[:, None]
    width = crossed.widths[own] - play.play[crossed.edge[own]]
    angle = np.arange(FAN) * (2.0 * math.pi / FAN)
    spread = np.column_stack([np.cos(angle), np.sin(angle)])
    moves = np.concatenate([spread * (reach * part) for part in (0.1, 0.25, 0.5, 0.75, 1.0)])
    grown = width[:, None] + normal @ moves.T
    grown = np.where(grown > TOUCH, grown, cap)
    result: Floats = moves[int(grown.min(axis=0, initial=cap).argmax())]
    return result
