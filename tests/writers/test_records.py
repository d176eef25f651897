"""The JSON contract: keys in their order, numbers as promised, and the sums that a reader may rely on."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest
from shapely import Polygon

from layout.quantities.orders import place_orders
from layout.setout.conduct import set_out
from layout.writers.quantity_records import takeoff_record
from layout.writers.records import setout_record, to_json
from layout.writers.rounded import fine, mm, points, ring
from tests.examples import example, example_takeoff
from tests.rooms import plan_of

PLANS = sorted((Path(__file__).parent.parent.parent / "plans").glob("*.toml"))


@pytest.fixture(scope="module", params=PLANS, ids=lambda p: p.stem)
def record(request):
    return json.loads(to_json(setout_record(example(request.param), pieces=True)))


def test_keys_stand_in_the_order_of_the_contract(record):
    assert list(record)[:3] == ["schema", "project", "rooms"]
    room = record["rooms"][0]
    assert list(room) == [
        "name",
        "floor_m2",
        "surfaces",
        "movement_joints",
        "bays",
        "tape",
        "corner_pieces",
        "collars",
        "flanges",
        "warnings",
        "joint_types",
        "membrane",
        "rejected_joints",
        "levels",
        "shared_doors",
    ]
    floor = room["surfaces"][0]
    assert list(floor)[:18] == [
        "name", "id", "part", "kind", "gross_m2", "tiled_m2", "lost_mm2", "pattern", "turn_deg", "outline", "holes", "tile", "start", "tiles", "necks", "cuts", "pieces",
    ]  # fmt: skip
    assert list(floor["start"])[:4] == ["origin", "smallest_cut_mm", "smallest_cut_worst_mm", "smallest_cut_at"]
    assert {"mark", "count", "shape", "size", "outline", "holes"} <= set(floor["cuts"][0])


def test_numbers_are_rounded_and_sound(record):
    def walk(value):
        if isinstance(value, dict):
            for each in value.values():
                yield from walk(each)
        elif isinstance(value, list):
            for each in value:
                yield from walk(each)
        elif isinstance(value, float):
            yield value

    numbers = list(walk(record))
    assert all(math.isfinite(x) for x in numbers)
    assert not any(x == 0 and math.copysign(1, x) < 0 for x in numbers)
    assert max(abs(x * 1e6 - round(x * 1e6)) for x in numbers) < 1e-3


def test_surfaces_are_in_order(record):
    assert len(record["rooms"][0]["surfaces"]) > 3
    for room in record["rooms"]:
        kinds = [s["kind"] for s in room["surfaces"]]
        order = ["floor", "wall", "plinth", "column", "reveal"]
        ranks = [order.index(kind.split("-")[0]) for kind in kinds]
        assert ranks == sorted(ranks)
        walls = [int(s["name"].split()[1]) for s in room["surfaces"] if s["kind"] == "wall"]
        assert walls == sorted(walls)


def test_pieces_make_up_what_the_record_says(record):
    assert any(surface["tile"] for surface in record["rooms"][0]["surfaces"])
    for room in record["rooms"]:
        for surface in room["surfaces"]:
            if surface["tile"] is None:
                continue
            pieces = surface["pieces"]
            assert sum(p["mark"] is None for p in pieces) == surface["tiles"]["whole"]
            assert sum(p["mark"] is not None for p in pieces) == surface["tiles"]["pieces"]
            assert len({tuple(p["tile"]) for p in pieces if p["mark"]}) == surface["tiles"]["cut"]
            keys = [(p["tile"][0], p["tile"][1], p["tile"][3], p["tile"][2]) for p in pieces]
            assert keys == sorted(keys)
            counts = {c["mark"]: c["count"] for c in surface["cuts"]}
            for mark, count in counts.items():
                assert sum(p["mark"] == mark for p in pieces) == count
            area = sum(Polygon(p["outline"], p["holes"]).area for p in pieces)
            assert area < surface["tiled_m2"] * 1e6 + 1.0


def test_tiles_are_counted_from_the_origin_of_their_bay(record):
    """Whole tiles of straight lattices are where bay origin, index and pitch put them."""
    room = record["rooms"][0]
    floor = room["surfaces"][0]
    (w, h), joint = floor["tile"]["size"], floor["tile"]["joint"]
    shift = 0.5 * (w + joint) if floor["pattern"] == "running" else 0.0
    origins = [bay["origin"] for bay in room["bays"] if bay["surface"] == "floor"]
    assert floor["start"]["origin"] in origins
    angle = math.radians(floor["turn_deg"])
    for piece in floor["pieces"]:
        if piece["mark"] is None:
            bay, _, i, j = piece["tile"]
            x, y = i * (w + joint) + j * shift, j * (h + joint)
            corner = [
                x * math.cos(angle) - y * math.sin(angle) + origins[bay][0],
                x * math.sin(angle) + y * math.cos(angle) + origins[bay][1],
            ]
            assert min(math.dist(corner, p) for p in piece["outline"]) < 0.01


def test_rings_are_oriented_and_start_low_left(record):
    assert record["rooms"][0]["surfaces"][0]["outline"]
    for surface in record["rooms"][0]["surfaces"]:
        if surface["outline"]:
            outline = np.array(surface["outline"])
            assert Polygon(outline).exterior.is_ccw
            assert outline.tolist().index(min(outline.tolist(), key=lambda p: (p[1], p[0]))) == 0
            assert outline[0].tolist() != outline[-1].tolist()
            for hole in surface["holes"]:
                assert not Polygon(hole).exterior.is_ccw


def test_a_ring_starts_low_left():
    assert ring(np.array([[5.0, 5.0], [0.0, 5.0], [0.0, 0.0], [5.0, 0.0]])) == [[0, 0], [5, 0], [5, 5], [0, 5]]
    assert ring(np.array([[0.0, 0.0], [5.0, 0.0], [5.0, 5.0]]), hole=True) == [[0, 0], [5, 5], [5, 0]]


def test_the_takeoff_record():
    takeoff = example_takeoff(PLANS[0])
    made = json.loads(to_json(takeoff_record(takeoff, place_orders(takeoff))))
    assert len(made["items"]) > 20
    for item in made["items"]:
        assert item["quantity"] == pytest.approx(sum(p["quantity"] for p in item["parts"]), abs=1e-4)
        assert item["formula"]
        assert item["source"]
        if "order" in item:
            order = item["order"]
            assert order["packs"] * order["pack_size"] >= order["need"] - 1e-6 or order["pack"] == "roll"
            if order["pack"] == "length":  # runs are not joined: offcuts may come to more than a length, never to more lengths than runs
                assert order["packs"] <= len(item["parts"])
                continue
            assert (order["packs"] - 1) * order["pack_size"] < order["need"]


def test_surfaces_of_one_name_have_ids_of_their_own():
    doors = [{"wall": wall, "offset": 500, "width": 900, "depth": 120, "name": "door"} for wall in (1, 3)]
    room = {"outline": [[0, 0], [3000, 0], [3000, 2500], [0, 2500]], "openings": doors, "tile_height": 2000, "tanking_height": 2000}
    surfaces = setout_record(set_out(plan_of(room)))["rooms"][0]["surfaces"]
    ids = [(each["id"], each["part"]) for each in surfaces]
    assert len(set(ids)) == len(ids) > 6
    assert {"0.floor", "0.wall.1", "0.reveal.1.1", "0.reveal.2.2"} <= {name for name, _ in ids}


@pytest.mark.parametrize("noise", [-4e-11, 0.0, 4e-11])
def test_a_half_of_the_last_digit_is_rounded_alike_whatever_noise_its_sum_has(noise):
    """By hand: the sums of a room and of its twin differ behind the sixth place of a millimetre; what is a millionth off a half is none."""
    assert mm(56.6895 + noise) == round(56.6895, 3)
    assert (mm(56.6885 - 1e-6), mm(56.6885 + 1e-6)) == (56.688, 56.689)
    assert fine(1.4486875 + noise / 10) == round(1.4486875, 6)
    assert points(np.array([[56.6895 + noise, -0.0]])) == [[round(56.6895, 3), 0.0]]


def test_a_strip_of_wall_no_wider_than_a_joint_is_told_as_lost():
    # beside an opening 12.5 from the corner: less 10 of the other wall's tile, less 2 of its joint, 2.5 are left, under the joint of 3
    room = {"outline": [[0, 0], [1800, 0], [1800, 1500], [0, 1500]], "tile_height": 1200}
    tiles = {"floor": {"size": [400, 400], "joint": 5}, "wall": {"size": [200, 200], "joint": 3}}
    plan = plan_of({**room, "openings": [{"wall": 1, "offset": 12.5, "width": 800}]}, tiles=tiles)
    record = setout_record(set_out(plan), pieces=True)["rooms"][0]
    wide, strip = (each for each in record["surfaces"] if each["name"] == "wall 1")
    area = Polygon(strip["outline"]).area
    assert area == pytest.approx((12.5 - 10.0) * (1200 - 2), rel=1e-3)
    assert (strip["tiled_m2"], strip["pieces"], strip["lost_mm2"]) == (0.0, [], pytest.approx(area, abs=0.01))
    assert wide["lost_mm2"] == 0.0
    assert [each["text"] for each in record["warnings"] if each["code"] == "strip-dropped"] == [
        "wall 1: 2995 mm² in a gap no wider than a joint take no tile; the joints beside fill it"
    ]
