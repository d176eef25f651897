"""What stands in the way of a window: the chain of waits, work and windows that no start keeps, or that working hours make too long.

A room's tasks are first a temporal network without a calendar (`network`): what cannot be kept there cannot be kept on any day. What
can, yet is missed in working hours, is followed back from the window's end to its beginning.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from layout.programme.calendar import HOUR
from layout.programme.climate import quarter
from layout.programme.network import Clash, Limit, at_least, keep
from layout.units import EPS
from layout.words import listed, timed, worded

if TYPE_CHECKING:
    from collections.abc import Sequence

    from layout.programme.schedule import Done, Missed
    from layout.programme.site import Site
    from layout.programme.task import Task

MOMENT = "%a %d %b %H:%M"


def room_network(tasks: Sequence[Task], own: Sequence[int], site: Site) -> tuple[int, list[Limit]]:
    """Moments (begin and end of each of a room's tasks) and limits, in hours; the best that any day of the weather gives."""
    quick, slow = site.climate.quickest, site.climate.slowest
    here = {k: n for n, k in enumerate(own)}
    limits: list[Limit] = []
    for k in own:
        task, begin = tasks[k], 2 * here[k]
        least, why = _takes(task, site)
        limits.append(at_least(begin, begin + 1, least, why))
        if task.whole and site.duration(task) <= site.calendar.hours:
            limits.append(Limit(begin, begin + 1, site.duration(task), worded("{name} is not left overnight", name=task.name)))
        for after in task.after:
            before, first = tasks[after.task], 2 * here[after.task]
            wait = after.wait * quick
            limits.append(
                at_least(first + 1, begin, wait, worded("{wait} after {name}", wait=quarter(wait), name=before.name) if wait else "")
            )
            if after.by is not None:
                window = after.by * slow
                told = {"name": task.name, "window": quarter(window), "before": before.name}
                limits.append(Limit(first, begin, window, worded("{name} must begin within {window} of {before}", **told)))
                limits.append(Limit(first + 1, begin + 1, window, worded("{name} must be done within {window} of {before}", **told)))
    return 2 * len(own), limits


def _takes(task: Task, site: Site) -> tuple[float, str]:
    """Hours from a task's begin to its end at least, nights between shifts within them, and why."""
    if task.alone is not None:
        return task.alone, worded("{name} stands {hours}", name=task.name, hours=quarter(task.alone))
    hours, day = site.duration(task), site.calendar.hours
    nights = max(math.ceil(hours / day - EPS) - 1, 0)
    if not nights:
        return hours, worded("{name} takes {hours}", name=task.name, hours=quarter(hours))
    words = worded("{name} takes {hours} in {shifts} shifts", name=task.name, hours=quarter(hours), shifts=nights + 1)
    return hours + nights * (24.0 - day - bool(site.calendar.zone)), words


def never_kept(tasks: Sequence[Task], site: Site) -> dict[int, str]:
    """Rooms whose windows cannot be kept whenever they are begun, each with the chain that clashes, in words."""
    rooms: dict[int, list[int]] = {}
    for k, task in enumerate(tasks):
        rooms.setdefault(task.room, []).append(k)
    known: dict[tuple[object, ...], str | None] = {}
    result = {}
    for room, own in rooms.items():
        moments, limits = room_network(tasks, own, site)
        key = tuple(limits)
        if key not in known:
            found = keep(moments, limits)
            best = "" if site.climate.quickest == site.climate.slowest else worded(", at the best of the days' temperatures")
            known[key] = listed((_in_words(found), best), "") if isinstance(found, Clash) else None
        words = known[key]
        if words is not None:
            result[room] = words
    return result


def _in_words(clash: Clash) -> str:
    """The limits that clash: what must pass, then the window that is too short for it."""
    passes = [limit for limit in reversed(clash.limits) if limit.most <= 0.0]
    windows = [limit for limit in clash.limits if limit.most > 0.0]
    first = windows[0] if windows else clash.limits[0]
    turn = next((n for n, limit in enumerate(passes) if limit.to == first.of), 0)
    chain = [limit.why for limit in (*passes[turn:], *passes[:turn]) if limit.why]
    return worded(
        "{chain}; yet {windows}: {short} too long, whenever it begins",
        chain=_in_turn(chain),
        windows=_each_of([limit.why for limit in windows]),
        short=quarter(clash.short),
    )


def _in_turn(steps: Sequence[str]) -> str:
    """Steps that follow each other, in words."""
    said = steps[0] if steps else ""
    for step in steps[1:]:
        said = worded("{before}, then {after}", before=said, after=step)
    return said


def _each_of(reasons: Sequence[str]) -> str:
    """Reasons that hold together, in words."""
    said = reasons[0] if reasons else ""
    for reason in reasons[1:]:
        said = worded("{one} and {other}", one=said, other=reason)
    return said


def chain_of(tasks: Sequence[Task], done: Sequence[Done], each: Missed, site: Site) -> str:
    """What leads from the window's beginning to the task that misses it, in words: each task with its times, each wait, each stop."""
    shown = site.calendar.shown
    steps: list[str] = []

    def spell(k: int) -> str:
        begin, end = (timed(shown(at), MOMENT) for at in (done[k].begin, done[k].end))
        return worded("{name} {begin} to {end}", name=tasks[k].name, begin=begin, end=end)

    k = each.task
    for _ in range(len(tasks)):
        if k == each.after or not tasks[k].after:
            break
        last = max(tasks[k].after, key=lambda after: (site.after(done[after.task].end, after.wait), after.task))
        free = site.after(done[last.task].end, last.wait)
        why = []
        if last.wait:
            why.append(worded("{wait} after {name}", wait=quarter((free - done[last.task].end) / HOUR), name=tasks[last.task].name))
        if done[k].begin - free > HOUR / 60.0:
            there = site.calendar.opens(free)
            if there >= done[k].begin:
                why.append(worded("nobody is there before"))
            else:
                why.append(worded("other work goes first or its day would end too soon"))
        steps.append(listed((spell(k), listed((" (", listed(why, "; "), ")"), "") if why else ""), ""))
        k = last.task
    steps.append(spell(k))
    return _in_turn(steps[::-1])
