"""The start of one surface, settled with its movement joints.

Start and joints answer each other: joints lie on tile joints, and tiles beyond a joint start afresh at
its far face. The loop runs until neither moves, or says that it did not settle.
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from layout.errors import Finding
from layout.joints.divide import divide, divided
from layout.joints.kept import kept_start
from layout.joints.values import Division
from layout.plan.wishes import MEASURE_NAMES, Criteria, Measures, criteria_of
from layout.shapes import parts_of, turned
from layout.start.bays import own_start
from layout.start.both_ways import found_along, found_both_ways, searched
from layout.start.faces import Part
from layout.start.first_course import ALIKE, course_first
from layout.start.laid import laid_out
from layout.start.measured import measure
from layout.start.offsets import Offset, best_offsets, measures, snapped
from layout.start.settled import Settled, Tried, joint_faces, moved_along, put, together, top
from layout.start.walls import Walls, joined_walls
from layout.units import EPS
from layout.words import worded

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from layout.errors import Point
    from layout.joints.values import Undivided
    from layout.start.faces import Faces
    from layout.start.pulls import Pulls
    from layout.vectors import Floats

MOST_ROUNDS = 6
ROWS, MOST_LAID = 6, 12
"""Starts across the courses of a bond for which the start along them is looked for: which courses short walls meet hangs on them;
and how many starts are laid where short edges make the directions hang together."""
MOST_TILES, LAID_WITH_JOINTS = 10_000, 4
"""On larger fields with joints no starts are laid to compare them; and how many of those settled with joints are."""
SEEDS = 2
"""Starts each way from which the loop of start and joints is tried if it does not settle at once."""


@dataclass(frozen=True, slots=True, eq=False)
class Settler:
    """Finds one surface's start with its movement joints.

    `given` fixes the start along an axis: a course that walls share, joints in line with the floor's, a person's own line.
    `courses` lets bays beside given joints start for themselves along the courses of a bond too. `found` keeps the best offsets by the walls and wishes they were found for: most starts that are tried see the same walls.
    """

    faces: Faces
    undivided: Undivided
    pulls: Pulls
    given: tuple[float | None, float | None] = (None, None)
    courses: bool = False
    found: dict[object, list[Offset]] = field(default_factory=dict, repr=False)

    @property
    def criteria(self) -> Criteria:
        """How starts are ranked."""
        rules = self.faces.rules
        return criteria_of(rules.start_order, rules.start_weights, self.faces.tile.least_cut, rules.wall_tolerance)

    def settled(self) -> Settled:
        """The start of the surface: fixed by the plan, exact where the directions part, else searched."""
        if self.undivided.kept:
            first = self.undivided.kept[0].origin
            return Settled(first, ((), ()), "fixed", self.abutted(first))
        if self.faces.tile.start is not None:
            at = turned(np.array([self.faces.tile.start]), -self.faces.frame)[0]
            fixed = (float(at[0]), float(at[1]))
            return Settled(fixed, ((), ()), "fixed", divide(self.undivided, fixed))
        return self._exact() if self.faces.aligned and self.faces.pattern.level_courses else searched(self.faces, self.undivided)

    def given_by(self, found: Settled) -> tuple[Offset, Offset]:
        """What a settled start gives along each axis."""
        start, division = found.start, found.division
        return self._at(0, start, division), self._at(1, start, division)

    def better(self, axis: int, start: Point, division: Division) -> list[Offset]:
        """For a start that the plan fixes: the best offsets along an axis among the same joints, bays that start at a given joint standing still."""
        at_joint = [
            [any(cut.fixed and cut.axis == k and abs(origin[k] - cut.low - cut.width) < EPS for cut in division.cuts) for k in (0, 1)]
            for _, origin in division.bays
        ]
        still = tuple((one, other) for one, other in at_joint)
        moved = moved_along(replace(division, own=still), axis)
        return self._choices(axis, start, moved if moved.bays else division)

    def keys(self, tried: Sequence[Sequence[Offset]]) -> list[Floats]:
        """Sort keys of starts in both directions, as the criteria rank them together."""
        found = [together(given) for given in tried]
        return self.criteria.keys(Measures(**{name: np.concatenate([getattr(each, name) for each in found]) for name in MEASURE_NAMES}))

    def order(self, tried: Sequence[tuple[Sequence[Offset], Division]]) -> list[int]:
        """Starts in both directions as the criteria rank them, best first; among equals fewer joints, then the widest cut as drawn."""
        keys = self.keys([given for given, _ in tried])
        keys.insert(self.criteria.decisive, np.array([len(division.cuts) for _, division in tried], dtype=float))
        drawn = np.array([min(offset.drawn for offset in given) for given, _ in tried])
        return [int(k) for k in np.lexsort((-np.round(drawn, 3), *keys[::-1]))]  # stable: no place of the room decides

    def differing(self, axis: int, settled: Settled, by: float) -> list[Offset]:
        """The best offsets along an axis beside a settled start that stand at least `by` from its own and from each other, mm; none where it is given."""
        if self.given[axis] is not None or not settled.choices[axis]:
            return []
        g = self.faces.lattice[axis]
        wishes = self.pulls.wishes(axis, self._parts(axis, settled.start, settled.division))
        walls = self._walls(axis, settled.start, settled.division)
        found = best_offsets(walls, g.pitch, g.size, wishes=wishes, criteria=self.criteria, apart=by)
        return [each for each in found if self._apart(axis, each.at, settled.start[axis]) >= by]

    def started_at(self, start: Point, division: Division, settled: Settled) -> Settled:
        """A start taken instead of a settled one, which stays among what each direction offers."""
        made = replace(settled, start=start, division=division)
        own = self.given_by(made)
        choices = [(now, *(c for c in settled.choices[axis] if self._apart(axis, c.at, now.at) > EPS)) for axis, now in enumerate(own)]
        return replace(made, choices=(choices[0], choices[1]))

    def _parts(self, axis: int, start: Point, division: Division | None, *, sure: bool = False, within: bool = False) -> list[Part]:
        """The bays of a division, each with the shift of its lattice along an axis against a start, mm; the surface as one if undivided."""
        if division is None:
            return [Part(None, 0.0, start[1 - axis], sure, within)]
        pitch = self.faces.lattice[axis].pitch
        parts = division.bays if division.cuts else [(None, origin) for _, origin in division.bays[:1]]
        return [Part(part, math.remainder(origin[axis] - start[axis], pitch), origin[1 - axis], within=within) for part, origin in parts]

    def _walls(self, axis: int, start: Point, division: Division | None, *, sure: bool = False, within: bool = False) -> Walls:
        """All that cuts along an axis end at: walls, frames, faces of joints whose place is given."""
        parts = self._parts(axis, start, division, sure=sure, within=within)
        cuts = division.cuts if division is not None else ()
        return joined_walls([self.faces.walls_of(axis, parts), *joint_faces(self.faces, cuts, axis, parts)])

    def slack(self, start: Point, division: Division, worst: float) -> float:
        """How much more than cuts that are equal a start might give than one that gives `worst`, for walls out of square, mm.

        They are weighed over all their length. Within a module and a tile of their ends a tile passes right across them and is as wide as they
        leave it: no start is better than the best with them shorter by that, which is found the same way. Bays that start for themselves are left out.
        """
        if not any((across.slant[across.mask] > 0.0).any() for across in self.faces.both):
            return 0.0
        tops = [
            min(
                top(self._walls(axis, start, moved_along(division, axis), within=within), g, self.given[axis])
                for axis, g in enumerate(self.faces.lattice)
            )
            for within in (False, True)
        ]
        tolerance = self.criteria.tolerance
        return max(0.0, tops[1] - max(worst, tops[0] - tolerance) - tolerance)

    def _exact(self) -> Settled:
        """Start by the exact score of each direction, with the joints in place."""
        seeds = self.seeds()
        first = (snapped(seeds[0][0].at), snapped(seeds[0][1].at))
        if self._parted(first):
            return self._with_joints(seeds[: SEEDS * SEEDS])
        tried = 0
        if self.faces.has_short:
            seeds = self.with_both(seeds)
            first, tried = (snapped(seeds[0][0].at), snapped(seeds[0][1].at)), len(seeds)
        start = course_first(self, first)  # nothing to settle: no joint answers
        found = [(own, *(c for c in self._free(axis, start) if self._apart(axis, c.at, own.at) > EPS)) for axis, own in enumerate(seeds[0])]
        division = divide(self.undivided, start)
        gap = 0.0 if tried else self.slack(start, division, min(own.worst for own in seeds[0]))
        return Settled(start, (found[0], found[1]), "tried" if tried else "exact", division, gap, tried=tried)

    def _parted(self, start: Point) -> bool:
        """Whether a start leaves the surface in more than one bay or with a joint: no more of it is divided than shows that."""
        bays = 0
        for each in divided(self.undivided, start):
            bays += len(each.bays)
            if each.cuts or bays > 1:
                return True
        return False

    def _free(self, axis: int, start: Point, *, sure: bool = False) -> list[Offset]:
        """Offsets along an axis for the surface undivided, best first: the one that is given, or what the other direction's start allows."""
        given = self.given[axis]
        return (
            self._choices(axis, start, None, sure=sure) if given is None else [self._measured(axis, given, put(start, axis, given), None)]
        )

    def seeds(self) -> list[tuple[Offset, Offset]]:
        """Starts both ways from which start and joints are settled, best first.

        Where an edge is hardly longer than a tile it hangs on the start of the one direction what the edge cuts of the other:
        then each is looked for beside several of the other, in turn until neither moves.
        """
        rows = self._free(1, (0.0, 0.0))
        if not self.faces.has_short:
            pairs = [(x, y) for x in self._free(0, (0.0, snapped(rows[0].at)))[:SEEDS] for y in rows[:SEEDS]]
            ranked = self.order([(each, Division()) for each in pairs])
            return [pairs[k] for k in ranked]
        tried = dict.fromkeys(snapped(y.at) for y in (*rows[:ROWS], *self._free(1, (0.0, 0.0), sure=True)[:ROWS]))
        starts: dict[Point, None] = {}
        for y in tried:
            for sure in (False, True):
                at = (snapped(self._free(0, (0.0, y), sure=sure)[0].at), y)
                starts[at] = None
                at = (at[0], snapped(self._free(1, at)[0].at))
                starts[snapped(self._free(0, at)[0].at), at[1]] = None
        # as if short edges cut nothing; then what is promising is laid. No bound: a wall out of square counts over all its length, though no tile
        # passes right across near its ends (`slack`), and a strip of at most `TOUCH` is a cut here and nothing as laid
        made = [(self._measured(0, at[0], at, None, sure=True), self._measured(1, at[1], at, None, sure=True)) for at in starts]
        best = [made[k] for k in self.order([(each, Division()) for each in made])]
        best = [self.as_laid(*each) for each in best[:MOST_LAID]]
        return [best[k] for k in self.order([(each, Division()) for each in best])]

    def with_both(self, seeds: Sequence[tuple[Offset, Offset]]) -> list[tuple[Offset, Offset]]:
        """Starts of a surface undivided with those that are found in both directions at once, as laid, best first."""
        found = [*seeds, *(self.as_laid(*each) for each in self._both_at_once())]
        return [found[k] for k in self.order([(each, Division()) for each in found])]

    def _both_at_once(self) -> list[tuple[Offset, Offset]]:
        """Starts found in both directions at once, where short edges make them hang together: the one searched, and the best beside it each way."""
        if any(given is not None for given in self.given):
            return []
        at = found_both_ways(self.faces)
        starts = [at, (snapped(self._free(0, at)[0].at), at[1]), (at[0], snapped(self._free(1, at)[0].at))]
        return [(self._measured(0, each[0], each, None), self._measured(1, each[1], each, None)) for each in dict.fromkeys(starts)]

    def as_laid(self, x: Offset, y: Offset) -> tuple[Offset, Offset]:
        """A start both ways with its narrowest strips as laid in the surface undivided: what short edges cut hangs on both directions."""
        at = (snapped(x.at), snapped(y.at))
        field, bays = laid_out(self.faces, Division(bays=tuple((part, at) for part in parts_of(self.undivided.region))))
        seen = measure(self.faces, field, bays, told=False)
        return seen.into(x), seen.into(y)

    def _with_joints(self, seeds: Sequence[tuple[Offset, Offset]]) -> Settled:
        """The start settled with its movement joints: from one seed after the other until a loop comes to rest."""
        tried: list[Tried] = []
        settled = False
        for x, y in seeds:
            more, settled = self._loop((snapped(x.at), snapped(y.at)))
            tried += more
            if settled:
                break
        tried = [tried[k] for k in self.order([(each.given, each.division) for each in tried])]
        if self.faces.has_short and self.few_tiles:
            tried = self._short_with_joints(tried)
        best = tried[0]
        start, division = self._course_with_joints(best)
        findings: tuple[Finding, ...] = ()
        if not settled and self.faces.surface.kind == "floor":
            text = worded("floor: the best start and the movement joints move each other; the best pair that was tried is taken")
            findings = (Finding(code="start-joint-loop", text=text),)
        # beside a given joint a bay starts for itself, along one direction; where courses stand off each other the other may cut its ends too
        apart = self.faces.pattern.bonded and any(cut.fixed for cut in best.division.cuts)
        sure = settled and not self.faces.has_short and not apart
        gap = self.slack(best.start, best.division, min(own.worst for own in best.given)) if sure else 0.0
        count = 0 if sure else len(tried)
        return Settled(start, best.choices, "exact" if sure else "tried", division, gap, findings=findings, tried=count)

    def _course_with_joints(self, best: Tried) -> tuple[Point, Division]:
        """The start with the course first that a person would take, and its division; the settled one where joints then leave less."""
        start = course_first(self, best.start)
        division = self.abutted(start)
        if start != best.start:
            given = (self._at(0, start, division), self._at(1, start, division))
            other = Tried(start, given, division, best.choices)
            if self.faces.has_short and self.few_tiles:
                other = self._tried_as_laid(other)
            if min(own.worst for own in other.given) < min(own.worst for own in best.given) - ALIKE:
                return best.start, self.abutted(best.start)
        return start, division

    @property
    def few_tiles(self) -> bool:
        """Whether so few tiles are laid that several starts may be laid to see."""
        cell = abs(float(np.linalg.det(self.faces.pattern.vectors)))
        return float(self.undivided.region.area) * len(self.faces.pattern.members) / cell <= MOST_TILES

    def _short_with_joints(self, tried: Sequence[Tried]) -> list[Tried]:
        """Starts of a divided surface, best first, with those found in both directions at once for its bays together; all as laid."""
        made = list(tried[:LAID_WITH_JOINTS])
        if all(given is None for given in self.given) and not self.undivided.kept:
            at = found_both_ways(self.faces, made[0].division, made[0].start)
            starts = [at, *self._beside_given(made[0])]
            for axis in (0, 1):
                starts.append(put(at, axis, snapped(self._found(axis, at, self.abutted(at))[0].at)))
            made += [self._tried(each) for each in dict.fromkeys(starts)]
        laid = [self._tried_as_laid(each) for each in made]
        keys = self.keys([each.given for each in laid])
        keys.insert(self.criteria.decisive, np.array([len(each.division.cuts) for each in laid], dtype=float))
        order = [int(k) for k in np.lexsort(keys[::-1])]
        settled, best = (min(offset.worst for offset in laid[k].given) for k in (0, order[0]))
        if best <= settled + self.criteria.tolerance:  # walls are not known better: what settled with its joints stays
            order = [0, *(k for k in order if k != 0)]
        return [laid[k] for k in order]

    def _beside_given(self, tried: Tried) -> list[Point]:
        """Starts along a given joint of bays that start for themselves across it: as they stand, and with tiles whole from the joint."""
        stands = [tried.division]
        if tried.division.told:  # a bay is balanced: beside another start its far cut may be no less than the least
            anyhow = replace(self.faces, tile=replace(self.faces.tile, least=0.0))
            stands.append(replace(self, faces=anyhow).abutted(tried.start))
        found = (found_along(self.faces, division, tried.start, axis) for division in stands for axis in (0, 1))
        return [at for at in found if at is not None]

    def _tried_as_laid(self, tried: Tried) -> Tried:
        """A start with its division, and its narrowest strips as laid."""
        seen = measure(self.faces, *laid_out(self.faces, tried.division))
        return replace(tried, given=(seen.into(tried.given[0]), seen.into(tried.given[1])))

    def _tried(self, start: Point) -> Tried:
        """A start with the joints that go with it: what it gives, and what else each direction offers."""
        division = self.abutted(start)
        given = (self._at(0, start, division), self._at(1, start, division))
        own = [
            (now, *(c for c in self._found(axis, start, division) if self._apart(axis, c.at, now.at) > EPS))
            for axis, now in enumerate(given)
        ]
        return Tried(start, given, division, (own[0], own[1]))

    def _loop(self, start: Point) -> tuple[list[Tried], bool]:
        """Move start and joints in turn until neither moves: every pair on the way with what it gives, and whether it settled."""
        tried: list[Tried] = []
        seen: list[Point] = []
        for _ in range(MOST_ROUNDS):
            tried.append(self._tried(start))
            x, y = (snapped(self._found(axis, start, tried[-1].division)[0].at) for axis in (0, 1))
            after = (x, y)
            if max(self._apart(axis, after[axis], start[axis]) for axis in (0, 1)) < EPS:
                return tried, True
            if after in seen:
                return tried, False
            seen.append(start)
            start = after
        return tried, False

    def _found(self, axis: int, start: Point, division: Division) -> list[Offset]:
        """Offsets along an axis, best first: the person's own line, else the best for the bays that the start moves."""
        given = self.given[axis]
        if given is not None:
            return [self._at(axis, put(start, axis, given), division)]
        own = [each[axis] for each in division.own]
        if not any(own):
            return self._choices(axis, start, division)
        if all(own):
            return [self._at(axis, start, division)]
        beside, moved = self._at(axis, start, moved_along(division, axis, still=True)), moved_along(division, axis)
        return [
            replace(each, drawn=min(each.drawn, beside.drawn), worst=min(each.worst, beside.worst))
            for each in self._choices(axis, start, moved)
        ]

    def abutted(self, start: Point) -> Division:
        """The surface divided for a start, where bays beside given joints start for themselves unless joints go through one lattice."""
        return Division.joined(self.abutting(start))

    def abutting(self, start: Point) -> Iterator[Division]:
        """The same, bay by bay as it is cut."""
        if self.undivided.kept:
            return divided(self.undivided, start, functools.partial(kept_start, self.undivided.kept))
        if self.undivided.rules.bays == "cut":
            return divided(self.undivided, start)
        return divided(self.undivided, start, functools.partial(own_start, self.faces, self.criteria, self.given, courses=self.courses))

    def _apart(self, axis: int, one: float, other: float) -> float:
        return abs(math.remainder(one - other, self.faces.lattice[axis].pitch))

    def _at(self, axis: int, start: tuple[float | None, float | None], division: Division | None) -> Offset:
        """What a start gives along an axis."""
        whole = (start[0] or 0.0, start[1] or 0.0)
        return self._measured(axis, whole[axis], whole, division)

    def _measured(self, axis: int, offset: float, start: Point, division: Division | None, *, sure: bool = False) -> Offset:
        """What an offset along an axis gives, the bays standing to each other as they do for a start."""
        return self.gives(axis, [offset], start, division, sure=sure)[0]

    def gives(self, axis: int, offsets: Sequence[float], start: Point, division: Division | None, *, sure: bool = False) -> list[Offset]:
        """What each of several offsets along an axis gives, the bays standing to each other as they do for a start."""
        g = self.faces.lattice[axis]
        wishes = self.pulls.wishes(axis, self._parts(axis, start, division))
        walls = self._walls(axis, start, division, sure=sure)
        found = measures(walls, np.array(offsets), g.pitch, g.size, wishes, least=self.criteria.least)
        return [Offset(at, **{name: float(getattr(found, name)[k]) for name in MEASURE_NAMES}) for k, at in enumerate(offsets)]

    def _choices(self, axis: int, start: Point, division: Division | None, *, sure: bool = False) -> list[Offset]:
        """The best offsets along an axis, the bays standing to each other as they do for a start."""
        g = self.faces.lattice[axis]
        wishes = self.pulls.wishes(axis, self._parts(axis, start, division))
        walls = self._walls(axis, start, division, sure=sure)
        asked = (axis, walls.key, tuple(wishes))
        if asked not in self.found:
            self.found[asked] = best_offsets(walls, g.pitch, g.size, wishes=wishes, criteria=self.criteria)
        return self.found[asked]
