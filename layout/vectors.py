"""Points and directions as arrays: the names of their types, unit vectors, normals, a point as two plain numbers."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from layout.units import EPS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

Floats: TypeAlias = "NDArray[np.float64]"
Ints: TypeAlias = "NDArray[np.int64]"
Bools: TypeAlias = "NDArray[np.bool_]"


def pair(point: Sequence[float] | Floats) -> tuple[float, float]:
    """A point as two plain numbers."""
    return float(point[0]), float(point[1])


def length_of(vector: Floats) -> float:
    """Length of a vector (2,).

    >>> length_of(np.array([3.0, 4.0]))
    5.0
    """
    return float(np.hypot(vector[0], vector[1]))


def line_length(line: Floats) -> float:
    """Length of a line (n, 2) or (n, 3)."""
    return float(np.sqrt((np.diff(line, axis=0) ** 2).sum(axis=1)).sum())


def unit(vector: Floats) -> Floats:
    """The way of a vector (2,), of length 1; a vector of no length stays as short as it is.

    >>> unit(np.array([3.0, 4.0])).tolist()
    [0.6, 0.8]
    """
    result: Floats = vector / max(length_of(vector), EPS)
    return result


def leftward(way: Floats) -> Floats:
    """A vector (2,) a quarter turn anticlockwise: to the left of travel.

    >>> leftward(np.array([3.0, 4.0])).tolist()
    [-4.0, 3.0]
    """
    return np.array([-way[1], way[0]])


def rightward(way: Floats) -> Floats:
    """A vector (2,) a quarter turn clockwise: to the right of travel."""
    return np.array([way[1], -way[0]])


def cross(one: Floats, other: Floats) -> float:
    """Cross product of two vectors (2,): positive where the second lies to the left of the first."""
    return float(one[0] * other[1] - one[1] * other[0])
