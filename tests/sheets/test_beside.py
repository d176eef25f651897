"""Words that stand beside what they name: off the first whole tile, and with a leader where they stand off their line or their face."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely

from layout.quantities.takeoff import take_off
from layout.readers.planfile import read_plan
from layout.setout.conduct import set_out
from layout.sheets import start_sheet, unfold_sheet
from layout.sheets.draft import Job, room_job
from layout.sheets.layers import LAYERS
from layout.sheets.scene import Fill, Label, Stroke
from layout.sheets.tape_sheet import LAYER_OF
from tests.rooms import plan_of
from tests.sheets.test_labels import glyph_box

TOP = Path(__file__).parent.parent.parent
NARROW = {
    "outline": [[0, 0], [4200, 0], [4200, 3000], [0, 3000]],
    "tanking_height": 320,
    "columns": [{"outline": [[x, 0], [x + 250, 0], [x + 250, 360], [x, 360]]} for x in (700, 1900, 3100)],
}


def on_paper(draft):
    """Labels of a draft with their letters' boxes, leaders and dots, first tiles; paper mm."""
    view = draft.view
    words: list[Any] = []
    dots: list[Any] = []
    tiles: list[Any] = []
    for item in draft.scene:
        if isinstance(item, Label):
            at = view.to_paper(np.array([item.at]))[0]
            words.append(
                (
                    item,
                    glyph_box(Label(item.text, tuple(at), item.height, item.layer, item.across, item.upward, item.angle, bold=item.bold)),
                )
            )
        elif isinstance(item, Fill):
            ring = shapely.Polygon(view.to_paper(shapely.get_coordinates(item.polygon)))
            (tiles if item.layer == "FIRST-TILE" else dots).append(ring)
    return words, [ring for ring in dots if ring.area < 1.0], tiles


@pytest.fixture(scope="module", params=["tests/data/plans/shower.toml", "plans/washbay.toml"])
def start(request):
    setout = set_out(read_plan(TOP / request.param))
    job = Job(setout, take_off(setout), (room_job(setout, 0, None, None),))
    return setout.rooms[0], next(iter(start_sheet.drafts(job)))


def test_no_words_stand_on_the_first_whole_tile(start):
    words, _, tiles = on_paper(start[1])
    assert tiles
    assert words
    assert not [(label.text, tile.bounds) for label, box in words for tile in tiles if box.intersection(tile).area > 0.05]


def test_a_figure_that_stands_off_its_line_has_a_leader_to_it(start):
    room, draft = start
    words, dots, _ = on_paper(draft)
    lines = shapely.MultiLineString([draft.view.to_paper(np.array([line.start, line.end])) for line in room.floor.start.lines])
    figures = [(label, box) for label, box in words if label.layer == "START-LINE" and label.text[0].isdigit()]
    assert len(figures) >= 4
    leaders = [item for item in draft.scene if isinstance(item, Stroke) and item.layer == "DIMENSION" and len(item.points) == 2]
    ends = [draft.view.to_paper(item.points) for item in leaders]
    for label, box in figures:
        if box.distance(lines) > 7.0:
            led = [end for end in ends if shapely.LineString(end).distance(box) < 1.5 and lines.distance(shapely.Point(end[0])) < 0.5]
            assert led, label.text
            assert any(shapely.Point(led[0][0]).distance(dot) < 0.5 for dot in dots)


def test_the_name_of_a_run_off_its_narrow_face_has_a_leader_to_the_run():
    setout = set_out(plan_of(NARROW))
    (draft,) = unfold_sheet.drafts(Job(setout, take_off(setout), (room_job(setout, 0, "A2", 40.0),), "A2", 40.0))
    assert draft.view is not None
    words, dots, _ = on_paper(draft)
    tapes = [item for item in draft.scene if isinstance(item, Stroke) and item.layer in LAYER_OF.values()]
    runs = shapely.MultiLineString([draft.view.to_paper(item.points) for item in tapes])
    names = [(label, box) for label, box in words if label.layer in LAYER_OF.values() and " up " not in label.text]
    away = [(label, box) for label, box in names if box.distance(runs) > 3.0]
    assert len(away) >= 2  # the narrow sides, whose middle the upright runs have
    leaders = [
        shapely.LineString(draft.view.to_paper(item.points))
        for item in draft.scene
        if isinstance(item, Stroke) and item.layer == "DIMENSION"
    ]
    for label, box in away:
        assert any(line.distance(box) < 1.5 and line.distance(runs) < 0.1 for line in leaders), label.text
    assert len(dots) >= len(away)
    assert LAYERS["DIMENSION"].dash == ()
