"""What a plan asks of joints, walls, tape and courses: each key declared once."""

from __future__ import annotations

from dataclasses import field
from typing import TYPE_CHECKING, Literal, TypeAlias

from layout.codes import CODES
from layout.fields import Choice, Count, Entry, Field, Flag, Many, Number, WallName, words_of
from layout.keys import declared, key
from layout.plan.tile import NOT_NEGATIVE, POSITIVE, SIZE, WallRef
from layout.plan.wishes import CRITERIA, WEIGHED, Criterion
from layout.standards.measure import MEASURE_RULES, MeasureRule
from layout.standards.rules import DEFAULT_RULE_SET, FALL_RANGES, FLOOR_SETS, RULE_SETS, WALL_SETS, RuleSet
from layout.standards.sealants import Sealant

if TYPE_CHECKING:
    from typing import Any

    from layout.errors import Point
    from layout.fields import Faults

Foot: TypeAlias = Literal["wall-through", "floor-through", "cove"]
Bays: TypeAlias = Literal["shift", "cut"]
Carry: TypeAlias = Literal["structural", "all", "none"]
CoveSet: TypeAlias = Literal["fall", "level"]
MembraneType: TypeAlias = Literal["reaction-resin", "dispersion", "polymer-cement"]
Exposure: TypeAlias = Literal["W0-I", "W1-I", "W2-I", "W3-I"]
Courses: TypeAlias = Literal["best", "floor", "datum", "head"]
WallJoints: TypeAlias = Literal["balanced", "floor"]
Priced: TypeAlias = Literal["measured", "with spares", "packs"]
OverHips: TypeAlias = Literal["cut", "accept"]
Weights: TypeAlias = tuple[tuple[Criterion, float], ...]


class WeightTable(Field[Weights]):
    """Criteria of the start with their weights: a table of numbers."""

    part = Number(0.0, length=False)
    says = "a table of criteria and weights, as { narrowest = 1, pulls = 0.5 }"

    def read(self, value: object, place: str, faults: Faults) -> Weights | None:
        if not isinstance(value, dict):
            self.wrong(value, place, faults)
            return None
        before = len(faults.found)
        found = []
        for name, each in value.items():
            if name in WEIGHED:
                weight = self.part.read(each, f"{place}.{name}", faults)
                found += [] if weight is None else [(name, weight)]
            else:
                Choice[str](WEIGHED).read(name, place, faults)
        return None if len(faults.found) > before else tuple(found)

    def write(self, value: Weights) -> dict[str, float]:
        return {name: self.part.write(weight) for name, weight in value}

    def schema(self) -> dict[str, Any]:
        each = {**self.part.schema(), "description": "weight of a millimetre of it; of a metre of wall for cuts"}
        return {"type": "object", "properties": dict.fromkeys(WEIGHED, each), "additionalProperties": False}


@declared
class Rules:
    """What the plan asks of joints, walls and tape; lengths in mm.

    `movement`, `movement_joint`, `perimeter_joint` and `sealant` are settled from what is typed (`asked`, `bay_edge` and their
    like, and the plan's [sealant]) by `layout.plan.agree.settled`; what is typed stays beside it.
    """

    asked: RuleSet | None = key(
        Entry(RULE_SETS, FLOOR_SETS),
        "movement joint rule set by its published source and condition",
        spelt="movement",
        default=None,
        shown=DEFAULT_RULE_SET,
    )
    wall_movement: RuleSet | None = key(
        Entry(RULE_SETS, WALL_SETS), "rule set for joints in tiled walls", default=None, left_out="none", example=WALL_SETS[0]
    )
    measurement: MeasureRule = key(
        Entry(MEASURE_RULES, tuple(MEASURE_RULES)),
        "rule of measurement for tiled areas, beside the net figures",
        default=MEASURE_RULES["NET"],
    )
    bays: Bays = key(words_of(Bays), "beyond a joint whole tiles start afresh, or one lattice is cut through", default="shift")
    carry_joints: Carry = key(words_of(Carry), "floor joints that run on up tiled walls and over plinths", default="structural")
    max_edge: float | None = key(
        POSITIVE, "tighten the set: longest side of a bay", unit="mm", default=None, left_out="the set's", example=6000
    )
    max_area: float | None = key(
        Number(0, above=True, length=False), "tighten the set: greatest bay", unit="m2", default=None, left_out="the set's", example=36
    )
    max_aspect: float | None = key(
        Number(1.05, length=False), "tighten the set: long over short side of a bay", default=None, left_out="the set's", example=1.5
    )
    joint_asked: float | None = key(
        POSITIVE,
        "width of intermediate joints; never under the set's least",
        unit="mm",
        spelt="movement_joint",
        default=None,
        left_out="the set's",
        example=8,
    )
    perimeter_asked: float | None = key(
        POSITIVE,
        "width of perimeter, plinth and column joints",
        unit="mm",
        spelt="perimeter_joint",
        default=None,
        left_out="the set's",
        example=8,
    )
    edge_gap: float = key(
        NOT_NEGATIVE,
        'gap between the floor tile and the wall, under the wall tile, where foot = "floor-through"',
        unit="mm",
        default=8.0,
    )
    pipe_joint: float = key(NOT_NEGATIVE, "sealant ring round pipes", unit="mm", default=8.0)
    drain_joint: float | None = key(
        NOT_NEGATIVE, "sealant joint round drain frames; 0 for none", unit="mm", default=None, left_out="by frame length", example=8
    )
    wall_tolerance: float = key(NOT_NEGATIVE, "how far a wall may stand from the drawing", unit="mm", default=5.0)
    edge_joint_range: Point = key(
        SIZE, "how narrow and how wide the joint along a wall may come out (5 to 15 is common practice)", unit="mm", default=(5.0, 15.0)
    )
    joint_play: float = key(
        NOT_NEGATIVE, "how much each tile joint may open or close so that a run ends on the wall (common practice)", unit="mm", default=0.5
    )
    gauge: bool = key(
        Flag(),
        "take the gauge on floors in stack or running bond: joints of a direction opened or closed by up to joint_play, never under the "
        "least joint, so that runs come out in whole tiles or an end cut falls away or reaches the least",
        default=False,
        since="0.2",
    )
    frame_joint_play: float = key(
        NOT_NEGATIVE,
        "how much narrower the joint round a drain's frame or a fixing is made where that keeps the tiles beside it whole "
        "(common practice, no source); never under the least joint",
        unit="mm",
        default=3.0,
    )
    least_bite: float = key(
        NOT_NEGATIVE,
        "what walls, columns and plinths take off a tile, up to so deep, is told: no saw cuts so little (common practice, no source)",
        unit="mm",
        default=3.0,
        since="0.2",
    )
    tolerance: float = key(Number(0, 20), "the saw's: cuts alike within it share a mark", unit="mm", default=1.0)
    offcuts: bool = key(
        Flag(),
        "what is left of a cut tile gives other pieces, its factory edges kept at open joints; false: a tile for each place",
        default=True,
    )
    kerf: float = key(
        NOT_NEGATIVE, "what the saw takes out between two pieces (1.2 to 3 common, common practice, no source)", unit="mm", default=2.0
    )
    saw_play: float = key(
        NOT_NEGATIVE,
        "how far a cut may wander: room left beside the kerf between two pieces of one tile, so that each comes out as told "
        "(0.5 to 1 common, common practice, no source); sizes told are rounded down, so a piece as told goes in",
        unit="mm",
        default=0.0,
        example=0.5,
    )
    least_offcut: float = key(NOT_NEGATIVE, "narrowest rest of a tile that is kept (common practice, no source)", unit="mm", default=50.0)
    breakage: float = key(Number(0, 1, length=False), "part of the cut tiles that break at the saw", default=0.0, example=0.03)
    foot: Foot = key(words_of(Foot), "which runs through at the foot of a wall", default="wall-through")
    cove: Point = key(SIZE, "rise and foot of the cove", unit="mm", default=(100.0, 30.0))
    cove_set: CoveSet = key(words_of(CoveSet), "the top of a cove follows the floor's fall, or is level at its highest", default="fall")
    skirting: Point | None = key(
        SIZE,
        'length and height of skirting pieces: coved ones with foot = "cove", else sit-on ones on untiled walls',
        unit="mm",
        default=None,
        left_out="none",
        example=[300, 100],
    )
    datum: tuple[WallRef, ...] = key(
        Many(WallName()), "walls that do not move: offsets are measured from them", default=(), example=[1, "servery"]
    )
    start_order: tuple[Criterion, ...] = key(
        Many(words_of(Criterion), 1, len(CRITERIA)),
        "criteria of the start in order; those left out come behind",
        default=(),
        example=["least", "narrowest"],
    )
    start_weights: Weights = key(
        WeightTable(),
        "criteria of the start weighed against each other, instead of an order",
        default=(),
        example={"narrowest": 1, "pulls": 0.5},
    )
    binding: tuple[str, ...] = key(
        Many(Choice[str](tuple(CODES))), "finding codes whose presence gives exit status 1", default=(), example=["pond"]
    )
    membrane: float = key(NOT_NEGATIVE, "thickness of the membrane", unit="mm", default=2.0)
    tape_external: bool = key(Flag(), "the system tapes external edges too", default=False)
    tape_joints: bool = key(Flag(), "runs of tape may be joined anywhere; else only where they are longer than a roll", default=True)
    tape_joint_clear: float = key(NOT_NEGATIVE, "how far a lap in a run keeps from a corner", unit="mm", default=150.0)
    membrane_type: MembraneType = key(words_of(MembraneType), "for its least dry film", default="reaction-resin")
    exposure: Exposure = key(words_of(Exposure), "class of exposure to water", default="W3-I")
    priced: Priced = key(
        words_of(Priced), "which quantity rates price: as measured, with spares and losses, or whole packs", default="measured", since="0.2"
    )
    quartz_last: bool = key(Flag(), "broadcast quartz on the floor's last coat too", default=False)
    courses: Courses = key(
        words_of(Courses),
        "where wall courses start, level round the room: for the widest cuts, on the floor, on the datum line, on the widest opening's head",
        default="best",
    )
    datum_line: float = key(NOT_NEGATIVE, "level line that walls are measured from, above the finished floor", unit="mm", default=1000.0)
    wall_joints: WallJoints = key(
        words_of(WallJoints), "upright joints of a wall: balanced by itself, or in line with the floor's", default="balanced"
    )
    falls: OverHips = key(words_of(OverHips), "tiles too long for a hip or valley are cut along it, or laid over it", default="cut")
    fall_range: str = key(Choice[str](tuple(FALL_RANGES)), "published range of falls to check against", default="UK_WET_FLOOR")
    max_tiles: int | None = key(
        Count(1, 50_000_000),
        "another name of budgets.tiles, which it goes before",
        default=None,
        left_out="budgets.tiles",
        example=3_000_000,
    )
    movement: RuleSet = field(default=RULE_SETS[DEFAULT_RULE_SET])
    movement_joint: float = field(default=8.0)
    perimeter_joint: float = field(default=8.0)
    sealant: Sealant = field(default=Sealant())

    @property
    def between_pieces(self) -> float:
        """What lies between two pieces of one tile, mm: the kerf, and how far the cut may wander."""
        return self.kerf + self.saw_play

    @property
    def movement_given(self) -> bool:
        """Whether the plan names a rule set."""
        return self.asked is not None
