"""The plan: what a person said about the rooms, valid, snapped, in millimetres.

Nothing is derived here beyond names and numbers as typed; the lining does that.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal, TypeAlias

from layout.standards.measure import MEASURE_RULES, MeasureRule
from layout.standards.sealants import Sealant

if TYPE_CHECKING:
    import datetime as dt

    from layout.errors import Point
    from layout.plan.wishes import Criterion
    from layout.standards.products import Products
    from layout.standards.rules import RuleSet

Foot: TypeAlias = Literal["wall-through", "floor-through", "cove"]
WallRef: TypeAlias = "int | str"
PatternName: TypeAlias = Literal[
    "stack", "running", "diagonal", "herringbone", "double-herringbone", "basket-weave", "hexagon", "two-size", "own"
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Project:
    """Title block words; the date is the plan's, never the clock's."""

    title: str = "Untitled"
    number: str = ""
    date: dt.date | None = None
    revision: str = ""
    client: str = ""
    drawn_by: str = ""
    approved_by: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class GivenLine:
    """A start line that the person fixes: a distance from a wall's face, mm; the other way stays free."""

    wall: WallRef
    at: float
    face: Literal["bare", "membrane", "finished"] = "finished"


@dataclass(frozen=True, slots=True, kw_only=True)
class BorderCourse:
    """Courses of another tile along the walls, round the field."""

    tile: str
    courses: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Tile:
    """A tile and how it is laid.

    `size` is the measured work size, mm; `offset` the shift of a running bond as a part of the
    pitch; `turn` counts anticlockwise from `along` (the longest straight wall if None);
    `least_cut` mm; `bed` and `thickness` mm; `small` the side of the small square of two-size laying, mm. A `directional` face may not be turned.
    """

    name: str
    size: tuple[float, float] = (200.0, 200.0)
    thickness: float = 10.0
    joint: float = 6.0
    pattern: PatternName = "stack"
    offset: float = 0.5
    turn: float = 0.0
    along: WallRef | None = None
    least_cut: float = 100.0
    bed: float = 3.0
    directional: bool = False
    scatter: float | None = None
    rectified: bool = False
    start: Point | None = None
    start_line: GivenLine | None = None
    small: float | None = None
    cell: tuple[tuple[Point, ...], ...] = ()
    vectors: tuple[Point, ...] = ()
    border: BorderCourse | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Rules:
    """What the plan asks of joints, walls and tape; lengths in mm."""

    movement: RuleSet
    movement_given: bool = True
    wall_tolerance: float = 5.0
    tolerance: float = 1.0
    foot: Foot = "wall-through"
    cove: tuple[float, float] = (100.0, 30.0)
    cove_set: Literal["fall", "level"] = "fall"
    skirting: tuple[float, float] | None = None
    datum: tuple[WallRef, ...] = ()
    start_order: tuple[Criterion, ...] = ()
    start_weights: tuple[tuple[Criterion, float], ...] = ()
    binding: tuple[str, ...] = ()
    membrane: float = 2.0
    perimeter_joint: float = 8.0
    edge_gap: float = 8.0
    movement_joint: float = 8.0
    pipe_joint: float = 8.0
    drain_joint: float | None = None
    bays: Literal["shift", "cut"] = "shift"
    carry_joints: Literal["structural", "all", "none"] = "structural"
    wall_movement: RuleSet | None = None
    measurement: MeasureRule = field(default_factory=lambda: MEASURE_RULES["NET"])
    sealant: Sealant = field(default_factory=Sealant)
    tape_external: bool = False
    tape_joints: bool = True
    tape_joint_clear: float = 150.0
    membrane_type: Literal["reaction-resin", "dispersion", "polymer-cement"] = "reaction-resin"
    exposure: Literal["W0-I", "W1-I", "W2-I", "W3-I"] = "W3-I"
    quartz_last: bool = False
    courses: Literal["best", "floor", "datum", "head"] = "best"
    datum_line: float = 1000.0
    wall_joints: Literal["balanced", "floor"] = "balanced"
    falls: Literal["cut", "accept"] = "cut"
    fall_range: str = "UK_WET_FLOOR"
    max_tiles: int = 2_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Vertex:
    """A typed corner; `bulge` belongs to the edge that arrives at it, as typed."""

    x: float
    y: float
    bulge: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class WallNote:
    """What differs on one wall."""

    wall: WallRef
    name: str | None = None
    tanking_height: float | None = None
    tile_height: float | None = None
    tile: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """A door (sill 0) or a hatch or window; `offset` from the first typed corner or a named end."""

    wall: WallRef
    offset: float
    width: float
    head: float = 2100.0
    sill: float = 0.0
    depth: float = 0.0
    measured_from: Literal["first", "left", "right"] = "first"
    name: str = ""
    threshold: Literal["strip", "upstand", "step", "floor"] = "strip"
    threshold_height: float = 0.0
    level: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Drain:
    """A gully (`at`, `frame`) or a channel (`start`, `end`, `frame[1]` wide); flange width mm."""

    kind: Literal["gully", "channel"]
    name: str
    at: Point
    frame: tuple[float, float]
    turn: float = 0.0
    flange: float = 50.0
    joint: float | None = None
    level: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Solid:
    """A plinth (with a height) or a column (none: to the ceiling)."""

    name: str
    outline: tuple[Vertex, ...]
    height: float | None = None
    on: Literal["slab", "membrane"] = "slab"
    tile: str | None = None
    tile_height: float | None = None
    tanking_height: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Break:
    """A pipe (round) or a fixing (rectangular), through the floor or a wall."""

    name: str
    at: Point | None = None
    wall: WallRef | None = None
    offset: float = 0.0
    level: float = 0.0
    measured_from: Literal["first", "left", "right"] = "first"
    diameter: float | None = None
    size: tuple[float, float] = (0.0, 0.0)
    turn: float = 0.0
    collar: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StructuralJoint:
    """A line that tile may not cross: a joint of the structure, a change of the substrate, or of the floor's finish."""

    line: tuple[Point, Point]
    width: float = 20.0
    name: str = ""
    of: Literal["structure", "substrate", "finish"] = "structure"


@dataclass(frozen=True, slots=True, kw_only=True)
class DayJoint:
    """A line across the floor where one day's or one phase's membrane ends."""

    line: tuple[Point, Point]
    name: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fall:
    """A fall of the floor, or of a region of it, to a named drain or in a given plane.

    `ratio` is one in this many, on the longest way of a level perimeter, of every plane otherwise; `drop` mm instead.
    With a `level` perimeter the walls' line is level; a `free` one follows the planes; `threshold` does so and keeps the
    highest threshold at the floor's level. `plane` is three points x, y, level.
    """

    name: str
    to: str = ""
    ratio: float | None = None
    drop: float | None = None
    region: tuple[Point, ...] = ()
    perimeter: Literal["level", "free", "threshold"] | None = None
    plane: tuple[tuple[float, float, float], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomLevels:
    """Levels of a room: finished floor at its walls, mm; the site's level of ±0, m; slab or least screed, mm."""

    floor: float = 0.0
    datum: float | None = None
    screed: float = 25.0
    slab: float | None = None
    steps: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """A pull that the plan asks for: what of the lattice should fall on a thing, a wall, a door or a point.

    `room` is the earlier room whose joints are carried on through a door.
    """

    want: Literal["tile", "crossing", "joint", "whole", "axis", "carry"]
    to: WallRef | None = None
    at: Point | None = None
    room: str = ""
    weight: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """One room as typed: outline corners in the user's order and direction."""

    name: str
    outline: tuple[Vertex, ...]
    outline_is: Literal["substrate", "finished"] = "substrate"
    tanking_height: float = 150.0
    tile_height: float = 0.0
    floor_tile: str = "floor"
    wall_tile: str = "wall"
    at: Point = (0.0, 0.0)
    turn: float = 0.0
    walls: tuple[WallNote, ...] = ()
    openings: tuple[Opening, ...] = ()
    drains: tuple[Drain, ...] = ()
    plinths: tuple[Solid, ...] = ()
    columns: tuple[Solid, ...] = ()
    pipes: tuple[Break, ...] = ()
    fixings: tuple[Break, ...] = ()
    structural_joints: tuple[StructuralJoint, ...] = ()
    day_joints: tuple[DayJoint, ...] = ()
    height: float | None = None
    falls: tuple[Fall, ...] = ()
    levels: RoomLevels = field(default_factory=RoomLevels)
    pulls: tuple[Wanted, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A whole plan. `source` is the file's name, for messages only."""

    source: str
    project: Project
    tiles: dict[str, Tile]
    rules: Rules
    products: Products
    rooms: tuple[Room, ...]
    place: tuple[str, ...] = field(default=())

    def __repr__(self) -> str:
        return f"<Plan {self.source}: {', '.join(room.name for room in self.rooms[:3])}{', …' if len(self.rooms) > 3 else ''}>"

    def tile(self, name: str) -> Tile:
        """The tile of a name; wall and plinth fall back to floor."""
        return self.tiles.get(name) or self.tiles["floor"]
