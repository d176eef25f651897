"""Elevations: every tiled upright face as seen from inside the room, in order round it; box plinths unfolded about their top.

Faces stand in rows to the right of the room, a block for each sheet, so that a drawing file holds them at full size too.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.shapes import pair, parts_of, rings_of, turned
from layout.sheets.column import told
from layout.sheets.cut_sheet import cards, place_run, runs_of
from layout.sheets.lettering import text_width
from layout.sheets.paper import COLUMN, GUTTER, SIZES, drawing_space
from layout.sheets.place import Placer, Spot
from layout.sheets.room_view import add_label, block_line, laid_tiles, room_bounds, wall_frame
from layout.sheets.scene import Dimension, Fill, Label, Primitive, Stroke, View, readable
from layout.sheets.start_sheet import merged_cuts
from layout.sheets.unfold_sheet import run_on_face
from layout.start.courses import courses_of, finished
from layout.tiles.pieces import saw_size
from layout.tiles.skirting import arrises

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from layout.setout.conduct import RoomSetOut, SetOut, SurfaceSetOut
    from layout.sheets.column import Column
    from layout.tiles.pieces import Cut

    Floats = NDArray[np.float64]

BESIDE, UNDER, OVER, LEFT = 16.0, 26.0, 12.0, 22.0
"""Room right of a face, under and over it for dimensions and its name, left of it for courses, paper mm."""
APART = 4000.0
"""How far right of the room the first face stands, room mm."""
KEY_PLAN = 62.0
"""Longer side of the key plan, paper mm."""
COURSE_STEP = 4.2
"""Courses are named no closer than this, paper mm."""
JOINTS = ("corner", "intermediate", "structural", "pipe")


@dataclass(frozen=True, slots=True, eq=False)
class Placed:
    """A face on the sheet: its number among the room's surfaces, its turn in degrees and where its own origin stands, room mm."""

    number: int
    turn: float
    at: Floats

    def out(self, points: Floats) -> Floats:
        """Own axes to the sheet's room space, (n, 2)."""
        result: Floats = turned(np.atleast_2d(np.asarray(points, dtype=float)), self.turn) + self.at
        return result


@dataclass(frozen=True, slots=True, eq=False)
class Page:
    """Faces of one sheet with the middle of its window, room mm."""

    faces: tuple[Placed, ...]
    centre: tuple[float, float]
    paper: str
    scale: float


@dataclass(frozen=True, slots=True, eq=False)
class _Group:
    """Faces that stand together, about the group's own origin, with their bounds."""

    faces: tuple[Placed, ...]
    bounds: tuple[float, float, float, float]


def tiled_faces(room: RoomSetOut) -> list[int]:
    """Numbers of the tiled upright faces among the room's surfaces, in order round it."""
    return [k for k, done in enumerate(room.surfaces) if done.surface.placing.line is not None]


def pages(room: RoomSetOut, paper: str | None, scale: float | None) -> list[Page]:
    """Faces set in rows, sheet by sheet: 1:20 on A2 if the longest face goes on it, else 1:50, else the next scale."""
    groups = _groups(room)
    if not groups:
        return []
    widest = max(g.bounds[2] - g.bounds[0] for g in groups)
    tallest = max(g.bounds[3] - g.bounds[1] for g in groups)
    tries = [(p, s) for s in ((scale,) if scale else (20.0, 50.0, 100.0, 200.0, 500.0)) for p in ((paper,) if paper else ("A3", "A2"))]
    chosen = next((t for t in tries if _fits(widest, tallest, *t)), tries[-1])
    window = _window(chosen[0])
    _, _, x1, y1 = room_bounds(room)
    result: list[Page] = []
    left, top = x1 + APART, y1
    faces: list[Placed] = []
    unit = chosen[1]
    width, height = window[0] * unit, window[1] * unit

    def end_page(wide: float, tall: float) -> None:
        nonlocal top, faces
        if faces:
            sheet = "A3" if paper is None and wide <= _window("A3")[0] * unit and tall <= _window("A3")[1] * unit else chosen[0]
            size = _window(sheet)
            result.append(Page(tuple(faces), (left + size[0] * unit / 2, top - size[1] * unit / 2), sheet, unit))
            top -= height + APART
            faces = []

    x, y, row_height, reach = 0.0, 0.0, 0.0, 0.0
    for group in groups:
        bx0, by0, bx1, by1 = group.bounds
        wide = bx1 - bx0 + (BESIDE + LEFT) * unit
        tall = by1 - by0 + (UNDER + OVER) * unit
        if x > 0.0 and x + wide > width:
            x, y, row_height = 0.0, y + row_height, 0.0
        if y > 0.0 and y + tall > height:
            end_page(reach, y)
            x, y, row_height, reach = 0.0, 0.0, 0.0, 0.0
        low = np.array([left + x + LEFT * unit - bx0, top - y - OVER * unit - by1])
        faces += [Placed(face.number, face.turn, face.at + low) for face in group.faces]
        x += wide
        reach = max(reach, x)
        row_height = max(row_height, tall)
    end_page(reach, y + row_height)
    return result


def _window(paper: str) -> tuple[float, float]:
    """Width and height for faces on a paper, mm."""
    x0, y0, x1, y1 = drawing_space(SIZES[paper])
    return x1 - x0 - COLUMN - GUTTER - 6.0, y1 - y0 - 24.0


def _fits(widest: float, tallest: float, paper: str, scale: float) -> bool:
    width, height = _window(paper)
    return widest / scale + BESIDE + LEFT <= width and tallest / scale + UNDER + OVER <= height


def _groups(room: RoomSetOut) -> list[_Group]:
    """Walls, columns and reveals one by one, the sides of a box plinth about its top."""
    result = []
    plinths = {f"{solid.solid.name} top": solid.solid.name for solid in room.lining.outline.plinths}
    tops = {done.surface.name: k for k, done in enumerate(room.surfaces) if done.surface.kind == "plinth-top"}
    sides: dict[str, list[int]] = {}
    for k in tiled_faces(room):
        surface = room.surfaces[k].surface
        owner = surface.name.rsplit(" side ", 1)[0]
        if surface.kind == "plinth-side":
            sides.setdefault(owner, []).append(k)
            continue
        result.append(_single(room, k))
    for top, owner in plinths.items():
        own = sides.get(owner, [])
        if top in tops and own and _is_box(room, tops[top]):
            result.append(_unfolded(room, tops[top], own))
        else:
            result += [_single(room, k) for k in ([tops[top]] if top in tops else []) + own]
    return result


def _single(room: RoomSetOut, number: int) -> _Group:
    x0, y0, x1, y1 = room.surfaces[number].surface.gross.bounds
    return _Group((Placed(number, 0.0, np.zeros(2)),), (x0, y0, x1, y1))


def _is_box(room: RoomSetOut, top: int) -> bool:
    """Whether the sides fold out without meeting: the plinth has no re-entrant corner."""
    shape = room.surfaces[top].surface.gross
    return bool(shape.convex_hull.area < 1.001 * shape.area)


def _unfolded(room: RoomSetOut, top: int, sides: Sequence[int]) -> _Group:
    """A plinth's top as in plan, each side folded out from its edge."""
    faces = [Placed(top, 0.0, np.zeros(2))]
    gap = 150.0
    for k in sides:
        surface = room.surfaces[k].surface
        line = surface.placing.line
        assert line is not None
        way = (line[-1] - line[0]) / max(float(np.hypot(*(line[-1] - line[0]))), 1e-9)
        turn = math.degrees(math.atan2(way[1], way[0]))
        inward = np.array([-way[1], way[0]])
        height = surface.gross.bounds[3]
        faces.append(Placed(k, turn, line[0] - inward * (height + gap)))
    boxes = [
        shapely.bounds(shapely.polygons(f.out(np.array(shapely.box(*room.surfaces[f.number].surface.gross.bounds).exterior.coords))))
        for f in faces
    ]
    array = np.array(boxes)
    low, high = array[:, :2].min(axis=0), array[:, 2:].max(axis=0)
    return _Group(tuple(faces), (float(low[0]), float(low[1]), float(high[0]), float(high[1])))


def view_of(page: Page) -> View:
    """The window of a page."""
    x0, y0, x1, y1 = drawing_space(SIZES[page.paper])
    right = x1 - COLUMN - GUTTER
    return View(page.centre, ((x0 + right) / 2, (y0 + y1) / 2 - 2.0), page.scale, (right - x0, y1 - y0))


def scene(setout: SetOut, index: int, page: Page, view: View, placer: Placer) -> tuple[Primitive, ...]:
    """The faces of one sheet as a room scene."""
    room = setout.rooms[index]
    result: list[Primitive] = []
    for placed in page.faces:
        _drawn(room, placed, result)
    for placed in page.faces:
        _figures(room, placed, view, placer, result)
    for placed in page.faces:
        _marks(setout, index, placed, view, placer, result)
    return tuple(result)


def _drawn(room: RoomSetOut, placed: Placed, result: list[Primitive]) -> None:
    """Tiles, bare outline, finished floor, joints, tape, breaks of a face."""
    done = room.surfaces[placed.number]
    surface = done.surface
    result += laid_tiles(done, placed.turn, (float(placed.at[0]), float(placed.at[1])))
    for part in parts_of(surface.gross):
        result += [Stroke(placed.out(ring), "WALL", closed=True) for ring in rings_of(part)]
    for joint in room.joints:
        if joint.surface == surface.id and joint.kind in JOINTS:
            layer = {"intermediate": "MOVEMENT-JOINT", "structural": "STRUCTURAL-JOINT"}.get(joint.kind, "SEALANT")
            result.append(Stroke(placed.out(joint.line), layer, closed=joint.kind == "pipe"))
    for each in surface.breaks:
        ring = placed.out(shapely.get_coordinates(each.shape)[:-1])
        result += [Fill(shapely.Polygon(ring), "PIPE", 0.0), Stroke(ring, "PIPE", closed=True)]
    if surface.placing.line is None:
        return
    foot = _floor_line(room, done)
    if foot is not None:
        result.append(Stroke(placed.out(foot), "FACE"))
    if not surface.tanked.is_empty:
        x0, _, x1, top = surface.tanked.bounds
        if top < surface.gross.bounds[3] - 1.0:
            edge = shapely.intersection(shapely.LineString([(x0, top - 1.0), (x1, top - 1.0)]), surface.gross)
            up = np.array([0.0, 1.0])
            result += [Stroke(placed.out(shapely.get_coordinates(part) + up), "COLLAR") for part in shapely.get_parts(edge)]
    for _, at, low, top in arrises(room.lining):
        x = surface.placing.along(at)
        if shapely.LineString(surface.placing.line).distance(shapely.Point(at)) < 1.0:
            result.append(Stroke(placed.out(np.array([[x, low], [x, top]])), "EDGE-TRIM"))
    for run in room.tape.runs:
        line = run_on_face(surface, run)
        if line is not None and run.junction == "internal":
            result.append(Stroke(placed.out(line), "TAPE-INTERNAL"))


def _floor_line(room: RoomSetOut, done: SurfaceSetOut) -> Floats | None:
    """The finished floor along the foot of a face, own axes (n, 2); None where it stands on a plinth."""
    surface = done.surface
    x0, _, x1, _ = surface.gross.bounds
    up = finished(room.lining)
    if room.lining.falls is None:
        return np.array([[x0, up], [x1, up]])
    xs = np.linspace(x0, x1, 60)
    plan = surface.placing.to_room(np.column_stack([xs, np.zeros(60)]))[:, :2]
    levels = room.lining.falls.at(plan) - room.lining.room.levels.floor + up
    return shapely.get_coordinates(shapely.LineString(np.column_stack([xs, levels])).simplify(0.5))


def _paper(view: View, placed: Placed, point: Sequence[float]) -> Floats:
    result: Floats = view.to_paper(placed.out(np.array([point], dtype=float)))[0]
    return result


def _figures(room: RoomSetOut, placed: Placed, view: View, placer: Placer, result: list[Primitive]) -> None:
    """Name, dimensions, datum line, courses, saw sizes."""
    done = room.surfaces[placed.number]
    surface = done.surface
    x0, y0, x1, y1 = surface.gross.bounds
    for ring in rings_of(surface.gross):
        block_line(placer, view, placed.out(np.vstack([ring, ring[:1]])), 0.3)
    turn = readable(placed.turn)
    if placed.turn == 0.0 and surface.placing.line is not None:
        _dimensions(room, placed, view, placer, result)
        _courses(room, placed, view, placer, result)
        if surface.kind == "wall":
            _datum_line(room, placed, view, placer, result)
        at = _paper(view, placed, ((x0 + x1) / 2, y0))
        name = _face_name(room, surface.name)
        spots = [Spot((float(at[0]), float(at[1]) - far)) for far in (19.5, 22.0)]
        add_label(result, placer.place(name, 3.5, "TEXT", spots, bold=True), view)
    else:
        at = _paper(view, placed, ((x0 + x1) / 2, (y0 + y1) / 2))
        spots = [Spot((float(at[0]), float(at[1]) + far), angle=turn) for far in (0.0, 5.0, -5.0)]
        word = surface.name if placed.turn == 0.0 else surface.name.rsplit(" ", 2)[-2] + " " + surface.name.rsplit(" ", 1)[-1]
        add_label(result, placer.place(word, 3.5 if placed.turn == 0.0 else 2.5, "TEXT", spots, boxed=True, bold=True), view)
    for each in surface.breaks:
        _break_offsets(room, placed, each.name, each.at, view, placer, result)
    _saw_sizes(done, placed, view, placer, result)


def _face_name(room: RoomSetOut, name: str) -> str:
    wall = next((w for w in room.lining.outline.walls if w.label == name), None)
    return name if wall is None or wall.name == wall.label else f"{wall.label} · {wall.name}"


def _stops(room: RoomSetOut, placed: Placed) -> list[float]:
    """X of a face's ends and of its openings' jambs."""
    surface = room.surfaces[placed.number].surface
    x0, _, x1, _ = surface.gross.bounds
    stops = {round(x0, 1), round(x1, 1)}
    for wall_index, wall in enumerate(room.lining.outline.walls):
        if wall.label == surface.name:
            for opening in room.lining.outline.openings:
                if opening.wall == wall_index:
                    stops |= {round(wall.run.length - opening.s1, 1), round(wall.run.length - opening.s0, 1)}
            stops |= {0.0, round(wall.run.length, 1)}
    return sorted(stops)


def _dimensions(room: RoomSetOut, placed: Placed, view: View, placer: Placer, result: list[Primitive]) -> None:
    """Left to right under the face: from jamb to jamb, then over all; heights on its right."""
    surface = room.surfaces[placed.number].surface
    _, y0, x1, y1 = surface.gross.bounds
    stops = _stops(room, placed)
    rows = [stops] if len(stops) == 2 else [stops, [stops[0], stops[-1]]]
    for k, row in enumerate(rows):
        for a, b in itertools.pairwise(row):
            distance = -6.0 - 6.5 * k
            p, q = pair(placed.out(np.array([[a, y0]]))[0]), pair(placed.out(np.array([[b, y0]]))[0])
            text = f"{b - a:.0f}"
            wide = (b - a) / view.scale
            narrow = text_width(text, 2.5) > wide - 1.0
            result.append(Dimension(p, q, distance, "" if narrow else text, "DIMENSION"))
            corner = _paper(view, placed, (a, y0))
            placer.block((float(corner[0]), float(corner[1]) + distance - 0.4, float(corner[0]) + wide, float(corner[1]) + distance + 3.4))
            if narrow:
                spots = [
                    Spot((float(corner[0] + wide / 2 + dx), float(corner[1]) + distance + dy))
                    for dy in (-2.4, 2.4)
                    for dx in (0.0, 5.0, -5.0)
                ]
                add_label(result, placer.place(text, 2.5, "DIMENSION", spots, boxed=True, must=False), view)
    tops = [("", y1)]
    if not surface.tanked.is_empty and surface.tanked.bounds[3] < y1 - 1.0:
        tops.insert(0, ("tanked ", surface.tanked.bounds[3]))
    for k, (word, top) in enumerate(tops):
        if (top - y0) / view.scale < 6.0:
            continue
        low, high = pair(placed.out(np.array([[x1, 0.0]]))[0]), pair(placed.out(np.array([[x1, top]]))[0])
        text = next((t for t in (f"{word}{top:.0f}", f"{top:.0f}") if text_width(t, 2.5) < top / view.scale - 1.0), "")
        if not text:
            continue
        result.append(Dimension(low, high, -4.5 - 5.0 * k, text, "DIMENSION"))
        foot, head = _paper(view, placed, (x1, y0)), _paper(view, placed, (x1, top))
        placer.block((float(foot[0]) + 1.0 + 5.0 * k, float(foot[1]), float(foot[0]) + 5.5 + 5.0 * k, float(head[1])))


def _courses(room: RoomSetOut, placed: Placed, view: View, placer: Placer, result: list[Primitive]) -> None:
    """Courses numbered on the left, each with the level of its top edge above the finished floor."""
    done = room.surfaces[placed.number]
    try:
        courses = courses_of(done.surface, done.field, finished(room.lining))
    except ValueError:
        return
    x0, _, _, y1 = done.surface.gross.bounds
    last = -1e9
    for course in courses:
        top = min(course.high, y1)
        if (top - last) / view.scale < COURSE_STEP:
            continue
        last = top
        at = _paper(view, placed, (x0, top))
        text = f"{course.number}  {told(min(course.high_level, y1 - finished(room.lining)))}"
        label = placer.place(text, 2.5, "TEXT", [Spot((float(at[0]) - 4.0, float(at[1])), "right")], must=False)
        if label is not None:
            result.append(Stroke(view.to_room(np.array([[at[0] - 3.6, at[1]], [at[0] - 0.8, at[1]]])), "DIMENSION"))
            add_label(result, label, view)


def _datum_line(room: RoomSetOut, placed: Placed, view: View, placer: Placer, result: list[Primitive]) -> None:
    """The level line that courses are measured from, drawn beyond the wall's ends."""
    level = room.lining.plan.rules.datum_line
    y = level + finished(room.lining)
    x0, _, x1, y1 = room.surfaces[placed.number].surface.gross.bounds
    if y > y1:
        return
    ends = placed.out(np.array([[x0, y], [x1, y]]))
    beyond = np.array([3.0 * view.scale, 0.0])
    result.append(Stroke(np.array([ends[0] - beyond, ends[1] + beyond]), "START-LINE"))
    at = _paper(view, placed, ((x0 + x1) / 2, y))
    wide = (x1 - x0) / view.scale
    text = next((t for t in (f"datum line, {told(level)} above finished floor", told(level)) if text_width(t, 3.5) < wide - 4.0), "")
    if text:
        spots = [Spot((float(at[0]) + dx, float(at[1]) + dy)) for dy in (3.6, -3.6) for dx in (0.0, -0.25 * wide, 0.25 * wide)]
        add_label(result, placer.place(text, 3.5, "START-LINE", spots, boxed=True, bold=True, must=False), view)
    block_line(placer, view, ends, 0.6)


def _break_offsets(
    room: RoomSetOut, placed: Placed, name: str, at: tuple[float, float], view: View, placer: Placer, result: list[Primitive]
) -> None:
    """A pipe or fixing by its distance from the left-hand end and its level above the finished floor."""
    paper = _paper(view, placed, at)
    level = at[1] - finished(room.lining)
    spots = [
        Spot((float(paper[0]) + dx, float(paper[1]) + dy), "left" if dx > 0 else "right")
        for dy in (0.0, 6.0, -6.0, 12.0, -12.0)
        for dx in (5.0, -5.0)
    ]
    for text in (f"{name}: {at[0]:.0f} from left, {told(level)}", name):
        label = placer.place(text, 2.5, "PIPE", spots, boxed=True, must=False)
        if label is not None:
            add_label(result, label, view)
            return


def _saw_sizes(done: SurfaceSetOut, placed: Placed, view: View, placer: Placer, result: list[Primitive]) -> None:
    """Saw sizes at both ends of every straight edge that cuts tiles, just inside it."""
    for cut in merged_cuts(done.wall_cuts):
        way = cut.edge[1] - cut.edge[0]
        length = float(np.hypot(*way))
        paper_length = length / view.scale
        start, end = saw_size(cut.start, done.tile), saw_size(cut.end, done.tile)
        if paper_length < 6.0 or min(start, end) < 1.0:
            continue
        unit = way / length
        inward = np.array([-unit[1], unit[0]])
        turn = readable(placed.turn + math.degrees(math.atan2(unit[1], unit[0])))
        reach = min(9.0, paper_length / 4.0) / paper_length
        parts = [(0.5, start)] if abs(start - end) < 1.0 and paper_length < 60.0 else [(reach, start), (1.0 - reach, end)]
        for part, value in parts:
            spots = []
            for far in (2.6, 3.8, 6.0, 9.0):
                for shift in (0.0, 7.0, -7.0, 14.0, -14.0):
                    here = cut.edge[0] + way * part + unit * shift * view.scale + inward * far * view.scale
                    along = float((here - cut.edge[0]) @ unit)
                    if 0.0 <= along <= length:
                        at = _paper(view, placed, here)
                        spots.append(Spot((float(at[0]), float(at[1])), angle=turn))
            add_label(result, placer.place(f"{value:g}", 3.5, "CUT-SIZE", spots, boxed=True, bold=True, must=False), view)


def _marks(setout: SetOut, index: int, placed: Placed, view: View, placer: Placer, result: list[Primitive]) -> None:
    """Marks on the cut tiles, runs of alike ones named once."""
    for text, points, centre, way in runs_of(setout, index, [placed.number]):
        place_run(text, placed.out(points), placed.out(centre)[0], turned(way[None], placed.turn)[0], view, placer, result, leaders=False)


def key_plan(room: RoomSetOut, page: Page, x: float, y: float) -> tuple[list[Primitive], float]:
    """The room small, its walls numbered, an eye's arrow to each wall of this sheet; top left at (x, y). Also the y below it."""
    bx0, by0, bx1, by1 = room_bounds(room)
    unit = KEY_PLAN / max(bx1 - bx0, by1 - by0)
    low = np.array([x + 12.0, y - (by1 - by0) * unit - 8.0])

    def at(points: Floats) -> Floats:
        result: Floats = (np.atleast_2d(points) - np.array([bx0, by0])) * unit + low
        return result

    outline = room.lining.outline
    result: list[Primitive] = [Stroke(at(np.array(outline.outer.points)), "WALL", closed=True)]
    names = {room.surfaces[placed.number].surface.name for placed in page.faces}
    for solids, rings in ((outline.plinths, outline.plinth_rings), (outline.columns, outline.column_rings)):
        for solid, ring in zip(solids, rings, strict=True):
            shown = any(name.startswith(f"{solid.solid.name} ") for name in names)
            result.append(Fill(shapely.Polygon(at(np.array(ring.points))), "START-LINE", 0.6 if shown else 0.0))
            result.append(Stroke(at(np.array(ring.points)), "PLINTH", closed=True))
    for k, wall in enumerate(outline.walls):
        _, _, normal, _ = wall_frame(room, k)
        middle = at(wall.run.at(wall.run.length / 2)[None])[0]
        shown = wall.label in names
        out = middle + normal * 4.0
        result.append(Label(str(wall.run.number), pair(out), 3.5 if shown else 2.5, "TEXT", "centre", "middle", bold=shown))
        if shown:
            tip, tail = middle - normal * 1.5, middle - normal * 8.0
            side = np.array([-normal[1], normal[0]])
            result.append(Stroke(np.array([tail, tip]), "START-LINE"))
            result.append(Fill(shapely.Polygon([tip, tip - normal * 2.6 + side, tip - normal * 2.6 - side]), "START-LINE", 1.0))
    return result, float(low[1]) - 8.0


def words(setout: SetOut, index: int, page: Page, column: Column) -> None:
    """The column: key plan, how to read the sheet, the cuts of its faces."""
    room = setout.rooms[index]
    rules = room.lining.plan.rules
    column.head("Where these faces are")
    made, column.y = key_plan(room, page, column.x, column.y)
    column.scene += made
    column.words("Numbers are walls; arrows show which way the viewer looks; plinths and columns of this sheet are filled.", bullet="•")
    column.head("Notes")
    courses = {
        "best": "set for the widest cuts of all faces",
        "floor": "start on the finished floor at its highest",
        "datum": "have an edge on the datum line",
        "head": "start on the head of the widest opening",
    }[rules.courses]
    feet = {
        "wall-through": "Wall tile runs down behind the floor: saw sizes at the foot are longer than what is seen.",
        "floor-through": f"Wall tile stands above the floor by its joint of {rules.perimeter_joint:g}.",
        "cove": f"Wall tile stands above the cove ({rules.cove[0]:g} high) by its joint of {rules.perimeter_joint:g}.",
    }[rules.foot]
    for text in (
        f"Faces as seen from inside, figured dimensions only, mm. Courses run level round the room and {courses}.",
        "On the left: number of each course and the level of its top edge above the finished floor (±0 at the walls).",
        f"Order: fix from the second course up on a level batten, then the floor, then the bottom course, cut to the floor as laid. {feet}",
        "Neighbours' build-up is taken off at corners; the lower wall number runs through.",
    ):
        column.words(text, bullet="•")
    if any(room.surfaces[p.number].surface.kind == "plinth-side" and p.turn for p in page.faces) or any(
        room.surfaces[p.number].surface.kind == "plinth-top" for p in page.faces
    ):
        column.words("A plinth is unfolded: its top as in plan, each side hinged at its edge.", bullet="•")
    column.head("Key")
    shown = {"START-LINE", "TAPE-INTERNAL", "COLLAR", "SEALANT", "FACE", "TILE-CUT", *(("EDGE-TRIM",) if arrises(room.lining) else ())}
    column.legend("elevations", shown)
    column.head("Cuts on this sheet: saw sizes, face up")
    cards(_cuts(setout, index, page), column)


def _cuts(setout: SetOut, index: int, page: Page) -> list[tuple[Cut, int]]:
    counts: dict[str, int] = {}
    for placed in page.faces:
        for cut, count in setout.cuts_of(index, placed.number):
            counts[cut.mark] = counts.get(cut.mark, 0) + count
    return [(cut, counts[cut.mark]) for cut in setout.cuts if cut.mark in counts]
