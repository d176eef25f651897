"""One declaration of a key: its name, type, default, check, words, unit, since when, an example.

A class whose fields are made by `key` is a table of a file. `Form` reads such a table into a value of the class and writes
a value back; the JSON Schema (`Form.schema`) and the table of keys (`key_rows`) come from the same fields, so nothing can
drift. The type checker holds a key's check against its field's type, since `key` gives what its check reads.
"""

from __future__ import annotations

import datetime as dt
import difflib
from dataclasses import MISSING, dataclass, field, fields
from functools import cache
from typing import TYPE_CHECKING, Any, Generic, NamedTuple, TypeVar, cast, dataclass_transform, overload

from layout.fields import Faults, Field, Many, Text, shown

if TYPE_CHECKING:
    from collections.abc import Hashable, Iterator, Mapping

T = TypeVar("T")
D = TypeVar("D")
FIRST = "0.1"
"""The release that the first keys came with."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """What is said of one key, beside its field's name, type and default.

    `spelt` is its name in the file where that differs; `left_out` says in words what holds where it is not given and no
    plain default does; `shown` is that as a value, for the schema; `example` a value as a file holds it, the default if None.
    """

    check: Field[Any]
    words: str
    unit: str = ""
    since: str = FIRST
    example: Any = None
    spelt: str = ""
    left_out: str = ""
    shown: Any = None


@overload
def key(
    check: Field[T],
    words: str,
    *,
    unit: str = "",
    since: str = FIRST,
    example: object = None,
    spelt: str = "",
    left_out: str = "",
    shown: object = None,
) -> T: ...
@overload
def key(
    check: Field[T],
    words: str,
    *,
    default: D,
    unit: str = "",
    since: str = FIRST,
    example: object = None,
    spelt: str = "",
    left_out: str = "",
    shown: object = None,
) -> T | D: ...
def key(check: Field[Any], words: str, *, default: Any = MISSING, **said: Any) -> Any:
    """A key of a table: a field of a class that `declared` makes. Without a default it must stand."""
    return field(default=default, metadata={"key": Key(check=check, words=words, **said)})


@dataclass_transform(frozen_default=True, kw_only_default=True, field_specifiers=(key, field))
def declared(cls: type[T]) -> type[T]:
    """A frozen class whose fields are keys of a table, each with its default; fields without a key are derived."""
    return dataclass(frozen=True, slots=True, kw_only=True)(cls)


class Row(NamedTuple):
    """One key as the class declares it: its name in the file, the field that holds it, its default (MISSING: it must stand)."""

    name: str
    attribute: str
    key: Key
    default: Any


@cache
def rows_of(cls: Hashable) -> dict[str, Row]:
    """The keys of a declared class by their names in the file, in order."""
    rows = {}
    for each in fields(cls):  # type: ignore[arg-type]  # a class that `declared` made
        said: Key | None = each.metadata.get("key")
        if said is not None:
            name = said.spelt or each.name
            rows[name] = Row(name, each.name, said, each.default)
    return rows


@dataclass(frozen=True)
class Form(Field[T], Generic[T]):
    """A table with the keys of a declared class. `inline` if it is written on one line."""

    cls: type[T]
    inline: bool = False
    says = "a table"

    @property
    def rows(self) -> dict[str, Row]:
        """Its keys by name."""
        return rows_of(cast("Hashable", self.cls))

    def read(self, value: object, place: str, faults: Faults) -> T | None:
        if not isinstance(value, dict):
            self.wrong(value, place, faults)
            return None
        before, rows = len(faults.found), self.rows
        dot = f"{place}." if place else ""
        for name in value:
            if name not in rows:
                told_unknown(name, tuple(rows), f"{dot}{shown(name)[1:-1]}", faults)
        given: dict[str, Any] = {}
        for name, row in rows.items():
            if name in value:
                found = row.key.check.read(value[name], f"{dot}{name}", faults)
                if found is not None:
                    given[row.attribute] = found
            elif row.default is MISSING:
                faults.add(f"{dot}{name}", "it is missing", f"give {row.key.check.says}")
        return None if len(faults.found) > before else self.cls(**given)

    def write(self, value: T) -> dict[str, Any]:
        """The keys whose values are not the default, in order; those that must stand always."""
        result = {}
        for name, row in self.rows.items():
            own = getattr(value, row.attribute)
            if own is not None and (row.default is MISSING or own != row.default):
                result[name] = row.key.check.write(own)
        return result

    def schema(self) -> dict[str, Any]:
        properties = {}
        for name, row in self.rows.items():
            said = row.key
            words = said.words + (f", {said.unit}" if said.unit else "") + (f"; {said.left_out} if not given" if said.left_out else "")
            properties[name] = {**said.check.schema(), "description": words}
            default = plain_default(row)
            if default is not None:
                properties[name]["default"] = default
            elif said.example is not None:
                properties[name]["examples"] = [_in_json(said.example)]
            if said.since != FIRST:
                properties[name]["description"] += f" (since {said.since})"
        result: dict[str, Any] = {"type": "object", "properties": properties, "additionalProperties": False}
        must = [name for name, row in self.rows.items() if row.default is MISSING]
        if must:
            result["required"] = must
        return result


def _in_json(example: Any) -> Any:  # noqa: ANN401
    """An example as JSON holds it: dates as text, however deep."""
    if isinstance(example, dict):
        return {name: _in_json(each) for name, each in example.items()}
    if isinstance(example, list):
        return [_in_json(each) for each in example]
    return example.isoformat() if isinstance(example, dt.date) else example


def told_unknown(name: str, known: tuple[str, ...], place: str, faults: Faults) -> None:
    """Note a key that a table does not know, with the one that may be meant."""
    near = difflib.get_close_matches(name[:100], known, n=1)
    faults.add(place, "there is no such key", f"did you mean {near[0]!r}?" if near else "known keys are " + ", ".join(known))


def plain_default(row: Row) -> Any:  # noqa: ANN401
    """The default as a file would hold it; None where the key must stand or its absence says something of its own."""
    if row.key.shown is not None:
        return row.key.shown
    if row.default is MISSING or row.default is None or row.default in ((), "") or isinstance(row.key.check, Form):
        return None
    return row.key.check.write(row.default)


@dataclass(frozen=True)
class Named(Field["Mapping[str, T]"], Generic[T]):
    """Values of one kind, each under a name of the person's own."""

    part: Field[T]
    inline: bool = False
    says = "tables, each under a name"

    def read(self, value: object, place: str, faults: Faults) -> Mapping[str, T] | None:
        if not isinstance(value, dict):
            self.wrong(value, place, faults)
            return None
        name_check = Text(1)
        before = len(faults.found)
        read = {}
        for name, each in value.items():
            if name_check.read(name, f"{place}.{shown(name)}", faults) is not None:
                read[name] = self.part.read(each, f"{place}.{name}", faults)
        return None if len(faults.found) > before else read  # type: ignore[return-value]  # what is None has left a fault

    def write(self, value: Mapping[str, T]) -> dict[str, Any]:
        return {name: self.part.write(each) for name, each in value.items()}

    def schema(self) -> dict[str, Any]:
        return {"type": "object", "additionalProperties": self.part.schema()}


def key_rows(form: Form[Any], path: str = "") -> Iterator[tuple[str, Row]]:
    """All keys of a form and of the forms within it, each with its path as `rooms[].openings[].width`."""
    for name, row in form.rows.items():
        here = f"{path}.{name}" if path else name
        yield here, row
        check: Any = row.key.check
        while isinstance(check, (Many, Named)):
            here += "[]" if isinstance(check, Many) else ".NAME"
            check = check.part
        if isinstance(check, Form):
            yield from key_rows(check, here)
