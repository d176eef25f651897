from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import Polygon

from layout.shapes import arc_points, circle, cleaned, edges_of, matched_edges, offset_edges, rings_of, signed_area
from tests.strategies import skew, squared


def inset(polygon: Polygon, distance: float):
    return offset_edges(polygon, [np.full(len(ring), distance) for ring in rings_of(polygon)])


def test_a_quarter_arc_has_the_bulge_of_the_handbook():
    # bulge = tan(included angle / 4): quarter circle 0.414214 (DXF reference, from memory, and computed)
    points = arc_points(np.array([1000.0, 0.0]), np.array([0.0, 1000.0]), math.tan(math.pi / 8))
    assert np.hypot(*points.T) == pytest.approx(np.full(len(points), 1000.0), abs=1e-9)
    middle = points[len(points) // 2 - 1]
    assert middle == pytest.approx([1000 / math.sqrt(2)] * 2)


def test_a_negative_bulge_runs_clockwise():
    points = arc_points(np.array([0.0, 0.0]), np.array([1000.0, 0.0]), -1.0)
    assert points[:, 1].max() == pytest.approx(500.0)
    assert arc_points(np.array([0.0, 0.0]), np.array([1000.0, 0.0]), 1.0)[:, 1].min() == pytest.approx(-500.0)


def test_a_circle_keeps_its_clearance():
    ring = shapely.get_coordinates(circle((10.0, 20.0), 126.0))
    assert shapely.Point(10, 20).distance(shapely.LineString(ring)) == pytest.approx(63.0, abs=1e-9)
    assert circle((0, 0), 126).area == pytest.approx(math.pi * 63**2, rel=2e-3)


def test_the_inset_of_the_worked_room():
    # worked by hand: inset 23, notch corner (4077, 2877)
    room = Polygon([(0, 0), (6500, 0), (6500, 2900), (4100, 2900), (4100, 4700), (0, 4700)])
    expected = Polygon([(23, 23), (6477, 23), (6477, 2877), (4077, 2877), (4077, 4677), (23, 4677)])
    assert inset(room, 23.0).symmetric_difference(expected).area < 1e-6


@given(squared(holes=False) | skew(), st.sampled_from([5.0, 23.0, 60.0]))
def test_an_inset_is_what_a_mitred_buffer_gives(room, distance):
    polygon = Polygon(room["outline"])
    ours = inset(polygon, distance)
    if ours.is_empty:
        return
    # GEOS as the outside check; it simplifies its input by a hundredth of the distance, hence the tolerance
    theirs = polygon.buffer(-distance, join_style="mitre", mitre_limit=2.0)
    assert ours.symmetric_difference(theirs).area <= polygon.length * distance * 0.011
    boundary = shapely.get_coordinates(ours)
    assert shapely.distance(shapely.points(boundary), polygon.exterior).min() >= distance - 1e-6


def test_edges_of_their_own_distance():
    box = Polygon([(0, 0), (1000, 0), (1000, 500), (0, 500)])
    grown = offset_edges(box, [np.array([10.0, 0.0, -20.0, 5.0])])
    assert grown.bounds == pytest.approx((5.0, 10.0, 1000.0, 520.0))


def test_an_edge_along_two_walls_is_cut_between_them():
    room = Polygon([(0, 0), (900, 0), (1900, 0), (3000, 0), (3000, 2000), (0, 2000)])
    distances = [np.full(6, 19.0)]
    edges, index = matched_edges(cleaned(offset_edges(room, distances)), room, distances)
    along = {int(k): float(np.hypot(*(e[1] - e[0]))) for e, k in zip(edges, index, strict=True)}
    assert along == pytest.approx({0: 881.0, 1: 1000.0, 2: 1081.0, 3: 1962.0, 4: 2962.0, 5: 1962.0})


def test_edges_have_the_inside_on_their_left():
    shape = Polygon([(0, 0), (0, 10), (10, 10), (10, 0)], [[(2, 2), (8, 2), (8, 8), (2, 8)]])
    assert [signed_area(ring) > 0 for ring in rings_of(shape)] == [True, False]
    edges, first, count = edges_of(shape)
    assert len(edges) == 8
    assert count.tolist() == [4] * 8
    assert first.tolist() == [0] * 4 + [4] * 4
