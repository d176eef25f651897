"""A first plan from few words: rectangle, L, U, T by sizes, a walk round the room; as text that a person goes on with."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING

import numpy as np

from layout.errors import PlanError
from layout.survey.found import on_walls, openings_of
from layout.units import parse_length

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from layout.errors import Point
    from layout.survey.found import FoundRoom

    Floats = NDArray[np.float64]

CLOSES = 50.0
"""A walk that ends farther from its start than this does not close, mm."""


def sizes_of(text: str, count: int, flag: str, meaning: str) -> list[float]:
    """Sizes written as 6000x4200 or 6 m x 4.2 m, mm, above 0.

    Raises
    ------
    PlanError
        If they are not so many lengths.
    """
    parts = [part.strip() for part in re.split(r"[xX×,]", text)]
    try:
        found = [parse_length(part) for part in parts]
    except ValueError:
        found = []
    if len(found) != count or any(not 0.0 < size < 1e6 for size in found):
        raise PlanError(flag, f"{text!r} found", f"give {meaning}")
    return found


def rectangle(width: float, height: float) -> list[Point]:
    """A rectangle from its lower-left corner, anticlockwise."""
    return [(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)]


def l_shape(width: float, height: float, cut_width: float, cut_height: float) -> list[Point]:
    """An L: a rectangle less its upper right corner."""
    _inside("--l", cut_width < width and cut_height < height)
    return [
        (0.0, 0.0),
        (width, 0.0),
        (width, height - cut_height),
        (width - cut_width, height - cut_height),
        (width - cut_width, height),
        (0.0, height),
    ]


def u_shape(width: float, height: float, gap_width: float, gap_height: float) -> list[Point]:
    """A U: a rectangle less the middle of its upper side."""
    _inside("--u", gap_width < width and gap_height < height)
    left, right, low = (width - gap_width) / 2, (width + gap_width) / 2, height - gap_height
    return [(0.0, 0.0), (width, 0.0), (width, height), (right, height), (right, low), (left, low), (left, height), (0.0, height)]


def t_shape(width: float, height: float, stem_width: float, stem_height: float) -> list[Point]:
    """A T: a bar along the top, a stem in the middle below it."""
    _inside("--t", stem_width < width and stem_height < height)
    left, right = (width - stem_width) / 2, (width + stem_width) / 2
    return [
        (left, 0.0),
        (right, 0.0),
        (right, stem_height),
        (width, stem_height),
        (width, height),
        (0.0, height),
        (0.0, stem_height),
        (left, stem_height),
    ]


def _inside(flag: str, fits: bool) -> None:
    if not fits:
        raise PlanError(flag, "the second pair of sizes is not smaller than the first", "give the whole, then what is taken or the stem")


def walk(text: str) -> tuple[list[Point], float]:
    """Corners of a walk round the room, and how far it ends from its start, mm.

    Lengths with turns between them: "6500 L 2900 L 2400 R 1800 L 4100 L 4700"; L or R is a right angle to the left or
    right, L45 another. A length that is left out at the end is closed by itself.

    Raises
    ------
    PlanError
        If a word is neither, or the walk does not close.
    """
    at, heading = np.zeros(2), 0.0
    corners: list[Point] = [(0.0, 0.0)]
    expects = "length"
    for word in text.replace(",", " ").split():
        turn = re.fullmatch(r"([LRlr])(\d+(?:\.\d+)?)?", word)
        if turn:
            if expects == "length":
                raise PlanError(
                    "--walk", f"{word!r} found where a length is wanted", "write lengths with turns between them: 6500 L 2900 L …"
                )
            heading += float(turn[2] or 90.0) * (1.0 if turn[1] in "Ll" else -1.0)
            expects = "length"
            continue
        try:
            length = parse_length(word)
        except ValueError:
            raise PlanError("--walk", f"{word!r} found", "write lengths in mm with L or R between them: 6500 L 2900 L …") from None
        if expects == "turn":
            raise PlanError("--walk", f"{word!r} follows a length", "put L or R between two walls")
        cos, sin = math.cos(math.radians(heading)), math.sin(math.radians(heading))
        at = at + length * np.array([round(cos, 12), round(sin, 12)])
        corners.append((float(round(at[0], 3)), float(round(at[1], 3))))
        expects = "turn"
    gap = math.dist(corners[-1], corners[0])
    if len(corners) < 4:
        raise PlanError("--walk", f"{len(corners) - 1} walls found", "a room has three at least")
    if gap <= CLOSES:
        return corners[:-1], gap
    (x0, y0), (x1, y1) = corners[0], corners[-1]
    last = math.degrees(math.atan2(y0 - y1, x0 - x1))
    square = min(abs(math.remainder(last - heading, 90.0)), 90.0)
    if square > 1.0:
        found = f"it ends {gap:.0f} from where it began, at [{x1:.0f}, {y1:.0f}]"
        raise PlanError("--walk", found, f"check the lengths; the walk must come back to within {CLOSES:g}")
    return corners, 0.0


def wall_name(number: int) -> str:
    """Name that a new plan gives a wall, by its number: it stays with the wall where a person puts corners in or takes them out.

    >>> wall_name(1), wall_name(26), wall_name(27)
    ('side A', 'side Z', 'side AA')
    """
    letters = ""
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(65 + rest) + letters
    return f"side {letters}"


def plan_text(outline: Sequence[Point], *, name: str, tile: tuple[float, float], note: str) -> str:
    """A commented plan of one room, ready to go on with; each wall has its name on the edge itself."""
    count = len(outline)
    corners = ",\n  ".join(f'{{ to = [{x:.10g}, {y:.10g}], wall = "{wall_name(k or count)}" }}' for k, (x, y) in enumerate(outline))
    quoted = name.replace("\\", "\\\\").replace('"', '\\"')
    return f"""# {note}
# Lengths are millimetres. Wall 1 runs from the first corner to the second: side A, which arrives at the second corner. Call the
# walls as you like: what refers to a name stays with its wall where corners are put in. `gaugerod check` tells slips with their mend.

[project]
title = "{quoted}"
# number = "A-001"
# date = 2026-11-30          # of issue; the programme starts from it

[tiles.floor]
size = [{tile[0]:g}, {tile[1]:g}]        # work size: measured, not the label on the box
thickness = 10
joint = 6
# pattern = "running"         # stack if not given

[rules]
wall_tolerance = 5            # how far walls may stand off this drawing; 3 after a survey
# movement = "DE_INTERIOR"    # the wet row of EJ171 if not given

[[rooms]]
name = "{quoted}"
outline = [
  {corners},
]
tanking_height = 150
# tile_height = 2400          # 0: walls are not tiled

# [[rooms.openings]]          # a door; sill = 900 makes it a hatch
# wall = "side A"
# offset = 900                # from the wall's first corner, or from = "left" as seen from inside
# width = 1000

# [[rooms.drains]]
# kind = "gully"
# at = [1500, 1500]

# [[rooms.pipes]]
# at = [600, 600]
# diameter = 110
"""


def found_plan(room: FoundRoom, *, note: str, tile: tuple[float, float] = (200.0, 200.0)) -> str:
    """A commented plan of a room that was found in a drawing or model, its lower left corner at the origin.

    `at` keeps its place, so that rooms of one drawing stand right on a key plan.
    """
    low = np.floor(room.outline.min(axis=0))

    def points(ring: Floats) -> list[Point]:
        return [(float(x), float(y)) for x, y in np.round(ring - low, 1) + 0.0]

    text = plan_text(points(room.outline), name=room.name, tile=tile, note=note)
    head, tail = text.split("tanking_height = 150\n")
    lines = [f"at = [{low[0]:.10g}, {low[1]:.10g}]           # where it lies in the drawing", "tanking_height = 150"]
    if room.height is not None:
        lines.append(f"height = {room.height:.10g}")
    tail, examples = tail.split("# [[rooms.openings]]", 1)
    tables = []
    for wall, offset, width in openings_of(room):
        head_line = f"\nhead = {room.head:.10g}" if room.head else ""
        tables.append(f'[[rooms.openings]]\nwall = "{wall_name(wall)}"\noffset = {offset:.10g}\nwidth = {width:.10g}{head_line}\n')
    doors = openings_of(room)
    for line, sill, lintel in room.windows:
        for wall, offset, width in on_walls(room, [line]):
            if not any(w == wall and offset < o + s and o < offset + width for w, o, s in doors):
                tables.append(
                    f'[[rooms.openings]]\nwall = "{wall_name(wall)}"\noffset = {offset:.10g}\nwidth = {width:.10g}\nsill = {sill:.10g}\nhead = {lintel:.10g}\n'
                )
    for hole in room.holes:
        corners = ", ".join(f"[{x:.10g}, {y:.10g}]" for x, y in points(hole))
        tables.append(f"[[rooms.columns]]\noutline = [{corners}]\n")
    for (x, y), diameter in room.pipes:
        tables.append(f"[[rooms.pipes]]\nat = [{x - low[0]:.10g}, {y - low[1]:.10g}]\ndiameter = {diameter:.10g}\n")
    for x, y in room.gullies:
        tables.append(f'[[rooms.drains]]\nkind = "gully"\nat = [{x - low[0]:.10g}, {y - low[1]:.10g}]\n')
    return head + "\n".join(lines) + "\n" + tail + "\n".join([*tables, "# [[rooms.openings]]" + examples])


def as_text(outline: Sequence[Point], width: int = 48) -> str:
    """The outline as characters: walls as #, two to the millimetres of one line down."""
    points = np.array(outline)
    low, high = points.min(axis=0), points.max(axis=0)
    step = max(float(high[0] - low[0]) / width, float(high[1] - low[1]) / (width / 2) / 1.0, 1.0)
    columns, lines = math.ceil((high[0] - low[0]) / step) + 1, math.ceil((high[1] - low[1]) / (2 * step)) + 1
    grid = [[" "] * columns for _ in range(lines)]
    for a, b in zip(points, np.roll(points, -1, axis=0), strict=True):
        for part in np.linspace(0.0, 1.0, 4 * max(columns, lines)):
            x, y = a + (b - a) * part - low
            grid[lines - 1 - round(y / (2 * step))][min(round(x / step), columns - 1)] = "#"
    return "\n".join("".join(row).rstrip() for row in grid)
