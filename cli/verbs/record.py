"""`gaugerod record`: the as-built record from the ticks of the crew's phones."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

import layout
from cli.options import JsonFlag, PlanArg, stem_of
from cli.talk import Talk

EXAMPLES = (
    ("record kitchen.toml --from ticks.json -o handing-over", "sheets and JSON from a phone's ticks"),
    ("record kitchen.toml --from ana.json --from bo.csv", "two phones, what is open"),
)


def command(
    plan: PlanArg,
    given: Annotated[
        list[Path] | None,
        typer.Option("--from", metavar="FILE", help="ticks that a page exported; once for each phone", show_default=False),
    ] = None,
    *,
    say: Talk,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out",
            "-o",
            metavar="DIR",
            help="folder for the record as sheets (PDF), workbook (XLSX), JSON, and the ticks as one file",
            show_default=False,
        ),
    ] = None,
    as_json: JsonFlag = False,
) -> int:
    """The as-built record from ticks: tests, film, signatures, batches, deviations."""
    if not given:
        raise layout.PlanError("--from", "it is missing", "give the file of ticks that the page exported: Done, Export")
    ticks = [layout.read_ticks(path) for path in given]
    setout = layout.set_out(layout.read_plan(plan))
    takeoff = layout.take_off(setout)
    record = layout.as_built(takeoff, ticks)
    if record.earlier:
        say.warn("look: some ticks are of another issue of the plan: they count where the size is the same")
    if record.strange:
        say.warn(f"look: {record.strange} ticks are of things that are not in this issue")
    if out is not None:
        stem = stem_of(plan)
        with say.batch(out, plan=plan, inputs=given, whole_set=False) as batch:
            layout.stage_sheets(batch, layout.record_sheets(takeoff, record), f"{stem}-record", ("pdf",))
            for name, made in (("record", layout.site_record(record)), ("ticks", layout.ticks_record(record))):
                batch.path(f"{stem}-{name}.json").write_text(layout.to_json(made), encoding="utf-8", newline="")
            layout.save_record_book(takeoff, record, batch.path(f"{stem}-record.xlsx"))
            names = batch.names
        for name in names:
            say.tell(f"wrote {out / name}")
    if as_json:
        say.data(layout.to_json(layout.site_record(record)))
    else:
        lines = [f"{len(record.events)} ticks; deviations and what is open:", *(f"  {text}" for text in record.deviations or ("none",))]
        say.answer("\n".join(lines))
    return say.status(setout)
