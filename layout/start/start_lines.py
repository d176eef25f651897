"""The lines to snap: along tile edges, one for each phase of the lattice each way, measured from walls."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.room.outlines import membrane_on
from layout.shapes import parts_of, turned, turned_shape
from layout.units import EPS, TOUCH
from layout.vectors import pair

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from layout.joints.lines import Bay
    from layout.start.faces import Faces

    Floats = NDArray[np.float64]


NOISE = 10 * EPS
"""A line that is nearer than this to the edge of a bay runs along it, mm."""


@dataclass(frozen=True, slots=True)
class LineOffset:
    """Distance of a start line from a wall, square to it, at a point of the line, mm."""

    wall: int
    at: tuple[float, float]
    bare: float
    membrane: float
    finished: float


@dataclass(frozen=True, slots=True)
class StartLine:
    """A line to snap along tile edges, in the surface's own axes, mm.

    `wall_way` points from the line to the wall that it is measured from.
    """

    name: str
    start: tuple[float, float]
    end: tuple[float, float]
    offsets: tuple[LineOffset, ...]
    bay: int
    wall_way: tuple[float, float] = (0.0, 0.0)


class Snapper:
    """Finds the start lines of one surface from its bays, each of which starts at its own origin."""

    def __init__(self, faces: Faces) -> None:
        self.faces = faces

    @property
    def by_walls(self) -> bool:
        """Whether a wall stands across each direction, from which the lines of that direction are taken."""
        return self.faces.aligned and all(self._datum(axis)[0] for axis in (0, 1))

    def _datum(self, axis: int) -> tuple[int, NDArray[np.int64]]:
        """The wall that lines across an axis are measured from, 0 if there is none, and its edges."""
        length = np.hypot(*(self.faces.edges[:, 1] - self.faces.edges[:, 0]).T)
        mask = self.faces.across(axis).mask
        datum = self.faces.datum_wall(mask, length)
        return datum, np.flatnonzero(mask & (self.faces.numbers == datum)) if datum else np.empty(0, dtype=np.int64)

    def lines(self, bays: tuple[Bay, ...]) -> tuple[StartLine, ...]:
        """Start lines in the surface's own axes."""
        return self._on_flat(bays) if self.faces.surface.placing.line is None else self._on_upright(bays)

    def _on_flat(self, bays: tuple[Bay, ...]) -> tuple[StartLine, ...]:
        """Start lines on a flat surface, along tile edges: one for each phase of the lattice each way.

        The first of each way stands one course off the datum wall; bays beyond a joint have their own, off their side towards it.
        """
        result = []
        local = [turned_shape(bay.region, -self.faces.turn) for bay in bays]
        origins = self._in_first_course(bays, local)
        for axis, name in ((1, "A"), (0, "B")):
            g = self.faces.lattice[axis]
            datum, rows = self._datum(axis)
            far = len(rows) > 0 and not bool(self.faces.across(axis).ahead[rows[0]])
            groups: list[tuple[float, list[int]]] = []
            for number in range(len(bays)):
                phase = float(origins[number, axis]) % g.pitch
                same = next((members for p, members in groups if abs(math.remainder(phase - p, g.pitch)) < 0.01), None)
                if same is None:
                    groups.append((phase, [number]))
                else:
                    same.append(number)
            groups.sort(key=lambda group: self._group_key(group[1], bays, rows, local, axis, far=far))
            for k, (_, members) in enumerate(groups):
                face = rows if k == 0 and self._beside(members, bays, rows) else np.empty(0, dtype=np.int64)
                at = self._line_at(axis, [local[m] for m in members], origins[members[0]], face, far=far)
                line = self._line(axis, at, [local[m] for m in members])
                if line is not None:
                    offsets, way = self._offsets(datum, line) if datum else ((), (0.0, 0.0))
                    label = name if k == 0 else f"{name}{k + 1}"
                    result.append(StartLine(label, pair(line[0]), pair(line[-1]), offsets, members[0], way))
        return tuple(result)

    def _in_first_course(self, bays: tuple[Bay, ...], local: list[BaseGeometry]) -> Floats:
        """Origins (n, 2) of bays in the lattice's axes; in a bond, where each course has joints of its own, in the whole course next to the datum wall.

        That is the first whole one, in which a bay begins, but where the wall stands at the far end.
        """
        origins: Floats = turned(np.array([bay.origin for bay in bays]), -self.faces.turn)
        datum, rows = self._datum(1)
        if not datum or not self.faces.pattern.bonded or not self.faces.aligned or self.faces.across(1).ahead[rows[0]]:
            return origins
        g = self.faces.lattice[1]
        high = np.array([part.bounds[3] for part in local])
        moved: Floats = origins + np.floor((high + TOUCH - g.size - origins[:, 1]) / abs(g.pitch))[:, None] * self.faces.pattern.vectors[1]
        return moved

    def _beside(self, members: list[int], bays: tuple[Bay, ...], rows: NDArray[np.int64]) -> bool:
        return (
            self.faces.aligned
            and len(rows) > 0
            and any(self.faces.touches(turned_shape(bays[m].region, -self.faces.frame), rows).any() for m in members)
        )

    def _group_key(
        self, members: list[int], bays: tuple[Bay, ...], rows: NDArray[np.int64], local: list[BaseGeometry], axis: int, *, far: bool
    ) -> tuple[bool, float]:
        off = min(-local[m].bounds[axis + 2] if far else local[m].bounds[axis] for m in members)
        return not self._beside(members, bays, rows), round(off, 3)

    def _line_at(self, axis: int, parts: list[BaseGeometry], start: Floats, rows: NDArray[np.int64], *, far: bool) -> float:
        """Position of a start line: the near edge of the first joint from the datum wall, or from the bay's own edge."""
        g = self.faces.lattice[axis]
        low = min(part.bounds[axis] for part in parts)
        high = max(part.bounds[axis + 2] for part in parts)
        origin = float(start[axis])
        if np.abs(self.faces.pattern.vectors).min() > TOUCH:
            return self._at_a_tile(axis, parts, start, far if self.faces.aligned else None)
        pitch = abs(g.pitch)
        if not self.faces.aligned:  # across the room's middle: at a corner a slanting line would be too short to snap
            middle = shapely.union_all(parts).centroid
            centre = middle.x if axis == 0 else middle.y
            return origin + round((centre - origin) / pitch) * pitch
        edges = self.faces.across(axis)
        if far:
            if len(rows) == 0 and abs(math.remainder(high - origin - g.size, pitch)) < TOUCH:
                return high
            n = math.floor(((float(edges.at[rows[0]]) if len(rows) else high) - TOUCH - origin) / pitch)
            position = origin + n * pitch
            return position if position > low else origin + (n + 1) * pitch
        if len(rows) == 0 and abs(math.remainder(low - origin, pitch)) < TOUCH:
            return low  # whole tiles abut the joint that the bay starts at
        face = float(edges.at[rows[0]]) if len(rows) else low
        n = math.ceil((face + TOUCH - origin - g.size) / pitch)
        position = origin + n * pitch + g.size
        return position if position < high else origin + (n - 1) * pitch + g.size

    def _at_a_tile(self, axis: int, parts: list[BaseGeometry], start: Floats, far: bool | None) -> float:
        """Where tiles do not stand in rows, as in a herringbone: the edge away from the wall of the whole tile nearest to it.

        Tiles of the bay are found by index; `far` if the wall stands at the upper end of the axis; None where no wall runs along it: then the one nearest
        to the middle.
        """
        pattern = self.faces.pattern
        x0, y0, x1, y1 = shapely.total_bounds(parts)
        corners = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]]) - start
        index = corners @ np.linalg.inv(pattern.vectors)
        low, high = np.floor(index.min(axis=0)).astype(int) - 2, np.ceil(index.max(axis=0)).astype(int) + 2
        i, j = np.meshgrid(np.arange(low[0], high[0] + 1), np.arange(low[1], high[1] + 1))
        at = np.column_stack([i.ravel(), j.ravel()]) @ pattern.vectors + start
        lows = np.vstack([at + member.min(axis=0) for member in pattern.members])
        highs = np.vstack([at + member.max(axis=0) for member in pattern.members])
        inside = (lows >= np.array([x0, y0]) - TOUCH).all(axis=1) & (highs <= np.array([x1, y1]) + TOUCH).all(axis=1)
        if not inside.any():
            return float(start[axis])
        if far is None:
            centre = float(shapely.get_coordinates(shapely.union_all(parts).centroid)[0, axis])
            return float(lows[inside, axis][np.abs(lows[inside, axis] - centre).argmin()])
        return float(lows[inside, axis].max() if far else highs[inside, axis].min())

    def _line(self, axis: int, at: float, parts: list[BaseGeometry]) -> Floats | None:
        """The line across the bays that share its phase, from end to end, in the surface's own axes."""
        ends: list[float] = []
        for part in parts:
            x0, y0, x1, y1 = part.bounds
            low, high = part.bounds[axis], part.bounds[axis + 2]
            # a line along the very edge of a bay runs by it, whatever noise a turned room has
            inside = min(max(at, low + NOISE), high - NOISE) if low - NOISE < at < high + NOISE else at
            line = [(inside, y0 - 1), (inside, y1 + 1)] if axis == 0 else [(x0 - 1, inside), (x1 + 1, inside)]
            for own in parts_of(part):
                crossing = shapely.intersection(shapely.Polygon(own.exterior), shapely.LineString(line))
                ends += shapely.get_coordinates(crossing)[:, 1 - axis].tolist()
        if not ends or max(ends) - min(ends) < 1.0:
            return None
        run = np.array([[at, min(ends)], [at, max(ends)]]) if axis == 0 else np.array([[min(ends), at], [max(ends), at]])
        return turned(run, self.faces.turn)

    def _offsets(self, number: int, line: Floats) -> tuple[tuple[LineOffset, ...], tuple[float, float]]:
        """Distances from the bare wall at both ends of the stretch of a line that faces it, and the way to the wall.

        Of a wall that is bent a little the distance is square off the face that stands there, which is where the tape is held.
        """
        wall = next(w for w in self.faces.lining.outline.walls if w.run.number == number)
        a, b = wall.run.points[0], wall.run.points[-1]
        way = (b - a) / np.hypot(*(b - a))
        normal = np.array([-way[1], way[0]])
        reach = float(np.hypot(*(b - a)))
        run = line[-1] - line[0]
        t = [(float((p - a) @ way)) for p in line]
        if abs(t[1] - t[0]) < EPS:
            return (), (0.0, 0.0)
        stops = sorted(min(max((s - t[0]) / (t[1] - t[0]), 0.0), 1.0) for s in (0.0, reach))
        result = []
        membrane = membrane_on(wall.tanked, self.faces.rules)
        for part in stops:
            at = line[0] + run * part
            bare = _off_faces(wall.run.points, at)
            result.append(LineOffset(number, pair(at), bare, bare - membrane, bare - wall.build_up))
        return tuple(result), pair(-normal)

    def _on_upright(self, bays: tuple[Bay, ...]) -> tuple[StartLine, ...]:
        """On an upright face: the level line on top of the first course and the first upright tile edge."""
        x0, y0, x1, y1 = self.faces.surface.field.bounds
        origin = bays[0].origin
        g = self.faces.lattice[1]
        y = origin[1] + math.ceil((y0 + TOUCH - origin[1] - g.size) / g.pitch) * g.pitch + g.size
        g = self.faces.lattice[0]
        x = origin[0] + math.ceil((x0 + TOUCH - origin[0] - g.size) / g.pitch) * g.pitch + g.size
        lines = []
        if y < y1 - NOISE:
            lines.append(StartLine("A", (x0, y), (x1, y), (), 0))
        if x < x1 - NOISE:
            lines.append(StartLine("B", (x, y0), (x, y1), (), 0))
        return tuple(lines)


def _off_faces(points: Floats, at: Floats) -> float:
    """Distance of a point from a wall's run (n, 2), square off the nearest of its faces; more than 0 in the room, which is on its left, mm."""
    start, way = points[:-1], points[1:] - points[:-1]
    long = np.hypot(way[:, 0], way[:, 1])
    off = at - start
    along = ((off * way).sum(axis=1) / long).clip(0.0, long)
    apart = np.hypot(*(off - way * (along / long)[:, None]).T)
    k = int(np.round(apart, 6).argmin())
    return float(way[k, 0] * off[k, 1] - way[k, 1] * off[k, 0]) / float(long[k])
