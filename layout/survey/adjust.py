"""A room from tape or laser readings: corners by least squares, how well they are known, what does not close.

Readings are distances between named corners, walls and diagonals alike, in any order. The first corner stands at the
origin, the second on the x axis; the others follow anticlockwise. Where there are more readings than a room needs, the
adjustment spreads the error, and the redundancy of each reading tells how much of an error in it shows.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from layout.errors import PlanError
from layout.survey import blunders
from layout.survey.first_places import first_places
from layout.survey.readings import ROUNDS, Reading, corner_names, equations
from layout.units import EPS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from layout.errors import Point

    Floats = NDArray[np.float64]

SIGMA = 3.0
"""Standard deviation of a reading by tape, mm (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """One reading after the adjustment, mm: `residual` adjusted less read; `redundancy` 0 to 1, the part of an error that shows."""

    reading: Reading
    residual: float
    redundancy: float
    score: float


class Ellipse(NamedTuple):
    """How well a corner is known: half axes of its standard error ellipse, mm, and the way of the longer one, degrees."""

    major: float
    minor: float
    turn_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Survey:
    """Corners in order, mm; fits; how many readings more than needed; the expected error of each corner.

    `suspects` are those that may be wrong: one, with its `error`, where the others tell it apart; else all that
    explain what does not close equally well; none where everything closes to within `limit`. `again` are those whose
    repetition would decide.
    """

    names: tuple[str, ...]
    corners: tuple[Point, ...]
    fits: tuple[Fit, ...]
    spare: int
    suspects: tuple[Fit, ...]
    error: float
    again: tuple[Fit, ...] = ()
    ellipses: tuple[Ellipse, ...] = ()
    sigma: float = SIGMA
    limit: float = blunders.LEAST_WRONG

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


def adjust(readings: Sequence[Reading], *, sigma: float = SIGMA) -> Survey:
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
    names = _enough(readings)
    index = {name: k for k, name in enumerate(names)}
    pairs = np.array([(index[reading.first], index[reading.second]) for reading in readings])
    measured = np.array([reading.length for reading in readings])
    free = [k for k in range(2 * len(names)) if k not in (0, 1, 3)]  # the first corner, and the second's y
    points = _closest(first_places(names, readings), pairs, measured, free)
    slopes, length = equations(points, pairs)
    design, residual = slopes[:, free], length - measured
    share = np.eye(len(readings)) - design @ np.linalg.pinv(design)
    redundancy = np.clip(np.diag(share), 0.0, 1.0)
    score = blunders.scores(residual, redundancy, sigma)
    fits = tuple(
        Fit(reading=reading, residual=float(residual[k]), redundancy=float(redundancy[k]), score=float(score[k]))
        for k, reading in enumerate(readings)
    )
    wrong = blunders.suspects(score, residual, redundancy)
    return Survey(
        names=tuple(names),
        corners=tuple((float(x), float(y)) for x, y in points),
        fits=fits,
        spare=len(readings) - len(free),
        suspects=tuple(fits[k] for k in wrong),
        error=-fits[wrong[0]].residual / fits[wrong[0]].redundancy if len(wrong) == 1 else 0.0,
        again=tuple(fits[k] for k in blunders.to_repeat(share, residual, sigma)) if wrong else (),
        ellipses=_ellipses(design, free, len(names), sigma),
        sigma=sigma,
    )


def _enough(readings: Sequence[Reading]) -> list[str]:
    """Names of the corners, if there are readings enough for them."""
    names = corner_names(readings)
    if len(names) < 3:
        raise PlanError("survey", f"{len(names)} corners found", "measure between three corners at least")
    need = 2 * len(names) - 3
    if len(readings) < need:
        mend = f"measure {need - len(readings)} more: a diagonal ties a corner to one that is not its neighbour"
        raise PlanError("survey", f"{len(readings)} readings for {len(names)} corners", mend)
    return names


def _closest(points: Floats, pairs: NDArray[np.int64], measured: Floats, free: list[int]) -> Floats:
    """Corners (n, 2) moved in their free coordinates until distances fit the measured ones with the least sum of squares."""
    for _ in range(ROUNDS):
        slopes, length = equations(points, pairs)
        step, _, rank, _ = np.linalg.lstsq(slopes[:, free], measured - length, rcond=1e-9)
        if rank < len(free):
            raise PlanError("survey", "a corner is not tied to the others", "measure a diagonal from it")
        flat = points.ravel().copy()
        flat[free] += step
        points = flat.reshape(-1, 2)
        if float(np.abs(step).max()) < 1e-7:
            break
    return points


def _ellipses(design: Floats, free: list[int], count: int, sigma: float) -> tuple[Ellipse, ...]:
    """Standard error ellipses of corners, from the inverse of the normal equations; the first corner and wall 1's way are given."""
    spread = np.zeros((2 * count, 2 * count))
    spread[np.ix_(free, free)] = sigma**2 * np.linalg.pinv(design.T @ design)
    result = []
    for k in range(count):
        values, ways = np.linalg.eigh(spread[2 * k : 2 * k + 2, 2 * k : 2 * k + 2])
        minor, major = (math.sqrt(max(float(value), 0.0)) for value in values)
        result.append(Ellipse(major, minor, math.degrees(math.atan2(float(ways[1, 1]), float(ways[0, 1]))) % 180.0))
    return tuple(result)
