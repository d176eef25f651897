"""Checks a whole plan: can each room be built, is it too big, and is all that it refers to there."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.budgets import heed, over
from layout.errors import PlanError, PlanFaults
from layout.plan.patterns import pattern_of
from layout.room.building import build_outline
from layout.room.outlines import known_walls
from layout.shapes import turned

if TYPE_CHECKING:
    from layout.plan.values import Plan, Room, Wanted
    from layout.room.outlines import Outline

DOOR_REACH = 1000.0
"""How far apart on the key plan two rooms with a door between them may stand: a thick wall, mm."""


def check_plan(plan: Plan) -> list[PlanError]:
    """All geometric faults of a plan, in the order of its rooms."""
    faults: list[PlanError] = []
    for index, room in enumerate(plan.rooms):
        try:
            outline = build_outline(plan, index)
        except PlanFaults as error:
            faults += error.faults
            continue
        faults += _check_shape(plan, index, outline)
        faults += _check_count(plan, index, room, outline)
        faults += _check_datum(plan, outline)
        faults += _check_pulls(plan, index, outline)
        faults += _check_hidden(plan, index, outline)
        faults += _check_cove(plan, index, outline)
        faults += _check_edge_gap(plan, outline)
        if room.falls:
            from layout.falls.shaping import fall_faults  # noqa: PLC0415  # a level floor does without

            faults += fall_faults(plan, index, outline)
    return faults


def _check_shape(plan: Plan, index: int, outline: Outline) -> list[PlanError]:
    """A room that is a slit, or whose edges alone would be more cuts than anyone saws."""
    heed()
    budgets, place = plan.budgets, plan.place_of(index)
    low_x, low_y, high_x, high_y = outline.domain.bounds
    aspect = ((high_x - low_x) ** 2 + (high_y - low_y) ** 2) / max(outline.domain.area, 1.0)
    if aspect > budgets.aspect:
        found = f"it is {math.sqrt(aspect * outline.domain.area) / 1000.0:,.1f} m long for {outline.domain.area / 1e6:,.2f} m² of floor"
        return [PlanError(f"{place}.outline", found, "check its corners, their order and their unit; or raise budgets.aspect")]
    cuts = outline.domain.length / math.sqrt(pattern_of(plan.tile(outline.room.floor_tile)).cell_area)
    if cuts > budgets.cuts:
        return [over(place, round(cuts), "cut tiles, as estimated,", "cuts", "check the size of the tile and the room, in mm", budgets)]
    return []


def _check_count(plan: Plan, index: int, room: Room, outline: Outline) -> list[PlanError]:
    worst = outline.domain.area / pattern_of(plan.tile(room.floor_tile)).cell_area
    for wall in outline.walls:
        if wall.tile:
            worst = max(worst, wall.run.length * wall.tile_height / pattern_of(wall.tile).cell_area)
    older = plan.rules.max_tiles
    most, bound = (plan.budgets.tiles, "budgets.tiles") if older is None else (older, "rules.max_tiles")
    if worst <= most:
        return []
    found = f"a surface would take about {worst:,.0f} tiles, over the bound of {most:,}"
    return [PlanError(plan.place_of(index), found, f"check the size in mm, or raise {bound} to {worst * 1.1:.0f}")]


def _check_cove(plan: Plan, index: int, outline: Outline) -> list[PlanError]:
    """A cove must end below the top of the tile above it."""
    rules = plan.rules
    if rules.foot != "cove":
        return []
    faults = []
    for wall in outline.walls:
        need = rules.cove[0] + rules.perimeter_joint
        if wall.tile and wall.tile_height <= need:
            found = f"{wall.label} is tiled to {wall.tile_height:g}, but its cove and joint take {need:g}"
            mend = "give the wall a higher tile_height, 0 for no tile, or a lower rules.cove"
            faults.append(PlanError(f"{plan.place_of(index)}.tile_height", found, mend))
    return faults


def _check_edge_gap(plan: Plan, outline: Outline) -> list[PlanError]:
    """The tile of a wall, plinth or column must cover the gap that the floor keeps under it."""
    rules = plan.rules
    if rules.foot != "floor-through":
        return []
    standing = [(wall.label, wall.tile) for wall in outline.walls]
    standing += [(solid.solid.name, solid.tile) for solid in (*outline.plinths, *outline.columns)]
    faults = []
    for name, tile in standing:
        if tile is not None and rules.edge_gap > tile.bed + tile.thickness:
            found = f"a gap of {rules.edge_gap:g} shows beside {name}, whose tile and bed cover {tile.bed + tile.thickness:g}"
            faults.append(PlanError(f"{plan.source}: rules.edge_gap", found, f"it may be 0 to {tile.bed + tile.thickness:g}"))
    return faults[:1]


def _check_datum(plan: Plan, outline: Outline) -> list[PlanError]:
    missing = [ref for ref in plan.rules.datum if isinstance(ref, int) and len(plan.rooms) == 1 and outline.wall_index(ref) is None]
    return [PlanError(f"{plan.source}: rules.datum", f"there is no wall {ref!r}", known_walls(outline.room)) for ref in missing]


def _check_hidden(plan: Plan, index: int, outline: Outline) -> list[PlanError]:
    """What is out of view must be a wall, a column or a plinth of the room."""
    solids = [each.name for each in (*outline.room.plinths, *outline.room.columns)]
    faults = []
    for k, ref in enumerate(outline.room.hidden):
        if outline.wall_index(ref) is None and ref not in solids:
            known = "; ".join([known_walls(outline.room), *(f'"{name}"' for name in solids)])
            faults.append(PlanError(f"{plan.place_of(index)}.hidden[{k}]", f"there is no wall, column or plinth {ref!r}", known))
    return faults


def _check_pulls(plan: Plan, index: int, outline: Outline) -> list[PlanError]:
    """What a pull is drawn to must be there, and be of a kind that can be met."""
    room = outline.room
    drains = [each.name for each in room.drains]
    flat = [each.name for each in (*room.pipes, *room.fixings) if each.at is not None]
    fixings = [each.name for each in room.fixings if each.at is not None]
    plinths = [each.name for each in room.plinths]
    solids = [*plinths, *(each.name for each in room.columns)]
    doors = [each.opening.name for each in outline.openings if each.door]
    named = {vertex.wall for vertex in room.outline if vertex.wall} | {note.name for note in room.walls if note.name}
    walls = [*sorted(named), "a wall's number"]
    known = {
        "tile": [*drains, *flat, *solids],
        "crossing": [*drains, *flat, *solids],
        "joint": [*drains, *fixings, *solids],
        "whole": [*doors, *walls],
        "axis": [*doors, *walls],
        "carry": [*doors, *plinths],
    }
    faults = []
    earlier = {other.name: other for other in plan.rooms[:index]}
    for k, pull in enumerate(room.pulls):
        place = f"{plan.place_of(index)}.pulls[{k}]"
        if pull.at is not None and (pull.to is not None or pull.want not in ("tile", "crossing")):
            faults.append(PlanError(f"{place}.at", "a point goes with tile or crossing, and instead of to", "give one place"))
        if pull.at is not None:
            continue
        if pull.to is None:
            faults.append(PlanError(place, "it names no place", "give to, or for tile and crossing at = [x, y]"))
            continue
        on_wall = pull.want in ("whole", "axis") and outline.wall_index(pull.to) is not None
        meant = known[pull.want].count(str(pull.to)) + int(on_wall and pull.to not in named)
        if meant > 1:
            faults.append(PlanError(f"{place}.to", f"{pull.to!r} is the name of {meant} things", "give each a name of its own"))
        elif not meant:
            names = ", ".join(known[pull.want]) or "none here"
            faults.append(PlanError(f"{place}.to", f"there is no {pull.to!r} for {pull.want}", f"it may be {names}"))
        elif pull.want == "carry" and pull.to in doors:
            faults += _check_carried(place, outline, pull, earlier.get(pull.room), list(earlier))
    return faults


def _check_carried(place: str, outline: Outline, pull: Wanted, source: Room | None, earlier: list[str]) -> list[PlanError]:
    if source is None:
        names = ", ".join(earlier) or "none: put the room that sets the joints first"
        return [PlanError(f"{place}.room", f"there is no earlier room {pull.room!r}", f"earlier rooms are {names}")]
    door = next(each for each in outline.openings if each.opening.name == pull.to)
    wall = outline.walls[door.wall].run
    middle = (wall.at(door.s0) + wall.at(door.s1)) / 2
    there = turned(middle[None], outline.room.turn)[0] + np.array(outline.room.at)
    points = turned(np.array([(vertex.x, vertex.y) for vertex in source.outline]), source.turn) + np.array(source.at)
    apart = float(shapely.LinearRing(points).distance(shapely.Point(there)))
    if apart <= DOOR_REACH + door.opening.depth:
        return []
    found = f"{pull.to} stands {apart:.0f} from {source.name} on the key plan"
    return [PlanError(f"{place}.room", found, "place both rooms with at and turn so that they meet at the door")]
