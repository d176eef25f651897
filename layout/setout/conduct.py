"""Sets a plan out: conducts lining, joints, start and tiles, and gathers what they find."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np
import shapely

from layout.errors import Finding, SetOutError
from layout.joints.given import carried_lines, fixed_lines, lines_of_falls, obstacles_of, preferred_lines, slanted_structural
from layout.joints.lines import Bay, MovementJoint, bays_of, border_joints, break_joints, corner_joints, low_line_findings
from layout.joints.schedule import JointType, joint_types
from layout.joints.values import Undivided
from layout.lining.borders import band_of, wall_line
from layout.lining.build import build_lining
from layout.plan.patterns import member_tiles, pattern_of
from layout.setout import checks
from layout.shapes import cleaned, following, parts_of, turned, turned_shape, union_of
from layout.start.courses import LEVEL_KINDS, floor_joints, level_start
from layout.start.faces import Faces
from layout.start.mends import Shift, shift_off_weak
from layout.start.offsets import Offset, Walls, best_offsets, cut_widths, narrowest, snapped
from layout.start.pulls import Carried, Pull, Puller, carried_of
from layout.start.settle import Settler
from layout.start.start_lines import LineOffset, Snapper, StartLine
from layout.tanking.details import Clearance, Detail, close_details
from layout.tanking.membrane import Film, Termination, TestPoint, film_of, membrane_findings, terminations, test_points
from layout.tanking.tape import Tape, reinforce
from layout.tiles.lay import TileField, lay
from layout.tiles.pieces import Cut, Loose, PieceKey, in_tile_axes, mark_pieces, shape_of
from layout.units import TOUCH
from layout.vectors import pair

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from layout.errors import Point
    from layout.falls.levels import Levels
    from layout.identity import SurfaceId
    from layout.joints.values import FixedLine, PreferredLine, Rejected
    from layout.lining.build import Lining
    from layout.lining.surfaces import Surface
    from layout.plan.values import Plan, Tile

    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class RunnerUp:
    """Another start and what it would give, mm; why it comes behind."""

    origin: tuple[float, float]
    smallest: float
    worst: float
    why: str = ""


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
    """One tiled surface: its bays, tiles, start and cuts.

    `mend` is a start that would leave no weak piece, in words; `rejected` the joints that were weighed and not made;
    `stretch` its true area over that in plan, where a floor's fall makes them differ.
    """

    surface: Surface
    tile: Tile
    field: TileField
    bays: tuple[Bay, ...]
    start: Start
    wall_cuts: tuple[WallCut, ...]
    necks: tuple[tuple[float, tuple[float, float]], ...]
    lost_mm2: float
    mend: str | None = None
    rejected: tuple[Rejected, ...] = ()
    stretch: float = 1.0

    @property
    def tiled_m2(self) -> float:
        """Area of its bays as tiled, on the slope where that counts, m²."""
        return sum(bay.area_m2 for bay in self.bays) * self.stretch

    @property
    def turn(self) -> float:
        """Degrees of the lattice against the surface's x."""
        return self.field.turn


@dataclass(frozen=True, slots=True, eq=False)
class MembraneSetOut:
    """The membrane of a room: the lining as it runs (under plinths that stand on it), close details, ends, film, test points."""

    lining: Lining
    details: tuple[Detail, ...]
    clearances: tuple[Clearance, ...]
    terminations: tuple[Termination, ...]
    film: Film
    tests: tuple[TestPoint, ...]


@dataclass(frozen=True, slots=True, eq=False)
class RoomSetOut:
    """One room, set out."""

    lining: Lining
    surfaces: tuple[SurfaceSetOut, ...]
    joints: tuple[MovementJoint, ...]
    tape: Tape
    membrane: MembraneSetOut
    findings: tuple[Finding, ...]
    joint_types: tuple[JointType, ...] = ()
    levels: Levels | None = None

    def __repr__(self) -> str:
        return f"<RoomSetOut {self.name}: {len(self.surfaces)} tiled surfaces, {len(self.findings)} findings>"

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
    marks: dict[PieceKey, str]

    def __repr__(self) -> str:
        return f"<SetOut of {self.plan!r}: {len(self.rooms)} rooms, {len(self.cuts)} marks, {len(self.marks)} pieces>"

    def cuts_of(self, room: int, surface: int, bays: set[int] | None = None) -> list[tuple[Cut, int]]:
        """Cuts of one surface, or of some of its bays, with their number there, in the order of marks."""
        counts: dict[str, int] = {}
        for key, mark in self.marks.items():
            if (key.room, key.surface) == (room, surface) and (bays is None or key.bay in bays):
                counts[mark] = counts.get(mark, 0) + 1
        return [(cut, counts[cut.mark]) for cut in self.cuts if cut.mark in counts]

    def binding_findings(self) -> list[Finding]:
        """Findings that the plan makes binding."""
        wanted = set(self.plan.rules.binding)
        return [f for room in self.rooms for f in room.findings if f.code in wanted]


class _SurfaceSetter:
    """Sets out one surface."""

    def __init__(
        self,
        lining: Lining,
        surface: Surface,
        tile: Tile,
        carried: Mapping[str, Carried],
        floor_joints: Sequence[MovementJoint],
        levels: Levels | None,
    ) -> None:
        self.faces = Faces(lining, surface, tile)
        self.puller = Puller(self.faces, carried)
        self.floor_joints = floor_joints
        self.levels = levels if surface is lining.floor else None
        self.given: tuple[float | None, float | None] = (None, None)
        self.joints: list[MovementJoint] = []
        self.findings: list[Finding] = []
        self.edge_widths: list[tuple[Floats, NDArray[np.int64], Floats]] = []

    def set_out(self) -> SurfaceSetOut | None:
        """Bays, start and tiles; None if nothing of the surface is left for tile."""
        surface = self.faces.surface
        if surface.region.is_empty:
            if surface.gross.area > 1.0:
                text = f"{surface.name}: nothing is left for tile inside joints and build-up"
                self.findings.append(Finding(code="surface-too-small", text=text, surface=surface.id))
            return None
        settler = Settler(self.faces, self._undivided(), self.puller, self.given)
        start, others, method = settler.start()
        if surface is not self.faces.lining.floor and method == "exact" and self.faces.rules.bays == "shift" and settler.division.cuts:
            # a joint that the floor gives a wall may spoil its ends: then it is cut through one lattice
            other = Settler(self.faces, self._undivided(bays="cut"), self.puller, self.given)
            second = other.start()
            if other.value(second[0]) < settler.value(start):
                settler, (start, others, method) = other, second
        self.findings += [*settler.findings, *self.puller.findings]
        division = settler.division
        bays, joints = bays_of(division, surface.id, self.faces.frame)
        self.joints = [*joints, *self.joints]
        for why in division.broken:
            self.findings.append(
                Finding(code="bay-over-rule", text=f"{surface.name}: {why}; no cut that was tried mends it", surface=surface.id)
            )
        field, bays = self._lay(bays)
        drawn, worst, where, place, necks = self._narrowest(field, bays)
        if len(field.whole) + len(field.cut) == 0:
            return None
        origin, bays = self._first_whole(field, bays)
        self.findings += checks.cut_findings(
            surface, self.faces.tile, drawn, worst, f" at {where}" if where else "", place, self._best_shift(settler, origin, start)
        )
        self.findings += checks.calibre_findings(surface, self.faces.tile)
        self.findings += checks.face_findings(surface, len(field.whole), field.lost_mm2)
        runners = self._runners(settler, others, origin, start)
        lines = Snapper(self.faces).lines(bays)
        return SurfaceSetOut(
            surface=surface,
            tile=self.faces.tile,
            field=field,
            bays=bays,
            start=Start(origin, drawn, worst, where, method, lines, runners, settler.gap, self._pulls(field, bays)),
            wall_cuts=tuple(self._wall_cuts()),
            necks=necks,
            lost_mm2=field.lost_mm2,
            mend=self._mend(field, bays, origin, worst),
            rejected=tuple(replace(r, lines=tuple(turned(line, self.faces.frame) for line in r.lines)) for r in division.rejected),
        )

    def _best_shift(self, settler: Settler, origin: Point, start: Point) -> str | None:
        """For a start that the plan fixes, the shift to the best one, in words."""
        tile = self.faces.tile
        found = settler.best_move(start) if tile.start is not None or tile.start_line is not None else None
        if found is None:
            return None
        move, worst = found
        to = turned(np.array([move]), self.faces.frame)[0] + np.array(origin)
        return f"{Shift(math.hypot(*move), pair(to), worst).words()} would leave {worst:.0f} at the least over the walls' tolerance"

    def _mend(self, field: TileField, bays: tuple[Bay, ...], origin: Point, worst: float) -> str | None:
        shift = shift_off_weak(self.faces, bays, field, origin, min(worst, self.faces.tile.least_cut))
        if shift is None:
            return None
        return f"{shift.words()} leaves {'none' if shift.left == 0 else f'only {shift.left}'} and no cut under {shift.worst:.0f}"

    def _undivided(self, *, bays: Literal["shift", "cut"] | None = None) -> Undivided:
        region = self.faces.surface.divided_region
        fixed: list[FixedLine] = []
        preferred: list[PreferredLine] = []
        if self.faces.surface.kind == "floor":
            fixed = fixed_lines(self.faces.lining, self.faces.surface, self.faces.frame)
            preferred = preferred_lines(self.faces.lining, self.faces.frame)
            for strip, joint in slanted_structural(self.faces.lining, self.faces.frame):
                region = shapely.difference(region, strip)
                self.joints.append(joint)
                text = f"{joint.why}: it runs at an angle to the tile joints, so tiles are cut along both its faces"
                self.findings.append(Finding(code="structural-joint-cut", text=text))
        else:
            fixed = carried_lines(self.faces.lining, self.faces.surface, self.floor_joints, self.faces.frame)
        obstacles = obstacles_of(self.faces.surface, self.faces.frame, self.faces.lining.plan.products.collar_lap.value)
        if self.levels is not None:
            high, low = lines_of_falls(self.levels, self.faces.frame)
            preferred, obstacles = [*high, *preferred], [*obstacles, *low]
        rules = self.faces.rules if bays is None else replace(self.faces.rules, bays=bays)
        if self.faces.surface.kind != "floor":
            free = replace(rules.movement, max_edge=math.inf, max_area_m2=None, max_aspect=None, reentrant=False)
            rules = replace(rules, movement=rules.wall_movement if self.faces.surface.kind == "wall" and rules.wall_movement else free)
        first = 1 if abs(math.remainder(self.faces.base - self.faces.frame, 180.0)) > 45.0 else 0
        region = turned_shape(region, -self.faces.frame)
        return Undivided(region, rules, self.faces.lattice, tuple(fixed), tuple(obstacles), tuple(preferred), first)

    def _lay(self, bays: tuple[Bay, ...]) -> tuple[TileField, tuple[Bay, ...]]:
        if self.faces.surface.joint_region is not None:
            own = [
                replace(bay, region=cleaned(shapely.intersection(bay.region, self.faces.surface.region)), whole=bay.region) for bay in bays
            ]
            bays = tuple(bay for bay in own if not bay.region.is_empty)
        ordered = sorted(bays, key=lambda b: (round(b.region.bounds[1], 3), round(b.region.bounds[0], 3)))
        origins = np.array([bay.origin for bay in ordered])
        laid = [lay(self.faces.surface.to_lay(bay.region), self.faces.pattern, self.faces.turn, np.array(bay.origin)) for bay in ordered]
        used = [k for k, each in enumerate(laid) if len(each.whole) + len(each.cut) or each.lost_mm2]
        counted = [laid[k].counted_from_first(self.faces.pattern) for k in used]
        shifts = turned(np.array([shift for _, shift in counted]).reshape(-1, 2), self.faces.turn)
        field = TileField(self.faces.pattern, self.faces.turn, origins[used] + shifts, tuple(each for each, _ in counted))
        return field, tuple(replace(ordered[k], origin=pair(origins[k] + shift)) for k, shift in zip(used, shifts, strict=True))

    def _narrowest(
        self, field: TileField, bays: tuple[Bay, ...]
    ) -> tuple[float, float, str, tuple[float, float] | None, tuple[tuple[float, tuple[float, float]], ...]]:
        """Narrowest cut as drawn and over the play, where, and narrow necks."""
        least = worst = self.faces.pattern.widest
        where = ""
        place: tuple[float, float] | None = None
        necks: list[tuple[float, tuple[float, float]]] = []
        for laid, bay in zip(field.bays, bays, strict=True):
            local, hit = self.faces.bay_edges(bay)
            if len(hit) == 0:
                continue
            crossed = cut_widths(local, self.faces.pattern)
            widths, edge, tile = crossed.widths, crossed.edge, crossed.tile
            present = _present(laid.cut, tile) & (widths > TOUCH)
            widths, edge, tile = widths[present], edge[present], tile[present]
            middle = np.stack([member.mean(axis=0) for member in self.faces.pattern.members])
            centre = turned(middle[tile[:, 0]] + tile[:, 1:] @ self.faces.pattern.vectors, self.faces.turn) + np.array(bay.origin)
            self.edge_widths.append((widths, hit[edge], turned(centre, -self.faces.frame)))
            worst = min(worst, narrowest(local, self.faces.play[hit], self.faces.pattern, self.faces.pattern.widest)[0])
            if len(widths) and widths.min() < least:
                k = int(widths.argmin())
                least = float(widths[k])
                where = self.faces.labels[hit[edge[k]]]
                middle = self.faces.edges[hit[edge[k]]].mean(axis=0)
                at = turned(np.array([middle]), self.faces.frame)[0]
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
                    if TOUCH < apart < self.faces.tile.least_cut:
                        middle = (local[own[a]].mean(axis=0) + local[own[b]].mean(axis=0)) / 2
                        at = turned(np.array([middle]), self.faces.turn)[0] + np.array(bay.origin)
                        result.append((apart, (float(at[0]), float(at[1]))))
        return result

    def _first_whole(self, field: TileField, bays: tuple[Bay, ...]) -> tuple[tuple[float, float], tuple[Bay, ...]]:
        """Lower-left corner of the first whole tile (of its box, in the lattice's axes), and bays whose origin is that of their own."""
        result = []
        for number, (laid, bay) in enumerate(zip(field.bays, bays, strict=True)):
            tiles = laid.whole if len(laid.whole) else laid.cut
            if len(tiles) == 0:
                result.append(bay)
                continue
            lowest = turned(field.outlines(np.concatenate([[number], tiles[0]]))[0], -field.turn).min(axis=0)
            result.append(replace(bay, origin=pair(turned(lowest[None], field.turn)[0])))
        first = next((k for k, laid in enumerate(field.bays) if len(laid.whole)), 0)
        return result[first].origin, tuple(result)

    def _runners(self, settler: Settler, others: list[list[Offset]], origin: Point, start: Point) -> tuple[RunnerUp, ...]:
        """The next best starts: one direction changed at a time."""
        result = []
        cap = self.faces.tile.size
        best = [choices[0] if choices else Offset(0.0, cap[k], cap[k]) for k, choices in enumerate(others)]
        for axis in (0, 1):
            for offset in others[axis][1:3]:
                move = [0.0, 0.0]
                move[axis] = math.remainder(offset.at - start[axis], self.faces.lattice[axis].pitch)
                at = turned(np.array([move]), self.faces.frame)[0] + np.array(origin)
                both = settler.together([offset, best[1 - axis]])
                why = settler.criteria.why_behind(settler.together(best), both)
                result.append((settler.rank([offset, best[1 - axis]]), RunnerUp(pair(at), float(both.drawn[0]), float(both.worst[0]), why)))
        result.sort(key=lambda ranked: (ranked[0], ranked[1].origin))
        return tuple(runner for _, runner in result[:3])

    def _pulls(self, field: TileField, bays: tuple[Bay, ...]) -> tuple[Pull, ...]:
        """What the start makes of each pull; one that the plan asks for and that is missed is a finding."""
        cut_at: dict[int, float] = {}
        for widths, edge, _ in self.edge_widths:
            for k in np.unique(edge):
                cut_at[int(k)] = min(cut_at.get(int(k), math.inf), float(widths[edge == k].min()))
        told = self.puller.told(field, bays, cut_at)
        name = self.faces.surface.name
        for pull in told:
            if pull.asked and pull.miss > TOUCH:
                text = f"{name}: {pull.at}: {pull.wanted}, missed by {pull.miss:.1f} mm; rules.start_order tells what comes before pulls"
                self.findings.append(Finding(code="pull-missed", text=text, surface=self.faces.surface.id))
        return told

    def _wall_cuts(self) -> list[WallCut]:
        """Cut at each end of every straight edge."""
        result = []
        for widths, edge, centre in self.edge_widths:
            for k in np.unique(edge):
                own = edge == k
                line = self.faces.edges[k]
                way = (line[1] - line[0]) / np.hypot(*(line[1] - line[0]))
                along = (centre[own] - line[0]) @ way
                values = widths[own]
                first, last = float(values[along.argmin()]), float(values[along.argmax()])
                distinct = np.unique(np.round(values * 2.0) / 2.0)
                turns = tuple(distinct.tolist()) if self.faces.pattern.name == "running" and 2 <= len(distinct) <= 4 else ()
                result.append(WallCut(self.faces.labels[k], turned(line, self.faces.frame), first, last, turns))
        return result


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
    found: list[tuple[RoomSetOut, list[Loose]]] = []
    carried: dict[str, Carried] = {}
    for index, room in enumerate(plan.rooms):
        done, loose = _room(plan, index, carried)
        found.append((done, loose))
        carried[room.name] = carried_of(room, done.floor.tile, done.floor.field, done.floor.bays, world=True)
    cuts, marks = mark_pieces([piece for _, loose in found for piece in loose], plan.rules.tolerance)
    return SetOut(plan, tuple(_with_weak_pieces(room, index, marks) for index, (room, _) in enumerate(found)), cuts, marks)


def _with_weak_pieces(room: RoomSetOut, index: int, marks: dict[PieceKey, str]) -> RoomSetOut:
    """The room with findings about cut tiles that would break."""
    found: list[Finding] = []
    for s, done in enumerate(room.surfaces):
        own = [marks[PieceKey(index, s, b, p)] for b, laid in enumerate(done.field.bays) for p in range(len(laid.pieces))]
        if own:
            _, first = np.unique(own, return_index=True)  # alike pieces are weak alike
            found += checks.weak_findings(done.surface, [own[k] for k in first], done.field.pieces()[first], done.mend)
    return replace(room, findings=(*room.findings, *found)) if found else room


def _room(plan: Plan, index: int, earlier: Mapping[str, Carried]) -> tuple[RoomSetOut, list[Loose]]:
    lining, levels = _levelled(build_lining(plan, index))
    carried = dict(earlier)
    findings = [*lining.findings, *(levels.findings if levels else ())]
    surfaces: list[SurfaceSetOut] = []
    joints: list[MovementJoint] = []
    setters: dict[SurfaceId, _SurfaceSetter] = {}
    for surface in lining.surfaces:
        joints += border_joints(surface, plan.rules)
        if surface.tile is None:
            joints += break_joints(surface)
            continue
        if surface.placing.line is not None and not setters:
            setters = _uprights(lining, carried, joints, surfaces[0])
        if surface.kind == "border":
            course = _border_course(lining, surface, surface.tile, surfaces[0])
            if course is not None:
                findings += checks.cut_findings(surface, surface.tile, course.start.smallest, course.start.worst, "", None)
                surfaces.append(course)
            continue
        setter = setters.get(surface.id) or _SurfaceSetter(lining, surface, surface.tile, carried, joints, levels)
        done = setter.set_out()
        findings += setter.findings
        if done is None:
            if surface is lining.floor:
                place = f"{plan.source}: rooms[{index}]"
                raise SetOutError(
                    place, f'no tile fits on the floor of "{lining.room.name}"', "check the outline's size in mm and the tile's"
                )
            continue
        joints += setter.joints
        joints += break_joints(surface)
        surfaces.append(done)
        if surface is lining.floor:
            carried["floor"] = carried_of(lining.room, done.tile, done.field, done.bays, world=False)
    joints += corner_joints(lining)
    membrane, noticed = _membrane(plan, index, lining)
    tape = reinforce(membrane.lining, joints)
    findings += [*tape.findings, *noticed]
    findings += checks.joint_findings(lining, joints)
    order = {
        name: k
        for k, name in enumerate(("perimeter", "threshold", "plinth", "column", "intermediate", "structural", "drain", "pipe", "corner"))
    }
    longest = {done.surface.id: max(bay.longest for bay in done.bays) for done in surfaces}
    types = tuple(joint_types(joints, longest, plan.rules.sealant))
    findings += checks.width_findings(types)
    places = {surface.id: k for k, surface in enumerate(lining.surfaces)}
    joints.sort(key=lambda j: (places[j.surface], order[j.kind], np.round(j.line[0], 3).tolist()))
    if levels is not None:
        from layout.falls.levels import spot_levels  # noqa: PLC0415  # a level floor does without

        findings += low_line_findings(levels, joints)
        surfaces = [replace(s, stretch=levels.stretch) if s.surface.kind in ("floor", "border") else s for s in surfaces]
        levels = spot_levels(levels, lining.outline, lining.floor.gross, _crossings(surfaces[0].start), surfaces[0].start.origin)
    room = RoomSetOut(lining, tuple(surfaces), tuple(joints), tape, membrane, tuple(findings), types, levels)
    return room, _loose(room, index)


def _uprights(
    lining: Lining, carried: Mapping[str, Carried], joints: Sequence[MovementJoint], floor: SurfaceSetOut
) -> dict[SurfaceId, _SurfaceSetter]:
    """What sets out each upright surface, with the courses that those of one tile share and joints in line with the floor's."""
    result = {
        surface.id: _SurfaceSetter(lining, surface, surface.tile, carried, joints, None)
        for surface in lining.surfaces
        if surface.placing.line is not None and surface.tile is not None
    }
    by_tile: dict[str, list[_SurfaceSetter]] = {}
    for setter in result.values():
        if setter.faces.surface.kind in LEVEL_KINDS:
            by_tile.setdefault(setter.faces.tile.name, []).append(setter)
    for setters in by_tile.values():
        course, moved = level_start(lining, [setter.faces for setter in setters])
        setters[0].findings += moved
        for setter in setters:
            along, missed = floor_joints(lining, setter.faces, floor.field, floor.bays)
            setter.given = (along, course)
            setter.findings += [missed] if missed else []
    return result


def _levelled(lining: Lining) -> tuple[Lining, Levels | None]:
    """The lining with saw lines along hips and valleys, and the floor's levels if it falls."""
    falls, floor = lining.falls, lining.floor
    if falls is None or floor.tile is None:
        return lining, None
    from layout.falls.levels import measure_levels, saw_strip  # noqa: PLC0415  # a level floor does without

    levels = measure_levels(lining.plan, falls, floor.gross, lining.outline, floor.tile)
    if not levels.cuts:
        return lining, levels
    strips = [saw_strip(line.line, floor.tile.joint) for line in levels.cuts]
    sawn = replace(floor, saw_lines=union_of(strips))
    return replace(lining, surfaces=(sawn, *lining.surfaces[1:])), levels


def _crossings(start: Start) -> list[tuple[str, Point]]:
    """Where start lines cross each other."""
    result = []
    for k, one in enumerate(start.lines):
        for two in start.lines[k + 1 :]:
            met = shapely.intersection(shapely.LineString([one.start, one.end]), shapely.LineString([two.start, two.end]))
            if isinstance(met, shapely.Point):
                result.append((f"lines {one.name} and {two.name}", (float(met.x), float(met.y))))
    return result


def _membrane(plan: Plan, index: int, lining: Lining) -> tuple[MembraneSetOut, list[Finding]]:
    """The membrane, which runs on under plinths that stand on it."""
    room = plan.rooms[index]
    below = tuple(plinth for plinth in room.plinths if plinth.on == "slab")
    if len(below) < len(room.plinths):
        rooms = tuple(replace(each, plinths=below) if k == index else each for k, each in enumerate(plan.rooms))
        lining = build_lining(replace(plan, rooms=rooms), index)
    film = film_of(plan)
    details, clearances, found = close_details(lining)
    made = MembraneSetOut(lining, tuple(details), tuple(clearances), tuple(terminations(lining)), film, tuple(test_points(lining)))
    return made, [*found, *membrane_findings(lining, film)]


def _border_course(lining: Lining, surface: Surface, tile: Tile, floor: SurfaceSetOut) -> SurfaceSetOut | None:
    """Courses of a border along their wall: whole across, the best start along it, cut through at the floor's joints."""
    bays = [shapely.intersection(bay.between_joints, surface.region) for bay in floor.bays]
    parts = [part for part in parts_of(cleaned(union_of(bays))) if part.area > TOUCH]
    if not parts:
        return None
    index = next(k for k, wall in enumerate(lining.outline.walls) if wall.run.number == surface.wall)
    ends, normal, off = wall_line(lining.outline, floor.surface, index)
    angle = math.degrees(math.atan2(-normal[0], normal[1]))
    face = turned(ends + normal * off, -angle)
    spans = np.array([turned_shape(part, -angle).bounds for part in parts])[:, [0, 2]]
    play = np.full(2 * len(parts), lining.plan.rules.wall_tolerance)
    play[int(spans[:, 0].argmin())] = 0.0
    across = Walls(
        spans.T.ravel(),
        np.repeat([True, False], len(parts)),
        play,
        np.arange(2 * len(parts)) == int(spans[:, 0].argmin()),
        np.ones(2 * len(parts)),
    )
    pattern = pattern_of(tile)
    choices = best_offsets(across, tile.size[0] + tile.joint, tile.size[0])
    origin = turned(np.array([[snapped(choices[0].at), float(face[0, 1])]]), angle)[0]
    laid = [lay(part, pattern, angle, origin) for part in parts]
    kept = [k for k, each in enumerate(laid) if len(each.whole) + len(each.cut)]
    if not kept:
        return None
    field = TileField(pattern, angle, np.tile(origin, (len(kept), 1)), tuple(laid[k] for k in kept))
    reach = off + band_of(tile, floor.tile.border.courses if floor.tile.border else 1)
    line = turned(np.array([[spans.min(), face[0, 1]], [spans.max(), face[0, 1]]]), angle) + normal * (reach - off)
    wall = lining.outline.walls[index]
    offsets = tuple(LineOffset(surface.wall, pair(at), reach, reach - lining.plan.rules.membrane, reach - wall.build_up) for at in line)
    snap_line = StartLine(f"R{surface.wall}", pair(line[0]), pair(line[1]), offsets, 0, pair(-normal))
    return SurfaceSetOut(
        surface=surface,
        tile=tile,
        field=field,
        bays=tuple(Bay(parts[k], pair(origin), float(np.ptp(spans[k])), reach - off) for k in kept),
        start=Start(pair(origin), choices[0].drawn, choices[0].worst, "its ends", "exact", (snap_line,), ()),
        wall_cuts=(),
        necks=(),
        lost_mm2=field.lost_mm2,
    )


def _loose(room: RoomSetOut, index: int) -> list[Loose]:
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
                result.append(Loose(PieceKey(index, s, b, p), tiles[int(member[p])], polygon, shape, wall, line))
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
