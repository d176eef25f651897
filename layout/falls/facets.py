"""Planes of a floor that falls: facets, the lines between them, levels anywhere on them.

A level perimeter round a drain gives triangles from wall to frame, one for each wall where the drain is a point. Falls
at one ratio give a plane along each side of the frame; where drains share a floor, water runs by the lowest of them.
All in the plan's x, y; levels in mm, upwards.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias

import numpy as np
import shapely
from shapely import LineString, Polygon

from layout.shapes import cleaned, following, parts_of, rings_of, signed_area, union_of
from layout.standards.rules import FALL_RANGES
from layout.units import EPS
from layout.vectors import pair

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from shapely.geometry.base import BaseGeometry

    from layout.plan.ruling import Rules
    from layout.vectors import Floats

Plane: TypeAlias = tuple[float, float, float]
"""Level at x, y as a x + b y + c."""
LineKind: TypeAlias = Literal["hip", "valley", "high line", "low line", "step"]

GROW = 0.01
"""Facets touch if one, grown by this, meets an edge of the other, mm."""
LEAST_LINE = 1.0
"""Shorter lines between facets are left out, mm."""
LEVEL = 0.5
"""A line that falls less than this from end to end is level, and levels this near are no step, mm."""
LEAST_BEND = 1e-4
"""Planes whose gradients differ less are one."""


@dataclass(frozen=True, slots=True, eq=False)
class Facet:
    """A flat piece of a floor: its outline in plan, its plane, and the fall it belongs to."""

    polygon: Polygon
    plane: Plane
    to: str

    @property
    def gradient(self) -> float:
        """Fall per length along its steepest way."""
        return math.hypot(self.plane[0], self.plane[1])

    @property
    def ratio(self) -> float:
        """One in this many; infinite where it is level."""
        return 1.0 / self.gradient if self.gradient > EPS else math.inf

    @property
    def stretch(self) -> float:
        """True area on the slope over its area in plan."""
        return math.hypot(1.0, self.gradient)

    @property
    def way(self) -> Floats:
        """Unit vector that water runs along in plan, (2,); zero where it is level."""
        down = -np.array(self.plane[:2])
        length = float(np.hypot(*down))
        return down / length if length > EPS else np.zeros(2)

    def at(self, points: Floats) -> Floats:
        """Levels of its plane at points (n, 2), (n,) mm."""
        result: Floats = np.atleast_2d(points) @ np.array(self.plane[:2]) + self.plane[2]
        return result


def is_ramp(facet: Facet, drains: Mapping[str, float], rules: Rules) -> bool:
    """Whether a facet is a ramp: it leads to no drain and is steeper than the range of falls goes."""
    return facet.to not in drains and facet.ratio < FALL_RANGES[rules.fall_range].steepest / 1.001


@dataclass(frozen=True, slots=True, eq=False)
class FallLine:
    """A line between two facets, (2, 2); `bend` is the difference of their gradients."""

    kind: LineKind
    line: Floats
    levels: tuple[float, float]
    bend: float

    @property
    def length(self) -> float:
        """In plan, mm."""
        return float(np.hypot(*(self.line[1] - self.line[0])))


def plane_through(points: Floats) -> Plane:
    """The plane through three points (3, 3) of x, y, level.

    Raises
    ------
    ValueError
        If the points stand in one line in plan.
    """
    system = np.column_stack([points[:, :2], np.ones(3)])
    if abs(float(np.linalg.det(system - np.array([*points[0, :2], 0.0])))) < 1.0:
        msg = "the three points stand in one line"
        raise ValueError(msg)
    origin = points[0, :2]
    a, b, c = np.linalg.solve(np.column_stack([points[:, :2] - origin, np.ones(3)]), points[:, 2])
    return float(a), float(b), float(c - a * origin[0] - b * origin[1])


def level_perimeter(region: Polygon, frame: Polygon | shapely.Point, level: float, drop: float, to: str) -> list[Facet] | None:
    """Facets from a level perimeter down to a drain's level frame, `drop` mm lower.

    None if the drain's middle does not see the whole perimeter: such a floor would hold water behind a corner. With a
    rectangular room and a square frame they are four, with a point one for each wall.
    """
    ring = shapely.get_coordinates(region.exterior)[:-1]
    ring = ring if signed_area(ring) > 0.0 else ring[::-1]
    middle = shapely.get_coordinates(frame.centroid)[0]
    if not sees_all(ring, middle):
        return None
    inner = shapely.get_coordinates(frame if isinstance(frame, shapely.Point) else frame.exterior)
    inner = inner if len(inner) == 1 else inner[:-1]
    if len(inner) > 1 and signed_area(inner) < 0.0:
        inner = inner[::-1]
    triangles = _annulus(ring, inner, middle)
    whole = region.area - (frame.area if isinstance(frame, Polygon) else 0.0)
    if triangles is None or abs(math.fsum(abs(signed_area(t[:, :2])) for t in triangles) - whole) > 1e-6 * whole + 1.0:
        triangles = _annulus(ring, middle[None], middle) or []
    facets = []
    for triangle in triangles:
        raised = triangle.copy()
        raised[:, 2] = level - drop * triangle[:, 2]
        facets.append(Facet(Polygon(raised[:, :2]), plane_through(raised), to))
    merged = merge(facets)
    return [f for facet in merged for f in _outside(facet, frame)]


def sees_all(ring: Floats, middle: Floats) -> bool:
    """Whether every point of an anticlockwise ring (n, 2) is seen from a point inside."""
    if not Polygon(ring).contains(shapely.Point(middle)):
        return False
    a, b = ring - middle, following(ring) - middle
    return bool((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0] >= -EPS * np.hypot(*b.T) - EPS).all())


def _annulus(ring: Floats, inner: Floats, middle: Floats) -> list[Floats] | None:
    """Triangles (3, 3) between a ring and a convex frame (or a point), turning round its middle: x, y, 1 on the frame.

    None if one of them is turned over.
    """
    angles = [np.unwrap(np.arctan2(*(p - middle).T[::-1])) if len(p) > 1 else np.zeros(1) for p in (ring, inner)]
    start = int(np.argmin(np.mod(angles[0], 2 * math.pi)))
    ring = np.roll(ring, -start, axis=0)
    outer = _rising(ring - middle, 0.0)
    if len(inner) > 1:
        begin = int(np.argmin(np.mod(np.arctan2(*(inner - middle).T[::-1]) - outer[0], 2 * math.pi)))
        inner = np.roll(inner, -begin, axis=0)
        frame = _rising(inner - middle, outer[0])
        inner = np.roll(inner, 1, axis=0)
        frame = np.concatenate([[frame[-1] - 2 * math.pi], frame[:-1]])
    else:
        frame = np.array([outer[0]])
    outer = np.append(outer, outer[0] + 2 * math.pi)
    frame = np.append(frame, frame[0] + 2 * math.pi) if len(inner) > 1 else frame
    o = f = 0
    result = []
    while o < len(outer) - 1 or f < len(frame) - 1:
        here, there = ring[o % len(ring)], inner[f % len(inner)]
        if f == len(frame) - 1 or (o < len(outer) - 1 and outer[o + 1] <= frame[f + 1]):
            third, on = ring[(o + 1) % len(ring)], 0.0
            triangle = np.array([[*here, 0.0], [*third, on], [*there, 1.0]])
            o += 1
        else:
            third, on = inner[(f + 1) % len(inner)], 1.0
            triangle = np.array([[*here, 0.0], [*third, on], [*there, 1.0]])
            f += 1
        area = signed_area(triangle[:, :2])
        if area < -1.0 and on == 0.0:
            return None
        if abs(area) > 1.0:
            result.append(triangle)
    return result


def _rising(points: Floats, floor: float) -> Floats:
    """Angles of points round the origin, rising from the first, which is not under `floor`, radians."""
    raw = np.arctan2(points[:, 1], points[:, 0])
    first = floor + math.fmod(raw[0] - floor, 2 * math.pi)
    first += 2 * math.pi if first < floor - EPS else 0.0
    steps = np.mod(np.diff(raw), 2 * math.pi)
    steps[steps > 2 * math.pi - 1e-9] = 0.0
    return np.concatenate([[first], first + np.cumsum(steps)])


def _outside(facet: Facet, frame: BaseGeometry) -> list[Facet]:
    """A facet less the frame of its drain."""
    if frame.area == 0.0 or not facet.polygon.intersects(frame):
        return [facet]
    left = [part for part in parts_of(cleaned(shapely.difference(facet.polygon, frame))) if part.area > 1.0]
    return [Facet(part, facet.plane, facet.to) for part in left]


def merge(facets: Sequence[Facet]) -> list[Facet]:
    """Facets that lie in one plane and touch, taken together."""
    groups: dict[tuple[str, float, float, float], list[Facet]] = {}
    for facet in facets:
        a, b, _ = facet.plane
        middle = shapely.get_coordinates(facet.polygon.centroid)
        key = (facet.to, round(a, 7), round(b, 7), round(float(facet.at(middle)[0] - middle[0] @ np.array([a, b])), 2))
        groups.setdefault(key, []).append(facet)
    result = []
    for own in groups.values():
        if len(own) == 1:
            result += own
            continue
        shape = cleaned(union_of([f.polygon for f in own]))
        result += [Facet(part, own[0].plane, own[0].to) for part in parts_of(shape)]
    return result


@dataclass(frozen=True, slots=True)
class Side:
    """A side of a drain's frame that a plane rises from: a point on it, the way out of it, level there, rise per length."""

    at: tuple[float, float]
    out: tuple[float, float]
    level: float
    gradient: float

    @property
    def plane(self) -> Plane:
        """Its plane."""
        a, b = self.out[0] * self.gradient, self.out[1] * self.gradient
        return a, b, self.level - a * self.at[0] - b * self.at[1]


def rising_planes(region: Polygon, drains: Mapping[str, Sequence[Side]]) -> list[Facet]:
    """Facets of planes that rise from the sides of drains' frames: at a drain the highest counts, between drains the lowest.

    So every fall keeps its ratio, and drains share the floor along the line of equal level.
    """
    x0, y0, x1, y1 = region.bounds
    reach = 4.0 * math.hypot(x1 - x0, y1 - y0) + 1.0
    centre = np.array([(x0 + x1) / 2, (y0 + y1) / 2])

    def under(one: Plane, two: Plane) -> Polygon | None:
        """Where one plane is not above another; None for nowhere."""
        return _half_plane(two[0] - one[0], two[1] - one[1], two[2] - one[2], centre, reach)

    own: dict[str, list[tuple[Plane, BaseGeometry]]] = {}
    for name, sides in drains.items():
        for side in sides:
            shape: BaseGeometry = region
            for other in sides:
                half = under(other.plane, side.plane) if other is not side else region
                shape = Polygon() if half is None else shapely.intersection(shape, half)
            own.setdefault(name, []).append((side.plane, shape))
    result = []
    claimed: list[BaseGeometry] = []  # where planes of two drains are one, the first named has it
    for name, planes in own.items():
        before = union_of(claimed)
        for plane, whole in planes:
            shape = shapely.difference(whole, before)
            for other_name, others in own.items():
                if other_name == name:
                    continue
                lower = [shapely.intersection(part, half) for p, part in others if (half := under(plane, p)) is not None]
                shape = shapely.intersection(shape, union_of(lower)) if lower else Polygon()
            claimed.append(shape)
            result += [Facet(part, plane, name) for part in parts_of(cleaned(shape)) if part.area > 1.0]
    return result


def _half_plane(a: float, b: float, c: float, centre: Floats, reach: float) -> Polygon | None:
    """Where a x + b y + c is not negative, as far as `reach` from a centre; None for nowhere."""
    size = math.hypot(a, b)
    off = a * centre[0] + b * centre[1] + c
    if size < 1e-12:
        return shapely.box(*(centre - reach), *(centre + reach)) if off >= -EPS else None
    normal = np.array([a, b]) / size
    foot = centre - normal * (off / size)
    if off / size > reach:
        return shapely.box(*(centre - reach), *(centre + reach))
    if off / size < -reach:
        return None
    along = np.array([-normal[1], normal[0]]) * 2.0 * reach
    return Polygon([foot - along, foot + along, foot + along + normal * 4 * reach, foot - along + normal * 4 * reach])


def clipped(facets: Sequence[Facet], shape: BaseGeometry) -> list[Facet]:
    """Facets within a shape."""
    return [
        Facet(part, facet.plane, facet.to)
        for facet in facets
        for part in parts_of(cleaned(shapely.intersection(facet.polygon, shape)))
        if part.area > 1.0
    ]


def levels_at(facets: Sequence[Facet], points: Floats) -> Floats:
    """Levels at points (n, 2), mm; off the facets that of the nearest point on them."""
    points = np.atleast_2d(points)
    result = np.full(len(points), np.nan)
    for facet in facets:
        grown = shapely.buffer(facet.polygon, GROW, join_style="mitre")
        inside = np.isnan(result) & shapely.intersects_xy(grown, points[:, 0], points[:, 1])
        result[inside] = facet.at(points[inside])
    for k in np.flatnonzero(np.isnan(result)):
        at = shapely.Point(points[k])
        nearest = min(facets, key=lambda f: f.polygon.distance(at))
        foot = shapely.get_coordinates(shapely.shortest_line(nearest.polygon, at))[0]
        result[k] = nearest.at(foot)[0]
    return result


def lines_between(facets: Sequence[Facet]) -> list[FallLine]:
    """Hips, valleys, high and low lines, and steps, between facets that touch."""
    result = []
    shapes = np.array([facet.polygon for facet in facets], dtype=object)
    grown = shapely.buffer(shapes, GROW, join_style="mitre")
    pairs = shapely.STRtree(shapes).query(grown, predicate="intersects")
    for i, j in sorted(zip(*pairs.tolist(), strict=True)):
        if i >= j:
            continue
        one, two = facets[i], facets[j]
        for ring in rings_of(shapely.simplify(one.polygon, GROW / 2)):
            edges = shapely.linestrings(np.stack([ring, following(ring)], axis=1))
            for met in shapely.get_parts(shapely.intersection(edges, grown[j])):
                if isinstance(met, LineString) and met.length > LEAST_LINE:
                    line = _line(one, two, shapely.get_coordinates(met)[[0, -1]])
                    if line is not None:
                        result.append(line)
    return result


def _line(one: Facet, two: Facet, line: Floats) -> FallLine | None:
    """What the line between two facets is; `line` runs with the first on its left."""
    levels, others = one.at(line), two.at(line)
    bend = np.array(two.plane[:2]) - np.array(one.plane[:2])
    size = float(np.hypot(*bend))
    ends = pair(levels)
    if float(np.abs(levels - others).max()) > LEVEL:
        return FallLine("step", line, ends, size)
    if size < LEAST_BEND:
        return None
    way = line[1] - line[0]
    across = float(bend @ np.array([way[1], -way[0]]))  # from the first, on the left, to the second
    level = abs(ends[1] - ends[0]) < LEVEL
    kind: LineKind = ("low line" if level else "valley") if across > 0.0 else ("high line" if level else "hip")
    return FallLine(kind, line, ends, size)
