"""Key plans of storeys: rooms where the plan has them, and the sheets that show each, found again in the files."""

from __future__ import annotations

import dataclasses
import math
import re

import numpy as np
import pytest
import shapely

import layout
from layout.errors import OutputError
from layout.sheets.scene import Fill, Label
from layout.writers.dxf import save_dxf
from tests.sheets.test_labels import glyph_box

PLAN = """
[[rooms]]
name = "Kitchen"
storey = "Ground"
at = [1000, 500]
outline = [[0, 0], [3000, 0], [3000, 2600], [0, 2600]]
[[rooms]]
name = "Riser"
storey = "Ground"
at = [4200, 500]
outline = [[0, 0], [60, 0], [60, 900], [0, 900]]
[[rooms]]
name = "Wash bay"
storey = "Level 1"
at = [4000, 500]
turn = 90
outline = [[0, 0], [2600, 0], [2600, 1800], [1300, 1800], [1300, 2400], [0, 2400]]
[[rooms]]
name = "Store"
at = [0, 0]
outline = [[0, 0], [1500, 0], [1500, 1500], [0, 1500]]
"""
NAMES = ("Kitchen", "Riser", "Wash bay", "Store")
TITLES = ("Key plan, Ground", "Key plan, Level 1", "Key plan, no storey given")


@pytest.fixture(scope="module")
def sheets():
    setout = layout.set_out(layout.parse_plan(PLAN))
    return layout.draw_sheets(setout, layout.take_off(setout))


def texts(sheet):
    return [item.text for item in sheet.paper_scene if isinstance(item, Label)]


def test_there_is_one_key_plan_for_each_storey_with_its_rooms_only(sheets):
    plans = sheets[:3]
    assert tuple(sheet.title for sheet in plans) == TITLES
    assert not any(sheet.title.startswith("Key plan") for sheet in sheets[3:])
    wanted = (("1 Kitchen", "2 Riser"), ("3 Wash bay",), ("4 Store",))
    for sheet, rows in zip(plans, wanted, strict=True):
        listed = [text for text in texts(sheet) if re.fullmatch(r"\d [A-Z].*", text)]
        assert set(listed) == set(rows)
        assert sheet.needed
        assert not sheet.missing
    assert len({dict(sheet.block.fields)["Scale"] for sheet in plans}) == 1


def test_rooms_lie_as_the_plan_places_them(sheets):
    plan = layout.parse_plan(PLAN)
    scale = float(dict(sheets[0].block.fields)["Scale"].removeprefix("1:"))
    drawn = [item.polygon for sheet in sheets[:3] for item in sheet.paper_scene if isinstance(item, Fill) and item.layer == "TONE"]
    assert len(drawn) == 4
    placed = []
    for room in plan.rooms:
        turn = math.radians(room.turn)
        corners = np.array([corner.to for corner in room.outline])
        spun = corners @ np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
        placed.append(shapely.Polygon((spun + np.array(room.at)) / scale))
    for own, there in zip(drawn, placed, strict=True):
        assert own.area == pytest.approx(there.area)
    # the two of one storey stand as far from each other as on site, and the same way
    between = np.array(drawn[1].centroid.coords[0]) - np.array(drawn[0].centroid.coords[0])
    assert between == pytest.approx(np.array(placed[1].centroid.coords[0]) - np.array(placed[0].centroid.coords[0]))
    assert np.ptp(np.array(drawn[2].exterior.coords), axis=0) == pytest.approx(np.ptp(np.array(placed[2].exterior.coords), axis=0))


def listed_for(sheets, number):
    """Numbers of the sheets that a key plan lists for a room: the row of its table, right of its area."""
    for sheet in sheets[:3]:
        labels = [item for item in sheet.paper_scene if isinstance(item, Label)]
        for row in labels:
            if re.fullmatch(rf"{number} [A-Z].*", row.text) and row.height == 2.5 and row.across == "left":
                level = sorted((item.at[0], item.text) for item in labels if item.at[1] == row.at[1] and item.height == 2.5)
                return {
                    k
                    for part in level[-1][1].split(", ")
                    for first, _, last in [part.partition("–")]
                    for k in range(int(first), int(last or first) + 1)
                }
    return set()


def test_the_sheets_listed_for_a_room_are_those_that_show_it(sheets):
    for number, name in enumerate(NAMES, 1):
        own = {
            k
            for k, sheet in enumerate(sheets, 1)
            if sheet.room_name == name or any(text == f"{number} {name}" for text in texts(sheet) if sheet.view is not None)
        }
        assert len(own) >= 3
        listed = listed_for(sheets, number)
        assert own <= listed
        # what else is listed is of this room and others together
        assert all(sheets[k - 1].room_name not in (*NAMES, "all rooms") for k in listed - own)


def test_words_inside_rooms_stand_inside_and_the_riser_is_named_beside(sheets):
    areas = [item.polygon for item in sheets[0].paper_scene if isinstance(item, Fill) and item.layer == "TONE"]
    labels = [item for item in sheets[0].paper_scene if isinstance(item, Label) and item.across == "centre"]
    inside = {item.text for item in labels if glyph_box(item).within(areas[0])}
    assert {"1", "Kitchen"} < inside
    assert any(text.startswith("sheets ") for text in inside)
    riser = next(item for item in labels if item.text == "2 Riser")
    assert not any(glyph_box(riser).intersects(area) for area in areas)


def test_the_words_are_text_in_pdf_and_dxf_and_the_gate_sees_them(sheets, tmp_path):
    from ezdxf.filemanagement import readfile
    from pypdf import PdfReader

    plans = sheets[:3]
    layout.write_pdf(plans, tmp_path / "key.pdf")
    pages = [page.extract_text() for page in PdfReader(tmp_path / "key.pdf").pages]
    save_dxf(plans, tmp_path / "key.dxf")
    doc = readfile(tmp_path / "key.dxf")
    assert len(pages) == 3
    for sheet, page in zip(plans, pages, strict=True):
        written = {item.dxf.text for item in doc.layout(sheet.name).query("TEXT")}
        assert set(sheet.needed) <= written
        assert all(text in page for text in sheet.needed)
    lacking = dataclasses.replace(plans[0], needed=(*plans[0].needed, "9 Cellar"))
    for write, path in ((layout.write_pdf, "no.pdf"), (layout.write_dxf, "no.dxf")):
        with pytest.raises(OutputError, match="'9 Cellar' is not on it"):
            write((lacking,), tmp_path / path)


def test_rooms_that_the_plan_does_not_place_stand_side_by_side_and_a_note_says_so():
    rooms = re.sub(r"(at|turn) = .*\n", "", PLAN)
    rooms = rooms.replace('storey = "Level 1"', 'storey = "Ground"').replace('name = "Store"', 'name = "Store"\nstorey = "Ground"')
    setout = layout.set_out(layout.parse_plan(rooms))
    (first, *_) = layout.draw_sheets(setout, layout.take_off(setout), paper="A4")
    assert first.title == "Key plan"
    assert "The plan does not place these rooms: they stand side by side." in texts(first)
    areas = [item.polygon for item in first.paper_scene if isinstance(item, Fill) and item.layer == "TONE"]
    assert len(areas) == 4
    assert all(a.disjoint(b) for k, a in enumerate(areas) for b in areas[:k])
