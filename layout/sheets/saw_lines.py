"""The lines that a piece is sawn along: straight ones, arcs with their centre and radius; figures from two factory edges."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias

import numpy as np

from layout.units import SNAP, TOUCH
from layout.vectors import line_length, rightward, unit

if TYPE_CHECKING:
    from collections.abc import Sequence

    from layout.sheets.cut_by import CutBy
    from layout.vectors import Bools, Floats

CORNER = 25.0
"""A saw line turns into another where it turns by more than this, degrees."""
BEND = 1.0
"""A line that turns by no more than this is straight, degrees."""
BENT = 1e-3
"""Sine of the turn from which a line bends to a side."""
ROUND = 0.3
"""Points of an arc lie no further off its circle, mm."""
LEAST_ARC, LEAST_ROUND = 4, 8
"""Points that show an arc, for a circle goes through any three; and a round hole, for one goes through the corners of any rectangle."""

Side: TypeAlias = Literal["bottom", "top", "left", "right"]


@dataclass(frozen=True, slots=True, eq=False)
class SawLine:
    """A line to saw along (n, 2), the piece on its left, mm; `thing` is what stands there.

    `across` if it is straight and runs from edge to edge of the tile; `arc` is centre x, y and radius.
    """

    points: Floats
    thing: CutBy | None
    across: bool = False
    arc: tuple[float, float, float] | None = None
    closed: bool = False

    @property
    def middle(self) -> Floats:
        """The point halfway along it."""
        steps = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(self.points, axis=0).T))])
        return np.array([np.interp(steps[-1] / 2, steps, self.points[:, k]) for k in (0, 1)])

    @property
    def out(self) -> Floats:
        """Way from the piece to what stands there, square to the line, length 1."""
        return rightward(unit(self.points[-1] - self.points[0]))


def saw_lines(ring: Floats, tile: Floats, things: Sequence[CutBy | None]) -> list[SawLine]:
    """Saw lines of a ring of a piece (n, 2), anticlockwise (a hole clockwise), out of a tile (k, 2); a thing for each of its edges."""
    ends = np.roll(ring, -1, axis=0)
    own = on_outline((ring + ends) / 2, tile)
    if own.all():
        return []
    if not own.any():
        closed = np.vstack([ring, ring[:1]])
        arc = circle_through(ring)
        if arc is not None and len(ring) >= LEAST_ROUND:
            return [SawLine(closed, things[0], arc=arc, closed=True)]
    way = ends - ring
    before = np.roll(way, 1, axis=0)
    turn = np.degrees(np.abs(np.arctan2(before[:, 0] * way[:, 1] - before[:, 1] * way[:, 0], (before * way).sum(axis=1))))
    n = len(ring)
    first = next((k for k in range(n) if not own[k] and (own[k - 1] or turn[k] > CORNER or things[k] != things[k - 1])), 0)
    chains: list[list[int]] = []
    for step in range(n):
        k = (first + step) % n
        if own[k]:
            continue
        fresh = own[k - 1] or turn[k] > CORNER or things[k] != things[k - 1] or not chains
        if fresh:
            chains.append([])
        chains[-1].append(k)
    result: list[SawLine] = []
    for chain in chains:
        points = np.vstack([ring[chain], ends[chain[-1]]])
        arc = circle_through(points)
        if arc is not None or float(turn[chain[1:]].max(initial=0.0)) <= BEND:
            result.append(_line(points, arc, things[chain[0]], tile))
        else:
            result += [_line(np.vstack([ring[k], ends[k]]), None, things[k], tile) for k in chain]
    return result


def _line(points: Floats, arc: tuple[float, float, float] | None, thing: CutBy | None, tile: Floats) -> SawLine:
    if arc is not None:
        return SawLine(points, thing, arc=arc)
    ends = points[[0, -1]]
    return SawLine(ends, thing, across=bool(on_outline(ends, tile).all()))


def on_outline(points: Floats, tile: Floats) -> Bools:
    """Whether points (n, 2) lie on a tile's outline (k, 2)."""
    way = np.roll(tile, -1, axis=0) - tile
    apart = points[:, None] - tile
    part = ((apart * way).sum(axis=2) / np.maximum((way**2).sum(axis=1), 1e-9)).clip(0.0, 1.0)
    result: Bools = np.linalg.norm(apart - way * part[:, :, None], axis=2).min(axis=1) < TOUCH
    return result


def circle_through(points: Floats) -> tuple[float, float, float] | None:
    """Centre and radius of the circle that points (n, 2) lie on, by least squares; None if they do not or are too few or straight.

    A line that bends to both sides is none, however near to a large circle it lies: a foot over two falls.
    """
    if len(points) < LEAST_ARC:
        return None
    ways = np.diff(points, axis=0)
    bends = (ways[:-1, 0] * ways[1:, 1] - ways[:-1, 1] * ways[1:, 0]) / np.maximum(np.hypot(*ways[:-1].T) * np.hypot(*ways[1:].T), 1e-12)
    if bends.max() > BENT and bends.min() < -BENT:
        return None
    middle = points.mean(axis=0)
    own = points - middle
    matrix = np.column_stack([2.0 * own, np.ones(len(own))])
    found, _, rank, _ = np.linalg.lstsq(matrix, (own**2).sum(axis=1), rcond=None)
    if rank < 3:
        return None
    radius = math.sqrt(max(float(found[2] + found[0] ** 2 + found[1] ** 2), 0.0))
    off = np.abs(np.hypot(*(own - found[:2]).T) - radius)
    sagitta = line_length(points) ** 2 / (8.0 * max(radius, SNAP))
    if float(off.max()) > ROUND or sagitta < ROUND:
        return None
    return float(found[0] + middle[0]), float(found[1] + middle[1]), radius


def datum_corner(ring: Floats, tile: Floats) -> tuple[Side, Side]:
    """The two factory edges that a piece is measured from: of left and right, of bottom and top, what the piece keeps most of."""
    w, h = tile.max(axis=0)
    ends = np.roll(ring, -1, axis=0)
    long = np.hypot(*(ends - ring).T)

    def kept(axis: int, at: float) -> float:
        return float(long[(np.abs(ring[:, axis] - at) < TOUCH) & (np.abs(ends[:, axis] - at) < TOUCH)].sum())

    return "left" if kept(0, 0.0) >= kept(0, w) - 1.0 else "right", "bottom" if kept(1, 0.0) >= kept(1, h) - 1.0 else "top"


def figures(lines: Sequence[SawLine], ring: Floats, tile: Floats, step: float) -> dict[Side, list[tuple[float, float]]]:
    """Figures beside a tile: by side, (where along the side mm, distance from the factory edge that is measured from).

    Each end of a saw line is told by its distance from two factory edges. Rounded to the saw's steps so that no piece comes out
    too large: down where the piece lies between the factory edge and the line, up where it lies beyond.
    """
    w, h = (float(v) for v in tile.max(axis=0))
    across, up = datum_corner(ring, tile)
    result: dict[Side, list[tuple[float, float]]] = {"bottom": [], "top": [], "left": [], "right": []}
    told: set[tuple[int, float]] = set()
    for point, out in _ends(lines):
        for axis, (full, other) in enumerate(((w, h), (h, w))):
            at = float(point[axis])
            if at < TOUCH or at > full - TOUCH:
                continue
            far = (across, up)[axis] in ("right", "top")
            value = rounded(full - at if far else at, -float(out[axis]) if far else float(out[axis]), step)
            if (axis, value) in told:
                continue
            told.add((axis, value))
            low = float(point[1 - axis]) < other / 2
            side: Side = ("bottom" if low else "top") if axis == 0 else ("left" if low else "right")
            result[side].append((at, value))
    return {side: sorted(each) for side, each in result.items()}


def rounded(value: float, out: float, step: float) -> float:
    """A distance in steps of the saw: down if the piece lies before the line (`out` above 0), up if beyond.

    >>> rounded(131.6, 1.0, 1.0), rounded(131.6, -1.0, 1.0), rounded(131.6, 1.0, 0.5)
    (131.0, 132.0, 131.5)
    """
    if out > 0.1:
        return math.floor((value + 2 * SNAP) / step) * step
    if out < -0.1:
        return math.ceil((value - 2 * SNAP) / step) * step
    return round(value / step) * step


def _ends(lines: Sequence[SawLine]) -> list[tuple[Floats, Floats]]:
    """Ends of saw lines, each once, with the sum of the ways out of the piece there."""
    result: list[tuple[Floats, Floats]] = []
    for line in lines:
        if line.closed and line.arc is not None:
            continue
        outs = (rightward(unit(line.points[1] - line.points[0])), rightward(unit(line.points[-1] - line.points[-2])))
        for point, out in zip(line.points[[0, -1]], outs, strict=True):
            for k, (known, before) in enumerate(result):
                if float(np.hypot(*(known - point))) < TOUCH:
                    result[k] = (known, before + out)
                    break
            else:
                result.append((point, out))
    return result
