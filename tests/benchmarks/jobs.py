"""How a job of many small rooms grows, as exponents of its number of rooms. Run: python -m tests.benchmarks.jobs [rooms].

An exponent of 1 is linear. Rooms are rectangles of 1.5 to 3.5 by 1.6 to 3.1 m with a door and a gully, none like another; then the same number of rooms of ten kinds,
as a hospital has them. Nothing is kept from one measurement to the next.
"""

from __future__ import annotations

import math
import os
import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

os.environ["OMP_NUM_THREADS"] = os.environ["OPENBLAS_NUM_THREADS"] = "1"

import numpy as np

import layout
from layout.memo import forget

if TYPE_CHECKING:
    from collections.abc import Callable

KINDS = 10


def job(rooms: int, kinds: int | None = None) -> str:
    """A plan of so many rooms, of so many kinds: each another if not said."""
    rng = np.random.default_rng(4)
    sizes = [(int(rng.integers(1500, 3500)), int(rng.integers(1600, 3100))) for _ in range(kinds or rooms)]
    text = ["[tiles.floor]\nsize = [200, 200]\njoint = 6\n"]
    for k in range(rooms):
        w, h = sizes[k % len(sizes)]
        text.append(
            f'[[rooms]]\nname = "R{k}"\nat = [{k % 20 * 4000}, {k // 20 * 4000}]\noutline = [[0, 0], [{w}, 0], [{w}, {h}], [0, {h}]]\n'
            f'[[rooms.openings]]\nwall = 1\noffset = 400\nwidth = 800\n[[rooms.drains]]\nkind = "gully"\nat = [{w // 2}, {h // 2}]\n'
        )
    return "".join(text)


def taken(rooms: int) -> dict[str, float]:
    """CPU seconds of each step."""
    plan, result = layout.parse_plan(job(rooms)), {}

    def timed(name: str, step: Callable[[], object]) -> object:
        start = time.process_time()
        found = step()
        result[name] = time.process_time() - start
        return found

    forget()
    setout = timed("set out", lambda: layout.set_out(plan))
    assert isinstance(setout, layout.SetOut)
    timed("JSON", lambda: layout.to_json(layout.setout_record(setout)))
    timed("cuts", lambda: [setout.cuts_of(k, 0) for k in range(rooms)])
    takeoff = layout.take_off(setout)
    timed("orders", lambda: layout.place_orders(takeoff))
    few = layout.parse_plan(job(rooms, KINDS))
    timed(f"set out, of {KINDS} kinds", lambda: layout.set_out(few))
    return result


def on_cores(rooms: int, plans: int = 6) -> float:
    """How many times as fast two processes do a folder of plans as one."""
    with tempfile.TemporaryDirectory() as folder:
        paths = []
        for k in range(plans):
            paths.append(Path(folder) / f"{k}.toml")
            paths[-1].write_text(job(rooms // plans), encoding="utf-8")
        seconds = []
        for workers in (1, 2):
            start = time.perf_counter()
            layout.batch(paths, workers=workers)
            seconds.append(time.perf_counter() - start)
    return seconds[0] / seconds[1]


def main() -> None:
    """Print seconds of the larger job and exponents from a quarter of it."""
    rooms = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    small, large = taken(rooms // 4), taken(rooms)
    for name, seconds in large.items():
        print(f"{name}: {rooms} rooms {seconds:.2f} s CPU, exponent {math.log(seconds / small[name]) / math.log(4):.2f}")
    print(f"a batch of {rooms} rooms on two processes to one: {on_cores(rooms):.2f} times as fast")


if __name__ == "__main__":
    main()
