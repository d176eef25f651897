"""The findings there can be: each is explained, and its example shows it."""

from __future__ import annotations

import re
from pathlib import Path
from typing import get_args

import pytest
from typer.testing import CliRunner

from cli.main import app
from layout.codes import CODES
from layout.errors import Weight
from layout.readers.planfile import parse_plan
from layout.setout.conduct import set_out
from layout.writers.records import setout_record

TOP = Path(__file__).parent.parent.parent
WITHOUT = {"audit", "strip-dropped", "surface-too-small", "window-missed", "works-wait", "batch-hands", "batch-packs", "wash-late"} | {
    "too-cold", "weather-ends", "done-early", "done-cold", "done-gap", "figures-asked",
}  # fmt: skip
"""No plan alone shows these: a fault of the tool, a hair's breadth, nothing left, and what hours of work decide."""


def run(*args):
    return CliRunner().invoke(app, list(args))


@pytest.mark.parametrize("name", [name for name, code in CODES.items() if code.example])
def test_the_example_of_a_finding_shows_it(name):
    setout = set_out(parse_plan(CODES[name].example, f"{name}.toml"))
    assert name in {finding.code for room in setout.rooms for finding in room.findings}


def test_every_finding_is_explained_in_full():
    assert {name for name, code in CODES.items() if not code.example} == WITHOUT
    for name, code in CODES.items():
        assert code.weight in get_args(Weight), name
        assert min(len(code.words), len(code.why), len(code.mend)) > 10, name


def test_the_codes_in_the_source_are_those_that_are_explained():
    # read as text: codes stand in Finding(code="...") and, for tiles, in add("...", ...)
    used = set()
    for path in (TOP / "layout").rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        used |= set(re.findall(r'code="([a-z-]+)"', text))
        if path.name == "checks.py":
            used |= set(re.findall(r'add\(\s*"([a-z-]+)"', text))
    assert used == set(CODES)


def test_records_tell_the_weight():
    record = setout_record(set_out(parse_plan(CODES["pond"].example)))
    weights = {each["code"]: each["weight"] for each in record["rooms"][0]["warnings"]}
    assert weights["pond"] == "stop"
    assert set(weights) <= set(CODES)


@pytest.mark.parametrize("name", ["pond", "works-wait"])
def test_the_command_explains_a_finding(name):
    done = run("check", "--explain", name)
    assert done.exit_code == 0
    for words in (name, CODES[name].weight, CODES[name].words, CODES[name].why, CODES[name].mend):
        assert words in done.stdout
    assert ("[[rooms]]" in done.stdout) == bool(CODES[name].example)


def test_the_command_tells_a_code_that_is_none():
    done = run("check", "--explain", "ponds")
    assert done.exit_code == 2
    assert "did you mean pond?" in done.stderr
    done = run("check")
    assert done.exit_code == 2
    assert "give a plan file" in done.stderr


def test_a_structural_joint_through_a_drain_is_told():
    # the joint as laid stops at the frame, so it was told only as near the flange
    text = '[[rooms]]\noutline = [[0, 0], [4000, 0], [4000, 3000], [0, 3000]]\ndrains = [{ kind = "gully", at = [2000, 1500] }]\n'
    through, beside = (
        {f.code for f in set_out(parse_plan(f"{text}structural_joints = [{{ line = [[{x}, 0], [{x}, 3000]] }}]\n")).rooms[0].findings}
        for x in (2000, 2900)
    )
    assert "joint-through-drain" in through
    assert "joint-through-drain" not in beside
