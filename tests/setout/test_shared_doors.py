"""One door of two rooms has one threshold: its joint and tape are measured once, however the plan tells that it is one door."""

from __future__ import annotations

import pytest

from layout.errors import PlanFaults
from layout.quantities.takeoff import take_off
from layout.readers.planfile import parse_plan
from layout.setout.conduct import set_out
from layout.setout.residuals import audit

WASH = """
[[rooms]]
name = "Wash"
outline = [[0, 0], [4000, 0], [4000, 3000], [0, 3000]]
{wash}
[[rooms.openings]]
wall = 2
offset = 1000
width = 900
name = "to store"
{door}
"""
STORE = """
[[rooms]]
name = "Store"
outline = [[0, 0], [3000, 0], [3000, 3000], [0, 3000]]
{store}
[[rooms.openings]]
wall = {wall}
offset = {offset}
width = 900
{other}
"""


def plan_of(*, wash="", door="", store="", wall=4, offset=1100, other="", first="wash"):
    # wall 4 of the store runs down from [0, 3000]: 1,100 from its first corner is the span from y = 1,900 to 1,000
    parts = [WASH.format(wash=wash, door=door), STORE.format(store=store, wall=wall, offset=offset, other=other)]
    return parse_plan("[tiles.floor]\nsize = [200, 200]\njoint = 6\n" + "".join(parts if first == "wash" else parts[::-1]), "test.toml")


def thresholds(setout):
    """Metres of threshold joint and tape of each room, as listed."""
    return [
        (
            sum(joint.length for joint in room.joints if joint.kind == "threshold"),
            sum(run.length for run in room.tape.runs if run.kind == "threshold"),
        )
        for room in setout.rooms
    ]


SAID = 'same_as = { room = "Wash", opening = "to store" }'


@pytest.mark.parametrize("given", [
    {"store": "at = [4100, 0]"},  # beside it, across a wall of 100
    {"store": "at = [4100, 0]", "first": "store"},
    # turned by -90 the store's x runs down and its y to the right: its wall 1 (y = 0) stands at x = 4,100
    {"store": "at = [4100, 3000]\nturn = -90", "wall": 1, "offset": 1100},
    {"other": SAID},  # not placed: both at [0, 0]
    {"other": SAID, "first": "store"},
    {"door": 'same_as = { room = "Store", opening = "opening 1" }'},
    {"store": "at = [4100, 0]", "door": "depth = 50", "other": "depth = 50"},  # each with half of the reveal
    {"store": "at = [4100, 0]", "door": "depth = 100"},
])  # fmt: skip
def test_the_threshold_of_one_door_is_counted_once(given):
    setout = set_out(plan_of(**given))
    found = thresholds(setout)
    assert [round(joint) > 0 for joint, _ in found] == [True, False]
    assert [round(tape) for _, tape in found] == [900, 0]
    assert [[f.code for f in room.findings].count("door-shared") for room in setout.rooms] == [0, 1]
    (shared,) = setout.rooms[1].shared
    assert shared.room == setout.rooms[0].name
    assert shared.tape == pytest.approx(900.0)
    assert not [each.words() for each in audit(setout).breaches if "tape" in each.name or "sealant" in each.name]
    alone = set_out(plan_of(store="at = [9000, 0]"))
    tape = {item.key: item.quantity for item in take_off(alone).items}["tape.external"]
    once = {item.key: item.quantity for item in take_off(setout).items}["tape.external"]
    assert tape - once == pytest.approx(0.9)


@pytest.mark.parametrize("given", [
    {},  # both rooms at [0, 0], over each other: not placed
    {"store": "at = [4700, 0]"},  # across 700: no wall is so thick
    {"store": "at = [4100, 200]"},  # 200 aside
    {"store": "at = [4100, 0]", "wall": 2, "offset": 1000},  # at the far side of the store
])  # fmt: skip
def test_doors_that_do_not_face_each_other_are_two(given):
    setout = set_out(plan_of(**given))
    assert [round(tape) for _, tape in thresholds(setout)] == [900, 900]
    assert not any(room.shared for room in setout.rooms)


@pytest.mark.parametrize(("same", "where"), [
    ('same_as = { room = "Larder", opening = "door" }', "rooms[1].openings[0].same_as.room"),
    ('same_as = { room = "Store", opening = "opening 1" }', "rooms[1].openings[0].same_as.room"),
    ('same_as = { room = "Wash", opening = "door" }', "rooms[1].openings[0].same_as.opening"),
    ('sill = 300\nsame_as = { room = "Wash", opening = "to store" }', "rooms[1].openings[0].same_as"),
])  # fmt: skip
def test_a_door_that_is_not_there_is_told(same, where):
    with pytest.raises(PlanFaults) as caught:
        plan_of(other=same)
    assert [fault.place for fault in caught.value.faults] == [f"test.toml: {where}"]
