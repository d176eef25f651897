"""What a surface is: its faces in own axes, what borders it, what breaks it, where it stands in the room."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias

import numpy as np
import shapely
from shapely import Polygon

from layout.identity import EdgeId
from layout.room.shell import FLOOR, Cell
from layout.shapes import cleaned, matched_edges, offset_edges, parts_of, rings_of, union_of
from layout.units import EPS

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from layout.errors import Point
    from layout.identity import EdgeKind, SurfaceId, SurfaceKind
    from layout.plan.values import Tile
    from layout.vectors import Floats

FREE = EdgeId("free", name="edge")
"""An edge at which nothing stands."""
IN_LINE = 0.002
"""A corner this near to the line of a wall was put into it: two roundings of what is typed in thousandths, mm."""
JointKind: TypeAlias = Literal["perimeter", "threshold", "plinth", "column", "drain", "pipe"]


@dataclass(frozen=True, slots=True, eq=False)
class Placing:
    """Where a surface stands in the room: flat at a level, or along a line in plan.

    `line` (n, 2) from the left-hand end to the right-hand end as seen from the room; None if flat.
    """

    level: float = 0.0
    line: Floats | None = None

    def to_room(self, points: Floats) -> Floats:
        """Own axes (n, 2) to room x, y, z (n, 3), on the bare substrate, mm."""
        if self.line is None:
            return np.column_stack([points, np.full(len(points), self.level)])
        steps = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(self.line, axis=0).T))])
        x = np.interp(points[:, 0], steps, self.line[:, 0])
        y = np.interp(points[:, 0], steps, self.line[:, 1])
        return np.column_stack([x, y, points[:, 1]])

    @property
    def length(self) -> float:
        """Length along the line, mm; 0 if flat."""
        return 0.0 if self.line is None else float(np.hypot(*np.diff(self.line, axis=0).T).sum())

    def along(self, at: Point) -> float:
        """X of the nearest point of the line to a point of the plan, mm."""
        return 0.0 if self.line is None else float(shapely.LineString(self.line).project(shapely.Point(at)))


@dataclass(frozen=True, slots=True, eq=False)
class BreakOn:
    """A break in a surface's own axes: its bare shape and the hole it takes out of the tile.

    `number` counts the drains, pipes or fixings of the room from 1 as typed.
    """

    name: str
    kind: Literal["pipe", "fixing", "gully", "channel"]
    shape: Polygon
    hole: Polygon
    joint: float
    at: Point
    diameter: float = 0.0
    flange: float = 0.0
    collar: float | None = None
    number: int = 0

    @property
    def id(self) -> EdgeId:
        """What its edges are known by."""
        kind: EdgeKind = self.kind if self.kind == "pipe" or self.kind == "fixing" else "drain"
        return EdgeId(kind, self.number, self.name)

    def reach(self, lap: float) -> float:
        """How far its flange or collar reaches beyond it, mm; `lap` is a collar's where the plan gives none."""
        if self.kind in ("gully", "channel"):
            return self.flange
        return max((self.collar - self.diameter) / 2, 0.0) if self.collar and self.diameter else lap

    @property
    def ring_length(self) -> float:
        """Centre line of the sealant joint round it, mm; exact for circles."""
        if self.diameter:
            return math.pi * (self.diameter + self.joint)
        return float(self.shape.length + 4.0 * self.joint)


@dataclass(frozen=True, slots=True)
class Border:
    """An edge of a flat surface's substrate: what stands there and how far tile keeps off it.

    `build_up` mm from the substrate edge to the finished face; `joint` mm beyond; `distance` is
    their sum, negative where the surface grows over an edge. `wall` is the wall number or 0. `band` is the
    depth of a border course beyond it, with its joint to the field. Where the floor runs under the tile of the face,
    `sealed` is the joint between them, mm; it is seen along the finished face, `face` mm from the substrate edge. `of` is what
    stands there as an identity.
    """

    kind: JointKind
    label: str
    wall: int
    build_up: float
    joint: float
    grows: bool = False
    straight: bool = True
    band: float = 0.0
    face: float = 0.0
    sealed: float = 0.0
    of: EdgeId = FREE

    @property
    def distance(self) -> float:
        """How far the region's edge stands inside the substrate's, mm."""
        return -self.build_up if self.grows else self.build_up + self.joint


@dataclass(frozen=True, slots=True, eq=False)
class Surface:
    """One surface, in all its parts.

    `gross`, `field` and `region` are polygons in own axes, mm: the bare face, what is left inside
    the joints at its borders, and that less the breaks. `borders` has one entry for each edge of
    `rings_of(gross)`, flat surfaces only. `tanked` is the membrane on it. A floor inside a border course keeps
    the field and region with that course as `joint_field` and `joint_region`; its own region holds the joint to the band.
    `saw_lines` are strips, a joint wide, along which its tiles are cut through: hips and valleys of a floor that falls.
    `foot` are the centre lines (n, 2) of the joints on which the tile of an upright face stands above a cove; `behind` the lines (n, 2) on which
    it stands behind the floor or the tile of a plinth, with how deep, mm.
    """

    id: SurfaceId
    tile: Tile | None
    gross: BaseGeometry
    field: BaseGeometry
    region: BaseGeometry
    placing: Placing
    tanked: BaseGeometry
    breaks: tuple[BreakOn, ...] = ()
    borders: tuple[tuple[Border, ...], ...] = ()
    wall: int = 0
    cell: Cell = FLOOR
    build_up: float = 0.0
    run: tuple[str, int, int] | None = None
    joint_field: BaseGeometry | None = None
    joint_region: BaseGeometry | None = None
    saw_lines: BaseGeometry | None = None
    foot: tuple[Floats, ...] = ()
    behind: tuple[tuple[Floats, float], ...] = ()

    @property
    def name(self) -> str:
        """What a person calls it."""
        return self.id.name

    @property
    def kind(self) -> SurfaceKind:
        """What it is."""
        return self.id.kind

    @property
    def divided_field(self) -> BaseGeometry:
        """The field that movement joints divide: with its border course."""
        return self.field if self.joint_field is None else self.joint_field

    @property
    def divided_region(self) -> BaseGeometry:
        """The region that movement joints divide: with its border course."""
        return self.region if self.joint_region is None else self.joint_region

    def to_lay(self, bay: BaseGeometry) -> BaseGeometry:
        """What of a bay takes tile: inside a border course its joint to the band does not, nor do saw lines."""
        shape = bay if self.joint_region is None else cleaned(shapely.intersection(bay, self.field))
        return shape if self.saw_lines is None else cleaned(shapely.difference(shape, self.saw_lines))

    def bordered(self, inset: float | None = None) -> tuple[Floats, list[Border]]:
        """Edges (n, 2, 2) of the field, or of a line `inset` into each joint, with their borders.

        `inset` is a part of the joint's width: 0.5 gives centre lines. Flat surfaces only.
        """
        part = 1.0 if inset is None else inset
        band = 1.0 if inset is None else 0.0

        def ahead(b: Border) -> float:
            # a joint over the floor's edge lies as far from it as one beside it, so that it meets a doorway's in one line
            width = b.joint or (b.sealed if b.wall else 0.0)
            return b.distance + b.band * band - (0.0 if b.grows else width * (1.0 - part))

        distances = [np.array([ahead(b) for b in ring]) for ring in self.borders]
        return self._matched(self.field if inset is None else offset_parts(self.gross, distances), distances)

    def faced(self) -> tuple[Floats, list[Border]]:
        """Edges (n, 2, 2) along the finished faces that stand round a flat surface, with their borders."""
        faces = [np.array([b.distance if b.grows else b.face for b in ring]) for ring in self.borders]
        return self._matched(offset_parts(self.gross, faces), faces)

    def _matched(self, shape: BaseGeometry, distances: list[Floats]) -> tuple[Floats, list[Border]]:
        edges, index = matched_edges(shape, self.gross, distances)
        flat = [border for ring in self.borders for border in ring]
        return _in_one_line(edges, [flat[k] for k in index])


def _in_one_line(edges: Floats, borders: list[Border]) -> tuple[Floats, list[Border]]:
    """Edges (n, 2, 2), ring after ring, with their borders; those that go on straight along one wall or side as one.

    A corner that was put into a straight wall so parts no tile's cut. One that stands off the line by more than `IN_LINE` does.
    """
    ends = np.hypot(*(edges[:-1, 1] - edges[1:, 0]).T) < EPS
    if not any(ends[k] and borders[k] == borders[k + 1] for k in range(len(ends))):
        return edges, borders
    rings = np.split(np.arange(len(edges)), np.flatnonzero(~ends) + 1)
    kept: list[Floats] = []
    labels: list[Border] = []
    for rows in rings:
        own: list[Floats] = []
        names: list[Border] = []
        for k in rows:
            if own and names[-1] == borders[k] and _straight_on(own[-1], edges[k]):
                own[-1] = np.array([own[-1][0], edges[k, 1]])
            else:
                own.append(edges[k])
                names.append(borders[k])
        if len(own) > 2 and names[0] == names[-1] and math.dist(own[-1][1], own[0][0]) < EPS and _straight_on(own[-1], own[0]):
            own[0] = np.array([own.pop()[0], own[0][1]])  # the ring begins in the middle of a wall
            names.pop()
        kept += own
        labels += names
    return np.array(kept), labels


def _straight_on(one: Floats, two: Floats) -> bool:
    """Whether an edge goes on in the line of the one before it."""
    way = two[1] - one[0]
    off = one[1] - one[0]
    return bool(abs(way[0] * off[1] - way[1] * off[0]) <= IN_LINE * np.hypot(*way) and way @ off > 0.0 and way @ (two[1] - two[0]) > 0.0)


def offset_parts(gross: BaseGeometry, distances: list[Floats]) -> BaseGeometry:
    """`offset_edges` part by part, so that parts that touch stay apart."""
    shapes, k = [], 0
    for part in parts_of(gross):
        rings = len(rings_of(part))
        shapes.append(offset_edges(part, distances[k : k + rings]))
        k += rings
    return cleaned(union_of(shapes))
