"""The words beside the floor's setting-out: start table, checks, things by two lines, notes, what was measured."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from layout.plan.patterns import member_tiles
from layout.setout.runs import runs_of
from layout.sheets.by_lines import first_tile, off_line, placed_points, squaring
from layout.sheets.column import told
from layout.sheets.edge_figures import SHORT, merged_cuts
from layout.sheets.snap_points import along_its_wall, face_of, measured, struck_between, tiled, where
from layout.tiles.pieces import saw_size
from layout.units import feet_inches
from layout.words import listed, say, spelt, worded

if TYPE_CHECKING:
    from layout.setout.values import RoomSetOut
    from layout.sheets.column import Column
    from layout.start.start_lines import StartLine

FOOT = {
    "wall-through": worded("wall tile runs down behind the floor"),
    "floor-through": worded("floor tile runs under the wall tile"),
    "cove": worded("a cove between floor and wall"),
}
MOST_MEASURED = 12
"""Rooms with more straight walls get no boxes for measured lengths."""


def words(room: RoomSetOut, column: Column, present: set[str], scale: float, unplaced: list[tuple[str, str]]) -> None:
    """The column: start table, checks, notes, legend, findings, cautions."""
    tile = room.floor.tile
    column.head(say("Start lines: snap these first"))
    _start_table(room, column)
    sizes = say(" and ").join(
        dict.fromkeys(f"{round(t.size[0], 1):g} × {round(t.size[1], 1):g}" for t in member_tiles(tile, room.floor.field.pattern))
    )
    column.words(
        say(
            "Lines run along tile edges. {first_tile} Tile {sizes}, joint {joint}, {pattern}. {why}",
            first_tile=first_tile(room),
            sizes=sizes,
            joint=_joints(room),
            pattern=tile.pattern,
            why=_why(room),
        )
    )
    _rod(room, column)
    column.words(_square(room))
    _border(room, column)
    _things(room, column)
    _small_cuts(room, column, scale, unplaced)
    column.head(say("Notes"))
    given = say("bare substrate (render, screed)") if room.lining.room.outline_is == "substrate" else say("finished face")
    rules = room.lining.plan.rules
    for text in (
        say("Figured dimensions only, in mm. The plan was measured to the {given}; the heavy line is the bare wall.", given=given),
        say(
            "Figures at walls are saw sizes: factory edge to the face of the {perimeter_joint:g} mm sealant joint. Foot of wall: {foot}.",
            perimeter_joint=rules.perimeter_joint,
            foot=FOOT[rules.foot],
        ),
        say(
            "Running dimensions outside the walls begin at the ring, where a start line meets the wall. Sequence: "
            "drains, lines, whole tiles, cuts."
        ),
    ):
        column.words(text, bullet="•")
    column.head(say("Key"))
    column.legend("start", present)
    column.findings(room, floor_only=True, most=4)
    _as_measured(room, column)
    if column.left > 62.0:
        column.cautions()


def _start_table(room: RoomSetOut, column: Column) -> None:
    """Start lines: square off a wall from each face that will be there, or struck between two points on walls."""
    rows = [[say("line"), say("from"), say("membrane"), say("bare wall"), say("tile face")]]
    struck = [[say("line"), say("struck between points on the face of")]]
    for line in room.floor.start.lines:
        if along_its_wall(room, line):
            for k, offset in enumerate(line.offsets):
                face = face_of(room, offset.wall)[0]
                rows.append(
                    [
                        line.name if k == 0 else "",
                        say("wall {wall}, {end}", wall=offset.wall, end=_end(line, k)),
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
        say(
            "Figures on the drawing are from the {faces}: the face that is there when lines are snapped, before wall "
            "tile. The others are for checking.",
            faces=listed(sorted(faces), " or the ") or say("membrane"),
        ),
        bullet="•",
    )


def _joints(room: RoomSetOut) -> str:
    """The joint between the floor's tiles; both ways where the gauge makes them differ."""
    tile = room.floor.tile
    if tile.opened == (0.0, 0.0):
        return f"{tile.joint:g}"
    return say("{along:.2f} along the courses and {across:.2f} between them", along=tile.joints[0], across=tile.joints[1])


def _rod(room: RoomSetOut, column: Column) -> None:
    """Where the gauge is taken: the runs that it opens or closes, and the marks of the rod, cumulated so that no error adds up."""
    floor = room.floor
    runs = runs_of(floor) if floor.tile.opened != (0.0, 0.0) else ()
    chosen = [next((run for run in runs if run.axis == axis), None) for axis, by in enumerate(floor.tile.opened) if by != 0.0]
    if not any(chosen):
        return
    column.head(say("The rod: joints as the gauge has them"))
    for run in chosen:
        if run is not None:
            column.words(spelt(run.words(floor.tile.joint)), bullet="•")
            marks = " · ".join(f"{round(2.0 * edge) / 2.0:g}" for edge in run.edges)
            column.words(
                say(
                    "Mark the rod at the far edge of each tile, from the joint's face at {end}, never from tile to tile: {marks}",
                    end=run.ends[0],
                    marks=marks,
                )
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
        return say("right end") if way[0] > 0 else say("left end")
    return say("upper end") if way[1] > 0 else say("lower end")


def _things(room: RoomSetOut, column: Column) -> None:
    """Drains, pipes, plinths and columns by two offsets from two start lines; a drain with its level."""
    lines = room.floor.start.lines
    first = next((line for line in lines if line.name == "A"), None)
    second = next((line for line in lines if line.name == "B"), None)
    points = placed_points(room)
    if first is None or second is None or not points:
        return
    column.head(say("Places on the floor, by two lines"))
    rows = [["", say("from A"), say("from B"), say("level")]]
    for name, at, drain in points:
        off = [f"{abs(off_line(line, at)):.0f}" for line in (first, second)]
        level = ""
        if drain:
            level = say("as floor")
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
    column.head(say("As measured"))
    half = (len(walls) + 1) // 2
    rows = [[say("wall"), say("drawn"), say("as measured"), say("wall"), say("drawn"), say("as measured")]]
    for k in range(half):
        row: list[str] = []
        for wall in walls[k::half][:2]:
            row += [f"{wall.run.number}", f"{wall.run.length:.0f}", "__________"]
        rows.append(row + [""] * (6 - len(row)))
    column.rows((18, 26, 43, 18, 26, 43), rows, height=2.5, right=(1, 4))
    play = room.lining.plan.rules.wall_tolerance
    column.words(say("More than {play:g} out: stop, tell the setter-out; cuts and orders may change.", play=play), bullet="□")


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
        side = (
            (say("above") if way[0] > 0 else say("below")) if abs(way[0]) >= abs(way[1]) else (say("right") if way[1] < 0 else say("left"))
        )
        rows.setdefault(cut.label, []).append(f"{side} {' / '.join(f'{saw_size(v, tile):g}' for v in values)}")
    if rows:
        column.head(say("Cuts without room on the drawing, as seen on the sheet"))
        column.rows(
            (40, 134), [[say("at"), say("saw sizes")], *[[label, ", ".join(dict.fromkeys(texts))] for label, texts in rows.items()]]
        )


def _border(room: RoomSetOut, column: Column) -> None:
    """The border course in words: how deep, and where its inner edge runs."""
    course = next((done for done in room.surfaces if done.surface.kind == "border"), None)
    if course is None or room.floor.tile.border is None:
        return
    count = room.floor.tile.border.courses
    inner, face = measured(room, course.start.lines[0].offsets[0])
    w, h = course.tile.size
    column.words(
        say(
            "Border first: {courses} of “{name}” {w:g} × {h:g}, long side along the wall, inner edge "
            "{inner:.0f} from the {face} of every wall; the lower wall number runs through at corners.",
            courses=say("{count} courses", count=count) if count > 1 else say("1 course"),
            name=course.tile.name,
            w=w,
            h=h,
            inner=inner,
            face=face,
        )
    )


def _why(room: RoomSetOut) -> str:
    start, play = room.floor.start, room.lining.plan.rules.wall_tolerance
    how = spelt(start.known(play, joints=len(room.floor.bays) > 1))
    at = say(" at {smallest_at}", smallest_at=start.smallest_at) if start.smallest_at else ""
    text = say(
        "{how}: narrowest cut {smallest:.0f}{at}, {worst:.0f} if walls stand off by {play:g}.",
        how=how[0].upper() + how[1:],
        smallest=start.smallest,
        at=at,
        worst=start.worst,
        play=play,
    )
    if start.view is not None:
        text += say(" In view {drawn:.0f}, out of view {hidden:.0f}.", drawn=start.view.drawn, hidden=start.view.hidden)
    if start.runners_up and start.runners_up[0].laid:
        other = start.runners_up[0]
        text += say(" Next best: {smallest:.0f}, {worst:.0f}.", smallest=other.smallest, worst=other.worst)
    return text


def _square(room: RoomSetOut) -> str:
    """A 3-4-5 check that the floor takes, and the room's diagonals."""
    square = squaring(room)
    walls = room.lining.outline.walls
    if len(walls) != 4 or not all(wall.run.straight for wall in walls):
        return square
    corners = [wall.run.points[0] for wall in walls]
    one, two = (float(np.hypot(*(corners[k] - corners[k + 2]))) for k in (0, 1))
    return say("{square} Diagonals of the bare room: {one:.0f} and {two:.0f}.", square=square, one=one, two=two)
