"""The smallest change that keeps a window: each is tried, by planning the room's works again with it."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import TYPE_CHECKING

from layout.errors import PlanError
from layout.programme.case import Case, walk
from layout.programme.done import is_done
from layout.programme.site import calendar_of
from layout.words import listed, timed, worded

if TYPE_CHECKING:
    from collections.abc import Iterator

    from layout.plan.works import Works
    from layout.programme.task import Task
    from layout.quantities.values import TakeOff

DAYS = 6
"""Days by which a start is moved, at most."""
MORE_HANDS = (1, 2, 4)
WARMER = (2.0, 5.0, 10.0)
LONGER = (1, 2, 3)
SPLIT = (2, 3, 4)
MOST_TRIED = 3
"""Windows for which changes are tried: each try plans the room again."""


def cures_of(takeoff: TakeOff, case: Case, task: Task, before: Task) -> str:
    """What keeps the window of a task after another in a room that has the crew for itself, the smallest change of each kind; or that nothing tried does."""
    now = _missed(takeoff, case, task.room)
    window = (task.key, task.area, before.key, before.area)
    if now is None or window not in now:
        return worded(
            "The room by itself keeps it: the crew is elsewhere then. Begin the room when the crew is free for it, or take more hands"
        )
    kept = []
    for kind in (_another_day, _hands, _longer, _another_weekday, _warmer, _split, _broadcast):
        for words, changed in kind(case):
            then = _missed(takeoff, changed, task.room)
            if then is not None and len(then) < len(now) and not any(key == task.key and after == before.key for key, _, after, _ in then):
                kept.append(words if not then else worded("{words} (other windows stay missed)", words=words))
                break
    if not kept:
        return worded(
            "No other start, more hands, longer days, warmth, smaller areas or a broadcast last coat keeps it: abrade and prime again"
        )
    return worded("Each of these was planned again and keeps it: {kept}. Else abrade and prime again", kept=listed(kept, "; "))


def _missed(takeoff: TakeOff, case: Case, room: int) -> set[tuple[str, int, str, int]] | None:
    """Windows that a room by itself misses, and could still keep: stage and area, and those that they count from; None if the case cannot be."""
    try:
        walked = walk(takeoff, case, rooms=frozenset((room,)))
    except PlanError:  # too warm, or a start that the clock leaves out
        return None
    tasks, now = walked.tasks, walked.site.calendar.running(case.start)
    return {
        (tasks[each.task].key, tasks[each.task].area, tasks[each.after].key, tasks[each.after].area)
        for each in walked.made.missed
        if not (is_done(walked.known, each.after) and each.by <= now)
    }


def _another_day(case: Case) -> Iterator[tuple[str, Case]]:
    calendar = case.calendar or calendar_of(case.works)
    for k in range(1, DAYS + 1):
        for sign in (1,) if case.done else (-1, 1):
            start = case.start + sign * k * dt.timedelta(days=1)
            if calendar.works_on(start.date()):
                day = timed(start, "%a %d %b %H:%M")
                words = worded("start earlier, on {day}", day=day) if sign < 0 else worded("start later, on {day}", day=day)
                yield words, replace(case, start=start)


def _hands(case: Case) -> Iterator[tuple[str, Case]]:
    for more in MORE_HANDS:
        works = case.works
        every = {stage: hands + more for stage, hands in (works.stage_hands or {}).items()}
        hands = works.hands + more
        words = (
            worded("one hand more ({hands})", hands=hands) if more == 1 else worded("{more} hands more ({hands})", more=more, hands=hands)
        )
        yield words, replace(case, works=replace(works, hands=works.hands + more, stage_hands=every or None))


def _longer(case: Case) -> Iterator[tuple[str, Case]]:
    if case.calendar is not None:
        return
    shift = case.works.shift
    for more in LONGER:
        end = (dt.datetime.combine(dt.date(2000, 1, 1), shift.end) + more * dt.timedelta(hours=1)).time()
        if (end > shift.end) == (not shift.overnight) or (shift.overnight and end < shift.start):
            longer = replace(shift, end=end)
            yield worded("work until {end:%H:%M}", end=end), replace(case, works=replace(case.works, shift=longer))


def _another_weekday(case: Case) -> Iterator[tuple[str, Case]]:
    if case.calendar is not None:
        return
    for more, words in (((5,), worded("work on Saturdays too")), ((5, 6), worded("work on Saturdays and Sundays too"))):
        if not set(more) <= set(case.works.days):
            yield words, replace(case, works=replace(case.works, days=tuple(sorted({*case.works.days, *more}))))


def _warmed(works: Works, more: float) -> Works:
    """The same works so much warmer."""
    weather = tuple(replace(day, temperature=day.temperature + more) for day in works.weather)
    return replace(works, temperature=works.temperature + more, weather=weather)


def _warmer(case: Case) -> Iterator[tuple[str, Case]]:
    for more in WARMER:
        at = "" if case.works.weather else worded(" to {temperature:g} °C", temperature=case.works.temperature + more)
        yield worded("warm the room by {more:g} K{at}", more=more, at=at), replace(case, works=_warmed(case.works, more))


def _split(case: Case) -> Iterator[tuple[str, Case]]:
    for areas in SPLIT:
        least = case.works.areas * areas
        yield (
            worded("split membrane and grout into {least} areas at least (works.areas)", least=least),
            replace(case, works=replace(case.works, areas=least)),
        )


def _broadcast(case: Case) -> Iterator[tuple[str, Case]]:
    if not case.quartz:
        yield worded("broadcast the last coat (rules.quartz_last)"), replace(case, quartz=True)
