"""Sheet 2, cuts and marks: which cut tile goes where, and a drawing of each to saw from."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import Polygon

from layout.pieces import PieceKey
from layout.shapes import parts_of
from layout.sheets.place import Placer, Spot
from layout.sheets.room_view import add_label, block_shape, entrance, name_walls
from layout.sheets.scene import Fill, Label, Primitive, Stroke, View, readable

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from layout.pieces import Cut
    from layout.plan import Tile
    from layout.setout import SetOut
    from layout.sheets.column import Column
    from layout.sheets.room_view import Base

    Floats = NDArray[np.float64]

MARK_HEIGHT = 5.0
SMALL_MARK = 3.5


def scene(setout: SetOut, index: int, base: Base, view: View, placer: Placer) -> tuple[Primitive, ...]:
    """The room scene of the cuts sheet: runs of alike pieces named once, with their number."""
    room = setout.rooms[index]
    result: list[Primitive] = [*base.tiles, *base.outline, *base.services, *base.joints]
    result += entrance(room, view, placer)
    for text, points, centre, way in _runs(setout, index):
        _place_run(text, points, centre, way, view, placer, result)
    name_walls(room, view, placer, result, out=14.0)
    return tuple(result)


def _runs(setout: SetOut, index: int) -> list[tuple[str, Floats, Floats, Floats]]:
    """Neighbouring pieces of one mark along a row or column: text, points, centre and direction."""
    floor = setout.rooms[index].floor
    pieces = floor.field.pieces()
    centres = np.array([p.representative_point().coords[0] for p in pieces]).reshape(-1, 2)
    marks: list[str] = []
    for b, laid in enumerate(floor.field.bays):
        marks += [setout.marks[index, PieceKey(0, b, p)] for p in range(len(laid.pieces))]
    cut = floor.field.cut
    left = set(range(len(pieces)))
    by_place: dict[tuple[int, ...], list[int]] = {}
    for k in range(len(pieces)):
        by_place.setdefault(tuple(cut[k].tolist()), []).append(k)
    result = []
    while left:
        seed = min(left)
        best: list[int] = [seed]
        for step in ((1, 0), (0, 1)):
            run = _run(seed, step, marks, cut, by_place, left)
            if len(run) > len(best):
                best = run
        left -= set(best)
        points = np.concatenate([shapely.get_coordinates(pieces[k]) for k in best])
        way = centres[best[-1]] - centres[best[0]]
        length = float(np.hypot(*way))
        text = marks[seed] if len(best) == 1 else f"{marks[seed]} × {len(best)}"
        result.append((text, points, centres[best].mean(axis=0), way / length if length > 0 else np.array([1.0, 0.0])))
    result.sort(key=lambda item: -len(item[1]))
    return result


def _run(
    seed: int, step: tuple[int, int], marks: list[str], cut: NDArray[np.int64], by_place: dict[tuple[int, ...], list[int]], left: set[int]
) -> list[int]:
    run = [seed]
    for sign in (1, -1):
        at = cut[seed].tolist()
        while True:
            at = [at[0], at[1], at[2] + sign * step[0], at[3] + sign * step[1]]
            found = next((k for k in by_place.get(tuple(at), ()) if marks[k] == marks[seed] and k in left), None)
            if found is None:
                break
            run = [*run, found] if sign > 0 else [found, *run]
    return run


def _place_run(text: str, points: Floats, centre: Floats, way: Floats, view: View, placer: Placer, result: list[Primitive]) -> None:
    """A run's mark on its tiles, or beside them with a leader."""
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
    label = placer.place(
        text, MARK_HEIGHT if wide > 12.0 else SMALL_MARK, "MARK", near[:1] if wide < 8.0 else near, boxed=True, bold=True, must=False
    )
    if label is None:
        spots = []
        for far in (8.0, 12.0, 17.0, 23.0):
            for direction in (across, -across, way, -way, across + way, across - way, -across + way, -across - way):
                spot = at + direction / max(float(np.hypot(*direction)), 1e-9) * far
                spots.append(Spot((float(spot[0]), float(spot[1]))))
        label = placer.place(text, SMALL_MARK, "MARK", spots, boxed=True, bold=True)
        if label is not None:
            end = view.to_room(np.array([label.at]))[0]
            result.append(Stroke(np.array([centre, end]), "MARK"))
            block_shape(placer, view, np.array([centre]), 0.6)
    add_label(result, label, view)


def words(setout: SetOut, index: int, column: Column) -> None:
    """The column: the floor's cuts, each drawn in its tile."""
    column.head("Cut schedule, floor: saw sizes, face up")
    cuts = setout.cuts_of(index, 0)
    column.words("Pieces alike under the turns that the face allows share a mark; none is mirrored. T: a run of tapers, scribe on site.")
    cell_w, cell_h = column.width / 5, 31.0
    per_row = 5
    k = 0
    top = column.y
    while k < len(cuts):
        row = k // per_row
        y = top - row * cell_h
        if y - cell_h < column.foot:
            left = len(cuts) - k
            column.scene.append(Label(f"… {left} more marks: see the schedules", (column.x, y - 3.0), 2.5, "TEXT", "left", "top"))
            return
        cut, count = cuts[k]
        column.scene += card(cut, count, column.x + (k % per_row) * cell_w, y, cell_w - 2.0, setout)
        k += 1
    column.y = top - (-(-len(cuts) // per_row)) * cell_h


def _cut_out(cut: Cut, tile: Tile) -> str:
    """What is sawn out of the tile, by its box; the piece's own box if more than one part is gone."""
    whole = shapely.box(0.0, 0.0, *tile.size)
    gone = [part for part in parts_of(shapely.difference(whole, Polygon(cut.outline, cut.holes))) if part.area > 1.0]
    if len(gone) != 1:
        return f"{cut.size[0]:g} × {cut.size[1]:g}, saw to drawing"
    x0, y0, x1, y1 = gone[0].bounds
    word = {"notch": "less", "hole": "hole", "curve": "arc"}.get(cut.shape, "less")
    return f"{word} {math.ceil(x1 - x0 - 1e-3):g} × {math.ceil(y1 - y0 - 1e-3):g}"


def card(cut: Cut, count: int, x: float, y: float, width: float, setout: SetOut) -> list[Primitive]:
    """A cut drawn in its tile, with mark, number and saw size; top left at (x, y)."""
    tile = setout.plan.tile(cut.tile)
    size = 17.0
    unit = size / max(tile.size)
    low = np.array([x + 1.0, y - 6.5 - tile.size[1] * unit])
    whole = np.array([[0, 0], [tile.size[0], 0], [tile.size[0], tile.size[1]], [0, tile.size[1]]]) * unit + low
    outline = cut.outline * unit + low
    holes = [hole * unit + low for hole in cut.holes]
    text = f"{cut.size[0]:g} × {cut.size[1]:g}"
    if cut.shape in ("notch", "hole", "curve", "other"):
        text = _cut_out(cut, tile)
    if cut.start is not None and cut.end is not None:
        text = f"{cut.start:g} → {cut.end:g}"
    result: list[Primitive] = [
        Label(cut.mark, (x + 1.0, y - 5.2), 3.5, "MARK", bold=True),
        Label(f"{count} off", (x + width - 1.0, y - 5.2), 2.5, "TEXT", "right"),
        Stroke(whole, "TONE", closed=True),
        Fill(Polygon(outline, holes), "TILE-CUT", 0.14),
        Stroke(outline, "TITLE", closed=True),
        *[Stroke(hole, "TITLE", closed=True) for hole in holes],
        Label(text, (x + 1.0, float(low[1]) - 1.2), 2.5, "TEXT", "left", "top"),
    ]
    return result
