"""Whether a plan is of a size that a person can have meant, asked before anything is worked out from it."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING

from layout.budgets import over
from layout.errors import PlanError
from layout.fields import Many
from layout.keys import Form, rows_of
from layout.plan.values import Room
from layout.units import metres_meant

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from layout.budgets import Budgets
    from layout.plan.values import PlanFile, Vertex

MOST_TOLD = 3
"""Corners of one outline that are told; more say no more."""


def size_faults(typed: PlanFile, at: Callable[[str], str]) -> list[PlanError]:
    """Tiles, rooms, outlines and lists that are far out of what is built, with what may be the slip; `at` gives a table with its file."""
    budgets = typed.budgets
    faults = []
    for name, tile in (typed.tiles or {}).items():
        for k, side in enumerate(tile.size):
            if not budgets.tile_least <= side <= budgets.tile_most:
                bound = "tile_least" if side < budgets.tile_least else "tile_most"
                mend = f"give {budgets.tile_least:g} to {budgets.tile_most:g} mm; or set budgets.{bound}"
                faults.append(PlanError(at(f"tiles.{name}.size[{k}]"), f"{side:g} mm is no side of a tile", mend))
    if len(typed.rooms) > budgets.rooms:
        faults.append(over(at("rooms"), len(typed.rooms), "rooms", "rooms", "part the plan", budgets))
    for index, room in enumerate(typed.rooms):
        place = at(f"rooms[{index}]")
        faults += _outline_faults(f"{place}.outline", room.outline, budgets)
        faults += _metres(place, room)
        for name, row in rows_of(Room).items():
            if isinstance(row.key.check, Many) and isinstance(row.key.check.part, Form):
                things: Sequence[object] = getattr(room, row.attribute)
                if len(things) > budgets.things:
                    faults.append(over(f"{place}.{name}", len(things), "of one kind", "things", "part the room", budgets))
        for kind, solids in (("plinths", room.plinths), ("columns", room.columns)):
            for k, solid in enumerate(solids):
                faults += _outline_faults(f"{place}.{kind}[{k}].outline", solid.outline, budgets)
    return faults


def _metres(place: str, room: Room) -> list[PlanError]:
    """Doors and heights that seem to have been typed in metres."""
    longest = max((math.dist(a.to, b.to) for a, b in pairwise(room.outline)), default=0.0)
    corners = list(zip(*(vertex.to for vertex in room.outline), strict=True))
    across = max((max(places) - min(places) for places in corners), default=0.0)
    if metres_meant(longest) and metres_meant(across):  # many short sides may run round a large room
        return [PlanError(f"{place}.outline", f"its longest side is {longest:g} mm", metres_meant(longest))]
    given = [(f"openings[{k}].{key}", getattr(each, key)) for k, each in enumerate(room.openings) for key in ("width", "head")]
    given += [(key, getattr(room, key)) for key in ("tanking_height", "tile_height", "height")]
    low = [(key, value) for key, value in given if value is not None and metres_meant(value) and value != int(value)]
    return [PlanError(f"{place}.{key}", f"{value:g} mm", metres_meant(value)) for key, value in low]


def _outline_faults(place: str, outline: Sequence[Vertex], budgets: Budgets) -> list[PlanError]:
    """A corner far from both its neighbours, or a side that is far too long."""
    count = len(outline)
    if count > budgets.corners:
        return [over(place, count, "corners", "corners", "leave out corners on straight walls", budgets)]
    sides = [math.dist(outline[k].to, outline[(k + 1) % count].to) for k in range(count)]
    long = [side > budgets.side for side in sides]
    mend = f"is there a zero too many, or another unit? A side may be {budgets.side / 1000:,g} m; or raise budgets.side"
    faults = []
    told: set[int] = set()
    for k in range(count):
        if long[k - 1] and long[k]:
            near = min(sides[k - 1], sides[k]) / 1000.0
            told |= {(k - 1) % count, k}
            faults.append(PlanError(f"{place}[{k}]", f"corner {k + 1} is {near:,.0f} m from its neighbours", mend))
    for k in range(count):
        if long[k] and k not in told:
            faults.append(PlanError(f"{place}[{(k + 1) % count}]", f"side {k + 1} is {sides[k] / 1000.0:,.0f} m long", mend))
    across = [max(way) - min(way) for way in zip(*(vertex.to for vertex in outline), strict=True)]
    if not faults and (most := max(across, default=0.0)) > budgets.extent:
        found = f"it is {most / 1000.0:,.0f} m from one end to the other"
        faults.append(
            PlanError(place, found, f"a room may be {budgets.extent / 1000:,g} m over all: check its unit; or raise budgets.extent")
        )
    return faults[:MOST_TOLD]
