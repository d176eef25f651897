"""The house itself: the map agrees with the files, the wheel holds what it should, the README's words are true."""

from __future__ import annotations

import ast
import inspect
import re
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

TOP = Path(__file__).parent.parent


def modules():
    for path in sorted([*(TOP / "layout").rglob("*.py"), *(TOP / "cli").rglob("*.py")]):
        if path.name != "__init__.py":
            yield path.relative_to(TOP).as_posix()


def test_the_map_names_every_module_and_no_other():
    text = (TOP / "DEVELOPERS.md").read_text(encoding="utf-8")
    named = set(re.findall(r"^\| `((?:layout|cli)/[\w/]+\.py)` \|", text, flags=re.MULTILINE))
    assert named == set(modules())


def test_the_top_level_is_fixed():
    tracked = subprocess.run(["git", "ls-files"], cwd=TOP, capture_output=True, text=True, check=False).stdout.splitlines()
    if not tracked:
        pytest.skip("not a clone")
    top = {name.split("/")[0] for name in tracked}
    assert {name for name in top if not name.startswith(".")} == {
        "README.md",
        "DEVELOPERS.md",
        "pyproject.toml",
        "layout",
        "cli",
        "tests",
        "plans",
    }


def test_the_readme_opens_with_the_job_and_two_commands():
    text = (TOP / "README.md").read_text(encoding="utf-8")
    blocks = re.findall(r"```sh\n(.*?)```", text, flags=re.DOTALL)
    assert "gaugerod run plans/canteen.toml" in blocks[0]
    assert "pytest" in blocks[1]
    first = text.split("\n\n")[1]
    assert len(first) > 200
    for picture in re.findall(r"!\[[^]]*\]\(([^)]+)\)", text):
        assert (TOP / picture).exists(), picture


def test_a_wheel_holds_the_two_packages_and_their_data(tmp_path):
    done = subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(tmp_path)],
        cwd=TOP,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    names = zipfile.ZipFile(next(tmp_path.glob("*.whl"))).namelist()
    tops = {name.split("/")[0] for name in names}
    assert {t for t in tops if not t.endswith(".dist-info")} == {"layout", "cli"}
    assert {"layout/py.typed", "layout/fonts/DejaVuSans.ttf", "layout/fonts/DejaVuSans-Bold.ttf", "layout/fonts/LICENCE-DejaVu.txt"} <= set(
        names
    )
    page = {
        path.relative_to(TOP).as_posix()
        for path in (TOP / "layout" / "writers" / "page").iterdir()
        if path.suffix in (".css", ".html", ".js")
    }
    assert len(page) >= 6
    assert page <= set(names)
    assert any("licenses" in name and "MIT" in name for name in names)


def test_public_names_are_no_modules():
    import layout

    files = {Path(name).stem for name in modules() if not name.startswith("cli/")}  # only a module of `layout` would be bound over a name
    assert not files & set(layout.__all__)
    for name in layout.__all__:
        assert getattr(layout, name) is not None


def test_public_names_are_declared_once():
    """The stub is the one declaration: as its syntax tree has it, every name is what stands under its name at home."""
    import importlib

    import layout

    body = ast.parse((TOP / "layout" / "__init__.pyi").read_text(encoding="utf-8")).body
    homes = {(each.name, each.asname): str(node.module) for node in body if isinstance(node, ast.ImportFrom) for each in node.names}
    public = {own: (own, module) for (own, name), module in homes.items() if name is not None}
    assert all(name in (None, own) for own, name in homes)
    for node in body:
        if isinstance(node, ast.Assign):
            assert isinstance(node.targets[0], ast.Name)
            assert isinstance(node.value, ast.Name)
            public[node.targets[0].id] = (node.value.id, homes[node.value.id, None])
    assert sorted(public) == layout.__all__ == dir(layout)
    assert len(public) > 150
    for name, (own, module) in public.items():
        assert getattr(layout, name) is getattr(importlib.import_module(module), own)
    for wrong in ("compare", "pairs_of", "import_module", "Mended_"):  # private to the stub, or not there at all
        with pytest.raises(AttributeError, match=wrong):
            getattr(layout, wrong)


FUNCTION_LINES, MODULE_LINES = 60, 400


def test_no_function_is_over_60_lines_and_no_module_over_400():
    """A function from `def` to its end, its signature and docstring within, none excepted."""
    seen, functions, files = 0, [], []
    for name in (*modules(), "layout/__init__.py", "layout/__init__.pyi"):
        text = (TOP / name).read_text(encoding="utf-8")
        if len(text.splitlines()) > MODULE_LINES:
            files.append((name, len(text.splitlines())))
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                seen += 1
                assert node.end_lineno is not None
                if node.end_lineno - node.lineno >= FUNCTION_LINES:
                    functions.append((name, node.name, node.end_lineno - node.lineno + 1))
    assert seen > 1500
    assert not functions
    assert not files


def test_public_functions_take_a_path_as_text_or_as_path(tmp_path):
    import layout

    named = 0
    for name in layout.__all__:
        call = getattr(layout, name)
        if not inspect.isfunction(call):
            continue
        for each in inspect.signature(call).parameters.values():
            kind = str(each.annotation)
            if "Path" in kind and name not in LOW:
                named += 1
                assert kind.removeprefix("Sequence[").startswith("str | Path"), (name, each)
    assert named >= 15
    text = str(TOP / "plans" / "canteen.toml")
    assert layout.read_plan(text) == layout.read_plan(Path(text))
    survey = tmp_path / "s.csv"
    survey.write_text("from,to,length\nA,B,3000\n", encoding="utf-8")
    assert layout.read_survey(str(survey)) == layout.read_survey(survey)


LOW = {"save_png", "save_workbook", "parse_plan", "stage_sheets"}
"""Write into a batch, or take the folder that a plan's other files lie in: called by programs, not by hand."""


def test_results_are_told_in_one_short_line():
    import datetime as dt

    import layout

    setout = layout.set_out(layout.read_plan(TOP / "plans" / "washbay.toml"))
    takeoff = layout.take_off(setout)
    programme = layout.plan_works(takeoff, start=dt.datetime(2026, 11, 30, 7))  # noqa: DTZ001  # working hours have no zone
    for result in (setout.plan, setout, setout.rooms[0], takeoff, programme):
        said = repr(result)
        assert said.startswith(f"<{type(result).__name__}")
        assert len(said) < 200
        assert "\n" not in said
