"""Cuts upright faces to shape: how far tile keeps off each edge of a face, by what stands there."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import Polygon

from layout.lining.owners import owner_of
from layout.lining.surfaces import Placing, Surface
from layout.lining.uprights import DEEP
from layout.room.outlines import build_up_of, membrane_on
from layout.room.shell import FLOOR, Cell
from layout.shapes import cleaned, edges_of, following, offset_edges, parts_of, rings_of, union_of
from layout.units import EPS, TOUCH, turn_of
from layout.vectors import pair

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from shapely.geometry.base import BaseGeometry

    from layout.errors import Point
    from layout.lining.uprights import Rise, RunKey, Shelled, Stretch
    from layout.vectors import Floats

BESIDE = 200.0
"""How far tile may grow over the end of a face at an external corner, mm; more than any build-up."""


@dataclass(frozen=True, slots=True, eq=False)
class Trim:
    """How far the tile of a run keeps off each upright junction, by run and point, mm."""

    of: Shelled
    ends: Mapping[tuple[RunKey, Point], float]


def trim_of(of: Shelled) -> Trim:
    """Distances at upright junctions: the lower wall number runs through; the other stops at its finished face and a joint."""
    rules = of.plan.rules
    result: dict[tuple[RunKey, Point], float] = {}
    for upright in of.shell.uprights:
        owners = {face.run: owner_of(of.outline, face) for face in (upright.first, upright.second)}
        for face, other in ((upright.first, upright.second), (upright.second, upright.first)):
            own, neighbour = owners[face.run], owners[other.run]
            through = own.rank < neighbour.rank
            if upright.angle < 180.0:
                d = membrane_on(neighbour.tanked, rules) if through else neighbour.build_up + rules.perimeter_joint
            else:
                under = neighbour.tile.thickness + neighbour.tile.joint if neighbour.tile else 0.0
                d = neighbour.build_up if through else max(neighbour.build_up - under, 0.0)
            cosine, sine = turn_of(round(upright.angle, 6))
            key = (face.run, upright.at)
            if abs(sine) > 0.1 and key not in result:
                result[key] = (d + own.build_up * cosine) / sine
    return Trim(of, result)


def upright_surface(trim: Trim, rise: Rise) -> Surface | None:
    """The surface of a face; None where nothing of it rises."""
    top = max(rise.tile_top if rise.tile else 0.0, rise.tanked_top if math.isfinite(rise.tanked_top) else 0.0)
    holes = union_of([box for box, _ in rise.openings])
    gross = shapely.difference(_boxes(rise.pieces, top), holes)
    if gross.is_empty:
        return None
    tanked = shapely.difference(_boxes(rise.pieces, min(rise.tanked_top, top)), holes) if rise.tanked_top > 0.0 else Polygon()
    free = _free(trim, rise, holes) if rise.tile else Polygon()
    region = cleaned(shapely.difference(free, union_of([b.hole for b in rise.breaks]))) if rise.breaks and rise.tile else free
    return Surface(
        id=rise.id,
        tile=rise.tile,
        gross=gross,
        field=free,
        region=region,
        placing=Placing(line=rise.line),
        tanked=tanked,
        breaks=rise.breaks,
        wall=rise.wall,
        build_up=rise.build_up,
        run=rise.run_key,
        foot=_foot_lines(trim, rise, free) if trim.of.plan.rules.foot == "cove" else (),
        behind=_behind(trim, rise) if trim.of.plan.rules.foot == "wall-through" and rise.tile else (),
    )


def _free(trim: Trim, rise: Rise, holes: BaseGeometry) -> BaseGeometry:
    """What of a face is left for tile inside its borders."""
    level = replace(rise, pieces=_on_one_level(rise.pieces))
    face = shapely.difference(_boxes(level.pieces, rise.tile_top), holes)
    free = cleaned(union_of([_region(trim, level, part) for part in parts_of(face)]))
    under = [_under_foot(trim, level, piece, rise.pieces) for piece in rise.pieces if piece.foot is not None]
    return cleaned(shapely.difference(free, union_of(under)))


def _region(trim: Trim, rise: Rise, part: Polygon) -> BaseGeometry:
    distances = []
    for ring in rings_of(part):
        ends = following(ring)
        distances.append(np.array([_edge_distance(trim, rise, a, b) for a, b in zip(ring, ends, strict=True)]))
    return offset_edges(part, distances)


def _edge_distance(trim: Trim, rise: Rise, a: Floats, b: Floats) -> float:
    joint = trim.of.plan.rules.perimeter_joint
    middle = (a + b) / 2.0
    for box, depth in rise.openings:
        if box.exterior.distance(shapely.Point(middle)) < EPS and box.bounds[0] - EPS < middle[0] < box.bounds[2] + EPS:
            return 0.0 if depth > 0.0 else joint
    if abs(b[1] - a[1]) < abs(b[0] - a[0]):  # level edges: inside above is a foot, below is the top
        return _foot(trim, rise, middle) if b[0] > a[0] else _top(trim, rise)
    for at, end in ((rise.line[0], 0.0), (rise.line[-1], rise.length)):
        if abs(middle[0] - end) < TOUCH:
            # a junction is welded to what it meets, which may move it by a hair off the face's own end
            near = [off for (run, point), off in trim.ends.items() if run == rise.run_key and math.dist(point, pair(at)) < TOUCH]
            # where a wall bends by so little that no corner is made of it, tile goes on round the bend with a joint between tiles
            return near[0] if near else 0.0 if rise.id.kind == "reveal" or rise.tile is None else rise.tile.joint / 2.0
    return _contact(trim, rise, middle)


def _foot(trim: Trim, rise: Rise, middle: Floats) -> float:
    rules = trim.of.plan.rules
    on = next((p for p in rise.pieces if p.x0 - EPS <= middle[0] <= p.x1 + EPS and abs(p.bottom - middle[1]) < EPS), None)
    if on is not None and on.sill:
        return rules.membrane
    below = _build_up_before(trim, on.low if on is not None else FLOOR)
    if rules.foot == "floor-through":
        return below + rules.perimeter_joint
    if rules.foot == "cove":
        return below + rules.cove[0] + rules.perimeter_joint
    return rules.membrane


def _build_up_before(trim: Trim, low: Cell) -> float:
    """Membrane, bed and tile of the floor or the plinth's top before a foot, mm."""
    outline = trim.of.outline
    tile = outline.plinths[low - 1].tile if low > 0 else trim.of.plan.tile(outline.room.floor_tile)
    return build_up_of(tile, True, trim.of.plan.rules)


def _behind(trim: Trim, rise: Rise) -> tuple[tuple[Floats, float], ...]:
    """Lines on which the tile of a face stands behind what lies before it, left to right, and how deep, mm: from the membrane to its face."""
    level = replace(rise, pieces=_on_one_level(rise.pieces))
    by_depth: dict[float, list[Floats]] = {}
    for piece, flat in zip(rise.pieces, level.pieces, strict=True):
        if piece.sill:
            continue
        line = _foot_line(trim, level, piece if piece.foot is not None else flat, rise.pieces)
        ends = [line[:1] - [BESIDE, 0.0]] if abs(piece.x0) < TOUCH else []  # tile may grow over the ends of a face
        more = [line[-1:] - [-BESIDE, 0.0]] if abs(piece.x1 - rise.length) < TOUCH else []
        depth = _build_up_before(trim, piece.low) - trim.of.plan.rules.membrane
        by_depth.setdefault(depth, []).append(np.concatenate([*ends, line, *more]))
    return tuple((line, depth) for depth, lines in by_depth.items() if depth > 0.0 for line in _in_one(lines))


def _foot_line(trim: Trim, rise: Rise, piece: Stretch, feet: Iterable[Stretch]) -> Floats:
    """The line (n, 2) that the tile of a stretch stands on; `rise` is on one level, `feet` its stretches as the floor falls."""
    rules = trim.of.plan.rules
    if piece.foot is None:
        ends = np.array([[piece.x0, piece.bottom], [piece.x1, piece.bottom]])
        level: Floats = ends + np.array([0.0, _foot(trim, rise, ends.mean(axis=0))])
        return level
    lowest = min(p.bottom for p in rise.pieces if p.low == FLOOR)
    foot = piece.foot
    if rules.foot == "cove" and rules.cove_set == "level":
        high = float(max(p.foot[:, 1].max() for p in feet if p.foot is not None))
        foot = np.array([[piece.x0, high], [piece.x1, high]])
    line: Floats = foot + np.array([0.0, _foot(trim, rise, np.array([(piece.x0 + piece.x1) / 2, lowest]))])
    return line


def _under_foot(trim: Trim, rise: Rise, piece: Stretch, feet: Iterable[Stretch]) -> Polygon:
    """What of a face lies under its foot, where the floor falls along it, and as far beside its ends as it may grow there."""
    line = _foot_line(trim, rise, piece, feet)
    left, right = (BESIDE if abs(end) < TOUCH else 0.0 for end in (piece.x0, piece.x1 - rise.length))
    (x0, y0), (x1, y1) = line[0], line[-1]
    deep = [(x1 + right, y1), (x1 + right, -2 * DEEP), (x0 - left, -2 * DEEP), (x0 - left, y0)]
    return Polygon([*line, *deep])


def _foot_lines(trim: Trim, rise: Rise, free: BaseGeometry) -> tuple[Floats, ...]:
    """Centre lines of the joints that the tile of a face stands on, left to right: where its lower edge follows its foot."""
    level = replace(rise, pieces=_on_one_level(rise.pieces))
    half = np.array([0.0, trim.of.plan.rules.perimeter_joint / 2])
    feet = _in_one(
        _foot_line(trim, level, piece if piece.foot is not None else flat, rise.pieces)
        for piece, flat in zip(rise.pieces, level.pieces, strict=True)
        if not piece.sill
    )

    def stands(edge: Floats) -> bool:
        return any(
            line[0, 0] - BESIDE < edge[:, 0].min()
            and edge[:, 0].max() < line[-1, 0] + BESIDE
            and np.abs(edge[:, 1] - np.interp(edge[:, 0], line[:, 0], line[:, 1])).max() < TOUCH
            for line in feet
        )

    edges = [edge for edge in edges_of(free)[0] if edge[1, 0] > edge[0, 0] + EPS and stands(edge)]
    lines: list[Floats] = []
    for edge in sorted(edges, key=lambda edge: float(edge[0, 0])):
        if lines and float(np.abs(lines[-1][-1] - (edge[0] - half)).max()) < TOUCH:
            lines[-1] = np.vstack([lines[-1], edge[1] - half])
        else:
            lines.append(edge - half)
    return tuple(lines)


def _in_one(lines: Iterable[Floats]) -> list[Floats]:
    """Foot lines from the left, those that go on from each other as one: a corner in a straight wall parts no joint."""
    result: list[Floats] = []
    for line in sorted(lines, key=lambda line: float(line[0, 0])):
        if result and float(np.abs(result[-1][-1] - line[0]).max()) < TOUCH:
            result[-1] = np.vstack([result[-1], line[1:]])
        else:
            result.append(line)
    return result


def _top(trim: Trim, rise: Rise) -> float:
    if rise.id.kind != "plinth-side" or rise.tile is None:
        return 0.0
    # the top's tile covers the edge: the side ends a joint under it
    return rise.tile.joint + rise.tile.thickness - build_up_of(rise.tile, True, trim.of.plan.rules)


def _contact(trim: Trim, rise: Rise, middle: Floats) -> float:
    """Distance from a plinth or column that stands against this face."""
    joint = trim.of.plan.rules.perimeter_joint
    at = pair(Placing(line=rise.line).to_room(np.array([[float(middle[0]), 0.0]]))[0])
    near = [u for u in trim.of.shell.uprights if math.dist(u.at, at) < TOUCH and u.bottom - EPS <= middle[1] <= u.top + EPS]
    for upright in near:
        for face in (upright.first, upright.second):
            if face.run != rise.run_key:
                return owner_of(trim.of.outline, face).build_up + joint
    return joint


def _on_one_level(pieces: Iterable[Stretch]) -> tuple[Stretch, ...]:
    """Stretches that rise from a falling floor as if it were level at its lowest: their foot is cut afterwards."""
    low = min((float(p.foot[:, 1].min()) for p in pieces if p.foot is not None), default=0.0)
    return tuple(p if p.foot is None else replace(p, foot=None, bottom=low) for p in pieces)


def _boxes(pieces: Iterable[Stretch], top: float) -> BaseGeometry:
    return union_of([shape for p in pieces if p.x1 > p.x0 and not (shape := p.shape(top)).is_empty])
