"""What limits a start and what would free it: figures worked by hand, and each claim counted again from pieces of the changed plan as typed."""

from __future__ import annotations

import itertools
import json
from dataclasses import replace

import numpy as np
import pytest
import shapely
from typer.testing import CliRunner

from cli.main import app
from layout.room.building import build_outline
from layout.setout import freeing
from layout.setout.conduct import set_out
from layout.setout.freeing import what_would_free
from layout.setout.loosening import built_out, changes_of
from layout.writers.records import setout_record
from tests.rooms import plan_of, plan_text

# from bare wall to tile: 2 of membrane and a joint of 8; between them 4125 by 2054 for tile, in one bay
ROOM = {"outline": [[0, 0], [4145, 0], [4145, 2074], [0, 2074]], "tile_height": 0}
TILE = {"size": [200, 200], "joint": 6}
RULES = {"perimeter_joint": 8, "movement": "DE_INTERIOR"}
FROM_WALL_4 = {**TILE, "start_line": {"wall": 4, "at": 208}}  # a whole tile at wall 4, beyond the joint of 8


def planned(tile, room=ROOM, **rules):
    return plan_of(room, tiles={"floor": tile}, rules={**RULES, **rules})


@pytest.fixture(scope="module")
def sliver():
    return what_would_free(set_out(planned(FROM_WALL_4)), 0)


@pytest.fixture(scope="module")
def fixed():
    return what_would_free(set_out(planned({**TILE, "start": [10, 10]})), 0)


def narrowest_by_hand(tile, outline, gauge=False, **more):
    """The narrowest side of the least rectangle round any piece of the floor, off the record; the whole tile if nothing is cut."""
    record = setout_record(set_out(planned(tile, {**ROOM, **more, "outline": outline}, gauge=gauge)), pieces=True)
    pieces = [each["outline"] for each in record["rooms"][0]["surfaces"][0]["pieces"] if each["mark"] is not None]
    return min((float(np.ptp(np.array(ring), axis=0).min()) for ring in pieces), default=200.0)


def test_a_joint_one_wider_frees_a_sliver(sliver):
    # 4125 = 20 x 206 + 5: a sliver of 5 at wall 2. 4125 = 19 x 207 + 192. 2054 = 10 x 206 - 6 at joint 6: whole tiles that way
    assert [(limit.at, round(limit.width, 3)) for limit in sliver.limits] == [("wall 2", 5.0)]
    assert (sliver.before.smallest, sliver.before.weak) == (pytest.approx(5.0), 10)
    told = next(each for each in sliver.freed if each.what == "the tile joint 7 for 6")
    assert told.after.smallest == pytest.approx(192.0)
    assert told.worse == (f"{told.after.cut - sliver.before.cut} more cut tiles on the floor",)
    assert told.after.cut > sliver.before.cut == 10


def test_each_claim_holds_when_the_plan_is_typed_so(sliver):
    """The six changes that are told, typed by hand and counted again from pieces; and those not told give no more."""
    outline = ROOM["outline"]
    typed = {
        "the gauge (rules.gauge = true)": (FROM_WALL_4, outline, True),
        "the tile joint 7 for 6": ({**FROM_WALL_4, "joint": 7}, outline),
        "the tile joint 5 for 6": ({**FROM_WALL_4, "joint": 5}, outline),
        "the fixed line 208 off wall 4 left out": (TILE, outline),
        "wall 2 built out by 5": (FROM_WALL_4, [[0, 0], [4140, 0], [4140, 2074], [0, 2074]]),
        "wall 4 built out by 5": (FROM_WALL_4, [[5, 0], [4145, 0], [4145, 2074], [5, 2074]]),
    }
    assert [each.what for each in sliver.freed] == list(typed)
    assert narrowest_by_hand(FROM_WALL_4, outline) == pytest.approx(sliver.before.smallest, abs=1e-3)
    for each in sliver.freed:
        assert narrowest_by_hand(*typed[each.what]) == pytest.approx(each.after.smallest, abs=1e-3), each.what
        assert each.after.smallest > sliver.before.smallest + 5.0
    assert sliver.tried == 1 + 2 + 1 + 4 + 4 + 1


def test_a_wall_is_built_out_by_what_the_sliver_is(sliver):
    # 4120 = 20 x 206: the joint lies on the wall, at wall 4 too, for the fixed line goes with it. Walls built out by more give no more, so they are not told
    walls = [each for each in sliver.freed if each.kind == "wall"]
    assert [(each.what, each.after.at, each.after.cut) for each in walls] == [(f"wall {wall} built out by 5", "", 0) for wall in (2, 4)]


def test_a_fixed_start_is_what_limits(fixed):
    assert fixed.decided == "the plan fixes the start"
    assert fixed.before.at == "wall 2"
    told = next(each for each in fixed.freed if each.kind == "start")
    assert told.what == "the fixed start [10, 10] left out"
    assert narrowest_by_hand(TILE, ROOM["outline"]) == pytest.approx(told.after.smallest, abs=1e-3)
    # a millimetre narrower: 4125 = 20 x 205 + 25, but 2054 = 10 x 205 + 4: the sliver stands at wall 3 then, and that frees nothing
    assert narrowest_by_hand({**TILE, "joint": 5, "start": [10, 10]}, ROOM["outline"]) == pytest.approx(4.0, abs=1e-3)
    assert all(each.what != "the tile joint 5 for 6" for each in fixed.freed)


def test_a_gully_is_moved_to_the_middle_of_a_tile(monkeypatch):
    monkeypatch.setattr(freeing, "MOST_TRIED", 5)  # joints, start, gully: the walls come behind
    # frame 300 and 5 of joint each side; 40 off a tile's middle it leaves 206 + 100 - 155 - 40 = 111 of a tile, in its middle 151
    gully = {"kind": "gully", "at": [10 + 8 * 206 + 100 + 40, 10 + 5 * 206 + 100], "frame": [300, 300], "joint": 5}
    room = {**ROOM, "outline": [[0, 0], [4134, 0], [4134, 2074], [0, 2074]], "drains": [gully]}
    why = what_would_free(set_out(planned({**TILE, "start": [10, 10]}, room)), 0)
    assert why.before.smallest == pytest.approx(111.0)
    told = {each.what: each.after.smallest for each in why.freed}
    assert told["gully 1 moved by -40, +0 to a tile's middle"] == pytest.approx(151.0)


def test_walls_that_cannot_be_built_out_are_told():
    """A wall typed in two lengths, 2 mm out of line: its corners are not moved; an arc beside the wall: nor are those."""
    bent = [[0, 0], [4145, 0], [4147, 1000], [4145, 2074], [0, 2074]]
    why = what_would_free(set_out(planned({**TILE, "start": [10, 10]}, {**ROOM, "outline": bent})), 0)
    assert any(words.startswith("wall 2 built out: ") for words in why.left)
    arc = plan_of({"outline": [[0, 0], [3000, 0], {"to": [3000, 2000], "bulge": 0.2}, [0, 2000]]}).rooms[0]
    assert built_out(arc, 1, 5.0) is None
    assert built_out(arc, 2, 5.0) is None
    assert built_out(arc, 4, 5.0) is not None
    near = plan_of({"outline": [[0, 0], [3000, 0], [3000, 2000], [0, 2000]], "openings": [{"wall": 1, "offset": 3, "width": 900}]}).rooms[0]
    assert built_out(near, 4, 5.0) is None
    assert built_out(near, 2, 5.0) is not None


def test_a_wall_across_from_a_plinth_frees_the_cut_at_the_plinth():
    """No wall holds the cut down, a plinth's side does: walls along that side are tried, and one of them gives the start room to move."""
    plinth = {"name": "plinth", "outline": [[940, 900], [1560, 900], [1560, 1500], [940, 1500]], "height": 150}
    room = {**ROOM, "outline": [[0, 0], [2640, 0], [2640, 1500], [0, 1500]], "plinths": [plinth]}
    why = what_would_free(set_out(planned(TILE, room)), 0)
    assert [limit.at for limit in why.limits] == ["plinth"]
    told = {each.what: each for each in why.freed}
    claim = told["wall 2 built out by 12"]
    assert claim.after.smallest > why.before.smallest + 5.0
    typed = [[0, 0], [2628, 0], [2628, 1500], [0, 1500]]
    assert narrowest_by_hand(TILE, room["outline"], plinths=[plinth]) == pytest.approx(why.before.smallest, abs=1e-3)
    assert narrowest_by_hand(TILE, typed, plinths=[plinth]) == pytest.approx(claim.after.smallest, abs=1e-3)


def test_nothing_cut_and_nothing_found_are_told():
    # 4114 = 20 x 206 - 6: whole tiles both ways
    whole = what_would_free(set_out(planned(TILE, {**ROOM, "outline": [[0, 0], [4134, 0], [4134, 2074], [0, 2074]]})), 0)
    assert (whole.tried, whole.freed, whole.limits) == (0, (), ())
    assert whole.left == ("no tile is cut to a strip, so nothing limits the start",)


def test_what_is_not_tried_is_told(monkeypatch):
    done = set_out(planned({**TILE, "start": [10, 10]}))
    monkeypatch.setattr(freeing, "MOST_TRIED", 1)
    why = what_would_free(done, 0)
    assert why.tried == 1
    assert "the fixed start [10, 10] left out: 1 changes are tried at most" in why.left
    monkeypatch.setattr(freeing, "MOST_TILES", 100)
    why = what_would_free(done, 0)
    assert (why.tried, why.freed) == (0, ())
    assert why.left == ("210 tiles: changes are tried on floors of up to 100",)
    kept = what_would_free(set_out(planned(TILE, {**ROOM, "kept_lines": [{"at": [10, 10]}]})), 0)
    assert (kept.tried, kept.left) == (0, ("the floor's lines are snapped and stay, so no change is tried",))


@pytest.mark.parametrize(
    ("more", "joints"),
    [({}, {5, 7}), ({"joint": 3}, {4}), ({"joint": 12}, {11}), ({"scatter": 2}, {7}), ({"scatter": 1.5}, {5, 7})],
)
def test_joints_stay_within_what_tile_and_grout_allow(more, joints):
    setout = set_out(planned({**TILE, "start": [10, 10], **more}))
    tried = {change.plan.tiles["floor"].joint for change in changes_of(setout, 0, []) if change.kind == "joint" and change.plan}
    assert tried == joints


@pytest.mark.parametrize("turned_round", [False, True])
@pytest.mark.parametrize("side", ["first", "left", "right"])
def test_what_stands_on_the_walls_beside_stays_where_it_is(turned_round, side):
    """A skew room with a nib, each straight wall built out in turn: doors stand where they stood, the wall has come in by so much."""
    corners = [[0, 0], [3000, 100], [2900, 2000], [1500, 2000], [1500, 2600], [0, 2500]]
    corners = corners[::-1] if turned_round else corners
    doors = [{"wall": k, "offset": 180, "width": 200, "from": side, "name": f"door {k}"} for k in range(1, 7)]
    plan = plan_of({"outline": corners, "openings": doors})
    room, n = plan.rooms[0], len(corners)
    before = build_outline(plan, 0)
    ring = shapely.Polygon(corners)
    assert n > 2
    for edge, by in itertools.product(range(1, n + 1), (5.0, 15.0)):
        moved = built_out(room, edge, by)
        assert moved is not None
        after = build_outline(replace(plan, rooms=(moved,)), 0)
        new = shapely.Polygon([vertex.to for vertex in moved.outline])
        assert shapely.covers(ring.buffer(1e-3), new)
        a, b = np.array(corners[edge - 1]), np.array(corners[edge % n])
        wall = shapely.LineString([a, b])
        mid = shapely.LineString([moved.outline[edge - 1].to, moved.outline[edge % n].to]).interpolate(0.5, normalized=True)
        assert shapely.LineString([a - 50 * (b - a), b + 50 * (b - a)]).distance(mid) == pytest.approx(by, abs=1e-2)
        for was, now in zip(before.openings, after.openings, strict=True):
            middles = [each.walls[at.wall].run.at((at.s0 + at.s1) / 2) for each, at in ((before, was), (after, now))]
            shift = middles[1] - middles[0]
            square = np.array([a[1] - b[1], b[0] - a[0]]) / wall.length
            along = shift - square * (shift @ square)
            assert np.hypot(*along) < 0.02, (edge, was.opening.name)


def test_the_command_tells_why(tmp_path, monkeypatch):
    monkeypatch.setattr(freeing, "MOST_TRIED", 5)
    path = tmp_path / "a.toml"
    path.write_text(plan_text({"name": "A", **ROOM, "walls": [{"wall": 2, "name": "servery"}]}, tiles={"floor": FROM_WALL_4}, rules=RULES))
    run = CliRunner().invoke
    shown = run(app, ["setout", str(path), "--why"]).stdout
    assert "what limits the start, and what would free it" in shown
    assert "held down by wall 2 (servery) with 5" in " ".join(shown.split())
    assert "Changes that would free it, each set out to see: 5 of 5" in shown
    made = json.loads(run(app, ["setout", str(path), "--why", "--json"]).stdout)
    assert made["schema"] == "gaugerod/setout/1"
    (why,) = made["why"]
    assert why["freed"][-1]["what"] == "wall 2 (servery) built out by 5"
    assert why["limits"] == [{"at": "wall 2", "called": "wall 2 (servery)", "cut_mm": 5}]
    assert "why" not in setout_record(set_out(planned(TILE)))
    wrong = run(app, ["setout", str(path), "--why", "--compare", "starts"])
    assert (wrong.exit_code, "leave --compare and --set out" in wrong.stderr) == (2, True)
