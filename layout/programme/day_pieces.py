"""The day pieces of a programme: each area of membrane and grout, each day of the tile, with what it covers and when."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from layout.plan.works import work_of
from layout.programme.calendar import HOUR
from layout.programme.piece import DayPiece
from layout.programme.pieces import atoms_of, shares, stretch

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable, Iterator, Sequence

    from layout.programme.site import Site
    from layout.programme.task import Task
    from layout.programme.values import Stage
    from layout.quantities.values import TakeOff


def with_shares(tasks: Sequence[Task], takeoff: TakeOff, site: Site) -> list[Task]:
    """Tasks whose areas end where bays and faces do, if that is near and no area takes more than a day of its hands."""
    known: dict[tuple[int, str], list[float]] = {}
    result = []
    for task in tasks:
        kind = "grout" if task.key == "grout" else "coat"
        if task.areas == 1 or (task.chain is None and kind != "grout"):
            result.append(task)
            continue
        if (task.room, kind) not in known:
            atoms = atoms_of(takeoff, task.room, kind)
            total = math.fsum(
                each.hours for each in tasks if (each.room, each.key) == (task.room, task.key if kind == "grout" else "coat 1")
            )
            most = (site.calendar.hours - task.tail * site.climate.slowest) * site.hands_at(task)
            scale = math.fsum(atom.hours for atom in atoms) / total if total else 1.0
            known[task.room, kind] = shares(atoms, task.areas, most * scale)
        result.append(replace(task, hours=task.hours * task.areas * known[task.room, kind][task.area - 1]))
    return result


def day_pieces(takeoff: TakeOff, stages: Sequence[Stage], day_of: Callable[[dt.datetime], dt.date]) -> tuple[DayPiece, ...]:
    """All day pieces, room by room in the order of the works; `day_of` says to which day's shift a moment belongs."""
    result: list[DayPiece] = []
    for room in range(len(takeoff.setout.rooms)):
        own = [stage for stage in stages if stage.room == room]
        result += _by_areas(takeoff, room, [stage for stage in own if work_of(stage.key) in ("prime", "details", "coat")], "coat")
        for key in ("walls", "floor", "bottom"):
            for stage in own:
                if stage.key == key:
                    result += _by_days(takeoff, stage, day_of)
        result += _by_areas(takeoff, room, [stage for stage in own if stage.key == "grout"], "grout")
    return tuple(result)


def _by_areas(takeoff: TakeOff, room: int, stages: list[Stage], kind: str) -> Iterator[DayPiece]:
    if not stages:
        return
    areas = stages[0].areas
    weighed = [stage for stage in stages if stage.key == (kind if kind == "grout" else "coat 1")] or [
        stage for stage in stages if stage.key == stages[0].key
    ]
    total = math.fsum(stage.hours for stage in weighed)
    atoms = atoms_of(takeoff, room, kind)
    at = 0.0
    for area in range(1, areas + 1):
        hours = math.fsum(stage.hours for stage in weighed if stage.area == area) / total if total else 1.0 / areas
        parts = stretch(atoms, at, 1.0 if area == areas else at + hours)
        at += hours
        days = tuple((stage.key, stage.start, stage.end) for stage in stages if stage.area == area)
        yield DayPiece(room, kind, area, areas, parts, tuple(sorted(days, key=lambda each: each[1])))


def _by_days(takeoff: TakeOff, stage: Stage, day_of: Callable[[dt.datetime], dt.date]) -> Iterator[DayPiece]:
    """The days of a stage, each a stretch of it as long as its hours."""
    days: dict[dt.date, list[tuple[dt.datetime, dt.datetime]]] = {}
    for span in stage.spans:
        days.setdefault(day_of(span[0]), []).append(span)
    worked = [math.fsum((end - begin) / HOUR for begin, end in spans) for spans in days.values()]
    atoms = atoms_of(takeoff, stage.room, stage.key)
    total = stage.hours / stage.hands
    at = max(1.0 - math.fsum(worked) / total, 0.0)  # of what is under way, what is left of it
    for number, (hours, spans) in enumerate(zip(worked, days.values(), strict=True), 1):
        upto = 1.0 if number == len(worked) else at + hours / total
        when = ((stage.key, spans[0][0], spans[-1][1]),)
        yield DayPiece(stage.room, stage.key, number, len(worked), stretch(atoms, at, upto), when)
        at = upto
