"""The JSON contract, the saw's part, and the saw list as CSV."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING, Any

from layout.writers.rounded import mm, pair

if TYPE_CHECKING:
    from collections.abc import Iterator

    from layout.quantities.cutting import CutTile, CuttingPlan, TileCutting
    from layout.quantities.sawing_order import SawGroup
    from layout.quantities.stock import Shortage, TileOrder
    from layout.setout.values import SetOut

CUTS_SCHEMA = "gaugerod/cuts/1"
HEAD = ("tile", "size", "number", "piece", "mark", "saw width", "saw height", "from left", "from below", "turned", "room", "surface", "bay")


def cuts_record(
    plan: CuttingPlan,
    setout: SetOut,
    orders: tuple[TileOrder, ...] = (),
    short: tuple[Shortage, ...] = (),
    groups: tuple[SawGroup, ...] = (),
) -> dict[str, Any]:
    """The record of a cutting plan: tiles by batch, every piece once, what is short of a stock if one was given, groups if asked for."""
    project = setout.plan.project
    record: dict[str, Any] = {
        "schema": CUTS_SCHEMA,
        "project": {"title": project.title, "number": project.number},
        "rules": {
            "kerf_mm": mm(plan.rules.kerf),
            "offcuts": plan.rules.offcuts,
            "breakage": plan.rules.breakage,
            "saw_play_mm": mm(plan.rules.saw_play),
        },
        "tiles": [_batch(batch) for batch in plan.batches],
        "orders": [_order(each) for each in orders],
        "list": [
            {
                "tile": batch.name,
                "tile_size": pair(batch.size),
                "number": tile.number,
                "pieces": [
                    {
                        "mark": piece.mark,
                        "size": pair(piece.size),
                        "room": setout.rooms[piece.key.room].name,
                        "surface": piece.surface.name,
                        "id": piece.surface.key,
                        "bay": piece.key.bay + 1,
                        "at": pair(piece.middle),
                        "place": list(piece.place),
                        "cut_at": pair(piece.at),
                        "turned_deg": piece.quarters * 90,
                    }
                    for piece in tile.pieces
                ],
            }
            for batch in plan.batches
            for tile in batch.tiles
        ],
    }
    if short:
        record["stock"] = [_lack(each) for each in short]
    if groups:
        record["groups"] = [_group(each) for each in groups]
    return record


def _order(order: TileOrder) -> dict[str, Any]:
    return {
        "name": order.name,
        "size": pair(order.size),
        "whole": order.whole,
        "cut": order.cut,
        "broken": order.broken,
        "spare": order.spare,
        "ordered": order.ordered,
        "boxes": order.boxes,
        "surplus": order.surplus,
        "by_usual_allowance": order.usual,
    }


def _lack(lack: Shortage) -> dict[str, Any]:
    return {
        "name": lack.name,
        "size": pair(lack.size),
        "stock": lack.stock,
        "needed": lack.needed,
        "short": lack.short,
        "boxes": lack.boxes,
        "broken": lack.broken,
        "again_from_rests": [{"mark": mark, "count": count} for mark, count in lack.again],
    }


def _group(group: SawGroup) -> dict[str, Any]:
    tiles = [{"tile": batch.name, "tile_size": pair(batch.size), "numbers": [tile.number for tile in own]} for batch, own in group.tiles]
    return {"name": group.name, "tiles": tiles, "for_later": group.later}


def _batch(batch: TileCutting) -> dict[str, Any]:
    return {
        "name": batch.name,
        "size": pair(batch.size),
        "whole": batch.whole,
        "places_cut": batch.places,
        "cut_tiles": len(batch.tiles),
        "broken": batch.broken,
        "needed": batch.needed,
        "bound": batch.bound,
        "bound_of": batch.bound_of,
        "proved": batch.proved,
        "kept": [{"size": pair(size), "count": many, "could_replace": list(marks)} for size, many, marks in batch.kept()],
    }


def cuts_csv(plan: CuttingPlan, setout: SetOut, groups: tuple[SawGroup, ...] = ()) -> str:
    """The saw list, a row for each piece, in the order of the saw; with groups in theirs, and what each is for in a last column."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow((*HEAD, "cut for") if groups else HEAD)
    rows = (
        ((*row, group.name) for group in groups for batch, tiles in group.tiles for row in _rows(batch, tiles, setout))
        if groups
        else saw_rows(plan, setout)
    )
    writer.writerows([cell(value) if isinstance(value, str) else f"{value:g}" for value in row] for row in rows)
    return out.getvalue()


def saw_rows(plan: CuttingPlan, setout: SetOut) -> Iterator[tuple[str | float, ...]]:
    """The saw list, a row for each piece under `HEAD`, in the order of the saw."""
    for batch in plan.batches:
        yield from _rows(batch, batch.tiles, setout)


def _rows(batch: TileCutting, tiles: tuple[CutTile, ...], setout: SetOut) -> Iterator[tuple[str | float, ...]]:
    size = f"{batch.size[0]:g} x {batch.size[1]:g}"
    for tile in tiles:
        for k, piece in enumerate(tile.pieces, 1):
            where = (piece.quarters * 90, setout.rooms[piece.key.room].name, piece.surface.name, piece.key.bay + 1)
            yield (batch.name, size, tile.number, k, piece.mark, *piece.size, *piece.at, *where)


def cell(value: str) -> str:
    """Text that a spreadsheet does not take for a formula."""
    return f"'{value}" if value[:1] in ("=", "+", "-", "@", "\t", "\r") else value
