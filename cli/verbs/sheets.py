"""`gaugerod sheets`: the drawings alone, in the formats asked for."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

import layout
from cli.keeping import plan_in, set_out_with
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
    ("sheets kitchen.toml -o drawings", "DXF, PNG, PDF"),
    ("sheets kitchen.toml -o drawings --format pdf --paper A3", "one PDF on A3"),
)


def command(
    plan: PlanArg,
    out: Annotated[Path, typer.Option("--out", "-o", metavar="DIR", help="folder to write into", show_default=False)],
    *,
    say: Talk,
    formats: Annotated[str, typer.Option("--format", metavar="LIST", help="of dxf, png, pdf, svg, with commas between")] = "dxf,png,pdf",
    paper: PaperOption = None,
    scale: ScaleOption = None,
    dpi: DpiOption = 300,
    plain_dxf: PlainDxfFlag = False,
    templates: Annotated[bool, typer.Option("--templates", help="pieces with arcs at true size too")] = False,
    keep: KeepOption = None,
    earlier: FromOption = None,
    language: LanguageOption = None,
    as_json: JsonFlag = False,
) -> int:
    """Drawings: DXF, PNG, PDF, SVG."""
    check_paper(paper, scale)
    check_language(language)
    no_stream(out, "a folder")
    wanted = tuple(each.strip().lower() for each in formats.split(","))
    for each in wanted:
        if each not in layout.FORMATS:
            raise layout.PlanError("--format", f"{each!r} found", "give some of " + ", ".join(layout.FORMATS))
    kept = set_out_with(layout.read_plan(plan), keep, earlier or _run_in(out)) if keep is not None else None
    setout = layout.audited(kept.setout if kept else layout.set_out(layout.read_plan(plan)))
    sheets = layout.draw_sheets(setout, layout.take_off(setout), paper=paper, scale=scale, templates=templates, language=language)
    with say.batch(out, plan=plan) as batch:
        with say.progress(layout.drawing_steps(sheets, wanted), "drawing") as told:
            layout.stage_sheets(batch, sheets, stem_of(plan), wanted, dpi=dpi, plain_dxf=plain_dxf, told=told)
        names = batch.names
    if as_json:
        drawn = [{"name": s.name, "title": s.title, "room": s.room_name, "paper": s.paper} for s in sheets]
        say.data(layout.to_json({"schema": "gaugerod/sheets/1", "folder": str(out), "sheets": drawn, "files": names}))
    for name in names:
        say.tell(f"wrote {out / name}")
    if kept:
        say.tell(kept.cost_text().strip("\n"))
    return say.status(setout)


def _run_in(folder: Path) -> Path | None:
    """The plan that an earlier run kept in a folder, if there is one."""
    return plan_in(folder) if folder.is_dir() and any(folder.glob("*-plan.toml")) else None
