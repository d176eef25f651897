"""The gauge: runs counted in tiles and joints, joints opened or closed so that they come out, all figures reckoned by hand."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import shapely

import layout
from layout.plan.values import Rules, Tile
from layout.setout.freeing import gauge_offered, what_would_free
from layout.setout.gauge import bounds_of, openings
from layout.setout.runs import Run, runs_of
from layout.sheets.scene import Label
from tests.rooms import moved, plan_of, reversed_outline

FREE = {"movement": "UK_FLOOR"}
"""Its perimeter joint is 6, so that tile begins 2 + 6 from a bare wall."""
EDGE = 8.0
SQUARE = {"size": [200, 200], "joint": 6}


def room(width: float, height: float) -> dict[str, Any]:
    return {"outline": [[0, 0], [width, 0], [width, height], [0, height]]}


def made(given: dict[str, Any], tile: dict[str, Any] | None = None, **rules: Any) -> layout.SetOut:
    return layout.set_out(plan_of(given, tiles={"floor": tile or SQUARE}, rules={**FREE, **rules}))


WHOLE = room(31 * 200 + 30 * 6.5 + 2 * EDGE, 4000)
"""Between walls 4 and 2 just 31 tiles with joints of 6.5."""


@pytest.mark.parametrize("way", ["as typed", "a quarter turned", "askew", "reversed"])
def test_a_run_comes_out_in_whole_tiles_with_joints_of_six_and_a_half(way):
    given = {
        "as typed": WHOLE,
        "a quarter turned": moved(WHOLE, turn=90.0),
        "askew": moved(WHOLE, turn=17.3, shift=(400.0, -90.0)),
        "reversed": reversed_outline(WHOLE),
    }[way]
    plain, done = made(given).rooms[0].floor, made(given, gauge=True)
    floor = done.rooms[0].floor
    assert sorted(floor.tile.opened) == pytest.approx([0.0, 0.5], abs=1e-4)
    assert (len(plain.field.whole), plain.field.places_cut()) == (30 * 18, 2 * 18 + 2 * 32)
    assert (len(floor.field.whole), floor.field.places_cut()) == (31 * 18, 2 * 31)
    assert layout.audit(done).breaches == ()


def test_the_gauge_is_carried_into_lines_marks_and_quantities():
    done = made(WHOLE, gauge=True)
    floor = done.rooms[0].floor
    xs = np.unique(np.round(shapely.bounds(shapely.polygons(floor.field.outlines(floor.field.whole)))[:, 0], 3))
    assert xs == pytest.approx(EDGE + 206.5 * np.arange(31), abs=0.002)  # no error adds up
    upright = next(line for line in floor.start.lines if line.name == "B")
    assert (upright.start[0] - EDGE) % 206.5 == pytest.approx(0.0, abs=0.01)
    # across, 3984 = 2 c + 18 x 200 + 19 x 6: c is 135
    assert {cut.mark: (cut.size, count) for cut, count in done.cuts_of(0, 0)} == {"C1": ((135.0, 200.0), 62)}
    takeoff = layout.take_off(done)
    grout = takeoff.item("grout")
    assert grout is not None
    products = done.plan.products
    open_mm2 = 6395.0 * 3984.0 - 31 * 3984.0 * 200.0 + 31 * 200.0 * 19 * 6.0  # all but columns of tile, and the joints across these
    by_hand = open_mm2 * 10.0 / 1e6 * products.grout_density.value * (1 + products.grout_waste.value)
    assert grout.quantity == pytest.approx(by_hand, rel=1e-6)


def test_the_runs_of_a_room_with_a_movement_joint_by_hand():
    """The worked wash-up: 19 tiles and a cut of 140, the joint, 11 and a cut of 126; 22 joints and cuts of 180 and 142 the other way."""
    given = {"outline": [[0, 0], [6500, 0], [6500, 2900], [4100, 2900], [4100, 4700], [0, 4700]], "tile_height": 2400}
    tile = {**SQUARE, "start": [169, 209]}
    done = made(given, tile, movement="DE_INTERIOR", movement_joint=8, perimeter_joint=8).rooms[0].floor
    runs = {(run.ends, run.axis): run for run in runs_of(done)}
    run = runs[("wall 6", "wall 2"), 0]
    assert (run.tiles, run.gaps, run.moves, run.moving) == pytest.approx((30, 30, 1, 8.0))
    assert (run.length, *run.cuts) == pytest.approx((6454.0, 140.0, 126.0))
    assert run.words(6.0) == "wall 6 to wall 2: 30 tiles, 30 joints of 6, 8 of movement joints, cuts 140 and 126"
    assert runs[("wall 6", "wall 4"), 0].words(6.0) == "wall 6 to wall 4: 19 tiles, 19 joints of 6, one cut of 140"
    upright = runs[("wall 1", "wall 5"), 1]
    assert (upright.tiles, upright.gaps, *upright.cuts) == pytest.approx((21, 22, 180.0, 142.0))
    assert upright.edges[:2] == pytest.approx((180.0, 386.0))
    assert upright.edges[-1] == pytest.approx(4654.0)


def a_run(length: float, tiles: int, gaps: int, cuts: tuple[float, float] = (100.0, 100.0), moves: int = 0) -> Run:
    return Run(0, ("wall 4", "wall 2"), length, tiles, gaps, 6.0, moves, 8.0 * moves, cuts, 0, 1, ())


@pytest.mark.parametrize(
    ("run", "tile", "wanted"),
    [
        (a_run(31 * 200 + 30 * 6.3, 30, 31), {}, [0.3]),
        (a_run(31 * 200 + 30 * 5.7, 30, 31), {}, [-0.3]),
        (a_run(31 * 200 + 29 * 6.3 + 8, 30, 30, moves=1), {}, [0.3]),  # one of the joints is a movement joint
        (a_run(31 * 200 + 30 * 6.7, 30, 31), {}, [0.5]),  # the rest, 6 mm, goes into the two edge joints
        (a_run(31 * 200 + 30 * 7.2, 30, 31), {}, []),
        (a_run(31 * 200 + 30 * 2.7, 30, 31), {"joint": 3.0}, []),  # a joint of 3 is the least for resin grout
        # 2.2 over 31 joints bring both cuts to the least, 4 more over 30 leave none
        (a_run(30 * 200 + 31 * 6 + 2 * 99.0, 30, 31, (99.0, 99.0)), {}, [-0.071, 0.1333]),
        (a_run(30 * 200 + 31 * 6 + 2 * 88.0, 30, 31, (88.0, 88.0)), {}, []),  # 24 mm over 31 joints is more than half a millimetre each
    ],
)
def test_what_a_run_asks_of_its_joints_by_hand(run, tile, wanted):
    rules = Rules(perimeter_joint=8.0)
    assert openings(run, 200.0, Tile(name="t", **tile), rules) == pytest.approx(wanted, abs=2e-4)


def test_how_far_a_joint_may_close():
    rules = Rules(joint_play=0.5)
    assert (bounds_of(Tile(joint=6.0), rules).least, bounds_of(Tile(joint=3.2), rules).least) == pytest.approx((-0.5, -0.2))
    assert bounds_of(Tile(joint=2.0), rules).least == 0.0
    assert bounds_of(Tile(joint=5.0, scatter=1.6), rules).least == pytest.approx(-0.2)  # thrice its scatter is 4.8


@pytest.mark.parametrize(
    ("given", "tile", "rules"),
    [
        (WHOLE, SQUARE, {"joint_play": 0}),
        (WHOLE, {**SQUARE, "start": [8, 8]}, {}),
        (room(1416, 1006), {"size": [240, 120], "joint": 6, "pattern": "herringbone"}, {}),
        (room(31 * 206 + 100, 4000), SQUARE, {}),
    ],
    ids=["no play", "a start that is fixed", "no courses", "nothing to gain"],
)
def test_the_plain_start_stays_where_the_gauge_gives_nothing(given, tile, rules):
    done = made(given, tile, gauge=True, **rules)
    plain = made(given, tile, **rules)
    assert done.rooms[0].floor.tile.opened == (0.0, 0.0)
    assert done.rooms[0].floor.start.origin == plain.rooms[0].floor.start.origin


def test_courses_of_a_bond_come_out_and_walls_keep_their_joint():
    tile = {"size": [300, 150], "joint": 4, "pattern": "running"}
    given = {**room(5000, 20 * 150 + 19 * 4.5 + 2 * (15 + 6)), "tile_height": 600}
    done = made(given, tile, gauge=True)
    assert done.rooms[0].floor.tile.opened == pytest.approx((0.0, 0.5), abs=1e-4)
    assert all(each.tile.opened == (0.0, 0.0) for each in done.rooms[0].surfaces[1:])
    run = next(run for run in runs_of(done.rooms[0].floor) if run.axis == 1)
    assert run.words(4.0) == "wall 1 to wall 3: 20 tiles, 19 joints of 4.50 for 4, no cut"


def test_the_gauge_is_offered_and_holds_when_it_is_taken():
    plain = made(WHOLE)
    offered = gauge_offered(plain, 0)
    assert offered is not None
    taken = made(WHOLE, gauge=True)
    assert offered.floor == taken.rooms[0].floor
    freed = {each.kind: each for each in what_would_free(plain, 0).freed}
    assert (freed["gauge"].after.cut, freed["gauge"].after.smallest) == pytest.approx((62, 135.0))
    assert gauge_offered(taken, 0) is None
    assert gauge_offered(made(room(31 * 206 + 100, 4000)), 0) is None


def test_the_record_tells_runs_and_joints():
    record = layout.setout_record(made(WHOLE, gauge=True), pieces=True)["rooms"][0]["surfaces"]
    floor, wall = record[0]["start"], record[1]
    assert floor["gauge"] == {"taken": True, "joints_mm": [6.5, 6.0]}
    run = floor["runs"][0]
    assert (run["way"], run["from"], run["to"], run["tiles"], run["joints"], run["cuts_mm"]) == (
        "along",
        "wall 4",
        "wall 2",
        31,
        30,
        [0.0, 0.0],
    )
    assert run["edges_mm"] == pytest.approx([200.0 + 206.5 * k for k in range(31)], abs=0.002)
    assert wall["start"] is None


def test_the_setting_out_sheet_has_the_rod():
    done = made(WHOLE, gauge=True)
    sheet = layout.draw_first(done, layout.take_off(done))
    words = " ".join(each.text for each in sheet.paper_scene if isinstance(each, Label))
    assert "31 tiles, 30 joints of 6.50 for 6, no cut" in words
    assert "200 · 406.5 · 613 · 819.5" in words
    assert "joint 6.50 along the courses and 6.00 between them" in words
