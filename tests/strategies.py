"""Rooms that hypothesis builds and shrinks: squared, out of square, with solids that touch, and awkward on purpose.

A room shrinks towards one small rectangle without solids, doors or drains, in stack bond with its foot wall-through:
what is left in a failing example is what the failure needs.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from hypothesis import assume
from hypothesis import strategies as st
from shapely import Polygon

from layout.shapes import cleaned_ring
from layout.units import STRAIGHT_DEG, TOUCH
from tests.rooms import plan_of

if TYPE_CHECKING:
    from layout.plan.values import Plan

HAIR = 0.001
"""Just this side or that of a tolerance: the finest step of a plan's coordinates, mm."""
FEET = ("wall-through", "floor-through", "cove")


def _ring(x: float, y: float, w: float, h: float) -> list[list[float]]:
    return [[x, y], [x + w, y], [x + w, y + h], [x, y + h]]


def _solid(draw: st.DrawFn, inner: Any, taken: list[Polygon]) -> list[list[float]] | None:
    """A box that keeps 150 mm off walls and other solids, or none where it would not fit."""
    if inner.is_empty:
        return None
    x0, y0, x1, y1 = inner.bounds
    w, h = draw(st.integers(2, 6)) * 100, draw(st.integers(2, 6)) * 100
    x, y = draw(st.integers(math.floor(x0), math.ceil(x1))), draw(st.integers(math.floor(y0), math.ceil(y1)))
    box = shapely.box(x, y, x + w, y + h)
    if not inner.covers(box) or any(other.distance(box) <= 150.0 for other in taken):
        return None
    taken.append(box)
    return _ring(float(x), float(y), float(w), float(h))


@st.composite
def squared(draw: st.DrawFn, *, holes: bool = True, most: int = 27) -> dict[str, Any]:
    """A room with square corners, a union of up to three boxes of up to `most` steps, with columns and plinths that keep off the walls."""
    step = draw(st.sampled_from([50, 103, 206, 37]))
    # up to 8.2 m over all unless told, so that floors are divided; larger ones only cost time
    corner, side = st.integers(0, most // 2), st.integers(8, most)
    boxes = []
    for _ in range(draw(st.integers(1, 3))):
        x, y, w, h = (draw(each) * step for each in (corner, corner, side, side))
        boxes.append(shapely.box(x, y, x + w, y + h))
    shape = shapely.union_all(boxes)
    assume(isinstance(shape, Polygon) and not shape.interiors)
    assert isinstance(shape, Polygon)
    ring = cleaned_ring(shapely.get_coordinates(shapely.orient_polygons(shape).exterior)[:-1])
    room: dict[str, Any] = {"outline": [[float(x), float(y)] for x, y in ring]}
    taken: list[Polygon] = []
    for kind in ("columns", "plinths", "columns") if holes else ():
        outline = _solid(draw, shape.buffer(-150.0, join_style="mitre"), taken) if draw(st.booleans()) else None
        if outline is not None:
            room.setdefault(kind, []).append({"outline": outline})
    return room


@st.composite
def skew(draw: st.DrawFn) -> dict[str, Any]:
    """A room out of square: corners round a point, sometimes with a column of eight sides."""
    count = draw(st.integers(4, 8))
    shares = np.array([draw(st.integers(20, 100)) for _ in range(count)], dtype=float)
    angles = np.cumsum(shares) / shares.sum() * 2.0 * math.pi
    radius = np.array([draw(st.integers(1500, 3300)) for _ in range(count)], dtype=float)
    ring = np.column_stack([radius * np.cos(angles), radius * np.sin(angles)]).round(0)
    polygon = Polygon(ring)
    assume(polygon.is_valid and polygon.area > 3e6 and not polygon.buffer(-300).is_empty and polygon.minimum_clearance > 100)
    room: dict[str, Any] = {"outline": ring.tolist()}
    hole = polygon.buffer(-300).representative_point().buffer(120, quad_segs=2)
    if draw(st.booleans()) and polygon.buffer(-150).covers(hole):
        room["columns"] = [{"outline": shapely.get_coordinates(hole)[:-1].round(1).tolist()}]
    return room


ELL = [[0, 0], [6000, 0], [6000, 3000], [3500, 3000], [3500, 5000], [0, 5000]]


@st.composite
def touching(draw: st.DrawFn) -> dict[str, Any]:
    """An L-shaped room with columns and plinths that touch its walls and each other, and sometimes a door."""
    room: dict[str, Any] = {"outline": ELL, "tile_height": 2000, "tanking_height": draw(st.sampled_from([150, 300, 2000]))}
    shape, taken = Polygon(ELL), list[Polygon]()
    for kind in ("columns", "plinths", "plinths", "columns"):
        if not draw(st.booleans()):
            continue
        w, h = draw(st.integers(2, 11)) * 100, draw(st.integers(2, 11)) * 100
        xs = [0, 6000 - w, 3500 - w, 3500, *(e for t in taken for e in (t.bounds[2], t.bounds[0] - w))]
        ys = [0, 3000 - h, 5000 - h, *(e for t in taken for e in (t.bounds[3], t.bounds[1] - h))]
        x, y = float(draw(st.sampled_from(xs) | st.integers(0, 5000))), float(draw(st.sampled_from(ys) | st.integers(0, 4000)))
        box = shapely.box(x, y, x + w, y + h)
        if shape.covers(box) and all(shapely.intersection(box, other).area < 1.0 for other in taken):
            taken.append(box)
            height = {"height": draw(st.sampled_from([100, 150, 300]))} if kind == "plinths" else {}
            room.setdefault(kind, []).append({"outline": _ring(x, y, w, h), **height})
    if draw(st.booleans()):
        room["openings"] = [{"wall": 2, "offset": draw(st.integers(0, 19)) * 100, "width": 900, "depth": draw(st.sampled_from([0, 120]))}]
    return room


def any_room() -> st.SearchStrategy[dict[str, Any]]:
    """Squared or out of square."""
    return squared() | skew()


@dataclass(frozen=True, kw_only=True)
class Given:
    """A room with its tile and rules; `awkward` says what was made awkward in it."""

    room: dict[str, Any]
    tile: dict[str, Any]
    rules: dict[str, Any]
    awkward: tuple[str, ...] = field(default=())

    def plan(self) -> Plan:
        """The plan of it."""
        return plan_of(self.room, tiles={"floor": self.tile}, rules=self.rules)


TILES: tuple[dict[str, Any], ...] = (
    {"size": [200, 200], "joint": 6},
    {"size": [600, 300], "joint": 4, "pattern": "running", "offset": 0.5},
    {"size": [150, 150], "joint": 5, "pattern": "diagonal"},
)
AWKWARD = ("edge", "bent", "turn", "nib", "gap", "through", "column", "structural", "door")


@st.composite
def awkward(draw: st.DrawFn, *, kinds: tuple[str, ...] = AWKWARD) -> Given:
    """A rectangle with up to three awkward things about it, each at a tolerance or on both sides of it.

    edge: whole tiles between the walls, off by the touching tolerance and a hair. bent, turn: a corner far under, and at the
    angle under which two walls are one. nib: shorter than a course. gap, column: clearances under 100 mm, and a little more.
    through: a channel from wall to wall. structural: a joint across. door: in the far wall, with depth or without.
    """
    tile = draw(st.sampled_from(TILES))
    chosen = draw(st.lists(st.sampled_from(kinds), max_size=3, unique=True))
    rules: dict[str, Any] = {"foot": draw(st.sampled_from(FEET))}
    w, h = draw(st.integers(10, 40)) * 100.0, draw(st.integers(10, 30)) * 100.0
    if "edge" in chosen:
        pitch = tile["size"][0] + tile["joint"]
        hair = draw(st.sampled_from([0.0, TOUCH, -TOUCH, TOUCH + HAIR, TOUCH - HAIR, -TOUCH - HAIR, -TOUCH + HAIR]))
        w = round(draw(st.integers(6, 14)) * pitch - tile["joint"] + 2 * 10.0 + hair, 3)  # tanked bare walls: membrane 2, joint 8
    top: list[list[float]] = [[w, h], [0.0, h]]
    if "bent" in chosen:
        top.insert(1, [round(w / 2), h + draw(st.integers(1, 6))])
    elif "turn" in chosen:
        angle = STRAIGHT_DEG + draw(st.sampled_from([-0.001, 0.001]))
        top.insert(1, [round(w / 2), round(h + w / 2 * math.tan(math.radians(angle / 2)), 3)])
    elif "nib" in chosen:
        deep, long = draw(st.integers(30, 250)), draw(st.integers(30, 250))
        at = draw(st.integers(300, int(w) - 600))
        top[1:1] = [[at + long, h], [at + long, h - deep], [at, h - deep], [at, h]]
    room: dict[str, Any] = {"outline": [[0.0, 0.0], [w, 0.0], *top]}
    if draw(st.booleans()):
        room |= {"tile_height": 2000, "tanking_height": draw(st.sampled_from([150, 2000]))}
    _things(draw, room, chosen, w, h)
    return Given(room=room, tile=tile, rules=rules, awkward=tuple(chosen))


def _things(draw: st.DrawFn, room: dict[str, Any], chosen: list[str], w: float, h: float) -> None:
    """Columns, channels, joints and doors of an awkward room."""
    if "gap" in chosen:
        gap = draw(st.integers(25, 110))
        room.setdefault("plinths", []).append({"outline": _ring(gap, h / 2 - 150, 300, 300), "height": 150})
    if "column" in chosen:
        gap = draw(st.integers(25, 110))
        room.setdefault("columns", []).append({"outline": _ring(w - 300 - gap, h / 2 - 150, 300, 300)})
    if "through" in chosen:
        at = draw(st.integers(120, int(h / 2) - 300)) if h > 900 else 120
        room["drains"] = [{"kind": "channel", "from": [0, at], "to": [w, at], "width": 100}]
    if "structural" in chosen:
        at = draw(st.integers(400, int(w) - 400))
        room["structural_joints"] = [{"line": [[at, -50], [at, h + 50]], "width": 20}]
    if "door" in chosen:
        room["openings"] = [
            {"wall": 1, "offset": draw(st.integers(0, int(w) - 700)), "width": 700, "depth": draw(st.sampled_from([0, 120]))}
        ]
