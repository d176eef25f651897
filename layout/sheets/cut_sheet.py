"""Sheet 2, cuts and marks: which cut tile goes where, and a drawing of each to saw from."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.sheets.cut_cards import cards
from layout.sheets.cut_frames import frames
from layout.sheets.cut_places import laid_cuts
from layout.sheets.cut_rows import beforehand, in_rows_only, told_rows
from layout.sheets.cut_runs import Run, name_runs
from layout.sheets.draft import Draft, Job, RoomJob, in_plan
from layout.sheets.room_view import block_line, block_shape, block_walls, entrance, name_walls
from layout.words import say

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from layout.setout.values import RoomSetOut, SetOut, SurfaceSetOut
    from layout.sheets.column import Column
    from layout.sheets.place import Placer
    from layout.sheets.scene import Primitive, View

    Floats = NDArray[np.float64]


def drafts(job: Job) -> Iterator[Draft]:
    """The sheet of cut tiles."""
    told: dict[tuple[tuple[float, float], float, bool], Column] = {}

    def draw(view: View, placer: Placer, column: Column) -> tuple[Primitive, ...]:
        paper = (column.size, column.reserve, column.endless)
        if paper in told:  # parts and windows say the same beside their drawings
            column.take_over(told[paper])
        else:
            words(job.setout, job.only, column)
            told[paper] = column
        return scene(job.setout, job.only, view, placer)

    yield from in_plan(job, "cuts", say("Cuts and marks"), draw, around=16.0)


def scene(setout: SetOut, own: RoomJob, view: View, placer: Placer) -> tuple[Primitive, ...]:
    """The room scene of the cuts sheet: alike pieces in line named once, with their number; rows with an arrow."""
    room = setout.rooms[own.index]
    base = own.base
    result: list[Primitive] = [*base.tiles, *base.outline, *base.services, *base.joints]
    result += entrance(room, view, placer)
    _keep_clear(room, view, placer)
    result += name_runs(_flat_runs(setout, own), view, placer, lambda points: points)
    name_walls(room, view, placer, out=14.0)
    return tuple(result)


def _keep_clear(room: RoomSetOut, view: View, placer: Placer) -> None:
    """No mark stands on a wall's line, a column, a drain, a pipe or a joint."""
    block_walls(placer, view, room)
    for ring in room.lining.outline.column_rings:
        block_shape(placer, view, np.array(ring.points))
    for each in room.lining.floor.breaks:
        block_shape(placer, view, shapely.get_coordinates(each.shape))
    for joint in room.joints:
        if joint.surface.kind == "floor" and joint.kind in ("intermediate", "structural"):
            block_line(placer, view, joint.line, 0.2)


def _flat_runs(setout: SetOut, own: RoomJob) -> list[Run]:
    return [run for number, _ in _flat(setout, own.index) for run in own.runs[number]]


def _flat(setout: SetOut, index: int) -> list[tuple[int, SurfaceSetOut]]:
    """The floor and its border course, with their numbers among the room's surfaces."""
    return [(k, done) for k, done in enumerate(setout.rooms[index].surfaces) if done.surface.kind in ("floor", "border")]


def words(setout: SetOut, own: RoomJob, column: Column) -> None:
    """The column: what is worth sawing beforehand, rows piece by piece, then the floor's cuts, each drawn in its tile."""
    runs = _flat_runs(setout, own)
    column.head(say("Cuts of the floor: saw sizes, face up, as laid"))
    column.words(
        say(
            "Each card as seen on this sheet; arrows point to what cuts the tile, saw lines are numbered in the order "
            "of sawing. Pieces alike under the turns that the face allows share a mark; none is mirrored. T: a run of "
            "tapers, scribe on site."
        )
    )
    askew = round(setout.rooms[own.index].floor.turn / 90.0) * 90.0 - setout.rooms[own.index].floor.turn
    if abs(askew) > 1.0:
        column.words(
            say("Tiles lie askew: cards are turned by {askew:.0f}° so that their tiles stand upright.", askew=abs(askew)), bullet="•"
        )
    for text in beforehand(setout, runs):
        column.words(text, bullet="•")
    cards(laid_cuts(setout, own.index, [number for number, _ in _flat(setout, own.index)], in_rows_only(runs)), column)
    frames(own.room, runs, column)
    told_rows(setout, runs, column)
