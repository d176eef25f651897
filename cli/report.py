"""Tables and talk for the terminal: what a person reads, never what a program parses."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import layout
from cli.bills import bill_table, deliveries_table
from cli.tables import console_for, table_of
from layout.units import feet_inches

if TYPE_CHECKING:
    from rich.console import Console

    from layout import Alternative, Bill, Found, Item, Order, Programme, RoomSetOut, SetOut, TakeOff


def setout_text(setout: SetOut, *, plain: bool) -> str:
    """Start lines, tiles, joints and tape of each room."""
    console, text = console_for(plain)
    for index, room in enumerate(setout.rooms):
        console.print(f"{room.name} · floor {room.lining.floor.gross.area / 1e6:.2f} m²", style="bold")
        _start(console, room)
        _runs(console, room, layout.gauge_offered(setout, index))
        _tiles(console, room)
        _levels(console, room)
        _joints(console, room)
        _tape(console, room)
    _findings(console, setout)
    return text.getvalue()


def _start(console: Console, room: RoomSetOut) -> None:
    start = room.floor.start
    table = table_of("Start lines: snap these first", "line", "from", "at x, y", "membrane", "bare", "tile face", right=(3, 4, 5))
    feet = room.lining.plan.project.beside == "feet"

    def shown(length: float) -> str:
        return f"{length:.0f} = {feet_inches(length)}" if feet else f"{length:.0f}"

    for line in start.lines:
        for k, offset in enumerate(line.offsets):
            at = f"{offset.at[0]:.0f}, {offset.at[1]:.0f}"
            table.add_row(
                line.name if k == 0 else "",
                f"wall {offset.wall}",
                at,
                shown(offset.membrane),
                shown(offset.bare),
                shown(offset.finished),
            )
    console.print(table)
    where = f" at {start.smallest_at}" if start.smallest_at else ""
    tolerance = room.lining.plan.rules.wall_tolerance
    how = start.known(tolerance, joints=len(room.floor.bays) > 1)
    console.print(
        f"First whole tile at {start.origin[0]:.0f}, {start.origin[1]:.0f}. Narrowest cut {start.smallest:.0f} mm{where}; "
        f"{start.worst:.0f} mm if walls stand off by {tolerance:g}."
        f"{'' if start.view is None else f' In view {start.view.drawn:.0f} mm, out of view {start.view.hidden:.0f} mm.'} Start: {how}."
    )
    for words in dict.fromkeys(
        f"  next best: first tile at {runner.origin[0]:.0f}, {runner.origin[1]:.0f}: {runner.smallest:.0f} mm, "
        f"{runner.worst:.0f} over the tolerance{'' if runner.laid else ', by its edges, not laid'}; {runner.why}"
        for runner in start.runners_up
    ):
        console.print(words)
    for pull in start.pulls:
        met = "met" if pull.miss < 0.05 else f"missed by {pull.miss:.0f} mm"
        console.print(f"  {pull.at}: {pull.wanted}, {met}")


RUNS_TOLD = 2
"""So many runs of each direction are told, those that most courses have."""


def _runs(console: Console, room: RoomSetOut, offered: RoomSetOut | None) -> None:
    """The floor's runs in tiles and joints, and what the gauge would make of them."""
    joint = room.floor.tile.joint
    for words in _run_words(room):
        console.print(f"  {words}")
    if room.floor.tile.opened != (0.0, 0.0):
        along, across = room.floor.tile.joints
        console.print(f"  the gauge: joints {along:.2f} along the courses and {across:.2f} between them, for {joint:g}")
    if offered is not None:
        floor = offered.floor
        console.print(
            f"  the gauge (rules.gauge = true) would cut {floor.field.places_cut()} tiles for {room.floor.field.places_cut()}, "
            f"narrowest cut {floor.start.smallest:.0f} mm for {room.floor.start.smallest:.0f}:"
        )
        for words in _run_words(offered):
            console.print(f"    {words}")
    console.print()


def _run_words(room: RoomSetOut) -> list[str]:
    """The runs that most courses have, each way."""
    runs = layout.runs_of(room.floor)
    each_way = [[run for run in runs if run.axis == axis][:RUNS_TOLD] for axis in (0, 1)]
    return [run.words(room.floor.tile.joint) for way in each_way for run in way]


def _tiles(console: Console, room: RoomSetOut) -> None:
    table = table_of("Tiles", "surface", "tile", "whole", "cut", "narrowest cut", "at", right=(2, 3, 4))
    for done in room.surfaces:
        table.add_row(
            done.surface.name,
            done.tile.name,
            f"{len(done.field.whole)}",
            f"{done.field.places_cut()}",
            f"{done.start.smallest:.0f}",
            done.start.smallest_at,
        )
    console.print(table)


def _levels(console: Console, room: RoomSetOut) -> None:
    """Drains' levels and falls, screed, whether water runs off."""
    levels = room.levels
    if levels is None:
        return
    table = table_of("Falls", "drain", "frame at, mm", "flattest", "steepest", right=(1, 2, 3))
    for drain in levels.drains:
        table.add_row(drain.name, f"{drain.level:+.0f}", f"1:{drain.flattest:.0f}", f"1:{drain.steepest:.0f}")
    console.print(table)
    screed = levels.screed
    ponds = len(levels.ponds)
    water = f"water stands in {ponds} place{'s' if ponds > 1 else ''}" if ponds else "water runs to a drain from everywhere"
    console.print(f"{levels.datum}; screed {screed.least:.0f} to {screed.most:.0f} thick, {screed.volume:.2f} m³; {water}")


def _joints(console: Console, room: RoomSetOut) -> None:
    table = table_of(
        "Movement and sealant joints", "kind", "m", "width", "depth", "rod", "needs", "m a cartridge", right=(1, 2, 3, 4, 5, 6)
    )
    products = room.lining.plan.products
    pack = products.sealant_cartridge_ml.value / (1 + products.sealant_waste.value)
    for each in room.joint_types:
        found = each.design
        needed = "" if found.needed is None else f"{found.needed:.1f}"
        rod = "" if each.kind == "pipe" else f"{found.rod:g}"
        table.add_row(
            each.kind, f"{each.length / 1000:.1f}", f"{each.width:g}", f"{found.depth:g}", rod, needed, f"{pack / found.yields:.1f}"
        )
    table.add_row("all", f"{math.fsum(each.length for each in room.joint_types) / 1000:.1f}", "", "", "", "", "")
    console.print(table)
    rules = room.lining.plan.rules
    bays = room.floor.bays
    default = "" if rules.movement_given else ", taken by default: a resin-set wet floor sees hot wash-down"
    console.print(
        f"{len(bays)} bay{'s' if len(bays) != 1 else ''} by {rules.movement.name} ({rules.movement.condition}{default}), "
        f"the longest side {max(b.longest for b in bays) / 1000:.2f} m."
    )
    rejected: dict[str, list[str]] = {}
    for cut in room.floor.rejected:
        rejected.setdefault(cut.why, []).append(cut.what)
    for why, what in list(rejected.items())[:3]:
        console.print(f"  not taken, {' and '.join(dict.fromkeys(what))}: {why}")
    console.print()


def _tape(console: Console, room: RoomSetOut) -> None:
    table = table_of("Tape, on the substrate", "kind", "m", right=(1,))
    kinds: dict[str, float] = {}
    for run in room.tape.runs:
        kinds[run.kind] = kinds.get(run.kind, 0.0) + run.length / 1000.0
    for kind, metres in kinds.items():
        table.add_row(kind, f"{metres:.1f}")
    console.print(table)
    tape = room.tape
    console.print(
        f"Internal {tape.metres('internal'):.1f} m. Corner pieces: {tape.count('internal')} internal, {tape.count('external')} external, "
        f"{tape.count('made')} made from tape. Collars {len(tape.collars)}, flanges {len(tape.flanges)}.\n"
    )


def _findings(console: Console, setout: SetOut) -> None:
    if not any(room.findings for room in setout.rooms):
        console.print("Nothing to look at.")
        return
    table = table_of("Look at these before work starts", "weight", "code", "what")
    last = ("", "")
    for told, text in layout.told_of_rooms(setout.rooms):
        table.add_row(told.weight if told.weight != last[0] else "", told.code if told.code != last[1] else "", text)
        last = (told.weight, told.code)
    console.print(table)


def findings_text(setout: SetOut, *, plain: bool) -> str:
    """Findings only."""
    console, text = console_for(plain)
    console.print(f"{setout.plan.source} is valid: {len(setout.rooms)} room{'s' if len(setout.rooms) != 1 else ''}.")
    _findings(console, setout)
    return text.getvalue()


def _quantities(console: Console, takeoff: TakeOff, orders: tuple[Order, ...], *, last: str) -> None:
    """Items with their three amounts; beside them their keys or their formulas, or neither where a bill follows."""
    shown = [(each.head, each.screen, each.right) for each in layout.takeoff_columns(takeoff) if each.screen is not None]
    right = tuple(k for k, (_, _, aside) in enumerate(shown) if aside)
    table = table_of("Quantities and orders", *(head for head, _, _ in shown), *([last] if last else []), right=right)
    if last == "key":
        table.columns[-1].no_wrap = True
    for entry in layout.takeoff_entries(takeoff, orders):
        beside = {"key": [entry.item.key], "formula": [entry.item.formula]}.get(last, [])
        table.add_row(*(text(entry) for _, text, _ in shown), *beside)
    console.print(table)


def explain_text(item: Item, orders: tuple[Order, ...], *, plain: bool) -> str:
    """Where one quantity comes from: its parts, formula, source and order."""
    console, text = console_for(plain)
    console.print(f"{item.name} ({item.key}): {item.shown}", style="bold")
    table = table_of("Made of", "where", item.unit, right=(1,))
    for part in item.parts:
        table.add_row(part.where, f"{part.quantity:.3f}")
    table.add_row("all", f"{item.quantity:.3f}")
    console.print(table)
    console.print(f"Formula: {item.formula}.")
    console.print(f"Source: {item.source}.")
    order = next((order for order in orders if order.item.key == item.key), None)
    if order is not None:
        console.print(f"Order: {order.shown} for {order.need:.3f} {order.unit}{f' ({order.allowance})' if order.allowance else ''}.")
    return text.getvalue()


def takeoff_text(takeoff: TakeOff, orders: tuple[Order, ...], *, plain: bool, bill: Bill | None = None, keys: bool = False) -> str:
    """The take-off as a table, priced if rates were given; with the items' keys if asked for."""
    console, text = console_for(plain)
    _quantities(console, takeoff, orders, last="key" if keys else "" if bill is not None else "formula")
    deliveries_table(console, takeoff, orders)
    table = table_of(
        "Mixing: whole packs, within their pot life at 20 °C", "product", "packs", "m² a pack", "min", "hands", right=(1, 2, 3, 4)
    )
    for each in layout.mixing_plan(takeoff, orders):
        table.add_row(each.name, f"{each.packs} of {each.pack_kg:g} kg", f"{each.m2_each:.1f}", f"{each.pot_min:.0f}", f"{each.hands}")
    console.print(table)
    if bill is not None:
        bill_table(console, bill)
    console.print("Packs and consumptions are generic defaults unless the plan gives the supplier's.")
    return text.getvalue()


def summary_text(setout: SetOut, takeoff: TakeOff, orders: tuple[Order, ...], *, plain: bool) -> str:
    """What `run` says at its end."""
    console, text = console_for(plain)
    console.print(setout.plan.project.title, style="bold")
    for room in setout.rooms:
        start = room.floor.start
        console.print(
            f"{room.name}: {len(room.floor.field.whole)} whole and {room.floor.field.places_cut()} cut floor tiles, narrowest cut {start.smallest:.0f} mm; "
            f"{math.fsum(j.length for j in room.joints) / 1000:.1f} m sealant joint; {room.tape.metres('internal'):.1f} m tape in internal corners, "
            f"{room.tape.count('internal')} internal and {room.tape.count('external')} external corner pieces."
        )
        _start(console, room)
    by_key = {order.item.key: order for order in orders}
    table = table_of("Order", "item", "needed", "packs", right=(1, 2))
    for item in takeoff.items:
        order = by_key.get(item.key)
        if order:
            table.add_row(item.name, f"{order.need:.1f} {order.unit}", order.shown)
    console.print(table)
    _findings(console, setout)
    return text.getvalue()


def compare_text(found: list[Alternative], *, plain: bool) -> str:
    """Alternatives side by side."""
    console, text = console_for(plain)
    for room in dict.fromkeys(a.room for a in found):
        table = table_of(
            f"{room}: floors side by side",
            "",
            "narrowest cut",
            "worst",
            "whole",
            "cut",
            "marks",
            "tiles",
            "waste",
            "sawn m",
            "m under least",
            right=(1, 2, 3, 4, 5, 6, 7, 8, 9),
        )
        for a in found:
            if a.room == room:
                counts = (f"{n}" for n in (a.whole, a.cut, a.marks, a.tiles))
                table.add_row(a.name, f"{a.smallest:.0f}", f"{a.worst:.0f}", *counts, f"{a.waste:.1%}", f"{a.sawn:.1f}", f"{a.under:.1f}")
        console.print(table)
    console.print("Worst: if every wall may stand off by its tolerance. Tiles: really needed, offcuts used; waste is a part of them.")
    console.print("Metres under least: wall in view along which some cut is under the tile's least cut.")
    return text.getvalue()


def programme_text(programme: Programme, *, plain: bool) -> str:
    """The programme: stages with the windows of the next."""
    console, text = console_for(plain)
    for room in dict.fromkeys(stage.room for stage in programme.stages):
        table = table_of(
            f"{programme.rooms[room]}: programme at {programme.temperature:g} °C",
            "stage",
            "from",
            "to",
            "next from",
            "next by",
            "hold point",
        )
        for stage in programme.stages:
            if stage.room == room:
                by = f"{stage.next_by:%a %d %b %H:%M}" if stage.next_by else "–"
                table.add_row(
                    stage.name,
                    f"{stage.start:%a %d %b %H:%M}",
                    f"{stage.end:%a %d %b %H:%M}",
                    f"{stage.next_from:%a %d %b %H:%M}",
                    by,
                    stage.hold,
                )
        console.print(table)
        if room in programme.foot_traffic:
            console.print(
                f"Foot traffic from {programme.foot_traffic[room]:%a %d %b %H:%M}; water from {programme.water[room]:%a %d %b %H:%M}; chemicals and full load from {programme.full_load[room]:%a %d %b %H:%M}."
            )
    console.print(
        f"Wash up grout {programme.wash[0]:.0f} to {programme.wash[1]:.0f} minutes after it is worked in: grout no more than that allows."
    )
    for finding in (*programme.findings, *programme.batch_findings, *programme.notes):
        console.print(f"□ {finding.text}")
    if programme.batches:
        console.print(f"{len(programme.batches)} packs are mixed: --csv lists when, for which area, and by when each is laid.")
    console.print("Times are generic until the products give the data sheet's; the thermometer and the data sheet decide.")
    return text.getvalue()


def read_text(found: Found, rows: list[dict[str, Any]], *, plain: bool) -> str:
    """Rooms as found, one line each, and what the file was taken to say."""
    console, text = console_for(plain)
    table = table_of(
        f"{found.source}: {len(rows)} rooms",
        "room",
        "plan",
        "m²",
        "walls",
        "doors",
        "columns",
        "pipes",
        "drains",
        "sure",
        right=tuple(range(2, 9)),
    )
    for row in rows:
        counts = [f"{row[key] or ''}" for key in ("walls", "doors", "columns", "pipes", "drains")]
        table.add_row(row["name"], row["file"], f"{row['area_m2']:.2f}", *counts, f"{row['confidence']:.2f}")
    console.print(table)
    console.print(f"unit {found.unit}: {found.unit_why}")
    if found.taken:
        console.print("taken: " + "; ".join(found.taken))
    if found.left:
        console.print("left: " + "; ".join(found.left))
    return text.getvalue()
