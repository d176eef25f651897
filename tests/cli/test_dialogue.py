"""The questions of `gaugerod new`, as a person answers them: through a terminal, with steps back, slips and interrupts."""

from __future__ import annotations

import contextlib
import os
import pty
import re
import select
import signal
import subprocess
import sys
import time

import pytest
from typer.testing import CliRunner

from cli.main import app
from layout.readers.planfile import read_plan
from tests.test_project import TOP

# the kitchen of the survey tests: four walls, a diagonal; then a door, a gully off two walls, a pipe by two tapes, one off two walls
KITCHEN = [
    "survey", "A B 3620", "B C 5185", "C D 3650", "D A 5210", "A C 6341", "", "Kitchen", "200x200", "", "", "", "",
    "door", "1", "left", "900", "900", "",
    "gully", "1:1500 2:1200", "",
    "pipe", "corners 1:1400 4:4300", "110",
    "pipe", "3:400 4:400", "50",
    "",
]  # fmt: skip


class Terminal:
    """A command at a terminal of its own, read until it asks."""

    def __init__(self, folder, *arguments, columns=80):
        self.master, slave = pty.openpty()
        env = {**os.environ, "COLUMNS": str(columns), "TERM": "xterm", "PYTHONPATH": str(TOP), "MPLBACKEND": "agg"}
        before = signal.signal(signal.SIGINT, signal.default_int_handler)  # else a suite run in the background hands on its deafness
        self.process = subprocess.Popen(
            [sys.executable, "-m", "cli.main", *arguments],
            cwd=folder,
            env=env,
            stdin=slave,
            stdout=slave,
            stderr=slave,
            start_new_session=True,
        )
        signal.signal(signal.SIGINT, before)
        os.close(slave)
        self.seen = ""

    def read(self, until, patience=120.0, asks=False):
        """All that is written until `until` stands in it, or, where it asks, until it ends in it and the command waits.

        A colon amid a line is no question: what is typed before the command asks is echoed into its picture.
        """
        end, got, still = time.monotonic() + patience, b"", 0
        while time.monotonic() < end:
            if select.select([self.master], [], [], 0.05)[0]:
                try:
                    got += os.read(self.master, 65536)
                except OSError:
                    break
                still = 0
            elif self.process.poll() is not None and not select.select([self.master], [], [], 0)[0]:
                break
            else:
                still += 1
            if got.rstrip(b" ").endswith(until.encode()) and still > 1 if asks else until.encode() in got:
                break
        said = got.decode(errors="replace")
        self.seen += said
        return said

    def answer(self, text):
        os.write(self.master, f"{text}\n".encode())

    def end(self):
        self.read("\0")
        with contextlib.suppress(OSError):
            os.close(self.master)
        return self.process.wait(60)


def test_a_kitchen_in_under_forty_answers_on_a_narrow_terminal_with_a_step_back(tmp_path):
    assert len(KITCHEN) < 40
    at = Terminal(tmp_path, "new", "k.toml", columns=44)
    for k, text in enumerate(KITCHEN):
        at.read(":" if k else "rectangle]:", asks=True)
        if text == "Kitchen":
            at.answer("Kichen")
            at.read("200x200]:", asks=True)
            at.answer("<")
            assert "[Kichen]" in at.read("]:", asks=True)  # what was said before stands ready to be mended
        at.answer(text)
    assert at.end() == 0, at.seen
    plan = read_plan(tmp_path / "k.toml")
    room = plan.rooms[0]
    assert room.name == "Kitchen"
    assert [(d.offset, d.width, d.measured_from) for d in room.openings] == [(900, 900, "left")]
    # by hand: wall 2 runs from 3620, 0 to 3650.3, 5184.9, so 1500 up it stands at 3628.8; 1200 square off it is 1200.02 along
    assert room.drains[0].at == pytest.approx((2428.7, 1500.0), abs=0.2)
    assert room.pipes[0].at is not None
    x, y = room.pipes[0].at
    assert (x**2 + y**2) ** 0.5 == pytest.approx(1400, abs=0.01)
    assert ((x - 0.4) ** 2 + (y - 5210) ** 2) ** 0.5 == pytest.approx(4300, abs=0.01)
    assert "outside the room" in at.seen  # both crossings of the two tapes are told
    assert "look at three things" in at.seen
    assert (tmp_path / "k.png").is_file()
    assert max(len(line) for line in re.sub(r"\x1b\[[0-9;?]*[a-zA-Z]", "", at.seen).splitlines() if "#" in line) <= 44


def test_an_interrupt_leaves_nothing_behind(tmp_path):
    at = Terminal(tmp_path, "new", "k.toml", "--sketch", "now.png")
    for text in ("", "3000x2000", "", "", "", "", "", ""):
        at.read(":" if at.seen else "rectangle]:", asks=True)
        at.answer(text)
    at.read("all is there:", asks=True)
    assert (tmp_path / "now.png").is_file()
    os.killpg(at.process.pid, signal.SIGINT)
    assert at.end() == 130, at.seen
    assert "stopped" in at.seen
    assert [each.name for each in tmp_path.iterdir() if not each.name.startswith(".")] == []


def undrawn(monkeypatch):
    """Leave the picture out: it is drawn in the tests above."""
    monkeypatch.setattr("layout.save_png", lambda _sheet, path, **_: path.write_bytes(b"picture"))
    monkeypatch.setattr("layout.draw_first", lambda setout, _: setout)


def typed(tmp_path, *answers):
    return CliRunner().invoke(app, ["new", str(tmp_path / "a.toml")], input="\n".join(answers) + "\n")


HEAD = ["rectangle", "4000x3000", "Room", "400x400", "6", "0", "150", ""]


@pytest.mark.parametrize(("answers", "words"), [
    (["ractangle", *HEAD, ""], "did you mean rectangle?"),
    (["rectangle", "4x3", *HEAD[1:], ""], 'metres? write 4000 or "4 m"'),
    (["rectangle", "4000", *HEAD[1:], ""], "as 6000x4200"),
    ([*HEAD[:3], "0x200", *HEAD[3:], ""], "write two sizes as 1300x800"),
    ([*HEAD[:4], "-1", *HEAD[4:], ""], "-1 found"),
    ([*HEAD[:5], "2.1", *HEAD[5:], ""], 'metres? write 2100 or "2.1 m"'),
    ([*HEAD, "dor", "door", "1", "first", "500", "900", "2100", ""], "did you mean door?"),
    ([*HEAD, "door", "7", "<", "1", "first", "500", "9000", "2100", "<", "900", "2100", ""], "rooms[0].openings[0]"),
    ([*HEAD, "door", "1", "frist", "first", "500", "900", "2100", ""], 'did you mean "first"?'),
    ([*HEAD, "door", "1", "first", "0.5", "500", "900", "2100", ""], 'metres? write 500 or "0.5 m"'),
    ([*HEAD, "gully", "1:1500 3:1200", "1:1500 2:1200", "", ""], "walls 1 and 3 run nearly the same way"),
    ([*HEAD, "gully", "1:1500 9:1200", "1:1500 2:1200", "", ""], "walls are numbered 1 to 4"),
    ([*HEAD, "gully", "1:9000 2:1200", "1:1500 2:1200", "", ""], "outside the room"),
    ([*HEAD, "gully", "corners 1:100 2:200", "corners 1:2500 2:2500", "", ""], "cannot meet"),
    ([*HEAD, "gully", "corners 1:2500 3:2600", "centre", "left", "", ""], "left and right"),
    ([*HEAD, "pipe", "wall 2 800 500", "wide", "110", ""], "'wide' found"),
    ([*HEAD, "plinth", "1:0 2:0", "600", "600x400", "120", ""], "write two sizes"),
    ([*HEAD, "pull", ""], "add it later"),
])  # fmt: skip
def test_a_wrong_answer_is_asked_again_with_the_reason(tmp_path, monkeypatch, answers, words):
    undrawn(monkeypatch)
    said = typed(tmp_path, *answers)
    assert said.exit_code == 0, said.stderr
    if words != "left and right":
        assert words in said.stderr
    assert read_plan(tmp_path / "a.toml").rooms[0].name == "Room"


def test_a_survey_that_does_not_close_names_what_to_measure_again_and_takes_it(tmp_path, monkeypatch):
    undrawn(monkeypatch)
    rows = ["survey", "1 2 3620", "2 3 5185", "3 4 3650", "4 1 5210", "1 3 6341", "2 4 6394", ""]
    said = typed(tmp_path, *rows, "2 4 6344", "", "Kitchen", "", "", "", "", "", "")
    assert said.exit_code == 0, said.stderr
    assert "it does not close" in said.stderr
    assert "2–4" in said.stderr.split("measure ")[-1] or "2–4" in said.stderr
    assert "1 reading more than needed" in said.stderr
    assert "2–4 6344" in (tmp_path / "a.toml").read_text(encoding="utf-8")
