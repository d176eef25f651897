"""Corners of tiles in a surface's own axes: as each is found by itself, one tile and one corner after the other."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from layout.plan.patterns import pattern_of
from layout.plan.values import Tile
from layout.tiles.lay import TileField, lay

TILES = (
    Tile(name="t", size=(200.0, 100.0), joint=3.0),
    Tile(name="t", size=(203.0, 100.0), joint=3.0, pattern="herringbone"),
    Tile(name="t", size=(150.0, 150.0), joint=3.0, pattern="two-size"),
    Tile(name="t", size=(100.0, 115.0), joint=3.0, pattern="hexagon"),
)


@pytest.mark.parametrize("turn", [0.0, 7.3, 90.0, -135.0])
@pytest.mark.parametrize("tile", TILES, ids=lambda tile: tile.pattern)
def test_corners_of_two_bays_are_those_of_each_tile_by_itself(tile, turn):
    pattern = pattern_of(tile)
    origins = np.array([[3.0, -4.5], [650.0, 20.0]])
    bays = [lay(shapely.box(x, 0.0, x + 600.0, 500.0), pattern, turn, origin) for x, origin in zip((0.0, 610.0), origins, strict=True)]
    field = TileField(pattern, turn, origins, tuple(bays))
    corners = field.outlines(field.whole)
    assert len(corners) == sum(len(bay.whole) for bay in bays) > 4
    cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    for (bay, member, i, j), own in zip(field.whole.tolist(), corners, strict=True):
        at = i * pattern.vectors[0] + j * pattern.vectors[1]
        alone = [(x * cos - y * sin, x * sin + y * cos) for x, y in pattern.members[member] + at]
        assert own[: len(alone)] == pytest.approx(np.array(alone) + origins[bay], abs=1e-9)
