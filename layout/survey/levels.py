"""Levels of a floor by water or laser: differences between points, brought together by least squares.

A water level gives the rise from one point to another. A laser gives, at each point, how far its line stands above the floor;
readings from one setting-up hang together, and a second setting-up is tied in by points that were read from both.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from layout.errors import PlanError
from layout.survey import blunders
from layout.survey.readings import in_order

if TYPE_CHECKING:
    from collections.abc import Sequence

SIGMA = 1.5
"""Standard deviation of a level reading, mm (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Rise:
    """How much higher the second point stands than the first, mm; `of_laser` if the first is a laser's line; `place` for messages."""

    first: str
    second: str
    rise: float
    place: str = ""
    of_laser: bool = False

    @property
    def name(self) -> str:
        """Both points, or the point alone that a laser was read at."""
        return self.second if self.of_laser else f"{self.first}–{self.second}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Levels:
    """Levels of points against the first of them, mm; the residual of each reading; what does not close.

    `again` are the readings whose repetition would decide; none where all close to within `limit`.
    """

    names: tuple[str, ...]
    levels: tuple[float, ...]
    residuals: tuple[float, ...]
    spare: int
    again: tuple[Rise, ...] = ()
    limit: float = blunders.LEAST_WRONG


def adjust_levels(readings: Sequence[Rise], *, sigma: float = SIGMA) -> Levels:
    """Levels from rises, by least squares, all readings of one weight.

    Raises
    ------
    PlanError
        If no two points are read, or one is not tied to the others.
    """
    lasers = list(dict.fromkeys(each.first for each in readings if each.of_laser))
    names = in_order({each.second for each in readings} | {each.first for each in readings if not each.of_laser})
    if len(names) < 2:
        raise PlanError("levels", f"{len(names)} points found", "read two points at least")
    index = {name: k for k, name in enumerate(names)}
    lines = {name: len(names) + k for k, name in enumerate(lasers)}
    design = np.zeros((len(readings), len(names) + len(lasers)))
    for row, each in enumerate(readings):
        design[row, lines[each.first] if each.of_laser else index[each.first]] = -1.0
        design[row, index[each.second]] = 1.0
    free = design[:, 1:]  # the first point is the level that the others are told against
    rises = np.array([each.rise for each in readings])
    found, _, rank, _ = np.linalg.lstsq(free, rises, rcond=1e-9)
    if rank < free.shape[1]:
        raise PlanError("levels", "some points are not tied to the others", "read one of them from both places")
    residual = free @ found - rises
    share = np.eye(len(readings)) - free @ np.linalg.pinv(free)
    redundancy = np.clip(np.diag(share), 0.0, 1.0)
    wrong = blunders.suspects(blunders.scores(residual, redundancy, sigma), residual, redundancy)
    return Levels(
        names=tuple(names),
        levels=(0.0, *(float(value) for value in found[: len(names) - 1])),
        residuals=tuple(float(value) for value in residual),
        spare=len(readings) - rank,
        again=tuple(readings[k] for k in blunders.to_repeat(share, residual, sigma)) if wrong else (),
    )
