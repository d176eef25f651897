"""A job of two rooms on two storeys by hand: packs by delivery, groups of a take-off and bill, columns that stand once."""

from __future__ import annotations

import csv
import io
import shutil
import subprocess
from dataclasses import replace

import openpyxl
import pytest

from cli.bills import groups_text
from cli.report import takeoff_text
from cli.verbs.takeoff import _group_of
from layout.errors import PlanError
from layout.quantities import table
from layout.quantities.deliveries import delivered
from layout.quantities.groups import grouped
from layout.quantities.orders import place_orders
from layout.quantities.takeoff import take_off
from layout.readers.planfile import parse_plan
from layout.setout.conduct import set_out
from layout.writers.quantity_records import takeoff_record
from layout.writers.save import groups_csv, takeoff_csv
from layout.writers.workbook import save_workbook
from tests.quantities.test_bill import FREE, JOB, bill_of, book_of
from tests.spreadsheet import Book

STOREYS = (
    JOB.replace("PRICED", "measured")
    .replace('name = "Hall*"', 'name = "Hall*"\nstorey = "Ground"')
    .replace('name = "<Hall"', 'name = "<Hall"\nstorey = "*"')
)
TWO = '[[deliveries]]\nname = "resin"\nstoreys = ["Ground"]\nstages = ["preparation", "membrane"]\n[[deliveries]]\nname = "tile"\nrooms = ["Hall*"]\n'


@pytest.fixture(scope="module")
def takeoff():
    return take_off(set_out(parse_plan(STOREYS + TWO)))


def test_packs_by_delivery_by_hand(takeoff):
    packs = delivered(takeoff, place_orders(takeoff))
    # of 215.6 tiles with spares 126 x 1.1 = 138.6 are the hall's: 6 of 9 boxes of 25
    assert packs["tiles.floor"] == (0, 6, 3)
    # of 26.52 kg (12.3178752 + 2.533) x 1.1 = 16.34 are the hall's: 3 of 4 packs of 7 kg; the rest of the third is used up first
    assert packs["membrane"] == (3, 0, 1)
    assert packs["primer"] == (1, 0, 0)  # 2.05 of 3.28 kg: the one pack is opened at once
    # 10.132 m of the hall's tape, 4 runs at the foot and 4 up with laps of 50 mm at both ends, are 10.932 m off rolls of 10 m
    assert packs["tape.internal"] == (2, 0, 0)


def test_what_has_come_covers_the_works_so_far_and_all_is_the_one_order(takeoff):
    orders = {order.item.key: order for order in place_orders(takeoff)}
    assert orders
    for key, packs in delivered(takeoff, tuple(orders.values())).items():
        order, items = orders[key], [takeoff.item(each) for each in (key, *orders[key].beside)]
        assert sum(packs) == order.packs
        parts = [(part, item.row.stage) for item in items if item for part in item.parts]
        whole = sum(part.quantity for part, _ in parts)
        first = sum(part.quantity for part, stage in parts if part.place.room == 0 and stage in ("preparation", "membrane"))
        assert packs[0] * order.size >= first / whole * order.need - 1e-6


def test_without_deliveries_there_are_none():
    takeoff = take_off(set_out(parse_plan(STOREYS)))
    orders = place_orders(takeoff)
    assert delivered(takeoff, orders) == {}
    assert "packs:" not in takeoff_csv(takeoff, orders)
    assert all("deliveries" not in item.get("order", {}) for item in takeoff_record(takeoff, orders)["items"])


@pytest.mark.parametrize(
    ("by", "sums"),
    [
        ("room", {"Hall*": 350.97, "<Hall": 206.25, "whole job": 215.55}),
        ("storey", {"Ground": 350.97, "*": 206.25, "whole job": 215.55}),
        ("stage", {"preparation": 17.25 + 10.28 + 21.90 + 13.05, "fixing": 170.10 + 94.50 + 160.0, "membrane": 117.02 + 69.75 + 24.70 + 18.67}),
        ("delivery", {"resin": 17.25 + 117.02 + 24.70 + 21.90, "tile": 170.10, "later": 206.25, "whole job": 215.55}),
    ],
)  # fmt: skip
def test_groups_of_a_bill_by_hand(takeoff, by, sums):
    bill = bill_of(takeoff)
    groups = grouped(takeoff, place_orders(takeoff), by, bill)
    found = {group.name: group.total for group in groups}
    assert {name: found[name] for name in sums} == pytest.approx(sums, abs=0.001)
    assert sum(found.values()) == pytest.approx(bill.total, abs=0.001)
    measured: dict[str, float] = {}
    for share in (share for group in groups for share in group.shares):
        measured[share.item.key] = measured.get(share.item.key, 0.0) + share.measured
    assert measured == pytest.approx({item.key: item.quantity for item in takeoff.items})


def test_groups_as_table_and_csv_say_the_same(takeoff):
    bill = bill_of(takeoff)
    groups = grouped(takeoff, place_orders(takeoff), "storey", bill)
    text = groups_text(groups, plain=True, currency="EUR", keys=True)
    assert "Ground: 350.97 EUR" in text
    assert f"Total {bill.total:,.2f} EUR" in text
    rows = list(csv.DictReader(io.StringIO(groups_csv(groups, comma=True)), delimiter=";"))
    assert sum(float(row["amount"].replace(",", ".") or 0) for row in rows) == pytest.approx(bill.total)
    assert [row["item"] for row in rows if row["group"] == "whole job"] == [line.name for line in FREE]


def test_the_workbook_sums_storeys_whatever_they_are_called(takeoff, tmp_path):
    book = book_of(takeoff, tmp_path / "t.xlsx", bill_of(takeoff))
    sums = {
        book.value("Sums", f"B{row}"): book.value("Sums", f"C{row}") for row in range(5, 40) if book.value("Sums", f"A{row}") == "storey"
    }
    assert sums == pytest.approx({"Ground": 350.97, "*": 206.25, "whole job": 215.55}, abs=0.001)


def test_a_new_column_is_one_row_of_the_table(takeoff, tmp_path, monkeypatch):
    def parts(entry):
        return len(entry.item.parts)

    new = table.Column(head="places", record="places", book=9.0, value=parts, screen=lambda entry: f"{parts(entry)} p")
    monkeypatch.setattr(table, "COLUMNS", (*table.COLUMNS, new))
    orders = place_orders(takeoff)
    wanted = len(takeoff.item("tiles.floor").parts)
    assert takeoff_record(takeoff, orders)["items"][0]["places"] == wanted
    assert next(csv.DictReader(io.StringIO(takeoff_csv(takeoff, orders))))["places"] == f"{wanted}"
    assert f"{wanted} p" in takeoff_text(takeoff, orders, plain=True)
    save_workbook(takeoff, orders, tmp_path / "t.xlsx")
    rows = list(openpyxl.load_workbook(tmp_path / "t.xlsx")["Take-off"].iter_rows(min_row=4, max_row=5, values_only=True))
    assert dict(zip(*rows, strict=True))["places"] == wanted


OFFICE = shutil.which("soffice") or shutil.which("libreoffice")


@pytest.mark.skipif(OFFICE is None, reason="no office program here: the tests' own engine reckons the workbook")
def test_an_office_program_reckons_the_workbook_alike(takeoff, tmp_path):
    save_workbook(takeoff, place_orders(takeoff), tmp_path / "t.xlsx", bill=bill_of(takeoff))
    book = openpyxl.load_workbook(tmp_path / "t.xlsx")
    book["Take-off"]["K5"] = 2.0  # saved anew, formulas carry no values: all are reckoned
    book.save(tmp_path / "changed.xlsx")
    (tmp_path / "out").mkdir()
    subprocess.run(  # the program that was found
        [str(OFFICE), "--headless", "--convert-to", "xlsx", "--outdir", str(tmp_path / "out"), str(tmp_path / "changed.xlsx")],
        check=True, timeout=120, capture_output=True,
    )  # fmt: skip
    theirs, ours = openpyxl.load_workbook(tmp_path / "out" / "changed.xlsx", data_only=True), Book(tmp_path / "changed.xlsx")
    assert list(ours.formulas())
    for sheet, place in ours.formulas():
        value, own = theirs[sheet][place].value, ours.value(sheet, place)
        assert (value or 0) == (own if isinstance(own, str) else pytest.approx(own or 0, abs=1e-6)), (sheet, place)


def test_a_group_that_there_is_not_is_told():
    plan = parse_plan(STOREYS)
    assert _group_of("storey", plan) == "storey"
    for text, mend in (("stories", "give one of room"), ("delivery", "no deliveries")):
        with pytest.raises(PlanError, match=mend):
            _group_of(text, plan)
    assert _group_of("delivery", replace(plan, deliveries=parse_plan(STOREYS + TWO).deliveries)) == "delivery"
