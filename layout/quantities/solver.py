"""The fewest stock lengths for given pieces, with a proved bound: the only home of the linear solver.

Patterns are priced by column generation (Gilmore and Gomory 1961): the linear programme over the patterns found gives
each piece a value, and a knapsack over whole millimetres finds a better pattern or proves that there is none. Whole
numbers of the patterns found are then chosen; the linear optimum rounded up is a bound that no cutting beats.
"""

from __future__ import annotations

import contextlib
import math
import os
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Generic, Protocol, TypeVar

import numpy as np

from layout.units import EPS

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from numpy.typing import NDArray

    Ints = NDArray[np.int64]

Made = TypeVar("Made")

MOST_ROUNDS = 400
MOST_SECONDS = 5.0
MOST_NODES = 200
MOST_BRANCHED = 1500
"""Bounds on the patterns priced and on the choice among them; nodes rather than seconds, so that a run can be repeated."""
ROUNDS_BETWEEN = 3
"""Rounds of better columns after each rounding."""
NEAR = 0.8
"""How near to the best values known kinds are priced, where a guess is given."""
LEAST_ROUNDS, MOST_PRICED = 20, 30_000
"""Rounds at the least, and kinds priced in all rounds together, where a guess is given."""
AT_A_TIME = 8
"""One in so many of the parts of columns is rounded up at a time."""


@dataclass(frozen=True, slots=True)
class Cutting:
    """Stock lengths in use: for each, the indices of the lengths cut from it; `bound` is the least number possible."""

    stocks: tuple[tuple[int, ...], ...]
    bound: int

    @property
    def proved(self) -> bool:
        """Whether fewer stock lengths are impossible."""
        return len(self.stocks) == self.bound


def cut_stock(lengths: Sequence[float], stock: float, *, kerf: float = 0.0) -> Cutting:
    """Cut pieces from the fewest stock lengths.

    Parameters
    ----------
    lengths : pieces, mm, each cut in one; taken up to the next whole mm where one does not fit otherwise.
    stock : length of each stock, mm.
    kerf : lost at each cut, mm: pieces fit if sum(p + kerf) <= stock + kerf.

    Raises
    ------
    ValueError
        If a piece is longer than the stock.
    """
    if any(length > stock + EPS for length in lengths):
        msg = f"a piece of {max(lengths):g} is longer than the stock of {stock:g}"
        raise ValueError(msg)
    sizes = [math.ceil(length + kerf - EPS) for length in lengths]
    room = math.floor(stock + kerf + EPS)
    kinds = sorted(set(sizes), reverse=True)
    demand = np.array([sizes.count(kind) for kind in kinds], dtype=np.int64)
    if not kinds:
        return Cutting((), 0)
    size = np.array(kinds, dtype=np.int64)
    patterns = [np.where(np.arange(len(kinds)) == k, min(room // kinds[k], int(demand[k])), 0) for k in range(len(kinds))]
    patterns += _first_fit(size, demand, room)
    value = 0.0
    for _ in range(MOST_ROUNDS):
        value, duals = _relaxed(patterns, demand)
        found = _knapsack(size, demand, duals, room)
        if found @ duals <= 1.0 + 1e-7:
            break
        patterns.append(found)
    bound = max(math.ceil(value - 1e-6), math.ceil(int(size @ demand) / room))
    chosen = _whole(patterns, demand)
    greedy = _first_fit(size, demand, room)
    best = chosen if chosen is not None and len(chosen) <= len(greedy) else greedy
    return Cutting(_named(best, kinds, sizes), bound)


class Better(Protocol[Made]):
    """Finds things that are worth more than they cost."""

    def __call__(self, value: NDArray[np.float64], *, wanted: bool) -> tuple[float, list[tuple[float, Made]]]:
        """From what each kind is worth, (n,): a worth that no thing exceeds, and things worth most, the best first.

        `wanted` asks for things that hold no kind more often than it is wanted.
        """


@dataclass(frozen=True, slots=True)
class Cover(Generic[Made]):
    """Things made so that every kind is covered, and the least number of them that can do so."""

    chosen: tuple[Made, ...]
    bound: int


def least_cover(
    demand: Ints,
    first: Sequence[Made],
    better: Better[Made],
    counts: Callable[[Made], Ints],
    fill: Callable[[Ints], Sequence[Made]] | None = None,
    guess: NDArray[np.float64] | None = None,
) -> Cover[Made]:
    """Cover a demand with the fewest things that can be made.

    Parameters
    ----------
    demand : (n,) how often each kind is wanted.
    first : things to begin with; together they hold every kind.
    better : finds things to make.
    counts : how often a thing holds each kind, (n,).
    fill : makes things for a rest of the demand at once: tried after each rounding, so that the search may end sooner.

    guess : (n,) what each kind is about worth, such as its part of a stock: the search sets out from it and keeps near
        the best values found (Wentges 1997), which takes far fewer rounds where kinds are many.

    The bound is that of the linear programme over all that `better` and `first` can make; where the search is cut short it
    is divided by the worth of the best thing left (Farley 1990), so it holds all the same. Whole numbers are found by
    rounding the largest parts up, one after the other, and solving again for what is left.
    """
    programme: _Covering[Made] = _Covering(first, demand, better, counts, fill, guess)
    rounds = MOST_ROUNDS if guess is None else min(MOST_ROUNDS, max(LEAST_ROUNDS, MOST_PRICED // len(demand)))
    least = programme.improve(rounds, wanted=False)
    programme.keep_wanted()
    least = max(least, programme.improve(rounds, wanted=True))
    return Cover(tuple(programme.whole(least)), least)


class _Covering(Generic[Made]):
    """The linear programme of a cover, its columns added as they are found."""

    def __init__(
        self,
        first: Sequence[Made],
        demand: Ints,
        better: Better[Made],
        counts: Callable[[Made], Ints],
        fill: Callable[[Ints], Sequence[Made]] | None = None,
        guess: NDArray[np.float64] | None = None,
    ) -> None:
        self.demand, self.better, self.counts, self.fill, self.centre = demand, better, counts, fill, guess
        self.wanted_now = demand
        self.made: list[Made] = []
        self.held: list[Ints] = []
        self.model = _model([], demand)
        self.model.setOptionValue("time_limit", math.inf)  # it counts over all runs of a model; rounds and nodes bound this one
        self._add(first)

    def _add(self, made: Sequence[Made]) -> None:
        for each in made:
            held = self.counts(each)
            rows = np.flatnonzero(held).astype(np.int32)
            self.model.addCol(1.0, 0.0, float(self.demand.sum()), len(rows), rows, held[rows].astype(float))
            self.held.append(held)
        self.made += made

    def keep_wanted(self) -> None:
        """Leaves out columns that hold a kind more often than it is wanted: good for a bound, of no use to the saw."""
        for k, held in enumerate(self.held):
            if (held > self.demand).any():
                self.model.changeColBounds(k, 0.0, 0.0)

    def improve(self, rounds: int, *, wanted: bool) -> int:
        """Adds columns till none is better, or for some rounds; the least number that covers what is wanted."""
        bound = 0.0
        demand = self.wanted_now.astype(float)
        for _ in range(rounds):
            self.model.run()
            value = float(self.model.getInfo().objective_function_value)
            duals = np.maximum(np.array(self.model.getSolution().row_dual), 0.0)
            new: list[Made] = []
            for near in (0.0,) if self.centre is None else (NEAR, NEAR / 2, 0.0):
                at = duals if self.centre is None or not near else near * self.centre + (1.0 - near) * duals
                most, found = self.better(at, wanted=wanted)
                most = max(most, 1.0) if at is duals else most
                if self.centre is not None and float(at @ demand) / most > bound:
                    self.centre = at / most
                bound = max(bound, (value if at is duals else float(at @ demand)) / most)
                new = [
                    each
                    for worth, each in found
                    if (worth if at is duals else float(self.counts(each) @ duals)) > 1.0 + 1e-7
                    and not (wanted and (self.counts(each) > self.demand).any())
                ]
                if new:
                    break
            if not new or math.ceil(bound - 1e-6) >= value - 1e-6:
                break
            self._add(new)
        return math.ceil(bound - 1e-6)

    def whole(self, bound: int) -> list[Made]:
        """Things that cover the demand, as often as they are taken: rounded, or by branching where that is too many."""
        rounded = self._rounded(bound)
        if len(rounded) <= bound or len(self.held) > MOST_BRANCHED:
            return rounded
        branched = self._branched()
        return [self.made[k] for k in branched] if branched is not None and len(branched) < len(rounded) else rounded

    def _rounded(self, bound: int) -> list[Made]:
        left = self.demand.copy()
        result: list[Made] = []
        best: list[Made] = []
        while left.any():
            self._want(left)
            self.improve(ROUNDS_BETWEEN, wanted=True)
            self.model.run()
            part = np.array(self.model.getSolution().col_value)
            take = np.floor(part + 1e-6).astype(int)
            if self.fill is not None:
                own, rest = self._taken(take, left)
                filled = [*result, *own, *self.fill(rest)]
                best = filled if not best or len(filled) < len(best) else best
                if len(best) <= bound:
                    break
            order = np.argsort(take - part, kind="stable")
            parts = int((part - take > 1e-6).sum())
            take[order[: math.ceil(parts / AT_A_TIME)]] += 1
            own, left = self._taken(take, left)
            result += own
        self._want(self.demand)
        return best if best and (left.any() or len(best) < len(result)) else result

    def _taken(self, take: Ints, left: Ints) -> tuple[list[Made], Ints]:
        """Things taken as often as told, but for those of which nothing is wanted any more; and what is left to cover."""
        result = []
        for k in np.flatnonzero(take).tolist():
            for _ in range(int(take[k])):
                if (np.minimum(self.held[k], left) > 0).any():
                    left = np.maximum(left - self.held[k], 0)
                    result.append(self.made[k])
        return result, left

    def _want(self, demand: Ints) -> None:
        import highspy  # noqa: PLC0415

        self.wanted_now = demand
        for row, wanted in enumerate(demand.tolist()):
            self.model.changeRowBounds(row, float(wanted), highspy.kHighsInf)

    def _branched(self) -> list[int] | None:
        import highspy  # noqa: PLC0415

        for k in range(len(self.held)):
            self.model.changeColIntegrality(k, highspy.HighsVarType.kInteger)
        self.model.setOptionValue("mip_max_nodes", MOST_NODES)
        self.model.run()
        values = np.array(self.model.getSolution().col_value)
        if len(values) == 0:
            return None
        index = [k for k, count in enumerate(np.round(values).astype(int).tolist()) for _ in range(count)]
        held = sum((self.held[k] for k in index), np.zeros_like(self.demand))
        return index if (held >= self.demand).all() else None


def _first_fit(size: Ints, demand: Ints, room: int) -> list[Ints]:
    """First-fit decreasing, as patterns one by one."""
    left, result = demand.copy(), []
    while left.any():
        pattern, free = np.zeros(len(size), dtype=np.int64), room
        for k in range(len(size)):
            take = min(int(left[k]), free // int(size[k]))
            pattern[k], free = take, free - take * int(size[k])
        left -= pattern
        result.append(pattern)
    return result


def _knapsack(size: Ints, demand: Ints, value: NDArray[np.float64], room: int) -> Ints:
    """The most valuable pattern, no piece more often than wanted."""
    best = np.zeros(room + 1)
    taken: list[NDArray[np.int64]] = []
    for k in range(len(size)):
        start = best.copy()
        count = np.zeros(room + 1, dtype=np.int64)
        for n in range(1, min(int(demand[k]), room // int(size[k])) + 1):
            reach = n * int(size[k])
            better = start[: room + 1 - reach] + n * value[k]
            ends = np.flatnonzero(better > best[reach:] + 1e-12) + reach
            best[ends] = better[ends - reach]
            count[ends] = n
        taken.append(count)
    pattern = np.zeros(len(size), dtype=np.int64)
    at = int(best.argmax())  # from the best end back through what was taken
    for kind in range(len(size) - 1, -1, -1):
        pattern[kind] = taken[kind][at]
        at -= int(pattern[kind]) * int(size[kind])
    return pattern


@contextlib.contextmanager
def _quiet() -> Iterator[None]:
    """Keep standard output clean: the library prints two lines before its flag can be set."""
    kept = os.dup(1)
    with open(os.devnull, "wb") as nowhere:  # noqa: PTH123  # a descriptor is wanted, not a file
        os.dup2(nowhere.fileno(), 1)
        try:
            yield
        finally:
            os.dup2(kept, 1)
            os.close(kept)


def _model(patterns: list[Ints], demand: Ints) -> Any:  # noqa: ANN401  # the library carries no types
    import highspy  # noqa: PLC0415  # costs as much as numpy

    with _quiet():
        model: Any = highspy.Highs()  # type: ignore[no-untyped-call]
        model.setOptionValue("output_flag", False)
    model.setOptionValue("threads", 1)
    model.setOptionValue("time_limit", MOST_SECONDS)
    for wanted in demand.tolist():
        model.addRow(float(wanted), highspy.kHighsInf, 0, np.empty(0, dtype=np.int32), np.empty(0))
    for pattern in patterns:
        rows = np.flatnonzero(pattern).astype(np.int32)
        model.addCol(1.0, 0.0, float(demand.sum()), len(rows), rows, pattern[rows].astype(float))
    return model


def _relaxed(patterns: list[Ints], demand: Ints) -> tuple[float, NDArray[np.float64]]:
    """Linear optimum over the patterns and the value of each piece in it."""
    model = _model(patterns, demand)
    model.run()
    return float(model.getInfo().objective_function_value), np.array(model.getSolution().row_dual)


def _whole(patterns: list[Ints], demand: Ints) -> list[Ints] | None:
    """Whole numbers of patterns that cover the demand, trimmed to it; None if time ran out without any."""
    import highspy  # noqa: PLC0415

    model = _model(patterns, demand)
    for k in range(len(patterns)):
        model.changeColIntegrality(k, highspy.HighsVarType.kInteger)
    model.run()
    values = np.array(model.getSolution().col_value)
    if len(values) == 0:
        return None
    counts = np.round(values).astype(int).tolist()
    left, result = demand.copy(), []
    for pattern, count in zip(patterns, counts, strict=True):
        for _ in range(count):
            own = np.minimum(pattern, left)
            if own.any():
                left = left - own
                result.append(own)
    return result if not left.any() else None


def _named(patterns: list[Ints], kinds: list[int], sizes: list[int]) -> tuple[tuple[int, ...], ...]:
    """Patterns as the indices of the lengths given, in their order."""
    waiting = {kind: [k for k, size in enumerate(sizes) if size == kind] for kind in kinds}
    stocks = []
    for pattern in sorted(patterns, key=lambda pattern: (-int(pattern @ np.array(kinds)), pattern.tolist())):
        own = [waiting[kind].pop(0) for kind, count in zip(kinds, pattern.tolist(), strict=True) for _ in range(count)]
        stocks.append(tuple(own))
    return tuple(stocks)
