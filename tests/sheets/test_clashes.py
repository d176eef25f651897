"""Which labels clash, and where a label may stand, found again by shapely and cell by cell."""

import itertools

import numpy as np
import shapely

from layout.sheets import taken
from layout.sheets.clashes import CLEAR, clashes, hulls_of, untangled
from layout.sheets.taken import CELL, Taken


def labels(rng, count):
    """Boxes, and leaders for about half of them, from a point to the nearest point of the box."""
    low = rng.uniform(0.0, 90.0, (count, 2))
    boxes = np.hstack([low, low + rng.uniform(2.0, 15.0, (count, 2))])
    feet = rng.uniform(0.0, 100.0, (count, 2))
    leaders = np.hstack([feet, np.clip(feet, boxes[:, :2], boxes[:, 2:])])
    leaders[rng.random(count) < 0.5] = np.nan
    return boxes, leaders


def test_clashes_are_those_that_shapely_finds_pair_by_pair():
    rng = np.random.default_rng(7)
    mine, lines = labels(rng, 40)
    others, leads = labels(rng, 60)
    found = clashes(mine, lines, (others, leads, hulls_of(others, leads)))

    def through(line, box):
        return not np.isnan(line).any() and shapely.box(*box).buffer(-1e-6).intersects(shapely.LineString(line.reshape(2, 2)))

    def cross(one, two):
        if np.isnan(one).any() or np.isnan(two).any():
            return False
        return shapely.LineString(one.reshape(2, 2)).crosses(shapely.LineString(two.reshape(2, 2)))

    for i, (box, line) in enumerate(zip(mine, lines, strict=True)):
        for k, (other, lead) in enumerate(zip(others, leads, strict=True)):
            near = shapely.box(*box).buffer(CLEAR, join_style="mitre").buffer(-1e-9).intersects(shapely.box(*other))
            assert found[i, k] == (near or through(line, other) or through(lead, box) or cross(line, lead)), (i, k)
    assert 0.05 < found.mean() < 0.6


def test_free_places_are_those_without_a_claim_whenever_the_sums_are_made(monkeypatch):
    for every in (1, 10**9):  # sums never made, and made at each look
        monkeypatch.setattr(taken, "CELLS_A_LOOK", every)
        rng = np.random.default_rng(3)
        kept = Taken((-10.0, -10.0, 120.0, 120.0))
        claims = []
        for _ in range(6):
            boxes, _ = labels(rng, 4)
            owner = int(rng.integers(-1, 2))
            kept.block(boxes, owner)
            claims += [(box, owner) for box in boxes]
            asked, _ = labels(rng, 80)
            for own in (-1, 0, 1):
                free = kept.free(asked, own)
                assert len(free) == len(asked) > 0
                for box, told in zip(asked, free.tolist(), strict=True):
                    clear = box + np.array([-CLEAR, -CLEAR, CLEAR, CLEAR])
                    apart = [_apart(clear, claim) for claim, whose in claims if whose != own or own < 0]
                    off = min(apart, default=9.0)
                    if abs(off) > 2.0 * CELL:  # nearer than that it is a matter of cells
                        assert told == (off > 0.0)


def _apart(one, two):
    """How far boxes stand apart along the axis where they are furthest; less than nothing by how deep one lies in the other."""
    return max(two[0] - one[2], one[0] - two[2], two[1] - one[3], one[1] - two[3])


def crossed(feet, tall, order):
    """Pairs of leaders that cross, by shapely, from a column at x = 100 down from y = 80."""
    heads = 80.0 - np.concatenate([[0.0], np.cumsum(np.array(tall)[order])])[:-1]
    lines = [shapely.LineString([feet[k], (100.0, y)]) for k, y in zip(order, heads, strict=True)]
    return sum(one.crosses(two) for one, two in itertools.combinations(lines, 2))


def test_leaders_to_words_in_a_column_do_not_cross():
    """Words of one height never; words of one to three lines as seldom as in the best of all orders, in all but few of many."""
    rng = np.random.default_rng(11)
    before = worse = 0
    for _ in range(60):
        feet = rng.uniform((0.0, 0.0), (90.0, 60.0), (6, 2))
        assert sorted(untangled(feet, [6.0] * 6, 100.0, 80.0)) == list(range(6))
        assert crossed(feet, [6.0] * 6, untangled(feet, [6.0] * 6, 100.0, 80.0)) == 0
        feet, tall = feet[:5], rng.choice([5.4, 9.2, 13.0], 5).tolist()
        before += crossed(feet, tall, sorted(range(5), key=lambda k: -feet[k, 1]))
        least = min(crossed(feet, tall, list(order)) for order in itertools.permutations(range(5)))
        worse += crossed(feet, tall, untangled(feet, tall, 100.0, 80.0)) > least
    assert before > 20
    assert worse == 0
    assert untangled(np.empty((0, 2)), [], 100.0, 80.0) == []
