"""Cut tiles in their own axes, their marks and runs, asked of the functions that make them: figures by hand, and shapely turning pieces back."""

from __future__ import annotations

import math
from collections import Counter

import numpy as np
import pytest
import shapely
from shapely import Polygon, affinity, box

from layout.plan.patterns import pattern_of
from layout.plan.values import Cell, Tile
from layout.shapes import circle
from layout.tiles.lay import Laid, TileField, lay
from layout.tiles.pieces import (
    Loose,
    PieceKey,
    by_outline,
    groups_of,
    in_tile_axes,
    legs,
    order_key,
    plain_cut,
    reach_of,
    run_cut,
    shape_of,
    taper_runs,
)

SMALL = Tile(name="t", size=(200, 100), joint=6)
SQUARE = Tile(name="s", size=(200, 200), joint=6)


def boxes(polygons):
    return [tuple(round(v, 3) for v in polygon.bounds) for polygon in polygons]


def test_pieces_stand_at_the_lower_left_corner_of_their_own_tile():
    # pitch 206 by 106: of the third column 500 - 412 = 88 is left, of the third row 250 - 212 = 38
    laid = lay(box(0, 0, 500, 250), pattern_of(SMALL), 0.0, np.zeros(2))
    shapes, which = in_tile_axes(laid, pattern_of(SMALL), SMALL)
    counted = Counter(boxes(shapes[k] for k in which))
    assert counted == {(0, 0, 88, 100): 2, (0, 0, 200, 38): 2, (0, 0, 88, 38): 1}
    assert len(shapes) == 3
    # the other way: what is left is at the tile's right and top
    laid = lay(box(-88, -38, 200, 100), pattern_of(SMALL), 0.0, np.zeros(2))
    shapes, which = in_tile_axes(laid, pattern_of(SMALL), SMALL)
    assert Counter(boxes(shapes[k] for k in which)) == {(118, 0, 200, 100): 1, (0, 68, 200, 100): 1, (118, 68, 200, 100): 1}
    assert in_tile_axes(Laid(laid.whole, laid.cut[:0], laid.pieces[:0], 0.0), pattern_of(SMALL), SMALL)[0] == []


@pytest.mark.parametrize("name", ["herringbone", "basket-weave", "double-herringbone"])
def test_pieces_of_turned_tiles_are_turned_back(name):
    """Each piece moved to its tile's corner and, of a tile laid upright, turned a quarter back, by shapely alone."""
    tile = Tile(name="t", size=(206, 100), joint=6, pattern=name)
    pattern = pattern_of(tile)
    laid = lay(box(0, 0, 1010, 730), pattern, 0.0, np.array([13.0, 31.0]))
    shapes, which = in_tile_axes(laid, pattern, tile)
    assert len(laid.cut) > 20
    upright = 0
    for (member, i, j), piece, k in zip(laid.cut.tolist(), laid.pieces, which, strict=True):
        corner = np.array(pattern.members[member]).min(axis=0) + np.array([i, j]) @ pattern.vectors
        at = affinity.translate(piece, *-corner)
        if np.ptp(np.array(pattern.members[member]), axis=0)[1] > 150:
            upright += 1
            at = affinity.translate(affinity.rotate(at, -90, origin=(0, 0)), 0.0, 100.0)
        assert shapely.symmetric_difference(at, shapes[k]).area < 0.5
        assert box(0, 0, 206, 100).buffer(1e-6).covers(shapes[k])
    assert upright > 5


def test_pieces_of_a_turned_lattice_lie_in_the_room():
    """Two bays with origins of their own, turned by 30: pieces and whole tiles fill each bay but for the joints."""
    rooms = [box(0, 0, 900, 700), box(2000, 500, 2900, 1200)]
    origins = np.array([[50.0, 20.0], [2100.0, 700.0]])
    laid = tuple(lay(room, pattern_of(SMALL), 30.0, origin) for room, origin in zip(rooms, origins, strict=True))
    field = TileField(pattern_of(SMALL), 30.0, origins, laid)
    every = shapely.union_all([*field.pieces(), *field.whole_polygons()])
    assert shapely.difference(every, shapely.union_all(rooms)).area < 1.0
    for room in rooms:
        share = shapely.intersection(every, room).area / room.area
        assert share == pytest.approx(200 * 100 / (206 * 106), abs=0.03)
    assert field.places_cut() == len({tuple(each) for each in field.cut.tolist()})


def test_tiles_are_counted_from_the_first_whole_one_and_lie_where_they_lay():
    laid = lay(box(-300, -250, 700, 450), pattern_of(SMALL), 0.0, np.zeros(2))
    again, shift = laid.counted_from_first(pattern_of(SMALL))
    assert again.whole[0].tolist() == [0, 0, 0]
    i, j = laid.whole[0, 1:]
    assert shift.tolist() == [206 * i, 106 * j]
    assert (again.cut[:, 1:] - laid.cut[:, 1:]).tolist() == [[-i, -j]] * len(laid.cut)
    moved = [affinity.translate(piece, *shift) for piece in again.pieces]
    assert shapely.area(shapely.symmetric_difference(np.array(moved, dtype=object), laid.pieces)).max() < 1e-6
    none = Laid(laid.whole[:0], laid.cut[:0], laid.pieces[:0], 0.0)
    assert none.counted_from_first(pattern_of(SMALL))[1].tolist() == [0.0, 0.0]
    cut = Laid(laid.whole[:0], laid.cut, laid.pieces, 0.0).counted_from_first(pattern_of(SMALL))[0]
    assert cut.cut[0, 1:].tolist() == [0, 0]


TURNS = [(0.0, False), (90.0, False), (180.0, False), (270.0, False), (0.0, True), (90.0, True)]


@pytest.mark.parametrize(("turn", "mirrored"), TURNS)
@pytest.mark.parametrize(("ring", "wanted"), [
    ([(0, 0), (140, 0), (165, 200), (0, 200)], (140, 165)),
    ([(0, 0), (190, 0), (165, 200), (0, 200)], (165, 190)),
    ([(0, 0), (60, 0), (0, 200)], (0, 60)),
    ([(0, 0), (200, 0), (200, 60), (150, 200), (0, 200)], (150, 200)),
])  # fmt: skip
def test_the_legs_of_a_taper_are_those_across_its_slant_however_it_lies(ring, wanted, turn, mirrored):
    shape = affinity.rotate(Polygon(ring), turn, origin=(100, 100))
    if mirrored:
        shape = affinity.scale(shape, -1.0, 1.0, origin=(100, 100))
    assert legs(shape) == pytest.approx(wanted)


def arc(step):
    """A tile with a quarter taken off it by a circle drawn in steps of so many degrees."""
    count = round(90 / step)
    ring = [
        (200 - 150 * math.cos(math.radians(90 - step * k)), 200 - 150 * math.sin(math.radians(90 - step * k))) for k in range(count + 1)
    ]
    return Polygon([(0, 0), (200, 0), (200, 50), *ring[1:-1], (50, 200), (0, 200)])


@pytest.mark.parametrize(("step", "shape"), [(5, "curve"), (15, "curve"), (18, "curve"), (30, "other")])
def test_a_curve_bends_by_less_than_twenty_degrees_from_side_to_side(step, shape):
    assert shape_of(arc(step), SQUARE) == shape
    # the way round is the circle's, wherever it lies: 180 degrees and -180 are one direction
    assert shape_of(affinity.rotate(arc(step), 180, origin=(100, 100)), SQUARE) == shape
    assert shape_of(affinity.rotate(arc(step), 90, origin=(100, 100)), SQUARE) == shape


def loose(polygon, k=0, tile=SQUARE, wall="wall 1", **more):
    return Loose(PieceKey(0, 0, 0, k), tile, polygon, shape_of(polygon, tile), wall, (0, 0), **more)


def test_a_cut_is_as_small_as_the_smallest_of_its_pieces_and_named_by_its_walls():
    members = [loose(box(0, 0, 140.9, 200), 0), loose(box(0, 0, 140.2, 200), 1, wall="wall 2"), loose(box(0, 0, 200, 141.4), 2, wall="")]
    cut = plain_cut("C4", members)
    assert (cut.mark, cut.tile, cut.count, cut.size, cut.wall) == ("C4", "s", 3, (140, 200), "wall 1, wall 2")
    assert cut.area == pytest.approx(140.9 * 200)
    # 240 by 115 may be turned by a half only: a piece that is wide and low stays so
    long = Tile(name="l", size=(240, 115))
    assert plain_cut("C1", [loose(box(0, 0, 240, 60.5), tile=long)]).size == (240, 60)
    assert plain_cut("C1", [loose(box(0, 0, 60.5, 115), tile=long)]).size == (60, 115)


def taper(low, high):
    return Polygon([(0, 0), (low, 0), (high, 200), (0, 200)])


@pytest.mark.parametrize("falls", [False, True])
def test_a_run_of_tapers_goes_from_its_first_leg_to_its_last(falls):
    pieces = [loose(taper(140.6 + 2 * k, 142.6 + 2 * k), k) for k in range(6)]
    cut = run_cut("T2", pieces[::-1] if falls else pieces)
    # from 140.6 to 152.6, rounded down; the widest piece stands for them: its box is 152.6 by 200
    assert (cut.start, cut.end) == ((152, 140) if falls else (140, 152))
    assert (cut.count, cut.size, cut.shape) == (6, (152, 200), "taper")
    assert cut.area == pytest.approx(200 * (150.6 + 152.6) / 2)


def test_tapers_of_one_wall_run_in_the_order_they_are_met_and_one_alone_is_no_run():
    along = [loose(taper(140 + k, 141 + k), k, place=(5.0 - k,)) for k in range(3)]
    other = [loose(taper(90 + k, 91 + k), 10 + k, wall="wall 2", place=(1.0 + k,)) for k in range(2)]
    alone = loose(taper(50, 51), 20, wall="wall 3", place=(0.0,))
    runs, single = taper_runs([*along, *other, alone])
    assert [[each.key.piece for each in run] for run in runs] == [[10, 11], [2, 1, 0]]
    assert [each.key.piece for each in single] == [20]


def test_marks_are_numbered_by_shape_then_falling_area():
    pieces = [loose(box(0, 0, 90, 80), 0), loose(box(0, 0, 60, 200), 1), loose(box(0, 0, 150, 200), 2), loose(box(120, 0, 200, 90), 3)]
    order = sorted(pieces, key=lambda each: order_key([each]))
    assert [each.key.piece for each in order][:2] == [2, 1]
    # the last is the first turned a quarter: drawn alike, and numbered side by side
    assert {each.key.piece for each in order[2:]} == {0, 3}
    assert order_key([pieces[0]]) == order_key([pieces[3]])
    shared = box(0, 0, 60, 200)
    assert [len(same) for same in by_outline([loose(shared, 0), loose(box(0, 0, 150, 200), 1), loose(shared, 2)])] == [1, 2]


def test_pieces_are_alike_by_outline_and_holes_in_a_turn_that_the_face_allows():
    tile = box(0, 0, 200, 200)

    def holed(x, y, size=60):
        return tile.difference(circle((x, y), size))

    # a hole 40 right of the middle, and 40 above it: one is the other turned; 43 is not; one on the slant is not
    groups = groups_of(
        [loose(holed(140, 100), 0), loose(holed(100, 140), 1), loose(holed(143, 100), 2), loose(holed(128.3, 128.3), 3)], 1.0
    )
    assert sorted(sorted(each.key.piece for each in group) for group in groups) == [[0, 1], [2], [3]]
    # within the tolerance they are one, and each lies as far from the middle as the other
    assert len(groups_of([loose(holed(140, 100), 0), loose(holed(140.8, 100), 1)], 1.0)) == 1
    assert reach_of(loose(holed(140, 100)))[-1] == pytest.approx(40.0, abs=0.01)
    assert reach_of(loose(box(0, 0, 140, 200))) == pytest.approx([math.hypot(40, 100)] * 2 + [math.hypot(100, 100)] * 2)
    # shapes with as many corners and as far from the middle, mirrored, are two
    ell = Polygon([(0, 0), (200, 0), (200, 60), (120, 60), (120, 150), (0, 150)])
    flipped = affinity.scale(ell, -1.0, 1.0, origin=(100, 100))
    assert reach_of(loose(ell)) == pytest.approx(reach_of(loose(flipped)))
    assert len(groups_of([loose(ell, 0), loose(flipped, 1)], 1.0)) == 2
    assert len(groups_of([loose(ell, 0), loose(affinity.rotate(ell, 180, origin=(100, 100)), 1)], 1.0)) == 1


def test_a_strip_is_lost_and_a_wider_one_is_a_piece():
    pattern = pattern_of(SQUARE)
    for wide, pieces in ((0.08, 0), (0.12, 1)):
        laid = lay(box(0, 0, 206 + wide, 200), pattern, 0.0, np.zeros(2))
        assert (len(laid.whole), len(laid.cut)) == (1, pieces)
        assert laid.lost_mm2 == pytest.approx(0.0 if pieces else wide * 200, abs=1e-6)
    for missing, whole in ((0.08, 2), (0.12, 1)):
        laid = lay(box(0, 0, 406 - missing, 200), pattern, 0.0, np.zeros(2))
        assert (len(laid.whole), len(laid.cut)) == (whole, 2 - whole)
        assert laid.lost_mm2 == 0.0
    # a corner off a tile that is small in all ways but wide enough to see is no whole tile
    clipped = Polygon([(0, 0), (200, 0), (200, 198), (198, 200), (0, 200)])
    laid = lay(clipped, pattern, 0.0, np.zeros(2))
    assert (len(laid.whole), len(laid.cut)) == (0, 1)
    # an almost whole tile keeps its place among the others, row by row
    room = shapely.difference(box(0, 0, 612, 406), box(411.9, 0, 412.0, 206))
    laid = lay(room, pattern, 0.0, np.zeros(2))
    assert [tuple(each) for each in laid.whole.tolist()] == [(0, i, j) for j in range(2) for i in range(3)]


@pytest.mark.parametrize(("dx", "dy"), [(0, 0), (5, 0), (0, 6), (5, 6), (-9, 14)])
def test_a_flush_room_is_whole_wherever_its_lattice_is_counted_from(dx, dy):
    """Five tiles by six, the lattice's origin so many modules off the room's corner: indices from there, row by row."""
    laid = lay(box(0, 0, 1024, 1230), pattern_of(SQUARE), 0.0, np.array([206.0 * dx, 206.0 * dy]))
    assert laid.whole.tolist() == [[0, i - dx, j - dy] for j in range(6) for i in range(5)]
    assert len(laid.cut) == 0
    # a column that crosses one of them, far from the origin too
    holed = shapely.difference(box(0, 0, 1024, 1230), box(420, 420, 500, 500))
    laid = lay(holed, pattern_of(SQUARE), 0.0, np.array([206.0 * dx, 206.0 * dy]))
    assert laid.whole.tolist() == [[0, i - dx, j - dy] for j in range(6) for i in range(5) if (i, j) != (2, 2)]
    assert laid.cut.tolist() == [[0, 2 - dx, 2 - dy]]


def test_tiles_of_a_cell_with_fewer_corners_repeat_their_last():
    cell = Cell(tiles=(((0, 0), (200, 0), (200, 200), (0, 200)), ((206, 0), (306, 0), (206, 100))), vectors=((412, 0), (0, 412)))
    pattern = pattern_of(Tile(name="t", joint=6, pattern="own", cell=cell))
    field = TileField(pattern, 0.0, np.zeros((1, 2)), ())
    square, triangle = field.outlines(np.array([[0, 0, 0, 0], [0, 1, 1, 2]]))
    assert square.tolist() == [[0, 0], [200, 0], [200, 200], [0, 200]]
    # one module along and two up
    assert triangle.tolist() == [[618, 824], [718, 824], [618, 924], [618, 924]]


@pytest.mark.parametrize("ring", [
    [(0, 0), (200, 0), (200, 140), (0, 140)],
    [(0, 0), (130, 0), (130, 90), (0, 90)],
    [(0, 0), (200, 0), (200, 60), (120, 60), (120, 150), (0, 150)],
    [(0, 0), (180, 0), (150, 200), (0, 200)],
])  # fmt: skip
def test_a_piece_is_drawn_in_one_turn_however_it_was_cut_upright_where_it_is_narrow(ring):
    turns = [affinity.rotate(Polygon(ring), 90 * k, origin=(100, 100)) for k in range(4)]
    drawn = [plain_cut("C1", [loose(each)]) for each in turns]
    assert all(each.outline == pytest.approx(drawn[0].outline) for each in drawn)
    width, height = np.ptp(drawn[0].outline, axis=0)
    x0, y0, x1, y1 = Polygon(ring).bounds
    assert (width, height) == pytest.approx(tuple(sorted((x1 - x0, y1 - y0))))


def test_nothing_laid_is_an_empty_field():
    bare = TileField(pattern_of(SMALL), 0.0, np.empty((0, 2)), ())
    assert (bare.whole.shape, bare.cut.shape, bare.places_cut(), bare.lost_mm2, len(bare.pieces())) == ((0, 4), (0, 4), 0, 0.0, 0)
    laid = lay(Polygon(), pattern_of(SMALL), 0.0, np.zeros(2))
    assert (laid.whole.shape, laid.cut.shape, len(laid.pieces), laid.lost_mm2) == ((0, 3), (0, 3), 0, 0.0)
    # a corner of a room under half a tile: a piece, and no whole tile
    laid = lay(box(0, 0, 50, 40), pattern_of(SMALL), 0.0, np.zeros(2))
    assert (laid.whole.shape, laid.cut.tolist()) == ((0, 3), [[0, 0, 0]])


def test_a_row_cut_to_less_than_half_leaves_the_rows_behind_it_whole():
    # 70 of the first row stands in the room, the other five are whole but for the tile that a column goes through
    room = shapely.difference(box(0, 130, 1024, 1230), box(420, 630, 500, 700))
    laid = lay(room, pattern_of(SQUARE), 0.0, np.zeros(2))
    assert laid.whole.tolist() == [[0, i, j] for j in range(1, 6) for i in range(5) if (i, j) != (2, 3)]
    assert laid.cut.tolist() == [*([0, i, 0] for i in range(5)), [0, 2, 3]]


def test_a_point_on_a_straight_wall_is_no_corner_of_a_piece():
    region = Polygon([(0, 0), (450, 0), (500, 0), (500, 250), (60, 250), (0, 250)])
    shapes, which = in_tile_axes(lay(region, pattern_of(SMALL), 0.0, np.zeros(2)), pattern_of(SMALL), SMALL)
    assert {len(each.exterior.coords) for each in shapes} == {5}
    assert Counter(shape_of(shapes[k], SMALL) for k in which) == {"straight": 4, "corner": 1}
