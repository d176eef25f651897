"""Random rooms, every tile as GEOS has it, by command: `python -m tests.fuzz.rooms --rooms 100000 --seed 1 [--seconds 600]`.

Rooms square and skew, half of them with a hole that tiles cross, in every pattern, turned by any quarter of an hour of the clock,
from a corner or from anywhere. What differs is told once with its room as text, so that it can become a test; 1 if anything does.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter

import numpy as np
import shapely
from shapely import Polygon

from layout.plan.patterns import pattern_of
from tests.rooms import random_rectilinear, random_skew
from tests.tiles.test_tiles import PATTERNS, against_geos

WIDEST = 2400
"""Rooms are scaled down to this: a few hundred tiles show as much as thousands, mm."""


def region_of(rng: np.random.Generator, number: int) -> shapely.geometry.base.BaseGeometry:
    """The floor of a random room."""
    room = random_rectilinear(rng) if number % 2 else random_skew(rng)
    outline = np.array(room["outline"], dtype=float)
    region = Polygon(outline * min(1.0, WIDEST / np.ptp(outline, axis=0).max()))
    if number % 4 > 1:
        return region
    x, y = region.representative_point().coords[0]
    w, h = rng.uniform(20, 260, 2)
    holed: shapely.geometry.base.BaseGeometry = shapely.difference(region, shapely.box(x - w / 2, y - h / 2, x + w / 2, y + h / 2))
    return holed


def main(given: list[str] | None = None) -> int:
    """Compare until so many rooms are done or the time is up."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rooms", type=int, default=100_000)
    parser.add_argument("--seconds", type=float, default=float("inf"))
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args(given)
    rng = np.random.default_rng(asked.seed)
    patterns = [pattern_of(tile) for tile in PATTERNS]
    counts: Counter[str] = Counter()
    begun, end = time.process_time(), time.monotonic() + asked.seconds
    while counts["rooms"] < asked.rooms and time.monotonic() < end:
        number = counts["rooms"]
        region, turn = region_of(rng, number), float(rng.integers(0, 1440)) / 4.0
        origin = rng.random(2) * 300 if number % 5 == 0 else shapely.get_coordinates(region)[0]
        counts["rooms"] += 1
        try:
            laid, _ = against_geos(region, patterns[number % len(patterns)], turn, origin)
        except AssertionError as error:
            counts["faults"] += 1
            print(
                f"room {number}, seed {asked.seed}, turn {turn:g}, from {origin.tolist()}: {str(error)[:200]}\n  {region.wkt}", flush=True
            )
            continue
        counts["whole tiles"] += len(laid.whole)
        counts["pieces"] += len(laid.cut)
    told = ", ".join(f"{counts[what]:,} {what}" for what in ("rooms", "whole tiles", "pieces", "faults"))
    print(f"{told}; {time.process_time() - begun:.0f} s of CPU", flush=True)
    return 1 if counts["faults"] else 0


if __name__ == "__main__":
    sys.exit(main())
