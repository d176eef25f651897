"""Things whose names read as marks, lines or runs are told apart from them, on sheets, in tables and in records."""

from __future__ import annotations

import re

import pytest

from layout.quantities.takeoff import take_off
from layout.setout.conduct import set_out
from layout.sheets.draw import draw_sheets
from layout.sheets.scene import Label
from layout.writers.page.assemble import page_html
from tests.rooms import plan_of

ROOM = {
    "name": "R2",
    "outline": [[0, 0], [2600, 0], [2600, 2000], [0, 2000]],
    "columns": [{"name": "C3", "outline": [[1900, 600], [2150, 600], [2150, 850], [1900, 850]]}],
    "drains": [{"kind": "gully", "name": "A", "at": [900, 1000], "frame": [200, 200]}],
    "pipes": [{"name": "C1", "at": [500, 1500], "diameter": 60}],
    "falls": [{"to": "A", "ratio": 60}],
    "pulls": [{"want": "tile", "to": "A"}],
}


@pytest.fixture(scope="module")
def made():
    setout = set_out(plan_of(ROOM, tiles={"floor": {"size": [300, 300], "joint": 4}}))
    takeoff = take_off(setout)
    return setout, takeoff, draw_sheets(setout, takeoff)


def test_a_column_called_c3_and_a_drain_called_a_bear_their_kinds(made):
    setout, _, sheets = made
    marks = {cut.mark for cut in setout.cuts}
    assert {"C1", "C3"} <= marks  # so that the names do collide
    lining = setout.rooms[0].lining
    assert {each.name for each in lining.floor.breaks} == {"gully A", "pipe C1"}
    assert [each.solid.name for each in lining.outline.columns] == ["column C3"]
    assert lining.room.falls[0].to == lining.room.pulls[0].to == "gully A"
    start = next(sheet for sheet in sheets if sheet.name.endswith("setting-out"))
    texts = [item.text for item in start.room if isinstance(item, Label)]
    assert {"gully A", "pipe C1", "column C3"} <= set(texts)
    assert texts.count("A") == 2  # the two ends of line A, and nothing else


def test_words_of_all_sheets_say_which(made):
    _, _, sheets = made
    words = [item.text for sheet in sheets for item in (*sheet.room, *sheet.paper_scene) if isinstance(item, Label)]
    named = [text for text in words if re.search(r"\bC3\b.*(side|corner|joint|tape)", text)]
    assert named
    assert all("column C3" in text for text in named)
    titles = {dict(sheet.block.fields)["Supplementary title"] for sheet in sheets}
    assert "room R2 · Membrane and tape" in titles
    assert not any(title.startswith("R2") for title in titles)


def test_the_page_for_the_crew_says_which_too(made):
    _, takeoff, sheets = made
    page = page_html(takeoff, sheets)
    assert "column C3" in page
    assert "gully A" in page
    assert not re.search(r"(?<!column )\bC3 side", page)


@pytest.mark.parametrize(
    ("called", "typed", "meant"),
    [
        ("C3", "C3", "column C3"),  # the column by its longer name
        ("post", "post", "post"),
        ("wall 2", "wall 2", "wall 2"),  # the wall: the column is "column wall 2"
    ],
)
def test_what_is_out_of_view_or_pulled_to_is_found_whatever_the_column_is_called(called, typed, meant):
    column = {"name": called, "outline": [[1900, 600], [2150, 600], [2150, 850], [1900, 850]]}
    room = {"name": "Bar", "outline": ROOM["outline"], "columns": [column], "hidden": [typed], "pulls": [{"want": "tile", "to": typed}]}
    if called.startswith("wall"):
        room["pulls"] = [{"want": "whole", "to": typed}]
    (own,) = plan_of(room).rooms
    assert own.columns[0].name == ("column " + called if called != "post" else called)
    assert own.hidden == (meant,)
    assert own.pulls[0].to == meant
