"""Tape cut from whole rolls: which length of which run comes off which roll.

A run needs its own length and a lap onto the corner at both ends. A run longer than a roll is joined with a lap, never
nearer to a corner than the plan states. Where runs may be joined anywhere, rolls are used up one after the other;
else each run that fits comes off in one piece, from the fewest rolls (`layout.solver`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from layout.quantities.solver import cut_stock
from layout.units import EPS

if TYPE_CHECKING:
    from collections.abc import Sequence

STUB = 300.0
"""A rest shorter than this is not worth joining, mm (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Length:
    """A length off a roll, mm: `run` it is for; `part` 1, 2 … of several that are joined."""

    run: str
    length: float
    part: int = 1
    parts: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class CuttingList:
    """Lengths by roll; `bound` the fewest rolls possible; `joined` the laps within runs, m of tape."""

    rolls: tuple[tuple[Length, ...], ...]
    roll: float
    bound: int
    laps: int

    def rest(self, number: int) -> float:
        """What is left on a roll, mm."""
        return self.roll - math.fsum(each.length for each in self.rolls[number])


def cut_rolls(runs: Sequence[tuple[str, float]], *, roll: float, lap: float, joints: bool, clear: float) -> CuttingList:
    """Cut runs (name, length with the laps at its ends, mm) from rolls.

    Raises
    ------
    ValueError
        If a roll is no longer than a lap and twice the clear distance.
    """
    if roll <= 2 * (lap + clear):
        msg = f"a roll of {roll:g} is too short for a lap of {lap:g} kept {clear:g} from corners"
        raise ValueError(msg)
    return _used_up(runs, roll, lap, clear) if joints else _in_one(runs, roll, lap, clear)


def _in_one(runs: Sequence[tuple[str, float]], roll: float, lap: float, clear: float) -> CuttingList:
    lengths = [piece for name, length in runs for piece in _split(name, length, roll, lap, clear)]
    cutting = cut_stock([piece.length for piece in lengths], roll)
    rolls = tuple(tuple(lengths[k] for k in stock) for stock in cutting.stocks)
    return CuttingList(rolls=rolls, roll=roll, bound=cutting.bound, laps=sum(piece.part > 1 for piece in lengths))


def _split(name: str, length: float, roll: float, lap: float, clear: float) -> list[Length]:
    """A run as lengths of at most a roll: whole rolls first, the last lap clear of the corner."""
    if length <= roll + EPS:
        return [Length(name, length)]
    parts = math.ceil((length - lap) / (roll - lap) - EPS)
    rest = length + (parts - 1) * lap - (parts - 1) * roll
    sizes = [roll] * (parts - 1) + [rest]
    short = lap + clear - rest
    if short > 0.0:  # the last lap would stand too near to the corner
        sizes[-2:] = [roll - short, rest + short]
    return [Length(name, size, k, parts) for k, size in enumerate(sizes, 1)]


def _used_up(runs: Sequence[tuple[str, float]], roll: float, lap: float, clear: float) -> CuttingList:
    """Rolls one after the other; a run goes over to the next roll with a lap, clear of its ends."""
    rolls: list[list[Length]] = [[]]
    free = roll
    laps = 0
    need = math.fsum(length for _, length in runs)
    for name, length in sorted(runs, key=lambda run: -run[1]):
        left = length
        pieces: list[tuple[int, float]] = []
        while left > EPS:
            first = not pieces
            if left <= free + EPS:
                take = left
            else:
                # what goes on must reach past the lap and stand clear of the corner, and so must what is laid
                take = min(free, left - clear)
                if take < lap + max(clear if first else 0.0, STUB):
                    rolls.append([])
                    free = roll
                    continue
            pieces.append((len(rolls) - 1, take))
            free -= take
            left -= take
            if left > EPS:
                left += lap
                laps += 1
                if free < lap + STUB:
                    rolls.append([])
                    free = roll
        for k, (number, take) in enumerate(pieces, 1):
            rolls[number].append(Length(name, take, k, len(pieces)))
    if not rolls[-1]:
        rolls.pop()
    bound = rolls_at_least(need, roll, lap)
    return CuttingList(rolls=tuple(tuple(each) for each in rolls), roll=roll, bound=bound, laps=laps)


def rolls_at_least(length: float, roll: float, lap: float) -> int:
    """Rolls that a length takes if each goes over into the next with a lap: (T - o) / (R - o), rounded up; each further roll gives R - o.

    >>> rolls_at_least(28.0, 10.0, 0.05)
    3
    """
    if length <= 0.0:
        return 0
    return max(math.ceil((length - lap) / (roll - lap) - EPS), 1)
