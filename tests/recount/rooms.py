"""A room counted again: sealant joints along every ring, bays, joints by kind, tape at feet and doors, levels."""

from __future__ import annotations

import math
import re
from collections import Counter, defaultdict
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
import shapely.ops

from tests.recount.surfaces import ACROSS, by_chords, left_out, region_of, strips_of
from tests.recount.widths import turned

if TYPE_CHECKING:
    from tests.recount.tally import Tally

EDGES = ("perimeter", "threshold", "plinth", "column", "drain", "pipe")
"""Joints that go along an edge of a surface."""
FLAT = ("floor", "plinth-top")
SHORT = 5.0
"""Corners that turn less than this are not corners, degrees."""
SQUARE = 15.0
"""A preformed corner piece fits a right angle within this, degrees."""


def count_joints(tally: Tally, room: dict[str, Any]) -> None:
    """Each joint's length by its own line, joints by kind, and joints along each ring of floors and tops."""
    by_kind: Counter[tuple[str, float]] = Counter()
    for joint in room["movement_joints"]:
        long = line_length(joint["line"])
        tally.same("joint by its line, mm", joint["length_mm"], long, 0.02 + 5e-4 * long * (joint["kind"] == "pipe"))
        by_kind[joint["kind"], joint["width_mm"]] += joint["length_mm"]
    tally.same("kinds of joints", len(room["joint_types"]), len(by_kind))
    for row in room["joint_types"]:
        tally.same("joints of a kind, mm", row["length_mm"], by_kind[row["kind"], row["width_mm"]], 0.01 * len(room["movement_joints"]))
    shared = math.fsum(door["joint_mm"] for door in room["shared_doors"])
    for part in room["surfaces"]:
        if part["kind"] in FLAT and part.get("pieces"):
            _rings(tally, part, room, shared if part["kind"] == "floor" else 0.0)
        if part.get("pieces"):
            _joints_across(tally, part, room)


def line_length(line: Any) -> float:
    """Length of a line of points in two or three dimensions."""
    steps = np.diff(np.array(line, dtype=float), axis=0)
    return math.fsum(np.sqrt((steps**2).sum(axis=1)).tolist())


def _rings(tally: Tally, part: dict[str, Any], room: dict[str, Any], shared: float) -> None:
    """Along each ring of a flat surface the joints are as long as the ring moved out to their middle."""
    own = [j for j in room["movement_joints"] if j["surface_id"] == part["id"] and j["kind"] in EDGES]
    lines = [shapely.LineString(joint["line"]) for joint in own]
    region = region_of(part)
    if region.geom_type != "Polygon":
        tally.unjudged["joints round a region that touches itself"] += 1
        return
    for n, ring in enumerate((region.exterior, *region.interiors)):
        near = [k for k, line in enumerate(lines) if _beside(line, ring, own[k]["width_mm"])]
        widths = {own[k]["width_mm"] for k in near}
        if len(widths) != 1:
            tally.unjudged["rings of joints of several widths, or of none"] += 1
            continue
        half = widths.pop() / 2
        moved = shapely.Polygon(ring).buffer(half if n == 0 else -half, join_style="mitre", mitre_limit=20.0)
        told = math.fsum(own[k]["length_mm"] for k in near) + (shared if n == 0 else 0.0)
        counted = moved.boundary.length
        if part["kind"] == "plinth-top" or part["part"] > 1 or len([p for p in room["surfaces"] if p["id"] == part["id"]]) > 1:
            tally.no_more("joints along a ring, mm: no more than the ring", told, counted, 1.0 + 1e-3 * counted)
        else:
            tally.same("joints along a ring, mm", told, counted, 1.0 + 1e-4 * counted)


def _beside(line: Any, ring: Any, width: float) -> bool:
    """Whether a line goes along a ring at half its width all the way."""
    middles = [line.interpolate(part, normalized=True) for part in (0.02, 0.25, 0.5, 0.75, 0.98)]
    return sum(bool(point.distance(ring) < width / 2 + 2.0) for point in middles) >= 4


def _joints_across(tally: Tally, part: dict[str, Any], room: dict[str, Any]) -> None:
    """Joints across a surface are as long as their strips are wide in the region; bays are what is left between them."""
    own = [j for j in room["movement_joints"] if j["surface_id"] == part["id"] and j["kind"] in ACROSS]
    region = region_of(part)
    if not own or part["kind"] == "border":
        return
    strips = strips_of(part, room)
    several = len([p for p in room["surfaces"] if p["id"] == part["id"]]) > 1
    for joint, strip in zip(own, strips, strict=True):
        if shapely.LineString(joint["line"]).distance(region) > joint["width_mm"] or several:
            continue
        along = strip.intersection(region).area / joint["width_mm"]
        tally.same("joint across by its area, mm", joint["length_mm"], along, 2.5 * joint["width_mm"])
    if several:
        return
    laid = region.difference(shapely.union_all(strips))
    bays = [shape for shape in shapely.get_parts(laid) if not shape.buffer(-0.11, join_style="mitre").is_empty]
    told = [bay for bay in room["bays"] if bay["surface_id"] == part["id"]]
    out = left_out(part, room)
    if out >= 1.0:  # a joint that lies along an edge is listed as no joint there: its stretch parts bays all the same
        tally.unjudged["bays beside a joint that runs along an edge, one by one"] += 1
        return
    tally.same("bays of a surface", len(told), len(bays))
    left = [shape.area / 1e6 for shape in bays]
    for bay in told:
        near = min(left, key=lambda area: abs(area - bay["area_m2"]), default=None)
        tally.same("area of a bay, m²", bay["area_m2"], near, 1.1e-5 + 2e-6 * region.area / 1e6)
        if near is not None:
            left.remove(near)
    for bay in told:
        boxes = [sides for shape in bays if abs(shape.area / 1e6 - bay["area_m2"]) < 1e-3 for sides in _boxes(shape)]
        found = [box for box in boxes if abs(max(box) - bay["longest_mm"]) < 4.0 and abs(max(box) / min(box) - bay["aspect"]) < 3e-3]
        tally.holds("longest side and aspect of a bay, as a box along one of its sides", bool(found), bay["longest_mm"])


def _boxes(shape: Any) -> list[tuple[float, float]]:
    """Sides of the boxes round a shape that lie along one of its sides."""
    points = np.array(shape.exterior.coords)
    way = np.diff(points, axis=0)
    long = np.hypot(way[:, 0], way[:, 1])
    angles = np.degrees(np.arctan2(way[long > 50.0, 1], way[long > 50.0, 0])) % 90.0
    boxes = [np.ptp(turned(points, -angle), axis=0) for angle in np.unique(np.round(angles, 4))]
    return [(float(box[0]), float(box[1])) for box in boxes]


def count_tape(tally: Tally, room: dict[str, Any], plan: dict[str, Any] | None) -> None:
    """Each run by its own line; at the feet of walls, columns, plinths and at doors, from the outlines of the plan."""
    for run in room["tape"]:
        tally.same("tape by its line, mm", run["length_mm"], line_length(run["line"]), 0.02)
    if plan is None or any(isinstance(point, dict) for point in plan["outline"]):
        tally.unjudged["tape of a room with arcs"] += 1
        return
    tally.same("collars", len(room["collars"]), len(plan.get("pipes", ())) + len(plan.get("fixings", ())))
    if plan.get("outline_is", "substrate") != "substrate" or "thresholds" in str(plan) or "rules" in plan:
        tally.unjudged["tape of a room that is measured to its tile"] += 1
        return
    _flanges(tally, room, plan)
    feet = _feet(plan)
    if feet is None:
        tally.unjudged["tape of a room with reveals, or with things that touch"] += 1
        return
    told: defaultdict[str, float] = defaultdict(float)
    for run in room["tape"]:
        ends = np.array(run["line"])
        if run["junction"] == "internal" and np.ptp(ends[:, :2], axis=0).max() > 0.1:
            told[run["kind"]] += run["length_mm"]
        if run["kind"] == "threshold":
            told["threshold"] += run["length_mm"] * (run["junction"] != "internal")
    told["threshold"] += math.fsum(door["tape_mm"] for door in room["shared_doors"])
    for kind in sorted({*told, *feet}):
        if kind in ("wall-floor", "column-floor", "plinth-floor", "threshold"):
            tally.same(f"tape at feet, {kind}, mm", told[kind], feet[kind], 1.0 + (5e-4 if room["levels"] else 1e-5) * feet[kind])
    if not (set(plan) & {"plinths", "columns", "walls", "openings"}):
        _corners(tally, room, plan)


def _flanges(tally: Tally, room: dict[str, Any], plan: dict[str, Any]) -> None:
    drains = [drain for drain in plan.get("drains", ()) if drain.get("flange", 50) > 0]
    tally.same("flanges", len(room["flanges"]), len(drains))
    if len(room["flanges"]) != len(drains):
        return
    for drain, told in zip(drains, room["flanges"], strict=True):
        if drain["kind"] == "channel":
            sides = (math.dist(drain["from"], drain["to"]), drain.get("width"))
        else:
            sides = tuple(drain.get("frame", (None, None)))
        if None not in sides:
            tally.same("length of a flange, mm", told["length_mm"], 2.0 * math.fsum(sides), 0.02)


def _feet(plan: dict[str, Any]) -> dict[str, float] | None:
    """Metres of tape at feet by kind, where all faces are tanked and the floor stands level; None where the plan is not so plain."""
    openings = [each for each in plan.get("openings", ()) if each.get("sill", 0) == 0]
    if any(each.get("depth", 0) for each in openings) or any(isinstance(each.get("wall"), str) or "from" in each for each in openings):
        return None
    if any(wall.get("tanking_height", 1) == 0 for wall in plan.get("walls", ())) or plan.get("tanking_height", 1) == 0:
        return None
    outline = shapely.Polygon(plan["outline"])
    solids = {
        kind: [shapely.Polygon(each["outline"]) for each in plan.get(kind, ()) if "outline" in each] for kind in ("columns", "plinths")
    }
    if any(isinstance(p, dict) for kind in solids for each in plan.get(kind, ()) for p in each.get("outline", ())):
        return None
    if any(len(solids[kind]) != len(plan.get(kind, ())) for kind in solids):
        return None
    every = [*solids["columns"], *solids["plinths"]]
    if any(a.distance(b) < 1.0 for k, a in enumerate(every) for b in every[k + 1 :]) or not outline.is_valid:
        return None
    floor = outline.difference(shapely.union_all(every))
    if floor.geom_type != "Polygon" and not every:
        return None
    rim = floor.boundary
    result: defaultdict[str, float] = defaultdict(float)
    wall = rim.intersection(outline.boundary.buffer(0.01)).length
    doors = _doors(openings)
    result["wall-floor"] += wall - doors
    result["threshold"] += doors
    for kind, shapes in solids.items():
        for shape in shapes:
            result[f"{kind[:-1]}-floor"] += (
                rim.intersection(shape.boundary.buffer(0.01)).length
                - rim.intersection(shape.boundary.buffer(0.01)).intersection(outline.boundary.buffer(0.01)).length
            )
    return result


def _doors(openings: list[dict[str, Any]]) -> float:
    """Metres of doors, those that overlap in one wall once."""
    spans: dict[int, list[Any]] = {}
    for each in openings:
        spans.setdefault(each["wall"], []).append(shapely.LineString([(each["offset"], 0.0), (each["offset"] + each["width"], 0.0)]))
    return math.fsum(shapely.union_all(own).length for own in spans.values())


def _corners(tally: Tally, room: dict[str, Any], plan: dict[str, Any]) -> None:
    """Upright tape and corner pieces of a bare room: one for each corner that turns."""
    ring = np.array(plan["outline"], dtype=float)
    ring = ring if shapely.Polygon(ring).exterior.is_ccw else ring[::-1]
    back, on = np.roll(ring, 1, axis=0) - ring, np.roll(ring, -1, axis=0) - ring
    inside = np.degrees(np.arctan2(back[:, 1], back[:, 0]) - np.arctan2(on[:, 1], on[:, 0])) % 360.0
    if (
        by_chords(np.abs(inside - 180.0))
        or min(np.hypot(on[:, 0], on[:, 1])) < 1.0
        or (np.abs(np.abs(inside - 180.0) - SHORT) < 0.01).any()
    ):
        tally.unjudged["corners of a room with curves typed by their chords, or with edges under a millimetre"] += 1
        return
    upright = [run for run in room["tape"] if np.ptp(np.array(run["line"])[:, :2], axis=0).max() < 0.1 and run["junction"] == "internal"]
    hollow = int((inside < 180.0 - SHORT).sum())
    tally.same("upright tape in corners", len(upright), hollow)
    told = room["corner_pieces"]
    round_off = np.abs(np.abs(inside - 180.0) - 90.0)
    tally.same("corner pieces, internal", told["internal"], int(((inside < 180.0) & (round_off <= SQUARE)).sum()))
    tally.same("corner pieces, external", told["external"], int(((inside > 180.0) & (round_off <= SQUARE)).sum()))
    other = (np.abs(inside - 180.0) >= SHORT) & (round_off > SQUARE)
    tally.same("corner pieces, made from tape", told["made"], int(other.sum()))


def count_levels(tally: Tally, room: dict[str, Any], plan: dict[str, Any] | None) -> None:
    """Spot levels, lines and the screed against the planes of the facets, and the place that is ±0."""
    levels = room["levels"]
    if levels is None:
        return
    facets = [(shapely.Polygon(each["outline"], each["holes"]), each["plane"]) for each in levels["facets"]]

    def at(point: Any, near: float = 1.0) -> list[float]:
        """Levels of the facets nearest to a point, at their nearest places; of a floor that falls in part, 0 where none is near."""
        where = shapely.Point(point[0], point[1])
        apart = [shape.distance(where) for shape, _ in facets]
        least = min(apart, default=math.inf)
        if least > near:
            return [0.0]
        places = [shapely.ops.nearest_points(shape, where)[0] for shape, _ in facets]
        return [p[0] * q.x + p[1] * q.y + p[2] for (_, p), q, d in zip(facets, places, apart, strict=True) if d < least + 1.0]

    for spot in levels["spots"]:
        found = at(spot["at"], 400.0)
        near = min(found, key=lambda level: abs(level - spot["level_mm"]), default=None)
        tally.same("spot level, mm", spot["level_mm"], near, 0.06)
    for line in levels["lines"]:
        for x, y, z in line["line"]:
            tally.same("level along a line of the falls, mm", z, min(at((x, y)), key=lambda level: abs(level - z), default=None), 0.06)
    for facet, (shape, plane) in zip(levels["facets"], facets, strict=True):
        tally.same("area of a facet, m²", facet["area_m2"], shape.area / 1e6, 2e-6 + 1e-6 * shape.area / 1e6)
        slope = math.hypot(plane[0], plane[1])
        tally.same("area of a facet on its slope, m²", facet["slope_m2"], shape.area / 1e6 * math.sqrt(1.0 + slope * slope), 2e-5)
        tally.same(
            "ratio of a facet",
            facet["ratio"],
            1.0 / slope if slope > 1e-6 else None,
            0.02 + (1e-4 / slope**2) * 1e-2 if slope > 1e-6 else 0.0,
        )
    _screed(tally, levels, facets, at)
    _datum(tally, levels, plan, at)


def _screed(tally: Tally, levels: dict[str, Any], facets: list[Any], at: Any) -> None:
    screed = levels["screed"]
    low, high = at(screed["least_at"], 400.0), at(screed["most_at"], 400.0)
    if not low or not high:
        tally.unjudged["screed in a reveal"] += 1
        return
    under = min(low) - screed["least_mm"]
    tally.same("screed at its thickest, mm", screed["most_mm"], max(high) - under, 0.1)
    volume = 0.0
    for shape, plane in facets:
        x, y = shape.centroid.coords[0]
        volume += shape.area * (plane[0] * x + plane[1] * y + plane[2] - under)
    tally.no_more("screed of the facets, m³, no more than told with reveals", volume / 1e9, screed["volume_m3"], 1e-4 + 1e-4 * volume / 1e9)


def _datum(tally: Tally, levels: dict[str, Any], plan: dict[str, Any] | None, at: Any) -> None:
    """Where ±0 is, by its words: the level of the finished floor at that place."""
    said = levels["datum"].split(" = ")[0]
    off = re.search(r"lies (\d+) (above|below)", said)
    told = 0 if off is None else int(off[1]) * (-1 if off[2] == "above" else 1)
    place = _place(said, plan) if plan is not None else None
    if place is None:
        tally.unjudged["the place of ±0"] += 1
        return
    for point in place:
        found = at(point, 400.0)
        near = min(found, key=lambda level: abs(level - told), default=None)
        tally.same(
            "level of the place told for ±0, mm",
            told,
            None if near is None else float(round(near)),
            0.5 if len(place) > 1 else 0.01,
            where=said,
        )


def _place(said: str, plan: dict[str, Any]) -> list[Any] | None:
    """The point, or for all the walls every corner, that the words name; None where they name one that the plan has under another name."""
    if any(isinstance(point, dict) for point in plan["outline"]):
        return None
    ring = np.array(plan["outline"], dtype=float)
    if said.endswith("at the walls"):
        return list(ring)
    door = re.search(r"threshold of (.+)$", said)
    if door:
        for opening in plan.get("openings", ()):
            if opening.get("name") == door[1] and isinstance(opening["wall"], int) and "from" not in opening:
                a, b = ring[opening["wall"] - 1], ring[opening["wall"] % len(ring)]
                return [a + (b - a) / np.hypot(*(b - a)) * (opening["offset"] + opening["width"] / 2)]
    corner = re.search(r"corner of wall (\d+) and wall (\d+)", said)
    if corner:
        one, two = int(corner[1]) - 1, int(corner[2]) - 1
        shared = {one, (one + 1) % len(ring)} & {two, (two + 1) % len(ring)}
        return [ring[k] for k in shared] if len(shared) == 1 else None
    return None
