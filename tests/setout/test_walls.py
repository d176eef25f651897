"""Walls, plinths and columns: the architect's own tiling, courses, feet that fall, skirting, elevations as drawn."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from layout.errors import PlanFaults
from layout.quantities.orders import place_orders
from layout.quantities.takeoff import take_off
from layout.setout.conduct import set_out
from layout.sheets import elevation_pages
from layout.sheets.draw import draw_sheets
from layout.sheets.scene import Dimension, Label, Stroke
from layout.start.courses import courses_of, finished
from layout.tiles.skirting import skirting_of
from tests.rooms import lined_room, plan_of, set_out_room
from tests.setout.test_real_rooms import doors_of

TILED = json.loads((Path(__file__).parent.parent / "data" / "tiled-rooms.json").read_text())["rooms"]
WALLS = {"floor": {"size": [200, 200]}, "wall": {"size": [150, 150], "joint": 3}}
FALLING = {
    "outline": [[0, 0], [4350, 0], [4350, 3000], [0, 3000]],
    "drains": [{"kind": "channel", "from": [4300, 0], "to": [4300, 3000], "width": 100}],
    "falls": [{"to": "channel 1", "ratio": 60}],
    "tile_height": 2000,
    "tanking_height": 1500,
}


def wall(room, number):
    return next(done for done in room.surfaces if done.surface.name == f"wall {number}")


def foot(done):
    """Height of the bottom course at the left and right of its foot: from the foot to its upper joint."""
    ring = shapely.get_coordinates(done.surface.field)
    pitch, origin = 153.0, done.field.origins[0][1]
    x0, _, x1, _ = done.surface.field.bounds
    lows = [ring[np.abs(ring[:, 0] - x) < 0.01, 1].min() for x in (x0, x1)]
    top = origin + math.floor((min(lows) - origin) / pitch + 1e-9) * pitch + 150.0
    top += pitch if top - min(lows) < 0.01 else 0.0  # starts are told to 0.001: a joint lies on the foot there
    return tuple(min(top - low, 150.0) for low in lows)


@pytest.mark.parametrize("record", TILED, ids=[f"{r['name']} {r['id'][-6:]}" for r in TILED])
def test_our_faces_against_the_architects_own_tiling(record):
    # Schependomlaan dataset, CC-BY-4.0: wall panels from a to b with their stated face area; floors with theirs
    height = record["height_mm"]
    doors = [{**door, "head": min(record["doors"][0]["height_mm"], height)} for door in doors_of(record)]
    room = set_out_room({"outline": record["outer"], "openings": doors, "tile_height": height, "height": height})
    beyond = 0.0
    for panel in record["tiled_wall_panels"]:
        a, b = (shapely.Point(panel[key]) for key in ("a", "b"))
        faces = [s for s in room.lining.surfaces if s.kind == "wall"]
        surface = min(faces, key=lambda s: sum(shapely.LineString(s.placing.line).distance(p) for p in (a, b)))
        line = shapely.LineString(surface.placing.line)
        low, high = sorted(line.project(p) for p in (a, b))
        own = shapely.clip_by_rect(surface.gross, low, panel["bottom_mm"], high, panel["top_mm"]).area / 1e6
        # a panel laps round an external corner by its own 10 mm, or runs on behind the shower's screen, where the room ends
        past = (a.distance(b) - (high - low)) * (panel["top_mm"] - panel["bottom_mm"]) / 1e6
        assert own == pytest.approx(panel["face_area_m2"] - past, abs=0.0005)
        beyond += past
    bathroom_with_screen = record["id"].split("-")[1] in ("4.07", "7.07", "9.07")
    assert beyond == pytest.approx(0.288 if bathroom_with_screen else 0.0, abs=0.046)
    # floors: tiles stop at one wall panel or the door's line; in the toilets a ledge 170 deep is tiled at 1,210; behind the
    # screen the floor's tile runs on by 58.94
    outline = shapely.Polygon(record["outer"]).area / 1e6
    assert room.lining.floor.gross.area / 1e6 == pytest.approx(outline)
    laid = sum(floor["top_area_m2"] for floor in record["tiled_floors"])
    behind = 58.94 * 1611 / 1e6 if bathroom_with_screen else 0.0
    assert 0.0 <= outline + behind - laid < 0.02


@settings(max_examples=20, deadline=None)
@given(st.integers(2000, 9000), st.integers(2000, 6000), st.integers(1500, 2600), st.integers(0, 3), st.floats(0.0, 1.0))
def test_faces_make_up_the_shell(wide, deep, height, door_wall, along):
    lengths = [wide, deep, wide, deep]
    offset = 100 + int(along * (lengths[door_wall] - 1200))
    plinth = {"outline": [[wide - 700, 0], [wide - 200, 0], [wide - 200, 400], [wide - 700, 400]], "height": 150}
    door = {"wall": door_wall + 1, "offset": offset, "width": 900, "head": 1400}
    over = door_wall == 0 and offset + 900 > wide - 710
    room = lined_room(
        {
            "outline": [[0, 0], [wide, 0], [wide, deep], [0, deep]],
            "tile_height": height,
            "tanking_height": height,
            "openings": [door],
            "plinths": [] if over else [plinth],
        }
    )
    # by hand: perimeter times height, less the door, less what the plinth hides, plus its own sides and top
    walls = 2 * (wide + deep) * height - 900 * 1400
    hidden, sides, top = (0, 0, 0) if over else (500 * 150, (500 + 2 * 400) * 150, 500 * 400)
    found = {
        kind: sum(s.gross.area for s in room.lining.surfaces if s.kind == kind) for kind in ("wall", "plinth-side", "plinth-top", "floor")
    }
    assert found["wall"] == pytest.approx(walls - hidden)
    assert found["plinth-side"] == pytest.approx(sides)
    assert found["plinth-top"] == pytest.approx(top)
    assert found["floor"] == pytest.approx(wide * deep - top)


def test_a_wall_reaches_down_as_the_floor_falls():
    room = set_out_room(FALLING)
    long, low = wall(room, 1), wall(room, 2)
    drop = 4250 / 60
    # under the ±0 line a triangle, and a strip at the channel, are added
    assert long.surface.gross.area == pytest.approx(4350 * 2000 + 4250 * drop / 2 + 100 * drop, rel=1e-6)
    assert low.surface.gross.area == pytest.approx(3000 * (2000 + drop), rel=1e-6)
    upright = next(run for run in room.tape.runs if run.kind == "wall-wall" and "wall 1 / wall 2" in run.name)
    assert upright.length == pytest.approx(1500 + drop, abs=0.01)


def test_tape_along_a_falling_floor_is_not_taken_for_upright():
    setout = set_out(plan_of(FALLING))
    runs = setout.rooms[0].tape.runs
    assert {run.kind for run in runs if run.upright} == {"wall-wall"}
    assert sum(run.upright for run in runs) == 4
    for sheet in draw_sheets(setout, take_off(setout)):
        if sheet.title in ("Membrane and tape", "Membrane, faces unfolded"):
            up = {item.text.split()[0] for item in sheet.room if isinstance(item, Label) and " up " in item.text}
            assert up <= {f"R{k}" for k, run in enumerate(runs, 1) if run.upright}


def test_the_bottom_course_is_tapered_and_never_runs_to_nothing():
    # by hand: 4,250 at 1:60 falls 70.8; with 150 tile the bottom course is 75.0 at the high end, 145.8 at the channel
    built = 18.0  # the finished floor above the substrate: 2 + 3 + 13
    tiles = {"floor": {"size": [200, 200], "thickness": 13}, "wall": {"size": [150, 150], "joint": 3, "least_cut": 75}}
    whole = 2.0 + 75.0 + 3.0  # foot at 2 above the substrate, 75 of tile, then a joint: a tile's lower edge
    room = set_out_room(FALLING, tiles=tiles, rules={"courses": "datum", "datum_line": whole - built + 6 * 153})
    assert foot(wall(room, 1)) == pytest.approx((145.8, 75.0), abs=0.5)  # wall 1 as seen from inside: the channel is on the left
    assert foot(wall(room, 3)) == pytest.approx((75.0, 145.8), abs=0.5)
    assert not any(f.code == "courses-moved" for f in room.findings)
    # a start that would need 0 to 70.8
    moved = set_out_room(FALLING, tiles=tiles, rules={"courses": "datum", "datum_line": 2.0 + 0.0 + 3.0 - built + 6 * 153})
    (finding,) = [f for f in moved.findings if f.code == "courses-moved"]
    assert "to 0 along" in finding.text
    high, low = foot(wall(moved, 3))
    assert high >= 75.0 - 0.1
    assert low - high == pytest.approx(70.8, abs=0.5)
    # the tool's own choice keeps clear by itself
    best = set_out_room(FALLING, tiles=tiles)
    assert min(foot(wall(best, 3))) >= 75.0 - 0.1


@pytest.mark.parametrize("courses", ["best", "floor", "datum", "head"])
def test_courses_run_level_round_the_room(courses):
    door = {"wall": 2, "offset": 400, "width": 900, "head": 1210}
    outline = [[0, 0], [4000, 0], [4000, 3000], [1800, 3000], [1800, 4100], [0, 4100]]
    room = set_out_room({"outline": outline, "tile_height": 2000, "openings": [door]}, tiles=WALLS, rules={"courses": courses})
    starts = [done.field.origins[0][1] for done in room.surfaces if done.surface.kind == "wall"]
    assert len(starts) == 6
    off = np.remainder(np.array(starts) - starts[0] + 76.5, 153.0) - 76.5
    assert off == pytest.approx(np.zeros(6), abs=1e-6)
    edge = {"floor": 2.0, "datum": 1000 + finished(room.lining), "head": 1210 + room.lining.plan.rules.perimeter_joint}.get(courses)
    if edge is not None:
        assert math.remainder(starts[0] - edge, 153.0) == pytest.approx(0.0, abs=1e-3)
    levels = courses_of(wall(room, 1).surface, wall(room, 1).field, finished(room.lining))
    assert [c.number for c in levels] == list(range(1, len(levels) + 1))
    assert levels[0].low <= 2.0 < levels[0].high
    assert levels[-1].low < 2000 <= levels[-1].high + 3
    assert np.diff([c.low for c in levels]) == pytest.approx(153.0)


@pytest.mark.parametrize("reverse", [False, True])
def test_floor_joints_run_up_the_walls(reverse):
    outline = [[0, 0], [4010, 0], [4010, 3030], [0, 3030]]
    room = set_out_room(
        {"outline": outline[::-1] if reverse else outline, "tile_height": 1500},
        tiles={"floor": {"size": [200, 200]}, "wall": {"size": [200, 250]}},
        rules={"wall_joints": "floor"},
    )
    floor = room.floor.field.outlines(room.floor.field.whole)
    for done in room.surfaces:
        if done.surface.kind == "wall":
            line = done.surface.placing.line
            assert line is not None
            way = (line[1] - line[0]) / np.hypot(*(line[1] - line[0]))
            wanted = ((floor[0].reshape(-1, 2) - line[0]) @ way).min()
            assert math.remainder(done.field.origins[0][0] - wanted, 206.0) == pytest.approx(0.0, abs=2e-3)
    other = set_out_room({"outline": outline, "tile_height": 1500}, tiles=WALLS, rules={"wall_joints": "floor"})
    assert sum(f.code == "joints-not-carried" and "out more with each tile" in f.text for f in other.findings) == 4


def test_feet_of_the_wall_and_their_saw_sizes():
    # by hand, build-up 2 + 3 + 10 = 15, perimeter joint 6: where each foot lets the wall's tile begin
    room = {"outline": [[0, 0], [3000, 0], [3000, 2000], [0, 2000]], "tile_height": 2000}
    low = {}
    for name in ("wall-through", "floor-through", "cove"):
        made = set_out_room(room, rules={"foot": name, "perimeter_joint": 6, "cove": [80, 30]})
        low[name] = wall(made, 1).surface.field.bounds[1]
        x0, _, x1, _ = made.floor.surface.field.bounds
        keeps = {"wall-through": 15 + 6, "floor-through": 2 + 8, "cove": 2 + 30 + 6}[name]
        assert (x0, x1) == pytest.approx((keeps, 3000 - keeps))
    assert low == {"wall-through": pytest.approx(2.0), "floor-through": pytest.approx(15 + 6), "cove": pytest.approx(15 + 80 + 6)}


@pytest.mark.parametrize("cove_set", ["fall", "level"])
def test_a_cove_follows_the_fall_or_is_level(cove_set):
    room = set_out_room(FALLING, tiles=WALLS, rules={"foot": "cove", "cove": [100, 30], "cove_set": cove_set})
    ring = shapely.get_coordinates(wall(room, 3).surface.field)
    x0, _, x1, _ = wall(room, 3).surface.field.bounds
    low, high = (ring[np.abs(ring[:, 0] - x) < 0.01, 1].min() for x in (x1, x0))
    assert high - low == pytest.approx(70.8 if cove_set == "fall" else 0.0, abs=0.5)


def test_trims_come_in_whole_lengths():
    column = {"outline": [[1500, 1500], [1800, 1500], [1800, 1800], [1500, 1800]]}
    setout = set_out(plan_of({"outline": [[0, 0], [4000, 0], [4000, 3000], [0, 3000]], "tile_height": 2000, "columns": [column]}))
    (order,) = [each for each in place_orders(take_off(setout)) if each.item.key == "edge_trim"]
    assert order.need == pytest.approx(4 * 2.0)
    assert (order.packs, order.pack) == (4, "length")  # by hand: 2.0 m each, one to a length of 2.5
    drawn = [item for s in draw_sheets(setout, take_off(setout)) if s.title == "Elevations" for item in s.room]
    faces = [face for page in elevation_pages.pages(setout, 0, None, None) for face in page.faces]
    own = [face for face in faces if setout.rooms[0].surfaces[face.number].surface.kind == "column-side"]
    assert sum(len(face.stands_for) for face in own) == 4  # sides alike are drawn once
    assert sum(isinstance(item, Stroke) and item.layer == "EDGE-TRIM" for item in drawn) == 2 * len(own)  # at both edges of each side


def test_skirting_in_pieces():
    outline = [[0, 0], [6500, 0], [6500, 2900], [4100, 2900], [4100, 4700], [0, 4700]]
    door = {"wall": 1, "offset": 900, "width": 1000}
    setout = set_out(plan_of({"outline": outline, "openings": [door]}, rules={"skirting": [200, 100]}))
    found = skirting_of(setout.rooms[0].lining)
    assert found is not None
    # by hand: five internal corners, one external, a stop on each side of the door; runs 900, 4600, 2900, 2400, 1800, 4100, 4700 over 206
    assert (found.internal, found.external, found.stop_left, found.stop_right) == (5, 1, 1, 1)
    assert sorted(run.straight for run in found.runs) == sorted(
        math.ceil(length / 206) for length in (900, 4600, 2900, 2400, 1800, 4100, 4700)
    )
    by_length = {round(run.length): run for run in found.runs}
    # facing wall 1 from inside its first corner is on the right: the short run stops on its left
    assert (by_length[900].left, by_length[900].right) == ("stop", "internal")
    assert (by_length[4600].left, by_length[4600].right) == ("internal", "stop")
    bill = take_off(setout)
    straight, hand = bill.item("skirting.straight"), bill.item("skirting.stop_left")
    assert straight is not None
    assert straight.quantity == found.straight
    assert hand is not None
    assert hand.quantity == 1
    tiled = set_out(plan_of({"outline": outline, "tile_height": 1000}, rules={"skirting": [200, 100]}))
    assert take_off(tiled).item("skirting.straight") is None


BAD = {
    "an opening above the wall": (
        {"height": 2400, "openings": [{"wall": 1, "offset": 100, "width": 900, "sill": 2300, "head": 2500}]},
        {},
        "head",
    ),
    "an opening across a corner": ({"openings": [{"wall": 1, "offset": 2500, "width": 900}]}, {}, "past the end of wall 1"),
    "a cove higher than the tile": ({"tile_height": 100}, {"foot": "cove", "cove": [100, 30]}, "cove and joint take"),
}


@pytest.mark.parametrize(("change", "rules", "words"), BAD.values(), ids=BAD)
def test_bad_walls_are_told(change, rules, words):
    with pytest.raises(PlanFaults, match=words):
        plan_of({"outline": [[0, 0], [3000, 0], [3000, 2000], [0, 2000]], **change}, rules=rules)


@pytest.mark.parametrize("reverse", [False, True])
def test_an_unsymmetric_wall_is_not_mirrored(reverse):
    # a door 900 from the left corner, as seen from inside facing the wall, prints 900 from the left
    outline = [[0, 0], [4000, 0], [4000, 3000], [0, 3000]]
    number = 3 if not reverse else 1
    room = {
        "outline": outline[::-1] if reverse else outline,
        "tile_height": 2400,
        "openings": [{"wall": number, "offset": 900, "width": 1000, "from": "left", "head": 2000}],
    }
    setout = set_out(plan_of(room))
    drawn = [item for s in draw_sheets(setout, take_off(setout)) if s.title == "Elevations" for item in s.room]
    name = next(item for item in drawn if isinstance(item, Label) and item.text == f"wall {number}")
    dimensions = [item for item in drawn if isinstance(item, Dimension) and math.dist(item.a, name.at) < 2500]
    chain = [d for d in dimensions if d.text in ("900", "1000", "2100")]
    assert [d.text for d in sorted(chain, key=lambda d: d.a[0])] == ["900", "1000", "2100"]


def test_every_tiled_face_has_its_elevation_in_order():
    column = {"outline": [[1500, 1500], [1800, 1500], [1800, 1800], [1500, 1800]]}
    plinth = {"outline": [[3000, 0], [3600, 0], [3600, 500], [3000, 500]], "name": "mixer plinth"}
    setout = set_out(
        plan_of({"outline": [[0, 0], [5000, 0], [5000, 4000], [0, 4000]], "tile_height": 2000, "columns": [column], "plinths": [plinth]})
    )
    room = setout.rooms[0]
    pages = elevation_pages.pages(setout, 0, None, None)
    shown = [room.surfaces[number].surface.name for page in pages for face in page.faces for number in face.stands_for]
    uprights = [done.surface.name for done in room.surfaces if done.surface.placing.line is not None]
    assert sorted(shown) == sorted([*uprights, "mixer plinth top"])
    assert shown[:4] == ["wall 1", "wall 2", "wall 3", "wall 4"]
    # the plinth is unfolded: each side hinges on its edge of the top, and none lies over another
    boxes = []
    for page in pages:
        for face in page.faces:
            corners = face.out(np.array(shapely.box(*room.surfaces[face.number].surface.gross.bounds).exterior.coords))
            boxes.append(shapely.Polygon(corners))
    assert all(a.intersection(b).area < 1.0 for k, a in enumerate(boxes) for b in boxes[:k])
