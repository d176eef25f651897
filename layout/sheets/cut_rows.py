"""Rows of unlike pieces in words: the table of their sizes, and which cuts are worth sawing before tile is laid."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.shapes import turned
from layout.units import SNAP
from layout.words import say

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shapely import Polygon

    from layout.setout.values import SetOut
    from layout.sheets.column import Column
    from layout.sheets.cut_runs import Run
    from layout.tiles.pieces import Cut

WORTH = 5
"""So many alike pieces of one straight cut are worth sawing before the tile is laid."""
A_ROW = 4
"""Pieces beside each other in the table of a row."""
ALIKE = 0.5
"""Edges whose bearings differ by less than this from a right angle's are along the same tile, degrees."""
CELL = (9.0, 13.0, 21.0)
"""Columns of that table: number, mark, size, paper mm."""


def in_rows_only(runs: Sequence[Run]) -> frozenset[str]:
    """Marks that stand in rows and nowhere else: the table of the row tells their sizes, they need no card."""
    apart = {mark for run in runs if not run.row or run.frame for mark in run.marks}
    return frozenset(mark for run in runs if run.row for mark in run.marks) - apart


def beforehand(setout: SetOut, runs: Sequence[Run]) -> list[str]:
    """What is worth sawing before tile is laid, in words: straight cuts with many alike; the rest is measured in place."""
    counts: dict[str, int] = {}
    for run in runs:
        for mark in run.marks:
            counts[mark] = counts.get(mark, 0) + 1
    if not counts:
        return []
    alike = {mark: count for mark, count in counts.items() if count >= WORTH and setout.cut(mark).shape == "straight"}
    most = sorted(alike, key=lambda mark: (-alike[mark], setout.order[mark]))
    total = sum(counts.values())
    if not most:
        return [
            say(
                "{total} pieces, no straight cut of them {worth} times: measure each in place, none is worth sawing beforehand.",
                total=total,
                worth=WORTH,
            )
        ]
    named = ", ".join(f"{mark} × {alike[mark]}" for mark in most)
    rest = total - sum(alike.values())
    left = say(" The other {rest}: measure in place first.", rest=rest) if rest else ""
    return [say("Worth sawing beforehand, once three places of each are measured: {named}.{left}", named=named, left=left)]


def told_rows(setout: SetOut, runs: Sequence[Run], column: Column) -> None:
    """Each row with its first and last size and the size of every piece in order."""
    for run in (each for each in runs if each.row and not each.frame):
        column.head(say("{text} pieces in order from the dot to the arrow", text=run.text))
        sizes = [_size(setout.cut(mark), piece) for mark, piece in zip(run.marks, run.pieces, strict=True)]
        column.words(
            say(
                "First {first}, last {last}; every piece differs: scribe on site. The table tells the box that each is cut from.",
                first=sizes[0],
                last=sizes[-1],
            )
        )
        cells = [[f"{k}", mark, size] for k, (mark, size) in enumerate(zip(run.marks, sizes, strict=True), 1)]
        deep = -(-len(cells) // A_ROW)
        rows = [["", say("mark"), say("size")] * min(A_ROW, -(-len(cells) // deep))]
        for k in range(deep):
            line = [cell for c in range(len(rows[0]) // 3) for cell in (cells[k + c * deep] if k + c * deep < len(cells) else ["", "", ""])]
            rows.append(line)
        column.rows(CELL * (len(rows[0]) // 3), rows, right=tuple(range(0, len(rows[0]), 3)))


def _size(cut: Cut, piece: Polygon) -> str:
    """The box of a piece, width × height; of a taper, whose mark is that of its run, its own, the shorter side first."""
    sides = cut.size if cut.start is None else own_box(piece)
    return " × ".join(f"{side:g}" if side >= 1.0 else "<1" for side in sides)


def own_box(piece: Polygon) -> tuple[float, float]:
    """Sides of the box of a piece along its factory edges, whole mm rounded down, the shorter first.

    Factory edges are square to each other, and together longer than the one edge that a taper has on the slant.
    """
    ring = shapely.get_coordinates(piece.exterior)
    ways = np.diff(ring, axis=0)
    bearings, lengths = np.degrees(np.arctan2(ways[:, 1], ways[:, 0])) % 90.0, np.hypot(*ways.T)
    apart = np.abs(bearings[:, None] - bearings)
    alike = np.minimum(apart, 90.0 - apart) < ALIKE
    best = int((alike * lengths).sum(axis=1).argmax())
    short, long = sorted(np.ptp(turned(ring, -float(bearings[best])), axis=0).tolist())
    return math.floor(short + 2 * SNAP), math.floor(long + 2 * SNAP)
