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

INCH = 25.4
"""An inch, mm. Source: the international yard and pound agreement of 1959, an inch being 25.4 mm exactly."""
FOOT = 12 * INCH
"""A foot, mm."""
METRES = 100.0
"""A wall, door or height under this is likely typed in metres, mm (common practice, no source)."""

_FACTORS = {"mm": 1.0, "cm": 10.0, "m": 1000.0}
_LENGTH = re.compile(r"\s*([-+]?(?:\d+(?:\.\d*)?|\.\d+))\s*(mm|cm|m)?\s*")
_FEET = re.compile(r"(\d+(?:\.\d+)?)\s*(?:'|ft\b\.?|feet\b|foot\b|ft(?=\d))[\s-]*")
_INCHES = re.compile(r"(?:(\d+(?:\.\d+)?)(?:[\s-]+(\d+)\s*/\s*(\d+))?|(\d+)\s*/\s*(\d+))\s*(\"|in\.?|inch(?:es)?)?")
_MARKS = str.maketrans({"′": "'", "’": "'", "″": '"', "”": '"', "½": " 1/2", "¼": " 1/4", "¾": " 3/4"})


def snap(value: float) -> float:
    """Round a coordinate to `SNAP`, never to minus zero."""
    return round(value, 3) + 0.0


def parse_length(text: str, *, comma: bool = False) -> float:
    """Read a length as people write it, in mm; `comma` if a comma parts off decimals.

    >>> parse_length("600"), parse_length("60 cm"), parse_length("0.6 m"), parse_length("0,6 m", comma=True)
    (600.0, 600.0, 600.0, 600.0)
    >>> parse_length("6 ft 3 1/2 in"), parse_length("10'"), round(parse_length("-3/8 in"), 3)
    (1917.7, 3048.0, -9.525)

    Raises
    ------
    ValueError
        If the text is not a number with mm, cm, m, feet, inches or no unit.
    """
    text = text.replace(",", ".") if comma else text
    match = _LENGTH.fullmatch(text)
    if match is not None:
        return float(match[1]) * _FACTORS[match[2] or "mm"]
    value = _imperial(text.translate(_MARKS))
    if value is None:
        msg = f"{text!r} is not a length; write 600, '60 cm', '0.6 m' or 21' 4\""
        raise ValueError(msg)
    return value


def _imperial(text: str) -> float | None:
    """Feet and inches in mm; None if the text is none."""
    body = text.strip()
    sign = -1.0 if body.startswith("-") else 1.0
    body = body.removeprefix("-").removeprefix("+").lstrip()
    feet = _FEET.match(body)
    rest = body[feet.end() :] if feet else body
    inches = _INCHES.fullmatch(rest)
    if inches is None:
        return round(sign * float(feet[1]) * FOOT, 6) if feet and not rest else None
    if not feet and not inches[6]:
        return None  # a bare number is no inches
    over, under = float(inches[2] or inches[4] or 0.0), float(inches[3] or inches[5] or 1.0)
    if under == 0.0:
        return None
    value = (float(feet[1]) * FOOT if feet else 0.0) + (float(inches[1] or 0.0) + over / under) * INCH
    return round(sign * value, 6)


def feet_inches(length: float, *, part: int = 16) -> str:
    """A length in feet and inches, to the nearest part of an inch.

    >>> for length in (6502.4, 1917.7, -9.5, 304.5):
    ...     print(feet_inches(length))
    21' 4"
    6' 3 1/2"
    -3/8"
    1' 0"
    """
    count = round(abs(length) / INCH * part)
    whole, rest = divmod(count, part)
    feet, inches = divmod(whole, 12)
    common = math.gcd(rest, part)
    fraction = f"{rest // common}/{part // common}" if rest else ""
    words = " ".join(each for each in (str(inches) if inches or feet or not fraction else "", fraction) if each)
    sign, before = "-" if length < 0 and count else "", f"{feet}' " if feet else ""
    return f'{sign}{before}{words}"'


def metres_meant(length: float) -> str:
    """What to write instead where a length of mm seems to have been typed in metres; empty where it does not.

    >>> metres_meant(7.15), metres_meant(7150)
    ('metres? write 7150 or "7.15 m"', '')
    """
    return f'metres? write {length * 1000:g} or "{length:g} m"' if 0.0 < length < METRES else ""


def metres_typed(text: str, *, comma: bool = False) -> str:
    """As `metres_meant`, of a length as typed: one with its unit is never meant otherwise.

    >>> metres_typed("7.15"), metres_typed("60 mm"), metres_typed("6,5", comma=True)
    ('metres? write 7150 or "7.15 m"', '', 'metres? write 6500 or "6.5 m"')
    """
    text = text.replace(",", ".") if comma else text
    bare = re.fullmatch(r"\s*\d*\.?\d*\s*", text) is not None and any(letter.isdigit() for letter in text)
    return metres_meant(float(text)) if bare else ""


def turn_of(angle_deg: float) -> tuple[float, float]:
    """Cosine and sine of an angle, exact at multiples of 90 degrees."""
    quarter, rest = divmod(angle_deg, 90.0)
    if rest == 0.0:
        return ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(quarter) % 4]
    return math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
