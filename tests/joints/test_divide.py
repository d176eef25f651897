"""Bays against every cut of a grid: an independent search for the least joint, by brute force over cells."""

from __future__ import annotations

import functools
import math
from dataclasses import replace
from typing import TypeAlias

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from layout.joints.divide import divide
from layout.joints.values import Division, FixedLine, Lattice1D, Obstacle, PreferredLine, Undivided
from layout.plan.values import Rules
from layout.standards.rules import RULE_SETS

THIN = 0.001
Cells = frozenset[tuple[int, int]]


def connected(cells: set[tuple[int, int]]) -> list[Cells]:
    rest, result = set(cells), []
    while rest:
        stack = [rest.pop()]
        own = [stack[0]]
        while stack:
            x, y = stack.pop()
            for near in ((x + 1, y), (x - 1, y), (x, y + 1), (x, y - 1)):
                if near in rest:
                    rest.remove(near)
                    stack.append(near)
                    own.append(near)
        result.append(frozenset(own))
    return result


def least_on_a_grid(cells: Cells, edge: float, area: float, aspect: float) -> float:
    """Least joint over all cuts right across along the metre lines, metres."""

    @functools.lru_cache(None)
    def solve(part: Cells) -> float:
        spans = [(min(c[k] for c in part), max(c[k] for c in part) + 1) for k in (0, 1)]
        w, h = (high - low for low, high in spans)
        if max(w, h) <= edge and len(part) <= area and max(w, h) / min(w, h) <= aspect:
            return 0.0
        best = math.inf
        for axis, (low, high) in enumerate(spans):
            for at in range(low + 1, high):
                total = float(sum(c[axis] == at and ((at - 1, c[1]) if axis == 0 else (c[0], at - 1)) in part for c in part))
                for side in (*connected({c for c in part if c[axis] < at}), *connected({c for c in part if c[axis] >= at})):
                    if total >= best:
                        break
                    total += solve(side)
                best = min(best, total)
        return best

    return solve(cells)


Box: TypeAlias = tuple[int, int, int, int]
BOXES = st.lists(st.tuples(st.integers(0, 4), st.integers(0, 4), st.integers(2, 5), st.integers(2, 5)), min_size=1, max_size=3)


def boxes_of(seed: int) -> list[Box]:
    """Up to three boxes at random, as `BOXES` draws them."""
    rng = np.random.default_rng(seed)
    return [(*rng.integers(0, 5, 2).tolist(), *rng.integers(2, 6, 2).tolist()) for _ in range(rng.integers(1, 4))]


def room_of(boxes: list[Box]) -> tuple[Cells, shapely.Polygon, list[FixedLine]] | None:
    """Overlapping boxes (x, y, width, height) on a metre grid, and joint lines at their re-entrant corners, in the narrower leg."""
    cells: set[tuple[int, int]] = set()
    for x, y, w, h in boxes:
        cells |= {(i, j) for i in range(x, x + w) for j in range(y, y + h)}
    if len(connected(cells)) > 1:
        return None
    shape = shapely.union_all([shapely.box(x * 1000, y * 1000, x * 1000 + 1000, y * 1000 + 1000) for x, y in cells]).simplify(0)
    if not isinstance(shape, shapely.Polygon) or shape.interiors:
        return None
    ring = shapely.get_coordinates(shapely.orient_polygons(shape))[:-1]
    lines = []
    for k, at in enumerate(ring):
        back, on = ring[k - 1] - at, ring[(k + 1) % len(ring)] - at
        if back[0] * on[1] - back[1] * on[0] > 0:  # the room on the left turns right here: more than 180 degrees inside
            for axis in (0, 1):
                way = back[axis] if abs(back[axis]) > 1 else on[axis]
                lines.append(FixedLine(axis, at[axis] - (THIN if way < 0 else 0.0), THIN, "intermediate", "corner", (at[0], at[1])))
    sides: dict[tuple[int, float], set[float]] = {}
    for line in lines:
        assert line.corner is not None
        sides.setdefault((line.axis, line.corner[line.axis]), set()).add(round(line.low - line.corner[line.axis], 6))
    # two corners that face each other on one line: a line without width serves both, a joint lies on one side
    if any(len(found) > 1 for found in sides.values()):
        return None
    return frozenset(cells), shape, lines


def joint_of(shape: shapely.Polygon, lines: list[FixedLine], edge: float, area: float, aspect: float) -> tuple[float, Division]:
    rule = replace(
        RULE_SETS["UK_FLOOR"],
        max_edge=edge * 1000,
        max_area_m2=None if math.isinf(area) else area,
        max_aspect=None if math.isinf(aspect) else aspect,
    )
    free = Lattice1D(1.0, 1.0, straight=False)
    division = divide(Undivided(shape, Rules(movement=rule, movement_joint=THIN), (free, free), tuple(lines)), (0.0, 0.0))
    return sum(float(np.abs(s[-1] - s[0]).sum()) for cut in division.cuts for s in cut.segments) / 1000, division


@settings(max_examples=60)
@given(BOXES, st.sampled_from([3.0, 4.0]))
def test_no_division_along_the_metre_lines_has_less_joint(boxes, edge):
    """For a greatest edge alone the metre lines hold the best division: corners are on them, and so is the edge."""
    made = room_of(boxes)
    assume(made is not None)
    assert made is not None
    cells, shape, lines = made
    found, division = joint_of(shape, lines, edge, math.inf, math.inf)
    assert not division.broken
    assert found <= least_on_a_grid(cells, edge, math.inf, math.inf) + 0.02


@pytest.mark.parametrize(("edge", "area", "aspect", "slack"), [(4.0, 9.0, math.inf, 1.01), (5.0, 16.0, 2.0, 1.05)])
def test_area_and_aspect_limits_too_take_hardly_more_than_the_least(edge, area, aspect, slack):
    ours = least = 0.0
    worse = 0
    for seed in range(150):
        made = room_of(boxes_of(seed))
        if made is None:
            continue
        cells, shape, lines = made
        found, division = joint_of(shape, lines, edge, area, aspect)
        assert not division.broken
        best = least_on_a_grid(cells, edge, area, aspect)
        ours, least, worse = ours + found, least + best, worse + (found > best + 0.05)
    assert ours <= slack * least
    assert worse <= 5


def rectangle(width, height, rule="UK_FLOOR", **given):
    lattice = Lattice1D(206.0, 200.0, straight=True)
    rules = Rules(movement=RULE_SETS[rule], **given.pop("rules", {}))
    return divide(Undivided(shapely.box(0, 0, width, height), rules, (lattice, lattice), **given), (0.0, 0.0))


def test_a_joint_is_taken_on_a_column_line_or_jamb_where_that_costs_nothing():
    plain = rectangle(12_000, 5_000)
    liked = rectangle(12_000, 5_000, preferred=(PreferredLine(0, 5_000.0, "on the line of column 1"),))
    assert plain.cuts[0].why == "2 equal bays"
    assert liked.cuts[0].why == "on the line of column 1"
    assert abs(liked.cuts[0].low + 4 - 5_000) <= 103  # the tile joint nearest to it


def test_a_joint_keeps_clear_of_a_flange_where_the_rule_leaves_room():
    gully = Obstacle((6_050.0, 2_000.0, 6_250.0, 2_200.0), 50.0, 500.0)
    near = rectangle(12_000, 5_000).cuts[0].low
    clear = rectangle(12_000, 5_000, obstacles=(gully,)).cuts[0].low
    assert near + 8 > 6_050 - 550  # it would come nearer than the stated 500
    assert clear + 8 <= 6_050 - 550 or clear >= 6_250 + 550


def test_bays_that_are_cut_through_keep_one_lattice():
    through = rectangle(12_000, 5_000, rules={"bays": "cut"})
    assert {origin for _, origin in through.bays} == {(0.0, 0.0)}
    low = through.cuts[0].low
    assert (low + 4 - 203) % 206 == pytest.approx(0, abs=1e-6) or (low + 4 - 203) % 206 == pytest.approx(206, abs=1e-6)


def test_what_was_weighed_and_not_made_is_told_with_its_figure():
    # the L-room of the published rules: (0,0) (10,0) (10,4) (4,4) (4,8) (0,8) m; y = 4 leaves 10 x 4 m, aspect 2.5
    shape = shapely.Polygon([(0, 0), (10_000, 0), (10_000, 4_000), (4_000, 4_000), (4_000, 8_000), (0, 8_000)])
    lines = [FixedLine(a, 4_000.0, 8.0, "intermediate", "through the re-entrant corner", (4_000.0, 4_000.0)) for a in (0, 1)]
    free = Lattice1D(1.0, 1.0, straight=False)
    division = divide(Undivided(shape, Rules(movement=RULE_SETS["DE_INTERIOR"]), (free, free), tuple(lines)), (0.0, 0.0))
    assert [(cut.axis, cut.low) for cut in division.cuts] == [(0, 4_000.0)]
    told = [each.why for each in division.rejected if each.what == "through the re-entrant corner"]
    assert len(told) == 1
    assert "a bay 10000 long, over 8000" in told[0]
