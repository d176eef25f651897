"""What one plan of many needs, as plain values that go from process to process and into a file: figures, orders, pieces to cut."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from layout.quantities.bill import price
from layout.quantities.gathering import gathered, quarter_turns, rectangular, step_of, steps
from layout.quantities.orders import place_orders, tape_runs
from layout.quantities.takeoff import take_off

if TYPE_CHECKING:
    from layout.quantities.bill import Rates
    from layout.quantities.blanks import Blank
    from layout.quantities.orders import Order
    from layout.quantities.values import TakeOff
    from layout.setout.values import SetOut


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """One order of a plan: an item with its pack, what is needed with spares and losses, in its unit, and packs ordered alone.

    Tape and trim carry their `runs` (name, mm) with `lap`, `joints` and `clear` (mm) of the rule that cuts them; tiles their share of `spare`.
    """

    key: str
    name: str
    unit: str
    pack: Literal["box", "pack", "cartridge", "roll", "length"]
    size: float
    need: float
    packs: int
    runs: tuple[tuple[str, float], ...] = ()
    lap: float = 0.0
    joints: bool = False
    clear: float = 0.0
    spare: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Saw:
    """How a tile is sawn: its size, kerf and turns in steps of so many mm; whether offcuts are used, and cut anywhere."""

    key: str
    tile: tuple[int, int]
    step: float
    kerf: int
    turns: tuple[int, ...]
    anywhere: bool
    offcuts: bool
    breakage: float


@dataclass(frozen=True, slots=True)
class SawPiece:
    """A piece: the place it goes to (pieces of one place number are one tile where they lie), its mark, box, and corner in its own tile, steps."""

    place: int
    mark: str
    blank: Blank
    corner: tuple[int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cuts:
    """Tiles of one order of a plan: whole ones, and the pieces that are cut, no two kinds of tile in one."""

    saw: Saw
    whole: int
    pieces: tuple[SawPiece, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanWork:
    """What one plan came to; `fault` is its message if it could not be set out, `own_fault` whether that is the tool's.

    `amount` is its bill, None without rates.
    """

    plan: str
    rooms: int = 0
    floor_m2: float = 0.0
    whole: int = 0
    cut: int = 0
    narrowest_mm: float = 0.0
    sealant_m: float = 0.0
    tape_m: float = 0.0
    findings: int = 0
    binding: int = 0
    amount: float | None = None
    fault: str = ""
    own_fault: bool = False
    needs: tuple[Need, ...] = ()
    cuts: tuple[Cuts, ...] = ()


def work_of(setout: SetOut, name: str, rates: Rates | None = None) -> PlanWork:
    """A set-out summed up, with its orders, the pieces it cuts, and its bill if rates are given; `name` is what its plan is called among the others."""
    takeoff = take_off(setout)
    floors = [room.floor for room in setout.rooms]
    return PlanWork(
        plan=name,
        rooms=len(setout.rooms),
        floor_m2=round(math.fsum(room.lining.floor.gross.area for room in setout.rooms) / 1e6, 2),
        whole=sum(len(floor.field.whole) for floor in floors),
        cut=sum(floor.field.places_cut() for floor in floors),
        narrowest_mm=round(min(floor.start.smallest for floor in floors), 1),
        sealant_m=round(math.fsum(joint.length for room in setout.rooms for joint in room.joints) / 1000.0, 1),
        tape_m=round(math.fsum(room.tape.metres("internal") for room in setout.rooms), 1),
        findings=sum(len(room.findings) for room in setout.rooms),
        binding=len(setout.binding_findings()),
        amount=price(takeoff, rates).total if rates is not None else None,
        needs=tuple(_need(order, takeoff) for order in place_orders(takeoff)),
        cuts=_cuts(takeoff),
    )


def _need(order: Order, takeoff: TakeOff) -> Need:
    pack, products, rules = order.item.row.pack, takeoff.setout.plan.products, takeoff.setout.plan.rules
    assert pack is not None  # what is ordered has a pack
    need = Need(
        key=order.item.key, name=order.item.name, unit=order.unit, pack=pack.word, size=order.size, need=order.need, packs=order.packs
    )
    if pack.word == "roll":
        runs = tuple(tape_runs(takeoff.setout))
        return replace(need, runs=runs, lap=products.tape_lap.value, joints=rules.tape_joints, clear=rules.tape_joint_clear)
    if pack.word == "length":
        return replace(need, runs=tuple((part.where, part.quantity * 1000.0) for part in order.item.parts))
    return replace(need, spare=getattr(products, pack.loss).value) if pack.word == "box" else need


def _cuts(takeoff: TakeOff) -> tuple[Cuts, ...]:
    """The pieces of each order of tiles."""
    rules = takeoff.setout.plan.rules
    ordered = {(item.tile, item.size): item for item in takeoff.items if item.row.pack and item.row.pack.word == "box"}
    result = []
    for batch in gathered(takeoff.setout):
        tile, step = batch.tile, step_of(batch.tile)
        item = ordered[batch.name, (round(tile.size[0], 1), round(tile.size[1], 1))]
        saw = Saw(
            key=item.key,
            tile=steps(tile.size, step),
            step=step,
            kerf=_up(rules.between_pieces / step),
            turns=quarter_turns(tile),
            anywhere=tile.rectified,
            offcuts=rules.offcuts and rectangular(tile),
            breakage=rules.breakage,
        )
        places: dict[object, int] = {}
        pieces = tuple(
            SawPiece(places.setdefault((p.key.room, p.key.surface, p.place), len(places)), p.mark, p.blank, p.corner) for p in batch.pieces
        )
        result.append(Cuts(saw=saw, whole=round(item.quantity) - len(places), pieces=pieces))
    return tuple(result)


def _up(value: float) -> int:
    return -int(-(value - 1e-9) // 1)
