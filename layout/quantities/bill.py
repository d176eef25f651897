"""A take-off priced: rates by item, subtotals by room, stage of the works and trade section, and what has no rate."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from layout.errors import PlanError

if TYPE_CHECKING:
    from collections.abc import Callable

    from layout.quantities.takeoff import Item, Part, TakeOff

SECTIONS = {
    "tiling": "09 30 13 Ceramic Tiling (section title read in a guide specification)",
    "waterproofing": "07 14 00 Fluid-Applied Waterproofing (from memory)",
    "sealants": "07 92 00 Joint Sealants (section title read in a project specification)",
}
_STAGES = (
    (("screed", "primer", "quartz"), "preparation", "waterproofing"),
    (("membrane", "detail_coat", "tape", "corner_pieces", "collars", "flanges", "terminations"), "membrane", "waterproofing"),
    (("tiles", "tiled", "measured", "adhesive", "cove", "skirting", "edge_trim"), "fixing", "tiling"),
    (("grout",), "grouting", "tiling"),
    (("joints", "sealant", "backer_rod", "bond_breaker", "masking_tape"), "sealing", "sealants"),
)


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
    """One priced line: an item in one room."""

    item: Item
    room: str
    stage: str
    section: str
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
    lines: tuple[Line, ...]
    unpriced: tuple[Item, ...]

    @property
    def total(self) -> float:
        """Sum of all lines."""
        return round(sum(line.amount for line in self.lines), 2)

    def subtotals(self, of: Callable[[Line], str]) -> dict[str, float]:
        """Sums by room, stage or section."""
        result: dict[str, float] = {}
        for line in self.lines:
            result[of(line)] = round(result.get(of(line), 0.0) + line.amount, 2)
        return result


def stage_of(key: str) -> tuple[str, str]:
    """Stage of the works and trade section of an item.

    >>> stage_of("tape.internal")
    ('membrane', 'waterproofing')
    """
    first = key.split(".", 1)[0]
    own = (
        "sealant"
        if first.startswith("sealant")
        else "quartz"
        if first.startswith("quartz")
        else "membrane"
        if first.startswith("membrane")
        else first
    )
    return next(((stage, section) for keys, stage, section in _STAGES if own in keys), ("other", "tiling"))


def room_of(part: Part, rooms: tuple[str, ...]) -> str:
    """The room that a part of an item stands in."""
    if len(rooms) == 1:
        return rooms[0]
    return next((room for room in rooms if part.where == room or part.where.startswith(f"{room}: ")), "all rooms")


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
    rooms = tuple(room.name for room in takeoff.setout.rooms)
    lines = []
    for item in takeoff.items:
        if item.key not in rates.rates:
            continue
        stage, section = stage_of(item.key)
        by_room: dict[str, float] = {}
        for part in item.parts:
            room = room_of(part, rooms)
            by_room[room] = by_room.get(room, 0.0) + part.quantity
        for room, quantity in by_room.items():
            lines.append(Line(item=item, room=room, stage=stage, section=section, quantity=quantity, rate=rates.rates[item.key].amount))
    unpriced = tuple(item for item in takeoff.items if item.key not in rates.rates)
    return Bill(currency=rates.currency, lines=tuple(lines), unpriced=unpriced)
