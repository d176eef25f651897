"""Lines that a division is given, likes or keeps clear of: structural joints, corners, columns, jambs, drains, falls, joints carried up."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import LineString, Polygon

from layout.errors import Finding
from layout.joints.lines import MovementJoint
from layout.joints.values import FieldKind, FixedLine, Obstacle, PreferredLine
from layout.shapes import parts_of, turned, turned_shape
from layout.standards.rules import ARRIS_LEAST, FLANGE_TO_JOINT, REENTRANT_LEG
from layout.units import TOUCH, snap
from layout.vectors import length_of, pair, unit
from layout.words import worded

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from layout.falls.levels import Levels
    from layout.lining.build import Lining
    from layout.lining.surfaces import Surface
    from layout.vectors import Floats

MEETS = 250.0
"""How far from a floor joint's end the face behind it may stand, mm: past any joint and build-up at a foot, short of the next face."""
CORNER_MOVED = 150.0
"""How far build-up and joints may move the field's corner off the room's, mm."""


def fixed_lines(lining: Lining, surface: Surface, frame: float) -> list[FixedLine]:
    """Cuts whose place is given: structural joints along the frame, and re-entrant corners of the room."""
    rules = lining.plan.rules
    result: list[FixedLine] = []
    for joint in lining.room.structural_joints:
        (xa, ya), (xb, yb) = turned(np.array(joint.line), -frame)
        width = max(joint.width, rules.movement_joint)
        if abs(xa - xb) <= TOUCH:
            result.append(
                FixedLine(0, snap((xa + xb) / 2 - width / 2), width, "structural", joint.name, must=True, bridged=joint.of != "finish")
            )
        elif abs(ya - yb) <= TOUCH:
            result.append(
                FixedLine(1, snap((ya + yb) / 2 - width / 2), width, "structural", joint.name, must=True, bridged=joint.of != "finish")
            )
    corners = turned_corners(lining, surface, frame)
    for x, y, toward_x, toward_y in corners:
        width = rules.movement_joint
        why = worded("through the re-entrant corner")
        result.append(FixedLine(0, x if toward_x > 0 else x - width, width, "intermediate", why, (x, y)))
        result.append(FixedLine(1, y if toward_y > 0 else y - width, width, "intermediate", why, (x, y)))
    return result


def preferred_lines(lining: Lining, frame: float) -> list[PreferredLine]:
    """Column lines and door jambs, on which joints are liked (design, section 6)."""
    result = []
    for solid in lining.outline.columns:
        box = turned(np.concatenate([run.points for run in solid.runs]), -frame)
        middle = (box.min(axis=0) + box.max(axis=0)) / 2
        why, place = worded("on the line of {name}", name=solid.solid.name), pair(middle)
        result += [PreferredLine(axis, place[axis], why, place) for axis in (0, 1)]
    for opening in lining.outline.openings:
        wall = lining.outline.walls[opening.wall].run
        if not opening.door or not wall.straight:
            continue
        ends = turned(np.array([wall.at(opening.s0), wall.at(opening.s1)]), -frame)
        way = np.abs(ends[1] - ends[0])
        if way.min() <= TOUCH:
            axis = int(way.argmax())
            why = worded("at the jamb of {name}", name=opening.opening.name)
            result += [PreferredLine(axis, float(end[axis]), why, pair(end)) for end in ends]
    return result


def obstacles_of(surface: Surface, frame: float, collar_lap: float) -> list[Obstacle]:
    """Drains with their flanges and pipes with their collars, in the joint frame."""
    result = []
    for each in surface.breaks:
        x0, y0, x1, y1 = turned_shape(each.shape, -frame).bounds
        wanted = FLANGE_TO_JOINT.value if each.kind in ("gully", "channel") else 0.0
        result.append(Obstacle((x0, y0, x1, y1), each.reach(collar_lap), wanted))
    return result


def lines_of_falls(levels: Levels, frame: float) -> tuple[list[PreferredLine], list[Obstacle]]:
    """High lines along the joint frame, which joints like, and low lines, which they keep out of (design, section 6)."""
    liked: list[PreferredLine] = []
    kept: list[Obstacle] = []
    for fall_line in levels.lines:
        local = turned(fall_line.line, -frame)
        reach = np.abs(local[1] - local[0])
        axis = int(reach.argmin())
        if reach.min() > TOUCH:
            continue
        middle = local.mean(axis=0)
        if fall_line.kind in ("high line", "hip"):
            liked.append(PreferredLine(axis, float(middle[axis]), worded("on the high line of the falls"), pair(middle)))
        elif fall_line.kind in ("low line", "valley"):
            low, high = local.min(axis=0), local.max(axis=0)
            kept.append(Obstacle((float(low[0]), float(low[1]), float(high[0]), float(high[1])), 0.0, axis=axis))
    return liked, kept


def turned_corners(lining: Lining, surface: Surface, frame: float) -> list[tuple[float, float, float, float]]:
    """Re-entrant corners of the room on the field's edge: x, y and the way each adjoining wall leads off."""
    walls = lining.outline.walls
    wanted = []
    for upright in lining.shell.uprights:
        faces = (upright.first, upright.second)
        if upright.bottom > 0.0 or upright.angle < 225.0 or any(f.tag.owner != "wall" for f in faces):
            continue
        if min(walls[f.tag.number].run.length for f in faces) >= REENTRANT_LEG.value:
            wanted.append(upright.at)
    result = []
    local = turned_shape(surface.divided_field, -frame)
    for part in parts_of(local):
        for ring in (part.exterior, *part.interiors):
            points = shapely.get_coordinates(ring)[:-1]
            for at in wanted:
                corner = turned(np.array([at]), -frame)[0]
                apart = np.hypot(*(points - corner).T)
                k = int(apart.argmin())
                if apart[k] > CORNER_MOVED:
                    continue
                before, here, after = points[k - 1], points[k], points[(k + 1) % len(points)]
                way1, way2 = before - here, after - here
                if way1[0] * way2[1] - way1[1] * way2[0] <= 0.0:  # the region opens more than 180 degrees only if positive
                    continue
                level, upright_way = (way1, way2) if abs(way1[0]) * length_of(way2) > abs(way2[0]) * length_of(way1) else (way2, way1)
                result.append((snap(here[0]), snap(here[1]), float(np.sign(level[0])), float(np.sign(upright_way[1]))))
    return result


def slanted_structural(lining: Lining, frame: float) -> list[tuple[Polygon, MovementJoint]]:
    """Structural joints that do not run along the frame: strip and joint, in the floor's own axes."""
    result = []
    rules = lining.plan.rules
    x0, y0, x1, y1 = lining.floor.divided_field.bounds
    reach = math.hypot(x1 - x0, y1 - y0) * 2
    for joint in lining.room.structural_joints:
        a, b = np.array(joint.line)
        (xa, ya), (xb, yb) = turned(np.array(joint.line), -frame)
        if abs(xa - xb) <= TOUCH or abs(ya - yb) <= TOUCH:
            continue
        way = unit(b - a)
        line = LineString([a - way * reach, b + way * reach])
        width = max(joint.width, rules.movement_joint)
        strip = line.buffer(width / 2, cap_style="flat")
        for segment in shapely.get_parts(shapely.intersection(lining.floor.divided_region, line)):
            if segment.length > TOUCH:
                points = shapely.get_coordinates(segment)
                result.append(
                    (
                        strip,
                        MovementJoint(
                            "structural", lining.floor.id, points, float(segment.length), width, joint.name, bridged=joint.of != "finish"
                        ),
                    )
                )
    return result


def carried_lines(lining: Lining, surface: Surface, joints: Sequence[MovementJoint], frame: float) -> list[FixedLine]:
    """Floor joints that run on up an upright face or over a plinth, as cuts in the joint frame of that surface.

    A floor joint meets a face where its line, drawn on through the joint at the wall's foot, crosses the face. One that would
    come nearer to an end of the face than `ARRIS_LEAST` is left to the sealant there; `near_arris_findings` tells it.
    """
    result: dict[tuple[int, float], FixedLine] = {}
    for joint, axis, at, off in _met(lining, surface, joints, frame):
        if off < ARRIS_LEAST.value:
            continue
        why = worded("carried up from the floor: {why}", why=joint.why) if joint.why else worded("carried up from the floor")
        made = FixedLine(axis, snap(at - joint.width / 2), joint.width, _field_kind(joint), why, must=True, bridged=joint.bridged)
        result.setdefault((axis, round(at)), made)
    return list(result.values())


def meeting(lining: Lining, surface: Surface, joints: Sequence[MovementJoint], frame: float) -> tuple[MovementJoint, ...]:
    """Of the joints so far those of the floor that meet an upright face or a plinth's top."""
    return tuple(joint for joint in joints if next(_met(lining, surface, [joint], frame), None) is not None)


def near_arris_findings(lining: Lining, surface: Surface, joints: Sequence[MovementJoint], frame: float) -> list[Finding]:
    """Floor joints that meet a face too near to its end to be carried up it."""
    result = []
    for joint, _, _, off in _met(lining, surface, joints, frame):
        if off < ARRIS_LEAST.value:
            text = worded(
                "{name}: the {kind} joint of the floor meets it {off:.0f} from its end, {arris_least:.0f} wanted "
                "({source}): it is not carried up, the sealant at foot and corner takes it",
                name=surface.name,
                kind=joint.kind,
                off=off,
                arris_least=ARRIS_LEAST.value,
                source=ARRIS_LEAST.source,
            )
            result.append(Finding(code="joint-near-arris", text=text, surface=surface.id))
    return result


def _met(
    lining: Lining, surface: Surface, joints: Sequence[MovementJoint], frame: float
) -> Iterator[tuple[MovementJoint, int, float, float]]:
    """Floor joints that meet a surface: with axis and place of the cut there, and how far that is from the surface's nearer end, mm."""
    which = {"structural": ("structural",), "all": ("structural", "intermediate"), "none": ()}[lining.plan.rules.carry_joints]
    if surface.kind in ("floor", "border"):
        return
    bounds = turned_shape(surface.field, -frame).bounds
    for joint in joints:
        if joint.surface.kind != "floor" or joint.kind not in which:
            continue
        a, b = joint.line[0], joint.line[-1]
        way = unit(b - a)
        for end, on in ((a, -way), (b, way)):
            stub = LineString([end - on * TOUCH, end + on * MEETS])
            line = _over_plinth(surface, stub) if surface.placing.line is None else _up_face(surface, stub)
            if line is None:
                continue
            local = turned(line, -frame)
            reach = np.abs(local[1] - local[0])
            axis = int(reach.argmin())
            at = float(local[:, axis].mean())
            off = min(at - bounds[axis], bounds[axis + 2] - at)
            if reach.min() <= TOUCH and off > 0.0:
                yield joint, axis, at, off


def _field_kind(joint: MovementJoint) -> FieldKind:
    return "structural" if joint.kind == "structural" else "intermediate"


def _up_face(surface: Surface, stub: LineString) -> Floats | None:
    """Where a stub of a floor joint meets an upright face, as a line up it, (2, 2) in the face's own axes."""
    face = LineString(surface.placing.line)
    met = shapely.intersection(face, stub)
    if met.is_empty or surface.field.is_empty:
        return None
    x = float(face.project(met.representative_point()))
    return np.array([[x, 0.0], [x, 1000.0]])


def _over_plinth(surface: Surface, stub: LineString) -> Floats | None:
    """A stub of a floor joint that meets a plinth's top, (2, 2)."""
    met = shapely.intersection(stub, surface.gross).length > TOUCH
    return shapely.get_coordinates(stub) if met and not surface.field.is_empty else None
