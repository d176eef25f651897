"""Composes the sheet set of a plan."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from shapely import Polygon, box

from layout.quantities.orders import place_orders
from layout.sheets import (
    cover_sheet,
    cut_sheet,
    detail_sheet,
    elevation_sheet,
    joint_sheet,
    level_sheet,
    schedule_sheet,
    start_sheet,
    tape_sheet,
    unfold_sheet,
)
from layout.sheets.column import Column
from layout.sheets.paper import COLUMN, GUTTER, SCALES, SIZES, block_primitives, choose, drawing_space, frame, title_block
from layout.sheets.place import Placer, label_box
from layout.sheets.room_view import base_of, room_bounds
from layout.sheets.scene import Fill, Label, Primitive, Sheet, Stroke, Symbol, View

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from layout.quantities.takeoff import TakeOff
    from layout.setout.conduct import RoomSetOut, SetOut
    from layout.sheets.place import Box
    from layout.sheets.room_view import Base

    Floats = NDArray[np.float64]


def _view(bounds: tuple[float, float, float, float], size: tuple[float, float], scale: float) -> View:
    x0, y0, x1, y1 = bounds
    left, bottom, right, top = drawing_space(size)
    right -= COLUMN + GUTTER
    window = (right - left, top - bottom)
    return View(((x0 + x1) / 2, (y0 + y1) / 2), ((left + right) / 2, (bottom + top) / 2 + 4.0), scale, window)


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """A part of a floor that is too large for one sheet, or all of it: its window, letter, and its neighbours' letters by side."""

    view: View
    letter: str = ""
    beside: tuple[tuple[str, str], ...] = ()
    every: tuple[View, ...] = ()

    @property
    def title(self) -> str:
        """What to add to a sheet's title."""
        return f", part {self.letter}" if self.letter else ""

    def placer(self) -> Placer:
        """What words keep off: match lines, key plan, scale bar."""
        placer = _placer(self.view)
        for taken in self._taken():
            placer.block(taken)
        return placer

    def _taken(self) -> list[Box]:
        if not self.letter:
            return []
        (cx, cy), (w, h) = self.view.at, self.view.size
        left, right, low, high = cx - w / 2, cx + w / 2, cy - h / 2, cy + h / 2
        lines = {
            "left": (left + LAP - 2.5, low, left + LAP + 2.5, high),
            "right": (right - LAP - 2.5, low, right - LAP + 2.5, high),
            "below": (left, low + LAP - 2.5, right, low + LAP + 2.5),
            "above": (left, high - LAP - 2.5, right, high - LAP + 2.5),
        }
        key = (right - KEY - 14.0, low, right, low + KEY + 12.0)
        bar = (left, low, left + 110.0, low + 9.0)
        return [*(lines[side] for side, _ in self.beside), key, bar, (left, high - 12.0, left + 130.0, high)]

    def kept(self, scene: tuple[Primitive, ...]) -> tuple[Primitive, ...]:
        """A scene without words that stand outside the window or on what is taken."""
        if not self.letter:
            return scene
        half = np.array(self.view.size) / 2
        low, high = np.array(self.view.at) - half, np.array(self.view.at) + half
        taken = self._taken()

        def stands(item: Label | Symbol) -> bool:
            paper = self.view.to_paper(np.array([item.at]))[0]
            x0 = x1 = float(paper[0])
            y0 = y1 = float(paper[1])
            if isinstance(item, Label):
                x0, y0, x1, y1 = label_box(replace(item, at=(float(paper[0]), float(paper[1]))))
            if x0 < low[0] or y0 < low[1] or x1 > high[0] or y1 > high[1]:
                return False
            return not any(min(x1, t[2]) > max(x0, t[0]) and min(y1, t[3]) > max(y0, t[1]) for t in taken)

        return tuple(item for item in scene if not isinstance(item, (Label, Symbol)) or stands(item))

    def marks(self, room: RoomSetOut, size: tuple[float, float]) -> list[Primitive]:
        """Match lines with the letters of the parts beyond them, and a key plan of the parts."""
        if not self.letter:
            return []
        cx, cy = self.view.at
        w, h = self.view.size[0] / 2 - LAP, self.view.size[1] / 2 - LAP
        result: list[Primitive] = []
        for side, letter in self.beside:
            x = {"left": -w, "right": w}.get(side, 0.0)
            y = {"below": -h, "above": h}.get(side, 0.0)
            line = [(cx + x, cy - h), (cx + x, cy + h)] if x else [(cx - w, cy + y), (cx + w, cy + y)]
            result.append(Stroke(np.array(line), "MATCH-LINE"))
            angle = 90.0 if x else 0.0
            result.append(Label(f"match line · part {letter}", (cx + x, cy + y), 3.5, "MATCH-LINE", "centre", "middle", angle, boxed=True))
        bar = box(
            cx - self.view.size[0] / 2 + 1.0,
            cy - self.view.size[1] / 2,
            cx - self.view.size[0] / 2 + 108.0,
            cy - self.view.size[1] / 2 + 8.0,
        )
        return [*result, Fill(bar, "TONE", 0.0), *self._key(room, size)]

    def _key(self, room: RoomSetOut, size: tuple[float, float]) -> list[Primitive]:
        """Where the part lies: the room's outline with the parts' windows, this one filled; in the lower right of the drawing."""
        x0, y0, x1, y1 = room_bounds(room)
        unit = KEY / max(x1 - x0, y1 - y0)
        _, bottom, right, _ = drawing_space(size)
        corner = np.array([right - COLUMN - GUTTER - (x1 - x0) * unit - 4.0, bottom + 4.0])

        def at(points: Floats) -> Floats:
            moved: Floats = (points - np.array([x0, y0])) * unit + corner
            return moved

        back = box(*(corner - 2.0), *(at(np.array([[x1, y1]]))[0] + 2.0))
        result: list[Primitive] = [Fill(back, "TONE", 0.0), Stroke(np.array(back.exterior.coords)[:-1], "TONE", closed=True)]
        for each in self.every:
            half = (np.array(each.size) / 2 - LAP) * each.scale
            low, high = np.array(each.centre) - half, np.array(each.centre) + half
            ring = at(np.clip(np.array([low, (high[0], low[1]), high, (low[0], high[1])]), (x0, y0), (x1, y1)))
            if each is self.view:
                result.append(Fill(Polygon(ring), "MATCH-LINE", 0.4))
            result.append(Stroke(ring, "MATCH-LINE", closed=True))
        outline = np.array(room.lining.outline.outer.points)
        return [*result, Stroke(at(outline), "WALL", closed=True)]


KEY = 34.0
"""Longer side of the key plan of the parts, paper mm."""
LAP = 12.0
"""How far a part is drawn beyond its match lines, paper mm."""


def parts_of_room(bounds: tuple[float, float, float, float], size: tuple[float, float], scale: float) -> list[Part]:
    """A floor on one sheet if it goes on it, else in parts with match lines, rows from the top."""
    whole = _view(bounds, size, scale)
    x0, y0, x1, y1 = bounds
    margin = start_sheet.MARGIN
    space = (whole.size[0] - 2 * margin, whole.size[1] - 2 * margin - 8.0)
    need = ((x1 - x0) / scale, (y1 - y0) / scale)
    if need[0] <= whole.size[0] - margin and need[1] <= whole.size[1] - margin:
        return [Part(whole)]
    step = ((whole.size[0] - 2 * LAP) * scale, (whole.size[1] - 2 * LAP) * scale)
    count = [1 if need[k] <= space[k] else math.ceil((need[k] + 2 * margin) / (step[k] / scale)) for k in (0, 1)]
    middle = ((x0 + x1) / 2, (y0 + y1) / 2)
    views = {
        (i, j): View(
            (middle[0] + (i - (count[0] - 1) / 2) * step[0], middle[1] - (j - (count[1] - 1) / 2) * step[1]), whole.at, scale, whole.size
        )
        for j in range(count[1])
        for i in range(count[0])
    }
    letters = {key: _letter(k) for k, key in enumerate(views)}
    ways = {"left": (-1, 0), "right": (1, 0), "above": (0, -1), "below": (0, 1)}
    return [
        Part(
            view,
            letters[i, j],
            tuple((side, letters[i + di, j + dj]) for side, (di, dj) in ways.items() if (i + di, j + dj) in views),
            tuple(views.values()),
        )
        for (i, j), view in views.items()
    ]


def _letter(k: int) -> str:
    return (chr(ord("a") + k // 26 - 1) if k >= 26 else "") + chr(ord("a") + k % 26)


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
    drafts: list[_Draft] = []
    for index, room in enumerate(setout.rooms):
        x0, y0, x1, y1 = room_bounds(room)
        chosen, fit = choose(x1 - x0, y1 - y0, margin=start_sheet.MARGIN)
        own_paper = paper or chosen
        own_scale = scale or fit
        size = SIZES[own_paper]
        base = base_of(room)
        number = f"{index + 1}" if len(setout.rooms) > 1 else ""
        for part in parts_of_room(room_bounds(room), size, own_scale):
            for key, title, column, scene in _in_plan(setout, index, base, size, part):
                name = f"{number}{key}" + (f"-{part.letter}" if part.letter else "")
                words = [*column.scene, *part.marks(room, size)]
                drafts.append(_Draft(name, title + part.title, room.name, own_paper, part.view, scene, words, cut_off=bool(part.letter)))

        papers = [own_paper] if paper else [own_paper, *[p for p in ("A2",) if own_paper == "A3"]]
        flat_paper, flat, unfolded = _unfolded(room, papers, own_scale)
        if unfolded.faces:
            column = Column(SIZES[flat_paper])
            scene = unfold_sheet.scene(room, unfolded, flat, _placer(flat))
            unfold_sheet.words(room, column, _layers(scene))
            drafts.append(_Draft(f"{number}unfolded", "Membrane, faces unfolded", room.name, flat_paper, flat, scene, column.scene))

        for k, faces in enumerate(elevation_sheet.pages(room, paper, scale), 1):
            column = Column(SIZES[faces.paper])
            upright = elevation_sheet.view_of(faces)
            scene = elevation_sheet.scene(setout, index, faces, upright, _placer(upright))
            elevation_sheet.words(setout, index, faces, column)
            drafts.append(_Draft(f"{number}elevations-{k}", "Elevations", room.name, faces.paper, upright, scene, column.scene))
        for k, page in enumerate(detail_sheet.pages(room, SIZES[paper or "A3"]), 1):
            drafts.append(_Draft(f"{number}details-{k}", "Details", room.name, paper or "A3", None, (), page))
    orders = place_orders(takeoff)
    schedule_paper = paper or "A3"
    name = setout.rooms[0].name if len(setout.rooms) == 1 else "all rooms"
    for k, page in enumerate(schedule_sheet.pages(setout, takeoff, orders, SIZES[schedule_paper]), 1):
        drafts.append(_Draft(f"schedules-{k}", "Schedules", name, schedule_paper, None, (), page))
    if len(setout.rooms) > 1:
        listed = [(draft.title, draft.room, draft.paper, f"1:{draft.view.scale:g}" if draft.view else "—") for draft in drafts]
        words, window = cover_sheet.cover(setout, listed, SIZES[schedule_paper])
        drafts.insert(0, _Draft("cover", "Key plan and sheet list", name, schedule_paper, None, (), words, scale=window))
    return tuple(_sheet(setout, draft, k, len(drafts)) for k, draft in enumerate(drafts, 1))


@dataclass(frozen=True, slots=True, eq=False)
class _Draft:
    """A sheet before its number and title block are known."""

    key: str
    title: str
    room: str
    paper: str
    view: View | None
    scene: tuple[Primitive, ...]
    words: list[Primitive]
    cut_off: bool = False
    scale: float | None = None


def _sheet(setout: SetOut, draft: _Draft, number: int, total: int) -> Sheet:
    size = SIZES[draft.paper]
    scale = draft.view.scale if draft.view else draft.scale
    words = f"1:{scale:g}" if scale else "—"
    block = title_block(setout.plan.project, draft.title, draft.room, number, total, draft.paper, words)
    paper_scene: list[Primitive] = [*frame(size), *draft.words, *block_primitives(block, size)]
    if draft.title == "Details":
        paper_scene += _sheet_heading("Details: figures in mm; products' data sheets go before them", size, None)
    if draft.view is not None:
        paper_scene += [*_sheet_heading(draft.title, size, draft.view.scale), *scale_bar(draft.view)]
    name = f"{number:02d}-{draft.key}"
    return Sheet(
        name, draft.title, draft.room, draft.paper, size, draft.view, draft.scene, tuple(paper_scene), block, cut_off=draft.cut_off
    )


def _in_plan(
    setout: SetOut, index: int, base: Base, size: tuple[float, float], part: Part
) -> Iterator[tuple[str, str, Column, tuple[Primitive, ...]]]:
    """The sheets that show a room, or a part of it, in plan: key, title, column, scene."""
    room, view = setout.rooms[index], part.view
    column = Column(size)
    drawn, crowded = start_sheet.scene(room, base, view, part.placer())
    scene = part.kept(drawn)
    start_sheet.words(room, column, _layers(scene), view.scale, crowded)
    yield "setting-out", "Floor setting-out", column, scene
    if room.levels is not None:
        column = Column(size)
        scene = part.kept(level_sheet.scene(room, room.levels, base, view, part.placer()))
        level_sheet.words(room, room.levels, column, _layers(scene))
        yield "falls", "Falls and levels", column, scene
    column = Column(size)
    marked, unplaced = cut_sheet.scene(setout, index, base, view, part.placer())
    cut_sheet.words(setout, index, column, unplaced)
    yield "cuts", "Cuts and marks", column, part.kept(marked)
    column = Column(size)
    scene = part.kept(tape_sheet.scene(room, base, view, part.placer()))
    tape_sheet.words(room, column, _layers(scene))
    yield "tape", "Membrane and tape", column, scene
    column = Column(size)
    scene = part.kept(joint_sheet.scene(room, base, view, part.placer()))
    joint_sheet.words(room, column, _layers(scene))
    yield "joints", "Movement joints and sealant", column, scene
