"""The page's tables: every figure as words in the file, in order, readable and printable without scripts.

A row of a thing carries its id; a script makes its last cell buttons, paper has boxes to tick there. Heads of columns are known by
their English words: in another language each carries them as a key beside the words that are read.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from layout.programme.task import name_of
from layout.quantities.orders import place_orders
from layout.sheets.batch_sheet import PRODUCTS
from layout.sheets.cut_cards import large_card
from layout.sheets.cut_places import laid_cuts
from layout.sheets.hold_points import CAUTIONS
from layout.sheets.programme_sheet import SHORT
from layout.sheets.scene import Label
from layout.words import dated, in_sense, say, spelt, spoken, worded
from layout.writers.page.svg import path_of, shown

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from layout.errors import Finding
    from layout.programme.values import Programme
    from layout.quantities.cutting import CutPiece, CuttingPlan
    from layout.quantities.values import TakeOff
    from layout.record.things import Thing
    from layout.setout.values import SetOut
    from layout.writers.page.svg import Drawings

CARD_WIDE = 56.0
"""Width of a shop drawing, mm."""
UNITS = {"pcs": worded("pcs")}
"""Units that are words."""
DAY = "%a %d %b"
MOMENT = f"{DAY} %H:%M"


def table(head: Sequence[str], rows: Iterable[str], name: str) -> str:
    """A table with its name for those who hear it; rows are made by `row`, heads are told in English."""
    cells = "".join(f"<th scope=col{_key(each)}>{shown(_head(each))}" for each in head)
    return f"<table><caption>{shown(say(name))}</caption><thead><tr>{cells}</thead><tbody>{''.join(rows)}</tbody></table>"


def _key(head: str) -> str:
    """What the script knows a column by where its head is not English."""
    return "" if spoken() == "en" else f' data-k="{shown(head)}"'


def _head(head: str) -> str:
    return in_sense("a stage", "before") if head == "before" else say(head)


def row(cells: Sequence[str], key: str = "") -> str:
    """A row of text; the first cell names it."""
    first, *rest = (shown(spelt(each)) for each in cells)
    return f"<tr{key}><th scope=row>{first}{''.join(f'<td>{each}' for each in rest)}"


def thing_rows(things: Iterable[Thing], columns: Sequence[str]) -> list[str]:
    """A row for each thing: name, the figures that are asked for, and boxes to fill in."""
    result = []
    for thing in things:
        figures = dict(thing.figures)
        boxes = " ".join(f"{'☐' if f.kind == 'tick' else '____'} {spelt(f.words)}{f', {f.unit}' if f.unit else ''}" for f in thing.fields)
        result.append(row([thing.name, *(figures.get(each, "") for each in columns), boxes], " class=t"))
    return result


def cut_cards(setout: SetOut, drawings: Drawings) -> dict[str, str]:
    """Each mark drawn in its tile as laid; pieces that their size does not say all of as shop drawings, with their figures."""
    result: dict[str, str] = {}
    for index, room in enumerate(setout.rooms):
        for each in laid_cuts(setout, index, range(len(room.surfaces)), result):
            name = say("{mark} in its tile", mark=each.cut.mark)
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


CUT_HEADS = (
    worded("mark"), worded("cut"), worded("saw size, mm"), worded("off"), worded("where"), worded("out of tile"), worded("done"),
)  # fmt: skip


def cuts_table(setout: SetOut, sizes: dict[str, str], cards: dict[str, str]) -> str:
    """Every mark with its card, saw size, how many and where."""
    where: dict[str, dict[str, int]] = {}
    several = len(setout.rooms) > 1
    for index, room in enumerate(setout.rooms):
        for number, done in enumerate(room.surfaces):
            for cut, count in setout.cuts_of(index, number):
                surface = spelt(done.surface.name)
                name = f"{room.name}, {surface}" if several else surface
                own = where.setdefault(cut.mark, {})
                own[name] = own.get(name, 0) + count
    rows = []
    for cut in setout.cuts:
        places = ", ".join(f"{name} {count}" for name, count in where.get(cut.mark, {}).items())
        text = f"<td>{shown(spelt(sizes[cut.mark]))}<td>{cut.count}<td>{shown(places)}<td>{shown(cut.tile)}<td>☐ {shown(say('sawn'))}"
        rows.append(f'<tr data-mark="{shown(cut.mark)}"><th scope=row>{shown(cut.mark)}<td>{cards.get(cut.mark, "")}{text}')
    return table(CUT_HEADS, rows, worded("Cut tiles, sizes as sawn, face up"))


KINDS: tuple[tuple[str, str, str, tuple[str, ...]], ...] = (
    (
        worded("run"), "membrane", worded("Tape runs, lengths on the substrate without laps"),
        (worded("where"), worded("length"), worded("up to")),
    ),
    (worded("corner"), "membrane", worded("Corner pieces"), (worded("corner piece"), worded("edges"), worded("level"))),
    (worded("collar"), "membrane", worded("Collars"), (worded("on"), worded("diameter"), worded("clear of"))),
    (worded("drain"), "membrane", worded("Drains"), (worded("frame"), worded("flange"))),
    (
        worded("stage"), "membrane", worded("Stages by areas of a day, batches"),
        (worded("hours of one hand"), worded("until the next"), worded("check first")),
    ),
    (worded("joint"), "joints", worded("Joints and sealant"), (worded("width"), worded("length"), worded("why"))),
    (worded("hold"), "checks", worded("Hold points"), (worded("before"), worded("wanted"))),
    (worded("test"), "checks", worded("Test points"), (worded("test"), worded("wanted"))),
    (
        worded("wall"), "checks", worded("Walls as measured, from corner to corner"),
        (worded("from corner"), worded("to corner"), worded("drawn")),
    ),
    (worded("tile"), "checks", worded("Tiles broken"), (worded("size"),)),
)  # fmt: skip
"""Kinds of things with the section and the table they stand in, and the columns of it."""


def thing_tables(things: Sequence[Thing], rooms: Sequence[str], section: str) -> str:
    """The tables of one section, room by room; rows in the order of `in_order`."""
    result = []
    for kind, home, name, columns in KINDS:
        for index, room in enumerate(rooms):
            own = [thing for thing in things if thing.kind == kind and thing.room == index]
            if home == section and own:
                words = f"{say(name)}: {room}" if len(rooms) > 1 else name
                told = [each for each in columns if any(each in dict(thing.figures) for thing in own)]
                result.append(table((kind, *told, worded("done")), thing_rows(own, told), words))
    return "".join(result)


def in_order(things: Sequence[Thing]) -> list[Thing]:
    """Things that have a row, in the order of their rows on the page."""
    kinds = [kind for kind, _, _, _ in KINDS]
    return sorted((thing for thing in things if thing.kind in kinds), key=lambda thing: (kinds.index(thing.kind), thing.room))


def schedules(takeoff: TakeOff, cutting: CuttingPlan, programme: Programme | None) -> str:
    """What is ordered, sawn and mixed, and what the plan was told."""
    orders = [
        row([o.item.name, f"{o.item.quantity:.2f} {spelt(UNITS.get(o.item.unit, o.item.unit))}", o.shown, o.allowance])
        for o in place_orders(takeoff)
    ]
    saw = _saw_rows(cutting)
    heads = (worded("item"), worded("measured"), worded("order"), worded("allowance"))
    result = [table(heads, orders, worded("Orders in whole packs"))]
    if saw:
        pieces = worded("pieces out of each: saw size, from left, from below")
        result.append(table((worded("tile"), worded("size"), worded("tiles"), pieces), saw, worded("Saw list, mm, alike tiles together")))
    if programme is not None:
        result += _programme(programme)
    findings = [row([_where(f), room.name, f.text]) for room in takeoff.setout.rooms for f in room.findings]
    if findings:
        result.append(table((worded("at"), worded("room"), worded("finding")), findings, worded("Findings")))
    return "".join(result)


def _where(finding: Finding) -> str:
    return worded("floor") if finding.surface is None else finding.where


def _programme(programme: Programme) -> list[str]:
    """Stages from when to when, and what is mixed when: a row for each day, product and area of a stage."""
    several = len(programme.rooms) > 1
    rooms = [f"{name}, " if several else "" for name in programme.rooms]
    rows = [
        row([rooms[s.room] + spelt(s.name), *(dated(each, MOMENT) for each in (s.start, s.end, s.next_from))]) for s in programme.stages
    ]
    packs: dict[tuple[str, ...], list[str]] = {}
    for each in programme.batches:
        area = f" {each.area}" if each.areas > 1 else ""
        key = (dated(each.at, DAY), say(PRODUCTS[each.product]), f"{rooms[each.room]}{_stage(each.stage)}{area}", f"{each.hands}")
        packs.setdefault(key, []).append(f"{each.at:%H:%M}–{each.by:%H:%M}")
    mixed = [row([day, product, stage, ", ".join(times), hands]) for (day, product, stage, hands), times in packs.items()]
    result = [table((worded("stage"), worded("from"), worded("to"), worded("next from")), rows, worded("Programme"))]
    if mixed:
        heads = (worded("day"), worded("product"), worded("for"), worded("each pack mixed and laid by"), worded("hands"))
        result.append(table(heads, mixed, worded("What is mixed when")))
    return result


def _stage(key: str) -> str:
    """A stage by its key, as the list of what is mixed has it: in another language by its words."""
    return key if spoken() == "en" else say(SHORT.get(key, name_of(key)))


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
    at = say(" at {x:g}, {y:g}", x=piece.at[0], y=piece.at[1]) if max(piece.at) > 0.0 else ""
    return f"{piece.mark} {piece.size[0]:g} × {piece.size[1]:g}{at}"


def cautions() -> str:
    """The usual cautions, once each."""
    return f"<ul class=cautions>{''.join(f'<li>{shown(say(text))}' for text in dict.fromkeys(CAUTIONS.values()))}</ul>"
