"""Divides a surface into bays: which lines cut it, so that every bay keeps its rule with the least length of joint.

A bay that breaks the rule set is cut right across, in the way that makes the least total length of joint
(`layout.joints.partition` weighs all such divisions). Among cuts as good, one through a re-entrant corner is taken first,
then one on a column line or at a door jamb, then equal parts. Where the pattern has a straight joint in that direction the
cut is moved to a near one, clear of drains, and the bay beyond starts with whole tiles; across a bond it runs where
the courses keep the widest pieces; else it is sawn through.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterator, Sequence
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from shapely import Polygon

from layout.budgets import heed
from layout.errors import Point
from layout.joints.kept import MOST_OF, ends_at, share_of
from layout.joints.options import CORNER, EQUAL, LIKED, chosen, rejected
from layout.joints.sawing import ALONG, crosses, equal_lows, saw, why_not
from layout.joints.values import KEPT, Division, FixedLine, Itself, OwnStart, Parting
from layout.shapes import edges_of
from layout.standards.rules import WEAK_NECK
from layout.units import TOUCH

if TYPE_CHECKING:
    from layout.joints.options import Option
    from layout.joints.values import Lattice1D, Undivided
    from layout.vectors import Floats, Ints

ASIDE = 600.0
"""How far a cut may be moved off its place to keep clear of drains, mm (common practice, no source: about three tiles)."""
StartsOwn: TypeAlias = Callable[[Polygon, Point, tuple[Parting, ...]], OwnStart]
"""From a bay beside given cuts, the start that it would have and those cuts: the start it takes."""
GRAZE = WEAK_NECK.value
"""A strip of tile between a joint and an edge along it that is no wider than this is none: the joint is moved off, mm."""
LEAST_ASIDE = 3
"""Tile joints either way among which a cut is placed, however large the tile."""
NEARER = 1
"""How much a cut crowds a drain that it only runs nearer to than wanted; more is over its rim or through it."""


def divide(task: Undivided, origin: Point, own_start: StartsOwn | None = None) -> Division:
    """Find cuts and bays of a region for a lattice that starts at `origin` (joint frame, mm).

    `own_start` gives a bay between cuts whose place is given (structural joints, joints through corners) its own start, from the
    bay, the start it would have, and those cuts; without it tiles abut the far face of each cut.
    """
    return Division.joined(divided(task, origin, own_start))


def divided(task: Undivided, origin: Point, own_start: StartsOwn | None = None) -> Iterator[Division]:
    """What `divide` finds, bay by bay as it is cut: who has seen enough of the first bays need not wait for the last."""
    for part in task.parts:
        yield from _given(task, part, origin, (), own_start)


def _given(task: Undivided, part: Polygon, origin: Point, made: tuple[Parting, ...], own_start: StartsOwn | None) -> Iterator[Division]:
    """A part cut at the lines that are made whatever the rule, then at joints that stay, then by the rule."""
    heed()
    for line in (*(each for each in task.fixed if each.must and not each.spans), *_kept(task, part)):
        if crosses(part, line.axis, line.low, line.width):
            cuts, pieces = saw(task, part, origin, line.axis, [line.low], line, fixed=True)
            if not cuts:
                continue
            yield Division(cuts=tuple(cuts))
            for piece, start in pieces:
                yield from _given(task, piece, start, (*made, *cuts), own_start)
            return
    first = OwnStart(origin) if own_start is None or not (made or task.kept) else own_start(part, origin, made)
    yield Division(told=first.told)
    yield from _by_rule(task, part, first, made, own_start)


def _kept(task: Undivided, part: Polygon) -> list[FixedLine]:
    """Joints that stay and ran through most of a part, each after those that ran on where it ended."""
    lines = [
        line for line in task.fixed if line.spans and crosses(part, line.axis, line.low, line.width) and share_of(part, line) > MOST_OF
    ]
    return sorted(lines, key=lambda line: sum(ends_at(line, other) for other in lines))


def _by_rule(task: Undivided, part: Polygon, start: OwnStart, made: tuple[Parting, ...], own_start: StartsOwn | None) -> Iterator[Division]:
    """A part cut until every bay keeps the rule, or no cut helps."""
    origin = start.origin
    why = why_not(task, part)
    if not why:
        yield Division(bays=((part, origin),), own=(start.own,))
        return
    choice, told = chosen(task, part), (functools.partial(rejected, task, part),)
    whole = Division(bays=((part, origin),), broken=(why,), weighed=told, own=(start.own,))
    if choice is None:
        yield whole
        return
    fixed = choice.rank == CORNER
    lows = _placed(task, part, choice, origin[choice.axis])
    like = FixedLine(choice.axis, 0.0, task.rules.movement_joint, "intermediate", choice.why)
    cuts, pieces = saw(task, part, origin, choice.axis, lows, like, fixed=fixed)
    if len(pieces) < 2:
        yield whole
        yield Division(cuts=tuple(cuts))
        return
    yield Division(cuts=tuple(cuts), weighed=told)
    made = (*made, *cuts) if fixed else made
    for piece, at in pieces:
        after = OwnStart(at, start.own)
        if own_start is not None and (fixed or task.kept):
            after = own_start(piece, at, made)
            yield Division(told=after.told)
        yield from _by_rule(task, piece, after, made, own_start)


def _placed(task: Undivided, part: Polygon, choice: Option, origin: float) -> Sequence[float]:
    """Low faces of a cut on tile joints; of equal bays there may be one or two more, if no tile joints keep the limit else."""
    if choice.rank == CORNER:
        return choice.lows
    wanted: list[Sequence[float]] = [choice.lows]
    if choice.rank == EQUAL:
        more = (len(choice.lows) + 1, len(choice.lows) + 2)
        wanted += [equal_lows(part, choice.axis, joints, task.rules.movement_joint) for joints in more]
    found = (_on_tile_joints(task, part, choice, each, origin) for each in wanted)
    return next((lows for lows in found if lows), choice.lows)


def _on_tile_joints(task: Undivided, part: Polygon, choice: Option, wanted: Sequence[float], origin: float) -> list[float] | None:
    """Low faces of cuts, each on a tile joint near the one wanted that keeps the bays' limit, clear of drains where one is.

    None if no tile joint keeps the limit: one joint more is wanted then.
    """
    axis, width, equal = choice.axis, task.rules.movement_joint, choice.rank == EQUAL
    lattice = task.lattice[axis]
    begin, last = float(part.bounds[axis]), float(part.bounds[axis + 2])
    most = task.rules.movement.max_edge + TOUCH
    if not lattice.straight:
        return _across_bond(lattice, wanted, origin, width, (begin, last), most if equal else None)
    lows: list[float] = []
    edges = _edges_along(Itself(part), axis)
    start = origin
    centred = 0.0 if task.rules.bays == "shift" else (lattice.pitch - lattice.size - width) / 2
    for k, target in enumerate(wanted):
        n = round((target - start - lattice.size - centred) / lattice.pitch)
        left = len(wanted) - k  # bays still to come after this one
        after = wanted[k + 1] if k + 1 < len(wanted) else last
        fitting = []
        reach = 1 if choice.rank == LIKED else max(LEAST_ASIDE, round(ASIDE / lattice.pitch))
        for m in range(n - reach, n + reach + 1):
            low = start + m * lattice.pitch + lattice.size + centred
            if equal:
                keeps = low - begin <= most and (last - low - left * width) / left <= most
            else:
                keeps = (low - begin <= most or target - begin > most) and (after - low - width <= most or after - target - width > most)
            if keeps and begin + lattice.size < low < last - width:
                fitting.append(low)
        if not fitting:
            return None
        crowds = dict(zip(fitting, _crowds(task, part, axis, fitting), strict=True))
        if choice.rank == LIKED:  # on the line itself, unless a rim is in the way
            crowds = {low: crowd if crowd[0] > NEARER else (0, 0) for low, crowd in crowds.items()}
        grazed = {low: (max(crowds[low][0] - NEARER, 0), bool(_grazes(edges, low, width))) for low in fitting}
        low = min(fitting, key=lambda low: (grazed[low], crowds[low], round(abs(low - target), 3), low))
        lows.append(low)
        begin = low + width
        if task.rules.bays == "shift":
            start = begin
    return lows


@functools.lru_cache(maxsize=KEPT)
def _edges_along(part: Itself[Polygon], axis: int) -> tuple[Floats, Floats]:
    """Places of a part's edges along a cut across an axis: those with the part below them, those with the part above, mm."""
    edges, _, _ = edges_of(part.value)
    way = edges[:, 1] - edges[:, 0]
    own = (np.abs(way[:, axis]) < TOUCH) & (np.abs(way[:, 1 - axis]) > ALONG)
    at, on = edges[own, 0, axis], way[own, 1 - axis] * (1.0 if axis == 0 else -1.0)  # the part lies on the left
    return at[on > 0], at[on < 0]


def _grazes(edges: tuple[Floats, Floats], low: float, width: float) -> int:
    """Edges between which and a cut no tile is left, or that the cut runs along."""
    below, above = edges
    one = (below > low + TOUCH) & (below < low + width + GRAZE)
    other = (above > low - GRAZE) & (above < low + width - TOUCH)
    return int(one.sum() + other.sum())


def _across_bond(
    lattice: Lattice1D, wanted: Sequence[float], origin: float, width: float, ends: tuple[float, float], most: float | None
) -> list[float] | None:
    """Low faces across the courses of a bond; None if a bay is longer than `most` (if given) or no longer than a tile."""
    if not lattice.shifts:
        return list(wanted)
    lows = [_in_bond(lattice, target, origin, width) for target in wanted]
    bays = np.diff([ends[0] - width, *lows, ends[1]]) - width
    fits = most is None or bays.max() <= most
    return lows if fits and bays.min() > lattice.size else None


def _in_bond(lattice: Lattice1D, target: float, origin: float, width: float) -> float:
    """The low face nearest to one wanted, of those beside a joint of some course, that leaves the widest narrowest piece."""
    joints = [origin + shift + lattice.size for shift in lattice.shifts]
    near = [low + lattice.pitch * round((target - low) / lattice.pitch) for low in joints]
    options = [low - (width if far else 0.0) + (lattice.pitch - lattice.size if far else 0.0) for low in near for far in (False, True)]
    return min(options, key=lambda low: (-round(lattice.narrowest_at(low - origin, width), 1), abs(low - target), low))


def _crowds(task: Undivided, part: Polygon, axis: int, lows: Sequence[float]) -> list[tuple[int, int]]:
    """How each cut treats what it should keep clear of.

    0 clear, 1 nearer than wanted, 2 over a rim, 3 through it; and by how many tenths of a metre.
    """
    first, second = part.bounds[1 - axis], part.bounds[3 - axis]
    bounds, rims, own = _kept_clear_of(Itself(task))
    met = (bounds[:, 3 - axis] >= first) & (bounds[:, 1 - axis] <= second) & (own != 1 - axis)
    if not met.any():
        return [(0, 0)] * len(lows)
    begin, end, rim, wanted = (row[met, None] for row in (bounds[:, axis], bounds[:, axis + 2], *rims.T))
    low = np.array(lows)
    gap = np.maximum(begin - (low + task.rules.movement_joint), low - end)
    how = np.where(gap < 0.0, 3, np.where(gap < rim, 2, np.where(gap < rim + wanted, NEARER, 0)))
    short = np.where(how > 0, np.round((rim + wanted - gap) / 100.0), 0.0)
    worst = how.max(axis=0)
    return [(int(most), int(tenths)) for most, tenths in zip(worst, np.where(how == worst, short, -np.inf).max(axis=0), strict=True)]


@functools.lru_cache(maxsize=KEPT)
def _kept_clear_of(task: Itself[Undivided]) -> tuple[Floats, Floats, Ints]:
    """Bounds (n, 4) of all that joints keep clear of, its rim and the distance wanted (n, 2), mm, and the axis of cuts that do; -1 for both."""
    things = task.value.obstacles
    bounds = np.array([each.bounds for each in things], dtype=float).reshape(-1, 4)
    rims = np.array([(each.rim, each.wanted) for each in things], dtype=float).reshape(-1, 2)
    return bounds, rims, np.array([-1 if each.axis is None else each.axis for each in things], dtype=np.int64)
