"""Tiles filled one after the other in columns: a cutting of many pieces at once, to begin with and for what is left over."""

from __future__ import annotations

from typing import TYPE_CHECKING

from layout.quantities.blanks import Placed
from layout.quantities.lengths import fullest_length

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np
    from numpy.typing import NDArray

    from layout.quantities.blanks import Layout

    Ints = NDArray[np.int64]
    Box = tuple[int, int, int, int]
    """Width, height, kind, quarters."""


def shelved(boxes: Sequence[Box], demand: Ints, tile: tuple[int, int], kerf: int) -> list[Layout]:
    """All that is wanted, `demand` by kind: the fewest tiles of four ways to lie, columns upright or level, pieces long or short across.

    `boxes` are ways in which a kind may lie; kinds without one, and those that are not wanted, are left out.
    """
    best: list[Layout] = []
    for long in (True, False):
        for level in (False, True):
            own: dict[int, Box] = {}
            for w, h, kind, quarters in boxes:
                box = (h, w, kind, quarters) if level else (w, h, kind, quarters)
                if demand[kind] > 0 and (kind not in own or (box[0] > own[kind][0]) == long):
                    own[kind] = box
            made = _filled(sorted(own.values(), key=lambda box: (-box[0], -box[1], box[2])), demand, tile[::-1] if level else tile, kerf)
            if not best or len(made) < len(best):
                best = [transposed(each) for each in made] if level else made
    return best


def transposed(made: Layout) -> Layout:
    """A tile with its two directions changed."""
    return tuple(Placed(p.kind, p.quarters, p.y, p.x, p.height, p.width) for p in made)


def _filled(boxes: Sequence[Box], demand: Ints, tile: tuple[int, int], kerf: int) -> list[Layout]:
    """Tile after tile: a column as wide as the widest piece left, filled as full as it goes, then the next beside it."""
    left = [int(demand[box[2]]) for box in boxes]
    reach = [box[1] + kerf for box in boxes]
    made: list[Layout] = []
    while any(left):
        counts = [0] * len(boxes)
        placed: list[Placed] = []
        x = 0
        while True:
            first = next((k for k, box in enumerate(boxes) if left[k] > counts[k] and x + box[0] <= tile[0]), None)
            if first is None:
                break
            counts[first] += 1
            free = [n - c for n, c in zip(left, counts, strict=True)]
            beside = fullest_length(reach, free, first, tile[1] + kerf - reach[first])
            for k, count in beside:
                counts[k] += count
            y = 0
            for k, count in ((first, 1), *beside):
                for _ in range(count):
                    placed.append(Placed(boxes[k][2], boxes[k][3], x, y, boxes[k][0], boxes[k][1]))
                    y += reach[k]
            x += boxes[first][0] + kerf
        times = min(left[k] // count for k, count in enumerate(counts) if count)
        left = [n - times * count for n, count in zip(left, counts, strict=True)]
        made += [tuple(placed)] * times
    return made
