"""Width of a cut and of a piece: the one definition that search, table, sheet, finding and record read, mm.

A cut is **right across** where an edge runs over at least `RIGHT_ACROSS` of the line it draws through a tile; its width is the
distance, square to the edge, from the edge to the tile's far factory corner. A piece is as wide as the lesser side of its least
rectangle (of several as small, the narrowest); it is a **strip** if it still spans `RIGHT_ACROSS` of a side of its tile.
The narrowest cut is over both: a thin L, or the triangle at a slanted wall, is no strip, yet its edge runs right across. Other corners,
crumbs and notches are pieces alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.shapes import following
from layout.tiles.clip import crossings, lattice_points
from layout.tiles.straight_on import NONE, StraightOn
from layout.units import EPS, TOUCH

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from layout.plan.patterns import Pattern
    from layout.vectors import Bools, Floats, Ints

RIGHT_ACROSS = 0.9
"""Part of a tile's side, or of the line an edge draws through a tile, that a cut must span to be a strip's (common practice, no source)."""


FEW_CORNERS, ALIKE = 8, 1e-6
"""Hulls of more corners are of curves, whose least rectangle stands alone; areas that differ by less are alike, as a part."""


@dataclass(frozen=True, slots=True, eq=False)
class Crossed:
    """Every place where an edge truly crosses a tile, as drawn.

    Attributes
    ----------
    widths : (m,) float
        From the wall to the tile's far corner, square to the wall, mm.
    gone : (m,) float
        What of the tile lies beyond the wall, square to it, mm.
    chords : (m,) float
        Length of the edge inside the tile, mm.
    across : (m,) bool
        Whether the edge cuts the tile right across.
    sure : (m,) bool
        Whether it still does so, as long as it crosses the tile at all, if tiles move by the radius asked for, any way.
    edge : (m,) int, which edge
    tile : (m, 3) int, member, i, j
    """

    widths: Floats
    gone: Floats
    chords: Floats
    across: Bools
    sure: Bools
    edge: Ints
    tile: Ints


def cut_widths(edges: Floats, pattern: Pattern, radius: Floats | float = 0.0) -> Crossed:
    """Width of the cut wherever an edge crosses a tile.

    `edges` (n, 2, 2) in the lattice's axes with its origin at (0, 0), the room on the left, mm; `radius` (n,) or one for all.
    """
    radius = np.broadcast_to(np.asarray(radius, dtype=float), (len(edges),))
    moving = bool(radius.any())
    ways = edges[:, 1] - edges[:, 0]
    lengths = np.hypot(ways[:, 0], ways[:, 1])
    normals = np.column_stack([-ways[:, 1], ways[:, 0]]) / lengths[:, None]
    parts: list[tuple[Floats, Floats, Floats, Bools, Bools, Ints, Ints]] = []
    for member, outline in enumerate(pattern.members):
        i, j, e = crossings(edges, outline, pattern.vectors)
        start, way, length, normal = edges[e, 0], ways[e], lengths[e], normals[e]
        at = lattice_points(i, j, pattern.vectors)
        away = at - start
        reach = away[:, 0] * normal[:, 0] + away[:, 1] * normal[:, 1]
        spread = outline @ normal.T
        sides = following(outline) - outline
        outward = np.column_stack([sides[:, 1], -sides[:, 0]]) / np.hypot(sides[:, 0], sides[:, 1])[:, None]
        # by side: a row for each is read through at a time
        beyond = np.ascontiguousarray(((start - at) @ outward.T - (outward * outline).sum(axis=1)).T)
        rate = np.ascontiguousarray((way @ outward.T).T)
        enter, leave = _inside(beyond, rate)
        chord = (leave.clip(0.0, 1.0) - enter.clip(0.0, 1.0)).clip(0.0)
        early, late = _inside(beyond - radius[e], rate) if moving else (enter, leave)
        after, before = _inside(beyond + radius[e], rate) if moving else (enter, leave)
        short = (-early).clip(0.0) + (late - 1.0).clip(0.0)  # so much of the line may lie beyond the edge's ends
        parts.append(
            (
                reach + spread.max(axis=0),
                -reach - spread.min(axis=0),
                chord * length,
                chord >= RIGHT_ACROSS * (leave - enter),
                short <= (1.0 - RIGHT_ACROSS) * (before - after).clip(0.0),
                e,
                np.column_stack([np.full(len(i), member), i, j]).astype(np.int64),
            )
        )
    widths, gone, chords, across, sure, which, tiles = (np.concatenate(each) for each in zip(*parts, strict=True))
    return Crossed(widths, gone, chords, across, sure, which, tiles)


def _inside(beyond: Floats, rate: Floats) -> tuple[Floats, Floats]:
    """Where lines enter and leave a convex outline, as parts of their edges, by side and line; the line goes on past the edge's ends."""
    with np.errstate(divide="ignore", invalid="ignore"):
        t = -beyond / rate
    return np.where(rate <= -EPS, t, -np.inf).max(axis=0), np.where(rate >= EPS, t, np.inf).min(axis=0)


@dataclass(frozen=True, slots=True, eq=False)
class Play:
    """How far each of n walls may stand off, and what its edge joint takes of that where a tile's joint lies on it, (n,), mm.

    `out` and `into` are how much further out, past the tile's own joint, and further in the edge joint lets the wall stand
    before a tile must be cut for it. `partly` are those whose cut counts even where they do not cut a tile right across.
    """

    play: Floats
    out: Floats
    into: Floats
    partly: Bools

    @classmethod
    def plain(cls, play: Floats) -> Play:
        """Play of which edge joints take nothing."""
        return cls(play, np.zeros(len(play)), np.zeros(len(play)), np.zeros(len(play), dtype=bool))

    def of(self, rows: Ints | Bools) -> Play:
        """The play of some of the walls."""
        return Play(self.play[rows], self.out[rows], self.into[rows], self.partly[rows])


def narrowest(edges: Floats, play: Play, pattern: Pattern, cap: float) -> float:
    """Narrowest cut over the play, mm."""
    return float(narrowest_many(edges, play, pattern, cap, np.zeros((1, 2)))[0])


@dataclass(frozen=True, slots=True, eq=False)
class SureCuts:
    """Cuts that a lattice, moved by each of many moves, makes at edges, and still does there whichever way it moves on within a radius, unless it is as narrow as that.

    Each grows by what the lattice moves on square to its edge, to the left of it, and is nothing where it comes under `TOUCH`.

    Attributes
    ----------
    move, edge : (m,) int, of which move, at which edge
    widths : (m,) float
        From the wall at one end of its play to the tile's far corner, mm.
    left : (m,) float
        What is left of that over the play, mm.
    """

    move: Ints
    edge: Ints
    widths: Floats
    left: Floats


def narrowest_many(edges: Floats, play: Play, pattern: Pattern, cap: float, moves: Floats) -> Floats:
    """Narrowest cut over the play for a lattice moved by each of many `moves` (k, 2), (k,), mm."""
    return sure_cuts(edges, play, pattern, cap, moves, 0.0)[0]


def sure_cuts(edges: Floats, play: Play, pattern: Pattern, cap: float, moves: Floats, radius: float) -> tuple[Floats, SureCuts]:
    """Narrowest cut over the play for a lattice moved by each of many `moves` (k, 2), (k,), mm, and the cuts sure within a `radius` over nought.

    Each wall is moved by itself, square to its line, between both ends of its play. A tile crossed within
    twice the play of its far edge would be cut to nothing somewhere between.
    """
    count, n = len(moves), len(edges)
    least: Floats = np.full(count, cap)
    if n == 0:
        return least, SureCuts(*NONE)
    out = np.maximum(play.play - play.out, 0.0)
    ends = [(-out, out + play.play, np.zeros(n))]
    if play.play.any():
        ends.append((play.play, np.zeros(n), play.into))
    plain = StraightOn.of(edges, pattern, RIGHT_ACROSS)
    if plain is not None:
        by, taken, spared = (np.stack(each) for each in zip(*ends, strict=True))
        least, move, edge, widths, left = plain.narrowest(by, taken, spared, play.partly, moves, radius, cap)
        return least, SureCuts(move, edge, widths, left)
    by, taken, spared = (np.concatenate(each) for each in zip(*ends, strict=True))
    moved = (edges[None] + (square_to(edges) * by.reshape(-1, n, 1))[:, :, None, :]).reshape(-1, 2, 2)
    crossed = cut_widths((moved[None] - moves[:, None, None, :]).reshape(-1, 2, 2), pattern, radius)
    move, own = np.divmod(crossed.edge, len(moved))
    partly, left = play.partly[own % n], crossed.widths - taken[own]
    kept = (crossed.across | partly) & (crossed.widths > TOUCH) & (crossed.gone > spared[own] + EPS)
    np.minimum.at(least, move[kept], np.maximum(left[kept], 0.0))
    if radius == 0.0:
        return least, SureCuts(*NONE)
    stays = (crossed.sure | (partly & (crossed.chords > 2.0 * radius))) & (crossed.gone > spared[own] + radius)
    return least, SureCuts(move[stays], own[stays] % n, crossed.widths[stays], left[stays])


def square_to(edges: Floats) -> Floats:
    """Unit vectors square to edges (n, 2, 2), to the left of each, (n, 2)."""
    way = edges[:, 1] - edges[:, 0]
    result: Floats = np.column_stack([-way[:, 1], way[:, 0]]) / np.hypot(way[:, 0], way[:, 1])[:, None]
    return result


def piece_widths(pieces: NDArray[np.object_]) -> Floats:
    """Width of each piece: the lesser side of its least rectangle, of several as small the narrowest, (n,), mm."""
    if len(pieces) == 0:
        return np.empty(0)
    box = shapely.get_coordinates(shapely.oriented_envelope(pieces)).reshape(len(pieces), -1, 2)
    result: Floats = np.hypot(*(box[:, 1:3] - box[:, 0:2]).transpose(2, 0, 1)).min(axis=1)
    # over two sides of a right-angled corner cut off square rectangles are alike in area: which is taken must not be chance
    hulls = shapely.convex_hull(pieces)
    count = shapely.get_num_coordinates(hulls) - 1
    for corners in range(3, FEW_CORNERS + 1):
        rows = np.flatnonzero(count == corners)
        if len(rows):
            points = shapely.get_coordinates(hulls[rows]).reshape(len(rows), corners + 1, 2)[:, :-1]
            result[rows] = np.minimum(result[rows], _narrowest_alike(points))
    return result


def _narrowest_alike(points: Floats) -> Floats:
    """Lesser side of the narrowest of the rectangles round hulls (n, k, 2) that are as small as the least, (n,), mm."""
    deep, area = [], []
    for k in range(points.shape[1]):
        here = points - points[:, k : k + 1]
        way = here[:, (k + 1) % points.shape[1]]
        long = np.hypot(way[:, 0], way[:, 1])
        along = (here @ way[:, :, None])[:, :, 0] / long[:, None]
        off = (here[:, :, 1] * way[:, None, 0] - here[:, :, 0] * way[:, None, 1]) / long[:, None]
        a, b = np.ptp(along, axis=1), np.ptp(off, axis=1)
        deep.append(np.minimum(a, b))
        area.append(a * b)
    areas = np.stack(area)
    result: Floats = np.where(areas <= areas.min(axis=0) * (1.0 + ALIKE), np.stack(deep), np.inf).min(axis=0)
    return result


def strips(pieces: NDArray[np.object_], member: Ints, pattern: Pattern) -> Bools:
    """Which pieces, in lattice axes, still span a side of their tile: cut right across, not at a corner, (n,)."""
    bounds = shapely.bounds(pieces).reshape(-1, 4)
    box = np.array([np.ptp(outline, axis=0) for outline in pattern.members])[member]
    spans = (bounds[:, 2:] - bounds[:, :2]) >= RIGHT_ACROSS * box
    return np.asarray(spans.any(axis=1), dtype=bool)
