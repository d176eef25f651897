"""Day pieces as values: what is done as one, and which parts of which surfaces it is."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from layout.units import EPS
from layout.words import worded

if TYPE_CHECKING:
    import datetime as dt

    from shapely.geometry.base import BaseGeometry

    from layout.identity import SurfaceId


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """A part of a surface: of a floor its `shape`, room mm; of an upright face from `low` to `high` of `width`, mm in its own x."""

    surface: SurfaceId
    m2: float
    shape: BaseGeometry | None = None
    low: float = 0.0
    high: float = 0.0
    width: float = 0.0

    @property
    def words(self) -> str:
        """Its name, with from where to where if it is not whole."""
        if self.shape is not None or (self.low <= EPS and self.high >= self.width - EPS):
            return self.surface.name
        return worded("{name} {low:.0f} to {high:.0f}", name=self.surface.name, low=self.low, high=self.high)


TITLES = {
    "coat": worded("membrane"),
    "walls": worded("wall tile"),
    "floor": worded("floor tile"),
    "bottom": worded("bottom course"),
    worded("grout"): worded("grout"),
}
"""What day pieces there are, in the order of the works."""


@dataclass(frozen=True, slots=True, eq=False)
class DayPiece:
    """What is done as one: area or day `number` of `pieces` of a kind of work in a room; `days` are its stages, each from when to when."""

    room: int
    kind: str
    number: int
    pieces: int
    parts: tuple[Part, ...]
    days: tuple[tuple[str, dt.datetime, dt.datetime], ...]

    @property
    def m2(self) -> float:
        """Area of all its parts, m²."""
        return math.fsum(part.m2 for part in self.parts)
