"""The take-off as a workbook: numbers as numbers, formulas where a person would change a waste, a pack or a rate."""

from __future__ import annotations

import datetime as dt
import math
from typing import TYPE_CHECKING

import xlsxwriter

from layout.quantities.bill import SECTIONS
from layout.standards.products import PRODUCT_KEYS

if TYPE_CHECKING:
    from pathlib import Path

    from xlsxwriter.worksheet import Worksheet

    from layout.quantities.bill import Bill
    from layout.quantities.orders import Order
    from layout.quantities.values import TakeOff

DIGITS = {"m3": "0.00", "m2": "0.00", "m": "0.0", "pcs": "0", "kg": "0.0", "ml": "0", "h": "0.0"}
HEAD = 3
"""Row of the table's head, from 0; title and note stand above it."""


def save_workbook(takeoff: TakeOff, orders: tuple[Order, ...], path: Path, *, bill: Bill | None = None) -> None:
    """Write a take-off as XLSX; the same take-off gives the same bytes."""
    project = takeoff.setout.plan.project
    book = xlsxwriter.Workbook(str(path), {"strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False})
    made = dt.datetime.combine(project.date or dt.date(2000, 1, 1), dt.time())
    book.set_properties({"title": project.title, "created": made})
    style = _Styles(book)
    _items(book, style, takeoff, orders, bill)
    _parts(book, style, takeoff)
    _figures(book, style, takeoff)
    if bill is not None:
        _subtotals(book, style, bill)
    book.close()


class _Styles:
    """Cell formats by name."""

    def __init__(self, book: xlsxwriter.Workbook) -> None:
        self.title = book.add_format({"bold": True, "font_size": 14})
        self.note = book.add_format({"italic": True})
        self.head = book.add_format({"bold": True, "bottom": 2, "text_wrap": True, "valign": "top"})
        self.text = book.add_format({"text_wrap": True, "valign": "top"})
        self.entry = book.add_format({"num_format": "0.00", "bg_color": "#FFF7D6", "valign": "top"})
        self.percent = book.add_format({"num_format": "0%", "bg_color": "#FFF7D6", "valign": "top"})
        self.whole = book.add_format({"num_format": "0", "valign": "top"})
        self.money = book.add_format({"num_format": "#,##0.00", "valign": "top"})
        self.total = book.add_format({"num_format": "#,##0.00", "bold": True, "top": 1})
        self.bold = book.add_format({"bold": True, "top": 1})
        self.numbers = {unit: book.add_format({"num_format": digits, "valign": "top"}) for unit, digits in DIGITS.items()}


def _sheet(book: xlsxwriter.Workbook, style: _Styles, name: str, title: str, note: str, columns: list[tuple[str, float]]) -> Worksheet:
    """A sheet with title, frozen head and print set-up."""
    sheet = book.add_worksheet(name)
    sheet.write_string(0, 0, title, style.title)
    sheet.write_string(1, 0, note, style.note)
    for k, (head, width) in enumerate(columns):
        sheet.write_string(HEAD, k, head, style.head)
        sheet.set_column(k, k, width)
    sheet.freeze_panes(HEAD + 1, 0)
    sheet.repeat_rows(HEAD)
    sheet.set_landscape()
    sheet.set_paper(9)  # A4
    sheet.fit_to_pages(1, 0)
    sheet.set_footer("&L&F&R&P / &N")
    return sheet


def _items(book: xlsxwriter.Workbook, style: _Styles, takeoff: TakeOff, orders: tuple[Order, ...], bill: Bill | None) -> None:
    columns = [
        ("key", 22.0), ("item", 38.0), ("measured", 11.0), ("unit", 6.0), ("allowance", 11.0), ("needed", 11.0), ("pack size", 10.0),
        ("packs", 8.0), ("rate", 10.0), ("amount", 12.0), ("formula", 60.0), ("source", 60.0),
    ]  # fmt: skip
    project = takeoff.setout.plan.project
    note = "Yellow cells may be changed: allowance, pack size, rate. Needed, packs and amount follow."
    sheet = _sheet(book, style, "Take-off", f"{project.title} {project.number}".strip(), note, columns)
    ordered = {order.item.key: order for order in orders}
    rates = {line.item.key: line.rate for line in bill.lines} if bill else {}
    row = HEAD + 1
    for item in takeoff.items:
        number = style.numbers[item.unit]
        line = row + 1  # as a formula counts
        order = ordered.get(item.key)
        sheet.write_string(row, 0, item.key, style.text)
        sheet.write_string(row, 1, item.name, style.text)
        sheet.write_number(row, 2, item.quantity, number)
        sheet.write_string(row, 3, item.unit, style.text)
        allowance = order.need / item.quantity - 1.0 if order and item.quantity > 0.0 else 0.0
        need = item.quantity * (1.0 + allowance)
        sheet.write_number(row, 4, allowance, style.percent)
        sheet.write_formula(row, 5, f"=C{line}*(1+E{line})", number, need)
        if order is not None:
            sheet.write_number(row, 6, order.size, style.entry)
            packs = max(math.ceil(need / order.size - 1e-9), 0) if order.pack != "roll" else order.packs
            if order.pack == "roll":  # from the cutting list: laps make it more than length over roll
                sheet.write_number(row, 7, packs, style.whole)
            else:
                sheet.write_formula(row, 7, f"=ROUNDUP(F{line}/G{line}-0.000001,0)", style.whole, packs)
        if item.key in rates:
            sheet.write_number(row, 8, rates[item.key], style.entry)
            sheet.write_formula(row, 9, f"=ROUND(C{line}*I{line},2)", style.money, round(item.quantity * rates[item.key], 2))
        else:
            sheet.write_blank(row, 8, None, style.entry)
        sheet.write_string(row, 10, item.formula, style.text)
        sheet.write_string(row, 11, item.source, style.text)
        row += 1
    sheet.autofilter(HEAD, 0, row - 1, len(columns) - 1)
    if bill is not None:
        sheet.write_string(row, 8, bill.currency, style.bold)
        sheet.write_formula(row, 9, f"=SUM(J{HEAD + 2}:J{row})", style.total, bill.total)
        missing = ", ".join(item.key for item in bill.unpriced)
        if missing:
            sheet.write_string(row + 1, 0, f"No rate given, not in the sum: {missing}", style.note)


def _parts(book: xlsxwriter.Workbook, style: _Styles, takeoff: TakeOff) -> None:
    columns = [("key", 22.0), ("item", 38.0), ("room", 20.0), ("stage", 14.0), ("where", 48.0), ("quantity", 12.0), ("unit", 6.0)]
    sheet = _sheet(book, style, "Parts", "Where each quantity comes from", "One line for each surface, run or joint.", columns)
    rooms = tuple(room.name for room in takeoff.setout.rooms)
    row = HEAD + 1
    for item in takeoff.items:
        for part in item.parts:
            texts = (item.key, item.name, rooms[part.place.room], item.row.stage, part.where)
            for k, text in enumerate(texts):
                sheet.write_string(row, k, text, style.text)
            sheet.write_number(row, 5, part.quantity, style.numbers[item.unit])
            sheet.write_string(row, 6, item.unit, style.text)
            row += 1
    sheet.autofilter(HEAD, 0, max(row - 1, HEAD), len(columns) - 1)


def _figures(book: xlsxwriter.Workbook, style: _Styles, takeoff: TakeOff) -> None:
    columns = [("figure", 26.0), ("value", 10.0), ("unit", 20.0), ("source", 70.0)]
    sheet = _sheet(book, style, "Products", "Figures used", "Generic and invented unless the products file gives the supplier's.", columns)
    for row, key in enumerate(PRODUCT_KEYS, HEAD + 1):
        rule = getattr(takeoff.setout.plan.products, key)
        sheet.write_string(row, 0, key, style.text)
        sheet.write_number(row, 1, rule.value, style.text)
        sheet.write_string(row, 2, rule.unit, style.text)
        sheet.write_string(row, 3, rule.source, style.text)


def _subtotals(book: xlsxwriter.Workbook, style: _Styles, bill: Bill) -> None:
    columns = [("by", 14.0), ("of", 60.0), (bill.currency or "amount", 14.0)]
    sheet = _sheet(
        book, style, "Bill", "Sums by room, stage and trade section", "Items without a rate are listed on the take-off.", columns
    )
    row = HEAD + 1
    for by, sums in (
        ("room", bill.by_room()),
        ("stage", bill.by_stage()),
        ("section", {SECTIONS[section]: amount for section, amount in bill.by_section().items()}),
    ):
        for name, amount in sums.items():
            sheet.write_string(row, 0, by, style.text)
            sheet.write_string(row, 1, name, style.text)
            sheet.write_number(row, 2, amount, style.money)
            row += 1
