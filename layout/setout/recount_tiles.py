"""Tiles, pieces and bays of one surface found again: areas, overlaps, spacing, holes, counts, saw sizes, the narrowest cut and piece.

Tiles are made anew from their index and the pattern's cell, in complex numbers; what lies between them is found by shapely.
Nothing that laid, measured or marked them is called.

Guarantees: every tile and piece is looked at. Not: necks of notched pieces (their least rectangle is the tile), and on
fields over `MOST_TILES` holes and spacing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.setout.ledger import Ledger

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from layout.errors import Point
    from layout.joints.lines import MovementJoint
    from layout.setout.values import RoomSetOut, SetOut, SurfaceSetOut

    Floats = NDArray[np.float64]
    Polygons = NDArray[np.object_]

HAIR = 0.11
"""A tile may stand this far over the edge that it is flush with: the touching tolerance and float noise, mm."""
SPACING = 0.2
"""Tiles may stand this much nearer than the joint: a tile that misses a wall by a tenth is laid whole, mm."""
STRIP_SPAN = 0.9
"""A piece that still spans this part of a side of its tile is a strip, not a corner."""
STRIP_FULL = 0.6
"""Less of its least rectangle is a triangle: a crumb in a corner, or the end of a taper."""
IN_WINDOW = 60
"""Tiles in a window in which holes are looked for."""
MOST_TILES = 30_000
"""On larger fields holes and spacing of whole tiles are not looked for: the search would cost more than the set-out."""


@dataclass(frozen=True, slots=True, eq=False)
class _Laid:
    """Tiles of one bay in the surface's axes and pieces in the lattice's, made anew from their index."""

    whole: Polygons
    pieces: Polygons
    local: Polygons
    sides: Floats


def _bay(done: SurfaceSetOut, number: int) -> _Laid:
    """Whole tiles from member, i, j; pieces from the lattice's axes; `sides` (n, 2) of the tile that each piece is cut from."""
    field, laid = done.field, done.field.bays[number]
    turn = np.exp(1j * math.radians(field.turn))
    origin = complex(*field.origins[number])
    v1, v2 = (complex(*vector) for vector in field.pattern.vectors)
    whole: list[Polygons] = []
    for m, member in enumerate(field.pattern.members):
        _, i, j = laid.whole[laid.whole[:, 0] == m].T
        ring = member[:, 0] + 1j * member[:, 1]
        points = (ring[None, :] + (i * v1 + j * v2)[:, None]) * turn + origin
        if len(points):
            whole.append(np.asarray(shapely.polygons(np.stack([points.real, points.imag], axis=-1)), dtype=object))
    flat = shapely.get_coordinates(laid.pieces)
    points = (flat[:, 0] + 1j * flat[:, 1]) * turn + origin
    pieces = shapely.set_coordinates(laid.pieces.copy(), np.column_stack([points.real, points.imag]))
    spans = np.array([np.ptp(member, axis=0) for member in field.pattern.members])
    sides = spans[laid.cut[:, 0]] if len(laid.cut) else np.empty((0, 2))
    return _Laid(np.concatenate(whole) if whole else np.empty(0, dtype=object), pieces, laid.pieces, sides)


def recount_tiles(setout: SetOut, room: RoomSetOut, s: int, marked: list[tuple[int, int, str]]) -> Ledger:
    """Everything told of one surface, found again; `marked` are bay, piece and mark of each of its pieces."""
    done = room.surfaces[s]
    ledger = Ledger(room.name, done.surface.id)
    bays = [_bay(done, k) for k in range(len(done.field.bays))]
    pieces = np.concatenate([bay.pieces for bay in bays])
    whole = np.concatenate([bay.whole for bay in bays])
    _areas(ledger, room, done, bays)
    _counts(ledger, done, marked)
    if len(pieces) + len(whole) <= MOST_TILES:
        _spacing(ledger, done, whole, pieces)
        _holes(ledger, room, done, whole, pieces)
    else:
        ledger.unjudged.append(f"{done.surface.name}: holes and spacing of {len(whole)} whole tiles")
    if len(pieces):
        _narrowest(ledger, done, bays, pieces)
        _saw_sizes(ledger, setout, done, bays, marked)
    return ledger


def _across(room: RoomSetOut, done: SurfaceSetOut) -> list[MovementJoint]:
    """Movement joints across a surface, as they are listed."""
    return [j for j in room.joints if j.surface == done.surface.id and j.kind in ("intermediate", "structural")]


def _strip(joint: MovementJoint, grown: float = 0.0) -> shapely.Polygon:
    """A joint as a strip, half its width longer at each end: it may end at a slanted edge."""
    return shapely.LineString(joint.line).buffer(joint.width / 2 + grown, cap_style="square")


def _areas(ledger: Ledger, room: RoomSetOut, done: SurfaceSetOut, bays: list[_Laid]) -> None:
    """Bays and joints make up the region; joints are as long as their strips; tiles lie in their bay; bays keep the joint's width apart."""
    divided = done.surface.region if done.surface.joint_region is None else done.surface.joint_region
    own = _across(room, done)
    shapes = [bay.region if bay.whole is None else bay.whole for bay in done.bays]
    region = done.surface.region
    cut_by = _across(room, room.floor) if done.surface.kind == "border" else own
    left = shapely.difference(region, shapely.union_all([_strip(joint) for joint in cut_by])) if cut_by else region
    dust = math.fsum(part.area for part in shapely.get_parts(left) if shapely.buffer(part, -HAIR, join_style="mitre").is_empty)
    told = math.fsum(bay.region.area for bay in done.bays)
    ledger.add("area of bays", told, left.area - dust, 5.0 + done.lost_mm2 + 1e-6 * region.area, unit="mm²")
    if done.surface.kind != "border":
        for joint in own:
            along = float(shapely.intersection(_strip(joint), divided).area) / joint.width
            ledger.add(f"{joint.kind} joint", joint.length, along, 2.5 * joint.width, at=_middle(joint.line))
    for k, bay in enumerate(bays):
        grown = shapely.buffer(done.bays[k].region, HAIR, join_style="mitre")
        shapely.prepare(grown)
        tiles = np.concatenate([bay.whole, bay.pieces])
        out = tiles[~shapely.covers(grown, tiles)]
        over = float(shapely.area(shapely.difference(out, grown)).max(initial=0.0)) if len(out) else 0.0
        ledger.at_most(f"tile outside bay {k + 1}", over, 0.0, 0.05, unit="mm²", at=_place(out))
    pairs = [(one, two) for k, one in enumerate(shapes) for two in shapes[k + 1 :]]
    if pairs and own:
        first, second = (np.array(side, dtype=object) for side in zip(*pairs, strict=True))
        apart = shapely.distance(first, second)[_facing(divided, first, second)]
        least = min(joint.width for joint in own)
        ledger.at_most("bays nearer than their joint", float((least - apart).max(initial=0.0)), 0.0, 0.05)


def _facing(region: BaseGeometry, first: Polygons, second: Polygons) -> NDArray[np.bool_]:
    """Whether the shortest way between each two shapes runs through the region, not behind a corner of wall or plinth."""
    ways = shapely.shortest_line(first, second)
    middle = shapely.line_interpolate_point(ways, 0.5, normalized=True)
    shapely.prepare(region)
    return np.asarray(shapely.intersects(region, middle), dtype=bool)


def _middle(line: Floats) -> Point:
    x, y = line.mean(axis=0).tolist()
    return x, y


def _place(tiles: Polygons) -> Point | None:
    if len(tiles) == 0:
        return None
    centre = tiles[0].centroid
    return float(centre.x), float(centre.y)


def _counts(ledger: Ledger, done: SurfaceSetOut, marked: list[tuple[int, int, str]]) -> None:
    whole = {(b, *row) for b, laid in enumerate(done.field.bays) for row in laid.whole.tolist()}
    places = {(b, *row) for b, laid in enumerate(done.field.bays) for row in laid.cut.tolist()}
    pieces = sum(len(laid.pieces) for laid in done.field.bays)
    ledger.add("whole tiles", len(done.field.whole), len(whole), 0.0, unit="tiles")
    ledger.add("places with a cut tile", done.field.places_cut(), len(places), 0.0, unit="places")
    ledger.add("places whole and cut at once", 0.0, len(whole & places), 0.0, unit="places")
    ledger.add("pieces with a mark", len(marked), pieces, 0.0, unit="pieces")


def _spacing(ledger: Ledger, done: SurfaceSetOut, whole: Polygons, pieces: Polygons) -> None:
    """No tile nearer to another than the joint; pieces of one tile may meet, yet not overlap."""
    tiles = np.concatenate([whole, pieces])
    keys = [(b, *row) for b, laid in enumerate(done.field.bays) for row in laid.cut.tolist()]
    tree = shapely.STRtree(tiles)
    joint = min(done.tile.joints)
    near, far = tree.query(tiles, predicate="dwithin", distance=joint - SPACING)
    first = near < far
    near, far = near[first], far[first]
    same = np.array(
        [a >= len(whole) and keys[a - len(whole)] == keys[b - len(whole)] for a, b in zip(near.tolist(), far.tolist(), strict=True)]
    )
    apart = shapely.distance(tiles[near], tiles[far])
    wrong = ~same if len(same) else np.empty(0, dtype=bool)
    wrong[wrong] = _facing(done.surface.region, tiles[near[wrong]], tiles[far[wrong]])
    worst = float((joint - apart[wrong]).max(initial=0.0))
    ledger.at_most("tiles nearer than their joint", worst, 0.0, SPACING, at=_place(tiles[near[wrong]]) if wrong.any() else None)
    over = shapely.area(shapely.intersection(tiles[near], tiles[far])) if len(near) else np.empty(0)
    ledger.at_most("overlap of tiles", float(over.sum()), 0.0, 0.05, unit="mm²")


def _holes(ledger: Ledger, room: RoomSetOut, done: SurfaceSetOut, whole: Polygons, pieces: Polygons) -> None:
    """What neither tile nor joint covers: nowhere wider than where joints cross. Window by window: a net of joints is slow to eat into."""
    joints: list[BaseGeometry] = [_strip(joint, 0.1) for joint in _across(room, done)]
    if done.surface.saw_lines is not None:  # where a hip's joint meets two of the lattice more is open than where two cross
        joints += shapely.get_parts(done.surface.saw_lines).tolist()
    tiles = np.concatenate([whole, pieces, np.array(joints, dtype=object)])
    reach = max(done.tile.joints) / math.sqrt(2.0) + HAIR
    x0, y0, x1, y1 = done.surface.region.bounds
    count = len(whole) + len(pieces)
    size = max(x1 - x0, y1 - y0) / math.ceil(max(1.0, count / IN_WINDOW) ** 0.5) + 1.0
    corners = [(x, y) for x in np.arange(x0, x1, size).tolist() for y in np.arange(y0, y1, size).tolist()]
    tree = shapely.STRtree(tiles)
    eaten: list[BaseGeometry] = []
    for x, y in corners:
        window = shapely.box(x - 3.0 * reach, y - 3.0 * reach, x + size + 3.0 * reach, y + size + 3.0 * reach)
        left: BaseGeometry = shapely.intersection(done.surface.region, window)
        hit = tree.query(window)
        left = shapely.difference(left, shapely.MultiPolygon(tiles[hit[hit < count]].tolist()))
        left = shapely.difference(left, shapely.union_all(tiles[hit[hit >= count]]))
        eaten.append(shapely.buffer(left, -reach, join_style="mitre"))
    bare = shapely.union_all(eaten)
    at = None if bare.is_empty else (float(bare.representative_point().x), float(bare.representative_point().y))
    ledger.at_most("area that neither tile nor joint covers", float(bare.area), 0.0, 1.0, unit="mm²", at=at)


def least_rectangles(pieces: Polygons) -> Floats:
    """Sides of the least rectangle round each piece, lesser first, (n, 2), mm: one side lies along an edge of its hull.

    Of rectangles of like area the narrower: a strip may pass through it.
    """
    hulls = shapely.convex_hull(pieces)
    count = shapely.get_num_coordinates(hulls) - 1
    result = np.zeros((len(pieces), 2))
    for corners in np.unique(count):
        if corners < 3:
            continue
        rows = np.flatnonzero(count == corners)
        for chunk in np.array_split(rows, math.ceil(len(rows) * int(corners) ** 2 / 2e6)):
            points = shapely.get_coordinates(hulls[chunk]).reshape(len(chunk), corners + 1, 2)[:, :-1]
            way = np.roll(points, -1, axis=1) - points
            length = np.hypot(way[..., 0], way[..., 1])
            unit = way / np.maximum(length, 1e-12)[..., None]
            along = np.einsum("nek,npk->nep", unit, points)
            across = np.einsum("nek,npk->nep", np.stack([-unit[..., 1], unit[..., 0]], axis=-1), points)
            sides = np.stack([np.ptp(along, axis=2), np.ptp(across, axis=2)], axis=-1)
            area = np.where(length > 1e-6, sides.prod(axis=2), np.inf)
            alike = area <= area.min(axis=1, keepdims=True) * (1.0 + 1e-6)  # of a right-angled triangle all three are
            lesser = np.where(alike, sides.min(axis=2), np.inf).min(axis=1)
            result[chunk] = np.column_stack([lesser, area.min(axis=1) / np.maximum(lesser, 1e-12)])
    return result


def _narrowest(ledger: Ledger, done: SurfaceSetOut, bays: list[_Laid], pieces: Polygons) -> None:
    """The narrowest cut: the lesser side of the least rectangle of each piece that still spans its tile one way and is no triangle, and what edges leave."""
    lesser, greater = least_rectangles(pieces).T
    sides = np.concatenate([bay.sides for bay in bays])
    boxes = shapely.bounds(np.concatenate([bay.local for bay in bays]))
    spans = ((boxes[:, 2:] - boxes[:, :2]) >= STRIP_SPAN * sides).any(axis=1)
    full = shapely.area(pieces) >= STRIP_FULL * lesser * greater
    strip = spans & full & (lesser < sides.min(axis=1) - HAIR)
    left, beside = _beside_edges(done, bays)
    widths, which = np.concatenate([lesser[strip], left]), np.concatenate([np.flatnonzero(strip), beside])
    if len(widths):
        k = int(widths.argmin())
        ledger.at_most("narrowest cut", done.start.smallest, float(widths[k]), 0.3, at=_place(pieces[which[k : k + 1]]))
    told = done.start.piece
    if told is None:
        ledger.add("narrowest piece", math.inf, float(lesser.min()), 0.0)
        return
    k = int(lesser.argmin())
    ledger.add("narrowest piece", told.width, float(lesser[k]), 0.3, at=_place(pieces[k : k + 1]))
    own = sum(len(bay.pieces) for bay in bays[: told.bay]) + told.piece
    ledger.add("width of the piece told as the narrowest", told.width, float(lesser[own]), 0.3, at=told.at)
    ledger.at_most("narrowest piece from its place", float(shapely.distance(pieces[own], shapely.Point(told.at))), 0.0, HAIR, at=told.at)


def _beside_edges(done: SurfaceSetOut, bays: list[_Laid]) -> tuple[Floats, NDArray[np.int64]]:
    """What straight edges of bays that run right across a tile leave of it, (n,), mm, and of which piece: side by side of each piece.

    The line of a side is laid through the whole tile: most of what it draws there must be the side. Sides along hips, arcs and pipes are none.
    """
    bent: list[BaseGeometry] = []
    if done.surface.borders:
        bent = [shapely.LineString(edge) for edge, border in zip(*done.surface.bordered(), strict=True) if not border.straight]
    bent += [each.hole.boundary for each in done.surface.breaks if each.diameter]
    curved = shapely.union_all(bent)
    found: list[tuple[Floats, NDArray[np.int64]]] = [(np.empty(0), np.empty(0, dtype=np.int64))]
    first = 0
    for number, bay in enumerate(bays):
        cut = done.field.bays[number].cut
        rings, owner = shapely.get_parts(shapely.boundary(shapely.orient_polygons(bay.pieces)), return_index=True)
        points, of = shapely.get_coordinates(rings, return_index=True)
        same = np.flatnonzero(of[1:] == of[:-1])
        sides = np.stack([points[same], points[same + 1]], axis=1)
        piece = owner[of[same]]
        outlines = _outlines(done, number, cut)
        middle = shapely.points(sides.mean(axis=1))
        own = shapely.distance(middle, shapely.boundary(outlines[piece])) > HAIR
        own &= np.hypot(*(sides[:, 1] - sides[:, 0]).T) > 1.0
        own[own] = shapely.distance(middle[own], shapely.boundary(done.bays[number].region)) < SPACING
        if bent:
            own[own] = shapely.distance(middle[own], curved) > SPACING
        sides, piece = sides[own], piece[own]
        way = sides[:, 1] - sides[:, 0]
        long = np.hypot(way[:, 0], way[:, 1])
        far = (way / long[:, None]) * 1e5
        lines = shapely.linestrings(np.stack([sides[:, 0] - far, sides[:, 1] + far], axis=1))
        drawn = shapely.length(shapely.intersection(lines, outlines[piece]))
        corners, which = shapely.get_coordinates(outlines[piece], return_index=True)
        off = corners - sides[which, 0]
        square = (way[which, 0] * off[:, 1] - way[which, 1] * off[:, 0]) / long[which]  # the piece lies on the left of its sides
        left = np.zeros(len(sides))
        np.maximum.at(left, which, square)
        across = (long >= STRIP_SPAN * drawn) & (left > HAIR)
        found.append((left[across], first + piece[across]))
        first += len(bay.pieces)
    return np.concatenate([left for left, _ in found]), np.concatenate([piece for _, piece in found])


def _outlines(done: SurfaceSetOut, number: int, index: NDArray[np.int64]) -> Polygons:
    """Outlines of tiles of a bay by index (n, 3), in the surface's axes."""
    field = done.field
    turn = np.exp(1j * math.radians(field.turn))
    v1, v2 = (complex(*vector) for vector in field.pattern.vectors)
    result = np.empty(len(index), dtype=object)
    for m, member in enumerate(field.pattern.members):
        rows = index[:, 0] == m
        at = index[rows, 1] * v1 + index[rows, 2] * v2
        points = (member[:, 0] + 1j * member[:, 1] + at[:, None]) * turn + complex(*field.origins[number])
        result[rows] = shapely.polygons(np.stack([points.real, points.imag], axis=-1)) if rows.any() else None
    return result


def _saw_sizes(ledger: Ledger, setout: SetOut, done: SurfaceSetOut, bays: list[_Laid], marked: list[tuple[int, int, str]]) -> None:
    """Printed sizes are never more than the piece, and less by a step of the saw at most (alike pieces: by their tolerance)."""
    cuts = {cut.mark: cut for cut in setout.cuts if cut.shape != "taper"}
    rows = [(b, p, cuts[mark].size) for b, p, mark in marked if mark in cuts]
    if not rows or done.field.pattern.name == "hexagon" or len({len(m) for m in done.field.pattern.members}) > 1:
        return
    boxes = shapely.bounds(np.array([bays[b].local[p] for b, p, _ in rows], dtype=object))
    real = np.sort(np.column_stack([boxes[:, 2] - boxes[:, 0], boxes[:, 3] - boxes[:, 1]]), axis=1)
    printed = np.sort(np.array([size for _, _, size in rows]), axis=1)
    step = (0.5 if done.tile.rectified else 1.0) + 2.0 * setout.plan.rules.tolerance  # each corner of alike pieces may be off by it
    ledger.at_most("saw size over its piece", float((printed - real).max()), 0.0, 0.02)
    ledger.at_most("saw size under its piece", float((real - printed).max()), step, 0.02)
