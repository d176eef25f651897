"""A take-off priced: rates by item, subtotals by room, stage of the works and trade section, and what has no rate.

The plan says which quantity is priced: measured, with spares and losses, or whole packs. A rate by the pack prices packs
whatever the plan says. What comes out of another item's packs is priced with those, once.
"""

from __future__ import annotations

import difflib
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeVar

from layout.errors import PlanError
from layout.quantities.orders import amounts_of, place_orders
from layout.units import EPS

if TYPE_CHECKING:
    from collections.abc import Iterable

    from layout.plan.ruling import Priced
    from layout.plan.values import Stage
    from layout.quantities.orders import Order
    from layout.quantities.values import Item, Section, TakeOff

K = TypeVar("K")

TITLES: dict[Section, str] = {
    "tiling": "09 30 13 Ceramic Tiling",
    "waterproofing": "07 14 00 Fluid-Applied Waterproofing",
    "sealants": "07 92 00 Joint Sealants",
    "general": "01 00 00 General Requirements",
}
"""Numbers and titles of trade sections."""
_READ_IN: dict[Section, str] = {
    "tiling": "section title read in a guide specification",
    "waterproofing": "from memory",
    "sealants": "section title read in a project specification",
    "general": "from memory",
}
SECTIONS: dict[Section, str] = {section: f"{title} ({_READ_IN[section]})" for section, title in TITLES.items()}
"""The same with where each title was read."""
NO_STOREY = "no storey given"
SLIP = 0.8
"""How like an item's key one in a rates file must be to be a slip of the pen: `tiles.wall` is none, but another job's."""
WHOLE_JOB = "whole job"
"""Where free lines stand in sums by room."""


def to_cents(amount: float) -> float:
    """To a hundredth, halves upwards, as spreadsheets and offices do; Python's own rounding takes halves to even.

    >>> to_cents(0.125), to_cents(2.675), to_cents(1.005)
    (0.13, 2.68, 1.01)
    """
    return math.floor(amount * 100.0 + 0.5 + EPS) / 100.0


@dataclass(frozen=True, slots=True)
class Rate:
    """Price of one unit of an item, or of one pack of it."""

    key: str
    amount: float
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FreeLine:
    """Plant, a lump sum, or what else no plan measures: priced as it is given."""

    name: str
    quantity: float
    unit: str
    rate: float
    stage: Stage = "general"

    @property
    def amount(self) -> float:
        """Quantity times rate, to a hundredth."""
        return to_cents(self.quantity * self.rate)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rates:
    """Rates by item and free lines, in one currency; `source` names the file in messages."""

    source: str
    currency: str
    rates: dict[str, Rate]
    lines: tuple[FreeLine, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One priced line: an item in one room, which counts from 0; `quantity` is the room's share of what is priced, in `unit`."""

    item: Item
    room: int
    priced: Priced
    quantity: float
    unit: str
    rate: float

    @property
    def amount(self) -> float:
        """Quantity times rate, to a hundredth."""
        return to_cents(self.quantity * self.rate)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bill:
    """Priced lines, and the items that no rate was given for: never counted as nothing.

    `inside` are items that are priced within another, since they come out of its packs; `notes` tell rates that price nothing.
    """

    currency: str
    priced: Priced
    rooms: tuple[str, ...]
    storeys: tuple[str, ...]
    lines: tuple[Line, ...]
    free: tuple[FreeLine, ...]
    unpriced: tuple[Item, ...]
    inside: tuple[tuple[Item, Item], ...]
    notes: tuple[str, ...]

    @property
    def total(self) -> float:
        """Sum of all lines."""
        return round(math.fsum(line.amount for line in self.lines) + math.fsum(line.amount for line in self.free), 2)

    def by_room(self) -> dict[str, float]:
        """Sums by the room's name; free lines are the whole job's."""
        own = _sums((line.room, line.amount) for line in self.lines)
        return {self.rooms[room]: amount for room, amount in own.items()} | _sums((WHOLE_JOB, line.amount) for line in self.free)

    def by_storey(self) -> dict[str, float]:
        """Sums by storey; nothing where no room has one, "" for rooms without one, and free lines are the whole job's."""
        if not any(self.storeys):
            return {}
        return _sums([*((self.storeys[line.room], line.amount) for line in self.lines), *((WHOLE_JOB, line.amount) for line in self.free)])

    def by_stage(self) -> dict[Stage, float]:
        """Sums by stage of the works."""
        own = [(line.item.row.stage, line.amount) for line in self.lines]
        return _sums([*own, *((line.stage, line.amount) for line in self.free)])

    def by_section(self) -> dict[Section, float]:
        """Sums by trade section, whose titles `SECTIONS` gives; free lines are general."""
        own = [(line.item.row.section, line.amount) for line in self.lines]
        return _sums([*own, *(("general", line.amount) for line in self.free)])


def _sums(amounts: Iterable[tuple[K, float]]) -> dict[K, float]:
    result: dict[K, float] = {}
    for key, amount in amounts:
        result[key] = round(result.get(key, 0.0) + amount, 2)
    return result


def price(takeoff: TakeOff, rates: Rates) -> Bill:
    """Price a take-off. A rate that prices nothing here is a note: one file serves many jobs.

    Raises
    ------
    PlanError
        If a rate is in another unit than its item's and not by the pack, or by the pack for what is not bought in packs.
    """
    items = {item.key: item for item in takeoff.items}
    orders = {order.item.key: order for order in place_orders(takeoff)}
    for key, rate in rates.rates.items():
        if key in items:
            _check_unit(rate, items[key], orders.get(key), f'{rates.source}: rates."{key}".unit')
    whole: Priced = takeoff.setout.plan.rules.priced
    basis: dict[str, Priced] = {key: "packs" if rates.rates[key].unit == "pack" else whole for key in items if key in rates.rates}
    held = {key: order.item for order in orders.values() if basis.get(order.item.key, "measured") != "measured" for key in order.beside}
    lines: list[Line] = []
    for key, item in items.items():
        if key in basis and key not in held:
            lines += _lines(item, orders.get(key), rates.rates[key], basis[key])
    return Bill(
        currency=rates.currency,
        priced=whole,
        rooms=tuple(room.name for room in takeoff.setout.rooms),
        storeys=tuple(room.storey for room in takeoff.setout.plan.rooms),
        lines=tuple(lines),
        free=rates.lines,
        unpriced=tuple(item for key, item in items.items() if key not in rates.rates and key not in held),
        inside=tuple((items[key], holder) for key, holder in held.items() if key in items),
        notes=tuple(_unused(key, takeoff) for key in rates.rates if key not in items),
    )


def _check_unit(rate: Rate, item: Item, order: Order | None, place: str) -> None:
    if rate.unit == "pack":
        if order is None:
            raise PlanError(place, '"pack" found', f'{item.name} is not bought in packs; it is measured in "{item.unit}"')
    elif rate.unit != item.unit:
        by_pack = ' or priced by the "pack"' if order else ""
        raise PlanError(place, f'"{rate.unit}" found', f'the item is measured in "{item.unit}"{by_pack}')


def _lines(item: Item, order: Order | None, rate: Rate, priced: Priced) -> list[Line]:
    """A line for each room of an item, by the room's share of what is measured."""
    amounts = amounts_of(item, order)
    if rate.unit == "pack" and order is not None:
        total = float(order.packs)
    else:
        total = {"measured": amounts.measured, "with spares": amounts.with_spares, "packs": amounts.in_packs}[priced]
    by_room: dict[int, float] = {}
    for part in item.parts:
        by_room[part.place.room] = by_room.get(part.place.room, 0.0) + part.quantity
    share = total / amounts.measured if amounts.measured > 0.0 else 0.0
    return [
        Line(item=item, room=room, priced=priced, quantity=quantity * share, unit=rate.unit, rate=rate.amount)
        for room, quantity in by_room.items()
    ]


def _unused(key: str, takeoff: TakeOff) -> str:
    near = difflib.get_close_matches(key, [item.key for item in takeoff.items], n=1, cutoff=SLIP)
    return f'the rate "{key}" prices nothing here' + (f"; did you mean {near[0]}?" if near else "")
