"""Surfaces for the record of a set-out: one record for each connected part, with its start, tiles and cuts."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from layout.setout.runs import runs_of
from layout.shapes import parts_of
from layout.tiles.pieces import PieceKey
from layout.writers.rounded import fine, mm, pair, ring, rings

if TYPE_CHECKING:
    from shapely import Polygon

    from layout.lining.surfaces import Surface
    from layout.setout.values import SetOut, SurfaceSetOut
    from layout.start.measured import AtFoot, Lacking, View
    from layout.start.start_lines import StartLine


def surface_records(setout: SetOut, room: int, surface: Surface, index: int | None, *, pieces: bool) -> list[dict[str, Any]]:
    """One record for each connected part of a surface, sharing one start."""
    done = setout.rooms[room].surfaces[index] if index is not None else None
    if done is None or index is None:
        grosses = parts_of(surface.gross)
        return [_bare(surface, part, number) for number, part in enumerate(grosses, 1)]
    parts = sorted(parts_of(surface.region), key=_low_left if surface.placing.line is None else _left)
    shares = _gross_shares(surface, parts)
    bay_part = _owners([bay.region for bay in done.bays], parts)
    tile = done.tile
    result = []
    for number, part in enumerate(parts):
        bays = {b for b, owner in enumerate(bay_part) if owner == number}
        outline, holes = rings(part)
        cut = done.field.cut
        whole = done.field.whole
        record: dict[str, Any] = {
            "name": surface.name,
            "id": surface.id.key,
            "part": number + 1,
            "kind": surface.kind,
            "gross_m2": fine(shares[number] / 1e6),
            "tiled_m2": fine(math.fsum(done.bays[b].region.area for b in bays) / 1e6),
            # a part no wider than a joint has no bay: the joints beside fill it
            "lost_mm2": mm(math.fsum(done.field.bays[b].lost_mm2 for b in bays) if bays else part.area),
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
            "start": {**_start(setout, room, index, done), **_runs(done, pieces=pieces)},
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


def _start(setout: SetOut, room: int, index: int, done: SurfaceSetOut) -> dict[str, Any]:
    """Where tiling of a surface starts, why, and what else there was."""
    start = done.start
    return {
        "origin": pair(start.origin),
        "smallest_cut_mm": mm(start.smallest),
        "smallest_cut_worst_mm": mm(start.worst),
        "smallest_cut_at": start.smallest_at,
        **_by_view(start.view),
        **_lacking(start.lacking),
        **_at_foot(start.at_foot),
        **_narrowest_piece(setout, room, index, done),
        "method": start.method,
        "gap_mm": mm(start.gap),
        "tried": start.tried,
        "known": start.known(setout.plan.rules.wall_tolerance, joints=len(done.bays) > 1),
        "pulls": [{"at": p.at, "wanted": p.wanted, "miss_mm": mm(p.miss)} for p in start.pulls],
        "lines": [_line(line) for line in start.lines],
        "runners_up": [
            {
                "origin": pair(r.origin),
                "smallest_cut_mm": mm(r.smallest),
                "smallest_cut_worst_mm": mm(r.worst),
                "why": r.why,
                "laid": r.laid,
            }
            for r in start.runners_up
        ],
    }


def _runs(done: SurfaceSetOut, *, pieces: bool) -> dict[str, Any]:
    """A floor's runs from edge to edge in tiles and joints, with the joint that the gauge gives each direction; with pieces each tile's far edge."""
    if done.surface.kind != "floor":
        return {}
    along, across = done.tile.joints
    runs = [
        {
            "way": ("along", "across")[run.axis],
            "from": run.ends[0],
            "to": run.ends[1],
            "length_mm": mm(run.length),
            "tiles": run.tiles,
            "joints": run.gaps,
            "joint_mm": fine(run.joint),
            "movement_joints": run.moves,
            "movement_joints_mm": mm(run.moving),
            "cuts_mm": [mm(cut) for cut in run.cuts],
            "cuts_between": run.within,
            "lines": run.lines,
            **({"edges_mm": [mm(edge) for edge in run.edges]} if pieces else {}),
        }
        for run in runs_of(done)
    ]
    return {"gauge": {"taken": done.tile.opened != (0.0, 0.0), "joints_mm": [fine(along), fine(across)]}, "runs": runs}


def _by_view(view: View | None) -> dict[str, Any]:
    """The narrowest cut in view and out of it, where the plan says that something is out of view."""
    if view is None:
        return {}
    return {
        "smallest_cut_in_view_mm": mm(view.drawn),
        "smallest_cut_in_view_worst_mm": mm(view.worst),
        "smallest_cut_hidden_mm": mm(view.hidden),
        "smallest_cut_hidden_worst_mm": mm(view.hidden_worst),
    }


def _lacking(found: Lacking | None) -> dict[str, Any]:
    """Metres of wall in view with cuts under the tile's least, and what cuts lack to it on the mean of all metres in view."""
    return {} if found is None else {"under_least_m": fine(found.wall / 1000.0), "short_of_least_mm": mm(found.mean)}


def _at_foot(found: AtFoot | None) -> dict[str, Any]:
    """How much of the lowest course stands behind what lies before it, and how much is seen of its lowest piece, where that is less than it is high."""
    return {} if found is None else {"foot_covered_mm": mm(found.covered), "foot_seen_mm": mm(found.seen)}


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
        "id": surface.id.key,
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


def _narrowest_piece(setout: SetOut, room: int, index: int, done: SurfaceSetOut) -> dict[str, Any]:
    """The narrowest of all pieces, crumbs at corners included: its width, mark and place; null where nothing is cut."""
    piece = done.start.piece
    if piece is None:
        return {"narrowest_piece_mm": None, "narrowest_piece": None}
    mark = setout.marks[PieceKey(room, index, piece.bay, piece.piece)]
    return {"narrowest_piece_mm": mm(piece.width), "narrowest_piece": {"mark": mark, "at": pair(piece.at)}}


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
