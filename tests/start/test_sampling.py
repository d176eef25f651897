"""Starts against starts drawn at random, which are laid and measured: few rooms here, many by `python -m tests.fuzz.starts`."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from layout.tiles.widths import piece_widths, strips
from tests.fuzz import starts
from tests.rooms import plan_text, set_out_room

ALONE = {"movement": "DE_INTERIOR", "wall_tolerance": 0, "start_order": ["least", "narrowest"]}


def test_rooms_drawn_at_random_are_sampled_and_counted(capsys):
    assert starts.main(["--rooms", "2", "--first", "4", "--samples", "4"]) == 0
    said = capsys.readouterr().out
    assert said.startswith("2 rooms")
    assert "beaten" not in said
    assert starts.main(["--rooms", "3", "--seconds", "-1"]) == 0  # no time, no room
    assert "rooms" not in capsys.readouterr().out


def test_a_beaten_start_that_was_told_as_the_best_of_all_is_a_fault(capsys, monkeypatch):
    monkeypatch.setattr(starts, "beaten_by", lambda *_, **__: (7.0, "exact", np.zeros(2)))
    assert starts.main(["--rooms", "1"]) == 1
    assert "beaten by 7.0" in capsys.readouterr().out
    monkeypatch.setattr(starts, "beaten_by", lambda *_, **__: (7.0, "tried", np.zeros(2)))
    assert starts.main(["--rooms", "1"]) == 0


def test_a_searched_start_holds_what_it_gives_where_it_is_rounded():
    # the best start of this herringbone stands a wall at the edge of what is taken for a whole tile: 0.1 mm was left along it
    room = {
        "outline": [[0, 0], [1970, 0], [1970, 1663], [1101, 1663], [1101, 2215], [0, 2215]],
        "structural_joints": [{"line": [[929, 0], [929, 2215]], "width": 8}],
    }
    rules = {"movement": "DE_INTERIOR", "wall_tolerance": 0}
    floor = set_out_room(room, tiles={"floor": {"size": [240, 120], "joint": 4, "pattern": "herringbone"}}, rules=rules).floor
    assert floor.start.method == "search"
    assert floor.start.worst > 40.0
    own = [
        piece_widths(laid.pieces[strips(laid.pieces, laid.cut[:, 0], floor.field.pattern)]) for laid in floor.field.bays if len(laid.pieces)
    ]
    assert floor.start.worst == pytest.approx(np.concatenate(own).min(), abs=0.1)


@pytest.mark.parametrize("first", ["130", "149"])
def test_a_searched_start_is_bounded_by_the_cuts_that_are_told_of_it(capsys, first):
    # the search counted corners of tiles too, which no narrowest cut does: starts laid and measured gave 11 and 1.6 mm more than "none over 1"
    assert starts.main(["--rooms", "1", "--first", first]) == 0
    assert capsys.readouterr().out.startswith("1 rooms, 1 search; ")


def test_a_short_joint_counts_in_the_courses_that_meet_it():
    # a joint at a step is as long as two courses, and counted in all 13 of thirds told as 0.333: the cut there was thought 43, and a start
    # of 56 taken where sampled ones leave 72; and the course first was chosen as if no joint were there
    room = {
        "name": "Room",
        "outline": [[0, 0], [1715, 0], [1715, 1786], [1167, 1786], [1167, 2448], [0, 2448]],
        "structural_joints": [{"line": [[774, 0], [774, 2448]], "width": 8}],
    }
    tile = {"size": [400, 200], "joint": 3, "pattern": "running", "offset": 0.333}
    rules = {"movement": "DE_INTERIOR", "wall_tolerance": 0}
    floor = set_out_room(room, tiles={"floor": tile}, rules=rules).floor
    assert floor.start.worst > 70.0
    pieces = [piece for laid in floor.field.bays for piece in laid.pieces]
    boxes = [shapely.get_coordinates(shapely.minimum_rotated_rectangle(piece))[:3] for piece in pieces]
    sides = np.array([np.sort(np.hypot(*np.diff(box, axis=0).T)) for box in boxes])
    assert sides[sides[:, 1] > 180.0, 0].min() > 70.0


def test_what_a_start_could_give_more_at_walls_out_of_square_is_told():
    # walls run out by 12 mm: they are weighed over all their length, of which the tiles at its ends cut less
    room = {"name": "Room", "outline": [[0, 0], [1726, 0], [1714, 1968], [0, 1960]]}
    tile = {"size": [200, 200], "joint": 4, "least_cut": 1}
    by, method, _ = starts.beaten_by(plan_text(room, tiles={"floor": tile}, rules=ALONE), np.random.default_rng(5), samples=12)
    start = set_out_room(room, tiles={"floor": tile}, rules=ALONE).floor.start
    assert (start.method, method) == ("exact", "exact")
    assert by <= 0.05
    # one of them leaves 0.4 more than the one that is taken, which is within what is told
    other = set_out_room(room, tiles={"floor": {**tile, "start": [155.6, 152.4]}}, rules=ALONE).floor.start
    assert 0.3 < other.smallest - start.smallest <= start.gap <= 1.3
    assert start.known(0.0, joints=False) == "chosen over all starts along the walls, cuts within 1.3 being equal"
    square = set_out_room({**room, "outline": [[0, 0], [1720, 0], [1720, 1964], [0, 1964]]}, tiles={"floor": tile}, rules=ALONE).floor
    assert square.start.gap == 0.0
    assert square.start.known(0.0, joints=False).endswith("cuts within 0 being equal")
    assert shapely.is_valid(square.field.pieces()).all()


STEP_33 = {"outline": [[0, 0], [2131, 0], [2131, 1919], [1588, 1919], [1588, 2388], [0, 2388]]}
STEP_141 = {"outline": [[0, 0], [1715, 0], [1715, 1786], [1167, 1786], [1167, 2448], [0, 2448]]}
ALONG_A_JOINT = {
    "stack": (STEP_33, [1342, 25, 2388], {"size": [300, 150], "joint": 4}, 75.0),
    "thirds": (STEP_141, [774, 8, 2448], {"size": [400, 200], "joint": 3, "pattern": "running", "offset": 0.333}, 72.1),
}


@pytest.mark.parametrize("name", ALONG_A_JOINT)
def test_bays_that_start_for_themselves_across_a_joint_are_searched_along_it(name):
    # no bay moves both ways: the search in both directions had no edge to see; starts laid by hand gave 75 and 72.2 for 74.2 and 71.0
    room, (at, width, high), tile, least = ALONG_A_JOINT[name]
    joints = [{"line": [[at, 0], [at, high]], "width": width}]
    floor = set_out_room({**room, "structural_joints": joints}, tiles={"floor": tile}, rules=ALONE).floor
    assert floor.start.worst >= least
    own = [piece_widths(laid.pieces[strips(laid.pieces, laid.cut[:, 0], floor.field.pattern)]) for laid in floor.field.bays]
    assert np.concatenate(own).min() >= least


STEP_73 = {"outline": [[0, 0], [1838, 0], [1838, 1462], [1132, 1462], [1132, 1996], [0, 1996]]}


def test_each_bay_of_a_bond_starts_for_itself_beside_a_joint_through_a_corner():
    # the bay beyond followed from the first, and which that is was by chance: 62 in the one, where the other way round gives 64
    rules = {"movement": "DE_INTERIOR", "wall_tolerance": 0}
    floor = set_out_room(STEP_73, tiles={"floor": {"size": [300, 150], "joint": 4, "pattern": "running"}}, rules=rules).floor
    assert len(floor.bays) > 1
    own = [piece_widths(laid.pieces[strips(laid.pieces, laid.cut[:, 0], floor.field.pattern)]) for laid in floor.field.bays]
    assert np.concatenate(own).min() >= floor.tile.least_cut
    assert floor.start.worst == pytest.approx(np.concatenate(own).min(), abs=0.1)


def test_a_start_found_both_ways_stands_off_the_edge_where_a_wall_begins_to_cut_tiles():
    # moved up to where wall 3 passes 270 of 300 of a tile, no more, the search gave 118; rounded it cut a strip there, and 95 was taken
    room = {"outline": [[0, 0], [4691, 0], [4691, 1616], [4253, 1616], [4253, 1983], [0, 1983]]}
    tile = {"size": [300, 150], "joint": 4, "pattern": "running", "least_cut": 1}
    floor = set_out_room(room, tiles={"floor": tile}, rules=ALONE).floor
    assert floor.start.worst >= 117.0
    own = [piece_widths(laid.pieces[strips(laid.pieces, laid.cut[:, 0], floor.field.pattern)]) for laid in floor.field.bays]
    assert np.concatenate(own).min() >= 117.0
