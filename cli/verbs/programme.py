"""`gaugerod programme`: stages of the works with their curing windows and hold points."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

import layout
from cli.options import JsonFlag, OutFile, PlanArg
from cli.talk import Talk

EXAMPLES = (
    ("programme kitchen.toml --start 2026-11-30T07:00", "stages and windows"),
    ("programme kitchen.toml --start 2026-11-30T07:00 --ical -o works.ics", "a calendar for the phone"),
)

StartOption = Annotated[
    str | None, typer.Option("--start", metavar="DATETIME", help="earliest start, as 2026-11-30T07:00", show_default=False)
]
HandsOption = Annotated[int | None, typer.Option("--hands", help="people of the crew, over all rooms", show_default=False)]
ShiftOption = Annotated[
    str | None,
    typer.Option("--shift", metavar="FROM-TO", help="working hours of a day, 07:00-16:00 if not given", show_default=False),
]
DaysOption = Annotated[
    str | None, typer.Option("--days", metavar="LIST", help="working days, as mon-sat or mon,wed,fri", show_default=False)
]
HolidaysOption = Annotated[
    str | None,
    typer.Option("--holidays", metavar="LIST", help="days off, as 2026-12-24 to 2027-01-03,2027-04-02", show_default=False),
]
ZoneOption = Annotated[
    str | None, typer.Option("--zone", metavar="NAME", help="time zone of the site, as Europe/Berlin", show_default=False)
]
TemperatureOption = Annotated[
    str | None,
    typer.Option(
        "--temperature",
        metavar="C|FILE",
        help="of the substrate, degrees C, or a CSV file: date,temperature[,humidity,air]",
        show_default=False,
    ),
]
HumidityOption = Annotated[
    float | None, typer.Option("--humidity", metavar="PERCENT", help="of the air: the dew point is watched", show_default=False)
]
AirOption = Annotated[
    float | None,
    typer.Option("--air", metavar="DEGREES", help="temperature of the air, C; of the substrate if not given", show_default=False),
]
DoneOption = Annotated[
    Path | None,
    typer.Option("--done", metavar="FILE", help="what was really done, CSV or JSON: the rest is planned again", show_default=False),
]
CsvFlag = Annotated[bool, typer.Option("--csv", help="print the batch list as CSV: what is mixed when, a row for each pack")]
IcalFlag = Annotated[bool, typer.Option("--ical", help="print a calendar (iCalendar, RFC 5545) that phones take in")]


def command(
    plan: PlanArg,
    start: StartOption = None,
    *,
    say: Talk,
    hands: HandsOption = None,
    shift: ShiftOption = None,
    days: DaysOption = None,
    holidays: HolidaysOption = None,
    zone: ZoneOption = None,
    temperature: TemperatureOption = None,
    humidity: HumidityOption = None,
    air: AirOption = None,
    done: DoneOption = None,
    as_json: JsonFlag = False,
    as_csv: CsvFlag = False,
    as_ical: IcalFlag = False,
    out: OutFile = None,
) -> int:
    """Stages, curing windows, hold points, batches. Flags go before the keys of [works]."""
    asked = [name for name, wanted in (("--json", as_json), ("--csv", as_csv), ("--ical", as_ical)) if wanted]
    if len(asked) > 1:
        raise layout.PlanError(asked[-1], f"{asked[0]} is given too", "give one of them")
    read = layout.read_plan(plan)
    off = None if holidays is None else [each.strip() for each in holidays.split(",")]
    given = {"start": start, "hands": hands, "shift": shift, "days": days, "holidays": off, "zone": zone, "humidity": humidity, "air": air}
    works = layout.works_with(
        _warm(read.works, temperature), {key: value for key, value in given.items() if value is not None}, read.source
    )
    if works.start is None and layout.start_of(read) is None:
        raise layout.PlanError(
            "--start", "it is missing", "give a date and time, as 2026-11-30T07:00, or works.start or project.date in the plan"
        )
    setout = layout.set_out(read)
    programme = layout.plan_works(layout.take_off(setout), works=works, done=() if done is None else layout.read_done(done))
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


def _warm(works: layout.Works, given: str | None) -> layout.Works:
    """The keys of the plan with a temperature as typed: one number for all days, or a file of days."""
    if given is None:
        return works
    try:
        degrees = float(given.replace(",", "."))
    except ValueError:
        if not Path(given).exists() and Path(given).suffix == "":
            raise layout.PlanError("--temperature", f"{given!r} found", "give degrees C, or a CSV file of days") from None
        return layout.works_with(works, {}, "--temperature", weather=layout.read_weather(given))
    return layout.works_with(works, {"temperature": degrees}, "--temperature", weather=())
