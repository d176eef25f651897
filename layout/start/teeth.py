"""Many walls at many offsets: of all teeth only those are measured that can be the lowest, so no table of walls by offsets is made.

Along one direction every wall gives the same saw-tooth but for where it stands, how far it slants and plays (`start.walls`). Seen from an
offset the walls of one way lie round it as on a ring, by their phase: first those with a joint on them, then rising teeth, then whole
tiles. The lowest tooth is that of a wall whose rise began last, or of one whose tooth has broken off already: each is where a value that
is a wall's own is greatest in a range of the ring, which a table of ranges of doubling length gives at once. Where a tooth breaks,
rounding decides what it is: walls that stand so near are all measured.

Ranges of doubling length: M. A. Bender, M. Farach-Colton, The LCA problem revisited (2000), section 3, from memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from layout.units import SNAP

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from layout.start.walls import Walls
    from layout.vectors import Bools, Floats, Ints

DOUBT = 1e-7
"""Nearer than this to where a tooth breaks, or to another tooth, only the teeth themselves tell, mm."""
AT_ONCE = 200_000
"""Up to so many widths, offsets by walls, all are measured; of more only those that decide."""
ROWS = 4096
"""So many offsets are measured at once, as they stay near the processor then."""


def few(walls: Walls, offset: Floats) -> bool:
    """Whether walls and offsets are so few that all are measured; feet that are covered in part always are: they stand on few levels."""
    return len(offset) * len(walls.at) <= AT_ONCE or bool(walls.covered.any())


def narrowest(walls: Walls, offset: Floats, pitch: float, size: float) -> tuple[Floats, Floats]:
    """Narrowest strip of all walls at each of many offsets, as drawn and over the play, (k,) both, mm: the same as of every wall measured.

    Costs (n + k) log n for n walls and k offsets, but for walls that stand alike to a hair. The size where there is no wall.
    """
    result = np.full((2, len(offset)), size)
    for ahead, own in ((True, walls.ahead), (False, ~walls.ahead)):
        if own.any():
            ring = _Ring.of(walls.of(own), pitch, size, ahead=ahead)
            for first in range(0, len(offset), ROWS):
                part = slice(first, first + ROWS)
                result[:, part] = np.minimum(result[:, part], ring.lowest(offset[part]))
    return result[0], result[1]


def least_over_play(walls: Walls, offset: Floats, pitch: float, size: float) -> Floats:
    """Narrowest strip over the play at each of many offsets, (k,), of walls that all are strips, mm: by all walls where that is less work."""
    if few(walls, offset):
        return walls.least(offset, pitch, size, play=True)
    return narrowest(walls, offset, pitch, size)[1]


def lengths_under(walls: Walls, offset: Floats, pitch: float, size: float, level: float) -> Floats:
    """Length of the walls whose strip as drawn is under a level, at each of many offsets, (k,), mm; the level over `SNAP`, at most the size."""
    first, last = level + walls.slant, np.where(walls.slant > 0.0, pitch - walls.slant + 2 * SNAP, pitch)
    last = np.where(last >= pitch, pitch + SNAP, last)  # a joint on the wall is a phase of one pitch
    over = [_Piece(first, np.where(first <= pitch, last, -np.inf), np.ones(len(first)), 0.0)]

    def measured(some: Walls, at: Floats) -> Floats:
        return np.where(_teeth(some, at, pitch, size)[0] < level, 0.0, 1.0)

    return float(walls.weight.sum()) - _added(walls, offset, pitch, size, over, measured)


def lacking(walls: Walls, offset: Floats, pitch: float, size: float, level: float) -> Floats:
    """What strips over the play lack to a level, times the length of their wall, all walls together, at each of many offsets, (k,), mm².

    The level is at most the size. A strip that is gone lacks all of it.
    """
    t, whole = walls.slant + walls.play, size - 2 * SNAP
    ends = [np.where(off > 0.0, pitch - off + out + 2 * SNAP, np.inf) for off, out in ((t, walls.out), (walls.slant, 0.0))]
    low = np.clip(t, SNAP, pitch)
    high = np.clip(np.minimum(*ends), low, pitch)
    on = np.maximum(walls.slant, t - walls.into)  # with a joint on the wall the strip is the phase less this
    joint = walls.left(np.full((1, len(t)), pitch), pitch, size, play=True)[0]
    all_of_it = np.full(len(t), level)
    pieces = [
        _Piece(np.full(len(t), SNAP), low, all_of_it, 0.0),
        _Piece(low, np.minimum(np.minimum(high, whole), level + t), level + t, -1.0),
        _Piece(np.maximum(low, whole), np.minimum(high, level + on), level + on, -1.0),
        _Piece(high, np.full(len(t), pitch), all_of_it, 0.0),
        _Piece(np.full(len(t), pitch), np.full(len(t), pitch + SNAP), np.maximum(level - joint, 0.0), 0.0),
    ]

    def measured(some: Walls, at: Floats) -> Floats:
        return np.maximum(level - _teeth(some, at, pitch, size)[1], 0.0)

    return _added(walls, offset, pitch, size, pieces, measured)


@dataclass(frozen=True, slots=True)
class _Piece:
    """Where something of a wall is straight in its phase: from `begin` to `end` (n,) it is `level` (n,) and `slope` times the phase; empty pieces end first."""

    begin: Floats
    end: Floats
    level: Floats
    slope: float

    def of(self, rows: Bools) -> _Piece:
        """Of some of the walls."""
        return _Piece(self.begin[rows], self.end[rows], self.level[rows], self.slope)


def _added(
    walls: Walls, offset: Floats, pitch: float, size: float, pieces: Sequence[_Piece], measured: Callable[[Walls, Floats], Floats]
) -> Floats:
    """Something of each wall times its length, all walls together, at each of many offsets, (k,); nothing off the pieces.

    Pieces are added up over their sorted beginnings and ends; walls of which one begins or ends within a hair of an offset are `measured`.
    """
    total = np.zeros(len(offset))
    for ahead, own in ((True, walls.ahead), (False, ~walls.ahead)):
        if not own.any():
            continue
        some, here = walls.of(own), _seen(offset, pitch, ahead=ahead)
        place = _places(some, pitch, size, ahead=ahead)
        near = [np.empty(0, dtype=np.int64)]
        for piece in (each.of(own) for each in pieces):
            at = np.mod(place + piece.begin, pitch)
            long = np.flatnonzero(piece.end > piece.begin + 2 * DOUBT)  # a shorter one is within a hair of where it begins or ends
            there = np.flatnonzero(piece.end > piece.begin - 2 * DOUBT)
            for reach, sign in ((0.0, 1.0), (np.where(np.isfinite(piece.end), piece.end - piece.begin, 0.0), -1.0)):
                row = _Row.of(at + reach, long, pitch)
                back = (piece.begin + reach)[row.wall] - row.at  # the phase is the offset and this
                level = some.weight[row.wall] * (piece.level[row.wall] + piece.slope * back)
                index = np.searchsorted(row.at, here - sign * DOUBT, side="right" if sign > 0.0 else "left")
                total += sign * np.append(0.0, np.cumsum(level))[index]
                if piece.slope:
                    total += sign * piece.slope * here * np.append(0.0, np.cumsum(some.weight[row.wall]))[index]
                which, wall = _Row.of(at + reach, there, pitch).between(here - DOUBT, here + DOUBT)
                near.append(which * len(some.at) + wall)
        which, wall = np.divmod(np.unique(np.concatenate(near)), len(some.at))
        each = measured(some.of(wall[:, None]), offset[which])[:, 0] * some.weight[wall]
        total += np.bincount(which, weights=each, minlength=len(offset))
    return total


def _places(walls: Walls, pitch: float, size: float, *, ahead: bool) -> Floats:
    """Where a wall of one way has its phase nought, so that phases grow along the row, (n,), in [0, pitch)."""
    at = np.mod(walls.at - size if ahead else -walls.at, pitch)
    result: Floats = np.where(at >= pitch, 0.0, at)  # of a hair less than nothing the remainder is a whole pitch
    return result


def _seen(offset: Floats, pitch: float, *, ahead: bool) -> Floats:
    """Offsets along the row in which `_places` stand."""
    result: Floats = np.mod(offset if ahead else -offset, pitch)
    return result


def _teeth(walls: Walls, offset: Floats, pitch: float, size: float) -> tuple[Floats, Floats]:
    """Strips of some walls at each offset, as drawn and over the play, (k, c) both: fields of `walls` are (k, c)."""
    return walls.as_drawn_and_over_play(walls.phases(offset, pitch, size), pitch, size)


def _spread(low: Ints, high: Ints) -> tuple[Ints, Ints]:
    """All whole numbers from a low to under a high for each of many pairs: which pair, and which number."""
    count = np.maximum(high - low, 0)
    which = np.repeat(np.arange(len(low)), count)
    return which, np.arange(len(which)) + np.repeat(low - (np.cumsum(count) - count), count)


@dataclass(frozen=True, slots=True, eq=False)
class _Row:
    """Walls by where they stand on a ring of one pitch, laid out three times in a row: `at` (3 n,) ascending, which `wall` it is."""

    at: Floats
    wall: Ints

    @classmethod
    def of(cls, at: Floats, which: Ints, pitch: float) -> _Row:
        """Some walls of many."""
        three = np.concatenate([at[which] + turn for turn in (-pitch, 0.0, pitch)])
        order = np.argsort(three, kind="stable")
        return cls(three[order], np.tile(which, 3)[order])

    def between(self, low: Floats, high: Floats) -> tuple[Ints, Ints]:
        """All walls that stand between two places, for each of many pairs: which pair, and which wall."""
        which, index = _spread(np.searchsorted(self.at, low), np.searchsorted(self.at, high, side="right"))
        return which, self.wall[index]


@dataclass(frozen=True, slots=True, eq=False)
class _Greatest:
    """Where a value that each wall has at its place in a row is greatest in ranges of the row.

    `value` (3 n,) and `wall` are along the row. `table` (j, 3 n) tells where it is greatest in ranges of 2^j from each place; None where it grows
    all along or falls. `alike` are the walls by value; of each wall's value, to a hair, there are `many` (n,) from `begin` on.
    """

    value: Floats
    wall: Ints
    table: Ints | None
    alike: Ints
    begin: Ints
    many: Ints

    @classmethod
    def of(cls, row: _Row, own: Floats, pitch: float, *, least: bool = False) -> _Greatest:
        """The value is place and something of the wall's `own` (n,) together; greatest where that is `least`, if so."""
        both = row.at + own[row.wall]
        alike = _alike(np.mod(row.at[: len(own)] + own[row.wall[: len(own)]], pitch), row.wall[: len(own)], pitch)
        if (np.diff(both) >= 0.0).all():
            return cls(-both if least else both, row.wall, None, *alike)
        value = -both if least else both
        table, step = [np.arange(len(value))], 1
        while 2 * step <= len(own):
            one, other = table[-1], np.append(table[-1][step:], table[-1][-step:])
            table.append(np.where(value[one] >= value[other], one, other))
            step *= 2
        return cls(value, row.wall, np.array(table), *alike)

    def within(self, low: Ints, high: Ints) -> Ints:
        """The wall of each of many ranges from a place to under another, (k,); of an empty range any wall."""
        low = np.minimum(low, len(self.value) - 1)
        high = np.maximum(high, low + 1)
        if self.table is None:
            found = high - 1 if self.value[-1] > self.value[0] else low
        else:
            level = np.frexp(high - low)[1] - 1
            one, other = self.table[level, low], self.table[level, high - (1 << level)]
            found = np.where(self.value[one] >= self.value[other], one, other)
        result: Ints = self.wall[found]
        return result

    def twins(self, wall: Ints) -> tuple[Ints, Ints]:
        """All walls of the same value to a hair as each of many that has some: which of the many, and which wall."""
        own = np.flatnonzero(self.many[wall] > 1)
        which, index = _spread(self.begin[wall[own]], self.begin[wall[own]] + self.many[wall[own]])
        return own[which], self.alike[index]


def _alike(value: Floats, wall: Ints, pitch: float) -> tuple[Ints, Ints, Ints]:
    """Walls by value round a ring, and where those of each wall's value to a hair begin there and how many they are, (n,) each by wall."""
    order = np.argsort(value, kind="stable")
    apart = np.diff(value[order], append=value[order[0]] + pitch) > DOUBT
    if apart.any():  # the row begins where one value ends
        begins = int(apart.argmax()) + 1
        order, apart = np.roll(order, -begins), np.roll(apart, -begins)
    run = np.append(0, np.cumsum(apart[:-1]))
    many = np.bincount(run)
    begin = np.cumsum(many) - many
    by_wall = np.empty((2, len(wall)), dtype=np.int64)
    by_wall[:, wall[order]] = begin[run], many[run]
    return wall[order], by_wall[0], by_wall[1]


@dataclass(frozen=True, slots=True, eq=False)
class _Ring:
    """Walls of one way by their phase, and in which ranges of phases the lowest tooth is that of the wall whose value is greatest."""

    walls: Walls
    ahead: bool
    pitch: float
    size: float
    row: _Row
    rising: tuple[_Greatest, ...]
    joint_on: tuple[_Greatest, ...]
    live: tuple[_Greatest, ...]

    @classmethod
    def of(cls, walls: Walls, pitch: float, size: float, *, ahead: bool) -> _Ring:
        """With what decides: a rise that began last, of walls on a joint with what their edge joint takes, and a tooth that broke off."""
        row = _Row.of(_places(walls, pitch, size, ahead=ahead), np.arange(len(walls.at)), pitch)
        t = walls.slant + walls.play
        never = 3 * pitch
        rising: list[_Greatest] = []
        joint_on: list[_Greatest] = []
        live = [_Greatest.of(row, walls.slant, pitch)]
        if walls.slant.any():
            end = np.where(walls.slant > 0.0, pitch - walls.slant + 2 * SNAP, never)
            live.append(_Greatest.of(row, end, pitch, least=True))
        if walls.play.any():
            began = _Greatest.of(row, t, pitch)
            end = np.where(t > 0.0, pitch - t + walls.out + 2 * SNAP, never)
            rising.append(began)
            joint_on += [began, _Greatest.of(row, t - walls.into, pitch)]
            live.append(_Greatest.of(row, end, pitch, least=True))
        return cls(walls, ahead, pitch, size, row, tuple(rising), tuple(joint_on), tuple(live))

    def lowest(self, offset: Floats) -> Floats:
        """The lowest of all teeth at each offset, (2, k): as drawn and over the play, mm."""
        here, pitch, at = _seen(offset, self.pitch, ahead=self.ahead), self.pitch, self.row.at
        whole = self.size - 2 * SNAP  # from this phase on a tile's joint counts as lying on the wall
        on = np.searchsorted(at, here - pitch + DOUBT, side="right")
        on_end = np.searchsorted(at, here - whole - DOUBT)
        rise = np.searchsorted(at, here - whole + DOUBT, side="right")
        rise_end = np.searchsorted(at, here - SNAP - DOUBT)
        end = np.searchsorted(at, here + DOUBT, side="right")
        found: list[tuple[_Greatest, Ints]] = []
        for values, low, high in ((self.rising, rise, rise_end), (self.joint_on, on, on_end), (self.live, on, rise_end)):
            found += [(value, value.within(low, high)) for value in values]
        walls = self.walls.of(np.stack([wall for _, wall in found], axis=1))
        result = np.array([each.min(axis=1) for each in _teeth(walls, offset, pitch, self.size)])
        near = [(which, self.row.wall[index]) for which, index in (_spread(on_end, rise), _spread(rise_end, end))]
        near += [value.twins(wall) for value, wall in found]
        which, wall = (np.concatenate(each) for each in zip(*near, strict=True))
        for kept, each in zip(result, _teeth(self.walls.of(wall[:, None]), offset[which], pitch, self.size), strict=True):
            np.minimum.at(kept, which, each[:, 0])
        return result
