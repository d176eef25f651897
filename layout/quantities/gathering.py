"""The pieces of a set-out as the saw sees them, by tile: what the cutting plan is made from."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import Polygon

from layout.errors import PlanError
from layout.plan.patterns import member_tiles
from layout.quantities.blanks import SIDES, Blank
from layout.tiles.pieces import PieceKey, in_tile_axes, saw_size, turns_allowed
from layout.units import TOUCH
from layout.vectors import pair

if TYPE_CHECKING:
    from layout.errors import Point
    from layout.identity import SurfaceId
    from layout.plan.values import Tile
    from layout.quantities.blanks import Slot
    from layout.setout.values import SetOut, SurfaceSetOut


@dataclass(frozen=True, slots=True)
class RawPiece:
    """A piece before it has a tile: its box's corner in its own tile, mm, and where it lies."""

    key: PieceKey
    mark: str
    blank: Blank
    corner: tuple[int, int]
    shape: Polygon
    surface: SurfaceId
    place: tuple[int, int, int, int]
    middle: Point


@dataclass(slots=True)
class Gathered:
    """Tiles of one name and size while they are gathered; area of one, without and with its joints, mm²."""

    name: str
    tile: Tile
    area: float
    module: float
    whole: int = 0
    pieces: list[RawPiece] = field(default_factory=list)


def gathered(setout: SetOut, only: tuple[int, int] | None = None) -> list[Gathered]:
    """Tiles of a set-out by name and size: how many are laid whole, and the pieces that are to be cut."""
    found: dict[tuple[str, Point], Gathered] = {}
    for r, room in enumerate(setout.rooms):
        for s, done in enumerate(room.surfaces):
            if only is not None and only != (r, s):
                continue
            for m, tile in enumerate(member_tiles(done.tile, done.field.pattern)):
                _check_kerf(setout, tile)
                size = (round(tile.size[0], 1), round(tile.size[1], 1))
                pattern = done.field.pattern
                module = pattern.cell_area / len(pattern.members)
                batch = found.setdefault((done.tile.name, size), Gathered(done.tile.name, tile, float(pattern.areas[m]), module))
                batch.whole += int((done.field.whole[:, 1] == m).sum())
                batch.pieces += _pieces(setout, r, s, done, m, tile)
    return list(found.values())


def _check_kerf(setout: SetOut, tile: Tile) -> None:
    rules, wide = setout.plan.rules, min(tile.size)
    kerf = rules.between_pieces
    if kerf >= wide:
        place = f"{setout.plan.source}: rules.{'kerf' if rules.kerf >= rules.saw_play else 'saw_play'}"
        raise PlanError(place, f"{kerf:g} found", f"a blade is narrower than the tile “{tile.name}”, {wide:g} mm wide")


def _pieces(setout: SetOut, room: int, surface: int, done: SurfaceSetOut, member: int, tile: Tile) -> list[RawPiece]:
    """The pieces of a surface that come out of one member of the cell."""
    result = []
    every = shapely.get_coordinates(shapely.centroid(done.field.pieces()))
    first = 0
    for b, laid in enumerate(done.field.bays):
        shapes, which = in_tile_axes(laid, done.field.pattern, done.tile)
        blanks = [_blank(shape, tile) for shape in shapes]
        middles, first = every[first : first + len(laid.cut)], first + len(laid.cut)
        for p in np.flatnonzero(laid.cut[:, 0] == member).tolist():
            key = PieceKey(room, surface, b, p)
            blank, corner = blanks[int(which[p])]
            member_of, i, j = (int(v) for v in laid.cut[p])
            result.append(
                RawPiece(
                    key, setout.marks[key], blank, corner, shapes[int(which[p])], done.surface.id, (b, member_of, i, j), pair(middles[p])
                )
            )
    return result


def step_of(tile: Tile) -> float:
    """Step of the saw, mm."""
    return 0.5 if tile.rectified else 1.0


def rectangular(tile: Tile) -> bool:
    """Whether what is left of a tile may be cut again."""
    return tile.pattern not in ("own", "hexagon")


def by_size(blank: Blank) -> tuple[object, ...]:
    """The order in which kinds of pieces are cut, large ones first."""
    return (-blank.width * blank.height, blank.width, tuple(sorted(blank.sides)), blank.leaves)


def quarter_turns(tile: Tile) -> tuple[int, ...]:
    """Turns that the face and the shape of a tile allow, in quarters."""
    return tuple(round(turn / 90.0) for turn in turns_allowed(tile))


def _blank(shape: Polygon, tile: Tile) -> tuple[Blank, tuple[int, int]]:
    """The box of a piece in steps of the saw, and its lower-left corner in the tile."""
    x0, y0, x1, y1 = shape.bounds
    step, (w, h) = step_of(tile), tile.size
    on = {"left": x0 < TOUCH, "bottom": y0 < TOUCH, "right": x1 > w - TOUCH, "top": y1 > h - TOUCH}
    full = steps(tile.size, step)
    width = full[0] if on["left"] and on["right"] else round(saw_size(x1 - x0, tile) / step)
    height = full[1] if on["bottom"] and on["top"] else round(saw_size(y1 - y0, tile) / step)
    at = (full[0] - width if on["right"] else math.floor(x0 / step), full[1] - height if on["top"] else math.floor(y0 / step))
    sides = frozenset(side for side in SIDES if on[side])
    leaves = _leaves(shape, tile) if len(sides) == len(SIDES) else ()
    return Blank(max(width, 1), max(height, 1), sides, leaves), at


def steps(size: tuple[float, float], step: float) -> tuple[int, int]:
    """A size in steps of the saw."""
    return math.floor(size[0] / step + 1e-6), math.floor(size[1] / step + 1e-6)


def _leaves(shape: Polygon, tile: Tile) -> tuple[tuple[Slot, int, int], ...]:
    """Corners that a notched piece leaves of its tile: rectangles at one corner each, in steps."""
    w, h = tile.size
    step = step_of(tile)
    result: list[tuple[Slot, int, int]] = []
    for part in shapely.get_parts(shapely.difference(shapely.box(0.0, 0.0, w, h), shape)):
        x0, y0, x1, y1 = part.bounds
        if abs(part.area - (x1 - x0) * (y1 - y0)) > TOUCH * part.length or min(x1 - x0, y1 - y0) < 1.0:
            continue
        left, right, low, high = x0 < TOUCH, x1 > w - TOUCH, y0 < TOUCH, y1 > h - TOUCH
        if left + right == 1 and low + high == 1:
            slot: Slot = ("lower-left" if left else "lower-right") if low else ("upper-left" if left else "upper-right")
            result.append((slot, math.floor((x1 - x0) / step), math.floor((y1 - y0) / step)))
    return tuple(sorted(result))
