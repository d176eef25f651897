"""The table of columns of a take-off: what CSV, record, workbook and terminal say of an item, one row for each column.

A new column is one row here. A workbook's own columns that live (formulas over other cells) stand in it; the others come
from here. Numbers are rounded and written by each format's own way.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

from layout.quantities.deliveries import LATER, delivered
from layout.quantities.orders import amounts_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from layout.quantities.bill import Bill, Line
    from layout.quantities.orders import Amounts, Order
    from layout.quantities.values import Item, TakeOff

Value: TypeAlias = "str | int | float | None"


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """An item with its order, its amounts, its priced lines, and the packs of each delivery."""

    item: Item
    order: Order | None
    amounts: Amounts
    lines: tuple[Line, ...] = ()
    packs: tuple[int, ...] = ()

    @property
    def amount(self) -> float | None:
        """The sum of its priced lines; None without a rate."""
        return math.fsum(line.amount for line in self.lines) if self.lines else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column: its head, what it says of an item (None: nothing), and where it is shown.

    `record` is its key in a record, with the table it stands in before a dot; `csv` how its numbers are written there, None where it is not a
    column; `book` its width in a workbook where it is text or a plain number; `screen` what a terminal shows, None where it does not.
    """

    head: str
    value: Callable[[Entry], Value]
    record: str = ""
    csv: str | None = ""
    book: float | None = None
    screen: Callable[[Entry], str] | None = None
    priced: bool = False
    right: bool = False


def _ordered(value: Callable[[Order], Value]) -> Callable[[Entry], Value]:
    return lambda entry: None if entry.order is None else value(entry.order)


def _priced(value: Callable[[Line], Value]) -> Callable[[Entry], Value]:
    return lambda entry: value(entry.lines[0]) if entry.lines else None


COLUMNS = (
    Column(head="key", record="key", value=lambda entry: entry.item.key),
    Column(head="item", record="name", value=lambda entry: entry.item.name, screen=lambda entry: entry.item.name),
    Column(head="quantity", record="quantity", csv=".3f", value=lambda entry: entry.amounts.measured),
    Column(head="unit", record="unit", value=lambda entry: entry.item.unit),
    Column(
        head="measured", record="amounts.measured", csv=None, value=lambda entry: entry.amounts.measured,
        screen=lambda entry: entry.item.shown, right=True,
    ),
    Column(
        head="with spares", record="amounts.with_spares", csv=".3f", value=lambda entry: entry.amounts.with_spares,
        screen=lambda entry: f"{entry.order.need:.1f}" if entry.order else "", right=True,
    ),
    Column(
        head="in packs", record="amounts.in_packs", csv=".3f", value=lambda entry: entry.amounts.in_packs,
        screen=lambda entry: entry.order.shown if entry.order else "",
    ),
    Column(head="need", record="order.need", csv=None, value=_ordered(lambda order: order.need)),
    Column(head="unit", record="order.unit", csv=None, value=_ordered(lambda order: order.unit)),
    Column(head="packs", record="order.packs", value=_ordered(lambda order: order.packs)),
    Column(head="pack size", record="order.pack_size", csv="g", value=_ordered(lambda order: order.size)),
    Column(head="pack", record="order.pack", value=_ordered(lambda order: order.pack)),
    Column(head="allowance", record="order.allowance", value=_ordered(lambda order: order.allowance)),
    Column(head="priced", priced=True, value=_priced(lambda line: line.priced)),
    Column(head="per", priced=True, value=_priced(lambda line: line.unit)),
    Column(head="rate", priced=True, csv="g", value=_priced(lambda line: line.rate)),
    Column(head="amount", priced=True, csv=".2f", value=lambda entry: entry.amount),
    Column(head="formula", record="formula", book=60.0, value=lambda entry: entry.item.formula),
    Column(head="source", record="source", book=60.0, value=lambda entry: entry.item.source),
)  # fmt: skip


def columns_of(takeoff: TakeOff) -> tuple[Column, ...]:
    """The columns of a take-off: those of every one, and the packs of each delivery where the plan has several."""
    deliveries = takeoff.setout.plan.deliveries
    names = [*(each.name for each in deliveries), LATER] if deliveries else []
    found = tuple(_of_delivery(k, name) for k, name in enumerate(names))
    return (*COLUMNS[:-2], *found, *COLUMNS[-2:])


def _of_delivery(number: int, name: str) -> Column:
    def packs(entry: Entry) -> Value:
        return entry.packs[number] if entry.packs else None

    return Column(head=f"packs: {name}", book=12.0, value=packs)


def entries_of(takeoff: TakeOff, orders: tuple[Order, ...], bill: Bill | None = None) -> list[Entry]:
    """The rows of the table: each item of a take-off."""
    ordered = {order.item.key: order for order in orders}
    lines: dict[str, list[Line]] = {}
    for line in bill.lines if bill else ():
        lines.setdefault(line.item.key, []).append(line)
    packs = delivered(takeoff, orders)
    result = []
    for item in takeoff.items:
        order = ordered.get(item.key)
        own = tuple(lines.get(item.key, ()))
        result.append(Entry(item=item, order=order, amounts=amounts_of(item, order), lines=own, packs=packs.get(item.key, ())))
    return result
