"""`gaugerod takeoff`: quantities and orders as a table, JSON, CSV or a workbook; priced; explained."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, get_args

import typer

import layout
from cli.options import JsonFlag, OutFile, PlanArg, no_stream
from cli.talk import Talk

EXAMPLES = (
    ("takeoff kitchen.toml --rates rates.toml", "quantities, priced"),
    ("takeoff kitchen.toml -o bill.xlsx", "a workbook for the office"),
)


def command(
    plan: PlanArg,
    *,
    say: Talk,
    as_json: JsonFlag = False,
    as_csv: Annotated[bool, typer.Option("--csv", help="print CSV instead of a table")] = False,
    as_xlsx: Annotated[bool, typer.Option("--xlsx", help="write a workbook; name it with --out")] = False,
    rates: Annotated[Path | None, typer.Option("--rates", metavar="FILE", help="price it by a file of rates", show_default=False)] = None,
    explain: Annotated[
        str | None,
        typer.Option(
            "--explain", metavar="ITEM", help="show where a quantity comes from: an item's key or printed name", show_default=False
        ),
    ] = None,
    keys: Annotated[bool, typer.Option("--keys", help="show the items' keys, by which rates and --explain know them")] = False,
    comma: Annotated[bool, typer.Option("--decimal-comma", help="CSV with ; between cells and a comma in numbers")] = False,
    by: Annotated[
        str | None, typer.Option("--by", metavar="GROUP", help="part it by room, storey, stage, section or delivery", show_default=False)
    ] = None,
    out: OutFile = None,
) -> int:
    """Quantities and orders in whole packs."""
    if comma and out is not None and out.suffix.lower() in (".xlsx", ".json"):
        raise layout.PlanError("--decimal-comma", f"a file {out.suffix} has no text with commas", "leave it out, or write a .csv file")
    as_xlsx, as_csv, as_json = _form(out, as_xlsx=as_xlsx, as_csv=as_csv or comma, as_json=as_json)
    if as_xlsx:
        no_stream(out, "a workbook")
    if as_xlsx and out is None:
        raise layout.PlanError("--xlsx", "no file to write is named", "add --out takeoff.xlsx")
    read = [rates] if rates is not None else []
    setout = layout.set_out(layout.read_plan(plan))
    takeoff = layout.take_off(setout)
    orders = layout.place_orders(takeoff)
    bill = layout.price(takeoff, layout.read_rates(rates)) if rates is not None else None
    groups = layout.grouped(takeoff, orders, _group_of(by, setout.plan), bill) if by is not None else ()
    if explain is not None:
        say.answer(_explained(takeoff, orders, explain, plain=say.bare(out)), out, plan=plan, inputs=read)
    elif as_xlsx and out is not None:
        layout.write_xlsx(takeoff, orders, out, bill=bill, plan=plan, inputs=read, force=say.force)
        say.tell(f"wrote {out}")
    elif as_json:
        say.data(layout.to_json(layout.takeoff_record(takeoff, orders, bill, groups)), out, plan=plan, inputs=read)
    elif as_csv and groups:
        say.data(layout.groups_csv(groups, comma=comma), out, plan=plan, inputs=read)
    elif as_csv:
        say.data(layout.takeoff_csv(takeoff, orders, bill, comma=comma), out, plan=plan, inputs=read)
    elif groups:
        from cli.bills import groups_text

        say.answer(
            groups_text(groups, plain=say.bare(out), currency=bill.currency if bill else None, keys=keys), out, plan=plan, inputs=read
        )
    else:
        from cli.report import takeoff_text

        say.answer(takeoff_text(takeoff, orders, plain=say.bare(out), bill=bill, keys=keys), out, plan=plan, inputs=read)
    return say.status(setout)


def _explained(takeoff: layout.TakeOff, orders: tuple[layout.Order, ...], asked: str, *, plain: bool) -> str:
    """Where the quantity of an item comes from."""
    from cli.report import explain_text

    item = takeoff.asked(asked)
    if item is None:
        near = takeoff.near(asked)
        known = f"did you mean {' or '.join(near)}?" if near else "items are " + ", ".join(each.key for each in takeoff.items)
        raise layout.PlanError("--explain", f"there is no item {asked!r}", known)
    return explain_text(item, orders, plain=plain)


def _group_of(text: str, plan: layout.Plan) -> layout.GroupBy:
    """What to part a take-off by."""
    words: tuple[layout.GroupBy, ...] = get_args(layout.GroupBy)
    for word in words:
        if text == word:
            if word == "delivery" and not plan.deliveries:
                raise layout.PlanError(
                    "--by", "the plan has no deliveries", 'give it [[deliveries]] with name = "Level 1" and storeys, rooms or stages'
                )
            return word
    raise layout.PlanError("--by", f"{text!r} found", f"give one of {', '.join(words)}")


def _form(out: Path | None, *, as_xlsx: bool, as_csv: bool, as_json: bool) -> tuple[bool, bool, bool]:
    """What to write, by the flags, or by the file's suffix where no flag says it."""
    if out is None or as_xlsx or as_csv or as_json:
        return as_xlsx, as_csv, as_json
    suffix = out.suffix.lower()
    if suffix in (".xls", ".xlsm", ".ods", ".pdf", ".doc", ".docx"):  # text under such a name would open as a damaged file
        raise layout.PlanError("--out", f"{out.name}: {suffix} is not written", "give .xlsx, .csv or .json, or .txt for the table as text")
    return suffix == ".xlsx", suffix == ".csv", suffix == ".json"
