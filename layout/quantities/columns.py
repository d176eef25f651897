"""Ways to cut a tile in columns and each column across, where every edge may be a cut one."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from layout.quantities.blanks import Placed, kinds_in
from layout.quantities.knapsack import LEAST_WORTH, Filling
from layout.quantities.shelves import shelved, transposed

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from layout.quantities.blanks import Blank, Found, Layout

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

AT_ONCE = 60
"""Ways to cut a tile that are taken into the programme at once."""


class Columns:
    """Finds the most valuable tile cut in columns, each cut into pieces: every edge may be a cut one."""

    def __init__(self, blanks: Sequence[Blank], demand: Ints, tile: tuple[int, int], kerf: int, turns: tuple[int, ...]) -> None:
        self.blanks, self.demand, self.tile, self.kerf = blanks, demand, tile, kerf
        self.boxes: list[tuple[int, int, int, int]] = []  # width, height, kind, quarters
        for kind, blank in enumerate(blanks):
            if blank.whole:
                continue
            for q in turns[:1] if len(turns) == 1 else (0, 1) if 1 in turns else (0,):
                w, h = (blank.height, blank.width) if q % 2 else (blank.width, blank.height)
                if w <= tile[0] and h <= tile[1] and (w, h, kind) not in {box[:3] for box in self.boxes}:
                    self.boxes.append((w, h, kind, q))
        self.boxes.sort()
        area = float((tile[0] + kerf) * (tile[1] + kerf))
        self.parts = np.array([1.0 if blank.whole else (blank.width + kerf) * (blank.height + kerf) / area for blank in blanks])
        """Part of a tile that each kind takes, (n,)."""

    def singles(self) -> list[Layout]:
        """Each kind from a tile of its own."""
        return [(Placed(k, 0, 0, 0, blank.width, blank.height),) for k, blank in enumerate(self.blanks)]

    def likely(self, demand: Ints) -> list[Layout]:
        """Tiles for all that is wanted, one after the other as full as they go; the best lie in whole columns."""
        whole = [self.singles()[k] for k, blank in enumerate(self.blanks) if blank.whole for _ in range(int(demand[k]))]
        return [*whole, *shelved(self.boxes, demand, self.tile, self.kerf)]

    def better(self, value: Floats, *, wanted: bool) -> Found:
        """The most valuable tiles: columns upright, and the same with the tile's directions changed; the best first."""
        most = 0.0
        found: dict[bytes, tuple[float, Layout]] = {}
        for turned in (False, True):
            boxes = sorted((h, w, k, q) for w, h, k, q in self.boxes) if turned else self.boxes
            best, made = self._columns(value, boxes, self.tile[::-1] if turned else self.tile)
            most = max(most, best)
            for own in made:
                held = kinds_in(own, len(self.blanks))
                if wanted:
                    held = np.minimum(held, self.demand)
                found.setdefault(held.tobytes(), (float(held @ value), transposed(own) if turned else own))
        return most, sorted(found.values(), key=lambda each: -each[0])

    def _columns(self, value: Floats, boxes: list[tuple[int, int, int, int]], tile: tuple[int, int]) -> tuple[float, list[Layout]]:
        """What a tile in upright columns is worth at the most; the best tile that holds each box, for those worth most."""
        if not boxes:
            return 0.0, []
        width, height = tile[0] + self.kerf, tile[1] + self.kerf
        across, reach, kinds = np.array([box[:3] for box in boxes], dtype=np.int64).T
        across, reach = across + self.kerf, reach + self.kerf
        own = value[kinds]
        stacks = Filling(reach, own, height)
        ends = np.flatnonzero(np.append(across[1:] > across[:-1], True))
        columns = Filling(across[ends], stacks.full[ends + 1, height], width)
        of = np.searchsorted(ends, np.arange(len(boxes)))
        worth = own + stacks.full[ends[of] + 1, height - reach] + columns.full[-1, width - across]
        order = np.argsort(-worth, kind="stable")[: AT_ONCE + len(boxes) // 4]
        made = []
        for k in order[worth[order] > LEAST_WORTH].tolist():
            items = int(ends[of[k]]) + 1
            first = [k, *stacks.chosen(items, height - int(reach[k]))]
            beside = [stacks.chosen(int(ends[c]) + 1, height) for c in columns.chosen(len(ends), width - int(across[k]))]
            made.append(self._laid([first, *beside], boxes))
        return float(columns.full[-1, width]), made

    def _laid(self, columns: list[list[int]], boxes: list[tuple[int, int, int, int]]) -> Layout:
        """Columns of boxes, by their numbers, side by side."""
        made: list[Placed] = []
        x = 0
        for column in columns:
            y = 0
            for k in column:
                w, h, kind, quarters = boxes[k]
                made.append(Placed(kind, quarters, x, y, w, h))
                y += h + self.kerf
            x += max(boxes[k][0] for k in column) + self.kerf
        return tuple(made)
