"""What things are known by: values that compare by identity and carry the words a person knows them by.

A surface is known by its room, kind and numbers as typed; its name rides along for the edges of the tool (screen, sheets,
records) and takes no part in comparing, so two doors called "door" stay two doors. Nothing reads a name back.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal, TypeAlias

EdgeKind: TypeAlias = Literal[
    "wall", "threshold", "reveal", "plinth", "column", "drain", "pipe", "fixing", "joint", "foot", "top", "left", "right", "opening", "free"
]
SurfaceKind: TypeAlias = Literal["floor", "border", "wall", "plinth-top", "plinth-side", "column-side", "reveal"]


@dataclass(frozen=True, slots=True)
class SurfaceId:
    """Which surface of a plan.

    `room` counts from 0 as typed; `number` is the wall's, plinth's, column's or opening's, from 1 as typed, 0 for a floor;
    `side` tells the sides of a solid by their edge as typed, and the left (1) and right (2) jamb of an opening.

    >>> SurfaceId(0, "reveal", 1, 1, "door left") == SurfaceId(0, "reveal", 1, 1, "servery left")
    True
    """

    room: int
    kind: SurfaceKind
    number: int = 0
    side: int = 0
    name: str = field(default="", compare=False)

    def __str__(self) -> str:
        return self.name

    @property
    def key(self) -> str:
        """The identity as one word, for records: ``0.wall.3``, ``0.plinth-side.1.2``."""
        numbers = [n for n in (self.number, self.side) if n] if self.side else ([self.number] if self.number else [])
        return ".".join(str(part) for part in (self.room, self.kind, *numbers))


@dataclass(frozen=True, slots=True)
class EdgeId:
    """What stands at an edge that tiles are cut to, within a surface.

    `number` is the wall's (of a threshold too), opening's, plinth's, column's, drain's, pipe's or fixing's, from 1 as typed; 0 for what
    a face has one of (its foot, its top, its ends) and for joints. Like a surface's, its name takes no part in comparing.

    >>> EdgeId("column", 1, "wall 1") == EdgeId("wall", 1, "wall 1")
    False
    """

    kind: EdgeKind
    number: int = 0
    name: str = field(default="", compare=False)

    def __str__(self) -> str:
        return self.name
