"""What a stock of tiles is short of: after a delivery, or when boxes broke."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from layout.errors import PlanError
from layout.units import EPS

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from layout.quantities.cutting import CuttingPlan, TileCutting
    from layout.setout.values import SetOut
    from layout.standards.products import Products


@dataclass(frozen=True, slots=True, kw_only=True)
class Shortage:
    """A batch of tiles against its stock, in tiles; `boxes` to buy, of the same shade and calibre.

    `stock` is what is at hand without the `broken` ones. `again` are the pieces that kept rests could give once more, if one
    breaks: how many of each at the most, each rest once.
    """

    name: str
    size: tuple[float, float]
    stock: int
    needed: int
    boxes: int
    broken: int = 0
    again: tuple[tuple[str, int], ...] = ()

    @property
    def short(self) -> int:
        """Tiles that are missing."""
        return max(self.needed - self.stock, 0)


ALLOWANCES = {
    "stack": (0.05, 0.10),
    "running": (0.10, 0.12),
    "diagonal": (0.12, 0.15),
    "herringbone": (0.15, 0.20),
    "double-herringbone": (0.15, 0.20),
}
"""Usual percentage allowances for cuts by pattern (common practice, no source): what an estimator adds who has no cutting plan."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TileOrder:
    """What a batch takes, in tiles: whole, cut, broken and spare ones; ordered in whole boxes; and by a usual allowance."""

    name: str
    size: tuple[float, float]
    whole: int
    cut: int
    broken: int
    spare: int
    per_box: int
    usual: tuple[int, int] | None

    @property
    def need(self) -> int:
        """Tiles that are wanted, spares included."""
        return self.whole + self.cut + self.broken + self.spare

    @property
    def boxes(self) -> int:
        """Whole boxes."""
        return math.ceil(self.need / self.per_box)

    @property
    def ordered(self) -> int:
        """Tiles in those boxes."""
        return self.boxes * self.per_box

    @property
    def surplus(self) -> int:
        """Tiles over, beyond the spares."""
        return self.ordered - self.need


def tile_orders(
    plan: CuttingPlan, tiled_mm2: Mapping[str, float], patterns: Mapping[str, str], products: Products
) -> tuple[TileOrder, ...]:
    """Orders of tiles by batch; `tiled_mm2` is the tiled area and `patterns` the pattern by the tile's name, for the usual allowance."""
    result = []
    for batch in plan.batches:
        net = batch.whole + len(batch.tiles)
        one = sum(other.name == batch.name for other in plan.batches) == 1
        low_high = ALLOWANCES.get(patterns.get(batch.name, "")) if one else None
        area = tiled_mm2.get(batch.name, 0.0) / batch.module_mm2
        usual = None if low_high is None else (math.ceil(area * (1 + low_high[0])), math.ceil(area * (1 + low_high[1])))
        result.append(
            TileOrder(
                name=batch.name,
                size=batch.size,
                whole=batch.whole,
                cut=len(batch.tiles),
                broken=batch.broken,
                spare=math.ceil((net + batch.broken) * products.tile_spare.value - EPS),
                per_box=per_box(batch.size, products),
                usual=usual,
            )
        )
    return tuple(result)


def tile_orders_of(plan: CuttingPlan, setout: SetOut) -> tuple[TileOrder, ...]:
    """Orders of a set-out's tiles by batch."""
    every = [done for room in setout.rooms for done in room.surfaces]
    areas: dict[str, float] = {}
    for done in every:
        areas[done.tile.name] = areas.get(done.tile.name, 0.0) + done.tiled_m2 * 1e6
    return tile_orders(plan, areas, {done.tile.name: done.tile.pattern for done in every}, setout.plan.products)


def per_box(size: tuple[float, float], products: Products) -> int:
    """Tiles of a size (mm) in a box of the products' area."""
    return max(1, math.floor(products.tile_box_m2.value * 1e6 / (size[0] * size[1]) + EPS))


def shortages(
    plan: CuttingPlan,
    stock: Mapping[str, int],
    products: Products,
    broken: Mapping[str, tuple[int, bool]] | None = None,
    orders: Sequence[TileOrder] = (),
) -> tuple[Shortage, ...]:
    """Batches whose stock was given, or of which tiles broke, by the tile's name, or ``name.WxH`` where a name has several sizes.

    `broken` holds how many and whether that is boxes. Where no stock is told, it is what `orders` ordered.

    Raises
    ------
    PlanError
        If a name is no tile of the plan, a number is below nothing, or more broke than there were.
    """
    keys, broken = _keys(plan), broken or {}
    ordered = {(order.name, order.size): order.ordered for order in orders}
    for flag, given in (("--stock", stock), ("--broken", {name: many for name, (many, _) in broken.items()})):
        for name, number in given.items():
            if name not in keys:
                raise PlanError(flag, f"{name!r} is no tile that is laid", "tiles are " + ", ".join(keys))
            if number < 0:
                raise PlanError(
                    flag, f"{name}={number} found", f"give how many tiles {'there are' if flag == '--stock' else 'broke'}, 0 or more"
                )
    result = []
    for name in dict.fromkeys((*stock, *broken)):
        batch = keys[name]
        many, boxes = broken.get(name, (0, False))
        lost = many * per_box(batch.size, products) if boxes else many
        had = stock[name] if name in stock else ordered.get((batch.name, batch.size), batch.needed)
        if lost > had:
            raise PlanError("--broken", f"{lost} of {name} found", f"there were {had}: give no more, or --stock with what there was")
        short = max(batch.needed - (had - lost), 0)
        packs = math.ceil(short / per_box(batch.size, products))
        result.append(
            Shortage(name=name, size=batch.size, stock=had - lost, needed=batch.needed, boxes=packs, broken=lost, again=_again(batch))
        )
    return tuple(result)


def _keys(plan: CuttingPlan) -> dict[str, TileCutting]:
    """Batches by what people call them."""
    keys = {}
    for batch in plan.batches:
        several = sum(other.name == batch.name for other in plan.batches) > 1
        keys[f"{batch.name}.{batch.size[0]:g}x{batch.size[1]:g}" if several else batch.name] = batch
    return keys


def _again(batch: TileCutting) -> tuple[tuple[str, int], ...]:
    """Pieces that kept rests could give once more: no more of each than are laid, the most first."""
    laid = Counter(piece.mark for tile in batch.tiles for piece in tile.pieces)
    found: Counter[str] = Counter()
    for _, many, marks in batch.kept():
        found.update(dict.fromkeys(marks, many))
    return tuple(sorted(((mark, min(many, laid[mark])) for mark, many in found.items()), key=lambda each: (-each[1], each[0])))
