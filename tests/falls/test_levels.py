"""Falls and levels: facets against worked falls, water that runs, tiles over hips, screed, bad input."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from typer.testing import CliRunner

from cli.main import app
from layout.errors import PlanFaults
from layout.falls.facets import level_perimeter, levels_at, lines_between
from layout.falls.levels import greatest_side, measure_levels
from layout.lining.build import build_lining
from layout.quantities.takeoff import take_off
from layout.setout.conduct import set_out
from layout.writers.records import setout_record
from tests.rooms import moved, plan_of, plan_text, set_out_room

if TYPE_CHECKING:
    from layout.falls.levels import Levels
    from layout.lining.build import Lining
    from layout.setout.values import RoomSetOut

GULLY = {"kind": "gully", "at": [2000, 1500], "frame": [200, 200]}
BOX = {"outline": [[0, 0], [4000, 0], [4000, 3000], [0, 3000]], "drains": [GULLY], "falls": [{"to": "gully 1", "ratio": 60}]}
ACROSS = {"kind": "channel", "from": [4250, 0], "to": [4250, 3000], "width": 200}


def levels_of(room: RoomSetOut) -> Levels:
    assert room.levels is not None
    return room.levels


def levelled(room) -> tuple[Lining, Levels]:
    """A room's lining, and the levels of its floor: they follow no start, so none is looked for."""
    made = build_lining(plan_of(room), 0)
    assert made.falls is not None
    assert made.floor.tile is not None
    return made, measure_levels(made.plan, made.falls, made.floor.gross, made.outline, made.floor.tile)


def quantity(setout, key):
    item = take_off(setout).item(key)
    assert item is not None
    return item.quantity


def codes(room):
    return {finding.code for finding in room.findings}


def test_the_worked_four_way_fall():
    # reference values, computed: 4 x 3 m, central drain, 1:60 along the 2.5 m corner line: drop 41.7, so 1:36 and 1:48
    facets = level_perimeter(shapely.box(0, 0, 4000, 3000), shapely.Point(2000, 1500), 0.0, 2500 / 60, "drain")
    assert facets is not None
    assert len(facets) == 4
    assert levels_at(facets, np.array([[2000, 1500]]))[0] == pytest.approx(-41.7, abs=0.05)
    assert sorted(round(f.ratio) for f in facets) == [36, 36, 48, 48]
    lines = lines_between(facets)
    assert [line.kind for line in lines] == ["valley"] * 4
    assert all(
        line.length / (line.levels[0] - line.levels[1]) == pytest.approx(math.copysign(60, line.levels[0] - line.levels[1]))
        for line in lines
    )


@pytest.mark.parametrize(("length", "ratio", "drop"), [(3200, 80, 40.0), (2500, 50, 50.0), (4000, 100 / 1.5, 60.0), (4250, 60, 70.8)])
def test_one_way_falls_by_hand(length, ratio, drop):
    # conversions, computed: 3.2 m at 1:80 = 40 mm; 2.5 m at 2 % = 50; 4 m at 1.5 % = 60; 4,250 at 1:60 = 70.8
    room = set_out_room(
        {
            "outline": [[0, 0], [length + 100, 0], [length + 100, 2000], [0, 2000]],
            "drains": [{"kind": "channel", "from": [length + 50, 0], "to": [length + 50, 2000], "width": 100}],
            "falls": [{"to": "channel 1", "ratio": ratio}],
        }
    )
    assert levels_of(room).drains[0].level == pytest.approx(-drop, abs=0.05)
    assert len(levels_of(room).facets) == 1
    assert levels_of(room).facets[0].ratio == pytest.approx(ratio)
    assert not levels_of(room).ponds


def test_the_frame_is_level_and_so_is_the_perimeter():
    room = set_out_room(BOX)
    falls = levels_of(room).falls
    ring = np.array([[0, 0], [4000, 0], [1234, 3000], [0, 777]])
    frame = np.array([[1900, 1400], [2100, 1400], [2000, 1600], [2100, 1500]])
    assert falls.at(ring) == pytest.approx(np.zeros(4), abs=1e-6)
    assert falls.at(frame) == pytest.approx(np.full(4, levels_of(room).drains[0].level), abs=1e-6)
    assert levels_of(room).drains[0].flattest < 60  # the ratio is kept on the longest way, facets are steeper


def test_screed_by_the_prismoidal_formula_by_hand():
    # a wedge under one plane: 4.25 x 3 m falling 70.83, so 35.42 in the mean over what is under its low end
    room = {
        "outline": [[0, 0], [4350, 0], [4350, 3000], [0, 3000]],
        "drains": [{**ACROSS, "from": [4300, 0], "to": [4300, 3000], "width": 100}],
    }
    setout = set_out(plan_of({**room, "falls": [{"to": "channel 1", "ratio": 60}], "levels": {"screed": 30}}))
    screed = levels_of(setout.rooms[0]).screed
    assert (screed.least, screed.most) == pytest.approx((30.0, 30 + 4250 / 60))
    assert screed.volume == pytest.approx(4.25 * 3.0 * (0.030 + 4.25 / 60 / 2))
    assert quantity(setout, "screed") == pytest.approx(screed.volume)
    # the four-way fall: two pairs of trapezia between the wall (height d) and the frame (0), prismoidal h/6 (A0 + 4 Am + A1)
    box = set_out_room({**BOX, "levels": {"slab": -200}})
    drop, built = -levels_of(box).drains[0].level, box.floor.surface.build_up
    cut = 0.0
    for wall, side, far in ((4.0, 0.2, 1.4), (3.0, 0.2, 1.9)):
        cut += 2 * far / 6 * (0 + 4 * (wall + side) / 2 * drop / 2 + side * drop)
    whole = (12.0 - 0.04) * (200 - built)
    assert levels_of(box).screed.volume == pytest.approx((whole - cut) / 1000, rel=1e-6)


def test_how_long_a_tile_may_lie_over_a_hip():
    # reference values: a 200 tile at 1:60 stands 3.3 mm out; 1 mm by halving allows 120
    assert pytest.approx(3.3, abs=0.05) == 200 / 60
    assert greatest_side(2 / 60, 1.0) == pytest.approx(120)


def test_tiles_are_cut_along_hips_and_valleys():
    # saw lines count as cuts do, so each floor would start for itself: both are laid from one given point
    tiles = {"floor": {"size": [200, 200], "joint": 6, "start": [120, 140]}}
    plain, sawn = set_out_room({**BOX, "falls": []}, tiles=tiles), set_out_room(BOX, tiles=tiles)
    assert len(levels_of(sawn).cuts) == 4
    joint = sawn.floor.tile.joint
    pieces = sawn.floor.field.pieces()
    for line in levels_of(sawn).cuts:
        clear = shapely.distance(pieces, shapely.LineString(line.line))
        assert clear.min() > joint / 2 - 0.01
        whole = shapely.polygons(sawn.floor.field.outlines(sawn.floor.field.whole))
        assert shapely.distance(whole, shapely.LineString(line.line)).min() > joint / 2 - 0.01
    # nothing is lost but the joints along the lines
    length = sum(line.length for line in levels_of(sawn).cuts)

    def laid(room):
        return shapely.area(room.floor.field.pieces()).sum() + room.floor.field.pattern.areas[room.floor.field.whole[:, 1]].sum()

    assert 0 < laid(plain) - laid(sawn) < length * joint
    accepted = set_out_room(BOX, tiles=tiles, rules={"falls": "accept"})
    assert laid(accepted) == pytest.approx(laid(plain))
    assert "tile-over-hip" in codes(accepted)
    assert "tile-over-hip" not in codes(sawn)


def test_small_tile_lies_over_the_lines():
    room = set_out_room(BOX, tiles={"floor": {"size": [100, 100], "joint": 8}})  # 2 mm allowed beside wide joints
    assert levels_of(room).cuts == ()
    assert levels_of(room).greatest > 100


def test_drains_share_the_floor_along_a_level_line():
    gullies = [{**GULLY, "at": [2000, 2000]}, {**GULLY, "at": [6000, 2000]}]
    falls = [{"to": "gully 1", "ratio": 60}, {"to": "gully 2", "ratio": 60}]
    room = {"outline": [[0, 0], [8000, 0], [8000, 4000], [0, 4000]], "drains": gullies}
    for perimeter in ("level", "free"):
        levels = levels_of(set_out_room({**room, "falls": [{**fall, "perimeter": perimeter} for fall in falls]}))
        (high,) = [line for line in levels.lines if line.kind == "high line"]
        assert high.line[:, 0] == pytest.approx([4000, 4000])
        assert high.levels[0] == pytest.approx(high.levels[1])
        assert not levels.ponds
        if perimeter == "free":  # every plane keeps its ratio
            assert {round(f.ratio, 6) for f in levels.facets} == {60.0}


def test_a_movement_joint_takes_the_high_line_and_leaves_the_low_one():
    outline = [[0, 0], [12000, 0], [12000, 4000], [0, 4000]]
    longest = 7000
    rules = {"movement": "UK_FLOOR", "max_edge": longest}

    def joint_at(room):
        (joint,) = [j for j in room.joints if j.surface.name == "floor" and j.kind == "intermediate"]
        return joint.line[:, 0].mean()

    assert joint_at(set_out_room({"outline": outline}, rules=rules)) == pytest.approx(6000, abs=110)
    gullies = [{**GULLY, "at": [2900, 2000]}, {**GULLY, "at": [8500, 2000]}]  # the line between them at 5700
    high = set_out_room({"outline": outline, "drains": gullies, "falls": [{"to": "gully 1"}, {"to": "gully 2"}]}, rules=rules)
    assert joint_at(high) == pytest.approx(5700, abs=210)
    planes = [
        {"plane": [[0, 0, 0], [6000, 0, -100], [0, 1000, 0]], "region": [[0, 0], [6000, 0], [6000, 4000], [0, 4000]]},
        {"plane": [[12000, 0, 0], [6000, 0, -100], [12000, 1000, 0]], "region": [[6000, 0], [12000, 0], [12000, 4000], [6000, 4000]]},
    ]
    low = set_out_room({"outline": outline, "falls": planes}, rules=rules)
    assert [line.kind for line in levels_of(low).lines] == ["low line"]
    assert abs(joint_at(low) - 6000) > longest / 100
    assert "joint-in-low-line" not in codes(low)
    given_joint = {"line": [[6000, 0], [6000, 4000]], "width": 20}
    assert "joint-in-low-line" in codes(
        set_out_room({"outline": outline, "falls": planes, "structural_joints": [given_joint]}, rules=rules)
    )


def test_water_that_stays_is_told_with_place_and_depth():
    shut = {"outline": [[2500, 900], [3500, 900], [3500, 1000], [2600, 1000], [2600, 2000], [3500, 2000], [3500, 2100], [2500, 2100]]}
    room = set_out_room({**BOX, "drains": [{**GULLY, "at": [1000, 1500]}], "plinths": [shut]})
    (pond,) = levels_of(room).ponds  # the kerb opens to the right, and water runs to the left: it stands behind the kerb
    assert 2600 < pond.at[0] < 2700
    ratio = max(f.ratio for f in levels_of(room).facets if f.plane[0] > 0 and abs(f.plane[1]) < 1e-9)
    assert pond.depth == pytest.approx((3500 - 2600) / ratio, abs=1.5)
    assert 1000 < pond.at[1] < 2000
    assert "pond" in codes(room)
    across = {"outline": [[2500, 0], [2600, 0], [2600, 3000], [2500, 3000]]}
    off = set_out_room({**BOX, "drains": [{**GULLY, "at": [1000, 1500]}], "plinths": [across]})
    assert [math.isinf(p.depth) for p in levels_of(off).ponds] == [True]
    assert levels_of(off).ponds[0].area == pytest.approx(1.4 * 3.0, rel=0.03)
    json_pond = setout_record(set_out(plan_of({**BOX, "drains": [{**GULLY, "at": [1000, 1500]}], "plinths": [across]})))
    assert json_pond["rooms"][0]["levels"]["ponds"][0]["depth_mm"] is None


@pytest.mark.parametrize("around", [1, -1])
def test_a_corner_is_named_by_the_walls_that_meet_there_whichever_way_they_are_typed(around):
    typed = [[0, 0], [4000, 0], [4000, 3000], [1500, 3000], [1500, 2200], [0, 2200]][::around]
    room = set_out_room({**BOX, "outline": typed})
    told = {spot.what: spot.at for spot in levels_of(room).spots if spot.what.startswith("corner")}
    # wall k runs from the k-th typed corner to the next: the corner between two walls is where the later one begins
    wanted = {f"corner of wall {k} and wall {k + 1}": tuple(typed[k]) for k in range(1, 6)}
    assert told == {**wanted, "corner of wall 1 and wall 6": tuple(typed[0])}


def test_the_published_range_is_checked():
    flat = set_out_room({**BOX, "falls": [{"to": "gully 1", "ratio": 200, "perimeter": "free"}]})
    assert any(f.code == "fall-outside-range" and "1:200" in f.text and "1:80" in f.text for f in flat.findings)
    assert "fall-outside-range" not in codes(set_out_room({**BOX, "falls": [{"to": "gully 1", "ratio": 70}]}))  # 1:39 to 1:53
    steep = set_out_room({**BOX, "falls": [{"to": "gully 1", "ratio": 60}]}, rules={"fall_range": "NCC_2022"})
    assert any("NCC" in f.text for f in steep.findings if f.code == "fall-outside-range")


def test_thresholds_are_held_and_checked():
    door = {"wall": 1, "offset": 500, "width": 1000}
    room = {
        "outline": [[0, 0], [4350, 0], [4350, 3000], [0, 3000]],
        "drains": [{**ACROSS, "from": [4300, 0], "to": [4300, 3000], "width": 100}],
    }
    along = set_out_room({**room, "openings": [door], "falls": [{"to": "channel 1", "ratio": 60}]})
    (finding,) = [f for f in along.findings if f.code == "threshold-step"]
    assert "falls 17" in finding.text  # 1,000 at 1:60
    held = set_out_room({**room, "openings": [door], "falls": [{"to": "channel 1", "ratio": 60, "perimeter": "threshold"}]})
    assert levels_of(held).falls.at(np.array([[500, 0]]))[0] == pytest.approx(0.0)
    end = {"wall": 4, "offset": 500, "width": 1000, "level": 15}
    stepped = set_out_room({**room, "openings": [end], "falls": [{"to": "channel 1", "ratio": 60}]})
    assert any("wanted at +15" in f.text for f in stepped.findings)


def test_a_ramp_counts_its_true_area():
    ramp = {"plane": [[0, 0, 0], [4000, 0, -500], [0, 1000, 0]]}
    setout = set_out(plan_of({**BOX, "drains": [], "falls": [ramp], "tanking_height": 0}))
    stretch = math.hypot(1, 1 / 8)
    assert setout.rooms[0].floor.stretch == pytest.approx(stretch)
    assert quantity(setout, "membrane_area") == pytest.approx(12.0 * stretch)
    assert quantity(setout, "tiled.floor") == pytest.approx(sum(b.area_m2 for b in setout.rooms[0].floor.bays) * stretch)
    assert set_out_room(BOX).floor.stretch == 1.0  # 1:36 stretches by less than a thousandth


def test_a_sump_lies_in_a_region_of_its_own():
    sump = [[2600, 600], [3600, 600], [3600, 1600], [2600, 1600]]
    drains = [{**GULLY, "at": [1000, 1500]}, {**GULLY, "at": [3100, 1100]}]
    falls = [{"to": "gully 2", "drop": 200, "region": sump}, {"to": "gully 1", "ratio": 60, "perimeter": "free"}]
    room = set_out_room({**BOX, "drains": drains, "falls": falls})
    levels = {d.name: d.level for d in levels_of(room).drains}
    assert levels["gully 2"] == pytest.approx(-200)
    assert "step-in-floor" in codes(room)
    assert "step-in-floor" not in codes(set_out_room({**BOX, "drains": drains, "falls": falls, "levels": {"steps": True}}))


BAD = {
    "no drain": ({"falls": [{"to": "gully 9"}]}, "falls[0].to", "no drain"),
    "no way": ({"falls": [{"ratio": 60}]}, "falls[0]", "no drain"),
    "a ratio of zero": ({"falls": [{"to": "gully 1", "ratio": 0}]}, "falls[0].ratio", "from 1"),
    "ratio and drop": ({"falls": [{"to": "gully 1", "ratio": 60, "drop": 20}]}, "falls[0].drop", "ratio or drop"),
    "a drain above the floor": ({"drains": [{**GULLY, "level": 5}]}, "falls[0].to", "not below the floor"),
    "too little drop": ({"drains": [{**GULLY, "level": -20}]}, "falls[0].ratio", "1:60"),
    "levels that contradict": (
        {"drains": [{**GULLY, "level": -20}], "falls": [{"to": "gully 1", "drop": 50}]},
        "falls[0].drop",
        "contradicts",
    ),
    "twice": ({"falls": [{"to": "gully 1"}, {"to": "gully 1"}]}, "falls[1].to", "already"),
    "a region elsewhere": ({"falls": [{"to": "gully 1", "region": [[9000, 0], [9900, 0], [9900, 900]]}]}, "falls[0].region", "outside"),
    "a region without its drain": (
        {"falls": [{"to": "gully 1", "region": [[0, 0], [900, 0], [900, 900]]}]},
        "falls[0].region",
        "does not lie",
    ),
    "a flat plane's points": ({"falls": [{"plane": [[0, 0, 0], [1, 1, 5], [2, 2, 9]]}]}, "falls[0].plane", "one line"),
    "screed and slab": ({"levels": {"slab": -90, "screed": 30}}, "levels.slab", "slab or screed"),
    "a drain at the wall": (
        {"drains": [{**GULLY, "at": [100, 1500]}], "falls": [{"to": "gully 1", "perimeter": "level"}]},
        "falls[0].perimeter",
        "cannot be level",
    ),
}


@pytest.mark.parametrize(("change", "place", "words"), BAD.values(), ids=BAD)
def test_bad_falls_are_told(change, place, words):
    with pytest.raises(PlanFaults) as caught:
        plan_of({**BOX, **change})
    text = str(caught.value)
    assert place in text
    assert words in text


def test_a_drain_that_does_not_see_a_wall_is_refused():
    outline = [[0, 0], [6000, 0], [6000, 2000], [2000, 2000], [2000, 6000], [0, 6000]]
    with pytest.raises(PlanFaults, match="does not see the edge of the floor from"):
        plan_of({"outline": outline, "drains": [{**GULLY, "at": [5000, 1000]}], "falls": [{"to": "gully 1", "perimeter": "level"}]})
    # where the plan does not ask for it, the perimeter follows the planes, and that is told
    room = set_out_room({"outline": outline, "drains": [{**GULLY, "at": [5000, 1000]}], "falls": [{"to": "gully 1", "ratio": 70}]})
    assert "perimeter-not-level" in codes(room)
    assert {round(facet.ratio, 3) for facet in levels_of(room).facets} == {70.0}
    at_wall = set_out_room({**BOX, "drains": [{**GULLY, "at": [100, 1500]}], "falls": [{"to": "gully 1", "ratio": 60}]})
    assert "perimeter-not-level" in codes(at_wall)
    assert not levels_of(at_wall).ponds


@st.composite
def falling_rooms(draw):
    """Convex rooms, and L-shaped ones with the drain in the elbow, with a gully or two."""
    wide, deep = draw(st.integers(2500, 9000)), draw(st.integers(2500, 9000))
    outline = [[0, 0], [wide, 0], [wide, deep], [0, deep]]
    kind = draw(st.sampled_from(["box", "skew", "elbow", "two"]))
    at = [[draw(st.integers(600, wide - 600)), draw(st.integers(600, deep - 600))]]
    if kind == "skew":
        outline[2] = [wide - draw(st.integers(0, 300)), deep + draw(st.integers(0, 300))]
    if kind == "elbow":
        x, y = int(wide * 0.6), int(deep * 0.6)
        outline = [[0, 0], [wide, 0], [wide, y], [x, y], [x, deep], [0, deep]]
        at = [[draw(st.integers(500, x - 200)), draw(st.integers(500, y - 200))]]
    if kind == "two":
        at = [[wide * 0.25, deep * draw(st.floats(0.3, 0.7))], [wide * 0.75, deep * draw(st.floats(0.3, 0.7))]]
    turn = draw(st.sampled_from([0, 0, 17, 45])) if kind in ("box", "two") else 0
    drains = [{"kind": "gully", "at": [round(p[0]), round(p[1])], "turn": turn} for p in at]
    perimeter = draw(st.sampled_from(["level", "free"])) if kind != "elbow" else "level"
    falls = [{"to": f"gully {k + 1}", "ratio": draw(st.integers(40, 100)), "perimeter": perimeter} for k in range(len(drains))]
    falls = [{**fall, "ratio": falls[0]["ratio"]} for fall in falls]
    return {"outline": outline, "drains": drains, "falls": falls}


@settings(max_examples=25, deadline=None)
@given(falling_rooms())
def test_water_runs_downhill_to_a_drain_from_everywhere(room):
    # an independent check: a walk down the steepest way, 20 mm at a time, on the levels alone
    lining, levels = levelled(room)
    assert not levels.ponds
    falls = levels.falls
    x0, y0, x1, y1 = falls.region.bounds
    k = np.arange(1, 61)  # drops all over the floor: multiples of two irrational parts fill it evenly
    drops = np.column_stack([x0 + (x1 - x0) * (k * 0.7548776662 % 1.0), y0 + (y1 - y0) * (k * 0.5698402910 % 1.0)])
    drops = drops[shapely.intersects_xy(falls.region, drops[:, 0], drops[:, 1])]
    frames = shapely.union_all([b.shape for b in lining.floor.breaks])
    around = 20.0 * np.array([[math.cos(a), math.sin(a)] for a in np.arange(32) * math.pi / 16])
    running = drops.copy()
    left = np.ones(len(running), dtype=bool)
    for _ in range(1200):
        left = np.asarray(shapely.distance(shapely.points(running), frames) > 25.0)
        if not left.any():
            break
        tries = running[left][:, None] + around
        inside = shapely.intersects_xy(falls.region, tries[..., 0], tries[..., 1])
        level = np.where(inside, falls.at(tries.reshape(-1, 2)).reshape(inside.shape), np.inf)
        best = level.argmin(axis=1)
        assert (level.min(axis=1) < falls.at(running[left])).all()
        running[left] = tries[np.arange(len(best)), best]
    assert not left.any()
    # facets cover the floor once, and no plane is flatter than asked on a free perimeter
    frame_area = frames.area
    assert sum(f.polygon.area for f in levels.facets) == pytest.approx(falls.region.area - frame_area, rel=1e-6)
    asked = room["falls"][0]
    if asked["perimeter"] == "free":
        assert all(f.ratio == pytest.approx(asked["ratio"]) for f in levels.facets)


@settings(max_examples=10, deadline=None)
@given(falling_rooms(), st.sampled_from([0, 90, 33]))
def test_turning_and_shifting_changes_no_level(room, turn):
    _, here = levelled(room)
    drains = [
        {**drain, "turn": drain["turn"] + turn, "at": moved({"outline": [drain["at"]]}, turn=turn, shift=(700, -300))["outline"][0]}
        for drain in room["drains"]
    ]
    _, there = levelled({**moved({k: v for k, v in room.items() if k != "drains"}, turn=turn, shift=(700, -300)), "drains": drains})
    assert [d.level for d in there.drains] == pytest.approx([d.level for d in here.drains], abs=0.02)
    assert there.screed.volume == pytest.approx(here.screed.volume, rel=1e-4)
    assert sorted(line.kind for line in there.lines) == sorted(line.kind for line in here.lines)


def test_the_terminal_tells_levels(tmp_path):
    path = tmp_path / "room.toml"
    path.write_text(plan_text({"name": "Room", **BOX}), encoding="utf-8")
    said = " ".join(CliRunner().invoke(app, ["setout", str(path)]).stdout.split())
    assert "frame at" in said
    assert "water runs to a drain from everywhere" in said
    level = levels_of(set_out_room(BOX)).drains[0].level
    assert f"{level:+.0f}" in said
