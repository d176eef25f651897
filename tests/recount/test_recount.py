"""The recount over small plans in every run, over the examples and real rooms by `-m whole`; and that it notices what is untrue."""

from __future__ import annotations

import ast
import json
import re
from functools import cache
from pathlib import Path

import pytest
import shapely

import layout
from layout.readers.planfile import parse_plan
from tests.examples import PLANS, TOP
from tests.recount.mends import count_mends, with_start
from tests.recount.plans import count_plan
from tests.recount.tally import Tally
from tests.rooms import plan_text

FALLS = """
[tiles.floor]
size = [200, 200]
joint = 6
[rules]
movement = "EJ171_INTERIOR"
[[rooms]]
name = "R"
outline = [[0, 0], [3000, 0], [3000, 2000], [2000, 2000], [2000, 3100], [0, 3100]]
tanking_height = 1500
[[rooms.openings]]
name = "door"
wall = 1
offset = 400
width = 900
[[rooms.columns]]
outline = [[2500, 900], [2700, 900], [2700, 1100], [2500, 1100]]
[[rooms.plinths]]
outline = [[0, 2300], [600, 2300], [600, 3100], [0, 3100]]
height = 150
[[rooms.drains]]
kind = "gully"
name = "gully 1"
at = [1200, 1200]
frame = [150, 150]
[[rooms.pipes]]
at = [300, 1800]
diameter = 110
[[rooms.falls]]
to = "gully 1"
ratio = 60
"""
BOND = """
[tiles.floor]
size = [300, 150]
joint = 4
pattern = "running"
offset = 0.333333
[[rooms]]
name = "R"
outline = [[0, 0], [2600, 0], [2610, 1800], [0, 1750]]
"""


@cache
def records_of(text: str) -> tuple[str, str]:
    setout = layout.set_out(parse_plan(text))
    takeoff = layout.take_off(setout)
    bill = layout.takeoff_record(takeoff, layout.place_orders(takeoff))
    return layout.to_json(layout.setout_record(setout, pieces=True)), layout.to_json(bill)


def counted(text: str, *changes) -> Tally:
    """What the recount finds of a plan, of its records with some figures changed first."""
    setout, bill = (json.loads(record) for record in records_of(text))
    for change in changes:
        change(setout["rooms"][0], bill)
    tally = Tally()
    count_plan(tally, "plan", text, setout, bill)
    return tally


@pytest.mark.parametrize("text", [FALLS, BOND], ids=["falls", "bond"])
def test_every_figure_of_a_small_plan_is_found_again(text):
    tally = counted(text)
    assert tally.wrong == []
    assert sum(tally.right.values()) > 150


SAMPLE = json.loads((TOP / "tests" / "data" / "real-rooms-sample.json").read_text())["rooms"]


@pytest.mark.parametrize(
    "tiles", [{"size": [200, 200], "joint": 6}, {"size": [240, 120], "joint": 5, "pattern": "herringbone"}], ids=["stack", "herringbone"]
)
def test_every_figure_of_a_real_room_is_found_again(tiles):
    smallest = min(SAMPLE, key=lambda record: abs(shapely.Polygon(record["outer"]).area - 6e6))
    text = plan_text({"name": "R", "outline": smallest["outer"]}, tiles={"floor": tiles})
    tally = counted(text)
    assert tally.wrong == []
    assert sum(tally.right.values()) > 100


@pytest.mark.whole
@pytest.mark.parametrize("path", PLANS, ids=lambda path: path.stem)
def test_every_figure_of_the_examples_is_found_again(path):
    tally = counted(path.read_text(encoding="utf-8"))
    assert tally.wrong == []
    assert sum(tally.right.values()) > 300


def floor(room):
    return next(part for part in room["surfaces"] if part["kind"] == "floor")


def cut_piece(room):
    return next(piece for piece in floor(room)["pieces"] if piece["mark"] is not None)


def joint(room, kind):
    return next(each for each in room["movement_joints"] if each["kind"] == kind)


def item(bill, key):
    return next(each for each in bill["items"] if each["key"] == key)


def grown(record, key, by):
    record[key] += by


UNTRUE = {
    "tiled area, m², no more than is there": lambda room, _: grown(floor(room), "tiled_m2", 0.001),
    "whole tiles": lambda room, _: grown(floor(room)["tiles"], "whole", 1),
    "places with a cut tile": lambda room, _: grown(floor(room)["tiles"], "cut", -1),
    "cut pieces": lambda room, _: grown(floor(room)["tiles"], "pieces", 1),
    "pieces of a mark": lambda room, _: grown(floor(room)["cuts"][0], "count", 1),
    "saw size over its piece, mm": lambda room, _: grown(floor(room)["cuts"][0]["size"], 0, 2.0),
    "overlap of tiles, mm²": lambda room, _: floor(room)["pieces"].append({**floor(room)["pieces"][-1], "tile": [9, 9, 9, 9]}),
    "area that neither tile nor joint covers, mm²": lambda room, _: floor(room)["pieces"].remove(cut_piece(room)),
    "narrowest cut, mm: never told wider": lambda room, _: grown(floor(room)["start"], "smallest_cut_mm", 1.0),
    "narrowest cut, mm: told narrower than the strips, a piece or edge leaves it": lambda room, _: grown(
        floor(room)["start"], "smallest_cut_mm", -20.0
    ),
    "narrowest piece, mm": lambda room, _: grown(floor(room)["start"], "narrowest_piece_mm", 1.0),
    "width of the piece at the place and of the mark told": lambda room, _: grown(floor(room)["start"]["narrowest_piece"]["at"], 0, 400.0),
    "offset of a start line, mm": lambda room, _: grown(floor(room)["start"]["lines"][0]["offsets"][0], "bare_mm", 0.5),
    "a whole tile's corner at the start": lambda room, _: grown(floor(room)["start"]["origin"], 1, 0.5),
    "a run's tiles end on a line of the floor where it says": lambda room, _: grown(floor(room)["start"]["runs"][0]["edges_mm"], 1, 0.3),
    "joints of a run, one fewer than its tiles and cuts": lambda room, _: grown(floor(room)["start"]["runs"][0], "joints", 1),
    "length of a run, no more than with a joint at each end without a cut, mm": lambda room, _: grown(
        floor(room)["start"]["runs"][1], "length_mm", 20.0
    ),
    "joint by its line, mm": lambda room, _: grown(joint(room, "perimeter"), "length_mm", 10.0),
    "joints along a ring, mm": lambda room, _: room["movement_joints"].remove(joint(room, "threshold")),
    "joints of a kind, mm": lambda room, _: grown(room["joint_types"][0], "length_mm", 10.0),
    "tape by its line, mm": lambda room, _: grown(room["tape"][0], "length_mm", 1.0),
    "tape at feet, threshold, mm": lambda room, _: grown(next(run for run in room["tape"] if run["kind"] == "threshold"), "length_mm", 5.0),
    "collars": lambda room, _: room["collars"].clear(),
    "length of a flange, mm": lambda room, _: grown(room["flanges"][0], "length_mm", 1.0),
    "spot level, mm": lambda room, _: grown(room["levels"]["spots"][0], "level_mm", 1.0),
    "screed at its thickest, mm": lambda room, _: grown(room["levels"]["screed"], "most_mm", 1.0),
    "level of the place told for ±0, mm": lambda room, _: room["levels"].update(datum="±0 lies 9 above the finished floor at the walls"),
    "quantity: joints.perimeter": lambda _, bill: grown(item(bill, "joints.perimeter"), "quantity", 0.01),
    "a quantity is the sum of its parts": lambda _, bill: grown(item(bill, "membrane_area"), "quantity", 0.01),
    "quantity: tiles, one for each whole and each cut place": lambda _, bill: grown(item(bill, "tiles.floor"), "quantity", 1.0),
    "quantity: grout, kg": lambda _, bill: grown(item(bill, "grout"), "quantity", 1.0),
    "no pack too many": lambda _, bill: grown(item(bill, "grout")["order"], "packs", 1),
    "each part of a run is cut once": lambda _, bill: bill["cutting_list"]["rolls"][0].append(bill["cutting_list"]["rolls"][0][0]),
}


@pytest.mark.parametrize("first", range(6))
def test_figures_that_are_untrue_are_noticed(first):
    own = list(UNTRUE)[first::6]
    found = {each.kind for each in counted(FALLS, *(UNTRUE[kind] for kind in own)).wrong}
    assert set(own) <= found


ALONG_AN_EDGE = """
[tiles.floor]
size = [400, 400]
joint = 6
[[rooms]]
name = "R"
outline = [[0, 0], [350.76, 71.75], [405.29, -193.71], [66.76, -259.91], [379.82, -1854.43], [2254.46, -1487.87], [1940.92, 109.04],
  [1481.91, 19.28], [1433.06, 268.08], [2991.7, 572.85], [3194.12, -458.11], [3311.92, -983.12], [3369.25, -1262.22], [3821.65, -1173.76],
  [4828.57, -976.28], [4937.61, -954.04], [4260.79, 2350.25], [4114.86, 2320.48], [3130.69, 2106.25], [879.21, 1649.08], [836.91, 1856.65],
  [-335.35, 1614.18]]
"""  # an invented room in the shape of one that was drawn: a joint runs along its slanted nib


def test_a_joint_along_an_edge_takes_no_grout():
    """What such a joint leaves of its strip widens the edge's joint: in no bay, and filled with sealant."""
    tally = counted(ALONG_AN_EDGE)
    assert tally.wrong == []
    assert tally.right["quantity: grout, kg"] == 1
    assert "joint-along-edge" in records_of(ALONG_AN_EDGE)[0]


PIPED = """
[tiles.floor]
size = [200, 200]
start = [40, 15]
joint = 6
[rules]
movement = "UK_FLOOR"
[[rooms]]
outline = [[0, 0], [2900, 0], [2900, 2300], [0, 2300]]
[[rooms.pipes]]
at = [1000, 900]
diameter = 110
"""


def again(text: str):
    return json.loads(records_of(text)[0])


def test_a_shift_that_is_offered_holds_when_its_start_is_typed():
    tally, setout = Tally(), again(PIPED)
    count_mends(tally, PIPED, setout, again)
    assert tally.wrong == []
    assert sum(tally.right.values()) == 2
    for warning in setout["rooms"][0]["warnings"]:
        warning["text"] = re.sub(r"and no cut under \d+", "and no cut under 99", warning["text"])
    count_mends(tally, PIPED, setout, lambda text: again(text.replace("start = [", "start = [1")))
    assert {each.kind for each in tally.wrong} >= {"narrowest cut of an offered shift over the play, mm"}
    assert with_start(PIPED, "wall", "1", "2") is None


JOINTED = """
[tiles.floor]
size = [400, 400]
joint = 6
[rules]
movement = "DE_INTERIOR"
[[rooms]]
name = "R"
outline = [[0, 0], [11000, 0], [11000, 4000], [0, 4000]]
"""


def test_joints_across_and_their_bays_are_counted():
    assert counted(JOINTED).wrong == []
    longer = counted(JOINTED, lambda room, _: grown(joint(room, "intermediate"), "length_mm", 30.0))
    assert {"joint across by its area, mm", "joint by its line, mm"} <= {each.kind for each in longer.wrong}
    larger = counted(JOINTED, lambda room, _: grown(room["bays"][0], "area_m2", 0.01))
    assert {each.kind for each in larger.wrong} >= {"area of a bay, m²"}
    less = counted(JOINTED, lambda room, _: grown(room["bays"][0], "longest_mm", 10.0))
    assert len(less.wrong) == 1


def imported(path: Path) -> set[str]:
    nodes = ast.walk(ast.parse(path.read_text(encoding="utf-8")))
    return {
        name
        for node in nodes
        for name in (
            [each.name for each in node.names]
            if isinstance(node, ast.Import)
            else [node.module or ""]
            if isinstance(node, ast.ImportFrom)
            else []
        )
    }


def test_the_recount_calls_nothing_of_the_engine():
    own = [path for path in sorted(Path(__file__).parent.glob("*.py")) if not path.name.startswith("test_")]
    assert len(own) == 10
    assert not {name for path in own for name in imported(path) if name.split(".")[0] in ("layout", "cli")}
    assert "layout" in imported(Path(__file__))
