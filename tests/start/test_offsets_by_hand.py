"""Offsets between two walls worked by hand: what is left at each end, over the play too, and which of several is taken."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from layout.plan.wishes import MEASURE_NAMES, Criterion, Wish, criteria_of
from layout.start import teeth
from layout.start.offsets import best_offsets, measures
from layout.start.walls import Walls
from layout.units import TOUCH

PITCH, SIZE = 206.0, 200.0


def between(length: float, play: float = 0.0, second: float | None = None) -> Walls:
    """A wall at 0 with the room ahead, one at the far end with it behind."""
    return Walls.plain([0.0, length], [True, False], [play, play if second is None else second])


@pytest.mark.parametrize(
    ("length", "at", "cut"),
    [
        # cuts a at either end and n tiles between: 2 a + (n + 1) joints + n tiles: 2 a = 994 - 206 n = 376 for n = 3
        (1000.0, 194.0, 188.0),
        # 2 a = 1094 - 206 n = 270 for n = 4: the first whole tile begins a joint behind 135
        (1100.0, 141.0, 135.0),
        # 5 tiles and 4 joints: none is cut, and the first begins at the wall
        (1024.0, 0.0, 200.0),
    ],
)
def test_the_cuts_at_both_ends_are_alike_and_as_wide_as_can_be(length, at, cut):
    best = best_offsets(between(length), PITCH, SIZE)[0]
    assert best.at == pytest.approx(at, abs=1e-3)
    assert (best.drawn, best.worst) == pytest.approx((cut, cut), abs=1e-3)
    assert best.unlike == pytest.approx(0.0, abs=2e-3)
    assert best.sawn == (0.0 if cut == SIZE else 2.0)
    assert best.whole == float(cut == SIZE)


def test_the_play_of_each_wall_is_taken_off_its_own_cut():
    best = best_offsets(between(1000.0, 5.0), PITCH, SIZE)[0]
    assert (best.at, best.drawn, best.worst) == pytest.approx((194.0, 188.0, 183.0), abs=1e-3)
    # only the far wall moves: 3 more there and 2 less at the wall that stands, so that 186 and 190 - 4 are alike
    best = best_offsets(between(1000.0, 0.0, 4.0), PITCH, SIZE)[0]
    assert best.worst == pytest.approx(186.0, abs=1e-3)
    assert best.at == pytest.approx(192.0, abs=1e-3)


def test_where_no_cut_survives_the_play_the_best_as_drawn_is_taken():
    best = best_offsets(between(1000.0, 250.0), PITCH, SIZE)[0]
    assert best.worst == 0.0
    assert (best.at, best.drawn) == pytest.approx((194.0, 188.0), abs=1e-3)


def test_those_told_beside_the_best_stand_as_far_off_as_is_asked():
    found = best_offsets(between(1000.0), PITCH, SIZE, apart=30.0)
    # the other one has a tile more between: 2 a = 994 - 4 * 206 = 170
    assert [(each.at, each.worst) for each in found] == [pytest.approx((194.0, 188.0)), pytest.approx((91.0, 85.0))]


def test_a_wish_that_is_asked_for_comes_first_only_where_the_order_says_so():
    wish = Wish((100.0,), 0, asked=True)
    first = best_offsets(between(1000.0), PITCH, SIZE, wishes=[wish], criteria=criteria_of(["pulls", "narrowest"], [], 100.0))[0]
    assert first.at == pytest.approx(100.0, abs=1e-3)
    assert first.asked == pytest.approx(0.0, abs=1e-3)
    # 94 at the near end; 994 - 94 = 900 less four pitches of 206 leave 76 at the far one
    assert first.drawn == pytest.approx(76.0, abs=1e-3)
    last = best_offsets(between(1000.0), PITCH, SIZE, wishes=[wish], criteria=criteria_of(["narrowest", "pulls"], [], 100.0))[0]
    assert last.at == pytest.approx(194.0, abs=1e-3)
    assert last.asked == pytest.approx(94.0, abs=1e-3)


def test_without_walls_a_wish_is_met_and_without_both_nothing_moves():
    none = Walls.plain([], [], [])
    assert best_offsets(none, PITCH, SIZE)[0].at == 0.0
    assert best_offsets(none, PITCH, SIZE, wishes=[Wish((70.0,))])[0].at == pytest.approx(70.0)


def test_many_offsets_are_measured_as_each_alone(monkeypatch):
    walls, at = between(1000.0, 5.0), np.linspace(0.0, PITCH, 23)
    whole = measures(walls, at, PITCH, SIZE, [Wish((100.0,))], least=100.0)
    monkeypatch.setattr(teeth, "AT_ONCE", 8)
    parted = measures(walls, at, PITCH, SIZE, [Wish((100.0,))], least=100.0)
    for name in MEASURE_NAMES:
        assert getattr(parted, name) == pytest.approx(getattr(whole, name), rel=1e-12), name
    # by hand at 100: 94 at the near end, 76 at the far one, each less by the play of 5
    one = measures(walls, np.array([100.0]), PITCH, SIZE, [Wish((100.0,))], least=100.0)
    assert [float(each[0]) for each in (one.drawn, one.worst, one.unlike, one.sawn, one.whole)] == pytest.approx([76, 71, 18, 2, 0])


@pytest.mark.parametrize("order", [["narrowest", "habits"], ["narrowest", "pulls"]])
def test_among_cuts_equal_within_the_tolerance_what_comes_behind_takes_the_last_that_is_equal(order):
    # a whole tile asked for at 150; cuts from 180 on are equal to 188 within 8: the near one is 180 at 186, and no more towards 150
    wish = Wish((150.0,), 0, asked=order[1] == "pulls")
    best = best_offsets(between(1000.0), PITCH, SIZE, wishes=[wish], criteria=criteria_of(order, [], 100.0, 8.0))[0]
    assert (best.at, best.drawn) == pytest.approx((186.0, 180.0), abs=0.02)
    exact = best_offsets(between(1000.0), PITCH, SIZE, wishes=[wish], criteria=criteria_of(order, [], 100.0))[0]
    assert exact.at == pytest.approx(194.0, abs=0.01)


def test_a_slanted_wall_has_no_joint_on_it_over_what_its_edge_joint_takes():
    """A wall 60 askew whose joint takes 20: over its length the tooth ends 30 before the pitch, play or none."""
    one, other = replace(between(1000.0), slant=np.array([30.0, 0.0]), out=np.array([20.0, 0.0])), between(1000.0)
    # cuts of a - 30 and b with a + b = 376 and a at most 206 - 30: at a = 176 the least is 146
    best = best_offsets(one, PITCH, SIZE)[0]
    assert (best.at, best.drawn, best.worst) == pytest.approx((182.0, 146.0, 146.0), abs=0.02)
    assert best_offsets(other, PITCH, SIZE)[0].worst == pytest.approx(188.0)


def walls_of(rng: np.random.Generator) -> Walls:
    """Two to five walls somewhere, some askew, some with play, some whose edge joint takes a little, some out of view, some feet covered."""
    n = int(rng.integers(2, 6))
    at = np.sort(rng.integers(0, 30000, n)) / 10.0
    ahead = np.array([True, *(rng.random(n - 2) < 0.5), False])

    def some(most: float, share: float) -> np.ndarray:
        return np.round(np.where(rng.random(n) < share, rng.uniform(0.0, most, n), 0.0), 1)

    hidden = (rng.random(n) < 0.3) & (rng.random() < 0.5)
    hidden[0] = False
    covered = np.where(ahead & (at % 1.0 < 0.3), 12.5 + at % 7.0, 0.0) * (int(at[0]) % 2)
    return Walls(
        at=at, ahead=ahead, slant=some(30.0, 0.3), play=some(8.0, 0.6), out=some(3.0, 0.4), into=some(3.0, 0.4), strip=rng.random(n) < 0.9,
        hidden=hidden, covered=covered, datum=np.arange(n) == 0, weight=np.round(rng.uniform(100.0, 2000.0, n)),
    )  # fmt: skip


ORDERS: list[list[Criterion]] = [
    [], ["least", "pulls", "narrowest"], ["narrowest", "pulls"], ["pulls"], ["least", "habits"], ["narrowest", "balance"], ["cuts"],
]  # fmt: skip


@pytest.mark.parametrize("tolerance", [0.0, 1.0, 5.0])
@pytest.mark.parametrize("order", ORDERS, ids=str)
def test_no_offset_of_a_dense_row_goes_before_the_best(order, tolerance):
    """The search measures breaks alone; here a dense row is measured, up to the narrowest cut in the order and the metres behind it."""
    rng = np.random.default_rng(len(order) * 7 + int(tolerance) + sum(map(len, order)))
    row = np.arange(0.0, PITCH, 0.05)  # what is equal is told from the best of all of it; every fifth is asked whether it goes before
    for case in range(40):
        walls, least = walls_of(rng), (60.0, 95.0)[case % 2]
        wishes = [Wish((float(rng.uniform(0.0, PITCH)),), asked=bool(asked)) for asked in rng.integers(0, 2, int(rng.integers(0, 3)))]
        criteria = criteria_of(order, [], least, tolerance)
        best = best_offsets(walls, PITCH, SIZE, wishes=wishes, criteria=criteria)[0]
        keys = np.array(criteria.keys(measures(walls, np.append(row, best.at), PITCH, SIZE, wishes, least=least)))
        if criteria.steps[criteria.decisive + 1 : criteria.decisive + 3] == ("metres", "nearest"):
            keys = keys[: criteria.decisive + 2]
        else:
            keys = keys[: criteria.decisive]
        ahead = (5 * np.flatnonzero(_before(keys[:, :-1:5], keys[:, -1:]))).tolist()
        assert ahead == [], (case, best.at, [float(row[k]) for k in ahead[:3]], [list(map(float, keys[:, k])) for k in (*ahead[:1], -1)])


def _before(row: np.ndarray, other: np.ndarray) -> np.ndarray:
    """Which offsets' keys go before another's: the first that differs is less, by more than what is whole to a touch, (k,)."""
    less, differs = row < other - TOUCH - 0.01, np.abs(row - other) > 0.01
    first = differs.argmax(axis=0)
    result: np.ndarray = np.take_along_axis(less, first[None], axis=0)[0] & differs.any(axis=0)
    return result
