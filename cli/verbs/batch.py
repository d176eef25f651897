"""`gaugerod batch`: many plans at once, each set out in a process of its own; one summary of all."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

import layout
from cli.guard import OWN_FAULT, fault_text
from cli.options import JsonFlag, OutFile
from cli.talk import BAD_INPUT, BINDING, DONE, Talk

if TYPE_CHECKING:
    from collections.abc import Iterator

    from cli.rows import Row


def row_of(path: Path) -> Row:
    """Set one plan out and sum it up; a fault of the plan, or of ours with it, is its row's, never the batch's."""
    from cli.rows import Row

    try:
        setout = layout.set_out(layout.read_plan(path))
    except layout.LayoutError as error:
        return Row(plan=path.name, fault=str(error))
    except Exception as error:  # noqa: BLE001  # one plan on which the tool fails must not take the others along
        return Row(plan=path.name, fault=f"{path.name}: {fault_text('batch', error)}", own_fault=True)
    floors = [room.floor for room in setout.rooms]
    return Row(
        plan=path.name,
        rooms=len(setout.rooms),
        floor_m2=round(sum(room.lining.floor.gross.area for room in setout.rooms) / 1e6, 2),
        whole=sum(len(floor.field.whole) for floor in floors),
        cut=sum(floor.field.places_cut() for floor in floors),
        narrowest_mm=round(min(floor.start.smallest for floor in floors), 1),
        sealant_m=round(sum(joint.length for room in setout.rooms for joint in room.joints) / 1000.0, 1),
        tape_m=round(sum(room.tape.metres("internal") for room in setout.rooms), 1),
        findings=sum(len(room.findings) for room in setout.rooms),
        binding=len(setout.binding_findings()),
    )


def rows_of(paths: list[Path]) -> Iterator[Row]:
    """Rows in the order of the plans, as they are done; a worker that is killed costs its own plan's row and no other."""
    workers = min(os.cpu_count() or 1, len(paths))
    if len(paths) == 1:
        yield row_of(paths[0])
        return
    left = paths
    while left:
        done = 0
        for row in _until_broken(left, workers):
            done += 1
            yield row
        left = left[done:]
        for path in left[: workers + 1]:  # among these are the ones at work when the pool broke: each once more, alone
            yield next(_until_broken([path], 1), _killed(path))
        left = left[workers + 1 :]


def _until_broken(paths: list[Path], workers: int) -> Iterator[Row]:
    """Rows in the order of the plans, until one of the workers ends without a word."""
    from concurrent.futures import ProcessPoolExecutor
    from concurrent.futures.process import BrokenProcessPool

    pool = ProcessPoolExecutor(max_workers=workers)
    try:
        for each in [pool.submit(row_of, path) for path in paths]:
            yield each.result()
    except BrokenProcessPool:
        return
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def _killed(path: Path) -> Row:
    from cli.rows import Row

    mend = f"set it out alone (gaugerod setout {path.name}) and look at the memory it takes"
    return Row(plan=path.name, fault=f"{path.name}: its worker was ended from outside: killed, or memory ran out; {mend}", own_fault=True)


def batch_record(rows: list[Row]) -> dict[str, Any]:
    """The record of a batch."""
    from dataclasses import asdict

    return {"schema": "gaugerod/batch/1", "plans": [asdict(row) for row in rows]}


def command(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="folder of plan files", show_default=False)],
    *,
    say: Talk,
    as_json: JsonFlag = False,
    out: OutFile = None,
) -> int:
    """Many plans, all cores, one summary table."""
    if not folder.is_dir():
        raise layout.PlanError(str(folder), "it is no folder", "give a folder of plan files (*.toml)")
    paths = sorted(folder.glob("*.toml"))
    if not paths:
        raise layout.PlanError(str(folder), "there is no plan in it", "plan files end in .toml")
    rows = say.watched(rows_of(paths), len(paths), "setting out")
    if as_json:
        say.data(layout.to_json(batch_record(rows)), out, inputs=paths)
    else:
        from cli.report import batch_text

        say.answer(batch_text(rows, plain=say.bare(out)), out, inputs=paths)
    faults = [row for row in rows if row.fault]
    for row in faults:
        say.warn(row.fault)
    if any(row.own_fault for row in faults):
        return OWN_FAULT
    if faults:
        return BAD_INPUT
    return BINDING if any(row.binding for row in rows) else DONE
