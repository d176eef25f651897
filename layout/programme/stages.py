"""The works programme: stages one after the other in each room, with the windows in which the next may start.

Work is done in working hours; curing goes on round the clock. Times are those of the products at 20 degrees and are taken
twice as long for each ten degrees colder (common practice, no source): the data sheet and the thermometer decide.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

from layout.errors import Finding
from layout.units import EPS

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from layout.quantities.values import Place, TakeOff, Work
    from layout.standards.products import Products

NAMES = {
    "prime": "prime, broadcast quartz on the floor",
    "details": "drains, collars, corner pieces, tape in a detail coat",
    "coat 1": "membrane, first coat",
    "coat 2": "membrane, second coat crosswise",
    "flood": "flood test",
    "walls": "fix wall tile from the second course up, on a level batten",
    "floor": "fix floor tile from the start lines",
    "bottom": "fix the bottom course of the walls, cut to the floor",
    "grout": "grout, wash up inside the window",
    "sealant": "sealant in every connection and movement joint",
}
HOLDS = {
    "prime": "substrate sound, dry and clean: moisture and pull-off read and signed",
    "coat 2": "wet film measured at the test points and signed",
    "flood": "water level marked, read after the test and signed",
    "walls": "start lines and squareness checked before the first tile",
    "grout": "joints clean to the bed, backer rod set in every sealant joint",
    "sealant": "joints dry and clean, edges masked",
}


Step: TypeAlias = tuple[str, float, float, float | None]
"""Key of a stage, hours of one hand, hours to wait before the next, hours by which the next must start."""
IN_ONE_GO = ("prime", "details", "coat 1", "coat 2", "grout")
"""Stages that are not left half done overnight where a day is long enough."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """One stage in one room, which counts from 0: when it is worked, and from when and until when the next may start (None: no end).

    `hours` of one hand's work; `hold` what is checked and signed before it starts.
    """

    room: int
    key: str
    start: dt.datetime
    end: dt.datetime
    hours: float
    hands: int
    next_from: dt.datetime
    next_by: dt.datetime | None
    hold: str

    @property
    def name(self) -> str:
        """The stage in words."""
        return NAMES[self.key]


@dataclass(frozen=True, slots=True, kw_only=True)
class Programme:
    """All stages, when rooms (by number, from 0; `rooms` are their names) may be walked on and loaded, and findings on windows that working hours miss.

    `wash` minutes after grouting from which and by which it is washed up; `spread_m2` what one hand may comb at once, m².
    """

    rooms: tuple[str, ...]
    stages: tuple[Stage, ...]
    temperature: float
    foot_traffic: dict[int, dt.datetime]
    full_load: dict[int, dt.datetime]
    wash: tuple[float, float]
    spread_m2: float
    findings: tuple[Finding, ...]

    def __repr__(self) -> str:
        first, last = min(stage.start for stage in self.stages), max(stage.end for stage in self.stages)
        return f"<Programme: {len(self.stages)} stages, {first:%Y-%m-%d %H:%M} to {last:%Y-%m-%d %H:%M}>"


@dataclass(frozen=True, slots=True, kw_only=True)
class Calendar:
    """Working hours: from and to on working days, Monday 0."""

    start: dt.time = dt.time(7)
    end: dt.time = dt.time(16)
    days: tuple[int, ...] = (0, 1, 2, 3, 4)

    @property
    def hours(self) -> float:
        """Working hours of a day."""
        day = dt.date.min
        return (dt.datetime.combine(day, self.end) - dt.datetime.combine(day, self.start)) / dt.timedelta(hours=1)

    def opens(self, at: dt.datetime) -> dt.datetime:
        """The next moment at which work may begin."""
        for _ in range(15):
            if at.weekday() in self.days and at.time() < self.end:
                return max(at, dt.datetime.combine(at.date(), self.start))
            at = dt.datetime.combine(at.date() + dt.timedelta(days=1), self.start)
        return at

    def in_one_go(self, at: dt.datetime, hours: float) -> dt.datetime:
        """When work begins that is not to be left overnight: at once if it can be done today, else next morning; at once if no day is long enough."""
        at = self.opens(at)
        day = dt.datetime.combine(at.date(), self.end)
        if at + dt.timedelta(hours=hours) <= day or hours > self.hours:
            return at
        return self.opens(dt.datetime.combine(at.date() + dt.timedelta(days=1), self.start))

    def worked(self, at: dt.datetime, hours: float) -> dt.datetime:
        """When so many hours of work that start at a moment are done."""
        at = self.opens(at)
        left = dt.timedelta(hours=hours)
        while True:
            free = dt.datetime.combine(at.date(), self.end) - at
            if left <= free:
                return at + left
            left -= free
            at = self.opens(dt.datetime.combine(at.date() + dt.timedelta(days=1), self.start))


def slower(temperature: float) -> float:
    """How many times longer resin takes than at 20 degrees: double for each ten colder (common practice, no source).

    >>> [slower(t) for t in (20.0, 10.0, 30.0)]
    [1.0, 2.0, 0.5]
    """
    return float(2.0 ** ((20.0 - temperature) / 10.0))


def plan_works(
    takeoff: TakeOff, *, start: dt.datetime, hands: int = 2, temperature: float = 20.0, calendar: Calendar | None = None
) -> Programme:
    """Stages of all rooms, each room's one after the other; rooms start together.

    Parameters
    ----------
    start : earliest moment of the first stage.
    hands : people at work in a room.
    temperature : of the substrate while it cures, degrees C.
    """
    calendar = calendar or Calendar()
    products = takeoff.setout.plan.products
    factor = slower(temperature)
    stages: list[Stage] = []
    findings: list[Finding] = []
    traffic: dict[int, dt.datetime] = {}
    load: dict[int, dt.datetime] = {}
    names = tuple(room.name for room in takeoff.setout.rooms)
    for room, name in enumerate(names):
        at = start
        by: dt.datetime | None = None
        for key, hours, wait, window in _by_day(_steps(takeoff, room, products), calendar.hours * hands):
            if hours <= 0.0 and key != "flood":
                continue
            begins = calendar.opens(at)
            if key in IN_ONE_GO:
                later = calendar.in_one_go(begins, hours / hands)
                begins = later if by is None or later <= by or begins > by else begins
            if by is not None and begins > by:
                text = f"{name}: {NAMES[key]} cannot start before {begins:%a %d %b %H:%M}, after its window closed at {by:%a %d %b %H:%M}: abrade and prime, or shift the start"
                findings.append(Finding(code="window-missed", text=text))
            ends = calendar.worked(begins, hours / hands) if key != "flood" else begins + dt.timedelta(hours=products.flood_test_h.value)
            at = ends + dt.timedelta(hours=wait * factor)
            by = None if window is None else ends + dt.timedelta(hours=window * factor)
            stages.append(
                Stage(
                    room=room,
                    key=key,
                    start=begins,
                    end=ends,
                    hours=hours,
                    hands=hands,
                    next_from=at,
                    next_by=by,
                    hold=HOLDS.get(key, ""),
                )
            )
            if key == "grout":
                traffic[room] = at
                load[room] = ends + dt.timedelta(hours=products.load_cure_h.value * factor)
        load[room] = max(load.get(room, at), at)
    wash = (products.grout_wash_from_min.value * factor, products.grout_wash_by_min.value * factor)
    spread = products.adhesive_m2_h.value * products.adhesive_open_min.value / 60.0 * factor
    return Programme(
        rooms=names,
        stages=tuple(stages),
        temperature=temperature,
        foot_traffic=traffic,
        full_load=load,
        wash=wash,
        spread_m2=spread,
        findings=tuple(findings),
    )


def _by_day(steps: Iterable[Step], day: float) -> list[Step]:
    """Steps with the grouting in as many areas as take a day each: grout is washed up on the day that it is worked in."""
    result: list[Step] = []
    for key, hours, wait, window in steps:
        areas = max(math.ceil(hours / day - EPS), 1) if key == "grout" else 1
        result += [(key, hours / areas, wait if k == areas else 0.0, window) for k in range(1, areas + 1)]
    return result


def _steps(takeoff: TakeOff, room: int, p: Products) -> list[Step]:
    """Stages of a room: hours of one hand, hours to wait before the next, hours by which the next must start."""

    def of(work: Work, which: Callable[[Place], bool] = lambda _: True) -> float:
        return sum(part.quantity for part in takeoff.worked(work) if part.place.room == room and which(part.place))

    def on_floor(place: Place) -> bool:
        return place.surface is not None and place.surface.kind in ("floor", "border")

    coats = round(p.membrane_coats.value)
    return [
        ("prime", of("priming"), p.primer_recoat_from_h.value, p.primer_recoat_by_h.value),
        ("details", of("detailing"), p.membrane_recoat_from_h.value, p.membrane_recoat_by_h.value),
        ("coat 1", of("coating", lambda at: at.coat < max(coats, 2)), p.membrane_recoat_from_h.value, p.membrane_recoat_by_h.value),
        ("coat 2", of("coating", lambda at: at.coat == max(coats, 2)), p.membrane_cure_h.value, None),
        ("flood", 0.0, 0.0, None),
        ("walls", of("fixing", lambda at: not on_floor(at) and not at.course), 0.0, None),
        ("floor", of("fixing", on_floor), p.adhesive_cure_h.value, None),
        ("bottom", of("fixing", lambda at: at.course == "bottom"), p.adhesive_cure_h.value, None),
        ("grout", of("grouting"), p.grout_cure_h.value, None),
        ("sealant", of("sealing"), p.sealant_cure_h.value, None),
    ]
