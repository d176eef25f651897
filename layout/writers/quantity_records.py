"""The JSON contract, quantities' part: take-off with orders and prices, and the works programme."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING, Any

from layout.plan.works import Away, WeekDays
from layout.quantities.deliveries import LATER
from layout.quantities.mixing import mixing_plan
from layout.quantities.orders import tape_list
from layout.quantities.table import columns_of, entries_of
from layout.shapes import rings_of
from layout.writers.cut_records import cell
from layout.writers.rounded import finding_record, fine, mm

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    from layout.plan.values import Project
    from layout.programme.piece import DayPiece
    from layout.programme.values import Programme
    from layout.quantities.bill import Bill
    from layout.quantities.groups import Group
    from layout.quantities.orders import Order
    from layout.quantities.values import TakeOff

TAKEOFF_SCHEMA = "gaugerod/takeoff/1"
PROGRAMME_SCHEMA = "gaugerod/programme/1"


def takeoff_record(takeoff: TakeOff, orders: tuple[Order, ...], bill: Bill | None = None, groups: Sequence[Group] = ()) -> dict[str, Any]:
    """The record of a take-off with its orders, its prices if rates were given, and its groups if it was parted."""
    project = takeoff.setout.plan.project
    rooms = [room.name for room in takeoff.setout.rooms]
    columns = [each for each in columns_of(takeoff) if each.record]
    deliveries = [*(each.name for each in takeoff.setout.plan.deliveries), LATER]
    items = []
    for entry in entries_of(takeoff, orders, bill):
        item = entry.item
        record: dict[str, Any] = {}
        for column in columns:
            table, _, key = column.record.rpartition(".")
            value = column.value(entry)
            if value is not None:
                (record.setdefault(table, {}) if table else record)[key] = fine(value) if isinstance(value, float) else value
        if entry.packs:
            record["order"]["deliveries"] = [{"name": name, "packs": packs} for name, packs in zip(deliveries, entry.packs, strict=True)]
        record["parts"] = [
            {"where": part.where, "room": rooms[part.place.room], "id": part.place.key, "quantity": fine(part.quantity)}
            for part in item.parts
        ]
        items.append(record)
    cutting = tape_list(takeoff.setout)
    rolls = [
        [{"run": each.run, "length_mm": mm(each.length), "part": each.part, "parts": each.parts} for each in roll] for roll in cutting.rolls
    ]
    return {
        "schema": TAKEOFF_SCHEMA,
        "project": {"title": project.title, "number": project.number},
        "items": items,
        "batches": [
            {
                "key": each.key,
                "packs": each.packs,
                "pack_kg": each.pack_kg,
                "m2_each": fine(each.m2_each),
                "pot_min": each.pot_min,
                "hands": each.hands,
            }
            for each in mixing_plan(takeoff, orders)
        ],
        **({"bill": _bill(bill)} if bill is not None else {}),
        **({"groups": [_group(group) for group in groups]} if groups else {}),
        "cutting_list": {"roll_mm": mm(cutting.roll), "rolls": rolls, "bound": cutting.bound, "proved": len(rolls) == cutting.bound},
    }


def _group(group: Group) -> dict[str, Any]:
    return {
        "name": group.name,
        "total": group.total,
        "shares": [
            {"key": each.item.key, "measured": fine(each.measured), "with_spares": fine(each.with_spares), "amount": each.amount}
            for each in group.shares
        ],
        "free_lines": [{"name": line.name, "amount": line.amount} for line in group.free],
    }


def _bill(bill: Bill) -> dict[str, Any]:
    return {
        "currency": bill.currency,
        "priced": bill.priced,
        "total": bill.total,
        "lines": [
            {
                "key": line.item.key,
                "room": bill.rooms[line.room],
                "stage": line.item.row.stage,
                "section": line.item.row.section,
                "quantity": fine(line.quantity),
                "unit": line.unit,
                "priced": line.priced,
                "rate": line.rate,
                "amount": line.amount,
            }
            for line in bill.lines
        ],
        "rooms": bill.by_room(),
        "storeys": bill.by_storey(),
        "stages": bill.by_stage(),
        "sections": bill.by_section(),
        "free_lines": [
            {
                "name": line.name,
                "stage": line.stage,
                "quantity": fine(line.quantity),
                "unit": line.unit,
                "rate": line.rate,
                "amount": line.amount,
            }
            for line in bill.free
        ],
        "unpriced": [item.key for item in bill.unpriced],
        "unpriced_items": [{"key": item.key, "name": item.name, "unit": item.unit} for item in bill.unpriced],
        "inside": [{"key": item.key, "in": holder.key} for item, holder in bill.inside],
        "notes": list(bill.notes),
    }


def programme_record(programme: Programme, project: Project) -> dict[str, Any]:
    """The record of a programme; moments as ISO 8601, local time."""

    def moment(at: dt.datetime | None) -> str | None:
        return None if at is None else at.isoformat(timespec="minutes")

    return {
        "schema": PROGRAMME_SCHEMA,
        "project": {"title": project.title, "number": project.number},
        "temperature": programme.temperature,
        "works": _works(programme),
        "stages": [
            {
                "room": programme.rooms[stage.room],
                "stage": stage.key,
                "name": stage.name,
                "area": stage.area,
                "areas": stage.areas,
                "start": moment(stage.start),
                "end": moment(stage.end),
                "hours": fine(stage.hours),
                "hands": stage.hands,
                "earliest": moment(stage.earliest),
                "latest": moment(stage.latest),
                "next_from": moment(stage.next_from),
                "next_by": moment(stage.next_by),
                "hold": stage.hold,
                "done": stage.done,
            }
            for stage in programme.stages
        ],
        "batches": [
            {
                "product": batch.product,
                "pack_kg": fine(batch.pack_kg),
                "room": programme.rooms[batch.room],
                "stage": batch.stage,
                "area": batch.area,
                "areas": batch.areas,
                "mix_at": moment(batch.at),
                "laid_by": moment(batch.by),
                "hands": batch.hands,
                "covers": fine(batch.covers),
                "unit": batch.unit,
                "washed_by": moment(batch.washed),
                "wash_from": moment(batch.wash_from),
            }
            for batch in programme.batches
        ],
        "day_pieces": [_piece(piece, programme) for piece in programme.pieces],
        "foot_traffic": {programme.rooms[room]: moment(at) for room, at in programme.foot_traffic.items()},
        "water": {programme.rooms[room]: moment(at) for room, at in programme.water.items()},
        "full_load": {programme.rooms[room]: moment(at) for room, at in programme.full_load.items()},
        "spread_m2": fine(programme.spread_m2),
        "wash_up_min": [fine(programme.wash[0]), fine(programme.wash[1])],
        "warnings": [finding_record(finding) for finding in programme.findings],
        "batch_warnings": [finding_record(finding) for finding in programme.batch_findings],
        "notes": [finding_record(finding) for finding in programme.notes],
    }


def _piece(piece: DayPiece, programme: Programme) -> dict[str, Any]:
    """A day piece: its stages, and the parts of surfaces that it is; outlines of floors in room mm."""
    parts = []
    for part in piece.parts:
        rings = [] if part.shape is None else [[[mm(x), mm(y)] for x, y in ring.tolist()] for ring in rings_of(part.shape)]
        flat = part.shape is not None
        parts.append({
            "surface": part.surface.name, "m2": fine(part.m2), "from_mm": None if flat else mm(part.low), "to_mm": None if flat else mm(part.high),
            "outline": rings,
        })  # fmt: skip
    return {
        "room": programme.rooms[piece.room], "kind": piece.kind, "piece": piece.number, "pieces": piece.pieces, "m2": fine(piece.m2),
        "stages": [{"stage": key, "start": begin.isoformat(timespec="minutes"), "end": end.isoformat(timespec="minutes")} for key, begin, end in piece.days],
        "parts": parts,
    }  # fmt: skip


def _works(programme: Programme) -> dict[str, Any]:
    """What a programme was made with."""
    works, calendar = programme.works, programme.calendar
    return {
        "hands": works.hands,
        "shift": f"{calendar.start:%H:%M}-{calendar.end:%H:%M}",
        "days": WeekDays().write(calendar.days),
        "holidays": [Away().write(each) for each in works.holidays],
        "zone": calendar.zone,
        "weather": [
            {"date": f"{day.date}", "temperature": day.temperature, "humidity": day.humidity, "air": day.air} for day in works.weather
        ],
    }


def batches_csv(programme: Programme, project: Project) -> str:
    """The batch list as CSV: one row for each pack, in the order in which they are mixed; the columns are the keys of the record."""
    out = io.StringIO()
    rows = programme_record(programme, project)["batches"]
    names = [
        "product",
        "pack_kg",
        "room",
        "stage",
        "area",
        "areas",
        "mix_at",
        "laid_by",
        "hands",
        "covers",
        "unit",
        "washed_by",
        "wash_from",
    ]
    writer = csv.DictWriter(out, names, lineterminator="\r\n")
    writer.writeheader()
    writer.writerows({key: cell(value) if isinstance(value, str) else value for key, value in row.items()} for row in rows)
    return out.getvalue()
