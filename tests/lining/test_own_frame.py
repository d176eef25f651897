"""The room's own frame: where a room stands, how it lies and how it is numbered changes no figure."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from layout.plan.patterns import pattern_of, quarter_onto
from layout.quantities.takeoff import take_off
from layout.room.building import build_outline
from layout.room.own_frame import OwnFrame, as_measured, at_home, back_out, own_frame, walk_of
from layout.setout.conduct import set_out
from layout.start.faces import faces_of
from tests.rooms import lined_room, moved, plan_of, reversed_outline

BOX = {"outline": [[0, 0], [4000, 0], [4000, 3000], [0, 3000]]}
PATTERNS = [
    {"size": [200, 200], "joint": 6},
    {"size": [300, 150], "joint": 4, "pattern": "running", "offset": 0.33},
    {"size": [300, 100], "joint": 4, "pattern": "herringbone"},
    {"size": [300, 300], "joint": 4, "pattern": "diagonal"},
    {"size": [150, 173.2], "joint": 3, "pattern": "hexagon"},
    {"size": [300, 300], "joint": 4, "pattern": "two-size", "small": 150},
    {"size": [250, 123], "joint": 4, "pattern": "basket-weave"},
    {"size": [300, 300], "joint": 4, "turn": 30},
]


def frame_of_room(room):
    return own_frame(build_outline(plan_of(room), 0))


def test_the_frame_begins_at_the_longest_wall_and_runs_along_it():
    # 5000 long, from the upper right going left: anticlockwise with the room on its left
    room = {"outline": [[0, 0], [2000, 0], [2000, 1000], [5000, 1000], [5000, 3000], [0, 3000]]}
    assert frame_of_room(room) == OwnFrame(180.0, (5000.0, 3000.0))


def test_of_walls_as_long_the_one_decides_from_which_things_lie_first():
    """Both long walls see the same room but for a pipe: the frame follows the pipe, not the axes."""
    room = {**BOX, "pipes": [{"at": [600, 700], "diameter": 110}]}
    frames = [frame_of_room(moved(room, turn=turn, shift=(5000, 300))) for turn in (0, 90, 180, 270)]
    pipe = np.array([[600.0, 700.0]])
    found = []
    for turn, frame in zip((0, 90, 180, 270), frames, strict=True):
        cos, sin = round(math.cos(math.radians(turn))), round(math.sin(math.radians(turn)))
        found.append(frame.into(pipe @ np.array([[cos, sin], [-sin, cos]]) + [5000, 300])[0].tolist())
    assert found[0] == found[1] == found[2] == found[3]
    assert found[0] in ([600, 700], [3400, 2300])


def test_a_turned_room_of_whole_millimetres_is_that_room_at_home():
    room = {**BOX, "columns": [{"outline": [[700, 800], [1000, 800], [1000, 1100], [700, 1100]]}]}
    plan = plan_of(moved(room, turn=17.3, shift=(123.4, -55.5)))
    frame = own_frame(build_outline(plan, 0))
    home = at_home(plan, 0, frame)
    corners = [vertex.to for vertex in home.rooms[0].outline]
    assert corners in ([(0, 0), (4000, 0), (4000, 3000), (0, 3000)], [(4000, 3000), (0, 3000), (0, 0), (4000, 0)])
    # and moved out again every corner is where it was typed, within the rounding of what was typed
    out = back_out(plan, home, 0, frame)
    apart = [math.dist(a.to, b.to) for a, b in zip(out.rooms[0].outline, plan.rooms[0].outline, strict=True)]
    assert max(apart) < 0.005


@given(st.sampled_from([0.0, 90.0, 180.0, 270.0]), st.tuples(st.integers(-10_000_000, 10_000_000), st.integers(-10_000_000, 10_000_000)))
def test_quarter_turns_and_shifts_move_exactly(turn, shift):
    frame = OwnFrame(turn, (shift[0] / 1000, shift[1] / 1000))
    points = np.array([[0.001, 2345.678], [4000.0, -3000.5]])
    assert frame.into(frame.out(points)).tolist() == points.tolist()


@pytest.mark.parametrize("tile", PATTERNS, ids=lambda tile: tile.get("pattern", "stack"))
def test_a_pattern_turned_by_half_lies_on_itself(tile):
    """By points: each corner of the turned pattern, shifted, is a corner of the pattern."""
    pattern = pattern_of(plan_of(BOX, tiles={"floor": tile}).tile("floor"))
    shift = quarter_onto(pattern, 2)
    assert shift is not None
    back = np.linalg.inv(pattern.vectors)
    corners = np.concatenate(pattern.members)
    for corner in -corners - shift:
        steps = (corner - corners) @ back
        assert np.abs(steps - np.round(steps)).max(axis=1).min() < 1e-6


def test_a_pattern_that_a_quarter_turn_does_not_lay_on_itself_says_so():
    assert quarter_onto(pattern_of(plan_of(BOX, tiles={"floor": PATTERNS[1]}).tile("floor")), 1) is None
    assert quarter_onto(pattern_of(plan_of(BOX, tiles={"floor": PATTERNS[0]}).tile("floor")), 1) is not None


def renumbered(room, by):
    """The same room with another corner typed first."""
    n = len(room["outline"])
    outline = room["outline"][by:] + room["outline"][:by]
    doors = [{**each, "wall": (each["wall"] - 1 - by) % n + 1} for each in room.get("openings", ())]
    return {**room, "outline": outline, **({"openings": doors} if doors else {})}


def with_corner(room, wall):
    """The same room with a corner put into the middle of a straight wall without a door."""
    (ax, ay), (bx, by) = room["outline"][wall - 1], room["outline"][wall % len(room["outline"])]
    outline = [*room["outline"][:wall], [(ax + bx) / 2, (ay + by) / 2], *room["outline"][wall:]]
    doors = [{**each, "wall": each["wall"] + (each["wall"] > wall)} for each in room.get("openings", ())]
    return {**room, "outline": outline, **({"openings": doors} if doors else {})}


@st.composite
def rooms(draw):
    """L-shaped rooms on whole millimetres, with a door in wall 1 and things in them, square or with one wall out of square."""
    w, h = draw(st.integers(2100, 3000)), draw(st.integers(2100, 2700))
    x, y = draw(st.integers(1000, w - 800)), draw(st.integers(1000, h - 800))
    lean = draw(st.sampled_from([0, 0, 37]))
    room = {"outline": [[0, 0], [w, 0], [w, y], [x, y], [x, h + lean], [0, h]], "tanking_height": 200}
    if draw(st.booleans()):
        room["openings"] = [{"wall": 1, "offset": draw(st.integers(100, w - 900)), "width": 700, "depth": draw(st.sampled_from([0, 120]))}]
    if draw(st.booleans()):
        room["drains"] = [{"kind": "gully", "at": [draw(st.integers(300, 900)), draw(st.integers(300, 900))], "frame": [150, 150]}]
    if draw(st.booleans()):
        room["plinths"] = [{"outline": [[0, 1300], [400, 1300], [400, 1900], [0, 1900]], "height": 150}]
    if draw(st.booleans()):
        at = draw(st.integers(1000, w - 1000))
        room["structural_joints"] = [{"line": [[at, -10], [at, h + 50]], "width": 20}]
    return room


twins = st.one_of(
    st.tuples(st.just("shifted"), st.tuples(st.integers(-9_999_999, 9_999_999), st.integers(-9_999_999, 9_999_999))),
    st.tuples(st.just("turned"), st.sampled_from([90, 180, 270])),
    st.tuples(st.just("turned"), st.floats(1.0, 359.0).map(lambda angle: round(angle, 2))),
    st.tuples(st.just("reversed"), st.none()),
    st.tuples(st.just("renumbered"), st.integers(1, 5)),
    st.tuples(st.just("with a corner"), st.sampled_from([2, 6])),
)


def twin_of(room, kind, how):
    if kind == "shifted":
        return moved(room, shift=(how[0] / 1000, how[1] / 1000))
    if kind == "turned":
        return moved(room, turn=how, shift=(17, -4))
    if kind == "reversed":
        return reversed_outline(room)
    return renumbered(room, how) if kind == "renumbered" else with_corner(room, how)


def figures(room, tile, rules):
    """All figures of the floor and tops of a room and of its take-off; nothing with a place in it."""
    setout = set_out(plan_of(room, tiles={"floor": tile}, rules=rules))
    made = setout.rooms[0]
    flat = [done for done in made.surfaces if done.surface.kind in ("floor", "plinth-top")]
    counts = [(len(done.field.whole), done.field.places_cut(), len(done.field.cut), len(done.bays), done.start.method) for done in flat]
    found = {item.key: item.quantity for item in take_off(setout).items}
    for k, done in enumerate(flat):
        found |= {f"smallest {k}": done.start.smallest, f"worst {k}": done.start.worst, f"gap {k}": done.start.gap}
        found[f"area {k}"] = sum(piece.area for piece in done.field.pieces())
    for joint in made.joints:
        found[f"joint {joint.kind}"] = found.get(f"joint {joint.kind}", 0.0) + joint.length
    return counts, found


@settings(max_examples=8)
@given(rooms(), st.sampled_from(PATTERNS[:2]), st.sampled_from(["wall-through", "floor-through", "cove"]), twins)
def test_twins_of_a_room_have_its_figures(room, tile, foot, twin):
    same_figures(room, tile, {"foot": foot, "movement": "DE_INTERIOR"}, *twin)


def same_figures(room, tile, rules, kind, how):
    counts, own = figures(room, tile, rules)
    others, found = figures(twin_of(room, kind, how), tile, rules)
    assert others == counts
    assert found.keys() == own.keys()
    # a room typed at an odd angle has its corners rounded to a thousandth: its lengths and areas with them
    odd = kind == "turned" and how % 90 != 0
    for name, value in own.items():
        assert found[name] == pytest.approx(value, rel=2e-5 if odd else 1e-9, abs=0.02 if odd else 1e-6), name


CORNERED = {
    "outline": [[0, 0], [1610, 0], [1610, 970], [1100, 970], [1100, 1330], [0, 1330]],
    "tile_height": 500,
    "tanking_height": 200,
    "columns": [{"outline": [[700, 500], [850, 500], [850, 650], [700, 650]]}],
}
FALLING = {
    "outline": [[0, 0], [1810, 0], [1810, 1370], [0, 1370]],
    "drains": [{"kind": "gully", "at": [710, 630]}],
    "falls": [{"to": "gully 1"}],
}
PULLED = {
    "outline": [[0, 0], [1810, 0], [1810, 1370], [0, 1370]],
    "openings": [{"wall": 1, "offset": 300, "width": 900}],
    "pulls": [{"want": "tile", "at": [900, 700]}],
}
BOWED = {"outline": [[0, 0], [1810, 0], {"to": [1810, 1370], "bulge": 0.4}, [0, 1370]], "tile_height": 400}
TWINS = {
    "shifted": lambda room: moved(room, shift=(1234.5, -77.25)),
    "turned by a quarter": lambda room: moved(room, turn=90),
    "turned": lambda room: moved(room, turn=17.3, shift=(500, 300)),
    "reversed": reversed_outline,
    "renumbered": lambda room: renumbered(room, 2),
    "with a corner": lambda room: with_corner(room, 4),
}


def all_figures(room, tiles, rules=None):
    """Every flat surface's figures and every upright one's, whatever its number, then tape, joints, screed and pulls."""
    made = set_out(plan_of(room, tiles=tiles, rules=rules or {})).rooms[0]
    flat: list[tuple[object, ...]] = []
    upright: list[tuple[object, ...]] = []
    for done in made.surfaces:
        start, piece = done.start, done.start.piece
        widths = [round(each, 1) for each in (start.smallest, start.worst, piece.width if piece else 0.0)]
        own = flat if done.surface.placing.line is None else upright
        own.append((done.surface.kind, len(done.field.whole), done.field.places_cut(), *widths, round(done.tiled_m2, 3)))
    corners = [corner.kind for corner in made.tape.corners]
    levels = made.levels and (round(made.levels.screed.most, 1), round(made.levels.screed.volume, 3), len(made.levels.cuts))
    told = [(round(pull.miss, 1), pull.wanted) for pull in made.floor.start.pulls]
    lengths = round(made.tape.metres("internal"), 2), round(sum(joint.length for joint in made.joints))
    return (sorted(flat), sorted(corners), lengths, levels, told), sorted(upright)


@pytest.mark.parametrize(
    ("room", "twins_tried"),
    [(CORNERED, TWINS), (PULLED, TWINS), (BOWED, TWINS), (FALLING, ("turned by a quarter", "renumbered"))],
    ids=["upright corners", "a pull", "an arc", "falls"],
)
def test_twins_agree_on_every_surface(room, twins_tried):
    """At upright corners the lower wall number runs through: walls typed otherwise may have other figures there."""
    tiles = {"floor": {"size": [300, 300], "joint": 6}}
    flat, upright = all_figures(room, tiles)
    assert twins_tried
    for name in twins_tried:
        also_flat, also_upright = all_figures(TWINS[name](room), tiles)
        assert also_flat == flat, name
        assert name in ("reversed", "renumbered") or also_upright == upright, name


SKEW = {"size": [240, 115], "joint": 8, "pattern": "herringbone", "turn": 45.0}
PLAIN = {"size": [600, 600], "joint": 4}


def test_a_herringbones_worst_cut_does_not_hang_on_the_walls_that_run_north():
    """Its own vectors once stood for the distances between its joints: walls across one direction had no datum, the others endless play."""
    room = {
        "outline": [[0, 0], [3210, 0], [3210, 2470], [1900, 2470], [1900, 3330], [0, 3330]],
        "tile_height": 600,
        "columns": [{"outline": [[2400, 900], [2650, 900], [2650, 1150], [2400, 1150]]}],
    }
    tiles, rules = {"floor": SKEW, "wall": PLAIN}, {"foot": "cove"}
    assert all_figures(room, tiles, rules) == all_figures(moved(room, turn=90), tiles, rules)
    floor = set_out(plan_of(room, tiles=tiles, rules=rules)).rooms[0]
    faces = faces_of(floor.lining, floor.floor.surface, floor.floor.tile)
    # the two longest walls stand still, one each way; 15 that an edge joint may be, less 8 and the tile's own 8, leaves no wall play
    assert sorted(faces.numbers[faces.play.play == 0.0].tolist()) == [1, 6]
    assert not faces.play.out.any()
    assert (faces.play.into == 3.0).all()


def test_a_searched_wall_typed_at_an_odd_angle_has_one_start():
    room = {"outline": [[0, 0], [1110, 0], [1110, 870], [0, 870]], "tile_height": 700}
    tiles = {"floor": PLAIN, "wall": SKEW}
    assert all_figures(moved(room, turn=17.3, shift=(500, 300)), tiles) == all_figures(room, tiles)


@pytest.mark.parametrize("turn", [0, 17.3, 90])
def test_a_pipes_circle_has_its_corners_where_the_rooms_shape_puts_them(turn):
    """Found with a clock face: a first corner stands half a step off the base wall's direction, however the room lies."""
    room = moved({**BOX, "pipes": [{"at": [600, 700], "diameter": 110}]}, turn=turn)
    pipe = next(each for each in lined_room(room).lining.floor.breaks if each.kind == "pipe")
    for ring in (pipe.shape, pipe.hole):
        corners = np.array(ring.exterior.coords[:-1]) - pipe.at
        bearings = (np.degrees(np.arctan2(corners[:, 1], corners[:, 0])) - turn) % 360
        steps = 360 / len(corners)
        assert np.sort(bearings) == pytest.approx((np.arange(len(corners)) + 0.5) * steps, abs=1e-4)


SPLIT = {"outline": [[0, 0], [5200, 0], [5200, 1600], [0, 1600]], "structural_joints": [{"line": [[2410, -10], [2410, 1610]], "width": 20}]}
SLANTING = [
    ({"outline": [[0, 0], [2310, 0], [2310, 1730], [0, 1730]]}, {"size": [300, 300], "joint": 4, "pattern": "diagonal"}),
    ({"outline": [[0, 0], [2310, 0], [2310, 1730], [0, 1730]]}, {"size": [600, 590], "joint": 4, "turn": 30}),
    (SPLIT, {"size": [450, 300], "joint": 5, "pattern": "running"}),
]


@pytest.mark.parametrize(("room", "tile"), SLANTING, ids=["diagonal", "turned", "bays beyond a joint"])
@pytest.mark.parametrize("turn", [90, 180])
def test_the_lines_to_snap_of_a_turned_room_are_those_of_the_room(room, tile, turn):
    def lines(given_room, back):
        found = set_out(plan_of(given_room, tiles={"floor": tile})).rooms[0].floor.start.lines
        ends = [turn_back(np.array([line.start, line.end]), back) for line in found]
        return sorted(sorted(np.round(each, 2).tolist()) for each in ends)

    def turn_back(points, degrees):
        cos, sin = round(math.cos(math.radians(degrees))), round(math.sin(math.radians(degrees)))
        return points @ np.array([[cos, -sin], [sin, cos]]) + 0.0

    own = lines(room, 0)
    assert len(own) >= 2
    assert lines(moved(room, turn=turn), turn) == own


def test_a_room_out_of_square_at_its_longest_wall_is_put_where_it_was_measured():
    """Typed in thousandths at an odd angle: its corners stand on whole millimetres along its square walls only, the longest is out of square."""
    plan = plan_of(moved({"outline": [[0, 0], [4210, 0], [4210, 1730], [0, 1790]]}, turn=17.3, shift=(1234.567, -8901.25)))
    cos, sin = math.cos(math.radians(17.3)), math.sin(math.radians(17.3))
    truth = np.array([[0, 0], [4210, 0], [4210, 1730], [0, 1790]]) @ np.array([[cos, sin], [-sin, cos]]) + [1234.567, -8901.25]
    typed, put = (np.array([vertex.to for vertex in each.rooms[0].outline]) for each in (plan, as_measured(plan, 0)))
    sides = [np.hypot(*(np.roll(each, -1, axis=0) - each).T) for each in (truth, typed, put)]
    assert np.abs(sides[1] - sides[0]).max() > 1e-4
    assert sides[2] == pytest.approx(sides[0], abs=1e-7)
    assert np.abs(put - typed).max() < 0.001
    assert np.round(put, 3).tolist() == typed.tolist()  # it is told as it was typed


@pytest.mark.parametrize("turn", [0, 90, 23.0])
def test_a_room_that_was_not_measured_in_whole_places_is_left_as_typed(turn):
    skew = {"outline": [[0.123, 0.456], [4210.137, 11.719], [4117.263, 1733.391], [17.917, 1789.283]]}
    plan = plan_of(moved(skew, turn=turn))
    assert as_measured(plan, 0) is plan


@pytest.mark.parametrize("turn", [0, 90])
def test_the_miss_of_a_whole_tile_at_a_door_is_by_the_short_side_where_tiles_lie_at_an_angle(turn):
    """By hand: what the narrowest cut at the door, as the table of cuts tells it, lacks of 590, however the room lies."""
    room = {"outline": [[0, 0], [2610, 0], [2610, 1730], [0, 1730]], "openings": [{"wall": 1, "offset": 1600, "width": 900}]}
    floor = set_out(plan_of(moved(room, turn=turn), tiles={"floor": {"size": [900, 590], "joint": 5, "turn": 30}})).rooms[0].floor
    (cut,) = (each for each in floor.wall_cuts if each.label == "wall 1 threshold")
    assert [pull.miss for pull in floor.start.pulls] == [pytest.approx(590 - min(cut.start, cut.end))]


@pytest.mark.parametrize("turn", [0, 17.3, 41.9])
def test_a_line_along_the_face_of_a_joint_is_told_however_a_room_lies(turn):
    """By hand: a bay beyond a movement joint begins with whole tiles at its face, so a line stands there."""
    room = moved({"outline": [[0, 0], [4190, 0], [4190, 900], [0, 900]]}, turn=turn)
    floor = (
        set_out(plan_of(room, tiles={"floor": {"size": [590, 390], "joint": 5}}, rules={"movement": "EJ171_EXTERIOR_8FT"})).rooms[0].floor
    )
    way = np.array([math.cos(math.radians(turn)), math.sin(math.radians(turn))])
    along = [shapely.get_coordinates(bay.region) @ way for bay in floor.bays]
    faces = [max(float(each.min()) for each in along), 4190.0 - min(float(each.max()) for each in along)]  # from wall 4, from wall 2
    offs = sorted(off.bare for line in floor.start.lines for off in line.offsets[:1] if line.name.startswith("B"))
    assert len(along) == len(offs) == 2
    assert min(abs(offs[1] - each) for each in faces) < 0.001


@pytest.mark.parametrize("twin", ["turned by a quarter", "turned", "reversed"])
def test_spot_levels_of_a_floor_stand_on_a_grid_of_the_room(twin):
    """The levels at corners, crossings of lines and nodes of the grid, wherever the room stands and however it lies."""
    room = {**FALLING, "outline": [[0, 0], [3810, 0], [3810, 2370], [0, 2370]]}

    def spots(given_room):
        levels = set_out(plan_of(given_room, tiles={"floor": {"size": [300, 300], "joint": 6}})).rooms[0].levels
        assert levels is not None
        return [sorted(round(spot.level, 2) + 0.0 for spot in found) for found in (levels.spots, levels.grid)]

    own = spots(room)
    assert len(own[1]) >= 6
    assert spots(TWINS[twin](room)) == own


def test_a_place_as_near_to_two_walls_is_met_at_the_first_of_them():
    """By hand: on the bisector of a square corner a place is as far from both walls; the base wall comes first, then the one before the corner."""
    for turn in (0, 17.3, 90, 201.7):
        walk = walk_of(build_outline(plan_of(moved(BOX, turn=turn)), 0))
        back = walk.frame.out(np.array([[500.0, 500.0], [3500.0, 500.0], [3500.0, 2500.0], [500.0, 2500.0]]))
        assert walk.place(back)[:, 0].tolist() == [500.0, 3500.0, 6500.0, 10500.0]
        assert walk.place(back)[:, 1].tolist() == [500.0] * 4


@pytest.mark.parametrize("turn", [90, 180, 270])
def test_a_room_out_of_square_is_to_the_last_bit_the_same_in_its_frame(turn):
    room = {"outline": [[0.123, 0.456], [4210.137, 11.719], [4117.263, 1733.391], [17.917, 1789.283]]}
    plans = [plan_of(each) for each in (room, moved(room, turn=turn, shift=(98_765.432, -4_321.987)))]
    corners = [at_home(plan, 0, own_frame(build_outline(plan, 0))).rooms[0].outline for plan in plans]
    assert len({vertex.to for vertex in corners[0]}) == 4
    assert corners[1] == corners[0]
