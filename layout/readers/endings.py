"""Which reader takes a file of rooms, by its ending. A new reader is its own module and a row here."""

from __future__ import annotations

from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING

from layout.errors import PlanError

if TYPE_CHECKING:
    from layout.budgets import Budgets
    from layout.survey.found import Found


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomsReader:
    """One kind of file: its endings, and its function by module, loaded when it is asked for, since libraries of formats are heavy.

    `units` tells whether a person may say its unit, `layered` whether its layers may be told, and asked after.
    """

    kind: str
    endings: tuple[str, ...]
    module: str
    function: str
    units: bool = True
    layered: bool = False

    def check_units(self, units: str | None) -> None:
        """Whether a unit that a person says can be.

        Raises
        ------
        PlanError
            If the file states its own, or the unit is none that is known.
        """
        if units is None:
            return
        known: tuple[str, ...] = tuple(import_module("layout.readers.drawingfile").UNITS)
        if units not in known:
            raise PlanError("--units", f"{units!r} found", f"give one of {', '.join(known)}")
        if not self.units:
            raise PlanError("--units", "a model states its own", "leave it out")

    def read(self, path: Path, *, units: str | None, budgets: Budgets) -> Found:
        """The rooms of a file. Errors are those of its reader."""
        given = {"units": units} if self.units else {}
        found: Found = getattr(import_module(f"layout.readers.{self.module}"), self.function)(path, budgets=budgets, **given)
        return found


ROOMS_READERS = (
    RoomsReader(kind="DXF", endings=(".dxf",), module="drawingfile", function="read_dxf", layered=True),
    RoomsReader(kind="IFC", endings=(".ifc",), module="modelfile", function="read_ifc", units=False),
    RoomsReader(kind="GeoJSON", endings=(".geojson", ".json"), module="geofile", function="read_geojson"),
)


def reader_of(path: str | Path) -> RoomsReader:
    """The reader of a file of rooms.

    Raises
    ------
    PlanError
        If its ending is none that is read.
    """
    path = Path(path)
    for reader in ROOMS_READERS:
        if path.suffix.lower() in reader.endings:
            return reader
    *first, last = (reader.endings[0] for reader in ROOMS_READERS)
    raise PlanError(path.name, f"its ending {path.suffix!r} is none that is read", f"give a {', '.join(first)} or {last} file")
