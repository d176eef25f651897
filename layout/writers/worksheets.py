"""Sheets of a workbook that hold one table each: title and note, a frozen head, print set-up; read alike whichever book they are in."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import xlsxwriter

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from xlsxwriter.worksheet import Worksheet

HEAD = 3
"""Row of a table's head, from 0; title and note stand above it."""
A4 = 9
"""The format's number for the paper."""


def new_book(path: str | Path, title: str = "", day: dt.date | None = None) -> xlsxwriter.Workbook:
    """A workbook in which words stay words: none becomes a formula, a link or a number. With a title it is dated by the plan, never by the clock."""
    book = xlsxwriter.Workbook(str(path), {"strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False})
    if title:
        book.set_properties({"title": title, "created": dt.datetime.combine(day or dt.date(2000, 1, 1), dt.time())})
    return book


class Styles:
    """Cell formats that every table has."""

    def __init__(self, book: xlsxwriter.Workbook) -> None:
        self.title = book.add_format({"bold": True, "font_size": 14})
        self.note = book.add_format({"italic": True})
        self.head = book.add_format({"bold": True, "bottom": 2, "text_wrap": True, "valign": "top"})


def started(
    book: xlsxwriter.Workbook,
    style: Styles,
    name: str,
    title: str,
    note: str,
    columns: Sequence[tuple[str, float]],
) -> Worksheet:
    """A sheet with its title, frozen head and print set-up: the head stands on each page, its number at the foot."""
    sheet = book.add_worksheet(name)
    sheet.write_string(0, 0, title, style.title)
    sheet.write_string(1, 0, note, style.note)
    for k, (head, width) in enumerate(columns):
        sheet.write_string(HEAD, k, head, style.head)
        sheet.set_column(k, k, width)
    sheet.freeze_panes(HEAD + 1, 0)
    sheet.set_landscape()
    sheet.set_paper(A4)
    sheet.fit_to_pages(1, 0)
    sheet.repeat_rows(HEAD)
    sheet.set_footer("&L&F&R&P / &N")
    return sheet
