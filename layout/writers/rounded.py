"""Figures as records hold them: lengths to 0.001 mm, m² and degrees to 1e-6, rings from their lowest-left vertex.

No minus zero; outlines anticlockwise, holes clockwise, not closed; a ring that rounding would spoil is written to 1e-6.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from layout.codes import CODES
from layout.shapes import signed_area, started_low_left

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely import Polygon

    from layout.errors import Finding

    Floats = NDArray[np.float64]


NOISE = 3
"""So many places behind the last that is printed are noise of sums: rounded off first, so that a half is a half however the room lies."""


def _as_printed(value: float, digits: int) -> float:
    return round(round(float(value), digits + NOISE), digits) + 0.0


def mm(value: float) -> float:
    """A length for the record."""
    return _as_printed(value, 3)


def fine(value: float) -> float:
    """An area in m2 or an angle for the record."""
    return _as_printed(value, 6)


def pair(point: tuple[float, float] | Floats) -> list[float]:
    """A point for the record."""
    return [mm(point[0]), mm(point[1])]


def points(line: Floats, digits: int = 3) -> list[list[float]]:
    """Points of a line for the record."""
    rounded = np.round(np.round(np.asarray(line, dtype=float), digits + NOISE), digits) + 0.0
    result: list[list[float]] = rounded.tolist()
    return result


def ring(coords: Floats, *, hole: bool = False, digits: int = 3) -> list[list[float]]:
    """A ring for the record."""
    if (signed_area(coords) < 0.0) != hole:
        coords = coords[::-1]
    return points(started_low_left(coords), digits)


def rings(polygon: Polygon) -> tuple[list[list[float]], list[list[list[float]]]]:
    """Outline and holes of a polygon for the record."""
    digits = 3 if _sound(polygon, 3) else 6
    outline = ring(shapely.get_coordinates(polygon.exterior)[:-1], digits=digits)
    holes = [ring(shapely.get_coordinates(each)[:-1], hole=True, digits=digits) for each in polygon.interiors]
    return outline, sorted(holes, key=lambda r: (r[0][1], r[0][0]))


def _sound(polygon: Polygon, digits: int) -> bool:
    rounded = shapely.transform(polygon, lambda xy: np.round(xy, digits))
    return bool(rounded.is_valid and not rounded.is_empty)


def finding_record(finding: Finding) -> dict[str, Any]:
    """A finding for the record."""
    return {
        "code": finding.code,
        "weight": CODES[finding.code].weight,
        "text": finding.text,
        "surface": finding.where,
        "at": pair(finding.at) if finding.at else None,
    }
