"""Starts against dense sampling, by command: `python -m tests.fuzz.starts --rooms 200 --seed 1 [--first 0] [--seconds 600]`.

Rooms square, bent, skew, with a step; a third with a structural joint one way or the other, some long enough for joints by rule, some with
a column; in stack, running bond and herringbone; walls taken as typed or known to 5 mm, weak pieces first or the narrowest cut alone.
Starts are drawn at random over one cell, as a plan that gives them would lay them, and the best of them moved uphill. What beats the start
that was taken by more than walls are known to is told with its room as text, so that it can become a test; 1 if any does that was said
to be the best of all.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from layout.joints.divide import divide
from layout.lining.build import build_lining
from layout.readers.planfile import parse_plan
from layout.setout import surface as surfaces
from layout.setout.conduct import set_out
from layout.start.faces import faces_of
from layout.start.laid import laid_out
from layout.start.measured import measure
from layout.start.mends import weak_count
from tests.rooms import plan_text

if TYPE_CHECKING:
    from layout.start.settle import Settler

SAMPLES, STEPS = 24, (16.0, 6.0, 2.0)
"""Starts drawn in each room, and how far the best of them is moved each way while that helps, mm."""
NEAR = 0.3
"""Starts are told and tried to a tenth of a millimetre: what differs less is the same, mm."""
TILES = (
    {"size": [200, 200], "joint": 4},
    {"size": [300, 150], "joint": 4},
    {"size": [300, 150], "joint": 4, "pattern": "running"},
    {"size": [400, 200], "joint": 3, "pattern": "running", "offset": 0.333},
    {"size": [240, 120], "joint": 4, "pattern": "herringbone"},
)


def outline_of(rng: np.random.Generator, kind: int, w: int, h: int) -> list[list[int]]:
    """A room: square, with a step, bent in one wall, or skew."""
    a, b, k = int(rng.integers(300, 900)), int(rng.integers(300, 800)), int(rng.integers(-4, 5))
    return [
        [[0, 0], [w, 0], [w, h], [0, h]],
        [[0, 0], [w, 0], [w, h - b], [w - a, h - b], [w - a, h], [0, h]],
        [[0, 0], [w, 0], [w, h], [w // 2, h + k], [0, h]],
        [[0, 0], [w, 0], [w + k * 3, h], [0, h + k * 2]],
    ][kind]


def room_of(rng: np.random.Generator, number: int) -> tuple[dict[str, Any], dict[str, Any], dict[str, Any]]:
    """A random room, its tile and its rules."""
    long = number % 7 == 0
    w, h = (int(rng.integers(4200, 5600)) if long else int(rng.integers(1500, 3200))), int(rng.integers(1400, 2600))
    room: dict[str, Any] = {"outline": outline_of(rng, number % 4, w, h)}
    if number % 3 == 0:
        at, across = float(rng.uniform(0.3, 0.7)), int(rng.integers(0, 4)) == 0
        line = [[0, int(at * h)], [w, int(at * h)]] if across else [[int(at * w), 0], [int(at * w), h]]
        room["structural_joints"] = [{"line": line, "width": int(rng.choice([8, 20, 25]))}]
    if number % 5 == 0:
        x, y, p, q = int(w * 0.3), int(h * 0.35), int(rng.integers(150, 700)), int(rng.integers(150, 500))
        room["columns"] = [{"outline": [[x, y], [x + p, y], [x + p, y + q], [x, y + q]]}]
    tile = dict(TILES[int(rng.choice(len(TILES), p=[0.2, 0.2, 0.3, 0.2, 0.1]))])
    rules: dict[str, Any] = {
        "movement": "DE_INTERIOR",
        "wall_tolerance": 0 if number % 2 else 5,
        "bays": "cut" if number % 4 > 1 else "shift",
    }
    if rng.random() < 0.6:
        if "structural_joints" not in room:
            tile["least_cut"] = 1
        rules["start_order"] = ["least", "narrowest"]
    return room, tile, rules


def settler_of(text: str) -> Settler:
    """What settles the floor of a plan of one room, in the axes that it is typed in."""
    lining = build_lining(parse_plan(text, "sampled.toml"), 0)
    assert lining.floor.tile is not None
    return surfaces._typed_settler(faces_of(lining, lining.floor, lining.floor.tile), surfaces.Before({}))


def given(settler: Settler, at: np.ndarray, *, most_weak: float) -> float:
    """The narrowest cut over the play of a start as a plan that gives it lays it, mm; under nought where it leaves more weak pieces."""
    start = (float(at[0]), float(at[1]))
    made = [divide(settler.undivided, start)]
    if settler.faces.aligned and settler.faces.pattern.level_courses and made[0].cuts:
        made += [each.abutted(start) for each in (settler, replace(settler, courses=True))]
    best = -1.0
    for division in made:
        field, bays = laid_out(settler.faces, division)
        if weak_count(field) <= most_weak:
            best = max(best, measure(settler.faces, field, bays).worst)
    return best


def sampled(settler: Settler, rng: np.random.Generator, *, most_weak: float, samples: int = SAMPLES) -> tuple[float, np.ndarray]:
    """The best of some starts drawn over one cell and moved uphill: what it gives, mm, and where it is in the joint frame."""
    vectors = settler.faces.pattern.vectors
    starts = np.round(rng.random((samples, 2)) @ vectors, 1)
    values = [given(settler, at, most_weak=most_weak) for at in starts]
    best, at = max(values), starts[int(np.argmax(values))]
    for step in STEPS:
        for move in np.array([[1.0, 0.0], [-1.0, 0.0], [0.0, 1.0], [0.0, -1.0]]) * step:
            while (value := given(settler, at + move, most_weak=most_weak)) > best + NEAR / 3:
                best, at = value, at + move
    return best, at


def beaten_by(text: str, rng: np.random.Generator, samples: int = SAMPLES) -> tuple[float, str, np.ndarray]:
    """How much wider the narrowest cut of a sampled start is than that of the one taken, mm, how that was found, and where."""
    plan = parse_plan(text, "sampled.toml")
    floor = set_out(plan).rooms[0].floor
    settler = settler_of(text)
    alone = bool(plan.rules.start_order) and plan.rules.start_order[0] != "weak"
    weak = weak_count(floor.field)
    value, at = sampled(settler, rng, most_weak=np.inf if alone or weak else 0.0, samples=samples)
    # whole tiles from a given joint are taken where no cut is under the least
    if settler.undivided.fixed and floor.field.pattern.separable:
        value = min(value, floor.tile.least_cut)
    allowed = plan.rules.wall_tolerance + floor.start.gap
    return value - floor.start.worst - allowed, floor.start.method, at


def main(asked: list[str] | None = None) -> int:
    """Sample until so many rooms are done or the time is up."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rooms", type=int, default=200)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--seconds", type=float, default=float("inf"))
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--samples", type=int, default=SAMPLES)
    said = parser.parse_args(asked)
    counts: Counter[str] = Counter()
    begun, end = time.process_time(), time.monotonic() + said.seconds
    for number in range(said.first, said.first + said.rooms):
        if time.monotonic() > end:
            break
        rng = np.random.default_rng([said.seed, number])
        room, tile, rules = room_of(rng, number)
        text = plan_text({"name": "Room", **room}, tiles={"floor": tile}, rules=rules)
        by, method, at = beaten_by(text, rng, samples=said.samples)
        counts["rooms"] += 1
        counts[method] += 1
        if by > NEAR:
            counts[f"beaten, {method}"] += 1
            print(f"room {number}, seed {said.seed}: beaten by {by:.1f} at {np.round(at, 1).tolist()}, told {method}\n{text}", flush=True)
    told = ", ".join(f"{count} {what}" for what, count in counts.items())
    print(f"{told}; {time.process_time() - begun:.0f} s of CPU", flush=True)
    return 1 if counts["beaten, exact"] or counts["beaten, search"] else 0


if __name__ == "__main__":
    sys.exit(main())
