"""A small spreadsheet engine for tests: reckons the formulas of a workbook anew from its numbers, by none of the tool's code."""

from __future__ import annotations

import math
import operator
import re
from decimal import ROUND_HALF_UP, Decimal
from fnmatch import translate
from typing import TYPE_CHECKING, Any

import openpyxl
from openpyxl.utils import range_boundaries

if TYPE_CHECKING:
    from pathlib import Path

TOKEN = re.compile(
    r"""\s*(?:(?P<number>\d+\.?\d*)|"(?P<text>(?:[^"]|"")*)"|(?P<cell>(?:'[^']+'!|[A-Za-z]+!)?\$?[A-Z]{1,3}\$?\d+(?::\$?[A-Z]{1,3}\$?\d+)?)"""
    r"""|(?P<name>[A-Z]+)(?=\()|(?P<sign><>|<=|>=|[-+*/(),=<>&]))"""
)

SIGNS = {"=": operator.eq, "<>": operator.ne, "<": operator.lt, ">": operator.gt, "<=": operator.le, ">=": operator.ge}


class Book:
    """A workbook whose cells can be changed and are reckoned when asked for."""

    def __init__(self, path: Path) -> None:
        book = openpyxl.load_workbook(path)
        self.cells = {(sheet.title, cell.coordinate): cell.value for sheet in book for row in sheet.iter_rows() for cell in row}
        self.types = {(sheet.title, cell.coordinate): cell.data_type for sheet in book for row in sheet.iter_rows() for cell in row}
        self.known: dict[tuple[str, str], Any] = {}

    def formulas(self) -> list[tuple[str, str]]:
        """Places of all formulas."""
        return [place for place, kind in self.types.items() if kind == "f"]

    def put(self, sheet: str, cell: str, value: float | str) -> None:
        """Type a value into a cell."""
        assert self.types[sheet, cell] != "f", "a person types over no formula"
        self.cells[sheet, cell] = value
        self.known.clear()

    def value(self, sheet: str, cell: str) -> Any:
        """The value of a cell: 0 is not None, an empty cell is."""
        place = (sheet, cell)
        if self.types.get(place) != "f":
            return self.cells.get(place)
        if place not in self.known:
            self.known[place] = _Reckoning(self, sheet, self.cells[place][1:]).all()
        return self.known[place]


class _Reckoning:
    """One formula, read from the left."""

    def __init__(self, book: Book, sheet: str, text: str) -> None:
        self.book, self.sheet = book, sheet
        self.tokens: list[tuple[str, str]] = []
        at = 0
        while at < len(text):
            found = TOKEN.match(text, at)
            assert found, f"{text!r} at {at}"
            self.tokens.append((str(found.lastgroup), found[str(found.lastgroup)]))
            at = found.end()
        self.at = 0

    def all(self) -> Any:
        result = self.compared()
        assert self.at == len(self.tokens)
        return result

    def next(self, *signs: str) -> str:
        if self.at < len(self.tokens) and self.tokens[self.at][0] == "sign" and self.tokens[self.at][1] in signs:
            self.at += 1
            return self.tokens[self.at - 1][1]
        return ""

    def compared(self) -> Any:
        left = self.joined()
        while sign := self.next("=", "<>", "<", ">", "<=", ">="):
            right = self.joined()
            if isinstance(left, str) and isinstance(right, str):
                left, right = left.casefold(), right.casefold()
            left = SIGNS[sign](left, right)
        return left

    def joined(self) -> Any:
        left = self.summed()
        while self.next("&"):
            right = self.summed()
            assert isinstance(left, str)
            assert isinstance(right, str)
            left += right
        return left

    def summed(self) -> Any:
        left = self.timed()
        while sign := self.next("+", "-"):
            right = self.timed()
            left = (left or 0) + (right or 0) if sign == "+" else (left or 0) - (right or 0)
        return left

    def timed(self) -> Any:
        left = self.single()
        while sign := self.next("*", "/"):
            right = self.single()
            left = (left or 0) * (right or 0) if sign == "*" else (left or 0) / right
        return left

    def single(self) -> Any:
        if self.next("-"):
            return -self.single()
        if self.next("("):
            inside = self.compared()
            assert self.next(")")
            return inside
        kind, text = self.tokens[self.at]
        self.at += 1
        if kind == "number":
            return float(text)
        if kind == "text":
            return text.replace('""', '"')
        if kind == "cell":
            cells = self.range(text)
            return cells if ":" in text else cells[0]
        assert self.next("(")
        given = [self.compared()]
        while self.next(","):
            given.append(self.compared())
        assert self.next(")")
        return FUNCTIONS[text](*given)

    def range(self, text: str) -> list[Any]:
        sheet, _, cells = text.rpartition("!")
        left, top, right, bottom = range_boundaries(cells.replace("$", ""))
        name = sheet.strip("'") or self.sheet
        return [
            self.book.value(name, f"{openpyxl.utils.get_column_letter(int(column))}{row}")
            for row in range(int(top), int(bottom) + 1)
            for column in range(int(left), int(right) + 1)
        ]


def _meets(value: Any, wanted: Any) -> bool:
    """A criterion as spreadsheets read it: text with signs before it and wild cards in it."""
    if isinstance(wanted, str):
        if wanted[:1] in "<>=" and wanted:
            message = f"criterion {wanted!r} is taken for a comparison"
            raise AssertionError(message)
        return isinstance(value, str) and re.match(translate(wanted.casefold()), value.casefold()) is not None
    return bool(value == wanted)


def _sumifs(values: list[Any], *rest: Any) -> float:
    pairs = list(zip(rest[::2], rest[1::2], strict=True))
    for cells, _ in pairs:
        assert len(cells) == len(values)
    return math.fsum(
        value
        for k, value in enumerate(values)
        if isinstance(value, int | float) and all(_meets(cells[k], wanted) for cells, wanted in pairs)
    )


def _round(value: float, digits: float) -> float:
    """Halves away from zero, as shown to fifteen figures: what spreadsheets do, not what Python does."""
    return float(Decimal(f"{value or 0:.15g}").quantize(Decimal(1).scaleb(-int(digits)), ROUND_HALF_UP))


FUNCTIONS: dict[str, Any] = {
    "SUM": lambda cells: math.fsum(each for each in cells if isinstance(each, int | float)),
    "SUMIFS": _sumifs,
    "ROUND": _round,
    "ROUNDUP": lambda value, digits: math.ceil(abs(value) * 10**digits) / 10**digits * (1 if value >= 0 else -1),
    "IF": lambda test, yes, no: yes if test else no,
    "AND": lambda *tests: all(tests),
    "OR": lambda *tests: any(tests),
    "ISNUMBER": lambda value: isinstance(value, int | float) and not isinstance(value, bool),
    "MAX": lambda *values: max(values),
    "INT": math.floor,
}
