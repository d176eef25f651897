"""Drawings at the largest scale that their paper takes: found again from the bounds of what is drawn."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from layout.quantities.takeoff import take_off
from layout.readers.planfile import read_plan
from layout.setout.conduct import set_out
from layout.sheets.draft import Job, in_plan, room_job
from layout.sheets.elevation_pages import pages
from layout.sheets.paper import SIZES, drawing_window
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
