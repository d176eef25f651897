"""The picture of what was found: storeys apart, names within their rooms or at leaders, what has no place in the list."""

import numpy as np
import pytest
from shapely import box

from layout.sheets.found_sheet import found_sheet
from layout.sheets.scene import Fill, Label
from layout.sheets.spots import label_box
from layout.survey.found import Found, FoundRoom


def room(name, x, y, wide, deep, **more):
    return FoundRoom(name, np.array([[x, y], [x + wide, y], [x + wide, y + deep], [x, y + deep]], dtype=float), **more)


def sheet_of(*rooms, doubtful=()):
    return found_sheet(Found("demo.ifc", rooms, "mm", "it says so", doubtful=doubtful))


def words(sheet):
    return {each.text: each for each in sheet.room if isinstance(each, Label)}


def floors(sheet):
    return [each.polygon for each in sheet.room if isinstance(each, Fill)]


@pytest.fixture(scope="module")
def two_storeys():
    return sheet_of(
        room("Kitchen", 0, 0, 6000, 4000, storey="Level 1", doors=(np.array([[1000.0, 0.0], [2000.0, 0.0]]),)),
        room("Office", 0, 0, 6000, 4000, storey="Level 2", pipes=(((500.0, 500.0), 110.0),), gullies=((3000.0, 2000.0),)),
        room("Attic", 1000, 0, 4000, 4000, holes=(np.array([[2000.0, 500], [2400, 500], [2400, 900], [2000, 900]]),)),
    )


def test_storeys_stand_apart_under_their_names(two_storeys):
    told = words(two_storeys)
    assert {"Level 1", "Level 2", "no storey", "Kitchen", "Office", "Attic"} <= set(told)
    shapes = floors(two_storeys)
    large = [shape for shape in shapes if shape.area > 10e6]
    assert [round(shape.envelope.area / 1e6) for shape in large] == [24, 24, 16]
    assert not any(a.intersects(b) for k, a in enumerate(large) for b in large[:k])
    # each name, told in the axes of the drawing, stands within its own storey's room
    for name, shape in zip(("Kitchen", "Office", "Attic"), large, strict=True):
        assert shape.contains(box(*label_box(told[name], two_storeys.view.scale))), name


def test_names_at_leaders_stay_on_their_own_storey():
    # three storeys, each a hall with closets along the side that faces the next: their names are far wider than they are
    def storey(number):
        closets = (room(f"Closet {k} of the long corridor {number}", 10_000, 700 * k, 600, 650, storey=f"{number}") for k in range(12))
        return (room(f"Hall {number}", 0, 0, 9_800, 8_400, storey=f"{number}"), *closets)

    sheet = sheet_of(*storey(1), *storey(2), *storey(3))
    told = words(sheet)
    halls = [shape.bounds for shape in floors(sheet) if shape.area > 50e6]  # as the storeys come
    around = [box(x0, y0, x1 + 800, y1).buffer(1_000) for x0, y0, x1, y1 in halls]
    assert [len(around), sum(one.intersects(two) for one in around for two in around)] == [3, 3]
    closets = {text: box(*label_box(label, sheet.view.scale)) for text, label in told.items() if text.startswith("Closet")}
    assert len(closets) > 20
    off = [text for text, shape in closets.items() if not any(floor.contains(shape) for floor in floors(sheet))]
    assert len(off) > 8
    on_another = [
        text for text in off for k, place in enumerate(around) if f"corridor {k + 1}" not in text and closets[text].intersects(place)
    ]
    assert on_another == []


def test_a_name_too_wide_for_its_room_is_at_a_leader_with_its_area():
    shafts = tuple(room(f"Room {k}", 1000 * k, 21_000, 600, 600, confidence=0.2, evidence=("no door",)) for k in range(10))
    sheet = sheet_of(room("Hall", 0, 0, 30_000, 20_000), room("Cleaner's cupboard", 30_200, 0, 900, 2000), doubtful=shafts)
    told = words(sheet)
    rows = [each.text for each in sheet.paper_scene if isinstance(each, Label) and each.text.startswith("look")]
    assert rows[0] == "look 1  left out, 0.36 m²: no door"
    assert [len(rows), rows[-1]] == [8, "look 8  and 3 more"]
    assert {"look 1", "look 8", "look 10"} <= set(told)
    assert {"Hall", "600.00 m²", "Cleaner's cupboard · 1.80 m²"} <= set(told)
    assert "1.80 m²" not in told


def test_names_without_a_place_are_listed():
    rooms = [room(f"Room of the long name number {k}", 400 * (k % 14), 400 * (k // 14), 380, 380) for k in range(140)]
    sheet = sheet_of(*rooms)
    listed = " ".join(each.text for each in sheet.paper_scene if isinstance(each, Label) and each.height == 2.5)
    assert "No room in the drawing for" in listed
    drawn = set(words(sheet))
    missing = [each for each in rooms if not any(text.startswith(f"{each.name} ·") for text in drawn)]
    assert 0 < len(missing) < 140
    assert f"{missing[0].name} ·" in listed
