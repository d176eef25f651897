"""A door that two rooms share has one threshold joint and one threshold tape: they are measured with the earlier room."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, TypeVar

import numpy as np
import shapely

from layout.errors import Finding
from layout.joints.schedule import joint_types
from layout.room.doors import line_of, shared_doors
from layout.setout.values import SharedDoor
from layout.words import worded

if TYPE_CHECKING:
    from collections.abc import Sequence

    from layout.joints.lines import MovementJoint
    from layout.plan.values import Plan
    from layout.room.outlines import OpeningAt
    from layout.setout.values import RoomSetOut
    from layout.tanking.tape import TapeRun
    from layout.vectors import Floats

    Listed = TypeVar("Listed", MovementJoint, TapeRun)

BESIDE = 50.0
"""How far from a door's line, beyond build-up and reveal, its threshold joint and tape may lie, mm."""


def counted_once(plan: Plan, rooms: Sequence[RoomSetOut]) -> tuple[RoomSetOut, ...]:
    """Rooms without the threshold joints and tapes that are measured with an earlier room, and what was left to that."""
    pairs = shared_doors([room.lining.room for room in rooms], [room.lining.outline for room in rooms])
    result = list(rooms)
    for (r, k), (other, place) in sorted(pairs.items()):
        result[r] = _left_to(plan, result[r], k, result[other], place)
    return tuple(result)


def _left_to(plan: Plan, room: RoomSetOut, index: int, other: RoomSetOut, place: int) -> RoomSetOut:
    """One room without the threshold of a door that is measured with another room."""
    here, there = _door(room, index), _door(other, place)
    if here is None or there is None:
        return room
    joints = _at(room, here, [joint for joint in room.joints if joint.kind == "threshold" and joint.surface.kind == "floor"])
    runs = _at(room, here, [run for run in room.tape.runs if run.kind == "threshold"])
    if not _at(other, there, [joint for joint in other.joints if joint.kind == "threshold" and joint.surface.kind == "floor"]):
        joints = []  # the earlier room has none there: this one keeps its own
    if not _at(other, there, [run for run in other.tape.runs if run.kind == "threshold"]):
        runs = []
    if not joints and not runs:
        return room
    shared = SharedDoor(
        here.opening.name, other.name, there.opening.name, math.fsum(each.length for each in joints), math.fsum(run.length for run in runs)
    )
    text = worded(
        '{door} is the door "{other}" of "{room}": its threshold joint and tape are measured there, once',
        door=shared.door,
        other=shared.other,
        room=shared.room,
    )
    kept = tuple(joint for joint in room.joints if not any(joint is each for each in joints))
    longest = {done.surface.id: max(bay.longest for bay in done.bays) for done in room.surfaces}
    return replace(
        room,
        joints=kept,
        tape=replace(room.tape, runs=tuple(run for run in room.tape.runs if not any(run is each for each in runs))),
        joint_types=tuple(joint_types(kept, longest, plan.rules.sealant)),
        shared=(*room.shared, shared),
        findings=(*room.findings, Finding(code="door-shared", text=text)),
    )


def _door(room: RoomSetOut, index: int) -> OpeningAt | None:
    return next((door for door in room.lining.outline.openings if door.index == index and door.door), None)


def _at(room: RoomSetOut, door: OpeningAt, listed: Sequence[Listed]) -> list[Listed]:
    """Joints or runs that lie along a door, in its reveal or at its line."""
    line = shapely.LineString(line_of(room.lining.outline, door))
    near = line.buffer(door.reach + room.lining.outline.walls[door.wall].build_up + BESIDE, cap_style="flat")
    return [each for each in listed if near.covers(shapely.Point(_middle(each.line)))]


def _middle(line: Floats) -> Floats:
    result: Floats = np.asarray(line[:, :2].min(axis=0) + line[:, :2].max(axis=0)) / 2
    return result
