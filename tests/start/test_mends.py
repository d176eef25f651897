"""A mend that is told does what it says when the plan takes it."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from layout.readers.planfile import read_plan
from layout.setout.conduct import set_out
from tests.rooms import plan_of
from tests.test_project import TOP


def floor_findings(room, code):
    return [f for f in room.findings if f.code == code and f.where == "floor"]


def started(plan, at):
    return replace(plan, tiles={**plan.tiles, "floor": replace(plan.tiles["floor"], start=at, start_line=None)})


def test_the_shift_told_for_weak_pieces_leaves_none():
    plan = read_plan(TOP / "plans" / "washbay.toml")
    (finding,) = floor_findings(set_out(plan).rooms[0], "weak-piece")
    x, y, least = map(float, re.findall(r"to \[([-\d.]+), ([-\d.]+)\] leaves none and no cut under (\d+)", finding.text)[0])
    room = set_out(started(plan, (x, y))).rooms[0]
    assert not floor_findings(room, "weak-piece")
    assert room.floor.start.worst == pytest.approx(least, abs=0.6)


def test_the_shift_told_for_a_poor_fixed_start_gives_what_it_says():
    room = {"outline": [[0, 0], [5230, 0], [5230, 3890], [0, 3890]]}
    plan = started(plan_of(room, rules={"movement": "UK_FLOOR"}), (190.0, 150.0))
    (finding,) = floor_findings(set_out(plan).rooms[0], "cut-below-least")
    x, y, worst = map(float, re.findall(r"to \[([-\d.]+), ([-\d.]+)\] would leave (\d+)", finding.text)[0])
    assert worst >= 100
    assert set_out(started(plan, (x, y))).rooms[0].floor.start.worst == pytest.approx(worst, abs=0.6)
