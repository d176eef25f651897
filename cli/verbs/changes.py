"""`gaugerod changes`: what differs between two plans, and what it costs to keep what is built."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

import layout
from cli.keeping import Kept, kept_of, plan_before, plan_in, plan_with_kept, what_to_keep
from cli.options import DpiOption, JsonFlag, KeepOption
from cli.talk import Talk

EXAMPLES = (
    ("changes old.toml new.toml", "what differs, room by room"),
    ("changes out/ new.toml --keep lines", "against an earlier run, its lines kept"),
)


def command(
    old: Annotated[Path, typer.Argument(metavar="OLD", help="plan, or folder of an earlier run", show_default=False)],
    new: Annotated[
        Path | None,
        typer.Argument(metavar="[NEW]", help="plan, or folder; without it the folder OLD against the set before", show_default=False),
    ] = None,
    *,
    say: Talk,
    keep: KeepOption = None,
    rates: Annotated[Path | None, typer.Option("--rates", metavar="FILE", help="price it by a file of rates", show_default=False)] = None,
    as_json: JsonFlag = False,
    as_csv: Annotated[bool, typer.Option("--csv", help="print CSV instead of tables")] = False,
    out: Annotated[
        Path | None,
        typer.Option("--out", "-o", metavar="DIR", help="folder for a sheet with clouds and tables; or a file", show_default=False),
    ] = None,
    dpi: DpiOption = 300,
) -> int:
    """What differs between two plans: rooms, lines to snap, cuts, quantities, orders, findings."""
    what = what_to_keep(keep) if keep is not None else ()
    files = _two(old, new)
    before, after = (layout.set_out(layout.read_plan(file)) for file in files)
    _refuse_strangers(before, after, files)
    kept = kept_of(before, after, what) if what else None
    priced = layout.read_rates(rates) if rates else None
    changes = layout.compare_setouts(before, kept.setout if kept else after, rates=priced)
    read = [*files[:1], *([rates] if rates else [])]
    if out is not None and not (as_json or as_csv or out.suffix):
        _into_folder(out, files, (before, kept.setout if kept else after), changes, kept, say, dpi)
        out = None
    if as_json:
        record = layout.changes_record(changes)
        if kept:
            record["keeping"] = _keeping(kept, priced)
        say.data(layout.to_json(record), out, plan=files[1], inputs=read)
    elif as_csv:
        say.data(layout.changes_csv(changes), out, plan=files[1], inputs=read)
    else:
        from cli.differences import changes_text

        text = changes_text(changes, plain=say.bare(out)) + (kept.cost_text(priced) if kept else "")
        if changes.changed:
            text += f"\nfor the revision table: {layout.revision_words(changes)}\n"
        say.answer(text, out, plan=files[1], inputs=read)
    return say.status(kept.setout if kept else after)


def _into_folder(
    folder: Path,
    files: tuple[Path, Path],
    setouts: tuple[layout.SetOut, layout.SetOut],
    changes: layout.Changes,
    kept: Kept | None,
    say: Talk,
    dpi: int,
) -> None:
    """The sheet of changes as DXF, PNG and PDF, the record and its rows; and the new plan with what is kept as keys in it."""
    stem = f"{layout.portable_stem(files[1].stem)}-changes"
    sheets = layout.draw_changes(*setouts, changes)
    with say.batch(folder, plan=files[1], inputs=files[:1], whole_set=False) as batch:
        if sheets:
            layout.stage_sheets(batch, sheets, stem, ("dxf", "png", "pdf"), dpi=dpi)
        batch.path(f"{stem}.json").write_text(layout.to_json(layout.changes_record(changes)), encoding="utf-8")
        batch.path(f"{stem}.csv").write_text(layout.changes_csv(changes), encoding="utf-8", newline="")
        if kept:
            text = plan_with_kept(files[1], kept)
            batch.path(f"{layout.portable_stem(files[1].stem)}-kept.toml").write_text(text, encoding="utf-8", newline="")
        names = batch.names
    for name in names:
        say.tell(f"wrote {folder / name}")
    if not sheets:
        say.tell("no room that stood before differs: there is no sheet to draw")


def _two(old: Path, new: Path | None) -> tuple[Path, Path]:
    """The two plan files that are compared."""
    if new is not None:
        return plan_in(old), plan_in(new)
    if not old.is_dir():
        raise layout.PlanError(str(old), "one plan alone", "give two plans or folders; a folder alone is held against the set before it")
    before = plan_before(old)
    if before is None:
        raise layout.PlanError(str(old), "no earlier set is kept in it", "run a changed plan into it first, or give two plans or folders")
    return before, plan_in(old)


def _refuse_strangers(before: layout.SetOut, after: layout.SetOut, files: tuple[Path, Path]) -> None:
    """Two plans that have no room in common are of different rooms: comparing them says nothing."""
    if any(a is not None and b is not None for a, b in layout.rooms_matched(before.rooms, after.rooms)):
        return
    names = [", ".join(room.name for room in setout.rooms[:4]) for setout in (before, after)]
    found = f"no room of it is one of {files[0]}: {names[1]} here, {names[0]} there, of other shapes too"
    raise layout.PlanError(str(files[1]), found, "give two issues of one plan; a room is known by its name, then by its shape")


def _keeping(kept: Kept, rates: layout.Rates | None) -> dict[str, object]:
    return layout.keeping_record(layout.keeping_costs(kept.setout, kept.free), kept.against_free(rates), kept.what)
