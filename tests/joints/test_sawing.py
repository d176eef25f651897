"""Cuts as sawn: nothing of the region is left in neither bay nor joint, and a joint has tile on both sides."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from layout.joints.divide import divide
from layout.joints.sawing import ALONG
from layout.joints.values import FixedLine, Lattice1D, Undivided
from layout.plan.values import Rules
from layout.setout.conduct import set_out
from layout.setout.residuals import audit
from layout.standards.rules import RULE_SETS
from tests.rooms import plan_of, set_out_room

TILE = Lattice1D(206.0, 200.0, straight=True)
WIDTH = 8.0
NEAR = [-31.0, -29.0, -8.1, -8.0, -7.9, -5.0, -4.0, -3.0, -0.2, -0.1, 0.0, 0.1, 0.2, 3.0, 4.0, 5.0, 8.0, 29.0, 31.0]
"""How far an edge is put from a face of a joint, on purpose."""


@st.composite
def halls(draw):
    """A hall with boxes out of it, some with an edge close to where a joint falls or is given, some slanted."""
    width, height = draw(st.sampled_from([7_000.0, 8_240.0, 11_000.0])), draw(st.sampled_from([3_500.0, 6_000.0]))
    slant = draw(st.sampled_from([0.0, 0.0, 60.0]))
    shape = shapely.Polygon([(0, 0), (width, 0), (width - slant, height), (slant, height)])
    given_at = draw(st.one_of(st.none(), st.integers(10, 25)))
    fixed = () if given_at is None else (FixedLine(0, given_at * 206.0 - 6.0, WIDTH, "intermediate", "given", must=True),)
    for _ in range(draw(st.integers(0, 4))):
        k, off, side = draw(st.integers(5, 30)), draw(st.sampled_from(NEAR)), draw(st.booleans())
        at = k * 206.0 - 6.0 + off
        w, h = draw(st.sampled_from([120.0, 400.0])), draw(st.sampled_from([45.0, 300.0, 2_000.0]))
        y = draw(st.sampled_from([-50.0, 1_000.0, height - 300.0]))
        shape = shapely.difference(shape, shapely.box(at, y, at + w, y + h) if side else shapely.box(at - w, y, at, y + h))
    parts = [part for part in shapely.get_parts(shape) if part.area > 1e5]
    return shapely.union_all(parts), fixed


def strips_of(division):
    return [
        shapely.box(
            *np.concatenate([segment.min(axis=0), segment.max(axis=0)])
            + np.array([-1, -1, 1, 1]) * (cut.width / 2) * np.tile([cut.axis == 0, cut.axis == 1], 2)
        )
        for cut in division.cuts
        for segment in cut.segments
    ]


@settings(max_examples=150)
@given(
    halls(), st.sampled_from(["EJ171_INTERIOR_WET_SUN", "DE_INTERIOR"]), st.sampled_from([0.0, 100.0]), st.sampled_from(["shift", "cut"])
)
def test_bays_joints_and_what_is_told_as_dropped_make_up_the_region(hall, rule, start, bays):
    shape, fixed = hall
    division = divide(Undivided(shape, Rules(movement=RULE_SETS[rule], bays=bays), (TILE, TILE), fixed), (start, start))
    strips = strips_of(division)
    joint = shapely.intersection(shapely.union_all(strips), shape).area if strips else 0.0
    told = sum(bay.area for bay, _ in division.bays) + joint + sum(cut.dropped for cut in division.cuts)
    # a strip's end at a slanted wall or in a notch no longer than ALONG is not told
    ends = sum(2 * ALONG * cut.width for cut in division.cuts) * 3
    assert shape.area - ends - 1.0 <= told <= shape.area + 1.0 + len(strips) * WIDTH**2  # where joints cross, their strips overlap in none
    whole = shapely.union_all([bay for bay, _ in division.bays])
    for cut in division.cuts:
        for segment in cut.segments:
            low, high = segment.min(axis=0), segment.max(axis=0)
            for t in np.linspace(0.0, 1.0, 12):
                at = low + (high - low) * t
                if min(math.dist(at, low), math.dist(at, high)) < ALONG:
                    continue
                for side in (-1, 1):
                    off = np.zeros(2)
                    off[cut.axis] = side * (cut.width / 2 + 0.2)
                    beside = shapely.Point(at + off)
                    # another joint that ends here from the side, or a stretch no longer than ALONG, is no tile either
                    assert whole.distance(beside) <= max(WIDTH, ALONG)


def test_a_given_joint_along_a_column_is_the_columns_for_that_stretch():
    # by hand: joint from x = 2,000 to 2,008; a column 500 long stands with its left edge at 2,003: 8 - 3 = 5 mm of strip lie in it
    line = FixedLine(0, 2_000.0, WIDTH, "intermediate", "given", must=True)
    shape = shapely.difference(shapely.box(0, 0, 4_000, 3_000), shapely.box(2_003, 1_000, 2_403, 1_500))
    division = divide(Undivided(shape, Rules(movement=RULE_SETS["UK_FLOOR"]), (TILE, TILE), (line,)), (0.0, 0.0))
    (cut,) = division.cuts
    assert [segment[:, 1].tolist() for segment in cut.segments] == [[0.0, 1_000.0], [1_500.0, 3_000.0]]
    assert cut.dropped == pytest.approx(3.0 * 500.0)
    structural = divide(
        Undivided(
            shape, Rules(movement=RULE_SETS["UK_FLOOR"]), (TILE, TILE), (FixedLine(0, 1_996.0, 10.0, "structural", "given", must=True),)
        ),
        (0.0, 0.0),
    )
    assert sum(np.ptp(segment[:, 1]) for segment in structural.cuts[0].segments) == 3_000.0  # it is in the substrate: it stays one


def test_a_cut_that_would_run_along_an_edge_is_moved_to_another_tile_joint():
    # 6,600 long under 3,658: the tile joint next to the middle is at 3,290 (16 x 206 - 6); a nib's edge lies 4 mm beyond it
    plain = divide(
        Undivided(shapely.box(0, 0, 6_600, 3_000), Rules(movement=RULE_SETS["EJ171_INTERIOR_WET_SUN"]), (TILE, TILE)), (0.0, 0.0)
    )
    (cut,) = plain.cuts
    assert cut.low == 3_290.0
    for off, moved in ((4.0, True), (-20.0, True), (WIDTH, False), (-40.0, False)):
        nib = shapely.box(cut.low + off - 300.0, 2_800.0, cut.low + off, 3_000.0)
        shape = shapely.difference(shapely.box(0, 0, 6_600, 3_000), nib)
        found = divide(Undivided(shape, Rules(movement=RULE_SETS["EJ171_INTERIOR_WET_SUN"]), (TILE, TILE)), (0.0, 0.0))
        assert (found.cuts[0].low != cut.low) == moved
        assert sum(each.dropped for each in found.cuts) == 0.0


@pytest.mark.parametrize("room", [
    {"outline": [[0, 0], [2000, 0], [2000, 8000], [0, 8000], [0, 3600], [-124, 3600], [-124, 2400], [0, 2400]]},
    {
        "outline": [[0, 0], [6000, 0], [6000, 3000], [3500, 3000], [3500, 5000], [0, 5000]],
        "columns": [{"outline": [[3139, 0], [3939, 0], [3939, 700], [3139, 700]]}],
        "plinths": [{"outline": [[3300, 1175], [3500, 1175], [3500, 1375], [3300, 1375]], "height": 150}],
    },
])  # fmt: skip
def test_rooms_in_which_a_joint_ran_along_a_border_add_up(room):
    told = {(each.name, each.surface.name if each.surface else ""): each for each in audit(set_out(plan_of(room))).residuals}
    assert ("area of bays", "floor") in told
    assert ("intermediate joint", "floor") in told
    assert not [each.words() for (name, _), each in told.items() if each.breach and ("joint" in name or "area" in name)]


def test_a_joint_that_must_lie_along_a_column_is_told_and_counted_as_left_out():
    # the joint through the corner lies from 3,992 (the wall's face less its joint) to 3,998; the column's joint ends at 3,986 + 8
    room = set_out_room(
        {
            "outline": [[0, 0], [9_000, 0], [9_000, 3_000], [4_000, 3_000], [4_000, 7_000], [0, 7_000]],
            "columns": [{"outline": [[3_500, 1_000], [3_986, 1_000], [3_986, 1_600], [3_500, 1_600]]}],
        },
        rules={"movement": "DE_INTERIOR"},
    )
    found = [finding for finding in room.findings if finding.code == "joint-along-edge"]
    assert len(found) == 1
    assert room.floor.lost_mm2 == pytest.approx((3_998 - 3_994) * (600 + 2 * 8))
