"""Offsets between two walls worked by hand: what is left at each end, over the play too, and which of several is taken."""

from __future__ import annotations

import numpy as np
import pytest

from layout.plan.wishes import MEASURE_NAMES, Wish, criteria_of
from layout.start import offsets
from layout.start.offsets import best_offsets, measures
from layout.start.walls import Walls

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
    whole = measures(walls, at, PITCH, SIZE, [Wish((100.0,))])
    monkeypatch.setattr(offsets, "AT_ONCE", 8)
    monkeypatch.setattr(offsets, "IN_CACHE", 8)
    parted = measures(walls, at, PITCH, SIZE, [Wish((100.0,))])
    for name in MEASURE_NAMES:
        assert getattr(parted, name).tolist() == getattr(whole, name).tolist(), name
    # by hand at 100: 94 at the near end, 76 at the far one, each less by the play of 5
    one = measures(walls, np.array([100.0]), PITCH, SIZE, [Wish((100.0,))])
    assert [float(each[0]) for each in (one.drawn, one.worst, one.unlike, one.sawn, one.whole)] == pytest.approx([76, 71, 18, 2, 0])
