"""A mend that is told does what it says when the plan takes it."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from layout.joints.divide import divide, divided
from layout.joints.values import Division, Undivided
from layout.lining.build import build_lining
from layout.readers.planfile import read_plan
from layout.setout.conduct import set_out
from layout.start.faces import faces_of
from layout.start.laid import laid_out, weak_as_laid
from layout.start.mends import weak_count
from tests.rooms import plan_of
from tests.test_project import TOP


def floor_findings(room, code):
    return [f for f in room.findings if f.code == code and f.where == "floor"]


def started(plan, at):
    return replace(plan, tiles={**plan.tiles, "floor": replace(plan.tiles["floor"], start=at, start_line=None)})


def test_a_start_without_weak_pieces_is_taken_where_one_is_found():
    plan = read_plan(TOP / "plans" / "washbay.toml")
    assert not floor_findings(set_out(plan).rooms[0], "weak-piece")  # strips of 28 along a channel and at a corner once


JOINTED = {"outline": [[0, 0], [4100, 0], [4100, 3000], [0, 3000]], "structural_joints": [{"line": [[1950, 0], [1950, 3000]]}]}
PIPED = {"outline": [[0, 0], [2900, 0], [2900, 2300], [0, 2300]], "pipes": [{"at": [1000, 900], "diameter": 110}]}


@pytest.mark.parametrize("room", [JOINTED, PIPED], ids=["structural joint", "pipe"])
def test_every_shift_that_is_told_holds_when_it_is_taken(room):
    plan = plan_of(room, rules={"movement": "UK_FLOOR"})
    offered = 0
    for start in [(x, y) for x in (40.0, 95.0, 150.0) for y in (15.0, 80.0, 130.0)]:
        for finding in floor_findings(set_out(started(plan, start)).rooms[0], "weak-piece"):
            told = re.findall(r"to \[([-\d.]+), ([-\d.]+)\] leaves (none|only \d+) and no cut under (\d+)", finding.text)
            for x, y, left, least in told:
                offered += 1
                taken = set_out(started(plan, (float(x), float(y)))).rooms[0]
                found = floor_findings(taken, "weak-piece")
                assert bool(found) == (left != "none")
                assert taken.floor.start.worst == pytest.approx(float(least), abs=0.6)
    assert offered > 0


def test_the_shift_told_for_a_poor_fixed_start_gives_what_it_says():
    room = {"outline": [[0, 0], [5230, 0], [5230, 3890], [0, 3890]]}
    plan = started(plan_of(room, rules={"movement": "UK_FLOOR"}), (190.0, 150.0))
    (finding,) = floor_findings(set_out(plan).rooms[0], "cut-below-least")
    x, y, worst = map(float, re.findall(r"to \[([-\d.]+), ([-\d.]+)\] would leave (\d+)", finding.text)[0])
    assert worst >= 100
    assert set_out(started(plan, (x, y))).rooms[0].floor.start.worst == pytest.approx(worst, abs=0.6)


def test_weak_pieces_are_counted_no_further_than_is_asked():
    pipes = [{"at": [500 + 700 * k, 300 + 500 * j], "diameter": 110} for k in range(10) for j in range(4)]
    plan = plan_of({"outline": [[0, 0], [7600, 0], [7600, 2300], [0, 2300]], "pipes": pipes})
    lining = build_lining(plan, 0)
    assert lining.floor.tile is not None
    faces = faces_of(lining, lining.floor, lining.floor.tile)
    task = Undivided(lining.floor.divided_region, plan.rules, faces.lattice)
    division = divide(task, (0.0, 0.0))
    whole = weak_count(laid_out(faces, division)[0])
    assert len(division.bays) > 1
    assert whole > 2
    assert weak_as_laid(faces, [division], whole) == whole
    assert 0 < weak_as_laid(faces, [division]) <= whole  # the first bay with any is enough
    parts = divided(task, (0.0, 0.0))
    assert 0 < weak_as_laid(faces, parts) < whole
    assert 0 < len(Division.joined(parts).bays) < len(division.bays)  # and the others need not be cut for it


def test_a_shift_told_beside_a_given_joint_holds_or_none_is_told():
    # tiles of the bay beyond start at the joint whatever the start: 114 was told, and 40 stayed at wall 2
    room = {
        "outline": [[0, 0], [6100, 0], [6100, 4000], [0, 4000]],
        "structural_joints": [{"line": [[2950, 0], [2950, 4000]], "width": 20}],
    }
    (kept,) = floor_findings(set_out(started(plan_of(room), (8.0, 101.0))).rooms[0], "cut-below-least")
    assert "40 mm at wall 2" in kept.text
    assert "shifted by" not in kept.text
    wider = {**room, "outline": [[0, 0], [6180, 0], [6180, 4000], [0, 4000]]}
    before = set_out(started(plan_of(wider), (190.0, 101.0))).rooms[0]
    (finding,) = floor_findings(before, "cut-below-least")
    x, y, worst = map(float, re.findall(r"to \[([-\d.]+), ([-\d.]+)\] would leave (\d+)", finding.text)[0])
    after = set_out(started(plan_of(wider), (x, y))).rooms[0]
    assert after.floor.start.worst == pytest.approx(worst, abs=0.6)
    assert worst > before.floor.start.worst + 1.0
