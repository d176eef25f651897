"""Narrow places: joints that meet a face beside its arris, gaps that no hand gets into, joints that no grout fills."""

from __future__ import annotations

import pytest

from tests.rooms import set_out_room

BOX = [[0, 0], [6000, 0], [6000, 4000], [0, 4000]]


def box(x, y, w, h):
    return [[x, y], [x + w, y], [x + w, y + h], [x, y + h]]


def found(room, code):
    return [finding for finding in room.findings if finding.code == code]


@pytest.mark.parametrize(("aside", "carried"), [(44, False), (134, False), (136, True)])
def test_a_joint_is_carried_up_a_column_only_well_off_its_arris(aside, carried):
    # the column stands across the structural joint, with an arris `aside` beside it; both its faces across the joint meet it
    room = set_out_room(
        {
            "outline": BOX,
            "tile_height": 2000,
            "structural_joints": [{"line": [[3000, 0], [3000, 4000]], "width": 10}],
            "columns": [{"outline": box(3000 - aside, 1500, 700, 700), "tile_height": 2000}],
        }
    )
    own = [j for j in room.joints if j.kind == "structural" and j.surface.kind == "column-side"]
    told = found(room, "joint-near-arris")
    assert len(own) == (2 if carried else 0)
    assert len(told) == (0 if carried else 2)
    # a tiled column grows by bed and tile, 15 here: the finished arris stands 149 and 151 off
    assert all("not carried up" in each.text for each in told)


@pytest.mark.parametrize(("gap", "told"), [(0, 0), (44, 1), (90, 1), (149, 1), (150, 0), (400, 0)])
def test_a_gap_between_a_column_and_a_wall_is_told_if_it_is_too_narrow(gap, told):
    room = set_out_room({"outline": BOX, "columns": [{"outline": box(gap, 1000, 300, 300)}]})
    own = found(room, "gap-narrow")
    assert len(own) == told
    if told:
        assert f"column 1 stands {gap} from wall 4" in own[0].text
        assert own[0].at == (gap / 2, pytest.approx(1150, abs=150.1))


def test_gaps_between_solids_are_told_and_corners_that_face_each_other_are_not():
    side = {"columns": [{"outline": box(1000, 1000, 300, 300)}], "plinths": [{"outline": box(1390, 1000, 300, 300), "height": 150}]}
    room = set_out_room({"outline": BOX, **side})
    assert ["plinth 1 stands 90 from column 1" in each.text for each in found(room, "gap-narrow")] == [True]
    corner = {"columns": [{"outline": box(1000, 1000, 300, 300)}, {"outline": box(1360, 1360, 300, 300)}]}
    assert found(set_out_room({"outline": BOX, **corner}), "gap-narrow") == []


@pytest.mark.parametrize(
    ("joint", "thickness", "told"), [(4, 12, True), (4.5, 12, False), (6, 12, False), (3, 8, False), (3, 9, True), (2, 4, True)]
)
def test_a_joint_that_resin_grout_does_not_fill_is_told_with_its_source(joint, thickness, told):
    tile = {"size": [200, 200], "joint": joint, "thickness": thickness}
    own = found(set_out_room({"outline": BOX}, tiles={"floor": tile}), "joint-narrow")
    assert bool(own) == told
    assert all("common practice" in each.text for each in own)
