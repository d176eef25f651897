"""Long floors and long faces on one sheet: what stands where is found again from shapes, the drawing file and the picture's pixels."""

from __future__ import annotations

from io import BytesIO
from typing import Any

import numpy as np
import pytest
import shapely
from PIL import Image

from layout.quantities.takeoff import take_off
from layout.setout.conduct import set_out
from layout.sheets.draft import room_job
from layout.sheets.draw import draw_sheets
from layout.sheets.face_rows import cuts_of, unfolded_on
from layout.sheets.paper import SIZES, drawing_window
from layout.sheets.scene import Label, Stroke
from layout.sheets.strips import Strip, cuts_along, strips_fit, strips_of
from layout.writers.dxf import LONGEST, _name_for, drawing_of
from layout.writers.page.geometry import frames, windows
from layout.writers.page.svg import FINE
from layout.writers.plot import figure_of
from tests.examples import TOP, example
from tests.rooms import plan_of
from tests.sheets.test_labels import faults_of

OUTLINE = [[0, 0], [14000, 0], [14000, 1500], [0, 1500]]
CORRIDOR = {
    "outline": OUTLINE,
    "openings": [{"wall": 2, "offset": 300, "width": 900, "name": "door"}],
}
PIPE = {"name": "pipe", "wall": 3, "offset": 6950, "level": 80, "diameter": 60}


@pytest.fixture(scope="module")
def corridor():
    """A corridor 14 m long: its set-out and its sheets."""
    setout = set_out(plan_of({**CORRIDOR, "pipes": [PIPE]}))
    return setout, draw_sheets(setout, take_off(setout))


@pytest.fixture(scope="module")
def room(corridor):
    return corridor[0].rooms[0]


def of_kind(sheets, kind):
    return next(sheet for sheet in sheets if sheet.name.endswith(kind))


def test_a_corridor_stands_in_strips_on_one_sheet_at_a_larger_scale(corridor):
    _, sheets = corridor
    plans = [sheet for sheet in sheets if sheet.further]
    assert {"setting-out", "cuts", "tape", "joints"} <= {sheet.name[3:] for sheet in plans}
    assert not faults_of(sheets)
    for sheet in plans:
        whole = (SIZES[sheet.paper][0] - 215.0) / 14000  # undivided it would be no larger than this beside the words
        assert 1.0 / sheet.view.scale > 1.2 * whole


def test_the_strips_show_all_of_the_floor_and_do_not_stand_over_each_other(corridor, room):
    sheet = of_kind(corridor[1], "joints")
    left, low, right, high = drawing_window(sheet.size)
    windows_on_paper, seen = [], []
    for part in sheet.shown:
        at, half = np.array(part.view.at), np.array(part.view.size) / 2.0
        windows_on_paper.append(shapely.box(*(at - half), *(at + half)))
        centre, reach = np.array(part.view.centre), half * part.view.scale
        seen.append(shapely.box(*(centre - reach), *(centre + reach)))
    assert len(seen) >= 2
    floor = shapely.Polygon(room.lining.outline.outer.points)
    assert shapely.union_all(seen).covers(floor)
    assert shapely.box(left, low, right, high).covers(shapely.union_all(windows_on_paper))
    assert shapely.union_all(windows_on_paper).area == pytest.approx(sum(box.area for box in windows_on_paper))


@pytest.mark.parametrize("along", [0, 1])
def test_a_floor_is_cut_at_a_joint_that_all_its_tiles_share(room, along):
    # by the boxes of whole tiles: a cut at a joint goes through none
    turned = set_out(plan_of({"outline": [[y, x] for x, y in OUTLINE]})).rooms[0] if along else room
    (done,) = [each for each in turned.surfaces if each.surface.kind == "floor"]
    low = np.concatenate([done.field.origins[bay] + laid.whole[:, 1:] * 206.0 for bay, laid in enumerate(done.field.bays)])
    assert len(low) > 100
    for cut in cuts_along(turned, along, 0.0, 14000.0, [5100.0, 5100.0, 5100.0]):
        assert not ((low[:, along] < cut) & (low[:, along] + 200.0 > cut)).any()


def test_a_floor_is_cut_at_its_movement_joint_first():
    jointed = set_out(plan_of({**CORRIDOR, "structural_joints": [{"line": [[7400, 0], [7400, 1500]], "width": 20}]})).rooms[0]
    assert cuts_along(jointed, 0, 0.0, 14000.0, [8000.0, 8000.0]) == [pytest.approx(7400.0, abs=1.0)]


def test_a_bonded_floor_is_cut_evenly():
    bonded = set_out(plan_of(CORRIDOR, tiles={"floor": {"size": [200, 200], "joint": 6, "pattern": "running"}})).rooms[0]
    assert cuts_along(bonded, 1, 0.0, 1500.0, [800.0, 800.0])[0] == pytest.approx(750.0, abs=150.0)
    assert cuts_along(bonded, 0, 0.0, 14000.0, [7000.0, 7000.0]) == [7000.0]


def test_a_floor_goes_in_strips_only_where_it_is_long_and_lost_on_its_sheet(room):
    scales = (10.0, 20.0, 50.0)
    assert strips_fit(room, ("A3",), scales, 0.3) is None
    square = set_out(plan_of({"outline": [[0, 0], [4000, 0], [4000, 3000], [0, 3000]]})).rooms[0]
    assert strips_fit(square, ("A3",), scales, 0.1) is None
    assert strips_of(square, SIZES["A3"], 50.0) == []
    found = strips_fit(room, ("A3", "A2"), scales, 0.1)
    assert found is not None
    paper, scale = found
    assert all(isinstance(part, Strip) for part in strips_of(room, SIZES[paper], scale))
    assert strips_of(room, SIZES["A3"], 10.0) == []  # five and more are not read as one floor


def test_the_key_plan_names_each_strip_and_match_lines_name_the_next(corridor):
    sheet = of_kind(corridor[1], "tape")
    words = [item.text for item in sheet.paper_scene if isinstance(item, Label) and item.layer == "MATCH-LINE"]
    letters = [chr(ord("a") + k) for k in range(len(sheet.shown))]
    assert len(letters) > 1
    assert [word for word in words if len(word) == 1] == letters
    assert [word for word in words if word.startswith("part ")] == [f"part {letter}" for letter in letters]
    assert [word[-1] for word in words if word.startswith("match line")] == [
        letter for k in range(len(letters)) for letter in letters[max(k - 1, 0) : k] + letters[k + 1 : k + 2]
    ]


def ink(sheet, dpi=40):
    """Where the picture of a sheet is not white in its drawing window, as part of the frame less the title block: the box of it, by pixels."""
    picture = BytesIO()
    figure_of(sheet).savefig(picture, dpi=dpi)
    dark = np.asarray(Image.open(picture).convert("L")) < 250
    mm = dpi / 25.4
    left, low, right, high = drawing_window(sheet.size)
    box = [round(v * mm) for v in (left + 1.5, sheet.size[1] - high + 16.0, right - 1.0, sheet.size[1] - low - 14.0)]  # heading, scale bar
    rows, columns = np.nonzero(dark[box[1] : box[3], box[0] : box[2]])
    # the title block is 180 by 50 mm, the frame stands 20 mm off the left edge and 10 off the others
    return np.ptp(rows) * np.ptp(columns) / mm**2 / ((sheet.size[0] - 30.0) * (sheet.size[1] - 20.0) - 180.0 * 50.0)


@pytest.mark.parametrize("kind", ["joints", "unfolded"])
def test_the_drawing_fills_two_fifths_of_its_sheet_by_pixels(corridor, kind):
    assert ink(of_kind(corridor[1], kind)) >= 0.4


def test_each_strip_is_a_viewport_that_hides_what_is_of_others(corridor):
    sheets = corridor[1]
    doc = drawing_of(sheets)
    strips = [sheet for sheet in sheets if sheet.further]
    assert strips
    for sheet in strips:
        ports: list[Any] = [port for port in doc.layout(sheet.name).query("VIEWPORT") if port.dxf.layer == "VIEWPORT"]
        assert len({port.dxf.status for port in ports}) == len(ports) == len(sheet.shown)
        labels = {item.text for part in sheet.shown for item in part.room if isinstance(item, Label)}
        assert labels
        hidden = [set(port.frozen_layers) for port in ports]
        assert all(a - b for a in hidden for b in hidden if a is not b)
    assert max(len(layer.dxf.name) for layer in doc.layers) <= LONGEST


def test_a_layer_of_very_many_sheets_has_a_short_name_of_its_own():
    sets = [frozenset(f"cuts-{k}" for k in range(first, first + 60)) for first in (0, 1)]
    names = [_name_for("WALL", kinds, sets) for kinds in sets]
    assert len(set(names)) == 2
    assert max(map(len, names)) < 60
    assert _name_for("WALL", frozenset({"tape", "cuts"}), sets) == "WALL-CUTS-TAPE"


def test_a_long_face_stands_in_parts_that_make_up_its_length_and_cut_no_pipe(room):
    paper, view, unfolded = unfolded_on(room, ("A3", "A2"), None)
    wall = [face for face in unfolded.faces if face.surface.name == "wall 3"]
    assert len(wall) > 1
    assert sum(face.high - face.low for face in wall) == pytest.approx(14000.0)
    assert [face.letter for face in wall] == ["a", "b", "c", "d"][: len(wall)]
    width = drawing_window(SIZES[paper])[2] - drawing_window(SIZES[paper])[0]
    assert max(face.high - face.low for face in wall) / view.scale < width
    # the pipe stands 6950 from the typed corner, 80 up; seen from inside this is from the left on one wall and from the right on the other
    assert all(abs(end - at) > 150.0 for face in wall for end in (face.low, face.high) for at in (6950.0, 14000.0 - 6950.0))
    assert [face.letter for face in unfolded.faces if face.surface.name == "wall 2"] == [""]


def test_a_face_full_of_pipes_is_cut_between_them():
    pipes: list[dict[str, Any]] = [{"name": f"p{k}", "wall": 1, "offset": 3300 + 450 * k, "level": 80, "diameter": 60} for k in range(3)]
    crowded = set_out(plan_of({"outline": OUTLINE, "pipes": pipes})).rooms[0]
    face = next(s for s in crowded.membrane.lining.surfaces if s.name == "wall 1")
    edges = cuts_of(face, 4000.0)
    assert (edges[0], edges[-1]) == (0.0, 14000.0)
    assert max(np.diff(edges)) <= 4000.0
    assert len(edges) > 4
    for pipe in pipes:
        assert all(abs(edge - pipe["offset"]) > 150.0 for edge in edges)
    assert cuts_of(face, 20000.0) == [0.0, 14000.0]


def test_a_scale_that_was_asked_for_cuts_no_face(room):
    _, view, unfolded = unfolded_on(room, ("A2",), 20.0)
    assert view.scale >= 20.0
    assert {face.letter for face in unfolded.faces} == {""}


def test_the_page_knows_what_each_strip_and_each_part_of_a_face_shows(corridor, room):
    setout, sheets = corridor
    numbered = [(k, sheet) for k, sheet in enumerate(sheets) if sheet.view is not None]
    data, boxes = frames(setout, numbered), windows(numbered)
    floor = room.floor.surface.id.key
    places = [place for place in data[floor]["on"] if sheets[place[0]].further]
    assert len(places) >= 8
    for k, a, b, c, d, e, f, x0, y0, x1, y1 in places:
        wx, wy, ww, wh = boxes[k]
        assert wx - 1 <= x0 < x1 <= wx + ww + 1
        assert wy - 1 <= y0 < y1 <= wy + wh + 1
        # the window is one of the views: its middle is where the matrix puts the view's centre
        middles = [(a * u + c * v + e, b * u + d * v + f) for u, v in (part.view.centre for part in sheets[k].shown)]
        assert any(abs((x0 + x1) / 2 - x) < 2 and abs((y0 + y1) / 2 - y) < 2 for x, y in middles)
    wall = next(s.id.key for s in room.lining.surfaces if s.name == "wall 3")
    parts = [place for place in data[wall]["on"] if len(place) == 11 and sheets[place[0]].name.endswith("unfolded")]
    assert len(parts) > 1
    scale = of_kind(sheets, "unfolded").view.scale
    assert sum(place[9] - place[7] for place in parts) == pytest.approx(14000.0 / scale * FINE, abs=4)


def test_a_plan_in_strips_is_asked_for_by_nobody_who_names_a_scale(corridor):
    setout, _ = corridor
    asked = room_job(setout, 0, "A2", 50.0)
    assert len(asked.parts) == 1
    assert any(isinstance(item, Stroke) and item.layer == "MATCH-LINE" for item in of_kind(corridor[1], "unfolded").room)


def test_faces_stay_whole_where_a_tape_is_still_seen():
    """Walls of five metres, tanked 150 high: at 1:30 that is 5 mm, and a wall in two halves would be read as two."""
    own = example(TOP / "plans" / "kitchen.toml").rooms[0]
    paper, view, rows = unfolded_on(own, ("A3", "A2"), None)
    assert (paper, view.scale) == ("A3", 30.0)
    assert {face.parts for face in rows.faces} == {1}
