"""Many plans at once: one line each, a bad one told without spoiling the rest."""

from __future__ import annotations

import csv
import io
import json
import multiprocessing
import os
import shutil
import signal

import openpyxl
import pytest
from typer.testing import CliRunner

import layout
from cli.kept import NAME
from cli.main import app
from layout.jobs import runner
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
    said = CliRunner().invoke(app, ["batch", str(folder)], env={"COLUMNS": "120"})
    assert said.exit_code == 2
    assert "not set out" in said.stdout
    assert "p6.toml" in said.stdout
    assert "p3.toml: rooms[0].outline" in said.stderr
    assert "Traceback" not in said.stderr


def test_an_example_plan_as_a_batch_beside_files_that_are_no_plans(tmp_path):
    shutil.copytree(
        TOP / "plans", tmp_path, dirs_exist_ok=True, ignore=shutil.ignore_patterns("brew*", "wash*", "cold*", "kitchen*", "labo*", "*.png")
    )
    said = CliRunner().invoke(app, ["batch", str(tmp_path)])
    assert said.exit_code == 0
    assert "1 plans" in said.stdout
    assert "One order for all plans" in said.stdout


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
    monkeypatch.setattr(runner, "set_out", spoilt(way, *names))
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
    monkeypatch.setattr(runner, "set_out", spoilt("crashed", "p0.toml"))
    said = CliRunner().invoke(app, ["batch", str(tmp_path)], env={"COLUMNS": "120"})
    assert said.exit_code == 70
    assert "not set out" in said.stdout


def test_a_batch_goes_on_where_it_was_stopped(folder, monkeypatch):
    monkeypatch.setattr(runner, "set_out", spoilt("crashed", "p2.toml"))
    first = CliRunner().invoke(app, ["batch", str(folder), "--json", "--workers", "1"])
    assert first.exit_code == 70
    assert "--resume" in first.stderr
    with (folder / NAME).open("a", encoding="utf-8") as file:
        file.write('{"state": "cut off in the mid')
    done: list[str] = []

    def watched(plan):
        done.append(plan.source)
        return REAL(plan)

    (folder / "p5.toml").write_text(ROOM.format(w=4000), encoding="utf-8")
    (folder / "p2.toml").unlink()
    monkeypatch.setattr(runner, "set_out", watched)
    said = CliRunner().invoke(app, ["batch", str(folder), "--resume", "--json"])
    assert said.exit_code == 0, said.stderr
    assert done == ["p5.toml"]  # the only plan that is not done as it is now
    assert "5 of 6 plans are done already" in said.stderr
    assert not (folder / NAME).exists()
    fresh = CliRunner().invoke(app, ["batch", str(folder), "--json"])
    assert json.loads(said.stdout) == json.loads(fresh.stdout)


def test_the_summary_is_a_workbook_or_csv_by_its_suffix(folder, tmp_path):
    kept = [p for p in sorted(folder.glob("*.toml")) if p.stem not in ("p0", "p1")]
    for path in kept:
        path.unlink()
    out = tmp_path / "out"
    out.mkdir()
    rates = out / "r.toml"
    rates.write_text('currency = "EUR"\n[rates]\nprimer = { rate = 8.4, unit = "kg" }\n', encoding="utf-8")
    for name in ("s.xlsx", "s.csv"):
        said = CliRunner().invoke(app, ["batch", str(folder), "--rates", str(rates), "-o", str(out / name)])
        assert said.exit_code == 0, said.stderr
    book = openpyxl.load_workbook(out / "s.xlsx")
    assert book.sheetnames == ["Plans", "Order", "By plan", "Saw list"]
    rows = list(csv.DictReader(io.StringIO((out / "s.csv").read_text(encoding="utf-8"))))
    assert [row["plan"] for row in rows] == ["p0.toml", "p1.toml"] == [book["Plans"][f"A{k}"].value for k in (5, 6)]
    # p0: 3.0 x 2.0 m tanked 150 high: 6 + 2 x 5.0 x 0.15 = 7.5 m2 of primer at 0.4 kg and 8.40
    assert float(rows[0]["amount"]) == pytest.approx(7.5 * 0.4 * 8.40, abs=0.01)


def test_a_plan_that_another_takes_in_is_counted_once(tmp_path):
    (tmp_path / "room.toml").write_text(ROOM.format(w=3000), encoding="utf-8")
    alone = json.loads(CliRunner().invoke(app, ["batch", str(tmp_path), "--json"]).stdout)
    (tmp_path / "job.toml").write_text('[[include]]\nfile = "room.toml"\n', encoding="utf-8")
    said = CliRunner().invoke(app, ["batch", str(tmp_path), "--json"])
    both = json.loads(said.stdout)
    assert "counted where they are taken in: room.toml" in said.stderr
    assert [plan["plan"] for plan in both["plans"]] == ["job.toml"]
    assert [(row["key"], row["packs"]) for row in both["orders"]] == [(row["key"], row["packs"]) for row in alone["orders"]]
