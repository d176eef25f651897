"""Compares two set-outs: what governs them, rooms, lines to snap, surfaces, cuts, joints, tape, quantities, orders, findings.

A line is held against the old one where it was snapped: square to itself, in the new room. Quantities are compared to
what a person would write, so float noise is no change.
"""

from __future__ import annotations

from dataclasses import fields
from typing import TYPE_CHECKING

from layout.changes.lines import line_moves
from layout.changes.match import motion_of, pairs_of, surface_pairs, wall_pairs
from layout.changes.shape import height_changes, outline_changes, said, thing_changes
from layout.changes.values import Changes, CutChange, Difference, OrderChange, RoomChange, figure_of
from layout.changes.works import findings_changed, joints_moved, marks_by_surface, sizes_of, sums_changed, surface_changes
from layout.quantities.bill import price
from layout.quantities.orders import place_orders
from layout.quantities.takeoff import take_off

if TYPE_CHECKING:
    from collections import Counter
    from collections.abc import Callable, Hashable, Iterable, Iterator

    from layout.errors import Point
    from layout.plan.values import Plan
    from layout.quantities.bill import Bill, Rates
    from layout.quantities.orders import Order
    from layout.quantities.values import TakeOff
    from layout.setout.values import RoomSetOut, SetOut
    from layout.vectors import Floats


def compare_setouts(before: SetOut, after: SetOut, *, rates: Rates | None = None) -> Changes:
    """What differs between two set-outs, and what it costs if rates are given."""
    rooms = []
    marks = [marks_by_surface(setout) for setout in (before, after)]
    sizes = (sizes_of(before), sizes_of(after))
    for a, b in pairs_of(before.rooms, after.rooms):
        own = [{surface: found for (room, surface), found in each.items() if room == k} for each, k in zip(marks, (a, b), strict=True)]
        change = _room(None if a is None else before.rooms[a], None if b is None else after.rooms[b], (own[0], own[1]), sizes)
        if change.changed:
            rooms.append(change)
    bills = [(takeoff, price(takeoff, rates) if rates else None) for takeoff in (take_off(before), take_off(after))]
    (one, old), (other, new) = bills
    return Changes(
        rooms=tuple(rooms),
        cuts=tuple(_cuts(before, after)),
        orders=tuple(_orders(one, other, old, new)),
        currency=rates.currency if rates else "",
        plan=tuple(_governing(before.plan, after.plan)),
        total=round(new.total - old.total, 2) if old and new else None,
    )


def lies_in(before: RoomSetOut, after: RoomSetOut) -> Callable[[Floats], Floats]:
    """How places of an old room lie in the new plan: points (n, 2) to points, mm."""
    return motion_of(before, after).moved


def _governing(before: Plan, after: Plan) -> Iterator[Difference]:
    """Tiles, rules and figures of products that differ: what governs the set-out of every room."""
    for name in dict.fromkeys([*after.tiles, *before.tiles]):
        if name not in before.tiles or name not in after.tiles:
            there = "there" if name in before.tiles else "", "there" if name in after.tiles else ""
            yield Difference(what=f"tile {name}", before=there[0], after=there[1], kind="tile", aspect="there")
            continue
        yield from _unlike(before.tiles[name], after.tiles[name], f"tile {name}", "tile")
    yield from _unlike(before.rules, after.rules, "rules", "rule")
    yield from _unlike(before.products, after.products, "products", "product")


def _unlike(one: object, other: object, name: str, kind: str) -> Iterator[Difference]:
    for each in fields(other):  # type: ignore[arg-type]  # declared tables of the plan
        was, now = getattr(one, each.name), getattr(other, each.name)
        if was != now:
            texts = [said(getattr(value, "value", getattr(value, "name", value))) for value in (was, now)]
            yield figure_of(name, each.name.replace("_", " "), texts[0], texts[1], kind)


def _room(
    before: RoomSetOut | None,
    after: RoomSetOut | None,
    marks: tuple[dict[int, Counter[str]], dict[int, Counter[str]]],
    sizes: tuple[dict[str, Hashable], dict[str, Hashable]],
) -> RoomChange:
    if before is None or after is None:
        name = after.name if after else ""
        was = before.name if before else ""
        return RoomChange(name=name, was=was, moved="", shape=(), lines=(), works=(), came=(), went=())
    motion = motion_of(before, after)
    came, went = findings_changed(before, after)
    walls = wall_pairs(before, after, motion)
    one, two = before.lining.outline.walls, after.lining.outline.walls
    numbers = {one[a].run.number: two[b].run.number for a, b in walls if a is not None and b is not None}
    surfaces = surface_pairs(before, after, motion)
    return RoomChange(
        name=after.name,
        was=before.name,
        moved=motion.words(),
        shape=(
            *outline_changes(before, after, motion, walls),
            *height_changes(before, after),
            *thing_changes(before, after, motion, walls),
        ),
        lines=tuple(move for old, new in surfaces if old and new for move in line_moves(old, new, motion, numbers)),
        works=(*sums_changed(before, after), *joints_moved(before, after, motion)),
        came=tuple(came),
        went=tuple(went),
        surfaces=tuple(surface_changes(surfaces, (before, after), marks, sizes)),
    )


def _cuts(before: SetOut, after: SetOut) -> Iterable[CutChange]:
    """Sizes of cut tiles whose number or marks differ, largest difference first."""
    found: list[dict[tuple[str, Point, str], tuple[int, tuple[str, ...]]]] = []
    for setout in (before, after):
        own: dict[tuple[str, Point, str], tuple[int, tuple[str, ...]]] = {}
        for cut in setout.cuts:
            low, high = sorted(cut.size)
            key: tuple[str, Point, str] = (cut.tile, (low, high), cut.shape)
            count, marks = own.get(key, (0, ()))
            own[key] = (count + cut.count, (*marks, cut.mark))
        found.append(own)
    old, new = found
    changes = []
    for key in dict.fromkeys([*new, *old]):
        (was, marks), (now, others) = old.get(key, (0, ())), new.get(key, (0, ()))
        if was != now or marks != others:
            changes.append(CutChange(tile=key[0], size=key[1], shape=key[2], before=was, after=now, marks_before=marks, marks_after=others))
    return sorted(changes, key=lambda c: (-abs(c.after - c.before), c.tile, c.size))


def _orders(before: TakeOff, after: TakeOff, old_bill: Bill | None, new_bill: Bill | None) -> Iterable[OrderChange]:
    """Items whose quantity or order differs, and what each costs more, as the bill prices it."""
    packs: list[dict[str, Order]] = [{order.item.key: order for order in place_orders(each)} for each in (before, after)]
    sums = [_by_item(bill) if bill else {} for bill in (old_bill, new_bill)]
    keys = dict.fromkeys(item.key for each in (after, before) for item in each.items)
    for key in keys:
        was, now = before.item(key), after.item(key)
        item = now or was
        assert item is not None
        old, new = was.quantity if was else 0.0, now.quantity if now else 0.0
        bought = [each[key].packs if key in each else None for each in packs]
        same = abs(old - new) < (0.5 if item.unit == "pcs" else 0.005)
        priced = key in sums[0] or key in sums[1]
        money = round(sums[1].get(key, 0.0) - sums[0].get(key, 0.0), 2) if priced else None
        if same and bought[0] == bought[1] and not money:
            continue
        yield OrderChange(
            key=key,
            name=item.name,
            unit=item.unit,
            before=old,
            after=new,
            packs_before=bought[0],
            packs_after=bought[1],
            money=money,
        )


def _by_item(bill: Bill) -> dict[str, float]:
    """Amounts by item."""
    own: dict[str, float] = {}
    for line in bill.lines:
        own[line.item.key] = own.get(line.item.key, 0.0) + line.amount
    return own
