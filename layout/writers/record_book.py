"""The as-built record as a workbook: deviations, then every entry beside what was wanted, a sheet for each kind of thing.

Readings are numbers with their unit beside them, so that they can be sorted and averaged; all that phones and plans hold are words,
and no formula is made of them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from layout.writers.worksheets import HEAD, Styles, new_book, started

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    import xlsxwriter

    from layout.quantities.values import TakeOff
    from layout.record.handing import AsBuilt, Entry
    from layout.record.things import Kind

COLUMNS = (
    ("room", 18.0), ("what", 34.0), ("field", 22.0), ("read", 14.0), ("unit", 8.0), ("wanted", 30.0), ("as wanted", 10.0), ("by", 16.0),
    ("at", 17.0), ("done to the old size", 16.0),
)  # fmt: skip
SHEETS: tuple[tuple[str, tuple[Kind, ...], str], ...] = (
    ("Tests", ("test",), "Readings at test points, beside what was wanted; nothing is judged that has no figure to judge it by."),
    ("Hold points", ("hold",), "Names as typed on a phone: sign on paper where that is asked for."),
    ("Stages and batches", ("stage",), "When stages were begun and done by the phone's clock, and the batches that went into them."),
    ("Membrane", ("run", "corner", "collar", "drain"), "Tape runs, corner pieces, collars and flanges."),
    ("Cuts", ("piece",), "Cut tiles, each with the size that it was ticked for."),
    ("Joints", ("joint",), "Sealed joints."),
    ("Walls", ("wall",), "Lengths as measured, beside those drawn."),
    ("Tiles broken", ("tile",), "Counted over all phones."),
)
"""Each sheet: its name, the kinds of things on it, a note."""
CLOCK = "From ticks on phones; a phone's clock may be wrong."


def save_record_book(takeoff: TakeOff, record: AsBuilt, path: str | Path) -> None:
    """Write the record as XLSX; the same record gives the same bytes.

    Raises
    ------
    OSError, xlsxwriter.exceptions.FileCreateError
        If it cannot be written.
    """
    project = takeoff.setout.plan.project
    book = new_book(path, project.title, project.date)
    styles = Styles(book)
    _deviations(book, styles, record)
    for name, kinds, note in SHEETS:
        own = record.of(*kinds)
        if own:
            _entries(book, styles, name, note, own)
    book.close()


def _deviations(book: xlsxwriter.Workbook, styles: Styles, record: AsBuilt) -> None:
    """Which issue it is of, what is not as wanted or still open, and what was left out."""
    note = f"As-built record of {record.issue.words or 'the plan'}. {CLOCK}"
    sheet = started(book, styles, "Record", "Record", note, [("deviations and what is open", 120.0)])
    lines = [*(record.deviations or ("none that the ticks tell of",))]
    if record.earlier:
        lines.append("Some ticks are of another issue of the plan: they count where the size is the same.")
    if record.strange:
        lines.append(f"{record.strange} ticks are of things that are not in this issue.")
    style = book.add_format({"text_wrap": True, "valign": "top"})
    for row, text in enumerate(lines, HEAD + 1):
        sheet.write_string(row, 0, text, style)


def _entries(book: xlsxwriter.Workbook, styles: Styles, name: str, note: str, entries: Sequence[Entry]) -> None:
    sheet = started(book, styles, name, name, note, COLUMNS)
    style = book.add_format({"text_wrap": True, "valign": "top"})
    plain = book.add_format({"valign": "top"})
    verdict = {None: "", True: "yes", False: "NO"}
    for row, entry in enumerate(entries, HEAD + 1):
        words = {
            0: entry.room, 1: entry.name, 2: entry.field, 3: entry.value, 4: entry.unit, 5: entry.wanted, 6: verdict[entry.good],
            7: entry.by, 8: entry.at.replace("T", " "), 9: entry.old,
        }  # fmt: skip
        for column, text in words.items():
            if column == 3 and entry.number is not None:
                sheet.write_number(row, column, entry.number, plain)
            elif text:
                sheet.write_string(row, column, text, style)
    sheet.autofilter(HEAD, 0, HEAD + len(entries), len(COLUMNS) - 1)
