"""The title block, the page of sources, and sheets that carry words for the crew only."""

from __future__ import annotations

import re

import pytest
from shapely import box

from layout.quantities.takeoff import take_off
from layout.readers.planfile import parse_plan
from layout.setout.conduct import set_out
from layout.sheets.crew_words import for_crew, place_in_words
from layout.sheets.draw import draw_sheets
from layout.sheets.scene import Label
from layout.standards.rules import RULE_SETS
from tests.rooms import plan_of
from tests.sheets.test_labels import glyph_box

PLAN = """
[project]
title = "Invented job"
number = "XX-001"
date = 2026-11-24
drawn_by = "D. D."
prepared = "P. P."
checked = "C. C."
approved_by = "A. A."
status = "for construction"
revisions = [
  { letter = "A", date = 2026-11-02, what = "First issue" },
  { letter = "B", date = 2026-11-24, what = "Gully moved" },
]
[rules]
fall_range = "UK_WET_FLOOR"
[[rooms]]
name = "Scullery"
outline = [[0, 0], [3000, 0], [3000, 2400], [0, 2400]]
tanking_height = 300
drains = [{ kind = "gully", at = [2790, 1200] }]
falls = [{ to = "gully 1", ratio = 60 }]
openings = [{ wall = 1, offset = 900, width = 900 }]
"""
CREW = re.compile(r"\[\s*-?\d|from memory|no source|common practice|within 0|\b[A-Z]{2,}\d*_[A-Z\d_]+\b|'\]")


@pytest.fixture(scope="module")
def sheets():
    setout = set_out(parse_plan(PLAN))
    return draw_sheets(setout, take_off(setout))


def words_on(sheet):
    return [item.text for item in (*sheet.room, *sheet.paper_scene) if isinstance(item, Label)]


def test_every_sheet_says_who_made_and_checked_it_and_what_it_is_for(sheets):
    assert sheets
    for sheet in sheets:
        words = words_on(sheet)
        assert {"D. D.", "P. P.", "C. C.", "A. A.", "for construction", "B · 2026-11-24 · Gully moved"} <= set(words), sheet.name
        assert dict(sheet.block.fields)["Revision"] == "B"


def test_nothing_in_the_title_block_lies_over_anything_else(sheets):
    assert sheets
    for sheet in sheets[:2]:
        corner = box(sheet.size[0] - 190.0, 10.0, sheet.size[0] - 10.0, 60.0)
        letters = [glyph_box(item) for item in sheet.paper_scene if isinstance(item, Label) and item.layer == "TITLE"]
        assert len(letters) > 20
        assert all(corner.covers(each) for each in letters)
        assert all(a.intersection(b).area < 0.05 for k, a in enumerate(letters) for b in letters[:k])


def test_the_first_sheet_lists_the_revisions_and_the_basis_lists_the_sheets(sheets):
    assert {"First issue", "Gully moved"} <= set(words_on(sheets[0]))
    basis = [sheet for sheet in sheets if sheet.title == "Basis of this set"]
    listed = [word for sheet in basis for word in words_on(sheet)]
    assert basis == list(sheets[-len(basis) :])
    assert {sheet.title for sheet in sheets} <= set(listed)
    text = " ".join(listed)
    assert any(each.source in text for each in RULE_SETS.values())
    assert "from memory" in text


def test_only_the_basis_tells_codes_sources_and_coordinates(sheets):
    told = [(sheet.name, word) for sheet in sheets if sheet.title != "Basis of this set" for word in words_on(sheet) if CREW.search(word)]
    assert not told


def test_a_place_is_told_by_what_can_be_measured_from():
    setout = set_out(plan_of({"outline": [[0, 0], [3000, 0], [3000, 2400], [0, 2400]]}))
    room = setout.rooms[0]
    lines = {line.name: line for line in room.floor.start.lines}
    # straight lines along the axes: the distances by subtraction
    x, y = lines["B"].start[0], lines["A"].start[1]
    assert place_in_words(room, (x + 500.0, y + 250.0)) == "500 right of B and 250 above A"
    assert for_crew("thinnest at [1200, 900] (common practice, no source: screed)", room).startswith("thinnest at ")
    assert not CREW.search(for_crew("thinnest at [1200, 900] (common practice, no source: screed)", room))
    assert for_crew("a joint of 3 (8 wide) is narrow") == "a joint of 3 (8 wide) is narrow"


def test_the_metres_of_tape_are_read_from_three_metres(sheets):
    sheet = next(sheet for sheet in sheets if sheet.title == "Membrane and tape")
    large = [item for item in sheet.paper_scene if isinstance(item, Label) and item.height >= 10.0]
    # level runs as lettered on the plan, and by hand four corners of the room, tanked 300 high
    runs = [
        float(item.text.split("· ")[1].split(" ")[0]) for item in sheet.room if isinstance(item, Label) and re.match(r"R\d+ · ", item.text)
    ]
    assert len(runs) > 3
    assert [item.text.split(" ")[0] for item in large] == ["Tape"]
    assert float(large[0].text.split(" ")[1]) == pytest.approx(sum(runs) + 4 * 0.3, abs=0.06 + 0.005 * len(runs))


def test_findings_alike_are_told_once_with_their_source_and_tests_by_what_they_stand_at():
    """Four walls with a joint too narrow for resin grout: one paragraph names all four. No cell of the schedules is cut short."""
    room = {
        "outline": [[0, 0], [3000, 0], [3000, 2400], [0, 2400]],
        "tile_height": 2000,
        "drains": [{"kind": "gully", "at": [1500, 1200]}],
        "openings": [{"wall": 1, "offset": 900, "width": 900, "name": "door to the cold scullery"}],
    }
    setout = set_out(plan_of(room, tiles={"wall": {"size": [200, 200], "joint": 3, "thickness": 10}}))
    drawn = draw_sheets(setout, take_off(setout))
    narrow = [each for each in setout.rooms[0].findings if each.code == "joint-narrow"]
    assert len(narrow) >= 4
    basis = " ".join(item.text for each in drawn if "basis" in each.name for item in each.paper_scene if isinstance(item, Label))
    assert basis.count("(joint-narrow)") == 1
    schedules = [item.text for each in drawn if "schedules" in each.name for item in each.paper_scene if isinstance(item, Label)]
    assert "door to the cold scullery" in schedules
    assert not [text for text in schedules if text.endswith("…")]
