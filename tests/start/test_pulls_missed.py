"""What a start cannot be drawn to is said with its reason, and draws nothing."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from layout.lining.build import build_lining
from layout.start.faces import faces_of
from layout.start.pulls import Carried, Pulls, pulls_of
from tests.rooms import plan_of

WEDGE = [[1200, 500], [1500, 800], [1200, 1100], [900, 800]]
ROOM: dict[str, Any] = {
    "outline": [[0, 0], [3000, 0], [3000, 1500], [2200, 2400], [0, 2400]],
    "openings": [{"name": "askew", "wall": 3, "offset": 100, "width": 700}],
    "drains": [{"kind": "channel", "from": [1800, 400], "to": [2300, 900], "width": 100, "name": "slot"}],
    "columns": [{"name": "wedge", "outline": WEDGE}],
    "plinths": [{"name": "boiler", "outline": [[300, 1500], [800, 1500], [800, 2000], [300, 2000]], "height": 100}],
    "pipes": [{"name": "feed", "at": [450, 1700], "diameter": 50}],
    "fixings": [{"name": "foot", "at": [650, 1800], "size": [60, 60]}],
}


def drawn(room: dict[str, Any], tile: dict[str, Any] | None = None) -> Pulls:
    """The pulls of the floor, before anything is laid."""
    lining = build_lining(plan_of(room, tiles={"floor": {"size": [200, 200], "joint": 6, **(tile or {})}}), 0)
    assert lining.floor.tile is not None
    return pulls_of(faces_of(lining, lining.floor, lining.floor.tile), {})


def test_a_door_and_a_channel_askew_draw_nothing_by_habit():
    straight = {**ROOM, "openings": [{"name": "askew", "wall": 1, "offset": 100, "width": 700}]}
    assert [aim.name for aim in drawn(straight).aims] == ["wall 1 threshold"]
    assert [aim.name for aim in drawn(ROOM).aims] == []
    level = {**straight, "drains": [{"kind": "channel", "from": [1800, 400], "to": [2300, 400], "width": 100, "name": "slot"}]}
    assert [aim.name for aim in drawn(level).aims] == ["wall 1 threshold", "slot"]


@pytest.mark.parametrize(
    ("pull", "words"),
    [
        ({"want": "joint", "to": "wedge"}, "floor: wedge cannot be met: its sides do not stand along the tile joints"),
        ({"want": "joint", "to": "slot"}, "floor: slot cannot be met: its sides do not stand along the tile joints"),
        ({"want": "whole", "to": 3}, "floor: wall 3 cannot be met: no straight edge of the field stands there"),
        ({"want": "whole", "to": "askew"}, "floor: askew cannot be met: no straight edge of the field stands there"),
        ({"want": "axis", "to": 3}, "floor: wall 3 cannot be met: it does not stand along the tile joints"),
        ({"want": "tile", "to": "feed"}, "floor: feed cannot be met: it does not come through the floor"),
        ({"want": "joint", "to": "foot"}, "floor: foot cannot be met: it does not come through the floor"),
    ],
)
def test_what_stands_askew_or_elsewhere_is_told(pull, words):
    made = drawn({**ROOM, "openings": ROOM["openings"] if pull["to"] == "askew" else [], "pulls": [pull]})
    assert [finding.text for finding in made.findings] == [words]
    assert [finding.code for finding in made.findings] == ["pull-missed"]
    assert [aim for aim in made.aims if aim.asked] == []


def test_a_pattern_whose_directions_do_not_part_is_drawn_to_nothing():
    straight = {**ROOM, "openings": [{"name": "door", "wall": 1, "offset": 100, "width": 700}], "pulls": [{"want": "whole", "to": "door"}]}
    made = drawn(straight, {"pattern": "diagonal"})
    assert [finding.text for finding in made.findings] == [
        "floor: pulls cannot be met: a start in diagonal at 45 degrees is searched for its cuts alone"
    ]
    assert made.wishes(0, []) == made.wishes(1, []) == []
    assert [(wish.targets, wish.side, wish.asked) for wish in drawn(straight).wishes(1, [])] == [((10.0,), 1, False), ((10.0,), 1, True)]
    assert drawn(straight).wishes(0, []) == [], "a door draws across its own wall alone"


CARRY = {**ROOM, "pulls": [{"want": "carry", "to": "boiler"}]}


@pytest.mark.parametrize(
    ("tile", "turn", "met"),
    [
        ({}, 0.0, True),
        ({}, 90.0, True),
        ({}, 30.0, False),
        ({"size": [150, 150]}, 0.0, False),
        ({"joint": 4}, 0.0, False),
        ({"pattern": "running", "offset": 0.5}, 0.0, False),
    ],
)
def test_joints_run_on_onto_a_plinth_from_the_same_lattice_only(tile, turn, met):
    tiles = {"floor": {"size": [200, 200], "joint": 6, **tile}, "plinth": {"size": [200, 200], "joint": 6}}
    lining = build_lining(plan_of(CARRY, tiles=tiles), 0)
    top = next(each for each in lining.surfaces if each.name == "boiler top")
    assert top.tile is not None
    assert lining.floor.tile is not None
    floor = Carried("Room", lining.floor.tile, turn, np.array([[10.0, 20.0]]), (lining.floor.region,))
    made = pulls_of(faces_of(lining, top, top.tile), {lining.floor.id: floor})
    assert [aim.wanted for aim in made.aims] == (["joints carried from the floor"] if met else [])
    words = "boiler top: boiler top cannot be met: tile, joint or direction differ from those of Room"
    assert [finding.text for finding in made.findings] == ([] if met else [words])
    if met and turn == 0.0:
        assert made.aims[0].variants == ((((10.0, "edge"),), ((20.0, "edge"),)),)
    if met and turn == 90.0:  # turned a quarter, the tile lies to the left of its corner: its low edge 200 further that way
        ((across, up),) = made.aims[0].variants
        assert [across[0][0], up[0][0]] == pytest.approx([10.0 - 200.0, 20.0])
