"""What changed is found by what it is, not by what it is called: whatever names a plan gives, the same clouds go round the same places."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import shapely

from layout.changes.compare import compare_setouts
from layout.changes.revision import revision_words
from layout.changes.values import ThingAt, WallAt
from layout.setout.conduct import set_out
from layout.sheets.change_sheet import change_sheets
from layout.sheets.scene import Label, Stroke
from tests.rooms import plan_of

PLAIN = {
    "room": "Bar",
    "wall": "servery",
    "door": "door",
    "hatch": "hatch",
    "post": "post",
    "base": "boiler",
    "gully": "drain",
    "joint": "split",
}
HOSTILE = {
    "room": "line of Hall, was Bar",
    "wall": "line of wall 2, was wall 1, moved by 3.0",
    "door": "door",
    "hatch": "door: side",
    "post": "wall 1: height",
    "base": "movement joint 1, as it was",
    "gully": "gully 1: frame",
    "joint": "x = 700.0, moved",
}


def box(x: float, y: float, w: float, h: float) -> list[list[float]]:
    return [[x, y], [x + w, y], [x + w, y + h], [x, y + h]]


def room(called: dict[str, str], *, hatch: float, post: float, base: float, gully: float, joint: float, top: float) -> dict[str, Any]:
    corners = [[0, 0], [2400, 0], [2400, top], {"to": [0, top], "wall": called["wall"]}]
    return {
        "name": called["room"],
        "outline": corners,
        "openings": [
            {"name": called["door"], "wall": 1, "offset": 100, "width": 700},
            {"name": called["hatch"], "wall": 1, "offset": hatch, "width": 500, "sill": 900},
        ],
        "columns": [{"name": called["post"], "outline": box(post, 1100, 200, 200)}],
        "plinths": [{"name": called["base"], "outline": box(base, 700, 300, 300), "height": 150}],
        "drains": [{"name": called["gully"], "kind": "gully", "at": [gully, 400]}],
        "structural_joints": [{"name": called["joint"], "line": [[joint, -50], [joint, top + 50]], "width": 20}],
    }


def compared(called: dict[str, str]):
    was = set_out(plan_of(room(called, hatch=1200, post=400, base=1500, gully=600, joint=1100, top=1800)))
    now = set_out(plan_of(room(called, hatch=1350, post=440, base=1540, gully=650, joint=1150, top=1830)))
    changes = compare_setouts(was, now)
    return changes, change_sheets(was, now, changes)


@pytest.fixture(scope="module")
def both():
    return compared(PLAIN), compared(HOSTILE)


def clouds(sheets) -> list[np.ndarray]:
    return [np.asarray(each.points) for each in sheets[0].room if isinstance(each, Stroke) and each.layer == "REVISION" and each.closed]


def test_hostile_names_leave_every_cloud_where_it_was(both):
    (_, plain), (_, hostile) = both
    one, other = clouds(plain), clouds(hostile)
    assert len(one) == len(other) >= 3
    assert all(np.array_equal(a, b) for a, b in zip(one, other, strict=True))
    numbers = [
        [each.text for each in sheets[0].room if isinstance(each, Label) and each.layer == "REVISION"] for sheets in (plain, hostile)
    ]
    assert numbers[0] == numbers[1] != []


def test_a_row_carries_the_thing_that_it_tells_of(both):
    assert len(both) == 2
    for changes, _ in both:
        (change,) = changes.rooms
        seen = [each.at for each in change.shape if each.at is not None]
        for key, index in (("openings", 1), ("columns", 0), ("plinths", 0), ("drains", 0), ("structural_joints", 0)):
            assert ThingAt(key, index, index) in seen, key
        assert ThingAt("openings", 0, 0) not in seen  # "door" stays where it is, whatever "door: side" does
        assert [each.of for each in change.shape if isinstance(each.at, WallAt)] != []


def test_the_revision_table_says_the_names_whole(both):
    words = revision_words(both[1][0])
    assert HOSTILE["wall"] in words
    assert "moved" in words


def test_a_joint_that_went_is_clouded_where_it_was():
    hall = {"name": "Hall", "outline": box(0, 0, 2600, 1500)}
    one, two = set_out(plan_of({**hall, "kept_joints": [{"line": [[1000, 0], [1000, 1500]]}]})), set_out(plan_of(hall))
    (row,) = [each for each in compare_setouts(one, two).rooms[0].works if each.kind == "joint" and each.surface]
    assert (row.what, row.before, row.after) == ("movement joint 1, as it was", "x = 1000.0", "")
    found = [shapely.Polygon(ring).buffer(0) for ring in clouds(change_sheets(one, two, compare_setouts(one, two)))]
    assert any(shape.covers(shapely.LineString([(1000, 100), (1000, 1400)])) for shape in found)
