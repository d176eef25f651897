"""Tiles by index, asked of the functions that find them: figures by hand, and sorting all again as the second way."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from layout.plan.patterns import pattern_of
from layout.plan.tile import Tile
from layout.tiles.lay import Laid, TileField, _inserted
from layout.tiles.pieces import _alike, saw_size, shape_of
from layout.units import SNAP

NONE = np.empty((0, 3), dtype=np.int64)
SQUARE = Tile(name="t", size=(200, 100), joint=6)


def test_a_tile_lies_from_its_own_bays_origin():
    one = Laid(np.array([[0, 0, 0]]), NONE.copy(), np.empty(0, dtype=object), 0.0)
    two = Laid(np.array([[0, 2, 1]]), NONE.copy(), np.empty(0, dtype=object), 0.0)
    field = TileField(pattern_of(SQUARE), 0.0, np.array([[10.0, 20.0], [1000.0, 500.0]]), (one, two))
    first, second = field.outlines(field.whole)
    assert first.shape == (4, 2)
    assert (first.min(axis=0).tolist(), first.max(axis=0).tolist()) == ([10.0, 20.0], [210.0, 120.0])
    # two pitches of 206 along and one of 106 up
    assert (second.min(axis=0).tolist(), second.max(axis=0).tolist()) == ([1412.0, 606.0], [1612.0, 706.0])
    assert field.outlines(np.empty((0, 4), dtype=np.int64)).shape == (0, 4, 2)
    # turned a quarter about its bay's origin: 200 up and 100 to the left
    (turned,) = TileField(pattern_of(SQUARE), 90.0, field.origins[:1], (one,)).outlines(np.array([[0, 0, 0, 0]]))
    assert turned.min(axis=0) == pytest.approx([-90.0, 20.0])
    assert turned.max(axis=0) == pytest.approx([10.0, 220.0])


PLACES = st.sets(st.tuples(st.integers(-40, 40), st.integers(-3, 3)), min_size=1, max_size=40)


@given(PLACES, st.data())
def test_tiles_put_in_their_places_stand_as_if_all_were_sorted(places, data):
    extra = data.draw(st.sets(st.sampled_from(sorted(places)), min_size=1))
    rows = {kind: np.array([[0, i, j] for i, j in own], dtype=np.int64).reshape(-1, 3)
            for kind, own in (("whole", sorted(places - extra, key=lambda p: (p[1], p[0]))), ("extra", data.draw(st.permutations(sorted(extra)))))}  # fmt: skip
    everything = np.concatenate([rows["whole"], rows["extra"]])
    wanted = everything[np.lexsort((everything[:, 1], everything[:, 2]))]
    assert _inserted(rows["whole"], rows["extra"]).tolist() == wanted.tolist()


@pytest.mark.parametrize(
    ("length", "rectified", "sawn"),
    [
        (99.99, False, 99.0),
        (99.99, True, 99.5),
        (99.4, True, 99.0),
        (100.0, False, 100.0),
        (100.0 - 1.5 * SNAP, False, 100.0),  # float noise of two snaps is none
        (100.0 - 2.5 * SNAP, False, 99.0),
    ],
)
def test_a_saw_is_set_to_whole_millimetres_or_half_ones(length, rectified, sawn):
    assert saw_size(length, Tile(name="t", size=(200, 200), joint=6, rectified=rectified)) == sawn


ARC = [(200 - 80 * np.sin(t), 100 - 80 * np.cos(t)) for t in np.linspace(0, np.pi / 2, 7)]


@pytest.mark.parametrize(
    ("ring", "shape"),
    [
        ([(0, 0), (120, 0), (120, 100), (0, 100)], "straight"),  # as high as the tile
        ([(0, 0), (200, 0), (200, 60), (0, 60)], "straight"),  # as wide
        ([(0, 0), (120, 0), (120, 60), (0, 60)], "corner"),
        ([(0, 0), (200, 0), (200, 100), (120, 100), (120, 40), (0, 40)], "notch"),
        ([(0, 0), (200, 0), (200, 60), (0, 80)], "taper"),
        ([(0, 0), (200, 0), (0, 80)], "taper"),
        ([(0, 0), (200, 0), (200, 60), (150, 100), (0, 100)], "taper"),
        ([(0, 0), (200, 0), (200, 60), (150, 100), (120, 100), (120, 80), (0, 80)], "other"),  # one side askew, and too many corners
        ([(0, 0), (150, 0), (200, 50), (200, 100), (50, 100), (0, 50)], "other"),
        ([(0, 0), (200, 0), (200, 20), *ARC[::-1][1:-1], (120, 100), (0, 100)], "curve"),
    ],
)
def test_what_kind_of_cut_a_piece_is(ring, shape):
    assert shape_of(shapely.Polygon(ring), SQUARE) == shape
    assert shape_of(shapely.Polygon(ring[::-1]), SQUARE) == shape


def test_a_piece_with_a_hole_is_a_hole_whatever_its_outline():
    assert shape_of(shapely.Polygon([(0, 0), (120, 0), (120, 60), (0, 60)], [[(20, 20), (40, 20), (30, 40)]]), SQUARE) == "hole"


def test_outlines_are_alike_from_whichever_corner_they_are_told_and_within_the_tolerance_only():
    one = np.array([[0, 0], [120, 0], [120, 60], [0, 80]], dtype=float)
    assert _alike(np.roll(one, 1, axis=0), one, 0.5)
    assert _alike(one + np.array([0.4, 0.0]), one, 0.5)
    assert not _alike(one + np.array([[0, 0], [0, 0], [0.6, 0], [0, 0]]), one, 0.5)
    assert not _alike(one[::-1], one, 0.5)
    assert not _alike(one[:3], one, 0.5)
    assert not _alike(one, one[:3], 0.5)
