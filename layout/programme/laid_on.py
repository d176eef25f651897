"""The day on which a cut piece is laid, as the programme's day pieces tell it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import shapely

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable

    from layout.programme.piece import Part
    from layout.programme.values import Programme
    from layout.quantities.cutting import CutPiece

LAID = ("walls", "floor", "bottom")
"""Kinds of day pieces on which tile is laid."""


def laying_days(programme: Programme) -> Callable[[CutPiece], dt.date | None]:
    """A function from a cut piece to the day of the part in which its middle lies; None where no part holds it (a plinth of its own)."""
    parts: dict[object, list[tuple[Part, dt.date]]] = {}
    for each in programme.pieces:
        if each.kind in LAID:
            for part in each.parts:
                parts.setdefault(part.surface, []).append((part, each.days[0][1].date()))

    def day(piece: CutPiece) -> dt.date | None:
        own = parts.get(piece.surface, [])
        return min(own, key=lambda each: (_away(each[0], piece), each[1]))[1] if own else None

    return day


def _away(part: Part, piece: CutPiece) -> float:
    """How far a piece's middle is from a part of its surface, mm."""
    if part.shape is not None:
        return float(part.shape.distance(shapely.Point(piece.middle)))
    return max(part.low - piece.middle[0], piece.middle[0] - part.high, 0.0)
