"""A free start leaves no shift that would be better in the order of the criteria: what findings offer, and what they do not, is typed and counted again."""

from __future__ import annotations

import json
from collections import Counter

import numpy as np
import pytest
from shapely import Polygon

from layout.setout.conduct import set_out
from layout.start.mends import weak_count
from tests.fuzz.offered import beaten, plan_text_of
from tests.rooms import plan_of
from tests.setout.test_real_rooms import HERE

SMALL = [each for each in json.loads((HERE / "real-rooms-sample.json").read_text())["rooms"] if Polygon(each["outer"]).area < 14e6]


def beside_wall(y):
    """A column 300 x 300 that stands 44 off wall 4, its low side at y."""
    column = {"outline": [[44, y], [344, y], [344, y + 300], [44, y + 300]]}
    return {"outline": [[0, 0], [3000, 0], [3000, 2400], [0, 2400]], "columns": [column]}


@pytest.mark.parametrize("y", [1000, 1203])
def test_a_column_beside_a_wall_leaves_no_weak_piece_where_a_shift_does_not(y):
    # a strip 30 wide stood between column and wall; 10 mm aside both tiles there reach past the column
    room = set_out(plan_of(beside_wall(y))).rooms[0]
    assert not any("nowhere wider" in finding.text for finding in room.findings)
    assert weak_count(room.floor.field) == 0
    assert room.floor.start.worst >= room.floor.tile.least_cut


@pytest.mark.parametrize("number", [14])
def test_no_shift_beside_a_free_start_is_better_in_the_order(number):
    counts: Counter[str] = Counter()
    text = plan_text_of(3, number, SMALL)
    assert not beaten(text, np.random.default_rng([3, number, 1]), counts, own=6)
    assert counts["rooms"] == 1


def test_a_searched_start_takes_the_shift_too_and_stays_bounded():
    # beside the start that the search found 6 mm along the tiles leave no weak piece at the pipes, with cuts as wide
    pipes = [{"at": [700, 800], "diameter": 110}, {"at": [1600, 820], "diameter": 110}]
    tile = {"size": [240, 120], "joint": 4, "pattern": "herringbone"}
    plan = plan_of({"outline": [[0, 0], [2360, 0], [2360, 1700], [0, 1700]], "pipes": pipes}, tiles={"floor": tile})
    floor = set_out(plan).rooms[0].floor
    assert weak_count(floor.field) == 0
    assert floor.mend is None
    assert floor.start.method == "search"
    assert floor.start.worst + floor.start.gap >= 53.5
