"""The fewest tiles of rectified ware: CPU time, tiles and bound. Run: python -m tests.benchmarks.cutting.

Widths and sizes are drawn at random in steps of half a millimetre from 20 mm up to the tile, kerf 2 mm. The bound of strips is that of
all ways to cut a length (linear programme or dual feasible functions); that of pieces the linear programme over tiles cut in
columns and each column across, which more general cutting could beat.
"""

from __future__ import annotations

import time
from collections import Counter

import numpy as np

from layout.quantities.blanks import Blank
from layout.quantities.nesting import nest

STRIPS = ((300, 30), (300, 0), (600, 30), (600, 0))
PIECES = ((300, 40), (300, 200), (600, 400))


def strips(count: int, tile: int, sizes: int, seed: int = 1) -> Counter[Blank]:
    """Strips of so many sizes, or of any for 0; half millimetres."""
    rng = np.random.default_rng(seed)
    pool = np.arange(40, 2 * tile - 10)
    widths = rng.choice(rng.choice(pool, sizes, replace=False) if sizes else pool, count)
    return Counter(Blank(int(width), 2 * tile, frozenset()) for width in widths)


def pieces(count: int, tile: int, sizes: int, seed: int = 1) -> Counter[Blank]:
    """Rectangles of so many sizes, half millimetres."""
    rng = np.random.default_rng(seed)
    pool = rng.integers(40, 2 * tile - 10, (sizes, 2))
    return Counter(Blank(int(w), int(h), frozenset()) for w, h in pool[rng.integers(0, sizes, count)])


def measured(made: Counter[Blank], tile: int) -> str:
    """One cutting in words."""
    start = time.process_time()
    done = nest(list(made), list(made.values()), (2 * tile, 2 * tile), kerf=4, turns=(0, 1, 2, 3), anywhere=True)
    spent = time.process_time() - start
    return f"{made.total()} of {len(made)} sizes from {tile} x {tile}: {len(done.tiles)} tiles, bound {done.bound}, {spent:.2f} s"


def main() -> None:
    """Measure and print."""
    for tile, sizes in STRIPS:
        print("strips", measured(strips(5000, tile, sizes), tile))
    for tile, sizes in PIECES:
        print("pieces", measured(pieces(10_000, tile, sizes), tile))


if __name__ == "__main__":
    main()
