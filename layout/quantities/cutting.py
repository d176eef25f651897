"""The cutting plan: which pieces come out of which tile, in the order in which a saw takes them.

Every piece of a set-out stands in it once. Tiles of one name and size are one batch over all rooms of a plan. A piece is
cut from the box of its own size; arcs, holes and slanted edges are sawn out of that box, so what they leave is not used
again. Tiles that are no rectangles give one place each.
"""

from __future__ import annotations

import itertools
import math
from collections import Counter
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
import shapely
from shapely import Polygon

from layout.quantities.blanks import SIDES, Placed, turned_sides
from layout.quantities.gathering import Gathered, RawPiece, gathered, quarter_turns, rectangular, step_of, steps
from layout.quantities.shared_tiles import cut_from_fewest
from layout.shapes import turned
from layout.units import TOUCH

if TYPE_CHECKING:
    from collections.abc import Hashable

    from layout.errors import Point
    from layout.identity import SurfaceId
    from layout.plan.ruling import Rules
    from layout.plan.values import Tile
    from layout.quantities.blanks import Layout, Side
    from layout.setout.values import SetOut
    from layout.tiles.pieces import PieceKey

Rest: TypeAlias = tuple[float, float, float, float]

BOUND_FACTORY = "all ways to cut a tile across once under the rule of factory edges"
BOUND_ANYWHERE = "all ways to cut a tile in columns and each column across"
BOUND_NONE = "no offcut is used: a tile for each place"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CutPiece:
    """One piece: its mark and saw size as it lies in the room, and where in the tile it is cut.

    `at` is the lower-left corner and `box` the size in the tile's own axes, `quarters` how often it is turned there;
    `outline` its true shape there, less than its box where it has notches, holes, arcs or slanted edges, mm.
    """

    key: PieceKey
    mark: str
    size: tuple[float, float]
    surface: SurfaceId
    place: tuple[int, int, int, int]
    middle: Point
    at: Point
    box: tuple[float, float]
    quarters: int
    outline: Polygon

    @property
    def plain(self) -> bool:
        """Whether it is all of its box."""
        return bool(self.outline.area > self.box[0] * self.box[1] * (1.0 - 1e-3) - TOUCH * math.fsum(self.box))


@dataclass(frozen=True, slots=True, kw_only=True)
class CutTile:
    """One tile that is cut: its number and its pieces, the first to be sawn first."""

    number: int
    pieces: tuple[CutPiece, ...]

    @property
    def way(self) -> tuple[tuple[str, Point, Point], ...]:
        """How it is cut: marks and where they lie; tiles cut alike have the same, whichever way a piece is turned when it is laid."""
        return tuple(sorted((piece.mark, piece.at, piece.box) for piece in self.pieces))

    @property
    def fences(self) -> tuple[float, ...]:
        """What the fence is set to, mm: the least distance of each piece's cut edges from the tile's edge, once each."""
        return tuple(dict.fromkeys(min(piece.box) for piece in self.pieces))


@dataclass(frozen=True, slots=True, kw_only=True)
class TileCutting:
    """All tiles of one name and size: whole ones laid, places with a cut one, and the tiles that are cut.

    `bound` is the fewest tiles that the rule in `bound_of` allows to cut.
    """

    name: str
    size: tuple[float, float]
    whole: int
    places: int
    tiles: tuple[CutTile, ...]
    bound: int
    bound_of: str
    tile_mm2: float = 0.0
    module_mm2: float = 0.0
    breakage: float = 0.0
    least_offcut: float = 50.0
    kerf: float = 0.0
    anywhere: bool = False
    turns: tuple[int, ...] = (0,)

    def kept(self) -> tuple[tuple[Point, int, tuple[str, ...]], ...]:
        """Rests worth keeping: size, mm, how many, and the marks that could be cut from one if a piece breaks; the most first."""
        rests = [rest for tile in self.tiles if (rest := self._rest(tile)) is not None]
        pieces = {piece.mark: piece for tile in self.tiles for piece in tile.pieces}
        could = {rest: tuple(mark for mark, piece in pieces.items() if self._gives(rest, piece)) for rest in dict.fromkeys(rests)}
        count = Counter(((x1 - x0, y1 - y0), could[x0, y0, x1, y1]) for x0, y0, x1, y1 in rests)
        return tuple((size, many, marks) for (size, marks), many in sorted(count.items(), key=lambda each: (-each[1], each[0])))

    def offcut(self, tile: CutTile) -> tuple[float, float] | None:
        """The largest rest of a tile that is worth keeping, mm; what the saw took beside the pieces is gone."""
        rest = self._rest(tile)
        return None if rest is None else (rest[2] - rest[0], rest[3] - rest[1])

    def _rest(self, tile: CutTile) -> Rest | None:
        return _largest_rest([(*piece.at, *piece.box) for piece in tile.pieces], self.size, self.least_offcut, self.kerf)

    def _gives(self, rest: Rest, piece: CutPiece) -> bool:
        """Whether a piece can be cut from a rest: it goes in, and its factory edges, as it was cut, lie on those that the rest has."""
        box = (*piece.at, piece.at[0] + piece.box[0], piece.at[1] + piece.box[1])
        sides = frozenset() if self.anywhere else _factory_edges(box, self.size)
        for turn in self.turns:
            size = piece.box[::-1] if turn % 2 else piece.box
            fits = size[0] <= rest[2] - rest[0] + TOUCH and size[1] <= rest[3] - rest[1] + TOUCH
            if fits and turned_sides(sides, turn) <= _factory_edges(rest, self.size):
                return True
        return False

    @property
    def proved(self) -> bool:
        """Whether no fewer tiles will do under the rule."""
        return len(self.tiles) <= self.bound

    @property
    def ways(self) -> tuple[tuple[CutTile, ...], ...]:
        """Tiles that are cut alike together, the commonest first: the fence is set once for all of them."""
        alike: dict[object, list[CutTile]] = {}
        for each in self.tiles:
            alike.setdefault(each.way, []).append(each)
        return tuple(tuple(own) for own in sorted(alike.values(), key=lambda own: (-len(own), own[0].number)))

    @property
    def broken(self) -> int:
        """Tiles to allow for breakage at the saw."""
        return math.ceil(len(self.tiles) * self.breakage - 1e-9)

    @property
    def needed(self) -> int:
        """Whole tiles, tiles to cut, and those that break."""
        return self.whole + len(self.tiles) + self.broken


@dataclass(frozen=True, slots=True, kw_only=True)
class CuttingPlan:
    """Tiles to cut by batch, in the order of the plan's tiles."""

    rules: Rules
    batches: tuple[TileCutting, ...]

    def batch(self, name: str, size: tuple[float, float]) -> TileCutting | None:
        """The batch of a tile's name and size, mm."""
        return next((b for b in self.batches if b.name == name and np.allclose(b.size, size, atol=0.05)), None)


@lru_cache(maxsize=1)
def plan_cuts(setout: SetOut, only: tuple[int, int] | None = None) -> CuttingPlan:
    """Cut every piece of a set-out from the fewest tiles, by the plan's rules for the saw.

    `only` takes one surface of one room, by their numbers. Orders, sheets and records ask for the same plan, so the last one is kept.

    Raises
    ------
    PlanError
        If the kerf is no less than a tile is wide.
    """
    rules = setout.plan.rules
    return CuttingPlan(rules=rules, batches=tuple(_cut(batch, rules) for batch in gathered(setout, only)))


def _cut(batch: Gathered, rules: Rules) -> TileCutting:
    """One batch, cut from the fewest tiles."""
    tile, pieces = batch.tile, batch.pieces
    places: dict[tuple[int, int, tuple[int, int, int, int]], list[RawPiece]] = {}
    for each in pieces:
        places.setdefault(_place_of(each), []).append(each)
    if rules.offcuts and rectangular(tile) and pieces:
        tiles, bound, words = _from_fewest(tile, pieces, rules)
    else:
        tiles, bound, words = [tuple(_in_place(each, tile) for each in own) for own in places.values()], len(places), BOUND_NONE
    ordered = sorted(tiles, key=_order)
    numbered = tuple(CutTile(number=k, pieces=own) for k, own in enumerate(ordered, 1))
    return TileCutting(
        name=batch.name,
        size=(round(tile.size[0], 1), round(tile.size[1], 1)),
        whole=batch.whole,
        places=len(places),
        tiles=numbered,
        bound=bound,
        bound_of=words,
        tile_mm2=batch.area,
        module_mm2=batch.module,
        breakage=rules.breakage,
        least_offcut=rules.least_offcut,
        kerf=rules.between_pieces,
        anywhere=tile.rectified,
        turns=quarter_turns(tile) if rectangular(tile) else (0,),
    )


def _largest_rest(boxes: list[Rest], size: tuple[float, float], least: float, kerf: float) -> Rest | None:
    """The largest empty rectangle (x0, y0, x1, y1) in a tile, a kerf from boxes (x, y, width, height), if it is nowhere under a least width, mm."""
    taken = [(x - kerf, y - kerf, x + w + kerf, y + h + kerf) for x, y, w, h in boxes]
    xs = sorted({0.0, size[0], *(v for box in taken for v in box[::2] if 0.0 < v < size[0])})
    ys = sorted({0.0, size[1], *(v for box in taken for v in box[1::2] if 0.0 < v < size[1])})
    best = (0.0, 0.0, 0.0, 0.0)
    for x0, x1 in itertools.combinations(xs, 2):
        for y0, y1 in itertools.combinations(ys, 2):
            free = all(low >= x1 or high <= x0 or under >= y1 or over <= y0 for low, under, high, over in taken)
            if free and (x1 - x0) * (y1 - y0) > (best[2] - best[0]) * (best[3] - best[1]):
                best = (x0, y0, x1, y1)
    return best if min(best[2] - best[0], best[3] - best[1]) >= least else None


def _factory_edges(box: Rest, size: tuple[float, float]) -> frozenset[Side]:
    """Edges of a tile that a box (x0, y0, x1, y1) in it has for its own."""
    on = (box[0] < TOUCH, box[1] < TOUCH, box[2] > size[0] - TOUCH, box[3] > size[1] - TOUCH)
    return frozenset(side for side, there in zip(SIDES, on, strict=True) if there)


def _order(own: tuple[CutPiece, ...]) -> tuple[object, ...]:
    """By surface and bay as they are laid, then by the fence."""
    first = min(own, key=lambda piece: piece.key)
    return (first.key.room, first.key.surface, first.key.bay, max(own[0].box), min(own[0].box), first.key)


def _in_place(each: RawPiece, tile: Tile) -> CutPiece:
    """A piece cut from the tile in whose place it lies."""
    return _piece(each, Placed(0, 0, *each.corner, each.blank.width, each.blank.height), tile)


def _one_way_up(own: Layout, tile: tuple[int, int], turns: list[int]) -> Layout:
    """A tile as cut, turned so that ways to cut it that are alike when the tile is turned look alike."""
    found = []
    for turn in turns:
        placed, (w, h) = own, tile
        for _ in range(turn):
            placed = tuple(Placed(p.kind, (p.quarters + 1) % 4, h - p.y - p.height, p.x, p.height, p.width) for p in placed)
            w, h = h, w
        found.append(tuple(sorted(placed)))
    return min(found, key=lambda each: [(p.kind, p.x, p.y, p.width, p.height, p.quarters) for p in each])


def _piece(each: RawPiece, placed: Placed, tile: Tile) -> CutPiece:
    step = step_of(tile)
    return CutPiece(
        key=each.key,
        mark=each.mark,
        size=(each.blank.width * step, each.blank.height * step),
        surface=each.surface,
        place=each.place,
        middle=each.middle,
        at=(placed.x * step, placed.y * step),
        box=(placed.width * step, placed.height * step),
        quarters=placed.quarters,
        outline=_turned_to(each.shape, placed.quarters, (placed.x * step, placed.y * step)),
    )


def _turned_to(shape: Polygon, quarters: int, corner: Point) -> Polygon:
    """A shape turned by quarters with the lower-left corner of its box at a place, mm."""
    rings = [turned(shapely.get_coordinates(ring), 90.0 * quarters) for ring in (shape.exterior, *shape.interiors)]
    shift = np.array(corner) - rings[0].min(axis=0)
    return Polygon(rings[0] + shift, [ring + shift for ring in rings[1:]])


def _from_fewest(tile: Tile, pieces: list[RawPiece], rules: Rules) -> tuple[list[tuple[CutPiece, ...]], int, str]:
    step = step_of(tile)
    ordered = sorted(pieces, key=lambda piece: piece.key)
    places: dict[Hashable, list[int]] = {}
    for k, each in enumerate(ordered):
        places.setdefault(_place_of(each), []).append(k)
    size, turns = steps(tile.size, step), list(quarter_turns(tile))
    found, bound = cut_from_fewest(
        ordered,
        places,
        size,
        kerf=math.ceil(rules.between_pieces / step - 1e-9),
        turns=quarter_turns(tile),
        anywhere=tile.rectified,
        arranged=lambda made: _one_way_up(made, size, turns),
    )
    tiles = [tuple(_piece(ordered[k], placed, tile) for k, placed in own) for own in found]
    return tiles, bound, BOUND_ANYWHERE if tile.rectified else BOUND_FACTORY


def _place_of(each: RawPiece) -> tuple[int, int, tuple[int, int, int, int]]:
    """The place of a piece's tile in the plan."""
    return each.key.room, each.key.surface, each.place
