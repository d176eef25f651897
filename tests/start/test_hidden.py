"""What stands out of view counts after what is in view: the narrowest cuts are found again from the pieces as laid, walls taken as typed."""

from __future__ import annotations

import json

import numpy as np
import pytest
import shapely

from cli.report import setout_text
from layout.errors import PlanFaults
from layout.lining.build import build_lining
from layout.setout.conduct import set_out
from layout.setout.residuals import audit
from layout.sheets.start_words import _why
from layout.start.edges import hidden_edges, wall_edges
from layout.writers.records import setout_record
from tests.rooms import plan_of

# the column's two opposite faces and the walls cannot all have wide cuts
BOX = [[0, 0], [4000, 0], [4000, 3000], [2600, 3000], [2600, 2520], [0, 2520]]
COLUMN = [[1000, 1000], [1350, 1000], [1350, 1400], [1000, 1400]]


def laid(hidden, **tile):
    room = {"outline": BOX, "outline_is": "finished", "columns": [{"outline": COLUMN}]}
    if hidden:
        room["hidden"] = hidden
    tiles = {"floor": {"size": [200, 200], "joint": 6, "least_cut": 10, **tile}}
    return set_out(plan_of(room, tiles=tiles, rules={"movement": "DE_INTERIOR"}))


def lines(hidden):
    """Lines that are out of view and in view, from the corners as typed."""
    walls = {f"wall {k + 1}": [BOX[k], BOX[(k + 1) % len(BOX)]] for k in range(len(BOX))}
    column = [shapely.LineString([COLUMN[k], COLUMN[(k + 1) % 4]]) for k in range(4)]
    out: list[shapely.LineString] = []
    seen: list[shapely.LineString] = []
    for name, ends in walls.items():
        (out if name in hidden else seen).append(shapely.LineString(ends))
    (out if "column 1" in hidden else seen).extend(column)
    return out, seen


def by_view(setout, hidden):
    """The narrowest strip in view and out of view: the least side of each piece that spans nine tenths of its tile one way."""
    floor = setout.rooms[0].floor
    out, seen = lines(hidden)
    reach = max(setout.plan.rules.perimeter_joint, 8.0) + 1.0
    found = {True: [1e9], False: [1e9]}
    for piece in floor.field.pieces():
        box = shapely.get_coordinates(shapely.minimum_rotated_rectangle(piece))
        sides = np.hypot(*np.diff(box[:3], axis=0).T)
        if sides.max() < 0.9 * 200:
            continue
        along = [sum(line.buffer(reach, cap_style="flat").intersection(piece.exterior).length for line in each) for each in (out, seen)]
        found[bool(along[0] > along[1])].append(float(sides.min()))
    return min(found[False]), min(found[True])


@pytest.fixture(scope="module")
def plain():
    return laid([])


@pytest.mark.parametrize("hidden", [["column 1"], ["wall 2", "wall 3"], ["wall 5"]])
def test_a_start_told_by_view_is_what_the_pieces_say_and_gives_no_less_in_view(hidden, plain):
    setout = laid(hidden)
    seen, out = by_view(setout, hidden)
    view = setout.rooms[0].floor.start.view
    assert view.drawn == pytest.approx(min(seen, 200.0), abs=0.3)
    assert view.hidden == pytest.approx(min(out, 200.0), abs=0.3)
    assert setout.rooms[0].floor.start.smallest == pytest.approx(min(seen, out), abs=0.3)
    # the start that is best with all in view gives in view no more than this one, but for what walls are known to
    before, _ = by_view(plain, hidden)
    assert seen >= before - setout.plan.rules.wall_tolerance - 0.3
    assert not audit(setout).breaches


def test_a_column_out_of_view_changes_the_start_for_the_walls_in_view(plain):
    setout = laid(["column 1"])
    (seen, out), (before, _) = by_view(setout, ["column 1"]), by_view(plain, ["column 1"])
    assert seen > before + 20.0
    assert out < seen
    assert plain.rooms[0].floor.start.view is None
    record, was = (setout_record(each)["rooms"][0]["surfaces"][0]["start"] for each in (setout, plain))
    assert record["smallest_cut_in_view_mm"] == pytest.approx(seen, abs=0.3)
    assert record["smallest_cut_hidden_mm"] == pytest.approx(out, abs=0.3)
    assert "smallest_cut_in_view_mm" not in json.dumps(was)


def test_terminal_sheet_and_finding_tell_both():
    setout = laid(["column 1"], least_cut=60)
    room = setout.rooms[0]
    view = room.floor.start.view
    shown = " ".join(setout_text(setout, plain=True).split())
    assert f"In view {view.drawn:.0f} mm, out of view {view.hidden:.0f} mm." in shown
    assert f"In view {view.drawn:.0f}, out of view {view.hidden:.0f}." in str(_why(room))
    below = [finding.text for finding in room.findings if finding.code == "cut-below-least" and "floor" in finding.text]
    assert len(below) == 1
    assert f"at column 1, out of view ({view.drawn:.0f} in view)" in below[0]


def test_a_searched_pattern_weighs_what_is_in_view_first():
    tile = {"size": [240, 120], "pattern": "herringbone"}
    views = [laid(hidden, **tile).rooms[0].floor.start for hidden in ([], ["column 1"])]
    assert views[1].view.drawn >= views[0].smallest - 5.0
    assert views[1].method == "search"
    every = laid(["wall 1", "wall 2", "wall 3", "wall 4", "wall 5", "wall 6", "column 1"], **tile).rooms[0].floor.start
    assert every.view.drawn == pytest.approx(120.0)  # nothing in view is cut
    assert every.smallest == pytest.approx(views[0].smallest, abs=1.1)


def test_what_is_out_of_view_must_be_there():
    with pytest.raises(PlanFaults, match=r"hidden\[1\].*no wall, column or plinth 'machine'"):
        laid(["wall 2", "machine"])


def test_a_column_named_like_a_doorway_does_not_take_the_doorway_out_of_view():
    """Edges are known by what stands there, not by what it is called: the threshold in wall 1 is called so too, and is in view."""
    column = {"name": "wall 1 threshold", "outline": COLUMN}
    room = {"outline": BOX, "openings": [{"wall": 1, "offset": 600, "width": 900}], "columns": [column], "hidden": ["wall 1 threshold"]}
    lining = build_lining(plan_of(room, tiles={"floor": {"size": [200, 200], "joint": 6}}), 0)
    _, known, _, doors, _, _ = wall_edges(lining.floor, 0.0)
    hidden = hidden_edges(lining, lining.floor, known)
    called = [each.name for each in known]
    assert called.count("wall 1 threshold") == 5, "the column's four sides, and the doorway"
    assert [each.kind for each, own in zip(known, hidden, strict=True) if own] == ["column"] * 4
    assert doors.sum() == 1
    assert not (hidden & doors).any()
