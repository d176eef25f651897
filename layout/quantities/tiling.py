"""Tile, tiled areas, faces by a rule of measurement, adhesive and grout."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.plan.patterns import member_tiles
from layout.quantities.values import Part, Place, Quantity, words_of
from layout.shapes import strips_across
from layout.standards.measure import measured
from layout.standards.products import notch_of

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from layout.setout.values import SetOut, SurfaceSetOut


def grout_kg_m2(size: tuple[float, float], joint: float, depth: float, density: float) -> float:
    """Handbook consumption of grout, kg/m2: (L + W) / (L W) x joint x depth x density.

    All mm and kg/l. Source: the trade's usual formula, as on several pages on grout consumption; it
    overstates by the crossings, under 3 % for 300 mm tile and 5 to 9 % for small ones.

    >>> round(grout_kg_m2((300, 300), 2, 10, 1.6), 4)
    0.2133
    """
    length, width = size
    return (length + width) / (length * width) * joint * depth * density


def bed_mm(notch: float) -> float:
    """Mean thickness of a combed bed, mm: notch squared over pitch, with gaps as wide as teeth.

    >>> bed_mm(6.0)
    3.0
    """
    return notch * notch / (2.0 * notch)


def joint_area(done: SurfaceSetOut) -> float:
    """Area of the tile joints of a surface, mm²: its bays less every tile and piece in them, and less strips in them too narrow to lay.

    What is no part of a bay, along an edge or in a gap no wider than a joint, is no tile joint either.
    """
    tile = done.field.pattern.areas
    laid = math.fsum(float(tile[b.whole[:, 0]].sum()) + float(shapely.area(b.pieces).sum()) for b in done.field.bays)
    return max(math.fsum(bay.region.area for bay in done.bays) - laid - done.field.lost_mm2, 0.0) * done.stretch


def each_surface(setout: SetOut) -> list[tuple[Place, SurfaceSetOut]]:
    """Every tiled surface of the plan with its place."""
    return [
        (Place(index, "surface", done.surface.id, words=words_of(setout, room, done.surface.name)), done)
        for index, room in enumerate(setout.rooms)
        for done in room.surfaces
    ]


def _by_tile(setout: SetOut) -> dict[str, list[tuple[Place, SurfaceSetOut]]]:
    """Tiled surfaces by the name of their tile: floor, wall, plinth, then others as they are met."""
    result: dict[str, list[tuple[Place, SurfaceSetOut]]] = {}
    for place, done in each_surface(setout):
        result.setdefault(done.tile.name, []).append((place, done))
    usual = [name for name in ("floor", "wall", "plinth") if name in result]
    return {name: result[name] for name in dict.fromkeys([*usual, *result])}


def _kinds(done: SurfaceSetOut) -> dict[tuple[float, float], int]:
    """Tiles of a surface by the size bought: whole ones, and one for every place with a cut tile."""
    pattern = done.field.pattern
    used = np.concatenate([done.field.whole[:, :2], np.unique(done.field.cut, axis=0)[:, :2]])
    count = np.bincount(used[:, 1], minlength=len(pattern.members))
    result: dict[tuple[float, float], int] = {}
    for tile, number in zip(member_tiles(done.tile, pattern), count.tolist(), strict=True):
        size = (round(tile.size[0], 1), round(tile.size[1], 1))
        result[size] = result.get(size, 0) + math.ceil(number * done.stretch)
    return result


def tiles(setout: SetOut) -> list[Quantity]:
    """Tiles to buy before spares, pieces, by tile and size."""
    result = []
    for name, own in _by_tile(setout).items():
        counted = [(place, _kinds(done)) for place, done in own]
        kinds = counted[0][1]
        for w, h in kinds:
            of = name if len(kinds) == 1 else f"{name}.{w:g}x{h:g}"
            parts = tuple(Part(place, count[w, h]) for place, count in counted)
            result.append(Quantity(parts=parts, names={"of": of, "tile": name, "w": w, "h": h}, size=(w, h), group=name))
    return result


def tiled(setout: SetOut) -> list[Quantity]:
    """Tiled area, m², by tile."""
    return [
        Quantity(parts=tuple(Part(place, done.tiled_m2) for place, done in own), names={"tile": name}, group=name)
        for name, own in _by_tile(setout).items()
    ]


def by_rule(setout: SetOut, *, narrow: bool = False) -> list[Quantity]:
    """Tiled faces by the plan's rule of measurement, m², or the `narrow` ones that it counts by the metre."""
    rule = setout.plan.rules.measurement
    if rule.name == "NET":
        return []
    found: dict[str, list[Part]] = {}
    for place, done in each_surface(setout):
        surface = done.surface
        face: BaseGeometry = surface.gross
        if surface.placing.line is not None and not face.is_empty:
            face = strips_across(face, True, -1e9, float(surface.field.bounds[3]))
        made = measured(face, [b.shape for b in surface.breaks], rule)
        value = made.narrow_m if narrow else made.area_m2
        if value > 0.0:
            found.setdefault(done.tile.name, []).append(Part(place, value))
    return [Quantity(parts=tuple(parts), names={"tile": name, "rule": rule}) for name, parts in found.items()]


def bottom_line(done: SurfaceSetOut) -> float | None:
    """Height to which the lowest course of a wall goes, mm; None for other surfaces and where nothing is laid."""
    if done.surface.kind != "wall":
        return None
    laid = np.concatenate([done.field.whole, done.field.cut])
    if len(laid) == 0:
        return None
    outlines = done.field.outlines(laid)
    lows = outlines[:, :, 1].min(axis=1)
    return float(outlines[lows <= lows.min() + 1.0, :, 1].max())


def bottom_course(done: SurfaceSetOut) -> float:
    """Area of the lowest course of a wall, m²: cut to the laid floor, a stage of its own; 0 for other surfaces."""
    top = bottom_line(done)
    return 0.0 if top is None else area_between(done, -1e9, top)


def area_between(done: SurfaceSetOut, low: float, high: float) -> float:
    """Area of an upright surface's bays between two heights, m²."""
    return math.fsum(strips_across(bay.region, True, low, high).area for bay in done.bays) / 1e6


def adhesive(setout: SetOut) -> list[Quantity]:
    """Adhesive of each surface, kg; a wall's bottom course apart.

    A solid bed takes its thickness: the plan's, with which the finished levels reckon, and no less than what the trowel's
    notch and the tile's back bring.
    """
    products = setout.plan.products
    density, back = products.adhesive_density.value, products.adhesive_back.value
    beds: dict[str, str] = {}
    parts: list[Part] = []
    for place, done in each_surface(setout):
        notch = notch_of(products, max(done.tile.size))
        bed = max(done.tile.bed, bed_mm(notch) + back)
        beds[done.tile.name] = f"{done.tile.name} {bed:g} (notch {notch:g})"
        each = bed * density
        low = bottom_course(done)
        if low > 0.0:
            parts.append(Part(replace(place, course="bottom", words=f"{place.words}, bottom course"), low * each))
        parts.append(Part(place, (done.tiled_m2 - low) * each))
    return [Quantity(parts=tuple(parts), names={"beds": ", ".join(beds[name] for name in sorted(beds)) + " mm"})]


def grout(setout: SetOut) -> list[Quantity]:
    """Grout of each surface, kg: what its joints hold, with waste; the handbook's figure beside it."""
    products = setout.plan.products
    rho, waste = products.grout_density.value, products.grout_waste.value
    surfaces = each_surface(setout)
    parts = tuple(Part(place, joint_area(done) * done.tile.thickness / 1e6 * rho * (1 + waste)) for place, done in surfaces)
    handbook = math.fsum(
        done.tiled_m2 * grout_kg_m2(done.tile.size, done.tile.joint, done.tile.thickness, rho) * (1 + waste) for _, done in surfaces
    )
    return [Quantity(parts=parts, names={"handbook": handbook, "factor": 1 + waste})]
