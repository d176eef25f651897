"""Talk where a person looks on: progress, questions about a drawing's layers; silence where nobody does."""

from __future__ import annotations

import pytest
from ezdxf.filemanagement import new
from typer.testing import CliRunner

from cli import talk
from cli.main import app
from cli.talk import Talk


@pytest.mark.parametrize("looked_on", [True, False])
def test_rows_come_through_a_progress_bar_unchanged(monkeypatch, capsys, looked_on):
    monkeypatch.setattr(talk, "_looked_on", lambda: looked_on)
    assert Talk().watched(iter(range(5)), 5, "setting out") == list(range(5))
    with Talk().progress(2, "drawing") as told:
        told()
        told()
    said = capsys.readouterr()
    assert said.out == ""
    assert ("drawing …" in said.err) != looked_on
    with Talk(quiet=True).progress(2, "drawing") as told:
        told()
    assert capsys.readouterr().err == ""


@pytest.fixture
def drawing(tmp_path):
    doc = new("R2010")
    doc.header["$INSUNITS"] = 4
    space = doc.modelspace()
    for layer, ring in (("XQ-7", [(0, 0), (4000, 0), (4000, 3000), (0, 3000)]), ("NOTE-9", [(9000, 0), (9100, 0)])):
        for a, b in zip(ring, [*ring[1:], ring[0]], strict=True):
            space.add_line(a, b, dxfattribs={"layer": layer})
    doc.saveas(tmp_path / "d.dxf")
    return tmp_path / "d.dxf"


@pytest.mark.parametrize(("typed", "status", "rooms"), [("1\n", 0, 1), ("1, 9, x\n", 0, 1), ("2\n", 2, 0), ("", 130, 0)])
def test_a_person_is_asked_which_layers_hold_the_walls(drawing, monkeypatch, typed, status, rooms):
    monkeypatch.setattr("cli.verbs.read._answered", lambda: True)
    said = CliRunner().invoke(app, ["read", str(drawing), "-o", str(drawing.parent / "out")], input=typed)
    assert said.exit_code == status, said.output
    assert "1  XQ-7  (4 lines)" in said.stderr
    written = sorted(path.name for path in (drawing.parent / "out").glob("*.toml"))
    assert written == (["d.toml", "room-1.toml"] if rooms else [])  # the job, and its room


def test_nobody_is_asked_where_nobody_sits(drawing):
    said = CliRunner().invoke(app, ["read", str(drawing), "-o", str(drawing.parent / "out")], input="1\n")
    assert said.exit_code == 2
    assert "walls are on layers" not in said.stderr
    assert not (drawing.parent / "out").exists()


@pytest.mark.parametrize(("arguments", "words"), [
    (["d.dwg"], "its ending '.dwg' is none that is read"),
    (["d.dxf", "--units", "ell"], "'ell' found; give one of"),
    (["d.ifc", "--units", "mm"], "a model states its own"),
    (["d.dxf", "--walls", "XQ-7", "--room", "Nave"], "there is no room Nave"),
])  # fmt: skip
def test_what_cannot_be_read_is_told(drawing, monkeypatch, arguments, words):
    monkeypatch.chdir(drawing.parent)
    said = CliRunner().invoke(app, ["read", *arguments])
    assert said.exit_code == 2
    assert words in said.stderr
