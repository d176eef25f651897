"""Reads a building model (IFC): spaces as rooms, with doors, columns, pipes and floor drains where they are modelled.

Needs the extra `gaugerod[ifc]`. A space is its lowest faces, or its foot-print curve where it has no body.
"""

from __future__ import annotations

import math
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from shapely import Polygon

from layout.budgets import BUDGETS, Budgets
from layout.errors import PlanError
from layout.fields import clean
from layout.readers.texts import check_file
from layout.shapes import following, parts_of
from layout.survey.found import Found, FoundRoom, tidied, unique_names

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from layout.errors import Point

    Floats = NDArray[np.float64]

SCHEMAS = ("IFC2X3", "IFC4", "IFC4X3")
"""Schemas that are read."""
DOOR_REACH = 450.0
"""A door stands in a wall no thicker than this beside the space, mm."""
FLOOR_PLAY, LEVEL = 20.0, 300.0
"""Faces this near to a space's lowest point are its floor; things within this of it stand on it, mm."""
LEAST_FLOOR = 0.25
"""A floor with less than this part of the space's shadow is not all of it: then the shadow counts."""


def read_ifc(path: str | Path, *, budgets: Budgets = BUDGETS) -> Found:
    """Rooms of an IFC model.

    Raises
    ------
    PlanError
        If it cannot be read, is of another schema, or holds no spaces.
    """
    path = Path(path)
    model = _opened(path, budgets)
    import ifcopenshell.util.unit  # noqa: PLC0415  # the extra

    scale = float(ifcopenshell.util.unit.calculate_unit_scale(model)) * 1000.0
    spaces = list(model.by_type("IfcSpace"))
    if not spaces:
        walls = len(model.by_type("IfcWall"))
        raise PlanError(
            path.name,
            f"the model has no spaces ({walls} walls, {len(model.by_type('IfcDoor'))} doors)",
            "add spaces (IfcSpace) in the program that made it, or save a plan view as DXF and read that",
        )
    shapes = _Shapes(model, scale)
    doors = [line for door in model.by_type("IfcDoor") if (line := _door_line(door, scale)) is not None]
    windows = [
        (line, float(w.OverallHeight or 0.0) * scale) for w in model.by_type("IfcWindow") if (line := _door_line(w, scale)) is not None
    ]
    columns = [shadow for each in model.by_type("IfcColumn") if (shadow := shapes.shadow(each)) is not None]
    pipes = [shape for kind in ("IfcFlowSegment", "IfcPipeSegment") for each in _of(model, kind) if (shape := shapes.box(each)) is not None]
    drains = [shape for each in _of(model, "IfcWasteTerminal") if (shape := shapes.box(each)) is not None]
    found: list[tuple[str, FoundRoom, float | None]] = []
    left: list[str] = []
    for space in spaces:
        name = " ".join(dict.fromkeys(part.strip() for part in (space.Name or "", space.LongName or "") if part and part.strip()))
        made = shapes.floor(space)
        if made is None:
            left.append(f"{name or space.GlobalId}: no floor with an area can be made of its shape")
            continue
        polygon, low, high = made
        ring = tidied(shapely.get_coordinates(polygon.exterior)[:-1])
        own = Polygon(ring)
        holes = [tidied(shapely.get_coordinates(hole)[:-1]) for hole in polygon.interiors if Polygon(hole).area > 2500.0]
        holes += [
            tidied(shapely.get_coordinates(shape.exterior)[:-1])
            for shape, base in columns
            if own.contains(shape) and abs(base - low) < LEVEL
        ]
        storey = _storey(space)
        found.append(
            (
                name,
                FoundRoom(
                    name,
                    ring,
                    tuple(holes),
                    tuple(on for line, base in doors if abs(base - low) < LEVEL and (on := _on_wall(ring, line)) is not None),
                    tuple(_round(own, pipes, low)),
                    tuple(at for at, _ in _round(own, drains, low)),
                    round(high - low, 1) if high - low > 500.0 else None,
                    says=tuple(word for word in (storey,) if word),
                    windows=tuple(_windows(ring, windows, low, high)),
                ),
                _stated_area(space),
            )
        )
    if not found:
        raise PlanError(path.name, "; ".join(left[:6]), "give the spaces a body or a foot-print in the program that made the model")
    warnings = [
        f"{name}: {room.area_m2:.2f} m², the model states {area:.2f}"
        for name, room, area in found
        if area is not None and abs(room.area_m2 - area) > max(0.01 * area, 0.02)
    ]
    names = unique_names([name for name, _, _ in found])
    rooms = tuple(
        FoundRoom(n, r.outline, r.holes, r.doors, r.pipes, r.gullies, r.height, r.head, r.says, r.windows)
        for n, (_, r, _) in zip(names, found, strict=True)
    )
    taken = (
        f"spaces: {len(found)}",
        f"doors: {len(doors)}",
        f"windows: {len(windows)}",
        f"columns: {len(columns)}",
        f"pipes: {len(pipes)}",
    )
    return Found(
        path.name,
        rooms,
        "m" if math.isclose(scale, 1000.0) else "mm" if math.isclose(scale, 1.0) else f"{scale:g} mm",
        "the model says so",
        taken,
        tuple(left),
        tuple(warnings),
    )


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
        raise PlanError(path.name, f"its schema is {name}", "save the model as " + ", ".join(SCHEMAS))
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


def _of(model: Any, kind: str) -> list[Any]:  # noqa: ANN401
    """Things of a kind, none where the schema does not know it."""
    try:
        return list(model.by_type(kind))
    except RuntimeError:
        return []


class _Shapes:
    """Shapes of things in plan, in the model's world, mm."""

    def __init__(self, model: Any, scale: float) -> None:  # noqa: ANN401
        import ifcopenshell.geom  # noqa: PLC0415  # the extra

        self.model, self.scale = model, scale
        geom: Any = ifcopenshell.geom
        self.settings = geom.settings()
        self.settings.set("use-world-coords", True)
        self.create = geom.create_shape

    def mesh(self, thing: Any) -> Floats | None:  # noqa: ANN401
        """Triangles of a thing (n, 3, 3), mm; None if it has no body."""
        try:
            shape: Any = self.create(self.settings, thing)
        except RuntimeError:
            return None
        points = np.array(shape.geometry.verts, dtype=float).reshape(-1, 3) * 1000.0
        faces = np.array(shape.geometry.faces, dtype=np.int64).reshape(-1, 3)
        return points[faces] if len(faces) else None

    def floor(self, space: Any) -> tuple[Polygon, float, float] | None:  # noqa: ANN401
        """The floor of a space, its level and its top, mm."""
        mesh = self.mesh(space)
        if mesh is None:
            return self._foot_print(space)
        low, high = float(mesh[:, :, 2].min()), float(mesh[:, :, 2].max())
        shadow = _union(mesh)
        lowest = _union(mesh[(mesh[:, :, 2] < low + FLOOR_PLAY).all(axis=1)])
        chosen = lowest if lowest is not None and shadow is not None and lowest.area > LEAST_FLOOR * shadow.area else shadow
        return None if chosen is None else (chosen, low, high)

    def _foot_print(self, space: Any) -> tuple[Polygon, float, float] | None:  # noqa: ANN401
        """The floor of a space that has only a foot-print curve, with the height of its bounding box."""
        import ifcopenshell.util.placement  # noqa: PLC0415  # the extra

        if space.Representation is None or space.ObjectPlacement is None:
            return None
        matrix = ifcopenshell.util.placement.get_local_placement(space.ObjectPlacement)
        rings, height = [], 0.0
        for representation in space.Representation.Representations:
            for item in representation.Items:
                if item.is_a("IfcBoundingBox"):
                    height = float(item.ZDim) * self.scale
                elif representation.RepresentationIdentifier == "FootPrint":
                    rings += [ring for curve in (item.Elements if item.is_a("IfcGeometricSet") else [item]) for ring in _curve(curve)]
        polygons = []
        for ring in rings:
            flat = np.column_stack([ring, np.zeros(len(ring)), np.ones(len(ring))]) @ matrix.T
            if len(ring) >= 3:
                polygons.append(Polygon(flat[:, :2] * self.scale))
        whole = max((p for p in polygons if p.is_valid and p.area > 0.0), key=lambda p: p.area, default=None)
        low = float(matrix[2, 3]) * self.scale
        return None if whole is None else (whole, low, low + height)

    def shadow(self, thing: Any) -> tuple[Polygon, float] | None:  # noqa: ANN401
        """A thing's outline in plan and its lowest level."""
        mesh = self.mesh(thing)
        shape = _union(mesh) if mesh is not None else None
        return None if shape is None or mesh is None else (shape, float(mesh[:, :, 2].min()))

    def box(self, thing: Any) -> tuple[Point, float, float, float] | None:  # noqa: ANN401
        """Middle and greater side of a thing in plan, its lowest and highest level."""
        mesh = self.mesh(thing)
        if mesh is None:
            return None
        low, high = mesh.reshape(-1, 3).min(axis=0), mesh.reshape(-1, 3).max(axis=0)
        at = (low + high) / 2
        return (float(at[0]), float(at[1])), float((high - low)[:2].max()), float(low[2]), float(high[2])


def _union(mesh: Floats) -> Polygon | None:
    """The triangles in plan as one polygon, the largest if they fall apart."""
    triangles = shapely.polygons(np.round(mesh[:, :, :2], 1))
    flat = [t for t in np.asarray(triangles).ravel().tolist() if t.area > 1.0]
    if not flat:
        return None
    parts = parts_of(shapely.union_all(flat))
    return max(parts, key=lambda p: p.area) if parts else None


def _curve(curve: Any) -> list[Floats]:  # noqa: ANN401
    """Rings of a foot-print's curve, (n, 2), in its own units."""
    if curve.is_a("IfcPolyline"):
        return [np.array([list(p.Coordinates)[:2] for p in curve.Points], dtype=float)]
    if curve.is_a("IfcIndexedPolyCurve"):
        return [np.array([list(p)[:2] for p in curve.Points.CoordList], dtype=float)]
    if curve.is_a("IfcCompositeCurve"):
        pieces = [_curve(segment.ParentCurve) for segment in curve.Segments]
        ordered = [
            (piece[0] if segment.SameSense else piece[0][::-1]) for segment, piece in zip(curve.Segments, pieces, strict=True) if piece
        ]
        return [np.concatenate(ordered)] if ordered else []
    return []


def _door_line(door: Any, scale: float) -> tuple[Floats, float] | None:  # noqa: ANN401
    """The two ends of a door in plan (2, 2) and its level, mm."""
    import ifcopenshell.util.placement  # noqa: PLC0415  # the extra

    if door.ObjectPlacement is None or not door.OverallWidth:
        return None
    matrix = ifcopenshell.util.placement.get_local_placement(door.ObjectPlacement)
    at = matrix[:3, 3] * scale
    way = matrix[:2, 0] / max(float(np.hypot(*matrix[:2, 0])), 1e-9)
    return np.array([at[:2], at[:2] + way * float(door.OverallWidth) * scale]), float(at[2])


def _on_wall(ring: Floats, line: Floats) -> Floats | None:
    """A door drawn square onto the wall of a space that it stands in; None if it stands in none."""
    way = line[1] - line[0]
    length = float(np.hypot(*way))
    best: tuple[float, Floats] | None = None
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
            best = (off, np.array([a + unit * low, a + unit * high]))
    return None if best is None else best[1]


def _windows(
    ring: Floats, windows: Sequence[tuple[tuple[Floats, float], float]], low: float, high: float
) -> list[tuple[Floats, float, float]]:
    """Windows in a space's walls: two ends on the wall, sill and head above its floor, mm."""
    result = []
    for (line, base), tall in windows:
        on = _on_wall(ring, line)
        sill, head = round(max(base - low, 0.0), 1), round(min(base + tall, high) - low, 1)
        if on is not None and low - LEVEL < base < high and head > sill + 50.0:
            result.append((on, sill, head))
    return result


def _round(own: Polygon, things: Sequence[tuple[Point, float, float, float]], low: float) -> list[tuple[Point, float]]:
    """Things that pass through or stand on a space's floor, inside it, once each."""
    result: list[tuple[Point, float]] = []
    for at, size, bottom, top in things:
        passes = bottom - LEVEL < low < top + LEVEL
        if passes and own.contains(shapely.Point(at).buffer(size / 2)) and not any(math.dist(at, p) < (size + d) / 2 for p, d in result):
            result.append(((round(at[0], 1), round(at[1], 1)), round(size, 1)))
    return result


def _storey(space: Any) -> str:  # noqa: ANN401
    for relation in space.Decomposes or ():
        whole = relation.RelatingObject
        if whole.is_a("IfcBuildingStorey"):
            return str(whole.Name or "")
    return ""


def _stated_area(space: Any) -> float | None:  # noqa: ANN401
    """The floor area that a model states of a space, m²."""
    for relation in space.IsDefinedBy or ():
        if not relation.is_a("IfcRelDefinesByProperties"):
            continue
        for quantity in getattr(relation.RelatingPropertyDefinition, "Quantities", None) or ():
            if quantity.is_a("IfcQuantityArea") and quantity.Name in ("NetFloorArea", "GrossFloorArea"):
                return float(quantity.AreaValue)
    return None
