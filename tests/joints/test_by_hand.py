"""Divisions asked of the functions that weigh them: what a cut runs along, the grid that it may lie on, what is given up."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import shapely

from layout.joints.divide import GRAZE, _crowds, _edges_along, _grazes
from layout.joints.partition import Grid
from layout.joints.rectangles import Rectangles
from layout.joints.values import Itself
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


ELL = shapely.Polygon([(0, 0), (6_000, 0), (6_000, 2_000), (3_000, 2_000), (3_000, 5_000), (0, 5_000)])


def test_edges_along_a_cut_are_those_with_the_part_below_and_above():
    """Across x the L ends at 3000 and 6000 and begins at 0; across y it ends at 2000 and 5000; a bent edge is none."""
    for axis, below, above in ((0, [3_000, 6_000], [0]), (1, [2_000, 5_000], [0])):
        for part in (ELL, shapely.reverse(ELL)):
            found = _edges_along(Itself(part), axis)
            assert [sorted(each.tolist()) for each in found] == [below, above], axis
    bent = shapely.Polygon([(0, 0), (4_000, 0), (4_100, 3_000), (0, 3_000)])
    assert [each.tolist() for each in _edges_along(Itself(bent), 0)] == [[], [0.0]]


@pytest.mark.parametrize("axis", [0, 1])
def test_what_a_cut_should_keep_clear_of_is_weighed_by_the_worst_and_by_how_much(axis):
    def obstacle(begin: float, end: float, rim: float, wanted: float, beside: float = 500.0, along: int | None = None) -> Any:
        bounds = (begin, beside, end, beside + 200.0) if axis == 0 else (beside, begin, beside + 200.0, end)
        return SimpleNamespace(bounds=bounds, rim=rim, wanted=wanted, axis=along)

    part = shapely.box(0, 0, 3_000, 3_000)
    met = [obstacle(1_000, 1_200, 50, 300), obstacle(2_000, 2_100, 0, 100)]
    task: Any = SimpleNamespace(obstacles=met, rules=SimpleNamespace(movement_joint=WIDTH))
    # at 1120 through the first by 80: 350 + 80; at 1230 over its rim, 30 off; at 1400 nearer than wanted, 200 off; at 1600 clear;
    # at 2040 through the second by 48: 100 + 48 (its far side is 60 off, its near one 48)
    lows = [1_120.0, 1_230.0, 1_400.0, 1_600.0, 2_040.0]
    assert _crowds(task, part, axis, lows) == [(3, 4), (2, 3), (1, 2), (0, 0), (3, 1)]
    # what lies beside the part, or asks for nothing along this axis, is not met
    far: Any = SimpleNamespace(
        obstacles=[obstacle(1_000, 1_200, 50, 300, beside=3_500.0), obstacle(1_000, 1_200, 50, 300, along=1 - axis)], rules=task.rules
    )
    assert _crowds(far, part, axis, lows) == [(0, 0)] * len(lows)


def test_a_re_entrant_corner_is_the_four_cells_round_it_where_the_grid_passes_it():
    rule = replace(RULE_SETS["DE_INTERIOR"], max_edge=10_000.0, max_area_m2=None, max_aspect=None)
    made = Grid(ELL, ((), ()), [(3_000.0, 2_000.0), (1_234.0, 777.0)], Rectangles(rule, WIDTH))
    (notch,) = made.notches
    cells = [bit.bit_length() - 1 for bit in notch]
    inside = [made.bounds[cell] for cell in cells if made.full & (1 << cell)]
    # three of the four lie in the L and have the corner at one of theirs; the fourth is the part that is not there
    assert len(set(cells)) == 4
    assert len(inside) == 3
    assert all(3_000.0 in (x0, x1) and 2_000.0 in (y0, y1) for x0, y0, x1, y1 in inside)
    assert Grid(ELL, ((), ()), [(3_000.0, 2_000.0)], Rectangles(replace(rule, reentrant=False), WIDTH)).notches == []
