"""Words in another language: one catalogue a language, English is the identity.

A catalogue is a text in gettext's PO format beside this module: an English sentence as ``msgid``, its translation as ``msgstr``; what
changes from drawing to drawing stands in both as named fields in braces, with their formats, and is put in after the translation. What
has no translation stays English. Which language is spoken is a value of the drawing call (`speaking`), not of the process.
"""

from __future__ import annotations

from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Literal, TypeAlias, get_args

from layout.errors import OutputError

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterable, Iterator

Language: TypeAlias = Literal["en", "de", "pl", "es"]
"""Languages of sheets and page, by their codes of ISO 639-1."""
LANGUAGES: tuple[str, ...] = get_args(Language)
HOME = Path(__file__).parent / "languages"
NOTE = "Not translated"
"""What says on a sheet that nobody reviewed its translation: only catalogues have it."""
DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
"""Days of the week and months, as `strftime` shortens them where nothing else is set."""
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


def spoken() -> str:
    """The code of the language that is spoken.

    >>> spoken()
    'en'
    """
    return _spoken.get()


class Worded(str):
    """An English text that knows its sentence and its fields, so that it can be said in another language later."""

    sentence: str
    fields: dict[str, object]

    def __reduce__(self) -> tuple[object, tuple[str, dict[str, object]]]:
        """A copy for another process is made of the sentence and its fields."""
        return _worded, (self.sentence, self.fields)


def _worded(sentence: str, fields: dict[str, object]) -> Worded:
    made = Worded(sentence.format(**fields) if fields else sentence)
    made.sentence, made.fields = sentence, fields
    return made


def worded(sentence: str, /, **fields: object) -> str:
    """The English text of a sentence and its fields, to be said (`say`) when the language of the drawing is known.

    What is found or measured before a drawing is asked for is worded so: findings, names of items and stages, constants of a module.

    >>> text = worded("line {name}", name="A")
    >>> text
    'line A'
    >>> with speaking("de"):
    ...     say(text)
    'Linie A'
    """
    return _worded(sentence, fields)


def say(text: str, /, **fields: object) -> str:
    """An English sentence in the language that is spoken, its fields put in; English where its translation is missing.

    Fields that are worded are said too; so is a text that was worded before.

    >>> say("Scale")
    'Scale'
    >>> with speaking("de"):
    ...     say("line {name}", name="A")
    'Linie A'
    """
    language = _spoken.get()
    sentence = text.sentence if isinstance(text, Worded) else text
    fields = text.fields if isinstance(text, Worded) else fields
    words = sentence if language == "en" else catalogue(language).get(sentence) or sentence
    return words.format(**{name: said(value) for name, value in fields.items()}) if fields else words


def spelt(text: str) -> str:
    """A text as it is written: in the language that is spoken if it is worded, else as it is.

    >>> spelt("R1"), spelt(worded("Scale"))
    ('R1', 'Scale')
    """
    return say(text) if isinstance(text, Worded) else text


def said(value: object) -> object:
    """A worded text in the language that is spoken; anything else, as names and figures, as it is.

    >>> said("Scale"), said(3.0)
    ('Scale', 3.0)
    """
    return say(value) if isinstance(value, Worded) else value


def in_sense(sense: str, text: str) -> str:
    """A word that has several senses, in one of them; `sense` is what a catalogue has as its context.

    >>> with speaking("de"):
    ...     in_sense("of a roll", "left"), say("left")
    ('Rest', 'links')
    """
    return catalogue(_spoken.get()).get(f"{sense}\4{text}") or text if _spoken.get() != "en" else text


def dated(moment: dt.date, pattern: str) -> str:
    """A day by a pattern of `strftime`, its day of the week (%a) and month (%b) in the language that is spoken.

    >>> import datetime as dt
    >>> with speaking("de"):
    ...     dated(dt.date(2026, 5, 4), "%a %d %b")
    'Mo 04 Mai'
    """
    names = {"%a": DAYS[moment.weekday()], "%b": MONTHS[moment.month - 1]}
    for code, name in names.items():
        pattern = pattern.replace(code, say(name).replace("%", "%%"))
    return moment.strftime(pattern)


def timed(moment: dt.date, pattern: str) -> str:
    """A day by a pattern of `strftime`, its day of the week (%a) and month (%b) said later.

    >>> import datetime as dt
    >>> text = timed(dt.date(2026, 5, 4), "%a %d %b")
    >>> text
    'Mon 04 May'
    >>> with speaking("de"):
    ...     say(text)
    'Mo 04 Mai'
    """
    names = {"a": worded(DAYS[moment.weekday()]), "b": worded(MONTHS[moment.month - 1])}
    fields: dict[str, object] = {name: words for name, words in names.items() if f"%{name}" in pattern}
    for name in fields:
        pattern = pattern.replace(f"%{name}", f"{{{name}}}")
    return _worded(moment.strftime(pattern), fields)


def listed(parts: Iterable[str], between: str = ", ") -> str:
    """Texts one after the other, each said later if it is worded.

    >>> listed(["a", worded("wall {number}", number=3)])
    'a, wall 3'
    """
    own = list(parts)
    fields: dict[str, object] = {f"p{k}": part for k, part in enumerate(own)}
    return _worded(between.join(f"{{{name}}}" for name in fields), fields) if own else ""


def note() -> str:
    """What a sheet says of its translation; nothing in English."""
    return "" if _spoken.get() == "en" else say(NOTE)


@cache
def catalogue(language: str) -> dict[str, str]:
    """Translations by their English; the library is loaded only where another language than English is spoken."""
    import polib  # noqa: PLC0415

    return {
        (f"{entry.msgctxt}\4" if entry.msgctxt else "") + entry.msgid: entry.msgstr
        for entry in polib.pofile(str(HOME / f"{language}.po"), encoding="utf-8")
    }
