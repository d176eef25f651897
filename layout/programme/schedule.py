"""When it is done: one crew, what must follow soonest first, nothing begun whose windows working hours cannot keep.

At each moment the crew takes, of what it may begin, the task whose window closes first. A chain of prime, details and coats
is begun only on a day from which, by itself, it keeps all its windows. Too many chains at once miss each other's windows, so
fewer are tried until none is missed; the best try is kept and what it misses is told. Windows count from the first part of a
task to the first of the next, and from the last to the last.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from itertools import islice
from typing import TYPE_CHECKING

from layout.programme.calendar import HOUR

if TYPE_CHECKING:
    from layout.programme.calendar import Calendar
    from layout.programme.tasks import After, Task

LOOK_AHEAD = 14
"""Days within which a day is sought on which a chain can begin."""
AT_ONCE = (8, 4, 2, 1)
"""How many chains may be under way at once, tried one after the other."""
NEXT = 8
"""How many chains that could be begun are looked at, in the order of the rooms."""
FOREVER = dt.datetime.max  # noqa: DTZ901  # site time has no zone


@dataclass(frozen=True, slots=True)
class Done:
    """When a task is begun and ended, and from when to when the crew is at it."""

    begin: dt.datetime
    end: dt.datetime
    spans: tuple[tuple[dt.datetime, dt.datetime], ...] = ()


@dataclass(frozen=True, slots=True)
class Missed:
    """A window that is missed: by a task, after another, which had to begin (or be done, `late` in its end) by a moment and is so `at` another."""

    task: int
    after: int
    by: dt.datetime
    at: dt.datetime
    late: bool = False


@dataclass(frozen=True, slots=True)
class Schedule:
    """All tasks with their times, windows that are missed, and chains that wait for a better day: from, to."""

    done: tuple[Done, ...]
    missed: tuple[Missed, ...]
    waits: dict[int, tuple[dt.datetime, dt.datetime]]

    @property
    def end(self) -> dt.datetime:
        """When the last task is done."""
        return max((each.end for each in self.done), default=FOREVER)


def schedule(tasks: list[Task], *, start: dt.datetime, hands: int, calendar: Calendar) -> Schedule:
    """The best of a few tries: fewest windows missed, then the earliest end."""
    best: Schedule | None = None
    for most in AT_ONCE:
        found = _Crew(tasks, start, hands, calendar, most).all()
        if best is None or (len(found.missed), found.end) < (len(best.missed), best.end):
            best = found
        if not any(tasks[each.task].chain is not None for each in best.missed):
            break
    return best if best is not None else Schedule((), (), {})


@dataclass(frozen=True, slots=True)
class _Span:
    """When a task that waits for nothing any more may begin, and by when it must."""

    earliest: dt.datetime
    latest: dt.datetime


@dataclass(slots=True, eq=False)
class _Crew:
    """One try: a crew that goes through the tasks, no more than so many chains at once.

    `ready` are tasks that wait for nothing any more, `openers` those of them that begin a chain, in order; `begun` what is left of tasks that go over several days, hours of the
    crew; `open` chains under way; `settled` chains that no day suits.
    """

    tasks: list[Task]
    start: dt.datetime
    hands: int
    calendar: Calendar
    most: int
    done: dict[int, Done] = field(default_factory=dict)
    ready: dict[int, _Span] = field(default_factory=dict)
    openers: dict[int, None] = field(default_factory=dict)
    begun: dict[int, tuple[dt.datetime, float]] = field(default_factory=dict)
    open: set[int] = field(default_factory=set)
    not_before: dict[int, dt.datetime] = field(default_factory=dict)
    waits: dict[int, tuple[dt.datetime, dt.datetime]] = field(default_factory=dict)
    settled: set[int] = field(default_factory=set)
    followers: dict[int, list[int]] = field(default_factory=dict)
    spans: dict[int, list[tuple[dt.datetime, dt.datetime]]] = field(default_factory=dict)

    def all(self) -> Schedule:
        """Do everything."""
        for k, task in enumerate(self.tasks):
            for after in task.after:
                self.followers.setdefault(after.task, []).append(k)
            if not task.after:
                self.make_ready(k)
        at = self.calendar.opens(self.start)
        while self.ready:
            at = self.step(at)
        order = tuple(self.done[k] for k in range(len(self.tasks)))
        return Schedule(order, tuple(self.missed()), self.waits)

    def make_ready(self, k: int) -> None:
        """What a task waited for is done: it may begin, and what takes no hands begins by itself."""
        task = self.tasks[k]
        earliest = max([self.start, *(self.done[a.task].end + a.wait * HOUR for a in task.after)])
        if task.alone is not None:  # begun and ended by somebody who is there
            begin = self.calendar.opens(earliest)
            self.finish(k, begin, self.calendar.opens(begin + task.alone * HOUR))
            return
        latest = min([FOREVER, *(self.closes(a, k) for a in task.after if a.by is not None)])
        self.ready[k] = _Span(earliest, latest)
        if task.opens:
            self.openers[k] = None

    def finish(self, k: int, begin: dt.datetime, end: dt.datetime) -> dt.datetime:
        """A task is done; what waited for it alone may begin."""
        self.done[k] = Done(begin, end, tuple(self.spans.get(k, ())))
        self.ready.pop(k, None)
        self.openers.pop(k, None)
        chain = self.tasks[k].chain
        if chain is not None:
            self.open.add(chain)
            if self.last_of_chain(k):
                self.open.remove(chain)
        for j in self.followers.get(k, []):
            if all(after.task in self.done for after in self.tasks[j].after):
                self.make_ready(j)
        return end

    def duration(self, k: int) -> float:
        """Hours that the crew takes for a task, or for what is left of it."""
        return self.begun[k][1] if k in self.begun else self.tasks[k].hours / self.hands

    def closes(self, after: After, k: int) -> dt.datetime:
        """When a window closes for the beginning of a task: for what was done first, and for what was done last."""
        before, by = self.done[after.task], (after.by or 0.0) * HOUR
        first = before.begin + by
        return min(first, before.end + by - self.tasks[k].hours / self.hands * HOUR) if self.tasks[k].whole else first

    def floor(self, k: int) -> dt.datetime:
        """When a task may begin, or when its chain should."""
        return max(self.ready[k].earliest, self.not_before.get(k, self.start))

    def step(self, at: dt.datetime) -> dt.datetime:
        """Do one task, or a day's share of it, or wait; the moment after it."""
        mine = [k for k in self.ready if k not in self.openers]
        if len(self.open) < self.most:
            mine += islice(self.openers, NEXT)
        now = sorted((k for k in mine if self.floor(k) <= at), key=lambda k: (self.ready[k].latest, self.tasks[k].room, k))
        later: list[dt.datetime] = []
        for k in now:
            if self.tasks[k].whole:
                begin = self.calendar.in_one_go(at, self.duration(k))
                if begin > at and not (begin > self.ready[k].latest >= at):
                    later.append(begin)
                    continue
            if self.tasks[k].opens and not self.can_open(k, at):
                continue
            return self.work(k, at, mine)
        future = [moment for moment in (*later, *(self.floor(k) for k in mine)) if moment > at]
        return self.calendar.opens(min(future))

    def last_of_chain(self, k: int) -> bool:
        """Whether nothing of its chain comes after a task."""
        return k + 1 == len(self.tasks) or self.tasks[k + 1].chain != self.tasks[k].chain

    def work(self, k: int, begin: dt.datetime, mine: list[int]) -> dt.datetime:
        """Work at a task: to its end if it is whole, else until the day ends or something with a window may begin."""
        hours = self.duration(k)
        spans = self.spans.setdefault(k, [])
        if self.tasks[k].whole:
            spans += self.calendar.spans(begin, hours)
            return self.finish(k, begin, spans[-1][1])
        first = self.begun[k][0] if k in self.begun else begin
        windows = (self.floor(j) for j in mine if self.ready[j].latest < FOREVER)
        pause = min([self.calendar.closes(begin), *(moment for moment in windows if moment > begin)])
        spans.append((begin, min(begin + hours * HOUR, pause)))
        if begin + hours * HOUR <= pause:
            return self.finish(k, first, begin + hours * HOUR)
        self.begun[k] = (first, hours - (pause - begin) / HOUR)
        return self.calendar.opens(pause)

    def can_open(self, k: int, begin: dt.datetime) -> bool:
        """Whether a chain begun now keeps its windows; else it waits for the first day on which it does, if there is one."""
        if k in self.settled or self.keeps(k, begin):
            return True
        day = begin
        for _ in range(LOOK_AHEAD):
            day = self.calendar.in_one_go(self.calendar.morning(day), self.duration(k))
            if self.keeps(k, day):
                self.waits[k] = (self.waits.get(k, (begin, day))[0], day)
                self.not_before[k] = day
                return False
        self.settled.add(k)  # no day will do: begin, and tell what is missed
        return True

    def keeps(self, k: int, begin: dt.datetime) -> bool:
        """Whether a chain by itself keeps its windows if it is begun at a moment."""
        chain = self.tasks[k].chain
        before = Done(begin, self.calendar.worked(begin, self.duration(k)))
        for j in range(k + 1, len(self.tasks)):
            task = self.tasks[j]
            if task.chain != chain:
                break
            (after,) = task.after
            hours = task.hours / self.hands
            at = self.calendar.in_one_go(before.end + after.wait * HOUR, hours)
            done = Done(at, self.calendar.worked(at, hours))
            by = (after.by or 0.0) * HOUR
            if after.by is not None and (done.begin > before.begin + by or done.end > before.end + by):
                return False
            before = done
        return True

    def missed(self) -> list[Missed]:
        """Windows that are missed, at their beginning or at their end."""
        result = []
        for k, task in enumerate(self.tasks):
            for after in task.after:
                if after.by is None:
                    continue
                before, own, by = self.done[after.task], self.done[k], after.by * HOUR
                if own.begin > before.begin + by:
                    result.append(Missed(k, after.task, before.begin + by, own.begin))
                elif own.end > before.end + by:
                    result.append(Missed(k, after.task, before.end + by, own.end, late=True))
        return result
