"""The limits of a movement-joint rule set on a bay, and the least joint that any division under them must have.

Guarantees: no division by cuts right across, whatever its cuts, has less joint than `least_joint` says.
Not: that a division with so little exists.
"""

from __future__ import annotations

import functools
import math
from typing import TYPE_CHECKING

from layout.units import TOUCH
from layout.words import worded

if TYPE_CHECKING:
    from collections.abc import Callable

    from layout.standards.rules import RuleSet

ASPECT_SLACK = 1.005
"""Rules give sides of the room; bays are measured between joints, which makes 8 x 4 m 2.004, not 2."""
AREA_SLACK = 1e-6
"""Float noise of an area, m²."""
RECTANGULAR = 0.999
"""Part of its box that a shape fills at the least to be weighed as a rectangle; the rest is float noise and bent walls."""
NARROW = 4.0
"""A strip no wider than this many joints is not told by its aspect: no cut would mend it."""
MOST_BAYS = 200
"""Equal bays along a side that are tried at the most: bounds the work where a plan is a thousand times too long."""


def keeps(long: float, short: float, area: float, rule: RuleSet, joint: float) -> bool:
    """Whether a bay (sides mm, area mm²) keeps the limits of a rule set."""
    return (
        long <= rule.max_edge + TOUCH
        and (rule.max_area_m2 is None or area / 1e6 <= rule.max_area_m2 + AREA_SLACK)
        and (rule.max_aspect is None or long / short <= rule.max_aspect * ASPECT_SLACK or short <= joint * NARROW)
    )


def breach(long: float, short: float, area: float, rule: RuleSet, joint: float, *, named: bool = True) -> str:
    """The first figure of a bay (sides mm, area mm²) that breaks a rule set, in words; empty if none does.

    Not `named`, the rule set is called the rule: for the crew, whose sheet says elsewhere which it is.
    """
    if keeps(long, short, area, rule, joint):
        return ""
    if long > rule.max_edge + TOUCH:
        over = worded("a bay {long:.0f} long, over {max_edge:.0f}", long=long, max_edge=rule.max_edge)
    elif rule.max_area_m2 is not None and area / 1e6 > rule.max_area_m2 + AREA_SLACK:
        over = worded("a bay of {area:.1f} m², over {max_area_m2:g}", area=area / 1e6, max_area_m2=rule.max_area_m2)
    else:
        over = worded("a bay of aspect {long:.2f}, over {max_aspect:g}", long=long / short, max_aspect=rule.max_aspect)
    return worded("{over} of {name}", over=over, name=rule.name) if named else worded("{over} by the rule", over=over)


def counts(length: float, other: float, area: float, rule: RuleSet, joint: float) -> list[int]:
    """Numbers of equal bays worth trying along a side: by edge, one more, by area, by aspect."""
    least = max(math.ceil((length + joint - TOUCH) / (rule.max_edge + joint)), 1)
    found = {least, least + 1}
    if rule.max_area_m2 is not None:
        found.add(math.ceil(area / 1e6 / rule.max_area_m2 - 1e-9))
    if rule.max_aspect is not None:
        found.add(math.ceil((length + joint) / (other * rule.max_aspect * ASPECT_SLACK + joint) - 1e-9))
    return sorted(count for count in found if 2 <= count <= MOST_BAYS)


def joints_along(length: float, rule: RuleSet, joint: float) -> int:
    """Joints that a line of a length must cross at the least, whatever the division.

    Bays cut one after another each take no more than the greatest edge and one joint, so their number is at least
    (length + joint) / (edge + joint); cutting a line in two never lets the two need fewer.
    """
    return max(math.ceil((length + joint) / (rule.max_edge + TOUCH + joint) - 1e-9) - 1, 0)


def by_area(area: float, perimeter: float, rule: RuleSet, joint: float) -> float:
    """Least joint by the greatest area: a bay has a perimeter of at least four times the root of its area, mm.

    The perimeters of all bays are those of the shape and both sides of every joint, and small bays have more for their area:
    2 L >= 4 (A - L joint) / root(most) - P. `perimeter` is measured along the axes.
    """
    if rule.max_area_m2 is None:
        return 0.0
    most = (rule.max_area_m2 + AREA_SLACK) * 1e6
    root = math.sqrt(most)
    return max((2.0 * area / root - perimeter / 2.0) / (1.0 + 2.0 * joint / root), 0.0)


def least_joint(width: float, height: float, rule: RuleSet, joint: float) -> float:
    """Least joint that any division of a rectangle by cuts right across must have, mm.

    By edge: lines along each side cross so many joints everywhere; where two joints cross, one of them is shorter by
    the other's width. By induction over the first cut no division has less.
    """
    return least_under(rule, joint)(width, height)


@functools.lru_cache(maxsize=16)
def least_under(rule: RuleSet, joint: float) -> Callable[[float, float], float]:
    """The same for one rule and width of joint: asked so often that `joints_along` and `by_area` are worked out in place."""
    module = rule.max_edge + TOUCH + joint
    root = math.inf if rule.max_area_m2 is None else math.sqrt((rule.max_area_m2 + AREA_SLACK) * 1e6)
    over = 1.0 + 2.0 * joint / root

    def least(width: float, height: float) -> float:
        x, y = math.ceil((width + joint) / module - 1e-9) - 1, math.ceil((height + joint) / module - 1e-9) - 1
        by_edge = 0.0
        if x > 0:
            by_edge = x * height + y * width - x * y * joint if y > 0 else x * height
        elif y > 0:
            by_edge = y * width
        area = (2.0 * (width * height) / root - (width + height)) / over
        return max(area, by_edge)

    return least
