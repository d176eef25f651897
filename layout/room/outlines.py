"""What an outline is: walls by number, openings and solids in place, sound and welded rings.

Decides: which wall a reference means, where along a wall an opening or pipe stands, what stands on a face.
Leaves to `layout.room.building` how it comes from typed corners, to `layout.room.shell` how its faces meet.

Rings run anticlockwise whichever way the room was typed; results never renumber walls.
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import Polygon

from layout.room.rings import Ring, Run, anticlockwise
from layout.shapes import circle, rectangle
from layout.vectors import pair, unit
from layout.words import worded

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shapely.geometry.base import BaseGeometry

    from layout.errors import Point
    from layout.plan.values import Break, Drain, Opening, Room, Rules, Solid, Tile, WallRef
    from layout.vectors import Floats


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
        return worded("wall {number}", number=self.run.number)

    @property
    def tanked(self) -> bool:
        """Whether there is membrane on it."""
        return self.tanking_height > 0.0


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

    @property
    def kerb(self) -> bool:
        """Whether an upstand or step stands across it: a plinth in the doorway, beyond its depth."""
        return self.door and self.opening.threshold in ("upstand", "step") and self.opening.threshold_height > 0.0

    @property
    def reach(self) -> float:
        """How far the room goes out through it from the line of the wall, mm."""
        return self.opening.depth + (self.opening.threshold_width if self.kerb else 0.0)


@dataclass(frozen=True, slots=True, eq=False)
class SolidAt:
    """A plinth or column in place, its runs with the solid on the left; `door` is the opening in which a kerb stands, by index."""

    solid: Solid
    runs: tuple[Run, ...]
    tile: Tile | None
    tile_height: float
    tanking_height: float
    build_up: float
    height: float
    door: int | None = None

    @property
    def tanked(self) -> bool:
        """Whether there is membrane on its sides."""
        return self.tanking_height > 0.0


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
        found = wall_edge(self.room, self.walls, ref)
        return None if found is None else found[0]

    def bearing(self, index: int) -> tuple[float, ...]:
        """What a person standing at a wall sees, as figures: they tell like walls apart.

        Lengths and turns of the walls round the room from this one on, then where doors, drains and
        solids lie in the wall's own frame, then what else stands there, then how many walls on each opening comes. Turning,
        shifting or renumbering the room changes nothing.
        """
        sides, doors = _round(self)
        result = [*sides[2 * index :], *sides[: 2 * index]]
        for ends in (*(ends for wall, ends in doors if wall >= index), *(ends for wall, ends in doors if wall < index)):
            result += ends
        a, b = self.walls[index].run.points[0], self.walls[index].run.points[1]
        way = unit(b - a)
        places = [ring.polygon().centroid.coords[0] for ring in (*self.column_rings, *self.plinth_rings)]
        places += [drain.at for drain in self.room.drains]
        local = [
            (round(float((p - a) @ way), 1) + 0.0, round(float(way[0] * (p - a)[1] - way[1] * (p - a)[0]), 1) + 0.0)
            for p in np.array(places).reshape(-1, 2)
        ]
        result += [v for place in sorted(local) for v in place]
        count = len(self.walls)
        for step in range(count):
            face = self.walls[(index + step) % count]
            result += [face.tile_height, face.tanking_height, face.build_up]
        result += [v for o in self._round_from(index) for v in (o.opening.sill, o.opening.head, o.opening.depth)]
        return (*result, *self._things_from(a, way), *(float((o.wall - index) % count) for o in self._round_from(index)))

    def _round_from(self, index: int) -> list[OpeningAt]:
        """Openings as they come anticlockwise from a wall's start."""
        count = len(self.walls)
        return sorted(self.openings, key=lambda o: ((o.wall - index) % count, o.s0))

    def _things_from(self, at: Floats, way: Floats) -> tuple[float, ...]:
        """What is put into the room, in the frame of a point and a way: each kind by its places, each place with its sizes."""
        room = self.room
        kinds: list[list[tuple[list[Point], tuple[float, ...]]]] = [
            [([each.at], each.frame) for each in room.drains],
            [([each.at], (each.diameter or 0.0, *each.size)) for each in (*room.pipes, *room.fixings) if each.at is not None],
            [([vertex.to for vertex in each.outline], (each.height or 0.0,)) for each in (*room.plinths, *room.columns)],
            [([*each.line], (each.width,)) for each in room.structural_joints],
            [([*each.line], ()) for each in room.day_joints],
            [([*each.region, *((x, y) for x, y, _ in each.plane)], tuple(z for *_, z in each.plane)) for each in room.falls],
            [([each.at], ()) for each in room.pulls if each.at is not None],
        ]
        result: list[float] = []
        for kind in kinds:
            found = []
            for places, sizes in kind:
                off = np.array(places).reshape(-1, 2) - at
                local = np.column_stack([off @ way, way[0] * off[:, 1] - way[1] * off[:, 0]])
                found.append((*sorted(map(pair, np.round(local, 1) + 0.0)), *((size, 0.0) for size in sizes)))
            result += [value for each in sorted(found) for both in each for value in both]
        return tuple(result)

    @property
    def domain(self) -> BaseGeometry:
        """Everything that is not wall or column: floor, plinths and door reveals."""
        solid = shapely.union_all([ring.polygon() for ring in self.column_rings])
        return shapely.difference(self.outer.polygon(), solid)


@functools.lru_cache(maxsize=16)
def _round(outline: Outline) -> tuple[list[float], list[tuple[int, tuple[float, float]]]]:
    """Length and turn of each wall round a room; its openings by wall: what bearings are made of, once for a room of many walls."""
    sides: list[float] = []
    for k, wall in enumerate(outline.walls):
        run, after = wall.run, outline.walls[(k + 1) % len(outline.walls)].run
        one, two = run.points[-1] - run.points[-2], after.points[1] - after.points[0]
        turn = math.degrees(math.atan2(one[0] * two[1] - one[1] * two[0], float(one @ two)))
        sides += [round(run.length, 1), round(turn, 1) + 0.0]
    doors = [(each.wall, (round(each.s0, 1), round(each.s1, 1))) for each in outline.openings]
    return sides, sorted(doors)


def wall_edge(room: Room, walls: Sequence[WallFace], ref: WallRef, *, noted: bool = True) -> tuple[int, int] | None:
    """Index of a wall and the typed edge that a reference means."""
    edge = room.edge_of(ref, noted=noted)
    if edge is None:
        return None
    for k, wall in enumerate(walls):
        if edge in wall.run.edges:
            return k, edge
    if 1 <= edge <= len(room.outline):  # an edge of no length belongs to the one before it
        return wall_edge(room, walls, edge - 1 if edge > 1 else len(room.outline))
    return None


def known_walls(room: Room) -> str:
    """What a wall may be called, for messages."""
    names = [vertex.wall for vertex in room.outline if vertex.wall] + [note.name for note in room.walls if note.name]
    more = worded(", or called {names}", names=", ".join(names[:12])) if names else ""
    return worded("walls are numbered 1 to {outline}{more}", outline=len(room.outline), more=more)


def wall_span(
    room: Room, walls: Sequence[WallFace], ref: WallRef, offset: float, width: float, side: str
) -> tuple[int, float, float] | None:
    """Wall index and arc lengths of a stretch, measured from an end of the wall or the first typed corner; None if there is no such wall."""
    found = wall_edge(room, walls, ref)
    if found is None:
        return None
    index, edge = found
    run = walls[index].run
    if side == "right":
        return index, offset, offset + width
    if side == "left":
        return index, run.length - offset - width, run.length - offset
    corner = room.outline[edge - 1]
    s = run.along(np.array([corner.x, corner.y]))
    backwards = anticlockwise(room.outline)[3]
    return (index, s - offset - width, s - offset) if backwards else (index, s + offset, s + offset + width)


def membrane_on(tanked: bool, rules: Rules) -> float:
    """Thickness of the membrane on a face, mm: none where it is not tanked."""
    return rules.membrane if tanked else 0.0


def build_up_of(tile: Tile | None, tanked: bool, rules: Rules) -> float:
    """Membrane, bed and tile on a face, mm."""
    return membrane_on(tanked, rules) + (tile.bed + tile.thickness if tile else 0.0)


def frame_of(drain: Drain) -> Polygon:
    """The visible frame of a drain."""
    return rectangle(drain.at, drain.frame, drain.turn)


def break_shape(each: Break, at: Point, turn: float = 0.0, clear: float = 0.0) -> Polygon:
    """A pipe or fixing at a place of its surface, `clear` mm larger all round; a circle's corners as in axes turned by `turn` degrees."""
    if each.diameter:
        return circle(at, each.diameter + 2 * clear, turn)
    return rectangle(at, (each.size[0] + 2 * clear, each.size[1] + 2 * clear), each.turn)
