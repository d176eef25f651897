"""The lowest course of a wall, a stage of its own: its height found by walking over every tile."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import shapely

from layout.plan.patterns import pattern_of
from layout.plan.tile import Tile
from layout.quantities.tiling import bottom_course, bottom_line
from layout.tiles.lay import TileField, lay


def wall(region, tile: Tile, origin=(0.0, 0.0)) -> Any:
    """A wall as far as its lowest course goes: its field alone."""
    laid = lay(region, pattern_of(tile), 0.0, np.array(origin))
    return SimpleNamespace(surface=SimpleNamespace(kind="wall"), field=TileField(pattern_of(tile), 0.0, np.array([origin]), (laid,)))


def by_walking(done: Any) -> float:
    """The highest top of the tiles whose foot is the lowest, within a millimetre."""
    field = done.field
    ends = []
    for laid, origin in zip(field.bays, field.origins, strict=True):
        for member, i, j in [*laid.whole.tolist(), *laid.cut.tolist()]:
            heights = [corner[1] + (np.array([i, j]) @ field.pattern.vectors)[1] + origin[1] for corner in field.pattern.members[member]]
            ends.append((min(heights), max(heights)))
    lowest = min(low for low, _ in ends)
    return float(max(high for low, high in ends if low <= lowest + 1.0))


@pytest.mark.parametrize("pattern", ["stack", "running", "herringbone", "basket-weave"])
@pytest.mark.parametrize("foot", [0.0, 37.0])
def test_the_lowest_course_ends_with_the_highest_of_the_tiles_that_stand_lowest(pattern, foot):
    tile = Tile(name="t", size=(206, 100), joint=6, pattern=pattern)
    done = wall(shapely.box(0, foot, 1500, 900), tile)
    assert bottom_line(done) == pytest.approx(by_walking(done))


def test_one_tile_is_a_course_and_none_is_not():
    tile = Tile(name="t", size=(300, 200), joint=3)
    assert bottom_line(wall(shapely.box(0, 0, 150, 120), tile)) == pytest.approx(200.0)  # a cut tile ends where a whole one would
    assert bottom_line(wall(shapely.box(301, 0, 302, 120), tile)) is None  # within a joint
    floor = wall(shapely.box(0, 0, 900, 900), tile)
    floor.surface.kind = "floor"
    assert bottom_line(floor) is None
    assert bottom_course(floor) == 0.0
