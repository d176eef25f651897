"""Everything of a set-out that is ticked, measured or signed on site, each with an id that small edits leave alone.

A mark is no id: one wall moved by a centimetre gives other pieces the same marks. A piece is known by its surface and the lattice
index of its tile, a run of tape by its name, a test point by its kind's letter and number. A tick holds the size too, so that a
piece that was sawn before the size changed is told.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal, TypeAlias

import numpy as np
import shapely

from layout.errors import PlanError
from layout.joints.lines import CALLED
from layout.programme.stages import plan_works, start_of
from layout.record.values import Issue
from layout.shapes import parts_of
from layout.sheets.hold_points import all_holds
from layout.sheets.tape_sheet import numbered
from layout.sheets.unfold_sheet import run_on_face
from layout.tiles.pieces import PieceKey
from layout.words import worded

if TYPE_CHECKING:
    from collections.abc import Iterator

    from layout.programme.values import Programme
    from layout.quantities.values import TakeOff
    from layout.setout.values import RoomSetOut, SetOut
    from layout.tiles.pieces import Cut
    from layout.vectors import Floats

Kind: TypeAlias = Literal["piece", "run", "corner", "collar", "drain", "joint", "stage", "hold", "test", "wall", "tile"]
FieldKind: TypeAlias = Literal["tick", "number", "text", "sum"]
UNDATED = dt.datetime(2000, 1, 3, 7)  # noqa: DTZ001  # the site's own clock, as all programmes
"""A Monday: areas of a plan without a start are counted from it, and no day is told."""


@dataclass(frozen=True, slots=True)
class Field:
    """What is filled in of a thing: a tick, a number in `unit`, words, or a count that adds up."""

    key: str
    words: str
    kind: FieldKind = "tick"
    unit: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Thing:
    """One thing that a person taps, asks about, ticks.

    `room` counts from 0; `size` is what a tick is true for; `figures` are told; `at` gives places: key of a surface, and points
    (n, 2) in its own axes, a line or the lower left and upper right of a box. `test` of a hold point is the kind of test points at
    which its readings are taken, and stand.
    """

    id: str
    kind: Kind
    room: int
    name: str
    size: str
    figures: tuple[tuple[str, str], ...] = ()
    fields: tuple[Field, ...] = ()
    at: tuple[tuple[str, Floats], ...] = field(default=())
    test: str = ""


PIECE_FIELDS = (Field("sawn", worded("sawn")), Field("laid", worded("laid")))
TESTS: dict[str, tuple[Field, ...]] = {
    "pull-off": (Field("value", worded("pull-off"), "number", "N/mm²"),),
    "moisture": (Field("value", worded("moisture"), "number", "%"),),
    "flood level": (Field("before", worded("level before"), "number", "mm"), Field("after", worded("level after"), "number", "mm")),
}


CORNER_PIECES = {"internal": worded("internal piece"), "external": worded("external piece"), "made": worded("made from tape")}
DRAINS = {"gully": worded("gully"), "channel": worded("channel")}
TEST_KINDS = {"wet film": worded("wet film"), "pull-off": worded("pull-off"), "moisture": worded("moisture")}


def things_of(takeoff: TakeOff) -> tuple[Thing, ...]:
    """All things of a plan, room by room, in the order of the works; ids are unique."""
    setout = takeoff.setout
    programme = works_of(takeoff)
    result: list[Thing] = []
    for index, room in enumerate(setout.rooms):
        result += [*_walls(index, room), *_tape(index, room), *_tests(index, room)]
        if programme is not None:
            result += [*_stages(index, programme), *_holds(index, programme, takeoff)]
        result += [*_joints(index, room), *_pieces(setout, index), *_tiles(index, room)]
    return tuple(result)


def works_of(takeoff: TakeOff) -> Programme | None:
    """The programme whose stages and areas are ticked; None for a plan that says neither when nor how works may go.

    Of a plan without a start only stages and areas are told, no day. Raises PlanError where a plan with a start has no programme.
    """
    start = start_of(takeoff.setout.plan)
    if start is not None:
        return plan_works(takeoff, start=start)
    try:
        return plan_works(takeoff, start=UNDATED)
    except PlanError:  # in air that no resin is laid in, say: that is told where a programme is asked for
        return None


def issue_of(setout: SetOut, things: tuple[Thing, ...]) -> Issue:
    """Which issue a page or record is of; its digest changes where a thing or its size does."""
    project = setout.plan.project
    text = "\n".join(f"{thing.id}\t{thing.size}" for thing in things)
    return Issue(project.title, project.number, project.revision, hashlib.sha256(text.encode()).hexdigest()[:12])


def size_words(cut: Cut) -> str:
    """What a piece is sawn to: its saw size; of a tile with a part sawn out, the box of that part; of a taper, both its ends."""
    if cut.start is not None and cut.end is not None:
        return f"{cut.start:g} → {cut.end:g}"
    box = " × ".join(f"{side:g}" if side >= 1.0 else "under 1" for side in cut.size)
    if cut.shape not in ("notch", "hole", "curve", "other"):
        return box
    gone = shapely.difference(shapely.box(0.0, 0.0, *cut.box), shapely.Polygon(cut.outline, cut.holes))
    parts = [part for part in parts_of(gone) if part.area > 1.0]
    out = [" × ".join(f"{math.ceil(side - 1e-3):g}" for side in (x1 - x0, y1 - y0)) for x0, y0, x1, y1 in (part.bounds for part in parts)]
    return f"{box}, less {', '.join(out)}" if out else box


def piece_id(surface: str, tile: tuple[int, int, int, int], again: int = 0) -> str:
    """Id of a piece: its surface, its tile's bay, member and lattice index; further pieces of one tile are counted.

    >>> piece_id("0.wall.3", (0, 0, -1, 4)), piece_id("0.floor", (1, 0, 2, 2), 1)
    ('0.wall.3:0.0.-1.4', '0.floor:1.0.2.2.1')
    """
    return f"{surface}:{'.'.join(str(part) for part in (*tile, *([again] if again else [])))}"


def _pieces(setout: SetOut, index: int) -> Iterator[Thing]:
    cuts = {cut.mark: cut for cut in setout.cuts}
    sizes = {mark: size_words(cut) for mark, cut in cuts.items()}
    for number, done in enumerate(setout.rooms[index].surfaces):
        key = done.surface.id.key
        boxes = shapely.bounds(done.field.pieces()).reshape(-1, 2, 2)
        seen: dict[tuple[int, int, int, int], int] = {}
        at = -1
        for bay, laid in enumerate(done.field.bays):
            for piece, (member, i, j) in enumerate(laid.cut.tolist()):
                at += 1
                tile = (bay, member, i, j)
                again = seen[tile] = seen.get(tile, -1) + 1
                mark = setout.marks[PieceKey(index, number, bay, piece)]
                place = ((key, np.round(boxes[at])),)
                yield Thing(piece_id(key, tile, again), "piece", index, mark, sizes[mark], (), PIECE_FIELDS, place)


def _tape(index: int, room: RoomSetOut) -> Iterator[Thing]:
    floor = room.lining.floor.id.key
    faces = [surface for surface in room.membrane.lining.surfaces if surface.placing.line is not None]
    for number, run in numbered(room):
        on_faces = [(face.id.key, line) for face in faces if (line := run_on_face(face, run)) is not None]
        places = ((floor, run.line[:, :2]), *on_faces)
        figures = [("where", run.name), ("length", f"{run.length / 1000:.2f} m"), ("kind", run.junction)]
        if run.upright:
            figures.append(("up to", f"{run.line[:, 2].max():.0f} mm"))
        if run.low_return is not None:
            figures.append(("return on the lower wall", f"{run.low_return.value:g} mm at least"))
        yield Thing(
            f"{index}/run/{run.name}", "run", index, number, f"{run.length:.0f}", tuple(figures), (Field("taped", worded("taped")),), places
        )
    for k, corner in enumerate(room.tape.corners, 1):
        words = CORNER_PIECES[corner.kind]
        level = (("level", f"{corner.at[2]:.0f} mm"),) if corner.at[2] else ()
        figures = [("corner piece", words), ("edges", corner.corner), *level]
        place = ((floor, np.array([corner.at[:2]])),)
        yield Thing(f"{index}/corner/{k}", "corner", index, f"K{k}", words, tuple(figures), (Field("set", worded("set")),), place)
    for collar in room.tape.collars:
        clear = next((c for c in room.membrane.clearances if (c.label, c.surface) == (collar.label, collar.surface)), None)
        more = [("clear of", worded("{nearest} by {clear:.0f} mm", nearest=clear.nearest, clear=clear.clear))] if clear is not None else []
        figures = [("collar for", collar.label), ("on", collar.surface.name), ("diameter", f"{collar.diameter:.0f} mm"), *more]
        place = ((collar.surface.key, np.array([collar.at])),)
        yield Thing(
            f"{index}/collar/{collar.surface.key}/{collar.label}", "collar", index, collar.label, f"{collar.diameter:.0f}",
            tuple(figures), (Field("set", worded("set")),), place,
        )  # fmt: skip
    flanges = {(each.surface, each.label): each for each in room.tape.flanges}
    for surface in room.lining.surfaces:
        for each in (one for one in surface.breaks if one.kind in ("gully", "channel")):
            flange = flanges.get((surface.id, each.name))
            x0, y0, x1, y1 = each.shape.bounds
            round_it = (
                worded("{width:.0f} mm wide, {length:.2f} m round", width=flange.width, length=flange.length / 1000) if flange else ""
            )
            told = [("flange", round_it)] if round_it else []
            figures = [("drain", DRAINS[each.kind]), ("frame", f"{x1 - x0:.0f} × {y1 - y0:.0f} mm"), *told]
            place = ((surface.id.key, np.array([[x0, y0], [x1, y1]])),)
            fields = (Field("dressed", worded("flange dressed")),)
            yield Thing(f"{index}/drain/{each.name}", "drain", index, each.name, figures[1][1], tuple(figures), fields, place)


def _tests(index: int, room: RoomSetOut) -> Iterator[Thing]:
    film = room.membrane.film
    coats = tuple(Field(f"coat {k}", worded("wet film, coat {k}", k=k), "number", "mm") for k in range(1, film.coats + 1))
    for test in room.membrane.tests:
        fields = coats if test.test == "wet film" else TESTS[test.test]
        wanted = [("wanted", worded("{wet:.2f} mm at least, each coat", wet=film.wet))] if test.test == "wet film" else []
        place = ((test.surface.key, np.array([test.at])),)
        called = TEST_KINDS.get(test.kind, test.kind)
        figures = (("test", called), *wanted)
        yield Thing(f"{index}/test/{test.name}", "test", index, test.name, called, figures, fields, place)


def _joints(index: int, room: RoomSetOut) -> Iterator[Thing]:
    count: dict[str, int] = {}
    for joint in room.joints:
        where = joint.label or joint.surface.name
        base = f"{index}/joint/{joint.surface.key}/{joint.kind}/{where}"
        count[base] = count.get(base, 0) + 1
        figures = [
            ("joint", CALLED[joint.kind]),
            ("at", where),
            ("width", f"{joint.width:g} mm"),
            ("length", f"{joint.length / 1000:.2f} m"),
        ]
        figures += [("why", joint.why)] if joint.why else []
        name = worded("{kind} joint, {where}", kind=CALLED[joint.kind], where=where)
        place = ((joint.surface.key, joint.line),)
        yield Thing(
            f"{base}/{count[base]}", "joint", index, name, f"{joint.width:g} × {joint.length:.0f}", tuple(figures), (Field("sealed", worded("sealed")),), place
        )  # fmt: skip


def _stages(index: int, programme: Programme) -> Iterator[Thing]:
    fields = (Field("begun", worded("begun")), Field("done", worded("done")), Field("batch", worded("batch numbers"), "text"))
    for stage in (each for each in programme.stages if each.room == index):
        wait = worded("{hours:.0f} h at least", hours=(stage.next_from - stage.end).total_seconds() / 3600)
        figures = (
            ("hours of one hand", f"{stage.hours:.1f}"),
            ("until the next", wait),
            *((("check first", stage.hold),) if stage.hold else ()),
        )
        yield Thing(
            f"{index}/stage/{stage.key}/{stage.area}",
            "stage",
            index,
            stage.name,
            worded("{area} of {areas}", area=stage.area, areas=stage.areas),
            figures,
            fields,
        )


def _holds(index: int, programme: Programme, takeoff: TakeOff) -> Iterator[Thing]:
    for stage in (each for each in all_holds(programme, takeoff) if each.room == index):
        for k, hold in enumerate(stage.holds, 1):
            own = () if hold.test else tuple(w or worded("reading") for w in hold.readings)
            readings = tuple(Field(word, word, "number") for word in own if any(h for h in hold.readings))
            fields = (*readings, Field("signed", worded("signed by"), "text"))
            figures = (("before", stage.name), ("wanted", hold.wanted))
            yield Thing(f"{index}/hold/{stage.key}/{k}", "hold", index, hold.check, hold.wanted, figures, fields, test=hold.test)


def _walls(index: int, room: RoomSetOut) -> Iterator[Thing]:
    corners = [vertex.to for vertex in room.lining.room.outline]
    for k, vertex in enumerate(room.lining.room.outline):
        after = room.lining.room.outline[(k + 1) % len(corners)]
        if after.bulge:
            continue
        length = float(np.hypot(*(np.array(after.to) - np.array(vertex.to))))
        figures = (("from corner", f"{k + 1}"), ("to corner", f"{(k + 1) % len(corners) + 1}"), ("drawn", f"{length:.0f} mm"))
        place = ((room.lining.floor.id.key, np.array([vertex.to, after.to], dtype=float)),)
        yield Thing(
            f"{index}/wall/{k + 1}-{(k + 1) % len(corners) + 1}", "wall", index, worded("wall {number}", number=k + 1), f"{length:.0f}", figures, (Field("length", worded("as measured"), "number", "mm"),), place
        )  # fmt: skip


def _tiles(index: int, room: RoomSetOut) -> Iterator[Thing]:
    for name in dict.fromkeys(done.tile.name for done in room.surfaces):
        tile = next(done.tile for done in room.surfaces if done.tile.name == name)
        size = " × ".join(f"{side:g}" for side in tile.size)
        yield Thing(
            f"{index}/tile/{name}",
            "tile",
            index,
            worded("tile {name}", name=name),
            size,
            (("size", f"{size} mm"),),
            (Field("broken", worded("broken"), "sum"),),
        )
