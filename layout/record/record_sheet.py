"""Sheets of the as-built record, for handing over: deviations, tests, hold points, stages with batches, membrane, cuts, walls."""

from __future__ import annotations

from typing import TYPE_CHECKING

from layout.sheets.draft import Draft
from layout.sheets.draw import sheets_of
from layout.sheets.paper import SIZES
from layout.sheets.schedule_sheet import Pages

if TYPE_CHECKING:
    from layout.quantities.values import TakeOff
    from layout.record.handing import AsBuilt, Entry
    from layout.sheets.scene import Sheet

PAPER = "A3"


def record_sheets(takeoff: TakeOff, record: AsBuilt) -> tuple[Sheet, ...]:
    """The record as sheets; what was not told stands as a dash, for a pen."""
    result = Pages(SIZES[PAPER])
    several = len(takeoff.setout.rooms) > 1
    result.head("Deviations and what is open")
    for text in record.deviations or ("none that the ticks tell of",):
        result.words(text, "•")
    if record.earlier:
        result.words("Some ticks are of another issue of the plan: they count where the size is the same.", "•")
    if record.strange:
        result.words(f"{record.strange} ticks are of things that are not in this issue.", "•")
    _readings(result, record.of("test"), "Tests: read, wanted", several=several)
    _signed(result, record.of("hold"), several=several)
    _stages(result, record.of("stage"), several=several)
    _readings(result, record.of("wall"), "Walls as measured", several=several)
    _counts(result, record)
    result.words(
        "From ticks on phones; a phone's clock may be wrong. Signatures here are names as typed: sign on paper where that is asked for."
    )
    names = {room.name for room in takeoff.setout.rooms}
    named = names.pop() if len(names) == 1 else "all rooms"
    drafts = [Draft(f"record-{k}", "As-built record", named, PAPER, None, (), page) for k, page in enumerate(result.pages, 1)]
    return sheets_of(takeoff.setout, drafts)


def _named(entry: Entry, several: bool) -> str:
    return f"{entry.room}, {entry.name}" if several else entry.name


def _moment(entry: Entry) -> str:
    return entry.at.replace("T", " ")


def _readings(result: Pages, entries: list[Entry], head: str, *, several: bool) -> None:
    if not entries:
        return
    result.head(head)
    rows = [["", "what", "read", "wanted", "so", "by, at"]]
    verdict = {None: "", True: "yes", False: "NO"}
    rows += [
        [_named(e, several), e.field, e.value or "—", e.wanted, verdict[e.good], " ".join(v for v in (e.by, _moment(e)) if v)]
        for e in entries
    ]
    result.rows((14, 26, 18, 30, 8, 40), rows)


def _signed(result: Pages, entries: list[Entry], *, several: bool) -> None:
    by_id: dict[str, list[Entry]] = {}
    for entry in entries:
        by_id.setdefault(entry.id, []).append(entry)
    if not by_id:
        return
    result.head("Hold points")
    rows = [["check", "stage", "read", "signed by", "at"]]
    for key, own in by_id.items():
        sign = next((e for e in own if e.code == "signed"), own[-1])
        read = ", ".join(f"{e.field} {e.value}" for e in own if e is not sign and e.value)
        at_points = "at test points" if sign.at_points else "—"
        rows.append([_named(sign, several), key.split("/")[2], read or at_points, sign.value or "—", _moment(sign)])
    result.rows((46, 14, 26, 22, 28), rows)


def _stages(result: Pages, entries: list[Entry], *, several: bool) -> None:
    by_id: dict[str, dict[str, Entry]] = {}
    for entry in entries:
        by_id.setdefault(entry.id, {})[entry.code] = entry
    if not by_id:
        return
    result.head("Stages by areas, with batches")
    rows = [["stage", "done, by", "at", "batches"]]
    for own in by_id.values():
        done, batch = own["done"], own["batch"]
        rows.append([_named(done, several), f"{done.value}, {done.by}" if done.value else "—", _moment(done), batch.value or "—"])
    result.rows((56, 22, 28, 28), rows)


def _counts(result: Pages, record: AsBuilt) -> None:
    result.head("How much is done")
    rows = [["what", "done", "of"]]
    kinds = (
        ("run", "taped", "tape runs"), ("corner", "set", "corner pieces"), ("collar", "set", "collars"), ("drain", "dressed", "flanges"),
        ("piece", "sawn", "cuts sawn"), ("piece", "laid", "cuts laid"), ("joint", "sealed", "joints sealed"),
    )  # fmt: skip
    for kind, code, words in kinds:
        own = [entry for entry in record.entries if entry.kind == kind and entry.code == code]
        if own:
            rows.append([words, f"{sum(bool(entry.value) for entry in own)}", f"{len(own)}"])
    rows += [[f"{e.name} broken", e.value, ""] for e in record.of("tile") if e.value]
    result.rows((60, 20, 20), rows, right=(1, 2))
