"""A take-off priced: rates by item, subtotals by room, stage of the works and trade section, and what has no rate."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeVar

from layout.errors import PlanError

if TYPE_CHECKING:
    from collections.abc import Callable

    from layout.quantities.values import Item, Section, Stage, TakeOff

K = TypeVar("K")

SECTIONS: dict[Section, str] = {
    "tiling": "09 30 13 Ceramic Tiling (section title read in a guide specification)",
    "waterproofing": "07 14 00 Fluid-Applied Waterproofing (from memory)",
    "sealants": "07 92 00 Joint Sealants (section title read in a project specification)",
}


@dataclass(frozen=True, slots=True)
class Rate:
    """Price of one unit of an item."""

    key: str
    amount: float
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Rates:
    """Rates by item, in one currency; `source` names the file in messages."""

    source: str
    currency: str
    rates: dict[str, Rate]


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One priced line: an item in one room, which counts from 0."""

    item: Item
    room: int
    quantity: float
    rate: float

    @property
    def amount(self) -> float:
        """Quantity times rate, to a hundredth."""
        return round(self.quantity * self.rate, 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bill:
    """Priced lines, and the items that no rate was given for: never counted as nothing."""

    currency: str
    rooms: tuple[str, ...]
    lines: tuple[Line, ...]
    unpriced: tuple[Item, ...]

    @property
    def total(self) -> float:
        """Sum of all lines."""
        return round(sum(line.amount for line in self.lines), 2)

    def by_room(self) -> dict[str, float]:
        """Sums by the room's name."""
        return {self.rooms[room]: amount for room, amount in self._sums(lambda line: line.room).items()}

    def by_stage(self) -> dict[Stage, float]:
        """Sums by stage of the works."""
        return self._sums(lambda line: line.item.row.stage)

    def by_section(self) -> dict[Section, float]:
        """Sums by trade section, whose titles `SECTIONS` gives."""
        return self._sums(lambda line: line.item.row.section)

    def _sums(self, of: Callable[[Line], K]) -> dict[K, float]:
        result: dict[K, float] = {}
        for line in self.lines:
            result[of(line)] = round(result.get(of(line), 0.0) + line.amount, 2)
        return result


def price(takeoff: TakeOff, rates: Rates) -> Bill:
    """Price a take-off.

    Raises
    ------
    PlanError
        If a rate is for no item, or in another unit than the item's.
    """
    items = {item.key: item for item in takeoff.items}
    for key, rate in rates.rates.items():
        place = f'{rates.source}: rates."{key}"'
        if key not in items:
            raise PlanError(place, "it is no item of this take-off", "items are " + ", ".join(items))
        if rate.unit != items[key].unit:
            raise PlanError(f"{place}.unit", f'"{rate.unit}" found', f'the item is measured in "{items[key].unit}"')
    lines = []
    for item in takeoff.items:
        if item.key not in rates.rates:
            continue
        by_room: dict[int, float] = {}
        for part in item.parts:
            by_room[part.place.room] = by_room.get(part.place.room, 0.0) + part.quantity
        for room, quantity in by_room.items():
            lines.append(Line(item=item, room=room, quantity=quantity, rate=rates.rates[item.key].amount))
    unpriced = tuple(item for item in takeoff.items if item.key not in rates.rates)
    rooms = tuple(room.name for room in takeoff.setout.rooms)
    return Bill(currency=rates.currency, rooms=rooms, lines=tuple(lines), unpriced=unpriced)
