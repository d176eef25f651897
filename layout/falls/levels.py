"""Levels of a floor: from the falls that a plan asks for to facets, spot levels, screed, and a water test on paper.

Levels are finished ones, in mm against the room's finished floor at its walls (`levels.floor`, 0 if not given).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import Polygon

from layout.errors import Finding, PlanError, PlanFaults
from layout.falls.facets import (
    Facet,
    FallLine,
    Side,
    clipped,
    level_perimeter,
    levels_at,
    lines_between,
    merge,
    plane_through,
    rising_planes,
)
from layout.falls.water import Pond, water_test
from layout.room.outlines import build_up_of, frame_of
from layout.shapes import cleaned, following, parts_of, rings_of, union_of
from layout.standards.rules import FALL_RANGES, LIPPAGE, LIPPAGE_WIDE, STRETCH_COUNTS
from layout.units import EPS, TOUCH

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from layout.errors import Point
    from layout.plan.values import Drain, Fall, Plan, Rules, Tile
    from layout.room.outlines import Outline

    Floats = NDArray[np.float64]

END_GAP = 300.0
"""A channel that stops this near to a wall reaches it: the floor does not fall to its end, mm."""
THRESHOLD_PLAY = 2.0
"""A threshold that falls or steps no more than this is level, mm (a straightedge's play; common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Spot:
    """A level at a place: `what` stands there."""

    what: str
    at: Point
    level: float


@dataclass(frozen=True, slots=True)
class DrainLevel:
    """A drain's frame: its level, and the flattest and steepest ratio of the planes that fall to it."""

    name: str
    level: float
    flattest: float
    steepest: float


@dataclass(frozen=True, slots=True)
class Screed:
    """Screed under the floor: thickness least and most with their places, mm; volume m³ by the prismoidal formula over each facet."""

    least: float
    least_at: Point
    most: float
    most_at: Point
    volume: float
    slab: float


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


@dataclass(frozen=True, slots=True, eq=False)
class Levels:
    """What is known of a floor's levels: facets and lines within the floor, spots, drains, screed, ponds, findings.

    `cuts` are the lines along which tile is cut; `greatest` is the side up to which it need not be, by the
    lippage `limit`, mm.
    """

    falls: Falls
    facets: tuple[Facet, ...]
    lines: tuple[FallLine, ...]
    drains: tuple[DrainLevel, ...]
    screed: Screed
    ponds: tuple[Pond, ...]
    cuts: tuple[FallLine, ...]
    greatest: float
    limit: float
    datum: str
    spots: tuple[Spot, ...] = ()
    grid: tuple[Spot, ...] = ()
    findings: tuple[Finding, ...] = field(default=())

    @property
    def stretch(self) -> float:
        """True area of the floor over its area in plan; 1 where they differ by no more than a thousandth."""
        whole = sum(f.polygon.area for f in self.facets)
        part = sum(f.polygon.area * f.stretch for f in self.facets) / whole if whole else 1.0
        return part if part - 1.0 > STRETCH_COUNTS.value else 1.0


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
        self.place = f"{plan.source}: rooms[{index}]"
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
                way = (here - other) / max(float(np.hypot(*(here - other))), EPS)
                along = np.array([-way[1], way[0]]) * reach
                middle = (here + other) / 2
                half = Polygon([middle - along, middle - along + way * reach, middle + along + way * reach, middle + along])
                cell = shapely.intersection(cell, half)
            at = shapely.Point(here)
            cells.append(_plain(min(parts_of(cell), key=lambda p: p.distance(at))))
        if sum(cell.area for cell in cells) < part.area - 100.0:
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


DEFAULT_RATIO = 80.0
"""A fall without ratio or drop (NCC 2022, wet rooms with a floor waste: 1:80 at least)."""


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
        way = (b - a) / max(float(np.hypot(*(b - a))), EPS)
        out = np.array([way[1], -way[0]])
        middle = (a + b) / 2
        if drain.kind == "channel" and float(np.hypot(*(b - a))) <= short + EPS and drain.frame[0] > drain.frame[1]:
            beyond = shapely.LineString([middle, middle + out * END_GAP])
            if not shape.contains(beyond):
                continue
        result.append(((float(a[0]), float(a[1])), (float(out[0]), float(out[1])), 0.0))
    return result


def _rise(sides: Sequence[tuple[Point, Point, float]], points: Floats) -> Floats:
    """Distance from the sides that a plane rises over to each point, (n,) mm."""
    if len(points) == 0:
        return np.empty(0)
    each = [(points - np.array(at)) @ np.array(out) for at, out, _ in sides]
    result: Floats = np.max(each, axis=0)
    return result


def lippage_limit(tile: Tile) -> float:
    """How far the edge of a tile may stand out over a hip, mm."""
    return (LIPPAGE if tile.joint <= LIPPAGE_WIDE_FROM else LIPPAGE_WIDE).value


LIPPAGE_WIDE_FROM = 6.0


def greatest_side(bend: float, limit: float) -> float:
    """Longest tile that may lie across a line where the floor bends, mm: half of it tilted by half the bend stands `limit` out.

    >>> round(greatest_side(2 / 60, 1.0))
    120
    """
    return math.inf if bend < EPS else 4.0 * limit / bend


def measure_levels(plan: Plan, falls: Falls, floor: BaseGeometry, outline: Outline, tile: Tile) -> Levels:
    """Facets within the floor, their lines, drains, screed, ponds, and what is wrong with them."""
    room = outline.room
    facets = tuple(clipped(falls.facets, floor))
    lines = tuple(lines_between(facets))
    limit = lippage_limit(tile)
    side = max(tile.size)
    over = tuple(line for line in lines if line.kind != "step" and greatest_side(line.bend, limit) < side)
    cuts = over if plan.rules.falls == "cut" else ()
    cuts += tuple(line for line in lines if line.kind == "step")
    bend = max((line.bend for line in lines if line.kind != "step"), default=0.0)
    drains = tuple(_drain_levels(falls, facets))
    screed = _screed(room.levels.screed, room.levels.slab, [*facets, *_reveals(falls, floor)], build_up_of(tile, True, plan.rules))
    ponds = tuple(water_test(falls.at, facets, floor, [frame_of(drain) for drain in room.drains]))
    findings = [
        *_range_findings(plan.rules, facets),
        *_cover_findings(falls, facets, floor, [frame_of(drain) for drain in room.drains]),
        *(Finding(code="perimeter-not-level", text=f"floor: {note}") for note in falls.notes),
        *_step_findings(lines, bool(room.levels.steps)),
        *_threshold_findings(falls, outline),
        *_screed_findings(screed),
        *(Finding(code="pond", text=f"floor: {_pond_words(pond)}", at=pond.at) for pond in ponds),
    ]
    if over and plan.rules.falls == "accept":
        worst = max(over, key=lambda line: line.bend)
        stands = side * worst.bend / 4.0
        text = f"floor: a tile {side:g} long over the {worst.kind} stands {stands:.1f} out; up to {greatest_side(worst.bend, limit):.0f} it would keep {limit:g} ({LIPPAGE.source})"
        middle = worst.line.mean(axis=0)
        findings.append(Finding(code="tile-over-hip", text=text, at=(float(middle[0]), float(middle[1]))))
    levels = room.levels
    datum = f"±0 is the finished floor at the walls{'' if levels.floor == 0.0 else f' less {levels.floor:g}'}"
    if levels.datum is not None:
        datum += f" = {levels.datum:.3f} m"
    return Levels(falls, facets, lines, drains, screed, ponds, cuts, greatest_side(bend, limit), limit, datum, findings=tuple(findings))


def _pond_words(pond: Pond) -> str:
    if not math.isfinite(pond.depth):
        return f"{pond.area:.2f} m² are shut off from every drain; give them one, or a gap in the upstand"
    return f"water stays {pond.depth:.1f} deep over {pond.area:.2f} m²; no falling way to a drain leads from there"


def _reveals(falls: Falls, floor: BaseGeometry) -> list[Facet]:
    """The floor in door reveals, level from the wall's line on."""
    parts = [part for part in parts_of(cleaned(shapely.difference(floor, falls.region))) if part.area > 1.0]
    middles = [falls.at(shapely.get_coordinates(part.centroid))[0] for part in parts]
    return [Facet(part, (0.0, 0.0, float(level)), "reveal") for part, level in zip(parts, middles, strict=True)]


def _drain_levels(falls: Falls, facets: Sequence[Facet]) -> list[DrainLevel]:
    result = []
    for name, level in falls.drains.items():
        ratios = [facet.ratio for facet in facets if facet.to == name]
        result.append(DrainLevel(name, level, max(ratios, default=math.inf), min(ratios, default=math.inf)))
    return result


def _screed(least: float, slab: float | None, facets: Sequence[Facet], build_up: float) -> Screed:
    """Thickness under the tile's build-up over a flat slab, by corners of facets; volume by their middles, exact for planes."""
    corners = [(shapely.get_coordinates(f.polygon), f) for f in facets]
    places = np.concatenate([c for c, _ in corners])
    tops = np.concatenate([f.at(c) for c, f in corners]) - build_up
    low, high = int(tops.argmin()), int(tops.argmax())
    base = slab if slab is not None else float(tops[low]) - least
    volume = sum(f.polygon.area * (float(f.at(shapely.get_coordinates(f.polygon.centroid))[0]) - build_up - base) for f in facets) / 1e9

    def at(k: int) -> Point:
        return float(places[k, 0]), float(places[k, 1])

    return Screed(float(tops[low]) - base, at(low), float(tops[high]) - base, at(high), volume, base)


def _range_findings(rules: Rules, facets: Sequence[Facet]) -> list[Finding]:
    """Facets flatter or steeper than the published range."""
    kept = FALL_RANGES[rules.fall_range]
    result = []
    for name in dict.fromkeys(f.to for f in facets):
        own = [f for f in facets if f.to == name and f.polygon.area > 1e4]
        flat = max(own, key=lambda f: f.ratio, default=None)
        steep = min(own, key=lambda f: f.ratio, default=None)
        if flat is None or steep is None:
            continue
        told = []
        if flat.ratio > kept.flattest * 1.001:
            told.append((flat, f"only 1:{flat.ratio:.0f}" if math.isfinite(flat.ratio) else "level", f"at least 1:{kept.flattest:g}"))
        if steep.ratio < kept.steepest / 1.001:
            told.append((steep, f"1:{steep.ratio:.0f}", f"at most 1:{kept.steepest:g}"))
        for facet, is_, wanted in told:
            middle = facet.polygon.representative_point()
            text = f"floor: the fall to {name} is {is_} in one facet; {wanted} wanted ({kept.source})"
            result.append(Finding(code="fall-outside-range", text=text, at=(float(middle.x), float(middle.y))))
    return result


def _cover_findings(falls: Falls, facets: Sequence[Facet], floor: BaseGeometry, frames: Sequence[Polygon]) -> list[Finding]:
    inside = shapely.difference(shapely.intersection(floor, falls.region), union_of(frames))
    left = cleaned(shapely.difference(inside, shapely.buffer(union_of([f.polygon for f in facets]), 1.0)))
    area = sum(part.area for part in parts_of(left) if part.area > 1e4) / 1e6
    if area == 0.0:
        return []
    at = max(parts_of(left), key=lambda p: p.area).representative_point()
    text = f"floor: {area:.2f} m² belong to no fall; their levels are those of the nearest one's edge"
    return [Finding(code="floor-without-fall", text=text, at=(float(at.x), float(at.y)))]


def _step_findings(lines: Sequence[FallLine], wanted: bool) -> list[Finding]:
    steps = [line for line in lines if line.kind == "step"]
    if not steps or wanted:
        return []
    worst = max(steps, key=lambda line: line.length)
    at = worst.line.mean(axis=0)
    text = f"floor: falls meet at different levels along {sum(s.length for s in steps) / 1000:.2f} m; levels.steps = true says that this is wanted"
    return [Finding(code="step-in-floor", text=text, at=(float(at[0]), float(at[1])))]


def _threshold_findings(falls: Falls, outline: Outline) -> list[Finding]:
    result = []
    for door in outline.openings:
        if not door.door:
            continue
        run = outline.walls[door.wall].run
        name = door.opening.name
        ends = falls.at(np.array([run.at(door.s0), run.at(door.s1)]))
        at = run.at((door.s0 + door.s1) / 2)
        place = (float(at[0]), float(at[1]))
        low, high = float(ends.min()), float(ends.max())
        if high - low > THRESHOLD_PLAY:
            text = f"floor: the threshold of {name} falls {high - low:.0f} over its width, from {high:+.0f} to {low:+.0f}"
            result.append(Finding(code="threshold-step", text=text, at=place))
        level = door.opening.level
        if level is not None and max(abs(level - low), abs(level - high)) > THRESHOLD_PLAY:
            text = f"floor: the threshold of {name} is wanted at {level:+g}, the floor there is at {low:+.0f}"
            text += f" to {high:+.0f}" if high - low > THRESHOLD_PLAY else ""
            result.append(Finding(code="threshold-step", text=text, at=place))
    return result


def _screed_findings(screed: Screed) -> list[Finding]:
    if screed.least >= 0.0:
        return []
    text = f"floor: the slab stands {-screed.least:.0f} above the underside of the tile's bed; lower it or raise the floor"
    return [Finding(code="screed-thin", text=text, at=screed.least_at)]


def saw_strip(line: Floats, joint: float) -> Polygon:
    """What a saw line takes out of the tile: a joint's width along it, a little beyond its ends, where lines meet."""
    way = (line[1] - line[0]) / max(float(np.hypot(*(line[1] - line[0]))), EPS)
    ends = shapely.LineString([line[0] - way * joint, line[1] + way * joint])
    return shapely.buffer(ends, joint / 2, cap_style="flat")


GRID = 1000.0
"""Spacing of the grid of levels, from the lower-left corner of the first whole tile, mm."""


def spot_levels(levels: Levels, outline: Outline, floor: BaseGeometry, crossings: Sequence[tuple[str, Point]], origin: Point) -> Levels:
    """The same with spots at room corners, drains, thresholds and given crossings of lines, and on a grid from `origin`."""
    places: list[tuple[str, Point]] = []
    for wall in outline.walls:
        places.append((f"corner at the start of {wall.label}", (float(wall.run.points[0][0]), float(wall.run.points[0][1]))))
    for door in outline.openings:
        if door.door:
            run = outline.walls[door.wall].run
            for part, s in (("jamb", door.s0), ("middle", (door.s0 + door.s1) / 2), ("jamb", door.s1)):
                at = run.at(s)
                places.append((f"{door.opening.name}, {part}", (float(at[0]), float(at[1]))))
    places += [(name, at) for name, at in crossings if floor.distance(shapely.Point(at)) < TOUCH]
    spots = _spots(levels.falls, places)
    for drain in outline.room.drains:
        level = levels.falls.drains.get(drain.name)
        spots.append(Spot(drain.name, drain.at, float(levels.falls.at(np.array([drain.at]))[0]) if level is None else level))
    x0, y0, x1, y1 = floor.bounds
    xs = origin[0] + GRID * np.arange(math.ceil((x0 - origin[0]) / GRID), math.floor((x1 - origin[0]) / GRID) + 1)
    ys = origin[1] + GRID * np.arange(math.ceil((y0 - origin[1]) / GRID), math.floor((y1 - origin[1]) / GRID) + 1)
    nodes = np.stack(np.meshgrid(xs, ys), axis=-1).reshape(-1, 2)
    nodes = nodes[shapely.intersects_xy(floor, nodes[:, 0], nodes[:, 1])]
    grid = _spots(levels.falls, [("grid", (float(x), float(y))) for x, y in nodes])
    return replace(levels, spots=tuple(spots), grid=tuple(grid))


def _spots(falls: Falls, places: Sequence[tuple[str, Point]]) -> list[Spot]:
    if not places:
        return []
    found = falls.at(np.array([at for _, at in places]))
    return [Spot(what, at, float(level)) for (what, at), level in zip(places, found, strict=True)]
