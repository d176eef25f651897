"""A small border guard for files that people write: each field checks and explains what it reads, and writes it back.

Own checks rather than a modelling library, since that library alone would cost more start-up time
than reading and setting out a kitchen (see DEVELOPERS.md, decisions). `layout.keys` joins fields to the
values of a plan; reader, JSON Schema, writer and the table of keys all walk that one declaration.
"""

from __future__ import annotations

import datetime as dt
import difflib
import math
import unicodedata
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Generic, TypeVar, get_args

from layout.errors import PlanError
from layout.units import parse_length, snap

if TYPE_CHECKING:
    from collections.abc import Mapping

    from layout.errors import Point

T = TypeVar("T")
T_co = TypeVar("T_co", covariant=True)

LIMIT = 1e9
"""Greatest length or coordinate taken, mm: a thousand kilometres is a slip of the pen."""
_UNSEEN = {"Cc", "Cs", "Zl", "Zp"}
_BIDI = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


@dataclass(slots=True)
class Faults:
    """Collects the faults of one file; `place` grows as tables are entered.

    `homes` gives tables that were taken in from other files, as ``rooms[7]``, with their place there.
    """

    source: str
    found: list[PlanError] = field(default_factory=list)
    homes: Mapping[str, str] = field(default_factory=dict)

    def add(self, place: str, found: str, mend: str) -> None:
        """Note one fault at a place inside the file."""
        self.found.append(PlanError(self.at(place), found, mend))

    def at(self, place: str) -> str:
        """A place with its file: that which the table was taken from."""
        for table, home in self.homes.items():
            if place == table or place.startswith((f"{table}.", f"{table}[")):
                return home + place[len(table) :]
        return f"{self.source}: {place}" if place else self.source


def unseen(text: str) -> bool:
    r"""Whether a text holds characters that are not seen but steer a terminal or the order of reading: controls, line ends, bidi marks.

    >>> unseen("Küche 2"), unseen("a\x1b[2J"), unseen("a\u202eb")
    (False, True, True)
    """
    return any(char in _BIDI or unicodedata.category(char) in _UNSEEN for char in text)


def clean(text: str) -> str:
    r"""Words out of a file that no person typed here, without what is not seen: each such character is a space.

    >>> clean("A-\x1b[31mWALL")
    'A- [31mWALL'
    """
    return "".join(" " if unseen(char) else char for char in text) if unseen(text) else text


def shown(value: object) -> str:
    """A value as the person typed it, shortened, with what is not seen written as its code."""
    if isinstance(value, int) and abs(value) >= 10**40:
        return f"a whole number of some {int((value.bit_length() - 1) * 0.30103) + 1} digits"
    try:
        text = repr(value).replace("True", "true").replace("False", "false")
    except (ValueError, RecursionError):  # a list that holds a number too long to be written out, or is nested too deep
        return f"a {type(value).__name__} too long or too deep to be shown"
    text = "".join(f"\\u{ord(char):04x}" if unseen(char) else char for char in text[:61])
    return text if len(text) <= 60 else f"{text[:57]}..."


class Field(Generic[T_co]):
    """One value of a file. `says` tells what would be right, in words."""

    says = "a value"

    def read(self, value: object, place: str, faults: Faults) -> T_co | None:
        """The value in the plan's own form; None with a fault noted if it is wrong."""
        raise NotImplementedError

    def write(self, value: Any) -> Any:  # noqa: ANN401
        """The value as a file holds it: what `read` takes back to the same value."""
        return value

    def schema(self) -> dict[str, Any]:
        """JSON Schema of the value."""
        raise NotImplementedError

    def wrong(self, value: object, place: str, faults: Faults) -> None:
        """Note that a value is of the wrong kind."""
        faults.add(place, f"{shown(value)} found", f"give {self.says}")


@dataclass(frozen=True, slots=True)
class Number(Field[float]):
    """A number between bounds; lengths may be written with a unit."""

    low: float = -LIMIT
    high: float = LIMIT
    above: bool = False
    length: bool = True

    @property
    def says(self) -> str:  # type: ignore[override]
        """What would be right, in words."""
        return f"a number{_reach(self.low, self.high, above=self.above)}{' mm' if self.length else ''}"

    def read(self, value: object, place: str, faults: Faults) -> float | None:
        if isinstance(value, str) and self.length:
            try:
                value = parse_length(value)
            except ValueError:
                self.wrong(value, place, faults)
                return None
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            self.wrong(value, place, faults)
            return None
        if isinstance(value, float) and not math.isfinite(value):
            faults.add(place, f"{value} is not a number to build from", f"give {self.says}")
            return None
        short = value <= self.low if self.above else value < self.low
        if short or value > self.high:
            self.wrong(value, place, faults)
            return None
        return float(value)

    def write(self, value: float) -> int | float:
        return int(value) if abs(value) < 1e15 and value == int(value) else value

    def schema(self) -> dict[str, Any]:
        number: dict[str, Any] = {"type": "number"}
        if self.low > -LIMIT:
            number["exclusiveMinimum" if self.above else "minimum"] = self.low
        if self.high < LIMIT:
            number["maximum"] = self.high
        return {"anyOf": [number, {"type": "string"}]} if self.length else number


@dataclass(frozen=True, slots=True)
class Count(Field[int]):
    """A whole number between bounds."""

    low: int
    high: int

    @property
    def says(self) -> str:  # type: ignore[override]
        """What would be right, in words."""
        return f"a whole number{_reach(self.low, self.high, above=False)}"

    def read(self, value: object, place: str, faults: Faults) -> int | None:
        sound = isinstance(value, (int, float)) and not isinstance(value, bool) and self.low <= value <= self.high
        if not sound or value != int(value):  # type: ignore[call-overload]  # a number between bounds: checked before
            self.wrong(value, place, faults)
            return None
        return int(value)  # type: ignore[call-overload,no-any-return]

    def schema(self) -> dict[str, Any]:
        return {"type": "integer", "minimum": self.low, "maximum": self.high}


def _reach(low: float, high: float, *, above: bool) -> str:
    start = f" {'above' if above else 'from'} {low:g}" if low > -LIMIT else ""
    return start + (f" to {high:g}" if high < LIMIT else "")


@dataclass(frozen=True, slots=True)
class Text(Field[str]):
    """Words on one line."""

    least: int = 0
    most: int = 10_000
    says = "text in quotes"

    def read(self, value: object, place: str, faults: Faults) -> str | None:
        if not isinstance(value, str):
            self.wrong(value, place, faults)
            return None
        if len(value.strip()) < self.least:
            faults.add(place, "it is empty", "give it a name")
            return None
        if len(value) > self.most:
            faults.add(place, f"{len(value):,} letters found", f"give {self.most:,} at most")
            return None
        if unseen(value):
            faults.add(place, f"{shown(value)} holds line breaks or control characters", "write it on one line, in letters that are seen")
            return None
        return value

    def schema(self) -> dict[str, Any]:
        return {"type": "string", **({"minLength": self.least} if self.least else {})}


@dataclass(frozen=True)
class Choice(Field[T_co]):
    """One of a few words: those of a `Literal` (`words_of`), or given."""

    words: tuple[str, ...]

    @property
    def says(self) -> str:  # type: ignore[override]
        """The words to choose from."""
        return "one of " + ", ".join(f'"{word}"' for word in self.words)

    def read(self, value: object, place: str, faults: Faults) -> T_co | None:
        if value in self.words and isinstance(value, str):
            return value  # type: ignore[return-value]  # the words are those of the type: `words_of`
        near = difflib.get_close_matches(value[:100], self.words, n=1) if isinstance(value, str) else []
        faults.add(place, f"{shown(value)} found", f'did you mean "{near[0]}"? It is {self.says}' if near else f"give {self.says}")
        return None

    def schema(self) -> dict[str, Any]:
        return {"enum": list(self.words)}


def words_of(literal: Any) -> Choice[Any]:  # noqa: ANN401  # the type checker has no type for a Literal as a value
    """A choice among the words of a `Literal`, so that they stand once."""
    return Choice(tuple(get_args(literal)))


@dataclass(frozen=True)
class Entry(Field[T]):
    """One of the entries of a table, by its name."""

    table: Mapping[str, T]
    names: tuple[str, ...]

    @property
    def says(self) -> str:  # type: ignore[override]
        """The names to choose from."""
        return Choice[str](self.names).says

    def read(self, value: object, place: str, faults: Faults) -> T | None:
        name = Choice[str](self.names).read(value, place, faults)
        return None if name is None else self.table[name]

    def write(self, value: Any) -> str:  # noqa: ANN401
        return str(value.name)

    def schema(self) -> dict[str, Any]:
        return {"enum": list(self.names)}


@dataclass(frozen=True, slots=True)
class Among(Field[float]):
    """One of a few numbers."""

    numbers: tuple[float, ...]

    @property
    def says(self) -> str:  # type: ignore[override]
        """The numbers to choose from."""
        return "one of " + ", ".join(f"{number:g}" for number in self.numbers)

    def read(self, value: object, place: str, faults: Faults) -> float | None:
        if isinstance(value, (int, float)) and not isinstance(value, bool) and value in self.numbers:
            return float(value)
        self.wrong(value, place, faults)
        return None

    def write(self, value: float) -> int | float:
        return int(value) if value == int(value) else value

    def schema(self) -> dict[str, Any]:
        return {"enum": list(self.numbers)}


@dataclass(frozen=True, slots=True)
class Flag(Field[bool]):
    """Yes or no."""

    says = "true or false"

    def read(self, value: object, place: str, faults: Faults) -> bool | None:
        if isinstance(value, bool):
            return value
        self.wrong(value, place, faults)
        return None

    def schema(self) -> dict[str, Any]:
        return {"type": "boolean"}


@dataclass(frozen=True, slots=True)
class Day(Field[dt.date]):
    """A date."""

    says = "a date as 2026-11-24, without quotes"

    def read(self, value: object, place: str, faults: Faults) -> dt.date | None:
        if isinstance(value, dt.date) and not isinstance(value, dt.datetime):
            return value
        self.wrong(value, place, faults)
        return None

    def schema(self) -> dict[str, Any]:
        return {"type": "string", "format": "date"}


@dataclass(frozen=True, slots=True)
class Pair(Field["Point"]):
    """Two numbers: a point or a size."""

    part: Number = Number()
    what: str = "two numbers as [x, y]"

    @property
    def says(self) -> str:  # type: ignore[override]
        """What would be right, in words."""
        return f"{self.what}, each {self.part.says}"

    def read(self, value: object, place: str, faults: Faults) -> Point | None:
        if not isinstance(value, list) or len(value) != 2:
            self.wrong(value, place, faults)
            return None
        x = self.part.read(value[0], f"{place}[0]", faults)
        y = self.part.read(value[1], f"{place}[1]", faults)
        return None if x is None or y is None else (snap(x), snap(y))

    def write(self, value: Point) -> list[int | float]:
        return [self.part.write(each) for each in value]

    def schema(self) -> dict[str, Any]:
        return {"type": "array", "items": self.part.schema(), "minItems": 2, "maxItems": 2}


@dataclass(frozen=True, slots=True)
class WallName(Field["int | str"]):
    """A wall by number or name."""

    says = "a wall's number, counted from 1 in the order of the outline, or its name"

    def read(self, value: object, place: str, faults: Faults) -> int | str | None:
        if isinstance(value, str) and value.strip() and not unseen(value):
            return value
        if isinstance(value, int) and not isinstance(value, bool) and 1 <= value <= 1_000_000:
            return value
        self.wrong(value, place, faults)
        return None

    def schema(self) -> dict[str, Any]:
        return {"anyOf": [{"type": "integer", "minimum": 1}, {"type": "string", "minLength": 1}]}


@dataclass(frozen=True)
class Many(Field["tuple[T_co, ...]"], Generic[T_co]):
    """A list of one kind of value."""

    part: Field[T_co]
    least: int = 0
    most: int = 100_000

    @property
    def says(self) -> str:  # type: ignore[override]
        """What would be right, in words."""
        return f"a list of at least {self.least}: {self.part.says}" if self.least else f"a list, each {self.part.says}"

    def read(self, value: object, place: str, faults: Faults) -> tuple[T_co, ...] | None:
        if not isinstance(value, list) or not self.least <= len(value) <= self.most:
            self.wrong(value, place, faults)
            return None
        read = [self.part.read(each, f"{place}[{k}]", faults) for k, each in enumerate(value)]
        return None if any(each is None for each in read) else tuple(read)  # type: ignore[arg-type]

    def write(self, value: tuple[Any, ...]) -> list[Any]:
        return [self.part.write(each) for each in value]

    def schema(self) -> dict[str, Any]:
        result: dict[str, Any] = {"type": "array", "items": self.part.schema()}
        if self.least:
            result["minItems"] = self.least
        return result
