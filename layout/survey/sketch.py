"""A floor drawn in characters, for a person who checks by eye what he typed."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from layout.errors import Point

    Floats = NDArray[np.float64]

LEAST = 20
"""Fewest columns a floor is drawn in."""
MOST_LINES = 16
"""Lines it is drawn in at the most: the question below it stays in sight."""


@dataclass(frozen=True, slots=True)
class Stroke:
    """A line from point to point drawn with a letter, mm; a single point is one letter."""

    points: Sequence[Point]
    letter: str
    closed: bool = False


def sketch(outline: Sequence[Point], things: Sequence[Stroke] = (), *, width: int = 48) -> str:
    """The outline as characters, walls as #, corners by their numbers, with what stands on it.

    A line of characters is twice as high as a column is wide; the drawing is `width` columns wide or `MOST_LINES` high.
    """
    points = np.array(outline, dtype=float)
    low, high = points.min(axis=0), points.max(axis=0)
    width = max(width, LEAST)
    step = max(float(high[0] - low[0]) / (width - 1), float(high[1] - low[1]) / (2 * MOST_LINES - 2), 1.0)
    columns, lines = math.ceil((high[0] - low[0]) / step) + 1, math.ceil((high[1] - low[1]) / (2 * step)) + 1
    grid = [[" "] * columns for _ in range(lines)]

    def put(at: Floats, letters: str) -> None:
        column, line = round(float(at[0] - low[0]) / step), lines - 1 - round(float(at[1] - low[1]) / (2 * step))
        if not (0 <= line < lines and 0 <= column < columns):
            return
        column = max(min(column, columns - len(letters)), 0)
        grid[line][column : column + len(letters)] = letters

    def draw(stroke: Stroke) -> None:
        ring = np.array(stroke.points, dtype=float)
        ends = np.roll(ring, -1, axis=0) if stroke.closed else ring[1:]
        if not len(ends):
            put(ring[0], stroke.letter)
        for a, b in zip(ring, ends, strict=False):
            for part in np.linspace(0.0, 1.0, 4 * max(columns, lines)):
                put(a + (b - a) * part, stroke.letter)

    draw(Stroke(outline, "#", closed=True))
    for stroke in things:
        draw(stroke)
    for k, corner in enumerate(points, 1):
        put(corner, str(k))
    return "\n".join("".join(row).rstrip() for row in grid)
