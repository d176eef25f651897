"""How much tile a hand fixes in an hour: the base's output, times factors of tile, pattern and height.

The figures are those of `Products`; here stands which of them a tile takes. Factors and the time of a cut are common practice
without a source, set so that rooms with a usual share of cuts take 1.2 to 1.6 h/m2 with tile of about 200 to 300 mm and
1.3 to 1.8 with 150 mm on a resin bed (common practice, no source).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from layout.errors import Rule
from layout.units import EPS

if TYPE_CHECKING:
    from layout.standards.products import Products

REACH = 2000.0
"""Height up to which tile is fixed without a platform, mm (common practice, no source)."""
SMALL = (75, 125, 175, 350)
"""Limits of small tile: side of the square of its area, mm."""
LARGE = 600
"""A tile whose longer edge is over the last of `SMALL` goes by that edge: up to this one, or over it, mm."""
SKEWED = 10.0
"""Straight courses turned more than so many degrees off their wall go as slowly as diagonal ones."""


def size_class(edge: float, longest: float) -> str:
    """The class of a tile by the side of the square of its area and by its longest edge, mm.

    >>> size_class(150.0, 150.0), size_class(166.1, 240.0), size_class(347.0, 600.0), size_class(849.0, 1200.0)
    ('to_175', 'to_175', 'to_600', 'over_600')
    """
    if longest > SMALL[-1] + EPS:
        return f"to_{LARGE}" if longest <= LARGE + EPS else f"over_{LARGE}"
    return f"to_{next(limit for limit in SMALL if edge <= limit + EPS)}"


def output_of(products: Products, size: str) -> Rule:
    """Output for a class of tile in straight courses up to 2 m high, m2 an hour and hand: the products' own first, else base times factor."""
    own: Rule = getattr(products, f"fixing_m2_h_{size}")
    if own.value > 0.0:
        return own
    base, factor = products.adhesive_m2_h, getattr(products, f"fixing_{size}")
    return Rule(base.value * factor.value, base.unit, f"{base.source}; factors: {factor.source}")


def pattern_factor(products: Products, pattern: str, turn: float) -> float:
    """Times the output in straight courses; `turn` of the courses against their wall, degrees.

    >>> from layout.standards.products import Products
    >>> [pattern_factor(Products(), *each) for each in (("stack", 0.0), ("stack", 90.0), ("stack", 30.0), ("herringbone", 0.0))]
    [1.0, 1.0, 0.9, 0.8]
    """
    skewed = abs((turn + 45.0) % 90.0 - 45.0) > SKEWED
    factor = 1.0 if pattern == "stack" else float(getattr(products, f"fixing_{pattern.replace('-', '_')}").value)
    if skewed and pattern in ("stack", "running"):
        factor = min(factor, float(products.fixing_diagonal.value))
    return factor
