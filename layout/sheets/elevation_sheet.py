"""Elevations: every tiled upright face as seen from inside the room, in order round it; box plinths unfolded about their top.

Faces stand in rows to the right of the room, a block for each sheet, so that a drawing file holds them at full size too.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.shapes import parts_of, rings_of
from layout.sheets.cut_cards import cards
from layout.sheets.cut_places import laid_cuts
from layout.sheets.cut_rows import beforehand, in_rows_only, told_rows
from layout.sheets.cut_runs import name_runs
from layout.sheets.draft import Draft, Job, RoomJob, labelled
from layout.sheets.elevation_pages import cut_by_face, pages, placed_name, view_of
from layout.sheets.face_figures import figures
from layout.sheets.parts import placer_of
from layout.sheets.room_view import laid_tiles, room_bounds, wall_frame
from layout.sheets.scene import Fill, Label, Primitive, Stroke, View
from layout.sheets.unfold_sheet import run_on_face
from layout.start.courses import finished
from layout.tiles.skirting import arrises
from layout.vectors import pair
from layout.words import say

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from layout.identity import SurfaceId
    from layout.setout.values import RoomSetOut, SetOut, SurfaceSetOut
    from layout.sheets.column import Column
    from layout.sheets.elevation_pages import Page, Placed
    from layout.sheets.place import Placer

    Floats = NDArray[np.float64]

KEY_PLAN = 48.0
"""Longer side of the key plan, paper mm."""


def drafts(job: Job) -> Iterator[Draft]:
    """The sheets of the tiled upright faces."""
    own = job.only
    made: list[Draft] = []
    last: dict[str, Column] = {}
    for k, page in enumerate(pages(job.setout, own.index, job.paper, job.scale), 1):
        view = view_of(page)
        placer = placer_of(view)
        rest = say("Cuts of {placed_name}", placed_name=", ".join(placed_name(own.room, placed) for placed in page.faces))
        column = own.column(page.paper, spare=page.spare(), before=last.get(page.paper), rest=rest)
        free = list(column.spare)
        words(job.setout, own, page, column)
        for left, top, foot in free[: len(free) - len(column.spare)]:  # words stand there
            placer.block((left - 1.0, foot, left + column.width + 1.0, top))
        if column.further:
            last[page.paper] = column
        drawn = scene(own, page, view, placer)
        name = f"{own.prefix}elevations-{k}"
        made.append(labelled(Draft(name, say("Elevations"), own.room.name, page.paper, view, drawn, column.scene, column=column), placer))
    for paper, column in last.items():  # what the sheets of one paper leave over goes on one sheet
        k = max(k for k, draft in enumerate(made) if draft.paper == paper)
        made[k] = replace(made[k], further=tuple(column.further))
    yield from made


def scene(own: RoomJob, page: Page, view: View, placer: Placer) -> tuple[Primitive, ...]:
    """The faces of one sheet as a room scene."""
    room = own.room
    result: list[Primitive] = []
    for placed in page.faces:
        _drawn(room, placed, result)
    for placed in page.faces:
        figures(room, placed, view, placer, result)
    for placed in page.faces:
        result += _marks(own, placed, view, placer)
    return tuple(result)


def _drawn(room: RoomSetOut, placed: Placed, result: list[Primitive]) -> None:
    """Tiles, bare outline, finished floor, joints, tape, breaks of a face."""
    done = room.surfaces[placed.number]
    surface = done.surface
    result += laid_tiles(done, placed.turn, (float(placed.at[0]), float(placed.at[1])))
    for part in parts_of(surface.gross):
        result += [Stroke(placed.out(ring), "WALL", closed=True) for ring in rings_of(part)]
    for joint in room.joints:
        if joint.surface == surface.id:
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


def _marks(own: RoomJob, placed: Placed, view: View, placer: Placer) -> list[Primitive]:
    """Marks on the cut tiles, alike ones in line named once, rows with an arrow."""
    return name_runs(own.runs[placed.number], view, placer, placed.out)


def _thing(face: SurfaceId) -> tuple[str, int]:
    """What a face belongs to: a wall, plinth, column or opening, by its number."""
    return face.kind.split("-")[0], face.number


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
    faces = {_thing(room.surfaces[k].surface.id) for placed in page.faces for k in placed.stands_for}
    for kind, rings in (("plinth", outline.plinth_rings), ("column", outline.column_rings)):
        for number, ring in enumerate(rings, 1):
            shown = (kind, number) in faces
            result.append(Fill(shapely.Polygon(at(np.array(ring.points))), "START-LINE", 0.6 if shown else 0.0))
            result.append(Stroke(at(np.array(ring.points)), "PLINTH", closed=True))
    for k, wall in enumerate(outline.walls):
        _, _, normal, _ = wall_frame(room, k)
        middle = at(wall.run.at(wall.run.length / 2)[None])[0]
        shown = ("wall", wall.run.number) in faces
        out = middle + normal * 4.0
        result.append(Label(str(wall.run.number), pair(out), 3.5 if shown else 2.5, "TEXT", "centre", "middle", bold=shown))
        if shown:
            tip, tail = middle - normal * 1.5, middle - normal * 8.0
            side = np.array([-normal[1], normal[0]])
            result.append(Stroke(np.array([tail, tip]), "START-LINE"))
            result.append(Fill(shapely.Polygon([tip, tip - normal * 2.6 + side, tip - normal * 2.6 - side]), "START-LINE", 1.0))
    return result, float(low[1]) - 8.0


def words(setout: SetOut, own: RoomJob, page: Page, column: Column) -> None:
    """The column: key plan, how to read the sheet, the cuts of its faces."""
    room, index = own.room, own.index
    rules = room.lining.plan.rules
    column.head(say("Where these faces are"))
    made, column.y = key_plan(room, page, column.x, column.y)
    column.now.extend(made)
    column.words(
        say("Numbers are walls; arrows show which way the viewer looks; plinths and columns of this sheet are filled."), bullet="•"
    )
    column.head(say("Notes"))
    courses = {
        "best": say("set for the widest cuts of all faces"),
        "floor": say("start on the finished floor at its highest"),
        "datum": say("have an edge on the datum line"),
        "head": say("start on the head of the widest opening"),
    }[rules.courses]
    feet = {
        "wall-through": say(
            "Wall tile runs down behind the floor: saw sizes at the foot are {covered:.0f} longer than what is seen.",
            covered=finished(room.lining) - rules.membrane,
        ),
        "floor-through": say(
            "Wall tile stands above the floor by its joint of {perimeter_joint:g}.", perimeter_joint=rules.perimeter_joint
        ),
        "cove": say(
            "Wall tile stands above the cove ({cove:g} high) by its joint of {perimeter_joint:g}.",
            cove=rules.cove[0],
            perimeter_joint=rules.perimeter_joint,
        ),
    }[rules.foot]
    for text in (
        say("Faces as seen from inside, figured dimensions only, mm. Courses run level round the room and {courses}.", courses=courses),
        say(
            "On the left: number of each course and the level of its top edge; ±0 {datum}.",
            datum=room.levels.floor_datum if room.levels else say("is the finished floor"),
        ),
        say("Heights on the right run from the bare floor, {finished:.0f} under ±0.", finished=finished(room.lining)),
        say(
            "Order: fix from the second course up on a level batten, then the floor, then the bottom course, cut to "
            "the floor as laid. {feet}",
            feet=feet,
        ),
        say("Neighbours' build-up is taken off at corners; the lower wall number runs through. Faces alike in every tile are drawn once."),
    ):
        column.words(text, bullet="•")
    if any(room.surfaces[p.number].surface.kind == "plinth-side" and p.turn for p in page.faces) or any(
        room.surfaces[p.number].surface.kind == "plinth-top" for p in page.faces
    ):
        column.words(say("A plinth is unfolded: its top as in plan, each side hinged at its edge."), bullet="•")
    column.head(say("Key"))
    shown = {"START-LINE", "TAPE-INTERNAL", "COLLAR", "SEALANT", "FACE", "TILE-CUT", *(("EDGE-TRIM",) if arrises(room.lining) else ())}
    column.legend("elevations", shown)
    runs = [run for placed in page.faces for run in own.runs[placed.number]]
    column.head(say("Cuts on this sheet: saw sizes, face up, as laid"))
    for text in beforehand(setout, [run for placed in page.faces for _ in placed.stands_for for run in own.runs[placed.number]]):
        column.words(text, bullet="•")
    called = {number: cut_by_face(room, placed) for placed in page.faces for number in placed.stands_for}
    cards(laid_cuts(setout, index, list(called), in_rows_only(runs), called=called), column)
    told_rows(setout, runs, column)
