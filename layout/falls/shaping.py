"""Shapes a floor that falls: from the falls that a plan asks for to facets, all contradictions told.

Levels are finished ones, in mm against the room's finished floor at its walls (`levels.floor`, 0 if not given).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import Polygon

from layout.errors import PlanError, PlanFaults
from layout.falls.facets import Facet, Side, clipped, level_perimeter, levels_at, merge, plane_through, rising_planes
from layout.room.outlines import frame_of
from layout.shapes import cleaned, following, parts_of, rings_of, union_of
from layout.units import EPS, TOUCH
from layout.vectors import leftward, pair, rightward, unit

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shapely.geometry.base import BaseGeometry

    from layout.errors import Point
    from layout.plan.values import Drain, Fall, Plan
    from layout.room.outlines import Outline
    from layout.vectors import Floats

END_GAP = 300.0
"""A channel that stops this near to a wall reaches it: the floor does not fall to its end, mm."""
DEFAULT_RATIO = 80.0
"""A fall without ratio or drop (NCC 2022, wet rooms with a floor waste: 1:80 at least)."""


@dataclass(frozen=True, slots=True, eq=False)
class Falls:
    """A floor's facets over the whole room as bare walls bound it, and the level of each drain's frame."""

    facets: tuple[Facet, ...]
    drains: dict[str, float]
    region: Polygon
    notes: tuple[str, ...] = ()

    def at(self, points: Floats) -> Floats:
        """Finished levels at points (n, 2), mm."""
        return levels_at(self.facets, points)


def walls_polygon(outline: Outline) -> Polygon:
    """The room within its bare walls, without door reveals."""
    return _plain(Polygon(np.vstack([wall.run.points[:-1] for wall in outline.walls])))


def _plain(polygon: Polygon) -> Polygon:
    """Without corners in straight edges."""
    return parts_of(polygon.simplify(TOUCH / 10))[0]


def fall_faults(plan: Plan, index: int, outline: Outline) -> list[PlanError]:
    """What of a room's falls cannot be built."""
    try:
        build_falls(plan, index, outline)
    except PlanFaults as error:
        return list(error.faults)
    return []


def build_falls(plan: Plan, index: int, outline: Outline) -> Falls | None:
    """The facets of a room's falls; None where it has none.

    Raises
    ------
    PlanFaults
        If falls contradict each other, a drain lies too high, or a level perimeter would hold water.
    """
    return _FallBuilder(plan, index, outline).build() if plan.rooms[index].falls else None


class _FallBuilder:
    """Builds the facets of one room and collects its faults."""

    def __init__(self, plan: Plan, index: int, outline: Outline) -> None:
        self.room, self.outline = plan.rooms[index], outline
        self.place = plan.place_of(index)
        self.floor = self.room.levels.floor
        self.whole = walls_polygon(outline)
        self.drains = {drain.name: drain for drain in self.room.drains}
        self.faults: list[PlanError] = []
        self.levels: dict[str, float] = {}
        self.notes: list[str] = []

    def fault(self, k: int, found: str, mend: str, key: str = "") -> None:
        self.faults.append(PlanError(f"{self.place}.falls[{k}]{key}", found, mend))

    def build(self) -> Falls:
        falls = self.room.falls
        facets: list[Facet] = []
        free: BaseGeometry = self.whole
        taken: set[str] = set()
        for k, fall in enumerate(falls):
            if fall.to and fall.to in taken:
                self.fault(k, f"{fall.to} has a fall already", "give one fall for each drain", ".to")
            taken.add(fall.to)
            drain = self.drains.get(fall.to)
            if drain is not None and drain.level is not None and drain.level >= self.floor:
                found = f"{drain.name} lies at {drain.level:g}, not below the floor's {self.floor:g}"
                self.fault(k, found, "give the drain a lower level", ".to")
            if fall.region:
                shape = self._region(k, fall, free)
                free = cleaned(shapely.difference(free, shape))
                if not self.faults:
                    facets += self._one(k, fall, shape)
        rest = [(k, fall) for k, fall in enumerate(falls) if not fall.region]
        if not self.faults and rest:
            facets += self._shared(rest, free)
        if self.faults:
            raise PlanFaults(tuple(self.faults))
        return Falls(tuple(facets), self.levels, self.whole, tuple(self.notes))

    def _region(self, k: int, fall: Fall, free: BaseGeometry) -> Polygon:
        typed = Polygon(fall.region)
        if not typed.is_valid or typed.area < 1.0:
            self.fault(k, "its region is not an outline", "give the corners in order, without crossing", ".region")
            return self.whole
        inside = max(parts_of(shapely.intersection(typed, free)), key=lambda p: p.area, default=Polygon())
        if inside.area < 1.0:
            self.fault(k, "its region lies outside the room, or in an earlier fall's", "give corners inside the room", ".region")
            return self.whole
        drain = self.drains.get(fall.to)
        if drain is not None and not inside.intersects(shapely.Point(drain.at)):
            self.fault(k, f"{drain.name} does not lie in its region", "let the region hold the drain", ".region")
        return _plain(inside)

    def _shared(self, rest: list[tuple[int, Fall]], free: BaseGeometry) -> list[Facet]:
        """Falls without regions share what floor is left."""
        parts = [_plain(part) for part in parts_of(free) if part.area > 1.0]
        if len(rest) == 1 and rest[0][1].plane:
            return [f for part in parts for f in self._one(*rest[0], part)]
        facets: list[Facet] = []
        for part in parts:
            own = [(k, fall) for k, fall in rest if fall.to and part.distance(shapely.Point(self.drains[fall.to].at)) < TOUCH]
            if not own:
                continue
            if len(own) == 1:
                facets += self._one(*own[0], part)
            elif len({self._perimeter(fall) for _, fall in own}) > 1:
                self.fault(own[1][0], "it shares the floor with a fall of another perimeter", "give both falls regions, or one perimeter")
            elif self._perimeter(own[0][1]) == "level":
                for (k, fall), cell in zip(own, self._cells(own, part), strict=True):
                    facets += self._one(k, fall, cell)
            else:
                facets += self._free(own, part)
        for k, fall in rest:
            if not fall.to and len(rest) > 1:
                self.fault(k, "a plane without a region shares the floor with other falls", "give it a region")
        return facets

    def _cells(self, own: list[tuple[int, Fall]], part: Polygon) -> list[Polygon]:
        """The floor nearest to each drain's middle: they meet at the level of the perimeter."""
        places = [np.array(self.drains[fall.to].at) for _, fall in own]
        x0, y0, x1, y1 = part.bounds
        reach = 4.0 * math.hypot(x1 - x0, y1 - y0)
        cells = []
        for k, here in enumerate(places):
            cell: BaseGeometry = part
            for other in (p for j, p in enumerate(places) if j != k):
                way = unit(here - other)
                along = leftward(way) * reach
                middle = (here + other) / 2
                half = Polygon([middle - along, middle - along + way * reach, middle + along + way * reach, middle + along])
                cell = shapely.intersection(cell, half)
            at = shapely.Point(here)
            cells.append(_plain(min(parts_of(cell), key=lambda p: p.distance(at))))
        if math.fsum(cell.area for cell in cells) < part.area - 100.0:
            self.fault(own[0][0], "no drain is nearest to some parts of the floor and sees them", "give the falls regions", ".region")
        return cells

    def _perimeter(self, fall: Fall) -> str:
        if fall.perimeter:
            return fall.perimeter
        return "free" if self.drains[fall.to].kind == "channel" else "level"

    def _one(self, k: int, fall: Fall, shape: Polygon) -> list[Facet]:
        if fall.plane:
            return self._plane(k, fall, shape)
        return self._level(k, fall, shape) if self._perimeter(fall) == "level" else self._free([(k, fall)], shape)

    def _plane(self, k: int, fall: Fall, shape: Polygon) -> list[Facet]:
        try:
            plane = plane_through(np.array(fall.plane))
        except ValueError as error:
            self.fault(k, str(error), "give three points of the plane that do not", ".plane")
            return []
        if fall.to:
            drain = self.drains[fall.to]
            here = float(np.array(drain.at) @ np.array(plane[:2]) + plane[2])
            if drain.level is not None and abs(drain.level - here) > 1.0:
                self.fault(k, f"the plane is at {here:.0f} where {drain.name} is set to {drain.level:g}", "mend one of them", ".plane")
            self.levels[drain.name] = here
        return [Facet(shape, plane, fall.to or fall.name)]

    def _level(self, k: int, fall: Fall, shape: Polygon) -> list[Facet]:
        drain = self.drains[fall.to]
        frame = frame_of(drain)
        ring = rings_of(shape)[0]
        far = float(shapely.distance(shapely.points(ring), frame).max())
        drop = self._drop(k, fall, drain, far)
        if drop is None:
            return []
        facets = level_perimeter(shape, frame, self.floor, drop, drain.name) if shapely.contains_properly(shape, frame) else None
        if facets is None and fall.perimeter is None:
            why = (
                f"{drain.name} stands at the edge of its floor"
                if not shapely.contains_properly(shape, frame)
                else f"{drain.name} does not see all of its edge"
            )
            self.notes.append(f"{why}, so the perimeter is not level but follows the planes")
            return self._free([(k, fall)], shape)
        if not shapely.contains_properly(shape, frame):
            found = f"{drain.name} reaches the edge of its floor, which cannot be level there"
            self.fault(k, found, 'give perimeter = "free", or set the drain clear of the walls', ".perimeter")
            return []
        if facets is None:
            hidden = _hidden(ring, np.array(drain.at))
            found = f"{drain.name} does not see the edge of the floor from {hidden}: a level perimeter would hold water behind the corner"
            self.fault(k, found, "give the falls regions with a drain in each, or move the drain", ".to")
            return []
        self.levels[drain.name] = self.floor - drop
        return facets

    def _drop(self, k: int, fall: Fall, drain: Drain, far: float) -> float | None:
        """How far a drain lies below a level perimeter, by its level, its drop or its ratio on the longest way, mm."""
        wanted = [fall.drop] if fall.drop is not None else [far / fall.ratio] if fall.ratio is not None else []
        if drain.level is None:
            return wanted[0] if wanted else far / DEFAULT_RATIO
        given = self.floor - drain.level
        if fall.drop is not None and abs(fall.drop - given) > 1.0:
            found = f"a drop of {fall.drop:g} contradicts {drain.name} at {drain.level:g} under a floor at {self.floor:g}"
            self.fault(k, found, f"give a drop of {given:g}, or leave it out", ".drop")
            return None
        if fall.ratio is not None and given < far / fall.ratio - 1.0:
            found = f"1:{fall.ratio:g} over {far:.0f} asks a drop of {far / fall.ratio:.0f}, but {drain.name} lies only {given:g} down"
            self.fault(k, found, f"set the drain at {self.floor - far / fall.ratio:.0f}, or give a ratio of {far / given:.0f}", ".ratio")
            return None
        return given

    def _free(self, own: list[tuple[int, Fall]], shape: Polygon) -> list[Facet]:
        """Planes at the falls' own ratios; the highest point is the floor's level, or the highest threshold's."""
        ways = {fall.to: _sides(self.drains[fall.to], shape) for _, fall in own}
        ring = rings_of(shape)[0]
        high = np.full(len(ring), np.inf)
        doors = self._threshold_points()
        sill = np.full(len(doors), np.inf)
        for k, fall in own:
            name = fall.to
            far = _rise(ways[name], ring)
            ratio = fall.ratio or (float(far.max()) / fall.drop if fall.drop else DEFAULT_RATIO)
            ways[name] = [(at, out, 1.0 / ratio) for at, out, _ in ways[name]]
            high = np.minimum(high, far / ratio)
            sill = np.minimum(sill, _rise(ways[name], doors) / ratio) if len(doors) else sill
            if fall.perimeter == "threshold" and not len(doors):
                self.fault(k, "there is no door whose threshold could keep its level", 'give perimeter = "free"', ".perimeter")
        kept = own[0][1].perimeter == "threshold" and len(sill)
        top = float(sill.max()) if kept else float(high.max())
        drains = {}
        for k, fall in own:
            drain = self.drains[fall.to]
            level = drain.level if drain.level is not None else self.floor - top
            if drain.level is not None and drain.level + top > self.floor + 1.0 and len(own) == 1:
                found = f"from {drain.name} at {drain.level:g} the floor would rise {drain.level + top - self.floor:.0f} above its level"
                self.fault(k, found, f"set the drain at {self.floor - top:.0f} or flatter, or give a flatter ratio", ".ratio")
            self.levels[drain.name] = level
            drains[drain.name] = [Side(at, out, level, gradient) for at, out, gradient in ways[drain.name]]
        facets = rising_planes(shape, drains)
        frames = union_of([frame_of(self.drains[fall.to]) for _, fall in own])
        return [f for facet in merge(facets) for f in clipped([facet], shapely.difference(shape, frames))]

    def _threshold_points(self) -> Floats:
        ends = [self.outline.walls[door.wall].run.at(s) for door in self.outline.openings if door.door for s in (door.s0, door.s1)]
        return np.array(ends).reshape(-1, 2)


def _hidden(ring: Floats, middle: Floats) -> str:
    """The first edge of a ring that a point does not see, in words."""
    a, b = ring - middle, following(ring) - middle
    bad = np.flatnonzero(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0] < -EPS)
    k = int(bad[0]) if len(bad) else 0
    p, q = ring[k], ring[(k + 1) % len(ring)]
    return f"[{p[0]:.0f}, {p[1]:.0f}] to [{q[0]:.0f}, {q[1]:.0f}]"


def _sides(drain: Drain, shape: Polygon) -> list[tuple[Point, Point, float]]:
    """Sides of a frame that the floor rises from: a point, the way out, a place for the gradient.

    Ends of a channel that stops within `END_GAP` of the edge of the floor are left out.
    """
    ring = rings_of(frame_of(drain))[0]
    result = []
    short = float(np.sort(np.hypot(*(following(ring) - ring).T))[0])
    for a, b in zip(ring, following(ring), strict=True):
        out = rightward(unit(b - a))
        middle = (a + b) / 2
        if drain.kind == "channel" and float(np.hypot(*(b - a))) <= short + EPS and drain.frame[0] > drain.frame[1]:
            beyond = shapely.LineString([middle, middle + out * END_GAP])
            if not shape.contains(beyond):
                continue
        result.append((pair(a), pair(out), 0.0))
    return result


def _rise(sides: Sequence[tuple[Point, Point, float]], points: Floats) -> Floats:
    """Distance from the sides that a plane rises over to each point, (n,) mm."""
    each = [(points - np.array(at)) @ np.array(out) for at, out, _ in sides]
    result: Floats = np.max(each, axis=0)
    return result
