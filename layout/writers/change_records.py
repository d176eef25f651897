"""The JSON contract of a comparison, and its rows as CSV."""

from __future__ import annotations

import csv
import io
import math
from typing import TYPE_CHECKING, Any

from layout.writers.cut_records import cell
from layout.writers.rounded import fine, mm, pair

if TYPE_CHECKING:
    from collections.abc import Sequence

    from layout.changes.cost import Figures, KeepingCost
    from layout.changes.values import Changes, Difference, RoomChange

CHANGES_SCHEMA = "gaugerod/changes/1"


def changes_record(changes: Changes) -> dict[str, Any]:
    """The record of a comparison."""
    return {
        "schema": CHANGES_SCHEMA,
        "changed": changes.changed,
        "plan": [_difference(each) for each in changes.plan],
        "rooms": [_room(room) for room in changes.rooms],
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
        "currency": changes.currency or None,
        "money": changes.total,
    }


def _room(room: RoomChange) -> dict[str, Any]:
    """What differs in one room."""
    return {
        "name": room.name,
        "was": room.was,
        "moved": room.moved,
        "shape": [_difference(each) for each in room.shape],
        "lines": [
            {
                "surface": line.surface,
                "id": line.on.key,
                "name": line.name,
                "moved_mm": _number(line.moved),
                "turned_deg": fine(line.turned),
                "wall": line.wall,
                "face": line.face,
                "before_mm": _number(line.before),
                "after_mm": _number(line.after),
            }
            for line in room.lines
        ],
        "works": [_difference(each) for each in room.works],
        "surfaces": [
            {
                "name": each.name,
                "was": each.was,
                "whole": list(each.whole),
                "pieces": list(each.pieces),
                "narrowest_mm": [_number(value) for value in each.narrowest],
                "sealant_m": [fine(value) for value in each.sealant],
                "marks": [{"mark": mark.mark, "before": mark.before, "after": mark.after} for mark in each.marks],
                "renumbered": each.renumbered,
            }
            for each in room.surfaces
        ],
        "findings_came": list(room.came),
        "findings_went": list(room.went),
    }


def _difference(each: Difference) -> dict[str, str]:
    return {"what": each.what, "before": each.before, "after": each.after, "kind": each.kind, "surface": each.surface}


def _number(value: float) -> float | None:
    return mm(value) if math.isfinite(value) else None


def _length(value: float) -> str:
    return f"{value:.1f}" if math.isfinite(value) else ""


def keeping_record(costs: Sequence[KeepingCost], against: Changes, what: Sequence[str]) -> dict[str, Any]:
    """The record of what keeping costs: what is kept, each room kept and free, and orders and money against the free set-out."""

    def figures(each: Figures) -> dict[str, Any]:
        return {
            "narrowest_mm": mm(each.narrowest),
            "pieces": each.pieces,
            "weak": each.weak,
            "movement_joint_m": fine(each.joints / 1000.0),
        }

    return {
        "kept": list(what),
        "rooms": [{"name": each.room, "kept": figures(each.kept), "free": figures(each.free)} for each in costs],
        "packs": [
            {"key": order.key, "free": order.packs_before, "kept": order.packs_after}
            for order in against.orders
            if order.packs_before != order.packs_after
        ],
        "money": against.total,
    }


def changes_csv(changes: Changes) -> str:
    """What differs, a row each: room, kind, what, before, after."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(("room", "kind", "what", "before", "after"))
    for each in changes.plan:
        writer.writerow([cell(value) for value in ("", each.kind, each.what, each.before, each.after)])
    for room in changes.rooms:
        name = room.name or room.was
        rows = [("room", "moved", "", room.moved)] if room.moved else []
        rows += [("shape", d.what, d.before, d.after) for d in room.shape]
        rows += [("line", f"{m.surface}: line {m.name} from {m.face}, moved by {abs(m.moved):.1f}", _length(m.before), _length(m.after))
                 for m in room.lines]  # fmt: skip
        rows += [("works", d.what, d.before, d.after) for d in room.works]
        for s in room.surfaces:
            own = s.name or s.was
            rows += [("whole tiles", own, f"{s.whole[0]}", f"{s.whole[1]}"), ("cut pieces", own, f"{s.pieces[0]}", f"{s.pieces[1]}")]
            rows += [("mark", f"{own}: {mark.mark}", str(mark.before), str(mark.after)) for mark in s.marks]
        rows += [("finding came", text, "", "") for text in room.came] + [("finding went", text, "", "") for text in room.went]
        for row in rows or [("room", "came" if room.name else "went", room.was, room.name)]:
            writer.writerow([cell(value) for value in (name, *row)])
    for cut in changes.cuts:
        size = f"{cut.tile} {cut.size[0]:g} x {cut.size[1]:g} {cut.shape}"
        writer.writerow(("", "cut", cell(size), cut.before, cut.after))
    for order in changes.orders:
        writer.writerow(("", "order", cell(f"{order.name}, {order.unit}"), f"{order.before:.2f}", f"{order.after:.2f}"))
    return out.getvalue()
