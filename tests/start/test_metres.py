"""Of cuts equal within the walls' tolerance a long wall in view goes before a short nib, metre by metre.

The room's numbers are reckoned by hand: tile 200, joint 6, and two walls 4050 apart, so that the cuts at their ends are 65 and 65 or 168 and 168.
A column stands so that its two faces leave 166 beside the first and 63 beside the second.
"""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from layout.changes.variants import compare
from layout.plan.wishes import Measures, criteria_of
from layout.setout.conduct import set_out
from layout.start.offsets import best_offsets, measures
from layout.start.walls import Walls
from layout.writers.records import compare_record, setout_record
from tests.rooms import plan_of

PITCH, SIZE, LEAST, TOLERANCE = 206.0, 200.0, 100.0, 5.0
ENDS, LONG = (0.0, 4050.0), 3000.0


def by_hand(face: float, wide: float, hidden: str = "") -> Walls:
    """Two long walls and the two faces, 400 long, of a column that is `wide`; what is `hidden` is out of view."""
    walls = Walls.plain([*ENDS, face, face + wide], [True, False, False, True], np.zeros(4))
    fields = {name: getattr(walls, name) for name in Walls.__dataclass_fields__}
    behind = {"": [False] * 4, "column": [False, False, True, True], "walls": [True, True, False, False]}[hidden]
    return Walls(**{**fields, "weight": np.array([LONG, LONG, 400.0, 400.0]), "hidden": np.array(behind)})


def cuts(at: list[float], ahead: list[bool], start: np.ndarray) -> np.ndarray:
    """What walls leave of the tile they cross, (starts, walls), reckoned anew: the distance from the wall to the far edge of that tile."""
    far = [np.mod(start + SIZE - a, PITCH) if on else np.mod(a - start, PITCH) for a, on in zip(at, ahead, strict=True)]
    left = np.stack(far, axis=1)
    return np.minimum(np.where(left < 1e-3, PITCH, left), SIZE)


NIB = by_hand(1679.0, 280.0)


@pytest.mark.parametrize(
    ("walls", "order", "tolerance", "long", "short"),
    [
        (NIB, [], TOLERANCE, 168, 63),  # 63 is equal to 65: the long walls have it
        (NIB, [], 1.0, 65, 166),  # 63 is less than 65
        (NIB, ["narrowest"], TOLERANCE, 168, 63),
        (NIB, ["least", "habits"], TOLERANCE, 168, 63),
        (NIB, ["metres"], 1.0, 168, 63),
        (by_hand(1679.0, 280.0, "column"), [], TOLERANCE, 168, 63),
        (by_hand(1679.0, 280.0, "walls"), [], TOLERANCE, 65, 166),  # out of view no length goes before what is in view
    ],
)
def test_the_long_walls_or_the_nib_as_reckoned_by_hand(walls, order, tolerance, long, short):
    best = best_offsets(walls, PITCH, SIZE, criteria=criteria_of(order, [], LEAST, tolerance))[0]
    found = cuts(list(walls.at), list(walls.ahead), np.array([best.at]))[0]
    assert found == pytest.approx([long, long, short, short], abs=TOLERANCE + 0.01)
    seen = ~walls.hidden
    lacking = float(np.maximum(LEAST - found[seen], 0.0) @ walls.weight[seen])
    assert (best.short, best.view) == pytest.approx((lacking, walls.weight[seen].sum()), abs=1e-6)


@pytest.mark.parametrize(("weights", "long"), [([("narrowest", 1.0)], 65), ([("narrowest", 1.0), ("metres", 3.0)], 168)])
def test_the_metres_may_be_weighed(weights, long):
    best = best_offsets(NIB, PITCH, SIZE, criteria=criteria_of([], weights, LEAST))[0]
    assert cuts([0.0], [True], np.array([best.at]))[0, 0] == pytest.approx(long, abs=0.01)


def test_equal_walls_are_not_made_unlike_to_lift_one_of_them():
    """Two walls alike with 93 each: a metre less under 95 would be had with 91 and 95; the mean is the same, and they stay alike."""
    at, ahead = [0.0, 4106.0, 1674.0, 2020.0], [True, False, False, True]
    best = best_offsets(Walls.plain(at, ahead, np.zeros(4)), PITCH, SIZE, criteria=criteria_of([], [], 150.0, TOLERANCE))[0]
    assert cuts(at, ahead, np.array([best.at]))[0] == pytest.approx([93.0, 93.0, 133.0, 133.0], abs=0.01)


WALLS = st.lists(st.tuples(st.integers(0, 6000), st.booleans(), st.integers(2, 60), st.booleans()), min_size=2, max_size=7)


@settings(max_examples=25)
@given(WALLS, st.sampled_from([60.0, 100.0, 150.0]))
def test_no_sampled_start_with_as_wide_a_cut_lacks_less_on_the_mean_of_its_metres(edges, least):
    at, ahead = [e[0] / 2 for e in edges], [e[1] for e in edges]
    weight, seen = np.array([e[2] * 100.0 for e in edges]), np.array([True, *(not e[3] for e in edges[1:])])
    fields = {name: getattr(Walls.plain(at, ahead, np.zeros(len(at))), name) for name in Walls.__dataclass_fields__}
    walls = Walls(**{**fields, "weight": weight, "hidden": ~seen})
    best = best_offsets(walls, PITCH, SIZE, criteria=criteria_of([], [], least, TOLERANCE))[0]
    found = cuts(at, ahead, np.append(np.arange(0.0, PITCH, 0.1), best.at))
    narrowest = found[:, seen].min(axis=1)
    lacking = np.maximum(least - found[:, seen], 0.0) @ weight[seen] / weight[seen].sum()
    assert narrowest[-1] >= narrowest.max() - TOLERANCE - 0.01
    assert best.short / best.view == pytest.approx(lacking[-1], abs=0.01)
    as_wide = narrowest >= narrowest.max() - TOLERANCE + 0.11  # surely equal, and no cut at all goes before any
    if narrowest.max() < least and not (found >= SIZE - 0.2).all(axis=1).any():
        assert lacking[-1] <= lacking[as_wide].min(initial=np.inf) + TOLERANCE + 0.01


def test_why_a_start_comes_behind_is_told_by_the_metres():
    here, there = (_one(cut) for cut in (168.0, 65.0))
    criteria = criteria_of(["metres"], [], LEAST, TOLERANCE)
    assert criteria.why_behind(here, there) == "cuts in view lack 27 more to the least, on the mean of the metres"


def _one(long: float) -> Measures:
    """What the start with a cut at the long walls gives, by hand."""
    return measures(NIB, np.array([long - SIZE]), PITCH, SIZE, [], least=LEAST)


@pytest.fixture(scope="module")
def plans():
    """The room by hand, finished faces, the walls' joints as wide as the tile's; the other way it comes out whole."""
    column = [[1679, 900], [1959, 900], [1959, 1300], [1679, 1300]]
    room = {"outline": [[0, 0], [4050, 0], [4050, 3000], [0, 3000]], "outline_is": "finished", "columns": [{"outline": column}]}
    tiles = {"floor": {"size": [200, 200], "joint": 6}}
    return {
        key: plan_of({**room, **({"hidden": hidden} if hidden else {})}, tiles=tiles, rules={"movement": "DE_INTERIOR"})
        for key, hidden in {"": [], "walls": ["wall 2", "wall 4"]}.items()
    }


def sides(setout, line):
    """The narrow sides of the pieces along a line of the room, from the pieces as laid."""
    found = []
    for piece in setout.rooms[0].floor.field.pieces():
        box = shapely.bounds(piece)
        if max(box[2] - box[0], box[3] - box[1]) > 0.9 * SIZE and shapely.distance(piece, line) < 12.0:
            found.append(min(box[2] - box[0], SIZE))
    return found


def test_a_room_with_a_column_is_laid_so_and_tells_the_metres(plans):
    long = shapely.LineString([[0, 300], [0, 2700]]).union(shapely.LineString([[4050, 300], [4050, 2700]]))
    short = shapely.LineString([[1679, 960], [1679, 1240]]).union(shapely.LineString([[1959, 960], [1959, 1240]]))
    seen, hidden = set_out(plans[""]), set_out(plans["walls"])
    assert min(sides(seen, long)) > 150.0
    assert min(sides(seen, short)) < 80.0
    assert min(sides(hidden, long)) < 80.0
    assert min(sides(hidden, short)) > 150.0
    start = setout_record(seen)["rooms"][0]["surfaces"][0]["start"]
    assert start["under_least_m"] == pytest.approx(2 * 0.412)  # its sides and a joint at both ends
    lacking = (100.0 - min(sides(seen, short))) * 412.0 * 2 / (2 * (4050.0 + 3000.0) + 2 * (280.0 + 400.0))
    assert start["short_of_least_mm"] == pytest.approx(lacking, rel=0.1)
    found = compare_record(compare(plans[""], "starts"))["alternatives"]
    assert found[0]["under_least_m"] == pytest.approx(start["under_least_m"])
    assert max(each["under_least_m"] for each in found) > 3.0
