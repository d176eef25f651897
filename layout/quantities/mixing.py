"""Mixing: two-component packs are mixed whole, so a batch is a pack, and its pot life tells how many hands it takes."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from layout.units import EPS

if TYPE_CHECKING:
    from layout.quantities.orders import Order
    from layout.quantities.values import TakeOff


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


def mixing_plan(takeoff: TakeOff, orders: tuple[Order, ...]) -> list[Batches]:
    """Whole packs to mix, what each covers, and the hands it takes within its pot life at 20 °C."""
    products = takeoff.setout.plan.products
    result = []
    for order in orders:
        pack = order.item.row.pack
        if pack is None or not pack.over:
            continue
        area = math.fsum(part.quantity for part in takeoff.worked(pack.over))
        area *= getattr(products, pack.coats).value if pack.coats else 1.0
        hours = math.fsum(part.quantity for part in takeoff.worked(pack.pace))
        if area <= 0.0 or hours <= 0.0 or order.need <= 0.0:
            continue
        result.append(
            Batches(
                key=order.item.key,
                name=order.item.name,
                packs=order.packs,
                pack_kg=order.size,
                m2_each=area / order.need * order.size,
                pot_min=getattr(products, pack.pot).value,
                m2_hour=area / hours,
            )
        )
    return result
