"""The as-built record of a closet, asked of its own functions: verdicts by hand, what is open, and its sheets."""

from __future__ import annotations

from dataclasses import replace

import pytest

import layout
from layout.record.handing import AsBuilt, as_built
from layout.record.record_sheet import record_sheets
from layout.record.things import issue_of, things_of
from layout.record.values import Event, Ticks
from layout.sheets.scene import Label

CLOSET = """
[tiles.floor]
size = [200, 200]
joint = 6
[[rooms]]
name = "Closet"
outline = [[0, 0], [900, 0], [900, 800], [0, 800]]
tanking_height = 150
[[rooms.walls]]
wall = 1
tanking_height = 1000
[[rooms.drains]]
kind = "gully"
at = [450, 400]
"""


@pytest.fixture(scope="module")
def closet():
    takeoff = layout.take_off(layout.set_out(layout.parse_plan(CLOSET)))
    return takeoff, things_of(takeoff)


def record_of(closet, *events, issue=None) -> AsBuilt:
    takeoff, things = closet
    return as_built(takeoff, [Ticks(issue or issue_of(takeoff.setout, things), tuple(events))])


def thing_with(closet, key, kind=None, size=None):
    return next(t for t in closet[1] if any(f.key == key for f in t.fields) and kind in (None, t.kind) and size in (None, t.size))


def tick(thing, field, value, n=1, size=None):
    return Event(thing.id, field, value, thing.size if size is None else size, n, "Ana-1")


def entry(record, thing, words):
    return next(e for e in record.entries if (e.id, e.field) == (thing.id, words))


@pytest.mark.parametrize(("value", "good"), [(1.5, True), (1.7, True), (1.49, False)])
def test_a_pull_off_test_is_held_against_the_bond_that_is_wanted(closet, value, good):
    test = next(t for t in closet[1] if t.kind == "test" and t.size == "pull-off")
    field = test.fields[0]
    record = record_of(closet, tick(test, field.key, value))
    own = entry(record, test, field.words)
    assert own.wanted.startswith("1.5 N/mm² at least")
    assert own.good is good
    assert any(text.startswith(f"{test.name}: {field.words} {value:g}") for text in record.deviations) is not good


@pytest.mark.parametrize(
    ("before", "after", "verdict"), [(50.0, 50.0, ("no fall", True)), (50.0, 47.0, ("no fall", False)), (None, 47.0, ("", None))]
)
def test_a_flood_test_wants_the_level_that_it_began_with(closet, before, after, verdict):
    flood = thing_with(closet, "after")
    events = [] if before is None else [tick(flood, "before", before)]
    record = record_of(closet, *events, tick(flood, "after", after, n=2))
    own = entry(record, flood, "level after")
    assert (own.wanted, own.good) == verdict
    assert own.value == f"{after:g} mm"
    if before is not None:
        assert entry(record, flood, "level before").good is None


def test_what_was_ticked_for_an_old_size_is_told_by_what_it_is(closet):
    run = thing_with(closet, "taped", "run")
    record = record_of(closet, tick(run, "taped", True, size="1"))
    assert f"{run.name}: taped for the old size 1" in record.deviations
    assert entry(record, run, "taped").value == ""


def test_what_is_open_is_told_and_what_is_done_is_not(closet):
    takeoff, things = closet
    nothing = record_of(closet)
    said = " | ".join(nothing.deviations)
    for words in (
        "runs not taped: ",
        "corner pieces not set: ",
        "flanges not dressed: ",
        "tests not read in full: ",
        "hold points not signed: ",
    ):
        assert words in said
    events = [tick(t, f.key, "N. N." if f.kind == "text" else 99.0 if f.kind == "number" else True)
              for t in things if t.kind in ("run", "corner", "collar", "drain", "test", "hold") for f in t.fields]  # fmt: skip
    done = record_of(closet, *events)
    assert done.deviations == ()
    texts = [each.text for sheet in record_sheets(takeoff, done) for each in sheet.paper_scene if isinstance(each, Label)]
    assert "none that the ticks tell of" in texts
    assert "NO" not in texts


def test_ticks_of_another_issue_count_and_are_told(closet):
    takeoff, things = closet
    other = replace(issue_of(takeoff.setout, things), digest="0")
    run = thing_with(closet, "taped", "run")
    record = record_of(closet, tick(run, "taped", True), Event("0/run/none", "taped", True, "9", 1, "Ana-1"), issue=other)
    assert entry(record, run, "taped").value == "yes"
    assert (record.earlier, record.strange) == (True, 1)
    said = " ".join(each.text for sheet in record_sheets(takeoff, record) for each in sheet.paper_scene if isinstance(each, Label))
    assert "Some ticks are of another issue of the plan: they count where the size is the same." in said
    assert "1 ticks are of things that are not in this issue." in said


def test_a_record_of_nothing_but_walls_has_no_empty_tables(closet):
    takeoff, _ = closet
    whole = record_of(closet)
    walls = replace(whole, entries=tuple(whole.of("wall")), deviations=())
    texts = [each.text for sheet in record_sheets(takeoff, walls) for each in sheet.paper_scene if isinstance(each, Label)]
    assert "Walls as measured" in texts
    assert not {"Hold points", "Stages by areas, with batches", "Tests: read, wanted", "tape runs"} & set(texts)
    none = replace(whole, entries=())
    texts = [each.text for sheet in record_sheets(takeoff, none) for each in sheet.paper_scene if isinstance(each, Label)]
    assert "Walls as measured" not in texts


def test_sheets_and_deviations_are_found_by_code_whatever_words_a_person_reads(closet):
    takeoff, things = closet
    events = [tick(t, f.key, "N. N." if f.kind == "text" else 2.5 if f.kind == "number" else True) for t in things for f in t.fields if f.kind != "sum"]  # fmt: skip
    plain = record_of(closet, *events)
    other = replace(plain, entries=tuple(replace(e, field=f"<{e.field}>", name=f"<{e.name}>") for e in plain.entries))
    plain_says, other_says = (
        [each.text for sheet in record_sheets(takeoff, record) for each in sheet.paper_scene if isinstance(each, Label)]
        for record in (plain, other)
    )
    holds = {t.name for t in things if t.kind == "hold" and not any(f.kind == "number" for f in t.fields)}
    assert {"moisture of the substrate, %", "pull-off of the substrate, N/mm²"} <= {str(name) for name in holds}
    assert plain_says.count("at test points") >= 3
    for words in ("at test points", "tape runs", "corner pieces", "flanges", "cuts sawn", "cuts laid", "joints sealed", "N. N."):
        assert plain_says.count(words) == other_says.count(words) > 0, words


def test_the_return_onto_a_lower_wall_is_told_with_its_run(closet):
    returns = [t for t in closet[1] if t.kind == "run" and dict(t.figures).get("return on the lower wall")]
    # wall 1 goes up to 1000 between neighbours that go up to 150: one return at either end
    assert len(returns) == 2
    assert {dict(t.figures)["return on the lower wall"] for t in returns} == {"150 mm at least"}
    assert {dict(t.figures)["up to"] for t in returns} == {"1000 mm"}
