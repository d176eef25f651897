"""`watch`: a plan saved, spoilt, mended; what changed in a line; a clean end. And the whole at a terminal."""

from __future__ import annotations

import json
import os
import signal

import pytest
from typer.testing import CliRunner

from cli.main import app
from cli.verbs import watch
from tests.cli.test_dialogue import Terminal

ROOM = '[[rooms]]\nname = "A"\noutline = [[0, 0], [2000, 0], [2000, 1500], [0, 1500]]\n'


@pytest.fixture
def saved(tmp_path, monkeypatch):
    """A plan that a person saves again and again while it is watched: one text each time that the watcher waits."""
    plan = tmp_path / "a.toml"
    plan.write_text(ROOM, encoding="utf-8")
    monkeypatch.setattr(watch, "_drawn", lambda *_: b"picture")

    def run(*texts, arguments=()):
        left = iter(texts)

        def wait(seconds):
            if seconds == watch.PATIENCE:
                return
            text = next(left, None)
            if text is None:
                raise KeyboardInterrupt
            plan.write_text(text, encoding="utf-8")

        monkeypatch.setattr("cli.verbs.watch.time.sleep", wait)
        return CliRunner().invoke(app, ["watch", str(plan), *arguments])

    return run


def test_each_save_is_told_in_a_line_and_a_fault_is_watched_on(saved, tmp_path):
    said = saved(ROOM.replace("2000", "2100"), ROOM.replace("2000", "twenty"), ROOM.replace("2000", "2100") + "# mended\n")
    assert said.exit_code == 0
    lines = said.stdout.splitlines()
    assert len(lines) == 3
    assert "watching a.toml" in lines[0]
    assert "A: " in lines[1]
    assert "narrowest cut" in lines[1]
    assert "mended, as before" in lines[2]
    assert "a.toml: not TOML" in said.stderr
    assert said.stderr.endswith("no longer watched\n")
    assert (tmp_path / "a-watch.png").read_bytes() == b"picture"


def test_as_json_each_save_is_a_record(saved):
    said = saved(ROOM.replace("2000", "2100"), arguments=("--json", "--quiet"))
    first, second = (json.loads(line) for line in said.stdout.splitlines())
    assert first["changes"] is None
    assert second["changes"]["changed"]
    assert said.stderr == ""


def test_another_persons_picture_is_not_written_over(saved, tmp_path):
    (tmp_path / "mine.png").write_bytes(b"mine")
    said = saved(arguments=("-o", str(tmp_path / "mine.png")))
    assert said.exit_code == 2
    assert (tmp_path / "mine.png").read_bytes() == b"mine"


def test_at_a_terminal_it_ends_cleanly(tmp_path):
    (tmp_path / "a.toml").write_text(ROOM, encoding="utf-8")
    at = Terminal(tmp_path, "watch", "a.toml", "--dpi", "30")
    at.read("watching a.toml")
    os.killpg(at.process.pid, signal.SIGINT)
    assert at.end() == 0
    assert "no longer watched" in at.seen
    assert (tmp_path / "a-watch.png").read_bytes()[:4] == b"\x89PNG"
