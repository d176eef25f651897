"""Findings of a programme in another language: whole sentences of it, with the days, figures and keys of the English ones."""

from __future__ import annotations

import datetime as dt
import re
from collections import Counter

import pytest

from layout.plan.works import DayWeather, Works
from layout.programme.calendar import Calendar
from layout.programme.done import DoneRow
from layout.programme.stages import plan_works
from layout.quantities.takeoff import take_off
from layout.readers.planfile import parse_plan
from layout.setout.conduct import set_out
from layout.words import LANGUAGES, say, speaking
from tests.rooms import plan_text

MONDAY = dt.datetime(2026, 11, 30, 7, 0)  # noqa: DTZ001  # site time has no zone
ROOM = {"name": "A", "outline": [[0, 0], [5000, 0], [5000, 4000], [0, 4000]], "tanking_height": 1500, "tile_height": 2000}
ENGLISH = {
    "the", "and", "is", "are", "of", "it", "not", "but", "takes", "comes", "goes", "window", "closes", "after", "before", "then", "when",
    "was", "begun", "days", "room", "hands", "work", "else", "again", "with", "than", "given", "found", "packs", "ordered", "mixed", "by",
    "test", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun", "Dec",
}  # fmt: skip
"""Words that only English has, of those that its findings are made of."""


@pytest.fixture(scope="module")
def findings():
    """Findings of a room in works of many kinds: too cold, too slow, over a weekend, done too soon, with the hours of an hour a day."""
    text = plan_text(ROOM) + "[products]\nadhesive_m2_h = 0.71\nfixing_cut_min = 0\nmembrane_small_pack_kg = 2\n"
    takeoff = take_off(set_out(parse_plan(text)))
    cold = tuple(DayWeather(date=MONDAY.date() + n * dt.timedelta(days=1), temperature=t) for n, t in enumerate((8.0, 45.0, 12.0)))
    damp = tuple(DayWeather(date=each.date, temperature=15.0, humidity=h) for each, h in zip(cold, (95.0, 86.0, 50.0), strict=True))
    week = (0, 1, 2, 3, 4, 5, 6)
    rows = (
        DoneRow(room="A", stage="prime", start=MONDAY, end=MONDAY + dt.timedelta(hours=1), temperature=20.0),
        DoneRow(room="A", stage="details", start=MONDAY + dt.timedelta(hours=6), end=MONDAY + dt.timedelta(hours=8)),
        DoneRow(room="A", stage="coat 1", start=MONDAY + dt.timedelta(days=4), temperature=9.0),
    )
    all_works = [
        plan_works(takeoff, start=MONDAY),
        plan_works(takeoff, start=MONDAY + dt.timedelta(days=4), temperature=23.0),
        plan_works(takeoff, start=MONDAY, calendar=Calendar(days=(0,))),
        plan_works(takeoff, start=MONDAY, temperature=10.0, calendar=Calendar(end=dt.time(8))),
        plan_works(takeoff, start=MONDAY, works=Works(weather=cold, days=week)),
        plan_works(takeoff, start=MONDAY, works=Works(weather=damp, days=week)),
        plan_works(takeoff, start=MONDAY, done=rows),
        plan_works(takeoff, start=MONDAY, done=rows[2:]),
    ]
    return [each for works in all_works for each in (*works.findings, *works.notes, *works.batch_findings)]


def test_all_kinds_are_looked_at(findings):
    kinds = {
        "window-missed", "works-wait", "too-cold", "weather-ends", "done-early", "done-cold", "done-gap", "wash-late", "figures-asked",
        "batch-packs",
    }  # fmt: skip
    assert kinds <= {each.code for each in findings}


def figures(text):
    """Numbers with what makes them one, and keys of the plan; the second coat is a word in one language, a figure in another."""
    return Counter(re.findall(r"\d+(?:[.:]\d+)*|[a-z]+\.[a-z_]+", re.sub(r"(?<=[ (])\d\.(?=[ ª])", "", text)))


@pytest.mark.parametrize("language", LANGUAGES[1:])
def test_no_finding_keeps_english_words_and_none_loses_a_figure(findings, language):
    texts = list(dict.fromkeys(each.text for each in findings))
    assert len(texts) > 12
    for each in findings:
        with speaking(language):
            told = say(each.text)
        sourceless = re.sub(r"\((?:general epoxy|article|common)[^)]*\)", "", told)
        left = set(re.findall(r"\w+", sourceless)) & ENGLISH
        assert not left, told
        assert figures(told) == figures(each.text)
