"""Which lines that are snapped would move, by how much, and from which face that is seen.

A line is held against the new lattice of the bay that lies most in its old one, square to itself, where it was snapped; whole
tiles apart being the same.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.changes.values import SAME, LineMove
from layout.shapes import turned
from layout.vectors import cross, unit

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

    from layout.changes.match import Motion
    from layout.setout.values import SurfaceSetOut
    from layout.start.start_lines import StartLine
    from layout.vectors import Floats

TURNED = 1e-3
"""Directions that differ by less are one, degrees."""


def line_moves(old: SurfaceSetOut, new: SurfaceSetOut, motion: Motion, walls: Mapping[int, int]) -> Iterator[LineMove]:
    """Start lines of a surface along which no tile edge of the new one runs where it did; `walls` are old numbers to new ones."""
    if (old.tile.size, old.tile.joints, old.field.pattern.name) != (new.tile.size, new.tile.joints, new.field.pattern.name):
        return  # another tile: every line is another one, which the change of tile tells
    flat = old.surface.placing.line is None
    place = motion.moved if flat else along_face(old, new, motion)
    period = 90.0 if new.tile.size[0] == new.tile.size[1] else 180.0
    turn = math.remainder(new.turn - old.turn - (motion.turn if flat else 0.0), period)
    steps = turned(new.field.pattern.vectors, new.turn)
    for index, line in enumerate(old.start.lines):
        ends = place(np.array([line.start, line.end]))
        region = shapely.transform(old.bays[line.bay].region, place)
        bay = int(np.argmax([shapely.area(shapely.intersection(region, each.region)) for each in new.bays]))
        off = _middle(new, bay) - place(_middle(old, line.bay)[None])[0]
        off = off - np.round(off @ np.linalg.inv(steps)) @ steps
        moved = float(cross(unit(ends[1] - ends[0]), off))
        if abs(moved) < SAME and abs(turn) < TURNED:
            continue
        wall, face, was, now = _seen_from(new, line, walls) if flat else _up_face(line, ends, moved)
        yield LineMove(
            on=new.surface.id, index=index, name=line.name, moved=moved, turned=turn, wall=wall, before=was, after=now, face=face
        )


def along_face(old: SurfaceSetOut, new: SurfaceSetOut, motion: Motion) -> Callable[[Floats], Floats]:
    """How places on an upright face move along it: by what its left-hand end moved in the room."""
    assert old.surface.placing.line is not None
    assert new.surface.placing.line is not None
    left, line = motion.moved(old.surface.placing.line[:1])[0], new.surface.placing.line
    off = np.array([float((left - line[0]) @ unit(line[1] - line[0])), 0.0])

    def place(points: Floats) -> Floats:
        result: Floats = np.asarray(points, dtype=float) + off
        return result

    return place


def _middle(surface: SurfaceSetOut, bay: int) -> Floats:
    """Middle of the first tile of a bay: the same from whichever side a room is read."""
    result: Floats = surface.field.origins[bay] + turned(surface.field.pattern.members[0].mean(axis=0)[None], surface.turn)[0]
    return result


def _seen_from(new: SurfaceSetOut, line: StartLine, walls: Mapping[int, int]) -> tuple[int, str, float, float]:
    """The wall that a line of a flat surface is measured from, by its new number, and the distances before and after."""
    if not line.offsets:
        return 0, "", math.nan, math.nan
    was = line.offsets[0]
    number = walls.get(was.wall, 0)
    found = [o.bare for each in new.start.lines for o in each.offsets if o.wall == number]
    now = min(found, key=lambda bare: abs(bare - was.bare)) if found else math.nan
    return number or was.wall, f"wall {number or was.wall}" + ("" if number else " as it was numbered"), was.bare, now


def _up_face(line: StartLine, ends: Floats, moved: float) -> tuple[int, str, float, float]:
    """A line of an upright face, from the floor or from the face's left-hand end."""
    level = abs(line.start[1] - line.end[1]) < SAME
    was = line.start[1] if level else line.start[0]
    there = float(ends[0][1] if level else ends[0][0])
    return 0, "the bare floor" if level else "the left-hand end", was, there + (moved if level else -moved)
