"""Sets a plan out: conducts lining, joints, start and tiles, and gathers what they find."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.budgets import heed, within
from layout.errors import Finding, SetOutError
from layout.falls.ramps import at_no_foot, ramp_findings
from layout.joints.lines import MovementJoint, border_joints, break_joints, corner_joints, foot_joints, low_line_findings
from layout.joints.schedule import joint_types
from layout.lining.build import build_lining
from layout.memo import by_input
from layout.room.building import build_outline
from layout.room.own_frame import as_measured, at_home, back_out, own_frame, walk_of
from layout.setout import checks
from layout.setout.border import border_course
from layout.setout.gauge import taken
from layout.setout.home import Home, carried_home, way_out
from layout.setout.marks import loose_pieces, met_on_a_walk
from layout.setout.reads import before_upright, carried_to, in_plan, lining_of_uprights, plan_of_room
from layout.setout.shared import counted_once
from layout.setout.surface import AtHome, Before, Done, set_out_surface
from layout.setout.told import in_order
from layout.setout.values import MembraneSetOut, RoomSetOut, SetOut, Start, SurfaceSetOut
from layout.shapes import union_of
from layout.start.courses import LEVEL_KINDS, floor_joints, level_start
from layout.start.faces import Faces, faces_of
from layout.start.pulls import Carried, carried_of
from layout.tanking.details import close_details
from layout.tanking.membrane import film_of, membrane_findings, terminations, test_points
from layout.tanking.tape import reinforce
from layout.tiles.marking import mark_pieces
from layout.tiles.pieces import Loose, PieceKey
from layout.units import SNAP
from layout.vectors import pair, unit
from layout.words import worded

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from shapely.geometry.base import BaseGeometry

    from layout.errors import Point
    from layout.falls.levels import Levels
    from layout.identity import SurfaceId
    from layout.lining.build import Lining
    from layout.plan.values import Plan, Tile
    from layout.vectors import Floats


IN_RECORDS = ("perimeter", "threshold", "plinth", "column", "intermediate", "structural", "drain", "pipe", "corner")
"""Kinds of joint in the order that a surface's are listed in."""
AT_A_RAMP = ("intermediate", "structural", "drain", "threshold")
"""Kinds of joint that may lie at the foot of a ramp."""
ROOMS_KEPT, SURFACES_KEPT = 64, 400
"""So many rooms and upright surfaces stay at hand as set out: those of one job, not all that a batch walks through (a small room with its walls takes about a megabyte)."""


def set_out(plan: Plan) -> SetOut:
    """Set out every room of a plan.

    Raises
    ------
    PlanFaults, SetOutError
        If a room's geometry is not sound or its floor leaves nothing for tile.
    BudgetError
        If it takes more time or memory than the plan's budgets.
    """
    with within(plan.source, plan.budgets):
        return _set_out(plan)


def _set_out(plan: Plan) -> SetOut:
    found: list[tuple[RoomSetOut, tuple[Loose, ...]]] = []
    carried: dict[SurfaceId, Carried] = {}
    for index, room in enumerate(plan.rooms):
        done, loose = _room(plan_of_room(plan, index), index, carried_to(room, carried))
        found.append((in_plan(done, plan, index), loose))
        carried[done.floor.surface.id] = carried_of(room, done.floor.tile, done.floor.field, done.floor.bays, world=True)
    cuts, marks = mark_pieces([piece for _, loose in found for piece in loose], plan.rules.tolerance, plan.kept_marks)
    rooms = counted_once(plan, [_with_weak_pieces(room, index, marks) for index, (room, _) in enumerate(found)])
    return SetOut(plan, tuple(replace(room, findings=in_order(room.findings)) for room in rooms), cuts, marks)


def _with_weak_pieces(room: RoomSetOut, index: int, marks: dict[PieceKey, str]) -> RoomSetOut:
    """The room with findings about cut tiles that would break."""
    found: list[Finding] = []
    for s, done in enumerate(room.surfaces):
        own = [marks[PieceKey(index, s, b, p)] for b, laid in enumerate(done.field.bays) for p in range(len(laid.pieces))]
        if own:
            _, first = np.unique(own, return_index=True)  # alike pieces are weak alike
            found += checks.weak_findings(
                done.surface, [own[k] for k in first], done.field.pieces()[first], done.mend.offered() if done.mend else None
            )
    return replace(room, findings=(*room.findings, *found)) if found else room


@by_input(ROOMS_KEPT)
def _room(plan: Plan, index: int, earlier: Mapping[SurfaceId, Carried]) -> tuple[RoomSetOut, tuple[Loose, ...]]:
    """One room, and its pieces before they have marks; of the plan it reads what `plan_of_room` leaves."""
    plan, home = _home(plan, index)
    lining, levels = _levelled(build_lining(plan, index), home)
    if plan.rules.gauge:
        lining, home = _gauged(lining, levels, home, earlier)
    surfaces, joints, loose, findings = _surfaces(lining, levels, home, index, earlier)
    findings = [*lining.findings, *(levels.findings if levels else ()), *findings]
    joints += corner_joints(lining)
    lining = _as_tiled(lining, surfaces)
    membrane, noticed = _membrane(plan, index, lining)
    tape = reinforce(membrane.lining, joints)
    findings += [*tape.findings, *noticed]
    findings += [*checks.joint_findings(lining, joints), *checks.gap_findings(lining)]
    longest = {done.surface.id: max(bay.longest for bay in done.bays) for done in surfaces}
    types = tuple(joint_types(joints, longest, plan.rules.sealant))
    findings += checks.width_findings(types)
    places = {surface.id: k for k, surface in enumerate(lining.surfaces)}
    joints.sort(key=lambda j: (places[j.surface], IN_RECORDS.index(j.kind), np.round(j.line[0], 3).tolist()))
    if levels is not None:
        findings += low_line_findings(replace(levels, lines=at_no_foot(levels, plan.rules)), joints)
        crossing = [each.line for each in joints if each.surface.kind == "floor" and each.kind in AT_A_RAMP]
        findings += ramp_findings(levels, crossing, plan.rules)
        surfaces, levels = _sloped(surfaces, levels, lining, home.frame.turn)
    room = RoomSetOut(lining, tuple(surfaces), tuple(joints), tape, membrane, tuple(findings), types, levels)
    return room, met_on_a_walk(loose, surfaces, lining.outline)


def _gauged(lining: Lining, levels: Levels | None, home: Home, earlier: Mapping[SurfaceId, Carried]) -> tuple[Lining, Home]:
    """The room's lining, here and in its own frame, with the floor's tile laid by the gauge, where that serves the floor."""

    def with_floor(lining: Lining, tile: Tile) -> Lining:
        return replace(lining, surfaces=(replace(lining.surfaces[0], tile=tile), *lining.surfaces[1:]))

    def lay(tile: Tile) -> SurfaceSetOut | None:
        seen, there = with_floor(lining, tile), replace(home, lining=with_floor(home.lining, tile))
        faces = faces_of(seen, seen.floor, tile)
        at_home = _there(there, faces, Before(earlier, (), home.levels))
        return set_out_surface(faces, Before(earlier, (), levels), at_home).surface

    tile = lining.floor.tile
    plain = lay(tile) if tile is not None and not lining.room.kept_lines else None
    opened = taken(plain, lining.plan.rules, lay) if plain is not None else None
    if opened is None:
        return lining, home
    return with_floor(lining, opened), replace(home, lining=with_floor(home.lining, opened))


def _surfaces(
    lining: Lining, levels: Levels | None, home: Home, index: int, earlier: Mapping[SurfaceId, Carried]
) -> tuple[list[SurfaceSetOut], list[MovementJoint], list[Loose], list[Finding]]:
    """The surfaces of a room as set out, their joints, their pieces before they have marks, and what was noticed."""
    plan = lining.plan
    carried, carried_there = dict(earlier), dict(earlier)
    joints_there: list[MovementJoint] = []
    findings: list[Finding] = []
    surfaces: list[SurfaceSetOut] = []
    joints: list[MovementJoint] = []
    uprights: dict[SurfaceId, _Upright] = {}
    loose: list[Loose] = []
    between: tuple[BaseGeometry, ...] = ()
    for surface in lining.surfaces:
        heed()
        joints += [*border_joints(surface), *foot_joints(surface, plan.rules)]
        if surface.tile is None:
            joints += break_joints(surface)
            continue
        if surface.placing.line is not None and not uprights:
            uprights = _uprights(lining, surfaces[0], index)
        if surface.kind == "border":
            course = border_course(lining, surface, surface.tile, surfaces[0], between)
            if course is not None:
                findings += checks.cut_findings(surface, surface.tile, course.start.smallest, course.start.worst, "", None)
                loose += loose_pieces(course, index, len(surfaces))
                surfaces.append(course)
            continue
        upright, there = uprights.get(surface.id), None
        if upright is not None:
            own, pieces = _upright(upright.faces, before_upright(upright.faces, joints, upright.given), index, len(surfaces))
            findings += upright.findings
        else:
            faces = faces_of(lining, surface, surface.tile)
            there = _there(home, faces, Before(carried_there, joints_there, home.levels if surface is lining.floor else None))
            own = set_out_surface(faces, Before(carried, joints, levels if surface is lining.floor else None), there)
            pieces = loose_pieces(own.surface, index, len(surfaces), walk_of(lining.outline)) if own.surface is not None else ()
        findings += own.findings
        loose += pieces
        done = own.surface
        if done is None:
            if surface is lining.floor:
                found = f'no tile fits on the floor of "{lining.room.name}"'
                raise SetOutError(plan.place_of(index), found, "check the outline's size in mm and the tile's")
            continue
        joints += [*own.joints, *break_joints(surface)]
        surfaces.append(done)
        if surface is lining.floor:
            between = own.between
            carried[surface.id] = carried_of(lining.room, done.tile, done.field, done.bays, world=False)
            if there is not None:
                carried_there[surface.id] = carried_home(there.faces, own.home_bays)
                joints_there += own.home_joints
    return surfaces, joints, loose, findings


@by_input(SURFACES_KEPT)
def _upright(faces: Faces, before: Before, room: int, place: int) -> tuple[Done, tuple[Loose, ...]]:
    """An upright surface set out, and its pieces by its place in the room's list; it reads what `layout.setout.reads` leaves of the lining."""
    own = set_out_surface(faces, before)
    return own, () if own.surface is None else loose_pieces(own.surface, room, place)


def _sloped(surfaces: Sequence[SurfaceSetOut], levels: Levels, lining: Lining, turn: float) -> tuple[list[SurfaceSetOut], Levels]:
    """Surfaces of a floor that falls with their stretch, and its levels with those at the crossings of start lines and on a grid from the first of them."""
    from layout.falls.levels import spot_levels  # noqa: PLC0415  # a level floor does without

    start = surfaces[0].start
    stretched = [replace(s, stretch=levels.stretch) if s.surface.kind in ("floor", "border") else s for s in surfaces]
    crossings = _crossings(start)
    origin = crossings[0][1] if crossings else start.origin
    return stretched, spot_levels(levels, lining.outline, lining.floor.gross, crossings, origin, turn)


def _as_tiled(lining: Lining, surfaces: Sequence[SurfaceSetOut]) -> Lining:
    """The lining with its surfaces as they were tiled: joints round frames may have been narrowed to keep tiles whole."""
    tiled = {done.surface.id: done.surface for done in surfaces}
    return replace(lining, surfaces=tuple(tiled.get(surface.id, surface) for surface in lining.surfaces))


@dataclass(frozen=True, slots=True, eq=False)
class _Upright:
    """An upright surface before it is set out: its faces, the start that others fix along an axis, what was noticed of that."""

    faces: Faces
    given: tuple[float | None, float | None] = (None, None)
    findings: tuple[Finding, ...] = ()


def _uprights(lining: Lining, floor: SurfaceSetOut, index: int) -> dict[SurfaceId, _Upright]:
    """The upright surfaces, with the courses that those of one tile share and joints in line with the floor's."""
    faces = [
        faces_of(lining, surface, surface.tile)
        for surface in lining.surfaces
        if surface.placing.line is not None and surface.tile is not None
    ]
    seen = lining_of_uprights(lining, index)
    result = {each.surface.id: _Upright(replace(each, lining=seen)) for each in faces}
    level = [each for each in faces if each.surface.kind in LEVEL_KINDS]
    for tile in dict.fromkeys(each.tile.name for each in level):
        alike = [each for each in level if each.tile.name == tile]
        course, moved = level_start(lining, alike)
        for k, each in enumerate(alike):
            along, missed = floor_joints(lining, each, floor.field, floor.bays)
            noticed = (*(moved if k == 0 else ()), *([missed] if missed else ()))
            result[each.surface.id] = _Upright(replace(each, lining=seen), (along, course), noticed)
    return result


def _home(plan: Plan, index: int) -> tuple[Plan, Home]:
    """A room in its own frame, and the plan with it as it stands there moved out again: as typed, but for the rounding of a turned room."""
    plan = as_measured(plan, index)
    frame = own_frame(build_outline(plan, index))
    inside = at_home(plan, index, frame)
    lining, levels = _levelled(build_lining(inside, index, upright=False))
    return back_out(plan, inside, index, frame) if frame.turned_whole else plan, Home(frame, lining, levels)


def _there(home: Home, faces: Faces, before: Before) -> AtHome | None:
    """A flat surface in its room's own frame; None for upright ones, where there is no way out, and where a corner of a tile is fixed or kept."""
    if faces.tile.start is not None or any(each.on == faces.surface.name for each in faces.lining.room.kept_lines):
        return None
    there = home.faces_of(faces.surface)
    out = way_out(home.frame, there, faces) if there is not None else None
    return None if there is None or out is None else AtHome(there, before, out)


def _levelled(lining: Lining, home: Home | None = None) -> tuple[Lining, Levels | None]:
    """The lining with saw lines along hips and valleys, and the floor's levels if it falls; ponds as they lie in its own frame."""
    falls, floor = lining.falls, lining.floor
    if falls is None or floor.tile is None:
        return lining, None
    from layout.falls.levels import measure_levels, saw_strip  # noqa: PLC0415  # a level floor does without

    ponds = None if home is None or home.levels is None else [replace(pond, at=_out(home, pond.at)) for pond in home.levels.ponds]
    levels = measure_levels(lining.plan, falls, floor.gross, lining.outline, floor.tile, ponds)
    if not levels.cuts:
        return lining, levels
    strips = [saw_strip(line.line, floor.tile.joint) for line in levels.cuts]
    sawn = replace(floor, saw_lines=union_of(strips))
    return replace(lining, surfaces=(sawn, *lining.surfaces[1:])), levels


def _out(home: Home, at: Point) -> Point:
    return pair(home.frame.out(np.array([at]))[0])


def _crossings(start: Start) -> list[tuple[str, Point]]:
    """Where start lines cross each other, or end upon each other."""
    result = []
    lines = [shapely.LineString([one + SNAP * unit(one - two), two + SNAP * unit(two - one)]) for one, two in _ends(start)]
    for k, one in enumerate(start.lines):
        for n, two in enumerate(start.lines[k + 1 :], k + 1):
            met = shapely.intersection(lines[k], lines[n])
            if isinstance(met, shapely.Point):
                result.append((worded("lines {one} and {two}", one=one.name, two=two.name), (float(met.x), float(met.y))))
    return result


def _ends(start: Start) -> list[tuple[Floats, Floats]]:
    return [(np.array(line.start), np.array(line.end)) for line in start.lines]


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
