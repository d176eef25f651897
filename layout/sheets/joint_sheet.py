"""Sheet 4, movement joints and sealant: every joint in the field, the bays between them, the sections of sealant."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.joints.lines import CALLED
from layout.shapes import parts_of
from layout.sheets.by_lines import joint_place
from layout.sheets.draft import Draft, Job, in_plan, layers_of
from layout.sheets.lettering import text_width
from layout.sheets.room_view import block_line, block_solid, block_walls, entrance, name_things, name_walls
from layout.sheets.scene import Label, Primitive, Symbol, View, readable
from layout.sheets.spots import Spot, label_box, leader_spots
from layout.vectors import pair
from layout.words import say, worded

if TYPE_CHECKING:
    from collections.abc import Iterator

    from shapely.geometry.base import BaseGeometry

    from layout.joints.lines import MovementJoint
    from layout.setout.values import RoomSetOut
    from layout.sheets.column import Column
    from layout.sheets.place import Placer
    from layout.sheets.room_view import Base

ORDER = (
    worded("Rake joints clean to the bed while the adhesive is soft; keep grout out of every sealant joint."),
    worded("Set the backer rod before grouting, to the depth of the table; it keeps grout out and parts the sealant from the bottom."),
    worded(
        "After grout and cleaning: dry, mask both edges, prime if the sealant asks, gun from the bottom, tool once, take the mask off wet."
    ),
    worded("No traffic, no water until the sealant has cured through. Cutting out and renewing sealant is upkeep: inspect yearly."),
)


def field_joints(room: RoomSetOut) -> list[tuple[str, MovementJoint]]:
    """Joints in the field of the floor, named J1, J2 … from the lower left."""
    own = [joint for joint in room.joints if joint.surface.kind == "floor" and joint.kind in ("intermediate", "structural")]
    own.sort(key=lambda joint: (joint.kind != "structural", *np.round(joint.line.mean(axis=0)[::-1], 0).tolist()))
    return [(f"J{k}", joint) for k, joint in enumerate(own, 1)]


def drafts(job: Job) -> Iterator[Draft]:
    """The sheet of joints."""

    def draw(view: View, placer: Placer, column: Column) -> tuple[Primitive, ...]:
        drawn = scene(job.only.room, job.only.base, view, placer)
        words(job.only.room, column, layers_of(drawn))
        return drawn

    yield from in_plan(job, "joints", say("Movement joints and sealant"), draw, around=14.0)


def scene(room: RoomSetOut, base: Base, view: View, placer: Placer) -> tuple[Primitive, ...]:
    """The room scene of the joint sheet."""
    result: list[Primitive] = [*base.outline, *base.services, *base.joints]
    result += entrance(room, view, placer)
    for _, joint in field_joints(room):
        block_line(placer, view, joint.line, 0.8)
    name_things(room, view, placer)
    for ring in (*room.lining.outline.column_rings, *room.lining.outline.plinth_rings):
        block_solid(placer, view, ring.polygon())
    block_walls(placer, view, room)
    for name, joint in field_joints(room):
        _joint_label(name, joint, view, placer)
    _carried(room, view, placer, result)
    for number, bay in enumerate(room.floor.bays, 1):
        inside = view.to_paper(np.array(shapely.point_on_surface(bay.between_joints).coords))[0]
        middle = view.to_paper(np.array(bay.between_joints.centroid.coords))[0]
        spots = [
            Spot((float(at[0] + dx), float(at[1] + dy)))
            for at in (middle, inside)
            for dx, dy in ((0, 0), (0, 9), (0, -9), (14, 0), (-14, 0), (14, 9), (-14, 9), (14, -9), (-14, -9), (0, 18), (0, -18))
        ]
        text = say("bay {number} · {area:.2f} m²", number=number, area=bay.between_joints.area / 1e6)
        short = say("bay {number}", number=number)  # its area stands in the table
        widest = view.to_paper(
            shapely.get_coordinates(shapely.maximum_inscribed_circle(max(parts_of(bay.between_joints), key=lambda part: part.area), 20.0))[
                :1
            ]
        )[0]
        spots += [Spot(pair(at), text=short, angle=angle) for at in (widest, middle, inside) for angle in (0.0, 90.0)]
        spots += [Spot((float(widest[0]), float(widest[1]) + dy), text=short) for dy in (5.0, -5.0, 9.0, -9.0)]
        own = [spot for spot in spots if _stands_in(spot.text or text, spot, bay.between_joints, view)]
        placer.place(text, 3.5, "TEXT", own, boxed=True, bold=True, needed=True, foot=inside)
    name_walls(room, view, placer, out=9.0)
    return tuple(result)


def _stands_in(text: str, spot: Spot, bay: BaseGeometry, view: View) -> bool:
    """Whether a bay's label at the spot lies inside the bay: in another bay it would name that one."""
    low, high = np.array(label_box(Label(text, spot.at, 3.5, "TEXT", spot.across, spot.upward, spot.angle, bold=True))).reshape(2, 2)
    return bool(bay.covers(shapely.box(*view.to_room(low)[0], *view.to_room(high)[0])))


def _joint_label(name: str, joint: MovementJoint, view: View, placer: Placer) -> None:
    a, b = joint.line[0], joint.line[-1]
    way = (b - a) / max(float(np.hypot(*(b - a))), 1e-9)
    normal = np.array([-way[1], way[0]])
    angle = readable(math.degrees(math.atan2(way[1], way[0])))
    long = float(np.hypot(*(b - a))) / view.scale
    whole = say("{name} · {width:g} wide · {length:.2f} m", name=name, width=joint.width, length=joint.length / 1000)
    text = next(
        (
            each
            for each in (whole, say("{name} · {width:g} wide", name=name, width=joint.width))
            if text_width(each, 3.5, bold=True) < 0.8 * long
        ),
        name,
    )
    spots = []
    for part in (0.5, 0.35, 0.65, 0.2, 0.8):
        for side in (3.4, -3.4, 6.0, -6.0):
            at = view.to_paper(a + (b - a) * part)[0] + normal * side
            spots.append(Spot((float(at[0]), float(at[1])), angle=angle))
    foot = view.to_paper(((a + b) / 2)[None])[0]
    short = [replace(spot, text=name) for spot in spots]
    placer.place(
        text, 3.5, "MOVEMENT-JOINT", [*spots, *short, *leader_spots(foot, text=name)], boxed=True, bold=True, needed=True, foot=foot
    )


def _carried(room: RoomSetOut, view: View, placer: Placer, result: list[Primitive]) -> None:
    """Where a joint runs on up a face: a mark on the plan."""
    for surface in room.lining.surfaces:
        if surface.placing.line is None:
            continue
        for joint in room.joints:
            if joint.surface == surface.id and joint.kind in ("intermediate", "structural"):
                at = surface.placing.to_room(joint.line[:1])[0, :2]
                result.append(Symbol("upright", (float(at[0]), float(at[1])), 2.4, "MOVEMENT-JOINT"))
                paper = view.to_paper(at[None])[0]
                spots = [
                    Spot((float(paper[0] + dx), float(paper[1] + dy))) for dx, dy in ((9, 4), (-9, 4), (9, -4), (-9, -4), (0, 7), (0, -7))
                ]
                placer.place(say("up {length:.0f}", length=joint.length), 2.5, "MOVEMENT-JOINT", spots, boxed=True, needed=True, foot=paper)


def _bays_and_joints(room: RoomSetOut, column: Column) -> None:
    """Tables of the bays and of the joints in the field, where there are any."""
    if len(room.floor.bays) > 1:
        column.head(say("Bays"))
        rows = [[say("bay"), "m²", say("longest × shortest, m"), say("shape")]]
        for number, bay in enumerate(room.floor.bays, 1):
            sides = f"{bay.longest / 1000:.2f} × {bay.shortest / 1000:.2f}"
            rows.append([f"{number}", f"{bay.between_joints.area / 1e6:.2f}", sides, f"1 : {bay.aspect:.2f}"])
        column.rows((20, 34, 70, 50), rows, right=(1, 2, 3))
    named = field_joints(room)
    if named:
        column.head(say("Joints in the field"))
        rows = [["", say("why there"), say("centre line, by the start lines"), say("wide"), "m"]]
        for name, joint in named:
            why = joint.why or (say("joint of the structure") if joint.kind == "structural" else say("bay length"))
            rows.append([name, why, joint_place(room, joint.line), f"{joint.width:g}", f"{joint.length / 1000:.2f}"])
        column.rows((10, 46, 92, 13, 15), rows, right=(3, 4))


def words(room: RoomSetOut, column: Column, present: set[str]) -> None:
    """The column: sections of sealant, joints in the field, the rule, what was weighed, order of work."""
    rules = room.lining.plan.rules
    products = room.lining.plan.products
    column.head(say("Sealant joints, centre lines, each metre once"))
    pack = products.sealant_cartridge_ml.value / (1 + products.sealant_waste.value)
    rows = [[say("kind"), "m", say("wide"), say("deep"), say("rod"), say("needs"), say("m a cartridge")]]
    for each in room.joint_types:
        found = each.design
        rod = "" if each.kind == "pipe" else f"{found.rod:g}"
        needs = "" if found.needed is None else f"{found.needed:.1f}"
        rows.append(
            [
                CALLED[each.kind],
                f"{each.length / 1000:.1f}",
                f"{each.width:g}",
                f"{found.depth:g}",
                rod,
                needs,
                f"{pack / found.yields:.1f}",
            ]
        )
    rows.append([say("all"), f"{math.fsum(each.length for each in room.joint_types) / 1000:.1f}", "", "", "", "", ""])
    column.rows((36, 22, 20, 20, 20, 22, 34), rows, height=3.0, right=(1, 2, 3, 4, 5, 6))
    if rules.sealant.temperatures is not None and room.joint_types:
        widest = max(room.joint_types, key=lambda each: each.design.needed or 0.0)
        column.words(
            say(
                "Needs: the width that the movement asks for, most at the {kind} joint; worked out on the page Basis of this set.",
                kind=CALLED[widest.kind],
            )
        )
    else:
        column.words(say("Widths are the rule set's; give the sealant's temperatures in the plan to have them worked out from movement."))
    _bays_and_joints(room, column)
    column.head(say("Rule"))
    own = rules.movement
    limits = [say("{max_edge:g} m long", max_edge=round(own.max_edge / 1000, 3))]
    limits += [f"{own.max_area_m2:g} m²"] if own.max_area_m2 is not None else []
    limits += [say("{max_aspect:g} times as long as wide", max_aspect=own.max_aspect)] if own.max_aspect is not None else []
    column.words(
        say("Bays are at most {limits}; which rule set says so stands on the page Basis of this set.", limits=", ".join(limits)), bullet="•"
    )
    column.words(say("Sealant joints at every wall, plinth and column: wet rooms get them always."), bullet="•")
    beyond = say("whole tiles start afresh beyond a joint") if rules.bays == "shift" else say("joints are cut through one lattice")
    column.words(say("In the field {beyond}; joints rise {rise}.", beyond=beyond, rise=_rise(rules.carry_joints)), bullet="•")
    told = (say("Not taken, {what}: {why}.", what=line.what, why=line.by_rule) for line in room.floor.rejected)
    for text in list(dict.fromkeys(told))[:3]:  # both jambs of a door may be called alike
        column.words(text, bullet="•")
    column.head(say("Key"))
    column.legend("joints", present)
    column.head(say("Order of work"))
    for text in ORDER:
        column.words(text, bullet="•")


def _rise(carry: str) -> str:
    return {
        "structural": say("up tiled faces where they are the structure's"),
        "all": say("up every tiled face they meet"),
        "none": say("up no face"),
    }[carry]
