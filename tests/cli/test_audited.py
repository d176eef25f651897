"""Every run and every set of sheets is audited before a file is written; a breach stands on screen, sheets and records."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from typer.testing import CliRunner

import layout
from cli.main import app
from tests.rooms import plan_text

pytestmark = pytest.mark.usefixtures("undrawn")

ROOM = {"name": "Room", "outline": [[0, 0], [1500, 0], [1500, 1200], [0, 1200]]}


@pytest.fixture
def path(tmp_path):
    file = tmp_path / "room.toml"
    file.write_text(plan_text(ROOM), encoding="utf-8")
    return file


@pytest.fixture
def lying(monkeypatch):
    """An engine that tells a cut wider than it lays."""
    real = layout.set_out

    def set_out(plan):
        setout = real(plan)
        floor = setout.rooms[0].surfaces[0]
        floor = replace(floor, start=replace(floor.start, smallest=floor.start.smallest + 10.0))
        return replace(setout, rooms=(replace(setout.rooms[0], surfaces=(floor,)),))

    monkeypatch.setattr(layout, "set_out", set_out)


def test_a_sound_run_says_nothing_of_its_audit(path, tmp_path):
    made = CliRunner().invoke(app, ["run", str(path), "-o", str(tmp_path / "out"), "--dpi", "30"])
    assert made.exit_code == 0, made.output
    record = json.loads((tmp_path / "out" / "room-setout.json").read_text(encoding="utf-8"))
    assert "audit" not in {warning["code"] for warning in record["rooms"][0]["warnings"]}


@pytest.mark.usefixtures("lying")
def test_a_run_that_tells_an_untrue_figure_says_so_in_its_records(path, tmp_path):
    made = CliRunner().invoke(app, ["run", str(path), "-o", str(tmp_path / "out"), "--dpi", "30"])
    assert made.exit_code == 0, made.output
    record = json.loads((tmp_path / "out" / "room-setout.json").read_text(encoding="utf-8"))
    (found,) = [warning for warning in record["rooms"][0]["warnings"] if warning["code"] == "audit"]
    assert "do not build" in found["text"]
    assert "do not build" in " ".join(made.output.split())


@pytest.mark.usefixtures("lying")
def test_a_plan_may_make_it_binding(path, tmp_path):
    path.write_text(plan_text(ROOM, rules={"binding": ["audit"]}), encoding="utf-8")
    made = CliRunner().invoke(app, ["sheets", str(path), "-o", str(tmp_path / "out"), "--format", "svg"])
    assert made.exit_code == 1, made.output
