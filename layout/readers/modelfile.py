"""Reads a building model (IFC): spaces as rooms, with doors, columns, pipes and floor drains where they are modelled.

Needs the extra `gaugerod[ifc]`. A space is its lowest faces, or its foot-print curve where it has no body.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from shapely import Polygon

from layout.budgets import BUDGETS, Budgets, within
from layout.errors import LayoutError, PlanError
from layout.fields import clean
from layout.readers.apart import apart
from layout.readers.modelfacts import Cladding, claddings_of, stated_area, storey_of, tiled_walls
from layout.readers.modelshapes import Shapes, damage, of_kind, sound
from layout.readers.texts import check_file
from layout.shapes import following
from layout.survey.found import Found, FoundRoom, tidied, unique_names

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from numpy.typing import NDArray

    from layout.errors import Point

    Floats = NDArray[np.float64]

SCHEMAS = ("IFC2X3", "IFC4", "IFC4X3")
"""Schemas that are read."""
DOOR_REACH = 500.0
"""A door stands in a wall no thicker than this beside the space, mm."""
LEVEL = 300.0
"""Things within this of a floor stand on it, mm."""


def read_ifc(path: str | Path, *, budgets: Budgets = BUDGETS) -> Found:
    """Rooms of an IFC model.

    Raises
    ------
    PlanError
        If it cannot be read, is of another schema, or holds no spaces.
    """
    path = Path(path)
    return apart(path.name, "save it anew from the program that made it, or as DXF", partial(_read, path, budgets))


def _read(path: Path, budgets: Budgets) -> Found:
    """Rooms of a model, in this process."""
    with within(path.name, budgets):
        model = _opened(path, budgets)
        import ifcopenshell.util.unit  # noqa: PLC0415  # the extra

        try:
            scale = float(ifcopenshell.util.unit.calculate_unit_scale(model)) * 1000.0
        except damage():
            raise PlanError(path.name, "its unit of length cannot be read", "save it anew from the program that made it") from None
        spaces = list(model.by_type("IfcSpace"))
        if not spaces:
            walls = len(model.by_type("IfcWall"))
            raise PlanError(
                path.name,
                f"the model has no spaces ({walls} walls, {len(model.by_type('IfcDoor'))} doors)",
                "add spaces (IfcSpace) in the program that made it, or save a plan view as DXF and read that",
            )
        left: list[str] = []
        things = _things(model, scale, left)
        found = _rooms_of(spaces, things, left)
        if not found:
            raise PlanError(path.name, "; ".join(left[:6]), "give the spaces a body or a foot-print in the program that made the model")
        warnings = [
            f"{room.name}: {room.area_m2:.2f} m², the model states {area:.2f}"
            for room, area, _ in found
            if area is not None and abs(room.area_m2 - area) > max(0.01 * area, 0.02)
        ]
        names = unique_names([room.name for room, _, _ in found])
        warnings += [f"{name}: {note}" for name, (_, _, notes) in zip(names, found, strict=True) for note in notes]
        rooms = tuple(replace(room, name=name) for name, (room, _, _) in zip(names, found, strict=True))
        counted: dict[str, Sequence[object]] = {
            "spaces": found,
            "doors": things.doors,
            "windows": things.windows,
            "columns": things.columns,
            "pipes": things.pipes,
        }
        return Found(
            path.name,
            rooms,
            "m" if math.isclose(scale, 1000.0) else "mm" if math.isclose(scale, 1.0) else f"{scale:g} mm",
            "the model says so",
            tuple(f"{kind}: {len(each)}" for kind, each in counted.items()),
            tuple(left),
            tuple(warnings),
        )


@dataclass(frozen=True, slots=True, eq=False)
class _Leaf:
    """A door or window: its two ends in plan, the level it stands on, its height, and the spaces that the model says it bounds."""

    line: Floats
    level: float
    tall: float
    bounds: frozenset[str]


@dataclass(frozen=True, slots=True, eq=False)
class _Things:
    """What a model holds beside its spaces, in plan, mm."""

    shapes: Shapes
    doors: list[_Leaf]
    windows: list[_Leaf]
    columns: list[tuple[Polygon, float]]
    pipes: list[tuple[Point, float, float, float]]
    drains: list[tuple[Point, float, float, float]]
    claddings: list[Cladding]


@dataclass(frozen=True, slots=True, eq=False)
class _Space:
    """A space as read: its key in the model, its floor's polygon and ring, its levels, mm."""

    key: str
    polygon: Polygon
    ring: Floats
    low: float
    high: float


def _things(model: Any, scale: float, left: list[str]) -> _Things:  # noqa: ANN401
    shapes = Shapes(model, scale)
    bounds: dict[str, set[str]] = {}

    def bound(relation: Any) -> None:  # noqa: ANN401
        if relation.RelatedBuildingElement is not None and relation.RelatingSpace is not None:
            bounds.setdefault(relation.RelatedBuildingElement.GlobalId, set()).add(relation.RelatingSpace.GlobalId)

    def leaf(thing: Any) -> _Leaf | None:  # noqa: ANN401
        return _leaf(thing, scale, bounds)

    sound(of_kind(model, "IfcRelSpaceBoundary"), bound, left)
    return _Things(
        shapes,
        sound(of_kind(model, "IfcDoor"), leaf, left),
        sound(of_kind(model, "IfcWindow"), leaf, left),
        sound(of_kind(model, "IfcColumn"), shapes.shadow, left),
        sound(of_kind(model, "IfcFlowSegment"), shapes.box, left),  # pipes are segments of that kind
        sound(of_kind(model, "IfcWasteTerminal"), shapes.box, left),
        _claddings(model, shapes, bounds, left),
    )


def _claddings(model: Any, shapes: Shapes, bounds: Mapping[str, set[str]], left: list[str]) -> list[Cladding]:  # noqa: ANN401
    try:
        return claddings_of(model, shapes.mesh, bounds)
    except LayoutError:
        raise
    except damage():
        left.append("coverings of walls: one is damaged, so all are left out")
        return []


def _rooms_of(spaces: Sequence[Any], things: _Things, left: list[str]) -> list[tuple[FoundRoom, float | None, list[str]]]:
    """Rooms, the areas that the model states, what there is to say of wall tile; spaces of which no floor can be made are told in `left`."""

    def space_of(each: Any) -> tuple[Any, str, _Space] | None:  # noqa: ANN401
        name = " ".join(dict.fromkeys(part.strip() for part in (each.Name or "", each.LongName or "") if part and part.strip()))
        made = things.shapes.floor(each)
        if made is None:
            left.append(f"{name or each.GlobalId}: no floor with an area can be made of its shape")
            return None
        polygon, low, high = made
        return each, name, _Space(each.GlobalId, polygon, tidied(shapely.get_coordinates(polygon.exterior)[:-1]), low, high)

    read = sound(spaces, space_of, left)
    every = [space for _, _, space in read]
    doors = _stand_in(every, things.doors, lambda leaf, space: abs(leaf.level - space.low) < LEVEL)
    windows = _stand_in(every, things.windows, lambda leaf, space: space.low - LEVEL < leaf.level < space.high)
    columns = np.array([shape for shape, _ in things.columns], dtype=object)
    rooms = []
    for k, (each, name, space) in enumerate(read):
        own = Polygon(space.ring)
        shapely.prepare(own)
        within = np.atleast_1d(shapely.contains(own, columns))
        holes = [tidied(shapely.get_coordinates(hole)[:-1]) for hole in space.polygon.interiors if Polygon(hole).area > 2500.0]
        holes += [
            tidied(shapely.get_coordinates(shape.exterior)[:-1])
            for (shape, base), inside in zip(things.columns, within, strict=True)
            if inside and abs(base - space.low) < LEVEL
        ]
        storey = clean("".join(sound([each], storey_of, []))).strip()
        tall = space.high - space.low
        tiled, notes = tiled_walls(space.key, space.ring, space.low, space.high, things.claddings)
        room = FoundRoom(
            name,
            space.ring,
            tuple(holes),
            tuple(line for _, line in doors[k]),
            tuple(_round(own, things.pipes, space.low)),
            tuple(at for at, _ in _round(own, things.drains, space.low)),
            round(tall, 1) if tall > 500.0 else None,
            says=tuple(word for word in (storey,) if word),
            windows=tuple(_sills(windows[k], space)),
            tiled=tiled,
            storey=storey,
        )
        rooms.append((room, next(iter(sound([each], stated_area, [])), None), notes))
    return rooms


def _stand_in(
    spaces: Sequence[_Space], leaves: Sequence[_Leaf], level: Callable[[_Leaf, _Space], bool]
) -> list[list[tuple[_Leaf, Floats]]]:
    """Doors or windows of each space, drawn square onto its wall.

    A leaf stands in the spaces that the model says it bounds; where it says nothing, in the nearest on either side.
    """
    result: list[list[tuple[_Leaf, Floats]]] = [[] for _ in spaces]
    low, high = (np.array([end(space.ring, axis=0) for space in spaces]).reshape(-1, 2) for end in (np.min, np.max))
    for leaf in leaves:
        about = ((low <= leaf.line.max(axis=0) + DOOR_REACH) & (high >= leaf.line.min(axis=0) - DOOR_REACH)).all(axis=1)
        beside = [(k, spaces[k]) for k in np.flatnonzero(about).tolist()]  # else each leaf is tried on every wall of the model
        near = [(k, *on) for k, space in beside if level(leaf, space) and (on := _on_wall(space.ring, leaf.line)) is not None]
        told = [row for row in near if spaces[row[0]].key in leaf.bounds]
        sides = [[row for row in near if row[3] == side] for side in (True, False)]
        for k, _, line, _ in told or [min(rows, key=lambda row: row[1]) for rows in sides if rows]:
            result[k].append((leaf, line))
    return result


def _opened(path: Path, budgets: Budgets) -> Any:  # noqa: ANN401
    check_file(path, budgets.model_mb, "model_mb", "save the storey or the rooms alone")
    with path.open("rb") as file:
        start = file.read(200_000)
    head = start[:4000]
    if b"ISO-10303-21" not in head:
        raise PlanError(path.name, "it is not an IFC file in the STEP format", "save it as .ifc (ISO 10303-21), not zipped, not XML")
    schema = re.search(rb"FILE_SCHEMA\s*\(\s*\(\s*'([^']+)'", start)
    name = schema[1].decode("ascii", "replace").upper() if schema else "none"
    if not any(name.startswith(known) for known in SCHEMAS):
        raise PlanError(path.name, f"its schema is {clean(name[:60])}", "save the model as " + ", ".join(SCHEMAS))
    try:
        import ifcopenshell  # noqa: PLC0415  # the extra
    except ImportError:
        raise PlanError(path.name, "reading IFC needs the extra ifc", "install it with: pip install 'gaugerod[ifc]'") from None
    try:
        return ifcopenshell.open(str(path))
    except (OSError, RuntimeError, ValueError, ifcopenshell.Error) as error:
        raise PlanError(
            path.name, f"it cannot be read as IFC: {clean(str(error)[:120])}", "save it anew from the program that made it"
        ) from None


def _leaf(thing: Any, scale: float, bounds: Mapping[str, set[str]]) -> _Leaf | None:  # noqa: ANN401
    """A door or window in plan, mm; None where the model does not place it or gives it no width."""
    import ifcopenshell.util.placement  # noqa: PLC0415  # the extra

    if thing.ObjectPlacement is None or not thing.OverallWidth:
        return None
    matrix = ifcopenshell.util.placement.get_local_placement(thing.ObjectPlacement)
    at = matrix[:3, 3] * scale
    way = matrix[:2, 0] / max(float(np.hypot(*matrix[:2, 0])), 1e-9)
    line = np.array([at[:2], at[:2] + way * float(thing.OverallWidth) * scale])
    return _Leaf(line, float(at[2]), float(thing.OverallHeight or 0.0) * scale, frozenset(bounds.get(thing.GlobalId, ())))


def _on_wall(ring: Floats, line: Floats) -> tuple[float, Floats, bool] | None:
    """A door drawn square onto the wall of a space that it stands in: how far off, mm, its ends, on which side of it the space lies."""
    way = line[1] - line[0]
    length = float(np.hypot(*way))
    best: tuple[float, Floats, bool] | None = None
    for a, b in zip(ring, following(ring), strict=True):
        edge = b - a
        reach = float(np.hypot(*edge))
        if reach < 0.5 * length:
            continue
        unit = edge / reach
        if abs(unit[0] * way[1] - unit[1] * way[0]) > 0.05 * length:
            continue
        off = abs(float(unit[0] * (line[0] - a)[1] - unit[1] * (line[0] - a)[0]))
        low, high = sorted(float((p - a) @ unit) for p in line)
        low, high = max(low, 0.0), min(high, reach)
        if off <= DOOR_REACH and high - low > 0.6 * length and (best is None or off < best[0]):
            best = (off, np.array([a + unit * low, a + unit * high]), bool(unit @ way > 0.0))
    return best


def _sills(windows: Sequence[tuple[_Leaf, Floats]], space: _Space) -> list[tuple[Floats, float, float]]:
    """Windows in a space's walls: two ends on the wall, sill and head above its floor, mm."""
    result = []
    for leaf, line in windows:
        sill, head = round(max(leaf.level - space.low, 0.0), 1), round(min(leaf.level + leaf.tall, space.high) - space.low, 1)
        if head > sill + 50.0:
            result.append((line, sill, head))
    return result


def _round(own: Polygon, things: Sequence[tuple[Point, float, float, float]], low: float) -> list[tuple[Point, float]]:
    """Things that pass through or stand on a space's floor, inside it, once each."""
    result: list[tuple[Point, float]] = []
    x0, y0, x1, y1 = own.bounds
    for at, size, bottom, top in things:
        passes = x0 < at[0] < x1 and y0 < at[1] < y1 and bottom - LEVEL < low < top + LEVEL
        if passes and own.contains(shapely.Point(at).buffer(size / 2)) and not any(math.dist(at, p) < (size + d) / 2 for p, d in result):
            result.append(((round(at[0], 1), round(at[1], 1)), round(size, 1)))
    return result
