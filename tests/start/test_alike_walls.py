"""Walls that stand alike to the lattice are measured as one: counted by hand, and nothing measured of them changes."""

from __future__ import annotations

import numpy as np
import pytest

from layout.start.walls import FEW, Walls, joined_walls, merged

PITCH, SIZE = 206.0, 200.0


def hall(count: int) -> Walls:
    """So many edges a pitch apart, in turn at 0, 50 and 100 of the module; the room ahead of every second."""
    at = [k * PITCH + (0.0, 50.0, 100.0)[k % 3] for k in range(count)]
    return Walls.plain(at, [k % 2 == 0 for k in range(count)], [5.0] * count)


def test_many_edges_of_a_hall_are_a_few():
    walls = hall(600)
    made = merged(walls, PITCH)
    # three phases, with the room ahead or behind: 100 each
    assert len(made.at) == 6
    assert made.weight == pytest.approx(np.full(6, 100.0))
    offsets = np.linspace(0.0, PITCH, 42)
    for play in (False, True):
        assert made.least(offsets, PITCH, SIZE, play=play) == pytest.approx(walls.least(offsets, PITCH, SIZE, play=play), abs=1e-5)


@pytest.mark.parametrize("count", [1, FEW])
def test_few_edges_stay_as_they_are(count):
    walls = hall(count)
    assert merged(walls, PITCH) is walls


def test_edges_of_which_no_two_are_alike_stay_as_they_are():
    count = FEW + 1
    walls = Walls.plain([k * 0.25 for k in range(count)], [True] * count, [0.0] * count)
    assert merged(walls, PITCH) is walls


def test_edges_that_only_their_play_tells_apart_stay_two():
    count = FEW + 2
    made = merged(Walls.plain([0.0] * count, [True] * count, [5.0 * (k % 2) for k in range(count)]), PITCH)
    assert sorted(zip(made.play.tolist(), made.weight.tolist(), strict=True)) == [(0.0, 201.0), (5.0, 201.0)]


def test_walls_of_no_bay_and_of_two():
    assert len(joined_walls([]).at) == 0
    both = joined_walls([hall(2), hall(1)])
    assert both.at.tolist() == [0.0, 256.0, 0.0]
    assert both.ahead.tolist() == [True, False, True]
