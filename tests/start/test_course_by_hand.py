"""Which course of a bond begins at the wall that a person looks along: the one with the widest cut at the other datum wall."""

from __future__ import annotations

from typing import Any

import pytest
import shapely

from layout.setout.conduct import set_out
from tests.rooms import plan_of

DOORS = [{"name": "in", "wall": 1, "offset": 600, "width": 800}, {"name": "out", "wall": 4, "offset": 400, "width": 800}]


def laid(width: float, offset: float, start: tuple[float, float] | None = None):
    """A box with doors in walls 1 and 4, which are then what it is set out from, in a running bond; its floor."""
    tile: dict[str, Any] = {"size": [300, 150], "joint": 6, "pattern": "running", "offset": offset}
    if start is not None:
        tile["start"] = list(start)
    room = {"name": "R", "outline": [[0, 0], [width, 0], [width, 1500], [0, 1500]], "openings": DOORS, "tanking_height": 0}
    return set_out(plan_of(room, tiles={"floor": tile})).rooms[0].floor


def first_in_the_corner(floor) -> float:
    """Width of the tile that stands in the corner of walls 1 and 4, by the pieces as laid, mm."""
    tiles = [*floor.field.pieces(), *shapely.polygons(floor.field.outlines(floor.field.whole))]
    corner = min(tiles, key=lambda tile: (round(tile.bounds[1], 1), tile.bounds[0]))
    return float(corner.bounds[2] - corner.bounds[0])


@pytest.mark.parametrize(("width", "offset"), [(2300.0, 0.5), (2380.0, 0.5), (2450.0, 0.5), (2300.0, 1 / 3), (2500.0, 1 / 3)])
def test_the_course_beside_the_one_datum_wall_has_its_widest_cut_at_the_other(width, offset):
    own = laid(width, offset)
    shift = 306.0 * offset
    origin = own.field.origins[0]
    others = [laid(width, offset, (float(origin[0]) + k * shift, float(origin[1]))) for k in range(1, round(1 / offset))]
    alike = [each for each in others if abs(each.start.smallest - own.start.smallest) < 0.5]
    assert len(alike) >= 1, "the courses change places, and no cut with them"
    widths = [first_in_the_corner(each) for each in alike]
    assert first_in_the_corner(own) >= max(widths) - 0.1
    assert min(widths) < first_in_the_corner(own) - 5.0, "so that there was a choice"
