"""Many plans as one record and one workbook: what each came to, the orders together, the saw list over all of them."""

from __future__ import annotations

import math
from dataclasses import fields
from typing import TYPE_CHECKING, Any

from layout.quantities.needs import PlanWork
from layout.writers.files import one_file
from layout.writers.rounded import fine, mm
from layout.writers.save import csv_text
from layout.writers.worksheets import HEAD, Styles, new_book, started

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from pathlib import Path

    import xlsxwriter

    from layout.quantities.portfolio import JointCuts, Portfolio

BATCH_SCHEMA = "gaugerod/batch/1"
FIGURES = tuple(each.name for each in fields(PlanWork) if each.name not in ("needs", "cuts"))
"""What is told of each plan."""
PLANS = (
    ("plan", 30.0), ("rooms", 8.0), ("floor m²", 10.0), ("whole floor tiles", 10.0), ("cut floor tiles", 10.0), ("narrowest cut, mm", 10.0),
    ("sealant, m", 10.0), ("tape, m", 10.0), ("findings", 9.0), ("binding", 9.0), ("bill", 12.0), ("fault", 80.0), ("the tool's own", 9.0),
)  # fmt: skip
ORDERS = (
    ("key", 22.0), ("item", 40.0), ("needed", 11.0), ("unit", 7.0), ("pack size", 10.0), ("pack", 10.0), ("packs together", 10.0),
    ("packs plan by plan", 11.0), ("saved", 8.0),
)  # fmt: skip
BY_PLAN = (("key", 22.0), ("item", 40.0), ("plan", 30.0), ("packs if ordered alone", 12.0))
SAW = (
    ("tile", 22.0), ("no.", 7.0), ("plan", 30.0), ("mark", 8.0), ("width", 9.0), ("height", 9.0), ("from left", 9.0), ("from below", 9.0),
    ("quarter turns", 9.0),
)  # fmt: skip


def batch_record(portfolio: Portfolio) -> dict[str, Any]:
    """The record of a batch: plans, their orders and their cutting plan together."""
    return {
        "schema": BATCH_SCHEMA,
        "plans": [{name: getattr(work, name) for name in FIGURES} for work in portfolio.works],
        "orders": [
            {
                "key": order.key,
                "name": order.name,
                "need": fine(order.need),
                "unit": order.unit,
                "packs": order.packs,
                "pack_size": order.size,
                "pack": order.pack,
                "packs_alone": order.alone,
                "plans": dict(order.plans),
            }
            for order in portfolio.orders
        ],
        "cutting": [_cutting(cuts) for cuts in portfolio.cuts],
    }


def batch_csv(portfolio: Portfolio, *, comma: bool = False) -> str:
    """The plans of a batch as CSV: one row each, with the columns of the record."""
    values = [["" if getattr(work, name) is None else f"{getattr(work, name)}" for name in FIGURES] for work in portfolio.works]
    numbers = [name for name in FIGURES if name not in ("plan", "fault")]
    rows = [[v.replace(".", ",") if comma and name in numbers else v for name, v in zip(FIGURES, row, strict=True)] for row in values]
    return csv_text(FIGURES, rows, comma=comma)


def _cutting(cuts: JointCuts) -> dict[str, Any]:
    return {
        "key": cuts.key,
        "size": [mm(cuts.size[0]), mm(cuts.size[1])],
        "whole": cuts.whole,
        "places": cuts.places,
        "broken": cuts.broken,
        "bound": cuts.bound,
        "tiles": [
            [
                {
                    "plan": p.plan,
                    "mark": p.mark,
                    "box": [mm(p.box[0]), mm(p.box[1])],
                    "at": [mm(p.at[0]), mm(p.at[1])],
                    "quarters": p.quarters,
                }
                for p in tile
            ]
            for tile in cuts.tiles
        ],
    }


def write_batch_xlsx(portfolio: Portfolio, path: str | Path, *, inputs: Sequence[str | Path] = (), force: bool = False) -> None:
    """Write a batch as a workbook: plans, order, order by plan, saw list.

    Raises
    ------
    OutputError
        If it cannot be written, or stands there and is not ours unchanged; with `force` it is replaced.
    """
    with one_file(path, inputs=inputs, force=force) as place:
        book = new_book(place)
        style = _Style(book)
        _plans(book, style, portfolio)
        rows: list[tuple[Any, ...]] = [
            (o.key, o.name, round(o.need, 3), o.unit, o.size, o.pack, o.packs, o.alone, o.alone - o.packs) for o in portfolio.orders
        ]
        _sheet(book, style, "Order", "One order for all plans", "Packs saved: ordered together, rests are used up.", ORDERS, rows)
        rows = [(o.key, o.name, plan, packs) for o in portfolio.orders for plan, packs in o.plans]
        _sheet(book, style, "By plan", "Packs of each plan if it were ordered alone", "", BY_PLAN, rows)
        rows = [
            (cuts.key, number, p.plan, p.mark, *p.box, *p.at, p.quarters)
            for cuts in portfolio.cuts
            for number, tile in enumerate(cuts.tiles, 1)
            for p in tile
        ]
        note = "Sizes in mm as the saw is set; pieces of one number come out of one tile, measured from its left and lower edge, face up."
        _sheet(book, style, "Saw list", "Saw list over all plans", note, SAW, rows)
        book.close()


class _Style(Styles):
    """Cell formats of the book."""

    def __init__(self, book: xlsxwriter.Workbook) -> None:
        super().__init__(book)
        self.sum = book.add_format({"bold": True, "top": 1})


def _plans(book: xlsxwriter.Workbook, style: _Style, portfolio: Portfolio) -> None:
    """Each plan's figures, and their sums as formulas."""
    rows = [[None if name == "own_fault" else getattr(work, name) for name in FIGURES] for work in portfolio.works]
    for row, work in zip(rows, portfolio.works, strict=True):
        row[-1] = "yes" if work.own_fault else None
    sheet = _sheet(book, style, "Plans", f"{len(rows)} plans", "A plan with a fault is not set out and is in no sum.", PLANS, rows)
    end = HEAD + 1 + len(rows)
    sheet.write_string(end, 0, "all", style.sum)
    for k, name in enumerate(FIGURES):
        if name in ("rooms", "floor_m2", "whole", "cut", "sealant_m", "tape_m", "findings", "binding", "amount"):
            column = chr(ord("A") + k)
            total = math.fsum(getattr(work, name) or 0 for work in portfolio.works)
            sheet.write_formula(end, k, f"=SUM({column}{HEAD + 2}:{column}{end})", style.sum, total)


def _sheet(
    book: xlsxwriter.Workbook,
    style: _Style,
    name: str,
    title: str,
    note: str,
    columns: Sequence[tuple[str, float]],
    rows: Iterable[Sequence[Any]],
) -> Any:  # noqa: ANN401  # the library of workbooks has no types
    """A sheet with its head and rows; what is None stays empty."""
    sheet = started(book, style, name, title, note, columns)
    last = HEAD
    for last, row in enumerate(rows, HEAD + 1):
        for k, value in enumerate(row):
            if isinstance(value, str):
                sheet.write_string(last, k, value)
            elif value is not None:
                sheet.write_number(last, k, value)
    sheet.autofilter(HEAD, 0, last, len(columns) - 1)
    return sheet
