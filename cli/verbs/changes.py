"""`gaugerod changes`: what differs between two plans, and what it costs to keep what is built."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

import layout
from cli.keeping import Kept, kept_of, plan_before, plan_in, what_to_keep
from cli.options import JsonFlag, KeepOption, OutFile
from cli.talk import Talk


def command(
    old: Annotated[Path, typer.Argument(metavar="OLD", help="plan, or folder of an earlier run", show_default=False)],
    new: Annotated[
        Path | None,
        typer.Argument(metavar="[NEW]", help="plan, or folder; without it the folder OLD against the set before", show_default=False),
    ] = None,
    *,
    say: Talk,
    keep: KeepOption = None,
    rates: Annotated[Path | None, typer.Option("--rates", metavar="FILE", help="price it by a file of rates", show_default=False)] = None,
    as_json: JsonFlag = False,
    as_csv: Annotated[bool, typer.Option("--csv", help="print CSV instead of tables")] = False,
    out: OutFile = None,
) -> int:
    """What differs between two plans: rooms, lines to snap, cuts, quantities, orders, findings."""
    what = what_to_keep(keep) if keep is not None else ()
    files = _two(old, new)
    before, after = (layout.set_out(layout.read_plan(file)) for file in files)
    _refuse_strangers(before, after, files)
    kept = kept_of(before, after, what) if what else None
    priced = layout.read_rates(rates) if rates else None
    changes = layout.compare_setouts(before, kept.setout if kept else after, rates=priced)
    read = [*files[:1], *([rates] if rates else [])]
    if as_json:
        record = layout.changes_record(changes)
        if kept:
            record["keeping"] = _keeping(kept, priced)
        say.data(layout.to_json(record), out, plan=files[1], inputs=read)
    elif as_csv:
        say.data(layout.changes_csv(changes), out, plan=files[1], inputs=read)
    else:
        from cli.differences import changes_text

        text = changes_text(changes, plain=say.bare(out))
        say.answer(text + (kept.cost_text(priced) if kept else ""), out, plan=files[1], inputs=read)
    return say.status(kept.setout if kept else after)


def _two(old: Path, new: Path | None) -> tuple[Path, Path]:
    """The two plan files that are compared."""
    if new is not None:
        return plan_in(old), plan_in(new)
    if not old.is_dir():
        raise layout.PlanError(str(old), "one plan alone", "give two plans or folders; a folder alone is held against the set before it")
    before = plan_before(old)
    if before is None:
        raise layout.PlanError(str(old), "no earlier set is kept in it", "run a changed plan into it first, or give two plans or folders")
    return before, plan_in(old)


def _refuse_strangers(before: layout.SetOut, after: layout.SetOut, files: tuple[Path, Path]) -> None:
    """Two plans that have no room in common are of different rooms: comparing them says nothing."""
    if any(a is not None and b is not None for a, b in layout.rooms_matched(before.rooms, after.rooms)):
        return
    names = [", ".join(room.name for room in setout.rooms[:4]) for setout in (before, after)]
    found = f"no room of it is one of {files[0]}: {names[1]} here, {names[0]} there, of other shapes too"
    raise layout.PlanError(str(files[1]), found, "give two issues of one plan; a room is known by its name, then by its shape")


def _keeping(kept: Kept, rates: layout.Rates | None) -> dict[str, object]:
    return layout.keeping_record(layout.keeping_costs(kept.setout, kept.free), kept.against_free(rates), kept.what)
