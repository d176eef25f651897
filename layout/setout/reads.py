"""What a stage of setting out reads, and no more: a plan cut down to one room, a lining cut down to what an upright surface sees.

What stands elsewhere cannot touch it then, so a stage that reads the same is not run again (`layout.memo`). A stage that came to
read more would find empty rooms and no surfaces, with or without what is kept.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from layout.budgets import BUDGETS
from layout.joints.given import meeting
from layout.lining.build import Lining
from layout.plan.values import Project, Room
from layout.plan.works import Works
from layout.room.outlines import Outline
from layout.room.rings import Ring
from layout.room.shell import Shell
from layout.setout.surface import Before

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from layout.identity import SurfaceId
    from layout.joints.lines import MovementJoint
    from layout.plan.values import Plan
    from layout.setout.values import RoomSetOut
    from layout.start.faces import Faces
    from layout.start.pulls import Carried

EMPTY = Room(outline=())
NOWHERE = Outline(EMPTY, (), (), (), (), Ring(), (), (), ())
NO_SHELL = Shell((), (), (), (), {}, {}, {})


def plan_of_room(plan: Plan, index: int) -> Plan:
    """The plan as one room's set-out reads it: rules, tiles and products of all, that room at its place, no other."""
    places = (*("",) * index, plan.places[index]) if plan.places else ()
    rooms = (*(EMPTY,) * index, plan.rooms[index])
    return replace(
        plan, project=Project(), rooms=rooms, budgets=BUDGETS, deliveries=(), places=places, kept_marks={}, place=(), works=Works()
    )


def carried_to(room: Room, earlier: Mapping[SurfaceId, Carried]) -> dict[SurfaceId, Carried]:
    """Of the floors laid before a room those that it carries joints on from."""
    wanted = {pull.room for pull in room.pulls if pull.want == "carry"}
    return {floor: carried for floor, carried in earlier.items() if carried.name in wanted}


def in_plan(done: RoomSetOut, plan: Plan, index: int) -> RoomSetOut:
    """A room that was set out by itself, in its whole plan."""
    membrane = replace(done.membrane, lining=_lined(done.membrane.lining, plan, index))
    return replace(done, lining=_lined(done.lining, plan, index), membrane=membrane)


def _lined(lining: Lining, plan: Plan, index: int) -> Lining:
    rooms = tuple(lining.room if k == index else each for k, each in enumerate(plan.rooms))
    return replace(lining, plan=replace(plan, rooms=rooms))


def lining_of_uprights(lining: Lining, index: int) -> Lining:
    """Of a lining what the upright surfaces of its room read each by itself: rules, products, lines that are kept."""
    room = replace(EMPTY, name=lining.room.name, kept_lines=lining.room.kept_lines)
    plan = replace(lining.plan, tiles={}, rooms=(*(EMPTY,) * index, room))
    return Lining(plan, room, replace(NOWHERE, room=room), NO_SHELL, ())


def before_upright(faces: Faces, joints: Sequence[MovementJoint], given: tuple[float | None, float | None]) -> Before:
    """What is known before an upright surface is set out: the floor's joints that meet it, and the start that is given."""
    return Before({}, meeting(faces.lining, faces.surface, joints, faces.frame), None, given)
