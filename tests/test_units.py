from __future__ import annotations

import math

import pytest

from layout.units import feet_inches, metres_meant, parse_length, snap, turn_of


@pytest.mark.parametrize(("text", "mm"), [("600", 600), ("60 cm", 600), ("0.6 m", 600), (" 12.5mm ", 12.5), ("-3", -3)])
def test_lengths_are_read_as_people_write_them(text, mm):
    assert parse_length(text) == mm


@pytest.mark.parametrize("text", ["", "six", "6 fathoms", "1e3", "nan", "6 m m", "٣ m x"])
def test_what_is_no_length_is_refused(text):
    with pytest.raises(ValueError, match="is not a length"):
        parse_length(text)


# by hand: a foot is 304.8, an inch 25.4
@pytest.mark.parametrize(("text", "mm"), [
    ("21' 4\"", 6502.4), ("6 ft 3 1/2 in", 1917.7), ("6ft3in", 1905.0), ("3-1/2\"", 88.9), ("5.5 ft", 1676.4), ("6′ 3½″", 1917.7),
    ("3/4 in", 19.05), ("-2' 6\"", -762.0), ("21'4", 6502.4),
])  # fmt: skip
def test_feet_and_inches_are_read(text, mm):
    assert parse_length(text) == pytest.approx(mm, abs=1e-6)


@pytest.mark.parametrize("text", ["'", "in", "1/0 in", "4 4 in", "6 3 in", "6 ft 3 lb", "1 2 ft"])
def test_half_written_feet_are_refused(text):
    with pytest.raises(ValueError, match="is not a length"):
        parse_length(text)


@pytest.mark.parametrize("length", [0.0, 3.175, 25.4, 304.8, 914.4, 6502.4, 12345.678])
def test_feet_printed_read_back_to_the_sixteenth(length):
    assert abs(parse_length(feet_inches(length)) - length) <= 25.4 / 32 + 1e-9


def test_a_comma_parts_decimals_only_where_it_is_said_to():
    assert parse_length("3620,5", comma=True) == 3620.5
    with pytest.raises(ValueError, match="is not a length"):
        parse_length("3620,5")


def test_metres_are_noticed():
    assert metres_meant(7.15) == 'metres? write 7150 or "7.15 m"'
    assert not metres_meant(715.0)


def test_snap_never_gives_minus_zero():
    assert math.copysign(1.0, snap(-0.0001)) == 1.0


@pytest.mark.parametrize(("angle", "pair"), [(0, (1, 0)), (90, (0, 1)), (180, (-1, 0)), (270, (0, -1)), (-90, (0, -1)), (450, (0, 1))])
def test_quarter_turns_are_exact(angle, pair):
    assert turn_of(angle) == pair
