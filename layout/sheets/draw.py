"""Composes the sheet set of a plan."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from layout.orders import place_orders
from layout.sheets import cut_sheet, elevation_sheet, joint_sheet, level_sheet, schedule_sheet, start_sheet, tape_sheet, unfold_sheet
from layout.sheets.column import Column
from layout.sheets.paper import COLUMN, GUTTER, SCALES, SIZES, block_primitives, choose, drawing_space, frame, title_block
from layout.sheets.place import Placer
from layout.sheets.room_view import base_of, room_bounds
from layout.sheets.scene import Fill, Label, Primitive, Sheet, Stroke, View

if TYPE_CHECKING:
    from collections.abc import Sequence

    from layout.setout import RoomSetOut, SetOut
    from layout.takeoff import TakeOff


def _view(bounds: tuple[float, float, float, float], size: tuple[float, float], scale: float) -> View:
    x0, y0, x1, y1 = bounds
    left, bottom, right, top = drawing_space(size)
    right -= COLUMN + GUTTER
    window = (right - left, top - bottom)
    return View(((x0 + x1) / 2, (y0 + y1) / 2), ((left + right) / 2, (bottom + top) / 2 + 4.0), scale, window)


def _unfolded(room: RoomSetOut, papers: Sequence[str], scale: float) -> tuple[str, View, unfold_sheet.Unfolded]:
    """Faces in rows at the largest scale, from the plan's own down, that takes them all on one of the papers."""
    last = None
    for step in [each for each in SCALES if each >= scale]:
        for paper in papers:
            size = SIZES[paper]
            rows = unfold_sheet.unfold(room, step, size[0] - COLUMN - GUTTER - 60.0)
            last = paper, _view(rows.bounds, size, step), rows
            if (rows.bounds[3] - rows.bounds[1]) / step <= last[1].size[1] - 50.0:
                return last
    assert last is not None  # the scales go on beyond any room's
    return last


def _placer(view: View) -> Placer:
    cx, cy = view.at
    w, h = view.size
    return Placer((cx - w / 2 + 1, cy - h / 2 + 1 - 4.0, cx + w / 2 - 1, cy + h / 2 - 1 - 4.0))


def scale_bar(view: View) -> list[Primitive]:
    """A scale bar under the drawing, in metres."""
    step = next(s for s in (100.0, 200.0, 500.0, 1000.0, 2000.0, 5000.0, 10000.0, 50000.0, 1e9) if s / view.scale >= 12.0)
    x = view.at[0] - view.size[0] / 2 + 6.0
    y = view.at[1] - view.size[1] / 2 + 1.5
    length = step / view.scale
    result: list[Primitive] = []
    for k in range(4):
        low, high = (0.0, 1.6) if k % 2 else (-0.0, 0.8)
        result.append(
            Stroke(
                np.array(
                    [
                        [x + k * length, y + low],
                        [x + (k + 1) * length, y + low],
                        [x + (k + 1) * length, y + high],
                        [x + k * length, y + high],
                    ]
                ),
                "TITLE",
                closed=True,
            )
        )
    for k in range(5):
        result.append(Label(f"{k * step / 1000:g}" + (" m" if k == 4 else ""), (x + k * length, y + 2.6), 2.5, "TEXT", "centre", "bottom"))
    return result


def _layers(scene: tuple[Primitive, ...]) -> set[str]:
    return {item.layer for item in scene if isinstance(item, (Stroke, Fill))}


def _sheet_heading(text: str, size: tuple[float, float], scale: float | None) -> list[Primitive]:
    left, _, _, top = drawing_space(size)
    words = text if scale is None else f"{text} · 1:{scale:g}"
    return [Label(words, (left + 5.0, top - 8.5), 5.0, "TEXT", bold=True)]


def draw_sheets(setout: SetOut, takeoff: TakeOff, *, paper: str | None = None, scale: float | None = None) -> tuple[Sheet, ...]:
    """The sheet set: for each room setting-out, cuts, tape, faces unfolded, joints; then the schedules.

    `paper` (A4 to A0) and `scale` (50 for 1:50) are chosen to fit if not given.
    """
    drafts: list[tuple[str, str, str, str, View | None, tuple[Primitive, ...], list[Primitive]]] = []
    for index, room in enumerate(setout.rooms):
        x0, y0, x1, y1 = room_bounds(room)
        chosen, fit = choose(x1 - x0, y1 - y0, margin=start_sheet.MARGIN)
        own_paper = paper or chosen
        own_scale = scale or fit
        size = SIZES[own_paper]
        base = base_of(room)
        view = _view(room_bounds(room), size, own_scale)
        number = f"{index + 1}" if len(setout.rooms) > 1 else ""

        column = Column(size)
        scene = start_sheet.scene(room, base, view, _placer(view))
        start_sheet.words(room, column, _layers(scene), own_scale)
        drafts.append((f"{number}setting-out", "Floor setting-out", room.name, own_paper, view, scene, column.scene))

        if room.levels is not None:
            column = Column(size)
            scene = level_sheet.scene(room, room.levels, base, view, _placer(view))
            level_sheet.words(room, room.levels, column, _layers(scene))
            drafts.append((f"{number}falls", "Falls and levels", room.name, own_paper, view, scene, column.scene))

        column = Column(size)
        scene, unplaced = cut_sheet.scene(setout, index, base, view, _placer(view))
        cut_sheet.words(setout, index, column, unplaced)
        drafts.append((f"{number}cuts", "Cuts and marks", room.name, own_paper, view, scene, column.scene))

        column = Column(size)
        scene = tape_sheet.scene(room, base, view, _placer(view))
        tape_sheet.words(room, column, _layers(scene))
        drafts.append((f"{number}tape", "Membrane and tape", room.name, own_paper, view, scene, column.scene))

        papers = [own_paper] if paper else [own_paper, *[p for p in ("A2",) if own_paper == "A3"]]
        flat_paper, flat, unfolded = _unfolded(room, papers, own_scale)
        if unfolded.faces:
            column = Column(SIZES[flat_paper])
            scene = unfold_sheet.scene(room, unfolded, flat, _placer(flat))
            unfold_sheet.words(room, column, _layers(scene))
            drafts.append((f"{number}unfolded", "Membrane, faces unfolded", room.name, flat_paper, flat, scene, column.scene))

        column = Column(size)
        scene = joint_sheet.scene(room, base, view, _placer(view))
        joint_sheet.words(room, column, _layers(scene))
        drafts.append((f"{number}joints", "Movement joints and sealant", room.name, own_paper, view, scene, column.scene))
        for k, faces in enumerate(elevation_sheet.pages(room, paper, scale), 1):
            column = Column(SIZES[faces.paper])
            upright = elevation_sheet.view_of(faces)
            scene = elevation_sheet.scene(setout, index, faces, upright, _placer(upright))
            elevation_sheet.words(setout, index, faces, column)
            drafts.append((f"{number}elevations-{k}", "Elevations", room.name, faces.paper, upright, scene, column.scene))
    orders = place_orders(takeoff)
    schedule_paper = paper or "A3"
    name = setout.rooms[0].name if len(setout.rooms) == 1 else "all rooms"
    for k, page in enumerate(schedule_sheet.pages(setout, takeoff, orders, SIZES[schedule_paper]), 1):
        drafts.append((f"schedules-{k}", "Schedules", name, schedule_paper, None, (), page))
    sheets = []
    for k, (key, title, room_name, own_paper, window, scene, words) in enumerate(drafts, 1):
        size = SIZES[own_paper]
        block = title_block(setout.plan.project, title, room_name, k, len(drafts), own_paper, f"1:{window.scale:g}" if window else "—")
        paper_scene: list[Primitive] = [*frame(size), *words, *block_primitives(block, size)]
        if window is not None:
            paper_scene += [*_sheet_heading(title, size, window.scale), *scale_bar(window)]
        sheets.append(Sheet(f"{k:02d}-{key}", title, room_name, own_paper, size, window, scene, tuple(paper_scene), block))
    return tuple(sheets)
