"""What part of a set-out its joints take, how set-outs grow with corners and pipes, as ratios, and the largest that must be borne, in s of CPU.

Run: python -m tests.benchmarks.dividing [--largest].
"""

from __future__ import annotations

import math
import statistics
import sys
import time
from typing import TYPE_CHECKING, Any

import numpy as np

from layout.joints import divide, options, rectangles, sawing
from layout.joints.divide import divided
from layout.joints.values import Division
from layout.memo import afresh
from layout.setout.conduct import set_out
from layout.start import mends, settle
from tests.rooms import plan_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from layout.plan.values import Plan

SIMPLE = {"outline": [[0, 0], [6500, 0], [6500, 2900], [4100, 2900], [4100, 4700], [0, 4700]]}
SKEW = {"outline": [[0, 0], [40_000, 700], [39_200, 30_000], [500, 29_600]]}
COLUMNS = {
    "outline": [[0, 0], [30_000, 300], [29_500, 20_000], [14_000, 19_800], [13_800, 26_000], [200, 25_700]],
    "columns": [
        {"outline": [[x, y], [x + 400, y], [x + 400, y + 400], [x, y + 400]]}
        for x in (6000, 12_000, 18_000, 24_000)
        for y in (6000, 12_000)
    ],
}


def clear() -> None:
    """Forget what was found of parts."""
    for module in (divide, options, sawing, rectangles):
        for each in vars(module).values():
            if hasattr(each, "cache_clear"):
                each.cache_clear()


def seconds(plan: Plan) -> float:
    """CPU of a set-out that nothing before it has prepared."""
    clear()
    start = time.process_time()
    with afresh():
        set_out(plan)
    return time.process_time() - start


def share(room: dict[str, Any], rule: str, repeats: int = 5) -> float:
    """Part of a set-out that goes into dividing: into every start that is tried, and into what is told of the one taken."""
    plan, asked = plan_of(room, rules={"movement": rule}), []

    def noted(*given: Any) -> Iterator[Division]:
        asked.append(given)
        return divided(*given)

    for module in (settle, mends):
        setattr(module, "divided", noted)  # noqa: B010
    try:
        seconds(plan)
    finally:
        for module in (settle, mends):
            setattr(module, "divided", divided)  # noqa: B010
    parts = []
    for _ in range(repeats):
        whole = seconds(plan)
        clear()
        start = time.process_time()
        told = [Division.joined(divided(*given)) for given in asked][-1].rejected
        parts.append((time.process_time() - start) / whole)
        assert isinstance(told, tuple)
    return statistics.median(parts)


def saw_tooth(corners: int) -> dict[str, Any]:
    """A room 20 m long, one wall of which goes in and out."""
    steps = [[20_000 - 20_000 * k / (corners - 3), 5000 - (200 if k % 2 else 0)] for k in range(corners - 2)]
    return {"outline": [[0, 0], [20_000, 0], *steps]}


def lobed(corners: int) -> dict[str, Any]:
    """A round room with five lobes and a rough wall."""
    angle = np.linspace(0.0, 2.0 * math.pi, corners, endpoint=False)
    radius = 6000 + 1500 * np.sin(5 * angle) + np.random.default_rng(1).uniform(-40, 40, corners)
    return {"outline": np.column_stack([radius * np.cos(angle), radius * np.sin(angle)]).round(3).tolist()}


def piped(count: int) -> dict[str, Any]:
    """A floor of 10 x 10 m with pipes through it."""
    side = math.ceil(count**0.5)
    pipes = [{"at": [300 + k % side * 400.0, 300 + k // side * 400.0], "diameter": 60} for k in range(count)]
    return {"outline": [[0, 0], [10_000, 0], [10_000, 10_000], [0, 10_000]], "pipes": pipes}


LARGEST = ((lobed, "corners of a lobed room", 10_000, 60), (saw_tooth, "corners of a saw-tooth", 2_000, 10), (piped, "pipes", 500, 3))
"""Rooms that must be borne, and the CPU that their set-out may take, s."""


def largest() -> None:
    """Measure and print the largest rooms."""
    for made, what, count, goal in LARGEST:
        print(f"{count:,} {what}: {seconds(plan_of(made(count))):.1f} s of CPU, goal {goal}", flush=True)


def main() -> None:
    """Measure and print."""
    if "--largest" in sys.argv:
        largest()
        return
    for name, room in (("simple room", SIMPLE), ("skew hall", SKEW), ("skew hall with columns", COLUMNS)):
        for rule in ("EJ171_INTERIOR_WET_SUN", "DE_INTERIOR"):
            print(f"{name}, {rule}: joints take {share(room, rule):.0%} of the set-out")
    for what, made, few in (("corners of a saw-tooth", saw_tooth, 500), ("corners of a lobed room", lobed, 500), ("pipes", piped, 100)):
        small, large = seconds(plan_of(made(few))), seconds(plan_of(made(4 * few)))
        print(f"{4 * few} {what}: {large / small:.1f} times {few}, exponent {math.log(large / small) / math.log(4):.2f}")


if __name__ == "__main__":
    main()
