"""The saw list in the order of the works, what broke, and what kept rests give once more."""

from __future__ import annotations

import csv
import datetime as dt
import io
import math
from collections import Counter

import pytest

from layout.errors import PlanError
from layout.programme.laid_on import laying_days
from layout.programme.stages import plan_works
from layout.quantities.cutting import plan_cuts
from layout.quantities.sawing_order import NO_DAY, saw_groups
from layout.quantities.stock import shortages, tile_orders_of
from layout.quantities.takeoff import take_off
from layout.setout.conduct import set_out
from layout.writers.cut_records import cuts_csv, cuts_record
from tests.rooms import plan_of

ROOM = {"outline": [[0, 0], [9950, 0], [9950, 2910], [0, 2910]], "tile_height": 700}
TILE = {"size": [300, 150], "joint": 4, "pattern": "running"}


@pytest.fixture(scope="module")
def setout():
    return set_out(plan_of(ROOM, tiles={"floor": TILE}))


@pytest.fixture(scope="module")
def plan(setout):
    return plan_cuts(setout)


def once_each(groups, plan):
    told = Counter((batch.name, batch.size, tile.number) for group in groups for batch, tiles in group.tiles for tile in tiles)
    assert told == Counter((batch.name, batch.size, tile.number) for batch in plan.batches for tile in batch.tiles)


def test_by_bay_every_tile_is_cut_for_the_first_of_its_pieces(setout, plan):
    groups = saw_groups(plan, setout, "bay")
    once_each(groups, plan)
    order = [group.name for group in groups]
    bays = len(setout.rooms[0].floor.bays)
    assert bays > 1
    assert order[:bays] == [f"{setout.rooms[0].name}, floor, bay {k}" for k in range(1, bays + 1)]
    assert f"{setout.rooms[0].name}, wall 1" in order
    for group in groups:
        places = [[(p.key.room, p.key.surface, p.key.bay) for p in t.pieces] for _, tiles in group.tiles for t in tiles]
        assert len({min(own) for own in places}) == 1
        assert group.later == sum(place != min(own) for own in places for place in own)


def test_by_fence_the_widest_setting_comes_first(setout, plan):
    groups = saw_groups(plan, setout, "fence")
    once_each(groups, plan)
    widest = [max(min(p.box) for p in t.pieces) for group in groups for _, tiles in group.tiles for t in tiles]
    assert widest == sorted(widest, reverse=True)
    assert [group.name for group in groups] == [f"fence {w:g}" for w in dict.fromkeys(widest)]
    assert {group.later for group in groups} == {0}


def test_by_day_a_piece_is_sawn_for_the_day_on_which_its_part_is_laid(setout, plan):
    programme = plan_works(take_off(setout), start=dt.datetime.fromisoformat("2026-11-30T07:00"), hands=1)
    day_of = laying_days(programme)
    groups = saw_groups(plan, setout, "day", day_of)
    once_each(groups, plan)
    days = sorted(
        {when[1].date().isoformat() for each in programme.pieces if each.kind in ("walls", "floor", "bottom") for when in each.days}
    )
    assert len(days) > 1
    assert [group.name for group in groups] == [day for day in days if day in {group.name for group in groups}]
    assert len(groups) > 1
    floor = [each for each in programme.pieces if each.kind == "floor"]
    assert floor
    checked = 0
    for batch in plan.batches:
        for tile in batch.tiles:
            for piece in tile.pieces:
                if piece.surface.kind != "floor":
                    continue
                laid = setout.rooms[0].floor.field.pieces()
                first = sum(len(bay.cut) for bay in setout.rooms[0].floor.field.bays[: piece.key.bay])
                middle = laid[first + piece.key.piece].centroid
                own = {
                    each.days[0][1].date()
                    for each in floor
                    for part in each.parts
                    if part.shape is not None and part.shape.buffer(1.0).intersects(middle)
                }
                if own:
                    checked += 1
                    assert day_of(piece) in own
    assert checked > 20
    assert [group.name for group in saw_groups(plan, setout, "day")] == [NO_DAY]


def test_groups_stand_in_the_record_and_in_the_list(setout, plan):
    groups = saw_groups(plan, setout, "bay")
    record = cuts_record(plan, setout, groups=groups)
    assert [each["name"] for each in record["groups"]] == [group.name for group in groups]
    numbers = sorted(n for each in record["groups"] for own in each["tiles"] for n in own["numbers"])
    assert numbers == sorted(own["number"] for own in record["list"])
    rows = list(csv.reader(io.StringIO(cuts_csv(plan, setout, groups))))
    assert rows[0][-1] == "cut for"
    assert list(dict.fromkeys(row[-1] for row in rows[1:])) == [group.name for group in groups]
    assert sorted(row[4] for row in rows[1:]) == sorted(setout.marks.values())
    assert "groups" not in cuts_record(plan, setout)


def test_two_broken_boxes_are_told_in_tiles_and_bought_again(setout, plan):
    (batch,) = plan.batches
    products = setout.plan.products
    per_box = math.floor(products.tile_box_m2.value / (0.3 * 0.15) + 1e-6)
    orders = tile_orders_of(plan, setout)
    (lack,) = shortages(plan, {}, products, {"floor": (2, True)}, orders)  # of what was ordered
    assert (lack.broken, lack.stock) == (2 * per_box, orders[0].ordered - 2 * per_box)
    assert lack.short == max(batch.needed - lack.stock, 0)
    (lack,) = shortages(plan, {"floor": batch.needed}, products, {"floor": (per_box + 1, False)}, orders)
    assert (lack.stock, lack.short, lack.boxes) == (batch.needed - per_box - 1, per_box + 1, 2)
    record = cuts_record(plan, setout, short=(lack,))["stock"][0]
    assert (record["broken"], record["again_from_rests"]) == (per_box + 1, [{"mark": m, "count": n} for m, n in lack.again])
    for broken, words in (
        ({"roof": (1, False)}, "tiles are floor"),
        ({"floor": (-1, True)}, "broke, 0 or more"),
        ({"floor": (10**6, False)}, "give no more"),
    ):
        with pytest.raises(PlanError, match=words):
            shortages(plan, {}, products, broken, orders)


def strip_rests(rectified):
    """Strips of a stack bond whose cut ones leave a strip along the other side of their tile."""
    tile = {"size": [300, 300], "joint": 4, "rectified": rectified}
    rules = {"offcuts": False, "wall_tolerance": 0}  # every place takes a tile, so rests are easily told
    return plan_cuts(set_out(plan_of({"outline": [[0, 0], [2000, 0], [2000, 2000], [0, 2000]]}, tiles={"floor": tile}, rules=rules)))


@pytest.mark.parametrize("rectified", [False, True])
def test_kept_rests_give_what_goes_in_a_kerf_narrower_with_its_factory_edges(rectified):
    (batch,) = strip_rests(rectified).batches
    (size, pieces) = (300.0, [tile.pieces[0] for tile in batch.tiles])
    assert batch.kept()
    for rest, _, marks in batch.kept():
        assert min(rest) >= 50.0
        # every tile holds one piece at its corner or side: what is left is the tile less the piece less 2 mm of the blade
        assert any(rest in ((size - p.box[0] - 2.0, size), (size, size - p.box[1] - 2.0)) for p in pieces if min(p.box) < size - 52.0)
        fits = {p.mark for p in pieces if all(a <= b for a, b in zip(sorted(p.box), sorted(rest), strict=True))}
        assert set(marks) <= fits
        if rectified:
            assert set(marks) == fits
    (lack,) = shortages(strip_rests(rectified), {"floor": 0}, set_out(plan_of(ROOM, tiles={"floor": TILE})).plan.products)
    laid = Counter(piece.mark for piece in pieces)
    assert all(many <= laid[mark] for mark, many in lack.again)


@pytest.mark.parametrize("rectified", [False, True])
def test_a_saw_that_wanders_leaves_more_between_pieces(rectified):
    room = {"outline": [[0, 0], [3950, 0], [3950, 2910], [0, 2910]]}
    tile = {**TILE, "rectified": rectified}
    needed = {}
    for play in (0.0, 1.5, 60.0):
        rules = {"kerf": 2, "saw_play": play, "offcuts": True}
        setout = set_out(plan_of(room, tiles={"floor": tile}, rules=rules))
        (batch,) = plan_cuts(setout).batches
        needed[play] = len(batch.tiles)
        assert sum(len(own.pieces) for own in batch.tiles) == len(setout.marks)
        pairs = [(a, b) for own in batch.tiles for k, a in enumerate(own.pieces) for b in own.pieces[:k]]
        for a, b in pairs:
            apart = [max(a.at[k] - b.at[k] - b.box[k], b.at[k] - a.at[k] - a.box[k]) for k in (0, 1)]
            assert max(apart) >= 2.0 + play
        assert cuts_record(plan_cuts(setout), setout)["rules"]["saw_play_mm"] == play
    assert needed[0.0] <= needed[1.5] <= needed[60.0]
    assert needed[0.0] < needed[60.0]
    with pytest.raises(PlanError, match=r"rules\.saw_play: 202 found"):
        plan_cuts(set_out(plan_of(room, tiles={"floor": tile}, rules={"kerf": 2, "saw_play": 200})))
