"""Sheets in other languages: catalogues whole and honest, text that fits, figures and marks as in English."""

from __future__ import annotations

from collections import Counter

import pypdfium2
import pytest
from typer.testing import CliRunner

import layout
from cli.main import app
from layout.sheets.column import CAUTIONS, LEGEND
from layout.sheets.hold_points import CAUTIONS as STAGE_CAUTIONS
from layout.sheets.lettering import text_width
from layout.sheets.paper import title_block
from layout.sheets.scene import Dimension, Label
from layout.words import HOME, LANGUAGES, NOTE, catalogue, say, speaking
from tests.examples import example
from tests.page.conftest import BOOTH, TOP, takeoff_of
from tests.sheets.test_labels import faults_of

OTHERS = LANGUAGES[1:]
KEYS = {words for rows in LEGEND.values() for _, words in rows}
CAPTIONS = {
    "Title": 108, "Status": 72, "Supplementary title": 134, "Document type": 46, "Legal owner": 56, "Creator": 31, "Prepared": 31, "Checked": 31,
    "Approved by": 31, "Identification number": 54, "Revision": 20, "Date of issue": 38, "Scale": 28, "Paper": 18, "Sheet": 22, "Latest revision": 180,
}  # fmt: skip
"""Width of each cell of the title block, mm."""
LEAST = 130.0
"""From the middle of the narrowest sheet, where its centring mark is, to its margin, less a little, mm."""


@pytest.mark.parametrize("language", OTHERS)
def test_each_catalogue_has_every_word_and_says_that_nobody_reviewed_it(language):
    own = catalogue(language)
    head = own.pop("")
    assert f"Language: {language}\n" in head
    assert "X-Reviewed: no" in head
    assert set(own) == {NOTE, "Cautions", *CAPTIONS, *KEYS, *CAUTIONS, *STAGE_CAUTIONS.values()}
    assert all(own.values())
    assert sum(english == there for english, there in own.items()) <= 1, "a word may be the same, a catalogue is not"
    assert "not reviewed" in (HOME / f"{language}.po").read_text(encoding="utf-8").splitlines()[0]


def test_captions_are_those_of_the_title_block():
    project = layout.parse_plan(BOOTH.format(width=2450)).project
    assert {name for name, _ in title_block(project, "", "", 1, 1, "A3", "1:20").fields} == set(CAPTIONS)


@pytest.mark.parametrize("language", LANGUAGES)
def test_words_fit_where_they_stand(language):
    with speaking(language):
        assert not [say(name) for name, width in CAPTIONS.items() if text_width(say(name), 2.5) > width - 1.4]
        assert not [say(words) for words in KEYS if text_width(say(words), 2.5) > 176.0 / 2 - 16.5]
        assert text_width(say(NOTE), 2.5) < LEAST
    assert say("Scale") == "Scale", "what is spoken ends with the drawing"


def test_a_language_without_a_catalogue_is_told():
    with pytest.raises(layout.OutputError, match="'fr' found; give one of en, de, pl, es"), speaking("fr"):
        pass


def labels_of(sheet):
    return Counter(item.text for item in sheet.room if isinstance(item, (Label, Dimension)))


def words_on(sheet):
    return [item.text for item in sheet.paper_scene if isinstance(item, Label)]


@pytest.fixture(scope="module")
def rooms():
    """Take-offs of a small room and the canteen, each with its English sheets."""
    canteen = example(TOP / "plans" / "canteen.toml")
    takeoffs = [takeoff_of(BOOTH.format(width=2450)), layout.take_off(canteen)]
    return [(takeoff, layout.draw_sheets(takeoff.setout, takeoff)) for takeoff in takeoffs]


@pytest.mark.parametrize(("number", "language"), [(0, "pl"), (0, "es"), (1, "de")])
def test_figures_and_marks_do_not_change_and_nothing_needed_is_missing(rooms, number, language):
    takeoff, english = rooms[number]
    sheets = layout.draw_sheets(takeoff.setout, takeoff, language=language)
    assert not faults_of(sheets)
    views = [sheet for sheet in sheets if sheet.view is not None]
    assert [(s.title, labels_of(s)) for s in views] == [(s.title, labels_of(s)) for s in english if s.view is not None]
    own = catalogue(language)
    for sheet in sheets:
        words = words_on(sheet)
        assert own[NOTE] in words, sheet.name
        assert not {text for text in words if own.get(text, text) != text and (text in CAPTIONS or text in KEYS)}, sheet.name
    every = " ".join(" ".join(words_on(sheet)) for sheet in sheets)
    assert all(own[text] in every for text in CAUTIONS)
    assert not [text for text in CAUTIONS if text in every]
    assert not [sheet.name for sheet in english if own[NOTE] in words_on(sheet)]


def test_a_set_in_another_language_is_written_by_the_command(tmp_path):
    (tmp_path / "booth.toml").write_text(BOOTH.format(width=2300), encoding="utf-8")
    asked = ["sheets", str(tmp_path / "booth.toml"), "-o", str(tmp_path / "out"), "--format", "pdf", "--language"]
    done = CliRunner().invoke(app, [*asked, "pl"])
    assert done.exit_code == 0, done.output
    pages = pypdfium2.PdfDocument(next((tmp_path / "out").glob("*.pdf")))
    words = pages[0].get_textpage().get_text_range()
    pages.close()
    assert "Tłumaczenie niesprawdzone" in words
    assert "pierwsza cała płytka" in words
    wrong = CliRunner().invoke(app, [*asked, "xx"])
    assert wrong.exit_code == 2
    assert "give one of en, de, pl, es" in wrong.output
