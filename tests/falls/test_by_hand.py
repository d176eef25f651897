"""Facets, shapes of falls and levels by hand, each asked of its own function: no tile is laid."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
import shapely

from layout.errors import PlanFaults
from layout.falls.facets import Facet, Side, _rising, level_perimeter, levels_at, lines_between, plane_through, rising_planes, sees_all
from layout.falls.levels import Levels, measure_levels, saw_strip, spot_levels
from layout.falls.shaping import Falls, build_falls, walls_polygon
from layout.falls.water import Pond
from layout.lining.build import build_lining
from tests.rooms import plan_of

SQUARE = shapely.box(-500, -500, 500, 500)
FRAME = shapely.box(-100, -100, 100, 100)
STEPPED = shapely.Polygon([(-500, -500), (1000, -500), (1000, 120), (50, 120), (50, 500), (-500, 500)])
GULLY: dict[str, Any] = {"kind": "gully", "at": [2000, 1500], "frame": [200, 200]}
BOX: dict[str, Any] = {
    "outline": [[0, 0], [4000, 0], [4000, 3000], [0, 3000]],
    "drains": [GULLY],
    "falls": [{"to": "gully 1", "ratio": 60}],
}
CROSSED = [[0, 0], [3000, 3000], [3000, 0], [0, 3000]]


def falls_of(**change: Any) -> Falls:
    """The falls of the box with something changed."""
    plan = plan_of({**BOX, **change})
    found = build_falls(plan, 0, build_lining(plan, 0).outline)
    assert found is not None
    return found


def levels_of(*, rules: dict[str, Any] | None = None, tile: dict[str, Any] | None = None, **change: Any) -> Levels:
    """Levels of the box with something changed, before tile is laid."""
    plan = plan_of({**BOX, **change}, rules=rules or {}, tiles={"floor": {"size": [200, 200], "joint": 6, **(tile or {})}})
    lining = build_lining(plan, 0)
    falls = build_falls(plan, 0, lining.outline)
    assert falls is not None
    assert lining.floor.tile is not None
    return measure_levels(plan, falls, lining.floor.region, lining.outline, lining.floor.tile, ponds=())


def texts(levels: Levels, code: str) -> list[str]:
    return [finding.text for finding in levels.findings if finding.code == code]


def area(facets: list[Facet]) -> float:
    return sum(facet.polygon.area for facet in facets)


def test_a_plane_through_three_points():
    # 10 up over 500 in x, 4 down over 200 in y, 3 at the origin
    assert plane_through(np.array([[0, 0, 3], [500, 0, 13], [0, 200, -1]], dtype=float)) == pytest.approx((0.02, -0.02, 3))
    facet = Facet(SQUARE, (0.03, -0.04, 5.0), "g")
    assert facet.gradient == pytest.approx(0.05)
    assert facet.ratio == pytest.approx(20)
    assert facet.stretch == pytest.approx(math.sqrt(1.0025))
    assert facet.way == pytest.approx([-0.6, 0.8]), "down is against the gradient"
    assert facet.at(np.array([100.0, 50.0])) == pytest.approx([6.0])
    level = Facet(SQUARE, (0.0, 0.0, 5.0), "g")
    assert (level.ratio, level.stretch, level.way.tolist()) == (math.inf, 1.0, [0.0, 0.0])
    with pytest.raises(ValueError, match="stand in one line"):
        plane_through(np.array([[0, 0, 0], [1, 1, 5], [2, 2, 9]], dtype=float))


@pytest.mark.parametrize("frame", [FRAME, shapely.reverse(FRAME)])
def test_a_square_falls_by_four_facets_whichever_way_its_frame_is_typed(frame):
    facets = level_perimeter(SQUARE, frame, 20.0, 10.0, "g")
    assert facets is not None
    assert len(facets) == 4
    # 10 over the 400 between wall and frame
    assert [facet.ratio for facet in facets] == pytest.approx([40.0] * 4)
    assert area(facets) == pytest.approx(1000**2 - 200**2)
    for at, level in (((500, 0), 20), ((0, -500), 20), ((100, 0), 10), ((-100, -100), 10), ((300, 0), 15), ((0, 200), 12.5)):
        assert levels_at(facets, np.array([at], dtype=float)) == pytest.approx([level]), at
    assert levels_at(facets, np.array([[700.0, 0.0]])) == pytest.approx([20.0]), "off the floor that of its edge"
    lines = lines_between(facets)
    assert [line.kind for line in lines] == ["valley"] * 4
    assert [line.length for line in lines] == pytest.approx([400 * math.sqrt(2)] * 4)
    assert [line.bend for line in lines] == pytest.approx([math.sqrt(2) / 40] * 4)
    assert sorted({round(level, 6) for line in lines for level in line.levels}) == [10.0, 20.0]


def test_a_square_falls_alike_wherever_it_lies():
    far = [shapely.transform(each, lambda xy: xy + np.array([7000.0, -4000.0])) for each in (SQUARE, FRAME)]
    facets = level_perimeter(far[0], far[1], 20.0, 10.0, "g")
    assert facets is not None
    assert [facet.ratio for facet in facets] == pytest.approx([40.0] * 4)
    places = np.array([[7300.0, -4000.0], [7000.0, -3800.0], [7500.0, -4500.0]])
    assert levels_at(facets, places) == pytest.approx([15.0, 12.5, 20.0])


def test_a_point_gives_one_facet_for_each_wall():
    facets = level_perimeter(SQUARE, shapely.Point(0, 0), 0.0, 10.0, "g")
    assert facets is not None
    assert [facet.ratio for facet in facets] == pytest.approx([50.0] * 4)
    assert area(facets) == pytest.approx(1000**2)


@pytest.mark.parametrize("half", [100.0, 50.0])
def test_round_a_corner_near_the_frame_the_planes_still_cover_the_floor(half):
    """A frame of 100 looks past the corner at 50, 120, so the planes run to its middle; the side of one of 50 is in line with the wall."""
    frame = shapely.box(-half, -half, half, half)
    facets = level_perimeter(STEPPED, frame, 0.0, 12.0, "g")
    assert facets is not None
    assert area(facets) == pytest.approx(STEPPED.area - frame.area, abs=2)
    ring = shapely.get_coordinates(STEPPED.exterior)
    assert levels_at(facets, ring) == pytest.approx(np.zeros(len(ring)), abs=0.01)
    # halfway from the wall at the left to what it falls to: the frame's side, or its middle where the planes run there
    to = 0.0 if half == 100.0 else half
    assert levels_at(facets, np.array([[-(500 + to) / 2, 0.0]])) == pytest.approx([-6.0], abs=0.02)


def test_what_is_seen_from_a_place():
    ring = shapely.get_coordinates(STEPPED.exterior)[:-1]
    assert sees_all(ring, np.array([0.0, 0.0]))
    assert not sees_all(ring, np.array([900.0, 0.0])), "the upper part is behind the corner"
    assert not sees_all(ring, np.array([900.0, 400.0])), "outside"
    assert level_perimeter(STEPPED, shapely.Point(900, 400), 0.0, 10.0, "g") is None


def test_planes_rise_from_their_sides_and_the_lower_drain_has_the_floor():
    def side(at: float, out: float, level: float) -> Side:
        return Side((at, 0.0), (out, 0.0), level, 0.02)

    region = shapely.box(0, 0, 1000, 100)
    # from 0 at the left and from 4 at the right, both one in fifty: 0.02 x = 4 + 0.02 (1000 - x) at x = 600
    found = {f.to: f for f in rising_planes(region, {"a": [side(0, 1, 0)], "b": [side(1000, -1, 4)]})}
    assert found["a"].polygon.bounds == pytest.approx((0, 0, 600, 100))
    assert found["b"].polygon.bounds == pytest.approx((600, 0, 1000, 100))
    assert found["b"].plane == pytest.approx((-0.02, 0.0, 24.0))
    (line,) = lines_between([found["a"], found["b"]])
    assert line.kind == "high line"
    assert (line.bend, *line.levels) == pytest.approx((0.04, 12.0, 12.0))
    # one that lies far under the other has all of it, whichever is named first
    for names in (("a", "b"), ("b", "a")):
        drains = {name: [side(0, 1, 0) if name == "a" else side(1000, -1, 1e6)] for name in names}
        (only,) = rising_planes(region, drains)
        assert only.to == "a"
        assert only.polygon.area == pytest.approx(1e5)
    # planes of one slope: the lower has the floor, however little lower; of two that are one the first named has it
    for level, owner in ((0.5, "a"), (-0.5, "b"), (0.0, "a")):
        (has,) = rising_planes(region, {"a": [side(0, 1, 0)], "b": [side(0, 1, level)]})
        assert has.to == owner
        assert has.polygon.area == pytest.approx(1e5)
    # of two sides of one drain the higher plane counts: a low line in the middle
    both = rising_planes(region, {"a": [side(400, -1, 0), side(600, 1, 0)]})
    assert sorted(f.polygon.bounds[::2] for f in both) == [pytest.approx((0, 500)), pytest.approx((500, 1000))]
    assert [each.kind for each in lines_between(both)] == ["low line"]


def test_facets_at_different_levels_meet_in_a_step():
    one, two = Facet(shapely.box(0, 0, 500, 100), (0, 0, 0.0), "a"), Facet(shapely.box(500, 0, 1000, 100), (0, 0, -20.0), "b")
    (line,) = lines_between([one, two])
    assert line.kind == "step"
    assert line.length == pytest.approx(100, abs=0.1)
    assert lines_between([one, Facet(two.polygon, (0, 0, 0.4), "b")]) == [], "less than half a millimetre is none"


def test_a_saw_line_takes_a_joint_out():
    strip = saw_strip(np.array([[0.0, 0.0], [300.0, 0.0]]), 4.0)
    assert strip.bounds == pytest.approx((-4, -2, 304, 2))


def plane_falls(level: float | None, low: float = -40.0) -> dict[str, Any]:
    drain = {**GULLY, "at": [3000, 1500], **({} if level is None else {"level": level})}
    return {"drains": [drain], "falls": [{"to": "gully 1", "plane": [[0, 0, 0], [4000, 0, low], [0, 3000, 0]]}]}


def test_a_given_plane_sets_the_drain_that_it_falls_to():
    # 40 over 4000: 30 down at x = 3000
    assert falls_of(**plane_falls(None)).drains == {"gully 1": pytest.approx(-30.0)}
    assert falls_of(**plane_falls(-30.5)).drains == {"gully 1": pytest.approx(-30.0)}
    with pytest.raises(PlanFaults, match=r"the plane is at -30 where gully 1 is set to -35; mend one of them"):
        plan_of({**BOX, **plane_falls(-35.0)})


def test_a_drains_level_goes_before_a_flatter_ratio():
    # the far wall is 1900 from the frame: 1:100 asks 19, and the drain lies 25 down
    falls = falls_of(drains=[{**GULLY, "level": -25}], falls=[{"to": "gully 1", "ratio": 100}])
    assert falls.drains == {"gully 1": -25.0}
    assert falls.at(np.array([[0.0, 1500.0], [2000.0, 1600.0]])) == pytest.approx([0.0, -25.0])


@pytest.mark.parametrize("short", [0, 250])
def test_a_channel_across_the_floor_is_fallen_to_from_both_sides_and_not_to_its_ends(short):
    channel = {"kind": "channel", "from": [2000, short], "to": [2000, 3000 - short], "width": 200}
    found = falls_of(drains=[channel], falls=[{"to": "channel 1", "ratio": 60}])
    assert sorted((round(f.plane[0] * 60), round(f.plane[1] * 60)) for f in found.facets) == [(-1, 0), (1, 0)]
    # the walls are 1900 from its edges
    assert found.drains == {"channel 1": pytest.approx(-1900 / 60)}
    assert found.at(np.array([[0.0, 1500.0], [1000.0, 100.0], [4000.0, 10.0]])) == pytest.approx([0.0, -1000 / 60, 0.0])


def test_falls_that_share_a_floor():
    drains = [{**GULLY, "at": [1000, 1500]}, {**GULLY, "at": [3000, 1500]}]
    both = [{"to": "gully 1", "ratio": 60}, {"to": "gully 2", "ratio": 60}]
    found = falls_of(drains=drains, falls=both)
    # cells meet in the middle; from the far corner of a cell to its frame: 900 by 1400
    far = math.hypot(900, 1400)
    assert found.drains == {"gully 1": pytest.approx(-far / 60), "gully 2": pytest.approx(-far / 60)}
    assert found.at(np.array([[2000.0, 1500.0]])) == pytest.approx([0.0])
    # the middle has a fall of its own and parts the rest: what has no drain of its own falls nowhere
    middle = [[1500, 0], [2500, 0], [2500, 3000], [1500, 3000]]
    parted = falls_of(
        drains=[*drains, {**GULLY, "at": [2000, 1500]}],
        falls=[{"to": "gully 3", "ratio": 60, "region": middle}, {"to": "gully 1", "ratio": 60}],
    )
    assert {facet.to for facet in parted.facets} == {"gully 3", "gully 1"}
    assert sum(facet.polygon.area for facet in parted.facets) == pytest.approx(2500 * 3000 - 2 * 200 * 200, abs=5)
    region = [[2000, 0], [4000, 0], [4000, 3000], [2000, 3000]]
    alone = falls_of(drains=drains[1:], falls=[{"to": "gully 1", "ratio": 60, "region": region}])
    assert {facet.to for facet in alone.facets} == {"gully 1"}
    assert sum(facet.polygon.area for facet in alone.facets) == pytest.approx(2000 * 3000 - 200 * 200, abs=5)


BAD: dict[str, tuple[dict[str, Any], str]] = {
    "a region that crosses itself": ({"falls": [{"to": "gully 1", "region": CROSSED}]}, "falls[0].region: its region is not an outline"),
    "two perimeters on one floor": (
        {
            "drains": [{**GULLY, "at": [1000, 1500]}, {**GULLY, "at": [3000, 1500]}],
            "falls": [{"to": "gully 1", "perimeter": "level"}, {"to": "gully 2", "perimeter": "free"}],
        },
        "falls[1]: it shares the floor with a fall of another perimeter; give both falls regions, or one perimeter",
    ),
    "a plane that shares the floor": (
        {"falls": [{"to": "gully 1"}, {"plane": [[0, 0, 0], [4000, 0, -40], [0, 3000, 0]]}]},
        "falls[1]: a plane without a region shares the floor with other falls; give it a region",
    ),
    "a drain at the floor's own level": (
        {"drains": [{**GULLY, "level": 0}], "falls": [{"to": "gully 1"}]},
        "falls[0].to: gully 1 lies at 0, not below the floor's 0; give the drain a lower level",
    ),
    "no door for a threshold": (
        {"falls": [{"to": "gully 1", "ratio": 60, "perimeter": "threshold"}]},
        "falls[0].perimeter: there is no door whose threshold could keep its level",
    ),
    "a drain too high for its ratio": (
        # from the frame to the wall at the left 1900: at one in fifty 38; from 20 down the floor would rise 18 over its level
        {"drains": [{**GULLY, "level": -20}], "falls": [{"to": "gully 1", "ratio": 50, "perimeter": "free"}]},
        "falls[0].ratio: from gully 1 at -20 the floor would rise 18 above its level; set the drain at -38 or flatter",
    ),
    "a wall that its drain does not see": (
        {
            "outline": [[0, 0], [6000, 0], [6000, 2000], [2000, 2000], [2000, 6000], [0, 6000]],
            "drains": [{**GULLY, "at": [5000, 1000]}],
            "falls": [{"to": "gully 1", "perimeter": "level"}],
        },
        "falls[0].to: gully 1 does not see the edge of the floor from [2000, 2000] to [2000, 6000]: a level perimeter would hold water",
    ),
    "a floor that its drains do not see": (
        {
            "outline": [[0, 0], [6000, 0], [6000, 3000], [3500, 3000], [3500, 1500], [2500, 1500], [2500, 3000], [0, 3000]],
            "drains": [{**GULLY, "at": [1000, 2000]}, {**GULLY, "at": [2000, 700]}],
            "falls": [{"to": "gully 1", "perimeter": "level"}, {"to": "gully 2", "perimeter": "level"}],
        },
        "falls[0].region: no drain is nearest to some parts of the floor and sees them; give the falls regions",
    ),
}


@pytest.mark.parametrize(("change", "words"), BAD.values(), ids=BAD)
def test_falls_that_contradict_are_told(change, words):
    with pytest.raises(PlanFaults) as caught:
        plan_of({**BOX, **change})
    assert words in str(caught.value)


def test_screed_by_hand():
    # a ramp of 60 over 4000; bed 3, tile 10 and the membrane's 2 are build-up, least thickness 25; 8 mm of joint are left out round
    # the floor, so the thickness goes from 25 at x = 3992 to 25 + 60 * 3984 / 4000 = 84.76 at x = 8, in the middle 54.88
    ramp: dict[str, Any] = {
        "drains": [],
        "falls": [{"plane": [[0, 0, 0], [4000, 0, -60], [0, 3000, 0]]}],
        "tanking_height": 0,
        "levels": {"screed": 25},
    }
    made = levels_of(**ramp).screed
    assert (made.least, made.most) == pytest.approx((25.0, 84.76))
    assert made.least_at[0] == pytest.approx(3992)
    assert made.most_at[0] == pytest.approx(8)
    assert made.volume == pytest.approx(3.984 * 2.984 * 0.05488)
    assert made.slab == pytest.approx(-60 * 3992 / 4000 - 15 - 25)
    on_slab = levels_of(**{**ramp, "levels": {"slab": -120}}).screed
    assert (on_slab.slab, on_slab.least, on_slab.most) == pytest.approx((-120, 120 - 15 - 59.88, 120 - 15 - 0.12))
    assert texts(levels_of(**{**ramp, "levels": {"slab": -70}}), "screed-thin") == [
        "floor: the slab stands 5 above the underside of the tile's bed; lower it or raise the floor"
    ]


def test_the_datum_is_told_with_its_level_on_the_site():
    made = levels_of(levels={"datum": 12.5})
    assert made.datum == "±0 is the finished floor at the walls = 12.500 m"
    assert levels_of(levels={"floor": -15}).datum == "±0 lies 15 above the finished floor at the walls"
    assert levels_of(levels={"floor": -15}).floor_datum == "is the finished floor at the walls"


def test_a_hatch_is_no_threshold_and_a_small_floor_has_no_grid():
    hatch = {"wall": 1, "offset": 500, "width": 800, "sill": 900, "level": 30, "name": "hatch"}
    door = {"wall": 3, "offset": 500, "width": 800, "level": 30, "name": "door"}
    made = levels_of(openings=[hatch, door])
    assert texts(made, "threshold-step") == ["floor: the threshold of door is wanted at +30, the floor there is at +0"]
    plan = plan_of({**BOX, "openings": [hatch, door]})
    outline = build_lining(plan, 0).outline
    floor = shapely.box(0, 0, 4000, 3000)
    spots = spot_levels(made, outline, floor, [("line A × line B", (1000.0, 1500.0)), ("outside", (5000.0, 0.0))], (100.0, 200.0))
    assert [spot.what for spot in spots.spots] == [
        "corner of wall 1 and wall 4", "corner of wall 1 and wall 2", "corner of wall 2 and wall 3", "corner of wall 3 and wall 4",
        "door, jamb", "door, middle", "door, jamb", "line A × line B", "gully 1",
    ]  # fmt: skip
    by = {spot.what: spot.level for spot in spots.spots}
    # wall 3 runs from 4000, 3000 leftward: the door stands from 500 to 1300 along it
    assert [spot.at for spot in spots.spots if spot.what.startswith("door")] == [(3500, 3000), (3100, 3000), (2700, 3000)]
    # the far corner of the floor to the frame: 1900 by 1400, at 1:60; on the left the wall is 1900 from the frame
    drop = math.hypot(1900, 1400) / 60
    assert by["gully 1"] == pytest.approx(-drop)
    assert by["line A × line B"] == pytest.approx(-drop * 1000 / 1900)
    assert [spot.at for spot in spots.grid] == [(x, y) for y in (200.0, 1200.0, 2200.0) for x in (100.0, 1100.0, 2100.0, 3100.0)]
    assert spot_levels(made, outline, shapely.box(0, 0, 600, 500), [], (-200.0, -200.0)).grid == ()
    # a first tile that stands behind the walls: the grid still goes to the far ones
    behind = spot_levels(made, outline, floor, [], (-900.0, -800.0)).grid
    assert [spot.at for spot in behind] == [(x, y) for y in (200.0, 1200.0, 2200.0) for x in (100.0, 1100.0, 2100.0, 3100.0)]


def test_a_threshold_on_a_slope_is_told_from_its_higher_end_to_its_lower_and_a_level_one_by_one_figure():
    # 10 mm down a metre along wall 1: the door stands from 500 to 1300, at -5 and -13
    ramp: dict[str, Any] = {"drains": [], "falls": [{"plane": [[0, 0, 0], [4000, 0, -40], [0, 3000, 0]]}], "tanking_height": 0}
    door = {"wall": 1, "offset": 500, "width": 800, "level": 30, "name": "door"}
    assert texts(levels_of(**ramp, openings=[door]), "threshold-step") == [
        "floor: the threshold of door falls 8 over its width, from -5 to -13",
        "floor: the threshold of door is wanted at +30, the floor there is at -13 to -5",
    ]
    # 8 mm over the datum from end to end: one figure, however high it lies
    high = {**ramp, "falls": [{"plane": [[0, 0, 8], [4000, 0, 8], [0, 3000, -20]]}]}
    assert texts(levels_of(**high, openings=[door]), "threshold-step") == [
        "floor: the threshold of door is wanted at +30, the floor there is at +8"
    ]


def test_a_room_within_its_bare_walls_has_its_curved_wall_whole():
    # an arc over a chord of 3000 whose bulge is 0.2: a quarter of its angle has that tangent; it bows out of the box
    plan = plan_of({"name": "R", "outline": [[0, 0], [4000, 0], {"to": [4000, 3000], "bulge": 0.2}, [0, 3000]]})
    angle = 4.0 * math.atan(0.2)
    radius = 1500.0 / math.sin(angle / 2.0)
    segment = radius**2 / 2.0 * (angle - math.sin(angle))
    assert walls_polygon(build_lining(plan, 0).outline).area == pytest.approx(4000 * 3000 + segment, abs=0.005 * segment)


def test_a_facet_smaller_than_a_hand_is_not_held_against_the_published_range():
    wide: dict[str, Any] = {"drains": [], "falls": [{"plane": [[0, 0, 0], [4000, 0, -10], [0, 3000, 0]]}], "tanking_height": 0}
    assert len(texts(levels_of(**wide), "fall-outside-range")) == 1
    corner = [[0, 0], [90, 0], [90, 90], [0, 90]]
    small: dict[str, Any] = {**wide, "falls": [{"name": "nook", "plane": [[0, 0, 0], [90, 0, -0.1], [0, 90, 0]], "region": corner}]}
    assert texts(levels_of(**small), "fall-outside-range") == []
    (left,) = texts(levels_of(**small), "floor-without-fall")
    assert left.startswith("floor: 11.88 m² belong to no fall")  # 3984 x 2984 less 82 x 82


def test_tile_over_a_hip_is_cut_or_told():
    # 1:36 and 1:48 meet at hips: a bend of hypot(1/36, 1/48) lets tiles of 4 / bend lie across it
    bend = math.hypot(math.hypot(1900, 1400) / 60 / 1900, math.hypot(1900, 1400) / 60 / 1400)
    made = levels_of()
    assert made.greatest == pytest.approx(4.0 * made.limit / bend)
    assert len(made.cuts) == 4
    assert levels_of(tile={"size": [100, 100]}).cuts == ()
    kept = levels_of(rules={"falls": "accept"})
    assert kept.cuts == ()
    (told,) = texts(kept, "tile-over-hip")
    (finding,) = [each for each in kept.findings if each.code == "tile-over-hip"]
    # halfway along the valley from a corner of the frame to one of the floor, which is tiled to 8 off its walls
    assert finding.at is not None
    assert (abs(finding.at[0] - 2000), abs(finding.at[1] - 1500)) == pytest.approx(((100 + 1994) / 2, (100 + 1494) / 2), abs=8)
    assert told.startswith(f"floor: a tile 200 long over the valley stands {200 * bend / 4:.1f} out; up to {made.greatest:.0f} it would")


@pytest.mark.parametrize("floor", [-math.pi, -1.0, 0.0, 2.5])
def test_angles_of_a_ring_rise_from_the_first_which_is_not_under_the_floor(floor):
    """By complex numbers: each angle is that of its point, none is under the one before, and the first lies within a turn of the floor."""
    turns = np.array([2.9, 3.3, -2.0, -0.4, 0.3, 1.0])
    points = np.column_stack([700.0 * np.cos(turns), 700.0 * np.sin(turns)])
    found = _rising(points, floor)
    assert np.exp(1j * found) == pytest.approx(np.exp(1j * turns))
    assert floor - 1e-9 <= found[0] < floor + 2 * math.pi
    assert (np.diff(found) >= 0.0).all()
    assert found[-1] - found[0] < 2 * math.pi


def test_water_is_looked_for_unless_what_stands_is_given():
    """A bowl round its gully holds none; what is given is what is told."""
    plan = plan_of(BOX, tiles={"floor": {"size": [200, 200], "joint": 6}})
    lining = build_lining(plan, 0)
    falls = build_falls(plan, 0, lining.outline)
    assert falls is not None
    assert lining.floor.tile is not None
    asked = (plan, falls, lining.floor.gross, lining.outline, lining.floor.tile)
    assert measure_levels(*asked, None).ponds == ()
    pond = Pond((900.0, 800.0), 4.0, 0.12)
    assert measure_levels(*asked, [pond]).ponds == (pond,)


def test_a_drain_that_no_fall_leads_to_has_the_level_of_the_floor_there():
    """One plane for each wall to gully 1; gully 2 stands in one of them: 1:60 from the wall, off the planes themselves."""
    other = {"kind": "gully", "at": [700, 1500], "frame": [150, 150]}
    plan = plan_of({**BOX, "drains": [GULLY, other]}, tiles={"floor": {"size": [200, 200], "joint": 6}})
    lining = build_lining(plan, 0)
    levels = levels_of(drains=[GULLY, other])
    spots = {spot.what: spot for spot in spot_levels(levels, lining.outline, lining.floor.gross, [], (0.0, 0.0)).spots}
    owner = [facet for facet in levels.facets if facet.polygon.distance(shapely.Point(700, 1500)) < 200.0]
    assert owner
    a, b, c = owner[0].plane
    assert spots["gully 2"].level == pytest.approx(a * 700 + b * 1500 + c, abs=0.6)
    assert spots["gully 1"].level < spots["gully 2"].level < 0.0
