"""Slips and damaged files as a person meets them: one message with what would be right, status 2, nothing written, at once."""

from __future__ import annotations

import json
import os
import threading

import pytest
from typer.testing import CliRunner

from cli.main import app
from tests.cli.test_cli import ROOM

MANY, LONG = "9" * 5000, "9" * 400
RATE = 'currency = "EUR"\n[rates]\nmembrane = {{ rate = {}, unit = "kg" }}\n'
SETOUT = ["setout", "p.toml"]
RATED = ["takeoff", "p.toml", "--rates", "r.toml"]
READ = ["read", "g.geojson", "-o", "out", "--units", "m"]
SURVEYED = ["new", "n.toml", "--survey", "s.csv"]
RING = "[[[0, 0], [3, 0], [3, 2], [0, 2], [0, 0]]]"


def survey(corner):
    return f"from,to,length\n{corner},B,3000\nB,C,2000\nC,{corner},3605.55\n"


TOLD = [
    ({"p.toml": f"[rules]\nwall_tolerance = {MANY}\n{ROOM}"}, SETOUT, "p.toml: line 2 holds a number of 5,000 digits"),
    ({"p.toml": f'products_file = "f.toml"\n{ROOM}', "f.toml": f"tape_roll_m = {MANY}\n"}, SETOUT, "f.toml: line 1 holds a number of 5,000"),
    ({"p.toml": ROOM, "r.toml": RATE.format(MANY)}, RATED, "r.toml: line 3 holds a number of 5,000 digits"),
    ({"g.geojson": f'{{"type": "Polygon", "coordinates": [[[0, 0], [{MANY}, 0]]]}}'}, READ, "g.geojson: line 1 holds a number of 5,000"),
    ({"p.toml": f"[sealant]\nmovement_class = {LONG}\n{ROOM}"}, SETOUT, "sealant.movement_class: a whole number of some 400 digits found"),
    ({"p.toml": f"[products]\ntape_roll_m = {LONG}\n{ROOM}"}, SETOUT, "products.tape_roll_m: a whole number of some 400 digits found"),
    ({"p.toml": ROOM, "r.toml": RATE.format(LONG)}, RATED, "rates.'membrane'.rate: a whole number of some 400 digits found"),
    ({"p.toml": f"[tiles.floor]\nsize = [1e-9, 200]\n{ROOM}"}, SETOUT, "0 mm is no side of a tile; give 1 to 5000 mm"),
    ({"p.toml": f'products_file = "f.toml"\n{ROOM}', "f.toml": f"x = {'[' * 3000}{']' * 3000}"}, SETOUT, "f.toml: its lists or tables are nested"),
    ({"s.csv": f"from,to,length\nA,B,{'x' * 140_000}\n"}, SURVEYED, "s.csv: line 2: 140,004 letters are over the bound of 1,000"),
    ({"s.csv": survey("1" * 5000)}, SURVEYED, "s.csv: line 2: 5,007 letters are over the bound"),
    ({"s.csv": survey("1" * 500)}, SURVEYED, "s.csv: line 2: a corner called"),
    ({"g.geojson": '{"type": "FeatureCollection", "features": 7}'}, READ, "g.geojson: it holds no polygon"),
    ({"g.geojson": '{"type": "Polygon", "coordinates": 7}'}, READ, "g.geojson: it holds no polygon"),
    ({"p.toml": ROOM.replace("[3000, 2000]", "[2000000, 2000]")}, SETOUT, "corner 3 is 1,997 m from its neighbours; is there a zero too many"),
    ({"p.toml": ROOM, "m.csv": "from,to,length\n2,3,20010\n"}, ["new", "n.toml", "--plan", "p.toml", "--measured", "m.csv"], "is a digit wrong?"),
]  # fmt: skip
"""Files, the line that is typed, and what is told."""


@pytest.mark.parametrize(("files", "line", "words"), TOLD, ids=[f"{k}-{words[:40]}" for k, (_, _, words) in enumerate(TOLD)])
def test_a_slip_is_told_with_status_two_and_nothing_is_written(tmp_path, monkeypatch, files, line, words):
    monkeypatch.chdir(tmp_path)
    for name, text in files.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    said = CliRunner().invoke(app, line)
    assert said.exit_code == 2, said.output
    assert words in said.stderr
    assert said.stdout == ""
    assert "Traceback" not in said.stderr
    assert {path.name for path in tmp_path.iterdir()} == set(files)


TAKEN = {
    "properties a list": f'{{"type": "Feature", "properties": [1], "geometry": {{"type": "Polygon", "coordinates": {RING}}}}}',
    "properties a text": f'{{"type": "Feature", "properties": "x", "geometry": {{"type": "Polygon", "coordinates": {RING}}}}}',
    "half a letter": f'{{"type": "Feature", "properties": {{"name": "\\ud800"}}, "geometry": {{"type": "Polygon", "coordinates": {RING}}}}}',
}


@pytest.mark.parametrize("what", TAKEN)
def test_a_room_is_read_whatever_stands_beside_it(tmp_path, monkeypatch, what):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "g.geojson").write_text(TAKEN[what], encoding="utf-8")
    said = CliRunner().invoke(app, READ)
    assert said.exit_code == 0, said.output
    assert "[3000, 2000]" in (tmp_path / "out" / "room-1.toml").read_text(encoding="utf-8")


def test_a_corner_may_be_called_by_any_sign(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "s.csv").write_text(survey("²"), encoding="utf-8")
    assert CliRunner().invoke(app, SURVEYED).exit_code == 0
    assert (tmp_path / "n.toml").exists()


@pytest.mark.parametrize("name", ["house", "house.toml"])
def test_a_plan_that_names_a_pipe_is_told(tmp_path, monkeypatch, name):
    monkeypatch.chdir(tmp_path)
    os.mkfifo(tmp_path / name)
    (tmp_path / "p.toml").write_text(f'products_file = "{name}"\n{ROOM}', encoding="utf-8")
    said = CliRunner().invoke(app, SETOUT)
    assert said.exit_code == 2
    assert f"{name}: it is a pipe or a device, not a file" in said.stderr


def test_an_answer_goes_through_a_pipe_and_along_a_link(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "p.toml").write_text(ROOM, encoding="utf-8")
    os.mkfifo(tmp_path / "pipe")
    got: list[str] = []
    reader = threading.Thread(target=lambda: got.append((tmp_path / "pipe").read_text(encoding="utf-8")), daemon=True)
    reader.start()
    assert CliRunner().invoke(app, [*SETOUT, "--json", "-o", "pipe"]).exit_code == 0
    reader.join(timeout=60)
    assert (tmp_path / "pipe").is_fifo()
    (tmp_path / "real.json").touch(mode=0o600)
    (tmp_path / "link.json").symlink_to("real.json")
    assert CliRunner().invoke(app, [*SETOUT, "--json", "-o", "link.json"]).exit_code == 0
    assert (tmp_path / "link.json").is_symlink()
    assert (tmp_path / "real.json").stat().st_mode & 0o777 == 0o600
    assert json.loads((tmp_path / "real.json").read_text(encoding="utf-8")) == json.loads(got[0])
