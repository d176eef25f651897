"""Tape asked of the functions that find it: lines, ends and corners worked out by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from layout.room.rings import Tag
from layout.room.shell import Face
from layout.standards.rules import CORNER_PLAY
from layout.tanking.tape import TapeRun, _connected, _to_edges
from tests.rooms import lined_room

BOX = [[0, 0], [4000, 0], [4000, 3000], [0, 3000]]


@pytest.mark.parametrize(
    ("line", "upright"),
    [
        ([[900, 700, 0], [900, 700, 2000]], True),
        ([[0, 700, 0], [3000, 700, 0]], False),  # level
        ([[0, 700, 0], [3000, 700, -40]], False),  # along a floor that falls, along x and along y
        ([[900, 0, 0], [900, 3000, -40]], False),
        ([[900, 700, 0], [900, 700, 0]], False),
    ],
)
def test_a_run_is_upright_where_it_rises_and_goes_nowhere(line, upright):
    run = TapeRun("run", "wall-wall", "internal", np.array(line, dtype=float), 1.0)
    assert run.upright is upright


def told(room):
    made = lined_room(room)
    return made, [str(finding.text) for finding in made.tape.findings]


@pytest.mark.parametrize(("tall", "low"), [(2, ("wall 1", "wall 3")), (4, ("wall 1", "wall 3")), (1, ("wall 2", "wall 4"))])
def test_a_return_is_told_on_the_wall_that_is_tanked_lower(tall, low):
    _, words = told({"outline": BOX, "tanking_height": 200, "walls": [{"wall": tall, "tanking_height": 1800}]})
    assert sum(f"on {name}, tanked to 200 only" in text for text in words for name in low) == 2
    assert len(words) == 2
    assert all("runs up to 1800" in text for text in words)


def bent(angle):
    """A room with one corner of so many degrees inside it, between walls of 3 m; the others far from square."""
    far = [3000 * math.cos(math.radians(angle)), 3000 * math.sin(math.radians(angle))]
    if angle < 180:
        return [[0, 0], [3000, 0], [3300, 2500], far]
    return [[0, 0], [3000, 0], [4600, 2600], [200, 4700], [-3300, 2600], far]


@pytest.mark.parametrize("square", [90.0, 270.0])
@pytest.mark.parametrize(("off", "preformed"), [(-0.97, True), (0.97, True), (-1.03, False), (1.03, False)])
def test_a_preformed_piece_fits_a_corner_that_is_square_but_for_its_play(square, off, preformed):
    outline = bent(square + off * CORNER_PLAY.value)
    made, _ = told({"outline": outline, "tanking_height": 300})
    (piece,) = [each for each in made.tape.corners if math.hypot(*each.at[:2]) < 1.0]
    assert piece.kind == (("internal" if square < 180 else "external") if preformed else "made")
    assert piece.corner == ("III" if square < 180 else "IIE")


def test_a_joint_is_drawn_on_to_the_edge_of_the_membrane_and_keeps_its_bends():
    floor = lined_room({"outline": BOX, "tanking_height": 300}).lining.floor

    def drawn(*line):
        return np.array(_to_edges(np.array(line, dtype=float), floor).coords).tolist()

    assert drawn((120, 1500), (2000, 1500), (2000, 2900)) == [[0, 1500], [2000, 1500], [2000, 3000]]
    assert drawn((3880, 700), (150, 700)) == [[4000, 700], [0, 700]]
    # an end in the field, farther from the edge than any build-up, stays where it is
    assert drawn((900, 700), (3900, 700)) == [[900, 700], [4000, 700]]
    assert drawn((900, 700), (900, 1400), (2500, 1400)) == [[900, 700], [900, 1400], [2500, 1400]]


def test_of_two_edges_beyond_an_end_the_nearer_one_is_taken():
    """Two columns behind each other: the joint ends at the near side of the near one."""
    columns = [{"outline": [[x, 500], [x + w, 500], [x + w, 2500], [x, 2500]]} for x, w in ((1000, 50), (1100, 200))]
    floor = lined_room({"outline": BOX, "tanking_height": 300, "columns": columns}).lining.floor
    line = np.array([(100, 1500), (990, 1500)], dtype=float)
    assert np.array(_to_edges(line, floor).coords).tolist() == [[0, 1500], [1000, 1500]]


def faces_of(points, kept, owner="column"):
    """Faces along a closed ring, some of them alone; those of walls run against their measure."""
    pairs = [(points[k], points[(k + 1) % len(points)]) for k in range(len(points))]
    return [
        Face(*((b, a) if owner == "wall" else (a, b)), 0, 1, 0.0, math.inf, Tag(owner, number=0, run=0, s0=1000.0 * k, s1=1000.0 * (k + 1)))
        for k, (a, b) in enumerate(pairs)
        if k in kept
    ]


ROUND = [(0.0, 0.0), (1000.0, 0.0), (1000.0, 1000.0), (0.0, 1000.0)]


def test_a_run_round_a_column_is_whole_over_the_point_where_its_measure_begins():
    (line,) = _connected(faces_of(ROUND, {0, 2, 3}))
    assert line.tolist() == [[1000, 1000], [0, 1000], [0, 0], [1000, 0]]
    # of three chains the last goes on in the first
    six = [(1000.0 * math.cos(k * math.pi / 3), 1000.0 * math.sin(k * math.pi / 3)) for k in range(6)]
    three = _connected(faces_of(six, {0, 2, 4, 5}))
    assert [len(each) for each in three] == [4, 2]
    assert three[0][0] == pytest.approx(six[4])
    apart = _connected(faces_of(ROUND, {0, 2}))
    assert [each.tolist() for each in apart] == [[[0, 0], [1000, 0]], [[1000, 1000], [0, 1000]]]


def test_runs_along_a_wall_go_from_the_left_as_seen_from_inside():
    points = [(5000.0, 7000.0), (6000.0, 8000.0), (8000.0, 10000.0), (8000.0, 12500.0), (5000.0, 12500.0)]
    (line,) = _connected(faces_of(points, {0, 1, 2}, "wall"))
    # far from the origin, on a slant: the point on the straight is left out, the corner stays
    assert line.tolist() == [[5000, 7000], [8000, 10000], [8000, 12500]]
    assert [each.tolist() for each in _connected(faces_of(points, {0, 1}, "wall"))] == [[[5000, 7000], [8000, 10000]]]
    two = _connected(faces_of(points, {0, 2}, "wall"))
    assert [each[0].tolist() for each in two] == [[8000, 10000], [5000, 7000]]


@pytest.mark.parametrize("level", [0, -80])
def test_tape_follows_a_floor_that_falls_whatever_level_the_floor_has(level):
    """One plane to a channel along wall 1: the foot of wall 2 falls by what tape rises more in its lower corner, and is as long as its slope."""
    channel = {"kind": "channel", "from": [100, 100], "to": [3900, 100], "width": 100}
    room = {"outline": BOX, "tanking_height": 300, "drains": [channel], "falls": [{"to": "channel 1"}], "levels": {"floor": level}}
    runs = {run.name: run for run in lined_room(room).tape.runs}
    low, high = (runs[f"wall–wall, wall {one} / wall {two}"] for one, two in ((1, 2), (2, 3)))
    fall = low.length - high.length
    assert high.length == pytest.approx(300.0)
    assert 25.0 < fall < 60.0, "some 2.9 m at 1 in 50 to 1 in 100"
    side = runs["wall–floor, wall 2"]
    assert sorted(side.line[:, 2].tolist()) == pytest.approx([-fall, 0.0])
    assert side.length == pytest.approx(math.hypot(3000.0, fall))
    assert runs["wall–floor, wall 1"].line[:, 2].tolist() == pytest.approx([-fall, -fall])
    assert (low.upright, high.upright, side.upright) == (True, True, False)
