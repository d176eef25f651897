"""Floors on a paper that was asked for: in one piece where it goes, else in parts that name what runs through them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from layout.quantities.takeoff import take_off
from layout.setout.conduct import set_out
from layout.sheets import start_sheet
from layout.sheets.draft import Job, room_job, with_further
from layout.sheets.scene import Label, Stroke
from tests.rooms import plan_of

ROOM = {"outline": [[0, 0], [5200, 0], [5200, 3600], [0, 3600]], "openings": [{"wall": 4, "offset": 800, "width": 1000}]}


@pytest.fixture(scope="module")
def laid():
    setout = set_out(plan_of(ROOM, tiles={"floor": {"size": [300, 300], "joint": 4}}))
    return setout, take_off(setout)


def drafts_of(laid, paper, scale):
    setout, takeoff = laid
    return list(start_sheet.drafts(Job(setout, takeoff, (room_job(setout, 0, paper, scale),), paper, scale)))


def test_every_part_carries_the_words_that_it_is_said_to_carry_and_names_the_lines_through_it(laid):
    drafts = drafts_of(laid, "A4", 25.0)
    assert len(drafts) > 1
    for draft in drafts:
        texts = [item.text for item in draft.scene if isinstance(item, Label)]
        assert not draft.missing
        assert all(texts.count(text) >= draft.needed.count(text) for text in draft.needed)
    named = {text.removeprefix("line ") for draft in drafts for text in draft.needed if text.removeprefix("line ") in ("A", "B")}
    assert named == {"A", "B"}


def test_a_paper_that_was_asked_for_takes_the_scale_at_which_the_floor_and_its_figures_go_on_it(laid):
    (draft,) = drafts_of(laid, "A4", None)
    width, height = draft.view.size
    assert draft.view.scale == 50.0  # 3600 / 40 + 2 × 26 is more than the 126 mm over the title block; 3600 / 50 + 52 is 124
    assert width >= 5200 / 50 + 52
    assert height >= 3600 / 50 + 52
    assert not draft.missing


@pytest.mark.parametrize(("right", "low", "paper"), [(300.0, 480.0, "A3"), (500.0, 480.0, "A1"), (300.0, 280.0, "A1")])
def test_a_further_page_with_few_words_goes_on_a_smaller_sheet(laid, right, low, paper):
    (draft,) = drafts_of(laid, "A1", None)
    page = [Label("C1", (30.0, 570.0), 3.5, "TEXT"), Stroke(np.array([[30.0, low], [right, low]]), "TITLE")]
    _, further = with_further(replace(draft, further=(page,)))
    assert further.paper == paper
    label, line = further.words
    assert isinstance(label, Label)
    assert isinstance(line, Stroke)
    down = 594.0 - 297.0 if paper == "A3" else 0.0
    assert label.at == (30.0, 570.0 - down)
    assert line.points[0][1] == low - down


def test_a_set_on_a2_stays_on_one_size(laid):
    (draft,) = drafts_of(laid, "A2", None)
    _, further = with_further(replace(draft, further=([Label("C1", (30.0, 400.0), 3.5, "TEXT")],)))
    assert further.paper == "A2"
