"""One surface counted again: area, tiles, pieces, marks, spacing, narrowest cut and piece, start lines."""

from __future__ import annotations

import math
import re
from collections import Counter
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from tests.recount.widths import SPAN, Lattice, Left, lattice_of, left_by_sides, turned, widths_of

if TYPE_CHECKING:
    from tests.recount.tally import Tally

ACROSS = ("intermediate", "structural")
"""Joints that run across a surface; the others go along its edges."""
SAW = 0.3
"""A width may differ by this from the one told, mm: coordinates are told in thousandths, and alike pieces by their tolerance."""
HAIR = 0.11
"""A tile may stand this far over the edge that it is flush with, mm."""
CHORDS = 6
"""More corners than this that bend a little are chords of a curve."""
BENT = 0.5
"""Walls that turn by less than this are one wall, degrees."""
FULL = 0.6
"""A piece that fills less of its least rectangle is a triangle, no strip of the width that its rectangle has."""


def region_of(part: dict[str, Any]) -> Any:
    """The region of a part as a polygon; one that rounding spoils is made whole."""
    shape = shapely.Polygon(part["outline"], part["holes"])
    return shape if shape.is_valid else shapely.make_valid(shape)


def strips_of(part: dict[str, Any], room: dict[str, Any]) -> list[Any]:
    """Joints across a surface as strips of their width."""
    own = [j for j in room["movement_joints"] if j["surface_id"] == part["id"] and j["kind"] in ACROSS]
    return [shapely.LineString(j["line"]).buffer(j["width_mm"] / 2, cap_style="square") for j in own]


def count_part(tally: Tally, part: dict[str, Any], room: dict[str, Any]) -> None:
    """Area, counts, what stands out of its region, what overlaps, what neither tile nor joint covers."""
    pieces = part["pieces"]
    whole = [piece for piece in pieces if piece["mark"] is None]
    cut = [piece for piece in pieces if piece["mark"] is not None]
    places = {tuple(piece["tile"]) for piece in cut}
    tally.same("whole tiles", part["tiles"]["whole"], len({tuple(piece["tile"]) for piece in whole}))
    tally.same("places with a cut tile", part["tiles"]["cut"], len(places))
    tally.same("cut pieces", part["tiles"]["pieces"], len(cut))
    tally.same("places whole and cut at once", 0, len(places & {tuple(piece["tile"]) for piece in whole}))
    marks = Counter(piece["mark"] for piece in cut)
    tally.same("marks of a surface", len(part["cuts"]), len(marks))
    for row in part["cuts"]:
        tally.same("pieces of a mark", row["count"], marks[row["mark"]], where=row["mark"])
    shapes = np.array([shapely.Polygon(piece["outline"], piece["holes"]) for piece in pieces], dtype=object)
    region = region_of(part)
    strips = shapely.union_all(strips_of(part, room))
    laid = region.difference(strips)
    play = 1.1e-5 + 2e-6 * region.area / 1e6
    tally.no_more("tiled area, m², no more than is there", part["tiled_m2"], laid.area / 1e6, play)
    most = part["tiled_m2"] + left_out(part, room) / 1e6
    tally.no_more("area there, m², no more than tiled and told as left out", laid.area / 1e6, most, play)
    if len(shapes):
        _places(tally, part, shapes, region, laid.difference(_saw_lines(part, room)), left_out(part, room))


def left_out(part: dict[str, Any], room: dict[str, Any]) -> float:
    """What findings tell of a surface that is in no bay: along an edge, or in a gap no wider than a joint, mm²."""
    own = [w["text"] for w in room["warnings"] if w["surface"] == part["name"] and w["code"] in ("joint-along-edge", "strip-dropped")]
    found = [re.search(r"(\d+) mm² in", text) for text in own]
    return math.fsum(float(each[1]) + 0.5 for each in found if each) + float(part["lost_mm2"])


def _saw_lines(part: dict[str, Any], room: dict[str, Any]) -> Any:
    """Where a floor is cut along its falls, as wide as a joint: two more of the lattice may meet there."""
    if part["kind"] != "floor" or room["levels"] is None:
        return shapely.Polygon()
    lines = [shapely.LineString([point[:2] for point in line["line"]]) for line in room["levels"]["lines"] if line["sawn"]]
    return shapely.union_all([line.buffer(part["tile"]["joint"]) for line in lines])


def _places(tally: Tally, part: dict[str, Any], shapes: Any, region: Any, laid: Any, lost: float) -> None:
    grown = region.buffer(HAIR, join_style="mitre")
    shapely.prepare(grown)
    out = shapes[~shapely.covers(grown, shapes)]
    tally.no_more("tile outside its region, mm²", math.fsum(shapely.area(shapely.difference(out, grown))), 0.0, 0.05)
    tree = shapely.STRtree(shapes)
    one, two = tree.query(shapes, predicate="intersects")
    first = one < two
    over = math.fsum(shapely.area(shapely.intersection(shapes[one[first]], shapes[two[first]])))
    tally.no_more("overlap of tiles, mm²", over, 0.0, 0.05)
    if len(shapes) > 4000:
        tally.unjudged["bare places of floors of more than 4,000 tiles"] += 1
        return
    reach = part["tile"]["joint"] / math.sqrt(2.0) + HAIR  # where joints cross, and where a joint falls on an edge of the region
    bare = laid.buffer(-part["tile"]["joint"] / 2, join_style="mitre")
    bare = bare.difference(shapely.union_all(shapely.buffer(shapes, reach, join_style="mitre")))
    tally.no_more("area that neither tile nor joint covers, mm²", bare.area, lost, 1.0)
    inside = math.fsum(shapely.area(shapes))
    tally.no_more("tile in the tiled area, mm²", inside, part["tiled_m2"] * 1e6, 2.0 + 1e-6 * inside)


def count_marks(tally: Tally, parts: list[dict[str, Any]]) -> None:
    """Each mark's size and shape against its pieces: the box of a piece in the tile's axes, turned as it may be."""
    for part in parts:
        rows = {row["mark"]: row for row in part["cuts"]}
        for piece in part["pieces"]:
            row = rows.get(piece["mark"])
            if row is None or row["shape"] == "taper":
                continue
            box = np.sort(np.ptp(turned(piece["outline"], -part["turn_deg"]), axis=0))
            told = np.sort(row["size"])
            drawn = shapely.Polygon(row["outline"], row["holes"]).area
            area = shapely.Polygon(piece["outline"], piece["holes"]).area
            tally.no_more("saw size over its piece, mm", float((told - box).max()), 0.0, 0.05, where=row["mark"])
            tally.no_more("saw size under its piece, mm", float((box - told).max()), 3.0, 0.05, where=row["mark"])
            tally.same("area of a mark's piece, mm²", drawn, area, 2.0 + 1.1 * float(box.sum()), where=row["mark"])


def count_start(tally: Tally, parts: list[dict[str, Any]], room: dict[str, Any]) -> None:
    """The narrowest cut and piece of a surface, whose parts share one start."""
    pieces = [piece for part in parts for piece in part["pieces"]]
    cut = [piece for piece in pieces if piece["mark"] is not None]
    start = parts[0]["start"]
    tally.no_more("narrowest cut over the play, no more than as drawn", start["smallest_cut_worst_mm"], start["smallest_cut_mm"], 1e-6)
    if not cut:
        tally.holds("no narrowest piece where nothing is cut", start["narrowest_piece_mm"] is None)
        return
    widths = widths_of(cut)
    told = start["narrowest_piece_mm"]
    tally.same("narrowest piece, mm", told, float(widths.min()), SAW)
    row = start["narrowest_piece"]
    if row is not None:
        at = shapely.Point(row["at"])
        there = [
            width
            for width, piece in zip(widths.tolist(), cut, strict=True)
            if piece["mark"] == row["mark"] and shapely.Polygon(piece["outline"], piece["holes"]).distance(at) < HAIR
        ]
        tally.same("width of the piece at the place and of the mark told", told, min(there, default=None), SAW)
    count_cut(tally, parts, room, cut, widths)


def count_cut(tally: Tally, parts: list[dict[str, Any]], room: dict[str, Any], cut: list[dict[str, Any]], widths: Any) -> None:
    """The narrowest cut over strips and over what straight edges leave: never told wider, and there as told."""
    start = parts[0]["start"]
    bays = [bay for bay in room["bays"] if bay["surface_id"] == parts[0]["id"]]
    lattice = lattice_of(parts, [bay["origin"] for bay in bays] or [start["origin"]])
    told, cap = start["smallest_cut_mm"], cap_of(parts, lattice)
    spans, full = _spans(parts[0], cut, widths, lattice)
    strip = widths[spans & full]
    left: list[Left] = []
    if lattice is None:
        tally.unjudged["what edges leave where no two rows of whole tiles tell the lattice"] += 1
    else:
        rim = straight_rim([part for part in parts if part["outline"]], room)
        left = left_by_sides(cut, lattice, rim)
    right = [each.width for each in left if each.part >= SPAN + 0.005]
    counted = min([*strip.tolist(), *right, cap])
    tally.no_more("narrowest cut, mm: never told wider", min(told, cap), counted, SAW)
    # an edge that runs right across a tile may leave a piece that a joint's face cuts again: as wide, and no strip
    loose = [*widths[spans].tolist(), *(each.width for each in left if each.part >= SPAN - 0.005), cap]
    loose += [each.width for each in left if abs(each.width - widths[each.piece]) < SAW]
    nearest = min(loose, key=lambda width: abs(width - told))
    if told < counted - SAW:
        tally.same("narrowest cut, mm: told narrower than the strips, a piece or edge leaves it", told, nearest, SAW)
    else:
        tally.same("narrowest cut, mm: the narrowest strip", min(told, cap), counted, SAW)


def cap_of(parts: list[dict[str, Any]], lattice: Lattice | None) -> float:
    """How wide a cut can be: the lesser side of the tile, of the widest kind."""
    if lattice is None or not lattice.members:
        return float(min(parts[0]["tile"]["size"]))
    boxes = [np.ptp(turned(ring, -parts[0]["turn_deg"]), axis=0).min() for ring in lattice.members.values()]
    return float(max(boxes))


def _spans(part: dict[str, Any], cut: list[dict[str, Any]], widths: Any, lattice: Lattice | None) -> tuple[Any, Any]:
    """Which pieces still span a side of their tile, and which fill their least rectangle, (n,) each."""
    spans, full = [], []
    for piece, width in zip(cut, widths.tolist(), strict=True):
        box = np.ptp(turned(piece["outline"], -part["turn_deg"]), axis=0)
        tile = None if lattice is None else lattice.outline(piece["tile"])
        side = np.array(part["tile"]["size"]) if tile is None else np.ptp(turned(tile, -part["turn_deg"]), axis=0)
        spans.append(bool((box >= SPAN * side).any()))
        shape = shapely.Polygon(piece["outline"], piece["holes"])
        full.append(shape.area >= FULL * width * float(shape.length - 2 * width) / 2)
    return np.array(spans), np.array(full)


def straight_rim(parts: list[dict[str, Any]], room: dict[str, Any]) -> list[Any]:
    """The boundary of what is tiled of a surface as straight lines, its curves left out."""
    lines = []
    for part in parts:
        strips = strips_of(part, room)
        laid = region_of(part).difference(shapely.union_all(strips)) if strips else region_of(part)
        for ring in shapely.get_parts(laid.boundary):
            lines += _straight(np.array(ring.coords)) if ring.geom_type == "LineString" else []
    return lines


def _straight(points: Any) -> list[Any]:
    """Sides of a ring or line; those that go on turning by a little, all of one length, are chords of a curve."""
    way = np.diff(points, axis=0)
    long = np.hypot(way[:, 0], way[:, 1])
    angle = np.degrees(np.arctan2(way[:, 1], way[:, 0]))
    turn = np.abs((np.roll(angle, -1) - angle + 180.0) % 360.0 - 180.0)
    alike = (np.abs(np.roll(long, -1) - long) < 0.05 + 0.01 * long) & (turn > 0.2) & (turn < 25.0)
    curved = alike & np.roll(alike, 1) | (alike & np.roll(alike, -1)) | (np.roll(alike, 1) & np.roll(alike, 2))
    return [shapely.LineString([points[k], points[k + 1]]) for k in range(len(way)) if not curved[k] and long[k] > 1e-6]


def count_lines(tally: Tally, part: dict[str, Any], plan: dict[str, Any] | None) -> None:
    """Start lines: a corner of a whole tile stands at the origin; each offset is the distance square off the bare wall of the plan."""
    start = part["start"]
    whole = [np.array(piece["outline"]) for piece in part["pieces"] if piece["mark"] is None]
    cut = [piece for piece in part["pieces"] if piece["mark"] is not None]
    if whole and part["pattern"] == "stack" and part["part"] == 1 and not _within_cut(start["origin"], cut):
        near = min(float(np.hypot(*(ring - np.array(start["origin"])).T).min()) for ring in whole)
        if near < max(part["tile"]["size"]):
            tally.no_more("a whole tile's corner at the start", near, 0.0, 0.01)
    for line in start["lines"]:
        for offset in line["offsets"]:
            faces = faces_of(plan, offset["wall"]) if plan is not None else []
            if not faces:
                tally.unjudged["offsets of start lines from curved walls, or of rooms measured to their tile"] += 1
                continue
            tally.same("offset of a start line, mm", offset["bare_mm"], _square_off(faces, offset["at"]), 0.02, where=line["name"])


def _within_cut(at: Any, cut: list[dict[str, Any]]) -> bool:
    point = shapely.Point(at)
    return any(shapely.Polygon(piece["outline"]).distance(point) < 1.0 for piece in cut)


def _square_off(faces: list[Any], at: Any) -> float:
    """Square off the nearest of a wall's faces: more than 0 on the room's side of it."""
    point = shapely.Point(at)
    a, b = min(faces, key=lambda face: shapely.LineString(face).distance(point))
    way = (b - a) / np.hypot(*(b - a))
    off = np.array(at) - a
    return float(way[0] * off[1] - way[1] * off[0])


def by_chords(bend: Any) -> bool:
    """Whether an outline has curves that are typed chord by chord: many corners that bend a little, degrees each."""
    return int(((bend > 0.05) & (bend < 12.0)).sum()) > CHORDS


def faces_of(plan: dict[str, Any], number: int) -> list[Any]:
    """The faces of a wall as the outline is typed, the room on their left: those that turn by a little at a corner are one bent wall's."""
    if any(isinstance(point, dict) for point in plan["outline"]) or plan.get("outline_is", "substrate") != "substrate":
        return []
    ring = np.array(plan["outline"], dtype=float)
    count = len(ring)
    if not 1 <= number <= count:
        return []
    way = np.roll(ring, -1, axis=0) - ring
    angle = np.degrees(np.arctan2(way[:, 1], way[:, 0]))
    bend = np.abs((np.roll(angle, -1) - angle + 180.0) % 360.0 - 180.0)
    if by_chords(bend):
        return []
    own = [number - 1]
    while bend[own[-1]] < BENT and len(own) < count:
        own.append((own[-1] + 1) % count)
    while bend[own[0] - 1] < BENT and len(own) < count:
        own.insert(0, (own[0] - 1) % count)
    ccw = shapely.Polygon(ring).exterior.is_ccw
    return [np.array([ring[k], ring[(k + 1) % count]])[:: 1 if ccw else -1] for k in own]
