"""The crew's schedule: a network by hand, and what must hold for any network, checked hour by hour."""

from __future__ import annotations

import datetime as dt
import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout.programme.calendar import Calendar
from layout.programme.schedule import Schedule, schedule
from layout.programme.site import plain_site
from layout.programme.task import After, Task

MONDAY = dt.datetime(2026, 11, 30, 7, 0)  # noqa: DTZ001  # site time has no zone
DAY = Calendar()
HOUR = dt.timedelta(hours=1)


def at(day: int, hour: float) -> dt.datetime:
    """So many days after the Monday, at an hour."""
    return dt.datetime.combine(MONDAY.date() + dt.timedelta(days=day), dt.time()) + hour * HOUR


def test_two_areas_by_hand():
    """Two hands; area 1: prime 6 h, coat 8 h after 12 h and within 48 h; area 2 alike; then 5 h of tile in the second room.

    Monday 07:00 to 10:00 prime 1, 10:00 to 13:00 prime 2, then the tile of the other room, 13:00 to 15:30. Both coats may
    begin in the night, so Tuesday 07:00 to 11:00 coat 1, 11:00 to 15:00 coat 2: within 48 h of Monday's 07:00 and 10:00.
    """
    tasks = [
        Task(room=0, key="prime", hours=6, whole=True, chain=0, opens=True),
        Task(room=0, key="coat 1", hours=8, whole=True, chain=0, after=(After(0, 12, 48),)),
        Task(room=0, key="prime", hours=6, whole=True, chain=1, opens=True),
        Task(room=0, key="coat 1", hours=8, whole=True, chain=1, after=(After(2, 12, 48),)),
        Task(room=1, key="floor", hours=5),
    ]
    made = schedule(tasks, plain_site(2, DAY), start=MONDAY)
    assert [(each.begin, each.end) for each in made.done] == [
        (at(0, 7), at(0, 10)), (at(1, 7), at(1, 11)), (at(0, 10), at(0, 13)), (at(1, 11), at(1, 15)), (at(0, 13), at(0, 15.5)),
    ]  # fmt: skip
    assert not made.missed


def test_long_work_gives_way_to_what_must_follow():
    """40 h of tile for one hand from Monday; a coat that may begin on Tuesday at 09:00 and must by noon goes in between."""
    tasks = [
        Task(room=0, key="prime", hours=2, whole=True, chain=0, opens=True),
        Task(room=0, key="coat 1", hours=3, whole=True, chain=0, after=(After(0, 24, 29),)),
        Task(room=1, key="floor", hours=20),
    ]
    made = schedule(tasks, plain_site(1, DAY), start=MONDAY)
    assert (made.done[1].begin, made.done[1].end) == (at(1, 9), at(1, 12))
    # 7 h on Monday, 2 and 4 h on Tuesday, 7 h on Wednesday
    assert (made.done[2].begin, made.done[2].end) == (at(0, 9), at(2, 14))
    assert not made.missed


def test_a_window_that_cannot_be_kept_is_named():
    tasks = [
        Task(room=0, key="prime", hours=4, whole=True, chain=0, opens=True),
        Task(room=0, key="coat 1", hours=4, whole=True, chain=0, after=(After(0, 24, 26),)),
    ]
    made = schedule(tasks, plain_site(1, DAY), start=MONDAY)
    # ends at 11:00, may go on next day at 11:00, but what was primed at 07:00 had to be coated by 09:00 of that day
    (missed,) = made.missed
    assert (missed.task, missed.after, missed.by, missed.at, missed.late) == (1, 0, at(1, 9), at(1, 11), False)


@st.composite
def networks(draw: st.DrawFn) -> list[Task]:
    """A few rooms, each with chains of whole tasks, a flood test and long work after it."""
    tasks: list[Task] = []
    chain = 0
    for room in range(draw(st.integers(1, 3))):
        last = []
        for _ in range(draw(st.integers(1, 3))):
            after: tuple[After, ...] = ()
            for step in range(draw(st.integers(1, 4))):
                hours = draw(st.floats(0.5, 18.0))
                tasks.append(Task(room=room, key=f"{step}", hours=hours, whole=True, chain=chain, after=after, opens=not after))
                wait = draw(st.sampled_from([0.0, 6.0, 12.0, 24.0]))
                after = (After(len(tasks) - 1, wait, wait + draw(st.sampled_from([6.0, 24.0, 36.0, 72.0]))),)
            last.append(len(tasks) - 1)
            chain += 1
        tasks.append(Task(room=room, key="flood", hours=0.0, alone=24.0, after=tuple(After(k, 12.0) for k in last)))
        tasks.append(Task(room=room, key="floor", hours=draw(st.floats(1.0, 60.0)), after=(After(len(tasks) - 1, 0.0),)))
    return tasks


def latest(made: Schedule, task: Task, after: After, hands: int) -> dt.datetime:
    """The latest beginning of a task after another: from first to first, and from last to last."""
    before = made.done[after.task]
    return min(before.begin, before.end - task.hours / hands * HOUR) + (after.by or 0.0) * HOUR


def check(tasks: list[Task], made: Schedule, hands: int) -> None:
    """What must hold, by walking over the times."""
    assert len(made.done) == len(tasks)
    missed = {(each.task, each.after) for each in made.missed}
    for k, task in enumerate(tasks):
        done = made.done[k]
        for moment in (done.begin, done.end):
            assert moment.weekday() < 5
            assert dt.time(7) <= moment.time() <= dt.time(16)
        for after in task.after:
            before = made.done[after.task]
            assert done.begin >= before.end + after.wait * HOUR - dt.timedelta(microseconds=2)
            if after.by is not None:
                late = max(done.begin - before.begin, done.end - before.end) > after.by * HOUR
                assert late == ((k, after.task) in missed)
        if task.whole:
            if done.begin.date() == done.end.date():
                assert (done.end - done.begin) / HOUR == pytest.approx(task.hours / hands, abs=1e-6)
            else:  # left overnight only where the next morning would miss its window
                assert any(after.by and DAY.morning(done.begin) > latest(made, task, after, hands) for after in task.after)
    # one crew: what is whole overlaps with nothing; all work fits into the working hours between first and last
    whole = sorted((made.done[k].begin, made.done[k].end) for k, task in enumerate(tasks) if task.whole)
    assert all(end <= begin for (_, end), (begin, _) in itertools.pairwise(whole))
    for k, task in enumerate(tasks):
        if task.whole or task.alone is not None:
            continue
        done = made.done[k]
        inside = sum((min(end, done.end) - max(begin, done.begin)) / HOUR for begin, end in whole if end > done.begin and begin < done.end)
        free, moment = 0.0, done.begin
        while moment.date() < done.end.date():
            free += (DAY.closes(moment) - moment) / HOUR
            moment = DAY.morning(moment)
        assert free + (done.end - moment) / HOUR >= task.hours / hands + inside - 1e-6


@given(networks(), st.integers(2, 4), st.datetimes(dt.datetime(2026, 1, 1), dt.datetime(2026, 12, 1)))  # noqa: DTZ001
@settings(max_examples=60, deadline=None)
def test_any_network_is_worked_by_one_crew_and_tells_what_it_misses(tasks, hands, start):
    check(tasks, schedule(tasks, plain_site(hands, DAY), start=start), hands)
