"""The least length of joint that divides a shape into bays that keep a rule, over every cut right across along a grid.

The grid has lines through the shape's corners, on liked lines, in equal parts between them, and as far from them as
the rule reaches. A cut anywhere else can be slid to one of these without growing, since its length changes at corners
only. The parts are weighed by dynamic programming over sets of cells; a rectangle is divided in equal parts, which for a
given number of bays have the shortest longest side. `tests/test_joints.py` lays it against every cut of a fine grid.
"""

from __future__ import annotations

import itertools
import math
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.units import EPS, TOUCH

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray
    from shapely import Polygon

    from layout.errors import Point
    from layout.standards.rules import RuleSet

    Floats = NDArray[np.float64]

ASPECT_SLACK = 1.005
"""Rules give sides of the room; bays are measured between joints, which makes 8 x 4 m 2.004, not 2."""
MOST_BAYS = 200
MOST_LINES = 7
"""Grid lines inside a shape, each way: bounds the number of parts that are weighed."""
NEAR = 50.0
"""Grid lines nearer to each other than this are one, mm."""
DEPTH = 5
"""How often a rectangle is cut again; uneven cuts are tried in the first two."""
MOST_UNEVEN = 6.0
"""A rectangle that takes more bays than this is divided in equal parts only."""
MOST_PARTS = 2500
"""Parts weighed in one shape; past it only those already weighed count, and `Grid.bounded` says so."""


def breach(long: float, short: float, area: float, rule: RuleSet, joint: float) -> str:
    """The first figure of a bay (sides mm, area mm²) that breaks a rule set, in words; empty if none does."""
    if long > rule.max_edge + TOUCH:
        return f"a bay {long:.0f} long, over {rule.max_edge:.0f} of {rule.name}"
    if rule.max_area_m2 is not None and area / 1e6 > rule.max_area_m2 + 1e-6:
        return f"a bay of {area / 1e6:.1f} m², over {rule.max_area_m2:g} of {rule.name}"
    if rule.max_aspect is not None and long / short > rule.max_aspect * ASPECT_SLACK and short > joint * 4:
        return f"a bay of aspect {long / short:.2f}, over {rule.max_aspect:g} of {rule.name}"
    return ""


def counts(length: float, other: float, area: float, rule: RuleSet, joint: float) -> list[int]:
    """Numbers of equal bays worth trying along a side: by edge, one more, by area, by aspect."""
    least = max(math.ceil((length + joint - TOUCH) / (rule.max_edge + joint)), 1)
    found = {least, least + 1}
    if rule.max_area_m2 is not None:
        found.add(math.ceil(area / 1e6 / rule.max_area_m2 - 1e-9))
    if rule.max_aspect is not None:
        found.add(math.ceil((length + joint) / (other * rule.max_aspect * ASPECT_SLACK + joint) - 1e-9))
    return sorted(count for count in found if 2 <= count <= MOST_BAYS)


class Rectangles:
    """Least length of joint in rectangles, by their sides; kept for all that are asked."""

    def __init__(self, rule: RuleSet, joint: float) -> None:
        self.rule, self.joint = rule, joint
        self.known: dict[tuple[float, float, bool], tuple[float, int, tuple[float, ...]]] = {}

    def cost(self, width: float, height: float, depth: int = DEPTH) -> float:
        """Least length of joint that divides a rectangle, mm; infinite if none is found."""
        return self.best(width, height, depth)[0]

    def best(self, width: float, height: float, depth: int = DEPTH) -> tuple[float, int, tuple[float, ...]]:
        """Length of the best division, mm, and its first cuts: axis and low faces from the rectangle's corner.

        Equal parts each way, and where a few bays are enough one cut as far from an end as a limit reaches.
        """
        area = width * height
        if not breach(max(width, height), max(min(width, height), EPS), area, self.rule, self.joint):
            return 0.0, 0, ()
        if depth == 0:
            return math.inf, 0, ()
        key = (round(width, 1), round(height, 1), depth >= DEPTH - 1)
        if key not in self.known:
            self.known[key] = (math.inf, 0, ())
            found: tuple[float, int, tuple[float, ...]] = (math.inf, 0, ())
            for axis, along, other in ((0, width, height), (1, height, width)):
                for lows, bays in self._ways(along, other, uneven=depth >= DEPTH - 1):
                    total = len(lows) * other
                    for bay, number in bays:
                        if total >= found[0] - EPS:
                            break
                        total += number * self.cost(*((bay, other) if axis == 0 else (other, bay)), depth - 1)
                    if total < found[0] - EPS:
                        found = total, axis, lows
            self.known[key] = found
        return self.known[key]

    def _ways(self, along: float, other: float, *, uneven: bool) -> list[tuple[tuple[float, ...], list[tuple[float, int]]]]:
        """Low faces of cuts across a side, with the bays they leave and how many of each."""
        joint, result = self.joint, []
        for count in counts(along, other, along * other, self.rule, joint):
            bay = (along - (count - 1) * joint) / count
            if bay > joint:
                result.append((tuple((k + 1) * bay + k * joint for k in range(count - 1)), [(bay, count)]))
        if not uneven:
            return result
        limits = [self.rule.max_edge]
        if self.rule.max_area_m2 is not None:
            limits += [self.rule.max_area_m2 * 1e6 / other, self.rule.max_area_m2 * 2e6 / other]
        if self.rule.max_aspect is not None:
            limits += [other * self.rule.max_aspect, other / self.rule.max_aspect]
        most = min(self.rule.max_edge**2, (self.rule.max_area_m2 or math.inf) * 1e6)
        if along * other <= MOST_UNEVEN * most:
            for limit in limits:
                if joint < limit < along - 2 * joint:
                    result.append(((limit,), [(limit, 1), (along - limit - joint, 1)]))
        return result


class Grid:
    """One shape on its grid; a part is a set of cells as the bits of an integer."""

    def __init__(
        self, shape: Polygon, liked: tuple[Sequence[float], Sequence[float]], corners: Sequence[Point], rectangles: Rectangles
    ) -> None:
        self.rule, self.joint, self.rectangles = rectangles.rule, rectangles.joint, rectangles
        self.lines = [self._lines(shape, axis, liked[axis]) for axis in (0, 1)]
        xs, ys = self.lines
        self.nx, self.ny = len(xs) - 1, len(ys) - 1
        low_x, low_y = np.meshgrid(xs[:-1], ys[:-1])
        high_x, high_y = np.meshgrid(xs[1:], ys[1:])
        cells = shapely.intersection(shape, shapely.box(low_x, low_y, high_x, high_y)).ravel()
        self.area = shapely.area(cells)
        self.bounds = shapely.bounds(cells)
        size = ((high_x - low_x) * (high_y - low_y)).ravel()
        self.full = sum(1 << int(k) for k in np.flatnonzero(self.area > np.maximum(1.0, 1e-4 * size)))
        self.across = [self._lengths(shape, axis).tolist() for axis in (0, 1)]
        self.below = [[self._side(axis, k) for k in range(len(self.lines[axis]))] for axis in (0, 1)]
        self.not_first = self.full & ~sum(1 << (j * self.nx) for j in range(self.ny))
        self.not_last = self.full & ~sum(1 << (j * self.nx + self.nx - 1) for j in range(self.ny))
        self.notches = [notch for corner in corners if (notch := self._notch(corner)) is not None] if self.rule.reentrant else []
        self.known: dict[int, float] = {}
        self.bounded = False

    def _lines(self, shape: Polygon, axis: int, liked: Sequence[float]) -> list[float]:
        """Grid lines: both ends, then corners, liked lines, equal parts and reaches of the rule, until there are enough."""
        low, high = float(shape.bounds[axis]), float(shape.bounds[axis + 2])
        ring = shapely.get_coordinates(shape.exterior)[:-1]
        before, after = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
        turn = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
        sense = 1.0 if shape.exterior.is_ccw else -1.0
        reflex = ring[(turn * sense < -0.05 * np.hypot(*before.T) * np.hypot(*after.T))][:, axis]
        stops = sorted({low, high, *(round(float(c), 3) for c in reflex)})
        result = [low, high]
        for at in itertools.chain(stops, liked, self._reaches(stops)):
            if low + NEAR < at < high - NEAR and min(abs(at - known) for known in result) > NEAR:
                result.append(at)
                if len(result) == MOST_LINES + 2:
                    break
        return sorted(result)

    def _reaches(self, stops: list[float]) -> Iterator[float]:
        """Places as far from a stop as the rule reaches, then equal parts between stops, wide spans first."""
        edge = self.rule.max_edge
        if not math.isfinite(edge):
            return
        for stop in (stops[0], stops[-1], *stops[1:-1]):
            yield from (stop + edge, stop - edge)
        spans = [(b - a, a) for a, b in itertools.combinations(stops[: MOST_LINES + 2], 2) if b - a > edge / 2]
        for span, a in sorted(spans, key=lambda item: (-item[0], item[1])):
            parts = max(math.ceil(span / edge), 2)
            yield from (a + span * k / n for n in (parts, parts + 1) for k in range(1, n))

    def _lengths(self, shape: Polygon, axis: int) -> Floats:
        """Length of each grid line inside the shape between its neighbours of the other axis, (lines, cells across), mm."""
        at, across = np.array(self.lines[axis]), np.array(self.lines[1 - axis])
        first, second = np.broadcast_to(across[:-1], (len(at), len(across) - 1)), np.broadcast_to(across[1:], (len(at), len(across) - 1))
        here = np.broadcast_to(at[:, None], first.shape)
        ends = [np.stack([here, first], axis=2), np.stack([here, second], axis=2)]
        segments = np.stack(ends if axis == 0 else [end[:, :, ::-1] for end in ends], axis=2)
        result: Floats = np.asarray(shapely.length(shapely.intersection(shapely.linestrings(segments.reshape(-1, 2, 2)), shape))).reshape(
            first.shape
        )
        return result

    def _side(self, axis: int, line: int) -> int:
        """Cells on the low side of a grid line."""
        return sum(1 << (j * self.nx + i) for j in range(self.ny) for i in range(self.nx) if (i, j)[axis] < line)

    def _notch(self, corner: Point) -> tuple[int, ...] | None:
        """The four cells round a re-entrant corner of the room; None if the grid does not pass it."""
        at = [min(range(len(self.lines[axis])), key=lambda k: abs(self.lines[axis][k] - corner[axis])) for axis in (0, 1)]
        if any(abs(self.lines[axis][at[axis]] - corner[axis]) > 2.0 or not 0 < at[axis] < len(self.lines[axis]) - 1 for axis in (0, 1)):
            return None
        i, j = at
        return tuple(1 << (jj * self.nx + ii) for jj in (j - 1, j) for ii in (i - 1, i))

    def cells(self, part: int) -> list[int]:
        """Indices of the cells of a part."""
        result = []
        while part:
            low = part & -part
            result.append(low.bit_length() - 1)
            part ^= low
        return result

    def fits(self, part: int) -> tuple[bool, float, float, float]:
        """Whether a part keeps the rule, and its width, height (mm) and area (mm²)."""
        own = self.cells(part)
        box = self.bounds[own]
        width, height = float(box[:, 2].max() - box[:, 0].min()), float(box[:, 3].max() - box[:, 1].min())
        area = float(self.area[own].sum())
        kept = not breach(max(width, height), max(min(width, height), EPS), area, self.rule, self.joint)
        if kept and self.notches:
            kept = not any(sum(bool(part & cell) for cell in notch) == 3 for notch in self.notches)
        return kept, width, height, area

    def cost(self, part: int) -> float:
        """Least length of joint that makes a part keep the rule, mm; infinite if no cut on the grid does."""
        if part in self.known:
            return self.known[part]
        kept, width, height, area = self.fits(part)
        if kept:
            self.known[part] = 0.0
            return 0.0
        if len(self.known) > MOST_PARTS:
            self.bounded = True
            return math.inf
        self.known[part] = math.inf
        best = self.rectangles.cost(width, height) if area > 0.999 * width * height else math.inf
        for _, _, length, sides in self.cuts(part):
            if length >= best:
                continue
            total = length
            for side in sides:
                total += self.cost(side)
                if total >= best:
                    break
            best = min(best, total)
        self.known[part] = best
        return best

    def cuts(self, part: int) -> list[tuple[int, int, float, list[int]]]:
        """Cuts right across a part: axis, grid line, length and the connected parts left, shortest first."""
        nx, lengths = self.nx, self.across
        found: dict[tuple[int, int], float] = {}
        for k in self.cells(part):
            j, i = divmod(k, nx)
            if i and part >> (k - 1) & 1:
                found[0, i] = found.get((0, i), 0.0) + lengths[0][i][j]
            if j and part >> (k - nx) & 1:
                found[1, j] = found.get((1, j), 0.0) + lengths[1][j][i]
        result = []
        for (axis, line), length in sorted(found.items(), key=lambda item: (item[1], item[0])):
            if length > TOUCH:
                low = part & self.below[axis][line]
                result.append((axis, line, length, [*self.connected(low), *self.connected(part ^ low)]))
        return result

    def connected(self, part: int) -> list[int]:
        """The connected parts of a set of cells."""
        result = []
        while part:
            grown, last = part & -part, 0
            while grown != last:
                last = grown
                grown |= (grown << 1 & self.not_first) | (grown >> 1 & self.not_last) | grown << self.nx | grown >> self.nx
                grown &= part
            result.append(grown)
            part ^= grown
        return result

    def weighed(self) -> list[tuple[int, float, float]]:
        """Every cut right across the whole shape: axis, place, and the length of the best division that begins with it, mm."""
        return [
            (axis, self.lines[axis][line], length + sum(self.cost(side) for side in sides))
            for axis, line, length, sides in self.cuts(self.full)
        ]
