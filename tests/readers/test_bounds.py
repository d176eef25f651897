"""Each bound of the one table, passed by a small hostile input: told with the figure found, the bound, and how to raise it; raised, it holds no more."""

from __future__ import annotations

import json
from dataclasses import fields

import pytest
from ezdxf.filemanagement import new
from typer.testing import CliRunner

import layout
from cli.main import app
from layout.budgets import BUDGETS, Budgets, bounds_given, in_force, with_bounds
from layout.errors import PlanError, PlanFaults
from layout.readers.texts import parse_toml, read_text
from tests.fuzz.mutations import MODEL

ROOM = '[[rooms]]\nname = "A"\noutline = [[0, 0], [3000, 0], [3000, 2000], [0, 2000]]\n'
RING = [[0, 0], [3, 0], [3, 2], [0, 2], [0, 0]]
STAIR = [[k * 900, 0] for k in range(5)] + [[3600, 2000], [0, 2000]]


def room(outline):
    return f'[[rooms]]\nname = "A"\noutline = {json.dumps(outline)}\n'


def geojson(*rings, deep=0):
    inner = {"type": "GeometryCollection", "geometries": [{"type": "Polygon", "coordinates": [ring]} for ring in rings]}
    for _ in range(deep):
        inner = {"type": "GeometryCollection", "geometries": [inner]}
    return json.dumps(inner)


def drawing(kind):
    def saved(path):
        doc = new("R2000")
        doc.blocks.new("DOT").add_circle((0, 0), 1)
        doc.blocks.new("TWO").add_blockref("DOT", (0, 0))
        space = doc.modelspace()
        for a, b in (((0, 0), (6500, 0)), ((6500, 0), (6500, 2900)), ((6500, 2900), (0, 2900)), ((0, 2900), (0, 0))):
            space.add_line(a, b, dxfattribs={"layer": "A-WALL"})
        if kind == "inserts":
            copies = {"row_count": 5, "column_count": 6, "row_spacing": 10, "column_spacing": 10}
            space.add_blockref("DOT", (0, 0), dxfattribs=copies)
        if kind == "nesting":
            space.add_blockref("TWO", (0, 0))
        doc.saveas(path)

    return saved


READ = ["read", "g.geojson", "-o", "out", "--units", "m"]
DRAWN = ["read", "d.dxf", "-o", "out", "--doubtful"]
NEW = ["new", "n.toml", "--survey", "s.csv"]
SURVEY = "from,to,length\nA,B,3000\nB,C,2000\nC,A,3605.55\n"
MEASURED = "from,to,length\n2,3,2040\n"
PUT = ["new", "n.toml", "--plan", "p.toml", "--measured", "m.csv"]
CHECK = ["check", "p.toml"]
# bound: (its value, the files, the line typed, the figure found, a value that lets it pass)
PASSED = {
    "file_mb": ("0.001", {"p.toml": "#" * 2000 + "\n" + ROOM}, CHECK, "larger than 0.001 MB", "0.01"),
    "drawing_mb": ("0.001", {"d.dxf": drawing("")}, DRAWN, "MB is more than is read", "10"),
    "model_mb": ("0.001", {"m.ifc": MODEL.decode()}, ["read", "m.ifc", "-o", "out"], "MB is more than is read", "10"),
    "rows": ("3", {"s.csv": SURVEY}, NEW, "4 lines are over the bound of 3", "4"),
    "cell": ("13", {"s.csv": SURVEY}, NEW, "14 letters are over the bound of 13", "14"),
    "digits": ("20", {"p.toml": f"# {'9' * 30}\n[project]\ntitle = '{'9' * 30}'\n[rules]\ndatum_line = 1000.{'0' * 25}\n{ROOM}"}, CHECK,
               "p.toml: line 5: 25 digits of one number are over the bound of 20", "30"),
    "depth": ("10", {"g.geojson": geojson(RING, deep=5)}, READ, "16 lists and tables within one another are over the bound of 10", "20"),
    "entities": ("3", {"d.dxf": drawing("")}, DRAWN, "4 entities are over the bound of 3", "10"),
    "inserts": ("20", {"d.dxf": drawing("inserts")}, DRAWN, "30 copies of the block 'DOT' in rows and columns are over the bound of 20", "30"),
    "nesting": ("1", {"d.dxf": drawing("nesting")}, DRAWN, "blocks are nested over 1 deep", "2"),
    "polygons": ("1", {"g.geojson": geojson(RING, [[x + 5, y] for x, y in RING])}, READ, "2 polygons are over the bound of 1", "2"),
    "rooms": ("1", {"p.toml": ROOM + ROOM.replace("A", "B")}, CHECK, "2 rooms are over the bound of 1", "2"),
    "things": ("1", {"p.toml": ROOM + "".join(f"[[rooms.pipes]]\nat = [{x}, 500]\ndiameter = 50\n" for x in (500, 1500))}, CHECK,
               "2 of one kind are over the bound of 1", "2"),
    "corners": ("3", {"p.toml": ROOM}, CHECK, "4 corners are over the bound of 3", "4"),
    "side": ("2500", {"p.toml": ROOM}, CHECK, "side 1 is 3 m long; is there a zero too many", "3000"),
    "extent": ("3000", {"p.toml": room(STAIR)}, CHECK, "it is 4 m from one end to the other; a room may be 3 m over all", "3600"),
    "aspect": ("2", {"p.toml": ROOM}, CHECK, "it is 3.6 m long for 6.00 m² of floor", "3"),
    "tile_least": ("250", {"p.toml": f"[tiles.floor]\nsize = [200, 300]\n{ROOM}"}, CHECK, "200 mm is no side of a tile", "100"),
    "tile_most": ("250", {"p.toml": f"[tiles.floor]\nsize = [200, 300]\n{ROOM}"}, CHECK, "300 mm is no side of a tile", "300"),
    "tiles": ("100", {"p.toml": f"[tiles.floor]\nsize = [200, 200]\njoint = 0\n{ROOM}"}, CHECK,
              "a surface would take about 150 tiles, over the bound of 100", "160"),
    "cuts": ("20", {"p.toml": f"[tiles.floor]\nsize = [200, 200]\njoint = 0\n{ROOM}"}, CHECK, "50 cut tiles, as estimated, are over the bound of 20", "60"),
    "remeasured": ("30", {"p.toml": ROOM, "m.csv": MEASURED}, PUT, "2–3 reads 2040, 40 more than the plan's 2000", "50"),
    "seconds": ("1e-9", {"p.toml": ROOM}, CHECK, "s of work are over the bound of 1e-09", "1000"),
    "memory_mb": ("0.001", {"p.toml": ROOM}, CHECK, "MB of memory are over the bound of 0.001", "100000"),
}  # fmt: skip
TOLD_ONLY = {"remeasured_told": "how far a length may be off before it is told: nothing is refused"}


def test_every_bound_is_passed_here():
    assert {each.name for each in fields(Budgets)} == {*PASSED, *TOLD_ONLY}


@pytest.fixture
def typed(tmp_path, monkeypatch):
    memory = iter(range(1, 1_000_000))
    monkeypatch.setattr("layout.budgets.peak_mb", lambda: float(next(memory)))  # it grows as the work goes on
    monkeypatch.chdir(tmp_path)
    # pictures are not what is tried here
    monkeypatch.setattr("cli.verbs.new._first_picture", lambda _, path: path.write_bytes(b"picture"))

    def work(files, line, *more):
        for name, content in files.items():
            if callable(content):
                content(tmp_path / name)
            else:
                (tmp_path / name).write_text(content, encoding="utf-8")
        return CliRunner().invoke(app, [*line, *more])

    return work


@pytest.mark.parametrize("bound", PASSED)
def test_what_passes_a_bound_is_told_with_the_figure_and_the_mend(typed, bound, tmp_path):
    value, files, line, words, _ = PASSED[bound]
    said = typed(files, line, "--budget", f"{bound}={value}")
    assert said.exit_code == 2, said.output
    assert words in said.stderr
    assert f"budgets.{bound}" in said.stderr
    assert {path.name for path in tmp_path.iterdir()} == set(files)


@pytest.mark.parametrize("bound", PASSED)
def test_a_bound_that_is_raised_holds_no_more(typed, bound):
    _, files, line, words, enough = PASSED[bound]
    said = typed(files, line, "--budget", f"{bound}={enough}")
    assert said.exit_code == 0, said.output
    assert words not in said.output


@pytest.mark.parametrize(("key", "text", "words"), [
    ("digits", f"[rules]\ndatum_line = 1000.{'0' * 25}\n", "line 4: 25 digits of one number are over the bound of 20"),
    ("depth", f"x = {'[' * 15}{']' * 15}\n", "15 lists and tables within one another are over the bound of 10"),
])  # fmt: skip
def test_a_plan_sets_the_bounds_of_its_own_text(key, text, words):
    least = {"digits": 20, "depth": 10}[key]
    with pytest.raises(PlanError, match=words):
        parse_toml(f"[budgets]\n{key} = {least}\n{text}", "plan.toml")
    assert parse_toml(f"[budgets]\n{key} = 30\n{text}", "plan.toml")
    assert parse_toml(f'[budgets]\n{key} = "30"\n{text}', "plan.toml"), "a wrong one is told by the plan's own reader"
    assert parse_toml(f"budgets = 7\n{text}", "plan.toml")


def test_a_command_goes_before_the_plan_and_ends_with_the_command(tmp_path):
    text = f"[budgets]\nside = 2500\n{ROOM}"
    with pytest.raises(PlanFaults, match=r"budgets\.side"):
        layout.parse_plan(text)
    with layout.with_bounds(["side=4000"]), layout.with_bounds(["rooms=7"]):
        assert layout.parse_plan(text).budgets == in_force(Budgets(side=2500)) == Budgets(side=4000, rooms=7)
        assert bounds_given() == ("side=4000", "rooms=7")
    assert in_force() == BUDGETS
    with pytest.raises(PlanFaults, match="did you mean 'side'"), with_bounds(["sides=4"]):
        pass
    (tmp_path / "a.toml").write_text("x" * 2000)
    with pytest.raises(PlanError, match=r"larger than 0\.001 MB"):
        read_text(tmp_path / "a.toml", budgets=Budgets(file_mb=0.001))


def test_a_batch_takes_its_bounds_along(tmp_path):
    for name in "ab":
        (tmp_path / f"{name}.toml").write_text(ROOM, encoding="utf-8")
    said = CliRunner().invoke(app, ["batch", str(tmp_path), "--json", "--budget", "corners=3", "-o", str(tmp_path / "out")])
    assert said.exit_code == 2
    assert said.output.count("4 corners are over the bound of 3") >= 2


def test_the_older_name_of_the_bound_of_tiles_goes_before_it():
    text = f"[tiles.floor]\nsize = [200, 200]\njoint = 0\n{ROOM}"
    with pytest.raises(PlanFaults, match=r"about 150 tiles, over the bound of 140; .* raise rules\.max_tiles to 165"):
        layout.parse_plan(f"[rules]\nmax_tiles = 140\n[budgets]\ntiles = 1000\n{text}")
    assert layout.parse_plan(f"[rules]\nmax_tiles = 200\n[budgets]\ntiles = 100\n{text}").budgets.tiles == 100
