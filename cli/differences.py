"""Tables of a comparison for the terminal."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from cli.tables import console_for, table_of

if TYPE_CHECKING:
    from rich.console import Console

    from layout import Changes, RoomChange, SetOut

MOST_CUTS = 12


def changes_text(changes: Changes, *, plain: bool) -> str:
    """What differs, room by room, then cuts and orders."""
    console, text = console_for(plain)
    if not changes.changed:
        console.print("no changes")
        return text.getvalue()
    for room in changes.rooms:
        _room(console, room)
    if changes.cuts:
        table = table_of("Cut tiles whose number differs", "tile", "saw size", "shape", "before", "after", "marks", right=(3, 4))
        for cut in changes.cuts[:MOST_CUTS]:
            marks = f"{', '.join(cut.marks_before) or '—'} → {', '.join(cut.marks_after) or '—'}"
            table.add_row(cut.tile, f"{cut.size[0]:g} × {cut.size[1]:g}", cut.shape, f"{cut.before}", f"{cut.after}", marks)
        console.print(table)
        if len(changes.cuts) > MOST_CUTS:
            console.print(f"… and {len(changes.cuts) - MOST_CUTS} more sizes: --json and --csv list them all")
    if changes.orders:
        priced = bool(changes.currency)
        columns = ["item", "unit", "before", "after", "packs", *([f"more, {changes.currency}"] if priced else [])]
        table = table_of("Quantities and orders", *columns, right=(2, 3, 4, 5) if priced else (2, 3, 4))
        for order in changes.orders:
            packs = (
                "" if order.packs_before is None and order.packs_after is None else f"{order.packs_before or 0} → {order.packs_after or 0}"
            )
            money = [] if not priced else ["no rate" if order.money is None else f"{order.money:+.2f}"]
            table.add_row(order.name, order.unit, f"{order.before:.2f}", f"{order.after:.2f}", packs, *money)
        console.print(table)
        if priced:
            console.print(f"in all {sum(order.money or 0.0 for order in changes.orders):+.2f} {changes.currency}")
    return text.getvalue()


def _room(console: Console, room: RoomChange) -> None:
    if not room.was or not room.name:
        console.print(f"{room.name or room.was}: {'a new room' if room.name else 'this room is gone'}", style="bold")
        return
    console.print(room.name if room.name == room.was else f"{room.name}, was {room.was}", style="bold")
    if room.moved:
        console.print(f"the room is {room.moved}; all below is told in the new plan")
    rows = [*room.shape, *room.works]
    if rows:
        table = table_of("", "what", "before", "after")
        for each in rows:
            table.add_row(each.what, each.before or "—", each.after or "—")
        console.print(table)
    if room.lines:
        table = table_of("Lines that are snapped would move", "line", "by", "from bare wall", "before", "after", right=(1, 3, 4))
        for line in room.lines:
            by = f"{abs(line.moved):.1f}"
            by += f", {line.turned:+.2f}°" if abs(line.turned) >= 1e-3 else ""
            after = "—" if math.isnan(line.after) else f"{line.after:.0f}"
            table.add_row(line.name, by, f"wall {line.wall}", "—" if math.isnan(line.before) else f"{line.before:.0f}", after)
        console.print(table)
        console.print("--keep lines leaves them where they are and tells what that costs")
    for words, texts in (("new finding", room.came), ("gone", room.went)):
        for text in texts:
            console.print(f"{words}: {text}")


def cost_of_keeping(kept: SetOut, free: SetOut) -> str:
    """What kept lines cost against the best free set-out, floor by floor."""
    lines = ["", "lines kept, against the best free start:"]
    for own, best in zip(kept.rooms, free.rooms, strict=True):
        cut = (f"{r.floor.start.smallest:.0f} mm narrowest cut, {r.floor.field.places_cut()} cut tiles" for r in (own, best))
        lines.append(f"  {own.name}: {next(cut)}; free {next(cut)}")
    return "\n".join(lines) + "\n"


def in_few_lines(changes: Changes) -> list[str]:
    """What changed, in five lines at the most."""
    if not changes.changed:
        return ["nothing changed against the set that stood here"]
    lines = ["changed against the set that stood here:"]
    shape = [f"{room.name or room.was}: {_count(room)}" for room in changes.rooms]
    lines += shape[:2] + ([f"and {len(shape) - 2} more rooms"] if len(shape) > 2 else [])
    if changes.cuts:
        lines.append(f"{len(changes.cuts)} sizes of cut tiles in another number")
    packs = [order for order in changes.orders if order.packs_before != order.packs_after]
    if packs:
        words = ", ".join(f"{order.name} {order.packs_before or 0} → {order.packs_after or 0}" for order in packs[:2])
        lines.append("orders: " + words + (f" and {len(packs) - 2} more" if len(packs) > 2 else ""))
    return lines[:5]


def _count(room: RoomChange) -> str:
    if not room.was or not room.name:
        return "new" if room.name else "gone"
    parts = [f"{len(each)} {words}" for each, words in ((room.shape, "of its shape and things"), (room.lines, "lines that are snapped"),
             (room.works, "of joints and tape"), (room.came, "new findings"), (room.went, "findings gone")) if each]  # fmt: skip
    return ", ".join(([room.moved] if room.moved else []) + parts)
