from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from layout.standards.rules import RULE_SETS
from tests.rooms import bays_between_drawn_joints, reversed_outline, set_out_room
from tests.strategies import squared


@given(squared(), st.sampled_from(["EJ171_INTERIOR_WET_SUN", "DE_INTERIOR", "UK_FLOOR_HEATED"]))
def test_no_bay_breaks_its_rule_or_a_finding_says_so(given_room, name):
    """Bays polygonised anew from the drawn joints: an independent reading of the drawing."""
    room = set_out_room(given_room, rules={"movement": name})
    rule = RULE_SETS[name]
    broken = any(f.code == "bay-over-rule" for f in room.findings)
    bays = bays_between_drawn_joints(room)
    assert bays
    for piece in bays:
        x0, y0, x1, y1 = piece.bounds
        assert broken or max(x1 - x0, y1 - y0) <= rule.max_edge + 0.2
        assert broken or rule.max_area_m2 is None or piece.area / 1e6 <= rule.max_area_m2 + 1e-3


@given(st.integers(5000, 12000), st.integers(2500, 3500))
def test_whole_tiles_abut_a_movement_joint(length, width):
    room = set_out_room({"outline": [[0, 0], [length, 0], [length, width], [0, width]]})
    longest = max(bay.longest for bay in room.floor.bays)
    joints = [j for j in room.joints if j.kind == "intermediate"]
    assert joints or longest > length - 50
    whole = shapely.union_all(room.floor.field.whole_polygons())
    for joint in joints:
        line = shapely.LineString(joint.line)
        # on both sides the nearest whole tile stands at half the joint's width
        assert line.distance(whole) == pytest.approx(joint.width / 2, abs=0.01)
        beside = [p for p in room.floor.field.whole_polygons() if line.distance(p) < joint.width / 2 + 0.01]
        assert len(beside) >= 2 * math.floor(joint.length / 206) - 2


def test_perimeter_and_centre_lines_add_up_to_their_union():
    room = set_out_room(
        {
            "outline": [[0, 0], [6500, 0], [6500, 2900], [4100, 2900], [4100, 4700], [0, 4700]],
            "openings": [{"wall": 1, "offset": 900, "width": 1000}],
        },
        rules={"movement": "DE_INTERIOR"},
    )
    floor = [j for j in room.joints if j.surface.name == "floor"]
    union = shapely.union_all([shapely.LineString(j.line) for j in floor])
    assert union.length == pytest.approx(sum(j.length for j in floor), rel=1e-3)


def test_a_structural_joint_is_the_datum_and_keeps_its_width():
    room = set_out_room(
        {"outline": [[0, 0], [9000, 0], [9000, 4000], [0, 4000]], "structural_joints": [{"line": [[4500, 0], [4500, 4000]], "width": 25}]},
        rules={"movement": "UK_FLOOR"},
    )
    joint = next(j for j in room.joints if j.kind == "structural")
    assert joint.width == 25
    assert joint.line[:, 0] == pytest.approx([4500, 4500])
    edges = {round(x, 3) for p in room.floor.field.whole_polygons() for x in (p.bounds[0], p.bounds[2])}
    assert {4487.5, 4512.5} <= edges


def test_channels_get_a_sealant_joint_and_small_gullies_none():
    box = [[0, 0], [5000, 0], [5000, 4000], [0, 4000]]
    drains = [{"kind": "gully", "at": [1000, 1000]}, {"kind": "channel", "from": [2500, 500], "to": [2500, 3500], "width": 150}]
    room = set_out_room({"outline": box, "drains": drains})
    rings = [j for j in room.joints if j.kind == "drain"]
    assert [j.label for j in rings] == ["channel 1"]
    assert rings[0].length == pytest.approx(2 * (3000 + 150) + 4 * 8)
    assert not [j for j in set_out_room({"outline": box, "drains": drains}, rules={"drain_joint": 0}).joints if j.kind == "drain"]


@settings(max_examples=10)
@given(squared(holes=False))
def test_joints_run_straight_along_tile_joints(given_room):
    room = set_out_room(given_room)
    assert room.joints
    for joint in room.joints:
        if joint.kind == "intermediate":
            span = np.ptp(joint.line, axis=0)
            assert min(span) < 1e-6


@pytest.mark.parametrize("offset", [0.5, 1 / 3, 0.25])
def test_a_joint_across_the_courses_of_a_bond_leaves_no_slivers(offset):
    """A bond has no straight joint that way: the cut runs beside a joint of one course, where the others keep most."""
    tile = {"size": [240, 115], "joint": 8, "pattern": "running", "offset": offset}
    room = set_out_room({"outline": [[0, 0], [12400, 0], [12400, 3000], [0, 3000]]}, tiles={"floor": tile})
    lows = [joint.line[0, 0] - 4.0 for joint in room.joints if joint.kind == "intermediate"]
    assert len(lows) >= 3
    pieces = shapely.bounds(room.floor.field.pieces())
    for low in lows:
        beside = pieces[(np.abs(pieces[:, 2] - low) < 1.0) | (np.abs(pieces[:, 0] - low - 8.0) < 1.0)]
        widths = beside[:, 2] - beside[:, 0]
        # courses stand off by a part of the pitch: the narrowest piece is one step less the two joints
        assert widths.min() >= min(offset, 1 - offset) * 248 - 16.0


@pytest.mark.parametrize("back", [False, True])
def test_a_doorway_keeps_its_joint_where_its_wall_bends_by_a_hair(back):
    # a wall of three edges that turn by thousandths of a degree; the door is as wide as the first of them, but for 3 mm
    corners = [
        [-31955.4, 4849.2],
        [-30880.21, 5062.36],
        [-30752.68, 5087.64],
        [-31945.56, 10943.09],
        [-34829.49, 10354.78],
        [-33636.62, 4515.9],
    ]
    room = {"outline": corners, "openings": [{"wall": 1, "offset": 0.0, "width": 1093.064}]}
    found = set_out_room(reversed_outline(room) if back else room)
    length = {"threshold": 0.0, "perimeter": 0.0}
    for joint in found.joints:
        if joint.surface.name == "floor" and joint.kind in length and joint.label in ("wall 1", ""):
            length[joint.kind] += joint.length
    assert length["threshold"] == pytest.approx(1093.064, abs=0.1)
    whole = math.dist(corners[5], corners[0]) + math.dist(corners[0], corners[1]) + math.dist(corners[1], corners[2])
    assert length["perimeter"] == pytest.approx(whole - 1093.064 - 12.0, abs=0.5)  # the centre line, 6 off the walls at both ends


@pytest.mark.parametrize("turn", [0, 30])
def test_the_joint_round_a_frame_moves_by_half_its_longer_side_however_it_lies(turn):
    """By hand: a frame 600 long with a joint 10 wide round it has a ring 610 from middle to middle of the joint."""
    drain = {"kind": "gully", "at": [1500, 1000], "frame": [600, 400], "turn": turn}
    room = {"outline": [[0, 0], [3000, 0], [3000, 2000], [0, 2000]], "drains": [drain]}
    made = set_out_room(room, rules={"drain_joint": 10})
    assert [each.design.moving for each in made.joint_types if each.kind == "drain"] == [pytest.approx(305.0)]
