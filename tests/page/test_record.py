"""The way back into the tool: files of ticks, what they come to, the record as sheets and JSON."""

from __future__ import annotations

import itertools
import json

import numpy as np
import openpyxl
import pypdfium2
import pytest
from typer.testing import CliRunner

import layout
from cli.main import app
from layout.record.things import things_of
from layout.record.values import Event, latest, merged
from layout.writers.page.assemble import page_html
from tests.page.conftest import BOOTH, data_of, takeoff_of


@pytest.fixture(scope="module")
def issue(booth):
    return data_of(booth[2])["issue"]


def ticks_text(issue, events):
    return json.dumps({"schema": "gaugerod/ticks/1", "issue": issue, "tool": "0", "events": events})


def tick(thing, field, value, n=1, by="Ana-1", size=None):
    return {
        "id": thing.id,
        "field": field,
        "value": value,
        "size": thing.size if size is None else size,
        "n": n,
        "by": by,
        "at": "2026-12-01T10:00",
    }


def test_merging_is_a_union_whatever_the_order_and_however_often():
    rng = np.random.default_rng(5)

    def some():
        return [
            Event(f"t{rng.integers(3)}", "laid", bool(rng.integers(2)), "", int(rng.integers(1, 6)), f"p{rng.integers(2)}")
            for _ in range(6)
        ]

    for _ in range(200):
        parts = [some() for _ in range(3)]
        ways = {merged([e for part in order for e in part] * times) for order in itertools.permutations(parts) for times in (1, 2)}
        assert len(ways) == 1
        all_events = ways.pop()
        assert set(all_events) == {e for part in parts for e in part}
        for (key, field), event in latest(all_events).items():
            own = [e.n for e in all_events if (e.id, e.field) == (key, field)]
            assert event.n == max(own)


@pytest.fixture(scope="module")
def told(booth, issue, tmp_path_factory):
    """A plan, ticks of it, and what the command makes of them."""
    takeoff, things, _ = booth
    of = lambda kind: [thing for thing in things if thing.kind == kind]  # noqa: E731
    film = takeoff.setout.rooms[0].membrane.film.wet
    wet = [t for t in of("test") if t.size == "wet film"]
    pieces = of("piece")
    events = [
        tick(wet[0], "coat 1", round(film - 0.1, 2)),
        tick(wet[0], "coat 2", round(film + 0.1, 2)),
        *[tick(run, "taped", True, n=2) for run in of("run")],
        tick(of("run")[0], "taped", False, n=3, by="Bo-2"),
        tick(of("wall")[0], "length", 2461, n=4),
        tick(of("wall")[1], "length", 1501.5, n=4),
        {**tick(of("stage")[0], "begun", True), "at": "2026-12-01T07:10"}, tick(of("stage")[0], "done", True), tick(of("stage")[0], "batch", "B-77 <b>"),
        tick(of("hold")[0], "signed", "N. N."),
        tick(pieces[0], "sawn", True), tick(pieces[1], "sawn", True, size="1 × 2"),
        tick(of("tile")[0], "broken", 1, n=5), tick(of("tile")[0], "broken", 1, n=6), tick(of("tile")[0], "broken", 1, n=5, by="Bo-2"),
        {**tick(of("run")[0], "taped", True), "id": "0/run/no such run"},
    ]  # fmt: skip
    folder = tmp_path_factory.mktemp("record")
    (folder / "booth.toml").write_text(BOOTH.format(width=2450), encoding="utf-8")
    (folder / "ticks.json").write_text(ticks_text(issue, events), encoding="utf-8")
    done = CliRunner().invoke(app, ["record", str(folder / "booth.toml"), "--from", str(folder / "ticks.json"), "-o", str(folder / "out")])
    return folder, done, things


def test_the_record_tells_what_was_read_beside_what_was_wanted(told):
    folder, done, things = told
    assert done.exit_code == 0, done.output
    record = json.loads((folder / "out" / "booth-record.json").read_text(encoding="utf-8"))
    assert record["schema"] == "gaugerod/record/1"
    by = {(e["id"], e["field"]): e for e in record["entries"]}
    tests = [e for e in record["entries"] if e["kind"] == "test" and e["as_wanted"] is not None]
    assert [e["as_wanted"] for e in tests] == [False, True]
    wall = by["0/wall/1-2", "as measured"]
    assert (wall["value"], wall["as_wanted"]) == ("2461 mm", False)
    assert by["0/wall/2-3", "as measured"]["as_wanted"] is True
    tile = next(thing for thing in things if thing.kind == "tile")
    assert by[tile.id, "broken"]["value"] == "3", "what phones count adds up"
    first = next(thing for thing in things if thing.kind == "run")
    assert by[first.id, "taped"]["value"] is None, "the later word holds: it was taken back"
    text = " | ".join(record["deviations"])
    for words in (f"runs not taped: {first.name}", "wet film, coat 1", "cut to an old size: 1: ", "wall 1: as measured 2461 mm", "tests not read in full"):  # fmt: skip
        assert words in text, words
    assert record["not_in_this_issue"] == 1


def test_the_record_is_printed_as_sheets_and_all_ticks_go_on_as_one_file(told):
    folder, _, _ = told
    pages = pypdfium2.PdfDocument(folder / "out" / "booth-record.pdf")
    words = " ".join(pages[k].get_textpage().get_text_range() for k in range(len(pages)))
    for each in ("As-built record", "Deviations and what is open", "N. N.", "B-77 <b>", "2461 mm", "Ana-1"):
        assert each in words, each
    pages.close()
    one = layout.read_ticks(folder / "ticks.json")
    again = layout.read_ticks(folder / "out" / "booth-ticks.json")
    assert set(again.events) == set(one.events)
    assert again.issue == one.issue


def rows_of(sheet):
    """A sheet's table as dictionaries, by its heads."""
    heads, *body = sheet.iter_rows(min_row=4, values_only=True)
    return [dict(zip(heads, row, strict=True)) for row in body]


def test_the_workbook_of_the_record_says_what_the_json_says(told):
    folder, _, things = told
    record = json.loads((folder / "out" / "booth-record.json").read_text(encoding="utf-8"))
    book = openpyxl.load_workbook(folder / "out" / "booth-record.xlsx")
    assert [row["deviations and what is open"] for row in rows_of(book["Record"])[:-1]] == record["deviations"]
    tables = {name: rows_of(book[name]) for name in book.sheetnames[1:]}
    assert sum(map(len, tables.values())) == len(record["entries"]), "every entry stands on one sheet"
    verdict = {None: None, True: "yes", False: "NO"}
    for row, entry in zip(tables["Tests"], (e for e in record["entries"] if e["kind"] == "test"), strict=True):
        assert (row["what"], row["field"], row["wanted"]) == (entry["name"], entry["field"], entry["wanted"])
        assert row["as wanted"] == verdict[entry["as_wanted"]]
        said = None if row["read"] is None else f"{row['read']:g} {row['unit']}"
        assert said == entry["value"]
    assert [(r["read"], r["unit"], r["as wanted"]) for r in tables["Walls"][:2]] == [(2461, "mm", "NO"), (1501.5, "mm", "yes")]
    assert "B-77 <b>" in [row["read"] for row in tables["Stages and batches"]]
    assert "N. N." in [row["read"] for row in tables["Hold points"] if row["field"] == "signed by"]
    piece = [thing for thing in things if thing.kind == "piece"][1]
    assert [r["done to the old size"] for r in tables["Cuts"] if r["what"] == piece.name and r["done to the old size"]] == ["1 × 2"]
    assert [row["read"] for row in tables["Tiles broken"] if row["read"] is not None] == [3]
    assert not [cell for sheet in book for row in sheet.iter_rows() for cell in row if cell.data_type == "f"]


def test_ids_of_long_names_come_back(tmp_path):
    """Names of a plan may be long; all that a page says of its things must be taken back, and a typed value stays short."""
    text = BOOTH.format(width=2450)
    for name in ("Booth", "door", "gully", "pipe"):
        text = text.replace(f'name = "{name}"', f'name = "{name} {name[0] * 300}"')
    takeoff = takeoff_of(text)
    things = things_of(takeoff)
    assert max(len(thing.id) for thing in things) > 300
    issue = data_of(page_html(takeoff))["issue"]
    file = tmp_path / "ticks.json"
    file.write_text(ticks_text(issue, [tick(thing, thing.fields[0].key, True) for thing in things]), encoding="utf-8")
    assert {(event.id, event.size) for event in layout.read_ticks(file).events} == {(thing.id, thing.size) for thing in things}
    file.write_text(ticks_text(issue, [tick(things[0], "length", "x" * 201)]), encoding="utf-8")
    with pytest.raises(layout.PlanError, match="200 letters"):
        layout.read_ticks(file)


def test_measured_walls_go_into_a_new_plan(told):
    folder, _, _ = told
    readings = layout.read_measured(folder / "ticks.json")
    assert [(r.first, r.second, r.length) for r in readings] == [("1", "2", 2461.0), ("2", "3", 1501.5)]
    out = folder / "measured.toml"
    done = CliRunner().invoke(app, ["new", str(out), "--plan", str(folder / "booth.toml"), "--measured", str(folder / "ticks.json")])
    assert done.exit_code == 0, done.output
    ring = [v.to for v in layout.read_plan(out).rooms[0].outline]
    assert np.hypot(*(np.array(ring[1]) - np.array(ring[0]))) == pytest.approx(2461.0, abs=1.0)


def test_stages_that_were_ticked_are_taken_by_the_programme(told):
    folder, _, _ = told
    ticks = folder / "out" / "booth-ticks.json"
    rows = json.loads(ticks.read_text(encoding="utf-8"))["done"]
    assert rows == [{"room": "Booth", "stage": "prime", "area": 1, "start": "2026-12-01T07:10", "end": "2026-12-01T10:00"}]
    asked = ["programme", str(folder / "booth.toml"), "--start", "2026-12-01T07:00", "--done", str(ticks), "--json"]
    done = CliRunner().invoke(app, asked)
    assert done.exit_code == 0, done.output
    first = json.loads(done.stdout)["stages"][0]
    assert (first["start"][:16], first["end"][:16]) == ("2026-12-01T07:10", "2026-12-01T10:00")


FAULTS = (
    ("not json at all", "it is no file of ticks"),
    ('{"schema": "gaugerod/ticks/1", "issue": ISSUE, "events": [{"id": "x"}]}', "events[0].field"),
    ('{"schema": "gaugerod/ticks/1", "issue": ISSUE, "events": [NaN]}', "NaN found"),
    ('{"schema": "gaugerod/ticks/1", "issue": {}, "events": []}', "title, number, revision and digest"),
    ('{"schema": "gaugerod/ticks/9", "issue": ISSUE, "events": []}', "it is no file of ticks"),
    ("[" * 5000, "it is no JSON"),
    ('{"schema": "gaugerod/ticks/1", "issue": ISSUE, "events": [{"id": "a", "field": "b", "size": "", "by": "c", "at": "", "n": 1, "value": [1]}]}', "events[0].value"),
    ('{"schema": "gaugerod/ticks/1", "issue": ISSUE, "events": [{"id": "a", "field": "b", "size": "", "by": "c", "at": "", "n": true, "value": 1}]}', "events[0].n"),
)  # fmt: skip


@pytest.mark.parametrize("number", range(len(FAULTS)))
def test_a_file_that_cannot_be_is_told_with_its_place(number, issue, tmp_path):
    text, words = FAULTS[number]
    file = tmp_path / "ticks.json"
    file.write_text(text.replace("ISSUE", json.dumps(issue)), encoding="utf-8")
    with pytest.raises(layout.PlanError) as fault:
        layout.read_ticks(file)
    assert words in str(fault.value)
    assert str(fault.value).startswith("ticks.json")


def test_ticks_of_another_plan_are_refused_and_those_of_another_issue_told(booth, issue, tmp_path):
    takeoff, things, _ = booth
    file = tmp_path / "ticks.json"
    file.write_text(ticks_text({**issue, "title": "Another job"}, []), encoding="utf-8")
    with pytest.raises(layout.PlanError, match="Another job"):
        layout.as_built(takeoff, [layout.read_ticks(file)])
    piece = next(thing for thing in things if thing.kind == "piece")
    file.write_text(ticks_text({**issue, "digest": "0" * 12}, [tick(piece, "sawn", True)]), encoding="utf-8")
    record = layout.as_built(takeoff, [layout.read_ticks(file)])
    assert record.earlier
    assert next(e for e in record.entries if e.id == piece.id and e.field == "sawn").value == "yes"


def test_a_table_says_what_json_says(issue, tmp_path):
    rows = [
        ["gaugerod/ticks/1", issue["title"], issue["number"], issue["revision"], issue["digest"], "0"],
        ["id", "field", "value", "size", "n", "by", "at"],
        ["a", "done", "true", "s", "1", "p", "t"],
        ["a", "batch", "text:12", "s", "2", "p", "t"],
        ["a", "length", "12.5", "s", "3", "p", "t"],
        ["'=a", "name", 'text:say ""hi"", you', "'-1", "4", "p", "t"],
    ]
    text = "\r\n".join(",".join(f'"{cell}"' for cell in row) for row in rows) + "\r\n"
    file = tmp_path / "ticks.csv"
    file.write_bytes(text.encode())
    assert [(e.id, e.value, e.size) for e in layout.read_ticks(file).events] == [
        ("a", True, "s"), ("a", "12", "s"), ("a", 12.5, "s"), ("=a", 'say "hi", you', "-1"),
    ]  # fmt: skip


def test_the_page_is_the_same_on_repeat(booth):
    assert page_html(booth[0]) == booth[2]
