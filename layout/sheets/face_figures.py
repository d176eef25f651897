"""Figures of an elevation: name, dimensions, courses, datum line, pipes, saw sizes."""

from __future__ import annotations

import itertools
import math
from typing import TYPE_CHECKING

import numpy as np

from layout.shapes import rings_of
from layout.sheets.column import told
from layout.sheets.edge_figures import merged_cuts
from layout.sheets.elevation_pages import NAME, placed_name
from layout.sheets.lettering import text_width
from layout.sheets.room_view import block_line
from layout.sheets.scene import Dimension, Primitive, Stroke, View, readable
from layout.sheets.spots import Spot
from layout.start.courses import courses_of, finished
from layout.tiles.pieces import saw_size
from layout.vectors import pair
from layout.words import say

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from layout.setout.values import RoomSetOut, SurfaceSetOut
    from layout.sheets.elevation_pages import Placed
    from layout.sheets.place import Placer

    Floats = NDArray[np.float64]

COURSE_STEP = 4.2
"""Courses are named no closer than this, paper mm."""


def on_paper(view: View, placed: Placed, point: Sequence[float]) -> Floats:
    """A point of a face, own axes, on paper."""
    result: Floats = view.to_paper(placed.out(np.array([point], dtype=float)))[0]
    return result


def figures(room: RoomSetOut, placed: Placed, view: View, placer: Placer, result: list[Primitive]) -> None:
    """Name, dimensions, datum line, courses, saw sizes."""
    done = room.surfaces[placed.number]
    surface = done.surface
    x0, y0, x1, y1 = surface.gross.bounds
    for ring in rings_of(surface.gross):
        block_line(placer, view, placed.out(np.vstack([ring, ring[:1]])), 0.3)
    turn = readable(placed.turn)
    if placed.turn == 0.0 and surface.placing.line is not None:
        _dimensions(room, placed, view, placer, result)
        _courses(room, placed, view, placer)
        if surface.kind == "wall":
            _datum_line(room, placed, view, placer, result)
        at = on_paper(view, placed, ((x0 + x1) / 2, y0))
        name = placed_name(room, placed)
        spots = [Spot((float(at[0]), float(at[1]) - far)) for far in (19.5, 22.0)]
        placer.place(name, NAME, "TEXT", spots, bold=True, needed=True, foot=at)
    else:
        at = on_paper(view, placed, ((x0 + x1) / 2, (y0 + y1) / 2))
        spots = [Spot((float(at[0]), float(at[1]) + far), angle=turn) for far in (0.0, 5.0, -5.0)]
        word = surface.name if placed.turn == 0.0 else say("side {side}", side=surface.id.side)
        placer.place(word, 3.5 if placed.turn == 0.0 else 2.5, "TEXT", spots, boxed=True, bold=True, needed=True, foot=at)
    for each in surface.breaks:
        _break_offsets(room, placed, each.name, each.at, view, placer)
    _saw_sizes(done, placed, view, placer)


def _stops(room: RoomSetOut, placed: Placed) -> list[float]:
    """X of a face's ends and of its openings' jambs."""
    surface = room.surfaces[placed.number].surface
    x0, _, x1, _ = surface.gross.bounds
    stops = {round(x0, 1), round(x1, 1)}
    for wall_index, wall in enumerate(room.lining.outline.walls):
        if surface.kind == "wall" and wall.run.number == surface.id.number:
            for opening in room.lining.outline.openings:
                if opening.wall == wall_index:
                    stops |= {round(wall.run.length - opening.s1, 1), round(wall.run.length - opening.s0, 1)}
            stops |= {0.0, round(wall.run.length, 1)}
    return sorted(stops)


def _dimensions(room: RoomSetOut, placed: Placed, view: View, placer: Placer, result: list[Primitive]) -> None:
    """Left to right under the face: from jamb to jamb, then over all; heights on its right."""
    surface = room.surfaces[placed.number].surface
    _, y0, x1, y1 = surface.gross.bounds
    stops = _stops(room, placed)
    rows = [stops] if len(stops) == 2 else [stops, [stops[0], stops[-1]]]
    for k, row in enumerate(rows):
        for a, b in itertools.pairwise(row):
            distance = -6.0 - 6.5 * k
            p, q = pair(placed.out(np.array([[a, y0]]))[0]), pair(placed.out(np.array([[b, y0]]))[0])
            text = f"{b - a:.0f}"
            wide = (b - a) / view.scale
            narrow = text_width(text, 2.5) > wide - 1.0
            result.append(Dimension(p, q, distance, "" if narrow else text, "DIMENSION"))
            corner = on_paper(view, placed, (a, y0))
            placer.block((float(corner[0]), float(corner[1]) + distance - 0.4, float(corner[0]) + wide, float(corner[1]) + distance + 3.4))
            if narrow:
                spots = [
                    Spot((float(corner[0] + wide / 2 + dx), float(corner[1]) + distance + dy))
                    for dy in (-2.4, 2.4)
                    for dx in (0.0, 5.0, -5.0)
                ]
                placer.place(
                    text, 2.5, "DIMENSION", spots, boxed=True, needed=True, foot=(float(corner[0] + wide / 2), float(corner[1]) + distance)
                )
    tops = [("", y1)]
    if not surface.tanked.is_empty and surface.tanked.bounds[3] < y1 - 1.0:
        tops.insert(0, (say("tanked "), surface.tanked.bounds[3]))
    for k, (word, top) in enumerate(tops):
        if (top - y0) / view.scale < 6.0:
            continue
        low, high = pair(placed.out(np.array([[x1, 0.0]]))[0]), pair(placed.out(np.array([[x1, top]]))[0])
        tries = (say("{word}{top:.0f} from bare floor", word=word, top=top), f"{word}{top:.0f}", f"{top:.0f}")
        line = room.lining.plan.rules.datum_line + finished(room.lining)  # drawn beyond the wall: no figure stands on it
        clear = max((0.0, line), (line, top), key=lambda ends: ends[1] - ends[0]) if 0.0 < line < top else (0.0, top)
        text = next((t for t in tries if text_width(t, 2.5) < (clear[1] - clear[0]) / view.scale - 2.0), "")
        if not text:
            clear, text = (0.0, top), next((t for t in tries if text_width(t, 2.5) < top / view.scale - 1.0), "")
        if not text:
            continue
        part = (clear[0] + clear[1]) / 2.0 / top
        result.append(Dimension(low, high, -4.5 - 5.0 * k, text, "DIMENSION", part=part))
        foot, head = on_paper(view, placed, (x1, y0)), on_paper(view, placed, (x1, top))
        placer.block((float(foot[0]) + 1.0 + 5.0 * k, float(foot[1]), float(foot[0]) + 5.5 + 5.0 * k, float(head[1])))


def _courses(room: RoomSetOut, placed: Placed, view: View, placer: Placer) -> None:
    """Courses numbered on the left, each with the level of its top edge above the finished floor."""
    done = room.surfaces[placed.number]
    try:
        courses = courses_of(done.surface, done.field, finished(room.lining))
    except ValueError:
        return
    x0, _, _, y1 = done.surface.gross.bounds
    last = -1e9
    for course in courses:
        top = min(course.high, y1)
        if (top - last) / view.scale < COURSE_STEP:
            continue
        last = top
        at = on_paper(view, placed, (x0, top))
        text = f"{course.number}  {told(min(course.high_level, y1 - finished(room.lining)))}"
        tick = Stroke(view.to_room(np.array([[at[0] - 3.6, at[1]], [at[0] - 0.8, at[1]]])), "DIMENSION")
        placer.place(text, 2.5, "TEXT", [Spot((float(at[0]) - 4.0, float(at[1])), "right")], shown_with=(tick,))


def _datum_line(room: RoomSetOut, placed: Placed, view: View, placer: Placer, result: list[Primitive]) -> None:
    """The level line that courses are measured from, drawn beyond the wall's ends."""
    level = room.lining.plan.rules.datum_line
    y = level + finished(room.lining)
    x0, _, x1, y1 = room.surfaces[placed.number].surface.gross.bounds
    if y > y1:
        return
    ends = placed.out(np.array([[x0, y], [x1, y]]))
    beyond = np.array([3.0 * view.scale, 0.0])
    result.append(Stroke(np.array([ends[0] - beyond, ends[1] + beyond]), "START-LINE"))
    at = on_paper(view, placed, ((x0 + x1) / 2, y))
    wide = (x1 - x0) / view.scale
    text = next(
        (t for t in (_datum_words(room, level), told(level)) if text_width(t, 3.5, bold=True) < wide - 4.0),
        "",
    )
    if text:
        spots = [Spot((float(at[0]) + dx, float(at[1]) + dy)) for dy in (3.6, -3.6) for dx in (0.0, -0.25 * wide, 0.25 * wide)]
        placer.place(text, 3.5, "START-LINE", spots, boxed=True, bold=True)
    block_line(placer, view, ends, 0.6)


def _break_offsets(room: RoomSetOut, placed: Placed, name: str, at: tuple[float, float], view: View, placer: Placer) -> None:
    """A pipe or fixing by its distance from the left-hand end and its level above the finished floor."""
    paper = on_paper(view, placed, at)
    level = at[1] - finished(room.lining)
    spots = [
        Spot((float(paper[0]) + dx, float(paper[1]) + dy), "left" if dx > 0 else "right")
        for dy in (0.0, 6.0, -6.0, 12.0, -12.0)
        for dx in (5.0, -5.0)
    ]
    text = say("{name}: {at:.0f} from left, {told}", name=name, at=at[0], told=told(level))
    placer.place(text, 2.5, "PIPE", spots, boxed=True, needed=True, foot=paper)


def _saw_sizes(done: SurfaceSetOut, placed: Placed, view: View, placer: Placer) -> None:
    """Saw sizes at both ends of every straight edge that cuts tiles, just inside it."""
    for cut in merged_cuts(done.wall_cuts):
        way = cut.edge[1] - cut.edge[0]
        length = float(np.hypot(*way))
        paper_length = length / view.scale
        start, end = saw_size(cut.start, done.tile), saw_size(cut.end, done.tile)
        if paper_length < 6.0 or min(start, end) < 1.0:
            continue
        unit = way / length
        inward = np.array([-unit[1], unit[0]])
        turn = readable(placed.turn + math.degrees(math.atan2(unit[1], unit[0])))
        reach = min(9.0, paper_length / 4.0) / paper_length
        parts = [(0.5, start)] if abs(start - end) < 1.0 and paper_length < 60.0 else [(reach, start), (1.0 - reach, end)]
        for part, value in parts:
            spots = []
            for far in (2.6, 3.8, 6.0, 9.0):
                for shift in (0.0, 7.0, -7.0, 14.0, -14.0):
                    here = cut.edge[0] + way * part + unit * shift * view.scale + inward * far * view.scale
                    along = float((here - cut.edge[0]) @ unit)
                    if 0.0 <= along <= length:
                        at = on_paper(view, placed, here)
                        spots.append(Spot((float(at[0]), float(at[1])), angle=turn))
            placer.place(f"{value:g}", 3.5, "CUT-SIZE", spots, boxed=True, bold=True)


def _datum_words(room: RoomSetOut, level: float) -> str:
    """Which line it is and how far above what, in words."""
    return say("datum line, {level} above {base}", level=told(level), base="±0" if room.levels else say("finished floor"))
