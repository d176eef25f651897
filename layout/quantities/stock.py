"""What a stock of tiles is short of: after a delivery, or when boxes broke."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from layout.errors import PlanError
from layout.units import EPS

if TYPE_CHECKING:
    from collections.abc import Mapping

    from layout.quantities.cutting import CuttingPlan
    from layout.standards.products import Products


@dataclass(frozen=True, slots=True, kw_only=True)
class Shortage:
    """A batch of tiles against its stock, in tiles; `boxes` to buy, of the same shade and calibre."""

    name: str
    size: tuple[float, float]
    stock: int
    needed: int
    boxes: int

    @property
    def short(self) -> int:
        """Tiles that are missing."""
        return max(self.needed - self.stock, 0)


def shortages(plan: CuttingPlan, stock: Mapping[str, int], products: Products) -> tuple[Shortage, ...]:
    """Batches whose stock was given, by the tile's name, or ``name.WxH`` where a name has several sizes.

    Raises
    ------
    PlanError
        If a name is no tile of the plan, or a number is below nothing.
    """
    keys = {}
    for batch in plan.batches:
        several = sum(other.name == batch.name for other in plan.batches) > 1
        keys[f"{batch.name}.{batch.size[0]:g}x{batch.size[1]:g}" if several else batch.name] = batch
    result = []
    for name, number in stock.items():
        if name not in keys:
            raise PlanError("--stock", f"{name!r} is no tile that is laid", "tiles are " + ", ".join(keys))
        if number < 0:
            raise PlanError("--stock", f"{name}={number} found", "give how many tiles there are, 0 or more")
        batch = keys[name]
        per_box = max(1, math.floor(products.tile_box_m2.value * 1e6 / (batch.size[0] * batch.size[1]) + EPS))
        short = max(batch.needed - number, 0)
        result.append(Shortage(name=name, size=batch.size, stock=number, needed=batch.needed, boxes=math.ceil(short / per_box)))
    return tuple(result)
