"""The exact start against sampling, as a ratio in one run. Run: python -m tests.benchmarks.starting."""

from __future__ import annotations

import json
import statistics
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from layout.joints.divide import divide
from layout.plan.patterns import pattern_of
from layout.plan.values import Tile
from layout.plan.wishes import Criteria, criteria_of
from layout.shapes import turned
from layout.start.both_ways import searched
from layout.start.offsets import best_offsets
from layout.start.search import search_offsets
from layout.start.walls import Walls
from layout.tiles.widths import Play, narrowest
from tests.fuzz.starts import settler_of
from tests.rooms import plan_text


def random_walls(count: int) -> Walls:
    """Walls at random places, half of them with the room ahead."""
    rng = np.random.default_rng(1)
    return Walls.plain(rng.random(count) * 1e5, rng.random(count) < 0.5, np.zeros(count))


def sampled(walls: Walls, step: float) -> float:
    """The best of offsets a step apart, one evaluation after the other."""
    return max(float(walls.least(np.array([at]), 206.0, 200.0, play=False)[0]) for at in np.arange(0.0, 206.0, step))


def sampled_at_once(walls: Walls, step: float) -> float:
    """The same in one call for all offsets."""
    return float(walls.least(np.arange(0.0, 206.0, step), 206.0, 200.0, play=False).max())


def main(repeats: int = 15) -> None:
    """Measure and print."""
    for count in (4, 1000, 10_000):
        walls = random_walls(count)
        times: dict[str, list[float]] = {"ours": [], "sampled": [], "at once": []}
        ours = theirs = 0.0
        for _ in range(repeats):
            start = time.process_time()
            ours = best_offsets(walls, 206.0, 200.0)[0].drawn
            middle = time.process_time()
            theirs = sampled(walls, 1.0)
            times["ours"].append(middle - start)
            after = time.process_time()
            times["sampled"].append(after - middle)
            theirs = max(theirs, sampled_at_once(walls, 1.0))
            times["at once"].append(time.process_time() - after)
        own, one_by_one, at_once = (statistics.median(times[name]) for name in ("ours", "sampled", "at once"))
        print(
            f"{count} walls: {one_by_one / own:.1f} times faster than 1 mm sampling one by one, {at_once / own:.1f} than all at once; "
            f"narrowest cut {ours:.3f} against {theirs:.3f}"
        )


KINDS = (
    "no play",
    "no play, cuts within 5 equal",
    "a play of 5",
    "any play to 8",
    "a play of 5, on five phases",
    "a play of 5, about three phases",
    "out of square",
)


def hall_of(kind: str, count: int) -> tuple[Walls, Criteria]:
    """Many walls of one kind, and how starts among them are ranked.

    On five phases they stand to a tenth of a millimetre within 3 mm, about three anywhere within that.
    """
    rng = np.random.default_rng(1)
    at = rng.random(count) * 1e5
    if "phases" in kind:
        at = rng.choice(at[: 5 if "five" in kind else 3], count) + (
            np.round(rng.random(count) * 3.0, 1) if "five" in kind else rng.random(count) * 3.0
        )
    play = np.zeros(count) if "no play" in kind else rng.random(count) * 8.0 if "any" in kind else np.full(count, 5.0)
    walls = Walls.plain(at, rng.random(count) < 0.5, play)
    if kind == "out of square":
        walls = replace(walls, slant=rng.random(count) * 3.0)
    return walls, criteria_of([], [], 0.0 if kind == "no play" else 100.0, 0.0 if kind == "no play" else 5.0)


def many(few: int = 1000, more: int = 10_000, repeats: int = 3) -> None:
    """The exact start of ten times as many walls, to ten times as long: 1 where the time grows as the walls do."""
    for kind in KINDS:
        took: dict[int, float] = {}
        for count in (few, more):
            walls, criteria = hall_of(kind, count)
            times = []
            for _ in range(repeats):
                start = time.process_time()
                best_offsets(walls, 206.0, 200.0, criteria=criteria)
                times.append(time.process_time() - start)
            took[count] = statistics.median(times)
        ratio = took[more] / (took[few] * more / few)
        print(f"{kind}: {few} walls {took[few]:.3f} s, {more} walls {took[more]:.3f} s: {ratio:.2f} of as much a wall")


def search() -> None:
    """The search for a turned lattice against every start a millimetre apart: evaluations, and what each finds."""
    for seed in range(3):
        width, height, notch = np.random.default_rng(seed).integers([2400, 2000, 500], [3600, 2900, 1500])
        ring = np.array(
            [[0, 0], [width, 0], [width, height - notch], [width - notch, height - notch], [width - notch, height], [0, height]]
        )
        edges = turned(np.stack([ring, np.roll(ring, -1, axis=0)], axis=1).reshape(-1, 2).astype(float), -45.0).reshape(-1, 2, 2)
        pattern = pattern_of(Tile(name="t", size=(106.0, 50.0), joint=3.0, pattern="herringbone"))
        play = Play.plain(np.zeros(len(edges)))
        found = search_offsets(edges, play, pattern, pattern.widest, most=200)
        v1, v2 = pattern.vectors
        steps = [np.arange(0.0, float(np.hypot(*v))) / float(np.hypot(*v)) for v in (v1, v2)]
        sampled_best = max(narrowest(edges - (u * v1 + v * v2), play, pattern, pattern.widest) for u in steps[0] for v in steps[1])
        count = len(steps[0]) * len(steps[1])
        print(
            f"herringbone at 45 degrees: {found.value:.2f} in {found.evaluations} starts tried; 1 mm sampling {sampled_best:.2f} in {count}"
        )


TILES: tuple[dict[str, Any], ...] = (
    {"size": [240, 120], "joint": 4, "pattern": "herringbone"},
    {"size": [240, 120], "joint": 4, "pattern": "herringbone", "turn": 45},
    {"size": [300, 150], "joint": 4, "pattern": "herringbone", "turn": 17},
    {"size": [200, 200], "joint": 4, "turn": 45},
    {"size": [300, 200], "joint": 4, "turn": 17},
    {"size": [400, 200], "joint": 3, "pattern": "running", "turn": 45},
    {"size": [600, 100], "joint": 3, "pattern": "herringbone", "turn": 45},
)


def proved(seed: int = 1) -> None:
    """The search in real rooms of one bay: what a better start could give at the most than the best found, and the time of the search alone."""
    records = json.loads((Path(__file__).parent.parent / "data" / "real-rooms-sample.json").read_text())["rooms"]
    gaps, times = [], []
    for number, k in enumerate(np.random.default_rng(seed).permutation(len(records)).tolist()):
        rules = {"movement": "DE_INTERIOR", "wall_tolerance": 5 * (number % 2)}
        text = plan_text({"name": "Room", "outline": records[k]["outer"]}, tiles={"floor": TILES[number % len(TILES)]}, rules=rules)
        settler = settler_of(text)
        if len(divide(settler.undivided, (0.0, 0.0)).bays) > 1:
            continue
        start = time.process_time()
        found = searched(settler.faces, settler.undivided)
        times.append(time.process_time() - start)
        gaps.append(found.gap - 5.0 * (number % 2) if found.gap > 1.0 else found.gap)  # a start within the tolerance may be taken
    print(f"{len(gaps)} real rooms: {sum(gap <= 1.0 for gap in gaps)} proved to 1 mm, cuts within the walls' tolerance being equal; "
          f"search {statistics.median(times):.2f} s of CPU, at the most {max(times):.2f}")  # fmt: skip


if __name__ == "__main__":
    main()
    many()
    search()
    proved()
