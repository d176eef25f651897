"""Dew point and least temperature: published figures, a second formula, and what the command refuses."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from typer.testing import CliRunner

from cli.main import app
from layout.programme.air import dew_point, greatest_humidity, refused
from layout.standards.products import Products
from tests.test_project import TOP

CANTEEN = str(TOP / "plans" / "canteen.toml")


@pytest.mark.parametrize(
    ("air", "humidity", "dew"),
    [
        (10, 80, 6.71), (15, 60, 7.29), (15, 80, 11.58), (20, 50, 9.26), (20, 65, 13.22), (20, 85, 17.40), (25, 60, 16.69), (30, 80, 26.17),
    ],
)  # fmt: skip
def test_dew_points_of_the_table(air, humidity, dew):
    assert dew_point(air, humidity) == pytest.approx(dew, abs=0.006)


def vapour(t: float) -> float:
    """Pressure of saturated vapour, hPa, by the formula of Goff and Gratch (1946), from memory."""
    k, steam = t + 273.15, 373.16
    log = (
        -7.90298 * (steam / k - 1)
        + 5.02808 * math.log10(steam / k)
        - 1.3816e-7 * (10 ** (11.344 * (1 - k / steam)) - 1)
        + 8.1328e-3 * (10 ** (-3.49149 * (steam / k - 1)) - 1)
        + math.log10(1013.246)
    )
    return 10**log


@given(st.floats(0.0, 40.0), st.floats(20.0, 100.0))
def test_the_dew_point_holds_as_much_vapour_as_the_air(air, humidity):
    dew = dew_point(air, humidity)
    assert dew <= air + 1e-9
    assert vapour(dew) == pytest.approx(vapour(air) * humidity / 100.0, rel=0.01)


@given(st.floats(10.0, 35.0), st.floats(-10.0, 10.0))
def test_what_is_told_as_driest_is_let_through(surface, warmer):
    most = greatest_humidity(surface + warmer, surface)
    if most > 2.0:
        assert refused(Products(), surface, surface + warmer, most - 0.01) is None
    if most < 99.0:
        assert refused(Products(), surface, surface + warmer, most + 0.01) is not None


@pytest.mark.parametrize(("given", "words"), [
    (("--temperature", "8"), ("--temperature: 8 found", "least_temperature_c is 10", "warm the room to 10")),
    (("--humidity", "85"), ("--humidity", "a dew point of 17.4", "2.6 K over it", "warm the surface to 20.4", "dry the air to 82 %")),
    (("--temperature", "16", "--air", "22", "--humidity", "70"), ("a dew point of 16.3", "-0.3 K over it", "warm the surface to 19.3")),
    (("--humidity", "86", "--temperature", "30", "--air", "20"), ("86 % found", "85 % is the most")),
    (("--humidity", "0"), ("from 1 to 100",)),
    (("--humidity", "nan"), ("from 1 to 100",)),
    (("--air", "20"), ("give both",)),
])  # fmt: skip
def test_resin_is_refused_where_it_would_not_hold(given, words):
    said = CliRunner().invoke(app, ["programme", CANTEEN, "--start", "2026-11-30T07:00", *given])
    assert said.exit_code == 2
    for each in words:
        assert each in " ".join(said.stderr.split())


def test_dry_air_changes_nothing():
    asked = ["programme", CANTEEN, "--start", "2026-11-30T07:00", "--json"]
    run = CliRunner()
    assert run.invoke(app, [*asked, "--humidity", "60"]).stdout == run.invoke(app, asked).stdout


def test_the_products_say_how_cold_is_too_cold():
    from layout.errors import Rule

    assert refused(Products(least_temperature_c=Rule(5.0, "°C of the surface", "data sheet")), 8.0) is None
    why = refused(Products(least_temperature_c=Rule(16.0, "°C of the surface", "data sheet")), 15.0)
    assert why is not None
    assert "data sheet" in why.found
