"""Many plans at once: each read, set out and taken off in a process of its own; one summary of all."""

from __future__ import annotations

import os
import sys
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

SERIAL = 4
"""So few plans are not worth starting processes for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """What one plan came to; `fault` is its message if it could not be set out."""

    plan: str
    rooms: int = 0
    floor_m2: float = 0.0
    whole: int = 0
    cut: int = 0
    narrowest_mm: float = 0.0
    sealant_m: float = 0.0
    tape_m: float = 0.0
    findings: int = 0
    binding: int = 0
    fault: str = ""


def row_of(path: Path) -> Row:
    """Set one plan out and sum it up; a fault of the plan is its row's, never the batch's."""
    from layout.errors import LayoutError
    from layout.readers.planfile import read_plan
    from layout.setout.conduct import set_out

    try:
        setout = set_out(read_plan(path))
    except LayoutError as error:
        return Row(plan=path.name, fault=str(error))
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
    """Rows in the order of the plans, as they are done."""
    workers = min(os.cpu_count() or 1, len(paths))
    if len(paths) <= SERIAL or workers == 1:
        yield from map(row_of, paths)
        return
    with ProcessPoolExecutor(max_workers=workers) as pool:
        yield from pool.map(row_of, paths, chunksize=max(1, min(10, len(paths) // (workers * 4))))


def watched(rows: Iterator[Row], count: int, *, quiet: bool) -> list[Row]:
    """All rows, with a progress bar on standard error where a person looks on."""
    if quiet or not sys.stderr.isatty():
        return list(rows)
    from rich.console import Console
    from rich.progress import track

    return list(track(rows, total=count, description="setting out", console=Console(stderr=True), transient=True))


@contextmanager
def progress(count: int, words: str, *, quiet: bool) -> Iterator[Callable[[], None]]:
    """A progress bar on standard error where a person looks on, else one line; gives what to call after each step."""
    if quiet or not sys.stderr.isatty():
        if not quiet:
            sys.stderr.write(f"{words} …\n")
        yield lambda: None
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(words, total=count)
        yield lambda: bar.advance(task)


def batch_record(rows: list[Row]) -> dict[str, Any]:
    """The record of a batch."""
    return {"schema": "gaugerod/batch/1", "plans": [asdict(row) for row in rows]}
