"""The best start of a lattice whose directions do not part: branch and bound over one cell."""

from __future__ import annotations

import heapq
import itertools
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from layout.tiles.widths import Play, SureCuts, cut_widths, narrowest_many, square_to, sure_cuts
from layout.units import EPS, TOUCH
from layout.vectors import pair

if TYPE_CHECKING:
    from collections.abc import Sequence

    from layout.errors import Point
    from layout.plan.patterns import Pattern
    from layout.vectors import Bools, Floats, Ints

SEARCH_LEAST, SEARCH_MOST, SEARCH_WORK = 300, 1500, 40_000
"""How many starts a search tries at least and at most, and edges times starts between them."""
PROOF_MOST, PROOF_WORK = 6000, 60_000
"""So many, and edges times starts, where it is to be proved how much a better start could give: about a second at the most."""
AT_ONCE = 64
"""Boxes bounded in one call."""
QUARTERS = np.array([[-1.0, -1.0], [-1.0, 1.0], [1.0, -1.0], [1.0, 1.0]])
TOGETHER = 12
"""Of so many directions bounds are taken together."""
ALIKE = 1e-6
"""Directions nearer than this are one to a bound, as parts of a unit vector: over a cell a hair."""
LEAST_WEIGHT, ENDLESS = 1e-3, 1e9
"""A weight in a bound is no less, so that a cut that is not sure to stay, which is taken to be so wide, keeps it from telling anything, mm."""
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


def proof_most(edges: int) -> int:
    """How many starts are tried among so many edges until it is proved how much a better one could give."""
    return min(max(PROOF_WORK // max(edges, 1), SEARCH_LEAST), PROOF_MOST)


def search_offsets(
    edges: Floats, play: Play, pattern: Pattern, cap: float, *, good_to: float = 1.0, most: int | None = None, begin: Point | None = None
) -> Searched:
    """The best start of a lattice whose directions do not part, by branch and bound over one cell.

    No start in a box is better than what the cuts that are sure to stay in it leave at the best (`_Bounds`). Boxes are quartered `AT_ONCE` at a time, most promising first, until none can be better than
    the best found by more than `good_to` mm, or `most` starts were tried (fewer where there are many edges, if not given):
    then the gap says so. It begins at a place, mm, if one is given. Each new best is climbed from: moved by what the cuts there, taken as they are, say is best.
    """
    v1, v2 = pattern.vectors
    if most is None:
        most = min(max(SEARCH_WORK // max(len(edges), 1), SEARCH_LEAST), SEARCH_MOST)
    reach = max(float(np.hypot(*(v1 + v2))), float(np.hypot(*(v1 - v2))))
    bounds = _Bounds.of(edges, pattern)
    place = np.array([0.5, 0.5]) if begin is None else np.array(begin) @ np.linalg.inv(pattern.vectors)
    best = float(narrowest_many(edges, play, pattern, cap, (place @ pattern.vectors)[None])[0])
    best, place, count = _climbed(edges, play, pattern, cap, best, place, good_to)
    count += 1
    corners = _in_corners(edges, pattern)
    if len(corners):
        values = narrowest_many(edges, play, pattern, cap, corners @ pattern.vectors)
        count += len(corners)
        whole = np.flatnonzero(_cuts_nothing(edges, pattern, corners @ pattern.vectors))
        if len(whole):  # where a room comes out whole, nothing that is cut is as good
            k = int(whole[values[whole].argmax()])
            return Searched(pair(corners[k] @ pattern.vectors), float(values[k]), 0.0, count)
        if values.max() > best + EPS:
            best, place = float(values.max()), corners[int(values.argmax())]
    heap: list[tuple[float, float, float, float]] = [(-cap, 0.5, 0.5, 0.5)]
    passed_over = 0.0
    while heap and count < most and -heap[0][0] > best + good_to:
        half = heap[0][3] / 2.0
        taken: list[tuple[float, float, float]] = []
        aside: list[tuple[float, float, float, float]] = []  # boxes of another size wait
        while heap and len(taken) < AT_ONCE // 4 and len(aside) < AT_ONCE and -heap[0][0] > best + good_to:
            box = heapq.heappop(heap)
            if box[3] == 2.0 * half:
                taken.append(box[:3])
            else:
                aside.append(box)
        for box in aside:
            heapq.heappush(heap, box)
        places = (np.array(taken)[:, None, 1:] + half * QUARTERS).reshape(-1, 2)
        values, sure = sure_cuts(edges, play, pattern, cap, places @ pattern.vectors, half * reach)
        limits = np.minimum(bounds.limits(sure, len(places), half, cap), -np.repeat(np.array(taken)[:, 0], 4))
        count += len(places)
        k = int(values.argmax())
        if values[k] > best + EPS:
            best, place, more = _climbed(edges, play, pattern, cap, float(values[k]), places[k], good_to)
            count += more
        for limit, (u, v) in zip(limits.tolist(), places.tolist(), strict=True):
            if limit > best + good_to:
                heapq.heappush(heap, (-limit, u, v, half))
            else:
                passed_over = max(passed_over, limit)
    top = max(passed_over, -heap[0][0] if heap else 0.0)
    return Searched(pair(place @ pattern.vectors), best, max(top - best, 0.0), count)


@dataclass(frozen=True, slots=True, eq=False)
class _Bounds:
    """No more than this can the narrowest of cuts that are sure to stay be anywhere in a box, by what they are at its middle.

    A cut grows by what the lattice moves square to its edge. However cuts are weighed, by weights that come to one, the narrowest is no more
    than their weighted mean, nor that than it is at the best corner of the box. The best weights solve a linear programme in the two ways of the
    move: there either one cut has a weight, or two whose mean does not change along one side of the box, or three whose mean does not change at all.

    `which` (n,) is the direction of each edge, `line` (m,) what a direction has in common with the opposite one, `sign` (m,) which of both it is;
    `weights` (q, m) are those of the directions in each bound, `spread` (q,) is what a bound gains from the middle of a box to its corner
    if it is half a cell each way, mm.
    """

    which: Ints
    line: Ints
    sign: Floats
    weights: Floats
    spread: Floats

    @classmethod
    def of(cls, edges: Floats, pattern: Pattern) -> _Bounds:
        """Each direction by itself, and together those that most of the edges' length has."""
        if len(edges) == 0:
            return cls(np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64), np.empty(0), np.empty((0, 0)), np.empty(0))
        _, first, which = np.unique(np.round(square_to(edges) / ALIKE), axis=0, return_index=True, return_inverse=True)
        which = which.ravel()
        normals = square_to(edges[first])
        length = np.bincount(which, weights=np.hypot(*(edges[:, 1] - edges[:, 0]).T))
        longest = np.argsort(-length, kind="stable")[:TOGETHER].tolist()
        weights = [*np.eye(len(normals))]
        for one, other in itertools.combinations(longest, 2):
            for a, b in (normals[[one, other]] @ pattern.vectors.T).T.tolist():
                if a * b < 0.0:
                    weights.append(_weights(len(normals), (one, other), (b / (b - a), a / (a - b))))
        for three in itertools.combinations(longest, 3):
            square = np.vstack([normals[list(three)].T, np.ones(3)])
            if abs(np.linalg.det(square)) > LEAST_WEIGHT:
                weights.append(_weights(len(normals), three, np.linalg.solve(square, [0.0, 0.0, 1.0]).tolist()))
        every = np.array([row for row in weights if ((row == 0.0) | (row >= LEAST_WEIGHT)).all()])
        sign = np.where((normals[:, 0] > FITS) | ((np.abs(normals[:, 0]) <= FITS) & (normals[:, 1] > 0.0)), 1.0, -1.0)
        line = np.unique(np.round(normals * sign[:, None] / ALIKE), axis=0, return_inverse=True)[1].ravel()
        return cls(which, line, sign, every, np.abs(every @ normals @ pattern.vectors.T).sum(axis=1))

    def limits(self, sure: SureCuts, count: int, half: float, cap: float) -> Floats:
        """Bounds of boxes of `half` a cell each way from their middles, by the cuts sure to cross there, (count,), mm."""
        n = self.weights.shape[1]
        which = self.which[sure.edge]
        reach = half * self.spread[which]  # so far can the lattice move square to the edge
        stays = sure.widths > reach + TOUCH
        least = np.full((n, count), ENDLESS)
        np.minimum.at(least, (which[stays], sure.move[stays]), sure.left[stays])
        bounds = (self.weights @ least + half * self.spread[:, None]).min(axis=0, initial=cap)
        place = sure.move * n + self.line[which]
        lines = _along_lines(place, self.sign[which], sure, reach, n * count, cap).reshape(count, n).min(axis=1, initial=cap)
        result: Floats = np.clip(np.minimum(bounds, lines), 0.0, cap)
        return result


def _along_lines(place: Ints, sign: Floats, sure: SureCuts, reach: Floats, count: int, cap: float) -> Floats:
    """Bounds by the cuts of opposite walls alone, as the lattice moves square to both, within a reach either way, (count,), mm.

    `place` (m,) is the box and the line of each cut, `sign` (m,) whether it grows along the line or back. As the lattice moves along, cuts of the one wall come
    into being, narrow ones last, and those of the other are nothing one after the other, narrow ones first: between two such
    turns the narrowest is no more than the mean of both walls' narrowest, nor than either at the end where it is wider.
    """
    turn = np.clip(sign * (TOUCH - sure.widths), -reach, reach)
    order = np.lexsort((turn, place))
    place, turn, reach, left, grows = place[order], turn[order], reach[order], sure.left[order], sign[order] > 0.0
    step = 10.0 * (cap + float(reach.max(initial=0.0)))
    rising = np.minimum.accumulate(np.where(grows, left, step) - place * step) + place * step
    falling = (np.minimum.accumulate((np.where(grows, step, left) + place * step)[::-1])[::-1]) - place * step
    last = np.append(place[1:] != place[:-1], True)[: len(place)]
    first = np.append(True, last[:-1])[: len(place)]
    after = np.where(last, step, np.append(falling[1:], step)[: len(place)])
    until = np.where(last, reach, np.append(turn[1:], 0.0)[: len(place)])
    between = np.minimum(np.minimum((rising + after) / 2.0, rising + until), after - turn)
    most = np.full(count, -np.inf)
    np.maximum.at(most, place, between)
    np.maximum.at(most, place[first], (falling + reach)[first])  # before the first turn
    result: Floats = np.where(np.isfinite(most), most, cap)
    return result


def _weights(count: int, which: Sequence[int], values: Sequence[float]) -> Floats:
    """A row of weights (count,), nought but for some."""
    row = np.zeros(count)
    row[list(which)] = values
    return row


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
        found = float(narrowest_many(edges, play, pattern, cap, (after @ pattern.vectors)[None])[0])
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
