"""`gaugerod schema`: the plan file's JSON Schema, so that an editor completes and checks."""

from __future__ import annotations

import layout
from cli.options import OutFile
from cli.talk import DONE, Talk


def command(*, say: Talk, out: OutFile = None) -> int:
    """The plan file's JSON Schema, for editors."""
    import json

    say.answer(json.dumps(layout.plan_schema(), indent=2, ensure_ascii=False), out)
    return DONE
