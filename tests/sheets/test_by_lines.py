"""What a crew finds on the floor by the start lines: figures of the sheets recomputed from the plan's own outline."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import shapely
import shapely.affinity

from layout.sheets.by_lines import first_tile, joint_place, squaring
from layout.sheets.joint_sheet import field_joints
from tests.examples import example

PLANS = {path.stem: path for path in sorted(Path("plans").glob("*.toml"))}


@pytest.fixture(scope="module", params=list(PLANS))
def room(request):
    return example(PLANS[request.param]).rooms[0]


def _number(text):
    found = re.match(r"\d+", text)
    return float(found[0]) if found else 0.0  # "on A"


def test_a_squaring_check_lies_on_the_floor_and_its_diagonal_is_right(room):
    # the triangle is drawn again from the words; square axes: A runs across, B upwards in all three plans
    found = re.search(
        r"measure (\d+) along A, to the (right|left), and (\d+) along B, (upwards|downwards); the diagonal is (\d+)", squaring(room)
    )
    assert found, squaring(room)
    along_a, along_b, diagonal = float(found[1]), float(found[3]), float(found[5])
    assert along_a**2 + along_b**2 == diagonal**2
    named = {line.name: line for line in room.floor.start.lines}
    a, b = (shapely.LineString([named[k].start, named[k].end]) for k in "AB")
    crossing = a.intersection(b.buffer(1e-6)).centroid
    x = crossing.x + along_a * (1 if found[2] == "right" else -1)
    y = crossing.y + along_b * (1 if found[4] == "upwards" else -1)
    ring = shapely.Polygon([(crossing.x, crossing.y), (x, crossing.y), (crossing.x, y)]).exterior
    points = [tuple(p) for wall in room.lining.outline.walls for p in wall.run.points[:-1]]
    # washbay's wall A is a hair out of the axis: 5 mm over its length
    assert shapely.Polygon(points).buffer(10.0).covers(ring)
    for ring_of in (*room.lining.outline.plinth_rings, *room.lining.outline.column_rings):
        assert not shapely.Polygon(ring_of.points).buffer(-30.0).intersects(ring)


def test_the_first_tile_stands_where_the_lines_say(room):
    text = first_tile(room)
    found = re.search(r"corner (.*), (.*)\.$", text)
    assert found, text
    right, up = found.groups()
    named = {line.name: line for line in room.floor.start.lines}
    x, y = room.floor.start.origin
    for part, name, other in ((right, "B", x), (up, "A", y)):
        line = shapely.affinity.scale(shapely.LineString([named[name].start, named[name].end]), 3.0, 3.0)  # beyond its ends too
        assert _number(part) == pytest.approx(line.distance(shapely.Point(x, y)), abs=0.6)
        assert name in part
        ahead = other > (line.centroid.x if name == "B" else line.centroid.y)
        assert ("right" in part or "above" in part) == ahead


def test_joints_are_told_by_the_lines_and_not_by_an_origin(room):
    named = {line.name: shapely.LineString([line.start, line.end]) for line in room.floor.start.lines}
    long = {name: shapely.affinity.scale(named[name], 3.0, 3.0) for name in "AB"}
    joints = field_joints(room)
    assert joints
    for _, joint in joints:
        own, start, end = re.split(r", | to ", joint_place(room, joint.line))
        for part, at in ((own, joint.line[0]), (start, joint.line[0]), (end, joint.line[-1])):
            assert _number(part) == pytest.approx(long[part[-1]].distance(shapely.Point(at)), abs=0.6)
