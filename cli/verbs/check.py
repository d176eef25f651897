"""`gaugerod check`: whether a plan is valid, and what to look at in it; or what a finding means."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

import layout
from cli.options import JsonFlag, OutFile
from cli.talk import DONE, Talk

EXAMPLES = (
    ("check kitchen.toml", "slips, and what to look at"),
    ("check --explain pond", "what a finding means"),
)


def command(
    plan: Annotated[Path | None, typer.Argument(metavar="PLAN", help="plan file (TOML)", show_default=False)] = None,
    *,
    say: Talk,
    explain: Annotated[
        str | None,
        typer.Option("--explain", metavar="CODE", help="what a finding means, why, and an example; needs no plan", show_default=False),
    ] = None,
    mend: Annotated[bool, typer.Option("--mend", help="put the starts that findings offer into the plan, comments kept")] = False,
    as_json: JsonFlag = False,
    out: OutFile = None,
) -> int:
    """Validity and findings only."""
    if explain is not None:
        say.answer(code_text(explain), out)
        return DONE
    if plan is None:
        raise layout.PlanError("PLAN", "it is missing", "give a plan file, or --explain CODE")
    if mend:
        return mended(plan, out, say, as_json=as_json)
    setout = layout.set_out(layout.read_plan(plan))
    if as_json:
        rooms = [{"name": room.name, "warnings": [layout.finding_record(f) for f in room.findings]} for room in setout.rooms]
        say.data(layout.to_json({"schema": "gaugerod/check/1", "rooms": rooms}), out, plan=plan)
    else:
        from cli.report import findings_text

        say.answer(findings_text(setout, plain=say.bare(out)), out, plan=plan)
    return say.status(setout)


def mended(plan: Path, out: Path | None, say: Talk, *, as_json: bool) -> int:
    """Fix the start of each floor to the one that its finding offers, once it was laid and held."""
    from cli.edits import edit, own_room

    done: list[layout.Mended] = []

    def change(text: str) -> str:
        source = layout.source_name(plan)
        before = layout.set_out(layout.parse_plan(text, source, folder=plan.parent))
        offers = layout.offered_mends(before)
        if not offers:
            raise layout.PlanError(source, "no finding offers a mend that can be made by itself", f"see gaugerod check {source}")
        starts = {own_room(text, before.plan, k): (before.plan.rooms[k].floor_tile, mend.to) for k, mend in offers.items()}
        changed = layout.with_starts(text, starts)
        done.extend(layout.mends_taken(before, layout.set_out(layout.parse_plan(changed, source, folder=plan.parent))))
        return changed

    edit(plan, change, out, say)
    if as_json and str(plan) != "-":
        rows = [{"room": each.room, "start": each.start, "weak_before": each.weak_before, "weak_after": each.weak_after} for each in done]
        say.data(layout.to_json({"schema": "gaugerod/mend/1", "plan": str(out or plan), "mended": rows}))
    for each in done:
        say.tell(each.words())
    return DONE


def code_text(name: str) -> str:
    """What a finding says, its weight, why it matters, what mends it and a plan that shows it."""
    import difflib

    found = layout.CODES.get(name)
    if found is None:
        near = difflib.get_close_matches(name[:100], layout.CODES, n=1)
        raise layout.PlanError(
            "--explain",
            f"there is no finding {name[:100]!r}",
            f"did you mean {near[0]}?" if near else "codes are " + ", ".join(layout.CODES),
        )
    lines = [f"{name} ({found.weight}): {found.words}", f"why:  {found.why}", f"mend: {found.mend}"]
    if found.example:
        lines += ["a plan that shows it:", "", *(f"    {line}" for line in found.example.splitlines())]
    return "\n".join(lines)
