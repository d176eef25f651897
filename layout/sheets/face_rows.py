"""The tanked upright faces in rows below the room, in the order of its walls, and the paper and scale on which they go.

A face that is much longer than high would hold all others to its own small scale: it is cut into parts then, clear of its pipes.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
import shapely.affinity

from layout.sheets.lettering import text_width
from layout.sheets.paper import OWN_SCALES, SCALES, SIZES, SMALLEST, drawing_window, for_drawing, well_filled
from layout.sheets.parts import letters, view_on
from layout.sheets.room_view import room_bounds
from layout.sheets.strips import LOST, MOST

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shapely.geometry.base import BaseGeometry

    from layout.lining.surfaces import Surface
    from layout.setout.values import RoomSetOut
    from layout.sheets.scene import View
    from layout.sheets.spots import Box
    from layout.vectors import Floats

BELOW = 3000.0
"""How far below the room the first row stands, room mm."""
BESIDE, UNDER = 18.0, 24.0
"""Between faces and between rows, paper mm."""
STILL_SEEN = 30.0
"""Faces stay whole at this scale and larger ones: a tanking of 150 is 5 mm high there."""
ABOVE = 300.0
"""How much of a face is shown above its tanking, room mm."""
NAME = 2.5
"""Height of a face's name, paper mm."""
OFF_BREAKS = 150.0
"""A face is cut so far off its pipes, sockets and jambs, room mm."""


@dataclass(frozen=True, slots=True, eq=False)
class Face:
    """A face in a row, or a part of one: the place of its own origin, room mm; which part from left to right, of how many; from where to where."""

    surface: Surface
    at: tuple[float, float]
    part: int
    parts: int
    low: float
    high: float

    @property
    def letter(self) -> str:
        """Its letter, none where it is whole."""
        return letters(self.part) if self.parts > 1 else ""

    @property
    def shown(self) -> BaseGeometry:
        """What is drawn of it, its own axes."""
        return between(shown(self.surface), self.low, self.high) if self.parts > 1 else shown(self.surface)


@dataclass(frozen=True, slots=True, eq=False)
class Unfolded:
    """Faces in rows, and the bounds of all of them, room mm."""

    faces: tuple[Face, ...]
    bounds: Box


def shown(surface: Surface) -> BaseGeometry:
    """A face as far up as it is drawn: its tanking and a little more."""
    x0, y0, x1, y1 = surface.gross.bounds
    return shapely.clip_by_rect(surface.gross, x0, y0, x1, min(y1, surface.tanked.bounds[3] + ABOVE))


def between(shape: BaseGeometry, low: float, high: float) -> BaseGeometry:
    """What lies of a shape on a face between two uprights."""
    _, y0, _, y1 = shape.bounds if not shape.is_empty else (0.0, 0.0, 0.0, 0.0)
    return shapely.intersection(shape, shapely.box(low, y0 - 1.0, high, y1 + 1.0))


def unfold(room: RoomSetOut, scale: float, width: float, *, cut: bool = False) -> Unfolded:
    """Set the tanked faces in rows no wider than a width on paper, mm; longer ones are `cut` into parts, or stand alone in their row."""
    faces = [s for s in room.membrane.lining.surfaces if s.placing.line is not None and not s.tanked.is_empty]
    x0, y0, _, _ = room_bounds(room)
    placed: list[Face] = []
    row: list[tuple[Surface, float, int, list[float]]] = []
    top = y0 - BELOW

    def end_row() -> None:
        nonlocal top
        tall = max((float(np.ptp(shown(s).bounds[1::2])) for s, *_ in row), default=0.0)
        for s, at, k, edges in row:
            placed.append(Face(s, (at, top - tall - shown(s).bounds[1]), k, len(edges) - 1, edges[k], edges[k + 1]))
        top -= tall + UNDER * scale

    x = x0
    for surface in faces:
        edges = cuts_of(surface, width * scale) if cut else [shown(surface).bounds[0], shown(surface).bounds[2]]
        for k, (low, high) in enumerate(itertools.pairwise(edges)):
            wide = max(high - low + BESIDE * scale, (text_width(surface.name, NAME, bold=True) + 4.0) * scale)
            if row and x + wide - x0 > width * scale:
                end_row()
                row, x = [], x0
            row.append((surface, x + (wide - BESIDE * scale - (high - low)) / 2 - low, k, edges))
            x += wide
    end_row()
    boxes = [shapely.affinity.translate(face.shown, *face.at).bounds for face in placed]
    if not boxes:
        return Unfolded((), (x0, top, x0 + 1.0, top + 1.0))
    array = np.array(boxes)
    first, last = array[:, :2].min(axis=0), array[:, 2:].max(axis=0)
    return Unfolded(tuple(placed), (float(first[0]), float(first[1]), float(last[0]), float(last[1])))


def cuts_of(surface: Surface, most: float) -> list[float]:
    """Where a face is cut so that no part of it is longer than `most`, its own axis, mm: evenly, but clear of pipes and jambs; ends included."""
    low, _, high, _ = shown(surface).bounds
    jambs = np.unique(shapely.get_coordinates(surface.tanked)[:, 0])
    inside = jambs[(jambs > low + OFF_BREAKS) & (jambs < high - OFF_BREAKS)]
    pipes = np.array([each.shape.bounds for each in surface.breaks]).reshape(-1, 4)[:, [0, 2]]
    off = np.concatenate([pipes, np.column_stack([inside, inside])]) + np.array([-OFF_BREAKS, OFF_BREAKS])
    count = max(math.ceil((high - low) / most - 1e-9), 1)
    while True:
        edges = [low, *(_clear(low + (high - low) * k / count, off) for k in range(1, count)), high]
        if count == 1 or (np.diff(edges).max() <= most and np.diff(edges).min() > 0.0) or count > len(off) + 2 + MOST:
            return edges
        count += 1


def _clear(x: float, off: Floats) -> float:
    """The place next to one on a face that lies in none of some stretches, (n, 2)."""
    ends = np.concatenate([[x], off.ravel()])
    free = ends[~((ends[:, None] > off[:, 0]) & (ends[:, None] < off[:, 1])).any(axis=1)]
    return float(free[np.argmin(np.abs(free - x))])


def papers_for(paper: str) -> tuple[str, ...]:
    """Papers for the unfolded faces of a room on a paper of its own."""
    return (paper, "A2") if paper == "A3" else (paper,)


def unfolded_on(room: RoomSetOut, papers: Sequence[str], scale: float | None) -> tuple[str, View, Unfolded]:
    """Paper, view, and faces in rows at the largest scale that takes them all on a paper, or at one that was asked for and those below it.

    Where they are lost on it, and so small that a tape's height is hardly seen, long ones are cut into parts, at the largest scale at
    which none is cut into many.
    """
    whole = _better([_rows_on(room, paper, scale or OWN_SCALES[0]) for paper in papers])
    if scale is not None or not whole[2].faces or _share(whole) >= LOST or whole[1].scale <= STILL_SEEN:
        return whole
    cut = [each for paper in papers if (each := _rows_on(room, paper, OWN_SCALES[0], cut=True))[1].scale <= SMALLEST]
    cut = [each for each in cut if max(face.parts for face in each[2].faces) <= MOST]
    best: tuple[str, View, Unfolded] = max([whole, *([_better(cut)] if cut else ())], key=_share)
    return best


def _better(found: Sequence[tuple[str, View, Unfolded]]) -> tuple[str, View, Unfolded]:
    """The rows on the paper that they fill well, of some on smaller papers first."""
    return found[well_filled([_taken(each) for each in found])]


def _taken(rows: tuple[str, View, Unfolded]) -> tuple[str, float, float]:
    """The paper of some rows, and their width and height on it with what stands under the last, paper mm."""
    paper, view, (x0, y0, x1, y1) = rows[0], rows[1], rows[2].bounds
    return paper, (x1 - x0) / view.scale, (y1 - y0) / view.scale + UNDER


def _share(rows: tuple[str, View, Unfolded]) -> float:
    paper, wide, tall = _taken(rows)
    return wide * tall / for_drawing(SIZES[paper])


def _rows_on(room: RoomSetOut, paper: str, largest: float, *, cut: bool = False) -> tuple[str, View, Unfolded]:
    """The faces in rows on one paper, at the largest scale from one down that takes them all."""
    left, low, right, high = drawing_window(SIZES[paper])
    space = right - left - 30.0, high - low - 50.0
    steps = [each for each in sorted({*OWN_SCALES, *SCALES}) if each >= largest]
    tries = ((step, unfold(room, step, space[0], cut=cut)) for step in steps)
    step, rows = next((each for each in tries if _goes(each[1], space, each[0])), (steps[-1], unfold(room, steps[-1], space[0])))
    return paper, view_on(rows.bounds, SIZES[paper], step), rows


def _goes(rows: Unfolded, space: tuple[float, float], scale: float) -> bool:
    """Whether rows of faces go on a space of the paper, mm: no face is longer than it, and they are not too many."""
    x0, y0, x1, y1 = rows.bounds
    return x1 - x0 <= space[0] * scale + 1e-6 and y1 - y0 <= space[1] * scale
