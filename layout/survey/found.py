"""What a drawing or a model shows of rooms, before it is a plan: outlines, doors, columns, pipes, drains, in mm."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import LineString, Polygon

from layout.fields import clean
from layout.names import portable_stem
from layout.shapes import following, signed_area

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from layout.errors import Point
    from layout.survey.bows import Bow

    Floats = NDArray[np.float64]

ON_WALL = 30.0
"""A door stands on a wall that is no further from both its ends, mm."""
LEAST_DOOR = 200.0
"""Narrower gaps in a wall are no doors, mm."""


@dataclass(frozen=True, slots=True, eq=False)
class FoundWall:
    """A wall of a found room: its points (k, 2) from end to end, mm, two where it is straight; its bulge as in DXF."""

    points: Floats
    bulge: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class FoundRoom:
    """A room as found: outline and holes (n, 2), doors as their two ends, round things as middle and diameter, mm.

    Curves of the outline are flattened; `bows` are its arcs. Windows are two ends with sill and head above the floor. What
    speaks for it is told in words, and as a confidence from 0 to 1.
    """

    name: str
    outline: Floats
    holes: tuple[Floats, ...] = ()
    doors: tuple[Floats, ...] = ()
    pipes: tuple[tuple[Point, float], ...] = ()
    gullies: tuple[Point, ...] = ()
    height: float | None = None
    head: float | None = None
    says: tuple[str, ...] = ()
    windows: tuple[tuple[Floats, float, float], ...] = ()
    confidence: float = 1.0
    evidence: tuple[str, ...] = ()
    bows: tuple[Bow, ...] = ()
    tiled: tuple[float, ...] = ()
    """Height of tile on each wall, mm, 0 where it has none; empty where the source says nothing of it."""
    storey: str = ""
    """The storey that it is on; empty where the source does not say."""

    @property
    def tile_height(self) -> float | None:
        """The height that the greatest length of tiled walls has, mm; None where the source says nothing of it."""
        lengths: dict[float, float] = {}
        for wall, height in zip(self.walls, self.tiled, strict=False):
            if height > 0.0:
                lengths[height] = lengths.get(height, 0.0) + float(np.hypot(*np.diff(wall.points, axis=0).T).sum())
        return max(lengths, key=lambda height: (round(lengths[height], 1), height), default=None)

    @property
    def walls(self) -> tuple[FoundWall, ...]:
        """Walls in order, an arc as one wall; the first begins at the first corner that lies within no arc."""
        n = len(self.outline)
        arcs = {bow.first: bow for bow in self.bows}
        inner = {(bow.first + k) % n for bow in self.bows for k in range(1, bow.count)}
        result = []
        for k in range(n):
            if k not in inner:
                count, bulge = (arcs[k].count, arcs[k].bulge) if k in arcs else (1, 0.0)
                result.append(FoundWall(self.outline[np.arange(k, k + count + 1) % n], bulge))
        return tuple(result)

    @property
    def area_m2(self) -> float:
        """Floor within the outline less the holes, m²."""
        return float(Polygon(self.outline, self.holes).area) / 1e6


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """All that was found: rooms, the unit and why, what was taken and left, what to look at.

    `doubtful` are spaces for which less speaks than `evidence.LEAST_CONFIDENCE`; `drawn` (n, 2, 2) the source's lines, mm.
    """

    source: str
    rooms: tuple[FoundRoom, ...]
    unit: str
    unit_why: str
    taken: tuple[str, ...] = ()
    left: tuple[str, ...] = ()
    warnings: tuple[str, ...] = field(default=())
    doubtful: tuple[FoundRoom, ...] = ()
    drawn: Floats | None = None


def openings_of(room: FoundRoom) -> list[tuple[int, float, float]]:
    """Doors on the room's walls: wall number, offset from its first corner, width, mm; doors that stand on none are left out."""
    return on_walls(room, room.doors)


def on_walls(room: FoundRoom, lines: Sequence[Floats]) -> list[tuple[int, float, float]]:
    """Lines of two ends on the room's walls, as `openings_of` tells doors."""
    walls = [_along(wall) for wall in room.walls]
    result: list[tuple[int, float, float]] = []
    for door in lines:
        best: tuple[float, int, float, float] | None = None
        for k, (length, place) in enumerate(walls):
            if length < LEAST_DOOR:
                continue
            off, low, high = place(door)
            low, high = max(low, 0.0), min(high, length)
            if off <= ON_WALL and high - low >= LEAST_DOOR and (best is None or off < best[0]):
                best = (off, k, low, high)
        if best is not None:
            _, k, low, high = best
            if not any(w == k + 1 and low < o + s and o < high for w, o, s in result):
                result.append((k + 1, round(low, 1), round(min(high, walls[k][0]) - low - 0.05, 1)))
    return sorted(result)


def _along(wall: FoundWall) -> tuple[float, Callable[[Floats], tuple[float, float, float]]]:
    """A wall's length, and how to tell how far a line of two ends stands off it, and from where to where along it, mm."""
    a, b = wall.points[0], wall.points[-1]
    if wall.bulge:
        line = LineString(wall.points)

        def on_arc(door: Floats) -> tuple[float, float, float]:
            ends = np.asarray(shapely.points(door))
            low, high = np.sort(shapely.line_locate_point(line, ends))
            return float(shapely.distance(line, ends).max()), float(low), float(high)

        return float(line.length), on_arc
    length = float(np.hypot(*(b - a)))
    way = (b - a) / max(length, 1e-9)

    def on_line(door: Floats) -> tuple[float, float, float]:
        off = float(np.abs(way[0] * (door - a)[:, 1] - way[1] * (door - a)[:, 0]).max())
        low, high = np.sort((door - a) @ way)
        return off, float(low), float(high)

    return length, on_line


def tidied(ring: Floats, step: float = 0.1) -> Floats:
    """A ring anticlockwise, on a grid of `step` mm, without corners in straight edges or of no length, from its lowest left corner."""
    points = np.round(np.asarray(ring, dtype=float) / step) * step
    points = points if signed_area(points) > 0.0 else points[::-1]
    plain = Polygon(points).simplify(2.0 * step)
    result = shapely.get_coordinates(plain.exterior if isinstance(plain, Polygon) and not plain.is_empty else Polygon(points).exterior)[:-1]
    result = np.round(result / step) * step + 0.0
    ends, before = following(result), np.roll(result, 1, axis=0)
    bend = np.abs((result - before)[:, 0] * (ends - result)[:, 1] - (result - before)[:, 1] * (ends - result)[:, 0])
    keep = bend > 2.0 * step * np.hypot(*(ends - before).T)
    result = result[keep] if keep.sum() >= 3 else result
    first = int(np.lexsort((result[:, 0], result[:, 1]))[0])
    rolled: Floats = np.roll(result, -first, axis=0)
    return rolled


def unique_names(names: Sequence[str]) -> list[str]:
    """Names made different by a number where they are alike, of letters that are seen; empty ones become Room and their place.

    >>> unique_names(["Kitchen", "", "Kitchen"])
    ['Kitchen', 'Room 2', 'Kitchen 2']
    """
    result: list[str] = []
    seen: set[str] = set()
    counts: dict[str, int] = {}
    for k, given in enumerate(names, 1):
        base = " ".join(clean(given).split()) or f"Room {k}"
        name = base
        while name in seen:
            counts[base] = counts.get(base, 1) + 1
            name = f"{base} {counts[base]}"
        seen.add(name)
        result.append(name)
    return result


def file_stem(name: str) -> str:
    """A room's name as a file's.

    >>> file_stem("Wash-up / Kitchen 2")
    'wash-up-kitchen-2'
    """
    return portable_stem(re.sub(r"[^\w]+", "-", name.lower()).strip("-")[:60], "room")
