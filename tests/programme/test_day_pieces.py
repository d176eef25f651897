"""Day pieces: they make up the floor, follow each other to the door, end on joints, and are as large as the day's hours."""

from __future__ import annotations

import datetime as dt
import itertools

import numpy as np
import pytest
import shapely

from layout.programme.pieces import Atom, shares
from layout.programme.stages import plan_works
from layout.quantities.takeoff import take_off
from layout.readers.planfile import parse_plan
from layout.setout.conduct import set_out
from layout.sheets import pieces_sheet
from layout.sheets.draft import Job, room_job
from layout.sheets.scene import Fill, Label
from tests.rooms import plan_text

MONDAY = dt.datetime(2026, 11, 30, 7, 0)  # noqa: DTZ001  # site time has no zone
ROOM = {
    "name": "A", "outline": [[0, 0], [9000, 0], [9000, 4000], [0, 4000]], "tanking_height": 150,
    "openings": [{"wall": 4, "offset": 1500, "width": 1000, "head": 2100}],
    "day_joints": [{"line": [[4000, 0], [4000, 4000]]}],
}  # fmt: skip


@pytest.fixture(scope="module")
def takeoff():
    text = "[works]\nhands = 1\nareas = 2\nstart = 2026-11-30T07:00:00\n" + plan_text(ROOM, rules={"quartz_last": True})
    text += "[products]\nadhesive_m2_h = 0.71\nfixing_cut_min = 0\n"
    return take_off(set_out(parse_plan(text)))


@pytest.fixture(scope="module")
def works(takeoff):
    return plan_works(takeoff)


def test_days_of_tile_make_up_the_floor(takeoff, works):
    floor = takeoff.setout.rooms[0].floor
    pieces = [piece for piece in works.pieces if piece.kind == "floor"]
    (stage,) = [stage for stage in works.stages if stage.key == "floor"]
    assert len(pieces) == len({begin.date() for begin, _ in stage.spans}) == 6  # 35 m² at 0.71 m² an hour: 49.7 h, days of 9 h
    shapes = [shapely.union_all([part.shape for part in piece.parts]) for piece in pieces]
    assert shapely.union_all(shapes).area == pytest.approx(sum(bay.between_joints.area for bay in floor.bays), rel=1e-6)
    assert sum(piece.m2 for piece in pieces) == pytest.approx(floor.tiled_m2, rel=1e-6)
    for one, two in itertools.combinations(shapes, 2):
        assert shapely.intersection(one, two).area < 1.0
    # the door is in wall 4, at x = 0: each day is nearer to it
    middles = [shape.centroid.x for shape in shapes]
    assert middles == sorted(middles, reverse=True)
    # as large as the hours of the day, but for a course of tiles at each end
    for piece in pieces:
        ((_, begin, end),) = piece.days
        assert abs(piece.m2 - (end - begin).total_seconds() / 3600 * 0.71) <= 0.206 * 4.0 * 2


def test_days_of_tile_end_on_its_joints(takeoff, works):
    floor = takeoff.setout.rooms[0].floor
    origins = floor.field.origins
    outer = shapely.union_all([bay.between_joints for bay in floor.bays]).bounds
    seen = 0
    for piece in works.pieces:
        for part in piece.parts if piece.kind == "floor" else ():
            for x in (part.shape.bounds[0], part.shape.bounds[2]):
                if outer[0] + 1 < x < outer[2] - 1 and not any(
                    abs(x - edge) < 1 for bay in floor.bays for edge in bay.between_joints.bounds
                ):
                    off = (x - origins[:, 0] + 3.0) % 206.0  # the joint of 6 before a tile's edge, 200 and 6 from the next
                    assert np.minimum(off, 206.0 - off).min() < 0.01
                    seen += 1
    assert seen >= 8


def test_membrane_ends_at_its_day_joint(works):
    """Half of 9 m is 4.5: the day joint at 4 m is 11 % of an area off it, within the 15 % that an area may differ."""
    one, two = (piece for piece in works.pieces if piece.kind == "coat")
    floors = [[part.shape for part in piece.parts if part.shape is not None] for piece in (one, two)]
    assert [len(each) for each in floors] == [1, 1]
    assert floors[0][0].bounds[0] == pytest.approx(4000, abs=0.1)
    assert floors[1][0].bounds[2] == pytest.approx(4000, abs=0.1)
    assert [key for key, _, _ in one.days] == ["prime", "details", "coat 1", "coat 2"]
    hours = [stage.hours for stage in works.stages if stage.key == "coat 1"]
    assert hours[0] > hours[1]
    assert hours == pytest.approx([one.m2 / 8.0, two.m2 / 8.0])


def test_areas_keep_within_a_day_and_end_where_a_bay_does():
    atoms = [Atom(surface=None, hours=hours, m2=1.0) for hours in (10.0, 9.0, 11.0, 6.0)]  # type: ignore[arg-type]
    # 36 h in two areas of 20 at most: 18 each, or 19 up to the end of the second bay
    assert shares(atoms, 2, 20.0) == pytest.approx([19 / 36, 17 / 36])
    # a day of 18 h leaves no choice
    assert shares(atoms, 2, 18.0) == pytest.approx([0.5, 0.5])
    # three areas of 12: the ends 10 (2 off, over 15 %) and 30 (6 off) are too far
    assert shares(atoms, 3, 14.0) == pytest.approx([1 / 3, 1 / 3, 1 / 3])


def test_the_sheet_names_each_piece_with_its_day(takeoff, works):
    rooms = tuple(room_job(takeoff.setout, k, None, None) for k in range(1))
    drafts = list(pieces_sheet.drafts(Job(takeoff.setout, takeoff, rooms, None, None, works)))
    assert [draft.key for draft in drafts] == ["pieces-tile", "pieces-membrane", "pieces-grout"]
    assert not any(draft.missing for draft in drafts)
    for draft, kinds in zip(drafts, (("floor",), ("coat",), ("grout",)), strict=True):
        shown = [item.text for item in draft.scene if isinstance(item, Label)]
        for piece in works.pieces:
            if piece.kind in kinds:
                name = pieces_sheet.code(piece)
                assert any(text.startswith(f"{name} · {piece.days[0][1]:%a %d %b}") for text in shown), name
    # what is drawn is what is told: grey of the floor's pieces, hatched in two tones
    filled = [item for item in drafts[0].scene if isinstance(item, Fill) and item.layer == "TONE" and item.tone in pieces_sheet.TONES]
    drawn = sum(item.polygon.area for item in filled) / 1e6
    assert drawn == pytest.approx(sum(bay.between_joints.area for bay in takeoff.setout.rooms[0].floor.bays) / 1e6, rel=0.01)
