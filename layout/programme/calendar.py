"""Working hours: when work may begin, and when so many hours of it are done."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

HOUR = dt.timedelta(hours=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Calendar:
    """Working hours: from and to on working days, Monday 0."""

    start: dt.time = dt.time(7)
    end: dt.time = dt.time(16)
    days: tuple[int, ...] = (0, 1, 2, 3, 4)

    @property
    def hours(self) -> float:
        """Working hours of a day."""
        day = dt.date.min
        return (dt.datetime.combine(day, self.end) - dt.datetime.combine(day, self.start)) / HOUR

    def closes(self, at: dt.datetime) -> dt.datetime:
        """The end of the working day of a moment."""
        return dt.datetime.combine(at.date(), self.end)

    def morning(self, at: dt.datetime) -> dt.datetime:
        """The start of the first working day after that of a moment."""
        return self.opens(dt.datetime.combine(at.date() + dt.timedelta(days=1), self.start))

    def opens(self, at: dt.datetime) -> dt.datetime:
        """The next moment at which work may begin."""
        for _ in range(15):
            if at.weekday() in self.days and at.time() < self.end:
                return max(at, dt.datetime.combine(at.date(), self.start))
            at = dt.datetime.combine(at.date() + dt.timedelta(days=1), self.start)
        return at

    def in_one_go(self, at: dt.datetime, hours: float) -> dt.datetime:
        """When work begins that is not to be left overnight: at once if it can be done today, else next morning; at once if no day is long enough."""
        at = self.opens(at)
        if at + hours * HOUR <= self.closes(at) or hours > self.hours:
            return at
        return self.morning(at)

    def spans(self, at: dt.datetime, hours: float) -> tuple[tuple[dt.datetime, dt.datetime], ...]:
        """From when to when, day by day, so many hours of work go that start at a moment."""
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
