"""Whether what a plan puts into a room lies in it: drains, pipes, fixings, structural joints; each fault with its mend."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import shapely
from shapely import LineString, Polygon

from layout.errors import PlanError
from layout.room.outlines import break_shape, frame_of, known_walls, wall_span
from layout.units import TOUCH

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shapely.geometry.base import BaseGeometry

    from layout.errors import Point
    from layout.plan.values import Break, Drain
    from layout.room.outlines import Outline


def inside_faults(outline: Outline, place: str) -> list[PlanError]:
    """All that does not lie in a room as it should; `place` is the room's in the plan file."""
    domain = outline.domain
    x0, y0, x1, y1 = shapely.bounds(domain)
    reach = f"x may be {x0:.0f} to {x1:.0f}, y {y0:.0f} to {y1:.0f}"
    cells = [ring.polygon() for ring in outline.plinth_rings]
    faults = _drain_faults(outline, domain, cells, place, reach)
    for kind, breaks in (("pipes", outline.room.pipes), ("fixings", outline.room.fixings)):
        for k, each in enumerate(breaks):
            where = f"{place}.{kind}[{k}]"
            if each.at is None:
                faults += _on_wall_faults(outline, each, where)
            else:
                shape = break_shape(each, each.at)
                faults += _outside_faults(shape, outline, domain, f"{where}.at", each.at, reach)
                faults += _cell_faults(shape, cells, f"{where}.at", each.name)
    for k, joint in enumerate(outline.room.structural_joints):
        where = f"{place}.structural_joints[{k}].line"
        if math.dist(*joint.line) < 1.0:
            faults.append(PlanError(where, "its two points are one", "give two points of the joint"))
        elif shapely.intersection(LineString(joint.line), domain).length < TOUCH:
            faults.append(PlanError(where, f'it misses "{outline.room.name}"', reach))
        else:
            faults += _doubled_faults(outline, k, domain, where)
    return faults


def _drain_faults(outline: Outline, domain: BaseGeometry, cells: Sequence[Polygon], place: str, reach: str) -> list[PlanError]:
    """Frames outside the room, over each other, or across the edge of a plinth."""
    drains = outline.room.drains

    def where(k: int) -> str:
        return f"{place}.drains[{k}].{'at' if drains[k].kind == 'gully' else 'from'}"

    faults: list[PlanError] = []
    for k, drain in enumerate(drains):
        frame = frame_of(drain)
        faults += _outside_faults(frame, outline, domain, where(k), drain.at, reach)
        faults += _cell_faults(frame, cells, where(k), drain.name)
    for k, drain in enumerate(drains):
        faults += [
            PlanError(where(k), f"{drain.name} overlaps {before.name}", "move one of them, or leave it out")
            for before in drains[:k]
            if _overlap(drain, before)
        ]
    return faults


def _overlap(one: Drain, other: Drain) -> bool:
    return bool(shapely.intersection(frame_of(one), frame_of(other)).area > 1.0)


def _doubled_faults(outline: Outline, k: int, domain: BaseGeometry, where: str) -> list[PlanError]:
    """A structural joint may cross another, not run along it."""
    joints = outline.room.structural_joints
    own = shapely.intersection(LineString(joints[k].line), domain)
    faults = []
    for other in joints[:k]:
        beside = LineString(other.line).buffer((joints[k].width + other.width) / 2, cap_style="flat")
        if shapely.intersection(own, beside).length > 0.5 * own.length:
            faults.append(PlanError(where, f"it doubles {other.name}", "leave one of them out"))
    return faults


def _cell_faults(shape: Polygon, cells: Sequence[Polygon], where: str, name: str) -> list[PlanError]:
    parts = [shapely.intersection(shape, cell).area for cell in cells]
    return [
        PlanError(where, f"{name} crosses the edge of a plinth", "move it clear, or shape the plinth round it")
        for part in parts
        if TOUCH < part < shape.area - TOUCH
    ]


def _outside_faults(shape: Polygon, outline: Outline, domain: BaseGeometry, where: str, at: Point, reach: str) -> list[PlanError]:
    outside = shapely.difference(shape, domain)
    if outside.is_empty or outside.buffer(-TOUCH / 2).is_empty:
        return []
    distance = max(shapely.Point(xy).distance(domain) for xy in shapely.get_coordinates(shape))
    how = f"{distance:.0f} mm outside" if distance >= 0.5 else "partly outside"
    return [PlanError(where, f'[{at[0]:g}, {at[1]:g}] is {how} "{outline.room.name}" or inside a column', reach)]


def _on_wall_faults(outline: Outline, each: Break, where: str) -> list[PlanError]:
    """A pipe or fixing that runs past its wall's ends or into the floor."""
    assert each.wall is not None  # the reader gave it one place
    wide = each.diameter or each.size[0]
    tall = each.diameter or each.size[1]
    span = wall_span(outline.room, outline.walls, each.wall, each.offset, 0.0, each.measured_from)
    if span is None:
        return [PlanError(f"{where}.wall", f"there is no wall {each.wall!r}", known_walls(outline.room))]
    index, s, _ = span
    length = outline.walls[index].run.length
    faults = []
    if s - wide / 2 < -TOUCH or s + wide / 2 > length + TOUCH:
        found = f"{each.name} runs past the end of {outline.walls[index].label} ({length:.0f} long)"
        faults.append(PlanError(f"{where}.offset", found, f"offset may be {wide / 2:g} to {length - wide / 2:.0f}"))
    if each.level - tall / 2 < -TOUCH:
        faults.append(PlanError(f"{where}.level", f"{each.name} runs into the floor", f"give at least {tall / 2:g}"))
    return faults
