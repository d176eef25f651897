"""The site that works are planned for: hands, working hours, days on which resin is laid, how fast it cures."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from layout.programme.calendar import Calendar, check_clock, check_zone
from layout.programme.climate import Air, Climate, climate_of
from layout.standards.products import Products

if TYPE_CHECKING:
    import datetime as dt

    from layout.plan.works import Works
    from layout.programme.task import Task


@dataclass(frozen=True, slots=True, eq=False)
class Site:
    """A crew of so many `hands`; `calendar` says when somebody is there, `laying` leaves out days that are too cold, warm or damp."""

    hands: int
    calendar: Calendar
    laying: Calendar
    climate: Climate

    def hands_at(self, task: Task) -> int:
        """Hands at a task: its own, else the crew's."""
        return task.hands or self.hands

    def duration(self, task: Task) -> float:
        """Hours that its hands take for a task."""
        return task.hours / self.hands_at(task)

    def after(self, at: dt.datetime, hours: float) -> dt.datetime:
        """The moment at which what takes so many hours at 20 degrees is done."""
        return self.climate.after(at, hours)

    def tail(self, task: Task, at: dt.datetime) -> float:
        """Hours that somebody must still be there after a task, for washing up."""
        return task.tail * self.climate.factor(at) if task.tail else 0.0

    def in_one_go(self, task: Task, at: dt.datetime, hours: float) -> dt.datetime:
        """When a task begins that is not left overnight, with what is washed up after it."""
        begin = self.laying.in_one_go(at, hours + self.tail(task, at))
        if not task.tail or begin == at:
            return begin
        return self.laying.in_one_go(begin, hours + self.tail(task, begin))


def calendar_of(works: Works) -> Calendar:
    """Working hours by the keys of the plan.

    Raises
    ------
    PlanError : a zone that is not known.
    """
    if works.zone:
        check_zone(works.zone)
    days = [first.fromordinal(k) for first, last in works.holidays for k in range(first.toordinal(), last.toordinal() + 1)]
    return Calendar(start=works.shift.start, end=works.shift.end, days=works.days, off=frozenset(days), zone=works.zone)


def site_of(works: Works, products: Products, start: dt.datetime, *, calendar: Calendar | None = None) -> Site:
    """The site by the keys of the plan, for works that begin at a moment of its clock.

    Raises
    ------
    PlanError : a start that the clock leaves out; air in which resin is never laid.
    """
    calendar = calendar or calendar_of(works)
    if calendar.zone:
        check_clock(start, calendar.zone, "works.start or --start")
    climate = climate_of(works, products, calendar)
    shut = climate.shut(start.date())
    laying = replace(calendar, off=calendar.off | shut) if shut else calendar
    return Site(works.hands, calendar, laying, climate)


def plain_site(hands: int, calendar: Calendar) -> Site:
    """A site at 20 degrees with generic products."""
    return Site(hands, calendar, calendar, Climate(Air(20.0), (), Products(), calendar))
