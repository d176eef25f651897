"""Movement joints by kind and width, with the design of the one that moves most."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.joints.lines import KINDS, Kind, MovementJoint
from layout.standards.sealants import JointDesign, Sealant, design

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from layout.identity import SurfaceId
    from layout.vectors import Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class JointType:
    """All joints of one kind and width in a room, with the design of the one that moves most; `length` mm."""

    kind: Kind
    width: float
    length: float
    design: JointDesign


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
            longest = max(_long_side(joint.line) for joint in own)
        part = 1.0 if kind in ("intermediate", "structural") else 0.5
        length = math.fsum(joint.length for joint in own)
        result.append(JointType(kind=kind, width=width, length=length, design=design(width, longest * part, sealant)))
    return result


def _long_side(line: Floats) -> float:
    """The longer side of the least rectangle round a line or ring (n, 2), however it lies, mm."""
    corners = shapely.get_coordinates(shapely.oriented_envelope(shapely.LineString(line)))
    return float(np.hypot(*np.diff(corners, axis=0).T).max())
