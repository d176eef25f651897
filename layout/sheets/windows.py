"""Windows: where a floor is crowded it is drawn again, larger, on sheets of its own; the whole floor shows where they lie.

Labels that find no place on a sheet are gathered by where they belong, and as few windows as a sweep finds are laid over them at a
larger scale of ISO 5455 (from memory). A window in which some are still without a place has windows of its own.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from layout.sheets.parts import LAP, Part, letters, view_on
from layout.sheets.scene import Stroke
from layout.sheets.spots import Spot, leader_spots
from layout.vectors import pair
from layout.words import say

if TYPE_CHECKING:
    from collections.abc import Sequence

    from layout.sheets.place import Placer
    from layout.sheets.scene import View
    from layout.vectors import Floats

STEPS = (50.0, 30.0, 20.0, 10.0, 5.0, 2.0)
"""Scales of windows."""
LARGER_BY = 1.6
"""A window is drawn at least so many times larger than what it stands on."""
EDGE = LAP + 3.0
"""What a window is to show clear stands so far within its edge, paper mm."""


@dataclass(frozen=True, slots=True, eq=False)
class Window(Part):
    """A crowded piece of a floor, drawn larger: `number` counts a room's windows on one kind of sheet."""

    number: int = 0

    @property
    def title(self) -> str:
        """What to add to a sheet's title."""
        return say(", window {number}", number=self.number)

    def placer(self) -> Placer:
        """What words keep off; only what belongs inside the window's own edge is needed on it."""
        # not super(): a slotted dataclass is made anew, and the old class is not the new one's parent
        placer = Part.placer(self)
        (cx, cy), (w, h) = self.view.at, self.view.size
        placer.core = (cx - w / 2 + LAP, cy - h / 2 + LAP, cx + w / 2 - LAP, cy + h / 2 - LAP)
        return placer

    def ring(self) -> Floats:
        """What it shows clear, room mm, (4, 2)."""
        half = (np.array(self.view.size) / 2 - LAP) * self.view.scale
        low, high = np.array(self.view.centre) - half, np.array(self.view.centre) + half
        return np.array([low, (high[0], low[1]), high, (low[0], high[1])])

    def shows(self, at: tuple[float, float]) -> bool:
        """Whether a place of the room lies within its edge."""
        ring = self.ring()
        return bool((ring[0] <= np.array(at)).all() and (np.array(at) <= ring[2]).all())


def next_scale(scale: float) -> float | None:
    """The scale of a window on a sheet of a scale; None if there is none larger.

    >>> next_scale(50.0), next_scale(25.0), next_scale(2.0)
    (30.0, 10.0, None)
    """
    return next((step for step in STEPS if step * LARGER_BY <= scale), None)


def windows_over(places: Sequence[tuple[float, float]], size: tuple[float, float], scale: float, first: int) -> list[Window]:
    """Windows at a scale over all of some places of the room, on paper of a size: rows from below, each from the left; named from `first` on."""
    left = np.array(sorted(places, key=lambda at: (at[1], at[0])), dtype=float).reshape(-1, 2)
    whole = view_on((0.0, 0.0, 0.0, 0.0), size, scale)
    reach = (np.array(whole.size) - 2.0 * EDGE) * scale
    views: list[View] = []
    while len(left):
        row = left[left[:, 1] <= left[0, 1] + reach[1]]
        start = float(row[:, 0].min())
        own = row[row[:, 0] <= start + reach[0]]
        views.append(replace(whole, centre=pair((own.min(axis=0) + own.max(axis=0)) / 2.0)))
        half = reach / 2.0 + 1e-6
        left = left[(np.abs(left - np.array(views[-1].centre)) > half).any(axis=1)]
    every = tuple(views)
    return [Window(view, f"w{letters(first + k)}", (), every, first + k + 1) for k, view in enumerate(views)]


def name_windows(windows: Sequence[Window], view: View, placer: Placer) -> tuple[Stroke, ...]:
    """Their edges on the sheet that they enlarge, with their names beside; for a scene in room mm."""
    placer.refresh()
    for window in windows:
        ring = view.to_paper(window.ring())
        low, high = ring[0], ring[2]
        x, y = np.linspace(low[0] + 12.0, high[0] - 12.0, 9), np.linspace(low[1] + 6.0, high[1] - 6.0, 7)
        spots = [Spot((float(at), float(side + off))) for off in (-2.6, 2.6) for side in (high[1], low[1]) for at in x]
        spots += [Spot((float(side + off), float(at)), angle=90.0) for off in (2.6, -2.6) for side in (low[0], high[0]) for at in y]
        foot = pair(np.clip(ring[3], placer.bounds[:2], placer.bounds[2:]))
        placer.place(
            say("window {number}: drawn larger on a sheet of its own", number=window.number),
            3.5,
            "MATCH-LINE",
            [
                *spots,
                *[replace(spot, text=say("window {number}", number=window.number)) for spot in spots],
                *leader_spots(foot, text=say("window {number}", number=window.number)),
            ],
            boxed=True,
            bold=True,
            needed=True,
            foot=foot,
        )
    return tuple(Stroke(window.ring(), "MATCH-LINE", closed=True) for window in windows)
