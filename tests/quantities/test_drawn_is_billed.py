"""What the set-out shows is billed, once each and in its own length; and nothing is billed that it does not show."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

import pytest

from layout.quantities.takeoff import take_off
from layout.readers.planfile import parse_plan, read_plan
from layout.setout.conduct import set_out
from layout.tiles.skirting import arrises, skirting_of
from tests.test_project import TOP

if TYPE_CHECKING:
    from layout.quantities.values import TakeOff

KITCHEN = """
[tiles.floor]
size = [200, 200]
joint = 6
[tiles.wall]
size = [200, 100]
joint = 4
[rules]
foot = "FOOT"
[[rooms]]
name = "Kitchen"
outline = [[0, 0], [7200, 0], [7200, 3700], [4200, 3700], [4200, 5200], [0, 5200]]
tanking_height = 300
tile_height = 1800
walls = [{ wall = 2, tanking_height = 1500 }]
openings = [
  { wall = 1, offset = 700, width = 900, head = 2100, depth = 120, threshold = "upstand", threshold_height = 20 },
  { wall = 2, offset = 1200, width = 800, head = 2100, threshold = "step", threshold_height = 30 },
  { wall = 6, offset = 2000, width = 1000, sill = 900, head = 1400, depth = 150 },
]
drains = [{ kind = "channel", from = [1000, 1500], to = [3000, 1500], width = 160, flange = 50 },
          { kind = "gully", at = [6000, 1500], frame = [200, 200], flange = 50 }]
plinths = [{ outline = [[600, 2900], [1700, 2900], [1700, 3700], [600, 3700]], height = 150 }]
columns = [{ outline = [[5000, 2500], [5300, 2500], [5300, 2850], [5000, 2850]] }]
pipes = [{ at = [3800, 4800], diameter = 110 }, { wall = 3, offset = 700, level = 200, diameter = 60 }]
fixings = [{ at = [2300, 4200], size = [120, 80] }]
structural_joints = [{ line = [[3700, 0], [3700, 5200]], width = 20 }]
day_joints = [{ line = [[2100, 0], [2100, 5200]] }]
[[rooms]]
name = "Store"
outline = [[0, 0], [3100, 0], [3100, 2300], [0, 2300]]
openings = [{ wall = 1, offset = 500, width = 900, head = 2100 }]
pipes = [{ at = [400, 1900], diameter = 50 }]
"""
CASES = [*("canteen", "brewhouse", "washbay"), *("wall-through", "floor-through", "cove")]


@pytest.fixture(scope="module", params=CASES)
def takeoff(request: pytest.FixtureRequest) -> TakeOff:
    file = TOP / "plans" / f"{request.param}.toml"
    plan = read_plan(file) if file.exists() else parse_plan(KITCHEN.replace("FOOT", request.param))
    return take_off(set_out(plan))


def billed(takeoff: TakeOff, *families: str) -> list[tuple[int, str, int, float]]:
    """Room, kind of place, number and quantity of every part of the items of these families."""
    return [
        (part.place.room, part.place.kind, part.place.number, round(part.quantity, 9))
        for item in takeoff.items
        if item.key.split(".")[0] in families
        for part in item.parts
    ]


def test_every_joint_once_in_its_own_kind(takeoff):
    shown = [
        (index, f"joints.{joint.kind}", number, round(joint.length / 1000, 9))
        for index, room in enumerate(takeoff.setout.rooms)
        for number, joint in enumerate(room.joints, 1)
    ]
    assert len(shown) > 4
    found = [
        (part.place.room, item.key, part.place.number, round(part.quantity, 9))
        for item in takeoff.items
        if item.key.startswith("joints.")
        for part in item.parts
    ]
    assert Counter(shown) == Counter(found)


def test_every_joint_has_its_sealant_and_rod(takeoff):
    joints = [joint for room in takeoff.setout.rooms for joint in room.joints]
    rods = sum(quantity for _, _, _, quantity in billed(takeoff, "backer_rod"))
    assert rods == pytest.approx(sum(joint.length for joint in joints if joint.kind != "pipe") / 1000)
    waste = takeoff.setout.plan.products.sealant_waste.value
    by_hand = sum(joint.length / 1000 * joint.width * min(max(joint.width / 2, 6), 13) for joint in joints) * (1 + waste)
    assert sum(quantity for _, _, _, quantity in billed(takeoff, "sealant")) == pytest.approx(by_hand)


def test_the_joint_schedule_is_the_bill(takeoff):
    assert any(room.joint_types for room in takeoff.setout.rooms)
    for index, room in enumerate(takeoff.setout.rooms):
        scheduled: Counter[str] = Counter()
        for each in room.joint_types:
            scheduled[each.kind] += each.length / 1000
        for kind, metres in scheduled.items():
            own = [q for r, _, _, q in billed(takeoff, "joints") if r == index]
            assert own
            item = takeoff.item(f"joints.{kind}")
            assert item is not None
            assert sum(part.quantity for part in item.parts if part.place.room == index) == pytest.approx(metres)
        assert sum(scheduled.values()) == pytest.approx(sum(joint.length for joint in room.joints) / 1000)


def test_every_run_of_tape_upstand_strip_collar_and_flange(takeoff):
    shown: list[tuple[int, str, int, float]] = []
    for index, room in enumerate(takeoff.setout.rooms):
        shown += [(index, "tape", k, run.length / 1000) for k, run in enumerate(room.tape.runs, 1)]
        shown += [(index, "termination", k, end.length / 1000) for k, end in enumerate(room.membrane.terminations, 1)]
        shown += [(index, "collar", k, 1.0) for k, _ in enumerate(room.tape.collars, 1)]
        shown += [(index, "flange", k, flange.length / 1000) for k, flange in enumerate(room.tape.flanges, 1)]
    assert len(shown) > 4
    assert Counter((r, kind, k, round(q, 9)) for r, kind, k, q in shown) == Counter(
        billed(takeoff, "tape", "terminations", "collars", "flanges")
    )
    corners = sum(len(room.tape.corners) for room in takeoff.setout.rooms)
    assert sum(quantity for _, _, _, quantity in billed(takeoff, "corner_pieces")) == corners


def test_every_trim_and_skirting(takeoff):
    shown: list[tuple[int, str, int, float]] = []
    for index, room in enumerate(takeoff.setout.rooms):
        shown += [(index, "arris", k, (top - low) / 1000) for k, (_, _, low, top) in enumerate(arrises(room.lining), 1)]
        made = skirting_of(room.lining)
        shown += [(index, "skirting", k, float(run.straight)) for k, run in enumerate(made.runs if made else (), 1)]
    found = [each for each in billed(takeoff, "edge_trim", "skirting") if each[1] in ("arris", "skirting")]
    assert Counter((r, kind, k, round(q, 9)) for r, kind, k, q in shown) == Counter(found)


def test_every_surface_with_tile_or_membrane(takeoff):
    shown = Counter((done.surface.id, round(done.tiled_m2, 9)) for room in takeoff.setout.rooms for done in room.surfaces)
    found = Counter(
        (part.place.surface, round(part.quantity, 9)) for item in takeoff.items if item.key.startswith("tiled.") for part in item.parts
    )
    assert shown == found
    tanked = Counter(
        (surface.id, round((surface.tanked.area - sum(each.shape.area for each in surface.breaks if each.kind == "channel")) / 1e6, 6))
        for room in takeoff.setout.rooms
        for surface in room.membrane.lining.surfaces
        if surface.tanked.area > 1.0
    )
    item = takeoff.item("membrane_area")
    assert item is not None
    stretch = {done.surface.id: done.stretch for room in takeoff.setout.rooms for done in room.surfaces}
    found = Counter(
        (part.place.surface, round(part.quantity / (stretch.get(part.place.surface, 1.0) if part.place.surface else 1.0), 6))
        for part in item.parts
        if part.place.kind == "surface"
    )
    assert found == tanked
