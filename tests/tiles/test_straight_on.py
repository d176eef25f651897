"""Narrowest cuts of walls square on to stack-bonded tiles: the quick way against the one that looks up every crossing."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from layout.plan.patterns import pattern_of
from layout.plan.values import Tile
from layout.tiles.straight_on import StraightOn
from layout.tiles.widths import Play, SureCuts, narrowest_many, sure_cuts

if TYPE_CHECKING:
    from layout.vectors import Floats


def walls(rng: np.random.Generator, step: float) -> tuple[Floats, Play]:
    """Walls along both axes, at places on a grid of `step` mm, some with play that a joint takes a part of."""
    n = int(rng.integers(1, 14))
    begin = np.round(rng.uniform(-1500, 1500, (n, 2)) / step) * step
    end = begin.copy()
    end[np.arange(n), rng.integers(0, 2, n)] += np.maximum(np.round(rng.uniform(60, 1500, n) / step) * step, 50.0) * rng.choice([-1, 1], n)
    play = rng.choice([0.0, 3.0, 5.0], n)
    out, into = (np.minimum(play, rng.choice([0.0, top], n)) for top in (2.0, 4.0))
    return np.stack([begin, end], axis=1), Play(play, out, into, rng.random(n) < 0.2)


@pytest.mark.parametrize("joint", [6.0, 0.0])
def test_the_quick_way_tells_what_the_general_way_does_to_the_last_bit(joint, monkeypatch):
    rng = np.random.default_rng(5)
    pattern = pattern_of(Tile(name="floor", size=(200.0, 150.0), joint=joint))
    cases = [(*walls(rng, step), np.round(rng.uniform(-400, 400, (20, 2)) / step) * step) for step in (1.0, 50.0, 0.001) for _ in range(12)]
    radii = (0.0, 3.0, 40.0, 110.0)
    assert all(StraightOn.of(edges, pattern, 0.9) is not None for edges, _, _ in cases)
    quick = [sure_cuts(edges, play, pattern, 150.0, moves, radius) for edges, play, moves in cases for radius in radii]
    monkeypatch.setattr(StraightOn, "of", lambda *_: None)
    general = [sure_cuts(edges, play, pattern, 150.0, moves, radius) for edges, play, moves in cases for radius in radii]
    assert len({tuple(least) for least, _ in general}) > 30
    assert all(np.array_equal(q[0], g[0]) for q, g in zip(quick, general, strict=True))
    assert sum(len(sure.move) for _, sure in quick) > 1000
    assert [cuts_of(sure) for _, sure in quick] == [cuts_of(sure) for _, sure in general]


def cuts_of(sure: SureCuts) -> set[tuple[float, ...]]:
    """Cuts that are sure to cross, the tiles of a row that are cut alike as one."""
    return set(zip(sure.move.tolist(), sure.edge.tolist(), sure.widths.tolist(), sure.left.tolist(), strict=True))


def test_a_cut_worked_out_by_hand():
    # tiles of 200 on a module of 206: a wall at x = 500, the room to its right, cuts the third column at 500 - 412 = 88 and leaves 112
    wall = np.array([[[500.0, 1000.0], [500.0, 0.0]]])
    pattern = pattern_of(Tile(name="floor", size=(200.0, 200.0), joint=6.0))
    least = narrowest_many(wall, Play.plain(np.zeros(1)), pattern, 200.0, np.array([[0.0, 0.0], [30.0, 0.0], [88.0, 0.0]]))
    assert least.tolist() == [112.0, 142.0, 200.0]


@pytest.mark.parametrize(
    ("tile", "wall"),
    [
        ({}, [[0.0, 0.0], [500.0, 3.0]]),
        ({"pattern": "running"}, [[0.0, 0.0], [500.0, 0.0]]),
        ({"pattern": "herringbone", "size": (200.0, 100.0)}, [[0.0, 0.0], [500.0, 0.0]]),
    ],
)
def test_walls_at_an_angle_and_other_patterns_are_left_to_the_general_way(tile, wall):
    made = Tile(**{"name": "floor", "size": (200.0, 200.0), "joint": 6.0, **tile})
    assert StraightOn.of(np.array([wall]), pattern_of(made), 0.9) is None
