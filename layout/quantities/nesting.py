"""The fewest tiles that give all cut pieces: ways to cut one tile, priced against each other.

A tile is cut right across once; each half gives a strip along its side, or one or two corner pieces. A notched piece
gives the corner that it leaves. Pieces that were one tile where they lie may come from one tile. Every way within these
is weighed by column generation (Gilmore and Gomory 1961; the solver of `layout.quantities.solver`), so the bound told is
that of the rule of factory edges. Tile cut anywhere is cut in columns, each cut into pieces (two stages, Gilmore and Gomory 1965).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from layout.quantities.blanks import SLOT_SIDES, kinds_in
from layout.quantities.columns import Columns
from layout.quantities.halves import Halves
from layout.quantities.solver import least_cover
from layout.quantities.strips import cut_in_strips

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from layout.quantities.blanks import Blank, Layout, Placed

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Nesting:
    """Tiles to cut, each with the blanks that come out of it; `bound` is the least number possible under the rule."""

    tiles: tuple[Layout, ...]
    bound: int

    @property
    def proved(self) -> bool:
        """Whether fewer tiles are impossible under the rule."""
        return len(self.tiles) <= self.bound


def nest(
    blanks: Sequence[Blank],
    demand: Sequence[int],
    tile: tuple[int, int],
    *,
    kerf: int,
    turns: tuple[int, ...],
    anywhere: bool = False,
    together: Sequence[Layout] = (),
) -> Nesting:
    """Cut each blank as often as it is wanted from the fewest tiles.

    Parameters
    ----------
    blanks : kinds of pieces.
    demand : how many of each.
    tile : width and height, steps of the saw.
    kerf : lost between two pieces, steps.
    turns : quarter turns that the face and the shape of the tile allow.
    anywhere : whether every edge may be a cut one (rectified tile).
    together : pieces of one place, as they lie there: they come from one tile at any rate. Where their boxes lie over each other
        (`lie_apart`) no other piece may stand for one of them: their kinds must be theirs alone.

    Raises
    ------
    ValueError
        If the kerf is no less than the tile is wide, or a blank is larger than the tile.
    """
    if kerf < 0 or kerf >= min(tile):
        msg = f"a kerf of {kerf} does not go with a tile of {tile[0]} by {tile[1]}"
        raise ValueError(msg)
    for blank in blanks:
        if blank.width > tile[0] or blank.height > tile[1]:
            msg = f"a piece of {blank.width} by {blank.height} is larger than its tile of {tile[0]} by {tile[1]}"
            raise ValueError(msg)
    wanted = np.array(demand, dtype=np.int64)
    if not len(wanted):
        return Nesting((), 0)
    strips = cut_in_strips(blanks, wanted, tile, kerf, turns) if anywhere and not together else None
    if strips is not None:
        return Nesting(tuple(strips[0]), strips[1])
    counts = partial(kinds_in, kinds=len(wanted))
    if anywhere:
        columns = Columns(blanks, wanted, tile, kerf, turns)
        whole = columns.likely(wanted)
        first = {counts(made).tobytes(): made for made in (*columns.singles(), *together, *whole)}
        cover = least_cover(wanted, list(first.values()), columns.better, counts, columns.likely, columns.parts)
        return Nesting(tuple(_trimmed(min(cover.chosen, whole, key=len), wanted)), cover.bound)
    halves = Halves(blanks, wanted, tile, kerf, turns)
    apart = all(lie_apart(own, blanks, kerf) for own in together)
    pairs = halves.pairs() if apart else None
    if pairs is not None:
        return Nesting(tuple(pairs), len(pairs))
    cover = least_cover(wanted, [*halves.singles(), *together, *halves.likely(wanted)], halves.better, counts)
    return Nesting(tuple(_trimmed(cover.chosen, wanted)), cover.bound)


def lie_apart(made: Layout, blanks: Sequence[Blank], kerf: int) -> bool:
    """Whether a saw goes between the boxes of a tile, or one lies in a corner that a notched piece leaves: then any piece may stand there.

    `blanks` are those of the kinds; a notched piece lies there unturned, as `nest` and a place give it.
    """
    return all(
        _sawn_apart(a, b, kerf) or _in_a_notch(b, blanks[a.kind], kerf) or _in_a_notch(a, blanks[b.kind], kerf)
        for a, b in combinations(made, 2)
    )


def _sawn_apart(a: Placed, b: Placed, kerf: int) -> bool:
    across = a.x + a.width + kerf <= b.x or b.x + b.width + kerf <= a.x
    return across or a.y + a.height + kerf <= b.y or b.y + b.height + kerf <= a.y


def _in_a_notch(small: Placed, notched: Blank, kerf: int) -> bool:
    """Whether a box lies a kerf within a corner that a piece as large as its tile leaves."""
    for slot, width, height in notched.leaves:
        left, low = "left" in SLOT_SIDES[slot], "bottom" in SLOT_SIDES[slot]
        across = small.x + small.width + kerf <= width if left else small.x >= notched.width - width + kerf
        up = small.y + small.height + kerf <= height if low else small.y >= notched.height - height + kerf
        if across and up:
            return True
    return False


def _trimmed(chosen: Sequence[Layout], wanted: Ints) -> list[Layout]:
    """Tiles without the pieces that are more than wanted; a tile of which nothing is left is not cut."""
    left = wanted.copy()
    result = []
    for made in chosen:
        kept = []
        for each in made:
            if left[each.kind] > 0:
                left[each.kind] -= 1
                kept.append(each)
        if kept:
            result.append(tuple(kept))
    return result
