"""Pieces cut from the fewest tiles: which kinds they are, and which piece of a kind each tile gives.

Any piece of a kind may come out of a place in a tile where boxes lie apart, for a piece fills its box at the most. Two pieces of one
tile that a slanted cut parts (a hip, a joint) have boxes that lie over each other: only those two come out of one tile so,
not others with boxes as large. They are kinds of their own, and a tile cut like theirs gives the pieces of one place.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Protocol, TypeAlias

from layout.quantities.blanks import Blank, Placed
from layout.quantities.gathering import by_size
from layout.quantities.nesting import lie_apart, nest

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable, Mapping, Sequence

    from layout.quantities.blanks import Layout

Share: TypeAlias = "tuple[tuple[object, ...], ...]"
"""Boxes of a place whose pieces share a tile by a slanted cut, and which of them this piece has; empty for all others."""


class Piece(Protocol):
    """A piece with the box it is cut from, and where that lies in its own tile, steps of the saw."""

    @property
    def blank(self) -> Blank:
        """Its box."""

    @property
    def corner(self) -> tuple[int, int]:
        """The lower-left corner of its box."""


def cut_from_fewest(
    pieces: Sequence[Piece],
    places: Mapping[Hashable, Sequence[int]],
    tile: tuple[int, int],
    *,
    kerf: int,
    turns: tuple[int, ...],
    anywhere: bool,
    arranged: Callable[[Layout], Layout] = tuple,
) -> tuple[list[list[tuple[int, Placed]]], int]:
    """The number of every piece once, tile by tile, with where it is cut; and the least number of tiles under the rule.

    Parameters
    ----------
    pieces : in the order in which they are handed out.
    places : numbers of the pieces of one tile as laid, by place.
    tile, kerf, turns, anywhere : as `layout.quantities.nesting.nest` has them, steps of the saw.
    arranged : turns a tile's boxes and puts them in the order in which its pieces are handed out.
    """
    shares = _shares(pieces, places, kerf)
    names = [(piece.blank, shares.get(k, ())) for k, piece in enumerate(pieces)]
    kinds = sorted(set(names), key=lambda name: (by_size(name[0]), name[1]))
    number = {name: k for k, name in enumerate(kinds)}
    kind_of = [number[name] for name in names]
    wanted = Counter(kind_of)
    found = nest(
        [blank for blank, _ in kinds],
        [wanted[k] for k in range(len(kinds))],
        tile,
        kerf=kerf,
        turns=turns,
        anywhere=anywhere,
        together=sorted({_as_laid(own, pieces, kind_of) for own in places.values() if len(own) > 1}),
    )
    blanks = [blank for blank, _ in kinds]
    given = _of_one_place(found.tiles, blanks, kind_of, [own for own in places.values() if own[0] in shares], kerf)
    taken = {piece for own in given.values() for piece in own.values()}
    waiting: dict[int, list[int]] = {}
    for k in range(len(pieces) - 1, -1, -1):
        if k not in taken:
            waiting.setdefault(kind_of[k], []).append(k)
    return [
        [(given[t][placed.kind] if placed.kind in given.get(t, {}) else waiting[placed.kind].pop(), placed) for placed in made]
        for t, made in enumerate(map(arranged, found.tiles))
    ], found.bound


def _as_laid(own: Sequence[int], pieces: Sequence[Piece], kind_of: Sequence[int]) -> Layout:
    """The pieces of one place as they lie in their tile."""
    return tuple(sorted(Placed(kind_of[k], 0, *pieces[k].corner, pieces[k].blank.width, pieces[k].blank.height) for k in own))


def _shares(pieces: Sequence[Piece], places: Mapping[Hashable, Sequence[int]], kerf: int) -> dict[int, Share]:
    """By piece, what makes it a kind of its own: the boxes of its place lie nearer to each other than a kerf."""
    result: dict[int, Share] = {}
    for own in places.values():
        blanks = [pieces[k].blank for k in own]
        boxes = tuple(Placed(n, 0, *pieces[k].corner, blanks[n].width, blanks[n].height) for n, k in enumerate(own))
        if lie_apart(boxes, blanks, kerf):
            continue
        told = {k: (*pieces[k].corner, *by_size(pieces[k].blank)) for k in own}
        order = sorted(own, key=lambda k: told[k])
        every = tuple(told[k] for k in order)
        for at, k in enumerate(order):
            result[k] = (*every, (at,))
    return result


def _of_one_place(
    tiles: Sequence[Layout], blanks: Sequence[Blank], kind_of: Sequence[int], shared: Sequence[Sequence[int]], kerf: int
) -> dict[int, dict[int, int]]:
    """By tile that is cut as a place is, the pieces it gives by kind: those of one such place.

    No tile of a place has a kind that one before it lacks, for each takes all of its kinds that are still wanted: the places go round.
    """
    left: dict[int, list[Sequence[int]]] = {}  # by kind, the places like its own: one list for all kinds of a place
    for own in reversed(shared):
        alike = left.get(kind_of[own[0]], [])
        alike.append(own)
        left.update((kind_of[k], alike) for k in own)
    result: dict[int, dict[int, int]] = {}
    for t, made in enumerate(tiles):
        if not lie_apart(made, blanks, kerf):
            kinds = {placed.kind for placed in made}
            result[t] = {kind_of[k]: k for k in left[made[0].kind].pop() if kind_of[k] in kinds}
    return result
