"""Where a thing stands that was measured from two walls, or by tape from two corners.

Corners are those of the typed outline (n, 2), in either direction; edge k runs from corner k to k + 1, counted from 0
here and from 1 in messages, as a person counts walls.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from layout.errors import PlanError
from layout.units import EPS, snap

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from layout.errors import Point

    Floats = NDArray[np.float64]

FLATTEST = math.sin(math.radians(10.0))
"""Walls that meet under a flatter angle than 10 degrees fix no point: a reading 1 off moves it by 6 (geometry)."""


def off_walls(corners: Floats, first: tuple[int, float], second: tuple[int, float]) -> Point:
    """The point that lies two distances off two walls, each (edge, mm), measured square to them into the room.

    Raises
    ------
    PlanError
        If the walls run so nearly alike that their distances fix no point.
    """
    (n1, at1), (n2, at2) = (face_of(corners, edge) for edge, _ in (first, second))
    across = float(n1[0] * n2[1] - n1[1] * n2[0])
    if abs(across) < FLATTEST:
        found = f"walls {first[0] + 1} and {second[0] + 1} run nearly the same way"
        raise PlanError("two walls", found, "measure off two walls that meet, or from two corners")
    d1, d2 = at1 + first[1], at2 + second[1]
    x, y = (d1 * n2[1] - d2 * n1[1]) / across, (d2 * n1[0] - d1 * n2[0]) / across
    return snap(float(x)), snap(float(y))


def box_off_walls(corners: Floats, first: tuple[int, float], second: tuple[int, float], size: Point) -> list[Point]:
    """Corners of a solid whose near faces lie two distances off two walls.

    `size` is its length along the first wall and its depth off it, mm; its sides run with the two walls.
    """
    far_first, far_second = (first[0], first[1] + size[1]), (second[0], second[1] + size[0])
    pairs = ((first, second), (first, far_second), (far_first, far_second), (far_first, second))
    return [off_walls(corners, a, b) for a, b in pairs]


def from_corners(corners: Floats, first: tuple[int, float], second: tuple[int, float]) -> tuple[Point, Point]:
    """Both points that lie two taped distances from two corners, each (corner, mm): left of the way from first to second, then right.

    Raises
    ------
    PlanError
        If the two tapes cannot meet.
    """
    (i, r), (j, s) = first, second
    a, b = corners[i], corners[j]
    apart = math.dist(a, b)
    if i == j or apart < EPS:
        raise PlanError("two corners", f"corner {i + 1} twice", "measure from two corners")
    short = max(apart - r - s, abs(r - s) - apart)
    if short > EPS:
        found = f"{i + 1}:{r:g} and {j + 1}:{s:g} cannot meet: corners {i + 1} and {j + 1} stand {apart:.0f} apart, {short:.0f} off"
        raise PlanError("two corners", found, "measure both again, or from other corners")
    along = (r * r - s * s + apart * apart) / (2.0 * apart)
    across = math.sqrt(max(r * r - along * along, 0.0))
    way = (b - a) / apart
    foot, left = a + way * along, np.array([-way[1], way[0]]) * across
    return (snap(float(foot[0] + left[0])), snap(float(foot[1] + left[1]))), (
        snap(float(foot[0] - left[0])),
        snap(float(foot[1] - left[1])),
    )


def inside(corners: Floats, point: Point) -> bool:
    """Whether a point lies in the outline, arcs taken as their chords: an upright ray crosses it an odd number of times."""
    x, y = point
    a, b = corners, np.roll(corners, -1, axis=0)
    over = (a[:, 0] > x) != (b[:, 0] > x)
    with np.errstate(divide="ignore", invalid="ignore"):
        height = a[:, 1] + (x - a[:, 0]) / (b[:, 0] - a[:, 0]) * (b[:, 1] - a[:, 1])
    return int(np.count_nonzero(over & (height > y))) % 2 == 1


def face_of(corners: Floats, edge: int) -> tuple[Floats, float]:
    """The normal of an edge into the room, and how far along it the edge lies."""
    a, b = corners[edge], corners[(edge + 1) % len(corners)]
    after = np.roll(corners, -1, axis=0)
    turn = 1.0 if float((corners[:, 0] * after[:, 1] - after[:, 0] * corners[:, 1]).sum()) > 0.0 else -1.0
    way = (b - a) / max(math.dist(a, b), EPS)
    normal = turn * np.array([-way[1], way[0]])
    return normal, float(normal @ a)
