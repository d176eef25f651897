"""Errors, rules and findings: the words every other module speaks.

An error says whose hand can mend it. A `Rule` is a value that knows where it comes from.
A `Finding` is something the tool noticed about a room; it has a code, a place and plain words.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias

if TYPE_CHECKING:
    from layout.identity import SurfaceId

Point: TypeAlias = tuple[float, float]
Weight: TypeAlias = Literal["stop", "look", "note"]
"""Stop: not to be built so. Look: a person has to decide. Note: good to know, nothing is wrong."""


class LayoutError(Exception):
    """Root of every error that this package raises on purpose."""


class PlanError(LayoutError, ValueError):
    """One fault of a plan, for the person who made it.

    Parameters are kept in `args`, so the error survives pickling between processes.
    """

    def __init__(self, place: str, found: str, mend: str) -> None:
        super().__init__(place, found, mend)

    @property
    def place(self) -> str:
        """Where the fault stands: file, table, key."""
        return str(self.args[0])

    def __str__(self) -> str:
        return "{}: {}; {}".format(*self.args)


class BudgetError(PlanError):
    """Work that was refused, since it took more time or memory than its bound; no way round it is tried in silence."""


class PlanFaults(LayoutError, ValueError):  # noqa: N818  # it is a list of errors
    """All faults of one plan file, so that they can be mended in one go."""

    def __init__(self, faults: tuple[PlanError, ...]) -> None:
        super().__init__(faults)

    @property
    def faults(self) -> tuple[PlanError, ...]:
        """The single faults, in the order of the file."""
        faults: tuple[PlanError, ...] = self.args[0]
        return faults

    def __str__(self) -> str:
        return "\n".join(str(fault) for fault in self.faults)


class SetOutError(LayoutError):
    """The plan is valid, yet a surface cannot be set out; says which and what would help."""

    def __init__(self, place: str, found: str, mend: str) -> None:
        super().__init__(place, found, mend)

    def __str__(self) -> str:
        return "{}: {}; {}".format(*self.args)


class OutputError(LayoutError):
    """A file or folder that cannot be written."""

    def __init__(self, place: str, found: str, mend: str) -> None:
        super().__init__(place, found, mend)

    def __str__(self) -> str:
        return "{}: {}; {}".format(*self.args)


@dataclass(frozen=True, slots=True)
class Rule:
    """A limit or figure with its unit and its source, so that a sheet can print where it comes from."""

    value: float
    unit: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """Something noticed: a stable code, words for a person, the surface (None: the room at large) and the place (mm)."""

    code: str
    text: str
    surface: SurfaceId | None = None
    at: Point | None = None

    @property
    def where(self) -> str:
        """Name of the surface; what concerns the room at large is told with its floor."""
        return self.surface.name if self.surface is not None else "floor"


@dataclass(frozen=True, slots=True)
class Code:
    """What a finding means. `example` is a plan that shows it, empty where no plan alone does."""

    words: str
    weight: Weight
    why: str
    mend: str
    example: str = ""
