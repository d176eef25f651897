"""What is cut round a column or a gully, drawn larger beside the plan: each piece with its mark."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import Polygon

from layout.shapes import rings_of
from layout.sheets.place import Placer
from layout.sheets.scene import Fill, Label, Primitive, Stroke, View
from layout.sheets.spots import Spot, leader_spots
from layout.vectors import pair
from layout.words import say

if TYPE_CHECKING:
    from collections.abc import Sequence

    from layout.setout.values import RoomSetOut
    from layout.sheets.column import Column
    from layout.sheets.cut_runs import Run
    from layout.vectors import Floats

PER_ROW = 2
"""Frames beside each other in a column."""
SCALES = (5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0)
"""Reductions of a frame drawn larger: the largest that goes in its cell."""
TALLEST = 84.0
"""A frame is drawn no taller, paper mm."""
ROUND = 7.0
"""Kept round a frame for marks that do not go inside their pieces, paper mm."""


def frames(room: RoomSetOut, runs: Sequence[Run], column: Column) -> None:
    """Each row that runs round a column or a gully, with the marks in its pieces."""
    own = [run for run in runs if run.frame]
    if not own:
        return
    column.head(say("Round columns and gullies, drawn larger, as on the plan"), 60.0)
    cell = column.width / PER_ROW
    for k in range(0, len(own), PER_ROW):
        row = own[k : k + PER_ROW]
        scales = [_scale(run, cell - 3.0) for run in row]
        tall = max(float(_size(run)[1]) / scale for run, scale in zip(row, scales, strict=True)) + 2.0 * ROUND + 6.0
        column.need(tall)
        for place, (run, scale) in enumerate(zip(row, scales, strict=True)):
            column.now.extend(_drawn(room, run, scale, column.x + place * cell, column.y, cell - 3.0, tall))
        column.y -= tall


def _size(run: Run) -> Floats:
    bounds = shapely.total_bounds(run.pieces)
    return np.asarray(bounds[2:] - bounds[:2])


def _scale(run: Run, width: float) -> float:
    wide, tall = _size(run)
    fits = (scale for scale in SCALES if wide / scale <= width - 2.0 * ROUND and tall / scale <= TALLEST - 2.0 * ROUND)
    return next(fits, SCALES[-1])


def _thing(room: RoomSetOut, name: str) -> Polygon | None:
    outline = room.lining.outline
    for column, ring in zip(outline.columns, outline.column_rings, strict=True):
        if column.solid.name == name:
            return ring.polygon()
    return next((each.shape for each in room.lining.floor.breaks if each.name == name), None)


def _drawn(room: RoomSetOut, run: Run, scale: float, x: float, y: float, width: float, tall: float) -> list[Primitive]:
    """One frame, top left at (x, y): its name and scale over it, its pieces, the thing, a mark in or by every piece."""
    bounds = shapely.total_bounds(run.pieces)
    middle = (bounds[:2] + bounds[2:]) / 2
    at = np.array([x + width / 2, y - 6.0 - (tall - 6.0) / 2])

    def out(points: Floats) -> Floats:
        moved: Floats = (points - middle) / scale + at
        return moved

    result: list[Primitive] = [Label(f"{run.text} · {run.frame} · 1:{scale:g}", (x, y - 3.6), 2.5, "TEXT", bold=True)]
    thing = _thing(room, run.frame)
    if thing is not None:
        result += [Fill(Polygon(out(ring)), "WALL", 0.55) for ring in rings_of(thing)[:1]]
    placer = Placer((x - 1.0, y - tall, x + width + 1.0, y - 5.0))
    for piece in run.pieces:
        rings = [out(ring) for ring in rings_of(piece)]
        result += [Fill(Polygon(rings[0], rings[1:]), "TILE-CUT", 0.14), *[Stroke(ring, "TITLE", closed=True) for ring in rings]]
    if thing is not None:
        low, high = (out(np.array([corner]))[0] for corner in np.array(thing.bounds).reshape(2, 2))
        placer.block((float(low[0]), float(low[1]), float(high[0]), float(high[1])))
    for piece, mark in zip(run.pieces, run.marks, strict=True):
        widest = out(shapely.get_coordinates(shapely.maximum_inscribed_circle(piece, 2.0))[:1])[0]
        centre = piece.centroid
        inside = out(shapely.get_coordinates(centre))[0] if piece.contains(centre) else widest
        spots = [Spot(pair(inside)), Spot(pair(widest))]
        away = leader_spots(pair(widest), height=3.5, reaches=(4.0, 6.0, 8.5, 11.0, 14.0))
        placer.place(mark, 3.5, "MARK", [*spots, *away], bold=True, needed=True, foot=widest)
    placer.finish()
    return [*result, *placer.drawn(View((0.0, 0.0), (0.0, 0.0), 1.0, (1.0, 1.0)))]
