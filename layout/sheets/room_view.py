"""What every sheet of a room shows: walls, tiles, joints, drains, pipes, plinths, doors.

Made once for a room and shared by its sheets, so that a drawing file holds it once.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.shapes import rings_of, turned
from layout.sheets.scene import Block, Fill, Primitive, Stroke, Symbol, Tiles, View, readable
from layout.sheets.spots import Spot
from layout.vectors import pair
from layout.words import say, spelt

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from layout.room.rings import Run
    from layout.setout.values import RoomSetOut, SurfaceSetOut
    from layout.sheets.place import Placer

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]
    Lines = NDArray[np.object_]

CLOSE = 3.2
"""From a face to the middle of its name where nothing else has room, mm on paper."""


@dataclass(frozen=True, slots=True, eq=False)
class Base:
    """Shared primitives of a room: outlines and the tile field, room mm."""

    outline: tuple[Primitive, ...]
    tiles: tuple[Primitive, ...]
    joints: tuple[Primitive, ...]
    services: tuple[Primitive, ...]


def room_bounds(room: RoomSetOut) -> tuple[float, float, float, float]:
    """Bounds of a room's bare outline, mm."""
    x0, y0, x1, y1 = room.lining.outline.outer.polygon().bounds
    return x0, y0, x1, y1


def base_of(room: RoomSetOut) -> Base:
    """The shared primitives of a room."""
    return Base(_outline(room), _tiles(room), _joints(room), _services(room))


def _outline(room: RoomSetOut) -> tuple[Primitive, ...]:
    outline = room.lining.outline
    result: list[Primitive] = []
    ring = outline.outer
    run: list[tuple[float, float]] = []
    n = len(ring.points)
    first = next((k for k, tag in enumerate(ring.tags) if tag.owner == "threshold"), 0)
    for step in range(n + 1):
        k = (first + step) % n
        tag = ring.tags[k]
        if step == n or tag.owner == "threshold":
            if len(run) > 1 or (run and step == n) or run:
                result.append(Stroke(np.array([*run, ring.points[k]]), "WALL"))
            run = []
            if step < n:
                result.append(Stroke(np.array([ring.points[k], ring.points[(k + 1) % n]]), "OPENING"))
            continue
        run.append(ring.points[k])
    for column in outline.column_rings:
        result.append(Fill(column.polygon(), "WALL", 0.55))
        result.append(Stroke(np.array(column.points), "WALL", closed=True))
    for plinth in outline.plinth_rings:
        result.append(Fill(plinth.polygon(), "PLINTH", 0.10))
        result.append(Stroke(np.array(plinth.points), "PLINTH", closed=True))
    return tuple(result)


def _tiles(room: RoomSetOut) -> tuple[Primitive, ...]:
    """Tiles of the floor and of its border course."""
    return tuple(primitive for done in room.surfaces if done.surface.kind in ("floor", "border") for primitive in laid_tiles(done))


def laid_tiles(done: SurfaceSetOut, turn: float = 0.0, at: tuple[float, float] = (0.0, 0.0)) -> list[Primitive]:
    """Whole tiles and pieces of a surface, its axes turned and shifted."""
    result: list[Primitive] = []
    shift = np.array(at)
    pieces = list(done.field.pieces())
    if turn or shift.any():
        pieces = [shapely.transform(piece, lambda xy: turned(xy, turn) + shift) for piece in pieces]
    result += [Fill(piece, "TILE-CUT", 0.14) for piece in pieces]
    result += [Stroke(ring, "TILE-CUT", closed=True) for piece in pieces for ring in rings_of(piece)]
    for bay, laid in enumerate(done.field.bays):
        origin = pair(turned(done.field.origins[bay][None], turn)[0] + shift)
        for member in range(len(done.field.pattern.members)):
            own_index = laid.whole[laid.whole[:, 0] == member][:, 1:]
            if len(own_index):
                block = f"tile-{done.tile.name}-{member + 1}"
                result.append(Tiles(block, done.field.pattern, member, done.turn + turn, origin, own_index, done.tile.joint, "TILE"))
    return result


def _joints(room: RoomSetOut) -> tuple[Primitive, ...]:
    result: list[Primitive] = []
    for joint in room.joints:
        if joint.surface.kind != "floor":
            continue
        if joint.kind in ("intermediate", "structural"):
            result.append(Stroke(joint.line, "STRUCTURAL-JOINT" if joint.kind == "structural" else "MOVEMENT-JOINT"))
        elif joint.kind in ("pipe", "drain"):
            result.append(Stroke(joint.line, "SEALANT", closed=bool(np.array_equal(joint.line[0], joint.line[-1]))))
        else:
            result.append(Stroke(joint.line, "SEALANT"))
    return tuple(result)


def _services(room: RoomSetOut) -> tuple[Primitive, ...]:
    result: list[Primitive] = []
    for surface in room.lining.surfaces:
        if surface.placing.line is not None:
            continue
        for each in surface.breaks:
            ring = shapely.get_coordinates(each.shape)[:-1]
            layer = "DRAIN" if each.kind in ("gully", "channel") else "PIPE"
            if layer == "DRAIN":
                result.append(_drain(room, each.name))
            else:
                result += [Fill(each.shape, layer, 0.0), Stroke(ring, layer, closed=True)]
                cx, cy = each.at
                reach = 0.5 * float(np.ptp(ring[:, 0])) * 1.25
                result += [
                    Stroke(np.array([[cx - reach, cy], [cx + reach, cy]]), layer),
                    Stroke(np.array([[cx, cy - reach], [cx, cy + reach]]), layer),
                ]
    return tuple(result)


def _drain(room: RoomSetOut, name: str) -> Block:
    """A drain's frame with its diagonals, one block for each size."""
    drain = next(each for each in room.lining.room.drains if each.name == name)
    w, h = drain.frame
    frame = shapely.box(-w / 2, -h / 2, w / 2, h / 2)
    ring = np.array([[-w / 2, -h / 2], [w / 2, -h / 2], [w / 2, h / 2], [-w / 2, h / 2]])
    parts = (Fill(frame, "DRAIN", 0.12), Stroke(ring, "DRAIN", closed=True), Stroke(ring[[0, 2]], "DRAIN"), Stroke(ring[[1, 3]], "DRAIN"))
    return Block(f"{drain.kind}-{w:.0f}x{h:.0f}", parts, drain.at, "DRAIN", drain.turn)


def wall_frame(room: RoomSetOut, index: int) -> tuple[Floats, Floats, Floats, float]:
    """Ends of a wall anticlockwise, its outward normal and its readable angle."""
    points = room.lining.outline.walls[index].run.points
    a, b = points[0], points[-1]
    way = (b - a) / max(float(np.hypot(*(b - a))), 1e-9)
    return a, b, np.array([way[1], -way[0]]), readable(math.degrees(math.atan2(way[1], way[0])))


def block_shape(placer: Placer, view: View, points: Floats, grow: float = 0.3, owner: int = -1) -> None:
    """Keep labels off the hull of some room points."""
    paper = view.to_paper(points)
    low, high = paper.min(axis=0) - grow, paper.max(axis=0) + grow
    placer.block((float(low[0]), float(low[1]), float(high[0]), float(high[1])), owner)


def block_solid(placer: Placer, view: View, shape: shapely.Polygon, grow: float = 0.4) -> None:
    """Keep labels off a plinth or column: off its hull where it fills it, else off what of it lies there, in steps of 2 mm on paper."""
    x0, y0, x1, y1 = shape.bounds
    if shape.area > 0.98 * (x1 - x0) * (y1 - y0):
        block_shape(placer, view, shapely.get_coordinates(shape), grow)
        return
    step = 2.0 * view.scale
    xs, ys = np.meshgrid(np.arange(x0, x1, step), np.arange(y0, y1, step))
    cells = shapely.box(xs.ravel(), ys.ravel(), xs.ravel() + step, ys.ravel() + step)
    for cell in shapely.intersection(cells[shapely.intersects(cells, shape)], shape):
        block_shape(placer, view, shapely.get_coordinates(cell), grow)


def block_walls(placer: Placer, view: View, room: RoomSetOut) -> None:
    """Keep labels off the lines of the walls and the thresholds."""
    for ring in rings_of(room.lining.outline.domain):
        block_line(placer, view, np.vstack([ring, ring[:1]]))


def block_line(placer: Placer, view: View, line: Floats, grow: float = 0.4) -> None:
    """Keep labels off a line of room points, and off nothing beside it."""
    paper = view.to_paper(shapely.get_coordinates(shapely.segmentize(shapely.linestrings(line), 2.0 * view.scale)))
    placer.block_all(np.hstack([paper - grow, paper + grow]))


def name_walls(room: RoomSetOut, view: View, placer: Placer, *, out: float) -> None:
    """Wall numbers and names outside each wall; in a wall body too thin for that, close to the face they name, on either side of it."""
    faces = faces_of(room, view)
    for index, wall in enumerate(room.lining.outline.walls):
        points = wall.run.points
        a, b, normal, angle = wall_frame(room, index)
        middle = wall.run.at(wall.run.length / 2)
        if not wall.run.straight:
            chord = b - a
            normal = middle - (a + b) / 2
            normal = normal / max(float(np.hypot(*normal)), 1e-9)
            angle = readable(math.degrees(math.atan2(chord[1], chord[0])))
        text = wall.label if wall.name == wall.label else f"{spelt(wall.label)} · {wall.name}"
        here = [wall.run.at(wall.run.length * part) if len(points) else middle for part in (0.5, 0.35, 0.65, 0.2, 0.8)]
        # no leaders: they would cross the figures that stand between
        off = normal * np.array([[out], [out + 5.0], [out + 10.0], [out + 15.0], [out + 20.0], [CLOSE], [-CLOSE]])
        places = (view.to_paper(np.array(here)) + off[:, None]).reshape(-1, 2)
        own = read_as(places, faces, index)
        places = places[own] if own.any() else places
        spots = [Spot((x, y), angle=angle) for x, y in places.tolist()]
        placer.place(text, 3.5, "TEXT", spots, boxed=True, needed=True, foot=view.to_paper(np.array([middle]))[0])


def _traced(run: Run) -> Floats:
    """A wall's line, (n, 2), an arc in steps."""
    parts = (0.0, 1.0) if run.straight else np.linspace(0.0, 1.0, 17)
    return np.array([run.at(run.length * part) for part in parts])


def faces_of(room: RoomSetOut, view: View) -> Lines:
    """The walls' lines on paper, (n,)."""
    return np.array([shapely.LineString(view.to_paper(_traced(wall.run))) for wall in room.lining.outline.walls], dtype=object)


def read_as(places: Floats, faces: Lines, index: int) -> Flags:
    """Whether words at places (n, 2) on paper are read as those of a face: no other lies between, none that faces another way is as near.

    Where a wall body is thin, the outside of one face is that of the next: words there would be taken for the other's.
    """
    points = np.array([shapely.Point(at) for at in places], dtype=object)
    others = np.delete(faces, index)
    apart = others[shapely.distance(others, faces[index]) > 0.1]
    near = shapely.distance(points[:, None], apart[None]).min(axis=1, initial=np.inf)
    nearest: Flags = np.asarray(shapely.distance(points, faces[index]) < 0.9 * near)
    return ~walled_off(places, faces, index) & nearest


def walled_off(places: Floats, faces: Lines, index: int) -> Flags:
    """Whether another face lies between places (n, 2) on paper and the face they are to belong to."""
    points = np.array([shapely.Point(at) for at in places], dtype=object)
    ways = shapely.shortest_line(points, faces[index])
    met: Flags = np.asarray(shapely.intersects(ways[:, None], np.delete(faces, index)[None]))
    return np.asarray(met.any(axis=1))


def name_things(room: RoomSetOut, view: View, placer: Placer) -> None:
    """Names of drains, pipes, plinths and columns beside or in them."""
    outline = room.lining.outline
    things = [(b.name, b.shape) for s in room.lining.surfaces if s.placing.line is None for b in s.breaks]
    things += [(c.solid.name, outline.column_rings[k].polygon()) for k, c in enumerate(outline.columns)]
    for own, (_, shape) in enumerate(things):
        block_shape(placer, view, shapely.get_coordinates(shape), owner=own)
    for own, (name, shape) in enumerate(things):
        x0, y0, x1, y1 = shape.bounds
        (px0, py0), (px1, py1) = view.to_paper(np.array([[x0, y0], [x1, y1]]))
        cx, cy = (px0 + px1) / 2, (py0 + py1) / 2
        spots = [
            *([Spot((cx, cy))] if px1 - px0 > 30.0 else []),
            Spot((px1 + 1.5, cy), "left"),
            Spot((cx, py1 + 1.2), "centre", "bottom"),
            Spot((cx, py0 - 1.2), "centre", "top"),
            Spot((px0 - 1.5, cy), "right"),
            Spot((px1 + 1.5, py1 + 2.5), "left"),
            Spot((px1 + 1.5, py0 - 2.5), "left"),
            Spot((cx, py1 + 5.0), "centre", "bottom"),
            Spot((cx, py0 - 5.0), "centre", "top"),
        ]
        placer.place(name, 2.5, "TEXT", spots, boxed=True, needed=True, foot=(cx, cy), owner=own)
    for k, plinth in enumerate(outline.plinths):
        inside = view.to_paper(np.array(outline.plinth_rings[k].polygon().representative_point().coords))[0]
        text = say("{name}, {height:.0f} high", name=plinth.solid.name, height=plinth.height)
        spots = [Spot((float(inside[0]), float(inside[1]) + dy)) for dy in (0.0, 4.0, -4.0, 8.0, -8.0)]
        placer.place(text, 2.5, "TEXT", spots, boxed=True, needed=True, foot=inside)


def entrance(room: RoomSetOut, view: View, placer: Placer) -> list[Primitive]:
    """An arrow at the widest door, pointing in."""
    doors = [o for o in room.lining.outline.openings if o.door]
    if not doors:
        return []
    door = max(doors, key=lambda o: (round(o.s1 - o.s0, 1), -o.index))
    run = room.lining.outline.walls[door.wall].run
    a, b = run.at(door.s0), run.at(door.s1)
    way = (b - a) / max(float(np.hypot(*(b - a))), 1e-9)
    inward = np.array([-way[1], way[0]])
    at = (a + b) / 2 - inward * (door.opening.depth + 5.0 * view.scale)
    angle = math.degrees(math.atan2(inward[1], inward[0])) - 90.0
    block_shape(placer, view, np.array([at]), 3.6)
    return [Symbol("entrance", (float(at[0]), float(at[1])), 6.0, "OPENING", angle)]
