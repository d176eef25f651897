"""Columns and nibs shorter than two tiles in a bond: which courses meet them hangs on the start of both directions. Dense sampling finds nothing better."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from layout.plan.patterns import pattern_of
from layout.setout.conduct import set_out
from layout.shapes import edges_of
from layout.tiles.lay import lay
from layout.tiles.weakness import weak
from layout.tiles.widths import Play, narrowest, piece_widths, strips
from tests.rooms import plan_of

STEP, FIRST = 31.0, (5.0, 15.0)
"""Apart and first of the starts sampled each way, mm: of three of the rooms they beat the starts that were found one direction at a time
(129, 113 and 147 against 156 and more); the nib's was the best before too."""


def column(x0, y0, x1, y1):
    return [{"outline": [[x0, y0], [x1, y0], [x1, y1], [x0, y1]]}]


def box(width, depth):
    return [[0, 0], [width, 0], [width, depth], [0, depth]]


BONDED = {"size": [600, 300], "joint": 4, "pattern": "running", "offset": 0.5}
THIRDS = {**BONDED, "offset": 0.333}
ROOMS = {
    "a column a course and a bit high": ({"outline": box(3343, 3080), "columns": column(450, 215, 1433, 588)}, BONDED),
    "a column lower than a course": ({"outline": box(2730, 2470), "columns": column(750, 1732, 1321, 1916)}, THIRDS),
    "a column a tile and a half long": ({"outline": box(3507, 2690), "columns": column(1151, 429, 2027, 719)}, BONDED),
    "a nib": ({"outline": [[0, 0], [3173, 0], [3173, 2050], [0, 2050], [0, 1278], [130, 1278], [130, 1165], [0, 1165]]}, THIRDS),
}


def drawn(region, pattern, at):
    """The narrowest cut from a start, as a strip or beside an edge that cuts right across, and whether any piece is weak."""
    edges = edges_of(region)[0] - at
    beside = narrowest(edges, Play.plain(np.zeros(len(edges))), pattern, pattern.widest)
    laid = lay(region, pattern, 0.0, at)
    own = strips(laid.pieces, laid.cut[:, 0], pattern)
    width = float(piece_widths(laid.pieces[own]).min(initial=pattern.widest))
    return min(width, beside), bool(weak(laid.pieces).any())


@pytest.mark.parametrize("name", ROOMS)
def test_no_start_of_a_dense_sample_is_better(name):
    room, tile = ROOMS[name]
    setout = set_out(plan_of(room, tiles={"floor": tile}, rules={"bays": "cut", "wall_tolerance": 0}))
    floor = setout.rooms[0].floor
    assert len(floor.bays) == 1
    pattern = pattern_of(floor.tile)
    sampled = []
    for x in np.arange(FIRST[0], 604.0, STEP):
        for y in np.arange(FIRST[1], 304.0, STEP):
            width, breaks = drawn(floor.surface.region, pattern, np.array([x, y]))
            if not breaks:
                sampled.append(width)
    assert not weak(floor.field.pieces()).any() or not sampled
    assert floor.start.worst >= max(sampled, default=0.0) - 0.1
    assert shapely.is_valid(floor.field.pieces()).all()
