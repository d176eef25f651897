"""Joints, tiles and planes that differ, and what of walls can be kept: figures by hand, in rooms of a few tiles."""

from __future__ import annotations

from typing import Any

import pytest
import shapely

from layout.changes.compare import compare_setouts
from layout.changes.keep import keep_built
from layout.changes.shape import said
from layout.errors import PlanError
from layout.readers.planfile import parse_plan
from layout.setout.conduct import set_out
from layout.sheets.change_sheet import change_sheets
from layout.sheets.scene import Stroke
from tests.rooms import moved, plan_of, plan_text

SMALL: dict[str, Any] = {"name": "Bar", "outline": [[0, 0], [1500, 0], [1500, 1200], [0, 1200]]}
ELL = {**SMALL, "outline": [[0, 0], [1500, 0], [1500, 800], [1000, 800], [1000, 1200], [0, 1200]]}
TILES: dict[str, Any] = {"floor": {"size": [200, 200], "joint": 6}}


def with_joint(line):
    return set_out(plan_of({**SMALL, "structural_joints": [{"line": line, "width": 10}]}))


@pytest.fixture(scope="module")
def bare():
    return set_out(plan_of(SMALL))


def rows(changes):
    return {each.what: (each.before, each.after) for each in changes.rooms[0].works}


def test_a_joint_that_came_or_went_is_told_with_its_ends(bare):
    upright, slanting = with_joint([[700, -20], [700, 1220]]), with_joint([[600, -20], [800, 1220]])
    assert rows(compare_setouts(upright, bare))["movement joint 1, as it was"] == ("x = 700.0", "")
    assert rows(compare_setouts(bare, upright))["movement joint 1"] == ("", "x = 700.0")
    told = rows(compare_setouts(bare, slanting))["movement joint 1"][1]
    # on the way from 600, -20 to 800, 1220 x grows by 200 / 1240 a millimetre; the ends lie on the membranes' faces
    numbers = [float(each) for each in told.replace("from ", "").replace(" to ", ", ").split(", ")]
    assert numbers[0] == pytest.approx(600 + (numbers[1] + 20) * 200 / 1240, abs=1)
    assert numbers[2] == pytest.approx(600 + (numbers[3] + 20) * 200 / 1240, abs=1)
    assert (numbers[1], numbers[3]) == pytest.approx((0, 1200), abs=12)


def test_a_joint_that_lies_elsewhere_is_clouded_where_it_is():
    hall = {"name": "Hall", "outline": [[0, 0], [2600, 0], [2600, 1500], [0, 1500]]}
    one, two = (set_out(plan_of({**hall, "kept_joints": [{"line": [[x, 0], [x, 1500]]}]})) for x in (1000.0, 1400.0))
    changes = compare_setouts(one, two)
    assert rows(changes)["movement joint 1"] == ("x = 1000.0", "x = 1400.0, moved by 400.0")
    (sheet, *_) = change_sheets(one, two, changes)
    clouds = [shapely.Polygon(each.points).buffer(0) for each in sheet.room if isinstance(each, Stroke) and each.layer == "REVISION"]
    assert any(cloud.covers(shapely.LineString([[1400, 100], [1400, 1400]])) for cloud in clouds)
    assert not any(cloud.covers(shapely.Point(2300, 700)) for cloud in clouds)


def test_a_room_of_which_nothing_is_seen_on_the_plan_has_a_sheet_without_clouds(bare):
    taller = set_out(plan_of({**SMALL, "tanking_height": 300}))
    (sheet, *_) = change_sheets(bare, taller, compare_setouts(bare, taller))
    assert [each for each in sheet.room if isinstance(each, Stroke) and each.layer == "REVISION"] == []


def test_a_tile_that_the_plan_no_longer_has_is_told():
    spare = {**TILES, "spare": {"size": [100, 100], "joint": 6}}
    changes = compare_setouts(set_out(plan_of(SMALL, tiles=spare)), set_out(plan_of(SMALL, tiles=TILES)))
    assert [(each.what, each.before, each.after) for each in changes.plan] == [("tile spare", "there", "")]
    changes = compare_setouts(set_out(plan_of(SMALL, tiles=TILES)), set_out(plan_of(SMALL, tiles=spare)))
    assert [(each.what, each.before, each.after) for each in changes.plan] == [("tile spare", "", "there")]


def test_a_ramp_that_went_with_its_room_is_the_same_ramp_and_a_steeper_one_is_told():
    def ramp(low: float, shift: float = 0.0):
        outline = [[x + shift, y] for x, y in SMALL["outline"]]
        plane = [[shift, 0, 0], [shift, 1200, 0], [shift + 1500, 0, low]]
        return set_out(plan_of({**SMALL, "outline": outline, "falls": [{"plane": plane}]}))

    shifted = compare_setouts(ramp(-20.0), ramp(-20.0, 500.0)).rooms[0]
    assert (shifted.moved, shifted.shape) == ("shifted by 500.0, 0.0", ())
    told = {each.what: each for each in compare_setouts(ramp(-20.0), ramp(-30.0)).rooms[0].shape}
    assert list(told) == ["fall 1: plane"]
    assert told["fall 1: plane"].after.endswith("1500, 0, -30")


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (None, "not given"),
        ("", "not given"),
        (True, "yes"),
        (False, "no"),
        (1.50, "1.5"),
        ((1.0, 2.5), "1, 2.5"),
        ("gully", "gully"),
        (3, "3"),
    ],
)
def test_a_value_is_said_as_a_person_writes_it(value, words):
    assert said(value) == words


WALLED: dict[str, Any] = {**SMALL, "tile_height": 600}
WALL_TILES = {"floor": TILES["floor"], "wall": {"size": [300, 200], "joint": 4}}


def test_lines_of_walls_stay_and_those_of_another_tile_start_anew():
    before = set_out(plan_of(WALLED, tiles=WALL_TILES))
    wider = {**WALLED, "outline": [[0, 0], [1580, 0], [1580, 1200], [0, 1200]]}
    same, other = (
        set_out(plan_of(wider, tiles={"floor": TILES["floor"], "wall": {"size": size, "joint": 4}})) for size in ([300, 200], [150, 200])
    )
    kept = keep_built(before, same, ["lines"]).rooms[0].kept_lines
    assert [line.on for line in kept] == ["floor", "wall 1", "wall 2", "wall 3", "wall 4"]
    old = {each.surface.name: each for each in before.rooms[0].surfaces}
    # walls 2 and 4 are as long as they were: their lattice stands where it stood from their left-hand end, and so high
    for line in kept:
        if line.on in ("wall 2", "wall 4"):
            assert line.at == pytest.approx(tuple(old[line.on].field.origins[0]), abs=0.002)
    again = set_out(parse_plan(plan_text(wider, tiles=WALL_TILES), "again.toml"))
    assert [line.on for line in keep_built(before, again, ["lines"]).rooms[0].kept_lines] == [line.on for line in kept]
    assert [line.on for line in keep_built(before, other, ["lines"]).rooms[0].kept_lines] == ["floor"]


def test_a_wall_in_several_bays_keeps_each_by_its_outline():
    joint = {"line": [[700, -20], [700, 1220]], "width": 10}
    before = set_out(plan_of({**WALLED, "structural_joints": [joint]}, tiles=WALL_TILES))
    face = next(each for each in before.rooms[0].surfaces if each.surface.name == "wall 1")
    assert len(face.bays) == 2
    kept = [line for line in keep_built(before, before, ["lines"]).rooms[0].kept_lines if line.on == "wall 1"]
    assert [line.at for line in kept] == [pytest.approx(tuple(origin), abs=0.002) for origin in face.field.origins]
    for line, bay in zip(kept, face.bays, strict=True):
        assert shapely.Polygon(line.bay).symmetric_difference(bay.between_joints).area < 2.0 * bay.between_joints.length


def test_a_border_has_no_line_of_its_own_to_keep():
    tiles = {"floor": {**TILES["floor"], "border": {"tile": "dark", "courses": 1}}, "dark": {"size": [100, 100], "joint": 6}}
    before = set_out(plan_of(SMALL, tiles=tiles))
    assert any(each.surface.kind == "border" for each in before.rooms[0].surfaces)
    assert [line.on for line in keep_built(before, before, ["lines"]).rooms[0].kept_lines] == ["floor"]


def test_tiles_that_do_not_lie_on_themselves_cannot_be_kept_in_a_room_that_is_turned():
    # a large tile beside a short one and a long one: seen from the other side the long one comes first
    cell = {
        "tiles": [
            [[0, 0], [200, 0], [200, 200], [0, 200]],
            [[206, 0], [306, 0], [306, 60], [206, 60]],
            [[206, 66], [306, 66], [306, 200], [206, 200]],
        ],
        "vectors": [[312, 0], [0, 206]],
    }
    tiles = {"floor": {"joint": 6, "pattern": "own", "cell": cell}}
    before, after = (set_out(plan_of(room, tiles=tiles)) for room in (ELL, moved(ELL, turn=180)))
    with pytest.raises(PlanError, match="its tiles do not lie on themselves when turned so; draw the room as it was"):
        keep_built(before, after, ["lines"])
