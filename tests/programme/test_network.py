"""Temporal networks: a published example, critical paths by hand, and hundreds of random networks against a solver of another kind."""

from __future__ import annotations

import itertools
import math

import highspy
import numpy as np
import pytest

from layout.programme.network import Clash, Limit, Times, at_least, keep


def between(of: int, to: int, least: float, most: float) -> list[Limit]:
    return [at_least(of, to, least), Limit(of, to, most)]


def test_the_published_example():
    """John and Fred: Dechter, Meiri and Pearl, Temporal constraint networks, Artificial Intelligence 49 (1991), figures 2 to 4, from memory.

    Moment 0 is 7:00; John leaves at 1 (between 10 and 20 minutes after) and arrives at 2 (30 to 40 later), Fred leaves at 3 and
    arrives at 4 (20 to 30 after 3, here in the reading in which John goes by car and Fred in a car pool: 40 to 50); Fred arrives 60 to 70 after
    7:00, and leaves 10 to 20 before John arrives. The minimal network of the paper: 1 in [10, 20], 2 in [40, 50], 3 in [20, 30], 4 in [60, 70].
    """
    limits = [
        *between(0, 1, 10, 20), *between(1, 2, 30, 40), *between(3, 2, 10, 20), *between(3, 4, 40, 50), *between(0, 4, 60, 70),
    ]  # fmt: skip
    times = keep(5, limits)
    assert isinstance(times, Times)
    assert times.earliest == pytest.approx((0, 10, 40, 20, 60))
    assert times.latest == pytest.approx((0, 20, 50, 30, 70))


def test_a_critical_path_by_hand():
    """A 3, B 4 after A, C 2 after A, D 5 after B and C: the end at 12 through A, B, D; C may slip by 2.

    Worked by hand in the way of Kelley and Walker (1959): forward 0, 3, 3, 7, 12; backward from 12.
    """
    takes = {"A": 3, "B": 4, "C": 2, "D": 5}
    begin = {name: n + 1 for n, name in enumerate(takes)}
    limits = [at_least(0, moment, 0) for moment in begin.values()]
    for before, after in (("A", "B"), ("A", "C"), ("B", "D"), ("C", "D")):
        limits.append(at_least(begin[before], begin[after], takes[before]))
    limits.append(at_least(begin["D"], 5, takes["D"]))
    free = keep(6, limits)
    assert isinstance(free, Times)
    assert free.earliest == pytest.approx((0, 0, 3, 3, 7, 12))
    assert free.latest[5] == math.inf
    bound = keep(6, [*limits, Limit(0, 5, 12)])
    assert isinstance(bound, Times)
    assert bound.latest == pytest.approx((0, 0, 3, 5, 7, 12))
    clash = keep(6, [*limits, Limit(0, 5, 11, "done by 11")])
    assert isinstance(clash, Clash)
    assert clash.short == pytest.approx(1)
    assert "done by 11" in {limit.why for limit in clash.limits}
    assert {(limit.of, limit.to) for limit in clash.limits} >= {(begin["B"], begin["A"]), (begin["D"], begin["B"]), (5, begin["D"])}


def solved(moments: int, limits: list[Limit], weights: np.ndarray) -> np.ndarray | None:
    """Times that keep all limits and are best by some weights, by linear programming; None if there are none."""
    solver = highspy.Highs()
    solver.setOptionValue("output_flag", False)
    columns = [
        solver.addVariable(lb=0.0 if k == 0 else -1000.0, ub=0.0 if k == 0 else 1000.0, obj=float(weights[k])) for k in range(moments)
    ]
    for limit in limits:
        solver.addConstr(columns[limit.to] - columns[limit.of] <= limit.most)
    solver.run()
    if solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
        return None
    return np.array(solver.getSolution().col_value)


def drawn(rng: np.random.Generator) -> tuple[int, list[Limit]]:
    moments = int(rng.integers(2, 10))
    limits = [Limit(0, k, 900.0) for k in range(1, moments)] + [at_least(0, k, -900.0) for k in range(1, moments)]
    hidden = [0.0, *rng.integers(-200, 201, moments - 1).tolist()]
    off = int(rng.choice([0, 10, 40]))  # by how much windows may lie off what would keep them all
    for _ in range(int(rng.integers(moments, 3 * moments))):
        of, to = (int(each) for each in rng.choice(moments, 2, replace=False))
        least = float(hidden[to] - hidden[of] - rng.integers(0, 41) + rng.integers(-off, off + 1))
        limits += between(of, to, least, least + 40.0 + float(rng.choice([0.0, 5.0, 30.0])))
    return moments, limits


def test_random_networks_against_linear_programming():
    rng = np.random.default_rng(22)
    kept = clashed = 0
    for _ in range(300):
        moments, limits = drawn(rng)
        found = keep(moments, limits)
        soonest = solved(moments, limits, np.ones(moments))
        assert (soonest is None) == isinstance(found, Clash)
        if isinstance(found, Clash):
            clashed += 1
            assert found.short > 0.0
            assert all(one.to == two.of for one, two in itertools.pairwise([*found.limits, found.limits[0]]))
            assert set(found.limits) <= set(limits)
            continue
        kept += 1
        latest = solved(moments, limits, -np.ones(moments))
        assert latest is not None
        assert soonest is not None
        assert found.earliest == pytest.approx(soonest, abs=1e-5)
        assert found.latest == pytest.approx(latest, abs=1e-5)
    assert min(kept, clashed) > 60
