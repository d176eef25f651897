"""The JSON contract, the saw's part, and the saw list as CSV."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING, Any

from layout.writers.rounded import mm, pair

if TYPE_CHECKING:
    from collections.abc import Iterator

    from layout.quantities.cutting import CuttingPlan, TileCutting
    from layout.quantities.stock import Shortage, TileOrder
    from layout.setout.values import SetOut

CUTS_SCHEMA = "gaugerod/cuts/1"
HEAD = ("tile", "size", "number", "piece", "mark", "saw width", "saw height", "from left", "from below", "turned", "room", "surface", "bay")


def cuts_record(plan: CuttingPlan, setout: SetOut, orders: tuple[TileOrder, ...] = (), short: tuple[Shortage, ...] = ()) -> dict[str, Any]:
    """The record of a cutting plan: tiles by batch, every piece once, and what is short of a stock if one was given."""
    project = setout.plan.project
    record: dict[str, Any] = {
        "schema": CUTS_SCHEMA,
        "project": {"title": project.title, "number": project.number},
        "rules": {"kerf_mm": mm(plan.rules.kerf), "offcuts": plan.rules.offcuts, "breakage": plan.rules.breakage},
        "tiles": [_batch(batch) for batch in plan.batches],
        "orders": [
            {
                "name": each.name,
                "size": pair(each.size),
                "whole": each.whole,
                "cut": each.cut,
                "broken": each.broken,
                "spare": each.spare,
                "ordered": each.ordered,
                "boxes": each.boxes,
                "surplus": each.surplus,
                "by_usual_allowance": each.usual,
            }
            for each in orders
        ],
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
        record["stock"] = [
            {"name": s.name, "size": pair(s.size), "stock": s.stock, "needed": s.needed, "short": s.short, "boxes": s.boxes} for s in short
        ]
    return record


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


def cuts_csv(plan: CuttingPlan, setout: SetOut) -> str:
    """The saw list, a row for each piece, in the order of the saw."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(HEAD)
    writer.writerows([cell(value) if isinstance(value, str) else f"{value:g}" for value in row] for row in saw_rows(plan, setout))
    return out.getvalue()


def saw_rows(plan: CuttingPlan, setout: SetOut) -> Iterator[tuple[str | float, ...]]:
    """The saw list, a row for each piece under `HEAD`, in the order of the saw."""
    for batch in plan.batches:
        size = f"{batch.size[0]:g} x {batch.size[1]:g}"
        for tile in batch.tiles:
            for k, piece in enumerate(tile.pieces, 1):
                where = (piece.quarters * 90, setout.rooms[piece.key.room].name, piece.surface.name, piece.key.bay + 1)
                yield (batch.name, size, tile.number, k, piece.mark, *piece.size, *piece.at, *where)


def cell(value: str) -> str:
    """Text that a spreadsheet does not take for a formula."""
    return f"'{value}" if value[:1] in ("=", "+", "-", "@", "\t", "\r") else value
