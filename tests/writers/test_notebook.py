"""What results show of themselves in a notebook: sound HTML with their figures in it, and nothing that a name could smuggle in."""

from __future__ import annotations

import datetime as dt
import xml.etree.ElementTree as ET

import pytest

import layout
from layout.notebook import MOST_ROWS, html_table

ROOM = '[project]\ntitle = "Job <1> & Co"\n[[rooms]]\nname = "<script>A"\noutline = [[0, 0], [2000, 0], [2000, 1500], [0, 1500]]\ntanking_height = 150\n'


@pytest.fixture(scope="module")
def results():
    setout = layout.set_out(layout.parse_plan(ROOM))
    takeoff = layout.take_off(setout)
    return setout, takeoff, layout.plan_works(takeoff, start=dt.datetime.fromisoformat("2026-11-30T07:00"))


def cells(html):
    return [each.text for each in ET.fromstring(f"<div>{html}</div>").iter("td")]


def test_each_result_shows_its_figures(results):
    setout, takeoff, programme = results
    assert cells(setout._repr_html_())[:2] == ["<script>A", "3.00"]
    assert f"{setout.rooms[0].floor.field.places_cut()}" in cells(setout._repr_html_())
    shown = cells(takeoff._repr_html_())
    assert all(item.name in shown for item in takeoff.items)
    stages = cells(programme._repr_html_())
    assert all(stage.name in stages for stage in programme.stages)
    for result in results:
        assert "<script>" not in result._repr_html_()


def test_a_long_table_is_cut_and_says_so():
    html = html_table("T", ["n"], [[k] for k in range(MOST_ROWS + 7)])
    assert "… and 7 more" in html
    assert len(cells(html)) == MOST_ROWS
