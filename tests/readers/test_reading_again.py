"""A drawing read again into a plan that somebody went on with: nothing typed is lost, nothing changes without a word."""

from __future__ import annotations

import json
from typing import Any

import pytest
from ezdxf.filemanagement import new
from typer.testing import CliRunner

from cli.main import app
from layout.readers.planfile import read_plan
from layout.survey.merging import merged

RING = [(1000, 2000), (5000, 2000), (5000, 4600), (1000, 4600)]


def drawing(path, *, ring=RING, pipes=((1600, 2600),), gully=(3000, 3200)):
    doc = new()
    doc.header["$INSUNITS"] = 4
    space = doc.modelspace()
    space.add_lwpolyline(ring, close=True, dxfattribs={"layer": "ROOM"})
    space.add_text("Wash-up", height=150, dxfattribs={"layer": "TEXT"}).set_placement((3000, 4000))
    for at in pipes:
        space.add_circle(at, 55, dxfattribs={"layer": "PIPES"})
    if gully:
        space.add_circle(gully, 80, dxfattribs={"layer": "FLOOR-DRAIN"})
    doc.saveas(path)
    return path


def read(folder, *args):
    return CliRunner().invoke(app, ["read", str(folder / "d.dxf"), "-o", str(folder / "out"), "--split", *args])


@pytest.fixture
def folder(tmp_path):
    drawing(tmp_path / "d.dxf")
    assert read(tmp_path).exit_code == 0
    plan = plan_of(tmp_path)
    text = plan.read_text(encoding="utf-8")
    text = text.replace("size = [200, 200]", "size = [300, 300]").replace("wall_tolerance = 5 ", "wall_tolerance = 3 ")
    text = text.replace('kind = "gully"\n', 'kind = "gully"  # the client wants it square\nframe = [150, 150]\n', 1)
    text += '\n[[rooms.pipes]]   # typed by hand\nname = "waste"\nat = [3300, 400]\ndiameter = 50\n'
    plan.write_text(text, encoding="utf-8")
    return tmp_path


def plan_of(folder):
    return folder / "out" / "wash-up.toml"


def test_what_was_typed_stays_and_what_was_drawn_anew_is_taken_and_told(folder):
    # the right-hand wall moves out by 83, the left-hand one by 40 (so the axes of a new plan would begin elsewhere), the gully by 60
    ring = [(960, 2000), (5083, 2000), (5083, 4600), (960, 4600)]
    drawing(folder / "d.dxf", ring=ring, gully=(3060, 3200), pipes=((1600, 2600), (4400, 4000)))
    made = read(folder)
    assert made.exit_code == 0, made.stderr
    text = plan_of(folder).read_text(encoding="utf-8")
    room = read_plan(plan_of(folder)).rooms[0]
    assert "# the client wants it square" in text
    assert "# typed by hand" in text
    assert read_plan(plan_of(folder)).tiles["floor"].size == (300, 300)
    assert read_plan(plan_of(folder)).rules.wall_tolerance == 3
    assert [v.to for v in room.outline] == [(-40, 0), (4083, 0), (4083, 2600), (-40, 2600)]
    assert [(d.middle, d.visible) for d in room.drains] == [((2060, 1200), (150, 150))]
    assert sorted(p.at or (0.0, 0.0) for p in room.pipes) == [(600, 600), (3300, 400), (3400, 2000)]
    for words in ("corner 1: [0, 0] → [-40, 0]", "gully 1 at: [2000, 1200] → [2060, 1200]", "pipe at [3400, 2000]: added"):
        assert words in made.stderr
    assert "look:" not in made.stderr


def test_the_same_drawing_read_again_changes_nothing(folder):
    before = plan_of(folder).read_bytes()
    made = read(folder)
    assert made.exit_code == 0
    assert "the drawing gives nothing new" in made.stderr
    assert plan_of(folder).read_bytes() == before


def test_what_both_changed_is_left_and_told_with_both_values(folder):
    plan = plan_of(folder)
    plan.write_text(plan.read_text(encoding="utf-8").replace("at = [2000, 1200]", "at = [1900, 1100]"), encoding="utf-8")
    drawing(folder / "d.dxf", gully=(3100, 3300))
    made = read(folder)
    assert made.exit_code == 0
    assert "gully 1 at: the plan says [1900, 1100], the drawing [2100, 1300]; left as the plan has it" in made.stderr
    assert read_plan(plan).rooms[0].drains[0].middle == (1900, 1100)
    record = json.loads(read(folder, "--json").stdout)
    assert record["rooms"][0]["conflicts"] == [], "told once: it is known from then on"


def test_what_the_drawing_has_no_more_goes_unless_it_was_gone_on_with(folder):
    drawing(folder / "d.dxf", pipes=(), gully=None)
    made = read(folder)
    room = read_plan(plan_of(folder)).rooms[0]
    assert [p.name for p in room.pipes] == ["waste"]
    assert "pipe 1 at [600, 600]: taken out" in made.stderr
    assert len(room.drains) == 1
    assert "the drawing has it no more; left, since it was gone on with" in made.stderr


def test_force_takes_all_of_the_drawing(folder):
    made = read(folder, "--force")
    assert made.exit_code == 0
    assert read_plan(plan_of(folder)).tiles["floor"].size == (200, 200)
    assert len(read_plan(plan_of(folder)).rooms[0].pipes) == 1


def test_a_plan_of_another_making_loses_nothing(folder):
    next((folder / "out").glob("*.as-read")).unlink()
    drawing(folder / "d.dxf", gully=(3100, 3200))
    made = read(folder)
    assert made.exit_code == 0
    assert "gully 1 at: the plan says [2000, 1200], the drawing [2100, 1200]" in made.stderr
    assert len(read_plan(plan_of(folder)).rooms[0].pipes) == 2


def test_a_plan_that_cannot_be_read_stops_it_and_stays(folder):
    plan_of(folder).write_text("[[rooms\n", encoding="utf-8")
    made = read(folder)
    assert made.exit_code == 2
    assert plan_of(folder).read_text(encoding="utf-8") == "[[rooms\n"


@pytest.mark.parametrize("keep", [(), ("--keep", "lines")])
def test_lines_that_move_are_told_and_can_be_kept(folder, keep):
    drawing(folder / "d.dxf", ring=[(x - 97 if x == 1000 else x, y) for x, y in RING])
    made = read(folder, *keep)
    assert made.exit_code == 0, made.stderr
    assert ("lines that are snapped would move:" in made.stderr) is not bool(keep)
    assert ("lines kept, against the best free set-out" in made.stderr) is bool(keep)
    assert bool(read_plan(plan_of(folder)).rooms[0].kept_lines) is bool(keep)
    assert plan_of(folder).read_text(encoding="utf-8").count("[[rooms.kept_lines]]") == len(read_plan(plan_of(folder)).rooms[0].kept_lines)


def room(**given: Any) -> dict[str, Any]:
    corners = [
        {"to": [0, 0], "wall": "d"},
        {"to": [4000, 0], "wall": "a"},
        {"to": [4000, 2000], "wall": "b"},
        {"to": [0, 2000], "wall": "c"},
    ]
    return {"rooms": [{"name": "A", "outline": corners, **given}]}


def test_three_ways_by_hand():
    door = {"wall": "a", "offset": 900, "width": 800}
    base = room(openings=[door], pipes=[{"at": [500, 500], "diameter": 110}])
    # the drawing moves the door; the person gave it a depth, a name, and a wider pipe; the drawing's pipe is as it was
    mine = room(openings=[{**door, "depth": 120, "name": "door"}], pipes=[{"at": [500, 500], "diameter": 160}])
    now = room(openings=[{**door, "offset": 1200}], pipes=[{"at": [500, 500], "diameter": 110}])
    made = merged(mine, base, now)
    assert made.values == {("rooms", 0, "openings", 0, "offset"): 1200}
    assert made.applied == ["door offset: 900 → 1200"]
    assert made.left == []
    # a door that the person took out stays out; if it moves in the drawing that is told
    gone = merged(room(pipes=base["rooms"][0]["pipes"]), base, now)
    assert (gone.values, gone.added) == ({}, [])
    assert gone.left == ["opening 1: taken out of the plan, and the drawing has it at 1200 along a now; left out"]
    # an outline with a corner more is taken whole where nobody touched it, and left where somebody did
    more = room()
    more["rooms"][0]["outline"].insert(2, {"to": [4000, 900], "wall": "e"})
    assert merged(room(), room(), more).values == {("rooms", 0, "outline"): more["rooms"][0]["outline"]}
    touched = room()
    touched["rooms"][0]["outline"][1]["to"] = [4010, 0]
    assert merged(touched, room(), more).left == ["outline: the plan says 4 corners, the drawing 5 corners; left as the plan has it"]
