"""Comparison of plans by what must hold: the same plan has no changes, a moved room only that, a moved wall what it touches."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout.changes.compare import compare_setouts
from layout.changes.keep import keep_lines
from layout.changes.match import motion_of, pairs_of
from layout.errors import PlanError
from layout.memo import afresh
from layout.readers.planfile import parse_plan
from layout.setout.conduct import set_out
from layout.writers.change_records import changes_csv, changes_record
from tests.rooms import moved, plan_of, plan_text

REAL = json.loads((Path(__file__).parent.parent / "data" / "real-rooms-sample.json").read_text())["rooms"]
ROOM: dict[str, Any] = {
    "outline": [[0, 0], [6500, 0], [6500, 2900], [4100, 2900], [4100, 4700], [0, 4700]],
    "drains": [{"kind": "gully", "at": [2947, 1546], "frame": [200, 200]}],
    "openings": [{"wall": 1, "offset": 900, "width": 1000}],
}


def room_with(**given):
    return set_out(plan_of({**ROOM, **given}))


@pytest.mark.parametrize("record", REAL[:12], ids=lambda r: r["id"])
def test_the_same_room_has_no_changes(record):
    setout = set_out(plan_of({"outline": record["outer"]}))
    with afresh():
        again = set_out(plan_of({"outline": record["outer"]}))
    assert not compare_setouts(setout, again).changed


@pytest.mark.parametrize(("turn", "shift"), [(0.0, (1234.0, -567.0)), (90.0, (0.0, 0.0)), (180.0, (50.0, 10.0))])
def test_a_room_moved_as_a_whole_differs_in_that_alone(turn, shift):
    changes = compare_setouts(set_out(plan_of(ROOM)), set_out(plan_of(moved(ROOM, turn=turn, shift=shift))))
    (room,) = changes.rooms
    assert room.moved
    assert (room.shape, room.works, room.lines, room.came, room.went) == ((), (), (), (), ())
    assert not changes.cuts
    assert not changes.orders


@settings(max_examples=4)
@given(st.integers(3, 40))
def test_a_wall_moved_outward_differs_by_so_much_and_no_other_wall_is_named(by):
    wide = [[0, 0], [6500 + by, 0], [6500 + by, 2900], [4100, 2900], [4100, 4700], [0, 4700]]
    (room,) = compare_setouts(room_with(), room_with(outline=wide)).rooms
    told = {each.what: (each.before, each.after) for each in room.shape}
    assert told == {
        "length of wall 1": ("6500.0", f"{6500 + by}.0"),
        "line of wall 2": ("as drawn", f"-{by}.0 out of the room"),
        "length of wall 3": ("2400.0", f"{2400 + by}.0"),
    }
    perimeter = next(each for each in room.works if each.what == "perimeter joints")
    added = float(perimeter.after.split()[0]) - float(perimeter.before.split()[0])
    assert added == pytest.approx(2 * by / 1000, abs=0.011)  # two walls are longer by so much; told to a hundredth


def test_things_are_known_by_name():
    changed = {"drains": [{**ROOM["drains"][0], "at": [2900, 1600]}], "openings": [{**ROOM["openings"][0], "width": 1100}]}
    (room,) = compare_setouts(room_with(), room_with(**changed)).rooms
    told = {each.what: (each.before, each.after) for each in room.shape}
    assert told["gully 1: middle"] == ("2947, 1546", "2900, 1600")
    assert any("width" in what and values == ("1000", "1100") for what, values in told.items())


def test_rooms_come_go_and_are_renamed():
    far = {"outline": [[0, 0], [2000, 0], [2000, 3000], [0, 3000]]}

    def plan(*rooms):
        return set_out(parse_plan("".join(plan_text(room)[plan_text(room).index("[[rooms]]") :] for room in rooms)))

    before, after = (
        plan({"name": "Hall", **ROOM}, {"name": "Store", **far}),
        plan({"name": "Kitchen", **ROOM}, {"name": "Cold room", "outline": [[0, 0], [9000, 0], [9000, 900], [0, 900]]}),
    )
    assert pairs_of(before.rooms, after.rooms) == [(0, 0), (None, 1), (1, None)]
    told = [(room.was, room.name) for room in compare_setouts(before, after).rooms]
    assert told == [("Hall", "Kitchen"), ("", "Cold room"), ("Store", "")]


def test_lines_are_kept_where_they_were_snapped():
    room = {"outline": [[0, 0], [5200, 0], [5200, 3900], [0, 3900]], "openings": [{"wall": 1, "offset": 900, "width": 1000}]}
    wide = {"outline": [[-83, 0], [5200, 0], [5200, 3991], [-83, 3991]], "openings": [{"wall": 1, "offset": 983, "width": 1000}]}
    before, after = set_out(plan_of(room)), set_out(plan_of(wide))
    free = compare_setouts(before, after)
    assert free.rooms[0].lines, "walls that lines are measured from have moved, so the free lines move"
    kept = set_out(keep_lines(before, after))
    assert compare_setouts(before, kept).rooms[0].lines == ()
    off = np.array(kept.rooms[0].floor.bays[0].origin) - np.array(before.rooms[0].floor.bays[0].origin)
    assert np.abs(off - np.round(off / 206.0) * 206.0).max() < 0.01
    assert kept.rooms[0].floor.tile.name == "floor", "orders still know one tile"


def test_lines_of_another_tile_cannot_be_kept():
    with pytest.raises(PlanError, match="lines can be kept for the same tile"):
        keep_lines(room_with(), set_out(plan_of(ROOM, tiles={"floor": {"size": [300, 300], "joint": 6}})))


def test_a_kept_line_outside_the_new_room_is_told():
    small = {"outline": [[0, 3500], [3000, 3500], [3000, 4700], [0, 4700]]}
    with pytest.raises(PlanError, match="lies outside the new floor"):
        keep_lines(room_with(), set_out(plan_of(small)))


def test_motion_is_found_exactly():
    one, two = set_out(plan_of(ROOM)), set_out(plan_of(moved(ROOM, turn=90.0, shift=(100.0, 20.0))))
    motion = motion_of(one.rooms[0], two.rooms[0])
    assert motion.turn == pytest.approx(90.0)
    corners = motion.moved(np.array(one.rooms[0].lining.outline.outer.points))
    others = np.array(two.rooms[0].lining.outline.outer.points)
    assert min(np.abs(corners - np.roll(others, k, axis=0)).max() for k in range(len(others))) < 0.01


def test_records_tell_all_of_it():
    wide = [[0, 0], [6512, 0], [6512, 2900], [4100, 2900], [4100, 4700], [0, 4700]]
    changes = compare_setouts(room_with(), room_with(outline=wide))
    record = changes_record(changes)
    assert (record["schema"], record["changed"], len(record["rooms"])) == ("gaugerod/changes/1", True, 1)
    assert {order["key"] for order in record["orders"]} >= {"joints.perimeter"}
    json.dumps(record, allow_nan=False)
    assert "length of wall 1" in changes_csv(changes)
    same = changes_record(compare_setouts(room_with(), room_with()))
    assert (same["changed"], same["rooms"], same["orders"]) == (False, [], [])
