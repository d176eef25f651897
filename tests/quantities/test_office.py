"""The estimator's files: rules of measurement, products, rates, the workbook, and where a quantity comes from."""

from __future__ import annotations

import dataclasses
import json
from typing import TYPE_CHECKING, Any

import openpyxl
import pytest
import shapely
from typer.testing import CliRunner

from cli.main import app
from layout.errors import PlanError, PlanFaults
from layout.quantities.bill import price
from layout.quantities.mixing import mixing_plan
from layout.quantities.orders import place_orders
from layout.quantities.takeoff import take_off
from layout.readers.geofile import read_geojson
from layout.readers.officefile import read_products, read_rates
from layout.readers.planfile import read_plan
from layout.readers.surveyfile import read_survey
from layout.readers.worksfile import read_done, read_weather
from layout.setout.conduct import set_out
from layout.standards.measure import MEASURE_RULES, MeasureRule, measured, run_length
from layout.standards.products import PRODUCT_KEYS, Products, notch_of
from layout.writers.workbook import save_workbook
from tests.examples import example_takeoff
from tests.rooms import plan_of
from tests.test_project import TOP

if TYPE_CHECKING:
    from layout.quantities.values import TakeOff

CANTEEN = TOP / "plans" / "canteen.toml"
HOUSE = TOP / "plans" / "products"


@pytest.fixture(scope="module")
def takeoff() -> TakeOff:
    return example_takeoff(CANTEEN)


def void(x: float, y: float, w: float, h: float) -> shapely.Polygon:
    return shapely.box(x, y, x + w, y + h)


VOIDS = [void(500, 500, 300, 300), void(1500, 500, 600, 600), void(3000, 500, 800, 800), void(4300, 2000, 1500, 1000)]


@pytest.mark.parametrize(("limit", "area"), [(0.0, 21.41), (0.10, 21.50), (0.50, 21.86), (1.00, 22.50), (2.50, 24.00)])
def test_the_worked_example_of_voids(limit, area):
    # room 6 x 4 m with a drain 0.09, plinth 0.36, column 0.64 and pit 1.50 m2 wholly inside (computed)
    rule = MeasureRule(name="t", source="", status="", void_m2=limit)
    assert measured(shapely.box(0, 0, 6000, 4000), VOIDS, rule).area_m2 == pytest.approx(area)
    holed = shapely.difference(shapely.box(0, 0, 6000, 4000), shapely.union_all(VOIDS))
    assert measured(holed, [], rule).area_m2 == pytest.approx(area)


@pytest.mark.parametrize(("name", "side"), [("VOB_DIN18365", 316.2277), ("SMM7", 707.1068), ("NRM2", 1000.0)])
def test_a_void_exactly_at_the_limit_is_kept(name, side):
    face = shapely.box(0, 0, 6000, 4000)
    assert measured(face, [void(1000, 1000, side, side)], MEASURE_RULES[name]).area_m2 == pytest.approx(24.0, abs=1e-4)
    assert measured(face, [void(1000, 1000, side + 2, side + 2)], MEASURE_RULES[name]).area_m2 < 23.95


def test_a_void_at_the_edge_is_always_deducted():
    # general rule of a national SMM: small voids are kept only if wholly inside
    assert measured(shapely.box(0, 0, 6000, 4000), [void(0, 1000, 500, 500)], MEASURE_RULES["NRM2"]).area_m2 == pytest.approx(23.75)


def test_narrow_faces_go_by_the_metre():
    found = measured(shapely.box(0, 0, 4000, 600), [], MEASURE_RULES["NRM2"])
    assert found.area_m2 == 0.0
    assert found.narrow_m == pytest.approx(4.0)
    assert measured(shapely.box(0, 0, 4000, 601), [], MEASURE_RULES["NRM2"]).area_m2 == pytest.approx(2.404)


def test_skirting_keeps_short_interruptions():
    # perimeter 20.0 m, one 0.90 m door: net 19.10, with interruptions to 1 m kept 20.00 (computed)
    assert run_length(20.0, [0.9], MEASURE_RULES["NET"]) == pytest.approx(19.1)
    assert run_length(20.0, [0.9], MEASURE_RULES["VOB_DIN18352"]) == pytest.approx(20.0)


def test_a_plan_by_a_rule_of_measurement_says_the_rule():
    room = {"outline": [[0, 0], [6000, 0], [6000, 4000], [0, 4000]], "drains": [{"kind": "gully", "at": [3000, 2000], "frame": [300, 300]}]}
    net = take_off(set_out(plan_of(room)))
    by = take_off(set_out(plan_of(room, rules={"measurement": "VOB_DIN18352"})))
    assert net.item("measured.floor") is None
    item = by.item("measured.floor")
    assert item is not None
    assert item.quantity == pytest.approx(24.0)
    assert "from memory" in item.source


def test_the_worked_rooms_bill_by_hand(takeoff):
    """Membrane 69.27 m2, floor 25.19, tape 34.6 + 1.0 m, sealant 2159 ml: worked by hand; consumptions are the defaults."""
    orders = {order.item.key: order for order in place_orders(takeoff)}
    by_hand = {
        "primer": (69.27 * 0.4 * 1.05, 3),  # 29.1 kg with 5 % loss, packs of 10
        "quartz": (25.19 * 1.5 * 1.05, 2),  # 39.7 kg, packs of 25
        "membrane": ((69.27 * 1.6 + 35.6 * 0.3) * 1.05, 13),  # 110.8 + 10.7 of detail coat and 5 %: 127.6, packs of 10
        "sealant": (2159, 7),  # cartridges of 310
    }
    for key, (need, packs) in by_hand.items():
        assert orders[key].need == pytest.approx(need, rel=2e-3)
        assert orders[key].packs == packs
    wall = takeoff.item("adhesive")
    assert wall is not None
    floor = next(part.quantity for part in wall.parts if part.where == "floor")
    tiled = takeoff.item("tiled.floor")
    assert tiled is not None
    assert floor == pytest.approx(tiled.quantity * (3.0 + 1.0) * 1.55)  # bed of 4 mm; as a 6 mm notch brings: 3 mm, and 1 mm on the back


def test_the_bottom_course_is_a_line_of_its_own(takeoff):
    adhesive = takeoff.item("adhesive")
    assert adhesive is not None
    low = {part.where: part.quantity for part in adhesive.parts if "bottom course" in part.where}
    assert len(low) == 6
    wall = next(done for done in takeoff.setout.rooms[0].surfaces if done.surface.name == "wall 2")
    lowest = min(shapely.bounds(piece)[3] for piece in wall.field.pieces() if shapely.bounds(piece)[1] < 30)
    height = lowest - wall.surface.region.bounds[1]
    width = wall.surface.region.bounds[2] - wall.surface.region.bounds[0]
    assert low["wall 2, bottom course"] == pytest.approx(height * width / 1e6 * 4.0 * 1.55, rel=0.01)


@pytest.mark.parametrize(("edge", "notch"), [(50, 3), (100, 4), (108, 4), (200, 6), (297, 8)])
def test_the_notch_follows_the_tile(edge, notch):
    # DIN 18157 table, from memory: to 50 mm 3, to 108 mm 4, to 200 mm 6, above 8
    assert notch_of(Products(), edge) == notch


def test_a_batch_is_a_whole_pack_and_says_how_many_hands(takeoff):
    orders = place_orders(takeoff)
    by_key = {each.key: each for each in mixing_plan(takeoff, orders)}
    adhesive = by_key["adhesive"]
    # 10 kg at 6.2 kg/m2 and 5 % loss cover 1.54 m2; one hand fixes 77.14 m2 in 104.3 h, so 0.55 m2 within a pot life of 45 min
    assert adhesive.m2_each == pytest.approx(10 / 6.2 / 1.05, rel=0.01)
    assert adhesive.hands == 3
    membrane = by_key["membrane"]
    assert membrane.hands == 3  # 10.9 m2 of coat a pack, 8 m2 an hour and hand, 30 min: 2.7 people
    assert by_key["primer"].m2_each == pytest.approx(25.0 / 1.05)


def test_generic_products_are_the_defaults():
    found, defaults = read_products(HOUSE / "generic.toml"), Products()
    for key in PRODUCT_KEYS:
        assert dataclasses.astuple(getattr(found, key)) == dataclasses.astuple(getattr(defaults, key)), key


def test_a_plan_takes_its_products_from_a_file_and_its_own_table_before_it(tmp_path):
    (tmp_path / "house.toml").write_text('primer_kg_m2 = { value = 0.5, source = "data sheet 12" }\ngrout_pack_kg = 3\n', encoding="utf-8")
    text = (
        'products_file = "house.toml"\n[products]\ngrout_pack_kg = 4\n[[rooms]]\noutline = [[0, 0], [4000, 0], [4000, 3000], [0, 3000]]\n'
    )
    (tmp_path / "plan.toml").write_text(text, encoding="utf-8")
    products = read_plan(tmp_path / "plan.toml").products
    assert (products.primer_kg_m2.value, products.primer_kg_m2.source) == (0.5, "data sheet 12")
    assert products.grout_pack_kg.value == 4


@pytest.mark.parametrize(("text", "words"), [
    ("primer_pack_kg = 0\n", "above 0"),
    ("primer_kg_m2 = -1\n", "above 0"),
    ("primer_kg = 3\n", "did you mean"),
    ('primer_kg_m2 = { source = "x" }\n', "lacks a value"),
    ('primer_kg_m2 = { value = 1, unit = "l" }\n', 'in "kg/m2"'),
    ("primer_kg_m2 = \n", "not TOML"),
])  # fmt: skip
def test_products_that_cannot_be_are_told(tmp_path, text, words):
    (tmp_path / "p.toml").write_text(text, encoding="utf-8")
    with pytest.raises((PlanFaults, PlanError), match=words):
        read_products(tmp_path / "p.toml")


@pytest.mark.parametrize(("text", "words"), [
    ("currency = 3\n[rates]\nmembrane = { rate = 1, unit = 'kg' }\n", "its letters"),
    ("currency = 'EUR'\n", "rates: it is missing"),
    ("[rates]\nmembrane = 9\n", "give { rate"),
    ("[rates]\nmembrane = { rate = -9, unit = 'kg' }\n", "from 0"),
    ("money = 1\n[rates]\nmembrane = { rate = 9, unit = 'kg' }\n", "money: there is no such key; known keys are currency, rates, lines"),
])  # fmt: skip
def test_rates_that_cannot_be_are_told(tmp_path, text, words):
    (tmp_path / "r.toml").write_text(text, encoding="utf-8")
    with pytest.raises(PlanFaults, match=words):
        read_rates(tmp_path / "r.toml")


@pytest.mark.parametrize(("read", "begin"), [
    (read_rates, r"give \[rates\] with lines like membrane"), (read_products, "figures of the data sheets"),
    (read_weather, "lines like 2026-12-01,14,65"), (read_done, "lines like Wash-up,prime"), (read_plan, r"start with \[\[rooms\]\]"),
    (read_survey, "heads: from,to,length"), (read_geojson, "GeoJSON with a polygon"),
])  # fmt: skip
def test_an_empty_file_is_told_how_one_of_its_kind_begins(tmp_path, read, begin):
    (tmp_path / "r.toml").write_text(" \n", encoding="utf-8")
    with pytest.raises(PlanError, match=f"^r.toml: it is empty; .*{begin}"):
        read(tmp_path / "r.toml")


def test_a_rate_in_another_unit_is_told(tmp_path, takeoff):
    (tmp_path / "r.toml").write_text("[rates]\nmembrane = { rate = 9, unit = 'm2' }\n", encoding="utf-8")
    with pytest.raises(PlanError, match='"m2" found'):
        price(takeoff, read_rates(tmp_path / "r.toml"))


def test_a_bill_adds_up_and_lists_what_has_no_rate(takeoff):
    bill = price(takeoff, read_rates(HOUSE / "rates.toml"))
    for sums in (bill.by_room(), bill.by_stage(), bill.by_section()):
        assert sum(sums.values()) == pytest.approx(bill.total)
    assert "collars" in {item.key for item in bill.unpriced}
    priced = {line.item.key for line in bill.lines}
    assert priced.isdisjoint({item.key for item in bill.unpriced})
    assert priced | {item.key for item in bill.unpriced} == {item.key for item in takeoff.items}
    primer = next(line for line in bill.lines if line.item.key == "primer")
    assert primer.amount == pytest.approx(69.27 * 0.4 * 8.40, rel=1e-3)


def workbook(takeoff: TakeOff, path: Any) -> Any:
    save_workbook(takeoff, place_orders(takeoff), path, bill=price(takeoff, read_rates(HOUSE / "rates.toml")))
    return openpyxl.load_workbook(path)


def test_the_workbook_holds_numbers_live_formulas_and_a_frozen_head(takeoff, tmp_path):
    book = workbook(takeoff, tmp_path / "t.xlsx")
    sheet = book["Take-off"]
    assert sheet.freeze_panes == "A5"
    assert sheet.page_setup.orientation == "landscape"
    assert sheet.print_title_rows == "$4:$4"
    rows = {row[0].value: row for row in sheet.iter_rows(min_row=5) if row[0].value}
    assert rows["membrane"][2].value.startswith("=SUMIFS(Parts!")
    assert rows["membrane"][5].value.startswith("=(C")
    assert rows["membrane"][7].value.startswith("=ROUNDUP")
    assert rows["membrane"][13].value.startswith("=SUMIFS(Bill!")
    assert isinstance(rows["membrane"][10].value, int | float)
    values = openpyxl.load_workbook(tmp_path / "t.xlsx", data_only=True)["Take-off"]
    own = {row[0].value: row for row in values.iter_rows(min_row=5) if row[0].value}
    assert own["membrane"][2].value == pytest.approx(takeoff.item("membrane").quantity)
    for order in place_orders(takeoff):
        assert own[order.item.key][7].value == order.packs, order.item.key
    assert sum(row[5].value for row in book["Parts"].iter_rows(min_row=5) if row[0].value == "primer") == pytest.approx(
        69.27 * 0.4, rel=1e-3
    )


def test_the_workbook_is_the_same_twice_and_takes_no_text_for_a_formula(tmp_path):
    room = {
        "name": "=1+1",
        "outline": [[0, 0], [4000, 0], [4000, 3000], [0, 3000]],
        "pipes": [{"name": "@x", "at": [900, 900], "diameter": 50}],
    }
    made = take_off(set_out(plan_of(room)))
    for name in ("a.xlsx", "b.xlsx"):
        save_workbook(made, place_orders(made), tmp_path / name)
    assert (tmp_path / "a.xlsx").read_bytes() == (tmp_path / "b.xlsx").read_bytes()
    cells = [cell for row in openpyxl.load_workbook(tmp_path / "a.xlsx")["Parts"].iter_rows() for cell in row]
    texts = [cell for cell in cells if isinstance(cell.value, str) and cell.value.startswith(("=", "@"))]
    assert texts
    assert all(cell.data_type == "s" for cell in texts)


def run(*arguments: str) -> tuple[int, str, str]:
    said = CliRunner().invoke(app, list(arguments))
    return said.exit_code, said.stdout, said.stderr


def test_a_quantity_explains_itself():
    code, out, _ = run("takeoff", str(CANTEEN), "--explain", "tape.internal")
    assert code == 0
    for words in ("34.600", "Formula: line on the substrate", "Source: ", "Order: 4 rolls of 10 m"):
        assert words in out


@pytest.mark.parametrize(("arguments", "words"), [
    (("--explain", "paint"), "there is no item 'paint'"),
    (("--xlsx",), "add --out"),
    (("--rates", "no-such.toml"), "no such file"),
])  # fmt: skip
def test_bad_questions_are_told(arguments, words):
    code, out, err = run("takeoff", str(CANTEEN), *arguments)
    assert (code, out) == (2, "")
    assert words in err


def test_prices_are_in_json_and_csv():
    code, out, _ = run("takeoff", str(CANTEEN), "--rates", str(HOUSE / "rates.toml"), "--json")
    assert code == 0
    record = json.loads(out)
    lines = [*record["bill"]["lines"], *record["bill"]["free_lines"]]
    assert record["bill"]["total"] == pytest.approx(sum(line["amount"] for line in lines), abs=0.005)
    assert {each["key"] for each in record["batches"]} == {"primer", "membrane", "adhesive", "grout"}
    code, out, _ = run("takeoff", str(CANTEEN), "--rates", str(HOUSE / "rates.toml"), "--csv")
    assert "rate,amount" in out.splitlines()[0]


def test_coves_and_trims_are_measured():
    room = {
        "outline": [[0, 0], [4000, 0], [4000, 3000], [0, 3000]],
        "tile_height": 2000,
        "plinths": [{"outline": [[1000, 1000], [1600, 1000], [1600, 1500], [1000, 1500]], "height": 150}],
    }
    items = {item.key: item.quantity for item in take_off(set_out(plan_of(room, rules={"foot": "cove"}))).items}
    assert items["edge_trim"] == pytest.approx(2.2 + 4 * 0.15)  # the top edge, and four arrises
    assert items["cove"] > 14.0
    assert "cove" not in {item.key for item in take_off(set_out(plan_of(room))).items}


def test_a_decimal_comma_is_for_text_alone(tmp_path):
    status, _, err = run("takeoff", str(CANTEEN), "--decimal-comma", "-o", str(tmp_path / "bill.xlsx"))
    assert status == 2
    assert "a file .xlsx has no text with commas" in err
    assert not list(tmp_path.iterdir())
