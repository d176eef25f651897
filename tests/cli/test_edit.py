"""`add` and `set`: a plan changed in place, its comments kept, nothing written that is not valid."""

from __future__ import annotations

import json
import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from typer.testing import CliRunner

from cli.main import app
from layout.keys import Form
from layout.plan.things import Pipe
from layout.readers.planfile import read_plan
from layout.writers.edits import path_of, with_thing, with_values
from tests.test_project import TOP

ONE = """# a job of ours
[tiles.floor]
size = [200, 200]   # as measured

[[rooms]]
name = "Wash-up"    # the long one
outline = [[0, 0], [6500, 0], [6500, 2900], [4100, 2900], [4100, 4700], [0, 4700]]
[[rooms.pipes]]
at = [300, 300]
diameter = 50

# the store begins here
[[rooms]]
name = "Store"
outline = [[0, 0], [3000, 0], [3000, 2000], [0, 2000]]
"""


@pytest.fixture
def plan(tmp_path):
    path = tmp_path / "a.toml"
    path.write_text(ONE, encoding="utf-8")
    return path


def run(verb, plan, *arguments, typed=None):
    return CliRunner().invoke(app, [verb, str(plan), *arguments], input=typed)


@pytest.mark.parametrize(("arguments", "where", "key", "value"), [
    # by hand: 1546 off the lower wall and 2947 off the left one
    (["gully", "--from-walls", "1:1546", "6:2947"], ("drains", -1), "at", [2947, 1546]),
    (["pipe", "--from-walls", "1:5' 6\"", "6:10 in", "diameter=110"], ("pipes", -1), "at", [254, 1676.4]),
    # by hand: 3 4 5 from the corner at the origin; from the one 6500 to its right, the root of 4500 and 1500 squared
    (["pipe", "diameter=110", "--from-corners", "1:2500", "2:4743.416"], ("pipes", -1), "at", [2000, 1500]),
    (["pipe", "diameter=50", "wall=2", "offset=400", "level=500"], ("pipes", -1), "wall", 2),
    (["door", "wall=1", "offset=900", "width=1 m"], ("openings", -1), "width", 1000),
    (["window", "wall=6", "offset=900", "width=600", "head=1500"], ("openings", -1), "sill", 900),
    (["channel", "--from-walls", "1:600", "6:900", "--to-walls", "1:600", "2:900"], ("drains", -1), "to", [5600, 600]),
    (["plinth", "--from-walls", "6:0", "5:0", "--size", "700x900", "height=120"], ("plinths", -1), "outline",
     [[0, 4700], [900, 4700], [900, 4000], [0, 4000]]),
    (["fixing", "at=[500, 600]", "size=120x100"], ("fixings", -1), "size", [120, 100]),
    (["joint", "--from-walls", "1:0", "6:3000", "--to-walls", "5:0", "6:3000"], ("structural_joints", -1), "line", [[3000, 0], [3000, 4700]]),
])  # fmt: skip
def test_a_thing_stands_where_two_distances_say(plan, arguments, where, key, value):
    said = run("add", plan, *arguments, "--room", "Wash-up")
    assert said.exit_code == 0, said.stderr
    table, index = where
    got = tomllib.loads(plan.read_text(encoding="utf-8"))["rooms"][0][table][index][key]
    if isinstance(value, list) and not isinstance(value[0], list):
        assert got == pytest.approx(value, abs=0.01)
    else:
        assert sorted(got) == sorted(value) if isinstance(value, list) else got == value
    text = plan.read_text(encoding="utf-8")
    assert all(remark in text for remark in ("# a job of ours", "# as measured", "# the long one", "# the store begins here\n[[rooms]]"))
    assert len(read_plan(plan).rooms) == 2


@pytest.mark.parametrize(("verb", "arguments", "words"), [
    ("add", ["drian", "--room", "1"], "did you mean drain?"),
    ("add", ["gully", "--from-walls", "1:1500", "2:900"], "say which: --room NAME, of Wash-up, Store"),
    ("add", ["gully", "--from-walls", "1:1500", "2:900", "--room", "Stor"], "did you mean 'Store'?"),
    ("add", ["pipe", "--from-walls", "1:1500", "2:900", "--room", "2"], "diameter: it is missing"),
    ("add", ["pipe", "diameter=110", "at=9000,9000", "--room", "2"], "Store"),
    ("add", ["pipe", "diametr=110", "--room", "2"], "did you mean 'diameter'?"),
    ("add", ["pipe", "110", "--room", "2"], "write its keys as KEY=VALUE"),
    ("add", ["door", "wall=1", "offset=2500", "width=900", "--room", "2"], "offset may be 0 to 2100"),
    ("add", ["gully", "--from-corners", "1:125", "3:370", "--room", "2", "--side", "up"], "cannot meet"),
    ("add", ["gully", "--from-corners", "1:2100", "3:2000", "--room", "2"], "say which: --side left or --side right"),
    ("add", ["door", "--from-walls", "1:15", "2:900", "--room", "2"], "it is placed by wall=, offset= and from="),
    ("add", ["gully", "--from-walls", "1:1.5", "2:900", "--room", "2"], 'write 1500 or "1.5 m"'),
    ("add", ["plinth", "--from-walls", "1:0", "2:0", "--room", "2"], "--size 1300x800"),
    ("set", ["tiles.floor.sise", "[300, 300]"], "did you mean 'size'?"),
    ("set", ["tiles.floor.size", "[0, 300]"], "a number above 0"),
    ("set", ["rooms.Bar.tile_height", "2000"], "leads nowhere"),
    ("set", ["rooms.Wash-pu.tile_height", "2000"], "did you mean 'Wash-up' for 'Wash-pu'?"),
    ("set", ["rooms.0.pipe.0.diameter", "75"], "did you mean 'pipes' for 'pipe'?"),
    ("set", ["rooms.7.tile_height", "2000"], "leads nowhere"),
    ("set", ["rooms.0..name", "A"], "write the key as it stands"),
    ("set", ["rules.foot", "--remove"], "leads nowhere"),
    ("set", ["rules.foot"], "give KEY and VALUE"),
    ("set", ["rules.foot", "wall-trough"], 'did you mean "wall-through"?'),
])  # fmt: skip
def test_what_cannot_be_is_told_and_the_file_not_touched(plan, verb, arguments, words):
    before = plan.read_bytes()
    said = run(verb, plan, *arguments)
    assert said.exit_code == 2
    assert words in said.stderr
    assert plan.read_bytes() == before


@pytest.mark.parametrize(("key", "value", "now"), [
    ("tiles.floor.size", "[300, 300]", "size = [300, 300]   # as measured"),
    ("rooms.0.name", "Scullery", 'name = "Scullery"    # the long one'),
    ("rooms.Store.tanking_height", "2 m", 'tanking_height = "2 m"'),
    ("rooms[0].pipes[0].diameter", "110", "diameter = 110"),
    ("rules.wall_tolerance", "3", "[rules]\nwall_tolerance = 3"),
    ("project.date", "2026-11-30", "date = 2026-11-30"),
])  # fmt: skip
def test_a_key_is_set_and_remarks_stay(plan, key, value, now):
    assert run("set", plan, key, value).exit_code == 0
    text = plan.read_text(encoding="utf-8")
    assert now in text
    assert text.count("#") == ONE.count("#")
    read_plan(plan)


def test_a_key_is_taken_out_again(plan):
    assert run("set", plan, "rooms.0.tile_height", "2000").exit_code == 0
    assert run("set", plan, "rooms.0.tile_height", "--remove").exit_code == 0
    assert plan.read_text(encoding="utf-8") == ONE


def test_from_standard_input_to_standard_output(plan):
    said = run("add", "-", "pipe", "diameter=75", "at=1000,1000", "--room", "Store", typed=ONE)
    assert said.exit_code == 0, said.stderr
    assert tomllib.loads(said.stdout)["rooms"][1]["pipes"] == [{"at": [1000, 1000], "diameter": 75}]
    assert run("set", "-", "rooms.0.name", "B\x1b", typed=ONE).exit_code == 2
    other = plan.parent / "b.toml"
    assert run("set", plan, "rooms.1.name", "Larder", "-o", str(other)).exit_code == 0
    assert plan.read_text(encoding="utf-8") == ONE
    assert read_plan(other).rooms[1].name == "Larder"


def test_json_says_what_was_added(plan):
    said = run("add", plan, "gully", "--from-walls", "1:500", "2:600", "--room", "2", "--json", "--quiet")
    record = json.loads(said.stdout)
    assert record["values"]["at"] == [2400, 500]
    assert said.stderr == ""


def test_line_ends_and_rooms_on_one_line_are_kept():
    pipe = {"at": [5, 5], "diameter": 50}
    ends = with_thing(ONE.replace("\n", "\r\n"), 0, "pipes", pipe, Form(Pipe))
    assert ends.count("\n") == ends.count("\r\n")
    inline = 'rooms = [{ name = "A", outline = [[0, 0], [900, 0], [0, 900]] }] # one line\n'
    assert tomllib.loads(with_thing(inline, 0, "pipes", pipe, Form(Pipe)))["rooms"][0]["pipes"] == [pipe]


@given(st.sampled_from(["canteen", "brewhouse", "washbay"]), st.integers(1, 400))
@settings(max_examples=12)
def test_things_added_to_the_examples_change_nothing_else(name, at):
    text = (TOP / "plans" / f"{name}.toml").read_text(encoding="utf-8")
    before = tomllib.loads(text)
    grown = with_thing(text, 0, "pipes", {"at": [at, 5], "diameter": 50}, Form(Pipe))
    after = tomllib.loads(grown)
    assert after["rooms"][0]["pipes"].pop() == {"at": [at, 5], "diameter": 50}
    after["rooms"][0] = {key: value for key, value in after["rooms"][0].items() if value or key in before["rooms"][0]}
    assert after == before
    assert [line for line in text.splitlines() if "#" in line] == [line for line in grown.splitlines() if "#" in line]
    assert tomllib.loads(with_values(grown, {("tiles", "floor", "joint"): at}))["tiles"]["floor"]["joint"] == at


def test_paths_are_read_as_people_write_them():
    assert path_of('rooms."Bay 1.2".walls[0].name') == ("rooms", "Bay 1.2", "walls", 0, "name")
