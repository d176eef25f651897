"""What a comparison tells of one thing that was edited, checked by hand and by figures counted apart."""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from typer.testing import CliRunner

from cli.main import app
from layout.changes.compare import compare_setouts
from layout.quantities.bill import price
from layout.quantities.takeoff import take_off
from layout.readers.officefile import read_rates
from layout.readers.planfile import parse_plan
from layout.setout.conduct import set_out
from tests.rooms import moved, plan_of, plan_text

ROOM: dict[str, Any] = {
    "name": "Wash-up",
    "outline": [[0, 0], [3400, 0], [3400, 1500], [2200, 1500], [2200, 2500], [0, 2500]],
    "tile_height": 0,
    "tanking_height": 600,
    "openings": [{"wall": 1, "offset": 900, "width": 800, "name": "door"}],
    "drains": [{"kind": "gully", "at": [1500, 800]}],
    "pipes": [{"at": [300, 2100], "diameter": 110}, {"wall": 6, "offset": 800, "level": 300, "diameter": 50}],
}

TILES = {"floor": {"size": [300, 300], "joint": 6}}


def room_with(**given):
    return set_out(plan_of({**ROOM, **given}, tiles=TILES, rules={"max_edge": 3000}))


@pytest.fixture(scope="module")
def before():
    return room_with()


def told(changes):
    (room,) = changes.rooms
    return {each.what: (each.before, each.after, each.kind) for each in (*room.shape, *room.works)}


def test_a_room_typed_from_another_corner_and_the_other_way_round_is_the_same_room(before):
    ring = ROOM["outline"]
    # wall k of n typed the other way round from its third corner
    back = list(reversed(ring[3:] + ring[:3]))
    n = len(back)
    edge = {tuple(sorted((tuple(back[k]), tuple(back[(k + 1) % n])))): k + 1 for k in range(n)}
    first = edge[(0, 0), (3400, 0)]
    last = edge[(0, 0), (0, 2500)]
    given = {
        "outline": back,
        "openings": [{"wall": first, "offset": 3400 - 900 - 800, "width": 800, "name": "door"}],
        "pipes": [{"wall": last, "offset": 2500 - 800, "level": 300, "diameter": 50}, ROOM["pipes"][0]],
    }
    # of tiled walls the one of the lower number runs through at a corner, so those do follow numbers
    assert not compare_setouts(before, room_with(**given)).changed


def test_a_door_and_a_pipe_that_move_along_their_walls_are_told_from_the_right(before):
    changed = room_with(
        openings=[{**ROOM["openings"][0], "offset": 1011}], pipes=[ROOM["pipes"][0], {**ROOM["pipes"][1], "offset": 900, "level": 350}]
    )
    rows = told(compare_setouts(before, changed))
    # seen from inside, wall 1 runs leftward from its first corner: the right-hand end is at x = 0, the door's middle at 900 + 400
    assert rows["door: middle along wall 1, from its right-hand end"] == ("1300.0", "1411.0", "opening")
    assert rows["pipe 2: middle along wall 6, from its right-hand end"] == ("800.0", "900.0", "pipe")
    assert rows["pipe 2: height above the floor"] == ("300", "350", "pipe")


def test_a_door_in_a_wall_that_moved_square_to_itself_did_not_move(before):
    out = [[x, y - 40 if y == 0 else y] for x, y in ROOM["outline"]]
    rows = told(compare_setouts(before, room_with(outline=out)))
    assert rows["line of wall 1"] == ("as drawn", "-40.0 out of the room", "outline")
    assert not [what for what in rows if what.startswith("door")]


def test_what_comes_and_goes_is_told_by_kind(before):
    changed = room_with(drains=[], pipes=ROOM["pipes"][:1], columns=[{"outline": [[2600, 500], [2900, 500], [2900, 800], [2600, 800]]}])
    rows = told(compare_setouts(before, changed))
    assert rows["gully 1"] == ("there", "", "drain")
    assert rows["pipe 2"] == ("there", "", "pipe")
    assert rows["column 1"] == ("", "there", "column")
    assert rows["collars"] == ("2", "1", "collar")
    assert rows["flanges"] == ("1", "0", "flange")


def test_lines_are_told_by_surface_with_the_face_they_are_measured_from(before):
    changed = room_with(outline=[[x - 60 if x == 0 else x, y] for x, y in ROOM["outline"]])
    (room,) = compare_setouts(before, changed).rooms
    floor = [line for line in room.lines if line.surface == "floor"]
    assert floor
    old, new = before.rooms[0].floor, changed.rooms[0].floor
    for line in floor:
        was = next(each for each in old.start.lines if each.name == line.name)
        assert line.face == f"wall {was.offsets[0].wall}"
        assert line.before == pytest.approx(was.offsets[0].bare)
        # by hand: the old chalk line, and how far the tiles under it stand off those that were there
        axis = 0 if abs(was.start[0] - was.end[0]) < 0.01 else 1
        region = old.bays[was.bay].region
        bay = max(range(len(new.bays)), key=lambda k: shapely.area(shapely.intersection(new.bays[k].region, region)))
        off = (new.field.origins[bay][axis] - old.field.origins[was.bay][axis]) % 306
        assert abs(line.moved) == pytest.approx(min(off, 306 - off), abs=0.01)


def test_surfaces_tell_tiles_and_marks_as_counted_from_the_pieces():
    before = room_with(tile_height=600)
    changed = room_with(tile_height=600, openings=[{**ROOM["openings"][0], "offset": 1011}])
    (room,) = compare_setouts(before, changed).rooms
    wall = next(each for each in room.surfaces if each.name == "wall 1")
    for k, setout in enumerate((before, changed)):
        index = next(s for s, each in enumerate(setout.rooms[0].surfaces) if each.surface.name == "wall 1")
        own = setout.rooms[0].surfaces[index]
        assert wall.whole[k] == len(own.field.whole_polygons())
        counted = Counter(mark for key, mark in setout.marks.items() if key.surface == index)
        for mark in wall.marks:
            assert (mark.before, mark.after)[k] == counted[mark.mark]


def test_a_joint_that_lies_elsewhere_is_told_with_its_places():
    hall = {"outline": [[0, 0], [4700, 0], [4700, 2900], [0, 2900]]}
    one, two = (
        set_out(plan_of({**hall, "kept_joints": [{"line": [[x, 0], [x, 2900]]}]}, rules={"max_edge": 2900})) for x in (2100.0, 2175.5)
    )
    rows = told(compare_setouts(one, two))
    moved_rows = [row for what, row in rows.items() if what.startswith("movement joint")]
    assert ("x = 2100.0", "x = 2175.5, moved by 75.5", "joint") in moved_rows


def test_another_tile_and_another_rule_are_told_as_what_governs(before):
    other = set_out(plan_of(ROOM, tiles={"floor": {"size": [250, 250], "joint": 5}}, rules={"max_edge": 3000, "movement_joint": 10}))
    changes = compare_setouts(before, other)
    rows = {each.what: (each.before, each.after) for each in changes.plan}
    assert rows["tile floor: size"] == ("300, 300", "250, 250")
    assert rows["tile floor: joint"] == ("6", "5")
    assert rows["rules: movement joint"][1] == "10"
    assert changes.rooms[0].lines == (), "of another tile every line is another"


def test_money_is_the_difference_of_two_bills(before, tmp_path):
    rates = tmp_path / "rates.toml"
    rates.write_text(
        'currency = "EUR"\n[rates]\n"tiles.floor" = { rate = 1.1, unit = "pcs" }\n"joints.perimeter" = { rate = 9.5, unit = "m" }\n'
    )
    read = read_rates(rates)
    changed = room_with(outline=[[x + 700 if x == 3400 else x, y] for x, y in ROOM["outline"]])
    changes = compare_setouts(before, changed, rates=read)
    bills = [price(take_off(setout), read).total for setout in (before, changed)]
    assert changes.total == pytest.approx(bills[1] - bills[0], abs=0.005)
    assert changes.total == pytest.approx(sum(order.money or 0.0 for order in changes.orders), abs=0.005)


def test_a_room_of_another_name_turned_is_known_by_its_shape():
    far = {"name": "Far", "outline": [[9000, 0], [9900, 0], [9900, 900], [9000, 900]]}

    def plan(*rooms):
        return set_out(parse_plan("".join(plan_text(room)[plan_text(room).index("[[rooms]]") :] for room in rooms)))

    one = {"name": "Old", "outline": ROOM["outline"]}
    two = {**moved(one, turn=90.0, shift=(12000.0, 300.0)), "name": "New"}
    changes = compare_setouts(plan(one, far), plan(far, two))
    assert [(room.was, room.name) for room in changes.rooms] == [("Old", "New")]
    assert changes.rooms[0].moved == "turned by 90.00°, shifted by 12000.0, 300.0"


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "a.toml").write_text(plan_text(ROOM), encoding="utf-8")
    wide = [[x + 12 if x == 3400 else x, y] for x, y in ROOM["outline"]]
    (tmp_path / "b.toml").write_text(plan_text({**ROOM, "outline": wide}), encoding="utf-8")
    return tmp_path


def run(*args: object):
    return CliRunner().invoke(app, [str(arg) for arg in args])


def test_the_verb_keeps_lines_and_tells_the_cost(folder):
    made = run("changes", folder / "a.toml", folder / "b.toml", "--keep", "lines,marks")
    assert made.exit_code == 0
    assert "lines and marks kept, against the best free set-out:" in made.stdout
    record = json.loads(run("changes", folder / "a.toml", folder / "b.toml", "--keep", "lines", "--json").stdout)
    assert record["keeping"]["kept"] == ["lines"]
    assert record["rooms"][0]["lines"] == []
    own = record["keeping"]["rooms"][0]
    assert own["free"]["narrowest_mm"] >= own["kept"]["narrowest_mm"] - 5  # equal within the walls' tolerance


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (("changes", "a.toml", "b.toml", "--keep", "tiles"), "give some of lines, joints, marks"),
        (("changes", "a.toml"), "one plan alone"),
        (("changes", "."), "no earlier set is kept in it"),
        (("changes", ".", "a.toml"), "no plan of an earlier run is in it"),
        (("changes", "a.toml", "other.toml"), "no room of it is one of"),
        (("setout", "a.toml", "--keep", "lines"), "nothing tells what is built"),
        (("changes", "a.toml", "small.toml", "--keep", "lines"), "lies outside the new floor"),
    ],
)
def test_bad_input_is_told(folder, monkeypatch, args, words):
    monkeypatch.chdir(folder)
    Path("other.toml").write_text(plan_text({"name": "Store", "outline": [[0, 0], [900, 0], [900, 9000], [0, 9000]]}))
    Path("small.toml").write_text(plan_text({"name": "Wash-up", "outline": [[2300, 300], [3300, 300], [3300, 1400], [2300, 1400]]}))
    made = run(*args)
    assert made.exit_code == 2
    assert words in made.stderr


def test_set_out_with_lines_of_another_plan(folder):
    free = json.loads(run("setout", folder / "b.toml", "--json").stdout)
    kept = json.loads(run("setout", folder / "b.toml", "--json", "--keep", "lines", "--from", folder / "a.toml").stdout)
    old = json.loads(run("setout", folder / "a.toml", "--json").stdout)
    origins = [np.array(each["rooms"][0]["bays"][0]["origin"]) for each in (old, kept)]
    assert np.abs((origins[1] - origins[0]) / 206 - np.round((origins[1] - origins[0]) / 206)).max() * 206 < 0.01
    assert kept["keeping"]["kept"] == ["lines"]
    assert "keeping" not in free
