"""Where a thing stands by two distances: found again by measuring it off the walls and corners in another way."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import assume, given
from hypothesis import strategies as st

from layout.errors import PlanError
from layout.survey.placing import box_off_walls, from_corners, inside, off_walls

SKEW = np.array([(0.0, 0.0), (3620.0, 0.0), (3650.3, 5184.9), (0.4, 5210.0)])
L_ROOM = np.array([(0, 0), (6500, 0), (6500, 2900), (4100, 2900), (4100, 4700), (0, 4700)], dtype=float)


def line(corners, edge):
    a, b = corners[edge], corners[(edge + 1) % len(corners)]
    way = (b - a) / math.dist(a, b)
    return shapely.LineString([a - way * 1e5, b + way * 1e5])


@pytest.mark.parametrize("corners", [SKEW, SKEW[::-1], L_ROOM, L_ROOM[::-1]])
@pytest.mark.parametrize(("first", "second"), [((0, 700.0), (1, 400.0)), ((1, 400.0), (2, 1300.0)), ((3, 250.0), (0, 90.0))])
def test_a_point_off_two_walls_lies_so_far_off_each(corners, first, second):
    (ux, uy), (vx, vy) = ((corners[(e + 1) % len(corners)] - corners[e]) for e, _ in (first, second))
    if abs(ux * vy - uy * vx) < 1e3:
        pytest.skip("these two walls run the same way here")
    point = shapely.Point(off_walls(corners, first, second))
    for edge, away in (first, second):
        assert line(corners, edge).distance(point) == pytest.approx(away, abs=0.01)


@given(st.floats(200, 3400), st.floats(200, 5000))
def test_two_tapes_from_any_two_corners_find_the_point_they_were_held_to(x, y):
    point = (x, y)
    assume(shapely.Polygon(SKEW).buffer(-100).contains(shapely.Point(point)))
    for i in range(4):
        j = (i + 1) % 4
        both = from_corners(SKEW, (i, math.dist(SKEW[i], point)), (j, math.dist(SKEW[j], point)))
        assert min(math.dist(each, point) for each in both) < 0.1
        assert inside(SKEW, point)


def test_a_plinth_off_two_walls_has_its_size_and_its_place():
    ring = shapely.Polygon(box_off_walls(L_ROOM, (0, 300.0), (5, 500.0), (1300.0, 800.0)))
    assert ring.bounds == (500.0, 300.0, 1800.0, 1100.0)


@pytest.mark.parametrize("point", [(100, 100), (4099, 4600), (6400, 2800), (4200, 3000), (-1, 5), (6501, 10), (4100.5, 4699)])
def test_inside_agrees_with_another_way_of_asking(point):
    assert inside(L_ROOM, point) == shapely.Polygon(L_ROOM).contains(shapely.Point(point))


@pytest.mark.parametrize(("first", "second", "words"), [
    ((0, 1000.0), (0, 2000.0), "corner 1 twice"),
    ((0, 1000.0), (1, 2000.0), "cannot meet: corners 1 and 2 stand 6500 apart, 3500 off"),
    ((0, 9000.0), (1, 2000.0), "cannot meet"),
])  # fmt: skip
def test_tapes_that_cannot_meet_are_told(first, second, words):
    with pytest.raises(PlanError, match=words):
        from_corners(L_ROOM, first, second)


def test_walls_that_run_alike_fix_no_point():
    with pytest.raises(PlanError, match="walls 1 and 5 run nearly the same way"):
        off_walls(L_ROOM, (0, 100.0), (4, 100.0))
