"""The one scene: a sheet is a tuple of a few frozen primitives; writers translate and decide nothing.

Room primitives are in room millimetres (1:1), seen through a sheet's view; paper primitives in paper
millimetres from the sheet's lower-left corner. Text heights, line widths and dashes are always in
paper millimetres.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Literal, TypeAlias, assert_never

import numpy as np
from shapely import transform
from shapely.affinity import translate

from layout.shapes import turned

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely import Polygon

    from layout.plan.patterns import Pattern

    Floats = NDArray[np.float64]

Across: TypeAlias = Literal["left", "centre", "right"]
Upward: TypeAlias = Literal["bottom", "middle", "top"]


@dataclass(frozen=True, slots=True, eq=False)
class Stroke:
    """A line (n, 2) on a layer; `closed` joins its ends."""

    points: Floats
    layer: str
    closed: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Fill:
    """A filled polygon; `tone` from 0 (white) to 1 (the layer's colour)."""

    polygon: Polygon
    layer: str
    tone: float = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Label:
    """Text of one line; `height` of its capitals on paper, mm; `boxed` clears what is behind it."""

    text: str
    at: tuple[float, float]
    height: float
    layer: str
    across: Across = "left"
    upward: Upward = "bottom"
    angle: float = 0.0
    boxed: bool = False
    bold: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Dimension:
    """A linear dimension from `a` to `b`, its line at `distance` paper mm to the left of a to b.

    `part` says where along the line its figure stands.
    """

    a: tuple[float, float]
    b: tuple[float, float]
    distance: float
    text: str
    layer: str
    height: float = 2.5
    part: float = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class Tiles:
    """Whole tiles of one bay and cell member, by lattice index (n, 2)."""

    name: str
    pattern: Pattern
    member: int
    turn: float
    origin: tuple[float, float]
    index: NDArray[np.int64]
    joint: float
    layer: str


@dataclass(frozen=True, slots=True, eq=False)
class Symbol:
    """A named symbol at a place, `size` paper mm across: the same block wherever it stands."""

    name: Literal["corner-internal", "corner-external", "corner-made", "bubble", "entrance", "upright", "test"]
    at: tuple[float, float]
    size: float
    layer: str
    angle: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Block:
    """A thing of true size that stands in several places, as a drain's frame: its parts about its own origin, and where it stands."""

    name: str
    parts: tuple[Stroke | Fill, ...]
    at: tuple[float, float]
    layer: str
    angle: float = 0.0

    def standing(self) -> tuple[Stroke | Fill, ...]:
        """Its parts where they stand."""
        shift = np.array(self.at)
        result: list[Stroke | Fill] = []
        for part in self.parts:
            if isinstance(part, Stroke):
                result.append(Stroke(turned(part.points, self.angle) + shift, part.layer, part.closed))
            else:
                result.append(Fill(transform(part.polygon, lambda xy: turned(xy, self.angle) + shift), part.layer, part.tone))
        return tuple(result)


Primitive: TypeAlias = Stroke | Fill | Label | Dimension | Tiles | Symbol | Block


@dataclass(frozen=True, slots=True)
class View:
    """A window onto the room: room point `centre` lies at paper point `at`; 1:`scale`; size on paper, mm."""

    centre: tuple[float, float]
    at: tuple[float, float]
    scale: float
    size: tuple[float, float]

    def to_paper(self, points: Floats) -> Floats:
        """Room mm to paper mm, (n, 2)."""
        result: Floats = (np.atleast_2d(points) - np.array(self.centre)) / self.scale + np.array(self.at)
        return result

    def to_room(self, points: Floats) -> Floats:
        """Paper mm to room mm, (n, 2)."""
        result: Floats = (np.atleast_2d(points) - np.array(self.at)) * self.scale + np.array(self.centre)
        return result


@dataclass(frozen=True, slots=True, eq=False)
class TitleBlock:
    """Fields after ISO 7200, in reading order: (field, value)."""

    fields: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, eq=False)
class Shown:
    """A part of a floor on a sheet that shows several: its letter, its window, and what is seen through it, in room mm."""

    letter: str
    view: View
    room: tuple[Primitive, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """One sheet: what it is called, its paper, and its two scenes; `cut_off` where its window shows a part only.

    `needed` are the words that its reader cannot do without, `missing` those of them that found no place; `further` are the parts that
    stand on it besides the first, which is in `view` and `room`.
    """

    name: str
    title: str
    room_name: str
    paper: str
    size: tuple[float, float]
    view: View | None
    room: tuple[Primitive, ...]
    paper_scene: tuple[Primitive, ...]
    block: TitleBlock
    notes: tuple[str, ...] = field(default=())
    cut_off: bool = False
    needed: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    further: tuple[Shown, ...] = ()

    @property
    def shown(self) -> tuple[Shown, ...]:
        """All that stands on it through windows, in order; nothing on a sheet of words."""
        return () if self.view is None else (Shown("", self.view, self.room), *self.further)


def exploded(item: Dimension, scale: float) -> tuple[Stroke | Label, ...]:
    """A dimension as strokes and a label in its own space, for writers without dimensions.

    Narrow lines, oblique strokes at 45 degrees, value above the line and read from below or from the
    right (ISO 129-1, from memory).
    """
    a, b = np.array(item.a, dtype=float), np.array(item.b, dtype=float)
    length = float(np.hypot(*(b - a)))
    way = (b - a) / max(length, 1e-9)
    normal = np.array([-way[1], way[0]])
    shift = normal * item.distance * scale
    beyond = normal * math.copysign(1.5, item.distance or 1.0) * scale
    gap = normal * math.copysign(0.8, item.distance or 1.0) * scale
    tick = (way + normal) * 0.9 * scale
    p, q = a + shift, b + shift
    strokes = [Stroke(np.array([p - way * 1.2 * scale, q + way * 1.2 * scale]), item.layer)]
    if abs(item.distance) > 0.1:
        strokes += [Stroke(np.array([a + gap, p + beyond]), item.layer), Stroke(np.array([b + gap, q + beyond]), item.layer)]
    strokes += [Stroke(np.array([end - tick, end + tick]), item.layer) for end in (p, q)]
    turn = readable(math.degrees(math.atan2(way[1], way[0])))
    up = np.array([-math.sin(math.radians(turn)), math.cos(math.radians(turn))])
    at = p + (q - p) * item.part + up * 0.8 * scale
    label = Label(item.text, (float(at[0]), float(at[1])), item.height, item.layer, "centre", "bottom", turn)
    return (*strokes, label)


def moved(item: Primitive, by: tuple[float, float]) -> Primitive:
    """A primitive shifted within its space."""
    dx, dy = by

    def at(point: tuple[float, float]) -> tuple[float, float]:
        return point[0] + dx, point[1] + dy

    match item:
        case Stroke():
            return replace(item, points=item.points + np.array(by))
        case Fill():
            return replace(item, polygon=translate(item.polygon, dx, dy))
        case Label() | Symbol() | Block():
            return replace(item, at=at(item.at))
        case Dimension():
            return replace(item, a=at(item.a), b=at(item.b))
        case Tiles():
            return replace(item, origin=at(item.origin))
        case _:
            assert_never(item)


def readable(angle: float) -> float:
    """An angle turned so that text is read from below or from the right, degrees.

    Walls a little off upright are read from the right whichever way they lean.
    """
    angle = math.remainder(angle, 360.0)
    if angle > 93.0:
        angle -= 180.0
    elif angle <= -87.0:
        angle += 180.0
    return angle


def bubble_ring(at: tuple[float, float], radius: float, count: int = 32) -> Floats:
    """A small circle as a ring of points."""
    angles = np.arange(count) * 2 * math.pi / count
    return np.column_stack([at[0] + radius * np.cos(angles), at[1] + radius * np.sin(angles)])


def symbol_strokes(item: Symbol, unit: float) -> tuple[tuple[Floats, bool], ...]:
    """Rings of a symbol about its place, `unit` room mm per paper mm: (points, filled)."""
    r = item.size / 2.0 * unit
    shapes: dict[str, tuple[tuple[list[tuple[float, float]], bool], ...]] = {
        "corner-internal": (([(-1, -1), (1, -1), (-1, 1)], True),),
        "corner-external": (([(-0.8, -0.8), (0.8, -0.8), (0.8, 0.8), (-0.8, 0.8)], True),),
        "test": (([(0, 1.1), (-1.0, -0.7), (1.0, -0.7)], False),),
        "corner-made": (([(0, -1.1), (1.1, 0), (0, 1.1), (-1.1, 0)], False),),
        "entrance": (([(0, 1), (-0.7, -0.4), (-0.25, -0.4), (-0.25, -1.2), (0.25, -1.2), (0.25, -0.4), (0.7, -0.4)], True),),
    }
    if item.name in ("bubble", "upright"):
        return ((bubble_ring(item.at, r), item.name == "upright"),)
    cos, sin = math.cos(math.radians(item.angle)), math.sin(math.radians(item.angle))
    result = []
    for ring, filled in shapes[item.name]:
        local = np.array(ring, dtype=float) * r
        result.append((local @ np.array([[cos, sin], [-sin, cos]]) + np.array(item.at), filled))
    return tuple(result)
