"""Mixing: two-component packs are mixed whole, so a batch is a pack, and its pot life tells how many hands it takes."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from layout.units import EPS

if TYPE_CHECKING:
    from collections.abc import Iterable
    from typing import Protocol

    class _Item(Protocol):
        @property
        def key(self) -> str: ...
        @property
        def name(self) -> str: ...

    class _Order(Protocol):
        @property
        def item(self) -> _Item: ...
        @property
        def need(self) -> float: ...
        @property
        def packs(self) -> int: ...
        @property
        def size(self) -> float: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Batches:
    """Whole packs of one product: how much of the works a pack covers, and the hands that lay it within its pot life."""

    key: str
    name: str
    packs: int
    pack_kg: float
    m2_each: float
    pot_min: float
    m2_hour: float

    @property
    def hands(self) -> int:
        """People who lay a pack before it sets."""
        return max(math.ceil(self.m2_each / (self.m2_hour * self.pot_min / 60.0) - EPS), 1)


def batches_of(orders: Iterable[_Order], areas: dict[str, float], figures: dict[str, tuple[float, float]]) -> list[Batches]:
    """Batches of the products ordered in packs.

    `areas` is what each item covers, m² (of all coats together); `figures` pot life in minutes and m² an hour and hand.
    """
    result = []
    for order in orders:
        key = order.item.key
        if key not in figures or order.need <= 0.0 or areas.get(key, 0.0) <= 0.0:
            continue
        pot, speed = figures[key]
        result.append(
            Batches(
                key=key,
                name=order.item.name,
                packs=order.packs,
                pack_kg=order.size,
                m2_each=areas[key] / order.need * order.size,
                pot_min=pot,
                m2_hour=speed,
            )
        )
    return result
