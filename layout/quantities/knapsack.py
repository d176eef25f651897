"""A length filled with items as often as they go in, for the greatest worth: an exact knapsack over whole steps of the saw."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

NOTHING = -1
LEAST_WORTH = 1e-9
"""Items worth no more are left out."""


class Filling:
    """Fillings of every length up to a room, with the first item, the first two and so on.

    An item as often as it goes in is one running maximum: a length less its number of items' worth, along the lengths that are
    a whole number of items apart (dynamic programming, Gilmore and Gomory 1966).
    """

    def __init__(self, reach: Ints, worth: Floats, room: int) -> None:
        """`reach` (n,) is the length that each item takes, steps, 1 or more; `worth` (n,) what it is worth."""
        self.reach, self.worth, self.room = reach, worth, room
        self.full: Floats = np.zeros((len(reach) + 1, room + 1))
        """Worth of each length with the first k items, (n + 1, room + 1)."""
        self._last = np.full((len(reach) + 1, room + 1), NOTHING, dtype=np.int32)
        lengths = np.arange(room + 1)
        for k in range(len(reach)):
            before, own = self.full[k], int(reach[k])
            if own > room or worth[k] <= max(LEAST_WORTH, float(before[own])):  # what is known of its length is worth as much
                self.full[k + 1], self._last[k + 1] = before, self._last[k]
                continue
            after = before.copy()
            if 2 * own > room:
                np.maximum(before[own:], before[:-own] + worth[k], out=after[own:])
            else:
                rows = -(-(room + 1) // own)
                less = (lengths // own) * worth[k]
                grid = np.full(rows * own, -np.inf)
                grid[: room + 1] = before - less
                after = np.maximum.accumulate(grid.reshape(rows, own), axis=0).ravel()[: room + 1] + less
            better = after > before + 1e-12
            self.full[k + 1] = np.where(better, after, before)
            self._last[k + 1] = np.where(better, k, self._last[k])

    def chosen(self, items: int, length: int) -> list[int]:
        """Items of the best filling of a length with the first few of them, by number."""
        result: list[int] = []
        while (k := int(self._last[items, length])) != NOTHING:
            result.append(k)
            items, length = k + 1, length - int(self.reach[k])
        return result
