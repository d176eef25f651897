"""Feet and inches beside millimetres, where the plan asks for them: on the terminal and on the setting-out sheet, and nowhere else."""

from __future__ import annotations

import re

import pytest

import layout
from cli.report import setout_text
from layout.sheets.scene import Label
from layout.units import parse_length

ROOM = '[[rooms]]\nname = "A"\noutline = [[0, 0], [2000, 0], [2000, 1500], [0, 1500]]\n'


@pytest.fixture(scope="module")
def setouts():
    return [layout.set_out(layout.parse_plan(f'[project]\nbeside = "{word}"\n{ROOM}')) for word in ("feet", "nothing")]


def pairs(text):
    return re.findall(r"(-?\d+) = ((?:\d+' )?\d*(?: ?\d+/\d+)?\")", text)


def words(setout):
    sheet = layout.draw_first(setout, layout.take_off(setout))
    return "\n".join(item.text for item in sheet.paper_scene if isinstance(item, Label))


@pytest.mark.parametrize("told", [lambda setout: setout_text(setout, plain=True), words])
def test_each_figure_of_a_start_line_says_the_same_twice(setouts, told):
    feet, plain = (told(setout) for setout in setouts)
    found = pairs(feet)
    assert len(found) >= 4
    for number, imperial in found:
        assert abs(float(number) - parse_length(imperial)) <= 0.5 + 25.4 / 32
    assert pairs(plain) == []
