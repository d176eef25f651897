"""Per tile against plain GEOS: the pitfalls of the fast way, each a case."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import Polygon

from layout.plan.patterns import pattern_of
from layout.plan.values import Cell, Tile
from layout.shapes import turned
from layout.tiles.lay import lay
from tests.rooms import random_rectilinear, random_skew
from tests.strategies import any_room


def area_without_strips(tile, local):
    """What GEOS says of one tile, less its parts nowhere wider than 0.1 mm; the whole tile if only such a strip is missing."""

    def strip(part):
        return shapely.buffer(part, -0.05, join_style="mitre").is_empty

    got = shapely.intersection(tile, local)
    if strip(shapely.difference(tile, got)):
        return tile.area
    return sum(part.area for part in shapely.get_parts(got) if not strip(part))


def against_geos(region, pattern, turn, origin, tolerance=0.01):
    """Area of every tile by our way and by GEOS on the whole region; the tile sets must be the same."""
    laid = lay(region, pattern, turn, origin)
    local = shapely.transform(region, lambda xy: turned(xy - origin, -turn))
    ours: dict[tuple[int, ...], float] = {}
    for key, piece in zip(laid.cut.tolist(), laid.pieces, strict=True):
        assert piece.is_valid
        ours[tuple(key)] = ours.get(tuple(key), 0.0) + piece.area
    for key in laid.whole.tolist():
        assert tuple(key) not in ours
        ours[tuple(key)] = Polygon(pattern.members[key[0]]).area
    x0, y0, x1, y1 = local.bounds
    corners = np.array([[x0, y0], [x1, y0], [x0, y1], [x1, y1]]) @ np.linalg.inv(pattern.vectors)
    (i0, j0), (i1, j1) = np.floor(corners.min(axis=0)) - 3, np.ceil(corners.max(axis=0)) + 3
    grid_i, grid_j = (g.ravel().astype(int) for g in np.meshgrid(np.arange(i0, i1), np.arange(j0, j1)))
    total = 0.0
    for m, outline in enumerate(pattern.members):
        at = grid_i[:, None] * pattern.vectors[0] + grid_j[:, None] * pattern.vectors[1]
        areas = shapely.area(shapely.intersection(shapely.polygons(outline[None] + at[:, None]), local))
        total += areas.sum()
        for i, j, area in zip(grid_i.tolist(), grid_j.tolist(), areas.tolist(), strict=True):
            found = ours.pop((m, i, j), 0.0)
            if abs(found - area) > tolerance:
                assert found == pytest.approx(area_without_strips(Polygon(outline + (i, j) @ pattern.vectors), local), abs=tolerance)
    assert not ours
    return laid, total


PATTERNS = [
    Tile(name="t", size=(200, 200), joint=6),
    Tile(name="t", size=(240, 115), joint=8, pattern="running", offset=1 / 3),
    Tile(name="t", size=(240, 115), joint=8, pattern="herringbone"),
    Tile(name="t", size=(240, 115), joint=8, pattern="double-herringbone"),
    Tile(name="t", size=(206, 100), joint=6, pattern="basket-weave"),
    Tile(name="t", size=(150, 173.2), joint=5, pattern="hexagon"),
    Tile(
        name="t",
        joint=6,
        pattern="own",
        cell=Cell(
            tiles=(((0, 0), (200, 0), (200, 200), (0, 200)), ((206, 0), (306, 0), (306, 100), (206, 100))),
            vectors=((206, 106), (-106, 206)),
        ),
    ),
]

OFF = st.floats(0.0, 300.0)


@given(any_room(), st.sampled_from([0.0, 7.0, 45.0, 90.0, 180.0]), st.sampled_from(PATTERNS), st.none() | st.tuples(OFF, OFF))
def test_every_tile_of_a_random_room_is_what_geos_says(room, turn, tile, off):
    holes = [each["outline"] for each in room.get("columns", [])]
    region = Polygon(room["outline"], holes)
    # an origin on a corner makes walls flush with tiles: the normal case
    origin = np.array(room["outline"][0] if off is None else off, dtype=float)
    against_geos(region, pattern_of(tile), turn, origin)


@pytest.mark.parametrize("part", range(8))
def test_two_thousand_random_rooms_agree_with_geos(part):
    """250 rooms a part, squared and skew, turned every way, with and without a hole that tiles cross."""
    rng = np.random.default_rng(part)
    pattern = pattern_of(PATTERNS[part % len(PATTERNS)])
    for n in range(250):
        room = random_rectilinear(rng) if n % 2 else random_skew(rng)
        outline = np.array(room["outline"], dtype=float)
        region = Polygon(outline * min(1.0, 2400 / np.ptp(outline, axis=0).max()))
        if n % 3 == 0:
            x, y = region.representative_point().coords[0]
            holed = shapely.difference(region, shapely.box(x - 130, y - 90, x + 130, y + 90))
        else:
            holed = region
        origin = np.array(region.exterior.coords[0]) if n % 5 else rng.random(2) * 300
        against_geos(holed, pattern, float(rng.integers(0, 24) * 15), origin)


@pytest.mark.parametrize("origin", [(0.0, 0.0), (5e9, -5e9)])
def test_a_flush_room_has_whole_tiles_only(origin):
    at = np.array(origin)
    region = Polygon(np.array([[0, 0], [1024, 0], [1024, 612], [0, 612]]) + at)
    laid = lay(region, pattern_of(PATTERNS[0]), 0.0, at)
    assert (len(laid.whole), len(laid.cut)) == (15, 0)


def test_a_column_in_a_tile_makes_a_hole_and_a_wall_beside_it_two_pieces():
    tile = pattern_of(Tile(name="t", size=(500, 500), joint=5))
    hole = Polygon([(0, 0), (505, 0), (505, 505), (0, 505)], [[(100, 100), (200, 100), (200, 200), (100, 200)]])
    laid, _ = against_geos(hole, tile, 0.0, np.zeros(2))
    assert len(laid.pieces[0].interiors) == 1
    across = shapely.MultiPolygon([shapely.box(0, 0, 500, 200), shapely.box(0, 300, 500, 500)])
    split, _ = against_geos(across, tile, 0.0, np.zeros(2))
    assert len(split.cut) == 2
    assert len(np.unique(split.cut, axis=0)) == 1


def test_a_closed_ring_in_a_tile_that_a_wall_crosses_too():
    # the case that totals alone do not show: a hole wholly inside a tile that a wall also crosses
    region = Polygon([(0, 0), (450, 0), (450, 1000), (0, 1000)], [[(350, 50), (400, 50), (400, 100), (350, 100)]])
    against_geos(region, pattern_of(Tile(name="t", size=(200, 200), joint=6)), 0.0, np.zeros(2))


def test_strips_too_narrow_to_be_tile_are_counted_not_laid():
    region = Polygon([(0, 0), (1030 + 0.05, 0), (1030 + 0.05, 200), (0, 200)])
    laid = lay(region, pattern_of(Tile(name="t", size=(200, 200), joint=6)), 0.0, np.zeros(2))
    assert (len(laid.whole), len(laid.cut)) == (5, 0)
    assert laid.lost_mm2 == pytest.approx(10.0, abs=1e-3)


def test_a_tile_that_misses_no_more_than_a_tenth_is_whole():
    region = Polygon([(0, 0), (1029.95, 0), (1029.95, 200), (0, 200)])
    laid = lay(region, pattern_of(Tile(name="t", size=(200, 200), joint=6)), 0.0, np.zeros(2))
    assert (len(laid.whole), len(laid.cut)) == (5, 0)


def test_laid_arrays_are_locked():
    laid = lay(shapely.box(0, 0, 1000, 1000), pattern_of(PATTERNS[0]), 0.0, np.zeros(2))
    with pytest.raises(ValueError, match="read-only"):
        laid.whole[0] = 0
