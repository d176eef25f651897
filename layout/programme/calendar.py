"""Working hours: when work may begin, and when so many hours of it are done; nights, holidays, and clocks that change.

All reckoning is in running time: the site's clock where no zone is given, else UTC, so that a night on which the clock changes
is as long as it is. `running` and `shown` lead from the site's clock to it and back. A shift belongs to the day on which it begins.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from functools import lru_cache
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from layout.errors import PlanError

HOUR = dt.timedelta(hours=1)
DAY = dt.timedelta(days=1)
LONGEST_STOP = 400
"""Days in a row without a shift after which nobody is taken to come back."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Calendar:
    """Working hours: from and to on working days, Monday 0; `off` are single days without a shift, `zone` the site's time zone."""

    start: dt.time = dt.time(7)
    end: dt.time = dt.time(16)
    days: tuple[int, ...] = (0, 1, 2, 3, 4)
    off: frozenset[dt.date] = field(default=frozenset())
    zone: str = ""

    @property
    def overnight(self) -> bool:
        """Whether a shift ends on the day after it begins."""
        return self.end <= self.start

    @property
    def hours(self) -> float:
        """Working hours of a shift, by the clock."""
        day = dt.date.min + DAY
        return (dt.datetime.combine(day + DAY * self.overnight, self.end) - dt.datetime.combine(day, self.start)) / HOUR

    def running(self, at: dt.datetime) -> dt.datetime:
        """A moment of the site's clock in running time."""
        return _utc(at, self.zone) if self.zone else at

    def shown(self, at: dt.datetime) -> dt.datetime:
        """A moment of running time as the site's clock shows it."""
        if not self.zone:
            return at
        return at.replace(tzinfo=dt.UTC).astimezone(ZoneInfo(self.zone)).replace(tzinfo=None)

    def works_on(self, day: dt.date) -> bool:
        """Whether a shift begins on a day."""
        return day.weekday() in self.days and day not in self.off

    def shift_on(self, day: dt.date) -> tuple[dt.datetime, dt.datetime]:
        """From when to when the shift of a day goes."""
        begin = dt.datetime.combine(day, self.start)
        end = dt.datetime.combine(day + DAY if self.overnight else day, self.end)
        return (self.running(begin), self.running(end)) if self.zone else (begin, end)

    def day_of(self, at: dt.datetime) -> dt.date:
        """The day to whose shift a moment belongs; the end of a shift belongs to it. Outside all shifts, the day of the clock."""
        day = self.shown(at).date()
        if self.overnight and self.works_on(day - DAY):
            begin, end = self.shift_on(day - DAY)
            if begin <= at <= end:
                return day - DAY
        return day

    def closes(self, at: dt.datetime) -> dt.datetime:
        """The end of the shift of a moment."""
        return self.shift_on(self.day_of(at))[1]

    def morning(self, at: dt.datetime) -> dt.datetime:
        """The start of the first shift after that of a moment."""
        return self._from(self.day_of(at) + DAY)

    def opens(self, at: dt.datetime) -> dt.datetime:
        """The next moment at which work may begin.

        Raises
        ------
        PlanError : no shift within `LONGEST_STOP` days.
        """
        day = self.shown(at).date()
        for k in (-1, 0) if self.overnight else (0,):
            here = day + k * DAY
            if self.works_on(here):
                begin, end = self.shift_on(here)
                if at < end:
                    return max(at, begin)
        return self._from(day + DAY)

    def _from(self, day: dt.date) -> dt.datetime:
        """The start of the first shift on or after a day."""
        for k in range(LONGEST_STOP):
            if self.works_on(day + k * DAY):
                return self.shift_on(day + k * DAY)[0]
        raise PlanError(
            "works.holidays", f"no shift begins within {LONGEST_STOP} days of {day}", "leave working days between, or give works.days"
        )

    def in_one_go(self, at: dt.datetime, hours: float) -> dt.datetime:
        """When work begins that is not to be left overnight: at once if it can be done in this shift, else in the next that is long enough; at once if none is."""
        at = self.opens(at)
        if at + hours * HOUR <= self.closes(at) or hours > self.hours:
            return at
        return self.morning(at)

    def spans(self, at: dt.datetime, hours: float) -> tuple[tuple[dt.datetime, dt.datetime], ...]:
        """From when to when, shift by shift, so many hours of work go that start at a moment."""
        at = self.opens(at)
        left = hours * HOUR
        result = []
        while left > self.closes(at) - at:
            result.append((at, self.closes(at)))
            left -= self.closes(at) - at
            at = self.morning(at)
        return (*result, (at, at + left))

    def worked(self, at: dt.datetime, hours: float) -> dt.datetime:
        """When so many hours of work that start at a moment are done."""
        return self.spans(at, hours)[-1][1]

    def between(self, at: dt.datetime, until: dt.datetime) -> float:
        """Working hours between two moments."""
        result = 0.0
        at = self.opens(at)
        while at < until:
            result += (min(self.closes(at), until) - at) / HOUR
            at = self.morning(at)
        return result


@lru_cache(maxsize=20_000)
def _utc(at: dt.datetime, zone: str) -> dt.datetime:
    """The earlier of the moments that a clock shows so; what a clock leaves out is as long after the change as it says."""
    return at.replace(tzinfo=ZoneInfo(zone)).astimezone(dt.UTC).replace(tzinfo=None)


def check_zone(zone: str, key: str = "works.zone") -> None:
    """A zone that is known.

    Raises
    ------
    PlanError : there is no such zone, or the machine has no table of zones.
    """
    try:
        ZoneInfo(zone)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        mend = "give a name of the tz database, as Europe/Berlin; where the system has none, install tzdata"
        raise PlanError(key, f"{zone!r} is no time zone that is known here", mend) from None


def check_clock(at: dt.datetime, zone: str, key: str) -> None:
    """A moment that the site's clock shows.

    Raises
    ------
    PlanError : the clock is put forward over it.
    """
    there = _utc(at, zone).replace(tzinfo=dt.UTC).astimezone(ZoneInfo(zone)).replace(tzinfo=None)
    if there != at:
        found = f"{at:%Y-%m-%d %H:%M} does not exist in {zone}: the clock is put forward that night"
        raise PlanError(key, found, f"give {there:%H:%M} or later")
