"""A tile and how it is laid, as a plan gives it: each key declared once."""

from __future__ import annotations

from dataclasses import field
from typing import TYPE_CHECKING, Literal, TypeAlias

from layout.fields import Count, Flag, Many, Number, Pair, Text, WallName, words_of
from layout.keys import Form, declared, key

if TYPE_CHECKING:
    from layout.errors import Point

WallRef: TypeAlias = "int | str"
Laying: TypeAlias = Literal[
    "stack", "running", "diagonal", "herringbone", "double-herringbone", "basket-weave", "hexagon", "two-size", "own"
]
MeasuredFace: TypeAlias = Literal["bare", "membrane", "finished"]
TileFace: TypeAlias = Literal["plain", "directional"]

POSITIVE = Number(0.0, above=True)
NOT_NEGATIVE = Number(0.0)
SIZE = Pair(POSITIVE, "two sizes as [w, h]")
POINT = Pair()
DEGREES = Number(-360.0, 360.0, length=False)


@declared
class GivenLine:
    """A start line that the person fixes: a distance from a wall's face, mm; the other way stays free."""

    wall: WallRef = key(WallName(), "wall that the line is measured from", example=1)
    at: float = key(POSITIVE, "distance from the wall's face", unit="mm", example=120)
    face: MeasuredFace = key(words_of(MeasuredFace), "the face that `at` counts from", default="finished")


@declared
class BorderCourse:
    """Courses of another tile along the walls, round the field."""

    tile: str = key(Text(1), "tile of the border, its first side along the wall, laid in stack", example="dark")
    courses: int = key(Count(1, 20), "how many courses", default=1)


@declared
class Cell:
    """A cell of one's own: outlines of its tiles, and the two vectors that repeat it, mm."""

    tiles: tuple[tuple[Point, ...], ...] = key(
        Many(Many(POINT, 3), 1, 64),
        "outlines of the cell's tiles, convex",
        unit="mm",
        example=[[[0, 0], [200, 0], [200, 200], [0, 200]]],
    )
    vectors: tuple[Point, ...] = key(Many(POINT, 2, 2), "the two vectors that repeat the cell", unit="mm", example=[[206, 0], [0, 206]])


@declared
class Tile:
    """A tile and how it is laid.

    `size` is the measured work size, mm; `offset` the shift of a running bond as a part of the pitch; `turn` counts
    anticlockwise from `along` (the longest straight wall if None); `bed` and `thickness` mm; `small` the side of the small
    square of two-size laying, mm. `least` is the least cut as typed: a part of the tile up to 1, else mm (`least_cut`).
    `opened` is how much wider than `joint` the joints between neighbours of a course and between courses are laid, mm: what the
    gauge takes (`rules.gauge`), never typed.
    """

    name: str = field(default="")
    size: Point = key(SIZE, "measured work size [w, h]", unit="mm", default=(200.0, 200.0))
    thickness: float = key(POSITIVE, "thickness", unit="mm", default=10.0)
    joint: float = key(NOT_NEGATIVE, "joint between tiles", unit="mm", default=6.0)
    pattern: Laying = key(words_of(Laying), "how tiles are laid", default="stack")
    offset: float = key(Number(0, 1, length=False), "shift of a running bond, part of the pitch", default=0.5)
    turn: float = key(DEGREES, "turn of the pattern, anticlockwise from `along`", unit="degrees", default=0.0)
    along: WallRef | None = key(
        WallName(), "the wall that the pattern follows", default=None, left_out="the longest straight wall", example=1
    )
    least: float = key(
        Number(0.0), "least cut: up to 1 a part of the tile's shorter side, above 1 millimetres", spelt="least_cut", default=0.5
    )
    bed: float = key(NOT_NEGATIVE, "thickness of the adhesive bed", unit="mm", default=3.0)
    face: TileFace = key(words_of(TileFace), "a directional face is never turned", default="plain")
    scatter: float | None = key(NOT_NEGATIVE, "greatest less smallest size of a measured sample", unit="mm", default=None, example=0.8)
    rectified: bool = key(Flag(), "saw sizes to half a millimetre instead of whole ones", default=False)
    start: Point | None = key(
        POINT, "fix the start: a tile's lower-left corner as the floor is measured", unit="mm", default=None, example=[23, 198]
    )
    start_line: GivenLine | None = key(
        Form(GivenLine, inline=True),
        "fix one start line; the other way the best start is found",
        default=None,
        example={"wall": 1, "at": 120},
    )
    small: float | None = key(
        POSITIVE,
        'side of the small tile, for pattern = "two-size"',
        unit="mm",
        default=None,
        left_out="half the large one's module",
        example=97,
    )
    border: BorderCourse | None = key(
        Form(BorderCourse, inline=True),
        "courses of another tile along the walls, round the field of a floor",
        default=None,
        example={"tile": "dark", "courses": 1},
    )
    cell: Cell | None = key(
        Form(Cell, inline=True),
        'a cell of one\'s own, for pattern = "own"',
        default=None,
        example={"tiles": [[[0, 0], [200, 0], [200, 200], [0, 200]]], "vectors": [[206, 0], [0, 206]]},
    )

    opened: Point = field(default=(0.0, 0.0))

    @property
    def joints(self) -> Point:
        """Joint between neighbours of a course and between courses, as laid, mm."""
        return self.joint + self.opened[0], self.joint + self.opened[1]

    @property
    def directional(self) -> bool:
        """Whether the tile may not be turned."""
        return self.face == "directional"

    @property
    def small_side(self) -> float:
        """Side of the small square of two-size laying, mm."""
        return (self.size[0] - self.joint) / 2.0 if self.small is None else self.small

    @property
    def shorter_side(self) -> float:
        """Shorter side of the tile, of the smallest one where laying takes several, mm."""
        if self.cell is not None:
            boxes = [[max(c) - min(c) for c in zip(*outline, strict=True)] for outline in self.cell.tiles]
            return float(max(min(min(box) for box in boxes), 0.0))
        return self.small_side if self.pattern == "two-size" else min(self.size)

    @property
    def least_cut(self) -> float:
        """The narrowest cut wanted, mm."""
        return self.least * self.shorter_side if self.least <= 1.0 else self.least
