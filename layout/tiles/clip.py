"""Which tiles an edge crosses, and what is left of each: arrays for the many, the overlay for the few.

In the lattice's own frame every edge of a region is met with every tile it may cross: a tile at index (i, j) meets an edge if
the index point lies in the edge grown by the tile turned over, so for each j the range of i is the overlap of a few slabs.
A crossed tile that one chain of edges enters and leaves once is cut in arrays: entry, inner vertices, exit, then the tile's
corners anticlockwise back to the entry. All else goes to GEOS, on local pieces of the region.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.units import EPS

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Bools = NDArray[np.bool_]

FLAT = 1e-12
"""A line that rises less along a row of tiles runs along it."""
LOCAL_VERTICES = 48
"""A region with fewer vertices is intersected as it is; larger ones are halved first."""


def lattice_points(i: Ints, j: Ints, vectors: Floats) -> Floats:
    """Points i v1 + j v2 of a lattice, (n, 2), mm."""
    result = np.empty((len(i), 2))
    for axis in (0, 1):
        result[:, axis] = i * vectors[0, axis] + j * vectors[1, axis]
    return result


def ragged(counts: Ints) -> tuple[Ints, Ints]:
    """Owner of each item and its number within the owner, for ragged rows of the given lengths."""
    owner = np.repeat(np.arange(len(counts)), counts)
    number = np.arange(len(owner))
    number -= np.repeat(np.cumsum(counts) - counts, counts)
    return owner, number


def crossings(edges: Floats, outline: Floats, vectors: Floats) -> tuple[Ints, Ints, Ints]:
    """Every (i, j, edge) where an edge truly crosses a tile: the tile shrunk by `EPS`.

    `edges` (n, 2, 2), `outline` (k, 2) convex anticlockwise, `vectors` (2, 2); all mm.
    """
    a, b = edges[:, 0], edges[:, 1]
    v1, v2 = vectors
    sides = np.roll(outline, -1, axis=0) - outline
    normals = np.column_stack([sides[:, 1], -sides[:, 0]]) / np.hypot(sides[:, 0], sides[:, 1])[:, None]
    reach = (normals * outline).sum(axis=1) - EPS
    # a tile at P meets the edge only if, for each side, normal . P >= min(normal . edge) - reach
    low = np.minimum(a @ normals.T, b @ normals.T) - reach
    along = b - a
    across = np.column_stack([along[:, 1], -along[:, 0]]) / np.hypot(along[:, 0], along[:, 1])[:, None]
    at = (across * a).sum(axis=1)
    spread = across @ outline.T
    shrink = EPS
    high_line, low_line = at - spread.min(axis=1) - shrink, at - spread.max(axis=1) + shrink
    # rows: the lattice lines along v1
    rows = np.array([-v1[1], v1[0]])
    step = float(v2 @ rows)
    if step < 0.0:
        rows, step = -rows, -step
    corner = outline @ rows
    p0, p1 = a @ rows, b @ rows
    j_low = np.ceil((np.minimum(p0, p1) - corner.max()) / step - 1e-9).astype(np.int64)
    j_high = np.floor((np.maximum(p0, p1) - corner.min()) / step + 1e-9).astype(np.int64)
    edge, number = ragged(np.maximum(j_high - j_low + 1, 0))
    j = j_low[edge] + number
    base = j[:, None] * v2
    t_low = np.full(len(j), -np.inf)
    t_high = np.full(len(j), np.inf)
    for k, normal in enumerate(normals):
        t_low, t_high = _half(t_low, t_high, float(normal @ v1), low[edge, k] - base @ normal)
    slope = across[edge] @ v1
    offset = (across[edge] * base).sum(axis=1)
    t_low, t_high = _between(t_low, t_high, slope, low_line[edge] - offset, high_line[edge] - offset)
    with np.errstate(invalid="ignore"):
        i_low = np.ceil(t_low)
        i_high = np.floor(t_high)
    counts = np.where(np.isfinite(i_low) & np.isfinite(i_high), np.maximum(i_high - i_low + 1, 0), 0).astype(np.int64)
    row, number = ragged(counts)
    return i_low[row].astype(np.int64) + number, j[row], edge[row]


def _half(t_low: Floats, t_high: Floats, slope: float, least: Floats) -> tuple[Floats, Floats]:
    """Keep the t with slope * t >= least."""
    if abs(slope) < FLAT:
        shut = least > 0.0
        return np.where(shut, np.inf, t_low), np.where(shut, -np.inf, t_high)
    if slope > 0.0:
        return np.maximum(t_low, least / slope), t_high
    return t_low, np.minimum(t_high, least / slope)


def _between(t_low: Floats, t_high: Floats, slope: Floats, least: Floats, most: Floats) -> tuple[Floats, Floats]:
    """Keep the t with least <= slope * t <= most, each by its own slope."""
    flat = np.abs(slope) < FLAT
    with np.errstate(divide="ignore", invalid="ignore"):
        ends = np.stack([least / slope, most / slope])
    low, high = np.where(slope > 0, ends, ends[::-1])
    shut = flat & ((least > 0.0) | (most < 0.0))
    low, high = np.where(flat, -np.inf, low), np.where(flat, np.inf, high)
    return np.where(shut, np.inf, np.maximum(t_low, low)), np.where(shut, -np.inf, np.minimum(t_high, high))


def cut_tiles(
    local: BaseGeometry,
    edges: Floats,
    first: Ints,
    count: Ints,
    outline: Floats,
    vectors: Floats,
    pi: Ints,
    pj: Ints,
    pe: Ints,
) -> tuple[Ints, Ints, NDArray[np.object_]]:
    """Pieces of the crossed tiles: index i, j and polygon of each."""
    if len(pi) == 0:
        return pi, pj, np.empty(0, dtype=object)
    key = (pj - pj.min()) * (pi.max() - pi.min() + 1) + pi - pi.min()
    _, tile = np.unique(key, return_inverse=True)
    tiles = int(tile.max()) + 1
    any_pair = np.empty(tiles, dtype=np.int64)
    any_pair[tile] = np.arange(len(tile))
    at = lattice_points(pi, pj, vectors)
    box = _sides_of(outline)
    passed = _passed(box, edges[pe, 0] - at, edges[pe, 1] - at)
    simple, order, head, pairs_in = _chains(tile, tiles, pe, first, count, passed)
    chain = _closed(box, passed, order, head, head + pairs_in - 1)
    simple &= chain.clear
    done = np.flatnonzero(simple)
    made = _assemble(done, pairs_in, chain.corners, head, order, passed.end, chain.p_in, chain.p_out, chain.side, outline)
    shift = at[any_pair[done]]
    polygons = _moved(made, shift)
    hard = np.flatnonzero(~simple)
    boxes = np.asarray(shapely.polygons(outline[None] + at[any_pair[hard]][:, None, :]), dtype=object)
    got = clip_local(local, boxes)
    parts, owner = shapely.get_parts(got, return_index=True)
    nested = shapely.get_type_id(parts)
    flat = np.isin(nested, (3,))
    parts, owner = without_hairs(parts[flat]), owner[flat]
    index = np.concatenate([any_pair[done], any_pair[hard][owner]])
    return pi[index], pj[index], np.concatenate([polygons, shapely.orient_polygons(parts)])


@dataclass(frozen=True, slots=True, eq=False)
class _Sides:
    """A tile's sides: its corners (k, 2), ways, lengths, outward normals, and how far each side lies out, mm."""

    corners: Floats
    ways: Floats
    length: Floats
    normals: Floats
    reach: Floats


@dataclass(frozen=True, slots=True, eq=False)
class _Passed:
    """Pairs of a tile and an edge that passes it, in the tile's axes.

    The edge's ends (n, 2), mm; the parts of it at which it enters and leaves by each side (n, k), and through which side; whether its
    ends lie outside, and whether one lies on the tile's edge.
    """

    start: Floats
    end: Floats
    t_in: Floats
    t_out: Floats
    side_in: Ints
    side_out: Ints
    starts_out: Bools
    ends_out: Bools
    near: Bools


@dataclass(frozen=True, slots=True, eq=False)
class _Closed:
    """Chains closed along the tile's edge: where they enter and leave, by which side they leave, the corners between; clear of corners."""

    p_in: Floats
    p_out: Floats
    side: Ints
    corners: Ints
    clear: Bools


def _sides_of(outline: Floats) -> _Sides:
    ways = np.roll(outline, -1, axis=0) - outline
    length = np.hypot(ways[:, 0], ways[:, 1])
    normals = np.column_stack([ways[:, 1], -ways[:, 0]]) / length[:, None]
    return _Sides(outline, ways, length, normals, (normals * outline).sum(axis=1))


def _passed(box: _Sides, start: Floats, end: Floats) -> _Passed:
    """How edges pass a convex tile: greatest part at which a side is crossed inwards, least outwards."""
    d0, d1 = start @ box.normals.T - box.reach, end @ box.normals.T - box.reach
    start_off, end_off = d0.max(axis=1), d1.max(axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        t = d0 / (d0 - d1)
    t_in = np.where((d1 < d0) & (d0 > 0), t, -np.inf)
    t_out = np.where((d1 > d0) & (d1 > 0), t, np.inf)
    near = (np.abs(start_off) <= 10 * EPS) | (np.abs(end_off) <= 10 * EPS)
    return _Passed(start, end, t_in, t_out, t_in.argmax(axis=1), t_out.argmin(axis=1), start_off > 0, end_off > 0, near)


def _chains(tile: Ints, tiles: int, pe: Ints, first: Ints, count: Ints, passed: _Passed) -> tuple[Bools, Ints, Ints, Ints]:
    """Whether the edges through each tile are one chain; all pairs in the order of their chains, where each begins, how long it is."""
    pairs_in = np.bincount(tile, minlength=tiles)
    n_starts = np.bincount(tile, weights=passed.starts_out, minlength=tiles)
    n_ends = np.bincount(tile, weights=passed.ends_out, minlength=tiles)
    simple = (n_starts == 1) & (n_ends == 1) & (np.bincount(tile, weights=passed.near, minlength=tiles) == 0)
    # order the chain from its entry, within the ring it belongs to
    entry_edge = np.zeros(tiles, dtype=np.int64)
    entry_edge[tile[passed.starts_out]] = pe[passed.starts_out]
    lead = entry_edge[tile]
    rank = np.where(first[pe] == first[lead], (pe - lead) % count[lead], 1 << 40)
    last = np.zeros(tiles, dtype=np.int64)
    np.maximum.at(last, tile, rank)
    simple &= last == pairs_in - 1
    return simple, np.lexsort((rank, tile)), np.cumsum(pairs_in) - pairs_in, pairs_in


def _closed(box: _Sides, passed: _Passed, order: Ints, head: Ints, tail: Ints) -> _Closed:
    """Where each chain enters and leaves its tile, and the tile's corners from there back to its entry."""
    s_in, s_out = order[head], order[tail]
    start, end = passed.start, passed.end
    a, b = passed.side_out[s_out], passed.side_in[s_in]
    with np.errstate(invalid="ignore"):
        p_in = start[s_in] + (end[s_in] - start[s_in]) * passed.t_in[s_in, b][:, None]
        p_out = start[s_out] + (end[s_out] - start[s_out]) * passed.t_out[s_out, a][:, None]
        w_out = ((p_out - box.corners[a]) * box.ways[a]).sum(axis=1) / box.length[a]
        w_in = ((p_in - box.corners[b]) * box.ways[b]).sum(axis=1) / box.length[b]
        least = 10 * EPS
        clear = np.isfinite(w_in) & np.isfinite(w_out)
        clear &= (w_out > least) & (w_out < box.length[a] - least) & (w_in > least) & (w_in < box.length[b] - least)
        clear &= ~((a == b) & (np.abs(w_in - w_out) <= least))
        corners = np.where((a == b) & (w_in > w_out), 0, (b - a - 1) % len(box.corners) + 1)
    return _Closed(p_in, p_out, a, corners, clear)


def _assemble(
    done: Ints, pairs_in: Ints, corners: Ints, head: Ints, order: Ints, end: Floats, p_in: Floats, p_out: Floats, a: Ints, outline: Floats
) -> tuple[Floats, Ints]:
    """Coordinates and offsets of the single-chain pieces, about each tile's own lattice point."""
    k = len(outline)
    inner = pairs_in[done] - 1
    total = inner + corners[done] + 3  # entry, inner, exit, corners, entry again
    offsets = np.concatenate([[0], np.cumsum(total)])
    coords = np.empty((int(offsets[-1]), 2))
    begin = offsets[:-1]
    coords[begin] = p_in[done]
    owner, number = ragged(inner)
    coords[begin[owner] + 1 + number] = end[order[head[done][owner] + number]]
    coords[begin + inner + 1] = p_out[done]
    owner, number = ragged(corners[done])
    coords[begin[owner] + inner[owner] + 2 + number] = outline[(a[done][owner] + 1 + number) % k]
    coords[offsets[1:] - 1] = p_in[done]
    return coords, offsets


def _moved(made: tuple[Floats, Ints], shift: Floats) -> NDArray[np.object_]:
    coords, offsets = made
    if len(offsets) <= 1:
        return np.empty(0, dtype=object)
    coords = coords + np.repeat(shift, np.diff(offsets), axis=0)
    result: NDArray[np.object_] = shapely.from_ragged_array(shapely.GeometryType.POLYGON, coords, (offsets, np.arange(len(offsets))))
    return result


def without_hairs(parts: NDArray[np.object_]) -> NDArray[np.object_]:
    """Polygons without hairs: places where a ring runs out and back along itself, no wider than float noise.

    The overlay leaves one where an edge of the region is flush with another that goes on; a hair would lengthen a piece's box.
    """
    rings, of = shapely.get_rings(parts, return_index=True)
    points, ring = shapely.get_coordinates(rings, return_index=True)
    inner = np.flatnonzero(ring[1:] == ring[:-1])
    if len(inner) == 0:
        return parts
    way, side = points[inner + 1] - points[inner], ring[inner]
    after = np.arange(1, len(way) + 1)
    last = np.flatnonzero(np.append(side[1:] != side[:-1], True))
    after[last] = np.concatenate([[0], last[:-1] + 1])
    result = parts.copy()
    for k in np.unique(of[side[_turns_back(way, way[after])]]):
        shell, *holes = [_shaved(np.array(each.coords)[:-1]) for each in (parts[k].exterior, *parts[k].interiors)]
        if len(shell) >= 3:
            result[k] = shapely.Polygon(shell, [hole for hole in holes if len(hole) >= 3])
    return result


def _turns_back(way: Floats, on: Floats) -> Bools:
    """Whether each side of a ring (n, 2) has no length, or is followed by one that goes back along it."""
    long, next_long = np.hypot(way[:, 0], way[:, 1]), np.hypot(on[:, 0], on[:, 1])
    wide = np.abs(way[:, 0] * on[:, 1] - way[:, 1] * on[:, 0])
    back = ((way * on).sum(axis=1) < 0.0) & (wide <= 10 * EPS * np.maximum(long, next_long))
    result: Bools = back | (long <= 10 * EPS)
    return result


def _shaved(ring: Floats) -> Floats:
    """An open ring without the ends of its sides that have no length or turn back."""
    while len(ring) >= 3:
        way = np.roll(ring, -1, axis=0) - ring
        ends = np.flatnonzero(_turns_back(way, np.roll(way, -1, axis=0)))
        if len(ends) == 0:
            break
        ring = np.delete(ring, (ends[0] + 1) % len(ring), axis=0)
    return ring


def clip_local(region: BaseGeometry, boxes: NDArray[np.object_]) -> NDArray[np.object_]:
    """Intersection of a region with each of many small shapes, on local pieces of the region."""
    result = np.empty(len(boxes), dtype=object)
    if len(boxes) == 0:
        return result
    stack = [(region, np.arange(len(boxes)))]
    bounds = shapely.bounds(boxes)
    while stack:
        piece, index = stack.pop()
        x0, y0 = bounds[index, 0].min(), bounds[index, 1].min()
        x1, y1 = bounds[index, 2].max(), bounds[index, 3].max()
        if shapely.get_num_coordinates(piece) > LOCAL_VERTICES:
            near = shapely.clip_by_rect(piece, x0 - 1.0, y0 - 1.0, x1 + 1.0, y1 + 1.0)  # ten times faster than an overlay
            piece = near if near.is_valid else shapely.intersection(piece, shapely.box(x0 - 1.0, y0 - 1.0, x1 + 1.0, y1 + 1.0))
        if len(index) <= 2 or shapely.get_num_coordinates(piece) <= LOCAL_VERTICES:
            result[index] = shapely.intersection(boxes[index], piece)
            continue
        wide = x1 - x0 >= y1 - y0
        middle = (bounds[index, 0] + bounds[index, 2]) if wide else (bounds[index, 1] + bounds[index, 3])
        order = np.argsort(middle, kind="stable")
        half = len(order) // 2
        stack.append((piece, index[order[:half]]))
        stack.append((piece, index[order[half:]]))
    return result
