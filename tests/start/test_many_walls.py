"""Many walls at many offsets: the few teeth that are measured give what all of them give, and no offset of a dense row goes before the best."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from layout.plan.wishes import CRITERIA, MEASURE_NAMES, Wish, criteria_of
from layout.start import teeth
from layout.start.offsets import best_offsets, measures
from layout.start.teeth import lacking, lengths_under, narrowest
from layout.start.walls import Walls
from layout.units import SNAP, TOUCH

PITCH, SIZE = 206.0, 200.0
ALL = 10**9
"""Up to so many widths all are measured: every one in these tests."""


def some(rng: np.random.Generator, count: int, most: float, share: float, grid: float) -> np.ndarray:
    """Lengths up to the most at a share of the walls, nothing at the others."""
    return np.round(np.where(rng.random(count) < share, rng.uniform(0.0, most, count), 0.0) / grid) * grid


def walls_of(rng: np.random.Generator, count: int, grid: float) -> Walls:
    """Walls at random places or on a few phases, to a grid: askew, with play, with edge joints that take a little, short or out of view."""
    at = rng.uniform(0.0, 20_000.0, count)
    if rng.random() < 0.5:
        at = rng.choice(at[:3], count) + rng.uniform(0.0, rng.choice([0.0, 3.0]), count)
    return Walls(
        at=np.round(at / grid) * grid,
        ahead=rng.random(count) < rng.choice([0.5, 1.0]),
        slant=some(rng, count, float(rng.choice([3.0, 30.0])), float(rng.choice([0.0, 0.2, 1.0])), grid),
        play=np.full(count, 5.0) if rng.random() < 0.3 else some(rng, count, 8.0, float(rng.choice([0.0, 0.6])), grid),
        out=some(rng, count, 6.0, 0.5, grid),
        into=some(rng, count, 6.0, 0.5, grid),
        strip=rng.random(count) < 0.9,
        hidden=rng.random(count) < rng.choice([0.0, 0.3]),
        covered=np.zeros(count),
        datum=np.arange(count) == 0,
        weight=rng.uniform(100.0, 3000.0, count),
    )


def breaks_of(rng: np.random.Generator, walls: Walls, size: float, pitch: float) -> np.ndarray:
    """Offsets at which teeth break, a hair and a little beside them, and at random."""
    t = walls.slant + walls.play
    zero = np.where(walls.ahead, walls.at - size, walls.at)
    reach = np.concatenate(
        [t * 0.0, t, t + SNAP, pitch - t + walls.out, size + t - walls.into, size - 2 * SNAP + t * 0.0, 50.0 + walls.slant]
    )
    at = np.tile(zero, 7) + np.tile(np.where(walls.ahead, 1.0, -1.0), 7) * reach
    return np.concatenate([*(at + aside for aside in (0.0, SNAP, -2 * SNAP, 2 * SNAP)), rng.uniform(0.0, pitch, 40)])


@pytest.mark.parametrize("grid", [1e-6, 0.001, 0.1, 1.0])
@pytest.mark.parametrize("joint", [0.0, 2.0, 6.0])
def test_the_teeth_that_decide_are_the_lowest_of_all(grid, joint):
    """Every wall is measured at every offset beside: to the last digit the same, where teeth break and where they are level too."""
    rng = np.random.default_rng(int(joint) + int(grid * 1000))
    seen = set()
    for count in (1, 2, *rng.integers(3, 80, 7).tolist()):
        walls, pitch = walls_of(rng, count, grid), SIZE + joint
        at = breaks_of(rng, walls, SIZE, pitch)
        drawn, worst = (walls.widths(at, pitch, SIZE, play=play) for play in (False, True))
        found = narrowest(walls, at, pitch, SIZE)
        assert [each.tolist() for each in found] == [drawn.min(axis=1).tolist(), worst.min(axis=1).tolist()], count
        for level in (SIZE - TOUCH, 30.0):
            assert lengths_under(walls, at, pitch, SIZE, level) == pytest.approx((drawn < level) @ walls.weight, abs=1e-6), (count, level)
            short = np.maximum(level - worst, 0.0) @ walls.weight
            assert lacking(walls, at, pitch, SIZE, level) == pytest.approx(short, abs=1e-3), (count, level)
        seen |= set(np.round(found[1]).tolist())
    assert len(seen) > 10  # and it is not all nothing


def test_no_wall_cuts_nothing():
    none = Walls.plain([], [], [])
    assert [each.tolist() for each in narrowest(none, np.array([0.0, 7.0]), PITCH, SIZE)] == [[SIZE, SIZE], [SIZE, SIZE]]
    assert lengths_under(none, np.array([0.0, 7.0]), PITCH, SIZE, 30.0).tolist() == [0.0, 0.0]
    assert lacking(none, np.array([0.0, 7.0]), PITCH, SIZE, 30.0).tolist() == [0.0, 0.0]


def test_what_walls_lack_by_hand():
    # walls at 0 and 1000 with a play of 5, tiles begin at 100: 94 at the near one, 76 at the far one, as drawn; at 17 the near strip of 11
    # is 6 over the play, the far one (1000 - 17 = 4 pitches and 159) 154; at 9 the near one of 3 is gone
    walls = replace(Walls.plain([0.0, 1000.0], [True, False], [5.0, 5.0]), weight=np.array([2.0, 7.0]))
    found = lacking(walls, np.array([100.0, 17.0, 9.0]), PITCH, SIZE, 100.0)
    assert found == pytest.approx([2 * (100 - 89) + 7 * (100 - 71), 2 * (100 - 6), 2 * 100])


def test_a_tooth_that_is_whole_for_less_than_a_hair_is_measured():
    # whole from a phase of 199.9 + 3.051 = 202.951 on, broken off behind 206 - 3.051 + 0.002 = 202.951: the room lies ahead, so at an offset
    # of 202.951 - 200 behind the wall
    walls = replace(Walls.plain([10.0], [True], [0.0]), slant=np.array([3.051]), weight=np.array([70.0]))
    at = np.array([12.951 - 0.01, 12.951 - 1e-9, 12.951, 12.951 + 1e-9, 12.951 + 0.01])
    widths = walls.widths(at, PITCH, SIZE, play=False)[:, 0]
    assert widths[[0, -1]] == pytest.approx([199.89, 0.0], abs=1e-6)
    assert lengths_under(walls, at, PITCH, SIZE, SIZE - TOUCH).tolist() == np.where(widths < SIZE - TOUCH, 70.0, 0.0).tolist()


@pytest.mark.parametrize("count", [7, 30])
def test_starts_are_the_same_whether_all_teeth_are_measured_or_those_that_decide(monkeypatch, count):
    rng = np.random.default_rng(count)
    for case in range(20):
        walls = walls_of(rng, count, float(rng.choice([1e-6, 0.1])))
        wishes = [Wish((float(rng.uniform(0.0, PITCH)),), asked=bool(asked)) for asked in rng.integers(0, 2, int(rng.integers(0, 3)))]
        order = [CRITERIA[k] for k in rng.permutation(len(CRITERIA))[: int(rng.integers(0, 4))]]
        criteria = criteria_of(order, [], 60.0, float(rng.choice([0.0, 1.0, 5.0])))
        found = []
        for at_once in (0, ALL):
            monkeypatch.setattr(teeth, "AT_ONCE", at_once)
            found.append(best_offsets(walls, PITCH, SIZE, wishes=wishes, criteria=criteria))
        values = [np.array([[getattr(each, name) for name in ("at", *MEASURE_NAMES)] for each in one]) for one in found]
        assert values[0] == pytest.approx(values[1], abs=1e-6), (case, order)


@pytest.mark.parametrize("tolerance", [0.0, 5.0])
@pytest.mark.parametrize("order", [[], ["narrowest", "balance"], ["least", "habits"], ["cuts"]], ids=str)
def test_no_offset_of_a_dense_row_goes_before_the_best_of_many_walls(monkeypatch, order, tolerance):
    """Every wall is measured at every millimetre, up to the narrowest cut in the order; the search measures few walls at breaks alone."""
    rng = np.random.default_rng(len(order) + int(tolerance))
    row = np.arange(0.0, PITCH)
    for case in range(2):
        walls = walls_of(rng, 500, 0.1)
        wishes = [Wish((float(rng.uniform(0.0, PITCH)),))]
        criteria = criteria_of(order, [], 60.0, tolerance)
        best = best_offsets(walls, PITCH, SIZE, wishes=wishes, criteria=criteria)[0]
        with monkeypatch.context() as patched:
            patched.setattr(teeth, "AT_ONCE", ALL)
            keys = np.array(criteria.keys(measures(walls, np.append(row, best.at), PITCH, SIZE, wishes, least=60.0)))[: criteria.decisive]
        ahead = [float(row[k]) for k in range(len(row)) if before(keys[:, k], keys[:, -1])]
        assert ahead == [], (case, best)


def before(one: np.ndarray, other: np.ndarray) -> bool:
    """Whether an offset's keys go before another's: the first that differs is less, by more than a touch."""
    differs = np.flatnonzero(np.abs(one - other) > 0.01)
    return bool(len(differs)) and bool(one[differs[0]] < other[differs[0]] - TOUCH)
