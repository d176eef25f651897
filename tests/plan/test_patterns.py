from __future__ import annotations

import numpy as np
import pytest
import shapely

from layout.errors import LayoutError
from layout.plan.patterns import cover_fault, pattern_of
from layout.plan.values import Tile
from layout.readers.planfile import parse_plan


@pytest.mark.parametrize("name", ["stack", "running", "diagonal", "herringbone", "double-herringbone"])
@pytest.mark.parametrize(("size", "joint"), [((200, 200), 6), ((240, 115), 8), ((300, 600), 3)])
def test_a_cell_covers_the_plane_joints_included(name, size, joint):
    pattern = pattern_of(Tile(name="t", size=size, joint=joint, pattern=name, offset=1 / 3))
    # each tile grown by half its joint all round: their areas are the determinant, and they do not overlap
    w, h = size[0] + joint, size[1] + joint
    assert len(pattern.members) * w * h == pytest.approx(pattern.cell_area)
    grown = []
    for i in range(-4, 5):
        for j in range(-4, 5):
            at = i * pattern.vectors[0] + j * pattern.vectors[1]
            grown += [shapely.Polygon(m + at).buffer(joint / 2, join_style="mitre") for m in pattern.members]
    union = shapely.union_all(grown)
    assert union.area == pytest.approx(sum(g.area for g in grown), rel=1e-9)
    middle = shapely.box(-abs(size[0]), -abs(size[0]), abs(size[0]), abs(size[0]))
    assert union.buffer(1e-6).covers(middle)


def test_members_are_the_tile_or_the_tile_turned():
    pattern = pattern_of(Tile(name="t", size=(240, 115), joint=8, pattern="herringbone"))
    assert set(pattern.quarter) == {False, True}
    for member, quarter in zip(pattern.members, pattern.quarter, strict=True):
        assert np.ptp(member, axis=0).tolist() == ([115, 240] if quarter else [240, 115])


OWN = '[tiles.floor]\njoint = {joint}\npattern = "own"\ncell = {{ tiles = {tiles}, vectors = {vectors} }}\n'
ROOM = '[[rooms]]\nname = "A"\noutline = [[0, 0], [3000, 0], [3000, 2000], [0, 2000]]\n'
BIG = "[[0, 0], [200, 0], [200, 200], [0, 200]]"
SMALL = "[[206, 0], [306, 0], [306, 100], [206, 100]]"


def cell(tiles=f"[{BIG}, {SMALL}]", vectors="[[206, 106], [-106, 206]]", joint="6"):
    return OWN.format(tiles=tiles, vectors=vectors, joint=joint) + ROOM


@pytest.mark.parametrize("tile", [
    Tile(name="t", size=(206, 100), joint=6, pattern="basket-weave"),
    Tile(name="t", size=(150, 173.205), joint=5, pattern="hexagon"),
    Tile(name="t", size=(200, 200), joint=6, pattern="two-size"),
    Tile(name="t", size=(300, 300), joint=4, pattern="two-size", small=80),
    Tile(name="t", size=(200, 200), joint=6, pattern="stack"),
    Tile(name="t", size=(240, 115), joint=8, pattern="herringbone"),
])  # fmt: skip
def test_built_in_cells_are_proved_to_cover_the_plane(tile):
    pattern = pattern_of(tile)
    assert cover_fault(pattern, tile.joint) is None
    # cell area equals the determinant; a regular hexagon across flats f has the area f² √3 / 2
    if tile.pattern == "hexagon":
        assert pattern.cell_area == pytest.approx(155**2 * np.sqrt(3) / 2)
        assert pattern.areas[0] == pytest.approx(150**2 * np.sqrt(3) / 2)


def test_a_cell_of_ones_own_with_two_sizes_is_laid():
    from layout.setout.conduct import set_out

    setout = set_out(parse_plan(cell()))
    floor = setout.rooms[0].floor
    assert floor.start.method == "search"
    whole = floor.field.whole
    assert {0, 1} == set(whole[:, 1].tolist())
    area = floor.field.pattern.areas[whole[:, 1]].sum()
    assert area == pytest.approx(shapely.area(floor.field.whole_polygons()).sum())
    assert {cut.tile for cut in setout.cuts} == {"floor 200 × 200", "floor 100 × 100"}


def test_a_cell_of_tiles_with_different_corners_is_laid_and_ordered_by_size():
    """Octagons with dots: eight corners and four in one cell."""
    from layout.quantities.takeoff import take_off
    from layout.setout.conduct import set_out
    from layout.writers.records import setout_record

    p, c, joint = 205.0, 60.0, 5.0
    modules = [
        [(c, 0), (p - c, 0), (p, c), (p, p - c), (p - c, p), (c, p), (0, p - c), (0, c)],
        [(p, -c), (p + c, 0), (p, c), (p - c, 0)],
    ]
    shrunk = [shapely.buffer(shapely.Polygon(m), -joint / 2, join_style="mitre") for m in modules]
    tiles = [np.round(shapely.get_coordinates(s)[:-1], 4).tolist() for s in shrunk]
    setout = set_out(parse_plan(OWN.format(joint=joint, tiles=tiles, vectors=[[p, 0], [0, p]]) + ROOM))
    start, field = setout.rooms[0].floor.start, setout.rooms[0].floor.field
    octagons = shapely.bounds(field.whole_polygons()[field.whole[:, 1] == 0])
    for axis, line in ((1, start.lines[0]), (0, start.lines[1])):  # along flat sides of octagons, or the joint short of them
        apart = octagons[:, axis] - line.start[axis]
        assert min(np.abs(apart).min(), np.abs(apart - joint).min()) < 1e-6
    assert {
        len(piece["outline"]) for piece in setout_record(setout, pieces=True)["rooms"][0]["surfaces"][0]["pieces"] if piece["mark"] is None
    } == {
        8,
        4,
    }
    keys = [item for item in take_off(setout).items if item.key.startswith("tiles.floor")]
    assert [item.size for item in keys] == [(200.0, 200.0), (112.9, 112.9)]
    assert sum(item.quantity for item in keys) == len(field.whole) + field.places_cut()


def test_two_sizes_are_bought_apart():
    from layout.quantities.takeoff import take_off
    from layout.setout.conduct import set_out

    takeoff = take_off(set_out(parse_plan('[tiles.floor]\njoint = 6\npattern = "two-size"\n' + ROOM)))
    large, small = takeoff.item("tiles.floor.200x200"), takeoff.item("tiles.floor.97x97")
    assert large is not None
    assert small is not None
    # one of each in every cell, so the counts differ by edges only
    assert abs(large.quantity - small.quantity) < 0.15 * large.quantity
    assert takeoff.item("tiles.floor") is None


@pytest.mark.parametrize(("text", "words"), [
    (cell(tiles=f"[{BIG}]"), "uncovered"),
    (cell(tiles=f"[{BIG}, [[150, 0], [250, 0], [250, 100], [150, 100]]]"), "overlaps a neighbour"),
    (cell(vectors="[[0, 0], [-106, 206]]"), "has no length"),
    (cell(vectors="[[206, 106], [412, 212]]"), "run the same way"),
    (cell(tiles="[[[0, 0], [200, 0], [100, 50], [200, 200]]]"), "not convex"),
    (cell(joint="9"), "joints included"),
    ("[tiles.floor]\nsize = [240, 115]\njoint = 8\npattern = \"basket-weave\"\n" + ROOM, "a joint of 10.0 would close it"),
    ("[tiles.floor]\nsize = [150, 150]\npattern = \"hexagon\"\n" + ROOM, "173.2 across corners"),
    ("[tiles.floor]\npattern = \"two-size\"\nsize = [200, 100]\n" + ROOM, "is not square"),
    ("[tiles.floor]\npattern = \"two-size\"\nsmall = 200\n" + ROOM, "give less than 200"),
    ("[tiles.floor]\nsmall = 97\n" + ROOM, "goes with pattern"),
    ("[tiles.floor]\npattern = \"own\"\n" + ROOM, "give both or neither"),
    ("[tiles.floor]\noffset = 1.5\npattern = \"running\"\n" + ROOM, "to 1"),
])  # fmt: skip
def test_a_cell_that_does_not_cover_is_told_where(text, words):
    with pytest.raises(LayoutError) as caught:
        parse_plan(text, "plan.toml")
    assert words in str(caught.value)
    assert "tiles.floor" in str(caught.value)
