from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout.plan.patterns import pattern_of
from layout.plan.values import Tile
from layout.shapes import turned
from layout.start.offsets import best_offsets
from layout.start.search import search_offsets
from layout.start.walls import Walls
from layout.tiles.widths import Play, cut_widths, narrowest


def walls(at, ahead, play):
    return Walls.plain(at, ahead, play)


@pytest.mark.parametrize(("tolerance", "shift", "worst"), [(5, 25, 142), (3, 27, 146), (0, 30, 152)])
def test_the_worked_room_start_in_y(tolerance, shift, worst):
    # worked by hand in modulo arithmetic: wall 1 = 200 - s (the datum), wall 3 = 176 + s, wall 5 = 122 + s, plinth = 146 + s
    room = walls([23, 2877, 4677, 3877], [True, False, False, False], [0, tolerance, tolerance, tolerance])
    best = best_offsets(room, 206, 200)[0]
    assert (23 - best.at) % 206 == pytest.approx(shift)
    assert best.worst == pytest.approx(worst)


@pytest.mark.parametrize(
    ("shift", "widths"),
    [
        (0, (200, 176, 122, 146)),
        (19, (181, 195, 141, 165)),
        (25, (175, 200, 147, 171)),
        (30, (170, 200, 152, 176)),
        (30.1, (169.9, 0.1, 152.1, 176.1)),
    ],
)
def test_the_worked_room_cuts_by_shift(shift, widths):
    room = walls([23, 2877, 4677, 3877], [True, False, False, False], [0] * 4)
    assert room.widths(np.array([23.0 - shift]), 206, 200, play=False)[0] == pytest.approx(widths)


BALANCED = [
    # width W, tile t, joint j, perimeter g: full tiles n, equal cuts c. Balanced-cut formula, computed
    (4000, 300, 5, 6, 161.5),
    (3000, 300, 5, 6, 271.5),
    (6000, 600, 3, 6, 580.5),
    (5230, 150, 8, 8, 75.0),
    (2440, 240, 8, 8, 216.0),
    (1815, 300, 5, 6, 289.0),
    (3662, 300, 5, 6, 297.5),
    (9600, 297, 6, 8, 244.0),
]


@pytest.mark.parametrize(("width", "tile", "joint", "gap", "cut"), BALANCED)
def test_the_best_start_of_a_plain_room_is_never_worse_than_the_balanced_one(width, tile, joint, gap, cut):
    room = walls([gap, width - gap], [True, False], [0, 0])
    best = best_offsets(room, tile + joint, tile)[0]
    balanced = gap + cut + joint
    assert room.widths(np.array([balanced]), tile + joint, tile, play=False)[0] == pytest.approx([cut, cut])
    assert best.drawn >= cut - 1e-6


def test_a_published_balanced_cut():
    # tile tip "Is a balanced tile layout really difficult to achieve": strip 1.5 in beside 24 in tiles, joints
    # ignored: drop one tile, two cuts of (24 + 1.5)/2 = 12.75 in
    tile, strip = 24 * 25.4, 1.5 * 25.4
    room = walls([0, 3 * tile + strip], [True, False], [0, 0])
    balanced = room.widths(np.array([12.75 * 25.4]), tile, tile, play=False)[0]
    assert balanced == pytest.approx([323.85, 323.85])


@given(
    st.lists(st.tuples(st.integers(0, 40_000), st.booleans(), st.booleans()), min_size=1, max_size=14),
    st.sampled_from([0.0, 3.0, 5.0]),
    st.sampled_from([(206, 200), (103, 100), (153, 150), (200, 200)]),
)
def test_no_sampled_start_beats_the_best(edges, tolerance, sizes):
    pitch, size = sizes
    room = walls([e[0] / 2 for e in edges], [e[1] for e in edges], [0.0 if e[2] else tolerance for e in edges])
    best = best_offsets(room, pitch, size)[0]
    samples = np.arange(0.0, pitch, 0.1)
    over_play = room.least(samples, pitch, size, play=True).max()
    assert best.worst >= over_play - 1e-6
    if over_play <= 1e-6:
        assert best.drawn >= room.least(samples, pitch, size, play=False).max() - 1e-6


@given(st.integers(800, 6000), st.integers(800, 6000), st.integers(0, 205), st.integers(0, 205), st.sampled_from([0.0, 5.0]))
def test_two_ways_to_the_narrowest_cut_agree(width, height, x, y, tolerance):
    """The saw-tooth along an axis, and the walk over every crossed tile."""
    edges = np.array(
        [[[0, 0], [width, 0]], [[width, 0], [width, height]], [[width, height], [0, height]], [[0, height], [0, 0]]], dtype=float
    ) - [x, y]
    play = np.array([0.0, tolerance, tolerance, 0.0])
    pattern = pattern_of(Tile(name="t", size=(200, 200), joint=6))
    across = walls([width, 0], [False, True], [tolerance, 0.0])
    upright = walls([0, height], [True, False], [0.0, tolerance])
    want = min(across.least(np.array([x]), 206, 200, play=True)[0], upright.least(np.array([y]), 206, 200, play=True)[0])
    got = narrowest(edges, Play.plain(play), pattern, 200.0)
    if want > 0.2:
        assert got == pytest.approx(want, abs=0.11)
    else:
        assert got <= 0.3


def test_width_is_square_to_the_wall():
    pattern = pattern_of(Tile(name="t", size=(200, 200), joint=0))
    # a wall at 45 degrees through the tile's middle, the room below it: half the diagonal is left
    edge = np.array([[[200.0, 0.0], [0.0, 200.0]]])
    crossed = cut_widths(edge, pattern)
    own = crossed.tile[:, 1:].tolist().index([0, 0])
    assert crossed.widths[own] == pytest.approx(200 / np.sqrt(2))
    assert crossed.chords[own] == pytest.approx(200 * np.sqrt(2))


def test_offsets_nearer_than_a_chalk_line_are_one():
    found = best_offsets(walls([23, 2877, 4677, 3877], [True, False, False, False], [0, 5, 5, 5]), 206, 200)
    assert len(found) > 2
    for k, one in enumerate(found):
        for other in found[:k]:
            assert min(abs(one.at - other.at), 206 - abs(one.at - other.at)) >= 2.0


@pytest.mark.parametrize("tile", [
    Tile(name="t", size=(60, 60), joint=4, turn=30),
    Tile(name="t", size=(90, 43), joint=4, pattern="herringbone"),
    Tile(name="t", size=(60, 69.28), joint=4, pattern="hexagon"),
])  # fmt: skip
@pytest.mark.parametrize("seed", range(4))
def test_the_search_is_never_more_than_its_gap_below_sampling(tile, seed):
    rng = np.random.default_rng(seed)
    w, h = rng.integers(500, 900, 2).astype(float)
    ring = turned(np.array([[0, 0], [w, 0], [w, h * 0.6], [w * 0.5, h * 0.6], [w * 0.5, h], [0, h]]), -tile.turn)
    edges = np.stack([ring, np.roll(ring, -1, axis=0)], axis=1)
    pattern = pattern_of(tile)
    play = Play.plain(np.full(len(edges), 1.0))
    cap = float(min(tile.size))
    found = search_offsets(edges, play, pattern, cap)
    v1, v2 = pattern.vectors
    n1, n2 = int(np.hypot(*v1) // 2), int(np.hypot(*v2) // 2)
    sampled = max(narrowest(edges - (u * v1 + v * v2), play, pattern, cap) for u in np.arange(n1) / n1 for v in np.arange(n2) / n2)
    assert found.value >= sampled - 1.0
    assert found.gap <= 1.0
    assert found.evaluations <= 1501
    quick = search_offsets(edges, play, pattern, cap, most=200)
    assert sampled - quick.gap <= quick.value <= found.value + found.gap + 1e-6
