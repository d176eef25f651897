"""Long thin floors: cut at match lines into strips, which stand under each other, or beside each other, on one sheet at a larger scale.

A floor is cut where a joint runs across it: a movement joint or one of the structure, else a joint that all its tiles share; where there
is none, evenly. Each strip is a view of its own on the same floor, so figures and marks stand where they stand on the undivided drawing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from layout.sheets.paper import MARGIN_ROUND, SIZES, SMALLEST, drawing_window, well_filled
from layout.sheets.parts import CELL, HEADING, KEY, LAP, Part, letters
from layout.sheets.place import Placer
from layout.sheets.room_view import room_bounds
from layout.sheets.scene import Label, Primitive, View
from layout.units import EPS
from layout.words import say

if TYPE_CHECKING:
    from collections.abc import Sequence

    from layout.setout.values import RoomSetOut
    from layout.sheets.spots import Box
    from layout.vectors import Floats

MOST = 4
"""A floor in more strips than this is not read as one."""
LONG = 3.0
"""A floor so many times longer than wide is looked at in strips where it takes less than `LOST` of its sheet."""
LOST = 0.25
OFF_FRAME = 2.0
"""Strips stand so far off the frame and the words, paper mm."""
FOOT = 14.0
"""Kept free under the strips for scale bar and key plan, paper mm."""


@dataclass(frozen=True, slots=True, eq=False)
class Strip(Part):
    """A strip of a floor, on one sheet with the others."""

    @property
    def title(self) -> str:
        """Nothing: all strips stand under one title."""
        return ""

    def placer(self) -> Placer:
        """What words keep off: match lines, the strip's own name."""
        left, low, right, high = self.window
        placer = Placer((left + 1.0, low + 1.0, right - 1.0, high - 1.0))
        for taken in self._taken():
            placer.mark_off(taken)
        return placer

    def _taken(self) -> list[Box]:
        left, _, _, high = self.window
        return [*self.along_match_lines(), (left, high - 6.0, left + 24.0, high)]

    def marks(self, room: RoomSetOut, size: tuple[float, float]) -> list[Primitive]:
        """Match lines with the letters of the strips beyond them, its own name, and once the key plan of the strips."""
        left, _, _, high = self.window
        name = Label(say("part {letter}", letter=self.letter), (left + 2.0, high - 5.0), 3.5, "MATCH-LINE", boxed=True, bold=True)
        return [name, *self.match_lines(), *(self.key_plan(room, size, own=False) if self.view is self.every[0] else ())]


def strips_of(room: RoomSetOut, size: tuple[float, float], scale: float) -> list[Part]:
    """A floor in strips that stand on one sheet of a size at a scale; none if they do not, or it goes on it undivided."""
    x0, y0, x1, y1 = room_bounds(room)
    left, low, right, high = drawing_window(size)
    left, right = left + OFF_FRAME, right - OFF_FRAME
    along = 0 if x1 - x0 >= y1 - y0 else 1
    length, across = ((x1 - x0), (y1 - y0)) if along == 0 else ((y1 - y0), (x1 - x0))
    key = KEY * across / length + CELL + 6.0 if along == 0 else KEY + 6.0
    space = np.array([right - left, high - low - HEADING - max(FOOT, key)])
    reach, room_for = (space[0], space[1]) if along == 0 else (space[1], space[0])
    ends = MARGIN_ROUND - LAP
    count = math.ceil((length / scale + 2.0 * ends) / (reach - 2.0 * LAP))
    thick = across / scale + 2.0 * MARGIN_ROUND
    if not 2 <= count <= MOST or count * thick > room_for:
        return []
    start = (x0, y0)[along]
    most = (reach - 2.0 * LAP) * scale
    cuts = cuts_along(room, along, start, length, [most - ends * scale, *[most] * (count - 2), most - ends * scale])
    edges = [start, *cuts, start + length]
    lap = [MARGIN_ROUND, *[LAP] * (count - 1), MARGIN_ROUND]
    gap = (room_for - count * thick) / count
    views = []
    # strips of an upright floor stand side by side, the upper end on the left
    order = range(count) if along == 0 else range(count - 1, -1, -1)
    for k, n in enumerate(order):
        a, b = edges[n] - lap[n] * scale, edges[n + 1] + lap[n + 1] * scale
        wide = (b - a) / scale
        off = (k + 0.5) * (thick + gap)
        if along == 0:
            at = (left + wide / 2.0, high - HEADING - off)
            views.append(View(((a + b) / 2.0, (y0 + y1) / 2.0), at, scale, (wide, thick)))
        else:
            at = (left + off, high - HEADING - wide / 2.0)
            views.append(View(((x0 + x1) / 2.0, (a + b) / 2.0), at, scale, (thick, wide)))
    before, after = ("left", "right") if along == 0 else ("above", "below")
    every = tuple(views)
    return [
        Strip(
            view,
            letters(k),
            (*(((before, letters(k - 1)),) if k else ()), *(((after, letters(k + 1)),) if k + 1 < count else ())),
            every,
        )
        for k, view in enumerate(views)
    ]


def strips_fit(room: RoomSetOut, papers: Sequence[str], scales: Sequence[float], share: float) -> tuple[str, float] | None:
    """Paper and scale, down to 1:50, on which a long thin floor goes in strips, of papers that grow; None if it need not.

    Each paper is looked at with its largest scale, the last only where no other does; `share` is what the floor takes of its sheet undivided.
    """
    x0, y0, x1, y1 = room_bounds(room)
    sides = sorted((x1 - x0, y1 - y0))
    if share > LOST or sides[1] < LONG * sides[0]:
        return None
    found: list[tuple[str, float, list[Part]]] = []
    for k, paper in enumerate(papers):
        tries = ((scale, strips_of(room, SIZES[paper], scale)) for scale in scales if scale <= SMALLEST)
        scale, parts = next((each for each in tries if each[1]), (0.0, []))
        if parts and (k + 1 < len(papers) or not found):
            found.append((paper, scale, parts))
    if not found:
        return None
    paper, scale, _ = found[well_filled([(paper, *_around([part.view for part in parts])) for paper, _, parts in found])]
    return paper, scale


def _around(views: Sequence[View]) -> tuple[float, float]:
    """Width and height of what some windows take together, paper mm."""
    at, half = np.array([view.at for view in views]), np.array([view.size for view in views]) / 2.0
    wide, tall = (at + half).max(axis=0) - (at - half).min(axis=0)
    return float(wide), float(tall)


def cuts_along(room: RoomSetOut, along: int, start: float, length: float, most: Sequence[float]) -> list[float]:
    """Where a floor is cut along its longer way so that no part is longer than it may be, room mm: at joints near even parts."""
    joints, tiles = across_joints(room, along), tile_joints(room, along)
    cuts: list[float] = []
    for k in range(1, len(most)):
        low = max(start + length - math.fsum(most[k:]), cuts[-1] if cuts else start)
        high = (cuts[-1] if cuts else start) + most[k - 1]
        even = min(max(start + length * k / len(most), low), high)
        near = next((own for own in (joints, tiles) if ((own >= low) & (own <= high)).any()), np.array([even]))
        near = near[(near >= low) & (near <= high)]
        cuts.append(float(near[np.argmin(np.abs(near - even))]))
    return cuts


def across_joints(room: RoomSetOut, along: int) -> Floats:
    """Places of the movement and structural joints that run straight across a floor, room mm, (n,)."""
    lines = [joint.line for joint in room.joints if joint.surface.kind == "floor" and joint.kind in ("intermediate", "structural")]
    found = [float(line[:, along].mean()) for line in lines if np.ptp(line[:, along]) < 1.0 < np.ptp(line[:, 1 - along])]
    return np.array(sorted(found))


def tile_joints(room: RoomSetOut, along: int) -> Floats:
    """Middles of the joints that all tiles of a floor share across it, room mm, (n,): none where the pattern is bonded or turned."""
    found: list[Floats] = []
    for done in room.surfaces:
        field = done.field
        v1, v2 = field.pattern.vectors
        square = len(field.pattern.members) == 1 and abs(v1[1]) < EPS and abs(v2[0]) < EPS and abs(done.turn) < EPS
        if done.surface.kind != "floor" or not square:
            continue
        step = float((v1, v2)[along][along])
        for bay, laid in enumerate(field.bays):
            lattice = laid.whole[:, 1 + along]
            if len(lattice):
                found.append(field.origins[bay][along] + np.arange(lattice.min(), lattice.max() + 2) * step - done.tile.joint / 2.0)
    return np.sort(np.concatenate(found)) if found else np.zeros(0)


def windowed(view: View, size: tuple[float, float]) -> View:
    """The window of a whole sheet at the scale of a view of it: where its scale bar stands."""
    left, low, right, high = drawing_window(size)
    return replace(view, at=((left + right) / 2.0, (low + high) / 2.0 + 4.0), size=(right - left, high - low))
