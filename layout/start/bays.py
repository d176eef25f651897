"""A bay beside joints whose place is given is a floor of its own: whole tiles from a joint if its far cut allows, else balanced.

Structural joints, joints carried up and joints through corners stand where they are given. Tiles start whole from such a joint
where the narrowest cut of the bay is then no less than the least; else from where the bay's own cuts are best, those at the
joint's faces among them, and that is told.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.joints.values import OwnStart
from layout.start.faces import Part
from layout.start.offsets import best_offsets, measures, snapped
from layout.start.walls import Walls, joined_walls
from layout.units import TOUCH
from layout.vectors import length_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from layout.errors import Point
    from layout.joints.values import Parting
    from layout.plan.wishes import Criteria
    from layout.start.faces import Faces
    from layout.vectors import Floats

ALONG = 50.0
"""A bay lies beside a joint if more of its edge than this runs along it, mm."""


def own_start(
    faces: Faces,
    criteria: Criteria,
    given: tuple[float | None, float | None],
    bay: shapely.Polygon,
    origin: Point,
    cuts: Sequence[Parting],
    *,
    courses: bool = False,
) -> OwnStart:
    """The start of a bay (joint frame, mm) between given cuts; along axes that no cut crosses or that are `given` it keeps its `origin`.

    Along the courses of a bond it does so too, unless `courses` tells that each bay starts for itself there as well: no joint of tiles runs
    along the cut then, and a course starts whole from it.
    """
    at, own, told = list(origin), [False, False], []
    for axis in (0, 1):
        free = given[axis] is None and (courses or faces.lattice[axis].straight)
        joints = _beside(bay, axis, cuts) if free else []
        if joints:
            at[axis], words = _along(faces, criteria, bay, axis, origin[1 - axis], joints)
            own[axis] = True
            told += words
    return OwnStart((at[0], at[1]), (own[0], own[1]), tuple(told))


def _beside(bay: shapely.Polygon, axis: int, cuts: Sequence[Parting]) -> list[tuple[Parting, float, bool]]:
    """Given cuts across an axis that a bay lies beside: the cut, the place of its face there, and whether the bay lies ahead of it."""
    result = []
    edge = bay.boundary
    for cut in cuts:
        if cut.axis != axis or not cut.fixed:
            continue
        for at, ahead in ((cut.low + cut.width, True), (cut.low, False)):
            faces = [segment + (at - cut.low - cut.width / 2) * np.eye(2)[axis] for segment in cut.segments]
            if any(shapely.intersection(edge, shapely.LineString(face).buffer(TOUCH)).length > ALONG for face in faces):
                result.append((cut, at, ahead))
    return result


def _span(bay: shapely.Polygon, axis: int, cut: Parting) -> Floats:
    """From where to where a cut runs along a bay, (1, 2), mm."""
    ends = np.array([segment[[0, -1], 1 - axis] for segment in cut.segments])
    return np.clip([[float(ends.min()), float(ends.max())]], bay.bounds[1 - axis], bay.bounds[3 - axis])


def _along(
    faces: Faces, criteria: Criteria, bay: shapely.Polygon, axis: int, other: float, joints: Sequence[tuple[Parting, float, bool]]
) -> tuple[float, list[str]]:
    """Start of a bay along an axis across which given joints lie beside it, and what is told if tiles are not whole from one."""
    g = faces.lattice[axis]
    edges = [faces.walls_of(axis, [Part(bay, 0.0, other)])]
    for cut, at, ahead in joints:
        length = math.fsum(length_of(segment[-1] - segment[0]) for segment in cut.segments)
        face = replace(Walls.plain([at], [ahead], [0.0]), weight=np.array([length]))
        edges.append(face if g.straight else faces.met(face, _span(bay, axis, cut), axis, Part(bay, 0.0, other)))
    walls = joined_walls(edges)
    whole = [at - shift if ahead else at - g.size - shift for _, at, ahead in joints for shift in g.shifts or (0.0,)]
    found = measures(walls, np.array(whole), g.pitch, g.size, (), least=criteria.least)
    best = int(np.lexsort(criteria.keys(found)[::-1])[0])
    drawn, least = float(found.drawn[best]), min(faces.tile.least_cut, g.size)
    if drawn >= least - TOUCH:
        return whole[best], []
    free = best_offsets(walls, g.pitch, g.size, criteria=criteria)[0]
    if min(free.drawn, least) <= drawn + TOUCH:
        return whole[best], []
    cut = joints[best // max(len(g.shifts), 1)][0]
    words = (
        f"whole tiles from the {cut.kind} joint{f' ({cut.why})' if cut.why else ''} would leave a cut of {drawn:.0f}, under the least of {least:.0f}; "
        f"the bay is balanced, its narrowest cut is {free.drawn:.0f}"
    )
    return snapped(free.at), [words]
