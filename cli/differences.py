"""Tables of a comparison for the terminal."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from cli.tables import console_for, table_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rich.console import Console

    from layout import Changes, Difference, KeepingCost, MarkChange, RoomChange

MOST_CUTS = 12
MOST_MARKS = 6


def changes_text(changes: Changes, *, plain: bool) -> str:
    """What differs, room by room, then cuts and orders."""
    console, text = console_for(plain)
    if not changes.changed:
        console.print("no changes")
        return text.getvalue()
    if changes.plan:
        _rows(console, "Tiles, rules and products", changes.plan)
    for room in changes.rooms:
        _room(console, room)
    if changes.cuts:
        table = table_of("Cut tiles whose number or marks differ", "tile", "saw size", "shape", "before", "after", "marks", right=(3, 4))
        for cut in changes.cuts[:MOST_CUTS]:
            marks = f"{', '.join(cut.marks_before) or '—'} → {', '.join(cut.marks_after) or '—'}"
            table.add_row(cut.tile, f"{cut.size[0]:g} × {cut.size[1]:g}", cut.shape, f"{cut.before}", f"{cut.after}", marks)
        console.print(table)
        if len(changes.cuts) > MOST_CUTS:
            console.print(f"… and {len(changes.cuts) - MOST_CUTS} more sizes: --json and --csv list them all")
    if changes.orders:
        _orders(console, changes)
    return text.getvalue()


def _orders(console: Console, changes: Changes) -> None:
    priced = bool(changes.currency)
    columns = ["item", "unit", "before", "after", "packs", *([f"more, {changes.currency}"] if priced else [])]
    table = table_of("Quantities and orders", *columns, right=(2, 3, 4, 5) if priced else (2, 3, 4))
    for order in changes.orders:
        packs = "" if order.packs_before is None and order.packs_after is None else f"{order.packs_before or 0} → {order.packs_after or 0}"
        money = [] if not priced else ["no rate" if order.money is None else f"{order.money:+.2f}"]
        table.add_row(order.name, order.unit, f"{order.before:.2f}", f"{order.after:.2f}", packs, *money)
    console.print(table)
    if changes.total is not None:
        console.print(f"in all {changes.total:+.2f} {changes.currency}")


def _rows(console: Console, title: str, rows: Sequence[Difference]) -> None:
    table = table_of(title, "what", "before", "after")
    for each in rows:
        table.add_row(each.what, each.before or "—", each.after or "—")
    console.print(table)


def _room(console: Console, room: RoomChange) -> None:
    if not room.was or not room.name:
        console.print(f"{room.name or room.was}: {'a new room' if room.name else 'this room is gone'}", style="bold")
        return
    console.print(room.name if room.name == room.was else f"{room.name}, was {room.was}", style="bold")
    if room.moved:
        console.print(f"the room is {room.moved}; all below is told in the new plan")
    for title, rows in (
        ("Outline, openings, drains and what stands in the room", room.shape),
        ("Joints, tape, corner pieces, collars", room.works),
    ):
        if rows:
            _rows(console, title, rows)
    if room.lines:
        table = table_of("Lines that are snapped would move", "surface", "line", "by", "from bare face", "before", "after", right=(2, 4, 5))
        for line in room.lines:
            by = f"{abs(line.moved):.1f}"
            by += f", {line.turned:+.2f}°" if abs(line.turned) >= 1e-3 else ""
            after = "—" if math.isnan(line.after) else f"{line.after:.1f}"
            before = "—" if math.isnan(line.before) else f"{line.before:.1f}"
            table.add_row(line.surface, line.name, by, line.face or "—", before, after)
        console.print(table)
        console.print("--keep lines leaves them where they are and tells what that costs")
    own = [each for each in room.surfaces if not each.renumbered]
    if own:
        columns = ("surface", "whole tiles", "pieces", "narrowest", "sealant, m", "marks")
        table = table_of("Tile by surface, before → after", *columns, right=(1, 2, 3, 4))
        for each in own:
            name = (
                each.name if each.name == each.was else f"{each.name}, was {each.was}" if each.name and each.was else each.name or each.was
            )
            counts = (_arrow(*each.whole, "{:d}"), _arrow(*each.pieces, "{:d}"), _arrow(*each.narrowest, "{:.0f}"))
            table.add_row(name, *counts, _arrow(*each.sealant, "{:.2f}"), _marks(each.marks))
        console.print(table)
    renumbered = [each.name for each in room.surfaces if each.renumbered]
    if renumbered:
        console.print(f"only the marks are others on {', '.join(renumbered)}; --keep marks leaves them as they were issued")
    for words, texts in (("new finding", room.came), ("gone", room.went)):
        for text in texts:
            console.print(f"{words}: {text}")


def _arrow(one: float, other: float, form: str) -> str:
    was, now = ("—" if math.isnan(value) else form.format(value) for value in (one, other))
    return was if was == now else f"{was} → {now}"


def _marks(marks: Sequence[MarkChange]) -> str:
    """Marks that came, went, or are there in another number."""
    groups = (
        ("new", [m.mark for m in marks if not m.before]),
        ("gone", [m.mark for m in marks if not m.after]),
        ("number", [f"{m.mark} {m.before} → {m.after}" for m in marks if m.before and m.after]),
    )
    told = []
    for word, names in groups:
        if names:
            more = f" and {len(names) - MOST_MARKS}" if len(names) > MOST_MARKS else ""
            told.append(f"{word} {', '.join(names[:MOST_MARKS])}{more}")
    return "; ".join(told)


def cost_of_keeping(costs: Sequence[KeepingCost], against: Changes, what: Sequence[str]) -> str:
    """What keeping costs against the best free set-out, room by room, and what it does to the orders."""
    lines = ["", f"{' and '.join(what)} kept, against the best free set-out:"]
    for each in costs:
        own, free = each.kept, each.free
        lines.append(
            f"  {each.room}: narrowest cut {own.narrowest:.0f} (free {free.narrowest:.0f}), {own.pieces} cut pieces ({free.pieces}), "
            f"{own.weak} of them weak ({free.weak}), {own.joints / 1000:.2f} m of movement joint ({free.joints / 1000:.2f})"
        )
    packs = [f"{o.name} {(o.packs_after or 0) - (o.packs_before or 0):+d}" for o in against.orders if o.packs_before != o.packs_after]
    lines.append("  packs: " + (", ".join(packs) or "as free"))
    if against.total is not None:
        lines.append(f"  money: {against.total:+.2f} {against.currency}")
    return "\n".join(lines) + "\n"


def in_few_lines(changes: Changes) -> list[str]:
    """What changed, in five lines at the most."""
    if not changes.changed:
        return ["nothing changed against the set that stood here"]
    lines = ["changed against the set that stood here" + (": tiles, rules or products are others" if changes.plan else ":")]
    shape = [f"{room.name or room.was}: {_count(room)}" for room in changes.rooms]
    lines += shape[:2] + ([f"and {len(shape) - 2} more rooms"] if len(shape) > 2 else [])
    if changes.cuts:
        lines.append(f"{len(changes.cuts)} sizes of cut tiles in another number or under other marks")
    packs = [order for order in changes.orders if order.packs_before != order.packs_after]
    if packs:
        words = ", ".join(f"{order.name} {order.packs_before or 0} → {order.packs_after or 0}" for order in packs[:2])
        lines.append("orders: " + words + (f" and {len(packs) - 2} more" if len(packs) > 2 else ""))
    return lines[:5]


def _count(room: RoomChange) -> str:
    if not room.was or not room.name:
        return "new" if room.name else "gone"
    parts = [f"{len(each)} {words}" for each, words in ((room.shape, "of its shape and things"), (room.lines, "lines that are snapped"),
             (room.works, "of joints and tape"), (room.surfaces, "surfaces with other tiles"), (room.came, "new findings"), (room.went, "findings gone")) if each]  # fmt: skip
    return ", ".join(([room.moved] if room.moved else []) + parts)
