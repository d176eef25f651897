"""Courses of tiled walls: one level for all of them round the room, joints in line with the floor's, and their levels.

Walls are tiled from a level line, so their courses meet at every corner; what is cut is the bottom course, to the floor
as laid, and the top one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.errors import Finding
from layout.plan.wishes import criteria_of
from layout.room.outlines import build_up_of
from layout.standards.rules import WEAK_EDGE
from layout.start.offsets import best_offsets, measures, snapped
from layout.start.walls import joined_walls
from layout.units import TOUCH, turn_of
from layout.words import listed, worded

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from layout.identity import SurfaceId
    from layout.joints.lines import Bay
    from layout.lining.build import Lining
    from layout.lining.surfaces import Surface
    from layout.plan.wishes import Criteria
    from layout.start.faces import Faces
    from layout.start.walls import Walls
    from layout.tiles.lay import TileField

    Floats = NDArray[np.float64]

LEVEL_KINDS = ("wall", "column-side", "reveal")
"""Surfaces whose courses run level with each other; plinth sides are cut out of one course."""
ALIKE = 0.05
"""Pitches that differ less are one, mm."""


@dataclass(frozen=True, slots=True)
class Course:
    """One course of a wall, numbered from the floor: edges of its whole tiles above the substrate floor and above the finished one, mm."""

    number: int
    low: float
    high: float
    low_level: float
    high_level: float


def level_start(lining: Lining, faces: Sequence[Faces]) -> tuple[float | None, list[Finding]]:
    """Lower edge of a course that all given faces share, mm above the substrate floor; None if they cannot share one.

    By `rules.courses`: the best for the narrowest cut of them all, exact; on the finished floor at its highest; a tile edge on
    the datum line; or a whole tile on the head of the widest door, or else opening. A start that would run the bottom course
    out to nothing along a falling floor is moved by the least that mends it, and told.
    """
    own = [f for f in faces if f.surface.kind in LEVEL_KINDS and f.aligned and f.lattice[1].straight and not f.surface.field.is_empty]
    if not own:
        return None, []
    rules = lining.plan.rules
    pitch, size = own[0].lattice[1].pitch, own[0].lattice[1].size
    if rules.courses == "datum":
        return _kept_from_nothing(own, snapped((rules.datum_line + finished(lining)) % pitch))
    if rules.courses == "floor":
        return _kept_from_nothing(own, snapped(max(_highest_foot(f.surface) for f in own) % pitch))
    openings = [o for o in lining.outline.openings if lining.outline.walls[o.wall].tile_height > o.opening.head]
    if rules.courses == "head" and openings:
        widest = max(openings, key=lambda o: (o.door, round(o.s1 - o.s0, 1), -o.index))
        clear = 0.0 if widest.opening.depth > 0.0 else rules.perimeter_joint
        return _kept_from_nothing(own, snapped((widest.opening.head + clear) % pitch))
    walls = joined_walls([f.walls_at(1, np.flatnonzero(f.across(1).mask)) for f in own])
    criteria = criteria_of(rules.start_order, rules.start_weights, own[0].tile.least_cut, rules.wall_tolerance)
    best = best_offsets(walls, pitch, size, criteria=criteria)[0].at
    return snapped(_clear_of_holes(own, walls, best, criteria)), []


def _clear_of_holes(faces: Sequence[Faces], walls: Walls, best: float, criteria: Criteria) -> float:
    """The best start; where a pipe would stand too near to a tile's upper or lower edge and weak pieces come first, the best of those that clear most.

    Else its wall would step aside along the courses, which costs it its ends.
    """
    pitch, size = faces[0].lattice[1].pitch, faces[0].lattice[1].size
    holes = np.array([each.hole.bounds for face in faces for each in face.surface.breaks]).reshape(-1, 4)[:, [1, 3]]
    low, high = holes[:, 0], holes[:, 1]
    clear = WEAK_EDGE.value
    across = np.minimum(clear, (high - low) / 3.0)  # an edge that only grazes a hole leaves horns that break as well

    def near(start: Floats) -> NDArray[np.int64]:
        """How many holes a tile's upper or lower edge passes too near to, or grazes, at each start, (k,)."""
        deep = across - TOUCH  # how far the edge below may cut a hole and still graze it: from there on it stands well across
        under = np.mod(low[None, :] - start[:, None] + deep, pitch) - deep
        over = np.mod(start[:, None] + size - high[None, :] + deep, pitch) - deep
        return np.asarray(((under < clear - TOUCH) | (over < clear - TOUCH)).sum(axis=1), dtype=np.int64)

    if criteria.before_weak != 0 or near(np.array([best]))[0] == 0:
        return best
    beside = np.concatenate([low + across, low - clear, high - across - size, high + clear - size])
    tries = np.concatenate([[best], np.mod(np.round(beside, 3), pitch)])
    keys = criteria.keys(measures(walls, tries, pitch, size, (), least=criteria.least))
    return float(tries[np.lexsort((*keys[::-1], near(tries)))[0]])


def _kept_from_nothing(faces: Sequence[Faces], wanted: float) -> tuple[float, list[Finding]]:
    """A start as wanted, or the nearest at which no bottom course is tapered to less than the tile's least cut."""
    pitch, size = faces[0].lattice[1].pitch, faces[0].lattice[1].size
    least = min(faces[0].tile.least_cut, size)
    feet = np.array([sorted(edge[:, 1]) for f in faces for edge in f.edges if edge[1, 0] > edge[0, 0] and _falls(edge)])
    feet = feet.reshape(-1, 2)
    if len(feet) == 0 or (feet[:, 1] - feet[:, 0]).max() >= size:
        return wanted, []

    def narrowest(start: Floats) -> Floats:
        """The narrow end of the narrowest tapered course at each start, (k,); below zero where it runs out."""
        deep = np.mod(start[:, None] + size - feet[None, :, 0], pitch)
        deep = np.where(deep > size, size, deep)
        result: Floats = (deep - (feet[:, 1] - feet[:, 0])).min(axis=1)
        return result

    if narrowest(np.array([wanted]))[0] >= min(least, size - float((feet[:, 1] - feet[:, 0]).max())) - TOUCH:
        return wanted, []
    tries = np.concatenate([feet[:, 1] - size + least, feet[:, 0], feet[:, 0] + (pitch - size)])
    tries = np.unique(np.round(np.mod(tries, pitch), 3))
    width = np.minimum(narrowest(tries), least)
    moved = np.remainder(tries - wanted + pitch / 2, pitch) - pitch / 2
    best = int(np.lexsort((np.abs(moved), -np.round(width, 1)))[0])
    runs = narrowest(np.array([wanted]))[0]
    text = worded(
        "walls: courses as rules.courses wants them would taper the bottom course to {runs:.0f} along the falling "
        "floor; they are moved by {moved:+.0f}, which leaves {width:.0f}",
        runs=max(runs, 0.0),
        moved=moved[best],
        width=width[best],
    )
    return snapped(float(tries[best])), [Finding(code="courses-moved", text=text, surface=faces[0].surface.id)]


def _falls(edge: Floats) -> bool:
    return bool(TOUCH < abs(edge[1, 1] - edge[0, 1]) < abs(edge[1, 0] - edge[0, 0]))


def finished(lining: Lining) -> float:
    """The finished floor at the walls above the substrate floor, mm."""
    return build_up_of(lining.plan.tile(lining.room.floor_tile), True, lining.plan.rules)


def _highest_foot(surface: Surface) -> float:
    ring = shapely.get_coordinates(surface.field)
    left = ring[:, 0] < surface.field.bounds[0] + TOUCH
    right = ring[:, 0] > surface.field.bounds[2] - TOUCH
    return float(max(ring[left, 1].min(), ring[right, 1].min()))


def floor_joints(lining: Lining, faces: Faces, floor: TileField, bays: Sequence[Bay]) -> tuple[float | None, Finding | None]:
    """Lower edge of a tile along a wall with which its upright joints stand in line with the floor's; or why they cannot.

    Only for straight walls along the floor's lattice, with tiles of one pitch; else a finding tells the miss.
    """
    line = faces.surface.placing.line
    if faces.surface.kind != "wall" or line is None or len(line) != 2 or lining.plan.rules.wall_joints != "floor":
        return None, None
    way = (line[1] - line[0]) / float(np.hypot(*(line[1] - line[0])))
    cos, sin = turn_of(floor.turn)
    axes = np.array([[cos, sin], [-sin, cos]])
    axis = int(np.abs(axes @ way).argmax())
    if abs(abs(float(axes[axis] @ way)) - 1.0) > 1e-5:
        return None, _missed(faces.surface.id, worded("the floor's joints do not meet it square; the wall is balanced by itself"))
    pitch = float(floor.pattern.vectors[axis][axis])
    if abs(pitch - faces.lattice[0].pitch) > ALIKE:
        step = abs(pitch - faces.lattice[0].pitch)
        return None, _missed(
            faces.surface.id,
            worded(
                "floor joints come every {pitch:g}, its own every {pitch_2:g}: {step:g} out more with each tile",
                pitch=pitch,
                pitch_2=faces.lattice[0].pitch,
                step=step,
            ),
        )
    middle = line.mean(axis=0)
    near = min(range(len(bays)), key=lambda k: (round(bays[k].region.distance(shapely.Point(middle)), 3), k))
    along = float(axes[axis] @ way)
    corner = floor.origins[near] + (axes[axis] * floor.pattern.box[axis] if along < 0 else 0.0)
    return snapped(float((corner - line[0]) @ way) % pitch), None


def _missed(surface: SurfaceId, why: str) -> Finding:
    return Finding(code="joints-not-carried", text=listed((surface.name, why), ": "), surface=surface)


def courses_of(surface: Surface, field: TileField, floor: float) -> list[Course]:
    """The courses of an upright surface from its foot to its top; `floor` is the finished floor above the substrate, mm.

    Raises
    ------
    ValueError
        If the pattern has no level courses.
    """
    if field.turn != 0.0 or not field.pattern.level_courses:
        msg = f"{field.pattern.name} has no level courses"
        raise ValueError(msg)
    pitch, size = float(field.pattern.vectors[1][1]), float(field.pattern.box[1])
    origin = float(field.origins[0][1])
    _, low, _, high = surface.field.bounds
    first = math.floor((low + TOUCH - origin) / pitch)
    first += int(origin + first * pitch + size <= low + TOUCH)
    result = []
    k = first
    while origin + k * pitch < high - TOUCH:
        a, b = origin + k * pitch, origin + k * pitch + size
        result.append(Course(k - first + 1, a, b, a - floor, b - floor))
        k += 1
    return result
