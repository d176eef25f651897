"""Label placing: of several places for a label, the first where it hides nothing that matters.

Works in paper millimetres. Boxes are axis-parallel hulls of turned labels. A label that finds no free
place is put where it overlaps least, and counted.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from layout.sheets.lettering import text_width
from layout.sheets.scene import Label

if TYPE_CHECKING:
    from collections.abc import Iterable

    from layout.sheets.scene import Across, Upward

Box = tuple[float, float, float, float]
CLEAR = 0.6
"""Clear space kept round a label, paper mm."""


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
    """A place for a label, paper mm."""

    at: tuple[float, float]
    across: Across = "centre"
    upward: Upward = "middle"
    angle: float = 0.0


@dataclass(slots=True)
class Placer:
    """Keeps what is taken on one sheet, paper mm."""

    bounds: Box
    taken: list[Box] = field(default_factory=list)
    crowded: int = 0

    def block(self, box: Box) -> None:
        """Keep labels off a box."""
        self.taken.append(box)

    def overlap(self, box: Box) -> float:
        """Area of a box that is taken or off the drawing."""
        x0, y0, x1, y1 = box
        bx0, by0, bx1, by1 = self.bounds
        inside = max(0.0, min(x1, bx1) - max(x0, bx0)) * max(0.0, min(y1, by1) - max(y0, by0))
        total = (x1 - x0) * (y1 - y0) - inside
        if self.taken:
            other = np.array(self.taken)
            wide = np.minimum(other[:, 2], x1 + CLEAR) - np.maximum(other[:, 0], x0 - CLEAR)
            tall = np.minimum(other[:, 3], y1 + CLEAR) - np.maximum(other[:, 1], y0 - CLEAR)
            total += float((wide.clip(0.0) * tall.clip(0.0)).sum())
        return total

    def place(
        self, text: str, height: float, layer: str, spots: Iterable[Spot], *, boxed: bool = False, bold: bool = False, must: bool = True
    ) -> Label | None:
        """The label at the first free spot; else, if it must stand, where it overlaps least."""
        best: tuple[float, Label, Box] | None = None
        for spot in spots:
            label = Label(text, spot.at, height, layer, spot.across, spot.upward, spot.angle, boxed, bold)
            box = label_box(label)
            over = self.overlap(box)
            if over <= 1e-9:
                self.taken.append(box)
                return label
            if best is None or over < best[0]:
                best = (over, label, box)
        if best is None or not must:
            return None
        self.crowded += 1
        self.taken.append(best[2])
        return best[1]
