"""Tiles in a hall as ratios in one run: our way, STRtree with GEOS, and the floor (bare coordinates of as many tiles).

Run: python -m tests.benchmarks.tiling [tile-mm]. The hall: 100 x 60 m, re-entrant corners, 40 columns, 12
channels, 60 pipes; 150 mm tiles with 3 mm joints, about 251,000 tiles. `--geopandas` adds geopandas.clip.
"""

from __future__ import annotations

import os
import statistics
import sys
import time
from typing import TYPE_CHECKING

os.environ["OMP_NUM_THREADS"] = os.environ["OPENBLAS_NUM_THREADS"] = "1"

import numpy as np
import shapely
from shapely import Polygon, box

from layout.plan.patterns import pattern_of
from layout.plan.values import Tile
from layout.shapes import circle, turned
from layout.tiles.lay import TileField, lay

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry


def hall() -> Polygon:
    """The hall's floor as a region, mm."""
    rng = np.random.default_rng(7)
    outer = [(0, 0), (100_000, 0), (100_000, 42_000), (88_000, 42_000), (88_000, 60_000), (30_000, 60_000), (30_000, 54_000), (0, 54_000)]
    holes = []
    for k in range(40):
        at = np.array([6_000 + (k % 10) * 9_000, 6_000 + (k // 10) * 11_000]) + rng.integers(-80, 80, 2)
        holes.append(circle(at.tolist(), 500, sagitta=0.35) if k % 2 else box(*(at - 250), *(at + 250)))
    for k in range(12):
        x, y = 9_500 + (k % 6) * 14_000, 11_000 + (k // 6) * 22_000
        holes.append(box(x, y, x + 6_000, y + 200))
    for k in range(60):
        holes.append(circle([3_000 + (k % 20) * 4_700 + 211, 3_200 + (k // 20) * 15_500], 130, sagitta=0.35))
    shape = shapely.difference(Polygon(outer), shapely.union_all(holes))
    assert isinstance(shape, Polygon)
    return shape


def every_tile(region: Polygon, tile: Tile, turn: float) -> tuple[BaseGeometry, NDArray[np.object_], NDArray[np.float64]]:
    """The region in lattice axes, every tile of its box as a polygon, and their lower-left corners (n, 2), mm."""
    pitch = tile.size[0] + tile.joint
    local = shapely.transform(region, lambda xy: turned(xy, -turn))
    x0, y0, x1, y1 = local.bounds
    xs, ys = np.meshgrid(
        np.arange(np.floor(x0 / pitch), np.ceil(x1 / pitch)) * pitch, np.arange(np.floor(y0 / pitch), np.ceil(y1 / pitch)) * pitch
    )
    corners = np.column_stack([xs.ravel(), ys.ravel()])
    return local, shapely.box(*corners.T, *(corners + np.array(tile.size)).T), corners


def by_tree(region: Polygon, tile: Tile, turn: float) -> tuple[int, float]:
    """STRtree over the region's edges, GEOS for the tiles they meet."""
    local, tiles, corners = every_tile(region, tile, turn)
    tree = shapely.STRtree(tiles)
    coordinates = shapely.get_parts(local.boundary)
    edges = np.concatenate([shapely.linestrings(np.stack([c[:-1], c[1:]], axis=1)) for c in map(shapely.get_coordinates, coordinates)])
    crossed = np.unique(tree.query(edges, predicate="intersects")[1])
    shapely.prepare(local)
    free = np.ones(len(tiles), dtype=bool)
    free[crossed] = False
    whole = free & shapely.contains_xy(local, *(corners + np.array(tile.size) / 2).T)
    pieces = shapely.intersection(tiles[crossed], local)
    return int(whole.sum()), float(whole.sum() * tile.size[0] * tile.size[1] + shapely.area(pieces).sum())


def ours(region: Polygon, tile: Tile, turn: float) -> tuple[int, float]:
    """Our way, any pattern: tiles laid and the corners of whole ones in the floor's own axes, as who asks for them gets them."""
    pattern = pattern_of(tile)
    laid = lay(region, pattern, turn, np.zeros(2))
    field = TileField(pattern, turn, np.zeros((1, 2)), (laid,))
    corners = field.outlines(field.whole)
    return len(corners), float(pattern.areas[laid.whole[:, 0]].sum() + shapely.area(laid.pieces).sum())


def floor(region: Polygon, tile: Tile, turn: float) -> tuple[int, float]:
    """Bare coordinates: the four corners of as many tiles about their anchors, in the lattice's axes, and nothing else."""
    del turn
    pitch = tile.size[0] + tile.joint
    count = int(region.area / pitch**2)
    index = np.stack(np.divmod(np.arange(count), 700), axis=1) * pitch
    corners = pattern_of(tile).members[0][None] + index[:, None, :]
    return len(corners), 0.0


def by_geopandas(region: Polygon, tile: Tile, turn: float) -> tuple[int, float]:
    """geopandas.clip of every tile."""
    import geopandas

    local, tiles, _ = every_tile(region, tile, turn)
    return 0, float(geopandas.clip(geopandas.GeoSeries(tiles), local).area.sum())


def timed(
    work: Callable[[Polygon, Tile, float], tuple[int, float]], region: Polygon, tile: Tile, turn: float, repeats: int
) -> tuple[float, float]:
    """Median processor seconds and the area found."""
    times, area = [], 0.0
    for _ in range(repeats):
        start = time.process_time()
        _, area = work(region, tile, turn)
        times.append(time.process_time() - start)
    return statistics.median(times), area


def main() -> None:
    """Measure and print."""
    size = next((float(a) for a in sys.argv[1:] if not a.startswith("-")), 150.0)
    tile = Tile(name="hall", size=(size, size), joint=3.0)
    region = hall()
    print(
        f"hall: {len(region.interiors)} holes, {shapely.get_num_coordinates(region)} vertices, about {region.area / (size + 3) ** 2:,.0f} tiles"
    )
    for turn in (0.0, 7.0, 45.0):
        low, _ = timed(floor, region, tile, turn, 7)
        own, area = timed(ours, region, tile, turn, 7)
        tree, other = timed(by_tree, region, tile, turn, 3)
        line = f"{turn:g} degrees: {own / low:.1f} times the floor, {tree / own:.0f} times faster than STRtree with GEOS; areas agree to {abs(area - other) / area:.1e}"
        if "--geopandas" in sys.argv:
            clip, _ = timed(by_geopandas, region, tile, turn, 1)
            line += f"; {clip / own:.0f} times faster than geopandas.clip"
        print(line)
    # the other patterns on the same floor, in tiles of the same module
    stack, _ = timed(ours, region, tile, 0.0, 5)
    for tile in (
        Tile(name="hall", size=(2 * size + 3, size), joint=3.0, pattern="herringbone"),
        Tile(name="hall", size=(size, size * 2 / 3**0.5), joint=3.0, pattern="hexagon"),
        Tile(name="hall", size=(size, size), joint=3.0, pattern="two-size"),
    ):
        other, _ = timed(ours, region, tile, 0.0, 5)
        print(f"{tile.pattern}: {other / stack:.1f} times stack")
    print(f"from 1e5 to 1e6 tiles the time grows with exponent {growth(region):.2f}")


def growth(region: Polygon) -> float:
    """Exponent of the time from about 1e5 to 1e6 tiles on one floor."""
    points = []
    for size in (235.0, 72.5):
        seconds, _ = timed(ours, region, Tile(name="hall", size=(size, size), joint=3.0), 7.0, 5)
        points.append((region.area / (size + 3.0) ** 2, seconds))
    (n0, t0), (n1, t1) = points
    return float(np.log(t1 / t0) / np.log(n1 / n0))


if __name__ == "__main__":
    main()
