"""What people expect of a command: help with examples, - for the streams, JSON everywhere, widths kept, quiet that is quiet, a bar when it takes long."""

from __future__ import annotations

import inspect
import json
import shlex
import time
from dataclasses import replace

import pytest
import typer
from typer.testing import CliRunner

import layout
from cli import waiting
from cli.help import examples_of
from cli.main import BARS, VERBS, app
from cli.report import setout_text
from layout.joints.values import Rejected
from layout.readers.planfile import parse_plan
from layout.setout.conduct import set_out
from tests.test_project import TOP

ROOM = '[[rooms]]\nname = "A"\noutline = [[0, 0], [2000, 0], [2000, 1500], [0, 1500]]\n'


def run(*arguments, typed=None, env=None):
    return CliRunner().invoke(app, list(arguments), input=typed, env=env)


@pytest.mark.parametrize("verb", VERBS)
def test_every_verb_shows_examples_that_can_be_typed(verb):
    said = run(verb, "--help", env={"COLUMNS": "80"})
    assert said.exit_code == 0
    examples = examples_of(VERBS[verb])
    assert len(examples) >= 2
    command = typer.main.get_command(app)
    for line, words in examples:
        assert f"gaugerod {line}" in said.stdout
        assert words in said.stdout
        name, *arguments = [each for each in shlex.split(line.partition(" < ")[0]) if each]
        assert name == verb
        command.get_command(None, verb).make_context(verb, arguments)  # type: ignore[attr-defined]  # it is a group


@pytest.mark.parametrize("verb", VERBS)
def test_every_verb_gives_json_and_groups_its_options(verb):
    assert "as_json" in inspect.signature(VERBS[verb]).parameters
    own, _, rest = run(verb, "--help").stdout.partition("The answer:\n")
    answer, _, always = rest.partition("Always:\n")
    assert "  --json" in answer
    assert "  --json " not in own
    assert "-q, --quiet" in always
    assert "Examples:" in always


@pytest.mark.parametrize(("typed", "words"), [
    (["setuot"], "Did you mean 'setout'"), (["setout", "--jsn", "a"], "--json"), (["check", "--explain", "pnd"], "did you mean pond?"),
    (["new", "-", "--example", "cantine"], "did you mean canteen?"),
])  # fmt: skip
def test_a_slip_is_answered_with_what_may_be_meant(typed, words):
    said = run(*typed)
    assert said.exit_code == 2
    assert words in said.stderr


def test_a_plan_comes_from_standard_input_and_answers_go_to_standard_output(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert run("check", "-", typed=ROOM).stdout.startswith("standard input is valid")
    assert json.loads(run("setout", "-", "--json", "-o", "-", typed=ROOM).stdout)["rooms"][0]["name"] == "A"
    assert run("setout", "-", "--set", "rooms.0.tanking_height=300", typed=ROOM).exit_code == 0  # it is read twice
    assert run("check", "-", typed="rooms = 3\n").stderr.startswith("standard input: rooms")
    assert run("check", "-", typed="").stderr.startswith("standard input: it is empty")
    assert run("takeoff", "-", "--xlsx", "-o", "-", typed=ROOM).stderr.startswith("--out: a workbook cannot go to standard output")
    monkeypatch.setattr("layout.draw_sheets", lambda setout, takeoff, *_, **__: (layout.draw_first(setout, takeoff),))
    said = run("sheets", "-", "-o", "out", "--format", "svg", "--json", "--quiet", typed=ROOM)
    record = json.loads(said.stdout)
    assert "plan-01-setting-out.svg" in record["files"]
    assert sorted(record["files"]) == sorted(each.name for each in (tmp_path / "out").iterdir() if not each.name.startswith("."))
    assert said.stderr == ""


@pytest.mark.parametrize("columns", [60, 90, 130])
def test_tables_keep_the_width_that_is_asked_for_in_pipes(columns, monkeypatch):
    monkeypatch.setenv("COLUMNS", str(columns))
    text = setout_text(set_out(parse_plan(ROOM)), plain=True)
    assert max(len(line) for line in text.splitlines()) <= columns


def test_nothing_is_told_twice():
    setout = set_out(parse_plan(ROOM.replace("2000", "9000")))
    start, floor = setout.rooms[0].floor.start, setout.rooms[0].floor
    runner = layout.set_out(parse_plan(ROOM)).rooms[0].floor.start.runners_up[0]
    object.__setattr__(start, "runners_up", (runner, runner))
    cut = Rejected(lines=(), what="through the corner", why="a bay too long", by_rule="a bay too long")
    object.__setattr__(floor, "rejected", (cut, cut, replace(cut, what="on the column line")))
    text = " ".join(setout_text(setout, plain=True).split())
    assert text.count("next best") == 1
    assert text.count("not taken") == text.count("a bay too long") == 1
    assert "not taken, through the corner and on the column line: a bay too long" in text


def test_a_bar_comes_up_only_where_work_takes_long_and_goes_at_the_first_word(monkeypatch):
    shown = []
    monkeypatch.setattr(waiting, "AFTER", 0.02)
    monkeypatch.setattr(waiting.Waiting, "_show", lambda self: shown.append(self.words) if self._timer is not None else None)

    class Terminal:
        def isatty(self):
            return True

        def write(self, text):
            return len(text)

        def flush(self):
            pass

    monkeypatch.setattr("sys.stderr", Terminal())
    with waiting.waiting("setting out", wanted=True):
        pass
    assert shown == []
    with waiting.waiting("setting out", wanted=True):
        waiting.hush()
        time.sleep(0.06)
    assert shown == []
    with waiting.waiting("setting out", wanted=False):
        time.sleep(0.06)
    assert shown == []
    with waiting.waiting("setting out", wanted=True):
        time.sleep(0.06)
    assert shown == ["setting out"]
    assert set(BARS) <= set(VERBS)


def test_places_where_water_stands_are_counted_in_words():
    setout = layout.set_out(layout.read_plan(TOP / "plans" / "washbay.toml"))
    levels = setout.rooms[0].levels
    assert levels is not None
    assert len(levels.ponds) == 1
    assert "; water stands in 1 place\n" in setout_text(setout, plain=True)
    twice = replace(setout, rooms=(replace(setout.rooms[0], levels=replace(levels, ponds=levels.ponds * 2)),))
    assert "; water stands in 2 places\n" in setout_text(twice, plain=True)
