"""A person's plan text changed in place, in the ways that are seldom met: what stands beside keeps every letter."""

from __future__ import annotations

import tomllib
from dataclasses import replace

import pytest

from layout.errors import PlanError
from layout.keys import Form
from layout.plan.kept import KeptJoint, KeptLine, KeptMark
from layout.plan.things import Pipe
from layout.readers.planfile import parse_plan
from layout.writers.edits import path_of, with_kept, with_starts, with_thing, with_values

ROOM = '[[rooms]]\nname = "Bar"  # by the yard\noutline = [[0, 0], [1500, 0], [1500, 1200], [0, 1200]]\n'
PIPE = {"at": [300, 300], "diameter": 50}


@pytest.mark.parametrize("key", ["", '""', 'tiles."".size', "tiles..size", "[x]"])
def test_a_key_with_an_empty_step_is_told(key):
    with pytest.raises(PlanError, match="write the key as it stands in the plan"):
        path_of(key)


def test_a_table_named_by_a_number_is_found_by_it():
    text = "[tiles.5]\nsize = [200, 200]\njoint = 6\n" + ROOM
    assert with_values(text, {("tiles", 5, "joint"): 4}) == text.replace("joint = 6", "joint = 4")


def test_a_thing_goes_into_a_room_that_is_written_on_one_line():
    text = 'rooms = [{ name = "Bar", outline = [[0, 0], [1500, 0], [1500, 1200], [0, 1200]] }]\n'
    one = with_thing(text, 0, "pipes", PIPE, Form(Pipe))
    assert tomllib.loads(one)["rooms"][0]["pipes"] == [PIPE]
    two = with_thing(one, 0, "pipes", {**PIPE, "at": [600, 300]}, Form(Pipe))
    assert [each["at"] for each in tomllib.loads(two)["rooms"][0]["pipes"]] == [[300, 300], [600, 300]]


def test_a_header_within_quotes_is_no_room():
    text = '[project]\nnotes = ["""\n[[rooms]]\nname = "not this one"\n"""]\n' + ROOM
    grown = with_thing(text, 0, "pipes", PIPE, Form(Pipe))
    wanted = tomllib.loads(text)
    wanted["rooms"][0]["pipes"] = [PIPE]
    assert tomllib.loads(grown) == wanted
    assert "# by the yard" in grown


def test_a_start_takes_the_place_of_a_line_that_was_given():
    text = "[tiles.floor]\nsize = [200, 200]\njoint = 6\nstart_line = { wall = 1, at = 120 }\n" + ROOM
    fixed = tomllib.loads(with_starts(text, {0: ("floor", (23.04, 198.0))}))
    assert fixed["tiles"]["floor"] == {"size": [200, 200], "joint": 6, "start": [23.0, 198.0]}
    # one that lies on the walls too stays: the room gets a tile of its own
    both = tomllib.loads(with_starts(text + 'wall_tile = "floor"\n', {0: ("floor", (23.0, 198.0))}))
    assert both["tiles"]["floor"]["start_line"] == {"wall": 1, "at": 120}
    assert both["tiles"]["floor of room 1"] == {"size": [200, 200], "joint": 6, "start": [23.0, 198.0]}
    assert both["rooms"][0]["floor_tile"] == "floor of room 1"


def test_what_is_kept_takes_the_place_of_what_was_and_the_rest_stays():
    line, joint = KeptLine(on="floor", at=(10.0, 20.0)), KeptJoint(line=((700.0, 0.0), (700.0, 1200.0)), width=8.0)
    mark = KeptMark(tile="floor", shape="straight", outline=((0.0, 0.0), (80.0, 0.0), (80.0, 200.0), (0.0, 200.0)))
    plan = parse_plan(ROOM)

    def kept(was, **room):
        return replace(was, rooms=(replace(was.rooms[0], **room),))

    assert with_kept(ROOM, plan, plan) == ROOM
    first = with_kept(ROOM, plan, kept(plan, kept_lines=(line,)))
    assert first.startswith(ROOM)
    one = parse_plan(first)
    assert (one.rooms[0].kept_lines, one.rooms[0].kept_joints, one.kept_marks) == ((line,), (), {})
    both = replace(kept(one, kept_lines=(replace(line, at=(12.0, 20.0)),), kept_joints=(joint,)), kept_marks={"C1": mark})
    second = with_kept(first, one, both)
    two = parse_plan(second)
    assert (two.rooms[0].kept_lines[0].at, two.rooms[0].kept_joints, dict(two.kept_marks)) == ((12.0, 20.0), (joint,), {"C1": mark})
    # joints and marks change, lines stay as they are
    third = with_kept(second, two, replace(kept(two, kept_joints=()), kept_marks={"C2": mark}))
    three = parse_plan(third)
    assert (three.rooms[0].kept_lines, three.rooms[0].kept_joints, list(three.kept_marks)) == (two.rooms[0].kept_lines, (), ["C2"])
    assert "# by the yard" in third
