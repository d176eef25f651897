"""Which cut of a part is made first: all that are worth making, the length of joint each leads to, and what speaks against it."""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import shapely

from layout.joints.bounds import at_least
from layout.joints.limits import counts
from layout.joints.partition import NEAR, Grid
from layout.joints.rectangles import Rectangles, rectangles_under
from layout.joints.sawing import crosses, equal_lows, line_across, notched, rectangular, split, why_not
from layout.joints.values import KEPT, Itself, Rejected
from layout.units import EPS, TOUCH
from layout.words import worded

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shapely import Polygon

    from layout.joints.values import PreferredLine, Undivided

MEETS = 500.0
"""How near a part must come to a column or jamb to like its line, mm (common practice, no source: about a trowel's work off)."""
MOST_LIKED = 4
"""Liked lines of a direction that are tried, nearest to the middle first: bounds the divisions that are weighed."""
AS_LONG = 1.0
"""Joint lengths that differ by no more are equal, mm."""
CLEARLY = 3.0 * AS_LONG
"""By so much more than another a cut cannot be chosen, in whatever order those that are as long are looked at, mm."""
CORNER, LIKED, EQUAL, REACH = range(4)
"""Ranks of cuts as good: through a re-entrant corner, on a liked line, in equal parts, as far as the rule reaches."""


@dataclass(frozen=True, slots=True)
class Option:
    """A way to cut a part: low faces along an axis, why, and its rank."""

    axis: int
    lows: tuple[float, ...]
    why: str
    rank: int


class Weighed(NamedTuple):
    """What was found of a part: the cut to make first, None if no cut helps, the length of joint that it leads to, mm, and all cuts weighed with theirs.

    The length of a cut that leads to more whatever comes after it is not a number: it is found when it is told.
    """

    best: Option | None
    cost: float
    tried: tuple[tuple[Option, float], ...]


def chosen(task: Undivided, part: Polygon) -> Option | None:
    """The cut of a part to make first; None if no cut helps."""
    return _weighed_itself(Itself(task), Itself(part)).best


def rejected(task: Undivided, part: Polygon) -> tuple[Rejected, ...]:
    """What was weighed against the cut of a part, with what speaks against it: only who tells it asks."""
    found = _weighed_itself(Itself(task), Itself(part))
    return tuple(_told(task, part, found.tried, found.best, found.cost))


@functools.lru_cache(maxsize=KEPT)
def _weighed_itself(task: Itself[Undivided], part: Itself[Polygon]) -> Weighed:
    return weighed(task.value, part.value)


@functools.lru_cache(maxsize=4096)
def weighed(task: Undivided, part: Polygon) -> Weighed:
    """The cut of a part to make first and what was weighed against it.

    Kept by what it was found from: the same parts come again while start and joints settle.
    """
    best, cost = None, math.inf
    rank: tuple[float, ...] = ()
    tried = _weighed(task, part)
    for option, found in tried:
        if not math.isfinite(found) or found > cost + AS_LONG:
            continue
        pieces, _ = split(part, option.axis, option.lows, task.rules.movement_joint)
        largest = max(piece.area for piece in pieces)
        own = (round(found), option.rank, round(largest, -3), option.axis != task.first_axis)
        if best is None or own < rank:
            best, cost, rank = option, found, own
    if best is None and tried:  # no division is found: halve the longest side
        x0, y0, x1, y1 = part.bounds
        axis = 0 if x1 - x0 >= y1 - y0 else 1
        if max(x1 - x0, y1 - y0) > task.rules.movement.max_edge / 4:
            best = next((option for option, _ in tried if option.axis == axis and option.rank == EQUAL), tried[0][0])
    return Weighed(best, cost, tuple(tried))


def _weighed(task: Undivided, part: Polygon) -> list[tuple[Option, float]]:
    """Cuts worth making, each with the length of joint in the best division that begins with it, mm; infinite if none is found."""
    width, rule = task.rules.movement_joint, task.rules.movement
    x0, y0, x1, y1 = part.bounds
    options: list[tuple[Option, float]] = []
    corners = [
        Option(line.axis, (line.low,), line.why, CORNER)
        for line in task.fixed
        if not line.must and line.corner is not None and notched(part, line) and crosses(part, line.axis, line.low, width)
    ]
    lines = _liked(task, part)
    liked = [Option(line.axis, (line.at - width / 2,), line.why, LIKED) for line in lines]
    if not rectangular(part):
        known = [*corners, *liked]
        for axis, at, cost in _grid(task, part, lines).weighed([(option.axis, option.lows[0] + width / 2) for option in known], AS_LONG):
            same = [option for option in known if option.axis == axis and abs(option.lows[0] + width / 2 - at) <= NEAR]
            options += [(option, cost) for option in same or [Option(axis, (at - width / 2,), worded("the least joint in all"), REACH)]]
        if any(math.isfinite(cost) for _, cost in options):
            return options
    equal = [
        Option(axis, tuple(equal_lows(part, axis, count - 1, width)), worded("{count} equal bays", count=count), EQUAL)
        for axis, low, high in ((0, x0, x1), (1, y0, y1))
        for count in counts(high - low, (x1 - x0) * (y1 - y0) / max(high - low, EPS), part.area, rule, width)
    ]
    if not rectangular(part):  # no division was found on the grid: equal parts help
        return [(option, math.inf) for option in equal]
    _, axis, lows = _rectangles(task).best(x1 - x0, y1 - y0)
    best = [Option(axis, ((x0, y0)[axis] + lows[0],), worded("the least joint in all"), REACH)] if len(lows) == 1 else []
    return _lengths(task, part, [*corners, *liked, *equal, *best])


def _lengths(task: Undivided, part: Polygon, options: Sequence[Option]) -> list[tuple[Option, float]]:
    """Cuts of a rectangle with the joint that each leads to, mm; not a number where that must be longer than another and not as good as equal."""
    bounds = at_least(part, [(option.axis, option.lows) for option in options], task.rules.movement, task.rules.movement_joint)
    found, shortest = [math.nan] * len(options), math.inf
    for k in sorted(range(len(options)), key=bounds.__getitem__):
        if bounds[k] > shortest + CLEARLY:
            break
        found[k] = _option_cost(task, part, options[k])
        shortest = min(shortest, found[k])
    return list(zip(options, found, strict=True))


def _liked(task: Undivided, part: Polygon) -> list[PreferredLine]:
    """Column lines and jambs that cross a part well inside it, nearest to its middle first."""
    width, near = task.rules.movement_joint, task.rules.movement.max_edge / 4
    result = []
    for axis in (0, 1):
        low, high = part.bounds[axis], part.bounds[axis + 2]
        own = [line for line in task.preferred if line.axis == axis and low + near < line.at < high - near]
        own = [line for line, met in zip(own, _met(part, own), strict=True) if met]
        own.sort(key=lambda line: (abs(line.at - (low + high) / 2), line.at))
        result += [line for line in own[:MOST_LIKED] if crosses(part, axis, line.at - width / 2, width)]
    return result


def _met(part: Polygon, lines: Sequence[PreferredLine]) -> list[bool]:
    """Whether a part comes near what stands on each line."""
    placed = [line.place for line in lines if line.place is not None]
    near = iter((shapely.distance(part, shapely.points(placed)) < MEETS).tolist() if placed else ())
    return [line.place is None or next(near) for line in lines]


def _rectangles(task: Undivided) -> Rectangles:
    return rectangles_under(task.rules.movement, task.rules.movement_joint)


def _grid(task: Undivided, part: Polygon, lines: Sequence[PreferredLine]) -> Grid:
    liked = [[line.at for line in lines if line.axis == axis] for axis in (0, 1)]
    corners = [line.corner for line in task.fixed if line.corner is not None]
    return Grid(part, (liked[0], liked[1]), corners, _rectangles(task))


def _cost(task: Undivided, part: Polygon) -> float:
    """Least length of joint that makes a part keep the rule; infinite if none is found."""
    if not why_not(task, part):
        return 0.0
    if rectangular(part):
        x0, y0, x1, y1 = part.bounds
        return _rectangles(task).cost(x1 - x0, y1 - y0)
    grid = _grid(task, part, _liked(task, part))
    return grid.cost(grid.full)


def _option_cost(task: Undivided, part: Polygon, option: Option) -> float:
    pieces, total = split(part, option.axis, option.lows, task.rules.movement_joint)
    return math.inf if len(pieces) < 2 else total + math.fsum(_cost(task, piece) for piece in pieces)


def _told(task: Undivided, part: Polygon, tried: Sequence[tuple[Option, float]], best: Option | None, cost: float) -> list[Rejected]:
    """The other cuts through corners, on liked lines and in equal parts, with the figure that rejected each."""
    result: list[Rejected] = []
    width = task.rules.movement_joint
    for option, known in tried:
        if option is best or option.rank == REACH:
            continue
        found = _option_cost(task, part, option) if math.isnan(known) else known
        if option.rank == EQUAL and not cost + AS_LONG < found < math.inf:
            continue
        why, by_rule = (_against(task, part, option, found, cost, named=named) for named in (True, False))
        lines = [shapely.intersection(part, line_across(part, option.axis, low + width / 2)) for low in option.lows]
        result.append(Rejected(tuple(shapely.get_coordinates(line) for line in lines if line.length > TOUCH), option.why, why, by_rule))
    return result


def _against(task: Undivided, part: Polygon, option: Option, found: float, cost: float, *, named: bool) -> str:
    """What speaks against a cut that leads to `found` mm of joint where the one taken leads to `cost`, in words; with the rule set `named`."""
    if option.rank == EQUAL:
        return worded("{found:.1f} m of joint in all, where {cost:.1f} m do", found=found / 1000, cost=cost / 1000)
    pieces, length = split(part, option.axis, option.lows, task.rules.movement_joint)
    faults = [why for piece in pieces if (why := why_not(task, piece, named=named))]
    if math.isfinite(found):
        if faults:
            return worded(
                "{faults}; {found:.1f} m of joint with what mends it, not {cost:.1f}",
                faults=faults[0],
                found=found / 1000,
                cost=cost / 1000,
            )
        if found > cost + AS_LONG:
            return worded("{found:.1f} m of joint, where {cost:.1f} m do", found=found / 1000, cost=cost / 1000)
        return worded("as long, and its bays are less even")
    if faults:
        return faults[0] + (
            worded("; with what mends it more than the {cost:.1f} m taken", cost=cost / 1000) if math.isfinite(cost) else ""
        )
    return worded("{length:.1f} m of joint, where {cost:.1f} m do", length=length / 1000, cost=cost / 1000)
