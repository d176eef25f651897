"""Where cuts are put: on tile joints, within the rule, clear of what they keep from; small figures by hand, the rest recounted from the cuts."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from layout.joints.divide import divide
from layout.joints.sawing import crosses, equal_lows, notched, rectangular, split
from layout.joints.values import FixedLine, Lattice1D, Obstacle, OwnStart, PreferredLine, Undivided
from layout.plan.values import Rules
from layout.standards.rules import RULE_SETS

PITCH, SIZE, WIDTH = 206.0, 200.0, 8.0
TILE = Lattice1D(PITCH, SIZE, straight=True)
EDGE = 3657.6
BOX = shapely.box(0, 0, 1000, 600)


def divided(shape, origin=(0.0, 0.0), bays="shift", rule="EJ171_INTERIOR_WET_SUN", lattice=TILE, **more):
    return divide(Undivided(shape, Rules(movement=RULE_SETS[rule], bays=bays), (lattice, lattice), **more), origin)


def off(value, step):
    """Distance of a value from the nearest multiple of a step."""
    return abs(math.remainder(value, step))


def test_equal_bays_by_hand():
    # 1,000 less three joints of 10 is 970, four bays of 242.5
    assert equal_lows(BOX, 0, 3, 10.0) == [242.5, 495.0, 747.5]
    assert equal_lows(BOX, 1, 1, 20.0) == [290.0]
    assert equal_lows(shapely.box(100, 0, 1100, 600), 0, 1, 10.0) == [595.0]


def test_what_cuts_leave_by_hand():
    ell = shapely.Polygon([(0, 0), (1000, 0), (1000, 200), (400, 200), (400, 600), (0, 600)])
    pieces, length = split(ell, 0, [196.0], 8.0)  # through the tall leg: 600 long, 196 and 196 + the low leg beyond
    assert length == 600.0
    assert sorted(round(piece.area) for piece in pieces) == [196 * 600, 196 * 600 + 600 * 200]
    pieces, length = split(ell, 1, [300.0, 400.0], 10.0)
    assert length == 800.0
    assert sorted(round(piece.area) for piece in pieces) == [90 * 400, 190 * 400, 300 * 400 + 600 * 200]


def test_a_cut_crosses_only_what_its_middle_runs_through():
    assert crosses(BOX, 0, 500.0, WIDTH)
    assert not crosses(BOX, 0, -4.0, WIDTH)  # its middle lies on the edge
    assert crosses(BOX, 0, -3.9, WIDTH)
    assert not crosses(BOX, 0, 996.0, WIDTH)
    assert not crosses(BOX, 1, 900.0, WIDTH)


def test_a_part_wraps_round_a_corner_until_a_joint_runs_through_it():
    ell = shapely.Polygon([(0, 0), (1000, 0), (1000, 200), (400, 200), (400, 600), (0, 600)])
    line = FixedLine(0, 400.0, WIDTH, "intermediate", "corner", (400.0, 200.0))
    assert notched(ell, line)
    assert not notched(shapely.Polygon([(0, 0), (400, 0), (400, 600), (0, 600)]), line)  # a joint through the corner left this
    assert not notched(ell, FixedLine(0, 400.0, WIDTH, "structural", "corner", (400.0, 200.0)))
    assert not notched(ell, FixedLine(0, 400.0, WIDTH, "intermediate", "no corner"))
    assert not rectangular(ell)
    assert rectangular(shapely.Polygon(BOX.exterior, [[(400, 100), (600, 100), (600, 300), (400, 300)]]))  # a hole leaves it one


@settings(max_examples=120)
@given(st.integers(3_700, 14_000), st.integers(1_000, 3_600), st.floats(0.0, 205.0), st.sampled_from(["shift", "cut"]), st.integers(0, 1))
def test_cuts_lie_on_tile_joints_and_bays_keep_the_edge(length, width, start, bays, axis):
    shape = shapely.box(0, 0, length, width) if axis == 0 else shapely.box(0, 0, width, length)
    origin = (start, 0.0) if axis == 0 else (0.0, start)
    found = divided(shape, origin, bays)
    cuts = sorted((cut for cut in found.cuts if cut.axis == axis), key=lambda cut: cut.low)
    assert len(cuts) == len(found.cuts) == len(found.bays) - 1
    assert len(cuts) >= math.ceil((length + WIDTH) / (EDGE + WIDTH)) - 1
    assert len(cuts) <= math.ceil((length + WIDTH) / (EDGE + WIDTH)) + 2
    spans = sorted((part.bounds[axis], part.bounds[axis + 2], at[axis]) for part, at in found.bays)
    assert all(high - low <= EDGE + 0.1 + 1e-6 for low, high, _ in spans) or found.broken
    for cut, (_, high, own), (after, _, beyond) in zip(cuts, spans[:-1], spans[1:], strict=True):
        assert (high, after) == (pytest.approx(cut.low), pytest.approx(cut.low + WIDTH))
        if bays == "shift":  # the last tile before it is whole, and so is the first beyond
            assert off(cut.low - SIZE - own, PITCH) < 1e-6
            assert beyond == pytest.approx(cut.low + WIDTH)
        else:  # one lattice; the joint's middle is a tile joint's
            assert own == beyond == pytest.approx(start)
            assert off(cut.low + WIDTH / 2 - (start + SIZE + (PITCH - SIZE) / 2), PITCH) < 1e-6


@pytest.mark.parametrize(("gap", "stays"), [(-10.0, False), (20.0, False), (400.0, False), (560.0, True)])
def test_a_cut_keeps_clear_of_a_drain_by_rim_and_wanted_distance(gap, stays):
    """Rim 50 and 500 wanted: 550 clear of the drain's box is enough; nearer, over the rim or through it the cut goes elsewhere."""
    plain = divided(shapely.box(0, 0, 6_600, 3_000)).cuts[0].low
    drain = Obstacle((plain + WIDTH + gap, 1_000.0, plain + WIDTH + gap + 200.0, 1_200.0), 50.0, 500.0)
    moved = divided(shapely.box(0, 0, 6_600, 3_000), obstacles=(drain,)).cuts[0].low
    assert (moved == plain) == stays
    assert moved + WIDTH + min(gap, 550.0) <= drain.bounds[0] + 1e-6 or moved >= drain.bounds[2] or moved < plain
    aside = Obstacle((plain - 50.0, 3_100.0, plain + 50.0, 3_200.0), 50.0, 500.0)  # beyond the end of the cut: no matter
    assert divided(shapely.box(0, 0, 6_600, 3_000), obstacles=(aside,)).cuts[0].low == plain
    crossed = Obstacle((plain - 50.0, 1_000.0, plain + 50.0, 1_001.0), 0.0, axis=1)  # a low line may be crossed
    assert divided(shapely.box(0, 0, 6_600, 3_000), obstacles=(crossed,)).cuts[0].low == plain
    followed = Obstacle((plain - 50.0, 1_000.0, plain + 50.0, 1_001.0), 0.0, axis=0)
    assert divided(shapely.box(0, 0, 6_600, 3_000), obstacles=(followed,)).cuts[0].low != plain


@pytest.mark.parametrize("at", [3_000.0, 3_200.0, 3_400.0])
def test_a_liked_line_is_followed_to_the_nearest_tile_joint(at):
    found = divided(shapely.box(0, 0, 6_600, 3_000), preferred=(PreferredLine(0, at, "on the line of column 1"),))
    (cut,) = found.cuts
    assert cut.why == "on the line of column 1"
    assert abs(cut.low + WIDTH / 2 - at) <= PITCH / 2 + 1e-6


@settings(max_examples=60)
@given(st.integers(3_700, 9_000), st.floats(0.0, 247.0), st.sampled_from([1 / 2, 1 / 3, 1 / 4]))
def test_across_a_bond_no_other_place_beside_a_joint_leaves_wider_pieces(length, start, part):
    """Every place beside a joint of some course within a module of the cut, by a count of the pieces of every course."""
    shifts = tuple(np.arange(0.0, 1.0, part) * 248.0)
    bond = Lattice1D(248.0, 240.0, straight=False, shifts=shifts)
    found = divided(shapely.box(0, 0, length, 2_000), (start, 0.0), lattice=bond)

    def narrowest(low):
        widths = []
        for shift in shifts:
            for face, ahead in ((low, False), (low + WIDTH, True)):
                into = (face - start - shift) % 248.0  # from the low edge of the tile that the face falls in
                if 0.1 < into < 239.9:
                    widths.append(240.0 - into if ahead else into)
        return min(widths, default=240.0)

    assert found.cuts or length <= EDGE
    for cut in found.cuts:
        best = max(narrowest(start + shift + 240.0 - (WIDTH if far else 0.0) + (8.0 if far else 0.0)) for shift in shifts for far in (0, 1))
        assert narrowest(cut.low) >= best - 0.11


def test_a_bay_beside_a_given_line_takes_the_start_it_is_given():
    line = FixedLine(0, 2_000.0, WIDTH, "structural", "joint", must=True)
    asked = []

    def own(bay, origin, cuts):
        asked.append((bay.bounds[0], origin[0], [cut.low for cut in cuts]))
        return OwnStart((bay.bounds[0] + 50.0, origin[1]), (True, False), (f"told of {bay.bounds[0]:.0f}",))

    task = Undivided(shapely.box(0, 0, 5_000, 3_000), Rules(movement=RULE_SETS["UK_FLOOR"]), (TILE, TILE), (line,))
    found = divide(task, (10.0, 20.0), own)
    assert asked == [(0.0, 10.0, [2_000.0]), (2_008.0, 2_008.0, [2_000.0])]
    assert sorted(at for _, at in found.bays) == [(50.0, 20.0), (2_058.0, 20.0)]
    assert found.own == ((True, False), (True, False))
    assert found.told == ("told of 0", "told of 2008")
    assert [at for _, at in divide(task, (10.0, 20.0)).bays] == [(10.0, 20.0), (2_008.0, 20.0)]


def test_equal_parts_that_need_more_joint_are_told_with_both_figures_and_those_that_do_not_are_not():
    # 12 x 9 m, 40 m2 and aspect 2: halves of 6 x 9 break the area; the least is found another way, and each other way is longer
    found = divided(shapely.box(0, 0, 12_000, 9_000), rule="DE_INTERIOR")
    told = [re.findall(r"([\d.]+) m\b", each.why) for each in found.rejected if "equal bays" in each.what]
    assert told
    for more, taken in told:
        assert float(more) > float(taken)
    first = next(cut for cut in found.cuts)
    length = sum(float(np.abs(segment[1] - segment[0]).sum()) for segment in first.segments) / 1000.0
    assert length < float(told[0][1])  # the figure is that of all joints, not of the first
