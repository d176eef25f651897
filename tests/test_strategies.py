"""Are the awkward rooms found that the other tests stand on, and does a failing one shrink to what the failure needs?

The habit is Hypothesis's own (its `tests/quality`: hard things are to be found and shrunk); the search is its `find`, the measures
are shapely's, so that nothing here asks the project's own idea of a wall.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import pytest
import shapely
from hypothesis import HealthCheck, find, settings
from shapely import Polygon

from tests import strategies

if TYPE_CHECKING:
    from collections.abc import Callable

    from hypothesis.strategies import SearchStrategy

FEW = settings(max_examples=400, deadline=None, derandomize=True, database=None, suppress_health_check=list(HealthCheck))


def shape(room: dict[str, Any]) -> Polygon:
    return Polygon(room["outline"], [one["outline"] for one in room.get("columns", [])])


def turns(room: dict[str, Any]) -> list[float]:
    """How far the outline turns at each corner, in degrees."""
    ring = room["outline"]
    ways = [math.atan2(b[1] - a[1], b[0] - a[0]) for a, b in zip(ring, ring[1:] + ring[:1], strict=True)]
    return [abs(math.degrees(math.remainder(b - a, 2 * math.pi))) for a, b in zip(ways[-1:] + ways[:-1], ways, strict=True)]


def sides(room: dict[str, Any]) -> list[float]:
    ring = room["outline"]
    return [math.dist(a, b) for a, b in zip(ring, ring[1:] + ring[:1], strict=True)]


def gaps(room: dict[str, Any]) -> list[float]:
    """From each solid to the nearest wall, mm."""
    walls = Polygon(room["outline"]).exterior
    return [walls.distance(Polygon(one["outline"])) for kind in ("columns", "plinths") for one in room.get(kind, [])]


HARD: dict[str, tuple[SearchStrategy[Any], Callable[[Any], bool]]] = {
    "an L or a U": (strategies.squared(), lambda room: sum(math.isclose(turn, 90) for turn in turns(room)) >= 6),
    "two solids in a squared room": (strategies.squared(), lambda room: len(gaps(room)) >= 2),
    "a reflex corner out of square": (strategies.skew(), lambda room: shape(room).convex_hull.area > 1.02 * shape(room).area),
    "a round column out of square": (strategies.skew(), lambda room: bool(room.get("columns"))),
    "a solid against a wall": (strategies.touching(), lambda room: any(gap < 1e-9 for gap in gaps(room))),
    "a wall bent within its play": (strategies.awkward(), lambda given: any(0.0 < turn < 0.5 for turn in turns(given.room))),
    "a corner a hair over half a degree": (strategies.awkward(), lambda given: any(0.5 < turn < 0.51 for turn in turns(given.room))),
    "a nib shorter than a course": (strategies.awkward(), lambda given: min(sides(given.room)) < 150.0),
    "a gap too narrow for tape": (strategies.awkward(), lambda given: any(0.0 < gap < 100.0 for gap in gaps(given.room))),
    "a channel from wall to wall": (strategies.awkward(), lambda given: "drains" in given.room),
    "a door under a cove": (strategies.awkward(), lambda given: "openings" in given.room and given.rules["foot"] == "cove"),
}


@pytest.mark.parametrize("name", HARD)
def test_a_hard_room_is_found(name: str) -> None:
    strategy, wanted = HARD[name]
    assert wanted(find(strategy, wanted, settings=FEW))


def test_a_failing_room_shrinks_to_one_rectangle_without_things() -> None:
    room = find(strategies.squared(), lambda room: shape(room).area > 4e6, settings=FEW)
    assert len(room["outline"]) == 4
    assert not {"columns", "plinths"} & room.keys()


def test_a_failing_awkward_room_keeps_only_the_thing_that_fails() -> None:
    given = find(strategies.awkward(), lambda given: "structural_joints" in given.room, settings=FEW)
    assert given.awkward == ("structural",)
    assert given.tile == strategies.TILES[0]
    assert given.rules["foot"] == strategies.FEET[0]
    assert "tile_height" not in given.room
    assert shapely.box(*shape(given.room).bounds).equals(shape(given.room)), "a rectangle is enough"
