"""Patterns as data: a unit cell of tiles and two lattice vectors.

A pattern covers the plane, joints included: the cell's tiles, each grown by half its joint, have the
area of the lattice's determinant and do not overlap. `cover_fault` proves it for any cell, the built-in
ones and a person's own, or says where it does not.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal, TypeAlias, assert_never, get_args

import numpy as np
import shapely
from shapely import Polygon

from layout.plan.tile import Laying
from layout.shapes import cleaned_ring, preceding, signed_area, turned
from layout.units import TOUCH

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from layout.plan.values import Tile

    Floats = NDArray[np.float64]

PATTERN_NAMES: tuple[Laying, ...] = get_args(Laying)
Joints: TypeAlias = Literal["both", "courses", "none"]
"""Which joints of a pattern run straight through: both ways, between courses only, or none."""
COVER_TOLERANCE = 1e-4
"""Part of a cell's area that may be off: rounding of a person's figures to the micron, no more."""
MOST_AROUND = 100_000
"""Tiles of neighbouring cells that are looked at for one that overlaps; a cell of tiles side by side has some hundred."""


def quarter_onto(pattern: Pattern, quarters: int) -> Floats | None:
    """The shift (2,) in tile axes, mm, by which a pattern turned by quarters about its origin lies on itself; None if it does not."""
    turn = 90.0 * quarters
    back = np.linalg.inv(pattern.vectors)

    def whole(points: Floats) -> bool:
        steps = points @ back
        return bool(np.abs(steps - np.round(steps)).max() < 1e-6)

    if not whole(turned(pattern.vectors, turn)):
        return None
    lying = [turned(member, turn) for member in pattern.members]
    for other in pattern.members:
        shift: Floats = lying[0].min(axis=0) - other.min(axis=0)
        if all(
            any(_alike(one, each) and whole((one.min(axis=0) - each.min(axis=0) - shift)[None]) for each in pattern.members)
            for one in lying
        ):
            return shift
    return None


def _alike(one: Floats, other: Floats) -> bool:
    """Whether two outlines have one shape, wherever they stand."""
    if len(one) != len(other):
        return False
    here, there = one - one.min(axis=0), other - other.min(axis=0)
    return any(float(np.abs(np.roll(here, k, axis=0) - there).max()) < 1e-6 for k in range(len(one)))


@dataclass(frozen=True, slots=True, eq=False)
class Pattern:
    """Tiles of one cell and the two vectors that repeat it.

    Attributes
    ----------
    members : tuple of (k, 2) float
        Convex outlines of the cell's tiles, anticlockwise, mm.
    vectors : (2, 2) float
        Lattice vectors, mm.
    quarter : tuple of bool
        Whether a member is the tile turned by a quarter.
    turn : degrees that the pattern itself adds to the plan's turn.
    joints : which joints run straight through; all that a start and a division ask of a pattern follows from it.
    """

    name: Laying
    members: tuple[Floats, ...]
    vectors: Floats
    quarter: tuple[bool, ...]
    turn: float = 0.0
    joints: Joints = "none"

    @property
    def separable(self) -> bool:
        """Whether joints run straight through both ways: then the two directions part, and each tile stands like every other."""
        return self.joints == "both"

    @property
    def level_courses(self) -> bool:
        """Whether it lies in courses between straight joints: then its start is found exactly along each direction."""
        return self.joints != "none"

    @property
    def bonded(self) -> bool:
        """Whether its courses stand off each other."""
        return self.joints == "courses"

    @property
    def cell_area(self) -> float:
        """Area of one cell with its joints, mm²."""
        return float(abs(np.linalg.det(self.vectors)))

    @property
    def shifts(self) -> tuple[float, ...]:
        """How far courses stand off each other along the first vector, mm: one for each that differs, 24 at most."""
        pitch, shift = float(self.vectors[0, 0]), float(self.vectors[1, 0])
        result: list[float] = []
        for k in range(24):
            phase = math.remainder(k * shift, pitch)
            if any(abs(math.remainder(phase - s, pitch)) < TOUCH for s in result):
                break
            result.append(phase)
        return tuple(result)

    @property
    def areas(self) -> Floats:
        """Area of each member, mm²."""
        return np.array([abs(signed_area(member)) for member in self.members])

    @property
    def box(self) -> tuple[float, float]:
        """Width and height of the cell's first tile as it lies, mm."""
        w, h = (float(v) for v in np.ptp(self.members[0], axis=0))
        return w, h

    @property
    def widest(self) -> float:
        """Shorter side of the largest tile of the cell, mm: no cut is wider."""
        return max(min(self.box_of(m)) for m in range(len(self.members)))

    @property
    def corners(self) -> Floats:
        """Lower-left corner of each member's box, (n, 2), mm."""
        return np.array([member.min(axis=0) for member in self.members])

    def box_of(self, member: int) -> tuple[float, float]:
        """Width and height of a member in its own axes, mm."""
        w, h = (float(v) for v in np.ptp(self.members[member], axis=0))
        return (h, w) if self.quarter[member] else (w, h)

    @property
    def rectangular(self) -> bool:
        """Whether every member is an upright rectangle."""
        return all(len(m) == 4 and abs(abs(signed_area(m)) - float(np.prod(np.ptp(m, axis=0)))) < 1e-6 for m in self.members)


def _box(x: float, y: float, w: float, h: float) -> Floats:
    return np.array([[x, y], [x + w, y], [x + w, y + h], [x, y + h]])


def _grid(name: Laying, tile: Tile, shift: float, turn: float = 0.0) -> Pattern:
    w, h = tile.size
    along, across = tile.joints
    vectors = np.array([[w + along, 0.0], [shift * (w + along), h + across]])
    return Pattern(name, (_box(0, 0, w, h),), vectors, (False,), turn, joints="both" if shift % 1.0 == 0.0 else "courses")


def _herringbone(name: Laying, tile: Tile, rows: int) -> Pattern:
    """Rows of long tiles, `rows` side by side, meeting rows turned by a quarter.

    With pitches L' and W' the lattice is (rows W', rows W') and (L', -L'): determinant
    2 L' rows W', twice the module times the rows. Laid with turn 0 the tiles are square to the walls,
    with turn 45 the zigzag is.
    """
    long, short = max(tile.size), min(tile.size)
    pitch_l, pitch_s = long + tile.joint, short + tile.joint
    turned = tile.size[1] > tile.size[0]
    members, quarter = [], []
    for k in range(rows):
        members.append(_box(0.0, k * pitch_s, long, short))
        quarter.append(turned)
    for k in range(rows):
        members.append(_box(pitch_l + k * pitch_s, rows * pitch_s - pitch_l, short, long))
        quarter.append(not turned)
    step = rows * pitch_s
    return Pattern(name, tuple(members), np.array([[step, step], [pitch_l, -pitch_l]]), tuple(quarter))


def _basket(tile: Tile) -> Pattern:
    """Blocks of tiles side by side, every second block turned by a quarter, as on a chessboard.

    Closes only if length and joint are a whole number of times width and joint.
    """
    long, short = max(tile.size), min(tile.size)
    pitch_l, pitch_s = long + tile.joint, short + tile.joint
    rows = max(1, round(pitch_l / pitch_s))
    turned = tile.size[1] > tile.size[0]
    flat = [_box(0.0, k * pitch_s, long, short) for k in range(rows)]
    upright = [_box(pitch_l + k * pitch_s, 0.0, short, long) for k in range(rows)]
    vectors = np.array([[2 * pitch_l, 0.0], [pitch_l, pitch_l]])
    return Pattern("basket-weave", (*flat, *upright), vectors, (*[turned] * rows, *[not turned] * rows))


def _hexagon(tile: Tile) -> Pattern:
    """Regular hexagons standing on a corner; the tile's width is across flats."""
    flats = tile.size[0]
    radius = flats / math.sqrt(3.0)
    angles = math.radians(-90.0) + np.arange(6) * math.pi / 3.0
    ring = np.column_stack([flats / 2 + radius * np.cos(angles), radius + radius * np.sin(angles)])
    pitch = flats + tile.joint
    vectors = np.array([[pitch, 0.0], [pitch / 2.0, pitch * math.sqrt(3.0) / 2.0]])
    return Pattern("hexagon", (ring,), vectors, (False,))


def _two_size(tile: Tile) -> Pattern:
    """Large squares with a small one at a corner of each, rows stepping by the small one's pitch.

    With pitches P and p the lattice is (P, p) and (-p, P): determinant P² + p², one module of each.
    """
    large, small = tile.size[0], tile.small_side
    pitch, step = large + tile.joint, small + tile.joint
    members = (_box(0.0, 0.0, large, large), _box(pitch, 0.0, small, small))
    return Pattern("two-size", members, np.array([[pitch, step], [-step, pitch]]), (False, False))


def _own(tile: Tile) -> Pattern:
    cell = tile.cell
    assert cell is not None  # the plan was checked
    members = []
    for outline in cell.tiles:
        ring = cleaned_ring(np.array(outline, dtype=float))
        members.append(ring if signed_area(ring) > 0.0 else ring[::-1])
    return Pattern("own", tuple(members), np.array(cell.vectors, dtype=float), (False,) * len(members))


def pattern_of(tile: Tile) -> Pattern:
    """The pattern that a tile is laid in."""
    match tile.pattern:
        case "stack":
            return _grid("stack", tile, 0.0)
        case "running":
            return _grid("running", tile, tile.offset)
        case "diagonal":
            return _grid("diagonal", tile, 0.0, 45.0)
        case "herringbone":
            return _herringbone("herringbone", tile, 1)
        case "double-herringbone":
            return _herringbone("double-herringbone", tile, 2)
        case "basket-weave":
            return _basket(tile)
        case "hexagon":
            return _hexagon(tile)
        case "two-size":
            return _two_size(tile)
        case "own":
            return _own(tile)
        case _:
            assert_never(tile.pattern)


def turns_of(tile: Tile) -> tuple[float, ...]:
    """Turns, in degrees, that lay a tile onto itself; one of a person's own cell may be of any shape, so none but 0."""
    match tile.pattern:
        case "own":
            return (0.0,)
        case "hexagon":
            return (0.0, 60.0, 120.0, 180.0, 240.0, 300.0)
        case "stack" | "running" | "diagonal" | "herringbone" | "double-herringbone" | "basket-weave" | "two-size":
            return (0.0, 90.0, 180.0, 270.0) if abs(tile.size[0] - tile.size[1]) < TOUCH else (0.0, 180.0)
        case _:
            assert_never(tile.pattern)


def member_tiles(tile: Tile, pattern: Pattern) -> tuple[Tile, ...]:
    """The tile that each member of a cell is: its own box, and a name of its own where a cell has several."""
    boxes = [pattern.box_of(m) for m in range(len(pattern.members))]
    match pattern.name:
        case "stack" | "running" | "diagonal" | "herringbone" | "double-herringbone" | "basket-weave":
            return (tile,) * len(pattern.members)
        case "hexagon":
            return (replace(tile, size=boxes[0]),)
        case "two-size" | "own":
            return tuple(replace(tile, size=box, name=f"{tile.name} {round(box[0], 1):g} × {round(box[1], 1):g}") for box in boxes)
        case _:
            assert_never(pattern.name)


def bond_of(tile: Tile) -> float:
    """How far each course stands off the one below, as a part of the pitch in [0, 0.5]; 0 where there are no such courses."""
    pattern = pattern_of(tile)
    part = float(pattern.vectors[1, 0] / pattern.vectors[0, 0]) % 1.0 if pattern.bonded else 0.0
    return min(part, 1.0 - part)


def cover_fault(pattern: Pattern, joint: float) -> str | None:
    """Why a cell does not cover the plane with its joints, and where; None if it does.

    Each tile is grown by half the joint, corners mitred. The grown tiles of a cell must have the area
    of the lattice's determinant, and none may overlap a neighbour: then they cover the plane once.
    """
    v1, v2 = pattern.vectors
    if min(float(np.hypot(*v1)), float(np.hypot(*v2))) < 1.0:
        return "a vector of the cell has no length"
    if pattern.cell_area < 1e-6 * float(np.hypot(*v1)) * float(np.hypot(*v2)):
        return "the two vectors of the cell run the same way"
    for k, member in enumerate(pattern.members, 1):
        if len(member) < 3 or abs(signed_area(member)) < 1.0:
            return f"tile {k} of the cell has no area"
        before, after = member - preceding(member), np.roll(member, -1, axis=0) - member
        if (before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]).min() < -1e-9:
            return f"tile {k} of the cell is not convex"
    grown = [shapely.buffer(Polygon(m), joint / 2.0, join_style="mitre") if joint > 0.0 else Polygon(m) for m in pattern.members]
    reach = math.ceil(max(float(np.ptp(np.vstack(pattern.members), axis=0).max()) * 2.0 / math.sqrt(pattern.cell_area), 2.0))
    if len(grown) * (2 * reach + 1) ** 2 > MOST_AROUND:
        return "the tiles of the cell lie many cells apart; move each by whole vectors until they lie side by side"
    tolerance = COVER_TOLERANCE * pattern.cell_area
    around = [
        (i, j, shapely.transform(g, lambda xy, i=i, j=j: xy + i * v1 + j * v2), k)  # type: ignore[misc]
        for i in range(-reach, reach + 1)
        for j in range(-reach, reach + 1)
        for k, g in enumerate(grown)
    ]
    tree = shapely.STRtree([shape for _, _, shape, _ in around])
    for k, shape in enumerate(grown):
        for n in tree.query(shape):
            i, j, other, m = around[int(n)]
            if (i, j, m) == (0, 0, k):
                continue
            shared = shapely.intersection(shape, other)
            if shared.area > tolerance:
                x, y = shared.representative_point().coords[0]
                return f"tile {k + 1} of the cell overlaps a neighbour (tile {m + 1}) by {shared.area:.0f} mm² at [{x:.1f}, {y:.1f}], joints included"
    total = math.fsum(g.area for g in grown)
    if total < pattern.cell_area - tolerance:
        cell = Polygon([(0, 0), tuple(v1), tuple(v1 + v2), tuple(v2)])
        gap = shapely.difference(cell, shapely.union_all([shape for _, _, shape, _ in around]))
        where = max(shapely.get_parts(gap), key=lambda part: part.area, default=None)
        at = f" at [{where.representative_point().x:.1f}, {where.representative_point().y:.1f}]" if where is not None else ""
        return f"the cell leaves {pattern.cell_area - total:.0f} mm² uncovered{at}, joints included"
    return None
