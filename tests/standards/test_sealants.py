"""The sealant joint against published tables: width from movement, depth, backer rod, yield."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from layout.errors import PlanFaults
from layout.quantities.takeoff import take_off
from layout.setout.conduct import set_out
from layout.standards.sealants import Sealant, backer_rod, design, exterior_extra, joint_width, movement, sealant_depth, stock_width
from tests.examples import example
from tests.rooms import moved, plan_of, plan_text, set_out_room
from tests.test_project import TOP


@pytest.mark.parametrize(("alpha", "metres", "kelvin", "moved", "w25", "w20", "w125"), [
    # worked widths, computed from dL = alpha L dT and W = dL / S (ASTM C1472 form)
    (7, 6.0, 20, 0.840, 3.36, 4.20, 6.72),
    (7, 6.0, 40, 1.680, 6.72, 8.40, 13.44),
    (7, 3.6576, 60, 1.536, 6.14, 7.68, 12.29),
    (7, 8.0, 50, 2.800, 11.20, 14.00, 22.40),
    (6, 6.0, 40, 1.440, 5.76, 7.20, 11.52),
    (8.1, 3.6576, 60, 1.778, 7.11, 8.89, 14.22),
    (10, 10.0, 30, 3.000, 12.00, 15.00, 24.00),
    (12, 6.0, 40, 2.880, 11.52, 14.40, 23.04),
])  # fmt: skip
def test_widths_of_the_worked_table(alpha, metres, kelvin, moved, w25, w20, w125):
    found = movement(metres * 1000, Sealant(temperatures=(0.0, kelvin), expansion=alpha))
    assert found == pytest.approx(moved, abs=0.001)
    assert found is not None
    for capability, width in ((25, w25), (20, w20), (12.5, w125)):
        assert joint_width(found, capability) == pytest.approx(width, abs=0.006)


def test_a_tolerance_takes_the_joint_to_the_next_stock_width():
    # with C = 1.6 mm: 6.72 + 1.6 = 8.32 mm, next stock width 10 mm (computed)
    found = design(8.0, 6000.0, Sealant(temperatures=(10.0, 50.0), tolerance=1.6))
    assert found.needed == pytest.approx(8.32)
    assert found.stock == 10.0
    assert not found.enough


def test_four_times_the_movement_is_a_quarter_of_the_width():
    # "Tile Installation Methods: Expansion Joints" (building design handbook): width at least 4 x the expected movement
    assert joint_width(1.536, 25.0) == pytest.approx(4 * 1.536)


@pytest.mark.parametrize(("fahrenheit", "eight", "twelve"), [
    # temperature rule of EJ171, exterior, as reported by "Expansion joints - width and spacing"; 115 degF at 12 ft is published
    (100, 9.525, 12.700), (115, 11.113, 14.288), (130, 12.700, 15.875), (145, 14.288, 17.463),
])  # fmt: skip
def test_exterior_joints_grow_with_the_range_of_temperature(fahrenheit, eight, twelve):
    extra = exterior_extra(fahrenheit / 1.8)
    assert 9.525 + extra == pytest.approx(eight, abs=0.001)
    assert 12.7 + extra == pytest.approx(twelve, abs=0.001)


@pytest.mark.parametrize(("width", "depth"), [(6, 6), (10, 6), (12, 6), (16, 8), (20, 10), (25, 12.5), (32, 13)])
def test_depth_is_half_the_width_clamped(width, depth):
    # "Architectural detailing": half the width, 6 to 13 mm (6 x 6, 19 x 9, 32 x 13)
    assert sealant_depth(width) == depth


@pytest.mark.parametrize(("width", "rod"), [(6, 8), (8, 10), (10, 13), (12, 15), (15, 20), (20, 25)])
def test_backer_rod_is_a_quarter_larger(width, rod):
    # + 25 % computed, stock sizes common practice, no source
    assert backer_rod(width) == rod


@pytest.mark.parametrize(("width", "depth", "ml", "cartridge", "foil", "with_waste"), [
    # 1 mm2 of section is 1 ml a metre; waste as yield / (1 + waste): guide on cost per metre of sealant joints
    (5, 5, 25, 12.40, 24.00, 11.27), (8, 6, 48, 6.46, 12.50, 5.87), (10, 5, 50, 6.20, 12.00, 5.64),
    (12, 6, 72, 4.31, 8.33, 3.91), (15, 8, 120, 2.58, 5.00, 2.35), (20, 10, 200, 1.55, 3.00, 1.41),
])  # fmt: skip
def test_yields_of_the_published_table(width, depth, ml, cartridge, foil, with_waste):
    assert width * depth == ml
    assert 310 / ml == pytest.approx(cartridge, abs=0.006)
    assert 600 / ml == pytest.approx(foil, abs=0.006)
    assert 310 / ml / 1.1 == pytest.approx(with_waste, abs=0.006)


def test_stock_widths_go_on_in_fives():
    assert [stock_width(w) for w in (5.0, 6.35, 9.53, 12.7, 22.4, 31.0)] == [6, 8, 10, 15, 25, 35]


ROOM = {
    "outline": [[0, 0], [12_000, 0], [12_000, 5_000], [0, 5_000]],
    "tile_height": 2_000,
    "tanking_height": 1_500,
    "openings": [{"name": "door", "wall": 1, "offset": 900, "width": 1000}],
    "drains": [{"kind": "channel", "from": [2000, 2500], "to": [5000, 2500]}],
    "pipes": [{"at": [600, 4300], "diameter": 110}],
}


def test_a_joint_narrower_than_its_movement_is_told():
    text = plan_text({"name": "Room", **ROOM}, rules={"movement": "UK_FLOOR"}) + "[sealant]\ntemperatures = [5, 65]\nmovement_class = 20\n"
    from layout.readers.planfile import parse_plan

    room = set_out(parse_plan(text)).rooms[0]
    told = [f.text for f in room.findings if f.code == "joint-too-narrow"]
    longest = max(bay.longest for bay in room.floor.bays)
    needed = 7e-6 * longest * 60 / 0.20
    assert needed > 6
    assert any("intermediate" in text and f"= {needed:.1f}" in text for text in told)


@pytest.mark.parametrize(("extra", "words"), [
    ("[sealant]\ntemperatures = [65, 5]\n", "does not rise"),
    ("[sealant]\nmovement_class = 30\n", "one of 25, 20, 12.5, 7.5"),
    ("[sealant]\ncolour = 3\n", "colour"),
])  # fmt: skip
def test_a_sealant_that_cannot_be_is_told(extra, words):
    from layout.readers.planfile import parse_plan

    with pytest.raises(PlanFaults, match=words):
        parse_plan(plan_text({"name": "Room", **ROOM}) + extra)


@pytest.mark.parametrize(("given", "words"), [
    ({"max_edge": 300}, "does not hold two tiles"),
    ({"max_area": 0.05}, "does not hold two tiles"),
    ({"movement": "DE_INTERIOR", "max_aspect": 3}, "looser than"),
    ({"movement_joint": 1200}, "quarter of the longest bay"),
])  # fmt: skip
def test_rules_that_contradict_themselves_are_told(given, words):
    with pytest.raises(PlanFaults, match=words):
        plan_of(ROOM, rules={"movement": "EJ171_INTERIOR_WET_SUN", **given})


@pytest.mark.parametrize(("joints", "words"), [
    ([{"line": [[20_000, 0], [20_000, 5_000]]}], "misses"),
    ([{"line": [[4_000, 0], [4_000, 5_000]]}, {"line": [[4_005, 5_000], [4_005, 0]]}], "doubles structural joint 1"),
])  # fmt: skip
def test_a_structural_joint_that_misses_or_doubles_is_told(joints, words):
    with pytest.raises(PlanFaults, match=words):
        plan_of({**ROOM, "structural_joints": joints})


def test_metres_by_kind_are_those_of_the_drawn_centre_lines():
    room = example(TOP / "plans" / "brewhouse.toml").rooms[0]
    surfaces = {joint.surface.name for joint in room.joints}
    assert len(surfaces) > 3
    for surface in surfaces:
        own = [joint for joint in room.joints if joint.surface.name == surface]
        union = shapely.union_all([shapely.LineString(joint.line) for joint in own])
        total = sum(joint.length for joint in own)
        assert union.length == pytest.approx(total, rel=1e-3)


def test_backer_rod_and_sections_make_up_the_metres():
    setout = example(TOP / "plans" / "washbay.toml")
    items = {item.key: item for item in take_off(setout).items}
    joints = setout.rooms[0].joints
    rods = sum(item.quantity for key, item in items.items() if key.startswith("backer_rod."))
    assert rods == pytest.approx(sum(j.length for j in joints if j.kind != "pipe") / 1000)
    assert items["sealant"].quantity == pytest.approx(1.1 * sum(j.length / 1000 * j.width * sealant_depth(j.width) for j in joints))
    assert "sealant_primer" not in items


def test_primer_and_masking_are_items_if_the_products_give_them():
    from layout.readers.planfile import parse_plan

    text = plan_text({"name": "Room", **ROOM}) + "[products]\nsealant_primer_ml_m = 12\nmasking_tape_m = 2\n"
    setout = set_out(parse_plan(text))
    items = {item.key: item.quantity for item in take_off(setout).items}
    metres = sum(joint.length for joint in setout.rooms[0].joints) / 1000
    assert items["masking_tape"] == pytest.approx(2 * metres)
    assert items["sealant_primer"] == pytest.approx(12 * metres)


@pytest.mark.parametrize(("carry", "walls"), [("none", 0), ("structural", 0), ("all", 2)])
def test_intermediate_joints_rise_if_the_plan_says_so(carry, walls):
    room = set_out_room(ROOM, rules={"movement": "UK_FLOOR", "carry_joints": carry})
    floor = [j for j in room.joints if j.kind == "intermediate" and j.surface.name == "floor"]
    risen = [j for j in room.joints if j.kind == "intermediate" and j.surface.name != "floor"]
    assert len(floor) == 1
    assert len(risen) == walls
    for joint in risen:
        surface = next(s for s in room.lining.surfaces if s.name == joint.surface.name)
        foot = surface.placing.to_room(joint.line[:1])[0, :2]
        assert foot[0] == pytest.approx(floor[0].line[0, 0], abs=0.01)
        tiles = next(d for d in room.surfaces if d.surface is surface)
        for piece in np.concatenate([tiles.field.whole_polygons(), tiles.field.pieces()]):
            assert piece.distance(shapely.LineString(joint.line)) >= joint.width / 2 - 0.01


def test_structural_joints_rise_by_default_and_are_bridged_as_far_as_walls_are_tanked():
    room = set_out_room({**ROOM, "structural_joints": [{"line": [[7000, 0], [7000, 5000]], "name": "slab joint"}]})
    risen = [j for j in room.joints if j.kind == "structural" and j.surface.name != "floor"]
    assert sorted(j.surface.name for j in risen) == ["wall 1", "wall 3"]
    bridges = [run for run in room.tape.runs if run.junction == "bridge"]
    up = [run for run in bridges if "wall" in run.name]
    assert len(up) == 2
    assert all(max(run.line[:, 2]) == pytest.approx(1500) for run in up)


@pytest.mark.parametrize("turn", [90.0, 33.0])
def test_carried_joints_turn_with_the_room(turn):
    plinth = {"name": "kettle", "outline": [[3000, 1200], [9000, 1200], [9000, 2600], [3000, 2600]]}
    given = {**ROOM, "drains": [], "plinths": [plinth], "structural_joints": [{"line": [[7000, 0], [7000, 5000]]}]}
    here, there = (
        sorted((j.surface.name, round(j.length, 1)) for j in set_out_room(room).joints if j.kind == "structural")
        for room in (given, moved(given, turn=turn))
    )
    assert here == there
    assert len(here) > 3


def test_a_joint_rises_on_a_wall_whose_tile_is_turned():
    tiles = {"floor": {"size": [200, 200], "joint": 6}, "wall": {"size": [300, 150], "joint": 3, "turn": 90}}
    room = set_out_room({**ROOM, "structural_joints": [{"line": [[7000, 0], [7000, 5000]]}]}, tiles=tiles)
    risen = {j.surface.name: j.line for j in room.joints if j.kind == "structural" and j.surface.name != "floor"}
    assert sorted(risen) == ["wall 1", "wall 3"]
    for name, line in risen.items():
        surface = next(s for s in room.lining.surfaces if s.name == name)
        assert surface.placing.to_room(line)[:, 0] == pytest.approx([7000, 7000])


def test_a_joint_runs_on_over_a_plinth():
    plinth = {"name": "kettle", "outline": [[3000, 1200], [9000, 1200], [9000, 2600], [3000, 2600]]}
    given = {**ROOM, "drains": [], "plinths": [plinth], "structural_joints": [{"line": [[7000, 0], [7000, 5000]]}]}
    room = set_out_room(given)
    tops = [j for j in room.joints if j.kind == "structural" and j.surface.name == "kettle top"]
    assert len(tops) == 1
    assert tops[0].line[:, 0] == pytest.approx([7000, 7000])
    sides = [j.surface.name for j in room.joints if j.kind == "structural" and "side" in j.surface.name]
    assert len(sides) == 2


def test_a_channel_says_how_far_its_frame_moves():
    room = set_out_room(ROOM)
    ring = next(j for j in room.joints if j.kind == "drain")
    # stainless steel 16e-6 per K from memory, 60 K: 3000 x 16e-6 x 60 = 2.9 mm
    assert f"moves {3000 * 16e-6 * 60:.1f} mm" in ring.why
    assert math.isclose(ring.width, 8.0)


def test_walls_are_divided_by_a_wall_rule_if_the_plan_names_one():
    plain = set_out_room(ROOM, rules={"movement": "UK_FLOOR"})
    ruled = set_out_room(ROOM, rules={"movement": "UK_FLOOR", "wall_movement": "UK_WALL"})
    assert not [j for j in plain.joints if j.kind == "intermediate" and j.surface.name == "wall 3"]
    assert len([j for j in ruled.joints if j.kind == "intermediate" and j.surface.name == "wall 3"]) == 2  # 12 m in bays of at most 4.5 m
    wall = next(d for d in ruled.surfaces if d.surface.name == "wall 3")
    assert max(bay.longest for bay in wall.bays) <= 4500.1


@pytest.mark.parametrize(("of", "bridged"), [("structure", True), ("substrate", True), ("finish", False)])
def test_a_change_of_finish_is_a_joint_that_is_not_bridged(of, bridged):
    room = set_out_room({**ROOM, "structural_joints": [{"line": [[7000, 0], [7000, 5000]], "width": 10, "of": of}]})
    assert any(j.kind == "structural" and j.surface.name == "floor" for j in room.joints)
    assert bool(room.tape.metres("bridge")) == bridged
