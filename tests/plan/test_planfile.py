"""The border: what a person may get wrong, and what he is told."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import jsonschema
import pytest

from layout.errors import PlanError, PlanFaults
from layout.readers.planfile import parse_plan, plan_schema, read_plan

PLANS = sorted((Path(__file__).parent.parent.parent / "plans").glob("*.toml"))
BOX = 'name = "A"\noutline = [[0, 0], [3000, 0], [3000, 2000], [0, 2000]]\n'
ROOM = f"[[rooms]]\n{BOX}"


def told(text: str) -> str:
    with pytest.raises((PlanError, PlanFaults)) as caught:
        parse_plan(text, "plan.toml")
    return str(caught.value)


BAD = {
    "an unknown key": (f"{ROOM}tile_hight = 200\n", "rooms[0].tile_hight", "did you mean 'tile_height'"),
    "an unknown table": ("[ruels]\nfoot = 'cove'\n" + ROOM, "ruels", "did you mean 'rules'"),
    "a word for a number": (f'{ROOM}tile_height = "tall"\n', "rooms[0].tile_height", "'tall'"),
    "a number for a word": ("[[rooms]]\nname = 3\noutline = [[0, 0], [3000, 0], [0, 2000]]\n", "rooms[0].name", "text in quotes"),
    "true for a number": (f"{ROOM}tile_height = true\n", "rooms[0].tile_height", "true found"),
    "not a number": ('[[rooms]]\nname = "A"\noutline = [[0, 0], [nan, 0], [0, 2000]]\n', "rooms[0].outline[1][0]", "nan"),
    "infinity": ('[[rooms]]\nname = "A"\noutline = [[0, 0], [inf, 0], [0, 2000]]\n', "rooms[0].outline[1][0]", "inf"),
    "a crossing outline": (
        '[[rooms]]\nname = "A"\noutline = [[0, 0], [3000, 2000], [3000, 0], [0, 2000]]\n',
        "rooms[0].outline",
        "crosses or touches itself at [1500 1000]",
    ),
    "two corners": ('[[rooms]]\nname = "A"\noutline = [[0, 0], [3000, 2000]]\n', "rooms[0].outline", "at least 3"),
    "no area": ('[[rooms]]\nname = "A"\noutline = [[0, 0], [3000, 0], [1000, 0]]\n', "rooms[0].outline", "not the outline of a room"),
    "a column outside": (
        f"{ROOM}[[rooms.columns]]\noutline = [[4000, 0], [4300, 0], [4300, 300]]\n",
        "rooms[0].columns[0].outline",
        "outside",
    ),
    "a plinth that crosses": (
        f"{ROOM}[[rooms.plinths]]\noutline = [[2800, 500], [3200, 500], [3200, 900], [2800, 900]]\n",
        "rooms[0].plinths[0].outline",
        "crosses the wall",
    ),
    "two columns that cross": (
        f"{ROOM}[[rooms.columns]]\noutline = [[500, 500], [900, 500], [900, 900]]\n[[rooms.columns]]\noutline = [[600, 400], [1000, 400], [800, 900]]\n",
        "rooms[0].columns[1].outline",
        "overlaps another",
    ),
    "a drain outside": (f'{ROOM}[[rooms.drains]]\nkind = "gully"\nat = [3500, 100]\n', "rooms[0].drains[0].at", "outside"),
    "a gully without a place": (f'{ROOM}[[rooms.drains]]\nkind = "gully"\n', "rooms[0].drains[0].at", "missing"),
    "drains that overlap": (
        f'{ROOM}[[rooms.drains]]\nkind = "gully"\nat = [500, 500]\n[[rooms.drains]]\nkind = "gully"\nat = [600, 500]\n',
        "drains[1].at",
        "overlaps gully 1",
    ),
    "an opening wider than its wall": (
        f"{ROOM}[[rooms.openings]]\nwall = 2\noffset = 0\nwidth = 2400\n",
        "rooms[0].openings[0].width",
        "wider than wall 2 (2000)",
    ),
    "an opening past the end": (
        f"{ROOM}[[rooms.openings]]\nwall = 2\noffset = 1500\nwidth = 900\n",
        "rooms[0].openings[0].offset",
        "offset may be 0 to 1100",
    ),
    "no such wall": (f"{ROOM}[[rooms.openings]]\nwall = 9\noffset = 0\nwidth = 900\n", "rooms[0].openings[0].wall", "numbered 1 to 4"),
    "a size of nothing": ("[tiles.floor]\nsize = [0, 200]\n" + ROOM, "tiles.floor.size[0]", "above 0"),
    "a negative joint": ("[tiles.floor]\njoint = -2\n" + ROOM, "tiles.floor.joint", "from 0"),
    "a joint wider than the tile": ("[tiles.floor]\nsize = [20, 20]\njoint = 30\n" + ROOM, "tiles.floor.joint", "wider than the tile"),
    "a room where nothing fits": (
        '[[rooms]]\nname = "A"\ntile_height = 2000\noutline = [[0, 0], [40, 0], [40, 40], [0, 40]]\n',
        None,
        None,
    ),
    "two rooms of one name": (ROOM + ROOM, "rooms[1].name", "names an earlier room"),
    "no rooms": ("[project]\ntitle = 'x'\n", "rooms", "missing"),
    "an empty file": ("", "plan.toml", None),
    "no TOML": ("[[rooms]\n", "not TOML", "mend the line"),
    "too many tiles": (
        "[tiles.floor]\nsize = [10, 10]\njoint = 1\n[rules]\nmax_tiles = 1000\n" + ROOM,
        "rooms[0]",
        "raise rules.max_tiles",
    ),
    "a rule set that is none": ('[rules]\nmovement = "DE_INTERIER"\n' + ROOM, "rules.movement", 'did you mean "DE_INTERIOR"'),
    "a rule set made looser": ('[rules]\nmovement = "DE_INTERIOR"\nmax_edge = 9000\n' + ROOM, "rules.max_edge", "may only tighten"),
    "a joint under the rule": (
        '[rules]\nmovement = "EJ171_INTERIOR"\nmovement_joint = 3\n' + ROOM,
        "rules.movement_joint",
        "under the least width",
    ),
    "a pipe in two places": (
        f"{ROOM}[[rooms.pipes]]\nat = [500, 500]\nwall = 1\noffset = 500\nlevel = 300\ndiameter = 50\n",
        "rooms[0].pipes[0]",
        "one place",
    ),
    "a pipe through the wall": (f"{ROOM}[[rooms.pipes]]\nat = [20, 500]\ndiameter = 110\n", "rooms[0].pipes[0].at", "35 mm outside"),
    "a structural joint that misses": (
        f"{ROOM}[[rooms.structural_joints]]\nline = [[4000, 0], [4000, 900]]\n",
        "rooms[0].structural_joints[0].line",
        "misses",
    ),
    "a fall to nowhere": (f'{ROOM}[[rooms.falls]]\nto = "gully 7"\n', "rooms[0].falls[0].to", "no drain"),
    "a tile that is not there": (f'{ROOM}floor_tile = "terracotta"\n', "rooms[0].floor_tile", "tiles are floor"),
    "a head under its sill": (
        f"{ROOM}[[rooms.openings]]\nwall = 1\noffset = 0\nwidth = 900\nsill = 1000\nhead = 900\n",
        "rooms[0].openings[0].head",
        "not above the sill",
    ),
    "names used twice": (
        f'{ROOM}[[rooms.pipes]]\nname = "p"\nat = [500, 500]\ndiameter = 50\n[[rooms.pipes]]\nname = "p"\nat = [900, 500]\ndiameter = 50\n',
        "pipes[1].name",
        "used twice",
    ),
    "a kilometre too far": ('[[rooms]]\nname = "A"\noutline = [[0, 0], [1e12, 0], [0, 2000]]\n', "rooms[0].outline[1][0]", None),
}


@pytest.mark.parametrize("case", [name for name, (_, place, _) in BAD.items() if place], ids=lambda name: name.replace(" ", "-"))
def test_each_fault_is_told_with_its_place_and_mend(case):
    text, place, words = BAD[case]
    if not text:
        return
    message = told(text)
    assert "plan.toml" in message
    assert place is not None
    assert place in message
    assert words is None or words in message
    assert "Traceback" not in message
    assert "; " in message


def test_all_faults_of_a_file_at_once():
    message = told(f"{ROOM}tile_hight = 200\ntanking_height = -1\n[[rooms.drains]]\nkind = 'gulley'\n")
    assert len(message.splitlines()) == 3


def test_all_geometric_faults_at_once():
    text = f'{ROOM}[[rooms.drains]]\nkind = "gully"\nat = [9000, 0]\n[[rooms.pipes]]\nat = [9000, 0]\ndiameter = 50\n[[rooms.openings]]\nwall = 1\noffset = 0\nwidth = 9000\n'
    assert len(told(text).splitlines()) >= 1
    text = f'{ROOM}[[rooms.drains]]\nkind = "gully"\nat = [9000, 0]\n[[rooms.pipes]]\nat = [9000, 0]\ndiameter = 50\n'
    assert len(told(text).splitlines()) == 2


def test_files_that_cannot_be_read(tmp_path):
    for name, make in {
        "missing.toml": lambda _: None,
        "folder.toml": lambda p: p.mkdir(),
        "empty.toml": lambda p: p.write_text("  \n"),
        "latin.toml": lambda p: p.write_bytes(b"[[rooms]]\nname = 'K\xfcche'\n"),
    }.items():
        path = tmp_path / name
        make(path)
        with pytest.raises(PlanError) as caught:
            read_plan(path)
        assert name in str(caught.value)
        assert str(tmp_path) not in str(caught.value)


def test_a_plan_of_three_lines_works():
    plan = parse_plan(ROOM)
    assert plan.rules.movement.name == "EJ171_INTERIOR_WET_SUN"
    assert plan.tile("wall").name == "floor"
    assert plan.rooms[0].tanking_height == 150


def test_lengths_may_carry_units():
    plan = parse_plan('[[rooms]]\nname = "A"\noutline = [["0 m", 0], ["3 m", 0], ["300 cm", 2000], [0, 2000]]\n')
    assert plan.rooms[0].outline[2].x == 3000


@pytest.mark.parametrize("path", PLANS, ids=lambda p: p.stem)
def test_example_plans_keep_the_schema(path):
    plan = tomllib.loads(path.read_text(encoding="utf-8"), parse_float=float)
    plan = json.loads(json.dumps(plan, default=str))
    jsonschema.Draft202012Validator.check_schema(plan_schema())
    jsonschema.validate(plan, plan_schema())


def test_the_schema_beside_the_plans_is_the_tools_own():
    # made anew by: gaugerod schema -o plans/plan.schema.json --force
    assert json.loads((PLANS[0].parent / "plan.schema.json").read_text(encoding="utf-8")) == json.loads(json.dumps(plan_schema()))
    assert all(path.read_text(encoding="utf-8").startswith("#:schema plan.schema.json\n") for path in PLANS)


@pytest.mark.parametrize("path", PLANS, ids=lambda p: p.stem)
def test_example_plans_say_that_they_are_invented(path):
    assert "invented demo data" in path.read_text(encoding="utf-8").lower()
    assert read_plan(path).rooms


def test_overlapping_doors_are_taken_as_one_and_told():
    from layout.setout.conduct import set_out

    doors = "[[rooms.openings]]\nwall = 1\noffset = 500\nwidth = 900\n[[rooms.openings]]\nwall = 1\noffset = 1200\nwidth = 900\n"
    room = set_out(parse_plan(f"{ROOM}{doors}")).rooms[0]
    assert sum(joint.length for joint in room.joints if joint.kind == "threshold") == pytest.approx(1600)
    assert [f.code for f in room.findings if f.code == "openings-merged"] == ["openings-merged"]


def test_a_binding_code_that_is_none_is_told():
    assert "cut-below-least" in told('[rules]\nbinding = ["cut-below-leest"]\n' + ROOM)


def test_a_gully_half_on_a_plinth_is_refused():
    text = f'{ROOM}[[rooms.plinths]]\noutline = [[500, 500], [900, 500], [900, 900], [500, 900]]\n[[rooms.drains]]\nkind = "gully"\nat = [900, 700]\n'
    assert "crosses the edge of a plinth" in told(text)


REVISIONS = """
[project]
title = "Invented"
{}
[[project.revisions]]
letter = "A"
date = 2026-11-02
what = "First issue"
[[project.revisions]]
letter = "{}"
date = 2026-11-24
what = "Gully moved"
[[rooms]]
outline = [[0, 0], [3000, 0], [3000, 2000], [0, 2000]]
"""


def test_the_revision_is_the_last_row_of_its_table():
    plan = parse_plan(REVISIONS.format("", "B"))
    assert plan.project.revision == "B"
    assert [row.what for row in plan.project.revisions] == ["First issue", "Gully moved"]
    assert parse_plan(REVISIONS.format('status = "for construction"', "B")).project.status == "for construction"


@pytest.mark.parametrize(
    ("key", "letter", "place"),
    [
        ('revision = "A"', "B", "project.revision: "),
        ("", "A", "project.revisions[1].letter: "),
        ('status = "built"', "B", "project.status: "),
    ],
)
def test_a_revision_table_that_contradicts_is_refused(key, letter, place):
    assert place in told(REVISIONS.format(key, letter))
