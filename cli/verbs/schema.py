"""`gaugerod schema`: the plan file's JSON Schema, so that an editor completes and checks; or its keys as a table to read."""

from __future__ import annotations

from typing import Annotated

import typer

import layout
from cli.options import JsonFlag, OutFile
from cli.talk import DONE, Talk

EXAMPLES = (
    ("schema -o plan.schema.json", "for editors"),
    ("schema --table", "all keys, to read"),
)

TableFlag = Annotated[bool, typer.Option("--table", help="the keys as a table to read, in Markdown")]


def command(*, say: Talk, table: TableFlag = False, as_json: JsonFlag = False, out: OutFile = None) -> int:
    """The plan file's JSON Schema, for editors."""
    import json

    if table and as_json:
        raise layout.PlanError("--table", "--json is given too", "the schema is JSON, the table is Markdown: give one of them")
    say.data(layout.plan_keys() if table else json.dumps(layout.plan_schema(), indent=2, ensure_ascii=False), out)
    return DONE
