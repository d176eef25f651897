"""A plan set out again after one thing in it moved, to its first set-out: `python -m tests.benchmarks.again`."""

from __future__ import annotations

import statistics
import time
from typing import TYPE_CHECKING

import layout
from layout.memo import afresh, counts, forget

if TYPE_CHECKING:
    from collections.abc import Callable

    from layout.plan.values import Plan

WALLS = (
    "[[0,0],[9000,0],[9000,3000],[7600,3000],[7600,4100],[9000,4100],[9000,7000],[4000,7000],[4000,5600],[2700,5600],[2700,7000],[0,7000]]"
)
TILES = "[tiles.floor]\nsize = [200, 200]\njoint = 6\n[tiles.wall]\nsize = [300, 200]\njoint = 3\n"


def room(name: str, outline: str, door: int, pipe: int = 900) -> str:
    """A room tiled to 2.1 m with a door, a gully and a pipe through its second wall."""
    return (
        f'[[rooms]]\nname = "{name}"\noutline = {outline}\ntile_height = 2100\n'
        f'[[rooms.openings]]\nwall = 1\noffset = {door}\nwidth = 900\nname = "door"\n'
        f"[[rooms.pipes]]\nwall = 2\noffset = {pipe}\nlevel = 700\ndiameter = 50\n"
        '[[rooms.drains]]\nkind = "gully"\nat = [1500, 1500]\nframe = [150, 150]\n'
    )


def twelve_walls(door: int = 1200, pipe: int = 900) -> Plan:
    """One room of twelve walls."""
    return layout.parse_plan(TILES + room("R", WALLS, door, pipe))


def twelve_rooms(door: int = 600) -> Plan:
    """Twelve rooms of 3.4 to 4.5 by 2.6 m, the door of one moved."""
    box = "[[0, 0], [{0}, 0], [{0}, 2600], [0, 2600]]"
    return layout.parse_plan(TILES + "".join(room(f"R{k}", box.format(3400 + 100 * k), door if k == 5 else 600) for k in range(12)))


def cpu(work: Callable[[], object]) -> float:
    """CPU seconds of work."""
    start = time.process_time()
    work()
    return time.process_time() - start


def shares(first: Plan, moved: Plan, repeats: int = 7) -> tuple[float, float]:
    """What a plan takes after another was set out, to what it takes by itself; and what the first takes with all of it kept, to without."""
    again, kept = [], []
    with afresh():
        layout.set_out(first)
    for _ in range(repeats):
        with afresh():
            alone, plain = cpu(lambda: layout.set_out(moved)), cpu(lambda: layout.set_out(first))
        forget()
        kept.append(cpu(lambda: layout.set_out(first)) / plain)
        again.append(cpu(lambda: layout.set_out(moved)) / alone)
    return statistics.median(again), statistics.median(kept)


if __name__ == "__main__":
    for what, first, moved, repeats in (
        ("a room of 12 walls, its door moved", twelve_walls(), twelve_walls(1700), 7),
        ("a room of 12 walls, a pipe on a wall moved", twelve_walls(), twelve_walls(pipe=600), 7),
        ("12 rooms, the door of one moved", twelve_rooms(), twelve_rooms(900), 1),
    ):
        again, kept = shares(first, moved, repeats)
        print(f"{what}: {again:.2f} of a set-out by itself; the first with what is kept {kept:.3f}; {counts()}")
