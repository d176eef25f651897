"""Two pieces that a slanted cut parts share their tile; no others as large do: shapes laid over each other by shapely."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

import pytest
import shapely

from layout.quantities.blanks import Blank
from layout.quantities.cutting import plan_cuts
from layout.quantities.shared_tiles import cut_from_fewest
from layout.setout.conduct import set_out
from tests.examples import TOP, example
from tests.rooms import plan_of

if TYPE_CHECKING:
    from collections.abc import Hashable

SKEW = {
    "outline": [[0, 0], [3380, 120], [3210, 2600], [-60, 2540]],
    "drains": [{"kind": "gully", "at": [1510, 1270], "frame": [200, 200]}],
    "falls": [{"to": "gully 1", "ratio": 80}],
}


@dataclass(frozen=True)
class Piece:
    blank: Blank
    corner: tuple[int, int] = (0, 0)


TILES = {
    "herringbone": {"size": [200, 100], "joint": 4, "pattern": "herringbone"},
    "running": {"size": [300, 150], "joint": 4, "pattern": "running"},
    "anywhere": {"size": [200, 200], "joint": 4, "rectified": True},
}


@pytest.mark.parametrize("name", ["kitchen", *TILES])
def test_no_piece_lies_over_another_in_its_tile(name):
    """A saw size is rounded down by a millimetre at the most, so shapes are drawn in by one."""
    setout = set_out(plan_of(SKEW, tiles={"floor": TILES[name]})) if name in TILES else example(TOP / "plans" / f"{name}.toml")
    (batch,) = [own for own in plan_cuts(setout).batches if own.name == "floor"]
    full = shapely.box(-1.0, -1.0, batch.size[0] + 1.0, batch.size[1] + 1.0)
    shared = 0
    for own in batch.tiles:
        assert all(full.covers(piece.outline) for piece in own.pieces)
        for a, b in combinations(own.pieces, 2):
            assert a.outline.buffer(-1.0).intersection(b.outline.buffer(-1.0)).area < 1.0, (name, own.number, a.mark, b.mark)
            boxes = [shapely.box(*each.at, each.at[0] + each.box[0], each.at[1] + each.box[1]) for each in (a, b)]
            shared += boxes[0].intersection(boxes[1]).area > 100.0
    assert shared, "some tile gives two pieces whose boxes lie over each other"
    assert sum(piece.outline.buffer(-1.0).area for own in batch.tiles for piece in own.pieces) < len(batch.tiles) * full.area


def test_another_piece_as_large_does_not_stand_in_for_one_that_shares_its_tile():
    """A tile of 198 parted on the slant gives a piece with a box of 169 x 198 and a triangle of 86 x 140.

    A whole strip of 169 leaves 29: no triangle comes beside it. One tile is parted, a strip and a triangle more are wanted: three tiles.
    """
    strip, triangle = Blank(169, 198, frozenset({"left", "bottom", "top"})), Blank(86, 140, frozenset({"right", "bottom"}))
    pieces = [Piece(strip), Piece(triangle, (112, 0)), Piece(strip), Piece(triangle, (112, 0))]
    tiles, bound = cut_from_fewest(pieces, {"parted": [0, 1], "strip": [2], "corner": [3]}, (198, 198), kerf=2, turns=(0,), anywhere=False)
    assert sorted(sorted(k for k, _ in own) for own in tiles) == [[0, 1], [2], [3]]
    assert bound == 3


def test_parted_tiles_give_the_pieces_of_one_place_each():
    """Three tiles parted alike, and one of their triangles wanted once more: each tile gives its own two."""
    strip, triangle = Blank(169, 198, frozenset({"left", "bottom", "top"})), Blank(86, 140, frozenset({"right", "bottom"}))
    pieces = [Piece(strip), Piece(triangle, (112, 0))] * 3
    places: dict[Hashable, list[int]] = {k: [2 * k, 2 * k + 1] for k in range(3)}
    tiles, bound = cut_from_fewest(pieces, places, (198, 198), kerf=2, turns=(0,), anywhere=False)
    assert sorted(sorted(k for k, _ in own) for own in tiles) == [[0, 1], [2, 3], [4, 5]]
    assert bound == 3


def test_a_piece_in_a_notch_shares_with_any():
    """A notch of 60 x 50 of a tile of 200 gives any corner piece up to 58 x 48, not its own alone."""
    notched = Blank(200, 200, frozenset({"left", "bottom", "right", "top"}), (("upper-right", 60, 50),))
    small = Blank(40, 40, frozenset({"right", "top"}))
    pieces = [Piece(notched), Piece(small, (160, 160)), Piece(small, (160, 160))]
    tiles, _ = cut_from_fewest(pieces, {0: [0], 1: [1], 2: [2]}, (200, 200), kerf=2, turns=(0, 1, 2, 3), anywhere=False)
    assert len(tiles) == 2
    assert any({k for k, _ in own} in ({0, 1}, {0, 2}) for own in tiles)
