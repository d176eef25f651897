"""Every piece of a surface in its tile's own axes, ready for marks."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.plan.patterns import member_tiles
from layout.room.own_frame import walk_of
from layout.shapes import following, turned
from layout.tiles.pieces import Loose, PieceKey, in_tile_axes, shape_of
from layout.units import TOUCH

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from layout.room.outlines import Outline
    from layout.room.own_frame import Walk
    from layout.setout.values import SurfaceSetOut

    Floats = NDArray[np.float64]


def loose_pieces(done: SurfaceSetOut, room: int, surface: int, walk: Walk | None = None) -> tuple[Loose, ...]:
    """Every piece of a surface, known by its place in the room's list, in its tile's own axes; tapers know their wall and lattice line.

    Of walls as near the one that comes first on a `walk` round the room is theirs, on an upright face the one that its edges begin with.
    """
    result = []
    slanted = [cut for cut in done.wall_cuts if np.abs(np.diff(turned(cut.edge, -done.turn), axis=0)).min() > TOUCH]
    if walk is not None and len(slanted) > 1:
        places = walk.place(np.array([cut.edge.mean(axis=0) for cut in slanted])).tolist()
        slanted = [slanted[k] for k in sorted(range(len(slanted)), key=lambda k: places[k])]
    lines = np.array([cut.edge for cut in slanted]).reshape(-1, 2, 2)
    for b, laid in enumerate(done.field.bays):
        polygons, which = in_tile_axes(laid, done.field.pattern, done.tile)
        tiles = member_tiles(done.tile, done.field.pattern)
        member = laid.cut[:, 0]
        shapes = [shape_of(polygon, tiles[int(member[which == k][0])]) for k, polygon in enumerate(polygons)]
        nearest = _nearest_lines(done, b, lines)
        for p, k in enumerate(which.tolist()):
            polygon, shape = polygons[k], shapes[k]
            wall, line = "", (0, 0)
            if shape == "taper":
                wall = slanted[int(nearest[p])].label if slanted else ""
                line = _lattice_line(polygon, laid.cut[p])
            result.append(Loose(PieceKey(room, surface, b, p), tiles[int(member[p])], polygon, shape, wall, line))
    return tuple(result)


def met_on_a_walk(loose: Iterable[Loose], surfaces: Sequence[SurfaceSetOut], outline: Outline) -> tuple[Loose, ...]:
    """The pieces of a room's surfaces, its tapers with the place at which a person who walks round the room meets them."""
    walk = walk_of(outline)
    places: dict[tuple[int, int], list[tuple[float, ...]]] = {}
    result = []
    for each in loose:
        if each.shape == "taper":
            at = (each.key.surface, each.key.bay)
            if at not in places:
                places[at] = _places(surfaces[at[0]], at[1], walk)
            # of two pieces of one tile the larger is met first
            each = replace(each, place=(*places[at][each.key.piece], -round(float(each.polygon.area))))
        result.append(each)
    return tuple(result)


def _places(done: SurfaceSetOut, bay: int, walk: Walk) -> list[tuple[float, ...]]:
    """Where the pieces of a bay are met on a walk round the room: on the floor first, then wall after wall, then on what stands in the room."""
    cut = done.field.bays[bay].cut
    centre = done.field.outlines(np.column_stack([np.full(len(cut), bay), cut])).mean(axis=1)
    surface = done.surface
    if surface.placing.line is None:
        return [(0.0, surface.placing.level, *at) for at in walk.place(centre).tolist()]
    nth = walk.walls.get(surface.wall, 0) if surface.kind == "wall" else 0
    return [(1.0 if surface.kind == "wall" else 2.0, float(nth), *at) for at in np.round(centre, 1).tolist()]


def _nearest_lines(done: SurfaceSetOut, bay: int, lines: Floats) -> NDArray[np.int64]:
    """For each piece of a bay the slanted wall line nearest to its tile's centre, (n,)."""
    cut = done.field.bays[bay].cut
    if len(cut) == 0 or len(lines) == 0:
        return np.zeros(len(cut), dtype=np.int64)
    centre = done.field.outlines(np.column_stack([np.full(len(cut), bay), cut])).mean(axis=1)
    a, way = lines[:, 0], lines[:, 1] - lines[:, 0]
    part = (((centre[:, None] - a) * way).sum(axis=2) / (way**2).sum(axis=1)).clip(0.0, 1.0)
    apart = np.linalg.norm(centre[:, None] - (a + way * part[:, :, None]), axis=2)
    result: NDArray[np.int64] = np.round(apart, 1).argmin(axis=1)
    return result


def _lattice_line(polygon: shapely.Polygon, tile: NDArray[np.int64]) -> tuple[int, int]:
    """The lattice column or row that a taper stands in: what makes a run of it with its neighbours; at 45 degrees its wall alone does."""
    ring = shapely.get_coordinates(polygon.exterior)[:-1]
    way = np.abs(following(ring) - ring)
    k = int(np.argmax(way.min(axis=1)))
    if abs(way[k, 0] - way[k, 1]) < TOUCH:
        return 2, 0
    return (0, int(tile[1])) if way[k, 0] < way[k, 1] else (1, int(tile[2]))
