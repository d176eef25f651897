"""Hours of fixing tile as measured: area by the output of its tile, pattern and height, and the time of each cut tile.

The one place where they are reckoned: bill, mixing, programme and batch list take them from here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal, TypeAlias

import numpy as np

from layout.quantities.tiling import area_between, bottom_line, each_surface
from layout.standards.outputs import REACH, output_of, pattern_factor, size_class

if TYPE_CHECKING:
    from collections.abc import Iterable

    from layout.quantities.values import Part, Place
    from layout.setout.values import SetOut, SurfaceSetOut
    from layout.standards.products import Products

FixingStage: TypeAlias = Literal["walls", "floor", "bottom"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fixing:
    """Tile to fix at one place: `m2`, of which `high_m2` above reach, and places with a `cuts` tile.

    `output` is m² an hour and hand by tile and pattern, `high` what it is multiplied by above reach, `cut_min` minutes a cut
    tile; `why` its figures in words, `source` where the output is from.
    """

    place: Place
    m2: float
    high_m2: float
    cuts: int
    output: float
    high: float
    cut_min: float
    why: str
    source: str

    @property
    def hours(self) -> float:
        """Hours of one hand: area / output, slower above reach, and the cuts."""
        return (self.m2 - self.high_m2 + self.high_m2 / self.high) / self.output + self.cuts * self.cut_min / 60.0


def fixing_stage(place: Place) -> FixingStage:
    """The stage in which tile is fixed at a place: floors; a wall's bottom course, cut to them; all else that is upright."""
    if place.surface is not None and place.surface.kind in ("floor", "border"):
        return "floor"
    return "bottom" if place.course else "walls"


def fixings(setout: SetOut) -> list[Fixing]:
    """Tile to fix on every surface of the plan; a wall's bottom course apart."""
    return [each for place, done in each_surface(setout) for each in _of_surface(setout.plan.products, place, done)]


def _of_surface(products: Products, place: Place, done: SurfaceSetOut) -> list[Fixing]:
    pattern = done.field.pattern
    edge = math.sqrt(float(pattern.areas.mean()))
    longest = max(max(pattern.box_of(member)) for member in range(len(pattern.members)))
    size = size_class(edge, longest)
    factor = pattern_factor(products, pattern.name, done.tile.turn)
    straight = output_of(products, size)
    output = straight.value * factor
    top = bottom_line(done)
    cut = np.unique(done.field.cut, axis=0)
    low_m2, low_cuts, low_high = 0.0, 0, 0.0
    if top is not None:
        low_m2 = area_between(done, -1e9, top)
        low_high = area_between(done, REACH, top) if top > REACH else 0.0
        middles = done.field.outlines(cut)[:, :, 1].mean(axis=1)
        low_cuts = int((middles < top).sum())
    upright = done.surface.placing.line is not None
    high = area_between(done, REACH, 1e9) if upright else 0.0
    rest = Fixing(
        place=place,
        m2=done.tiled_m2 - low_m2,
        high_m2=high - low_high,
        cuts=len(cut) - low_cuts,
        output=output,
        high=products.fixing_over_2_m.value,
        cut_min=products.fixing_cut_min.value,
        why=f"{output:g} for tile {size.replace('_', ' ')} mm, {pattern.name}",
        source=straight.source,
    )
    if low_m2 <= 0.0:
        return [rest]
    bottom = replace(place, course="bottom", words=f"{place.words}, bottom course")
    return [replace(rest, place=bottom, m2=low_m2, high_m2=low_high, cuts=low_cuts), rest]


def paces(parts: Iterable[Part]) -> dict[tuple[int, str], float]:
    """m² an hour and hand of each room and stage of fixing, cuts within it, from its hours."""
    total: dict[tuple[int, str], list[float]] = {}
    for part in parts:
        own = total.setdefault((part.place.room, fixing_stage(part.place)), [0.0, 0.0])
        own[0] += part.m2
        own[1] += part.quantity
    return {key: m2 / hours for key, (m2, hours) in total.items() if hours > 0.0 and m2 > 0.0}
