"""Many plans together: one order by product, and one cutting plan whose offcuts go from plan to plan.

What has the same item, name, pack and pack size in several plans is one product; tiles that are sawn alike are cut together.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from layout.quantities.blanks import Placed
from layout.quantities.orders import packs_of
from layout.quantities.rolls import cut_rolls
from layout.quantities.shared_tiles import cut_from_fewest

if TYPE_CHECKING:
    from collections.abc import Hashable, Sequence

    from layout.errors import Point
    from layout.quantities.needs import Cuts, Need, PlanWork, Saw, SawPiece


@dataclass(frozen=True, slots=True, kw_only=True)
class JointOrder:
    """One product for all plans: what is needed with spares and losses, in its unit; packs together, and `alone` plan by plan."""

    key: str
    name: str
    unit: str
    pack: str
    size: float
    need: float
    packs: int
    alone: int
    plans: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SawnPiece:
    """A piece out of a tile: its plan and mark, box and lower-left corner in the tile, mm, and how often it is turned by a quarter."""

    plan: str
    mark: str
    box: Point
    at: Point
    quarters: int


@dataclass(frozen=True, slots=True, kw_only=True)
class JointCuts:
    """Tiles of one kind over all plans: whole ones, places with a cut one, the pieces of each tile that is cut, the fewest possible (`bound`)."""

    key: str
    size: Point
    whole: int
    places: int
    tiles: tuple[tuple[SawnPiece, ...], ...]
    bound: int
    broken: int

    @property
    def needed(self) -> int:
        """Whole tiles, tiles to cut, and those that break."""
        return self.whole + len(self.tiles) + self.broken


@dataclass(frozen=True, slots=True, kw_only=True)
class Portfolio:
    """Plans with what each came to, their orders together, their tiles cut together."""

    works: tuple[PlanWork, ...]
    orders: tuple[JointOrder, ...]
    cuts: tuple[JointCuts, ...]


def together(works: Sequence[PlanWork]) -> Portfolio:
    """Order and cut several plans as one."""
    cuts: dict[Saw, list[tuple[str, Cuts]]] = {}
    for work in works:
        for own in work.cuts:
            cuts.setdefault(own.saw, []).append((work.plan, own))
    cut = {saw: _cut(saw, own) for saw, own in cuts.items()}
    tiles = {(work.plan, own.saw.key): own.saw for work in works for own in work.cuts}
    needs: dict[object, list[tuple[str, Need]]] = {}
    for work in works:
        for need in work.needs:
            product = (need.key, need.name, need.unit, need.pack, need.size, need.lap, need.joints, need.clear, need.spare)
            needs.setdefault((product, tiles.get((work.plan, need.key))), []).append((work.plan, need))
    return Portfolio(works=tuple(works), orders=tuple(_ordered(own, tiles, cut) for own in needs.values()), cuts=tuple(cut.values()))


def _ordered(own: list[tuple[str, Need]], tiles: dict[tuple[str, str], Saw], cut: dict[Saw, JointCuts]) -> JointOrder:
    """One product of several plans."""
    plan, first = own[0]
    need = math.fsum(each.need for _, each in own)
    match first.pack:
        case "roll" | "length":
            runs = [(f"{name}: {run}", length) for name, each in own for run, length in each.runs]
            rolls = cut_rolls(runs, roll=first.size * 1000.0, lap=first.lap, joints=first.joints, clear=first.clear).rolls
            packs = len(rolls)
            need = need if first.pack == "length" else math.fsum(each.length for roll in rolls for each in roll) / 1000.0
        case "box":
            need = cut[tiles[plan, first.key]].needed * (1 + first.spare)
            packs = packs_of(need, first.size)
        case _:
            packs = packs_of(need, first.size)
    return JointOrder(
        key=first.key,
        name=first.name,
        unit=first.unit,
        pack=first.pack,
        size=first.size,
        need=need,
        packs=packs,
        alone=sum(each.packs for _, each in own),
        plans=tuple((name, each.packs) for name, each in own),
    )


def _cut(saw: Saw, own: Sequence[tuple[str, Cuts]]) -> JointCuts:
    """Tiles of one kind, cut from the fewest over all plans."""
    places: dict[tuple[str, int], list[SawPiece]] = {}
    for plan, cuts in own:
        for piece in cuts.pieces:
            places.setdefault((plan, piece.place), []).append(piece)
    waiting = {(plan, place): list(pieces) for (plan, place), pieces in places.items()}
    if saw.offcuts and waiting:
        tiles, bound = _from_fewest(saw, waiting)
    else:
        tiles = [
            tuple(_sawn(saw, plan, each, Placed(0, 0, *each.corner, each.blank.width, each.blank.height)) for each in pieces)
            for (plan, _), pieces in waiting.items()
        ]
        bound = len(tiles)
    return JointCuts(
        key=saw.key,
        size=(saw.tile[0] * saw.step, saw.tile[1] * saw.step),
        whole=sum(cuts.whole for _, cuts in own),
        places=len(places),
        tiles=tuple(sorted(tiles, key=lambda tile: (tile[0].plan, -max(tile[0].box), -min(tile[0].box), tile[0].mark))),
        bound=bound,
        broken=math.ceil(len(tiles) * saw.breakage - 1e-9),
    )


def _from_fewest(saw: Saw, places: dict[tuple[str, int], list[SawPiece]]) -> tuple[list[tuple[SawnPiece, ...]], int]:
    every = [(plan, piece) for (plan, _), pieces in places.items() for piece in pieces]
    own: dict[Hashable, list[int]] = {}
    for k, (plan, piece) in enumerate(every):
        own.setdefault((plan, piece.place), []).append(k)
    tiles, bound = cut_from_fewest([piece for _, piece in every], own, saw.tile, kerf=saw.kerf, turns=saw.turns, anywhere=saw.anywhere)
    return [tuple(_sawn(saw, *every[k], placed) for k, placed in tile) for tile in tiles], bound


def _sawn(saw: Saw, plan: str, piece: SawPiece, placed: Placed) -> SawnPiece:
    step = saw.step
    return SawnPiece(
        plan=plan,
        mark=piece.mark,
        box=(placed.width * step, placed.height * step),
        at=(placed.x * step, placed.y * step),
        quarters=placed.quarters,
    )
