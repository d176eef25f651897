"""A floor on its sheet, or in parts with match lines where it is too large for one."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from shapely import Polygon, box

from layout.sheets.paper import MARGIN_ROUND, drawing_window
from layout.sheets.place import Placer
from layout.sheets.room_view import room_bounds
from layout.sheets.scene import Fill, Label, Primitive, Stroke, Symbol, View
from layout.sheets.spots import label_box
from layout.vectors import pair
from layout.words import say

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from layout.setout.values import RoomSetOut
    from layout.sheets.spots import Box

    Floats = NDArray[np.float64]


def view_on(bounds: tuple[float, float, float, float], size: tuple[float, float], scale: float, around: float = MARGIN_ROUND) -> View:
    """The window of a drawing on a paper, left of the column; one that takes all its height stands clear of the words above it.

    `around` is what stands round it, paper mm.
    """
    x0, y0, x1, y1 = bounds
    left, bottom, right, top = drawing_window(size)
    window = (right - left, top - bottom)
    up = (window[1] - (y1 - y0) / scale) / 2 - around - HEADING + SPARE
    down = max(UP - up, 0.0) if up > -UP else 0.0
    middle = (x0 + x1) / 2, (y0 + y1) / 2 + down * scale
    return View(middle, ((left + right) / 2, (bottom + top) / 2 + UP), scale, window)


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
        return say(", part {letter}", letter=self.letter) if self.letter else ""

    def placer(self) -> Placer:
        """What words keep off: match lines, key plan, scale bar."""
        x0, y0, x1, y1 = placer_of(self.view).bounds
        # words of a part stand in its window, whose lower edge lies higher than the whole drawing's
        placer = Placer((x0, max(y0, self.view.at[1] - self.view.size[1] / 2 + 1.0) if self.letter else y0, x1, y1))
        for taken in self._taken():
            placer.mark_off(taken)
        return placer

    def _taken(self) -> list[Box]:
        if not self.letter:
            return []
        left, low, right, high = self.window
        key = (right - KEY - 14.0, low, right, low + KEY + 12.0)
        bar = (left, low, left + 110.0, low + 9.0)
        return [*self.along_match_lines(), key, bar, (left, high - 12.0, left + 130.0, high)]

    @property
    def window(self) -> Box:
        """Its window, paper mm."""
        (cx, cy), (w, h) = self.view.at, self.view.size
        return cx - w / 2, cy - h / 2, cx + w / 2, cy + h / 2

    def along_match_lines(self) -> list[Box]:
        """What its match lines and their letters take, paper mm."""
        left, low, right, high = self.window
        lines = {
            "left": (left + LAP - 2.5, low, left + LAP + 2.5, high),
            "right": (right - LAP - 2.5, low, right - LAP + 2.5, high),
            "below": (left, low + LAP - 2.5, right, low + LAP + 2.5),
            "above": (left, high - LAP - 2.5, right, high - LAP + 2.5),
        }
        return [lines[side] for side, _ in self.beside]

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
        (cx, cy), (w, h) = self.view.at, self.view.size
        bar = box(cx - w / 2 + 1.0, cy - h / 2, cx - w / 2 + 108.0, cy - h / 2 + 8.0)
        return [*self.match_lines(), Fill(bar, "TONE", 0.0), *self.key_plan(room, size)]

    def match_lines(self) -> list[Primitive]:
        """Match lines with the letters of the parts beyond them."""
        cx, cy = self.view.at
        w, h = self.view.size[0] / 2 - LAP, self.view.size[1] / 2 - LAP
        result: list[Primitive] = []
        for side, letter in self.beside:
            x = {"left": -w, "right": w}.get(side, 0.0)
            y = {"below": -h, "above": h}.get(side, 0.0)
            line = [(cx + x, cy - h), (cx + x, cy + h)] if x else [(cx - w, cy + y), (cx + w, cy + y)]
            result.append(Stroke(np.array(line), "MATCH-LINE"))
            angle = 90.0 if x else 0.0
            result.append(
                Label(
                    say("match line · part {letter}", letter=letter),
                    (cx + x, cy + y),
                    3.5,
                    "MATCH-LINE",
                    "centre",
                    "middle",
                    angle,
                    boxed=True,
                )
            )
        return result

    def key_plan(self, room: RoomSetOut, size: tuple[float, float], *, own: bool = True) -> list[Primitive]:
        """Where the parts lie: the room's outline with their windows and letters, its `own` filled; in the lower right of the drawing.

        Letters stand in the windows, or beside them where one row of them is too low for letters.
        """
        x0, y0, x1, y1 = room_bounds(room)
        unit = KEY / max(x1 - x0, y1 - y0)
        _, bottom, right, _ = drawing_window(size)
        rings = [self._in_room(each, (x0, y0, x1, y1)) for each in self.every]
        least = np.min([np.ptp(ring, axis=0) for ring in rings], axis=0) * unit
        alone = np.ptp([ring.mean(axis=0) for ring in rings], axis=0) < 1.0  # one row, or one column, of parts
        aside = np.where((least < CELL) & alone, CELL, 0.0)  # a low row has its letters below it, a narrow column on its left
        corner = np.array([right - (x1 - x0) * unit - 4.0, bottom + 4.0 + aside[1]])

        def at(points: Floats) -> Floats:
            moved: Floats = (points - np.array([x0, y0])) * unit + corner
            return moved

        back = box(*(corner - 2.0 - aside), *(at(np.array([[x1, y1]]))[0] + 2.0))
        result: list[Primitive] = [Fill(back, "TONE", 0.0), Stroke(np.array(back.exterior.coords)[:-1], "TONE", closed=True)]
        for k, (each, ring) in enumerate(zip(self.every, rings, strict=True)):
            if own and each is self.view:
                result.append(Fill(Polygon(at(ring)), "MATCH-LINE", 0.4))
            result.append(Stroke(at(ring), "MATCH-LINE", closed=True))
            middle = np.where(aside > 0.0, corner - aside / 2.0, at(ring).mean(axis=0))
            result.append(Label(letters(k), pair(middle), 2.5, "MATCH-LINE", "centre", "middle", bold=own and each is self.view))
        outline = np.array(room.lining.outline.outer.points)
        return [*result, Stroke(at(outline), "WALL", closed=True)]

    @staticmethod
    def _in_room(view: View, bounds: tuple[float, float, float, float]) -> Floats:
        """What a part shows of the room between its match lines, as a ring, room mm, (4, 2)."""
        half = (np.array(view.size) / 2 - LAP) * view.scale
        low, high = np.array(view.centre) - half, np.array(view.centre) + half
        ring: Floats = np.clip(np.array([low, (high[0], low[1]), high, (low[0], high[1])]), bounds[:2], bounds[2:])
        return ring


KEY = 34.0
"""Longer side of the key plan of the parts, paper mm."""
CELL = 5.0
"""Room for a letter of the key plan, paper mm."""
LAP = 12.0
"""How far a part is drawn beyond its match lines, paper mm."""


def parts_of_room(bounds: tuple[float, float, float, float], size: tuple[float, float], scale: float) -> list[Part]:
    """A floor on one sheet if it goes on it, else in parts with match lines, rows from the top."""
    whole = view_on(bounds, size, scale)
    x0, y0, x1, y1 = bounds
    margin = MARGIN_ROUND
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
    named = {key: letters(k) for k, key in enumerate(views)}
    ways = {"left": (-1, 0), "right": (1, 0), "above": (0, -1), "below": (0, 1)}
    return [
        Part(
            view,
            named[i, j],
            tuple((side, named[i + di, j + dj]) for side, (di, dj) in ways.items() if (i + di, j + dj) in views),
            tuple(views.values()),
        )
        for (i, j), view in views.items()
    ]


def goes_whole(bounds: tuple[float, float, float, float], size: tuple[float, float], scale: float, around: float = MARGIN_ROUND) -> bool:
    """Whether a floor goes on one sheet with all that stands round it: figures, names of lines, the sheet's heading; paper mm."""
    left, low, right, high = drawing_window(size)
    x0, y0, x1, y1 = bounds
    return (x1 - x0) / scale + 2 * around <= right - left and (y1 - y0) / scale + 2 * around <= high - low - HEADING


HEADING = 12.0
"""Height of the words above a drawing, paper mm."""
UP, SPARE = 4.0, 2.0
"""A drawing stands so much above the middle of its window; what is kept round it has so much to spare, paper mm."""


def letters(k: int) -> str:
    """The k-th of a, b … z, aa, ab …."""
    return (chr(ord("a") + k // 26 - 1) if k >= 26 else "") + chr(ord("a") + k % 26)


def placer_of(view: View) -> Placer:
    """What keeps words inside a window."""
    cx, cy = view.at
    w, h = view.size
    return Placer((cx - w / 2 + 1, cy - h / 2 + 1 - 4.0, cx + w / 2 - 1, cy + h / 2 - 1 - 4.0))
