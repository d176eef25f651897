"""How each cut lies on its surface: as laid, what cuts it, its saw lines in the order of sawing.

A card shows one piece of a mark as the crew sees it on the sheet: turned as most of the mark's pieces are, to the nearest quarter
where tiles lie askew. Its saw lines are the edges of the piece that are not the tile's own; each knows what stands there.
"""

from __future__ import annotations

import itertools
from collections import Counter
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.shapes import rings_of, turned
from layout.sheets.cut_by import CutBy
from layout.sheets.saw_lines import SawLine, saw_lines
from layout.start.edges import wall_edges
from layout.tiles.pieces import PieceKey
from layout.units import TOUCH
from layout.vectors import line_length
from layout.words import Worded, say, worded

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    from numpy.typing import NDArray

    from layout.setout.values import RoomSetOut, SetOut, SurfaceSetOut
    from layout.tiles.pieces import Cut
    from layout.vectors import Bools, Floats, Ints

NEAR = 2.0
"""A saw line this near an edge, a frame or a joint is cut to it, mm."""
ALIKE = 1.5
"""Corners of a piece and of another's mirror image are this near each other where one is the other hand of the other, mm."""


@dataclass(frozen=True, slots=True, eq=False)
class LaidCut:
    """A mark as laid: `tile` (k, 2), `ring` and `holes` of a piece, mm, about the lower-left corner of the tile's box.

    `things` are what cuts its pieces, what cuts most of them first; `bays` where they lie, counted from 1; `other` says why it is
    not the mark of like size; `step` is what the saw is set to, mm.
    """

    cut: Cut
    count: int
    tile: Floats
    ring: Floats
    holes: tuple[Floats, ...]
    lines: tuple[SawLine, ...]
    things: tuple[CutBy, ...] = ()
    bays: tuple[int, ...] = ()
    other: str = ""
    step: float = 1.0

    @property
    def box(self) -> tuple[float, float]:
        """Width and height of the tile as laid, mm."""
        x, y = self.tile.max(axis=0)
        return float(x), float(y)

    @property
    def size(self) -> tuple[float, float]:
        """Saw sizes of its box as laid: width, height, mm."""
        wide, tall = np.ptp(self.ring, axis=0)
        a, b = self.cut.size
        return (a, b) if abs(wide - a) + abs(tall - b) <= abs(wide - b) + abs(tall - a) else (b, a)

    @property
    def plain(self) -> bool:
        """Whether its size and the side that it is sawn on say all."""
        return self.cut.start is not None or self.cut.shape not in ("notch", "hole", "taper", "curve", "other")


def unplaced(cut: Cut, count: int) -> LaidCut:
    """A cut in its tile's own axes, where it is not known how it lies."""
    w, h = cut.box
    tile = np.array([[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]])
    lines = [line for ring in (cut.outline, *cut.holes) for line in saw_lines(ring, tile, [None] * len(ring))]
    return LaidCut(cut, count, tile, cut.outline, cut.holes, tuple(lines))


def laid_cuts(
    setout: SetOut, index: int, numbers: Sequence[int], without: Collection[str] = (), called: Mapping[int, CutBy] | None = None
) -> list[LaidCut]:
    """The marks of some surfaces of a room as laid, by what cuts them and bay; those of `without` are left out.

    `called` are the names of upright faces on their sheet: what cuts their tiles at foot, top and ends is called by the face.
    """
    counts: Counter[str] = Counter()
    shown: dict[str, LaidCut] = {}
    cut_by: dict[str, list[tuple[CutBy, ...]]] = {}
    bays: dict[str, set[int]] = {}
    for number in numbers:
        done = setout.rooms[index].surfaces[number]
        keys = [PieceKey(index, number, b, p) for b, laid in enumerate(done.field.bays) for p in range(len(laid.pieces))]
        marks = [setout.marks[key] for key in keys]
        if not marks:
            continue
        look = _Look(setout.rooms[index], number, (called or {}).get(number))
        tapers = {mark for mark in set(marks) if setout.cut(mark).start is not None}
        for k, own in _representatives(marks, look.sets, shapely.area(look.pieces), tapers).items():
            mark = marks[k]
            if mark not in without and (mark not in shown or own > counts[mark]):
                shown[mark] = look.laid(k, setout.cut(mark))
        for k, (key, mark) in enumerate(zip(keys, marks, strict=True)):
            counts[mark] += 1
            cut_by.setdefault(mark, []).append(look.sets[k])
            if len(done.field.bays) > 1:
                bays.setdefault(mark, set()).add(key.bay + 1)
    result = [
        replace(laid, count=counts[mark], things=_ordered(cut_by[mark], laid), bays=tuple(sorted(bays.get(mark, ()))))
        for mark, laid in shown.items()
    ]
    result.sort(
        key=lambda laid: (laid.things[0].rank if laid.things else (2, 0, ""), min(laid.bays, default=0), setout.order[laid.cut.mark])
    )
    return told_apart(result)


def _ordered(cut_by: Sequence[tuple[CutBy, ...]], laid: LaidCut) -> tuple[CutBy, ...]:
    """What cuts the pieces of a mark: what cuts the one that is drawn first, then what cuts those that share nothing with it."""
    own = list(dict.fromkeys(line.thing for line in laid.lines if line.thing))
    counts = Counter(name for each in cut_by for name in each)
    others = Counter(name for each in cut_by if not set(each) & set(own) for name in each)
    return (*sorted(own, key=lambda name: (-counts[name], own.index(name))), *[name for name, _ in others.most_common()])


def _representatives(marks: Sequence[str], sets: Sequence[tuple[CutBy, ...]], areas: Floats, tapers: Collection[str]) -> dict[int, int]:
    """For each mark the first of the pieces that are cut by what cuts most of them, and how many those are.

    Of a run of tapers the middle one by area: the first may be a sliver, or the whole tile but a bite.
    """
    ways: dict[str, Counter[tuple[CutBy, ...]]] = {}
    alike: dict[tuple[str, tuple[CutBy, ...]], list[int]] = {}
    for k, (mark, own) in enumerate(zip(marks, sets, strict=True)):
        ways.setdefault(mark, Counter())[own] += 1
        alike.setdefault((mark, own), []).append(k)
    result: dict[int, int] = {}
    for mark, counted in ways.items():
        way, count = counted.most_common(1)[0]
        every = alike[mark, way]
        result[sorted(every, key=lambda k: (float(areas[k]), k))[len(every) // 2] if mark in tapers else every[0]] = count
    return result


class _Look:
    """The pieces of one surface with what cuts each; edges of all pieces at once."""

    def __init__(self, room: RoomSetOut, number: int, called: CutBy | None) -> None:
        self.done: SurfaceSetOut = room.surfaces[number]
        field = self.done.field
        self.pieces: NDArray[np.object_] = shapely.orient_polygons(field.pieces())
        self.tiles = field.outlines(field.cut)
        rings, of_piece = shapely.get_rings(self.pieces, return_index=True)
        points, ring_of = shapely.get_coordinates(rings, return_index=True)
        same = ring_of[1:] == ring_of[:-1]
        middles = ((points[1:] + points[:-1]) / 2)[same]
        self.of_ring = ring_of[:-1][same]
        self.of_piece: Ints = of_piece[self.of_ring]
        self.starts = points[:-1][same]
        own = _on_outline(middles, self.tiles[self.of_piece])
        lines, names = named_lines(room, number, called)
        self.names = np.full(len(middles), None, dtype=object)
        if lines:
            asked = np.flatnonzero(~own)
            which, found = shapely.STRtree(lines).query_nearest(shapely.points(middles[asked]), max_distance=NEAR, all_matches=False)
            self.names[asked[which]] = np.array(names, dtype=object)[found]
        cut_by: list[set[CutBy]] = [set() for _ in self.pieces]
        for piece, name in zip(self.of_piece[~own].tolist(), self.names[~own].tolist(), strict=True):
            if name is not None:
                cut_by[piece].add(name)
        self.sets = [tuple(sorted(each)) for each in cut_by]

    def laid(self, k: int, cut: Cut) -> LaidCut:
        """The k-th piece as a card shows it."""
        done = self.done
        askew = round(done.turn / 90.0) * 90.0 - done.turn
        tile = turned(self.tiles[k], askew)
        low = tile.min(axis=0)
        lines: list[SawLine] = []
        rings = []
        for number in np.unique(self.of_ring[self.of_piece == k]):
            mine = self.of_ring == number
            ring = turned(self.starts[mine], askew) - low
            rings.append(ring)
            lines += saw_lines(ring, tile - low, self.names[mine].tolist())
        lines.sort(key=lambda line: (not line.across, line.arc is not None, -line_length(line.points)))
        step = 0.5 if done.tile.rectified else 1.0
        return LaidCut(cut, 0, tile - low, rings[0], tuple(rings[1:]), tuple(lines), step=step)


def _on_outline(points: Floats, tiles: Floats) -> Bools:
    """Whether points (n, 2) lie on the edges of their tiles (n, k, 2)."""
    a = tiles
    way = np.roll(tiles, -1, axis=1) - a
    apart = points[:, None] - a
    part = ((apart * way).sum(axis=2) / np.maximum((way**2).sum(axis=2), 1e-9)).clip(0.0, 1.0)
    off = np.linalg.norm(apart - way * part[:, :, None], axis=2)
    result: Bools = off.min(axis=1) < TOUCH
    return result


def named_lines(room: RoomSetOut, number: int, called: CutBy | None = None) -> tuple[list[shapely.LineString], list[CutBy]]:
    """What can cut the tiles of a surface, in its own axes, each with the name that its sheet gives it; a face's edges are `called` so."""
    done = room.surfaces[number]
    surface = done.surface
    edges, known, _, doors, walls, framed = wall_edges(surface, 0.0)
    lines = [shapely.LineString(edge) for edge in edges]
    names = [
        CutBy(_without_door(each.name) if door else each.name, wall) if frame or called is None else called
        for each, door, wall, frame in zip(known, doors.tolist(), walls.tolist(), framed.tolist(), strict=True)
    ]
    for each in surface.breaks:
        for ring in rings_of(each.hole):
            lines.append(shapely.LinearRing(ring))
            names.append(CutBy(each.name))
    own = [joint for joint in room.joints if joint.surface == surface.id and joint.kind in ("intermediate", "structural")]
    for joint in own:
        for ring in rings_of(shapely.buffer(shapely.LineString(joint.line), joint.width / 2.0, cap_style="flat")):
            lines.append(shapely.LinearRing(ring))
            names.append(CutBy(worded("structural joint") if joint.kind == "structural" else worded("joint")))
    if surface.saw_lines is not None:
        for ring in rings_of(surface.saw_lines):
            lines.append(shapely.LinearRing(ring))
            names.append(CutBy(worded("line of falls")))
    return lines, names


def _without_door(label: str) -> str:
    """What a label of an edge at a threshold is made of: the thing that the threshold is in."""
    return str(label.fields["label"]) if isinstance(label, Worded) else label


def told_apart(laid: Sequence[LaidCut]) -> list[LaidCut]:
    """The same marks; those of one size and shape out of one tile say why they differ."""
    alike: dict[tuple[object, ...], list[LaidCut]] = {}
    for each in laid:
        alike.setdefault((each.cut.tile, each.cut.shape, tuple(sorted(each.cut.size))), []).append(each)
    other: dict[str, str] = {}
    for group in alike.values():
        for one, two in itertools.combinations(group, 2):
            if one.cut.start is None and one.cut.mark not in other and two.cut.mark not in other and _mirrored(one.cut, two.cut):
                other[one.cut.mark], other[two.cut.mark] = (
                    say("other hand of {mark}", mark=two.cut.mark),
                    say("other hand of {mark}", mark=one.cut.mark),
                )
        for one in group:
            near = next((each.cut.mark for each in group if each is not one), "")
            if near and one.plain and one.cut.start is None:
                other.setdefault(one.cut.mark, say("not {near}: see arrow", near=near))
    return [replace(each, other=other.get(each.cut.mark, "")) for each in laid]


def _mirrored(one: Cut, two: Cut) -> bool:
    """Whether a piece is another's mirror image, under the turns that lay the tile's box onto itself."""
    if len(one.outline) != len(two.outline):
        return False
    w, h = one.box
    middle = np.array([w, h]) / 2.0
    image = (two.outline - middle) * np.array([-1.0, 1.0])
    turns = (0.0, 90.0, 180.0, 270.0) if abs(w - h) < TOUCH else (0.0, 180.0)
    own = one.outline - middle
    for angle in turns:
        apart = np.linalg.norm(own[:, None] - turned(image, angle)[None], axis=2)
        if max(apart.min(axis=0).max(), apart.min(axis=1).max()) <= ALIKE:
            return True
    return False
