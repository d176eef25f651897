"""Sets a plan out: conducts lining, joints, start and tiles, and gathers what they find.

Start and movement joints answer each other: joints lie on tile joints, and tiles beyond a joint start
afresh at its far face. The loop runs until neither moves, or says that it did not settle.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np
import shapely

from layout import checks
from layout.errors import Finding, SetOutError
from layout.joints import (
    Bay,
    Divider,
    Lattice1D,
    MovementJoint,
    bays_of,
    border_joints,
    break_joints,
    corner_joints,
    fixed_lines,
    slanted_structural,
)
from layout.lining import build_lining
from layout.patterns import member_tiles, pattern_of
from layout.pieces import Cut, Loose, PieceKey, in_tile_axes, mark_pieces, shape_of
from layout.shapes import edges_of, following, parts_of, turned, turned_shape
from layout.start import Offset, Walls, best_offsets, cut_widths, joined_walls, narrowest, search_offsets, snapped
from layout.tape import Tape, reinforce
from layout.tiles import TileField, lay
from layout.units import EPS, TOUCH

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from layout.lining import Border, Lining, Surface
    from layout.patterns import Pattern
    from layout.plan import Plan, Tile

    Floats = NDArray[np.float64]

MOST_ROUNDS = 6
SEEDS = 2
"""Starts each way from which the loop of start and joints is tried if it does not settle at once."""
FOLLOW_DEG = 3.0
"""A structural joint within this of a wall's direction sets the direction of the tiles, degrees."""


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


@dataclass(frozen=True, slots=True)
class RunnerUp:
    """Another start and what it would give, mm."""

    origin: tuple[float, float]
    smallest: float
    worst: float


@dataclass(frozen=True, slots=True)
class Pull:
    """Something that would be liked of a start, and by how much it is missed, mm; 0 where it is met."""

    at: str
    wanted: str
    miss: float


@dataclass(frozen=True, slots=True)
class Start:
    """Where tiling starts and why; `origin` is the lower-left corner of the first whole tile.

    `gap` mm is how much a start that was not found could give more: 0 where the start is exact.
    """

    origin: tuple[float, float]
    smallest: float
    worst: float
    smallest_at: str
    method: Literal["exact", "search", "fixed"]
    lines: tuple[StartLine, ...]
    runners_up: tuple[RunnerUp, ...]
    gap: float = 0.0
    pulls: tuple[Pull, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class WallCut:
    """The cut along one straight edge of a region: widths at its two ends, mm.

    `turns` are the widths that follow each other course by course where a bond shifts them, else empty.
    """

    label: str
    edge: Floats
    start: float
    end: float
    turns: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class SurfaceSetOut:
    """One tiled surface: its bays, tiles, start and cuts."""

    surface: Surface
    tile: Tile
    field: TileField
    bays: tuple[Bay, ...]
    start: Start
    wall_cuts: tuple[WallCut, ...]
    necks: tuple[tuple[float, tuple[float, float]], ...]
    lost_mm2: float

    @property
    def turn(self) -> float:
        """Degrees of the lattice against the surface's x."""
        return self.field.turn


@dataclass(frozen=True, slots=True, eq=False)
class RoomSetOut:
    """One room, set out."""

    lining: Lining
    surfaces: tuple[SurfaceSetOut, ...]
    joints: tuple[MovementJoint, ...]
    tape: Tape
    findings: tuple[Finding, ...]

    @property
    def name(self) -> str:
        """The room's name."""
        return self.lining.room.name

    @property
    def floor(self) -> SurfaceSetOut:
        """The floor."""
        return self.surfaces[0]


@dataclass(frozen=True, slots=True, eq=False)
class SetOut:
    """A plan, set out: rooms, the cuts of all of them, and the mark of each piece."""

    plan: Plan
    rooms: tuple[RoomSetOut, ...]
    cuts: tuple[Cut, ...]
    marks: dict[tuple[int, PieceKey], str]

    def cuts_of(self, room: int, surface: int) -> list[tuple[Cut, int]]:
        """Cuts of one surface with their number there, in the order of marks."""
        counts: dict[str, int] = {}
        for (r, key), mark in self.marks.items():
            if r == room and key.surface == surface:
                counts[mark] = counts.get(mark, 0) + 1
        return [(cut, counts[cut.mark]) for cut in self.cuts if cut.mark in counts]

    def binding_findings(self) -> list[Finding]:
        """Findings that the plan makes binding."""
        wanted = set(self.plan.rules.binding)
        return [f for room in self.rooms for f in room.findings if f.code in wanted]


def _frame(lining: Lining, surface: Surface, tile: Tile, pattern: Pattern) -> tuple[float, float, float]:
    """Directions of the wall followed, the joint frame and the lattice against the surface's x, degrees."""
    base = 0.0
    if surface.placing.line is None:
        walls = lining.outline.walls
        index = lining.outline.wall_index(tile.along) if tile.along is not None else None
        given = index is not None
        if index is None:
            straight = [k for k, wall in enumerate(walls) if wall.run.straight]
            order = sorted(
                straight or range(len(walls)),
                key=lambda k: (-round(walls[k].run.length, 1), lining.outline.bearing(k), walls[k].run.number),
            )
            index = order[0]
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


class _SurfaceSetter:
    """Sets out one surface."""

    def __init__(self, lining: Lining, surface: Surface, tile: Tile) -> None:
        self.lining, self.surface, self.tile = lining, surface, tile
        self.rules = lining.plan.rules
        self.pattern = pattern_of(tile)
        self.base, self.frame, self.turn = _frame(lining, surface, tile, self.pattern)
        self.aligned = self.frame == self.turn
        v1, v2 = self.pattern.vectors
        rows = self.pattern.name == "running"
        self.lattice = (
            Lattice1D(float(v1[0]), tile.size[0], straight=self.aligned and self.pattern.separable),
            Lattice1D(float(v2[1]), tile.size[1], straight=self.aligned and (self.pattern.separable or rows)),
        )
        if self.aligned and rows:
            self.lattice = (replace(self.lattice[0], shifts=tuple(self._shifts())), self.lattice[1])
        self.gap = 0.0
        self.findings: list[Finding] = []
        self.across: dict[int, tuple[NDArray[np.bool_], Floats, Floats, NDArray[np.bool_]]] = {}
        self.edges, self.labels, self.counts, self.doors, self.numbers = self._wall_edges()
        self.play = self._play()
        self.given = self._given_line()

    def _wall_edges(self) -> tuple[Floats, list[str], NDArray[np.bool_], NDArray[np.bool_], list[int]]:
        """Field edges in the joint frame: label, whether it counts for the start, threshold, wall number."""
        if self.surface.borders:
            edges, borders = self.surface.bordered()
            labels = [self._label(border) for border in borders]
            counts = np.array([border.straight for border in borders], dtype=bool)
            doors = np.array([border.kind == "threshold" for border in borders], dtype=bool)
            numbers = [border.wall for border in borders]
        else:
            edges, _, _ = edges_of(self.surface.field)
            labels = [self._side(edge) for edge in edges]
            counts, doors, numbers = np.ones(len(edges), dtype=bool), np.zeros(len(edges), dtype=bool), [0] * len(edges)
        local = turned(edges.reshape(-1, 2), -self.frame).reshape(-1, 2, 2)
        return local, labels, counts, doors, numbers

    @staticmethod
    def _label(border: Border) -> str:
        return f"{border.label} threshold" if border.kind == "threshold" else border.label or "edge"

    def _side(self, edge: Floats) -> str:
        x0, y0, x1, y1 = self.surface.field.bounds
        x, y = (edge[0] + edge[1]) / 2
        if abs(edge[1][0] - edge[0][0]) >= abs(edge[1][1] - edge[0][1]):
            return "foot" if abs(y - y0) < TOUCH else "top" if abs(y - y1) < TOUCH else "opening or plinth"
        return "left end" if abs(x - x0) < TOUCH else "right end" if abs(x - x1) < TOUCH else "opening or plinth"

    def _across(self, axis: int) -> tuple[NDArray[np.bool_], Floats, Floats, NDArray[np.bool_]]:
        """Edges across an axis: mask, position, slant (half its reach along the axis), room ahead; worked out once."""
        known = self.across.get(axis)
        if known is not None:
            return known
        way = self.edges[:, 1] - self.edges[:, 0]
        along, other = np.abs(way[:, axis]), np.abs(way[:, 1 - axis])
        mask = self.counts & (along < other) & (along < self.lattice[axis].pitch)
        at = self.edges[:, :, axis].mean(axis=1)
        slant = np.where(along <= TOUCH, 0.0, along / 2)
        ahead = way[:, 1] < 0 if axis == 0 else way[:, 0] > 0
        self.across[axis] = mask, at, slant, ahead
        return self.across[axis]

    def _play(self) -> Floats:
        """Play of each edge: the datum wall of each direction does not move."""
        play = np.full(len(self.edges), self.rules.wall_tolerance)
        self.datum = [-1, -1]
        length = np.hypot(*(self.edges[:, 1] - self.edges[:, 0]).T) if len(self.edges) else np.empty(0)
        for axis in (0, 1):
            mask = self._across(axis)[0]
            if not mask.any():
                continue
            if self.surface.borders:
                datum = self._datum_wall(axis, mask, length)
                self.datum[axis] = datum or -1
                play[mask & (np.array(self.numbers) == datum) & (datum > 0)] = 0.0
            else:
                wanted = "left end" if axis == 0 else "foot"
                play[mask & np.array([label == wanted for label in self.labels])] = 0.0
        return play

    def _datum_wall(self, axis: int, mask: NDArray[np.bool_], length: Floats) -> int:
        """The wall that does not move: given, else with the widest door, else the longest, else lowest."""
        numbers = np.array(self.numbers)
        across = sorted({int(n) for n in numbers[mask] if n > 0})
        outline = self.lining.outline
        for ref in self.rules.datum:
            index = outline.wall_index(ref)
            if index is not None and outline.walls[index].run.number in across:
                return outline.walls[index].run.number
        if not across:
            return 0

        def rank(number: int) -> tuple[float, float, tuple[float, ...], int]:
            own = numbers == number
            index = next(k for k, w in enumerate(outline.walls) if w.run.number == number)
            door = max((o.s1 - o.s0 for o in outline.openings if o.door and o.wall == index), default=0.0)
            return -round(door, 1), -round(float(length[own & mask].sum()), 1), outline.bearing(index), number

        del axis
        return min(across, key=rank)

    def walls_of(self, axis: int, parts: list[tuple[shapely.Polygon, float]]) -> Walls:
        """Walls across an axis for a set of bays with their lattice shift along it."""
        rows = np.flatnonzero(self._across(axis)[0])
        found = []
        for part, shift in parts:
            hit = rows if len(parts) == 1 else rows[self._touches(part, rows)]
            found.append(self._walls_at(axis, hit, shift))
        return joined_walls(found)

    def _walls_at(self, axis: int, rows: NDArray[np.int64], shift: float = 0.0) -> Walls:
        """Some of the edges across an axis as walls of the score."""
        _, at, slant, ahead = self._across(axis)
        return Walls(
            at[rows] - shift,
            np.asarray(ahead[rows], dtype=bool),
            self.play[rows] + slant[rows],
            self.doors[rows],
            np.array(self.numbers, dtype=np.int64)[rows] == self.datum[axis],
            np.hypot(*(self.edges[rows, 1] - self.edges[rows, 0]).T),
        )

    def _touches(self, part: BaseGeometry, rows: NDArray[np.int64]) -> NDArray[np.bool_]:
        """Whether an edge bounds a bay along some of its length."""
        lines = shapely.linestrings(self.edges[rows])
        near = shapely.intersection(lines, part.buffer(1e-3, join_style="mitre"))
        return np.asarray(shapely.length(near) > 1.0, dtype=bool)

    def set_out(self) -> SurfaceSetOut | None:
        """Bays, start and tiles; None if nothing of the surface is left for tile."""
        surface = self.surface
        if surface.region.is_empty:
            if surface.gross.area > 1.0:
                text = f"{surface.name}: nothing is left for tile inside joints and build-up"
                self.findings.append(Finding(code="surface-too-small", text=text, surface=surface.name))
            return None
        divider = self._divider()
        if self.aligned and self.pattern.name in ("stack", "diagonal", "running"):
            method: Literal["exact", "search", "fixed"]
            start, others, method = self._exact(divider)
        else:
            start, others, method = self._search(divider)
        bays, joints = bays_of(divider, self.frame)
        self.joints = [replace(joint, surface=surface.name) for joint in joints]
        for why in divider.broken:
            self.findings.append(
                Finding(code="bay-over-rule", text=f"{surface.name}: {why}; no cut that was tried mends it", surface=surface.name)
            )
        field, bays = self._lay(bays)
        drawn, worst, where, place, necks = self._narrowest(field, bays)
        if len(field.whole) + len(field.cut) == 0:
            return None
        origin, bays = self._first_whole(field, bays)
        self.findings += checks.cut_findings(surface, self.tile, drawn, worst, f" at {where}" if where else "", place)
        self.findings += checks.calibre_findings(surface, self.tile)
        self.findings += checks.face_findings(surface, len(field.whole), field.lost_mm2)
        runners = self._runners(others, origin, start)
        lines = self._lines(bays) if surface.placing.line is None else self._wall_lines(bays)
        return SurfaceSetOut(
            surface=surface,
            tile=self.tile,
            field=field,
            bays=bays,
            start=Start(origin, drawn, worst, where, method, lines, runners, self.gap, self._pulls(field, bays)),
            wall_cuts=tuple(self._wall_cuts()),
            necks=necks,
            lost_mm2=field.lost_mm2,
        )

    def _divider(self) -> Divider:
        region = self.surface.region
        fixed = []
        if self.surface.name == "floor":
            fixed = fixed_lines(self.lining, self.surface, self.frame, self.rules.movement)
            for strip, joint in slanted_structural(self.lining, self.frame):
                region = shapely.difference(region, strip)
                self.slanted.append(joint)
                text = f"{joint.why}: it runs at an angle to the tile joints, so tiles are cut along both its faces"
                self.findings.append(Finding(code="structural-joint-cut", text=text, surface="floor"))
        clear = [turned_shape(b.hole, -self.frame) for b in self.surface.breaks if b.kind in ("gully", "channel")]
        divider = Divider(turned_shape(region, -self.frame), self.rules, self.lattice, fixed, clear)
        divider.first_axis = 1 if abs(math.remainder(self.base - self.frame, 180.0)) > 45.0 else 0
        if self.surface.kind != "floor":
            divider.rule = replace(divider.rule, max_edge=math.inf, max_area_m2=None, max_aspect=None, reentrant=False)
        return divider

    @property
    def slanted(self) -> list[MovementJoint]:
        """Structural joints at an angle to the frame."""
        self._slanted: list[MovementJoint] = getattr(self, "_slanted", [])
        return self._slanted

    def _exact(self, divider: Divider) -> tuple[tuple[float, float], list[list[Offset]], Literal["exact", "fixed"]]:
        """Start by the exact score of each direction, with the joints in place."""
        if self.tile.start is not None:
            at = turned(np.array([self.tile.start]), -self.frame)[0]
            fixed = (float(at[0]), float(at[1]))
            divider.divide(fixed)
            return fixed, [[], []], "fixed"
        whole = [(shapely.Polygon(), 0.0)]
        free = [
            [self._at(axis, whole, given)] if given is not None else self._choices(axis, whole) for axis, given in enumerate(self.given)
        ]
        tried: list[tuple[tuple[float, ...], tuple[float, float], list[list[Offset]]]] = []
        divider.divide((snapped(free[0][0].at), snapped(free[1][0].at)))
        if len(divider.bays) == 1 and not divider.cuts:  # nothing to settle: no joint answers
            start = self._course((snapped(free[0][0].at), snapped(free[1][0].at)))
            divider.divide(start)
            return start, free, "exact"
        seeds = [(x, y) for x in free[0][:SEEDS] for y in free[1][:SEEDS]]
        settled = False
        for x, y in seeds:
            settled = self._settle(divider, (snapped(x.at), snapped(y.at)), tried)
            if settled:
                break
        tried.sort(key=lambda item: item[0])
        _, start, choices = tried[0]
        start = self._course(start)
        self._divide(divider, start)
        if not settled and self.surface.name == "floor":
            text = "floor: the best start and the movement joints move each other; the best pair that was tried is taken"
            self.findings.append(Finding(code="start-joint-loop", text=text, surface="floor"))
        return start, choices, "exact"

    def _settle(
        self, divider: Divider, start: tuple[float, float], tried: list[tuple[tuple[float, ...], tuple[float, float], list[list[Offset]]]]
    ) -> bool:
        """Move start and joints in turn until neither moves; every pair on the way is kept with what it gives."""
        seen: list[tuple[float, float]] = []
        for _ in range(MOST_ROUNDS):
            self._divide(divider, start)
            anchors = self._anchors(divider)
            shifts = [
                [(part, math.remainder(origin[axis] - start[axis], self.lattice[axis].pitch)) for part, origin in divider.bays]
                for axis in (0, 1)
            ]
            given = [self._at(axis, shifts[axis], start[axis]) for axis in (0, 1)]
            choices = [self._found(divider, axis, start, anchors[axis], shifts[axis]) for axis in (0, 1)]
            own = [
                [now, *[c for c in found if self._apart(axis, c.at, now.at) > EPS]]
                for axis, (now, found) in enumerate(zip(given, choices, strict=True))
            ]
            worst, drawn = min(g.worst for g in given), min(g.drawn for g in given)
            if all(
                self.given[axis] is not None or not anchors[axis] or min(self._apart(axis, a, start[axis]) for a in anchors[axis]) < EPS
                for axis in (0, 1)
            ):
                sawn = sum(self._sawn(axis, shifts[axis], start[axis]) for axis in (0, 1))
                tried.append(((-round(worst, 3), -round(drawn, 3), len(divider.cuts), round(sawn)), start, own))
            after = (snapped(choices[0][0].at), snapped(choices[1][0].at))
            if max(self._apart(axis, after[axis], start[axis]) for axis in (0, 1)) < EPS:
                return True
            if after in seen:
                return False
            seen.append(start)
            start = after
        return False

    def _found(
        self, divider: Divider, axis: int, start: tuple[float, float], anchors: list[float], parts: list[tuple[shapely.Polygon, float]]
    ) -> list[Offset]:
        """Offsets along an axis, best first: the person's own line, else what fixed cuts give, else the best."""
        given = self.given[axis]
        if given is not None:
            return [self._at(axis, parts, given)]
        return self._anchored(divider, axis, start, anchors) if anchors else self._choices(axis, parts)

    def _given_line(self) -> tuple[float | None, float | None]:
        """Start along each axis that the person's line fixes: a tile's edge on that line."""
        line = self.tile.start_line
        result: list[float | None] = [None, None]
        if line is None or not self.aligned or not self.surface.borders:
            return None, None
        outline = self.lining.outline
        index = outline.wall_index(line.wall)
        if index is None:
            place = f"{self.lining.plan.source}: tiles.{self.tile.name}.start_line.wall"
            mend = f"walls are numbered 1 to {len(self.lining.room.outline)}"
            raise SetOutError(place, f'there is no wall {line.wall!r} in "{self.lining.room.name}"', mend)
        wall = outline.walls[index]
        membrane = self.rules.membrane if wall.tanking_height > 0.0 else 0.0
        bare = line.at + {"bare": 0.0, "membrane": membrane, "finished": wall.build_up}[line.face]
        frame = turned(wall.run.points[[0, -1]], -self.frame)
        for axis in (0, 1):
            mask, _, _, ahead = self._across(axis)
            rows = np.flatnonzero(mask & (np.array(self.numbers) == wall.run.number))
            if len(rows):
                g = self.lattice[axis]
                way = 1.0 if ahead[rows[0]] else -1.0
                at = float(frame[:, axis].mean()) + way * bare
                result[axis] = snapped((at - g.size if way > 0 else at) % g.pitch)
        return result[0], result[1]

    def _sawn(self, axis: int, parts: list[tuple[shapely.Polygon, float]], offset: float) -> float:
        """Length of wall along which an offset leaves cut tiles, mm."""
        g = self.lattice[axis]
        walls = self.walls_of(axis, parts)
        cut = walls.widths(np.array([offset]), g.pitch, g.size, play=False)[0] < g.size - TOUCH
        return float(walls.weight[cut].sum())

    def _divide(self, divider: Divider, start: tuple[float, float]) -> None:
        """Divide, then let each bay beside fixed cuts abut the one that gives it the better cuts.

        Beyond a cut tiles start afresh at its far face; a bay before a fixed cut may as well end on it.
        """
        divider.divide(start)
        fixed = [cut for cut in divider.cuts if cut.fixed]
        if len(fixed) < 2:
            return
        for number, (part, origin) in enumerate(divider.bays):
            for axis in (0, 1):
                origin = self._abutting(divider, part, origin, axis)
            divider.bays[number] = (part, origin)

    def _abutting(self, divider: Divider, part: shapely.Polygon, origin: tuple[float, float], axis: int) -> tuple[float, float]:
        g = self.lattice[axis]
        low, high = part.bounds[axis], part.bounds[axis + 2]
        below = [cut for cut in divider.cuts if cut.axis == axis and abs(cut.low + cut.width - low) < TOUCH and _beside(cut.segments, part)]
        above = [cut for cut in divider.cuts if cut.axis == axis and abs(cut.low - high) < TOUCH and _beside(cut.segments, part)]
        if not g.straight or not any(cut.fixed for cut in above) or any(not cut.fixed for cut in (*below, *above)):
            return origin
        options = [high - g.size, low] if below else [high - g.size]
        found = [(self._at(axis, [(part, 0.0), (shapely.Polygon(), 0.0)], at), at) for at in options]
        found.sort(key=lambda item: (-round(item[0].worst, 3), -round(item[0].drawn, 3)))
        best = found[0][1]
        return (best, origin[1]) if axis == 0 else (origin[0], best)

    def _apart(self, axis: int, one: float, other: float) -> float:
        return abs(math.remainder(one - other, self.lattice[axis].pitch))

    def _course(self, start: tuple[float, float]) -> tuple[float, float]:
        """For a running bond: which of the courses starts at the datum wall, the widest cut first.

        The score is the same for all of them, so the choice is made where a person would look: in the
        course beside one datum wall, at the other.
        """
        shift = float(self.pattern.vectors[1][0])
        shifts = self._shifts()
        if self.pattern.name != "running" or len(shifts) < 2:
            return start
        mask, at, _, ahead = self._across(1)
        rows = np.flatnonzero(mask & (np.array(self.numbers) == self.datum[1]))
        sides = np.flatnonzero(self._across(0)[0] & (np.array(self.numbers) == self.datum[0]))
        if len(rows) == 0 or len(sides) == 0:
            return start
        g = self.lattice[1]
        inside = float(at[rows[0]]) + (1.0 if ahead[rows[0]] else -1.0) * (g.pitch - g.size + 1.0)
        course = math.floor((inside - start[1]) / g.pitch)
        walls = self._walls_at(0, sides)
        candidates = np.array([(start[0] + s) % self.lattice[0].pitch for s in shifts])
        phases = walls.phases(candidates + course * shift, self.lattice[0].pitch, self.lattice[0].size).max(axis=1)
        best = int(np.lexsort((np.round(candidates, 3), -np.round(phases, 3)))[0])
        return snapped(float(candidates[best])), start[1]

    def _anchors(self, divider: Divider) -> tuple[list[float], list[float]]:
        """Starts that fixed cuts give along each axis: a tile's far edge on a low face; structural joints alone if any."""
        result: list[list[float]] = []
        for axis in (0, 1):
            g = self.lattice[axis]
            cuts = [cut for cut in divider.cuts if cut.fixed and cut.axis == axis]
            structural = [cut for cut in cuts if cut.kind == "structural"]
            result.append(sorted({snapped((cut.low - g.size) % g.pitch) for cut in structural or cuts}) if g.straight else [])
        return result[0], result[1]

    def _anchored(self, divider: Divider, axis: int, start: tuple[float, float], anchors: list[float]) -> list[Offset]:
        """What each anchor gives, the widest narrowest cut first: the datum of a floor with fixed joints."""
        result = []
        pitch = self.lattice[axis].pitch
        for anchor in anchors:
            if len(anchors) > 1:
                self._divide(divider, (anchor, start[1]) if axis == 0 else (start[0], anchor))
            given = anchor if len(anchors) > 1 else start[axis]
            parts = [(part, math.remainder(origin[axis] - given, pitch)) for part, origin in divider.bays]
            result.append(self._at(axis, parts, anchor))
        return sorted(result, key=lambda offset: (-round(offset.worst, 3), -round(offset.drawn, 3), offset.at))

    def _at(self, axis: int, parts: list[tuple[shapely.Polygon, float]], offset: float) -> Offset:
        """What a given offset gives along an axis."""
        g = self.lattice[axis]
        walls = self.walls_of(axis, parts)
        at = np.array([offset])
        drawn, worst = (float(walls.least(at, g.pitch, g.size, play=play)[0]) for play in (False, True))
        return Offset(offset, drawn, worst)

    def _choices(self, axis: int, parts: list[tuple[shapely.Polygon, float]]) -> list[Offset]:
        g = self.lattice[axis]
        walls = self.walls_of(axis, parts)
        if axis == 0 and self.pattern.name == "running":
            walls = self._rows(walls)
        return best_offsets(walls, g.pitch, g.size)

    def _shifts(self) -> list[float]:
        """How far the courses of a running bond stand off each other, one for each that differs."""
        shift = float(self.pattern.vectors[1][0])
        pitch = self.lattice[0].pitch
        shifts: list[float] = []
        for k in range(24):
            phase = math.remainder(k * shift, pitch)
            if any(abs(math.remainder(phase - s, pitch)) < TOUCH for s in shifts):
                break
            shifts.append(phase)
        return shifts

    def _rows(self, walls: Walls) -> Walls:
        """Each wall as the courses of a running bond see it: once for each shift of the bond."""
        shifts = self._shifts()
        n = len(shifts)
        return Walls(
            np.concatenate([walls.at - s for s in shifts]),
            np.tile(walls.ahead, n),
            np.tile(walls.play, n),
            np.tile(walls.pull, n),
            np.tile(walls.datum, n),
            np.tile(walls.weight, n),
        )

    def _search(self, divider: Divider) -> tuple[tuple[float, float], list[list[Offset]], Literal["search", "fixed"]]:
        """Start of a lattice whose directions do not part: searched over one cell."""
        if self.tile.start is not None:
            at = turned(np.array([self.tile.start]), -self.frame)[0]
            fixed = (float(at[0]), float(at[1]))
            divider.divide(fixed)
            return fixed, [[], []], "fixed"
        edges = turned(self.edges[self.counts].reshape(-1, 2), self.frame - self.turn).reshape(-1, 2, 2)
        play = self.play[self.counts]

        found = search_offsets(edges, play, self.pattern, min(self.tile.size))
        self.gap, (dx, dy) = found.gap, found.at
        start = turned(np.array([[snapped(dx), snapped(dy)]]), self.turn - self.frame)[0]
        at = (float(start[0]), float(start[1]))
        divider.divide(at)
        return at, [[], []], "search"

    def _lay(self, bays: tuple[Bay, ...]) -> tuple[TileField, tuple[Bay, ...]]:
        ordered = sorted(bays, key=lambda b: (round(b.region.bounds[1], 3), round(b.region.bounds[0], 3)))
        origins = np.array([bay.origin for bay in ordered])
        laid = [lay(bay.region, self.pattern, self.turn, np.array(bay.origin)) for bay in ordered]
        used = [k for k, each in enumerate(laid) if len(each.whole) + len(each.cut) or each.lost_mm2]
        counted = [laid[k].counted_from_first(self.pattern) for k in used]
        shifts = turned(np.array([shift for _, shift in counted]).reshape(-1, 2), self.turn)
        field = TileField(self.pattern, self.turn, origins[used] + shifts, tuple(each for each, _ in counted))
        return field, tuple(replace(ordered[k], origin=_pair(origins[k] + shift)) for k, shift in zip(used, shifts, strict=True))

    def _bay_edges(self, bay: Bay) -> tuple[Floats, NDArray[np.int64]]:
        """Counted field edges that bound a bay, in the lattice's axes about the bay's origin."""
        rows = np.flatnonzero(self.counts)
        hit = rows[self._touches(turned_shape(bay.region, -self.frame), rows)]
        local = turned(self.edges[hit].reshape(-1, 2), self.frame) - np.array(bay.origin)
        clipped = turned(local, -self.turn).reshape(-1, 2, 2)
        return clipped, hit

    def _narrowest(
        self, field: TileField, bays: tuple[Bay, ...]
    ) -> tuple[float, float, str, tuple[float, float] | None, tuple[tuple[float, tuple[float, float]], ...]]:
        """Narrowest cut as drawn and over the play, where, and narrow necks."""
        least, worst, where = float(min(self.tile.size)), float(min(self.tile.size)), ""
        place: tuple[float, float] | None = None
        necks: list[tuple[float, tuple[float, float]]] = []
        self.edge_widths: list[tuple[Floats, NDArray[np.int64], Floats]] = []
        for laid, bay in zip(field.bays, bays, strict=True):
            local, hit = self._bay_edges(bay)
            if len(hit) == 0:
                continue
            crossed = cut_widths(local, self.pattern)
            widths, edge, tile = crossed.widths, crossed.edge, crossed.tile
            present = _present(laid.cut, tile) & (widths > TOUCH)
            widths, edge, tile = widths[present], edge[present], tile[present]
            middle = np.stack([member.mean(axis=0) for member in self.pattern.members])
            centre = turned(middle[tile[:, 0]] + tile[:, 1:] @ self.pattern.vectors, self.turn) + np.array(bay.origin)
            self.edge_widths.append((widths, hit[edge], turned(centre, -self.frame)))
            worst = min(worst, narrowest(local, self.play[hit], self.pattern, min(self.tile.size))[0])
            if len(widths) and widths.min() < least:
                k = int(widths.argmin())
                least = float(widths[k])
                where = self.labels[hit[edge[k]]]
                middle = self.edges[hit[edge[k]]].mean(axis=0)
                at = turned(np.array([middle]), self.frame)[0]
                place = (float(at[0]), float(at[1]))
            necks += self._necks(local, edge, tile, bay)
        return least, min(worst, least), where, place, tuple(sorted(necks))

    def _necks(self, local: Floats, edge: NDArray[np.int64], tile: NDArray[np.int64], bay: Bay) -> list[tuple[float, tuple[float, float]]]:
        """Tiles crossed by two walls that face each other: their distance apart, if under the least cut."""
        if len(tile) == 0:
            return []
        _, group, counts = np.unique(tile, axis=0, return_inverse=True, return_counts=True)
        result = []
        for g in np.flatnonzero(counts >= 2):
            own = edge[group.ravel() == g]
            way = local[own, 1] - local[own, 0]
            unit = way / np.hypot(way[:, 0], way[:, 1])[:, None]
            for a in range(len(own)):
                for b in range(a + 1, len(own)):
                    if unit[a] @ unit[b] > -0.99:
                        continue
                    normal = np.array([-unit[a][1], unit[a][0]])
                    apart = float((local[own[b]].mean(axis=0) - local[own[a]].mean(axis=0)) @ normal)
                    if TOUCH < apart < self.tile.least_cut:
                        middle = (local[own[a]].mean(axis=0) + local[own[b]].mean(axis=0)) / 2
                        at = turned(np.array([middle]), self.turn)[0] + np.array(bay.origin)
                        result.append((apart, (float(at[0]), float(at[1]))))
        return result

    def _first_whole(self, field: TileField, bays: tuple[Bay, ...]) -> tuple[tuple[float, float], tuple[Bay, ...]]:
        """Lower-left corner of the first whole tile, and bays whose origin is that of their own."""
        result = []
        for number, (laid, bay) in enumerate(zip(field.bays, bays, strict=True)):
            tiles = laid.whole if len(laid.whole) else laid.cut
            if len(tiles) == 0:
                result.append(bay)
                continue
            corner = field.outlines(np.concatenate([[number], tiles[0]]))[0, 0]
            result.append(replace(bay, origin=(float(corner[0]), float(corner[1]))))
        first = next((k for k, laid in enumerate(field.bays) if len(laid.whole)), 0)
        return result[first].origin, tuple(result)

    def _runners(self, others: list[list[Offset]], origin: tuple[float, float], start: tuple[float, float]) -> tuple[RunnerUp, ...]:
        """The next best starts: one direction changed at a time."""
        result = []
        cap = [self.tile.size[0], self.tile.size[1]]
        best = [choices[0] if choices else Offset(0.0, cap[k], cap[k]) for k, choices in enumerate(others)]
        for axis in (0, 1):
            for offset in others[axis][1:3]:
                move = [0.0, 0.0]
                move[axis] = math.remainder(offset.at - start[axis], self.lattice[axis].pitch)
                at = turned(np.array([move]), self.frame)[0] + np.array(origin)
                other = best[1 - axis]
                result.append(RunnerUp((float(at[0]), float(at[1])), min(offset.drawn, other.drawn), min(offset.worst, other.worst)))
        result.sort(key=lambda r: (-r.worst, -r.smallest))
        return tuple(result[:3])

    def _lines(self, bays: tuple[Bay, ...]) -> tuple[StartLine, ...]:
        """Start lines on a flat surface, along tile edges: one for each phase of the lattice each way.

        The first of each way stands one course off the datum wall; bays beyond a joint have their own.
        """
        result = []
        length = np.hypot(*(self.edges[:, 1] - self.edges[:, 0]).T)
        local = [turned_shape(bay.region, -self.turn) for bay in bays]
        origins = turned(np.array([bay.origin for bay in bays]), -self.turn)
        for axis, name in ((1, "A"), (0, "B")):
            g = self.lattice[axis]
            mask = self._across(axis)[0]
            datum = self._datum_wall(axis, mask, length)
            rows = np.flatnonzero(mask & (np.array(self.numbers) == datum)) if datum else np.empty(0, dtype=np.int64)
            groups: list[tuple[float, list[int]]] = []
            for number in range(len(bays)):
                phase = float(origins[number, axis]) % g.pitch
                same = next((members for p, members in groups if abs(math.remainder(phase - p, g.pitch)) < 0.01), None)
                if same is None:
                    groups.append((phase, [number]))
                else:
                    same.append(number)
            groups.sort(key=lambda group: self._group_key(group[1], bays, rows, local, axis))
            for k, (_, members) in enumerate(groups):
                face = rows if k == 0 and self._beside(members, bays, rows) else np.empty(0, dtype=np.int64)
                at = self._line_at(axis, [local[m] for m in members], float(origins[members[0], axis]), face)
                line = self._line(axis, at, [local[m] for m in members])
                if line is not None:
                    offsets, way = self._offsets(datum, line) if datum else ((), (0.0, 0.0))
                    label = name if k == 0 else f"{name}{k + 1}"
                    result.append(StartLine(label, _pair(line[0]), _pair(line[-1]), offsets, members[0], way))
        return tuple(result)

    def _beside(self, members: list[int], bays: tuple[Bay, ...], rows: NDArray[np.int64]) -> bool:
        return self.aligned and len(rows) > 0 and any(self._touches(turned_shape(bays[m].region, -self.frame), rows).any() for m in members)

    def _group_key(
        self, members: list[int], bays: tuple[Bay, ...], rows: NDArray[np.int64], local: list[BaseGeometry], axis: int
    ) -> tuple[bool, float]:
        low = min(local[m].bounds[axis] for m in members)
        return not self._beside(members, bays, rows), round(low, 3)

    def _line_at(self, axis: int, parts: list[BaseGeometry], origin: float, rows: NDArray[np.int64]) -> float:
        """Position of a start line: the near edge of the first joint from the datum wall, or from the bay's own edge."""
        g = self.lattice[axis]
        low = min(part.bounds[axis] for part in parts)
        high = max(part.bounds[axis + 2] for part in parts)
        if not self.aligned:  # across the room's middle: at a corner a slanting line would be too short to snap
            middle = shapely.union_all(parts).centroid
            centre = middle.x if axis == 0 else middle.y
            return origin + round((centre - origin) / g.pitch) * g.pitch
        _, at, _, ahead = self._across(axis)
        if len(rows) and not ahead[rows[0]]:
            n = math.floor((float(at[rows[0]]) - TOUCH - origin) / g.pitch)
            return origin + n * g.pitch
        if len(rows) == 0 and abs(math.remainder(low - origin, g.pitch)) < TOUCH:
            return low  # whole tiles abut the joint that the bay starts at
        face = float(at[rows[0]]) if len(rows) else low
        n = math.ceil((face + TOUCH - origin - g.size) / g.pitch)
        position = origin + n * g.pitch + g.size
        return position if position < high else origin + (n - 1) * g.pitch + g.size

    def _line(self, axis: int, at: float, parts: list[BaseGeometry]) -> Floats | None:
        """The line across the bays that share its phase, from end to end, in the surface's own axes."""
        ends: list[float] = []
        for part in parts:
            x0, y0, x1, y1 = part.bounds
            line = [(at, y0 - 1), (at, y1 + 1)] if axis == 0 else [(x0 - 1, at), (x1 + 1, at)]
            for own in parts_of(part):
                crossing = shapely.intersection(shapely.Polygon(own.exterior), shapely.LineString(line))
                ends += shapely.get_coordinates(crossing)[:, 1 - axis].tolist()
        if not ends or max(ends) - min(ends) < 1.0:
            return None
        run = np.array([[at, min(ends)], [at, max(ends)]]) if axis == 0 else np.array([[min(ends), at], [max(ends), at]])
        return turned(run, self.turn)

    def _offsets(self, number: int, line: Floats) -> tuple[tuple[LineOffset, ...], tuple[float, float]]:
        """Distances from the bare wall at both ends of the stretch of a line that faces it, and the way to the wall."""
        wall = next(w for w in self.lining.outline.walls if w.run.number == number)
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
        membrane = self.rules.membrane if wall.tanking_height > 0 else 0.0
        for part in stops:
            at = line[0] + run * part
            bare = float((at - a) @ normal)
            result.append(LineOffset(number, _pair(at), bare, bare - membrane, bare - wall.build_up))
        return tuple(result), _pair(-normal)

    def _wall_lines(self, bays: tuple[Bay, ...]) -> tuple[StartLine, ...]:
        """On an upright face: the level line on top of the first course and the first upright tile edge."""
        x0, y0, x1, y1 = self.surface.field.bounds
        origin = bays[0].origin
        g = self.lattice[1]
        y = origin[1] + math.ceil((y0 + TOUCH - origin[1] - g.size) / g.pitch) * g.pitch + g.size
        g = self.lattice[0]
        x = origin[0] + math.ceil((x0 + TOUCH - origin[0] - g.size) / g.pitch) * g.pitch + g.size
        lines = []
        if y < y1:
            lines.append(StartLine("A", (x0, y), (x1, y), (), 0))
        if x < x1:
            lines.append(StartLine("B", (x, y0), (x, y1), (), 0))
        return tuple(lines)

    def _pulls(self, field: TileField, bays: tuple[Bay, ...]) -> tuple[Pull, ...]:
        """How the start answers thresholds (a whole tile) and gullies (centred on a tile or a crossing of joints)."""
        result = []
        for widths, edge, _ in self.edge_widths:
            for k in np.unique(edge):
                if self.doors[k]:
                    own = widths[edge == k]
                    full = float(self.lattice[1 if self._across(1)[0][k] else 0].size)
                    result.append(Pull(self.labels[k], "whole tile", max(full - float(own.min()), 0.0)))
        met = {pull.at for pull in result}
        for k in np.flatnonzero(self.doors & self.counts):
            if self.labels[k] not in met:
                result.append(Pull(self.labels[k], "whole tile", 0.0))
        if self.pattern.name not in ("stack", "diagonal"):
            return tuple(result)
        pitch = np.array([g.pitch for g in self.lattice])
        size = np.array([g.size for g in self.lattice])
        for each in self.surface.breaks:
            if each.kind == "gully":
                number = min(range(len(bays)), key=lambda b: bays[b].region.distance(shapely.Point(each.at)))
                local = turned(np.array([each.at]) - field.origins[number], -self.turn)[0]
                tile = np.mod(local - size / 2 + pitch / 2, pitch) - pitch / 2
                joint = np.mod(local + (pitch - size) / 2 + pitch / 2, pitch) - pitch / 2
                result.append(Pull(each.name, "centred on a tile or a crossing", float(min(np.hypot(*tile), np.hypot(*joint)))))
        return tuple(result)

    def _wall_cuts(self) -> list[WallCut]:
        """Cut at each end of every straight edge."""
        result = []
        for widths, edge, centre in self.edge_widths:
            for k in np.unique(edge):
                own = edge == k
                line = self.edges[k]
                way = (line[1] - line[0]) / np.hypot(*(line[1] - line[0]))
                along = (centre[own] - line[0]) @ way
                values = widths[own]
                first, last = float(values[along.argmin()]), float(values[along.argmax()])
                distinct = np.unique(np.round(values * 2.0) / 2.0)
                turns = tuple(distinct.tolist()) if self.pattern.name == "running" and 2 <= len(distinct) <= 4 else ()
                result.append(WallCut(self.labels[k], turned(line, self.frame), first, last, turns))
        return result


def _beside(segments: list[Floats], part: shapely.Polygon) -> bool:
    """Whether a cut runs along a bay, not only in line with it."""
    return any(shapely.LineString(segment).distance(part) < 50.0 for segment in segments)


def _pair(point: Floats) -> tuple[float, float]:
    return float(point[0]), float(point[1])


def _present(cut: NDArray[np.int64], tile: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Whether a tile has a piece that was kept."""
    if len(cut) == 0 or len(tile) == 0:
        return np.zeros(len(tile), dtype=bool)
    have = {tuple(row) for row in cut.tolist()}
    return np.array([tuple(row) in have for row in tile.tolist()], dtype=bool)


def set_out(plan: Plan) -> SetOut:
    """Set out every room of a plan.

    Raises
    ------
    PlanFaults, SetOutError
        If a room's geometry is not sound or its floor leaves nothing for tile.
    """
    rooms: list[RoomSetOut] = []
    loose: list[Loose] = []
    owners: list[int] = []
    for index in range(len(plan.rooms)):
        room, pieces = _room(plan, index)
        rooms.append(room)
        loose += pieces
        owners += [index] * len(pieces)
    shifted = [
        replace(each, key=PieceKey(each.key.surface + 1000 * owner, each.key.bay, each.key.piece))
        for each, owner in zip(loose, owners, strict=True)
    ]
    cuts, marks = mark_pieces(shifted, plan.rules.tolerance)
    named = {(key.surface // 1000, PieceKey(key.surface % 1000, key.bay, key.piece)): mark for key, mark in marks.items()}
    return SetOut(plan, tuple(_with_weak_pieces(room, index, named) for index, room in enumerate(rooms)), cuts, named)


def _with_weak_pieces(room: RoomSetOut, index: int, marks: dict[tuple[int, PieceKey], str]) -> RoomSetOut:
    """The room with findings about cut tiles that would break."""
    found: list[Finding] = []
    for s, done in enumerate(room.surfaces):
        own = [marks[index, PieceKey(s, b, p)] for b, laid in enumerate(done.field.bays) for p in range(len(laid.pieces))]
        if own:
            _, first = np.unique(own, return_index=True)  # alike pieces are weak alike
            found += checks.weak_findings(done.surface, [own[k] for k in first], done.field.pieces()[first])
    return replace(room, findings=(*room.findings, *found)) if found else room


def _room(plan: Plan, index: int) -> tuple[RoomSetOut, list[Loose]]:
    lining = build_lining(plan, index)
    findings = list(lining.findings)
    surfaces: list[SurfaceSetOut] = []
    joints: list[MovementJoint] = []
    for surface in lining.surfaces:
        joints += border_joints(surface, plan.rules)
        if surface.tile is None:
            joints += break_joints(surface)
            continue
        setter = _SurfaceSetter(lining, surface, surface.tile)
        done = setter.set_out()
        findings += setter.findings
        if done is None:
            if surface is lining.floor:
                place = f"{plan.source}: rooms[{index}]"
                raise SetOutError(
                    place, f'no tile fits on the floor of "{lining.room.name}"', "check the outline's size in mm and the tile's"
                )
            continue
        joints += [*setter.joints, *setter.slanted]
        joints += break_joints(surface)
        surfaces.append(done)
    joints += corner_joints(lining)
    tape = reinforce(lining, joints)
    findings += tape.findings
    findings += checks.joint_findings(lining, joints)
    order = {
        name: k
        for k, name in enumerate(("perimeter", "threshold", "plinth", "column", "intermediate", "structural", "drain", "pipe", "corner"))
    }
    places = {surface.name: k for k, surface in enumerate(lining.surfaces)}
    joints.sort(key=lambda j: (places[j.surface], order[j.kind], np.round(j.line[0], 3).tolist()))
    room = RoomSetOut(lining, tuple(surfaces), tuple(joints), tape, tuple(findings))
    return room, _loose(room)


def _loose(room: RoomSetOut) -> list[Loose]:
    """Every piece of a room in its tile's own axes; tapers know their wall and lattice line."""
    result = []
    for s, done in enumerate(room.surfaces):
        slanted = [cut for cut in done.wall_cuts if np.abs(cut.edge[1] - cut.edge[0]).min() > TOUCH]
        lines = np.array([cut.edge for cut in slanted]).reshape(-1, 2, 2)
        for b, laid in enumerate(done.field.bays):
            polygons, which = in_tile_axes(laid, done.field.pattern, done.tile)
            tiles = member_tiles(done.tile, done.field.pattern)
            member = laid.cut[:, 0]
            shapes = [shape_of(polygon, tiles[int(member[which == k][0])]) for k, polygon in enumerate(polygons)]
            nearest = _nearest_lines(done, b, lines)
            for p, k in enumerate(which.tolist()):
                polygon, shape = polygons[k], shapes[k]
                wall, line = "", (0, 0)
                if shape == "taper":
                    wall = slanted[int(nearest[p])].label if slanted else ""
                    line = _lattice_line(polygon, laid.cut[p])
                result.append(Loose(PieceKey(s, b, p), tiles[int(member[p])], polygon, shape, wall, line))
    return result


def _nearest_lines(done: SurfaceSetOut, bay: int, lines: Floats) -> NDArray[np.int64]:
    """For each piece of a bay the slanted wall line nearest to its tile's centre, (n,)."""
    cut = done.field.bays[bay].cut
    if len(cut) == 0 or len(lines) == 0:
        return np.zeros(len(cut), dtype=np.int64)
    centre = done.field.outlines(np.column_stack([np.full(len(cut), bay), cut])).mean(axis=1)
    a, way = lines[:, 0], lines[:, 1] - lines[:, 0]
    part = (((centre[:, None] - a) * way).sum(axis=2) / (way**2).sum(axis=1)).clip(0.0, 1.0)
    apart = np.linalg.norm(centre[:, None] - (a + way * part[:, :, None]), axis=2)
    result: NDArray[np.int64] = apart.argmin(axis=1)
    return result


def _lattice_line(polygon: shapely.Polygon, tile: NDArray[np.int64]) -> tuple[int, int]:
    """The lattice column or row that a taper stands in: what makes a run of it with its neighbours."""
    ring = shapely.get_coordinates(polygon.exterior)[:-1]
    way = np.abs(following(ring) - ring)
    k = int(np.argmax(way.min(axis=1)))
    return (0, int(tile[1])) if way[k, 0] < way[k, 1] else (1, int(tile[2]))
