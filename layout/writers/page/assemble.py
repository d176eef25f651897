"""The crew's page as one file: style, drawings, tables, data and script, and a policy that lets nothing in or out.

The policy stands in the file (Content Security Policy, meta element): scripts and styles only by their own hash, nothing from
anywhere, no form, no base. Names of a plan are data: escaped where they are text, and no script ever reads them as markup.
"""

from __future__ import annotations

import base64
import hashlib
import html
import json
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

from layout.programme.stages import start_of
from layout.quantities.cutting import plan_cuts
from layout.record.things import PIECE_FIELDS, issue_of, size_words, things_of, works_of
from layout.record.values import MOST_BYTES, MOST_EVENTS, MOST_ID, MOST_LETTERS, MOST_NUMBER, SCHEMA
from layout.sheets.draw import draw_sheets
from layout.sheets.paper import has_column
from layout.sheets.scene import Label
from layout.words import note, say, speaking, spelt, spoken, worded
from layout.writers.files import tool_version
from layout.writers.page import tables
from layout.writers.page.geometry import frames, kind_and_room, pieces_record, places_record, windows
from layout.writers.page.palette import TRADES, drawing_style
from layout.writers.page.svg import Drawings, column_left, column_of, shown, without_block
from layout.writers.page.words import SAMPLE, bounds_of, parted, words_html

if TYPE_CHECKING:
    from collections.abc import Sequence

    from layout.quantities.values import TakeOff
    from layout.record.things import Field, Thing
    from layout.sheets.scene import Sheet

HOME = Path(__file__).parent
SCRIPTS = ("store.js", "drawing.js", "lists.js", "desk.js")
"""Parts of the script, in their order."""
AS_TABLES = ("saw-list", "programme", "batches", "schedules")
"""Sheets that hold words only: the page has their figures as tables, which a phone can show."""
AS_WORDS = ("basis",)
"""Sheets that hold words only, which the page has as text."""
SECTIONS = (
    ("cuts", worded("Cuts")), ("membrane", worded("Membrane")), ("joints", worded("Joints")), ("checks", worded("Checks")),
    ("orders", worded("Orders and programme")),
)  # fmt: skip
SCRIPT_WORD = re.compile(r'\bT\("((?:[^"\\]|\\.)*)"')
"""A text that the script says: in its language if the page has words of it, else in English."""


def page_html(takeoff: TakeOff, sheets: Sequence[Sheet] | None = None, *, language: str | None = None) -> str:
    """The page of a plan in a language, the plan's own if not given; `sheets` are its sheet set in it if drawn already, at the paper and scale that the tool chooses.

    Ticks do not know the language: ids, fields and sizes are the same in each.

    Raises
    ------
    OutputError
        If the language has no catalogue.
    """
    things = things_of(takeoff)
    own = takeoff.setout.plan.project.language if language is None else language
    with speaking(own):
        return _page(takeoff, things, tuple(sheets) if sheets is not None else draw_sheets(takeoff.setout, takeoff, language=own))


def _page(takeoff: TakeOff, things: Sequence[Thing], drawn: Sequence[Sheet]) -> str:
    """The page in the language that is spoken."""
    setout = takeoff.setout
    rooms = [room.name for room in setout.rooms]
    kept = tuple(s for s in drawn if not _kind(s, len(rooms)).startswith((*AS_TABLES, *AS_WORDS)) and not _more_cards(s))
    drawings = Drawings(kept)
    pictures = [drawings.sheet(number) for number in range(len(kept))]
    said = "".join(words_html(without_block(s)) for s in drawn if _kind(s, len(rooms)).startswith(AS_WORDS))
    sections = _sections(takeoff, things, tables.cut_cards(setout, drawings), said)
    figures, key = _figures(kept, pictures, drawings)
    style = _style(drawings)
    script = '"use strict";(function(){\n' + "".join(_told_briefly(_own(name)) for name in SCRIPTS) + "})();\n"
    early = _told_briefly(_own("early.js"))
    own = {} if spoken() == "en" else {"w": _words(things)}
    data = _script_data({**_data(takeoff, things, tuple(enumerate(kept))), **own})
    project = setout.plan.project
    words = [
        project.number,
        say("issue {revision}", revision=project.revision) if project.revision else "",
        f"{project.date}" if project.date else "",
    ]
    frame = _own("page.html")
    values = {
        "LANGUAGE": spoken(),
        "NOTE": "" if spoken() == "en" else f"<p class=note>{shown(note())}</p>",
        "POLICY": policy(style, early, script),
        "TITLE": shown(project.title),
        "ISSUE": shown(" · ".join(each for each in words if each)),
        "VERSION": shown(tool_version()),
        "STYLE": style,
        "DEFS": drawings.definitions(),
        "FIGURES": figures,
        "KEY": key,
        "SECTIONS": sections,
        "CAUTIONS": tables.cautions(),
        "DATA": data,
        "EARLY": early,
        "SCRIPT": script,
    }
    parts = frame.split("@@")  # text, key, text, key …: one pass, so that nothing in a plan is taken for a key
    return "".join((_own_words(part) or values[part]) if k % 2 else part for k, part in enumerate(parts))


def _own_words(part: str) -> str:
    """A text of the page's own frame, which stands there behind a sign."""
    return html.escape(say(part[1:]), quote=False).replace('"', "&quot;") if part.startswith("=") else ""


def script_words() -> list[str]:
    """What the script says, in the order of its parts."""
    return list(dict.fromkeys(found for name in SCRIPTS for found in SCRIPT_WORD.findall(_own(name))))


def _words(things: Sequence[Thing]) -> dict[str, str]:
    """By their English: what the script says, and what sizes of things say beside their figures."""
    sizes = dict.fromkeys(thing.size for thing in things if thing.kind != "piece" and spelt(thing.size) != thing.size)
    return {text: say(text) for text in (*script_words(), *sizes)}


def _figures(sheets: Sequence[Sheet], pictures: Sequence[str], drawings: Drawings) -> tuple[str, str]:
    """Each drawing with the words of its column under it; and the key of all of them, each sample once."""
    figures: list[str] = []
    samples: dict[str, str] = {}
    for number, (sheet, picture) in enumerate(zip(sheets, pictures, strict=True)):
        words, key, plan = parted(column_of(sheet) if sheet.view is not None else [])
        for text, (*own, label) in key.items():
            if text not in samples and isinstance(label, Label):
                x, y = label.at
                samples[text] = drawings.picture(own, (x - SAMPLE[0], y - SAMPLE[1], x - 0.5, y + SAMPLE[1]), text)
        small = [drawings.picture(plan, bounds_of(plan), say("where these faces are"))] if plan else []
        title = shown(f"{sheet.title} · {sheet.room_name}")
        said = f"<div class=said>{''.join(small)}{words_html(words)}</div>" if words or small else ""
        figures.append(f"<figure id=sheet{number} class=sheet><figcaption>{title}</figcaption>{picture}{said}</figure>")
    return "".join(figures), "".join(f"<li>{sample} {shown(text)}" for text, sample in samples.items())


def _kind(sheet: Sheet, rooms: int) -> str:
    return kind_and_room(sheet, rooms)[0]


def _more_cards(sheet: Sheet) -> bool:
    """Whether a sheet goes on with the words of a drawing that has a column beside it: cards of cuts, which stand in the page's table."""
    return "words" in sheet.name and has_column(sheet.size)


def _own(name: str) -> str:
    """A file of the page that lies beside this module."""
    return (HOME / name).read_text(encoding="utf-8")


def _told_briefly(script: str) -> str:
    """A script without what only its reader needs: remarks, on a line of their own or behind one, indents, spaces round signs."""
    lines = (line.split(" // ")[0].strip() for line in script.splitlines())
    return "\n".join(_close(line) for line in lines if line and not line.startswith("//")) + "\n"


ROUND_SIGNS = re.compile(r" ?([=,{}?:<>&|;]+) ?")
"""Signs that need no space round them; plus and minus do, where two follow each other."""


def _close(line: str) -> str:
    """A line of a script without spaces round signs; what is quoted stays, and so does a line whose quotes are not all of one kind, or a pattern."""
    if any(sign in line for sign in "'`/\\"):
        return line
    return '"'.join(part if k % 2 else ROUND_SIGNS.sub(r"\1", part) for k, part in enumerate(line.split('"')))


def _style(drawings: Drawings) -> str:
    return _own("page.css") + drawings.scale_style() + drawing_style(drawings.tones)


def policy(style: str, *scripts: str) -> str:
    """What the page may load and run: its own style and scripts, known by their hash, and nothing else."""

    def by_hash(text: str) -> str:
        return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"

    return (
        f"default-src 'none'; style-src {by_hash(style)}; script-src {' '.join(map(by_hash, scripts))}; base-uri 'none'; form-action 'none'"
    )


def _script_data(record: dict[str, Any]) -> str:
    """JSON inside a script element: no letter of it can end the element."""
    text = json.dumps(record, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def _sections(takeoff: TakeOff, things: Sequence[Thing], cards: dict[str, str], said: str) -> str:
    setout = takeoff.setout
    rooms = [room.name for room in setout.rooms]
    sizes = {cut.mark: size_words(cut) for cut in setout.cuts}
    bodies = {key: tables.thing_tables(things, rooms, key) for key, _ in SECTIONS}
    bodies["cuts"] = tables.cuts_table(setout, sizes, cards)
    programme = works_of(takeoff) if start_of(setout.plan) is not None else None
    bodies["orders"] = tables.schedules(takeoff, plan_cuts(setout), programme) + said
    return "".join(
        f"<section id={key}><h2 tabindex=-1>{shown(say(name))}</h2><div class=wide>{bodies[key]}</div></section>" for key, name in SECTIONS
    )


def _field(field: Field) -> list[str]:
    return [field.key, spelt(field.words), field.kind, field.unit]


def _data(takeoff: TakeOff, things: Sequence[Thing], sheets: tuple[tuple[int, Sheet], ...]) -> dict[str, Any]:
    """What the script works on."""
    setout = takeoff.setout
    issue = issue_of(setout, tuple(things))
    window = windows(sheets)
    rooms = len(setout.rooms)
    kinds = [PIECE_FIELDS, *dict.fromkeys(thing.fields for thing in things if thing.kind != "piece")]
    return {
        "schema": SCHEMA,
        "issue": {"title": issue.title, "number": issue.number, "revision": issue.revision, "digest": issue.digest},
        "version": tool_version(),
        "bounds": {"events": MOST_EVENTS, "bytes": MOST_BYTES, "letters": MOST_LETTERS, "id": MOST_ID, "number": MOST_NUMBER},
        "rooms": [room.name for room in setout.rooms],
        "sheets": [
            {
                "t": sheet.title,
                "k": kind_and_room(sheet, rooms)[0],
                "r": kind_and_room(sheet, rooms)[1],
                "w": window[number],
                "p": [round(column_left(sheet) * 10), round(sheet.size[1] * 10)],
            }
            for number, sheet in sheets
        ],
        "trades": [[key, say(words)] for key, words, _ in TRADES],
        "marks": {cut.mark: [size_words(cut), cut.tile] for cut in setout.cuts},
        "frames": frames(setout, sheets),
        "fields": [[_field(each) for each in fields] for fields in kinds],
        "pieces": pieces_record(things),
        "things": [
            {
                "i": thing.id,
                "k": thing.kind,
                "r": thing.room,
                "z": thing.size,
                "t": kinds.index(thing.fields),
                "a": places_record(thing),
            }
            for thing in tables.in_order(things)
        ],
    }
