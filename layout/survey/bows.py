"""Arcs told again in a ring whose curves were flattened: corners that lie on a circle that was drawn are one wall.

Rooms are found by their flattened edges; the plan wants the arc itself, so that the wall is one wall and its length and
radius are those of the drawing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from layout.shapes import following

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]

OFF = 0.3
"""A corner is this far off its circle at most, mm: rings stand on a grid of 0.1 and lose corners within 0.2 of a line."""
OFF_PART = 4e-4
"""And this part of its radius: a quarter circle as one cubic curve is off by 2.8e-4 of it."""
LEAST_BOW = 1.0
"""An arc that rises less over its chord, mm, is a straight wall."""
CLOSED = 4
"""A ring that is a circle has so many walls."""


@dataclass(frozen=True, slots=True)
class Circle:
    """A circle that was drawn, in whole or in part, mm; `flat` is how far a flattened edge lies off it at most."""

    x: float
    y: float
    radius: float
    flat: float


@dataclass(frozen=True, slots=True)
class Bow:
    """`count` edges of a ring from corner `first` on that are one arc; `bulge` as in DXF."""

    first: int
    count: int
    bulge: float


def bows_of(ring: Floats, circles: Sequence[Circle]) -> tuple[Bow, ...]:
    """Arcs of a ring (n, 2), mm, by the circles that were drawn; in the order of their first corners, none over another."""
    n = len(ring)
    taken = np.zeros(n, dtype=bool)
    result: list[Bow] = []
    for circle in dict.fromkeys(circles):
        edges = _on(ring, circle) & ~taken
        stretches = [(a, b - a) for a, b in _quarters(n)] if edges.all() else _runs(edges)
        for first, count in stretches:
            for bow in _bow(ring, circle, first, count):
                result.append(bow)
                taken[np.arange(first, first + count) % n] = True
    return tuple(sorted(result, key=lambda bow: bow.first))


def _on(ring: Floats, circle: Circle) -> Bools:
    """Which edges of a ring are chords of a circle, no further off it than flattening takes them."""
    middle = np.array([circle.x, circle.y])
    off = OFF + OFF_PART * circle.radius
    ends = following(ring)
    on = np.abs(np.hypot(*(ring - middle).T) - circle.radius) <= off
    deep = circle.radius - np.hypot(*((ring + ends) / 2 - middle).T)
    result: Bools = on & np.roll(on, -1) & (deep <= circle.flat + off)
    return result


def _runs(edges: Bools) -> list[tuple[int, int]]:
    """Runs of two and more edges round a ring, not all of them: first and count."""
    n = len(edges)
    starts = np.flatnonzero(edges & ~np.roll(edges, 1))
    runs = []
    for first in starts.tolist():
        count = next(k for k in range(n + 1) if not edges[(first + k) % n])
        if count >= 2:
            runs.append((first, count))
    return runs


def _quarters(n: int) -> list[tuple[int, int]]:
    """A ring of n edges in so many stretches as a circle has walls."""
    ends = [round(k * n / CLOSED) for k in range(CLOSED + 1)]
    return list(pairwise(ends))


def _bow(ring: Floats, circle: Circle, first: int, count: int) -> list[Bow]:
    """A stretch of a ring as an arc of a circle's radius; none where it hardly rises over its chord."""
    points = ring[np.arange(first, first + count + 1) % len(ring)] - [circle.x, circle.y]
    step = np.diff(np.unwrap(np.arctan2(points[:, 1], points[:, 0])))
    if not (np.all(step > 0.0) or np.all(step < 0.0)):
        return []
    chord, sweep = float(np.hypot(*(points[-1] - points[0]))), float(abs(step.sum()))
    half = math.asin(min(chord / (2.0 * circle.radius), 1.0))
    quarter = (half if sweep <= math.pi else math.pi - half) / 2.0
    if math.tan(quarter) * chord / 2.0 < LEAST_BOW:
        return []
    return [Bow(first, count, math.copysign(math.tan(quarter), float(step.sum())))]
