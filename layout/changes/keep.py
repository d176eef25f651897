"""Keeps what is built: lines as snapped, joints as sealed, marks as issued, written into the plan of the new room."""

from __future__ import annotations

from dataclasses import replace
from itertools import chain
from typing import TYPE_CHECKING, Literal, TypeAlias

import numpy as np
import shapely

from layout.changes.lines import along_face
from layout.changes.match import motion_of, pairs_of, surface_pairs
from layout.errors import PlanError
from layout.plan.kept import KeptJoint, KeptLine, KeptMark
from layout.plan.patterns import quarter_onto
from layout.setout.marks import loose_pieces
from layout.shapes import parts_of, turned
from layout.start.faces import as_told
from layout.tiles.pieces import legs
from layout.vectors import pair

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from layout.changes.match import Motion
    from layout.errors import Point
    from layout.joints.lines import Bay
    from layout.plan.values import Plan, Room, Tile
    from layout.setout.values import RoomSetOut, SetOut, SurfaceSetOut
    from layout.vectors import Floats

Keep: TypeAlias = Literal["lines", "joints", "marks"]
KEEP: tuple[Keep, ...] = ("lines", "joints", "marks")
"""What can be kept."""
COARSE = 1.0
"""Outlines of bays are kept with so little detail: they only tell bays apart, mm."""


def keep_built(before: SetOut, after: SetOut, what: Sequence[Keep]) -> Plan:
    """The plan of `after` with what is built of `before`, as keys of the plan.

    `lines`: the start and direction of every bay, and the joints between bays, since a bay is what lies between them. `joints`:
    the movement joints of the floors; tiles start anew between them. `marks`: every mark that was ever issued. Rooms that came have
    nothing to keep; surfaces laid with another tile now start anew, a floor excepted.

    Raises
    ------
    PlanError
        If a floor's tile is of another size or pattern now, or a line or joint misses the new floor.
    """
    plan = after.plan
    rooms = list(plan.rooms)
    for a, b in pairs_of(before.rooms, after.rooms):
        if a is None or b is None or not {"lines", "joints"} & set(what):
            continue
        old, new = before.rooms[a], after.rooms[b]
        motion = motion_of(old, new)
        rooms[b] = replace(rooms[b], kept_joints=tuple(_joints(old, new, motion, plan)))
        if "lines" in what:
            rooms[b] = replace(rooms[b], kept_lines=tuple(_lines(old, new, motion, plan)))
    return replace(plan, rooms=tuple(rooms), kept_marks=issued(before) if "marks" in what else plan.kept_marks)


def keep_lines(before: SetOut, after: SetOut) -> Plan:
    """The plan of `after` with the lines of `before`: `keep_built` of lines alone."""
    return keep_built(before, after, ("lines",))


def _place(plan: Plan, room: Room) -> str:
    return f"{plan.source}: room {room.name!r}"


def _lines(before: RoomSetOut, after: RoomSetOut, motion: Motion, plan: Plan) -> Iterator[KeptLine]:
    """The lattice of every bay of every surface that is still there and of the same tile."""
    place = _place(plan, after.lining.room)
    for old, new in surface_pairs(before, after, motion):
        if old is None or new is None or old.surface.kind == "border":
            continue
        if not _same_tile(old.tile, new.tile):
            if old.surface.kind != "floor":
                continue
            found = f"the floor's tile was {_tile(old.tile)} and is {_tile(new.tile)}"
            raise PlanError(place, found, "lines can be kept for the same tile, joint and pattern only")
        if old.surface.kind == "floor":
            _lie_in_room(old, new, motion, place)
        flat = old.surface.placing.line is None
        yield from _flat(old, new, motion, place) if flat else _upright(old, new, motion)


def _same_tile(one: Tile, other: Tile) -> bool:
    return (one.size, one.joint, one.pattern, one.offset) == (other.size, other.joint, other.pattern, other.offset)


def _tile(tile: Tile) -> str:
    return f"{tile.size[0]:g} × {tile.size[1]:g}, joint {tile.joint:g}, {tile.pattern}"


def _lie_in_room(old: SurfaceSetOut, new: SurfaceSetOut, motion: Motion, place: str) -> None:
    for line in old.start.lines:
        ends = motion.moved(np.array([line.start, line.end]))
        if not shapely.intersects(new.surface.field, shapely.LineString(ends)):
            raise PlanError(place, f"the line {line.name} lies outside the new floor", "snap this room anew: leave lines out of --keep")


def _flat(old: SurfaceSetOut, new: SurfaceSetOut, motion: Motion, place: str) -> Iterator[KeptLine]:
    whole = old.turn + motion.turn
    direction = old.turn if motion.turn == 0.0 else as_told(round(whole, 9), new.tile, new.field.pattern)
    shift = np.zeros(2)
    quarters = round((whole - direction) / 90.0)
    if quarters % 4:
        found = quarter_onto(old.field.pattern, quarters % 4)
        if found is None:
            words = f"{new.surface.name} is turned, and its tiles do not lie on themselves when turned so"
            raise PlanError(place, words, "draw the room as it was, or leave lines out of --keep")
        shift = turned(found[None], direction)[0]
    for bay, origin in zip(old.bays, old.field.origins, strict=True):
        at = motion.moved(origin[None])[0] + shift
        ring = tuple(pair(np.round(point, 1) + 0.0) for point in motion.moved(_ring(bay)))
        yield KeptLine(on=new.surface.name, at=pair(np.round(at, 3) + 0.0), direction=direction, bay=ring)


def _ring(bay: Bay) -> Floats:
    """Corners of a bay, in the large."""
    part = max(parts_of(bay.between_joints), key=shapely.area)
    coarse = shapely.simplify(shapely.Polygon(part.exterior), COARSE)
    result: Floats = shapely.get_coordinates(coarse)[:-1]
    return result


def _upright(old: SurfaceSetOut, new: SurfaceSetOut, motion: Motion) -> Iterator[KeptLine]:
    """Bays of an upright face, moved along it by what its left-hand end moved."""
    place = along_face(old, new, motion)
    for bay, origin in zip(old.bays, old.field.origins, strict=True):
        ring: tuple[Point, ...] = ()
        if len(old.bays) > 1:
            ring = tuple(pair(np.round(point, 1) + 0.0) for point in place(_ring(bay)))
        yield KeptLine(on=new.surface.name, at=pair(np.round(place(origin[None])[0], 3) + 0.0), bay=ring)


def _joints(before: RoomSetOut, after: RoomSetOut, motion: Motion, plan: Plan) -> Iterator[KeptJoint]:
    """The movement joints of the floor, less those of the structure, which the plan gives."""
    region = after.lining.floor.divided_region
    for joint in before.joints:
        if joint.surface.kind != "floor" or joint.kind != "intermediate":
            continue
        ends = motion.moved(joint.line[[0, -1]])
        if not shapely.intersects(region, shapely.LineString(ends)):
            found = f"the joint from {ends[0][0]:.0f}, {ends[0][1]:.0f} to {ends[1][0]:.0f}, {ends[1][1]:.0f} lies outside the new floor"
            raise PlanError(_place(plan, after.lining.room), found, "divide this room anew: leave lines and joints out of --keep")
        one, two = (pair(np.round(end, 3) + 0.0) for end in ends)
        yield KeptJoint(line=(one, two), width=joint.width)


def issued(setout: SetOut) -> dict[str, KeptMark]:
    """Every mark that was issued up to a set-out, those of pieces that are gone among them."""
    runs: dict[str, list[Point]] = {cut.mark: [] for cut in setout.cuts if cut.start is not None}
    if runs:
        pieces = [loose_pieces(done, r, s) for r, room in enumerate(setout.rooms) for s, done in enumerate(room.surfaces)]
        for each in chain.from_iterable(pieces):
            mark = setout.marks[each.key]
            if mark in runs:
                runs[mark].append(legs(each.polygon))
    found = {
        cut.mark: KeptMark(
            tile=cut.tile,
            shape=cut.shape,
            outline=_points(cut.outline),
            holes=tuple(_points(hole) for hole in cut.holes),
            run=_points(np.array(runs[cut.mark])) if cut.mark in runs else (),
            wall=cut.wall if cut.mark in runs else "",
        )
        for cut in setout.cuts
    }
    return {**found, **setout.plan.kept_marks}


def _points(points: Floats) -> tuple[Point, ...]:
    return tuple(pair(point) for point in np.round(points, 3) + 0.0)
