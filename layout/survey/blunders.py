"""Which readings of a survey may be wrong, and which to take again so that it shows.

A reading is tested by its standardised residual (Baarda 1968, A testing procedure for use in geodetic networks). Which others
explain the same misclosure follows from the geometry: leave a reading out, or two, and see whether the rest closes.
"""

from __future__ import annotations

import itertools
import math
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

CRITICAL = 3.29
"""A standardised residual beyond this happens by chance once in a thousand readings (normal distribution; Baarda's data snooping)."""
LEAST_WRONG = 10.0
"""An error under this is no blunder, mm (common practice, no source)."""
ALIKE = 0.98
"""Readings whose residuals stand so near to the greatest explain the misclosure equally well."""
NOTHING = 1e-6
"""A redundancy under this: no other reading checks it."""


def scores(residual: Floats, redundancy: Floats, sigma: float) -> Floats:
    """Standardised residuals (m,): each residual over its own standard deviation; 0 where nothing checks the reading."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(redundancy > NOTHING, np.abs(residual) / (sigma * np.sqrt(redundancy)), 0.0)


def suspects(score: Floats, residual: Floats, redundancy: Floats) -> list[int]:
    """Readings that explain best what does not close; none where all closes within the limits."""
    most = int(score.argmax())
    error = residual[most] / redundancy[most] if redundancy[most] > NOTHING else 0.0
    if score[most] <= CRITICAL or abs(error) <= LEAST_WRONG:
        return []
    return [k for k in range(len(score)) if score[k] > ALIKE * score[most]]


def to_repeat(share: Floats, residual: Floats, sigma: float) -> list[int]:
    """Readings whose repetition would decide which is wrong: all those without one of which, or without some two, the rest closes.

    `share` (m, m) is the matrix that takes errors of the readings to their residuals; residuals (m,) mm.
    """
    v = residual / sigma
    total, spare = float(v @ v), round(float(np.trace(share)))
    checked = [k for k in range(len(v)) if share[k, k] > NOTHING]
    for many in (1, 2):
        drops = {group: _drop(share, v, group) for group in itertools.combinations(checked, many)}
        left = _bound(spare - many)
        closing = {group: drop for group, drop in drops.items() if spare >= many and total - drop <= left}
        if closing:
            best = max(closing.values())
            kept = [group for group, drop in closing.items() if many == 1 or drop > ALIKE * best]
            named = {k for group in kept for k in group}
            return sorted(named, key=lambda k: -abs(v[k]) / math.sqrt(share[k, k]))
    return [k for k in checked if abs(v[k]) / math.sqrt(share[k, k]) > CRITICAL]


def _drop(share: Floats, v: Floats, group: tuple[int, ...]) -> float:
    """By how much the sum of squares falls if some readings are left out; 0 where the others would not hold the room."""
    own = share[np.ix_(group, group)]
    if float(np.linalg.det(own)) < NOTHING ** len(group):
        return 0.0
    part = v[list(group)]
    return float(part @ np.linalg.solve(own, part))


def _bound(spare: int) -> float:
    """What a sum of squares of so many spare readings exceeds once in a thousand (Wilson and Hilferty 1931, chi-square)."""
    if spare <= 0:
        return 1e-6
    part = 2.0 / (9.0 * spare)
    return float(spare * (1.0 - part + 3.09 * math.sqrt(part)) ** 3)
