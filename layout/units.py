"""Units and tolerances: one place for each.

Lengths are millimetres and angles degrees wherever nothing else is said. Coordinates are rounded
to `SNAP` where they enter and then kept without a precision model.
"""

from __future__ import annotations

import math
import re

SNAP = 0.001
"""Coordinates are rounded to this where they enter, and a start after it is chosen, mm."""
EPS = 1e-6
"""Float noise: nearer than this is the same place, mm."""
TOUCH = 0.1
"""A wall this near a tile's edge is on it; a strip nowhere wider is nothing, mm."""
SAGITTA = 0.05
"""Greatest distance of a flattened arc from the true one, mm."""
STRAIGHT_DEG = 0.5
"""Walls that turn less than this at a corner are one wall, degrees."""

_FACTORS = {"mm": 1.0, "cm": 10.0, "m": 1000.0}
_LENGTH = re.compile(r"\s*([-+]?(?:\d+(?:\.\d*)?|\.\d+))\s*(mm|cm|m)?\s*")


def snap(value: float) -> float:
    """Round a coordinate to `SNAP`, never to minus zero."""
    return round(value, 3) + 0.0


def parse_length(text: str) -> float:
    """Read a length as people write it, in mm.

    >>> parse_length("600"), parse_length("60 cm"), parse_length("0.6 m")
    (600.0, 600.0, 600.0)

    Raises
    ------
    ValueError
        If the text is not a number with mm, cm, m or no unit.
    """
    match = _LENGTH.fullmatch(text)
    if match is None:
        msg = f"{text!r} is not a length; write 600, '60 cm' or '0.6 m'"
        raise ValueError(msg)
    return float(match[1]) * _FACTORS[match[2] or "mm"]


def turn_of(angle_deg: float) -> tuple[float, float]:
    """Cosine and sine of an angle, exact at multiples of 90 degrees."""
    quarter, rest = divmod(angle_deg, 90.0)
    if rest == 0.0:
        return ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(quarter) % 4]
    return math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
