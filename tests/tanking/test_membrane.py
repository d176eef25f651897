"""The membrane: close details, ends, film, test points, and tape off whole rolls."""

from __future__ import annotations

import math
from typing import Any

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from layout.errors import PlanFaults
from layout.quantities.orders import place_orders, tape_list
from layout.quantities.rolls import cut_rolls
from layout.quantities.solver import cut_stock
from layout.quantities.takeoff import take_off
from layout.readers.planfile import parse_plan
from layout.setout.conduct import set_out
from layout.tanking.membrane import dry_film, wet_film
from layout.tanking.membrane import test_points as points_of
from tests.examples import example
from tests.rooms import lined_room, plan_of, plan_text, set_out_room
from tests.strategies import squared
from tests.test_project import TOP

BOX = [[0, 0], [4000, 0], [4000, 3000], [0, 3000]]


def codes(room, code):
    return [f for f in room.findings if f.code == code]


def pieces(lengths, demand):
    return [length for length, count in zip(lengths, demand, strict=True) for _ in range(count)]


@pytest.mark.parametrize(("stock", "kerf", "lengths", "demand", "least"), [
    # "Cutting stock problem": paper rolls of 5600, 13 widths, optimum 73
    (5600, 0, [1380, 1520, 1560, 1710, 1820, 1880, 1930, 2000, 2050, 2100, 2140, 2150, 2200],
     [22, 25, 12, 14, 18, 18, 20, 10, 12, 14, 16, 18, 20], 73),
    # "cutstock" model page; a linear programming text of 1983 (from memory); optimum computed
    (100, 0, [45, 36, 31, 14], [97, 610, 395, 211], 453),
    # small tile instances, computed exactly by two models
    (300, 0, [161, 139, 120, 90], [12, 12, 8, 6], 18),
    (300, 2, [161, 139, 120, 90], [12, 12, 8, 6], 19),
    (300, 2, [148, 149, 150], [10, 10, 10], 15),
    (300, 2, [200, 98, 100], [7, 7, 7], 11),
    (300, 3, [200, 97, 98], [7, 7, 7], 10),
    (600, 3, [410, 190, 250, 120], [9, 14, 7, 11], 18),
])  # fmt: skip
def test_cutting_stock_reaches_the_known_optimum(stock, kerf, lengths, demand, least):
    wanted = pieces(lengths, demand)
    found = cut_stock(wanted, stock, kerf=kerf)
    assert len(found.stocks) == least
    assert sorted(k for own in found.stocks for k in own) == list(range(len(wanted)))
    for own in found.stocks:
        assert sum(wanted[k] + kerf for k in own) <= stock + kerf


@given(st.lists(st.integers(100, 9000), max_size=25))
def test_every_length_is_cut_once_and_no_stock_overfilled(lengths):
    found = cut_stock(lengths, 9000)
    assert sorted(k for own in found.stocks for k in own) == list(range(len(lengths)))
    assert all(sum(lengths[k] for k in own) <= 9000 for own in found.stocks)
    assert len(found.stocks) >= found.bound >= math.ceil(sum(lengths) / 9000)


def test_the_solver_keeps_standard_output_clean(capfd):
    cut_stock([500.0, 700.0], 1000.0)
    assert capfd.readouterr().out == ""


@given(st.lists(st.integers(150, 24_000), min_size=1, max_size=14), st.booleans())
def test_rolls_cover_every_run_with_laps_clear_of_corners(lengths, joints):
    runs = [(f"R{k}", float(length)) for k, length in enumerate(lengths)]
    roll, lap, clear = 10_000.0, 50.0, 150.0
    found = cut_rolls(runs, roll=roll, lap=lap, joints=joints, clear=clear)
    assert len(found.rolls) >= found.bound
    for number in range(len(found.rolls)):
        assert found.rest(number) >= -1e-6
    for name, length in runs:
        own = sorted((each for each_roll in found.rolls for each in each_roll if each.run == name), key=lambda each: each.part)
        assert [each.part for each in own] == list(range(1, own[0].parts + 1))
        assert sum(each.length for each in own) == pytest.approx(length + (len(own) - 1) * lap)
        if len(own) > 1:
            assert min(own[0].length, own[-1].length) >= clear - 1e-6
        if not joints and length <= roll:
            assert len(own) == 1


def test_rolls_of_a_published_like_sum():
    # T = 28.0 m from 10 m rolls with 50 mm laps: (28 - 0.05) / (10 - 0.05) = 2.81, 3 rolls (computed)
    found = cut_rolls([("R1", 20_000.0), ("R2", 8_000.0)], roll=10_000.0, lap=50.0, joints=True, clear=150.0)
    assert found.bound == 3
    assert len(found.rolls) == 3


def test_the_order_is_the_cutting_list():
    setout = example(TOP / "plans" / "canteen.toml")
    takeoff = take_off(setout)
    order = next(o for o in place_orders(takeoff) if o.item.key == "tape.internal")
    cutting = tape_list(setout)
    assert order.packs == len(cutting.rolls) == cutting.bound == 4
    own = sum(run.length + 100 for run in setout.rooms[0].tape.runs)
    assert sum(each.length for roll in cutting.rolls for each in roll) == pytest.approx(own + 50 * cutting.laps)


def test_three_pipes_at_180_with_collars_of_195_overlap_by_15_and_are_one_detail():
    pipes = [{"at": [1500 + 180 * k, 1500], "diameter": 75, "collar": 195} for k in range(3)]
    room = set_out_room({"outline": BOX, "pipes": pipes})
    (detail,) = room.membrane.details
    assert detail.members == ("pipe 1", "pipe 2", "pipe 3")
    assert detail.overlap == pytest.approx(15.0, abs=0.2)
    assert len(codes(room, "detail-grouped")) == 1
    assert min(c.clear for c in room.membrane.clearances) == pytest.approx(-15.0, abs=0.2)


def test_a_pipe_in_the_corner_is_a_detail_with_it_and_one_in_the_open_is_none():
    room = set_out_room({"outline": BOX, "pipes": [{"at": [100, 1500], "diameter": 50}, {"at": [2000, 1500], "diameter": 50}]})
    (detail,) = room.membrane.details
    assert detail.members == ("pipe 1", "the corner")
    # 100 - 25 = 75 to the wall, less 60 of collar and 60 of tape: overlap 45
    assert detail.overlap == pytest.approx(45.0, abs=0.1)
    clear = {c.label: c for c in room.membrane.clearances}
    assert clear["pipe 2"].clear == pytest.approx(1500 - 25 - 120, abs=0.1)


def test_a_flange_near_an_upstand_is_told():
    near = set_out_room({"outline": BOX, "drains": [{"kind": "gully", "at": [400, 1500], "frame": [200, 200], "flange": 50}]})
    far = set_out_room({"outline": BOX, "drains": [{"kind": "gully", "at": [2000, 1500], "frame": [200, 200], "flange": 50}]})
    (finding,) = codes(near, "flange-near-upstand")
    assert "is 250 from an upstand; 300 wanted" in finding.text
    assert not codes(far, "flange-near-upstand")


def test_where_the_membrane_ends():
    room = set_out_room(
        {
            "outline": BOX,
            "tanking_height": 1200,
            "openings": [
                {"name": "door", "wall": 1, "offset": 1000, "width": 900, "threshold": "upstand", "threshold_height": 50},
                {"name": "hatch", "wall": 3, "offset": 1000, "width": 800, "sill": 900, "head": 1500, "depth": 150},
            ],
            "day_joints": [{"line": [[2000, 0], [2000, 3000]]}],
        }
    )
    length: dict[str, float] = {}
    for end in room.membrane.terminations:
        length[end.kind] = length.get(end.kind, 0.0) + end.length
    assert length["top of tanking"] == pytest.approx(14_000 - 900 - 800 + 2 * 150)  # the jambs of the hatch are tanked too
    assert length["threshold"] == pytest.approx(900)
    assert length["reveal"] == pytest.approx(800 + 2 * 300)  # the sill, and both jambs up to the tanking
    assert length["day joint"] == pytest.approx(3000)
    how = {end.where: end.how for end in room.membrane.terminations}
    assert how["door"] == "dressed up an upstand 50 high"
    assert how["hatch"] == "returned 150 into the reveal"


@given(squared(holes=False))
def test_tops_of_tanking_are_as_long_as_the_walls(made):
    room = set_out_room({**made, "tanking_height": 400})
    tops = sum(end.length for end in room.membrane.terminations if end.kind == "top of tanking")
    assert tops == pytest.approx(shapely.Polygon(made["outline"]).length, abs=0.5)


def test_a_plinth_on_the_membrane_changes_no_tape_and_no_area():
    plinth: dict[str, Any] = {"name": "block", "outline": [[1000, 1000], [1600, 1000], [1600, 1500], [1000, 1500]], "height": 200}
    bare = set_out(plan_of({"outline": BOX}))
    above = set_out(plan_of({"outline": BOX, "plinths": [{**plinth, "on": "membrane"}]}))
    on_slab = set_out(plan_of({"outline": BOX, "plinths": [plinth]}))
    for key in ("membrane_area", "tape.internal", "corner_pieces.internal"):
        one, two = (take_off(s).item(key) for s in (bare, above))
        assert one is not None
        assert two is not None
        assert one.quantity == pytest.approx(two.quantity)
    assert above.rooms[0].tape.count("external") == 0
    assert on_slab.rooms[0].tape.count("external") == 4
    assert any(s.surface.name == "block top" for s in above.rooms[0].surfaces)  # it is tiled all the same


@pytest.mark.parametrize(("dry_um", "solids", "wet_um"), [(100, 0.62, 161.3), (125, 0.71, 176.1), (500, 0.55, 909.1), (2000, 0.85, 2352.9)])
def test_wet_and_dry_film(dry_um, solids, wet_um):
    # "Handy calculations - volume solids and spreading rate": WFT = DFT / VS; 161 and 176 published, the rest computed
    assert dry_film(wet_um, solids) == pytest.approx(dry_um, abs=0.1)


def test_a_reaction_resin_of_a_millimetre_takes_two_coats_of_700_grams():
    # 1.0 mm dry, 100 % solids, 1.40 kg/l: 1.40 kg/m2 in two coats of 0.70 (computed)
    assert 2 * dry_film(wet_film(0.70, 1.40), 1.0) == pytest.approx(1.0)


def test_a_film_too_thin_is_told():
    text = plan_text({"name": "Room", "outline": BOX}) + "[products]\nmembrane_kg_m2 = 0.5\n"
    room = set_out(parse_plan(text)).rooms[0]
    (finding,) = codes(room, "membrane-thin")
    assert "0.71 mm; 1 wanted for W3-I" in finding.text
    dispersion = plan_text({"name": "Room", "outline": BOX}, rules={"membrane_type": "dispersion"}) + "[products]\nmembrane_kg_m2 = 0.5\n"
    assert not codes(set_out(parse_plan(dispersion)).rooms[0], "membrane-thin")


def test_tanking_below_the_least_height_is_told():
    room = set_out_room({"outline": BOX, "tanking_height": 100})
    assert len(codes(room, "tanking-low")) == 4


def test_quartz_on_the_last_coat_if_the_plan_asks():
    with_it = take_off(set_out(plan_of({"outline": BOX}, rules={"quartz_last": True})))
    assert with_it.item("quartz_last") is not None
    assert take_off(set_out(plan_of({"outline": BOX}))).item("quartz_last") is None


@given(squared())
def test_test_points_stand_on_the_floor_clear_of_drains(given_room):
    lining = lined_room(given_room).lining
    floor, tests = lining.floor.tanked, points_of(lining)
    names = [test.name for test in tests]
    assert len(set(names)) == len(names)
    area = floor.area / 1e6
    kinds = [test.kind for test in tests]
    assert kinds.count("wet film") == max(math.ceil(area / 10), 1)
    assert kinds.count("pull-off") == max(math.ceil(area / 35), 3)
    for test in tests:
        assert floor.distance(shapely.Point(test.at)) < 1.0


@pytest.mark.parametrize(("room", "more", "words"), [
    ({"height": 2400, "tanking_height": 2600}, "", "2600 is above the ceiling"),
    ({"height": 2400, "walls": [{"wall": 2, "tile_height": 2600}]}, "", "above the ceiling"),
    ({"drains": [{"kind": "gully", "at": [1000, 1000]}, {"kind": "gully", "at": [1100, 1000]}]}, "", "gully 2 overlaps gully 1"),
    ({}, "[products]\ntape_width = 40\n", "narrower than its lap"),
    ({}, "[products]\ntape_roll_m = 0.3\n", "too short for laps"),
    ({"openings": [{"wall": 1, "offset": 100, "width": 900, "threshold": "ramp"}]}, "", "threshold"),
])  # fmt: skip
def test_a_membrane_that_cannot_be_is_told(room, more, words):
    with pytest.raises(PlanFaults, match=words):
        parse_plan(plan_text({"name": "Room", "outline": BOX, **room}) + more)
