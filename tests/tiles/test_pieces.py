from __future__ import annotations

import numpy as np
import pytest
from shapely import Polygon, box

from layout.plan.values import Tile
from layout.shapes import circle
from layout.tiles.marking import mark_pieces
from layout.tiles.pieces import Loose, PieceKey, legs, saw_size, shape_of

TILE = Tile(name="floor", size=(200, 200))


def loose(polygons, tile=TILE):
    return [Loose(PieceKey(0, 0, 0, k), tile, p, shape_of(p, tile), "wall 1", (0, 0)) for k, p in enumerate(polygons)]


@pytest.mark.parametrize(("polygon", "shape"), [
    (box(0, 0, 140, 200), "straight"),
    (box(60, 0, 200, 150), "corner"),
    (Polygon([(0, 0), (200, 0), (200, 100), (100, 100), (100, 200), (0, 200)]), "notch"),
    (box(0, 0, 200, 200).difference(box(50, 50, 90, 90)), "hole"),
    (Polygon([(0, 0), (140, 0), (150, 200), (0, 200)]), "taper"),
    (box(0, 0, 200, 200).difference(circle((200, 200), 150)), "curve"),
])  # fmt: skip
def test_shapes(polygon, shape):
    assert shape_of(polygon, TILE) == shape


def test_pieces_alike_under_a_turn_share_a_mark():
    left, right, bottom = box(0, 0, 140, 200), box(60, 0, 200, 200), box(0, 0, 200, 140)
    cuts, _ = mark_pieces(loose([left, right, bottom]), 1.0)
    assert [(c.mark, c.count, c.size) for c in cuts] == [("C1", 3, (140, 200))]


def test_a_directional_face_is_never_turned():
    tile = Tile(name="floor", size=(200, 200), face="directional")
    cuts, _ = mark_pieces(loose([box(0, 0, 140, 200), box(60, 0, 200, 200)], tile), 1.0)
    assert len(cuts) == 2


def test_a_long_tile_is_turned_by_halves_only():
    tile = Tile(name="floor", size=(240, 115))
    cuts, _ = mark_pieces(loose([box(0, 0, 100, 115), box(140, 0, 240, 115), box(0, 0, 240, 60)], tile), 1.0)
    assert sorted(c.count for c in cuts) == [1, 2]


def test_mirrored_pieces_are_two_marks():
    one = Polygon([(0, 0), (200, 0), (200, 60), (120, 60), (120, 150), (0, 150)])
    other = Polygon([(200 - x, y) for x, y in one.exterior.coords])
    cuts, _ = mark_pieces(loose([one, other]), 1.0)
    assert len(cuts) == 2


def test_the_saws_tolerance_joins_what_it_cannot_tell_apart():
    cuts, _ = mark_pieces(loose([box(0, 0, 140.2, 200), box(0, 0, 140.9, 200), box(0, 0, 143, 200)]), 1.0)
    assert sorted(c.count for c in cuts) == [1, 2]
    # the printed size fits every one of them
    assert {c.size[0] for c in cuts} == {140, 143}


def test_saw_sizes_are_rounded_down():
    assert saw_size(140.9, TILE) == 140
    assert saw_size(139.9995, TILE) == 140  # the start is on a grid of 0.001: that is 140
    assert saw_size(140.9, Tile(name="t", rectified=True)) == 140.5


def test_tapers_along_a_wall_are_one_run():
    pieces = [Polygon([(0, 0), (140 + 2 * k, 0), (142 + 2 * k, 200), (0, 200)]) for k in range(12)]
    cuts, marks = mark_pieces(loose(pieces), 1.0)
    assert [(c.mark, c.count, c.shape, c.start, c.end) for c in cuts] == [("T1", 12, "taper", 140, 164)]
    assert set(marks.values()) == {"T1"}


def test_legs_of_a_taper():
    assert legs(Polygon([(0, 0), (140, 0), (165, 200), (0, 200)])) == pytest.approx((140, 165))
    assert legs(Polygon([(60, 0), (200, 0), (200, 200), (35, 200)])) == pytest.approx((140, 165))


def test_marks_count_every_piece_once():
    rng = np.random.default_rng(3)
    pieces = [box(0, 0, float(w), 200) for w in rng.integers(40, 190, 300)]
    cuts, marks = mark_pieces(loose(pieces), 1.0)
    assert sum(c.count for c in cuts) == len(marks) == 300
    assert [c.mark for c in cuts] == [f"C{k}" for k in range(1, len(cuts) + 1)]
    assert [c.area for c in cuts] == sorted((c.area for c in cuts), reverse=True)
