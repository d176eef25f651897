"""The start of one surface, settled with its movement joints.

Start and joints answer each other: joints lie on tile joints, and tiles beyond a joint start afresh at
its far face. The loop runs until neither moves, or says that it did not settle.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal, TypeAlias

import numpy as np
import shapely

from layout.errors import Finding, SetOutError
from layout.joints.divide import divide
from layout.plan.wishes import Criteria, Measures, criteria_of
from layout.room.outlines import membrane_on
from layout.shapes import turned
from layout.start.offsets import Offset, Walls, best_offsets, measures, snapped
from layout.start.search import search_offsets
from layout.units import EPS, TOUCH

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from layout.joints.values import Division, Parting, Undivided
    from layout.start.faces import Faces
    from layout.start.pulls import Pulls

    Floats = NDArray[np.float64]

_Tried: TypeAlias = "tuple[tuple[float, ...], tuple[float, float], tuple[tuple[Offset, ...], tuple[Offset, ...]]]"
Method: TypeAlias = Literal["exact", "search", "fixed"]
MOST_ROUNDS = 6
SEARCHED_SIDES = 200
"""Starts tried on a side of a plinth or column and in a reveal: narrow faces, of which a room has many."""
SEEDS = 2
"""Starts each way from which the loop of start and joints is tried if it does not settle at once."""


@dataclass(frozen=True, slots=True, eq=False)
class Settled:
    """A start in the joint frame, mm, with the division that goes with it.

    `choices` are what each direction offers, best first; `gap` mm is how much a start that was not found could give more.
    """

    start: tuple[float, float]
    choices: tuple[tuple[Offset, ...], tuple[Offset, ...]]
    method: Method
    division: Division
    gap: float = 0.0
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Settler:
    """Finds one surface's start with its movement joints.

    `given` fixes the start along an axis: a course that walls share, joints in line with the floor's, a person's own line.
    """

    faces: Faces
    undivided: Undivided
    pulls: Pulls
    given: tuple[float | None, float | None] = (None, None)

    @property
    def criteria(self) -> Criteria:
        """How starts are ranked."""
        return criteria_of(self.faces.rules.start_order, self.faces.rules.start_weights, self.faces.tile.least_cut)

    def settled(self) -> Settled:
        """The start of the surface: fixed by the plan, exact where the directions part, else searched."""
        if self.faces.tile.start is not None:
            at = turned(np.array([self.faces.tile.start]), -self.faces.frame)[0]
            fixed = (float(at[0]), float(at[1]))
            return Settled(fixed, ((), ()), "fixed", divide(self.undivided, fixed))
        return self._exact() if self.faces.aligned and self.faces.pattern.level_courses else self._search()

    def value(self, found: Settled) -> tuple[float, ...]:
        """How a settled start ranks, lower first."""
        given = [self._at(axis, self._parts(axis, found.start[axis], found.division), found.start[axis]) for axis in (0, 1)]
        return self.rank(given, found.division)

    def best_move(self, found: Settled) -> tuple[tuple[float, float], float] | None:
        """For a start that the plan fixes: how far each way to the best one among the same joints, and its narrowest cut over the play, mm."""
        if not self.faces.aligned or not self.faces.pattern.level_courses:
            return None
        move, worst = [], []
        for axis in (0, 1):
            pitch = self.faces.lattice[axis].pitch
            best = self._choices(axis, self._parts(axis, found.start[axis], found.division))[0]
            move.append(math.remainder(best.at - found.start[axis], pitch))
            worst.append(best.worst)
        return (move[0], move[1]), min(worst)

    def together(self, given: Sequence[Offset]) -> Measures:
        """What offsets of several directions give as one start, (1,)."""
        ways = (("worst", min), ("drawn", min), ("asked", sum), ("habits", sum), ("unlike", sum), ("sawn", sum))
        return Measures(**{name: np.array([how(getattr(offset, name) for offset in given)]) for name, how in ways})

    def rank(self, given: Sequence[Offset], division: Division) -> tuple[float, ...]:
        """A start in both directions as the criteria rank it, then by fewer joints and less to saw."""
        found = self.together(given)
        keys = [float(key[0]) for key in self.criteria.keys(found)]
        head = self.criteria.decisive
        return (*keys[:head], -round(float(found.drawn[0]), 3), float(len(division.cuts)), *keys[head:])

    def _parts(self, axis: int, start: float, division: Division) -> list[tuple[shapely.Polygon, float]]:
        """The bays of a division, each with the shift of its lattice along an axis against a start, mm."""
        pitch = self.faces.lattice[axis].pitch
        return [(part, math.remainder(origin[axis] - start, pitch)) for part, origin in division.bays]

    def _exact(self) -> Settled:
        """Start by the exact score of each direction, with the joints in place."""
        whole = [(shapely.Polygon(), 0.0)]
        free = tuple(
            [self._at(axis, whole, given)] if given is not None else self._choices(axis, whole) for axis, given in enumerate(self.given)
        )
        first = (snapped(free[0][0].at), snapped(free[1][0].at))
        division = divide(self.undivided, first)
        if len(division.bays) == 1 and not division.cuts:  # nothing to settle: no joint answers
            start = self._course(first)
            return Settled(start, (tuple(free[0]), tuple(free[1])), "exact", divide(self.undivided, start))
        tried: list[_Tried] = []
        settled = False
        for x, y in [(x, y) for x in free[0][:SEEDS] for y in free[1][:SEEDS]]:
            more, settled = self._loop((snapped(x.at), snapped(y.at)))
            tried += more
            if settled:
                break
        tried.sort(key=lambda item: item[0])
        _, start, choices = tried[0]
        start = self._course(start)
        findings: tuple[Finding, ...] = ()
        if not settled and self.faces.surface.kind == "floor":
            text = "floor: the best start and the movement joints move each other; the best pair that was tried is taken"
            findings = (Finding(code="start-joint-loop", text=text),)
        return Settled(start, choices, "exact", self._abutted(start), findings=findings)

    def _loop(self, start: tuple[float, float]) -> tuple[list[_Tried], bool]:
        """Move start and joints in turn until neither moves: every pair on the way with what it gives, and whether it settled."""
        tried: list[_Tried] = []
        seen: list[tuple[float, float]] = []
        for _ in range(MOST_ROUNDS):
            division = self._abutted(start)
            anchors = self._anchors(division)
            shifts = [self._parts(axis, start[axis], division) for axis in (0, 1)]
            given = [self._at(axis, shifts[axis], start[axis]) for axis in (0, 1)]
            choices = [self._found(axis, start, anchors[axis], division) for axis in (0, 1)]
            own = [
                (now, *(c for c in found if self._apart(axis, c.at, now.at) > EPS))
                for axis, (now, found) in enumerate(zip(given, choices, strict=True))
            ]
            if all(
                self.given[axis] is not None or not anchors[axis] or min(self._apart(axis, a, start[axis]) for a in anchors[axis]) < EPS
                for axis in (0, 1)
            ):
                tried.append((self.rank(given, division), start, (own[0], own[1])))
            after = (snapped(choices[0][0].at), snapped(choices[1][0].at))
            if max(self._apart(axis, after[axis], start[axis]) for axis in (0, 1)) < EPS:
                return tried, True
            if after in seen:
                return tried, False
            seen.append(start)
            start = after
        return tried, False

    def _found(self, axis: int, start: tuple[float, float], anchors: list[float], division: Division) -> list[Offset]:
        """Offsets along an axis, best first: the person's own line, else what fixed cuts give, else the best."""
        given, parts = self.given[axis], self._parts(axis, start[axis], division)
        if given is not None:
            return [self._at(axis, parts, given)]
        return self._anchored(axis, start, anchors, division) if anchors else self._choices(axis, parts)

    def _abutted(self, start: tuple[float, float]) -> Division:
        """The surface divided for a start, where a bay beside fixed cuts abuts the one that gives it the better cuts."""
        division = divide(self.undivided, start)
        if sum(cut.fixed for cut in division.cuts) < 2 or self.undivided.rules.bays == "cut":
            return division
        bays = []
        for part, origin in division.bays:
            for axis in (0, 1):
                origin = self._abutting(part, origin, axis, division.cuts)
            bays.append((part, origin))
        return replace(division, bays=tuple(bays))

    def _abutting(self, part: shapely.Polygon, origin: tuple[float, float], axis: int, cuts: Sequence[Parting]) -> tuple[float, float]:
        g = self.faces.lattice[axis]
        low, high = part.bounds[axis], part.bounds[axis + 2]
        below = [cut for cut in cuts if cut.axis == axis and abs(cut.low + cut.width - low) < TOUCH and _beside(cut.segments, part)]
        above = [cut for cut in cuts if cut.axis == axis and abs(cut.low - high) < TOUCH and _beside(cut.segments, part)]
        if not g.straight or not any(cut.fixed for cut in above) or any(not cut.fixed for cut in (*below, *above)):
            return origin
        options = [high - g.size, low] if below else [high - g.size]
        found = [(self._at(axis, [(part, 0.0), (shapely.Polygon(), 0.0)], at), at) for at in options]
        found.sort(key=lambda item: (-round(item[0].worst, 3), -round(item[0].drawn, 3)))
        best = found[0][1]
        return (best, origin[1]) if axis == 0 else (origin[0], best)

    def _apart(self, axis: int, one: float, other: float) -> float:
        return abs(math.remainder(one - other, self.faces.lattice[axis].pitch))

    def _course(self, start: tuple[float, float]) -> tuple[float, float]:
        """For a running bond: which of the courses starts at the datum wall, the widest cut first.

        The score is the same for all of them, so the choice is made where a person would look: in the
        course beside one datum wall, at the other.
        """
        shift = float(self.faces.pattern.vectors[1][0])
        shifts = self.faces.lattice[0].shifts
        if len(shifts) < 2:
            return start
        edges = self.faces.across(1)
        rows = np.flatnonzero(edges.mask & (self.faces.numbers == self.faces.datum[1]))
        sides = np.flatnonzero(self.faces.across(0).mask & (self.faces.numbers == self.faces.datum[0]))
        if len(rows) == 0 or len(sides) == 0:
            return start
        g = self.faces.lattice[1]
        inside = float(edges.at[rows[0]]) + (1.0 if edges.ahead[rows[0]] else -1.0) * (g.pitch - g.size + 1.0)
        course = math.floor((inside - start[1]) / g.pitch)
        walls = self.faces.walls_at(0, sides)
        candidates = np.array([(start[0] + s) % self.faces.lattice[0].pitch for s in shifts])
        phases = walls.phases(candidates + course * shift, self.faces.lattice[0].pitch, self.faces.lattice[0].size).max(axis=1)
        best = int(np.lexsort((np.round(candidates, 3), -np.round(phases, 3)))[0])
        return snapped(float(candidates[best])), start[1]

    def _anchors(self, division: Division) -> tuple[list[float], list[float]]:
        """Starts that fixed cuts give along each axis: a tile's far edge on a low face; structural joints alone if any.

        None where joints are cut through one lattice.
        """
        if self.undivided.rules.bays == "cut":
            return [], []
        result: list[list[float]] = []
        for axis in (0, 1):
            g = self.faces.lattice[axis]
            cuts = [cut for cut in division.cuts if cut.fixed and cut.axis == axis]
            structural = [cut for cut in cuts if cut.kind == "structural"]
            result.append(sorted({snapped((cut.low - g.size) % g.pitch) for cut in structural or cuts}) if g.straight else [])
        return result[0], result[1]

    def _anchored(self, axis: int, start: tuple[float, float], anchors: list[float], division: Division) -> list[Offset]:
        """What each anchor gives, the widest narrowest cut first: the datum of a floor with fixed joints."""
        result = []
        for anchor in anchors:
            own, given = division, start[axis]
            if len(anchors) > 1:
                own, given = self._abutted((anchor, start[1]) if axis == 0 else (start[0], anchor)), anchor
            offset = self._at(axis, self._parts(axis, given, own), anchor)
            result.append(((*self.rank([offset], own), offset.at), offset))
        return [offset for _, offset in sorted(result, key=lambda item: item[0])]

    def _at(self, axis: int, parts: list[tuple[shapely.Polygon, float]], offset: float) -> Offset:
        """What a given offset gives along an axis."""
        g = self.faces.lattice[axis]
        walls = self.faces.walls_of(axis, parts)
        found = measures(walls, np.array([offset]), g.pitch, g.size, self.pulls.wishes(axis, parts))
        values = [found.drawn, found.worst, found.asked, found.habits, found.unlike, found.sawn]
        return Offset(offset, *(float(value[0]) for value in values))

    def _choices(self, axis: int, parts: list[tuple[shapely.Polygon, float]]) -> list[Offset]:
        g = self.faces.lattice[axis]
        walls = self.faces.walls_of(axis, parts)
        if axis == 0 and self.faces.lattice[0].shifts:
            walls = self._rows(walls)
        return best_offsets(walls, g.pitch, g.size, wishes=self.pulls.wishes(axis, parts), criteria=self.criteria)

    def _rows(self, walls: Walls) -> Walls:
        """Each wall as the courses of a running bond see it: once for each shift of the bond."""
        shifts = self.faces.lattice[0].shifts
        n = len(shifts)
        return Walls(
            np.concatenate([walls.at - s for s in shifts]),
            np.tile(walls.ahead, n),
            np.tile(walls.play, n),
            np.tile(walls.datum, n),
            np.tile(walls.weight, n),
        )

    def _search(self) -> Settled:
        """Start of a lattice whose directions do not part: searched over one cell."""
        edges = turned(self.faces.edges[self.faces.counts].reshape(-1, 2), self.faces.frame - self.faces.turn).reshape(-1, 2, 2)
        play = self.faces.play[self.faces.counts]
        most = None if self.faces.surface.kind in ("floor", "wall") else SEARCHED_SIDES
        found = search_offsets(edges, play, self.faces.pattern, self.faces.pattern.widest, most=most)
        start = turned(np.array([[snapped(found.at[0]), snapped(found.at[1])]]), self.faces.turn - self.faces.frame)[0]
        at = (float(start[0]), float(start[1]))
        return Settled(at, ((), ()), "search", divide(self.undivided, at), found.gap)


def given_line(faces: Faces) -> tuple[float | None, float | None]:
    """Start along each axis that the person's line fixes: a tile's edge on that line."""
    line = faces.tile.start_line
    result: list[float | None] = [None, None]
    if line is None or not faces.aligned or not faces.surface.borders:
        return None, None
    outline = faces.lining.outline
    index = outline.wall_index(line.wall)
    if index is None:
        place = f"{faces.lining.plan.source}: tiles.{faces.tile.name}.start_line.wall"
        mend = f"walls are numbered 1 to {len(faces.lining.room.outline)}"
        raise SetOutError(place, f'there is no wall {line.wall!r} in "{faces.lining.room.name}"', mend)
    wall = outline.walls[index]
    membrane = membrane_on(wall.tanked, faces.rules)
    bare = line.at + {"bare": 0.0, "membrane": membrane, "finished": wall.build_up}[line.face]
    frame = turned(wall.run.points[[0, -1]], -faces.frame)
    for axis in (0, 1):
        edges = faces.across(axis)
        rows = np.flatnonzero(edges.mask & (faces.numbers == wall.run.number))
        if len(rows):
            g = faces.lattice[axis]
            way = 1.0 if edges.ahead[rows[0]] else -1.0
            at = float(frame[:, axis].mean()) + way * bare
            result[axis] = snapped((at - g.size if way > 0 else at) % g.pitch)
    return result[0], result[1]


def _beside(segments: Sequence[Floats], part: shapely.Polygon) -> bool:
    """Whether a cut runs along a bay, not only in line with it."""
    return any(shapely.LineString(segment).distance(part) < 50.0 for segment in segments)
