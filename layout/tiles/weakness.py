"""Which cut tiles are weak: slivers, narrow necks, holes near an edge."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.standards.rules import WEAK_EDGE, WEAK_NECK

if TYPE_CHECKING:
    from numpy.typing import NDArray


def weak(pieces: NDArray[np.object_]) -> NDArray[np.bool_]:
    """Which pieces are nowhere wider than `WEAK_NECK`, have a neck narrower than that, or a hole nearer to the edge than `WEAK_EDGE`, (n,)."""
    result: NDArray[np.bool_] = _nearest_hole(pieces) < WEAK_EDGE.value
    rest = np.flatnonzero(~result)  # to eat a piece in costs most
    result[rest] = _parts(pieces[rest]) != 1
    return result


def weakness(pieces: NDArray[np.object_]) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Parts that a piece falls into, eaten in by half the neck's limit, and the distance of its nearest hole to its edge, mm."""
    return _parts(pieces), _nearest_hole(pieces)


def _parts(pieces: NDArray[np.object_]) -> NDArray[np.int64]:
    eaten = shapely.buffer(pieces, -WEAK_NECK.value / 2, join_style="mitre")
    return np.asarray(np.where(shapely.is_empty(eaten), 0, shapely.get_num_geometries(eaten)), dtype=np.int64)


def _nearest_hole(pieces: NDArray[np.object_]) -> NDArray[np.float64]:
    near = np.full(len(pieces), math.inf)
    for k in np.flatnonzero(shapely.get_num_interior_rings(pieces) > 0):
        near[k] = min(ring.distance(pieces[k].exterior) for ring in pieces[k].interiors)
    return near
