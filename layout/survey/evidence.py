"""What speaks for a space being a room, and how much: its name, doors, walls about it, a stated area or size."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import Polygon

from layout.shapes import following

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

LEAST_CONFIDENCE = 0.5
"""A space with less is told, and written only where it is asked for."""
WALL = (30.0, 1000.0)
"""Least and greatest thickness of a wall that is looked for behind a room's edge, mm."""
STEP = 250.0
"""Walls are looked for at each such length of a room's edge, mm."""
SQUARE_FOOT = 0.09290304
"""m², exactly: the international foot is 0.3048 m."""
AGREES = 0.03
"""A stated area or size that differs by no more than this part is the room's."""
_AREA = re.compile(r"(\d{1,6}(?:[.,]\d{1,3})?)\s*(sf|sq\.?\s*ft\.?|m2|m²|qm|sqm)\b", re.IGNORECASE)
_FEET = r"(\d+)'\s*-?\s*(\d+(?:\s+\d+/\d+)?)?\"?"
_SIZE = re.compile(rf"{_FEET}\s*[xX×]\s*{_FEET}")


@dataclass(frozen=True, slots=True)
class Evidence:
    """What speaks for and against a room, in words, and a confidence from 0 to 1: a sum of stated weights, no probability."""

    confidence: float
    words: tuple[str, ...]


def evidence_of(
    room: Polygon,
    *,
    named: bool,
    doors: int,
    texts: Sequence[str],
    walls: Floats,
    solids: Sequence[Polygon] = (),
    drawn: bool = False,
    told: bool = False,
) -> Evidence:
    """What speaks for a room.

    Parameters
    ----------
    room : the space, mm.
    named : whether a name stands in it.
    doors : how many doors lead into it.
    texts : what is written in it.
    walls : (n, 2, 2) lines of walls, mm.
    solids : bodies of walls, mm.
    drawn : whether it was drawn as a room: a closed outline on a layer of rooms.
    told : whether a person said which layers hold the walls.

    The weights are ours: a sign of what to look at, not a measure.
    """
    body = shapely.intersection(room, shapely.union_all(list(solids))).area if solids else 0.0
    if body > 0.5 * room.area:
        return Evidence(0.0, ("it is the body of a wall or pier",))
    found = [(0.15, "")]
    if drawn:
        found.append((0.6, "drawn as a room"))
    if told:
        found.append((0.4, "between walls that were named"))
    found.append((0.35, "a name stands in it") if named else (0.0, "no name stands in it"))
    if doors:
        found.append((0.35, f"{doors} door{'s' if doors > 1 else ''}"))
    elif not drawn:
        found.append((0.0, "no door"))
    share, thick = walls_behind(room, walls)
    if share >= 0.5:
        found.append((0.2, f"walls of {thick:.0f} on {100 * share:.0f} % of its edge"))
    stated = stated_in(room, texts)
    if stated is not None:
        agrees, words = stated
        found.append((0.2 if agrees else 0.0, words))
    return Evidence(round(min(math.fsum(weight for weight, _ in found), 0.99), 2), tuple(words for _, words in found if words))


def walls_behind(room: Polygon, walls: Floats) -> tuple[float, float]:
    """The share of a room's edge that has the other face of a wall behind it, and the middle of the thicknesses found, mm."""
    ring = shapely.get_coordinates(room.exterior)[:-1]
    starts, rays = ring, []
    sign = 1.0 if room.exterior.is_ccw else -1.0
    for a, b in zip(starts, following(starts), strict=True):
        length = float(np.hypot(*(b - a)))
        if length < 1.0:
            continue
        way = (b - a) / length
        out = sign * np.array([way[1], -way[0]])
        along = (np.arange(max(int(length // STEP), 1)) + 0.5) / max(int(length // STEP), 1) * length
        points = a + along[:, None] * way
        rays += [np.array([p + WALL[0] * out, p + WALL[1] * out]) for p in points]
    if not rays or not len(walls):
        return 0.0, 0.0
    lines, ways = np.asarray(shapely.linestrings(walls)), np.asarray(shapely.linestrings(np.array(rays)))
    ray, line = shapely.STRtree(lines).query(ways, predicate="intersects")
    depth = np.full(len(ways), np.inf)
    starts = np.array(shapely.points(np.array(rays)[:, 0]), dtype=object)
    np.minimum.at(depth, ray, shapely.distance(starts[ray], shapely.intersection(ways[ray], lines[line])))
    hit = np.isfinite(depth)
    return float(hit.mean()), float(np.median(depth[hit])) + WALL[0] if hit.any() else 0.0


def stated_in(room: Polygon, texts: Sequence[str]) -> tuple[bool, str] | None:
    """Whether an area or a size that is written in a room is the room's, in words; None where none is written.

    >>> stated_in(Polygon([(0, 0), (1524, 0), (1524, 1702), (0, 1702)]), ["TOIL.", "5' x 5'7"])
    (True, "its size is stated: 5' x 5'7")
    """
    has = room.area / 1e6
    told: tuple[bool, str] | None = None
    for text in texts:
        if (area := _AREA.search(text)) is not None:
            feet = area[2].lower() == "sf" or "ft" in area[2].lower()
            stated = float(area[1].rstrip(",.").replace(",", "" if feet else ".")) * (SQUARE_FOOT if feet else 1.0)
            if abs(has - stated) <= max(AGREES * stated, 0.1):
                return True, f"its area is stated: {text.strip()}"
            told = (False, f"{text.strip()} is written in it, that is {stated:.2f} m², it has {has:.2f}")
        if (size := _SIZE.search(text)) is not None:
            sides = sorted(_feet(*size.groups()[k : k + 2]) for k in (0, 2))
            own = sorted(np.subtract(room.bounds[2:], room.bounds[:2]).tolist())
            if all(abs(a - b) <= max(AGREES * a, 30.0) for a, b in zip(sides, own, strict=True)):
                return True, f"its size is stated: {text.strip()}"
            told = told or (False, f"{text.strip()} is written in it, it measures {own[0]:.0f} × {own[1]:.0f}")
    return told


def _feet(feet: str, inches: str | None) -> float:
    """Feet and inches in mm."""
    whole, _, part = (inches or "0").partition(" ")
    over, _, under = part.partition("/")
    return 304.8 * float(feet) + 25.4 * (float(whole) + (float(over) / float(under) if under else 0.0))
