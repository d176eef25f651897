"""Planted optima: rooms made of whole tiles come out whole, and a room with one forced cut comes out with that cut."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
import shapely

from layout.plan.patterns import pattern_of
from tests.rooms import plan_of, set_out_room

TILES: dict[str, dict[str, Any]] = {
    "stack": {"size": [200, 200], "joint": 6},
    "oblong": {"size": [300, 150], "joint": 4},
    "third bond": {"size": [240, 115], "joint": 8, "pattern": "running", "offset": 0.3333333},
    "half bond": {"size": [240, 115], "joint": 8, "pattern": "running", "offset": 0.5},
    "herringbone": {"size": [240, 120], "joint": 6, "pattern": "herringbone"},
    "basket weave": {"size": [206, 100], "joint": 6, "pattern": "basket-weave"},
    "two sizes": {"size": [200, 200], "joint": 6, "pattern": "two-size", "small": 97},
}
EDGE = 2 + 8
"""From a bare, tanked wall to the tile: membrane and joint, mm."""


def planted(tile: dict[str, Any], columns: int, rows: int) -> tuple[list[list[float]], int]:
    """An outline round whole tiles of a pattern, and how many they are: made by shapely from the pattern's cell."""
    plan = plan_of({"outline": [[0, 0], [3000, 0], [3000, 3000], [0, 3000]]}, tiles={"floor": tile})
    pattern = pattern_of(plan.tile("floor"))
    v1, v2 = pattern.vectors
    tiles = []
    for member in pattern.members:
        for i in range(columns):
            for j in range(rows):
                back = math.floor(j * v2[0] / v1[0] + 1e-9) if pattern.name == "running" else 0  # courses stand over each other
                tiles.append(shapely.Polygon(member + (i - back) * v1 + j * v2))
    cells = shapely.union_all(shapely.buffer(np.array(tiles), tile["joint"] / 2 + 1e-4, join_style="mitre", mitre_limit=10))
    room = shapely.buffer(cells, EDGE - tile["joint"] / 2 - 1e-4, join_style="mitre", mitre_limit=10)
    assert isinstance(room, shapely.Polygon)
    assert not room.interiors
    return shapely.get_coordinates(room.exterior)[:-1].round(3).tolist(), len(tiles)


def laid(outline: list[list[float]], tile: dict[str, Any], tolerance: float) -> tuple[int, int]:
    floor = set_out_room({"outline": outline}, tiles={"floor": tile}, rules={"wall_tolerance": tolerance, "movement": "UK_FLOOR"}).floor
    assert len(floor.bays) == 1
    return len(floor.field.whole), len(floor.field.cut)


@pytest.mark.parametrize("tolerance", [0.0, 5.0])
@pytest.mark.parametrize("name", TILES)
def test_a_room_made_of_whole_tiles_comes_out_whole(tolerance, name):
    outline, count = planted(TILES[name], 6, 5)
    assert count >= 30
    assert laid(outline, TILES[name], tolerance) == (count, 0)


@pytest.mark.parametrize(("columns", "rows"), [(4, 3), (7, 9), (11, 5)])
def test_rooms_of_whole_square_tiles_of_every_size_come_out_whole_at_the_default_tolerance(columns, rows):
    outline, count = planted(TILES["stack"], columns, rows)
    assert laid(outline, TILES["stack"], 5.0) == (count, 0)


@pytest.mark.parametrize("cut", [120.0, 150.0, 180.0])
def test_a_forced_cut_of_known_width_is_that_cut(cut):
    """Both walls whole but for one strip: two cuts of half as much and a tile would be narrower or more."""
    w = 9 * 206 - 6 + (6 + cut) + 2 * EDGE  # nine tiles, a joint and the strip
    h = 7 * 206 - 6 + 2 * EDGE
    outline = [[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]]
    floor = set_out_room({"outline": outline}, rules={"wall_tolerance": 0, "start_order": ["least", "narrowest", "cuts"]}).floor
    # by hand: the strip alone gives cut; shifted by s, cuts of 200 - s and cut + s: the better one is their middle, (200 + cut) / 2
    assert floor.start.smallest == pytest.approx(max(cut, (200 + cut) / 2), abs=1e-3)
    assert len(floor.field.whole) == 8 * 7
    assert len(floor.field.cut) == 2 * 7
