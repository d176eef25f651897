"""Findings: each code on a case of its own, limits with their sources."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from layout.codes import CODES
from layout.plan.values import Tile
from layout.setout.checks import calibre_findings, weak_findings
from layout.setout.conduct import set_out
from tests.rooms import plan_of, set_out_room

BOX = {"outline": [[0, 0], [3000, 0], [3000, 2000], [0, 2000]]}


def codes(tile):
    surface = set_out_room(BOX).lining.floor
    return [finding.code for finding in calibre_findings(surface, tile)]


@pytest.mark.parametrize(("scatter", "joint", "found"), [
    # ANSI A108.02 4.3.8: 3 x the facial variation, never below 1/16 in. 0.8 -> 2.4 mm; 0.4 -> 1.2, raised to 1.6
    (0.8, 2.4, False),
    (0.8, 2.3, True),
    (0.4, 1.6, False),
    (0.4, 1.5, True),
    (2.0, 6.0, False),
])  # fmt: skip
def test_the_joint_against_the_tiles_scatter(scatter, joint, found):
    assert ("joint-under-scatter" in codes(Tile(name="t", scatter=scatter, joint=joint, thickness=5))) is found


@pytest.mark.parametrize(("size", "offset", "found"), [
    # ANSI A108.02: sides above 15 in (381 mm) at most 33 %; a third is normally accepted
    ((600, 150), 0.5, True),
    ((600, 150), 1 / 3, False),
    ((600, 150), 2 / 3, False),
    ((380, 150), 0.5, False),
])  # fmt: skip
def test_long_tiles_in_a_bond(size, offset, found):
    assert ("bond-offset" in codes(Tile(name="t", size=size, pattern="running", offset=offset))) is found


def test_joints_too_narrow_for_resin_grout():
    assert "joint-narrow" in codes(Tile(name="t", joint=2, thickness=8))
    assert "joint-narrow" in codes(Tile(name="t", joint=4, thickness=20))
    assert "joint-narrow" not in codes(Tile(name="t", joint=6, thickness=12))


def test_weak_pieces_are_named_with_the_mend():
    surface = set_out_room(BOX).lining.floor
    neck = shapely.union_all([shapely.box(0, 0, 80, 200), shapely.box(80, 90, 120, 110), shapely.box(120, 0, 200, 200)])
    hole = shapely.box(0, 0, 200, 200).difference(shapely.box(10, 80, 60, 120))
    sound = shapely.box(0, 0, 140, 200)
    found = weak_findings(surface, ["C1", "C2", "C3"], shapely.from_wkb(shapely.to_wkb([neck, hole, sound])))
    assert [f.code for f in found] == ["weak-piece", "weak-piece"]
    assert "C1 has a neck" in found[0].text
    assert "C2 has a hole 10 from its edge" in found[1].text
    assert "split it" in found[0].text


def test_strips_are_told_in_one_finding():
    surface = set_out(plan_of({"outline": [[0, 0], [3000, 0], [3000, 2000], [0, 2000]]})).rooms[0].floor.surface
    found = weak_findings(
        surface, ["C10", "C9", "C1"], np.array([shapely.box(0, 0, 200, 8), shapely.box(0, 0, 29, 90), shapely.box(0, 0, 31, 90)])
    )
    assert len(found) == 1
    assert "nowhere wider than 30: C9, C10;" in found[0].text


def test_a_thin_column_makes_a_weak_piece():
    room = {**BOX, "pipes": [{"at": [1000, 1000], "diameter": 150}]}
    setout = set_out(plan_of(room, tiles={"floor": {"size": [200, 200], "joint": 6, "start": [900, 900]}}))
    found = [f for f in setout.rooms[0].findings if f.code == "weak-piece"]
    assert len(found) == 2
    assert "C6 has a neck" in found[0].text
    # the start given leaves strips of 30 at wall 2
    assert "nowhere wider than 30: C2, C4, C5;" in found[1].text


def test_every_finding_has_a_code_that_is_listed():
    room = {
        "outline": [[0, 0], [9000, 0], [9000, 3000], [4000, 3000], [4000, 5000], [0, 5010]],
        "openings": [{"wall": 1, "offset": 500, "width": 900}, {"wall": 1, "offset": 900, "width": 900}],
        "drains": [{"kind": "channel", "from": [1000, 1500], "to": [8000, 1500]}],
        "tile_height": 2000,
        "falls": [{"to": "channel 1"}],
    }
    findings = set_out_room(room, rules={"movement": "DE_INTERIOR"}).findings
    assert len({finding.code for finding in findings}) > 2
    for finding in findings:
        assert finding.code in CODES
        assert finding.text
