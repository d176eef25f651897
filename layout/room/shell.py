"""The shell of a room in plan: which faces rise where, how they meet, what their corners are.

A room in plan is a patchwork of cells: the floor (height 0), plinths (their height), solid (walls
and columns, without top) and the void beyond a threshold. Wherever two cells of different height
share an edge, a face rises from the lower to the higher. At a point, the open sectors at each level
tell whether the upright line there is internal (they open less than 180 degrees), external or none.
Nothing about tape or tile is decided here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias

import shapely
from shapely import Polygon

from layout.shapes import parts_of, signed_area
from layout.standards.rules import UPRIGHT_LEAST_TURN

if TYPE_CHECKING:
    from collections.abc import Iterable

    from layout.errors import Point
    from layout.room.outlines import Outline
    from layout.room.rings import Tag

import numpy as np

Cell: TypeAlias = int
FLOOR: Cell = 0
SOLID: Cell = -1
VOID: Cell = -2
"""Cells: plinth k is k + 1."""

Bend: TypeAlias = Literal["internal", "external"]


@dataclass(frozen=True, slots=True)
class Face:
    """A piece of upright face: from `a` to `b` with the higher cell on the left of travel.

    `low` and `high` are cells, `bottom` and `top` levels in mm (top infinite on walls); `tag` names
    the wall or side and the stretch along it.
    """

    a: Point
    b: Point
    low: Cell
    high: Cell
    bottom: float
    top: float
    tag: Tag

    @property
    def length(self) -> float:
        """Length in plan, mm."""
        return math.dist(self.a, self.b)

    @property
    def run(self) -> tuple[str, int, int]:
        """Which wall or side it is a piece of."""
        return self.tag.owner, self.tag.number, self.tag.run


@dataclass(frozen=True, slots=True)
class Upright:
    """An upright junction at a point, between the two faces that bound the open sectors there."""

    at: Point
    bottom: float
    top: float
    angle: float
    first: Face
    second: Face

    @property
    def bend(self) -> Bend:
        """Internal where the room opens less than 180 degrees."""
        return "internal" if self.angle < 180.0 else "external"


@dataclass(frozen=True, slots=True)
class Corner:
    """A point where junctions meet: how many internal and external, the room's angle in plan."""

    at: Point
    level: float
    internal: int
    external: int
    angle: float
    faces: tuple[Face, ...]

    @property
    def kind(self) -> str:
        """III, IIE, IEE, EEE, or the count of edges where there are not three."""
        edges = self.internal + self.external
        return "I" * self.internal + "E" * self.external if edges == 3 else f"{edges} edges"


@dataclass(frozen=True, slots=True, eq=False)
class Shell:
    """Faces, upright junctions and corners of a room, and the flat cells between them."""

    faces: tuple[Face, ...]
    thresholds: tuple[Face, ...]
    uprights: tuple[Upright, ...]
    corners: tuple[Corner, ...]
    cells: dict[Cell, tuple[Polygon, ...]]
    heights: dict[Cell, float]
    edge_faces: dict[tuple[Point, Point], Face]


class _Plan:
    """Directed edges with the cell on their left and the tags that name them."""

    def __init__(self, outline: Outline) -> None:
        self.left: dict[tuple[Point, Point], Cell] = {}
        self.tags: dict[tuple[Point, Point], list[Tag]] = {}
        default: list[tuple[Point, Point]] = []
        rings = [(SOLID, ring) for ring in outline.column_rings]
        rings += [(k + 1, ring) for k, ring in enumerate(outline.plinth_rings)]
        for cell, ring in rings:
            for a, b, tag in _edges(ring.points, ring.tags):
                self.left[a, b] = cell
                default.append((b, a))
                self._tag(a, b, tag)
        for a, b, tag in _edges(outline.outer.points, outline.outer.tags):
            self.left[b, a] = VOID if tag.owner == "threshold" else SOLID
            default.append((a, b))
            self._tag(a, b, tag)
        for edge in default:
            self.left.setdefault(edge, FLOOR)
        self.out: dict[Point, list[Point]] = {}
        for a, b in self.left:
            self.out.setdefault(a, []).append(b)
        for a, ends in self.out.items():
            ends.sort(key=lambda b, a=a: math.atan2(b[1] - a[1], b[0] - a[0]))  # type: ignore[misc]

    def _tag(self, a: Point, b: Point, tag: Tag) -> None:
        self.tags.setdefault((min(a, b), max(a, b)), []).append(tag)

    def tag(self, a: Point, b: Point, high: Cell) -> Tag:
        """The tag of the face of the higher cell."""
        tags = self.tags[min(a, b), max(a, b)]
        wanted = ("wall", "reveal", "threshold", "column") if high < 0 else ("plinth",)
        for tag in tags:
            if tag.owner in wanted and (high < 0 or tag.number == high - 1):
                return tag
        return tags[0]


def _edges(points: list[Point], tags: list[Tag]) -> Iterable[tuple[Point, Point, Tag]]:
    for k, (point, tag) in enumerate(zip(points, tags, strict=True)):
        yield point, points[(k + 1) % len(points)], tag


def _cells(plan: _Plan, wanted: Iterable[Cell]) -> dict[Cell, tuple[Polygon, ...]]:
    """Polygons of each cell, traced with the cell on the left."""
    result: dict[Cell, tuple[Polygon, ...]] = {}
    for cell in wanted:
        edges = {edge for edge, left in plan.left.items() if left == cell and plan.left[edge[1], edge[0]] != cell}
        shells: list[np.ndarray] = []
        holes: list[np.ndarray] = []
        while edges:
            start = min(edges)
            ring, edge = [start[0]], start
            edges.discard(start)
            while edge[1] != start[0] or _next(plan, edge, edges, cell) is not None:
                following = _next(plan, edge, edges, cell)
                if following is None:
                    break
                edges.discard(following)
                ring.append(following[0])
                edge = following
            points = np.array(ring)
            if len(points) >= 3:
                (shells if signed_area(points) > 0.0 else holes).append(points)
        polygons = [Polygon(each) for each in shells]
        inner = [Polygon(each) for each in holes]
        parts: list[Polygon] = []
        for polygon in polygons:
            own = [hole.exterior.coords for hole in inner if polygon.contains(hole.representative_point())]
            whole = Polygon(polygon.exterior.coords, own)
            parts += [whole] if whole.is_valid else parts_of(shapely.make_valid(whole))
        result[cell] = tuple(sorted(parts, key=lambda p: (p.bounds[1], p.bounds[0])))
    return result


def _next(plan: _Plan, edge: tuple[Point, Point], left: set[tuple[Point, Point]], cell: Cell) -> tuple[Point, Point] | None:
    """The unused edge that keeps the cell on the left: the first one clockwise from the way back."""
    del cell
    ends = plan.out[edge[1]]
    back = ends.index(edge[0])
    for step in range(1, len(ends) + 1):
        candidate = (edge[1], ends[(back - step) % len(ends)])
        if candidate in left:
            return candidate
    return None


def _sectors(plan: _Plan, at: Point) -> list[tuple[Point, Cell, float]]:
    """Round a point, anticlockwise: an edge's end, the cell after it, and the angle to the next edge."""
    ends = plan.out[at]
    result = []
    for k, end in enumerate(ends):
        after = ends[(k + 1) % len(ends)]
        first = math.atan2(end[1] - at[1], end[0] - at[0])
        second = math.atan2(after[1] - at[1], after[0] - at[0])
        angle = math.degrees(second - first) % 360.0
        result.append((end, plan.left[at, end], angle or 360.0))
    return result


def _open_runs(sectors: list[tuple[Point, Cell, float]], heights: dict[Cell, float], level: float) -> list[tuple[Point, Point, float]]:
    """Open stretches round a point just above a level: ends of their bounding edges and their angle."""
    n = len(sectors)
    is_open = [heights[cell] <= level for _, cell, _ in sectors]
    if all(is_open) or not any(is_open):
        return []
    runs = []
    for k in range(n):
        if is_open[k] and not is_open[k - 1]:
            angle, m = 0.0, k
            while is_open[m % n]:
                angle += sectors[m % n][2]
                m += 1
            runs.append((sectors[k][0], sectors[m % n][0], angle))
    return runs


def build_shell(outline: Outline) -> Shell:
    """Faces, uprights and corners of a room."""
    plan = _Plan(outline)
    heights: dict[Cell, float] = {FLOOR: 0.0, SOLID: math.inf, VOID: math.inf}
    heights |= {k + 1: solid.height for k, solid in enumerate(outline.plinths)}
    faces: dict[tuple[Point, Point], Face] = {}
    thresholds: list[Face] = []
    for (a, b), high in plan.left.items():
        low = plan.left[b, a]
        if heights[low] >= heights[high]:
            continue
        face = Face(a, b, low, high, heights[low], heights[high], plan.tag(a, b, high))
        if high == VOID:
            thresholds.append(face)
        else:
            faces[min(a, b), max(a, b)] = face
    uprights: list[Upright] = []
    corners: list[Corner] = []
    for at in plan.out:
        if any(VOID in (plan.left[at, end], plan.left[end, at]) for end in plan.out[at]):
            continue  # a jamb: nothing rises on the side of the threshold
        sectors = _sectors(plan, at)
        _at_point(at, sectors, heights, faces, uprights, corners)
    return Shell(
        faces=tuple(faces.values()),
        thresholds=tuple(thresholds),
        uprights=tuple(_joined(uprights)),
        corners=tuple(corners),
        cells=_cells(plan, [cell for cell in heights if cell >= 0]),
        heights=heights,
        edge_faces=faces,
    )


def _at_point(
    at: Point,
    sectors: list[tuple[Point, Cell, float]],
    heights: dict[Cell, float],
    faces: dict[tuple[Point, Point], Face],
    uprights: list[Upright],
    corners: list[Corner],
) -> None:
    levels = sorted({heights[cell] for _, cell, _ in sectors if heights[cell] < math.inf})
    least = UPRIGHT_LEAST_TURN.value
    below: list[tuple[Point, Point, float]] = []
    bent: set[tuple[Point, Point, float]] = set()
    for k, level in enumerate(levels):
        above = _open_runs(sectors, heights, level)
        top = levels[k + 1] if k + 1 < len(levels) else math.inf
        for first, second, angle in above:
            one, two = faces[min(at, first), max(at, first)], faces[min(at, second), max(at, second)]
            if abs(angle - 180.0) >= least and one.run != two.run:
                uprights.append(Upright(at, level, top, angle, one, two))
                bent.add((first, second, angle))
        changed = sorted(run for run in {*below} ^ {*above} if run in bent)
        meeting = [faces[key] for end, _, _ in sectors if (key := (min(at, end), max(at, end))) in faces]
        internal = [face for face in meeting if face.bottom == level]
        external = [face for face in meeting if face.top == level]
        bends = [angle < 180.0 for _, _, angle in changed]
        if changed:
            corners.append(
                Corner(
                    at,
                    level,
                    len(internal) + bends.count(True),
                    len(external) + bends.count(False),
                    changed[0][2],
                    tuple(internal + external),
                )
            )
        below = above


def _joined(uprights: list[Upright]) -> list[Upright]:
    """Uprights at one point between the same faces, one above the other, are one."""
    result: list[Upright] = []
    for each in uprights:
        last = result[-1] if result else None
        if last and last.at == each.at and last.top == each.bottom and (last.first, last.second) == (each.first, each.second):
            result[-1] = Upright(last.at, last.bottom, each.top, last.angle, last.first, last.second)
        else:
            result.append(each)
    return result
