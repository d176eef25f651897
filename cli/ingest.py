"""Plans from a drawing, a model or outlines: reads, tells what was taken and left, writes a plan for each room."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Any

import typer

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from layout.survey.found import Found

FORMATS = {".dxf": "DXF", ".ifc": "IFC", ".geojson": "GeoJSON", ".json": "GeoJSON"}


def found_in(path: Path, *, units: str | None, layers: Mapping[str, Sequence[str]], gap: float, ask: bool) -> Found:
    """What a file shows of rooms, by its ending."""
    from layout.errors import PlanError

    kind = FORMATS.get(path.suffix.lower())
    if kind is None:
        raise PlanError(path.name, f"its ending {path.suffix!r} is none that is read", "give a .dxf, .ifc or .geojson file")
    if units is not None:
        from layout.readers.drawingfile import UNITS

        if units not in UNITS:
            raise PlanError("--units", f"{units!r} found", f"give one of {', '.join(UNITS)}")
        if kind == "IFC":
            raise PlanError("--units", "a model states its own", "leave it out")
    if kind == "IFC":
        from layout.readers.modelfile import read_ifc

        return read_ifc(path)
    if kind == "GeoJSON":
        from layout.readers.geofile import read_geojson

        return read_geojson(path, units=units)
    return _drawing(path, units=units, layers=layers, gap=gap, ask=ask)


def _drawing(path: Path, *, units: str | None, layers: Mapping[str, Sequence[str]], gap: float, ask: bool) -> Found:
    from layout.errors import PlanError
    from layout.readers.drawingfile import read_content, read_dxf

    told: dict[str, Any] = {name: role for role, names in layers.items() for name in names}
    content = read_content(path)
    try:
        return read_dxf(path, units=units, layers=told, gap=gap, content=content)
    except PlanError as error:
        if not ask or told or not sys.stdin.isatty():
            raise
        typer.echo(str(error), err=True)
        choices = sorted(content.layers().items(), key=lambda item: -item[1])[:20]
        for k, (name, count) in enumerate(choices, 1):
            typer.echo(f"  {k:2d}  {name}  ({count} lines)", err=True)
        answer = str(typer.prompt("walls are on layers (numbers, with commas)", err=True))
        picked = [
            choices[int(word) - 1][0] for word in answer.replace(",", " ").split() if word.isdigit() and 0 < int(word) <= len(choices)
        ]
        return read_dxf(path, units=units, layers=dict.fromkeys(picked, "walls"), gap=gap, content=content)


def written(found: Found, folder: Path, *, only: Sequence[str], picture: bool) -> tuple[list[dict[str, Any]], list[str]]:
    """A plan for each room and the picture, into a folder; what was written, and rooms whose plan does not stand as it is."""
    from layout.errors import LayoutError, PlanError
    from layout.readers.planfile import parse_plan
    from layout.survey.drafts import found_plan
    from layout.survey.found import file_stem, openings_of
    from layout.writers.files import whole_or_nothing

    rooms = [room for room in found.rooms if not only or room.name in only]
    if not rooms:
        names = ", ".join(room.name for room in found.rooms[:20])
        raise PlanError("--room", f"there is no room {', '.join(only)}", f"rooms are {names}")
    rows, faults, used = [], [], set[str]()
    with whole_or_nothing(folder) as batch:
        for room in rooms:
            stem = file_stem(room.name)
            while stem in used:
                stem += "-2"
            used.add(stem)
            text = found_plan(room, note=f"From {found.source}; unit {found.unit}: {found.unit_why}. Check the sizes on site.")
            try:
                parse_plan(text, f"{stem}.toml")
            except LayoutError as error:
                faults.append(str(error).splitlines()[0])
            batch.path(f"{stem}.toml").write_text(text, encoding="utf-8")
            rows.append(
                {
                    "name": room.name,
                    "file": f"{stem}.toml",
                    "area_m2": round(room.area_m2, 6),
                    "walls": len(room.outline),
                    "doors": len(openings_of(room)),
                    "columns": len(room.holes),
                    "pipes": len(room.pipes),
                    "drains": len(room.gullies),
                    "height_mm": room.height,
                    "says": list(room.says),
                }
            )
        if picture:
            from layout.sheets.found_sheet import found_sheet
            from layout.writers.plot import save_png

            save_png(found_sheet(found), batch.path("found.png"), dpi=110)
    return rows, faults
