"""`gaugerod watch`: a plan set out again on each save, its setting-out sheet drawn anew, and a line about what changed."""

from __future__ import annotations

import time
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

import layout
from cli.options import JsonFlag, PlanArg
from cli.talk import DONE, Talk

if TYPE_CHECKING:
    from collections.abc import Iterator

EXAMPLES = (
    ("watch kitchen.toml", "a picture beside the plan, redrawn on each save"),
    ("watch kitchen.toml -o now.png --json", "for a program"),
)

PATIENCE = 0.1
"""A file that was saved a moment ago may still be written to: it is read when it has rested so long, s."""


def command(
    plan: PlanArg,
    *,
    say: Talk,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out",
            "-o",
            metavar="FILE",
            help="a picture (.png) or a page (.html); a picture beside the plan if not given",
            show_default=False,
        ),
    ] = None,
    every: Annotated[float, typer.Option(min=0.05, max=60.0, metavar="S", help="how often the files are looked at, s")] = 0.3,
    dpi: Annotated[int, typer.Option("--dpi", min=30, max=600, help="dots per inch of the picture")] = 90,
    as_json: JsonFlag = False,
) -> int:
    """Set out again on each save and redraw, until Ctrl-C."""
    if str(plan) == "-":
        raise layout.PlanError("PLAN", "standard input cannot be saved again", "name a plan file")
    picture = out or plan.with_name(f"{layout.portable_stem(plan.stem)}-watch.png")
    before: layout.SetOut | None = None
    fault = ""
    force = say.force
    try:
        for _ in saves(plan, every):
            begun = time.perf_counter()
            try:
                now = layout.set_out(layout.read_plan(plan))
                layout.write_whole(picture, _drawn(now, picture, dpi), plan=plan, force=force)
            except layout.OutputError:
                raise
            except layout.LayoutError as error:
                if str(error) != fault:
                    say.warn(str(error))
                fault = str(error)
                continue
            _tell(now, before, say, time.perf_counter() - begun, picture, as_json=as_json, mended=bool(fault))
            before, fault = now, ""
            force = True  # the picture is ours from now on
    except KeyboardInterrupt:
        say.tell("no longer watched")
    return DONE


def saves(plan: Path, every: float) -> Iterator[None]:
    """Once at the start, then each time the plan or a file that it names has been saved and rests."""
    seen: dict[Path, tuple[int, int]] | None = None
    while True:
        now = _stamps(plan)
        if now != seen:
            time.sleep(PATIENCE)
            if _stamps(plan) != now:
                continue  # still being written
            seen = now
            yield
        time.sleep(every)


def _stamps(plan: Path) -> dict[Path, tuple[int, int]]:
    """Time and size of each file; those that are not there just now are left out."""
    found = {}
    for file in (plan, *layout.files_with(plan)):
        try:
            status = file.stat()
        except OSError:  # an editor puts the new file in the old one's place
            continue
        found[file] = (status.st_mtime_ns, status.st_size)
    return found


def _drawn(setout: layout.SetOut, place: Path, dpi: int) -> bytes:
    """What is redrawn: the page where the file's name ends so, else the setting-out sheet."""
    if place.suffix.lower() in (".html", ".htm"):
        return layout.page_html(layout.take_off(setout)).encode()
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / "sheet.png"
        layout.save_png(layout.draw_first(setout, layout.take_off(setout)), place, dpi=dpi)
        return place.read_bytes()


def _tell(now: layout.SetOut, before: layout.SetOut | None, say: Talk, took: float, picture: Path, *, as_json: bool, mended: bool) -> None:
    """A line about what changed: on standard output, as JSON if asked for."""
    from cli.differences import in_few_lines

    changes = None if before is None else layout.compare_setouts(before, now)
    if as_json:
        record = {"schema": "gaugerod/watch/1", "plan": now.plan.source, "picture": str(picture), "seconds": round(took, 3)}
        say.data(layout.to_json({**record, "changes": None if changes is None else layout.changes_record(changes)}))
        return
    floors = ", ".join(f"{room.name} narrowest cut {room.floor.start.smallest:.0f} mm" for room in now.rooms[:3])
    if changes is None:
        words = f"watching {now.plan.source}, drawn into {picture}: {floors}"
    elif not changes.changed:
        words = "saved, nothing changed" if not mended else f"mended, as before: {floors}"
    else:
        words = "; ".join(in_few_lines(changes)[1:]) + f"; {floors}"
    say.answer(f"{time.strftime('%H:%M:%S')} {words} ({took:.1f} s)")
