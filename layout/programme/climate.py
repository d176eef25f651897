"""Temperature day by day: how long resin takes, and on which days it may not be laid.

Times are those of the products at 20 degrees, stretched by the products' own table where they give one, else doubled for each
ten degrees colder and halved for each ten warmer (from memory; the data sheet and the thermometer decide). Where days differ,
what is left of a time goes on at the rate of each day, from midnight to midnight.
"""

from __future__ import annotations

import bisect
import datetime as dt
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from layout.errors import PlanError
from layout.programme.air import refused
from layout.programme.calendar import DAY, HOUR, Calendar
from layout.standards.products import SCALED_AT

if TYPE_CHECKING:
    from layout.plan.works import Works
    from layout.programme.air import Refusal
    from layout.standards.products import Products

DOUBLES = 10.0
"""Kelvin by which colder all takes twice as long, where the products do not say."""


@dataclass(frozen=True, slots=True)
class Air:
    """Temperature of the surface and the air, °C, and humidity, %, where it is known."""

    surface: float
    air: float | None = None
    humidity: float | None = None


def slower(temperature: float, products: Products | None = None, *, pot: bool = False) -> float:
    """How many times longer resin takes than at 20 degrees; `pot` for pot life and open time.

    Between two temperatures that the products give, in the same ratio for each degree; beyond them by the rule.

    >>> [slower(t) for t in (20.0, 10.0, 30.0)]
    [1.0, 2.0, 0.5]
    """
    points = _points(products, "pot" if pot else "times") if products is not None else [(20.0, 1.0)]
    warm = bisect.bisect_left(points, (temperature, 0.0))
    if warm in (0, len(points)):
        at, factor = points[min(warm, len(points) - 1)]
        return float(factor * 2.0 ** ((at - temperature) / DOUBLES))
    (low, one), (high, two) = points[warm - 1], points[warm]
    return float(one * (two / one) ** ((temperature - low) / (high - low)))


def _points(products: Products, name: str) -> list[tuple[float, float]]:
    """Temperatures that the products speak of, and how many times as long all takes at each, from the coldest up."""
    given = [(float(t), getattr(products, f"{name}_at_{t}_c").value) for t in SCALED_AT]
    return sorted([(t, value) for t, value in given if value > 0.0] + [(20.0, 1.0)])


@dataclass(frozen=True, slots=True, eq=False)
class Climate:
    """How warm it is: always, and on some days by themselves (the first and the last go on before and after them)."""

    always: Air
    days: tuple[tuple[dt.date, Air], ...]
    products: Products
    calendar: Calendar

    def on(self, day: dt.date) -> Air:
        """Temperature and air of a day."""
        if not self.days:
            return self.always
        k = bisect.bisect_right(self.days, day, key=lambda each: each[0])
        return self.days[max(k - 1, 0)][1]

    def factor(self, at: dt.datetime, *, pot: bool = False) -> float:
        """How many times longer than at 20 degrees resin takes at a moment."""
        return slower(self.on(self.calendar.shown(at).date()).surface, self.products, pot=pot)

    @property
    def slowest(self) -> float:
        """How many times longer than at 20 degrees resin takes on the coldest day."""
        return max(slower(air.surface, self.products) for air in self._every())

    @property
    def quickest(self) -> float:
        """How many times longer than at 20 degrees resin takes on the warmest day."""
        return min(slower(air.surface, self.products) for air in self._every())

    def _every(self) -> list[Air]:
        return [air for _, air in self.days] or [self.always]

    def after(self, at: dt.datetime, hours: float) -> dt.datetime:
        """The moment at which what takes so many hours at 20 degrees is done, begun at a moment of running time."""
        if not self.days:
            return at + hours * slower(self.always.surface, self.products) * HOUR
        while True:
            factor = self.factor(at)
            day = self.calendar.shown(at).date()
            if day >= self.days[-1][0]:
                return at + hours * factor * HOUR
            midnight = self.calendar.running(dt.datetime.combine(day + DAY, dt.time()))
            if at + hours * factor * HOUR <= midnight:
                return at + hours * factor * HOUR
            hours -= (midnight - at) / HOUR / factor
            at = midnight

    def why_not(self, day: dt.date) -> Refusal | None:
        """Why resin is not laid on a day; None if it may be."""
        air = self.on(day)
        return refused(self.products, air.surface, air.air, air.humidity)

    def shut(self, first: dt.date) -> frozenset[dt.date]:
        """Days from the first on which resin is not laid.

        Raises
        ------
        PlanError : no day will do, or none after those of the weather.
        """
        if not self.days:
            why = refused(self.products, self.always.surface, self.always.air, self.always.humidity)
            if why is not None:
                raise PlanError(f"works.{why.key} or --{why.key}", why.found, why.mend)
            return frozenset()
        last, _ = self.days[-1]
        why = self.why_not(last)
        if why is not None:
            found = f"{last}, the last day that is given and goes on: {why.found}"
            raise PlanError(f"weather: {why.key}", found, f"{why.mend}; or give the days that follow")
        length = max((last - first).days, 0)
        days = (first + k * DAY for k in range(length + 1))
        return frozenset(day for day in days if self.why_not(day) is not None)


def climate_of(works: Works, products: Products, calendar: Calendar) -> Climate:
    """How warm it is by the keys of the plan."""
    always = Air(works.temperature, works.air, works.humidity)
    days = tuple((each.date, Air(each.temperature, each.air, each.humidity)) for each in works.weather)
    return Climate(always, days, products, calendar)


def quarter(hours: float) -> str:
    """Hours in words, as exact as they are needed.

    >>> quarter(24.0), quarter(12.3456), quarter(0.05)
    ('24 h', '12.3 h', '3 min')
    """
    if hours < 1.0:
        return f"{math.ceil(hours * 60.0 - 1e-6):d} min"
    return f"{hours:.1f}".removesuffix(".0") + " h"
