"""Fills tile after tile, large pieces first: ways to begin with."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from layout.quantities.blanks import kinds_in

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from layout.quantities.blanks import Layout

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]


def fullest(best: Callable[[Floats], Layout], area: Floats, demand: Ints) -> list[Layout]:
    """Fills tile after tile, large pieces before small ones, till nothing is wanted any more.

    `best` gives the most valuable way to cut a tile by what each kind is worth.
    """
    left = np.where(area > 0.0, demand, 0)
    result: list[Layout] = []
    while left.any():
        largest = int(np.where(left > 0, area, -1.0).argmax())
        worth = np.where(left > 0, area, 0.0)
        worth[largest] += float(area.max()) * 4.0
        made = best(worth)
        held = kinds_in(made, len(demand))
        times = max(1, int((left[held > 0] // held[held > 0]).min()))
        left = np.maximum(left - times * held, 0)
        result.append(made)
    return result
