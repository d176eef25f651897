"""Rooms out of drawings like those that offices send, made here; rooms, names, doors, columns and pipes are counted by hand."""

import math
from unittest import mock

import numpy as np
import pytest
from ezdxf.enums import TextEntityAlignment
from ezdxf.filemanagement import new
from ezdxf.xref import attach
from typer.testing import CliRunner

from cli.main import app
from layout.errors import PlanError
from layout.readers.drawingfile import _may_name, read_dxf
from layout.survey.evidence import LEAST_CONFIDENCE
from layout.survey.found import openings_of

# Two rooms side by side behind walls of 200: Kitchen 4000 × 3000 and Store 2500 × 3000, a door of 900 between them and one of 1000
# from the kitchen outside. Inner faces: kitchen x 0..4000, store x 4200..6700, y 0..3000.
OUTER = [(-200, -200), (6900, -200), (6900, 3200), (-200, 3200)]
WALLS = [
    [(-200, -200), (1000, -200), (1000, 0), (0, 0), (0, 3000), (4000, 3000), (4000, 2000), (4200, 2000), (4200, 3000), (6700, 3000),
     (6700, 0), (4200, 0), (4200, 1100), (4000, 1100), (4000, 0), (2000, 0), (2000, -200), (6900, -200), (6900, 3200), (-200, 3200)],
]  # fmt: skip


def run(*args):
    return CliRunner().invoke(app, [str(arg) for arg in args])


def drawing(path, draw, *, units=4):
    doc = new("R2010")
    doc.header["$INSUNITS"] = units
    for layer in ("A-WALL", "A-DOOR", "A-PIPES", "A-TEXT"):
        doc.layers.add(layer)
    draw(doc, doc.modelspace())
    doc.saveas(path)
    return path


def names(space, factor=1.0, turn=0.0, shift=(0.0, 0.0)):
    for text, at in (("KITCHEN", (1200, 1600)), ("STORE", (5000, 1600))):
        x, y = at
        where = (
            shift[0] + factor * (x * math.cos(turn) - y * math.sin(turn)),
            shift[1] + factor * (x * math.sin(turn) + y * math.cos(turn)),
        )
        label = space.add_text(text, height=200 * factor, dxfattribs={"layer": "A-TEXT", "rotation": math.degrees(turn)})
        label.set_placement(where, align=TextEntityAlignment.MIDDLE_CENTER)


def swing(space, at, radius, start, factor=1.0):
    space.add_arc((at[0] * factor, at[1] * factor), radius * factor, start, start + 90, dxfattribs={"layer": "A-DOOR"})


def rooms_of(found):
    return {room.name: room for room in found.rooms}


def widths(room):
    return sorted(round(width) for _, _, width in openings_of(room))


def test_walls_drawn_as_hatches_alone(tmp_path):
    def draw(doc, space):
        del doc
        hatch = space.add_hatch(dxfattribs={"layer": "A-WALL"})
        hatch.paths.add_polyline_path(WALLS[0], is_closed=True)
        swing(space, (1000, 0), 1000, 0)
        names(space)

    found = rooms_of(read_dxf(drawing(tmp_path / "hatched.dxf", draw)))
    assert sorted(found) == ["KITCHEN", "STORE"]
    assert found["KITCHEN"].area_m2 == pytest.approx(12.0, abs=1e-6)
    assert found["STORE"].area_m2 == pytest.approx(7.5, abs=1e-6)
    assert widths(found["KITCHEN"]) == [900, 1000]
    assert widths(found["STORE"]) == [900]


def test_a_door_in_a_wall_of_one_line_is_in_both_rooms(tmp_path):
    def draw(doc, space):
        leaf = doc.blocks.new("DOOR")
        leaf.add_line((0, 0), (0, 900), dxfattribs={"layer": "0"})
        leaf.add_arc((0, 0), 900, 0, 90, dxfattribs={"layer": "0"})
        for a, b in (
            ((0, 0), (6000, 0)), ((6000, 0), (6000, 3000)), ((6000, 3000), (0, 3000)), ((0, 3000), (0, 0)),
            ((4000, 0), (4000, 1000)), ((4000, 1900), (4000, 3000)),
        ):  # fmt: skip
            space.add_line(a, b, dxfattribs={"layer": "A-WALL"})
        space.add_blockref("DOOR", (4000, 1000), dxfattribs={"layer": "A-DOOR"})
        names(space)

    found = rooms_of(read_dxf(drawing(tmp_path / "single.dxf", draw)))
    assert {name: round(room.area_m2, 3) for name, room in found.items()} == {"KITCHEN": 12.0, "STORE": 6.0}
    assert widths(found["KITCHEN"]) == widths(found["STORE"]) == [900]


def test_a_file_of_references_says_so(tmp_path):
    def draw(doc, space):
        attach(doc, block_name="walls", filename="walls.dxf")
        del space

    with pytest.raises(PlanError, match=r"references to other drawings alone \(walls\.dxf\).*read in") as caught:
        read_dxf(drawing(tmp_path / "only.dxf", draw))
    assert "bind the references" in str(caught.value)


@pytest.mark.parametrize("turn", [0.0, math.radians(23.0)])
def test_metres_without_a_header_and_axes_turned(tmp_path, turn):
    def draw(doc, space):
        del doc
        across = np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])
        ring = np.array(WALLS[0]) / 1000.0 @ across.T
        space.add_lwpolyline(ring.tolist(), close=True, dxfattribs={"layer": "A-WALL"})
        at = across @ (1.0, 0.0)
        space.add_arc(at.tolist(), 1.0, math.degrees(turn), math.degrees(turn) + 90, dxfattribs={"layer": "A-DOOR"})
        names(space, factor=0.001, turn=turn)

    found = read_dxf(drawing(tmp_path / "metres.dxf", draw, units=0))
    assert found.unit == "m"
    rooms = rooms_of(found)
    assert rooms["KITCHEN"].area_m2 == pytest.approx(12.0, abs=2e-3)
    assert rooms["STORE"].area_m2 == pytest.approx(7.5, abs=2e-3)
    assert widths(rooms["KITCHEN"]) == [900, 1000]


def test_what_lies_in_mirrored_blocks_is_where_it_is_drawn(tmp_path):
    def draw(doc, space):
        wing = doc.blocks.new("WING")
        wing.add_lwpolyline(WALLS[0], close=True, dxfattribs={"layer": "A-WALL"})
        for at in ((500, 500), (700, 2500), (6000, 700)):
            wing.add_circle(at, 55, dxfattribs={"layer": "A-PIPES"})
        wing.add_arc((1000, 0), 1000, 0, 90, dxfattribs={"layer": "A-DOOR"})
        names(wing)
        space.add_blockref("WING", (20000, 0), dxfattribs={"xscale": -1.0})

    found = rooms_of(read_dxf(drawing(tmp_path / "mirrored.dxf", draw)))
    assert sorted(found) == ["KITCHEN", "STORE"]
    assert sorted(at for at, _ in found["KITCHEN"].pipes) == [pytest.approx((19300, 2500)), pytest.approx((19500, 500))]
    assert [at for at, _ in found["STORE"].pipes] == [pytest.approx((14000, 700))]
    assert widths(found["KITCHEN"]) == [900, 1000]


@pytest.mark.parametrize("across", [1.0, -1.0])
def test_a_name_that_begins_in_a_wall_is_of_the_room_that_its_middle_lies_in(tmp_path, across):
    # a closet 900 × 1500 between walls of 100, its name 200 high: eight letters of about 160 are wider than it; turned, it runs up
    def draw(doc, space):
        wing = doc.blocks.new("WING")
        for x in (0, 1000):
            wing.add_lwpolyline([(x, 0), (x + 900, 0), (x + 900, 1500), (x, 1500)], close=True, dxfattribs={"layer": "A-WALL"})
        wing.add_lwpolyline([(-100, -100), (2000, -100), (2000, 1600), (-100, 1600)], close=True, dxfattribs={"layer": "A-WALL"})
        wing.add_text("CLEANING", height=200, dxfattribs={"layer": "A-TEXT", "insert": (-50, 700)})
        wing.add_mtext("STAIR", dxfattribs={"layer": "A-TEXT", "insert": (1450, -50), "char_height": 200, "rotation": 90.0})
        space.add_blockref("WING", (9000, 0), dxfattribs={"xscale": across})

    found = rooms_of(read_dxf(drawing(tmp_path / "closets.dxf", draw)))
    middles = {name: float(np.mean(room.outline[:, 0])) for name, room in found.items()}
    assert middles == pytest.approx({"CLEANING": 9000 + across * 450, "STAIR": 9000 + across * 1450})


def test_panels_of_an_elevation_and_piers_are_left_out_and_told(tmp_path):
    def draw(doc, space):
        del doc
        space.add_lwpolyline(WALLS[0], close=True, dxfattribs={"layer": "A-WALL"})
        space.add_lwpolyline([(2000, 1000), (2900, 1000), (2900, 1900), (2000, 1900)], close=True, dxfattribs={"layer": "A-WALL"})
        swing(space, (1000, 0), 1000, 0)
        names(space)
        for k in range(3):  # an elevation beside the plan: plain panels
            x = 12_000 + 1500 * k
            space.add_lwpolyline([(x, 0), (x + 1400, 0), (x + 1400, 2600), (x, 2600)], close=True, dxfattribs={"layer": "A-WALL"})

    found = read_dxf(drawing(tmp_path / "beside.dxf", draw))
    rooms = rooms_of(found)
    assert sorted(rooms) == ["KITCHEN", "STORE"]
    assert [len(rooms[name].holes) for name in ("KITCHEN", "STORE")] == [1, 0]
    assert len(found.doubtful) == 4
    assert all(space.confidence < LEAST_CONFIDENCE and "no name stands in it" in space.evidence for space in found.doubtful)


def elevation(space, x, y, length, title):
    """An elevation as it is drawn beside its plan, on the plan's layers: the wall's face, a door in it, courses of tile, pipes that come out of it, its level and name."""
    face = [(x, y), (x + length, y), (x + length, y + 2700), (x, y + 2700)]
    space.add_lwpolyline(face, close=True, dxfattribs={"layer": "A-WALL"})
    space.add_lwpolyline([(x + 400, y), (x + 400, y + 2100), (x + 1300, y + 2100), (x + 1300, y)], dxfattribs={"layer": "A-DOOR"})
    for k in range(1, 10):
        space.add_line((x, y + 206 * k), (x + length, y + 206 * k), dxfattribs={"layer": "A-WALL"})
    for off in (1600, 1900):
        space.add_circle((x + off, y + 600), 25, dxfattribs={"layer": "A-PIPES"})
    space.add_line((x - 500, y), (x + length + 500, y), dxfattribs={"layer": "A-TEXT"})
    for text, at in (("+0.00", (x - 500, y + 60)), (title, (x + 300, y - 500)), ("STAINLESS PANEL", (x + 1500, y + 1500))):
        space.add_text(text, height=150, dxfattribs={"layer": "A-TEXT"}).set_placement(at)


def test_plan_and_elevations_side_by_side(tmp_path):
    # by hand: two rooms, a door of 900 between them, one of 1000 outside, a column of 300 in the kitchen, pipes 2 and 1; then three elevations
    def draw(doc, space):
        del doc
        space.add_lwpolyline(WALLS[0], close=True, dxfattribs={"layer": "A-WALL"})
        space.add_lwpolyline([(2500, 1000), (2800, 1000), (2800, 1300), (2500, 1300)], close=True, dxfattribs={"layer": "A-WALL"})
        for at in ((500, 500), (700, 2500), (6000, 700)):
            space.add_circle(at, 55, dxfattribs={"layer": "A-PIPES"})
        swing(space, (1000, 0), 1000, 0)
        names(space)
        elevation(space, 9_000, 0, 4000, "KITCHEN ELEVATION 1")
        elevation(space, 15_000, 0, 3000, "KITCHEN ELEVATION 2")
        elevation(space, 0, -6_000, 2500, "STORE ELEVATION 1")

    path = drawing(tmp_path / "beside.dxf", draw)
    found = read_dxf(path)
    rooms = rooms_of(found)
    assert sorted(rooms) == ["KITCHEN", "STORE"]
    assert {name: round(room.area_m2, 6) for name, room in rooms.items()} == {"KITCHEN": 12.0 - 0.09, "STORE": 7.5}
    assert {name: widths(room) for name, room in rooms.items()} == {"KITCHEN": [900, 1000], "STORE": [900]}
    assert {name: len(room.holes) for name, room in rooms.items()} == {"KITCHEN": 1, "STORE": 0}
    assert {name: sorted(at for at, _ in room.pipes) for name, room in rooms.items()} == {
        "KITCHEN": [(500.0, 500.0), (700.0, 2500.0)],
        "STORE": [(6000.0, 700.0)],
    }
    assert all(space.confidence < LEAST_CONFIDENCE for space in found.doubtful)
    done = run("read", path, "-o", tmp_path / "out")
    assert done.exit_code == 0, done.output
    assert sorted(each.stem for each in (tmp_path / "out").glob("*.toml")) == ["beside", "kitchen", "store"]


@pytest.mark.parametrize("level", ["+0.00", "±0.000", "%%p0.00", "-0,15", "FFL +12.50", "OKFF -0.02", "−1.20"])
def test_a_level_is_no_name_of_a_room(level):
    assert not _may_name(level)
    assert all(_may_name(name) for name in ("KITCHEN", "WC -", "BAR 2", "Cold room 101"))


def test_a_hatch_on_the_walls_makes_a_body_of_what_it_covers(tmp_path):
    def draw(doc, space):
        del doc
        space.add_lwpolyline([(0, 0), (6000, 0), (6000, 4000), (0, 4000)], close=True, dxfattribs={"layer": "A-WALL"})
        pier = [(1000, 1000), (2500, 1000), (2500, 2500), (1000, 2500)]
        space.add_lwpolyline(pier, close=True, dxfattribs={"layer": "A-WALL"})
        space.add_hatch(dxfattribs={"layer": "A-WALL"}).paths.add_polyline_path(pier, is_closed=True)
        space.add_text("HALL", height=200, dxfattribs={"layer": "A-TEXT"}).set_placement((4000, 2000))
        space.add_text("LIFT", height=200, dxfattribs={"layer": "A-TEXT"}).set_placement((1500, 1500))

    found = read_dxf(drawing(tmp_path / "pier.dxf", draw))
    (hall,) = found.rooms
    assert hall.area_m2 == pytest.approx(24.0 - 2.25, abs=1e-6)
    (pier,) = found.doubtful
    assert pier.evidence == ("it is the body of a wall or pier",)


def test_nothing_is_written_of_spaces_that_little_speaks_for_unless_asked(tmp_path):
    def draw(doc, space):
        del doc
        space.add_lwpolyline([(0, 0), (3000, 0), (3000, 2000), (0, 2000)], close=True, dxfattribs={"layer": "A-WALL"})
        space.add_mtext("x", dxfattribs={"layer": "A-TEXT", "insert": (9000, 9000)})
        space.add_leader([(0, 0), (10, 10), (20, 10)], dxfattribs={"layer": "A-TEXT"})

    path = drawing(tmp_path / "box.dxf", draw)
    refused = run("read", path, "-o", tmp_path / "out")
    assert refused.exit_code == 2
    assert "1 spaces were found, none of them surely a room (Room 1, 6.00 m²: no name stands in it" in " ".join(refused.output.split())
    assert not (tmp_path / "out").exists()
    asked = run("read", path, "-o", tmp_path / "out", "--doubtful")
    assert asked.exit_code == 0, asked.output
    assert sorted(each.name for each in (tmp_path / "out").iterdir() if not each.name.startswith(".")) == [
        "box.toml",
        "found.png",
        "room-1.as-read",
        "room-1.toml",
    ]
    assert "LEADER on A-TEXT (1)" in " ".join(asked.output.split())


def box(x0, y0, x1, y1):
    return np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], dtype=float)


def test_a_door_of_a_model_stands_in_the_spaces_it_bounds_or_the_nearest_on_either_side():
    # hall | 100 wall with a door | cupboard 300 deep | 50 wall | bathroom: the door is 450 from the bathroom's wall
    from shapely import Polygon

    from layout.readers.modelfile import _Leaf, _Space, _stand_in

    rings = {"hall": box(0, -3000, 2000, 0), "cupboard": box(0, 100, 2000, 400), "bathroom": box(0, 450, 2000, 3000)}
    spaces = [_Space(key, Polygon(ring), ring, 0.0, 2500.0) for key, ring in rings.items()]
    leaf = _Leaf(np.array([[500.0, 50.0], [1400.0, 50.0]]), 0.0, 2000.0, frozenset())
    assert [len(found) for found in _stand_in(spaces, [leaf], lambda *_: True)] == [1, 1, 0]
    told = _Leaf(leaf.line, 0.0, 2000.0, frozenset({"hall", "bathroom"}))
    assert [len(found) for found in _stand_in(spaces, [told], lambda *_: True)] == [1, 0, 1]
    ((_, line),) = _stand_in(spaces, [leaf], lambda *_: True)[0]
    assert sorted(line[:, 0]) == [500.0, 1400.0]
    assert set(line[:, 1]) == {0.0}


def test_a_door_is_tried_on_the_walls_about_it_alone(monkeypatch):
    # 40 rooms in a row, a door in each: a model of many rooms would be tried door by room otherwise
    from shapely import Polygon

    from layout.readers import modelfile

    on_wall = mock.Mock(side_effect=modelfile._on_wall)
    monkeypatch.setattr(modelfile, "_on_wall", on_wall)
    rings = [box(3000 * k, 0, 3000 * k + 2900, 2000) for k in range(40)]
    spaces = [modelfile._Space(f"{k}", Polygon(ring), ring, 0.0, 2500.0) for k, ring in enumerate(rings)]
    leaves = [modelfile._Leaf(np.array([[3000.0 * k + 1000, 0], [3000.0 * k + 1900, 0]]), 0.0, 2000.0, frozenset()) for k in range(40)]
    assert [len(found) for found in modelfile._stand_in(spaces, leaves, lambda *_: True)] == [1] * 40
    assert on_wall.call_count == 40
