"""`gaugerod page`: one file for the crew's phone, with drawings, tables and ticks; it needs nothing else."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

import layout
from cli.options import JsonFlag, LanguageOption, PlanArg, check_language, stem_of
from cli.talk import Talk

EXAMPLES = (
    ("page kitchen.toml", "a page beside you, named after the plan"),
    ("page kitchen.toml -o phone.html", "under a name of your own"),
    ("page kitchen.toml --language de", "in German"),
)


def command(
    plan: PlanArg,
    *,
    say: Talk,
    out: Annotated[
        Path | None,
        typer.Option("--out", "-o", metavar="FILE", help="file to write; named after the plan if not given", show_default=False),
    ] = None,
    language: LanguageOption = None,
    as_json: JsonFlag = False,
) -> int:
    """One file for the crew's phone: drawings, tables, ticks."""
    check_language(language)
    setout = layout.audited(layout.set_out(layout.read_plan(plan)))
    text = layout.page_html(layout.take_off(setout), language=language)
    place = out or Path(f"{stem_of(plan)}-page.html")
    say.data(text, place, plan=plan)
    if as_json and str(place) != "-":
        say.data(layout.to_json({"schema": "gaugerod/page/1", "file": str(place), "bytes": len(text.encode())}))
    say.tell(f"wrote {place}, {len(text.encode()) / 1000:.0f} KB: open it in a browser, on the phone too; it needs nothing else")
    return say.status(setout)
