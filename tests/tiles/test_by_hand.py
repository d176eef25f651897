"""Tiles by index, asked of the functions that find them: figures by hand, and sorting all again as the second way."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout.plan.patterns import pattern_of
from layout.plan.tile import Tile
from layout.tiles.lay import Laid, TileField, _inserted
from layout.tiles.pieces import saw_size
from layout.units import SNAP

NONE = np.empty((0, 3), dtype=np.int64)
SQUARE = Tile(name="t", size=(200, 100), joint=6)


def test_a_tile_lies_from_its_own_bays_origin():
    one = Laid(np.array([[0, 0, 0]]), NONE.copy(), np.empty(0, dtype=object), 0.0)
    two = Laid(np.array([[0, 2, 1]]), NONE.copy(), np.empty(0, dtype=object), 0.0)
    field = TileField(pattern_of(SQUARE), 0.0, np.array([[10.0, 20.0], [1000.0, 500.0]]), (one, two))
    first, second = field.outlines(field.whole)
    assert (first.min(axis=0).tolist(), first.max(axis=0).tolist()) == ([10.0, 20.0], [210.0, 120.0])
    # two pitches of 206 along and one of 106 up
    assert (second.min(axis=0).tolist(), second.max(axis=0).tolist()) == ([1412.0, 606.0], [1612.0, 706.0])
    assert field.outlines(np.empty((0, 4), dtype=np.int64)).shape == (0, 4, 2)
    # turned a quarter about its bay's origin: 200 up and 100 to the left
    (turned,) = TileField(pattern_of(SQUARE), 90.0, field.origins[:1], (one,)).outlines(np.array([[0, 0, 0, 0]]))
    assert turned.min(axis=0) == pytest.approx([-90.0, 20.0])
    assert turned.max(axis=0) == pytest.approx([10.0, 220.0])


PLACES = st.sets(st.tuples(st.integers(-9, 9), st.integers(-4, 4)), min_size=1, max_size=40)


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
