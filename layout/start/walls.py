"""Edges across one direction of a lattice, and what each leaves of the tile it crosses.

A cut's width at a wall is the distance, square to the wall, from the joint's face to the tile's far
factory edge. Along one direction of a straight lattice every wall gives a saw-tooth in the offset:
it rises by a millimetre a millimetre up to the whole tile, stays while the joint lies on the wall,
and drops to nothing where a sliver begins.

Walls are never true: over a play of +-t the tooth drops t earlier on one side and counts t less. A joint on the wall stays
perfect over the play as far as the edge joint takes it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from layout.units import EPS, SNAP

if TYPE_CHECKING:
    from collections.abc import Sequence

    from layout.vectors import Bools, Floats, Ints


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Walls:
    """Edges across one direction of a lattice: walls, frames, faces of joints.

    Attributes
    ----------
    at : (n,) float
        Position along the direction, less the shift of the bay it stands in, mm.
    ahead : (n,) bool
        Whether the room lies ahead of the wall, on the side of growing positions.
    slant : (n,) float
        How far the wall's line runs to either side of `at`, mm.
    play : (n,) float
        How far the wall may stand to either side of its line, mm.
    out, into : (n,) float
        How much further out than a tile's joint, and how much further in, the wall may stand while a tile's joint lies on it:
        what its edge joint takes, mm.
    strip : (n,) bool
        Whether it is long enough to cut a tile right across; what is shorter counts for the metres sawn alone.
    hidden : (n,) bool
        Whether it is out of view: what it cuts counts after what is in view.
    covered : (n,) float
        How much of a piece that is cut to it stands behind what lies before it, mm: at the foot of a wall the floor. What is seen counts as
        its cut; a whole tile is whole.
    datum : (n,) bool
        The wall that offsets are measured from.
    weight : (n,) float
        Length of the wall, mm.
    """

    at: Floats
    ahead: Bools
    slant: Floats
    play: Floats
    out: Floats
    into: Floats
    strip: Bools
    hidden: Bools
    covered: Floats
    datum: Bools
    weight: Floats

    @property
    def key(self) -> tuple[bytes, ...]:
        """The walls as a value to look up by."""
        return tuple(getattr(self, name).tobytes() for name in WALL_FIELDS)

    @classmethod
    def plain(cls, at: Sequence[float] | Floats, ahead: Sequence[bool] | Bools, play: Sequence[float] | Floats) -> Walls:
        """Walls along the lattice whose edge joints take nothing, none of them a datum, each a millimetre long."""
        n = len(at)
        none, no = np.zeros(n), np.zeros(n, dtype=bool)
        return cls(
            at=np.asarray(at, dtype=float),
            ahead=np.asarray(ahead, dtype=bool),
            slant=none,
            play=np.asarray(play, dtype=float),
            out=none,
            into=none,
            strip=~no,
            hidden=no,
            covered=none,
            datum=no,
            weight=np.ones(n),
        )

    def of(self, rows: Ints | Bools) -> Walls:
        """Some of the walls."""
        return Walls(**{name: getattr(self, name)[rows] for name in WALL_FIELDS})

    def moved(self, by: float) -> Walls:
        """The walls as a lattice sees them that stands `by` further along."""
        return replace(self, at=self.at - by)

    def still(self) -> Walls:
        """The walls as drawn, none standing off."""
        return replace(self, play=np.zeros(len(self.at)))

    def phases(self, offset: Floats, pitch: float, size: float) -> Floats:
        """Distance from wall to the far edge of the tile it crosses, (k, n), in (0, pitch]."""
        offset = np.atleast_1d(offset)[:, None]
        away = np.where(self.ahead, offset + size - self.at, self.at - offset)
        phase = away - pitch * np.floor(away / pitch)  # half the time of mod; both ends count as the joint on the wall
        return np.where((phase <= SNAP) | (phase > pitch - 1e-9), pitch, phase)

    def least(self, offset: Floats, pitch: float, size: float, *, play: bool) -> Floats:
        """Narrowest strip at each of many offsets, (k,), as drawn or over the play."""
        widths = self.widths(offset, pitch, size, play=play)
        result: Floats = np.where(self.strip, widths, size).min(axis=1, initial=size)
        return result

    def widths(self, offset: Floats, pitch: float, size: float, *, play: bool) -> Floats:
        """Width at each wall, (k, n): the tile's size where nothing is cut."""
        return self.left(self.phases(offset, pitch, size), pitch, size, play=play)

    def left(self, phase: Floats, pitch: float, size: float, *, play: bool) -> Floats:
        """What phases leave of the tile at each wall, as drawn or over the play, (k, n)."""
        return (
            self.as_drawn_and_over_play(phase, pitch, size)[1] if play else self._seen(_toothed(phase, self.slant, 0.0, pitch, size), size)
        )

    def as_drawn_and_over_play(self, phase: Floats, pitch: float, size: float) -> tuple[Floats, Floats]:
        """What phases leave of the tile at each wall, (k, n) both."""
        drawn = _toothed(phase, self.slant, 0.0, pitch, size)
        t = self.slant + self.play
        cut = _toothed(phase, t, self.out, pitch, size)
        # a joint on the wall stays on it as far as its edge joint takes what the wall stands in
        on = (phase >= size - 2 * SNAP) & (cut > 0.0)
        worst = np.minimum(drawn, np.where(on, np.minimum(cut + self.into, size), cut))
        return self._seen(drawn, size), self._seen(worst, size)

    def _seen(self, width: Floats, size: float) -> Floats:
        """What is seen of pieces so wide: all of a whole tile, for it is not cut."""
        if not self.covered.any():
            return width
        return np.where(width >= size - WHOLE, width, np.maximum(width - self.covered, 0.0))


WHOLE = 2 * SNAP + EPS
"""So near to its size a tile is whole, mm."""
FEW = 400
"""So many walls are measured as they are."""
WALL_FIELDS = tuple(Walls.__dataclass_fields__)


def _toothed(phase: Floats, t: Floats, out: Floats | float, pitch: float, size: float) -> Floats:
    """The saw-tooth over `t` to either side: nothing where a sliver begins somewhere between."""
    kept = ((phase > t) & (phase <= pitch - t + out + 2 * SNAP)) | (t == 0.0)
    return np.where(kept, np.clip(phase - t, 0.0, size), 0.0)


def over_length(walls: Walls, edges: Floats, axis: int, between: Sequence[float], ends: float) -> Walls:
    """Walls out of square over the length that a bay sees of them, less so much at both its ends: where their lines lie there, how far they run.

    `edges` (n, 2, 2) are those of the walls, `between` the bay's low and high along the other axis, all mm.
    """
    if not (walls.slant > 0.0).any():
        return walls
    low, high = np.sort(edges[:, :, 1 - axis], axis=1).T
    way = edges[:, 1] - edges[:, 0]
    rate = way[:, axis] / np.where(high > low, way[:, 1 - axis], 1.0)
    first, last = np.maximum(low, between[0]), np.minimum(high, between[1])
    off = np.minimum(ends, np.maximum(last - first, 0.0) / 2.0)
    first, last = first + off, last - off
    own = (walls.slant > 0.0) & (last >= first)
    at = walls.at + rate * (first + last - low - high) / 2.0
    return replace(walls, at=np.where(own, at, walls.at), slant=np.where(own, np.abs(rate) * (last - first) / 2.0, walls.slant))


def joined_walls(walls: Sequence[Walls]) -> Walls:
    """Walls of several bays as one set."""
    if not walls:
        return Walls.plain([], [], [])
    return Walls(**{name: np.concatenate([getattr(each, name) for each in walls]) for name in WALL_FIELDS})


def merged(walls: Walls, pitch: float) -> Walls:
    """Walls that stand alike to the lattice as one, their lengths added: many edges of a hall lie on few phases."""
    if len(walls.at) <= FEW:
        return walls
    code = np.round(np.mod(walls.at, pitch) * 1e6).astype(np.int64)
    for name in ("ahead", "slant", "play", "out", "into", "strip", "hidden", "covered", "datum"):
        values, own = np.unique(getattr(walls, name), return_inverse=True)
        if len(values) > 1:  # codes stay small: numbered anew after each that tells walls apart
            code = np.unique(code * len(values) + own.ravel(), return_inverse=True)[1].ravel()
    _, first, which = np.unique(code, return_index=True, return_inverse=True)
    if len(first) == len(walls.at):
        return walls
    return replace(walls.of(first), weight=np.bincount(which.ravel(), weights=walls.weight).astype(np.float64))
