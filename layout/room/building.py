"""Builds a room's outline from its typed corners: walls, openings and solids in place, all faults told.

Decides: the bare substrate where a finished face was measured, where the ring runs through a door's reveal, what is
welded to what. Leaves to `layout.room.soundness` whether drains, pipes and joints lie in the room.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Literal

import numpy as np
import shapely
from shapely import LineString, Polygon

from layout.errors import PlanError, PlanFaults
from layout.plan.values import Solid, Vertex
from layout.room.outlines import OpeningAt, Outline, SolidAt, WallFace, build_up_of, known_walls, wall_edge, wall_span
from layout.room.rings import Ring, Run, Tag, add_stretch, anticlockwise, offset_corners, runs_of, tagged, weld_point
from layout.room.soundness import inside_faults
from layout.units import EPS, TOUCH
from layout.vectors import pair, rightward, unit
from layout.words import worded

if TYPE_CHECKING:
    from layout.plan.values import Plan, Room, WallNote
    from layout.vectors import Floats, Ints


class _Builder:
    """Builds one room's outline and collects its faults."""

    def __init__(self, plan: Plan, index: int) -> None:
        self.plan, self.room = plan, plan.rooms[index]
        self.place = plan.place_of(index)
        self.faults: list[PlanError] = []
        self.merged: list[str] = []

    def fault(self, place: str, found: str, mend: str) -> None:
        self.faults.append(PlanError(f"{self.place}.{place}", found, mend))

    def build(self) -> Outline | None:
        runs = self._wall_runs()
        if runs is None:
            return None
        walls = self._walls(runs)
        if self.faults:
            return None
        typed, walls = self._to_substrate(walls)
        openings = self._openings(typed, walls)
        outer = self._outer_ring(walls, openings).closed()
        if not outer.polygon().is_valid:
            self.fault("openings", f"a door's reveal runs into the room: {_why(outer.polygon())}", "give the door less depth")
        columns, column_rings = self._solids("columns", walls, [outer])
        plinths, plinth_rings = self._solids("plinths", walls, [outer, *column_rings])
        kerbs, kerb_rings = self._kerbs(walls, openings, [outer, *column_rings, *plinth_rings], len(plinths))
        if self.faults:
            return None
        outline = Outline(
            room=self.room,
            walls=walls,
            openings=openings,
            plinths=(*plinths, *kerbs),
            columns=columns,
            outer=outer,
            plinth_rings=(*plinth_rings, *kerb_rings),
            column_rings=column_rings,
            merged_openings=tuple(self.merged),
        )
        self.faults += inside_faults(outline, self.place)
        return outline

    def _wall_runs(self) -> tuple[Run, ...] | None:
        points, edges, arcs, _ = anticlockwise(self.room.outline)
        if len(points) < 3:
            self.fault("outline", "fewer than three different corners", "give the corners of a room in order")
            return None
        polygon = Polygon(points)
        if not polygon.is_valid or polygon.area < 100.0:
            why = _why(polygon) if not polygon.is_valid else f"its area is {polygon.area:g} mm²"
            self.fault(
                "outline",
                f"it is not the outline of a room: {why}",
                "give the corners in order round the room, once each, without crossing or touching itself",
            )
            return None
        return runs_of(points, edges, arcs)

    def _walls(self, runs: tuple[Run, ...]) -> tuple[WallFace, ...]:
        room, plan = self.room, self.plan
        bare = tuple(WallFace(run, f"wall {run.number}", None, 0.0, 0.0, 0.0) for run in runs)
        notes: dict[int, list[WallNote]] = {}
        for k, note in enumerate(room.walls):
            found = wall_edge(room, bare, note.wall, noted=False)
            if found is None:
                self.fault(f"walls[{k}].wall", f"there is no wall {note.wall!r}", known_walls(room))
                continue
            notes.setdefault(found[0], []).append(note)
        result = []
        for k, run in enumerate(runs):
            given: dict[str, object] = {}
            for note in notes.get(k, ()):
                given |= {
                    key: getattr(note, key) for key in ("name", "tanking_height", "tile_height", "tile") if getattr(note, key) is not None
                }
            tile_height = float(given.get("tile_height", room.tile_height))  # type: ignore[arg-type]
            tanking = float(given.get("tanking_height", room.tanking_height))  # type: ignore[arg-type]
            tile = plan.tile(str(given.get("tile", room.wall_tile))) if tile_height > 0.0 else None
            result.append(
                WallFace(
                    run,
                    str(given.get("name") or _edge_name(room, run) or f"wall {run.number}"),
                    tile,
                    tile_height,
                    tanking,
                    build_up_of(tile, tanking > 0.0, plan.rules),
                )
            )
        return tuple(result)

    def _to_substrate(self, walls: tuple[WallFace, ...]) -> tuple[tuple[WallFace, ...], tuple[WallFace, ...]]:
        """Walls as typed and on the bare substrate; the same where the substrate was typed."""
        if self.room.outline_is == "substrate":
            return walls, walls
        points = np.vstack([wall.run.points[:-1] for wall in walls])
        distance = np.concatenate([np.full(len(wall.run.points) - 1, wall.build_up) for wall in walls])
        moved = offset_corners(points, distance)
        if not Polygon(moved).is_valid:
            self.fault("outline_is", "the build-up does not fit between the finished faces", "measure the substrate, or give thinner tiles")
            return walls, walls
        result, k = [], 0
        for wall in walls:
            index = (k + np.arange(len(wall.run.points))) % len(moved)
            result.append(replace(wall, run=replace(wall.run, points=moved[index])))
            k += len(wall.run.points) - 1
        return walls, tuple(result)

    def _openings(self, typed: tuple[WallFace, ...], walls: tuple[WallFace, ...]) -> tuple[OpeningAt, ...]:
        placed: list[OpeningAt] = []
        for k, opening in enumerate(self.room.openings):
            place = f"openings[{k}]"
            span = wall_span(self.room, typed, opening.wall, opening.offset, opening.width, opening.measured_from)
            if span is None:
                self.fault(f"{place}.wall", f"there is no wall {opening.wall!r}", known_walls(self.room))
                continue
            index, s0, s1 = span
            length = typed[index].run.length
            if opening.width > length + TOUCH:
                self.fault(
                    f"{place}.width", f"{opening.width:g} is wider than {typed[index].label} ({length:.0f})", "mend the width or the wall"
                )
                continue
            if s0 < -TOUCH or s1 > length + TOUCH:
                over = max(-s0, s1 - length)
                self.fault(
                    f"{place}.offset",
                    f"the opening runs {over:.0f} mm past the end of {typed[index].label} ({length:.0f} long)",
                    f"offset may be 0 to {length - opening.width:.0f}",
                )
                continue
            run = walls[index].run
            if opening.depth > 0.0 and not run.straight:
                self.fault(f"{place}.depth", f"{typed[index].label} is curved", "give depth = 0")
                continue
            if walls is not typed:
                s0, s1 = (run.along(typed[index].run.at(s)) for s in (s0, s1))
            placed.append(OpeningAt(index, max(0.0, s0), min(run.length, s1), opening, k))
        return self._merged(placed)

    def _merged(self, placed: list[OpeningAt]) -> tuple[OpeningAt, ...]:
        result: list[OpeningAt] = []
        for each in sorted(placed, key=lambda o: (o.wall, o.s0)):
            last = result[-1] if result else None
            if last and last.wall == each.wall and last.door and each.door and each.s0 < last.s1 - EPS:
                names = {"one": last.opening.name, "other": each.opening.name, "room": self.room.name}
                self.merged.append(worded("{one} and {other} overlap on {room}; they are taken as one", **names))
                wide = replace(
                    last.opening, head=max(last.opening.head, each.opening.head), depth=max(last.opening.depth, each.opening.depth)
                )
                result[-1] = replace(last, s1=max(last.s1, each.s1), opening=wide)
            else:
                result.append(each)
        return tuple(result)

    def _outer_ring(self, walls: tuple[WallFace, ...], openings: tuple[OpeningAt, ...]) -> Ring:
        ring = Ring()
        for index, wall in enumerate(walls):
            run = wall.run
            s = 0.0
            doors = [o for o in openings if o.wall == index and o.door]
            for door in doors:
                add_stretch(ring, run, index, s, door.s0, "wall", index)
                number = openings.index(door)
                if door.reach > 0.0:
                    a, b, near, far = _doorway(run, door)
                    depth, inner = door.opening.depth, door.kerb and door.opening.depth > 0.0
                    ring.add(a, Tag("reveal", number, 0, 0.0, depth if inner else door.reach))
                    if inner:
                        ring.add(a + near, Tag("reveal", number, 0, depth, door.reach))
                    ring.add(a + far, Tag("threshold", number, index, door.s0, door.s1))
                    ring.add(b + far, Tag("reveal", number, 1, 0.0, door.reach - depth if inner else door.reach))
                    if inner:
                        ring.add(b + near, Tag("reveal", number, 1, door.reach - depth, door.reach))
                else:
                    add_stretch(ring, run, number, door.s0, door.s1, "threshold", index)
                s = door.s1
            add_stretch(ring, run, index, s, run.length, "wall", index)
        return ring

    def _solids(
        self, kind: Literal["plinths", "columns"], walls: tuple[WallFace, ...], before: list[Ring]
    ) -> tuple[tuple[SolidAt, ...], tuple[Ring, ...]]:
        solids: list[SolidAt] = []
        rings: list[Ring] = []
        for k, solid in enumerate(getattr(self.room, kind)):
            place = f"{kind}[{k}].outline"
            points, edges, arcs, _ = anticlockwise(solid.outline)
            polygon = Polygon(points) if len(points) >= 3 else Polygon()
            if polygon.is_empty or not polygon.is_valid or polygon.area < 1.0:
                self.fault(place, f"it is not an outline: {_why(polygon)}", "give the corners in order, once each, without crossing")
                continue
            at = self._solid(kind, solid)
            if self.room.outline_is == "finished":
                points = offset_corners(points, self._solid_distances(points, at.build_up, walls))
            ring = self._weld(points, edges, kind, k, [*before, *rings])
            fault = self._crossing(ring.polygon(), before[0].polygon(), solid.name, rings, before[1:])
            if fault:
                self.fault(place, fault, "a plinth or column may touch walls and others but not cross them")
                continue
            runs = runs_of(points, edges, arcs)
            solids.append(replace(at, runs=runs))
            rings.append(tagged(ring, runs, "plinth" if kind == "plinths" else "column", len(solids) - 1))
        return tuple(solids), tuple(rings)

    def _kerbs(
        self, walls: tuple[WallFace, ...], openings: tuple[OpeningAt, ...], before: list[Ring], count: int
    ) -> tuple[tuple[SolidAt, ...], tuple[Ring, ...]]:
        """Upstands and steps across doors, as plinths from the end of the floor to the line where the membrane ends."""
        solids: list[SolidAt] = []
        rings: list[Ring] = []
        for number, door in enumerate(openings):
            if not door.kerb:
                continue
            run, name = walls[door.wall].run, f"{door.opening.name} {door.opening.threshold}"
            if not run.straight:
                found = f"{walls[door.wall].label} is curved: an {door.opening.threshold} across it is not supported"
                self.fault(f"openings[{door.index}].threshold", found, 'give "strip", or a plinth on the floor')
                continue
            a, b, near, far = _doorway(run, door)
            points = np.array([b + near, a + near, a + far, b + far])
            vertices = tuple(Vertex(to=pair(point)) for point in points)
            at = self._solid("plinths", Solid(name=name, outline=vertices, height=door.opening.threshold_height))
            ring = self._weld(points, np.arange(1, 5), "plinths", count + len(solids), [*before, *rings])
            runs = runs_of(points, np.arange(1, 5), np.zeros(4, dtype=np.bool_))
            solids.append(replace(at, runs=runs, door=number))
            rings.append(tagged(ring, runs, "plinth", count + len(solids) - 1))
        return tuple(solids), tuple(rings)

    def _solid(self, kind: str, solid: Solid) -> SolidAt:
        plan, room = self.plan, self.room
        if kind == "plinths":
            tile = plan.tile(solid.tile or "plinth")
            return SolidAt(solid, (), tile, math.inf, math.inf, build_up_of(tile, True, plan.rules), solid.height or 0.0)
        tile_height = room.tile_height if solid.tile_height is None else solid.tile_height
        tanking = room.tanking_height if solid.tanking_height is None else solid.tanking_height
        column_tile = plan.tile(solid.tile or room.wall_tile) if tile_height > 0.0 else None
        return SolidAt(solid, (), column_tile, tile_height, tanking, build_up_of(column_tile, tanking > 0.0, plan.rules), math.inf)

    def _solid_distances(self, points: Floats, build_up: float, walls: tuple[WallFace, ...]) -> Floats:
        """Finished to bare: free sides go in by the build-up, sides on a wall out to its substrate."""
        following = np.roll(points, -1, axis=0)
        distance = np.full(len(points), -build_up)
        for wall in walls:
            line = LineString(wall.run.points)
            for k, (a, b) in enumerate(zip(points, following, strict=True)):
                near = max(line.distance(shapely.Point(a)), line.distance(shapely.Point(b)))
                if abs(near - wall.build_up) <= TOUCH:
                    distance[k] = wall.build_up
        return distance

    def _weld(self, points: Floats, edges: Ints, kind: str, index: int, before: list[Ring]) -> Ring:
        """A ring whose contacts with earlier rings share their points exactly."""
        owner: Literal["plinth", "column"] = "plinth" if kind == "plinths" else "column"
        ring = Ring()
        own = shapely.box(*shapely.total_bounds(Polygon(points))).buffer(1.0)
        near = [other for other in before if own.intersects(shapely.LinearRing(other.points))]
        for point, edge in zip(points, edges, strict=True):
            at = pair(point)
            for other in near:
                at = weld_point(at, other)
            ring.add(at, Tag(owner, index, int(edge), 0.0, 0.0))
        for other in near:
            for point in other.points:
                weld_point(point, ring, exact=True)
        return ring

    def _crossing(self, polygon: Polygon, outer: Polygon, name: str, same: list[Ring], columns: list[Ring]) -> str | None:
        if not polygon.is_valid:
            return f"{name} cannot be joined to what it touches: {_why(polygon)}"
        outside = shapely.difference(polygon, outer)
        if not outside.buffer(-TOUCH / 2).is_empty:
            x, y = outside.representative_point().coords[0]
            return f'{name} crosses the wall at [{x:.0f}, {y:.0f}] or lies outside "{self.room.name}"'
        for other in [*same, *columns]:
            shared = shapely.intersection(polygon, other.polygon())
            if not shared.buffer(-TOUCH / 2).is_empty:
                x, y = shared.representative_point().coords[0]
                return f"{name} overlaps another plinth or column at [{x:.0f}, {y:.0f}]"
        return None


def _doorway(run: Run, door: OpeningAt) -> tuple[Floats, Floats, Floats, Floats]:
    """The jambs of a door on its wall, and the way out from there to the end of its floor and to the end of the membrane."""
    a, b = run.at(door.s0), run.at(door.s1)
    out = unit(rightward(b - a))
    return a, b, out * door.opening.depth, out * door.reach


def _edge_name(room: Room, run: Run) -> str | None:
    """The name that a wall has on its first named edge."""
    names = [room.outline[edge % len(room.outline)].wall for edge in run.edges]
    return next((name for name in names if name), None)


def _why(polygon: Polygon) -> str:
    if polygon.is_empty:
        return "fewer than three different corners"
    words = shapely.is_valid_reason(polygon)
    for known, plain in (("Self-intersection", "it crosses or touches itself at "), ("Ring Self-intersection", "it touches itself at ")):
        if words.startswith(known):
            return plain + words.removeprefix(known)
    return "it has no area" if words == "Valid Geometry" else words.lower()


def build_outline(plan: Plan, index: int) -> Outline:
    """Rings of one room.

    Raises
    ------
    PlanFaults
        With every fault of the room's geometry.
    """
    builder = _Builder(plan, index)
    outline = builder.build()
    if outline is None or builder.faults:
        raise PlanFaults(tuple(builder.faults))
    return outline
