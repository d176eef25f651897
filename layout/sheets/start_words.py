"""The words beside the floor's setting-out: start table, checks, things by two lines, notes, what was measured."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from layout.plan.patterns import member_tiles
from layout.sheets.by_lines import first_tile, off_line, placed_points, squaring
from layout.sheets.column import told
from layout.sheets.edge_figures import SHORT, merged_cuts
from layout.sheets.snap_points import along_its_wall, face_of, measured, struck_between, tiled, where
from layout.tiles.pieces import saw_size
from layout.units import feet_inches

if TYPE_CHECKING:
    from layout.setout.values import RoomSetOut
    from layout.sheets.column import Column
    from layout.start.start_lines import StartLine

FOOT = {
    "wall-through": "wall tile runs down behind the floor",
    "floor-through": "floor tile runs under the wall tile",
    "cove": "a cove between floor and wall",
}
MOST_MEASURED = 12
"""Rooms with more straight walls get no boxes for measured lengths."""


def words(room: RoomSetOut, column: Column, present: set[str], scale: float, unplaced: list[tuple[str, str]]) -> None:
    """The column: start table, checks, notes, legend, findings, cautions."""
    tile = room.floor.tile
    column.head("Start lines: snap these first")
    _start_table(room, column)
    sizes = " and ".join(
        dict.fromkeys(f"{round(t.size[0], 1):g} × {round(t.size[1], 1):g}" for t in member_tiles(tile, room.floor.field.pattern))
    )
    column.words(f"Lines run along tile edges. {first_tile(room)} Tile {sizes}, joint {tile.joint:g}, {tile.pattern}. {_why(room)}")
    column.words(_square(room))
    _border(room, column)
    _things(room, column)
    _small_cuts(room, column, scale, unplaced)
    column.head("Notes")
    given = "bare substrate (render, screed)" if room.lining.room.outline_is == "substrate" else "finished face"
    rules = room.lining.plan.rules
    for text in (
        f"Figured dimensions only, in mm. The plan was measured to the {given}; the heavy line is the bare wall.",
        f"Figures at walls are saw sizes: factory edge to the face of the {rules.perimeter_joint:g} mm sealant joint. Foot of wall: {FOOT[rules.foot]}.",
        "Running dimensions outside the walls begin at the ring, where a start line meets the wall. Sequence: drains, lines, whole tiles, cuts.",
    ):
        column.words(text, bullet="•")
    column.head("Key")
    column.legend("start", present)
    column.findings(room, floor_only=True, most=4)
    _as_measured(room, column)
    if column.left > 62.0:
        column.cautions()


def _start_table(room: RoomSetOut, column: Column) -> None:
    """Start lines: square off a wall from each face that will be there, or struck between two points on walls."""
    rows = [["line", "from", "membrane", "bare wall", "tile face"]]
    struck = [["line", "struck between points on the face of"]]
    for line in room.floor.start.lines:
        if along_its_wall(room, line):
            for k, offset in enumerate(line.offsets):
                face = face_of(room, offset.wall)[0]
                rows.append(
                    [
                        line.name if k == 0 else "",
                        f"wall {offset.wall}, {_end(line, k)}",
                        f"{offset.membrane:.0f}" if face == "membrane" else "—",
                        f"{offset.bare:.0f}",
                        f"{offset.finished:.0f}" if tiled(room, offset.wall) else "—",
                    ]
                )
        else:
            struck += [[line.name if k == 0 else "", text] for k, text in enumerate(where(struck_between(room, line)))]
    if len(rows) > 1 and room.lining.plan.project.beside == "feet":
        rows[1:] = [[*row[:2], *(f"{each} = {feet_inches(float(each))}" if each != "—" else each for each in row[2:])] for row in rows[1:]]
        column.rows((12, 54, 36, 36, 36), rows, height=2.5, right=(2, 3, 4))
    elif len(rows) > 1:
        column.rows((16, 68, 30, 30, 30), rows, height=3.0, right=(2, 3, 4))
    if len(struck) > 1:
        column.rows((16, 158), struck, height=3.0)
    faces = {name for line in room.floor.start.lines for _, name in _measured(room, line)}
    column.words(
        f"Figures on the drawing are from the {' or the '.join(sorted(faces)) or 'membrane'}: the face that is there when lines are snapped, "
        "before wall tile. The others are for checking.",
        bullet="•",
    )


def _measured(room: RoomSetOut, line: StartLine) -> list[tuple[float, str]]:
    if along_its_wall(room, line):
        return [measured(room, offset) for offset in line.offsets]
    return [(each.along, each.face) for each in struck_between(room, line)]


def _end(line: StartLine, k: int) -> str:
    """Which end of a line an offset stands at, as seen on the sheet."""
    a, b = (np.array(offset.at) for offset in (line.offsets[k], line.offsets[1 - k]))
    way = a - b
    if abs(way[0]) >= abs(way[1]):
        return "right end" if way[0] > 0 else "left end"
    return "upper end" if way[1] > 0 else "lower end"


def _things(room: RoomSetOut, column: Column) -> None:
    """Drains, pipes, plinths and columns by two offsets from two start lines; a drain with its level."""
    lines = room.floor.start.lines
    first = next((line for line in lines if line.name == "A"), None)
    second = next((line for line in lines if line.name == "B"), None)
    points = placed_points(room)
    if first is None or second is None or not points:
        return
    column.head("Places on the floor, by two lines")
    rows = [["", "from A", "from B", "level"]]
    for name, at, drain in points:
        off = [f"{abs(off_line(line, at)):.0f}" for line in (first, second)]
        level = ""
        if drain:
            level = "as floor"
        if drain and room.levels is not None:
            found = room.levels.falls.drains.get(drain)
            level = told(float(room.levels.falls.at(np.array([at]))[0]) if found is None else found)
        rows.append([name, *off, level])
    column.rows((84, 30, 30, 30), rows, height=2.5, right=(1, 2, 3))


def _as_measured(room: RoomSetOut, column: Column) -> None:
    """Boxes to write the walls' measured lengths into, with the rule what to do."""
    walls = [wall for wall in room.lining.outline.walls if wall.run.straight]
    if not 3 <= len(walls) <= MOST_MEASURED:
        return
    column.head("As measured")
    half = (len(walls) + 1) // 2
    rows = [["wall", "drawn", "as measured", "wall", "drawn", "as measured"]]
    for k in range(half):
        row: list[str] = []
        for wall in walls[k::half][:2]:
            row += [f"{wall.run.number}", f"{wall.run.length:.0f}", "__________"]
        rows.append(row + [""] * (6 - len(row)))
    column.rows((18, 26, 43, 18, 26, 43), rows, height=2.5, right=(1, 4))
    play = room.lining.plan.rules.wall_tolerance
    column.words(f"More than {play:g} out: stop, tell the setter-out; cuts and orders may change.", bullet="□")


def _small_cuts(room: RoomSetOut, column: Column, scale: float, unplaced: list[tuple[str, str]]) -> None:
    """Cuts at things too small or too crowded to write beside, one row each."""
    tile = room.floor.tile
    rows: dict[str, list[str]] = {}
    for label, figure in unplaced:
        rows.setdefault(label, []).append(figure)
    for cut in merged_cuts(room.floor.wall_cuts):
        if float(np.hypot(*(cut.edge[1] - cut.edge[0]))) / scale >= SHORT:
            continue
        values = cut.turns or ((cut.start,) if abs(cut.start - cut.end) < 1.0 else (cut.start, cut.end))
        way = cut.edge[1] - cut.edge[0]
        side = ("above" if way[0] > 0 else "below") if abs(way[0]) >= abs(way[1]) else ("right" if way[1] < 0 else "left")
        rows.setdefault(cut.label, []).append(f"{side} {' / '.join(f'{saw_size(v, tile):g}' for v in values)}")
    if rows:
        column.head("Cuts without room on the drawing, as seen on the sheet")
        column.rows((40, 134), [["at", "saw sizes"], *[[label, ", ".join(dict.fromkeys(texts))] for label, texts in rows.items()]])


def _border(room: RoomSetOut, column: Column) -> None:
    """The border course in words: how deep, and where its inner edge runs."""
    course = next((done for done in room.surfaces if done.surface.kind == "border"), None)
    if course is None or room.floor.tile.border is None:
        return
    count = room.floor.tile.border.courses
    inner, face = measured(room, course.start.lines[0].offsets[0])
    w, h = course.tile.size
    column.words(
        f"Border first: {count} course{'s' if count > 1 else ''} of “{course.tile.name}” {w:g} × {h:g}, long side along the wall, "
        f"inner edge {inner:.0f} from the {face} of every wall; the lower wall number runs through at corners."
    )


def _why(room: RoomSetOut) -> str:
    start, play = room.floor.start, room.lining.plan.rules.wall_tolerance
    how = start.known(play, joints=len(room.floor.bays) > 1)
    at = f" at {start.smallest_at}" if start.smallest_at else ""
    text = f"{how[0].upper()}{how[1:]}: narrowest cut {start.smallest:.0f}{at}, {start.worst:.0f} if walls stand off by {play:g}."
    if start.runners_up:
        other = start.runners_up[0]
        text += f" Next best: {other.smallest:.0f}, {other.worst:.0f}."
    return text


def _square(room: RoomSetOut) -> str:
    """A 3-4-5 check that the floor takes, and the room's diagonals."""
    square = squaring(room)
    walls = room.lining.outline.walls
    if len(walls) != 4 or not all(wall.run.straight for wall in walls):
        return square
    corners = [wall.run.points[0] for wall in walls]
    one, two = (float(np.hypot(*(corners[k] - corners[k + 2]))) for k in (0, 1))
    return f"{square} Diagonals of the bare room: {one:.0f} and {two:.0f}."
