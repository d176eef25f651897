"""The JSON contract: set-out and findings as plain records, in a fixed order.

Lengths to 0.001 mm, m2 and degrees to 1e-6, no minus zero, no NaN. Rings start at their lowest-left
vertex, outlines anticlockwise, holes clockwise, not closed; a ring that rounding would spoil is
written to 1e-6.
"""

from __future__ import annotations

import json
import math
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from shapely import Polygon

from layout.shapes import parts_of, signed_area, started_low_left
from layout.tiles.pieces import PieceKey

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from layout.errors import Finding
    from layout.falls.levels import Levels
    from layout.lining.surfaces import Surface
    from layout.setout.compare import Alternative
    from layout.setout.conduct import RoomSetOut, SetOut, SurfaceSetOut
    from layout.start.start_lines import StartLine

    Floats = NDArray[np.float64]

SETOUT_SCHEMA = "gaugerod/setout/1"


def mm(value: float) -> float:
    """A length for the record."""
    return round(float(value), 3) + 0.0


def fine(value: float) -> float:
    """An area in m2 or an angle for the record."""
    return round(float(value), 6) + 0.0


def pair(point: tuple[float, float] | Floats) -> list[float]:
    """A point for the record."""
    return [mm(point[0]), mm(point[1])]


def points(line: Floats, digits: int = 3) -> list[list[float]]:
    """Points of a line for the record."""
    rounded = np.round(np.asarray(line, dtype=float), digits) + 0.0
    result: list[list[float]] = rounded.tolist()
    return result


def ring(coords: Floats, *, hole: bool = False, digits: int = 3) -> list[list[float]]:
    """A ring for the record."""
    if (signed_area(coords) < 0.0) != hole:
        coords = coords[::-1]
    return points(started_low_left(coords), digits)


def rings(polygon: Polygon) -> tuple[list[list[float]], list[list[list[float]]]]:
    """Outline and holes of a polygon for the record."""
    digits = 3 if _sound(polygon, 3) else 6
    outline = ring(shapely.get_coordinates(polygon.exterior)[:-1], digits=digits)
    holes = [ring(shapely.get_coordinates(each)[:-1], hole=True, digits=digits) for each in polygon.interiors]
    return outline, sorted(holes, key=lambda r: (r[0][1], r[0][0]))


def _sound(polygon: Polygon, digits: int) -> bool:
    rounded = shapely.transform(polygon, lambda xy: np.round(xy, digits))
    return bool(rounded.is_valid and not rounded.is_empty)


def setout_record(setout: SetOut, *, pieces: bool = False) -> dict[str, Any]:
    """The record of a set-out; with `pieces` every whole tile and cut piece too."""
    project = setout.plan.project
    return {
        "schema": SETOUT_SCHEMA,
        "project": {
            "title": project.title,
            "number": project.number,
            "date": project.date.isoformat() if project.date else "",
            "revision": project.revision,
        },
        "rooms": [_room(setout, index, pieces=pieces) for index in range(len(setout.rooms))],
    }


def _room(setout: SetOut, index: int, *, pieces: bool) -> dict[str, Any]:
    room = setout.rooms[index]
    tape = room.tape
    surfaces: list[dict[str, Any]] = []
    done = {each.surface.id: k for k, each in enumerate(room.surfaces)}
    for surface in room.lining.surfaces:
        surfaces += _surface_parts(setout, index, surface, done.get(surface.id), pieces=pieces)
    return {
        "name": room.name,
        "floor_m2": fine(room.lining.floor.gross.area / 1e6),
        "surfaces": surfaces,
        "movement_joints": [
            {
                "kind": joint.kind,
                "surface": joint.surface.name,
                "line": points(joint.line),
                "length_mm": mm(joint.length),
                "width_mm": mm(joint.width),
                "at": joint.label,
                "why": joint.why,
            }
            for joint in room.joints
        ],
        "bays": [
            {
                "surface": each.surface.name,
                "origin": pair(bay.origin),
                "area_m2": fine(bay.between_joints.area / 1e6),
                "longest_mm": mm(bay.longest),
                "aspect": fine(bay.aspect),
            }
            for each in room.surfaces
            for bay in each.bays
            if each.surface.kind == "floor" or (each.surface.kind != "border" and len(each.bays) > 1)
        ],
        "tape": [
            {
                "kind": run.kind,
                "junction": run.junction,
                "line": points(run.line),
                "length_mm": mm(run.length),
                "name": run.name,
                **({"return_mm": mm(run.low_return.value)} if run.low_return else {}),
            }
            for run in tape.runs
        ],
        "corner_pieces": {kind: tape.count(kind) for kind in ("internal", "external", "made")},
        "collars": [{"for": c.label, "surface": c.surface.name, "at": pair(c.at), "diameter_mm": mm(c.diameter)} for c in tape.collars],
        "flanges": [{"for": f.label, "surface": f.surface.name, "length_mm": mm(f.length), "width_mm": mm(f.width)} for f in tape.flanges],
        "warnings": [finding_record(finding) for finding in room.findings],
        "joint_types": [
            {
                "kind": each.kind,
                "width_mm": mm(each.width),
                "length_mm": mm(each.length),
                "moving_mm": mm(each.design.moving),
                "movement_mm": None if each.design.movement is None else mm(each.design.movement),
                "needed_mm": None if each.design.needed is None else mm(each.design.needed),
                "depth_mm": mm(each.design.depth),
                "rod_mm": mm(each.design.rod),
                "ml_per_m": mm(each.design.yields),
                "formula": each.design.formula,
                "source": each.design.source,
            }
            for each in room.joint_types
        ],
        "membrane": _membrane(room),
        "rejected_joints": [
            {"surface": done.surface.name, "lines": [points(line) for line in each.lines], "what": each.what, "why": each.why}
            for done in room.surfaces
            for each in done.rejected
        ],
        "levels": None if room.levels is None else _levels(room.levels),
    }


def _membrane(room: RoomSetOut) -> dict[str, Any]:
    made = room.membrane
    film = made.film
    return {
        "film": {
            "coats": film.coats,
            "wet_mm": mm(film.wet),
            "dry_mm": mm(film.dry),
            "dry_total_mm": mm(film.coats * film.dry),
            "least_mm": mm(film.least.value),
            "exposure": film.exposure,
            "source": film.least.source,
        },
        "terminations": [
            {"kind": end.kind, "where": end.where, "line": points(end.line), "length_mm": mm(end.length), "how": end.how}
            for end in made.terminations
        ],
        "details": [
            {
                "members": list(detail.members),
                "surface": detail.surface.name,
                "at": pair(detail.at),
                "overlap_mm": mm(detail.overlap),
                "needed_mm": mm(detail.needed),
            }
            for detail in made.details
        ],
        "clear": [{"for": c.label, "surface": c.surface.name, "clear_mm": mm(c.clear), "nearest": c.nearest} for c in made.clearances],
        "tests": [{"name": test.name, "kind": test.kind, "surface": test.surface.name, "at": pair(test.at)} for test in made.tests],
    }


def _levels(levels: Levels) -> dict[str, Any]:
    from layout.falls.levels import greatest_side  # noqa: PLC0415  # loaded already where there are levels

    screed = levels.screed

    def ratio(value: float) -> float | None:
        return fine(value) if math.isfinite(value) else None

    return {
        "datum": levels.datum,
        "facets": [
            {
                "to": facet.to,
                "outline": rings(facet.polygon)[0],
                "holes": rings(facet.polygon)[1],
                "plane": [fine(facet.plane[0]), fine(facet.plane[1]), mm(facet.plane[2])],
                "ratio": ratio(facet.ratio),
                "towards_deg": fine(math.degrees(math.atan2(facet.way[1], facet.way[0]))),
                "area_m2": fine(facet.polygon.area / 1e6),
                "slope_m2": fine(facet.polygon.area * facet.stretch / 1e6),
            }
            for facet in levels.facets
        ],
        "lines": [
            {
                "kind": line.kind,
                "line": points(np.column_stack([line.line, line.levels])),
                "length_mm": mm(line.length),
                "greatest_tile_mm": mm(min(greatest_side(line.bend, levels.limit), 1e6)),
                "sawn": line in levels.cuts,
            }
            for line in levels.lines
        ],
        "drains": [
            {"name": d.name, "level_mm": mm(d.level), "flattest": ratio(d.flattest), "steepest": ratio(d.steepest)} for d in levels.drains
        ],
        "spots": [{"what": spot.what, "at": pair(spot.at), "level_mm": mm(spot.level)} for spot in (*levels.spots, *levels.grid)],
        "screed": {
            "least_mm": mm(screed.least),
            "least_at": pair(screed.least_at),
            "most_mm": mm(screed.most),
            "most_at": pair(screed.most_at),
            "slab_mm": mm(screed.slab),
            "volume_m3": fine(screed.volume),
        },
        "ponds": [
            {"at": pair(pond.at), "depth_mm": mm(pond.depth) if math.isfinite(pond.depth) else None, "area_m2": fine(pond.area)}
            for pond in levels.ponds
        ],
    }


def finding_record(finding: Finding) -> dict[str, Any]:
    """A finding for the record."""
    return {
        "code": finding.code,
        "text": finding.text,
        "surface": finding.where,
        "at": pair(finding.at) if finding.at else None,
    }


def _surface_parts(setout: SetOut, room: int, surface: Surface, index: int | None, *, pieces: bool) -> list[dict[str, Any]]:
    """One record for each connected part of a surface, sharing one start."""
    done = setout.rooms[room].surfaces[index] if index is not None else None
    if done is None or index is None:
        grosses = parts_of(surface.gross)
        return [_bare(surface, part, number) for number, part in enumerate(grosses, 1)]
    parts = sorted(parts_of(surface.region), key=_low_left if surface.placing.line is None else _left)
    shares = _gross_shares(surface, parts)
    bay_part = _owners([bay.region for bay in done.bays], parts)
    tile = done.tile
    start = done.start
    result = []
    for number, part in enumerate(parts):
        bays = {b for b, owner in enumerate(bay_part) if owner == number}
        outline, holes = rings(part)
        cut = done.field.cut
        whole = done.field.whole
        record: dict[str, Any] = {
            "name": surface.name,
            "part": number + 1,
            "kind": surface.kind,
            "gross_m2": fine(shares[number] / 1e6),
            "tiled_m2": fine(sum(done.bays[b].region.area for b in bays) / 1e6),
            "lost_mm2": mm(sum(done.field.bays[b].lost_mm2 for b in bays)),
            "pattern": tile.pattern,
            "turn_deg": fine(done.turn),
            "outline": outline,
            "holes": holes,
            "tile": {
                "name": tile.name,
                "size": [mm(tile.size[0]), mm(tile.size[1])],
                "joint": mm(tile.joint),
                "thickness": mm(tile.thickness),
            },
            "start": {
                "origin": pair(start.origin),
                "smallest_cut_mm": mm(start.smallest),
                "smallest_cut_worst_mm": mm(start.worst),
                "smallest_cut_at": start.smallest_at,
                "method": start.method,
                "gap_mm": mm(start.gap),
                "pulls": [{"at": p.at, "wanted": p.wanted, "miss_mm": mm(p.miss)} for p in start.pulls],
                "lines": [_line(line) for line in start.lines],
                "runners_up": [
                    {"origin": pair(r.origin), "smallest_cut_mm": mm(r.smallest), "smallest_cut_worst_mm": mm(r.worst), "why": r.why}
                    for r in start.runners_up
                ],
            },
            "tiles": {
                "whole": int(np.isin(whole[:, 0], list(bays)).sum()),
                "cut": len(np.unique(cut[np.isin(cut[:, 0], list(bays))], axis=0)),
                "pieces": int(np.isin(cut[:, 0], list(bays)).sum()),
            },
            "necks": [{"width_mm": mm(width), "at": pair(at)} for width, at in done.necks if part.distance(shapely.Point(at)) < 1.0],
            "cuts": _cuts(setout, room, index, bays),
        }
        if pieces:
            record["pieces"] = _pieces(setout, room, index, done, bays)
        result.append(record)
    return result


def _low_left(part: Polygon) -> tuple[float, float]:
    x0, y0, _, _ = part.bounds
    return round(y0, 3), round(x0, 3)


def _left(part: Polygon) -> tuple[float, float]:
    x0, y0, _, _ = part.bounds
    return round(x0, 3), round(y0, 3)


def _owners(shapes: list[Any], parts: list[Polygon]) -> list[int]:
    """The part that each shape lies in."""
    result = []
    for shape in shapes:
        inside = shape.representative_point()
        result.append(min(range(len(parts)), key=lambda k: parts[k].distance(inside)))
    return result


def _gross_shares(surface: Surface, parts: list[Polygon]) -> list[float]:
    """The bare face behind each part: whole to the first part in it, so that the sum is the face."""
    shares = [0.0] * len(parts)
    for face in parts_of(surface.gross):
        own = [k for k, part in enumerate(parts) if face.distance(part.representative_point()) < 1.0]
        nearest = own[0] if own else min(range(len(parts)), key=lambda k: parts[k].distance(face))
        shares[nearest] += face.area
    return shares


def _bare(surface: Surface, part: Polygon, number: int) -> dict[str, Any]:
    """A surface that takes no tile."""
    return {
        "name": surface.name,
        "part": number,
        "kind": surface.kind,
        "gross_m2": fine(part.area / 1e6),
        "tiled_m2": 0.0,
        "lost_mm2": 0.0,
        "pattern": None,
        "turn_deg": 0.0,
        "outline": [],
        "holes": [],
        "tile": None,
        "start": None,
        "tiles": {"whole": 0, "cut": 0, "pieces": 0},
        "necks": [],
        "cuts": [],
    }


def _line(line: StartLine) -> dict[str, Any]:
    return {
        "name": line.name,
        "from": pair(line.start),
        "to": pair(line.end),
        "offsets": [
            {"wall": o.wall, "at": pair(o.at), "bare_mm": mm(o.bare), "membrane_mm": mm(o.membrane), "finished_mm": mm(o.finished)}
            for o in line.offsets
        ],
    }


def _cuts(setout: SetOut, room: int, surface: int, bays: set[int]) -> list[dict[str, Any]]:
    result = []
    for cut, count in setout.cuts_of(room, surface, bays):
        record: dict[str, Any] = {
            "mark": cut.mark,
            "count": count,
            "shape": cut.shape,
            "size": [mm(cut.size[0]), mm(cut.size[1])],
            "outline": ring(cut.outline),
            "holes": [ring(hole, hole=True) for hole in cut.holes],
        }
        if cut.start is not None and cut.end is not None:
            record |= {"from_mm": mm(cut.start), "to_mm": mm(cut.end), "wall": cut.wall}
        result.append(record)
    return result


def _pieces(setout: SetOut, room: int, surface: int, done: SurfaceSetOut, bays: set[int]) -> list[dict[str, Any]]:
    """Whole tiles and pieces, by bay, member, j, i."""
    records: list[tuple[tuple[int, ...], dict[str, Any]]] = []
    whole = done.field.whole
    corners = [len(member) for member in done.field.pattern.members]
    for index, outline in zip(whole.tolist(), done.field.outlines(whole), strict=True):
        if index[0] in bays:
            b, m, i, j = index
            records.append(((b, m, j, i, 0), {"mark": None, "tile": [b, m, i, j], "outline": ring(outline[: corners[m]]), "holes": []}))
    number: dict[int, int] = {}
    for index, polygon in zip(done.field.cut.tolist(), done.field.pieces(), strict=True):
        b, m, i, j = index
        p = number.get(b, 0)
        number[b] = p + 1
        if b in bays:
            outline_, holes = rings(polygon)
            mark = setout.marks[PieceKey(room, surface, b, p)]
            records.append(((b, m, j, i, p + 1), {"mark": mark, "tile": [b, m, i, j], "outline": outline_, "holes": holes}))
    return [record for _, record in sorted(records, key=lambda item: item[0])]


def compare_record(found: list[Alternative]) -> dict[str, Any]:
    """The record of alternatives side by side."""
    return {
        "schema": "gaugerod/compare/1",
        "alternatives": [
            {
                "room": a.room,
                "name": a.name,
                "smallest_cut_mm": mm(a.smallest),
                "smallest_cut_worst_mm": mm(a.worst),
                "whole": a.whole,
                "cut": a.cut,
                "marks": a.marks,
                "waste": fine(a.waste),
                "sawn_m": fine(a.sawn),
            }
            for a in found
        ],
    }


def to_json(record: dict[str, Any]) -> str:
    """JSON text of a record; raises ValueError on NaN."""
    return json.dumps(record, ensure_ascii=False, allow_nan=False)
