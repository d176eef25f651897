"""Sheet 1, floor setting-out: the lines to snap, the first whole tile, the cut at every wall."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.plan.patterns import member_tiles
from layout.sheets.column import told
from layout.sheets.lettering import text_width
from layout.sheets.place import Placer, Spot, label_box
from layout.sheets.room_view import add_label, block_line, block_shape, entrance, name_things, name_walls, wall_frame
from layout.sheets.scene import Dimension, Fill, Label, Primitive, Stroke, Symbol, View, bubble_ring, exploded, readable
from layout.tiles.pieces import saw_size

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from layout.setout.conduct import RoomSetOut, WallCut
    from layout.sheets.column import Column
    from layout.sheets.room_view import Base
    from layout.start.start_lines import StartLine

    Floats = NDArray[np.float64]

BAND_CUT, BAND_WALL, BAND_DIMENSION, BAND_RUNNING = 3.6, 10.0, 16.5, 22.0
"""How far outside the bare wall cut sizes, wall names, dimensions and running dimensions stand, paper mm."""
MARGIN = 26.0
LINE_BEYOND = 8.0
SHORT = 9.0
"""Edges shorter than this on paper, mm, have their cuts in a table instead of beside them."""
SQUARE_TO = 0.05
"""Sine of the angle by which a start line may be out of square to a wall and still be measured from along it."""
MOST_MEASURED = 12
"""Rooms with more straight walls get no boxes for measured lengths."""
MOST_RUNNING, LEAST_RUNNING = 16, 30.0
"""Rooms with more walls get no running dimensions, nor do walls shorter than this on paper, mm."""
ON_JOINT = 30.0
"""A start line this near a movement joint is drawn outside the room only, mm: the joint shows where it is."""


def scene(room: RoomSetOut, base: Base, view: View, placer: Placer) -> tuple[tuple[Primitive, ...], list[tuple[str, str]]]:
    """The room scene of the setting-out sheet, and saw sizes that found no free place: at what, and which."""
    result: list[Primitive] = [*base.tiles, *base.outline, *base.services, *base.joints]
    result += _first_tile(room)
    result += entrance(room, view, placer)
    result += _start_lines(room, view, placer)
    result += _wall_dimensions(room, view, placer)
    _running_dimensions(room, view, placer, result)
    unplaced = _cut_sizes(room, view, placer, result)
    name_walls(room, view, placer, result, out=BAND_WALL)
    _joint_names(room, view, placer, result)
    name_things(room, view, placer, result)
    return tuple(result), unplaced


def _first_tile(room: RoomSetOut) -> list[Primitive]:
    """The first whole tile of every bay that has a start of its own."""
    floor = room.floor
    result: list[Primitive] = []
    bays = {line.bay for line in floor.start.lines}
    for bay in sorted(bays):
        whole = floor.field.bays[bay].whole
        if len(whole) == 0:
            continue
        ring = floor.field.outlines(np.concatenate([[bay], whole[0]]))[0]
        result += [Fill(shapely.Polygon(ring), "FIRST-TILE", 0.45), Stroke(ring, "FIRST-TILE", closed=True)]
    return result


def _start_lines(room: RoomSetOut, view: View, placer: Placer) -> list[Primitive]:
    result: list[Primitive] = []
    for line in room.floor.start.lines:
        a, b = np.array(line.start), np.array(line.end)
        way = (b - a) / max(float(np.hypot(*(b - a))), 1e-9)
        beyond = way * LINE_BEYOND * view.scale
        ends = (a - beyond, b + beyond)
        if _on_joint(room, line):
            result += [Stroke(np.array([ends[0], a]), "START-LINE"), Stroke(np.array([b, ends[1]]), "START-LINE")]
        else:
            result.append(Stroke(np.array(ends), "START-LINE"))
        for end, side in ((ends[0], -1.0), (ends[1], 1.0)):
            centre = end + way * side * 3.6 * view.scale
            at = (float(centre[0]), float(centre[1]))
            result.append(Symbol("bubble", at, 7.2, "START-LINE"))
            paper = view.to_paper(centre)[0]
            height = 3.5 if len(line.name) == 1 else 2.5
            add_label(result, placer.place(line.name, height, "START-LINE", [Spot((float(paper[0]), float(paper[1])))], bold=True), view)
            block_shape(placer, view, np.array([centre - 3.6 * view.scale, centre + 3.6 * view.scale]), 0.0)
    for line in room.floor.start.lines:
        _block_line(line, view, placer)
    for line in room.floor.start.lines:
        _line_offsets(line, view, placer, result)
    return result


def _on_joint(room: RoomSetOut, line: StartLine) -> bool:
    """Whether a start line runs along a movement joint, where it would hide it."""
    a, b = np.array(line.start), np.array(line.end)
    way = (b - a) / max(float(np.hypot(*(b - a))), 1e-9)
    beside = 0.0
    for joint in room.joints:
        if joint.surface.kind == "floor" and joint.kind in ("intermediate", "structural"):
            off = np.abs(way[0] * (joint.line - a)[:, 1] - way[1] * (joint.line - a)[:, 0])
            beside += joint.length if float(off.max()) < ON_JOINT else 0.0
    return beside > 0.5 * float(np.hypot(*(b - a)))


def _line_offsets(line: StartLine, view: View, placer: Placer, scene_: list[Primitive]) -> None:
    """Distance from the finished face at both ends: a dimension, its figure on the room's side of the line."""
    if len(line.offsets) != 2:
        return
    a, b = np.array(line.start), np.array(line.end)
    way = (b - a) / max(float(np.hypot(*(b - a))), 1e-9)
    to_wall = np.array(line.wall_way)
    angle = readable(math.degrees(math.atan2(way[1], way[0])))
    for k, offset in enumerate(line.offsets):
        foot = np.array(offset.at) + way * (14.0 if k == 0 else -14.0) * view.scale
        face = foot + to_wall * offset.finished
        scene_.append(Dimension((float(face[0]), float(face[1])), (float(foot[0]), float(foot[1])), 0.0, "", "DIMENSION", 3.5))
        block_shape(placer, view, np.array([face, foot]), 0.6)
        text = f"{offset.finished:.0f} from tile face"
        spots = []
        for far in (4.4, 8.0, -4.4, 12.0, 17.0):
            for shift in (0.0, 12.0, 24.0, -8.0, 36.0):
                here = foot - to_wall * far * view.scale + way * (shift if k == 0 else -shift) * view.scale
                spot = view.to_paper(here)[0]
                spots.append(Spot((float(spot[0]), float(spot[1])), angle=angle))
        add_label(scene_, placer.place(text, 3.5, "START-LINE", spots, boxed=True, bold=True, must=False), view)


def _block_line(line: StartLine, view: View, placer: Placer) -> None:
    """Keep labels off a start line, piece by piece."""
    a, b = np.array(line.start), np.array(line.end)
    steps = max(2, int(np.hypot(*(b - a)) / view.scale / 6.0))
    points = a + (b - a) * np.linspace(0.0, 1.0, steps)[:, None]
    for p, q in itertools.pairwise(points):
        block_shape(placer, view, np.array([p, q]), 0.4)


def merged_cuts(cuts: tuple[WallCut, ...]) -> list[WallCut]:
    """Cuts along one line with the same sizes, taken together."""
    result: list[WallCut] = []
    for cut in cuts:
        way = cut.edge[1] - cut.edge[0]
        length = float(np.hypot(*way))
        if length < 1.0:
            continue
        unit = way / length
        for k, other in enumerate(result):
            own = other.edge[1] - other.edge[0]
            own = own / max(float(np.hypot(*own)), 1e-9)
            off = abs(float(own[0] * (cut.edge[0] - other.edge[0])[1] - own[1] * (cut.edge[0] - other.edge[0])[0]))
            span = sorted(float((p - other.edge[0]) @ own) for p in cut.edge)
            reach = float((other.edge[1] - other.edge[0]) @ own)
            gap = max(span[0] - reach, -span[1], 0.0)
            alike = max(abs(cut.start - other.start), abs(cut.end - other.end), abs(cut.start - cut.end)) < 0.5
            same = alike if not cut.turns else cut.turns == other.turns
            if off < 1.0 and float(own @ unit) > 0.999 and same and gap < 1200.0:
                at = [(p - other.edge[0]) @ own for p in (*other.edge, *cut.edge)]
                edge = np.array([other.edge[0] + own * min(at), other.edge[0] + own * max(at)])
                result[k] = replace(other, edge=edge)
                break
        else:
            result.append(cut)
    return result


def _cut_sizes(room: RoomSetOut, view: View, placer: Placer, scene_: list[Primitive]) -> list[tuple[str, str]]:
    """Saw sizes at both ends of every wall: outside walls, inside plinths and columns; those without a free place are given back."""
    unplaced: list[tuple[str, str]] = []
    tile = room.floor.tile
    for cut in merged_cuts(room.floor.wall_cuts):
        way = cut.edge[1] - cut.edge[0]
        length = float(np.hypot(*way))
        unit = way / length
        out = np.array([unit[1], -unit[0]])
        angle = readable(math.degrees(math.atan2(unit[1], unit[0])))
        build_up = room.floor.surface.build_up + 20.0
        start, end = saw_size(cut.start, tile), saw_size(cut.end, tile)
        if length / view.scale < SHORT:
            continue  # told in the table of cuts at small things
        figure = " / ".join(f"{saw_size(v, tile):g}" for v in cut.turns)
        if figure:
            start = end = saw_size(min(cut.turns), tile)
        reach = min(12.0, length / view.scale / 4.0)
        parts = (
            [(0.5, start)]
            if abs(start - end) < 1.0 and length / view.scale < 60.0
            else [(reach * view.scale / length, start), (1 - reach * view.scale / length, end)]
        )
        for part, value in parts:
            if value < 1.0:
                continue
            spots = []
            for far in (BAND_CUT, BAND_CUT + 3.0, -7.0, BAND_CUT + 9.0):
                for shift in (0.0, 6.0, -6.0, 12.0, -12.0, 20.0, -20.0):
                    here = cut.edge[0] + way * part + unit * shift * view.scale + out * (build_up if far > 0 else 0.0)
                    if not -3.0 * view.scale <= (here - cut.edge[0]) @ unit <= length + 3.0 * view.scale:
                        continue
                    at = view.to_paper(here)[0] + out * far
                    spots.append(Spot((float(at[0]), float(at[1])), angle=angle))
            label = placer.place(figure or f"{value:g}", 3.5, "CUT-SIZE", spots, boxed=True, bold=True, must=False)
            add_label(scene_, label, view)
            if label is None:
                unplaced.append((cut.label, figure or f"{value:g}"))
    return unplaced


def _wall_dimensions(room: RoomSetOut, view: View, placer: Placer) -> list[Primitive]:
    """The bare length of each straight wall, outside."""
    result: list[Primitive] = []
    walls = room.lining.outline.walls
    if len(walls) > 24:
        return result
    for index, wall in enumerate(walls):
        if not wall.run.straight or wall.run.length / view.scale < 10.0:
            continue
        a, b, _, _ = wall_frame(room, index)
        # the line of a dimension stands to the left of its travel: outside is on the left from b to a
        item = Dimension((float(b[0]), float(b[1])), (float(a[0]), float(a[1])), BAND_DIMENSION, f"{wall.run.length:.0f}", "DIMENSION")
        tries = [replace(item, part=part) for part in (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8)]
        item = min(tries, key=lambda each: placer.overlap(_figure_box(each, view)))
        if placer.overlap(_figure_box(item, view)) > 1e-9:
            item = replace(item, text="")  # the boxes for measured lengths tell it
        placer.block(_figure_box(item, view))
        for stroke in exploded(item, view.scale):
            if isinstance(stroke, Stroke):
                block_shape(placer, view, stroke.points, 0.2)
        result.append(item)
    return result


def running_stops(room: RoomSetOut, index: int) -> tuple[float, list[float]] | None:
    """Along a straight wall, where a start line square to it meets it, and its corners and jambs, mm from its anticlockwise end.

    None if no start line meets the wall.
    """
    run = room.lining.outline.walls[index].run
    a, b = run.points[0], run.points[-1]
    way = (b - a) / max(run.length, 1e-9)
    for line in room.floor.start.lines:
        p, q = np.array(line.start), np.array(line.end)
        along = (q - p) / max(float(np.hypot(*(q - p))), 1e-9)
        if abs(along @ way) > SQUARE_TO:
            continue
        # where the line, drawn on, crosses the wall's own line
        off = np.array([-way[1], way[0]])
        t = float((a - p) @ off) / float(along @ off)
        origin = float((p + along * t - a) @ way)
        if 0.0 < origin < run.length:
            stops = {0.0, run.length}
            for opening in room.lining.outline.openings:
                if opening.wall == index and opening.door:
                    stops |= {opening.s0, opening.s1}
            return origin, sorted(stops)
    return None


def _running_dimensions(room: RoomSetOut, view: View, placer: Placer, result: list[Primitive]) -> None:
    """Running dimensions outside each wall: from a start line to its corners and jambs, a ring where they begin."""
    walls = room.lining.outline.walls
    if len(walls) > MOST_RUNNING:
        return
    for index, wall in enumerate(walls):
        if not wall.run.straight or wall.run.length / view.scale < LEAST_RUNNING:
            continue
        found = running_stops(room, index)
        if found is None:
            continue
        origin, stops = found
        a, b, normal, angle = wall_frame(room, index)
        way = (b - a) / wall.run.length
        out = normal * BAND_RUNNING * view.scale
        ends = np.array([a + out, b + out])
        result.append(Stroke(ends, "DIMENSION"))
        centre = a + way * origin + out
        result.append(Stroke(bubble_ring((float(centre[0]), float(centre[1])), 1.1 * view.scale), "START-LINE", closed=True))
        block_line(placer, view, ends, 0.3)
        block_shape(placer, view, centre[None], 1.6)
        for stop in stops:
            at = a + way * stop + out
            tick = (way + normal) * 0.9 * view.scale
            result.append(Stroke(np.array([at - tick, at + tick]), "DIMENSION"))
            paper = view.to_paper(at[None])[0]
            inward = -1.0 if stop > origin else 1.0
            spots = []
            for beside in (2.0, 4.5, 7.5):
                for far in (2.4, -2.4):
                    here = paper + way * inward * (beside + text_width(f"{abs(stop - origin):.0f}", 2.5) / 2) + normal * far
                    spots.append(Spot((float(here[0]), float(here[1])), angle=angle))
            add_label(result, placer.place(f"{abs(stop - origin):.0f}", 2.5, "DIMENSION", spots, boxed=True, must=False), view)


def _figure_box(item: Dimension, view: View) -> tuple[float, float, float, float]:
    """Where a dimension's figure stands, paper mm."""
    label = next(part for part in exploded(item, view.scale) if isinstance(part, Label))
    at = view.to_paper(np.array([label.at]))[0]
    return label_box(replace(label, at=(float(at[0]), float(at[1]))))


def _joint_names(room: RoomSetOut, view: View, placer: Placer, scene_: list[Primitive]) -> None:
    """Width and kind beside each movement joint in the field."""
    for joint in room.joints:
        if joint.surface.kind != "floor" or joint.kind not in ("intermediate", "structural"):
            continue
        a, b = joint.line[0], joint.line[-1]
        way = (b - a) / max(float(np.hypot(*(b - a))), 1e-9)
        normal = np.array([-way[1], way[0]])
        angle = readable(math.degrees(math.atan2(way[1], way[0])))
        word = "structural joint" if joint.kind == "structural" else "movement joint"
        spots = []
        for part in (0.5, 0.35, 0.65, 0.25, 0.75, 0.15, 0.85):
            for side in (2.6, -2.6):
                at = view.to_paper(a + (b - a) * part)[0] + normal * side
                spots.append(Spot((float(at[0]), float(at[1])), angle=angle))
        if float(np.hypot(*(b - a))) / view.scale > 28.0:
            add_label(scene_, placer.place(f"{word} {joint.width:g}", 2.5, "MOVEMENT-JOINT", spots, boxed=True, must=False), view)


def words(room: RoomSetOut, column: Column, present: set[str], scale: float, unplaced: list[tuple[str, str]]) -> None:
    """The column: start table, checks, notes, legend, findings, cautions."""
    start = room.floor.start
    tile = room.floor.tile
    column.head("Start lines: snap these first")
    rows = [["line", "from", "at", "tile face", "membrane", "bare"]]
    for line in start.lines:
        for k, offset in enumerate(line.offsets):
            rows.append(
                [
                    line.name if k == 0 else "",
                    f"wall {offset.wall}",
                    _where(offset.at),
                    f"{offset.finished:.0f}",
                    f"{offset.membrane:.0f}",
                    f"{offset.bare:.0f}",
                ]
            )
    if len(rows) > 1:
        column.rows((16, 30, 50, 28, 28, 22), rows, height=3.0, right=(3, 4, 5))
    sizes = " and ".join(
        dict.fromkeys(f"{round(t.size[0], 1):g} × {round(t.size[1], 1):g}" for t in member_tiles(tile, room.floor.field.pattern))
    )
    column.words(
        f"Lines run along tile edges. First whole tile: lower-left corner at x {start.origin[0]:.0f}, y {start.origin[1]:.0f}. "
        f"Tile {sizes}, joint {tile.joint:g}, {tile.pattern}. {_why(room)}"
    )
    column.words(_square(room))
    _border(room, column)
    _things(room, column)
    _small_cuts(room, column, scale, unplaced)
    column.head("Notes")
    given = "bare substrate (render, screed)" if room.lining.room.outline_is == "substrate" else "finished face"
    rules = room.lining.plan.rules
    for text in (
        f"Figured dimensions only, in mm. The plan was measured to the {given}; the heavy line is the bare wall.",
        f"Figures at walls are saw sizes: factory edge to the face of the {rules.perimeter_joint:g} mm sealant joint. Foot of wall: {rules.foot}.",
        f"Movement joints by {rules.movement.name}: {rules.movement.source}.",
        "Running dimensions outside the walls begin at the ring, where a start line meets the wall. Sequence: drains, lines, whole tiles, cuts.",
    ):
        column.words(text, bullet="•")
    column.head("Key")
    column.legend("start", present)
    column.findings(room, floor_only=True, most=4)
    _as_measured(room, column)
    if column.left > 62.0:
        column.cautions()


def _things(room: RoomSetOut, column: Column) -> None:
    """Drains and pipes through the floor by two offsets from two start lines, and a level."""
    lines = room.floor.start.lines
    first = next((line for line in lines if line.name == "A"), None)
    second = next((line for line in lines if line.name == "B"), None)
    breaks = room.lining.floor.breaks
    if first is None or second is None or not breaks:
        return
    column.head("Drains and pipes, by two lines")
    rows = [["middle of", "from A", "from B", "level"]]
    for each in breaks:
        off = [f"{abs(_off(line, each.at)):.0f}" for line in (first, second)]
        level = "as floor"
        if room.levels is not None:
            found = room.levels.falls.drains.get(each.name)
            level = told(float(room.levels.falls.at(np.array([each.at]))[0]) if found is None else found)
        rows.append([each.name, *off, level])
    column.rows((66, 36, 36, 36), rows, height=2.5, right=(1, 2, 3))


def _off(line: StartLine, at: tuple[float, float]) -> float:
    """Distance of a point from a start line, mm."""
    a, b = np.array(line.start), np.array(line.end)
    way = (b - a) / max(float(np.hypot(*(b - a))), 1e-9)
    apart = np.array(at) - a
    return float(way[0] * apart[1] - way[1] * apart[0])


def _as_measured(room: RoomSetOut, column: Column) -> None:
    """Boxes to write the walls' measured lengths into, with the rule what to do."""
    walls = [wall for wall in room.lining.outline.walls if wall.run.straight]
    if not 3 <= len(walls) <= MOST_MEASURED or column.left < 24.0 + 2.4 * len(walls):
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
    inner = course.start.lines[0].offsets[0].finished
    w, h = course.tile.size
    column.words(
        f"Border first: {count} course{'s' if count > 1 else ''} of “{course.tile.name}” {w:g} × {h:g}, long side along the wall, "
        f"inner edge {inner:.0f} from the tile face of every wall; the lower wall number runs through at corners."
    )


def _where(at: tuple[float, float]) -> str:
    return f"x {at[0]:.0f}, y {at[1]:.0f}"


def _why(room: RoomSetOut) -> str:
    start = room.floor.start
    how = {
        "exact": "the best start, found exactly",
        "search": f"the best start found by search, to within {start.gap:.0f} mm",
        "fixed": "a start given in the plan",
    }[start.method]
    text = f"This is {how}: narrowest cut {start.smallest:.0f}{' at ' + start.smallest_at if start.smallest_at else ''}, {start.worst:.0f} if walls stand off by {room.lining.plan.rules.wall_tolerance:g}."
    if start.runners_up:
        other = start.runners_up[0]
        text += f" Next best: {other.smallest:.0f}, {other.worst:.0f}."
    return text


def _square(room: RoomSetOut) -> str:
    """A 3-4-5 check that fits the room."""
    x0, y0, x1, y1 = room.floor.surface.field.bounds
    k = max(1, int(min(max(x1 - x0, y1 - y0) / 4.0, min(x1 - x0, y1 - y0) / 3.0) // 100 * 100) // 100) * 100
    square = f"Square: from the crossing of A and B measure {3 * k} along one and {4 * k} along the other; the diagonal is {5 * k}."
    walls = room.lining.outline.walls
    if len(walls) != 4 or not all(wall.run.straight for wall in walls):
        return square
    corners = [wall.run.points[0] for wall in walls]
    one, two = (float(np.hypot(*(corners[k] - corners[k + 2]))) for k in (0, 1))
    return f"{square} Diagonals of the bare room: {one:.0f} and {two:.0f}."
