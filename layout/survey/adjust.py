"""A room from tape or laser readings: corners by least squares, what does not close, and the reading that is probably wrong.

Readings are distances between named corners, walls and diagonals alike, in any order. The first corner stands at the
origin, the second on the x axis; the others follow anticlockwise. Where there are more readings than a room needs, the
adjustment spreads the error, and the redundancy of each reading tells how much of an error in it shows.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from layout.budgets import BUDGETS, Budgets
from layout.errors import PlanError, PlanFaults
from layout.units import EPS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from layout.errors import Point

    Floats = NDArray[np.float64]

ROUNDS = 60
CRITICAL = 3.29
"""A standardised residual beyond this happens by chance once in a thousand readings (normal distribution; Baarda's data snooping)."""
LEAST_WRONG = 10.0
"""An error under this is no blunder, mm (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Reading:
    """A measured distance between two corners, mm; `place` is its line, for messages."""

    first: str
    second: str
    length: float
    place: str = ""

    @property
    def name(self) -> str:
        """Both corners."""
        return f"{self.first}–{self.second}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """One reading after the adjustment, mm: `residual` adjusted less read; `redundancy` 0 to 1, the part of an error that shows."""

    reading: Reading
    residual: float
    redundancy: float
    score: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Survey:
    """Corners in order, mm; fits; how many readings more than needed.

    `suspects` are those that may be wrong: one, with its `error`, where the others tell it apart; else all that
    explain what does not close equally well; none where everything closes.
    """

    names: tuple[str, ...]
    corners: tuple[Point, ...]
    fits: tuple[Fit, ...]
    spare: int
    suspects: tuple[Fit, ...]
    error: float

    def between(self, first: str, second: str) -> float:
        """Adjusted distance of two corners, mm."""
        a, b = (self.corners[self.names.index(name)] for name in (first, second))
        return math.dist(a, b)

    def out_of_square(self) -> tuple[float, ...]:
        """At each corner, how far the wall that leaves it stands off square to the one before, over its own length, mm."""
        points = np.array(self.corners)
        result = []
        for k in range(len(points)):
            before, after = points[k] - points[k - 1], points[(k + 1) % len(points)] - points[k]
            result.append(float(before @ after / max(np.hypot(*before), EPS)))
        return tuple(result)


def corner_names(readings: Sequence[Reading]) -> list[str]:
    """Corners in their natural order: A, B … Z or 1, 2 … 10."""
    names = {name for reading in readings for name in (reading.first, reading.second)}
    return sorted(names, key=lambda name: [part.zfill(40) if part.isdecimal() else part for part in re.split(r"(\d+)", name)])


def adjust(readings: Sequence[Reading], *, sigma: float = 3.0) -> Survey:
    """Corners from readings, by least squares (Gauss and Newton's way, all readings of one weight).

    Parameters
    ----------
    readings : distances between corners; corners are named in the order of the walls, anticlockwise.
    sigma : standard deviation of a reading, mm.

    Raises
    ------
    PlanError
        If there are too few readings, a corner hangs loose, or lengths cannot close.
    """
    names = corner_names(readings)
    n = len(names)
    if n < 3:
        raise PlanError("survey", f"{n} corners found", "measure between three corners at least")
    need = 2 * n - 3
    if len(readings) < need:
        mend = f"measure {need - len(readings)} more: a diagonal ties a corner to one that is not its neighbour"
        raise PlanError("survey", f"{len(readings)} readings for {n} corners", mend)
    index = {name: k for k, name in enumerate(names)}
    pairs = np.array([(index[reading.first], index[reading.second]) for reading in readings])
    measured = np.array([reading.length for reading in readings])
    points = _placed(names, readings)
    free = [k for k in range(2 * n) if k not in (0, 1, 3)]  # the first corner, and the second's y
    design = np.empty((0, 0))
    for _ in range(ROUNDS):
        way = points[pairs[:, 1]] - points[pairs[:, 0]]
        length = np.maximum(np.hypot(way[:, 0], way[:, 1]), EPS)
        unit = way / length[:, None]
        design = np.zeros((len(readings), 2 * n))
        for axis in (0, 1):
            design[np.arange(len(readings)), 2 * pairs[:, 0] + axis] -= unit[:, axis]
            design[np.arange(len(readings)), 2 * pairs[:, 1] + axis] += unit[:, axis]
        design = design[:, free]
        step, _, rank, _ = np.linalg.lstsq(design, measured - length, rcond=1e-9)
        if rank < len(free):
            raise PlanError("survey", "a corner is not tied to the others", "measure a diagonal from it")
        flat = points.ravel().copy()
        flat[free] += step
        points = flat.reshape(-1, 2)
        if float(np.abs(step).max()) < 1e-7:
            break
    way = points[pairs[:, 1]] - points[pairs[:, 0]]
    residual = np.hypot(way[:, 0], way[:, 1]) - measured
    hat = design @ np.linalg.pinv(design)
    redundancy = np.clip(1.0 - np.diag(hat), 0.0, 1.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        score = np.where(redundancy > 1e-6, np.abs(residual) / (sigma * np.sqrt(redundancy)), 0.0)
    fits = tuple(
        Fit(reading=reading, residual=float(residual[k]), redundancy=float(redundancy[k]), score=float(score[k]))
        for k, reading in enumerate(readings)
    )
    most = max(fits, key=lambda fit: fit.score)
    error = -most.residual / most.redundancy if most.redundancy > 1e-6 else 0.0
    wrong = most.score > CRITICAL and abs(error) > LEAST_WRONG
    suspects = tuple(fit for fit in fits if fit.score > 0.98 * most.score) if wrong else ()
    return Survey(
        names=tuple(names),
        corners=tuple((float(x), float(y)) for x, y in points),
        fits=fits,
        spare=len(readings) - need,
        suspects=suspects,
        error=error if len(suspects) == 1 else 0.0,
    )


def _placed(names: list[str], readings: Sequence[Reading]) -> Floats:
    """Corners near enough to start from: each where two readings to placed corners meet, on the left of the walk so far."""
    known: dict[tuple[str, str], Reading] = {}
    for reading in readings:
        known[reading.first, reading.second] = known[reading.second, reading.first] = reading
    start = known.get((names[0], names[1]))
    if start is None:
        raise PlanError("survey", f"the wall {names[0]}–{names[1]} is not measured", "measure the first wall: all else stands on it")
    placed: dict[str, Floats] = {names[0]: np.zeros(2), names[1]: np.array([start.length, 0.0])}
    while len(placed) < len(names):
        waiting = [name for name in names if name not in placed]
        name = next((each for each in waiting if sum((each, other) in known for other in placed) >= 2), None)
        if name is None:
            raise PlanError("survey", f"{waiting[0]} is not tied to two corners before it", "measure a diagonal from it")
        ties = [other for other in names if other in placed and (name, other) in known][:2]
        placed[name] = _meeting(name, ties, placed, known)
    return np.array([placed[name] for name in names])


def _meeting(name: str, ties: list[str], placed: dict[str, Floats], known: dict[tuple[str, str], Reading]) -> Floats:
    """Where two circles meet, on the left of the way from the first tie to the second."""
    a, b = placed[ties[0]], placed[ties[1]]
    r, s = known[name, ties[0]].length, known[name, ties[1]].length
    apart = float(np.hypot(*(b - a)))
    if apart > r + s + EPS or abs(r - s) > apart + EPS:
        place = known[name, ties[1]].place or "survey"
        found = f"{name}–{ties[0]} {r:g}, {name}–{ties[1]} {s:g} and {ties[0]}–{ties[1]} {apart:.0f} cannot close"
        raise PlanError(place, found, "one of the three is misread: measure again")
    # the walk keeps the room on its left; a further reading settles a corner that turns back
    along = (r * r - s * s + apart * apart) / (2.0 * apart)
    across = math.sqrt(max(r * r - along * along, 0.0))
    way = (b - a) / apart
    normal = np.array([-way[1], way[0]])
    sides = [np.asarray(a + way * along + normal * across * sign) for sign in (1.0, -1.0)]
    others = [other for other in placed if other not in ties and (name, other) in known]

    def misfit(at: Floats) -> float:
        return sum(abs(math.dist(at, placed[other]) - known[name, other].length) for other in others)

    return sides[0] if misfit(sides[0]) <= misfit(sides[1]) + 1.0 else sides[1]


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
        along = result[pairs[:, 1]] - result[pairs[:, 0]]
        length = np.maximum(np.hypot(along[:, 0], along[:, 1]), EPS)
        unit = along / length[:, None]
        design = np.zeros((len(pairs) + 3, 2 * n))
        for axis in (0, 1):
            design[np.arange(len(pairs)), 2 * pairs[:, 0] + axis] -= unit[:, axis] * weight
            design[np.arange(len(pairs)), 2 * pairs[:, 1] + axis] += unit[:, axis] * weight
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
            mend = f"measure it again: is a digit wrong? Over {budgets.remeasured:g} the plan itself wants mending"
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
