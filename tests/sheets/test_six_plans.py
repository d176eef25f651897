"""Six plans like those that offices send: nothing that a crew needs is missing, covered or off the paper, and marks stay few."""

from __future__ import annotations

import re

import pytest

from layout.readers.planfile import read_plan
from layout.sheets.scene import Label
from tests.sheets.test_labels import faults_of, sheets_of
from tests.test_project import TOP

SIX = {
    "laboratory-diagonal": (
        90,
        [f"waste {k}" for k in range(1, 13)],
    ),  # wanted: at most so many marks on its floor, and each of these names
    "corridor-herringbone": (256, ["wall 1", "wall 2", "wall 3", "wall 4"]),
    "hall-columns": (220, ["gully west", "gully east"]),
    "shower": (30, ["gully"]),
    "storey-six": (150, ["gully"]),
    "kitchen-skew": (90, ["gully", "waste", *(f"wall {k}" for k in range(1, 8))]),
}
MARK = re.compile(r"(?:[CT]\d+\b.*|row [a-z]+\b.*)")


@pytest.mark.parametrize("name", SIX)
def test_nothing_needed_is_missing_or_covered_and_marks_are_few(name):
    most, names = SIX[name]
    sheets = sheets_of(read_plan(TOP / "tests" / "data" / "plans" / f"{name}.toml"))
    assert sum(len(sheet.needed) for sheet in sheets) > 100
    assert not faults_of(sheets)
    drawn = {item.text for sheet in sheets for item in (*sheet.room, *sheet.paper_scene) if isinstance(item, Label)}
    assert set(names) <= drawn
    cuts = [sheet for sheet in sheets if sheet.title.startswith("Cuts and marks") and sheet.view is not None]
    marks = [item.text for sheet in cuts for item in sheet.room if isinstance(item, Label) and MARK.fullmatch(item.text)]
    assert 0 < len(marks) <= most
