"""What a building model states of its spaces beside their shape: storey, floor area, and wall tile by its coverings."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from layout.fields import clean
from layout.shapes import following

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

LEAST_WALL_TILE = 300.0
"""A covering that rises less is no wall tile, mm: floors, skirtings."""
BEYOND, WITHIN = 30.0, 60.0
"""A covering on a wall lies no further than this outside and inside the space's edge, mm: one of the next room is a wall away."""
TO_THE_MIDDLE = 250.0
"""One that covers a wall of the space stands so far within its edge at the most, mm: spaces are drawn to the middle of walls, too."""
MOST_OF = 0.5
"""A wall is tiled where so much of its length is."""
ALIKE = 5.0
"""Heights that differ by less are one, mm."""
_TILE = re.compile(r"til(e|ing)|tegel|flies|kachel|carrel|azulej|piastrell|kakel|flis", re.IGNORECASE)
"""Tile by its name in a few languages; a covering declared as cladding counts whatever its name."""


@dataclass(frozen=True, slots=True, eq=False)
class Cladding:
    """A covering that stands on walls: its name, corners in plan (n, 2), lowest and highest level, mm; spaces it is said to cover.

    `box` is that of its corners: least x and y, greatest x and y. `within` is how far inside a space's edge it may stand, mm.
    """

    name: str
    corners: Floats
    low: float
    high: float
    spaces: frozenset[str]
    box: tuple[float, float, float, float]
    within: float = WITHIN

    def beside(self, low: Sequence[float], high: Sequence[float]) -> bool:
        """Whether it lies within a box in plan (2,), or on its edge."""
        x0, y0, x1, y1 = self.box
        return x1 > low[0] - BEYOND and y1 > low[1] - BEYOND and x0 < high[0] + BEYOND and y0 < high[1] + BEYOND


def _covered(model: Any, bounds: Mapping[str, set[str]]) -> tuple[dict[str, set[str]], set[str]]:  # noqa: ANN401
    """The spaces that each covering is said to cover, by itself or by the wall that it covers; those that cover a wall of a space."""
    spaces: dict[str, set[str]] = {}
    for relation in model.by_type("IfcRelCoversSpaces"):
        space = getattr(relation, "RelatingSpace", None) or getattr(relation, "RelatedSpace", None)  # IFC4, IFC2X3
        for each in relation.RelatedCoverings or ():
            if space is not None:
                spaces.setdefault(each.GlobalId, set()).add(space.GlobalId)
    on_wall: set[str] = set()
    for relation in model.by_type("IfcRelCoversBldgElements"):
        wall = relation.RelatingBuildingElement
        beside = bounds.get(wall.GlobalId, set()) if wall is not None else set()
        for each in relation.RelatedCoverings or ():
            if beside:
                on_wall.add(each.GlobalId)
                spaces.setdefault(each.GlobalId, set(beside))
    return spaces, on_wall


def claddings_of(
    model: Any,  # noqa: ANN401
    mesh: Callable[[Any], Floats | None],
    bounds: Mapping[str, set[str]],
) -> list[Cladding]:
    """Coverings that may be wall tile: cladding, or called tile, and as high as no floor is thick.

    `bounds`: the spaces that each element is said to bound. What covers a wall is in the spaces that the wall bounds alone, unless
    the model says which space it covers.
    """
    covered, on_wall = _covered(model, bounds)
    result = []
    for each in model.by_type("IfcCovering"):
        name = clean(" ".join(word for word in (each.Name, each.ObjectType) if word))
        if each.PredefinedType != "CLADDING" and not _TILE.search(name):
            continue
        triangles = mesh(each)
        if triangles is None:
            continue
        points = triangles.reshape(-1, 3)
        low, high = float(points[:, 2].min()), float(points[:, 2].max())
        if high - low >= LEAST_WALL_TILE:
            corners = np.unique(np.round(points[:, :2], 1), axis=0)
            x0, y0, x1, y1 = (float(x) for x in (*corners.min(axis=0), *corners.max(axis=0)))
            within = TO_THE_MIDDLE if each.GlobalId in on_wall else WITHIN
            result.append(Cladding(name, corners, low, high, frozenset(covered.get(each.GlobalId, ())), (x0, y0, x1, y1), within))
    return result


def tiled_walls(key: str, ring: Floats, low: float, high: float, claddings: Sequence[Cladding]) -> tuple[tuple[float, ...], list[str]]:
    """Height of tile on each wall of a space by its coverings, mm, 0 where none; what there is to say of it.

    Parameters
    ----------
    key : the space in the model.
    ring : its walls' corners (n, 2), mm.
    low, high : its floor and its top, mm.

    Nothing where no covering stands on a wall of it. A covering that is said to cover other spaces is none of this one's.
    """
    first_corner, last_corner = ring.min(axis=0).tolist(), ring.max(axis=0).tolist()
    level = [each for each in claddings if low - LEAST_WALL_TILE < each.low < high and (not each.spaces or key in each.spaces)]
    own = [each for each in level if each.beside(first_corner, last_corner)]
    heights, notes, names = [], [], Counter[str]()
    for number, (a, b) in enumerate(zip(ring, following(ring), strict=True), 1):
        length = float(np.hypot(*(b - a)))
        way = (b - a) / max(length, 1e-9)
        runs: list[tuple[float, float, float]] = []  # height above the floor, from, to
        for each in own:
            along, inside = (each.corners - a) @ way, way[0] * (each.corners - a)[:, 1] - way[1] * (each.corners - a)[:, 0]
            first, last = max(float(along.min()), 0.0), min(float(along.max()), length)
            if inside.min() > -BEYOND and inside.max() < each.within and last - first > 2 * WITHIN:
                runs.append((round(min(each.high, high) - low, 1), first, last))
                names[each.name] += 1
                if each.low - low > LEAST_WALL_TILE:
                    notes.append(f"wall {number}: its tile begins {each.low - low:.0f} above the floor")
        height, told = _height(runs, length)
        heights.append(height)
        notes += [f"wall {number}: {told}"] if told else []
    if not names:
        return (), []
    said = ", ".join(f"“{name}”" for name in names)
    figures = ", ".join(f"{height:g}" for height in heights)
    return tuple(heights), [f"wall tile by the model's coverings {said}: {figures} high on walls 1 to {len(heights)}", *notes]


def _height(runs: Sequence[tuple[float, float, float]], length: float) -> tuple[float, str]:
    """The height that most of a wall is tiled to; what differs of it, in words."""
    groups: dict[float, list[tuple[float, float]]] = {}
    for height, first, last in sorted(runs, reverse=True):
        one = next((known for known in groups if abs(known - height) < ALIKE), height)
        groups.setdefault(one, []).append((first, last))
    spans = {height: _length(own) for height, own in groups.items()}
    whole = _length([(first, last) for _, first, last in runs])
    if not spans:
        return 0.0, ""
    parts = ", ".join(f"{span:.0f} of {length:.0f} is tiled {height:g} high" for height, span in spans.items())
    if whole < MOST_OF * length:
        return 0.0, f"{parts}; taken as not tiled"
    return max(spans, key=lambda height: (spans[height], height)), parts if len(spans) > 1 or whole < 0.9 * length else ""


def _length(spans: Sequence[tuple[float, float]]) -> float:
    """The length that spans cover together."""
    total, end = 0.0, -np.inf
    for first, last in sorted(spans):
        total += max(last - max(first, end), 0.0)
        end = max(end, last)
    return float(total)


def storey_of(space: Any) -> str:  # noqa: ANN401
    """The storey that a space belongs to, by its name."""
    for relation in space.Decomposes or ():
        whole = relation.RelatingObject
        if whole.is_a("IfcBuildingStorey"):
            return str(whole.Name or "")
    return ""


def stated_area(space: Any) -> float | None:  # noqa: ANN401
    """The floor area that a model states of a space, m²."""
    for relation in space.IsDefinedBy or ():
        if not relation.is_a("IfcRelDefinesByProperties"):
            continue
        for quantity in getattr(relation.RelatingPropertyDefinition, "Quantities", None) or ():
            if quantity.is_a("IfcQuantityArea") and quantity.Name in ("NetFloorArea", "GrossFloorArea"):
                return float(quantity.AreaValue)
    return None
