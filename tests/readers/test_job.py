"""A job in several files: rooms taken in, refused where files disagree, every fault told where it was typed."""

from __future__ import annotations

import json

import jsonschema
import numpy as np
import pytest
from typer.testing import CliRunner

import layout
from cli.main import app
from layout.sheets.cover_sheet import by_storey, cover
from layout.sheets.scene import Fill

FLOOR = "[tiles.floor]\nsize = [200, 200]\njoint = 6\n"
KITCHEN = """[[rooms]]
name = "Kitchen"
outline = [[0, 0], [3000, 0], [3000, 2500], [0, 2500]]
[[rooms.openings]]
wall = 2
offset = 500
width = 900
name = "door"
[[rooms]]
outline = [[0, 0], [2000, 0], [2000, 2500], [0, 2500]]
at = [9000, 0]
[[rooms.openings]]
wall = 4
offset = 1100
width = 900
same_as = { room = "Kitchen", opening = "door" }
"""
JOB = (
    FLOOR
    + """[[rooms]]
name = "Plant"
outline = [[0, 0], [2000, 0], [2000, 1500], [0, 1500]]
[[include]]
file = "levels/one.toml"
storey = "Level 1"
prefix = "L1 "
[[include]]
file = "levels/one.toml"
storey = "Level 2"
prefix = "L2 "
at = [0, 9000]
"""
)


@pytest.fixture
def job(tmp_path):
    (tmp_path / "levels").mkdir()
    (tmp_path / "levels" / "one.toml").write_text(KITCHEN, encoding="utf-8")
    (tmp_path / "job.toml").write_text(JOB, encoding="utf-8")
    return tmp_path


def faults(folder, *, one=None, job=None):
    """What is told of a job with one of its files written otherwise."""
    if one is not None:
        (folder / "levels" / "one.toml").write_text(one, encoding="utf-8")
    if job is not None:
        (folder / "job.toml").write_text(job, encoding="utf-8")
    with pytest.raises(layout.LayoutError) as caught:
        layout.read_plan(folder / "job.toml")
    return str(caught.value).splitlines()


def test_rooms_of_included_files_are_rooms_of_the_job(job):
    plan = layout.read_plan(job / "job.toml")
    assert [(room.name, room.storey, room.at) for room in plan.rooms] == [
        ("Plant", "", (0.0, 0.0)),
        ("L1 Kitchen", "Level 1", (0.0, 0.0)),
        ("L1 Room 2", "Level 1", (9000.0, 0.0)),
        ("L2 Kitchen", "Level 2", (0.0, 9000.0)),
        ("L2 Room 2", "Level 2", (9000.0, 9000.0)),
    ]
    assert plan.place_of(4) == "levels/one.toml: rooms[1]"


def test_a_door_between_rooms_of_one_file_stays_one_door_under_each_prefix(job):
    doors = [room.openings[0].same_as for room in layout.read_plan(job / "job.toml").rooms if room.openings]
    assert [door and (door.room, door.opening) for door in doors] == [None, ("L1 Kitchen", "door"), None, ("L2 Kitchen", "door")]


def test_a_job_is_the_same_rooms_in_one_file(job):
    plan = layout.read_plan(job / "job.toml")
    assert layout.parse_plan(layout.plan_toml(plan), "job.toml") == plan


@pytest.fixture(scope="module")
def storeys(tmp_path_factory):
    """Two storeys one over the other, set out; the two rooms of each stand with their doors face to face."""
    folder = tmp_path_factory.mktemp("storeys")
    (folder / "levels").mkdir()
    rooms = KITCHEN.replace('same_as = { room = "Kitchen", opening = "door" }\n', "").replace("at = [9000, 0]", "at = [3100, 0]")
    (folder / "levels" / "one.toml").write_text(rooms, encoding="utf-8")
    (folder / "job.toml").write_text(JOB.replace("at = [0, 9000]\n", ""), encoding="utf-8")
    return layout.set_out(layout.read_plan(folder / "job.toml"))


def test_rooms_of_two_storeys_share_no_door_however_they_lie(storeys):
    assert [[door.room for door in room.shared] for room in storeys.rooms[1:]] == [[], ["L1 Kitchen"], [], ["L2 Kitchen"]]


def test_the_key_plan_parts_the_storeys(storeys):
    plans = [cover(storeys, (420.0, 297.0), {}, None, rooms=numbers)[1] for numbers in by_storey(storeys).values()]
    assert [sorted(numbers) for numbers in by_storey(storeys).values()] == [[1], [2, 3], [4, 5]]
    rooms = [[each.polygon for each in scene if isinstance(each, Fill) and each.layer == "TONE"] for scene in plans]
    assert [len(each) for each in rooms] == [1, 2, 2]
    assert np.allclose([a.intersection(b).area for each in rooms for k, a in enumerate(each) for b in each[:k]], 0.0)


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"one": KITCHEN.replace("wall = 2", "wall = 7")}, ["levels/one.toml: rooms[0].openings[0].wall"]),
        ({"one": KITCHEN.replace("width = 900", "width = 9000", 1)}, ["levels/one.toml: rooms[0].openings[0]"]),
        ({"one": KITCHEN.replace("outline", "outlin", 1)}, ["levels/one.toml: rooms[0].outlin", "levels/one.toml: rooms[0].outline"]),
        ({"one": f"[rules]\nwall_tolerance = 3\n{KITCHEN}"}, ["levels/one.toml: rules.wall_tolerance: 3 found, job.toml has 5"]),
        ({"one": f"[products]\ntape_roll_m = 20\n{KITCHEN}"}, ["levels/one.toml: products.tape_roll_m: 20 found"]),
        ({"one": f"[tiles.floor]\nsize = [300, 300]\njoint = 6\n{KITCHEN}"}, ["levels/one.toml: tiles.floor: its size is not that of job.toml"]),
        ({"one": f'products_file = "none.toml"\n{KITCHEN}'}, ["levels/one.toml: products_file: none.toml: there is no such file"]),
        ({"one": f'[[deliveries]]\nname = "A"\n{KITCHEN}'}, ["levels/one.toml: deliveries: they are those of a whole job"]),
        ({"one": f'[[include]]\nfile = "../job.toml"\n{KITCHEN}'}, ["levels/one.toml: include[0].file: it goes round in a circle"]),
        ({"job": JOB.replace("one.toml", "two.toml", 1)}, ["job.toml: include[0].file: two.toml: there is no such file"]),
        ({"job": JOB.replace("levels/one.toml", "levels", 1)}, ["job.toml: include[0].file: levels: it is a folder"]),
        ({"job": JOB.replace('prefix = "L1 "', 'rooms = ["Bar"]')}, ["job.toml: include[0].rooms: levels/one.toml has no room"]),
        ({"job": JOB.replace('prefix = "L2 "', 'prefix = "L1 "')}, ['levels/one.toml: rooms[0].name: "L1 Kitchen"', 'levels/one.toml: rooms[1].name: "L1 Room 2"']),
        ({"job": FLOOR + "include = []\n"}, ["job.toml: tiles.floor.include: there is no such key"]),
        ({"job": f"include = []\n{FLOOR}"}, ["job.toml: rooms: it is missing"]),
        ({"job": f'{JOB}[[deliveries]]\nname = "A"\nstoreys = ["Level 3"]\n'}, ['job.toml: deliveries[0].storeys: there is no storey "Level 3"; did you mean "Level 2"?']),
    ],
)  # fmt: skip
def test_a_fault_names_the_file_table_and_key_that_hold_it(job, change, told):
    found = faults(job, **change)
    assert len(found) == len(told), found
    for line, start in zip(found, told, strict=True):
        assert line.startswith(start), line


def test_a_tile_that_only_the_included_file_names_comes_with_its_rooms(job):
    own = KITCHEN.replace('name = "Kitchen"', 'name = "Kitchen"\nfloor_tile = "small"')
    (job / "levels" / "one.toml").write_text(f"[tiles.small]\nsize = [100, 100]\njoint = 4\n{own}", encoding="utf-8")
    plan = layout.read_plan(job / "job.toml")
    assert plan.tile("small").size == (100.0, 100.0)
    assert "levels/one.toml: tiles.small.joint" in faults(job, one=f"[tiles.small]\nsize = [100, 100]\njoint = 400\n{own}")[0]


def test_files_of_a_job_are_not_written_over(job):
    (job / "house.toml").write_text("tape_roll_m = 25\n", encoding="utf-8")
    (job / "job.toml").write_text(f'products_file = "house.toml"\n{JOB}', encoding="utf-8")
    assert [path.relative_to(job).as_posix() for path in layout.files_with(job / "job.toml")] == ["house.toml", "levels/one.toml"]
    with pytest.raises(layout.OutputError):
        layout.write_whole(job / "levels" / "one.toml", b"", plan=job / "job.toml", inputs=layout.files_with(job / "job.toml"), force=True)


def test_the_schema_takes_a_job_of_includes_alone_and_no_plan_without_rooms():
    schema = layout.plan_schema()
    jsonschema.validate({"include": [{"file": "one.toml"}]}, schema)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate({"tiles": {}}, schema)


def test_what_was_read_is_one_job_and_stays_so_when_it_was_gone_on_with(tmp_path):
    box = {"type": "Polygon", "coordinates": [[[0, 0], [3000, 0], [3000, 2000], [0, 2000], [0, 0]]]}

    def read(*names, more=()):
        shapes = [{"type": "Feature", "properties": {"name": name}, "geometry": box} for name in names]
        (tmp_path / "block.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": shapes}), encoding="utf-8")
        said = CliRunner().invoke(app, ["read", str(tmp_path / "block.geojson"), "-o", str(tmp_path / "out"), "--units", "mm", *more])
        assert said.exit_code == 0, said.stderr
        return said.stderr

    job = tmp_path / "out" / "block.toml"
    read("Bar", "Store", more=["--split"])
    assert not job.exists()
    read("Bar", "Store")
    assert [room.name for room in layout.read_plan(job).rooms] == ["Bar", "Store"]
    (tmp_path / "out" / "bar.toml").write_text(
        (tmp_path / "out" / "bar.toml").read_text(encoding="utf-8").replace("joint = 6", "joint = 4"), encoding="utf-8"
    )
    assert layout.read_plan(job).tile("floor").joint == 6.0  # tiles of the job hold
    (tmp_path / "out" / "bar.toml").unlink()
    read("Bar", "Store", "Cellar")
    assert len(layout.read_plan(job).rooms) == 3  # nobody had changed it
    edited = job.read_text(encoding="utf-8").replace("size = [200, 200]", "size = [300, 300]")
    job.write_text(edited, encoding="utf-8")
    assert "put these rooms into it by [[include]] file = …: attic.toml" in read("Bar", "Store", "Cellar", "Attic")
    assert job.read_text(encoding="utf-8") == edited
