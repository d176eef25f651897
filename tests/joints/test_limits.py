"""The least joint by the limits alone, against divisions made without the code: no division may have less."""

from __future__ import annotations

import math
from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from layout.joints.limits import breach, by_area, counts, joints_along, keeps, least_joint
from layout.joints.rectangles import Rectangles
from layout.standards.rules import RULE_SETS

JOINT = 8.0


def rule_of(edge=math.inf, area=None, aspect=None):
    return replace(RULE_SETS["UK_FLOOR"], max_edge=edge, max_area_m2=area, max_aspect=aspect)


@st.composite
def divisions(draw):
    """A rectangle cut right across again and again: its sides, its bays and its length of joint, mm."""
    width, height = draw(st.integers(1_000, 20_000)), draw(st.integers(1_000, 20_000))
    bays, total = [(float(width), float(height))], 0.0
    for _ in range(draw(st.integers(0, 12))):
        k = draw(st.integers(0, len(bays) - 1))
        w, h = bays[k]
        axis = draw(st.integers(0, 1))
        side = (w, h)[axis]
        if side < 1_000.0:
            continue
        first = round((side - JOINT) * draw(st.integers(1, 9)) / 10.0, 1)
        total += h if axis == 0 else w
        two = side - JOINT - first
        bays[k : k + 1] = [(first, h), (two, h)] if axis == 0 else [(w, first), (w, two)]
    return width, height, bays, total


@settings(max_examples=300)
@given(divisions())
def test_a_division_never_has_less_joint_than_the_least_by_its_own_bays(made):
    """The limits are set to the greatest bay of the division, so it keeps them: its joint bounds the least from above."""
    width, height, bays, total = made
    edge, area = max(max(bay) for bay in bays), max(w * h for w, h in bays) / 1e6
    for rule in (rule_of(edge), rule_of(edge, area), rule_of(area=area)):
        assert least_joint(width, height, rule, JOINT) <= total + 1e-6


@settings(max_examples=100)
@given(
    st.integers(500, 14_000), st.integers(500, 14_000), st.sampled_from([(3657.6, None, None), (8000.0, 40.0, 2.0), (5000.0, 25.0, None)])
)
def test_the_division_found_is_never_under_the_least_and_turned_it_is_as_long(width, height, limits):
    found = Rectangles(rule_of(*limits), JOINT)
    length = found.cost(width, height)
    assert least_joint(width, height, rule_of(*limits), JOINT) <= length + 1e-6
    assert abs(Rectangles(rule_of(*limits), JOINT).cost(height, width) - length) < 1e-6
    assert found.cost(width, height, below=length / 2) in (length, math.inf) or length == 0.0
    assert (length == 0.0) == keeps(max(width, height), min(width, height), width * height, rule_of(*limits), JOINT)


def test_joints_along_a_line_by_hand():
    # n bays of 4,000 and n - 1 joints of 8 reach n x 4,008 - 8: 4,000; 8,008; 12,016; the touch of 0.1 a bay comes on top
    rule = rule_of(4_000.0)
    assert [joints_along(length, rule, 8.0) for length in (4_000.1, 4_000.3, 8_008.2, 8_008.4, 12_016.3)] == [0, 1, 1, 2, 2]
    assert joints_along(50_000.0, rule_of(), 8.0) == 0


def test_the_least_by_area_by_hand():
    # 8 x 8 m in bays of 16 m2: four squares of 4 m; 2 x 64 / 4 - 32 / 2 = 16 m of joint, a little less for the joint's own width
    least = by_area(64e6, 32_000.0, rule_of(area=16.0), JOINT)
    assert 16_000 * 0.99 < least < 16_000
    assert by_area(64e6, 32_000.0, rule_of(), JOINT) == 0.0
    assert by_area(1e6, 4_000.0, rule_of(area=16.0), JOINT) == 0.0


def test_least_joint_of_a_rectangle_by_hand():
    # 12 x 9 m, edge 4 m: 3.0 bays less the joints' width do not fit 12 m: 3 joints; 9 m takes 2; 3 x 9 + 2 x 12, six crossings of 8
    assert least_joint(12_000.0, 9_000.0, rule_of(3_657.6), JOINT) == 3 * 9_000 + 2 * 12_000 - 6 * 8


def test_limits_stand_where_the_rule_says():
    rule = rule_of(8_000.0, 40.0, 2.0)
    assert keeps(8_000.1, 5_000.0, 40e6, rule, JOINT)
    assert not keeps(8_000.2, 5_000.0, 40e6, rule, JOINT)
    assert not keeps(8_000.0, 5_000.0, 40.00001e6, rule, JOINT)
    assert keeps(8_000.0, 3_981.0, 31e6, rule, JOINT)  # 2.0095: within the half of a hundredth for joints
    assert not keeps(8_000.0, 3_979.0, 31e6, rule, JOINT)
    assert keeps(8_000.0, 32.0, 1e6, rule, JOINT)  # no wider than four joints: no cut mends its aspect
    assert not keeps(8_000.0, 32.1, 1e6, rule, JOINT)
    assert breach(8_001.0, 3_000.0, 41e6, rule, JOINT).startswith("a bay 8001 long, over 8000")
    assert breach(8_000.0, 5_200.0, 41.6e6, rule, JOINT).startswith("a bay of 41.6 m², over 40")
    assert breach(8_000.0, 3_000.0, 24e6, rule, JOINT).startswith("a bay of aspect 2.67, over 2")
    assert breach(8_000.0, 4_000.0, 32e6, rule, JOINT) == ""


def test_counts_worth_trying_by_hand():
    # 20 x 9 m, edge 8 m, 40 m2, aspect 2: by edge 3 (3 x 8,008 - 8 >= 20,000), one more, by area 180 / 40 = 4.5: 5, by aspect 20 / 18: 2
    assert counts(20_000.0, 9_000.0, 180e6, rule_of(8_000.0, 40.0, 2.0), JOINT) == [2, 3, 4, 5]
    assert counts(4_000.0, 9_000.0, 36e6, rule_of(8_000.0), JOINT) == [2]
    # exactly two bays of 4,000 and a joint reach 8,008; a touch more takes three
    assert counts(8_008.1, 9_000.0, 72e6, rule_of(4_000.0), JOINT) == [2, 3]
    assert counts(8_008.2, 9_000.0, 72e6, rule_of(4_000.0), JOINT) == [3, 4]
