"""Which course of a running bond comes first at the datum wall."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Protocol

import numpy as np

from layout.start.offsets import snapped

if TYPE_CHECKING:
    from collections.abc import Sequence

    from layout.errors import Point
    from layout.joints.values import Division
    from layout.start.faces import Faces
    from layout.start.offsets import Offset

ALIKE = 0.01
"""Cuts that differ less are the same, mm."""


class Weighing(Protocol):
    """What weighs the starts of a surface."""

    @property
    def faces(self) -> Faces:
        """The surface."""

    def gives(self, axis: int, offsets: Sequence[float], start: Point, division: Division | None) -> list[Offset]:
        """What offsets along an axis give."""

    def as_laid(self, x: Offset, y: Offset) -> tuple[Offset, Offset]:
        """A start both ways as laid."""


def course_first(settler: Weighing, start: Point) -> Point:
    """A start (joint frame, mm) of a running bond with the course first at the datum wall that leaves the widest cut there; any other as it is.

    The score is the same for all of them, so the choice is made where a person would look: in the
    course beside one datum wall, at the other.
    """
    faces = settler.faces
    shift = float(faces.pattern.vectors[1][0])
    shifts = faces.lattice[0].shifts
    if len(shifts) < 2:
        return start
    edges = faces.across(1)
    rows = np.flatnonzero(edges.mask & (faces.numbers == faces.datum[1]))
    sides = np.flatnonzero(faces.across(0).mask & (faces.numbers == faces.datum[0]))
    if len(rows) == 0 or len(sides) == 0:
        return start
    g = faces.lattice[1]
    inside = float(edges.at[rows[0]]) + (1.0 if edges.ahead[rows[0]] else -1.0) * (g.pitch - g.size + 1.0)
    course = math.floor((inside - start[1]) / g.pitch)
    walls = faces.walls_at(0, sides)
    candidates = np.array([(start[0] + s) % faces.lattice[0].pitch for s in shifts])
    # short walls are met by some courses only: then another course first may cut less well
    given = [settler.gives(0, [float(at)], (float(at), start[1]), None)[0] for at in (start[0], *candidates)]
    alike = [abs(each.worst - given[0].worst) < ALIKE and abs(each.sawn - given[0].sawn) < 1.0 for each in given[1:]]
    candidates = candidates[np.array(alike)]
    if faces.has_short:  # and which are met right across shows only as laid
        across = settler.gives(1, [start[1]], start, None)[0]
        before = settler.as_laid(given[0], across)[0].worst
        laid = [settler.as_laid(settler.gives(0, [float(at)], (float(at), start[1]), None)[0], across)[0].worst for at in candidates]
        candidates = candidates[np.array([worst >= before - ALIKE for worst in laid], dtype=bool)]
        if len(candidates) == 0:
            return start
    phases = walls.phases(candidates + course * shift, faces.lattice[0].pitch, faces.lattice[0].size).max(axis=1)
    best = int(np.lexsort((np.round(candidates, 3), -np.round(phases, 3)))[0])
    return snapped(float(candidates[best])), start[1]
