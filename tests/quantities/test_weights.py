"""Weights by hand: one small room worked out in the comments, with figures of products that no other figure equals."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import pytest

from layout.quantities.mixing import mixing_plan
from layout.quantities.orders import amounts_of, place_orders, tape_runs
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
primer_loss = 0.02
quartz_kg_m2 = 1.7
quartz_loss = 0.06
quartz_pack_kg = 9.5
membrane_kg_m2 = 0.9
membrane_coats = 3
membrane_loss = 0.03
membrane_pack_kg = 7.1
detail_coat_kg_m = 0.25
adhesive_density = 1.6
adhesive_back = 0.5
adhesive_loss = 0.04
grout_density = 1.5
grout_waste = 0.2
sealant_waste = 0.15
tile_spare = 0.1
tile_box_m2 = 0.84
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


def test_orders_by_hand(takeoff):
    orders = {order.item.key: order for order in place_orders(takeoff)}
    by_hand = {
        "primer": (4.88609, 1),  # 4.7902848 kg and 2 % loss, packs of 10
        "quartz": (9.75506, 2),  # 9.2028888 kg and 6 %: packs of 9.5, one would do without the loss
        "membrane": (21.64010, 4),  # 18.4768128 + 2.533 of detail coat, and 3 %: packs of 7.1, three would hold 21.0098
        "adhesive": (30.97520, 4),  # 29.7838464 kg and 4 %: packs of 10, three would do without
        "grout": (5.51517, 2),  # its waste is in the quantity: packs of 5
        "sealant": (523.5168, 2),  # cartridges of 310
        "tiles.floor": (138.6, 7),  # 126 and a tenth; 21 tiles of 0.04 m2 to a box of 0.84 m2, six boxes hold 126
    }
    for key, (need, packs) in by_hand.items():
        assert orders[key].need == pytest.approx(need, abs=1e-5), key
        assert orders[key].packs == packs, key
    assert orders["membrane"].allowance == "with the detail coat, 3% loss"


def test_a_thicker_bed_takes_more_adhesive_and_a_thinner_no_less():
    # a bed of 5 mm: 5 l/m2 x 1.6 kg/l = 8 kg/m2; one of 2 mm still takes what notch and back bring, 3.5 l/m2
    for bed, each in ((5, 8.0), (2, 5.6)):
        made = take_off(set_out(parse_plan(ROOM.replace("thickness = 11", f"thickness = 11\nbed = {bed}"))))
        assert quantity(made, "adhesive") == pytest.approx(TILED * each, abs=1e-6)


def test_a_channel_leaves_its_frame_out_of_the_membrane():
    # 1600 x 150 mm of channel: 0.24 m2 of 5.413464; a gully of 150 x 150 is small and stays
    channel = '[[rooms.drains]]\nkind = "channel"\nfrom = [600, 900]\nto = [2200, 900]\nwidth = 150\nflange = 50\n'
    made = take_off(set_out(parse_plan(ROOM + channel)))
    assert quantity(made, "membrane_area") == pytest.approx(FLOOR + WALLS - 0.24, abs=1e-6)
    assert quantity(made, "quartz") == pytest.approx((FLOOR - 0.24) * 1.7, abs=1e-6)
    gully = '[[rooms.drains]]\nkind = "gully"\nat = [1400, 900]\nframe = [150, 150]\nflange = 50\n'
    made = take_off(set_out(parse_plan(ROOM + gully)))
    assert quantity(made, "membrane_area") == pytest.approx(FLOOR + WALLS, abs=1e-6)


def test_the_return_onto_a_lower_wall_is_measured():
    # wall 1 (2898 long) goes up to 1200, its neighbours to 150: two returns of 150 mm over 1200 - 150 = 1050 mm
    made = take_off(set_out(parse_plan(ROOM + "[[rooms.walls]]\nwall = 1\ntanking_height = 1200\n")))
    walls = 2.898 * 1.2 + (2.898 + 2 * 1.868) * 0.15
    assert quantity(made, "membrane_area") == pytest.approx(FLOOR + walls + 2 * 0.150 * 1.050, abs=1e-6)
    # its tape goes up with the higher wall: 2 x 1.2 + 2 x 0.15
    assert quantity(made, "tape.internal") == pytest.approx(9.532 + 2.7, abs=1e-6)


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


def test_quartz_on_the_last_coat_is_ordered_too():
    made = take_off(set_out(parse_plan(ROOM.replace("movement_joint = 8", "movement_joint = 8\nquartz_last = true"))))
    order = next(order for order in place_orders(made) if order.item.key == "quartz")
    assert order.need == pytest.approx(2 * 9.2028888 * 1.06)
    assert order.packs == 3  # 19.5 kg, packs of 9.5: one would do for the primer alone


def test_hours_by_hand(takeoff):
    # 6.843264 m2, two coats of primer at 15 m2 an hour; three of membrane at 8; 10.132 m of tape at 10 m; 5.318544 m2 of
    # tile, none of it cut, at 1, of grout at 2.5; 9.484 m of sealant at 10
    by_hand = {
        "labour.prime": 6.843264 * 2 / 15,
        "labour.details": 1.0132,
        "labour.membrane": 6.843264 * 3 / 8,
        "labour.fixing": 5.318544 / 1.0,
        "labour.grout": 5.318544 / 2.5,
        "labour.sealant": 0.9484,
    }
    assert len(by_hand) > 5
    for key, hours in by_hand.items():
        assert quantity(takeoff, key) == pytest.approx(hours, abs=1e-6), key


def test_a_tile_larger_than_a_box_is_sold_one_by_one():
    text = ROOM.replace("size = [200, 200]", "size = [900, 900]").replace("tile_box_m2 = 0.84", "tile_box_m2 = 0.5")
    made = take_off(set_out(parse_plan(text)))
    (order,) = [order for order in place_orders(made) if order.item.size is not None]
    assert order.size == 1
    assert order.packs == math.ceil(order.need - 1e-6)
    assert order.need == pytest.approx((order.item.quantity + order.adjusted) * 1.1)


def test_trims_by_hand():
    # a plinth 600 x 500 x 150, free on all sides: 2.2 m of edge, four arrises of 0.15 m; lengths of 0.75 m hold 0.6 and 0.15
    # or 0.5 and 0.15: four lengths, and no fewer do
    plinth = "[[rooms.plinths]]\noutline = [[900, 500], [1500, 500], [1500, 1000], [900, 1000]]\nheight = 150\n"
    made = take_off(set_out(parse_plan(ROOM.replace("tile_spare", "trim_length_m = 0.75\ntile_spare") + plinth)))
    trim = made.item("edge_trim")
    assert trim is not None
    assert sorted(round(part.quantity, 6) for part in trim.parts) == [0.15] * 4 + [0.5, 0.5, 0.6, 0.6]
    assert {part.place.kind for part in trim.parts} == {"arris", "edge"}
    order = next(order for order in place_orders(made) if order.item.key == "edge_trim")
    assert (order.packs, order.allowance) == (4, "each run whole, the fewest possible")
    joints = made.item("joints.plinth")
    assert joints is not None
    assert joints.quantity > 2.2


def test_a_cove_by_hand():
    text = ROOM.replace("movement_joint = 8", 'movement_joint = 8\nfoot = "cove"').replace(
        "tanking_height = 150", "tanking_height = 150\ntile_height = 1000"
    )
    made = take_off(set_out(parse_plan(text)))
    floor = [joint for joint in made.setout.rooms[0].joints if joint.surface.kind == "floor" and joint.kind == "perimeter"]
    cove = made.item("cove")
    assert cove is not None
    assert cove.quantity == pytest.approx(sum(joint.length for joint in floor) / 1000)
    assert 8.5 < cove.quantity < 9.532  # inside the room's 9.532 m of wall


def test_hands_that_lay_a_pack_in_time(takeoff):
    by_key = {each.key: each for each in mixing_plan(takeoff, place_orders(takeoff))}
    # membrane: 6.843264 m2 x 3 coats over 21.6401 kg needed, so 7.1 kg cover 6.7356 m2; 8 m2 an hour and hand, half an hour: 4
    membrane = by_key["membrane"]
    assert membrane.m2_each == pytest.approx(6.7356, abs=1e-3)
    assert membrane.hands == 2
    # adhesive: 5.318544 m2 over 30.9752 kg, 10 kg cover 1.71703 m2; no tile is cut, so 1 m2 an hour and hand, 45 min: 0.75 m2
    assert by_key["adhesive"].m2_each == pytest.approx(1.71703, abs=1e-4)
    assert by_key["adhesive"].hands == 3
    # primer counts both coats' need over the area once: 6.843264 m2 over 4.88609 kg
    assert by_key["primer"].m2_each == pytest.approx(14.0056, abs=1e-3)
    # and both coats take twice the time of one: 7.5 m2 an hour and hand, 25 min: 3.125 m2
    assert by_key["primer"].hands == 5


def test_a_long_tile_takes_the_notch_of_its_longer_edge():
    # 300 x 150: a notch of 8, not the 6 of an edge of 150: 8 x 8 / 16 = 4 mm and 0.5 on the back, 4.5 l/m2 x 1.6 kg/l = 7.2 kg/m2
    made = take_off(set_out(parse_plan(ROOM.replace("size = [200, 200]", "size = [300, 150]"))))
    assert quantity(made, "adhesive") == pytest.approx(quantity(made, "tiled.floor") * 7.2, abs=1e-6)


def test_the_handbooks_grout_stands_beside_the_measured_one(takeoff):
    # 0.01 m of edge to the mm2 of a tile of 200 x 200, x 6 x 11 mm x 1.5 kg/l x 5.318544 m2, and a fifth for waste
    item = takeoff.item("grout")
    assert item is not None
    assert item.formula.endswith("× 1.5 kg/l × 1.2; handbook formula (L + W) / (L W) × j × d × ρ gives 6.3 kg")  # 6.318


def test_a_ramp_is_coated_on_its_slope():
    # one in eight over the whole floor: hypot(8, 1) / 8 of its area in plan; no wall is tanked
    ramp = "[[rooms.falls]]\nplane = [[0, 0, 0], [2898, 0, -362.25], [0, 1868, 0]]\n"
    made = take_off(set_out(parse_plan(ROOM.replace("tanking_height = 150", "tanking_height = 0") + ramp)))
    slope = math.hypot(8, 1) / 8
    assert quantity(made, "membrane_area") == pytest.approx(FLOOR * slope, abs=1e-6)
    assert quantity(made, "membrane") == pytest.approx(FLOOR * slope * 0.9 * 3, abs=1e-6)
    assert quantity(made, "primer") == pytest.approx(FLOOR * slope * 0.35 * 2, abs=1e-6)
    assert quantity(made, "quartz") == pytest.approx(FLOOR * slope * 1.7, abs=1e-6)
    # tile lies on the slope too: 126 tiles and what the ramp is longer by; without membrane on the walls 2882 x 1852 are for tile
    assert quantity(made, "tiles.floor") == math.ceil(126 * slope) == 127
    assert quantity(made, "grout") == pytest.approx((2.882 * 1.852 - 126 * 0.04) * 11 * 1.5 * 1.2 * slope, rel=1e-6)
    assert quantity(made, "adhesive") == pytest.approx(2.882 * 1.852 * 5.6 * slope, rel=1e-6)


def test_one_coat_is_one_coat_and_the_film_is_told():
    made = take_off(
        set_out(parse_plan(ROOM.replace("membrane_coats = 3", "membrane_coats = 1").replace("primer_coats = 2", "primer_coats = 1")))
    )
    assert quantity(made, "membrane") == pytest.approx(6.1589376)  # 6.843264 m2 x 0.9 kg/m2
    assert quantity(made, "primer") == pytest.approx(2.3951424)  # 6.843264 m2 x 0.35 kg/m2


def test_the_dry_film_of_all_coats_is_told(takeoff):
    item = takeoff.item("membrane")
    assert item is not None
    # 0.9 kg/m2 of 1.4 kg/l is 0.643 mm; nothing of it dries away: three coats are 1.929 mm
    assert item.formula.endswith("× 0.9 kg/m2 × 3 coats; 0.64 mm wet, 1.93 mm dry in all")


@pytest.mark.parametrize(("box", "each"), [(0.84, 21), (0.85, 21), (0.8799, 21), (0.88, 22), (0.8, 20)])
def test_a_box_holds_as_many_tiles_as_fit_its_area(box, each):
    made = take_off(set_out(parse_plan(ROOM.replace("tile_box_m2 = 0.84", f"tile_box_m2 = {box}"))))
    order = next(order for order in place_orders(made) if order.item.key == "tiles.floor")
    assert order.size == each
    assert order.packs == math.ceil(138.6 / each)


def test_an_item_as_measured_with_spares_and_in_whole_packs(takeoff):
    orders = {order.item.key: order for order in place_orders(takeoff)}
    grout, tiles = (amounts_of(orders[key].item, orders[key]) for key in ("grout", "tiles.floor"))
    assert (grout.measured, grout.with_spares, grout.in_packs) == pytest.approx((5.5151712, 5.5151712, 10.0))
    assert (tiles.measured, tiles.with_spares, tiles.in_packs) == pytest.approx((126, 138.6, 147))
    area = takeoff.item("tiled.floor")
    assert area is not None
    alike = amounts_of(area, None)
    assert alike.measured == alike.with_spares == alike.in_packs == pytest.approx(TILED)


def test_tape_is_cut_with_a_lap_at_either_end():
    lap = "tape_lap = 70\ntape_width = 110\nsealant_waste"
    made = set_out(parse_plan(ROOM.replace("sealant_waste", lap)))
    # along the four walls at the foot, and up the four corners by 150: each 70 longer at both ends
    lengths = sorted(length for _, length in tape_runs(made))
    assert lengths == pytest.approx([150 + 140] * 4 + [1868 + 140] * 2 + [2898 + 140] * 2)
    # a nib of 45 degrees across a corner: no preformed piece fits its two blunt corners, which are made from 3 x 110 of tape
    blunt = ROOM.replace("[2898, 1868]", "[2898, 1368], [2398, 1868]").replace("sealant_waste", lap)
    corners = [length for name, length in tape_runs(set_out(parse_plan(blunt))) if name.startswith("made corner")]
    assert corners == [330.0, 330.0]
