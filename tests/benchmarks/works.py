"""The programme of many rooms against their set-out, and how it grows. Run: python -m tests.benchmarks.works."""

from __future__ import annotations

import datetime as dt
import math
import time

from layout.programme.stages import plan_works
from layout.quantities.takeoff import take_off
from layout.readers.planfile import parse_plan
from layout.setout.conduct import set_out

START = dt.datetime(2026, 11, 30, 7)  # noqa: DTZ001  # site time has no zone


def job(rooms: int, quartz: bool) -> str:
    """A plan of small rooms that differ, with tiled walls."""
    head = f"[rules]\nquartz_last = {'true' if quartz else 'false'}\n[tiles.floor]\nsize = [300, 300]\n"
    sides = [(3000 + 37 * k % 2000, 2000 + 53 * k % 1500) for k in range(rooms)]
    return head + "".join(
        f'[[rooms]]\nname = "R{k}"\noutline = [[0, 0], [{w}, 0], [{w}, {h}], [0, {h}]]\ntile_height = 2100\n'
        for k, (w, h) in enumerate(sides)
    )


def main(few: int = 30, many: int = 300) -> None:
    """Measure and print."""
    for quartz in (True, False):
        taken = {}
        for rooms in (few, many):
            begin = time.process_time()
            takeoff = take_off(set_out(parse_plan(job(rooms, quartz))))
            middle = time.process_time()
            works = plan_works(takeoff, start=START)
            taken[rooms] = time.process_time() - middle
            share = taken[rooms] / (middle - begin)
            last = "broadcast" if quartz else "bare"
            print(
                f"{rooms} rooms, last coat {last}: {len(works.stages)} stages, {len(works.batches)} packs, {taken[rooms]:.2f} s, {share:.2f} of the set-out"
            )
        print(f"growth: exponent {math.log(taken[many] / taken[few]) / math.log(many / few):.2f}")


if __name__ == "__main__":
    main()
