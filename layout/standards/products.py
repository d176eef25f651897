"""Products as data: packs, consumptions, roll lengths. All default figures are generic.

Each default says where it comes from. A contractor replaces them by his supplier's figures in a
products file; nothing about a product is written in code elsewhere.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any

from layout.errors import Rule
from layout.fields import Field, Number, Text, shown
from layout.keys import told_unknown

if TYPE_CHECKING:
    from collections.abc import Mapping

    from layout.fields import Faults

_PRACTICE = "common practice, no source"
_INVENTED = "invented generic figure; replace by the supplier's data sheet"
_NO_SMALL = "not used unless the products give it: packs are never split"
_BASE = "base: tile of 175 to 350 mm in straight courses up to 2 m high, setting out within it; common practice, no source"
_PACE = "times the output of the base"
_OWN_PACE = "m2 an hour and hand, cut tiles apart"
_NO_OWN_PACE = "base times its factor unless the products give it"
_CUT = "min a cut tile"
_TIMES = "times as long as at 20 °C: cure, windows, washing"
_POT_TIMES = "times as long as at 20 °C: pot life and open time"
_SCALED = "double for each 10 K colder, half for each 10 K warmer, unless the products give it; from memory, the data sheet decides"


@dataclass(frozen=True, slots=True, kw_only=True)
class Products:
    """Figures that turn measured quantities into packs; each is a `Rule` with its source."""

    primer_kg_m2: Rule = Rule(0.4, "kg/m2", _PRACTICE)
    primer_coats: Rule = Rule(1.0, "coats", _PRACTICE)
    primer_loss: Rule = Rule(0.05, "part", _PRACTICE)
    primer_pack_kg: Rule = Rule(10.0, "kg", _INVENTED)
    primer_small_pack_kg: Rule = Rule(0.0, "kg", _NO_SMALL)
    quartz_kg_m2: Rule = Rule(1.5, "kg/m2", _PRACTICE)
    quartz_loss: Rule = Rule(0.05, "part", _PRACTICE)
    quartz_pack_kg: Rule = Rule(25.0, "kg", _INVENTED)
    membrane_kg_m2: Rule = Rule(0.8, "kg/m2 and coat", _PRACTICE)
    membrane_coats: Rule = Rule(2.0, "coats", _PRACTICE)
    membrane_loss: Rule = Rule(0.05, "part", _PRACTICE)
    membrane_pack_kg: Rule = Rule(10.0, "kg", _INVENTED)
    membrane_small_pack_kg: Rule = Rule(0.0, "kg", _NO_SMALL)
    membrane_density: Rule = Rule(1.4, "kg/l", _PRACTICE)
    membrane_solids: Rule = Rule(1.0, "part of volume", _PRACTICE)
    detail_coat_kg_m: Rule = Rule(0.3, "kg/m of tape", _PRACTICE)
    tape_width: Rule = Rule(120.0, "mm", _INVENTED)
    tape_lap: Rule = Rule(50.0, "mm", "from memory of DIN 18534; verify")
    tape_roll_m: Rule = Rule(10.0, "m", _INVENTED)
    collar_lap: Rule = Rule(60.0, "mm", _INVENTED)
    adhesive_density: Rule = Rule(1.55, "kg/l", _PRACTICE)
    adhesive_notch: Rule = Rule(0.0, "mm", "by the tile's longer edge: 3 to 50 mm, 4 to 108, 6 to 200, 8 above; from memory of DIN 18157")
    adhesive_back: Rule = Rule(1.0, "mm", "back-buttering for a solid bed; common practice, no source")
    adhesive_loss: Rule = Rule(0.05, "part", _PRACTICE)
    adhesive_pack_kg: Rule = Rule(10.0, "kg", _INVENTED)
    adhesive_small_pack_kg: Rule = Rule(0.0, "kg", _NO_SMALL)
    grout_density: Rule = Rule(1.55, "kg/l", _PRACTICE)
    grout_waste: Rule = Rule(0.10, "part", _PRACTICE)
    grout_pack_kg: Rule = Rule(5.0, "kg", _INVENTED)
    grout_small_pack_kg: Rule = Rule(0.0, "kg", _NO_SMALL)
    sealant_waste: Rule = Rule(0.10, "part", "yield / (1 + waste), guide on cost per metre of sealant joints")
    sealant_cartridge_ml: Rule = Rule(310.0, "ml", _PRACTICE)
    sealant_primer_ml_m: Rule = Rule(0.0, "ml/m of joint", "not used unless the products give it")
    bond_breaker_m: Rule = Rule(0.0, "m/m of joint", "not used unless the products give it; backer rod parts the sealant from the bottom")
    masking_tape_m: Rule = Rule(0.0, "m/m of joint", "not used unless the products give it")
    primer_pot_min: Rule = Rule(25.0, "min at 20 °C", _INVENTED)
    membrane_pot_min: Rule = Rule(30.0, "min at 20 °C", _INVENTED)
    adhesive_open_min: Rule = Rule(30.0, "min at 20 °C from spreading to fixing", _INVENTED)
    adhesive_pot_min: Rule = Rule(45.0, "min at 20 °C", _INVENTED)
    grout_pot_min: Rule = Rule(40.0, "min at 20 °C", _INVENTED)
    primer_m2_h: Rule = Rule(15.0, "m2 and coat an hour and hand", "0.05 to 0.08 h/m2; common practice, no source")
    membrane_m2_h: Rule = Rule(8.0, "m2 and coat an hour and hand", "0.10 to 0.15 h/m2; common practice, no source")
    adhesive_m2_h: Rule = Rule(1.0, "m2 an hour and hand", _BASE)
    fixing_cut_min: Rule = Rule(3.0, _CUT, _PRACTICE)
    fixing_to_75: Rule = Rule(0.6, _PACE, _PRACTICE)
    fixing_to_125: Rule = Rule(0.8, _PACE, _PRACTICE)
    fixing_to_175: Rule = Rule(0.9, _PACE, _PRACTICE)
    fixing_to_350: Rule = Rule(1.0, _PACE, _PRACTICE)
    fixing_to_600: Rule = Rule(0.9, _PACE, _PRACTICE)
    fixing_over_600: Rule = Rule(0.75, _PACE, _PRACTICE)
    fixing_m2_h_to_75: Rule = Rule(0.0, _OWN_PACE, _NO_OWN_PACE)
    fixing_m2_h_to_125: Rule = Rule(0.0, _OWN_PACE, _NO_OWN_PACE)
    fixing_m2_h_to_175: Rule = Rule(0.0, _OWN_PACE, _NO_OWN_PACE)
    fixing_m2_h_to_350: Rule = Rule(0.0, _OWN_PACE, _NO_OWN_PACE)
    fixing_m2_h_to_600: Rule = Rule(0.0, _OWN_PACE, _NO_OWN_PACE)
    fixing_m2_h_over_600: Rule = Rule(0.0, _OWN_PACE, _NO_OWN_PACE)
    fixing_running: Rule = Rule(1.0, _PACE, _PRACTICE)
    fixing_diagonal: Rule = Rule(0.9, _PACE, _PRACTICE)
    fixing_herringbone: Rule = Rule(0.8, _PACE, _PRACTICE)
    fixing_double_herringbone: Rule = Rule(0.8, _PACE, _PRACTICE)
    fixing_basket_weave: Rule = Rule(0.85, _PACE, _PRACTICE)
    fixing_hexagon: Rule = Rule(0.85, _PACE, _PRACTICE)
    fixing_two_size: Rule = Rule(0.85, _PACE, _PRACTICE)
    fixing_own: Rule = Rule(0.85, _PACE, _PRACTICE)
    fixing_over_2_m: Rule = Rule(0.8, _PACE, _PRACTICE)
    grout_m2_h: Rule = Rule(2.5, "m2 an hour and hand, washed up", "0.3 to 0.5 h/m2; common practice, no source")
    primer_recoat_from_h: Rule = Rule(12.0, "h at 20 °C", _INVENTED)
    primer_recoat_by_h: Rule = Rule(48.0, "h at 20 °C", _INVENTED)
    membrane_recoat_from_h: Rule = Rule(6.0, "h at 20 °C", _INVENTED)
    membrane_recoat_by_h: Rule = Rule(36.0, "h at 20 °C", _INVENTED)
    membrane_cure_h: Rule = Rule(24.0, "h at 20 °C before water or tile", _INVENTED)
    membrane_tile_by_h: Rule = Rule(
        72.0, "h at 20 °C from the last coat to tile, unless quartz is broadcast on it", "48 to 72 h; common practice, no source"
    )
    adhesive_cure_h: Rule = Rule(16.0, "h at 20 °C before grout", _INVENTED)
    grout_wash_from_min: Rule = Rule(15.0, "min after grouting at 20 °C", _INVENTED)
    grout_wash_by_min: Rule = Rule(45.0, "min after grouting at 20 °C", _INVENTED)
    grout_cure_h: Rule = Rule(24.0, "h at 20 °C before sealant or foot traffic", _INVENTED)
    sealant_cure_h: Rule = Rule(48.0, "h at 20 °C before water", _INVENTED)
    load_cure_h: Rule = Rule(168.0, "h at 20 °C after grouting before chemicals", _INVENTED)
    flood_test_h: Rule = Rule(24.0, "h", "24 to 72 h usual, from memory of ASTM D5957")
    flood_dry_h: Rule = Rule(0.0, "h after a flood test before tile", "not waited for unless the products give it; the surface must be dry")
    tape_m_h: Rule = Rule(10.0, "m an hour and hand", "0.08 to 0.12 h/m; common practice, no source")
    sealant_m_h: Rule = Rule(10.0, "m an hour and hand", "0.08 to 0.12 h/m; common practice, no source")
    least_temperature_c: Rule = Rule(
        10.0, "°C of the surface", "general epoxy, from memory; 16 for resin-set tile in UFGS 09330; the data sheet decides"
    )
    greatest_temperature_c: Rule = Rule(35.0, "°C of the surface", "general epoxy, from memory; the data sheet decides")
    times_at_5_c: Rule = Rule(0.0, _TIMES, _SCALED)
    times_at_10_c: Rule = Rule(0.0, _TIMES, _SCALED)
    times_at_15_c: Rule = Rule(0.0, _TIMES, _SCALED)
    times_at_25_c: Rule = Rule(0.0, _TIMES, _SCALED)
    times_at_30_c: Rule = Rule(0.0, _TIMES, _SCALED)
    pot_at_5_c: Rule = Rule(0.0, _POT_TIMES, _SCALED)
    pot_at_10_c: Rule = Rule(0.0, _POT_TIMES, _SCALED)
    pot_at_15_c: Rule = Rule(0.0, _POT_TIMES, _SCALED)
    pot_at_25_c: Rule = Rule(0.0, _POT_TIMES, _SCALED)
    pot_at_30_c: Rule = Rule(0.0, _POT_TIMES, _SCALED)
    trim_length_m: Rule = Rule(2.5, "m", _INVENTED)
    tile_spare: Rule = Rule(0.05, "part", "5 % spare left on commercial jobs; trade magazine, Nov 2016")
    tile_box_m2: Rule = Rule(1.0, "m2", _INVENTED)


DEFAULTS: dict[str, Rule] = {each.name: each.default for each in fields(Products)}  # type: ignore[misc]  # each has one: see above
PRODUCT_KEYS = tuple(DEFAULTS)
OWN = "the plan"
"""Source of a figure that a plan gives as a bare number."""


@dataclass(frozen=True, slots=True)
class Figure(Field[Rule]):
    """One figure of a product: a number, or a table of value and source, in the unit of its default."""

    default: Rule

    @property
    def number(self) -> Number:
        """What its value may be: what is used by default may not be nothing; a loss, a spare part or the time of a cut may."""
        return Number(0.0, above=self.default.value > 0.0 and self.default.unit not in ("part", _CUT), length=False)

    @property
    def says(self) -> str:  # type: ignore[override]
        """What would be right, in words."""
        return f'{self.number.says}, or {{ value = {self.default.value:g}, source = "..." }}'

    def read(self, value: object, place: str, faults: Faults) -> Rule | None:
        source: str | None = OWN
        if isinstance(value, dict):
            unknown = [name for name in value if name not in ("value", "unit", "source")]
            if unknown or "value" not in value:
                found = "it lacks a value" if "value" not in value else f"{shown(unknown[0])} found"
                faults.add(place, found, "give value, and source if known")
                return None
            if value.get("unit", self.default.unit) != self.default.unit:
                faults.add(f"{place}.unit", f"{shown(value['unit'])} found", f'this figure is in "{self.default.unit}"')
                return None
            source = Text().read(value.get("source", OWN), f"{place}.source", faults)
            value = value["value"]
        number = self.number.read(value, place, faults)
        return None if number is None or source is None else Rule(number, self.default.unit, source)

    def write(self, value: Rule) -> Any:  # noqa: ANN401
        number = self.number.write(value.value)
        return number if value.source == OWN else {"value": number, "unit": value.unit, "source": value.source}

    def schema(self) -> dict[str, Any]:
        number, words = self.number.schema(), {"type": "string"}
        table = {"type": "object", "properties": {"value": number, "unit": {"const": self.default.unit}, "source": words}}
        return {
            "anyOf": [number, {**table, "required": ["value"], "additionalProperties": False}],
            "description": f"{self.default.unit}; default: {self.default.source}",
            "default": self.number.write(self.default.value),
        }


class FigureTable(Field["Mapping[str, Rule]"]):
    """Figures of products by their names, those that are given."""

    fields = {name: Figure(default) for name, default in DEFAULTS.items()}  # noqa: RUF012  # made once, never changed
    says = "a table of figures"

    def read(self, value: object, place: str, faults: Faults) -> Mapping[str, Rule] | None:
        if not isinstance(value, dict):
            self.wrong(value, place, faults)
            return None
        before, given = len(faults.found), {}
        dot = f"{place}." if place else ""
        for name, each in value.items():
            if name not in self.fields:
                told_unknown(name, PRODUCT_KEYS, f"{dot}{shown(name)[1:-1]}", faults)
                continue
            found = self.fields[name].read(each, f"{dot}{name}", faults)
            if found is not None:
                given[name] = found
        return None if len(faults.found) > before else given

    def write(self, value: Mapping[str, Rule]) -> dict[str, Any]:
        return {name: self.fields[name].write(rule) for name, rule in value.items()}

    def schema(self) -> dict[str, Any]:
        properties = {name: each.schema() for name, each in self.fields.items()}
        return {"type": "object", "properties": properties, "additionalProperties": False}


FIGURES = FigureTable()
WINDOWS = (
    ("primer_recoat_from_h", "primer_recoat_by_h", "h"),
    ("membrane_recoat_from_h", "membrane_recoat_by_h", "h"),
    ("membrane_cure_h", "membrane_tile_by_h", "h"),
    ("grout_wash_from_min", "grout_wash_by_min", "min"),
    ("least_temperature_c", "greatest_temperature_c", "°C"),
)
"""Figures of which the first must be less than the second: from when, and by when; in which unit."""


def contradictions(products: Products) -> list[tuple[str, str, str]]:
    """Windows that close before they open, and times that get longer with warmth: key, what is found, what would be right."""
    result = []
    for low, high, unit in WINDOWS:
        opens, closes = getattr(products, low).value, getattr(products, high).value
        if opens >= closes:
            result.append((high, f"{closes:g} {unit} comes no later than {low} of {opens:g}", f"give more than {opens:g}"))
    for name in ("times", "pot"):
        given = [(t, getattr(products, f"{name}_at_{t}_c").value) for t in SCALED_AT]
        points = sorted([(t, value) for t, value in given if value > 0.0] + [(20, 1.0)])
        for (cold, slow), (warm, fast) in itertools.pairwise(points):
            if fast >= slow:
                key, other = (warm, cold) if warm != 20 else (cold, warm)
                found = f"{fast if key == warm else slow:g} at {key} °C and {slow if key == warm else fast:g} at {other} °C"
                result.append((f"{name}_at_{key}_c", found, "resin sets faster when warm: give less for the warmer one"))
    return result


SCALED_AT = (5, 10, 15, 25, 30)
"""Temperatures, °C, for which products may say how many times as long as at 20 °C all takes."""


def notch_of(products: Products, edge: float) -> float:
    """Notch of the trowel for a tile's longer edge, mm: the products' own, else by the table of DIN 18157 (from memory).

    >>> [notch_of(Products(), edge) for edge in (50, 100, 200, 240)]
    [3.0, 4.0, 6.0, 8.0]
    """
    if products.adhesive_notch.value > 0.0:
        return products.adhesive_notch.value
    return next((notch for limit, notch in ((50.0, 3.0), (108.0, 4.0), (200.0, 6.0)) if edge <= limit), 8.0)
