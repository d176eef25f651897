"""Both faces of a thin wall body are named, measured and told their cuts on their own side of it: shapely, on the sheets as drawn."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from layout.quantities.takeoff import take_off
from layout.setout.conduct import set_out
from layout.sheets.draw import draw_sheets
from layout.sheets.scene import Dimension, Label
from tests.rooms import plan_of

ROOM = {
    "outline": [[0, 0], [2100, 0], [2100, 600], [5000, 600], [5000, 4600], [200, 4600], [200, 2050], [3500, 2050], [3500, 1860], [0, 1860]],
}
"""Two halves with a wall of 190 between them: its two faces are the seventh and ninth edge, its end the eighth."""


@pytest.fixture(scope="module")
def laid():
    return set_out(plan_of(ROOM, tiles={"floor": {"size": [300, 300], "joint": 4}}))


@pytest.fixture(scope="module")
def sheets(laid):
    return {each.name.partition("-")[2]: each for each in draw_sheets(laid, take_off(laid))}


def walls():
    ring = np.array(ROOM["outline"], dtype=float)
    return [shapely.LineString(pair) for pair in zip(ring, np.roll(ring, -1, axis=0), strict=True)]


@pytest.mark.parametrize("key", ["setting-out", "cuts", "tape"])
def test_a_wall_s_name_stands_nearer_to_it_than_to_the_face_behind(sheets, key):
    lines = walls()
    names = [item for item in sheets[key].room if isinstance(item, Label) and item.text in ("wall 7", "wall 9")]
    assert len(names) == 2
    for item in names:
        own, behind = (6, 8) if item.text == "wall 7" else (8, 6)
        at = shapely.Point(item.at)
        assert at.distance(lines[own]) < at.distance(lines[behind]), (key, item.text, item.at)


def test_lengths_are_measured_on_their_own_side(sheets):
    sheet = sheets["setting-out"]
    lengths = {item.text: item for item in sheet.room if isinstance(item, Dimension) and item.text in ("3300", "3500")}
    assert set(lengths) == {"3300", "3500"}
    for text, low, high in (("3300", 2050, 4600), ("3500", 0, 1860)):
        (x0, y0), (x1, y1) = lengths[text].a, lengths[text].b
        assert y0 == y1
        left = -1.0 if x0 > x1 else 1.0  # its line stands to the left of its travel
        assert low < y0 + left * lengths[text].distance * sheet.view.scale < high, text


def test_a_saw_size_beside_the_wall_is_that_of_the_face_it_is_nearest_to(sheets, laid):
    lines = walls()
    body = shapely.box(0, 1860, 3500, 2050)
    sizes = [item for item in sheets["setting-out"].room if isinstance(item, Label) and item.layer == "CUT-SIZE" and item.angle == 0.0]
    near = [item for item in sizes if shapely.Point(item.at).distance(body) < 150.0]
    assert near
    bounds = shapely.bounds(laid.rooms[0].floor.field.pieces())
    for item in near:
        at = shapely.Point(item.at)
        face, side = (2050, 1) if at.distance(lines[6]) < at.distance(lines[8]) else (1860, 3)
        beside = np.abs(bounds[:, side] - face) < 30.0  # no piece is so small, and none lies across
        assert item.text in {f"{int(high - low + 1e-6)}" for low, high in bounds[beside][:, [1, 3]]}, (item.text, item.at)
