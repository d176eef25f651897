"""Narrowest cuts where every edge runs along a tile's side: what `layout.tiles.widths` tells of any edge, of one in a few figures.

An edge along a side lies in one row of tiles at most, which it cuts all alike; whether it cuts one right across shows at the
first tile that it meets and at the one after. So no crossing of tile and edge need be looked up. The figures are those of the
general way to the last bit: the same sums in the same order.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from layout.units import EPS, TOUCH

if TYPE_CHECKING:
    from layout.plan.patterns import Pattern
    from layout.vectors import Bools, Floats, Ints

NONE: tuple[Ints, Ints, Floats, Floats] = (np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64), np.empty(0), np.empty(0))
"""No cut: of which move, at which edge, how wide, and what is left of it."""
FLAT = 1e-9
"""An edge that rises no more runs along a side, mm."""


@dataclass(frozen=True, slots=True, eq=False)
class StraightOn:
    """Edges (n, 2, 2) along the sides of upright tiles in one lattice without a bond, the room on the left, in the lattice's axes, mm.

    `axis` (n,) is the one each runs along, `way` (n,) its run with its sign, `inward` (n,) 1 or -1 where the room lies up or down the other axis;
    `spans` is the part of a tile's side that a cut right across runs over.
    """

    edges: Floats
    pitch: Floats
    size: Floats
    axis: Ints
    way: Floats
    inward: Floats
    spans: float

    @classmethod
    def of(cls, edges: Floats, pattern: Pattern, spans: float) -> StraightOn | None:
        """Edges seen so; None where one runs at an angle, or the tiles are not of that kind."""
        (p, shear), (shift, q) = pattern.vectors
        member = pattern.members[0]
        size = member.max(axis=0)
        upright = len(pattern.members) == 1 and len(member) == 4 and pattern.rectangular and not member.min(axis=0).any()
        if not upright or shear or shift or min(p, q) <= 0.0 or (size > (p, q)).any():
            return None
        ways = edges[:, 1] - edges[:, 0]
        if (np.abs(ways).min(axis=1) > FLAT).any() or (np.abs(ways).max(axis=1) <= FLAT).any():
            return None
        axis = np.abs(ways).argmax(axis=1)
        way = ways[np.arange(len(ways)), axis]
        return cls(edges, np.array([p, q]), size, axis, way, np.where(axis == 0, 1.0, -1.0) * np.sign(way), spans)

    def narrowest(
        self, by: Floats, taken: Floats, spared: Floats, partly: Bools, moves: Floats, radius: float, cap: float
    ) -> tuple[Floats, Ints, Ints, Floats, Floats]:
        """Narrowest cuts for a lattice moved by each of `moves` (k, 2), (k,), and those sure to cross within `radius`, as `widths.sure_cuts` tells them: move, edge, width, what is left.

        Each edge is moved in by each of `by` (m, n); `taken` and `spared` (m, n) are what is taken off a cut there, and what the joint takes of its tile.
        """
        rows, other = np.arange(len(self.edges)), 1 - self.axis
        across = self.edges[rows, 0, other] + self.inward * by - moves[:, None, other]
        high, deep = self.pitch[other], self.size[other]
        reach = (np.floor(across / high) * high - across) * self.inward
        width, gone = reach + np.where(self.inward > 0.0, deep, 0.0), -reach - np.where(self.inward > 0.0, 0.0, -deep)
        right, met, sure, chord = self._along(moves[:, self.axis], radius)
        left = width - taken
        own = (right | (partly & met))[:, None] & (width > TOUCH) & (gone > spared + EPS)
        least: Floats = np.where(own, np.maximum(left, 0.0), cap).min(axis=(1, 2), initial=cap)
        if radius == 0.0:
            return least, *NONE
        stays = (sure | (partly & (chord > 2.0 * radius)))[:, None] & (width > EPS) & (gone > spared + radius) & (gone > EPS)
        move, _, edge = np.nonzero(stays)
        return least, move, edge, width[stays], left[stays]

    def _along(self, move: Floats, radius: float) -> tuple[Bools, Bools, Bools, Floats]:
        """Along each edge moved by each of `move` (k, n): whether it cuts a tile right across, meets any, does so for sure, and its longest run in one."""
        pitch, size = self.pitch[self.axis], self.size[self.axis]
        start = self.edges[np.arange(len(self.edges)), 0, self.axis] - move
        low, run = np.minimum(start, start + self.way), np.abs(self.way)
        right = met = sure = np.zeros(start.shape, dtype=bool)
        chord = np.zeros(start.shape)
        first = np.floor(low / pitch)
        for place in (first, first + 1.0, first + 2.0) if radius else (first, first + 1.0):
            off = start - place * pitch
            ends = np.stack([off / -self.way, (off - size) / -self.way])
            enter, leave = ends.min(axis=0), ends.max(axis=0)
            within = (leave.clip(0.0, 1.0) - enter.clip(0.0, 1.0)).clip(0.0)
            at = place * pitch
            crosses = (at + size - EPS >= low) & (at + EPS <= low + run)
            right = right | (crosses & (within >= self.spans * (leave - enter)))
            met = met | crosses
            chord = np.maximum(chord, np.where(crosses, within * run, 0.0))
            if radius:
                sure = sure | (crosses & self._stays(off, size, radius))
        at = np.ceil((low + radius) / pitch) * pitch  # the first that lies within the edge for sure
        sure = sure | (at + size + radius <= low + run)
        return right, met, sure, chord

    def _stays(self, off: Floats, size: Floats, radius: float) -> Bools:
        """Whether edges that begin `off` a tile's low side still run over enough of it, whichever way it moves within a radius."""
        grown, shrunk = (np.stack([(off + by) / -self.way, (off - size - by) / -self.way]) for by in (radius, -radius))
        short = (-grown.min(axis=0)).clip(0.0) + (grown.max(axis=0) - 1.0).clip(0.0)
        left = np.where(size > 2.0 * radius, shrunk.max(axis=0) - shrunk.min(axis=0), 0.0)
        result: Bools = short <= (1.0 - self.spans) * left
        return result
