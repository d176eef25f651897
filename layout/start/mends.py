"""Mends that the tool would take: the least shift of a start that leaves no weak piece, or that reaches the best cuts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from layout.shapes import turned
from layout.tiles.lay import lay
from layout.tiles.weakness import weak
from layout.tiles.widths import narrowest
from layout.units import EPS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from layout.errors import Point
    from layout.joints.lines import Bay
    from layout.start.faces import Faces
    from layout.tiles.lay import TileField

SHIFTS = (0.05, 0.1, 0.2, 0.35, 0.5, 0.7, 1.0)
"""Shifts tried each way along each direction, parts of half the module: small ones disturb least."""
MOST_TILES = 10_000
"""A larger field is left alone: trying shifts would take longer than all the rest."""


@dataclass(frozen=True, slots=True)
class Shift:
    """A shift of the start that mends something: how far and to where, mm; the narrowest cut over the play then; weak pieces left."""

    by: float
    to: Point
    worst: float
    left: int = 0

    def words(self) -> str:
        """How a person would do it."""
        return f"shifted by {self.by:.0f} mm to [{self.to[0]:.1f}, {self.to[1]:.1f}]"


def shift_off_weak(faces: Faces, bays: Sequence[Bay], field: TileField, origin: Point, least: float) -> Shift | None:
    """The shift along one direction that leaves the fewest weak pieces, the least of those alike, with no cut narrower than `least`.

    None if there is no weak piece, or no shift tried halves their number, or the field is too large to try.
    """
    if len(field.whole) + len(field.cut) > MOST_TILES:
        return None
    now = int(weak(field.pieces()).sum())
    if now == 0:
        return None
    edges = [(*faces.bay_edges(bay), bay) for bay in bays]
    reach = [float(np.abs(vector).max()) / 2 for vector in field.pattern.vectors]
    tries = sorted((reach[axis] * part, axis, side) for axis in (0, 1) for part in SHIFTS for side in (-1.0, 1.0))
    best: Shift | None = None
    for by, axis, side in tries:
        move = np.zeros(2)
        move[axis] = side * by
        worst = min(
            (narrowest(local - move, faces.play[hit], faces.pattern, faces.pattern.widest)[0] for local, hit, _ in edges if len(hit)),
            default=faces.pattern.widest,
        )
        if worst < least - EPS:
            continue
        shift = turned(move[None], faces.turn)[0]
        left, most = 0, (best.left if best else now / 2 + EPS)
        for bay in bays:
            left += int(weak(lay(faces.surface.to_lay(bay.region), field.pattern, faces.turn, np.array(bay.origin) + shift).pieces).sum())
            if left >= most:
                break
        else:
            at = np.array(origin) + shift
            best = Shift(by, (float(at[0]), float(at[1])), worst, left)
            if left == 0:
                break
    return best
