"""Planted optima: rooms made of whole tiles come out whole, and a room with one forced cut comes out with that cut."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import shapely

from layout.plan.patterns import pattern_of
from tests.rooms import plan_of, set_out_room

if TYPE_CHECKING:
    from layout.setout.values import SurfaceSetOut

PINWHEEL = [
    [[0, 0], [200, 0], [200, 200], [0, 200]],
    [[206, 0], [300, 0], [300, 97], [206, 97]],
    [[206, 103], [300, 103], [300, 200], [206, 200]],
]
TILES: dict[str, dict[str, Any]] = {
    "stack": {"size": [200, 200], "joint": 6},
    "oblong": {"size": [300, 150], "joint": 4},
    "third bond": {"size": [240, 115], "joint": 8, "pattern": "running", "offset": 0.3333333},
    "half bond": {"size": [240, 115], "joint": 8, "pattern": "running", "offset": 0.5},
    "herringbone": {"size": [240, 120], "joint": 6, "pattern": "herringbone"},
    "basket weave": {"size": [206, 100], "joint": 6, "pattern": "basket-weave"},
    "two sizes": {"size": [200, 200], "joint": 6, "pattern": "two-size", "small": 97},
    "diagonal": {"size": [200, 200], "joint": 6, "pattern": "diagonal", "turn": -45},  # the room's own walls run along the tiles
    "double herringbone": {"size": [240, 57], "joint": 6, "pattern": "double-herringbone"},
    "hexagon": {"size": [150, 173.205], "joint": 3, "pattern": "hexagon"},
    "own cell": {"pattern": "own", "joint": 6, "cell": {"tiles": PINWHEEL, "vectors": [[306, 0], [0, 206]]}},
}
FREE = {"movement": "UK_FLOOR", "perimeter_joint": 8}
EDGE = 2 + 8
"""From a bare, tanked wall to the tile: membrane and joint, mm."""


def whole_tiles(tile: dict[str, Any], columns: int, rows: int) -> list[shapely.Polygon]:
    """Whole tiles of a pattern where its lattice has them, made from its cell."""
    plan = plan_of({"outline": [[0, 0], [3000, 0], [3000, 3000], [0, 3000]]}, tiles={"floor": tile})
    pattern = pattern_of(plan.tile("floor"))
    v1, v2 = pattern.vectors
    tiles = []
    for member in pattern.members:
        for i in range(columns):
            for j in range(rows):
                back = math.floor(j * v2[0] / v1[0] + 1e-9) if pattern.name == "running" else 0  # courses stand over each other
                tiles.append(shapely.Polygon(member + (i - back) * v1 + j * v2))
    return tiles


def round_them(tiles: list[shapely.Polygon], joint: float) -> list[list[float]]:
    """The outline of a room round tiles and parts of tiles, `EDGE` off them: made by shapely."""
    cells = shapely.union_all(shapely.buffer(np.array(tiles), joint / 2 + 1e-4, join_style="mitre", mitre_limit=10))
    room = shapely.buffer(cells, EDGE - joint / 2 - 1e-4, join_style="mitre", mitre_limit=10)
    assert isinstance(room, shapely.Polygon)
    assert not room.interiors
    return [[float(x), float(y)] for x, y in shapely.get_coordinates(room.exterior)[:-1].round(3)]


def planted(tile: dict[str, Any], columns: int, rows: int) -> tuple[list[list[float]], int]:
    """An outline round whole tiles of a pattern, and how many they are."""
    tiles = whole_tiles(tile, columns, rows)
    return round_them(tiles, tile["joint"]), len(tiles)


def floor_in(outline: list[list[float]], tile: dict[str, Any], tolerance: float, **rules: Any) -> SurfaceSetOut:
    """The floor of such a room, the pattern lying along x."""
    if tile.get("pattern") == "hexagon":  # its walls all run askew to it
        (x0, y0), (x1, y1) = outline[:2]
        tile = {**tile, "along": 1, "turn": -round(math.degrees(math.atan2(y1 - y0, x1 - x0)) / 30.0) * 30.0}
    floor = set_out_room({"outline": outline}, tiles={"floor": tile}, rules={**FREE, "wall_tolerance": tolerance, **rules}).floor
    assert len(floor.bays) == 1
    return floor


def laid(outline: list[list[float]], tile: dict[str, Any], tolerance: float) -> tuple[int, int]:
    """Places with a whole and with a cut tile."""
    floor = floor_in(outline, tile, tolerance)
    return len(floor.field.whole), len(floor.field.cut)


@pytest.mark.parametrize("tolerance", [0.0, 5.0])
@pytest.mark.parametrize("name", TILES)
def test_a_room_made_of_whole_tiles_comes_out_whole(tolerance, name):
    outline, count = planted(TILES[name], 6, 5)
    assert count >= 30
    assert laid(outline, TILES[name], tolerance) == (count, 0)


def with_one_cut(tile: dict[str, Any], part: float) -> tuple[list[list[float]], int, float]:
    """An outline round whole tiles but for a strip of the one furthest out, how many are whole, and how wide the strip is."""
    tiles = whole_tiles(tile, 5, 5)
    last = int(np.argmax([each.bounds[2] for each in tiles]))
    x0, y0, x1, y1 = tiles[last].bounds
    kept = shapely.intersection(tiles[last], shapely.box(x0, y0, x0 + part * (x1 - x0), y1))
    assert isinstance(kept, shapely.Polygon)
    tiles[last] = kept
    ring = shapely.get_coordinates(shapely.minimum_rotated_rectangle(tiles[last]))[:3]
    return round_them(tiles, tile["joint"]), len(tiles) - 1, float(np.hypot(*np.diff(ring, axis=0).T).min())


@pytest.mark.parametrize(("name", "part"), [("stack", 0.6), ("oblong", 0.7), ("third bond", 0.8), ("half bond", 0.6), ("diagonal", 0.8)])
def test_of_whole_tiles_with_one_cut_that_cut_is_found(name, part):
    outline, whole, width = with_one_cut(TILES[name], part)
    floor = floor_in(outline, TILES[name], 5.0)
    assert (len(floor.field.whole), len(floor.field.cut)) == (whole, 1)
    assert floor.start.piece is not None
    assert floor.start.piece.width == pytest.approx(width, abs=0.01)


@pytest.mark.parametrize("name", sorted(TILES.keys() - {"hexagon"}))
def test_the_start_that_was_planted_tells_its_one_cut_and_the_free_one_leaves_nothing_narrower(name):
    """Where directions do not part the narrowest cut is all that is searched: other starts may leave one as wide and cut more tiles."""
    tile = TILES[name]
    outline, whole, width = with_one_cut(tile, 0.7)
    fixed = floor_in(outline, {**tile, "start": [0, 0]}, 5.0)
    assert (len(fixed.field.whole), len(fixed.field.cut)) == (whole, 1)
    assert fixed.start.piece is not None
    assert fixed.start.piece.width == pytest.approx(width, abs=0.01)
    free = floor_in(outline, tile, 5.0)
    assert free.start.worst >= fixed.start.worst - free.start.gap - 1e-6


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
