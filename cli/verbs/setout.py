"""`gaugerod setout`: start lines, cuts, movement joints and tape; alternatives side by side."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

import layout
from cli.keeping import set_out_with
from cli.options import FromOption, JsonFlag, KeepOption, OutFile, PlanArg
from cli.talk import DONE, Talk

if TYPE_CHECKING:
    from pathlib import Path


EXAMPLES = (
    ("setout kitchen.toml", "start lines, cuts, joints, tape"),
    ("setout kitchen.toml --compare patterns", "patterns side by side"),
    ("setout kitchen.toml --why", "what limits the start, and what would free it"),
    ("setout kitchen.toml --set 'tiles.floor.size=[300,300]'", "what if the tile were another"),
)


def command(
    plan: PlanArg,
    *,
    say: Talk,
    as_json: JsonFlag = False,
    pieces: Annotated[bool, typer.Option("--pieces", help="with --json: every whole tile and cut piece")] = False,
    against: Annotated[
        str | None, typer.Option("--compare", metavar="WHAT", help="starts, patterns or tiles side by side", show_default=False)
    ] = None,
    what_if: Annotated[
        list[str] | None,
        typer.Option("--set", metavar="KEY=VALUE", help="what if: tiles.floor.size=[300,300], compared with the plan", show_default=False),
    ] = None,
    why: Annotated[bool, typer.Option("--why", help="what limits each floor's start, and what would free it, set out to see")] = False,
    keep: KeepOption = None,
    earlier: FromOption = None,
    out: OutFile = None,
) -> int:
    """Start lines, cuts, movement joints and tape."""
    if pieces and not as_json:
        raise layout.PlanError("--pieces", "it needs --json", "add --json")
    if why and (against is not None or what_if):
        raise layout.PlanError("--why", "it goes with the plan as it is", "leave --compare and --set out")
    if against is not None:
        return _side_by_side(plan, against, as_json=as_json, out=out, say=say)
    if what_if:
        return _what_if(plan, what_if, as_json=as_json, out=out, say=say)
    kept = set_out_with(layout.read_plan(plan), keep, earlier) if keep is not None else None
    setout = kept.setout if kept else layout.set_out(layout.read_plan(plan))
    if as_json:
        record = layout.setout_record(setout, pieces=pieces)
        if kept:
            record["keeping"] = layout.keeping_record(layout.keeping_costs(kept.setout, kept.free), kept.against_free(), kept.what)
        if why:
            record["why"] = [layout.why_record(each) for each in _why(setout)]
        say.data(layout.to_json(record), out, plan=plan)
    else:
        from cli.report import setout_text

        text = setout_text(setout, plain=say.bare(out)) + (kept.cost_text() if kept else "")
        if why:
            from cli.freeing import why_text

            text += why_text(_why(setout), plain=say.bare(out), tolerance=setout.plan.rules.wall_tolerance)
        say.answer(text, out, plan=plan)
    return say.status(setout)


def _side_by_side(plan: Path, against: str, *, as_json: bool, out: Path | None, say: Talk) -> int:
    """Starts, patterns or tiles of a plan beside each other."""
    found = _compared(plan, against)
    if as_json:
        say.data(layout.to_json(layout.alternatives_record(found)), out, plan=plan)
    else:
        from cli.report import compare_text

        say.answer(compare_text(found, plain=say.bare(out)), out, plan=plan)
    return DONE


def _what_if(plan: Path, keys: list[str], *, as_json: bool, out: Path | None, say: Talk) -> int:
    """What keys of the plan set otherwise would change."""
    from cli.whatif import compared_with

    changes, setout = compared_with(plan, keys)
    if as_json:
        say.data(layout.to_json(layout.changes_record(changes)), out, plan=plan)
    else:
        from cli.differences import changes_text

        say.answer(changes_text(changes, plain=say.bare(out)), out, plan=plan)
    return say.status(setout)


def _why(setout: layout.SetOut) -> list[layout.Why]:
    """What limits the start of each room's floor."""
    return [layout.what_would_free(setout, room) for room in range(len(setout.rooms))]


def _compared(plan: Path, against: str) -> list[layout.Alternative]:
    """Alternatives of a plan."""
    if against not in ("starts", "patterns", "tiles"):
        raise layout.PlanError("--compare", f"{against!r} found", "give starts, patterns or tiles")
    return layout.alternatives(layout.read_plan(plan), against)  # type: ignore[arg-type]  # one of the three: checked above
