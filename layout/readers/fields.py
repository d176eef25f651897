"""A small border guard for files that people write: each field checks, explains and documents itself.

Own checks rather than a modelling library, since that library alone would cost more start-up time
than reading and setting out a kitchen (see DEVELOPERS.md, decisions). The JSON Schema is made from
the same table, so the two cannot drift apart.
"""

from __future__ import annotations

import datetime as dt
import difflib
import math
from dataclasses import dataclass, field
from typing import Any

from layout.errors import PlanError
from layout.units import parse_length, snap

LIMIT = 1e9
"""Greatest length or coordinate taken, mm: a thousand kilometres is a slip of the pen."""


@dataclass(slots=True)
class Faults:
    """Collects the faults of one file; `place` grows as tables are entered."""

    source: str
    found: list[PlanError] = field(default_factory=list)

    def add(self, place: str, found: str, mend: str) -> None:
        """Note one fault at a place inside the file."""
        self.found.append(PlanError(f"{self.source}: {place}" if place else self.source, found, mend))


def shown(value: object) -> str:
    """A value as the person typed it, shortened."""
    text = repr(value).replace("True", "true").replace("False", "false")
    return text if len(text) <= 60 else f"{text[:57]}..."


class Field:
    """One value of a plan file."""

    says = "a value"

    def read(self, value: object, place: str, faults: Faults) -> Any:  # noqa: ANN401
        """The value in the plan's own form; None with a fault noted if it is wrong."""
        raise NotImplementedError

    def schema(self) -> dict[str, Any]:
        """JSON Schema of the value."""
        raise NotImplementedError

    def wrong(self, value: object, place: str, faults: Faults) -> None:
        """Note that a value is of the wrong kind."""
        faults.add(place, f"{shown(value)} found", f"give {self.says}")


@dataclass(frozen=True, slots=True)
class Number(Field):
    """A number between bounds; lengths may be written with a unit."""

    low: float = -LIMIT
    high: float = LIMIT
    above: bool = False
    length: bool = True
    whole: bool = False

    @property
    def says(self) -> str:  # type: ignore[override]
        """What would be right, in words."""
        bound = "above" if self.above else "from"
        kind = "a whole number" if self.whole else "a number"
        unit = " mm" if self.length else ""
        reach = f" {bound} {self.low:g}" if self.low > -LIMIT else ""
        top = f" to {self.high:g}" if self.high < LIMIT else ""
        return f"{kind}{reach}{top}{unit}"

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
        if short or value > self.high or (self.whole and value != int(value)):
            self.wrong(value, place, faults)
            return None
        return float(value)

    def schema(self) -> dict[str, Any]:
        number: dict[str, Any] = {"type": "integer" if self.whole else "number"}
        if self.low > -LIMIT:
            number["exclusiveMinimum" if self.above else "minimum"] = self.low
        if self.high < LIMIT:
            number["maximum"] = self.high
        return {"anyOf": [number, {"type": "string"}]} if self.length else number


@dataclass(frozen=True, slots=True)
class Text(Field):
    """Words on one line."""

    least: int = 0
    says = "text in quotes"

    def read(self, value: object, place: str, faults: Faults) -> str | None:
        if not isinstance(value, str):
            self.wrong(value, place, faults)
            return None
        if len(value.strip()) < self.least:
            faults.add(place, "it is empty", "give it a name")
            return None
        if any(ord(char) < 32 for char in value):
            faults.add(place, f"{shown(value)} holds line breaks or control characters", "write it on one line")
            return None
        return value

    def schema(self) -> dict[str, Any]:
        return {"type": "string", **({"minLength": self.least} if self.least else {})}


@dataclass(frozen=True, slots=True)
class Choice(Field):
    """One of a few words."""

    words: tuple[str, ...]

    @property
    def says(self) -> str:  # type: ignore[override]
        """The words to choose from."""
        return "one of " + ", ".join(f'"{word}"' for word in self.words)

    def read(self, value: object, place: str, faults: Faults) -> str | None:
        if value in self.words and isinstance(value, str):
            return value
        near = difflib.get_close_matches(str(value), self.words, n=1)
        faults.add(place, f"{shown(value)} found", f'did you mean "{near[0]}"? It is {self.says}' if near else f"give {self.says}")
        return None

    def schema(self) -> dict[str, Any]:
        return {"enum": list(self.words)}


@dataclass(frozen=True, slots=True)
class Among(Field):
    """One of a few numbers."""

    numbers: tuple[float, ...]

    @property
    def says(self) -> str:  # type: ignore[override]
        """The numbers to choose from."""
        return "one of " + ", ".join(f"{number:g}" for number in self.numbers)

    def read(self, value: object, place: str, faults: Faults) -> float | None:
        if isinstance(value, (int, float)) and not isinstance(value, bool) and float(value) in self.numbers:
            return float(value)
        self.wrong(value, place, faults)
        return None

    def schema(self) -> dict[str, Any]:
        return {"enum": list(self.numbers)}


@dataclass(frozen=True, slots=True)
class Flag(Field):
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
class Day(Field):
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
class Pair(Field):
    """Two numbers: a point or a size."""

    part: Number = Number()
    says_: str = "two numbers as [x, y]"

    @property
    def says(self) -> str:  # type: ignore[override]
        """What would be right, in words."""
        return f"{self.says_}, each {self.part.says}"

    def read(self, value: object, place: str, faults: Faults) -> tuple[float, float] | None:
        if not isinstance(value, list) or len(value) != 2:
            self.wrong(value, place, faults)
            return None
        x = self.part.read(value[0], f"{place}[0]", faults)
        y = self.part.read(value[1], f"{place}[1]", faults)
        return None if x is None or y is None else (snap(x), snap(y))

    def schema(self) -> dict[str, Any]:
        return {"type": "array", "items": self.part.schema(), "minItems": 2, "maxItems": 2}


@dataclass(frozen=True, slots=True)
class Wall(Field):
    """A wall by number or name."""

    says = "a wall's number, counted from 1 in the order of the outline, or its name"

    def read(self, value: object, place: str, faults: Faults) -> int | str | None:
        if isinstance(value, str) and value:
            return value
        if isinstance(value, int) and not isinstance(value, bool) and value >= 1:
            return value
        self.wrong(value, place, faults)
        return None

    def schema(self) -> dict[str, Any]:
        return {"anyOf": [{"type": "integer", "minimum": 1}, {"type": "string", "minLength": 1}]}


@dataclass(frozen=True, slots=True)
class Many(Field):
    """A list of one kind of value."""

    part: Field
    least: int = 0
    most: int = 100_000

    @property
    def says(self) -> str:  # type: ignore[override]
        """What would be right, in words."""
        return f"a list of at least {self.least}: {self.part.says}" if self.least else f"a list, each {self.part.says}"

    def read(self, value: object, place: str, faults: Faults) -> tuple[Any, ...] | None:
        if not isinstance(value, list) or not self.least <= len(value) <= self.most:
            self.wrong(value, place, faults)
            return None
        read = [self.part.read(each, f"{place}[{k}]", faults) for k, each in enumerate(value)]
        return None if any(each is None for each in read) else tuple(read)

    def schema(self) -> dict[str, Any]:
        result: dict[str, Any] = {"type": "array", "items": self.part.schema()}
        if self.least:
            result["minItems"] = self.least
        return result


@dataclass(frozen=True, slots=True)
class Either(Field):
    """The first of several kinds that fits the look of a value."""

    choices: tuple[tuple[type, Field], ...]

    @property
    def says(self) -> str:  # type: ignore[override]
        """What would be right, in words."""
        return ", or ".join(each.says for _, each in self.choices)

    def read(self, value: object, place: str, faults: Faults) -> Any:  # noqa: ANN401
        for kind, each in self.choices:
            if isinstance(value, kind):
                return each.read(value, place, faults)
        self.wrong(value, place, faults)
        return None

    def schema(self) -> dict[str, Any]:
        return {"anyOf": [each.schema() for _, each in self.choices]}


@dataclass(frozen=True, slots=True)
class Key:
    """One key of a table: its field, its words in the schema, whether it must stand."""

    field: Field
    doc: str
    must: bool = False
    default: object = None


@dataclass(frozen=True, slots=True)
class Table(Field):
    """A table with known keys."""

    keys: dict[str, Key]
    says = "a table"

    def read(self, value: object, place: str, faults: Faults) -> dict[str, Any] | None:
        if not isinstance(value, dict):
            self.wrong(value, place, faults)
            return None
        before = len(faults.found)
        dot = f"{place}." if place else ""
        for key in value:
            if key not in self.keys:
                near = difflib.get_close_matches(key, self.keys, n=1)
                mend = f"did you mean {near[0]!r}?" if near else "known keys are " + ", ".join(self.keys)
                faults.add(f"{dot}{key}", "there is no such key", mend)
        result = {}
        for name, key in self.keys.items():
            if name in value:
                read = key.field.read(value[name], f"{dot}{name}", faults)
                if read is not None:
                    result[name] = read
            elif key.must:
                faults.add(f"{dot}{name}", "it is missing", f"give {key.field.says}")
        return None if len(faults.found) > before else result

    def schema(self) -> dict[str, Any]:
        properties = {}
        for name, key in self.keys.items():
            properties[name] = {**key.field.schema(), "description": key.doc}
            if key.default is not None:
                properties[name]["default"] = key.default
        result: dict[str, Any] = {"type": "object", "properties": properties, "additionalProperties": False}
        must = [name for name, key in self.keys.items() if key.must]
        if must:
            result["required"] = must
        return result


@dataclass(frozen=True, slots=True)
class Named(Field):
    """A table of tables, each under a name of the person's own."""

    part: Table
    says = "tables, each under a name"

    def read(self, value: object, place: str, faults: Faults) -> dict[str, Any] | None:
        if not isinstance(value, dict):
            self.wrong(value, place, faults)
            return None
        read = {name: self.part.read(each, f"{place}.{name}", faults) for name, each in value.items()}
        return None if any(each is None for each in read.values()) else read

    def schema(self) -> dict[str, Any]:
        return {"type": "object", "additionalProperties": self.part.schema()}
