"""Drawing as ratios in one run: the canteen's sheets to as many empty pages; a hall's DXF to one outline per tile.

Run: python -m tests.benchmarks.drawing. Goals: sheets (PDF, PNG at 200 dpi, DXF) at most 3 times the empty pages;
the hall's DXF a twentieth of the time and of the size of one LWPOLYLINE per tile.
"""

from __future__ import annotations

import os
import statistics
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

os.environ["OMP_NUM_THREADS"] = os.environ["OPENBLAS_NUM_THREADS"] = "1"

from ezdxf.filemanagement import new
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure

from layout.quantities.takeoff import take_off
from layout.readers.planfile import parse_plan, read_plan
from layout.setout.conduct import set_out
from layout.sheets.draw import draw_sheets
from layout.sheets.scene import Tiles
from layout.writers import plot
from layout.writers.dxf import save_dxf
from layout.writers.files import whole_or_nothing
from layout.writers.save import stage_sheets, write_pdf

if TYPE_CHECKING:
    from collections.abc import Callable

    from layout.sheets.scene import Sheet

PLANS = Path(__file__).parent.parent.parent / "plans"
DPI = 200


def empty_pages(sheets: tuple[Sheet, ...], folder: Path) -> None:
    """As many pages of the same sizes with nothing on them, PDF and PNG."""
    with PdfPages(folder / "empty.pdf") as pages:
        for k, sheet in enumerate(sheets):
            figure = Figure(figsize=(sheet.size[0] / 25.4, sheet.size[1] / 25.4))
            FigureCanvasAgg(figure)
            figure.savefig(folder / f"{k}.png", dpi=DPI)
            pages.savefig(figure)


def all_sheets(folder: Path) -> None:
    """The canteen from set-out to files."""
    setout = set_out(read_plan(PLANS / "canteen.toml"))
    sheets = draw_sheets(setout, take_off(setout))
    with whole_or_nothing(folder / "out") as batch:
        stage_sheets(batch, sheets, "canteen", ("dxf", "pdf", "png"), dpi=DPI)


def one_each(sheet: Sheet, path: Path) -> int:
    """Every whole tile of a sheet as a polyline of its own; how many."""
    doc = new("R2010")
    space = doc.modelspace()
    count = 0
    for item in sheet.room:
        if isinstance(item, Tiles):
            corners = item.pattern.members[item.member][None] + (item.index @ item.pattern.vectors)[:, None] + item.origin
            for ring in corners.tolist():
                space.add_lwpolyline(ring, close=True)
                count += 1
    doc.saveas(path)
    return count


def cpu(work: Callable[[], object]) -> float:
    """Processor seconds of a call."""
    start = time.process_time()
    work()
    return time.process_time() - start


def main(repeats: int = 3) -> None:
    """Measure and print."""
    setout = set_out(read_plan(PLANS / "canteen.toml"))
    sheets = draw_sheets(setout, take_off(setout))
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        all_sheets(folder)
        ours = statistics.median(cpu(lambda: all_sheets(folder)) for _ in range(repeats))
        empty = statistics.median(cpu(lambda: empty_pages(sheets, folder)) for _ in range(repeats))
        print(f"{len(sheets)} sheets of the canteen: {ours / empty:.2f} times as many empty pages (goal 3)")
        text = "[tiles.floor]\nsize = [150, 150]\njoint = 3\n[[rooms]]\noutline = [[0, 0], [62000, 0], [62000, 40000], [0, 40000]]\n"
        hall = set_out(parse_plan(text))
        sheet = draw_sheets(hall, take_off(hall))[:1]
        own = cpu(lambda: save_dxf(sheet, folder / "hall.dxf"))
        count = 0

        def each() -> None:
            nonlocal count
            count = one_each(sheet[0], folder / "each.dxf")

        peer = cpu(each)
        sizes = [(folder / file).stat().st_size for file in ("each.dxf", "hall.dxf")]
        print(
            f"DXF of {count:,} tiles: one outline each takes {peer / own:.0f} times the time and {sizes[0] / sizes[1]:.0f} times the size (goal 20)"
        )
        png = cpu(lambda: plot.save_png(sheet[0], folder / "hall.png", dpi=DPI))
        pdf = cpu(lambda: write_pdf(sheet, folder / "hall.pdf"))
        blank = cpu(lambda: empty_pages(sheet, folder))
        print(f"PNG and PDF of that hall: {(png + pdf) / blank:.1f} times an empty page")


if __name__ == "__main__":
    main()
