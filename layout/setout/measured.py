"""What is measured of a surface as laid: the cut at every edge, the narrowest of them, narrow necks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from layout.setout.values import WallCut
from layout.shapes import turned
from layout.tiles.widths import cut_widths, narrowest
from layout.units import TOUCH
from layout.vectors import pair

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from layout.errors import Point
    from layout.joints.lines import Bay
    from layout.start.faces import Faces
    from layout.tiles.lay import TileField

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Measured:
    """The narrowest cut as drawn and over the play, what it is cut to and where, mm; necks; the cut of each tile at each edge.

    `widths` (n,), `edge` (n,) of the field's edges, `bay` (n,), `centre` (n, 2) of the tile in the joint frame.
    """

    drawn: float
    worst: float
    where: str
    place: Point | None
    necks: tuple[tuple[float, Point], ...]
    widths: Floats
    edge: Ints
    bay: Ints
    centre: Floats

    def cut_at(self) -> dict[int, float]:
        """The narrowest cut at each edge of the field that is cut, mm."""
        return {int(k): float(self.widths[self.edge == k].min()) for k in np.unique(self.edge)}


def measure(faces: Faces, field: TileField, bays: Sequence[Bay]) -> Measured:
    """The cuts of a surface as laid."""
    least = worst = faces.pattern.widest
    where = ""
    place: Point | None = None
    necks: list[tuple[float, Point]] = []
    none = np.empty(0, dtype=np.int64)
    parts: list[tuple[Floats, Ints, Ints, Floats]] = [(np.empty(0), none, none, np.empty((0, 2)))]
    middle = np.stack([member.mean(axis=0) for member in faces.pattern.members])
    for number, (laid, bay) in enumerate(zip(field.bays, bays, strict=True)):
        local, hit = faces.bay_edges(bay)
        if len(hit) == 0:
            continue
        crossed = cut_widths(local, faces.pattern)
        present = _present(laid.cut, crossed.tile) & (crossed.widths > TOUCH)
        widths, edge, tile = crossed.widths[present], crossed.edge[present], crossed.tile[present]
        centre = turned(middle[tile[:, 0]] + tile[:, 1:] @ faces.pattern.vectors, faces.turn) + np.array(bay.origin)
        parts.append((widths, hit[edge], np.full(len(edge), number), turned(centre, -faces.frame)))
        worst = min(worst, narrowest(local, faces.play[hit], faces.pattern, faces.pattern.widest)[0])
        if len(widths) and widths.min() < least:
            k = int(widths.argmin())
            least = float(widths[k])
            where = faces.labels[hit[edge[k]]]
            place = pair(turned(faces.edges[hit[edge[k]]].mean(axis=0)[None], faces.frame)[0])
        necks += _necks(faces, local, edge, tile, bay)
    joined = [np.concatenate(each) for each in zip(*parts, strict=True)]
    return Measured(least, min(worst, least), where, place, tuple(sorted(necks)), *joined)


def _necks(faces: Faces, local: Floats, edge: Ints, tile: Ints, bay: Bay) -> list[tuple[float, Point]]:
    """Tiles crossed by two walls that face each other: their distance apart, if under the least cut."""
    if len(tile) == 0:
        return []
    _, group, counts = np.unique(tile, axis=0, return_inverse=True, return_counts=True)
    result = []
    for g in np.flatnonzero(counts >= 2):
        own = edge[group.ravel() == g]
        way = local[own, 1] - local[own, 0]
        unit = way / np.hypot(way[:, 0], way[:, 1])[:, None]
        for a in range(len(own)):
            for b in range(a + 1, len(own)):
                if unit[a] @ unit[b] > -0.99:
                    continue
                normal = np.array([-unit[a][1], unit[a][0]])
                apart = float((local[own[b]].mean(axis=0) - local[own[a]].mean(axis=0)) @ normal)
                if TOUCH < apart < faces.tile.least_cut:
                    middle = (local[own[a]].mean(axis=0) + local[own[b]].mean(axis=0)) / 2
                    result.append((apart, pair(turned(middle[None], faces.turn)[0] + np.array(bay.origin))))
    return result


def wall_cuts(faces: Faces, seen: Measured) -> tuple[WallCut, ...]:
    """Cut at each end of every straight edge, bay by bay."""
    result = []
    for bay, k in np.unique(np.column_stack([seen.bay, seen.edge]), axis=0).tolist():
        own = (seen.bay == bay) & (seen.edge == k)
        line = faces.edges[k]
        way = (line[1] - line[0]) / np.hypot(*(line[1] - line[0]))
        along = (seen.centre[own] - line[0]) @ way
        values = seen.widths[own]
        first, last = float(values[along.argmin()]), float(values[along.argmax()])
        distinct = np.unique(np.round(values * 2.0) / 2.0)
        turns = tuple(distinct.tolist()) if faces.pattern.bonded and 2 <= len(distinct) <= 4 else ()
        result.append(WallCut(faces.labels[k], turned(line, faces.frame), first, last, turns))
    return tuple(result)


def _present(cut: Ints, tile: Ints) -> NDArray[np.bool_]:
    """Whether a tile has a piece that was kept."""
    if len(cut) == 0 or len(tile) == 0:
        return np.zeros(len(tile), dtype=bool)
    have = {tuple(row) for row in cut.tolist()}
    return np.array([tuple(row) in have for row in tile.tolist()], dtype=bool)
