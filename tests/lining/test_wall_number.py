"""A corner put into a wall gives the walls behind it other numbers: what is typed by number there is told."""

from __future__ import annotations

from tests.rooms import set_out_room

BOX = [[0, 0], [4000, 0], [4000, 3000], [0, 3000]]
PARTED = [[0, 0], [2000, 0], [4000, 0], [4000, 3000], [0, 3000]]
PIPE = {"wall": 3, "offset": 800, "level": 500, "diameter": 50}


def told(outline, **more):
    return [each.text for each in set_out_room({"outline": outline, **more}).findings if each.code == "wall-number"]


def door(wall):
    return [{"name": "hatch", "wall": wall, "offset": 300, "width": 900}]


def test_a_door_and_a_pipe_by_number_behind_a_corner_in_a_wall_are_told():
    assert told(BOX, openings=door(2), pipes=[PIPE]) == []
    (text,) = told(PARTED, openings=door(2), pipes=[PIPE])
    assert text.startswith("a corner stands in the middle of straight wall 1, between edges 1 and 2:")
    assert "hatch (wall = 2), pipe 1 (wall = 3)" in text


def test_what_stands_before_the_corner_or_in_a_wall_with_a_name_is_not_told():
    assert told(PARTED, openings=door(1)) == []
    named = [PARTED[0], {"to": PARTED[1], "wall": "back"}, PARTED[2], {"to": PARTED[3], "wall": "servery"}, PARTED[4]]
    assert told(named, openings=door("servery")) == []
