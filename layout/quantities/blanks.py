"""A cut piece as the saw sees it, and where in a tile it may be cut from.

The rule of factory edges: a cut edge goes to a wall, a cove or a sealant joint, a factory edge to every open joint. So a
piece cut from another tile than its own must keep each of its factory edges on an edge of that tile, under a turn that
the face allows and never mirrored: a strip uses up one side of a tile, a corner piece one corner. Source: common
practice, no source. Rectified tile may be cut anywhere: its edges are all alike.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Ints = NDArray[np.int64]

Side: TypeAlias = Literal["left", "bottom", "right", "top"]
Slot: TypeAlias = Literal["lower-left", "lower-right", "upper-left", "upper-right", "left", "right", "bottom", "top"]

SIDES: tuple[Side, ...] = ("left", "bottom", "right", "top")
"""In the order in which a quarter turn anticlockwise takes one to the next."""
SLOT_SIDES: dict[Slot, frozenset[Side]] = {
    "lower-left": frozenset({"left", "bottom"}),
    "lower-right": frozenset({"right", "bottom"}),
    "upper-left": frozenset({"left", "top"}),
    "upper-right": frozenset({"right", "top"}),
    "left": frozenset({"left", "bottom", "top"}),
    "right": frozenset({"right", "bottom", "top"}),
    "bottom": frozenset({"bottom", "left", "right"}),
    "top": frozenset({"top", "left", "right"}),
}
"""Edges of the tile that a piece in a slot has for its own."""
CORNERS: tuple[Slot, ...] = ("lower-left", "lower-right", "upper-left", "upper-right")


@dataclass(frozen=True, slots=True)
class Blank:
    """The box of a piece in its tile's axes: sizes in steps of the saw, and which of its sides are factory edges.

    `leaves` are corners of the tile, with their width and height in steps, that a notched piece as large as its tile leaves
    whole; a piece that takes the whole tile and leaves nothing has its box on all four sides.
    """

    width: int
    height: int
    sides: frozenset[Side]
    leaves: tuple[tuple[Slot, int, int], ...] = ()

    @property
    def whole(self) -> bool:
        """Whether it needs a tile of its own."""
        return len(self.sides) == len(SIDES)


@dataclass(frozen=True, slots=True)
class Option:
    """A way to cut a blank: in which slot, turned by how many quarters, its box then, steps."""

    slot: Slot
    quarters: int
    width: int
    height: int


def turned_sides(sides: frozenset[Side], quarters: int) -> frozenset[Side]:
    """Sides after quarter turns anticlockwise.

    >>> sorted(turned_sides(frozenset({"left"}), 1))
    ['bottom']
    """
    return frozenset(SIDES[(SIDES.index(side) + quarters) % 4] for side in sides)


def options_of(blank: Blank, tile: tuple[int, int], turns: tuple[int, ...]) -> tuple[Option, ...]:
    """Every slot of a tile that a blank may be cut from, `turns` in quarters; none for a piece with a tile of its own.

    A strip (three factory edges, or two that face each other) is as long as its tile and lies along a side; others fit
    where the tile's edges at a corner hold their factory edges.
    """
    if blank.whole:
        return ()
    result: list[Option] = []
    for quarters in turns:
        w, h = (blank.height, blank.width) if quarters % 2 else (blank.width, blank.height)
        if w > tile[0] or h > tile[1]:
            continue
        sides = turned_sides(blank.sides, quarters)
        upright, level = {"bottom", "top"} <= sides, {"left", "right"} <= sides
        for slot, own in SLOT_SIDES.items():
            along = slot in ("left", "right") if upright else slot in ("bottom", "top") if level else slot in CORNERS
            if along and sides <= own:
                result.append(Option(slot, quarters, w, h))
    return tuple(dict.fromkeys(result))


@dataclass(frozen=True, slots=True, order=True)
class Placed:
    """A blank in a tile: its kind, turned by quarters, lower-left corner and box, steps."""

    kind: int
    quarters: int
    x: int
    y: int
    width: int
    height: int


Layout: TypeAlias = tuple[Placed, ...]
Found: TypeAlias = "tuple[float, list[tuple[float, Layout]]]"


def kinds_in(made: Layout, kinds: int) -> Ints:
    """How often a tile holds each kind, (kinds,)."""
    result = np.zeros(kinds, dtype=np.int64)
    for each in made:
        result[each.kind] += 1
    return result
