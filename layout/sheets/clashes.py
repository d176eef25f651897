"""What stands in whose way on one sheet: hulls of labels at all their places, and which of them clash, leaders too; paper mm."""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING, Any

import numpy as np

from layout.sheets.lettering import text_width

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from layout.sheets.spots import Asked, Box
    from layout.vectors import Bools, Floats

CLEAR = 0.6
"""Clear space kept round a label, paper mm."""


def boxes_of(own: Asked) -> Floats:
    """Hulls of a label at each of its places, (n, 4): `label_box` for all of them at once."""
    if not own.spots:
        return np.empty((0, 4))
    heights = np.array([spot.height or own.height for spot in own.spots])
    widths = np.array([text_width(spot.text or own.text, spot.height or own.height, own.bold) for spot in own.spots])
    part = {"left": 0.0, "centre": -0.5, "right": -1.0, "bottom": 0.0, "middle": -0.5, "top": -1.0}
    x0 = widths * np.array([part[spot.across] for spot in own.spots])
    y0 = heights * np.array([part[spot.upward] for spot in own.spots])
    turn = np.radians([spot.angle for spot in own.spots])
    cos, sin = np.cos(turn)[:, None], np.sin(turn)[:, None]
    x = np.column_stack([x0, x0 + widths, x0 + widths, x0])
    y = np.column_stack([y0 - 0.25 * heights, y0 - 0.25 * heights, y0 + heights, y0 + heights])
    at = np.array([spot.at for spot in own.spots])
    gx, gy = x * cos - y * sin + at[:, :1], x * sin + y * cos + at[:, 1:]
    return np.column_stack([gx.min(axis=1), gy.min(axis=1), gx.max(axis=1), gy.max(axis=1)])


def leaders_of(own: Asked) -> Floats:
    """Leaders of a label at each of its places (n, 4), foot then the nearest point of its hull; NaN where it needs none."""
    result: Floats = np.full((len(own.spots), 4), np.nan)
    if own.foot is not None and len(own.spots):
        lead = np.array([spot.leader for spot in own.spots])
        foot, boxes = own.foot, own.boxes[lead]
        result[lead, :2] = foot
        result[lead, 2] = np.clip(foot[0], boxes[:, 0], boxes[:, 2])
        result[lead, 3] = np.clip(foot[1], boxes[:, 1], boxes[:, 3])
    return result


def shared_area(box: Box, other: tuple[float, ...]) -> float:
    """Area that a box with its clear space shares with another, mm²."""
    wide = min(box[2] + CLEAR, other[2]) - max(box[0] - CLEAR, other[0])
    tall = min(box[3] + CLEAR, other[3]) - max(box[1] - CLEAR, other[1])
    return max(wide, 0.0) * max(tall, 0.0)


def hulls_of(boxes: Floats, leaders: Floats) -> Floats:
    """Hulls (n, 4) of boxes with their leaders, if any."""
    with np.errstate(invalid="ignore"):
        low = np.fmin(boxes[:, :2], np.fmin(leaders[:, :2], leaders[:, 2:]))
        high = np.fmax(boxes[:, 2:], np.fmax(leaders[:, :2], leaders[:, 2:]))
    result: Floats = np.hstack([low, high])
    return result


def clashes(boxes: Floats, leaders: Floats, standing: tuple[Floats, Floats, Floats]) -> Bools:
    """For places (k, 4) with their leaders (k, 4), NaN where there is none, which of the standing labels (n,) each is in the way of: (k, n).

    `standing` are boxes, leaders and hulls of both, (n, 4) each. Only pairs whose hulls meet are looked at.
    """
    others, leads, hulls = standing
    reach = hulls_of(boxes, leaders)
    result: Bools = np.zeros((len(boxes), len(others)), dtype=bool)
    low, high = reach[:, :2].min(axis=0) - CLEAR, reach[:, 2:].max(axis=0) + CLEAR
    near = np.flatnonzero((hulls[:, 0] < high[0]) & (hulls[:, 2] > low[0]) & (hulls[:, 1] < high[1]) & (hulls[:, 3] > low[1]))
    if len(near) == 0:
        return result
    close, own = hulls[near], reach[:, None]
    meet = (close[:, 2] > own[..., 0] - CLEAR) & (close[:, 0] < own[..., 2] + CLEAR)
    meet &= (close[:, 3] > own[..., 1] - CLEAR) & (close[:, 1] < own[..., 3] + CLEAR)
    mine, them = np.nonzero(meet)
    them = near[them]
    a, b = boxes[mine], others[them]
    hit = (b[:, 2] > a[:, 0] - CLEAR) & (b[:, 0] < a[:, 2] + CLEAR) & (b[:, 3] > a[:, 1] - CLEAR) & (b[:, 1] < a[:, 3] + CLEAR)
    result[mine, them] = hit
    led, leading = ~np.isnan(leaders[mine, 0]), ~np.isnan(leads[them, 0])
    ask = np.flatnonzero(led & ~hit)
    hit[ask] = _runs_through(leaders[mine[ask]], others[them[ask]])
    ask = np.flatnonzero(leading & ~hit)
    hit[ask] = _runs_through(leads[them[ask]], boxes[mine[ask]])
    ask = np.flatnonzero(led & leading & ~hit)
    hit[ask] = _cross(leaders[mine[ask]], leads[them[ask]])
    result[mine, them] = hit
    return result


def _runs_through(lines: Floats, boxes: Floats) -> Bools:
    """Whether segments (…, 4) run through boxes (…, 4), by slabs; no segment is NaN."""
    (ax, ay), (wx, wy) = ((lines[..., k], lines[..., k + 1]) for k in (0, 2))
    wx, wy = (np.where(np.abs(way) < 1e-9, 1e-9, way) for way in (wx - ax, wy - ay))
    x0, x1, y0, y1 = ((boxes[..., k] - a) / way for k, a, way in ((0, ax, wx), (2, ax, wx), (1, ay, wy), (3, ay, wy)))
    low = np.maximum(np.minimum(x0, x1), np.minimum(y0, y1))
    high = np.minimum(np.maximum(x0, x1), np.maximum(y0, y1))
    result: Bools = (low < high) & (high > 1e-6) & (low < 1.0 - 1e-6)
    return result


def _cross(one: Floats, two: Floats) -> Bools:
    """Whether segments (…, 4) cross."""

    def side(line: Floats, x: Floats, y: Floats) -> Floats:
        result: Floats = (line[..., 2] - line[..., 0]) * (y - line[..., 1]) - (line[..., 3] - line[..., 1]) * (x - line[..., 0])
        return result

    parted = side(one, two[..., 0], two[..., 1]) * side(one, two[..., 2], two[..., 3]) < 0.0
    result: Bools = parted & (side(two, one[..., 0], one[..., 1]) * side(two, one[..., 2], one[..., 3]) < 0.0)
    return result


def untangled(feet: Floats, tall: Sequence[float], x: float, top: float) -> list[int]:
    """The order in which words stand in a column so that their leaders do not cross, as high as their feet where that is free.

    Where two leaders cross, those with their words exchanged are shorter: words of one height change places until none are. Words of
    several heights move those between them too, so then it is counted.

    Parameters
    ----------
    feet : (n, 2) where leaders end.
    tall : height of each one's words.
    x, top : where leaders begin, and the top of the column. All in paper mm.
    """

    def cost(order: Sequence[int]) -> tuple[int, float]:
        """How many pairs of leaders cross, and the length of all."""
        heads = top - np.cumsum([0.0, *(tall[k] for k in order)])[:-1]
        leaders = np.column_stack([feet[list(order)], np.full(len(order), x), heads])
        one, two = np.triu_indices(len(order), 1)
        crossed = int(_cross(leaders[one], leaders[two]).sum())
        return crossed, round(float(np.hypot(leaders[:, 2] - leaders[:, 0], leaders[:, 3] - leaders[:, 1]).sum()), 6)

    best = sorted(range(len(feet)), key=lambda k: -feet[k, 1])
    for key in (lambda order: cost(order)[1], cost):
        best = _exchanged(best, key)
    return best


def _exchanged(order: list[int], cost: Callable[[Sequence[int]], object]) -> list[int]:
    """An order in which no two can change places, and none can stand elsewhere, for a lesser cost."""
    best, least, changed = order, cost(order), True
    while changed:
        changed = False
        for i, j in itertools.permutations(range(len(best)), 2):
            moved = best.copy()
            moved.insert(j, moved.pop(i))
            swapped = best.copy()
            swapped[i], swapped[j] = swapped[j], swapped[i]
            for other in (swapped, moved):
                found: Any = cost(other)
                if found < least:
                    best, least, changed = other, found, True
    return best
