"""Movement and sealant joints of a surface: bays and joints of its division, and every metre of sealant at edges, breaks and corners."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias

import numpy as np
import shapely
from shapely import LineString

from layout.errors import Finding
from layout.shapes import turned, turned_shape
from layout.standards.sealants import FRAME_EXPANSION, WASH_STEP
from layout.units import EPS, TOUCH
from layout.vectors import length_of, line_length, pair
from layout.words import worded

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shapely.geometry.base import BaseGeometry

    from layout.errors import Point
    from layout.falls.levels import Levels
    from layout.identity import SurfaceId
    from layout.joints.values import Division
    from layout.lining.build import Lining
    from layout.lining.surfaces import Surface
    from layout.plan.values import Rules
    from layout.vectors import Floats

IN_LOW_LINE = 300.0
"""A movement joint that lies longer than this in a low line does not only cross it, mm."""
Kind: TypeAlias = Literal["perimeter", "intermediate", "structural", "threshold", "plinth", "column", "drain", "pipe", "corner"]
CALLED: dict[str, str] = {
    each: each
    for each in (
        worded("perimeter"), worded("intermediate"), worded("structural"), worded("threshold"), worded("plinth"), worded("column"),
        worded("drain"), worded("pipe"), worded("corner"),
    )
}  # fmt: skip
"""What kinds of joints are called, by their keys."""


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
    origin: Point
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


def low_line_findings(levels: Levels, joints: Sequence[MovementJoint]) -> list[Finding]:
    """Movement joints that run in a low line: water stands on the sealant."""
    result = []
    for joint in joints:
        if joint.surface.kind != "floor" or joint.kind not in ("intermediate", "structural"):
            continue
        strip = shapely.buffer(LineString(joint.line), joint.width)
        wet = [line for line in levels.lines if line.kind in ("low line", "valley")]
        length = math.fsum(float(shapely.intersection(strip, LineString(line.line)).length) for line in wet)
        if length > IN_LOW_LINE:
            middle = joint.line.mean(axis=0)
            text = worded(
                "floor: the {kind} joint lies {length:.2f} m in a low line of the falls; move the joint or the fall",
                kind=joint.kind,
                length=length / 1000,
            )
            result.append(Finding(code="joint-in-low-line", text=text, at=pair(middle)))
    return result


def bays_of(division: Division, surface: SurfaceId, frame: float) -> tuple[tuple[Bay, ...], tuple[MovementJoint, ...]]:
    """Bays and joints of a division, back in the surface's own axes."""
    bays = []
    for part, origin in division.bays:
        x0, y0, x1, y1 = part.bounds
        region = turned_shape(part, frame)
        bays.append(Bay(region, pair(turned(np.array([origin]), frame)[0]), max(x1 - x0, y1 - y0), min(x1 - x0, y1 - y0)))
    joints = [
        MovementJoint(
            cut.kind, surface, turned(segment, frame), length_of(segment[-1] - segment[0]), cut.width, cut.why, bridged=cut.bridged
        )
        for cut in division.cuts
        for segment in cut.segments
    ]
    return tuple(bays), tuple(joints)


def border_joints(surface: Surface) -> list[MovementJoint]:
    """Sealant along the borders of a flat surface, centre lines, each metre once."""
    if not surface.borders:
        return []
    found = [(edge, border, border.joint) for edge, border in zip(*surface.bordered(0.5), strict=True) if not border.grows]
    if any(border.sealed for ring in surface.borders for border in ring):
        found += [(edge, border, border.sealed) for edge, border in zip(*surface.faced(), strict=True)]
    result: list[MovementJoint] = []
    for edge, border, width in found:
        if width <= 0.0:
            continue
        kind: Kind = border.kind if surface.kind == "floor" else "plinth"
        last = result[-1] if result else None
        length = length_of(edge[1] - edge[0])
        if last and (last.kind, last.label) == (kind, border.label) and length_of(last.line[-1] - edge[0]) < EPS:
            result[-1] = MovementJoint(kind, surface.id, np.vstack([last.line, edge[1]]), last.length + length, width, "", border.label)
        else:
            result.append(MovementJoint(kind, surface.id, edge.copy(), length, width, "", border.label))
    return result


def foot_joints(surface: Surface, rules: Rules) -> list[MovementJoint]:
    """Sealant between the top of a cove and the tile of the face above it."""
    kind: Kind = "plinth" if surface.kind == "plinth-side" else "column" if surface.kind == "column-side" else "perimeter"
    return [
        MovementJoint(kind, surface.id, line, line_length(line), rules.perimeter_joint, worded("on the cove"), surface.name)
        for line in surface.foot
    ]


def break_joints(surface: Surface) -> list[MovementJoint]:
    """Sealant rings round pipes, fixings and drain frames that get a joint."""
    result = []
    for each in surface.breaks:
        if each.joint <= 0.0:
            continue
        ring = shapely.buffer(each.shape, each.joint / 2, join_style="mitre") if each.kind != "pipe" else None
        if ring is None:
            # a circle in straight parts, as long together as the circle: what is listed, drawn and measured is one length
            scale = each.ring_length / each.shape.length
            points = (shapely.get_coordinates(each.shape) - each.at) * scale + each.at
        else:
            points = shapely.get_coordinates(ring)
        kind: Kind = "drain" if each.kind in ("gully", "channel") else "pipe"
        why = ""
        if kind == "drain":
            long = max(length_of(edge) for edge in np.diff(shapely.get_coordinates(each.shape), axis=0))
            moves = FRAME_EXPANSION.value * 1e-6 * long * WASH_STEP.value
            why = worded(
                "a frame {long:.0f} long moves {moves:.1f} mm over {wash_step:.0f} K ({source})",
                long=long,
                moves=moves,
                wash_step=WASH_STEP.value,
                source=FRAME_EXPANSION.source,
            )
        lines = [(points, each.ring_length)] if ring is None else [(line, line_length(line)) for line in _in_the_field(surface, points)]
        result += [MovementJoint(kind, surface.id, line, length, each.joint, why, each.name) for line, length in lines]
    return result


def _in_the_field(surface: Surface, ring: Floats) -> list[Floats]:
    """What of the joint round a frame lies in a surface's field: where the frame ends at a wall, the joint along the wall takes over."""
    line = LineString(ring)
    if shapely.covers(shapely.buffer(surface.field, TOUCH), line):
        return [ring]
    parts = shapely.get_parts(shapely.line_merge(shapely.intersection(line, surface.field)))
    found = [shapely.get_coordinates(part) for part in parts if part.geom_type == "LineString" and part.length > TOUCH]
    return sorted(found, key=lambda each: np.round(each[0], 3).tolist())


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


KINDS: tuple[Kind, ...] = ("perimeter", "threshold", "plinth", "column", "corner", "intermediate", "structural", "drain", "pipe")
"""In the order of tables."""
