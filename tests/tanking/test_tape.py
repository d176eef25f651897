from __future__ import annotations

import itertools
from collections import Counter

import numpy as np
import pytest
import shapely
from hypothesis import given

from layout.room.rings import Tag
from layout.room.shell import Face
from layout.tanking.tape import _connected
from tests.rooms import lined_room, set_out_room
from tests.strategies import squared

BOX = [[0, 0], [4000, 0], [4000, 3000], [0, 3000]]


@given(squared())
def test_every_internal_junction_is_taped_and_nothing_else(room):
    """An independent count from the outlines themselves, not from the shell."""
    made = lined_room({**room, "tanking_height": 400})
    outer = shapely.orient_polygons(shapely.Polygon(room["outline"]))
    solids = [shapely.Polygon(s["outline"]) for kind in ("columns", "plinths") for s in room.get(kind, [])]
    ring = np.array(outer.exterior.coords)[:-1]
    a, b = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
    convex = int((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0] > 0).sum())
    reflex = len(ring) - convex
    level = outer.length + sum(s.length for s in solids)
    assert made.tape.metres("internal") * 1000 == pytest.approx(level + convex * 400)
    assert made.tape.count("internal") == convex
    assert made.tape.count("external") == reflex + 4 * len(solids)


def test_tape_stops_at_the_jambs_and_crosses_the_threshold():
    made = set_out_room({"outline": BOX, "openings": [{"wall": 1, "offset": 1000, "width": 900}]})
    by_kind = Counter({run.kind: 0 for run in made.tape.runs})
    for run in made.tape.runs:
        by_kind[run.kind] += round(run.length)
    assert by_kind["wall-floor"] == 14_000 - 900
    assert by_kind["threshold"] == 900


def test_reveals_are_taped_only_where_there_is_depth():
    made = set_out_room({"outline": BOX, "openings": [{"wall": 1, "offset": 1000, "width": 900, "depth": 150}]})
    assert sum(run.length for run in made.tape.runs if run.kind == "reveal-floor") == pytest.approx(300)
    assert made.tape.count("external") == 2


def test_upright_tape_goes_to_the_higher_tanking_with_a_return_on_the_lower():
    made = set_out_room({"outline": BOX, "tanking_height": 200, "walls": [{"wall": 2, "tanking_height": 1800}]})
    tall = [run for run in made.tape.runs if run.kind == "wall-wall" and run.length > 1000]
    assert len(tall) == 2
    assert all(run.low_return is not None and run.low_return.value >= 150 for run in tall)
    assert sum(f.code == "tanking-return" for f in made.findings) == 2


def test_a_corner_off_square_is_made_from_tape_and_told():
    made = set_out_room({"outline": [[0, 0], [4000, 0], [2500, 3000], [0, 3000]]})
    assert (made.tape.count("internal"), made.tape.count("made")) == (2, 2)
    assert sum(f.code == "corner-made" for f in made.findings) == 2


def test_structural_joints_are_bridged_and_tile_only_joints_are_not():
    room = {
        "outline": [[0, 0], [9000, 0], [9000, 4000], [0, 4000]],
        "structural_joints": [{"line": [[4500, -100], [4500, 4100]], "width": 20}],
    }
    made = set_out_room(room, rules={"movement": "DE_INTERIOR"})
    bridges = [run for run in made.tape.runs if run.junction == "bridge"]
    assert len(bridges) == 1
    assert bridges[0].length == pytest.approx(4000)


def test_tape_lies_on_the_substrate():
    made = set_out_room({"outline": BOX, "tile_height": 2000})
    floor = [run for run in made.tape.runs if run.kind == "wall-floor"]
    line = shapely.LinearRing(BOX)
    assert floor
    for run in floor:
        assert (
            shapely.LineString(run.line[:, :2]).hausdorff_distance(shapely.intersection(line, shapely.LineString(run.line[:, :2]))) < 1e-6
        )


def test_a_plinth_above_the_walls_tanking_is_told():
    made = set_out_room(
        {"outline": BOX, "tanking_height": 100, "plinths": [{"outline": [[0, 0], [900, 0], [900, 900], [0, 900]], "height": 300}]}
    )
    assert any(f.code == "tanking-low" for f in made.findings)


def test_collars_and_flanges():
    room = {
        "outline": BOX,
        "pipes": [
            {"at": [500, 500], "diameter": 110},
            {"wall": 2, "offset": 500, "level": 100, "diameter": 50},
            {"wall": 2, "offset": 900, "level": 1500, "diameter": 50},
        ],
        "drains": [
            {"kind": "gully", "at": [2000, 1500], "frame": [200, 300]},
            {"kind": "channel", "from": [3000, 500], "to": [3000, 2500], "width": 150},
        ],
        "fixings": [{"at": [1000, 2500], "size": [120, 120]}],
    }
    made = set_out_room({**room, "tanking_height": 300})
    # the pipe at 1500 goes through bare wall above the tanking: no collar
    assert sorted((c.label, c.surface.name) for c in made.tape.collars) == [
        ("fixing 1", "floor"),
        ("pipe 1", "floor"),
        ("pipe 2", "wall 2"),
    ]
    assert {f.label: f.length for f in made.tape.flanges} == pytest.approx({"gully 1": 1000, "channel 1": 2 * 2150})


def test_a_bridge_runs_from_wall_to_wall_and_up_to_the_tanking():
    """The tile ends 15 + 8 short of each wall; the loop in the membrane does not."""
    joint = {"line": [[3000, 0], [3000, 3000]]}
    made = set_out_room(
        {"outline": [[0, 0], [6000, 0], [6000, 3000], [0, 3000]], "tanking_height": 300, "tile_height": 2000, "structural_joints": [joint]}
    )
    lengths = sorted(run.length for run in made.tape.runs if run.junction == "bridge")
    # 3000 across the floor, 300 up each wall
    assert lengths == pytest.approx([300, 300, 3000])


def test_a_bridge_that_ends_at_another_joint_is_not_drawn_on():
    """Two structural joints cross: each is bridged over its own length once, whole or in parts."""
    joints = [{"line": [[3000, 0], [3000, 3000]]}, {"line": [[0, 1500], [6000, 1500]]}]
    made = set_out_room({"outline": [[0, 0], [6000, 0], [6000, 3000], [0, 3000]], "structural_joints": joints, "tanking_height": 0})
    lengths = sum(run.length for run in made.tape.runs if run.junction == "bridge")
    # 3000 + 6000, less the width of a joint (20) where one is cut by the other
    assert lengths == pytest.approx(3000 + 6000, abs=20.001)


def test_a_return_is_as_high_as_the_upper_wall_stands_over_the_lower():
    made = set_out_room({"outline": BOX, "tanking_height": 200, "walls": [{"wall": 2, "tanking_height": 1800}]})
    # wall 2 to 1800, its neighbours to 200: tape 1800 up both corners, the membrane comes round 150 over 1600 of it
    back = [(run.length, run.low_return.value, run.return_length) for run in made.tape.runs if run.low_return is not None]
    assert back == [(1800, 150, 1600), (1800, 150, 1600)]
    # the other two corners stand between walls as high: 200 each, no return
    assert sorted(run.length for run in made.tape.runs if run.kind == "wall-wall") == [200, 200, 1800, 1800]


@pytest.mark.parametrize(("level", "count"), [(250, 1), (299, 1), (300, 1), (301, 0), (900, 0)])
def test_a_pipe_takes_a_collar_where_its_middle_stands_in_the_tanking(level, count):
    room = {"outline": BOX, "tanking_height": 300, "pipes": [{"wall": 1, "offset": 700, "level": level, "diameter": 60}]}
    assert len(set_out_room(room).tape.collars) == count


def test_a_flange_is_as_long_as_its_frame_is_round():
    drains = [
        {"kind": "gully", "at": [800, 800], "frame": [150, 250], "flange": 40},
        {"kind": "channel", "from": [1500, 2000], "to": [3500, 2000], "width": 160, "flange": 50},
        {"kind": "gully", "at": [3000, 800], "frame": [200, 200], "flange": 0},
    ]
    made = set_out_room({"outline": BOX, "drains": drains})
    # 2 x (150 + 250) = 800 and 2 x (2000 + 160) = 4320; a frame without a flange has none
    assert [(each.label, round(each.length), each.width) for each in made.tape.flanges] == [("gully 1", 800, 40), ("channel 1", 4320, 50)]


def test_walls_that_are_not_tanked_take_no_tape():
    made = set_out_room({"outline": BOX, "tanking_height": 0, "walls": [{"wall": 3, "tanking_height": 400}]})
    # wall 3 alone: its foot of 4000, and 400 up each of its corners
    assert sorted(run.length for run in made.tape.runs) == [400, 400, 4000]
    # its two corners on the floor, where one of the walls is tanked
    assert made.tape.count("internal") == 2


def test_runs_along_one_wall_that_doors_part_are_told_apart_in_their_order():
    """Corners of the runs are read off the outline: from the wall's left end, seen from inside, to the jambs of each door."""
    doors = [{"wall": 1, "offset": 500, "width": 900}, {"wall": 1, "offset": 2400, "width": 800}]
    made = set_out_room({"outline": BOX, "openings": doors})
    names = [run.name for run in made.tape.runs]
    assert len(set(names)) == len(names)
    parts = {run.name: sorted(run.line[:, 0].tolist()) for run in made.tape.runs if run.name.startswith("wall–floor, wall 1")}
    assert parts == {
        "wall–floor, wall 1, part 1 of 3": [3200.0, 4000.0],
        "wall–floor, wall 1, part 2 of 3": [1400.0, 2400.0],
        "wall–floor, wall 1, part 3 of 3": [0.0, 500.0],
    }
    assert "wall–floor, wall 2" in names, "a run that nothing parts keeps its plain name"


def test_faces_that_go_on_from_each_other_are_one_run_without_points_on_the_straight():
    """Away from the origin, three faces of one wall and a corner: one line, its points the ends and the corner."""
    tag = {"number": 0, "run": 0}
    ends = [(5000.0, 7000.0), (6000.0, 7000.0), (8000.0, 7000.0), (8000.0, 9500.0)]
    faces = [
        Face(a, b, 0, 1, 0.0, 150.0, Tag("plinth", s0=1000.0 * k, s1=1000.0 * (k + 1), **tag))
        for k, (a, b) in enumerate(itertools.pairwise(ends))
    ]
    (line,) = _connected(faces)
    assert line.tolist() == [[5000.0, 7000.0], [8000.0, 7000.0], [8000.0, 9500.0]]
    apart = _connected([faces[0], faces[2]])
    assert [each.tolist() for each in apart] == [[[5000.0, 7000.0], [6000.0, 7000.0]], [[8000.0, 7000.0], [8000.0, 9500.0]]]
