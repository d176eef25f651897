"""Corner pieces, collars and flanges of a room counted again, from what stands round each point.

The set-out walks a shell of cells. Here a hair's breadth round each point of the outline is looked at: how high the ground stands
in each direction, where it steps, which steps are feet (internal) and which are edges (external), and how wide the room
opens above and below. Nothing of the shell, of the tape or of the surfaces is called.

Guarantees: every point of every ring. Not: points of a threshold, where nothing rises on one side, and outlines with an edge under a
tenth of a millimetre (they are named in `Audit.unjudged`).
"""

from __future__ import annotations

import math
from collections import Counter
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import shapely

from layout.setout.ledger import Ledger
from layout.setout.recount import LEAST_TURN, Owners

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from layout.lining.build import Lining
    from layout.setout.recount import Owner
    from layout.setout.values import RoomSetOut

    Floats = NDArray[np.float64]

HAIR = 0.05
"""How far from a point its surroundings are looked at, mm."""
SAME = 1e-3
"""Edges this near to a point leave it, mm."""
SQUARE = 15.0
"""A preformed piece fits a right angle within this, degrees (as the rule of corner pieces says)."""


class _Step(NamedTuple):
    """An edge that leaves a point: its direction, and the heights of the ground just before and after it, anticlockwise."""

    way: float
    before: float
    after: float


def corner_ledger(room: RoomSetOut) -> Ledger:
    """Corner pieces by kind, collars and flanges, told and counted again."""
    ledger = Ledger(room.name)
    lining = room.membrane.lining
    short = min(line.length for line in Owners(lining).lines)
    if short < 2.0 * HAIR:
        ledger.unjudged.append(f"corner pieces: an edge of the outline is {short:.3f} long, shorter than what is looked at round a point")
    else:
        counted = _pieces(lining)
        for kind in ("internal", "external", "made"):
            ledger.add(f"corner pieces, {kind}", room.tape.count(kind), counted[kind], 0.0, unit="pieces")
    collars, flanges = _breaks(lining)
    ledger.add("collars", len(room.tape.collars), len(collars), 0.0, unit="pieces")
    ledger.add("diameters of collars", math.fsum(each.diameter for each in room.tape.collars), math.fsum(collars), 0.01)
    ledger.add("flanges", math.fsum(each.length for each in room.tape.flanges), math.fsum(flanges), 0.01)
    return ledger


def _pieces(lining: Lining) -> Counter[str]:
    """Corner pieces by kind, from what stands round each point of the outline's rings."""
    outline, owners = lining.outline, Owners(lining)
    rings = (outline.outer, *outline.column_rings, *outline.plinth_rings)
    sills = [
        shapely.LineString([outline.outer.points[k], outline.outer.points[(k + 1) % len(outline.outer.points)]])
        for k, tag in enumerate(outline.outer.tags)
        if tag.owner == "threshold"
    ]
    points = np.unique(np.round(np.concatenate([np.array(ring.points) for ring in rings]), 6), axis=0)
    places = np.array([shapely.Point(point) for point in points], dtype=object)
    if sills:
        places = places[shapely.distance(places, shapely.union_all(sills)) > SAME]
    tree = shapely.STRtree(owners.lines)
    which, edge = tree.query(places, predicate="dwithin", distance=SAME)
    ground = _Ground(lining)
    result: Counter[str] = Counter()
    for k, place in enumerate(places):
        at = np.array([place.x, place.y])
        ends = shapely.get_coordinates([owners.lines[int(e)] for e in edge[which == k]]).reshape(-1, 2)
        off = ends - at
        far = np.hypot(*off.T) > SAME
        ways = np.unique(np.round(np.arctan2(off[far, 1], off[far, 0]), 7))
        if len(ways) > 1 and ways[-1] - ways[0] > 2 * math.pi - 1e-6:
            ways = ways[:-1]
        steps = ground.steps(at, ways)
        for level in sorted({step.after for step in steps if math.isfinite(step.after)}):
            kind = _kind(lining, owners, at, steps, level)
            if kind is not None:
                result[kind] += 1
    return result


class _Ground:
    """How high the ground stands anywhere in a room: infinite on walls and columns."""

    def __init__(self, lining: Lining) -> None:
        outline = lining.outline
        self.room = shapely.Polygon(outline.outer.points)
        self.columns = shapely.union_all([shapely.Polygon(ring.points) for ring in outline.column_rings])
        self.plinths = [
            (solid.height, shapely.Polygon(ring.points)) for ring, solid in zip(outline.plinth_rings, outline.plinths, strict=True)
        ]
        for shape in (self.room, self.columns, *(shape for _, shape in self.plinths)):
            shapely.prepare(shape)

    def steps(self, at: Floats, ways: Floats) -> list[_Step]:
        """The edges round a point with the ground between them."""
        middle = (ways + np.append(ways[1:], ways[0] + 2 * math.pi)) / 2
        x, y = at[0] + HAIR * np.cos(middle), at[1] + HAIR * np.sin(middle)
        high = np.zeros(len(ways))
        for height, shape in self.plinths:
            high = np.where(shapely.contains_xy(shape, x, y), height, high)
        solid = shapely.contains_xy(self.columns, x, y) | ~shapely.contains_xy(self.room, x, y)
        high = np.where(solid, math.inf, high)
        return [_Step(float(way), float(high[k - 1]), float(high[k])) for k, way in enumerate(ways)]


def _kind(lining: Lining, owners: Owners, at: Floats, steps: list[_Step], level: float) -> str | None:
    """What piece, if any, a point wants at a level."""
    above = _openings(owners, at, steps, level)
    under = max((step.after for step in steps if step.after < level), default=None)
    below = [] if under is None else _openings(owners, at, steps, under)
    changed = sorted(set(above) ^ set(below))
    if not changed:
        return None
    feet = [step for step in steps if min(step.before, step.after) == level < max(step.before, step.after)]
    edges = [step for step in steps if min(step.before, step.after) < level == max(step.before, step.after)]
    internal = len(feet) + sum(angle < 180.0 for _, _, angle in changed)
    external = len(edges) + sum(angle > 180.0 for _, _, angle in changed)
    standing = [_owner(owners, at, step.way, level) for step in feet]
    if standing and not any(owner.tanking > 0.1 and owner.tanking >= level - 0.1 for owner in standing):
        return None
    if internal == 0:
        return "made" if external == 3 and lining.plan.rules.tape_external else None
    square = min(abs(changed[0][2] - 90.0), abs(changed[0][2] - 270.0)) <= SQUARE
    preformed = {(3, 0): "internal", (2, 1): "external"}.get((internal, external))
    return preformed if preformed is not None and square else "made"


def _openings(owners: Owners, at: Floats, steps: list[_Step], level: float) -> list[tuple[float, float, float]]:
    """Stretches round a point that are open above a level and bend there, between faces of two runs: where they begin and end, their angle."""
    n = len(steps)
    result = []
    for k, step in enumerate(steps):
        if not step.before > level >= step.after:
            continue
        m = k
        while steps[(m + 1) % n].after <= level and m - k < n:
            m += 1
        last = steps[(m + 1) % n]
        angle = round(math.degrees(last.way - step.way) % 360.0, 4)
        one, two = (_owner(owners, at, way, level) for way in (step.way, last.way))
        if abs(angle - 180.0) >= LEAST_TURN and one.run != two.run:
            result.append((step.way, last.way, angle))
    return result


def _owner(owners: Owners, at: Floats, way: float, level: float) -> Owner:
    """The owner of the face that rises above a level along an edge from a point."""
    tree, of = owners.above(level)
    return of[int(tree.nearest(shapely.Point(at + HAIR * np.array([math.cos(way), math.sin(way)]))))]


def _breaks(lining: Lining) -> tuple[list[float], list[float]]:
    """Diameters of pipes and fixings that pierce tanking, and lengths round drains' frames with a flange, mm."""
    room, outline = lining.room, lining.outline
    collars = []
    for each in (*room.pipes, *room.fixings):
        size = each.diameter or math.hypot(*each.size)
        if each.at is not None:
            collars.append(float(size))
            continue
        index = None if each.wall is None else outline.wall_index(each.wall)
        if index is None:  # the plan was checked: it names a wall
            continue
        wall = outline.walls[index]
        if wall.tanking_height > 0.0 and each.level <= wall.tanking_height + 0.1:
            collars.append(float(size))
    return collars, [2.0 * (drain.frame[0] + drain.frame[1]) for drain in room.drains if drain.flange > 0.0]
