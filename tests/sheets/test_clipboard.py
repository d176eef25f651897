"""A set on A4: few pages, every word on them whole, nothing on anything else."""

from __future__ import annotations

import pytest
import shapely

from layout.quantities.takeoff import take_off
from layout.readers.planfile import read_plan
from layout.setout.conduct import set_out
from layout.sheets.draw import draw_sheets
from layout.sheets.scene import Label
from layout.sheets.spots import label_box
from tests.sheets.test_labels import faults_of
from tests.test_project import TOP

MOST = 34
"""Pages of a shower of 1.2 by 0.9 m; 52 when each drawing had pages of words of its own, 33 before its courses were weighed by what is seen at the
foot, which gives two more saw sizes."""


@pytest.fixture(scope="module")
def sheets():
    setout = set_out(read_plan(TOP / "tests" / "data" / "plans" / "shower.toml"))
    return draw_sheets(setout, take_off(setout), paper="A4")


def words(sheet):
    return [item for item in sheet.paper_scene if isinstance(item, Label)]


def test_a_shower_goes_on_few_upright_pages_with_nothing_needed_missing_or_covered(sheets):
    assert len(sheets) <= MOST
    assert {sheet.size for sheet in sheets} == {(210.0, 297.0)}
    assert not any(sheet.missing for sheet in sheets)
    assert not faults_of(sheets)


def test_words_stand_under_their_drawing_and_no_word_is_cut_short(sheets):
    drawn = {sheet.title: sheet for sheet in sheets if sheet.view is not None}
    assert {"Floor setting-out", "Falls and levels", "Movement joints and sealant"} <= set(drawn)
    for title, head in (("Floor setting-out", "Start lines: snap these first"), ("Falls and levels", "Levels")):
        sheet = drawn[title]
        (at,) = [item.at for item in words(sheet) if item.text == head]
        assert at[1] < sheet.view.at[1] - sheet.view.size[1] / 2
    cut = [item.text for sheet in sheets for item in words(sheet) if item.text.endswith("…") and not item.text.endswith(" …")]
    assert not cut


def test_a_heading_stands_with_what_it_is_over(sheets):
    titled = [sheet for sheet in sheets if sheet.title == "Notes to the drawings" or sheet.view is not None]
    assert len(titled) > 8
    for sheet in titled:
        own = [item for item in words(sheet) if item.layer == "TEXT" and item.at[1] > 62.0]
        heads = [item for item in own if item.bold and item.height == 3.5]
        low = min((item.at[1] for item in own), default=0.0)
        assert all(item.at[1] > low + 2.0 for item in heads), [item.text for item in heads]


def test_no_words_of_a_page_stand_on_others(sheets):
    assert sheets
    for sheet in sheets:
        boxes = [shapely.box(*label_box(item)).buffer(-0.2) for item in words(sheet) if item.layer == "TEXT"]
        first, second = shapely.STRtree(boxes).query(boxes, predicate="intersects")
        texts = [item.text for item in words(sheet) if item.layer == "TEXT"]
        assert not [(texts[k], texts[j]) for k, j in zip(first, second, strict=True) if k < j], sheet.name
