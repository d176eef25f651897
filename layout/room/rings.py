"""Rings of tagged edges: typed corners made points, edges grouped into walls, contacts welded.

Rings run anticlockwise whichever way they were typed, and every edge keeps what it is a part of.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np
import shapely
from shapely import LineString, Polygon

from layout.shapes import arc_points, signed_area
from layout.units import EPS, STRAIGHT_DEG, TOUCH
from layout.vectors import pair

if TYPE_CHECKING:
    from collections.abc import Sequence

    from layout.errors import Point
    from layout.plan.values import Vertex
    from layout.vectors import Bools, Floats, Ints

CHAIN_EDGE = 500.0
CHAIN_TURN = 15.0
"""Shorter edges turning less than this are one curved wall: lengths mm, degrees (design, section 4)."""


class Tag(NamedTuple):
    """What an edge of a ring is: part `run` of an owner, from `s0` to `s1` along that run, mm."""

    owner: Literal["wall", "threshold", "reveal", "plinth", "column"]
    number: int
    run: int
    s0: float
    s1: float


@dataclass(frozen=True, slots=True, eq=False)
class Run:
    """One wall or one side of a solid: typed edges that make one flat or developed face.

    `points` (n, 2) anticlockwise round the room or solid; `edges` the typed numbers; `number` the
    lowest of them.
    """

    number: int
    edges: tuple[int, ...]
    points: Floats
    arc: bool

    @property
    def steps(self) -> Floats:
        """Arc length at each point, mm."""
        return np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(self.points, axis=0).T))])

    @property
    def length(self) -> float:
        """Developed length, mm."""
        return float(self.steps[-1])

    @property
    def straight(self) -> bool:
        """Whether no point is off the line of its ends by more than `TOUCH`."""
        if self.arc:
            return False
        a, b = self.points[0], self.points[-1]
        reach = float(np.hypot(*(b - a)))
        if reach < EPS:
            return False
        off = np.abs((b - a)[0] * (self.points - a)[:, 1] - (b - a)[1] * (self.points - a)[:, 0]) / reach
        return bool(off.max() <= TOUCH)

    def at(self, s: float) -> Floats:
        """The point at arc length `s`, (2,)."""
        steps = self.steps
        return np.array([np.interp(s, steps, self.points[:, 0]), np.interp(s, steps, self.points[:, 1])])

    def between(self, s0: float, s1: float) -> Floats:
        """The line from `s0` to `s1`, (n, 2)."""
        steps = self.steps
        inner = self.points[(steps > s0 + EPS) & (steps < s1 - EPS)]
        return np.vstack([self.at(s0), inner, self.at(s1)])

    def along(self, point: Floats) -> float:
        """Arc length of the nearest point, mm."""
        return float(LineString(self.points).project(shapely.Point(point)))


@dataclass(slots=True)
class Ring:
    """A closed ring being welded: points and the tag of the edge that leaves each."""

    points: list[Point] = field(default_factory=list)
    tags: list[Tag] = field(default_factory=list)

    def add(self, point: Sequence[float] | Floats, tag: Tag) -> None:
        """Append a point and the edge that leaves it."""
        self.points.append(pair(point))
        self.tags.append(tag)

    def closed(self) -> Ring:
        """Without edges of no length."""
        result = Ring()
        for k, (point, tag) in enumerate(zip(self.points, self.tags, strict=True)):
            after = self.points[(k + 1) % len(self.points)]
            if math.dist(point, after) > EPS:
                result.add(point, tag)
        return result

    def split(self, k: int, point: Point) -> None:
        """Put a point into edge `k`."""
        tag = self.tags[k]
        a, b = self.points[k], self.points[(k + 1) % len(self.points)]
        part = math.dist(a, point) / math.dist(a, b)
        middle = tag.s0 + (tag.s1 - tag.s0) * part
        self.points.insert(k + 1, point)
        self.tags[k] = tag._replace(s1=middle)
        self.tags.insert(k + 1, tag._replace(s0=middle))

    def polygon(self) -> Polygon:
        """The ring as a polygon."""
        return Polygon(self.points)


def flattened(vertices: Sequence[Vertex]) -> tuple[Floats, Ints, Bools]:
    """Typed corners as points: (n, 2), the typed edge leaving each (from 1), and whether it is an arc."""
    points: list[Floats] = []
    edges: list[int] = []
    arcs: list[bool] = []
    corners = np.array([[v.x, v.y] for v in vertices])
    for k in range(len(vertices)):
        following = (k + 1) % len(vertices)
        bulge = vertices[following].bulge
        if math.dist(corners[k], corners[following]) < EPS:
            continue
        stretch = np.vstack([corners[k], arc_points(corners[k], corners[following], bulge)[:-1]])
        points.append(stretch)
        edges += [k + 1] * len(stretch)
        arcs += [bulge != 0.0] * len(stretch)
    if not points:
        return np.empty((0, 2)), np.empty(0, dtype=np.int64), np.empty(0, dtype=np.bool_)
    return np.vstack(points), np.array(edges), np.array(arcs)


def _turn(a: Floats, b: Floats) -> float:
    return abs(math.degrees(math.atan2(a[0] * b[1] - a[1] * b[0], float(a @ b))))


def runs_of(points: Floats, edges: Ints, arcs: Bools) -> tuple[Run, ...]:
    """Group the edges of an anticlockwise ring into walls.

    Edges in one line (turn under `STRAIGHT_DEG`, or the corner within `TOUCH` of the line) are one;
    an arc is one; a chain of edges under `CHAIN_EDGE` turning under `CHAIN_TURN` a corner is one.
    """
    n = len(points)
    following = np.roll(points, -1, axis=0)
    vectors = following - points
    lengths = np.hypot(vectors[:, 0], vectors[:, 1])
    ways = vectors.copy()  # a step shorter than TOUCH has no direction of its own
    for k in range(n):
        if lengths[k] <= TOUCH:
            ways[k] = ways[k - 1]
    joined = np.zeros(n, dtype=bool)  # point k joins the edge before it to the edge after it
    for k in range(n):
        before = k - 1
        if arcs[before] or arcs[k]:
            joined[k] = bool(edges[before] == edges[k] and arcs[k])
            continue
        turn = _turn(ways[before], ways[k])
        chord = following[k] - points[before]
        reach = float(np.hypot(*chord))
        off = abs(chord[0] * vectors[before][1] - chord[1] * vectors[before][0]) / reach if reach > EPS else math.inf
        chain = max(lengths[before], lengths[k]) < CHAIN_EDGE and turn < CHAIN_TURN
        joined[k] = turn < STRAIGHT_DEG or (off <= TOUCH and turn < 5.0) or chain
    starts = np.flatnonzero(~joined)
    if len(starts) == 0:
        starts = np.array([int(np.flatnonzero(edges == edges.min())[0])])
    runs = []
    for a, b in zip(starts, np.roll(starts, -1), strict=True):
        count = (b - a) % n or n
        index = (a + np.arange(count + 1)) % n
        numbers = sorted(set(edges[index[:-1]].tolist()))
        runs.append(Run(number=numbers[0], edges=tuple(numbers), points=points[index], arc=bool(arcs[index[:-1]].any())))
    return tuple(runs)


def anticlockwise(vertices: Sequence[Vertex]) -> tuple[Floats, Ints, Bools, bool]:
    """Typed corners as `flattened` gives them, anticlockwise, and whether they were typed the other way."""
    points, edges, arcs = flattened(vertices)
    if len(points) >= 3 and signed_area(points) < 0.0:
        # the edge leaving a point is, backwards, the edge that arrived at it
        return points[::-1], np.roll(edges[::-1], -1), np.roll(arcs[::-1], -1), True
    return points, edges, arcs, False


def offset_corners(points: Floats, distance: Floats) -> Floats:
    """Each corner where the offset lines of its two edges meet; distance to the right, mm."""
    vectors = np.roll(points, -1, axis=0) - points
    unit = vectors / np.hypot(vectors[:, 0], vectors[:, 1])[:, None]
    normal = np.column_stack([unit[:, 1], -unit[:, 0]])
    n1, n2 = np.roll(normal, 1, axis=0), normal
    d1, d2 = np.roll(distance, 1), distance
    cross = n1[:, 0] * n2[:, 1] - n1[:, 1] * n2[:, 0]
    result = points + n2 * d2[:, None]
    bent = np.abs(cross) > 1e-3
    shift = np.column_stack([(d1 * n2[:, 1] - d2 * n1[:, 1]), (d2 * n1[:, 0] - d1 * n2[:, 0])])
    result[bent] = points[bent] + shift[bent] / cross[bent][:, None]
    return result


def add_stretch(ring: Ring, run: Run, index: int, s0: float, s1: float, owner: Literal["wall", "threshold"], wall: int) -> None:
    """The edges of a run from `s0` to `s1`, each with its own stretch in its tag."""
    if s1 - s0 <= EPS:
        return
    steps = run.steps
    stops = [s0, *steps[(steps > s0 + EPS) & (steps < s1 - EPS)].tolist(), s1]
    for a, b in pairwise(stops):
        ring.add(run.at(a), Tag(owner, index, wall, a, b))


def weld_point(point: Point, ring: Ring, *, exact: bool = False) -> Point:
    """The point of a ring that a near point stands for; the ring gets a point there if it had none.

    The new point is the foot on the ring's edge, or with `exact` the point itself: whichever ring was
    there first keeps its points.
    """
    points = np.array(ring.points)
    apart = np.hypot(points[:, 0] - point[0], points[:, 1] - point[1])
    nearest = int(apart.argmin())
    if apart[nearest] <= TOUCH:
        return ring.points[nearest]
    vectors = np.roll(points, -1, axis=0) - points
    squares = np.maximum((vectors**2).sum(axis=1), EPS)
    part = (((np.array(point) - points) * vectors).sum(axis=1) / squares).clip(0.0, 1.0)
    feet = points + vectors * part[:, None]
    away = np.hypot(feet[:, 0] - point[0], feet[:, 1] - point[1])
    k = int(away.argmin())
    if away[k] > TOUCH:
        return point
    foot = point if exact else (float(feet[k][0]), float(feet[k][1]))
    ring.split(k, foot)
    return foot


def tagged(ring: Ring, runs: tuple[Run, ...], owner: Literal["plinth", "column"], index: int) -> Ring:
    """The ring with each edge's run and stretch along it."""
    result = Ring()
    by_edge = {edge: k for k, run in enumerate(runs) for edge in run.edges}
    closed = ring.closed()
    for k, (point, tag) in enumerate(zip(closed.points, closed.tags, strict=True)):
        run = by_edge[tag.run]
        after = closed.points[(k + 1) % len(closed.points)]
        s0, s1 = (runs[run].along(np.array(xy)) for xy in (point, after))
        result.add(point, Tag(owner, index, run, s0, runs[run].length if s1 <= s0 else s1))
    return result
