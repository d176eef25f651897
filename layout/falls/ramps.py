"""Ramps: given planes, steeper than any fall, that lead to no drain. People go up them, water only runs off."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.errors import Finding
from layout.falls.facets import is_ramp
from layout.shapes import union_of
from layout.standards.rules import RAMP_FOOT, RAMP_STEEPEST
from layout.vectors import pair
from layout.words import worded

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shapely.geometry.base import BaseGeometry

    from layout.falls.facets import Facet, FallLine
    from layout.falls.levels import Levels
    from layout.plan.ruling import Rules
    from layout.vectors import Floats

AT_FOOT = 50.0
"""A joint so near to the foot of a ramp is the joint there, mm."""
MOST_OF = 0.8
"""So much of a foot must have its joint."""
SHORT = 100.0
"""A foot shorter than this, mm, is none."""


def feet_of(levels: Levels, rules: Rules) -> list[tuple[Facet, BaseGeometry]]:
    """The ramps of a floor and the line at the low end of each where it meets more floor; an empty one where it ends at a wall."""
    result = []
    for ramp in levels.facets:
        if not is_ramp(ramp, levels.falls.drains, rules):
            continue
        rings = shapely.get_coordinates(ramp.polygon.exterior)
        down = rings @ ramp.way
        low = [rings[k : k + 2] for k in range(len(rings) - 1) if down[k : k + 2].min() > down.max() - 1.0]
        others = union_of([facet.polygon for facet in levels.facets if facet is not ramp])
        lines = shapely.multilinestrings([shapely.LineString(edge) for edge in low])
        result.append((ramp, shapely.intersection(lines, shapely.buffer(others, 1.0))))
    return result


def at_no_foot(levels: Levels, rules: Rules) -> tuple[FallLine, ...]:
    """The lines of a floor's falls but those at the feet of ramps: water runs on over the joint there."""
    feet = [shapely.buffer(foot, AT_FOOT) for _, foot in feet_of(levels, rules)]
    return tuple(line for line in levels.lines if not any(foot.covers(shapely.LineString(line.line)) for foot in feet))


def ramp_findings(levels: Levels, joints: Sequence[Floats], rules: Rules) -> list[Finding]:
    """Ramps too steep to walk, and those at whose foot no movement joint lies; `joints` are the lines (n, 2) of the floor's."""
    result = []
    sealed = union_of([shapely.buffer(shapely.LineString(line), AT_FOOT, cap_style="flat") for line in joints])
    for ramp, foot in feet_of(levels, rules):
        middle = ramp.polygon.representative_point()
        if ramp.ratio < RAMP_STEEPEST.value / 1.001:
            text = worded(
                "floor: {name} is a ramp of 1:{ratio:.3g}; at most 1:{steepest:g} wanted ({source})",
                name=ramp.to,
                ratio=ramp.ratio,
                steepest=RAMP_STEEPEST.value,
                source=RAMP_STEEPEST.source,
            )
            result.append(Finding(code="ramp-steep", text=text, at=(float(middle.x), float(middle.y))))
        if foot.length > SHORT and shapely.intersection(foot, sealed).length < MOST_OF * foot.length:
            text = worded(
                "floor: {name} is a ramp of 1:{ratio:.3g}, and no movement joint lies at its foot ({source})",
                name=ramp.to,
                ratio=ramp.ratio,
                source=RAMP_FOOT.source,
            )
            result.append(Finding(code="ramp-foot", text=text, at=pair(np.asarray(foot.centroid.coords[0]))))
    return result
