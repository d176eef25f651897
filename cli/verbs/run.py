"""`gaugerod run`: everything into one folder, and a summary on the screen."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

import layout
from cli.keeping import kept_in, set_out_with
from cli.options import (
    DpiOption,
    FromOption,
    JsonFlag,
    KeepOption,
    LanguageOption,
    PaperOption,
    PlainDxfFlag,
    PlanArg,
    ScaleOption,
    check_language,
    check_paper,
    no_stream,
    stem_of,
)
from cli.talk import Talk

EXAMPLES = (
    ("run kitchen.toml -o out", "everything into a folder"),
    ("run - -o out --paper A3 < kitchen.toml", "a plan from standard input"),
)

KINDS: tuple[str, ...] = ("dxf", "png", "pdf")
"""Formats of the sheets."""


def command(
    plan: PlanArg,
    *,
    say: Talk,
    out: Annotated[
        Path | None,
        typer.Option("--out", "-o", metavar="DIR", help="folder to write into; named after the plan if not given", show_default=False),
    ] = None,
    paper: PaperOption = None,
    scale: ScaleOption = None,
    dpi: DpiOption = 300,
    plain_dxf: PlainDxfFlag = False,
    keep: KeepOption = None,
    earlier: FromOption = None,
    language: LanguageOption = None,
    as_json: JsonFlag = False,
) -> int:
    """Everything into one folder: sheets, tables, programme, JSON, and a summary on the screen."""
    check_paper(paper, scale)
    check_language(language)
    no_stream(out, "a folder")
    stem = stem_of(plan)
    folder = out or Path(f"{stem}-out")
    kept = set_out_with(layout.read_plan(plan), keep, earlier or _if_there(folder / f"{stem}-plan.toml")) if keep is not None else None
    setout = layout.audited(kept.setout if kept else layout.set_out(layout.read_plan(plan)))
    takeoff = layout.take_off(setout)
    orders = layout.place_orders(takeoff)
    works = layout.plan_works(takeoff) if layout.start_of(setout.plan) is not None else None
    sheets = layout.draw_sheets(setout, takeoff, works, paper=paper, scale=scale, language=language)
    record = layout.to_json(layout.setout_record(setout))
    changed, earlier_plan = _against(folder, stem, setout)
    with say.batch(folder, plan=plan) as batch:
        with say.progress(layout.drawing_steps(sheets, KINDS), f"drawing {len(sheets)} sheets") as told:
            layout.stage_sheets(batch, sheets, stem, KINDS, dpi=dpi, plain_dxf=plain_dxf, told=told)
        _stage_records(batch, stem, takeoff, orders, record, works)
        if earlier_plan:
            batch.path(f"{stem}-plan-before.toml").write_text(earlier_plan, encoding="utf-8", newline="")
        page = layout.page_html(takeoff, sheets if paper is None and scale is None else None, language=language)
        batch.path(f"{stem}-page.html").write_text(page, encoding="utf-8", newline="")
        names = batch.names
    if as_json:
        say.data(record)
    else:
        from cli.report import summary_text

        say.answer(summary_text(setout, takeoff, orders, plain=say.plain))
    say.tell(f"wrote {len(names)} files into {folder}:")
    for name in names:
        say.tell(f"  {name}")
    for line in changed:
        say.tell(line)
    if kept:
        say.tell(kept.cost_text().strip("\n"))
    return say.status(setout)


def _if_there(path: Path) -> Path | None:
    return path if path.is_file() else None


def _against(folder: Path, stem: str, setout: layout.SetOut) -> tuple[list[str], str]:
    """What changed against the set that stands in a folder, in a few lines, and the plan of the issue before this one.

    None where none stands there or it cannot be read. A set that is made again keeps the issue that was before it.
    """
    earlier, older = folder / f"{stem}-plan.toml", folder / f"{stem}-plan-before.toml"
    if not earlier.is_file():
        return [], ""
    from cli.differences import in_few_lines

    try:
        before = layout.set_out(layout.read_plan(earlier))
        changes = layout.compare_setouts(before, setout)
    except layout.LayoutError:
        return [f"{earlier.name} of the earlier set cannot be read any more: what changed is not told"], ""
    kept = earlier if changes.changed else older
    let_go = [word for word in kept_in(before.plan) if word not in kept_in(setout.plan)]
    words = [f"look: {' and '.join(let_go)} were kept in that set and are not in this: --keep {','.join(let_go)}"] if let_go else []
    return in_few_lines(changes) + words, layout.read_text(kept) if kept.is_file() else ""


def _stage_records(
    batch: layout.Batch,
    stem: str,
    takeoff: layout.TakeOff,
    orders: tuple[layout.Order, ...],
    setout_json: str,
    works: layout.Programme | None,
) -> None:
    """Set-out, take-off and programme as JSON, CSV and a workbook; the batch list as CSV, the programme as a calendar."""

    def put(name: str, text: str) -> None:
        batch.path(f"{stem}-{name}").write_text(text, encoding="utf-8", newline="")

    put("setout.json", setout_json)
    put("takeoff.json", layout.to_json(layout.takeoff_record(takeoff, orders)))
    put("takeoff.csv", layout.takeoff_csv(takeoff, orders))
    put("plan.toml", layout.plan_toml(takeoff.setout.plan))
    cutting = layout.plan_cuts(takeoff.setout)
    put("cuts.json", layout.to_json(layout.cuts_record(cutting, takeoff.setout, layout.tile_orders_of(cutting, takeoff.setout))))
    put("cuts.csv", layout.cuts_csv(cutting, takeoff.setout))
    layout.save_workbook(takeoff, orders, batch.path(f"{stem}-takeoff.xlsx"))
    project = takeoff.setout.plan.project
    if works is not None:
        put("programme.json", layout.to_json(layout.programme_record(works, project)))
        put("programme.ics", layout.programme_ical(works, project))
        put("batches.csv", layout.batches_csv(works, project))
