"""Readings of a survey by tape or laser, and the equations that tie corners to them."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from layout.units import EPS

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

ROUNDS = 60
"""Steps of the least squares at the most; they close in on the answer in a few."""


@dataclass(frozen=True, slots=True)
class Reading:
    """A measured distance between two corners, mm; `place` is its line, for messages."""

    first: str
    second: str
    length: float
    place: str = ""

    @property
    def name(self) -> str:
        """Both corners."""
        return f"{self.first}–{self.second}"


def in_order(names: Iterable[str]) -> list[str]:
    """Names in their natural order: A, B … Z or 1, 2 … 10."""
    return sorted(names, key=lambda name: [part.zfill(40) if part.isdecimal() else part for part in re.split(r"(\d+)", name)])


def corner_names(readings: Sequence[Reading]) -> list[str]:
    """Corners in their natural order."""
    return in_order({name for reading in readings for name in (reading.first, reading.second)})


def equations(points: Floats, pairs: NDArray[np.int64]) -> tuple[Floats, Floats]:
    """How distances between corners change with the corners, (m, 2n), and the distances, (m,) mm.

    `points` (n, 2); `pairs` (m, 2) the two corners of each distance.
    """
    way = points[pairs[:, 1]] - points[pairs[:, 0]]
    length = np.maximum(np.hypot(way[:, 0], way[:, 1]), EPS)
    unit = way / length[:, None]
    slopes = np.zeros((len(pairs), points.size))
    rows = np.arange(len(pairs))
    for axis in (0, 1):
        slopes[rows, 2 * pairs[:, 0] + axis] -= unit[:, axis]
        slopes[rows, 2 * pairs[:, 1] + axis] += unit[:, axis]
    return slopes, length
