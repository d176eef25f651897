"""Upright faces as they rise: walls, sides of plinths and columns, reveals, in stretches with what stands before each.

On an upright face x runs right from the left-hand end as seen from the room, y up from the room's substrate floor.
`layout.lining.trimming` cuts them to shape.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal, TypeAlias

import numpy as np
import shapely
from shapely import Polygon

from layout.identity import SurfaceId
from layout.lining.flats import break_on, numbered
from layout.lining.surfaces import Placing
from layout.room.outlines import wall_span
from layout.room.shell import FLOOR
from layout.units import EPS, TOUCH
from layout.vectors import rightward, unit
from layout.words import worded

if TYPE_CHECKING:
    from collections.abc import Mapping

    from layout.falls.shaping import Falls
    from layout.lining.surfaces import BreakOn
    from layout.plan.values import Break, Plan, Tile
    from layout.room.outlines import OpeningAt, Outline
    from layout.room.rings import Run
    from layout.room.shell import Cell, Face, Shell
    from layout.vectors import Floats

DEEP = 5000.0
"""How far a door's box reaches below the floor at the walls: no floor falls further, mm."""
FOOT_STEP = 100.0
"""Levels along the foot of a curved face are taken this often, mm."""

RunKey: TypeAlias = tuple[str, int, int]


@dataclass(frozen=True, slots=True, eq=False)
class Shelled:
    """What upright faces are made from: a room's outline and shell, the falls of its floor, the faces of each run."""

    plan: Plan
    room: int
    outline: Outline
    shell: Shell
    falls: Falls | None
    by_run: Mapping[RunKey, tuple[Face, ...]]


def shelled(plan: Plan, room: int, outline: Outline, shell: Shell, falls: Falls | None) -> Shelled:
    """The same, with the faces of the shell by run."""
    by_run: dict[RunKey, tuple[Face, ...]] = {}
    for face in shell.faces:
        by_run[face.run] = (*by_run.get(face.run, ()), face)
    return Shelled(plan, room, outline, shell, falls, by_run)


@dataclass(frozen=True, slots=True, eq=False)
class Stretch:
    """A stretch of an upright face in its own x, with the level of what stands before it.

    `foot` (n, 2) is the line that it rises from where the floor falls along it, own axes; `sill` whether it stands on that of a hatch,
    where no floor and no cove goes.
    """

    x0: float
    x1: float
    bottom: float
    low: Cell
    foot: Floats | None = None
    sill: bool = False

    def shape(self, top: float) -> Polygon:
        """The face of the stretch up to a level; empty where it does not reach."""
        if self.foot is None:
            return shapely.box(self.x0, self.bottom, self.x1, top) if top > self.bottom + EPS else Polygon()
        return Polygon([*self.foot, (self.x1, top), (self.x0, top)]) if top > self.foot[:, 1].max() + EPS else Polygon()


@dataclass(frozen=True, slots=True, eq=False)
class Rise:
    """What an upright surface is made of before it is cut to shape.

    `line` (n, 2) from its left-hand end; `tile_top` and `tanked_top` mm; `openings` are boxes with their depth.
    """

    id: SurfaceId
    run_key: RunKey
    length: float
    line: Floats
    tile: Tile | None
    tile_top: float
    tanked_top: float
    build_up: float
    pieces: tuple[Stretch, ...] = ()
    openings: tuple[tuple[Polygon, float], ...] = ()
    breaks: tuple[BreakOn, ...] = ()
    wall: int = 0


def wall_rise(of: Shelled, index: int) -> Rise:
    """A wall, with what is left of it between its doors, and its openings, pipes and fixings."""
    wall = of.outline.walls[index]
    run = wall.run
    key = ("wall", index, index)
    openings = [opening for opening in of.outline.openings if opening.wall == index]
    pieces = [Stretch(run.length - face.tag.s1, run.length - face.tag.s0, face.bottom, face.low) for face in of.by_run.get(key, ())]
    pieces += [Stretch(run.length - opening.s1, run.length - opening.s0, 0.0, FLOOR) for opening in openings if opening.door]
    fixed = [
        (number, each, each.wall) for number, each in numbered(of.outline.room.pipes, of.outline.room.fixings) if each.wall is not None
    ]
    return _on_floor(
        of,
        Rise(
            id=SurfaceId(of.room, "wall", run.number, 0, wall.label),
            run_key=key,
            length=run.length,
            line=run.points[::-1],
            tile=wall.tile,
            tile_top=wall.tile_height,
            tanked_top=wall.tanking_height,
            build_up=wall.build_up,
            pieces=tuple(pieces),
            openings=tuple(_opening_box(opening, run) for opening in openings),
            breaks=tuple(_wall_break(of, each, number, run) for number, each, ref in fixed if of.outline.wall_index(ref) == index),
            wall=run.number,
        ),
    )


def _opening_box(opening: OpeningAt, run: Run) -> tuple[Polygon, float]:
    sill = -DEEP if opening.door else opening.opening.sill
    return shapely.box(run.length - opening.s1, sill, run.length - opening.s0, opening.opening.head), opening.opening.depth


def _wall_break(of: Shelled, each: Break, number: int, run: Run) -> BreakOn:
    assert each.wall is not None
    span = wall_span(of.outline.room, of.outline.walls, each.wall, each.offset, 0.0, each.measured_from)
    assert span is not None  # the plan was checked
    at = (run.length - span[1], each.level)
    return break_on(each, at, of.plan.rules, number)


def side_rise(of: Shelled, kind: Literal["plinth", "column"], index: int, run_index: int) -> Rise:
    """A side of a plinth or column."""
    solid = (of.outline.plinths if kind == "plinth" else of.outline.columns)[index]
    run = solid.runs[run_index]
    key = (kind, index, run_index)
    name = worded("{name} side {number}", name=solid.solid.name, number=run.number)
    return _on_floor(
        of,
        Rise(
            id=SurfaceId(of.room, "plinth-side" if kind == "plinth" else "column-side", index + 1, run.number, name),
            run_key=key,
            length=run.length,
            line=run.points,
            tile=solid.tile,
            tile_top=solid.height if kind == "plinth" else solid.tile_height,
            tanked_top=solid.height if kind == "plinth" else solid.tanking_height,
            build_up=solid.build_up,
            pieces=tuple(Stretch(face.tag.s0, face.tag.s1, face.bottom, face.low) for face in of.by_run.get(key, ())),
        ),
    )


def reveal_rises(of: Shelled, number: int) -> tuple[Rise, ...]:
    """The jambs of an opening with depth, as seen from the room's side of the wall; none where it has no depth."""
    opening = of.outline.openings[number]
    reach, head = opening.reach, opening.opening.head
    wall = of.outline.walls[opening.wall]
    if opening.opening.depth <= 0.0:
        return ()
    a, b = wall.run.at(opening.s0), wall.run.at(opening.s1)
    out = unit(rightward(b - a)) * reach
    # seen from inside, the anticlockwise end of a wall is on the left
    lines = (("left", 1, np.array([b, b + out])), ("right", 2, np.array([a + out, a])))
    return tuple(
        _on_floor(
            of,
            Rise(
                id=SurfaceId(of.room, "reveal", opening.index + 1, side, f"{opening.opening.name} {name}"),
                run_key=("reveal", number, 1 if name == "left" else 0),
                length=reach,
                line=line,
                tile=wall.tile,
                tile_top=min(head, wall.tile_height),
                tanked_top=min(head, wall.tanking_height),
                build_up=wall.build_up,
                pieces=_reveal_pieces(of, opening, ("reveal", number, 1 if name == "left" else 0)),
                wall=wall.run.number,
            ),
        )
        for name, side, line in lines
    )


def _reveal_pieces(of: Shelled, opening: OpeningAt, key: RunKey) -> tuple[Stretch, ...]:
    """A jamb in stretches: over the floor and over what stands in the doorway; of a hatch, over its sill."""
    if not opening.door:
        return (Stretch(0.0, opening.reach, opening.opening.sill, FLOOR, sill=True),)
    faces = of.by_run.get(key, ())
    return tuple(Stretch(opening.reach - face.tag.s1, opening.reach - face.tag.s0, face.bottom, face.low) for face in faces)


def _on_floor(of: Shelled, rise: Rise) -> Rise:
    """The same, its stretches rising from the floor as it falls."""
    falls = of.falls
    if falls is None:
        return rise
    floor = of.outline.room.levels.floor
    return replace(rise, pieces=tuple(_sunk(falls, floor, rise, piece) if piece.low == FLOOR else piece for piece in rise.pieces))


def _sunk(falls: Falls, floor: float, rise: Rise, piece: Stretch) -> Stretch:
    steps = max(2, math.ceil((piece.x1 - piece.x0) / FOOT_STEP) + 1)
    x = np.unique(np.append(np.linspace(piece.x0, piece.x1, steps), _bends(falls, rise, piece)))
    plan = Placing(line=rise.line).to_room(np.column_stack([x, np.zeros(len(x))]))[:, :2]
    level = falls.at(plan) - floor
    line = shapely.LineString(np.column_stack([x, np.round(level, 3)])).simplify(TOUCH / 2)
    return replace(piece, foot=shapely.get_coordinates(line))


def _bends(falls: Falls, rise: Rise, piece: Stretch) -> Floats:
    """Where lines between facets meet a face, own x."""
    line = shapely.LineString(rise.line)
    corners = np.concatenate([shapely.get_coordinates(f.polygon) for f in falls.facets])
    near = np.asarray(shapely.distance(shapely.points(corners), line)) < 1.0
    x = np.asarray(shapely.line_locate_point(line, shapely.points(corners[near])))
    return x[(x > piece.x0) & (x < piece.x1)]
