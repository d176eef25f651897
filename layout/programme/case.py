"""One way to do the works: the keys of the plan, a start, what is done already; its tasks walked by the crew."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from layout.programme.clash import never_kept
from layout.programme.day_pieces import with_shares
from layout.programme.done import known_of
from layout.programme.schedule import schedule
from layout.programme.site import site_of
from layout.programme.tasks import tasks_of

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Mapping

    from layout.plan.works import Works
    from layout.programme.calendar import Calendar
    from layout.programme.done import DoneRow
    from layout.programme.schedule import Known, Schedule
    from layout.programme.site import Site
    from layout.programme.task import Task
    from layout.quantities.values import TakeOff


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """What a programme is made from: `start` as the site's clock shows it; `quartz` whether the last coat is broadcast; `done` what is done already."""

    works: Works
    start: dt.datetime
    quartz: bool
    calendar: Calendar | None = None
    done: tuple[DoneRow, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Walked:
    """A case walked through: tasks, site, schedule; rooms whose windows no day keeps, with what clashes."""

    tasks: list[Task]
    site: Site
    made: Schedule
    never: Mapping[int, str] = field(default_factory=dict)
    known: Known = field(default_factory=dict)


def walk(takeoff: TakeOff, case: Case, rooms: frozenset[int] | None = None) -> Walked:
    """Walk through a case, or through some of its rooms as if they were all.

    Raises
    ------
    PlanError : a start that the clock leaves out, air in which resin is never laid, no working days; done rows that fit nothing.
    """
    site = site_of(case.works, takeoff.setout.plan.products, case.start, calendar=case.calendar)
    plain = tasks_of(takeoff, case.works, site, quartz=case.quartz, rooms=rooms)
    tasks = with_shares(plain, takeoff, site)
    never = never_kept(tasks, site)
    start = site.calendar.running(case.start)
    names = tuple(room.name for room in takeoff.setout.rooms)
    known = known_of(case.done, tasks, names, site, start) if case.done else {}
    made = schedule(tasks, site, start=start, known=known, never=frozenset(never))
    return Walked(tasks, site, made, never, known)
