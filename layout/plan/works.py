"""When and by whom the works are done: start, shift, days, hands, air; each key of [works] declared once, flags go before it."""

from __future__ import annotations

import datetime as dt
import itertools
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from layout.errors import PlanFaults
from layout.fields import Count, Faults, Field, Flag, Many, Number, Text, shown
from layout.keys import Form, declared, key, rows_of, told_unknown

if TYPE_CHECKING:
    from collections.abc import Mapping

WEEK = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
HANDED = ("prime", "details", "coat", "walls", "floor", "bottom", "grout", "sealant")
"""Stages that hands work at; `coat` is every coat."""
LONGEST_AWAY = 366
"""Days of one holiday, at most."""
CELSIUS = Number(-20.0, 50.0, length=False)
PERCENT = Number(1.0, 100.0, length=False)


def work_of(stage: str) -> str:
    """The work that hands do at a stage by its key: every coat, which bears its number, is `coat`.

    >>> [work_of(key) for key in ("coat 2", "walls")]
    ['coat', 'walls']
    """
    return "coat" if stage.startswith("coat ") else stage


@dataclass(frozen=True, slots=True)
class People(Count):
    """So many people."""

    @property
    def says(self) -> str:  # type: ignore[override]
        """What would be right, in words."""
        return f"{self.low} to {self.high}"


HANDS = People(1, 50)


@dataclass(frozen=True, slots=True)
class Shift:
    """Working hours of a day; a shift that ends no later than it begins ends on the next day."""

    start: dt.time = dt.time(7)
    end: dt.time = dt.time(16)

    @property
    def overnight(self) -> bool:
        """Whether it ends on the next day."""
        return self.end <= self.start

    def __str__(self) -> str:
        return f"{self.start:%H:%M}-{self.end:%H:%M}"


@dataclass(frozen=True, slots=True)
class ShiftHours(Field[Shift]):
    """Working hours as words."""

    says = "working hours as 07:00-16:00; 22:00-06:00 ends on the next day"

    def read(self, value: object, place: str, faults: Faults) -> Shift | None:
        try:
            begin, end = (dt.time.fromisoformat(each.strip()) for each in value.split("-"))  # type: ignore[attr-defined]  # told below
        except (AttributeError, ValueError):
            self.wrong(value, place, faults)
            return None
        if begin.tzinfo or end.tzinfo or begin == end or begin.second or end.second:
            self.wrong(value, place, faults)
            return None
        return Shift(begin, end)

    def write(self, value: Shift) -> str:
        return str(value)

    def schema(self) -> dict[str, Any]:
        return {"type": "string", "pattern": "^ *[0-9]{2}:?[0-9]{2} *- *[0-9]{2}:?[0-9]{2} *$"}


@dataclass(frozen=True, slots=True)
class WeekDays(Field["tuple[int, ...]"]):
    """Days of the week, Monday 0: names with commas between, or from one to another."""

    says = "days as mon-sat or mon,wed,fri"

    def read(self, value: object, place: str, faults: Faults) -> tuple[int, ...] | None:
        if not isinstance(value, str):
            self.wrong(value, place, faults)
            return None
        found: set[int] = set()
        for part in value.lower().split(","):
            names = [name.strip()[:3] for name in part.split("-")]
            if len(names) > 2 or any(name not in WEEK for name in names):
                self.wrong(value, place, faults)
                return None
            first, last = WEEK.index(names[0]), WEEK.index(names[-1])
            found |= {(first + k) % 7 for k in range((last - first) % 7 + 1)}
        return tuple(sorted(found))

    def write(self, value: tuple[int, ...]) -> str:
        run = len(value) > 2 and value[-1] - value[0] == len(value) - 1
        return f"{WEEK[value[0]]}-{WEEK[value[-1]]}" if run else ",".join(WEEK[day] for day in value)

    def schema(self) -> dict[str, Any]:
        return {"type": "string"}


@dataclass(frozen=True, slots=True)
class Moment(Field[dt.datetime]):
    """A date and time as the site's clock shows it; the first hour of a date alone is 00:00."""

    says = "a date and time as 2026-11-30T07:00:00, as the site's clock shows it"

    def read(self, value: object, place: str, faults: Faults) -> dt.datetime | None:
        if isinstance(value, str):
            try:
                value = dt.datetime.fromisoformat(value.strip())
            except ValueError:
                self.wrong(value, place, faults)
                return None
        if isinstance(value, dt.date) and not isinstance(value, dt.datetime):
            value = dt.datetime.combine(value, dt.time())
        if not isinstance(value, dt.datetime):
            self.wrong(value, place, faults)
            return None
        if value.tzinfo is not None:
            faults.add(place, f"{value.isoformat()} has an offset of its own", "give the time as the site's clock shows it, and works.zone")
            return None
        return value

    def schema(self) -> dict[str, Any]:
        return {"type": "string"}


@dataclass(frozen=True, slots=True)
class Away(Field["tuple[dt.date, dt.date]"]):
    """Days on which nobody works: one date, or from one to another."""

    says = "a date as 2026-12-25, or 2026-12-24 to 2027-01-03"

    def read(self, value: object, place: str, faults: Faults) -> tuple[dt.date, dt.date] | None:
        if isinstance(value, dt.date) and not isinstance(value, dt.datetime):
            return value, value
        try:
            parts = [dt.date.fromisoformat(each.strip()) for each in value.split(" to ")]  # type: ignore[attr-defined]  # told below
        except (AttributeError, ValueError):
            self.wrong(value, place, faults)
            return None
        first, last = parts[0], parts[-1]
        if len(parts) > 2 or not 0 <= (last - first).days <= LONGEST_AWAY:
            self.wrong(value, place, faults)
            return None
        return first, last

    def write(self, value: tuple[dt.date, dt.date]) -> str:
        first, last = value
        return f"{first}" if first == last else f"{first} to {last}"

    def schema(self) -> dict[str, Any]:
        return {"type": "string"}


@dataclass(frozen=True, slots=True)
class OneDay(Field[dt.date]):
    """A date, with or without quotes."""

    says = "a date as 2026-12-01"

    def read(self, value: object, place: str, faults: Faults) -> dt.date | None:
        both = Away().read(value, place, faults)
        if both is None or both[0] == both[1]:
            return None if both is None else both[0]
        self.wrong(value, place, faults)
        return None

    def write(self, value: dt.date) -> str:
        return f"{value}"

    def schema(self) -> dict[str, Any]:
        return {"type": "string"}


@dataclass(frozen=True, slots=True)
class StageHands(Field["Mapping[str, int]"]):
    """Hands of some stages."""

    says = "hands by stage, as { floor = 3, grout = 4 }; stages are " + ", ".join(HANDED)

    def read(self, value: object, place: str, faults: Faults) -> Mapping[str, int] | None:
        if not isinstance(value, dict):
            self.wrong(value, place, faults)
            return None
        given = {}
        before = len(faults.found)
        for name, each in value.items():
            if name not in HANDED:
                told_unknown(name, HANDED, f"{place}.{shown(name)[1:-1]}", faults)
                continue
            hands = HANDS.read(each, f"{place}.{name}", faults)
            if hands is not None:
                given[name] = hands
        return None if len(faults.found) > before else given

    def write(self, value: Mapping[str, int]) -> dict[str, Any]:
        return dict(value)

    def schema(self) -> dict[str, Any]:
        return {"type": "object", "properties": {name: HANDS.schema() for name in HANDED}, "additionalProperties": False}


@declared
class DayWeather:
    """Temperature and air of one day, forecast or measured."""

    date: dt.date = key(OneDay(), "the day", since="0.2", example="2026-12-01")
    temperature: float = key(CELSIUS, "of the surface", unit="°C", since="0.2", example=14)
    humidity: float | None = key(PERCENT, "relative humidity of the air", unit="%", default=None, since="0.2", example=65)
    air: float | None = key(
        CELSIUS, "of the air", unit="°C", default=None, since="0.2", left_out="as warm as the surface", example=15
    )  # fmt: skip


@declared
class Works:
    """Who works when, and how warm it is."""

    start: dt.datetime | None = key(
        Moment(), "earliest start of the works", default=None, since="0.2", left_out="the first shift of project.date",
        example=dt.datetime(2026, 11, 30, 7),  # noqa: DTZ001  # site time has no zone
    )  # fmt: skip
    zone: str = key(
        Text(), "time zone of the site: hours that the clock leaves out are refused, nights on which it changes counted as they are",
        default="", since="0.2", example="Europe/Berlin",
    )  # fmt: skip
    shift: Shift = key(
        ShiftHours(), "working hours of a day; one that ends before it begins ends on the next", default=Shift(), since="0.2"
    )
    days: tuple[int, ...] = key(WeekDays(), "days on which a shift begins", default=(0, 1, 2, 3, 4), since="0.2")
    holidays: tuple[tuple[dt.date, dt.date], ...] = key(
        Many(Away()), "days on which no shift begins", default=(), since="0.2", example=["2026-12-24 to 2027-01-03"]
    )
    hands: int = key(HANDS, "people of the crew, over all rooms", default=2, since="0.2")
    stage_hands: Mapping[str, int] | None = key(
        StageHands(), "hands at a stage where they are more or fewer", default=None, since="0.2", left_out="hands", example={"grout": 4}
    )
    areas: int = key(Count(1, 100), "areas into which the membrane and the grout of a room are split, at least", default=1, since="0.2")
    temperature: float = key(CELSIUS, "of the surface, where no day's own is given", unit="°C", default=20.0, since="0.2")
    humidity: float | None = key(
        PERCENT, "relative humidity of the air; the dew point is watched where it is given", unit="%", default=None, since="0.2", example=65
    )
    air: float | None = key(CELSIUS, "of the air", unit="°C", default=None, since="0.2", left_out="as warm as the surface", example=18)
    weather: tuple[DayWeather, ...] = key(
        Many(Form(DayWeather)), "days with a temperature of their own, in the order of their dates; the last goes on",
        default=(), since="0.2", example=[{"date": "2026-12-01", "temperature": 14, "humidity": 65}],
    )  # fmt: skip
    ask_figures: bool = key(
        Flag(), "whether a time, pot life or output that the products do not give is asked for instead of told as generic",
        default=False, since="0.2",
    )  # fmt: skip

    def hands_at(self, stage: str) -> int:
        """Hands at a stage; every coat is `coat`."""
        return (self.stage_hands or {}).get(work_of(stage), self.hands)


def works_faults(works: Works, faults: Faults) -> None:
    """Note what contradicts itself: days of weather out of order, air without humidity, holidays that leave no day."""
    dates = [each.date for each in works.weather]
    for k, (one, two) in enumerate(itertools.pairwise(dates), 1):
        if two <= one:
            faults.add(f"works.weather[{k}].date", f"{two} found after {one}", "give each day once, in the order of their dates")
    if works.air is not None and works.humidity is None:
        faults.add("works.air", "it is given without humidity", "give both: together they make the dew point")
    for k, each in enumerate(works.weather):
        if each.air is not None and each.humidity is None:
            faults.add(f"works.weather[{k}].air", "it is given without humidity", "give both: together they make the dew point")


def works_with(works: Works, given: Mapping[str, object], source: str, *, weather: tuple[DayWeather, ...] | None = None) -> Works:
    """The keys of the plan with some that go before them, as typed on the command line, each read as the file's would be.

    `given` maps keys to what was typed; a key's name is that of its flag. `source` names the plan; `weather`, if given, are days
    instead of its own.

    Raises
    ------
    PlanError, PlanFaults
        With the flag, what was found and what would be right.
    """
    changed: dict[str, Any] = {}
    for name, value in given.items():
        faults = Faults(f"--{name.replace('_', '-')}")
        row = rows_of(Works)[name]
        changed[row.attribute] = row.key.check.read(value, "", faults)
        if faults.found:
            raise faults.found[0]
    result = replace(works, **changed)
    if weather is not None:
        result = replace(result, weather=weather)
    faults = Faults(source)
    works_faults(result, faults)
    if faults.found:
        raise PlanFaults(tuple(faults.found))
    return result
