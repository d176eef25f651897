"""Keeps what is built: the lines that were snapped stay where they are, in the new room."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.changes.match import motion_of, pairs_of
from layout.errors import PlanError
from layout.vectors import pair

if TYPE_CHECKING:
    from layout.changes.match import Motion
    from layout.plan.values import Plan, Tile
    from layout.setout.values import RoomSetOut, SetOut


def keep_lines(before: SetOut, after: SetOut) -> Plan:
    """The plan of `after` with each floor's start and direction where `before` has them.

    A room that came has no lines to keep. The first bay's lines are kept; bays beyond a joint follow from it, tile after joint,
    so a bay that had a start of its own may move: the comparison tells it.

    Raises
    ------
    PlanError
        If a floor's tile is of another size or pattern now, or a kept line misses the new floor.
    """
    plan = after.plan
    tiles, rooms = dict(plan.tiles), list(plan.rooms)
    for a, b in pairs_of(before.rooms, after.rooms):
        if a is None or b is None:
            continue
        key = f"{rooms[b].floor_tile} as snapped in room {b + 1}"
        tiles[key] = _kept(before.rooms[a], after.rooms[b], plan.source)
        rooms[b] = replace(rooms[b], floor_tile=key)
    return replace(plan, tiles=tiles, rooms=tuple(rooms))


def _kept(before: RoomSetOut, after: RoomSetOut, source: str) -> Tile:
    old, new = before.floor.tile, after.floor.tile
    place = f"{source}: room {after.name!r}"
    if (old.size, old.joint, old.pattern, old.offset) != (new.size, new.joint, new.pattern, new.offset):
        found = f"the floor's tile was {_tile(old)} and is {_tile(new)}"
        raise PlanError(place, found, "lines can be kept for the same tile, joint and pattern only")
    motion = motion_of(before, after)
    _lie_in_room(before, after, motion, place)
    origin = motion.moved(np.array([before.floor.start.origin]))[0]
    turn = new.turn + before.floor.turn + motion.turn - after.floor.turn
    return replace(new, start=pair(np.round(origin, 3)), start_line=None, turn=round((turn + 180.0) % 360.0 - 180.0, 6))


def _lie_in_room(before: RoomSetOut, after: RoomSetOut, motion: Motion, place: str) -> None:
    for line in before.floor.start.lines:
        ends = motion.moved(np.array([line.start, line.end]))
        if not shapely.intersects(after.floor.surface.field, shapely.LineString(ends)):
            raise PlanError(place, f"the line {line.name} lies outside the new floor", "snap this room anew: compare without --keep lines")


def _tile(tile: Tile) -> str:
    return f"{tile.size[0]:g} × {tile.size[1]:g}, joint {tile.joint:g}, {tile.pattern}"
