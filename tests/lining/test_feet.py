"""What stands at the foot of walls, plinths and columns: every metre of sealant there, counted by hand and from the geometry."""

from __future__ import annotations

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import Polygon

from layout.errors import PlanFaults
from tests.rooms import lined_room, plan_of, set_out_room

# membrane 2, bed 3 and tile 10: 15 to a finished face; joints of 8; a cove 100 high and 30 deep
UP, JOINT, RISE, RUN = 15, 8, 100, 30
TILES = {"floor": {"size": [200, 200], "joint": 6, "thickness": 10, "bed": 3}}
BOX = {
    "outline": [[0, 0], [4000, 0], [4000, 3000], [0, 3000]],
    "tile_height": 2000,
    "openings": [{"wall": 1, "offset": 1000, "width": 900}],
}


def metres(room, *kinds, on=None):
    return sum(j.length for j in room.joints if j.kind in kinds and (on is None or j.surface.kind == on))


def test_a_floor_that_runs_under_keeps_its_joints_and_a_straight_edge_at_the_door():
    room = set_out_room(BOX, tiles=TILES, rules={"foot": "floor-through"})
    # the joint is seen along the finished faces, 15 in: 2 x (4000 - 30 + 3000 - 30) = 13,880, of which 900 at the door
    assert metres(room, "perimeter", on="floor") == pytest.approx(13_880 - 900)
    assert metres(room, "threshold") == pytest.approx(900)
    # the floor ends 2 + 8 from the bare wall, in the doorway too: a rectangle without a notch
    assert room.floor.surface.field.equals(shapely.box(10, 10, 3990, 2990))
    # edge gap 5: 2 + 5 = 7
    near = set_out_room(BOX, tiles=TILES, rules={"foot": "floor-through", "edge_gap": 5})
    assert near.floor.surface.field.bounds == pytest.approx((7, 7, 3993, 2993))


def test_a_gap_that_the_wall_tile_does_not_cover_is_refused():
    with pytest.raises(
        PlanFaults, match=r"rules\.edge_gap: a gap of 14 shows beside wall 1, whose tile and bed cover 13; it may be 0 to 13"
    ):
        plan_of(BOX, tiles=TILES, rules={"foot": "floor-through", "edge_gap": 14})


def test_a_cove_has_a_joint_at_its_toe_and_one_on_its_top():
    room = set_out_room(BOX, tiles=TILES, rules={"foot": "cove", "cove": [RISE, RUN]})
    # toe: centre 2 + 30 + 4 = 36 in, 2 x (3928 + 2928) = 13,712 less the door's 900
    assert metres(room, "perimeter", on="floor") == pytest.approx(13_712 - 900, abs=0.1)
    # top: walls run through or butt by number: 1 keeps 2 off both its neighbours (3996) and 8 off each jamb (900 + 16),
    # 2 and 3 keep 23 off the wall before them and 2 off the one after, 4 keeps 23 off both: 3080 + 2975 + 3975 + 2954
    assert metres(room, "perimeter", on="wall") == pytest.approx(3080 + 2975 + 3975 + 2954)
    (left, right) = (j for j in room.joints if j.surface.name == "wall 1" and j.kind == "perimeter")
    # floor 15, cove 100, half a joint 4
    assert left.line[:, 1].tolist() == right.line[:, 1].tolist() == pytest.approx([119, 119])


@pytest.mark.parametrize("off", [0.0, 2.0])
def test_the_joint_on_a_cove_runs_on_past_a_corner_in_a_straight_wall(off):
    """Wall 3 with a corner in its line, or 2 mm off it: as many metres as without.

    The bend lengthens it by 2² / 2 x (1 / 2300 + 1 / 1700) = 0.002; it and its neighbours end within the 23 of a face, at corners that are
    out of square by 2 / 2300 and 2 / 1700: 2 x 23 x (1 / 1150 + 1 / 850) = 0.094 at the most.
    """
    outline = [[0, 0], [4000, 0], [4000, 3000], [1700, 3000 + off], [0, 3000]]
    room = set_out_room({**BOX, "outline": outline}, tiles=TILES, rules={"foot": "cove", "cove": [RISE, RUN]})
    assert metres(room, "perimeter", on="wall") == pytest.approx(3080 + 2975 + 3975 + 2954, abs=0.001 if off == 0 else 0.096)


def test_a_cove_on_a_plinth_has_its_top_joint_above_the_plinth():
    plinth = {"outline": [[3000, 2000], [4000, 2000], [4000, 3000], [3000, 3000]], "height": 300}
    room = set_out_room({**BOX, "plinths": [plinth]}, tiles=TILES, rules={"foot": "cove", "cove": [RISE, RUN]})
    high = [j for j in room.joints if j.surface.name == "wall 3" and j.kind == "perimeter" and j.line[0, 1] > 300]
    # wall 3 butts wall 2 over the plinth, and keeps 23 off its side: 1000 - 23 + 23; 300 + 15 + 100 + 4
    assert [(round(j.length), j.line[0, 1]) for j in high] == [(1000, pytest.approx(419))]
    # sides: 1000 long each, one grows 15 over the arris, both keep 23 off their wall
    assert metres(room, "plinth", on="plinth-side") == pytest.approx(992 + 977)


feet = st.sampled_from(["wall-through", "floor-through", "cove"])


@st.composite
def rooms(draw):
    """L-shaped rooms on whole millimetres with a door, a plinth against wall 6 and a free column, all clear of each other."""
    w, h = draw(st.integers(4000, 7000)), draw(st.integers(4000, 6000))
    x, y = draw(st.integers(1500, w - 1500)), draw(st.integers(1500, h - 1500))
    outline = [[0, 0], [w, 0], [w, y], [x, y], [x, h], [0, h]]
    room = {"outline": outline, "tile_height": draw(st.sampled_from([600, 2000])), "tanking_height": 300}
    if draw(st.booleans()):
        room["openings"] = [{"wall": 1, "offset": draw(st.integers(100, w - 1100)), "width": 900}]
    if draw(st.booleans()):
        deep, at = draw(st.integers(200, 400)), draw(st.integers(1200, h - 1000))
        room["plinths"] = [{"outline": [[0, at], [deep, at], [deep, at + 500], [0, at + 500]], "height": 150}]
    if draw(st.booleans()):
        cx, cy = draw(st.integers(700, 1000)), draw(st.integers(600, 800))
        room["columns"] = [{"outline": [[cx, cy], [cx + 300, cy], [cx + 300, cy + 250], [cx, cy + 250]]}]
    return room


def inside(shape, off):
    """A shape with every edge moved in, by a buffer: no code is shared with the lining's own offsets."""
    return shape.buffer(-off, join_style="mitre", mitre_limit=50)


@given(rooms(), feet)
def test_every_metre_of_joint_at_feet_is_recounted_from_the_geometry(room, foot):
    made = lined_room(room, tiles=TILES, rules={"foot": foot, "cove": [RISE, RUN]})
    solids = [Polygon(each["outline"]) for kind in ("plinths", "columns") for each in room.get(kind, ())]
    floor = Polygon(room["outline"]).difference(shapely.union_all(solids))
    door = sum(each["width"] for each in room.get("openings", ()))
    # on the floor: the joint's line is 15 + 4 in, or along the faces 15 in, or at the cove's toe 2 + 30 + 4 in, whose ends at a door turn
    # out to the threshold's line 19 in
    line = {"wall-through": UP + JOINT / 2, "floor-through": UP, "cove": 2 + RUN + JOINT / 2}[foot]
    ends = 2 * (2 + RUN - UP) if foot == "cove" and door else 0
    flat = metres(made, "perimeter", "threshold", "plinth", "column", on="floor")
    assert flat == pytest.approx(inside(floor, line).length + ends, abs=0.1)
    assert metres(made, "threshold") == pytest.approx(door + ends, abs=0.1)
    # on a plinth's top: along the wall, over both free sides by the side's build-up
    tops = sum(500 + 2 * UP for _ in room.get("plinths", ()))
    assert metres(made, "plinth", on="plinth-top") == pytest.approx(tops)
    # up the faces: the lower edge of tile as far as it lies on the foot of a cove
    upright = 0.0
    for surface in made.lining.surfaces:
        if surface.placing.line is None:
            continue
        for bottom in {0.0, 150.0} if surface.kind == "wall" else {0.0}:
            level = bottom + UP + RISE + JOINT
            strip = shapely.box(-1e5, level - 0.01, 1e5, level + 0.01)
            pieces = shapely.get_parts(shapely.intersection(shapely.boundary(surface.field), strip))
            upright += sum(piece.bounds[2] - piece.bounds[0] for piece in pieces)
    told = sum(j.length for j in made.joints if j.why == "on the cove")
    assert told == pytest.approx(upright if foot == "cove" else 0.0, abs=0.1)
    assert (told > 0) == (foot == "cove")
