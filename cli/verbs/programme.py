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
    temperature: Annotated[float, typer.Option("--temperature", help="of the substrate, degrees C")] = 20.0,
    as_json: JsonFlag = False,
    out: OutFile = None,
) -> int:
    """Stages, curing windows, hold points."""
    if not 1 <= hands <= 50:
        raise layout.PlanError("--hands", f"{hands} found", "give 1 to 50")
    if not 5.0 <= temperature <= 35.0:
        mend = "give 5 to 35 degrees C: outside, the data sheet decides"
        raise layout.PlanError("--temperature", f"{temperature:g} found", mend)
    begins = _begin(start)
    setout = layout.set_out(layout.read_plan(plan))
    programme = layout.plan_works(layout.take_off(setout), start=begins, hands=hands, temperature=temperature)
    if as_json:
        say.data(layout.to_json(layout.programme_record(programme, setout.plan.project)), out, plan=plan)
    else:
        from cli.report import programme_text

        say.answer(programme_text(programme, plain=say.bare(out)), out, plan=plan)
    return say.status(setout)


def _begin(start: str | None) -> dt.datetime:
    """The earliest start as typed, without a zone."""
    mend = "give a date and time, as 2026-11-30T07:00"
    if start is None:
        raise layout.PlanError("--start", "it is missing", mend)
    try:
        return dt.datetime.fromisoformat(start).replace(tzinfo=None)
    except ValueError:
        raise layout.PlanError("--start", f"{start!r} found", mend) from None
