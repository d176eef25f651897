"""Orders by delivery: whole packs such that what has come covers what is to be done, and all of them are the one order.

A delivery brings what is needed so far, in whole packs, less what came before: a pack that was opened is used up first. Tape and
trims are cut from their own lists for what is needed so far; a tile of which a piece is needed has come.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING

from layout.quantities.cutting import plan_cuts
from layout.quantities.orders import packs_of, tape_list, trim_list
from layout.units import EPS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from layout.plan.values import Plan, Stage
    from layout.quantities.orders import Order
    from layout.quantities.values import Item, TakeOff

LATER = "later"
"""What comes with no delivery that is given."""


def delivery_of(plan: Plan, room: int, stage: Stage) -> int:
    """Number of the first delivery that a room's part of a stage fits, from 0; that of those after all where it fits none."""
    own = plan.rooms[room]
    for k, each in enumerate(plan.deliveries):
        fits = (not each.storeys or own.storey in each.storeys) and (not each.rooms or own.name in each.rooms)
        if fits and (not each.stages or stage in each.stages):
            return k
    return len(plan.deliveries)


def delivered(takeoff: TakeOff, orders: Sequence[Order]) -> dict[str, tuple[int, ...]]:
    """Packs of each order by delivery, and at the end those that come later; nothing if the plan has no deliveries."""
    plan = takeoff.setout.plan
    if not plan.deliveries:
        return {}
    result = {}
    for order in orders:
        so_far = [min(_so_far(order, takeoff, last), order.packs) for last in range(len(plan.deliveries))]
        reached = [0]
        for packs in so_far:
            reached.append(max(reached[-1], packs))
        result[order.item.key] = tuple(b - a for a, b in pairwise([*reached, order.packs]))
    return result


def _so_far(order: Order, takeoff: TakeOff, last: int) -> int:
    """Packs that are needed for a delivery and those before it."""
    plan = takeoff.setout.plan
    items = [item for key in (order.item.key, *order.beside) if (item := takeoff.item(key)) is not None]
    parts = [(part, delivery_of(plan, part.place.room, item.row.stage) <= last) for item in items for part in item.parts]
    now = math.fsum(part.quantity for part, come in parts if come)
    if now <= EPS:
        return 0
    rooms = {room for room in range(len(plan.rooms)) if delivery_of(plan, room, order.item.row.stage) <= last}
    match order.pack:
        case "roll":
            return len(tape_list(takeoff.setout, rooms).rolls)
        case "length":
            return len(trim_list([part for part, come in parts if come], plan.products).rolls)
        case "box":
            return packs_of(_tiles(order.item, takeoff, rooms) * order.need / max(order.item.quantity + order.adjusted, EPS), order.size)
        case _:
            return packs_of(order.need * now / max(math.fsum(part.quantity for part, _ in parts), EPS), order.size)


def _tiles(item: Item, takeoff: TakeOff, rooms: set[int]) -> float:
    """Tiles that some rooms take: whole ones, those that a piece of theirs is cut from, and their share of those that break."""
    own = math.fsum(part.quantity for part in item.parts if part.place.room in rooms)
    batch = plan_cuts(takeoff.setout).batch(item.tile, item.size or (0.0, 0.0))
    if batch is None:
        return own
    cut = [tile for tile in batch.tiles if any(piece.key.room in rooms for piece in tile.pieces)]
    places = {(p.key.room, p.key.surface, p.place) for tile in batch.tiles for p in tile.pieces if p.key.room in rooms}
    return own - len(places) + len(cut) * (1 + batch.broken / max(len(batch.tiles), 1))
