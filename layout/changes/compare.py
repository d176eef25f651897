"""Compares two set-outs: rooms, lines to snap, cuts, joints, tape, quantities, orders, findings.

A line is held against the old one where it was snapped: square to itself, in the new room. Quantities are compared to
what a person would write, so float noise is no change.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import fields
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from layout.changes.match import Motion, motion_of, pairs_of, wall_pairs
from layout.changes.values import Changes, CutChange, Difference, LineMove, OrderChange, RoomChange
from layout.quantities.orders import place_orders
from layout.quantities.takeoff import take_off
from layout.shapes import turned
from layout.vectors import cross, unit

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    from layout.errors import Point
    from layout.quantities.bill import Rates
    from layout.quantities.orders import Order
    from layout.quantities.values import TakeOff
    from layout.setout.values import RoomSetOut, SetOut, SurfaceSetOut

    Floats = NDArray[np.float64]

SAME = 0.05
"""Lengths that differ by less are the same, mm."""
THINGS = ("openings", "drains", "plinths", "columns", "pipes", "fixings", "structural_joints", "day_joints", "falls")
"""Lists of a room whose entries are known by name."""


def compare_setouts(before: SetOut, after: SetOut, *, rates: Rates | None = None) -> Changes:
    """What differs between two set-outs, and what it costs if rates are given."""
    rooms = []
    for a, b in pairs_of(before.rooms, after.rooms):
        change = _room(None if a is None else before.rooms[a], None if b is None else after.rooms[b])
        if change.changed:
            rooms.append(change)
    return Changes(
        rooms=tuple(rooms),
        cuts=tuple(_cuts(before, after)),
        orders=tuple(_orders(take_off(before), take_off(after), rates)),
        currency=rates.currency if rates else "",
    )


def _room(before: RoomSetOut | None, after: RoomSetOut | None) -> RoomChange:
    if before is None or after is None:
        name = after.name if after else ""
        was = before.name if before else ""
        return RoomChange(name=name, was=was, moved="", shape=(), lines=(), works=(), came=(), went=())
    motion = motion_of(before, after)
    came, went = _findings(before, after)
    return RoomChange(
        name=after.name,
        was=before.name,
        moved=motion.words(),
        shape=(*_walls(before, after, motion), *_heights(before, after), *_things(before, after, motion)),
        lines=tuple(_lines(before, after, motion)),
        works=tuple(_works(before, after)),
        came=tuple(came),
        went=tuple(went),
    )


def _walls(before: RoomSetOut, after: RoomSetOut, motion: Motion) -> Iterable[Difference]:
    """Walls that are longer, shorter, elsewhere, gone or new."""
    one, two = before.lining.outline.walls, after.lining.outline.walls
    for a, b in wall_pairs(before, after, motion):
        if a is None or b is None:
            yield Difference(what=two[b].name if b is not None else one[a or 0].name, before="" if a is None else f"{one[a].run.length:.0f} long",
                             after="" if b is None else f"{two[b].run.length:.0f} long")  # fmt: skip
            continue
        old, new = one[a], two[b]
        name = new.name if new.name == old.name else f"{new.name}, was {old.name}"
        if abs(old.run.length - new.run.length) >= SAME:
            yield Difference(what=f"length of {name}", before=f"{old.run.length:.1f}", after=f"{new.run.length:.1f}")
        off = _apart(motion.moved(np.array([old.run.points[0], old.run.points[-1]])), np.array([new.run.points[0], new.run.points[-1]]))
        if max(abs(off[0]), abs(off[1])) >= SAME:
            ends = f"{off[0]:+.1f}" if abs(off[0] - off[1]) < SAME else f"{off[0]:+.1f} and {off[1]:+.1f} at its ends"
            yield Difference(
                what=f"line of {name}", before="as drawn", after=f"{ends} into the room" if off.sum() > 0 else f"{ends} out of the room"
            )


def _apart(old: Floats, new: Floats) -> Floats:
    """How far the ends of a new wall stand off the line of the old one, to its left, (2,) mm: positive into the room."""
    way = (old[1] - old[0]) / max(float(np.hypot(*(old[1] - old[0]))), 1e-9)
    result: Floats = way[0] * (new - old[0])[:, 1] - way[1] * (new - old[0])[:, 0]
    return result


def _heights(before: RoomSetOut, after: RoomSetOut) -> Iterable[Difference]:
    for key, words in (("tanking_height", "tanking height"), ("tile_height", "tile height"), ("height", "height of the room")):
        old, new = getattr(before.lining.room, key), getattr(after.lining.room, key)
        if old != new:
            yield Difference(what=words, before=_said(old), after=_said(new))


def _things(before: RoomSetOut, after: RoomSetOut, motion: Motion) -> Iterable[Difference]:
    """Openings, drains, solids, pipes and joints that differ, by name."""
    for kind in THINGS:
        old = {each.name: each for each in getattr(before.lining.room, kind)}
        new = {each.name: each for each in getattr(after.lining.room, kind)}
        for name in dict.fromkeys([*new, *old]):
            if name not in old or name not in new:
                yield Difference(what=name, before="there" if name in old else "", after="there" if name in new else "")
                continue
            for field in fields(new[name]):
                was, now = getattr(old[name], field.name), getattr(new[name], field.name)
                if not _alike(was, now, field.name, motion):
                    yield Difference(what=f"{name}: {field.name.replace('_', ' ')}", before=_said(was), after=_said(now))


_PLACES = ("at", "middle", "begin", "end", "line", "outline", "region")


def _alike(was: Any, now: Any, key: str, motion: Motion) -> bool:  # noqa: ANN401  # fields of the plan are of many types
    if was == now:
        return True
    if key in ("turn", "angle") and isinstance(was, float) and isinstance(now, float):
        return abs(math.remainder(now - was - motion.turn, 90.0)) < 1e-6
    if key in _PLACES and was and now:
        one, two = _points(was), _points(now)
        return one.shape == two.shape and float(np.abs(motion.moved(one) - two).max()) < SAME
    return False


def _points(value: Any) -> Floats:  # noqa: ANN401
    """Points of a place, a line or an outline of the plan, (n, 2)."""
    if hasattr(value[0], "x"):
        return np.array([[each.x, each.y] for each in value])
    return np.array(value, dtype=float).reshape(-1, 2)


def _said(value: Any) -> str:  # noqa: ANN401
    """A value of the plan as a person writes it."""
    if value is None or value == "":
        return "not given"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:g}"
    if isinstance(value, tuple):
        return ", ".join(f"{each.x:g} {each.y:g}" if hasattr(each, "x") else _said(each) for each in value)
    return str(value)


def _lines(before: RoomSetOut, after: RoomSetOut, motion: Motion) -> Iterable[LineMove]:
    """Start lines of the floor along which no tile edge of the new floor runs where it did.

    Tiles of the new bay that lies most in a line's old one are held against the old ones, whole tiles apart being the same.
    """
    floor, new = before.floor, after.floor
    for line in floor.start.lines:
        ends = motion.moved(np.array([line.start, line.end]))
        way = unit(ends[1] - ends[0])
        old = shapely.transform(floor.bays[line.bay].region, motion.moved)
        bay = int(np.argmax([shapely.area(shapely.intersection(old, each.region)) for each in new.bays]))
        turn = math.remainder(new.turn - floor.turn - motion.turn, 90.0 if new.tile.size[0] == new.tile.size[1] else 180.0)
        off = _middle(new, bay) - motion.moved(_middle(floor, line.bay)[None])[0]
        steps = turned(new.field.pattern.vectors, new.turn)
        off = off - np.round(off @ np.linalg.inv(steps)) @ steps
        moved = float(cross(way, off))
        if abs(moved) < SAME and abs(turn) < 1e-3:
            continue
        was = line.offsets[0] if line.offsets else None
        found = [o.bare for each in new.start.lines for o in each.offsets if was and o.wall == was.wall]
        yield LineMove(
            surface=floor.surface.name,
            name=line.name,
            moved=moved,
            turned=turn,
            wall=was.wall if was else 0,
            before=was.bare if was else math.nan,
            after=min(found, key=lambda bare: abs(bare - was.bare)) if was and found else math.nan,
        )


def _middle(floor: SurfaceSetOut, bay: int) -> Floats:
    """Middle of the first tile of a bay: the same from whichever side a room is read."""
    result: Floats = floor.field.origins[bay] + turned(floor.field.pattern.members[0].mean(axis=0)[None], floor.turn)[0]
    return result


def _works(before: RoomSetOut, after: RoomSetOut) -> Iterable[Difference]:
    """Joints, tape, corner pieces and collars of a room, where their sums differ."""
    sums: list[dict[tuple[str, str], float]] = []
    for room in (before, after):
        own: dict[tuple[str, str], float] = {}
        for joint in room.joints:
            own["m", f"{joint.kind} joints"] = own.get(("m", f"{joint.kind} joints"), 0.0) + joint.length / 1000.0
        for run in room.tape.runs:
            own["m", f"tape, {run.kind}"] = own.get(("m", f"tape, {run.kind}"), 0.0) + run.length / 1000.0
        for kind, words in (
            ("internal", "internal corner pieces"),
            ("external", "external corner pieces"),
            ("made", "corners made from tape"),
        ):
            own["", words] = float(room.tape.count(kind))
        own["", "collars"] = float(len(room.tape.collars))
        own["", "bays of the floor"] = float(len(room.floor.bays))
        own["mm", "narrowest cut of the floor"] = room.floor.start.smallest
        sums.append(own)
    old, new = sums
    for key in dict.fromkeys([*new, *old]):
        unit, words = key
        was, now = old.get(key, 0.0), new.get(key, 0.0)
        if abs(was - now) >= {"m": 0.005, "mm": SAME}.get(unit, 0.5):
            form = "{:.2f} m" if unit == "m" else "{:.0f} mm" if unit == "mm" else "{:.0f}"
            yield Difference(what=words, before=form.format(was), after=form.format(now))


def _findings(before: RoomSetOut, after: RoomSetOut) -> tuple[list[str], list[str]]:
    """Findings that came and that went: told apart by code and surface, in their own words."""
    old, new = ([(f.code, f.where, f.text) for f in room.findings] for room in (before, after))
    had, has = (Counter((code, where) for code, where, _ in each) for each in (old, new))
    came = [text for code, where, text in new if has[code, where] > had[code, where]]
    went = [text for code, where, text in old if had[code, where] > has[code, where]]
    return came, went


def _cuts(before: SetOut, after: SetOut) -> Iterable[CutChange]:
    """Sizes of cut tiles whose number differs, largest difference first."""
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
        if was != now:
            changes.append(CutChange(tile=key[0], size=key[1], shape=key[2], before=was, after=now, marks_before=marks, marks_after=others))
    return sorted(changes, key=lambda c: (-abs(c.after - c.before), c.tile, c.size))


def _orders(before: TakeOff, after: TakeOff, rates: Rates | None) -> Iterable[OrderChange]:
    """Items whose quantity or order differs."""
    packs: list[dict[str, Order]] = [{order.item.key: order for order in place_orders(each)} for each in (before, after)]
    keys = dict.fromkeys(item.key for each in (after, before) for item in each.items)
    for key in keys:
        was, now = before.item(key), after.item(key)
        item = now or was
        assert item is not None
        old, new = was.quantity if was else 0.0, now.quantity if now else 0.0
        bought = [each[key].packs if key in each else None for each in packs]
        same = abs(old - new) < (0.5 if item.unit == "pcs" else 0.005)
        if same and bought[0] == bought[1]:
            continue
        rate = rates.rates.get(key) if rates else None
        yield OrderChange(
            key=key,
            name=item.name,
            unit=item.unit,
            before=old,
            after=new,
            packs_before=bought[0],
            packs_after=bought[1],
            money=None if rate is None else round((new - old) * rate.amount, 2),
        )
