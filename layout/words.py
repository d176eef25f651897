"""Words of sheets in another language: one catalogue a language, English is the identity.

A catalogue is a text in gettext's PO format beside this module: an English sentence as ``msgid``, its translation as ``msgstr``. What
has no translation stays English. Which language is spoken is a value of the drawing call (`speaking`), not of the process.
"""

from __future__ import annotations

import ast
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from layout.errors import OutputError

if TYPE_CHECKING:
    from collections.abc import Iterator

LANGUAGES = ("en", "de", "pl", "es")
"""Languages of the sheets, by their codes of ISO 639-1."""
HOME = Path(__file__).parent / "languages"
NOTE = "Not translated"
"""What says on a sheet how much of it is translated, and that nobody reviewed it: only catalogues have it."""
_spoken: ContextVar[str] = ContextVar("language", default="en")


@contextmanager
def speaking(language: str) -> Iterator[None]:
    """What is said inside is said in this language.

    Raises
    ------
    OutputError
        If there is no catalogue of it.
    """
    if language not in LANGUAGES:
        raise OutputError("language", f"{language!r} found", "give one of " + ", ".join(LANGUAGES))
    before = _spoken.set(language)
    try:
        yield
    finally:
        _spoken.reset(before)


def say(text: str) -> str:
    """An English sentence in the language that is spoken; itself in English, and where its translation is missing.

    >>> say("Scale")
    'Scale'
    >>> with speaking("de"):
    ...     say("Scale")
    'Maßstab'
    """
    spoken = _spoken.get()
    return text if spoken == "en" else catalogue(spoken).get(text) or text


def note() -> str:
    """What a sheet says of its translation; nothing in English."""
    return "" if _spoken.get() == "en" else say(NOTE)


@cache
def catalogue(language: str) -> dict[str, str]:
    """Translations by their English; the header stands under the empty text."""
    return read_catalogue((HOME / f"{language}.po").read_text(encoding="utf-8"))


def read_catalogue(text: str) -> dict[str, str]:
    r"""The messages of a PO file without plurals and contexts; quoted lines that follow each other are one text.

    Raises
    ------
    ValueError
        If a line is neither a remark, a key nor a quoted text.

    >>> read_catalogue('msgid "cut"\nmsgstr ""\n"Schn"\n"itt"')
    {'cut': 'Schnitt'}
    """
    result: dict[str, str] = {}
    parts = {"msgid": "", "msgstr": ""}
    key = ""
    for line in [*text.splitlines(), 'msgid ""']:
        line = line.strip()
        if not line or line.startswith("#"):
            continue
        word, _, rest = line.partition(" ") if line[0] != '"' else (key, "", line)
        if word not in parts or rest[:1] != '"':
            raise ValueError(f"no line of a catalogue: {line}")
        if word == "msgid" and line[0] != '"':
            if key == "msgstr":
                result[parts["msgid"]] = parts["msgstr"]
            parts = {"msgid": "", "msgstr": ""}
        key = word
        parts[key] += str(ast.literal_eval(rest))
    return result
