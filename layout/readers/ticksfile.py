"""Reads what a page's ticks were exported to: JSON, or the same as CSV. Bounded; every value is checked, none is more than a value."""

from __future__ import annotations

import csv
import io
import json
import math
import re
from pathlib import Path
from typing import Any

from layout.errors import PlanError
from layout.fields import shown
from layout.readers.surveyfile import read_survey
from layout.readers.texts import read_bytes, source_name
from layout.record.values import (
    MOST_BYTES,
    MOST_EVENTS,
    MOST_ID,
    MOST_LETTERS,
    MOST_NUMBER,
    SCHEMA,
    Event,
    Issue,
    Ticks,
    Value,
    latest,
    merged,
)
from layout.survey.readings import Reading

COLUMNS = ("id", "field", "value", "size", "n", "by", "at")
"""Of the CSV, under a line with schema, title, number, revision, digest and version."""
WALL = re.compile(r"(\d{1,6})/wall/(\d{1,6})-(\d{1,6})")
"""Id of a wall: its room, and the corners from which and to which it is measured."""
MEND = "export the ticks again from the page: Done, Export"


def read_ticks(path: str | Path) -> Ticks:
    """Ticks from a file that a page exported.

    Raises
    ------
    PlanError
        If it is missing, too large, no file of ticks, or an event of it cannot be; with its place and what was found.
    """
    name = source_name(path)
    raw = read_bytes(Path(path), most_mb=MOST_BYTES / 1e6, bound="file_mb")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise PlanError(name, "it is not UTF-8 text", MEND) from None
    record = _from_json(text, name) if text.lstrip()[:1] in ("{", "[") else _from_csv(text, name)
    if not isinstance(record, dict) or record.get("schema") != SCHEMA or not isinstance(record.get("events"), list):
        raise PlanError(name, "it is no file of ticks", MEND)
    events = record["events"]
    if len(events) > MOST_EVENTS:
        raise PlanError(name, f"{len(events):,} ticks are more than the {MOST_EVENTS:,} of a file", "export the ticks of one plan")
    return Ticks(_issue(record.get("issue"), name), tuple(_event(each, f"{name}: events[{k}]") for k, each in enumerate(events)))


def read_measured(path: str | Path) -> tuple[Reading, ...]:
    """As-measured lengths: from a page's ticks, walls from corner to corner of a plan of one room; else from a table from,to,length.

    Raises
    ------
    PlanError, PlanFaults
        As `read_ticks` and `read_survey`; also if ticks hold no length, or lengths of several rooms.
    """
    raw = read_bytes(Path(path), most_mb=MOST_BYTES / 1e6, bound="file_mb") if str(path) != "-" else b""
    if SCHEMA.encode() not in raw[:400]:
        return read_survey(path)
    return measured_readings(read_ticks(path), source_name(path))


def measured_readings(ticks: Ticks, name: str) -> tuple[Reading, ...]:
    """The as-measured lengths of ticks as readings between corners 1, 2 …; wall k runs from corner k to the next.

    Raises
    ------
    PlanError
        If there are none, or those of more than one room.
    """
    found: dict[int, tuple[float, int]] = {}
    rooms: set[str] = set()
    for (key, field), event in latest(merged(ticks.events)).items():
        wall = WALL.fullmatch(key)
        if wall is None or field != "length" or not isinstance(event.value, float):
            continue
        rooms.add(wall[1])
        found[int(wall[2])] = (event.value, int(wall[3]))
    if not found:
        raise PlanError(name, "no wall is measured in it", "measure walls on the page: Checks, Walls as measured")
    if len(rooms) > 1:
        raise PlanError(name, f"walls of {len(rooms)} rooms are measured in it", "as-measured figures go into a plan of one room")
    return tuple(Reading(f"{wall}", f"{after}", length, f"{name}: wall {wall}") for wall, (length, after) in sorted(found.items()))


def _from_json(text: str, name: str) -> Any:  # noqa: ANN401  # whatever the file holds; checked next
    def refuse(word: str) -> float:
        raise PlanError(name, f"{word} found", MEND)

    try:
        return json.loads(text, parse_constant=refuse)
    except PlanError:
        raise
    except (ValueError, RecursionError):
        raise PlanError(name, "it is no JSON that can be read", MEND) from None


def _from_csv(text: str, name: str) -> dict[str, Any]:
    """The record that a CSV holds; numbers and yes or no as such, words behind ``text:``."""
    try:
        rows = [[_unquoted(cell) for cell in row] for row in csv.reader(io.StringIO(text, newline=""), strict=True) if row]
    except csv.Error:
        raise PlanError(name, "it is no table that can be read", MEND) from None
    if len(rows) < 2 or len(rows[0]) < 5 or tuple(rows[1]) != COLUMNS:
        raise PlanError(name, "it is no file of ticks", MEND)
    events = [dict(zip(COLUMNS, row, strict=False)) for row in rows[2:]]
    return {
        "schema": rows[0][0],
        "issue": dict(zip(("title", "number", "revision", "digest"), rows[0][1:5], strict=True)),
        "events": [{**each, "value": _typed(each.get("value", "")), "n": _number(each.get("n", ""))} for each in events],
    }


def _unquoted(cell: str) -> str:
    """A cell without the mark that keeps a spreadsheet from taking it for a formula."""
    return cell.removeprefix("'")


def _typed(text: str) -> Any:  # noqa: ANN401
    return (
        {"true": True, "false": False}[text]
        if text in ("true", "false")
        else text.removeprefix("text:")
        if text[:5] == "text:"
        else _number(text)
    )


def _number(text: str) -> float | str:
    try:
        value = float(text)
    except ValueError:
        return text
    return int(value) if math.isfinite(value) and value.is_integer() else value


def _issue(value: object, name: str) -> Issue:
    keys = ("title", "number", "revision", "digest")
    if not isinstance(value, dict) or not all(isinstance(value.get(key), str) for key in keys):
        raise PlanError(f"{name}: issue", "title, number, revision and digest are not all there", MEND)
    return Issue(*(value[key] for key in keys))


def _event(value: object, place: str) -> Event:
    if not isinstance(value, dict):
        raise PlanError(place, f"{shown(str(value))} found", MEND)
    words = {key: value.get(key) for key in ("id", "field", "size", "by", "at")}
    for key, word in words.items():
        most = MOST_ID if key in ("id", "size") else MOST_LETTERS
        if not isinstance(word, str) or len(word) > most or (not word and key in ("id", "field", "by")):
            raise PlanError(f"{place}.{key}", f"{shown(str(word)[:80])} found", f"words of 1 to {most} letters stand there")
    n = value.get("n")
    if isinstance(n, bool) or not isinstance(n, int) or not 1 <= n <= MOST_NUMBER:
        raise PlanError(f"{place}.n", f"{shown(str(n))} found", "a whole number from 1 stands there")
    return Event(words["id"], words["field"], _value(value.get("value"), place), words["size"], n, words["by"], words["at"])  # type: ignore[arg-type]


def _value(value: object, place: str) -> Value:
    if isinstance(value, bool) or (isinstance(value, str) and len(value) <= MOST_LETTERS):
        return value
    if isinstance(value, (int, float)) and abs(value) <= MOST_NUMBER and math.isfinite(value):
        return float(value)
    raise PlanError(
        f"{place}.value", f"{shown(str(value)[:80])} found", f"yes or no, a number, or words of {MOST_LETTERS} letters stand there"
    )
