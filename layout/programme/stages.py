"""The works programme: stages of each room by areas, with the windows in which the next may start.

Work is done in working hours; curing goes on round the clock. Times are those of the products at 20 degrees and are taken
twice as long for each ten degrees colder (common practice, no source): the data sheet and the thermometer decide.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from layout.errors import Finding, PlanError
from layout.programme.batches import batch_list
from layout.programme.calendar import HOUR, Calendar
from layout.programme.schedule import schedule
from layout.programme.tasks import HOLDS, NAMES, tasks_of

if TYPE_CHECKING:
    import datetime as dt

    from layout.programme.batches import Batch
    from layout.programme.schedule import Done, Missed, Schedule
    from layout.programme.tasks import After, Task
    from layout.quantities.values import TakeOff

MOMENT = "%a %d %b %H:%M"
LAST_YEAR = 9000
"""Works begin no later: what follows must still be a date."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """One stage of one area of a room, which counts from 0: when it is worked, and from when and until when the next may start.

    `hours` of one hand's work; `earliest` and `latest` for its own start, `next_from` and `next_by` for the next one's (None: no
    end); `hold` what is checked and signed before it starts; area 1 of 1 is the whole room; `spans` from when to when the crew is
    at it.
    """

    room: int
    key: str
    start: dt.datetime
    end: dt.datetime
    hours: float
    hands: int
    next_from: dt.datetime
    next_by: dt.datetime | None
    hold: str
    earliest: dt.datetime
    latest: dt.datetime | None
    area: int = 1
    areas: int = 1
    spans: tuple[tuple[dt.datetime, dt.datetime], ...] = ()

    @property
    def name(self) -> str:
        """The stage in words."""
        words = NAMES.get(self.key, f"membrane, {self.key}")
        return words if self.areas == 1 else f"{words}: area {self.area} of {self.areas}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Programme:
    """All stages, when rooms (by number, from 0; `rooms` are their names) may be walked on and loaded, and findings on windows.

    `batches` what is mixed when, `batch_findings` what stands in its way; `wash` minutes after grouting from which and by which it is washed up; `spread_m2` what one hand may comb at once, m².
    """

    rooms: tuple[str, ...]
    stages: tuple[Stage, ...]
    temperature: float
    foot_traffic: dict[int, dt.datetime]
    full_load: dict[int, dt.datetime]
    wash: tuple[float, float]
    spread_m2: float
    findings: tuple[Finding, ...]
    batches: tuple[Batch, ...] = ()
    batch_findings: tuple[Finding, ...] = ()

    def __repr__(self) -> str:
        if not self.stages:
            return "<Programme: 0 stages>"
        first, last = min(stage.start for stage in self.stages), max(stage.end for stage in self.stages)
        return f"<Programme: {len(self.stages)} stages, {first:%Y-%m-%d %H:%M} to {last:%Y-%m-%d %H:%M}>"


def slower(temperature: float) -> float:
    """How many times longer resin takes than at 20 degrees: double for each ten colder (common practice, no source).

    >>> [slower(t) for t in (20.0, 10.0, 30.0)]
    [1.0, 2.0, 0.5]
    """
    return float(2.0 ** ((20.0 - temperature) / 10.0))


def plan_works(
    takeoff: TakeOff, *, start: dt.datetime, hands: int = 2, temperature: float = 20.0, calendar: Calendar | None = None
) -> Programme:
    """Stages of all rooms, worked by one crew.

    Parameters
    ----------
    start : earliest moment of the first stage.
    hands : people of the crew, which works at one thing at a time.
    temperature : of the substrate while it cures, degrees C.

    Raises
    ------
    PlanError : a start after `LAST_YEAR`.
    """
    if start.year > LAST_YEAR:
        raise PlanError(
            "start of the works (project.date or --start)", f"{start:%Y-%m-%d} found", f"give a date up to the year {LAST_YEAR}"
        )
    calendar = calendar or Calendar()
    factor = slower(temperature)
    tasks = tasks_of(takeoff, day=calendar.hours * hands, factor=factor)
    made = schedule(tasks, start=start, hands=hands, calendar=calendar)
    names = tuple(room.name for room in takeoff.setout.rooms)
    products = takeoff.setout.plan.products
    follow: dict[int, list[After]] = {}
    for task in tasks:
        for after in task.after:
            follow.setdefault(after.task, []).append(after)
    opens = calendar.opens(start)
    stages = [_stage(tasks[k], made.done, k, follow.get(k, []), hands, opens) for k in range(len(tasks))]
    traffic: dict[int, dt.datetime] = {}
    load: dict[int, dt.datetime] = {}
    for stage in stages:
        ends = [stage.next_from]
        if stage.key == "grout":
            traffic[stage.room] = max(traffic.get(stage.room, stage.end), stage.end + products.grout_cure_h.value * factor * HOUR)
            ends.append(stage.end + products.load_cure_h.value * factor * HOUR)
        if stage.key == "sealant":
            ends.append(stage.end + products.sealant_cure_h.value * factor * HOUR)
        load[stage.room] = max([*ends, *([load[stage.room]] if stage.room in load else [])])
    ordered = tuple(sorted(stages, key=lambda stage: (stage.room, stage.start, stage.end)))
    batches, told = batch_list(takeoff, ordered, factor=factor, calendar=calendar)
    return Programme(
        rooms=names,
        stages=ordered,
        temperature=temperature,
        foot_traffic=traffic,
        full_load=load,
        wash=(products.grout_wash_from_min.value * factor, products.grout_wash_by_min.value * factor),
        spread_m2=products.adhesive_m2_h.value * products.adhesive_open_min.value / 60.0 * factor,
        findings=tuple(_waits(tasks, made, names) + _all_missed(tasks, made, names)),
        batches=batches,
        batch_findings=tuple(told),
    )


def _stage(task: Task, every: tuple[Done, ...], k: int, follow: list[After], hands: int, opens: dt.datetime) -> Stage:
    """Task `k` with its times, from when and by when it may start itself, and from when and by when the first of what waits for it may."""
    done = every[k]
    windows = [after.by for after in follow if after.by is not None]
    own = [every[after.task].begin + after.by * HOUR for after in task.after if after.by is not None]
    return Stage(
        room=task.room,
        key=task.key,
        start=done.begin,
        end=done.end,
        hours=task.hours,
        hands=hands,
        next_from=done.end + (follow[0].wait if follow else 0.0) * HOUR,
        next_by=done.begin + min(windows) * HOUR if windows else None,
        hold=HOLDS.get(task.key, ""),
        earliest=max([opens, *(every[after.task].end + after.wait * HOUR for after in task.after)]),
        latest=min(own, default=None),
        area=task.area,
        areas=task.areas,
        spans=done.spans,
    )


def _where(task: Task, names: tuple[str, ...]) -> str:
    return names[task.room] if task.areas == 1 else f"{names[task.room]}, area {task.area} of {task.areas}"


def _waits(tasks: list[Task], made: Schedule, names: tuple[str, ...]) -> list[Finding]:
    """Rooms that are begun later than they could be, since working hours would miss their windows."""
    result = []
    for k, (wanted, day) in made.waits.items():
        where = _where(tasks[k], names)
        text = f"{where}: begun on {wanted:{MOMENT}} a coat would miss its window outside working hours; it waits until {day:{MOMENT}}"
        result.append(Finding(code="works-wait", text=text))
    return result


def _all_missed(tasks: list[Task], made: Schedule, names: tuple[str, ...]) -> list[Finding]:
    """Windows that are missed; of a room's tile the first stage that is, since the others come after it."""
    told: set[int] = set()
    result = []
    for each in made.missed:
        task = tasks[each.task]
        if task.chain is None and task.room in told:
            continue
        if task.chain is None:
            told.add(task.room)
        result.append(_missed(tasks, each, names))
    return result


def _missed(tasks: list[Task], each: Missed, names: tuple[str, ...]) -> Finding:
    """A window that is missed, the chain that it hangs on, and what cures it."""
    task, before = tasks[each.task], tasks[each.after]
    comes = f"{'goes on to' if each.late else 'comes at'} {each.at:{MOMENT}}"
    if task.chain is None:
        window = f"{before.name}, not broadcast, takes tile until {each.by:{MOMENT}} only"
        cure = "broadcast the last coat (rules.quartz_last), or abrade and prime"
    else:
        window = f"the window of {before.name} closes at {each.by:{MOMENT}}"
        cure = "abrade and prime, or take more hands, other working hours or another start"
    return Finding(code="window-missed", text=f"{_where(task, names)}: {task.name} {comes}, but {window}: {cure}")
