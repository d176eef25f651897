"""One wall of a real room moved, lines and marks kept: what it touches differs, nothing else does."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import shapely

from layout.changes.compare import compare_setouts
from layout.changes.keep import keep_built
from layout.setout.conduct import set_out
from tests.rooms import plan_of

REAL = json.loads((Path(__file__).parent.parent / "data" / "real-rooms-sample.json").read_text())["rooms"]
SMALL = [record for record in REAL if len(record["outer"]) > 4 and shapely.Polygon(record["outer"]).area < 12e6][:4]


@pytest.mark.parametrize("record", SMALL, ids=lambda record: record["id"])
def test_a_wall_moved_out_with_lines_kept(record):
    ring = np.array(record["outer"], dtype=float)
    after = np.roll(ring, -1, axis=0)
    k = int(np.hypot(*(after - ring).T).argmax())
    way = (after[k] - ring[k]) / np.hypot(*(after[k] - ring[k]))
    out = np.array([way[1], -way[0]]) * (1.0 if shapely.LinearRing(ring).is_ccw else -1.0)
    moved = ring.copy()
    moved[[k, (k + 1) % len(ring)]] += 17 * out
    before, free = (set_out(plan_of({"outline": each.round(3).tolist()})) for each in (ring, moved))
    kept = set_out(keep_built(before, free, ("lines", "marks")))
    (room,) = compare_setouts(before, kept).rooms
    assert room.lines == ()
    assert sum(each.what.startswith("line of") for each in room.shape) <= 3, "the wall, and the two beside it if they slant"
    wall = shapely.LineString([ring[k], after[k]])
    old, new = (setout.rooms[0].floor.field for setout in (before, kept))
    far = [shapely.Point(at) for at in old.whole_polygons() for at in [at.centroid.coords[0]] if shapely.Point(at).distance(wall) > 400]
    laid = shapely.union_all(new.whole_polygons())
    assert all(laid.covers(at) for at in far)
