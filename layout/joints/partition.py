"""The least length of joint that divides a shape into bays that keep a rule, over every cut right across along a grid.

The grid has lines through the shape's corners, on liked lines, in equal parts between them, and as far from them as
the rule reaches. A cut anywhere else can be slid to one of these without growing, since its length changes at corners
only. The parts are weighed by dynamic programming over sets of cells, cut short by what any division must have
(`layout.joints.limits`); parts that are rectangles by `layout.joints.rectangles`. `tests/joints/test_divide.py` lays it
against every cut of a fine grid.
"""

from __future__ import annotations

import bisect
import functools
import itertools
import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import shapely

from layout.joints.bounds import hopeless, sure_of
from layout.joints.limits import RECTANGULAR, by_area, joints_along, keeps
from layout.shapes import following
from layout.units import EPS, TOUCH

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray
    from shapely import Polygon

    from layout.errors import Point
    from layout.joints.rectangles import Rectangles

    Floats = NDArray[np.float64]

MOST_LINES = 7
"""Grid lines inside a shape, each way: bounds the number of parts that are weighed."""
NEAR = 50.0
"""Grid lines nearer to each other than this are one, mm."""
MOST_PARTS = 2500
"""Parts weighed in one shape; past it only those already weighed count: a joint may then be longer than need be, never a bay too large."""
LOOKED_AT = 48
"""Parts weighed before it is asked whether there is any division at all: where one is found at once that costs more than it saves."""
CELL_LEAST = 1e-4
"""Part of its box below which what a slanted wall leaves of a cell is no cell."""
THREE = 3
"""Cells of four round a re-entrant corner in a part that still wraps round it."""


BYTE = 0xFF
"""Cells that are looked up at a time."""


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
        reflex = _reflex(shape)
        self.lines = [self._lines(shape.bounds[axis], shape.bounds[axis + 2], reflex[:, axis].tolist(), liked[axis]) for axis in (0, 1)]
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
        boxes = shapely.bounds(cells)
        self.bounds: list[list[float]] = boxes.tolist()
        self._ends: list[list[float]] = boxes.T.tolist()
        self.perimeter: list[float] = (2.0 * ((high_x - low_x) + (high_y - low_y))).ravel().tolist()
        if self.rule.max_area_m2 is not None:
            for k in np.flatnonzero(cut):
                self.perimeter[k] = _perimeter(cells[k])
        size = ((high_x - low_x) * (high_y - low_y)).ravel()
        self.full = sum(1 << int(k) for k in np.flatnonzero(area > np.maximum(1.0, CELL_LEAST * size)))
        self.whole = sum(1 << int(k) for k in np.flatnonzero(area > RECTANGULAR * size))
        self.across = self._lengths(shape)
        self.below, self.bands, (first, last) = _masks(self.nx, self.ny)
        self.not_first, self.not_last = self.full & ~first, self.full & ~last
        self.notches = [notch for corner in corners if (notch := self._notch(corner)) is not None] if self.rule.reentrant else []
        self.sure = sure_of(self.rule, self.joint)
        self.known: dict[int, float] = {}
        self._least: dict[int, float] = {}
        self._sizes: dict[int, _Measured] = {}
        self._lines_in: dict[int, dict[tuple[int, int], float]] = {}
        crossed: tuple[dict[int, int], dict[int, int]] = ({0: 0}, {0: 0})
        self._bands = [
            (axis, band * (self.nx if axis == 0 else 1), self.bands[axis][0], high - low, crossed[axis])
            for axis in (0, 1)
            for band, (low, high) in enumerate(itertools.pairwise(self.lines[1 - axis]))
        ]

    def _lines(self, low: float, high: float, corners: Sequence[float], liked: Sequence[float]) -> list[float]:
        """Grid lines: both ends, then corners, liked lines, equal parts and reaches of the rule, until there are enough."""
        stops = sorted({low, high, *(round(at, 3) for at in corners)})
        result = [low, high]
        for at in itertools.chain(stops, liked, self._reaches(stops)):
            if not low + NEAR < at < high - NEAR:
                continue
            place = bisect.bisect(result, at)
            if at - result[place - 1] > NEAR and result[place] - at > NEAR:
                result.insert(place, at)
                if len(result) == MOST_LINES + 2:
                    break
        return result

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

    def _lengths(self, shape: Polygon) -> list[list[list[float]]]:
        """Length of each grid line inside the shape between its neighbours of the other axis, by axis: (lines, cells across), mm."""
        made = []
        for axis in (0, 1):
            at, across = np.array(self.lines[axis]), np.array(self.lines[1 - axis])
            segments = np.empty((len(at), len(across) - 1, 2, 2))
            segments[..., axis] = at[:, None, None]
            segments[..., 0, 1 - axis], segments[..., 1, 1 - axis] = across[:-1], across[1:]
            made.append(segments)
        lines = np.asarray(shapely.linestrings(np.concatenate([each.reshape(-1, 2, 2) for each in made])))
        cut = ~shapely.covers(shape, lines)
        lines[cut] = shapely.intersection(lines[cut], shape)
        lengths, first = shapely.length(lines), made[0].shape[0] * made[0].shape[1]
        found = (lengths[:first], made[0]), (lengths[first:], made[1])
        return [own.reshape(segments.shape[:2]).tolist() for own, segments in found]

    def _notch(self, corner: Point) -> tuple[int, ...] | None:
        """The four cells round a re-entrant corner of the room; None if the grid does not pass it."""
        at = [min(range(len(self.lines[axis])), key=lambda k: abs(self.lines[axis][k] - corner[axis])) for axis in (0, 1)]
        if any(abs(self.lines[axis][at[axis]] - corner[axis]) > 2.0 or not 0 < at[axis] < len(self.lines[axis]) - 1 for axis in (0, 1)):
            return None
        i, j = at
        return tuple(1 << (jj * self.nx + ii) for jj in (j - 1, j) for ii in (i - 1, i))

    @functools.cached_property
    def hopeless(self) -> bool:
        """Whether it is sure without weighing that no division lies on the grid."""
        full = np.array([self.full >> k & 1 for k in range(self.nx * self.ny)]).reshape(self.ny, self.nx)
        cells = np.reshape(self.area, full.shape) * full, np.reshape(self.bounds, (*full.shape, 4))
        return hopeless((self.lines[0], self.lines[1]), full, *cells, self.rule, self.joint)

    def _measured(self, part: int) -> _Measured:
        """Width and height (mm), area (mm²) and perimeter along the axes (mm) of a part; where no area is limited without perimeter."""
        found = self._sizes.get(part)
        if found is None:
            found = self._sizes[part] = self._size(part)
        return found

    def _size(self, part: int) -> _Measured:
        x0, y0, x1, y1 = self._ends
        own = _cells(part)
        width = max([x1[k] for k in own]) - min([x0[k] for k in own])
        height = max([y1[k] for k in own]) - min([y0[k] for k in own])
        area = math.fsum([self.area[k] for k in own])
        if self.rule.max_area_m2 is None:
            return _Measured(width, height, area, 0.0)
        between = math.fsum(self._between(part).values())
        return _Measured(width, height, area, math.fsum([self.perimeter[k] for k in own]) - 2.0 * between)

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
        found, whole = 0.0, part & self.whole
        for axis, shift, mask, across, known in self._bands:
            own = whole >> shift & mask
            crossed = known.get(own)
            if crossed is None:
                crossed = known[own] = self._crossed(axis, own)
            found += crossed * across
        if self.rule.max_area_m2 is not None and part:
            size = self._measured(part)
            found = max(found, by_area(size.area, size.perimeter, self.rule, self.joint))
        found = self._least[part] = max(found * self.sure - EPS, 0.0)
        return found

    def _crossed(self, axis: int, full: int) -> int:
        """Joints across an axis that runs of full cells along it, as the bits of the first band, must have."""
        lines, step = self.lines[axis], 1 if axis == 0 else self.nx
        crossed, run = 0, 0.0
        for k in range(len(lines) - 1):
            if full >> (k * step) & 1:
                run += lines[k + 1] - lines[k]
            elif run:
                crossed += joints_along(run, self.rule, self.joint)
                run = 0.0
        return crossed + joints_along(run, self.rule, self.joint)

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
        found = self._between(part)
        return [(*key, length) for key, length in sorted(found.items(), key=_by_length) if length > TOUCH]

    def _between(self, part: int) -> dict[tuple[int, int], float]:
        """Length of each grid line between cells of a part, by axis and line, mm."""
        found = self._lines_in.get(part)
        if found is not None:
            return found
        found = self._lines_in[part] = {}
        nx, (across_x, across_y) = self.nx, self.across
        row, below = (1 << nx) - 1, 0
        for j in range(self.ny):
            here = part >> (j * nx) & row
            for i in _bits(here & here << 1):
                found[0, i] = found.get((0, i), 0.0) + across_x[i][j]
            for i in _bits(here & below):
                found[1, j] = found.get((1, j), 0.0) + across_y[j][i]
            below = here
        return found

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
def _masks(nx: int, ny: int) -> tuple[tuple[list[int], list[int]], tuple[list[int], list[int]], tuple[int, int]]:
    """Cells of a grid on the low side of each line, by axis; in each row and in each column; in the first and in the last column."""
    row = (1 << nx) - 1
    rows = [row << (j * nx) for j in range(ny)]
    columns = [sum(1 << (j * nx + i) for j in range(ny)) for i in range(nx)]
    below = [sum(columns[:i]) for i in range(nx + 1)], [sum(rows[:j]) for j in range(ny + 1)]
    return below, (rows, columns), (columns[0], columns[-1])


def _reflex(shape: Polygon) -> Floats:
    """Corners of a shape's outline that turn into it, (n, 2), mm."""
    ring = shapely.get_coordinates(shape.exterior)[:-1]
    after = following(ring) - ring
    before = np.concatenate([after[-1:], after[:-1]])
    turn = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    sense = 1.0 if shape.exterior.is_ccw else -1.0
    corners: Floats = ring[turn * sense < -0.05 * np.hypot(*before.T) * np.hypot(*after.T)]
    return corners


def _by_length(item: tuple[tuple[int, int], float]) -> tuple[float, tuple[int, int]]:
    return item[1], item[0]


def _cells(part: int) -> list[int]:
    """Indices of the cells of a part."""
    result: list[int] = []
    at = 0
    while part:
        result += [at + k for k in _bits(part & BYTE)]
        part >>= 8
        at += 8
    return result


@functools.lru_cache(maxsize=512)
def _bits(row: int) -> tuple[int, ...]:
    """Places of the bits that are set in a few."""
    return tuple(k for k in range(row.bit_length()) if row >> k & 1)


def _perimeter(shape: Polygon) -> float:
    """Perimeter of a cell measured along the axes, holes included, mm."""
    return math.fsum(
        float(np.abs(np.diff(shapely.get_coordinates(ring), axis=0)).sum())
        for part in shapely.get_parts(shape)
        for ring in shapely.get_rings(part)
    )
