"""Ways in: drawings, models, outlines, surveys; and plans out again."""

from __future__ import annotations

import gzip
import json
import math
import time
from pathlib import Path

import numpy as np
import pytest
from ezdxf.filemanagement import new
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon
from typer.testing import CliRunner

import layout
from cli.main import app
from layout.errors import PlanError
from layout.readers.drawingfile import read_dxf, role_of
from layout.readers.foundplans import plans_of
from layout.readers.geofile import read_geojson
from layout.readers.modelfile import read_ifc
from layout.readers.planfile import parse_plan, read_plan
from layout.setout.conduct import set_out
from layout.survey.adjust import adjust
from layout.survey.found import openings_of
from layout.survey.readings import Reading
from layout.survey.remeasured import refit
from layout.survey.tracing import trace
from layout.writers.edits import with_values
from layout.writers.planfile import plan_toml
from tests.examples import example

HERE = Path(__file__).parent.parent
DRAWINGS = HERE / "data" / "drawings"
BESIDE = HERE.parent.parent / "shared" / "data" / "dxf"
PLANS = HERE.parent / "plans"
FOOT = 304.8


@pytest.fixture(scope="session")
def unpacked(tmp_path_factory):
    folder = tmp_path_factory.mktemp("drawings")
    for path in DRAWINGS.glob("*.gz"):
        (folder / path.stem).write_bytes(gzip.decompress(path.read_bytes()))
    return folder


def run(*args):
    return CliRunner().invoke(app, [str(a) for a in args])


# --- drawings


def test_a_drawing_whose_header_lies_is_read_in_its_true_unit(unpacked):
    # github.com/bjnortier/dxf, MIT: the header says millimetres, the drawing is in inches; it states 20 room sizes as text
    found = read_dxf(unpacked / "bishop-overland-floorplan.dxf")
    assert found.unit == "inch"
    assert any("says mm" in warning and "door swings" in warning for warning in found.warnings)
    stated = {
        "BATH": (5 * FOOT, 8 * FOOT + 25.4),
        "TOIL.": (5 * FOOT, 5 * FOOT + 7 * 25.4),
        "MSTR. BATH": (7 * FOOT, 5 * FOOT + 7 * 25.4),
        "MASTER BEDROOM": (13 * FOOT + 8 * 25.4, 14 * FOOT),
        "BEDROOM 2": (13 * FOOT + 6 * 25.4, 11 * FOOT),
        "BEDROOM 3": (11 * FOOT + 6 * 25.4, 13 * FOOT),
        "UTIL.": (5 * FOOT + 3 * 25.4, 6 * FOOT + 8 * 25.4),
        "Pantry": (4 * FOOT + 4 * 25.4, 6 * FOOT + 8 * 25.4),
        "CLOSET": (8 * FOOT, 2 * FOOT),
        "COVERED PORCH": (7 * FOOT + 2 * 25.4, 4 * FOOT + 4 * 25.4),
        "2 CAR GARAGE": (21 * FOOT + 2 * 25.4, 20 * FOOT + 10 * 25.4),
        "W.I.C.": (7 * FOOT, 5 * FOOT + 11 * 25.4),
        "W.I.C. 2": (8 * FOOT + 25.4, 3 * FOOT + 4 * 25.4),
    }
    rooms = {room.name: room for room in found.rooms}
    for name, size in stated.items():
        sides = np.sort(np.ptp(rooms[name].outline, axis=0))
        assert sides == pytest.approx(sorted(size), abs=1.0), name  # texts are in whole inches
        assert rooms[name].area_m2 == pytest.approx(size[0] * size[1] / 1e6, rel=1e-3)
    # four-digit door texts: 2668 is 2 ft 6 in wide
    assert sorted(width for _, _, width in openings_of(rooms["UTIL."])) == pytest.approx([30 * 25.4] * 2, abs=1.0)
    assert len(openings_of(rooms["BATH"])) == 1


def test_a_drawing_of_loose_lines_in_metres(unpacked):
    # github.com/yorikvanhavre/barcelona-pavillion, MIT: the walls' layer closes a washroom and a toilet with a door between them,
    # 1915 and 1945 by 1665 by the drawing's own lines; eight cross-shaped columns stand elsewhere
    found = read_dxf(unpacked / "barcelona-pavilion-plan.dxf")
    assert found.unit == "m"
    assert not found.warnings
    rooms = sorted((*found.rooms, *found.doubtful), key=lambda room: room.outline[:, 0].min())
    assert [room.area_m2 for room in rooms] == pytest.approx([3.16, 3.24], abs=0.01)
    assert sorted(width for room in rooms for _, _, width in openings_of(room)) == pytest.approx([800.0] * 3, abs=2.5)


def test_a_laser_chain_is_no_room_and_its_unit_is_asked_for(unpacked):
    # github.com/mozman/ezdxf, MIT: an open chain in 3D, R12, no unit stated
    with pytest.raises(PlanError, match=r"open chain.*unit is nowhere stated"):
        read_dxf(unpacked / "laser-meter-points.dxf")


@pytest.mark.skipif(not BESIDE.exists(), reason="the share-alike drawing lies beside the project only")
def test_stated_areas_of_a_building():
    # Facilities Building, OpeningDesign, CC-BY-SA-4.0 (not copied): areas stand as text in square feet
    found = read_dxf(BESIDE / "facilities-building-first-floor.dxf")
    assert found.unit == "inch"
    stated = {
        "STOR/UTIL": 5.48,
        "EXISTING BOILER": 20.16,
        "RESTROOM": 3.62,  # both names begin in the wall beside
        "RESTROOM 2": 3.62,
        "STAIR": 7.43,
        "EXISTING ELECTRICAL ROOM": 13.47,
    }
    rooms = {room.name: room.area_m2 for room in found.rooms}
    assert {name: rooms[name] for name in stated} == pytest.approx(stated, rel=0.02)


def drawn(path, draw, *, units=4):
    doc = new("R2010")
    doc.header["$INSUNITS"] = units
    draw(doc, doc.modelspace())
    doc.saveas(path)
    return path


@settings(max_examples=20, deadline=None)
@given(
    st.integers(1500, 8000),
    st.integers(1500, 8000),
    st.sampled_from([100, 150, 240, 365]),
    st.integers(200, 500),
    st.integers(700, 900),
    st.booleans(),
)
def test_double_walls_open_at_doors(wide, deep, thick, at, width, capped):
    lines = []
    for grow in (0, thick):
        x0, y0, x1, y1 = -grow, -grow, wide + grow, deep + grow
        lines += [[(x0, y0), (at, y0)], [(at + width, y0), (x1, y0)], [(x1, y0), (x1, y1)], [(x1, y1), (x0, y1)], [(x0, y1), (x0, y0)]]
    if capped:
        lines += [[(at, 0), (at, -thick)], [(at + width, 0), (at + width, -thick)]]
    traced = trace(np.array(lines, dtype=float), np.array([[at, 0.0, float(width)]]))
    (room,) = traced.rooms
    ring, holes, doors = room
    assert Polygon(ring).area == pytest.approx(wide * deep)
    assert holes == ()
    assert [float(np.ptp(door[:, 0])) for door in doors] == pytest.approx([width])
    no_swing = trace(np.array(lines, dtype=float), np.empty((0, 3)))
    assert len(no_swing.outside) == 1
    assert len(no_swing.rooms[0][2]) == 0


def test_closed_outlines_arcs_names_pipes_and_gullies(tmp_path):
    def draw(doc, space):
        del doc
        space.add_lwpolyline(
            [(0, 0, 0), (4000, 0, 0), (4000, 3000, 0.4142), (0, 3000, 0)], format="xyb", close=True, dxfattribs={"layer": "ROOM"}
        )
        space.add_text("Wash-up", height=150, dxfattribs={"layer": "TEXT"}).set_placement((1500, 1500))
        space.add_circle((600, 600), 55, dxfattribs={"layer": "PIPES"})
        space.add_circle((2000, 1500), 80, dxfattribs={"layer": "FLOOR-DRAIN"})
        space.add_lwpolyline([(3000, 500), (3300, 500), (3300, 800), (3000, 800)], close=True, dxfattribs={"layer": "COLUMNS"})

    found = read_dxf(drawn(tmp_path / "room.dxf", draw))
    (room,) = found.rooms
    assert room.name == "Wash-up"
    # a bulge of 0.4142 is a quarter circle over the chord 4000: its segment adds r²/2 (π/2 - 1) with r = 4000 / √2
    assert room.area_m2 == pytest.approx(12.0 + 8.0 / 2 * (math.pi / 2 - 1) - 0.09, rel=2e-4)
    assert room.pipes == (((600.0, 600.0), 110.0),)
    assert room.gullies == ((2000.0, 1500.0),)
    assert len(room.holes) == 1
    (plan,) = plans_of(found)
    assert [d.kind for d in plan.rooms[0].drains] == ["gully"]
    assert set_out(plan).rooms[0].name == "Wash-up"


def test_blocks_mirrored_and_scaled_are_exploded(tmp_path):
    def draw(doc, space):
        block = doc.blocks.new("UNIT")
        block.add_lwpolyline([(0, 0), (3, 0), (3, 2), (1, 2), (1, 1), (0, 1)], close=True, dxfattribs={"layer": "0"})
        space.add_blockref("UNIT", (10, 20), dxfattribs={"layer": "ROOMS", "xscale": -2, "yscale": 2, "zscale": 2, "rotation": 90})

    found = read_dxf(drawn(tmp_path / "block.dxf", draw, units=6))
    (room,) = found.rooms
    assert room.area_m2 == pytest.approx(4 * 5.0)
    # (x, y) -> turned by 90 degrees after the mirror: (-2 y, -2 x) + (10, 20), in mm
    wanted = Polygon([((10 - 2 * y) * 1000, (20 - 2 * x) * 1000) for x, y in [(0, 0), (3, 0), (3, 2), (1, 2), (1, 1), (0, 1)]])
    assert Polygon(room.outline).symmetric_difference(wanted).area < 1.0


def test_layers_by_rule_or_told(tmp_path):
    def draw(doc, space):
        del doc
        for a, b in (((0, 0), (5000, 0)), ((5000, 0), (5000, 4000)), ((5000, 4000), (0, 4000)), ((0, 4000), (0, 0))):
            space.add_line(a, b, dxfattribs={"layer": "0815"})

    path = drawn(tmp_path / "odd.dxf", draw)
    result = run("read", path, "-o", tmp_path / "out")
    assert result.exit_code == 2
    assert "0815 (4)" in result.output
    assert "--walls LAYER" in result.output
    assert not (tmp_path / "out").exists()
    result = run("read", path, "-o", tmp_path / "out", "--walls", "0815", "--json")
    assert result.exit_code == 0, result.output
    record = json.loads(result.stdout)
    assert [room["area_m2"] for room in record["rooms"]] == [20.0]
    assert (tmp_path / "out" / "found.png").stat().st_size > 5000
    assert run("check", tmp_path / "out" / record["rooms"][0]["file"]).exit_code == 0
    assert run("read", path, "--walls", "nowhere", "-o", tmp_path / "x").exit_code == 2
    assert [role_of(name) for name in ("A-WALL", "I-WALL-PATT", "TÜREN", "S-COLS", "Wände", "xref$0$A-DOOR")] == [
        "walls",
        None,
        "doors",
        "columns",
        "walls",
        "doors",
    ]


@settings(max_examples=15, deadline=None)
@given(st.integers(2000, 9000), st.integers(2000, 9000), st.sampled_from(["mm", "cm", "m", "inch"]), st.integers(-(10**7), 10**7))
def test_random_rooms_come_back_from_a_drawing(tmp_path_factory, wide, deep, unit, shift):
    factor = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "inch": 25.4}[unit]
    corners = [(0, 0), (wide, 0), (wide, deep * 0.6), (wide * 0.7, deep * 0.6), (wide * 0.7, deep), (0, deep)]

    def draw(doc, space):
        del doc
        points = [((x + shift) / factor, (y - shift) / factor) for x, y in corners]
        space.add_lwpolyline(points, close=True, dxfattribs={"layer": "ROOMS"})

    code = {"mm": 4, "cm": 5, "m": 6, "inch": 1}[unit]
    path = drawn(tmp_path_factory.mktemp("d") / "r.dxf", draw, units=code)
    found = read_dxf(path)
    assert found.unit == unit
    assert found.rooms[0].area_m2 == pytest.approx(Polygon(corners).area / 1e6, rel=1e-4)
    (plan,) = plans_of(found)
    own = Polygon([(v.x, v.y) for v in plan.rooms[0].outline])
    assert own.symmetric_difference(Polygon(corners)).area < 0.2 * own.length + 1.0


# --- bad drawings


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("empty.dxf", b""),
        ("text.dxf", b"this is not a drawing\n" * 20),
        ("binary.dxf", bytes(range(256)) * 400),
        ("picture.dxf", b"\x89PNG\r\n\x1a\n" + bytes(5000)),
    ],
)
def test_what_is_no_drawing_is_told(tmp_path, name, content):
    path = tmp_path / name
    path.write_bytes(content)
    result = run("read", path, "-o", tmp_path / "out")
    assert result.exit_code == 2
    assert name in result.output
    assert "Traceback" not in result.output
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("part", [0.02, 0.3, 0.7, 0.97])
def test_a_truncated_drawing_is_read_or_told(tmp_path, unpacked, part):
    raw = (unpacked / "bishop-overland-floorplan.dxf").read_bytes()
    path = tmp_path / "cut.dxf"
    path.write_bytes(raw[: int(len(raw) * part)])
    result = run("read", path, "-o", tmp_path / "out", "-q")
    assert result.exit_code in (0, 2)
    assert "Traceback" not in result.output


def test_blocks_nested_too_deep_are_told(tmp_path):
    def draw(doc, space):
        for k in range(12):
            block = doc.blocks.new(f"B{k}")
            if k:
                block.add_blockref(f"B{k - 1}", (0, 0))
            else:
                block.add_line((0, 0), (1, 1))
        space.add_blockref("B11", (0, 0))

    with pytest.raises(PlanError, match="nested"):
        read_dxf(drawn(tmp_path / "deep.dxf", draw))


def test_too_many_entities_are_told_in_bounded_time(tmp_path):
    def draw(doc, space):
        block = doc.blocks.new("MANY")
        for k in range(1000):
            block.add_line((k, 0), (k, 1))
        for k in range(400):
            space.add_blockref("MANY", (0, k))

    path = drawn(tmp_path / "many.dxf", draw)
    start = time.process_time()
    with pytest.raises(PlanError, match="entities"):
        read_dxf(path)
    assert time.process_time() - start < 120.0  # a bound, no benchmark: it must not run on for ever


# --- models


def test_a_model_of_plain_rooms(unpacked):
    # BIM Whale sample, MIT: eight rectangular rooms; the model states their areas
    found = read_ifc(unpacked / "LargeBuilding.ifc")
    assert len(found.rooms) == 8
    assert not found.warnings
    assert sorted(round(r.area_m2, 2) for r in found.rooms) == [26.86, 26.86, 33.18, 33.18, 39.78, 39.78, 49.92, 49.92]
    assert all(room.height == pytest.approx(4000) for room in found.rooms)
    doors = [openings_of(room) for room in found.rooms]
    assert all(doors)
    assert {round(width) for own in doors for _, _, width in own} == {915, 1550}
    windows = [window for room in found.rooms for window in room.windows]
    assert windows
    assert all(0 <= sill < head <= 4000 for _, sill, head in windows)
    for plan in plans_of(found):
        assert any(opening.sill > 0 for opening in plan.rooms[0].openings) or not any(
            r.windows for r in found.rooms if r.name == plan.rooms[0].name
        )


def test_spaces_that_are_foot_prints_alone(unpacked):
    # Schependomlaan, CC-BY-4.0: spaces have a foot-print curve and a bounding box only; areas stated in the file
    found = read_ifc(unpacked / "schependomlaan-apartment-6.ifc")
    rooms = {room.name: room for room in found.rooms}
    assert len(rooms) == 9
    assert rooms["6.07 badkamer"].area_m2 == pytest.approx(5.5241, abs=1e-4)
    assert rooms["6.02 toilet"].area_m2 == pytest.approx(1.2782, abs=1e-4)
    assert rooms["6.07 badkamer"].height == pytest.approx(2620)
    assert [round(w) for _, _, w in openings_of(rooms["6.07 badkamer"])] == [930]


def test_spaces_extruded_sideways_have_a_floor(unpacked):
    # Duplex, buildingSMART, CC-BY-4.0: 21 spaces, two stairs are extruded sideways; areas of the records beside the project
    found = read_ifc(unpacked / "Duplex_A_20110907.ifc")
    rooms = {room.name: room for room in found.rooms}
    assert len(rooms) == 21
    assert rooms["A105 Stair"].area_m2 > 3.0
    assert rooms["B105 Room"].area_m2 == pytest.approx(rooms["A105 Stair"].area_m2)
    assert rooms["A104 Bathroom 1"].area_m2 == pytest.approx(1.456 * 2.171, abs=1e-3)
    storeys = {plan.rooms[0].name: plan.rooms[0].storey for plan in plans_of(found)}
    assert [storeys[name] for name in ("A104 Bathroom 1", "A204 Bathroom 2", "R301 Roof")] == ["Level 1", "Level 2", "Roof"]
    assert all(set_out(plan).rooms for plan in plans_of(found)[:3])


def test_a_model_without_spaces_says_so(unpacked):
    with pytest.raises(PlanError, match="no spaces"):
        read_ifc(unpacked / "barcelona-pavilion.ifc")


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"not a model", "not an IFC file"),
        (b"ISO-10303-21;\nHEADER;\nFILE_SCHEMA(('AP214'));\nENDSEC;\nDATA;\nENDSEC;\nEND-ISO-10303-21;\n", "schema is AP214"),
        (b"ISO-10303-21;\nHEADER;\nFILE_SCHEMA(('IFC4'));\nENDSEC;\nDATA;\n#1=IFCSPA", "IFC"),
    ],
)
def test_bad_models_are_told(tmp_path, content, words):
    path = tmp_path / "bad.ifc"
    path.write_bytes(content)
    with pytest.raises(PlanError, match=words):
        read_ifc(path)


# --- outlines


def test_geojson_with_its_unit_told(tmp_path):
    path = tmp_path / "rooms.geojson"
    ring = [[0, 0], [6.5, 0], [6.5, 4.7], [0, 4.7], [0, 0]]
    hole = [[1, 1], [1, 1.3], [1.3, 1.3], [1.3, 1], [1, 1]]
    features = [{"type": "Feature", "properties": {"name": "Lab"}, "geometry": {"type": "Polygon", "coordinates": [ring, hole]}}]
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    (room,) = read_geojson(path, units="m").rooms
    assert (room.name, len(room.holes)) == ("Lab", 1)
    assert room.area_m2 == pytest.approx(6.5 * 4.7 - 0.09)
    with pytest.raises(PlanError, match="unit is nowhere stated"):
        read_geojson(path, units=None)
    assert run("read", path, "--units", "furlong", "-o", tmp_path / "o").exit_code == 2
    path.write_text('{"type": "Point", "coordinates": [1, 2]}')
    with pytest.raises(PlanError, match="no polygon"):
        read_geojson(path, units="m")
    path.write_text("{")
    with pytest.raises(PlanError, match="not JSON"):
        read_geojson(path, units="m")


# --- surveys and as-measured figures


def test_a_quadrilateral_by_sides_and_a_diagonal():
    # worked by hand with the cosine rule: sides 3620, 5185, 3650, 5210 and diagonal 6341 give the other diagonal 6344 ± 1
    readings = [Reading(a, b, d) for a, b, d in (("A", "B", 3620), ("B", "C", 5185), ("C", "D", 3650), ("D", "A", 5210), ("A", "C", 6341))]
    survey = adjust(readings)
    assert survey.between("B", "D") == pytest.approx(6344, abs=1)
    wrong = [*readings, Reading("B", "D", 6344), Reading("A", "E", 2000), Reading("B", "E", 4136), Reading("C", "E", 4500)]
    assert len(adjust(wrong[:6]).suspects) == 0


def test_points_and_offsets_from_a_base_line(tmp_path):
    for head in ("name,x,y", "name,along,offset"):
        (tmp_path / "p.csv").write_text(f"{head}\n# a remark\nA,0,0\nB,6.5 m,0\nC,6500,2900\nD,0,290 cm\n")
        file = tmp_path / f"{head.split(',')[1]}.toml"
        result = run("new", file, "--points", tmp_path / "p.csv", "-q")
        assert result.exit_code == 0, result.output
        assert [(v.x, v.y) for v in read_plan(file).rooms[0].outline] == [(0, 0), (6500, 0), (6500, 2900), (0, 2900)]
    (tmp_path / "p.csv").write_text("name,x,y\nA,0\n")
    assert run("new", tmp_path / "q.toml", "--points", tmp_path / "p.csv").exit_code == 2


def test_as_measured_figures_change_the_plan_and_say_what_changes(tmp_path):
    (tmp_path / "m.csv").write_text("from,to,length\n1,2,6520\n2,3,2893\n3,4,2395\n")
    file = tmp_path / "new.toml"
    result = run("new", file, "--plan", PLANS / "canteen.toml", "--measured", tmp_path / "m.csv", "-q")
    assert result.exit_code == 0, result.output
    assert "wall 2: 126" in result.stdout
    assert "orders:" in result.stdout
    text = file.read_text(encoding="utf-8")
    assert "# work size: measured, not the label on the box" in text  # comments are kept
    plan = read_plan(file)
    points = np.array([(v.x, v.y) for v in plan.rooms[0].outline])
    sides = np.hypot(*(np.roll(points, -1, axis=0) - points).T)
    assert sides[:3] == pytest.approx([6520, 2893, 2395], abs=2.0)
    assert run("new", tmp_path / "x.toml", "--measured", tmp_path / "m.csv").exit_code == 2
    (tmp_path / "m.csv").write_text("from,to,length\n1,9,6520\n")
    assert run("new", tmp_path / "x.toml", "--plan", PLANS / "canteen.toml", "--measured", tmp_path / "m.csv").exit_code == 2


OFF = st.floats(-15.0, 15.0)


@settings(max_examples=25, deadline=None)
@given(st.lists(st.tuples(OFF, OFF), min_size=6, max_size=6))
def test_measured_lengths_are_met_and_the_rest_kept(off):
    points = np.array([[0, 0], [6000, 0], [6000, 4000], [2500, 4000], [2500, 5500], [0, 5500]], dtype=float)
    true = points + np.array(off)
    readings = [
        Reading(str(a), str(b), round(math.dist(true[a - 1], true[b - 1])))
        for a, b in ((1, 2), (2, 3), (3, 4), (4, 5), (5, 6), (6, 1), (1, 3), (1, 5))
    ]
    result = refit(points, readings)
    for reading in readings:
        assert math.dist(result[int(reading.first) - 1], result[int(reading.second) - 1]) == pytest.approx(reading.length, abs=1.5)
    assert np.abs(result - points).max() < 80
    assert refit(points, []) == pytest.approx(points, abs=1e-6)


# --- plans out again


@pytest.mark.parametrize("path", sorted(PLANS.glob("*.toml")), ids=lambda p: p.stem)
def test_a_plan_written_and_read_is_the_same_plan(path):
    plan = read_plan(path)
    assert parse_plan(plan_toml(plan), plan.source) == plan


FULL = """
[project]
title = 'A "quoted" title'
date = 2026-11-24
[tiles.floor]
size = [300, 300]
joint = 5
least_cut = 0.4
face = "directional"
border = { tile = "edge", courses = 2 }
[tiles.edge]
size = [100, 100]
[tiles."wall 2"]
size = [250, 400]
start_line = { wall = 1, at = 120, face = "bare" }
[rules]
movement = "DE_INTERIOR"
max_edge = 6000
datum = [1, "long one"]
start_weights = { narrowest = 1, pulls = 2.5 }
binding = ["pond"]
foot = "cove"
measurement = "NET"
[sealant]
temperatures = [5, 60]
[products]
tape_roll_m = 25
[[rooms]]
name = "Bottling"
outline = [[0, 0], [8000, 0], [8000, 5000], { to = [5000, 6000], bulge = 0.2 }, [0, 6000]]
wall_tile = "wall 2"
tile_height = "2.1 m"
[rooms.levels]
floor = 10
datum = 12.5
slab = -140
[[rooms.walls]]
wall = 1
name = "long one"
tanking_height = 900
[[rooms.openings]]
wall = 2
offset = 400
width = 900
from = "left"
threshold = "upstand"
threshold_height = 20
[[rooms.drains]]
kind = "channel"
from = [2000, 3000]
to = [6000, 3000]
width = 150
[[rooms.pipes]]
wall = 1
offset = 0
level = 300
diameter = 50
collar = 180
[[rooms.fixings]]
at = [1000, 1000]
size = [120, 80]
turn = 30
[[rooms.plinths]]
outline = [[500, 4500], [1500, 4500], [1500, 5200], [500, 5200]]
on = "membrane"
[[rooms.falls]]
to = "channel 1"
ratio = 70
[[rooms.pulls]]
want = "whole"
to = 1
[[rooms.structural_joints]]
line = [[4000, 0], [4000, 6000]]
of = "finish"
"""


def test_every_kind_of_key_survives_the_round_trip():
    text = FULL.replace("pipes]]\nwall = 1\noffset = 0", "pipes]]\nwall = 1\noffset = 200")
    plan = parse_plan(text.replace('border = { tile = "edge", courses = 2 }\n', ""), "full.toml")
    assert parse_plan(plan_toml(plan), "full.toml") == plan


@settings(max_examples=40, deadline=None)
@given(
    st.integers(1000, 9000),
    st.integers(1000, 9000),
    st.floats(0, 0.9),
    st.integers(0, 20),
    st.sampled_from(["stack", "running", "herringbone"]),
    st.booleans(),
)
def test_random_plans_survive_the_round_trip(wide, deep, offset, tolerance, pattern, door):
    text = f"""
[tiles.floor]
size = [200, 100]
joint = 4
pattern = "{pattern}"
offset = {offset}
[rules]
wall_tolerance = {tolerance}
[[rooms]]
name = "Röom"
outline = [[0, 0], [{wide}, 0], [{wide}, {deep}.5], [0, {deep}.5]]
"""
    text += f"[[rooms.openings]]\nwall = 1\noffset = 50\nwidth = {wide // 2}\n" if door else ""
    plan = parse_plan(text, "r.toml")
    assert parse_plan(plan_toml(plan), "r.toml") == plan


def test_values_change_and_comments_stay():
    text = (PLANS / "canteen.toml").read_text(encoding="utf-8")
    changed = with_values(text, {("rooms", 0, "tanking_height"): 1800, ("tiles", "floor", "joint"): 5})
    assert parse_plan(changed).rooms[0].tanking_height == 1800
    kept = [line for line in text.splitlines() if "#" in line]
    assert all(line in changed.splitlines() for line in kept)
    assert len(changed.splitlines()) == len(text.splitlines())


def test_a_notebook_shows_a_picture():
    setout = example(PLANS / "canteen.toml")
    picture = layout.view(setout, dpi=40)
    assert picture._repr_png_()[:8] == b"\x89PNG\r\n\x1a\n"
    with pytest.raises(ValueError, match="no sheet"):
        layout.view(setout, "Nothing")


def test_unknown_kinds_of_file_are_told(tmp_path):
    (tmp_path / "a.pdf").write_bytes(b"%PDF")
    result = run("read", tmp_path / "a.pdf", "-o", tmp_path / "o")
    assert result.exit_code == 2
    assert ".dxf, .ifc or .geojson" in result.output
    assert run("read", tmp_path / "none.dxf", "-o", tmp_path / "o").exit_code == 2
