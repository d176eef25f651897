"""Single changes of a plan that a person can really make and that may loosen a floor's narrowest cut: each a plan of its room alone.

A joint a millimetre wider or narrower, a wall built out with board or render, a gully moved by less than a hand, what fixes or
pulls the start left out. Which of them helps is seen only when the changed plan is set out: `layout.setout.freeing` does that.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal, TypeAlias

import numpy as np
import shapely

from layout.errors import Rule
from layout.identity import EdgeId
from layout.setout.gauge import asked, least_joint
from layout.shapes import following, preceding, signed_area, turned
from layout.units import EPS
from layout.vectors import cross, leftward, pair, unit

if TYPE_CHECKING:
    from collections.abc import Sequence

    from layout.errors import Point
    from layout.plan.things import Break, Drain, Opening
    from layout.plan.values import Plan, Room, Tile
    from layout.room.outlines import WallFace
    from layout.setout.values import RoomSetOut, SetOut
    from layout.tiles.lay import TileField
    from layout.vectors import Floats

ChangeKind: TypeAlias = Literal["joint", "wall", "drain", "start", "pull", "gauge", "bays", "pattern"]

BUILT_OUT = (5.0, 10.0, 12.0, 15.0)
"""Boards and coats of render that a wall is built out by, mm (common practice, no source)."""
JOINT_STEP = 1.0
JOINT_MOST = Rule(12.0, "mm", "common practice, no source: a wider joint is worn out of a floor under wheels and hard to strike flush")
DRAIN_MOVED = 50.0
"""A gully that is not yet set is moved by less than this, mm: its pipe below takes no more (common practice, no source)."""
MOST_WALLS, MOST_PULLS = 2, 2
"""So many of the walls that limit a cut are tried, and of the pulls that draw the start."""
PARALLEL = 0.01
"""Sine of the angle within which two edges run one way."""
MITRED = 3.0
"""A corner that would move by more than this many times what the wall is built out by stands between walls almost in line."""


@dataclass(frozen=True, slots=True)
class Change:
    """One change in words, and the plan of the room alone with it; None for a wall that cannot be moved by its own corners."""

    kind: ChangeKind
    what: str
    plan: Plan | None
    of: str = ""


def alone(plan: Plan, index: int) -> Plan:
    """A plan of one room alone; rooms before it stay where joints are carried on from one of them."""
    first = 0 if any(pull.room for pull in plan.rooms[index].pulls) else index
    return replace(plan, rooms=plan.rooms[first : index + 1], places=plan.places[first : index + 1])


def changes_of(setout: SetOut, index: int, limits: Sequence[EdgeId]) -> list[Change]:
    """The changes to try for a room's floor, the easiest first; `limits` are what its narrowest cut is cut to."""
    plan, room, done = alone(setout.plan, index), setout.plan.rooms[index], setout.rooms[index]
    return [
        *_gauge_changes(plan, done),
        *_bays_changes(plan, done),
        *_joint_changes(plan, room),
        *_start_changes(plan, room),
        *_pull_changes(plan, room),
        *_drain_changes(plan, room, done, limits),
        *_wall_changes(plan, room, done, limits),
        *_pattern_changes(plan, room),
    ]


def _with_room(plan: Plan, room: Room) -> Plan:
    """The plan with another room in the last one's place."""
    return replace(plan, rooms=(*plan.rooms[:-1], room))


def _with_tile(plan: Plan, name: str, tile: Tile) -> Plan:
    return replace(plan, tiles={**plan.tiles, name: tile})


def _tile_name(plan: Plan, room: Room) -> str:
    return room.floor_tile if room.floor_tile in plan.tiles else "floor"


def _gauge_changes(plan: Plan, done: RoomSetOut) -> list[Change]:
    """The gauge, where a run asks for it that a joint may open or close for."""
    if plan.rules.gauge or not any(asked(done.floor, plan.rules, axis) for axis in (0, 1)):
        return []
    return [Change("gauge", "the gauge (rules.gauge = true)", with_gauge(plan))]


def with_gauge(plan: Plan) -> Plan:
    """A plan that takes the gauge."""
    return replace(plan, rules=replace(plan.rules, gauge=True))


def _bays_changes(plan: Plan, done: RoomSetOut) -> list[Change]:
    """One lattice cut through where bays start whole at their joints, or the other way round."""
    if len(done.floor.bays) < 2:
        return []
    other: Literal["shift", "cut"] = "cut" if plan.rules.bays == "shift" else "shift"
    return [Change("bays", f'bays = "{other}"', replace(plan, rules=replace(plan.rules, bays=other)))]


def _pattern_changes(plan: Plan, room: Room) -> list[Change]:
    """The neighbouring pattern: half bond for stack, stack for a bond."""
    name = _tile_name(plan, room)
    tile = plan.tiles[name]
    if tile.pattern not in ("stack", "running"):
        return []
    pattern: Literal["stack", "running"] = "running" if tile.pattern == "stack" else "stack"
    words = "running, half" if pattern == "running" else "stack"
    return [Change("pattern", f"laid in {words}", _with_tile(plan, name, replace(tile, pattern=pattern, offset=0.5)), name)]


def _joint_changes(plan: Plan, room: Room) -> list[Change]:
    """The floor's joint a millimetre wider and narrower, within what its tile and resin grout allow."""
    name = _tile_name(plan, room)
    tile = plan.tiles[name]
    if tile.cell is not None:
        return []  # the vectors of a cell of one's own hold its joints
    result = []
    for by in (JOINT_STEP, -JOINT_STEP):
        joint = round(tile.joint + by, 3)
        if (by > 0 and joint > JOINT_MOST.value + EPS) or (by < 0 and joint < least_joint(tile) - EPS):
            continue
        what = f"the tile joint {joint:g} for {tile.joint:g}"
        result.append(Change("joint", what, _with_tile(plan, name, replace(tile, joint=joint)), name))
    return result


def _start_changes(plan: Plan, room: Room) -> list[Change]:
    """What the plan fixes of the floor's start left out."""
    name = _tile_name(plan, room)
    tile = plan.tiles[name]
    result = []
    if tile.start is not None:
        what = f"the fixed start [{tile.start[0]:g}, {tile.start[1]:g}] left out"
        result.append(Change("start", what, _with_tile(plan, name, replace(tile, start=None)), name))
    if tile.start_line is not None:
        what = f"the fixed line {tile.start_line.at:g} off {_wall_words(tile.start_line.wall)} left out"
        result.append(Change("start", what, _with_tile(plan, name, replace(tile, start_line=None)), name))
    return result


def _wall_words(ref: int | str) -> str:
    return f"wall {ref}" if isinstance(ref, int) else ref


def _pull_changes(plan: Plan, room: Room) -> list[Change]:
    """Each of the first pulls that the plan asks for left out."""
    result = []
    for k, pull in enumerate(room.pulls[:MOST_PULLS]):
        to = "" if pull.to is None else _wall_words(pull.to)
        at = "" if pull.at is None else f"[{pull.at[0]:g}, {pull.at[1]:g}]"
        what = f"the pull {pull.want} {to or at or pull.room} left out"
        result.append(Change("pull", what, _with_room(plan, replace(room, pulls=(*room.pulls[:k], *room.pulls[k + 1 :]))), pull.want))
    return result


def _drain_changes(plan: Plan, room: Room, done: RoomSetOut, limits: Sequence[EdgeId]) -> list[Change]:
    """A gully that the narrowest cut is cut to, or that the plan draws the start to, moved to a tile's middle or to joints."""
    asked = {pull.to for pull in room.pulls}
    result = []
    for k, drain in enumerate(room.drains):
        if drain.kind != "gully" or (drain.name not in asked and EdgeId("drain", k + 1) not in limits):
            continue
        for where, to in _places(done, drain):
            by = np.array(to) - np.array(drain.at)
            if not 1.0 <= float(np.hypot(*by)) < DRAIN_MOVED:
                continue
            moved = replace(drain, middle=to)
            what = f"{drain.name} moved by {by[0]:+.0f}, {by[1]:+.0f} to {where}"
            drains = (*room.drains[:k], moved, *room.drains[k + 1 :])
            result.append(Change("drain", what, _with_room(plan, replace(room, drains=drains)), drain.name))
        break  # one gully: the next one is moved when this one stands
    return result


def _places(done: RoomSetOut, drain: Drain) -> list[tuple[str, Point]]:
    """The middle of the tile and the crossing of joints nearest to a gully, as the floor is laid now."""
    floor, at = done.floor, np.array(drain.at)
    own = [bool(shapely.covers(bay.between_joints, shapely.Point(at))) for bay in floor.bays]
    bay = own.index(True) if any(own) else 0
    middles, crossings = _lattice_near(floor.field, at, bay, floor.tile.joint)
    result = [("a tile's middle", middles)]
    if len(crossings):
        result.append(("a crossing of joints", crossings))
    nearest = [(where, points[int(np.hypot(*(points - at).T).argmin())]) for where, points in result]
    return [(where, pair(np.round(point, 1))) for where, point in nearest]


def _lattice_near(field: TileField, at: Floats, bay: int, joint: float) -> tuple[Floats, Floats]:
    """Middles of the tiles round a point, (n, 2), and crossings of joints at their corners, (k, 2), mm; none where tiles are no rectangles."""
    vectors, origin = np.asarray(field.pattern.vectors, dtype=float), field.origins[bay]
    local = turned((at - origin)[None], -field.turn)[0]
    here = np.floor(np.linalg.solve(vectors.T, local))
    shifts = np.array(list(itertools.product((-1.0, 0.0, 1.0), repeat=2))) + here
    middles, crossings = [], []
    for member in field.pattern.members:
        corners = np.asarray(member, dtype=float)
        middles.append(shifts @ vectors + corners.mean(axis=0))
        if len(corners) == 4:
            sides = np.stack([corners - preceding(corners), corners - following(corners)])
            out = (sides / np.linalg.norm(sides, axis=2, keepdims=True)).sum(axis=0)
            crossings.append(((shifts @ vectors)[:, None, :] + (corners + out * joint / 2.0)[None]).reshape(-1, 2))
    laid = [turned(np.concatenate(each), field.turn) + origin if each else np.empty((0, 2)) for each in (middles, crossings)]
    return laid[0], laid[1]


def _wall_changes(plan: Plan, room: Room, done: RoomSetOut, limits: Sequence[EdgeId]) -> list[Change]:
    """Each of the walls that limit built out by board or render; then of those along the edges that do."""
    result: list[Change] = []
    faces = {wall_id(face): face for face in done.lining.outline.walls}
    for of in [each for each in (*limits, *_along_limits(done, limits)) if each in faces][:MOST_WALLS]:
        face = faces[of]
        whole = face.run.straight and len(face.run.edges) == 1
        for by in BUILT_OUT:
            moved = built_out(room, face.run.number, by) if whole else None
            if moved is None:
                result.append(Change("wall", f"{called(done, of)} built out", None, str(of.number)))
                break
            result.append(Change("wall", f"{called(done, of)} built out by {by:g}", _with_room(plan, moved), str(of.number)))
    return result


def _along_limits(done: RoomSetOut, limits: Sequence[EdgeId]) -> list[EdgeId]:
    """The other walls along the edges that limit: those with whole tiles first, for a whole tile there may be what holds the start, then the narrowest cut."""
    cuts = done.floor.wall_cuts
    most = done.floor.start.smallest + done.lining.plan.rules.wall_tolerance
    held = [unit(cut.edge[1] - cut.edge[0]) for cut in cuts if cut.of in limits and min(cut.start, cut.end) <= most]
    found: dict[EdgeId, float] = {}
    for face in done.lining.outline.walls:
        way = unit(face.run.points[-1] - face.run.points[0])
        of = wall_id(face)
        if face.run.straight and of not in limits and any(abs(cross(way, other)) < PARALLEL for other in held):
            found[of] = min((min(cut.start, cut.end) for cut in cuts if cut.of == of), default=0.0)
    return sorted(found, key=lambda of: (round(found[of], 1), of.number))


def wall_id(face: WallFace) -> EdgeId:
    """What the edge of a floor along a wall is known by."""
    return EdgeId("wall", face.run.number, face.label)


def called(done: RoomSetOut, of: EdgeId) -> str:
    """A wall by its number and, where the plan gives one, its name; whatever else as it is labelled."""
    names = {wall_id(face): face.name for face in done.lining.outline.walls}
    name = names.get(of, of.name)
    return of.name if name == of.name else f"{of.name} ({name})"


def built_out(room: Room, edge: int, by: float) -> Room | None:
    """A room with one straight wall built out into it, what is measured along its neighbours staying where it stands.

    `edge` counts typed edges from 1, `by` in mm. None where a neighbour is an arc or almost in line, or something stands nearer
    to the corner than the wall comes in.
    """
    n = len(room.outline)
    ring = np.array([vertex.to for vertex in room.outline], dtype=float)
    first, last = edge - 1, edge % n
    if any(room.outline[k % n].bulge for k in (first, last, last + 1)):
        return None
    turn = 1.0 if signed_area(ring) > 0 else -1.0
    along = unit(ring[last] - ring[first])
    into = leftward(along) * turn
    moved = ring.copy()
    less: dict[tuple[int, bool], float] = {}  # by edge and whether it is told from the edge's first corner: how much nearer that is now
    for corner, other, beside, opens in ((first, ring[first - 1], first or n, False), (last, ring[(last + 1) % n], last + 1, True)):
        way = unit(other - ring[corner])
        square = float(way @ into)
        if abs(square) * MITRED < 1.0:
            return None
        moved[corner] = ring[corner] + way * (by / square)
        less[beside, opens] = by / square
        less[edge, not opens] = float((moved[corner] - ring[corner]) @ along) * (1.0 if not opens else -1.0)
    outline = tuple(
        replace(vertex, to=pair(np.round(to, 3))) if k in (first, last) else vertex
        for k, (vertex, to) in enumerate(zip(room.outline, moved, strict=True))
    )

    def nearer(thing: Opening | Break) -> float:
        """How much less a thing on a wall is from the end that it is measured from."""
        on = None if thing.wall is None else room.edge_of(thing.wall)
        opens = thing.measured_from == "first" or (thing.measured_from == "right") == (turn > 0)
        return 0.0 if on is None else less.get((on, opens), 0.0)

    things: list[Opening | Break] = [*room.openings, *room.pipes, *room.fixings]
    if any(thing.offset < nearer(thing) - EPS for thing in things):
        return None
    return replace(
        room,
        outline=outline,
        openings=tuple(replace(each, offset=each.offset - nearer(each)) for each in room.openings),
        pipes=tuple(replace(each, along=each.offset - nearer(each)) if each.wall is not None else each for each in room.pipes),
        fixings=tuple(replace(each, along=each.offset - nearer(each)) if each.wall is not None else each for each in room.fixings),
    )
