"""A drawn outline with as-measured lengths put in, and what stands on its walls carried along."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from layout.budgets import BUDGETS, Budgets
from layout.errors import PlanError, PlanFaults
from layout.survey.readings import ROUNDS, equations
from layout.units import EPS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from layout.survey.readings import Reading

    Floats = NDArray[np.float64]

SHAPE_SIGMA = 60.0
"""How far a drawn distance may be off where it is not measured: readings count some hundred times more, mm."""


def refit(points: Floats, readings: Sequence[Reading], *, sigma: float = 2.0) -> Floats:
    """A drawn outline (n, 2) with measured distances put in: corners by least squares, what is not measured kept as near as it goes.

    Corners are named 1 to n, wall k runs from corner k to k + 1. The first corner and the way of wall 1 stay.

    Raises
    ------
    PlanError
        If a reading names no corner.
    """
    n = len(points)
    rows, wanted, weights = [], [], []
    for reading in readings:
        ends = [int(name) - 1 if name.isdecimal() and len(name) < 9 else -1 for name in (reading.first, reading.second)]
        if not all(0 <= end < n for end in ends):
            raise PlanError(reading.place or "readings", f"{reading.name} found", f"corners are numbered 1 to {n} as the plan types them")
        rows.append(ends)
        wanted.append(reading.length)
        weights.append(1.0 / sigma)
    for i in range(n):
        for j in range(i):
            rows.append([j, i])
            wanted.append(float(np.hypot(*(points[i] - points[j]))))
            weights.append(1.0 / SHAPE_SIGMA)
    pairs, lengths, weight = np.array(rows), np.array(wanted), np.array(weights)
    result = points.astype(float).copy()
    way = points[1] - points[0]
    way = way / max(float(np.hypot(*way)), EPS)
    for _ in range(ROUNDS):
        slopes, length = equations(result, pairs)
        design = np.zeros((len(pairs) + 3, 2 * n))
        design[:-3] = slopes * weight[:, None]
        design[-3, 0] = design[-2, 1] = 1e3  # the first corner stays, wall 1 keeps its way
        design[-1, 2:4] = np.array([-way[1], way[0]]) * 1e3
        step = np.linalg.lstsq(design, np.append((lengths - length) * weight, np.zeros(3)), rcond=1e-12)[0].reshape(-1, 2)
        result += step
        if float(np.abs(step).max()) < 1e-7:
            break
    return result


def off_the_plan(points: Floats, readings: Sequence[Reading], budgets: Budgets = BUDGETS) -> list[str]:
    """Readings that are far off the drawn outline (n, 2), in words; corners are named 1 to n.

    Raises
    ------
    PlanFaults
        If some are so far off that they are no readings of this room: a digit wrong or left out.
    """
    told, faults = [], []
    for reading in readings:
        ends = [int(name) - 1 if name.isdecimal() and len(name) < 9 else -1 for name in (reading.first, reading.second)]
        if not all(0 <= end < len(points) for end in ends):
            continue  # `refit` tells it
        drawn = float(np.hypot(*(points[ends[0]] - points[ends[1]])))
        off = reading.length - drawn
        if abs(off) > budgets.remeasured:
            found = f"{reading.name} reads {reading.length:g}, {abs(off):.0f} {'more' if off > 0 else 'less'} than the plan's {drawn:.0f}"
            mend = f"measure it again: is a digit wrong? Over {budgets.remeasured:g} the plan itself wants mending; or raise budgets.remeasured"
            faults.append(PlanError(reading.place or "readings", found, mend))
        elif abs(off) > budgets.remeasured_told:
            told.append(
                f"{reading.name} reads {reading.length:g}, the plan {drawn:.0f}: {off:+.0f}, measure it again if nothing explains it"
            )
    if faults:
        raise PlanFaults(tuple(faults))
    return told


ON_WALL = 1.0
"""A corner this near to a wall stands on it, mm."""


def carried_along(ring: Floats, old: Floats, new: Floats) -> Floats:
    """A plinth or column (n, 2) that stands on walls, moved with them: as a whole, its corners on a wall onto it; others stay."""
    moves: list[Floats] = []
    on: list[tuple[int, int]] = []
    for k, corner in enumerate(ring):
        for wall in range(len(old)):
            foot, part = _foot(corner, old[wall], old[(wall + 1) % len(old)])
            if math.dist(foot, corner) <= ON_WALL:
                a, b = new[wall], new[(wall + 1) % len(new)]
                moves.append(a + (b - a) * part - corner)
                on.append((k, wall))
    if not moves:
        return ring
    result: Floats = ring + np.mean(moves, axis=0)
    for k, wall in on:
        result[k] = _foot(result[k], new[wall], new[(wall + 1) % len(new)])[0]
    return result


def _foot(point: Floats, a: Floats, b: Floats) -> tuple[Floats, float]:
    """The nearest point of a line's stretch and its part along it."""
    way = b - a
    part = float(np.clip((point - a) @ way / max(float(way @ way), EPS), 0.0, 1.0))
    return a + way * part, part
