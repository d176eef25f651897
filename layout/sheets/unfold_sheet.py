"""Membrane on the upright faces, unfolded: each face as seen from inside, with its tanking, tape and collars.

Faces stand in rows below the room, in the order of its walls, so that a drawing file holds them at full size too.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
import shapely.affinity

from layout.shapes import parts_of, rings_of
from layout.sheets.draft import Draft, Job, labelled, layers_of
from layout.sheets.edge_figures import figure_box
from layout.sheets.lettering import text_width
from layout.sheets.paper import SCALES, SIZES, drawing_window
from layout.sheets.parts import placer_of, view_on
from layout.sheets.room_view import room_bounds
from layout.sheets.scene import Dimension, Fill, Primitive, Stroke, View
from layout.sheets.spots import Spot
from layout.sheets.tape_sheet import LAYER_OF, numbered
from layout.tanking.membrane import ENDS
from layout.vectors import pair
from layout.words import say, spelt

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from layout.lining.surfaces import Surface
    from layout.setout.values import RoomSetOut
    from layout.sheets.column import Column
    from layout.sheets.place import Placer
    from layout.tanking.tape import TapeRun

    Floats = NDArray[np.float64]

BELOW = 3000.0
"""How far below the room the first row stands, room mm."""
BESIDE, UNDER = 18.0, 24.0
"""Between faces and between rows, paper mm."""
ABOVE = 300.0
"""How much of a face is shown above its tanking, room mm."""
NAME = 2.5
TOUCHES = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Unfolded:
    """Faces in rows: each with the place of its own origin, room mm; bounds of all of them."""

    faces: tuple[tuple[Surface, tuple[float, float]], ...]
    bounds: tuple[float, float, float, float]


def unfold(room: RoomSetOut, scale: float, width: float) -> Unfolded:
    """Set the tanked faces in rows no wider than a width on paper, mm."""
    faces = [s for s in room.membrane.lining.surfaces if s.placing.line is not None and not s.tanked.is_empty]
    x0, y0, _, _ = room_bounds(room)
    placed: list[tuple[Surface, tuple[float, float]]] = []
    row: list[tuple[Surface, float]] = []
    top = y0 - BELOW

    def end_row() -> None:
        nonlocal top
        tall = max((float(np.ptp(_shown(s).bounds[1::2])) for s, _ in row), default=0.0)
        placed.extend((s, (at, top - tall - _shown(s).bounds[1])) for s, at in row)
        top -= tall + UNDER * scale

    x = x0
    for surface in faces:
        low, _, high, _ = _shown(surface).bounds
        wide = max(high - low + BESIDE * scale, (text_width(surface.name, NAME, bold=True) + 4.0) * scale)
        if row and x + wide - x0 > width * scale:
            end_row()
            row, x = [], x0
        row.append((surface, x + (wide - BESIDE * scale - (high - low)) / 2 - low))
        x += wide
    end_row()
    boxes = [shapely.affinity.translate(_shown(s), *at).bounds for s, at in placed]
    if not boxes:
        return Unfolded((), (x0, top, x0 + 1.0, top + 1.0))
    array = np.array(boxes)
    first, last = array[:, :2].min(axis=0), array[:, 2:].max(axis=0)
    return Unfolded(tuple(placed), (float(first[0]), float(first[1]), float(last[0]), float(last[1])))


def _shown(surface: Surface) -> BaseGeometry:
    """A face as far up as it is drawn: its tanking and a little more."""
    x0, y0, x1, y1 = surface.gross.bounds
    return shapely.clip_by_rect(surface.gross, x0, y0, x1, min(y1, surface.tanked.bounds[3] + ABOVE))


def drafts(job: Job) -> Iterator[Draft]:
    """The sheet of the membrane on upright faces, if there are any."""
    own = job.only
    papers = [own.paper] if job.paper else [own.paper, *[p for p in ("A2",) if own.paper == "A3"]]
    paper, view, unfolded = unfolded_on(own.room, papers, own.scale)
    if unfolded.faces:
        column = own.column(paper)
        placer = placer_of(view)
        drawn = scene(own.room, unfolded, view, placer)
        words(own.room, column, layers_of(drawn))
        yield labelled(
            Draft(
                f"{own.prefix}unfolded",
                say("Membrane, faces unfolded"),
                own.room.name,
                paper,
                view,
                drawn,
                column.scene,
                further=tuple(column.further),
                column=column,
            ),
            placer,
        )


def unfolded_on(room: RoomSetOut, papers: Sequence[str], scale: float) -> tuple[str, View, Unfolded]:
    """Paper, view, and faces in rows at the largest scale, from the plan's own down, that takes them all on one of the papers."""
    last = None
    for step in [each for each in SCALES if each >= scale]:
        for paper in papers:
            size = SIZES[paper]
            left, _, right, _ = drawing_window(size)
            rows = unfold(room, step, right - left - 30.0)
            last = paper, view_on(rows.bounds, size, step), rows
            if (rows.bounds[3] - rows.bounds[1]) / step <= last[1].size[1] - 50.0:
                return last
    assert last is not None  # the scales go on beyond any room's
    return last


def scene(room: RoomSetOut, unfolded: Unfolded, view: View, placer: Placer) -> tuple[Primitive, ...]:
    """The unfolded faces as a room scene."""
    result: list[Primitive] = []
    runs = numbered(room)
    for surface, at in unfolded.faces:
        _face(surface, np.array(at), runs, room.lining.plan.products.collar_lap.value, view, placer, result)
    return tuple(result)


def _face(
    surface: Surface, at: Floats, runs: list[tuple[str, TapeRun]], lap: float, view: View, placer: Placer, result: list[Primitive]
) -> None:
    for part in parts_of(surface.tanked):
        result.append(Fill(shapely.transform(part, lambda xy: xy + at), "COLLAR", 0.10))
    for part in parts_of(_shown(surface)):
        result += [Stroke(ring + at, "FACE", closed=True) for ring in rings_of(part)]
    x0, y0, x1, _ = surface.gross.bounds
    top = surface.tanked.bounds[3]
    result.append(Stroke(np.array([[x0, top], [x1, top]]) + at, "COLLAR"))
    drawn = []
    for name, run in runs:
        line = run_on_face(surface, run)
        if line is not None:
            result.append(Stroke(line + at, LAYER_OF[run.junction]))
            drawn.append((name, line, run))
    for each in surface.breaks:
        ring = shapely.get_coordinates(each.shape)[:-1] + at
        result += [Fill(shapely.Polygon(ring), "PIPE", 0.0), Stroke(ring, "PIPE", closed=True)]
        grown = shapely.get_coordinates(shapely.buffer(shapely.Polygon(ring), each.reach(lap)))
        result.append(Stroke(grown[:-1], "COLLAR", closed=True))
        paper = view.to_paper(np.array([each.at]) + at)[0]
        spots = [
            Spot((float(paper[0] + dx), float(paper[1] + dy)), "left" if dx > 0 else "right", "middle")
            for dx in (5.0, -5.0)
            for dy in (0, 4, -4)
        ]
        placer.place(each.name, 2.5, "PIPE", spots, boxed=True, needed=True, foot=paper)
    a, b, c = (view.to_paper(np.array([p]) + at)[0] for p in ((x0, y0), (x1, y0), (x1, top)))
    corners = [pair(np.array(p) + at) for p in ((x0, y0), (x1, y0), (x1, top))]
    long = f"{x1 - x0:.0f}"
    narrow = text_width(long, 2.5) > float(b[0] - a[0]) - 1.0  # its own lines would strike it
    if narrow:
        beside = [Spot((float(b[0] + 2.0), float(a[1] - 6.0)), "left"), Spot((float(a[0] - 2.0), float(a[1] - 6.0)), "right")]
        placer.place(long, 2.5, "DIMENSION", beside, needed=True, foot=(float((a[0] + b[0]) / 2), float(a[1] - 6.0)))
    figures = [Dimension(corners[0], corners[1], -6.0, "" if narrow else long, "DIMENSION")]
    if top - y0 > 8.0 * view.scale:
        figures.append(Dimension(corners[1], corners[2], -5.0, f"{top - y0:.0f}", "DIMENSION"))
    for figure in figures:
        placer.block(figure_box(figure, view))
    result += figures
    placer.block((float(a[0]), float(a[1] - 8.0), float(b[0]), float(a[1] - 2.0)))
    placer.block((float(b[0] + 2.0), float(b[1]), float(b[0] + 7.0), float(c[1])))
    name_at = Spot((float((a[0] + b[0]) / 2), float(a[1] - 11.0)))
    placer.place(surface.name, NAME, "TEXT", [name_at], bold=True, needed=True)
    for name, line, run in drawn:
        middle = view.to_paper((line[0] + line[-1])[None] / 2 + at)[0]
        level = not run.upright
        text = name if level else say("{name} up {length:.0f}", name=name, length=run.length)
        angle = 0.0 if level else 90.0
        offsets = ((0, 3.2), (0, -3.2), (14, 3.2), (-14, 3.2)) if level else ((3.2, 0), (-3.2, 0), (3.2, 9), (-3.2, 9))
        spots = [Spot((float(middle[0] + dx), float(middle[1] + dy)), angle=angle) for dx, dy in offsets]
        placer.place(text, 2.5, LAYER_OF[run.junction], spots, boxed=True, needed=True, foot=middle)
    if top - y0 < 12.0 * view.scale:
        return
    top_spot = [Spot((float((a[0] + c[0]) / 2 + dx), float(c[1] + 2.6))) for dx in (0.0, 16.0, -16.0)]
    placer.place(say("tanked to {top:.0f}", top=top), 2.5, "COLLAR", top_spot, boxed=True)


def run_on_face(surface: Surface, run: TapeRun) -> Floats | None:
    """A run as it lies on a face, own axes; None if it does not lie along it."""
    line = shapely.LineString(surface.placing.line)
    feet = [shapely.Point(x, y) for x, y in run.line[:, :2]]
    if float(shapely.distance(feet, line).max()) > TOUCHES:
        return None
    x = np.array([float(line.project(foot)) for foot in feet])
    own = np.column_stack([x, run.line[:, 2]])
    bounds = surface.tanked.bounds
    inside = own[:, 0].min() >= bounds[0] - TOUCHES and own[:, 0].max() <= bounds[2] + TOUCHES
    return own if inside and float(np.hypot(*np.ptp(own, axis=0))) > TOUCHES else None


def words(room: RoomSetOut, column: Column, present: set[str]) -> None:
    """The column: where the membrane ends, film, details, key, order of work."""
    film = room.membrane.film
    column.head(say("Where the membrane ends"))
    groups: dict[tuple[str, str], dict[str, float]] = {}
    for end in room.membrane.terminations:
        own = groups.setdefault((end.kind, end.how), {})
        own[end.where] = own.get(end.where, 0.0) + end.length / 1000.0
    for (kind, how), own in groups.items():
        where = ", ".join(f"{spelt(name)} {metres:.2f}" for name, metres in own.items())
        words = say(
            "{kind}, {metres:.2f} m, {how}: {where}.",
            kind=spelt(ENDS[kind]).capitalize(),
            metres=math.fsum(own.values()),
            how=how,
            where=where,
        )
        column.words(words, bullet="•")
    column.head(say("Film"))
    products = room.lining.plan.products
    column.words(
        say(
            "Detail coat {detail_coat_kg_m:g} kg/m under and over the tape. Then {coats} full coats, crosswise, "
            "{membrane_kg_m2:g} kg/m² each: {wet:.2f} mm wet, {dry:.2f} dry a coat, {coats_2:.2f} in all; least "
            "{least:g} for {exposure} ({source}). Coats in two colours show what is missed.",
            detail_coat_kg_m=products.detail_coat_kg_m.value,
            coats=film.coats,
            membrane_kg_m2=products.membrane_kg_m2.value,
            wet=film.wet,
            dry=film.dry,
            coats_2=film.coats * film.dry,
            least=film.least.value,
            exposure=film.exposure,
            source=film.least.source,
        )
    )
    if room.membrane.details:
        column.head(say("Close details: one piece each"))
        for detail in room.membrane.details:
            column.words(
                say(
                    "{members} ({surface}): overlap {overlap:.0f}, lap needed {needed:g}.",
                    members=", ".join(detail.members),
                    surface=detail.surface,
                    overlap=detail.overlap,
                    needed=detail.needed,
                ),
                bullet="□",
            )
    column.head(say("Key"))
    column.symbols([("upright", "TAPE-INTERNAL", say("R: run of tape, as on the plan of the membrane"))])
    column.legend("tape", present)
    column.words(say("Faces as seen from inside; figures in mm above the bare substrate floor. Small breaks are not deducted."), bullet="•")
