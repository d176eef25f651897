"""Tape and sealant of a room counted again from its outline and heights, by slices of level.

The set-out walks faces and corners of a shell. Here the room is cut level by level: what is open just above a level
is a polygon; its convex corners carry upright tape and sealant as far as the slice is high, its edges that bound a
floor at that level carry tape at their foot. Nothing of the shell, of the tape or of the joints is called: only the
outline's rings and the heights given for walls, plinths and columns are read.

Guarantees: for level floors every internal metre of tape and every metre of sealant at feet and upright corners is counted.
Not: what a fall adds to the length of a foot, and rings too narrow for their joints (`Counted.unjudged` names them).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import shapely

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from layout.errors import Point
    from layout.lining.build import Lining
    from layout.room.rings import Tag

    Floats = NDArray[np.float64]

COVE_ROOM = 60.0
"""The floor's build-up, a joint and the tile of a top may take this much of a face above its cove, mm."""
LEAST_TURN = 5.0
"""Corners that turn less are not corners, degrees (as the rule of upright tape says)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Owner:
    """What stands behind an edge: noun, run, and its heights and build-up, mm."""

    noun: str
    run: tuple[str, int, int]
    tanking: float
    tile_top: float
    tiled: bool
    build_up: float


@dataclass(slots=True)
class Counted:
    """Metres counted again, mm: tape by kind, sealant at feet and at upright corners; what could not be judged."""

    level_tape: dict[str, float] = field(default_factory=dict)
    upright_tape: float = 0.0
    foot_joints: float = 0.0
    plinth_joints: float = 0.0
    corner_joints: float = 0.0
    cove_tops: float = 0.0
    cove_edges: int = 0
    unjudged: list[str] = field(default_factory=list)


class Owners:
    """The owner of an edge of a slice: the tagged edge of the outline nearest to its middle."""

    def __init__(self, lining: Lining) -> None:
        self.outline, self.rules = lining.outline, lining.plan.rules
        self.lines: list[shapely.LineString] = []
        self.of: list[Owner] = []
        self.high: list[float] = []
        for ring in (self.outline.outer, *self.outline.column_rings):
            self._take(ring.points, ring.tags, math.inf)
        for ring, solid in zip(self.outline.plinth_rings, self.outline.plinths, strict=True):
            self._take(ring.points, ring.tags, solid.height)

    def _take(self, points: Sequence[Point], tags: Sequence[Tag], high: float) -> None:
        for k, tag in enumerate(tags):
            self.lines.append(shapely.LineString([points[k], points[(k + 1) % len(points)]]))
            self.of.append(self._owner(tag.owner, tag.number, tag.run))
            self.high.append(high)

    def _owner(self, noun: str, number: int, run: int) -> Owner:
        if noun in ("plinth", "column"):
            solid = (self.outline.plinths if noun == "plinth" else self.outline.columns)[number]
            tanking = solid.height if noun == "plinth" else solid.tanking_height
            top = solid.height if noun == "plinth" else solid.tile_height
            return Owner(
                noun=noun, run=(noun, number, run), tanking=tanking, tile_top=top, tiled=solid.tile is not None, build_up=solid.build_up
            )
        wall = self.outline.walls[number if noun == "wall" else self.outline.openings[number].wall]
        return Owner(
            noun=noun,
            run=(noun, number, run),
            tanking=wall.tanking_height,
            tile_top=wall.tile_height,
            tiled=wall.tile is not None,
            build_up=wall.build_up,
        )

    def above(self, level: float) -> tuple[shapely.STRtree, list[Owner]]:
        """A tree of the edges that stand above a level, and their owners."""
        rows = [k for k, high in enumerate(self.high) if high > level]
        return shapely.STRtree([self.lines[k] for k in rows]), [self.of[k] for k in rows]


def _rings(shape: BaseGeometry) -> list[Floats]:
    """Rings with the inside on the left, open, without points at the same place.

    Where a shape meets itself at a point, the edge that arrives goes on as the one that bounds the same opening there:
    two corners that touch are two corners.
    """
    ends: dict[tuple[float, float], list[tuple[float, float]]] = {}
    starts: dict[tuple[float, float], list[tuple[float, float]]] = {}
    for part in shapely.get_parts(shape):
        if part.geom_type != "Polygon" or part.area < 1.0:
            continue
        for n, ring in enumerate((part.exterior, *part.interiors)):
            points = [(x, y) for x, y in np.round(np.array(ring.coords)[:-1], 6).tolist()]
            points = points[::-1] if ring.is_ccw != (n == 0) else points
            points = [point for k, point in enumerate(points) if math.dist(point, points[k - 1]) > 1e-6]
            for k, point in enumerate(points):
                ends.setdefault(points[k - 1], []).append(point)
                starts.setdefault(point, []).append(points[k - 1])
    result = []
    while ends:
        first = at = next(iter(ends))
        on = ends[at][0]
        ring = []
        while True:
            ring.append(at)
            ends[at].remove(on)
            if not ends[at]:
                del ends[at]
            before, at = at, on
            if at == first and first not in ends:
                break
            choices = [c for c in ends.get(at, ()) if _first_met(at, c, starts[at]) == before]
            if not choices:
                break
            on = choices[0]
        result.append(np.array(ring))
    return result


def _first_met(at: tuple[float, float], on: tuple[float, float], others: list[tuple[float, float]]) -> tuple[float, float]:
    """Of the points that edges arrive from, the first met going anticlockwise from the edge to `on`."""
    out = math.atan2(on[1] - at[1], on[0] - at[0])
    return min(others, key=lambda p: (math.atan2(p[1] - at[1], p[0] - at[0]) - out) % (2.0 * math.pi))


def _turns(ring: Floats) -> Floats:
    """Interior angle at each point, degrees."""
    back, on = np.roll(ring, 1, axis=0) - ring, np.roll(ring, -1, axis=0) - ring
    angle = np.arctan2(back[:, 1], back[:, 0]) - np.arctan2(on[:, 1], on[:, 0])
    result: Floats = np.degrees(angle) % 360.0
    return result


def recount(lining: Lining) -> Counted:
    """Count a room's tape and sealant again."""
    outline, result = lining.outline, Counted()
    owners = Owners(lining)
    room = shapely.Polygon(outline.outer.points)
    columns = shapely.union_all([shapely.Polygon(ring.points) for ring in outline.column_rings])
    plinths = [(solid.height, shapely.Polygon(ring.points)) for ring, solid in zip(outline.plinth_rings, outline.plinths, strict=True)]
    levels = sorted({0.0, *(height for height, _ in plinths)})
    for k, level in enumerate(levels):
        top = levels[k + 1] if k + 1 < len(levels) else math.inf
        solid = shapely.union_all([columns, *(shape for height, shape in plinths if height > level)])
        there = room if level == 0.0 else shapely.union_all([shape for height, shape in plinths if height == level])
        below = shapely.union_all([shape for height, shape in plinths if height < level or (height == level and level > 0.0)])
        open_there = shapely.difference(room, solid)
        ground = shapely.difference(there, shapely.union_all([solid, below])) if level == 0.0 else shapely.difference(there, solid)
        tree, of = owners.above(level)
        _count_uprights(result, lining, open_there, tree, of, level, top)
        _count_feet(result, lining, open_there, ground, tree, of, level)
    return result


def _owned(ring: Floats, tree: shapely.STRtree, of: list[Owner]) -> list[Owner]:
    """Owner of the edge that leaves each point of a ring."""
    middle = shapely.points((ring + np.roll(ring, -1, axis=0)) / 2)
    return [of[int(k)] for k in np.atleast_1d(tree.nearest(middle))]


def _count_uprights(
    result: Counted, lining: Lining, shape: BaseGeometry, tree: shapely.STRtree, of: list[Owner], level: float, top: float
) -> None:
    external = lining.plan.rules.tape_external
    for ring in _rings(shape):
        own = _owned(ring, tree, of)
        for k, angle in enumerate(_turns(ring).tolist()):
            one, two = own[k - 1], own[k]
            if abs(angle - 180.0) < LEAST_TURN or one.run == two.run or "threshold" in (one.noun, two.noun):
                continue
            if angle < 180.0 or external:
                result.upright_tape += max(min(max(one.tanking, two.tanking), top) - level, 0.0)
            if angle < 180.0 and one.tiled and two.tiled:
                result.corner_joints += max(min(one.tile_top, two.tile_top, top) - level, 0.0)


def _count_feet(
    result: Counted, lining: Lining, shape: BaseGeometry, ground: BaseGeometry, tree: shapely.STRtree, of: list[Owner], level: float
) -> None:
    external = lining.plan.rules.tape_external
    rim = shapely.boundary(shape).buffer(0.01)
    beside: list[tuple[Floats, float] | None] = []
    under: list[tuple[Floats, float] | None] = []
    for ring in _rings(ground):
        own = _owned(ring, tree, of)
        ends = np.roll(ring, -1, axis=0)
        length = np.hypot(*(ends - ring).T)
        risen = np.atleast_1d(shapely.covers(rim, shapely.linestrings(np.stack([ring, ends], axis=1))))
        for owner, along, rises in zip(own, length.tolist(), risen.tolist(), strict=True):
            if not rises:
                continue
            if owner.noun == "threshold":
                result.level_tape["threshold"] = result.level_tape.get("threshold", 0.0) + along
                continue
            if owner.tanking <= 0.1 or owner.tanking < level - 0.1:
                continue
            kind = f"{owner.noun}-floor" if level == 0.0 else "plinth-wall" if owner.noun == "wall" else f"{owner.noun}-plinth"
            result.level_tape[kind] = result.level_tape.get(kind, 0.0) + along
            if external and owner.noun == "plinth":
                result.level_tape["plinth-edge"] = result.level_tape.get("plinth-edge", 0.0) + along
        beside.append(_joint_line(lining, ring, own, risen, level))
        if lining.plan.rules.foot == "floor-through":
            under.append(_joint_line(lining, ring, own, risen, level, under=True))
        if lining.plan.rules.foot == "cove":
            _count_coves(result, lining, own, length, risen, level)
    total = 0.0
    for moved in (beside, under):
        judged = [each for each in moved if each is not None]
        lines = shapely.MultiLineString([np.vstack([line, line[:1]]) for line, _ in judged])
        if len(judged) < len(moved) or not (lines.is_empty or lines.is_simple):
            where = f"sealant at the foot at level {level:.0f}"
            result.unjudged.append(f"{where}: a point too sharp, an edge too short or a gap too narrow for its joints")
            return
        total += math.fsum(length for _, length in judged)
    if level == 0.0:
        result.foot_joints += total
    else:
        result.plinth_joints += total


def _count_coves(result: Counted, lining: Lining, own: list[Owner], length: Floats, risen: NDArray[np.bool_], level: float) -> None:
    """The tops of coves: along every tiled face that has tile above one."""
    rise = level + lining.plan.rules.cove[0]
    for owner, along, rises in zip(own, length.tolist(), risen.tolist(), strict=True):
        if not rises or not owner.tiled or owner.noun == "threshold" or owner.tile_top <= rise:
            continue
        if owner.tile_top < rise + COVE_ROOM:
            result.unjudged.append(f"sealant over the cove of a face that ends within {COVE_ROOM:.0f} above it")
            result.cove_edges, result.cove_tops = 0, -math.inf
            return
        result.cove_edges += 1
        result.cove_tops += along


def _joint_line(
    lining: Lining, ring: Floats, own: list[Owner], risen: NDArray[np.bool_], level: float, *, under: bool = False
) -> tuple[Floats, float] | None:
    """The ring moved in to the middle of each joint, edge by edge, in closed form, and the length of its joints.

    Where the floor runs through, the joint at tiled faces lies between floor and wall tile, along the finished face: those joints
    are the ones `under` the tile, and the floor's edge (membrane and gap from the substrate) has none.
    """
    rules = lining.plan.rules
    has = risen.copy()
    off = np.empty(len(ring))
    deep = {n for n, opening in enumerate(lining.outline.openings) if opening.reach > 0.0}
    sides = max((solid.build_up for solid in lining.outline.plinths if solid.height == level), default=0.0)
    half = rules.perimeter_joint / 2
    for k, owner in enumerate(own):
        membrane = rules.membrane if owner.tanking > 0.0 else 0.0
        through = rules.foot == "floor-through" and owner.tiled
        if not risen[k]:  # a free edge: the top runs over the side
            off[k] = -sides
        elif owner.noun == "threshold" and owner.run[1] in deep:
            off[k], has[k] = 0.0 if under else half, not under
        elif under:
            off[k], has[k] = owner.build_up, through and owner.noun != "threshold"
        elif through and owner.noun == "threshold":
            off[k] = max(membrane + rules.edge_gap - rules.perimeter_joint, 0.0) + half
        elif through:
            off[k], has[k] = membrane + rules.edge_gap - (half if owner.noun == "wall" else 0.0), False
        elif rules.foot == "cove" and owner.tiled and owner.noun != "threshold":
            off[k] = membrane + rules.cove[1] + half
        else:
            off[k] = owner.build_up + half
    sharp = bool((_turns(ring) > 300.0).any())  # sharper points are cut square
    return None if sharp else _moved_in(ring, off, has)


def _moved_in(ring: Floats, by: Floats, has: NDArray[np.bool_]) -> tuple[Floats, float] | None:
    """Each edge moved to its left by its own distance: the new ring, and how much of it has a joint; None where an edge would turn round.

    Between two edges in one line at different distances the ring steps square across; the step has a joint if either has.
    """
    way = np.roll(ring, -1, axis=0) - ring
    unit = way / np.hypot(*way.T)[:, None]
    normal = np.column_stack([-unit[:, 1], unit[:, 0]])
    before, d0 = np.roll(normal, 1, axis=0), np.roll(by, 1)
    cross = before[:, 0] * normal[:, 1] - before[:, 1] * normal[:, 0]
    dot = (before * normal).sum(axis=1)
    bent = np.abs(cross) > 1e-3
    # where normals n0, n1 meet at distances d0, d1: p + (d0 - d1 (n0.n1)) / (1 - (n0.n1)^2) n0 + the same for n1
    sin2 = np.where(bent, cross**2, 1.0)
    a, b = (d0 - by * dot) / sin2, (by - d0 * dot) / sin2
    meet = a[:, None] * before + b[:, None] * normal
    start = ring + np.where(bent[:, None], meet, by[:, None] * normal)
    end = np.roll(ring + np.where(bent[:, None], meet, d0[:, None] * before), -1, axis=0)
    step = np.roll(start, -1, axis=0) - end
    if (((end - start) * unit).sum(axis=1) <= 0.0).any():
        return None
    moved = np.stack([start, end], axis=1).reshape(-1, 2)
    moved = moved[np.hypot(*(np.roll(moved, -1, axis=0) - moved).T) > 1e-6]
    length = float(np.hypot(*(end - start).T)[has].sum() + np.hypot(*step.T)[has | np.roll(has, -1)].sum())
    return (moved, length) if shapely.LinearRing(moved).is_simple else None
