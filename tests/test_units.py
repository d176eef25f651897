from __future__ import annotations

import math

import pytest

from layout.units import parse_length, snap, turn_of


@pytest.mark.parametrize(("text", "mm"), [("600", 600), ("60 cm", 600), ("0.6 m", 600), (" 12.5mm ", 12.5), ("-3", -3)])
def test_lengths_are_read_as_people_write_them(text, mm):
    assert parse_length(text) == mm


@pytest.mark.parametrize("text", ["", "six", "6 ft", "1e3", "nan", "6 m m", "٣ m x"])
def test_what_is_no_length_is_refused(text):
    with pytest.raises(ValueError, match="is not a length"):
        parse_length(text)


def test_snap_never_gives_minus_zero():
    assert math.copysign(1.0, snap(-0.0001)) == 1.0


@pytest.mark.parametrize(("angle", "pair"), [(0, (1, 0)), (90, (0, 1)), (180, (-1, 0)), (270, (0, -1)), (-90, (0, -1)), (450, (0, 1))])
def test_quarter_turns_are_exact(angle, pair):
    assert turn_of(angle) == pair
