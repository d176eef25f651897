"""`gaugerod batch`: many plans at once on all cores; one summary, one order and one saw list of all of them."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

import layout
from cli.guard import OWN_FAULT, fault_text
from cli.options import JsonFlag, OutFile
from cli.talk import BAD_INPUT, BINDING, DONE, Talk

if TYPE_CHECKING:
    from cli.kept import Kept


EXAMPLES = (
    ("batch plans", "every plan of a folder"),
    ("batch plans --json -o all.json", "as JSON into a file"),
)


def command(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="folder of plan files", show_default=False)],
    *,
    say: Talk,
    resume: Annotated[
        bool, typer.Option("--resume", help="go on where a batch was stopped: only plans that are not done, or changed since")
    ] = False,
    workers: Annotated[
        int | None, typer.Option("--workers", min=1, help="processes; as many as cores if not given", show_default=False)
    ] = None,
    rates: Annotated[
        Path | None, typer.Option("--rates", metavar="FILE", help="price each plan by a file of rates", show_default=False)
    ] = None,
    as_json: JsonFlag = False,
    out: OutFile = None,
) -> int:
    """Many plans, all cores, one summary, one order and one saw list; -o summary.xlsx writes a workbook."""
    from cli.kept import Kept

    if not folder.is_dir():
        raise layout.PlanError(str(folder), "it is no folder", "give a folder of plan files (*.toml)")
    paths = _plans_of(folder, say)
    priced = layout.read_rates(rates) if rates is not None else None
    inputs = [*paths, *([rates] if rates else [])]
    kept = Kept(folder, rates, resume=resume)
    works = _worked(paths, kept, say=say, workers=workers, rates=priced)
    portfolio = layout.together(works)
    suffix = out.suffix.lower() if out is not None else ""
    if suffix == ".xlsx" and out is not None and not as_json:
        layout.write_batch_xlsx(portfolio, out, inputs=inputs, force=say.force)
        say.tell(f"wrote {out}")
    elif as_json or suffix == ".json":
        say.data(layout.to_json(layout.batch_record(portfolio)), out, inputs=inputs)
    elif suffix == ".csv":
        say.data(layout.batch_csv(portfolio), out, inputs=inputs)
    else:
        from cli.bills import batch_text

        say.answer(batch_text(portfolio, plain=say.bare(out)), out, inputs=inputs)
    faults = [work for work in works if work.fault]
    for work in faults:
        say.warn(work.fault)
    if not faults:
        kept.drop()
    else:
        say.tell(f"{len(faults)} of {len(works)} plans are not set out: mend them and run it again with --resume")
    if any(work.own_fault for work in faults):
        return OWN_FAULT
    if faults:
        return BAD_INPUT
    return BINDING if any(work.binding for work in works) else DONE


def _plans_of(folder: Path, say: Talk) -> list[Path]:
    """The plans of a folder; one that another takes in is counted there, once."""
    paths = sorted(folder.glob("*.toml"))
    if not paths:
        raise layout.PlanError(str(folder), "there is no plan in it", "plan files end in .toml")
    taken_in = {file.resolve() for path in paths for file in layout.files_with(path)}
    own = [path for path in paths if path.resolve() not in taken_in]
    if len(own) < len(paths):
        names = ", ".join(path.name for path in paths if path not in own)
        say.tell(f"counted where they are taken in: {names}")
    return own or paths


def _worked(paths: list[Path], kept: Kept, *, say: Talk, workers: int | None, rates: layout.Rates | None) -> list[layout.PlanWork]:
    """What each plan came to, from what was kept or set out now."""
    found = {path: kept.of(path) for path in paths}
    left = [path for path in paths if found[path] is None]
    by_name = {path.name: path for path in left}
    if len(left) < len(paths):
        say.tell(f"{len(paths) - len(left)} of {len(paths)} plans are done already")
    with say.progress(len(left), f"setting out {len(left)} plans") as step:

        def told(work: layout.PlanWork) -> None:
            kept.add(by_name[work.plan], work)
            step()

        made = layout.batch(left, workers=workers, rates=rates, told=told, fault_text=partial(fault_text, "batch"))
    new = dict(zip(left, made, strict=True))
    return [found[path] or new[path] for path in paths]
