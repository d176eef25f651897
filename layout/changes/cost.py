"""What keeping costs: the set-out with what is built kept, against the best free one of the same plan."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from layout.tiles.weakness import weak

if TYPE_CHECKING:
    from layout.setout.values import RoomSetOut, SetOut


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """What a room's set-out comes to: cut pieces of all surfaces, weak ones among them, narrowest cut of the floor and movement joints on it, mm."""

    pieces: int
    weak: int
    narrowest: float
    joints: float


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepingCost:
    """A room as it is kept, and as the best free set-out would have it."""

    room: str
    kept: Figures
    free: Figures


def keeping_costs(kept: SetOut, free: SetOut) -> tuple[KeepingCost, ...]:
    """What keeping costs, room by room; both are of the same plan but for what is kept."""
    return tuple(
        KeepingCost(room=one.name, kept=_figures(one), free=_figures(other)) for one, other in zip(kept.rooms, free.rooms, strict=True)
    )


def _figures(room: RoomSetOut) -> Figures:
    pieces = [each.field.pieces() for each in room.surfaces]
    return Figures(
        pieces=sum(len(each) for each in pieces),
        weak=sum(int(weak(each).sum()) for each in pieces if len(each)),
        narrowest=room.floor.start.smallest,
        joints=math.fsum(j.length for j in room.joints if j.surface.kind == "floor" and j.kind in ("intermediate", "structural")),
    )
