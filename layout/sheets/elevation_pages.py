"""Where upright faces stand on their sheets: in rows to the right of the room, a block for each sheet."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.shapes import turned
from layout.sheets.cut_by import CutBy
from layout.sheets.lettering import text_width
from layout.sheets.paper import COLUMN, GUTTER, SIZES, drawing_window, for_drawing, has_column
from layout.sheets.room_view import room_bounds
from layout.sheets.scene import View
from layout.words import say

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from layout.identity import SurfaceId
    from layout.setout.values import RoomSetOut, SetOut

    Floats = NDArray[np.float64]

BESIDE, UNDER, OVER, LEFT = 16.0, 26.0, 12.0, 22.0
"""Room right of a face, under and over it for dimensions and its name, left of it for courses, paper mm."""
LEAST_SPARE = 40.0
"""Less room under the faces is left free, paper mm."""
NAME = 3.5
"""Height of a face's name, paper mm."""
FINE = 20.0
"""Scale of the faces that go on a sheet at it."""
FINEST = (10.0, 15.0)
"""Larger scales of such faces, where they take no more sheets than at it, and no larger ones."""
SCALES = (25.0, 30.0, 40.0, 50.0, 75.0, 100.0, 150.0, 200.0, 500.0)
"""Scales of the others: those of ISO 5455 and what building practice puts between (from memory)."""
HARDLY = 0.3
"""A page whose faces take less of it is drawn larger."""
ENOUGH = 50.0
"""As many sheets as at this scale are enough; the largest scale that takes no more is taken."""
STILL_FINE = (20.0, 25.0, 30.0)
"""Scales at which all faces may stand together."""
APART = 4000.0
"""How far right of the room the first face stands, room mm."""


@dataclass(frozen=True, slots=True, eq=False)
class Placed:
    """A face on the sheet: its number among the room's surfaces, its turn in degrees and where its own origin stands, room mm.

    `same` are the numbers of all faces that it stands for.
    """

    number: int
    turn: float
    at: Floats
    same: tuple[int, ...] = ()

    @property
    def stands_for(self) -> tuple[int, ...]:
        """Numbers of the faces that the drawing is of: its own, and those alike."""
        return self.same or (self.number,)

    def out(self, points: Floats) -> Floats:
        """Own axes to the sheet's room space, (n, 2)."""
        result: Floats = turned(np.atleast_2d(np.asarray(points, dtype=float)), self.turn) + self.at
        return result


@dataclass(frozen=True, slots=True, eq=False)
class Page:
    """Faces of one sheet with the middle of its window, room mm; `wide` and `used` are how far across and down they reach in it, paper mm."""

    faces: tuple[Placed, ...]
    centre: tuple[float, float]
    paper: str
    scale: float
    used: float = 0.0
    wide: float = 0.0

    @property
    def share(self) -> float:
        """What its faces take of the sheet."""
        return self.wide * self.used / for_drawing(SIZES[self.paper])

    def spare(self) -> list[tuple[float, float, float]]:
        """Columns for words under the faces: left, top and foot of each, paper mm; the last keeps clear of the scale bar."""
        x0, y0, x1, y1 = drawing_window(SIZES[self.paper])
        top, foot = y1 - 24.0 - self.used, y0 + 9.0
        count = int((x1 - x0 - 4.0) // (COLUMN + GUTTER)) if top - foot > LEAST_SPARE else 0
        return [(x0 + 6.0 + k * (COLUMN + GUTTER), top, foot) for k in range(count)]


@dataclass(frozen=True, slots=True, eq=False)
class _Group:
    """Faces that stand together, about the group's own origin, with their bounds."""

    faces: tuple[Placed, ...]
    bounds: tuple[float, float, float, float]
    name: str = ""


def tiled_faces(room: RoomSetOut) -> list[int]:
    """Numbers of the tiled upright faces among the room's surfaces, in order round it."""
    return [k for k, done in enumerate(room.surfaces) if done.surface.placing.line is not None]


def pages(setout: SetOut, index: int, paper: str | None, scale: float | None) -> list[Page]:
    """Faces set in rows, sheet by sheet: those that go on A2 at 1:20, and the others at the largest scale that takes no more sheets.

    All together where a scale that is still fine takes fewer sheets so. Faces alike in every tile are drawn once.
    """
    room = setout.rooms[index]
    groups = _groups(room, _alike(setout, index))
    _, _, x1, y1 = room_bounds(room)
    papers = (paper,) if paper else ("A3", "A2")
    start = (x1 + APART, y1)
    if paper and not has_column(SIZES[paper]):  # for a clipboard: as few pages as are legible
        return _fewest(groups, papers, (scale,) if scale else (*FINEST, FINE, *SCALES), start, False) if groups else []
    small = [g for g in groups if scale is None and any(_fits(_size(g), each, FINE) for each in papers)]
    large = [g for g in groups if g not in small]
    apart = _fewest(large, papers, (scale,) if scale else SCALES, start, paper is None) if large else []
    if small:
        apart += _finest(small, papers, (start[0], start[1] if not apart else _below(apart)), paper is None)
    if small and large:
        together = _fewest(groups, papers, STILL_FINE, start, paper is None)
        if together and len(together) < len(apart):
            return _larger(together, groups)
    return apart if scale else _larger(apart, [*large, *small])


def _larger(made: list[Page], groups: Sequence[_Group]) -> list[Page]:
    """Pages that their faces hardly fill at the largest scale at which the same faces go on the same paper; `groups` are in the order of the pages."""
    waiting, result = list(groups), []
    for page in made:
        own: list[_Group] = []
        while len([face for group in own for face in group.faces]) < len(page.faces):
            own.append(waiting.pop(0))
        window, unit = _window(page.paper), page.scale
        corner = (page.centre[0] - window[0] * unit / 2, page.centre[1] + window[1] * unit / 2)
        scales = [each for each in (*FINEST, FINE, *SCALES) if page.share < HARDLY and each < unit]
        scales = [each for each in scales if all(_fits(_size(group), page.paper, each) for group in own)]
        tries = (_packed(own, (page.paper, each), smaller=False, corner=corner) for each in scales)
        result.append(next((one for one, *more in tries if not more), page))
    return result


def _below(made: list[Page]) -> float:
    """Where the next page may begin under some, room mm."""
    return min(page.centre[1] - _window(page.paper)[1] * page.scale / 2 for page in made) - APART


def _finest(groups: list[_Group], papers: Sequence[str], corner: tuple[float, float], smaller: bool) -> list[Page]:
    """Groups on as much paper as they take at `FINE`, at the largest scale that goes on it."""
    plain = _fewest(groups, papers, (FINE,), corner, smaller)
    for scale in FINEST:
        if any(all(_fits(_size(g), paper, scale) for g in groups) for paper in papers):
            made = _fewest(groups, papers, (scale,), corner, smaller)
            if len(made) <= len(plain) and _area(made) <= _area(plain):
                return made
    return plain


def _area(made: list[Page]) -> float:
    """How much paper some pages take, mm²."""
    return math.fsum(math.prod(SIZES[page.paper]) for page in made)


def _fewest(groups: list[_Group], papers: Sequence[str], scales: Sequence[float], corner: tuple[float, float], smaller: bool) -> list[Page]:
    """Groups on pages at the largest scale that takes no more sheets than `ENOUGH` or the first smaller one that takes them; none if none does."""
    size = (max(_size(g)[0] for g in groups), max(_size(g)[1] for g in groups))
    tries = [(p, s) for s in scales for p in papers if _fits(size, p, s)]
    if not tries:
        return _packed(groups, (papers[-1], scales[-1]), smaller, corner) if scales != STILL_FINE else []
    made = [(s, _packed(groups, (p, s), smaller, corner)) for p, s in tries]
    enough = next((len(pages) for s, pages in made if s >= ENOUGH), len(made[-1][1]))
    return next(pages for _, pages in made if len(pages) <= enough)


def _packed(groups: list[_Group], chosen: tuple[str, float], smaller: bool, corner: tuple[float, float]) -> list[Page]:
    """Groups in rows on pages of one paper and scale, from a corner down.

    With `smaller` a page that goes on A3 is an A3.
    """
    window, unit = _window(chosen[0]), chosen[1]
    width, height = window[0] * unit, window[1] * unit
    left, top = corner
    result: list[Page] = []
    faces: list[Placed] = []

    def end_page(wide: float, tall: float) -> None:
        nonlocal top, faces
        sheet = "A3" if smaller and wide <= _window("A3")[0] * unit and tall <= _window("A3")[1] * unit else chosen[0]
        size = _window(sheet)
        result.append(Page(tuple(faces), (left + size[0] * unit / 2, top - size[1] * unit / 2), sheet, unit, tall / unit, wide / unit))
        top -= height + APART
        faces = []

    x, y, row_height, reach = 0.0, 0.0, 0.0, 0.0
    for group in groups:
        bx0, by0, bx1, by1 = group.bounds
        over = max(0.0, (text_width(group.name, NAME, bold=True) + 6.0) * unit - (bx1 - bx0)) / 2.0
        lead, trail = max(LEFT * unit, over), max(BESIDE * unit, over)
        wide = bx1 - bx0 + lead + trail
        tall = by1 - by0 + (UNDER + OVER) * unit
        if x > 0.0 and x + wide > width:
            x, y, row_height = 0.0, y + row_height, 0.0
        if y > 0.0 and y + tall > height:
            end_page(reach, y)
            x, y, row_height, reach = 0.0, 0.0, 0.0, 0.0
        low = np.array([left + x + lead - bx0, top - y - OVER * unit - by1])
        faces += [replace(face, at=face.at + low) for face in group.faces]
        x += wide
        reach = max(reach, x)
        row_height = max(row_height, tall)
    end_page(reach, y + row_height)
    return result


def _size(group: _Group) -> tuple[float, float]:
    x0, y0, x1, y1 = group.bounds
    return x1 - x0, y1 - y0


def _alike(setout: SetOut, index: int) -> dict[int, tuple[int, ...]]:
    """Faces that are drawn, each with the others that are the same in every tile: sides of columns and reveals."""
    room = setout.rooms[index]
    first: dict[object, int] = {}
    result: dict[int, list[int]] = {}
    for k in tiled_faces(room):
        done = room.surfaces[k]
        surface = done.surface
        if surface.kind not in ("column-side", "reveal"):
            continue
        joints = sorted(joint.kind for joint in room.joints if joint.surface == surface.id)
        shapes = [shapely.to_wkt(each, rounding_precision=0) for each in (surface.gross, surface.tanked, *done.field.pieces())]
        same = (surface.kind, tuple(shapes), tuple(setout.marks_of(index, k)), tuple(joints), len(surface.breaks))
        result.setdefault(first.setdefault(same, k), []).append(k)
    return {k: tuple(others) for k, others in result.items()}


def _window(paper: str) -> tuple[float, float]:
    """Width and height for faces on a paper, mm."""
    x0, y0, x1, y1 = drawing_window(SIZES[paper])
    return x1 - x0 - 6.0, y1 - y0 - 24.0


def _fits(size: tuple[float, float], paper: str, scale: float) -> bool:
    width, height = _window(paper)
    return size[0] / scale + BESIDE + LEFT <= width and size[1] / scale + UNDER + OVER <= height


def _groups(room: RoomSetOut, alike: dict[int, tuple[int, ...]]) -> list[_Group]:
    """Walls, columns and reveals one by one, the sides of a box plinth about its top."""
    result = []
    tops = {done.surface.id.number: k for k, done in enumerate(room.surfaces) if done.surface.kind == "plinth-top"}
    sides: dict[int, list[int]] = {}
    for k in tiled_faces(room):
        surface = room.surfaces[k].surface
        if surface.kind == "plinth-side":
            sides.setdefault(surface.id.number, []).append(k)
            continue
        if k in alike or surface.kind not in ("column-side", "reveal"):
            result.append(_single(room, k, alike.get(k, (k,))))
    for top in sorted({*tops, *sides}):
        own = sides.get(top, [])
        if top in tops and own and _is_box(room, tops[top]):
            result.append(_unfolded(room, tops[top], own))
        else:
            result += [_single(room, k, (k,)) for k in ([tops[top]] if top in tops else []) + own]
    return result


def _single(room: RoomSetOut, number: int, same: tuple[int, ...]) -> _Group:
    x0, y0, x1, y1 = room.surfaces[number].surface.gross.bounds
    placed = Placed(number, 0.0, np.zeros(2), same)
    return _Group((placed,), (x0, y0, x1, y1), placed_name(room, placed))


def face_name(room: RoomSetOut, face: SurfaceId) -> str:
    """What is written under a face: a wall's number with the name that it was given, else the face's own words."""
    if face.kind != "wall":
        return say(face.name)
    wall = next(w for w in room.lining.outline.walls if w.run.number == face.number)
    return say(wall.label) if wall.name == wall.label else f"{say(wall.label)} · {wall.name}"


def cut_by_face(room: RoomSetOut, placed: Placed) -> CutBy:
    """The face or faces of a drawing as what cuts their tiles at foot, top and ends."""
    ids = [room.surfaces[k].surface.id for k in placed.stands_for]
    outline, kinds = room.lining.outline, {each.kind for each in ids}
    solids = {"column-side": outline.columns, "plinth-side": outline.plinths}.get(ids[0].kind, ())
    sides = {each.side for each in ids}
    if not solids or len(kinds) > 1 or len(sides) > 1:
        return CutBy(placed_name(room, placed), ids[0].number if kinds == {"wall"} else 0)
    owner = ", ".join(solids[each.number - 1].solid.name for each in ids)
    return CutBy(placed_name(room, placed), owner=owner, side=str(ids[0].side))


def placed_name(room: RoomSetOut, placed: Placed) -> str:
    """What is written under a drawing: the face, or all faces that are alike, by the thing that they belong to."""
    ids = [room.surfaces[k].surface.id for k in placed.stands_for]
    if len(ids) == 1:
        return face_name(room, ids[0])
    if any(each.kind != "column-side" for each in ids):
        return ", ".join(face_name(room, each) for each in ids)
    sides: dict[int, list[int]] = {}
    for each in ids:
        sides.setdefault(each.number, []).append(each.side)
    together: dict[tuple[int, ...], list[str]] = {}
    for number, own in sides.items():
        together.setdefault(tuple(sorted(own)), []).append(room.lining.outline.columns[number - 1].solid.name)
    return "; ".join(
        say("{names} sides {sides}", names=", ".join(names), sides=", ".join(str(side) for side in own))
        if len(own) > 1
        else say("{names} side {side}", names=", ".join(names), side=own[0])
        for own, names in together.items()
    )


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
    x0, y0, right, y1 = drawing_window(SIZES[page.paper])
    return View(page.centre, ((x0 + right) / 2, (y0 + y1) / 2 - 2.0), page.scale, (right - x0, y1 - y0))
