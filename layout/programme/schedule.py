"""When it is done: one crew, what must follow soonest first, nothing begun whose windows working hours cannot keep.

At each moment the crew takes, of what it may begin, the task whose window closes first. A chain of prime, details and coats
is begun only on a day from which, by itself, it keeps all its windows, and those of the tile on it where the last coat takes
tile for so long only. Too many chains at once miss each other's windows, so fewer are tried until none is missed; the best try
is kept and what it misses is told. Windows count from the first part of a task to the first of the next, and from the last to
the last. All moments are those of running time (`calendar`).
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field, replace
from itertools import islice
from typing import TYPE_CHECKING, TypeAlias

from layout.programme.calendar import HOUR

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from layout.programme.site import Site
    from layout.programme.task import After, Task

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
class Begun:
    """A task under way: when it was begun, and what is left of it, hours of its hands."""

    begin: dt.datetime
    left: float


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


Known: TypeAlias = "Mapping[int, Done | Begun]"


def schedule(
    tasks: Sequence[Task], site: Site, *, start: dt.datetime, known: Known | None = None, never: frozenset[int] = frozenset()
) -> Schedule:
    """The best of a few tries: fewest windows missed, then the earliest end.

    Parameters
    ----------
    start : earliest moment of what is still to be done.
    known : tasks that are done or under way; what a done one waited for is done too.
    never : rooms whose windows no day keeps, so that none is sought.
    """
    best: Schedule | None = None
    looked: dict[tuple[object, ...], bool] = {}
    for most in AT_ONCE:
        found = _Crew(tasks, start, site, most, known or {}, never, looked).all()
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
    crew; `open` chains under way; `settled` chains that no day suits; `looked` what was found of rooms by themselves.
    """

    tasks: Sequence[Task]
    start: dt.datetime
    site: Site
    most: int
    known: Known
    never: frozenset[int] = frozenset()
    looked: dict[tuple[object, ...], bool] | None = None
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
    rooms: dict[int, list[int]] = field(default_factory=dict)

    def all(self) -> Schedule:
        """Do everything."""
        for k, task in enumerate(self.tasks):
            self.rooms.setdefault(task.room, []).append(k)
            for after in task.after:
                self.followers.setdefault(after.task, []).append(k)
        self.take_over()
        at = self.site.laying.opens(self.start)
        while self.ready:
            at = self.step(at)
        order = tuple(self.done[k] for k in range(len(self.tasks)))
        return Schedule(order, tuple(missed(self.tasks, self.done, self.site)), self.waits)

    def take_over(self) -> None:
        """What is done or under way already; then what may begin."""
        for k, each in self.known.items():
            if isinstance(each, Done):
                self.spans[k] = list(each.spans)
                self.done[k] = each
            else:
                self.begun[k] = (each.begin, each.left)
        for k in range(len(self.tasks)):
            chain = self.tasks[k].chain
            if chain is not None and (k in self.done or k in self.begun):
                self.open.add(chain)
                if k in self.done and self.last_of_chain(k):
                    self.open.discard(chain)
        for k, task in enumerate(self.tasks):
            if k not in self.done and all(after.task in self.done for after in task.after):
                self.make_ready(k)

    def make_ready(self, k: int) -> None:
        """What a task waited for is done: it may begin, and what takes no hands begins by itself."""
        task = self.tasks[k]
        if k in self.done:
            return
        earliest = max([self.start, *(self.site.after(self.done[a.task].end, a.wait) for a in task.after)])
        if task.alone is not None:  # begun and ended by somebody who is there
            there = self.site.calendar
            begin = self.begun[k][0] if k in self.begun else there.opens(earliest)
            self.finish(k, begin, there.opens(max(begin + task.alone * HOUR, self.start)))
            return
        latest = min([FOREVER, *(self.closes(a, k) for a in task.after if a.by is not None)])
        self.ready[k] = _Span(earliest, latest)
        if task.opens and k not in self.begun:
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
        """Hours that its hands take for a task, or for what is left of it."""
        return self.begun[k][1] if k in self.begun else self.site.duration(self.tasks[k])

    def closes(self, after: After, k: int) -> dt.datetime:
        """When a window closes for the beginning of a task: for what was done first, and for what was done last."""
        before, by = self.done[after.task], after.by or 0.0
        first = self.site.after(before.begin, by)
        if not self.tasks[k].whole:
            return first
        return min(first, self.site.after(before.end, by) - self.site.duration(self.tasks[k]) * HOUR)

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
                begin = self.site.in_one_go(self.tasks[k], at, self.duration(k))
                if begin > at and not (begin > self.ready[k].latest >= at):
                    later.append(begin)
                    continue
            if self.tasks[k].opens and k not in self.begun and not self.can_open(k, at):
                continue
            return self.work(k, at, mine)
        future = [moment for moment in (*later, *(self.floor(k) for k in mine)) if moment > at]
        return self.site.laying.opens(min(future))

    def last_of_chain(self, k: int) -> bool:
        """Whether nothing of its chain comes after a task."""
        return k + 1 == len(self.tasks) or self.tasks[k + 1].chain != self.tasks[k].chain

    def work(self, k: int, begin: dt.datetime, mine: list[int]) -> dt.datetime:
        """Work at a task: to its end if it is whole, else until the day ends or something with a window may begin."""
        hours = self.duration(k)
        spans = self.spans.setdefault(k, [])
        first = self.begun[k][0] if k in self.begun else begin
        if self.tasks[k].whole:
            spans += self.site.laying.spans(begin, hours)
            return self.finish(k, first, spans[-1][1])
        closes = self.site.laying.closes(begin)
        windows = (self.floor(j) for j in mine if self.ready[j].latest < FOREVER)
        pause = min([closes, *(moment for moment in windows if moment > begin)])
        spans.append((begin, min(begin + hours * HOUR, pause)))
        if begin + hours * HOUR <= pause:
            return self.finish(k, first, begin + hours * HOUR)
        self.begun[k] = (first, hours - (pause - begin) / HOUR)
        return self.site.laying.opens(pause)

    def can_open(self, k: int, begin: dt.datetime) -> bool:
        """Whether a chain begun now keeps its windows; else it waits for the first day on which it does, if there is one."""
        if k in self.settled or (self.keeps(k, begin) and self.room_keeps(k, begin)):
            return True
        for keeps_all in (True, False):
            if keeps_all and self.tasks[k].room in self.never:
                continue
            day = begin
            for _ in range(LOOK_AHEAD):
                if self.keeps(k, day) and (not keeps_all or self.room_keeps(k, day)):
                    if day == begin:  # no day keeps the window of the tile: begin, and tell what is missed
                        self.settled.add(k)
                        return True
                    self.waits[k] = (self.waits.get(k, (begin, day))[0], day)
                    self.not_before[k] = day
                    return False
                day = self.site.in_one_go(self.tasks[k], self.site.laying.morning(day), self.duration(k))
        self.settled.add(k)  # no day will do: begin, and tell what is missed
        return True

    def keeps(self, k: int, begin: dt.datetime) -> bool:
        """Whether a chain by itself keeps its windows if it is begun at a moment."""
        site, chain = self.site, self.tasks[k].chain
        before = Done(begin, site.laying.worked(begin, self.duration(k)))
        for j in range(k + 1, len(self.tasks)):
            task = self.tasks[j]
            if task.chain != chain:
                break
            (after,) = task.after
            hours = site.duration(task)
            at = site.in_one_go(task, site.after(before.end, after.wait), hours)
            done = Done(at, site.laying.worked(at, hours))
            if after.by is not None and (done.begin > site.after(before.begin, after.by) or done.end > site.after(before.end, after.by)):
                return False
            before = done
        return True

    def room_keeps(self, k: int, begin: dt.datetime) -> bool:
        """Whether a room that has the crew for itself from a moment on keeps the windows of what comes after its coats."""
        own = self.rooms.get(self.tasks[k].room, [])
        bound = any(after.by is not None for j in own for after in self.tasks[j].after if self.tasks[j].chain is None)
        if self.looked is None or not bound or self.tasks[k].room in self.never or any(j in self.done or j in self.begun for j in own):
            return True
        here = {j: n for n, j in enumerate(own)}
        tasks = tuple(
            replace(self.tasks[j], room=0, after=tuple(replace(after, task=here[after.task]) for after in self.tasks[j].after)) for j in own
        )
        key = (tasks, begin)
        if key not in self.looked:
            self.looked[key] = not _Crew(tasks, begin, self.site, len(tasks), {}).all().missed
        return self.looked[key]


def missed(tasks: Sequence[Task], done: Mapping[int, Done], site: Site) -> list[Missed]:
    """Windows that are missed, at their beginning or at their end."""
    result = []
    for k, task in enumerate(tasks):
        for after in task.after:
            if after.by is None:
                continue
            before, own = done[after.task], done[k]
            first, last = site.after(before.begin, after.by), site.after(before.end, after.by)
            if own.begin > first:
                result.append(Missed(k, after.task, first, own.begin))
            elif own.end > last:
                result.append(Missed(k, after.task, last, own.end, late=True))
    return result
