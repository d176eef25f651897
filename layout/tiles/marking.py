"""Gives marks: one series for all pieces of a plan; marks that were issued stay with pieces like theirs."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.tiles.pieces import (
    MATE,
    Cut,
    Loose,
    PieceKey,
    alike_in_a_turn,
    by_outline,
    groups_of,
    legs,
    order_key,
    plain_cut,
    reach_of,
    run_cut,
    taper_runs,
)

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from layout.plan.kept import KeptMark

    Floats = NDArray[np.float64]


def mark_pieces(
    loose: list[Loose], tolerance: float, kept: Mapping[str, KeptMark] | None = None
) -> tuple[tuple[Cut, ...], dict[PieceKey, str]]:
    """Give marks: one series for all pieces given, by tile, shape, falling area, size, outline; runs of tapers as they are met round the room.

    Pieces like one of the `kept` marks have that; the others have numbers beyond all that were issued.

    Returns
    -------
    cuts : one entry for each mark
    marks : the mark of each piece
    """
    runs, single = taper_runs([each for each in loose if each.shape == "taper"])
    plain = [each for each in loose if each.shape != "taper"] + single
    pieces: dict[str, list[Loose]] = {}
    lines: dict[str, list[Loose]] = {}
    first = {"C": 1, "T": 1}
    if kept:
        pieces, plain = issued_pieces(plain, kept, tolerance)
        lines, runs = issued_runs(runs, kept, tolerance)
        first = {letter: last_number(kept, letter) + 1 for letter in first}
    keyed: list[tuple[tuple[object, ...], list[Loose]]] = [(order_key(members), members) for members in groups_of(plain, tolerance)]
    keyed.sort(key=lambda item: item[0])
    pieces |= {f"C{number}": members for number, (_, members) in enumerate(keyed, first["C"])}
    lines |= {f"T{number}": members for number, members in enumerate(runs, first["T"])}
    cuts = [(plain_cut(mark, members), members) for mark, members in sorted(pieces.items(), key=_by_number)]
    cuts += [(run_cut(mark, members), members) for mark, members in sorted(lines.items(), key=_by_number)]
    return tuple(cut for cut, _ in cuts), {each.key: cut.mark for cut, members in cuts for each in members}


def _by_number(item: tuple[str, list[Loose]]) -> tuple[int, str]:
    return len(item[0]), item[0]


MOST_OF = 0.5
"""A run of tapers of which more than this part is as it was is the same run."""


def number_of(mark: str) -> int:
    """The number of a mark: of ``C12`` 12; 0 where it has none."""
    digits = mark[1:]
    return int(digits) if digits.isascii() and digits.isdecimal() and len(digits) < 9 else 0


def last_number(kept: Mapping[str, KeptMark], letter: str) -> int:
    """The highest number that was given under a letter, so that none is given twice."""
    return max((number_of(mark) for mark in kept if mark.startswith(letter)), default=0)


def issued_pieces(loose: Sequence[Loose], kept: Mapping[str, KeptMark], tolerance: float) -> tuple[dict[str, list[Loose]], list[Loose]]:
    """Pieces under the marks that were issued for ones like them, lowest number first; and those that are new."""
    known: dict[tuple[str, str, int, int], list[tuple[str, KeptMark, Floats]]] = {}
    for mark, each in sorted(kept.items(), key=lambda item: number_of(item[0])):
        if not each.run:
            kind = (each.tile, each.shape, len(each.outline), len(each.holes))
            known.setdefault(kind, []).append((mark, each, np.array(each.outline)))
    reaches: dict[str, Floats] = {}
    found: dict[str, list[Loose]] = {}
    new: list[Loose] = []
    for members in by_outline(loose):
        head = members[0]
        kind = (head.tile.name, head.shape, len(head.polygon.exterior.coords) - 1, len(head.polygon.interiors))
        own = reach_of(head)
        for mark, each, outline in known.get(kind, ()):
            if mark not in reaches:
                piece = shapely.Polygon(each.outline, each.holes)
                reaches[mark] = reach_of(Loose(PieceKey(0, 0, 0, 0), head.tile, piece, head.shape, "", (0, 0)))
            if np.abs(reaches[mark] - own).max() > tolerance * MATE:
                continue
            area = shapely.Polygon(each.outline, each.holes).area
            if abs(area - head.polygon.area) > tolerance * head.polygon.length:
                continue
            if alike_in_a_turn(head, outline, [np.array(hole) for hole in each.holes], tolerance):
                found.setdefault(mark, []).extend(members)
                break
        else:
            new += members
    return found, new


def _in_step(one: Floats, other: Floats, tolerance: float) -> int:
    """The most pieces of two runs, by their legs (n, 2), that are alike when one is laid beside the other."""
    best = 0
    for off in range(1 - len(one), len(other)):
        a, b = one[max(0, -off) :], other[max(0, off) :]
        count = min(len(a), len(b))
        best = max(best, int((np.abs(a[:count] - b[:count]).max(axis=1) <= tolerance).sum()))
    return best


def issued_runs(
    runs: Sequence[list[Loose]], kept: Mapping[str, KeptMark], tolerance: float
) -> tuple[dict[str, list[Loose]], list[list[Loose]]]:
    """Runs of tapers under the marks that were issued for most of the same tiles in the same order, those of the same wall first; and the new ones.

    A run that is longer or shorter at an end keeps its mark: its other pieces are as they were.
    """
    found: dict[str, list[Loose]] = {}
    left = list(runs)
    for same_wall in (True, False):
        still = []
        for members in left:
            own = np.array([legs(each.polygon) for each in members])
            mark = next(
                (
                    mark
                    for mark, each in kept.items()
                    if each.run
                    and mark not in found
                    and each.tile == members[0].tile.name
                    and (not same_wall or each.wall == members[0].wall)
                    and max(_in_step(np.array(each.run), way, tolerance) for way in (own, own[::-1]))
                    > MOST_OF * max(len(each.run), len(own))
                ),
                None,
            )
            if mark is None:
                still.append(members)
            else:
                found[mark] = members
        left = still
    return found, left
