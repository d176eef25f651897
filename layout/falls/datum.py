"""The datum of a floor's levels: where a person on site finds ±0, in words and on the plan."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from layout.vectors import pair
from layout.words import worded

if TYPE_CHECKING:
    from layout.errors import Point
    from layout.falls.shaping import Falls
    from layout.room.outlines import Outline

THRESHOLD_PLAY = 2.0
"""A threshold that falls or steps no more than this is level, mm (a straightedge's play; common practice, no source)."""
ALONG = 20
"""Places along each wall at which it is asked whether the line of the walls is level."""


def datum_point(falls: Falls, outline: Outline, floor: float) -> tuple[str, float, Point]:
    """The place where a person finds the floor at its own level `floor`, the finished level there, mm, and its point on the plan.

    The line of the walls where all of it lies at one level; else the threshold, else the corner of the room, that is nearest to it.
    """
    runs = [wall.run for wall in outline.walls]
    along = falls.at(np.array([run.at(run.length * k / ALONG) for run in runs for k in range(ALONG)]))
    if float(np.ptp(along)) < THRESHOLD_PLAY / 2:
        return worded("the walls"), float(along.mean()), pair(runs[0].at(0.0))
    corners = along[::ALONG]
    doors = [door for door in outline.openings if door.door]
    middles = [outline.walls[d.wall].run.at((d.s0 + d.s1) / 2) for d in doors]
    sills = falls.at(np.array(middles).reshape(-1, 2))
    places = [worded("the middle of the threshold of {name}", name=door.opening.name) for door in doors]
    places += [worded("the {name}", name=name) for name in corner_names(outline)]
    levels = np.concatenate([sills, corners])
    best = int(np.argmin(np.round(np.abs(levels - floor))))
    return places[best], float(levels[best]), pair([*middles, *(run.at(0.0) for run in runs)][best])


def corner_names(outline: Outline) -> list[str]:
    """The corner where each wall's run begins, by the two walls that meet there: a wall typed clockwise has its run the other way round."""
    ends = np.array([wall.run.points[-1] for wall in outline.walls])
    names = []
    for k, wall in enumerate(outline.walls):
        before = int(np.argmin(np.hypot(*(ends - wall.run.points[0]).T)))
        one, other = sorted((k, before), key=lambda each: outline.walls[each].run.number)
        names.append(worded("corner of {label} and {label_2}", label=outline.walls[one].label, label_2=outline.walls[other].label))
    return names


def datum_words(place: str, level: float) -> str:
    """Where ±0 is, told from the finished floor at a place that lies at `level` above it.

    >>> datum_words("the walls", 0.2), datum_words("the threshold of door 1", -21.6)
    ('is the finished floor at the walls', 'lies 22 above the finished floor at the threshold of door 1')
    """
    off = round(level)
    how = worded("is") if off == 0 else worded("lies {off} {off_2}", off=abs(off), off_2=worded("below") if off > 0 else worded("above"))
    return worded("{how} the finished floor at {place}", how=how, place=place)
