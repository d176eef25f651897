"""Trims on external arrises, and skirting in pieces: coved ones at the foot of every face, sit-on ones where walls are not tiled.

Straight pieces, one corner piece for each corner that two runs meet in, stop ends by hand as seen facing the wall.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias

from layout.lining.owners import owner_of
from layout.room.shell import FLOOR
from layout.units import EPS, TOUCH

if TYPE_CHECKING:
    from layout.errors import Point
    from layout.lining.build import Lining
    from layout.room.shell import Face, Upright

End: TypeAlias = Literal["internal", "external", "stop"]


@dataclass(frozen=True, slots=True)
class SkirtingRun:
    """Skirting along one face, its ends as seen facing it; `straight` pieces of which the last is cut unless it fits."""

    label: str
    kind: Literal["coved", "sit-on"]
    length: float
    straight: int
    left: End
    right: End


@dataclass(frozen=True, slots=True)
class Skirting:
    """The skirting of a room: its runs and the pieces that they take."""

    runs: tuple[SkirtingRun, ...]
    internal: int
    external: int
    stop_left: int
    stop_right: int

    @property
    def straight(self) -> int:
        """Straight pieces."""
        return sum(run.straight for run in self.runs)


def skirting_of(lining: Lining) -> Skirting | None:
    """The skirting of a room; None where the plan has none."""
    rules = lining.plan.rules
    coved = rules.foot == "cove"
    if rules.skirting is None:
        return None
    feet: dict[tuple[str, int, int], list[Face]] = {}
    for face in lining.shell.faces:
        bare = face.tag.owner != "plinth" and owner_of(lining.outline, face).tile is None
        if face.low == FLOOR and (coved or bare):
            feet.setdefault(face.run, []).append(face)
    skirted = set(feet)
    corners = {(round(u.at[0], 2), round(u.at[1], 2)): u for u in lining.shell.uprights if abs(u.bottom) < TOUCH}
    runs: list[SkirtingRun] = []
    met: dict[tuple[float, float], End] = {}
    pitch = rules.skirting[0] + lining.plan.tile(lining.room.floor_tile).joint
    for faces in feet.values():
        for low, high in _stretches(faces):
            ends: list[End] = []
            for at in (low[1], high[1]):
                key = (round(at[0], 2), round(at[1], 2))
                ends.append(_end(corners.get(key), skirted))
                if ends[-1] != "stop":
                    met[key] = ends[-1]
            left, right = (ends[1], ends[0]) if faces[0].tag.owner in ("wall", "reveal") else (ends[0], ends[1])
            length = high[0] - low[0]
            owner = owner_of(lining.outline, faces[0])
            count = math.ceil((length - TOUCH) / pitch)
            runs.append(SkirtingRun(owner.label, "coved" if coved else "sit-on", length, count, left, right))
    found = list(met.values())
    return Skirting(
        tuple(runs),
        found.count("internal"),
        found.count("external"),
        sum(run.left == "stop" for run in runs),
        sum(run.right == "stop" for run in runs),
    )


def arrises(lining: Lining) -> list[tuple[str, Point, float, float]]:
    """Upright external arrises between two tiled faces, which take a trim: names, place in plan, from and to, mm."""
    result = []
    for upright in lining.shell.uprights:
        one, two = owner_of(lining.outline, upright.first), owner_of(lining.outline, upright.second)
        top = min(one.top, two.top, upright.top)
        if upright.angle > 180.0 and one.tile and two.tile and top > upright.bottom:
            result.append((f"{one.label} / {two.label}", upright.at, upright.bottom, top))
    return result


def _stretches(faces: list[Face]) -> list[tuple[tuple[float, Point], tuple[float, Point]]]:
    """Faces of one run joined end to end: where each stretch begins and ends along the run, mm, and in plan."""
    ends = []
    for face in sorted(faces, key=lambda f: f.tag.s0):
        backwards = face.tag.owner in ("wall", "reveal")
        first, last = (face.b, face.a) if backwards else (face.a, face.b)
        ends.append(((face.tag.s0, first), (face.tag.s1, last)))
    result = [ends[0]]
    for low, high in ends[1:]:
        if abs(low[0] - result[-1][1][0]) < EPS:
            result[-1] = (result[-1][0], high)
        else:
            result.append((low, high))
    return result


def _end(upright: Upright | None, skirted: set[tuple[str, int, int]]) -> End:
    """How a run ends at a point: in a corner if the face round it is skirted too, else it stops."""
    if upright is None or not {upright.first.run, upright.second.run} <= skirted:
        return "stop"
    return upright.bend
