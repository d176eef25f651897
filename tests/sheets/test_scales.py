"""Drawings at the largest scale that their paper takes: found again from the bounds of what is drawn."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import shapely

from layout.quantities.takeoff import take_off
from layout.readers.planfile import read_plan
from layout.setout.conduct import set_out
from layout.sheets.draft import Job, in_plan, room_job
from layout.sheets.elevation_pages import pages
from layout.sheets.paper import SIZES, drawing_window
from layout.sheets.scale_bar import scale_bar
from layout.sheets.scene import Fill, Label, Stroke, Symbol, View
from layout.sheets.spots import Spot
from tests.rooms import plan_of

TOP = Path(__file__).parent.parent.parent
AROUND = 22.0 + 16.0, 26.0 + 12.0
"""What stands left and right of a face, under and over it, paper mm: courses, heights, dimensions, its name."""


def reach(setout, page):
    """Width and height of what stands on a page of faces, room mm."""
    corners = [
        placed.out(np.array([[x, y] for x in box[::2] for y in box[1::2]]))
        for placed in page.faces
        for box in [setout.rooms[0].surfaces[placed.number].surface.gross.bounds]
    ]
    return np.ptp(np.concatenate(corners), axis=0)


def test_faces_that_hardly_fill_their_page_stand_at_the_largest_scale_that_it_takes():
    setout = set_out(read_plan(TOP / "plans" / "canteen.toml"))
    made = pages(setout, 0, None, None)
    assert len(made) > 2
    lone = made[-1]  # the plinth
    x0, y0, x1, y1 = drawing_window(SIZES[lone.paper])
    wide, tall = reach(setout, lone)
    assert wide / lone.scale + AROUND[0] <= x1 - x0
    assert tall / lone.scale + AROUND[1] <= y1 - y0
    assert lone.scale < 20.0
    assert wide / 10.0 + AROUND[0] > x1 - x0  # the next larger scale does not go
    # a scale that was asked for stays
    assert {page.scale for page in pages(setout, 0, None, 25.0)} == {25.0}
    # all faces stand on one page each, wherever they moved
    told = [number for page in made for placed in page.faces for number in placed.stands_for]
    assert len(told) == len(set(told))


@pytest.mark.parametrize(("fits", "scale"), [(True, 15.0), (False, 20.0)])
def test_a_sheet_with_few_figures_is_drawn_larger_if_all_its_words_find_a_place_there(fits, scale):
    setout = set_out(plan_of({"outline": [[0, 0], [5200, 0], [5200, 3600], [0, 3600]]}))
    own = room_job(setout, 0, None, None)
    assert (own.paper, own.scale) == ("A2", 20.0)

    def draw(view, placer, _column):
        if not fits and view.scale < 20.0:
            placer.block(placer.bounds)
        placer.place("needed", 3.5, "TEXT", [Spot(view.at)], needed=True)
        return ()

    (draft,) = in_plan(Job(setout, take_off(setout), (own,)), "cuts", "Cuts", draw, around=16.0)
    assert draft.view is not None
    assert draft.view.scale == scale
    assert not draft.missing


def test_the_scale_bar_goes_to_a_corner_that_the_drawing_leaves_free():
    view = View((0.0, 0.0), (122.5, 150.0), 25.0, (205.0, 260.0))
    below = view.to_room(np.array([[25.0, 21.0], [100.0, 24.0]]))
    left, right = [25.0, 24.0], [215.0, 24.0]

    def ends(drawn, words=()):
        bar = scale_bar(view, SIZES["A3"], drawn, words)
        figures = [item for item in bar if isinstance(item, Label)]
        return figures[0].at, figures[-1].at, len(figures)

    start, end, count = ends([])
    assert (start[0], count) == (26.0, 5)
    assert start[1] < 30.0
    label = Label("here", (float(below[0, 0]), float(below[0, 1])), 2.5, "TEXT")
    for struck in (Stroke(below, "DIMENSION"), label, Symbol("test", label.at, 6.0, "TEXT")):
        moved, _, _ = ends([struck])
        assert moved[0] > start[0] + 30.0
        assert moved[1] == start[1]
    wide = Stroke(view.to_room(np.array([left, right])), "DIMENSION")
    moved, end, count = ends([wide])
    assert moved[1] > 250.0
    assert end[0] < 225.0
    # beside the heading, not on it; a short bar where nothing else goes, and below where that does not go either
    heading = Label("a heading as long as the half of the sheet", (25.0, 278.5), 5.0, "TEXT", bold=True)
    again, _, _ = ends([wide], [heading])
    assert again != moved
    ring = np.array([left, [214.0, 24.0], [214.0, 240.0], [25.0, 240.0]])
    assert ends([Fill(shapely.Polygon(view.to_room(ring)), "WALL", 1.0), Stroke(view.to_room(ring), "WALL", closed=True)])[2] in (3, 5)
    every = Stroke(view.to_room(np.array([[20.0, 10.0], [410.0, 10.0], [410.0, 287.0], [20.0, 287.0]])), "WALL", closed=True)
    assert ends([every])[0] == start
