"""Sheets: paper after the ISO standards, labels that do not overlap, words that are true."""

from __future__ import annotations

import json
import re
from pathlib import Path

import numpy as np
import pytest
from shapely import box, union_all

from layout.quantities.takeoff import take_off
from layout.readers.planfile import parse_plan
from layout.setout.conduct import set_out
from layout.sheets.cut_cards import card
from layout.sheets.cut_places import unplaced
from layout.sheets.draw import draw_sheets
from layout.sheets.edge_figures import running_stops
from layout.sheets.layers import LAYERS
from layout.sheets.lettering import fitted, text_width, wrapped
from layout.sheets.paper import SIZES, choose, drawing_space
from layout.sheets.scene import Dimension, Label, Stroke, exploded, readable
from layout.sheets.spots import label_box
from layout.tiles.pieces import Cut
from tests.examples import example, example_sheets
from tests.rooms import plan_of
from tests.setout.test_real_rooms import doors_of

PLANS = sorted((Path(__file__).parent.parent.parent / "plans").glob("*.toml"))


@pytest.fixture(scope="module", params=PLANS, ids=lambda p: p.stem)
def drawn(request):
    return example(request.param), example_sheets(request.param)


def test_paper_is_iso_216():
    # ISO 216: A4 210 x 297, each larger size twice the area; ratio of sides the square root of two
    assert [SIZES["A4"], SIZES["A1"]] == [(210, 297), (841, 594)]
    for width, height in SIZES.values():
        assert max(width, height) / min(width, height) == pytest.approx(2**0.5, rel=2e-3)


def test_the_drawing_space_is_iso_5457():
    # ISO 5457: 20 mm at the left, 10 mm elsewhere (from memory): A1 811 x 574, A3 390 x 277
    for paper, space in {"A1": (811, 574), "A2": (564, 400), "A3": (390, 277)}.items():
        x0, y0, x1, y1 = drawing_space(SIZES[paper])
        assert (x1 - x0, y1 - y0) == space


@pytest.mark.parametrize(
    ("width", "height", "paper", "scale"),
    [(3000, 2500, "A3", 20), (6500, 4700, "A2", 20), (12400, 8200, "A2", 40), (5300, 9700, "A3", 50), (100_000, 60_000, "A1", 200)],
)
def test_a_standard_scale_is_chosen_to_fit(width, height, paper, scale):
    assert choose(width, height, margin=26.0) == (paper, scale)


def test_pens_are_of_the_iso_128_series():
    assert {layer.pen for layer in LAYERS.values()} <= {0.13, 0.18, 0.25, 0.35, 0.5, 0.7, 1.0, 1.4, 2.0}


def test_joints_tape_and_start_lines_tell_apart_without_colour():
    looks = [(LAYERS[n].pen, LAYERS[n].dash) for n in ("START-LINE", "MOVEMENT-JOINT", "STRUCTURAL-JOINT", "SEALANT", "WALL", "TILE")]
    assert len(set(looks)) == len(looks)
    tape = [(LAYERS[n].pen, LAYERS[n].dash) for n in ("TAPE-INTERNAL", "TAPE-EXTERNAL", "TAPE-BRIDGE", "WALL")]
    assert len(set(tape)) == len(tape)


def test_no_letter_is_under_the_least_height(drawn):
    _, sheets = drawn
    assert len(sheets) > 3
    for sheet in sheets:
        for item in (*sheet.room, *sheet.paper_scene):
            if isinstance(item, Label):
                assert item.height >= {"CUT-SIZE": 3.5, "MARK": 3.5}.get(item.layer, 2.5), item.text


def test_the_scale_bar_stands_clear_of_the_frame(drawn):
    _, sheets = drawn
    found = 0
    for sheet in sheets:
        for item in sheet.paper_scene:
            if isinstance(item, Label) and re.fullmatch(r"[\d.]+ m", item.text) and item.across == "centre":
                # figures stand 2.6 over the foot of the bar, which is 0.8 high; the frame is 10 from the paper's edge
                assert item.at[1] - 2.6 > 10.0 + 2.0, sheet.name
                found += 1
    assert found


def _boxes(sheet):
    result = []
    for item in sheet.room:
        parts = exploded(item, sheet.view.scale) if isinstance(item, Dimension) else (item,)
        for part in parts:
            if isinstance(part, Label) and part.text.strip():
                x0, y0, x1, y1 = label_box(part, sheet.view.scale)
                result.append((part.text, sheet.view.to_paper(np.array([[x0, y0], [x1, y1]]))))
    return result


def overlaps_on(sheets):
    overlaps = []
    for sheet in sheets:
        if sheet.view is None:
            continue
        boxes = _boxes(sheet)
        for k, (text, (low, high)) in enumerate(boxes):
            for other, (olow, ohigh) in boxes[:k]:
                shared = np.minimum(high, ohigh) - np.maximum(low, olow)
                if (shared > 0.15).all():
                    overlaps.append((sheet.name, text, other))
    return overlaps


def test_no_two_labels_overlap(drawn):
    _, sheets = drawn
    assert not overlaps_on(sheets)


def test_everything_stands_inside_the_frame(drawn):
    _, sheets = drawn
    assert len(sheets) > 3
    for sheet in sheets:
        x0, y0, x1, y1 = drawing_space(sheet.size)
        for item in sheet.paper_scene:
            if isinstance(item, Label):
                bx0, by0, bx1, by1 = label_box(item)
                assert bx0 >= x0 - 0.1, (sheet.name, item.text)
                assert bx1 <= x1 + 0.1, (sheet.name, item.text)
                assert by0 >= y0 - 0.1, (sheet.name, item.text)
                assert by1 <= y1 + 0.1, (sheet.name, item.text)
        if sheet.view is not None:
            for text, (low, high) in _boxes(sheet):
                assert low[0] >= x0, (sheet.name, text)
                assert high[1] <= y1, (sheet.name, text)


def test_words_do_not_run_into_the_title_block(drawn):
    _, sheets = drawn
    assert len(sheets) > 3
    for sheet in sheets:
        if sheet.view is None:
            continue
        words = [
            item for item in sheet.paper_scene if isinstance(item, Label) and item.layer == "TEXT" and item.at[0] > sheet.size[0] - 192
        ]
        assert min(label_box(item)[1] for item in words) >= 10 + 44 - 0.5, sheet.name


def test_the_sheet_says_what_the_set_out_says(drawn):
    setout, sheets = drawn
    first = sheets[0]
    texts = {item.text for item in first.room if isinstance(item, Label)}
    for line in setout.rooms[0].floor.start.lines:
        assert line.name in texts
        for offset in line.offsets:  # on the face that is there when lines are snapped: the walls of the examples are all tanked
            told = f"{offset.membrane:.0f} from membrane"
            assert {told, f"{told} of wall {offset.wall}"} & texts  # far from its wall a figure names it
    marks = {cut.mark for cut, _ in setout.cuts_of(0, 0)}
    assert (
        sum(item.layer == "MARK" for sheet in sheets[:4] if "Cuts" in sheet.title for item in sheet.room if isinstance(item, Label)) <= 100
    )
    named = {sheet.title: sheet for sheet in sheets}
    shown = {item.text.split(" ")[0] for item in named["Cuts and marks"].room if isinstance(item, Label)}
    # rows are told beside the plan: in a table, or drawn larger
    for sheet in sheets:
        if sheet.title.startswith("Cuts and marks"):
            shown |= {item.text for item in sheet.paper_scene if isinstance(item, Label) and item.height < 5.0}
    assert marks <= shown
    runs = {item.text.split(" ")[0] for item in named["Membrane and tape"].room if isinstance(item, Label)}
    assert {f"R{k}" for k in range(1, len(setout.rooms[0].tape.runs) + 1)} <= runs


def test_title_blocks_carry_the_fields_of_iso_7200(drawn):
    setout, sheets = drawn
    assert len(sheets) > 3
    for number, sheet in enumerate(sheets, 1):
        fields = dict(sheet.block.fields)
        assert {
            "Title",
            "Legal owner",
            "Identification number",
            "Date of issue",
            "Sheet",
            "Creator",
            "Approved by",
            "Document type",
        } <= set(fields)
        assert fields["Date of issue"] == setout.plan.project.date.isoformat()
        assert fields["Sheet"] == f"{number}/{len(sheets)}"
        assert len(fields["Identification number"]) <= 16
        assert len(fields["Title"]) <= 25


def test_text_is_read_from_below_or_from_the_right():
    assert [readable(a) for a in (0, 45, 90, 135, 180, -90, -45, 270)] == [0, 45, 90, -45, 0, 90, -45, 90]


def test_lettering_measures_the_shipped_font():
    assert text_width("183", 3.5) == pytest.approx(3 * 1303 / 1493 * 3.5, rel=1e-6)  # DejaVu Sans: figures 1303, capitals 1493 of 2048
    assert text_width(fitted("a very long title indeed", 3.5, 30.0), 3.5) <= 30.0
    assert all(text_width(line, 2.5) <= 40.0 for line in wrapped("words that are to be broken over several lines", 2.5, 40.0))


def test_a_dimension_stands_at_its_distance():
    parts = exploded(Dimension((0, 0), (1000, 0), 10.0, "1000", "DIMENSION"), 20.0)
    lines = [part for part in parts if isinstance(part, Stroke)]
    assert lines[0].points[:, 1] == pytest.approx([200, 200])
    label = next(part for part in parts if isinstance(part, Label))
    assert label.at[1] > 200


@pytest.mark.parametrize(
    ("outline", "shape", "says"),
    [
        ([[0, 0], [90, 0], [90, 60], [150, 60], [150, 150], [0, 150]], "notch", "less 60 × 60"),
        ([[0, 0], [54, 0], [54, 40], [30, 40], [30, 91], [0, 91]], "notch", "54 × 91"),
        ([[0, 0], [150, 0], [150, 40], [80, 60], [0, 70]], "curve", "150 × 70"),
        ([[60, 90], [60.4, 90], [60.4, 109], [60, 109]], "rectangle", "under 1 × 19"),
    ],
)
def test_a_card_names_what_is_gone_only_of_a_tile_that_is_else_whole(outline, shape, says):
    line = np.array(outline, dtype=float)
    sides = tuple(np.floor(np.ptp(line, axis=0)).tolist())
    cut = Cut("C1", "floor", shape, 1, sides, line, (), 1.0, (150.0, 150.0))
    words = [each.text for each in card(unplaced(cut, 1), 0.0, 0.0, 55.0, name_tile=False) if isinstance(each, Label)]
    assert says in words
    assert ("saw as drawn" in words) == (shape != "rectangle" and not says.startswith("less"))


REAL = json.loads((Path(__file__).parent.parent / "data" / "real-rooms-sample.json").read_text())["rooms"]


@pytest.mark.parametrize("record", REAL[::3], ids=[r["id"] for r in REAL[::3]])
def test_no_labels_overlap_on_real_rooms(record):
    room = {"outline": record["outer"], "openings": doors_of(record), "columns": [{"outline": hole} for hole in record.get("holes") or []]}
    setout = set_out(plan_of({key: value for key, value in room.items() if value}))
    assert not overlaps_on(draw_sheets(setout, take_off(setout)))


def test_a_large_floor_goes_over_sheets_with_match_lines():
    setout = set_out(plan_of({"outline": [[0, 0], [14000, 0], [14000, 9000], [0, 9000]]}))
    sheets = [s for s in draw_sheets(setout, take_off(setout), paper="A2", scale=20.0) if s.title.startswith("Floor setting-out")]
    assert len(sheets) == 6
    assert [s.title.rsplit(" ", 1)[1] for s in sheets] == list("abcdef")
    for sheet in sheets:
        texts = [item.text for item in sheet.paper_scene if isinstance(item, Label)]
        assert any("match line" in text for text in texts)
        assert sheet.cut_off
    # the windows between match lines cover the room, and neighbours share their match line
    boxes = []
    for sheet in sheets:
        assert sheet.view is not None
        half = (np.array(sheet.view.size) / 2 - 12.0) * sheet.view.scale
        boxes.append(box(*(np.array(sheet.view.centre) - half), *(np.array(sheet.view.centre) + half)))
    assert union_all(boxes).covers(box(0, 0, 14000, 9000))
    assert sum(b.area for b in boxes) == pytest.approx(union_all(boxes).area)
    assert not overlaps_on(tuple(sheets))
    assert len([s for s in draw_sheets(setout, take_off(setout)) if s.title == "Floor setting-out"]) == 1


def test_sheets_stand_upright_too():
    setout = set_out(plan_of({"outline": [[0, 0], [3000, 0], [3000, 8000], [0, 8000]], "tile_height": 2000}))
    sheets = draw_sheets(setout, take_off(setout), paper="A2-upright")
    assert {sheet.size for sheet in sheets} == {(420.0, 594.0)}
    assert dict(sheets[0].block.fields)["Paper"] == "A2"
    assert not overlaps_on(sheets)


def test_a_set_for_several_rooms_has_a_cover():
    text = """
[[rooms]]
name = "Kitchen"
outline = [[0, 0], [4000, 0], [4000, 3000], [0, 3000]]
[[rooms]]
name = "Wash-up"
at = [4150, 0]
outline = [[0, 0], [3000, 0], [3000, 3000], [0, 3000]]
"""
    setout = set_out(parse_plan(text))
    sheets = draw_sheets(setout, take_off(setout))
    cover = sheets[0]
    assert cover.title == "Key plan and sheet list"
    texts = [item.text for item in cover.paper_scene if isinstance(item, Label)]
    for number, sheet in enumerate(sheets[1:], 2):
        assert f"{number}" in texts
        assert sheet.title in texts
    assert {"1 Kitchen", "2 Wash-up"} <= set(texts)


def test_running_dimensions_from_a_start_line(drawn):
    setout, sheets = drawn
    room = setout.rooms[0]
    shown = {item.text for item in sheets[0].room if isinstance(item, Label) and item.layer == "DIMENSION"}
    found = 0
    for index, wall in enumerate(room.lining.outline.walls):
        stops = running_stops(room, index) if wall.run.straight else None
        if stops is None:
            continue
        origin, at = stops
        assert 0 < origin < wall.run.length
        assert at[0] == 0
        assert at[-1] == pytest.approx(wall.run.length)
        found += f"{at[-1] - origin:.0f}" in shown or f"{origin:.0f}" in shown
    assert found >= 2


def test_details_name_each_layer_with_its_thickness(drawn):
    setout, sheets = drawn
    rules, floor = setout.plan.rules, setout.rooms[0].floor.tile
    pages = [s for s in sheets if s.title == "Details"]
    assert pages
    words = " ".join(item.text for s in pages for item in s.paper_scene if isinstance(item, Label))
    for part in (f"membrane {rules.membrane:g}", f"floor tile {floor.thickness:g}", f"bed {floor.bed:g}", "backer rod", "tape 120"):
        assert part in words, part
    kinds = {joint.kind for joint in setout.rooms[0].joints}
    assert ("Joint of the structure, bridged" in words) == ("structural" in kinds)
    assert ("Movement joint in the field" in words) == ("intermediate" in kinds)
    assert all(f"1:{scale}" in words for scale in (2, 5))


@pytest.mark.parametrize("foot", ["wall-through", "floor-through", "cove"])
def test_each_foot_of_the_wall_has_its_detail(foot):
    setout = set_out(plan_of({"outline": [[0, 0], [3000, 0], [3000, 2000], [0, 2000]], "tile_height": 2000}, rules={"foot": foot}))
    (page,) = [s for s in draw_sheets(setout, take_off(setout)) if s.title == "Details"]
    texts = [item.text for item in page.paper_scene if isinstance(item, Label)]
    assert f"Wall and floor, {foot}" in texts
    assert any(text.startswith("cove, rise") for text in texts) == (foot == "cove")


def test_start_lines_are_measured_from_the_face_that_is_there_when_they_are_snapped():
    # lines are snapped before wall tile: on the membrane where the wall is tanked, else on the bare wall
    room = {"outline": [[0, 0], [4000, 0], [4000, 3000], [0, 3000]], "tile_height": 2000, "tanking_height": 0}
    dry = [{"wall": wall, "tile_height": 0} for wall in (1, 2, 3, 4)]
    for walls, height, face, tile in (([], 300, "membrane", True), ([], 0, "bare wall", True), (dry, 300, "membrane", False)):
        setout = set_out(plan_of({**room, "tanking_height": height, "walls": walls}))
        floor = setout.rooms[0].floor
        sheet = draw_sheets(setout, take_off(setout))[0]
        texts = {item.text for item in sheet.room if isinstance(item, Label)}
        words = [item.text for item in sheet.paper_scene if isinstance(item, Label)]
        for line in floor.start.lines:
            for offset in line.offsets:
                # the bare offset less the membrane on the wall, worked here from the plan's own thickness
                own = offset.bare - (setout.plan.rules.membrane if face == "membrane" else 0.0)
                told = f"{own:.0f} from {face}"
                of_wall = f"{told} of wall {offset.wall}" if face == "membrane" else f"{told} {offset.wall}"
                assert {told, of_wall} & texts  # far from its wall a figure names it
        blank = words.count("—") - [value for _, value in sheet.block.fields].count("—")
        assert (blank > 0) == (not tile or face == "bare wall")


def test_a_line_across_the_room_is_struck_between_points_on_the_walls():
    tile = {"size": [300, 300], "joint": 4, "pattern": "stack", "turn": 45}
    setout = set_out(plan_of({"outline": [[0, 0], [5000, 0], [5000, 3000], [0, 3000]], "tanking_height": 300}, tiles={"floor": tile}))
    room = setout.rooms[0]
    sheet = draw_sheets(setout, take_off(setout))[0]
    texts = {item.text for item in sheet.room if isinstance(item, Label)}
    thick = setout.plan.rules.membrane
    assert room.floor.start.lines
    for line in room.floor.start.lines:
        # y = ±x + c at 45 degrees: where it meets the membrane faces of walls 1 and 3, by hand
        (xa, ya), (xb, yb) = line.start, line.end
        slope = round((yb - ya) / (xb - xa))
        assert abs(slope) == 1
        for wall, y in ((1, thick), (3, 3000 - thick)):
            x = xa + (y - ya) / slope
            left, right = x - thick, 5000 - thick - x
            other = 4 if left < right else 2
            assert f"{min(left, right):.0f} along wall {wall} from wall {other}" in texts


@pytest.mark.parametrize("paper", ["A4", "A3"])
def test_words_that_do_not_go_beside_the_drawing_go_on_a_further_page(paper):
    outline = [[0, 0], [4000, 0], [4000, 3000], [2000, 3000], [2000, 4000], [0, 4000]]
    pipes = [{"at": [300 + 250 * k, 1500], "diameter": 50} for k in range(12)]
    setout = set_out(plan_of({"outline": outline, "pipes": pipes, "tanking_height": 2000}))
    sheets = draw_sheets(setout, take_off(setout), paper=paper)
    notes = ("Notes to the drawings",) if paper == "A4" else ()
    further = [s for s in sheets if s.title in notes or (s.title.startswith("Floor setting-out") and s.title.endswith("continued"))]
    assert further
    words = [
        item.text
        for sheet in sheets
        if sheet.title.startswith(("Floor setting-out", *notes))
        for item in sheet.paper_scene
        if isinstance(item, Label) and item.layer == "TEXT"
    ]
    other = next(
        (k for k, text in enumerate(words) if text.endswith(", continued") and not text.startswith("Floor setting-out")), len(words)
    )
    words = words[:other]  # on notes to all drawings the floor's come first
    assert {f"pipe {k}, middle" for k in range(1, 13)} <= set(words)
    assert "As measured" in words
    lengths = [f"{wall.run.length:.0f}" for wall in setout.rooms[0].lining.outline.walls]
    assert all(words.count(length) >= lengths.count(length) for length in lengths)
    assert not any(text.startswith("…") for text in words)
    for sheet in sheets:
        x0, y0, x1, y1 = drawing_space(sheet.size)
        for item in sheet.paper_scene:
            if isinstance(item, Label) and item.layer == "TEXT":
                left, low, right, high = label_box(item)
                assert left >= x0, item.text
                assert right <= x1, item.text
                assert low >= y0, item.text
                assert high <= y1, item.text
                assert right <= x1 - 180.0 or low >= y0 + 44.0 - 0.5, item.text  # not under the title block
