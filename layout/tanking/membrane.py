"""The membrane itself: where it ends, how thick it gets, where it is tested."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias

import numpy as np
import shapely

from layout.errors import Finding
from layout.standards.rules import DAY_LAP, DRY_FILM, TANKING_LEAST, TEST_POINTS, TEST_POINTS_LEAST, UPSTAND_LEAST
from layout.units import EPS, TOUCH
from layout.words import worded

if TYPE_CHECKING:
    from layout.errors import Point, Rule
    from layout.identity import SurfaceId
    from layout.lining.build import Lining
    from layout.lining.surfaces import Surface
    from layout.plan.values import Plan
    from layout.standards.products import Products
    from layout.vectors import Floats

TestKind: TypeAlias = Literal["wet film", "pull-off", "moisture", "flood level"]
LETTERS: dict[TestKind, str] = {"wet film": "W", "pull-off": "P", "moisture": "M"}
"""Tests at so many points of a floor, and the letters that their points begin with."""
EndKind: TypeAlias = Literal["top of tanking", "threshold", "reveal", "day joint"]
ENDS: dict[str, str] = {
    "top of tanking": worded("top of tanking"),
    "threshold": worded("threshold"),
    "reveal": worded("reveal"),
    "day joint": worded("day joint"),
}
"""Where the membrane ends, in words."""


@dataclass(frozen=True, slots=True, eq=False)
class Termination:
    """Where the membrane ends: a line (n, 3) in the room, its length, mm, and how it is ended."""

    kind: EndKind
    where: str
    line: Floats
    length: float
    how: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Film:
    """Film of one coat and of all of them, mm: wet = consumption / density, dry = wet x solids."""

    coats: int
    wet: float
    dry: float
    least: Rule
    exposure: str

    @property
    def enough(self) -> bool:
        """Whether all coats together reach the least dry film; W0-I asks for none."""
        return self.exposure == "W0-I" or self.coats * self.dry >= self.least.value - 1e-9


@dataclass(frozen=True, slots=True)
class TestPoint:
    """A numbered place to test, on a flat surface, mm; the level of a flood test stands at a drain or door, `thing`."""

    __test__ = False  # it is no test case

    name: str
    test: TestKind
    surface: SurfaceId
    at: Point
    thing: str = ""

    @property
    def kind(self) -> str:
        """The test in words, with the thing that it stands at."""
        return worded("flood level at {name}", name=self.thing) if self.thing else self.test


def wet_film(consumption: float, density: float) -> float:
    """Wet film of a coat, mm: kg/m2 over kg/l."""
    return consumption / density


def dry_film(wet: float, solids: float) -> float:
    """Dry film of a wet one: by volume solids (part). Source: "Wet and Dry Film Thickness Formulae".

    >>> round(dry_film(161.3, 0.62))
    100
    """
    return wet * solids


def film_of(plan: Plan) -> Film:
    """The film that the plan's consumption gives."""
    products: Products = plan.products
    wet = wet_film(products.membrane_kg_m2.value, products.membrane_density.value)
    dry = dry_film(wet, products.membrane_solids.value)
    return Film(
        coats=int(products.membrane_coats.value), wet=wet, dry=dry, least=DRY_FILM[plan.rules.membrane_type], exposure=plan.rules.exposure
    )


def terminations(lining: Lining) -> list[Termination]:
    """Every free edge of the membrane: tops of tanking, thresholds, reveals, day joints."""
    result: list[Termination] = []
    for surface in lining.surfaces:
        if surface.placing.line is not None and surface.kind != "plinth-side" and not surface.tanked.is_empty:
            result += _top(surface)
    for face in lining.shell.thresholds:
        opening = lining.outline.openings[face.tag.number].opening
        height = worded(" {threshold_height:g} high", threshold_height=opening.threshold_height) if opening.threshold_height else ""
        how = {
            "strip": worded("ended under a strip, sealed to the floor beyond"),
            "upstand": worded("dressed up an upstand{height}", height=height),
            "step": worded("dressed over a step{height}", height=height),
            "floor": worded("lapped onto the membrane of the floor beyond"),
        }[opening.threshold]
        line = np.array([[*face.a, face.bottom], [*face.b, face.bottom]])
        result.append(Termination("threshold", opening.name, line, face.length, how))
    result += _reveals(lining)
    for joint in lining.room.day_joints:
        for part in shapely.get_parts(shapely.intersection(shapely.LineString(joint.line), lining.floor.tanked)):
            if part.length > TOUCH:
                points = shapely.get_coordinates(part)
                line = np.column_stack([points, np.zeros(len(points))])
                how = worded(
                    "feathered out; the next day's coat laps it by {day_lap:g} ({source})", day_lap=DAY_LAP.value, source=DAY_LAP.source
                )
                result.append(Termination("day joint", joint.name, line, float(part.length), how))
    return result


def _top(surface: Surface) -> list[Termination]:
    """The level upper edge of a face's tanking."""
    top = float(surface.tanked.bounds[3])
    x0, _, x1, _ = surface.tanked.bounds
    edge = shapely.intersection(shapely.boundary(surface.tanked), shapely.box(x0 - 1.0, top - TOUCH, x1 + 1.0, top + TOUCH))
    result = []
    for part in shapely.get_parts(shapely.line_merge(edge) if edge.geom_type != "LineString" else edge):
        points = shapely.get_coordinates(part)
        if part.length > 1.0 and np.ptp(points[:, 0]) > 1.0:
            how = worded("ended straight at the height, tile laps it") if surface.tile else worded("ended straight at the height")
            result.append(Termination("top of tanking", surface.name, surface.placing.to_room(points), float(np.ptp(points[:, 0])), how))
    return result


def _reveals(lining: Lining) -> list[Termination]:
    """Edges of hatches and windows within the tanking: the membrane turns into the reveal."""
    result = []
    for opening in lining.outline.openings:
        if opening.door:
            continue
        wall = lining.outline.walls[opening.wall]
        surface = next((s for s in lining.surfaces if s.kind == "wall" and s.wall == wall.run.number), None)
        if surface is None or surface.tanked.is_empty:
            continue
        x0, x1 = wall.run.length - opening.s1, wall.run.length - opening.s0
        box = shapely.box(x0, opening.opening.sill, x1, opening.opening.head)
        edge = shapely.intersection(shapely.boundary(box), shapely.boundary(surface.tanked))
        if edge.length > TOUCH:
            depth = opening.opening.depth
            how = worded("returned {depth:.0f} into the reveal", depth=depth) if depth else worded("ended on the frame, sealed")
            line = surface.placing.to_room(shapely.get_coordinates(edge))
            result.append(Termination("reveal", opening.opening.name, line, float(edge.length), how))
    return result


def test_points(lining: Lining) -> list[TestPoint]:
    """Numbered places to test on the floor: wet film, pull-off, moisture by area, flood level at each drain and door.

    Each kind is spread out as far as it goes: every next point stands farthest from those before it, from walls and drains.
    """
    floor = lining.floor.tanked
    area = floor.area / 1e6
    x0, y0, x1, y1 = floor.bounds
    step = max(math.sqrt(max((x1 - x0) * (y1 - y0), 1.0) / 1500.0), 50.0)
    xs, ys = np.meshgrid(np.arange(x0 + step / 2, x1, step), np.arange(y0 + step / 2, y1, step))
    spots = np.column_stack([xs.ravel(), ys.ravel()])
    points = np.asarray(shapely.points(spots), dtype=object)
    clear = np.asarray(shapely.distance(points, shapely.boundary(floor)))
    for each in lining.floor.breaks:
        low, high = np.split(np.array(each.shape.bounds), 2)
        least = np.hypot(*np.maximum(np.maximum(low - spots, spots - high), 0.0).T)  # to the box round it
        near = np.flatnonzero(least < clear + EPS)
        clear[near] = np.minimum(clear[near], shapely.distance(points[near], each.shape))
    inside = shapely.covers(floor, points) & (clear > min(150.0, float(clear.max()) / 2))
    spots, clear = spots[inside], clear[inside]
    result: list[TestPoint] = []
    if len(spots) == 0:
        return result
    apart = clear.copy()
    for kind, letter in LETTERS.items():
        rule = TEST_POINTS[kind]
        count = max(math.ceil(area / rule.value), TEST_POINTS_LEAST.get(kind, 1))
        for number in range(1, count + 1):
            k = int(np.round(apart, 3).argmax())
            at = (float(spots[k, 0]), float(spots[k, 1]))
            result.append(TestPoint(f"{letter}{number}", kind, lining.floor.id, at))
            apart = np.minimum(apart, np.hypot(*(spots - spots[k]).T))
    places = [(each.name, each.at) for each in lining.floor.breaks if each.kind in ("gully", "channel")]
    for face in lining.shell.thresholds:
        name = lining.outline.openings[face.tag.number].opening.name
        places.append((name, ((face.a[0] + face.b[0]) / 2, (face.a[1] + face.b[1]) / 2)))
    result += [TestPoint(f"F{k}", "flood level", lining.floor.id, at, name) for k, (name, at) in enumerate(places, 1)]
    return result


def membrane_findings(lining: Lining, film: Film) -> list[Finding]:
    """The film against its least, and tanking against the least height."""
    result = []
    if not film.enough:
        text = worded(
            "{coats} coats of {wet:.2f} mm wet dry to {coats_2:.2f} mm; {least:g} wanted for {exposure} ({source})",
            coats=film.coats,
            wet=film.wet,
            coats_2=film.coats * film.dry,
            least=film.least.value,
            exposure=film.exposure,
            source=film.least.source,
        )
        result.append(Finding(code="membrane-thin", text=text))
    for wall in lining.outline.walls:
        if 0.0 < wall.tanking_height < TANKING_LEAST.value - TOUCH:
            text = worded(
                "{label} is tanked to {tanking_height:g}; {tanking_least:g} wanted ({source})",
                label=wall.label,
                tanking_height=wall.tanking_height,
                tanking_least=TANKING_LEAST.value,
                source=TANKING_LEAST.source,
            )
            result.append(Finding(code="tanking-low", text=text))
        above = wall.tanking_height - lining.floor.build_up
        if wall.tanking_height > 0.0 and above < UPSTAND_LEAST.value - TOUCH:
            text = worded(
                "{label} is tanked to {above:.0f} above the finished floor; {upstand_least:g} wanted ({source})",
                label=wall.label,
                above=above,
                upstand_least=UPSTAND_LEAST.value,
                source=UPSTAND_LEAST.source,
            )
            result.append(Finding(code="tanking-low", text=text))
    return result
