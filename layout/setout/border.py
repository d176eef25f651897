"""Courses of a border along their wall, set out."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.joints.lines import Bay
from layout.lining.borders import band_of, wall_line
from layout.plan.patterns import pattern_of
from layout.setout.values import Start, SurfaceSetOut
from layout.shapes import cleaned, parts_of, turned, turned_shape, union_of
from layout.start.measured import JOINT, narrow_pieces
from layout.start.offsets import best_offsets, snapped
from layout.start.start_lines import LineOffset, StartLine
from layout.start.walls import Walls
from layout.tiles.lay import TileField, lay
from layout.units import TOUCH
from layout.vectors import pair

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shapely.geometry.base import BaseGeometry

    from layout.lining.build import Lining
    from layout.lining.surfaces import Surface
    from layout.plan.values import Tile


def border_course(
    lining: Lining, surface: Surface, tile: Tile, floor: SurfaceSetOut, between: Sequence[BaseGeometry]
) -> SurfaceSetOut | None:
    """Courses of a border along their wall: whole across, the best start along it, cut through at the floor's joints.

    `between` are the bays of the whole floor from joint to joint; in a neck one may lie in the border alone.
    """
    bays = [shapely.intersection(bay, surface.region) for bay in between]
    parts = [part for part in parts_of(cleaned(union_of(bays))) if part.area > TOUCH]
    if not parts:
        return None
    index = next(k for k, wall in enumerate(lining.outline.walls) if wall.run.number == surface.wall)
    ends, normal, off = wall_line(lining.outline, floor.surface, index)
    angle = math.degrees(math.atan2(-normal[0], normal[1]))
    face = turned(ends + normal * off, -angle)
    spans = np.array([turned_shape(part, -angle).bounds for part in parts])[:, [0, 2]]
    play = np.full(2 * len(parts), lining.plan.rules.wall_tolerance)
    play[int(spans[:, 0].argmin())] = 0.0
    first = np.arange(2 * len(parts)) == int(spans[:, 0].argmin())
    across = replace(Walls.plain(spans.T.ravel(), np.repeat([True, False], len(parts)), play), datum=first)
    pattern = pattern_of(tile)
    choices = best_offsets(across, tile.size[0] + tile.joint, tile.size[0])
    origin = turned(np.array([[snapped(choices[0].at), float(face[0, 1])]]), angle)[0]
    laid = [lay(part, pattern, angle, origin) for part in parts]
    kept = [k for k, each in enumerate(laid) if len(each.whole) + len(each.cut)]
    if not kept:
        return None
    field = TileField(pattern, angle, np.tile(origin, (len(kept), 1)), tuple(laid[k] for k in kept))
    strip, piece = narrow_pieces(field)
    drawn, at, within = choices[0].drawn, "its ends", False
    if strip is not None and strip.width < drawn - TOUCH:  # the search knows the ends of parts alone, not joints and corners within them
        drawn, at, within = strip.width, JOINT.name, True
    reach = off + band_of(tile, floor.tile.border.courses if floor.tile.border else 1)
    line = turned(np.array([[spans.min(), face[0, 1]], [spans.max(), face[0, 1]]]), angle) + normal * (reach - off)
    wall = lining.outline.walls[index]
    offsets = tuple(LineOffset(surface.wall, pair(at), reach, reach - lining.plan.rules.membrane, reach - wall.build_up) for at in line)
    snap_line = StartLine(f"R{surface.wall}", pair(line[0]), pair(line[1]), offsets, 0, pair(-normal))
    return SurfaceSetOut(
        surface=surface,
        tile=tile,
        field=field,
        bays=tuple(Bay(parts[k], pair(origin), float(np.ptp(spans[k])), reach - off) for k in kept),
        start=Start(
            origin=pair(origin),
            smallest=drawn,
            worst=min(choices[0].worst, drawn),
            smallest_at=at,
            method="tried" if within else "exact",
            lines=(snap_line,),
            runners_up=(),
            piece=piece,
            tried=1 if within else 0,
        ),
        wall_cuts=(),
        necks=(),
        lost_mm2=field.lost_mm2 + math.fsum(part.area for k, part in enumerate(parts) if k not in kept),
    )
