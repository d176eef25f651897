"""The example plans as set out, measured and drawn: once in a run, since the results are frozen values that tests can share."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from ezdxf.filemanagement import readfile

from layout.quantities.takeoff import take_off
from layout.readers.planfile import read_plan
from layout.setout.conduct import set_out
from layout.sheets.draw import draw_sheets
from layout.writers.save import write_dxf, write_pdf

if TYPE_CHECKING:
    from ezdxf.document import Drawing

    from layout.quantities.values import TakeOff
    from layout.setout.values import SetOut
    from layout.sheets.scene import Sheet

TOP = Path(__file__).parent.parent
_FOLDER = TemporaryDirectory(prefix="examples-")
PLANS = sorted((TOP / "plans").glob("*.toml"))


@cache
def example(path: Path) -> SetOut:
    """An example plan set out."""
    return set_out(read_plan(path))


@cache
def example_takeoff(path: Path) -> TakeOff:
    """An example plan's take-off."""
    return take_off(example(path))


@cache
def example_sheets(path: Path) -> tuple[Sheet, ...]:
    """An example plan's sheets."""
    return tuple(draw_sheets(example(path), example_takeoff(path)))


@cache
def example_pdf(path: Path) -> Path:
    """An example plan's sheets as one PDF, in a folder that goes with the run."""
    return write_pdf(example_sheets(path), Path(_FOLDER.name) / f"{path.stem}.pdf")


@cache
def example_dxf(path: Path) -> Path:
    """An example plan's sheets as one DXF, in a folder that goes with the run."""
    return write_dxf(example_sheets(path), Path(_FOLDER.name) / f"{path.stem}.dxf")


@cache
def example_doc(path: Path) -> Drawing:
    """The DXF of an example plan read back by its own library, to be looked at and not changed."""
    return readfile(example_dxf(path))
