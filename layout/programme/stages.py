"""The works programme: stages of each room by areas, with the windows in which the next may start.

Work is done in working hours; curing goes on round the clock, as fast as the day's temperature lets it (`climate`). What the plan
says under [works] holds unless it is given here.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace
from typing import TYPE_CHECKING

from layout.errors import Finding, PlanError
from layout.programme.batches import batch_list
from layout.programme.case import Case, walk
from layout.programme.clash import chain_of
from layout.programme.cures import MOST_TRIED, cures_of
from layout.programme.day_pieces import day_pieces
from layout.programme.done import as_it_was, is_done, latest, with_measured
from layout.programme.task import HOLDS
from layout.programme.told import figures_told, in_rooms, missed_in_words, one_a_room, too_cold, waits, weather_ends
from layout.programme.values import Programme, Stage
from layout.words import listed, worded

if TYPE_CHECKING:
    from layout.plan.values import Plan
    from layout.plan.works import Works
    from layout.programme.calendar import Calendar
    from layout.programme.case import Walked
    from layout.programme.done import DoneRow
    from layout.programme.site import Site
    from layout.programme.task import After
    from layout.quantities.values import TakeOff

LAST_YEAR = 9000
"""Works begin no later: what follows must still be a date."""


def start_of(plan: Plan) -> dt.datetime | None:
    """When the works of a plan begin: `works.start`, else the first shift of the project's date; None if it says neither."""
    if plan.works.start is not None:
        return plan.works.start
    return None if plan.project.date is None else dt.datetime.combine(plan.project.date, plan.works.shift.start)


def plan_works(
    takeoff: TakeOff,
    *,
    start: dt.datetime | None = None,
    hands: int | None = None,
    temperature: float | None = None,
    calendar: Calendar | None = None,
    works: Works | None = None,
    done: tuple[DoneRow, ...] = (),
) -> Programme:
    """Stages of all rooms, worked by one crew.

    Parameters
    ----------
    start : earliest moment of the first stage, as the site's clock shows it; that of the plan if not given.
    hands : people of the crew, which works at one thing at a time.
    temperature : of the substrate while it cures, degrees C.
    calendar : working hours, instead of those of the keys.
    works : the keys of [works], instead of the plan's own.
    done : what was really done; the rest is planned from the last moment that is told, and what can no longer be met comes first.

    Raises
    ------
    PlanError : no start, one after `LAST_YEAR` or that the clock leaves out; air in which resin is never laid; figures that are asked for.
    """
    plan = takeoff.setout.plan
    own = works or plan.works
    own = replace(own, hands=own.hands if hands is None else hands)
    if temperature is not None:
        own = replace(own, temperature=temperature, weather=())
    begin = start or own.start or start_of(plan)
    if begin is None:
        raise PlanError("start of the works", "it is missing", "give works.start, project.date or --start, as 2026-11-30T07:00")
    if begin.year > LAST_YEAR:
        where = "start of the works (works.start, project.date or --start)"
        raise PlanError(where, f"{begin:%Y-%m-%d} found", f"give a date up to the year {LAST_YEAR}")
    notes = figures_told(plan.products, ask=own.ask_figures, source=plan.source)
    if done:
        begin = max(begin, latest(done))
    case = Case(works=with_measured(own, done), start=begin, quartz=plan.rules.quartz_last, calendar=calendar, done=done)
    walked = walk(takeoff, case)
    if own.weather and walked.tasks:
        notes += weather_ends(walked.site, walked.made.end)
    return _programme(takeoff, case, walked, notes)


def _programme(takeoff: TakeOff, case: Case, walked: Walked, notes: list[Finding]) -> Programme:
    """The programme of a case that is walked through, with all that is told of it."""
    tasks, site, made = walked.tasks, walked.site, walked.made
    names = tuple(room.name for room in takeoff.setout.rooms)
    products = takeoff.setout.plan.products
    start = site.calendar.running(case.start)
    stages = _stages(walked, start)
    ordered = tuple(sorted(stages, key=lambda stage: (stage.room, stage.start, stage.end)))
    traffic, water, load = _in_use(takeoff, ordered, site)
    batches, told = batch_list(takeoff, ordered, site)
    missed, lost = _missed(takeoff, case, walked, names)
    was = as_it_was(tasks, walked.known, made.done, case.done, names, site)
    findings = [*lost, *was, *waits(tasks, made, names, site), *too_cold(tasks, made.done, walked.known, names, site, start), *missed]
    first = site.climate.on(case.start.date()).surface
    at = min((stage.start for stage in ordered), default=start)
    shown = site.calendar.shown
    factor = site.climate.factor(at)
    return Programme(
        rooms=names,
        stages=tuple(_shown(stage, site) for stage in ordered),
        temperature=first,
        foot_traffic=in_rooms(traffic, site),
        full_load=in_rooms(load, site),
        water=in_rooms(water, site),
        wash=(products.grout_wash_from_min.value * factor, products.grout_wash_by_min.value * factor),
        spread_m2=_pace(takeoff) * products.adhesive_open_min.value / 60.0 * site.climate.factor(at, pot=True),
        findings=tuple(findings),
        batches=tuple(
            replace(
                batch,
                at=shown(batch.at),
                by=shown(batch.by),
                washed=None if batch.washed is None else shown(batch.washed),
                wash_from=None if batch.wash_from is None else shown(batch.wash_from),
            )
            for batch in batches
        ),
        batch_findings=tuple(told),
        pieces=tuple(
            replace(piece, days=tuple((key, shown(begin), shown(end)) for key, begin, end in piece.days))
            for piece in day_pieces(takeoff, ordered, site.calendar.day_of)
        ),
        notes=tuple(notes),
        works=case.works,
        calendar=site.calendar,
    )


def _pace(takeoff: TakeOff) -> float:
    """m² of tile an hour and hand over all surfaces, cuts within it; the base's output where none is fixed."""
    hours = math.fsum(part.quantity for part in takeoff.worked("fixing"))
    return (
        math.fsum(part.quantity for part in takeoff.worked("tiled")) / hours
        if hours > 0.0
        else takeoff.setout.plan.products.adhesive_m2_h.value
    )


def _stages(walked: Walked, start: dt.datetime) -> list[Stage]:
    """All tasks as stages, in running time."""
    follow: dict[int, list[After]] = {}
    for task in walked.tasks:
        for after in task.after:
            follow.setdefault(after.task, []).append(after)
    opens = walked.site.calendar.opens(start)
    return [_stage(walked, k, follow.get(k, []), opens) for k in range(len(walked.tasks))]


def _stage(walked: Walked, k: int, follow: list[After], opens: dt.datetime) -> Stage:
    """Task `k` with its times, from when and by when it may start itself, and from when and by when the first of what waits for it may."""
    task, every, site = walked.tasks[k], walked.made.done, walked.site
    done = every[k]
    windows = [after.by for after in follow if after.by is not None]
    own = [site.after(every[after.task].begin, after.by) for after in task.after if after.by is not None]
    return Stage(
        room=task.room,
        key=task.key,
        start=done.begin,
        end=done.end,
        hours=task.hours,
        hands=site.hands_at(task),
        next_from=site.after(done.end, follow[0].wait if follow else 0.0),
        next_by=site.after(done.begin, min(windows)) if windows else None,
        hold=HOLDS.get(task.key, ""),
        earliest=max([opens, *(site.after(every[after.task].end, after.wait) for after in task.after)]),
        latest=min(own, default=None),
        area=task.area,
        areas=task.areas,
        spans=done.spans,
        done=is_done(walked.known, k),
    )


def _shown(stage: Stage, site: Site) -> Stage:
    """A stage as the site's clock shows it."""
    if not site.calendar.zone:
        return stage
    shown = site.calendar.shown
    return replace(
        stage,
        start=shown(stage.start),
        end=shown(stage.end),
        next_from=shown(stage.next_from),
        next_by=None if stage.next_by is None else shown(stage.next_by),
        earliest=shown(stage.earliest),
        latest=None if stage.latest is None else shown(stage.latest),
        spans=tuple((shown(begin), shown(end)) for begin, end in stage.spans),
    )


def _in_use(
    takeoff: TakeOff, stages: tuple[Stage, ...], site: Site
) -> tuple[dict[int, dt.datetime], dict[int, dt.datetime], dict[int, dt.datetime]]:
    """When each room may be walked on, wetted, and loaded with chemicals, in running time."""
    products = takeoff.setout.plan.products
    traffic: dict[int, dt.datetime] = {}
    water: dict[int, dt.datetime] = {}
    load: dict[int, dt.datetime] = {}
    for stage in stages:
        ends, wet = [stage.next_from], []
        if stage.key == "grout":
            foot = site.after(stage.end, products.grout_cure_h.value)
            traffic[stage.room] = max(traffic.get(stage.room, stage.end), foot)
            wet.append(foot)
            ends.append(site.after(stage.end, products.load_cure_h.value))
        if stage.key == "sealant":
            wet.append(site.after(stage.end, products.sealant_cure_h.value))
            ends.append(wet[-1])
        load[stage.room] = max([*ends, *([load[stage.room]] if stage.room in load else [])])
        if wet:
            water[stage.room] = max([*wet, *([water[stage.room]] if stage.room in water else [])])
    return traffic, water, load


def _missed(takeoff: TakeOff, case: Case, walked: Walked, names: tuple[str, ...]) -> tuple[list[Finding], list[Finding]]:
    """Windows that are missed, each with the chain that leads to it; for the first, what keeps them, tried.

    Second those that can no longer be kept: what they count from is done, and they close before the rest begins.
    """
    tried = 0
    result: list[Finding] = []
    lost: list[Finding] = []
    now = walked.site.calendar.running(case.start)
    for each in one_a_room(walked.tasks, walked.made.missed):
        text = missed_in_words(walked.tasks, each, names, walked.site)
        if is_done(walked.known, each.after) and each.by <= now:
            text = worded("Can no longer be met: {text}: abrade and prime again, and ask the product's maker", text=text)
            lost.append(Finding(code="window-missed", text=text))
            continue
        task = walked.tasks[each.task]
        never = walked.never.get(task.room) if task.chain is None else None
        chain = never or chain_of(walked.tasks, walked.made.done, each, walked.site)
        text = worded("{text}. The chain: {chain}", text=text, chain=chain)
        if tried < MOST_TRIED:
            tried += 1
            text = listed((text, cures_of(takeoff, case, task, walked.tasks[each.after])), ". ")
        result.append(Finding(code="window-missed", text=text))
    return result, lost
