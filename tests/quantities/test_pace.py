"""Hours of tiling by hand: output by tile, pattern and height, and the time of each cut tile."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from layout.errors import PlanFaults
from layout.programme.stages import plan_works
from layout.quantities.pace import fixings
from layout.quantities.takeoff import take_off
from layout.readers.planfile import parse_plan
from layout.setout.conduct import set_out
from tests.examples import PLANS, example_takeoff

if TYPE_CHECKING:
    from layout.quantities.values import TakeOff

# Floor 2898 x 1971 mm, walls bare: 2 mm of membrane and an 8 mm joint leave 2878 x 1951 for tile. From the corner go
# 14 x 9 whole tiles of 200 with joints of 6 (14 * 206 - 6 = 2878, 9 * 206 = 1854), and a row of 14 tiles cut to 97.
ROOM = """
[project]
date = 2026-11-30
[tiles.floor]
joint = 6
start = [10, 10]
{tile}
[rules]
wall_tolerance = 0
movement_joint = 8
[products]
{products}
[[rooms]]
name = "A"
outline = [[0, 0], [2898, 0], [2898, 1971], [0, 1971]]
tanking_height = 150
"""
TILED = 2.878 * 1.951  # 5.614978 m2


def room(tile: str = "size = [200, 200]", products: str = "", more: str = "") -> TakeOff:
    return take_off(set_out(parse_plan(ROOM.format(tile=tile, products=products) + more)))


def hours(takeoff: TakeOff) -> float:
    item = takeoff.item("labour.fixing")
    assert item is not None
    return item.quantity


def test_a_small_room_by_hand():
    takeoff = room()
    # 5.614978 m2 at 1 m2 an hour: 5.614978 h; 14 cut tiles at 3 min: 42 min = 0.7 h
    assert hours(takeoff) == pytest.approx(5.614978 + 0.7, abs=1e-6)
    # the programme has the same, and its batches cover the floor
    works = plan_works(takeoff)
    assert sum(stage.hours for stage in works.stages if stage.key == "floor") == pytest.approx(6.314978, abs=1e-6)
    assert sum(batch.covers for batch in works.batches if batch.stage == "floor") == pytest.approx(TILED, abs=1e-6)
    assert sum(piece.m2 for piece in works.pieces if piece.kind == "floor") == pytest.approx(TILED, rel=1e-6)
    # 5.614978 / 6.314978 = 0.88915 m2 an hour, open for 30 min
    assert works.spread_m2 == pytest.approx(0.44458, abs=1e-4)


@pytest.mark.parametrize(("tile", "products", "output", "cut_min"), [
    ("size = [50, 50]", "", 0.6, 3),
    ("size = [100, 100]", "", 0.8, 3),
    ("size = [150, 150]", "", 0.9, 3),
    ("size = [240, 115]", "", 0.9, 3),  # a square of its area has sides of 166 mm
    ("size = [300, 300]", "", 1.0, 3),
    ("size = [300, 600]", "", 0.9, 3),
    ("size = [600, 1200]", "", 0.75, 3),
    ("size = [200, 200]\nturn = 45", "", 0.9, 3),
    ("size = [200, 200]\npattern = \"diagonal\"", "", 0.9, 3),
    ("size = [200, 200]\npattern = \"running\"", "", 1.0, 3),
    ("size = [212, 103]\npattern = \"herringbone\"", "", 0.9 * 0.8, 3),  # 148 mm
    ("size = [150, 150]", "adhesive_m2_h = 2", 1.8, 3),
    ("size = [150, 150]", "fixing_to_175 = 0.5\nfixing_cut_min = 5", 0.5, 5),
    ("size = [150, 150]", "fixing_m2_h_to_175 = 1.3\nfixing_cut_min = 0", 1.3, 0),  # the products' own goes first
    ("size = [212, 103]\npattern = \"herringbone\"", "fixing_m2_h_to_175 = 1.5\nfixing_herringbone = 0.5", 0.75, 3),
])  # fmt: skip
def test_tile_pattern_and_cuts_by_hand(tile, products, output, cut_min):
    takeoff = room(tile, products)
    (floor,) = takeoff.setout.rooms[0].surfaces
    cut = floor.field.places_cut()
    assert cut > 0
    assert hours(takeoff) == pytest.approx(TILED / output + cut * cut_min / 60, abs=1e-6)


def test_more_cuts_take_longer_on_the_same_area():
    # moved by half a pitch both ways: a column of 10 cut tiles at each side, and 13 more in the row below
    text = ROOM.format(tile="size = [200, 200]", products="").replace("start = [10, 10]", "start = [113, 113]")
    takeoff = take_off(set_out(parse_plan(text)))
    (floor,) = takeoff.setout.rooms[0].surfaces
    # 97 of a tile below, then 9 whole rows: 113 + 9 * 206 - 6 = 1961 = 10 + 1951; across 97, 13 whole, 97
    assert len(floor.field.whole) == 13 * 9
    assert floor.field.places_cut() == 2 * 10 + 13
    assert hours(takeoff) == pytest.approx(TILED + 33 * 0.05, abs=1e-6)


def test_a_high_wall_is_slower_above_two_metres():
    takeoff = room(more="[[rooms.walls]]\nwall = 1\ntile_height = 2600\n")
    (wall,) = [each for each in takeoff.setout.rooms[0].surfaces if each.surface.name == "wall 1"]
    made = [each for each in fixings(takeoff.setout) if each.place.surface == wall.surface.id]
    assert [each.place.course for each in made] == ["bottom", ""]
    x0, _, x1, top = wall.surface.field.bounds
    high = (x1 - x0) * (top - 2000) / 1e6
    assert high > 1.6
    assert sum(each.cuts for each in made) == wall.field.places_cut()
    by_hand = wall.tiled_m2 - high + high / 0.8 + wall.field.places_cut() * 0.05
    assert sum(each.hours for each in made) == pytest.approx(by_hand, abs=1e-6)


@pytest.mark.parametrize(("name", "least", "most"), [("canteen", 1.2, 1.6), ("washbay", 1.3, 1.8), ("brewhouse", 1.2, 1.8)])
def test_usual_rooms_take_the_trades_usual_hours(name, least, most):
    # 1.2 to 1.6 h/m2 with tile of about 300 mm on a resin bed, 1.3 to 1.8 with 150 (common practice, no source)
    (path,) = [path for path in PLANS if path.stem == name]
    takeoff = example_takeoff(path)
    tiled = sum(item.quantity for item in takeoff.items if item.row.work == "tiled")
    assert least <= hours(takeoff) / tiled <= most


@pytest.mark.parametrize("text", ["fixing_to_75 = 0", "fixing_over_2_m = -1", "fixing_cut_min = -1"])
def test_factors_that_cannot_be_are_told(text):
    with pytest.raises(PlanFaults, match=r"give .*0"):
        room(products=text)
