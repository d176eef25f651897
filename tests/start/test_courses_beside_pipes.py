"""Courses that keep off pipes: no hole nearer to a tile's upper or lower edge than a tile stands, where a level is to be had for it."""

from __future__ import annotations

import pytest
import shapely

from tests.rooms import set_out_room

ROOM = {"outline": [[0, 0], [3000, 0], [3000, 2400], [0, 2400]], "tile_height": 2100, "tanking_height": 0}
BREAKS_OUT = 20.0
"""A hole nearer to the edge of its tile breaks out, mm (common practice, no source)."""
HOLE = 60.0 + 2 * 8.0


def walls(level: float | None, **rules):
    pipes = [] if level is None else [{"wall": 1, "offset": 1350, "level": level, "diameter": 60}]
    room = set_out_room({**ROOM, "pipes": pipes}, tiles={"wall": {"size": [300, 300], "joint": 3}}, rules=rules)
    return [each for each in room.surfaces if each.surface.kind == "wall"]


def hole_to_edge(wall) -> float:
    """How near the pipe's hole comes to the upper or lower edge of the tile that it stands in, by the pieces as laid, mm."""
    holed = [piece for laid in wall.field.bays for piece in laid.pieces if len(piece.interiors)]
    if not holed:
        return 0.0  # it takes a notch out of an edge
    (piece,) = holed
    _, low, _, high = piece.bounds
    _, under, _, over = shapely.Polygon(piece.interiors[0]).bounds
    return float(min(under - low, high - over))


def rim_to_edge(wall, level: float) -> float:
    """How near the upper or lower rim of the hole comes to any upper or lower edge of a tile, inside it or across it, mm: by the level alone."""
    begun = float(wall.bays[0].origin[1])
    edges = [begun + 303.0 * k + side for k in range(-2, 8) for side in (0.0, 300.0)]
    return min(abs(edge - rim) for edge in edges for rim in (level - HOLE / 2, level + HOLE / 2))


@pytest.fixture(scope="module")
def plain():
    """Level of a course without any pipe, mm above the substrate."""
    return float(walls(None)[0].bays[0].origin[1])


@pytest.mark.parametrize(
    "above",
    [12.0, 300.0 - 76.0 - 12.0, 0.0, -8.0],
    ids=["over a tile's lower edge", "under its upper edge", "on its lower edge", "grazed by its lower edge"],
)
def test_a_course_steps_aside_where_a_pipe_would_break_out_of_its_tile(plain, above):
    """The hole of a pipe of 60 is 60 and twice 8 across, and stands `above` the lower edge of a tile of 300; what grazes an edge leaves horns."""
    level = plain % 303 + above + HOLE / 2
    found = walls(level)
    assert len({round(float(each.bays[0].origin[1]) % 303, 3) for each in found}) == 1, "one level round the room"
    assert hole_to_edge(found[0]) == 0.0 or hole_to_edge(found[0]) >= BREAKS_OUT - 1e-6
    assert rim_to_edge(found[0], level) >= BREAKS_OUT - 0.11
    assert abs(float(found[0].bays[0].origin[1]) - plain) > 1.0


def test_a_course_stays_where_the_pipe_stands_well_within_its_tile(plain):
    found = walls(plain % 303 + 150.0)
    assert float(found[0].bays[0].origin[1]) == pytest.approx(plain)
    assert hole_to_edge(found[0]) > BREAKS_OUT


def test_a_course_stays_where_the_plan_puts_the_narrowest_cut_first(plain):
    found = walls(plain % 303 + 12.0 + HOLE / 2, start_order=["least", "narrowest"])
    assert float(found[0].bays[0].origin[1]) == pytest.approx(plain)
