"""Faults of small files that are seldom met, each with its place and what would be right; nothing is set out."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from layout.budgets import BUDGETS
from layout.errors import PlanError, PlanFaults
from layout.quantities.solver import cut_stock
from layout.readers.geofile import read_geojson
from layout.readers.measuredfile import read_figures_of
from layout.readers.planfile import parse_plan
from layout.readers.surveyfile import read_levels
from layout.readers.texts import check_file, read_text, table_rows
from layout.readers.ticksfile import read_measured, read_ticks
from layout.readers.worksfile import read_done
from layout.record.values import MOST_EVENTS
from layout.survey.readings import Reading
from layout.survey.remeasured import carried_along, off_the_plan, refit

ISSUE = {"title": "", "number": "", "revision": "", "digest": "0"}
EVENT = {"id": "0/wall/1-2", "field": "length", "value": 1503.0, "size": "1500", "n": 1, "by": "Ana-1", "at": ""}
HEAD = "room,stage,area,start,end,temperature\n"
RING = [[0, 0], [3000, 0], [3000, 2000], [0, 2000], [0, 0]]


def ticks(*events: Any) -> str:
    return json.dumps({"schema": "gaugerod/ticks/1", "issue": ISSUE, "tool": "0", "events": list(events)})


def geo(*rings: Any) -> str:
    return json.dumps({"type": "GeometryCollection", "geometries": [{"type": "Polygon", "coordinates": [ring]} for ring in rings]})


TOLD: dict[str, tuple[Any, str, str]] = {
    "a tick that is no table": (read_ticks, ticks(5), "events[0]: '5' found; export the ticks again"),
    "no wall is measured": (read_measured, ticks({**EVENT, "id": "0/run/1"}), "no wall is measured in it; measure walls on the page"),
    "walls of two rooms": (
        read_measured, ticks(EVENT, {**EVENT, "id": "1/wall/1-2"}), "walls of 2 rooms are measured in it; as-measured figures go into a plan of one room"),
    "nothing was done": (read_done, HEAD, "it has no rows; give lines like Wash-up,prime,1"),
    "no list": (read_done, '{"done": 5}', 'it holds no list of rows; give a list of rows, or {"done": [...]}'),
    "an area that is none": (read_done, HEAD + "A,prime,first,2026-11-30T07:00,,\n", "area"),
    "more cells than the head": (
        read_done, HEAD + "A,prime,1,2026-11-30T07:00,,18,19\n", "line 2: 7 cells found under 6 columns; put text with commas in quotes"),
    "no figure": (read_figures_of, "# nothing\n", "no figure is in it; give what was measured and its length"),
    "a figure without a name": (read_figures_of, ",7145\n", "give"),
    "a level to itself": (read_levels, "from,to,rise\nA,A,5\n", "A to itself; read two points"),
    "a level without a name": (read_levels, "from,to,rise\n,B,5\n", "line 2"),
    "polygons without area": (
        lambda path: read_geojson(path, units="mm"), geo([[0, 0], [1, 0], [2, 0], [0, 0]]), "its outline crosses itself or has no area; mend the outlines"),
    "more polygons than are read": (
        lambda path: read_geojson(path, units="mm", budgets=replace(BUDGETS, polygons=1)), geo(RING, RING), "2 polygons"),
    "a collection of numbers": (
        lambda path: read_geojson(path, units="mm"), json.dumps({"type": "GeometryCollection", "geometries": [5]}), "it holds no polygon; give each room"),
    "a figure of a file that is too large": (
        lambda path: check_file(path, 1e-6, "file_mb", "save the room alone"), "0123456789", "save the room alone; or raise budgets.file_mb"),
    "more lines than are read": (
        lambda path: table_rows(path.read_text(), path.name, replace(BUDGETS, rows=1)), "a,b\nc,d\n", "2 lines"),
}  # fmt: skip


@pytest.mark.parametrize(("read", "text", "words"), TOLD.values(), ids=TOLD)
def test_what_a_file_should_not_say(read, text, words, tmp_path):
    path = tmp_path / "given.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises((PlanError, PlanFaults)) as caught:
        read(path)
    assert words in str(caught.value)
    assert "given.csv" in str(caught.value)


def test_more_ticks_than_a_file_has(tmp_path):
    path = tmp_path / "given.json"
    path.write_text(ticks().replace("[]", "[" + ",".join(["5"] * (MOST_EVENTS + 1)) + "]"), encoding="utf-8")
    with pytest.raises(
        PlanError, match=f"{MOST_EVENTS + 1:,} ticks are more than the {MOST_EVENTS:,} of a file; export the ticks of one plan"
    ):
        read_ticks(path)


def test_a_survey_is_no_ticks_and_ticks_give_readings(tmp_path):
    (tmp_path / "s.csv").write_text("from,to,length\nA,B,1500\n", encoding="utf-8")
    assert [(r.first, r.second, r.length) for r in read_measured(tmp_path / "s.csv")] == [("A", "B", 1500.0)]
    (tmp_path / "t.json").write_text(ticks(EVENT), encoding="utf-8")
    assert [(r.first, r.second, r.length) for r in read_measured(tmp_path / "t.json")] == [("1", "2", 1503.0)]


def test_figures_in_words_that_are_none():
    for said in ("nothing said; wall 7 measured 7145", "wall 7 measured 7145; " + "w" * 200 + " measured 5"):
        with pytest.raises(PlanError, match='write "wall 7 measured 7145; 1-3 reads 8021"'):
            read_figures_of(said)
    assert [(f.what, f.length) for f in read_figures_of("wall 7 measured 7145; 1-3 reads 8021")] == [("wall 7", 7145.0), ("1-3", 8021.0)]


@pytest.mark.parametrize(
    ("head", "words"),
    [
        ("[project]\ntitle = 5\n", "project.title: 5 found"),
        ("project = 5\n", "project: 5 found; give"),
        ("tiles = 5\n", "tiles: 5 found"),
        ('[[project.revisions]]\nletter = "A"\ndate = 5\nwhat = "x"\n', "project.revisions[0].date: 5 found"),
        ('[[project.revisions]]\nletter = "ABCDEF"\ndate = 2026-01-01\nwhat = "x"\n', "6 letters found; give 4 at most"),
        ('[[project.revisions]]\nletter = ""\ndate = 2026-01-01\nwhat = "x"\n', "project.revisions[0].letter: it is empty; give it a name"),
        ('[tiles."a\\u001bb"]\nsize = [1, 1]\njoint = 1\n', "tiles"),
        ('[works]\nask_figures = "yes"\n', "works.ask_figures: 'yes' found; give true or false"),
    ],
)
def test_values_that_no_key_may_have(head, words):
    with pytest.raises(PlanFaults) as caught:
        parse_plan(head + '[[rooms]]\nname = "A"\noutline = [[0, 0], [900, 0], [900, 900], [0, 900]]\n')
    assert words in str(caught.value)


def test_a_piece_longer_than_its_stock_is_told():
    with pytest.raises(ValueError, match="a piece of 3100 is longer than the stock of 3000"):
        cut_stock([500.0, 3100.0], 3000.0)
    assert len(cut_stock([1500.0, 1500.0, 1000.0], 3000.0).stocks) == 2


SQUARE = np.array([[0.0, 0.0], [3000.0, 0.0], [3000.0, 2000.0], [0.0, 2000.0]])


def test_readings_between_corners_that_are_not_there():
    for name in ("9", "A", "0"):
        reading = Reading(name, "1", 3000.0, "m.csv: line 2")
        with pytest.raises(PlanError, match="corners are numbered 1 to 4 as the plan types them"):
            refit(SQUARE, [reading])
        assert off_the_plan(SQUARE, [reading]) == [], "told where they are put in"


def test_what_stands_at_no_wall_stays_where_it_is():
    moved = SQUARE + np.array([[0, 0], [100, 0], [100, 0], [0, 0]])
    alone = np.array([[1000.0, 800.0], [1300.0, 800.0], [1300.0, 1100.0], [1000.0, 1100.0]])
    assert carried_along(alone, SQUARE, moved).tolist() == alone.tolist()
    beside = alone + np.array([1700.0, 0.0])  # its right-hand side lies in wall 2, which moved by 100
    assert carried_along(beside, SQUARE, moved)[:, 0] == pytest.approx(beside[:, 0] + 100.0)


def test_standard_input_that_is_closed(monkeypatch):
    monkeypatch.setattr("sys.stdin", None)
    with pytest.raises(PlanError, match="standard input: it is closed; name a file instead of -"):
        read_text(Path("-"))
