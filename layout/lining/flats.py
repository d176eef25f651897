"""Flat surfaces: the floor and the tops of plinths, with what stands at each edge of them and what breaks them."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import Polygon

from layout.lining.owners import edge_id, on_arc, owner_of
from layout.lining.surfaces import Border, BreakOn, Placing, Surface
from layout.room.outlines import break_shape, build_up_of, frame_of, membrane_on
from layout.room.own_frame import own_frame
from layout.shapes import cleaned, offset_edges, rectangle, rings_of, union_of
from layout.standards.rules import DRAIN_JOINT_FROM
from layout.vectors import pair
from layout.words import worded

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from shapely.geometry.base import BaseGeometry

    from layout.errors import Point
    from layout.identity import SurfaceId
    from layout.plan.values import Break, Drain, Plan, Rules, Tile
    from layout.room.outlines import Outline
    from layout.room.shell import Cell, Face, Shell


def _drain_joint(drain: Drain, rules: Rules) -> float:
    if drain.joint is not None:
        return drain.joint
    if rules.drain_joint is not None:
        return rules.drain_joint
    return rules.movement_joint if max(drain.frame) > DRAIN_JOINT_FROM.value else 0.0


def _flat_breaks(outline: Outline, rules: Rules, tile: Tile | None) -> list[BreakOn]:
    """Breaks through floors and plinth tops, in the plan's x, y; circles have the corners that the room's own frame gives them."""
    result = []
    room = outline.room
    turn = own_frame(outline).turn if any(each.at is not None and each.diameter for each in room.pipes) else 0.0
    grout = tile.joint if tile else 0.0
    for number, drain in enumerate(room.drains, 1):
        joint = _drain_joint(drain, rules)
        clear = joint or grout
        hole = rectangle(drain.at, (drain.frame[0] + 2 * clear, drain.frame[1] + 2 * clear), drain.turn)
        result.append(BreakOn(drain.name, drain.kind, frame_of(drain), hole, joint, drain.at, flange=drain.flange, number=number))
    for number, each in numbered(room.pipes, room.fixings):
        if each.at is not None:
            result.append(break_on(each, each.at, rules, number, turn))
    return result


def numbered(*lists: Sequence[Break]) -> Iterator[tuple[int, Break]]:
    """Things of several lists, each with its number in its own, from 1."""
    for each in lists:
        yield from enumerate(each, 1)


def break_on(each: Break, at: Point, rules: Rules, number: int, turn: float = 0.0) -> BreakOn:
    """A pipe or fixing with the hole it takes out of the tile, in the axes of its surface; `number` among its kind, from 1 as typed.

    A circle has its corners as in axes turned by `turn` degrees.
    """
    joint = rules.pipe_joint
    shape, hole = (break_shape(each, at, turn, clear) for clear in (0.0, joint))
    if each.diameter:
        return BreakOn(each.name, "pipe", shape, hole, joint, at, diameter=each.diameter, collar=each.collar, number=number)
    return BreakOn(each.name, "fixing", shape, hole, joint, at, number=number)


def _borders(outline: Outline, shell: Shell, cell: Cell, polygon: Polygon, rules: Rules) -> list[tuple[Border, ...]]:
    """What stands at each edge of a cell's polygon, ring by ring as `rings_of` lists them."""
    thresholds = {(min(f.a, f.b), max(f.a, f.b)): f for f in shell.thresholds}
    result = []
    for ring in rings_of(polygon):
        points = [pair(point) for point in ring]
        found = []
        for k, a in enumerate(points):
            b = points[(k + 1) % len(points)]
            key = (min(a, b), max(a, b))
            face = thresholds.get(key) or shell.edge_faces.get(key)
            found.append(_border(outline, face, cell, rules) if face else Border("perimeter", "", 0, 0.0, 0.0))
        result.append(tuple(found))
    return result


def _border(outline: Outline, face: Face, cell: Cell, rules: Rules) -> Border:
    border = _straight_border(outline, face, cell, rules)
    return replace(border, straight=not on_arc(outline, face), of=replace(edge_id(outline, face), name=_edge_name(border)))


def _edge_name(border: Border) -> str:
    """What a person calls the edge at a border."""
    return worded("{label} threshold", label=border.label) if border.kind == "threshold" else border.label or "edge"


def _straight_border(outline: Outline, face: Face, cell: Cell, rules: Rules) -> Border:
    owner = owner_of(outline, face)
    if face.high == cell:  # a free edge: this surface runs over the side below it
        return Border(owner.kind, owner.label, owner.wall, owner.build_up, 0.0, grows=True)
    joint = rules.perimeter_joint
    label = worded("wall {wall}", wall=owner.wall) if owner.kind == "threshold" else owner.label
    membrane = membrane_on(owner.tanked, rules)
    under = owner.tile is not None and rules.foot == "floor-through"
    if face.tag.owner == "threshold":
        deep = outline.openings[face.tag.number].reach > 0.0
        # a floor that runs under the wall's tile ends in the doorway as it does beside it
        shown = max(membrane + rules.edge_gap - joint, 0.0) if under else owner.build_up
        return Border("threshold", label, owner.wall, 0.0 if deep else shown, joint, face=0.0 if deep else owner.build_up)
    if under:
        gap = membrane + rules.edge_gap
        return Border(owner.kind, label, owner.wall, gap, 0.0, face=owner.build_up, sealed=joint)
    if rules.foot == "cove" and owner.tile:
        return Border(owner.kind, label, owner.wall, membrane + rules.cove[1], joint, face=owner.build_up)
    return Border(owner.kind, label, owner.wall, owner.build_up, joint, face=owner.build_up)


def flat_surface(plan: Plan, outline: Outline, shell: Shell, cell: Cell, known: SurfaceId, tile: Tile) -> Surface:
    """The floor, or the top of a plinth: what is left of a cell of the plan inside its borders and breaks."""
    rules = plan.rules
    polygons = shell.cells[cell]
    gross = union_of(polygons) if len(polygons) != 1 else polygons[0]
    breaks = tuple(b for b in _flat_breaks(outline, rules, tile) if any(p.covers(shapely.Point(b.at)) for p in polygons))
    regions: list[BaseGeometry] = []
    borders: list[tuple[Border, ...]] = []
    for polygon in polygons:
        own = _borders(outline, shell, cell, polygon, rules)
        distances = [np.array([border.distance for border in ring]) for ring in own]
        regions.append(offset_edges(polygon, distances))
        borders += own
    free = cleaned(union_of(regions))
    region = cleaned(shapely.difference(free, union_of([b.hole for b in breaks]))) if breaks else free
    return Surface(
        id=known,
        tile=tile,
        gross=gross if len(polygons) == 1 else shapely.MultiPolygon(list(polygons)),
        field=free,
        region=region,
        placing=Placing(level=shell.heights[cell]),
        tanked=gross,
        breaks=breaks,
        borders=tuple(borders),
        cell=cell,
        build_up=build_up_of(tile, True, rules),
    )
