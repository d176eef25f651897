"""Tables as sheets of a workbook, read back by another program: title, note, frozen head, print set-up; words stay words."""

import datetime as dt

import openpyxl
import pytest

from layout.writers.worksheets import HEAD, Styles, new_book, started


@pytest.mark.parametrize(
    ("title", "day", "created"),
    [("Invented", dt.date(2026, 11, 24), "2026-11-24"), ("Invented", None, "2000-01-01"), ("", None, "")],
)
def test_a_table_is_told_at_its_head_and_printed_with_it(tmp_path, title, day, created):
    book = new_book(tmp_path / "book.xlsx", title, day)
    sheet = started(book, Styles(book), "Cuts", "All cuts", "mm", [("mark", 12.0), ("size", 30.0)])
    for k, words in enumerate(("=1+1", "https://example.org", "12")):
        sheet.write(HEAD + 1 + k, 0, words)
    book.close()
    read = openpyxl.load_workbook(tmp_path / "book.xlsx")
    found = read["Cuts"]
    assert [row[:2] for row in found.iter_rows(min_row=1, max_row=4, values_only=True)] == [
        ("All cuts", None), ("mm", None), (None, None), ("mark", "size"),
    ]  # fmt: skip
    assert [found.cell(row, 1).value for row in (5, 6, 7)] == ["=1+1", "https://example.org", "12"]
    assert {found.cell(row, 1).data_type for row in (6, 7)} == {"s"}
    assert found.cell(6, 1).hyperlink is None
    assert (found.freeze_panes, found.print_title_rows) == ("A5", "$4:$4")
    assert (found.page_setup.orientation, found.page_setup.paperSize, found.page_setup.fitToHeight) == ("landscape", 9, 0)
    assert found.oddFooter.right.text == "&P / &N"
    assert found.column_dimensions["B"].width == pytest.approx(30.0, abs=1.0)
    assert (read.properties.title or "") == title
    assert f"{read.properties.created:%Y-%m-%d}" == created or not title
