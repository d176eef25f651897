"""One figure told and counted again, and the ledger that such figures are noted in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from layout.errors import Point
    from layout.identity import SurfaceId


@dataclass(frozen=True, slots=True, kw_only=True)
class Residual:
    """One figure told and counted again; `allowed` apart. `surface` None: the room at large; `at` in the surface's axes, mm."""

    name: str
    room: str
    told: float
    counted: float
    allowed: float
    unit: str = "mm"
    surface: SurfaceId | None = None
    at: Point | None = None

    @property
    def apart(self) -> float:
        """How far told and counted stand apart."""
        return abs(self.told - self.counted)

    @property
    def breach(self) -> bool:
        """Whether they stand further apart than is allowed; a figure that is no number always does."""
        return not self.apart <= self.allowed

    def words(self) -> str:
        """The breach in words."""
        where = f"{self.surface.name}: " if self.surface is not None else ""
        return f"{where}{self.name}: {self.told:.3f} {self.unit} told, {self.counted:.3f} counted again; do not build from this sheet, report it"


class Ledger:
    """Collects residuals of one surface or room."""

    def __init__(self, room: str, surface: SurfaceId | None = None) -> None:
        self.room, self.surface = room, surface
        self.found: list[Residual] = []
        self.unjudged: list[str] = []

    def add(self, name: str, told: float, counted: float, allowed: float, *, unit: str = "mm", at: Point | None = None) -> None:
        """Note one figure."""
        self.found.append(
            Residual(name=name, room=self.room, told=told, counted=counted, allowed=allowed, unit=unit, surface=self.surface, at=at)
        )

    def at_most(self, name: str, told: float, limit: float, allowed: float, *, unit: str = "mm", at: Point | None = None) -> None:
        """Note a figure that may not be more than a limit."""
        self.add(name, told, min(told, limit), allowed, unit=unit, at=at)
