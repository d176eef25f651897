"""Small rooms on shared sheets: nothing that a room's own sheets say is lost, nothing lies over anything else."""

from __future__ import annotations

from collections import Counter

import pytest

from layout.quantities.takeoff import take_off
from layout.readers.planfile import parse_plan
from layout.setout.conduct import set_out
from layout.sheets.cover_sheet import cover
from layout.sheets.draw import draw_sheets
from layout.sheets.scene import Label
from tests.sheets.test_labels import faults_of, glyph_box


def room_text(k):
    wide, tall = 1500 + 150 * k, 1200 + 100 * k
    return f"""
[[rooms]]
name = "Closet {k}"
at = [{(k % 2) * 3000}, {(k // 2) * 2600}]
outline = [[0, 0], [{wide}, 0], [{wide}, {tall}], [0, {tall}]]
tanking_height = 300
openings = [{{ wall = 1, offset = 300, width = 800 }}]
drains = [{{ kind = "gully", at = [{wide / 2}, {tall / 2}] }}]
"""


@pytest.fixture(scope="module")
def shared():
    setout = set_out(parse_plan("".join(room_text(k) for k in range(4))))
    return setout, draw_sheets(setout, take_off(setout))


def test_four_closets_share_their_sheets(shared):
    setout, sheets = shared
    plans = [sheet for sheet in sheets if sheet.title == "Floor setting-out"]
    assert len(plans) < len(setout.rooms)
    assert len({sheet.size for sheet in sheets}) == 1
    assert not faults_of(sheets)
    named = [item.text for sheet in plans for item in sheet.paper_scene if isinstance(item, Label) and item.height == 5.0]
    assert {f"{k} Closet {k - 1}" for k in range(1, 5)} <= set(named)


def test_shared_sheets_need_what_each_room_needs_alone(shared):
    _, sheets = shared
    alone: Counter[str] = Counter()
    for k in range(4):
        setout = set_out(parse_plan(room_text(k)))
        alone.update(
            text
            for sheet in draw_sheets(setout, take_off(setout), scale=20.0)  # alone a closet is drawn larger, with longer words
            if sheet.title in ("Floor setting-out", "Membrane and tape", "Movement joints and sealant")
            for text in sheet.needed
        )
    together = Counter(
        text
        for sheet in sheets
        if sheet.title in ("Floor setting-out", "Membrane and tape", "Movement joints and sealant")
        for text in sheet.needed
    )
    assert together == alone


def test_each_room_has_its_own_table_and_the_cautions_stand_once(shared):
    _, sheets = shared
    words = [
        item.text
        for sheet in sheets
        if sheet.title.startswith("Floor setting-out")
        for item in sheet.paper_scene
        if isinstance(item, Label)
    ]
    assert words.count("Start lines: snap these first") == 4
    pages = sum(sheet.title == "Floor setting-out" for sheet in sheets)
    assert 1 <= words.count("No resin, solvent or slurry down a gully.") <= pages


def test_numbers_on_the_key_plan_stand_apart_where_rooms_are_narrow():
    rooms = (
        "".join(
            f'[[rooms]]\nname = "Shaft {k}"\nat = [{k * 420}, 0]\noutline = [[0, 0], [400, 0], [400, 1400], [0, 1400]]\n' for k in range(12)
        )
        + '[[rooms]]\nname = "Hall"\nat = [0, 2000]\noutline = [[0, 0], [9000, 0], [9000, 9000], [0, 9000]]\n'
    )
    drawn, _ = cover(set_out(parse_plan(rooms)), (420.0, 297.0), {}, None)
    numbers = [item for item in drawn.scene if isinstance(item, Label) and item.text.split(" ")[0].isdigit()]
    assert len(numbers) == 13
    assert not drawn.missing
    assert {item.text.split(" ")[0] for item in numbers} == {f"{k}" for k in range(1, 14)}
    boxes = [glyph_box(item) for item in numbers]
    assert all(a.intersection(b).area < 0.01 for k, a in enumerate(boxes) for b in boxes[:k])
