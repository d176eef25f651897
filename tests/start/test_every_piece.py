"""Every piece counts: what a start is told to give is what its own pieces give, recounted by their least rectangles."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

import layout
from layout.plan.patterns import pattern_of
from layout.plan.values import Tile
from layout.tiles.lay import lay
from layout.tiles.widths import piece_widths
from tests.rooms import plan_of, set_out_room

FREE = {"movement": "UK_FLOOR", "wall_tolerance": 0}
EDGE = 8.0
"""Joint between a bare wall and the floor's tile, in a room that is not tanked."""


def width(piece):
    """Lesser side of the least rectangle about a piece."""
    a, b, c = shapely.get_coordinates(piece.minimum_rotated_rectangle)[:3]
    return min(np.hypot(*(b - a)), np.hypot(*(c - b)))


def recounted(pieces, size):
    """Narrowest strip of some pieces in lattice axes, and narrowest piece; a strip spans nine tenths of a side of its tile."""
    boxes = shapely.bounds(pieces).reshape(-1, 4)
    spans = ((boxes[:, 2:] - boxes[:, :2]) >= 0.9 * np.array(size)).any(axis=1)
    widths = np.array([width(piece) for piece in pieces])
    return min([*widths[spans], min(size)]), min([*widths, np.inf])


def pieces_of(floor):
    return np.concatenate([bay.pieces for bay in floor.field.bays])


def floor_of(room, tile, rules=FREE):
    return set_out_room(room, tiles={"floor": tile}, rules=rules).floor


STACK = {"size": [200, 200], "joint": 4}
BOND = {"size": [300, 150], "joint": 4, "pattern": "running", "offset": 0.5}
RECTANGLE = [[0, 0], [3538, 0], [3538, 2646], [0, 2646]]
ROOMS = {
    "wall bent by 3 in 3000": ({"outline": [[0, 0], [3000, 0], [3000, 2670], [1500, 2673], [0, 2670]]}, {"size": [200, 200], "joint": 3}),
    "wall bent inwards": ({"outline": [[0, 0], [3000, 0], [3000, 2670], [1200, 2666], [0, 2670]]}, BOND),
    "channel right through": (
        {"outline": RECTANGLE, "drains": [{"kind": "channel", "from": [0, 1500], "to": [3538, 1500], "width": 150}]},
        STACK,
    ),
    "channel that ends in the floor": (
        {"outline": RECTANGLE, "drains": [{"kind": "channel", "from": [631, 949], "to": [3136, 949], "width": 181}]},
        STACK,
    ),
    "column 44 from a wall": ({"outline": RECTANGLE, "columns": [{"outline": [[64, 900], [464, 900], [464, 1400], [64, 1400]]}]}, STACK),
    "column under two tiles": (
        {
            "outline": [[0, 0], [2095, 0], [2095, 2890], [0, 2890]],
            "columns": [{"outline": [[1133, 516], [1487, 516], [1487, 870], [1133, 870]]}],
        },
        BOND,
    ),
    "a nib": ({"outline": [[0, 0], [2690, 0], [2690, 2449], [0, 2449], [0, 1657], [143, 1657], [143, 1551], [0, 1551]]}, BOND),
}


@pytest.mark.parametrize("name", ROOMS)
def test_the_told_cut_is_that_of_the_pieces_and_no_sampled_start_beats_it(name):
    room, tile = ROOMS[name]
    floor = floor_of(room, tile)
    own, least = recounted(pieces_of(floor), tile["size"])
    assert floor.start.smallest == pytest.approx(own, abs=0.01)
    assert floor.start.piece.width == pytest.approx(least, abs=0.01)
    pattern = floor.field.pattern
    best = 0.0
    for dx in np.arange(0.0, pattern.vectors[0, 0], 17.0):
        for dy in np.arange(0.0, pattern.vectors[1, 1], 13.0):
            moved = [lay(bay.region, pattern, floor.turn, np.add(floor.start.origin, (dx, dy))).pieces for bay in floor.bays]
            best = max(best, recounted(np.concatenate(moved), tile["size"])[0])
    assert own >= best - 0.1


def test_a_bent_wall_is_not_left_out_of_a_given_start():
    room, tile = ROOMS["wall bent by 3 in 3000"]
    floor = floor_of(room, {**tile, "start": [184.5, 13.0]})
    assert floor.start.smallest < 12.0  # a row of strips along the bent wall, which 166.5 was told of once


def test_strips_along_a_channel_are_told_of_a_given_start():
    channel = {"kind": "channel", "from": [0, 1500], "to": [5000, 1500], "width": 150}
    room = {"outline": [[0, 0], [5000, 0], [5000, 3000], [0, 3000]], "drains": [channel]}
    floor = floor_of(room, {"size": [200, 200], "joint": 6, "start": [135.5, 161.5]})
    assert floor.start.smallest == pytest.approx(recounted(pieces_of(floor), (200, 200))[0], abs=0.01)
    assert floor.start.smallest < 20.0
    assert floor.start.smallest_at == "channel 1"


def test_the_strip_between_a_column_and_a_wall_is_told():
    room, tile = ROOMS["column 44 from a wall"]
    floor = floor_of(room, tile)
    assert floor.start.smallest == pytest.approx(64 - 2 * EDGE, abs=0.01)


PLANTED = [
    Tile(name="t", size=(200, 200), joint=6),
    Tile(name="t", size=(300, 150), joint=4, pattern="running"),
    Tile(name="t", size=(300, 97), joint=3, pattern="herringbone"),
    Tile(name="t", size=(203, 100), joint=3, pattern="basket-weave"),
    Tile(name="t", size=(200, 200), joint=4, pattern="two-size"),
    Tile(name="t", size=(150, 173.205), joint=3, pattern="hexagon"),
]


def planted(tile, seed):
    """An outline round whole tiles: those with their middle in a box, as far as they hang together."""
    pattern = pattern_of(tile)
    rng = np.random.default_rng(seed)
    w, h = rng.integers(1300, 2000, 2)
    found = []
    for member in pattern.members:
        for i in range(-30, 31):
            for j in range(-30, 31):
                ring = member + i * pattern.vectors[0] + j * pattern.vectors[1]
                x, y = ring.mean(axis=0)
                if 0 <= x <= w and 0 <= y <= h:
                    found.append(shapely.Polygon(ring))
    joined = shapely.union_all([tile_.buffer(tile.joint / 2 + 0.01, join_style="mitre") for tile_ in found])
    joined = joined.buffer(EDGE - tile.joint / 2 - 0.01, join_style="mitre")
    assert isinstance(joined, shapely.Polygon)
    ring = shapely.get_coordinates(joined.simplify(0.02))[:-1]
    return {"outline": np.round(ring, 3).tolist()}, len(found)


@pytest.mark.parametrize("tile", PLANTED, ids=lambda tile: tile.pattern)
@pytest.mark.parametrize("tolerance", [0, 5])
def test_a_room_of_whole_tiles_is_laid_whole(tile, tolerance):
    room, count = planted(tile, 3)
    (x0, y0), (x1, y1) = room["outline"][:2]  # the pattern lies along x, whichever way the wall that it follows runs
    turn = -round(float(np.degrees(np.arctan2(y1 - y0, x1 - x0))) / 30.0) * 30.0
    typed = {"size": list(tile.size), "joint": tile.joint, "pattern": tile.pattern, "along": 1, "turn": turn}
    floor = floor_of(room, typed, {**FREE, "wall_tolerance": tolerance})
    assert (len(floor.field.whole), len(floor.field.cut)) == (count, 0)
    assert floor.start.piece is None


@pytest.mark.parametrize("cut", [120, 150, 181])
def test_one_forced_cut_is_found(cut):
    # 13 tiles one way, 9 and a strip the other: no start gives both ends of the strip's way a whole tile
    w, h = 13 * 206 - 6, 9 * 206 + cut
    room = {"outline": [[0, 0], [w + 2 * EDGE, 0], [w + 2 * EDGE, h + 2 * EDGE], [0, h + 2 * EDGE]]}
    floor = floor_of(room, {"size": [200, 200], "joint": 6, "least_cut": cut})
    own, _ = recounted(pieces_of(floor), (200, 200))
    balanced = (h - 8 * 206 + 6 - 2 * 6) / 2  # two strips alike with eight tiles and nine joints between them
    assert own == pytest.approx(max(cut, balanced), abs=0.02)
    assert floor.start.smallest == pytest.approx(own, abs=0.01)


@pytest.mark.parametrize(("w", "h"), [(3140, 2290), (3106, 2544), (2811, 3033)])
def test_cuts_within_the_walls_tolerance_are_equal_so_opposite_ones_are_alike(w, h):
    floor = floor_of({"outline": [[0, 0], [w, 0], [w, h], [0, h]]}, {"size": [200, 200], "joint": 6}, {"movement": "UK_FLOOR"})
    cuts = {cut.label: cut.start for cut in floor.wall_cuts}
    assert cuts
    assert cuts.get("wall 1", 200.0) == pytest.approx(cuts.get("wall 3", 200.0), abs=0.02)
    assert cuts.get("wall 2", 200.0) == pytest.approx(cuts.get("wall 4", 200.0), abs=0.02)


def test_a_nib_shorter_than_a_course_counts_only_where_a_course_meets_it():
    outline = [[0, 0], [2690, 0], [2690, 3849], [0, 3849], [0, 1657], [143, 1657], [143, 1551], [0, 1551]]
    tile = {"size": [600, 300], "joint": 4, "pattern": "running"}
    rules = {"bays": "cut", "movement": "DE_INTERIOR"}
    free = floor_of({"outline": outline}, tile, rules)
    fixed = floor_of({"outline": outline}, {**tile, "start": [3009, 298]}, rules)
    assert free.start.worst >= fixed.start.worst
    assert free.start.smallest == pytest.approx(recounted(pieces_of(free), (600, 300))[0], abs=0.01)


def test_the_width_of_a_cut_off_corner_does_not_hang_on_how_it_lies():
    """A triangle of 30 x 40 fits 30 x 40 and 24 x 50, of like area: it is 24 wide however it is turned and wherever its ring begins."""
    ring = np.array([[0.0, 0.0], [40.0, 0.0], [0.0, 30.0]])
    for turn in np.radians([0.0, 30.0, 45.0, 90.0, 201.0]):
        way = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
        made = [shapely.Polygon(np.roll(ring @ way, k, axis=0)) for k in range(3)]
        assert piece_widths(np.array(made, dtype=object)) == pytest.approx(24.0)


def started(outline, start):
    """A bare floor with its start fixed, in tiles of 200 with joints of 6."""
    tile = {"size": [200, 200], "joint": 6, "start": start}
    return layout.set_out(plan_of({"outline": outline, "tanking_height": 0}, tiles={"floor": tile}))


def test_a_thin_l_is_as_narrow_as_its_leg():
    # a nib leaves 30 of the corner's tile over 190 of its 200, and 10 beside itself: the piece fills its tile's box; all else is whole
    made = started([[0, 0], [190, 0], [190, -170], [3100, -170], [3100, 2106], [0, 2106]], [EDGE, EDGE - 170.0])
    floor = made.rooms[0].floor
    assert len(floor.field.pieces()) == 1
    assert width(floor.field.pieces()[0]) > 100.0  # its least rectangle is that of the tile
    assert (floor.start.smallest, floor.start.smallest_at) == (pytest.approx(30.0, abs=0.01), "wall 1")
    assert layout.audit(made).breaches == ()
    told = replace(floor, start=replace(floor.start, smallest=35.0))
    room = replace(made.rooms[0], surfaces=(told, *made.rooms[0].surfaces[1:]))
    found = layout.audit(replace(made, rooms=(room,))).breaches
    assert "narrowest cut" in {breach.name for breach in found}


def test_the_triangle_at_a_slanted_wall_is_as_wide_as_the_piece_laid_there():
    """Of 485 real floors 91 told less than their strips: the 18 furthest off were looked at, each a triangle at a slanted wall that was laid."""
    outline = [[0, 0], [2000, 0], [2000, 1300], [1300, 2000], [0, 2000]]
    floor = set_out_room({"outline": outline}, tiles={"floor": {"size": [400, 400], "joint": 5, "start": [180, 180]}}).floor
    rings = [shapely.get_coordinates(piece)[:-1] for laid in floor.field.bays for piece in laid.pieces]
    deep = []
    for ring in rings:
        for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True):
            along = b - a
            if abs(abs(along[0]) - abs(along[1])) < 0.1:  # the wall at 45 degrees
                off = (ring - a) @ np.array([-along[1], along[0]]) / np.hypot(*along)
                deep.append((float(np.ptp(off)), len(ring)))
    assert min(deep)[1] == 3
    assert floor.start.smallest == pytest.approx(min(deep)[0], abs=0.01)
    assert floor.start.smallest_at == "wall 3"


def test_a_face_narrower_than_a_tile_tells_no_cut_wider_than_itself():
    """A column of 90 x 300 in tile 200 / 3: sides run 15 past its arris where they run through at a corner, and 2 where they do not."""
    column = {"outline": [[1000, 900], [1090, 900], [1090, 1200], [1000, 1200]]}
    room = {"outline": [[0, 0], [3000, 0], [3000, 2400], [0, 2400]], "tile_height": 1000, "columns": [column]}
    tile = {"size": [200, 200], "joint": 3}
    record = layout.setout_record(layout.set_out(plan_of(room, tiles={"floor": tile, "wall": tile})), pieces=True)["rooms"][0]
    sides = [each for each in record["surfaces"] if each["name"] in ("column 1 side 1", "column 1 side 3")]
    told = [(each["start"]["smallest_cut_mm"], float(np.ptp(np.array(each["outline"])[:, 0]))) for each in sides]
    assert told == [(90.0 + 15.0 + 15.0, 120.0), (90.0 + 15.0 + 2.0, 107.0)]  # cut on both edges: as wide as the face
    assert all(
        np.ptp(np.array(piece["outline"])[:, 0]) <= wide + 0.01
        for each, (_, wide) in zip(sides, told, strict=True)
        for piece in each["pieces"]
    )
