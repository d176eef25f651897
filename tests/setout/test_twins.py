"""Twins of a room in every pattern, foot and movement rule set: shifted, turned, reversed, with a corner more, they have its figures.

The records of set-out and take-off are compared figure by figure as they are printed, places mapped back.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from layout.standards.rules import RULE_SETS
from tests.lining.test_own_frame import with_corner
from tests.rooms import moved, reversed_outline
from tests.setout.twins import Back, items_of, records, things_of, unlike

PATTERNS: tuple[dict[str, Any], ...] = (
    {"size": [890, 590], "joint": 5},
    {"size": [900, 450], "joint": 5, "pattern": "running", "offset": 0.33},
    {"size": [900, 900], "joint": 5, "pattern": "diagonal"},
    {"size": [1205, 400], "joint": 5, "pattern": "herringbone"},
    {"size": [1205, 300], "joint": 5, "pattern": "double-herringbone"},
    {"size": [1205, 600], "joint": 5, "pattern": "basket-weave"},
    {"size": [700, 808.3], "joint": 5, "pattern": "hexagon"},
    {"size": [905, 905], "joint": 5, "pattern": "two-size", "small": 450},
    {"size": [900, 590], "joint": 5, "turn": 30},
    {
        "joint": 5,
        "pattern": "own",
        "cell": {
            "tiles": [[[0, 0], [800, 0], [800, 800], [0, 800]], [[805, 0], [1205, 0], [1205, 400], [805, 400]]],
            "vectors": [[805, 405], [-405, 805]],
        },
    },
)
FEET = ("wall-through", "floor-through", "cove")
ROOM: dict[str, Any] = {
    "outline": [[0, 0], [4210, 0], [4210, 1730], [2600, 1730], [2600, 3120], [0, 3120]],
    "openings": [{"wall": 1, "offset": 1200, "width": 900}],
}
WITH: tuple[dict[str, Any], ...] = (
    {"tanking_height": 150, "outline": [[0, 0], [4210, 0], [4210, 1730], [0, 1790]]},
    {"tanking_height": 1200, "tile_height": 900, "outline": [[0, 0], [4210, 0], [4210, 2730], [0, 2730]]},
    {"drains": [{"kind": "gully", "at": [1210, 930]}], "pipes": [{"at": [3700, 400], "diameter": 110}]},
    {
        "drains": [{"kind": "gully", "at": [1910, 1330]}],
        "falls": [{"to": "gully 1"}],
        "outline": [[0, 0], [4210, 0], [4210, 2730], [0, 2730]],
    },
    {"plinths": [{"outline": [[0, 2000], [900, 2000], [900, 2600], [0, 2600]], "height": 150}], "tanking_height": 300},
)
UNDER_TILE = ("membrane", "primer", "quartz", "tape", "detail", "corner_pieces", "terminations", "rolls", "labour.membrane", "labour.prime")
"""Items that the foot and corners of tile have no say in."""
RULES = tuple(name for name, each in RULE_SETS.items() if each.on != "wall")
CELLS = [(p, r, FEET[(p + r) % len(FEET)], WITH[(p + 2 * r) % len(WITH)]) for p in range(len(PATTERNS)) for r in range(len(RULES))]
IN_CI = [cell for k, cell in enumerate(CELLS) if k % len(RULES) == k // len(RULES)]
"""One cell of each pattern, each with another rule set; the whole square has every pair and is asked for by -m whole."""
SHIFT = (1234.567, -8901.25)


def _back(turn: float) -> Any:
    """From a room that was turned and shifted to the room."""
    cos, sin = (round(f(math.radians(turn))) if turn % 90 == 0 else f(math.radians(turn)) for f in (math.cos, math.sin))
    return lambda points: (np.asarray(points) - np.array(SHIFT)) @ np.array([[cos, -sin], [sin, cos]])


def twins_of(room: dict[str, Any]) -> dict[str, tuple[dict[str, Any], Back]]:
    """A quarter turn with a corner more in wall 2, and an odd turn typed the other way round, both shifted."""
    count = len(room["outline"])
    turned = moved(with_corner(room, 2), turn=90, shift=SHIFT)
    odd = moved(reversed_outline(room), turn=17.3, shift=SHIFT)
    return {
        "turned by a quarter with a corner more": (turned, Back(_back(90), {k: k - (k > 2) for k in range(1, count + 2)})),
        "turned by 17.3 degrees and typed the other way round": (odd, Back(_back(17.3), {k: count + 1 - k for k in range(1, count + 1)})),
    }


def compare(cell: tuple[int, int, str, dict[str, Any]]) -> list[str]:
    """What the twins of a cell have otherwise than its room."""
    pattern, rule_set, foot, more = cell
    room = {**ROOM, **more}
    tiles, rules = {"floor": PATTERNS[pattern]}, {"foot": foot, "movement": RULES[rule_set]}
    made, bill = records(room, tiles, rules)
    assert made["surfaces"][0]["pieces"]
    wrong: list[str] = []
    for name, (twin, back) in twins_of(room).items():
        also, its_bill = records(twin, tiles, rules)
        # at upright corners the lower number runs through: a tiled room typed the other way round is another instruction there
        upright = "tile_height" not in room or "other way" not in name
        wrong += [f"{name}: {each}" for each in unlike(things_of(made, Back(), upright), things_of(also, back, upright))]
        own, its = items_of(bill, Back()), items_of(its_bill, back)
        if not upright:
            own, its = ({key: each for key, each in found.items() if key.startswith(UNDER_TILE)} for found in (own, its))
            assert "membrane_area" in own
            assert "tape.internal" in own
        if own != its:
            wrong += [f"{name}: {key}: {own.get(key)} | {its.get(key)}" for key in {**own, **its} if own.get(key) != its.get(key)]
    return wrong


def names(cell: tuple[int, int, str, dict[str, Any]]) -> str:
    return f"{PATTERNS[cell[0]].get('pattern', 'stack')}-{RULES[cell[1]]}-{cell[2]}-{WITH.index(cell[3])}"


@pytest.mark.parametrize("cell", IN_CI, ids=names)
def test_twins_have_every_figure_of_their_room(cell):
    assert compare(cell) == []


OPEN = {
    "double-herringbone-EJ171_INTERIOR_WET_SUN-cove-1": "of a wall's starts three more are tried, the one taken is the same",
    "basket-weave-EJ171_EXTERIOR_12FT-wall-through-4": "a strip on a plinth's top that is cut by two edges alike is named by either",
}
"""Cells whose twins still differ, and in what."""
REST = [
    pytest.param(cell, marks=[pytest.mark.xfail(reason=OPEN[names(cell)], strict=True)] if names(cell) in OPEN else [])
    for cell in CELLS
    if cell not in IN_CI
]


@pytest.mark.whole
@pytest.mark.parametrize("cell", REST, ids=names)
def test_twins_in_every_pair_of_pattern_foot_rule_set_and_things(cell):
    assert compare(cell) == []


TILED = {**ROOM, **WITH[1]}


@pytest.mark.parametrize("typed", [TILED, reversed_outline(TILED)], ids=["as typed", "the other way round"])
def test_the_lower_wall_number_runs_through_whichever_way_a_tiled_room_is_typed(typed):
    """A renumbered or reversed room with tiled walls is another instruction there, as the plan file's contract says; by hand: 2 of membrane
    where a wall runs through, else 2 + 3 of bed + 10 of tile of its neighbour and the joint."""
    made, _ = records(typed, {"floor": PATTERNS[0]}, {"perimeter_joint": 8})
    corners = typed["outline"]
    walls = [each for each in made["surfaces"] if each["kind"] == "wall"]
    ends: dict[int, list[float]] = {}
    for each in walls:
        ends.setdefault(int(each["name"].split()[-1]), []).extend(x for x, _ in each["outline"])
    assert sorted(ends) == [1, 2, 3, 4]
    for number, xs in ends.items():
        beside = [number % 4 + 1, (number - 2) % 4 + 1]
        off = sorted(2.0 if number < other else 2.0 + 3.0 + 10.0 + 8.0 for other in beside)
        length = math.dist(corners[number - 1], corners[number % 4])
        assert sorted([min(xs), length - max(xs)]) == pytest.approx(off, abs=1e-6)
    joints = [each for each in made["movement_joints"] if each["kind"] == "corner"]
    assert len(joints) == 4
    assert all(each["surface"] == min(each["at"].split(" / ")) for each in joints)
