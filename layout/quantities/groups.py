"""A take-off and its bill by room, storey, stage of the works, section of work or delivery: each group's share of every item."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias, assert_never

from layout.quantities.bill import NO_STOREY, SECTIONS, WHOLE_JOB
from layout.quantities.deliveries import LATER, delivery_of
from layout.quantities.orders import amounts_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from layout.quantities.bill import Bill, FreeLine, Line
    from layout.quantities.orders import Order
    from layout.quantities.values import Item, TakeOff

By: TypeAlias = Literal["room", "storey", "stage", "section", "delivery"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """A group's share of an item, as measured and with spares, in its unit; `priced` its priced lines, one for each room."""

    item: Item
    measured: float
    with_spares: float
    priced: tuple[Line, ...] = ()

    @property
    def amount(self) -> float | None:
        """What it comes to; None without a rate, or where the item is priced with another."""
        return round(math.fsum(line.amount for line in self.priced), 2) if self.priced else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """One room, storey, stage, section or delivery: its shares, and the free lines that stand with it."""

    name: str
    shares: tuple[Share, ...]
    free: tuple[FreeLine, ...] = ()

    @property
    def total(self) -> float:
        """Sum of what is priced."""
        return round(math.fsum(share.amount or 0.0 for share in self.shares) + math.fsum(line.amount for line in self.free), 2)


def grouped(takeoff: TakeOff, orders: tuple[Order, ...], by: By, bill: Bill | None = None) -> tuple[Group, ...]:
    """Every item parted by groups, in the order in which rooms, storeys and works come; the sums of all are the take-off's and the bill's.

    Free lines stand with their stage, else with the whole job (by section with what is general).
    """
    named = _names(takeoff, by)
    ordered = {order.item.key: order for order in orders}
    found: dict[str, list[Share]] = {}
    for item in takeoff.items:
        amounts = amounts_of(item, ordered.get(item.key))
        more = amounts.with_spares / amounts.measured if amounts.measured > 0.0 else 0.0
        shares: dict[str, float] = {}
        for part in item.parts:
            name = named(item, part.place.room)
            shares[name] = shares.get(name, 0.0) + part.quantity
        lines = [line for line in bill.lines if line.item.key == item.key] if bill else []
        for name, measured in shares.items():
            own = tuple(line for line in lines if named(item, line.room) == name)
            found.setdefault(name, []).append(Share(item=item, measured=measured, with_spares=measured * more, priced=own))
    free: dict[str, list[FreeLine]] = {}
    for line in bill.free if bill else ():
        free.setdefault(line.stage if by == "stage" else SECTIONS["general"] if by == "section" else WHOLE_JOB, []).append(line)
    order = _order(takeoff, by)
    names = sorted({**found, **free}, key=lambda name: order.index(name) if name in order else len(order))
    return tuple(Group(name=name, shares=tuple(found.get(name, ())), free=tuple(free.get(name, ()))) for name in names)


def _names(takeoff: TakeOff, by: By) -> Callable[[Item, int], str]:
    """What the group of an item's part in a room is called."""
    plan = takeoff.setout.plan
    later = [*(each.name for each in plan.deliveries), LATER]
    match by:
        case "room":
            return lambda item, room: plan.rooms[room].name  # noqa: ARG005  # one signature for all
        case "storey":
            return lambda item, room: plan.rooms[room].storey or NO_STOREY  # noqa: ARG005
        case "stage":
            return lambda item, room: item.row.stage  # noqa: ARG005
        case "section":
            return lambda item, room: SECTIONS[item.row.section]  # noqa: ARG005
        case "delivery":
            return lambda item, room: later[delivery_of(plan, room, item.row.stage)]
        case _:
            assert_never(by)


def _order(takeoff: TakeOff, by: By) -> list[str]:
    """The groups there can be, in order."""
    plan = takeoff.setout.plan
    if by == "delivery":
        return [*(each.name for each in plan.deliveries), LATER]
    if by in ("stage", "section"):
        return [_names(takeoff, by)(item, 0) for item in takeoff.items]
    return [_names(takeoff, by)(takeoff.items[0], room) for room in range(len(plan.rooms))]
