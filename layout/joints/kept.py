"""What is built and stays on a surface: joints as given cuts of the bays that they ran through, and the lattice that a bay goes by."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.errors import SetOutError
from layout.joints.sawing import line_across
from layout.joints.values import FixedLine, KeptLattice, OwnStart
from layout.shapes import turned
from layout.units import TOUCH, snap
from layout.vectors import pair

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shapely import Polygon

    from layout.errors import Point
    from layout.joints.values import Parting
    from layout.lining.build import Lining
    from layout.lining.surfaces import Surface
    from layout.plan.values import Room

MOST_OF = 0.5
"""A kept joint parts a bay of which it ran through more than this share: beyond it would be another joint."""
WHY = "kept where it is"


def kept_lattices(lining: Lining, surface: Surface, frame: float) -> tuple[KeptLattice, ...]:
    """The lattices of a surface's bays as they were snapped, in the joint frame.

    Raises
    ------
    SetOutError
        If the bay of one lies outside the surface.
    """
    result = []
    for k, each in enumerate(lining.room.kept_lines):
        if each.on != surface.name:
            continue
        bay = shapely.make_valid(shapely.Polygon(each.bay)) if each.bay else None
        if bay is not None and not shapely.intersects(surface.field, bay):
            place = f"{lining.plan.place_of(_index(lining))}.kept_lines[{k}]"
            found = f"the lines at [{each.at[0]:g}, {each.at[1]:g}] lie outside {surface.name} of {lining.room.name!r}"
            raise SetOutError(place, found, "take this entry out: these lines are snapped anew; or mend the outline")
        local = None if bay is None else shapely.transform(bay, lambda points: turned(points, -frame))
        result.append(KeptLattice(pair(turned(np.array([each.at]), -frame)[0]), local))
    return tuple(result)


def _index(lining: Lining) -> int:
    return next(k for k, room in enumerate(lining.plan.rooms) if room is lining.room)


def direction_kept(room: Room, name: str) -> float | None:
    """Direction of the tiles of a surface as they were snapped, degrees; None if the plan keeps none."""
    return next((each.direction for each in room.kept_lines if each.on == name and each.direction is not None), None)


def kept_start(kept: Sequence[KeptLattice], bay: Polygon, origin: Point, made: Sequence[Parting]) -> OwnStart:  # noqa: ARG001  # as all starts of bays
    """The lattice that a bay goes by: that of the snapped bay in which it lies most, else the nearest."""
    inside = [0.0 if each.bay is None else -shapely.area(shapely.intersection(each.bay, bay)) for each in kept]
    apart = [0.0 if each.bay is None else shapely.distance(each.bay, bay) for each in kept]
    best = min(range(len(kept)), key=lambda k: (round(inside[k], 3), round(apart[k], 3), k))
    return OwnStart(kept[best].origin, (True, True))


def kept_cuts(lining: Lining, frame: float) -> list[FixedLine]:
    """Joints of the floor that stay, as cuts that are made in the bays that they ran through.

    Raises
    ------
    SetOutError
        If one lies outside the floor, or at an angle to the tiles.
    """
    found: dict[tuple[int, float, float], list[tuple[float, float]]] = {}
    for k, each in enumerate(lining.room.kept_joints):
        place = f"{lining.plan.place_of(_index(lining))}.kept_joints[{k}]"
        if not shapely.intersects(lining.floor.divided_region, shapely.LineString(each.line)):
            words = f"the joint from {_at(each.line[0])} to {_at(each.line[1])} lies outside the floor of {lining.room.name!r}"
            raise SetOutError(place, words, "take this entry out, or mend the outline")
        ends = turned(np.array(each.line), -frame)
        reach = np.abs(ends[1] - ends[0])
        axis = int(reach.argmin())
        if reach[axis] > TOUCH:
            words = f"the joint from {_at(each.line[0])} to {_at(each.line[1])} runs at an angle to the tiles"
            raise SetOutError(place, words, "keep the lines too (kept_lines with a direction), or take this entry out")
        low = snap(float(ends[:, axis].mean()) - each.width / 2)
        key = next((own for own in found if own[0] == axis and abs(own[1] - low) < TOUCH and own[2] == each.width), (axis, low, each.width))
        found.setdefault(key, []).append((float(ends[:, 1 - axis].min()), float(ends[:, 1 - axis].max())))
    return [
        FixedLine(axis, low, width, "intermediate", WHY, must=True, spans=tuple(sorted(spans)))
        for (axis, low, width), spans in found.items()
    ]


def _at(point: Point) -> str:
    return f"[{point[0]:g}, {point[1]:g}]"


def share_of(part: Polygon, line: FixedLine) -> float:
    """The share of a part's way across that a kept joint ran through, 0 to 1."""
    crossing = shapely.intersection(part, line_across(part, line.axis, line.low + line.width / 2))
    ends = shapely.get_coordinates(shapely.get_parts(crossing))[:, 1 - line.axis].reshape(-1, 2)
    ends = np.sort(ends, axis=1)
    whole = float(np.ptp(ends, axis=1).sum())
    own = math.fsum(max(0.0, min(b, d) - max(a, c)) for a, b in ends for c, d in line.spans)
    return own / whole if whole > TOUCH else 0.0


def ends_at(line: FixedLine, other: FixedLine) -> bool:
    """Whether a kept joint ended at another, which ran on there."""
    if line.axis == other.axis:
        return False
    here, there = other.low + other.width / 2, line.low + line.width / 2
    return any(a < there < b for a, b in other.spans) and not any(a < here < b for a, b in line.spans)
