"""Surveys against published examples and second ways of working them out; what to measure again; walks that do not close; levels."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from layout.errors import PlanError
from layout.survey.adjust import adjust
from layout.survey.levels import Rise, adjust_levels
from layout.survey.readings import Reading
from layout.survey.walks import angles_giving, compass_rule, walk

L_ROOM = {"1": (0, 0), "2": (6500, 0), "3": (6500, 2900), "4": (4100, 2900), "5": (4100, 4700), "6": (0, 4700)}


def every_distance(points, spoilt=()):
    wrong = dict(spoilt)
    return [Reading(a, b, math.dist(points[a], points[b]) + wrong.get((a, b), 0.0)) for a, b in itertools.combinations(points, 2)]


# J. Mahun, Open Access Surveying Library, Traverse computations, self study, traverse adjustment, problem 2: unadjusted latitudes
# and departures of a loop A-B-C-D, feet, and its adjusted lengths and directions by the compass rule (jerrymahun.com, read 2026-11-25)
LOOP = {"A-B": (-436.662, -466.732), "B-C": (523.690, 0.000), "C-D": (-234.660, -335.645), "D-A": (147.517, 802.484)}
LENGTHS = [639.150, 523.715, 409.544, 815.901]
DIRECTIONS = [226 + 54 / 60 + 36.6 / 3600, 359 + 59 / 60 + 50.8 / 3600, 235 + 2 / 60 + 42.5 / 3600, 79 + 34 / 60 + 50.5 / 3600]


def test_the_compass_rule_gives_a_published_traverse():
    adjusted = compass_rule(np.array(list(LOOP.values())))
    assert adjusted.sum(axis=0) == pytest.approx([0.0, 0.0], abs=1e-9)
    assert np.hypot(adjusted[:, 0], adjusted[:, 1]) == pytest.approx(LENGTHS, abs=1.1e-3)  # they round at each step
    found = np.degrees(np.arctan2(adjusted[:, 1], adjusted[:, 0])) % 360.0
    assert found == pytest.approx(DIRECTIONS, abs=1.0 / 3600)


# a published sample of a network adjusted in height: a loop of four points levelled both ways, m, and its adjusted heights
# (sample 1D least squares adjustment, vrmapper.com/gama/1doutput.html, read 2026-11-25)
LEVELLED = [
    ("1a", "4", -1.225), ("4", "3", -0.848), ("3", "2", 1.342), ("2", "1a", 0.720),
    ("1a", "2", -0.724), ("2", "3", -1.335), ("3", "4", 0.842), ("4", "1a", 1.231),
]  # fmt: skip
HEIGHTS = {"1a": 1000.0, "2": 999.27487, "3": 997.93325, "4": 998.77513}


def test_levels_give_a_published_network():
    found = adjust_levels([Rise(a, b, rise * 1000.0) for a, b, rise in LEVELLED])
    assert found.spare == 5
    heights = dict(zip(found.names, found.levels, strict=True))
    for name, height in HEIGHTS.items():
        assert heights[name] - heights["1a"] == pytest.approx((height - 1000.0) * 1000.0, abs=0.01)


def test_two_settings_up_of_a_laser_hang_together_by_points_read_from_both():
    # by hand: B is 6 lower than A, C 4 higher than B, D 9 higher than C
    readings = [Rise("s1", p, -r, of_laser=True) for p, r in (("A", 1200), ("B", 1206), ("C", 1202))]
    readings += [Rise("s2", p, -r, of_laser=True) for p, r in (("C", 1340), ("D", 1331))]
    assert adjust_levels(readings).levels == pytest.approx([0, -6, -2, 7], abs=1e-6)
    with pytest.raises(PlanError, match="not tied"):
        adjust_levels(readings[:3] + readings[4:])


def test_levels_that_do_not_close_name_the_reading():
    names = "ABCD"
    true = dict(zip(names, (0, 5, 9, -3), strict=True))
    rows = [Rise(a, b, true[b] - true[a] + (25.0 if (a, b) == ("B", "C") else 0.0)) for a, b in itertools.combinations(names, 2)]
    assert [each.name for each in adjust_levels(rows).again] == ["B–C"]


def cayley(d):
    """Cayley and Menger's determinant of six distances of four points: 0 if they lie in a plane."""
    ab, bc, cd, da, ac, bd = (x / 5000.0 for x in d)
    m = np.ones((5, 5))
    np.fill_diagonal(m, 0.0)
    for (i, j), x in zip([(1, 2), (2, 3), (3, 4), (1, 4), (1, 3), (2, 4)], (ab, bc, cd, da, ac, bd), strict=True):
        m[i, j] = m[j, i] = x * x
    return float(np.linalg.det(m))


def test_a_braced_quadrilateral_adjusts_as_by_its_one_condition():
    """A second way that knows no corners: the least change of six distances with which they lie in a plane, by the determinant."""
    read = np.array([3620.0, 5185.0, 3650.0, 5210.0, 6341.0, 6350.0])
    found = read.copy()
    for _ in range(30):
        slope = np.array([(cayley(found + e) - cayley(found - e)) / 2e-2 for e in np.eye(6) * 1e-2])
        found = read + slope * (slope @ (found - read) - cayley(found)) / (slope @ slope)
    names = [("A", "B"), ("B", "C"), ("C", "D"), ("D", "A"), ("A", "C"), ("B", "D")]
    survey = adjust([Reading(a, b, length) for (a, b), length in zip(names, read, strict=True)])
    assert [fit.residual for fit in survey.fits] == pytest.approx(list(found - read), abs=0.01)


def test_error_ellipses_follow_from_shaking_each_reading():
    rows = every_distance(L_ROOM)
    base = adjust(rows)
    spread = np.zeros((12, 12))
    for k, row in enumerate(rows):  # by how much a millimetre in a reading moves each corner
        shaken = [*rows[:k], Reading(row.first, row.second, row.length + 0.5), *rows[k + 1 :]]
        by = (np.array(adjust(shaken).corners) - np.array(base.corners)).ravel() * 2.0
        spread += base.sigma**2 * np.outer(by, by)
    assert base.ellipses
    for k, ellipse in enumerate(base.ellipses):
        low, high = np.sqrt(np.maximum(np.linalg.eigvalsh(spread[2 * k : 2 * k + 2, 2 * k : 2 * k + 2]), 0.0))
        assert (ellipse.minor, ellipse.major) == pytest.approx((low, high), abs=0.02)


@pytest.mark.parametrize("spoilt", [{("1", "4"): 60.0}, {("2", "5"): -45.0}, {("3", "4"): 30.0}])
def test_what_to_measure_again_is_what_the_rest_closes_without(spoilt):
    rows = every_distance(L_ROOM, spoilt.items())
    survey = adjust(rows)
    again = {fit.reading.name for fit in survey.again}
    assert "–".join(next(iter(spoilt))) in again
    for k, row in list(enumerate(rows))[1:]:  # a second way: leave each but the first wall out in turn and adjust the rest
        rest = adjust([*rows[:k], *rows[k + 1 :]])
        square = sum((fit.residual / rest.sigma) ** 2 for fit in rest.fits)
        # 20.5 is exceeded by chance once in a thousand with the five spare readings left (table of chi-square)
        assert (row.name in again) == (square <= 20.5), (row.name, square)


def test_of_two_wrong_readings_both_are_named():
    survey = adjust(every_distance(L_ROOM, [(("1", "4"), 80.0), (("2", "6"), -70.0)]))
    again = [fit.reading.name for fit in survey.again]
    assert {"1–4", "2–6"} <= set(again)
    assert len(again) <= 4


def test_with_one_spare_reading_all_that_could_be_wrong_are_named():
    rows = [("1", "2", 3620), ("2", "3", 5185), ("3", "4", 3650), ("4", "1", 5210), ("1", "3", 6341), ("2", "4", 6394)]
    survey = adjust([Reading(a, b, float(d)) for a, b, d in rows])
    assert len(survey.again) == 6


def sides(corners):
    return [math.dist(a, b) for a, b in zip(corners, [*corners[1:], corners[0]], strict=True)]


@pytest.mark.parametrize(
    "text", ["6500 L 2900 L 2400 R 1800 L 4112 L 4700", "6000 L 4000 L 6012 L 4000", "6500 L 2900 L 2400 R 1800 L 4100 L 4690"]
)
def test_a_walk_keeps_every_typed_length(text):
    found = walk(text)
    typed = [float(word) for word in text.split() if word not in "LR"]
    assert sides(found.corners) == pytest.approx(typed, abs=0.01)
    assert found.gap > 9.0
    assert "every length is kept" in found.said


def test_a_walk_whose_angles_cannot_give_shares_what_does_not_close():
    # three walls have no angle that could give: 3 4 5 typed 45 too long on one side, and its angle from the tables
    found = walk(f"3000 L90 4000 L{180 - math.degrees(math.atan2(3, 4)):.9f} 5045")
    assert "compass rule" in found.said
    shares = [abs(a - b) for a, b in zip(sides(found.corners), (3000, 4000, 5045), strict=True)]
    assert max(shares) < 45
    assert found.gap == pytest.approx(45, abs=0.1)


def test_angles_give_as_little_as_they_can():
    # a second way: no other directions near the found ones close with a smaller sum of squares
    lengths, angles = np.array([6000.0, 4000.0, 6012.0, 4000.0]), np.radians([0.0, 90.0, 180.0, 270.0])
    found = angles_giving(lengths, angles)
    assert found is not None
    least = float(((found - angles) ** 2).sum())
    for by in np.linspace(-0.01, 0.01, 21):  # walls 2 to 4 close whatever way wall 2 takes: two circles meet
        second = angles[1] + by
        at = lengths[0] + lengths[1] * np.exp(1j * second)
        apart = abs(at)
        inner = math.acos((lengths[2] ** 2 + apart**2 - lengths[3] ** 2) / (2 * lengths[2] * apart))
        third = math.atan2(-at.imag, -at.real) - inner
        end = at + lengths[2] * np.exp(1j * third)
        fourth = math.atan2(-end.imag, -end.real)
        changes = [by, *(math.remainder(a - b, 2 * math.pi) for a, b in ((third, angles[2]), (fourth, angles[3])))]
        assert sum(c * c for c in changes) >= least - 1e-9


@pytest.mark.parametrize(("text", "words"), [("6.5 L 2.9 L 2.4 R 1.8 L 4.1 L", 'write 6500 or "6.5 m"'), ("6500 L 2900 L -5 L", "above 0")])
def test_a_walk_in_metres_is_noticed(text, words):
    with pytest.raises(PlanError, match=words):
        walk(text)


def test_a_walk_in_feet():
    assert walk("21' 4\" L 9 ft 6 in L 21' 4\" L").corners[2] == pytest.approx((6502.4, 2895.6))
