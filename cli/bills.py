"""Tables of bills and deliveries for the terminal."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import layout
from cli.tables import console_for, table_of

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

    from layout import Bill, BillLine, Group, Order, Portfolio, TakeOff

PRICED = {"measured": "as measured", "with spares": "with spares and losses", "packs": "in whole packs"}


def bill_table(console: Console, bill: Bill) -> None:
    """A bill item by item for all rooms together, its sums, and what has no price; `takeoff --by room` parts it."""
    table = table_of(
        f"Bill, {bill.currency}: {PRICED[bill.priced]}", "item", "stage", "quantity", "unit", "rate", "amount", right=(2, 4, 5)
    )
    for lines in _by_item(bill):
        first = lines[0]
        amount = f"{math.fsum(line.amount for line in lines):,.2f}"
        table.add_row(
            first.item.name,
            first.item.row.stage,
            f"{math.fsum(line.quantity for line in lines):.2f}",
            first.unit,
            money(first.rate),
            amount,
        )
    for free in bill.free:
        table.add_row(free.name, free.stage, f"{free.quantity:.2f}", free.unit, money(free.rate), f"{free.amount:,.2f}")
    table.add_section()
    table.add_row("total", "", "", bill.currency, "", f"{bill.total:,.2f}")
    console.print(table)
    console.print(_sums(bill))
    if bill.unpriced:
        console.print("No rate given, not in the total:")
        for item in bill.unpriced:
            console.print(f"  {item.key}: {item.name}, {item.shown}")
    for item, holder in bill.inside:
        console.print(f"{item.name} ({item.key}) comes out of the packs of {holder.name} ({holder.key}) and is priced there.")
    for note in bill.notes:
        console.print(f"Note: {note}{'' if note.endswith('?') else '.'}")


def _by_item(bill: Bill) -> list[list[BillLine]]:
    """The lines of each item, one for each room."""
    found: dict[str, list[BillLine]] = {}
    for line in bill.lines:
        found.setdefault(line.item.key, []).append(line)
    return list(found.values())


def _sums(bill: Bill) -> Table:
    table = table_of("Sums", "by", "of", "amount", right=(2,))
    sections = {layout.BILL_TITLES[key]: amount for key, amount in bill.by_section().items()}
    storeys = {name or "no storey given": amount for name, amount in bill.by_storey().items()}
    stages = {str(stage): amount for stage, amount in bill.by_stage().items()}
    for word, sums in (("room", bill.by_room()), ("storey", storeys), ("stage", stages), ("section", sections)):
        for k, (name, amount) in enumerate(sums.items()):
            table.add_row(word if k == 0 else "", name, f"{amount:,.2f}")
    return table


def money(rate: float) -> str:
    """A rate with its cents, and with what is less than a cent where it has that.

    >>> money(9.5), money(0.0295)
    ('9.50', '0.0295')
    """
    return f"{rate:.2f}" if abs(rate - round(rate, 2)) < 1e-9 else f"{rate:.6g}"


def deliveries_table(console: Console, takeoff: TakeOff, orders: tuple[Order, ...]) -> None:
    """Packs by delivery, if the plan has deliveries."""
    entries = [entry for entry in layout.takeoff_entries(takeoff, orders) if entry.packs and entry.order]
    if not entries:
        return
    given = takeoff.setout.plan.deliveries
    names = [f"{each.name}, {each.date:%d %b %Y}" if each.date else each.name for each in given]
    table = table_of(
        "Packs by delivery: each covers the works so far", "item", *names, "later", "in all", right=tuple(range(1, len(names) + 3))
    )
    for entry in entries:
        packs = [f"{each or '–'}" for each in entry.packs]
        table.add_row(entry.item.name, *packs, entry.order.shown if entry.order else "")
    console.print(table)


def _rate(line: BillLine, unit: str) -> str:
    """A rate, with its unit where the item is measured in another: "18.50 a pack" beside kilograms."""
    return money(line.rate) if line.unit == unit else f"{money(line.rate)} a {line.unit}"


def groups_text(groups: tuple[Group, ...], *, plain: bool, currency: str | None, keys: bool) -> str:
    """A take-off by groups, each with its sum if it is priced (`currency` is then given)."""
    console, text = console_for(plain)
    priced = currency is not None
    for group in groups:
        heads = ("key" if keys else "item", "measured", "unit", "with spares", *(("rate", "amount") if priced else ()))
        table = table_of(group.name, *heads, right=(1, 3, 4, 5) if priced else (1, 3))
        for share in group.shares:
            rate = _rate(share.priced[0], share.item.unit) if share.priced else ""
            amount = "" if share.amount is None else f"{share.amount:,.2f}"
            row = [share.item.key if keys else share.item.name, f"{share.measured:.2f}", share.item.unit, f"{share.with_spares:.2f}"]
            table.add_row(*row, *((rate, amount) if priced else ()))
        for line in group.free:
            table.add_row(line.name, f"{line.quantity:.2f}", line.unit, "", money(line.rate), f"{line.amount:,.2f}")
        console.print(table)
        if priced:
            console.print(f"{group.name}: {group.total:,.2f} {currency}\n", style="bold")
    if priced:
        console.print(f"Total {round(math.fsum(group.total for group in groups), 2):,.2f} {currency}", style="bold")
    return text.getvalue()


def batch_text(portfolio: Portfolio, *, plain: bool) -> str:
    """One line for each plan of a batch and their sums; then the order of all of them."""
    console, text = console_for(plain)
    works, priced = portfolio.works, any(work.amount is not None for work in portfolio.works)
    heads = ["plan", "rooms", "floor m²", "whole", "cut", "narrowest", "sealant m", "tape m", "findings", *(["bill"] if priced else [])]
    table = table_of(f"{len(works)} plans", *heads, right=tuple(range(1, len(heads))))
    for work in works:
        if work.fault:
            table.add_row(work.plan, "–", *[""] * 6, "not set out")
            continue
        bill = [f"{work.amount or 0.0:,.2f}"] if priced else []
        table.add_row(
            work.plan, f"{work.rooms}", f"{work.floor_m2:.2f}", f"{work.whole}", f"{work.cut}", f"{work.narrowest_mm:.0f}",
            f"{work.sealant_m:.1f}", f"{work.tape_m:.1f}", f"{work.findings}", *bill,
        )  # fmt: skip
    good = [work for work in works if not work.fault]
    table.add_row(
        "all", f"{sum(w.rooms for w in good)}", f"{math.fsum(w.floor_m2 for w in good):.2f}", f"{sum(w.whole for w in good)}",
        f"{sum(w.cut for w in good)}", "", f"{math.fsum(w.sealant_m for w in good):.1f}", f"{math.fsum(w.tape_m for w in good):.1f}",
        f"{sum(w.findings for w in good)}", *([f"{math.fsum(w.amount or 0.0 for w in good):,.2f}"] if priced else []),
    )  # fmt: skip
    console.print(table)
    if portfolio.orders:
        table = table_of("One order for all plans", "item", "needed", "packs", "plan by plan", right=(1, 3))
        for order in portfolio.orders:
            many = "" if order.packs == 1 else "es" if order.pack == "box" else "s"
            packs = f"{order.packs} {order.pack}{many} of {order.size:g}{'' if order.unit == 'pcs' else f' {order.unit}'}"
            table.add_row(order.name, f"{order.need:.1f} {order.unit}", packs, f"{order.alone}")
        console.print(table)
    for cuts in portfolio.cuts:
        tiles, least = len(cuts.tiles), "the fewest possible" if len(cuts.tiles) <= cuts.bound else f"at least {cuts.bound}"
        console.print(
            f"{cuts.key} {cuts.size[0]:g} × {cuts.size[1]:g}: {cuts.places} places with a cut tile are cut from {tiles} tiles over all plans, {least}."
        )
    return text.getvalue()
