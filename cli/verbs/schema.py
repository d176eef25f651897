"""`gaugerod schema`: the plan file's JSON Schema, so that an editor completes and checks; or its keys as a table to read."""

from __future__ import annotations

from typing import Annotated

import typer

import layout
from cli.options import OutFile
from cli.talk import DONE, Talk

TableFlag = Annotated[bool, typer.Option("--table", help="the keys as a table to read, in Markdown")]


def command(*, say: Talk, table: TableFlag = False, out: OutFile = None) -> int:
    """The plan file's JSON Schema, for editors."""
    import json

    say.data(layout.plan_keys() if table else json.dumps(layout.plan_schema(), indent=2, ensure_ascii=False), out)
    return DONE
