"""The exact start against sampling, as a ratio in one run. Run: python -m tests.benchmarks.starting."""

from __future__ import annotations

import statistics
import time

import numpy as np

from layout.start import Walls, best_offsets


def random_walls(count: int) -> Walls:
    """Walls at random places, half of them with the room ahead."""
    rng = np.random.default_rng(1)
    none = np.zeros(count, dtype=bool)
    return Walls(rng.random(count) * 1e5, rng.random(count) < 0.5, np.zeros(count), none, np.ones(count))


def sampled(walls: Walls, step: float) -> float:
    """The best of offsets a step apart, one evaluation after the other."""
    return max(float(walls.least(np.array([at]), 206.0, 200.0, play=False)[0]) for at in np.arange(0.0, 206.0, step))


def main(repeats: int = 15) -> None:
    """Measure and print."""
    for count in (4, 1000, 10_000):
        walls = random_walls(count)
        times: dict[str, list[float]] = {"ours": [], "sampled": []}
        ours = theirs = 0.0
        for _ in range(repeats):
            start = time.process_time()
            ours = best_offsets(walls, 206.0, 200.0)[0].drawn
            middle = time.process_time()
            theirs = sampled(walls, 1.0)
            times["ours"].append(middle - start)
            times["sampled"].append(time.process_time() - middle)
        ratio = statistics.median(times["sampled"]) / statistics.median(times["ours"])
        print(f"{count} walls: {ratio:.1f} times faster than 1 mm sampling; narrowest cut {ours:.3f} against {theirs:.3f}")


if __name__ == "__main__":
    main()
