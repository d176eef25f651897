"""A first plan from few words: rectangle, L, U, T by sizes; as text that a person goes on with."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np

from layout.errors import PlanError
from layout.fields import clean
from layout.survey.found import on_walls, openings_of
from layout.units import metres_typed, parse_length

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from layout.errors import Point
    from layout.survey.found import FoundRoom

    Floats = NDArray[np.float64]


def sizes_of(text: str, count: int, flag: str, meaning: str, *, of_room: bool = False) -> list[float]:
    """Sizes written as 6000x4200 or 6 m x 4.2 m, mm, above 0; those of a room may not look like metres.

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
    small = next((part for part in parts if of_room and metres_typed(part)), None)
    if small is not None:
        raise PlanError(flag, f"{small} found", metres_typed(small))
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


EXAMPLES = """
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
"""Things as a person may give them, shown as remarks in a first plan."""


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


def escaped(text: str) -> str:
    r"""Words as they stand between double quotes in TOML.

    >>> escaped('Level "1"')
    'Level \\"1\\"'
    """
    return text.replace("\\", "\\\\").replace('"', '\\"')


def plan_text(
    outline: Sequence[Point],
    *,
    name: str,
    tile: tuple[float, float],
    note: str,
    joint: float = 6.0,
    keys: Mapping[str, float] | None = None,
    foot: str = "",
    examples: bool = True,
    bulges: Sequence[float] = (),
) -> str:
    """A commented plan of one room, ready to go on with; each wall has its name on the edge itself.

    `keys` are the room's heights by their keys, mm; `foot` which runs through at the foot of a wall; without `examples` no
    things are shown as remarks. `bulges` are those of the walls in order, as in DXF, where some are arcs.
    """
    count = len(outline)
    bows = [f", bulge = {bulge:.9g}" if bulge else "" for bulge in bulges] or [""] * count
    corners = ",\n  ".join(
        f'{{ to = [{x:.10g}, {y:.10g}]{bows[k - 1]}, wall = "{wall_name(k or count)}" }}' for k, (x, y) in enumerate(outline)
    )
    quoted = escaped(name)
    heights = {"tanking_height": 150.0, **(keys or {})}
    lines = [f"{key} = {value:.10g}" for key, value in heights.items()]
    if "tile_height" not in heights:
        lines.append("# tile_height = 2400          # 0: walls are not tiled")
    text = f"""# {clean(note)}
# Lengths are millimetres. Wall 1 runs from the first corner to the second: side A, which arrives at the second corner. Call the
# walls as you like: what refers to a name stays with its wall where corners are put in. `gaugerod check` tells slips with their mend.

[project]
title = "{quoted}"
# number = "A-001"
# date = 2026-11-30          # of issue; the programme starts from it

[tiles.floor]
size = [{tile[0]:g}, {tile[1]:g}]        # work size: measured, not the label on the box
thickness = 10
joint = {joint:g}
# pattern = "running"         # stack if not given

[rules]
wall_tolerance = 5            # how far walls may stand off this drawing; 3 after a survey
{f'foot = "{foot}"' + chr(10) if foot else ""}# movement = "DE_INTERIOR"    # the wet row of EJ171 if not given

[[rooms]]
name = "{quoted}"
outline = [
  {corners},
]
{chr(10).join(lines)}
"""
    return text + (EXAMPLES if examples else "")


def found_plan(room: FoundRoom, *, note: str, tile: tuple[float, float] = (200.0, 200.0), corner: tuple[float, float] | None = None) -> str:
    """A commented plan of a room that was found in a drawing or model, its lower left corner at the origin.

    `at` keeps its place, so that rooms of one drawing stand right on a key plan. With a `corner` the plan's axes begin there.
    """
    low = np.floor(room.outline.min(axis=0)) if corner is None else np.array(corner)

    def points(ring: Floats) -> list[Point]:
        return [(float(x), float(y)) for x, y in np.round(ring - low, 1) + 0.0]

    walls = room.walls
    starts = points(np.array([wall.points[0] for wall in walls]))
    tiled = {} if room.tile_height is None else {"tile_height": room.tile_height}
    text = plan_text(starts, name=room.name, tile=tile, note=note, keys=tiled, bulges=[wall.bulge for wall in walls])
    head, tail = text.split("tanking_height = 150\n")
    lines = [f"at = [{low[0]:.10g}, {low[1]:.10g}]           # where it lies in the drawing", "tanking_height = 150"]
    if room.height is not None:
        lines.append(f"height = {room.height:.10g}")
    if room.storey:
        lines.append(f'storey = "{escaped(room.storey)}"')
    tail, examples = tail.split("# [[rooms.openings]]", 1)
    tables = [
        f'[[rooms.walls]]\nwall = "{wall_name(number)}"\ntile_height = {height:.10g}\n'
        for number, height in enumerate(room.tiled, 1)
        if height != room.tile_height
    ]
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
