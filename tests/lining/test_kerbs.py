"""Upstands and steps across doors: faces, tops, tape and corner pieces as of any plinth, counted by hand."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import Polygon

from layout.errors import PlanFaults
from layout.quantities.takeoff import take_off
from layout.setout.conduct import set_out
from tests.rooms import plan_of, set_out_room

# membrane 2, bed 3 and tile 10: 15 to a finished face
BOX = {"outline": [[0, 0], [4000, 0], [4000, 3000], [0, 3000]], "tanking_height": 300, "tile_height": 2000}


def with_door(threshold, depth, height=150, **more):
    door = {"wall": 1, "offset": 1000, "width": 900, "depth": depth, "threshold": threshold, "threshold_height": height, **more}
    return {**BOX, "openings": [door]}


def figures(room):
    setout = set_out(plan_of(room))
    items = {item.key: item.quantity for item in take_off(setout).items}
    return setout.rooms[0], items


@pytest.mark.parametrize("threshold", ["upstand", "step"])
def test_an_upstand_in_a_deep_doorway_is_taped_tanked_and_tiled(threshold):
    plain, before = figures(with_door("strip", 120))
    room, after = figures(with_door(threshold, 120))
    # tape: along its foot 900, up both its ends 2 x 150, along both ends of its top 2 x 100
    assert after["tape.internal"] - before["tape.internal"] == pytest.approx((900 + 300 + 200) / 1000)
    assert after["tape.external"] == before["tape.external"]
    # a III piece at each end of its foot, a IIE one at each end of its top edge, as of a plinth against a wall
    assert room.tape.count("internal") - plain.tape.count("internal") == 2
    assert room.tape.count("external") - plain.tape.count("external") == 2
    assert room.tape.count("made") == 0
    # membrane: face 900 x 150, top 900 x 100, both jambs above the top 2 x 100 x (300 - 150)
    extra = (900 * 150 + 900 * 100 + 2 * 100 * 150) / 1e6
    assert after["membrane_area"] - before["membrane_area"] == pytest.approx(extra)
    tiled = {done.surface.name: done.surface for done in room.surfaces}
    # the face is tiled from 2 above the membrane's foot to a joint and a tile under the top's own tile: 150 + 15 - 10 - 6 = 149;
    # it runs through at both jambs, a membrane's 2 off the wall, as plinths do before reveals
    assert tiled[f"opening 1 {threshold} side 1"].region.bounds == pytest.approx((2, 2, 898, 149))
    # the top covers the face's 15 and keeps 8 off the line where the membrane ends, 23 off the jambs
    assert tiled[f"opening 1 {threshold} top"].region.equals(shapely.box(1023, -212, 1877, -105))
    # its upper edge takes a trim
    assert after["edge_trim"] - before["edge_trim"] == pytest.approx(0.9)


def test_the_membrane_ends_behind_the_top_of_an_upstand():
    room = set_out_room(with_door("upstand", 120))
    (end,) = [each for each in room.membrane.terminations if each.kind == "threshold"]
    assert end.line == pytest.approx(np.array([[1900, -220, 150], [1000, -220, 150]]))
    (run,) = [each for each in room.tape.runs if each.kind == "threshold"]
    assert run.line[:, 2].tolist() == [150, 150]
    assert run.length == pytest.approx(900)


def test_the_floor_keeps_its_joint_off_the_face_of_an_upstand():
    room = set_out_room(with_door("upstand", 120))
    # depth 120, face 15 and joint 8 before it
    assert room.floor.surface.region.bounds[1] == pytest.approx(-(120 - 15 - 8))
    (joint,) = [each for each in room.joints if each.kind == "threshold"]
    # between the jambs' joints: 900 - 2 x (15 + 4); half a joint before the face
    assert joint.length == pytest.approx(862)
    assert joint.line[:, 1].tolist() == pytest.approx([-101, -101])


def test_an_upstand_in_line_with_its_wall_has_no_corner_at_its_foot():
    plain, before = figures(with_door("strip", 0))
    room, after = figures(with_door("upstand", 0, 150, threshold_width=200))
    # foot 900, ends of the top 2 x 200; its face runs on in the wall's: nothing upright
    assert after["tape.internal"] - before["tape.internal"] == pytest.approx((900 + 400) / 1000)
    assert room.tape.count("internal") == plain.tape.count("internal") == 4
    # an arris of three free edges at each end of its top edge is made from tape
    assert room.tape.count("made") - plain.tape.count("made") == 2
    # the door has no reveal of its own to tile or tank: face 900 x 150 and top 900 x 200
    assert after["membrane_area"] - before["membrane_area"] == pytest.approx((900 * 150 + 900 * 200) / 1e6)
    assert room.floor.surface.field.equals(plain.floor.surface.field)


def test_a_threshold_without_height_changes_nothing():
    assert figures(with_door("upstand", 120, 0))[1] == figures(with_door("strip", 120, 0))[1]


def test_an_upstand_across_a_curved_wall_is_refused():
    outline = [[0, 0], {"to": [4000, 0], "bulge": 0.2}, [4000, 3000], [0, 3000]]
    with pytest.raises(PlanFaults, match=r"openings\[0\]\.threshold: wall 1 is curved"):
        set_out_room({**with_door("upstand", 0), "outline": outline})


def test_a_plinths_top_keeps_off_a_wall_out_of_square_over_its_free_edges_too():
    """A top grows over its sides; where they meet a slanting wall it must not grow past the wall's joint."""
    plinth = {"height": 150, "outline": [[1000, 1500], [1600, 1500], [1600, 2014], [1000, 2020]]}
    room = set_out_room({"outline": [[0, 0], [3000, 0], [3000, 2000], [0, 2030]], "plinths": [plinth]})
    (top,) = [s for s in room.lining.surfaces if s.kind == "plinth-top"]
    # the wall falls 30 in 3000; membrane 2 and joint 8 off it, square to it; the sides' 15 beside
    slope, off = -30 / 3000, 10 * (1 + (30 / 3000) ** 2) ** 0.5

    def wall(x):
        return 2030 + slope * x - off

    wanted = Polygon([(985, 1485), (1615, 1485), (1615, wall(1615)), (985, wall(985))])
    assert shapely.hausdorff_distance(top.region, wanted) < 1e-3
    # its joint: 600 + 2 x 15 along the wall
    (joint,) = [j for j in room.joints if j.surface == top.id]
    assert joint.length == pytest.approx(630 * (1 + slope**2) ** 0.5, abs=0.1)
