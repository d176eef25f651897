"""Membrane on the upright faces, unfolded: each face as seen from inside, with its tanking, tape and collars.

Faces stand in rows below the room, in the order of its walls, so that a drawing file holds them at full size too.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.shapes import parts_of, rings_of
from layout.sheets.draft import Draft, Job, labelled, layers_of
from layout.sheets.edge_figures import figure_box
from layout.sheets.face_rows import NAME, between, papers_for, shown, unfolded_on
from layout.sheets.lettering import text_width
from layout.sheets.parts import letters, placer_of
from layout.sheets.scene import Dimension, Fill, Primitive, Stroke, View
from layout.sheets.spots import Spot
from layout.sheets.tape_sheet import LAYER_OF, numbered
from layout.tanking.membrane import ENDS
from layout.vectors import pair
from layout.words import say, spelt

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from layout.lining.surfaces import BreakOn, Surface
    from layout.setout.values import RoomSetOut
    from layout.sheets.column import Column
    from layout.sheets.face_rows import Face, Unfolded
    from layout.sheets.place import Placer
    from layout.tanking.tape import TapeRun

    Floats = NDArray[np.float64]

TOUCHES = 1.0
PAST = 4.0
"""A match line goes so far past the face that it cuts, paper mm."""


def drafts(job: Job) -> Iterator[Draft]:
    """The sheet of the membrane on upright faces, if there are any."""
    own = job.only
    papers = (own.paper,) if job.paper else papers_for(own.paper)
    paper, view, unfolded = unfolded_on(own.room, papers, job.scale)
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


def scene(room: RoomSetOut, unfolded: Unfolded, view: View, placer: Placer) -> tuple[Primitive, ...]:
    """The unfolded faces as a room scene."""
    result: list[Primitive] = []
    runs = numbered(room)
    for face in unfolded.faces:
        _face(face, runs, room.lining.plan.products.collar_lap.value, view, placer, result)
    return tuple(result)


def _face(face: Face, runs: list[tuple[str, TapeRun]], lap: float, view: View, placer: Placer, result: list[Primitive]) -> None:
    surface, at = face.surface, np.array(face.at)
    whole = face.parts == 1
    tanked = surface.tanked if whole else between(surface.tanked, face.low, face.high)
    result += [Fill(shapely.transform(part, lambda xy: xy + at), "COLLAR", 0.10) for part in parts_of(tanked)]
    if whole:
        result += [Stroke(ring + at, "FACE", closed=True) for part in parts_of(face.shown) for ring in rings_of(part)]
    else:
        outline = between(shapely.boundary(shown(surface)), face.low, face.high)
        result += [Stroke(line + at, "FACE") for line in _lines(outline)]
    _, y0, _, _ = surface.gross.bounds
    x0, x1, top = face.low, face.high, surface.tanked.bounds[3]
    result.append(Stroke(np.array([[x0, top], [x1, top]]) + at, "COLLAR"))
    drawn = []
    for name, run in runs:
        line = run_on_face(surface, run)
        for own in () if line is None else (line,) if whole else _lines(between(shapely.LineString(line), x0, x1)):
            result.append(Stroke(own + at, LAYER_OF[run.junction]))
            drawn.append((name, own, run))
    for each in surface.breaks:
        if whole or x0 < each.at[0] < x1:
            _break(each, at, lap, view, placer, result)
    _figures(face, view, placer, result)
    _run_names(drawn, at, view, placer)
    a, c = (view.to_paper(np.array([p]) + at)[0] for p in ((x0, y0), (x1, top)))
    if top - y0 >= 12.0 * view.scale:
        top_spot = [Spot((float((a[0] + c[0]) / 2 + dx), float(c[1] + 2.6))) for dx in (0.0, 16.0, -16.0)]
        placer.place(say("tanked to {top:.0f}", top=top), 2.5, "COLLAR", top_spot, boxed=True)


def _lines(shape: BaseGeometry) -> list[Floats]:
    """The lines of a shape, each in one piece as far as it goes."""
    merged = shapely.line_merge(shape) if shape.geom_type == "MultiLineString" else shape
    return [shapely.get_coordinates(part) for part in shapely.get_parts(merged) if part.geom_type == "LineString" and part.length > TOUCHES]


def _break(each: BreakOn, at: Floats, lap: float, view: View, placer: Placer, result: list[Primitive]) -> None:
    """A pipe or a socket with its collar and its name."""
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


def _figures(face: Face, view: View, placer: Placer, result: list[Primitive]) -> None:
    """Length and height of a face, its name; of a part its length of the whole, and where it goes on."""
    surface, at = face.surface, np.array(face.at)
    low, y0, high, _ = surface.gross.bounds
    x0, x1, top = face.low, face.high, surface.tanked.bounds[3]
    a, b, c = (view.to_paper(np.array([p]) + at)[0] for p in ((x0, y0), (x1, y0), (x1, top)))
    corners = [pair(np.array(p) + at) for p in ((x0, y0), (x1, y0), (x1, top))]
    long = f"{x1 - x0:.0f}" if face.parts == 1 else say("{part:.0f} of {whole:.0f}", part=x1 - x0, whole=high - low)
    narrow = text_width(long, 2.5) > float(b[0] - a[0]) - 1.0  # its own lines would strike it
    if narrow:
        beside = [Spot((float(b[0] + 2.0), float(a[1] - 6.0)), "left"), Spot((float(a[0] - 2.0), float(a[1] - 6.0)), "right")]
        placer.place(long, 2.5, "DIMENSION", beside, needed=True, foot=(float((a[0] + b[0]) / 2), float(a[1] - 6.0)))
    figures = [Dimension(corners[0], corners[1], -6.0, "" if narrow else long, "DIMENSION")]
    if top - y0 > 8.0 * view.scale and face.part + 1 == face.parts:
        figures.append(Dimension(corners[1], corners[2], -5.0, f"{top - y0:.0f}", "DIMENSION"))
    for figure in figures:
        placer.block(figure_box(figure, view))
    result += figures
    placer.block((float(a[0]), float(a[1] - 8.0), float(b[0]), float(a[1] - 2.0)))
    if face.part + 1 == face.parts:
        placer.block((float(b[0] + 2.0), float(b[1]), float(b[0] + 7.0), float(c[1])))
    name = spelt(surface.name) + (say(", part {letter}", letter=face.letter) if face.letter else "")
    placer.place(name, NAME, "TEXT", [Spot((float((a[0] + b[0]) / 2), float(a[1] - 11.0)))], bold=True, needed=True)
    _match_lines(face, view, placer, result)


def _match_lines(face: Face, view: View, placer: Placer, result: list[Primitive]) -> None:
    """Where a face in parts goes on, and in which part of it; all stand on the one sheet."""
    at = np.array(face.at)
    _, y0, _, tall = face.shown.bounds
    for k, end, way in ((face.part - 1, face.low, -1.0), (face.part + 1, face.high, 1.0)):
        if 0 <= k < face.parts:
            line = np.array([[end, y0 - PAST * view.scale], [end, tall + PAST * view.scale]]) + at
            result.append(Stroke(line, "MATCH-LINE"))
            x, y = view.to_paper(line).mean(axis=0)
            spots = [Spot((float(x + way * 2.0), float(y + dy)), "left" if way > 0 else "right", "middle") for dy in (0.0, 4.0, -4.0)]
            placer.place(say("part {letter}", letter=letters(k)), 2.5, "MATCH-LINE", spots, needed=True)


def _run_names(drawn: list[tuple[str, Floats, TapeRun]], at: Floats, view: View, placer: Placer) -> None:
    """Names of the runs on a face, each beside its line."""
    for name, line, run in drawn:
        middle = view.to_paper((line[0] + line[-1])[None] / 2 + at)[0]
        level = not run.upright
        text = name if level else say("{name} up {length:.0f}", name=name, length=run.length)
        angle = 0.0 if level else 90.0
        offsets = ((0, 3.2), (0, -3.2), (14, 3.2), (-14, 3.2)) if level else ((3.2, 0), (-3.2, 0), (3.2, 9), (-3.2, 9))
        half = float(np.hypot(*(view.to_paper(line[[0]]) - view.to_paper(line[[-1]]))[0])) / 2.0
        # beside a short run a name stands off its face: a leader says whose it is
        spots = [Spot((float(middle[0] + dx), float(middle[1] + dy)), angle=angle, leader=level and abs(dx) > half) for dx, dy in offsets]
        placer.place(text, 2.5, LAYER_OF[run.junction], spots, boxed=True, needed=True, foot=middle)


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
