"""`gaugerod changes`: what differs between two plans, and what it costs to keep what is built."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

import layout
from cli.options import JsonFlag, OutFile
from cli.talk import Talk

KEEP = ("lines",)


def command(
    old: Annotated[Path, typer.Argument(metavar="OLD", help="plan, or folder of an earlier run", show_default=False)],
    new: Annotated[Path, typer.Argument(metavar="NEW", help="plan, or folder of an earlier run", show_default=False)],
    *,
    say: Talk,
    keep: Annotated[
        str | None, typer.Option("--keep", metavar="lines", help="leave start lines where they were snapped", show_default=False)
    ] = None,
    rates: Annotated[Path | None, typer.Option("--rates", metavar="FILE", help="price it by a file of rates", show_default=False)] = None,
    as_json: JsonFlag = False,
    as_csv: Annotated[bool, typer.Option("--csv", help="print CSV instead of tables")] = False,
    out: OutFile = None,
) -> int:
    """What differs between two plans: rooms, lines to snap, cuts, quantities, orders, findings."""
    if keep is not None and keep not in KEEP:
        raise layout.PlanError("--keep", f"{keep!r} found", "give " + " or ".join(KEEP))
    files = [plan_in(old), plan_in(new)]
    before, after = (layout.set_out(layout.read_plan(file)) for file in files)
    kept = layout.set_out(layout.keep_lines(before, after)) if keep else None
    changes = layout.compare_setouts(before, kept or after, rates=layout.read_rates(rates) if rates else None)
    read = [*files[:1], *([rates] if rates else [])]
    if as_json:
        say.data(layout.to_json(layout.changes_record(changes)), out, plan=files[1], inputs=read)
    elif as_csv:
        say.data(layout.changes_csv(changes), out, plan=files[1], inputs=read)
    else:
        from cli.differences import changes_text, cost_of_keeping

        text = changes_text(changes, plain=say.bare(out))
        say.answer(text + (cost_of_keeping(kept, after) if kept else ""), out, plan=files[1], inputs=read)
    return say.status(kept or after)


def plan_in(place: Path) -> Path:
    """A plan file, or the plan that an earlier run kept in its folder."""
    if not place.is_dir():
        return place
    found = sorted(place.glob("*-plan.toml"))
    if len(found) != 1:
        what = "no plan of an earlier run is in it" if not found else f"{len(found)} plans are in it"
        raise layout.PlanError(str(place), what, "name the plan file itself, or a folder that `gaugerod run` wrote")
    return found[0]
