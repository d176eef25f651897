"""Straight cuts through parts of a region: where they run, what they leave, and which lattice starts beyond them."""

from __future__ import annotations

import functools
import math
from typing import TYPE_CHECKING, NamedTuple, TypeAlias

import numpy as np
import shapely
from shapely import LineString, Polygon

from layout.holes import clipped, clipped_by_each, near
from layout.joints.limits import RECTANGULAR, breach
from layout.joints.values import KEPT, FixedLine, Itself, Parting
from layout.shapes import parts_of
from layout.units import EPS, TOUCH
from layout.words import worded

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from layout.errors import Point
    from layout.joints.values import Undivided
    from layout.vectors import Floats

Span: TypeAlias = tuple[float, float]

CORNER_NEAR = 2.0
"""Half the side of the window at a re-entrant corner through which a part is asked whether it still wraps round it, mm."""
WRAPS = 0.6
"""Part of that window that a part fills if it wraps round the corner: three quarters, and a half if a joint runs through it."""


ALONG = 50.0
"""A stretch of joint with tile at one side only that is no longer than this is its end at a slanted wall, mm."""


def line_across(part: BaseGeometry, axis: int, at: float) -> LineString:
    """A line across a part, square to an axis."""
    x0, y0, x1, y1 = part.bounds
    return LineString([(at, y0 - 1.0), (at, y1 + 1.0)] if axis == 0 else [(x0 - 1.0, at), (x1 + 1.0, at)])


def crosses(part: Polygon, axis: int, low: float, width: float) -> bool:
    """Whether a cut's centre line runs through a part."""
    first, last = part.bounds[axis], part.bounds[axis + 2]
    if not first + EPS < low + width / 2 < last - EPS:
        return False
    return bool(shapely.length(_across_all(part, axis, [low + width / 2])[0]) > TOUCH)


def _across_all(part: BaseGeometry, axis: int, ats: Sequence[float]) -> NDArray[np.object_]:
    """What of lines across a part, square to an axis, lies in it."""
    first, last = part.bounds[1 - axis] - 1.0, part.bounds[3 - axis] + 1.0
    ends = np.empty((len(ats), 2, 2))
    ends[:, :, axis] = np.reshape(ats, (-1, 1))
    ends[:, :, 1 - axis] = first, last
    lines = shapely.linestrings(ends)
    return np.asarray(shapely.intersection(near(part, shapely.bounds(lines)), lines))


def rectangular(part: Polygon) -> bool:
    """Whether a part is a rectangle along the axes, but for its holes."""
    x0, y0, x1, y1 = part.bounds
    return bool(Polygon(part.exterior).area > RECTANGULAR * (x1 - x0) * (y1 - y0))


def notched(part: Polygon, line: FixedLine) -> bool:
    """Whether a part still wraps round the re-entrant corner of a line."""
    if line.corner is None or line.kind != "intermediate":
        return False
    x, y = line.corner
    window = (x - CORNER_NEAR, y - CORNER_NEAR, x + CORNER_NEAR, y + CORNER_NEAR)
    return bool(clipped(part, window).area > WRAPS * (2.0 * CORNER_NEAR) ** 2)


def why_not(task: Undivided, part: Polygon, *, named: bool = True) -> str:
    """The first figure of a part that breaks the rule set, in words, `named` as `breach` takes it; empty if none does."""
    x0, y0, x1, y1 = part.bounds
    rule = task.rules.movement
    found = breach(max(x1 - x0, y1 - y0), max(min(x1 - x0, y1 - y0), EPS), part.area, rule, task.rules.movement_joint, named=named)
    if not found and rule.reentrant and any(notched(part, line) for line in task.fixed):
        if not named:
            return worded("a bay with a re-entrant corner, against the rule")
        return worded("a bay with a re-entrant corner, against {name}", name=rule.name)
    return found


def equal_lows(part: Polygon, axis: int, joints: int, width: float) -> list[float]:
    """Low faces of cuts that divide a part in equal bays."""
    first, last = part.bounds[axis], part.bounds[axis + 2]
    bay = (last - first - joints * width) / (joints + 1)
    return [first + (k + 1) * bay + k * width for k in range(joints)]


def split(part: Polygon, axis: int, lows: Sequence[float], width: float) -> tuple[tuple[Polygon, ...], float]:
    """Pieces of a part between cuts, and the cuts' total length, mm."""
    return _split(Itself(part), axis, tuple(lows), width)


@functools.lru_cache(maxsize=KEPT)
def _split(itself: Itself[Polygon], axis: int, lows: tuple[float, ...], width: float) -> tuple[tuple[Polygon, ...], float]:
    part = itself.value
    x0, y0, x1, y1 = part.bounds
    length = math.fsum(shapely.length(_across_all(part, axis, [low + width / 2 for low in lows])).tolist())
    stops = [part.bounds[axis] - 1.0, *[edge for low in lows for edge in (low, low + width)], part.bounds[axis + 2] + 1.0]
    between = zip(stops[::2], stops[1::2], strict=True)
    boxes = [(a, y0 - 1.0, b, y1 + 1.0) if axis == 0 else (x0 - 1.0, a, x1 + 1.0, b) for a, b in between]
    pieces = [p for shape in clipped_by_each(part, boxes) for p in parts_of(shape) if p.area > 1.0]
    return tuple(pieces), float(length)


def saw(
    task: Undivided, part: Polygon, origin: Point, axis: int, lows: Sequence[float], like: FixedLine, *, fixed: bool
) -> tuple[list[Parting], list[tuple[Polygon, Point]]]:
    """Cut a part at low faces, with the width, kind and reason of a line; the pieces each have the start of their lattice.

    Beyond a cut tiles start afresh at its far face, unless cuts go through one lattice.
    """
    cuts: list[Parting] = []
    pieces: list[tuple[Polygon, Point]] = []
    start, width = origin, like.width
    sawn, rest = _sawn(Itself(part), axis, tuple(lows), like)
    for each in sawn:
        cuts.append(Parting(axis, each.low, width, like.kind, like.why, fixed, each.segments, like.bridged, each.dropped))
        pieces += [(piece, start) for piece in each.before]
        if task.lattice[axis].straight and task.rules.bays == "shift":
            start = (each.low + width, start[1]) if axis == 0 else (start[0], each.low + width)
    return cuts, [*pieces, *((piece, start) for piece in rest)]


class _Sawn(NamedTuple):
    """A cut as it is sawn: its low face, centre lines, what of its strip is no joint (mm²), and the pieces before it."""

    low: float
    segments: tuple[Floats, ...]
    dropped: float
    before: tuple[Polygon, ...]


@functools.lru_cache(maxsize=KEPT)
def _sawn(part: Itself[Polygon], axis: int, lows: tuple[float, ...], like: FixedLine) -> tuple[tuple[_Sawn, ...], tuple[Polygon, ...]]:
    """A part cut at low faces one after the other, and the pieces beyond the last."""
    result: list[_Sawn] = []
    rest: BaseGeometry = part.value
    for low in lows:
        segments, dropped = _runs(rest, axis, low, like)
        if not segments:
            continue
        before, after = (
            _strip(rest, axis, rest.bounds[axis] - 1.0, low),
            _strip(rest, axis, low + like.width, rest.bounds[axis + 2] + 1.0),
        )
        result.append(_Sawn(low, segments, dropped, _pieces(before)))
        rest = after
    return tuple(result), _pieces(rest)


def _pieces(shape: BaseGeometry) -> tuple[Polygon, ...]:
    return tuple(part for part in parts_of(shape) if part.area > EPS)


def _strip(part: BaseGeometry, axis: int, low: float, high: float) -> BaseGeometry:
    """What of a part lies between two faces across an axis."""
    x0, y0, x1, y1 = part.bounds
    return clipped(part, (low, y0 - 1.0, high, y1 + 1.0) if axis == 0 else (x0 - 1.0, low, x1 + 1.0, high))


def _stretches(inside: BaseGeometry) -> list[Floats]:
    """Stretches of what of a line lies in a part, each (2, 2), mm."""
    return [shapely.get_coordinates(line) for line in shapely.get_parts(inside) if line.length > TOUCH]


def _spans(lines: Sequence[Floats], axis: int) -> list[Span]:
    """Stretches across an axis as their other coordinate, low and high, mm."""
    return [(float(line[:, 1 - axis].min()), float(line[:, 1 - axis].max())) for line in lines]


def _runs(part: BaseGeometry, axis: int, low: float, like: FixedLine) -> tuple[tuple[Floats, ...], float]:
    """Where a cut is a joint, and the area of its strip that is none, mm²: with tile at one side only the joint is that of the edge.

    A structural joint is in the substrate and stays one beside an edge.
    """
    width, middle = like.width, low + like.width / 2
    sides = () if like.kind == "structural" else (low - TOUCH, low + width + TOUCH)
    lines, *beside = (_stretches(found) for found in _across_all(part, axis, [middle, *sides]))
    spans = kept = _spans(lines, axis)
    for each in beside:
        kept = _without_long_gaps(kept, _spans(each, axis))
    if not kept:
        return (), 0.0
    if kept != spans:
        lines = [np.array([(middle, a), (middle, b)] if axis == 0 else [(a, middle), (b, middle)]) for a, b in kept]
    strip = _strip(part, axis, low, low + width)
    stops = [part.bounds[1 - axis] - 1.0, *(at for span in sorted(kept) for at in span), part.bounds[3 - axis] + 1.0]
    dropped, (begin, end) = 0.0, strip.bounds[1 - axis :: 2]
    for a, b in zip(stops[::2], stops[1::2], strict=True):
        if min(b, end) - max(a, begin) <= ALONG:
            continue
        between = shapely.intersection(strip, shapely.box(low, a, low + width, b) if axis == 0 else shapely.box(a, low, b, low + width))
        dropped += math.fsum(piece.area for piece in parts_of(between) if np.ptp(piece.bounds[1 - axis :: 2]) > ALONG)
    return tuple(lines), float(dropped)


def _without_long_gaps(spans: Sequence[Span], covered: Sequence[Span]) -> list[Span]:
    """Stretches less those parts, longer than `ALONG`, that others leave uncovered."""
    result = []
    for a, b in spans:
        at = a
        for c, d in [*sorted(span for span in covered if span[1] > a and span[0] < b), (b, b)]:
            if c - at > ALONG:
                if at > a:
                    result.append((a, at))
                a = c
            at = max(at, d)
        if b - a > TOUCH:
            result.append((a, b))
    return result
