"""Reads room outlines from GeoJSON: polygons in a plane, in a unit that the person states."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import numpy as np
from shapely import Polygon

from layout.budgets import BUDGETS, Budgets, over
from layout.errors import PlanError
from layout.fields import clean
from layout.readers.drawingfile import UNITS
from layout.readers.texts import check_text, long_number, nested, read_text
from layout.survey.found import Found, FoundRoom, tidied, unique_names

NAMES = ("name", "Name", "NAME", "room", "title", "ref", "id")
MOST_LETTERS = 200
"""Letters of a room's name that are taken."""


def read_geojson(path: str | Path, *, units: str | None = None, budgets: Budgets = BUDGETS) -> Found:
    """Rooms of a GeoJSON file: each polygon one, its inner rings columns.

    Raises
    ------
    PlanError
        If it is not GeoJSON, its unit is not told, its coordinates are degrees, or it holds no polygon.
    """
    path = Path(path)
    text = read_text(path, budgets=budgets, begin="give GeoJSON with a polygon for each room")
    try:
        raw = json.loads(text)
    except RecursionError:
        raise PlanError(path.name, *nested(text)) from None
    except json.JSONDecodeError as error:
        raise PlanError(path.name, f"not JSON: {clean(str(error)[:80])}", "save it as GeoJSON (RFC 7946)") from None
    except ValueError:
        raise PlanError(path.name, *long_number(text)) from None
    check_text(text, path.name, budgets)
    found: list[tuple[str, list[Any]]] = []
    try:
        _gather(raw, "", found)
    except RecursionError:
        raise PlanError(path.name, "its collections are nested too deep", "save the rooms as one FeatureCollection") from None
    if not found:
        raise PlanError(path.name, "it holds no polygon", "give each room as a Polygon, or a Feature with one")
    if len(found) > budgets.polygons:
        raise over(path.name, len(found), "polygons", "polygons", "save the rooms alone", budgets)
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


def _gather(raw: object, name: str, found: list[tuple[str, list[Any]]]) -> None:
    """Add the polygons of a GeoJSON object with their names; what is of another type than RFC 7946 asks is no polygon."""
    if not isinstance(raw, dict):
        return
    kind = raw.get("type")
    if kind == "FeatureCollection":
        for each in _listed(raw.get("features")):
            _gather(each, "", found)
    elif kind == "GeometryCollection":
        for each in _listed(raw.get("geometries")):
            _gather(each, name, found)
    elif kind == "Feature":
        _gather(raw.get("geometry"), _name_of(raw.get("properties")), found)
    elif kind in ("Polygon", "MultiPolygon"):
        parts = [raw.get("coordinates")] if kind == "Polygon" else _listed(raw.get("coordinates"))
        found += [(name, rings) for rings in _listed(parts) if isinstance(rings, list) and _is_rings(rings)]


def _listed(value: object) -> list[Any]:
    return value if isinstance(value, list) else []


def _name_of(properties: object) -> str:
    """The name among a feature's properties: the first text or number under a usual key."""
    if not isinstance(properties, dict):
        return ""
    values = [properties.get(key) for key in NAMES]
    short = [each for each in values if isinstance(each, str) or (isinstance(each, (int, float)) and abs(each) < 1e12)]
    return next((str(each)[:MOST_LETTERS] for each in short if each not in ("", False)), "")


def _is_rings(rings: list[Any]) -> bool:
    def point(value: object) -> bool:
        return isinstance(value, list) and len(value) >= 2 and all(_is_number(v) for v in value[:2])

    return bool(rings) and all(isinstance(r, list) and len(r) >= 4 and all(map(point, r)) for r in rings)


def _is_number(value: object) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool) and -1e12 < value < 1e12 and not math.isnan(value)
