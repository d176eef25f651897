"""Figures along the edges of a floor: saw sizes, lengths of walls, running dimensions from the start lines."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from shapely import LineString

from layout.sheets.lettering import text_width
from layout.sheets.room_view import block_line, block_shape, faces_of, read_as, wall_frame, walled_off
from layout.sheets.scene import Dimension, Label, Primitive, Stroke, View, bubble_ring, exploded, readable
from layout.sheets.spots import Spot, label_box
from layout.tiles.pieces import saw_size
from layout.vectors import pair

if TYPE_CHECKING:
    from layout.setout.values import RoomSetOut, WallCut
    from layout.sheets.place import Placer
    from layout.sheets.room_view import Lines

BAND_CUT, BAND_WALL, BAND_DIMENSION, BAND_RUNNING = 3.6, 9.2, 17.2, 22.6
"""How far outside the bare wall cut sizes, wall names, dimensions and running dimensions stand, paper mm."""
INSIDE = 9.0
"""Lines of dimensions that cannot stand outside stand inside, so much nearer to the wall, paper mm."""
SHORT = 9.0
"""Edges shorter than this on paper, mm, have their cuts in a table instead of beside them."""
SQUARE_TO = 0.05
"""Sine of the angle by which a start line may be out of square to a wall and still be measured from along it."""
MOST_RUNNING, LEAST_RUNNING = 16, 30.0
"""Rooms with more walls get no running dimensions, nor do walls shorter than this on paper, mm."""


def merged_cuts(cuts: tuple[WallCut, ...]) -> list[WallCut]:
    """Cuts along one line with the same sizes, taken together."""
    result: list[WallCut] = []
    for cut in cuts:
        way = cut.edge[1] - cut.edge[0]
        length = float(np.hypot(*way))
        if length < 1.0:
            continue
        unit = way / length
        for k, other in enumerate(result):
            own = other.edge[1] - other.edge[0]
            own = own / max(float(np.hypot(*own)), 1e-9)
            off = abs(float(own[0] * (cut.edge[0] - other.edge[0])[1] - own[1] * (cut.edge[0] - other.edge[0])[0]))
            span = sorted(float((p - other.edge[0]) @ own) for p in cut.edge)
            reach = float((other.edge[1] - other.edge[0]) @ own)
            gap = max(span[0] - reach, -span[1], 0.0)
            alike = max(abs(cut.start - other.start), abs(cut.end - other.end), abs(cut.start - cut.end)) < 0.5
            same = alike if not cut.turns else cut.turns == other.turns
            if off < 1.0 and float(own @ unit) > 0.999 and same and gap < 1200.0:
                at = [(p - other.edge[0]) @ own for p in (*other.edge, *cut.edge)]
                edge = np.array([other.edge[0] + own * min(at), other.edge[0] + own * max(at)])
                result[k] = replace(other, edge=edge)
                break
        else:
            result.append(cut)
    return result


def cut_sizes(room: RoomSetOut, view: View, placer: Placer) -> list[tuple[str, str]]:
    """Saw sizes at both ends of every wall: outside walls, inside plinths and columns; those without a free place are given back."""
    unplaced: list[tuple[str, str]] = []
    tile = room.floor.tile
    cuts = merged_cuts(room.floor.wall_cuts)
    edges = np.array([LineString(view.to_paper(np.array(cut.edge))) for cut in cuts], dtype=object)
    for index, cut in enumerate(cuts):
        way = cut.edge[1] - cut.edge[0]
        length = float(np.hypot(*way))
        unit = way / length
        out = np.array([unit[1], -unit[0]])
        angle = readable(math.degrees(math.atan2(unit[1], unit[0])))
        build_up = room.floor.surface.build_up + 20.0
        start, end = saw_size(cut.start, tile), saw_size(cut.end, tile)
        if length / view.scale < SHORT:
            continue  # told in the table of cuts at small things
        figure = " / ".join(f"{saw_size(v, tile):g}" for v in cut.turns)
        if figure:
            start = end = saw_size(min(cut.turns), tile)
        reach = min(12.0, length / view.scale / 4.0)
        parts = (
            [(0.5, start)]
            if abs(start - end) < 1.0 and length / view.scale < 60.0
            else [(reach * view.scale / length, start), (1 - reach * view.scale / length, end)]
        )
        for part, value in parts:
            if value < 1.0:
                continue
            spots = []
            for far in (BAND_CUT, BAND_CUT + 3.0, -7.0, BAND_CUT + 9.0, 2.6, -4.0):
                for shift in (0.0, 6.0, -6.0, 12.0, -12.0, 20.0, -20.0):
                    here = cut.edge[0] + way * part + unit * shift * view.scale + out * (build_up if far > 0 else 0.0)
                    if not -3.0 * view.scale <= (here - cut.edge[0]) @ unit <= length + 3.0 * view.scale:
                        continue
                    at = view.to_paper(here)[0] + out * far
                    spots.append(Spot((float(at[0]), float(at[1])), angle=angle))
            own = read_as(np.array([spot.at for spot in spots]).reshape(-1, 2), edges, index)
            spots = [spot for spot, there in zip(spots, own, strict=True) if there]
            label = placer.place(figure or f"{value:g}", 3.5, "CUT-SIZE", spots, boxed=True, bold=True)
            if label is None:
                unplaced.append((cut.label, figure or f"{value:g}"))
    return unplaced


def _band(room: RoomSetOut, view: View, index: int, faces: Lines, band: float) -> float | None:
    """How far outside a wall a line of dimensions stands, paper mm, below 0 inside; None where another wall lies between on both sides.

    Outside a thin wall body is the next room or the next part of this one: a line there would be read as that wall's.
    """
    a, b, normal, _ = wall_frame(room, index)
    along = view.to_paper(np.array([a + (b - a) * part for part in (0.02, 0.5, 0.98)]))
    return next((far for far in (band, INSIDE - band) if not walled_off(along + normal * far, faces, index).any()), None)


def wall_dimensions(room: RoomSetOut, view: View, placer: Placer) -> list[Primitive]:
    """The bare length of each straight wall, outside where that is free."""
    result: list[Primitive] = []
    walls = room.lining.outline.walls
    if len(walls) > 24:
        return result
    faces = faces_of(room, view)
    for index, wall in enumerate(walls):
        if not wall.run.straight or wall.run.length / view.scale < 10.0:
            continue
        a, b, _, _ = wall_frame(room, index)
        far = _band(room, view, index, faces, BAND_DIMENSION)
        if far is None:
            continue  # the boxes for measured lengths tell it
        # the line of a dimension stands to the left of its travel: outside is on the left from b to a
        ends = (pair(b), pair(a)) if far > 0 else (pair(a), pair(b))
        item = Dimension(*ends, abs(far), f"{wall.run.length:.0f}", "DIMENSION")
        tries = [replace(item, part=part) for part in (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8)]
        item = min(tries, key=lambda each: placer.overlap(figure_box(each, view)))
        if placer.overlap(figure_box(item, view)) > 1e-9:
            item = replace(item, text="")  # the boxes for measured lengths tell it
        placer.block(figure_box(item, view))
        for stroke in exploded(item, view.scale):
            if isinstance(stroke, Stroke):
                block_shape(placer, view, stroke.points, 0.2)
        result.append(item)
    return result


def running_stops(room: RoomSetOut, index: int) -> tuple[float, list[float]] | None:
    """Along a straight wall, where a start line square to it meets it, and its corners and jambs, mm from its anticlockwise end.

    None if no start line meets the wall.
    """
    run = room.lining.outline.walls[index].run
    a, b = run.points[0], run.points[-1]
    way = (b - a) / max(run.length, 1e-9)
    for line in room.floor.start.lines:
        p, q = np.array(line.start), np.array(line.end)
        along = (q - p) / max(float(np.hypot(*(q - p))), 1e-9)
        if abs(along @ way) > SQUARE_TO:
            continue
        # where the line, drawn on, crosses the wall's own line
        off = np.array([-way[1], way[0]])
        t = float((a - p) @ off) / float(along @ off)
        origin = float((p + along * t - a) @ way)
        if 0.0 < origin < run.length:
            stops = {0.0, run.length}
            for opening in room.lining.outline.openings:
                if opening.wall == index and opening.door:
                    stops |= {opening.s0, opening.s1}
            return origin, sorted(stops)
    return None


def running_dimensions(room: RoomSetOut, view: View, placer: Placer, result: list[Primitive]) -> None:
    """Running dimensions outside each wall: from a start line to its corners and jambs, a ring where they begin."""
    walls = room.lining.outline.walls
    if len(walls) > MOST_RUNNING:
        return
    faces = faces_of(room, view)
    for index, wall in enumerate(walls):
        if not wall.run.straight or wall.run.length / view.scale < LEAST_RUNNING:
            continue
        found = running_stops(room, index)
        far = _band(room, view, index, faces, BAND_RUNNING)
        if found is None or far is None:
            continue
        origin, stops = found
        a, b, normal, angle = wall_frame(room, index)
        way = (b - a) / wall.run.length
        out = normal * far * view.scale
        ends = np.array([a + out, b + out])
        result.append(Stroke(ends, "DIMENSION"))
        centre = a + way * origin + out
        result.append(Stroke(bubble_ring((float(centre[0]), float(centre[1])), 1.1 * view.scale), "START-LINE", closed=True))
        block_line(placer, view, ends, 0.3)
        block_shape(placer, view, centre[None], 1.6)
        for stop in stops:
            at = a + way * stop + out
            tick = (way + normal) * 0.9 * view.scale
            result.append(Stroke(np.array([at - tick, at + tick]), "DIMENSION"))
            paper = view.to_paper(at[None])[0]
            inward = -1.0 if stop > origin else 1.0
            spots = []
            for beside in (2.0, 4.5, 7.5):
                for aside in (2.4, -2.4):
                    here = paper + way * inward * (beside + text_width(f"{abs(stop - origin):.0f}", 2.5) / 2) + normal * aside
                    spots.append(Spot((float(here[0]), float(here[1])), angle=angle))
            placer.place(f"{abs(stop - origin):.0f}", 2.5, "DIMENSION", spots, boxed=True)


def figure_box(item: Dimension, view: View) -> tuple[float, float, float, float]:
    """Where a dimension's figure stands, paper mm."""
    label = next(part for part in exploded(item, view.scale) if isinstance(part, Label))
    at = view.to_paper(np.array([label.at]))[0]
    return label_box(replace(label, at=(float(at[0]), float(at[1]))))
