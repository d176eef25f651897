"""The page as a file: nothing from outside, names are data, small, all of the plan in it."""

from __future__ import annotations

import base64
import hashlib
import re
from collections import Counter
from html.parser import HTMLParser

import numpy as np
import pytest

import layout
from layout.record.things import things_of
from layout.sheets.layers import LAYERS
from layout.writers.page import palette
from layout.writers.page.assemble import _told_briefly, page_html
from layout.writers.page.svg import path_of
from tests.page.conftest import BOOTH, TOP, data_of, found, pieces_of, takeoff_of


class Seen(HTMLParser):
    """What a browser would take for markup: tags with the names of their attributes, values of those that load something, text by tag."""

    def __init__(self):
        super().__init__(convert_charrefs=True)
        self.tags: Counter[tuple[str, tuple[str, ...]]] = Counter()
        self.loads, self.handlers, self.text, self.open = [], [], {}, ""

    def handle_starttag(self, tag, attrs):
        self.tags[tag, tuple(sorted(name for name, _ in attrs))] += 1
        self.loads += [value for name, value in attrs if name in ("src", "href", "xlink:href", "data", "action", "srcset", "poster")]
        self.loads += re.findall(r"url\((.*?)\)", " ".join(value or "" for _, value in attrs))
        self.handlers += [name for name, _ in attrs if name.startswith("on") or name == "style"]
        self.open = tag

    def handle_data(self, data):
        self.text[self.open] = self.text.get(self.open, "") + data


def seen(page):
    parser = Seen()
    parser.feed(page)
    return parser


def test_nothing_is_loaded_and_no_element_runs_or_styles_itself(canteen):
    made = seen(canteen[1])
    assert made.loads, "the drawings use what they share"
    assert all(value.startswith("#") for value in made.loads)
    assert made.handlers == []
    assert not re.search(r"@import|url\((?!#)|https?://(?!www\.w3\.org/2000/svg)", canteen[1])


def test_the_policy_names_its_scripts_and_its_style_by_hash(canteen):
    page = canteen[1]
    policy = found(r'Content-Security-Policy content="(.*?)"', page)
    style = found(r"<style>(.*?)</style>", page)
    script = re.findall(r"<script>(.*?)</script>", page, re.DOTALL)
    assert len(script) == 2
    for text in (style, *script):
        assert f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'" in policy
    assert policy.startswith("default-src 'none'")
    assert "unsafe" not in policy


NASTY = (
    "<script>alert(1)</script>",
    "</script><script>alert(1)</script>",
    "\"><img src=x onerror=alert(1)>",
    "' onload='alert(1)",
    "@@SCRIPT@@ {{x}} ${1}",
    "<!-- ]]></svg></style>",
    "&lt;b&gt; &amp; \\u003c",
)  # fmt: skip


def named(names):
    """The booth with other names, and its page."""
    import tomlkit

    plan = tomlkit.parse(BOOTH.format(width=2450))
    room = plan["rooms"][0]
    places = ((plan["project"], "title"), (plan["project"], "number"), (plan["project"], "revision"), (room, "name"))
    things = ((room["openings"][0], "name"), (room["drains"][0], "name"), (room["pipes"][0], "name"))
    for (place, key), name in zip((*places, *things), names, strict=True):
        place[key] = name
    takeoff = takeoff_of(tomlkit.dumps(plan))
    return page_html(takeoff, sheets=SHEETS(takeoff))


@pytest.mark.parametrize("turn", [0, 3])
def test_names_are_data(turn):
    """Whatever things are called, the page has the same elements with the same attributes as the plainly named one."""
    names = NASTY[turn:] + NASTY[:turn]
    page, plain = named(names), named([f"{k} plainly named" for k in range(len(names))])
    made = seen(page)
    assert made.tags == seen(plain).tags
    assert made.handlers == []
    assert data_of(page)["issue"]["title"] == names[0]
    assert made.text["h1"].count(names[0]) == 1


def SHEETS(takeoff):  # noqa: N802  # the sheet of tape shows every name; the others would cost more and show no others
    from layout.sheets import tape_sheet
    from layout.sheets.draft import Job, room_job
    from layout.sheets.draw import _sheet

    job = Job(takeoff.setout, takeoff, (room_job(takeoff.setout, 0, None, None),))
    return tuple(_sheet(takeoff.setout, draft, 1, 1) for draft in tape_sheet.drafts(job))


def test_a_script_loses_its_remarks_and_spaces_but_nothing_that_is_quoted():
    told = _told_briefly('const a = { b: "x , y" }; // why\n  // a remark\n  if (a.b === "p = q" && c < +d - -e) run(`${a} , b`, 1);\n')
    assert told == 'const a={b:"x , y"};\nif (a.b === "p = q" && c < +d - -e) run(`${a} , b`, 1);\n'
    assert _told_briefly('f("a, b", x ? y : z) + +g;\n') == 'f("a, b",x?y:z) + +g;\n'


def test_the_canteen_is_small_with_all_its_sheets(canteen):
    page = canteen[1]
    assert len(page.encode()) < 250_000
    titles = {sheet["t"] for sheet in data_of(page)["sheets"]}
    words = {"Floor setting-out", "Cuts and marks", "Membrane and tape", "Movement joints and sealant", "Elevations", "Details"}
    assert words <= titles
    for heading in ("Orders in whole packs", "Saw list", "Programme", "Hold points", "Test points", "Findings"):
        assert heading in page


def test_every_piece_of_the_record_is_on_the_page_at_its_place(canteen):
    """Counted from the record of the set-out, whose pieces are written by other code."""
    takeoff, page = canteen
    record = layout.setout_record(takeoff.setout, pieces=True)
    wanted: Counter[tuple[str | int, ...]] = Counter()
    for surface in record["rooms"][0]["surfaces"]:
        for piece in surface["pieces"]:
            if piece["mark"]:
                box = np.array(piece["outline"])
                wanted[piece["mark"], *np.round([*box.min(axis=0), *box.max(axis=0)]).astype(int).tolist()] += 1
    told: Counter[tuple[str | int, ...]] = Counter()
    for _, mark, box in pieces_of(data_of(page)):
        told[mark, *box] += 1
    assert sum(told.values()) == sum(wanted.values()) > 400
    off = sum((told - wanted).values())
    assert off <= 5, "a half of a millimetre may be rounded either way"


def test_a_path_says_where_it_goes():
    line = np.array([[0.0, 0.0], [4.4, 0.0], [4.4, -3.0]])
    assert path_of([(line, False)]) == "M0 0h4v-3"


def test_ids_are_unique_and_most_stay_where_a_wall_moves(booth):
    _, things, _ = booth
    assert len({thing.id for thing in things}) == len(things)
    moved = {thing.id: thing for thing in things_of(takeoff_of(BOOTH.format(width=2456)))}
    before = {thing.id: thing for thing in things if thing.kind == "piece"}
    same = [key for key in before if key in moved]
    assert len(same) > 0.7 * len(before)
    changed = [key for key in same if moved[key].size != before[key].size]
    assert changed, "a wall that moved gives other sizes, and their ids say so"


@pytest.mark.parametrize("dark", [0, 1])
def test_words_and_lines_stand_out(dark):
    """WCAG 2.2: words 4.5 : 1 (1.4.3), lines that carry meaning 3 : 1 (1.4.11), by a second reckoning of luminance."""

    def luminance(colour):
        part = np.array(colour) / 255.0
        linear = np.where(part <= 0.04045, part / 12.92, ((part + 0.055) / 1.055) ** 2.4)
        return float(linear @ np.array([0.2126, 0.7152, 0.0722]))

    def ratio(a, b):
        high, low = sorted((luminance(a), luminance(b)), reverse=True)
        return (high + 0.05) / (low + 0.05)

    grounds = [palette.PAPER[dark], palette.TILE[dark], palette.mixed("TILE-CUT", 0.14, dark)]
    for layer in LAYERS.values():
        for ground in grounds:
            assert ratio(palette.INKS[layer.colour][dark], ground) >= 4.5, (layer.name, ground)
    assert ratio(palette.GROUND[dark], palette.TILE[dark]) >= 3.0


def style_values(dark):
    text = (TOP / "layout" / "writers" / "page" / "page.css").read_text(encoding="utf-8")
    block = found(r"\.dark\{(.*?)\}" if dark else r":root\{(.*?)\}", text)
    values = dict(re.findall(r"--(\w+):(#\w+)", block))
    full = {k: v if len(v) == 7 else "#" + "".join(c * 2 for c in v[1:]) for k, v in values.items()}
    return {k: tuple(int(v[n : n + 2], 16) for n in (1, 3, 5)) for k, v in full.items()}


@pytest.mark.parametrize("dark", [False, True])
def test_the_pages_own_words_and_buttons_stand_out(dark):
    of = style_values(dark)
    for words, ground, least in (
        ("ink", "paper", 7.0), ("ink", "face", 7.0), ("soft", "paper", 7.0), ("warn", "paper", 7.0), ("act", "face", 7.0),
        ("on", "done", 7.0), ("on", "act", 7.0), ("line", "paper", 3.0), ("done", "paper", 3.0), ("act", "paper", 3.0),
    ):  # fmt: skip
        assert palette.contrast(of[words], of[ground]) >= least, (words, ground)
