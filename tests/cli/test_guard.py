"""The outer guard: a fault of the tool's own is status 70 in one message; streams that are closed, full or speak other letters."""

from __future__ import annotations

import dataclasses
import io
import os
import subprocess
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

import layout
from cli.main import VERBS, app
from cli.report import explain_text, findings_text, setout_text, summary_text, takeoff_text
from cli.streams import printable, put_table
from tests.cli.test_cli import ROOM, VERSION
from tests.test_project import TOP

LINE = [sys.executable, "-c", "import sys; sys.argv[0] = 'gaugerod'; from cli.main import run_app; run_app()"]


@pytest.fixture
def plan(tmp_path):
    path = tmp_path / "a.toml"
    path.write_text(ROOM)
    return path


def boom(*_, **__):
    return 1 / 0


@pytest.mark.parametrize(
    "fault",
    [ZeroDivisionError("division by zero"), MemoryError(), RecursionError("too deep"), AttributeError("x\ny"), OSError(5, "worn out")],
)
@pytest.mark.parametrize("verb", ["setout", "check", "run", "takeoff"])
def test_a_fault_of_the_tools_own_is_seventy_in_one_message(plan, monkeypatch, verb, fault):
    def fails(*_):
        raise fault

    monkeypatch.setattr(layout, "set_out", fails, raising=False)
    said = CliRunner().invoke(app, [verb, str(plan)])
    assert said.exit_code == 70
    assert said.stdout == ""
    assert "Traceback" not in said.stderr
    assert "a fault of its own, not of your plan" in said.stderr
    assert len(said.stderr.splitlines()) == 2
    for word in (f"gaugerod {VERSION}", f"verb {verb}", "--trace"):
        assert word in said.stderr
    assert [path.name for path in plan.parent.iterdir()] == ["a.toml"]


def test_a_trace_is_written_beside_the_plan_and_never_over_one(plan, monkeypatch):
    monkeypatch.setattr(layout, "set_out", boom, raising=False)
    for k in (1, 2):
        said = CliRunner().invoke(app, ["setout", str(plan), "--trace"])
        assert said.exit_code == 70
        assert f"gaugerod-trace-{k}.txt" in said.stderr
        text = (plan.parent / f"gaugerod-trace-{k}.txt").read_text()
        assert "ZeroDivisionError" in text
        assert "in boom" in text
        assert "Traceback" not in said.stderr


def test_every_verb_is_guarded(monkeypatch, tmp_path):
    """Whatever a verb calls first of the engine or of itself fails: no verb ends with a trace or with status 1."""
    (tmp_path / "d.dxf").write_text("0")
    lines = {
        "new": ["a.toml", "--example", "canteen"],
        "read": ["d.dxf"],
        "batch": ["."],
        "schema": [],
        "doctor": ["--licences"],
        "changes": ["b.toml", "b.toml"],
        "record": ["b.toml", "--from", "b.toml"],
        "add": ["b.toml", "drain", "--from-walls", "1:500", "2:500"],
        "set": ["b.toml", "rooms.0.height", "2500"],
        "sheets": ["a.toml", "-o", "out"],
    }
    monkeypatch.chdir(tmp_path)
    for name in layout.__all__:
        if name[0].islower():
            monkeypatch.setattr(layout, name, boom, raising=False)
    (tmp_path / "b.toml").write_text(ROOM)
    for verb in VERBS:
        monkeypatch.setattr("cli.examine.licences_of_all", boom)
        said = CliRunner().invoke(app, [verb, *lines.get(verb, ["b.toml", *(["--start", "2026-11-30"] if verb == "programme" else [])])])
        assert said.exit_code == 70, (verb, said.output)
        assert f"verb {verb}" in said.stderr


def test_a_fault_outside_the_verbs(plan):
    code = "import sys; sys.argv = ['gaugerod', 'check']; import cli.main as m\nm.app = lambda: 1 // 0\nm.run_app()"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False, cwd=plan.parent)
    assert done.returncode == 70
    assert "Traceback" not in done.stderr
    assert "ZeroDivisionError" in done.stderr


def test_stopped_by_the_person(plan, monkeypatch):
    def stop(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr(layout, "set_out", stop, raising=False)
    said = CliRunner().invoke(app, ["run", str(plan), "-o", str(plan.parent / "out")])
    assert said.exit_code == 130
    assert said.stderr == "stopped\n"
    assert not (plan.parent / "out").exists()


@pytest.mark.skipif(os.name != "posix", reason="shells of another kind")
@pytest.mark.parametrize("arguments", ["setout PLAN", "takeoff PLAN --csv", "check PLAN --json", "schema"])
def test_standard_output_closed(plan, arguments):
    line = " ".join(f'"{each}"' for each in [*LINE, *arguments.replace("PLAN", str(plan)).split()])
    done = subprocess.run(f"{line} >&-", shell=True, capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert done.stderr == "standard output: it is closed; name a file with --out\n"


FULL = """
import errno, io, sys
class Full(io.RawIOBase):
    def writable(self):
        return True
    def write(self, data):
        raise OSError(errno.ENOSPC, "No space left on device")
sys.stdout = io.TextIOWrapper(io.BufferedWriter(Full()), encoding="utf-8")
sys.argv[0] = "gaugerod"
from cli.main import run_app
run_app()
"""


@pytest.mark.parametrize("arguments", [["setout", "PLAN"], ["takeoff", "PLAN", "--csv"], ["schema"]])
def test_standard_output_full(plan, arguments):
    line = [sys.executable, "-c", FULL, *[str(plan) if each == "PLAN" else each for each in arguments]]
    done = subprocess.run(line, capture_output=True, text=True, check=False)
    assert done.stderr.startswith("standard output: it cannot be written (No space left on device)")
    assert done.returncode == 2
    assert "Traceback" not in done.stderr


def test_standard_error_closed_does_not_stop_the_work(plan, tmp_path):
    line = " ".join(f'"{each}"' for each in [*LINE, "sheets", str(plan), "-o", str(tmp_path / "out"), "--format", "dxf"])
    done = subprocess.run(f"{line} 2>&-", shell=True, capture_output=True, text=True, check=False)
    assert done.returncode == 0
    assert (tmp_path / "out" / "a.dxf").stat().st_size > 1000


@pytest.mark.parametrize("encoding", ["cp1252", "ascii", "cp437", "latin-1"])
def test_a_terminal_with_other_letters(monkeypatch, encoding):
    """Every letter that our tables hold has a plainer one; what a person typed loses accents, and what is left a question mark."""
    setout = layout.set_out(layout.read_plan(TOP / "plans" / "washbay.toml"))
    takeoff = layout.take_off(setout)
    text = setout_text(setout, plain=True) + takeoff_text(takeoff, layout.place_orders(takeoff), plain=True)
    raw = io.BytesIO()
    monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(raw, encoding=encoding, newline="\n"))
    put_table(text)
    put_table("Küche ≥ 漢\n")
    said = raw.getvalue().decode(encoding).splitlines()
    assert "?" not in "".join(said[:-1])
    assert said[-1] in ("Küche >= ?", "Kuche >= ?", "Küche ≥ ?")
    assert len(said) == len(text.splitlines()) + 1


def test_data_is_utf8_whatever_the_terminal_speaks(plan):
    for arguments in (["takeoff", str(plan), "--csv"], ["setout", str(plan), "--json"], ["schema"]):
        texts = [
            subprocess.run([*LINE, *arguments], capture_output=True, check=True, env={**os.environ, "PYTHONIOENCODING": encoding}).stdout
            for encoding in ("cp1252", "utf-8")
        ]
        assert texts[0] == texts[1]
    done = subprocess.run([*LINE, "check", str(plan)], capture_output=True, check=False, env={**os.environ, "PYTHONIOENCODING": "ascii"})
    assert done.returncode == 0
    assert b"is valid" in done.stdout


HOSTILE = ["[/bold]", "[red]x[/red] [link=a]", "\x1b[31mred", "\u009b31mred", "a\rb\x07", ":smile:", "\u202eback", "a\u2028b"]


@pytest.mark.parametrize("name", [*HOSTILE, " ".join(HOSTILE)])
def test_names_are_data_on_the_terminal(name):
    """Each on a small room, all at once on one with every kind of table."""
    plan = layout.parse_plan(ROOM) if name in HOSTILE else layout.read_plan(TOP / "plans" / "washbay.toml")
    rooms = tuple(dataclasses.replace(room, name=name) for room in plan.rooms[:1])
    setout = layout.set_out(dataclasses.replace(plan, source=name, rooms=rooms, project=dataclasses.replace(plan.project, title=name)))
    takeoff = layout.take_off(setout)
    orders = layout.place_orders(takeoff)
    for text in (
        setout_text(setout, plain=False),
        findings_text(setout, plain=True),
        summary_text(setout, takeoff, orders, plain=True),
        takeoff_text(takeoff, orders, plain=True),
        explain_text(takeoff.items[0], orders, plain=True),
    ):
        assert printable(text) == text
    assert printable(name).split()[0] in setout_text(setout, plain=True).splitlines()[0]


def test_messages_are_data_on_the_terminal(tmp_path):
    (tmp_path / "\x1b[31m.toml").write_text("[[rooms]]\nname = 3\n")
    said = CliRunner().invoke(app, ["check", str(tmp_path / "\x1b[31m.toml")])
    assert said.exit_code == 2
    assert "\x1b" not in said.stderr
    assert "\\u001b[31m.toml" in said.stderr


def test_a_trace_that_can_be_written_nowhere_is_said(monkeypatch, plan):
    monkeypatch.setattr(layout, "read_plan", boom, raising=False)
    monkeypatch.setattr(Path, "open", lambda path, mode="r", *more, **named: (boom_os if mode == "x" else OPEN)(path, mode, *more, **named))
    said = CliRunner().invoke(app, ["setout", str(plan), "--trace"])
    assert said.exit_code == 70
    assert "can be written neither beside the plan nor here" in said.stderr
    assert "ZeroDivisionError" in said.stderr


OPEN = Path.open


def boom_os(*_, **__):
    raise PermissionError(13, "not yours")


@pytest.mark.parametrize("verb", ["setout", "check", "run"])
def test_a_name_longer_than_a_system_has_is_bad_input(verb):
    said = CliRunner().invoke(app, [verb, "a" * 5000])
    assert said.exit_code == 2
    assert "it cannot be read (File name too long)" in said.stderr
