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

from layout.writers.rounded import finding_record, fine, mm, pair, points, rings
from layout.writers.surface_records import surface_records

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from layout.changes.variants import Alternative
    from layout.falls.levels import Levels
    from layout.setout.freeing import StartFigures, Why
    from layout.setout.values import RoomSetOut, SetOut

    Floats = NDArray[np.float64]

SETOUT_SCHEMA = "gaugerod/setout/1"


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
            "prepared": project.prepared,
            "checked": project.checked,
            "status": project.status or "",
            "revisions": [{"letter": row.letter, "date": row.date.isoformat(), "what": row.what} for row in project.revisions],
        },
        "rooms": [_room(setout, index, pieces=pieces) for index in range(len(setout.rooms))],
    }


def _room(setout: SetOut, index: int, *, pieces: bool) -> dict[str, Any]:
    room = setout.rooms[index]
    surfaces: list[dict[str, Any]] = []
    done = {each.surface.id: k for k, each in enumerate(room.surfaces)}
    for surface in room.lining.surfaces:
        surfaces += surface_records(setout, index, surface, done.get(surface.id), pieces=pieces)
    return {
        "name": room.name,
        "floor_m2": fine(room.lining.floor.gross.area / 1e6),
        "surfaces": surfaces,
        **_joints(room),
        **_tape(room),
        "warnings": [finding_record(finding) for finding in room.findings],
        "joint_types": _joint_types(room),
        "membrane": _membrane(room),
        "rejected_joints": [
            {"surface": done.surface.name, "lines": [points(line) for line in each.lines], "what": each.what, "why": each.why}
            for done in room.surfaces
            for each in done.rejected
        ],
        "levels": None if room.levels is None else _levels(room.levels),
        "shared_doors": [
            {"door": each.door, "room": each.room, "is": each.other, "joint_mm": mm(each.joint), "tape_mm": mm(each.tape)}
            for each in room.shared
        ],
    }


def _joints(room: RoomSetOut) -> dict[str, Any]:
    """Movement joints and the bays between them."""
    return {
        "movement_joints": [
            {
                "kind": joint.kind,
                "surface": joint.surface.name,
                "surface_id": joint.surface.key,
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
                "surface_id": each.surface.id.key,
                "origin": pair(bay.origin),
                "area_m2": fine(bay.between_joints.area / 1e6),
                "longest_mm": mm(bay.longest),
                "aspect": fine(bay.aspect),
            }
            for each in room.surfaces
            for bay in each.bays
            if each.surface.kind == "floor" or (each.surface.kind != "border" and len(each.bays) > 1)
        ],
    }


def _tape(room: RoomSetOut) -> dict[str, Any]:
    """Tape, corner pieces, collars and flanges."""
    tape = room.tape
    return {
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
        "collars": [
            {"for": c.label, "surface": c.surface.name, "surface_id": c.surface.key, "at": pair(c.at), "diameter_mm": mm(c.diameter)}
            for c in tape.collars
        ],
        "flanges": [
            {"for": f.label, "surface": f.surface.name, "surface_id": f.surface.key, "length_mm": mm(f.length), "width_mm": mm(f.width)}
            for f in tape.flanges
        ],
    }


def _joint_types(room: RoomSetOut) -> list[dict[str, Any]]:
    """Sealant joints by kind and width, with what their design gives."""
    return [
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
    ]


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
                "tiles": a.tiles,
                "waste": fine(a.waste),
                "sawn_m": fine(a.sawn),
                "under_least_m": fine(a.under),
            }
            for a in found
        ],
    }


def why_record(why: Why) -> dict[str, Any]:
    """The record of what limits a room's start and what would free it: lengths in mm, `worst` over the walls' play."""
    return {
        "room": why.room,
        "before": _start_figures(why.before),
        "limits": [{"at": limit.at, "called": limit.called, "cut_mm": mm(limit.width)} for limit in why.limits],
        "decided": why.decided,
        "tried": why.tried,
        "freed": [
            {"kind": each.kind, "what": each.what, "after": _start_figures(each.after), "worse": list(each.worse)} for each in why.freed
        ],
        "not_tried": list(why.left),
    }


def _start_figures(figures: StartFigures) -> dict[str, Any]:
    return {
        "smallest_cut_mm": mm(figures.smallest),
        "smallest_cut_worst_mm": mm(figures.worst),
        "smallest_cut_at": figures.at,
        "weak": figures.weak,
        "whole": figures.whole,
        "cut": figures.cut,
    }


def to_json(record: dict[str, Any]) -> str:
    """JSON text of a record; raises ValueError on NaN."""
    return json.dumps(record, ensure_ascii=False, allow_nan=False)
