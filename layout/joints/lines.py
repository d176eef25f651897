"""Movement and sealant joints: the lines that are given or liked, the bays of a division, and every metre of sealant."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias

import numpy as np
import shapely
from shapely import LineString, Polygon

from layout.errors import Finding
from layout.joints.divide import Divider, FixedLine, Obstacle, PreferredLine
from layout.shapes import parts_of, turned, turned_shape
from layout.standards.rules import FLANGE_TO_JOINT, REENTRANT_LEG
from layout.standards.sealants import FRAME_EXPANSION, WASH_STEP, JointDesign, Sealant, design
from layout.units import EPS, TOUCH, snap

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from layout.falls.levels import Levels
    from layout.identity import SurfaceId
    from layout.lining.build import Lining
    from layout.lining.surfaces import Surface
    from layout.plan.values import Rules

    Floats = NDArray[np.float64]

IN_LOW_LINE = 300.0
"""A movement joint that lies longer than this in a low line does not only cross it, mm."""
MEETS, CARRY_LEAST = 250.0, 50.0
"""How far from a floor joint's end the face behind it may stand, and how near to its ends a carried joint may run, mm."""
Kind: TypeAlias = Literal["perimeter", "intermediate", "structural", "threshold", "plinth", "column", "drain", "pipe", "corner"]


@dataclass(frozen=True, slots=True, eq=False)
class MovementJoint:
    """One joint: its centre line in the surface's own axes, length and width in mm; a structural one is `bridged` in the membrane or not."""

    kind: Kind
    surface: SurfaceId
    line: Floats
    length: float
    width: float
    why: str = ""
    label: str = ""
    bridged: bool = True


@dataclass(frozen=True, slots=True, eq=False)
class Bay:
    """One bay of a surface: its region in own axes and where its lattice starts, mm; `whole` is the bay with its border course."""

    region: BaseGeometry
    origin: tuple[float, float]
    longest: float
    shortest: float
    whole: BaseGeometry | None = None

    @property
    def between_joints(self) -> BaseGeometry:
        """The bay from joint to joint, its border course included."""
        return self.region if self.whole is None else self.whole

    @property
    def area_m2(self) -> float:
        """Area of the bay, m²."""
        return float(self.region.area) / 1e6

    @property
    def aspect(self) -> float:
        """Longest side over the other."""
        return self.longest / max(self.shortest, EPS)


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
        why = "through the re-entrant corner"
        result.append(FixedLine(0, x if toward_x > 0 else x - width, width, "intermediate", why, (x, y)))
        result.append(FixedLine(1, y if toward_y > 0 else y - width, width, "intermediate", why, (x, y)))
    return result


def preferred_lines(lining: Lining, frame: float) -> list[PreferredLine]:
    """Column lines and door jambs, on which joints are liked (design, section 6)."""
    result = []
    for solid in lining.outline.columns:
        box = turned(np.concatenate([run.points for run in solid.runs]), -frame)
        middle = (box.min(axis=0) + box.max(axis=0)) / 2
        why, place = f"on the line of {solid.solid.name}", (float(middle[0]), float(middle[1]))
        result += [PreferredLine(axis, place[axis], why, place) for axis in (0, 1)]
    for opening in lining.outline.openings:
        wall = lining.outline.walls[opening.wall].run
        if not opening.door or not wall.straight:
            continue
        ends = turned(np.array([wall.at(opening.s0), wall.at(opening.s1)]), -frame)
        way = np.abs(ends[1] - ends[0])
        if way.min() <= TOUCH:
            axis = int(way.argmax())
            why = f"at the jamb of {opening.opening.name}"
            result += [PreferredLine(axis, float(end[axis]), why, (float(end[0]), float(end[1]))) for end in ends]
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
            liked.append(PreferredLine(axis, float(middle[axis]), "on the high line of the falls", (float(middle[0]), float(middle[1]))))
        elif fall_line.kind in ("low line", "valley"):
            low, high = local.min(axis=0), local.max(axis=0)
            kept.append(Obstacle((float(low[0]), float(low[1]), float(high[0]), float(high[1])), 0.0, axis=axis))
    return liked, kept


def low_line_findings(levels: Levels, joints: Sequence[MovementJoint]) -> list[Finding]:
    """Movement joints that run in a low line: water stands on the sealant."""
    result = []
    for joint in joints:
        if joint.surface.kind != "floor" or joint.kind not in ("intermediate", "structural"):
            continue
        strip = shapely.buffer(LineString(joint.line), joint.width)
        wet = [line for line in levels.lines if line.kind in ("low line", "valley")]
        length = sum(float(shapely.intersection(strip, LineString(line.line)).length) for line in wet)
        if length > IN_LOW_LINE:
            middle = joint.line.mean(axis=0)
            text = f"floor: the {joint.kind} joint lies {length / 1000:.2f} m in a low line of the falls; move the joint or the fall"
            result.append(Finding(code="joint-in-low-line", text=text, at=(float(middle[0]), float(middle[1]))))
    return result


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
                if apart[k] > 150.0:
                    continue
                before, here, after = points[k - 1], points[k], points[(k + 1) % len(points)]
                way1, way2 = before - here, after - here
                if way1[0] * way2[1] - way1[1] * way2[0] <= 0.0:  # the region opens more than 180 degrees only if positive
                    continue
                level, upright_way = (way1, way2) if abs(way1[0]) * np.hypot(*way2) > abs(way2[0]) * np.hypot(*way1) else (way2, way1)
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
        way = (b - a) / np.hypot(*(b - a))
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


def bays_of(divider: Divider, surface: SurfaceId, frame: float) -> tuple[tuple[Bay, ...], tuple[MovementJoint, ...]]:
    """Bays and joints of a division, back in the surface's own axes."""
    bays = []
    for part, origin in divider.bays:
        x0, y0, x1, y1 = part.bounds
        region = turned_shape(part, frame)
        at = turned(np.array([origin]), frame)[0]
        bays.append(Bay(region, (float(at[0]), float(at[1])), max(x1 - x0, y1 - y0), min(x1 - x0, y1 - y0)))
    joints = [
        MovementJoint(
            cut.kind, surface, turned(segment, frame), float(np.hypot(*(segment[-1] - segment[0]))), cut.width, cut.why, bridged=cut.bridged
        )
        for cut in divider.cuts
        for segment in cut.segments
    ]
    return tuple(bays), tuple(joints)


def border_joints(surface: Surface, rules: Rules) -> list[MovementJoint]:
    """Sealant along the borders of a flat surface, centre lines, each metre once."""
    if not surface.borders or rules.foot == "floor-through":
        return []
    edges, borders = surface.bordered(0.5)
    result: list[MovementJoint] = []
    for edge, border in zip(edges, borders, strict=True):
        if border.grows or border.joint <= 0.0:
            continue
        kind: Kind = border.kind if surface.kind == "floor" else "plinth"
        last = result[-1] if result else None
        length = float(np.hypot(*(edge[1] - edge[0])))
        if last and (last.kind, last.label) == (kind, border.label) and np.hypot(*(last.line[-1] - edge[0])) < EPS:
            result[-1] = MovementJoint(
                kind, surface.id, np.vstack([last.line, edge[1]]), last.length + length, border.joint, "", border.label
            )
        else:
            result.append(MovementJoint(kind, surface.id, edge.copy(), length, border.joint, "", border.label))
    return result


def carried_lines(lining: Lining, surface: Surface, joints: Sequence[MovementJoint], frame: float) -> list[FixedLine]:
    """Floor joints that run on up an upright face or over a plinth, as cuts in the joint frame of that surface.

    A floor joint meets a face where its line, drawn on through the joint at the wall's foot, crosses the face.
    """
    which = {"structural": ("structural",), "all": ("structural", "intermediate"), "none": ()}[lining.plan.rules.carry_joints]
    if surface.kind in ("floor", "border"):
        return []
    bounds = turned_shape(surface.field, -frame).bounds
    result: dict[tuple[int, float], FixedLine] = {}
    for joint in joints:
        if joint.surface.kind != "floor" or joint.kind not in which:
            continue
        a, b = joint.line[0], joint.line[-1]
        way = (b - a) / max(float(np.hypot(*(b - a))), EPS)
        for end, on in ((a, -way), (b, way)):
            stub = LineString([end - on * TOUCH, end + on * MEETS])
            line = _over_plinth(surface, stub) if surface.placing.line is None else _up_face(surface, stub)
            if line is None:
                continue
            local = turned(line, -frame)
            reach = np.abs(local[1] - local[0])
            axis = int(reach.argmin())
            at = float(local[:, axis].mean())
            if reach.min() > TOUCH or not bounds[axis] + CARRY_LEAST < at < bounds[axis + 2] - CARRY_LEAST:
                continue
            why = f"carried up from the floor: {joint.why}" if joint.why else "carried up from the floor"
            made = FixedLine(axis, snap(at - joint.width / 2), joint.width, _field_kind(joint), why, must=True, bridged=joint.bridged)
            result.setdefault((axis, round(at)), made)
    return list(result.values())


def _field_kind(joint: MovementJoint) -> Literal["intermediate", "structural"]:
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


def break_joints(surface: Surface) -> list[MovementJoint]:
    """Sealant rings round pipes, fixings and drain frames that get a joint."""
    result = []
    for each in surface.breaks:
        if each.joint <= 0.0:
            continue
        ring = shapely.buffer(each.shape, each.joint / 2, join_style="mitre") if each.kind != "pipe" else None
        if ring is None:
            scale = (each.diameter + each.joint) / each.diameter
            points = (shapely.get_coordinates(each.shape) - each.at) * scale + each.at
        else:
            points = shapely.get_coordinates(ring)
        kind: Kind = "drain" if each.kind in ("gully", "channel") else "pipe"
        why = ""
        if kind == "drain":
            long = max(float(np.hypot(*edge)) for edge in np.diff(shapely.get_coordinates(each.shape), axis=0))
            moves = FRAME_EXPANSION.value * 1e-6 * long * WASH_STEP.value
            why = f"a frame {long:.0f} long moves {moves:.1f} mm over {WASH_STEP.value:.0f} K ({FRAME_EXPANSION.source})"
        result.append(MovementJoint(kind, surface.id, points, each.ring_length, each.joint, why, each.name))
    return result


def corner_joints(lining: Lining) -> list[MovementJoint]:
    """Sealant in internal upright corners between tiled faces, on the lower-numbered face's surface."""
    from layout.lining.owners import owner_of  # noqa: PLC0415

    result = []
    by_run = {surface.run: surface for surface in lining.surfaces if surface.run is not None}
    for upright in lining.shell.uprights:
        if upright.angle >= 180.0:
            continue
        pairs = sorted(((owner_of(lining.outline, f), f) for f in (upright.first, upright.second)), key=lambda pair: pair[0].rank)
        (own, face), (other, _) = pairs
        top = min(own.top, other.top, upright.top)
        if own.tile is None or other.tile is None or top <= upright.bottom + TOUCH or face.run not in by_run:
            continue
        surface = by_run[face.run]
        width = lining.plan.rules.perimeter_joint
        x = surface.placing.along(upright.at)
        room_side = 1.0 if x < surface.placing.length / 2 else -1.0
        x += room_side * (other.build_up + width / 2)
        line = np.array([[x, upright.bottom], [x, top]])
        result.append(MovementJoint("corner", surface.id, line, top - upright.bottom, width, "", f"{own.label} / {other.label}"))
    return result


@dataclass(frozen=True, slots=True, kw_only=True)
class JointType:
    """All joints of one kind and width in a room, with the design of the one that moves most; `length` mm."""

    kind: Kind
    width: float
    length: float
    design: JointDesign


KINDS: tuple[Kind, ...] = ("perimeter", "threshold", "plinth", "column", "corner", "intermediate", "structural", "drain", "pipe")
"""In the order of tables."""


def joint_types(joints: Sequence[MovementJoint], bays: Mapping[SurfaceId, float], sealant: Sealant) -> list[JointType]:
    """Joints by kind and width, in the order of `KINDS`.

    `bays` is the longest side of a bay by surface, mm. A joint between bays takes the movement of half of each, one bay
    in all; one at an edge takes half a bay; a ring round a pipe or frame moves with what it rings, which is drawn to it.
    """
    groups: dict[tuple[Kind, float], list[MovementJoint]] = {}
    for joint in joints:
        groups.setdefault((joint.kind, joint.width), []).append(joint)
    result = []
    for kind, width in sorted(groups, key=lambda key: (KINDS.index(key[0]), key[1])):
        own = groups[kind, width]
        longest = max(bays.get(joint.surface, max(bays.values(), default=0.0)) for joint in own)
        if kind in ("drain", "pipe"):
            longest = max(float(np.ptp(joint.line, axis=0).max()) for joint in own)
        part = 1.0 if kind in ("intermediate", "structural") else 0.5
        length = sum(joint.length for joint in own)
        result.append(JointType(kind=kind, width=width, length=length, design=design(width, longest * part, sealant)))
    return result
