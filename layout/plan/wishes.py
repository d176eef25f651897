"""What is liked of a start along one direction: pulls with their miss, and criteria in order or by weight.

A wish is met where the lattice's offset falls on one of its targets; off them it is missed by the
distance to the nearest. A whole tile at a wall is missed by what is cut off the tile there.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias, get_args

import numpy as np

from layout.standards.rules import SLIVER
from layout.units import EPS, SNAP

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]

Criterion: TypeAlias = Literal["weak", "least", "pulls", "narrowest", "metres", "hidden", "habits", "balance", "cuts"]
CRITERIA: tuple[Criterion, ...] = get_args(Criterion)
"""In the order taken if the plan gives none (design, section 5): no weak piece where a start without one is found; no cut under the tile's least; the pulls
that the plan asks for; the narrowest cut in view as wide as it can be; what the cuts in view lack to the least, each metre of wall counting
alike; the narrowest out of view; whole tiles at thresholds and drains on tiles or joints; cuts opposite each other alike; the fewest metres of
wall with cuts."""
AGAIN = "nearest"
"""Behind `metres` what is nearest to a least that cannot be had decides among what was equal to it within the tolerance until then."""
WEIGHED: tuple[Criterion, ...] = tuple(name for name in CRITERIA if name != "weak")
"""Criteria that are weighed in millimetres or metres against each other; a piece is weak or not."""


@dataclass(frozen=True, slots=True)
class Wish:
    """One thing wanted along one direction.

    `targets` are offsets of a tile's low edge, mm, any of which meets it. `side` is 0 for a line that is
    missed to either side alike; 1 or -1 for a whole tile at a wall with the room ahead or behind, which is
    missed by what the wall cuts off, at the worst over `slant` to either side where the wall runs out of square; a sliver under
    `SLIVER` is taken up by the joint. `asked` if the plan asks for it.
    """

    targets: tuple[float, ...]
    side: Literal[-1, 0, 1] = 0
    asked: bool = False
    weight: float = 1.0
    slant: float = 0.0

    def miss(self, offset: Floats, pitch: float, size: float) -> Floats:
        """How far each offset misses it, (k,), mm."""
        away = np.atleast_1d(offset)[:, None] - np.array(self.targets)
        if self.side:
            left = np.mod(self.side * away + size, pitch)  # what the wall leaves of the tile it crosses
            left = np.where(left <= SNAP, pitch, left)
            beyond = left + self.slant - pitch  # how wide a sliver its far end leaves
            kept = np.clip(left - self.slant, 0.0, size)
            result: Floats = (size - np.where(beyond > SLIVER.value, 0.0, kept)).min(axis=1)
            return result
        near: Floats = np.abs(np.mod(away + pitch / 2, pitch) - pitch / 2).min(axis=1)
        return near


def missed(wishes: Sequence[Wish], offset: Floats, pitch: float, size: float, *, asked: bool) -> Floats:
    """Misses of the wishes that the plan asks for, or of the others, added up by weight, (k,), mm."""
    total = np.zeros(len(np.atleast_1d(offset)))
    for wish in wishes:
        if wish.asked == asked:
            total += wish.weight * wish.miss(offset, pitch, size)
    return total


def targets_of(wishes: Sequence[Wish], pitch: float, size: float) -> Floats:
    """Offsets in [0, pitch) that meet some wish, and those where the miss is greatest: its only other breaks, mm.

    A whole tile at a wall is met as long as the joint lies on the wall: both ends of that count.
    """
    at = np.array(
        [
            target + wish.side * reach
            for wish in wishes
            for target in wish.targets
            for reach in sorted({0.0, wish.slant, pitch - size, pitch - size - wish.slant, pitch - size - wish.slant + SLIVER.value})
        ]
    )
    result: Floats = np.mod(np.concatenate([at, at + pitch / 2]), pitch)
    return result


@dataclass(frozen=True, slots=True, kw_only=True)
class Measures:
    """What offsets give along one direction (or a start in all), each (k,): lower is better but for `worst` and `drawn`.

    `worst`, `drawn` the narrowest cut in view over the walls' play and as drawn, `hidden` the one out of view over the play; `asked`, `habits` misses; `unlike`
    the difference of the cuts at the two ends, all mm; `sawn` wall with cuts, mm. `whole` is 1 where nothing is cut. `short` is what the cuts in
    view lack to the tile's least over the play, mm, times the wall that each runs along, mm, all added up; `view` is all that wall, mm.
    """

    worst: Floats
    drawn: Floats
    hidden: Floats
    whole: Floats
    asked: Floats
    habits: Floats
    unlike: Floats
    sawn: Floats
    short: Floats
    view: Floats

    @property
    def lacking(self) -> Floats:
        """What the cuts in view lack to the tile's least, on the mean of the metres of wall, (k,), mm."""
        return self.short / np.maximum(self.view, 1.0)


MEASURE_NAMES = tuple(Measures.__dataclass_fields__)


@dataclass(frozen=True, slots=True, kw_only=True)
class Criteria:
    """How starts are ranked: in order, each criterion among those equal by the ones before, or by weight.

    `weights` holds (criterion, weight) pairs: millimetres of each against the others, metres for `cuts`; empty for
    the order. `least` is the tile's least cut; narrowest cuts within `tolerance` of the best are equal, for walls are not
    known better: then what comes behind decides; but no cut at all is better than any. All mm.

    `metres` is why a long wall in view goes before a short nib: where the least cannot be had, starts that lack it by no more than `tolerance`
    more than the best are equal, and of those the one is taken whose cuts in view lack least on the mean of the metres of wall, means within
    `tolerance` being equal too. A mean, and no count of the metres under the least: a count makes opposite walls unlike to lift one of them
    over the limit, and takes a cut of 90 for no better than one of 20; the mean gains nothing by that where the walls are as long. Where every
    cut has the least it is nothing and what comes behind decides.
    """

    order: tuple[Criterion, ...] = CRITERIA
    weights: tuple[tuple[Criterion, float], ...] = ()
    least: float = 0.0
    tolerance: float = 0.0

    @property
    def measured(self) -> tuple[Criterion, ...]:
        """The criteria that hold along one direction: weak pieces are seen only when a start is laid."""
        return tuple(name for name in self.order if name != "weak")

    @property
    def plain(self) -> bool:
        """Whether the narrowest cut decides unless the plan asks for something."""
        first = [name for name in self.measured if name not in ("least", "pulls")]
        return not self.weights and first[:1] == ["narrowest"]

    @property
    def steps(self) -> tuple[str, ...]:
        """The order with what decides again: the least, behind the metres, where it comes before them."""
        k = self.order.index("metres") + 1
        return (*self.order[:k], AGAIN, *self.order[k:]) if "least" in self.order[:k] else self.order

    @property
    def decisive(self) -> int:
        """How many of the keys come up to the narrowest cut."""
        return 1 if self.weights else [name for name in self.steps if name != "weak"].index("narrowest") + 1

    @property
    def before_weak(self) -> int | None:
        """How many of the keys come before weak pieces; None where criteria are weighed and weak pieces with them not."""
        return None if self.weights else self.steps.index("weak")

    def why_behind(self, best: Measures, other: Measures, weak: int = 0) -> str:
        """Why a start comes behind the best one, in words: the first criterion in which it gives less. One start each, (1,); `weak` pieces more.

        Cuts that differ by no more than the tolerance are equal.
        """
        words: dict[str, tuple[float, str]] = {
            "weak": (float(weak), "{:.0f} weak pieces more" if weak > 1 else "a weak piece more"),
            "least": (float(min(best.worst[0], self.least) - min(other.worst[0], self.least)), "a cut of {:.0f} where {:.0f} is the least"),
            "pulls": (float(other.asked[0] - best.asked[0]), "misses what is asked by {:.0f} more"),
            "narrowest": (float(best.worst[0] - other.worst[0]), "narrowest cut {:.0f} less"),
            "metres": (float(other.lacking[0] - best.lacking[0]), "cuts in view lack {:.0f} more to the least, on the mean of the metres"),
            "hidden": (float(best.hidden[0] - other.hidden[0]), "narrowest cut out of view {:.0f} less"),
            "habits": (float(other.habits[0] - best.habits[0]), "misses thresholds and drains by {:.0f} more"),
            "balance": (float(other.unlike[0] - best.unlike[0]), "cuts at the two ends differ by {:.0f} more"),
            "cuts": (float(other.sawn[0] - best.sawn[0]) / 1000.0, "{:.1f} m more wall with cuts"),
        }
        for name in self.order:
            loss, text = words[name]
            if loss > (max(self.tolerance, 0.05) if name in ("narrowest", "hidden") else 0.05):
                return text.format(*((other.worst[0], self.least) if name == "least" else (loss,)))
        return "as good: the lowest cut at the datum wall decides"

    def under(self, found: Measures) -> Floats:
        """By how much the narrowest cut of each start is under the least, (k,), mm: as drawn, or by more than walls are known to."""
        width = _width(found)
        short = np.maximum(self.least - found.drawn, self.least - self.tolerance - width) if self.tolerance else self.least - width
        return np.maximum(short, 0.0)

    def equal_before(self, name: Criterion, found: Measures) -> Bools:
        """Which starts are equal in all that comes before a criterion, (k,)."""
        result = np.ones(len(found.worst), dtype=bool)
        before = len(self.weights[:1]) + [step for step in self.steps if step != "weak"].index(name)
        for key in self.keys(found)[:before]:
            result &= key <= key[result].min(initial=math.inf)
        return result

    def keys(self, found: Measures) -> list[Floats]:
        """Sort keys, the first the most important, each (k,), lower is better."""
        width, tolerance, under = _width(found), self.tolerance, self.under(found)
        values: dict[str, Floats] = {
            "least": under,
            AGAIN: under,
            "pulls": found.asked,
            "narrowest": -(width + 2.0 * tolerance * found.whole),
            "metres": found.lacking,
            "hidden": -found.hidden,
            "habits": found.habits,
            "balance": found.unlike,
            "cuts": found.sawn,
        }
        keys: list[Floats] = []
        if self.weights:
            total = np.zeros(len(found.worst))
            for name, weight in self.weights:
                if name == "weak":
                    continue
                total += weight * (values[name] / (1000.0 if name == "cuts" else 1.0))
            keys.append(np.round(total, 3))
        best = np.ones(len(width), dtype=bool)
        for key in keys:
            best &= key <= key.min(initial=math.inf)
        again = AGAIN in self.steps
        for step in self.steps:
            if step == "weak":
                continue
            key = values[step]
            low = float(key[best].min()) if best.any() else math.inf
            # no cut under the least is better than any; where it cannot be had the metres have a say among what is as near to it
            if tolerance and best.any() and (step in ("narrowest", "metres", "hidden") or (step == "least" and again and low > EPS)):
                key = np.maximum(key - low - tolerance, 0.0)
            key = np.round(key, 3)
            keys.append(key)
            if best.any():
                best &= key <= float(key[best].min())
        return keys


def _width(found: Measures) -> Floats:
    """The narrowest cut in view over the play, (k,), mm; as drawn where no start survives the play."""
    return found.worst if found.worst.max(initial=0.0) > EPS else found.drawn


def criteria_of(order: Sequence[Criterion], weights: Sequence[tuple[Criterion, float]], least: float, tolerance: float = 0.0) -> Criteria:
    """Criteria with those that an order leaves out behind it, as they usually come."""
    rest = [name for name in CRITERIA if name not in order]
    return Criteria(order=(*order, *rest), weights=tuple(weights), least=least if math.isfinite(least) else 0.0, tolerance=tolerance)
