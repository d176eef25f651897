"""What is built and stays: lines as snapped, joints as sealed, marks as issued, figures as measured; each key declared once.

`--keep` writes these keys into a plan; whoever takes one out lets the tool choose again.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from layout.fields import Many, Text
from layout.keys import Form, declared, key
from layout.plan.things import LINE
from layout.plan.tile import DEGREES, POINT, POSITIVE

if TYPE_CHECKING:
    from layout.errors import Point

RING = Many(POINT, 3)
SAMPLE = [[0, 0], [137, 0], [137, 200], [0, 200]]


@declared
class KeptLine:
    """Where the lattice of one bay stands, as its lines were snapped; in the axes of its surface."""

    on: str = key(Text(1), "the surface that it is on, by its name: floor, wall 2, plinth 1 top", default="floor", since="0.2")
    at: Point = key(POINT, "a corner of a tile on the lines that were snapped", unit="mm", since="0.2", example=[2031, 1025])
    direction: float | None = key(
        DEGREES,
        "direction of the tiles against the plan's x",
        unit="degrees",
        default=None,
        left_out="along the wall",
        since="0.2",
        example=90,
    )
    bay: tuple[Point, ...] = key(
        RING,
        "corners of the bay that it was snapped for; a bay goes by the lines of the one that it lies most in",
        unit="mm",
        default=(),
        left_out="the whole surface",
        since="0.2",
        example=[[0, 0], [3000, 0], [3000, 2000], [0, 2000]],
    )


@declared
class KeptJoint:
    """A movement joint of the floor that stays where it is; it runs right across the bay that it parts."""

    line: tuple[Point, Point] = key(LINE, "two points of its centre line", unit="mm", since="0.2", example=[[3600, 0], [3600, 4700]])
    width: float = key(POSITIVE, "width of the joint", unit="mm", default=8.0, since="0.2")


@declared
class KeptMark:
    """A mark that was issued: the tile it is cut from and its shape. Its number is not given to another shape."""

    tile: str = key(Text(1), "tile that it is cut from", since="0.2", example="floor")
    shape: str = key(Text(1), "what kind of cut it is", since="0.2", example="straight")
    outline: tuple[Point, ...] = key(RING, "corners of the piece in its tile's own axes", unit="mm", since="0.2", example=SAMPLE)
    holes: tuple[tuple[Point, ...], ...] = key(
        Many(RING), "holes in it", unit="mm", default=(), since="0.2", example=[[[50, 50], [80, 50], [80, 80], [50, 80]]]
    )
    run: tuple[Point, ...] = key(
        Many(POINT, 2),
        "of a run of tapers: the two legs of each piece, in the order of the run",
        unit="mm",
        default=(),
        since="0.2",
        example=[[137, 138.5], [138.5, 140]],
    )
    wall: str = key(Text(), "of a run of tapers: the wall that it runs along", default="", since="0.2", example="wall 3")


@declared
class Measured:
    """A figure as measured on site, beside what was drawn there."""

    what: str = key(Text(1), "what was measured: a wall, a pair of corners, the offset of a line", since="0.2", example="wall 7")
    drawn: float = key(POSITIVE, "what the plan had there", unit="mm", since="0.2", example=7133)
    length: float = key(POSITIVE, "what was measured", unit="mm", spelt="measured", since="0.2", example=7145)


MEASURED = Form(Measured)
KEPT_LINE, KEPT_JOINT, KEPT_MARK = Form(KeptLine), Form(KeptJoint), Form(KeptMark)
