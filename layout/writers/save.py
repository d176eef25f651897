"""Writes sheets and tables to files, whole or not at all."""

from __future__ import annotations

import csv
import io
import math
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING

from layout.quantities.table import columns_of, entries_of
from layout.writers.files import one_file, whole_or_nothing

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence
    from typing import Protocol

    from layout.quantities.bill import Bill
    from layout.quantities.groups import Group
    from layout.quantities.orders import Order
    from layout.quantities.table import Value
    from layout.quantities.values import TakeOff
    from layout.sheets.scene import Sheet

    class Staged(Protocol):
        """Gives the place to write a file to; `said` is told to whoever waits for the files."""

        said: list[str]

        def path(self, name: str) -> Path: ...


PNG_DPI = 300
FORMATS = ("dxf", "png", "pdf", "svg")


def stage_sheets(
    batch: Staged,
    sheets: tuple[Sheet, ...],
    stem: str,
    formats: tuple[str, ...],
    *,
    dpi: int = PNG_DPI,
    plain_dxf: bool = False,
    told: Callable[[], None] | None = None,
) -> None:
    """Write sheets in several formats into a batch; files are named after `stem`, `told` is called after each of `steps`.

    With `plain_dxf` every tile of the DXF is an outline of its own.
    """
    from layout.writers import plot  # noqa: PLC0415  # matplotlib is heavy: only when something is drawn
    from layout.writers.press import pressed  # noqa: PLC0415

    step = told or (lambda: None)
    drawing, document = (batch.path(f"{stem}.{kind}") if kind in formats else None for kind in ("dxf", "pdf"))
    plots = [{kind: batch.path(f"{stem}-{sheet.name}.{kind}") for kind in ("svg", "png") if kind in formats} for sheet in sheets]
    pictures = [own["png"] for own in plots if "png" in own]
    with ExitStack() as stack:
        press = stack.enter_context(pressed(sheets, pictures, dpi, batch.said))
        if drawing is not None:
            from layout.writers.dxf import save_dxf  # noqa: PLC0415

            save_dxf(sheets, drawing, plain=plain_dxf)
            step()
        page = None
        if document is not None:
            page = stack.enter_context(plot.pdf_pages(document, title=dict(sheets[0].block.fields)["Title"]))
        raster = plot.Raster()
        for sheet, own in zip(sheets, plots, strict=True):
            if "svg" in own:
                plot.save_svg(sheet, own["svg"])
                step()
            picture = own.get("png") if press is None else None
            figure = plot.figure_of(sheet) if page is not None or picture is not None else None
            if figure is not None and picture is not None:
                plot.save_png(sheet, picture, dpi=dpi, figure=figure, raster=raster)
                step()
            if figure is not None and page is not None:
                page(figure)
                step()
            if press is not None:
                press.tell(step)
        if press is not None:
            press.finish(step)


def steps(sheets: tuple[Sheet, ...], formats: tuple[str, ...]) -> int:
    """How often `stage_sheets` tells that it has got on."""
    return ("dxf" in formats) + len(sheets) * sum(each in formats for each in ("pdf", "png", "svg"))


def write_dxf(sheets: tuple[Sheet, ...], path: str | Path, *, force: bool = False) -> Path:
    """Write sheets as one DXF file.

    Raises
    ------
    OutputError
        If it cannot be written, or stands there and is not ours unchanged; with `force` it is replaced.
    """
    return _one(sheets, Path(path), "dxf", force)


def write_pdf(sheets: tuple[Sheet, ...], path: str | Path, *, force: bool = False) -> Path:
    """Write sheets as pages of one PDF file; as `write_dxf` otherwise."""
    return _one(sheets, Path(path), "pdf", force)


def write_xlsx(
    takeoff: TakeOff,
    orders: tuple[Order, ...],
    path: str | Path,
    *,
    bill: Bill | None = None,
    plan: str | Path | None = None,
    inputs: Sequence[str | Path] = (),
    force: bool = False,
) -> Path:
    """Write a take-off as a workbook with live formulas, priced if a bill is given; as `write_dxf` otherwise."""
    from layout.writers.workbook import save_workbook  # noqa: PLC0415  # the library of workbooks is heavy

    with one_file(path, plan=plan, inputs=inputs, force=force) as place:
        save_workbook(takeoff, orders, place, bill=bill)
    return Path(path)


def _one(sheets: tuple[Sheet, ...], path: Path, kind: str, force: bool) -> Path:
    with one_file(path, force=force) as place:
        stage_sheets(_Named(place), sheets, place.stem, (kind,))
    return path


class _Named:
    """A batch of one file whose place is known."""

    def __init__(self, place: Path) -> None:
        self.place = place
        self.said: list[str] = []

    def path(self, name: str) -> Path:
        """The place, whatever the sheets would call it."""
        del name
        return self.place


def write_png(sheets: tuple[Sheet, ...], folder: str | Path, *, stem: str = "sheet", dpi: int = PNG_DPI, force: bool = False) -> list[Path]:
    """Write each sheet as a PNG into a folder; as `write_dxf` otherwise."""
    return _many(sheets, Path(folder), stem, "png", dpi, force)


def write_svg(sheets: tuple[Sheet, ...], folder: str | Path, *, stem: str = "sheet", force: bool = False) -> list[Path]:
    """Write each sheet as an SVG into a folder; as `write_dxf` otherwise."""
    return _many(sheets, Path(folder), stem, "svg", PNG_DPI, force)


def _many(sheets: tuple[Sheet, ...], folder: Path, stem: str, kind: str, dpi: int, force: bool) -> list[Path]:
    with whole_or_nothing(folder, force=force) as batch:
        stage_sheets(batch, sheets, stem, (kind,), dpi=dpi)
    return [folder / f"{stem}-{sheet.name}.{kind}" for sheet in sheets]


def _cell(value: str) -> str:
    """A cell that no spreadsheet takes for a formula."""
    return f"'{value}" if value[:1] in ("=", "+", "-", "@", "\t", "\r") else value


def takeoff_csv(takeoff: TakeOff, orders: tuple[Order, ...], bill: Bill | None = None, *, comma: bool = False) -> str:
    """The take-off as CSV: one row for each item, with rate and amount if it is priced.

    With `comma` numbers have a decimal comma and cells are parted by semicolons.
    """
    columns = [each for each in columns_of(takeoff) if each.csv is not None and (bill is not None or not each.priced)]
    rows = [[_written(each.value(entry), each.csv or "", comma=comma) for each in columns] for entry in entries_of(takeoff, orders, bill)]
    for free in bill.free if bill else ():
        told: dict[str, Value] = {
            "item": free.name,
            "quantity": free.quantity,
            "unit": free.unit,
            "per": free.unit,
            "rate": free.rate,
            "amount": free.amount,
        }
        told["formula"] = "free line of the rates"
        rows.append([_written(told.get(each.head), each.csv or "", comma=comma) for each in columns])
    return csv_text([each.head for each in columns], rows, comma=comma)


def groups_csv(groups: Sequence[Group], *, comma: bool = False) -> str:
    """A take-off by groups as CSV: one row for each item in each group that has some of it."""
    head = ["group", "key", "item", "measured", "unit", "with spares", "priced quantity", "per", "rate", "amount"]
    rows: list[list[tuple[Value, str]]] = []
    for group in groups:
        for share in group.shares:
            priced = share.priced[0] if share.priced else None
            row: list[tuple[Value, str]] = [(group.name, ""), (share.item.key, ""), (share.item.name, "")]
            row += [(share.measured, ".3f"), (share.item.unit, ""), (share.with_spares, ".3f")]
            row += (
                [(math.fsum(line.quantity for line in share.priced), ".3f"), (priced.unit, ""), (priced.rate, "g")]
                if priced
                else [(None, "")] * 3
            )
            rows.append([*row, (share.amount, ".2f")])
        for free in group.free:
            told: list[Value] = [group.name, "", free.name, free.quantity, free.unit, free.quantity, free.quantity, free.unit, free.rate]
            rows.append([*((value, "g") for value in told), (free.amount, ".2f")])
    return csv_text(head, [[_written(value, how, comma=comma) for value, how in row] for row in rows], comma=comma)


def csv_text(head: Sequence[str], rows: Iterable[Sequence[str]], *, comma: bool = False) -> str:
    """Rows of cells as CSV, none of which a spreadsheet takes for a formula; with `comma` parted by semicolons."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n", delimiter=";" if comma else ",")
    writer.writerow(head)
    writer.writerows([_cell(each) for each in row] for row in rows)
    return text.getvalue()


def _written(value: Value, how: str, *, comma: bool) -> str:
    """A value as a cell; a number by its format, with a decimal comma if wanted."""
    if value is None or isinstance(value, str):
        return value or ""
    text = format(value, how)
    return text.replace(".", ",") if comma else text
