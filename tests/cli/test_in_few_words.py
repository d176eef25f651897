"""Tables and questions of the command line asked of their own functions: each sentence read, nothing drawn."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from typing import Any

import pytest

import layout
from cli.asking import Asking, StepBack
from cli.drafting import levelled, shaped, surveyed
from cli.edits import own_room
from cli.freeing import why_text
from cli.guard import MOST_TRACES, write_trace
from cli.keeping import lines_text
from cli.questions import whole_plan
from cli.waiting import Waiting
from layout.changes.values import Changes
from layout.identity import EdgeId
from layout.setout.freeing import Freed, Limit, StartFigures, Why
from tests.rooms import plan_text

ROOM: dict[str, Any] = {"name": "Closet", "outline": [[0, 0], [1500, 0], [1500, 1200], [0, 1200]]}
CORNERS = "name,x,y\nA,0,0\nB,1500,0\nC,1500,1200\nD,0,1200\n"
SURVEY = "from,to,length\nA,B,1500\nB,C,1200\nC,D,1500\nD,A,1200\nA,C,1920.9\nB,D,1920.9\n"


def answered(*answers: str) -> str:
    """The plan that a person's answers make; every question is taken from what is kept, so none is put to anybody."""
    ask = Asking()
    ask.given = list(answers)
    text = whole_plan(ask, "closet.toml", lambda _text: None)
    assert ask.fresh, "every answer was asked for"
    return text


AFTER_OUTLINE = ("Closet", "200x200", "6", "0", "150", "")


def test_a_room_from_a_file_of_corners_and_from_a_survey(tmp_path):
    (tmp_path / "c.csv").write_text(CORNERS, encoding="utf-8")
    (tmp_path / "s.csv").write_text(SURVEY, encoding="utf-8")
    for way in (("points", str(tmp_path / "c.csv")), ("survey", str(tmp_path / "s.csv"))):
        (room,) = layout.parse_plan(answered(*way, *AFTER_OUTLINE, "")).rooms
        assert [v.to for v in room.outline] == [(0, 0), (1500, 0), (1500, 1200), (0, 1200)]


@pytest.mark.parametrize(
    ("reading", "words"),
    [
        ("A A 900", "write two corners and a length above 0: A B 3620"),
        ("A B 0", "write two corners and a length above 0: A B 3620"),
        ("A B 1.5", "1500"),
        ("A B", "write two corners and a length: A B 3620"),
    ],
)
def test_a_reading_that_is_none_is_told(reading, words):
    with pytest.raises(layout.PlanError, match=words):
        answered("survey", reading)


def test_things_are_asked_for_with_what_is_likely(monkeypatch):
    asked: list[str] = []
    fall, window = ("fall", "", "80"), ("window", "1", "", "300", "600", "", "")
    left = iter(["rectangle", "1500x1200", *AFTER_OUTLINE, "gully", "700, 600", "150x150", *fall, *window, ""])

    def answer(_self, words, default):
        asked.append(f"{words} [{default}]")
        return next(left) or default or ""

    monkeypatch.setattr(Asking, "_answer", answer)
    (room,) = layout.parse_plan(whole_plan(Asking(), "closet.toml", lambda _text: None)).rooms
    assert next(left, None) is None
    assert room.drains[0].middle == (700.0, 600.0), "a place may be told as the plan tells it"
    assert room.falls[0].to == "gully 1"
    assert any("[gully 1]" in words for words in asked), "of falls the last drain is likely"
    assert room.openings[0].sill == 900.0
    assert any(words.endswith("[900]") for words in asked), "of a window the sill that the word gives"


def test_near_faces_are_two():
    with pytest.raises(layout.PlanError, match="write two walls with their distances: 1:1200 4:600"):
        answered("rectangle", "1500x1200", *AFTER_OUTLINE, "plinth", "1:300")


def test_the_first_question_has_none_before_it(monkeypatch, capsys):
    answers = iter(["<", "rectangle", "back"])
    monkeypatch.setattr(Asking, "_answer", lambda *_: next(answers))
    ask = Asking()
    assert ask("shape", str) == "rectangle"
    assert "this is the first question" in capsys.readouterr().err
    with pytest.raises(StepBack):
        ask("size", str)


def test_a_walk_and_a_survey_that_does_not_close(tmp_path):
    walked = shaped("walk", "1500 L 1200 L 1500 L 1200", "--walk")
    assert [tuple(round(x) + 0 for x in point) for point in walked.outline] == [(0, 0), (1500, 0), (1500, 1200), (0, 1200)]
    assert walked.note == "A walk round the room: 1500 L 1200 L 1500 L 1200"
    # all fifteen tapes between six corners of a ring, one of them 40 too long
    ring = {"A": (0, 0), "B": (1500, 0), "C": (2100, 700), "D": (1500, 1400), "E": (0, 1400), "F": (-600, 700)}
    tapes = {(one, two): round(math.dist(ring[one], ring[two]), 1) for one, two in itertools.combinations(ring, 2)}
    tapes["A", "D"] += 40.0
    path = tmp_path / "s.csv"
    path.write_text("from,to,length\n" + "".join(f"{one},{two},{length}\n" for (one, two), length in tapes.items()), encoding="utf-8")
    with pytest.raises(layout.PlanError) as caught:
        surveyed(path)
    assert "measure A–D again, or say --anyway to take it as it is" in str(caught.value)
    last = surveyed(path, anyway=True).said.splitlines()[-1]
    assert last.startswith(("A–D is probably wrong by +4", "A–D is probably wrong by +3")), last
    assert last.endswith("mm: measure A–D again")


def test_levels_that_do_not_close_are_told(tmp_path):
    path = tmp_path / "l.csv"
    path.write_text("from,to,rise\nA,B,10\nB,C,10\nC,A,-20\nA,D,5\nD,C,15\nB,D,45\n", encoding="utf-8")
    with pytest.raises(layout.PlanError, match="the levels do not close: a reading is off by more than"):
        levelled(plan_text(ROOM), path)
    text, said = levelled(plan_text(ROOM), path, anyway=True)
    assert text.endswith(plan_text(ROOM))
    assert "A" in said


def test_a_room_of_a_file_that_is_included_is_named_with_it(tmp_path):
    (tmp_path / "part.toml").write_text(plan_text(ROOM), encoding="utf-8")
    whole = tmp_path / "job.toml"
    whole.write_text('[[include]]\nfile = "part.toml"\n', encoding="utf-8")
    plan = layout.read_plan(whole)
    with pytest.raises(layout.PlanError, match="'Closet' stands in a file that it includes; name that file instead"):
        own_room(whole.read_text(encoding="utf-8"), plan, 0)
    assert own_room(plan_text(ROOM), plan, 0) == 0


def test_why_a_start_is_as_it_is():
    before = StartFigures(smallest=42.0, worst=37.0, at="wall 2", weak=3, whole=20, cut=12)
    why = Why(room="Closet", limits=(), before=before, decided="narrowest cut", freed=(), tried=0, left=("a tile of another size",))
    assert why_text([why], plain=True, tolerance=5).splitlines()[1:] == [
        "What decided: narrowest cut.", "  not tried: a tile of another size", "",
    ]  # fmt: skip
    limited = replace(why, limits=(Limit(EdgeId("wall", 2, "wall 2"), called="wall 2", width=42.0),), tried=4, left=())
    said = " ".join(why_text([limited], plain=True, tolerance=5).split())
    assert "The narrowest cut is 42 mm, 37 if walls stand off by 5; it is held down by wall 2 with 42; weak pieces: 3." in said
    assert "4 changes were set out; none raises the narrowest cut by more than 5 or leaves no weak piece." in said
    freed = replace(limited, freed=(Freed(kind="joint", what="joint 5", after=replace(before, smallest=90.0), worse=("more joint",)),))
    said = " ".join(why_text([freed], plain=True, tolerance=5).split())
    assert "each set out to see: 1 of 4" in said
    assert "for the worse with joint 5: more joint" in said


def test_no_line_moves():
    assert lines_text(Changes(rooms=(), cuts=(), orders=())) == "no line that is snapped moves"


def test_a_trace_goes_into_the_first_free_name_and_else_is_told(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    beside = tmp_path / "plans"
    beside.mkdir()
    fault = ValueError("by hand")
    assert write_trace(fault, [beside / "a.toml"]) == str(beside / "gaugerod-trace-1.txt")
    for k in range(2, MOST_TRACES):
        (beside / f"gaugerod-trace-{k}.txt").write_text("", encoding="utf-8")
    assert write_trace(fault, [beside / "a.toml"]) == "gaugerod-trace-1.txt", "here, where all names beside the plan are taken"
    for k in range(2, MOST_TRACES):
        (tmp_path / f"gaugerod-trace-{k}.txt").write_text("", encoding="utf-8")
    assert write_trace(fault, [beside]).startswith("it can be written neither beside the plan nor here:\nValueError: by hand")


def test_no_bar_is_shown_once_the_work_is_done():
    waiting = Waiting("setting out")
    waiting.stop()
    waiting._show()
    assert waiting._bar is None
