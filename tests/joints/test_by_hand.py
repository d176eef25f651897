"""Divisions asked of the functions that weigh them: what a cut runs along, the grid that it may lie on, what is given up."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely

from layout.joints.divide import GRAZE, _grazes
from layout.joints.partition import Grid
from layout.joints.rectangles import Rectangles
from layout.standards.rules import RULE_SETS

WIDTH = 8.0


def grid(width: float, height: float, edge: float) -> Grid:
    rule = replace(RULE_SETS["UK_FLOOR"], max_edge=edge, max_area_m2=None, max_aspect=None)
    return Grid(shapely.box(0, 0, width, height), ((), ()), (), Rectangles(rule, WIDTH))


@pytest.mark.parametrize(
    ("below", "above", "count"),
    [
        ([], [], 0),
        ([1004.0], [1004.0], 2),  # both within the joint from 1000 to 1008
        ([1000.0], [1008.0], 0),  # each at the face that its side ends at: the cut lies beside them
        ([1008.0 + GRAZE - 1.0], [], 1),
        ([1008.0 + GRAZE + 1.0], [], 0),
        ([], [1000.0 - GRAZE + 1.0], 1),
        ([], [1000.0 - GRAZE - 1.0], 0),
        ([1004.0, 1005.0], [1004.0], 3),
    ],
)
def test_edges_that_a_cut_runs_along_are_counted(below, above, count):
    assert _grazes((np.array(below, dtype=float), np.array(above, dtype=float)), 1000.0, WIDTH) == count


def test_the_grid_holds_the_reaches_of_the_rule_from_both_ends_and_equal_parts():
    lines = grid(10_000, 3_000, 4_000).lines[0]
    for at in (4_000, 6_000, 10_000 / 3, 20_000 / 3, 2_500, 5_000, 7_500):
        assert min(abs(line - at) for line in lines) < 0.01, at
    assert (lines[0], lines[-1]) == (0.0, 10_000.0)
    assert all(0.0 <= line <= 10_000.0 for line in lines)
    assert grid(10_000, 3_000, math.inf).lines[0] == [0.0, 10_000.0], "without a greatest edge there is nothing to reach"


def test_a_cut_that_leads_to_more_than_the_best_is_given_up_unless_it_is_told():
    # 6000 x 3000 under 4000: one cut across, 3000 long, will do; along it costs 6000 and two more of 1500
    whole = grid(6_000, 3_000, 4_000)
    assert whole.cost(whole.full) == 3_000.0
    ways = whole.weighed((), 1.0)
    across = {at: total for axis, at, total in ways if axis == 0 and math.isfinite(total)}
    assert set(across.values()) == {3_000.0}
    assert 3_000.0 in across
    assert {total for axis, _, total in ways if axis == 1} == {math.inf}
    along = next(at for axis, at, _ in ways if axis == 1)
    told = grid(6_000, 3_000, 4_000).weighed([(1, along)], 1.0)
    assert [total for axis, at, total in told if (axis, at) == (1, along)] == [pytest.approx(9_000.0)]
