from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
import shapely
from typer.testing import CliRunner

from cli.main import app
from layout.changes.variants import _sawn, compare
from layout.readers.planfile import read_plan
from layout.setout.conduct import set_out
from layout.writers.records import setout_record
from tests.rooms import moved, plan_of, plan_text
from tests.test_project import TOP

ROOM = {"outline": [[0, 0], [3100, 0], [3100, 2100], [0, 2100]]}


def test_the_plan_itself_comes_first_and_no_runner_up_is_better():
    found = compare(plan_of(ROOM), "starts")
    assert found[0].name == "as planned"
    assert len(found) > 1
    assert all(other.worst <= found[0].worst + 1e-6 for other in found[1:])


def test_a_fixed_start_stands_beside_the_best():
    fixed = compare(plan_of(ROOM, tiles={"floor": {"size": [200, 200], "joint": 6, "start": [30, 30]}}), "starts")
    free = compare(plan_of(ROOM, tiles={"floor": {"size": [200, 200], "joint": 6}}), "starts")
    assert [a.name for a in fixed[:2]] == ["as planned", "best free start"]
    assert fixed[0].smallest < fixed[1].smallest
    assert fixed[1].smallest == free[0].smallest
    told = set_out(plan_of(ROOM, tiles={"floor": {"size": [200, 200], "joint": 6, "start": [30, 30]}})).rooms[0].findings
    assert any("the plan fixes the start: shifted by" in f.text for f in told if f.code == "cut-below-least")


def test_patterns_side_by_side():
    found = compare(plan_of(ROOM, tiles={"floor": {"size": [300, 147], "joint": 6}}), "patterns")
    assert [a.name for a in found] == ["as planned", "running, half", "running, third", "diagonal", "herringbone, 45"]
    stack, diagonal = found[0], found[3]
    assert diagonal.waste > stack.waste
    assert all(0.0 <= a.waste < 1.0 for a in found)


def test_tiles_side_by_side():
    plan = plan_of(ROOM, tiles={"floor": {"size": [200, 200], "joint": 6}, "large": {"size": [300, 300], "joint": 5}})
    assert [a.name for a in compare(plan, "tiles")] == ["as planned", "tile large"]


def test_sawn_length_of_a_room_cut_along_two_walls():
    # 5 x 4 tiles of 200 with 6 joint, started in a corner: strips along two walls, sawn once each
    setout = set_out(
        plan_of(
            {"outline": [[0, 0], [1116, 0], [1116, 916], [0, 916]]},
            tiles={"floor": {"size": [200, 200], "joint": 6, "start": [10, 10]}},
            rules={"perimeter_joint": 8},
        )
    )
    floor = setout.rooms[0].floor
    region = floor.surface.region
    x0, y0, x1, y1 = region.bounds
    laid = shapely.union_all([*floor.field.pieces(), *floor.field.whole_polygons()])
    right = shapely.intersection(laid.boundary, shapely.LineString([(x1, y0), (x1, y1)])).length
    top = shapely.intersection(laid.boundary, shapely.LineString([(x0, y1), (x1, y1)])).length
    assert _sawn(setout, 0) == pytest.approx(right + top, rel=0.02)


def test_the_command_compares(tmp_path):
    path = tmp_path / "a.toml"
    path.write_text(plan_text({"name": "A", **ROOM}))
    run = CliRunner().invoke
    assert "floors side by side" in run(app, ["setout", str(path), "--compare", "starts"]).stdout
    made = json.loads(run(app, ["setout", str(path), "--compare", "patterns", "--json"]).stdout)
    assert made["schema"] == "gaugerod/compare/1"
    wrong = run(app, ["setout", str(path), "--compare", "colours"])
    assert wrong.exit_code == 2
    assert "give starts, patterns or tiles" in wrong.stderr


@pytest.mark.parametrize("tile", [{"size": [200, 200], "joint": 6}, {"size": [600, 300], "joint": 4, "pattern": "running", "offset": 0.5}])
def test_starts_told_beside_the_best_truly_differ(tile):
    """None is a neighbour of the start taken or of another: each stands 10 mm off, whole tiles aside, in one direction at least."""
    floor = set_out(plan_of(ROOM, tiles={"floor": tile})).rooms[0].floor
    starts = [floor.start.origin, *(runner.origin for runner in floor.start.runners_up)]
    assert len(starts) > 1
    pitch = np.abs(floor.field.pattern.vectors).max(axis=0)
    for k, one in enumerate(starts):
        for other in starts[:k]:
            off = np.abs(np.remainder(np.array(one) - other + pitch / 2, pitch) - pitch / 2)
            assert off.max() >= 10.0 - 1e-6


L_ROOM = {"outline": [[0, 0], [6500, 0], [6500, 2900], [4100, 2900], [4100, 4700], [0, 4700]]}


@pytest.mark.parametrize(
    ("room", "tile"),
    [
        (L_ROOM, {"size": [200, 200], "joint": 6}),
        (L_ROOM, {"size": [600, 300], "joint": 4, "pattern": "running", "offset": 0.5}),
        ({**L_ROOM, "structural_joints": [{"line": [[2950, -10], [2950, 4710]], "width": 20}]}, {"size": [200, 200], "joint": 6}),
        (moved(L_ROOM, turn=180.0), {"size": [200, 200], "joint": 6}),
    ],
    ids=["stack", "half bond", "structural joint", "turned"],
)
def test_a_start_told_beside_the_best_gives_what_is_told_once_the_plan_takes_it(room, tile):
    """Set out anew from the record's own figures: whoever types the place gets the cut that he read."""
    start = setout_record(set_out(plan_of(room, tiles={"floor": tile})), pieces=False)["rooms"][0]["surfaces"][0]["start"]
    beside = start["runners_up"]
    assert beside
    assert all(each["laid"] for each in beside)
    for each in beside:
        taken = set_out(plan_of(room, tiles={"floor": {**tile, "start": each["origin"]}})).rooms[0].floor.start
        assert taken.smallest == pytest.approx(each["smallest_cut_mm"], abs=0.02)
        assert taken.worst == pytest.approx(each["smallest_cut_worst_mm"], abs=0.02)


def test_starts_beside_the_best_are_laid_over_hips_too():
    """Tiles are cut along hips: along each direction alone three starts of the kitchen were told as 104, 93 and 62, where 59, 64 and 61 are laid."""
    plan = read_plan(TOP / "plans" / "kitchen.toml")
    beside = set_out(plan).rooms[0].floor.start.runners_up
    assert beside
    for each in beside:
        taken = set_out(replace(plan, tiles={**plan.tiles, "floor": replace(plan.tiles["floor"], start=each.origin)})).rooms[0].floor
        pieces = np.concatenate([laid.pieces for laid in taken.field.bays])
        box = shapely.oriented_envelope(pieces)
        sides = shapely.length(shapely.boundary(box)) / 2
        width = sides / 2 - np.sqrt(np.maximum((sides / 2) ** 2 - shapely.area(box), 0.0))  # of a rectangle by its girth and area
        strips = shapely.area(pieces) > 0.9 * shapely.area(box)
        assert each.smallest <= width[strips].min() + 0.05


def test_a_large_floor_is_not_laid_again_to_tell_the_starts_beside_it():
    room = {"outline": [[0, 0], [21050, 0], [21050, 20030], [0, 20030]]}
    floor = set_out(plan_of(room, tiles={"floor": {"size": [200, 200], "joint": 6}}, rules={"movement": "UK_FLOOR"})).rooms[0].floor
    assert floor.start.runners_up
    assert not any(each.laid for each in floor.start.runners_up)
