"""Day pieces: what is done as one and when, on the floor's plan with its walls; tile by days, membrane and grout by areas."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.shapes import rings_of
from layout.sheets.draft import Draft, Job, in_plan
from layout.sheets.hold_points import CAUTIONS
from layout.sheets.programme_sheet import short_name
from layout.sheets.room_view import block_line, block_shape, entrance, name_things, name_walls
from layout.sheets.scene import Fill, Label, Primitive, Stroke
from layout.sheets.spots import Spot, label_box
from layout.words import dated, listed, say, worded

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from layout.lining.surfaces import Surface
    from layout.programme.piece import DayPiece, Part
    from layout.setout.values import RoomSetOut
    from layout.sheets.column import Column
    from layout.sheets.place import Placer
    from layout.sheets.scene import View

    Floats = NDArray[np.float64]

SHEETS = (
    ("tile", worded("Day pieces of the tile"), ("walls", "floor", "bottom"), "fixing"),
    ("membrane", worded("Areas of the membrane"), ("coat",), "coat"),
    ("grout", worded("Areas of the grout"), ("grout",), "grout"),
)
"""Key, title, kinds of pieces, cautions. Membrane and grout of a room in one piece stand on the sheet of the tile."""
LETTERS = {"walls": "W", "floor": "F", "bottom": "B", "coat": "M", "grout": "G"}
TITLES = {
    "walls": worded("Wall tile"),
    "floor": worded("Floor tile"),
    "bottom": worded("Bottom course of the walls"),
    "coat": worded("Membrane"),
    "grout": worded("Grout"),
}
LEAST_NAMED = 0.25e6
"""A further part of a floor piece is named from this area on, mm²."""
BAND = 3.0
"""Width of the band that stands for an upright face, paper mm."""
TONES = (0.10, 0.32)
FACETS = 25
"""Points along the band of a face."""
MOMENT = "%a %d %b"


def drafts(job: Job) -> Iterator[Draft]:
    """The sheets of a room's day pieces; none for a plan without a start."""
    own = job.only
    pieces = [piece for piece in job.works.pieces if piece.room == own.index] if job.works is not None else []
    for key, title, kinds, caution in SHEETS:
        shown = [piece for piece in pieces if piece.kind in kinds]
        beside = [piece for piece in pieces if piece.kind not in kinds] if key == "tile" else []
        if not shown or (key != "tile" and len(shown) == 1 and any(piece.kind in ("walls", "floor") for piece in pieces)):
            continue

        def draw(
            view: View,
            placer: Placer,
            column: Column,
            shown: list[DayPiece] = shown,
            beside: list[DayPiece] = beside,
            caution: str = caution,
        ) -> tuple[Primitive, ...]:
            drawn = scene(own.room, own.base.outline + own.base.services, shown, view, placer)
            words(column, shown, beside, caution)
            return drawn

        yield from in_plan(job, f"pieces-{key}", say(title), draw, around=16.0)


def code(piece: DayPiece) -> str:
    """What a piece is called on sheet and table."""
    return f"{LETTERS[piece.kind]}{piece.number}"


def scene(room: RoomSetOut, base: tuple[Primitive, ...], pieces: list[DayPiece], view: View, placer: Placer) -> tuple[Primitive, ...]:
    """The room scene: floor pieces and bands along the walls, each with its name and day."""
    under: list[Primitive] = []
    over: list[Primitive] = []
    shapes: list[tuple[DayPiece, BaseGeometry]] = []
    bands: list[tuple[DayPiece, Floats, Floats]] = []
    known = {surface.id: surface for surface in (*room.lining.surfaces, *room.membrane.lining.surfaces)}
    for piece in pieces:
        tone = TONES[piece.number % 2]
        flat = [part.shape for part in piece.parts if part.shape is not None and known[part.surface].kind == "floor"]
        if flat:
            whole = shapely.union_all([each.buffer(8.0, join_style="mitre") for each in flat]).buffer(-8.0, join_style="mitre")
            shapes.append((piece, whole))
            under += [Fill(each, "TONE", tone) for each in shapely.get_parts(whole) if each.geom_type == "Polygon"]
        for part in piece.parts if piece.kind != "bottom" else ():
            if part.shape is None and known[part.surface].placing.line is not None:
                made = _band(room, known[part.surface], part, view)
                if made is not None:
                    corners, out = made
                    over += [
                        Fill(shapely.Polygon(corners), "TEXT", 0.30 if piece.number % 2 else 0.65),
                        Stroke(corners, "TITLE", closed=True),
                    ]
                    bands.append((piece, corners, out))
    over += _ends([shape for _, shape in shapes])
    result = [*under, *base, *over, *entrance(room, view, placer)]
    name_things(room, view, placer)
    for ring in rings_of(room.lining.outline.domain):
        block_line(placer, view, np.vstack([ring, ring[:1]]))
    for _, corners, _ in bands:
        block_shape(placer, view, corners, 0.2)
    for piece, shape in shapes:
        _in_floor(piece, shape, view, placer)
    for piece, corners, out in bands:
        _at_band(piece, corners, out, view, placer)
    name_walls(room, view, placer, out=14.0)
    return tuple(result)


def _ends(shapes: list[BaseGeometry]) -> list[Primitive]:
    """Where one floor piece ends and the next begins: their borders inside the floor, each once."""
    if len(shapes) < 2:
        return []
    inside = shapely.union_all([shape.buffer(15.0, join_style="mitre") for shape in shapes]).buffer(-40.0, join_style="mitre")
    drawn: BaseGeometry = shapely.Polygon()
    result: list[Primitive] = []
    for shape in shapes[:-1]:
        own = shapely.difference(shapely.intersection(shape.boundary, inside), drawn)
        for line in shapely.get_parts(shapely.line_merge(own)):
            if line.length > 60.0:
                result.append(Stroke(shapely.get_coordinates(line), "DAY-PIECE"))
        drawn = drawn.union(own.buffer(40.0))
    return result


def _band(room: RoomSetOut, surface: Surface, part: Part, view: View) -> tuple[Floats, Floats] | None:
    """Corners of the band of an upright face, in the room, and the way out of the room; None where it has no length. Bent faces are followed."""
    if part.high - part.low < 1.0:
        return None
    x = surface.gross.bounds[0] + np.linspace(part.low, part.high, FACETS)
    face = surface.placing.to_room(np.column_stack([x, np.zeros(FACETS)]))[:, :2]
    along = np.gradient(face, axis=0)
    normal = np.column_stack([-along[:, 1], along[:, 0]]) / np.hypot(*along.T)[:, None]
    middle = FACETS // 2
    if not room.lining.outline.domain.contains(shapely.Point(face[middle] + normal[middle] * 20.0)):
        normal = -normal
    if float(np.ptp(normal, axis=0).max()) < 1e-6:
        face, normal = face[[0, -1]], normal[[0, -1]]
    return np.vstack([face, (face + normal * BAND * view.scale)[::-1]]), -normal[len(normal) // 2]


def _in_floor(piece: DayPiece, shape: BaseGeometry, view: View, placer: Placer) -> None:
    """A floor piece's name and day in each of its parts, in the widest place."""
    parts = sorted((each for each in shapely.get_parts(shape) if isinstance(each, shapely.Polygon)), key=lambda each: -each.area)
    for number, part in enumerate(parts):
        if number == 0 or part.area > LEAST_NAMED:
            _in_part(piece, part, number == 0, view, placer)


def _in_part(piece: DayPiece, shape: shapely.Polygon, first: bool, view: View, placer: Placer) -> None:
    """The name of one part; its day and area where it goes."""
    middle = shapely.get_coordinates(shapely.maximum_inscribed_circle(shape, tolerance=20.0))[0]
    at = view.to_paper(middle[None])[0]
    places = [(dx, dy) for dy in (0, 7, -7, 14, -14, 21, -21) for dx in (0, 14, -14, 28, -28)]
    every = [Spot((float(at[0] + dx), float(at[1] + dy))) for dx, dy in places]
    every += [replace(spot, angle=90.0) for spot in every]
    whole, day = f"{code(piece)} · {_when(piece)} · {piece.m2:.1f} m²", f"{code(piece)} · {_when(piece)}"
    spots = [
        replace(spot, text=text)
        for text in ((whole, day, code(piece)) if first else (day, code(piece)))
        for spot in every
        if _stands_in(text, spot, shape, view)
    ]
    placer.place(day, 3.5, "TEXT", spots, boxed=True, bold=True, needed=True, foot=at)


def _stands_in(text: str, spot: Spot, shape: BaseGeometry, view: View) -> bool:
    """Whether a label at a spot lies inside a piece: in another it would name that one."""
    box = label_box(Label(text, spot.at, 3.5, "TEXT", spot.across, spot.upward, spot.angle, bold=True))
    low, high = np.array(box).reshape(2, 2)
    return bool(shape.covers(shapely.box(*view.to_room(low)[0], *view.to_room(high)[0])))


def _at_band(piece: DayPiece, corners: Floats, out: Floats, view: View, placer: Placer) -> None:
    """A face's name and day, beside its band: outside a wall, else where there is room."""
    face = view.to_paper(corners[: len(corners) // 2])
    ends = face[[0, -1]]
    text = code(piece)
    long = float(np.hypot(*(ends[1] - ends[0])))
    words = f"{text} · {_when(piece)}" if long > 30.0 else text
    spots = []
    for far in (5.0, 9.0, -6.5, -10.0):
        for share in (0.5, 0.3, 0.7, 0.15, 0.85):
            at = _along(face, share) + out * far
            spots.append(Spot((float(at[0]), float(at[1]))))
    foot = _along(face, 0.5) - out * BAND / 2
    placer.place(
        words,
        2.5 if long < 12.0 else 3.5,
        "TEXT",
        [*spots, *[Spot(spot.at, text=text) for spot in spots]],
        boxed=True,
        bold=True,
        needed=True,
        foot=foot,
    )


def _along(face: Floats, share: float) -> Floats:
    """The point so far along a face, (n, 2) paper mm."""
    at = share * (len(face) - 1)
    low = min(int(at), len(face) - 2)
    result: Floats = face[low] + (face[low + 1] - face[low]) * (at - low)
    return result


def _when(piece: DayPiece) -> str:
    """The day of a piece; from the first to the last of its stages."""
    first, last = piece.days[0][1], piece.days[-1][2]
    begin, end = dated(first, MOMENT), dated(last, MOMENT)
    return begin if first.date() == last.date() else say("{begin} to {end}", begin=begin, end=end)


def words(column: Column, shown: list[DayPiece], beside: list[DayPiece], caution: str) -> None:
    """The column: each piece with its days and where it is, what stands on other sheets, how it was parted, the caution."""
    for kind, title in TITLES.items():
        own = [piece for piece in shown if piece.kind == kind]
        if own:
            _table(column, title, own)
    for kind, title in TITLES.items():
        own = [piece for piece in beside if piece.kind == kind]
        if len(own) == 1:
            _table(column, say("{title}: the whole room in one", title=title), own, where=False)
        elif own:
            column.head(say("{title}: {own} areas, on a sheet of their own", title=title, own=len(own)))
    column.head(say("How the pieces are parted"))
    column.words(
        say(
            "From the far end to the door, bay by bay; a piece ends on a bay, a day joint or a line of tile joints, "
            "as much as the hands do in their hours. Bands along the walls stand for what goes up on them; figures on "
            "a wall count from its left end as seen from the room."
        )
    )
    column.words(say("Where it goes faster or slower, end on a whole course, and plan the rest again."))
    column.words(say(CAUTIONS[caution]), bullet="△")
    column.words(say("The products' data sheets, local rules and the responsible professional decide."))


def _table(column: Column, title: str, pieces: list[DayPiece], *, where: bool = True) -> None:
    """Pieces with each of their stages from when to when, then where they are."""
    column.head(title)
    rows = [[say("piece"), say("stage"), say("from"), say("to"), "m²"]]
    for piece in pieces:
        for k, (stage, begin, end) in enumerate(piece.days):
            upto = f"{end:%H:%M}" if begin.date() == end.date() else dated(end, f"{MOMENT} %H:%M")
            rows.append(
                [
                    code(piece) if k == 0 else "",
                    short_name(stage, 1, 1),
                    dated(begin, f"{MOMENT} %H:%M"),
                    upto,
                    f"{piece.m2:.1f}" if k == 0 else "",
                ]
            )
    column.rows((16, 60, 40, 40, 18), rows, right=(4,))
    for piece in pieces if where else ():
        names = [part.words for part in piece.parts if part.shape is None]
        if names:
            column.words(listed(names), bullet=f"{code(piece)}")
