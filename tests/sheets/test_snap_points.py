"""The points that a line is struck between, by hand in rooms with straight and curved walls."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest

from layout.setout.conduct import set_out
from layout.sheets.snap_points import along_its_wall, struck_between, where
from tests.rooms import plan_of

if TYPE_CHECKING:
    from layout.start.start_lines import StartLine

BOX: dict[str, Any] = {"outline": [[0, 0], [2000, 0], [2000, 1500], [0, 1500]], "tanking_height": 0}
ENDS = {"outline": [[0, 0], [2000, 0], {"to": [2000, 1000], "bulge": 1.0}, [0, 1000], {"to": [0, 0], "bulge": 1.0}], "tanking_height": 0}


def room_of(room: dict[str, Any]):
    """The room set out, and a line of its floor to be moved about."""
    if isinstance(room["outline"][-1], dict):  # the arc that arrives at the first corner is typed there
        bulge = room["outline"][-1]["bulge"]
        room = {**room, "outline": [{"to": room["outline"][0], "bulge": bulge}, *room["outline"][1:-1]]}
    done = set_out(plan_of(room)).rooms[0]
    return done, done.floor.start.lines[0]


@pytest.fixture(scope="module")
def box():
    return room_of(BOX)


@pytest.fixture(scope="module")
def stadium():
    return room_of(ENDS)


def line(plain: StartLine, start, end) -> StartLine:
    return replace(plain, start=start, end=end)


def test_a_line_between_two_walls_is_struck_from_the_nearer_corner_of_each(box):
    room, plain = box
    low, high = struck_between(room, line(plain, (700.0, 10.0), (700.0, 1490.0)))
    assert (low.wall, low.corner_with, low.along) == pytest.approx((1, 4, 700.0))
    assert (high.wall, high.corner_with, high.along) == pytest.approx((3, 4, 700.0))
    assert low.at == pytest.approx((700.0, 0.0))
    assert high.at == pytest.approx((700.0, 1500.0))
    right, _ = struck_between(room, line(plain, (1600.0, 10.0), (1600.0, 1490.0)))
    assert (right.corner_with, right.along) == pytest.approx((2, 400.0))
    assert len(where((low, high))) == 2


def test_a_line_with_one_distance_is_not_measured_square_off_its_wall(box):
    room, plain = box
    assert len(plain.offsets) == 2
    assert along_its_wall(room, plain)
    assert not along_its_wall(room, replace(plain, offsets=plain.offsets[:1]))
    assert not along_its_wall(room, replace(plain, end=(plain.end[0] + 300.0, plain.end[1] + 300.0)))


def test_between_straight_walls_that_only_curves_part_no_corner_is_found(stadium):
    room, plain = stadium
    assert [wall.run.straight for wall in room.lining.outline.walls].count(True) == 2
    assert struck_between(room, line(plain, (700.0, 10.0), (700.0, 990.0))) == ()


def test_a_line_that_ends_at_curves_is_struck_between_no_points(stadium):
    room, plain = stadium
    assert struck_between(room, line(plain, (-480.0, 500.0), (2480.0, 500.0))) == ()
