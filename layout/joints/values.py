"""What a division of a surface starts from and what comes of it, as frozen values in the joint frame (mm)."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field, fields
from typing import TYPE_CHECKING, Generic, Literal, TypeAlias, TypeVar

import numpy as np

from layout.shapes import parts_of
from layout.units import TOUCH

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from shapely import Polygon
    from shapely.geometry.base import BaseGeometry

    from layout.errors import Point
    from layout.plan.values import Rules
    from layout.vectors import Floats

Value = TypeVar("Value")
KEPT = 512
"""So many parts stay at hand with what was found of them: while a start is looked for the same part is cut again and again."""
FieldKind: TypeAlias = Literal["intermediate", "structural"]
"""Joints that run through a surface, not along its edge."""


@dataclass(frozen=True, slots=True)
class Lattice1D:
    """One direction of a lattice: module, work size, and whether joints run straight across it."""

    pitch: float
    size: float
    straight: bool
    shifts: tuple[float, ...] = ()

    def narrowest_at(self, low: float, width: float) -> float:
        """Narrowest piece that a cut with faces `low` and `low + width` leaves in any course, mm; courses stand off by `shifts`."""
        left = np.mod(low - np.array(self.shifts), self.pitch)
        right = self.size - np.mod(low + width - np.array(self.shifts), self.pitch)
        sides = np.concatenate([left, right])
        cut = (sides > TOUCH) & (sides < self.size - TOUCH)
        return float(sides[cut].min()) if cut.any() else self.size


@dataclass(frozen=True, slots=True)
class FixedLine:
    """A cut whose place is given: low face along its axis (0: x = low, 1: y = low), mm; `must` if it is made whatever the rule.

    With `spans` (low, high along the other axis) it is a kept joint: it parts those bays only that it ran through.
    """

    axis: int
    low: float
    width: float
    kind: FieldKind
    why: str
    corner: Point | None = None
    must: bool = False
    bridged: bool = True
    spans: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class KeptLattice:
    """Where the tiles of a bay stand that is snapped: a corner of a tile, and the bay's region (None: the whole surface)."""

    origin: Point
    bay: BaseGeometry | None = None


@dataclass(frozen=True, slots=True)
class PreferredLine:
    """A centre line on which a cut is liked by the parts that meet what stands there: column lines, door jambs."""

    axis: int
    at: float
    why: str
    place: Point | None = None


@dataclass(frozen=True, slots=True)
class Obstacle:
    """A thing that joints keep clear of: bounds in the joint frame, hidden rim and the distance wanted from that, mm.

    With an `axis` only cuts of that one: a low line may be crossed, not followed.
    """

    bounds: tuple[float, float, float, float]
    rim: float
    wanted: float = 0.0
    axis: int | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Itself(Generic[Value]):
    """A value as a key that is like itself alone: a shape of many corners is looked up at no cost, one that is like it is another."""

    value: Value

    def __hash__(self) -> int:
        return id(self.value)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Itself) and other.value is self.value


@dataclass(frozen=True, slots=True)
class Undivided:
    """A region before its movement joints: the rules, the lattice each way, and the lines given, liked and avoided.

    `first_axis` is the direction of the wall that tiles follow: of two cuts as good the one across it is made. Where there are
    `kept` lattices every bay goes by one of them. `parts` are the region's polygons.
    """

    region: BaseGeometry
    rules: Rules
    lattice: tuple[Lattice1D, Lattice1D]
    fixed: tuple[FixedLine, ...] = ()
    obstacles: tuple[Obstacle, ...] = ()
    preferred: tuple[PreferredLine, ...] = ()
    first_axis: int = 0
    kept: tuple[KeptLattice, ...] = ()
    parts: tuple[Polygon, ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "parts", tuple(parts_of(self.region)))

    def __hash__(self) -> int:
        """As many things as there may be in a room are left out: to hash each of them costs more than to compare two tasks that are alike."""
        return hash((self.region, self.lattice, self.first_axis, len(self.obstacles)))


@dataclass(frozen=True, slots=True, eq=False)
class Rejected:
    """A cut that was weighed and not made: its centre lines, what it was, and the figure that rejected it.

    `by_rule` is `why` without the rule set's name, for the crew.
    """

    lines: tuple[Floats, ...]
    what: str
    why: str
    by_rule: str


@dataclass(frozen=True, slots=True, eq=False)
class Parting:
    """A cut that was made: low face along its axis and width, mm; `segments` (2, 2) are its centre lines where tile lies on both sides.

    `dropped` mm² is what of its strip lies along an edge of the region: neither bay nor joint, it widens the sealant of that edge.
    """

    axis: int
    low: float
    width: float
    kind: FieldKind
    why: str
    fixed: bool
    segments: tuple[Floats, ...]
    bridged: bool = True
    dropped: float = 0.0


@dataclass(frozen=True, slots=True)
class OwnStart:
    """Where the lattice of a bay beside given joints starts; along which axes it does so for itself; what is told of that."""

    origin: Point
    own: tuple[bool, bool] = (False, False)
    told: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Division:
    """Bays with the start of their lattice, the cuts between them, why bays break the rule, and what was weighed and not made.

    What speaks against each that was `weighed` is found only when it is asked for: most divisions are steps of a search. `own` tells for each bay along which axes it starts for itself, whatever the start of the whole; `told` what was noticed of that.
    """

    bays: tuple[tuple[Polygon, Point], ...] = ()
    cuts: tuple[Parting, ...] = ()
    broken: tuple[str, ...] = ()
    weighed: tuple[Callable[[], tuple[Rejected, ...]], ...] = ()
    own: tuple[tuple[bool, bool], ...] = ()
    told: tuple[str, ...] = ()

    @property
    def rejected(self) -> tuple[Rejected, ...]:
        """What was weighed and not made, with what speaks against it."""
        return tuple(each for told in self.weighed for each in told())

    @classmethod
    def joined(cls, parts: Iterable[Division]) -> Division:
        """Divisions as one: of several parts of a region, or of a part and what lies beyond its cuts."""
        found = tuple(parts)
        return cls(*(tuple(itertools.chain.from_iterable(getattr(each, f.name) for each in found)) for f in fields(cls)))
