"""Prices: a job of two rooms by hand, three quantities that can be priced, packs, free lines, notes; and the workbook that lives."""

from __future__ import annotations

import csv
import dataclasses
import io
import json
from typing import TYPE_CHECKING, Any

import openpyxl
import pytest
from typer.testing import CliRunner

from cli.main import app
from layout.errors import PlanError, PlanFaults
from layout.quantities.bill import Bill, FreeLine, Rate, Rates, price
from layout.quantities.orders import place_orders
from layout.quantities.takeoff import take_off
from layout.readers.officefile import read_rates
from layout.readers.planfile import parse_plan
from layout.setout.conduct import set_out
from layout.writers.quantity_records import takeoff_record
from layout.writers.save import takeoff_csv
from layout.writers.workbook import save_workbook
from tests.spreadsheet import Book
from tests.test_project import TOP

if TYPE_CHECKING:
    from pathlib import Path

    from layout.quantities.values import TakeOff

# Two rooms with bare walls tanked 150 high: floors 2898 x 1868 and 2074 x 1456 mm take 14 x 9 and 10 x 7 whole tiles of 200
# with joints of 6, 10 mm off each wall: 10 * 206 - 6 + 20 = 2074, 7 * 206 - 6 + 20 = 1456.
JOB = """
[tiles.floor]
size = [200, 200]
joint = 6
thickness = 11
[rules]
wall_tolerance = 0
movement_joint = 8
priced = "PRICED"
[products]
membrane_kg_m2 = 0.9
membrane_loss = 0.1
membrane_pack_kg = 7
detail_coat_kg_m = 0.25
primer_kg_m2 = 0.3
primer_loss = 0
tile_spare = 0.1
[[rooms]]
name = "Hall*"
outline = [[0, 0], [2898, 0], [2898, 1868], [0, 1868]]
tanking_height = 150
[[rooms]]
name = "<Hall"
outline = [[0, 0], [2074, 0], [2074, 1456], [0, 1456]]
tanking_height = 150
"""
RATES = {
    "tiles.floor": Rate("tiles.floor", 1.35, "pcs"),
    "primer": Rate("primer", 8.40, "kg"),
    "membrane": Rate("membrane", 9.50, "kg"),
    "detail_coat": Rate("detail_coat", 9.75, "kg"),
    "labour.prime": Rate("labour.prime", 48.0, "h"),
}
FREE = (
    FreeLine(name="mixer hire", quantity=2.0, unit="week", rate=80.0, stage="fixing"),
    FreeLine(name="permit", quantity=1.0, unit="sum", rate=55.55),
)
# areas: 5.413464 + 2 x 4.766 x 0.15 = 6.843264 and 2.074 x 1.456 = 3.019744 + 2 x 3.530 x 0.15 = 4.078744 m2
# tape: 9.532 + 0.6 = 10.132 and 7.060 + 0.6 = 7.660 m
AREAS, TAPE = (6.843264, 4.078744), (10.132, 7.660)


def job(priced: str = "measured") -> TakeOff:
    return take_off(set_out(parse_plan(JOB.replace("PRICED", priced))))


def bill_of(takeoff: TakeOff, **more: Any) -> Bill:
    return price(takeoff, Rates(source="r.toml", currency="EUR", rates={**RATES, **more}, lines=FREE))


@pytest.fixture(scope="module")
def measured() -> TakeOff:
    return job()


def test_a_bill_of_two_rooms_by_hand(measured):
    bill = bill_of(measured)
    by_hand = {
        ("tiles.floor", 0): round(126 * 1.35, 2),  # 170.10
        ("tiles.floor", 1): round(70 * 1.35, 2),  # 94.50
        ("primer", 0): round(AREAS[0] * 0.3 * 8.40, 2),  # 2.0529792 kg: 17.25
        ("primer", 1): round(AREAS[1] * 0.3 * 8.40, 2),  # 1.2236232 kg: 10.28
        ("membrane", 0): round(AREAS[0] * 1.8 * 9.50, 2),  # 12.3178752 kg: 117.02
        ("membrane", 1): round(AREAS[1] * 1.8 * 9.50, 2),  # 7.3417392 kg: 69.75
        ("detail_coat", 0): round(TAPE[0] * 0.25 * 9.75, 2),  # 2.533 kg: 24.70
        ("detail_coat", 1): round(TAPE[1] * 0.25 * 9.75, 2),  # 1.915 kg: 18.67
        ("labour.prime", 0): round(AREAS[0] / 15 * 48, 2),  # 0.4562176 h: 21.90
        ("labour.prime", 1): round(AREAS[1] / 15 * 48, 2),  # 0.2719163 h: 13.05
    }
    assert {(line.item.key, line.room): line.amount for line in bill.lines} == pytest.approx(by_hand, abs=0.001)
    assert bill.total == pytest.approx(557.22 + 160 + 55.55, abs=0.001)
    assert bill.by_room() == pytest.approx({"Hall*": 350.97, "<Hall": 206.25, "whole job": 215.55}, abs=0.001)
    assert bill.by_stage()["fixing"] == pytest.approx(170.10 + 94.50 + 160)
    # tiles 170.10 + 94.50; primer, its labour, both coats and the detail coat the rest
    sections = {str(name): amount for name, amount in bill.by_section().items()}
    assert sections == pytest.approx({"tiling": 264.60, "waterproofing": 27.53 + 34.95 + 186.77 + 43.37, "general": 215.55}, abs=0.001)


def test_with_spares_prices_the_loss_and_what_comes_out_of_the_same_packs():
    bill = bill_of(job("with spares"))
    sums: dict[str, float] = {}
    for line in bill.lines:
        sums[line.item.key] = sums.get(line.item.key, 0.0) + line.quantity
    assert sums["tiles.floor"] == pytest.approx(196 * 1.1)
    # coats and detail coat come out of one kind of pack: (19.6596144 + 4.448) x 1.1; the detail coat is not priced again
    assert sums["membrane"] == pytest.approx(26.51838, abs=1e-4)
    assert "detail_coat" not in sums
    assert [(item.key, holder.key) for item, holder in bill.inside] == [("detail_coat", "membrane")]
    assert "detail_coat" not in {item.key for item in bill.unpriced}


def test_packs_price_whole_packs_shared_by_what_is_measured():
    bill = bill_of(job("packs"))
    own = {line.room: line for line in bill.lines if line.item.key == "membrane"}
    # 26.52 kg are 4 packs of 7 kg; the rooms share them as 12.3178752 to 7.3417392
    assert own[0].quantity == pytest.approx(28 * 12.3178752 / 19.6596144)
    assert own[0].quantity + own[1].quantity == pytest.approx(28)
    tiles = [line.quantity for line in bill.lines if line.item.key == "tiles.floor"]
    assert sum(tiles) == pytest.approx(225)  # 215.6 in boxes of 25


def test_a_rate_by_the_pack(measured):
    bill = bill_of(measured, membrane=Rate("membrane", 68.0, "pack"))
    lines = [line for line in bill.lines if line.item.key == "membrane"]
    assert {line.unit for line in lines} == {"pack"}
    assert sum(line.quantity for line in lines) == pytest.approx(4)
    assert sum(line.amount for line in lines) == pytest.approx(272.0, abs=0.01)
    assert [item.key for item, _ in bill.inside] == ["detail_coat"]
    with pytest.raises(PlanError, match="not bought in packs"):
        bill_of(measured, **{"tiled.floor": Rate("tiled.floor", 3.0, "pack")})
    with pytest.raises(PlanError, match='measured in "kg" or priced by the "pack"'):
        bill_of(measured, membrane=Rate("membrane", 3.0, "m2"))


def test_a_rate_of_another_job_is_a_note(measured):
    bill = bill_of(measured, paint=Rate("paint", 9.0, "kg"), membran=Rate("membran", 9.0, "kg"))
    assert bill.notes == ('the rate "paint" prices nothing here', 'the rate "membran" prices nothing here; did you mean membrane?')
    assert bill.total == bill_of(measured).total


def test_free_lines_are_read(tmp_path):
    path = tmp_path / "r.toml"
    path.write_text(
        '[[lines]]\nname = "saw"\nrate = 80\nquantity = 2\nunit = "week"\nstage = "fixing"\n[[lines]]\nname = "permit"\nrate = 55.55\n',
        encoding="utf-8",
    )
    assert read_rates(path).lines == (dataclasses.replace(FREE[0], name="saw"), FREE[1])


@pytest.mark.parametrize(("text", "words"), [
    ("lines = 3\n", "give .*lines"),
    ("[[lines]]\nname = 'a'\n", "name or rate is missing"),
    ("[[lines]]\nname = 'a'\nrate = -1\n", "from 0"),
    ("[[lines]]\nname = 'a'\nrate = 1\ncolour = 2\n", "'colour' found"),
    ("[[lines]]\nname = 'a'\nrate = 1\nstage = 'later'\n", "later"),
])  # fmt: skip
def test_free_lines_that_cannot_be_are_told(tmp_path, text, words):
    (tmp_path / "r.toml").write_text(text, encoding="utf-8")
    with pytest.raises(PlanFaults, match=words):
        read_rates(tmp_path / "r.toml")


def test_the_record_has_three_amounts_and_names_what_has_no_rate(measured):
    record = takeoff_record(measured, place_orders(measured), bill_of(measured))
    membrane = next(item for item in record["items"] if item["key"] == "membrane")
    assert membrane["amounts"] == pytest.approx({"measured": 19.659614, "with_spares": 26.518376, "in_packs": 28.0}, abs=1e-5)
    unpriced = {each["key"]: each["name"] for each in record["bill"]["unpriced_items"]}
    assert unpriced["grout"] == "resin grout"
    assert list(unpriced) == record["bill"]["unpriced"]
    assert [line["amount"] for line in record["bill"]["free_lines"]] == [160.0, 55.55]


def test_csv_for_offices_with_decimal_commas(measured):
    bill = bill_of(measured)
    plain = list(csv.reader(io.StringIO(takeoff_csv(measured, place_orders(measured), bill))))
    comma = list(csv.reader(io.StringIO(takeoff_csv(measured, place_orders(measured), bill, comma=True)), delimiter=";"))
    assert [len(row) for row in plain] == [len(plain[0])] * len(plain) == [len(row) for row in comma]
    numbers = [plain[0].index(name) for name in ("quantity", "with spares", "in packs", "pack size", "rate", "amount")]
    assert comma[0] == plain[0]
    for one, other in zip(plain[1:], comma[1:], strict=True):
        assert [one[k].replace(".", ",") for k in numbers] == [other[k] for k in numbers]
    membrane = dict(zip(comma[0], next(row for row in comma if row[0] == "membrane"), strict=True))
    assert (membrane["quantity"], membrane["in packs"], membrane["rate"], membrane["amount"]) == ("19,660", "28,000", "9,5", "186,77")
    assert [row[1] for row in comma[-2:]] == ["mixer hire", "permit"]


def test_a_book_reckons_with_what_offcuts_save(tmp_path):
    bond = 'size = [400, 200]\npattern = "running"'  # every second course begins with half a tile: two of them out of one
    takeoff = take_off(set_out(parse_plan(JOB.replace("PRICED", "packs").replace("size = [200, 200]", bond))))
    (tiles,) = [order for order in place_orders(takeoff) if order.item.key == "tiles.floor"]
    assert tiles.adjusted < 0
    book = book_of(takeoff, tmp_path / "t.xlsx", bill_of(takeoff))
    assert book.value("Take-off", cell(book, "Take-off", "tiles.floor", "with spares")) == pytest.approx(tiles.need)
    assert book.value("Take-off", cell(book, "Take-off", "tiles.floor", "packs")) == tiles.packs
    book.put("Products", cell(book, "Products", "tile_spare", "value"), 0.5)
    need = book.value("Take-off", cell(book, "Take-off", "tiles.floor", "with spares"))
    assert need == pytest.approx((tiles.item.quantity + tiles.adjusted) * 1.5)


def book_of(takeoff: TakeOff, path: Path, bill: Bill | None) -> Book:
    save_workbook(takeoff, place_orders(takeoff), path, bill=bill)
    return Book(path)


def cell(book: Book, sheet: str, key: str, column: str) -> str:
    """The cell of an item in a column."""
    heads = {
        value: place[1].rstrip("0123456789")
        for place, value in book.cells.items()
        if place[0] == sheet and place[1].endswith("4") and place[1][-2:-1].isalpha()
    }
    row = next(
        place[1][1:]
        for place, value in book.cells.items()
        if place[0] == sheet and place[1][0] == "A" and not place[1][1:2].isalpha() and value == key
    )
    return f"{heads[column]}{row}"


@pytest.mark.parametrize("priced", ["measured", "with spares", "packs"])
@pytest.mark.parametrize("rated", [True, False])
def test_every_formula_reckoned_anew_gives_the_value_it_carries(tmp_path, priced, rated):
    takeoff = job(priced)
    book = book_of(takeoff, tmp_path / "t.xlsx", bill_of(takeoff, sealant=Rate("sealant", 9.9, "pack")) if rated else None)
    carried = openpyxl.load_workbook(tmp_path / "t.xlsx", data_only=True)
    assert len(book.formulas()) > 100
    for sheet, place in book.formulas():
        value, wanted = book.value(sheet, place), carried[sheet][place].value
        if isinstance(wanted, str):
            assert value == wanted, (sheet, place)
        else:
            assert (value or 0.0) == pytest.approx(wanted or 0.0, abs=1e-6), (sheet, place, book.cells[sheet, place])


def test_only_parts_and_free_lines_are_dead_numbers_in_the_bill(tmp_path, measured):
    book = book_of(measured, tmp_path / "t.xlsx", bill_of(measured))
    for sheet, columns in (("Take-off", "CFHIMN"), ("Bill", "FHI"), ("Sums", "C")):
        dead = {
            place
            for (name, place), kind in book.types.items()
            if name == sheet and kind == "n" and place[0] in columns and int(place[1:]) > 4 and book.cells[name, place] is not None
        }
        if sheet == "Take-off":  # tape and trim come off cutting lists
            dead -= {cell(book, sheet, key, column) for key in ("tape.internal",) for column in ("with spares", "packs")}
        if sheet == "Bill":  # free lines have no item
            dead = {place for place in dead if book.value(sheet, f"J{place[1:]}") != 0}
        assert not dead, sheet


def test_a_yellow_cell_changes_what_the_tool_would_have_said(tmp_path):
    """Change rates, losses, packs and what is priced in the book; a take-off with those figures says the same."""
    takeoff = job("measured")
    book = book_of(takeoff, tmp_path / "t.xlsx", bill_of(takeoff))
    for item in takeoff.items:
        book.put("Take-off", cell(book, "Take-off", item.key, "priced"), "packs")
    book.put("Take-off", cell(book, "Take-off", "primer", "rate"), 11.11)
    book.put("Take-off", cell(book, "Take-off", "grout", "rate"), 12.5)
    book.put("Take-off", cell(book, "Take-off", "adhesive", "rate"), 61.0)
    book.put("Take-off", cell(book, "Take-off", "adhesive", "per"), "pack")
    book.put("Products", cell(book, "Products", "membrane_loss", "value"), 0.3)
    book.put("Products", cell(book, "Products", "membrane_pack_kg", "value"), 12.0)
    book.put("Products", cell(book, "Products", "tile_box_m2", "value"), 0.84)
    text = JOB.replace("PRICED", "packs").replace("membrane_loss = 0.1", "membrane_loss = 0.3\ntile_box_m2 = 0.84")
    other = take_off(set_out(parse_plan(text.replace("membrane_pack_kg = 7", "membrane_pack_kg = 12"))))
    bill = bill_of(other, primer=Rate("primer", 11.11, "kg"), grout=Rate("grout", 12.5, "kg"), adhesive=Rate("adhesive", 61.0, "pack"))
    sums = {book.value("Sums", f"B{row}"): book.value("Sums", f"C{row}") for row in range(5, 40) if book.value("Sums", f"B{row}")}
    assert sums["total"] == pytest.approx(bill.total, abs=0.001)
    assert {name: sums[name] for name in bill.by_room()} == pytest.approx(bill.by_room(), abs=0.001)
    assert {name: sums[name] for name in bill.by_stage()} == pytest.approx({str(k): v for k, v in bill.by_stage().items()}, abs=0.001)
    last = max(int(place[1:]) for name, place in book.formulas() if name == "Take-off" and place.startswith("N"))
    assert book.value("Take-off", f"N{last}") == pytest.approx(bill.total, abs=0.001)
    packs = {order.item.key: order.packs for order in place_orders(other)}
    for key, number in packs.items():
        assert book.value("Take-off", cell(book, "Take-off", key, "packs")) == number, key
    fresh = book_of(other, tmp_path / "fresh.xlsx", bill)
    every = sorted({*book.cells, *fresh.cells})
    assert {sheet for sheet, _ in every} == {"Take-off", "Parts", "Bill", "Sums", "Products", "Saw list"}
    apart = {place for place in every if not alike(book.value(*place), fresh.value(*place))}
    # the rate of the detail coat still stands where it is typed, and prices nothing: it comes out of the membrane's packs; who gave a loss is a word
    typed = cell(book, "Take-off", "detail_coat", "rate")
    rates = {place for place in every if place[0] == "Bill" and book.cells.get(place) == f"='Take-off'!$K${typed[1:]}"}
    assert len(rates) == 2
    assert apart == {("Take-off", typed), *rates, ("Products", cell(book, "Products", "tile_box_m2", "value").replace("B", "D"))}


def alike(one: Any, two: Any) -> bool:
    """Whether two cells show the same; nothing and nought are shown alike."""
    if isinstance(one, str) or isinstance(two, str):
        return (one or "") == (two or "")
    return (one or 0.0) == pytest.approx(two or 0.0, abs=1e-6)


def test_a_rate_that_is_typed_into_the_book_is_no_longer_told_as_missing(tmp_path, measured):
    book = book_of(measured, tmp_path / "t.xlsx", bill_of(measured))
    (note,) = [place for place in book.formulas() if place[0] == "Take-off" and place[1].startswith("A")]
    assert book.value(*note).startswith("No rate given, not in the sum: tiled.floor (tiled area, tile “floor”), ")
    assert "grout (resin grout), " in book.value(*note)
    book.put("Take-off", cell(book, "Take-off", "grout", "rate"), 12.5)
    assert "grout (resin grout)" not in book.value(*note)
    for item in measured.items:
        book.put("Take-off", cell(book, "Take-off", item.key, "rate"), 1.0)
    assert book.value(*note) == ""


def test_where_no_formula_could_hold_them_items_without_a_rate_stand_as_words(tmp_path, measured, monkeypatch):
    monkeypatch.setattr("layout.writers.workbook.MOST_FORMULA", 100)
    book = book_of(measured, tmp_path / "t.xlsx", bill_of(measured))
    (note,) = [value for place, value in book.cells.items() if place[0] == "Take-off" and str(value).startswith("No rate")]
    assert note.endswith("labour.sealant (labour: seal joints)")


def run(*arguments: str) -> tuple[int, str, str]:
    said = CliRunner().invoke(app, list(arguments))
    return said.exit_code, said.stdout, said.stderr


@pytest.fixture
def plan(tmp_path: Path) -> str:
    (tmp_path / "job.toml").write_text(JOB.replace("PRICED", "measured"), encoding="utf-8")
    return str(tmp_path / "job.toml")


def test_the_suffix_says_what_is_written(plan, tmp_path):
    for name in ("bill.xlsx", "bill.csv", "bill.json"):
        code, _, said = run("takeoff", plan, "--rates", str(TOP / "plans" / "products" / "rates.toml"), "-o", str(tmp_path / name))
        assert code == 0, said
    assert openpyxl.load_workbook(tmp_path / "bill.xlsx").sheetnames == ["Take-off", "Parts", "Bill", "Sums", "Products", "Saw list"]
    assert (tmp_path / "bill.csv").read_text(encoding="utf-8").startswith("key,item,quantity")
    assert json.loads((tmp_path / "bill.json").read_text(encoding="utf-8"))["schema"] == "gaugerod/takeoff/1"


def test_keys_and_explanations_by_name(plan):
    code, out, _ = run("takeoff", plan, "--keys")
    assert code == 0
    for key in ("tiles.floor", "corner_pieces.internal", "terminations.top_of_tanking", "labour.sealant"):
        assert key in out
    for asked in ("grout", "Resin grout", " resin GROUT "):
        code, out, _ = run("takeoff", plan, "--explain", asked)
        assert code == 0
        assert "resin grout (grout)" in out
    for asked, meant in (("groot", "grout"), ("skirting straigt", "items are"), ("top of tanking", "terminations.top_of_tanking")):
        code, out, err = run("takeoff", plan, "--explain", asked)
        assert (code, out) == (2, "")
        assert meant in err


def test_the_terminal_names_what_has_no_rate(plan, tmp_path):
    (tmp_path / "r.toml").write_text("[rates]\nprimer = { rate = 8.4, unit = 'kg' }\npaint = { rate = 1, unit = 'kg' }\n", encoding="utf-8")
    code, out, _ = run("takeoff", plan, "--rates", str(tmp_path / "r.toml"))
    assert code == 0
    assert "  grout: resin grout, " in out
    assert 'Note: the rate "paint" prices nothing here.' in out


def test_a_bill_on_the_terminal_has_a_line_an_item_and_its_rooms_in_the_sums(plan, tmp_path):
    (tmp_path / "r.toml").write_text(
        'currency = "EUR"\n[rates]\nprimer = { rate = 0.0295, unit = "kg" }\n"tiles.flor" = { rate = 1, unit = "pcs" }\n', encoding="utf-8"
    )
    code, out, _ = run("takeoff", plan, "--rates", str(tmp_path / "r.toml"))
    assert code == 0
    bill = out[out.index("Bill, EUR") : out.index("Sums")]
    assert bill.count("primer") == 1
    assert "0.0295" in bill  # less than a cent is not rounded away
    sums = out[out.index("Sums") : out.index("No rate given")]
    assert "Hall*" in sums
    assert "<Hall" in sums
    assert "did you mean tiles.floor?\n" in out
    priced = run("takeoff", plan, "--rates", str(tmp_path / "r.toml"), "--by", "room")[1]
    assert priced.count("primer") >= 2
