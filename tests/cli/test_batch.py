"""Many plans at once: one line each, a bad one told without spoiling the rest."""

from __future__ import annotations

import json
import multiprocessing
import os
import signal

import pytest
from typer.testing import CliRunner

import layout
from cli.main import app
from tests.test_project import TOP

ROOM = '[[rooms]]\nname = "A"\noutline = [[0, 0], [{w}, 0], [{w}, 2000], [0, 2000]]\n'


@pytest.fixture
def folder(tmp_path):
    for k in range(7):
        (tmp_path / f"p{k}.toml").write_text(ROOM.format(w=3000 + 100 * k), encoding="utf-8")
    return tmp_path


def test_every_plan_has_a_line_in_order(folder):
    said = CliRunner().invoke(app, ["batch", str(folder), "--json"])
    assert said.exit_code == 0
    record = json.loads(said.stdout)
    assert record["schema"] == "gaugerod/batch/1"
    assert [row["plan"] for row in record["plans"]] == [f"p{k}.toml" for k in range(7)]
    assert [row["floor_m2"] for row in record["plans"]] == pytest.approx([6.0 + 0.2 * k for k in range(7)])


def test_a_bad_plan_is_told_and_the_rest_is_done(folder):
    (folder / "p3.toml").write_text("[[rooms]]\noutline = [[0, 0], [1, 1]]\n", encoding="utf-8")
    said = CliRunner().invoke(app, ["batch", str(folder)])
    assert said.exit_code == 2
    assert "not set out" in said.stdout
    assert "p6.toml" in said.stdout
    assert "p3.toml: rooms[0].outline" in said.stderr
    assert "Traceback" not in said.stderr


def test_the_example_plans_as_a_batch():
    said = CliRunner().invoke(app, ["batch", str(TOP / "plans")])
    assert said.exit_code == 0
    assert "3 plans" in said.stdout


@pytest.mark.parametrize("name", ["nowhere", "."])
def test_a_folder_without_plans_is_told(name, tmp_path):
    said = CliRunner().invoke(app, ["batch", str(tmp_path / name)])
    assert said.exit_code == 2
    assert said.stdout == ""


REAL = layout.set_out


def spoilt(way, *names):
    """A set-out that fails on plans of some names."""

    def fails(plan):
        if plan.source in names:
            if way == "killed":
                os.kill(os.getpid(), signal.SIGKILL)
            raise ZeroDivisionError(way)
        return REAL(plan)

    return fails


@pytest.mark.skipif(multiprocessing.get_start_method() != "fork", reason="workers do not see what the test spoils")
@pytest.mark.parametrize("way", ["crashed", "killed"])
@pytest.mark.parametrize("names", [("p0.toml",), ("p3.toml", "p4.toml"), ("p6.toml",)])
def test_a_plan_that_brings_its_worker_down_takes_no_other_along(folder, monkeypatch, way, names):
    good = json.loads(CliRunner().invoke(app, ["batch", str(folder), "--json"]).stdout)["plans"]
    monkeypatch.setattr(layout, "set_out", spoilt(way, *names), raising=False)
    said = CliRunner().invoke(app, ["batch", str(folder), "--json"])
    assert said.exit_code == 70
    rows = json.loads(said.stdout)["plans"]
    assert [row["plan"] for row in rows] == [row["plan"] for row in good]
    for row, was in zip(rows, good, strict=True):
        if row["plan"] in names:
            assert row["own_fault"]
            assert row["fault"].splitlines()[0] in said.stderr
            assert ("ZeroDivisionError" in row["fault"]) == (way == "crashed")
        else:
            assert row == was
    assert "Traceback" not in said.stderr


def test_a_single_plan_that_crashes(tmp_path, monkeypatch):
    (tmp_path / "p0.toml").write_text(ROOM.format(w=3000), encoding="utf-8")
    monkeypatch.setattr(layout, "set_out", spoilt("crashed", "p0.toml"), raising=False)
    said = CliRunner().invoke(app, ["batch", str(tmp_path)])
    assert said.exit_code == 70
    assert "not set out" in said.stdout
