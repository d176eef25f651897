"""The cover of a set for several rooms: where they lie, and which sheets there are."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import Polygon

from layout.shapes import turned
from layout.sheets.draft import Draft, Job
from layout.sheets.lettering import text_width
from layout.sheets.paper import BLOCK_HEIGHT, MARGIN, SCALES, SIZES, drawing_space, heading, revision_table, table
from layout.sheets.place import Placer
from layout.sheets.scene import Fill, Label, Primitive, Stroke, View
from layout.sheets.schedule_sheet import Pages
from layout.sheets.spots import Spot, leader_spots
from layout.words import say

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from layout.setout.values import RoomSetOut, SetOut

    Floats = NDArray[np.float64]

LIST = 168.0
"""Width of the sheet list, paper mm."""
ROWS_OVER = 8
"""Rows that headings of the lists take, paper."""


def outline_on_plan(room: RoomSetOut) -> Floats:
    """The room's outline where it lies among the others, (n, 2) mm."""
    given = room.lining.room
    result: Floats = turned(np.array(room.lining.outline.outer.points), given.turn) + np.array(given.at)
    return result


def cover_drafts(job: Job, drafts: Sequence[Draft]) -> list[Draft]:
    """The cover of a set whose other sheets are drafted; rooms and sheets on pages of their own where the cover does not hold their lists."""
    listed = [(each.title, each.room, each.paper, f"1:{each.view.scale:g}" if each.view else "—") for each in drafts]
    paper = job.paper or "A3"
    size = SIZES[paper]
    _, height = revision_table(job.setout.plan.project, size)
    beside = len(job.rooms) + len(listed) + ROWS_OVER <= (size[1] - 2 * MARGIN - BLOCK_HEIGHT - height) / (2.5 * 1.9)
    words, window = cover(job.setout, listed, size, beside=beside)
    result = [
        Draft("cover", say("Key plan and sheet list") if beside else say("Key plan"), job.named, paper, None, (), words, scale=window)
    ]
    if not beside:
        count = len(_lists(job.setout, listed, size, 0))
        pages = _lists(job.setout, listed, size, 1 + count)
        result += [Draft(f"list-{k}", say("Rooms and sheets"), job.named, paper, None, (), page) for k, page in enumerate(pages, 1)]
    return result


def _lists(setout: SetOut, listed: Sequence[tuple[str, str, str, str]], size: tuple[float, float], before: int) -> list[list[Primitive]]:
    """Pages with the rooms and the sheets that follow so many others."""
    result = Pages(size)
    result.head(say("Rooms"))
    result.rows((80, 20), _room_rows(setout), right=(1,))
    result.head(say("Sheets"))
    rows = [[say("sheet"), say("title"), say("room"), say("paper"), say("scale")]]
    result.rows((9, 42, 33, 8, 8), [*rows, *[[f"{k}", *each] for k, each in enumerate(listed, before + 1)]])
    return result.pages


def _room_rows(setout: SetOut) -> list[list[str]]:
    rows = [[say("room"), say("floor m²")]]
    for k, room in enumerate(setout.rooms, 1):
        storey = f" · {room.lining.room.storey}" if room.lining.room.storey else ""
        rows.append([f"{k} {room.name}{storey}", f"{room.lining.floor.gross.area / 1e6:.2f}"])
    return rows


def cover(
    setout: SetOut, listed: Sequence[tuple[str, str, str, str]], size: tuple[float, float], *, beside: bool = True
) -> tuple[list[Primitive], float]:
    """Key plan, and beside it the lists, as a paper scene, and the key plan's scale; `listed` has title, room, paper, scale of each sheet."""
    x0, y0, x1, y1 = drawing_space(size)
    rings = [outline_on_plan(room) for room in setout.rooms]
    if len({room.lining.room.at for room in setout.rooms}) == 1:  # no places are given: side by side
        rings = _in_a_row(rings)
    elif len({room.lining.room.storey for room in setout.rooms}) > 1:  # else rooms of one storey would lie over those of another
        rings = _by_storey(rings, [room.lining.room.storey for room in setout.rooms])
    every = np.concatenate(rings)
    low, high = every.min(axis=0), every.max(axis=0)
    space = np.array([x1 - x0 - (LIST if beside else 0.0) - 24.0, y1 - y0 - BLOCK_HEIGHT - 30.0])
    scale = next((s for s in (20.0, *SCALES) if ((high - low) / s <= space).all() and s >= 20.0), SCALES[-1])
    corner = np.array([x0 + 10.0, y0 + BLOCK_HEIGHT + 8.0]) + (space - (high - low) / scale) / 2
    placer = Placer((x0 + 2.0, y0 + BLOCK_HEIGHT + 2.0, x1 - (LIST + 6.0 if beside else 2.0), y1 - 12.0))
    scene: list[Primitive] = [Label(say("Key plan · 1:{scale:g}", scale=scale), (x0 + 5.0, y1 - 8.5), 5.0, "TEXT", bold=True)]
    for number, (room, ring) in enumerate(zip(setout.rooms, rings, strict=True), 1):
        paper = (ring - low) / scale + corner
        shape = Polygon(paper)
        scene += [Fill(shape, "TONE", 0.12), Stroke(paper, "WALL", closed=True)]
        at = shapely.get_coordinates(shapely.point_on_surface(shape))[0]
        wide = shape.bounds[2] - shape.bounds[0]
        foot = (float(at[0]), float(at[1]))
        inside = [each for each in (f"{number} {room.name}", f"{number}") if text_width(each, 3.5, bold=True) < wide - 2.0]
        spots = [Spot(foot, text=each) for each in inside]
        # where the walls are short, the number stands off with a leader rather than over its neighbour's
        placer.place(f"{number}", 3.5, "TEXT", [*spots, *leader_spots(foot)], bold=True, needed=True, foot=foot)
    placer.finish()
    scene += placer.drawn(View((0.0, 0.0), (0.0, 0.0), 1.0, size))
    made, _ = revision_table(setout.plan.project, size)
    scene += made
    if not beside:
        return scene, scale
    made, y = heading(say("Rooms"), x1 - LIST, y1 - 4.0, LIST - 4.0)
    scene += made
    made, y = table(x1 - LIST, y, (120.0, 40.0), _room_rows(setout), right=(1,))
    scene += made
    made, y = heading(say("Sheets"), x1 - LIST, y - 1.0, LIST - 4.0)
    scene += made
    rows = [[say("sheet"), say("title"), say("room"), say("paper"), say("scale")]]
    rows += [[f"{k}", title, room, paper, scaled] for k, (title, room, paper, scaled) in enumerate(listed, 2)]
    made, _ = table(x1 - LIST, y, (14.0, 66.0, 52.0, 14.0, 18.0), rows)
    return [*scene, *made], scale


def _by_storey(rings: list[Floats], storeys: Sequence[str]) -> list[Floats]:
    """Rooms with those of each storey beside the storey before, each storey's rooms as they lie."""
    result, x = list(rings), 0.0
    for storey in dict.fromkeys(storeys):
        own = [k for k, each in enumerate(storeys) if each == storey]
        points = np.concatenate([rings[k] for k in own])
        low, high = points.min(axis=0), points.max(axis=0)
        for k in own:
            result[k] = rings[k] - low + np.array([x, 0.0])
        x += float(high[0] - low[0]) + 3000.0
    return result


def _in_a_row(rings: list[Floats]) -> list[Floats]:
    result, x = [], 0.0
    for ring in rings:
        low, high = ring.min(axis=0), ring.max(axis=0)
        result.append(ring - low + np.array([x, 0.0]))
        x += float(high[0] - low[0]) + 1500.0
    return result
