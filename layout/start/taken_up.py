"""Bites of a few millimetres beside a frame, taken up by the joint round it: no tiler saws a millimetre off a tile.

Where the edge of the joint round a drain's frame or a fixing would take no more off the tiles along it than `rules.frame_joint_play`, the
joint is made that much narrower on that side, down to the least joint there may be, and the tiles stay whole. What the frame
itself is and where it stands does not change.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.errors import Finding
from layout.shapes import cleaned, edges_of, offset_edges, parts_of, turned, union_of
from layout.standards.rules import JOINT_LEAST
from layout.start.faces import faces_of
from layout.tiles.widths import cut_widths
from layout.units import SNAP, TOUCH
from layout.words import worded

if TYPE_CHECKING:
    from collections.abc import Sequence

    from layout.joints.lines import Bay
    from layout.lining.surfaces import BreakOn
    from layout.start.faces import Faces
    from layout.vectors import Floats

ROUNDING = 0.01
"""A bite as deep as may be is that still where a room typed at an odd angle has its corners rounded, mm."""


@dataclass(frozen=True, slots=True, eq=False)
class TakenUp:
    """A surface whose frames' joints take up small bites: how it is seen, its bays, and what is told; as it was where nothing is."""

    faces: Faces
    bays: tuple[Bay, ...]
    findings: tuple[Finding, ...] = ()


def taken_up(faces: Faces, bays: Sequence[Bay]) -> TakenUp:
    """Narrow the joints round straight frames where that keeps tiles whole; bays in the surface's axes, with their origins."""
    surface = faces.surface
    framed = [each for each in surface.breaks if not each.diameter]
    if not framed or surface.joint_region is not None:
        return TakenUp(faces, tuple(bays))
    narrowed: dict[str, BreakOn] = {}
    findings = []
    for each in framed:
        by = _bites(faces, bays, each)
        if not by.any():
            continue
        narrowed[each.name] = replace(each, hole=parts_of(offset_edges(each.hole, [by]))[0])
        clear = each.joint or faces.tile.joint
        sides = worded("{int} sides", int=int((by > 0.0).sum())) if (by > 0.0).sum() > 1 else worded("one side")
        text = worded(
            "{name}: the joint round {name_2} is {clear:.3g} for {clear_2:g} on {sides}, so that the tiles there need "
            "not lose {max:.2g} mm (rules.frame_joint_play)",
            name=surface.name,
            name_2=each.name,
            clear=clear - by.max(),
            clear_2=clear,
            sides=sides,
            max=by.max(),
        )
        findings.append(Finding(code="frame-joint-closed", text=text, surface=surface.id, at=each.at))
    if not narrowed:
        return TakenUp(faces, tuple(bays))
    breaks = tuple(narrowed.get(each.name, each) for each in surface.breaks)
    region = cleaned(shapely.difference(surface.field, union_of([each.hole for each in breaks])))
    gained = shapely.difference(region, surface.region)
    strips = [part for part in parts_of(gained) if part.area > SNAP]
    made = tuple(_grown(bay, strips) for bay in bays)
    after = replace(surface, breaks=breaks, region=region)
    lining = replace(faces.lining, surfaces=tuple(after if each is surface else each for each in faces.lining.surfaces))
    return TakenUp(faces_of(lining, after, faces.tile), made, tuple(findings))


def _bites(faces: Faces, bays: Sequence[Bay], each: BreakOn) -> Floats:
    """How far each edge of a frame's hole may stand back so that no tile along it is cut, (n,), mm; 0 where tiles lose more than may be."""
    limit = min(faces.rules.frame_joint_play, (each.joint or faces.tile.joint) - JOINT_LEAST.value)
    edges, _, _ = edges_of(each.hole)
    result = np.zeros(len(edges))
    if limit <= TOUCH:
        return result
    for k, edge in enumerate(edges):
        line = shapely.intersection(shapely.LineString(edge), faces.surface.field)
        if line.geom_type != "LineString" or line.length <= TOUCH:
            continue
        beside = [bay for bay in bays if shapely.intersection(shapely.buffer(line, TOUCH), bay.region).area > TOUCH]
        if len(beside) != 1:  # a joint that runs to a frame ends where it is drawn
            continue
        ends = shapely.get_coordinates(line)
        ends = ends if (ends[1] - ends[0]) @ (edge[1] - edge[0]) < 0.0 else ends[::-1]  # its tiles on the left
        local = turned(ends - np.array(beside[0].origin), -faces.turn)
        crossed = cut_widths(local[None], faces.pattern)
        gone = crossed.gone[(crossed.widths > TOUCH) & (crossed.gone > TOUCH) & (crossed.chords > TOUCH)]
        if len(gone) and gone.max() <= limit + ROUNDING:
            result[k] = min(np.ceil(round(float(gone.max()) / SNAP, 3)) * SNAP, limit)  # noise asks for no thousandth more
    return result


def _grown(bay: Bay, strips: Sequence[shapely.Polygon]) -> Bay:
    """A bay with the strips beside it that frames' joints leave to it."""
    own = [strip for strip in strips if shapely.intersection(shapely.buffer(strip, TOUCH), bay.region).area > TOUCH]
    return replace(bay, region=cleaned(union_of([bay.region, *own]))) if own else bay
