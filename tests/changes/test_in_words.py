"""A comparison put into words for a terminal, a folder and the revision table: every line read, from values made by hand."""

from __future__ import annotations

import csv
import io
import math
from dataclasses import replace

import pytest

from cli.differences import changes_text, cost_of_keeping, in_few_lines
from layout.changes.cost import Figures, KeepingCost
from layout.changes.revision import revision_words
from layout.changes.values import (
    Changes,
    CutChange,
    Difference,
    LineMove,
    MarkChange,
    OrderChange,
    RoomChange,
    SurfaceChange,
    figure_of,
)
from layout.identity import SurfaceId
from layout.writers.change_records import changes_csv

NOTHING = RoomChange(name="Bar", was="Bar", moved="", shape=(), lines=(), works=(), came=(), went=())
LINE = LineMove(
    on=SurfaceId(0, "floor", name="floor"), index=0, name="A", moved=-12.04, turned=0.0, wall=2, before=203.0, after=215.0, face="wall 2"
)
FACE = SurfaceChange(
    name="wall 1", was="wall 1", whole=(4, 4), pieces=(6, 6), narrowest=(80, 80), sealant=(1, 1), marks=(), renumbered=True
)
ADHESIVE = OrderChange(key="adhesive", name="adhesive", unit="kg", before=10, after=20, packs_before=1, packs_after=2, money=31.5)
TILES = OrderChange(key="tiles", name="tiles", unit="pcs", before=10, after=11, packs_before=None, packs_after=None)
PRICED = Changes(rooms=(), cuts=(), orders=(ADHESIVE, TILES), currency="EUR", total=31.5)


@pytest.fixture(autouse=True)
def wide(monkeypatch):
    """A terminal so wide that no cell of a table goes over two lines."""
    monkeypatch.setenv("COLUMNS", "200")


def words(changes: Changes) -> str:
    return " ".join(changes_text(changes, plain=True).split())


def of(*rooms: RoomChange, **given: object) -> Changes:
    return replace(Changes(rooms=rooms, cuts=(), orders=()), **given)  # type: ignore[arg-type]  # fields by name


def test_what_governs_is_told_before_the_rooms():
    size = figure_of("tile floor", "size", "300, 300", "250, 250", "tile")
    said = words(of(NOTHING, plan=(size, Difference(what="tile base", before="", after="there", kind="tile"))))
    assert said.startswith("Tiles, rules and products")
    assert "tile floor: size 300, 300 250, 250" in said
    assert "tile base — there" in said
    assert said.endswith("Bar")
    assert revision_words(of(plan=(size,))) == "tile floor size 300, 300 to 250, 250"
    assert in_few_lines(of(plan=(size,))) == ["changed against the set that stood here: tiles, rules or products are others"]
    rows = list(csv.reader(io.StringIO(changes_csv(of(plan=(size,))))))
    assert rows[1:] == [["", "tile", "tile floor: size", "300, 300", "250, 250"]]


def test_rooms_that_came_and_went_are_told_by_their_name_alone():
    came, went = replace(NOTHING, was=""), replace(NOTHING, name="", was="Old bar")
    assert words(of(came, went)) == "Bar: a new room Old bar: this room is gone"
    assert revision_words(of(came, went)) == "Bar: new room; Old bar: room taken out"
    assert in_few_lines(of(came, went))[1:] == ["Bar: new", "Old bar: gone"]


def test_a_room_that_was_drawn_elsewhere_is_told_so_with_its_new_name():
    room = replace(NOTHING, was="Store", moved="shifted by 100.0, 0.0")
    assert words(of(room)) == "Bar, was Store the room is shifted by 100.0, 0.0; all below is told in the new plan"
    assert revision_words(of(room)) == "drawn shifted by 100.0, 0.0"
    assert in_few_lines(of(room))[1] == "Bar: shifted by 100.0, 0.0"


def test_lines_to_snap_are_told_with_how_far_and_from_where():
    turned = replace(LINE, name="B", moved=3.0, turned=-0.25, after=math.nan, before=math.nan, face="")
    said = words(of(replace(NOTHING, lines=(LINE, turned))))
    assert "floor A 12.0 wall 2 203.0 215.0" in said
    assert "floor B 3.0, -0.25° — — —" in said
    assert said.endswith("--keep lines leaves them where they are and tells what that costs")
    assert revision_words(of(replace(NOTHING, lines=(LINE, turned)))) == "start lines of floor moved"


def test_marks_that_alone_are_others_and_findings_stand_in_lines_of_their_own():
    said = words(of(replace(NOTHING, surfaces=(FACE,), came=("a sliver at wall 1",), went=("a gully is off centre",))))
    assert "only the marks are others on wall 1; --keep marks leaves them as they were issued" in said
    assert said.endswith("new finding: a sliver at wall 1 gone: a gully is off centre")
    assert "Tile by surface" not in said
    assert revision_words(of(replace(NOTHING, surfaces=(FACE,)))) == "tiles and joints set out otherwise"


def test_tiles_by_surface_are_told_before_and_after():
    marks = (MarkChange(mark="C1", before=0, after=2), MarkChange(mark="C2", before=2, after=0), MarkChange(mark="C3", before=1, after=4))
    laid = replace(FACE, whole=(4, 5), narrowest=(80.0, math.nan), marks=marks, renumbered=False)
    said = words(
        of(replace(NOTHING, surfaces=(laid, replace(laid, name="wall 9", was="wall 8", marks=()), replace(laid, name="", marks=()))))
    )
    assert "wall 1 4 → 5 6 80 → — 1.00 new C1; gone C2; number C3 1 → 4" in said
    assert "wall 9, was wall 8 4 → 5" in said
    assert "only the marks" not in said


def test_things_that_came_went_and_moved_stand_in_the_revision_table_as_what_was_done():
    def there(what: str, before: str, after: str) -> Difference:
        return Difference(what=what, before=before, after=after, aspect="there")

    shape = (there("pipe 2", "there", ""), there("gully: 1", "", "there"), figure_of("door: side", "width", "800", "900", "opening"))
    assert revision_words(of(replace(NOTHING, shape=shape))) == "pipe 2 taken out, gully: 1 added, door: side width 800 to 900"
    walls = (there("wall 4", "", "200 long"), there("wall 5", "1200 long", ""))
    assert revision_words(of(replace(NOTHING, shape=walls))) == "wall 4 added, wall 5 taken out"
    line = Difference(what="line of wall 1", before="as drawn", after="+20.0 into the room", aspect="line", of="wall 1")
    longer = Difference(what="length of wall 1", before="3400.0", after="3520.0", aspect="length", of="wall 1")
    assert revision_words(of(replace(NOTHING, shape=(longer,)))) == "wall 1 3400.0 to 3520.0"
    assert revision_words(of(replace(NOTHING, shape=(longer, line)))) == "wall 1 moved +20.0 into the room"
    assert revision_words(of(replace(NOTHING, came=("a sliver",)))) == "quantities only"


def test_orders_and_money():
    said = words(PRICED)
    assert "adhesive kg 10.00 20.00 1 → 2 +31.50" in said
    assert "tiles pcs 10.00 11.00 no rate" in said
    assert said.endswith("in all +31.50 EUR")
    free = words(replace(PRICED, currency="", total=None))
    assert "no rate" not in free
    assert "in all" not in free
    cut = CutChange(tile="floor", size=(80, 200), shape="strip", before=1, after=3, marks_before=(), marks_after=("C1",))
    few = in_few_lines(replace(PRICED, cuts=(cut,)))
    assert few[1:] == ["1 sizes of cut tiles in another number or under other marks", "orders: adhesive 1 → 2"]
    assert "floor 80 × 200 strip 1 3 — → C1" in words(replace(PRICED, cuts=(cut,), orders=()))
    assert words(Changes(rooms=(), cuts=(), orders=())) == "no changes"
    assert in_few_lines(Changes(rooms=(), cuts=(), orders=())) == ["nothing changed against the set that stood here"]


@pytest.mark.parametrize(("total", "last"), [(31.5, "  money: +31.50 EUR"), (None, "  packs: adhesive +1")])
def test_what_keeping_costs(total, last):
    free = Figures(pieces=20, weak=0, narrowest=100.0, joints=4000.0)
    kept = Figures(pieces=24, weak=2, narrowest=41.0, joints=5250.0)
    said = cost_of_keeping([KeepingCost(room="Bar", kept=kept, free=free)], replace(PRICED, total=total), ["lines", "marks"]).splitlines()
    assert said[1] == "lines and marks kept, against the best free set-out:"
    assert said[2] == ("  Bar: narrowest cut 41 (free 100), 24 cut pieces (20), 2 of them weak (0), 5.25 m of movement joint (4.00)")
    assert said[-1] == last
