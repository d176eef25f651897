"""Weights by hand: one small room worked out in the comments, with figures of products that no other figure equals."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from layout.quantities.orders import place_orders
from layout.quantities.takeoff import take_off
from layout.readers.planfile import parse_plan
from layout.setout.conduct import set_out

if TYPE_CHECKING:
    from layout.quantities.values import TakeOff

# Floor 2898 x 1868 mm. Walls are bare: 2 mm of membrane and an 8 mm joint leave 2878 x 1848 for tile, which are
# 14 x 9 whole tiles of 200 with joints of 6: 14 * 206 - 6 = 2878, 9 * 206 - 6 = 1848.
ROOM = """
[tiles.floor]
size = [200, 200]
joint = 6
thickness = 11
[rules]
wall_tolerance = 0
movement_joint = 8
[products]
primer_kg_m2 = 0.35
primer_coats = 2
quartz_kg_m2 = 1.7
membrane_kg_m2 = 0.9
membrane_coats = 3
detail_coat_kg_m = 0.25
adhesive_density = 1.6
adhesive_back = 0.5
grout_density = 1.5
grout_waste = 0.2
sealant_waste = 0.15
[[rooms]]
name = "A"
outline = [[0, 0], [2898, 0], [2898, 1868], [0, 1868]]
tanking_height = 150
"""
FLOOR = 2.898 * 1.868  # 5.413464 m2
WALLS = 2 * (2.898 + 1.868) * 0.150  # 1.4298 m2
TILED = 2.878 * 1.848  # 5.318544 m2


@pytest.fixture(scope="module")
def takeoff() -> TakeOff:
    return take_off(set_out(parse_plan(ROOM)))


def quantity(takeoff: TakeOff, key: str) -> float:
    item = takeoff.item(key)
    assert item is not None
    return item.quantity


def test_the_room_is_the_one_worked_by_hand(takeoff):
    assert quantity(takeoff, "tiles.floor") == 14 * 9
    assert quantity(takeoff, "tiled.floor") == pytest.approx(TILED, abs=1e-9)
    assert quantity(takeoff, "membrane_area") == pytest.approx(FLOOR + WALLS, abs=1e-9)  # 6.843264 m2


@pytest.mark.parametrize(("key", "kg"), [
    # 6.843264 m2 x 0.35 kg/m2 x 2 coats
    ("primer", 4.7902848),
    # the floor only: 5.413464 m2 x 1.7 kg/m2
    ("quartz", 9.2028888),
    # 6.843264 m2 x 0.9 kg/m2 x 3 coats
    ("membrane", 18.4768128),
    # tape: 2 x (2.898 + 1.868) = 9.532 m at the foot, 4 x 0.150 = 0.6 m upright; 10.132 m x 0.25 kg/m
    ("detail_coat", 2.533),
    # 6 mm notch: 6 x 6 / 12 = 3 mm mean bed, 0.5 mm on the tile's back: 3.5 l/m2 x 1.6 kg/l = 5.6 kg/m2; x 5.318544 m2
    ("adhesive", 29.7838464),
    # joints 2878 x 1848 - 126 x 200 x 200 = 5,318,544 - 5,040,000 = 278,544 mm2; x 11 mm = 3.063984 l;
    # x 1.5 kg/l = 4.595976 kg; and a fifth more for waste
    ("grout", 5.5151712),
])  # fmt: skip
def test_weights_by_hand(takeoff, key, kg):
    assert quantity(takeoff, key) == pytest.approx(kg, abs=1e-6)


def test_sealant_by_hand(takeoff):
    # centre lines 4 mm off the membrane, which is 2 mm off the wall: 2 x (2898 - 12 + 1868 - 12) = 9484 mm;
    # 8 mm wide, depth half of it but no less than 6: 48 mm2; 9.484 m x 48 mm2 = 455.232 ml, x 1.15 = 523.5168 ml
    assert quantity(takeoff, "joints.perimeter") == pytest.approx(9.484, abs=1e-9)
    assert quantity(takeoff, "sealant") == pytest.approx(523.5168, abs=1e-6)
    # rod a quarter over 8 is 10
    assert quantity(takeoff, "backer_rod.10") == pytest.approx(9.484, abs=1e-9)


def test_packs_by_hand(takeoff):
    packs = {order.item.key: order.packs for order in place_orders(takeoff)}
    assert packs["primer"] == 1  # 4.79 kg, packs of 10
    assert packs["quartz"] == 1  # 9.2 kg, packs of 25
    assert packs["membrane"] == 3  # 18.48 + 2.53 of detail coat = 21.01 kg, packs of 10
    assert packs["adhesive"] == 3  # 29.78 kg, packs of 10
    assert packs["grout"] == 2  # 5.52 kg, packs of 5
    assert packs["sealant"] == 2  # 523.5 ml, cartridges of 310
    assert packs["tiles.floor"] == 6  # 126 + 5 % = 132.3, 25 tiles of 0.04 m2 to a box of 1 m2: 5.29 boxes


def test_sealant_primer_and_tapes_by_hand():
    text = ROOM.replace("sealant_waste", "sealant_primer_ml_m = 4\nbond_breaker_m = 1.1\nmasking_tape_m = 2.05\nsealant_waste")
    made = take_off(set_out(parse_plan(text)))
    assert quantity(made, "sealant_primer") == pytest.approx(9.484 * 4)  # 37.936 ml
    assert quantity(made, "bond_breaker") == pytest.approx(10.4324)  # 9.484 m and a tenth
    assert quantity(made, "masking_tape") == pytest.approx(19.4422)  # both edges, a twentieth of a metre over


def test_wall_tile_by_hand():
    text = ROOM.replace("tanking_height = 150", "tanking_height = 150\ntile_height = 1000")
    made = take_off(set_out(parse_plan(text)))
    adhesive = made.item("adhesive")
    assert adhesive is not None
    own = [part for part in adhesive.parts if part.place.surface and (part.place.surface.kind, part.place.surface.number) == ("wall", 1)]
    assert [part.place.course for part in own] == ["bottom", ""]
    (done,) = [each for each in made.setout.rooms[0].surfaces if each.surface.name == "wall 1"]
    # bottom course and the rest make up the wall: 5.6 kg/m2 as on the floor
    assert sum(part.quantity for part in own) == pytest.approx(done.tiled_m2 * 5.6, abs=1e-9)
