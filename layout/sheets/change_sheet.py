"""A sheet of what changed: both outlines, clouds round what is other than it was, and the tables of changes and revisions."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, assert_never

import numpy as np
import shapely

from layout.changes.compare import lies_in
from layout.changes.revision import revision_words
from layout.changes.values import JointAt, ThingAt, WallAt
from layout.shapes import parts_of, rings_of
from layout.sheets.column import Column
from layout.sheets.lettering import wrapped
from layout.sheets.paper import SIZES, block_primitives, choose, drawing_space, drawing_window, frame, title_block
from layout.sheets.place import Placer
from layout.sheets.room_view import base_of, block_line, name_walls
from layout.sheets.scale_bar import scale_bar
from layout.sheets.scene import Fill, Label, Primitive, Sheet, Stroke, View
from layout.sheets.spots import Spot
from layout.vectors import pair
from layout.words import say

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from typing import TypeAlias

    from shapely.geometry.base import BaseGeometry

    from layout.changes.values import Changes, RoomChange, SeenAt
    from layout.setout.values import RoomSetOut, SetOut
    from layout.vectors import Floats

    Place: TypeAlias = Callable[[Floats], Floats]
    Page: TypeAlias = tuple[str, str, str, View | None, tuple[Primitive, ...], list[Primitive]]

ARC = 5.0
"""Chord of one arc of a cloud, paper mm (common practice, no source)."""
ROUND = 3.0
"""How far a cloud stands off what it goes round, paper mm."""
WIDTHS = (9.0, 77.0, 42.0, 48.0)
"""Columns of the table of changes: number, what, before, after; paper mm."""
LETTER = 2.5
NEAR, SAW = 0.75, 1.0
"""A piece is as it was if one lay within so many tiles' sides of it whose sides are its own to within the saw's millimetre."""


@dataclass(frozen=True, slots=True)
class _Row:
    """One row of the table of changes, and where in the room it is seen (None: nowhere on the plan)."""

    what: str
    before: str
    after: str
    at: BaseGeometry | None = None


def change_sheets(before: SetOut, after: SetOut, changes: Changes) -> tuple[Sheet, ...]:
    """A sheet for every room that differs, with further pages where its table is long; none if nothing differs."""
    drawn = []
    for change in changes.rooms:
        if not change.name or not change.was:
            continue
        old = next(room for room in before.rooms if room.name == change.was)
        new = next(room for room in after.rooms if room.name == change.name)
        drawn.append(_pages(old, new, change, changes, after))
    pages = [page for each in drawn for page in each]
    result = []
    for number, (title, room, paper, view, scene, words) in enumerate(pages, 1):
        size = SIZES[paper]
        block = title_block(after.plan.project, title, room, number, len(pages), paper, f"1:{view.scale:g}" if view else "—")
        left, _, _, top = drawing_space(size)
        head = title if view is None else f"{title} · 1:{view.scale:g}"
        paper_scene = (
            *frame(size),
            *words,
            *block_primitives(block, size),
            Label(head, (left + 5.0, top - 8.5), 5.0, "TEXT", bold=True),
            *(scale_bar(view, size, scene, words) if view else ()),
        )
        result.append(Sheet(f"{number:02d}-changes", title, room, paper, size, view, scene, paper_scene, block))
    return tuple(result)


def _pages(old: RoomSetOut, new: RoomSetOut, change: RoomChange, changes: Changes, after: SetOut) -> list[Page]:
    place = lies_in(old, new)
    was = shapely.transform(old.lining.outline.outer.polygon(), place)
    bounds = shapely.union(was, new.lining.outline.outer.polygon()).bounds
    paper, scale = choose(bounds[2] - bounds[0], bounds[3] - bounds[1])
    size = SIZES[paper]
    x0, y0, x1, y1 = drawing_window(size)
    middle = ((bounds[0] + bounds[2]) / 2, (bounds[1] + bounds[3]) / 2)
    view = View(middle, ((x0 + x1) / 2, (y0 + y1) / 2), scale, (x1 - x0, y1 - y0))
    rows = [*_rows(old, new, change, place, was), *_governing(changes)]
    placer = Placer((x0 + 2, y0 + 2, x1 - 2, y1 - 14))
    scene = _scene(old, new, was, place, rows, view, placer)
    column = Column(size)
    _legend(column)
    _table(column, rows)
    _revisions(column, after, changes)
    title = say("What changed")
    first: Page = (title, new.name, paper, view, scene, column.scene)
    return [first, *((say("{title}, words", title=title), new.name, paper, None, (), words) for words in column.further)]


def _rows(old: RoomSetOut, new: RoomSetOut, change: RoomChange, place: Place, was: shapely.Polygon) -> Iterator[_Row]:
    """Rows of the table of changes, those that are seen on the plan with their place."""
    for each in change.shape:
        yield _Row(each.what, each.before, each.after, _where(old, new, each.at, place, was))
    for line in change.lines:
        moved = f"{abs(line.moved):.1f}" + (say(", turned {turned:+.2f}°", turned=line.turned) if abs(line.turned) >= 1e-3 else "")
        what = say(
            "{surface}: line {name} from {face}, moved {moved}",
            surface=line.surface,
            name=line.name,
            face=line.face or say("its wall"),
            moved=moved,
        )
        stretch: BaseGeometry | None = None
        if line.on == new.floor.surface.id:
            own = old.floor.start.lines[line.index]
            ends = place(np.array([own.start, own.end]))
            way = (ends[1] - ends[0]) / max(float(np.hypot(*(ends[1] - ends[0]))), 1e-9)
            stretch = shapely.LineString([ends[0], ends[0] + way * min(400.0, float(np.hypot(*(ends[1] - ends[0]))))])
        yield _Row(what, _length(line.before), _length(line.after), stretch)
    for each in change.works:
        yield _Row(each.what, each.before, each.after, _where(old, new, each.at, place, was))
    for surface in change.surfaces:
        if surface.whole[0] != surface.whole[1] or surface.pieces[0] != surface.pieces[1]:
            was_cut, now_cut = (say("{whole} whole, {pieces} pieces", whole=surface.whole[k], pieces=surface.pieces[k]) for k in (0, 1))
            yield _Row(say("tile of {name}", name=surface.name or surface.was), was_cut, now_cut)
    for words, texts in ((say("finding"), change.came), (say("finding gone"), change.went)):
        for text in texts:
            yield _Row(f"{words}: {text}", "", "")


def _length(value: float) -> str:
    return f"{value:.1f}" if math.isfinite(value) else "—"


def _governing(changes: Changes) -> Iterator[_Row]:
    for each in changes.plan:
        yield _Row(each.what, each.before, each.after)
    bought = [order for order in changes.orders if order.packs_before != order.packs_after]
    for order in bought:
        yield _Row(
            say("order: {name}", name=order.name),
            say("{packs_before} packs", packs_before=order.packs_before or 0),
            say("{packs_after} packs", packs_after=order.packs_after or 0),
        )
    if changes.total is not None:
        yield _Row(say("money"), "", f"{changes.total:+.2f} {changes.currency}")


def _where(old: RoomSetOut, new: RoomSetOut, at: SeenAt | None, place: Place, was: shapely.Polygon) -> BaseGeometry | None:
    """Where a change of the room's shape, things or joints is seen; None: nowhere on the plan."""
    match at:
        case None:
            return None
        case JointAt(ends=ends):
            return shapely.LineString(ends)
        case WallAt(index=index):
            line = shapely.LineString(new.lining.outline.walls[index].run.points)
            moved = shapely.symmetric_difference(was, new.lining.outline.outer.polygon())
            own = shapely.intersection(moved, line.buffer(600.0, cap_style="flat"))
            return line if own.is_empty else shapely.union(own, line)
        case ThingAt(list=key, before=before, after=after):
            there = [shapely.transform(shape, place) for shape in _thing(old, key, before)]
            found = [*there, *_thing(new, key, after)]
            return shapely.union_all(found) if found else None
        case _:
            assert_never(at)


def _thing(room: RoomSetOut, key: str, index: int | None) -> Iterator[BaseGeometry]:
    """What is seen on the plan of a thing of a room, by its list and its place in it: nothing of a fall or of what is on a wall."""
    if index is None:
        return
    outline = room.lining.outline
    match key:
        case "openings":
            for each in outline.openings:
                if each.index == index:
                    yield shapely.LineString(outline.walls[each.wall].run.between(each.s0, each.s1)).buffer(60.0)
        case "plinths":
            yield outline.plinth_rings[index].polygon()
        case "columns":
            yield outline.column_rings[index].polygon()
        case "structural_joints" | "day_joints":
            yield shapely.LineString(getattr(room.lining.room, key)[index].line)
        case "drains" | "pipes" | "fixings":
            name = getattr(room.lining.room, key)[index].name  # no two of a room have one name: see `plan.agree_rooms`
            yield from (b.shape for s in room.lining.surfaces if s.placing.line is None for b in s.breaks if b.name == name)
        case _:
            return  # a fall is a plane: nothing of it stands anywhere


def _scene(
    old: RoomSetOut, new: RoomSetOut, was: shapely.Polygon, place: Place, rows: Sequence[_Row], view: View, placer: Placer
) -> tuple[Primitive, ...]:
    """The room as it is, what was there dashed, and a numbered cloud round each thing that changed."""
    base = base_of(new)
    result: list[Primitive] = [*_tiles(old, new, place), *base.outline, *base.services, *base.joints]
    result.append(Stroke(shapely.get_coordinates(was.exterior)[:-1], "AS-IT-WAS", closed=True))
    for ring in (*old.lining.outline.plinth_rings, *old.lining.outline.column_rings):
        result.append(Stroke(place(np.array(ring.points)), "AS-IT-WAS", closed=True))
    for surface in old.lining.surfaces:
        if surface.placing.line is None:
            result += [Stroke(place(shapely.get_coordinates(b.shape)[:-1]), "AS-IT-WAS", closed=True) for b in surface.breaks]
    result += [Stroke(place(np.array([line.start, line.end])), "AS-IT-WAS") for line in old.floor.start.lines]
    result += [
        Stroke(place(joint.line), "AS-IT-WAS")
        for joint in old.joints
        if joint.surface.kind == "floor" and joint.kind in ("intermediate", "structural")
    ]
    result += [Stroke(np.array([line.start, line.end]), "START-LINE") for line in new.floor.start.lines]
    block_line(placer, view, np.vstack([r := shapely.get_coordinates(new.lining.outline.outer.polygon().exterior), r[:1]]))
    result += _clouds(rows, view, placer)
    name_walls(new, view, placer, out=11.0)
    placer.finish()
    return (*result, *placer.drawn(view))


def _tiles(old: RoomSetOut, new: RoomSetOut, place: Place) -> list[Primitive]:
    """Cut pieces of the floor: those that are cut as one was that lay there before in grey, others in the colour of revisions."""
    was = np.array([_figures(shapely.transform(piece, place)) for piece in old.floor.field.pieces()]).reshape(-1, 5)
    near = NEAR * max(new.floor.tile.size)
    result: list[Primitive] = []
    for piece in new.floor.field.pieces():
        own = _figures(piece)
        alike = (np.abs(was[:, 2:] - own[2:]).max(axis=1) < SAW) & (np.hypot(*(was[:, :2] - own[:2]).T) < near)
        result.append(Fill(piece, "TONE" if alike.any() else "REVISION", 0.12 if alike.any() else 0.22))
        result += [Stroke(ring, "TILE-CUT", closed=True) for ring in rings_of(piece)]
    return result


def _figures(piece: BaseGeometry) -> Floats:
    """Middle, sides and area over the longer side of a piece, (5,) mm: what tells it as one of before."""
    x0, y0, x1, y1 = piece.bounds
    return np.array([(x0 + x1) / 2, (y0 + y1) / 2, x1 - x0, y1 - y0, piece.area / max(x1 - x0, y1 - y0)])


def _clouds(rows: Sequence[_Row], view: View, placer: Placer) -> list[Primitive]:
    """A cloud round what changed, what lies together in one, with the numbers of its rows beside it."""
    reach = ROUND * view.scale
    grown = [(k, shapely.buffer(row.at, reach, join_style="mitre").envelope) for k, row in enumerate(rows, 1) if row.at is not None]
    result: list[Primitive] = []
    for part in parts_of(shapely.union_all([shape for _, shape in grown])):
        own = [k for k, shape in grown if shapely.intersects(part, shape)]
        ring = shapely.get_coordinates(shapely.Polygon(part.exterior).exterior)
        result.append(Stroke(_cloud(ring, ARC * view.scale), "REVISION", closed=True))
        block_line(placer, view, ring)
        paper = view.to_paper(ring)
        low, high = paper.min(axis=0), paper.max(axis=0)
        spots = [Spot((float(high[0]) + 3.0, float(y)), "left") for y in np.linspace(high[1], low[1], 5)] + [
            Spot((float(x), float(high[1]) + 3.0), "centre", "bottom") for x in np.linspace(low[0], high[0], 5)
        ]
        spots += [Spot((float(low[0]) - 3.0, float(y)), "right") for y in np.linspace(high[1], low[1], 5)]
        spots += [Spot((float(x), float(low[1]) - 3.0), "centre", "top") for x in np.linspace(low[0], high[0], 5)]
        placer.place(_numbers(own), 3.5, "REVISION", spots, boxed=True, bold=True, needed=True, foot=pair(paper.mean(axis=0)))
    return result


def _numbers(own: Sequence[int]) -> str:
    """Numbers of rows, those in a row drawn together: 1–3, 7."""
    runs: list[list[int]] = []
    for k in own:
        if runs and runs[-1][-1] == k - 1:
            runs[-1].append(k)
        else:
            runs.append([k])
    return ", ".join(f"{run[0]}" if len(run) == 1 else f"{run[0]}–{run[-1]}" for run in runs)


def _cloud(ring: Floats, chord: float) -> Floats:
    """A ring as a cloud: arcs that bulge outward, of equal chords, along each side."""
    points: list[Floats] = []
    ccw = shapely.LinearRing(ring).is_ccw
    for a, b in itertools.pairwise(ring):
        length = float(np.hypot(*(b - a)))
        count = max(round(length / chord), 1)
        way = (b - a) / max(length, 1e-9)
        out = np.array([way[1], -way[0]]) * (1.0 if ccw else -1.0)
        for k in range(count):
            foot, step = a + way * length * k / count, length / count
            angles = np.linspace(0.0, math.pi, 9)[:-1]
            points.append(foot + np.outer((1 - np.cos(angles)) / 2 * step, way) + np.outer(np.sin(angles) * step * 0.3, out))
    result: Floats = np.concatenate(points)
    return result


def _legend(column: Column) -> None:
    column.words(say("Black: the room as it is now. Dashed grey: as it was. Tinted pieces: cut otherwise than they were, or new."))
    column.words(say("A cloud goes round what changed on the plan; its numbers are the rows below."))


def _table(column: Column, rows: Sequence[_Row]) -> None:
    """The table of changes, words broken to their columns."""
    column.head(say("Changes"))
    cells = [(say("no."), say("what"), say("before"), say("after"))]
    for number, row in enumerate(rows, 1):
        parts = [
            wrapped(text or "—", LETTER, width - 2.0) for text, width in zip((row.what, row.before, row.after), WIDTHS[1:], strict=True)
        ]
        if not row.before and not row.after:
            parts[1:] = [[""], [""]]
        for k in range(max(len(part) for part in parts)):
            what, before, after = (part[k] if k < len(part) else "" for part in parts)
            cells.append((f"{number}" if k == 0 else "", what, before, after))
    column.rows(WIDTHS, cells)


def _revisions(column: Column, after: SetOut, changes: Changes) -> None:
    """The revision table of the plan, its last row first; and the words for a row that is still to be written."""
    column.head(say("Revisions"))
    rows = [(say("rev."), say("date"), say("what"))]
    for each in reversed(after.plan.project.revisions):
        for k, line in enumerate(wrapped(each.what, LETTER, 132.0)):
            rows.append((each.letter if k == 0 else "", each.date.isoformat() if k == 0 else "", line))
    if len(rows) > 1:
        column.rows((14.0, 26.0, 136.0), rows)
    column.words(say("Proposed for this issue: {revision_words}", revision_words=revision_words(changes)))
