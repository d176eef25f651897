from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout.lining.build import build_lining
from layout.room.building import build_outline
from tests.rooms import lined_room, moved, plan_of, set_out_room
from tests.strategies import squared, touching

BOX = [[0, 0], [4000, 0], [4000, 3000], [0, 3000]]


def lining(room, **given_):
    return build_lining(plan_of(room, **given_), 0)


def surface(room, name, **given_):
    return next(s for s in lining(room, **given_).surfaces if s.name == name)


def test_walls_keep_the_order_and_numbers_of_the_outline():
    outline = build_outline(plan_of({"outline": BOX}), 0)
    lengths = {wall.run.number: round(wall.run.length) for wall in outline.walls}
    assert lengths == {1: 4000, 2: 3000, 3: 4000, 4: 3000}
    backwards = build_outline(plan_of({"outline": BOX[::-1]}), 0)
    assert {w.run.number: [w.run.points[-1].tolist(), w.run.points[0].tolist()] for w in backwards.walls}[1] == [[0, 3000], [4000, 3000]]


def test_edges_in_one_line_are_one_wall_under_the_lowest_number():
    outline = build_outline(plan_of({"outline": [[0, 0], [1500, 0], [1500.0, 0.05], [4000, 0], [4000, 3000], [0, 3000]]}), 0)
    assert sorted(wall.run.number for wall in outline.walls) == [1, 4, 5, 6]
    assert outline.wall_index(2) == outline.wall_index(1)


def test_a_chain_of_short_edges_is_one_curved_wall():
    angles = np.linspace(0, np.pi / 2, 19)
    curve = [[round(2000 + 2000 * float(np.cos(a)), 1), round(2000 + 2000 * float(np.sin(a)), 1)] for a in angles]
    outline = build_outline(plan_of({"outline": [[0, 0], [4000, 0], *curve, [0, 4000]]}), 0)
    assert len(outline.walls) == 5
    assert sorted(len(wall.run.edges) for wall in outline.walls) == [1, 1, 1, 1, 18]


def test_an_arc_is_one_wall_of_its_own_length():
    room = {"outline": [[0, 0], [4000, 0], {"to": [2000, 2000], "bulge": 0.41421356}, [0, 2000]]}
    arc = next(w for w in build_outline(plan_of(room), 0).walls if w.run.number == 2)
    assert arc.run.length == pytest.approx(np.pi / 2 * 2000, rel=1e-4)
    assert not arc.run.straight


def test_an_opening_counts_from_the_first_typed_corner_whichever_way_the_room_was_typed():
    forwards = surface({"outline": BOX, "tile_height": 2200, "openings": [{"wall": 1, "offset": 500, "width": 900}]}, "wall 1")
    # seen from inside, wall 1's left-hand end is the corner at (4000, 0): the door stands 2600 from it
    assert forwards.gross.bounds == pytest.approx((0, 0, 4000, 2200))
    jambs = sorted({x for x, y in forwards.gross.exterior.coords if y == 0 and 0 < x < 4000})
    assert jambs == [2600, 3500]
    backwards = surface(
        {"outline": [BOX[0], *BOX[:0:-1]], "tile_height": 2200, "openings": [{"wall": 4, "offset": 2600, "width": 900}]}, "wall 4"
    )
    assert backwards.gross.equals(forwards.gross)


def test_from_left_is_left_as_seen_from_inside():
    # a door 900 from the left corner as seen from inside stands at the left of the wall's own x
    for outline in (BOX, [BOX[0], *BOX[:0:-1]]):
        for number in range(1, 5):
            wall = surface(
                {
                    "outline": outline,
                    "tile_height": 2200,
                    "openings": [{"wall": number, "offset": 900, "width": 800, "head": 2100, "from": "left"}],
                },
                f"wall {number}",
            )
            xs = sorted({round(x) for x, y in wall.gross.exterior.coords if 0 < x < wall.gross.bounds[2]})
            assert xs == [900, 1700]


def test_rooms_shrink_and_solids_grow_by_the_build_up():
    tiles = {"floor": {"size": [200, 200], "joint": 6}, "wall": {"size": [200, 200], "thickness": 10, "bed": 3, "joint": 6}}
    room = {"outline": BOX, "tile_height": 2000, "columns": [{"outline": [[1000, 1000], [1300, 1000], [1300, 1300], [1000, 1300]]}]}
    floor = lining(room, tiles=tiles, rules={"perimeter_joint": 8}).floor
    # membrane 2 + bed 3 + tile 10 + joint 8
    assert floor.field.bounds == pytest.approx((23, 23, 3977, 2977))
    assert floor.field.interiors[0].bounds == pytest.approx((977, 977, 1323, 1323))


def test_a_finished_outline_is_where_the_tile_ends():
    tiles = {"floor": {"size": [200, 200], "joint": 6}, "wall": {"size": [200, 200], "thickness": 10, "bed": 3, "joint": 6}}
    room = {
        "outline": BOX,
        "outline_is": "finished",
        "tile_height": 2000,
        "plinths": [{"outline": [[1000, 2000], [2000, 2000], [2000, 3000], [1000, 3000]]}],
    }
    made = lining(room, tiles=tiles, rules={"perimeter_joint": 8})
    assert made.floor.field.bounds == pytest.approx((8, 8, 3992, 2992))
    assert made.floor.gross.bounds == pytest.approx((-15, -15, 4015, 3015))
    assert made.floor.field.area == pytest.approx(3984 * 2984 - (1000 + 16) * 1000)


def test_a_door_with_depth_brings_the_floor_into_the_reveal():
    floor = lining({"outline": BOX, "openings": [{"wall": 1, "offset": 1000, "width": 900, "depth": 120}]}).floor
    assert floor.gross.area == pytest.approx(4000 * 3000 + 900 * 120)
    names = [
        s.name
        for s in lining(
            {"outline": BOX, "tile_height": 2000, "openings": [{"wall": 1, "offset": 1000, "width": 900, "depth": 120}]}
        ).surfaces
    ]
    assert names[-2:] == ["opening 1 left", "opening 1 right"]


def test_a_wall_behind_a_column_is_in_two_parts():
    room = {"outline": BOX, "tile_height": 2000, "columns": [{"outline": [[1500, 2700], [1800, 2700], [1800, 3000], [1500, 3000]]}]}
    wall = surface(room, "wall 3")
    assert len(wall.gross.geoms) == 2
    assert wall.gross.area == pytest.approx((4000 - 300) * 2000)


def test_a_plinth_that_almost_touches_a_wall_is_welded_to_it():
    room = {"outline": BOX, "plinths": [{"outline": [[1000, 2000], [2000, 2000], [2000, 2999.95], [1000, 3000.05]]}]}
    assert len(lining(room).shell.cells[1]) == 1
    assert set_out_room(room).tape.count("internal") == 6


def test_floor_through_runs_the_floor_under_the_walls():
    tiles = {"floor": {"size": [200, 200], "joint": 6, "thickness": 12, "bed": 4}, "wall": {"size": [200, 200], "thickness": 10, "bed": 3}}
    room = {"outline": BOX, "tile_height": 2000}
    made = lining(room, tiles=tiles, rules={"foot": "floor-through", "perimeter_joint": 8})
    assert made.floor.field.bounds == pytest.approx((2 + 8, 2 + 8, 3990, 2990))
    wall = next(s for s in made.surfaces if s.name == "wall 1")
    assert wall.field.bounds[1] == pytest.approx(2 + 4 + 12 + 8)


@given(squared())
def test_all_surfaces_make_up_the_shell(room):
    """An independent sum: floor and plinth tops are the room less columns; upright faces are perimeters by height."""
    made = lining({**room, "tile_height": 2000.0, "tanking_height": 300.0})
    flat = sum(s.gross.area for s in made.surfaces if s.placing.line is None)
    assert flat == pytest.approx(made.outline.domain.area)
    walls = sum(s.gross.area for s in made.surfaces if s.kind == "wall")
    assert walls == pytest.approx(made.outline.outer.polygon().length * 2000.0)
    sides = sum(s.gross.area for s in made.surfaces if s.kind == "plinth-side")
    assert sides == pytest.approx(sum(ring.polygon().length * 150.0 for ring in made.outline.plinth_rings))
    columns = sum(s.gross.area for s in made.surfaces if s.kind == "column-side")
    assert columns == pytest.approx(sum(ring.polygon().length * 2000.0 for ring in made.outline.column_rings))


@given(touching(), st.sampled_from([90.0, 7.0, 33.0]))
def test_touching_solids_make_the_same_shell_whichever_way_the_room_is_turned(room, turn):
    """Rounded coordinates of a turned room never quite touch: contacts are welded, none is lost or made twice."""

    def told(given_):
        made = lined_room(given_)
        shell = {
            kind: round(sum(s.gross.area for s in made.lining.surfaces if s.kind == kind), -3)
            for kind in ("floor", "wall", "plinth-side", "column-side")
        }
        counts = [made.tape.count(kind) for kind in ("internal", "external", "made")]
        sealant = round(sum(j.length for j in made.joints if j.kind in ("plinth", "column", "perimeter", "corner")), -1)
        return shell, counts, round(made.tape.metres("internal"), 2), sealant

    assert told(room) == told(moved(room, turn=turn))


@given(touching())
def test_euler_holds_on_the_shell(room):
    """Corners less edges plus faces of the floor's patchwork: V - E + F = 1 + parts for a plane graph."""
    for number, plinth in enumerate(room.get("plinths", [])):
        plinth["height"] = 100 + 50 * number  # no face rises between plinths of one height
    made = lining(room)
    shell = made.shell
    ends = {point for face in (*shell.faces, *shell.thresholds) for point in (face.a, face.b)}
    edges = {tuple(sorted((face.a, face.b))) for face in (*shell.faces, *shell.thresholds)}
    graph: dict[object, object] = {point: point for point in ends}

    def root(point):
        while graph[point] != point:
            point = graph[point]
        return point

    for a, b in edges:
        graph[root(a)] = root(b)
    parts = len({root(point) for point in ends})
    inner = sum(len(polygons) for polygons in shell.cells.values())
    # faces of the plane graph: the cells, the outside, and columns that do not open onto it
    faces = 1 + parts - len(ends) + len(edges)
    assert inner + 1 <= faces <= inner + 1 + len(made.outline.column_rings)


@pytest.mark.parametrize("first", [0, 3], ids=["within the ring", "where the ring begins"])
def test_a_corner_put_into_a_straight_wall_parts_no_edge_of_the_floor(first):
    """By hand: four walls give four edges of the field; a corner 0.01 mm off its wall is one that was measured, and gives five."""
    box = [[0, 0], [4000, 0], [4000, 3000], [1700, 3000], [0, 3000]]
    inserted = {"outline": box[first:] + box[:first]}
    measured = {"outline": [[x, 3000.01] if x == 1700 else [x, y] for x, y in inserted["outline"]]}
    edges, borders = lined_room(inserted).lining.floor.bordered()
    assert len(edges) == len(borders) == 4
    lengths = np.hypot(*(edges[:, 1] - edges[:, 0]).T)
    inset = 2 * borders[0].distance
    assert np.sort(lengths) == pytest.approx([3000 - inset, 3000 - inset, 4000 - inset, 4000 - inset])
    assert len(lined_room(measured).lining.floor.bordered()[0]) == 5
