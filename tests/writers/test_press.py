"""Pages drawn by two processes: the same files as by one, whatever becomes of the second."""

from __future__ import annotations

import dataclasses
import io
import os
import pickle
import signal
import struct
import sys
import zlib

import numpy as np
import pytest

import layout
from layout.errors import OutputError
from layout.writers import pictures, press
from layout.writers.files import whole_or_nothing
from layout.writers.save import stage_sheets

DPI = 30


@pytest.fixture(scope="module")
def sheets():
    setout = layout.set_out(layout.parse_plan("[[rooms]]\noutline = [[0, 0], [1200, 0], [1200, 900], [0, 900]]\n"))
    drawn = layout.draw_sheets(setout, layout.take_off(setout), paper="A4")
    return tuple(sheet for sheet in drawn if sheet.title in ("Membrane and tape", "Movement joints and sealant", "Details"))[:3]


def files_of(sheets, folder, formats=("pdf", "png")):
    """Every file's bytes by its name, how many steps were told, and what was said."""
    told = []
    with whole_or_nothing(folder) as batch:
        stage_sheets(batch, sheets, "booth", formats, dpi=DPI, told=lambda: told.append(1))
        names, said = batch.names, batch.said
    return {name: (folder / name).read_bytes() for name in names}, len(told), said


@pytest.fixture(scope="module")
def alone(sheets, tmp_path_factory):
    return files_of(sheets, tmp_path_factory.mktemp("alone"))


@pytest.fixture
def two(monkeypatch):
    """Two cores, whatever the machine has, and a set of any size is worth the second process."""
    monkeypatch.setattr(press, "cores", lambda: 2)
    monkeypatch.setattr(press, "WORTH", 0.0)


@pytest.mark.usefixtures("two")
def test_two_processes_write_the_bytes_that_one_writes(sheets, alone, tmp_path):
    files, told, said = files_of(sheets, tmp_path)
    assert len(files) == len(sheets) + 1
    assert list(files) == list(alone[0])
    assert files == alone[0]
    assert told == alone[1] == 2 * len(sheets)
    assert not said


@pytest.mark.usefixtures("two")
@pytest.mark.parametrize("line", ["import os, signal; os.kill(os.getpid(), signal.SIGKILL)", "import sys; sys.exit(3)"])
def test_a_second_process_that_ends_is_told_and_its_pages_are_drawn(sheets, alone, tmp_path, monkeypatch, line):
    monkeypatch.setattr(press, "LINE", line)
    files, told, said = files_of(sheets, tmp_path)
    assert files == alone[0]
    assert told == alone[1]
    assert len(said) == 1
    assert ("SIGKILL" if "kill" in line else "status 3") in said[0]
    assert "all pages were drawn" in said[0]


@pytest.mark.usefixtures("two")
def test_one_that_is_killed_with_a_page_in_hand_loses_none(sheets, alone, tmp_path, monkeypatch):
    finish = press.Press.finish

    def kill_then_finish(self, step):
        os.kill(self.process.pid, signal.SIGKILL)
        finish(self, step)

    monkeypatch.setattr(press.Press, "finish", kill_then_finish)
    files, told, _ = files_of(sheets, tmp_path, formats=("png",))
    assert files == {name: data for name, data in alone[0].items() if name.endswith("png")}
    assert told == len(sheets)


@pytest.mark.usefixtures("two")
def test_one_that_cannot_start_is_told_and_the_set_is_drawn(sheets, alone, tmp_path, monkeypatch):
    monkeypatch.setattr(sys, "executable", str(tmp_path / "no-such-program"))
    files, _, said = files_of(sheets, tmp_path / "out")
    assert files == alone[0]
    assert "could not be started" in said[0]


@pytest.mark.usefixtures("two")
def test_a_fault_of_a_page_is_the_sets_fault_and_nothing_is_written(sheets, tmp_path):
    broken = dataclasses.replace(sheets[0], needed=("no such word",))
    with pytest.raises(OutputError, match="'no such word' is not on it"), whole_or_nothing(tmp_path / "out") as batch:
        stage_sheets(batch, (broken, *sheets[1:]), "booth", ("png",), dpi=DPI)
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(("count", "least"), [(1, 0.0), (2, 1e12)])
def test_one_core_or_a_small_set_starts_no_second_process(sheets, tmp_path, monkeypatch, count, least):
    monkeypatch.setattr(press, "cores", lambda: count)
    monkeypatch.setattr(press, "WORTH", least)
    with press.pressed(sheets, [tmp_path / "x.png"] * len(sheets), DPI, []) as second:
        assert second is None


def test_pages_are_served_until_no_more_are_asked_for(sheets, alone, tmp_path):
    asked, answers = io.BytesIO(), io.BytesIO()
    for value in ((sheets, DPI), (0, tmp_path / "0.png"), (1, tmp_path / "none" / "1.png")):
        pickle.dump(value, asked)
    asked.seek(0)
    press.serve(asked, answers)
    answers.seek(0)
    assert pickle.load(answers) is None
    assert isinstance(pickle.load(answers), FileNotFoundError)
    first = next(data for name, data in alone[0].items() if name.endswith(f"{sheets[0].name}.png"))
    assert (tmp_path / "0.png").read_bytes() == first


@pytest.mark.parametrize("library", ["zlib_ng", None])
def test_rows_packed_in_bands_are_the_pixels(monkeypatch, library):
    if library is None:
        monkeypatch.setitem(sys.modules, "zlib_ng", None)
    rgba = np.random.default_rng(5).integers(0, 4, (2 * pictures.BAND + 7, 31, 4), dtype=np.uint8) * 80
    png = pictures.png_bytes(rgba[..., :3], 254.0)
    at = png.index(b"IDAT")
    (length,) = struct.unpack(">I", png[at - 4 : at])
    rows = np.frombuffer(zlib.decompress(png[at + 4 : at + 4 + length]), dtype=np.uint8).reshape(len(rgba), -1)
    assert not rows[:, 0].any()
    assert (rows[:, 1:].reshape(len(rgba), 31, 3) == rgba[..., :3]).all()
