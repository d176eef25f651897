"""A border course: a band of another tile along the walls, with the field of the floor inside it.

The band runs along every straight wall, and past its doors into their reveals; along plinths and columns there is
none. At corners the lower wall number runs through and the other butts against it.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import Polygon

from layout.errors import SetOutError
from layout.identity import SurfaceId
from layout.lining.surfaces import Surface
from layout.shapes import cleaned, parts_of, union_of
from layout.units import TOUCH
from layout.words import worded

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from layout.plan.values import Plan, Tile
    from layout.room.outlines import Outline
    from layout.vectors import Floats


def band_of(tile: Tile, courses: int) -> float:
    """Depth of a band of so many courses, joints between them included, mm."""
    return courses * (tile.size[1] + tile.joint) - tile.joint


def with_border(plan: Plan, outline: Outline, floor: Surface) -> tuple[Surface, tuple[Surface, ...]]:
    """The floor inside its border course, and the course as a surface for each wall, lowest number first.

    Raises
    ------
    SetOutError
        If a wall is curved, or the courses leave no field.
    """
    tile = floor.tile
    if tile is None or tile.border is None:
        return floor, ()
    place = f"{plan.source}: tiles.{tile.name}.border"
    curved = next((wall.label for wall in outline.walls if not wall.run.straight), None)
    if curved:
        raise SetOutError(
            place, f'{curved} of "{outline.room.name}" is curved', "a border course runs along straight walls; leave border out"
        )
    course = plan.tile(tile.border.tile)
    depth = band_of(course, tile.border.courses)
    strips: list[tuple[int, BaseGeometry]] = []
    taken: list[BaseGeometry] = []
    for k in sorted(range(len(outline.walls)), key=lambda k: outline.walls[k].run.number):
        before = union_of([shapely.buffer(strip, course.joint, join_style="mitre") for _, strip in strips])
        strip = shapely.difference(shapely.intersection(_beside(outline, floor, k, depth), floor.field), before)
        taken.append(_beside(outline, floor, k, depth + tile.joint))
        parts = [part for part in parts_of(cleaned(strip)) if part.area > TOUCH]
        if parts:
            strips.append((k, union_of(parts)))
    field = cleaned(shapely.difference(floor.field, union_of(taken)))
    if field.is_empty:
        raise SetOutError(place, f'{depth:.0f} mm of border leave no field in "{outline.room.name}"', "give fewer courses, or none")
    inside = tuple(
        tuple(replace(border, band=depth + tile.joint) if border.kind == "perimeter" and border.wall else border for border in ring)
        for ring in floor.borders
    )
    bands = tuple(
        Surface(
            id=SurfaceId(floor.id.room, "border", outline.walls[k].run.number, 0, worded("border at {wall}", wall=outline.walls[k].label)),
            tile=course,
            gross=Polygon(),
            field=strip,
            region=cleaned(shapely.intersection(strip, floor.region)),
            placing=floor.placing,
            tanked=Polygon(),
            wall=outline.walls[k].run.number,
            build_up=floor.build_up,
        )
        for k, strip in strips
    )
    # the joint between field and band is the field's: what is grouted with it
    grown = shapely.intersection(shapely.buffer(field, tile.joint, join_style="mitre"), floor.region)
    region = cleaned(shapely.difference(grown, union_of([band.field for band in bands])))
    return replace(floor, field=field, region=region, borders=inside, joint_field=floor.field, joint_region=floor.region), bands


def wall_line(outline: Outline, floor: Surface, index: int) -> tuple[Floats, Floats, float]:
    """Ends of a wall on the substrate (2, 2), its unit normal into the room, and how far the floor's tile keeps off it, mm.

    A wall that is all door keeps what the floor keeps off its threshold.
    """
    wall = outline.walls[index]
    ends = wall.run.points[[0, -1]]
    way = (ends[1] - ends[0]) / np.hypot(*(ends[1] - ends[0]))
    own = sorted((border for ring in floor.borders for border in ring if border.wall == wall.run.number), key=lambda border: border.kind)
    return ends, np.array([-way[1], way[0]]), own[0].distance if own else 0.0


def _beside(outline: Outline, floor: Surface, index: int, depth: float) -> BaseGeometry:
    """Everything within a depth of a wall's joint, past its corners where they are re-entrant, its reveals included."""
    (a, b), normal, off = wall_line(outline, floor, index)
    way = np.array([normal[1], -normal[0]])
    reach = off + depth
    count = len(outline.walls)
    before, after = (outline.walls[(index + step) % count].run.points[[0, -1]] for step in (-1, 1))
    a_out = a - way * _past(before[1] - before[0], way, reach)
    b_out = b + way * _past(way, after[1] - after[0], reach)
    shapes: list[BaseGeometry] = [Polygon([a_out, b_out, b_out + normal * reach, a_out + normal * reach])]
    for door in outline.openings:
        if door.wall == index and door.door:
            p, q = a + way * door.s0, a + way * door.s1
            back = normal * (door.opening.depth + off)
            shapes.append(Polygon([p - back, q - back, q + normal * reach, p + normal * reach]))
    return union_of(shapes)


def _past(one: Floats, other: Floats, reach: float) -> float:
    """How far a band runs past the corner of two walls: to the mitre where it is re-entrant, else not at all."""
    turn = math.atan2(one[0] * other[1] - one[1] * other[0], float(one @ other))
    return reach * math.tan(-turn / 2) if turn < 0.0 else 0.0
