"""What was found in a drawing or a model, as one picture to check by eye: rooms with names, areas, doors, columns, pipes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import Polygon
from shapely.ops import substring

from layout.plan.values import Project
from layout.sheets.lettering import text_width
from layout.sheets.paper import PLAN_SCALES, SCALES, SIZES, block_primitives, drawing_space, frame, title_block
from layout.sheets.place import Placer
from layout.sheets.room_view import block_line
from layout.sheets.scene import Fill, Label, Primitive, Sheet, Stroke, View, bubble_ring
from layout.sheets.spots import Spot
from layout.survey.found import openings_of
from layout.words import say

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from layout.survey.found import Found, FoundRoom


LIST_ROWS = 8
"""So many doubts are written out under the drawing; how many more there are stands in the last row."""
LIST_WIDTH = 192.0
"""Paper left of the title block, mm."""
SURE = 0.7
"""Rooms for which less speaks are to be looked at."""
ROUND = 1500.0
"""So much of the source is drawn round the rooms, mm."""


def found_sheet(found: Found) -> Sheet:
    """One A3 sheet at the largest usual scale that takes everything: rooms over the source's lines in grey, doubts by number."""
    size = SIZES["A3"]
    left, bottom, right, top = drawing_space(size)
    corners = np.concatenate([room.outline for room in (*found.rooms, *found.doubtful)])
    low, high = corners.min(axis=0), corners.max(axis=0)
    wide, tall = (high - low).tolist()
    room_for = (right - left - 24.0, top - bottom - 74.0)
    scales = sorted({*PLAN_SCALES, *SCALES})
    scale = next((s for s in scales if wide / s <= room_for[0] and tall / s <= room_for[1] and s >= 10.0), SCALES[-1])
    middle = (low + high) / 2
    view = View((float(middle[0]), float(middle[1])), ((left + right) / 2, (top + bottom) / 2 + 18.0), scale, (right - left, top - bottom))
    placer = Placer((left + 2, bottom + 48, right - 2, top - 18))
    scene: list[Primitive] = _source(found, low - ROUND, high + ROUND)
    for room in found.rooms:
        scene.append(Fill(Polygon(room.outline, room.holes), "TONE", 0.12))
        scene.append(Stroke(room.outline, "WALL", closed=True))
        block_line(placer, view, np.vstack([room.outline, room.outline[:1]]))
        for hole in room.holes:
            scene += [Fill(Polygon(hole), "WALL", 0.55), Stroke(hole, "WALL", closed=True)]
        walls = room.walls
        for wall, offset, width in openings_of(room):
            door = shapely.get_coordinates(substring(shapely.LineString(walls[wall - 1].points), offset, offset + width))
            scene += [Fill(shapely.buffer(shapely.LineString(door), 1.0 * scale, cap_style="flat"), "TONE", 0.0), Stroke(door, "OPENING")]
        scene += [Stroke(bubble_ring(at, diameter / 2), "PIPE", closed=True) for at, diameter in room.pipes]
        scene += [Stroke(bubble_ring(at, 100.0), "DRAIN", closed=True) for at in room.gullies]
    for room in found.rooms:
        inside = view.to_paper(np.array(shapely.point_on_surface(Polygon(room.outline, room.holes)).coords))[0]
        for text, height, down in ((room.name, 3.5, 0.0), (f"{room.area_m2:.2f} m²", 2.5, 4.6)):
            spots = [
                Spot((float(inside[0]) + dx, float(inside[1]) + dy - down))
                for dy in (0.0, 6.0, -6.0, 11.0, -11.0)
                for dx in (0.0, 8.0, -8.0)
            ]
            placer.place(text, height, "TEXT", spots, boxed=True, bold=height > 3.0, needed=height > 3.0, foot=inside)
    doubts = _doubts(found)
    for number, (room, _) in enumerate(doubts, 1):
        if room in found.doubtful:
            scene.append(Stroke(room.outline, "SEALANT", closed=True))
        inside = view.to_paper(np.array(shapely.point_on_surface(Polygon(room.outline, room.holes)).coords))[0]
        spots = [Spot((float(inside[0]) + dx, float(inside[1]) + dy)) for dy in (-9.5, 6.5, -13.0, 0.0) for dx in (0.0, -9.0, 9.0)]
        placer.place(say("look {number}", number=number), 3.5, "TEXT", spots, boxed=True, bold=True, needed=True, foot=inside)
    placer.finish()
    scene += placer.drawn(view)
    block = title_block(
        Project(title=found.source[:25]), say("Rooms as found"), say("{count} rooms", count=len(found.rooms)), 1, 1, "A3", f"1:{scale:g}"
    )
    paper: list[Primitive] = [*frame(size), *block_primitives(block, size)]
    paper.append(
        Label(
            say("Rooms as found · 1:{scale:g} · unit {unit}: {why}", scale=scale, unit=found.unit, why=found.unit_why)[:110],
            (left + 5.0, top - 13.0),
            3.5,
            "TEXT",
            bold=True,
        )
    )
    paper += _list(doubts, left + 5.0, bottom + 42.0)
    return Sheet("found", say("Rooms as found"), "", "A3", size, view, tuple(scene), tuple(paper), block)


def _source(found: Found, low: NDArray[np.float64], high: NDArray[np.float64]) -> list[Primitive]:
    """The source's lines about the rooms, in grey."""
    if found.drawn is None or not len(found.drawn):
        return []
    lines = np.asarray(shapely.linestrings(found.drawn))
    near = shapely.get_parts(shapely.intersection(lines, shapely.box(*low, *high)))
    return [Stroke(shapely.get_coordinates(line), "TONE") for line in near if line.length > 0.0 and line.geom_type == "LineString"]


def _doubts(found: Found) -> list[tuple[FoundRoom, str]]:
    """Spaces that are left out, then rooms that little speaks for, each with why."""
    rows = [(room, say("left out, {area:.2f} m²: {why}", area=room.area_m2, why="; ".join(room.evidence))) for room in found.doubtful]
    unsure = sorted((room for room in found.rooms if room.confidence < SURE), key=lambda room: room.confidence)
    return rows + [(room, f"{room.name}: {'; '.join(room.evidence)}") for room in unsure]


def _list(doubts: Sequence[tuple[FoundRoom, str]], x: float, y: float) -> list[Primitive]:
    """The doubts, numbered as in the drawing."""
    result: list[Primitive] = []
    for k, (_, words) in enumerate(doubts[:LIST_ROWS], 1):
        more = len(doubts) - LIST_ROWS
        text = say("and {count} more", count=more + 1) if k == LIST_ROWS and more > 0 else words
        while text_width(say("look {number}  {text}", number=k, text=text), 2.5) > LIST_WIDTH:
            text = text[:-2].rstrip("… ") + "…"
        result.append(Label(say("look {number}  {text}", number=k, text=text), (x, y - (k - 1) * 4.4), 2.5, "TEXT"))
    return result
