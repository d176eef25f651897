"""Shapes with many holes cut by a box or a line: only the holes that it meets are overlaid, the others stay or go as they are."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import Polygon

from layout.units import TOUCH

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from layout.vectors import Floats

MANY = 24
"""With fewer holes a shape is overlaid whole: sorting its holes would cost as much."""


def clipped(shape: BaseGeometry, box: tuple[float, float, float, float]) -> BaseGeometry:
    """What of a shape lies in a box (x0, y0, x1, y1), mm: the same as its intersection with the box."""
    whole = shapely.box(*box)
    if not isinstance(shape, Polygon) or len(shape.interiors) < MANY:
        return shapely.intersection(shape, whole)
    holes, bounds = _holes_of(shape)
    low, high = np.array(box[:2]), np.array(box[2:])
    inside = np.all(bounds[:, :2] > low + TOUCH, axis=1) & np.all(bounds[:, 2:] < high - TOUCH, axis=1)
    met = ~inside & _meeting(bounds, np.array([box]))
    found = shapely.intersection(Polygon(shape.exterior, list(holes[met])), whole)
    if not inside.any():
        return found
    parts = shapely.get_parts(found)
    parts = parts[shapely.get_type_id(parts) == shapely.GeometryType.POLYGON]
    points = shapely.get_point(holes[inside], 0)
    made = []
    for part in parts:
        shapely.prepare(part)
        own = shapely.contains(part, points)
        made.append(Polygon(part.exterior, [*part.interiors, *holes[inside][own]]))
    return made[0] if len(made) == 1 else shapely.MultiPolygon(made)


def clipped_by_each(shape: BaseGeometry, boxes: Sequence[tuple[float, float, float, float]]) -> list[BaseGeometry]:
    """What of a shape lies in each of some boxes."""
    if isinstance(shape, Polygon) and len(shape.interiors) >= MANY:
        return [clipped(shape, box) for box in boxes]
    return list(shapely.intersection(shape, shapely.box(*np.array(boxes, dtype=float).T)))


def near(shape: BaseGeometry, bounds: Floats) -> BaseGeometry:
    """A shape with those of its holes only that one of several boxes (n, 4) meets, for a look at what lies in those boxes alone."""
    if not isinstance(shape, Polygon) or len(shape.interiors) < MANY:
        return shape
    holes, own = _holes_of(shape)
    return Polygon(shape.exterior, list(holes[_meeting(own, bounds)]))


def _meeting(bounds: Floats, boxes: Floats) -> NDArray[np.bool_]:
    """Which bounds (n, 4) have something in common with any of some boxes (m, 4)."""
    x0, y0, x1, y1 = bounds.T[:, :, None]
    a0, b0, a1, b1 = boxes.T[:, None, :]
    apart = (x0 > a1 + TOUCH) | (x1 < a0 - TOUCH) | (y0 > b1 + TOUCH) | (y1 < b0 - TOUCH)
    return np.asarray(~apart.all(axis=1), dtype=bool)


def _holes_of(shape: Polygon) -> tuple[NDArray[np.object_], Floats]:
    """Rings of a shape's holes, and their bounds (n, 4), mm."""
    rings = np.asarray(shapely.get_rings(shape)[1:], dtype=object)
    return rings, np.asarray(shapely.bounds(rings), dtype=float)
