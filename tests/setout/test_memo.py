"""Stages asked once for one input: what is kept is what is made anew, and a moved thing runs what it touches and nothing else."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

import layout
from layout import memo
from layout.memo import afresh, by_input, counts, digest, forget
from layout.setout.equal import same

ROOM = """
[[rooms]]
name = "{name}"
at = {at}
outline = [[0, 0], [3000, 0], [3000, 1400], [1900, 1400], [1900, 2500], [0, 2500]]
tile_height = {height}
{more}
[[rooms.openings]]
wall = 1
offset = {door}
width = 800
name = "door"
[[rooms.pipes]]
wall = 5
offset = {pipe}
level = 700
diameter = 50
"""
TILES = """
[project]
title = "{title}"
[tiles.floor]
size = [{tile}, 200]
joint = 4
[tiles.wall]
size = [300, 200]
joint = 3
"""
PLAIN = {
    "title": "Invented", "tile": 200, "name": "Store", "at": [0, 0], "height": 2000, "more": "", "door": 600, "pipe": 900,
}  # fmt: skip


def plan_of(**edits):
    given = {**PLAIN, **edits}
    return layout.parse_plan(TILES.format(**given) + ROOM.format(**given))


def two_rooms(door: int = 600):
    """A store, and beyond its door a cold store whose floor carries on the joints of the first."""
    carried = '[[rooms.pulls]]\nwant = "carry"\nroom = "Store"\nto = "door"\n'
    beyond = {**PLAIN, "name": "Cold store", "at": [0, -2500], "door": 1100 - door, "height": 0}
    other = ROOM.format(**beyond).replace("[[rooms.openings]]\nwall = 1", carried + "[[rooms.openings]]\nwall = 5")
    return layout.parse_plan(TILES.format(**PLAIN) + ROOM.format(**{**PLAIN, "door": door}) + other)


@pytest.fixture(autouse=True)
def _nothing_kept():
    forget()


def anew(before: dict[str, tuple[int, int]]) -> dict[str, int]:
    """How often each stage ran since."""
    return {name: ran - before[name][0] for name, (ran, _) in counts().items()}


def test_a_moved_door_runs_its_room_and_its_wall_anew_and_no_other_wall():
    layout.set_out(plan_of())
    first = counts()
    assert (first["room"], first["upright"]) == ((1, 0), (6, 0))
    moved = layout.set_out(plan_of(door=700))
    assert anew(first) == {"room": 1, "upright": 1, "settled_at_home": 1}
    with afresh():
        assert digest(layout.set_out(plan_of(door=700))) == digest(moved)
    assert counts()["room"] == (2, 0)  # afresh nothing is looked up or kept


def test_a_pipe_moved_on_a_wall_runs_that_wall_anew():
    layout.set_out(plan_of())
    before = counts()
    moved = layout.set_out(plan_of(pipe=400))
    assert anew(before) == {"room": 1, "upright": 1, "settled_at_home": 1}
    (hole,) = (surface.surface.breaks[0].at for surface in moved.rooms[0].surfaces if surface.surface.breaks)
    assert hole[1] == pytest.approx(700.0)


def test_a_new_title_runs_nothing_and_stands_in_the_result():
    layout.set_out(plan_of())
    before = counts()
    told = layout.set_out(plan_of(title="Renamed"))
    assert anew(before) == {"room": 0, "upright": 0, "settled_at_home": 0}
    assert (
        told.plan.project.title == told.rooms[0].lining.plan.project.title == told.rooms[0].membrane.lining.plan.project.title == "Renamed"
    )
    assert told.rooms[0].lining.plan.rooms[0] is told.rooms[0].lining.room


def test_of_two_rooms_that_share_nothing_one_stays():
    plan = two_rooms()
    apart = replace(plan, rooms=(plan.rooms[0], replace(plan.rooms[1], pulls=())))
    layout.set_out(apart)
    before = counts()
    moved = replace(plan, rooms=(plan.rooms[0], replace(plan.rooms[1], pulls=(), openings=())))
    made = layout.set_out(moved)
    assert anew(before)["room"] == 1
    with afresh():
        assert layout.set_out(moved) == made


def test_a_room_that_carries_joints_on_runs_anew_when_they_move():
    layout.set_out(two_rooms())
    before = counts()
    made = layout.set_out(two_rooms(760))
    assert anew(before)["room"] == 2
    with afresh():
        assert layout.set_out(two_rooms(760)) == made


KINDS = {
    "closet": "outline = [[0, 0], [{w}, 0], [{w}, 1900], [0, 1900]]\n[[rooms.drains]]\nkind = 'gully'\nat = [700, 900]\n",
    "corner": "outline = [[0, 0], [{w}, 0], [{w}, 1200], [900, 1200], [900, 2100], [0, 2100]]\nhidden = ['wall 2']\n",
    "pump": (
        "outline = [[0, 0], [{w}, 0], [{w}, 1700], [0, 1700]]\n"
        "[[rooms.plinths]]\noutline = [[300, 900], [800, 900], [800, 1300], [300, 1300]]\nheight = 150\n"
    ),
    "parted": "outline = [[0, 0], [{w}, 0], [{w}, 1500], [0, 1500]]\n[[rooms.structural_joints]]\nline = [[800, 0], [800, 1500]]\n",
}


def rooms_of(*asked: tuple[str, int, float, str]) -> str:
    """Rooms of the kinds and widths asked for, turned on the key plan by so many degrees, on a storey; each at a place and of a name of its own."""
    door = "[[rooms.openings]]\nwall = 1\noffset = 150\nwidth = 700\n"
    text = "[tiles.floor]\nsize = [200, 200]\njoint = 6\n"
    for k, (kind, width, turn, storey) in enumerate(asked):
        place = f'name = "Room {k}"\nat = [{5000 * k}, {-300 * k}]\nturn = {turn}\nstorey = "{storey}"\n'
        text += "[[rooms]]\n" + place + KINDS[kind].format(w=width) + door
    return text


def test_rooms_that_are_alike_start_alike_and_are_settled_once():
    job = layout.parse_plan(rooms_of(*((kind, 1950, 90.0 * k, f"{k}") for k in range(2) for kind in KINDS), ("closet", 1951, 0.0, "")))
    made = layout.set_out(job)
    floors = {kind: made.rooms[k:8:4] for k, kind in enumerate(KINDS)}
    assert [len(alike) for alike in floors.values()] == [2, 2, 2, 2]
    assert counts()["settled_at_home"] == (6, 5)  # four floors, the plinth's top, the wider closet
    assert [len({room.floor.start.origin for room in alike}) for alike in floors.values()] == [1, 1, 1, 1]
    with afresh():
        assert digest(layout.set_out(job)) == digest(made)


def test_rooms_that_are_alike_but_for_a_rule_or_a_thing_are_not_taken_for_each_other():
    job = rooms_of(("closet", 1950, 0.0, ""), ("closet", 1950, 0.0, ""))
    others = [job, job.replace("at = [700, 900]", "at = [701, 900]", 1), job.replace("offset = 150", "offset = 160", 1)]
    others += [f"[rules]\n{rule}\n{job}" for rule in ("wall_tolerance = 4", "start_order = ['narrowest']")]
    kept = [layout.set_out(layout.parse_plan(each)) for each in others]
    assert counts()["settled_at_home"][0] == 5
    with afresh():
        assert [digest(layout.set_out(layout.parse_plan(each))) for each in others] == [digest(each) for each in kept]


ROOMS = st.lists(
    st.tuples(
        st.sampled_from(sorted(KINDS)), st.sampled_from([1950, 2000]), st.sampled_from([0.0, 90.0, 12.5]), st.sampled_from(["", "1"])
    ),
    min_size=2,
    max_size=4,
)


@settings(max_examples=3, deadline=None)
@given(ROOMS)
def test_a_job_gives_the_same_whatever_is_kept_of_rooms_alike(asked):
    job = layout.parse_plan(rooms_of(*asked))
    kept = layout.set_out(job)
    with afresh():
        assert digest(layout.set_out(job)) == digest(kept)


EDITS = st.fixed_dictionaries(
    {},
    optional={
        "title": st.sampled_from(["Invented", "other"]),
        "tile": st.sampled_from([200, 150]),
        "name": st.sampled_from(["Store", "floor", "wall 1"]),
        "height": st.sampled_from([0, 1200, 2000]),
        "door": st.integers(100, 2000),
        "pipe": st.integers(100, 1000),
        "more": st.sampled_from(['floor_tile = "wall"', "turn = 90", 'outline_is = "finished"']),
    },
)


@settings(max_examples=4, deadline=None)
@given(st.lists(EDITS, min_size=2, max_size=3))
def test_whatever_was_set_out_before_a_plan_gives_what_it_gives_alone(edits):
    kept = [layout.set_out(plan_of(**each)) for each in edits]
    with afresh():
        alone = [layout.set_out(plan_of(**each)) for each in edits]
    assert [digest(each) for each in kept] == [digest(each) for each in alone]


def test_what_is_alike_to_a_person_but_not_to_the_last_bit_is_told_apart():
    one = shapely.box(0, 0, 1, 1)
    pairs = [
        (0.0, -0.0), (1, 1.0), (True, 1), ("1", 1), ((1, 2), (1, (2,))), ({"a": 1, "b": 2}, {"b": 2, "a": 1}), (None, "None"),
        (np.zeros(2), np.zeros((1, 2))), (np.zeros(2), np.zeros(2, dtype=np.float32)), (np.zeros(1), np.zeros(1, dtype=np.int64)),
        (one, shapely.box(0, 0, 1, np.nextafter(1.0, 2.0))), (one.exterior, shapely.LineString(one.exterior.coords)),
        (np.array([one, one], dtype=object), np.array([one], dtype=object)), (np.float64(1.0), np.float32(1.0)),
    ]  # fmt: skip
    assert [digest(a) == digest(b) for a, b in pairs] == [False] * len(pairs)
    assert [digest(a) == digest(a) for a, _ in pairs] == [True] * len(pairs)


def test_an_input_that_cannot_be_known_is_refused():
    with pytest.raises(TypeError, match=r"no digest is known for builtins\.function"):
        digest((1.0, lambda: 0))


def test_a_stage_keeps_the_last_inputs_and_nothing_that_was_raised():
    asked = []

    @by_input(2)
    def halved(figure: float) -> float:
        asked.append(figure)
        if figure < 0.0:
            raise ValueError(figure)
        return figure / 2.0

    assert [halved(each) for each in (1.0, 2.0, 1.0, 3.0, 1.0, 2.0)] == [0.5, 1.0, 0.5, 1.5, 0.5, 1.0]
    assert asked == [1.0, 2.0, 3.0, 2.0]  # 3 drove out 2, which was asked for longest ago
    for _ in range(2):
        with pytest.raises(ValueError, match="-1"):
            halved(-1.0)
    assert asked[4:] == [-1.0, -1.0]
    memo._MEMOS.pop(next(name for name in memo._MEMOS if name.endswith("halved")))


def test_values_of_many_parts_are_known_by_themselves_not_by_their_place():
    """A digest is kept beside the value itself: a like value elsewhere has the same, another one its own."""
    plan = plan_of()
    before = digest(plan)
    assert (
        digest(replace(plan))
        == before
        != digest(replace(plan, project=layout.parse_plan(TILES.format(**{**PLAIN, "title": "x"}) + ROOM.format(**PLAIN)).project))
    )
    many = [replace(plan.rules, wall_tolerance=float(k)) for k in range(memo.KNOWN + 5)]
    assert len({digest(rules) for rules in many}) == len(many)
    assert len(memo._digests) <= memo.KNOWN
    assert same(digest(many[0]), digest(replace(many[0])))
