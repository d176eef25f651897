"""`gaugerod check`: whether a plan is valid, and what to look at in it."""

from __future__ import annotations

import layout
from cli.options import JsonFlag, OutFile, PlanArg
from cli.talk import Talk


def command(plan: PlanArg, *, say: Talk, as_json: JsonFlag = False, out: OutFile = None) -> int:
    """Validity and findings only."""
    setout = layout.set_out(layout.read_plan(plan))
    if as_json:
        rooms = [{"name": room.name, "warnings": [layout.finding_record(f) for f in room.findings]} for room in setout.rooms]
        say.data(layout.to_json({"schema": "gaugerod/check/1", "rooms": rooms}), out, plan=plan)
    else:
        from cli.report import findings_text

        say.answer(findings_text(setout, plain=say.bare(out)), out, plan=plan)
    return say.status(setout)
