"""The lining: surfaces in their own axes, with what is taken off them before tile is laid.

Surfaces are right-handed as seen from the room. The floor and plinth tops use the plan's x, y. On
upright faces x runs right from the left-hand end as seen from the room, y up from the room's
substrate floor. A region is what tiles, tile joints, intermediate and structural joints fill.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Literal

import numpy as np
import shapely
from shapely import Polygon

from layout.errors import Finding, SetOutError
from layout.identity import SurfaceId
from layout.lining.borders import with_border
from layout.lining.surfaces import Border, BreakOn, JointKind, Placing, Surface
from layout.room.outlines import Outline, break_shape, build_outline, build_up_of, frame_of, typed_span
from layout.room.shell import FLOOR, Cell, Face, Shell, build_shell
from layout.shapes import circle, cleaned, following, offset_edges, parts_of, rectangle, rings_of, union_of
from layout.standards.rules import DRAIN_JOINT_FROM
from layout.units import EPS, TOUCH, turn_of

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from layout.errors import Point
    from layout.falls.levels import Falls
    from layout.plan.values import Break, Drain, Plan, Room, Rules, Tile
    from layout.room.outlines import OpeningAt
    from layout.room.rings import Run

    Floats = NDArray[np.float64]


DEEP = 5000.0
"""How far a door's box reaches below the floor at the walls: no floor falls further, mm."""
BESIDE = 200.0
"""How far tile may grow over the end of a face at an external corner, mm; more than any build-up."""
FOOT_STEP = 100.0
"""Levels along the foot of a curved face are taken this often, mm."""


@dataclass(frozen=True, slots=True, eq=False)
class Lining:
    """A room as surfaces and a shell, with findings made on the way."""

    plan: Plan
    room: Room
    outline: Outline
    shell: Shell
    surfaces: tuple[Surface, ...]
    findings: tuple[Finding, ...] = field(default=())
    falls: Falls | None = None

    @property
    def floor(self) -> Surface:
        """The floor, in all its parts."""
        return self.surfaces[0]


@dataclass(frozen=True, slots=True)
class _Owner:
    """What stands behind a face: for the distances that neighbours keep from it."""

    label: str
    wall: int
    tile: Tile | None
    tanked: bool
    build_up: float
    top: float
    tanking: float
    rank: tuple[int, int, int]
    kind: JointKind


def owner_of(outline: Outline, face: Face) -> _Owner:
    """Build-up, heights and rank of the wall, reveal, plinth or column that a face belongs to."""
    tag = face.tag
    if tag.owner in ("wall", "threshold", "reveal"):
        index = tag.number
        if tag.owner != "wall":
            index = outline.openings[tag.number].wall
        wall = outline.walls[index]
        kind: JointKind = "threshold" if tag.owner == "threshold" else "perimeter"
        label = wall.label if tag.owner != "reveal" else outline.openings[tag.number].opening.name
        rank = (0 if tag.owner == "wall" else 3, wall.run.number, tag.run if tag.owner == "reveal" else 0)
        number = 0 if tag.owner == "reveal" else wall.run.number
        return _Owner(label, number, wall.tile, wall.tanking_height > 0.0, wall.build_up, wall.tile_height, wall.tanking_height, rank, kind)
    solid = (outline.plinths if tag.owner == "plinth" else outline.columns)[tag.number]
    top = solid.height if tag.owner == "plinth" else solid.tile_height
    tanking = solid.height if tag.owner == "plinth" else solid.tanking_height
    rank = (2 if tag.owner == "plinth" else 1, tag.number, solid.runs[tag.run].number)
    return _Owner(
        solid.solid.name, 0, solid.tile, tanking > 0.0, solid.build_up, top, tanking, rank, "plinth" if tag.owner == "plinth" else "column"
    )


def _drain_joint(drain: Drain, rules: Rules) -> float:
    if drain.joint is not None:
        return drain.joint
    if rules.drain_joint is not None:
        return rules.drain_joint
    return rules.movement_joint if max(drain.frame) > DRAIN_JOINT_FROM.value else 0.0


def _flat_breaks(room: Room, rules: Rules, tile: Tile | None) -> list[BreakOn]:
    """Breaks through floors and plinth tops, in the plan's x, y."""
    result = []
    grout = tile.joint if tile else 0.0
    for drain in room.drains:
        joint = _drain_joint(drain, rules)
        clear = joint or grout
        hole = rectangle(drain.at, (drain.frame[0] + 2 * clear, drain.frame[1] + 2 * clear), drain.turn)
        result.append(BreakOn(drain.name, drain.kind, frame_of(drain), hole, joint, drain.at, flange=drain.flange))
    for each in (*room.pipes, *room.fixings):
        if each.at is not None:
            result.append(_break_on(each, break_shape(each), each.at, rules))
    return result


def _break_on(each: Break, shape: Polygon, at: Point, rules: Rules) -> BreakOn:
    joint = rules.pipe_joint
    if each.diameter:
        hole = circle(at, each.diameter + 2 * joint)
        return BreakOn(each.name, "pipe", shape, hole, joint, at, diameter=each.diameter, collar=each.collar)
    size = (each.size[0] + 2 * joint, each.size[1] + 2 * joint)
    return BreakOn(each.name, "fixing", shape, rectangle(at, size, each.turn), joint, at)


def _borders(outline: Outline, shell: Shell, cell: Cell, polygon: Polygon, rules: Rules) -> list[tuple[Border, ...]]:
    """What stands at each edge of a cell's polygon, ring by ring as `rings_of` lists them."""
    thresholds = {(min(f.a, f.b), max(f.a, f.b)): f for f in shell.thresholds}
    result = []
    for ring in rings_of(polygon):
        points = [(float(x), float(y)) for x, y in ring]
        found = []
        for k, a in enumerate(points):
            b = points[(k + 1) % len(points)]
            key = (min(a, b), max(a, b))
            face = thresholds.get(key) or shell.edge_faces.get(key)
            found.append(_border(outline, face, cell, rules) if face else Border("perimeter", "", 0, 0.0, 0.0))
        result.append(tuple(found))
    return result


def _border(outline: Outline, face: Face, cell: Cell, rules: Rules) -> Border:
    return replace(_straight_border(outline, face, cell, rules), straight=_on_straight_run(outline, face))


def _on_straight_run(outline: Outline, face: Face) -> bool:
    tag = face.tag
    if tag.owner in ("plinth", "column"):
        return (outline.plinths if tag.owner == "plinth" else outline.columns)[tag.number].runs[tag.run].straight
    index = tag.number if tag.owner == "wall" else outline.openings[tag.number].wall
    return outline.walls[index].run.straight


def _straight_border(outline: Outline, face: Face, cell: Cell, rules: Rules) -> Border:
    owner = owner_of(outline, face)
    if face.high == cell:  # a free edge: this surface runs over the side below it
        return Border(owner.kind, owner.label, owner.wall, owner.build_up, 0.0, grows=True)
    joint = rules.perimeter_joint
    if face.tag.owner == "threshold":
        deep = outline.openings[face.tag.number].opening.depth > 0.0
        return Border("threshold", owner.label, owner.wall, 0.0 if deep else owner.build_up, joint)
    membrane = rules.membrane if owner.tanked else 0.0
    if rules.foot == "floor-through" and owner.tile:
        return Border(owner.kind, owner.label, owner.wall, membrane, 0.0)
    if rules.foot == "cove" and owner.tile:
        return Border(owner.kind, owner.label, owner.wall, membrane + rules.cove[1], joint)
    return Border(owner.kind, owner.label, owner.wall, owner.build_up, joint)


def _flat_surface(plan: Plan, outline: Outline, shell: Shell, cell: Cell, known: SurfaceId, tile: Tile) -> Surface:
    rules = plan.rules
    polygons = shell.cells[cell]
    gross = union_of(polygons) if len(polygons) != 1 else polygons[0]
    breaks = tuple(b for b in _flat_breaks(outline.room, rules, tile) if any(p.covers(shapely.Point(b.at)) for p in polygons))
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


@dataclass(frozen=True, slots=True, eq=False)
class _Piece:
    """A stretch of an upright face in its own x, with the level of what stands before it.

    `foot` (n, 2) is the line that it rises from where the floor falls along it, own axes.
    """

    x0: float
    x1: float
    bottom: float
    low: Cell
    foot: Floats | None = None

    def shape(self, top: float) -> Polygon:
        """The face of the piece up to a level; empty where it does not reach."""
        if self.foot is None:
            return shapely.box(self.x0, self.bottom, self.x1, top) if top > self.bottom + EPS else Polygon()
        return Polygon([*self.foot, (self.x1, top), (self.x0, top)]) if top > self.foot[:, 1].max() + EPS else Polygon()


@dataclass(slots=True)
class _Upright:
    """What an upright surface is made of before it is cut to shape."""

    id: SurfaceId
    run_key: tuple[str, int, int]
    length: float
    line: Floats
    tile: Tile | None
    tile_top: float
    tanked_top: float
    build_up: float
    pieces: list[_Piece] = field(default_factory=list)
    openings: list[tuple[Polygon, float]] = field(default_factory=list)
    breaks: list[BreakOn] = field(default_factory=list)
    wall: int = 0


class _Uprights:
    """Makes every upright surface of a room from the faces of its shell."""

    def __init__(self, plan: Plan, room: int, outline: Outline, shell: Shell, falls: Falls | None) -> None:
        self.room = room
        self.plan, self.outline, self.shell = plan, outline, shell
        self.falls = falls
        self.rules = plan.rules
        self.by_run: dict[tuple[str, int, int], list[Face]] = {}
        for face in shell.faces:
            self.by_run.setdefault(face.run, []).append(face)
        self.ends = self._end_distances()

    def _end_distances(self) -> dict[tuple[tuple[str, int, int], Point], float]:
        """How far the tile of a run keeps off each upright junction, by run and point.

        The lower wall number runs through; the other stops at its finished face and a joint.
        """
        result: dict[tuple[tuple[str, int, int], Point], float] = {}
        for upright in self.shell.uprights:
            owners = {face.run: owner_of(self.outline, face) for face in (upright.first, upright.second)}
            for face, other in ((upright.first, upright.second), (upright.second, upright.first)):
                own, neighbour = owners[face.run], owners[other.run]
                through = own.rank < neighbour.rank
                membrane = self.rules.membrane if neighbour.tanked else 0.0
                if upright.angle < 180.0:
                    d = membrane if through else neighbour.build_up + self.rules.perimeter_joint
                else:
                    under = neighbour.tile.thickness + neighbour.tile.joint if neighbour.tile else 0.0
                    d = neighbour.build_up if through else max(neighbour.build_up - under, 0.0)
                cosine, sine = turn_of(round(upright.angle, 6))
                key = (face.run, upright.at)
                if abs(sine) > 0.1 and key not in result:
                    result[key] = (d + own.build_up * cosine) / sine
        return result

    def _with_feet(self, up: _Upright) -> _Upright:
        """The same, its pieces rising from the floor as it falls."""
        if self.falls is not None:
            up.pieces = [self._sunk(up, piece) if piece.low == FLOOR else piece for piece in up.pieces]
        return up

    def _sunk(self, up: _Upright, piece: _Piece) -> _Piece:
        assert self.falls is not None
        placing = Placing(line=up.line)
        x = np.unique(
            np.append(np.linspace(piece.x0, piece.x1, max(2, math.ceil((piece.x1 - piece.x0) / FOOT_STEP) + 1)), self._bends(up, piece))
        )
        plan = placing.to_room(np.column_stack([x, np.zeros(len(x))]))[:, :2]
        level = self.falls.at(plan) - self.outline.room.levels.floor
        line = shapely.LineString(np.column_stack([x, np.round(level, 3)])).simplify(TOUCH / 2)
        return replace(piece, foot=shapely.get_coordinates(line))

    def _bends(self, up: _Upright, piece: _Piece) -> Floats:
        """Where lines between facets meet a face, own x."""
        assert self.falls is not None
        line = shapely.LineString(up.line)
        corners = np.concatenate([shapely.get_coordinates(f.polygon) for f in self.falls.facets])
        near = np.asarray(shapely.distance(shapely.points(corners), line)) < 1.0
        x = np.asarray(shapely.line_locate_point(line, shapely.points(corners[near])))
        return x[(x > piece.x0) & (x < piece.x1)]

    def wall(self, index: int) -> _Upright:
        wall = self.outline.walls[index]
        run = wall.run
        up = _Upright(
            id=SurfaceId(self.room, "wall", run.number, 0, wall.label),
            run_key=("wall", index, index),
            length=run.length,
            line=run.points[::-1],
            tile=wall.tile,
            tile_top=wall.tile_height,
            tanked_top=wall.tanking_height,
            build_up=wall.build_up,
            wall=run.number,
        )
        for face in self.by_run.get(up.run_key, ()):
            up.pieces.append(_Piece(run.length - face.tag.s1, run.length - face.tag.s0, face.bottom, face.low))
        for opening in self.outline.openings:
            if opening.wall == index:
                self._add_opening(up, opening, run)
        for each in (*self.outline.room.pipes, *self.outline.room.fixings):
            if each.wall is not None and self.outline.wall_index(each.wall) == index:
                up.breaks.append(self._wall_break(each, run, index))
        return up

    def _add_opening(self, up: _Upright, opening: OpeningAt, run: Run) -> None:
        x0, x1 = run.length - opening.s1, run.length - opening.s0
        box = shapely.box(x0, opening.opening.sill if not opening.door else -DEEP, x1, opening.opening.head)
        up.openings.append((box, opening.opening.depth))
        if opening.door:
            up.pieces.append(_Piece(x0, x1, 0.0, FLOOR))

    def _wall_break(self, each: Break, run: Run, index: int) -> BreakOn:
        s = {"left": run.length - each.offset, "right": each.offset}.get(each.measured_from)
        if s is None:
            assert each.wall is not None
            s = typed_span(self.outline, index, each.wall, each.offset)
        at = (run.length - s, each.level)
        shape = circle(at, each.diameter) if each.diameter else rectangle(at, each.size, each.turn)
        return _break_on(each, shape, at, self.rules)

    def side(self, kind: Literal["plinth", "column"], index: int, run_index: int) -> _Upright:
        solid = (self.outline.plinths if kind == "plinth" else self.outline.columns)[index]
        run = solid.runs[run_index]
        top = solid.height if kind == "plinth" else solid.tile_height
        up = _Upright(
            id=SurfaceId(
                self.room,
                "plinth-side" if kind == "plinth" else "column-side",
                index + 1,
                run.number,
                f"{solid.solid.name} side {run.number}",
            ),
            run_key=(kind, index, run_index),
            length=run.length,
            line=run.points,
            tile=solid.tile,
            tile_top=top,
            tanked_top=solid.height if kind == "plinth" else solid.tanking_height,
            build_up=solid.build_up,
        )
        up.pieces += [_Piece(face.tag.s0, face.tag.s1, face.bottom, face.low) for face in self.by_run.get(up.run_key, ())]
        return up

    def reveals(self, number: int) -> list[_Upright]:
        """The jambs of an opening with depth, as seen from the room's side of the wall."""
        opening = self.outline.openings[number]
        depth, head = opening.opening.depth, opening.opening.head
        wall = self.outline.walls[opening.wall]
        if depth <= 0.0:
            return []
        a, b = wall.run.at(opening.s0), wall.run.at(opening.s1)
        out = np.array([(b - a)[1], -(b - a)[0]]) / max(float(np.hypot(*(b - a))), EPS) * depth
        # seen from inside, the anticlockwise end of a wall is on the left
        lines = {"left": np.array([b, b + out]), "right": np.array([a + out, a])}
        result = []
        for side, line in lines.items():
            up = _Upright(
                id=SurfaceId(self.room, "reveal", opening.index + 1, 1 if side == "left" else 2, f"{opening.opening.name} {side}"),
                run_key=("reveal", number, 1 if side == "left" else 0),
                length=depth,
                line=line,
                tile=wall.tile,
                tile_top=min(head, wall.tile_height),
                tanked_top=min(head, wall.tanking_height),
                build_up=wall.build_up,
                wall=wall.run.number,
            )
            up.pieces.append(_Piece(0.0, depth, opening.opening.sill, FLOOR))
            result.append(up)
        return result

    def surface(self, up: _Upright) -> Surface | None:
        up = self._with_feet(up)
        top = max(up.tile_top if up.tile else 0.0, up.tanked_top if math.isfinite(up.tanked_top) else 0.0)
        holes = union_of([box for box, _ in up.openings])
        gross = shapely.difference(_boxes(up.pieces, top), holes)
        if gross.is_empty:
            return None
        tanked = shapely.difference(_boxes(up.pieces, min(up.tanked_top, top)), holes) if up.tanked_top > 0.0 else Polygon()
        free: BaseGeometry = Polygon()
        region: BaseGeometry = Polygon()
        if up.tile:
            pieces, up.pieces = up.pieces, _on_one_level(up.pieces)
            face = shapely.difference(_boxes(up.pieces, up.tile_top), holes)
            free = cleaned(union_of([self._region(up, part) for part in parts_of(face)]))
            free = cleaned(
                shapely.difference(free, union_of([self._under_foot(up, piece, pieces) for piece in pieces if piece.foot is not None]))
            )
            region = cleaned(shapely.difference(free, union_of([b.hole for b in up.breaks]))) if up.breaks else free
        return Surface(
            id=up.id,
            tile=up.tile,
            gross=gross,
            field=free,
            region=region,
            placing=Placing(line=up.line),
            tanked=tanked,
            breaks=tuple(up.breaks),
            wall=up.wall,
            build_up=up.build_up,
            run=up.run_key,
        )

    def _region(self, up: _Upright, part: Polygon) -> BaseGeometry:
        distances = []
        for ring in rings_of(part):
            ends = following(ring)
            distances.append(np.array([self._edge_distance(up, a, b) for a, b in zip(ring, ends, strict=True)]))
        return offset_edges(part, distances)

    def _edge_distance(self, up: _Upright, a: Floats, b: Floats) -> float:
        rules = self.rules
        middle = (a + b) / 2.0
        for box, depth in up.openings:
            if box.exterior.distance(shapely.Point(middle)) < EPS and box.bounds[0] - EPS < middle[0] < box.bounds[2] + EPS:
                return 0.0 if depth > 0.0 else rules.perimeter_joint
        if abs(b[1] - a[1]) < abs(b[0] - a[0]):  # level edges: inside above is a foot, below is the top
            return self._foot(up, middle) if b[0] > a[0] else self._top(up)
        ends = (0.0, up.length)
        for k, end in enumerate(ends):
            if abs(middle[0] - end) < TOUCH:
                at = up.line[0] if k == 0 else up.line[-1]
                key = (up.run_key, (float(at[0]), float(at[1])))
                return self.ends.get(key, 0.0 if up.id.kind == "reveal" else rules.perimeter_joint)
        return self._contact(up, middle)

    def _foot(self, up: _Upright, middle: Floats) -> float:
        rules = self.rules
        low = next((p.low for p in up.pieces if p.x0 - EPS <= middle[0] <= p.x1 + EPS and abs(p.bottom - middle[1]) < EPS), FLOOR)
        tile = self.outline.plinths[low - 1].tile if low > 0 else self.plan.tile(self.outline.room.floor_tile)
        below = build_up_of(tile, True, rules)
        if rules.foot == "floor-through":
            return below + rules.perimeter_joint
        if rules.foot == "cove":
            return below + rules.cove[0] + rules.perimeter_joint
        return rules.membrane

    def _under_foot(self, up: _Upright, piece: _Piece, feet: list[_Piece]) -> Polygon:
        """What of a face lies under its foot, where the floor falls along it, and as far beside its ends as it may grow there."""
        assert piece.foot is not None
        lowest = min(p.bottom for p in up.pieces if p.low == FLOOR)
        foot = piece.foot
        if self.rules.foot == "cove" and self.rules.cove_set == "level":
            high = float(max(p.foot[:, 1].max() for p in feet if p.foot is not None))
            foot = np.array([[piece.x0, high], [piece.x1, high]])
        line = foot + np.array([0.0, self._foot(up, np.array([(piece.x0 + piece.x1) / 2, lowest]))])
        left, right = (BESIDE if abs(end) < TOUCH else 0.0 for end in (piece.x0, piece.x1 - up.length))
        (x0, y0), (x1, y1) = line[0], line[-1]
        deep = [(x1 + right, y1), (x1 + right, -2 * DEEP), (x0 - left, -2 * DEEP), (x0 - left, y0)]
        return Polygon([*line, *deep])

    def _top(self, up: _Upright) -> float:
        if up.id.kind != "plinth-side" or up.tile is None:
            return 0.0
        # the top's tile covers the edge: the side ends a joint under it
        return up.tile.joint + up.tile.thickness - build_up_of(up.tile, True, self.rules)

    def _contact(self, up: _Upright, middle: Floats) -> float:
        """Distance from a plinth or column that stands against this face."""
        x = float(middle[0])
        point = Placing(line=up.line).to_room(np.array([[x, 0.0]]))[0, :2]
        at = (float(point[0]), float(point[1]))
        near = [u for u in self.shell.uprights if math.dist(u.at, at) < TOUCH and u.bottom - EPS <= middle[1] <= u.top + EPS]
        for upright in near:
            for face in (upright.first, upright.second):
                if face.run != up.run_key:
                    return owner_of(self.outline, face).build_up + self.rules.perimeter_joint
        return self.rules.perimeter_joint


def _on_one_level(pieces: list[_Piece]) -> list[_Piece]:
    """Pieces that rise from a falling floor as if it were level at its lowest: their foot is cut afterwards."""
    low = min((float(p.foot[:, 1].min()) for p in pieces if p.foot is not None), default=0.0)
    return [p if p.foot is None else replace(p, foot=None, bottom=low) for p in pieces]


def _boxes(pieces: Iterable[_Piece], top: float) -> BaseGeometry:
    return union_of([shape for p in pieces if p.x1 > p.x0 and not (shape := p.shape(top)).is_empty])


def _upright_surfaces(
    plan: Plan, room: int, outline: Outline, shell: Shell, falls: Falls | None
) -> tuple[list[Surface], list[Surface], list[Surface], list[Surface]]:
    maker = _Uprights(plan, room, outline, shell, falls)

    def made(ups: Iterable[_Upright]) -> list[Surface]:
        return [surface for up in ups if (surface := maker.surface(up)) is not None]

    order = sorted(range(len(outline.walls)), key=lambda k: outline.walls[k].run.number)
    walls = made(maker.wall(k) for k in order)
    plinths: list[Surface] = []
    for k, solid in enumerate(outline.plinths):
        tile = solid.tile or plan.tile("plinth")
        if shell.cells.get(k + 1):
            plinths.append(
                _flat_surface(plan, outline, shell, k + 1, SurfaceId(room, "plinth-top", k + 1, 0, f"{solid.solid.name} top"), tile)
            )
        sides = sorted(range(len(solid.runs)), key=lambda r: solid.runs[r].number)
        plinths += made(maker.side("plinth", k, r) for r in sides)
    columns: list[Surface] = []
    for k, solid in enumerate(outline.columns):
        sides = sorted(range(len(solid.runs)), key=lambda r: solid.runs[r].number)
        columns += made(maker.side("column", k, r) for r in sides)
    reveals: list[Surface] = []
    for number in sorted(range(len(outline.openings)), key=lambda n: outline.openings[n].index):
        reveals += made(maker.reveals(number))
    return walls, plinths, columns, reveals


def build_lining(plan: Plan, index: int) -> Lining:
    """The surfaces of one room.

    Raises
    ------
    PlanFaults
        If the room's geometry is not sound.
    SetOutError
        If the floor leaves no room for tile.
    """
    outline = build_outline(plan, index)
    room = plan.rooms[index]
    shell = build_shell(outline)
    floor = _flat_surface(plan, outline, shell, FLOOR, SurfaceId(index, "floor", 0, 0, "floor"), plan.tile(room.floor_tile))
    if floor.region.is_empty:
        place = f"{plan.source}: rooms[{index}]"
        raise SetOutError(
            place, f'nothing of the floor of "{room.name}" is left inside its walls\' build-up and joints', "check the outline's size in mm"
        )
    floor, bands = with_border(plan, outline, floor)
    falls = None
    if room.falls:
        from layout.falls.levels import build_falls  # noqa: PLC0415  # a level floor does without

        falls = build_falls(plan, index, outline)
    walls, plinths, columns, reveals = _upright_surfaces(plan, index, outline, shell, falls)
    findings = [Finding(code="openings-merged", text=text) for text in outline.merged_openings]
    return Lining(plan, room, outline, shell, (floor, *bands, *walls, *plinths, *columns, *reveals), tuple(findings), falls)
