"""The JSON contract of a comparison, and its rows as CSV."""

from __future__ import annotations

import csv
import io
import math
from typing import TYPE_CHECKING, Any

from layout.writers.cut_records import cell
from layout.writers.rounded import fine, mm, pair

if TYPE_CHECKING:
    from layout.changes.values import Changes, Difference

CHANGES_SCHEMA = "gaugerod/changes/1"


def changes_record(changes: Changes) -> dict[str, Any]:
    """The record of a comparison."""
    return {
        "schema": CHANGES_SCHEMA,
        "changed": changes.changed,
        "rooms": [
            {
                "name": room.name,
                "was": room.was,
                "moved": room.moved,
                "shape": [_difference(each) for each in room.shape],
                "lines": [
                    {
                        "surface": line.surface,
                        "name": line.name,
                        "moved_mm": _number(line.moved),
                        "turned_deg": fine(line.turned),
                        "wall": line.wall,
                        "before_mm": _number(line.before),
                        "after_mm": _number(line.after),
                    }
                    for line in room.lines
                ],
                "works": [_difference(each) for each in room.works],
                "findings_came": list(room.came),
                "findings_went": list(room.went),
            }
            for room in changes.rooms
        ],
        "cuts": [
            {
                "tile": cut.tile,
                "size": pair(cut.size),
                "shape": cut.shape,
                "before": cut.before,
                "after": cut.after,
                "marks_before": list(cut.marks_before),
                "marks_after": list(cut.marks_after),
            }
            for cut in changes.cuts
        ],
        "orders": [
            {
                "key": order.key,
                "name": order.name,
                "unit": order.unit,
                "before": fine(order.before),
                "after": fine(order.after),
                "packs_before": order.packs_before,
                "packs_after": order.packs_after,
                "money": order.money,
            }
            for order in changes.orders
        ],
    }


def _difference(each: Difference) -> dict[str, str]:
    return {"what": each.what, "before": each.before, "after": each.after}


def _number(value: float) -> float | None:
    return mm(value) if math.isfinite(value) else None


def changes_csv(changes: Changes) -> str:
    """What differs, a row each: room, kind, what, before, after."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(("room", "kind", "what", "before", "after"))
    for room in changes.rooms:
        name = room.name or room.was
        rows = [("room", "moved", "", room.moved)] if room.moved else []
        rows += [("shape", d.what, d.before, d.after) for d in room.shape]
        rows += [("line", f"line {m.name} from wall {m.wall}", f"{m.before:.1f}", f"{m.after:.1f}") for m in room.lines]
        rows += [("works", d.what, d.before, d.after) for d in room.works]
        rows += [("finding came", text, "", "") for text in room.came] + [("finding went", text, "", "") for text in room.went]
        for row in rows or [("room", "came" if room.name else "went", room.was, room.name)]:
            writer.writerow([cell(value) for value in (name, *row)])
    for cut in changes.cuts:
        size = f"{cut.tile} {cut.size[0]:g} x {cut.size[1]:g} {cut.shape}"
        writer.writerow(("", "cut", cell(size), cut.before, cut.after))
    for order in changes.orders:
        writer.writerow(("", "order", cell(f"{order.name}, {order.unit}"), f"{order.before:.2f}", f"{order.after:.2f}"))
    return out.getvalue()
