"""What of a drawing read again goes into a plan: three tables by hand, and the words for what was taken and left."""

from __future__ import annotations

from typing import Any

import pytest

from layout.survey.merging import merged, said, same

RING: list[Any] = [[0, 0], [4000, 0], [4000, 2600], [0, 2600]]
OTHER: list[Any] = [[0, 0], [4100, 0], [4100, 2600], [0, 2600]]
FIVE: list[Any] = [*RING, [0, 1300]]
POST: dict[str, Any] = {"outline": [[1000, 1000], [1300, 1000], [1300, 1300], [1000, 1300]]}


def table(**room: Any) -> dict[str, Any]:
    return {"rooms": [{"name": "Bar", "outline": RING, **room}]}


def moved(thing: dict[str, Any], by: float) -> dict[str, Any]:
    return {"outline": [[x + by, y] for x, y in thing["outline"]]}


def test_of_a_plan_whose_drawing_nobody_knows_no_corner_is_changed_and_each_is_told():
    made = merged(table(), None, table(outline=OTHER))
    assert made.values == {}
    assert made.left == [
        "corner 2: the plan says [4000, 0], the drawing [4100, 0]; left as the plan has it",
        "corner 3: the plan says [4000, 2600], the drawing [4100, 2600]; left as the plan has it",
    ]
    assert merged(table(), None, table(outline=FIVE)).left == [
        "outline: the plan says 4 corners, the drawing 5 corners; left as the plan has it"
    ]
    # a corner that is a table in the plan, with its wall's name, is the same corner
    named = [{"to": [0, 0], "wall": "servery"}, *RING[1:]]
    assert merged(table(outline=named), None, table()).left == []
    assert merged(table(outline=named), table(), table()).left == []


@pytest.mark.parametrize(
    ("mine", "then", "now", "values", "left"),
    [
        (RING, RING, FIVE, {("rooms", 0, "outline"): FIVE}, []),
        (FIVE, RING, RING, {}, []),
        (FIVE, RING, OTHER, {}, ["outline: the plan says 5 corners, the drawing 4 corners; left as the plan has it"]),
    ],
)
def test_an_outline_of_another_number_of_corners_is_taken_as_a_whole_where_the_plan_has_the_old_one(mine, then, now, values, left):
    made = merged(table(outline=mine), table(outline=then), table(outline=now))
    assert made.values == values
    assert made.left == left


def test_the_rooms_height_is_taken_where_nobody_changed_it():
    taken = merged(table(height=2400), table(height=2400), table(height=2550))
    assert taken.values == {("rooms", 0, "height"): 2550}
    assert taken.applied == ["height: 2400 → 2550"]
    both = merged(table(height=2500), table(height=2400), table(height=2550))
    assert both.values == {}
    assert both.left == ["height: the plan says 2500, the drawing 2550; left as the plan has it"]
    assert merged(table(), None, table(height=2550)).left == ["height: the plan says nothing, the drawing 2550; left as the plan has it"]
    assert merged(table(height=2400), table(height=2400), table()).values == {}


def test_a_column_that_moved_in_the_drawing_moves_in_the_plan():
    made = merged(table(columns=[POST]), table(columns=[POST]), table(columns=[moved(POST, 60)]))
    assert made.values == {("rooms", 0, "columns", 0, "outline"): moved(POST, 60)["outline"]}
    # one too far off to be the same is taken out and put in, its first corner told
    far = merged(table(columns=[POST]), table(columns=[POST]), table(columns=[moved(POST, 2000)]))
    assert far.values == {("rooms", 0, "columns", 0): None}
    assert far.added == [("columns", moved(POST, 2000))]
    assert far.applied == ["column 1 at [1000, 1000]: taken out, the drawing has it no more", "column at [3000, 1000]: added"]


def test_what_a_person_took_out_stays_out_and_is_told_only_if_it_moved():
    assert merged(table(), table(columns=[POST]), table(columns=[POST])).left == []
    assert merged(table(), table(columns=[POST]), table(columns=[moved(POST, 60)])).left == [
        "column 1: taken out of the plan, and the drawing has it at [1060, 1000] now; left out"
    ]
    gone = merged(table(), table(columns=[POST]), table())
    assert (gone.values, gone.left, gone.added) == ({}, [], [])


def test_a_channel_is_not_the_gully_that_lay_there():
    gully, channel = ({"kind": kind, "at": [2000, 1200]} for kind in ("gully", "channel"))
    made = merged(table(drains=[gully]), table(drains=[gully]), table(drains=[channel]))
    assert made.values == {("rooms", 0, "drains", 0): None}
    assert made.added == [("drains", channel)]


def test_a_door_is_known_by_its_middle_in_the_wall_however_the_wall_is_called():
    door = {"wall": 1, "offset": 500, "width": 900}
    named = [RING[0], {"to": [4000, 0], "wall": "servery"}, *RING[2:]]
    drawn = {"wall": "servery", "offset": 560, "width": 900}
    made = merged(table(openings=[door]), table(openings=[door]), table(outline=named, openings=[drawn]))
    assert made.values["rooms", 0, "openings", 0, "offset"] == 560
    # one told from the other end of its wall, or in a wall that is not there, is none of the drawing's: the drawing's is new
    for own in ({**door, "from": "right"}, {**door, "wall": "nowhere"}):
        made = merged(table(openings=[own]), table(), table(openings=[door]))
        assert made.added == [("openings", door)]
        assert made.applied == ["opening at 500 along 1: added"]


@pytest.mark.parametrize(
    ("one", "other", "alike"),
    [
        ({"to": [1, 2], "wall": "a"}, [1, 2], True),
        ([1, 2], {"to": [1, 2.5], "wall": "a"}, False),
        ([1, 2], {"to": [1, 2], "bulge": 0.1}, True),
        (1, 1.0, True),
        ("gully", "channel", False),
        ([1], [1, 2], False),
    ],
)
def test_values_that_say_the_same(one, other, alike):
    assert same(one, other) is alike


def test_values_as_a_file_shows_them():
    assert [said(each) for each in (None, [1.0, 2.5], {"to": [3, 4], "wall": "a"}, 7, "a")] == ["nothing", "[1, 2.5]", "[3, 4]", "7", "a"]
