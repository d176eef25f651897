"""Of a room in which nearly all is other than it was, each thing is told in its own words and clouded in its own place."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely

from layout.changes.compare import compare_setouts
from layout.readers.officefile import read_rates
from layout.readers.planfile import parse_plan
from layout.setout.conduct import set_out
from layout.sheets.change_sheet import change_sheets
from layout.sheets.scene import Label, Stroke
from tests.rooms import plan_text


def box(x: float, y: float, w: float, h: float) -> list[list[float]]:
    return [[x, y], [x + w, y], [x + w, y + h], [x, y + h]]


WAS: dict[str, Any] = {
    "name": "Bar",
    "outline": box(0, 0, 3000, 2400),
    "tanking_height": 150,
    "openings": [{"name": "door", "wall": 1, "offset": 400, "width": 800}, {"name": "hatch", "wall": 3, "offset": 300, "width": 600}],
    "columns": [{"name": "post", "outline": box(700, 1400, 300, 300)}],
    "plinths": [{"name": "boiler", "outline": box(2000, 1500, 400, 300), "height": 150}],
    "pipes": [{"name": "waste", "wall": 2, "offset": 500, "level": 80, "diameter": 50}],
    "structural_joints": [{"name": "joint A", "line": [[1500, -50], [1500, 2450]], "width": 20}],
}
NOW: dict[str, Any] = {
    **WAS,
    "outline": [[0, 0], [3000, 0], [3000, 2400], [1200, 2400], [1200, 2200], [0, 2200]],
    "openings": [{"name": "door", "wall": 1, "offset": 600, "width": 800}, {"name": "hatch", "wall": 2, "offset": 300, "width": 600}],
    "columns": [{"name": "post", "outline": [*box(760, 1400, 300, 300), [700, 1550]]}],
    "plinths": [{"name": "boiler", "outline": box(2000, 1450, 400, 300), "height": 100}],
    "pipes": [{"name": "waste", "wall": 2, "offset": 1200, "level": 80, "diameter": 50}],
    "structural_joints": [{"name": "joint A", "line": [[1600, -50], [1600, 2450]], "width": 20}],
    "levels": {"datum": 12.5, "steps": True},
    "walls": [{"wall": 1, "tanking_height": 300}],
}
PROJECT = """
[project]
revision = "B"
[[project.revisions]]
letter = "A"
date = 2026-01-05
what = "First issue"
[[project.revisions]]
letter = "B"
date = 2026-02-09
what = "Door, hatch, post, boiler, waste and joint A moved as they were found on site when the walls stood and the first course of blocks was checked"
"""


def plan(room, size, extra=""):
    return set_out(parse_plan(extra + plan_text(room, tiles={"floor": {"size": [size, size], "joint": 6}}), "bar.toml"))


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    path = tmp_path_factory.mktemp("rates") / "rates.toml"
    path.write_text('currency = "EUR"\n[rates]\n"tiles.floor" = { rate = 2.0, unit = "pcs" }\n', encoding="utf-8")
    before, after = plan(WAS, 300), plan(NOW, 250, PROJECT)
    changes = compare_setouts(before, after, rates=read_rates(path))
    return before, after, changes, change_sheets(before, after, changes)


@pytest.fixture(scope="module")
def rows(made):
    (room,) = made[2].rooms
    return {each.what: (each.before, each.after) for each in (*room.shape, *room.works)}


def test_each_difference_is_told_by_name(rows):
    assert rows["tanking height of wall 1"] == ("150", "300")
    assert rows["wall 4"] == ("", "200 long")
    assert rows["length of wall 3"] == ("3000.0", "1800.0")
    assert rows["levels: datum"] == ("not given", "12.5")
    assert rows["levels: steps"] == ("no", "yes")
    assert rows["hatch: wall"] == ("wall 3", "wall 2")
    assert rows["boiler: height"] == ("150", "100")
    assert rows["joint A: line"] == ("1500, -50, 1500, 2450", "1600, -50, 1600, 2450")
    assert rows["post: outline"][1].endswith("700 1550")
    assert rows["movement joint 1"] == ("x = 1500.0", "x = 1600.0, moved by 100.0")
    # seen from inside, wall 1 runs leftward from its first corner: its right-hand end is at x = 0
    assert rows["door: middle along wall 1, from its right-hand end"] == ("800.0", "1000.0")


def test_what_moved_on_the_plan_is_clouded_where_it_was_and_is(made):
    sheet = made[3][0]
    clouds = [shapely.Polygon(each.points) for each in sheet.room if isinstance(each, Stroke) and each.layer == "REVISION" and each.closed]
    inside = {"door": (1400, 0), "hatch, was": (2400, 2400), "hatch": (3000, 600), "post": (700, 1550), "boiler": (2200, 1460),
              "joint, was": (1500, 1200), "joint": (1600, 1200)}  # fmt: skip
    assert [name for name, at in inside.items() if not any(cloud.buffer(0).covers(shapely.Point(at)) for cloud in clouds)] == []
    assert not any(cloud.buffer(0).covers(shapely.Point(at)) for cloud in clouds for at in ((150, 800), (1800, 800), (400, 2000)))
    dashed = [np.asarray(each.points) for each in sheet.room if isinstance(each, Stroke) and each.layer == "AS-IT-WAS"]
    for ring in (box(700, 1400, 300, 300), box(2000, 1500, 400, 300)):
        assert any(len(each) == 4 and {tuple(p) for p in each} == {tuple(map(float, p)) for p in ring} for each in dashed), ring


def test_orders_money_and_revisions_stand_in_the_tables(made):
    *_, changes, sheets = made
    texts = [each.text for sheet in sheets for each in sheet.paper_scene if isinstance(each, Label)]
    said = " ".join(texts)
    assert "tile floor: size 300, 300 250, 250" in said
    assert "tile of floor 48 whole, 42 pieces 54 whole, 70 pieces" in said
    tiles = next(order for order in changes.orders if order.key == "tiles.floor")
    assert (tiles.before, tiles.after) == (110, 144)
    assert changes.total == tiles.money == 2.0 * (144 - 110)
    assert f"money — {changes.total:+.2f} EUR" in said
    assert "rev. date what B 2026-02-09 Door, hatch" in said
    assert "first course of blocks was checked A 2026-01-05 First issue" in said


def test_a_room_that_came_has_no_sheet_of_changes(made):
    before, after, changes, _ = made
    came = replace(changes.rooms[0], was="")
    assert change_sheets(before, after, replace(changes, rooms=(came,))) == ()


def test_a_line_of_a_wall_that_moved_stands_in_the_table_and_is_not_clouded():
    room = {"name": "Bar", "outline": box(0, 0, 1500, 1200), "tile_height": 600}
    before, after = plan(room, 300), plan({**room, "outline": box(0, 0, 1590, 1200)}, 300)
    changes = compare_setouts(before, after)
    line = next(each for each in changes.rooms[0].lines if each.surface == "wall 1")
    said = " ".join(each.text for sheet in change_sheets(before, after, changes) for each in sheet.paper_scene if isinstance(each, Label))
    assert f"wall 1: line {line.name} from" in said
    assert f"moved {abs(line.moved):.1f}" in said


def test_a_room_measured_on_its_finished_faces_is_told_so():
    room = {"name": "Bar", "outline": box(0, 0, 1500, 1200)}
    (change,) = compare_setouts(plan(room, 300), plan({**room, "outline_is": "finished"}, 300)).rooms
    told = {each.what: (each.before, each.after) for each in change.shape}
    assert told["face that the outline is of"] == ("substrate", "finished")
