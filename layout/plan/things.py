"""What stands in a room and what is asked of its floor, as a plan gives it: each key declared once."""

from __future__ import annotations

import math
from dataclasses import field
from typing import TYPE_CHECKING, Any, Literal, TypeAlias, cast

from layout.fields import Faults, Field, Flag, Many, Number, Text, WallName, words_of
from layout.keys import Form, declared, key
from layout.plan.tile import DEGREES, NOT_NEGATIVE, POINT, POSITIVE, SIZE, WallRef

if TYPE_CHECKING:
    from layout.errors import Point

Side: TypeAlias = Literal["first", "left", "right"]
Want: TypeAlias = Literal["tile", "crossing", "joint", "whole", "axis", "carry"]
Threshold: TypeAlias = Literal["strip", "upstand", "step", "floor"]
EndsThere: TypeAlias = Literal["structure", "substrate", "finish"]
Perimeter: TypeAlias = Literal["level", "free", "threshold"]
DrainKind: TypeAlias = Literal["gully", "channel"]
StandsOn: TypeAlias = Literal["slab", "membrane"]

GULLY_FRAME = (200.0, 200.0)
"""Visible frame of a gully of which the plan says nothing, mm (common practice, no source)."""
CHANNEL_WIDTH = 160.0
"""Visible width of a channel of which the plan says nothing, mm (common practice, no source)."""
LEAST_SCREED = 25.0
"""Least thickness of a screed of which the plan says nothing, mm (common practice, no source)."""

LINE = cast("Field[tuple[Point, Point]]", Many(POINT, 2, 2))  # two points, as its bounds say
PLANE = cast("Field[tuple[tuple[float, float, float], ...]]", Many(Many(Number(), 3, 3), 3, 3))  # three of three
SAMPLE = [[0, 0], [400, 0], [400, 400], [0, 400]]


@declared
class Vertex:
    """A typed corner; `bulge` and `wall` belong to the edge that arrives at it, as typed."""

    to: Point = key(POINT, "the corner that the edge arrives at", unit="mm", example=[6000, 0])
    bulge: float = key(Number(-1000, 1000, length=False), "tangent of a quarter of the included angle of an arc, as in DXF", default=0.0)
    wall: str | None = key(
        Text(1),
        "name of the wall that arrives at the corner: it stays with the wall where corners are put in or taken out",
        default=None,
        since="0.2",
        example="servery",
    )

    @property
    def x(self) -> float:
        """Its x, mm."""
        return self.to[0]

    @property
    def y(self) -> float:
        """Its y, mm."""
        return self.to[1]


class Corner(Field[Vertex]):
    """A corner of an outline: [x, y], or a table with more about the edge that arrives at it."""

    form = Form(Vertex, inline=True)
    says = f"{POINT.says}, or a table as {{ to = [x, y], bulge = b, wall = 'name' }}"

    def read(self, value: object, place: str, faults: Faults) -> Vertex | None:
        if isinstance(value, dict):
            return self.form.read(value, place, faults)
        at = POINT.read(value, place, faults)
        return None if at is None else Vertex(to=at)

    def write(self, value: Vertex) -> Any:  # noqa: ANN401
        given = self.form.write(value)
        return given if len(given) > 1 else given["to"]

    def schema(self) -> dict[str, Any]:
        return {"anyOf": [POINT.schema(), self.form.schema()]}


class Outline(Many[Vertex]):
    """Corners in order; a last corner that is the first again closes the ring and goes into the first."""

    def read(self, value: object, place: str, faults: Faults) -> tuple[Vertex, ...] | None:
        found = super().read(value, place, faults)
        if found is None or len(found) <= 3 or found[-1].to != found[0].to:
            return found
        first, *middle, last = found
        return (last if last != Vertex(to=last.to) else first, *middle)


OUTLINE = Outline(Corner(), 3)


@declared
class WallNote:
    """What differs on one wall."""

    wall: WallRef = key(WallName(), "number or name of the wall", example=2)
    name: str | None = key(Text(1), "name to show and to refer to", default=None, example="servery")
    tanking_height: float | None = key(
        NOT_NEGATIVE, "height of tanking above the substrate floor", unit="mm", default=None, left_out="the room's", example=300
    )
    tile_height: float | None = key(
        NOT_NEGATIVE,
        "height of tile above the substrate floor; 0 for no tile",
        unit="mm",
        default=None,
        left_out="the room's",
        example=2400,
    )
    tile: str | None = key(Text(1), "tile to use on this wall", default=None, left_out="the room's wall tile", example="wall")


@declared
class SameDoor:
    """The other side of a door: a room and the opening there."""

    room: str = key(Text(1), "name of the other room", example="Store")
    opening: str = key(Text(1), "name of the opening there", example="door")


@declared
class Opening:
    """A door (sill 0) or a hatch or window; `offset` from the first typed corner or a named end."""

    wall: WallRef = key(WallName(), "number or name of the wall it stands in", example=1)
    offset: float = key(NOT_NEGATIVE, "from the wall's first typed corner, or from the side named", unit="mm", example=900)
    width: float = key(POSITIVE, "clear width", unit="mm", example=1000)
    head: float = key(POSITIVE, "head above the substrate floor", unit="mm", default=2100.0)
    sill: float = key(NOT_NEGATIVE, "sill above the substrate floor; 0 is a door", unit="mm", default=0.0)
    depth: float = key(NOT_NEGATIVE, "depth of the reveal", unit="mm", default=0.0)
    measured_from: Side = key(
        words_of(Side), "side that `offset` counts from, seen from inside facing the wall", spelt="from", default="first"
    )
    name: str = key(Text(1), "name to show and to refer to", default="", left_out="opening and its place in the list", example="door")
    threshold: Threshold = key(
        words_of(Threshold), "how the membrane ends at a door: strip, upstand, step, or another floor's", default="strip"
    )
    threshold_height: float = key(NOT_NEGATIVE, "height of the upstand or step", unit="mm", default=0.0)
    threshold_width: float = key(
        POSITIVE, "width of its top, tanked and tiled with the room (the default is common practice, no source)", unit="mm", default=100.0
    )
    level: float | None = key(Number(), "finished level wanted at a threshold", unit="mm", default=None, example=-5)
    same_as: SameDoor | None = key(
        Form(SameDoor),
        "the opening of another room that is this door: its threshold is measured once, with the room that comes first",
        default=None,
        left_out="told by where the rooms stand (at, turn)",
        since="0.2",
        example={"room": "Store", "opening": "door"},
    )


@declared
class Drain:
    """A gully (its middle and frame) or a channel (its two ends and width), as typed; flange width mm.

    `at`, `frame` and `turn` tell both kinds alike: middle, [length, width], degrees.
    """

    kind: DrainKind = key(words_of(DrainKind), "a point or a line drain", example="gully")
    middle: Point | None = key(POINT, "centre of a gully", unit="mm", spelt="at", default=None, example=[1500, 1500])
    begin: Point | None = key(POINT, "one end of a channel's centre line", unit="mm", spelt="from", default=None, example=[500, 800])
    end: Point | None = key(POINT, "other end of a channel's centre line", unit="mm", spelt="to", default=None, example=[2500, 800])
    visible: Point | None = key(SIZE, "visible frame [w, h] of a gully", unit="mm", spelt="frame", default=None, shown=list(GULLY_FRAME))
    width: float | None = key(POSITIVE, "visible width of a channel", unit="mm", default=None, shown=CHANNEL_WIDTH)
    angle: float = key(DEGREES, "turn of a gully's frame", unit="degrees", spelt="turn", default=0.0)
    flange: float = key(NOT_NEGATIVE, "flange outside the frame that the membrane laps", unit="mm", default=50.0)
    joint: float | None = key(
        NOT_NEGATIVE, "sealant joint round the frame; 0 for none", unit="mm", default=None, left_out="rules.drain_joint", example=8
    )
    level: float | None = key(Number(), "finished level of the frame", unit="mm", default=None, left_out="by the fall", example=-40)
    name: str = key(Text(1), "name to show and to refer to", default="", left_out="its kind and count", example="gully 1")

    @property
    def at(self) -> Point:
        """Middle of the frame, mm."""
        if self.middle is not None:
            return self.middle
        (x0, y0), (x1, y1) = self._ends
        return ((x0 + x1) / 2, (y0 + y1) / 2)

    @property
    def frame(self) -> Point:
        """Visible frame, along its own axis and across, mm."""
        if self.kind == "gully":
            return self.visible or GULLY_FRAME
        (x0, y0), (x1, y1) = self._ends
        return math.hypot(x1 - x0, y1 - y0), self.width or (min(self.visible) if self.visible else CHANNEL_WIDTH)

    @property
    def turn(self) -> float:
        """Turn of the frame's own axis, degrees."""
        if self.kind == "gully":
            return self.angle
        (x0, y0), (x1, y1) = self._ends
        return math.degrees(math.atan2(y1 - y0, x1 - x0)) if y1 != y0 and x1 != x0 else (0.0 if y1 == y0 else 90.0)

    @property
    def _ends(self) -> tuple[Point, Point]:
        assert self.begin is not None  # the plan was checked
        assert self.end is not None
        return self.begin, self.end


@declared
class Solid:
    """A plinth (with a height) or a column (none: to the ceiling)."""

    outline: tuple[Vertex, ...] = key(OUTLINE, "corners in order", unit="mm", example=SAMPLE)
    name: str = key(Text(1), "name to show and to refer to", default="", left_out="its kind and place in the list", example="kerb")
    tile: str | None = key(Text(1), "tile to use", default=None, left_out="plinth, or the room's wall tile", example="plinth")
    height: float | None = field(default=None)
    on: StandsOn = field(default="slab")
    tile_height: float | None = field(default=None)
    tanking_height: float | None = field(default=None)


@declared
class Plinth(Solid):
    """A plinth, kerb or upstand."""

    height: float = key(POSITIVE, "height above the substrate floor", unit="mm", default=150.0)
    on: StandsOn = key(words_of(StandsOn), "on the slab the membrane goes up and over", default="slab")


@declared
class Column(Solid):
    """A column: it stands to the ceiling."""

    tile_height: float | None = key(NOT_NEGATIVE, "height of tile", unit="mm", default=None, left_out="the room's", example=2400)
    tanking_height: float | None = key(NOT_NEGATIVE, "height of tanking", unit="mm", default=None, left_out="the room's", example=300)


@declared
class Break:
    """A pipe (round) or a fixing (rectangular), through the floor or a wall."""

    at: Point | None = key(POINT, "centre, through the floor", unit="mm", default=None, example=[600, 600])
    wall: WallRef | None = key(WallName(), "wall it goes through, with offset and level", default=None, example=2)
    along: float | None = key(NOT_NEGATIVE, "along the wall", unit="mm", spelt="offset", default=None, example=800)
    up: float | None = key(NOT_NEGATIVE, "above the substrate floor", unit="mm", spelt="level", default=None, example=500)
    measured_from: Side = key(words_of(Side), "side that `offset` counts from", spelt="from", default="first")
    name: str = key(Text(1), "name to show and to refer to", default="", left_out="its kind and place in the list", example="waste")
    diameter: float | None = field(default=None)
    size: Point = field(default=(0.0, 0.0))
    turn: float = field(default=0.0)
    collar: float | None = field(default=None)

    @property
    def offset(self) -> float:
        """Distance along its wall, mm; 0 where it goes through the floor."""
        return self.along or 0.0

    @property
    def level(self) -> float:
        """Height above the substrate floor, mm; 0 where it goes through the floor."""
        return self.up or 0.0


@declared
class Pipe(Break):
    """A round pipe."""

    diameter: float = key(POSITIVE, "outside diameter", unit="mm", example=110)
    collar: float | None = key(POSITIVE, "collar's outside diameter", unit="mm", default=None, left_out="pipe plus two laps", example=230)


@declared
class Fixing(Break):
    """A machine foot, a post, a socket."""

    size: Point = key(SIZE, "size [w, h] of the foot", unit="mm", example=[120, 120])
    turn: float = key(DEGREES, "turn of the foot", unit="degrees", default=0.0)


@declared
class StructuralJoint:
    """A line that tile may not cross: a joint of the structure, a change of the substrate, or of the floor's finish."""

    line: tuple[Point, Point] = key(LINE, "two points of the joint", unit="mm", example=[[3600, 0], [3600, 4700]])
    width: float = key(POSITIVE, "width of the joint", unit="mm", default=20.0)
    name: str = key(Text(1), "name to show", default="", left_out="structural joint and its place in the list", example="joint A")
    of: EndsThere = key(words_of(EndsThere), "what ends there; a change of finish is not bridged", default="structure")


@declared
class DayJoint:
    """A line across the floor where one day's or one phase's membrane ends."""

    line: tuple[Point, Point] = key(LINE, "two points of the line", unit="mm", example=[[3000, 0], [3000, 2000]])
    name: str = key(Text(1), "name to show", default="", left_out="day joint and its place in the list", example="Monday")


@declared
class Fall:
    """A fall of the floor, or of a region of it, to a named drain or in a given plane.

    `ratio` is one in this many, on the longest way of a level perimeter, of every plane otherwise; `drop` mm instead.
    With a `level` perimeter the walls' line is level; a `free` one follows the planes; `threshold` does so and keeps the
    highest threshold at the floor's level. `plane` is three points x, y, level.
    """

    to: str = key(Text(1), "name of the drain; a plane may do without", default="", example="gully 1")
    ratio: float | None = key(
        Number(1, 10_000, length=False),
        "one in this many: on the longest way of a level perimeter, else of every plane",
        default=None,
        left_out="80",
        example=60,
    )
    drop: float | None = key(POSITIVE, "from the floor's level down to the drain, instead of a ratio", unit="mm", default=None, example=40)
    region: tuple[Point, ...] = key(
        Many(POINT, 3),
        "corners of the floor that falls so",
        unit="mm",
        default=(),
        left_out="all that no other fall claims",
        example=[[0, 0], [3000, 0], [3000, 2000]],
    )
    perimeter: Perimeter | None = key(
        words_of(Perimeter),
        "level at the walls; free to follow the planes; or so, with the threshold at the floor's level",
        default=None,
        left_out="level for gullies, free for channels",
        example="level",
    )
    plane: tuple[tuple[float, float, float], ...] = key(
        PLANE,
        "three points [x, y, level] of a given plane: a ramp, a cross fall",
        unit="mm",
        default=(),
        example=[[0, 0, 0], [3000, 0, 0], [0, 2000, -40]],
    )
    name: str = key(Text(1), "name to show", default="", left_out="fall and its place in the list", example="to the gully")


@declared
class RoomLevels:
    """Levels of a room: finished floor at its walls, mm; the site's level of ±0, m; slab or least screed, mm."""

    floor: float = key(Number(), "finished level at the walls", unit="mm", default=0.0)
    datum: float | None = key(Number(length=False), "level of ±0 on the site", unit="m", default=None, example=12.5)
    least: float | None = key(NOT_NEGATIVE, "least thickness of the screed", unit="mm", spelt="screed", default=None, shown=LEAST_SCREED)
    slab: float | None = key(
        Number(), "level of a flat slab under the screed, instead of the least thickness", unit="mm", default=None, example=-140
    )
    steps: bool = key(Flag(), "falls may meet at different levels", default=False)

    @property
    def screed(self) -> float:
        """Least thickness of the screed, mm."""
        return LEAST_SCREED if self.least is None else self.least


@declared
class Wanted:
    """A pull that the plan asks for: what of the lattice should fall on a thing, a wall, a door or a point.

    `room` is the earlier room whose joints are carried on through a door.
    """

    want: Want = key(
        words_of(Want),
        "tile or crossing: centred on it; joint: tile joints at its faces; whole: a whole tile at a wall or door; "
        "axis: balanced about the middle of a wall or door; carry: joints run on, through a door or onto a plinth",
        example="tile",
    )
    to: WallRef | None = key(
        WallName(), "name of a drain, pipe, fixing, plinth, column or door, or a wall", default=None, example="gully 1"
    )
    at: Point | None = key(POINT, "a point instead, for tile and crossing", unit="mm", default=None, example=[1500, 1500])
    room: str = key(Text(1), "for carry through a door: an earlier room, placed by at and turn", default="", example="Wash-up")
    weight: float = key(Number(0.0, above=True, length=False), "weight against other pulls", default=1.0)
