"""The JSON contract of the as-built record, and ticks as a page reads them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from layout.record.values import SCHEMA
from layout.writers.files import tool_version

if TYPE_CHECKING:
    from layout.record.handing import AsBuilt

RECORD_SCHEMA = "gaugerod/record/1"


def _issue(record: AsBuilt) -> dict[str, Any]:
    issue = record.issue
    return {"title": issue.title, "number": issue.number, "revision": issue.revision, "digest": issue.digest}


def site_record(record: AsBuilt) -> dict[str, Any]:
    """The as-built record: deviations, and every entry with what was wanted, by whom and when."""
    return {
        "schema": RECORD_SCHEMA,
        "issue": _issue(record),
        "other_issue": record.earlier,
        "not_in_this_issue": record.strange,
        "deviations": list(record.deviations),
        "entries": [
            {
                "id": entry.id,
                "kind": entry.kind,
                "room": entry.room,
                "name": entry.name,
                "field": entry.field,
                "value": entry.value or None,
                "wanted": entry.wanted or None,
                "as_wanted": entry.good,
                "old_size": entry.old or None,
                "by": entry.by or None,
                "at": entry.at or None,
            }
            for entry in record.entries
        ],
    }


def ticks_record(record: AsBuilt) -> dict[str, Any]:
    """All events that were merged, as one file that a page imports."""
    events = [
        {"id": e.id, "field": e.field, "value": _plain(e.value), "size": e.size, "n": e.n, "by": e.by, "at": e.at} for e in record.events
    ]
    return {"schema": SCHEMA, "issue": _issue(record), "tool": tool_version(), "done": _stages(record), "events": events}


def _stages(record: AsBuilt) -> list[dict[str, Any]]:
    """Stages begun and done, as a programme takes them; one that nobody began began when it was done."""
    times: dict[str, dict[str, str]] = {}
    rooms: dict[str, str] = {}
    for entry in record.of("stage"):
        if entry.value and entry.code in ("begun", "done"):
            times.setdefault(entry.id, {})[entry.code] = entry.at
            rooms[entry.id] = entry.room
    result = []
    for key, own in times.items():
        _, _, stage, area = key.split("/")
        row = {"room": rooms[key], "stage": stage, "area": int(area), "start": own.get("begun") or own["done"]}
        result.append({**row, "end": own["done"]} if "done" in own else row)
    return result


def _plain(value: bool | float | str) -> bool | float | str:
    """A whole number without its point, as a page writes it."""
    return int(value) if isinstance(value, float) and value.is_integer() else value
