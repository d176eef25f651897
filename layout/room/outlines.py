"""From typed corners to sound rings: walls by number, openings and solids in place, faults told.

Decides: which typed edges are one wall, where along a wall an opening or pipe stands, the bare
substrate where a finished face was measured, and whether all of it can be built. Leaves to
`layout.shell` how faces meet, to `layout.lining` what surfaces they make.

Rings run anticlockwise whichever way the room was typed; results never renumber walls.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np
import shapely
from shapely import LineString, Polygon

from layout.errors import PlanError, PlanFaults
from layout.room.rings import Ring, Run, Tag, add_stretch, anticlockwise, offset_corners, runs_of, tagged, weld_point
from layout.shapes import circle, rectangle
from layout.units import EPS, TOUCH

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from layout.plan.values import Break, Drain, Opening, Plan, Room, Rules, Solid, Tile, WallNote, WallRef

    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class WallFace:
    """A wall with what is put on it; heights and build-up in mm."""

    run: Run
    name: str
    tile: Tile | None
    tile_height: float
    tanking_height: float
    build_up: float

    @property
    def label(self) -> str:
        """Name shown to people."""
        return f"wall {self.run.number}"


@dataclass(frozen=True, slots=True, eq=False)
class OpeningAt:
    """An opening in place: wall index, from `s0` to `s1` along it (anticlockwise), mm."""

    wall: int
    s0: float
    s1: float
    opening: Opening
    index: int

    @property
    def door(self) -> bool:
        """Whether the floor runs up to or through it."""
        return self.opening.sill <= 0.0


@dataclass(frozen=True, slots=True, eq=False)
class SolidAt:
    """A plinth or column in place, its runs with the solid on the left."""

    solid: Solid
    runs: tuple[Run, ...]
    tile: Tile | None
    tile_height: float
    tanking_height: float
    build_up: float
    height: float


@dataclass(frozen=True, slots=True, eq=False)
class Outline:
    """A room's rings, sound and welded: the input of the shell."""

    room: Room
    walls: tuple[WallFace, ...]
    openings: tuple[OpeningAt, ...]
    plinths: tuple[SolidAt, ...]
    columns: tuple[SolidAt, ...]
    outer: Ring
    plinth_rings: tuple[Ring, ...]
    column_rings: tuple[Ring, ...]
    merged_openings: tuple[str, ...]

    def wall_index(self, ref: WallRef) -> int | None:
        """Index of the wall of a typed number or a name."""
        found = _wall_edge(self.room, self.walls, ref)
        return None if found is None else found[0]

    def bearing(self, index: int) -> tuple[float, ...]:
        """What a person standing at a wall sees, as figures: they tell like walls apart.

        Lengths and turns of the walls round the room from this one on, then where doors, drains and
        solids lie in the wall's own frame. Turning, shifting or renumbering the room changes nothing.
        """
        count = len(self.walls)
        result: list[float] = []
        for step in range(count):
            run, after = self.walls[(index + step) % count].run, self.walls[(index + step + 1) % count].run
            one, two = run.points[-1] - run.points[-2], after.points[1] - after.points[0]
            turn = math.degrees(math.atan2(one[0] * two[1] - one[1] * two[0], float(one @ two)))
            result += [round(run.length, 1), round(turn, 1) + 0.0]
        for step in range(count):
            wall = (index + step) % count
            result += [v for o in self.openings if o.wall == wall for v in (round(o.s0, 1), round(o.s1, 1))]
        a, b = self.walls[index].run.points[0], self.walls[index].run.points[1]
        way = (b - a) / np.hypot(*(b - a))
        places = [ring.polygon().centroid.coords[0] for ring in (*self.column_rings, *self.plinth_rings)]
        places += [drain.at for drain in self.room.drains]
        local = [
            (round(float((p - a) @ way), 1) + 0.0, round(float(way[0] * (p - a)[1] - way[1] * (p - a)[0]), 1) + 0.0)
            for p in np.array(places).reshape(-1, 2)
        ]
        return (*result, *[v for pair in sorted(local) for v in pair])

    @property
    def domain(self) -> BaseGeometry:
        """Everything that is not wall or column: floor, plinths and door reveals."""
        solid = shapely.union_all([ring.polygon() for ring in self.column_rings])
        return shapely.difference(self.outer.polygon(), solid)


def _wall_edge(room: Room, walls: Sequence[WallFace], ref: WallRef) -> tuple[int, int] | None:
    """Index of a wall and the typed edge that a reference means."""
    if isinstance(ref, str):
        notes = [note.wall for note in room.walls if note.name == ref and isinstance(note.wall, int)]
        if not notes:
            if not ref.removeprefix("wall ").isdigit():
                return None
            notes = [int(ref.removeprefix("wall "))]
        ref = notes[0]
    for k, wall in enumerate(walls):
        if ref in wall.run.edges:
            return k, ref
    if 1 <= ref <= len(room.outline):  # an edge of no length belongs to the one before it
        return _wall_edge(room, walls, ref - 1 if ref > 1 else len(room.outline))
    return None


def build_up_of(tile: Tile | None, tanked: bool, rules: Rules) -> float:
    """Membrane, bed and tile on a face, mm."""
    return (rules.membrane if tanked else 0.0) + (tile.bed + tile.thickness if tile else 0.0)


class _Builder:
    """Builds one room's outline and collects its faults."""

    def __init__(self, plan: Plan, index: int) -> None:
        self.plan, self.room = plan, plan.rooms[index]
        self.place = f"{plan.source}: rooms[{index}]"
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
        if self.faults:
            return None
        outline = Outline(
            room=self.room,
            walls=walls,
            openings=openings,
            plinths=plinths,
            columns=columns,
            outer=outer,
            plinth_rings=plinth_rings,
            column_rings=column_rings,
            merged_openings=tuple(self.merged),
        )
        self._check_inside(outline)
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
        names: set[str] = set()
        for k, note in enumerate(room.walls):
            found = _wall_edge(room, bare, note.wall) if isinstance(note.wall, int) else None
            if found is None:
                self.fault(f"walls[{k}].wall", f"there is no wall {note.wall!r}", f"walls are numbered 1 to {len(room.outline)}")
                continue
            if note.name in names:
                self.fault(f"walls[{k}].name", f'"{note.name}" is used twice', "give each wall a name of its own")
            names.add(note.name or "")
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
                    str(given.get("name", f"wall {run.number}")),
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

    def span(self, walls: tuple[WallFace, ...], ref: WallRef, offset: float, width: float, side: str) -> tuple[int, float, float] | None:
        """Wall index and arc lengths of a stretch on the walls as typed; None if there is no such wall."""
        found = _wall_edge(self.room, walls, ref)
        if found is None:
            return None
        index, edge = found
        run = walls[index].run
        if side == "right":
            return index, offset, offset + width
        if side == "left":
            return index, run.length - offset - width, run.length - offset
        s = _first_corner(self.room, run, edge)
        return (index, s - offset - width, s - offset) if _typed_backwards(self.room) else (index, s + offset, s + offset + width)

    def _openings(self, typed: tuple[WallFace, ...], walls: tuple[WallFace, ...]) -> tuple[OpeningAt, ...]:
        placed: list[OpeningAt] = []
        for k, opening in enumerate(self.room.openings):
            place = f"openings[{k}]"
            span = self.span(typed, opening.wall, opening.offset, opening.width, opening.measured_from)
            if span is None:
                self.fault(f"{place}.wall", f"there is no wall {opening.wall!r}", f"walls are numbered 1 to {len(self.room.outline)}")
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
                self.merged.append(f"{last.opening.name} and {each.opening.name} overlap on {self.room.name}; they are taken as one")
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
                a, b = run.at(door.s0), run.at(door.s1)
                out = np.array([(b - a)[1], -(b - a)[0]]) / max(float(np.hypot(*(b - a))), EPS) * door.opening.depth
                number = openings.index(door)
                if door.opening.depth > 0.0:
                    ring.add(a, Tag("reveal", number, 0, 0.0, door.opening.depth))
                    ring.add(a + out, Tag("threshold", number, index, door.s0, door.s1))
                    ring.add(b + out, Tag("reveal", number, 1, 0.0, door.opening.depth))
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

    def _weld(self, points: Floats, edges: NDArray[np.int64], kind: str, index: int, before: list[Ring]) -> Ring:
        """A ring whose contacts with earlier rings share their points exactly."""
        owner: Literal["plinth", "column"] = "plinth" if kind == "plinths" else "column"
        ring = Ring()
        own = shapely.box(*shapely.total_bounds(Polygon(points))).buffer(1.0)
        near = [other for other in before if own.intersects(shapely.LinearRing(other.points))]
        for point, edge in zip(points, edges, strict=True):
            at = (float(point[0]), float(point[1]))
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

    def _check_inside(self, outline: Outline) -> None:
        domain = outline.domain
        bounds = shapely.bounds(domain)
        reach = f"x may be {bounds[0]:.0f} to {bounds[2]:.0f}, y {bounds[1]:.0f} to {bounds[3]:.0f}"
        frames: list[tuple[str, Polygon]] = []
        cells = [ring.polygon() for ring in outline.plinth_rings]
        for k, drain in enumerate(self.room.drains):
            frame = frame_of(drain)
            where = f"drains[{k}].{'at' if drain.kind == 'gully' else 'from'}"
            self._check_shape(frame, domain, where, f"[{drain.at[0]:g}, {drain.at[1]:g}]", reach)
            for name, other in frames:
                if shapely.intersection(frame, other).area > 1.0:
                    self.fault(where, f"{drain.name} overlaps {name}", "move one of them")
            frames.append((drain.name, frame))
            self._check_cells(frame, cells, where, drain.name)
        for k, drain in enumerate(self.room.drains):
            for before in self.room.drains[:k]:
                if shapely.intersection(frame_of(drain), frame_of(before)).area > 1.0:
                    where = f"drains[{k}].{'at' if drain.kind == 'gully' else 'from'}"
                    self.fault(where, f"{drain.name} overlaps {before.name}", "move one of them, or leave it out")
        for kind in ("pipes", "fixings"):
            for k, each in enumerate(getattr(self.room, kind)):
                where = f"{kind}[{k}]"
                if each.at is None:
                    self._check_on_wall(outline, each, where)
                    continue
                shape = break_shape(each)
                self._check_shape(shape, domain, f"{where}.at", f"[{each.at[0]:g}, {each.at[1]:g}]", reach)
                self._check_cells(shape, cells, f"{where}.at", each.name)
        for k, joint in enumerate(self.room.structural_joints):
            if math.dist(*joint.line) < 1.0:
                self.fault(f"structural_joints[{k}].line", "its two points are one", "give two points of the joint")
            elif shapely.intersection(LineString(joint.line), domain).length < TOUCH:
                self.fault(f"structural_joints[{k}].line", f'it misses "{self.room.name}"', reach)
            else:
                self._check_doubled(k, domain)

    def _check_doubled(self, k: int, domain: BaseGeometry) -> None:
        """A structural joint may cross another, not run along it."""
        joints = self.room.structural_joints
        own = shapely.intersection(LineString(joints[k].line), domain)
        for other in joints[:k]:
            beside = LineString(other.line).buffer((joints[k].width + other.width) / 2, cap_style="flat")
            if shapely.intersection(own, beside).length > 0.5 * own.length:
                mend = "leave one of them out"
                self.fault(f"structural_joints[{k}].line", f"it doubles {other.name}", mend)

    def _check_cells(self, shape: Polygon, cells: list[Polygon], where: str, name: str) -> None:
        for cell in cells:
            part = shapely.intersection(shape, cell)
            if TOUCH < part.area < shape.area - TOUCH:
                self.fault(where, f"{name} crosses the edge of a plinth", "move it clear, or shape the plinth round it")

    def _check_shape(self, shape: Polygon, domain: BaseGeometry, where: str, at: str, reach: str) -> None:
        outside = shapely.difference(shape, domain)
        if outside.is_empty or outside.buffer(-TOUCH / 2).is_empty:
            return
        distance = max(shapely.Point(xy).distance(domain) for xy in shapely.get_coordinates(shape))
        how = f"{distance:.0f} mm outside" if distance >= 0.5 else "partly outside"
        self.fault(where, f'{at} is {how} "{self.room.name}" or inside a column', reach)

    def _check_on_wall(self, outline: Outline, each: Break, where: str) -> None:
        assert each.wall is not None  # the reader gave it one place
        wide = each.diameter or each.size[0]
        tall = each.diameter or each.size[1]
        span = self.span(outline.walls, each.wall, each.offset, 0.0, each.measured_from)
        if span is None:
            self.fault(f"{where}.wall", f"there is no wall {each.wall!r}", f"walls are numbered 1 to {len(self.room.outline)}")
            return
        index, s, _ = span
        length = outline.walls[index].run.length
        if s - wide / 2 < -TOUCH or s + wide / 2 > length + TOUCH:
            self.fault(
                f"{where}.offset",
                f"{each.name} runs past the end of {outline.walls[index].label} ({length:.0f} long)",
                f"offset may be {wide / 2:g} to {length - wide / 2:.0f}",
            )
        if each.level - tall / 2 < -TOUCH:
            self.fault(f"{where}.level", f"{each.name} runs into the floor", f"give at least {tall / 2:g}")


def _why(polygon: Polygon) -> str:
    if polygon.is_empty:
        return "fewer than three different corners"
    words = shapely.is_valid_reason(polygon)
    for known, plain in (("Self-intersection", "it crosses or touches itself at "), ("Ring Self-intersection", "it touches itself at ")):
        if words.startswith(known):
            return plain + words.removeprefix(known)
    return "it has no area" if words == "Valid Geometry" else words.lower()


def _typed_backwards(room: Room) -> bool:
    return anticlockwise(room.outline)[3]


def _first_corner(room: Room, run: Run, edge: int) -> float:
    """Arc length of the first typed corner of an edge, along the wall it is part of, mm."""
    corner = room.outline[edge - 1]
    return run.along(np.array([corner.x, corner.y]))


def typed_span(outline: Outline, index: int, ref: WallRef, offset: float) -> float:
    """Arc length along a wall of a distance from the first typed corner of the edge referred to, mm."""
    found = _wall_edge(outline.room, outline.walls, ref)
    assert found is not None  # the plan was checked
    s = _first_corner(outline.room, outline.walls[index].run, found[1])
    return s - offset if _typed_backwards(outline.room) else s + offset


def frame_of(drain: Drain) -> Polygon:
    """The visible frame of a drain."""
    return rectangle(drain.at, drain.frame, drain.turn)


def break_shape(each: Break) -> Polygon:
    """The bare shape of a pipe or fixing on the floor."""
    assert each.at is not None
    return circle(each.at, each.diameter) if each.diameter else rectangle(each.at, each.size, each.turn)


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
