"""`gaugerod cuts`: the fewest tiles and the saw list."""

from __future__ import annotations

from typing import Annotated

import typer

import layout
from cli.options import JsonFlag, OutFile, PlanArg
from cli.talk import Talk

EXAMPLES = (
    ("cuts kitchen.toml", "the fewest tiles, the saw list"),
    ("cuts kitchen.toml --stock floor=640", "what is short"),
)


def command(
    plan: PlanArg,
    *,
    say: Talk,
    as_json: JsonFlag = False,
    as_csv: Annotated[bool, typer.Option("--csv", help="print the saw list as CSV")] = False,
    stock: Annotated[
        list[str] | None, typer.Option("--stock", metavar="TILE=N", help="tiles at hand: what is short, what to buy", show_default=False)
    ] = None,
    out: OutFile = None,
) -> int:
    """The fewest tiles that give all cut pieces, and what comes out of each."""
    given = dict(_stock(text) for text in stock or [])
    setout = layout.set_out(layout.read_plan(plan))
    cutting = layout.plan_cuts(setout)
    short = layout.shortages(cutting, given, setout.plan.products)
    orders = layout.tile_orders_of(cutting, setout)
    if as_json:
        say.data(layout.to_json(layout.cuts_record(cutting, setout, orders, short)), out, plan=plan)
    elif as_csv:
        say.data(layout.cuts_csv(cutting, setout), out, plan=plan)
    else:
        from cli.saw import cuts_text

        say.answer(cuts_text(cutting, orders, short, plain=say.bare(out)), out, plan=plan)
    return say.status(setout)


def _stock(text: str) -> tuple[str, int]:
    """`floor=640` as a name and a number."""
    name, sign, number = text.rpartition("=")
    try:
        count = int(number) if sign and len(number) < 12 else None
    except ValueError:
        count = None
    if count is None or not name.strip():
        raise layout.PlanError("--stock", f"{text!r} found", "write the tile's name and how many there are: floor=640")
    return name.strip(), count
