"""Twins of real rooms, by command: `python -m tests.fuzz.twins --rooms 60 [--seed 1] [--seconds 600]`.

Each room is set out shifted, turned by a quarter and by 17.3 degrees, typed the other way round, renumbered, and mirrored: all but the mirrored have
its figures (floor, joints, tape, take-off), the mirrored its widest narrowest cut, as a square stack is its own mirror image. What differs is told once; 1 if anything does.
"""

from __future__ import annotations

import argparse
import json
import math
import sys
import time
from collections import Counter
from typing import Any

import numpy as np

from layout.errors import LayoutError
from tests.lining.test_own_frame import figures, renumbered
from tests.rooms import moved, reversed_outline
from tests.setout.test_real_rooms import BESIDE, HERE, doors_of

TILES = (
    {"size": [300, 300], "joint": 4},
    {"size": [300, 150], "joint": 4, "pattern": "running"},
    {"size": [200, 200], "joint": 6, "pattern": "diagonal"},
)
"""The first is its own mirror image at every start."""
RULES = {"movement": "EJ171_INTERIOR"}
WITHIN = {"turned by 17.3": (2e-5, 0.02), "reversed": (5e-6, 0.002), "mirrored": (0.0, 5.0)}
"""How near figures are, of themselves and in mm: corners and offsets of doors are typed in thousandths; of starts equal within the walls' tolerance a mirror
image may have another."""
LARGEST = 40.0
"""Rooms over this are left out: they take long and show no more, m²."""


def room_of(record: dict[str, Any]) -> dict[str, Any]:
    """A record as a room, from its first corner and in thousandths, as a plan has it."""
    base = np.array(record["outer"][0])

    def there(ring: Any) -> list[list[float]]:
        near: list[list[float]] = (np.round(np.array(ring) - base, 3) + 0.0).tolist()
        return near

    room: dict[str, Any] = {"outline": there(record["outer"])}
    if record.get("holes"):
        room["columns"] = [{"outline": there(hole)} for hole in record["holes"]]
    doors = doors_of(record)
    return {**room, "openings": doors} if doors else room


def mirrored(room: dict[str, Any]) -> dict[str, Any]:
    """The room as a mirror has it: wall numbers stay, and offsets from each wall's first corner."""
    flipped = {**room, "outline": [[-x, y] for x, y in room["outline"]]}
    if "columns" in room:
        flipped["columns"] = [{"outline": [[-x, y] for x, y in each["outline"]]} for each in room["columns"]]
    return flipped


def twins_of(room: dict[str, Any]) -> dict[str, dict[str, Any]]:
    """The room told otherwise, by how."""
    return {
        "shifted": moved(room, shift=(98_765.432, -4_321.987)),
        "turned by a quarter": moved(room, turn=90),
        "turned by 17.3": moved(room, turn=17.3, shift=(500, 300)),
        "reversed": reversed_outline(room),
        "renumbered": renumbered(room, 2),
        "mirrored": mirrored(room),
    }


def unlike(room: dict[str, Any], tile: dict[str, Any], counts: Counter[str]) -> list[str]:
    """What twins of a room have otherwise, in words."""
    own_counts, own = figures(room, tile, RULES)
    result = []
    for how, twin in twins_of(room).items():
        if how == "mirrored" and tile is not TILES[0]:
            continue
        counts[how] += 1
        its_counts, found = figures(twin, tile, RULES)
        near = WITHIN.get(how, (1e-9, 1e-6))
        keys = ["worst 0"] if how == "mirrored" else [*own, *(key for key in found if key not in own)]
        off = [key for key in keys if not math.isclose(own.get(key, 0.0), found.get(key, 0.0), rel_tol=near[0], abs_tol=near[1])]
        wrong = [f"{key} {own.get(key)} | {found.get(key)}" for key in off]
        if how != "mirrored" and its_counts != own_counts:
            wrong.insert(0, f"{own_counts} | {its_counts}")
        if wrong:
            counts[f"{how}, unlike"] += 1
            result.append(f"{how}: {'; '.join(wrong[:4])}")
    return result


def main(given: list[str] | None = None) -> int:
    """Compare until so many rooms are done or the time is up."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rooms", type=int, default=60)
    parser.add_argument("--seconds", type=float, default=float("inf"))
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args(given)
    whole = BESIDE / "real-rooms.json"
    records = json.loads((whole if whole.exists() else HERE / "real-rooms-sample.json").read_text())["rooms"]
    rng = np.random.default_rng(asked.seed)
    counts: Counter[str] = Counter()
    begun, end = time.process_time(), time.monotonic() + asked.seconds
    for number in rng.permutation(len(records)).tolist():
        if counts["rooms"] >= asked.rooms or time.monotonic() > end:
            break
        room = room_of(records[number])
        if float(np.ptp(np.array(room["outline"]), axis=0).prod()) / 1e6 > LARGEST:
            continue
        tile = TILES[counts["rooms"] % len(TILES)]
        try:
            wrong = unlike(room, tile, counts)
        except LayoutError as error:
            counts["refused"] += 1
            print(f"{records[number]['id']}: {str(error)[:160]}", flush=True)
            continue
        counts["rooms"] += 1
        for line in wrong:
            print(f"{records[number]['id']}, {tile.get('pattern', 'stack')}: {line}", flush=True)
    print(f"{dict(counts)} in {time.process_time() - begun:.0f} s of CPU")
    return int(any(key.endswith("unlike") for key in counts))


if __name__ == "__main__":
    sys.exit(main())
