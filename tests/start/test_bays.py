"""Bays beside given joints, against the pieces as laid and against every start a millimetre apart."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from layout.plan.patterns import pattern_of
from layout.tiles.lay import lay
from layout.tiles.widths import piece_widths, strips
from tests.rooms import set_out_room

PITCH, SIZE = 206.0, 200.0


def hall(width, height, *lines, **more):
    joints = [{"line": [[x, 0], [x, height]], "width": wide} for x, wide in lines]
    return set_out_room({"outline": [[0, 0], [width, 0], [width, height], [0, height]], "structural_joints": joints, **more})


def columns_of(room):
    """Of each bay between structural joints, left to right: its ends, and the widths of its tiles along the bottom row, by the pieces as laid."""
    floor = room.floor
    spans = sorted({(round(bay.region.bounds[0], 3), round(bay.region.bounds[2], 3)) for bay in floor.bays})
    stands = sorted(joint.line[0, 0] - joint.width / 2 for joint in room.joints if joint.kind == "structural")
    ends = [spans[0][0], *[x for x in stands for x in (x,)], spans[-1][1]]
    boxes = shapely.bounds(np.array([*floor.field.whole_polygons(), *floor.field.pieces()], dtype=object))
    result = []
    for low, high in itertools.pairwise(ends):
        own = boxes[(boxes[:, 0] >= low - 1.0) & (boxes[:, 2] <= high + 1.0)]
        row = own[np.abs(own[:, 1] - own[:, 1].min()) < 1.0]
        row = row[np.argsort(row[:, 0])]
        result.append((float(row[0, 0]), float(row[-1, 2]), np.round(row[:, 2] - row[:, 0], 2)))
    return result


def best_by_sampling(length, gap=PITCH - SIZE):
    """Narrowest end cut of a run of tiles of a length, whole from an end, and at the best of all starts a millimetre apart, mm."""

    def narrowest(first):
        rest = (length - first - gap) % PITCH
        last = SIZE if rest > SIZE or (rest < 1e-6 and first == SIZE) else rest
        return min(first, last if last > 0.1 else SIZE)

    whole = narrowest(SIZE)
    return whole, max(narrowest(first) for first in np.arange(1.0, SIZE + 0.5, 1.0))


@pytest.mark.parametrize(("at", "words"), [(2950, 2), (3000, 1), (3060, 0)])
def test_tiles_are_whole_from_a_structural_joint_only_where_the_far_cut_is_no_sliver(at, words):
    # 6.1 x 4.0 m, joint of 20: left 10 to at - 10, right at + 10 to 6,090; cuts at the walls by remainders of 206
    room = hall(6100, 4000, (at, 20))
    told = [finding.text for finding in room.findings if finding.code == "bay-balanced"]
    assert len(told) == words
    left, right = columns_of(room)
    for (_, _, widths), length in ((left, at - 20.0), (right, 6080.0 - at)):
        whole = (length - SIZE) % PITCH - (PITCH - SIZE)
        whole = SIZE if whole <= 0 else whole
        if whole >= 100.0:
            assert SIZE in (widths[0], widths[-1])
            assert min(widths[0], widths[-1]) == pytest.approx(whole, abs=0.1)
        else:  # both ends cut alike, and by no less than half of what two tiles and the remainder give
            assert abs(widths[0] - widths[-1]) <= 6.0
            assert min(widths[0], widths[-1]) >= 100.0
    assert all("structural joint 1" in text for text in told)
    assert room.floor.start.smallest >= 100.0


@settings(max_examples=12)
@given(st.integers(1500, 4500), st.integers(1500, 4500), st.sampled_from([8, 20, 25]))
def test_no_start_of_a_bay_is_better_than_the_one_it_takes(left, right, width):
    """Each bay is a run of tiles by itself: its narrowest end cut is that of whole tiles at the joint if no less than 100, else the best of all."""
    room = hall(left + width + right, 3000, (left + width / 2, width))
    assert len(columns_of(room)) == 2
    for (low, high, widths), length in zip(columns_of(room), (left - 10.0, right - 10.0), strict=True):
        if length > 3657.0:
            continue  # joints by rule inside it
        whole, best = best_by_sampling(length)
        mine = min(widths[0], widths[-1])
        assert high - low <= length + 0.1
        assert mine >= min(whole, 100.0) - 0.1
        if whole >= 100.0:
            assert mine == pytest.approx(whole, abs=0.2)
        else:
            assert mine >= min(best, 100.0) - 8.0  # the play of walls and equal cuts weigh in within the walls' tolerance


def test_three_bays_each_start_for_themselves():
    room = hall(9000, 3000, (2950, 20), (5000, 20))
    narrow = [min(widths[0], widths[-1]) for _, _, widths in columns_of(room)]
    assert len(narrow) == 3
    assert min(narrow) >= 99.0


def test_a_start_that_the_plan_gives_stays():
    tile = {"size": [200, 200], "joint": 6, "start": [100, 100]}
    room = set_out_room(
        {"outline": [[0, 0], [6100, 0], [6100, 4000], [0, 4000]], "structural_joints": [{"line": [[2950, 0], [2950, 4000]], "width": 20}]},
        tiles={"floor": tile},
    )
    assert not [finding for finding in room.findings if finding.code == "bay-balanced"]
    first = min(room.floor.bays, key=lambda bay: bay.region.bounds[:2])
    assert (first.origin[0] - 100.0) % PITCH == pytest.approx(0.0, abs=1e-6)


BONDED = {
    # outline, where the joint crosses, what was taken while each face of the joint was weighed for one course of the two alone
    "skew": ([[0, 0], [3021, 0], [3024, 2577], [0, 2579]], 1420, 31.0),
    "bent": ([[0, 0], [2717, 0], [2717, 1992], [1358, 1988], [0, 1992]], 1277, 39.0),
}


@pytest.mark.parametrize("name", BONDED)
def test_every_course_of_a_bond_counts_at_the_faces_of_a_given_joint(name):
    outline, at, before = BONDED[name]
    room = {"outline": outline, "structural_joints": [{"line": [[at, 0], [at, 2600]], "width": 20}]}
    tile = {"size": [300, 150], "joint": 4, "pattern": "running", "least_cut": 1}
    rules = {"wall_tolerance": 0, "movement": "DE_INTERIOR", "start_order": ["least", "narrowest"]}
    floor = set_out_room(room, tiles={"floor": tile}, rules=rules).floor
    pattern, region = pattern_of(floor.tile), shapely.union_all([bay.region for bay in floor.bays])

    def drawn(start, region=region):
        laid = lay(region, pattern, 0.0, np.array(start))
        own = strips(laid.pieces, laid.cut[:, 0], pattern)
        return float(piece_widths(laid.pieces[own]).min(initial=pattern.widest))

    mine = min(drawn(bay.origin, bay.region) for bay in floor.bays)  # each starts for itself
    assert floor.start.smallest == pytest.approx(mine, abs=0.1)
    assert mine >= before + 20.0
    sampled = [drawn((x, y)) for x in np.arange(5.0, 304.0, 23.0) for y in np.arange(3.0, 154.0, 23.0)]
    assert mine >= max(sampled) - 0.1
