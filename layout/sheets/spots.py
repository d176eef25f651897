"""Where a label may stand: its hull, its places, and those with a leader round what it names; paper mm."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cache
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from layout.sheets.lettering import text_width
from layout.sheets.scene import Label

if TYPE_CHECKING:
    from collections.abc import Sequence

    from layout.sheets.scene import Across, Primitive, Upward
    from layout.vectors import Bools, Floats, Ints

Box: TypeAlias = tuple[float, float, float, float]
REACHES = (6.0, 8.5, 11.0, 14.0, 17.0, 21.0, 26.0, 32.0, 39.0, 47.0, 56.0, 66.0)
"""How far from what it names the middle of a label with a leader may stand, paper mm, tried in this order."""
WAYS = 16
"""Directions in which a label with a leader may stand."""


def label_box(label: Label, unit: float = 1.0) -> Box:
    """Hull of a label in its own space; `unit` is that space's mm per paper mm."""
    width = text_width(label.text, label.height, label.bold) * unit
    height = label.height * unit
    x0 = {"left": 0.0, "centre": -width / 2, "right": -width}[label.across]
    y0 = {"bottom": 0.0, "middle": -height / 2, "top": -height}[label.upward]
    corners = np.array([[x0, y0 - 0.25 * height], [x0 + width, y0 - 0.25 * height], [x0 + width, y0 + height], [x0, y0 + height]])
    cos, sin = math.cos(math.radians(label.angle)), math.sin(math.radians(label.angle))
    points = corners @ np.array([[cos, sin], [-sin, cos]]) + np.array(label.at)
    low, high = points.min(axis=0), points.max(axis=0)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


@dataclass(slots=True)
class Spot:
    """A place for a label, paper mm; `leader` if it needs a line to what it names; `height` and `text` where they differ there."""

    at: tuple[float, float]
    across: Across = "centre"
    upward: Upward = "middle"
    angle: float = 0.0
    leader: bool = False
    height: float = 0.0
    text: str = ""


@dataclass(slots=True, eq=False)
class Asked:
    """A label that was asked for: where it may stand, where it stands now, and the foot of its leader."""

    text: str
    height: float
    layer: str
    spots: list[Spot]
    boxed: bool
    bold: bool
    needed: bool
    foot: tuple[float, float] | None
    owner: int
    shown_with: tuple[Primitive, ...]
    boxes: Floats = field(default_factory=lambda: np.empty((0, 4)))
    leaders: Floats = field(default_factory=lambda: np.empty((0, 4)))
    free: Bools = field(default_factory=lambda: np.empty(0, dtype=bool))
    known: Bools = field(default_factory=lambda: np.empty(0, dtype=bool))
    within: Ints = field(default_factory=lambda: np.empty(0, dtype=np.int64))
    here: int = -1
    seen: int = -1

    def label(self, k: int) -> Label:
        """The label at its k-th place."""
        spot = self.spots[k]
        height = spot.height or self.height
        return Label(spot.text or self.text, spot.at, height, self.layer, spot.across, spot.upward, spot.angle, self.boxed, self.bold)

    def leader(self, k: int) -> Floats | None:
        """The leader to its k-th place, (2, 2) from the foot to the nearest point of the label; None if it needs none there."""
        line: Floats = self.leaders[k].reshape(2, 2)
        return None if np.isnan(line).any() else line


def leader_spots(foot: tuple[float, float], *, height: float = 0.0, text: str = "", reaches: Sequence[float] = REACHES) -> list[Spot]:
    """Places round a foot, nearest first."""
    (x, y), ways = foot, _ways(tuple(reaches))
    return [Spot((x + dx, y + dy), leader=True, height=height, text=text) for dx, dy in ways]


@cache
def _ways(reaches: tuple[float, ...]) -> tuple[tuple[float, float], ...]:
    """From a foot to each place round it."""
    turns = [k * 2 * math.pi / WAYS for k in range(WAYS)]
    return tuple((math.cos(turn) * far * 1.25, math.sin(turn) * far) for far in reaches for turn in turns)
