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

from layout.holes import near
from layout.joints.kept import direction_kept
from layout.joints.values import Lattice1D
from layout.plan.patterns import pattern_of
from layout.shapes import turned, turned_shape
from layout.start.edges import covered_edges, hidden_edges, wall_edges
from layout.start.walls import Walls, joined_walls, over_length
from layout.tiles.widths import RIGHT_ACROSS, Play
from layout.units import EPS, TOUCH

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shapely.geometry.base import BaseGeometry

    from layout.identity import EdgeId
    from layout.joints.lines import Bay
    from layout.lining.build import Lining
    from layout.lining.surfaces import Surface
    from layout.plan.patterns import Pattern
    from layout.plan.values import Rules, Tile
    from layout.vectors import Bools, Floats, Ints

SHORT = 2.0
"""An edge at least so many modules long passes a whole tile wherever that stands."""
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
        snapped = direction_kept(lining.room, surface.name)
        if snapped is not None:
            base = snapped - tile.turn - pattern.turn
    added = tile.turn + pattern.turn
    turn = base + added
    turn = as_told(turn, tile, pattern)
    return base, (turn if added % 90.0 == 0.0 else _wrapped(base, 90.0)), turn


def as_told(turn: float, tile: Tile, pattern: Pattern) -> float:
    """A lattice's turn as it is told: the least that lays its tiles alike, degrees."""
    fourfold = pattern.separable and abs(tile.size[0] - tile.size[1]) < EPS and not tile.directional
    return _wrapped(turn, 90.0 if fourfold else 180.0)


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
    """Field edges across one axis: which they are, position, slant (half its reach along the axis), whether the room lies ahead.

    `spans` (n, 2) is where each runs along the other axis, with those that go on in its line: a wall beside its door is one.
    """

    mask: Bools
    at: Floats
    slant: Floats
    ahead: Bools
    spans: Floats


@dataclass(frozen=True, slots=True)
class Part:
    """A bay along one axis: its region in the joint frame (None: the surface in one), the shift of its lattice against a start, mm.

    `other` is where its lattice starts along the other axis; with `sure` only edges count that cut a tile right across wherever it does;
    with `within` walls out of square count over the part alone that tiles pass right across wherever they stand.
    """

    region: shapely.Polygon | None
    shift: float = 0.0
    other: float | None = None
    sure: bool = False
    within: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Faces:
    """Edges of one surface's field, and of the frames in it, in the joint frame: wall, threshold, play, and the two lattice directions across them.

    Attributes
    ----------
    base, frame, turn : directions of the wall followed, the joint frame and the lattice against the surface's x, degrees.
    edges : (n, 2, 2) float, the field's edges in the joint frame, the room on the left, mm.
    known, numbers : what stands at each edge, and its wall's number or 0.
    framed : (n,) bool, whether it is one of a drain's frame or a fixing; those come last.
    counts, doors : (n,) bool, whether an edge counts for the start (arcs do not), and whether it is a threshold.
    play : how far each of the n may stand off, none at the datum wall of its direction, and what its edge joint takes of that.
    datum : the wall that does not move across each axis, by number; -1 if there is none.
    hidden : (n,) bool, whether an edge of a flat surface is out of view, as the plan says.
    covered : (n,) float, how much of what stands on an edge of an upright surface stands behind the floor or the tile of a plinth, mm.
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
    known: tuple[EdgeId, ...]
    counts: Bools
    doors: Bools
    numbers: Ints
    both: tuple[Across, Across]
    framed: Bools
    play: Play
    datum: tuple[int, int]
    hidden: Bools
    covered: Floats

    @property
    def rules(self) -> Rules:
        """The plan's rules."""
        return self.lining.plan.rules

    @property
    def joints(self) -> Floats:
        """The joint along each edge, (n,), mm; 0 where tile ends free and at frames."""
        if self.surface.borders:
            own = np.array([0.0 if border.grows else border.sealed or border.joint for border in self.surface.bordered()[1]])
        else:
            ends = np.array([each.kind in ("foot", "left", "right") for each in self.known], dtype=bool)
            ends |= self.both[1].mask & self.both[1].ahead  # tile that stands on a plinth or a sill
            own = np.where(ends & ~self.framed, self.rules.perimeter_joint, 0.0)[: int((~self.framed).sum())]
        return np.append(own, np.zeros(int(self.framed.sum())))

    @property
    def aligned(self) -> bool:
        """Whether the lattice runs along the joint frame."""
        return self.frame == self.turn

    def across(self, axis: int) -> Across:
        """Edges across an axis."""
        return self.both[axis]

    def datum_wall(self, mask: Bools, length: Floats) -> int:
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

    def walls_of(self, axis: int, parts: Sequence[Part]) -> Walls:
        """Walls across an axis for a set of bays; across the courses of a bond each wall once for each that it meets."""
        rows = np.flatnonzero(self.across(axis).mask)
        found = []
        for part in parts:
            hit = rows if part.region is None else rows[self.touches(part.region, rows)]
            walls = self.walls_at(axis, hit, part.shift)
            if part.region is not None or part.within:
                courses = len(self.lattice[0].shifts) or 1 if axis == 0 else 1
                between = (-np.inf, np.inf) if part.region is None else part.region.bounds[1 - axis :: 2]
                g = self.lattice[1 - axis]  # a cut is as wide as at the end of its tile where it is wider
                walls = over_length(walls, self.edges[hit], axis, between, g.pitch * courses + g.size if part.within else 0.0)
            found.append(self.met(walls, self.across(axis).spans[hit], axis, part))
        return joined_walls(found)

    def met(self, walls: Walls, ends: Floats, axis: int, part: Part) -> Walls:
        """Walls as tiles meet them, which run between `ends` (n, 2) along the other axis, mm.

        A wall not much longer than a tile may pass each in part only: then it cuts no strip. Across the courses of a bond each
        wall is met by each course where that stands, shorter ones by one or two.
        """
        g, shifts, low = self.lattice[1 - axis], self.lattice[0].shifts, part.other
        if part.sure:
            walls = replace(walls, strip=walls.strip & (np.ptp(ends, axis=1) >= SHORT * g.pitch))
        if axis == 0 and shifts:
            found = []
            for k, shift in enumerate(shifts):
                met, strip = np.ones(len(ends), dtype=bool), walls.strip
                if low is not None:
                    reach = _reach(ends, low + k * g.pitch, g.pitch * len(shifts), g.size)
                    met, strip = reach > TOUCH, reach >= RIGHT_ACROSS * g.size
                found.append(replace(walls, at=walls.at - shift, strip=strip).of(met))
            return joined_walls(found)
        if low is None or not (walls.strip & (ends[:, 1] - ends[:, 0] < SHORT * g.pitch)).any():
            return walls
        reach = np.max([_reach(ends, low + shift, g.pitch, g.size) for shift in shifts or (0.0,)], axis=0)
        return replace(walls, strip=walls.strip & (reach >= RIGHT_ACROSS * g.size))

    @property
    def has_short(self) -> bool:
        """Whether an edge is so short that it hangs on the other direction's start what it cuts."""
        for axis in (0, 1):
            size = np.ptp(self.across(axis).spans[self.across(axis).mask], axis=1)
            g = self.lattice[1 - axis]
            count = len(self.lattice[0].shifts) if axis == 0 else 1
            if ((size >= RIGHT_ACROSS * g.size) & (size < (SHORT + max(count, 1) - 1) * g.pitch)).any():
                return True
        return False

    def walls_at(self, axis: int, rows: Ints, shift: float = 0.0) -> Walls:
        """Some of the edges across an axis as walls of the score."""
        across = self.across(axis)
        long = np.ptp(across.spans[rows], axis=1)
        return Walls(
            at=across.at[rows] - shift,
            ahead=np.asarray(across.ahead[rows], dtype=bool),
            slant=across.slant[rows],
            play=self.play.play[rows],
            out=self.play.out[rows],
            into=self.play.into[rows],
            strip=long >= RIGHT_ACROSS * self.lattice[1 - axis].size,
            hidden=self.hidden[rows],
            covered=self.covered[rows] if axis == 1 else np.zeros(len(rows)),
            datum=(self.numbers[rows] == self.datum[axis]) & (self.numbers[rows] > 0),
            weight=np.hypot(*(self.edges[rows, 1] - self.edges[rows, 0]).T),
        )

    def touches(self, part: BaseGeometry, rows: Ints) -> Bools:
        """Whether an edge bounds a bay along some of its length."""
        return self.touching(part, self.edges[rows])

    @staticmethod
    def touching(part: BaseGeometry, edges: Floats) -> Bools:
        """Whether edges in the joint frame bound a bay along some of their length."""
        lines = np.asarray(shapely.linestrings(edges), dtype=object)
        grown = near(part, shapely.bounds(lines)).buffer(1e-3, join_style="mitre")
        shapely.prepare(grown)
        inside = shapely.covers(grown, lines)  # most edges lie in it or off it: only the others are cut
        length = np.where(inside, shapely.length(lines), 0.0)
        partly = ~inside & shapely.intersects(grown, lines)
        length[partly] = shapely.length(shapely.intersection(lines[partly], grown))
        return np.asarray(length > 1.0, dtype=bool)

    def bay_edges(self, bay: Bay) -> tuple[Floats, Ints]:
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
    edges, known, counts, doors, numbers, framed = wall_edges(surface, frame)
    v1, v2 = pattern.vectors
    width, height = pattern.box
    aligned = frame == turn
    separable, rows = aligned and pattern.separable, aligned and pattern.bonded
    lattice = (
        Lattice1D(float(v1[0]), width, straight=separable, shifts=pattern.shifts if rows else ()),
        Lattice1D(float(v2[1]), height, straight=separable or rows),
    )
    modules = lattice if aligned and pattern.level_courses else (_module(tile, pattern),) * 2
    both = (_across(edges, counts, 0, modules[0].pitch), _across(edges, counts, 1, modules[1].pitch))
    still = Play.plain(np.zeros(len(edges)))
    view = (hidden_edges(lining, surface, known), covered_edges(surface, edges) if frame == 0.0 else np.zeros(len(edges)))
    seen = (edges, known, counts, doors, numbers, both, framed, still, (-1, -1), *view)
    bare = Faces(lining, surface, tile, pattern, base, frame, turn, lattice, *seen)
    play, datum = _play(bare, modules)
    return replace(bare, play=play, datum=datum)


def _module(tile: Tile, pattern: Pattern) -> Lattice1D:
    """What a wall sees of a lattice whose directions do not run to it, alike from every side: a tile's shorter side and its joint.

    The vectors of such a lattice are no distances between joints: one of a herringbone's even runs backwards.
    """
    return Lattice1D(pattern.widest + tile.joint, pattern.widest, straight=False)


def _reach(ends: Floats, low: float, pitch: float, size: float) -> Floats:
    """The most that each span (n, 2) takes of one of the tiles that stand every `pitch` from `low`, mm: those at its ends and middle."""
    reach = np.zeros(len(ends))
    for at in (ends[:, 0], ends.mean(axis=1), ends[:, 1]):
        foot = low + np.round((at - low - size / 2) / pitch) * pitch
        reach = np.maximum(reach, np.minimum(ends[:, 1], foot + size) - np.maximum(ends[:, 0], foot))
    return reach


def _across(edges: Floats, counts: Bools, axis: int, pitch: float) -> Across:
    way = edges[:, 1] - edges[:, 0]
    along, other = np.abs(way[:, axis]), np.abs(way[:, 1 - axis])
    mask = counts & (along < other) & (along < pitch)
    at = edges[:, :, axis].mean(axis=1)
    slant = np.where(along <= TOUCH, 0.0, along / 2)
    ahead = way[:, 1] < 0 if axis == 0 else way[:, 0] > 0
    return Across(mask, at, slant, ahead, _joined(np.sort(edges[:, :, 1 - axis], axis=1), mask, at, ahead))


def _joined(spans: Floats, mask: Bools, at: Floats, ahead: Bools) -> Floats:
    """Spans (n, 2) of edges, each with those that go on in its line."""
    result = spans.copy()
    line = np.round(at, 1) * np.where(ahead, 1.0, -1.0) + np.where(ahead, 1e7, 0.0)
    rows = np.flatnonzero(mask)
    rows = rows[np.lexsort((spans[rows, 0], line[rows]))]
    start = 0
    for k in range(1, len(rows) + 1):
        if k < len(rows) and line[rows[k]] == line[rows[start]] and spans[rows[k], 0] <= spans[rows[start:k], 1].max() + TOUCH:
            continue
        result[rows[start:k]] = spans[rows[start:k], 0].min(), spans[rows[start:k], 1].max()
        start = k
    return result


def _play(faces: Faces, modules: Sequence[Lattice1D]) -> tuple[Play, tuple[int, int]]:
    """Play of each edge and the datum wall of each direction, which does not move, by the module that tiles have across each axis."""
    edges, rules = faces.edges, faces.rules
    joints = faces.joints
    play = np.where(faces.framed, 0.0, rules.wall_tolerance)
    out, into = np.zeros(len(edges)), np.zeros(len(edges))
    length = np.hypot(*(edges[:, 1] - edges[:, 0]).T) if len(edges) else np.empty(0)
    low, high = rules.edge_joint_range
    datum = [-1, -1]
    for axis in (0, 1):
        across, g = faces.across(axis), modules[axis]
        mask = across.mask
        if not mask.any():
            continue
        if faces.surface.borders:
            number = faces.datum_wall(mask, length)
            datum[axis] = number or -1
            still = mask & (faces.numbers == number) & (number > 0)
        else:
            wanted = "left" if axis == 0 else "foot"
            still = mask & np.array([each.kind == wanted for each in faces.known])
        play[still] = 0.0
        # joints between the wall and the one that does not move may each give a little
        from_datum = np.abs(across.at - across.at[still].mean()) if still.any() else np.zeros(len(edges))
        gauge = rules.joint_play * np.floor(from_datum / g.pitch) if faces.aligned else 0.0
        sealed = mask & (joints > 0.0)
        out[sealed] = np.maximum(high - joints + gauge - (g.pitch - g.size), 0.0)[sealed]
        into[sealed] = np.maximum(joints - low + gauge, 0.0)[sealed]
    return Play(play, out, into, np.zeros(len(edges), dtype=bool)), (datum[0], datum[1])
