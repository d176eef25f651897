"""Whole tiles as a repeated cell: one pattern and the area that it fills, however many tiles.

Tiles are areas on a ground of the joints' colour: strokes of a pattern clip at its edge and scale unevenly. A lattice whose rows
are level and come back to the same place after a few is a cell; of others every tile is an outline.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from layout.shapes import rectangles, turned
from layout.units import EPS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from layout.sheets.scene import Tiles

    Floats = NDArray[np.float64]

MOST_ROWS = 12
"""Rows after which a bond must come back to its place to be drawn by a cell."""


def rows_of_cell(item: Tiles) -> int:
    """Rows of a lattice until one stands over the first; 0 where the tiles are no level rows of one rectangle."""
    (run, slant), (shift, rise) = item.pattern.vectors
    outline = item.pattern.members[item.member]
    size = np.ptp(outline, axis=0)
    straight = len(outline) == 4 and abs(float(np.prod(size)) - _area(outline)) < 1.0
    if len(item.pattern.members) > 1 or abs(slant) > EPS or abs(rise) < EPS or not straight:
        return 0
    for rows in range(1, MOST_ROWS + 1):
        over = rows * float(shift) / float(run)
        if abs(over - round(over)) * abs(float(run)) < 1e-3:
            return rows
    return 0


def _area(ring: Floats) -> float:
    after = np.roll(ring, -1, axis=0)
    return abs(float((ring[:, 0] * after[:, 1] - after[:, 0] * ring[:, 1]).sum())) / 2.0


def cell(item: Tiles, rows: int) -> tuple[tuple[float, float], list[tuple[float, float]], tuple[float, float]]:
    """Size of the repeated cell, the lower-left corners of the tiles in it (those over its edges twice), and a tile's size, lattice axes."""
    (run, _), (shift, rise) = item.pattern.vectors
    low = item.pattern.members[item.member].min(axis=0)
    size = np.ptp(item.pattern.members[item.member], axis=0)
    width, height = abs(float(run)), rows * abs(float(rise))
    corners: set[tuple[float, float]] = set()
    for row in range(rows):
        x = (float(low[0]) + row * float(shift) * (1.0 if rise > 0 else -1.0)) % width
        y = (float(low[1]) + row * abs(float(rise))) % height
        for over_x in (0.0, -width):
            for over_y in (0.0, -height):
                if x + over_x + size[0] > EPS and y + over_y + size[1] > EPS:
                    corners.add((round(x + over_x, 3), round(y + over_y, 3)))
    return (width, height), sorted(corners), (float(size[0]), float(size[1]))


def ground(item: Tiles) -> list[Floats]:
    """Rectangles round whole tiles and half the joints round them, as rings in the drawing's own axes."""
    (run, _), (shift, rise) = item.pattern.vectors
    outline = item.pattern.members[item.member]
    low, high = outline.min(axis=0) - item.joint / 2, outline.max(axis=0) + item.joint / 2
    result = []
    for i0, i1, j0, j1 in rectangles(item.index, joined=abs(float(shift)) < EPS):
        at = [np.array([i * run + j * shift, j * rise]) for i, j in ((i0, j0), (i1, j1))]
        (x0, y0), (x1, y1) = np.minimum(*at) + low, np.maximum(*at) + high
        ring = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
        result.append(turned(ring, item.turn) + np.array(item.origin))
    return result


def outlines(item: Tiles) -> Floats:
    """Every tile's corners (n, k, 2), in the drawing's own axes."""
    points = item.pattern.members[item.member][None] + (item.index @ item.pattern.vectors)[:, None]
    result: Floats = (turned(points.reshape(-1, 2), item.turn) + np.array(item.origin)).reshape(points.shape)
    return result
