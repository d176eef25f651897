"""Shifts beside free starts, by command: `python -m tests.fuzz.offered --rooms 60 [--seed 1] [--first 0] [--seconds 600]`.

Real rooms with columns, pipes, gullies, plinths and a structural joint set in them at random, in several orders of the criteria. Every shift that
a finding offers for a floor's free start, and some that none offers, are typed as the plan's start: none may be better in the order than the start
that was taken. What is better is told with its plan as text; 1 if any is.
"""

from __future__ import annotations

import argparse
import json
import re
import sys
import time
from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from shapely import Polygon

from layout.errors import LayoutError
from layout.readers.planfile import parse_plan
from layout.setout.conduct import set_out
from tests.fuzz.twins import room_of
from tests.rooms import plan_text
from tests.setout.test_real_rooms import BESIDE, HERE

if TYPE_CHECKING:
    from layout.plan.values import Plan
    from layout.setout.values import RoomSetOut, SurfaceSetOut

TILES = (
    {"size": [200, 200], "joint": 6},
    {"size": [300, 300], "joint": 4},
    {"size": [300, 150], "joint": 4, "pattern": "running"},
    {"size": [400, 200], "joint": 3},
    {"size": [200, 200], "joint": 6, "pattern": "diagonal"},
)
ORDERS: tuple[list[str], ...] = ([], [], [], ["least", "narrowest"], ["least", "weak", "narrowest"])
"""Orders of the criteria; the first is the one that is taken if a plan gives none."""
CLEAR, TRIES = 40.0, 60
"""How far what is set stands off walls at the least, mm, and how often a place for it is tried."""
OWN = (0.05, 0.1, 0.2, 0.35, 0.5)
"""Shifts tried besides those that are offered, parts of half the module along one direction."""
NEAR = 0.06
"""Starts are typed to a tenth of a millimetre, mm."""
LARGEST = 60.0
"""Rooms over this are left out, m²."""


def records() -> list[dict[str, Any]]:
    """Real rooms: all of them where they are beside the project, else the sample."""
    whole = BESIDE / "real-rooms.json"
    found: list[dict[str, Any]] = json.loads((whole if whole.exists() else HERE / "real-rooms-sample.json").read_text())["rooms"]
    return found


def box_in(room: dict[str, Any], taken: list[Polygon], size: tuple[int, int], rng: np.random.Generator) -> list[list[int]] | None:
    """Corners of a box clear of walls and of what is set already, every second one near a corner of the room; None if there is no place."""
    inside = Polygon(room["outline"], [each["outline"] for each in room.get("columns", [])]).buffer(-CLEAR)
    x0, y0, x1, y1 = inside.bounds if not inside.is_empty else (0.0, 0.0, 0.0, 0.0)
    for _ in range(TRIES):
        x, y = rng.uniform(x0, max(x1 - size[0], x0 + 1)), rng.uniform(y0, max(y1 - size[1], y0 + 1))
        if rng.random() < 0.5:
            corner = room["outline"][int(rng.integers(len(room["outline"])))]
            x, y = corner[0] + rng.choice([-1, 1]) * rng.uniform(44, 120), corner[1] + rng.choice([-1, 1]) * rng.uniform(200, 900)
        found = shapely.box(round(x), round(y), round(x) + size[0], round(y) + size[1])
        if inside.contains(found) and not any(found.buffer(60).intersects(each) for each in taken):
            taken.append(found)
            return [
                [round(x), round(y)],
                [round(x) + size[0], round(y)],
                [round(x) + size[0], round(y) + size[1]],
                [round(x), round(y) + size[1]],
            ]
    return None


def furnished(record: dict[str, Any], rng: np.random.Generator) -> dict[str, Any]:
    """A real room with one to three kinds of things set in it."""
    room = room_of(record)
    taken: list[Polygon] = []
    for kind in rng.permutation(["columns", "plinths", "pipes", "drains", "joint"])[: int(rng.integers(1, 4))].tolist():
        if kind == "joint":
            x0, y0, x1, y1 = Polygon(room["outline"]).bounds
            x = round(x0 + rng.uniform(0.3, 0.7) * (x1 - x0))
            room["structural_joints"] = [{"line": [[x, y0], [x, y1]], "width": 20}]
            continue
        size = (int(rng.integers(15, 60)) * 10, int(rng.integers(15, 50)) * 10)
        corners = box_in(room, taken, {"pipes": (160, 160), "drains": (300, 300)}.get(kind, size), rng)
        if corners is None:
            continue
        middle = [(corners[0][0] + corners[2][0]) / 2, (corners[0][1] + corners[2][1]) / 2]
        made: dict[str, dict[str, Any]] = {
            "columns": {"outline": corners},
            "plinths": {"outline": corners, "height": 150},
            "pipes": {"at": middle, "diameter": 110},
            "drains": {"kind": "gully", "at": middle, "frame": [200, 200]},
        }
        room.setdefault(kind, []).append(made[kind])
    return room


def plan_text_of(seed: int, number: int, among: list[dict[str, Any]]) -> str:
    """A plan of one real room, drawn by seed and number."""
    rng = np.random.default_rng([seed, number])
    room = furnished(among[int(rng.integers(len(among)))], rng)
    rules: dict[str, Any] = {"wall_tolerance": int(rng.choice([0, 5])), "bays": str(rng.choice(["shift", "cut"]))}
    order = ORDERS[int(rng.integers(len(ORDERS)))]
    if order:
        rules["start_order"] = order
    return plan_text({"name": "Room", **room}, tiles={"floor": dict(TILES[int(rng.integers(len(TILES)))])}, rules=rules)


def weak_pieces(floor: SurfaceSetOut) -> int:
    """Pieces that vanish or fall apart when 15 mm are eaten off all round, or whose hole is under 25 mm from their edge: a count of our own."""
    return sum(
        eaten.is_empty or eaten.geom_type != "Polygon" or any(ring.distance(piece.exterior) < 25.0 for ring in piece.interiors)
        for piece, eaten in ((piece, piece.buffer(-15.0, join_style="mitre")) for piece in floor.field.pieces())
    )


def short_of_least(floor: SurfaceSetOut, tolerance: float) -> float:
    """How far the narrowest cut is under the least, as drawn, or over the play by more than walls are known to, mm."""
    start, least = floor.start, floor.tile.least_cut
    return max(least - start.smallest, least - tolerance - start.worst, 0.0)


def better(plan: Plan, taken: SurfaceSetOut, other: SurfaceSetOut) -> bool:
    """Whether another start leaves half the weak pieces or fewer, no cut narrower under the least, and gives up nothing that comes before."""
    tolerance, order = plan.rules.wall_tolerance, plan.rules.start_order
    if weak_pieces(other) > weak_pieces(taken) / 2 or other.start.worst < min(taken.start.worst, taken.tile.least_cut) - NEAR:
        return False
    first = order[: order.index("weak")] if "weak" in order else order
    if "least" in first and short_of_least(other, tolerance) > short_of_least(taken, tolerance) + NEAR:
        return False
    return "narrowest" not in first or other.start.worst >= taken.start.worst + NEAR


def offered(room: RoomSetOut) -> list[tuple[float, float]]:
    """The starts that findings of the floor offer, by their words."""
    texts = [each.text for each in room.findings if each.where == "floor" and each.code in ("weak-piece", "cut-below-least")]
    found = [re.findall(r"shifted by \d+ mm to \[([-\d.]+), ([-\d.]+)\]", text) for text in texts]
    return list(dict.fromkeys((float(x), float(y)) for each in found for x, y in each))


def started(plan: Plan, at: tuple[float, float]) -> SurfaceSetOut:
    """The floor of a plan's one room with a start that is typed."""
    return set_out(replace(plan, tiles={"floor": replace(plan.tiles["floor"], start=at)})).rooms[0].floor


def beaten(text: str, rng: np.random.Generator, counts: Counter[str], own: int = 4) -> list[str]:
    """What is better than the free start of a plan's floor, in words: of the shifts that are offered and of some others."""
    plan = parse_plan(text, "furnished.toml")
    room = set_out(plan).rooms[0]
    floor, starts = room.floor, offered(room)
    counts["rooms"] += 1
    counts["offered"] += len(starts)
    if weak_pieces(floor) == 0:
        return []
    counts["with weak pieces"] += 1
    turn = np.radians(floor.turn)
    ways = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    reach = np.abs(floor.field.pattern.vectors).max(axis=1) / 2
    for part, axis, side in rng.permutation([(part, axis, side) for part in OWN for axis in (0, 1) for side in (-1, 1)])[:own]:
        x, y = np.array(floor.start.origin) + ways[int(axis)] * reach[int(axis)] * part * side
        starts.append((round(float(x), 1), round(float(y), 1)))
    counts["taken"] += len(starts)
    taken = [(at, started(plan, at)) for at in starts]
    return [
        f"[{at[0]}, {at[1]}]: weak {weak_pieces(other)} for {weak_pieces(floor)}, narrowest {other.start.worst:.1f} for {floor.start.worst:.1f}"
        for at, other in taken
        if better(plan, floor, other)
    ]


def main(asked: list[str] | None = None) -> int:
    """Take shifts until so many rooms are done or the time is up."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rooms", type=int, default=60)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--seconds", type=float, default=float("inf"))
    said = parser.parse_args(asked)
    among = [each for each in records() if Polygon(each["outer"]).area <= LARGEST * 1e6]
    counts: Counter[str] = Counter()
    begun, end = time.process_time(), time.monotonic() + said.seconds
    for number in range(said.first, said.first + said.rooms):
        if time.monotonic() > end:
            break
        text = plan_text_of(said.seed, number, among)
        try:
            wrong = beaten(text, np.random.default_rng([said.seed, number, 1]), counts)
        except LayoutError:  # what was set at random may not stand there
            counts["refused"] += 1
            continue
        counts["better"] += len(wrong)
        for line in wrong:
            print(f"room {number}, seed {said.seed}: {line}\n{text}", flush=True)
    print(f"{dict(counts)} in {time.process_time() - begun:.0f} s of CPU", flush=True)
    return int(counts["better"] > 0)


if __name__ == "__main__":
    sys.exit(main())
