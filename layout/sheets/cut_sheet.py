"""Sheet 2, cuts and marks: which cut tile goes where, and a drawing of each to saw from."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import Polygon

from layout.shapes import parts_of, turned
from layout.sheets.draft import Draft, Job, in_plan
from layout.sheets.place import Placer, Spot
from layout.sheets.room_view import add_label, block_shape, entrance, name_walls
from layout.sheets.scene import Fill, Label, Primitive, Stroke, View, readable
from layout.tiles.pieces import PieceKey

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from layout.setout.values import SetOut, SurfaceSetOut
    from layout.sheets.column import Column
    from layout.sheets.room_view import Base
    from layout.tiles.pieces import Cut

    Floats = NDArray[np.float64]

MARK_HEIGHT = 5.0
PER_ROW = 5
"""Cards beside each other in a column."""
CARD = 17.0
"""Longer side of a tile drawn on its card, mm on paper."""


def drafts(job: Job) -> Iterator[Draft]:
    """The sheet of cut tiles."""

    def draw(view: View, placer: Placer, column: Column) -> tuple[Primitive, ...]:
        drawn, unplaced = scene(job.setout, job.only.index, job.only.base, view, placer)
        words(job.setout, job.only.index, column, unplaced)
        return drawn

    yield from in_plan(job, "cuts", "Cuts and marks", draw)


def scene(setout: SetOut, index: int, base: Base, view: View, placer: Placer) -> tuple[tuple[Primitive, ...], tuple[str, ...]]:
    """The room scene of the cuts sheet: runs of alike pieces named once, with their number; and marks without room."""
    room = setout.rooms[index]
    result: list[Primitive] = [*base.tiles, *base.outline, *base.services, *base.joints]
    result += entrance(room, view, placer)
    unplaced = [
        text
        for text, points, centre, way in runs_of(setout, index, [number for number, _ in _flat(setout, index)])
        if not place_run(text, points, centre, way, view, placer, result)
    ]
    name_walls(room, view, placer, result, out=14.0)
    return tuple(result), tuple(unplaced)


def runs_of(setout: SetOut, index: int, numbers: Sequence[int]) -> list[tuple[str, Floats, Floats, Floats]]:
    """On some of a room's surfaces, pieces of one mark in line with each other: text, points, centre and direction; long runs first.

    In a bond every second course has the same cut, so a run may skip a course.
    """
    result = []
    for number in numbers:
        done = setout.rooms[index].surfaces[number]
        pieces = done.field.pieces()
        if len(pieces) == 0:
            continue
        centres = shapely.get_coordinates(shapely.point_on_surface(pieces))
        local = turned(centres, -done.turn)
        keys = [PieceKey(index, number, b, p) for b, laid in enumerate(done.field.bays) for p in range(len(laid.pieces))]
        marks: dict[str, list[int]] = {}
        for k, key in enumerate(keys):
            marks.setdefault(setout.marks[key], []).append(k)
        reach = 2.2 * (np.array(done.field.pattern.box) + done.tile.joint)
        for mark, own in marks.items():
            left = np.array(own)
            while len(left):
                best = max((_longest(local[left], axis, float(reach[axis])) for axis in (0, 1)), key=len)
                run = left[best]
                left = np.delete(left, best)
                points = shapely.get_coordinates(pieces[run])
                way = centres[run[-1]] - centres[run[0]]
                length = float(np.hypot(*way))
                text = mark if len(run) == 1 else f"{mark} × {len(run)}"
                result.append((text, points, centres[run].mean(axis=0), way / length if length > 0 else np.array([1.0, 0.0])))
    result.sort(key=lambda item: (-len(item[1]), item[0]))
    return result


def _flat(setout: SetOut, index: int) -> list[tuple[int, SurfaceSetOut]]:
    """The floor and its border course, with their numbers among the room's surfaces."""
    return [(k, done) for k, done in enumerate(setout.rooms[index].surfaces) if done.surface.kind in ("floor", "border")]


def _flat_cuts(setout: SetOut, index: int) -> list[tuple[Cut, int]]:
    """Cuts of the floor and its border course with their number there, in the order of marks."""
    counts: dict[str, int] = {}
    for number, _ in _flat(setout, index):
        for cut, count in setout.cuts_of(index, number):
            counts[cut.mark] = counts.get(cut.mark, 0) + count
    return [(cut, counts[cut.mark]) for cut in setout.cuts if cut.mark in counts]


def _longest(local: Floats, axis: int, reach: float) -> NDArray[np.int64]:
    """Indices of the longest chain of points along an axis, neighbours no further apart than `reach`."""
    line = np.round(local[:, 1 - axis] / 4.0)
    order = np.lexsort((local[:, axis], line))
    breaks = np.flatnonzero((np.diff(line[order]) != 0) | (np.diff(local[order, axis]) > reach)) + 1
    chains = np.split(order, breaks)
    return max(chains, key=len)


def place_run(
    text: str, points: Floats, centre: Floats, way: Floats, view: View, placer: Placer, result: list[Primitive], *, leaders: bool = True
) -> bool:
    """A run's mark on its tiles, or beside them with a leader; false if there is no room at all."""
    at = view.to_paper(centre)[0]
    paper = view.to_paper(points)
    wide = float(np.ptp(paper @ way))
    angle = readable(float(np.degrees(np.arctan2(way[1], way[0])))) if wide > 20.0 else 0.0
    across = np.array([-way[1], way[0]])
    near = [
        Spot((float(at[0] + way[0] * s), float(at[1] + way[1] * s)), angle=angle)
        for s in (0.0, 6.0, -6.0, 14.0, -14.0, 24.0, -24.0)
        if abs(s) <= wide / 2 + 1.0
    ]
    label = placer.place(text, MARK_HEIGHT, "MARK", near[:1] if wide < 8.0 else near, boxed=True, bold=True, must=False)
    if label is None:
        if not leaders:
            return False
        spots = []
        for far in (7.0, 10.0, 13.0, 17.0, 22.0, 28.0, 35.0, 43.0, 52.0, 64.0, 78.0):
            for k in range(16):
                angle_k = k * math.pi / 8 + math.atan2(across[1], across[0])
                spots.append(Spot((float(at[0] + math.cos(angle_k) * far), float(at[1] + math.sin(angle_k) * far))))
        label = placer.place(text, MARK_HEIGHT, "MARK", spots, boxed=True, bold=True, must=False)
        if label is None:
            return False
        end = view.to_room(np.array([label.at]))[0]
        result.append(Stroke(np.array([centre, end]), "MARK"))
        block_shape(placer, view, np.array([centre]), 0.6)
    add_label(result, label, view)
    return True


def words(setout: SetOut, index: int, column: Column, unplaced: tuple[str, ...]) -> None:
    """The column: the floor's cuts, each drawn in its tile."""
    if unplaced:
        column.words(
            "No room on the drawing for: " + ", ".join(sorted(unplaced)) + ". Draw it larger: a larger paper or scale.", bullet="□"
        )
    column.head("Cut schedule, floor: saw sizes, face up")
    column.words("Pieces alike under the turns that the face allows share a mark; none is mirrored. T: a run of tapers, scribe on site.")
    cards(_flat_cuts(setout, index), column)


def cards(cuts: Sequence[tuple[Cut, int]], column: Column) -> None:
    """Cuts with their number, each drawn in its tile, five in a row; those that do not go on the column are counted."""
    cell_w, cell_h = column.width / PER_ROW, card_height([cut for cut, _ in cuts])
    several = several_tiles([cut for cut, _ in cuts])
    room_for = max(int((column.y - column.foot) // cell_h), 0) * PER_ROW
    top = column.y
    for k, (cut, count) in enumerate(cuts[:room_for]):
        at = (column.x + (k % PER_ROW) * cell_w, top - (k // PER_ROW) * cell_h)
        column.scene += card(cut, count, *at, cell_w - 2.0, name_tile=several)
    column.y = top - -(-min(len(cuts), room_for) // PER_ROW) * cell_h
    if len(cuts) > room_for:
        text = f"… {len(cuts) - room_for} more marks: see the schedules"
        column.scene.append(Label(text, (column.x, column.y - 3.0), 2.5, "TEXT", "left", "top"))


def several_tiles(cuts: Sequence[Cut]) -> bool:
    """Whether pieces come out of tiles of more than one size: then each card names its tile."""
    return len({_tile_size(cut) for cut in cuts}) > 1


def card_height(cuts: Sequence[Cut]) -> float:
    """Height that every card of a schedule gets, mm on paper."""
    several = several_tiles(cuts)
    lines = max((len(_caption(cut, name_tile=several)) for cut in cuts), default=1)
    return 12.0 + CARD * max((cut.box[1] / max(cut.box) for cut in cuts), default=1.0) + 3.5 * lines


def _tile_size(cut: Cut) -> str:
    return f"{round(cut.box[0], 1):g} × {round(cut.box[1], 1):g}"


def _caption(cut: Cut, *, name_tile: bool) -> list[str]:
    """Lines under a card: saw size, and the tile it is sawn from if there are several."""
    lines = [_saw_size(cut)]
    if cut.shape in ("notch", "hole", "curve", "other"):
        lines = _cut_out(cut)
    if cut.start is not None and cut.end is not None:
        lines = [f"{cut.start:g} → {cut.end:g}"]
    return [*lines, f"of {_tile_size(cut)}"] if name_tile else lines


def _saw_size(cut: Cut) -> str:
    return " × ".join(f"{side:g}" if side >= 1.0 else "under 1" for side in cut.size)


def _cut_out(cut: Cut) -> list[str]:
    """What is sawn out of the tile, by its box, if one part is gone and the piece still spans the tile; else the piece's own box."""
    piece = Polygon(cut.outline, cut.holes)
    gone = [part for part in parts_of(shapely.difference(shapely.box(0.0, 0.0, *cut.box), piece)) if part.area > 1.0]
    low, high = np.array(piece.bounds).reshape(2, 2)
    spans = bool((high - low > np.array(cut.box) - 1.0).all())
    if len(gone) != 1 or not spans:
        return [_saw_size(cut), "saw as drawn"]
    x0, y0, x1, y1 = gone[0].bounds
    word = {"notch": "less", "hole": "hole", "curve": "arc"}.get(cut.shape, "less")
    return [f"{word} {math.ceil(x1 - x0 - 1e-3):g} × {math.ceil(y1 - y0 - 1e-3):g}"]


def card(cut: Cut, count: int, x: float, y: float, width: float, *, name_tile: bool) -> list[Primitive]:
    """A cut drawn in its tile, with mark, number and saw size; top left at (x, y)."""
    w, h = cut.box
    unit = CARD / max(w, h)
    low = np.array([x + 1.0, y - 8.0 - h * unit])
    whole = np.array([[0, 0], [w, 0], [w, h], [0, h]]) * unit + low
    outline = cut.outline * unit + low
    holes = [hole * unit + low for hole in cut.holes]
    foot = float(low[1]) - 1.2
    result: list[Primitive] = [
        Label(cut.mark, (x + 1.0, y - 6.5), MARK_HEIGHT, "MARK", bold=True),
        Label(f"{count} off", (x + width - 1.0, y - 6.5), 2.5, "TEXT", "right"),
        Stroke(whole, "TONE", closed=True),
        Fill(Polygon(outline, holes), "TILE-CUT", 0.14),
        Stroke(outline, "TITLE", closed=True),
        *[Stroke(hole, "TITLE", closed=True) for hole in holes],
        *[Label(text, (x + 1.0, foot - 3.5 * k), 2.5, "TEXT", "left", "top") for k, text in enumerate(_caption(cut, name_tile=name_tile))],
    ]
    return result
