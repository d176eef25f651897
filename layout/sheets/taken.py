"""What is taken on one sheet, in cells of a quarter of a millimetre: what no label may stand on, and what only its owner's may."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from layout.sheets.clashes import CLEAR

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from layout.sheets.spots import Box
    from layout.vectors import Bools, Floats, Ints

    Cells: TypeAlias = NDArray[np.int32]

CELL = 0.25
"""Side of the cells in which it is kept what is taken, paper mm."""
SHARED = 1
"""A cell that no label may stand on, whoever owns it."""
CELLS_A_LOOK = 250
"""Sums over so many cells cost as much as one more look at a place: they are made anew once that many looks were made without."""


@dataclass(slots=True)
class Taken:
    """Cells of a drawing with what takes each: nothing, an owner, or all. `blocks` counts what was put there."""

    bounds: Box
    blocks: int = 0
    cells: Cells = field(init=False)
    hulls: dict[int, Box] = field(default_factory=dict)
    sums: Cells | None = None
    summed: int = -1
    looks: int = 0

    def __post_init__(self) -> None:
        wide, tall = (max(self.bounds[k + 2] - self.bounds[k], 0.0) for k in (0, 1))
        self.cells = np.zeros((math.ceil(tall / CELL) + 1, math.ceil(wide / CELL) + 1), dtype=np.int32)

    def _windows(self, boxes: Floats, grow: float) -> Ints:
        """First and last cell (n, 4) of boxes along x and y, as slices have them, within the drawing from below."""
        low = np.array(self.bounds)[[0, 1, 0, 1]]
        found = np.rint((boxes + np.array([-grow, -grow, grow, grow]) - low) / CELL)
        result: Ints = np.maximum(found, 0.0).astype(np.int64)
        return result

    def block(self, boxes: Floats, owner: int) -> None:
        """Keep labels off boxes (n, 4), those of the same owner (0 or more) excepted."""
        windows = self._windows(boxes, 0.0)
        # a line thinner than a cell takes one all the same
        windows[:, 2:] = np.maximum(windows[:, 2:], windows[:, :2] + 1)
        for x0, y0, x1, y1 in windows.tolist():
            area = self.cells[y0:y1, x0:x1]
            area[...] = SHARED if owner < 0 else np.where((area == 0) | (area == owner + 2), owner + 2, SHARED)
        self.blocks += len(boxes)
        if owner >= 0:
            before = np.array([self.hulls[owner]]) if owner in self.hulls else boxes
            low = np.minimum(boxes[:, :2].min(axis=0), before[:, :2].min(axis=0))
            high = np.maximum(boxes[:, 2:].max(axis=0), before[:, 2:].max(axis=0))
            self.hulls[owner] = (float(low[0]), float(low[1]), float(high[0]), float(high[1]))

    def count(self, box: Box) -> int:
        """Cells under a box and its clear space that are taken."""
        x0, y0, x1, y1 = self._windows(np.array([box]), CLEAR)[0]
        return int(np.count_nonzero(self.cells[y0:y1, x0:x1]))

    def free(self, boxes: Floats, owner: int) -> Bools:
        """Which boxes (n, 4) of an owner stand on nothing, with the clear space round them.

        Sums over the cells (Crow, 1984) tell for all at once which cells have a claim on them; since claims are only added, sums that
        were made earlier still rule places out.
        """
        windows = self._windows(boxes, CLEAR)
        result: Bools = np.ones(len(boxes), dtype=bool)
        if self.summed != self.blocks and self.looks * CELLS_A_LOOK > self.cells.size:
            self._sum()
        ask = np.arange(len(boxes)) if self.sums is None else self._not_ruled_out(self.sums, windows, boxes, owner, result)
        self.looks += len(ask)
        for k in ask.tolist():
            x0, y0, x1, y1 = windows[k].tolist()
            area = self.cells[y0:y1, x0:x1]
            result[k] = not area.any() or (owner >= 0 and bool(((area == 0) | (area == owner + 2)).all()))
        return result

    def _sum(self) -> None:
        self.sums = np.zeros((self.cells.shape[0] + 1, self.cells.shape[1] + 1), dtype=np.int32)
        np.cumsum(self.cells != 0, axis=0, dtype=np.int32, out=self.sums[1:, 1:])
        np.cumsum(self.sums[1:, 1:], axis=1, out=self.sums[1:, 1:])
        self.summed, self.looks = self.blocks, 0

    def _not_ruled_out(self, sums: Cells, windows: Ints, boxes: Floats, owner: int, result: Bools) -> Ints:
        """Boxes that must be looked at one by one; `result` is set for those that the sums rule out."""
        tall, wide = self.cells.shape
        x0, y0, x1, y1 = np.minimum(windows, np.array([wide, tall, wide, tall])).T
        claimed = sums[y1, x1] - sums[y0, x1] - sums[y1, x0] + sums[y0, x0] > 0
        result[claimed] = False
        hull = self.hulls.get(owner)
        if hull is not None:  # among the claims there may be its own
            grown = 2.0 * CLEAR
            claimed &= ~((boxes[:, :2] < np.array(hull[2:]) + grown).all(axis=1) & (boxes[:, 2:] > np.array(hull[:2]) - grown).all(axis=1))
        if self.summed == self.blocks:
            return np.flatnonzero(~claimed & ~result)
        return np.flatnonzero(~claimed)
