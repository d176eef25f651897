"""At a foot the visible height counts: what stands behind the floor is no part of the cut that courses are weighed by.

By hand: the floor stands 17 above the bare one (membrane 2, bed 5, tile 10). Wall tile that runs down behind it stands on the membrane, so 15 of its
lowest course is covered; above a floor that runs under it, or above a cove, all of it is seen.
"""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from layout.quantities.takeoff import take_off
from layout.setout.conduct import set_out
from layout.setout.residuals import audit
from layout.sheets import elevation_sheet
from layout.sheets.draft import Job, room_job
from layout.sheets.scene import Label
from layout.writers.records import setout_record
from tests.rooms import plan_of

PITCH, SIZE, TOLERANCE = 203.0, 200.0, 5.0
TILES = {
    "floor": {"size": [300, 300], "joint": 3, "bed": 5, "thickness": 10},
    "wall": {"size": [200, 200], "joint": 3, "bed": 5, "thickness": 8},
    "plinth": {"size": [200, 200], "joint": 3, "bed": 5, "thickness": 30},
}
FEET = {"wall-through": (2.0, 15.0), "floor-through": (17.0 + 6.0, 0.0), "cove": (17.0 + 80.0 + 6.0, 0.0)}
"""Where the tile of a wall begins above the bare floor, and how much of its lowest course is covered, mm; joints at the perimeter are 6 wide."""


def room_of(foot, height, **more):
    room = {"outline": [[0, 0], [3000, 0], [3000, 2400], [0, 2400]], "outline_is": "substrate", "tile_height": height, **more}
    return plan_of(room, tiles=TILES, rules={"movement": "DE_INTERIOR", "foot": foot, "membrane": 2, "cove": [80, 30]})


def sampled(low, high, covered):
    """The least of what is seen at the foot and of what is cut at the top, at every tenth of a millimetre of a course's place, and the best."""
    at = np.arange(0.0, PITCH, 0.1)
    foot = np.mod(at + SIZE - low, PITCH)
    foot = np.where(foot >= SIZE, np.inf, foot - covered)  # the joint lies there: a whole tile stands on it
    top = np.mod(high - at, PITCH)
    top = np.where((top >= SIZE) | (top == 0.0), np.inf, top)
    return float(np.minimum(np.minimum(foot, top), SIZE).max())


@pytest.mark.parametrize("height", [1900.0, 2000.0, 2130.0])
@pytest.mark.parametrize("foot", list(FEET))
def test_courses_are_weighed_by_what_is_seen_at_each_foot(foot, height):
    setout = set_out(room_of(foot, height))
    wall = next(each for each in setout.rooms[0].surfaces if each.surface.kind == "wall")
    low, covered = FEET[foot]
    boxes = np.array([shapely.bounds(piece) for piece in wall.field.pieces()])
    assert -0.01 < boxes[:, 1].min() - low < 3.0, "a whole tile may stand on a joint that is wider by what the edge joint takes"
    lowest, highest = (boxes[np.abs(boxes[:, k] - edge) < 0.1] for k, edge in ((1, low), (3, height)))
    foot_piece, top_piece = (min(each[:, 3] - each[:, 1], default=np.inf) for each in (lowest, highest))
    assert min(foot_piece - covered, top_piece, SIZE) >= sampled(low, height, covered) - TOLERANCE - 0.1
    start = setout_record(setout)["rooms"][0]["surfaces"][1]["start"]
    assert start["smallest_cut_mm"] <= foot_piece + 0.01, "what is told as a piece is as high as the piece"
    if covered:
        assert (start["foot_covered_mm"], start["foot_seen_mm"]) == (covered, pytest.approx(foot_piece - covered, abs=0.01))
    else:
        assert wall.start.at_foot is None
        assert "foot_seen_mm" not in start
    assert not audit(setout).breaches


def test_foot_and_top_are_alike_as_seen():
    """1900 less 2 of membrane and 15 of floor: 1883 seen, nine pitches and 56; two cuts of 129.5 with a joint more or less, the foot's piece 144.5."""
    setout = set_out(room_of("wall-through", 1900.0))
    wall = next(each for each in setout.rooms[0].surfaces if each.surface.kind == "wall")
    assert wall.field.origins[0][1] % PITCH == pytest.approx((17.0 + 128.0 + 3.0) % PITCH, abs=TOLERANCE)
    assert wall.start.at_foot is not None
    assert wall.start.at_foot.seen == pytest.approx(128.0, abs=TOLERANCE)


def test_a_sliver_behind_the_floor_is_no_start():
    """A joint 3 under the floor's face would show a whole tile, on a strip of 9 that nobody sees: it is a cut of nothing."""
    for height in (1900.0, 2000.0, 2130.0):
        wall = next(each for each in set_out(room_of("wall-through", height)).rooms[0].surfaces if each.surface.kind == "wall")
        heights = [box[3] - box[1] for box in map(shapely.bounds, wall.field.pieces()) if box[1] < 2.1]
        assert min(heights) > 15.0 + 50.0


def test_a_plinth_covers_the_wall_above_it_by_its_own_tile():
    plinth = {"name": "boiler", "outline": [[1000, 1700], [1900, 1700], [1900, 2400], [1000, 2400]], "height": 300, "tile": "plinth"}
    setout = set_out(room_of("wall-through", 1900.0, plinths=[plinth]))
    surfaces = {each.surface.name: each for each in setout.rooms[0].surfaces}
    behind = surfaces["wall 3"].surface.behind
    assert sorted({depth for _, depth in behind}) == [15.0, 35.0]
    assert {float(line[0, 1]) for line, depth in behind if depth == 35.0} == {300.0 + 2.0}
    sides = [each for name, each in surfaces.items() if name.startswith("boiler side")]
    assert sides
    assert {each.start.at_foot and each.start.at_foot.covered for each in sides} == {15.0}


def test_the_elevation_tells_how_much_is_covered():
    setout = set_out(room_of("wall-through", 1900.0))
    job = Job(setout, take_off(setout), (room_job(setout, 0, None, None),), None, None)
    told = [item.text for draft in elevation_sheet.drafts(job) for item in draft.words if isinstance(item, Label)]
    assert "15 longer" in " ".join(told)
