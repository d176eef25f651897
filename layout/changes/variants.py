"""Starts, patterns or tiles side by side: what each would give on the floor of a room."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Literal, TypeAlias

import numpy as np
import shapely

from layout.errors import BudgetError, LayoutError
from layout.quantities.cutting import plan_cuts
from layout.setout.conduct import set_out

if TYPE_CHECKING:
    from layout.plan.values import Plan, Tile
    from layout.setout.values import SetOut

What: TypeAlias = Literal["starts", "patterns", "tiles"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Alternative:
    """One way to lay a floor: lengths in mm.

    `tiles` are really needed, offcuts used as the plan says; `waste` a part of them, `sawn` metres of cut, `under` metres of wall in view
    along which some cut is under the tile's least.
    """

    room: str
    name: str
    smallest: float
    worst: float
    whole: int
    cut: int
    marks: int
    tiles: int
    waste: float
    sawn: float
    under: float


def compare(plan: Plan, what: What) -> list[Alternative]:
    """Alternatives for every floor of a plan, the plan's own first.

    `starts`: the runners-up of the start, and the best one where the plan fixes it. `patterns`: the tile in the patterns it fits. `tiles`: every
    tile of the plan. An alternative that cannot be laid is left out.
    """
    own = set_out(plan)
    result: list[Alternative] = []
    for index, room in enumerate(own.rooms):
        name = plan.rooms[index].floor_tile
        tile = plan.tile(name)
        result.append(_measured(own, index, "as planned"))
        variants: list[tuple[str, Tile]] = []
        if what == "starts":
            starts = room.floor.start.runners_up
            if tile.start is not None or tile.start_line is not None:
                variants.append(("best free start", replace(tile, start=None, start_line=None)))
            variants += [(f"first tile at {r.origin[0]:.0f}, {r.origin[1]:.0f}", replace(tile, start=r.origin)) for r in starts]
        elif what == "patterns":
            variants = [(label, replace(tile, start=None, **given)) for label, given in _patterns(tile)]
        else:
            variants = [(f"tile {other}", replace(plan.tiles[other], name=name)) for other in sorted(plan.tiles) if other != name]
        for label, variant in variants:
            changed = replace(plan, tiles={**plan.tiles, name: variant}, rooms=(plan.rooms[index],))
            try:
                result.append(_measured(set_out(changed), 0, label))
            except BudgetError:
                raise
            except LayoutError:
                continue
    return result


def _patterns(tile: Tile) -> list[tuple[str, dict[str, Any]]]:
    given: list[tuple[str, dict[str, Any]]] = [
        ("stack", {"pattern": "stack"}),
        ("running, half", {"pattern": "running", "offset": 0.5}),
        ("running, third", {"pattern": "running", "offset": 1.0 / 3.0}),
        ("diagonal", {"pattern": "diagonal"}),
    ]
    if max(tile.size) >= 1.9 * min(tile.size):
        given.append(("herringbone, 45", {"pattern": "herringbone", "turn": 45.0}))
    return [(label, more) for label, more in given if (tile.pattern, tile.offset) != (more["pattern"], more.get("offset", tile.offset))]


def _measured(setout: SetOut, index: int, name: str) -> Alternative:
    room = setout.rooms[index]
    floor = room.floor
    pieces = floor.field.pieces()
    area = floor.field.pattern.areas
    batches = plan_cuts(setout, (index, 0)).batches
    bought = math.fsum((batch.whole + len(batch.tiles)) * batch.tile_mm2 for batch in batches)
    laid = float(area[floor.field.whole[:, 1]].sum() + shapely.area(pieces).sum())
    return Alternative(
        room=room.name,
        name=name,
        smallest=floor.start.smallest,
        worst=floor.start.worst,
        whole=len(floor.field.whole),
        cut=floor.field.places_cut(),
        marks=len(setout.cuts_of(index, 0)),
        tiles=sum(batch.whole + len(batch.tiles) for batch in batches),
        waste=1.0 - laid / bought if bought else 0.0,
        sawn=_sawn(setout, index) / 1000.0,
        under=floor.start.lacking.wall / 1000.0 if floor.start.lacking else 0.0,
    )


def _sawn(setout: SetOut, index: int) -> float:
    """Length of sawn edges: the edges of pieces that are no edge of their tile, mm."""
    floor = setout.rooms[index].floor
    if len(floor.field.cut) == 0:
        return 0.0
    edges = shapely.boundary(floor.field.pieces())
    tiles = shapely.boundary(shapely.polygons(floor.field.outlines(floor.field.cut)))
    kept = shapely.length(shapely.intersection(edges, shapely.buffer(tiles, 0.01)))
    return float(np.maximum(shapely.length(edges) - kept, 0.0).sum())
