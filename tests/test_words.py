"""Sheets in other languages: catalogues whole and honest, text that fits, figures and marks as in English."""

from __future__ import annotations

import re
from collections import Counter
from string import Formatter
from typing import Any

import pypdfium2
import pytest
from babel.messages.extract import extract
from babel.messages.pofile import read_po
from typer.testing import CliRunner

import layout
from cli.main import app
from layout.sheets.column import CAUTIONS, LEGEND
from layout.sheets.lettering import text_width
from layout.sheets.paper import title_block
from layout.sheets.scene import Label
from layout.words import DAYS, HOME, LANGUAGES, MONTHS, NOTE, catalogue, say, speaking
from tests import words
from tests.examples import example
from tests.page.conftest import BOOTH, TOP, takeoff_of
from tests.sheets.test_labels import faults_of

OTHERS = LANGUAGES[1:]
MISSING = 0
"""So many texts of the code no catalogue has yet; it only gets less."""
UNSAID = {
    "layout/sheets/batch_sheet.py": 2,
    "layout/sheets/crew_words.py": 1,
    "layout/sheets/draw.py": 3,
    "layout/sheets/hold_points.py": 2,
    "layout/sheets/paper.py": 7,
    "layout/sheets/programme_sheet.py": 2,
    "layout/sheets/schedule_sheet.py": 3,
    "layout/sheets/start_sheet.py": 1,
}
"""Texts of the sheets' modules that look like words and are none on a sheet: keys, names that are compared, errors."""
KEYS = {words for rows in LEGEND.values() for _, words in rows}
CAPTIONS = {
    "Title": 108, "Status": 72, "Supplementary title": 134, "Document type": 46, "Legal owner": 56, "Creator": 31, "Prepared": 31, "Checked": 31,
    "Approved by": 31, "Identification number": 54, "Revision": 20, "Date of issue": 38, "Scale": 28, "Paper": 18, "Sheet": 22, "Latest revision": 180,
}  # fmt: skip
"""Width of each cell of the title block, mm."""
LEAST = 130.0
"""From the middle of the narrowest sheet, where its centring mark is, to its margin, less a little, mm."""


def extracted():
    """What the code says, found by a library for catalogues: it reads tokens, not the tree."""
    keywords = {"say": None, "worded": None, "in_sense": ((1, "c"), 2)}
    result = set()
    for path in sorted([*(TOP / "layout").rglob("*.py"), *(TOP / "cli").rglob("*.py")]):
        if path.name == "words.py" and path.parent.name == "layout":
            continue
        with path.open("rb") as source:
            for _, text, _, context in extract("python", source, keywords=keywords, options={"encoding": "utf-8"}):
                result.add(f"{context}\4{text}" if context else text)
    for path in sorted(words.PAGE.glob("*.js")):
        with path.open("rb") as source:
            result |= {text for _, text, _, _ in extract("javascript", source, keywords={"T": None}, options={"encoding": "utf-8"})}
    frame = (words.PAGE / "page.html").read_text(encoding="utf-8").split("@@")[1::2]
    return result | {part.removeprefix("=") for part in frame if part.startswith("=")}


def of_catalogue(language) -> tuple[Any, dict[str, Any]]:
    """Messages of a catalogue by another reader than the program's."""
    with (HOME / f"{language}.po").open("rb") as source:
        own: Any = read_po(source, locale=language)
    return own, {(f"{m.context}\4" if m.context else "") + m.id: m.string for m in own if m.id}


def fields_of(text: str):
    return sorted((name, spec) for _, name, spec, _ in Formatter().parse(text) if name is not None)


def test_two_ways_find_the_same_words_in_the_code():
    assert extracted() | {NOTE, *DAYS, *MONTHS} == set(words.said_in_code())


def test_what_is_not_said_gets_less():
    left = {path: len(texts) for path, texts in words.unsaid("layout/sheets/").items()}
    assert left == UNSAID, "a text for people goes through say or worded; where one more does, lower the figure"


@pytest.mark.parametrize("language", OTHERS)
def test_each_catalogue_says_that_nobody_reviewed_it_and_has_no_other_words_than_the_code(language):
    own, messages = of_catalogue(language)
    assert str(own.locale) == language
    source = (HOME / f"{language}.po").read_text(encoding="utf-8")
    assert '"X-Reviewed: no' in source
    assert "not reviewed" in source.splitlines()[0]
    said = words.said_in_code()
    assert not set(messages) - set(said), "stale words"
    assert len(set(said) - set(messages)) <= MISSING, "words without a translation"
    assert all(messages.values())
    assert not [text for text, there in messages.items() if fields_of(text.split("\4")[-1]) != fields_of(there)]
    edges = [
        (text, there) for text, there in messages.items() if (text[:1] == " ", text[-1:] == " ") != (there[:1] == " ", there[-1:] == " ")
    ]
    assert not edges, "a space at an end joins two texts"
    assert catalogue(language) == messages


def test_captions_are_those_of_the_title_block():
    project = layout.parse_plan(BOOTH.format(width=2450)).project
    assert {name for name, _ in title_block(project, "", "", 1, 1, "A3", "1:20").fields} == set(CAPTIONS)


@pytest.mark.parametrize("language", LANGUAGES)
def test_words_fit_where_they_stand(language):
    with speaking(language):
        assert not [say(name) for name, width in CAPTIONS.items() if text_width(say(name), 2.5) > width - 1.4]
        assert not [say(words) for words in KEYS if text_width(say(words), 2.5) > 176.0 / 2 - 16.5]
        assert text_width(say(NOTE), 2.5) < LEAST
        assert text_width(say(POINTS), 2.5) < 72.5  # half a column less its sign
    assert say("Scale") == "Scale", "what is spoken ends with the drawing"


def test_a_language_without_a_catalogue_is_told():
    with pytest.raises(layout.OutputError, match="'fr' found; give one of en, de, pl, es"), speaking("fr"):
        pass


POINTS = "test: W film, P pull-off, M moisture, F flood"
TYPED = {"plinth", "pipe", "gully"}
"""Words of the plans' own names, which no catalogue touches: the booth's pipe and gully; the canteen's dishwasher plinth, over two lines of a card."""


def figures_of(sheet):
    """Figures and marks that a sheet needs: what has no word in it."""
    return Counter(text for text in sheet.needed if not re.search(r"[a-zäöüąćęłńóśźżáéíñú]{2}", text))


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
    assert [figures_of(sheet) for sheet in views] == [figures_of(sheet) for sheet in english if sheet.view is not None]
    own = catalogue(language)
    for sheet in sheets:
        words = words_on(sheet)
        assert own[NOTE] in words, sheet.name
        drawn = [*words, *(item.text for item in sheet.room if isinstance(item, Label))]
        assert not {text for text in drawn if own.get(text, text) != text and text not in TYPED}, sheet.name
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
