"""Bites of a few millimetres beside a frame are taken up by the joint round it; counted by hand from the gully's place."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from layout.setout.conduct import set_out
from layout.setout.residuals import audit
from tests.rooms import plan_of

BOX = [[0, 0], [4000, 0], [4000, 3000], [0, 3000]]
# pitch 206: a tile's edge at 1400 both ways, where the frame of 200 stands if its middle is at 1500
FLUSH = 1400 % 206


def gully_by(off, turn=0.0, joint=None, **rules):
    """A floor that starts so that a gully stands in a tile's place, but for `off` mm along x."""
    drain = {"kind": "gully", "at": [1500 + off, 1500], "frame": [200, 200], "turn": turn}
    if joint is not None:
        drain["joint"] = joint
    tile = {"size": [200, 200], "joint": 6, "start": [FLUSH, FLUSH], "least_cut": 20}
    return set_out(plan_of({"outline": BOX, "drains": [drain]}, tiles={"floor": tile}, rules=rules))


def pieces_at_the_gully(setout):
    floor = setout.rooms[0].floor
    near = shapely.distance(floor.field.pieces(), floor.surface.breaks[0].shape) < 10.0
    return int(near.sum())


@pytest.mark.parametrize(("off", "cut"), [(0, 0), (1, 0), (-2.5, 0), (3, 0), (3.5, 2), (-40, 2)])
def test_up_to_three_millimetres_are_taken_up(off, cut):
    # off: the joint of 6 on one side would take `off` off the tile beside, the far side leaves a sliver of it or a wider joint
    setout = gully_by(off)
    assert pieces_at_the_gully(setout) in ((0,) if cut == 0 else (1, 2, 3))
    hole, frame = setout.rooms[0].floor.surface.breaks[0].hole.bounds, setout.rooms[0].floor.surface.breaks[0].shape.bounds
    sides = np.abs(np.array(hole) - np.array(frame))
    expected = np.full(4, 6.0)
    if cut == 0 and off:
        expected[2 if off > 0 else 0] = 6.0 - abs(off)
    assert sides == pytest.approx(expected, abs=0.01)
    told = [finding for finding in setout.rooms[0].findings if finding.code == "frame-joint-closed"]
    assert len(told) == (1 if cut == 0 and off else 0)
    assert not audit(setout).breaches


def test_the_rule_can_be_given_and_never_leaves_less_than_the_least_joint():
    assert pieces_at_the_gully(gully_by(1, frame_joint_play=0)) > 0
    assert pieces_at_the_gully(gully_by(4, frame_joint_play=10)) == 0
    # 6 - 5 is under the least joint of 1.6
    assert pieces_at_the_gully(gully_by(5, frame_joint_play=10)) > 0


def test_a_frame_askew_is_cut_to():
    setout = gully_by(1, turn=10.0)
    assert pieces_at_the_gully(setout) > 1
    assert "frame-joint-closed" not in {finding.code for finding in setout.rooms[0].findings}


def test_a_bite_deeper_by_a_rounding_is_taken_up_to_what_the_joint_may_give():
    """A gully in a room typed at an odd angle: 3 become 3.0005 and are 3 still, its joint no narrower than the rule lets it be."""
    setout = gully_by(3, frame_joint_play=2.9995)
    assert pieces_at_the_gully(setout) == 0
    own = setout.rooms[0].floor.surface.breaks[0]
    sides = np.abs(np.array(own.hole.bounds) - np.array(own.shape.bounds))
    assert sides.min() == pytest.approx(6 - 2.9995, abs=1e-9)
    assert pieces_at_the_gully(gully_by(3, frame_joint_play=2.9)) > 0
