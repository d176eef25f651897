"""Shapes of things in a building model (IFC), in plan; a thing that is damaged is left out and told, and no other with it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np
import shapely
from shapely import Polygon

from layout.budgets import heed
from layout.errors import LayoutError
from layout.shapes import parts_of

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from layout.errors import Point

    Floats = NDArray[np.float64]

T = TypeVar("T")
FLOOR_PLAY = 20.0
"""Faces this near to a space's lowest point are its floor, mm."""
LEAST_FLOOR = 0.25
"""A floor with less than this part of the space's shadow is not all of it: then the shadow counts."""


def damage() -> tuple[type[Exception], ...]:
    """What reading a thing ends with where a model is damaged: its library hands out whatever stands in the file."""
    return (ArithmeticError, AttributeError, LookupError, RuntimeError, TypeError, ValueError, shapely.errors.ShapelyError)


def sound(things: Sequence[Any], make: Callable[[Any], T | None], left: list[str]) -> list[T]:
    """What is made of each thing that has it; one that is damaged is told in `left`."""
    made = []
    for thing in things:
        try:
            one = make(thing)
        except LayoutError:
            raise
        except damage():
            left.append(f"#{thing.id()} {thing.is_a()}: it is damaged and left out")
            continue
        if one is not None:
            made.append(one)
    return made


def of_kind(model: Any, kind: str) -> list[Any]:  # noqa: ANN401
    """Things of a kind, none where the schema does not know it."""
    try:
        return list(model.by_type(kind))
    except RuntimeError:
        return []


class Shapes:
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
        heed()
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
