"""Joints and given lines of small rooms, asked of the functions that find them: every place and length by hand."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import shapely

from layout.joints.given import (
    carried_lines,
    fixed_lines,
    lines_of_falls,
    near_arris_findings,
    obstacles_of,
    preferred_lines,
    slanted_structural,
    turned_corners,
)
from layout.joints.lines import Bay, MovementJoint, border_joints, break_joints, corner_joints, foot_joints, low_line_findings
from layout.lining.build import build_lining
from tests.falls.test_by_hand import levels_of
from tests.rooms import plan_of

BOX: dict[str, Any] = {"outline": [[0, 0], [3000, 0], [3000, 2000], [0, 2000]]}
ELL: dict[str, Any] = {"outline": [[0, 0], [4000, 0], [4000, 1500], [2500, 1500], [2500, 3000], [0, 3000]]}


def lining_of(room: dict[str, Any], **given: Any):
    return build_lining(plan_of(room, **given), 0)


def test_a_bay_by_its_sides():
    bay = Bay(shapely.box(0, 0, 3000, 2000), (0.0, 0.0), 3000.0, 2000.0)
    assert (bay.area_m2, bay.aspect) == (6.0, 1.5)
    assert bay.between_joints is bay.region
    whole = shapely.box(-100, -100, 3100, 2100)
    assert Bay(bay.region, (0.0, 0.0), 3000.0, 2000.0, whole).between_joints is whole


def test_sealant_runs_round_the_floor_in_the_middle_of_its_joint():
    # 2 of membrane and half of 8: 6 off each wall
    joints = border_joints(lining_of(BOX).floor)
    assert {joint.kind for joint in joints} == {"perimeter"}
    assert sorted(joint.length for joint in joints) == [1988.0, 1988.0, 2988.0, 2988.0]
    assert {joint.label for joint in joints} == {"wall 1", "wall 2", "wall 3", "wall 4"}
    assert {joint.width for joint in joints} == {8.0}
    corners = {tuple(point) for joint in joints for point in joint.line.round(6).tolist()}
    assert corners == {(6.0, 6.0), (2994.0, 6.0), (2994.0, 1994.0), (6.0, 1994.0)}
    door = {**BOX, "openings": [{"name": "door", "wall": 1, "offset": 500, "width": 800}]}
    parted = [joint for joint in border_joints(lining_of(door).floor) if joint.label.startswith("wall 1")]
    assert sorted((joint.kind, round(joint.length)) for joint in parted) == [("perimeter", 494), ("perimeter", 1694), ("threshold", 800)]


def test_rings_round_pipes_and_frames():
    things = {"pipes": [{"at": [500, 500], "diameter": 110}],
              "drains": [{"kind": "channel", "from": [1000, 1000], "to": [2600, 1000], "width": 150, "joint": 8}]}  # fmt: skip
    found = {joint.kind: joint for joint in break_joints(lining_of({**BOX, **things}).floor)}
    pipe, drain = found["pipe"], found["drain"]
    assert np.hypot(*(pipe.line - [500, 500]).T).max() == pytest.approx(55 + pipe.width / 2, abs=0.1)
    assert pipe.why == ""
    assert shapely.MultiPoint(drain.line).bounds == pytest.approx((996, 921, 2604, 1079))
    # the ring's middle: 1608 by 158
    assert drain.length == pytest.approx(2 * (1608 + 158))
    # 16e-6 a degree of a frame of 1600 over 60 degrees: 1.536
    assert drain.why.startswith("a frame 1600 long moves 1.5 mm over 60 K")
    bare = {"drains": [{**things["drains"][0], "joint": 0}]}
    assert break_joints(lining_of({**BOX, **bare}).floor) == []


def test_sealant_in_corners_of_tiled_walls_goes_up_to_the_lower_tile():
    room = {**BOX, "tile_height": 1200, "walls": [{"wall": 3, "tile_height": 0}, {"wall": 2, "tile_height": 900}]}
    found = {joint.label: joint for joint in corner_joints(lining_of(room))}
    assert set(found) == {"wall 1 / wall 2", "wall 1 / wall 4"}
    one, four = found["wall 1 / wall 2"], found["wall 1 / wall 4"]
    assert (one.length, four.length) == (900.0, 1200.0)
    assert one.line[:, 1].tolist() == [0.0, 900.0]
    # from either end of wall 1, 3000 long: 15 of build-up on the other wall (membrane 2, bed 3, tile 10) and half of the joint of 8
    ends = sorted(float(joint.line[0, 0]) for joint in (one, four))
    assert ends == [19.0, 2981.0]
    assert one.line[0, 0] == one.line[1, 0]
    assert corner_joints(lining_of(BOX)) == []


def test_a_cove_is_sealed_along_its_top():
    lining = lining_of({**BOX, "tile_height": 1200}, rules={"foot": "cove"})
    wall = next(each for each in lining.surfaces if each.name == "wall 1")
    (joint,) = foot_joints(wall, lining.plan.rules)
    assert (joint.kind, joint.width, joint.why, joint.label) == ("perimeter", 8.0, "on the cove", "wall 1")
    assert joint.length == pytest.approx(float(np.hypot(*(joint.line[-1] - joint.line[0]))))
    assert foot_joints(lining.floor, lining.plan.rules) == []


def test_structural_joints_along_the_frame_are_cuts_with_their_own_width():
    joints = [
        {"name": "A", "line": [[1500, -50], [1500, 2050]], "width": 20},
        {"name": "B", "line": [[-50, 700], [3050, 700]], "width": 4, "of": "finish"},
        {"name": "C", "line": [[0, 0], [3000, 1000]], "width": 20},
    ]
    lining = lining_of({**BOX, "structural_joints": joints})
    a, b = fixed_lines(lining, lining.floor, 0.0)
    assert (a.axis, a.low, a.width, a.kind, a.why, a.must, a.bridged) == (0, 1490.0, 20.0, "structural", "A", True, True)
    # never under the movement joint's 8
    assert (b.axis, b.low, b.width, b.why, b.bridged) == (1, 696.0, 8.0, "B", False)
    # turned a quarter what ran up runs across: x there is y here, and y there is -x here
    up, across = fixed_lines(lining, lining.floor, 90.0)
    assert (up.axis, up.low, across.axis, across.low) == (1, -1510.0, 0, 696.0)
    ((strip, joint),) = slanted_structural(lining, 0.0)
    assert (joint.kind, joint.width, joint.why, joint.bridged) == ("structural", 20.0, "C", True)
    # its slope is a third, and it ends at the field, 10 off the walls: from 30, 10 to 2990, 997; the strip is 20 wide square to it
    assert strip.area == pytest.approx(20.0 * strip.length / 2, rel=0.01)
    slope = (joint.line[1, 1] - joint.line[0, 1]) / (joint.line[1, 0] - joint.line[0, 0])
    assert slope == pytest.approx(1 / 3)
    assert joint.length == pytest.approx(float(np.hypot(*(joint.line[1] - joint.line[0]))))
    assert joint.line[:, 0].tolist() == pytest.approx([30, 2990])


def test_a_joint_through_a_re_entrant_corner_lies_in_the_narrower_leg():
    lining = lining_of(ELL)
    ((x, y, toward_x, toward_y),) = turned_corners(lining, lining.floor, 0.0)
    # the field's corner stands off both walls by the membrane: 2
    assert (x, y) == pytest.approx((2500, 1500), abs=10)
    assert (toward_x, toward_y) == (1.0, 1.0), "wall 3 leads off to the right, wall 4 upwards"
    across, along = fixed_lines(lining, lining.floor, 0.0)
    assert (across.axis, across.low, across.width) == (0, x, 8.0)
    assert (along.axis, along.low, along.width) == (1, y, 8.0)
    assert across.kind == "intermediate"
    assert across.why == along.why == "through the re-entrant corner"
    # seen from a frame a quarter turned, x is y and y is -x
    ((fx, fy, _, _),) = turned_corners(lining, lining.floor, 90.0)
    assert (fx, fy) == pytest.approx((y, -x))
    mirrored = lining_of({"outline": [[4000 - px, py] for px, py in reversed(ELL["outline"])]})
    (mx, my, to_x, to_y), *_ = turned_corners(mirrored, mirrored.floor, 0.0)
    assert (mx, my, to_x, to_y) == pytest.approx((4000 - x, y, -1.0, 1.0))
    assert fixed_lines(mirrored, mirrored.floor, 0.0)[0].low == pytest.approx(mx - 8.0)
    stub = [[0, 0], [2550, 0], [2550, 1500], [2500, 1500], [2500, 3000], [0, 3000]]
    short = lining_of({"outline": stub})
    assert turned_corners(short, short.floor, 0.0) == [], "a leg of 50 is none"


def test_joints_are_liked_on_column_lines_and_jambs():
    room = {**BOX, "columns": [{"name": "post", "outline": [[1000, 900], [1200, 900], [1200, 1200], [1000, 1200]]}],
            "openings": [{"name": "door", "wall": 1, "offset": 500, "width": 800}, {"name": "hatch", "wall": 2, "offset": 300, "width": 500, "sill": 900}]}  # fmt: skip
    found = [(line.axis, line.at, line.why) for line in preferred_lines(lining_of(room), 0.0)]
    assert found == [
        (0, 1100.0, "on the line of post"), (1, 1050.0, "on the line of post"),
        (0, 500.0, "at the jamb of door"), (0, 1300.0, "at the jamb of door"),
    ]  # fmt: skip
    turned = sorted((line.axis, round(line.at)) for line in preferred_lines(lining_of(room), 90.0))
    assert turned == [(0, 1050), (1, -1300), (1, -1100), (1, -500)]


def test_joints_keep_off_flanges_and_collars():
    room = {**BOX, "drains": [{"kind": "gully", "at": [1000, 1000], "frame": [200, 200]}], "pipes": [{"at": [500, 500], "diameter": 100}]}
    lining = lining_of(room)
    gully, pipe = obstacles_of(lining.floor, 0.0, 60.0)
    assert gully.bounds == pytest.approx((900, 900, 1100, 1100))
    assert pipe.bounds == pytest.approx((450, 450, 550, 550), abs=0.5)
    assert pipe.wanted == 0.0
    assert gully.wanted > 0.0
    assert pipe.rim == pytest.approx(60.0)


def test_high_lines_are_liked_and_low_lines_kept_clear():
    # two gullies with free perimeters: the planes between them meet in a high line halfway, at x = 2000
    gully = {"kind": "gully", "frame": [200, 200]}
    two = levels_of(
        drains=[{**gully, "at": [1000, 1500]}, {**gully, "at": [3000, 1500]}],
        falls=[{"to": "gully 1", "ratio": 60, "perimeter": "free"}, {"to": "gully 2", "ratio": 60, "perimeter": "free"}],
    )
    liked, kept = lines_of_falls(two, 0.0)
    assert {(line.axis, round(line.at)) for line in liked} == {(0, 2000)}
    assert kept == []
    turned, _ = lines_of_falls(two, 90.0)
    assert {(line.axis, round(line.at)) for line in turned} == {(1, -2000)}
    # a channel from wall to wall with planes that fall to it from both sides has none; a fold of two planes has a low line at x = 2000
    planes = [{"name": "l", "plane": [[0, 0, 0], [2000, 0, -20], [0, 3000, 0]], "region": [[0, 0], [2000, 0], [2000, 3000], [0, 3000]]},
              {"name": "r", "plane": [[4000, 0, 0], [2000, 0, -20], [4000, 3000, 0]], "region": [[2000, 0], [4000, 0], [4000, 3000], [2000, 3000]]}]  # fmt: skip
    fold = levels_of(drains=[], falls=planes, tanking_height=0)
    liked, kept = lines_of_falls(fold, 0.0)
    assert liked == []
    (low,) = {(each.axis, round(each.bounds[0]), round(each.bounds[2])) for each in kept}
    assert low == (0, 2000, 2000)
    floor = lining_of(BOX).floor.id

    def joint(x: float, kind: Any = "intermediate") -> MovementJoint:
        return MovementJoint(kind, floor, np.array([[x, 100.0], [x, 1100.0]]), 1000.0, 8.0)

    (told,) = low_line_findings(fold, [joint(2000.0), joint(2020.0), joint(2000.0, "perimeter")])
    assert told.text == "floor: the intermediate joint lies 1.02 m in a low line of the falls; move the joint or the fall"
    assert told.at == (2000.0, 600.0)


def test_a_floor_joint_runs_up_the_wall_that_it_meets_unless_it_is_too_near_its_end():
    lining = lining_of({**BOX, "tile_height": 1200}, rules={"carry_joints": "all"})
    wall = next(each for each in lining.surfaces if each.name == "wall 1")

    def joint(x: float, kind: Any = "intermediate", why: str = "") -> MovementJoint:
        return MovementJoint(kind, lining.floor.id, np.array([[x, 10.0], [x, 1990.0]]), 1980.0, 8.0, why)

    # wall 1 is seen from inside, so that its own axis runs from its left-hand end: x = 3000 in the room
    (made,) = carried_lines(lining, wall, [joint(1200.0, why="on the grid")], 0.0)
    place = made.low + made.width / 2
    assert round(place) in (1200, 1800)
    assert (made.axis, made.width, made.kind, made.must) == (0, 8.0, "intermediate", True)
    assert made.why == "carried up from the floor: on the grid"
    assert carried_lines(lining, wall, [joint(1200.0), joint(1200.2)], 0.0)[0].why == "carried up from the floor"
    assert len(carried_lines(lining, wall, [joint(1200.0), joint(1200.2)], 0.0)) == 1, "two in one place are one"
    assert carried_lines(lining, wall, [joint(40.0)], 0.0) == []
    (told,) = near_arris_findings(lining, wall, [joint(40.0), joint(1200.0)], 0.0)
    assert " meets it " in told.text
    assert told.code == "joint-near-arris"
    assert carried_lines(lining, lining.floor, [joint(1200.0)], 0.0) == []
    plain = lining_of({**BOX, "tile_height": 1200})
    assert [line.kind for line in carried_lines(plain, wall, [joint(1200.0), joint(1200.0, "structural")], 0.0)] == ["structural"]
    none = lining_of({**BOX, "tile_height": 1200}, rules={"carry_joints": "none"})
    assert carried_lines(none, wall, [joint(1200.0, "structural")], 0.0) == []
