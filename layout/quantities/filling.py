"""Fills tile after tile, large pieces first: ways to begin with."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

import numpy as np

from layout.quantities.blanks import kinds_in

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from layout.quantities.blanks import Found, Layout

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]


class Finder(Protocol):
    """Finds the most valuable ways to cut a tile."""

    def better(self, value: Floats, *, wanted: bool) -> Found:
        """What a tile is worth at the most, and the most valuable tiles, the best first; only `wanted` ones, or any."""


def fullest(finder: Finder, area: Floats, demand: Ints) -> list[Layout]:
    """Fills tile after tile, large pieces before small ones, till nothing is wanted any more."""
    left = np.where(area > 0.0, demand, 0)
    result: list[Layout] = []
    while left.any():
        largest = int(np.where(left > 0, area, -1.0).argmax())
        worth = np.where(left > 0, area, 0.0)
        worth[largest] += float(area.max()) * 4.0
        made = finder.better(worth, wanted=False)[1][0][1]
        held = kinds_in(made, len(demand))
        times = max(1, int((left[held > 0] // held[held > 0]).min()))
        left = np.maximum(left - times * held, 0)
        result.append(made)
    return result
