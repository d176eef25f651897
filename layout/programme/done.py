"""What was really done: stages with their times and temperatures, from which the rest is planned again."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from layout.errors import Finding, PlanError
from layout.fields import shown
from layout.plan.works import DayWeather, Works
from layout.programme.calendar import DAY, HOUR
from layout.programme.schedule import Begun, Done
from layout.programme.told import MOMENT, where
from layout.words import timed, worded

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from layout.programme.schedule import Known
    from layout.programme.site import Site
    from layout.programme.task import Task

SLACK = dt.timedelta(minutes=1)
"""Times are written down in minutes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DoneRow:
    """A stage as it was done, as the site's clock showed it: of one area, or of all (0); without `end` it is under way.

    `temperature` of the surface meanwhile, °C; `place` is where it stands in its file, for messages.
    """

    room: str
    stage: str
    start: dt.datetime
    end: dt.datetime | None = None
    area: int = 0
    temperature: float | None = None
    place: str = "done"


def latest(rows: Sequence[DoneRow]) -> dt.datetime:
    """The last moment that is written down: what is left begins no sooner."""
    return max(row.end or row.start for row in rows)


def known_of(rows: Sequence[DoneRow], tasks: Sequence[Task], names: tuple[str, ...], site: Site, now: dt.datetime) -> Known:
    """Tasks that are done or under way, in running time; `now` until when those under way were worked at.

    What a done task waited for is done too, at the moment at which that was begun. Rows of rooms without tasks here are left out.

    Raises
    ------
    PlanError : a room, stage or area that there is not, an end before its begin, a stage told twice.
    """
    known: dict[int, Done | Begun] = {}
    here = {names[task.room] for task in tasks}
    running = site.calendar.running
    for row in rows:
        if row.room not in names:
            raise PlanError(
                f"{row.place}, room", f"there is no room {shown(row.room)}", "rooms are " + ", ".join(f'"{name}"' for name in names)
            )
        if row.room not in here:
            continue
        for k in _tasks_of(row, tasks, names):
            if k in known:
                raise PlanError(row.place, f"{row.room}, {row.stage} is told twice", "tell each area of a stage once")
            begin = running(row.start)
            if row.end is None:
                gone = site.laying.between(begin, now)
                known[k] = Begun(begin, max(site.duration(tasks[k]) - gone, SLACK / HOUR))
            else:
                known[k] = Done(begin, running(row.end))
    for k in sorted(known, reverse=True):
        for before in _before(tasks, k):
            if not isinstance(known.get(before), Done):
                begin = known[k].begin
                known[before] = Done(begin, begin)
    return known


def _before(tasks: Sequence[Task], k: int) -> Iterator[int]:
    """All that a task waits for, in the end."""
    for after in tasks[k].after:
        yield after.task
        yield from _before(tasks, after.task)


def _tasks_of(row: DoneRow, tasks: Sequence[Task], names: tuple[str, ...]) -> list[int]:
    """The tasks that a row speaks of."""
    own = [k for k, task in enumerate(tasks) if names[task.room] == row.room]
    stages = list(dict.fromkeys(tasks[k].key for k in own))
    if row.stage not in stages:
        raise PlanError(f"{row.place}, stage", f"{shown(row.stage)} is no stage of {row.room}", "its stages are " + ", ".join(stages))
    found = [k for k in own if tasks[k].key == row.stage and row.area in (0, tasks[k].area)]
    if not found:
        areas = max(tasks[k].areas for k in own if tasks[k].key == row.stage)
        raise PlanError(
            f"{row.place}, area", f"{row.area} found, {row.stage} of {row.room} has {areas}", f"give 1 to {areas}, or leave it out"
        )
    if row.end is not None and row.end < row.start:
        raise PlanError(
            f"{row.place}, end", f"{row.end:%Y-%m-%d %H:%M} comes before its start", "give the end after the start, or leave it out"
        )
    return found


def with_measured(works: Works, rows: Sequence[DoneRow]) -> Works:
    """The keys of the plan with the temperatures that were measured on the days on which they were."""
    measured: dict[dt.date, float] = {}
    for row in rows:
        if row.temperature is not None:
            last = (row.end or row.start).date()
            measured.update({row.start.date() + n * DAY: row.temperature for n in range((last - row.start.date()).days + 1)})
    if not measured:
        return works
    days = {each.date: each for each in works.weather}
    for day in measured:  # what held before and after each goes on as it was
        for beside in (day - DAY, day + DAY):
            days.setdefault(beside, replace(_told_for(works, beside), date=beside))
    days.update({day: DayWeather(date=day, temperature=degrees) for day, degrees in measured.items()})
    return replace(works, weather=tuple(days[day] for day in sorted(days)))


def _told_for(works: Works, day: dt.date) -> DayWeather:
    """What the plan says of a day's weather."""
    if not works.weather:
        return DayWeather(date=day, temperature=works.temperature, humidity=works.humidity, air=works.air)
    before = [each for each in works.weather if each.date <= day]
    return before[-1] if before else works.weather[0]


def as_it_was(
    tasks: Sequence[Task], known: Known, done: Sequence[Done], rows: Sequence[DoneRow], names: tuple[str, ...], site: Site
) -> Iterator[Finding]:
    """What was done too soon, or where nothing may be laid, or is not told: it cannot be mended by planning."""
    shown_at = site.calendar.shown
    told = {(row.room, row.stage) for row in rows}
    silent: dict[tuple[int, str], int] = {}
    for k in sorted(known):
        task = tasks[k]
        if (names[task.room], task.key) not in told:
            silent.setdefault((task.room, task.key), k)
            continue
        for after in task.after:
            if (names[tasks[after.task].room], tasks[after.task].key) not in told:
                continue
            soonest = site.after(done[after.task].end, after.wait)
            if done[k].begin < soonest - SLACK:
                text = worded(
                    "{where}: {name} was begun at {begun}, {before} takes it from {soonest} only: test whether it has cured, and ask the "
                    "product's maker",
                    where=where(task, names),
                    name=task.name,
                    begun=timed(shown_at(done[k].begin), MOMENT),
                    before=tasks[after.task].name,
                    soonest=timed(shown_at(soonest), MOMENT),
                )
                yield Finding(code="done-early", text=text)
        why = site.climate.why_not(site.calendar.day_of(done[k].begin)) if task.alone is None else None
        if why is not None:
            text = worded(
                "{where}: {name} was begun on {begun}, when {found}: test it before it is covered",
                where=where(task, names),
                name=task.name,
                begun=timed(shown_at(done[k].begin), MOMENT),
                found=why.found,
            )
            yield Finding(code="done-cold", text=text)
    for k in silent.values():
        text = worded(
            "{where}: {name} is not told, and taken as done when what follows it was begun: tell when it was",
            where=where(tasks[k], names),
            name=tasks[k].name,
        )
        yield Finding(code="done-gap", text=text)


def is_done(known: Mapping[int, Done | Begun], k: int) -> bool:
    """Whether a task is done."""
    return isinstance(known.get(k), Done)
