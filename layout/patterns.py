"""Patterns as data: a unit cell of tiles and two lattice vectors.

A pattern covers the plane, joints included: the cell's tiles, each grown by its joint, have the
area of the lattice's determinant.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from layout.plan import Tile

    Floats = NDArray[np.float64]

PATTERN_NAMES = ("stack", "running", "diagonal", "herringbone", "double-herringbone")


@dataclass(frozen=True, slots=True, eq=False)
class Pattern:
    """Tiles of one cell and the two vectors that repeat it.

    Attributes
    ----------
    members : tuple of (k, 2) float
        Convex outlines of the cell's tiles, anticlockwise from the lower-left corner, mm.
    vectors : (2, 2) float
        Lattice vectors, mm.
    quarter : tuple of bool
        Whether a member is the tile turned by a quarter.
    turn : degrees that the pattern itself adds to the plan's turn.
    separable : whether joints run straight through both ways.
    """

    name: str
    members: tuple[Floats, ...]
    vectors: Floats
    quarter: tuple[bool, ...]
    turn: float = 0.0
    separable: bool = False

    @property
    def cell_area(self) -> float:
        """Area of one cell with its joints, mm²."""
        return float(abs(np.linalg.det(self.vectors)))


def _box(x: float, y: float, w: float, h: float) -> Floats:
    return np.array([[x, y], [x + w, y], [x + w, y + h], [x, y + h]])


def _grid(name: str, tile: Tile, shift: float, turn: float = 0.0) -> Pattern:
    w, h = tile.size
    vectors = np.array([[w + tile.joint, 0.0], [shift * (w + tile.joint), h + tile.joint]])
    return Pattern(name, (_box(0, 0, w, h),), vectors, (False,), turn, separable=shift % 1.0 == 0.0)


def _herringbone(name: str, tile: Tile, rows: int) -> Pattern:
    """Rows of long tiles, `rows` side by side, meeting rows turned by a quarter.

    With pitches L' and W' the lattice is (rows W', rows W') and (L', -L'): determinant
    2 L' rows W', twice the module times the rows.
    """
    long, short = max(tile.size), min(tile.size)
    pitch_l, pitch_s = long + tile.joint, short + tile.joint
    turned = tile.size[1] > tile.size[0]
    members, quarter = [], []
    for k in range(rows):
        members.append(_box(0.0, k * pitch_s, long, short))
        quarter.append(turned)
    for k in range(rows):
        members.append(_box(pitch_l + k * pitch_s, rows * pitch_s - pitch_l, short, long))
        quarter.append(not turned)
    step = rows * pitch_s
    return Pattern(name, tuple(members), np.array([[step, step], [pitch_l, -pitch_l]]), tuple(quarter))


def pattern_of(tile: Tile) -> Pattern:
    """The pattern that a tile is laid in."""
    if tile.pattern == "running":
        return _grid("running", tile, tile.offset)
    if tile.pattern == "diagonal":
        return _grid("diagonal", tile, 0.0, 45.0)
    if tile.pattern == "herringbone":
        return _herringbone("herringbone", tile, 1)
    if tile.pattern == "double-herringbone":
        return _herringbone("double-herringbone", tile, 2)
    return _grid("stack", tile, 0.0)
