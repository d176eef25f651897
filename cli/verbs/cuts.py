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
    ('cuts kitchen.toml --stock floor=640 --broken "floor=2 boxes"', "what is short after a fall"),
    ("cuts kitchen.toml --by day --start 2026-11-30T07:00", "what is sawn for which day"),
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
    broken: Annotated[
        list[str] | None,
        typer.Option(
            "--broken",
            metavar="TILE=N",
            help="tiles that broke, of the stock or else of what was ordered: floor=30, or floor=2 boxes",
            show_default=False,
        ),
    ] = None,
    by: Annotated[
        str | None, typer.Option("--by", metavar="ORDER", help="fence, bay or day: the saw list in that order", show_default=False)
    ] = None,
    start: Annotated[
        str | None,
        typer.Option(
            "--start", metavar="DATETIME", help="with --by day: earliest start of the works, 2026-11-30T07:00", show_default=False
        ),
    ] = None,
    out: OutFile = None,
) -> int:
    """The fewest tiles that give all cut pieces, and what comes out of each."""
    given, lost = dict(_stock(text) for text in stock or []), dict(_broken(text) for text in broken or [])
    if start is not None and by != "day":
        raise layout.PlanError("--start", f"{start} found", "it goes with --by day")
    setout = layout.set_out(layout.read_plan(plan))
    cutting = layout.plan_cuts(setout)
    orders = layout.tile_orders_of(cutting, setout)
    short = layout.shortages(cutting, given, setout.plan.products, lost, orders)
    groups = () if by is None else _groups(cutting, setout, by, start)
    if as_json:
        say.data(layout.to_json(layout.cuts_record(cutting, setout, orders, short, groups)), out, plan=plan)
    elif as_csv:
        say.data(layout.cuts_csv(cutting, setout, groups), out, plan=plan)
    else:
        from cli.saw import cuts_text

        say.answer(cuts_text(cutting, orders, short, groups, plain=say.bare(out)), out, plan=plan)
    return say.status(setout)


def _groups(cutting: layout.CuttingPlan, setout: layout.SetOut, by: str, start: str | None) -> tuple[layout.SawGroup, ...]:
    """The saw list in an order of the works."""
    order: layout.SawOrder | None = next((each for each in layout.SAW_ORDERS if each == by), None)
    if order is None:
        raise layout.PlanError("--by", f"{by!r} found", "give fence, bay or day")
    if order != "day":
        return layout.saw_groups(cutting, setout, order)
    works = layout.works_with(setout.plan.works, {} if start is None else {"start": start}, setout.plan.source)
    if works.start is None and layout.start_of(setout.plan) is None:
        raise layout.PlanError(
            "--start", "it is missing", "give a date and time, as 2026-11-30T07:00, or works.start or project.date in the plan"
        )
    programme = layout.plan_works(layout.take_off(setout), works=works)
    return layout.saw_groups(cutting, setout, order, layout.laying_days(programme))


def _broken(text: str) -> tuple[str, tuple[int, bool]]:
    """`floor=2 boxes` or `floor=30` as a name, a number, and whether it is boxes."""
    name, _, number = text.rpartition("=")
    words = number.split()
    if not name.strip() or len(words) not in (1, 2) or (len(words) == 2 and words[1] not in ("box", "boxes", "tile", "tiles")):
        raise layout.PlanError("--broken", f"{text!r} found", 'write the tile\'s name and how many broke: floor=30, or "floor=2 boxes"')
    return name.strip(), (_stock(f"{name}={words[0]}", "--broken")[1], words[-1].startswith("box"))


def _stock(text: str, flag: str = "--stock") -> tuple[str, int]:
    """`floor=640` as a name and a number."""
    name, sign, number = text.rpartition("=")
    try:
        count = int(number) if sign and len(number) < 12 else None
    except ValueError:
        count = None
    if count is None or not name.strip():
        raise layout.PlanError(flag, f"{text!r} found", "write the tile's name and how many there are: floor=640")
    return name.strip(), count
