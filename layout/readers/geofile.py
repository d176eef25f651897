"""Reads room outlines from GeoJSON: polygons in a plane, in a unit that the person states."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
from shapely import Polygon

from layout.errors import PlanError
from layout.readers.drawingfile import UNITS
from layout.readers.texts import read_text
from layout.survey.found import Found, FoundRoom, tidied, unique_names

NAMES = ("name", "Name", "NAME", "room", "title", "ref", "id")


def read_geojson(path: str | Path, *, units: str | None = None) -> Found:
    """Rooms of a GeoJSON file: each polygon one, its inner rings columns.

    Raises
    ------
    PlanError
        If it is not GeoJSON, its unit is not told, its coordinates are degrees, or it holds no polygon.
    """
    path = Path(path)
    try:
        raw = json.loads(read_text(path))
    except (json.JSONDecodeError, RecursionError) as error:
        raise PlanError(path.name, f"not JSON: {str(error)[:80]}", "save it as GeoJSON (RFC 7946)") from None
    found: list[tuple[str, list[Any]]] = []
    if not isinstance(raw, dict) or not _gather(raw, "", found):
        raise PlanError(path.name, "it holds no polygon", "give each room as a Polygon, or a Feature with one")
    if units is None:
        every = [abs(v) for _, rings in found for point in rings[0] for v in point[:2]]
        hint = " (these look like degrees: project them to a plane first)" if max(every) <= 180.0 else ""
        raise PlanError(path.name, f"its unit is nowhere stated{hint}", f"give --units: {', '.join(UNITS)}")
    factor = UNITS[units]
    rooms, left = [], []
    for name, (_, rings) in zip(unique_names([name for name, _ in found]), found, strict=True):
        loops = [np.array([point[:2] for point in ring], dtype=float)[:-1] * factor for ring in rings]
        if not Polygon(loops[0]).is_valid or Polygon(loops[0]).area < 1e4:
            left.append(f"{name}: its outline crosses itself or has no area")
            continue
        rooms.append(FoundRoom(name, tidied(loops[0]), tuple(tidied(hole) for hole in loops[1:])))
    if not rooms:
        raise PlanError(path.name, "; ".join(left[:4]), "mend the outlines, or check --units")
    return Found(path.name, tuple(rooms), units, "as told", (f"polygons: {len(rooms)}",), tuple(left), ())


def _gather(raw: Any, name: str, found: list[tuple[str, list[Any]]]) -> bool:  # noqa: ANN401
    """Polygons of a GeoJSON object with their names; false if there is none."""
    kind = raw.get("type") if isinstance(raw, dict) else None
    if kind == "FeatureCollection":
        gathered = [_gather(each, "", found) for each in raw.get("features") or ()]
        return any(gathered)
    if kind == "GeometryCollection":
        gathered = [_gather(each, name, found) for each in raw.get("geometries") or ()]
        return any(gathered)
    if kind == "Feature":
        properties = raw.get("properties") or {}
        own = next((str(properties[key]) for key in NAMES if properties.get(key)), "")
        return _gather(raw.get("geometry"), own, found)
    if kind not in ("Polygon", "MultiPolygon"):
        return False
    parts = [raw.get("coordinates")] if kind == "Polygon" else raw.get("coordinates") or []
    sound = [rings for rings in parts if _is_rings(rings)]
    found += [(name, rings) for rings in sound]
    return bool(sound)


def _is_rings(rings: Any) -> bool:  # noqa: ANN401
    def point(value: Any) -> bool:  # noqa: ANN401
        return isinstance(value, list) and len(value) >= 2 and all(isinstance(v, (int, float)) and abs(v) < 1e12 for v in value[:2])

    return isinstance(rings, list) and bool(rings) and all(isinstance(r, list) and len(r) >= 4 and all(map(point, r)) for r in rings)
