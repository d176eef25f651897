"""`gaugerod programme`: stages of the works with their curing windows and hold points."""

from __future__ import annotations

import datetime as dt
from typing import Annotated

import typer

import layout
from cli.options import JsonFlag, OutFile, PlanArg
from cli.talk import Talk


def command(
    plan: PlanArg,
    start: Annotated[
        str | None, typer.Option("--start", metavar="DATETIME", help="earliest start, as 2026-11-30T07:00", show_default=False)
    ] = None,
    *,
    say: Talk,
    hands: Annotated[int, typer.Option("--hands", help="people of the crew, over all rooms")] = 2,
    shift: Annotated[str, typer.Option("--shift", metavar="FROM-TO", help="working hours of a day")] = "07:00-16:00",
    days: Annotated[str, typer.Option("--days", metavar="LIST", help="working days, as mon-sat or mon,wed,fri")] = "mon-fri",
    temperature: Annotated[float, typer.Option("--temperature", help="of the substrate, degrees C")] = 20.0,
    humidity: Annotated[
        float | None, typer.Option("--humidity", metavar="PERCENT", help="of the air: the dew point is watched", show_default=False)
    ] = None,
    air: Annotated[
        float | None,
        typer.Option("--air", metavar="DEGREES", help="temperature of the air, C; of the substrate if not given", show_default=False),
    ] = None,
    as_json: JsonFlag = False,
    as_csv: Annotated[bool, typer.Option("--csv", help="print the batch list as CSV: what is mixed when, a row for each pack")] = False,
    as_ical: Annotated[bool, typer.Option("--ical", help="print a calendar (iCalendar, RFC 5545) that phones take in")] = False,
    out: OutFile = None,
) -> int:
    """Stages, curing windows, hold points, batches."""
    if not 1 <= hands <= 50:
        raise layout.PlanError("--hands", f"{hands} found", "give 1 to 50")
    if not 5.0 <= temperature <= 35.0:
        mend = "give 5 to 35 degrees C: outside, the data sheet decides"
        raise layout.PlanError("--temperature", f"{temperature:g} found", mend)
    asked = [name for name, wanted in (("--json", as_json), ("--csv", as_csv), ("--ical", as_ical)) if wanted]
    if len(asked) > 1:
        raise layout.PlanError(asked[-1], f"{asked[0]} is given too", "give one of them")
    begins, calendar = _begin(start), _calendar(shift, days)
    read = layout.read_plan(plan)
    _check_air(read, temperature, air, humidity)
    setout = layout.set_out(read)
    programme = layout.plan_works(layout.take_off(setout), start=begins, hands=hands, temperature=temperature, calendar=calendar)
    if as_json:
        say.data(layout.to_json(layout.programme_record(programme, setout.plan.project)), out, plan=plan)
    elif as_csv:
        say.data(layout.batches_csv(programme, setout.plan.project), out, plan=plan)
    elif as_ical:
        say.data(layout.programme_ical(programme, setout.plan.project), out, plan=plan)
    else:
        from cli.report import programme_text

        say.answer(programme_text(programme, plain=say.bare(out)), out, plan=plan)
    return say.status(setout)


def _check_air(plan: layout.Plan, temperature: float, air: float | None, humidity: float | None) -> None:
    """Refuse what the products or the dew point forbid."""
    if humidity is not None and not 1.0 <= humidity <= 100.0:
        raise layout.PlanError("--humidity", f"{humidity:g} found", "give 1 to 100 %")
    if air is not None and not -20.0 <= air <= 50.0:
        raise layout.PlanError("--air", f"{air:g} found", "give -20 to 50 degrees C")
    if air is not None and humidity is None:
        raise layout.PlanError("--air", "it is given without --humidity", "give both: together they make the dew point")
    why = layout.air_refused(plan.products, temperature, air, humidity)
    if why is not None:
        raise layout.PlanError(f"--{why.key}", why.found, why.mend)


def _begin(start: str | None) -> dt.datetime:
    """The earliest start as typed, without a zone."""
    mend = "give a date and time, as 2026-11-30T07:00"
    if start is None:
        raise layout.PlanError("--start", "it is missing", mend)
    try:
        return dt.datetime.fromisoformat(start).replace(tzinfo=None)
    except ValueError:
        raise layout.PlanError("--start", f"{start!r} found", mend) from None


WEEK = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


def _calendar(shift: str, days: str) -> layout.Calendar:
    """Working hours and days as typed."""
    try:
        begins, ends = (dt.time.fromisoformat(each.strip()) for each in shift.split("-"))
    except ValueError:
        raise layout.PlanError("--shift", f"{shift!r} found", "give working hours, as 07:00-16:00") from None
    if begins.tzinfo or ends.tzinfo or ends <= begins:
        raise layout.PlanError("--shift", f"{shift!r} found", "give hours of one day, the later one last")
    return layout.Calendar(start=begins, end=ends, days=_days(days))


def _days(text: str) -> tuple[int, ...]:
    """Working days, Monday 0: names with commas between, or from one to another."""
    found: set[int] = set()
    for part in text.lower().split(","):
        names = [name.strip()[:3] for name in part.split("-")]
        if len(names) > 2 or any(name not in WEEK for name in names):
            raise layout.PlanError("--days", f"{text!r} found", "give days, as mon-sat or mon,wed,fri")
        first, last = WEEK.index(names[0]), WEEK.index(names[-1])
        found |= {(first + k) % 7 for k in range((last - first) % 7 + 1)}
    return tuple(sorted(found))
