"""What was found in a drawing or a model, as one picture to check by eye: rooms with names, areas, doors, columns, pipes."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
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
from layout.sheets.spots import Spot, label_box, leader_spots
from layout.survey.found import openings_of
from layout.words import say

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from layout.sheets.spots import Box
    from layout.survey.found import Found, FoundRoom


LIST_ROWS = 8
"""So many doubts are written out under the drawing; how many more there are stands in the last row."""
LIST_WIDTH = 192.0
"""Paper left of the title block, mm."""
SURE = 0.7
"""Rooms for which less speaks are to be looked at."""
BETWEEN = 0.2
"""Storeys stand so far apart, in the greatest side of the building."""
FAR = (6.0, 9.0, 13.0, 18.0, 24.0, 30.0, 38.0)
"""How far a name without its area may stand from its room, paper mm."""
ROUND = 1500.0
"""So much of the source is drawn round the rooms, mm."""


def found_sheet(found: Found) -> Sheet:
    """One A3 sheet at the largest usual scale that takes everything: rooms over the source's lines in grey, doubts by number.

    Storeys of a model stand beside or under one another, each under its name.
    """
    size = SIZES["A3"]
    left, bottom, right, top = drawing_space(size)
    room_for = (right - left - 24.0, top - bottom - 74.0)
    found, storeys = _apart(found, room_for[0] / room_for[1])
    corners = np.concatenate([room.outline for room in (*found.rooms, *found.doubtful)])
    low, high = corners.min(axis=0), corners.max(axis=0)
    wide, tall = (high - low).tolist()
    scales = sorted({*PLAN_SCALES, *SCALES})
    scale = next((s for s in scales if wide / s <= room_for[0] and tall / s <= room_for[1] and s >= 10.0), SCALES[-1])
    middle = (low + high) / 2
    view = View((float(middle[0]), float(middle[1])), ((left + right) / 2, (top + bottom) / 2 + 18.0), scale, (right - left, top - bottom))
    own = {storey: Placer(_on_sheet(view, place, (left + 2, bottom + 48, right - 2, top - 18))) for storey, place in storeys.items()}
    scene: list[Primitive] = _source(found, low - ROUND, high + ROUND)
    for room in found.rooms:
        scene += _drawn(room, scale)
        block_line(own[room.storey], view, np.vstack([room.outline, room.outline[:1]]))
    for storey, place in storeys.items() if len(storeys) > 1 else ():
        x, y = view.to_paper(np.array([place.corner]))[0]
        spots = [Spot((float(x), float(y) + up), across="left", upward="bottom") for up in (2.0, 4.0, 6.0, 9.0)]
        own[storey].place(storey or say("no storey"), 3.5, "TEXT", spots, boxed=True, bold=True, needed=True)
    for room in found.rooms:
        _named(own[room.storey], view, room)
    doubts = _doubts(found)
    for number, (room, _) in enumerate(doubts, 1):
        if room in found.doubtful:
            scene.append(Stroke(room.outline, "SEALANT", closed=True))
        text, inside, shape = say("look {number}", number=number), *_on_paper(view, room)
        spots = _fitting(shape, text, 3.5, [(inside[0] + dx, inside[1] + dy) for dy in (-9.5, 6.5, -13.0, 0.0) for dx in (0.0, -9.0, 9.0)])
        own[room.storey].place(text, 3.5, "TEXT", spots, boxed=True, bold=True, needed=True, foot=inside)
    for placer in own.values():
        placer.finish()
    alone = _names_alone(own, view, found)
    for placer in own.values():
        scene += placer.drawn(view)
    block = title_block(
        Project(title=found.source[:25]), say("Rooms as found"), say("{count} rooms", count=len(found.rooms)), 1, 1, "A3", f"1:{scale:g}"
    )
    paper: list[Primitive] = [*frame(size), *block_primitives(block, size)]
    title = say("Rooms as found · 1:{scale:g} · unit {unit}: {why}", scale=scale, unit=found.unit, why=found.unit_why)[:110]
    paper.append(Label(title, (left + 5.0, top - 13.0), 3.5, "TEXT", bold=True))
    rows = [say("look {number}  {text}", number=k, text=words) for k, (_, words) in enumerate(doubts, 1)]
    if len(rows) > LIST_ROWS:
        rows[LIST_ROWS - 1 :] = [
            say("look {number}  {text}", number=LIST_ROWS, text=say("and {count} more", count=len(rows) - LIST_ROWS + 1))
        ]
    if missing := [name for placer in own.values() for name in placer.missing() if name not in alone]:
        rows += _folded(say("No room in the drawing for {names}", names="; ".join(missing)))[: LIST_ROWS + 1 - len(rows)]
    paper += _list(rows, left + 5.0, bottom + 42.0)
    return Sheet("found", say("Rooms as found"), "", "A3", size, view, tuple(scene), tuple(paper), block)


@dataclass(frozen=True, slots=True)
class _Place:
    """Where a storey is laid out, mm of the source: its top left corner, and what of the sheet is its own, without end where no other storey is."""

    corner: tuple[float, float]
    low: tuple[float, float] = (-math.inf, -math.inf)
    high: tuple[float, float] = (math.inf, math.inf)


def _apart(found: Found, shape: float) -> tuple[Found, dict[str, _Place]]:
    """Storeys laid out in the rows and columns that fill paper of a shape (width to height) best, and their places."""
    every = (*found.rooms, *found.doubtful)
    storeys = list(dict.fromkeys(room.storey for room in every))
    corners = np.concatenate([room.outline for room in every])
    low, high = corners.min(axis=0), corners.max(axis=0)
    if len(storeys) < 2:
        return found, {storey: _Place((float(low[0]), float(high[1]))) for storey in storeys}
    gap = BETWEEN * float(np.max(high - low))
    step = (high - low) + gap
    most = len(storeys)
    columns = min(range(1, most + 1), key=lambda n: max(n * step[0] / shape, math.ceil(most / n) * step[1]))
    by, places = {}, {}
    for k, name in enumerate(storeys):
        column, row = k % columns, k // columns
        by[name] = np.array([column, -row]) * step
        (x0, y0), (x1, y1) = (low + by[name] - gap / 2).tolist(), (high + by[name] + gap / 2).tolist()
        places[name] = _Place(
            (x0 + gap / 2, y1 - gap / 2),
            (x0 if column else -math.inf, y0 if k + columns < most else -math.inf),
            (x1 if column < columns - 1 else math.inf, y1 if row else math.inf),
        )
    rooms = tuple(_moved(room, by[room.storey]) for room in found.rooms)
    return replace(found, rooms=rooms, doubtful=tuple(_moved(room, by[room.storey]) for room in found.doubtful)), places


def _on_sheet(view: View, place: _Place, space: Box) -> Box:
    """What of the space for a drawing is a storey's own, paper mm: its names and their leaders stay there, off the storey beside."""
    (x0, y0), (x1, y1) = view.to_paper(np.array([place.low, place.high])).tolist()
    return max(x0, space[0]), max(y0, space[1]), min(x1, space[2]), min(y1, space[3])


def _moved(room: FoundRoom, by: NDArray[np.float64]) -> FoundRoom:
    """A room elsewhere on the sheet, mm of the source."""
    dx, dy = by.tolist()
    return replace(
        room,
        outline=room.outline + by,
        holes=tuple(hole + by for hole in room.holes),
        doors=tuple(door + by for door in room.doors),
        pipes=tuple(((x + dx, y + dy), diameter) for (x, y), diameter in room.pipes),
        gullies=tuple((x + dx, y + dy) for x, y in room.gullies),
    )


def _drawn(room: FoundRoom, scale: float) -> list[Primitive]:
    """A room with its columns, doors, pipes and gullies."""
    scene: list[Primitive] = [Fill(Polygon(room.outline, room.holes), "TONE", 0.12), Stroke(room.outline, "WALL", closed=True)]
    for hole in room.holes:
        scene += [Fill(Polygon(hole), "WALL", 0.55), Stroke(hole, "WALL", closed=True)]
    walls = room.walls
    for wall, offset, width in openings_of(room):
        door = shapely.get_coordinates(substring(shapely.LineString(walls[wall - 1].points), offset, offset + width))
        scene += [Fill(shapely.buffer(shapely.LineString(door), 1.0 * scale, cap_style="flat"), "TONE", 0.0), Stroke(door, "OPENING")]
    scene += [Stroke(bubble_ring(at, diameter / 2), "PIPE", closed=True) for at, diameter in room.pipes]
    return [*scene, *(Stroke(bubble_ring(at, 100.0), "DRAIN", closed=True) for at in room.gullies)]


def _on_paper(view: View, room: FoundRoom) -> tuple[tuple[float, float], Polygon]:
    """A place within a room and its shape, paper mm."""
    x, y = view.to_paper(np.array(shapely.point_on_surface(Polygon(room.outline, room.holes)).coords))[0].tolist()
    return (x, y), Polygon(view.to_paper(room.outline), [view.to_paper(hole) for hole in room.holes])


def _fitting(shape: Polygon, text: str, height: float, places: Sequence[tuple[float, float]]) -> list[Spot]:
    """Those of some places at which a label lies within a shape: what stands half in the next room would be read as that room's."""
    boxes = [label_box(Label(text, at, height, "TEXT", across="centre", upward="middle", bold=True)) for at in places]
    return [Spot(at) for at, box in zip(places, boxes, strict=True) if shape.contains(shapely.box(*box))]


def _named(placer: Placer, view: View, room: FoundRoom) -> None:
    """A room's name with its area under it where both lie within the room; else both in one line, at a leader if need be."""
    inside, shape = _on_paper(view, room)
    area = f"{room.area_m2:.2f} m²"
    places = [(inside[0] + dx, inside[1] + dy) for dy in (0.0, 6.0, -6.0, 11.0, -11.0) for dx in (0.0, 8.0, -8.0)]
    for height in (3.5, 2.5):
        pairs = [
            (*name, *under)
            for at in places
            if (name := _fitting(shape, room.name, height, [at])) and (under := _fitting(shape, area, 2.5, [(at[0], at[1] - 4.6)]))
        ]
        if pairs:
            placer.place(room.name, height, "TEXT", [name for name, _ in pairs], boxed=True, bold=True, needed=True, foot=inside)
            placer.place(area, 2.5, "TEXT", [under for _, under in pairs], boxed=True)
            return
    both = _with_area(room)
    placer.place(both, 2.5, "TEXT", _fitting(shape, both, 2.5, places), boxed=True, bold=True, needed=True, foot=inside)


def _with_area(room: FoundRoom) -> str:
    return f"{room.name} · {room.area_m2:.2f} m²"


def _names_alone(own: Mapping[str, Placer], view: View, found: Found) -> set[str]:
    """What found no place with its area and does so without, at a leader: as it was asked for."""
    named = set()
    for room in found.rooms:
        placer, inside = own[room.storey], _on_paper(view, room)[0]
        if _with_area(room) in placer.missing() and placer.place(
            room.name, 2.5, "TEXT", leader_spots(inside, reaches=FAR), boxed=True, bold=True, foot=inside
        ):
            named.add(_with_area(room))
    return named


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


def _folded(text: str) -> list[str]:
    """Words in rows as wide as the paper that there is."""
    rows = [""]
    for word in text.split():
        if text_width(f"{rows[-1]} {word}", 2.5) > LIST_WIDTH:
            rows.append("")
        rows[-1] = f"{rows[-1]} {word}".strip()
    return rows


def _list(rows: Sequence[str], x: float, y: float) -> list[Primitive]:
    """Rows of words under the drawing, each shortened to the paper that there is."""
    result: list[Primitive] = []
    for k, text in enumerate(rows):
        while text_width(text, 2.5) > LIST_WIDTH:
            text = text[:-2].rstrip("… ") + "…"
        result.append(Label(text, (x, y - k * 4.4), 2.5, "TEXT"))
    return result
