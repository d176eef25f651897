"""What is left unweighed while a part is divided: the same is found as where nothing is left out."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from layout.joints import partition
from layout.joints.partition import Grid
from layout.joints.rectangles import Rectangles
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
