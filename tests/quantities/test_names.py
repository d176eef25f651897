"""Names are for people: whatever things are called, every figure stays."""

from __future__ import annotations

import datetime as dt
import json
from collections import Counter
from itertools import cycle
from typing import Any

import pytest

from layout.programme.stages import plan_works
from layout.quantities.bill import Rate, Rates, price
from layout.quantities.orders import place_orders
from layout.quantities.takeoff import take_off
from layout.readers.planfile import parse_plan
from layout.setout.conduct import set_out
from layout.writers.quantity_records import programme_record, takeoff_record
from layout.writers.records import setout_record

MONDAY = dt.datetime(2026, 11, 30, 7, 0)  # noqa: DTZ001  # site time has no zone
PLAIN = [f"thing {chr(97 + k)}" for k in range(26)]
HOSTILE = ["Hall", "Hall: store", "floor", "wall 1", "floor box", "shop floor", "C3", "\u200b", "x" * 300, "bottom course", "wall 1, bottom course",
           "door", "=1+1", "pipe 1 in floor", "R3", "coat 2", "{p}", "all rooms", "plinth 1 side 2", "0.wall.1", "border", "threshold"]  # fmt: skip


def plan_text(names: list[str], *, openings: list[str] | None = None) -> str:
    """A plan of two rooms in which all that can have a name has one."""
    own = cycle(names)

    def name() -> str:
        return json.dumps(next(own))

    doors = [json.dumps(each) for each in openings] if openings else [name(), name(), name()]
    special = name()
    return f"""
[tiles.floor]
size = [200, 200]
joint = 6
[tiles.wall]
size = [300, 200]
joint = 4
[tiles.{special}]
size = [240, 115]
joint = 6
[[rooms]]
name = {name()}
outline = [[0, 0], [5200, 0], [5200, 3700], [0, 3700]]
tanking_height = 300
tile_height = 1800
walls = [{{ wall = 2, name = {name()}, tanking_height = 1500 }}, {{ wall = 3, name = {name()}, tile = {special} }}]
openings = [
  {{ name = {doors[0]}, wall = 1, offset = 700, width = 900, head = 2100, depth = 240 }},
  {{ name = {doors[1]}, wall = 2, offset = 1200, width = 800, head = 2100, depth = 120 }},
  {{ name = {doors[2]}, wall = 3, offset = 2000, width = 1000, sill = 200, head = 1400, depth = 150 }},
]
drains = [{{ kind = "gully", name = {name()}, at = [2600, 1800], frame = [200, 200], flange = 50 }}]
plinths = [{{ name = {name()}, outline = [[600, 2600], [1700, 2600], [1700, 3300], [600, 3300]], height = 150 }}]
columns = [{{ name = {name()}, outline = [[4000, 1000], [4300, 1000], [4300, 1350], [4000, 1350]] }}]
pipes = [{{ name = {name()}, at = [4800, 3300], diameter = 110 }}]
fixings = [{{ name = {name()}, at = [3300, 2900], size = [120, 80] }}]
structural_joints = [{{ name = {name()}, line = [[3700, 0], [3700, 3700]], width = 20 }}]
[[rooms]]
name = {name()}
outline = [[0, 0], [3100, 0], [3100, 2300], [0, 2300]]
tanking_height = 200
openings = [{{ wall = 1, offset = 500, width = 900, head = 2100 }}]
pipes = [{{ at = [400, 1900], diameter = 50 }}]
"""


def figures(value: Any) -> Any:
    """A record without its words: numbers, and how they lie in each other; lists in an order that no name decides."""
    if isinstance(value, dict):
        return tuple((key, figures(each)) for key, each in value.items() if not isinstance(each, str))
    if isinstance(value, list):
        return tuple(sorted((figures(each) for each in value), key=repr))
    return "" if isinstance(value, str) else value


def all_of(text: str) -> dict[str, Any]:
    """Every record of a plan: set-out, take-off, bill, programme."""
    setout = set_out(parse_plan(text))
    takeoff = take_off(setout)
    orders = place_orders(takeoff)
    rates = Rates(source="t", currency="EUR", rates={item.key: Rate(item.key, 1.5 + k, item.unit) for k, item in enumerate(takeoff.items)})
    bill = price(takeoff, rates)
    taken = takeoff_record(takeoff, orders, bill)
    for key in ("rooms", "stages", "sections"):  # by name: figures in order
        taken["bill"][key] = list(taken["bill"][key].values())
    works = programme_record(plan_works(takeoff, start=MONDAY), setout.plan.project)
    moments = [
        [stage["stage"], stage["start"], stage["end"], stage["next_from"], stage["next_by"], stage["hours"]] for stage in works["stages"]
    ]
    return {
        "setout": setout_record(setout, pieces=True),
        "takeoff": taken,
        "programme": [moments, list(works["foot_traffic"].values()), list(works["full_load"].values())],
    }


@pytest.fixture(scope="module")
def plain() -> dict[str, Any]:
    return all_of(plan_text(PLAIN))


@pytest.mark.parametrize("turn", range(0, len(HOSTILE), 5))
def test_no_figure_follows_a_name(plain, turn):
    hostile = all_of(plan_text(HOSTILE[turn:] + HOSTILE[:turn]))
    for key in ("setout", "takeoff"):
        assert figures(hostile[key]) == figures(plain[key]), key
    assert hostile["programme"] == plain["programme"]


def test_doors_of_one_name_stay_two_doors(plain):
    same = all_of(plan_text(PLAIN[3:], openings=["door", "door", "door"]))
    for key in ("setout", "takeoff"):
        assert figures(same[key]) == figures(plain[key]), key


def test_parts_have_an_identity_of_their_own():
    """Each part of an item is of another place, in whatever words."""
    made = all_of(plan_text(HOSTILE, openings=["door", "door", "door"]))
    names = [room["name"] for room in made["setout"]["rooms"]]
    assert len(made["takeoff"]["items"]) > 20
    for item in made["takeoff"]["items"]:
        ids = Counter(part["id"] for part in item["parts"])
        assert max(ids.values()) == 1, (item["key"], ids.most_common(1))
        assert all(part["room"] == names[int(part["id"].partition(".")[0])] for part in item["parts"])
