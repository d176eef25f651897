"""Cards: each cut drawn in its tile, with its mark, how many, and where to saw."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import Polygon

from layout.shapes import parts_of
from layout.sheets.scene import Fill, Label, Primitive, Stroke

if TYPE_CHECKING:
    from collections.abc import Sequence

    from layout.sheets.column import Column
    from layout.tiles.pieces import Cut

MARK_HEIGHT = 5.0
PER_ROW = 5
"""Cards beside each other in a column."""
CARD = 17.0
"""Longer side of a tile drawn on its card, mm on paper."""


def cards(cuts: Sequence[tuple[Cut, int]], column: Column) -> None:
    """Cuts with their number, each drawn in its tile, five in a row."""
    cell_w, cell_h = column.width / PER_ROW, card_height([cut for cut, _ in cuts])
    several = several_tiles([cut for cut, _ in cuts])
    for k in range(0, len(cuts), PER_ROW):
        column.need(cell_h)
        for place, (cut, count) in enumerate(cuts[k : k + PER_ROW]):
            column.now.extend(card(cut, count, column.x + place * cell_w, column.y, cell_w - 2.0, name_tile=several))
        column.y -= cell_h


def several_tiles(cuts: Sequence[Cut]) -> bool:
    """Whether pieces come out of tiles of more than one size: then each card names its tile."""
    return len({_tile_size(cut) for cut in cuts}) > 1


def card_height(cuts: Sequence[Cut]) -> float:
    """Height that every card of a schedule gets, mm on paper."""
    several = several_tiles(cuts)
    lines = max((len(_caption(cut, name_tile=several)) for cut in cuts), default=1)
    return 12.0 + CARD * max((cut.box[1] / max(cut.box) for cut in cuts), default=1.0) + 3.5 * lines


def _tile_size(cut: Cut) -> str:
    return f"{round(cut.box[0], 1):g} × {round(cut.box[1], 1):g}"


def _caption(cut: Cut, *, name_tile: bool) -> list[str]:
    """Lines under a card: saw size, and the tile it is sawn from if there are several."""
    lines = [_saw_size(cut)]
    if cut.shape in ("notch", "hole", "curve", "other"):
        lines = _cut_out(cut)
    if cut.start is not None and cut.end is not None:
        lines = [f"{cut.start:g} → {cut.end:g}"]
    return [*lines, f"of {_tile_size(cut)}"] if name_tile else lines


def _saw_size(cut: Cut) -> str:
    return " × ".join(f"{side:g}" if side >= 1.0 else "under 1" for side in cut.size)


def _cut_out(cut: Cut) -> list[str]:
    """What is sawn out of the tile, by its box, if one part is gone and the piece still spans the tile; else the piece's own box."""
    piece = Polygon(cut.outline, cut.holes)
    gone = [part for part in parts_of(shapely.difference(shapely.box(0.0, 0.0, *cut.box), piece)) if part.area > 1.0]
    low, high = np.array(piece.bounds).reshape(2, 2)
    spans = bool((high - low > np.array(cut.box) - 1.0).all())
    if len(gone) != 1 or not spans:
        return [_saw_size(cut), "saw as drawn"]
    x0, y0, x1, y1 = gone[0].bounds
    word = {"notch": "less", "hole": "hole", "curve": "arc"}.get(cut.shape, "less")
    return [f"{word} {math.ceil(x1 - x0 - 1e-3):g} × {math.ceil(y1 - y0 - 1e-3):g}"]


def card(cut: Cut, count: int, x: float, y: float, width: float, *, name_tile: bool) -> list[Primitive]:
    """A cut drawn in its tile, with mark, number and saw size; top left at (x, y)."""
    w, h = cut.box
    unit = CARD / max(w, h)
    low = np.array([x + 1.0, y - 8.0 - h * unit])
    whole = np.array([[0, 0], [w, 0], [w, h], [0, h]]) * unit + low
    outline = cut.outline * unit + low
    holes = [hole * unit + low for hole in cut.holes]
    foot = float(low[1]) - 1.2
    result: list[Primitive] = [
        Label(cut.mark, (x + 1.0, y - 6.5), MARK_HEIGHT, "MARK", bold=True),
        Label(f"{count} off", (x + width - 1.0, y - 6.5), 2.5, "TEXT", "right"),
        Stroke(whole, "TONE", closed=True),
        Fill(Polygon(outline, holes), "TILE-CUT", 0.14),
        Stroke(outline, "TITLE", closed=True),
        *[Stroke(hole, "TITLE", closed=True) for hole in holes],
        *[Label(text, (x + 1.0, foot - 3.5 * k), 2.5, "TEXT", "left", "top") for k, text in enumerate(_caption(cut, name_tile=name_tile))],
    ]
    return result
