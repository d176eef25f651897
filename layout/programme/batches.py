"""The batch list: which whole pack is mixed when, for which area, by when it is on the floor, and the hands that takes.

A pack is never split: the next is mixed when the last is laid, each day and each area begins with a fresh one, and what is left
of the last goes into no other day. Where the products give a smaller pack too, it is
mixed where the hands cannot lay the large one in time, or less than it is left. The pace is that of the programme's hours.
"""

from __future__ import annotations

import math
from collections import Counter
from typing import TYPE_CHECKING

from layout.errors import Finding
from layout.plan.works import work_of
from layout.programme.calendar import HOUR
from layout.programme.values import Batch
from layout.quantities.mixing import Batches, mixing_plan
from layout.quantities.orders import mixed_orders
from layout.quantities.pace import paces
from layout.units import EPS
from layout.words import timed, worded

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator, Sequence

    from layout.programme.site import Site
    from layout.programme.values import Stage
    from layout.quantities.values import TakeOff
    from layout.standards.products import Products

USED = {"prime": "primer", "details": "membrane", "walls": "adhesive", "floor": "adhesive", "bottom": "adhesive", "grout": "grout"}
"""Product of each stage; coats are of membrane."""
LEAST = 1.0 / 60.0
"""Work of less than a minute is no reason to mix a pack, h."""
MOMENT = "%a %d %b %H:%M"


def batch_list(takeoff: TakeOff, stages: Sequence[Stage], site: Site) -> tuple[tuple[Batch, ...], list[Finding]]:
    """All packs in the order in which they are mixed, and findings: too few hands, washes after hours, more packs than are ordered.

    Stages and batches are in running time.
    """
    mixed = {each.key: each for each in mixing_plan(takeoff, mixed_orders(takeoff))}
    paced = paces(takeoff.worked("fixing"))
    result: list[Batch] = []
    for stage in stages:
        product = USED.get(stage.key, "membrane" if work_of(stage.key) == "coat" else "")
        if product in mixed and not stage.done:
            pace = paced.get((stage.room, stage.key), mixed[product].m2_hour)
            result += _of_stage(takeoff.setout.plan.products, stage, mixed[product], pace, site)
    result.sort(key=lambda batch: (batch.at, batch.room, batch.stage))
    crews = {(stage.room, stage.key): stage.hands for stage in stages}
    findings = [*_hands(result, crews), *_washes(takeoff, result, site), *_packs(result, mixed)]
    return tuple(result), findings


def _of_stage(products: Products, stage: Stage, mixed: Batches, pace: float, site: Site) -> Iterator[Batch]:
    """The packs of one stage of one area, shift by shift: the large pack while so many hands lay it in time, else the small one if there is one."""
    kg_each, unit, of = mixed.m2_each / mixed.pack_kg, "m²", ""
    if stage.key == "details":
        kg_each, pace, unit, of = 1.0 / products.detail_coat_kg_m.value, products.tape_m_h.value, "m", "tape"
    small = getattr(products, f"{mixed.key}_small_pack_kg").value
    days: dict[dt.date, list[tuple[dt.datetime, dt.datetime]]] = {}
    for span in stage.spans:
        days.setdefault(site.calendar.day_of(span[0]), []).append(span)
    for day, spans in days.items():
        work = math.fsum((end - begin) / HOUR for begin, end in spans)
        gone = 0.0
        while gone == 0.0 or work - gone > LEAST:
            at = _into(spans, gone)
            pot = mixed.pot_min / 60.0 * site.climate.factor(at, pot=True)
            left = (work - gone) * pace * stage.hands
            kg = _pack(mixed.pack_kg, small, left / kg_each, pot * pace * stage.hands / kg_each)
            lasts = kg * kg_each / (pace * stage.hands)
            share = min(lasts, work - gone)
            worked_in = _into(spans, gone + share)
            wash = site.climate.factor(worked_in) / 60.0 * HOUR if stage.key == "grout" else None
            yield Batch(
                product=mixed.key, name=mixed.name, pack_kg=kg, room=stage.room, stage=stage.key, area=stage.area, areas=stage.areas,
                at=at, by=at + pot * HOUR, hands=max(math.ceil(kg * kg_each / (pace * pot) - EPS), 1), covers=share * pace * stage.hands,
                measure=unit, of=of, day=day,
                wash_from=None if wash is None else at + products.grout_wash_from_min.value * wash,
                washed=None if wash is None else worked_in + products.grout_wash_by_min.value * wash,
            )  # fmt: skip
            gone += lasts


def _pack(large: float, small: float, left: float, laid: float) -> float:
    """The pack to mix where so many kg are left to do and so many are laid within the pot life."""
    if small <= 0.0 or small >= large:
        return large
    return small if left <= small + EPS or laid < large - EPS else large


def _into(spans: list[tuple[dt.datetime, dt.datetime]], hours: float) -> dt.datetime:
    """The moment at which so many hours of a day's spans are worked."""
    left = hours * HOUR
    for begin, end in spans:
        if left < end - begin:
            return begin + left
        left -= end - begin
    return spans[-1][1]


def _hands(batches: list[Batch], crews: dict[tuple[int, str], int]) -> Iterator[Finding]:
    """Products of which a pack sets before the hands at a stage have laid it."""
    needed: dict[tuple[str, bool], Batch] = {}
    for batch in batches:
        if batch.hands > crews[(batch.room, batch.stage)]:
            needed.setdefault((batch.product, batch.stage == "details"), batch)
    for (product, details), batch in needed.items():
        minutes = (batch.by - batch.at) / HOUR * 60.0
        crew = crews[(batch.room, batch.stage)]
        fits = batch.pack_kg * crew / batch.hands
        text = worded(
            "{name}{details}: a pack of {kg:g} kg sets in {minutes:.0f} min and takes {hands} hands to lay by then, the crew has {crew}: "
            "buy smaller packs, or take more hands (products.{product}_small_pack_kg: up to {fits:.1f} kg is sure to be laid)",
            name=batch.name,
            details=worded(", for tape and details") if details else "",
            kg=batch.pack_kg,
            minutes=minutes,
            hands=batch.hands,
            crew=crew,
            product=product,
            fits=fits,
        )
        yield Finding(code="batch-hands", text=text)


def _washes(takeoff: TakeOff, batches: list[Batch], site: Site) -> Iterator[Finding]:
    """The first pack of each room whose last wash is due when nobody is there: no shift is long enough for it."""
    told: set[int] = set()
    shown = site.calendar.shown
    for batch in batches:
        closes = site.calendar.closes(batch.at)
        if batch.washed is None or batch.washed <= closes or batch.room in told:
            continue
        told.add(batch.room)
        last = closes - (batch.washed - batch.at)
        text = worded(
            "{name}: grout mixed at {mixed} is to be washed up by {by:%H:%M}, work ends at {ends:%H:%M}: mix the last at "
            "{last:%H:%M} and leave the rest to another day, or work longer that day",
            name=takeoff.setout.rooms[batch.room].name,
            mixed=timed(shown(batch.at), MOMENT),
            by=shown(batch.washed),
            ends=shown(closes),
            last=shown(last),
        )
        yield Finding(code="wash-late", text=text)


def _packs(batches: list[Batch], mixed: dict[str, Batches]) -> Iterator[Finding]:
    """Products of which more is mixed than was reckoned by weight, since no rest is kept for another day; or small packs are mixed."""
    for key, each in mixed.items():
        own = Counter(batch.pack_kg for batch in batches if batch.product == key)
        small = sum(count for kg, count in own.items() if kg != each.pack_kg)
        large = own.get(each.pack_kg, 0)
        if small:
            kg = next(kg for kg in own if kg != each.pack_kg)
            text = worded(
                "{name}: {small} packs of {kg:g} kg and {large} of {pack_kg:g} kg are mixed, {packs} of {pack_kg:g} kg ordered",
                name=each.name,
                small=small,
                kg=kg,
                large=large,
                pack_kg=each.pack_kg,
                packs=each.packs,
            )
            yield Finding(code="batch-packs", text=worded("{text}: order the packs that are mixed", text=text))
        elif large > each.packs:
            text = worded(
                "{name}: {large} packs are mixed and {packs} ordered, since no rest keeps to another day or area",
                name=each.name,
                large=large,
                packs=each.packs,
            )
            yield Finding(
                code="batch-packs", text=worded("{text}: order {large} more, or smaller packs", text=text, large=large - each.packs)
            )
