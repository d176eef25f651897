"""`gaugerod read`: plans from a drawing, a model or outlines; tells what was taken and left, writes a plan for each room."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

import layout
from cli.keeping import what_to_keep
from cli.options import JsonFlag, KeepOption
from cli.rereading import AS_READ, Text, text_of
from cli.streams import speak
from cli.talk import DONE, Talk

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence


EXAMPLES = (
    ("read drawing.dxf -o plans", "a plan of each room"),
    ("read model.ifc --room Kitchen", "one room of a model"),
)


def found_in(
    path: Path, *, units: str | None, layers: Mapping[str, Sequence[str]], gap: float, ask: bool, budgets: layout.Budgets
) -> layout.Found:
    """What a file shows of rooms, by its ending."""
    reader = layout.reader_of(path)
    reader.check_units(units)
    if not reader.layered:
        return reader.read(path, units=units, budgets=budgets)
    return _drawing(path, units=units, layers=layers, gap=gap, ask=ask, budgets=budgets)


def _drawing(
    path: Path, *, units: str | None, layers: Mapping[str, Sequence[str]], gap: float, ask: bool, budgets: layout.Budgets
) -> layout.Found:
    told: dict[str, Any] = {name: role for role, names in layers.items() for name in names}
    content = layout.drawing_content(path, budgets=budgets)
    try:
        return layout.read_dxf(path, units=units, layers=told, gap=gap, content=content)
    except layout.PlanError as error:
        if not ask or told or not _answered():
            raise
        speak(str(error))
        choices = sorted(content.layers().items(), key=lambda item: -item[1])[:20]
        for k, (name, count) in enumerate(choices, 1):
            speak(f"  {k:2d}  {name}  ({count} lines)")
        answer = str(typer.prompt("walls are on layers (numbers, with commas)", err=True))
        picked = [
            choices[int(word) - 1][0] for word in answer.replace(",", " ").split() if word.isdigit() and 0 < int(word) <= len(choices)
        ]
        return layout.read_dxf(path, units=units, layers=dict.fromkeys(picked, "walls"), gap=gap, content=content)


def _answered() -> bool:
    """Whether a person sits at standard input."""
    return sys.stdin is not None and sys.stdin.isatty()


def written(
    found: layout.Found,
    drawing: Path,
    folder: Path,
    *,
    only: Sequence[str],
    doubtful: bool,
    say: Talk,
    keep: tuple[str, ...] = (),
    whole: bool = True,
) -> tuple[list[dict[str, Any]], list[str]]:
    """A plan for each room and the picture, into a folder; what was written, and rooms whose plan does not stand as it is."""
    every = (*found.rooms, *found.doubtful) if doubtful or only else found.rooms
    rooms = [room for room in every if not only or room.name in only]
    if not rooms and not only:
        spaces = "; ".join(f"{room.name}, {room.area_m2:.2f} m²: {', '.join(room.evidence)}" for room in found.doubtful[:6])
        mend = "look at the drawing; --doubtful writes them all, --room NAME one, and --walls LAYER says what is a wall"
        raise layout.PlanError(found.source, f"{len(found.doubtful)} spaces were found, none of them surely a room ({spaces})", mend)
    if not rooms:
        names = ", ".join(room.name for room in every[:20])
        raise layout.PlanError("--room", f"there is no room {', '.join(only)}", f"rooms are {names}")
    rows, faults = [], []
    with say.batch(folder, plan=drawing, whole_set=not only) as batch:
        for room, stem in zip(rooms, layout.told_apart(layout.file_stem(room.name) for room in rooms), strict=True):
            note = f"From {found.source}; unit {found.unit}: {found.unit_why}. Check the sizes on site."
            made = text_of(room, note, folder / f"{stem}.toml", anew=say.force, keep=keep)
            try:
                layout.parse_plan(made.text, f"{stem}.toml", folder=folder)
            except layout.LayoutError as error:
                faults.append(str(error).splitlines()[0])
            place = batch.path(f"{stem}.toml") if made.before is None else batch.merged(f"{stem}.toml", made.before, made.as_read.encode())
            place.write_text(made.text, encoding="utf-8", newline="")
            batch.path(f"{stem}{AS_READ}").write_text(made.as_read, encoding="utf-8", newline="")
            _tell(stem, made, say)
            rows.append(
                {
                    "name": room.name,
                    "file": f"{stem}.toml",
                    "area_m2": round(room.area_m2, 6),
                    "walls": len(room.walls),
                    "doors": len(layout.openings_of(room)),
                    "columns": len(room.holes),
                    "pipes": len(room.pipes),
                    "drains": len(room.gullies),
                    "height_mm": room.height,
                    "says": list(room.says),
                    "confidence": room.confidence,
                    "evidence": list(room.evidence),
                    "applied": list(made.applied),
                    "conflicts": list(made.left),
                }
            )
        if whole:
            _whole_job(batch, folder, drawing, rows, faults, say)
        layout.save_png(layout.draw_found(found), batch.path("found.png"), dpi=110)
    return rows, faults


def _tell(stem: str, made: Text, say: Talk) -> None:
    """What became of a plan that stood there already."""
    if made.before is None:
        return
    if not made.applied and not made.left:
        say.tell(f"{stem}.toml: the drawing gives nothing new; it stays as it is")
        return
    for line in made.applied:
        say.tell(f"{stem}.toml: {line}")
    for line in made.left:
        say.warn(f"look: {stem}.toml: {line}")
    if made.left:
        say.tell("--force takes all of the drawing, and all that was typed goes")
    if made.moves:
        say.tell(made.moves.strip("\n"))


def _whole_job(batch: layout.Batch, folder: Path, drawing: Path, rows: list[dict[str, Any]], faults: list[str], say: Talk) -> None:
    """One plan that takes in those of all rooms; one that a person has gone on with stays."""
    broken = {fault.partition(":")[0] for fault in faults}
    rooms = [(row["file"], row["name"]) for row in rows if row["file"] not in broken]
    stems = layout.told_apart([*(Path(row["file"]).stem for row in rows), layout.portable_stem(drawing.stem)])
    name = f"{stems[-1]}.toml"
    stands = folder / name
    if not rooms:
        return
    if stands.is_file() and layout.job_changed(layout.read_text(stands)):
        missing = [file for file, _ in rooms if f'"{file}"' not in layout.read_text(stands)]
        if missing:
            say.warn(f"look: {name} was gone on with, so it stays; put these rooms into it by [[include]] file = …: {', '.join(missing)}")
        return
    batch.path(name).write_text(layout.job_text(drawing.stem, rooms), encoding="utf-8")
    say.tell(f"{name} is the whole job: it takes in {len(rooms)} rooms")


LayerOption = Annotated[
    list[str] | None, typer.Option(metavar="LAYER", help="layer that holds them; may be given again", show_default=False)
]


def command(
    drawing: Annotated[
        Path, typer.Argument(metavar="DRAWING", help="drawing (DXF), model (IFC) or outlines (GeoJSON)", show_default=False)
    ],
    *,
    say: Talk,
    out: Annotated[Path | None, typer.Option("--out", "-o", metavar="DIR", help="folder for the plans", show_default=False)] = None,
    units: Annotated[str | None, typer.Option(help="mm, cm, m, inch or foot, if the file lies or says nothing", show_default=False)] = None,
    walls: LayerOption = None,
    rooms: LayerOption = None,
    doors: LayerOption = None,
    columns: LayerOption = None,
    pipes: LayerOption = None,
    gullies: LayerOption = None,
    gap: Annotated[float, typer.Option(min=0.0, max=500.0, help="ends of lines no further apart meet, mm")] = 10.0,
    room: Annotated[list[str] | None, typer.Option(metavar="NAME", help="only this room; may be given again", show_default=False)] = None,
    split: Annotated[bool, typer.Option("--split", help="a plan for each room alone, without one that holds the job")] = False,
    doubtful: Annotated[bool, typer.Option("--doubtful", help="write spaces too for which little speaks")] = False,
    keep: KeepOption = None,
    as_json: JsonFlag = False,
) -> int:
    """Plans from an architect's drawing, a building model, or outlines."""
    given = {"walls": walls, "rooms": rooms, "doors": doors, "columns": columns, "pipes": pipes, "gullies": gullies}
    layers = {role: names for role, names in given.items() if names}
    found = found_in(drawing, units=units, layers=layers, gap=gap, ask=not say.quiet, budgets=layout.in_force())
    folder = out or Path(f"{layout.portable_stem(drawing.stem)}-plans")
    keeping = what_to_keep(keep) if keep is not None else ()
    rows, faults = written(found, drawing, folder, only=room or [], doubtful=doubtful, say=say, keep=keeping, whole=not (split or room))
    if as_json:
        record = {
            "schema": "gaugerod/read/1",
            "source": found.source,
            "unit": found.unit,
            "unit_why": found.unit_why,
            "rooms": rows,
            "taken": list(found.taken),
            "left": list(found.left),
            "doubtful": [
                {"name": space.name, "area_m2": round(space.area_m2, 6), "confidence": space.confidence, "evidence": list(space.evidence)}
                for space in found.doubtful
            ],
            "warnings": [*found.warnings, *faults],
        }
        say.data(layout.to_json(record))
    else:
        from cli.report import read_text

        say.answer(read_text(found, rows, plain=say.plain))
    for space in () if doubtful else found.doubtful:
        say.warn(f"look: {space.name}, {space.area_m2:.2f} m², is left out: {'; '.join(space.evidence)} (--doubtful writes it)")
    for warning in (*found.warnings, *faults):
        say.tell(f"look: {warning}")
    say.tell(f"wrote {len(rows)} plans and found.png into {folder}: look at the picture first")
    return DONE
