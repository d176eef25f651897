"""The saw list as a person counts it: every tile once on a card, in a line, or among those that no saw takes anything off."""

from __future__ import annotations

import re

import pytest
import shapely

from layout.quantities.cutting import plan_cuts
from layout.setout.conduct import set_out
from layout.sheets import saw_sheet
from layout.sheets.paper import SIZES
from layout.sheets.scene import Label, Stroke
from tests.examples import TOP, example
from tests.quantities.test_shared_tiles import SKEW, TILES
from tests.rooms import plan_of

NARROW = {"outline": [[0, 0], [2462, 0], [2462, 1648], [0, 1648]]}
"""Twelve by eight whole tiles of 200 with joints of 4, and 10 at each wall, but 2 mm short: the last column loses 2 mm."""


def setout_of(name):
    if name == "bites":
        return set_out(plan_of(NARROW, tiles={"floor": {"size": [200, 200], "joint": 4, "start": [10, 10]}}))
    if name in TILES:
        return set_out(plan_of(SKEW, tiles={"floor": TILES[name]}))
    return example(TOP / "plans" / f"{name}.toml")


def counted(pages):
    """Tiles told by cards (figures 5 mm high), by boxes in lines, and in sentences."""
    labels = [item for page in pages for item in page if isinstance(item, Label)]
    cards = sum(int(each.text.split()[0]) for each in labels if each.height == 5.0 and each.text.endswith("×"))
    lines = sum(len(each.text) for each in labels if set(each.text) == {"□"})
    text = " ".join(each.text for each in labels)
    bites = sum(int(found) for found in re.findall(r"Not sawn: (\d+) tiles", text))
    return cards, lines, bites


@pytest.mark.parametrize("name", ["kitchen", "herringbone", "running", "bites"])
def test_every_tile_is_told_once(name):
    plan = plan_cuts(setout_of(name))
    cards, lines, bites = counted(saw_sheet.pages(plan, SIZES["A3"]))
    assert cards + lines + bites == sum(len(batch.tiles) for batch in plan.batches)
    if name == "bites":
        assert (cards, lines, bites) == (0, 0, 8)


def test_no_card_shows_a_tile_from_which_no_saw_takes_anything():
    """What a tile loses has an outline; of its points, each millimetre one, the furthest from the piece tells how deep a saw would go."""
    for name in ("bites", "kitchen", "herringbone"):
        plan = plan_cuts(setout_of(name))
        thin = 0
        for batch in plan.batches:
            full = shapely.box(0.0, 0.0, *batch.size)
            for piece in (own.pieces[0].outline for own in batch.tiles if len(own.pieces) == 1):
                lost = shapely.points(shapely.get_coordinates(shapely.segmentize(full.difference(piece), 1.0)))
                thin += bool(shapely.distance(lost, piece).max(initial=0.0) <= 3.0)
        assert counted(saw_sheet.pages(plan, SIZES["A3"]))[2] == thin, name


def test_marks_stand_in_every_piece_that_holds_letters_of_two_and_a_half():
    """The figures of a card may be read without the drawing, but which piece is which may not."""
    plan = plan_cuts(setout_of("herringbone"))
    pages = saw_sheet.pages(plan, SIZES["A3"])
    named = [
        shapely.Point(item.at) for page in pages for item in page if isinstance(item, Label) and item.bold and item.text[:1] in {"C", "T"}
    ]
    rings = [
        shapely.Polygon(item.points)
        for page in pages
        for item in page
        if isinstance(item, Stroke) and item.layer == "TITLE" and item.closed
    ]
    pieces = [ring for ring in rings if ring.area < 26.0 * 13.0 - 0.1]  # the tile itself is drawn too, 26 mm long
    large = [ring for ring in pieces if not ring.buffer(-6.0).is_empty]  # a circle of 12 mm holds four letters of 2.5
    assert len(large) > 20
    assert all(any(ring.covers(at) for at in named) for ring in large)


def test_a_hole_is_sawn_however_near_its_outline_is_to_the_piece():
    plan = plan_cuts(setout_of("canteen"))
    holed = [(own, batch.size) for batch in plan.batches for own in batch.tiles if any(each.outline.interiors for each in own.pieces)]
    assert holed
    assert not any(saw_sheet.is_bite(own, size, 3.0) for own, size in holed)
