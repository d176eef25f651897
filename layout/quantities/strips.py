"""Pieces of rectified tile that are all as long as their tile: strips, cut one beside the other."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from layout.quantities.blanks import Placed
from layout.quantities.lengths import fewest_lengths

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from layout.quantities.blanks import Blank, Layout

    Ints = NDArray[np.int64]


def cut_in_strips(
    blanks: Sequence[Blank], demand: Ints, tile: tuple[int, int], kerf: int, turns: tuple[int, ...]
) -> tuple[list[Layout], int] | None:
    """The fewest tiles where every blank is a strip, and the least number possible; None where some blank is shorter than its tile.

    A strip as long as the tile leaves nothing as wide as it, so strips along the one side never share a tile with those along the other.
    """
    lying: tuple[list[int], list[int]] = ([], [])  # along the tile's height, along its width
    for kind, blank in enumerate(blanks):
        if blank.height == tile[1] or (1 in turns and blank.width == tile[1]):
            lying[0].append(kind)
        elif blank.width == tile[0]:
            lying[1].append(kind)
        else:
            return None
    made: list[Layout] = []
    bound = 0
    for along, kinds in enumerate(lying):
        sizes = [_across(blanks[kind], tile, along) + kerf for kind in kinds]
        order = sorted(range(len(kinds)), key=lambda k: (-sizes[k], kinds[k]))
        if not order:
            continue
        size = np.array([sizes[k] for k in order], dtype=np.int64)
        patterns, least = fewest_lengths(size, demand[[kinds[k] for k in order]], tile[along] + kerf)
        bound += least
        for pattern in patterns:
            at, own = 0, []
            for k in np.repeat(np.arange(len(order)), pattern).tolist():
                own.append(_placed(kinds[order[k]], blanks[kinds[order[k]]], tile, along, at))
                at += int(size[k])
            made.append(tuple(own))
    return made, bound


def _across(blank: Blank, tile: tuple[int, int], along: int) -> int:
    """Width of a strip: along the tile's height (0), turned by a quarter where it lies the other way, or along its width (1)."""
    return blank.height if along or blank.height != tile[1] else blank.width


def _placed(kind: int, blank: Blank, tile: tuple[int, int], along: int, at: int) -> Placed:
    width = _across(blank, tile, along)
    if along:
        return Placed(kind, 0, 0, at, tile[0], width)
    return Placed(kind, 0 if blank.height == tile[1] else 1, at, 0, width, tile[1])
