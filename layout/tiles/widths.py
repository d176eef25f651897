"""Width of a cut: what an edge leaves of a tile that it crosses, square to the edge, mm.

The one definition that search, table, sheet, finding and record read.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from layout.shapes import following
from layout.tiles.clip import crossings, lattice_points
from layout.units import TOUCH

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from layout.plan.patterns import Pattern

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Crossed:
    """Every place where an edge truly crosses a tile, as drawn.

    Attributes
    ----------
    widths : (m,) float
        From the wall to the tile's far corner, square to the wall, mm.
    chords : (m,) float
        Length of the edge inside the tile, mm.
    edge : (m,) int, which edge
    tile : (m, 3) int, member, i, j
    """

    widths: Floats
    chords: Floats
    edge: Ints
    tile: Ints


def cut_widths(edges: Floats, pattern: Pattern) -> Crossed:
    """Width of the cut wherever an edge crosses a tile.

    `edges` (n, 2, 2) in the lattice's axes with its origin at (0, 0), the room on the left, mm.
    """
    widths, chords, which, tiles = [], [], [], []
    for member, outline in enumerate(pattern.members):
        i, j, e = crossings(edges, outline, pattern.vectors)
        start, way = edges[e, 0], edges[e, 1] - edges[e, 0]
        length = np.hypot(way[:, 0], way[:, 1])
        normal = np.column_stack([-way[:, 1], way[:, 0]]) / length[:, None]
        at = lattice_points(i, j, pattern.vectors)
        reach = ((at - start) * normal).sum(axis=1)
        deep = (outline @ normal.T).max(axis=0)
        sides = following(outline) - outline
        outward = np.column_stack([sides[:, 1], -sides[:, 0]])
        gone = (start - at) @ outward.T - (outward * outline).sum(axis=1)
        rate = way @ outward.T
        with np.errstate(divide="ignore", invalid="ignore"):
            t = -gone / rate
        enter = np.where(rate < 0, t, -np.inf).max(axis=1).clip(0.0, 1.0)
        leave = np.where(rate > 0, t, np.inf).min(axis=1).clip(0.0, 1.0)
        widths.append(reach + deep)
        chords.append((leave - enter).clip(0.0) * length)
        which.append(e)
        tiles.append(np.column_stack([np.full(len(i), member), i, j]))
    return Crossed(np.concatenate(widths), np.concatenate(chords), np.concatenate(which), np.concatenate(tiles).astype(np.int64))


def narrowest(edges: Floats, play: Floats, pattern: Pattern, cap: float, *, radius: float = 0.0) -> tuple[float, float]:
    """Narrowest cut over the play, and a bound on what any start within `radius` can give, mm.

    Each wall is moved by itself, square to its line, between both ends of its play. A tile crossed within
    twice the play of its far edge would be cut to nothing somewhere between.
    """
    if len(edges) == 0:
        return cap, cap
    way = edges[:, 1] - edges[:, 0]
    normal = np.column_stack([-way[:, 1], way[:, 0]]) / np.hypot(way[:, 0], way[:, 1])[:, None]
    shift = (normal * play[:, None])[:, None, :]
    outer = cut_widths(edges - shift, pattern)
    kept = outer.widths > TOUCH
    left = outer.widths - 2.0 * play[outer.edge]
    least = max(float(left[kept].min(initial=cap)), 0.0)
    stays = (outer.widths > radius) & (outer.chords > 2.0 * radius)
    limit = min(cap, float(left[stays].min(initial=cap)) + radius)
    if least > 0.0 and play.any():
        inner = cut_widths(edges + shift, pattern)
        least = min(least, float(inner.widths[inner.widths > TOUCH].min(initial=cap)))
        stays = (inner.widths > radius) & (inner.chords > 2.0 * radius)
        limit = min(limit, float(inner.widths[stays].min(initial=cap)) + radius)
    return min(least, cap), max(limit, 0.0)
