"""The batch list: which whole pack is mixed when, for which area, by when it is on the floor, and the hands that takes.

A pack is never split: the next is mixed when the last is laid, each day and each area begins with a fresh one, and what is left
of the last goes into no other day. The pace is that of the programme's hours.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from layout.errors import Finding
from layout.programme.calendar import HOUR
from layout.quantities.mixing import Batches, mixing_plan
from layout.quantities.orders import place_orders
from layout.units import EPS

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator
    from typing import Protocol

    from layout.programme.calendar import Calendar
    from layout.quantities.values import TakeOff

    class Staged(Protocol):
        """What is asked of a stage."""

        @property
        def room(self) -> int: ...
        @property
        def key(self) -> str: ...
        @property
        def area(self) -> int: ...
        @property
        def areas(self) -> int: ...
        @property
        def hands(self) -> int: ...
        @property
        def spans(self) -> tuple[tuple[dt.datetime, dt.datetime], ...]: ...


USED = {"prime": "primer", "details": "membrane", "walls": "adhesive", "floor": "adhesive", "bottom": "adhesive", "grout": "grout"}
"""Product of each stage; coats are of membrane."""
LEAST = 1.0 / 60.0
"""Work of less than a minute is no reason to mix a pack, h."""
MOMENT = "%a %d %b %H:%M"


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """One whole pack: mixed `at`, laid `by` its pot life's end at the programme's temperature, by so many `hands`.

    `covers` m² (m of tape for details) of stage, room and area, which count as in the stages; less than a whole pack does where the
    day or the area ends with it. `washed` when the last of it has to be washed up, for grout.
    """

    product: str
    name: str
    pack_kg: float
    room: int
    stage: str
    area: int
    areas: int
    at: dt.datetime
    by: dt.datetime
    hands: int
    covers: float
    unit: str
    washed: dt.datetime | None = None


def batch_list(
    takeoff: TakeOff, stages: tuple[Staged, ...], *, factor: float, calendar: Calendar
) -> tuple[tuple[Batch, ...], list[Finding]]:
    """All packs in the order in which they are mixed, and findings: too few hands, washes after hours, more packs than are ordered."""
    orders = place_orders(takeoff)
    mixed = {each.key: each for each in mixing_plan(takeoff, orders)}
    result: list[Batch] = []
    for stage in stages:
        product = USED.get(stage.key, "membrane" if stage.key.startswith("coat") else "")
        if product in mixed:
            result += _of_stage(takeoff, stage, mixed[product], factor)
    result.sort(key=lambda batch: (batch.at, batch.room, batch.stage))
    crew = max((stage.hands for stage in stages), default=1)
    findings = [*_hands(result, crew), *_washes(takeoff, result, calendar), *_packs(result, mixed)]
    return tuple(result), findings


def _of_stage(takeoff: TakeOff, stage: Staged, mixed: Batches, factor: float) -> Iterator[Batch]:
    """The packs of one stage of one area, day by day."""
    products = takeoff.setout.plan.products
    each, pace, unit = mixed.m2_each, mixed.m2_hour, "m²"
    if stage.key == "details":
        each, pace, unit = mixed.pack_kg / products.detail_coat_kg_m.value, products.tape_m_h.value, "m of tape"
    pot = mixed.pot_min / 60.0 * factor
    hands = max(math.ceil(each / (pace * pot) - EPS), 1)
    wash = products.grout_wash_by_min.value / 60.0 * factor * HOUR if stage.key == "grout" else None
    lasts = each / (pace * stage.hands)
    days: dict[dt.date, list[tuple[dt.datetime, dt.datetime]]] = {}
    for span in stage.spans:
        days.setdefault(span[0].date(), []).append(span)
    for spans in days.values():
        work = sum((end - begin) / HOUR for begin, end in spans)
        for k in range(max(math.ceil((work - LEAST) / lasts), 1)):
            at = _into(spans, k * lasts)
            share = min(lasts, work - k * lasts)
            yield Batch(
                product=mixed.key, name=mixed.name, pack_kg=mixed.pack_kg, room=stage.room, stage=stage.key, area=stage.area, areas=stage.areas,
                at=at, by=at + pot * HOUR, hands=hands, covers=share * pace * stage.hands, unit=unit,
                washed=_into(spans, k * lasts + share) + wash if wash is not None else None,
            )  # fmt: skip


def _into(spans: list[tuple[dt.datetime, dt.datetime]], hours: float) -> dt.datetime:
    """The moment at which so many hours of a day's spans are worked."""
    left = hours * HOUR
    for begin, end in spans:
        if left < end - begin:
            return begin + left
        left -= end - begin
    return spans[-1][1]


def _hands(batches: list[Batch], crew: int) -> Iterator[Finding]:
    """Products of which a pack sets before the crew has laid it."""
    needed: dict[tuple[str, bool], Batch] = {}
    for batch in batches:
        if batch.hands > crew:
            needed.setdefault((batch.product, batch.stage == "details"), batch)
    for (_, details), batch in needed.items():
        minutes = (batch.by - batch.at) / HOUR * 60.0
        text = (
            f"{batch.name}{', for tape and details' if details else ''}: a pack of {batch.pack_kg:g} kg sets in {minutes:.0f} min and takes "
            f"{batch.hands} hands to lay by then, the crew has {crew}: buy smaller packs, or take more hands"
        )
        yield Finding(code="batch-hands", text=text)


def _washes(takeoff: TakeOff, batches: list[Batch], calendar: Calendar) -> Iterator[Finding]:
    """The first pack of each room whose last wash is due when nobody is there."""
    told: set[int] = set()
    for batch in batches:
        if batch.washed is None or batch.washed <= calendar.closes(batch.at) or batch.room in told:
            continue
        told.add(batch.room)
        last = calendar.closes(batch.at) - (batch.washed - batch.at)
        text = (
            f"{takeoff.setout.rooms[batch.room].name}: grout mixed at {batch.at:{MOMENT}} is to be washed up by {batch.washed:%H:%M}, work "
            f"ends at {calendar.end:%H:%M}: mix the last at {last:%H:%M} and leave the rest to another day, or work longer that day"
        )
        yield Finding(code="wash-late", text=text)


def _packs(batches: list[Batch], mixed: dict[str, Batches]) -> Iterator[Finding]:
    """Products of which more packs are begun than were reckoned by weight, since no rest is kept for another day."""
    for key, count in Counter(batch.product for batch in batches).items():
        if count > mixed[key].packs:
            text = f"{mixed[key].name}: {count} packs are mixed and {mixed[key].packs} ordered, since no rest keeps to another day or area"
            yield Finding(code="batch-packs", text=f"{text}: order {count - mixed[key].packs} more, or smaller packs")
