"""Measured quantities: every item with the surfaces it comes from, its formula and the formula's source.

Quantities are net as built, from the set-out itself; whole packs are the orders' matter.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.joints.lines import KINDS
from layout.lining.owners import owner_of
from layout.plan.patterns import member_tiles
from layout.shapes import strips_across
from layout.standards.measure import measured
from layout.standards.products import notch_of
from layout.standards.rules import SCREED_LEAST
from layout.standards.sealants import ROD_OVER, backer_rod, sealant_depth
from layout.tanking.membrane import film_of
from layout.tiles.skirting import arrises, skirting_of

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from layout.lining.surfaces import Surface
    from layout.setout.conduct import RoomSetOut, SetOut, SurfaceSetOut

MEASURED = "net as built, from the set-out"


@dataclass(frozen=True, slots=True)
class Part:
    """A share of an item: where it is and how much."""

    where: str
    quantity: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One measured item. `key` is stable; `quantity` is the sum of its parts, in `unit`; `size` is a tile's own, mm."""

    key: str
    name: str
    unit: str
    parts: tuple[Part, ...]
    formula: str
    source: str
    size: tuple[float, float] | None = None

    @property
    def quantity(self) -> float:
        """Sum of the parts."""
        return sum(part.quantity for part in self.parts)

    @property
    def shown(self) -> str:
        """The quantity as people write it: areas to 2 places, metres and weights to 0.1, pieces whole."""
        if self.unit in ("m2", "m3"):
            return f"{self.quantity:.2f} m{'²' if self.unit == 'm2' else '³'}"
        if self.unit == "pcs":
            return f"{self.quantity:.0f}"
        return f"{self.quantity:.0f} ml" if self.unit == "ml" else f"{self.quantity:.1f} {self.unit}"


@dataclass(frozen=True, slots=True, eq=False)
class TakeOff:
    """A set-out with its measured items, in the order of the works."""

    setout: SetOut
    items: tuple[Item, ...]

    def item(self, key: str) -> Item | None:
        """The item of a key."""
        return next((item for item in self.items if item.key == key), None)


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
    """Area of the tile joints of a surface, mm²: its bays less every tile and piece in them."""
    tile = done.field.pattern.areas
    laid = sum(float(tile[b.whole[:, 0]].sum()) + float(shapely.area(b.pieces).sum()) for b in done.field.bays)
    return max(sum(bay.region.area for bay in done.bays) - laid - done.lost_mm2, 0.0) * done.stretch


def take_off(setout: SetOut) -> TakeOff:
    """Measure a set-out."""
    items = [
        *_screed(setout),
        *_tiles(setout),
        *_measured(setout),
        *_coats(setout),
        *_tape(setout),
        *_fixing(setout),
        *_trims(setout),
        *_skirting(setout),
        *_sealant(setout),
    ]
    return TakeOff(setout, tuple(item for item in items if item.parts))


def _screed(setout: SetOut) -> list[Item]:
    """Screed to falls, where a room has levels."""
    parts = []
    reach = []
    for room in setout.rooms:
        if room.levels is not None:
            screed = room.levels.screed
            parts.append(Part(_label(setout, room, "floor"), screed.volume))
            reach.append(f"{screed.least:.0f} to {screed.most:.0f} thick")
    formula = f"each facet's area × its thickness in the middle (prismoidal formula); {', '.join(dict.fromkeys(reach))}"
    item = Item(
        key="screed", name="screed to falls", unit="m3", parts=tuple(parts), formula=formula, source=f"{MEASURED}; {SCREED_LEAST.source}"
    )
    return [item]


def _slope(room: RoomSetOut, surface: Surface) -> float:
    """True area of a floor that falls over its area in plan; 1 where it hardly differs."""
    return room.levels.stretch if room.levels is not None and surface.kind in ("floor", "border") else 1.0


def _label(setout: SetOut, room: RoomSetOut, surface: str) -> str:
    return surface if len(setout.rooms) == 1 else f"{room.name}: {surface}"


def _each_surface(setout: SetOut) -> list[tuple[str, SurfaceSetOut]]:
    return [(_label(setout, room, done.surface.name), done) for room in setout.rooms for done in room.surfaces]


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


def _tiles(setout: SetOut) -> list[Item]:
    result = []
    names = sorted(
        {done.tile.name for _, done in _each_surface(setout)},
        key=lambda n: ("floor", "wall", "plinth").index(n) if n in ("floor", "wall", "plinth") else 9,
    )
    for name in names:
        own = [(where, done) for where, done in _each_surface(setout) if done.tile.name == name]
        kinds = _kinds(own[0][1])
        for w, h in kinds:
            result.append(
                Item(
                    key=f"tiles.{name}" if len(kinds) == 1 else f"tiles.{name}.{w:g}x{h:g}",
                    name=f"tile “{name}” {w:g} × {h:g}",
                    unit="pcs",
                    parts=tuple(Part(where, _kinds(done)[w, h]) for where, done in own),
                    formula="whole tiles + places with a cut tile; no offcut is used twice",
                    source=MEASURED,
                    size=(w, h),
                )
            )
        result.append(
            Item(
                key=f"tiled.{name}",
                name=f"tiled area, tile “{name}”",
                unit="m2",
                parts=tuple(Part(where, done.tiled_m2) for where, done in own),
                formula="region less movement joints",
                source=MEASURED,
            )
        )
    return result


def _coats(setout: SetOut) -> list[Item]:
    products = setout.plan.products
    tanked = [
        Part(_label(setout, room, surface.name), surface.tanked.area * _slope(room, surface) / 1e6)
        for room in setout.rooms
        for surface in room.membrane.lining.surfaces
        if surface.tanked.area > 1.0
    ]
    floors = [part for part in tanked if part.where.endswith("floor")]

    def times(parts: list[Part], factor: float) -> tuple[Part, ...]:
        return tuple(Part(part.where, part.quantity * factor) for part in parts)

    def by_coat(each: float, coats: float) -> tuple[Part, ...]:
        count = round(coats)
        return tuple(
            Part(f"{part.where}, coat {k}" if count > 1 else part.where, part.quantity * each)
            for k in range(1, count + 1)
            for part in tanked
        )

    film = film_of(setout.plan)
    primer, quartz, membrane, coats = products.primer_kg_m2, products.quartz_kg_m2, products.membrane_kg_m2, products.membrane_coats
    last = Item(
        key="quartz_last",
        name="quartz, broadcast on the floor's last coat",
        unit="kg",
        parts=times(floors, quartz.value),
        formula=f"area × {quartz.value:g} {quartz.unit}",
        source=quartz.source,
    )
    return [
        Item(
            key="membrane_area",
            name="membrane",
            unit="m2",
            parts=tuple(tanked),
            formula="tanked substrate; small breaks not deducted",
            source=MEASURED,
        ),
        Item(
            key="primer",
            name="primer",
            unit="kg",
            parts=by_coat(primer.value, products.primer_coats.value),
            formula=f"area × {primer.value:g} {primer.unit} × {products.primer_coats.value:g} coat",
            source=primer.source,
        ),
        Item(
            key="quartz",
            name="quartz, broadcast on the floor's primer",
            unit="kg",
            parts=times(floors, quartz.value),
            formula=f"area × {quartz.value:g} {quartz.unit}",
            source=quartz.source,
        ),
        *([last] if setout.plan.rules.quartz_last else []),
        Item(
            key="membrane",
            name=f"membrane resin, {coats.value:g} coats crosswise",
            unit="kg",
            parts=by_coat(membrane.value, coats.value),
            formula=f"area × {membrane.value:g} kg/m2 × {coats.value:g} coats; {film.wet:.2f} mm wet, {film.coats * film.dry:.2f} mm dry in all",
            source=membrane.source,
        ),
    ]


def _tape(setout: SetOut) -> list[Item]:
    products = setout.plan.products
    result = []
    lengths = {
        junction: tuple(
            Part(_label(setout, room, run.name), run.length / 1000.0)
            for room in setout.rooms
            for run in room.tape.runs
            if run.junction == junction
        )
        for junction in ("internal", "external", "bridge")
    }
    for junction, words in (
        ("internal", "internal junctions"),
        ("external", "thresholds and external edges"),
        ("bridge", "bridges with a loop"),
    ):
        result.append(
            Item(
                key=f"tape.{junction}",
                name=f"reinforcing tape, {words}",
                unit="m",
                parts=lengths[junction],
                formula="line on the substrate; laps are in the order",
                source=MEASURED,
            )
        )
    every = [part for parts in lengths.values() for part in parts]
    coat = products.detail_coat_kg_m
    result.append(
        Item(
            key="detail_coat",
            name="detail coat under and over tape",
            unit="kg",
            parts=tuple(Part(p.where, p.quantity * coat.value) for p in every),
            formula=f"metres × {coat.value:g} {coat.unit}",
            source=coat.source,
        )
    )
    for kind in ("internal", "external", "made"):
        words = "made from tape" if kind == "made" else kind
        parts = tuple(Part(room.name, room.tape.count(kind)) for room in setout.rooms if room.tape.count(kind))
        result.append(
            Item(
                key=f"corner_pieces.{kind}",
                name=f"corner pieces, {words}",
                unit="pcs",
                parts=parts,
                formula="corners of the shell by class",
                source=MEASURED,
            )
        )
    collars = tuple(Part(_label(setout, room, f"{c.label} in {c.surface}"), 1) for room in setout.rooms for c in room.tape.collars)
    flanges = tuple(
        Part(_label(setout, room, f"{f.label} in {f.surface}"), f.length / 1000.0) for room in setout.rooms for f in room.tape.flanges
    )
    result.append(
        Item(
            key="collars",
            name="collars",
            unit="pcs",
            parts=collars,
            formula="one for each pipe and fixing through the tanking",
            source=MEASURED,
        )
    )
    ends: dict[str, list[Part]] = {}
    for room in setout.rooms:
        for end in room.membrane.terminations:
            ends.setdefault(end.kind, []).append(Part(_label(setout, room, end.where), end.length / 1000.0))
    for kind, own in ends.items():
        result.append(
            Item(
                key=f"terminations.{kind.replace(' ', '_')}",
                name=f"membrane ends, {kind}",
                unit="m",
                parts=tuple(own),
                formula="free edge of the tanking",
                source=MEASURED,
            )
        )
    result.append(
        Item(key="flanges", name="drain flanges to lap", unit="m", parts=flanges, formula="length round the frame", source=MEASURED)
    )
    return result


def _trims(setout: SetOut) -> list[Item]:
    """Coves along the walls if the plan has them, and edge trim on tiled external arrises."""
    coves: list[Part] = []
    trims: list[Part] = []
    for room in setout.rooms:
        if setout.plan.rules.foot == "cove":
            coves += [
                Part(_label(setout, room, joint.label), joint.length / 1000.0)
                for joint in room.joints
                if joint.surface.kind == "floor" and joint.kind in ("perimeter", "plinth", "column")
            ]
        outline = room.lining.outline
        trims += [Part(_label(setout, room, f"arris {name}"), (top - low) / 1000.0) for name, _, low, top in arrises(room.lining)]
        for face in room.lining.shell.faces:
            if face.tag.owner == "plinth" and face.high >= 0 and owner_of(outline, face).tile:
                trims.append(Part(_label(setout, room, f"edge of {owner_of(outline, face).label}"), face.length / 1000.0))
    return [
        Item(
            key="cove",
            name="coved skirting",
            unit="m",
            parts=tuple(coves),
            formula="walls, plinths and columns at their foot",
            source=MEASURED,
        ),
        Item(
            key="edge_trim",
            name="edge trim on external arrises",
            unit="m",
            parts=tuple(trims),
            formula="tiled upright arrises and plinth edges",
            source=MEASURED,
        ),
    ]


def _skirting(setout: SetOut) -> list[Item]:
    """Skirting pieces by kind, if the plan gives their length."""
    found = [(room, made) for room in setout.rooms if (made := skirting_of(room.lining)) is not None]
    kinds = ("straight", "internal", "external", "stop_left", "stop_right")
    words = ("straight", "internal corners", "external corners", "stop ends, left hand", "stop ends, right hand")
    result = []
    for kind, text in zip(kinds, words, strict=True):
        if kind == "straight":
            parts = [Part(_label(setout, room, run.label), run.straight) for room, made in found for run in made.runs]
        else:
            parts = [Part(room.name, getattr(made, kind)) for room, made in found if getattr(made, kind)]
        formula = "run over piece and joint, the last one cut" if kind == "straight" else "by corner and end, as seen facing the wall"
        item = Item(key=f"skirting.{kind}", name=f"skirting, {text}", unit="pcs", parts=tuple(parts), formula=formula, source=MEASURED)
        result.append(item)
    return result


def _bottom_course(done: SurfaceSetOut) -> float:
    """Area of the lowest course of a wall, m²: cut to the laid floor, a stage of its own; 0 for other surfaces."""
    if done.surface.kind != "wall":
        return 0.0
    tiles = np.concatenate([done.field.whole, done.field.cut])
    if len(tiles) == 0:
        return 0.0
    outlines = done.field.outlines(tiles)
    lows = outlines[:, :, 1].min(axis=1)
    top = float(outlines[lows <= lows.min() + 1.0, :, 1].max())
    return sum(strips_across(bay.region, True, -1e9, top).area for bay in done.bays) / 1e6


def _measured(setout: SetOut) -> list[Item]:
    """Tiled faces by the plan's rule of measurement, beside the net figures."""
    rule = setout.plan.rules.measurement
    if rule.name == "NET":
        return []
    areas: dict[str, list[Part]] = {}
    metres: dict[str, list[Part]] = {}
    for where, done in _each_surface(setout):
        surface = done.surface
        face: BaseGeometry = surface.gross
        if surface.placing.line is not None and not face.is_empty:
            face = strips_across(face, True, -1e9, float(surface.field.bounds[3]))
        found = measured(face, [b.shape for b in surface.breaks], rule)
        if found.area_m2 > 0.0:
            areas.setdefault(done.tile.name, []).append(Part(where, found.area_m2))
        if found.narrow_m > 0.0:
            metres.setdefault(done.tile.name, []).append(Part(where, found.narrow_m))
    result = []
    source = f"{rule.source}; {rule.status}"
    for name, parts in areas.items():
        text = f"bare face, voids to {rule.void_m2:g} m² inside it kept"
        result.append(
            Item(key=f"measured.{name}", name=f"tiling “{name}” by {rule.name}", unit="m2", parts=tuple(parts), formula=text, source=source)
        )
    for name, parts in metres.items():
        text = f"faces no wider than {rule.narrow:g} mm, by their length"
        key, title = f"measured.{name}.narrow", f"tiling “{name}” by {rule.name}, narrow"
        result.append(Item(key=key, name=title, unit="m", parts=tuple(parts), formula=text, source=source))
    return result


def _fixing(setout: SetOut) -> list[Item]:
    products = setout.plan.products
    density, back = products.adhesive_density.value, products.adhesive_back.value
    beds = {tile: notch_of(products, max(plan_tile.size)) for tile, plan_tile in setout.plan.tiles.items()}
    adhesive: list[Part] = []
    for where, done in _each_surface(setout):
        each = (bed_mm(beds[done.tile.name]) + back) * density
        area = done.tiled_m2
        low = _bottom_course(done)
        if low > 0.0:
            adhesive.append(Part(f"{where}, bottom course", low * each))
        adhesive.append(Part(where, (area - low) * each))
    notches = ", ".join(
        f"{name} {notch:g}" for name, notch in sorted(beds.items()) if any(d.tile.name == name for _, d in _each_surface(setout))
    )
    rho, waste = products.grout_density.value, products.grout_waste.value
    grout = tuple(Part(where, joint_area(done) * done.tile.thickness / 1e6 * rho * (1 + waste)) for where, done in _each_surface(setout))
    handbook = sum(
        done.tiled_m2 * grout_kg_m2(done.tile.size, done.tile.joint, done.tile.thickness, rho) * (1 + waste)
        for _, done in _each_surface(setout)
    )
    return [
        Item(
            key="adhesive",
            name="resin adhesive",
            unit="kg",
            parts=tuple(adhesive),
            formula=f"area × (half the notch as mean bed + {back:g} mm back) × {density:g} kg/l; notch by tile: {notches} mm",
            source=f"notch² / pitch; {products.adhesive_notch.source}",
        ),
        Item(
            key="grout",
            name="resin grout",
            unit="kg",
            parts=grout,
            formula=f"joint area × tile thickness × {rho:g} kg/l × {1 + waste:g}; handbook formula (L + W) / (L W) × j × d × ρ gives {handbook:.1f} kg",
            source=f"{MEASURED}; waste {products.grout_waste.source}",
        ),
    ]


def _sealant(setout: SetOut) -> list[Item]:
    products = setout.plan.products
    result = []
    rooms = setout.rooms
    kinds = []
    for room in rooms:
        kinds += [(joint.kind, _label(setout, room, f"{joint.kind}, {joint.surface}"), joint) for joint in room.joints]
    for kind in KINDS:
        own = [(where, joint) for k, where, joint in kinds if k == kind]
        parts = tuple(Part(f"{where}{' ' + joint.label if joint.label else ''}", joint.length / 1000.0) for where, joint in own)
        result.append(
            Item(
                key=f"joints.{kind}",
                name=f"sealant joint, {kind}",
                unit="m",
                parts=parts,
                formula="centre line, each metre once",
                source=MEASURED,
            )
        )
    waste = products.sealant_waste
    sections: dict[tuple[float, float], float] = {}
    rods: dict[float, list[Part]] = {}
    for _, where, joint in kinds:
        section = (joint.width, sealant_depth(joint.width))
        sections[section] = sections.get(section, 0.0) + joint.length / 1000.0
        if joint.kind != "pipe":
            rods.setdefault(backer_rod(joint.width), []).append(Part(where, joint.length / 1000.0))
    size = products.sealant_cartridge_ml.value
    result.append(
        Item(
            key="sealant",
            name="sealant",
            unit="ml",
            parts=tuple(
                Part(
                    f"{w:g} × {d:g}: {metres:.1f} m, {size / (w * d) / (1 + waste.value):.1f} m from a cartridge",
                    metres * w * d * (1 + waste.value),
                )
                for (w, d), metres in sorted(sections.items())
            ),
            formula=f"length × width × depth (half the width, 6 to 13 mm) × {1 + waste.value:g}; by section",
            source=waste.source,
        )
    )
    for rod in sorted(rods):
        result.append(
            Item(
                key=f"backer_rod.{rod:g}",
                name=f"backer rod {rod:g} mm, set before grouting",
                unit="m",
                parts=tuple(rods[rod]),
                formula="joint length; rod a quarter over the joint's width, the next in stock",
                source=ROD_OVER.source,
            )
        )
    every = tuple(Part(where, joint.length / 1000.0) for _, where, joint in kinds)
    for key, name, unit, rule in (
        ("sealant_primer", "primer for sealant", "ml", products.sealant_primer_ml_m),
        ("bond_breaker", "bond breaker tape", "m", products.bond_breaker_m),
        ("masking_tape", "masking tape", "m", products.masking_tape_m),
    ):
        if rule.value > 0.0:
            parts = tuple(Part(part.where, part.quantity * rule.value) for part in every)
            formula = f"metres of joint × {rule.value:g} {rule.unit}"
            result.append(Item(key=key, name=name, unit=unit, parts=parts, formula=formula, source=rule.source))
    return result
