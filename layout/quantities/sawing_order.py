"""The saw list in the order of something: the fence's setting, the bays, or the days on which pieces are laid."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias, get_args

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable

    from layout.quantities.cutting import CutPiece, CutTile, CuttingPlan, TileCutting
    from layout.setout.values import SetOut

SawOrder: TypeAlias = Literal["fence", "bay", "day"]
SAW_ORDERS: tuple[SawOrder, ...] = get_args(SawOrder)
NO_DAY = "no day told"


@dataclass(frozen=True, slots=True, kw_only=True)
class SawGroup:
    """Tiles that are cut together, by batch; `later` of their pieces are put by for a later group."""

    name: str
    tiles: tuple[tuple[TileCutting, tuple[CutTile, ...]], ...]
    later: int


def saw_groups(
    plan: CuttingPlan, setout: SetOut, by: SawOrder, day_of: Callable[[CutPiece], dt.date | None] | None = None
) -> tuple[SawGroup, ...]:
    """Every tile to cut once, in the order that the works want it.

    A tile goes with the first of its pieces that is wanted: by bay as they are laid, by day as `day_of` tells it; by fence with the
    widest setting of its pieces, the widest first.
    """
    found: dict[tuple[float, ...], dict[int, list[CutTile]]] = {}
    names: dict[tuple[float, ...], str] = {}
    later: dict[tuple[float, ...], int] = {}
    for number, batch in enumerate(plan.batches):
        for tile in batch.tiles:
            keyed = [_key(piece, setout, by, day_of) for piece in tile.pieces]
            first, name = min(keyed)
            names[first] = name
            found.setdefault(first, {}).setdefault(number, []).append(tile)
            later[first] = later.get(first, 0) + (0 if by == "fence" else sum(key > first for key, _ in keyed))
    return tuple(
        SawGroup(
            name=names[key],
            tiles=tuple((plan.batches[number], tuple(tiles)) for number, tiles in sorted(found[key].items())),
            later=later[key],
        )
        for key in sorted(found)
    )


def _key(
    piece: CutPiece, setout: SetOut, by: SawOrder, day_of: Callable[[CutPiece], dt.date | None] | None
) -> tuple[tuple[float, ...], str]:
    """Where a piece stands in an order, and what that place is called."""
    if by == "fence":
        return (-min(piece.box),), f"fence {min(piece.box):g}"
    if by == "bay":
        key, room = piece.key, setout.rooms[piece.key.room]
        bay = f", bay {key.bay + 1}" if len(room.surfaces[key.surface].field.bays) > 1 else ""
        return (key.room, key.surface, key.bay), f"{room.name}, {piece.surface.name}{bay}"
    day = day_of(piece) if day_of is not None else None
    return ((float("inf"),), NO_DAY) if day is None else ((day.toordinal(),), day.isoformat())
