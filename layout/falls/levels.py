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

from layout.errors import Finding
from layout.falls.datum import THRESHOLD_PLAY, corner_names, datum_point, datum_words
from layout.falls.facets import Facet, FallLine, clipped, is_ramp, lines_between
from layout.falls.water import Pond, water_test
from layout.room.outlines import build_up_of, frame_of
from layout.shapes import cleaned, parts_of, turned, turned_shape, union_of
from layout.standards.rules import FALL_RANGES, LIPPAGE, LIPPAGE_WIDE, STRETCH_COUNTS
from layout.units import EPS, TOUCH
from layout.vectors import pair, unit
from layout.words import listed, worded

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from shapely.geometry.base import BaseGeometry

    from layout.errors import Point
    from layout.falls.shaping import Falls
    from layout.plan.values import Plan, Rules, Tile
    from layout.room.outlines import Outline
    from layout.vectors import Floats


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
class Levels:
    """What is known of a floor's levels: facets and lines within the floor, spots, drains, screed, ponds, findings.

    `datum` says where ±0 is, `floor_datum` the like of levels counted from the floor's own (elevations): both from the finished
    floor at a place that a person finds. `cuts` are the lines along which tile is cut; `greatest` is the side up to which it need not be, by the
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
    floor_datum: str = worded("is the finished floor")

    @property
    def stretch(self) -> float:
        """True area of the floor over its area in plan; 1 where they differ by no more than a thousandth."""
        whole = math.fsum(f.polygon.area for f in self.facets)
        part = math.fsum(f.polygon.area * f.stretch for f in self.facets) / whole if whole else 1.0
        return part if part - 1.0 > STRETCH_COUNTS.value else 1.0


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


def measure_levels(
    plan: Plan, falls: Falls, floor: BaseGeometry, outline: Outline, tile: Tile, ponds: Sequence[Pond] | None = None
) -> Levels:
    """Facets within the floor, their lines, drains, screed, ponds (where they are known, those), and what is wrong with them."""
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
    ponds = tuple(water_test(falls.at, facets, floor, [frame_of(drain) for drain in room.drains]) if ponds is None else ponds)
    findings = [
        *_range_findings(plan.rules, facets, falls.drains),
        *_cover_findings(falls, facets, floor, [frame_of(drain) for drain in room.drains]),
        *(Finding(code="perimeter-not-level", text=worded("floor: {note}", note=note)) for note in falls.notes),
        *_step_findings(lines, bool(room.levels.steps)),
        *_threshold_findings(falls, outline),
        *_screed_findings(screed),
        *(Finding(code="pond", text=worded("floor: {pond_words}", pond_words=_pond_words(pond)), at=pond.at) for pond in ponds),
    ]
    if over and plan.rules.falls == "accept":
        worst = max(over, key=lambda line: line.bend)
        stands = side * worst.bend / 4.0
        text = worded(
            "floor: a tile {side:g} long over the {kind} stands {stands:.1f} out; up to {greatest_side:.0f} it would "
            "keep {limit:g} ({source})",
            side=side,
            kind=worst.kind,
            stands=stands,
            greatest_side=greatest_side(worst.bend, limit),
            limit=limit,
            source=LIPPAGE.source,
        )
        middle = worst.line.mean(axis=0)
        findings.append(Finding(code="tile-over-hip", text=text, at=pair(middle)))
    levels = room.levels
    base, at, _ = datum_point(falls, outline, levels.floor)
    datum = f"±0 {datum_words(base, at)}"
    if levels.datum is not None:
        datum += f" = {levels.datum:.3f} m"
    return Levels(
        falls,
        facets,
        lines,
        drains,
        screed,
        ponds,
        cuts,
        greatest_side(bend, limit),
        limit,
        datum,
        findings=tuple(findings),
        floor_datum=datum_words(base, at - levels.floor),
    )


def _pond_words(pond: Pond) -> str:
    if not math.isfinite(pond.depth):
        return worded("{area:.2f} m² are shut off from every drain; give them one, or a gap in the upstand", area=pond.area)
    return worded(
        "water stays {depth:.1f} deep over {area:.2f} m²; no falling way to a drain leads from there", depth=pond.depth, area=pond.area
    )


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
    volume = (
        math.fsum(f.polygon.area * (float(f.at(shapely.get_coordinates(f.polygon.centroid))[0]) - build_up - base) for f in facets) / 1e9
    )

    def at(k: int) -> Point:
        return float(places[k, 0]), float(places[k, 1])

    return Screed(float(tops[low]) - base, at(low), float(tops[high]) - base, at(high), volume, base)


def _range_findings(rules: Rules, facets: Sequence[Facet], drains: Mapping[str, float]) -> list[Finding]:
    """Facets flatter or steeper than the published range; ramps are not held against it."""
    kept = FALL_RANGES[rules.fall_range]
    result = []
    for name in dict.fromkeys(f.to for f in facets):
        own = [f for f in facets if f.to == name and f.polygon.area > 1e4 and not is_ramp(f, drains, rules)]
        flat = max(own, key=lambda f: f.ratio, default=None)
        steep = min(own, key=lambda f: f.ratio, default=None)
        if flat is None or steep is None:
            continue
        told = []
        if flat.ratio > kept.flattest * 1.001:
            told.append(
                (
                    flat,
                    worded("only 1:{ratio:.0f}", ratio=flat.ratio) if math.isfinite(flat.ratio) else worded("level"),
                    worded("at least 1:{flattest:g}", flattest=kept.flattest),
                )
            )
        if steep.ratio < kept.steepest / 1.001:
            told.append((steep, f"1:{steep.ratio:.0f}", worded("at most 1:{steepest:g}", steepest=kept.steepest)))
        for facet, is_, wanted in told:
            middle = facet.polygon.representative_point()
            text = worded(
                "floor: the fall to {name} is {is_} in one facet; {wanted} wanted ({source})",
                name=name,
                is_=is_,
                wanted=wanted,
                source=kept.source,
            )
            result.append(Finding(code="fall-outside-range", text=text, at=(float(middle.x), float(middle.y))))
    return result


def _cover_findings(falls: Falls, facets: Sequence[Facet], floor: BaseGeometry, frames: Sequence[Polygon]) -> list[Finding]:
    inside = shapely.difference(shapely.intersection(floor, falls.region), union_of(frames))
    left = cleaned(shapely.difference(inside, shapely.buffer(union_of([f.polygon for f in facets]), 1.0)))
    area = math.fsum(part.area for part in parts_of(left) if part.area > 1e4) / 1e6
    if area == 0.0:
        return []
    at = max(parts_of(left), key=lambda p: p.area).representative_point()
    text = worded("floor: {area:.2f} m² belong to no fall; their levels are those of the nearest one's edge", area=area)
    return [Finding(code="floor-without-fall", text=text, at=(float(at.x), float(at.y)))]


def _step_findings(lines: Sequence[FallLine], wanted: bool) -> list[Finding]:
    steps = [line for line in lines if line.kind == "step"]
    if not steps or wanted:
        return []
    worst = max(steps, key=lambda line: line.length)
    at = worst.line.mean(axis=0)
    text = worded(
        "floor: falls meet at different levels along {length:.2f} m; levels.steps = true says that this is wanted",
        length=math.fsum(s.length for s in steps) / 1000,
    )
    return [Finding(code="step-in-floor", text=text, at=pair(at))]


def _threshold_findings(falls: Falls, outline: Outline) -> list[Finding]:
    result = []
    for door in outline.openings:
        if not door.door:
            continue
        run = outline.walls[door.wall].run
        name = door.opening.name
        ends = falls.at(np.array([run.at(door.s0), run.at(door.s1)]))
        at = run.at((door.s0 + door.s1) / 2)
        place = pair(at)
        low, high = float(ends.min()), float(ends.max())
        if high - low > THRESHOLD_PLAY:
            text = worded(
                "floor: the threshold of {name} falls {high:.0f} over its width, from {high_2:+.0f} to {low:+.0f}",
                name=name,
                high=high - low,
                high_2=high,
                low=low,
            )
            result.append(Finding(code="threshold-step", text=text, at=place))
        level = door.opening.level
        if level is not None and max(abs(level - low), abs(level - high)) > THRESHOLD_PLAY:
            text = worded(
                "floor: the threshold of {name} is wanted at {level:+g}, the floor there is at {low:+.0f}", name=name, level=level, low=low
            )
            text += worded(" to {high:+.0f}", high=high) if high - low > THRESHOLD_PLAY else ""
            result.append(Finding(code="threshold-step", text=text, at=place))
    return result


def _screed_findings(screed: Screed) -> list[Finding]:
    if screed.least >= 0.0:
        return []
    text = worded(
        "floor: the slab stands {least:.0f} above the underside of the tile's bed; lower it or raise the floor", least=-screed.least
    )
    return [Finding(code="screed-thin", text=text, at=screed.least_at)]


def saw_strip(line: Floats, joint: float) -> Polygon:
    """What a saw line takes out of the tile: a joint's width along it, a little beyond its ends, where lines meet."""
    way = unit(line[1] - line[0])
    ends = shapely.LineString([line[0] - way * joint, line[1] + way * joint])
    return shapely.buffer(ends, joint / 2, cap_style="flat")


GRID = 1000.0
"""Spacing of the grid of levels, along the room's own axes from where the first two start lines cross, mm."""


def spot_levels(
    levels: Levels, outline: Outline, floor: BaseGeometry, crossings: Sequence[tuple[str, Point]], origin: Point, turn: float = 0.0
) -> Levels:
    """The same with spots at room corners, drains, thresholds and given crossings of lines, and on a grid through `origin`, its lines turned by `turn` degrees."""
    places: list[tuple[str, Point]] = []
    for name, wall in zip(corner_names(outline), outline.walls, strict=True):
        places.append((name, pair(wall.run.points[0])))
    for door in outline.openings:
        if door.door:
            run = outline.walls[door.wall].run
            for part, s in ((worded("jamb"), door.s0), (worded("middle"), (door.s0 + door.s1) / 2), (worded("jamb"), door.s1)):
                at = run.at(s)
                places.append((listed((door.opening.name, part)), pair(at)))
    places += [(name, at) for name, at in crossings if floor.distance(shapely.Point(at)) < TOUCH]
    spots = _spots(levels.falls, places)
    for drain in outline.room.drains:
        level = levels.falls.drains.get(drain.name)
        spots.append(Spot(drain.name, drain.at, float(levels.falls.at(np.array([drain.at]))[0]) if level is None else level))
    grid = _spots(levels.falls, [("grid", pair(at)) for at in _nodes(floor, origin, turn)])
    return replace(levels, spots=tuple(spots), grid=tuple(grid))


def _nodes(floor: BaseGeometry, origin: Point, turn: float) -> Floats:
    """Places (n, 2) of a grid on a floor, row by row from its lower left as the grid lies."""
    (x, y), (x0, y0, x1, y1) = turned(np.array([origin]), -turn)[0], turned_shape(floor, -turn).bounds
    xs = x + GRID * np.arange(math.floor((x0 - x) / GRID), math.ceil((x1 - x) / GRID) + 1)
    ys = y + GRID * np.arange(math.floor((y0 - y) / GRID), math.ceil((y1 - y) / GRID) + 1)
    nodes: Floats = turned(np.stack(np.meshgrid(xs, ys), axis=-1).reshape(-1, 2), turn)
    shapely.prepare(floor)
    on: Floats = nodes[shapely.dwithin(floor, shapely.points(nodes), TOUCH)]  # a node on a wall is one however the room lies
    return on


def _spots(falls: Falls, places: Sequence[tuple[str, Point]]) -> list[Spot]:
    if not places:
        return []
    found = falls.at(np.array([at for _, at in places]))
    return [Spot(what, at, float(level)) for (what, at), level in zip(places, found, strict=True)]
