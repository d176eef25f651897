"""What the search takes for the most that a box of starts can give: no start in it gives more, wherever it is tried."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from layout.plan.patterns import pattern_of
from layout.plan.values import Tile
from layout.shapes import turned
from layout.start import search
from layout.start.search import proof_most, search_offsets
from layout.tiles.widths import Play, narrowest_many, square_to, sure_cuts
from layout.units import TOUCH

if TYPE_CHECKING:
    from layout.vectors import Floats

TILES: dict[str, dict[str, Any]] = {
    "stack": {"size": (200.0, 150.0)},
    "running": {"size": (300.0, 150.0), "pattern": "running"},
    "herringbone": {"size": (240.0, 120.0), "pattern": "herringbone"},
    "hexagon": {"size": (200.0, 173.2), "pattern": "hexagon"},
}


def room(rng: np.random.Generator, turn: float) -> tuple[Floats, Play]:
    """A room with a step, a bend or an oblique wall, turned, and the play of its walls."""
    w, h, a, b = rng.uniform([1200, 900, 300, 250], [2600, 1900, 800, 600])
    shapes = (
        [[0, 0], [w, 0], [w, h], [0, h]],
        [[0, 0], [w, 0], [w, h - b], [w - a, h - b], [w - a, h], [0, h]],
        [[0, 0], [w, 0], [w - a, h], [0, h - b]],
    )
    ring = turned(np.array(shapes[int(rng.integers(3))]), turn)
    edges = np.stack([ring, np.roll(ring, -1, axis=0)], axis=1)
    n = len(edges)
    play = rng.choice([0.0, 5.0]) * np.ones(n)
    return edges, Play(
        play, np.minimum(play, rng.choice([0.0, 3.0], n)), np.minimum(play, rng.choice([0.0, 4.0], n)), np.full(n, rng.random() < 0.5)
    )


@pytest.mark.parametrize("name", TILES)
def test_no_start_in_a_box_gives_more_than_its_bound(name):
    """Starts drawn all over boxes, at their corners, and where a tile's edge comes to lie on a wall."""
    rng = np.random.default_rng(len(name))
    pattern = pattern_of(Tile(name="t", joint=4.0, **TILES[name]))
    v1, v2 = pattern.vectors
    cap, told = pattern.widest, 0
    for case in range(10):
        edges, play = room(rng, float(rng.choice([0.0, 17.0, 45.0])))
        half = float(rng.choice([0.25, 0.06, 0.01, 0.002]))
        places = rng.random((6, 2))
        radius = half * max(math.hypot(*(v1 + v2)), math.hypot(*(v1 - v2)))
        _, sure = sure_cuts(edges, play, pattern, cap, places @ pattern.vectors, radius)
        limits = search._Bounds.of(edges, pattern).limits(sure, len(places), half, cap)
        told += int((limits < cap).sum())
        for place, limit in zip(places, limits.tolist(), strict=True):
            spread = np.concatenate([rng.uniform(-half, half, (60, 2)), np.array([[1, 1], [1, -1], [-1, 1], [-1, -1]]) * half])
            moves = (place + spread) @ pattern.vectors
            on_walls = (
                moves[:30]
                - square_to(edges)[rng.integers(len(edges), size=30)] * _to_a_wall(edges, play, pattern, moves[:30], rng)[:, None]
            )
            within = np.abs(on_walls @ np.linalg.inv(pattern.vectors) - place).max(axis=1) <= half
            tried = narrowest_many(edges, play, pattern, cap, np.concatenate([moves, on_walls[within]]))
            assert tried.max() <= limit + 1e-6, (case, half, float(tried.max()), limit)
    assert told > 10


def _to_a_wall(edges: Floats, play: Play, pattern: Any, moves: Floats, rng: np.random.Generator) -> Floats:
    """How far each move is from where some cut is hardly anything, mm."""
    widths = narrowest_many(edges, play, pattern, pattern.widest, moves)
    result: Floats = np.maximum(widths + rng.choice([0.0, 5.0], len(moves)) - TOUCH / 2, 0.0)
    return result


def step_room(width: float, height: float, notch: float, turn: float) -> Floats:
    ring = turned(
        np.array([[0, 0], [width, 0], [width, height - notch], [width - notch, height - notch], [width - notch, height], [0, height]]), turn
    )
    return np.stack([ring, np.roll(ring, -1, axis=0)], axis=1)


@pytest.mark.parametrize(
    ("name", "turn", "play"),
    [
        ("herringbone", 45.0, 0.0),
        ("herringbone", 17.0, 5.0),
        ("stack", 17.0, 5.0),
        ("stack", 45.0, 0.0),
        ("running", 17.0, 0.0),
        ("hexagon", 10.0, 5.0),
    ],
)
def test_a_search_is_proved_to_a_millimetre_and_no_start_of_a_dense_sample_beats_it(name, turn, play):
    """Every start 9 mm apart over a cell, then a few round the best of those down to a fifth of a millimetre."""
    pattern = pattern_of(Tile(name="t", joint=4.0, **TILES[name]))
    edges = step_room(2730.0, 2210.0, 815.0, turn)
    over = Play.plain(np.full(len(edges), play))
    found = search_offsets(edges, over, pattern, pattern.widest, most=proof_most(len(edges)))
    assert found.gap <= 1.0
    assert found.evaluations < proof_most(len(edges))
    steps = [np.arange(0.0, 1.0, 9.0 / math.hypot(*v)) for v in pattern.vectors]
    moves = np.stack(np.meshgrid(*steps), axis=-1).reshape(-1, 2) @ pattern.vectors
    values = narrowest_many(edges, over, pattern, pattern.widest, moves)
    near = moves[np.argsort(-values)[:6]]
    for reach in (4.0, 1.0):
        spread = np.stack(np.meshgrid(*[np.linspace(-reach, reach, 11)] * 2), axis=-1).reshape(-1, 2)
        moves = (near[:, None] + spread).reshape(-1, 2)
        values = narrowest_many(edges, over, pattern, pattern.widest, moves)
        near = moves[np.argsort(-values)[:6]]
    assert 0.0 < values.max() <= found.value + found.gap + 1e-6


def test_what_a_start_beside_the_best_gives_is_told():
    """Boxes that were passed over while a start somewhat worse was the best may hold one that is somewhat better than what is found at last."""
    pattern = pattern_of(Tile(name="t", joint=4.0, **TILES["running"]))
    edges = step_room(2730.0, 2210.0, 700.0, 17.0)
    over = Play.plain(np.zeros(len(edges)))
    found = search_offsets(edges, over, pattern, pattern.widest, most=proof_most(len(edges)))
    moves = np.array(found.at) + np.random.default_rng(0).uniform(-2.0, 2.0, (800, 2))
    best = narrowest_many(edges, over, pattern, pattern.widest, moves).max()
    assert found.value < best <= found.value + found.gap


def test_the_bound_of_opposite_walls_by_hand():
    # between walls 1050 apart, moved by 30 mm, tiles of 100 without a joint are cut to 30 at the one and 20 at the other: within 10 mm
    # the one grows by what the other loses, so no start leaves more than 25 at both, where the mean of either alone is 40 and 30
    pattern = pattern_of(Tile(name="t", size=(100.0, 100.0), joint=0.0))
    edges = np.array(
        [[[0.0, 0.0], [1050.0, 0.0]], [[1050.0, 0.0], [1050.0, 1000.0]], [[1050.0, 1000.0], [0.0, 1000.0]], [[0.0, 1000.0], [0.0, 0.0]]]
    )
    _, sure = sure_cuts(edges, Play.plain(np.zeros(4)), pattern, 100.0, np.array([[30.0, 0.0]]), 10.0)
    limits = search._Bounds.of(edges, pattern).limits(sure, 1, 10.0 / math.hypot(100.0, 100.0), 100.0)
    assert limits.tolist() == pytest.approx([25.0])


def test_without_edges_nothing_bounds():
    none = np.empty((0, 2, 2))
    pattern = pattern_of(Tile(name="t", size=(100.0, 100.0), joint=0.0))
    least, sure = sure_cuts(none, Play.plain(np.zeros(0)), pattern, 100.0, np.zeros((2, 2)), 5.0)
    assert least.tolist() == [100.0, 100.0]
    assert search._Bounds.of(none, pattern).limits(sure, 2, 0.1, 100.0).tolist() == [100.0, 100.0]
