"""Where corners of a survey lie at first, near enough for least squares to start from."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from layout.errors import PlanError
from layout.units import EPS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from layout.survey.readings import Reading

    Floats = NDArray[np.float64]


def first_places(names: list[str], readings: Sequence[Reading]) -> Floats:
    """Corners near enough to start from: each where two readings to placed corners meet, on the left of the walk so far."""
    known: dict[tuple[str, str], Reading] = {}
    for reading in readings:
        known[reading.first, reading.second] = known[reading.second, reading.first] = reading
    start = known.get((names[0], names[1]))
    if start is None:
        raise PlanError("survey", f"the wall {names[0]}–{names[1]} is not measured", "measure the first wall: all else stands on it")
    placed: dict[str, Floats] = {names[0]: np.zeros(2), names[1]: np.array([start.length, 0.0])}
    while len(placed) < len(names):
        waiting = [name for name in names if name not in placed]
        name = next((each for each in waiting if sum((each, other) in known for other in placed) >= 2), None)
        if name is None:
            raise PlanError("survey", f"{waiting[0]} is not tied to two corners before it", "measure a diagonal from it")
        ties = [other for other in names if other in placed and (name, other) in known][:2]
        placed[name] = _meeting(name, ties, placed, known)
    return np.array([placed[name] for name in names])


def _meeting(name: str, ties: list[str], placed: dict[str, Floats], known: dict[tuple[str, str], Reading]) -> Floats:
    """Where two circles meet, on the left of the way from the first tie to the second."""
    a, b = placed[ties[0]], placed[ties[1]]
    r, s = known[name, ties[0]].length, known[name, ties[1]].length
    apart = float(np.hypot(*(b - a)))
    if apart > r + s + EPS or abs(r - s) > apart + EPS:
        place = known[name, ties[1]].place or "survey"
        found = f"{name}–{ties[0]} {r:g}, {name}–{ties[1]} {s:g} and {ties[0]}–{ties[1]} {apart:.0f} cannot close"
        raise PlanError(place, found, "one of the three is misread: measure again")
    # the walk keeps the room on its left; a further reading settles a corner that turns back
    along = (r * r - s * s + apart * apart) / (2.0 * apart)
    across = math.sqrt(max(r * r - along * along, 0.0))
    way = (b - a) / apart
    normal = np.array([-way[1], way[0]])
    sides = [np.asarray(a + way * along + normal * across * sign) for sign in (1.0, -1.0)]
    others = [other for other in placed if other not in ties and (name, other) in known]

    def misfit(at: Floats) -> float:
        return math.fsum(abs(math.dist(at, placed[other]) - known[name, other].length) for other in others)

    return sides[0] if misfit(sides[0]) <= misfit(sides[1]) + 1.0 else sides[1]
