"""Key plans: where rooms lie, their numbers and names, and the sheets that show each; one for each storey."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import Polygon, box

from layout.shapes import turned
from layout.sheets.lettering import text_width
from layout.sheets.paper import BLOCK_HEIGHT, PLAN_SCALES, SCALES, drawing_space
from layout.sheets.place import Placer
from layout.sheets.scene import Fill, Label, Primitive, Stroke, View
from layout.sheets.spots import REACHES, leader_spots
from layout.words import say

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from layout.setout.values import RoomSetOut

    Floats = NDArray[np.float64]
    Placed = tuple[int, RoomSetOut, Floats]
    Line = tuple[str, float, bool]

LIST = 168.0
"""Width of the lists beside a key plan, paper mm."""
NUMBER, NAME, NUMBERS = 5.0, 3.5, 2.5
"""Heights of a room's number, its name and the numbers of its sheets, paper mm; a name that is too wide is as small as the latter."""
LETTERS = (NAME, NUMBERS)
APART, OFF_WALLS = 1.6, 0.7
"""Between the lines inside a room, and kept off its walls, paper mm."""
NEAR = REACHES[:6]
"""So near to its room a name stands outside; where it cannot, the number stands alone."""


@dataclass(frozen=True, slots=True, eq=False)
class KeyPlan:
    """A key plan as a paper scene, its scale, the words that must be on it and those that have no place."""

    scene: list[Primitive]
    scale: float
    needed: tuple[str, ...]
    missing: tuple[str, ...]


def outline_on_plan(room: RoomSetOut) -> Floats:
    """The room's outline where it lies among the others, (n, 2) mm."""
    given = room.lining.room
    result: Floats = turned(np.array(room.lining.outline.outer.points), given.turn) + np.array(given.at)
    return result


def ranges(numbers: Iterable[int]) -> str:
    """Numbers in words, those that follow each other as one.

    >>> ranges([4, 2, 3, 9, 6, 7])
    '2–4, 6, 7, 9'
    """
    runs: list[list[int]] = []
    for number in sorted(set(numbers)):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(f"{run[0]}–{run[-1]}" if len(run) > 2 else ", ".join(map(str, run)) for run in runs)


def scale_for(rooms: Sequence[RoomSetOut], size: tuple[float, float], *, beside: bool) -> float:
    """The largest usual reduction, 1:20 at most, at which rooms of a storey go on a paper, lists beside them or not."""
    low, high = _extent([ring for _, _, ring in placed(list(enumerate(rooms)))])
    scales = (*PLAN_SCALES, *(scale for scale in SCALES if scale > PLAN_SCALES[-1]))
    return next((scale for scale in scales if ((high - low) / scale <= _space(size, beside)).all()), SCALES[-1])


def _space(size: tuple[float, float], beside: bool) -> Floats:
    x0, y0, x1, y1 = drawing_space(size)
    return np.array([x1 - x0 - (LIST if beside else 0.0) - 24.0, y1 - y0 - BLOCK_HEIGHT - 30.0])


def _extent(rings: Sequence[Floats]) -> tuple[Floats, Floats]:
    points = np.concatenate(rings)
    return points.min(axis=0), points.max(axis=0)


def without_places(rooms: Sequence[RoomSetOut]) -> bool:
    """Whether nobody said where several rooms lie: all are at one place."""
    return len(rooms) > 1 and len({room.lining.room.at for room in rooms}) == 1


def placed(rooms: Sequence[tuple[int, RoomSetOut]]) -> list[Placed]:
    """Rooms with their numbers and outlines, mm: as the plan places them, side by side where it does not."""
    rings = [outline_on_plan(room) for _, room in rooms]
    if without_places([room for _, room in rooms]):
        rings = _in_a_row(rings)
    return [(number, room, ring) for (number, room), ring in zip(rooms, rings, strict=True)]


def _in_a_row(rings: list[Floats]) -> list[Floats]:
    result, x = [], 0.0
    for ring in rings:
        low, high = ring.min(axis=0), ring.max(axis=0)
        result.append(ring - low + np.array([x, 0.0]))
        x += float(high[0] - low[0]) + 1500.0
    return result


def key_plan(
    rooms: Sequence[tuple[int, RoomSetOut]], shown: dict[int, str], size: tuple[float, float], *, scale: float, beside: bool
) -> KeyPlan:
    """Rooms of a storey on a paper of a size, lists beside it or not; `shown` has the sheets that show each room, by its number."""
    x0, y0, x1, y1 = drawing_space(size)
    every = placed(rooms)
    low, high = _extent([ring for _, _, ring in every])
    corner = np.array([x0 + 10.0, y0 + BLOCK_HEIGHT + 8.0]) + (_space(size, beside) - (high - low) / scale) / 2
    placer = Placer((x0 + 2.0, y0 + BLOCK_HEIGHT + 2.0, x1 - (LIST + 6.0 if beside else 2.0), y1 - 18.0))
    shapes = {number: Polygon((ring - low) / scale + corner) for number, _, ring in every}
    scene: list[Primitive] = []
    outside: list[tuple[str, str, Polygon]] = []
    for number, room, _ in every:
        shape = shapes[number]
        scene += [Fill(shape, "TONE", 0.12), Stroke(shapely.get_coordinates(shape.exterior)[:-1], "WALL", closed=True)]
        lines = _lines(number, room.name, shown.get(number, ""), shape)
        for label in lines:
            placer.fix(label)
        if not lines:
            outside.append((f"{number}", f"{number} {room.name}", shape))
    walls = shapely.get_coordinates([shape.exterior.segmentize(2.0) for shape in shapes.values()])
    placer.block_all(np.hstack([walls - 0.3, walls + 0.3]))
    for number_only, named, shape in outside:
        middle = shapely.point_on_surface(shape)
        foot = (middle.x, middle.y)
        # where the walls are short, the name or at least the number stands off with a leader rather than over its neighbour's
        spots = [*leader_spots(foot, text=named, reaches=NEAR), *leader_spots(foot)]
        placer.place(number_only, NAME, "TEXT", spots, bold=True, needed=True, foot=foot)
    placer.finish()
    scene += placer.drawn(View((0.0, 0.0), (0.0, 0.0), 1.0, size))
    if without_places([room for _, room in rooms]):
        scene.append(Label(say("The plan does not place these rooms: they stand side by side."), (x0 + 5.0, y1 - 14.5), NUMBERS, "TEXT"))
    return KeyPlan(scene, scale, placer.needed(), placer.missing())


def _lines(number: int, name: str, sheets: str, shape: Polygon) -> list[Label]:
    """Number, name and sheets under each other inside a room's outline, paper mm; else what of them goes there, in one line, turned too."""
    listed = [(say("sheets {numbers}", numbers=sheets), NUMBERS, False)] if sheets else []
    stacks: list[list[Line]] = [[(f"{number}", NUMBER, True), (name, height, False), *more] for more in (listed, []) for height in LETTERS]
    in_one = [(f"{number} {name}", NAME, True), (f"{number} {name}", NUMBERS, True), (f"{number} {name}", NUMBERS, False)]
    number_only = [(f"{number}", height, True) for height in LETTERS]
    tries = [
        *((lines, 0.0) for lines in stacks),
        *(([line], turn) for lines in (in_one, number_only) for line in lines for turn in (0.0, 90.0)),
    ]
    inmost = shapely.get_point(shapely.maximum_inscribed_circle(shape, tolerance=0.5), 0)
    middles = [(at.x, at.y) for at in (shapely.point_on_surface(shape), shape.centroid, inmost)]
    for (lines, turn), middle in itertools.product(tries, middles):
        made = _stacked(lines, middle, turn, shape)
        if made:
            return made
    return []


def _stacked(lines: Sequence[Line], middle: tuple[float, float], turn: float, shape: Polygon) -> list[Label]:
    """Lines round a point of a room, (text, height, bold) each; nothing where they do not go inside its walls."""
    wide = max(text_width(text, height, bold) for text, height, bold in lines)
    tall = math.fsum(height for _, height, _ in lines) + APART * (len(lines) - 1)
    across, upward = (wide, tall) if turn == 0.0 else (tall, wide)
    x, y = middle
    half = across / 2 + OFF_WALLS, upward / 2 + OFF_WALLS
    if not box(x - half[0], y - half[1], x + half[0], y + half[1]).within(shape):
        return []
    if turn:
        return [Label(text, middle, height, "TEXT", "centre", "middle", turn, bold=bold) for text, height, bold in lines]
    result, top = [], y + tall / 2
    for text, height, bold in lines:
        result.append(Label(text, (x, top - height), height, "TEXT", "centre", bold=bold))
        top -= height + APART
    return result
