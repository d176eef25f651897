"""Which cut tiles are named together: alike ones in line, and rows of unlike ones that follow one line.

Alike pieces in line with each other carry one mark with their number. Where every piece along a line differs from the next (a
slanted or bent wall, a hip), marks would cover the floor: the pieces are one row with a name, an arrow along it, and their marks
in order in the schedule.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.shapes import parts_of, rings_of, turned
from layout.sheets.cut_places import named_lines
from layout.sheets.lettering import text_width
from layout.sheets.scene import Fill, Primitive, Stroke, View, bubble_ring, readable
from layout.sheets.spots import REACHES, Spot, leader_spots
from layout.tiles.pieces import PieceKey
from layout.words import say

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from layout.setout.values import RoomSetOut, SetOut, SurfaceSetOut
    from layout.sheets.place import Placer
    from layout.vectors import Floats, Ints

MARK_HEIGHTS = (5.0, 3.5)
"""Heights of marks, the larger where it goes inside the piece, paper mm."""
LEAST_RUNS, MOST_EACH = 5, 2.5
"""From so many names along one line on, with no more pieces each than this, they are a row."""
CORNER = 25.0
"""A line turns into another where it turns by more than this, degrees."""
ON_LINE = 1.0
"""Pieces this near a line are cut by it, mm."""
OWNERS = 10_000
"""Owners of cut pieces are numbered from here, beyond those of things on the floor."""


@dataclass(frozen=True, slots=True, eq=False)
class Run:
    """Cut pieces under one label: their shapes in the surface's axes, a point in each, the marks in order; `row` if they differ.

    `frame` is the column or gully that a row runs round.
    """

    text: str
    pieces: NDArray[np.object_]
    centres: Floats
    marks: tuple[str, ...]
    row: bool = False
    frame: str = ""

    @property
    def way(self) -> Floats:
        """Direction from its first piece to its last."""
        way: Floats = self.centres[-1] - self.centres[0]
        length = float(np.hypot(*way))
        return way / length if length > 0.0 else np.array([1.0, 0.0])

    @property
    def told(self) -> str:
        """Its marks in order, alike ones that follow each other counted."""
        words: list[str] = []
        count = 0
        for k, mark in enumerate(self.marks):
            count += 1
            if k + 1 == len(self.marks) or self.marks[k + 1] != mark:
                words.append(mark if count == 1 else f"{mark} × {count}")
                count = 0
        return ", ".join(words)


def room_runs(setout: SetOut, index: int) -> dict[int, tuple[Run, ...]]:
    """Runs of each surface of a room, by the surface's number; rows are named through the room: row a, row b …."""
    named = 0

    def name(count: int) -> str:
        nonlocal named
        named += 1
        return say("row {letters} · {count}", letters=_letters(named - 1), count=count)

    return {number: tuple(_runs(setout, index, number, done, name)) for number, done in enumerate(setout.rooms[index].surfaces)}


def _letters(k: int) -> str:
    return (chr(ord("a") + k // 26 - 1) if k >= 26 else "") + chr(ord("a") + k % 26)


def _runs(setout: SetOut, index: int, number: int, done: SurfaceSetOut, name: Callable[[int], str]) -> list[Run]:
    pieces = done.field.pieces()
    if len(pieces) == 0:
        return []
    centres = shapely.get_coordinates(shapely.point_on_surface(pieces))
    keys = [PieceKey(index, number, b, p) for b, laid in enumerate(done.field.bays) for p in range(len(laid.pieces))]
    marks = np.array([setout.marks[key] for key in keys])
    every = np.arange(len(pieces))
    local = turned(centres, -done.turn)
    alike = _alike(done, local, marks, every)
    of = np.empty(len(pieces), dtype=np.int64)
    for k, members in enumerate(alike):
        of[members] = k
    result: list[Run] = []
    left = np.ones(len(pieces), dtype=bool)

    def take(members: Ints, text: str = "", *, frame: str = "") -> None:
        own = tuple(marks[members].tolist())
        result.append(Run(text or name(len(members)), pieces[members], centres[members], own, row=not text, frame=frame))
        left[members] = False

    bay_of = np.array([key.bay for key in keys])
    tapers = {mark for mark in set(marks.tolist()) if setout.cut(mark).start is not None}
    for mark in sorted(tapers):  # along a slanted line no two are in line, yet they are one run
        of[marks == mark] = of.max() + 1 + bay_of[marks == mark]
    for frame, members in _round_frames(setout.rooms[index], number, pieces, centres):
        own = members[left[members]]
        if len(set(of[own].tolist())) >= LEAST_RUNS:
            take(own, frame=frame)
    for bay, region in enumerate(done.surface.to_lay(each.region) for each in done.bays):
        for members in _along_lines(region, pieces, centres, np.flatnonzero((bay_of == bay) & left)):
            runs = len(set(of[members].tolist()))
            if runs >= LEAST_RUNS and len(members) / runs <= MOST_EACH:
                take(members)
        for mark in sorted(tapers & set(marks[(bay_of == bay) & left].tolist())):
            own = np.flatnonzero((bay_of == bay) & left & (marks == mark))
            order = np.lexsort(np.round(local[own][:, ::-1].T if np.ptp(local[own, 0]) >= np.ptp(local[own, 1]) else local[own].T, 1))
            take(own[order], mark if len(own) == 1 else f"{mark} × {len(own)}")
    for members in _alike(done, local, marks, every[left]):
        mark = str(marks[members[0]])
        text = mark if len(members) == 1 else f"{mark} × {len(members)}"
        result.append(Run(text, pieces[members], centres[members], (mark,) * len(members)))
    result.sort(key=lambda run: (-len(run.pieces), run.text))
    return result


def _round_frames(room: RoomSetOut, number: int, pieces: NDArray[np.object_], centres: Floats) -> list[tuple[str, Ints]]:
    """Pieces that each column and each gully cuts, in order round it, anticlockwise from the left."""
    surface = room.surfaces[number].surface
    if surface.placing.line is not None:
        return []
    frames = [column.solid.name for column in room.lining.outline.columns] + [each.name for each in surface.breaks if each.kind == "gully"]
    lines, names = named_lines(room, number)
    tree = shapely.STRtree(pieces)
    result = []
    for frame in frames:
        own = shapely.union_all([line for line, name in zip(lines, names, strict=True) if name == frame])
        strip = shapely.buffer(own, ON_LINE, cap_style="flat")
        near = tree.query(strip, predicate="intersects")
        near = near[shapely.length(shapely.intersection(shapely.boundary(pieces[near]), strip)) > 2.0]
        if len(near) == 0:
            continue
        x0, y0, x1, y1 = own.bounds
        off = centres[near] - np.array([(x0 + x1) / 2, (y0 + y1) / 2])
        result.append((frame, near[np.argsort(np.arctan2(off[:, 1], off[:, 0]), kind="stable")]))
    return result


def _alike(done: SurfaceSetOut, local: Floats, marks: NDArray[np.str_], own: Ints) -> list[Ints]:
    """Pieces of one mark in line with each other; in a bond every second course has the same cut, so a run may skip a course."""
    reach = 2.2 * (np.array(done.field.pattern.box) + done.tile.joint)
    result: list[Ints] = []
    for mark in dict.fromkeys(marks[own].tolist()):
        left = own[marks[own] == mark]
        while len(left):
            best = max((_longest(local[left], axis, float(reach[axis])) for axis in (0, 1)), key=len)
            result.append(left[best])
            left = np.delete(left, best)
    return result


def _longest(local: Floats, axis: int, reach: float) -> Ints:
    """Indices of the longest chain of points along an axis, neighbours no further apart than `reach`."""
    line = np.round(local[:, 1 - axis] / 4.0)
    order = np.lexsort((local[:, axis], line))
    breaks = np.flatnonzero((np.diff(line[order]) != 0) | (np.diff(local[order, axis]) > reach)) + 1
    chains: list[Ints] = np.split(order, breaks)
    return max(chains, key=len)


def _along_lines(region: BaseGeometry, pieces: NDArray[np.object_], centres: Floats, own: Ints) -> list[Ints]:
    """Pieces by the line that cuts them, in order along it: each piece once, with the line that cuts most of it."""
    sides = [shapely.linestrings(side) for part in parts_of(region) for ring in rings_of(part) for side in _sides(ring)]
    if not sides or len(own) < LEAST_RUNS:
        return []
    shared = np.zeros((len(own), len(sides)))
    tree = shapely.STRtree(pieces[own])
    for k, side in enumerate(sides):
        near = tree.query(shapely.buffer(side, ON_LINE, cap_style="flat"), predicate="intersects")
        outlines = shapely.boundary(pieces[own[near]])
        shared[near, k] = shapely.length(shapely.intersection(outlines, shapely.buffer(side, ON_LINE, cap_style="flat")))
    best = shared.argmax(axis=1)
    result = []
    for k, side in enumerate(sides):
        members = np.flatnonzero((best == k) & (shared.max(axis=1) > 2.0))
        at = shapely.line_locate_point(side, shapely.points(centres[own[members]]))
        result.append(own[members[np.argsort(at, kind="stable")]])
    return result


def _sides(ring: Floats) -> list[Floats]:
    """A ring's lines, parted at its corners; an arc of short edges is one line."""
    after = np.roll(ring, -1, axis=0) - ring
    before = np.roll(after, 1, axis=0)
    turn = np.degrees(np.abs(np.arctan2(before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0], (before * after).sum(axis=1))))
    corners = np.flatnonzero(turn > CORNER)
    if len(corners) == 0:
        return [np.vstack([ring, ring[:1]])]
    closed = np.vstack([ring, ring])
    ends = [*corners.tolist(), int(corners[0]) + len(ring)]
    return [closed[a : b + 1] for a, b in itertools.pairwise(ends)]


def block_pieces(runs: Sequence[Run], first: int, view: View, placer: Placer, out: Callable[[Floats], Floats]) -> None:
    """Keep labels off all cut pieces but their own, whose owners are numbered from `first`; `out` takes the surface's axes to the drawing's."""
    for owner, run in enumerate(runs, first):
        for piece in run.pieces:
            paper = view.to_paper(out(shapely.get_coordinates(piece)))
            low, high = paper.min(axis=0), paper.max(axis=0)
            placer.block((float(low[0]), float(low[1]), float(high[0]), float(high[1])), owner)


def name_runs(runs: Sequence[Run], view: View, placer: Placer, out: Callable[[Floats], Floats]) -> list[Primitive]:
    """Ask for the label of each run, inside its pieces if it goes there and hides nothing, else with a leader; arrows along rows."""
    result: list[Primitive] = []
    first = OWNERS + placer.blocks
    block_pieces(runs, first, view, placer, out)
    for owner, run in enumerate(runs, first):
        if run.row:
            result += _arrow(out(run.centres), view)
        foot = view.to_paper(out(run.centres[len(run.centres) // 2][None]))[0]
        spots = [] if run.row else _inside(run, view, out)
        near = leader_spots(pair_of(foot), height=MARK_HEIGHTS[1], reaches=REACHES)
        placer.place(run.text, MARK_HEIGHTS[0], "MARK", [*spots, *near], boxed=True, bold=True, needed=True, foot=foot, owner=owner)
    return result


def pair_of(point: Floats) -> tuple[float, float]:
    """A paper point as plain numbers."""
    return float(point[0]), float(point[1])


def _inside(run: Run, view: View, out: Callable[[Floats], Floats]) -> list[Spot]:
    """Places on the pieces themselves, where they are plain rectangles and the words go inside."""
    plain = shapely.area(run.pieces) > 0.985 * shapely.area(shapely.oriented_envelope(run.pieces))
    if not plain.all():
        return []
    paper = view.to_paper(out(shapely.get_coordinates(run.pieces)))
    middle = view.to_paper(out(run.centres.mean(axis=0)[None]))[0]
    ends = out(run.centres[[0, -1]])
    way = ends[1] - ends[0] if len(run.pieces) > 1 else out(np.array([[1.0, 0.0], [0.0, 0.0]]))[0] - out(np.zeros((1, 2)))[0]
    way = way / max(float(np.hypot(*way)), 1e-9)
    result = []
    for along in (way, np.array([-way[1], way[0]])):
        across = np.array([-along[1], along[0]])
        wide, tall = float(np.ptp(paper @ along)), float(np.ptp(paper @ across))
        angle = readable(math.degrees(math.atan2(along[1], along[0])))
        for height in MARK_HEIGHTS:
            play = (wide - text_width(run.text, height, bold=True)) / 2.0 - 0.4
            if play < 0.0 or height * 1.25 + 0.4 > tall:
                continue
            shift = 0.125 * height  # letters that hang below their line
            for part in (0.0, 0.3, -0.3, 0.6, -0.6, 0.9, -0.9):
                at = middle + along * play * part + np.array([0.0, shift if abs(angle) < 45.0 else 0.0])
                result.append(Spot((float(at[0]), float(at[1])), angle=angle, height=height))
    return result


def _arrow(line: Floats, view: View) -> list[Primitive]:
    """A line through the pieces of a row from its first, a dot, to its last, an arrow."""
    dot = bubble_ring(pair_of(line[0]), 0.8 * view.scale, 12)
    way = (line[-1] - line[-2]) / max(float(np.hypot(*(line[-1] - line[-2]))), 1e-9)
    across = np.array([-way[1], way[0]])
    tip = line[-1] + way * 1.2 * view.scale
    head = np.array([tip, tip - (way * 2.4 - across * 0.8) * view.scale, tip - (way * 2.4 + across * 0.8) * view.scale])
    return [Stroke(line, "MARK"), Fill(shapely.Polygon(dot), "MARK", 1.0), Fill(shapely.Polygon(head), "MARK", 1.0)]
