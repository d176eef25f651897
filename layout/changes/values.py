"""What a comparison of two set-outs tells, as values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from layout.errors import Point


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """One thing that differs: what, and how it stood and stands, in words (mm unless a unit is told); empty where it was not or is not."""

    what: str
    before: str
    after: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LineMove:
    """A start line to snap: how far it moves square to itself, mm, and its distance from a bare wall before and after."""

    surface: str
    name: str
    moved: float
    turned: float
    wall: int
    before: float
    after: float


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

    @property
    def changed(self) -> bool:
        """Whether anything differs."""
        return bool(self.was != self.name or self.moved or self.shape or self.lines or self.works or self.came or self.went)


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
    """All that differs between two set-outs."""

    rooms: tuple[RoomChange, ...]
    cuts: tuple[CutChange, ...]
    orders: tuple[OrderChange, ...]
    currency: str = ""

    @property
    def changed(self) -> bool:
        """Whether anything differs."""
        return bool(self.rooms or self.cuts or self.orders)
