"""One surface set out: frame, division, start, tiles as laid, and what is measured of them, each a value made from the one before."""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np
import shapely

from layout.errors import Finding
from layout.identity import SurfaceId
from layout.joints.divide import divide
from layout.joints.given import (
    carried_lines,
    fixed_lines,
    lines_of_falls,
    near_arris_findings,
    obstacles_of,
    preferred_lines,
    slanted_structural,
)
from layout.joints.kept import kept_cuts, kept_lattices
from layout.joints.lines import bays_of
from layout.joints.values import Undivided
from layout.memo import by_input
from layout.plan.values import Plan, Room
from layout.setout import checks
from layout.setout.runners import runners_up
from layout.setout.values import RunnerUp, Start, SurfaceSetOut, WallCut
from layout.shapes import turned, turned_shape
from layout.start.laid import first_whole, lay_bays, own_bays
from layout.start.measured import Measured, at_foot, lacking, measure
from layout.start.mends import Shift, shift_off_weak, shift_to_best, without_weak
from layout.start.pulls import Pull, pulls_of
from layout.start.settle import Settler
from layout.start.settled import Settled, given_line
from layout.start.start_lines import Snapper
from layout.start.taken_up import taken_up
from layout.start.weighed import bay_by_bay, weighed_as_laid
from layout.units import TOUCH
from layout.vectors import pair
from layout.words import listed, worded

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from shapely.geometry.base import BaseGeometry

    from layout.errors import Point
    from layout.falls.levels import Levels
    from layout.joints.lines import Bay, MovementJoint
    from layout.joints.values import Division, FixedLine, PreferredLine
    from layout.lining.surfaces import Surface
    from layout.setout.home import WayOut
    from layout.start.faces import Faces
    from layout.start.pulls import Carried
    from layout.start.start_lines import StartLine
    from layout.tiles.lay import TileField
    from layout.vectors import Floats


STARTS_KEPT = 400
"""So many starts of flat surfaces stay at hand: rooms that are alike come again through a whole job."""
NOT_OF_A_START = {Plan: ("source", "rooms", "places"), Room: ("name", "at", "turn", "storey"), SurfaceId: ("room",), Settler: ("found",)}
"""What a room is called, where it stands and what stands beside it: in its own frame no start hangs on that."""


@dataclass(frozen=True, slots=True, eq=False)
class Before:
    """What is known before a surface is set out.

    `carried` floors that joints may be carried from, by surface; `joints` those of the floor so far; `levels` of a floor that
    falls; `given` a start fixed along an axis, by a course that walls share or by the floor's joints.
    """

    carried: Mapping[SurfaceId, Carried]
    joints: Sequence[MovementJoint] = ()
    levels: Levels | None = None
    given: tuple[float | None, float | None] = (None, None)


@dataclass(frozen=True, slots=True, eq=False)
class AtHome:
    """A flat surface in its room's own frame: how it is seen there, what is known there, and the way out."""

    faces: Faces
    before: Before
    out: WayOut


@dataclass(frozen=True, slots=True, eq=False)
class Done:
    """What setting out one surface gives: the surface (None if nothing of it is left for tile), its joints, what was noticed.

    `home_bays` and `home_joints` are the same in the room's own frame, for a flat surface that was set out there; `between` is every
    bay of the division from joint to joint, those too that take no tile of this surface.
    """

    surface: SurfaceSetOut | None
    joints: tuple[MovementJoint, ...] = ()
    findings: tuple[Finding, ...] = ()
    home_bays: tuple[Bay, ...] = ()
    home_joints: tuple[MovementJoint, ...] = ()
    between: tuple[BaseGeometry, ...] = ()


def set_out_surface(faces: Faces, before: Before, home: AtHome | None = None) -> Done:
    """Bays, start and tiles of one surface; a flat one is divided and started in its room's own frame, where there is a way out."""
    surface = faces.surface
    if surface.region.is_empty:
        text = worded("{name}: nothing is left for tile inside joints and build-up", name=surface.name)
        found = [Finding(code="surface-too-small", text=text, surface=surface.id)] if surface.gross.area > 1.0 else []
        return Done(None, (), tuple(found))
    own, known = (faces, before) if home is None else (home.faces, home.before)
    slanted = slanted_structural(own.lining, own.frame) if surface.kind == "floor" else []
    settler, settled = _started(own, known, [strip for strip, _ in slanted], at_home=home is not None)
    pulls = settler.pulls if home is None else pulls_of(faces, before.carried)
    findings = [_slanted_finding(joint) for _, joint in slanted] + [*settled.findings, *pulls.findings]
    findings += _broken(surface, settled)
    home_bays, found_joints = bays_of(settled.division, surface.id, own.frame)
    home_joints = (*found_joints, *(joint for _, joint in slanted))
    bays, joints = (home_bays, home_joints) if home is None else home.out.moved(home_bays, home_joints)
    dropped = math.fsum(cut.dropped for cut in settled.division.cuts)
    findings += [
        *near_arris_findings(faces.lining, surface, before.joints, faces.frame),
        *checks.edge_joint_findings(surface, settled.division.cuts),
    ]
    taken = taken_up(faces, bays)
    findings += taken.findings
    faces, surface = taken.faces, taken.faces.surface
    field, bays = lay_bays(faces, taken.bays)
    # a bay so narrow that it lies in a joint between tiles takes none: it is left out, and told
    unlaid = max(math.fsum(bay.region.area for bay in own_bays(faces, taken.bays)) - math.fsum(bay.region.area for bay in bays), 0.0)
    if len(field.whole) + len(field.cut) == 0:
        return Done(None, joints, tuple(findings))
    seen = measure(faces, field, bays)
    origin, bays = first_whole(field, bays)
    typed = settler if home is None else _typed_settler(faces, before)
    findings += checks.cut_findings(
        surface,
        faces.tile,
        seen.drawn,
        seen.worst,
        _where(seen),
        seen.place,
        _best_shift(typed, field, origin, seen),
    )
    findings += [*checks.bite_findings(faces, seen.bites), *checks.crumb_findings(surface, field)]
    told = pulls.told(field, bays, seen.cut_at())
    findings += [*checks.calibre_findings(surface, faces.tile), *checks.face_findings(surface, len(field.whole), field.lost_mm2, unlaid)]
    findings += _missed(faces, told)
    lay, moved = functools.partial(_lay_beside, typed, own, home), functools.partial(_moved_out, own, home, origin)
    runners = runners_up(settler, settled, field, seen, lay, moved)
    done = SurfaceSetOut(
        surface=surface,
        tile=faces.tile,
        field=field,
        bays=bays,
        start=_start(faces, bays, origin, seen, settled, runners, told, home),
        wall_cuts=_wall_cuts(faces, seen),
        necks=seen.necks,
        lost_mm2=field.lost_mm2 + dropped + unlaid,
        mend=None if settler.undivided.kept or settled.off_weak else _mend(typed, field, origin, seen),
        rejected=tuple(replace(r, lines=tuple(_line_out(line, own, home) for line in r.lines)) for r in settled.division.rejected),
    )
    return Done(done, joints, tuple(findings), home_bays, home_joints, tuple(bay.region for bay in taken.bays))


def _where(seen: Measured) -> str:
    """Where the narrowest cut is, in words, and what is in view where that is wider."""
    at = worded(" at {where}", where=seen.where.name) if seen.where else ""
    hidden = seen.view.drawn > seen.drawn + TOUCH
    return worded("{at}, out of view ({drawn:.0f} in view)", at=at, drawn=seen.view.drawn) if hidden else at


def _mend(settler: Settler, field: TileField, origin: Point, seen: Measured) -> Shift | None:
    return shift_off_weak(settler, field, origin, min(seen.worst, settler.faces.tile.least_cut))


def _start(
    faces: Faces,
    bays: tuple[Bay, ...],
    origin: Point,
    seen: Measured,
    settled: Settled,
    runners: tuple[RunnerUp, ...],
    told: tuple[Pull, ...],
    home: AtHome | None,
) -> Start:
    return Start(
        origin,
        seen.drawn,
        seen.worst,
        seen.where.name if seen.where else "",
        settled.method,
        _lines(faces, bays, home),
        runners,
        settled.gap_over(seen.view.worst),
        told,
        seen.piece,
        settled.tried,
        seen.view if faces.hidden.any() else None,
        seen.where,
        lacking(faces, seen.cut_at()),
        at_foot(faces, seen.cut_at()),
    )


def _lines(faces: Faces, bays: Sequence[Bay], home: AtHome | None) -> tuple[StartLine, ...]:
    """The lines to snap; where no wall tells which of like lines is taken, those that the room's own frame gives a flat surface."""
    snapper = Snapper(faces)
    if home is None or snapper.by_walls:
        return snapper.lines(tuple(bays))
    return home.out.lines(Snapper(home.faces).lines(tuple(home.out.back(bay) for bay in bays)), faces.turn)


def _broken(surface: Surface, settled: Settled) -> list[Finding]:
    """Findings for the rules that bays break, and for what their division tells."""
    name, known = surface.name, surface.id
    return [
        *(
            Finding(code="bay-over-rule", text=worded("{name}: {why}; no cut that was tried mends it", name=name, why=why), surface=known)
            for why in settled.division.broken
        ),
        *(Finding(code="bay-balanced", text=listed((name, words), ": "), surface=known) for words in dict.fromkeys(settled.division.told)),
    ]


def _line_out(line: Floats, own: Faces, home: AtHome | None) -> Floats:
    """A line of the joint frame in the surface's axes as the plan has them."""
    flat = turned(line, own.frame)
    return flat if home is None else home.out.line(flat)


def _moved_out(own: Faces, home: AtHome | None, origin: Point, move: Sequence[float]) -> Point:
    """Where `origin` comes to when it is moved along the joint frame's axes, in the surface's axes as the plan has them."""
    flat: Floats = turned(np.array([move]), own.frame)[0]
    return pair(np.array(origin) + (flat if home is None else home.out.move(flat)))


def _lay_beside(typed: Settler, own: Faces, home: AtHome | None, start: Point) -> tuple[Point, TileField, Measured, Division] | None:
    """Another start laid as a plan that fixes it would have it: divided in the axes that it is typed in; None if no tile is laid.

    What is given: the corner to type, of a tile as near as may be to the first whole one, the tiles, what is measured, how it is divided.
    """
    faces = typed.faces
    begun = turned(np.array([start]), own.frame)[0]
    begun = np.round(begun if home is None else home.out.begun(begun), 3)
    division = divide(typed.undivided, pair(turned(begun[None], -faces.frame)[0]))
    taken = taken_up(faces, bays_of(division, faces.surface.id, faces.frame)[0])
    field, bays = lay_bays(taken.faces, taken.bays)
    if not bays:
        return None
    module: Floats = turned(field.pattern.vectors, faces.turn)
    first = np.array(first_whole(field, bays)[0])
    corner = begun + np.round((first - begun) @ np.linalg.inv(module)) @ module
    return pair(np.round(corner, 3)), field, measure(taken.faces, field, bays, told=False), division


def _slanted_finding(joint: MovementJoint) -> Finding:
    text = worded("{why}: it runs at an angle to the tile joints, so tiles are cut along both its faces", why=joint.why)
    return Finding(code="structural-joint-cut", text=text)


def _missed(faces: Faces, told: Sequence[Pull]) -> list[Finding]:
    """Findings for the pulls that the plan asks for and the start misses."""
    return [
        Finding(
            code="pull-missed",
            text=worded(
                "{name}: {at}: {wanted}, missed by {miss:.1f} mm; rules.start_order tells what comes before pulls",
                name=faces.surface.name,
                at=pull.at,
                wanted=pull.wanted,
                miss=pull.miss,
            ),
            surface=faces.surface.id,
        )
        for pull in told
        if pull.asked and pull.miss > TOUCH
    ]


def _settled(settler: Settler) -> Settled:
    """The start of a surface with its joints, without weak pieces where one is to be had."""
    return without_weak(settler, weighed_as_laid(settler, bay_by_bay(settler, settler.settled())))


@by_input(STARTS_KEPT, without=NOT_OF_A_START)
def _settled_at_home(settler: Settler) -> Settled:
    """The same in a room's own frame: rooms that are alike there start alike, wherever they stand and whatever they are called."""
    return _settled(settler)


def _started(faces: Faces, before: Before, strips: Sequence[shapely.Polygon], *, at_home: bool) -> tuple[Settler, Settled]:
    """The start of a surface with its joints, and what found it."""
    settler = _settler(faces, before, strips)
    settled = (_settled_at_home if at_home else _settled)(settler)
    joins = settler.undivided.rules.bays == "shift" and settled.division.cuts
    if faces.surface.kind != "floor" and settled.choices[0] and joins:
        # a joint that the floor gives a wall may spoil its ends: then it is cut through one lattice
        through = replace(settler, undivided=_undivided(faces, before, strips, bays="cut"))
        other = _settled(through)
        if settler.order([(settler.given_by(settled), settled.division), (through.given_by(other), other.division)])[0] == 1:
            return through, other
    return settler, settled


def _settler(faces: Faces, before: Before, strips: Sequence[shapely.Polygon]) -> Settler:
    line = given_line(faces)
    given = (before.given[0] if line[0] is None else line[0], before.given[1] if line[1] is None else line[1])
    return Settler(faces, _undivided(faces, before, strips), pulls_of(faces, before.carried), given)


def _undivided(
    faces: Faces, before: Before, strips: Sequence[shapely.Polygon], *, bays: Literal["shift", "cut"] | None = None
) -> Undivided:
    """What is to be divided: a surface's region less slanted structural joints, lines that are given and liked, what joints keep clear of."""
    surface, lining, frame = faces.surface, faces.lining, faces.frame
    region = surface.divided_region
    preferred: list[PreferredLine] = []
    fixed: list[FixedLine]
    if surface.kind == "floor":
        fixed = [*fixed_lines(lining, surface, frame), *kept_cuts(lining, frame)]
        preferred = preferred_lines(lining, frame)
        for strip in strips:
            region = shapely.difference(region, strip)
    else:
        fixed = carried_lines(lining, surface, before.joints, frame)
    obstacles = obstacles_of(surface, frame, lining.plan.products.collar_lap.value)
    if before.levels is not None:
        high, low = lines_of_falls(before.levels, frame)
        preferred, obstacles = [*high, *preferred], [*obstacles, *low]
    kept = kept_lattices(lining, surface, frame)
    if kept:
        bays = "cut"  # a joint that comes into a snapped bay is sawn through its tiles: they stay
    rules = faces.rules if bays is None else replace(faces.rules, bays=bays)
    if surface.kind != "floor":
        free = replace(rules.movement, max_edge=math.inf, max_area_m2=None, max_aspect=None, reentrant=False)
        rules = replace(rules, movement=rules.wall_movement if surface.kind == "wall" and rules.wall_movement else free)
    first = 1 if abs(math.remainder(faces.base - frame, 180.0)) > 45.0 else 0
    return Undivided(turned_shape(region, -frame), rules, faces.lattice, tuple(fixed), tuple(obstacles), tuple(preferred), first, kept)


def _best_shift(settler: Settler, field: TileField, origin: Point, seen: Measured) -> str | None:
    """For a start that the plan fixes and that leaves a cut under the least, the shift to the best one, in words."""
    tile = settler.faces.tile
    if (tile.start is None and tile.start_line is None) or seen.drawn >= tile.least_cut - TOUCH:
        return None
    found = shift_to_best(settler, field, origin, seen.worst)
    if found is None:
        return None
    return worded("{words} would leave {worst:.0f} at the least over the walls' tolerance", words=found.words(), worst=found.worst)


def _typed_settler(faces: Faces, before: Before) -> Settler:
    """What settles a surface in the axes that it is typed in, where a person fixes a start that is told."""
    strips = [strip for strip, _ in slanted_structural(faces.lining, faces.frame)] if faces.surface.kind == "floor" else []
    return _settler(faces, before, strips)


def _wall_cuts(faces: Faces, seen: Measured) -> tuple[WallCut, ...]:
    """Cut at each end of every straight edge, bay by bay."""
    result = []
    for bay, k in np.unique(np.column_stack([seen.bay, seen.edge]), axis=0).tolist():
        own = (seen.bay == bay) & (seen.edge == k)
        line = faces.edges[k]
        way = (line[1] - line[0]) / np.hypot(*(line[1] - line[0]))
        along = (seen.centre[own] - line[0]) @ way
        values = seen.widths[own]
        first, last = float(values[along.argmin()]), float(values[along.argmax()])
        distinct = np.unique(np.round(values * 2.0) / 2.0)
        turns = tuple(distinct.tolist()) if faces.pattern.bonded and 2 <= len(distinct) <= 4 else ()
        result.append(WallCut(faces.known[k], turned(line, faces.frame), first, last, turns))
    return tuple(result)
