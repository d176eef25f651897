"""Sheets of falls, joints and lines: labels where they belong, figures from ends, lines both ways."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from layout.setout.conduct import set_out
from layout.sheets import joint_sheet, level_sheet
from layout.sheets.by_lines import off_line, placed_points, square_pair, squaring
from layout.sheets.column import Column
from layout.sheets.draft import room_job
from layout.sheets.paper import SIZES
from layout.sheets.room_view import name_walls
from layout.sheets.scene import Dimension, Label, Stroke
from layout.words import speaking
from tests.rooms import plan_of

ROOM = {
    "outline": [[0, 0], [5200, 0], [5200, 4400], [0, 4400]],
    "drains": [{"kind": "channel", "from": [2400, 900], "to": [2400, 3300], "width": 150}],
    "plinths": [
        {"name": "kerb", "outline": [[3700, 2700], [5200, 2700], [5200, 2850], [3850, 2850], [3850, 4400], [3700, 4400]], "height": 150}
    ],
    "pipes": [{"at": [4500, 3600], "diameter": 110}],
    "falls": [{"to": "channel 1", "ratio": 60}],
}


@pytest.fixture(scope="module")
def laid():
    setout = set_out(plan_of(ROOM))
    return setout, room_job(setout, 0, "A3", 40.0)


def drawn(scene, own):
    view, placer = own.parts[0].view, own.parts[0].placer()
    items = scene(own.room, own.base, view, placer)
    placer.finish()
    assert not placer.missing()
    return [*items, *placer.drawn(view)], view


def test_the_name_of_a_bay_stands_in_it_even_beside_an_upstand_round_a_corner(laid):
    _, own = laid
    items, _ = drawn(joint_sheet.scene, own)
    assert own.room.floor.bays
    for number, bay in enumerate(own.room.floor.bays, 1):
        label = next(item for item in items if isinstance(item, Label) and item.text.split(" · ")[0] == f"bay {number}")
        assert bay.between_joints.contains(shapely.Point(label.at)), label.text


def test_a_spot_level_stands_right_of_its_cross_and_a_channel_is_told_by_its_ends(laid):
    _, own = laid
    levels = own.room.levels
    items, _ = drawn(lambda room, base, view, placer: level_sheet.scene(room, levels, base, view, placer), own)
    crosses = np.array([spot.at for spot in levels.grid])
    helpful = [item for item in items if isinstance(item, Label) and item.layer == "LEVEL" and item.height == 2.5]
    assert helpful
    for item in helpful:
        off = np.array(item.at) - crosses
        near = off[np.argmin(np.hypot(*off.T))]
        assert item.across == "left"
        assert near[0] > 0.0
    # measuring lines begin at the ends of the frame, and none lies on the channel
    frame = shapely.LineString([[2400, 900], [2400, 3300]])
    lines = [shapely.LineString([item.a, item.b]) for item in items if isinstance(item, Dimension)]
    assert len(lines) == 3
    assert all(line.intersection(frame.buffer(50)).length < 120.0 for line in lines)
    assert sorted(round(line.length) for line in lines) == [900, 2400, 2400]


def test_plinths_and_ends_of_channels_are_found_by_two_lines(laid):
    _, own = laid
    pair = square_pair(own.room)
    assert pair is not None
    points = {name: at for name, at, _ in placed_points(own.room)}
    assert points["channel 1, lower end"] == pytest.approx((2400.0, 900.0), abs=1e-6)
    assert points["channel 1, upper end"] == pytest.approx((2400.0, 3300.0), abs=1e-6)
    assert points["kerb, lower-left corner"] == (3700.0, 2700.0)
    for at in points.values():
        a, b = abs(off_line(pair[0], at)), abs(off_line(pair[1], at))
        assert a == pytest.approx(abs(at[1] - pair[0].start[1]), abs=0.01)
        assert b == pytest.approx(abs(at[0] - pair[1].start[0]), abs=0.01)


def test_the_name_of_a_wall_behind_its_figures_needs_no_leader(laid):
    _, own = laid
    view, placer = own.parts[0].view, own.parts[0].placer()
    x0, y0 = view.to_paper(np.array([[0.0, 0.0]]))[0]
    x1 = float(view.to_paper(np.array([[5200.0, 0.0]]))[0][0])
    placer.block((float(x0) - 20.0, float(y0) - 23.0, x1 + 20.0, float(y0) - 1.0))  # two rows of figures
    name_walls(own.room, view, placer, out=9.0)
    placer.finish()
    assert not [item for item in placer.drawn(view) if isinstance(item, Stroke)]


@pytest.mark.parametrize("size", [(300, 75), (240, 115)])
def test_a_herringbone_floor_has_lines_both_ways_along_tile_edges(size):
    room = {"outline": [[0, 0], [3600, 0], [3600, 1800], [0, 1800]]}
    own = set_out(plan_of(room, tiles={"floor": {"size": list(size), "thickness": 10, "joint": 3, "pattern": "herringbone"}})).rooms[0]
    lines = {line.name: line for line in own.floor.start.lines}
    assert {"A", "B"} <= set(lines)
    assert squaring(own).startswith("Square: from the crossing of A and B")
    corners = own.floor.field.outlines(np.vstack([own.floor.field.whole, own.floor.field.cut])).reshape(-1, 2)
    for name, axis in (("A", 1), ("B", 0)):
        at = lines[name].start[axis]
        assert 0.0 < at < (1800.0, 3600.0)[axis == 0]
        assert np.abs(corners[:, axis] - at).min() < 0.01


def datum_drawn(room):
    """Where the mark of the datum stands, what is written at it, and where the column says it is."""
    own = room_job(set_out(plan_of(room)), 0, "A3", 40.0)
    scene, _ = drawn(lambda *given: level_sheet.scene(given[0], given[0].levels, *given[1:]), own)
    (mark,) = [item for item in scene if isinstance(item, Stroke) and item.layer == "LEVEL" and item.closed]
    (words,) = [item.text for item in scene if isinstance(item, Label) and item.text.startswith("datum:")]
    levels = own.room.levels
    assert levels is not None
    return mark.points.mean(axis=0), words, levels.datum


@pytest.mark.parametrize("floor", [0, 30])
def test_the_datum_is_drawn_at_the_corner_that_it_is_told_from(floor):
    at, words, told = datum_drawn({**ROOM, "levels": {"floor": floor}})
    assert told.endswith("the finished floor at the corner of wall 1 and wall 2")
    assert at == pytest.approx((5200.0, 0.0), abs=1e-6)  # where wall 1 ends
    assert words == f"datum: floor {'+30' if floor else '±0'} here"


@pytest.mark.parametrize("around", [1, -1])
def test_the_datum_is_drawn_in_the_door_that_it_is_told_from(around):
    room = {
        "outline": [[0, 0], [4000, 0], [4000, 3000], [0, 3000]][::around],
        "openings": [{"name": "goods door", "wall": 1 if around == 1 else 3, "offset": 500, "width": 1000}],
        "drains": [{"kind": "gully", "at": [3200, 2100]}],
        "falls": [{"to": "gully 1", "ratio": 60, "perimeter": "threshold"}],
    }
    at, words, told = datum_drawn(room)
    x = 1000.0 if around == 1 else 3000.0  # 500 from where the wall begins, as typed, and half of the door on; along y = 0 both times
    assert at == pytest.approx((x, 0.0), abs=1e-6)
    assert told.endswith("the finished floor at the middle of the threshold of goods door")
    assert words == f"datum: floor {'±0' if 'is' in told.split() else '−8'} here"  # −8 where "±0 lies 8 above" it


@pytest.mark.parametrize(("wall", "offset"), [(2, 1000), (4, 1000), (3, 2000)])
def test_the_leader_of_the_datum_leaves_its_wall(wall, offset):
    room = {
        "outline": [[0, 0], [4000, 0], [4000, 3000], [0, 3000]],
        "openings": [{"name": "goods door", "wall": wall, "offset": offset, "width": 1000}],
        "drains": [{"kind": "gully", "at": [2000, 1500]}],
        "falls": [{"to": "gully 1", "ratio": 60, "perimeter": "threshold"}],
    }
    own = room_job(set_out(plan_of(room)), 0, "A3", 40.0)
    scene, _ = drawn(lambda *given: level_sheet.scene(given[0], given[0].levels, *given[1:]), own)
    (mark,) = [item.points.mean(axis=0) for item in scene if isinstance(item, Stroke) and item.layer == "LEVEL" and item.closed]
    lines = [item.points for item in scene if isinstance(item, Stroke) and item.layer == "LEVEL" and len(item.points) == 2]
    (words,) = [np.array(item.at) for item in scene if isinstance(item, Label) and item.text.startswith("datum:")]
    leaders = [line for line in lines if np.allclose(line[0], mark, atol=1e-6)]
    assert leaders or np.hypot(*(words - mark)) < 7.1 * 40.0  # at the mark itself, or a line to it
    across = [np.abs(line[1] - line[0])[0 if wall in (2, 4) else 1] / np.hypot(*(line[1] - line[0])) for line in leaders]
    assert min(across, default=1.0) > 0.3  # a sine of 20 degrees is 0.34


def test_a_joint_not_taken_is_told_by_the_rule_in_each_language_without_its_code():
    setout = set_out(plan_of({"outline": [[0, 0], [12000, 0], [12000, 4000], [7000, 4000], [7000, 9000], [0, 9000]]}))
    room = setout.rooms[0]
    code = room.lining.plan.rules.movement.name
    assert any(code in line.why for line in room.floor.rejected)
    for language, by_the_rule in (("en", "over 3658 by the rule;"), ("de", "über 3658 nach der Regel;")):
        with speaking(language):
            column = Column(SIZES["A2"])
            joint_sheet.words(room, column, set())
        said = " ".join(item.text for item in column.scene if isinstance(item, Label))
        assert by_the_rule in said
        assert code not in said
