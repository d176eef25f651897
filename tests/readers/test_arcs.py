"""Arcs of a drawing stay arcs in the plan: centre and radius by hand, the way there and back, and circles that nobody drew round."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from layout.readers.drawingfile import read_dxf
from layout.readers.foundplans import plans_of, reread
from layout.shapes import arc_points
from layout.survey.bows import Circle, bows_of
from layout.survey.drafts import found_plan
from layout.survey.found import openings_of, tidied
from tests.readers.test_ways_in import drawn


def circle_of(a, b, bulge):
    """Centre and radius of an arc, by the right-angled triangle of half its chord and what it lacks of its radius."""
    half = math.dist(a, b) / 2
    rise = bulge * half
    radius = (half**2 + rise**2) / (2 * rise)
    way = ((b[0] - a[0]) / (2 * half), (b[1] - a[1]) / (2 * half))
    middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
    return (middle[0] - way[1] * (radius - rise), middle[1] + way[0] * (radius - rise)), radius


@pytest.fixture(scope="module")
def apse(tmp_path_factory):
    # a room of 4000 x 3000 whose far wall bows out by 1000 over its chord: r = (2000² + 1000²) / 2000 = 2500, centre (2000, 1500);
    # its left wall bows in by 250 over 3000: r = (1500² + 250²) / 500 = 4625
    def draw(doc, space):
        del doc
        corners = [(0, 0, 0), (4000, 0, 0), (4000, 3000, 0.5), (0, 3000, -1 / 6)]
        space.add_lwpolyline(corners, format="xyb", close=True, dxfattribs={"layer": "ROOMS"})
        space.add_text("Apse", height=150, dxfattribs={"layer": "TEXT"}).set_placement((1500, 1500))

    return read_dxf(drawn(tmp_path_factory.mktemp("arcs") / "apse.dxf", draw))


def test_a_bulged_outline_stays_arcs_in_the_plan(apse):
    (plan,) = plans_of(apse)
    room = plan.rooms[0]
    assert len(room.outline) == 4
    low = np.array(room.at)
    corners = [tuple(np.array(vertex.to) + low) for vertex in room.outline]
    own = {corners.index(min(corners, key=lambda c: math.dist(c, to))): to for to in ((0, 0), (4000, 0), (4000, 3000), (0, 3000))}
    assert all(math.dist(corners[k], to) < 0.11 for k, to in own.items())
    arcs = {
        tuple(round(x) for x in corners[k]): circle_of(corners[k - 1], corners[k], abs(vertex.bulge))
        for k, vertex in enumerate(room.outline)
        if vertex.bulge
    }
    assert set(arcs) == {(0, 3000), (0, 0)}
    assert arcs[0, 3000][0] == pytest.approx((2000, 1500), abs=0.3)
    assert arcs[0, 3000][1] == pytest.approx(2500, abs=0.2)
    assert arcs[0, 0][1] == pytest.approx(4625, abs=0.6)
    signs = {tuple(round(x) for x in corners[k]): math.copysign(1, vertex.bulge) for k, vertex in enumerate(room.outline) if vertex.bulge}
    assert signs == {(0, 3000): 1.0, (0, 0): -1.0}


def test_the_plan_of_an_arc_goes_to_a_drawing_and_back(apse, tmp_path):
    (plan,) = plans_of(apse)

    def draw(doc, space):
        del doc
        own = plan.rooms[0].outline
        corners = [(v.x + plan.rooms[0].at[0], v.y + plan.rooms[0].at[1], own[(k + 1) % len(own)].bulge) for k, v in enumerate(own)]
        space.add_lwpolyline(corners, format="xyb", close=True, dxfattribs={"layer": "ROOMS"})

    (again,) = plans_of(read_dxf(drawn(tmp_path / "again.dxf", draw)))
    assert plan.rooms[0].outline
    for one, other in zip(plan.rooms[0].outline, again.rooms[0].outline, strict=True):
        assert one.to == pytest.approx(other.to, abs=0.11)
        assert one.bulge == pytest.approx(other.bulge, abs=1e-4)


def test_a_round_room_has_four_walls_and_its_area(tmp_path):
    def draw(doc, space):
        del doc
        space.add_circle((2500, 1500), 1500, dxfattribs={"layer": "ROOMS"})

    (room,) = read_dxf(drawn(tmp_path / "round.dxf", draw)).rooms
    assert len(room.walls) == 4
    area = 0.0
    for wall in room.walls:
        a, b = wall.points[0] - [2500, 1500], wall.points[-1] - [2500, 1500]
        angle = 4 * math.atan(wall.bulge)  # the triangle to the middle, and the segment over its chord
        area += (a[0] * b[1] - a[1] * b[0]) / 2 + 1500**2 / 2 * (angle - math.sin(angle))
    assert area == pytest.approx(math.pi * 1500**2, rel=3e-4)


def test_a_door_in_a_bowed_wall_is_measured_along_the_arc(apse):
    # the far wall of r = 2500 about (2000, 1500) begins at the angle asin(0.6); a door from 60 to 80 degrees of it
    (room,) = apse.rooms
    ends = [[2000 + 2500 * math.cos(math.radians(a)), 1500 + 2500 * math.sin(math.radians(a))] for a in (60, 80)]
    ((wall, offset, width),) = openings_of(replace(room, doors=(np.array(ends),)))
    assert room.walls[wall - 1].bulge == pytest.approx(0.5, abs=1e-4)
    assert offset == pytest.approx(2500 * (math.radians(60) - math.asin(0.6)), abs=2.0)
    assert width == pytest.approx(2500 * math.radians(20), abs=2.0)


def test_corners_on_a_circle_that_is_no_wall_stay_corners():
    square = np.array([[0.0, 0.0], [2000.0, 0.0], [2000.0, 2000.0], [0.0, 2000.0]])
    assert bows_of(square, [Circle(1000, 1000, 1000 * math.sqrt(2), 0.8)]) == ()
    bowed = tidied(np.vstack([square[:2], arc_points(square[1], square[2], 0.3)[:-1], square[2:]]))
    assert [round(bow.bulge, 3) for bow in bows_of(bowed, [circle_at(square[1], square[2], 0.3)])] == [0.3]


def circle_at(a, b, bulge):
    (x, y), radius = circle_of(tuple(a), tuple(b), bulge)
    return Circle(x, y, radius, 0.1)


def test_an_arc_drawn_flatter_is_taken_where_nobody_changed_it(apse):
    text = found_plan(apse.rooms[0], note="from a test")
    flatter = text.replace("bulge = 0.5", "bulge = 0.4")
    assert flatter != text
    merge = reread(text, text, flatter, "apse.toml")
    assert any("bulge 0.5 → 0.4" in line for line in merge.applied)
    assert not reread(text, text, text, "apse.toml").applied
    mine = text.replace("bulge = 0.5", "bulge = 0.6")
    assert any("arc to corner" in line for line in reread(mine, text, flatter, "apse.toml").left)
