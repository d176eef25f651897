"""The page in another language: all its words are in it, ticks and figures are those of the English page; looked at in a browser too."""

from __future__ import annotations

import json
import re
from collections import Counter
from html.parser import HTMLParser

import pytest
from babel.messages.extract import extract
from babel.messages.pofile import read_po
from typer.testing import CliRunner

import layout
from cli.main import app
from layout.words import HOME, LANGUAGES
from layout.writers.page.assemble import page_html
from tests.page.conftest import TOP, data_of, takeoff_of
from tests.page.test_browser import Phone, browser  # noqa: F401  # a fixture

PAGE = TOP / "layout" / "writers" / "page"
TYPED = {"Booth", "Invented booth", "door", "gully", "pipe", "floor", "wall"}
"""Names that the booth's plan has, its tiles' too; the catalogue has some of them as words of its own."""


class Words(HTMLParser):
    """What is read of a page, and what is heard: texts outside of style and scripts, and names of elements; heads of columns apart."""

    def __init__(self, page):
        super().__init__(convert_charrefs=True)
        self.texts: list[str] = []
        self.keys: list[str] = []
        self.inside: list[str] = []
        self.language = ""
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        own = dict(attrs)
        self.inside = [tag]
        self.language = own.get("lang") or self.language
        self.texts += [own["aria-label"]] if own.get("aria-label") else []
        self.keys += [own["data-k"]] if "data-k" in own else []

    def handle_endtag(self, _):
        self.inside = []

    def handle_data(self, data):
        if data.strip() and self.inside != ["style"] and self.inside != ["script"]:
            self.texts.append(data)


def catalogue_of(language):
    """Translations by another reader than the program's; words with a sense of their own are left out."""
    with (HOME / f"{language}.po").open("rb") as source:
        return {message.id: message.string for message in read_po(source, locale=language) if message.id and not message.context}


def told_by_script():
    """What the page's script says, found by a library that reads the language it is written in."""
    result = set()
    for path in sorted(PAGE.glob("*.js")):
        with path.open("rb") as source:
            result |= {text for _, text, _, _ in extract("javascript", source, keywords={"T": None}, options={"encoding": "utf-8"})}
    return result


@pytest.fixture(scope="module")
def pages(booth):
    """The booth's page in every language."""
    return {"en": booth[2], **{language: page_html(booth[0], language=language) for language in LANGUAGES[1:]}}


@pytest.mark.parametrize("language", LANGUAGES[1:])
def test_no_word_of_the_page_is_left_in_english(pages, language):
    own = catalogue_of(language)
    seen = Words(pages[language])
    assert seen.language == language
    assert len(seen.texts) > 300
    left = {text.strip() for text in seen.texts if own.get(text.strip(), text.strip()) != text.strip()} - TYPED
    assert not left, "an English entry stands where its translation is wanted"
    assert own["Not translated"] in seen.texts
    english = Words(pages["en"])
    assert english.language == "en"
    assert not english.keys
    assert set(seen.keys) <= set(english.texts), "columns are known by their English heads"
    said = data_of(pages[language])["w"]
    assert told_by_script() <= set(said)
    assert {text: words for text, words in said.items() if text in own and words != own[text]} == {}
    assert "w" not in data_of(pages["en"])


def test_what_sizes_say_is_said_and_what_ticks_hold_is_not(pages):
    english, german = data_of(pages["en"]), data_of(pages["de"])
    alike = ("schema", "issue", "version", "bounds", "rooms", "marks", "pieces")
    assert {key: german[key] for key in alike} == {key: english[key] for key in alike}
    ticked = [[(thing["i"], thing["k"], thing["r"], thing["z"], thing["t"]) for thing in each["things"]] for each in (english, german)]
    assert ticked[0] == ticked[1]
    assert len(ticked[0]) > 40
    fields = [[[(key, kind, unit) for key, _, kind, unit in own] for own in each["fields"]] for each in (english, german)]
    assert fields[0] == fields[1]
    assert german["w"]["internal piece"] == "Inneneck-Stück"
    assert german["frames"]["0.wall.3"]["n"] == "Wand 3"


@pytest.mark.parametrize("language", LANGUAGES[1:])
def test_figures_are_those_of_the_english_page(pages, language):
    """Cells of the tables, one by one: those without a word are alike, and no number with a point is lost out of the others."""
    cells = [re.findall(r"<t[dh](?: scope=row)?>([^<]*)", pages[each]) for each in ("en", language)]
    assert len(cells[0]) == len(cells[1])
    pairs = list(zip(*cells, strict=True))
    bare = [(one, other) for one, other in pairs if re.search(r"\d", one) and not re.search(r"[a-z]{3}", one)]
    assert len(bare) > 100
    assert [one for one, _ in bare] == [other for _, other in bare]
    broken = [[re.findall(r"\d+\.\d+", text) for text in pair] for pair in pairs]
    assert [one for one, other in broken if one != other and Counter(one) != Counter(other)] == []


CLOSET = """
[project]
language = "pl"
[tiles.floor]
size = [300, 300]
joint = 6
[[rooms]]
name = "Closet"
outline = [[0, 0], [900, 0], [900, 800], [0, 800]]
"""


def test_the_plan_names_its_language_and_the_command_goes_before_it(tmp_path):
    plan, site = tmp_path / "closet.toml", tmp_path / "site.html"
    plan.write_text(CLOSET, encoding="utf-8")
    asked = ["page", str(plan), "-o", str(site)]
    wrong = CliRunner().invoke(app, [*asked, "--language", "fr"])
    assert wrong.exit_code == 2
    assert "give one of en, de, pl, es" in wrong.output
    for more, language in (([], "pl"), (["--language", "es"], "es"), (["--language", "en"], "en")):
        done = CliRunner().invoke(app, [*asked, *more])
        assert done.exit_code == 0, done.output
        assert Words(site.read_text(encoding="utf-8")).language == language
    takeoff = takeoff_of(CLOSET)
    titles = [[sheet.title for sheet in layout.draw_sheets(takeoff.setout, takeoff, language=each)] for each in (None, "pl", "en")]
    assert titles[0] == titles[1] != titles[2]
    with pytest.raises(layout.PlanFaults, match=r"project.language: 'fr' found; give one of \"en\", \"de\", \"pl\", \"es\""):
        layout.parse_plan(CLOSET.replace('"pl"', '"fr"'))


def test_a_run_writes_all_in_the_language_of_the_plan(tmp_path, monkeypatch):
    drawn = []
    monkeypatch.setattr(layout, "stage_sheets", lambda _, sheets, *__, **___: drawn.extend(sheets))  # other tests look at its files
    (tmp_path / "closet.toml").write_text(CLOSET, encoding="utf-8")
    done = CliRunner().invoke(app, ["run", str(tmp_path / "closet.toml"), "-o", str(tmp_path / "out")])
    assert done.exit_code == 0, done.output
    assert catalogue_of("pl")["Floor setting-out"] in [sheet.title for sheet in drawn]
    seen = Words((tmp_path / "out" / "closet-page.html").read_text(encoding="utf-8"))
    assert (seen.language, catalogue_of("pl")["Not translated"] in seen.texts) == ("pl", True)
    assert layout.read_plan(tmp_path / "out" / "closet-plan.toml").project.language == "pl"


@pytest.fixture
def phones(browser, pages, tmp_path):  # noqa: F811
    """The booth's page on two phones: the first in English, the second in German."""
    both = []
    for name in ("en", "de"):
        file = tmp_path / f"{name}.html"
        file.write_text(pages[name], encoding="utf-8", newline="")
        both.append(Phone(browser, file))
    yield both
    for one in both:
        assert one.faults == []
        one.close()


def test_ticks_of_a_german_page_are_read_like_those_of_an_english_one(phones, booth, pages, tmp_path):
    own = catalogue_of("de")
    things = data_of(pages["en"])["things"]
    wanted = [next(thing["i"] for thing in things if thing["k"] == kind) for kind in ("run", "corner", "joint")]
    files = []
    for phone, name in zip(phones, ("en", "de"), strict=True):
        phone.page.evaluate("document.querySelector('[data-tab=membrane]').click()")
        for tab, field in (("membrane", "taped"), ("membrane", "set"), ("joints", "sealed")):
            phone.page.locator(f"#tabs [data-tab={tab}]").click()
            phone.page.locator(f"#{tab} [data-field={field}]").first.click()
        phone.page.locator("#tabs [data-tab=progress]").click()
        words = (own["Export JSON"], own["Export CSV"]) if name == "de" else ("Export JSON", "Export CSV")
        for kind, button in zip(("json", "csv"), words, strict=True):
            with phone.page.expect_download() as waiting:
                phone.page.get_by_role("button", name=button, exact=True).click()
            files.append(tmp_path / f"{name}.{kind}")
            waiting.value.save_as(files[-1])
    ticks = [layout.read_ticks(file) for file in files]
    told = [[(event.id, event.field, event.value, event.size) for event in each.events] for each in ticks]
    assert told[0] == told[1] == told[2] == told[3]
    assert [key for key, *_ in told[0]] == wanted
    records = [layout.as_built(booth[0], [each]) for each in ticks]
    assert records[0].deviations == records[2].deviations
    assert not records[2].earlier
    assert json.loads(files[2].read_text(encoding="utf-8"))["schema"] == "gaugerod/ticks/1"


def test_a_german_page_fits_a_phone_and_says_all_in_german(phones):
    own = catalogue_of("de")
    page = phones[1].page
    tabs = ("drawings", "cuts", "membrane", "joints", "checks", "orders", "progress")
    read: set[str] = set()
    for name in tabs:
        page.locator(f"#tabs [data-tab={name}]").click()
        cut, texts = page.evaluate(
            "(() => { const seen = [...document.querySelectorAll('button, label, h2, h3, caption, th, td, p, figcaption')].filter(e => e.checkVisibility());"
            " const wide = document.documentElement.clientWidth;"
            " const out = e => { const r = document.createRange(); r.selectNodeContents(e); const b = r.getBoundingClientRect(), o = e.getBoundingClientRect();"
            "   return b.width > 0 && (b.right > Math.min(wide, e.tagName === 'BUTTON' ? o.right : wide) + 1 || b.left < -1); };"
            " return [seen.filter(out).map(e => e.textContent), seen.map(e => e.textContent.replace('✓ ', ''))]; })()"
        )
        assert not cut, name
        assert page.evaluate("document.documentElement.scrollWidth") <= 391, name
        read |= {text.strip() for text in texts}
    assert len(read) > 100
    assert not {text for text in read if own.get(text, text) != text} - TYPED
    page.locator("#tabs [data-tab=drawings]").click()
    page.locator("#find").click()
    page.fill("#words", "Wand 3")
    found = page.locator("#panel .list button").all_inner_texts()
    assert "Wand 3: zeigen" in found
    assert any(text.startswith("R") and "Wand 3" in text for text in found), "a run is found by where it is, whatever its column is called"
    assert not any("Prüfung" in text for text in found)
    page.fill("#words", "Haftzug")
    assert any(text.startswith("P1") for text in page.locator("#panel .list button").all_inner_texts())
