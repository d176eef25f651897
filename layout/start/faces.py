"""The edges of a surface's field as its start and its lines see them: direction, play, datum walls.

Everything is in the joint frame: the direction that the pattern follows. Edges across an axis are the
walls that cuts along that axis end at; the datum wall of each direction does not move.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.joints.values import Lattice1D
from layout.plan.patterns import pattern_of
from layout.shapes import edges_of, turned, turned_shape
from layout.start.offsets import Walls, joined_walls
from layout.units import EPS, TOUCH

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from layout.joints.lines import Bay
    from layout.lining.build import Lining
    from layout.lining.surfaces import Border, Surface
    from layout.plan.patterns import Pattern
    from layout.plan.values import Rules, Tile

    Floats = NDArray[np.float64]

FOLLOW_DEG = 3.0
"""A structural joint within this of a wall's direction sets the direction of the tiles, degrees."""


def _frame(lining: Lining, surface: Surface, tile: Tile, pattern: Pattern) -> tuple[float, float, float]:
    """Directions of the wall followed, the joint frame and the lattice against the surface's x, degrees."""
    base = 0.0
    if surface.placing.line is None:
        walls = lining.outline.walls
        index = lining.outline.wall_index(tile.along) if tile.along is not None else None
        given = index is not None
        if index is None:
            straight = [k for k, wall in enumerate(walls) if wall.run.straight] or range(len(walls))
            long = [round(walls[k].run.length, 1) for k in straight]
            alike = [k for k, length in zip(straight, long, strict=True) if length == max(long)]
            index = min(alike, key=lambda k: (lining.outline.bearing(k), walls[k].run.number)) if len(alike) > 1 else alike[0]
        a, b = walls[index].run.points[0], walls[index].run.points[-1]
        base = _direction(b - a)
        for joint in lining.room.structural_joints:
            # the one fixed line of a floor is its datum: tiles follow it where it runs nearly with the walls
            off = math.remainder(_direction(np.array(joint.line[1]) - np.array(joint.line[0])) - base, 90.0)
            if not given and surface is lining.floor and abs(off) <= FOLLOW_DEG:
                base += off
                break
    added = tile.turn + pattern.turn
    turn = base + added
    fourfold = pattern.separable and abs(tile.size[0] - tile.size[1]) < EPS and not tile.directional
    turn = _wrapped(turn, 90.0 if fourfold else 180.0)
    return base, (turn if added % 90.0 == 0.0 else _wrapped(base, 90.0)), turn


def _direction(way: Floats) -> float:
    if abs(way[1]) < EPS:
        return 0.0
    if abs(way[0]) < EPS:
        return 90.0
    return math.degrees(math.atan2(way[1], way[0]))


def _wrapped(angle: float, period: float) -> float:
    """An angle in (-period/2, period/2]."""
    angle = math.remainder(angle, period)
    return period / 2 if abs(angle + period / 2) < 1e-9 else (0.0 if abs(angle) < 1e-9 else angle)


@dataclass(frozen=True, slots=True, eq=False)
class Across:
    """Field edges across one axis: which they are, position, slant (half its reach along the axis), whether the room lies ahead."""

    mask: NDArray[np.bool_]
    at: Floats
    slant: Floats
    ahead: NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Faces:
    """Edges of one surface's field in the joint frame: wall, threshold, play, and the two lattice directions across them.

    Attributes
    ----------
    base, frame, turn : directions of the wall followed, the joint frame and the lattice against the surface's x, degrees.
    edges : (n, 2, 2) float, the field's edges in the joint frame, the room on the left, mm.
    labels, numbers : what stands at each edge, and its wall's number or 0.
    counts, doors : (n,) bool, whether an edge counts for the start, and whether it is a threshold.
    play : (n,) float, how far each may stand off, mm; 0 at the datum wall of its direction.
    datum : the wall that does not move across each axis, by number; -1 if there is none.
    """

    lining: Lining
    surface: Surface
    tile: Tile
    pattern: Pattern
    base: float
    frame: float
    turn: float
    lattice: tuple[Lattice1D, Lattice1D]
    edges: Floats
    labels: tuple[str, ...]
    counts: NDArray[np.bool_]
    doors: NDArray[np.bool_]
    numbers: NDArray[np.int64]
    both: tuple[Across, Across]
    play: Floats
    datum: tuple[int, int]

    @property
    def rules(self) -> Rules:
        """The plan's rules."""
        return self.lining.plan.rules

    @property
    def aligned(self) -> bool:
        """Whether the lattice runs along the joint frame."""
        return self.frame == self.turn

    def across(self, axis: int) -> Across:
        """Edges across an axis."""
        return self.both[axis]

    def datum_wall(self, mask: NDArray[np.bool_], length: Floats) -> int:
        """The wall that does not move: given, else with the widest door, else the longest, else lowest."""
        numbers = self.numbers
        across = sorted({int(n) for n in numbers[mask] if n > 0})
        outline = self.lining.outline
        for ref in self.rules.datum:
            index = outline.wall_index(ref)
            if index is not None and outline.walls[index].run.number in across:
                return outline.walls[index].run.number
        if not across:
            return 0

        places = {wall.run.number: k for k, wall in enumerate(outline.walls)}
        doors: dict[int, float] = {}
        for each in outline.openings:
            if each.door:
                doors[each.wall] = max(doors.get(each.wall, 0.0), each.s1 - each.s0)
        counted = np.bincount(numbers[mask & (numbers > 0)], weights=length[mask & (numbers > 0)], minlength=max(across) + 1)
        seen = {number: (-round(doors.get(places[number], 0.0), 1), -round(float(counted[number]), 1)) for number in across}
        first = min(seen.values())
        alike = [number for number in across if seen[number] == first]  # a bearing costs a walk round the room: only those alike
        return min(alike, key=lambda number: (outline.bearing(places[number]), number)) if len(alike) > 1 else alike[0]

    def walls_of(self, axis: int, parts: list[tuple[shapely.Polygon, float]]) -> Walls:
        """Walls across an axis for a set of bays with their lattice shift along it."""
        rows = np.flatnonzero(self.across(axis).mask)
        found = []
        for part, shift in parts:
            hit = rows if len(parts) == 1 else rows[self.touches(part, rows)]
            found.append(self.walls_at(axis, hit, shift))
        return joined_walls(found)

    def walls_at(self, axis: int, rows: NDArray[np.int64], shift: float = 0.0) -> Walls:
        """Some of the edges across an axis as walls of the score."""
        across = self.across(axis)
        return Walls(
            across.at[rows] - shift,
            np.asarray(across.ahead[rows], dtype=bool),
            self.play[rows] + across.slant[rows],
            self.numbers[rows] == self.datum[axis],
            np.hypot(*(self.edges[rows, 1] - self.edges[rows, 0]).T),
        )

    def touches(self, part: BaseGeometry, rows: NDArray[np.int64]) -> NDArray[np.bool_]:
        """Whether an edge bounds a bay along some of its length."""
        lines = shapely.linestrings(self.edges[rows])
        near = shapely.intersection(lines, part.buffer(1e-3, join_style="mitre"))
        return np.asarray(shapely.length(near) > 1.0, dtype=bool)

    def bay_edges(self, bay: Bay) -> tuple[Floats, NDArray[np.int64]]:
        """Counted field edges that bound a bay, in the lattice's axes about the bay's origin, and which they are."""
        rows = np.flatnonzero(self.counts)
        hit = rows[self.touches(turned_shape(bay.region, -self.frame), rows)]
        local = turned(self.edges[hit].reshape(-1, 2), self.frame) - np.array(bay.origin)
        clipped = turned(local, -self.turn).reshape(-1, 2, 2)
        return clipped, hit


def faces_of(lining: Lining, surface: Surface, tile: Tile) -> Faces:
    """What a start sees of a surface."""
    pattern = pattern_of(tile)
    base, frame, turn = _frame(lining, surface, tile, pattern)
    edges, labels, counts, doors, numbers = _wall_edges(surface, frame)
    v1, v2 = pattern.vectors
    width, height = pattern.box
    aligned = frame == turn
    separable, rows = aligned and pattern.separable, aligned and pattern.bonded
    lattice = (
        Lattice1D(float(v1[0]), width, straight=separable, shifts=pattern.shifts if rows else ()),
        Lattice1D(float(v2[1]), height, straight=separable or rows),
    )
    both = (_across(edges, counts, 0, lattice[0].pitch), _across(edges, counts, 1, lattice[1].pitch))
    still = np.zeros(len(edges))
    bare = Faces(lining, surface, tile, pattern, base, frame, turn, lattice, edges, labels, counts, doors, numbers, both, still, (-1, -1))
    play, datum = _play(bare)
    return replace(bare, play=play, datum=datum)


def _wall_edges(surface: Surface, frame: float) -> tuple[Floats, tuple[str, ...], NDArray[np.bool_], NDArray[np.bool_], NDArray[np.int64]]:
    """Field edges in the joint frame: label, whether it counts for the start, threshold, wall number."""
    if surface.borders:
        edges, borders = surface.bordered()
        labels = tuple(_label(border) for border in borders)
        counts = np.array([border.straight for border in borders], dtype=bool)
        doors = np.array([border.kind == "threshold" for border in borders], dtype=bool)
        numbers = np.array([border.wall for border in borders], dtype=np.int64)
    else:
        edges, _, _ = edges_of(surface.field)
        labels = tuple(_side(surface, edge) for edge in edges)
        counts, doors = np.ones(len(edges), dtype=bool), np.zeros(len(edges), dtype=bool)
        numbers = np.zeros(len(edges), dtype=np.int64)
    local = turned(edges.reshape(-1, 2), -frame).reshape(-1, 2, 2)
    return local, labels, counts, doors, numbers


def _label(border: Border) -> str:
    return f"{border.label} threshold" if border.kind == "threshold" else border.label or "edge"


def _side(surface: Surface, edge: Floats) -> str:
    x0, y0, x1, y1 = surface.field.bounds
    x, y = (edge[0] + edge[1]) / 2
    if abs(edge[1][0] - edge[0][0]) >= abs(edge[1][1] - edge[0][1]):
        slanted = abs(edge[1][1] - edge[0][1]) > TOUCH  # only the foot follows the floor
        if abs(y - y0) < TOUCH or (slanted and edge[1][0] > edge[0][0]):
            return "foot"
        return "top" if abs(y - y1) < TOUCH else "opening or plinth"
    return "left end" if abs(x - x0) < TOUCH else "right end" if abs(x - x1) < TOUCH else "opening or plinth"


def _across(edges: Floats, counts: NDArray[np.bool_], axis: int, pitch: float) -> Across:
    way = edges[:, 1] - edges[:, 0]
    along, other = np.abs(way[:, axis]), np.abs(way[:, 1 - axis])
    mask = counts & (along < other) & (along < pitch)
    at = edges[:, :, axis].mean(axis=1)
    slant = np.where(along <= TOUCH, 0.0, along / 2)
    return Across(mask, at, slant, way[:, 1] < 0 if axis == 0 else way[:, 0] > 0)


def _play(faces: Faces) -> tuple[Floats, tuple[int, int]]:
    """Play of each edge and the datum wall of each direction, which does not move."""
    edges = faces.edges
    play = np.full(len(edges), faces.rules.wall_tolerance)
    length = np.hypot(*(edges[:, 1] - edges[:, 0]).T) if len(edges) else np.empty(0)
    datum = [-1, -1]
    for axis in (0, 1):
        mask = faces.across(axis).mask
        if not mask.any():
            continue
        if faces.surface.borders:
            number = faces.datum_wall(mask, length)
            datum[axis] = number or -1
            play[mask & (faces.numbers == number) & (number > 0)] = 0.0
        else:
            wanted = "left end" if axis == 0 else "foot"
            play[mask & np.array([label == wanted for label in faces.labels])] = 0.0
    return play, (datum[0], datum[1])
