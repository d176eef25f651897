"""Shapes with many holes, cut with only the holes that are met: the same as cut whole."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from layout.holes import MANY, clipped, near

ROOM = shapely.Polygon([(0, 0), (8000, 300), (8000, 5000), (5000, 5000), (5000, 2500), (3000, 2500), (3000, 5000), (0, 5000)])
BOXES = {
    "through pipes": (1990.0, -10.0, 4210.0, 6000.0),
    "parted by a nib": (1000.0, 2700.0, 7000.0, 6000.0),
    "beside all": (-100.0, -100.0, 0.0, 6000.0),
    "off it": (9000.0, 0.0, 9500.0, 6000.0),
    "all of it": (-1.0, -1.0, 9000.0, 6000.0),
}


def pierced(pitch):
    places = [(x, y) for x in np.arange(200.0, 7900.0, pitch) for y in np.arange(500.0, 4900.0, pitch)]
    discs = shapely.buffer(shapely.points([at for at in places if shapely.Point(at).buffer(60).within(ROOM)]), 50.0, quad_segs=4)
    return shapely.difference(ROOM, shapely.union_all(discs))


@pytest.mark.parametrize("box", BOXES.values(), ids=BOXES)
@pytest.mark.parametrize("pitch", [400.0, 2000.0])  # many holes, few holes
def test_a_shape_is_clipped_as_its_intersection_with_the_box(box, pitch):
    shape = pierced(pitch)
    assert (len(shape.interiors) >= MANY) == (pitch == 400.0)
    found, wanted = clipped(shape, box), shapely.intersection(shape, shapely.box(*box))
    assert shapely.is_valid(found)
    assert shapely.symmetric_difference(found, wanted).area < 1e-6
    pieces, expected = ([p for p in shapely.get_parts(each) if p.area] for each in (found, wanted))
    assert sorted(round(p.area, 3) for p in pieces) == sorted(round(p.area, 3) for p in expected)
    assert sum(len(p.interiors) for p in pieces) == sum(len(p.interiors) for p in expected)


def test_a_shape_near_boxes_has_the_holes_that_they_meet_and_no_other():
    shape = pierced(400.0)
    line = shapely.LineString([(-10, 2100), (8100, 2100)])  # along a row of pipes
    found = near(shape, np.array([line.bounds]))
    met = [shapely.Polygon(ring) for ring in shape.interiors if line.intersects(shapely.Polygon(ring))]
    assert isinstance(found, shapely.Polygon)
    assert 0 < len(met) == len(found.interiors) < len(shape.interiors)
    assert shapely.intersection(found, line).length == shapely.intersection(shape, line).length
    whole = near(ROOM, np.array([line.bounds]))
    assert whole is ROOM  # without holes there is nothing to leave out
