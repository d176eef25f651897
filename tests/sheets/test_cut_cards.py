"""Cards of cuts: as laid, told apart, every notch, hole and arc found again from its figures."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest
import shapely
from shapely.affinity import translate

from layout.quantities.takeoff import take_off
from layout.setout.conduct import set_out
from layout.sheets import elevation_sheet, template_sheet, unfold_sheet
from layout.sheets.column import Column
from layout.sheets.cut_by import CutBy
from layout.sheets.cut_cards import _short, card
from layout.sheets.cut_frames import frames
from layout.sheets.cut_places import LaidCut, laid_cuts, unplaced
from layout.sheets.cut_rows import beforehand, in_rows_only, own_box
from layout.sheets.cut_runs import room_runs
from layout.sheets.draft import Job, room_job
from layout.sheets.elevation_pages import pages
from layout.sheets.lettering import text_width
from layout.sheets.paper import SIZES, drawing_window
from layout.sheets.saw_lines import Side, circle_through, figures
from layout.sheets.scene import Dimension, Fill, Label, Stroke, exploded
from layout.tiles.pieces import Cut
from tests.examples import TOP, example
from tests.rooms import plan_of

ROOM = {
    "outline": [[0, 0], [2110, 0], [2110, 1730], [0, 1730]],
    "columns": [{"outline": [[903, 655], [1217, 655], [1217, 941], [903, 941]]}],
    "pipes": [{"at": [1610, 1290], "diameter": 70}],
    "openings": [{"wall": 1, "offset": 300, "width": 800, "head": 2100}],
}


@pytest.fixture(scope="module")
def floor():
    setout = set_out(plan_of(ROOM))
    return setout, laid_cuts(setout, 0, [0])


def circle(x, y, radius, n=64):
    turn = np.arange(n) * 2 * math.pi / n
    return np.column_stack([x + radius * np.cos(turn), y + radius * np.sin(turn)])


def cut_of(shape, ring, holes=(), box=(200.0, 200.0)):
    size = tuple(np.floor(np.ptp(np.array(ring, dtype=float), axis=0)).tolist())
    return unplaced(Cut("C1", "floor", shape, 1, size, np.array(ring, dtype=float), tuple(holes), 1.0, box), 1)


def words_of(each):
    return " ".join(item.text for item in card(each, 0.0, 0.0, 55.0, name_tile=False) if isinstance(item, Label))


def test_every_card_shows_its_piece_as_it_lies_on_the_sheet(floor):
    setout, cards = floor
    done = setout.rooms[0].surfaces[0]
    lying: dict[str, list[shapely.Polygon]] = {}
    for (bay, p), piece in zip(
        [(b, p) for b, laid in enumerate(done.field.bays) for p in range(len(laid.pieces))], done.field.pieces(), strict=True
    ):
        mark = next(m for key, m in setout.marks.items() if (key.surface, key.bay, key.piece) == (0, bay, p))
        lying.setdefault(mark, []).append(piece)
    assert {each.cut.mark for each in cards} == set(lying)
    for each in cards:
        drawn = shapely.Polygon(each.ring, each.holes)
        off = []
        for piece in lying[each.cut.mark]:
            low = np.array(piece.bounds[:2]) - np.array(drawn.bounds[:2])
            off.append(drawn.symmetric_difference(translate(piece, *-low)).area)
        assert min(off) < 1.0, each.cut.mark


def test_every_saw_line_looks_at_what_is_said_to_stand_there(floor):
    setout, cards = floor
    outline = setout.rooms[0].lining.outline
    column = outline.column_rings[0].polygon()
    seen = set()
    for each in cards:
        for line in each.lines:
            seen.add(line.thing)
            if line.thing.startswith("wall"):
                number = int(line.thing.split()[1])
                out = {1: (0, -1), 2: (1, 0), 3: (0, 1), 4: (-1, 0)}[number]
                assert np.allclose(line.out, out, atol=1e-3)
    assert seen == {"wall 1", "wall 2", "wall 3", "wall 4", column and "column 1", "pipe 1"}


def test_cards_of_one_size_say_why_they_differ(floor):
    _, cards = floor
    alike: dict[tuple[str, tuple[float, ...]], list[LaidCut]] = {}
    for each in cards:
        alike.setdefault((each.cut.shape, tuple(sorted(each.cut.size))), []).append(each)
    groups = [own for own in alike.values() if len(own) > 1 and own[0].plain]
    assert groups
    for own in groups:
        assert all(each.other for each in own)
        assert all(each.other in words_of(each) for each in own)


@pytest.mark.parametrize("corner", ["low-left", "low-right", "up-left", "up-right"])
def test_a_notch_is_placed_and_sized_by_two_factory_edges(corner):
    ring = np.array([[0, 0], [184.4, 0], [184.4, 34.4], [200, 34.4], [200, 200], [0, 200]])
    if corner.endswith("left"):
        ring = (ring * [-1, 1] + [200, 0])[::-1]
    if corner.startswith("up"):
        ring = (ring * [1, -1] + [0, 200])[::-1]
    each = cut_of("notch", ring)
    told = figures(each.lines, each.ring, each.tile, 1.0)
    side: Side = "bottom" if corner.startswith("low") else "top"
    end: Side = "left" if corner.endswith("left") else "right"
    # 184.4 kept from the far edge is sawn to 184; up to 34.4 goes, so that 165.6 is kept, sawn to 165
    assert [value for _, value in told[side]] == [184.0]
    assert [value for _, value in told[end]] == [165.0]
    assert sum(len(own) for own in told.values()) == 2
    words = words_of(each)
    assert "less 16 × 35" in words
    assert "184" in words
    assert "165" in words


def test_a_hole_and_an_arc_are_told_by_centre_and_radius():
    square = [[0, 0], [200, 0], [200, 200], [0, 200]]
    each = cut_of("hole", square, (circle(80.0, 120.0, 33.0)[::-1],))
    assert "hole Ø 66, centre 80 across, 120 up" in words_of(each)
    whole = shapely.Polygon(square).difference(shapely.Polygon(circle(225.0, -29.0, 63.0, 200)))
    ring = shapely.get_coordinates(shapely.orient_polygons(whole))[:-1]
    words = words_of(cut_of("curve", ring))
    # measured from the upper left corner: the piece keeps most of the left and the upper edge
    found = re.search(r"arc R (\d+), centre (\d+) across, (\d+) down", words)
    assert found is not None, words
    assert [int(each) for each in found.groups()] == [63, 225, 229]


def test_saw_lines_are_numbered_right_across_first_and_an_arrow_points_out():
    each = cut_of("notch", [[0, 0], [150, 0], [150, 60], [120, 60], [120, 200], [0, 200]])
    items = card(each, 0.0, 0.0, 55.0, name_tile=False)
    numbers = [item.text for item in items if isinstance(item, Label) and item.bold and item.height == 2.5]
    assert numbers == ["1", "2", "3"]
    across = cut_of("corner", [[0, 0], [200, 0], [200, 90], [30, 90], [30, 200], [0, 200]])
    assert [line.across for line in across.lines] == [False, False]
    straight = cut_of("straight", [[0, 0], [142, 0], [142, 200], [0, 200]])
    assert [line.across for line in straight.lines] == [True]
    heads = [item for item in card(straight, 0.0, 0.0, 41.0, name_tile=False) if isinstance(item, Fill) and item.layer == "MARK"]
    tile = [item for item in card(straight, 0.0, 0.0, 41.0, name_tile=False) if isinstance(item, Fill) and item.layer == "TILE-CUT"]
    assert heads[0].polygon.centroid.x > tile[0].polygon.centroid.x


def test_what_is_worth_sawing_beforehand_is_said(floor):
    setout, _ = floor
    runs = room_runs(setout, 0)[0]
    (text,) = beforehand(setout, runs)
    named = dict(re.findall(r"(C\d+) × (\d+)", text))
    for mark, count in named.items():
        assert sum(run.marks.count(mark) for run in runs) == int(count) >= 5
    assert not in_rows_only(runs)


FALLING = {
    "outline": [[0, 0], [3010, 0], [3010, 2330], [0, 2330]],
    "drains": [{"kind": "gully", "at": [1403, 1107], "frame": [200, 200]}],
    "falls": [{"to": "gully 1", "ratio": 60}],
}


def test_pieces_along_hips_are_rows():
    setout = set_out(plan_of(FALLING, tiles={"floor": {"size": [240, 115], "thickness": 10, "joint": 6}}))
    done = setout.rooms[0].floor
    runs = room_runs(setout, 0)[0]
    assert sum(len(run.pieces) for run in runs) == len(done.field.pieces())
    # every piece that a hip or valley cuts and nothing else is in a row: they are most of the pieces, and all unlike
    saw = done.surface.saw_lines
    assert saw is not None
    walls = shapely.buffer(shapely.boundary(done.surface.region), 1.0)
    hips = [piece for piece in done.field.pieces() if piece.distance(saw) < 0.1 and not piece.intersects(walls)]
    single = {piece.wkb for run in runs if not run.row for piece in run.pieces}
    assert len(hips) > 20
    assert sum(piece.wkb in single for piece in hips) <= len(hips) // 5
    assert len(runs) < len(hips)


def test_pieces_round_a_column_are_a_row_drawn_larger_with_every_mark(floor):
    setout, _ = floor
    runs = [run for run in room_runs(setout, 0)[0] if run.frame]
    assert [run.frame for run in runs] == ["column 1"]
    column = Column(SIZES["A3"])
    frames(setout.rooms[0], runs, column)
    texts = [item.text for item in column.scene if isinstance(item, Label) and item.layer == "MARK"]
    assert sorted(texts) == sorted(runs[0].marks)
    ring = setout.rooms[0].lining.outline.column_rings[0].polygon().buffer(40.0)
    touching = sum(piece.intersects(ring) for piece in setout.rooms[0].floor.field.pieces())
    assert len(runs[0].pieces) == touching


def test_tapers_along_a_slanted_wall_are_one_label():
    room = {"outline": [[0, 0], [4000, 0], [4000, 2600], [0, 2480]]}
    setout = set_out(plan_of(room))
    tapers = {cut.mark: cut.count for cut in setout.cuts if cut.start is not None}
    assert tapers
    texts = [run.text for run in room_runs(setout, 0)[0]]
    for mark, count in tapers.items():
        assert [text for text in texts if text.split()[0] == mark] == [f"{mark} × {count}"]


WALLS = {
    "outline": [[0, 0], [3150, 0], [3150, 1930], [0, 1930]],
    "openings": [{"wall": 1, "offset": 500, "width": 900, "head": 2100}],
    "pipes": [{"wall": 3, "offset": 1500, "level": 700, "diameter": 60}],
    "columns": [
        {"outline": [[800, 800], [1100, 800], [1100, 1100], [800, 1100]]},
        {"outline": [[2000, 800], [2300, 800], [2300, 1100], [2000, 1100]]},
    ],
    "tile_height": 2300,
    "tanking_height": 2000,
}


@pytest.fixture(scope="module")
def elevations():
    setout = set_out(plan_of(WALLS))
    return [
        draft
        for draft in elevation_sheet.drafts(Job(setout, take_off(setout), (room_job(setout, 0, None, None),)))
        if draft.view is not None
    ]


def test_every_mark_whose_card_stands_beside_elevations_is_on_its_drawing(elevations):
    def marks(items):
        return {item.text.split(" ")[0] for item in items if isinstance(item, Label) and item.layer == "MARK"}

    every = [item for draft in elevations for item in draft.scene]
    assert every
    for draft in elevations:
        assert marks(draft.words)
        assert marks(draft.words) <= marks(draft.scene)
        assert marks(item for page in draft.further for item in page) <= marks(every)
        assert not draft.missing


def test_columns_alike_are_drawn_once_and_heights_name_their_datum(elevations):
    names = [item.text for draft in elevations for item in draft.scene if isinstance(item, Label) and item.text.startswith("column")]
    assert names
    sides = [tuple(re.findall(r"column \d", name)) for name in names]
    assert all(len(own) == 2 for own in sides), names  # both columns lie alike in their tiles or each is drawn with its twin
    texts = [item.text for draft in elevations for item in draft.scene if isinstance(item, Dimension)]
    assert "2300 from bare floor" in texts
    assert "tanked 2000 from bare floor" in texts


@pytest.mark.parametrize("long", [9000, 12000, 15000])
def test_elevations_take_the_largest_scale_that_takes_no_more_sheets(long):
    room = {"outline": [[0, 0], [long, 0], [long, 1500], [0, 1500]], "tile_height": 2000, "tanking_height": 2000}
    setout = set_out(plan_of(room, tiles={"floor": {"size": [600, 600], "thickness": 10, "joint": 5}}))
    made = pages(setout, 0, None, None)
    assert len(pages(setout, 0, None, 50.0)) >= len([page for page in made if page.scale > 20.0])
    x0, _, x1, _ = drawing_window(SIZES["A2"])
    assert max(page.scale for page in made) == next(s for s in (20, 25, 30, 40, 50) if long / s <= x1 - x0 - 6.0 - 38.0)


def test_templates_show_arcs_at_true_size_and_only_when_asked_for(floor):
    setout, cards = floor
    job = Job(setout, take_off(setout), (room_job(setout, 0, None, None),))
    pages = list(template_sheet.drafts(job))
    arcs = {each.cut.mark: each for each in cards if any(line.arc is not None for line in each.lines)}
    assert arcs
    items = [item for page in pages for item in page.words]
    assert {item.text for item in items if isinstance(item, Label) and item.layer == "MARK"} == set(arcs)
    # the pipe of 70 with its sealant joint: every arc's points lie on one circle of true size
    bars = [np.ptp(item.points[:, 0]) for item in items if isinstance(item, Stroke) and item.layer == "DIMENSION"]
    assert max(bars) == pytest.approx(100.0)
    areas = sorted(item.polygon.area for item in items if isinstance(item, Fill))
    assert areas == pytest.approx(sorted(each.cut.area for each in arcs.values()), rel=1e-3)
    assert all(page.scale == 1.0 for page in pages)


def test_no_figure_of_a_height_stands_on_the_datum_line(elevations):
    seen = 0
    for draft in elevations:
        scale = draft.view.scale
        datums = [item.points for item in draft.scene if isinstance(item, Stroke) and item.layer == "START-LINE"]
        for item in draft.scene:
            if isinstance(item, Dimension) and item.a[0] == pytest.approx(item.b[0], abs=0.1) and "2000" in item.text:
                label = next(part for part in exploded(item, scale) if isinstance(part, Label))
                half = text_width(label.text, label.height) * scale / 2
                near = [line for line in datums if line[:, 0].min() - 1.0 <= label.at[0] <= line[:, 0].max() + 6.0 * scale]
                for line in (line for line in near if item.a[1] < line[0, 1] < item.b[1]):
                    seen += 1
                    assert not label.at[1] - half < line[0, 1] < label.at[1] + half, label.text
    assert seen


def test_a_figure_that_is_wider_than_its_face_stands_beside_its_line():
    setout = set_out(plan_of({"outline": WALLS["outline"], "columns": [{"outline": [[800, 800], [950, 800], [950, 950], [800, 950]]}]}))
    job = Job(setout, take_off(setout), (room_job(setout, 0, None, 20.0),), None, 20.0)
    seen = 0
    for draft in unfold_sheet.drafts(job):
        for item in draft.scene:
            if isinstance(item, Dimension) and draft.view is not None:
                assert text_width(item.text, item.height) < math.dist(item.a, item.b) / draft.view.scale
                seen += not item.text
        assert "150" in draft.needed
    assert seen


def test_a_bite_of_few_points_is_an_arc_and_a_square_hole_is_not():
    whole = shapely.box(0.0, 0.0, 200.0, 200.0).difference(shapely.Polygon(circle(90.0, -61.0, 62.5, 38)))
    bite = shapely.get_coordinates(shapely.orient_polygons(whole))[:-1]
    each = cut_of("curve", bite)
    assert len(bite) < 9
    assert [line.arc is not None for line in each.lines] == [True]
    assert sum(len(own) for own in figures(each.lines, each.ring, each.tile, 1.0).values()) == 2
    square = np.array([[60.0, 60.0], [60.0, 100.0], [100.0, 100.0], [100.0, 60.0]])
    hole = cut_of("hole", [[0, 0], [200, 0], [200, 200], [0, 200]], (square,))
    assert "Ø" not in words_of(hole)
    assert "hole 40 × 40" in words_of(hole)


def test_walls_come_by_number_whatever_they_are_called_and_sides_are_said_short_of_their_own_thing_only():
    cuts = [CutBy("gully 1"), CutBy("wall 10", 10), CutBy("wall 2 · servery", 2), CutBy("base side 1")]
    assert sorted(cuts, key=lambda each: each.rank) == ["wall 2 · servery", "wall 10", "base side 1", "gully 1"]
    side = CutBy("base side 1 side 3", owner="base side 1", side="3")
    assert (_short(side, "base side 1"), _short(side, "base"), _short(CutBy("base side 1"), "base")) == ("side 3", side, "base side 1")


def test_a_run_of_tapers_is_not_drawn_by_its_least_piece():
    """Areas by shapely of all pieces of the mark: the first piece may be a sliver, and its card shows nothing."""
    room = {
        "outline": [[0, 0], [4380, 0], [4380, 3600], [0, 3540]],
        "drains": [{"kind": "gully", "at": [1910, 1770], "frame": [200, 200]}],
        "falls": [{"to": "gully 1", "ratio": 80}],
    }
    setout = set_out(plan_of(room, tiles={"floor": {"size": [300, 300], "joint": 4}}))
    areas: dict[str, list[float]] = {}
    for key, mark in setout.marks.items():
        bay = setout.rooms[0].surfaces[key.surface].field.bays[key.bay]
        areas.setdefault(mark, []).append(float(shapely.area(bay.pieces[key.piece])))
    tapers = [each for each in laid_cuts(setout, 0, [0]) if each.cut.start is not None and np.ptp(areas[each.cut.mark]) > 100.0]
    assert len(tapers) > 2
    for each in tapers:
        drawn = shapely.Polygon(each.ring).area
        every = sorted(areas[each.cut.mark])
        assert drawn > 1.01 * every[0] or len(every) < 3, each.cut.mark


def test_the_table_of_a_row_tells_the_box_of_each_piece_along_its_own_tile():
    """Boxes along the edges of the tiles as laid, which the table does not read: it has the pieces alone."""
    setout = example(TOP / "plans" / "kitchen.toml")
    done = setout.rooms[0].floor
    boxes = {}
    for tile, piece in zip(done.field.outlines(done.field.cut), done.field.pieces(), strict=True):
        along = (tile[1] - tile[0]) / np.linalg.norm(tile[1] - tile[0])
        own = shapely.get_coordinates(piece) @ np.column_stack([along, [-along[1], along[0]]])
        x, y = piece.centroid.coords[0]
        boxes[round(x, 2), round(y, 2)] = sorted(np.ptp(own, axis=0).tolist())
    rows = [run for run in room_runs(setout, 0)[0] if run.row and not run.frame]
    assert rows
    found = 0
    for run in rows:
        for piece in run.pieces:
            x, y = piece.centroid.coords[0]
            short, long = boxes[round(x, 2), round(y, 2)]
            told = own_box(piece)
            assert told[0] <= short + 0.002 < told[0] + 1.0
            assert told[1] <= long + 0.002 < told[1] + 1.0
            found += 1
    assert found > 50


def test_a_line_that_bends_to_both_sides_is_no_arc():
    """The foot of a column over two falls lies within 0.3 mm of a circle of 3.2 m; bent to one side alone it would be one."""
    foot = np.array([[110.5, 122.57], [112.5, 122.57], [292.5, 125.57], [297.0, 125.55]])
    assert circle_through(foot) is None
    angles = np.radians([80.0, 83.0, 86.0, 89.0, 92.0])
    arc = circle_through(np.column_stack([3000.0 * np.cos(angles), 3000.0 * np.sin(angles)]))
    assert arc is not None
    assert arc[2] == pytest.approx(3000.0)
