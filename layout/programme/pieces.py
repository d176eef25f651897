"""Day pieces: which part of a room each area and each day of a stage is, from the far end to the door.

A stage's work is laid out in one order: bays (for the membrane the parts between day joints, where there are any) and upright
faces, from the far end to the door, each near the one before. Areas and days are stretches of that order. A border of an area falls on a bay's or a
face's end where one is near enough, else a floor is cut square to the way to the door, tile on a line of its joints. Hours are
spread over a stage's surfaces as the take-off has them, over one surface by area.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import Polygon

from layout.plan.works import work_of
from layout.programme.piece import Part
from layout.quantities.pace import fixing_stage
from layout.shapes import turned
from layout.units import EPS

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from layout.identity import SurfaceId
    from layout.lining.surfaces import Surface
    from layout.quantities.values import Place, TakeOff, Work
    from layout.setout.values import RoomSetOut, SurfaceSetOut

    Floats = NDArray[np.float64]

NEAR = 0.15
"""A border of an area goes to the end of a bay or face that is no farther off than this part of an area."""
WORKS: dict[str, Work] = {
    "prime": "priming",
    "coat": "coating",
    "walls": "fixing",
    "floor": "fixing",
    "bottom": "fixing",
    "grout": "grouting",
}
PACES = {"prime": "primer_m2_h", "coat": "membrane_m2_h", "grout": "grout_m2_h"}
BESIDE = 0.7
"""A metre nearer to the door weighs as much as so many metres of way from what was done last."""


@dataclass(frozen=True, slots=True, eq=False)
class Atom:
    """What is done in one go if a day allows: a floor's bay as a `shape` in room mm, or an upright face as a stretch of `width` mm.

    `way` is the unit vector in which a floor is gone over; `snap` a joint's offset along it and the pitch, mm (None: anywhere).
    """

    surface: SurfaceId
    hours: float
    m2: float
    shape: BaseGeometry | None = None
    way: tuple[float, float] = (1.0, 0.0)
    snap: tuple[float, float] | None = None
    width: float = 0.0


def atoms_of(takeoff: TakeOff, room: int, key: str) -> list[Atom]:
    """What a stage goes over in a room, from the far end to the door."""
    done = takeoff.setout.rooms[room]
    hours: dict[SurfaceId, float] = {}
    for part in takeoff.worked(WORKS[work_of(key)]):
        surface = part.place.surface
        if part.place.room == room and surface is not None and _belongs(part.place, key) and part.place.coat in (0, 1):
            hours[surface] = hours.get(surface, 0.0) + part.quantity
    door = _door(done)
    laid = {each.surface.id: each for each in done.surfaces}
    areas = _areas(takeoff, room, key, hours)
    known = {surface.id: surface for surface in (*done.lining.surfaces, *done.membrane.lining.surfaces)}
    result: list[tuple[Atom, Floats]] = []
    for surface, own in hours.items():
        result += _of_surface(done, known.get(surface), laid.get(surface), surface, (own, areas[surface]), key, door)
    return _in_order(result, door)


def _areas(takeoff: TakeOff, room: int, key: str, hours: dict[SurfaceId, float]) -> dict[SurfaceId, float]:
    """m² of each surface that a stage goes over, by its hours; of tile as it is fixed."""
    if WORKS.get(key) != "fixing":
        pace = getattr(takeoff.setout.plan.products, PACES[work_of(key)]).value
        return {surface: own * pace for surface, own in hours.items()}
    own = [part for part in takeoff.worked("fixing") if part.place.room == room and _belongs(part.place, key)]
    return {part.place.surface: part.m2 for part in own if part.place.surface is not None}


def _in_order(atoms: list[tuple[Atom, Floats]], door: Floats) -> list[Atom]:
    """Atoms from the far end to the door, as near as may be to the one before: a crew does not change sides for a little."""
    if not atoms:
        return []
    middles = np.array([middle for _, middle in atoms])
    far = np.hypot(*(middles - door).T)
    left = list(range(len(atoms)))
    result: list[Atom] = []
    here = middles[int(np.argmax(np.round(far)))]
    while left:
        best = max(left, key=lambda k: (round(float(far[k] - BESIDE * np.hypot(*(middles[k] - here)))), -k))
        left.remove(best)
        here = middles[best]
        result.append(atoms[best][0])
    return result


def _belongs(place: Place, key: str) -> bool:
    """Whether a place of fixing is of a stage: floors, walls above the bottom course, bottom courses."""
    return WORKS.get(key) != "fixing" or fixing_stage(place) == key


def _door(room: RoomSetOut) -> Floats:
    """The middle of the widest door; the first corner of a room without one."""
    doors = [opening for opening in room.lining.outline.openings if opening.door]
    if not doors:
        return np.array(room.lining.outline.outer.points[0], dtype=np.float64)
    door = max(doors, key=lambda each: (round(each.s1 - each.s0, 1), -each.index))
    run = room.lining.outline.walls[door.wall].run
    result: Floats = (np.asarray(run.at(door.s0)) + np.asarray(run.at(door.s1))) / 2
    return result


def _of_surface(
    room: RoomSetOut,
    surface: Surface | None,
    laid: SurfaceSetOut | None,
    name: SurfaceId,
    work: tuple[float, float],
    key: str,
    door: Floats,
) -> Iterator[tuple[Atom, Floats]]:
    """A surface's atoms, each with its middle in plan, mm; `work` is its hours and m²."""
    hours, m2 = work
    if surface is None:
        yield Atom(name, hours, m2), door
        return
    if surface.placing.line is not None:
        x0, _, x1, _ = surface.gross.bounds
        middle = surface.placing.to_room(np.array([[(x0 + x1) / 2, 0.0]]))[0, :2]
        yield Atom(name, hours, m2, width=x1 - x0), middle
        return
    shapes = _floor_shapes(room, surface, laid, tile=key in ("floor", "grout"))
    total = math.fsum(shape.area for _, shape in shapes)
    for bay, shape in shapes:
        middle = np.asarray(shape.centroid.coords[0])
        turn = laid.turn if laid is not None else 0.0
        way = _way(door - middle, turn)
        snap = None
        if laid is not None and bay is not None and key in ("floor", "grout") and laid.field.pattern.name in ("stack", "running"):
            along = abs(float(way @ turned(np.array([[1.0, 0.0]]), turn)[0])) > 0.5
            joint = laid.tile.joints[0 if along else 1]
            snap = (
                float(laid.field.origins[bay] @ way) - (joint / 2 if way.sum() > 0 else -joint / 2),
                laid.tile.size[0 if along else 1] + joint,
            )
        atom = Atom(
            name, hours * shape.area / max(total, EPS), m2 * shape.area / max(total, EPS), shape, (float(way[0]), float(way[1])), snap
        )
        yield atom, middle


def _floor_shapes(room: RoomSetOut, surface: Surface, laid: SurfaceSetOut | None, *, tile: bool) -> list[tuple[int | None, BaseGeometry]]:
    """Bays of a floor as tiled; for the membrane its parts between day joints, else those between its bays' joints."""
    if tile and laid is not None:
        return [(k, bay.between_joints) for k, bay in enumerate(laid.bays) if bay.between_joints.area > 0.0]
    lines = [shapely.LineString(joint.line) for joint in room.lining.room.day_joints] if surface.kind == "floor" else []
    if not lines and laid is not None and len(laid.bays) > 1:
        return [(k, bay.between_joints) for k, bay in enumerate(laid.bays) if bay.between_joints.area > 0.0]
    parts = [surface.gross]
    for line in lines:
        cut = _lengthened(line)
        parts = [piece for part in parts for piece in shapely.get_parts(shapely.difference(part, cut.buffer(0.01, cap_style="flat")))]
    return [(None, part) for part in parts if part.area > 0.0]


def _lengthened(line: shapely.LineString) -> shapely.LineString:
    """A day joint a little longer at both ends, so that it parts the floor."""
    points = np.asarray(line.coords)
    first, last = points[0] - points[1], points[-1] - points[-2]
    ends = (points[0] + 50.0 * first / np.hypot(*first), points[-1] + 50.0 * last / np.hypot(*last))
    return shapely.LineString([ends[0], *points[1:-1], ends[1]])


def _way(to_door: Floats, turn: float) -> Floats:
    """The way along the tiles that leads to the door most."""
    axes = turned(np.array([[1.0, 0.0], [0.0, 1.0]]), turn)
    along = axes @ to_door
    k = int(np.argmax(np.abs(along)))
    result: Floats = axes[k] * (1.0 if along[k] >= 0.0 else -1.0)
    return result


def shares(atoms: Sequence[Atom], areas: int, most: float) -> list[float]:
    """Parts of a stage's hours (they sum up to 1) that its areas are: alike, or up to the end of a bay or face near by; none over `most` hours if it can be."""
    total = math.fsum(atom.hours for atom in atoms)
    if areas == 1 or total <= 0.0:
        return [1.0 / areas] * areas
    ends = np.cumsum([atom.hours for atom in atoms]).tolist()
    borders = [0.0]
    for k in range(1, areas):
        wanted = total * k / areas
        low, high = total - (areas - k) * most, borders[-1] + most
        near = [
            end for end in ends if low - EPS <= end <= high + EPS and abs(end - wanted) <= NEAR * total / areas and end > borders[-1] + EPS
        ]
        borders.append(min(near, key=lambda end: abs(end - wanted)) if near else wanted)
    borders.append(total)
    return [(two - one) / total for one, two in itertools.pairwise(borders)]


def stretch(atoms: Sequence[Atom], begin: float, end: float) -> tuple[Part, ...]:
    """The parts of surfaces between two parts (0 to 1) of a stage's hours."""
    total = math.fsum(atom.hours for atom in atoms)
    result = []
    at = 0.0
    for atom in atoms:
        low, high = (begin * total - at) / max(atom.hours, EPS), (end * total - at) / max(atom.hours, EPS)
        at += atom.hours
        low, high = max(low, 0.0), min(high, 1.0)
        if high - low > 1e-6:
            part = _part(atom, low, high)
            if part is not None:
                result.append(part)
    return tuple(result)


def _part(atom: Atom, low: float, high: float) -> Part | None:
    """A part of an atom, from and to a share of it; None if it is less than a course of tiles."""
    if atom.shape is None:
        return Part(atom.surface, atom.m2 * (high - low), None, low * atom.width, high * atom.width, atom.width)
    shape = _between(atom, low, high)
    return None if shape.is_empty else Part(atom.surface, atom.m2 * shape.area / atom.shape.area, shape)


def _between(atom: Atom, low: float, high: float) -> BaseGeometry:
    """What lies between two shares of a floor's area along the way to the door, cut on joints where there are some."""
    shape = atom.shape
    assert shape is not None
    angle = math.degrees(math.atan2(atom.way[1], atom.way[0]))
    flat = shapely.transform(shape, lambda xy: turned(xy, -angle))
    x0, y0, x1, y1 = flat.bounds
    ends = [x0 - 1.0 if low <= 1e-6 else _offset(flat, low, atom.snap), x1 + 1.0 if high >= 1.0 - 1e-6 else _offset(flat, high, atom.snap)]
    if ends[1] <= ends[0]:
        return Polygon()
    kept = shapely.intersection(flat, shapely.box(ends[0], y0 - 1.0, ends[1], y1 + 1.0))
    return shapely.transform(kept, lambda xy: turned(xy, angle))


def _offset(flat: BaseGeometry, share: float, snap: tuple[float, float] | None) -> float:
    """How far along x so great a part of an area is behind, by halving; on the nearest joint of a lattice if there is one."""
    x0, y0, x1, y1 = flat.bounds
    wanted, low, high = share * flat.area, x0, x1
    while high - low > 1.0:
        middle = (low + high) / 2
        if shapely.intersection(flat, shapely.box(x0 - 1.0, y0 - 1.0, middle, y1 + 1.0)).area < wanted:
            low = middle
        else:
            high = middle
    at = (low + high) / 2
    if snap is None:
        return at
    return snap[0] + round((at - snap[0]) / snap[1]) * snap[1]
