"""What is measured of a surface as laid: its narrowest strip and piece, the cut at every edge, narrow necks."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.identity import EdgeId
from layout.shapes import edges_of, turned
from layout.tiles.widths import cut_widths, narrowest, piece_widths, strips
from layout.units import EPS, TOUCH
from layout.vectors import pair

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from layout.errors import Point
    from layout.joints.lines import Bay
    from layout.start.faces import Faces
    from layout.start.offsets import Offset
    from layout.tiles.lay import TileField
    from layout.vectors import Bools, Floats, Ints

BESIDE = 1.0
"""An edge this near to a piece is what it is cut to, mm."""
LESS = 0.05
"""What an edge leaves of a tile is told where it is narrower than every strip by more than this, mm."""
JOINT = EdgeId("joint", name="a joint or saw line")


@dataclass(frozen=True, slots=True)
class NarrowPiece:
    """The narrowest of some pieces: its width, mm, its middle, and its bay and number there."""

    width: float
    at: Point
    bay: int
    piece: int


@dataclass(frozen=True, slots=True)
class View:
    """The narrowest strip in view as drawn and over the play, and the narrowest out of view, as wide as a tile where none is, mm."""

    drawn: float
    worst: float
    hidden: float
    hidden_worst: float


@dataclass(frozen=True, slots=True)
class Lacking:
    """What cuts in view lack to the tile's least: along how much wall some cut does, and how much on the mean of all wall in view, mm."""

    wall: float
    mean: float


@dataclass(frozen=True, slots=True)
class AtFoot:
    """The lowest course where it stands behind the floor or a plinth's tile: how much of it does, and how much is seen of the lowest piece, mm."""

    covered: float
    seen: float


@dataclass(frozen=True, slots=True)
class Bite:
    """What an edge takes off tiles where that is too little for a saw: the edge of the field, the deepest, mm, how many tiles, where."""

    edge: int
    deepest: float
    tiles: int
    at: Point


@dataclass(frozen=True, slots=True, eq=False)
class Measured:
    """The narrowest strip as drawn and over the play, what it is cut to and where, mm; necks; bites; the cut of each tile at each edge.

    `piece` is the narrowest piece of all, None if nothing is cut. `widths` (n,), `edge` (n,) of the field's edges, `bay` (n,),
    `centre` (n, 2) of the tile in the joint frame.
    """

    drawn: float
    worst: float
    where: EdgeId | None
    place: Point | None
    piece: NarrowPiece | None
    necks: tuple[tuple[float, Point], ...]
    bites: tuple[Bite, ...]
    view: View
    widths: Floats
    edge: Ints
    bay: Ints
    centre: Floats

    def into(self, given: Offset) -> Offset:
        """What a start gives along a direction, with its narrowest strips as they are laid."""
        return replace(given, drawn=self.view.drawn, worst=self.view.worst, hidden=self.view.hidden_worst)

    def cut_at(self) -> dict[int, float]:
        """The narrowest cut at each edge of the field that is cut, mm."""
        return {int(k): float(self.widths[self.edge == k].min()) for k in np.unique(self.edge)}


def measure(faces: Faces, field: TileField, bays: Sequence[Bay], *, told: bool = True) -> Measured:
    """The cuts and pieces of a surface as laid; of one that is laid only to be weighed neither where they are, nor necks and bites, are `told`."""
    worst = faces.pattern.widest
    at_joints: list[tuple[float, Point]] = []
    necks: list[tuple[float, Point]] = []
    bites: list[Bite] = []
    over_play = [faces.pattern.widest, faces.pattern.widest]
    none = np.empty(0, dtype=np.int64)
    parts: list[tuple[Floats, Ints, Ints, Floats]] = [(np.empty(0), none, none, np.empty((0, 2)))]
    middle = np.stack([member.mean(axis=0) for member in faces.pattern.members])
    for number, (laid, bay) in enumerate(zip(field.bays, bays, strict=True)):
        at_joints += _at_joints(faces, bay, laid.cut, middle)
        local, hit = faces.bay_edges(bay)
        if len(hit) == 0:
            continue
        crossed = cut_widths(local, faces.pattern)
        present = crossed.across & _present(laid.cut, crossed.tile) & (crossed.widths > TOUCH)
        widths, edge, tile = crossed.widths[present], crossed.edge[present], crossed.tile[present]
        centre = turned(middle[tile[:, 0]] + tile[:, 1:] @ faces.pattern.vectors, faces.turn) + np.array(bay.origin)
        parts.append((widths, hit[edge], np.full(len(edge), number), turned(centre, -faces.frame)))
        worst = min(worst, narrowest(local, faces.play.of(hit), faces.pattern, faces.pattern.widest))
        for k, own in enumerate((~faces.hidden[hit], faces.hidden[hit]) if faces.hidden.any() else ()):
            over_play[k] = min(over_play[k], narrowest(local[own], faces.play.of(hit[own]), faces.pattern, faces.pattern.widest))
        if not told:
            continue
        kept = _present(laid.cut, crossed.tile) & (crossed.widths > TOUCH)
        necks += _necks(faces, local, crossed.edge[kept], crossed.tile[kept], bay)
        small = kept & (crossed.gone > TOUCH) & (crossed.gone <= faces.rules.least_bite + EPS) & (crossed.chords > TOUCH)
        bites += _bites(faces, bay, crossed.gone[small], hit[crossed.edge[small]], crossed.tile[small])
    strip, piece = narrow_pieces(field)
    joined = [np.concatenate(each) for each in zip(*parts, strict=True)]
    drawn, where, place = faces.pattern.widest, None, None
    if strip is not None:
        drawn, (where, place) = min(strip.width, drawn), _cut_to(faces, field, strip) if told else (None, None)
    # where an edge runs right across a tile but for a corner, the piece is a thin L, or a triangle: no strip, and as narrow
    if len(joined[0]) and joined[0].min() < drawn - LESS:
        k = int(np.round(joined[0], 3).argmin())
        drawn, where, place = float(joined[0][k]), faces.known[joined[1][k]], pair(turned(joined[3][k][None], faces.frame)[0])
    for width, at in at_joints:
        if width < drawn - LESS:
            drawn, where, place = width, JOINT, at
    worst = min(worst, drawn)
    view = View(drawn, worst, faces.pattern.widest, faces.pattern.widest)
    if faces.hidden.any():
        seen, hidden = _by_view(faces, field, joined[0], joined[1], min((width for width, _ in at_joints), default=math.inf))
        view = View(seen, min(over_play[0], seen), hidden, min(over_play[1], hidden))
    return Measured(
        drawn, worst, where, place, piece, tuple(sorted(necks)), tuple(sorted(bites, key=lambda bite: bite.edge)), view, *joined
    )


def lacking(faces: Faces, cut_at: Mapping[int, float]) -> Lacking:
    """What the narrowest cut at each edge of the field in view lacks to the tile's least, as drawn; `cut_at` by edge, mm.

    Edges are walls, thresholds, solids and frames that stand straight; faces of joints are left out.
    """
    length = np.hypot(*(faces.edges[:, 1] - faces.edges[:, 0]).T) * (faces.counts & ~faces.hidden)
    short = np.zeros(len(length))
    for k, width in cut_at.items():
        short[k] = max(min(faces.tile.least_cut, faces.pattern.widest) - width, 0.0)
    all_of_it = math.fsum(length)
    return Lacking(math.fsum(length[short > TOUCH]), float(short @ length) / all_of_it if all_of_it else 0.0)


def at_foot(faces: Faces, cut_at: Mapping[int, float]) -> AtFoot | None:
    """What is seen of the lowest piece at the foot of an upright surface; None where all of it is seen, or the pattern has no level courses."""
    rows = np.flatnonzero(faces.covered > 0.0)
    if len(rows) == 0 or not faces.aligned or not faces.pattern.level_courses:
        return None
    size = faces.lattice[1].size
    seen = [max(cut_at.get(int(k), size) - float(faces.covered[k]), 0.0) for k in rows]
    k = int(np.argmin(np.round(seen, 3)))
    return AtFoot(float(faces.covered[rows[k]]), seen[k])


def _by_view(faces: Faces, field: TileField, widths: Floats, edge: Ints, at_joints: float) -> tuple[float, float]:
    """The narrowest strip in view and out of view, mm: a strip is out of view where most of what it is cut along is."""
    cap = faces.pattern.widest
    behind = faces.hidden[edge]
    seen, hidden = min(float(widths[~behind].min(initial=cap)), at_joints), float(widths[behind].min(initial=cap))
    sides = [shapely.union_all(shapely.linestrings(faces.edges[own])).buffer(BESIDE) for own in (~faces.hidden, faces.hidden)]
    for laid, origin in zip(field.bays, field.origins, strict=True):
        own = strips(laid.pieces, laid.cut[:, 0], field.pattern) if len(laid.pieces) else np.empty(0, dtype=bool)
        if not own.any():
            continue
        pieces = laid.pieces[own]
        at_home = turned(turned(shapely.get_coordinates(pieces), faces.turn) + origin, -faces.frame)
        rims = shapely.boundary(shapely.set_coordinates(pieces.copy(), at_home))
        along = [shapely.length(shapely.intersection(rims, side)) for side in sides]
        out, wide = along[1] > along[0], piece_widths(pieces)
        seen, hidden = min(seen, float(wide[~out].min(initial=cap))), min(hidden, float(wide[out].min(initial=cap)))
    return seen, hidden


def _at_joints(faces: Faces, bay: Bay, cut: Ints, middle: Floats) -> list[tuple[float, Point]]:
    """The narrowest cut that the faces of joints across the surface leave of a bay's tiles, and the middle of its tile; none if none is cut."""
    edges, _, _ = edges_of(bay.region)
    rim = faces.surface.region.boundary
    shapely.prepare(rim)
    inside = ~shapely.dwithin(rim, shapely.points(edges.mean(axis=1)), TOUCH)
    if len(cut) == 0 or not inside.any():
        return []
    local = turned(edges[inside].reshape(-1, 2) - np.array(bay.origin), -faces.turn).reshape(-1, 2, 2)
    crossed = cut_widths(local, faces.pattern)
    rows = np.flatnonzero(crossed.across & (crossed.widths > TOUCH) & (crossed.gone > TOUCH))
    rows = rows[_present(cut, crossed.tile[rows])]
    if len(rows) == 0:
        return []
    k = rows[np.round(crossed.widths[rows], 3).argmin()]
    member, i, j = crossed.tile[k]
    centre = turned((middle[member] + np.array([i, j]) @ faces.pattern.vectors)[None], faces.turn)[0] + np.array(bay.origin)
    return [(float(crossed.widths[k]), pair(centre))]


def narrow_pieces(field: TileField) -> tuple[NarrowPiece | None, NarrowPiece | None]:
    """The narrowest strip and the narrowest piece of a field as laid; None where there is none."""
    found: list[tuple[NarrowPiece | None, NarrowPiece | None]] = []
    for number, laid in enumerate(field.bays):
        if len(laid.pieces) == 0:
            continue
        widths = piece_widths(laid.pieces)
        own = strips(laid.pieces, laid.cut[:, 0], field.pattern)
        ranks = (np.where(own, widths, np.inf), widths)
        best = [int(np.lexsort((np.arange(len(widths)), np.round(rank, 3)))[0]) for rank in ranks]
        made = [_narrow(field, number, k, float(widths[k])) for k in best]
        found.append((made[0] if own.any() else None, made[1]))
    strip = [one for one, _ in found if one is not None]
    piece = [one for _, one in found if one is not None]
    by_width = [min(each, key=lambda one: (round(one.width, 3), one.bay), default=None) for each in (strip, piece)]
    return by_width[0], by_width[1]


def _narrow(field: TileField, bay: int, piece: int, width: float) -> NarrowPiece:
    inside = shapely.point_on_surface(field.bays[bay].pieces[piece])
    at = turned(shapely.get_coordinates(inside), field.turn)[0] + field.origins[bay]
    return NarrowPiece(width, pair(at), bay, piece)


def _cut_to(faces: Faces, field: TileField, strip: NarrowPiece) -> tuple[EdgeId, Point]:
    """What a strip is cut to: the edge along the most of its side that no factory edge of its tile is; and where."""
    shape = field.bays[strip.bay].pieces[strip.piece]
    ring = turned(turned(shapely.get_coordinates(shape.exterior), faces.turn) + field.origins[strip.bay], -faces.frame)
    outline = shapely.Polygon(ring)
    near: Ints = np.empty(0, dtype=np.int64)
    if len(faces.edges):
        box, ends = np.array(outline.bounds), np.sort(faces.edges, axis=1)
        near = np.flatnonzero(np.all((ends[:, 0] < box[2:] + 2 * BESIDE) & (ends[:, 1] > box[:2] - 2 * BESIDE), axis=1))
        near = near[shapely.distance(shapely.linestrings(faces.edges[near]), outline) < BESIDE]
    along = [float(shapely.intersection(outline.exterior, shapely.LineString(faces.edges[k]).buffer(BESIDE)).length) for k in near]
    if not along or max(along) < BESIDE * 3:
        return JOINT, strip.at
    k = int(near[int(np.argmax(np.round(along, 1)))])
    return faces.known[k], pair(turned(faces.edges[k].mean(axis=0)[None], faces.frame)[0])


def _necks(faces: Faces, local: Floats, edge: Ints, tile: Ints, bay: Bay) -> list[tuple[float, Point]]:
    """Tiles crossed by two walls that face each other: their distance apart, if under the least cut."""
    if len(tile) == 0:
        return []
    _, group, counts = np.unique(tile, axis=0, return_inverse=True, return_counts=True)
    result = []
    for g in np.flatnonzero(counts >= 2):
        own = edge[group.ravel() == g]
        way = local[own, 1] - local[own, 0]
        along = way / np.hypot(way[:, 0], way[:, 1])[:, None]
        for a in range(len(own)):
            for b in range(a + 1, len(own)):
                if along[a] @ along[b] > -0.99:
                    continue
                normal = np.array([-along[a][1], along[a][0]])
                apart = float((local[own[b]].mean(axis=0) - local[own[a]].mean(axis=0)) @ normal)
                if TOUCH < apart < faces.tile.least_cut:
                    middle = (local[own[a]].mean(axis=0) + local[own[b]].mean(axis=0)) / 2
                    result.append((apart, pair(turned(middle[None], faces.turn)[0] + np.array(bay.origin))))
    return result


def _bites(faces: Faces, bay: Bay, gone: Floats, edge: Ints, tile: Ints) -> list[Bite]:
    """Small bites of a bay edge by edge, each at the deepest of them."""
    result = []
    for k in np.unique(edge):
        own = np.flatnonzero(edge == k)
        deepest = own[np.round(gone[own], 3).argmax()]
        member, i, j = tile[deepest]
        middle = faces.pattern.members[member].mean(axis=0) + np.array([i, j]) @ faces.pattern.vectors
        at = turned(middle[None], faces.turn)[0] + np.array(bay.origin)
        result.append(Bite(int(k), float(gone[deepest]), len(own), pair(at)))
    return result


def _present(cut: Ints, tile: Ints) -> Bools:
    """Whether a tile has a piece that was kept."""
    if len(cut) == 0 or len(tile) == 0:
        return np.zeros(len(tile), dtype=bool)
    have = {tuple(row) for row in cut.tolist()}
    return np.array([tuple(row) in have for row in tile.tolist()], dtype=bool)
