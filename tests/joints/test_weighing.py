"""What is left unweighed while a part is divided: the same is found as where nothing is left out."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely

from layout.joints import options, partition
from layout.joints.bounds import at_least
from layout.joints.divide import divide
from layout.joints.partition import Grid
from layout.joints.rectangles import Rectangles
from layout.joints.values import Lattice1D, PreferredLine, Undivided
from layout.plan.values import Rules
from layout.standards.rules import RULE_SETS

HALL = shapely.Polygon([[0, 0], [40_000, 700], [39_200, 30_000], [500, 29_600]])
"""Wants more lines of joint each way than a grid has."""


def skew_rooms(count, edge):
    """Rooms of one to eight greatest edges a side with four walls out of square, some with a notch."""
    rng = np.random.default_rng(5)
    for k in range(count):
        width, height = rng.uniform(1.2, 8.0, 2) * edge
        aside = rng.uniform(0.0, 400.0, (4, 2))
        ring = np.array([(0, 0), (width, 0), (width, height), (0, height)]) + aside * [(1, 1), (-1, 1), (-1, -1), (1, -1)]
        room = shapely.Polygon(ring)
        yield room if k % 2 else shapely.difference(room, shapely.box(width * 0.6, height * 0.55, width + 1, height + 1))


@pytest.mark.parametrize("rule", ["DE_INTERIOR", "EJ171_INTERIOR_WET_SUN"])
def test_where_no_division_is_on_the_grid_that_is_seen_without_weighing_it(rule, monkeypatch):
    """Seen by its cells, and found by weighing every part: no grid that has a division is given up."""
    seen = []
    for room in (HALL, *skew_rooms(4, RULE_SETS[rule].max_edge)):
        grids = [Grid(room, ([], []), [], Rectangles(RULE_SETS[rule], 10.0)) for _ in range(2)]
        monkeypatch.setattr(partition, "LOOKED_AT", math.inf)
        every = grids[0].weighed([], 1.0)
        monkeypatch.setattr(partition, "LOOKED_AT", 0)
        assert grids[1].weighed([], 1.0) == every
        seen.append((grids[1].hopeless, all(math.isinf(cost) for _, _, cost in every)))
    assert (True, True) in seen
    assert (False, False) in seen
    assert (True, False) not in seen


EDGE = replace(RULE_SETS["UK_FLOOR"], max_edge=4_000.0, max_area_m2=None, max_aspect=None)


@pytest.mark.parametrize(
    ("holes", "least"),
    [
        ([], 5_000 + 3_000 + 5_000 + 6_990),  # the cut, a joint across what is left of it, and one each way across what is right
        ([(1_000, 2_000, 2_000, 3_000)], 5_000 + 2_000 + 5_000 + 6_990),  # the joint left of it runs through the hole
        ([(2_500, 2_000, 3_500, 3_000)], 4_000 + 2_500 + 5_000 + 6_500),  # the cut meets the hole, and so do the joints to both sides
    ],
)
def test_the_least_joint_beside_a_cut_by_hand(holes, least):
    part = shapely.difference(shapely.box(0, 0, 10_000, 5_000), shapely.union_all([shapely.box(*hole) for hole in holes]))
    assert isinstance(part, shapely.Polygon)
    (found,) = at_least(part, [(0, [3_000.0])], EDGE, 10.0)
    assert found <= least
    assert found > 0.8 * least


def floors(count, seed, edge):
    """Floors of four walls a little out of square, with columns, some with a shallow recess, and lines that are liked through the columns."""
    rng = np.random.default_rng(seed)
    for k in range(count):
        width, height = rng.uniform(2.2, 4.5) * edge, rng.uniform(0.9, 2.1) * edge
        aside = rng.uniform(0.0, 8.0, (4, 2))
        room = shapely.Polygon(np.array([(0, 0), (width, 0), (width, height), (0, height)]) + aside * [(1, 1), (-1, 1), (-1, -1), (1, -1)])
        columns = [(x, y, x + 400, y + 300) for x, y in rng.uniform(500, (width - 900, height - 800), (k % 3, 2))]
        taken = [shapely.box(*column) for column in columns] + ([shapely.box(1_000, height - 15, 3_000, height + 9)] if k % 2 else [])
        lines = [PreferredLine(axis, column[axis] + 200.0, "column") for column in columns for axis in (0, 1)]
        yield shapely.difference(room, shapely.union_all(taken)) if taken else room, tuple(lines)


@pytest.mark.parametrize("rule", ["EJ171_INTERIOR_WET_SUN", "DE_INTERIOR"])
def test_cuts_that_cannot_win_are_left_out_and_the_same_is_chosen_and_told(rule, monkeypatch):
    """Every cut weighed leads to as much joint as was said at the least; without that bound the same joints are made, and the same is told."""
    lattice = Lattice1D(206.0, 200.0, straight=True)
    tasks = [
        Undivided(floor, Rules(movement=RULE_SETS[rule], movement_joint=10.0), (lattice, lattice), preferred=lines)
        for floor, lines in floors(6, 3, RULE_SETS[rule].max_edge)
    ]
    left = 0
    below: list[bool] = []

    def made(task):
        found = divide(task, (13.0, 57.0))
        return [(cut.axis, cut.low, cut.why) for cut in found.cuts], [(each.what, each.why) for each in found.rejected]

    weighed = options._lengths

    def seen(task, part, given):
        nonlocal left
        found = weighed(task, part, given)
        bounds = at_least(part, [(each.axis, each.lows) for each in given], task.rules.movement, task.rules.movement_joint)
        left += sum(math.isnan(cost) for _, cost in found)
        below.extend(bound <= options._option_cost(task, part, each) + 1e-6 for bound, each in zip(bounds, given, strict=True))
        return found

    monkeypatch.setattr(options, "_lengths", seen)
    ours = [made(task) for task in tasks]
    assert left > 10
    assert len(below) > 40
    assert all(below)
    monkeypatch.setattr(options, "at_least", lambda _, cuts, *__: [0.0] * len(cuts))
    for each in (options._weighed_itself, options.weighed):
        each.cache_clear()
    assert [made(task) for task in tasks] == ours
