"""Bites too small for a saw are told; counted again from the pieces: what of each cut tile is missing, by its area and its box."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from layout.setout.conduct import set_out
from tests.rooms import plan_of

BOX = [[0, 0], [4000, 0], [4000, 3000], [0, 3000]]
# with a start at 164 and a pitch of 206 tiles end at 1600 and begin at 1606: a column of 200 with its joint of 8 takes what is given below
PITCH, JOINT = 206, 8


def beside_a_column(left, **rules):
    """A floor with a column whose joint reaches `left` mm past the edge of the tiles on its left, and just meets those above."""
    x, y = 1600 + JOINT - left, 1606 + 2 * PITCH - 6 - JOINT - 200
    outline = [[x, y], [x + 200, y], [x + 200, y + 200], [x, y + 200]]
    tile = {"size": [200, 200], "joint": 6, "start": [164, 164], "least_cut": 20}
    room = {"outline": BOX, "outline_is": "finished", "columns": [{"outline": outline}]}
    return set_out(plan_of(room, tiles={"floor": tile}, rules=rules))


def told(setout):
    return [finding for finding in setout.rooms[0].findings if finding.code == "small-bite"]


def shaved(setout, up_to):
    """Cut tiles that are whole but for a strip or notch no deeper than `up_to`, by the shapes of the pieces alone."""
    floor = setout.rooms[0].floor
    missing = []
    for index, piece in zip(floor.field.cut, floor.field.pieces(), strict=True):
        gone = shapely.difference(shapely.Polygon(floor.field.outlines(index[None])[0]), piece)
        low_x, low_y, high_x, high_y = gone.bounds
        missing.append(min(high_x - low_x, high_y - low_y))
    return int((np.array(missing) <= up_to).sum())


@pytest.mark.parametrize(("left", "count"), [(1.0, 2), (2.6, 2), (3.5, 0), (40.0, 0)])
def test_what_a_column_shaves_off_is_told_as_deep_and_as_often_as_the_pieces_say(left, count):
    setout = beside_a_column(left)
    assert shaved(setout, 3.0) >= count
    findings = told(setout)
    assert len(findings) == (1 if count else 0)
    if count:
        assert f"column 1 takes {left:.1f} mm off {shaved(setout, 3.0)} tiles" in findings[0].text
        assert f"its joint of 8 may be {8 - left:.1f} instead" in findings[0].text
        assert findings[0].surface is not None
        assert findings[0].at is not None


def test_how_deep_is_told_can_be_given():
    assert told(beside_a_column(2.6, least_bite=2.0)) == []
    assert told(beside_a_column(2.6, least_bite=0)) == []
    assert "4.5 mm" in told(beside_a_column(4.5, least_bite=5.0))[0].text


def test_a_joint_that_is_narrow_already_takes_nothing_up():
    text = told(beside_a_column(2.6, edge_joint_range=[6, 15]))[0].text
    assert "may be" not in text
    assert "grind it off" in text
