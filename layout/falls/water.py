"""A water test on paper: where water would stand on a floor's facets, and how deep."""

from __future__ import annotations

import heapq
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.shapes import union_of
from layout.vectors import pair

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from shapely import Polygon
    from shapely.geometry.base import BaseGeometry

    from layout.errors import Point
    from layout.falls.facets import Facet
    from layout.vectors import Bools, Floats

POND = 1.0
"""Water this deep is a pond, mm; more on a coarse grid."""
CELL, COARSE, CELLS = 25.0, 200.0, 15_000
"""Grid of the water test: finest and coarsest cell, mm, and about how many cells."""


@dataclass(frozen=True, slots=True)
class Pond:
    """Water that stays: the deepest point, its depth mm (infinite where no drain is reached), the area m²."""

    at: Point
    depth: float
    area: float


def water_test(levels: Callable[[Floats], Floats], facets: Sequence[Facet], floor: BaseGeometry, frames: Sequence[Polygon]) -> list[Pond]:
    """Ponds: on a grid, how far each place lies below the lowest way from it to a drain (priority flood); `levels` gives those off the facets.

    Source of the method: R. Barnes, C. Lehman, D. Mulla, Priority-flood, Computers & Geosciences 62 (2014), from memory.
    """
    x0, y0, x1, y1 = floor.bounds
    cell = min(max(math.sqrt(floor.area / CELLS), CELL), COARSE)
    xs, ys = np.arange(x0 + cell / 2, x1, cell), np.arange(y0 + cell / 2, y1, cell)
    grid = np.stack(np.meshgrid(xs, ys), axis=-1)
    wet = shapely.intersects_xy(floor, grid[..., 0], grid[..., 1])
    level = np.full(wet.shape, np.inf)
    known = np.zeros(wet.shape, dtype=bool)
    for facet in facets:
        inside = wet & ~known & shapely.intersects_xy(facet.polygon, grid[..., 0], grid[..., 1])
        level[inside] = facet.at(grid[inside])
        known |= inside
    near = shapely.buffer(union_of(frames), 0.75 * cell, join_style="mitre")
    drains = wet & shapely.intersects_xy(near, grid[..., 0], grid[..., 1])
    unknown = wet & ~known
    if unknown.any():
        level[unknown] = levels(grid[unknown])
    depth = _flooded(level, wet, drains) - np.where(wet, level, 0.0)
    return _ponds(np.where(wet, depth, 0.0), grid, cell)


def _flooded(level: Floats, wet: Bools, drains: Bools) -> Floats:
    """The lowest level over which water leaves each cell, (n, m); infinite where no drain is reached."""
    rows, columns = level.shape
    filled = np.full(level.shape, np.inf)
    heap: list[tuple[float, int, int]] = []
    for i, j in np.argwhere(drains).tolist():
        filled[i, j] = level[i, j]
        heap.append((float(level[i, j]), i, j))
    heapq.heapify(heap)
    around = [(a, b) for a in (-1, 0, 1) for b in (-1, 0, 1) if a or b]
    heights, open_, done = level.tolist(), wet.tolist(), drains.tolist()
    while heap:
        here, i, j = heapq.heappop(heap)
        for a, b in around:
            p, q = i + a, j + b
            if 0 <= p < rows and 0 <= q < columns and open_[p][q] and not done[p][q]:
                done[p][q] = True
                up = max(here, heights[p][q])
                filled[p, q] = up
                heapq.heappush(heap, (up, p, q))
    return filled


def _ponds(depth: Floats, grid: Floats, cell: float) -> list[Pond]:
    limit = POND * max(1.0, cell / 100.0)
    deep = depth > limit
    result = []
    while deep.any():
        k = np.unravel_index(int(np.where(deep, depth, -1.0).argmax()), depth.shape)
        own = _joined(deep, (int(k[0]), int(k[1])))
        at = grid[k]
        worst = float(depth[k])
        result.append(Pond(pair(at), worst, float(own.sum()) * cell * cell / 1e6))
        deep &= ~own
    return result


def _joined(cells: Bools, seed: tuple[int, int]) -> Bools:
    """The cells joined to one of them."""
    own = np.zeros_like(cells)
    stack = [seed]
    while stack:
        i, j = stack.pop()
        if 0 <= i < cells.shape[0] and 0 <= j < cells.shape[1] and cells[i, j] and not own[i, j]:
            own[i, j] = True
            stack += [(i + 1, j), (i - 1, j), (i, j + 1), (i, j - 1)]
    return own
