"""What every division of a part has at the least, found without dividing it: what cannot win is not gone into.

Guarantees: no division has less joint than `at_least` says; where `hopeless` says so, none lies on the grid.
Not: that a division with so little exists, nor that there is one where `hopeless` says nothing.
"""

from __future__ import annotations

import functools
import math
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import Polygon

from layout.joints.limits import AREA_SLACK, ASPECT_SLACK, NARROW, RECTANGULAR, by_area, joints_along
from layout.shapes import following, signed_area
from layout.units import EPS, TOUCH

if TYPE_CHECKING:
    from collections.abc import Sequence

    from layout.standards.rules import RuleSet
    from layout.vectors import Floats, Ints

SURE = 0.998
"""Part of a least length that holds though full cells may miss a thousandth of their box."""
CONVEX = -1e-6
"""Sine of a turn to the other side that is none, but float noise."""


def sure_of(rule: RuleSet, joint: float) -> float:
    """Part of a least length by edge and area that every division found has: cells may miss a little, and joints cross each other."""
    return SURE - 2.0 * joint / rule.max_edge


def at_least(part: Polygon, cuts: Sequence[tuple[int, Sequence[float]]], rule: RuleSet, joint: float) -> list[float]:
    """Joint that every division of a part has at the least that begins with given cuts (axis, low faces), mm.

    Asked is how much of its box the part leaves. Lines across the box of which it leaves more than d are wide together no more than that
    area by d; all others are long enough for the joints that they must cross, less one for each hole or pocket between what they lie in.
    A cut falls short of the box by no more than that area by the way to the nearer end, and by the holes and pockets that it meets.
    """
    bounds = part.bounds
    sides = bounds[2] - bounds[0], bounds[3] - bounds[1]
    gaps, times, areas = _gaps(part)
    missing = max(sides[0] * sides[1] - part.area - float(areas.sum()), 0.0)
    result = []
    for axis, lows in cuts:
        other, first, last = sides[1 - axis], bounds[axis], bounds[axis + 2]
        begins, ends = gaps[:, axis], gaps[:, axis + 2]
        high = gaps[:, 3 - axis] - gaps[:, 1 - axis]
        stops = [first, *(at for low in lows for at in (low, low + joint)), last]
        found = 0.0
        for low in lows:
            middle = low + joint / 2
            nearer = min(middle - first, last - middle)
            met = float(high[(begins <= middle) & (ends >= middle)].sum())
            found += max(other - missing / nearer - met, 0.0) if nearer > TOUCH else 0.0
        for begin, end in zip(stops[::2], stops[1::2], strict=True):
            wide = np.maximum(np.minimum(ends, end) - np.maximum(begins, begin), 0.0)
            own = times * (wide > 0.0)
            between = float((own * wide).sum()), float((own * high).sum())
            found += _piece((max(end - begin, 0.0), other), between, missing + float(areas[wide > 0.0].sum()), rule, joint)
        result.append(found)
    return result


def _gaps(part: Polygon) -> tuple[Floats, Ints, Floats]:
    """Boxes (n, 4) of a part's holes and of the pockets between it and its hull, how often a line meets each at the most, and areas, mm²."""
    rings = [shapely.get_coordinates(ring)[:-1] for ring in part.interiors]
    if not _convex(shapely.get_coordinates(part.exterior)[:-1]):
        pockets = shapely.difference(shapely.convex_hull(part), Polygon(part.exterior))
        rings += [shapely.get_coordinates(each)[:-1] for each in shapely.get_parts(pockets) if each.area > 0.0]
    areas = np.array([abs(signed_area(ring)) for ring in rings], dtype=float)
    boxes = np.array([(*ring.min(axis=0), *ring.max(axis=0)) for ring in rings], dtype=float).reshape(-1, 4)
    return boxes, np.array([1 if _convex(ring) else (len(ring) + 1) // 2 for ring in rings], dtype=np.int64), areas


def _piece(sides: tuple[float, float], between: tuple[float, float], missing: float, rule: RuleSet, joint: float) -> float:
    """The same of a piece of a box that leaves no more than an area of it, mm²; `between` are holes and pockets, side by side each way."""
    width, height = sides
    ways = (height, width, between[0]), (width, height, between[1])
    by_edge = math.fsum(max(_crossed(length, across, missing, rule, joint) - gap, 0.0) for length, across, gap in ways)
    area = by_area(width * height - missing, 2.0 * (width + height + between[0] + between[1]), rule, joint)
    return max(sure_of(rule, joint) * max(by_edge, area) - EPS, 0.0)


def _crossed(length: float, across: float, missing: float, rule: RuleSet, joint: float) -> float:
    """Joint that lines of a length must cross, side by side over a width of which some fall short, mm."""
    most = joints_along(length, rule, joint)
    best = 0.0
    for count in range(max(most - 1, 1), most + 1):
        short = length + joint - count * (rule.max_edge + TOUCH + joint) - TOUCH
        if short > 0.0:
            best = max(best, count * (across - missing / short))
    return best


def _convex(ring: Floats) -> bool:
    """Whether a ring (n, 2) turns to one side only."""
    way = following(ring) - ring
    on = following(way)
    turn = way[:, 0] * on[:, 1] - way[:, 1] * on[:, 0]
    slack = CONVEX * np.hypot(*way.T) * np.hypot(*on.T)
    return bool((turn >= slack).all() or (turn <= -slack).all())


def hopeless(lines: tuple[Sequence[float], Sequence[float]], full: Ints, area: Floats, bounds: Floats, rule: RuleSet, joint: float) -> bool:
    """Whether some cell lies in no part that keeps the greatest edge, area and aspect or is weighed as a rectangle.

    Cells are given by row and column: whether there is one, its area (mm²; 0 where there is none) and its box. A part is what hangs
    together of the cells in a box of the grid, and reaches each side of it. All boxes are looked at, with the sides that their parts have
    at the least, and no more than their own.
    """
    (i, k), (j, m) = _boxes(full.shape[1], full.shape[0])
    sums = [np.pad(each.cumsum(axis=0).cumsum(axis=1), ((1, 0), (1, 0))) for each in (full, area)]
    count, filled = (each[m + 1, k + 1] - each[j, k + 1] - each[m + 1, i] + each[j, i] for each in sums)
    whole = count == (k - i + 1) * (m - j + 1)
    sides, most = [], []
    for axis, first, last, low, high in ((0, i, k, j, m), (1, j, m, i, k)):
        at = np.array(lines[axis])
        begin, end = (each if axis == 0 else each.T for each in (bounds[:, :, axis], bounds[:, :, axis + 2]))
        some = full > 0 if axis == 0 else full.T > 0
        own = _highest(np.where(some, end, -np.inf), low, high, last) + _highest(np.where(some, -begin, -np.inf), low, high, first)
        least = -_highest(np.where(some, -end, -np.inf), low, high, last) - _highest(np.where(some, begin, -np.inf), low, high, first)
        sides.append(np.where(whole, own, np.maximum(least, 0.0)) - EPS)
        most.append(np.where(whole, own, at[last + 1] - at[first]) + EPS)
    kept = np.maximum(*sides) <= rule.max_edge + TOUCH
    if rule.max_area_m2 is not None:
        kept &= ~whole | (filled / 1e6 <= rule.max_area_m2 + 2.0 * AREA_SLACK)
    if rule.max_aspect is not None:
        aspect = rule.max_aspect * ASPECT_SLACK
        slim = (sides[0] > aspect * most[1]) | (sides[1] > aspect * most[0])
        kept &= ~slim | (np.minimum(*sides) <= joint * NARROW)
    kept |= filled > RECTANGULAR * sides[0] * sides[1] - 1.0
    kept &= np.isfinite(sides).all(axis=0)
    met = np.zeros(np.add(full.shape, 1), dtype=np.int64)  # how many boxes begin less how many ended, by row and column
    for rows, columns, sign in ((j, i, 1), (m + 1, k + 1, 1), (j, k + 1, -1), (m + 1, i, -1)):
        np.add.at(met, (rows[kept], columns[kept]), sign)
    return bool((full > met.cumsum(axis=0).cumsum(axis=1)[:-1, :-1]).any())


def _highest(values: Floats, low: Ints, high: Ints, column: Ints) -> Floats:
    """The highest value of a column between two rows, for each of several."""
    runs = np.full((len(values), *values.shape), -np.inf)
    for row in range(len(values)):
        np.maximum.accumulate(values[row:], axis=0, out=runs[row, row:])
    found: Floats = runs[low, high, column]
    return found


@functools.lru_cache(maxsize=128)
def _boxes(nx: int, ny: int) -> tuple[tuple[Ints, Ints], tuple[Ints, Ints]]:
    """First and last column, first and last row of every box of cells of a grid."""
    columns, rows = np.triu_indices(nx), np.triu_indices(ny)
    across, up = (each.ravel() for each in np.meshgrid(np.arange(len(columns[0])), np.arange(len(rows[0]))))
    return (columns[0][across], columns[1][across]), (rows[0][up], rows[1][up])
