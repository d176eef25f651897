"""The take-off as a workbook that lives: parts as numbers, all else as formulas that follow the yellow cells.

Sheets refer to each other by the number of an item or a room, never by their names, which may hold what a spreadsheet
takes for a wild card. Every formula carries its value, so that a viewer that does not reckon shows the same.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from layout.quantities.bill import NO_STOREY, SECTIONS, WHOLE_JOB
from layout.quantities.cutting import plan_cuts
from layout.quantities.orders import amounts_of
from layout.quantities.table import columns_of, entries_of
from layout.standards.products import PRODUCT_KEYS
from layout.writers.cut_records import HEAD as SAW_HEAD
from layout.writers.cut_records import saw_rows
from layout.writers.worksheets import HEAD, Styles, new_book, started

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    import xlsxwriter
    from xlsxwriter.worksheet import Worksheet

    from layout.quantities.bill import Bill, FreeLine, Line
    from layout.quantities.orders import Order
    from layout.quantities.values import Item, TakeOff

DIGITS = {"m3": "0.00", "m2": "0.00", "m": "0.0", "pcs": "0", "kg": "0.0", "ml": "0", "h": "0.0"}
FIRST = HEAD + 2
"""First row under the head, as a formula counts."""
YELLOW = "#FFF7D6"
MOST_GIVEN, MOST_FORMULA, MOST_TEXT = 250, 8000, 250
"""What a function is given, a formula's and a text's letters in it: a spreadsheet takes 255, 8192 and 255 (limits of the office format)."""
TAKEOFF = [
    ("key", 22.0), ("item", 38.0), ("measured", 11.0), ("unit", 6.0), ("allowance", 10.0), ("with spares", 11.0), ("pack size", 10.0),
    ("packs", 8.0), ("in packs", 11.0), ("priced", 12.0), ("rate", 10.0), ("per", 7.0), ("priced quantity", 11.0), ("amount", 12.0),
    ("no.", 6.0),
]  # fmt: skip
"""Columns of the take-off that formulas refer to by their letters, or that are reckoned; what else the table of columns has comes behind."""
PARTS = [
    ("key", 22.0), ("item", 38.0), ("room", 20.0), ("stage", 14.0), ("where", 48.0), ("quantity", 12.0), ("unit", 6.0), ("item no.", 9.0),
    ("room no.", 9.0),
]  # fmt: skip
BILL = [
    ("key", 22.0), ("item", 38.0), ("room", 20.0), ("stage", 14.0), ("section", 16.0), ("quantity", 12.0), ("unit", 7.0), ("rate", 10.0),
    ("amount", 12.0), ("item no.", 9.0), ("room no.", 9.0), ("storey no.", 9.0),
]  # fmt: skip


def save_workbook(takeoff: TakeOff, orders: tuple[Order, ...], path: Path, *, bill: Bill | None = None) -> None:
    """Write a take-off as XLSX; the same take-off gives the same bytes."""
    project = takeoff.setout.plan.project
    book = new_book(path, project.title, project.date)
    job = _Job.of(takeoff, orders, bill)
    style = _Styles(book)
    _items(book, style, job)
    _parts(book, style, job)
    _bill(book, style, job)
    _sums(book, style, job)
    _figures(book, style, job)
    _saw_list(book, style, job)
    book.close()


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class _Job:
    """What the sheets show, and in which rows they look for each other.

    `rooms` are names, whose numbers count from 1 in the book; `rows` the row of each item on the take-off, as a formula
    counts; `lines` every item in every room that has some of it, priced or not, so that a rate typed in later finds its
    line; `priced` the lines that have a rate, by item; `holders` the order that an item comes out of beside another.
    """

    takeoff: TakeOff
    orders: dict[str, Order]
    bill: Bill | None
    rooms: tuple[str, ...]
    storey_of: tuple[str, ...]
    rows: dict[str, int]
    lines: tuple[tuple[Item, int], ...]
    priced: dict[str, list[Line]]
    holders: dict[str, Order]
    free: tuple[FreeLine, ...]

    @classmethod
    def of(cls, takeoff: TakeOff, orders: tuple[Order, ...], bill: Bill | None) -> _Job:
        """The job of a take-off, its orders and its bill."""
        priced: dict[str, list[Line]] = {}
        for line in bill.lines if bill else ():
            priced.setdefault(line.item.key, []).append(line)
        return cls(
            takeoff=takeoff,
            orders={order.item.key: order for order in orders},
            bill=bill,
            rooms=tuple(room.name for room in takeoff.setout.rooms),
            storey_of=tuple(room.storey for room in takeoff.setout.plan.rooms),
            rows={item.key: FIRST + k for k, item in enumerate(takeoff.items)},
            lines=tuple((item, room) for item in takeoff.items for room in dict.fromkeys(part.place.room for part in item.parts)),
            priced=priced,
            holders={key: order for order in orders for key in order.beside},
            free=bill.free if bill else (),
        )

    @property
    def storeys(self) -> list[str]:
        """The storeys in the order of the rooms."""
        return list(dict.fromkeys(self.storey_of))

    @property
    def last_part(self) -> int:
        """Last row of the parts, as a formula counts."""
        return FIRST + sum(len(item.parts) for item in self.takeoff.items) - 1

    @property
    def last_line(self) -> int:
        """Last row of the bill."""
        return FIRST + len(self.lines) + len(self.free) - 1

    def quantity(self, item: Item) -> float:
        """The quantity of an item that is priced."""
        lines = self.priced.get(item.key)
        if lines:
            return math.fsum(line.quantity for line in lines)
        if self.bill and any(inside.key == item.key for inside, _ in self.bill.inside):
            return 0.0
        amounts = amounts_of(item, self.orders.get(item.key))
        return {"measured": amounts.measured, "with spares": amounts.with_spares, "packs": amounts.in_packs}[self.basis]

    @property
    def basis(self) -> str:
        """Which quantity the plan prices."""
        return self.takeoff.setout.plan.rules.priced


def _figure(key: str) -> str:
    """The cell of a figure of the products."""
    return f"Products!$B${FIRST + PRODUCT_KEYS.index(key)}"


class _Styles(Styles):
    """Cell formats by name."""

    def __init__(self, book: xlsxwriter.Workbook) -> None:
        super().__init__(book)
        self.text = book.add_format({"text_wrap": True, "valign": "top"})
        self.entry = book.add_format({"num_format": "General", "bg_color": YELLOW, "valign": "top"})
        self.percent = book.add_format({"num_format": "0%", "valign": "top"})
        self.size = book.add_format({"num_format": "General", "valign": "top"})
        self.whole = book.add_format({"num_format": "0", "valign": "top"})
        self.money = book.add_format({"num_format": '#,##0.00;-#,##0.00;"–"', "valign": "top"})
        self.total = book.add_format({"num_format": "#,##0.00", "bold": True, "top": 1})
        self.bold = book.add_format({"bold": True, "top": 1})
        self.numbers = {unit: book.add_format({"num_format": digits, "valign": "top"}) for unit, digits in DIGITS.items()}


def _items(book: xlsxwriter.Workbook, style: _Styles, job: _Job) -> None:
    project = job.takeoff.setout.plan.project
    note = (
        "Yellow cells may be changed: rate, per (the unit, or pack), and which quantity is priced (measured, with spares, packs); "
        "losses and pack sizes on the sheet Products. All else follows; tape, trim and tiles that offcuts save are those of the cutting lists."
    )
    more = [(each.head, each.book, each.value) for each in columns_of(job.takeoff) if each.book is not None]
    columns = [*TAKEOFF, *((head, width) for head, width, _ in more)]
    sheet = started(book, style, "Take-off", f"{project.title} {project.number}".strip(), note, columns)
    last = job.last_part
    for number, entry in enumerate(entries_of(job.takeoff, tuple(job.orders.values()), job.bill), 1):
        item, row, line = entry.item, HEAD + number, FIRST + number - 1
        digits = style.numbers[item.unit]
        sheet.write_string(row, 0, item.key, style.text)
        sheet.write_string(row, 1, item.name, style.text)
        sheet.write_formula(row, 2, f"=SUMIFS(Parts!$F${FIRST}:$F${last},Parts!$H${FIRST}:$H${last},O{line})", digits, item.quantity)
        sheet.write_string(row, 3, item.unit, style.text)
        _ordered(sheet, style, job, item, line)
        _rated(sheet, style, job, item, line)
        sheet.write_number(row, 14, number, style.whole)
        for column, (_, _, told) in enumerate(more, len(TAKEOFF)):
            value = told(entry)
            if isinstance(value, str):
                sheet.write_string(row, column, value, style.text)
            elif value is not None:
                sheet.write_number(row, column, value, style.size)
    row = HEAD + 1 + len(job.takeoff.items)
    sheet.autofilter(HEAD, 0, row - 1, len(columns) - 1)
    sheet.write_string(row, 12, job.bill.currency if job.bill else "", style.bold)
    end = job.last_line
    sheet.write_formula(row, 13, f"=SUM(Bill!$I${FIRST}:$I${end})", style.total, job.bill.total if job.bill else 0.0)
    if job.bill is not None and job.bill.unpriced:
        _unrated(sheet, style, job, job.bill.unpriced, row + 1)


def _unrated(sheet: Worksheet, style: _Styles, job: _Job, items: Sequence[Item], row: int) -> None:
    """Which items have no rate, as the yellow cells are now; where a formula could not hold them, as they were when it was written."""
    head, names = "No rate given, not in the sum: ", [f"{item.key} ({item.name})" for item in items]
    told = head + ", ".join(names)
    rated = [f"ISNUMBER(K{job.rows[item.key]})" for item in items]
    own = [f'IF({one},"","{name.replace(chr(34), chr(34) * 2)}, ")' for one, name in zip(rated, names, strict=True)]
    formula = f'=IF(AND({",".join(rated)}),"","{head}"&{"&".join(own)})'
    if len(items) > MOST_GIVEN or len(formula) > MOST_FORMULA or max(map(len, names)) > MOST_TEXT:
        sheet.write_string(row, 0, told, style.note)
    else:
        sheet.write_formula(row, 0, formula, style.note, f"{told}, ")


def _ordered(sheet: Worksheet, style: _Styles, job: _Job, item: Item, line: int) -> None:
    """Allowance, with spares, pack size, packs, in packs."""
    row, digits, order = line - 1, style.numbers[item.unit], job.orders.get(item.key)
    amounts = amounts_of(item, order)
    pack = item.row.pack
    if order is None or pack is None:
        sheet.write_formula(row, 5, f"=C{line}", digits, item.quantity)
        sheet.write_formula(row, 8, f"=F{line}", digits, item.quantity)
        return
    own = "+".join(f"C{job.rows[key]}" for key in (item.key, *order.beside) if key in job.rows)
    listed = pack.word in ("roll", "length")  # from a cutting list: laps and whole runs make it more than length over roll
    if listed:
        sheet.write_number(row, 5, order.need, digits)
    else:
        loss = getattr(job.takeoff.setout.plan.products, pack.loss).value if pack.loss else 0.0
        sheet.write_formula(row, 4, f"={_figure(pack.loss)}" if pack.loss else "=0", style.percent, loss)
        saw = f"{order.adjusted:+g}" if order.adjusted else ""  # by the saw list: breakage, less what offcuts save
        sheet.write_formula(row, 5, f"=({own}{saw})*(1+E{line})", digits, order.need)
    if item.size is not None:
        box = f"=MAX(1,INT({_figure(pack.size)}*1000000/({item.size[0]:g}*{item.size[1]:g})+0.000001))"
        sheet.write_formula(row, 6, box, style.size, order.size)
    else:
        sheet.write_formula(row, 6, f"={_figure(pack.size)}", style.size, order.size)
    if listed:
        sheet.write_number(row, 7, order.packs, style.whole)
    else:
        sheet.write_formula(row, 7, f"=ROUNDUP(MAX(F{line}/G{line}-0.000001,0),0)", style.whole, order.packs)
    sheet.write_formula(row, 8, f"=G{line}*H{line}", digits, amounts.in_packs)


def _rated(sheet: Worksheet, style: _Styles, job: _Job, item: Item, line: int) -> None:
    """Which quantity is priced, rate, unit, priced quantity, amount."""
    row, lines = line - 1, job.priced.get(item.key, [])
    sheet.write_string(row, 9, job.basis, style.entry)
    if lines:
        sheet.write_number(row, 10, lines[0].rate, style.entry)
    else:
        sheet.write_blank(row, 10, None, style.entry)
    sheet.write_string(row, 11, lines[0].unit if lines else item.unit, style.entry)
    chosen = f'IF(L{line}="pack",H{line},IF(J{line}="packs",I{line},IF(J{line}="with spares",F{line},C{line})))'
    holder = job.holders.get(item.key)
    if holder is not None:  # priced with the packs that it comes out of, if those are priced
        h = job.rows[holder.item.key]
        chosen = f'IF(AND(ISNUMBER(K{h}),OR(L{h}="pack",J{h}<>"measured")),0,{chosen})'
    sheet.write_formula(row, 12, f"={chosen}", style.numbers[item.unit], job.quantity(item))
    end = job.last_line
    amount = round(math.fsum(each.amount for each in lines), 2)
    sheet.write_formula(row, 13, f"=SUMIFS(Bill!$I${FIRST}:$I${end},Bill!$J${FIRST}:$J${end},O{line})", style.money, amount)


def _parts(book: xlsxwriter.Workbook, style: _Styles, job: _Job) -> None:
    sheet = started(book, style, "Parts", "Where each quantity comes from", "One line for each surface, run or joint.", PARTS)
    row = HEAD + 1
    for number, item in enumerate(job.takeoff.items, 1):
        for part in item.parts:
            texts = (item.key, item.name, job.rooms[part.place.room], item.row.stage, part.where)
            for k, text in enumerate(texts):
                sheet.write_string(row, k, text, style.text)
            sheet.write_number(row, 5, part.quantity, style.numbers[item.unit])
            sheet.write_string(row, 6, item.unit, style.text)
            sheet.write_number(row, 7, number, style.whole)
            sheet.write_number(row, 8, part.place.room + 1, style.whole)
            row += 1
    sheet.autofilter(HEAD, 0, max(row - 1, HEAD), len(PARTS) - 1)


def _bill(book: xlsxwriter.Workbook, style: _Styles, job: _Job) -> None:
    """Each item in each room, and the free lines."""
    note = "Quantities are shares of what is priced on the take-off; rates stand there too. Yellow: free lines."
    sheet = started(book, style, "Bill", f"Bill {job.bill.currency if job.bill else ''}".strip(), note, BILL)
    last = job.last_part
    numbers = {item.key: number for number, item in enumerate(job.takeoff.items, 1)}
    priced = {(line.item.key, line.room): line for line in job.bill.lines} if job.bill else {}
    for line, (item, room) in enumerate(job.lines, FIRST):
        row, at = line - 1, job.rows[item.key]
        texts = (item.key, item.name, job.rooms[room], item.row.stage, item.row.section)
        for k, text in enumerate(texts):
            sheet.write_string(row, k, text, style.text)
        own = math.fsum(part.quantity for part in item.parts if part.place.room == room)
        share = own / item.quantity * job.quantity(item) if item.quantity > 0.0 else 0.0
        parts = f"SUMIFS(Parts!$F${FIRST}:$F${last},Parts!$H${FIRST}:$H${last},J{line},Parts!$I${FIRST}:$I${last},K{line})"
        formula = f"=IF('Take-off'!$C${at}>0,{parts}/'Take-off'!$C${at}*'Take-off'!$M${at},0)"
        sheet.write_formula(row, 5, formula, style.numbers[item.unit], share)
        made = priced.get((item.key, room))
        sheet.write_formula(row, 6, f"='Take-off'!$L${at}", style.text, made.unit if made else item.unit)
        sheet.write_formula(row, 7, f"='Take-off'!$K${at}", style.money, made.rate if made else 0.0)
        sheet.write_formula(row, 8, f"=ROUND(F{line}*H{line},2)", style.money, made.amount if made else 0.0)
        sheet.write_number(row, 9, numbers[item.key], style.whole)
        sheet.write_number(row, 10, room + 1, style.whole)
        sheet.write_number(row, 11, job.storeys.index(job.storey_of[room]) + 1, style.whole)
    for line, free in enumerate(job.free, FIRST + len(job.lines)):
        row = line - 1
        for k, text in enumerate(("", free.name, WHOLE_JOB, free.stage, "general")):
            sheet.write_string(row, k, text, style.text)
        sheet.write_number(row, 5, free.quantity, style.entry)
        sheet.write_string(row, 6, free.unit, style.text)
        sheet.write_number(row, 7, free.rate, style.entry)
        sheet.write_formula(row, 8, f"=ROUND(F{line}*H{line},2)", style.money, free.amount)
        sheet.write_number(row, 9, 0, style.whole)
        sheet.write_number(row, 10, 0, style.whole)
        sheet.write_number(row, 11, 0, style.whole)
    sheet.autofilter(HEAD, 0, max(HEAD + len(job.lines) + len(job.free), HEAD), len(BILL) - 1)


def _sums(book: xlsxwriter.Workbook, style: _Styles, job: _Job) -> None:
    columns = [("by", 14.0), ("of", 60.0), (job.bill.currency if job.bill and job.bill.currency else "amount", 14.0)]
    sheet = started(
        book, style, "Sums", "Sums by room, storey, stage and trade section", "Items without a rate are told on the take-off.", columns
    )
    end = job.last_line
    whole = [WHOLE_JOB] if job.free else []
    rooms = [("room", name, "K", f"{number}") for number, name in enumerate(job.rooms, 1)] + [("room", name, "K", "0") for name in whole]
    stages = dict.fromkeys([*(item.row.stage for item in job.takeoff.items), *(free.stage for free in job.free)])
    sections = dict.fromkeys([*(item.row.section for item in job.takeoff.items), *(["general"] if job.free else [])])
    if any(job.storeys):
        rooms += [("storey", name or NO_STOREY, "L", f"{number}") for number, name in enumerate(job.storeys, 1)]
        rooms += [("storey", name, "L", "0") for name in whole]
    kinds = [*rooms, *(("stage", stage, "D", f'"{stage}"') for stage in stages)]
    kinds += [("section", title, "E", f'"{section}"') for section, title in SECTIONS.items() if section in sections]
    by = job.bill
    values: dict[tuple[str, str], float] = {}
    if by:
        values |= {("room", name): amount for name, amount in by.by_room().items()}
        values |= {("storey", name or NO_STOREY): amount for name, amount in by.by_storey().items()}
        values |= {("stage", name): amount for name, amount in by.by_stage().items()}
        values |= {("section", SECTIONS[key]): amount for key, amount in by.by_section().items()}
    for row, (kind, name, column, what) in enumerate(kinds, HEAD + 1):
        sheet.write_string(row, 0, kind, style.text)
        sheet.write_string(row, 1, name, style.text)
        formula = f"=SUMIFS(Bill!$I${FIRST}:$I${end},Bill!${column}${FIRST}:${column}${end},{what})"
        sheet.write_formula(row, 2, formula, style.money, values.get((kind, name), 0.0))
    row = HEAD + 1 + len(kinds)
    sheet.write_string(row, 1, "total", style.bold)
    sheet.write_formula(row, 2, f"=SUM(Bill!$I${FIRST}:$I${end})", style.total, by.total if by else 0.0)


def _figures(book: xlsxwriter.Workbook, style: _Styles, job: _Job) -> None:
    columns = [("figure", 26.0), ("value", 10.0), ("unit", 20.0), ("source", 70.0)]
    note = "Generic and invented unless the products file gives the supplier's. Yellow: losses and pack sizes, which the take-off follows."
    sheet = started(book, style, "Products", "Figures used", note, columns)
    live = {key for item in job.takeoff.items if item.row.pack for key in (item.row.pack.size, item.row.pack.loss)}
    live -= {item.row.pack.size for item in job.takeoff.items if item.row.pack and item.row.pack.word in ("roll", "length")}
    for row, key in enumerate(PRODUCT_KEYS, HEAD + 1):
        rule = getattr(job.takeoff.setout.plan.products, key)
        sheet.write_string(row, 0, key, style.text)
        sheet.write_number(row, 1, rule.value, style.entry if key in live else style.text)
        sheet.write_string(row, 2, rule.unit, style.text)
        sheet.write_string(row, 3, rule.source, style.text)


def _saw_list(book: xlsxwriter.Workbook, style: _Styles, job: _Job) -> None:
    """Every piece that is cut, tile by tile, with a column to tick."""
    setout = job.takeoff.setout
    columns = [(words, 12.0) for words in (*SAW_HEAD, "cut")]
    note = "Sizes in mm as the saw is set; pieces of one number come out of one tile, measured from its left and lower edge, face up."
    sheet = started(book, style, "Saw list", "Saw list", note, columns)
    for row, values in enumerate(saw_rows(plan_cuts(setout), setout), HEAD + 1):
        for column, value in enumerate(values):
            if isinstance(value, str):
                sheet.write_string(row, column, value, style.text)
            else:
                sheet.write_number(row, column, value, style.size)
        sheet.write_blank(row, len(values), None, style.entry)
