"""Hairs of no width, as the overlay leaves them where edges are flush, are no part of a piece."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from layout.tiles.clip import without_hairs

NOTCHED = [(1790.0, 1190.0), (2680.0, 1190.0), (2680.0, 1459.0), (1790.0, 1459.0)]
HAIR = [(1790.0, 1190.0), (2680.0, 1190.0), (2680.0, 1459.0), (1790.0, 1459.0), (1790.0, 1780.0), (1790.0 + 5e-11, 1780.0)]


@pytest.mark.parametrize("first", range(len(HAIR)))
def test_a_hair_is_dropped_wherever_its_ring_begins(first):
    piece = shapely.Polygon([*HAIR[first:], *HAIR[:first]])
    whole = shapely.box(0, 0, 10, 10)
    made = without_hairs(np.array([whole, piece], dtype=object))
    assert made[0] is whole
    assert made[1].bounds == pytest.approx((1790, 1190, 2680, 1459))
    assert made[1].area == pytest.approx(890 * 269)
    assert len(made[1].exterior.coords) == 5


def test_what_has_no_hair_stays_as_it_is():
    pieces = np.array([shapely.Polygon(NOTCHED), shapely.box(0, 0, 100, 100).difference(shapely.box(40, 40, 60, 60))], dtype=object)
    made = without_hairs(pieces)
    assert made.tolist() == pieces.tolist()
    assert without_hairs(pieces[:0]).tolist() == []


def test_a_hole_loses_its_hair_and_one_of_no_area_goes():
    rim = [(0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0)]
    hole = [(40.0, 40.0), (40.0, 60.0), (60.0, 60.0), (60.0, 80.0), (60.0, 60.0), (60.0, 40.0)]
    nothing = [(10.0, 10.0), (20.0, 10.0), (30.0, 10.0)]
    (made,) = without_hairs(np.array([shapely.Polygon(rim, [hole, nothing])], dtype=object))
    assert [ring.bounds for ring in made.interiors] == [(40.0, 40.0, 60.0, 60.0)]
    (gone,) = without_hairs(np.array([shapely.Polygon(nothing)], dtype=object))
    assert gone.area == 0.0
