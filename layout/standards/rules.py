"""Rules as data: movement-joint rule sets with their published source, and the trade's figures.

Adding a rule set is adding an entry to `RULE_SETS`. Limits of two sets are never mixed: where
sources conflict, the person who makes the plan picks one by name.
"""

from __future__ import annotations

from dataclasses import dataclass

from layout.errors import Rule

STOCK_WIDTHS = (6.0, 8.0, 10.0, 12.0, 15.0, 20.0, 25.0, 30.0)
"""Joint widths a plan is rounded up to, mm (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleSet:
    """Greatest bay and least joint by one published rule.

    `max_edge` mm, `max_area_m2`, `max_aspect` (long over short side); None where the source gives
    no limit. `min_width` mm is the least width of a joint. `reentrant` says that the rule asks for
    a joint at every re-entrant corner of the room. `condition` is what the row of the source is for,
    `perimeter` what the source says of joints at walls and obstructions; wet rooms get them always. `wider_by_temperature` says that
    the joints take the tile's movement over a range of temperature on top (`sealants.exterior_extra`).
    """

    name: str
    source: str
    status: str
    max_edge: float
    max_area_m2: float | None
    max_aspect: float | None
    min_width: float
    condition: str
    perimeter: str
    reentrant: bool = False
    on: str = "floor"
    wider_by_temperature: bool = False

    def joint_width(self) -> float:
        """Least width of the set, rounded up to a stock width, mm."""
        return next((width for width in STOCK_WIDTHS if width >= self.min_width), self.min_width)


def _sets(*sets: RuleSet) -> dict[str, RuleSet]:
    return {each.name: each for each in sets}


RULE_SETS = _sets(
    RuleSet(
        name="EJ171_INTERIOR",
        source="TCNA handbook detail EJ171, interior, at most 25 ft each way, joint 1/4 in",
        status="as reported by trade magazines; the handbook itself decides",
        max_edge=7620.0,
        max_area_m2=None,
        max_aspect=None,
        min_width=6.35,
        condition="interior, dry, out of direct sun",
        perimeter="walls, other floors, curbs, columns, pipes, all inside corners; not at drain strainers",
    ),
    RuleSet(
        name="EJ171_INTERIOR_WET_SUN",
        source="TCNA handbook detail EJ171, interior with moisture or sun, at most 12 ft each way",
        status="as reported by trade magazines; the handbook itself decides",
        max_edge=3657.6,
        max_area_m2=None,
        max_aspect=None,
        min_width=6.35,
        condition="interior with moisture or direct sun",
        perimeter="walls, other floors, curbs, columns, pipes, all inside corners; not at drain strainers",
    ),
    RuleSet(
        name="UK_FLOOR",
        source="BS 5385-3 as reported by The Tile Association's guide, internal floors 8 to 10 m",
        status="secondary source; the standard itself decides",
        max_edge=10000.0,
        max_area_m2=None,
        max_aspect=None,
        min_width=6.0,
        condition="internal floor, even temperature",
        perimeter="round the floor with its thresholds, pillars, fixed plant; may be left out to about 2 x 2 m",
    ),
    RuleSet(
        name="UK_FLOOR_HEATED",
        source="BS 5385 practice for heated or thermally loaded floors: 40 m2, edge 8 m",
        status="secondary source; the standard itself decides",
        max_edge=8000.0,
        max_area_m2=40.0,
        max_aspect=None,
        min_width=6.0,
        condition="heated floor or strong thermal change",
        perimeter="round the floor with its thresholds, pillars, fixed plant, whatever its size",
    ),
    RuleSet(
        name="DE_INTERIOR",
        source="German and Austrian practice for interior bays: edge 8 m, 40 m2, aspect 1:2, divided at re-entrant corners",
        status="secondary sources (one page says 7 m); DIN 18560-2 leaves it to the planner",
        max_edge=8000.0,
        max_area_m2=40.0,
        max_aspect=2.0,
        min_width=5.0,
        condition="interior",
        perimeter="at walls, risers, door frames, at least 5 mm; 10 mm on heated screed",
        reentrant=True,
    ),
    RuleSet(
        name="AU_FLOOR_INTERNAL",
        source="AS 3958.1 as reported by a trade glossary, internal floors 4.5 m",
        status="conflicts with another report (9 m, or 6 m in sun); the standard itself decides",
        max_edge=4500.0,
        max_area_m2=None,
        max_aspect=None,
        min_width=6.0,
        condition="internal floor",
        perimeter="always at perimeter, columns, joinery, penetrations, 6 to 10 mm wide",
    ),
    RuleSet(
        name="EJ171_EXTERIOR_8FT",
        source="TCNA handbook detail EJ171, exterior, 8 ft centres, joint at least 3/8 in",
        status="as reported by trade magazines; the handbook itself decides",
        max_edge=2438.4,
        max_area_m2=None,
        max_aspect=None,
        min_width=9.53,
        condition="exterior, 8 ft centres",
        perimeter="walls, other floors, curbs, columns, pipes, all inside corners; not at drain strainers, all outside corners",
        wider_by_temperature=True,
    ),
    RuleSet(
        name="EJ171_EXTERIOR_12FT",
        source="TCNA handbook detail EJ171, exterior, 12 ft centres, joint at least 1/2 in",
        status="as reported by trade magazines; the handbook itself decides",
        max_edge=3657.6,
        max_area_m2=None,
        max_aspect=None,
        min_width=12.7,
        condition="exterior, 12 ft centres",
        perimeter="walls, other floors, curbs, columns, pipes, all inside corners; not at drain strainers, all outside corners",
        wider_by_temperature=True,
    ),
    RuleSet(
        name="UK_FLOOR_EXTERNAL",
        source="BS 5385-3:2024 as reported by a trade magazine, external floors 3 to 5 m",
        status="spacing from a secondary source, width from memory; the standard itself decides",
        max_edge=5000.0,
        max_area_m2=None,
        max_aspect=None,
        min_width=6.0,
        condition="external floor",
        perimeter="round the floor with its thresholds, pillars, fixed plant, whatever its size",
    ),
    RuleSet(
        name="DE_EXTERIOR",
        source="German dealer's page on bay joints, exterior: 25 m2, edge 5 m",
        status="secondary source; width common practice, no source",
        max_edge=5000.0,
        max_area_m2=25.0,
        max_aspect=2.0,
        min_width=8.0,
        condition="exterior",
        perimeter="at walls, risers, door frames, at least 5 mm; 10 mm on heated screed",
        reentrant=True,
    ),
    RuleSet(
        name="UK_WALL",
        source="The Tile Association, Tiling Guide p 14: walls 3 to 4.5 m both ways and at vertical corners",
        status="secondary source; the standard itself decides",
        max_edge=4500.0,
        max_area_m2=None,
        max_aspect=None,
        min_width=6.0,
        condition="wall",
        perimeter="vertical corners and abutments",
        on="wall",
    ),
)

DEFAULT_RULE_SET = "EJ171_INTERIOR_WET_SUN"
"""Resin-set floors see hot wash-down: the wet row by default (common practice, no source)."""
FLOOR_SETS = tuple(name for name, each in RULE_SETS.items() if each.on == "floor")
WALL_SETS = tuple(name for name, each in RULE_SETS.items() if each.on == "wall")

TANKING_RETURN = Rule(150.0, "mm", "common practice, no source")
CORNER_PLAY = Rule(15.0, "deg", "common practice, no source: a preformed piece fits 90 within 15")
UPRIGHT_LEAST_TURN = Rule(5.0, "deg", "common practice, no source: flatter walls need no upright tape")
REENTRANT_LEG = Rule(500.0, "mm", "common practice, no source: smaller jogs do not notch a floor")
FLANGE_TO_UPSTAND = Rule(300.0, "mm", "drain flange edge to upstand or next part, a drain-maker's page on DIN 18534")
UPSTAND_LEAST = Rule(50.0, "mm above the finished floor", "DIN 18534 from memory; 150 is the cautious figure")
TANKING_LEAST = Rule(150.0, "mm", "UK practice: 150 mm upstand; common practice, no source")
DRY_FILM = {
    "reaction-resin": Rule(1.0, "mm", "DIN 18534 as reported by a trade page: reaction resin"),
    "dispersion": Rule(0.5, "mm", "DIN 18534 as reported by a trade page: polymer dispersion"),
    "polymer-cement": Rule(2.0, "mm", "DIN 18534 as reported by a trade page: polymer-modified cement"),
}
DAY_LAP = Rule(100.0, "mm", "common practice, no source: a day's membrane is lapped, sanded and primed")
TEST_POINTS = {
    "wet film": Rule(10.0, "m²", "common practice, no source; DIN 18534 asks for proof of thickness, documented for W3-I"),
    "pull-off": Rule(35.0, "m², at least 3", "common practice, no source"),
    "moisture": Rule(50.0, "m²", "common practice, no source"),
}
TEST_POINTS_LEAST = {"pull-off": 3}
"""So many points of a test at least, however small the floor (common practice, no source): the unit of its rule says it."""
FLANGE_TO_JOINT = Rule(500.0, "mm", "drain flange edge to movement joint, German practice for tanked wet rooms")
DRAIN_JOINT_FROM = Rule(300.0, "mm", "common practice, no source: longer frames move with hot water")
JOINT_PER_SCATTER = Rule(3.0, "times the facial variation", "ANSI A108.02 4.3.8: joint at least 3 x the actual variation")
JOINT_LEAST = Rule(1.6, "mm", "ANSI A108.02 4.3.8: never below 1/16 in")
BOND_SIDE = Rule(381.0, "mm", "ANSI A108.02: sides above 15 in")
BOND_OFFSET = Rule(
    1.0 / 3.0, "part", "ANSI A108.02: at most 33 % offset for sides above 15 in, more needs a mock-up; a third is normally accepted"
)
RESIN_JOINT_LEAST = Rule(
    3.0, "mm", "common practice, no source: narrower joints are hard to fill with resin grout; UFGS 09330 asks 6 to 10 for quarry tile"
)
RESIN_JOINT_DEPTH = Rule(
    3.0,
    "times the joint",
    "common practice, no source: resin grout is pressed in from above and does not fill a joint three times as deep as wide; "
    "UFGS 09330 asks 6 to 10 for quarry tile",
)
ARRIS_LEAST = Rule(150.0, "mm", "common practice, no source: a narrower strip of tile beside an arris is cut off by the next knock")
GAP_LEAST = Rule(
    150.0, "mm", "common practice, no source: a hand with a trowel; two tapes of half their width each side and a joint at both faces"
)
LIPPAGE = Rule(1.0, "mm", "NHBC Standards 9.1.7, adjacent tiles, joints to 6 mm")
LIPPAGE_WIDE = Rule(2.0, "mm", "NHBC Standards 9.1.7, adjacent tiles, wider joints")
STRETCH_COUNTS = Rule(0.001, "of the area", "slopes to about 1:22 differ by less from their plan; common practice, no source")
SCREED_LEAST = Rule(25.0, "mm", "bonded screed at its thinnest, BS 8204-1 from memory")
SLIVER = Rule(3.0, "mm", "common practice, no source")
"""A strip no wider than this beyond a tile at a wall is taken up by its joint."""
WEAK_NECK = Rule(30.0, "mm", "common practice, no source: a narrower neck breaks on the saw")
CRUMBS = Rule(0.1, "of the cut tiles", "common practice, no source: more small pieces along a hip are laid faster in small tile or mosaic")
RAMP_STEEPEST = Rule(12.0, "1 in", "ADA Standards 2010, 405.2, from memory; local codes go before")
RAMP_FOOT = Rule(0.0, "mm", "EJ171 wants movement joints where the plane of the tile changes, from memory")
WEAK_EDGE = Rule(20.0, "mm", "common practice, no source: a hole nearer to an edge breaks out")


@dataclass(frozen=True, slots=True)
class FallRange:
    """Flattest and steepest fall of a published range, one in this many."""

    flattest: float
    steepest: float
    source: str


FALL_RANGES = {
    "UK_WET_FLOOR": FallRange(80.0, 35.0, "UK wet floors 1:80 to 1:35, from memory"),
    "NCC_2022": FallRange(80.0, 50.0, "NCC 2022, wet areas with a floor waste, 1:80 to 1:50, as a drawing note to AS 3740 reports it"),
    "KITCHEN": FallRange(100.0, 66.7, "commercial kitchens 1 to 1.5 %, an article on kitchen floor drains"),
    "PROCESS": FallRange(
        100.0,
        20.0,
        "process floors that are washed down, at least 1:100 to gullies, a plant standard's excerpt; no steepest given, 1:20 here",
    ),
}
"""Published ranges of falls; the plan picks one by name."""
