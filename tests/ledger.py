"""The ledger of residuals: what the audit finds wrong in examples, real rooms and rooms made awkward on purpose.

`python -m tests.ledger` lowers it to what is found today, and refuses to raise it.
"""

from __future__ import annotations

import functools
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import layout
from layout.setout.residuals import audit
from tests.rooms import plan_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from layout.plan.values import Plan

HERE = Path(__file__).parent
FILE = HERE / "data" / "residuals.json"
LEDGER: dict[str, dict[str, float]] = json.loads(FILE.read_text()) if FILE.exists() else {}

ELL = [[0, 0], [6000, 0], [6000, 3000], [3500, 3000], [3500, 5000], [0, 5000]]
BOX = [[0, 0], [3000, 0], [3000, 2000], [0, 2000]]
PLINTH = {"outline": [[1000, 700], [1600, 700], [1600, 1300], [1000, 1300]], "height": 150}
FULL: dict[str, Any] = {"tile_height": 2000, "tanking_height": 300}

ROOMS: dict[str, dict[str, Any]] = {
    "bent wall": {"outline": [[0, 0], [3000, 0], [3000, 2670], [1500, 2673], [0, 2670]]},
    "joint along a nib": {"outline": [[0, 0], [2000, 0], [2000, 8000], [0, 8000], [0, 3600], [-124, 3600], [-124, 2400], [0, 2400]]},
    "plinth at a skew wall": {
        "outline": [[0, 0], [3000, 0], [3000, 2000], [0, 2030]],
        "plinths": [{"outline": [[1000, 1500], [1600, 1500], [1600, 2014], [1000, 2020]], "height": 150}],
    },
    "free plinth": {"outline": BOX, "plinths": [PLINTH]},
    "door with depth": {"outline": BOX, **FULL, "openings": [{"wall": 1, "offset": 500, "width": 900, "depth": 120}]},
    "step shorter than a tile": {"outline": [[0, 0], [3000, 0], [3000, 2000], [1500, 2000], [1500, 2150], [0, 2150]], **FULL},
    "column near a wall": {"outline": BOX, "columns": [{"outline": [[120, 700], [420, 700], [420, 1000], [120, 1000]]}]},
    "gap as wide as its joints": {
        "outline": ELL,
        "plinths": [{"outline": [[4300, 47], [5300, 47], [5300, 617], [4300, 617]], "height": 300}],
        "columns": [
            {"outline": [[5300, 0], [6000, 0], [6000, 900], [5300, 900]]},
            {"outline": [[3500, 0], [4300, 0], [4300, 1100], [3500, 1100]]},
        ],
    },
    "column against a plinth": {
        "outline": ELL,
        **FULL,
        "columns": [{"outline": [[0, 0], [500, 0], [500, 600], [0, 600]]}],
        "plinths": [{"outline": [[500, 600], [700, 600], [700, 800], [500, 800]], "height": 150}],
    },
    "channel right through": {
        "outline": [[0, 0], [5000, 0], [5000, 3000], [0, 3000]],
        "drains": [{"kind": "channel", "from": [0, 1500], "to": [5000, 1500], "width": 150}],
    },
    "structural joint": {
        "outline": [[0, 0], [6100, 0], [6100, 4000], [0, 4000]],
        "structural_joints": [{"line": [[2950, 0], [2950, 4000]]}],
    },
}
TILES: dict[str, dict[str, Any]] = {
    "stack": {"size": [200, 200], "joint": 6},
    "running": {"size": [600, 300], "joint": 4, "pattern": "running", "offset": 0.33},
}
FEET = ("wall-through", "floor-through", "cove")


@functools.cache
def cases() -> dict[str, Callable[[], Plan]]:
    """Every case by its name, as what makes its plan."""
    result: dict[str, Callable[[], Plan]] = {}
    for path in sorted((HERE.parent / "plans").rglob("*.toml")):
        if "[[rooms]]" in path.read_text(encoding="utf-8"):
            result[f"example {path.stem}"] = functools.partial(layout.read_plan, str(path))
    for name, room in ROOMS.items():
        for tile in TILES if name in ("bent wall", "column near a wall", "channel right through") else ("stack",):
            result[f"{name}, {tile}"] = functools.partial(plan_of, room, tiles={"floor": TILES[tile]})
    for foot in FEET:
        room = {**ROOMS["door with depth"], "plinths": [PLINTH]}
        result[f"foot {foot}"] = functools.partial(plan_of, room, rules={"foot": foot})
    return result


CASES = list(cases())


def breaches_of(made: Callable[[], Plan]) -> dict[str, float]:
    """How far told and counted stand apart beyond what is allowed, by surface and figure."""
    found: dict[str, float] = {}
    for each in audit(layout.set_out(made())).breaches:
        name = f"{each.surface.key if each.surface is not None else each.room}: {each.name}"
        found[name] = max(found.get(name, 0.0), round(each.apart, 3))
    return found


def main() -> None:
    """Lower the ledger."""
    raised = []
    ledger: dict[str, dict[str, float]] = {}
    for name, made in cases().items():
        found = breaches_of(made)
        if name in LEDGER or FILE.exists():
            raised += [f"{name}: {key} {value}" for key, value in found.items() if value > LEDGER.get(name, {}).get(key, 0.0) + 0.01]
        if found:
            ledger[name] = found
    if raised and "--new-case" not in sys.argv:
        sys.exit("the ledger may only fall:\n  " + "\n  ".join(raised))
    FILE.write_text(json.dumps(ledger, indent=1, sort_keys=True) + "\n")
    print(f"{sum(map(len, ledger.values()))} residuals in {len(ledger)} of {len(cases())} cases")


if __name__ == "__main__":
    main()
