"""Air and surface: the dew point, and whether resin may be laid at all.

Magnus formula over water with a = 17.62 and b = 243.12 °C (from memory; the figures of WMO guides).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from layout.errors import Rule
from layout.words import worded

if TYPE_CHECKING:
    from layout.standards.products import Products

A, B = 17.62, 243.12
DEW_MARGIN = Rule(3.0, "K of the surface over the dew point", "common limit of coating practice; verify on the data sheet")
HUMIDITY = Rule(85.0, "% of relative humidity at most", "article on temperature and humidity of epoxy; the data sheet decides")


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why resin is not laid: what was given (`key` of temperature or humidity), what is wrong with it, what would be right."""

    key: str
    found: str
    mend: str


def dew_point(air: float, humidity: float) -> float:
    """Dew point of air, °C, from its temperature, °C, and relative humidity, % above 0.

    >>> [round(dew_point(t, rh), 2) for t, rh in ((15.0, 80.0), (20.0, 65.0), (30.0, 80.0))]
    [11.58, 13.22, 26.17]
    """
    g = math.log(humidity / 100.0) + A * air / (B + air)
    return B * g / (A - g)


def greatest_humidity(air: float, surface: float) -> float:
    """Relative humidity, %, at which a surface is just `DEW_MARGIN` over the dew point of air, °C, or the ceiling if that is less."""
    dew = surface - DEW_MARGIN.value
    return min(100.0 * math.exp(A * dew / (B + dew) - A * air / (B + air)), HUMIDITY.value)


def refused(products: Products, surface: float, air: float | None = None, humidity: float | None = None) -> Refusal | None:
    """Why resin is not laid on a surface, °C, in air as warm unless told, °C, of so much humidity, %; None if it may be.

    Without a humidity only the products' least and greatest temperature are looked at.
    """
    least = products.least_temperature_c
    if surface < least.value:
        found = worded(
            "{surface:g} found, products.least_temperature_c is {least:g} °C ({source})",
            surface=surface,
            least=least.value,
            source=least.source,
        )
        mend = worded("warm the room to {least:g} °C, or wait for a warmer day; the data sheet decides", least=least.value)
        return Refusal("temperature", found, mend)
    most_warm = products.greatest_temperature_c
    if surface > most_warm.value:
        found = worded(
            "{surface:g} found, products.greatest_temperature_c is {most:g} °C ({source})",
            surface=surface,
            most=most_warm.value,
            source=most_warm.source,
        )
        mend = worded("shade and cool the surface to {most:g} °C, or lay it in the night; the data sheet decides", most=most_warm.value)
        return Refusal("temperature", found, mend)
    if humidity is None:
        return None
    air = surface if air is None else air
    dew = dew_point(air, humidity)
    most = greatest_humidity(air, surface)
    dry = worded("dry the air to {most:d} %", most=math.floor(most))
    if surface < dew + DEW_MARGIN.value:
        found = worded(
            "{humidity:g} % at {air:g} °C makes a dew point of {dew:.1f} °C; a surface of {surface:g} °C is {over:.1f} K over it",
            humidity=humidity,
            air=air,
            dew=dew,
            surface=surface,
            over=surface - dew,
        )
        warm = math.ceil((dew + DEW_MARGIN.value) * 10.0) / 10.0
        mend = worded("{margin:g} K are wanted: warm the surface to {warm:.1f} °C, or {dry}", margin=DEW_MARGIN.value, warm=warm, dry=dry)
        return Refusal("humidity", found, mend)
    if humidity > HUMIDITY.value:
        found = worded(
            "{humidity:g} % found, {most:g} % is the most for resin ({source})",
            humidity=humidity,
            most=HUMIDITY.value,
            source=HUMIDITY.source,
        )
        return Refusal("humidity", found, dry)
    return None
