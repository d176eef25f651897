"""What a comparison of two set-outs tells, as values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias

if TYPE_CHECKING:
    from layout.errors import Point
    from layout.identity import SurfaceId


SAME = 0.05
"""Lengths that differ by less are the same, mm."""
SAME_M = 0.005
"""Lengths of joint and tape that differ by less are the same, m."""


@dataclass(frozen=True, slots=True)
class WallAt:
    """A wall of the new room, by its index in the outline."""

    index: int


@dataclass(frozen=True, slots=True)
class ThingAt:
    """A thing of a room: the list that it stands in (`openings`, `drains` …), its index there before and now; None where it is not."""

    list: str
    before: int | None
    after: int | None


@dataclass(frozen=True, slots=True)
class JointAt:
    """A movement joint of the floor by the ends of its centre line in the new room, mm."""

    ends: tuple[Point, Point]


SeenAt: TypeAlias = WallAt | ThingAt | JointAt
"""Where on the plan of a room a change is seen."""
Aspect: TypeAlias = Literal["figure", "there", "line", "length"]
"""What of a thing differs: a figure of it, whether it is there at all, where its wall's line runs, how long its wall is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """One thing that differs: what, and how it stood and stands, in words (mm unless a unit is told); empty where it was not or is not.

    `kind` is what sort of thing it is (outline, opening, drain, joint, tape …), `surface` the one it is on, if one alone. `of` is the name of
    the thing and `figure` which figure of it, where `what` is made of the two; `at` is where it is seen. Words are never read back.
    """

    what: str
    before: str
    after: str
    kind: str = ""
    surface: str = ""
    aspect: Aspect = "figure"
    of: str = ""
    figure: str = ""
    at: SeenAt | None = None

    @property
    def plainly(self) -> str:
        """What differs, without the mark between a thing and its figure."""
        return f"{self.of} {self.figure}" if self.of and self.figure else self.what


def figure_of(name: str, figure: str, before: str, after: str, kind: str, at: SeenAt | None = None) -> Difference:
    """A figure of a thing that differs, both told by name."""
    return Difference(what=f"{name}: {figure}", before=before, after=after, kind=kind, of=name, figure=figure, at=at)


@dataclass(frozen=True, slots=True, kw_only=True)
class LineMove:
    """A start line to snap: how far it moves square to itself, mm, and its distance from a bare face before and after.

    `face` is what that face is called: a wall of the new room, or the floor or left-hand end of an upright surface (`wall` 0).
    `on` is the surface in the new room, `index` the line's place among those that were snapped on the old one.
    """

    on: SurfaceId
    index: int
    name: str
    moved: float
    turned: float
    wall: int
    before: float
    after: float
    face: str = ""

    @property
    def surface(self) -> str:
        """The name of the surface."""
        return self.on.name


@dataclass(frozen=True, slots=True, kw_only=True)
class CutChange:
    """Cuts of one size and shape: how many there were and are, under which marks."""

    tile: str
    size: Point
    shape: str
    before: int
    after: int
    marks_before: tuple[str, ...]
    marks_after: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkChange:
    """A mark on one surface whose number of pieces there differs."""

    mark: str
    before: int
    after: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SurfaceChange:
    """A tiled surface that differs, came or went: each figure before and after; lengths in mm, sealant in m.

    It is `renumbered` if its pieces are as they were and only their marks are others.
    """

    name: str
    was: str
    whole: tuple[int, int]
    pieces: tuple[int, int]
    narrowest: tuple[float, float]
    sealant: tuple[float, float]
    marks: tuple[MarkChange, ...]
    renumbered: bool = False

    @property
    def changed(self) -> bool:
        """Whether anything differs."""
        pairs = (self.whole, self.pieces)
        return (
            self.name != self.was
            or any(one != other for one, other in pairs)
            or abs(self.narrowest[0] - self.narrowest[1]) >= SAME
            or abs(self.sealant[0] - self.sealant[1]) >= SAME_M
            or bool(self.marks)
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomChange:
    """A room that differs, came or went; `moved` is how it was shifted and turned as a whole, in words."""

    name: str
    was: str
    moved: str
    shape: tuple[Difference, ...]
    lines: tuple[LineMove, ...]
    works: tuple[Difference, ...]
    came: tuple[str, ...]
    went: tuple[str, ...]
    surfaces: tuple[SurfaceChange, ...] = ()

    @property
    def changed(self) -> bool:
        """Whether anything differs."""
        return bool(
            self.was != self.name or self.moved or self.shape or self.lines or self.works or self.came or self.went or self.surfaces
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderChange:
    """An item whose quantity or order differs; `money` is what it costs more, where rates were given."""

    key: str
    name: str
    unit: str
    before: float
    after: float
    packs_before: int | None
    packs_after: int | None
    money: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Changes:
    """All that differs between two set-outs: what governs them (tiles, rules, figures of products), rooms, cuts, orders.

    `total` is what the second costs more, free lines included; None where no rates were given.
    """

    rooms: tuple[RoomChange, ...]
    cuts: tuple[CutChange, ...]
    orders: tuple[OrderChange, ...]
    currency: str = ""
    plan: tuple[Difference, ...] = ()
    total: float | None = None

    @property
    def changed(self) -> bool:
        """Whether anything differs."""
        return bool(self.rooms or self.cuts or self.orders or self.plan)
