"""One table of command lines: arguments, exit status, words on each stream; and whole-or-nothing writing."""

from __future__ import annotations

import ast
import json
import os
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from typer.testing import CliRunner

import layout
from cli.main import VERBS, app
from layout.writers.manifest import NAME as MANIFEST

PLANS = Path(__file__).parent.parent.parent / "plans"
VERSION = tomllib.loads((PLANS.parent / "pyproject.toml").read_text(encoding="utf-8"))["project"]["version"]
ROOM = '[[rooms]]\nname = "A"\noutline = [[0, 0], [3000, 0], [3000, 2000], [0, 2000]]\n'
run = CliRunner().invoke


@pytest.fixture
def plan(tmp_path):
    path = tmp_path / "a.toml"
    path.write_text(ROOM)
    return path


LINES = [
    (["--help"], 0, "Sets out tiled", ""),
    (["-h"], 0, "Sets out tiled", ""),
    (["--version"], 0, f"gaugerod {VERSION}\n", ""),
    (["sheets", "-h"], 0, "of dxf, png, pdf, svg", ""),
    (["setout", "PLAN"], 0, "Start lines: snap these first", ""),
    (["setout", "PLAN", "--json"], 0, '"schema": "gaugerod/setout/1"', ""),
    (["setout", "PLAN", "--json", "--pieces"], 0, '"pieces"', ""),
    (["setout", "PLAN", "--pieces"], 2, "", "it needs --json"),
    (["takeoff", "PLAN"], 0, "Quantities and orders", ""),
    (["takeoff", "PLAN", "--json"], 0, '"schema": "gaugerod/takeoff/1"', ""),
    (["takeoff", "PLAN", "--csv"], 0, "key,item,quantity,unit", ""),
    (["takeoff", "PLAN", "--explain", "membrane"], 0, "Formula: area", ""),
    (["takeoff", "PLAN", "--xlsx"], 2, "", "add --out"),
    (["cuts", "PLAN"], 0, "Tiles needed", ""),
    (["cuts", "PLAN", "--json"], 0, '"schema": "gaugerod/cuts/1"', ""),
    (["cuts", "PLAN", "--csv"], 0, "tile,size,number,piece,mark", ""),
    (["cuts", "PLAN", "--stock", "floor=3"], 0, "boxes to buy", ""),
    (["cuts", "PLAN", "--stock", "roof=3"], 2, "", "no tile that is laid; tiles are floor"),
    (["cuts", "PLAN", "--stock", "floor"], 2, "", "floor=640"),
    (["cuts", "PLAN", "--broken", "floor=2 boxes"], 0, "boxes to buy", ""),
    (["cuts", "PLAN", "--broken", "floor=2 crates"], 2, "", "floor=2 boxes"),
    (["cuts", "PLAN", "--broken", "floor=two"], 2, "", "--broken"),
    (["cuts", "PLAN", "--by", "bay"], 0, "A, floor", ""),
    (["cuts", "PLAN", "--by", "day", "--start", "2026-11-30T07:00", "--csv"], 0, "2026-12-", ""),
    (["cuts", "PLAN", "--by", "day"], 2, "", "--start: it is missing"),
    (["cuts", "PLAN", "--by", "colour"], 2, "", "give fence, bay or day"),
    (["cuts", "PLAN", "--start", "2026-11-30T07:00"], 2, "", "it goes with --by day"),
    (["changes", "PLAN", "PLAN"], 0, "no changes", ""),
    (["setout", "PLAN", "--set", "rooms.0.tanking_height=300"], 0, "tanking height", ""),
    (["setout", "PLAN", "--set", "rooms.0.tanking_height=300", "--json"], 0, '"schema": "gaugerod/changes/1"', ""),
    (["setout", "PLAN", "--set", "rooms.9.tanking_height=300"], 2, "", "leads nowhere"),
    (["setout", "PLAN", "--set", "rooms.0.tanking_height"], 2, "", "write the key as it stands"),
    (["setout", "PLAN", "--set", "rooms.0.tanking_height=deep"], 2, "", "tanking_height"),
    (["changes", "PLAN", "PLAN", "--json"], 0, '"changed": false', ""),
    (["changes", "PLAN", "PLAN", "--keep", "lines"], 0, "lines kept, against the best free set-out", ""),
    (["changes", "PLAN", "PLAN", "--keep", "walls"], 2, "", "'walls' found; give some of lines, joints, marks"),
    (["changes", "PLAN", "OUT"], 2, "", "there is no such file"),
    (["check", "PLAN"], 0, "a.toml is valid: 1 room", ""),
    (["check", "PLAN", "--json"], 0, '"schema": "gaugerod/check/1"', ""),
    (["schema"], 0, '"$id": "gaugerod/plan/1"', ""),
    (["check", "nowhere.toml"], 2, "", "nowhere.toml: there is no such file"),
    (["sheets", "PLAN", "-o", "OUT", "--format", "dwg"], 2, "", "'dwg' found; give some of dxf, png, pdf, svg"),
    (["sheets", "PLAN", "-o", "OUT", "--paper", "B3"], 2, "", "'B3' found; give one of"),
    (["sheets", "PLAN", "-o", "OUT", "--scale", "0.5"], 2, "", "--scale"),
    (["sheets", "PLAN", "-o", "OUT", "--format", "svg"], 0, "", "wrote"),
    (["sheets", "PLAN", "-o", "OUT", "--format", "dxf", "--quiet"], 0, "", ""),
    (["setout", "PLAN", "--compare", "starts"], 0, "floors side by side", ""),
    (["setout", "PLAN", "--compare", "starts", "--json"], 0, '"schema": "gaugerod/compare/1"', ""),
    (["setout", "PLAN", "--why", "--set", "rooms.0.tanking_height=300"], 2, "", "leave --compare and --set out"),
    (["setout", "PLAN", "--compare", "colours"], 2, "", "'colours' found; give starts, patterns or tiles"),
    (["programme", "PLAN", "--start", "2026-11-30T07:00"], 0, "programme at 20 °C", ""),
    (["programme", "PLAN", "--start", "2026-11-30T07:00", "--json"], 0, '"schema": "gaugerod/', ""),
    (["programme", "PLAN", "--start", "soon"], 2, "", "'soon' found; give a date and time"),
    (["programme", "PLAN"], 2, "", "--start: it is missing"),
    (["programme", "PLAN", "--start", "2026-11-30", "--hands", "0"], 2, "", "--hands: 0 found; give 1 to 50"),
    (["programme", "PLAN", "--start", "2026-11-30", "--temperature", "40"], 2, "", "--temperature: 40 found"),
    (["takeoff", "PLAN", "--explain", "gold"], 2, "", "there is no item 'gold'"),
    (["measure", "PLAN"], 2, "", "No such command"),
    (["setout"], 2, "", "Missing argument"),
]


@pytest.mark.parametrize(
    ("arguments", "status", "out", "err"), LINES, ids=lambda value: " ".join(value) if isinstance(value, list) else None
)
def test_command_lines(arguments, status, out, err, plan, tmp_path):
    places = {"PLAN": str(plan), "OUT": str(tmp_path / "out")}
    result = run(app, [places.get(each, each) for each in arguments])
    assert result.exit_code == status, result.output
    assert out in result.stdout
    assert err in result.stderr
    if status == 2:
        assert result.stdout == ""
        assert "Traceback" not in result.stderr
    if "--quiet" in arguments:
        assert result.stderr == ""


def test_json_alone_stands_on_standard_output(plan):
    result = run(app, ["setout", str(plan), "--json"])
    assert json.loads(result.stdout)["rooms"][0]["name"] == "A"
    assert result.stderr == ""


def test_a_binding_rule_that_is_broken_gives_status_one(tmp_path):
    path = tmp_path / "a.toml"
    path.write_text('[rules]\nbinding = ["cut-below-least"]\n[tiles.floor]\nleast_cut = 199\n' + ROOM)
    result = run(app, ["setout", str(path), "--json"])
    assert result.exit_code == 1
    assert json.loads(result.stdout)["rooms"][0]["warnings"][0]["code"] == "cut-below-least"
    assert "binding: cut-below-least" in result.stderr
    assert run(app, ["check", str(path), "--quiet"]).stderr == ""


def test_out_writes_a_file_whole(plan, tmp_path):
    out = tmp_path / "made" / "setout.json"
    assert run(app, ["setout", str(plan), "--json", "-o", str(out)]).stdout == ""
    assert json.loads(out.read_text())["schema"] == "gaugerod/setout/1"
    assert {p.name for p in out.parent.iterdir()} == {"setout.json", MANIFEST}


def test_an_output_folder_that_cannot_be_written(plan, tmp_path):
    blocked = tmp_path / "blocked"
    blocked.write_text("a file stands where the folder should be")
    for arguments in (
        ["run", str(plan), "-o", str(blocked)],
        ["sheets", str(plan), "-o", str(blocked / "deeper")],
        ["setout", str(plan), "--json", "-o", str(blocked / "x.json")],
    ):
        result = run(app, arguments)
        assert result.exit_code == 2
        assert "cannot be written" in result.stderr
    assert blocked.read_text().startswith("a file stands")


def test_bad_input_leaves_nothing_behind(tmp_path):
    path = tmp_path / "bad.toml"
    path.write_text(ROOM.replace("3000, 0", "nan, 0"))
    out = tmp_path / "out"
    assert run(app, ["run", str(path), "-o", str(out)]).exit_code == 2
    assert not out.exists()


def test_a_failed_run_leaves_the_old_files_as_they_were(plan, tmp_path, monkeypatch):
    out = tmp_path / "out"
    out.mkdir()
    old = out / "a.dxf"
    old.write_text("old")

    def fail(*_, **__):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("layout.writers.plot.save_png", fail)
    result = run(app, ["sheets", str(plan), "-o", str(out)])
    assert result.exit_code == 2
    assert "No space left" in result.stderr
    assert old.read_text() == "old"
    assert [p.name for p in out.iterdir()] == ["a.dxf"]


@pytest.mark.parametrize(("arguments", "banned"), [
    (["--help"], ("numpy", "shapely", "ezdxf", "matplotlib", "pydantic", "rich", "concurrent", "dataclasses", "tempfile", "json", "tomllib", "csv")),
    (["setout", "--help"], ("numpy", "shapely", "ezdxf", "matplotlib", "pydantic")),
    (["setout", "PLAN", "--json"], ("ezdxf", "matplotlib", "pydantic", "fontTools", "highspy", "rich.table")),
])  # fmt: skip
def test_heavy_imports_are_lazy(arguments, banned, plan):
    code = (
        "import sys\nfrom cli.main import app\ntry:\n    app(sys.argv[1:])\nexcept SystemExit:\n    pass\n"
        f"print('LOADED', sorted(m for m in sys.modules if m.split('.')[0] in {banned!r} or m in {banned!r}))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, *[str(plan) if a == "PLAN" else a for a in arguments]],
        capture_output=True,
        text=True,
        check=True,
        env={name: value for name, value in os.environ.items() if not name.startswith("COVERAGE")},  # the counting loads modules itself
    )
    assert "LOADED []" in done.stdout


def test_import_layout_is_light():
    code = "import sys, layout; print([m for m in ('numpy', 'shapely', 'ezdxf', 'matplotlib') if m in sys.modules]); layout.set_out"
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.strip() == "[]"


def test_a_closed_pipe_is_no_fault(plan):
    done = subprocess.run(
        f'"{sys.executable}" -m cli.main setout "{plan}" --json --pieces | head -c 10',
        shell=True,
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ},
    )
    assert "Traceback" not in done.stderr


PAINTED = ("canteen", "kitchen")
"""Examples of which `run` paints every picture and page in these tests."""
SAID = {"canteen": "34.6 m tape in internal corners"}
"""Words of the summary of an example, its figure worked out by hand in `tests/setout`."""


@pytest.fixture
def once(monkeypatch):
    """Set out each plan once: all verbs ask the same pure function for the same plan."""
    real = layout.set_out
    known: list[tuple[layout.Plan, layout.SetOut]] = []

    def set_out(plan):
        if not any(plan == before for before, _ in known):
            known.append((plan, real(plan)))
        return next(done for before, done in known if plan == before)

    monkeypatch.setattr(layout, "set_out", set_out, raising=False)
    return known


@pytest.mark.parametrize("path", sorted(PLANS.glob("*.toml")), ids=lambda p: p.stem)
def test_every_verb_takes_every_example(path, tmp_path, once, request):
    if path.stem not in PAINTED:  # the pages of every example are painted and read by other programs in `tests/writers`
        request.getfixturevalue("undrawn")
    rates = path.parent / "products" / "rates.toml"
    lines = [
        ["run", path, "-o", tmp_path / "run", "--dpi", "40"],
        ["setout", path, "--json", "--pieces"],
        ["takeoff", path, "--csv"],
        ["takeoff", path, "--xlsx", "-o", tmp_path / "bill.xlsx"],
        ["cuts", path, "--json"],
        ["programme", path, "--start", "2026-11-30T07:00"],
        ["check", path, "--json"],
    ]
    if path.stem != "washbay":  # the rates name tile that the wash bay does not have
        lines.append(["takeoff", path, "--rates", rates])
    for line in lines:
        result = run(app, [str(each) for each in line])
        assert result.exit_code in (0, 1), (line, result.output[-500:], result.exception)
        if line[0] == "run":
            assert SAID.get(path.stem, "Order") in " ".join(result.stdout.split())
    assert len(once) == 1, "the verbs did not read the same plan alike"
    names = {each.name for each in (tmp_path / "run").iterdir()}
    endings = (
        ".dxf",
        ".pdf",
        "-01-setting-out.png",
        "-setout.json",
        "-takeoff.json",
        "-takeoff.csv",
        "-takeoff.xlsx",
        "-programme.json",
        "-programme.ics",
        "-batches.csv",
    )
    assert {f"{path.stem}{ending}" for ending in endings} <= names
    assert [name for name in names if name.startswith(".")] == [MANIFEST]


def test_a_verb_is_a_file_and_every_file_a_verb():
    files = {path.stem for path in (PLANS.parent / "cli" / "verbs").glob("*.py")} - {"__init__"}
    assert {"setting" if verb == "set" else verb for verb in VERBS} == files  # a module called set would hide the builtin
    said = run(app, ["--help"]).stdout
    places = [said.index(f"\n  {verb} ") for verb in VERBS]
    assert places == sorted(places)


@pytest.mark.parametrize("verb", VERBS)
def test_every_verb_takes_the_common_options(verb):
    said = run(app, [verb, "-h"])
    assert said.exit_code == 0
    assert all(option in said.stdout for option in ("--quiet", "--no-colour", "--force", "--help"))
    assert "--say" not in said.stdout


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_a_shell_completes_verbs(shell):
    env = {**os.environ, "_GAUGEROD_COMPLETE": f"complete_{shell}", "COMP_WORDS": "gaugerod se", "COMP_CWORD": "1"}
    env |= {"_TYPER_COMPLETE_ARGS": "gaugerod se", "_TYPER_COMPLETE_FISH_ACTION": "get-args"}
    code = "import sys; sys.argv[0] = 'gaugerod'; from cli.main import run_app; run_app()"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False, env=env)
    assert "setout" in done.stdout
    assert "takeoff" not in done.stdout
    assert done.stderr == ""


def test_the_command_line_stands_on_the_public_names():
    """`cli` takes the engine from `layout`; what asks a person for keys walks their declarations, which are no public names."""
    declarations = ("layout.fields", "layout.keys", "layout.plan.", "layout.survey", "layout.units")
    by_module = set()
    for path in (PLANS.parent / "cli").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("layout."):
                by_module |= {(node.module, each.name) for each in node.names}
            if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id == "layout":
                assert node.attr in {*layout.__all__, "__version__", "__file__"}, (path.name, node.attr)
    assert by_module
    assert not [(module, name) for module, name in by_module if not str(module).startswith(declarations)]


def test_an_answer_never_lands_on_what_it_was_made_from(plan, tmp_path):
    products, rates = tmp_path / "p.toml", tmp_path / "r.toml"
    products.write_text("tape_roll_m = 20\n")
    rates.write_text("[rates]\n")
    plan.write_text('products_file = "p.toml"\n' + ROOM)
    for verb in (
        ["setout"],
        ["setout", "--json"],
        ["takeoff", "--csv"],
        ["check"],
        ["programme", "--start", "2026-11-30T07:00"],
        ["cuts"],
        ["cuts", "--json"],
        ["cuts", "--csv"],
    ):
        for target in (plan, products):
            for force in ([], ["--force"]):
                before = target.read_bytes()
                said = run(app, [verb[0], str(plan), *verb[1:], "-o", str(target), *force])
                assert said.exit_code == 2, (verb, target)
                assert "is what this command reads" in said.stderr
                assert target.read_bytes() == before


@pytest.mark.usefixtures("undrawn")
def test_nothing_of_others_is_written_over(plan, tmp_path):
    kitchen = tmp_path / "kitchen.toml"
    kitchen.write_bytes(plan.read_bytes())
    others = {"kitchen.dxf": b"the architect's", "kitchen.pdf": b"signed", "office.png": b"a photograph"}
    for name, data in others.items():
        (tmp_path / name).write_bytes(data)
    sheets = ["sheets", str(kitchen), "-o", str(tmp_path), "--dpi", "30"]
    said = run(app, sheets)
    assert said.exit_code == 2
    assert "kitchen.dxf, kitchen.pdf is there already" in said.stderr
    said = run(app, ["new", str(tmp_path / "office.toml"), "--rectangle", "3000x2000"])
    assert said.exit_code == 2
    assert "office.png is there already" in said.stderr
    assert not (tmp_path / "office.toml").exists()
    assert {name: (tmp_path / name).read_bytes() for name in others} == others
    assert run(app, [*sheets, "--force", "--format", "dxf"]).exit_code == 0
    assert (tmp_path / "kitchen.dxf").read_bytes()[:5] != b"the a"


def test_plans_that_were_read_and_edited_are_not_discarded(tmp_path):
    outline = {"type": "Polygon", "coordinates": [[[0, 0], [3000, 0], [3000, 2000], [0, 2000], [0, 0]]]}
    drawing, out = tmp_path / "d.geojson", tmp_path / "plans"

    def read(*names):
        shapes = [{"type": "Feature", "properties": {"name": name}, "geometry": outline} for name in names]
        drawing.write_text(json.dumps({"type": "FeatureCollection", "features": shapes}))
        return run(app, ["read", str(drawing), "-o", str(out), "--units", "mm"])

    assert read("Bar", "Store").exit_code == 0
    assert read("Bar", "Store").exit_code == 0
    edited = (out / "bar.toml").read_text() + "# a door was added here\n"
    (out / "bar.toml").write_text(edited)
    said = read("Bar", "Store")
    assert said.exit_code == 0  # what was typed stays in the plan that is read again
    assert (out / "bar.toml").read_text() == edited
    said = read("Store")
    assert "look: of an earlier run, but changed since, so left: bar.toml" in said.stderr
    assert (out / "bar.toml").read_text() == edited


@pytest.mark.usefixtures("undrawn")
def test_sheets_of_a_room_that_is_no_more_go(plan, tmp_path):
    two = plan.read_text() + ROOM.replace('"A"', '"B"')
    plan.write_text(two)
    line = ["sheets", str(plan), "-o", str(tmp_path / "out"), "--format", "png", "--dpi", "30"]
    assert run(app, line).exit_code == 0
    before = {path.name for path in (tmp_path / "out").iterdir()}
    plan.write_text(ROOM)
    said = run(app, line)
    after = {path.name for path in (tmp_path / "out").iterdir()}
    assert before - after  # rooms may share a sheet, so the count says nothing
    assert after - {MANIFEST} == {name for name in after if f"out/{name}" in said.stderr.replace(os.sep, "/")}, (
        "only what was written now is left"
    )
    for name in before - after:
        assert name in said.stderr.split("removed, since a.toml gives them no more: ")[1].splitlines()[0]


@pytest.mark.usefixtures("undrawn")
def test_a_second_run_tells_what_changed(tmp_path):
    plan = tmp_path / "room.toml"
    out = tmp_path / "out"

    def run_with(width):
        plan.write_text(f'[[rooms]]\nname = "Store"\noutline = [[0, 0], [{width}, 0], [{width}, 2000], [0, 2000]]\n')
        result = run(app, ["run", str(plan), "-o", str(out), "--dpi", "40"])
        assert result.exit_code == 0, result.output
        return result.stderr

    assert "changed" not in run_with(3000)
    assert "nothing changed against the set that stood here" in run_with(3000)
    told = run_with(3050)
    assert "changed against the set that stood here:\nStore: " in told
    assert "sizes of cut tiles in another number" in told
    earlier = run(app, ["changes", str(out), str(plan)])
    assert "no changes" in earlier.stdout
