"""Cut tiles as a saw operator sees them: shapes in the tile's own axes, alike pieces under one mark.

Pieces are alike if one can be turned onto the other by a turn that the face allows (never mirrored)
and no corner is then off by more than the saw's tolerance. Printed sizes are saw sizes: from the
factory edge to the joint's face, rounded down.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias

import numpy as np
import shapely
from shapely import Polygon

from layout.plan.patterns import turns_of
from layout.shapes import cleaned_ring, following, started_low_left, turned
from layout.units import SNAP, TOUCH

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from layout.plan.patterns import Pattern
    from layout.plan.values import Tile
    from layout.tiles.lay import Laid

    Floats = NDArray[np.float64]

Shape: TypeAlias = Literal["straight", "corner", "notch", "hole", "taper", "curve", "other"]
SHAPES: tuple[Shape, ...] = ("straight", "corner", "notch", "hole", "taper", "curve", "other")


@dataclass(frozen=True, slots=True, eq=False)
class Cut:
    """Pieces under one mark; `size` its box in tile axes, saw sizes; a taper runs from `start` to `end` mm."""

    mark: str
    tile: str
    shape: Shape
    count: int
    size: tuple[float, float]
    outline: Floats
    holes: tuple[Floats, ...]
    area: float
    box: tuple[float, float]
    start: float | None = None
    end: float | None = None
    wall: str = ""


@dataclass(frozen=True, slots=True, order=True)
class PieceKey:
    """Where a piece is: index of room, surface, bay and piece within the bay."""

    room: int
    surface: int
    bay: int
    piece: int


@dataclass(slots=True)
class Loose:
    """A piece in its tile's own axes, before marks are given; a taper knows at which `place` a person who walks round the room meets it."""

    key: PieceKey
    tile: Tile
    polygon: Polygon
    shape: Shape
    wall: str
    line: tuple[int, int]
    place: tuple[float, ...] = ()
    drawn: tuple[Floats, tuple[Floats, ...]] | None = None


def saw_size(length: float, tile: Tile) -> float:
    """A length rounded down to what a saw is set to: whole mm, half ones for rectified tile."""
    step = 0.5 if tile.rectified else 1.0
    return math.floor((length + 2 * SNAP) / step) * step


def in_tile_axes(laid: Laid, pattern: Pattern, tile: Tile) -> tuple[list[Polygon], NDArray[np.int64]]:
    """Distinct pieces of a bay at their tile's lower-left corner, turned members turned back.

    Returns the distinct shapes and, for each piece of the bay, which of them it is.
    """
    if len(laid.pieces) == 0:
        return [], np.empty(0, dtype=np.int64)
    base = pattern.corners[laid.cut[:, 0]] + laid.cut[:, 1:] @ pattern.vectors
    coords, index = shapely.get_coordinates(laid.pieces, return_index=True)
    coords = coords - base[index]
    quarter = np.array(pattern.quarter)[laid.cut[:, 0]][index]
    if quarter.any():
        back = coords[quarter]
        coords[quarter] = np.column_stack([back[:, 1], tile.size[1] - back[:, 0]])
    moved = shapely.set_coordinates(laid.pieces.copy(), np.round(coords, 6))
    keys = shapely.to_wkb(shapely.normalize(shapely.set_coordinates(laid.pieces.copy(), np.round(coords, 2))))
    if len(pattern.members) > 1:  # like shapes out of different tiles of a cell are different pieces
        keys = np.array([bytes([int(m)]) + key for m, key in zip(laid.cut[:, 0], keys, strict=True)], dtype=object)
    _, first, which = np.unique(keys, return_index=True, return_inverse=True)
    return [_clean(p) for p in moved[first]], which.ravel().astype(np.int64)


def _clean(polygon: Polygon) -> Polygon:
    rings = [cleaned_ring(shapely.get_coordinates(ring)[:-1], 1e-4) for ring in (polygon.exterior, *polygon.interiors)]
    return Polygon(rings[0], [ring for ring in rings[1:] if len(ring) >= 3]) if len(rings[0]) >= 3 else polygon


def shape_of(polygon: Polygon, tile: Tile) -> Shape:
    """What kind of cut a piece is."""
    if polygon.interiors:
        return "hole"
    ring = shapely.get_coordinates(polygon.exterior)[:-1]
    vectors = following(ring) - ring
    skew = (np.abs(vectors[:, 0]) > TOUCH) & (np.abs(vectors[:, 1]) > TOUCH)
    x0, y0, x1, y1 = polygon.bounds
    w, h = tile.size
    full = (x1 - x0 > w - TOUCH, y1 - y0 > h - TOUCH)
    if not skew.any():
        if len(ring) == 4:
            return "straight" if any(full) else "corner"
        return "notch"
    if skew.sum() == 1 and len(ring) in (3, 4, 5):
        return "taper"
    if skew.sum() >= 3 and _is_curve(vectors[skew]):
        return "curve"
    return "other"


def _is_curve(vectors: Floats) -> bool:
    way = np.degrees(np.arctan2(vectors[:, 1], vectors[:, 0]))
    turn = np.abs((np.diff(way) + 180.0) % 360.0 - 180.0)
    return bool(np.median(turn) < 20.0)


def legs(polygon: Polygon) -> tuple[float, float]:
    """Least and greatest leg of a taper: at the two ends of its slanting side, across the tile, mm."""
    ring = shapely.get_coordinates(polygon.exterior)[:-1]
    ends = following(ring)
    vectors = ends - ring
    k = int(np.argmax(np.minimum(np.abs(vectors[:, 0]), np.abs(vectors[:, 1]))))
    axis = 0 if abs(vectors[k, 0]) < abs(vectors[k, 1]) else 1
    far = ring[:, axis]
    inside = (
        far.max()
        if abs(far.max() - ring[k, axis]) + abs(far.max() - ends[k, axis])
        >= abs(far.min() - ring[k, axis]) + abs(far.min() - ends[k, axis])
        else far.min()
    )
    short, long = sorted((abs(inside - ring[k, axis]), abs(inside - ends[k, axis])))
    return float(short), float(long)


MATE = 1.5
"""A corner that differs by no more than a tolerance each way lies no further than so many of it nearer to any point, and a hair."""


def turns_allowed(tile: Tile) -> tuple[float, ...]:
    """Turns, in degrees, that lay the tile onto itself and that its face allows."""
    return (0.0,) if tile.directional else turns_of(tile)


def turned_in_tile(ring: Floats, tile: Tile, angle: float) -> Floats:
    """A ring turned about the middle of the tile's box."""
    w, h = tile.size
    centre = np.array([w / 2, h / 2])
    return np.asarray(turned(ring - centre, angle) + centre, dtype=float)


def _variants(loose: Loose) -> list[tuple[Floats, tuple[Floats, ...]]]:
    outer = shapely.get_coordinates(loose.polygon.exterior)[:-1]
    if not loose.polygon.exterior.is_ccw:
        outer = outer[::-1]
    inner = [shapely.get_coordinates(ring)[:-1] for ring in loose.polygon.interiors]
    return [
        (
            started_low_left(turned_in_tile(outer, loose.tile, q)),
            tuple(started_low_left(turned_in_tile(ring, loose.tile, q)) for ring in inner),
        )
        for q in turns_allowed(loose.tile)
    ]


def _canonical(loose: Loose) -> tuple[Floats, tuple[Floats, ...]]:
    """The turn of a piece that it is drawn in: smallest box, then smallest corners; kept with the piece."""
    if loose.drawn is None:
        loose.drawn = _smallest(loose)
    return loose.drawn


def _smallest(loose: Loose) -> tuple[Floats, tuple[Floats, ...]]:
    variants = _variants(loose)
    return min(variants, key=lambda v: (np.round(np.ptp(v[0], axis=0), 2).tolist(), np.round(v[0], 2).ravel().tolist()))


def _alike(one: Floats, other: Floats, tolerance: float) -> bool:
    if len(one) != len(other):
        return False
    n = len(one)
    first = np.flatnonzero(np.abs(one - other[0]).max(axis=1) <= tolerance)  # every corner may be the first
    turns = (first[:, None] + np.arange(n)) % n
    return bool((np.abs(one[turns] - other).max(axis=(1, 2)) <= tolerance).any())


def by_outline(loose: Iterable[Loose]) -> list[list[Loose]]:
    """Pieces that share their very outline together, in the order that marks are given."""
    same: dict[int, list[Loose]] = {}
    for each in loose:
        same.setdefault(id(each.polygon), []).append(each)
    return sorted(same.values(), key=lambda members: order_key(members[:1]))


def alike_in_a_turn(loose: Loose, outer: Floats, inner: Sequence[Floats], tolerance: float) -> bool:
    """Whether a piece, in a turn that its face allows, lies on a given outline with its holes, no corner off by more than a tolerance."""
    return any(
        _alike(ring, outer, tolerance) and all(_alike(a, b, tolerance) for a, b in zip(holes, inner, strict=True))
        for ring, holes in _variants(loose)
    )


def groups_of(loose: list[Loose], tolerance: float) -> list[list[Loose]]:
    """Pieces that are alike within a tolerance together."""
    heads = by_outline(loose)
    groups: list[tuple[Floats, tuple[Floats, ...], list[Loose]]] = []
    by_kind: dict[tuple[str, str, int, int], tuple[list[int], list[Floats]]] = {}
    for members in heads:
        head, reach = members[0], reach_of(members[0])
        kind = (head.tile.name, head.shape, len(head.polygon.exterior.coords), len(head.polygon.interiors))
        own, known = by_kind.setdefault(kind, ([], []))
        variants = _variants(head) if own else []
        near = np.abs(np.array(known) - reach).max(axis=1) <= tolerance * MATE if own else np.empty(0, dtype=bool)
        for index in (own[k] for k in np.flatnonzero(near)):
            outer, inner, group = groups[index]
            if abs(group[0].polygon.area - head.polygon.area) > tolerance * head.polygon.length:
                continue
            if any(
                _alike(v[0], outer, tolerance) and all(_alike(a, b, tolerance) for a, b in zip(v[1], inner, strict=True)) for v in variants
            ):
                group += members
                break
        else:
            own.append(len(groups))
            known.append(reach)
            groups.append((*_canonical(head), list(members)))
    return [group for _, _, group in groups]


def reach_of(loose: Loose) -> Floats:
    """How far a piece's corners and the middles of its holes lie from the middle of its tile, each sorted: alike for pieces alike in any turn."""
    middle = np.array(loose.tile.size) / 2.0
    outer = shapely.get_coordinates(loose.polygon.exterior)[:-1] - middle
    holes = np.array([shapely.get_coordinates(ring)[:-1].mean(axis=0) for ring in loose.polygon.interiors]).reshape(-1, 2) - middle
    return np.concatenate([np.sort(np.hypot(*outer.T)), np.sort(np.hypot(*holes.T))])


def order_key(members: list[Loose]) -> tuple[object, ...]:
    """What marks are numbered by: tile, shape, falling area, size, outline."""
    outer, _ = _canonical(members[0])
    size = np.round(np.ptp(outer, axis=0), 1).tolist()
    return (
        members[0].tile.name,
        SHAPES.index(members[0].shape),
        -round(members[0].polygon.area, 0),
        size,
        np.round(outer, 1).ravel().tolist(),
    )


def plain_cut(mark: str, members: list[Loose]) -> Cut:
    """Alike pieces under a mark."""
    head = members[0]
    outer, holes = _canonical(head)
    boxes = np.array([np.sort(np.ptp(shapely.get_coordinates(m.polygon.exterior), axis=0)) for m in members]).min(axis=0)
    box = np.ptp(outer, axis=0)
    low, high = saw_size(float(boxes[0]), head.tile), saw_size(float(boxes[1]), head.tile)
    size = (low, high) if box[0] <= box[1] else (high, low)
    return Cut(
        mark, head.tile.name, head.shape, len(members), size, outer, holes, float(head.polygon.area), head.tile.size, wall=_walls(members)
    )


def _walls(members: list[Loose]) -> str:
    return ", ".join(sorted({each.wall for each in members if each.wall}))


def taper_runs(loose: list[Loose]) -> tuple[list[list[Loose]], list[Loose]]:
    """Tapers that follow each other along one wall, as a person meets them who walks round the room; single ones are marked like other cuts."""
    by_line: dict[tuple[object, ...], list[Loose]] = {}
    for each in loose:
        by_line.setdefault((each.tile.name, each.key.room, each.key.surface, each.key.bay, each.wall, each.line), []).append(each)
    runs = [sorted(members, key=lambda each: (each.place, each.key)) for members in by_line.values() if len(members) >= 2]
    runs.sort(key=lambda members: (members[0].tile.name, members[0].key.room, members[0].place, members[0].key))
    single = [members[0] for members in by_line.values() if len(members) < 2]
    return runs, single


def run_cut(mark: str, members: list[Loose]) -> Cut:
    """A run of tapers under a mark."""
    lengths = [legs(each.polygon) for each in members]
    widest = members[int(np.argmax([round(b, 3) for _, b in lengths]))]  # of those as wide the one that is met first
    outer, holes = _canonical(widest)
    box = np.ptp(outer, axis=0)
    tile = widest.tile
    size = (saw_size(float(box[0]), tile), saw_size(float(box[1]), tile))
    first, last = lengths[0], lengths[-1]
    rising = round(math.fsum(first) - math.fsum(last), 3) <= 0.0
    low, high = min(a for a, _ in lengths), max(b for _, b in lengths)
    ends = (low, high) if rising else (high, low)
    start, end = (saw_size(v, tile) for v in ends)
    return Cut(
        mark, tile.name, "taper", len(members), size, outer, holes, float(widest.polygon.area), tile.size, start, end, _walls(members)
    )
