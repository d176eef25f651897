"""Tile fields: whole tiles by lattice index, cut tiles by clipping only those an edge crosses.

The way (algorithms in words). In the lattice's own frame, moved to a local origin, every edge of
the region is met with every tile it may cross: a tile at index (i, j) meets an edge if the index
point lies in the edge grown by the tile turned over, so for each j the range of i is the overlap of
a few slabs. Tiles are shrunk by `EPS`, so a flush wall does not cross. Centres are inside by
parity along lattice rows. Inside and not crossed is whole: no geometry is made for it. A crossed
tile that one chain of edges enters and leaves once is cut in arrays: entry, inner vertices, exit,
then the tile's corners anticlockwise back to the entry. All else goes to GEOS, on local pieces of
the region.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.shapes import edges_of, turned
from layout.tiles.clip import crossings, cut_tiles, lattice_points, ragged
from layout.units import EPS, TOUCH, turn_of

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from layout.plan.patterns import Pattern

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Laid:
    """One bay's tiles.

    Attributes
    ----------
    whole : (n, 3) int
        Member, i, j of each whole tile, sorted by member, j, i.
    cut : (m, 3) int
        Member, i, j of the tile each piece comes from, in the same order.
    pieces : (m,) polygons
        In lattice axes with the bay's origin at (0, 0), mm.
    lost_mm2 : area of strips nowhere wider than `TOUCH`, told but not laid.
    """

    whole: Ints
    cut: Ints
    pieces: NDArray[np.object_]
    lost_mm2: float

    def __post_init__(self) -> None:
        for values in (self.whole, self.cut, self.pieces):
            values.flags.writeable = False

    def counted_from_first(self, pattern: Pattern) -> tuple[Laid, Floats]:
        """The same tiles with the first whole one (else the first cut one) at i = j = 0, and the shift of the origin, mm."""
        tiles = self.whole if len(self.whole) else self.cut
        if len(tiles) == 0:
            return self, np.zeros(2)
        first = np.array([0, *tiles[0, 1:]])
        shift = lattice_points(first[1:2], first[2:3], pattern.vectors)[0]
        pieces = shapely.set_coordinates(self.pieces.copy(), shapely.get_coordinates(self.pieces) - shift)
        return Laid(self.whole - first, self.cut - first, pieces, self.lost_mm2), shift


@dataclass(frozen=True, slots=True, eq=False)
class TileField:
    """All bays of one surface: a lattice turned by `turn`, an origin and tiles for each bay.

    `origins` (bays, 2) float: where the lattice's origin stands in the surface's own axes, mm.
    """

    pattern: Pattern
    turn: float
    origins: Floats
    bays: tuple[Laid, ...]

    def __repr__(self) -> str:
        return f"<TileField {self.pattern.name}: {len(self.whole)} whole, {len(self.cut)} pieces in {len(self.bays)} bays>"

    @property
    def whole(self) -> Ints:
        """(n, 4) int: bay, member, i, j of whole tiles."""
        return _with_bay([laid.whole for laid in self.bays])

    @property
    def cut(self) -> Ints:
        """(m, 4) int: bay, member, i, j of each piece's tile."""
        return _with_bay([laid.cut for laid in self.bays])

    @property
    def lost_mm2(self) -> float:
        """Area of strips too narrow to count, mm²."""
        return math.fsum(laid.lost_mm2 for laid in self.bays)

    def places_cut(self) -> int:
        """Places with at least one piece and no whole tile."""
        return len(np.unique(self.cut, axis=0)) if len(self.cut) else 0

    def outlines(self, index: Ints) -> Floats:
        """Corners of tiles by index, (n, k, 2), in the surface's own axes, mm.

        A member with fewer corners than the cell's most repeats its last one.
        """
        index = np.atleast_2d(index)
        if len(index) == 0:
            return np.empty((0, 4, 2))
        most = max(len(member) for member in self.pattern.members)
        members = np.stack([np.pad(member, ((0, most - len(member)), (0, 0)), mode="edge") for member in self.pattern.members])
        at = lattice_points(index[:, 2], index[:, 3], self.pattern.vectors)
        origins = self.origins[index[:, 0]] if len(self.origins) > 1 else self.origins
        cos, sin = turn_of(self.turn)
        result = np.empty((len(index), most, 2))
        for corner in range(most):  # corner by corner: what one is worked out from stays in the processor's own memory
            own = members[index[:, 1], corner] if len(members) > 1 else members[:, corner]
            x, y = own[:, 0] + at[:, 0], own[:, 1] + at[:, 1]
            if sin != 0.0 or cos != 1.0:
                x, y = x * cos - y * sin, x * sin + y * cos
            result[:, corner, 0], result[:, corner, 1] = x + origins[:, 0], y + origins[:, 1]
        return result

    def whole_polygons(self) -> NDArray[np.object_]:
        """Whole tiles as polygons in the surface's own axes."""
        return np.asarray(shapely.polygons(self.outlines(self.whole)), dtype=object)

    def pieces(self) -> NDArray[np.object_]:
        """Pieces as polygons in the surface's own axes, in the order of `cut`."""
        moved = []
        for laid, origin in zip(self.bays, self.origins, strict=True):
            coords = turned(shapely.get_coordinates(laid.pieces), self.turn) + origin
            moved.append(shapely.set_coordinates(laid.pieces.copy(), coords))
        return np.concatenate(moved) if moved else np.empty(0, dtype=object)


def _with_bay(parts: list[Ints]) -> Ints:
    ends = np.cumsum([0, *(len(part) for part in parts)])
    result = np.empty((ends[-1], 4), dtype=np.int64)
    for bay, part in enumerate(parts):
        own = slice(ends[bay], ends[bay + 1])
        result[own, 0], result[own, 1:] = bay, part
    return result


def lay(region: BaseGeometry, pattern: Pattern, turn: float, origin: Floats) -> Laid:
    """Lay one bay.

    Parameters
    ----------
    region : polygons of the bay in the surface's own axes, mm.
    pattern : unit cell and vectors.
    turn : degrees anticlockwise of the lattice against the surface's x.
    origin : (2,) float, where lattice (0, 0) stands, mm.
    """
    local = shapely.transform(region, lambda xy: turned(xy - origin, -turn))
    edges, first, count = edges_of(local)
    results = [_lay_member(local, edges, first, count, pattern, m) for m in range(len(pattern.members))]
    whole = results[0][0] if len(results) == 1 else np.concatenate([r[0] for r in results])
    cut = np.concatenate([r[1] for r in results])
    pieces = np.concatenate([r[2] for r in results])
    corner = shapely.bounds(pieces)[:, :2] if len(pieces) else np.empty((0, 2))
    by = np.lexsort((corner[:, 0], corner[:, 1], cut[:, 1], cut[:, 2], cut[:, 0])) if len(cut) else np.empty(0, dtype=np.int64)
    return Laid(whole, cut[by], pieces[by], math.fsum(r[3] for r in results))


def _lay_member(
    local: BaseGeometry, edges: Floats, first: Ints, count: Ints, pattern: Pattern, member: int
) -> tuple[Ints, Ints, NDArray[np.object_], float]:
    outline = pattern.members[member]
    if len(edges) == 0:
        return np.empty((0, 3), dtype=np.int64), np.empty((0, 3), dtype=np.int64), np.empty(0, dtype=object), 0.0
    pairs_i, pairs_j, pairs_e = crossings(edges, outline, pattern.vectors)
    whole = _inside(member, edges, outline, pattern.vectors, pairs_i, pairs_j)
    cut_i, cut_j, pieces = cut_tiles(local, edges, first, count, outline, pattern.vectors, pairs_i, pairs_j, pairs_e)
    extra, keep, lost = _sorted_out(outline, pattern.vectors, cut_i, cut_j, pieces)
    named = whole
    if len(extra):
        named = _inserted(whole, np.column_stack([np.full(len(extra), member), cut_i[extra], cut_j[extra]]))
    cut = np.column_stack([np.full(len(cut_i), member), cut_i, cut_j]).astype(np.int64)[keep]
    return named, cut, pieces[keep], lost


def _inserted(whole: Ints, extra: Ints) -> Ints:
    """Whole tiles, sorted by j, i, with a few more put in their places: sorting all again would cost more than finding them."""
    extra = extra[np.lexsort((extra[:, 1], extra[:, 2]))]
    low = min(int(whole[:, 1].min(initial=0)), int(extra[:, 1].min()))
    width = max(int(whole[:, 1].max(initial=0)), int(extra[:, 1].max())) - low + 1
    before, own = (rows[:, 2] * width + rows[:, 1] - low for rows in (whole, extra))
    result: Ints = np.insert(whole, np.searchsorted(before, own), extra, axis=0)
    return result


def _inside(member: int, edges: Floats, outline: Floats, vectors: Floats, pairs_i: Ints, pairs_j: Ints) -> Ints:
    """Tiles with their centre inside and no edge across them, (n, 3) int: member, i, j, sorted by j, i."""
    v1, v2 = vectors
    rows = np.array([-v1[1], v1[0]])
    step = float(v2 @ rows)
    if step < 0.0:
        rows, step = -rows, -step
    centre = outline.mean(axis=0)
    h0, h1 = (edges[:, 0] - centre) @ rows / step, (edges[:, 1] - centre) @ rows / step
    low, high = np.minimum(h0, h1), np.maximum(h0, h1)
    # half-open: a row through a shared vertex is crossed once
    j_low, j_high = np.ceil(low).astype(np.int64), np.ceil(high).astype(np.int64) - 1
    edge, number = ragged(np.maximum(j_high - j_low + 1, 0))
    if len(edge) == 0:
        return np.empty((0, 3), dtype=np.int64)
    j = j_low[edge] + number
    part = (j - h0[edge]) / (h1[edge] - h0[edge])
    point = edges[edge, 0] + (edges[edge, 1] - edges[edge, 0]) * part[:, None] - centre
    i_from = np.ceil((point - j[:, None] * v2) @ v1 / float(v1 @ v1)).astype(np.int64)
    order = np.lexsort((i_from, j))
    i_from, j = i_from[order].reshape(-1, 2), j[order].reshape(-1, 2)
    span, number = ragged(np.maximum(i_from[:, 1] - i_from[:, 0], 0))
    if len(span) == 0:
        return np.empty((0, 3), dtype=np.int64)
    i0 = min(int(i_from.min()), int(pairs_i.min(initial=0)))
    j0 = min(int(j.min()), int(pairs_j.min(initial=0)))
    width = max(int(i_from.max()), int(pairs_i.max(initial=0))) - i0 + 1
    height = max(int(j.max()), int(pairs_j.max(initial=0))) - j0 + 1
    crossed = np.zeros(width * height, dtype=bool)
    crossed[(pairs_j - j0) * width + pairs_i - i0] = True
    key = ((j[:, 0] - j0) * width + i_from[:, 0] - i0)[span] + number
    key = key[~crossed[key]]
    result = np.empty((len(key), 3), dtype=np.int64)
    result[:, 0] = member
    row = key // width
    result[:, 1] = key - row * width + i0
    result[:, 2] = row + j0
    return result


def _sorted_out(outline: Floats, vectors: Floats, i: Ints, j: Ints, pieces: NDArray[np.object_]) -> tuple[Ints, NDArray[np.bool_], float]:
    """Pieces that are whole tiles but for a strip, pieces to keep, and the area of those dropped."""
    if len(pieces) == 0:
        return np.empty(0, dtype=np.int64), np.empty(0, dtype=bool), 0.0
    area = shapely.area(pieces)
    tile = shapely.Polygon(outline)
    half = tile.length / 2.0
    keep = area > 0.0
    lost = 0.0
    # no shape has more area than its perimeter times the radius of the widest circle in it: most need no closer look
    thin = np.flatnonzero(keep & (area < TOUCH * half) & (area <= TOUCH / 2.0 * shapely.length(pieces) + EPS))
    for k in thin:
        if shapely.buffer(pieces[k], -TOUCH / 2.0, join_style="mitre").is_empty:
            keep[k] = False
            lost += float(area[k])
    extra = []
    for k in np.flatnonzero(keep & (tile.area - area < TOUCH * half)):
        full = shapely.Polygon(outline + i[k] * vectors[0] + j[k] * vectors[1])
        missing = shapely.difference(full, pieces[k])
        if missing.area > TOUCH / 2.0 * missing.length + EPS:
            continue
        if missing.is_empty or shapely.buffer(missing, -TOUCH / 2.0, join_style="mitre").is_empty:
            keep[k] = False
            extra.append(k)
    return np.array(extra, dtype=np.int64), keep, lost
