"""The cover of a set for several rooms: where they lie, and which sheets there are."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import Polygon

from layout.shapes import turned
from layout.sheets.draft import Draft, Job
from layout.sheets.lettering import text_width
from layout.sheets.paper import BLOCK_HEIGHT, SCALES, SIZES, drawing_space, heading, revision_table, table
from layout.sheets.scene import Fill, Label, Primitive, Stroke

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from layout.setout.values import RoomSetOut, SetOut

    Floats = NDArray[np.float64]

LIST = 168.0
"""Width of the sheet list, paper mm."""


def outline_on_plan(room: RoomSetOut) -> Floats:
    """The room's outline where it lies among the others, (n, 2) mm."""
    given = room.lining.room
    result: Floats = turned(np.array(room.lining.outline.outer.points), given.turn) + np.array(given.at)
    return result


def draft(job: Job, drafts: Sequence[Draft]) -> Draft:
    """The cover of a set whose other sheets are drafted."""
    listed = [(each.title, each.room, each.paper, f"1:{each.view.scale:g}" if each.view else "—") for each in drafts]
    paper = job.paper or "A3"
    words, window = cover(job.setout, listed, SIZES[paper])
    return Draft("cover", "Key plan and sheet list", job.named, paper, None, (), words, scale=window)


def cover(setout: SetOut, listed: Sequence[tuple[str, str, str, str]], size: tuple[float, float]) -> tuple[list[Primitive], float]:
    """Key plan and sheet list as a paper scene, and the key plan's scale; `listed` has title, room, paper, scale of each sheet."""
    x0, y0, x1, y1 = drawing_space(size)
    rings = [outline_on_plan(room) for room in setout.rooms]
    if len({room.lining.room.at for room in setout.rooms}) == 1:  # no places are given: side by side
        rings = _in_a_row(rings)
    elif len({room.lining.room.storey for room in setout.rooms}) > 1:  # else rooms of one storey would lie over those of another
        rings = _by_storey(rings, [room.lining.room.storey for room in setout.rooms])
    every = np.concatenate(rings)
    low, high = every.min(axis=0), every.max(axis=0)
    space = np.array([x1 - x0 - LIST - 24.0, y1 - y0 - BLOCK_HEIGHT - 30.0])
    scale = next((s for s in (20.0, *SCALES) if ((high - low) / s <= space).all() and s >= 20.0), SCALES[-1])
    corner = np.array([x0 + 10.0, y0 + BLOCK_HEIGHT + 8.0]) + (space - (high - low) / scale) / 2
    scene: list[Primitive] = [Label(f"Key plan · 1:{scale:g}", (x0 + 5.0, y1 - 8.5), 5.0, "TEXT", bold=True)]
    for number, (room, ring) in enumerate(zip(setout.rooms, rings, strict=True), 1):
        paper = (ring - low) / scale + corner
        shape = Polygon(paper)
        scene += [Fill(shape, "TONE", 0.12), Stroke(paper, "WALL", closed=True)]
        at = shapely.get_coordinates(shapely.point_on_surface(shape))[0]
        wide = shape.bounds[2] - shape.bounds[0]
        text = f"{number} {room.name}"
        text = text if text_width(text, 3.5, bold=True) < wide - 2.0 else f"{number}"
        scene.append(Label(text, (float(at[0]), float(at[1])), 3.5, "TEXT", "centre", "middle", bold=True))
    made, height = revision_table(setout.plan.project, size)
    scene += made
    foot = y0 + BLOCK_HEIGHT + 6.0 + height
    made, y = heading("Rooms", x1 - LIST, y1 - 4.0, LIST - 4.0)
    scene += made
    rows = [["room", "floor m²"]]
    for k, room in enumerate(setout.rooms, 1):
        storey = f" · {room.lining.room.storey}" if room.lining.room.storey else ""
        rows.append([f"{k} {room.name}{storey}", f"{room.lining.floor.gross.area / 1e6:.2f}"])
    made, y = table(x1 - LIST, y, (120.0, 40.0), rows, right=(1,))
    scene += made
    made, y = heading("Sheets", x1 - LIST, y - 1.0, LIST - 4.0)
    scene += made
    rows = [["sheet", "title", "room", "paper", "scale"]]
    rows += [[f"{k}", title, room, paper, scaled] for k, (title, room, paper, scaled) in enumerate(listed, 2)]
    most = int((y - foot) / (2.5 * 1.9))
    if len(rows) > most:
        rows = [*rows[: most - 1], ["…", f"{len(rows) - most + 1} more", "", "", ""]]
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
