"""What is built stays: every bay's lines, joints and marks, in the room as it turned out."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
import shapely

from layout.changes.compare import compare_setouts
from layout.changes.cost import keeping_costs
from layout.changes.keep import issued, keep_built
from layout.errors import PlanError, SetOutError
from layout.readers.planfile import parse_plan
from layout.setout.conduct import set_out
from layout.setout.residuals import audit
from layout.shapes import turned
from layout.writers.planfile import plan_toml
from tests.rooms import moved, plan_of

TEE: dict[str, Any] = {"outline": [[0, 0], [3900, 0], [3900, 1700], [2500, 1700], [2500, 2800], [0, 2800]]}
HALL: dict[str, Any] = {"outline": [[0, 0], [4700, 0], [4700, 2900], [0, 2900]]}
RULES = {"max_edge": 2500}


def grown(room: dict[str, Any], by: float) -> dict[str, Any]:
    """The room with its left-hand wall moved out."""
    return {**room, "outline": [[x - by if x == 0 else x, y] for x, y in room["outline"]]}


def taken(before, after, *what):
    """The set-out with things kept, by way of the plan's own text."""
    kept = keep_built(before, after, what)
    return set_out(parse_plan(plan_toml(kept), "kept.toml"))


def off_lattice(before, after, motion=lambda points: points):
    """How far the middles of the tiles of each old bay stand off those of the new bay that covers its middle, mm."""
    old, new = before.rooms[0].floor, after.rooms[0].floor
    result = []
    for bay, origin in zip(old.bays, old.field.origins, strict=True):
        middle = shapely.Point(motion(np.array(bay.region.representative_point().coords))[0])
        k = next(k for k, each in enumerate(new.bays) if each.region.buffer(1).covers(middle))
        middles = [at + turned(np.full((1, 2), 100.0), way)[0] for at, way in ((origin, old.turn), (new.field.origins[k], new.turn))]
        apart = turned(motion(middles[0][None]) - middles[1], -new.turn) / 206.0
        result.append(float(np.abs(apart - np.round(apart)).max()) * 206.0)
    return result


@pytest.fixture(scope="module")
def halls():
    return tuple(set_out(plan_of(room, rules=RULES)) for room in (HALL, grown(HALL, 83)))


def test_every_bay_stays_where_it_was_snapped(halls):
    before, after = halls
    assert len(before.rooms[0].floor.bays) >= 4
    assert max(off_lattice(before, after)) > 5, "the free set-out moves them"
    kept = taken(before, after, "lines")
    assert max(off_lattice(before, kept)) < 0.01
    assert compare_setouts(before, kept).rooms[0].lines == ()
    assert audit(kept).breaches == ()


def test_a_room_that_outgrows_its_rule_gets_a_joint_and_its_tiles_stay():
    before, after = (set_out(plan_of(room, rules={"max_edge": 2600})) for room in (HALL, grown(HALL, 900)))
    kept = taken(before, after, "lines")
    assert len(kept.rooms[0].floor.bays) > len(before.rooms[0].floor.bays)
    assert max(off_lattice(before, kept)) < 0.01
    assert max(bay.longest for bay in kept.rooms[0].floor.bays) <= 2600.1


def test_lines_stay_in_a_room_that_another_wall_now_turns():
    drawn = {"outline": [[0, 0], [3000, 0], [3000, 2980], [0, 2980]]}
    built = {"outline": [[0, 0], [3000, 0], [3030, 3010], [0, 2985]]}  # the slanting wall is the longest now
    before, after = (set_out(plan_of(room, rules={"max_edge": 1800})) for room in (drawn, built))
    assert abs(math.remainder(after.rooms[0].floor.turn - before.rooms[0].floor.turn, 90)) > 0.1
    kept = taken(before, after, "lines")
    assert kept.rooms[0].floor.turn == before.rooms[0].floor.turn
    assert max(off_lattice(before, kept)) < 0.01
    assert compare_setouts(before, kept).rooms[0].lines == ()


@pytest.mark.parametrize("turn", [90.0, 30.0])
def test_lines_go_with_a_room_that_is_drawn_elsewhere(turn):
    shift = (1500.0, -220.0)
    before = set_out(plan_of(TEE))
    after = set_out(plan_of(moved(TEE, turn=turn, shift=shift)))
    kept = taken(before, after, "lines")
    assert max(off_lattice(before, kept, lambda points: turned(points, turn) + np.array(shift))) < 0.01
    assert [len(each.whole) for each in (s.rooms[0].floor.field for s in (before, kept))] == [len(before.rooms[0].floor.field.whole)] * 2


def joint_lines(setout):
    return sorted(
        tuple(np.round(np.sort(joint.line[[0, -1]], axis=0), 1).ravel().tolist())
        for joint in setout.rooms[0].joints
        if joint.kind == "intermediate" and joint.surface.kind == "floor"
    )


def test_joints_stay_and_tiles_start_anew_between_them(halls):
    before, after = halls
    assert joint_lines(after) != joint_lines(before)
    kept = taken(before, after, "joints")
    # those that end at the moved wall are longer by what it moved; no other differs
    old, new = joint_lines(before), joint_lines(kept)
    assert len(old) == len(new)
    assert {round(sum(b) - sum(a)) for a, b in zip(old, new, strict=True)} == {-83, 0}
    assert max(off_lattice(before, kept)) > 1


def test_unchanged_pieces_keep_their_marks_and_no_number_is_given_twice():
    before, after = (set_out(plan_of(room)) for room in (TEE, grown(TEE, 37)))
    kept = taken(before, after, "lines", "marks")
    old, new = ({cut.mark: cut for cut in setout.cuts} for setout in (before, kept))
    assert set(new) - set(old), "a wall moved: there are new sizes"
    last = max(int(mark[1:]) for mark in old)
    assert min(int(mark[1:]) for mark in set(new) - set(old)) == last + 1
    for mark in set(old) & set(new):
        assert old[mark].tile == new[mark].tile
        assert np.abs(np.array(old[mark].size) - np.array(new[mark].size)).max() <= 1.0
    # pieces that lie where they lay, far off the wall that moved, are under the mark that they were under
    marked = []
    for setout in (before, kept):
        floor = setout.rooms[0].floor
        keys = [key for key in setout.marks if key.surface == 0]
        offset = np.concatenate([[0], np.cumsum([len(laid.pieces) for laid in floor.field.bays])])
        pieces = floor.field.pieces()
        marked.append({tuple(np.round(pieces[offset[k.bay] + k.piece].bounds, 1)): setout.marks[k] for k in keys})
    same = [at for at in marked[0] if at in marked[1] and at[0] > 400]
    assert len(same) > 20
    assert all(marked[0][at] == marked[1][at] for at in same)


def test_a_mark_that_went_comes_back_with_its_piece_alone():
    before, narrow = (set_out(plan_of(room)) for room in (TEE, grown(TEE, 37)))
    kept = taken(before, narrow, "lines", "marks")
    again = set_out(keep_built(kept, set_out(plan_of(TEE)), ("lines", "marks")))
    assert [cut.mark for cut in again.cuts] == [cut.mark for cut in before.cuts]
    wider = set_out(keep_built(again, set_out(plan_of(grown(TEE, 61))), ("lines", "marks")))
    assert not {cut.mark for cut in wider.cuts} & ({cut.mark for cut in kept.cuts} - {cut.mark for cut in before.cuts})


def test_a_run_of_tapers_keeps_its_mark():
    skew = {"outline": [[0, 0], [3100, 0], [3100, 2000], [0, 2040]]}
    before = set_out(plan_of(skew))
    runs = {mark: each for mark, each in issued(before).items() if each.run}
    assert runs
    again = set_out(keep_built(before, before, ("marks",)))
    assert [(cut.mark, cut.count) for cut in again.cuts] == [(cut.mark, cut.count) for cut in before.cuts]


def test_what_keeping_costs_is_told(halls):
    before, after = halls
    (cost,) = keeping_costs(taken(before, after, "lines"), after)
    assert cost.free.narrowest >= cost.kept.narrowest
    floor = after.rooms[0].floor
    assert cost.free.pieces == len(floor.field.cut)
    assert cost.free.joints == pytest.approx(
        sum(shapely.LineString(line).length for line in np.reshape(joint_lines(after), (-1, 2, 2))), abs=1
    )


def test_a_joint_that_no_longer_lies_in_the_room_is_told(halls):
    small = set_out(plan_of({"outline": [[0, 0], [2000, 0], [2000, 1300], [0, 1300]]}))
    for what in ("joints", "lines"):
        with pytest.raises(PlanError, match="lies outside the new floor"):
            keep_built(halls[0], small, (what,))


@pytest.mark.parametrize(
    ("key", "row", "words"),
    [
        ("kept_lines", {"at": [100, 100], "bay": [[9000, 0], [9900, 0], [9900, 900]]}, r"rooms\[0\].kept_lines\[0\].*lie outside floor"),
        ("kept_joints", {"line": [[9000, 0], [9000, 900]]}, r"rooms\[0\].kept_joints\[0\].*lies outside the floor"),
        ("kept_joints", {"line": [[900, 0], [1000, 900]]}, r"runs at an angle to the tiles"),
    ],
)
def test_kept_keys_that_do_not_fit_the_room_are_told_with_their_place(key, row, words):
    room = {"outline": [[0, 0], [3000, 0], [3000, 2000], [0, 2000]], key: [row]}
    with pytest.raises(SetOutError, match=words):
        set_out(plan_of(room))


def test_lines_typed_by_hand_fix_the_start():
    room = {"outline": [[0, 0], [3000, 0], [3000, 2000], [0, 2000]], "kept_lines": [{"at": [131.5, 77.25]}]}
    field = set_out(plan_of(room)).rooms[0].floor.field
    apart = (field.outlines(field.whole)[:, 0] - [131.5, 77.25]) / 206.0
    assert np.abs(apart - np.round(apart)).max() < 1e-6
