"""Windows: a floor that is too crowded for its sheet is whole on it, and crowded pieces are drawn larger until every label stands."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from layout.quantities.takeoff import take_off
from layout.setout.conduct import set_out
from layout.sheets.draft import Job, in_plan, room_job
from layout.sheets.scene import Label
from layout.sheets.spots import leader_spots
from layout.sheets.windows import windows_over
from tests.rooms import plan_of
from tests.sheets.test_labels import glyph_box


@pytest.fixture(scope="module")
def job():
    setout = set_out(plan_of({"outline": [[0, 0], [3000, 0], [3000, 2500], [0, 2500]]}))
    return Job(setout, take_off(setout), (room_job(setout, 0, None, None),))


def crowd(count, seed=5):
    """A draw that asks for so many labels on half a square metre, and a few in the open."""
    rng = np.random.default_rng(seed)
    feet = {f"N{k}": at for k, at in enumerate(rng.uniform((800, 700), (1500, 1400), (count, 2)))}
    feet |= {f"F{k}": np.array((300.0 + 500.0 * k, 2200.0)) for k in range(4)}

    def draw(view, placer, column):  # noqa: ARG001
        for name, at in feet.items():
            foot = view.to_paper(at[None])[0]
            placer.place(name, 5.0, "MARK", leader_spots((float(foot[0]), float(foot[1]))), bold=True, needed=True, foot=foot)
        return ()

    return feet, draw


def test_every_label_of_a_crowd_stands_on_some_sheet_near_what_it_names(job):
    feet, draw = crowd(160)
    sheets = list(in_plan(job, "crowd", "Crowd", draw))
    assert len(sheets) > 1
    assert not any(sheet.missing for sheet in sheets)
    assert len({sheet.key for sheet in sheets}) == len(sheets)
    assert {sheet.view.scale for sheet in sheets[1:] if sheet.view} <= {2.0, 5.0, 10.0}
    stands = set()
    for sheet in sheets:
        assert sheet.view is not None
        labels = [item for item in sheet.scene if isinstance(item, Label)]
        papers = [sheet.view.to_paper(np.array([label.at]))[0] for label in labels]
        boxes = [
            glyph_box(Label(each.text, (float(at[0]), float(at[1])), each.height, each.layer, each.across, each.upward, bold=each.bold))
            for each, at in zip(labels, papers, strict=True)
        ]
        tree = shapely.STRtree(boxes)
        one, two = tree.query(boxes, predicate="intersects")
        assert all(boxes[a].intersection(boxes[b]).area < 0.05 for a, b in zip(one, two, strict=True) if a < b)
        for label, at in zip(labels, papers, strict=True):
            if label.text in feet:
                assert np.hypot(*(at - sheet.view.to_paper(feet[label.text][None])[0])) < 90.0
                stands.add(label.text)
    assert stands == set(feet)
    # the whole floor names its windows, and each window is a sheet
    named = {label.text.split(":")[0] for label in sheets[0].scene if isinstance(label, Label) and label.text.startswith("window")}
    assert named
    assert named <= {sheet.title.split(", ")[1] for sheet in sheets[1:]}


def test_the_same_crowd_gives_the_same_sheets(job):
    _, draw = crowd(60)
    first, second = ([(s.key, s.needed) for s in in_plan(job, "crowd", "Crowd", draw)] for _ in range(2))
    assert len(first) > 1
    assert first == second


def test_windows_cover_what_is_crowded_with_room_to_their_edge():
    rng = np.random.default_rng(2)
    places = [tuple(at) for at in rng.uniform((0, 0), (20_000, 14_000), (90, 2)).tolist()]
    windows = windows_over(places, (594.0, 420.0), 20.0, 0)
    for x, y in places:
        assert any(shapely.Polygon(window.ring()).covers(shapely.Point(x, y)) and window.shows((x, y)) for window in windows)
    # no more than a grid of windows each the size of its clear paper would take, and one more a row
    wide, tall = (594 - 30 - 185 - 30) * 20, (420 - 20 - 30) * 20
    assert len(windows) <= (np.ceil(20_000 / wide) + 1) * (np.ceil(14_000 / tall) + 1)
