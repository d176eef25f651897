"""The page's tables: every figure as words in the file, in order, readable and printable without scripts.

A row of a thing carries its id; a script makes its last cell buttons, paper has boxes to tick there.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from layout.quantities.orders import place_orders
from layout.sheets.cut_cards import large_card
from layout.sheets.cut_places import laid_cuts
from layout.sheets.hold_points import CAUTIONS
from layout.sheets.scene import Label
from layout.writers.page.svg import path_of, shown

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from layout.programme.values import Programme
    from layout.quantities.cutting import CutPiece, CuttingPlan
    from layout.quantities.values import TakeOff
    from layout.record.things import Thing
    from layout.setout.values import SetOut
    from layout.writers.page.svg import Drawings

CARD_WIDE = 56.0
"""Width of a shop drawing, mm."""
MOMENT = "%a %d %b %H:%M"


def table(head: Sequence[str], rows: Iterable[str], name: str) -> str:
    """A table with its name for those who hear it; rows are made by `row`."""
    cells = "".join(f"<th scope=col>{shown(each)}" for each in head)
    return f"<table><caption>{shown(name)}</caption><thead><tr>{cells}</thead><tbody>{''.join(rows)}</tbody></table>"


def row(cells: Sequence[str], key: str = "") -> str:
    """A row of text; the first cell names it."""
    first, *rest = (shown(each) for each in cells)
    return f"<tr{key}><th scope=row>{first}{''.join(f'<td>{each}' for each in rest)}"


def thing_rows(things: Iterable[Thing], columns: Sequence[str]) -> list[str]:
    """A row for each thing: name, the figures that are asked for, and boxes to fill in."""
    result = []
    for thing in things:
        figures = dict(thing.figures)
        boxes = " ".join(f"{'☐' if f.kind == 'tick' else '____'} {f.words}{f', {f.unit}' if f.unit else ''}" for f in thing.fields)
        result.append(row([thing.name, *(figures.get(each, "") for each in columns), boxes], " class=t"))
    return result


def cut_cards(setout: SetOut, drawings: Drawings) -> dict[str, str]:
    """Each mark drawn in its tile as laid; pieces that their size does not say all of as shop drawings, with their figures."""
    result: dict[str, str] = {}
    for index, room in enumerate(setout.rooms):
        for each in laid_cuts(setout, index, range(len(room.surfaces)), result):
            name = f"{each.cut.mark} in its tile"
            if each.plain:
                tile, ring = ((ring * [1.0, -1.0] + [0.0, each.box[1]], True) for ring in (each.tile, each.ring))
                w, h = each.box
                result[each.cut.mark] = (
                    f'<svg class=card viewBox="-3 -3 {w + 6:.0f} {h + 6:.0f}" aria-hidden=true>'
                    f'<path class=of d="{path_of([tile])}"/><path class=cu d="{path_of([ring])}"/></svg>'
                )
            else:
                scene = large_card(each, 0.0, 0.0, CARD_WIDE, name_tile=False)
                tall = -min(float(item.at[1]) - item.height for item in scene if isinstance(item, Label))
                result[each.cut.mark] = drawings.picture(scene, (0.0, -tall - 1.0, CARD_WIDE, 0.0), name)
    return result


def cuts_table(setout: SetOut, sizes: dict[str, str], cards: dict[str, str]) -> str:
    """Every mark with its card, saw size, how many and where."""
    where: dict[str, dict[str, int]] = {}
    several = len(setout.rooms) > 1
    for index, room in enumerate(setout.rooms):
        for number, done in enumerate(room.surfaces):
            for cut, count in setout.cuts_of(index, number):
                name = f"{room.name}, {done.surface.name}" if several else done.surface.name
                own = where.setdefault(cut.mark, {})
                own[name] = own.get(name, 0) + count
    rows = []
    for cut in setout.cuts:
        places = ", ".join(f"{name} {count}" for name, count in where.get(cut.mark, {}).items())
        text = f"<td>{shown(sizes[cut.mark])}<td>{cut.count}<td>{shown(places)}<td>{shown(cut.tile)}<td>☐ sawn"
        rows.append(f'<tr data-mark="{shown(cut.mark)}"><th scope=row>{shown(cut.mark)}<td>{cards.get(cut.mark, "")}{text}')
    return table(("mark", "cut", "saw size, mm", "off", "where", "out of tile", "done"), rows, "Cut tiles, sizes as sawn, face up")


KINDS: tuple[tuple[str, str, str, tuple[str, ...]], ...] = (
    ("run", "membrane", "Tape runs, lengths on the substrate without laps", ("where", "length", "up to")),
    ("corner", "membrane", "Corner pieces", ("corner piece", "edges", "level")),
    ("collar", "membrane", "Collars", ("on", "diameter", "clear of")),
    ("drain", "membrane", "Drains", ("frame", "flange")),
    ("stage", "membrane", "Stages by areas of a day, batches", ("hours of one hand", "until the next", "check first")),
    ("joint", "joints", "Joints and sealant", ("width", "length", "why")),
    ("hold", "checks", "Hold points", ("before", "wanted")),
    ("test", "checks", "Test points", ("test", "wanted")),
    ("wall", "checks", "Walls as measured, from corner to corner", ("from corner", "to corner", "drawn")),
    ("tile", "checks", "Tiles broken", ("size",)),
)
"""Kinds of things with the section and the table they stand in, and the columns of it."""


def thing_tables(things: Sequence[Thing], rooms: Sequence[str], section: str) -> str:
    """The tables of one section, room by room; rows in the order of `in_order`."""
    result = []
    for kind, home, name, columns in KINDS:
        for index, room in enumerate(rooms):
            own = [thing for thing in things if thing.kind == kind and thing.room == index]
            if home == section and own:
                words = f"{name}: {room}" if len(rooms) > 1 else name
                told = [each for each in columns if any(each in dict(thing.figures) for thing in own)]
                result.append(table((kind, *told, "done"), thing_rows(own, told), words))
    return "".join(result)


def in_order(things: Sequence[Thing]) -> list[Thing]:
    """Things that have a row, in the order of their rows on the page."""
    kinds = [kind for kind, _, _, _ in KINDS]
    return sorted((thing for thing in things if thing.kind in kinds), key=lambda thing: (kinds.index(thing.kind), thing.room))


def schedules(takeoff: TakeOff, cutting: CuttingPlan, programme: Programme | None) -> str:
    """What is ordered, sawn and mixed, and what the plan was told."""
    orders = [row([o.item.name, f"{o.item.quantity:.2f} {o.item.unit}", o.shown, o.allowance]) for o in place_orders(takeoff)]
    saw = _saw_rows(cutting)
    result = [table(("item", "measured", "order", "allowance"), orders, "Orders in whole packs")]
    if saw:
        result.append(
            table(
                ("tile", "size", "tiles", "pieces out of each: saw size, from left, from below"), saw, "Saw list, mm, alike tiles together"
            )
        )
    if programme is not None:
        result += _programme(programme)
    findings = [row([f.where, room.name, f.text]) for room in takeoff.setout.rooms for f in room.findings]
    if findings:
        result.append(table(("at", "room", "finding"), findings, "Findings"))
    return "".join(result)


def _programme(programme: Programme) -> list[str]:
    """Stages from when to when, and what is mixed when: a row for each day, product and area of a stage."""
    several = len(programme.rooms) > 1
    rooms = [f"{name}, " if several else "" for name in programme.rooms]
    rows = [
        row([rooms[s.room] + s.name, f"{s.start:{MOMENT}}", f"{s.end:{MOMENT}}", f"{s.next_from:{MOMENT}}"]) for s in programme.stages
    ]  # fmt: skip
    packs: dict[tuple[str, ...], list[str]] = {}
    for each in programme.batches:
        area = f" {each.area}" if each.areas > 1 else ""
        key = (f"{each.at:%a %d %b}", each.product, f"{rooms[each.room]}{each.stage}{area}", f"{each.hands}")
        packs.setdefault(key, []).append(f"{each.at:%H:%M}–{each.by:%H:%M}")
    mixed = [row([day, product, stage, ", ".join(times), hands]) for (day, product, stage, hands), times in packs.items()]
    result = [table(("stage", "from", "to", "next from"), rows, "Programme")]
    if mixed:
        result.append(table(("day", "product", "for", "each pack mixed and laid by", "hands"), mixed, "What is mixed when"))
    return result


def _saw_rows(cutting: CuttingPlan) -> list[str]:
    """Alike tiles of the saw list together, in its order: how many, and what comes out of each."""
    rows = []
    for batch in cutting.batches:
        alike: Counter[str] = Counter()
        for tile in batch.tiles:
            alike["; ".join(_out_of_tile(piece) for piece in tile.pieces)] += 1
        size = f"{batch.size[0]:g} × {batch.size[1]:g}"
        rows += [row([batch.name, size, f"{count}", pieces]) for pieces, count in alike.items()]
    return rows


def _out_of_tile(piece: CutPiece) -> str:
    """A piece as the saw takes it: mark, saw size, and where from the tile's lower left corner if not there."""
    at = f" at {piece.at[0]:g}, {piece.at[1]:g}" if max(piece.at) > 0.0 else ""
    return f"{piece.mark} {piece.size[0]:g} × {piece.size[1]:g}{at}"


def cautions() -> str:
    """The usual cautions, once each."""
    return f"<ul class=cautions>{''.join(f'<li>{shown(text)}' for text in dict.fromkeys(CAUTIONS.values()))}</ul>"
