"""Ways to cut a tile in columns and each column across, where every edge may be a cut one."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from layout.quantities.blanks import Placed
from layout.quantities.filling import fullest

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from layout.quantities.blanks import Blank, Found, Layout

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]


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

    def singles(self) -> list[Layout]:
        """Each kind from a tile of its own."""
        return [(Placed(k, 0, 0, 0, blank.width, blank.height),) for k, blank in enumerate(self.blanks)]

    def likely(self, demand: Ints) -> list[Layout]:
        """Tiles to begin with: by area, always the fullest one for what is still wanted."""

        def best(worth: Floats) -> Layout:
            return self.better(worth, wanted=False)[1][0][1]

        return fullest(best, np.array([0.0 if b.whole else float(b.width * b.height) for b in self.blanks]), demand)

    def better(self, value: Floats, *, wanted: bool) -> Found:  # noqa: ARG002  # a column holds what it may; the programme judges
        """The most valuable tiles: columns upright, and the same with the tile's directions changed; the best first."""
        upright = self._columns(value, self.boxes, self.tile)
        worth, swapped = self._columns(value, sorted((h, w, k, q) for w, h, k, q in self.boxes), self.tile[::-1])
        found = sorted([upright, (worth, _transposed(swapped))], key=lambda each: -each[0])
        return found[0][0], found

    def _columns(self, value: Floats, boxes: list[tuple[int, int, int, int]], tile: tuple[int, int]) -> tuple[float, Layout]:
        width, height = tile
        reach = np.array([h + self.kerf for _, h, _, _ in boxes], dtype=np.int64)
        stacks = _Filling(reach, np.array([value[kind] for _, _, kind, _ in boxes]), height + self.kerf)
        ends = [k for k in range(len(boxes)) if k + 1 == len(boxes) or boxes[k + 1][0] > boxes[k][0]]
        widths = np.array([boxes[k][0] + self.kerf for k in ends], dtype=np.int64)
        columns = _Filling(widths, np.array([stacks.full[k] for k in ends]), width + self.kerf)
        made: list[Placed] = []
        x = 0
        for column in columns.chosen(len(ends)):
            y = 0
            for k in stacks.chosen(ends[column] + 1):
                w, h, kind, quarters = boxes[k]
                made.append(Placed(kind, quarters, x, y, w, h))
                y += h + self.kerf
            x += int(widths[column])
        return (float(columns.full[-1]) if ends else 0.0), tuple(made)


class _Filling:
    """A length filled with items as often as wanted, for the greatest worth: a knapsack that remembers each item's turn."""

    def __init__(self, reach: Ints, worth: Floats, room: int) -> None:
        self.reach, self.room = reach, room
        self.full: list[float] = []
        """Worth of the whole length with the items up to each."""
        self.counts: list[Ints] = []
        best = np.zeros(room + 1)
        for k in range(len(reach)):
            start, step = best.copy(), int(reach[k])
            count = np.zeros(room + 1, dtype=np.int64)
            for n in range(1, room // step + 1 if worth[k] > 1e-9 else 0):
                better = start[: room + 1 - n * step] + n * worth[k]
                ends = np.flatnonzero(better > best[n * step :] + 1e-12) + n * step
                best[ends] = better[ends - n * step]
                count[ends] = n
            self.counts.append(count)
            self.full.append(float(best[room]))

    def chosen(self, items: int) -> list[int]:
        """Items of the best filling with the first few of them."""
        result: list[int] = []
        at = self.room
        for k in range(items - 1, -1, -1):
            n = int(self.counts[k][at])
            result += [k] * n
            at -= n * int(self.reach[k])
        return result


def _transposed(made: Layout) -> Layout:
    return tuple(Placed(p.kind, p.quarters, p.y, p.x, p.height, p.width) for p in made)
