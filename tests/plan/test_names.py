"""What things are called: equal names stay two things, a doubtful reference is refused, and a wall keeps its name through edits."""

from __future__ import annotations

import numpy as np
import pytest

from layout.errors import PlanFaults
from layout.quantities.takeoff import take_off
from layout.readers.planfile import parse_plan
from layout.setout.conduct import set_out
from layout.survey.drafts import found_plan, plan_text
from layout.survey.found import FoundRoom
from layout.writers.planfile import plan_toml
from layout.writers.records import setout_record

CORNERS = "[[0, 0], [5200, 0], [5200, 3700], [0, 3700]]"
ROOM = f"""
[tiles.wall]
size = [300, 200]
joint = 4
[[rooms]]
name = "Servery"
outline = {CORNERS}
tanking_height = 300
tile_height = 1800
"""
NAMED = ROOM.replace(
    CORNERS,
    '[{ to = [0, 0], wall = "west" }, { to = [5200, 0], wall = "south" }, { to = [5200, 3700], wall = "east" }, { to = [0, 3700], wall = "north" }]',
)
THINGS = """
[[rooms.openings]]
wall = {east}
offset = 700
width = 900
depth = 120
[[rooms.pipes]]
wall = {north}
offset = 800
level = 200
diameter = 50
[[rooms.walls]]
wall = {south}
tanking_height = 1500
"""
NUMBERS = THINGS.format(east=2, north=3, south=1)
NAMES = THINGS.format(east='"east"', north='"north"', south='"south"')


def told(text):
    with pytest.raises(PlanFaults) as caught:
        parse_plan(text, "plan.toml")
    return str(caught.value)


def doors(setout):
    """Where doors stand: centres of their threshold joints in the room, to the millimetre."""
    joints = [joint for joint in setout.rooms[0].joints if joint.kind == "threshold"]
    return sorted(tuple(round(float(v)) for v in joint.line.mean(axis=0)) for joint in joints)


def test_a_wall_may_be_meant_by_the_name_on_its_edge():
    by_number, by_name = set_out(parse_plan(NAMED + NUMBERS)), set_out(parse_plan(NAMED + NAMES))
    assert setout_record(by_name, pieces=True) == setout_record(by_number, pieces=True)
    wall = by_name.rooms[0].lining.outline.walls[0]
    assert (wall.label, wall.name, wall.tanking_height) == ("wall 1", "south", 1500)


def test_a_name_on_an_edge_moves_no_figure():
    named, plain = set_out(parse_plan(NAMED + NUMBERS)), set_out(parse_plan(ROOM + NUMBERS))
    assert [(i.key, i.quantity) for i in take_off(named).items] == [(i.key, i.quantity) for i in take_off(plain).items]
    assert doors(named) == doors(plain)
    assert len(doors(plain)) == 1


@pytest.mark.parametrize("how", ["corner", "nib"])
def test_a_corner_put_in_leaves_named_things_where_they_stand(how):
    # a corner in the middle of the south wall, or a nib there, makes the east wall the third or the sixth edge
    more = {"corner": "[2600, 0]", "nib": "[2000, 0], [2000, 300], [2300, 300], [2300, 0]"}[how]
    edited = NAMED.replace('{ to = [5200, 0], wall = "south" }', more + ', { to = [5200, 0], wall = "south" }')
    assert edited != NAMED
    before, after = set_out(parse_plan(NAMED + NAMES)), set_out(parse_plan(edited + NAMES))
    assert doors(after) == doors(before)
    pipes = [[collar.at for collar in room.tape.collars] for room in (before.rooms[0], after.rooms[0])]
    assert len(pipes[0]) == 1
    assert tuple(pipes[0][0]) == pytest.approx(tuple(pipes[1][0]))


def test_by_number_a_door_goes_to_another_wall_where_a_corner_is_put_in():
    # why names are worth their letters
    edited = ROOM.replace("[5200, 0]", "[2600, 0], [5200, 0]")
    assert doors(set_out(parse_plan(edited + NUMBERS))) != doors(set_out(parse_plan(ROOM + NUMBERS)))


def test_the_name_of_an_edge_survives_the_round_trip():
    plan = parse_plan(NAMED + NAMES)
    text = plan_toml(plan)
    assert parse_plan(text, plan.source) == plan
    assert 'wall = "south"' in text


def test_a_ring_closed_by_hand_keeps_the_name_of_its_last_wall():
    closed = '[[0, 0], [5200, 0], [5200, 3700], [0, 3700], { to = [0, 0], wall = "west" }]'
    room = parse_plan(ROOM.replace(CORNERS, closed)).rooms[0]
    assert len(room.outline) == 4
    assert room.edge_of("west") == 4


@pytest.mark.parametrize(
    ("text", "place", "words"),
    [
        (NAMED.replace('"north"', '"east"'), "outline[3].wall", '"east" is used twice'),
        (NAMED + '[[rooms.walls]]\nwall = 1\nname = "gate"\n', "walls[0].name", 'the outline calls that wall "south"'),
        (NAMED + '[[rooms.walls]]\nwall = 1\nname = "east"\n', "walls[0].name", 'the outline calls that wall "south"'),
        (ROOM + '[[rooms.walls]]\nwall = 1\nname = "a"\n[[rooms.walls]]\nwall = 2\nname = "a"\n', "walls[1].name", '"a" is used twice'),
        (ROOM + '[[rooms.walls]]\nwall = "b"\nname = "a"\n[[rooms.walls]]\nwall = "a"\nname = "b"\n', "walls[0].wall", "there is no wall 'b'"),
        (NAMED + '[[rooms.openings]]\nwall = "est"\noffset = 0\nwidth = 900\n', "openings[0].wall", "called west, south, east, north"),
        (ROOM + '[[rooms.openings]]\nwall = "wall ²"\noffset = 0\nwidth = 900\n', "openings[0].wall", "there is no wall 'wall ²'"),
    ],
)  # fmt: skip
def test_a_doubtful_wall_is_told(text, place, words):
    message = told(text)
    assert place in message
    assert words in message


DOORS = """
[[rooms.openings]]
name = "door"
wall = 1
offset = 700
width = 900
depth = 240
[[rooms.openings]]
name = "door"
wall = 3
offset = 2000
width = 800
depth = 120
"""


def test_doors_of_one_name_are_two_doors_with_two_names():
    plan = parse_plan(ROOM + DOORS)
    assert [each.name for each in plan.rooms[0].openings] == ["door", "door 2"]
    assert parse_plan(plan_toml(plan), plan.source) == plan
    # a third that is called what the second would be is left its name
    third = DOORS + '[[rooms.openings]]\nname = "door 2"\nwall = 2\noffset = 500\nwidth = 800\n'
    assert [each.name for each in parse_plan(ROOM + third).rooms[0].openings] == ["door", "door 3", "door 2"]


def test_two_doors_of_one_name_are_measured_as_two():
    # found once: equal names gave 39.05 m² of wall tile, other names 38.05
    same, other = (take_off(set_out(parse_plan(ROOM + DOORS.replace("door", "hatch", count)))) for count in (0, 1))
    assert [(i.key, i.quantity) for i in same.items] == [(i.key, i.quantity) for i in other.items]


@pytest.mark.parametrize("want", ["whole", "axis"])
def test_a_pull_to_one_of_two_doors_of_a_name_is_refused(want):
    pull = f'[[rooms.pulls]]\nwant = "{want}"\nto = "door"\n'
    assert 'pulls[0].to: 2 openings are called "door"; give each a name of its own' in told(ROOM + DOORS + pull)
    one = ROOM + DOORS.replace('"door"', '"gate"', 1) + pull
    assert parse_plan(one).rooms[0].pulls[0].to == "door"


def test_a_pull_to_a_name_of_a_door_and_a_wall_is_refused():
    text = NAMED + DOORS.replace('"door"', '"north"', 1) + '[[rooms.pulls]]\nwant = "whole"\nto = "north"\n'
    assert "'north' is the name of 2 things" in told(text)


def test_a_pull_to_a_name_of_a_door_and_a_plinth_is_refused():
    kerb = '[[rooms.plinths]]\nname = "kerb"\noutline = [[2000, 1000], [2400, 1000], [2400, 1400], [2000, 1400]]\n'
    text = ROOM + DOORS.replace('"door"', '"kerb"', 1) + kerb + '[[rooms.pulls]]\nwant = "carry"\nto = "kerb"\n'
    assert "'kerb' is the name of 2 things" in told(text)


def test_a_ramp_that_is_called_as_a_drain_is_refused():
    text = f"""{ROOM}
[[rooms.drains]]
kind = "gully"
at = [1000, 1000]
[[rooms.falls]]
name = "gully 1"
plane = [[0, 0, 0], [5200, 0, 0], [0, 3700, -40]]
"""
    assert "is a drain that it does not go to" in told(text)


def test_new_plans_name_their_walls_and_doors_refer_to_them():
    ring = np.array([[0.0, 0.0], [4000.0, 0.0], [4000.0, 3000.0], [0.0, 3000.0]])
    door = np.array([[4000.0, 1000.0], [4000.0, 1900.0]])
    text = found_plan(FoundRoom("Wash-up", ring, doors=(door,)), note="from a test")
    room = parse_plan(text).rooms[0]
    assert [vertex.wall for vertex in room.outline] == ["side D", "side A", "side B", "side C"]
    assert (room.openings[0].wall, room.edge_of(room.openings[0].wall)) == ("side B", 2)
    # a person puts a corner into side A: the door stays
    edited = text.replace("{ to = [4000, 0], wall", "[1500, 0], { to = [4000, 0], wall")
    assert edited != text
    assert doors(set_out(parse_plan(edited))) == doors(set_out(parse_plan(text)))
    walked = plan_text([(0.0, 0.0), (4000.0, 0.0), (0.0, 3000.0)], name="A", tile=(200.0, 200.0), note="from a test")
    assert [parse_plan(walked).rooms[0].edge_of(f"side {letter}") for letter in "ABC"] == [1, 2, 3]
