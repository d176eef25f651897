"""Faults of a plan that are seldom met: each is told with its place and what would be right; and what such keys come to when they are right."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from layout.errors import PlanFaults
from layout.lining.build import build_lining
from layout.plan.patterns import pattern_of, quarter_onto
from layout.plan.tile import Cell, Tile
from layout.readers.planfile import parse_plan
from tests.rooms import plan_of, plan_text

if TYPE_CHECKING:
    from layout.room.outlines import Outline

ROOM: dict[str, Any] = {"name": "Bar", "outline": [[0, 0], [3000, 0], [3000, 2400], [0, 2400]]}
PIPE: dict[str, Any] = {"wall": 1, "offset": 500, "level": 300, "diameter": 50}
SLOT = [[0, 0], [3000, 0], [3000, 2000], [1520, 2000], [1520, 600], [1500, 600], [1500, 2000], [0, 2000]]
CURVED = [[0, 0], [3000, 0], {"to": [3000, 2400], "bulge": 0.2}, [0, 2400]]
OWN = {"joint": 6, "pattern": "own"}


def outline_of(room: dict[str, Any], **given: Any) -> Outline:
    return build_lining(plan_of({**ROOM, **room}, **given), 0).outline


IN_ROOMS: dict[str, tuple[dict[str, Any], str]] = {
    "one corner only": ({"outline": [[5, 5], [5, 5], [5, 5]]}, "outline: fewer than three different corners; give the corners of a room"),
    "two corners only": ({"outline": [[0, 0], [900, 0], [0, 0]]}, "outline: fewer than three different corners"),
    "a reveal that runs into the room": (
        {"outline": SLOT, "openings": [{"wall": 4, "offset": 200, "width": 700, "depth": 300}]},
        "openings: a door's reveal runs into the room: it",
    ),
    "a reveal in a curved wall": (
        {"outline": CURVED, "openings": [{"wall": 2, "offset": 200, "width": 700, "depth": 100}]},
        "openings[0].depth: wall 2 is curved; give depth = 0",
    ),
    "finished faces with no room behind them": (
        {"outline": SLOT, "outline_is": "finished", "tile_height": 2000},
        "outline_is: the build-up does not fit between the finished faces; measure the substrate, or give thinner tiles",
    ),
    "a joint from a point to itself": (
        {"structural_joints": [{"line": [[900, 900], [900, 900]]}]},
        "structural_joints[0].line: its two points are one; give two points of the joint",
    ),
    "a pipe past the end": (
        {"pipes": [{**PIPE, "offset": 2990}]},
        "pipes[0].offset: pipe 1 runs past the end of wall 1 (3000 long); offset may be 25 to 2975",
    ),
    "a pipe in the floor": ({"pipes": [{**PIPE, "level": 20}]}, "pipes[0].level: pipe 1 runs into the floor; give at least 25"),
    "a pipe in no wall": ({"pipes": [{**PIPE, "wall": 9}]}, "there is no wall 9; walls are numbered 1 to 4"),
    "half a place": (
        {"pipes": [{"wall": 1, "offset": 500, "diameter": 50}]},
        "pipes[0]: its place on the wall is not complete; give offset and level",
    ),
}


@pytest.mark.parametrize(("room", "words"), IN_ROOMS.values(), ids=IN_ROOMS)
def test_faults_of_a_room(room, words):
    with pytest.raises(PlanFaults) as caught:
        plan_of({**ROOM, **room})
    assert words in str(caught.value)


HEAD = "[works]\n"
ELSEWHERE: dict[str, tuple[str, str]] = {
    "days as numbers": (HEAD + "days = 5", "works.days: 5 found; give days as mon-sat or mon,wed,fri"),
    "a start as a number": (HEAD + "start = 7", "works.start: 7 found; give a date and time as 2026-11-30T07:00:00"),
    "hands by stage as a number": (HEAD + "stage_hands = 3", "works.stage_hands: 3 found; give hands by stage"),
    "too many hands": (HEAD + "stage_hands = { floor = 500 }", "works.stage_hands.floor: 500 found; give 1 to 50"),
    "a stage that is none": (HEAD + "stage_hands = { roof = 2 }", "works.stage_hands.roof"),
    "several days as one": (
        HEAD + 'weather = [{ date = "2026-12-24 to 2026-12-27", temperature = 9 }]',
        "works.weather[0].date: '2026-12-24 to 2026-12-27' found; give a date as 2026-12-01",
    ),
    "air without humidity": (
        HEAD + 'weather = [{ date = "2026-12-01", temperature = 14, air = 15 }]',
        "works.weather[0].air: it is given without humidity; give both: together they make the dew point",
    ),
    "weights as a list": ("[rules]\nstart_weights = [1]", "rules.start_weights: [1] found; give a table of criteria and weights"),
    "a weight of nothing known": ("[rules]\nstart_weights = { luck = 1 }", "rules.start_weights"),
    "a delivery named twice": (
        '[[deliveries]]\nname = "First"\n[[deliveries]]\nname = "First"',
        'deliveries[1].name: "First" names an earlier delivery too; give each delivery a name of its own',
    ),
    "a joint under an exterior one": (
        '[rules]\nmovement = "EJ171_EXTERIOR_8FT"\nmovement_joint = 10\n[sealant]\ntemperatures = [-20, 60]',
        # 80 K are 144 degF, 44 over 100: three sixteenths of an inch more than 9.53
        "rules.movement_joint: 10 is under the least width of EJ171_EXTERIOR_8FT; give at least 14.2925",
    ),
}


@pytest.mark.parametrize(("head", "words"), ELSEWHERE.values(), ids=ELSEWHERE)
def test_faults_outside_the_rooms(head, words):
    with pytest.raises(PlanFaults) as caught:
        parse_plan(head + "\n" + plan_text(ROOM).replace("[rules]\n", ""))
    assert words in str(caught.value)


def cell(*tiles: list[list[float]]) -> dict[str, Any]:
    return {**OWN, "cell": {"tiles": list(tiles), "vectors": [[206, 0], [0, 206]]}}


OF_TILES: dict[str, tuple[dict[str, Any], str]] = {
    "a least cut over the tile": (
        {"size": [300, 200], "joint": 6, "least_cut": 250},
        "tiles.floor.least_cut: 250 mm is more than the tile; give at most 200",
    ),
    "a start fixed twice": (
        {"size": [200, 200], "joint": 6, "start": [20, 20], "start_line": {"wall": 1, "at": 120}},
        "tiles.floor.start_line: the start is fixed already; give start or start_line",
    ),
    "a tile of a cell without area": (
        cell([[0, 0], [200, 0], [200, 200], [0, 200]], [[0, 0], [100, 0], [200, 0]]),
        "tile 2 of the cell has no area",
    ),
}


@pytest.mark.parametrize(("tile", "words"), OF_TILES.values(), ids=OF_TILES)
def test_faults_of_a_tile(tile, words):
    with pytest.raises(PlanFaults) as caught:
        plan_of(ROOM, tiles={"floor": tile})
    assert words in str(caught.value)


def test_a_start_of_the_works_may_be_a_date_alone():
    works = parse_plan("[works]\nstart = 2026-11-30\nstage_hands = { floor = 3 }\n" + plan_text(ROOM)).works
    assert works.start == dt.datetime(2026, 11, 30)  # noqa: DTZ001  # the site's clock
    assert works.stage_hands == {"floor": 3}


def test_weights_are_read_by_their_criteria():
    plan = plan_of(ROOM, rules={"start_weights": {"narrowest": 1, "pulls": 0.5}})
    assert plan.rules.start_weights == (("narrowest", 1.0), ("pulls", 0.5))


def test_a_door_stands_in_the_wall_that_a_note_names():
    room = {"walls": [{"wall": 3, "name": "servery"}], "openings": [{"wall": "servery", "offset": 400, "width": 900}]}
    outline = outline_of(room)
    (door,) = outline.openings
    assert outline.walls[door.wall].run.number == 3
    assert (door.s0, door.s1) == (400.0, 1300.0)


def test_a_wall_of_no_length_is_the_one_before_it():
    outline = [[0, 0], [3000, 0], [3000, 0], [3000, 2400], [0, 2400]]
    (door,) = outline_of({"outline": outline, "openings": [{"wall": 2, "offset": 0, "width": 900, "from": "left"}]}).openings
    assert door.wall == 0
    first = [[0, 0], [0, 0], [3000, 0], [3000, 2400], [0, 2400]]
    own = outline_of({"outline": first, "openings": [{"wall": 1, "offset": 0, "width": 900, "from": "left"}]})
    assert own.walls[own.openings[0].wall].run.number == 5, "before the first comes the last"


def test_a_door_typed_on_finished_faces_stands_as_far_from_the_bare_corner_as_the_build_up_is_thick():
    room = {"outline_is": "finished", "tile_height": 2000, "openings": [{"wall": 1, "offset": 500, "width": 800}]}
    outline = outline_of(room)
    (door,) = outline.openings
    # tile 10, bed 3, membrane 2: the bare wall begins 15 further out
    assert (door.s0, door.s1) == (515.0, 1315.0)
    assert outline.walls[0].run.length == 3030.0


def test_a_pattern_of_two_shapes_is_turned_onto_itself_shape_by_shape():
    def own(*tiles: tuple[tuple[float, float], ...]) -> Tile:
        return Tile(name="t", joint=0.001, pattern="own", cell=Cell(tiles=tiles, vectors=((200, 0), (0, 200))))

    square = ((0, 0), (100, 0), (100, 100), (0, 100))
    halves = (((100, 0), (200, 0), (200, 100)), ((100, 0), (200, 100), (100, 100)))
    upper = (((0, 100), (200, 100), (200, 200), (0, 200)),)
    # a square, two triangles and a long tile: turned by a half the triangles change places, and the square stands where they stood
    whole = pattern_of(own(square, *halves, *upper))
    assert quarter_onto(whole, 2) is None
    even = pattern_of(own(*halves, ((0, 0), (100, 0), (100, 100), (0, 100)), ((0, 100), (100, 100), (100, 200), (0, 200)),
                          ((100, 100), (200, 100), (200, 200), (100, 200))))  # fmt: skip
    shift = quarter_onto(even, 2)
    assert shift is not None
    # the first triangle, right-angled at 200, 0, turned about the origin is so at -200, 0: the second is at 100, 100, so 300 and 100 off
    assert np.mod(-shift, 200.0) == pytest.approx([300.0 - 200.0, 100.0])
