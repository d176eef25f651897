"""A border course: band and field share the floor out, a joint apart, and nothing else changes."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from layout.errors import PlanFaults, SetOutError
from layout.quantities.takeoff import take_off
from layout.setout.conduct import set_out
from layout.setout.residuals import audit
from layout.shapes import union_of
from layout.writers.records import setout_record
from tests.rooms import moved, plan_of, set_out_room
from tests.strategies import FEET, squared

TILES: dict[str, Any] = {
    "floor": {"size": [200, 200], "joint": 6, "border": {"tile": "dark", "courses": 1}},
    "dark": {"size": [200, 100], "joint": 6},
}
RULES = {"movement": "DE_INTERIOR"}
ROOM = {"outline": [[0, 0], [6500, 0], [6500, 2900], [4100, 2900], [4100, 4700], [0, 4700]]}


def laid(room):
    floor = room.floor
    bands = [done for done in room.surfaces if done.surface.kind == "border"]
    inner = shapely.union_all([*floor.field.pieces(), *floor.field.whole_polygons()])
    outer = [shapely.union_all([*band.field.pieces(), *band.field.whole_polygons()]) for band in bands]
    return floor, inner, outer


@settings(max_examples=30)
@given(squared(most=39), st.sampled_from(FEET))
def test_band_and_field_fill_the_floor_a_joint_apart(room, foot):
    try:
        done = set_out_room({**room, "tile_height": 400}, tiles=TILES, rules={**RULES, "foot": foot})
    except SetOutError:  # too narrow for a field inside the border
        return
    check_filled(done)


def test_a_bay_that_lies_in_the_band_alone_is_tiled():
    """In a neck of 400 two movement joints part off a bay that is all band: 125 cm² were neither tiled nor told."""
    outline = [[400, 0], [400, 500], [900, 500], [900, 1150], [100, 1150], [100, 550], [0, 550], [0, 0]]
    setout = set_out(plan_of({"outline": outline, "tile_height": 400}, tiles=TILES, rules={**RULES, "foot": "wall-through"}))
    (done,) = setout.rooms
    check_filled(done)
    assert done.floor.lost_mm2 == 0.0
    assert [each.words() for each in audit(setout).breaches if each.surface and each.surface.kind == "border"] == []
    band = next(each for each in done.surfaces if each.surface.kind == "border" and len(each.bays) > 1)
    narrow = replace(band.bays[0], region=shapely.buffer(band.bays[0].region, -3.0))
    short = replace(band, bays=(narrow, *band.bays[1:]))
    less = replace(done, surfaces=tuple(short if each is band else each for each in done.surfaces))
    assert any("area of bays" in each.words() for each in audit(replace(setout, rooms=(less,))).breaches)


def check_filled(done):
    floor, inner, outer = laid(done)
    whole = floor.surface.divided_region
    every = union_of([inner, *outer])
    assert shapely.difference(every, whole).area < 1.0
    assert inner.area + sum(band.area for band in outer) == pytest.approx(every.area, abs=1.0)
    for k, band in enumerate(outer):
        for other in [inner, *outer[k + 1 :]]:
            if not band.is_empty and not other.is_empty:
                assert band.distance(other) >= 6 - 1e-3
    strips = union_of([shapely.buffer(shapely.LineString(j.line), j.width / 2 + 6.1, cap_style="square") for j in done.joints])
    left = shapely.difference(shapely.difference(whole, shapely.buffer(every, 6.2, join_style="mitre")), strips)
    assert shapely.buffer(left, -0.3).area < 1.0


@pytest.mark.parametrize(("foot", "off"), [("wall-through", 15 + 6), ("floor-through", 2 + 8), ("cove", 2 + 30 + 6)])
def test_a_band_begins_where_the_floor_does_at_each_foot_of_the_wall(foot, off):
    # tiled wall: membrane 2, bed 3, tile 10; joint 6; the floor runs under the tile, or stops at the cove's toe
    rules = {**RULES, "foot": foot}
    room = set_out_room({"outline": [[0, 0], [4000, 0], [4000, 3000], [0, 3000]], "tile_height": 400}, tiles=TILES, rules=rules)
    band = next(done for done in room.surfaces if done.surface.name == "border at wall 1")
    assert band.surface.region.bounds[1] == pytest.approx(off)
    assert room.floor.surface.field.bounds[1] == pytest.approx(off + 100 + 6)
    assert band.field.outlines(band.field.whole)[:, :, 1].min() == pytest.approx(off)


def test_a_band_of_two_courses_by_hand():
    # plain 4000 x 3000, joint 6, nothing on the walls: band 2 x 100 + 6 = 206 from 6 mm, then a joint of 6: the field starts at 218
    tiles = {**TILES, "floor": {**TILES["floor"], "border": {"tile": "dark", "courses": 2}}}
    room = set_out_room({"outline": [[0, 0], [4000, 0], [4000, 3000], [0, 3000]], "tanking_height": 0}, tiles=tiles, rules=RULES)
    bare = [round(v, 3) for v in room.floor.surface.field.bounds]
    off = room.lining.outline.walls[0].build_up + 6
    assert bare == [off + 212, off + 212, 4000 - off - 212, 3000 - off - 212]
    names = [done.surface.name for done in room.surfaces]
    assert names[:5] == ["floor", *(f"border at wall {k}" for k in (1, 2, 3, 4))]
    one, two = (next(d for d in room.surfaces if d.surface.name == f"border at wall {k}") for k in (1, 2))
    assert one.surface.region.bounds[2] - one.surface.region.bounds[0] == pytest.approx(4000 - 2 * off)  # the lower number runs through
    assert two.surface.region.bounds[1] == pytest.approx(off + 206 + 6)
    inner = one.start.lines[0]
    assert inner.name == "R1"
    assert inner.offsets[0].bare == pytest.approx(off + 206)


@pytest.mark.parametrize("turn", [90.0, 33.0])
def test_turning_the_room_turns_the_border(turn):
    here, there = (set_out_room(room, tiles=TILES, rules=RULES) for room in (ROOM, moved(ROOM, turn=turn)))
    assert [(d.surface.name, len(d.field.whole), len(d.field.cut)) for d in here.surfaces] == [
        (d.surface.name, len(d.field.whole), len(d.field.cut)) for d in there.surfaces
    ]


def test_movement_joints_run_through_the_border_and_quantities_hold_it():
    plan = plan_of(ROOM, tiles=TILES, rules=RULES)
    setout = set_out(plan)
    room = setout.rooms[0]
    plain = set_out_room(ROOM, tiles={"floor": {"size": [200, 200], "joint": 6}}, rules=RULES)
    cut, same = ([j for j in r.joints if j.kind == "intermediate"] for r in (room, plain))
    assert [j.length for j in cut] == pytest.approx([j.length for j in same])
    bill = {item.key: item.quantity for item in take_off(setout).items}
    other = {item.key: item.quantity for item in take_off(set_out(plan_of(ROOM, tiles={"floor": TILES["dark"]}, rules=RULES))).items}
    assert bill["tiles.dark"] > 0
    corners = 6 * 100 * 6e-6  # the joints where bands butt are in neither
    assert bill["tiled.floor"] + bill["tiled.dark"] == pytest.approx(other["tiled.floor"], abs=corners + 1e-3)
    record = setout_record(setout)["rooms"][0]
    kinds = [surface["kind"] for surface in record["surfaces"]]
    assert kinds.count("border") == 6
    assert sum(s["gross_m2"] for s in record["surfaces"] if s["kind"] in ("floor", "border")) == pytest.approx(record["floor_m2"], abs=1e-5)


BAD = [
    ({"floor": {"border": {"tile": "gold"}}}, "there is no tile"),
    ({"floor": {"border": {"tile": "floor"}}}, "plain stack"),
    ({"floor": {"border": {"tile": "dark"}}, "dark": {"pattern": "running"}}, "plain stack"),
    ({"floor": {"border": {"tile": "dark", "courses": 0}}, "dark": {}}, "courses"),
]


@pytest.mark.parametrize(("tiles", "words"), BAD)
def test_a_border_that_cannot_be_is_told(tiles, words):
    with pytest.raises(PlanFaults, match=words):
        plan_of(ROOM, tiles=tiles)


def test_a_curved_wall_and_a_room_too_narrow_are_refused():
    curved = {"outline": [[0, 0], [4000, 0], [4000, 2000], {"to": [2000, 4000], "bulge": 0.4142}, [0, 4000]]}
    with pytest.raises(SetOutError, match="curved"):
        set_out_room(curved, tiles=TILES)
    with pytest.raises(SetOutError, match="leave no field"):
        set_out_room({"outline": [[0, 0], [4000, 0], [4000, 220], [0, 220]]}, tiles=TILES)
