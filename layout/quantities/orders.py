"""Orders: measured quantities in whole packs, never more than one pack above need."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, assert_never

from layout.quantities.cutting import plan_cuts
from layout.quantities.rolls import CuttingList, cut_rolls
from layout.units import EPS
from layout.words import listed, worded

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Sequence

    from layout.quantities.cutting import CuttingPlan
    from layout.quantities.values import Item, Pack, Part, TakeOff
    from layout.setout.values import SetOut
    from layout.standards.products import Products


PACKED = {
    "box": (worded("{packs} box of {size:g}{unit}"), worded("{packs} boxes of {size:g}{unit}")),
    "pack": (worded("{packs} pack of {size:g}{unit}"), worded("{packs} packs of {size:g}{unit}")),
    "cartridge": (worded("{packs} cartridge of {size:g}{unit}"), worded("{packs} cartridges of {size:g}{unit}")),
    "roll": (worded("{packs} roll of {size:g}{unit}"), worded("{packs} rolls of {size:g}{unit}")),
    "length": (worded("{packs} length of {size:g}{unit}"), worded("{packs} lengths of {size:g}{unit}")),
}
"""An order in words by what it is packed in: of one, and of several."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """What to buy for an item: `packs` of `size` `unit` each, and what is needed of it with the `allowance` in words, and the `first` thing of it.

    `adjusted` is what a saw list adds to the measured quantity before spares: breakage, less what offcuts save.
    """

    item: Item
    need: float
    unit: str
    packs: int
    size: float
    pack: str
    allowance: str
    first: str = ""
    adjusted: float = 0.0

    @property
    def shown(self) -> str:
        """The order in words: 3 packs of 10 kg."""
        unit = "" if self.unit == "pcs" else f" {self.unit}"
        one, several = PACKED[self.pack]
        return worded(one if self.packs == 1 else several, packs=self.packs, size=self.size, unit=unit)

    @property
    def beside(self) -> tuple[str, ...]:
        """Keys of the items that come out of the same packs."""
        return self.item.row.pack.beside if self.item.row.pack else ()


@dataclass(frozen=True, slots=True)
class Amounts:
    """How much of an item, in its unit: as measured, with spares and losses, and in whole packs."""

    measured: float
    with_spares: float
    in_packs: float


def amounts_of(item: Item, order: Order | None) -> Amounts:
    """The three amounts of an item; all alike where it is not ordered in packs.

    An order holds what is bought beside the item too: a membrane's packs its detail coat.
    """
    if order is None:
        return Amounts(item.quantity, item.quantity, item.quantity)
    return Amounts(item.quantity, order.need, order.packs * order.size)


def packs_of(need: float, size: float) -> int:
    """Whole packs that cover a need; none for none."""
    return max(math.ceil(need / size - EPS), 0)


def place_orders(takeoff: TakeOff) -> tuple[Order, ...]:
    """Orders for the items that are bought in packs."""
    products = takeoff.setout.plan.products
    result: list[Order] = []
    cuts = cache(lambda: plan_cuts(takeoff.setout))
    for item in takeoff.items:
        order = _order(item, products, takeoff, cuts)
        if order is not None:
            result.append(order)
    return tuple(result)


def mixed_orders(takeoff: TakeOff) -> tuple[Order, ...]:
    """Orders for what is bought in packs by weight: no tile is cut for them."""
    products = takeoff.setout.plan.products
    own = [item for item in takeoff.items if item.row.pack is not None and item.row.pack.word == "pack"]
    made = [_order(item, products, takeoff, cache(lambda: plan_cuts(takeoff.setout))) for item in own]
    return tuple(order for order in made if order is not None)


def _order(item: Item, products: Products, takeoff: TakeOff, cuts: Callable[[], CuttingPlan]) -> Order | None:
    pack = item.row.pack
    if pack is None:
        return None
    match pack.word:
        case "box":
            return _box_order(item, products, pack, cuts())
        case "roll":
            return _tape_order(item, products, takeoff)
        case "length":
            return _trim_order(item, products)
        case "pack" | "cartridge":
            beside = (takeoff.item(key) for key in pack.beside)
            loss = getattr(products, pack.loss).value if pack.loss else 0.0
            need = (item.quantity + math.fsum(other.quantity for other in beside if other)) * (1 + loss)
            size = getattr(products, pack.size).value
            words = [each for each in (pack.note, worded("{loss:.0%} loss", loss=loss) if loss else "") if each]
            return Order(
                item=item,
                need=need,
                unit=item.unit,
                packs=packs_of(need, size),
                size=size,
                pack=pack.word,
                allowance=listed(words),
                first=words[0] if words else "",
            )
        case _:
            assert_never(pack.word)


def _box_order(item: Item, products: Products, pack: Pack, cuts: CuttingPlan) -> Order:
    """Tiles in whole boxes: those laid whole, those that are cut, those that break, and spares of one shade and calibre.

    A box holds as many as fit its area.
    """
    w, h = item.size or (math.inf, math.inf)
    per_box = max(1, math.floor(getattr(products, pack.size).value * 1e6 / (w * h) + EPS))
    spare = getattr(products, pack.loss).value
    batch = cuts.batch(item.tile, (w, h))
    net = item.quantity if batch is None else item.quantity - batch.places + len(batch.tiles) + batch.broken
    need = net * (1 + spare)
    saved = 0 if batch is None else batch.places - len(batch.tiles)
    words = [worded("{spare:.0%} spare", spare=spare)]
    words += [worded("{saved} fewer by offcuts", saved=saved)] if saved else []
    words += [worded("{broken} for breakage", broken=batch.broken)] if batch is not None and batch.broken else []
    return Order(
        item=item,
        need=need,
        unit="pcs",
        packs=packs_of(need, per_box),
        size=per_box,
        pack=pack.word,
        allowance=listed(words),
        first=words[0],
        adjusted=net - item.quantity,
    )


def _trim_order(item: Item, products: Products) -> Order:
    """Trims and corner profiles off whole lengths, the fewest that hold every run; a run longer than a length is joined."""
    cutting = trim_list(item.parts, products)
    words = worded("each run whole, {least}", least=_least(cutting))
    size = products.trim_length_m.value
    packs, whole = len(cutting.rolls), worded("each run whole")
    return Order(item=item, need=item.quantity, unit="m", packs=packs, size=size, pack="length", allowance=words, first=whole)


def _least(cutting: CuttingList) -> str:
    """How far a cutting list is the best one."""
    if len(cutting.rolls) == cutting.bound:
        return worded("the fewest possible")
    return worded("at least {bound}", bound=cutting.bound)


def trim_list(parts: Sequence[Part], products: Products) -> CuttingList:
    """Runs of trim off whole lengths."""
    runs = [(part.where, part.quantity * 1000.0) for part in parts]
    return cut_rolls(runs, roll=products.trim_length_m.value * 1000.0, lap=0.0, joints=False, clear=0.0)


def tape_list(setout: SetOut, rooms: Collection[int] | None = None) -> CuttingList:
    """Tape of all rooms, or of some by their numbers, off whole rolls: runs with a lap at both ends, and the corners made from tape."""
    products, rules = setout.plan.products, setout.plan.rules
    return cut_rolls(
        tape_runs(setout, rooms),
        roll=products.tape_roll_m.value * 1000.0,
        lap=products.tape_lap.value,
        joints=rules.tape_joints,
        clear=rules.tape_joint_clear,
    )


def tape_runs(setout: SetOut, rooms: Collection[int] | None = None) -> list[tuple[str, float]]:
    """Runs of tape with their laps, and the corners made from it: name and length, mm."""
    lap, width = setout.plan.products.tape_lap.value, setout.plan.products.tape_width.value
    runs: list[tuple[str, float]] = []
    several = len(setout.rooms) > 1
    for index, room in enumerate(setout.rooms):
        if rooms is not None and index not in rooms:
            continue
        where = f"{room.name}: " if several else ""
        runs += [(f"{where}R{k}", run.length + 2 * lap) for k, run in enumerate(room.tape.runs, 1)]
        runs += [(f"{where}made corner {k}", 3 * width) for k in range(1, room.tape.count("made") + 1)]
    return runs


def _tape_order(item: Item, products: Products, takeoff: TakeOff) -> Order:
    """All tape in one order, by its cutting list."""
    cutting = tape_list(takeoff.setout)
    need = math.fsum(each.length for roll in cutting.rolls for each in roll) / 1000.0
    return Order(
        item=item,
        need=need,
        unit="m",
        packs=len(cutting.rolls),
        size=products.tape_roll_m.value,
        pack="roll",
        allowance=worded(
            "all runs, {lap:g} mm lap at both ends of each and {laps} within runs; {least}",
            lap=products.tape_lap.value,
            laps=cutting.laps,
            least=_least(cutting),
        ),
        first=worded("all runs"),
    )
