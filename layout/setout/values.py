"""What setting out gives: a plan's rooms, their surfaces, starts and cuts, as values."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from layout.notebook import html_table
from layout.setout.equal import same
from layout.tiles.pieces import PieceKey
from layout.words import worded

if TYPE_CHECKING:
    from collections.abc import Iterable

    import numpy as np
    from numpy.typing import NDArray

    from layout.errors import Finding
    from layout.falls.levels import Levels
    from layout.identity import EdgeId
    from layout.joints.lines import Bay, MovementJoint
    from layout.joints.schedule import JointType
    from layout.joints.values import Rejected
    from layout.lining.build import Lining
    from layout.lining.surfaces import Surface
    from layout.plan.values import Plan, Tile
    from layout.start.measured import AtFoot, Lacking, NarrowPiece, View
    from layout.start.mends import Shift
    from layout.start.pulls import Pull
    from layout.start.start_lines import StartLine
    from layout.tanking.details import Clearance, Detail
    from layout.tanking.membrane import Film, Termination, TestPoint
    from layout.tanking.tape import Tape
    from layout.tiles.lay import TileField
    from layout.tiles.pieces import Cut

    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class RunnerUp:
    """Another start and what it would give, mm; why it comes behind; `laid` if it was laid to see, else the figures are of the edges along each direction."""

    origin: tuple[float, float]
    smallest: float
    worst: float
    why: str = ""
    laid: bool = True


PROVED = 1.0
"""A search that bounds what a better start gives to no more than this has proved its own, mm."""


@dataclass(frozen=True, slots=True)
class Start:
    """Where tiling starts and why; `origin` is the lower-left corner of the first whole tile.

    `smallest` and `worst` are the narrowest strip as drawn and over the walls' play; `piece` is the narrowest piece of all,
    corners and crumbs included, None where nothing is cut. `method` is how it was found: `exact`, the best along each direction of
    all starts, with the joints as they are; `search`, where a better one could give no more than `gap` mm; `tried`, the best of `tried`
    starts; `fixed` by the plan. `smallest_of` is the edge at which the narrowest strip is, `smallest_at` what it is called; None where
    nothing is cut. `view` parts the narrowest strip by what is in view, where the plan says that something is not. `lacking` is what the
    cuts in view lack to the tile's least, metre by metre; None of a border. `at_foot` is what is seen of the lowest course where that is less than
    its pieces are high.
    """

    origin: tuple[float, float]
    smallest: float
    worst: float
    smallest_at: str
    method: Literal["exact", "search", "tried", "fixed"]
    lines: tuple[StartLine, ...]
    runners_up: tuple[RunnerUp, ...]
    gap: float = 0.0
    pulls: tuple[Pull, ...] = ()
    piece: NarrowPiece | None = None
    tried: int = 0
    view: View | None = None
    smallest_of: EdgeId | None = None
    lacking: Lacking | None = None
    at_foot: AtFoot | None = None

    def known(self, tolerance: float, *, joints: bool) -> str:
        """What is known of a start, in words that say no more than that: cuts within `tolerance` mm are equal; `joints` cross the surface.

        What a start could give more for walls out of square is added to what is equal, to a tenth of a millimetre.
        """
        if self.method == "fixed":
            return worded("given in the plan")
        if self.method == "tried":
            return worded("the best of {tried} starts tried, cuts within {tolerance:g} being equal", tried=self.tried, tolerance=tolerance)
        if self.method == "search":
            if self.gap > PROVED:
                return worded(
                    "the best of {tried} starts tried; none can give over {ceil} mm more", tried=self.tried, ceil=math.ceil(self.gap)
                )
            return worded("found by search; none gives over {proved:g} mm more", proved=PROVED)
        return worded(
            "chosen over all starts along the walls{joints}, cuts within {tolerance:g} being equal",
            joints=worded(" with these joints") if joints else "",
            tolerance=tolerance + math.ceil(10.0 * self.gap) / 10.0,
        )


@dataclass(frozen=True, slots=True, eq=False)
class WallCut:
    """The cut along one straight edge of a region, and what stands there: widths at its two ends, mm.

    `turns` are the widths that follow each other course by course where a bond shifts them, else empty.
    """

    of: EdgeId
    edge: Floats
    start: float
    end: float
    turns: tuple[float, ...] = ()

    @property
    def label(self) -> str:
        """What a person calls the edge."""
        return self.of.name


@dataclass(frozen=True, slots=True, eq=False)
class SurfaceSetOut:
    """One tiled surface: its bays, tiles, start and cuts.

    `mend` is a shift of the start that would leave fewer weak pieces or none, laid and measured as the plan would take it; `rejected` the joints that were weighed and not made;
    `stretch` its true area over that in plan, where a floor's fall makes them differ.
    """

    surface: Surface
    tile: Tile
    field: TileField
    bays: tuple[Bay, ...]
    start: Start
    wall_cuts: tuple[WallCut, ...]
    necks: tuple[tuple[float, tuple[float, float]], ...]
    lost_mm2: float
    mend: Shift | None = None
    rejected: tuple[Rejected, ...] = ()
    stretch: float = 1.0

    def __eq__(self, other: object) -> bool:
        return same(self, other) if isinstance(other, SurfaceSetOut) else NotImplemented

    def __hash__(self) -> int:
        return hash((self.surface.id, self.start, len(self.bays)))

    def __repr__(self) -> str:
        return f"<SurfaceSetOut {self.surface.name}: {self.field!r}, narrowest cut {self.start.smallest:.1f}>"

    @property
    def tiled_m2(self) -> float:
        """Area of its bays as tiled, on the slope where that counts, m²."""
        return math.fsum(bay.area_m2 for bay in self.bays) * self.stretch

    @property
    def turn(self) -> float:
        """Degrees of the lattice against the surface's x."""
        return self.field.turn


@dataclass(frozen=True, slots=True, eq=False)
class MembraneSetOut:
    """The membrane of a room: the lining as it runs (under plinths that stand on it), close details, ends, film, test points."""

    lining: Lining
    details: tuple[Detail, ...]
    clearances: tuple[Clearance, ...]
    terminations: tuple[Termination, ...]
    film: Film
    tests: tuple[TestPoint, ...]


@dataclass(frozen=True, slots=True)
class SharedDoor:
    """A door that is the door `other` of an earlier room: what of its threshold is measured there, mm."""

    door: str
    room: str
    other: str
    joint: float
    tape: float


@dataclass(frozen=True, slots=True, eq=False)
class RoomSetOut:
    """One room, set out."""

    lining: Lining
    surfaces: tuple[SurfaceSetOut, ...]
    joints: tuple[MovementJoint, ...]
    tape: Tape
    membrane: MembraneSetOut
    findings: tuple[Finding, ...]
    joint_types: tuple[JointType, ...] = ()
    levels: Levels | None = None
    shared: tuple[SharedDoor, ...] = ()

    def __eq__(self, other: object) -> bool:
        return same(self, other) if isinstance(other, RoomSetOut) else NotImplemented

    def __hash__(self) -> int:
        return hash((self.name, len(self.surfaces), len(self.joints), len(self.findings)))

    def __repr__(self) -> str:
        return f"<RoomSetOut {self.name}: {len(self.surfaces)} tiled surfaces, {len(self.findings)} findings>"

    @property
    def name(self) -> str:
        """The room's name."""
        return self.lining.room.name

    @property
    def floor(self) -> SurfaceSetOut:
        """The floor."""
        return self.surfaces[0]


@dataclass(frozen=True, slots=True, eq=False)
class SetOut:
    """A plan, set out: rooms, the cuts of all of them, and the mark of each piece; `order` is the place of each mark among the cuts."""

    plan: Plan
    rooms: tuple[RoomSetOut, ...]
    cuts: tuple[Cut, ...]
    marks: dict[PieceKey, str]
    order: dict[str, int] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "order", {cut.mark: k for k, cut in enumerate(self.cuts)})

    def __eq__(self, other: object) -> bool:
        return same(self, other) if isinstance(other, SetOut) else NotImplemented

    def __hash__(self) -> int:
        return hash((self.rooms, len(self.cuts), len(self.marks)))

    def __repr__(self) -> str:
        return f"<SetOut of {self.plan!r}: {len(self.rooms)} rooms, {len(self.cuts)} marks, {len(self.marks)} pieces>"

    def _repr_html_(self) -> str:
        """Rooms with their floors, and what to look at, as a notebook shows them."""
        rows = [
            (
                room.name,
                f"{room.lining.floor.gross.area / 1e6:.2f}",
                f"{room.floor.start.origin[0]:.0f}, {room.floor.start.origin[1]:.0f}",
                f"{room.floor.start.smallest:.0f}",
                len(room.floor.field.whole),
                room.floor.field.places_cut(),
                f"{math.fsum(joint.length for joint in room.joints) / 1000.0:.1f}",
                f"{room.tape.metres('internal'):.1f}",
            )
            for room in self.rooms
        ]
        head = ("room", "floor, m²", "first tile at", "narrowest cut, mm", "whole", "cut", "joints, m", "internal tape, m")
        found = [(room.name, finding.code, finding.text) for room in self.rooms for finding in room.findings]
        looked = html_table("Look at these before work starts", ("room", "code", "what"), found) if found else ""
        return html_table(self.plan.project.title, head, rows, right=(1, 3, 4, 5, 6, 7)) + looked

    def cut(self, mark: str) -> Cut:
        """The cut of a mark."""
        return self.cuts[self.order[mark]]

    def cuts_of(self, room: int, surface: int, bays: Iterable[int] | None = None) -> list[tuple[Cut, int]]:
        """Cuts of one surface, or of some of its bays, with their number there, in the order of marks."""
        return self.counted(self.marks_of(room, surface, bays))

    def marks_of(self, room: int, surface: int, bays: Iterable[int] | None = None) -> list[str]:
        """Marks of the pieces of one surface, or of some of its bays, bay by bay in the order of the pieces."""
        laid = self.rooms[room].surfaces[surface].field.bays
        own = range(len(laid)) if bays is None else bays
        return [self.marks[PieceKey(room, surface, b, p)] for b in own for p in range(len(laid[b].pieces))]

    def counted(self, marks: Iterable[str]) -> list[tuple[Cut, int]]:
        """Cuts by the marks of their pieces, with the number of each, in the order of marks."""
        counts = Counter(marks)
        return [(self.cuts[k], counts[self.cuts[k].mark]) for k in sorted(self.order[mark] for mark in counts)]

    def binding_findings(self) -> list[Finding]:
        """Findings that the plan makes binding."""
        wanted = set(self.plan.rules.binding)
        return [f for room in self.rooms for f in room.findings if f.code in wanted]
