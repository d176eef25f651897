"""Rules of measurement: which voids an area keeps, what is measured by the metre, which gaps a run keeps.

A void wholly inside a face and no larger than the rule's limit is not deducted; one at the edge always is. Figures of a
void exactly at the limit are not deducted in any of these rules.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import shapely

from layout.shapes import parts_of
from layout.units import EPS

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from shapely import Polygon
    from shapely.geometry.base import BaseGeometry


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasureRule:
    """A published way to measure: voids up to `void_m2` inside a face are kept, parts up to `narrow` mm wide go by the metre."""

    name: str
    source: str
    status: str
    void_m2: float = 0.0
    narrow: float = 0.0
    gap_m: float = 0.0


def _rules(*rules: MeasureRule) -> dict[str, MeasureRule]:
    return {each.name: each for each in rules}


MEASURE_RULES = _rules(
    MeasureRule(name="NET", source="net as built: every void deducted", status="no rule of measurement"),
    MeasureRule(
        name="NRM2",
        source="NRM2 section 28: voids to 1.00 m2 kept, widths to 600 mm by the metre",
        status="from memory, no page found; the rules themselves decide",
        void_m2=1.0,
        narrow=600.0,
    ),
    MeasureRule(
        name="SMM7",
        source="SMM7 M40: voids to 0.50 m2 kept, widths to 300 mm by the metre",
        status="from memory, superseded; small voids only if wholly inside, as a national SMM states",
        void_m2=0.5,
        narrow=300.0,
    ),
    MeasureRule(
        name="VOB_DIN18352",
        source="VOB/C DIN 18352, tiling: recesses to 0.1 m2 kept, interruptions of a run to 1 m kept",
        status="from memory; the standard itself decides",
        void_m2=0.1,
        gap_m=1.0,
    ),
    MeasureRule(
        name="VOB_DIN18365",
        source='VOB/C DIN 18365, floor coverings: voids to 0.10 m2 kept ("Fit im Aufmass, Teil 5")',
        status="secondary source; the standard itself decides",
        void_m2=0.1,
        gap_m=1.0,
    ),
)


@dataclass(frozen=True, slots=True)
class Measured:
    """What a face measures by a rule: m², metres of narrow parts, and the voids kept, m²."""

    area_m2: float
    narrow_m: float
    kept_m2: float


def measured(face: BaseGeometry, voids: Iterable[BaseGeometry], rule: MeasureRule) -> Measured:
    """Measure a face, mm, with more voids than its own holes (pipes, drains); those that reach its edge are always deducted."""
    area = narrow = kept = 0.0
    extra = list(voids)
    for part in parts_of(face):
        shell = shapely.Polygon(part.exterior)
        own = [shapely.Polygon(ring) for ring in part.interiors]
        inside = [void for void in extra if shell.contains_properly(void)]
        edge = [shapely.intersection(void, part) for void in extra if not shell.contains_properly(void)]
        gone = math.fsum(void.area for void in (*own, *inside) if void.area / 1e6 > rule.void_m2 + EPS)
        gone += math.fsum(void.area for void in edge)
        kept += math.fsum(void.area for void in (*own, *inside) if void.area / 1e6 <= rule.void_m2 + EPS) / 1e6
        long, wide = _sides(part)
        if wide <= rule.narrow + EPS:
            narrow += long / 1000.0
        else:
            area += (shell.area - gone) / 1e6
    return Measured(area, narrow, kept)


def _sides(part: Polygon) -> tuple[float, float]:
    """Longer and shorter side of the least rectangle round a part, mm."""
    box = shapely.get_coordinates(shapely.minimum_rotated_rectangle(part))
    if len(box) < 4:
        return 0.0, 0.0
    sides = sorted(float(((box[k + 1] - box[k]) ** 2).sum() ** 0.5) for k in (0, 1))
    return sides[1], sides[0]


def run_length(length: float, gaps: Sequence[float], rule: MeasureRule) -> float:
    """Metres of a run (skirting, say) less its interruptions longer than the rule keeps, all in metres.

    >>> run_length(20.0, [0.9], MEASURE_RULES["VOB_DIN18352"]), run_length(20.0, [0.9], MEASURE_RULES["NET"])
    (20.0, 19.1)
    """
    return length - math.fsum(gap for gap in gaps if gap > rule.gap_m + EPS)
