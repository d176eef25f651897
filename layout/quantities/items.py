"""The table of items: everything that is measured, one row each, in the order of the works.

A new item is one row here; tables, files, bill, orders, mixing and programme read it from the row.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from layout.quantities.edges import coves, skirting, trims
from layout.quantities.labour import coating, detailing, fixing, grouting, priming, sealing
from layout.quantities.screed import screed
from layout.quantities.sealing import along_joints, backer_rods, joints, sealant
from layout.quantities.tiling import adhesive, by_rule, grout, tiled, tiles
from layout.quantities.values import MEASURED, Pack, Row
from layout.quantities.waterproofing import (
    broadcast,
    broadcast_last,
    coats,
    collars,
    corner_pieces,
    detail_coat,
    flanges,
    membrane_area,
    tape,
    terminations,
)
from layout.standards.rules import SCREED_LEAST
from layout.standards.sealants import ROD_OVER
from layout.words import worded

if TYPE_CHECKING:
    from collections.abc import Callable

    from layout.quantities.values import Quantity
    from layout.setout.values import SetOut

    Measure = Callable[[SetOut], list[Quantity]]


def _narrow(setout: SetOut) -> list[Quantity]:
    return by_rule(setout, narrow=True)


_PREPARATION = (
    Row(
        key="screed", name=worded("screed to falls"), unit="m3", stage="preparation", section="waterproofing", measure=screed,
        formula="each facet's area × its thickness in the middle (prismoidal formula); {reach}",
        source=f"{MEASURED}; {SCREED_LEAST.source}",
    ),
)  # fmt: skip

_TILE = (
    Row(
        key="tiles.{of}", name=worded("tile “{tile}” {w:g} × {h:g}"), unit="pcs", stage="fixing", section="tiling", measure=tiles, block="tile",
        formula="whole tiles + places with a cut tile; no offcut is used twice",
        pack=Pack(word="box", size="tile_box_m2", loss="tile_spare"),
    ),
    Row(
        key="tiled.{tile}", name=worded("tiled area, tile “{tile}”"), unit="m2", stage="fixing", section="tiling", measure=tiled, block="tile",
        formula="region less movement joints", work="tiled",
    ),
    Row(
        key="measured.{tile}", name=worded("tiling “{tile}” by {rule.name}"), unit="m2", stage="fixing", section="tiling", measure=by_rule,
        formula="bare face, voids to {rule.void_m2:g} m² inside it kept", source="{rule.source}; {rule.status}",
    ),
    Row(
        key="measured.{tile}.narrow", name=worded("tiling “{tile}” by {rule.name}, narrow"), unit="m", stage="fixing", section="tiling",
        measure=_narrow,
        formula="faces no wider than {rule.narrow:g} mm, by their length", source="{rule.source}; {rule.status}",
    ),
)  # fmt: skip

_MEMBRANE = (
    Row(
        key="membrane_area", name=worded("membrane"), unit="m2", stage="membrane", section="waterproofing", measure=membrane_area, work="tanked",
        formula="tanked substrate and returns onto lower walls, less channels; small breaks not deducted",
    ),
    Row(
        key="primer", name=worded("primer"), unit="kg", stage="preparation", section="waterproofing",
        measure=coats("primer_kg_m2", "primer_coats"),
        formula="area × {p.primer_kg_m2.value:g} {p.primer_kg_m2.unit} × {p.primer_coats.value:g} coat",
        source="{p.primer_kg_m2.source}",
        pack=Pack(word="pack", size="primer_pack_kg", loss="primer_loss", over="tanked", pot="primer_pot_min", pace="priming"),
    ),
    Row(
        key="quartz", name=worded("quartz, broadcast on the floor's primer"), unit="kg", stage="preparation", section="waterproofing",
        measure=broadcast,
        formula="area × {p.quartz_kg_m2.value:g} {p.quartz_kg_m2.unit}", source="{p.quartz_kg_m2.source}",
        pack=Pack(word="pack", size="quartz_pack_kg", loss="quartz_loss", beside=("quartz_last",)),
    ),
    Row(
        key="quartz_last", name=worded("quartz, broadcast on the floor's last coat"), unit="kg", stage="preparation", section="waterproofing",
        measure=broadcast_last,
        formula="area × {p.quartz_kg_m2.value:g} {p.quartz_kg_m2.unit}", source="{p.quartz_kg_m2.source}",
    ),
    Row(
        key="membrane", name=worded("membrane resin, {p.membrane_coats.value:g} coats crosswise"), unit="kg",
        stage="membrane", section="waterproofing", measure=coats("membrane_kg_m2", "membrane_coats"),
        formula="area × {p.membrane_kg_m2.value:g} kg/m2 × {p.membrane_coats.value:g} coats; {wet:.2f} mm wet, {dry:.2f} mm dry in all",
        source="{p.membrane_kg_m2.source}",
        pack=Pack(
            word="pack", size="membrane_pack_kg", loss="membrane_loss", beside=("detail_coat",), note=worded("with the detail coat"),
            over="tanked", coats="membrane_coats", pot="membrane_pot_min", pace="coating",
        ),
    ),
    Row(
        key="tape.internal", name=worded("reinforcing tape, internal junctions"), unit="m", stage="membrane", section="waterproofing",
        measure=tape("internal"),
        formula="line on the substrate; laps are in the order",
        pack=Pack(word="roll", size="tape_roll_m", beside=("tape.external", "tape.bridge")),
    ),
    Row(
        key="tape.external", name=worded("reinforcing tape, thresholds and external edges"), unit="m", stage="membrane", section="waterproofing",
        measure=tape("external"),
        formula="line on the substrate; laps are in the order",
    ),
    Row(
        key="tape.bridge", name=worded("reinforcing tape, bridges with a loop"), unit="m", stage="membrane", section="waterproofing",
        measure=tape("bridge"),
        formula="line on the substrate; laps are in the order",
    ),
    Row(
        key="detail_coat", name=worded("detail coat under and over tape"), unit="kg", stage="membrane", section="waterproofing",
        measure=detail_coat,
        formula="metres × {p.detail_coat_kg_m.value:g} {p.detail_coat_kg_m.unit}", source="{p.detail_coat_kg_m.source}",
    ),
    *(
        Row(
            key=f"corner_pieces.{kind}", name=words, unit="pcs", stage="membrane", section="waterproofing",
            measure=corner_pieces(kind), formula="corners of the shell by class",
        )
        for kind, words in (
            ("internal", worded("corner pieces, internal")),
            ("external", worded("corner pieces, external")),
            ("made", worded("corner pieces, made from tape")),
        )
    ),
    Row(
        key="collars", name=worded("collars"), unit="pcs", stage="membrane", section="waterproofing", measure=collars,
        formula="one for each pipe and fixing through the tanking",
    ),
    Row(
        key="terminations.{of}", name=worded("membrane ends, {end}"), unit="m", stage="membrane", section="waterproofing", measure=terminations,
        formula="free edge of the tanking",
    ),
    Row(
        key="flanges", name=worded("drain flanges to lap"), unit="m", stage="membrane", section="waterproofing", measure=flanges,
        formula="length round the frame",
    ),
)  # fmt: skip

_FIXING = (
    Row(
        key="adhesive", name=worded("resin adhesive"), unit="kg", stage="fixing", section="tiling", measure=adhesive,
        formula="area × bed × {p.adhesive_density.value:g} kg/l; bed of the plan, no less than half the notch + {p.adhesive_back.value:g} mm back: {beds}",
        source="notch² / pitch; {p.adhesive_notch.source}",
        pack=Pack(word="pack", size="adhesive_pack_kg", loss="adhesive_loss", over="tiled", pot="adhesive_pot_min", pace="fixing"),
    ),
    Row(
        key="grout", name=worded("resin grout"), unit="kg", stage="grouting", section="tiling", measure=grout,
        formula="joint area × tile thickness × {p.grout_density.value:g} kg/l × {factor:g}; handbook formula (L + W) / (L W) × j × d × ρ gives {handbook:.1f} kg",
        source=f"{MEASURED}; waste {{p.grout_waste.source}}",
        pack=Pack(word="pack", size="grout_pack_kg", over="tiled", pot="grout_pot_min", pace="grouting"),
    ),
    Row(
        key="cove", name=worded("coved skirting"), unit="m", stage="fixing", section="tiling", measure=coves,
        formula="walls, plinths and columns at their foot",
    ),
    Row(
        key="edge_trim", name=worded("edge trim on external arrises"), unit="m", stage="fixing", section="tiling", measure=trims,
        formula="tiled upright arrises and plinth edges",
        pack=Pack(word="length", size="trim_length_m"),
    ),
    Row(
        key="skirting.straight", name=worded("skirting, straight"), unit="pcs", stage="fixing", section="tiling", measure=skirting("straight"),
        formula="run over piece and joint, the last one cut",
    ),
    Row(
        key="skirting.internal", name=worded("skirting, internal corners"), unit="pcs", stage="fixing", section="tiling",
        measure=skirting("internal"), formula="by corner and end, as seen facing the wall",
    ),
    Row(
        key="skirting.external", name=worded("skirting, external corners"), unit="pcs", stage="fixing", section="tiling",
        measure=skirting("external"), formula="by corner and end, as seen facing the wall",
    ),
    Row(
        key="skirting.stop_left", name=worded("skirting, stop ends, left hand"), unit="pcs", stage="fixing", section="tiling",
        measure=skirting("stop_left"), formula="by corner and end, as seen facing the wall",
    ),
    Row(
        key="skirting.stop_right", name=worded("skirting, stop ends, right hand"), unit="pcs", stage="fixing", section="tiling",
        measure=skirting("stop_right"), formula="by corner and end, as seen facing the wall",
    ),
)  # fmt: skip

_SEALING = (
    Row(
        key="joints.{kind}", name=worded("sealant joint, {kind}"), unit="m", stage="sealing", section="sealants", measure=joints,
        formula="centre line, each metre once",
    ),
    Row(
        key="sealant", name=worded("sealant"), unit="ml", stage="sealing", section="sealants", measure=sealant,
        formula="length × width × depth (half the width, 6 to 13 mm) × {factor:g}; by section", source="{p.sealant_waste.source}",
        pack=Pack(word="cartridge", size="sealant_cartridge_ml"),
    ),
    Row(
        key="backer_rod.{rod:g}", name=worded("backer rod {rod:g} mm, set before grouting"), unit="m", stage="sealing", section="sealants",
        measure=backer_rods,
        formula="joint length; rod a quarter over the joint's width, the next in stock", source=ROD_OVER.source,
    ),
    Row(
        key="sealant_primer", name=worded("primer for sealant"), unit="ml", stage="sealing", section="sealants",
        measure=along_joints("sealant_primer_ml_m"),
        formula="metres of joint × {p.sealant_primer_ml_m.value:g} {p.sealant_primer_ml_m.unit}", source="{p.sealant_primer_ml_m.source}",
    ),
    Row(
        key="bond_breaker", name=worded("bond breaker tape"), unit="m", stage="sealing", section="sealants", measure=along_joints("bond_breaker_m"),
        formula="metres of joint × {p.bond_breaker_m.value:g} {p.bond_breaker_m.unit}", source="{p.bond_breaker_m.source}",
    ),
    Row(
        key="masking_tape", name=worded("masking tape"), unit="m", stage="sealing", section="sealants", measure=along_joints("masking_tape_m"),
        formula="metres of joint × {p.masking_tape_m.value:g} {p.masking_tape_m.unit}", source="{p.masking_tape_m.source}",
    ),
)  # fmt: skip

_LABOUR = (
    Row(
        key="labour.prime", name=worded("labour: prime"), unit="h", stage="preparation", section="waterproofing", measure=priming, work="priming",
        formula="area × {p.primer_coats.value:g} coats / {p.primer_m2_h.value:g} {p.primer_m2_h.unit}", source="{p.primer_m2_h.source}",
    ),
    Row(
        key="labour.details", name=worded("labour: tape and details"), unit="h", stage="membrane", section="waterproofing", measure=detailing,
        work="detailing", formula="metres of tape / {p.tape_m_h.value:g} {p.tape_m_h.unit}", source="{p.tape_m_h.source}",
    ),
    Row(
        key="labour.membrane", name=worded("labour: membrane"), unit="h", stage="membrane", section="waterproofing", measure=coating,
        work="coating", formula="area × {p.membrane_coats.value:g} coats / {p.membrane_m2_h.value:g} {p.membrane_m2_h.unit}",
        source="{p.membrane_m2_h.source}",
    ),
    Row(
        key="labour.fixing", name=worded("labour: fix tile"), unit="h", stage="fixing", section="tiling", measure=fixing, work="fixing",
        formula="tiled area / output, m2 an hour and hand: {outputs}; above 2 m × {p.fixing_over_2_m.value:g}; and {cuts} cut tiles × "
        "{p.fixing_cut_min.value:g} min", source="{sources}; cuts: {p.fixing_cut_min.source}",
    ),
    Row(
        key="labour.grout", name=worded("labour: grout"), unit="h", stage="grouting", section="tiling", measure=grouting, work="grouting",
        formula="tiled area / {p.grout_m2_h.value:g} {p.grout_m2_h.unit}", source="{p.grout_m2_h.source}",
    ),
    Row(
        key="labour.sealant", name=worded("labour: seal joints"), unit="h", stage="sealing", section="sealants", measure=sealing, work="sealing",
        formula="metres of joint / {p.sealant_m_h.value:g} {p.sealant_m_h.unit}", source="{p.sealant_m_h.source}",
    ),
)  # fmt: skip

ROWS: tuple[Row, ...] = (*_PREPARATION, *_TILE, *_MEMBRANE, *_FIXING, *_SEALING, *_LABOUR)
