"""Details of the membrane that stand too close for a collar of their own, and how far each keeps from the next.

Pipes, fixings and drains reach out by their collar or flange, corners by half a tape. Where two reach into each other
they are one grouped detail, with the overlap found and the lap that is needed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.errors import Finding
from layout.standards.rules import FLANGE_TO_UPSTAND
from layout.units import TOUCH
from layout.words import worded

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from layout.errors import Point
    from layout.identity import SurfaceId
    from layout.lining.build import Lining
    from layout.lining.surfaces import BreakOn, Surface
    from layout.vectors import Floats

CORNER = worded("the corner")


@dataclass(frozen=True, slots=True)
class Detail:
    """Breaks that are treated as one: names, surface, middle (own axes), greatest overlap of their reaches and the lap needed, mm."""

    members: tuple[str, ...]
    surface: SurfaceId
    at: Point
    overlap: float
    needed: float


@dataclass(frozen=True, slots=True)
class Clearance:
    """Clear distance from a break's collar or flange to the nearest other or corner, mm; negative where they overlap."""

    label: str
    surface: SurfaceId
    clear: float
    nearest: str


def close_details(lining: Lining) -> tuple[list[Detail], list[Clearance], list[Finding]]:
    """Grouped details and clear distances of every tanked surface, with a finding for each group and each flange too near an upstand."""
    products = lining.plan.products
    lap, half = products.collar_lap.value, products.tape_width.value / 2
    details: list[Detail] = []
    clear: list[Clearance] = []
    findings: list[Finding] = []
    for surface in lining.surfaces:
        own = [each for each in surface.breaks if shapely.intersects(each.shape, surface.tanked)]
        if not own:
            continue
        corners = _corners(surface, lining)
        reach = [each.reach(lap) for each in own]
        boxes = shapely.bounds(np.array([each.shape for each in own]))
        groups = list(range(len(own)))
        overlaps = [0.0] * len(own)
        at_corner = [False] * len(own)
        for a, one in enumerate(own):
            near = (float(one.shape.distance(corners)) - reach[a] - half, CORNER) if not corners.is_empty else (1e9, "")
            at_corner[a] = near[0] < -TOUCH
            overlaps[a] = max(overlaps[a], -near[0])
            for b in _beside(a, boxes, np.array(reach)):
                other = own[b]
                gap = float(one.shape.distance(other.shape)) - reach[a] - reach[b]
                near = min(near, (gap, other.name))
                if gap < -TOUCH:
                    overlaps[a] = max(overlaps[a], -gap)
                    groups = [groups[a] if g == groups[b] else g for g in groups]
            if near[1]:
                clear.append(Clearance(one.name, surface.id, near[0], near[1]))
        for group in dict.fromkeys(groups):
            members = [k for k, g in enumerate(groups) if g == group]
            if len(members) < 2 and not at_corner[members[0]]:
                continue
            names = [own[k].name for k in members] + ([CORNER] if any(at_corner[k] for k in members) else [])
            middle = shapely.union_all([own[k].shape for k in members]).centroid
            overlap = max(overlaps[k] for k in members)
            at = (float(middle.x), float(middle.y))
            details.append(Detail(tuple(names), surface.id, at, overlap, products.tape_lap.value))
            text = worded(
                "{name}: {names} are one detail: their collars, flanges or tape reach into each other by {overlap:.0f}; "
                "make it of one sheet or lap the pieces by {tape_lap:g}",
                name=surface.name,
                names=", ".join(names),
                overlap=overlap,
                tape_lap=products.tape_lap.value,
            )
            findings.append(Finding(code="detail-grouped", text=text, surface=surface.id, at=at))
        findings += _flanges(surface, own, corners)
    return details, clear, findings


def _beside(number: int, boxes: Floats, reach: Floats) -> list[int]:
    """Breaks among which the one nearest to a break is, and all that reach into it: those whose boxes allow it.

    A box is no farther than what is in it, and its middle lies in that, so no break is farther than the middles are apart.
    """
    one = boxes[number]
    gaps = np.maximum(np.maximum(boxes[:, :2] - one[2:], one[:2] - boxes[:, 2:]), 0.0)
    middles = (boxes[:, :2] + boxes[:, 2:] - one[:2] - one[2:]) / 2
    least = np.hypot(*gaps.T) - reach
    most = np.hypot(*middles.T) - reach
    least[number] = most[number] = np.inf
    near = np.flatnonzero(least <= max(float(most.min(initial=np.inf)), reach[number]) + TOUCH)
    return [int(k) for k in near if k != number]


def _corners(surface: Surface, lining: Lining) -> BaseGeometry:
    """Where tape lies on a surface: its tanked edge but for thresholds and the free top of a wall."""
    edge = shapely.boundary(surface.tanked)
    if surface.placing.line is None:
        doors = [shapely.LineString([face.a, face.b]) for face in lining.shell.thresholds]
        return shapely.difference(edge, shapely.buffer(shapely.union_all(doors), TOUCH)) if doors else edge
    top = surface.tanked.bounds[3] if not surface.tanked.is_empty else 0.0
    x0, _, x1, _ = surface.tanked.bounds
    return shapely.difference(edge, shapely.box(x0 - 1.0, top - TOUCH, x1 + 1.0, top + TOUCH))


def _flanges(surface: Surface, own: list[BreakOn], corners: BaseGeometry) -> list[Finding]:
    result = []
    for each in own:
        if each.kind not in ("gully", "channel") or each.flange <= 0.0 or corners.is_empty:
            continue
        apart = float(each.shape.distance(corners)) - each.flange
        if apart < FLANGE_TO_UPSTAND.value - TOUCH:
            text = worded(
                "the flange of {name} is {apart:.0f} from an upstand; {flange_to_upstand:.0f} wanted ({source})",
                name=each.name,
                apart=max(apart, 0.0),
                flange_to_upstand=FLANGE_TO_UPSTAND.value,
                source=FLANGE_TO_UPSTAND.source,
            )
            result.append(Finding(code="flange-near-upstand", text=text, surface=surface.id, at=each.at))
    return result
