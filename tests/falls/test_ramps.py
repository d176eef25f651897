"""A ramp is judged as a ramp, and pieces along hips are counted: by plans that must give each finding, and others that must not."""

from __future__ import annotations

from typing import Any

import pytest
import shapely

from layout.codes import CODES
from layout.readers.planfile import parse_plan
from layout.setout.conduct import set_out
from layout.writers.records import setout_record
from tests.rooms import set_out_room

FREE = {"movement": "UK_FLOOR"}
GULLY = {"kind": "gully", "at": [1000, 1500]}
LEFT = [[0, 0], [2000, 0], [2000, 3000], [0, 3000]]
RIGHT = [[2000, 0], [4000, 0], [4000, 3000], [2000, 3000]]


def ramped(rise: float, **more: Any) -> dict[str, str]:
    """Findings of a floor with a ramp of 2000 on its right half, in words by their codes."""
    room = {
        "outline": [[0, 0], [4000, 0], [4000, 3000], [0, 3000]],
        "drains": [GULLY],
        "falls": [
            {"name": "ramp", "plane": [[2000, 0, 0], [4000, 0, rise], [2000, 3000, 0]], "region": RIGHT},
            {"to": "gully 1", "ratio": 80, "region": LEFT},
        ],
        **more,
    }
    return {finding.code: finding.text for finding in set_out_room(room, rules=FREE).findings}


def test_a_ramp_is_not_held_against_the_falls_to_drains():
    found = ramped(100.0)  # 1:20 is steeper than any fall, and a usual ramp
    assert "fall-outside-range" not in found
    assert "ramp-steep" not in found
    assert "no movement joint lies at its foot" in found["ramp-foot"]
    assert "1:20" in found["ramp-foot"]


def test_a_plane_as_flat_as_a_fall_is_no_ramp():
    found = ramped(40.0)  # 1:50
    assert not {"ramp-foot", "ramp-steep", "fall-outside-range"} & found.keys()
    assert "only 1:200" in ramped(10.0)["fall-outside-range"]


@pytest.mark.parametrize(("rise", "steep"), [(166.0, False), (168.0, True), (250.0, True)])
def test_one_in_twelve_is_the_steepest(rise, steep):
    assert ("ramp-steep" in ramped(rise)) == steep  # 2000 / 12 = 166.7


@pytest.mark.parametrize(("at", "told"), [(2000, False), (1960, False), (1800, True)])
def test_a_joint_at_its_foot_is_seen_and_lies_in_no_low_line(at, told):
    found = ramped(100.0, structural_joints=[{"line": [[at, -50], [at, 3050]], "of": "finish"}])
    assert ("ramp-foot" in found) == told
    assert "joint-in-low-line" not in found


def test_a_ramp_that_ends_at_a_wall_has_its_joint_there():
    room = {
        "outline": RIGHT,
        "drains": [],
        "falls": [{"name": "ramp", "plane": [[2000, 0, 0], [4000, 0, 100], [2000, 3000, 0]]}],
    }
    assert "ramp-foot" not in {finding.code for finding in set_out_room(room, rules=FREE).findings}


def test_crumbs_along_hips_are_counted_from_the_pieces():
    done = set_out(parse_plan(CODES["crumbs-at-hips"].example, "test.toml"))
    (told,) = [finding.text for finding in done.rooms[0].findings if finding.code == "crumbs-at-hips"]
    saw = done.rooms[0].floor.surface.saw_lines
    assert saw is not None
    record = setout_record(done, pieces=True)["rooms"][0]["surfaces"][0]["pieces"]
    pieces = [shapely.Polygon(each["outline"], each["holes"]) for each in record if each["mark"] is not None]
    beside = [piece for piece in pieces if piece.distance(saw) < 0.1]
    small = [piece for piece in beside if shapely.maximum_inscribed_circle(piece, tolerance=0.01).length <= 15.0]  # its radius
    assert told.startswith(f"floor: {len(small)} of the {len(beside)} pieces")
    assert len(small) > 0.1 * len(beside)


def test_few_crumbs_are_not_told():
    room = {"outline": LEFT, "drains": [GULLY], "falls": [{"to": "gully 1", "ratio": 60}]}
    large = {"floor": {"size": [100, 100], "joint": 6}}
    found = set_out_room(room, tiles=large, rules={**FREE, "falls": "accept"})
    assert "crumbs-at-hips" not in {finding.code for finding in found.findings}
