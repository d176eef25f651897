"""The least length of joint that divides a shape into bays that keep a rule, over every cut right across along a grid.

The grid has lines through the shape's corners, on liked lines, in equal parts between them, and as far from them as
the rule reaches. A cut anywhere else can be slid to one of these without growing, since its length changes at corners
only. The parts are weighed by dynamic programming over sets of cells, cut short by what any division must have
(`layout.joints.limits`); parts that are rectangles by `layout.joints.rectangles`. `tests/joints/test_divide.py` lays it
against every cut of a fine grid.
"""

from __future__ import annotations

import functools
import itertools
import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import shapely

from layout.joints.limits import AREA_SLACK, by_area, joints_along, keeps
from layout.units import EPS, TOUCH

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray
    from shapely import Polygon

    from layout.errors import Point
    from layout.joints.rectangles import Rectangles

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

MOST_LINES = 7
"""Grid lines inside a shape, each way: bounds the number of parts that are weighed."""
NEAR = 50.0
"""Grid lines nearer to each other than this are one, mm."""
MOST_PARTS = 2500
"""Parts weighed in one shape; past it only those already weighed count: a joint may then be longer than need be, never a bay too large."""
LOOKED_AT = 48
"""Parts weighed before it is asked whether there is any division at all: where one is found at once that costs more than it saves."""
RECTANGULAR = 0.999
"""Part of its box that a shape fills at the least to be weighed as a rectangle; the rest is float noise and bent walls."""
CELL_LEAST = 1e-4
"""Part of its box below which what a slanted wall leaves of a cell is no cell."""
SURE = 0.998
"""Part of a least length that holds though full cells may miss a thousandth of their box."""
THREE = 3
"""Cells of four round a re-entrant corner in a part that still wraps round it."""


class _Measured(NamedTuple):
    """A part's box, area and perimeter; mm, mm²."""

    width: float
    height: float
    area: float
    perimeter: float


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
        shapely.prepare(shape)  # most cells lie inside: those are not cut out
        cells = shapely.box(low_x, low_y, high_x, high_y).ravel()
        cut = ~shapely.covers(shape, cells)
        cells[cut] = shapely.intersection(shape, cells[cut])
        area = shapely.area(cells)
        self.area: list[float] = area.tolist()
        self.bounds: list[list[float]] = shapely.bounds(cells).tolist()
        self.perimeter = [_perimeter(cell) for cell in cells] if rectangles.rule.max_area_m2 is not None else [0.0] * len(cells)
        size = ((high_x - low_x) * (high_y - low_y)).ravel()
        self.full = sum(1 << int(k) for k in np.flatnonzero(area > np.maximum(1.0, CELL_LEAST * size)))
        self.whole = sum(1 << int(k) for k in np.flatnonzero(area > RECTANGULAR * size))
        self.across = [self._lengths(shape, axis).tolist() for axis in (0, 1)]
        self.below, self.bands, (first, last) = _masks(self.nx, self.ny)
        self.not_first, self.not_last = self.full & ~first, self.full & ~last
        self.notches = [notch for corner in corners if (notch := self._notch(corner)) is not None] if self.rule.reentrant else []
        self.sure = SURE - (2.0 * self.joint / self.rule.max_edge)
        self.known: dict[int, float] = {}
        self._least: dict[int, float] = {}
        self._bands: list[tuple[int, int, int, dict[int, float]]] = [
            (mask & self.whole, axis, band, {0: 0.0}) for axis in (0, 1) for band, mask in enumerate(self.bands[axis])
        ]

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
        lines = np.asarray(shapely.linestrings(segments.reshape(-1, 2, 2)))
        cut = ~shapely.covers(shape, lines)
        lines[cut] = shapely.intersection(lines[cut], shape)
        result: Floats = np.asarray(shapely.length(lines)).reshape(first.shape)
        return result

    def _notch(self, corner: Point) -> tuple[int, ...] | None:
        """The four cells round a re-entrant corner of the room; None if the grid does not pass it."""
        at = [min(range(len(self.lines[axis])), key=lambda k: abs(self.lines[axis][k] - corner[axis])) for axis in (0, 1)]
        if any(abs(self.lines[axis][at[axis]] - corner[axis]) > 2.0 or not 0 < at[axis] < len(self.lines[axis]) - 1 for axis in (0, 1)):
            return None
        i, j = at
        return tuple(1 << (jj * self.nx + ii) for jj in (j - 1, j) for ii in (i - 1, i))

    @functools.cached_property
    def hopeless(self) -> bool:
        """Whether some cell lies in no part that keeps the greatest edge and area or is weighed as a rectangle: then no division is on the grid.

        A part is what hangs together of the cells in a box of the grid, and reaches each side of it. All boxes are looked at, with the sides
        that their parts have at the least.
        """
        full = np.array([self.full >> k & 1 for k in range(self.nx * self.ny)]).reshape(self.ny, self.nx)
        (i, k), (j, m) = _boxes(self.nx, self.ny)
        sums = [np.pad(each.cumsum(axis=0).cumsum(axis=1), ((1, 0), (1, 0))) for each in (full, np.reshape(self.area, full.shape) * full)]
        count, area = (each[m + 1, k + 1] - each[j, k + 1] - each[m + 1, i] + each[j, i] for each in sums)
        whole = count == (k - i + 1) * (m - j + 1)
        bounds = np.reshape(self.bounds, (*full.shape, 4))
        corners = np.stack([bounds[row, column] for row in (j, m) for column in (i, k)])
        sides = []
        for axis, first, last in ((0, i, k), (1, j, m)):
            at = np.array(self.lines[axis])
            own = corners[:, :, axis + 2].max(axis=0) - corners[:, :, axis].min(axis=0)
            sides.append(np.where(whole, own, np.maximum(at[last] - at[first + 1], 0.0)) - EPS)
        kept = np.maximum(*sides) <= self.rule.max_edge + TOUCH
        if self.rule.max_area_m2 is not None:
            kept &= ~whole | (area / 1e6 <= self.rule.max_area_m2 + 2.0 * AREA_SLACK)
        kept |= area > RECTANGULAR * sides[0] * sides[1] - 1.0
        met = np.zeros((self.ny + 1, self.nx + 1), dtype=np.int64)  # how many boxes begin less how many ended, by row and column
        for rows, columns, sign in ((j, i, 1), (m + 1, k + 1, 1), (j, k + 1, -1), (m + 1, i, -1)):
            np.add.at(met, (rows[kept], columns[kept]), sign)
        return bool((full > met.cumsum(axis=0).cumsum(axis=1)[:-1, :-1]).any())

    def _measured(self, part: int) -> _Measured:
        """Width and height (mm), area (mm²) and perimeter along the axes (mm) of a part."""
        nx, (across_x, across_y) = self.nx, self.across
        area = perimeter = 0.0
        x0, y0, x1, y1 = math.inf, math.inf, -math.inf, -math.inf
        for k in _cells(part):
            a, b, c, d = self.bounds[k]
            x0, y0, x1, y1 = min(x0, a), min(y0, b), max(x1, c), max(y1, d)
            area += self.area[k]
            perimeter += self.perimeter[k]
            j, i = divmod(k, nx)
            if i and part >> (k - 1) & 1:
                perimeter -= 2.0 * across_x[i][j]
            if j and part >> (k - nx) & 1:
                perimeter -= 2.0 * across_y[j][i]
        return _Measured(x1 - x0, y1 - y0, area, perimeter)

    def fits(self, part: int, size: _Measured) -> bool:
        """Whether a part of a size keeps the rule."""
        long, short = max(size.width, size.height), max(min(size.width, size.height), EPS)
        if not keeps(long, short, size.area, self.rule, self.joint):
            return False
        return not any(sum(bool(part & cell) for cell in notch) == THREE for notch in self.notches)

    def least(self, part: int) -> float:
        """Joint that every division of a set of cells has at the least, mm; see `layout.joints.limits`."""
        found = self._least.get(part)
        if found is not None:
            return found
        found = 0.0
        for mask, axis, band, known in self._bands:
            own = part & mask
            crossed = known.get(own)
            if crossed is None:
                crossed = known[own] = self._crossed(axis, band, own)
            found += crossed
        if self.rule.max_area_m2 is not None and part:
            size = self._measured(part)
            found = max(found, by_area(size.area, size.perimeter, self.rule, self.joint))
        found = self._least[part] = max(found * self.sure - EPS, 0.0)
        return found

    def _crossed(self, axis: int, band: int, full: int) -> float:
        """Joint across an axis that the full cells of one band along it must have: what their runs cross, by the band's height, mm."""
        lines, other = self.lines[axis], self.lines[1 - axis]
        step, first = (1, band * self.nx) if axis == 0 else (self.nx, band)
        crossed, run = 0, 0.0
        for k in range(len(lines) - 1):
            if full >> (first + k * step) & 1:
                run += lines[k + 1] - lines[k]
            else:
                crossed += joints_along(run, self.rule, self.joint)
                run = 0.0
        crossed += joints_along(run, self.rule, self.joint)
        return crossed * (other[band + 1] - other[band])

    def cost(self, part: int, below: float = math.inf) -> float:
        """Least length of joint that makes a part keep the rule, mm; infinite if no cut on the grid does, or none with less than `below`."""
        found = self.known.get(part)
        if found is not None:
            return found
        least = self.least(part)
        if least >= below:
            return math.inf
        size = self._measured(part)
        if self.fits(part, size):
            self.known[part] = 0.0
            return 0.0
        if len(self.known) > LOOKED_AT and (len(self.known) > MOST_PARTS or self.hopeless):
            return math.inf
        best = math.inf
        if size.area > RECTANGULAR * size.width * size.height:
            best = self.rectangles.cost(size.width, size.height, below)
        best = min(best, self._cut(part, least, min(best, below)))
        if best < below or math.isinf(below):
            self.known[part] = best
            return best
        self._least[part] = below
        return math.inf

    def _cut(self, part: int, least: float, bar: float) -> float:
        """Least length of joint that begins with a cut along the grid, mm; infinite if none is under a bar."""
        best = math.inf
        ways = []
        for axis, line, length in self.cuts(part):
            if max(length, least) >= bar:
                break
            low = part & self.below[axis][line]
            bound = length + self.least(low) + self.least(part ^ low)
            if bound < bar:
                ways.append((bound, length, low))
        for bound, length, low in sorted(ways):
            if max(bound, least) >= bar:
                break
            total = length
            sides = (*self.connected(low), *self.connected(part ^ low))
            rest = bound - length
            for side in sides:
                rest -= self.least(side)
                total += self.cost(side, bar - total - rest)
                if total >= bar:
                    break
            if total < bar:
                best = bar = total
        return best

    def cuts(self, part: int) -> list[tuple[int, int, float]]:
        """Cuts right across a part: axis, grid line and length, shortest first."""
        nx, lengths = self.nx, self.across
        found: dict[tuple[int, int], float] = {}
        for k in _cells(part):
            j, i = divmod(k, nx)
            if i and part >> (k - 1) & 1:
                found[0, i] = found.get((0, i), 0.0) + lengths[0][i][j]
            if j and part >> (k - nx) & 1:
                found[1, j] = found.get((1, j), 0.0) + lengths[1][j][i]
        return [(*key, length) for key, length in sorted(found.items(), key=lambda item: (item[1], item[0])) if length > TOUCH]

    def connected(self, part: int) -> list[int]:
        """The connected parts of a set of cells."""
        result = []
        nx, not_first, not_last = self.nx, self.not_first, self.not_last
        while part:
            grown, last = part & -part, 0
            while grown != last:
                last = grown
                grown |= (grown << 1 & not_first) | (grown >> 1 & not_last) | grown << nx | grown >> nx
                grown &= part
            result.append(grown)
            part ^= grown
        return result

    def weighed(self, told: Sequence[tuple[int, float]], slack: float) -> list[tuple[int, float, float]]:
        """Cuts right across the whole shape: axis, place, and the length of the best division that begins with it, mm.

        A cut that must lead to more than `slack` over the best before it is given up for infinite, unless it lies on a line
        (axis, place) whose figure will be told.
        """
        ways: list[tuple[float, int, int, int, float, int]] = []
        for axis, line, length in self.cuts(self.full):
            low = self.full & self.below[axis][line]
            ways.append((length + self.least(low) + self.least(self.full ^ low), len(ways), axis, line, length, low))
        result: list[tuple[int, float, float]] = [(0, 0.0, math.inf)] * len(ways)
        best = math.inf
        for _, place, axis, line, length, low in sorted(ways):
            at = self.lines[axis][line]
            sides = (*self.connected(low), *self.connected(self.full ^ low))
            wanted = any(a == axis and abs(place - at) <= NEAR for a, place in told)
            total, bar = length, math.inf if wanted else best + slack + EPS
            for k, side in enumerate(sides):
                total += self.cost(side, bar - total - math.fsum(self.least(other) for other in sides[k + 1 :]))
            best = min(best, total)
            result[place] = (axis, at, total)
        return result


@functools.lru_cache(maxsize=128)
def _boxes(nx: int, ny: int) -> tuple[tuple[Ints, Ints], tuple[Ints, Ints]]:
    """First and last column, first and last row of every box of cells of a grid."""
    columns, rows = np.triu_indices(nx), np.triu_indices(ny)
    across, up = (each.ravel() for each in np.meshgrid(np.arange(len(columns[0])), np.arange(len(rows[0]))))
    return (columns[0][across], columns[1][across]), (rows[0][up], rows[1][up])


@functools.lru_cache(maxsize=128)
def _masks(nx: int, ny: int) -> tuple[tuple[list[int], list[int]], tuple[list[int], list[int]], tuple[int, int]]:
    """Cells of a grid on the low side of each line, by axis; in each row and in each column; in the first and in the last column."""
    row = (1 << nx) - 1
    rows = [row << (j * nx) for j in range(ny)]
    columns = [sum(1 << (j * nx + i) for j in range(ny)) for i in range(nx)]
    below = [sum(columns[:i]) for i in range(nx + 1)], [sum(rows[:j]) for j in range(ny + 1)]
    return below, (rows, columns), (columns[0], columns[-1])


def _cells(part: int) -> list[int]:
    """Indices of the cells of a part."""
    result = []
    while part:
        low = part & -part
        result.append(low.bit_length() - 1)
        part ^= low
    return result


def _perimeter(shape: Polygon) -> float:
    """Perimeter of a cell measured along the axes, holes included, mm."""
    return math.fsum(
        float(np.abs(np.diff(shapely.get_coordinates(ring), axis=0)).sum())
        for part in shapely.get_parts(shape)
        for ring in shapely.get_rings(part)
    )
