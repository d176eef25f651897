"""What is told of a programme: windows that are missed, rooms that wait, days on which nothing is laid, figures that are generic."""

from __future__ import annotations

from typing import TYPE_CHECKING

from layout.errors import Finding, PlanError
from layout.standards.products import DEFAULTS
from layout.words import timed, worded

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Container, Iterator, Mapping, Sequence

    from layout.programme.schedule import Done, Missed, Schedule
    from layout.programme.site import Site
    from layout.programme.task import Task
    from layout.standards.products import Products

DAY = "%a %d %b"
MOMENT = f"{DAY} %H:%M"
ALWAYS_ASKED = (
    "primer_pot_min", "primer_m2_h", "primer_recoat_from_h", "primer_recoat_by_h",
    "membrane_pot_min", "membrane_m2_h", "membrane_recoat_from_h", "membrane_recoat_by_h", "membrane_cure_h", "membrane_tile_by_h", "tape_m_h",
    "adhesive_open_min", "adhesive_pot_min", "adhesive_m2_h", "adhesive_cure_h",
    "grout_pot_min", "grout_m2_h", "grout_wash_from_min", "grout_wash_by_min", "grout_cure_h",
    "sealant_cure_h", "sealant_m_h", "load_cure_h", "flood_test_h", "least_temperature_c", "greatest_temperature_c",
)  # fmt: skip
"""Figures that a programme rests on: times, pot lives and outputs."""
OFF_20 = ("times_at", "pot_at")


def generic_figures(products: Products) -> list[str]:
    """Keys of the figures that a programme rests on and nobody gave."""
    return [name for name in ALWAYS_ASKED if getattr(products, name) == DEFAULTS[name]]


def figures_told(products: Products, *, ask: bool, source: str) -> list[Finding]:
    """Which figures of the programme are generic.

    Raises
    ------
    PlanError : some are, and the plan asks for all of them (`works.ask_figures`).
    """
    generic = generic_figures(products)
    if not generic:
        return []
    if ask:
        mend = "give them from the data sheets under [products] or in products_file, each as a number or { value, source }"
        raise PlanError(
            f"{source}: products", f"works.ask_figures is set and {len(generic)} figures are not given: {', '.join(generic)}", mend
        )
    text = worded(
        "{count} of {all} times, pot lives and outputs are generic, since the products do not give them: {names}: "
        "put the data sheets' figures under [products]",
        count=len(generic),
        all=len(ALWAYS_ASKED),
        names=", ".join(generic),
    )
    return [Finding(code="figures-asked", text=text)]


def where(task: Task, names: tuple[str, ...]) -> str:
    """Room and area of a task in words."""
    if task.areas == 1:
        return names[task.room]
    return worded("{room}, area {area} of {areas}", room=names[task.room], area=task.area, areas=task.areas)


def waits(tasks: Sequence[Task], made: Schedule, names: tuple[str, ...], site: Site) -> list[Finding]:
    """Rooms that are begun later than they could be, since working hours would miss their windows."""
    shown = site.calendar.shown
    alike: dict[tuple[dt.datetime, dt.datetime], list[int]] = {}
    for k, moments in made.waits.items():
        alike.setdefault(moments, []).append(k)
    result = []
    for (wanted, day), those in alike.items():
        room = where(tasks[those[0]], names)
        text = worded(
            "{room}: begun on {wanted} a coat, or the tile on it, would miss its window outside working hours; it waits until {day}{more}",
            room=room,
            wanted=timed(shown(wanted), MOMENT),
            day=timed(shown(day), MOMENT),
            more=worded(", and {count} more areas with it", count=len(those) - 1) if len(those) > 1 else "",
        )
        result.append(Finding(code="works-wait", text=text))
    return result


def too_cold(
    tasks: Sequence[Task], done: Sequence[Done], known: Container[int], names: tuple[str, ...], site: Site, start: dt.datetime
) -> Iterator[Finding]:
    """Stages that could be begun on a day on which resin is not laid, with the day on which they can; a stage of a room once."""
    if site.laying is site.calendar:
        return
    told: set[tuple[int, str]] = set()
    for k, task in enumerate(tasks):
        if task.alone is not None or k in known or (task.room, task.key) in told:
            continue
        free = site.calendar.opens(max([start, *(site.after(done[after.task].end, after.wait) for after in task.after)]))
        day = site.calendar.day_of(free)
        why = site.climate.why_not(day)
        if site.laying.works_on(day) or why is None:
            continue
        told.add((task.room, task.key))
        first = site.calendar.shown(site.laying.opens(free))
        text = worded(
            "{where}: {name} is refused on {day}: {found}; it can be done on {first}, or {mend}",
            where=where(task, names),
            name=task.name,
            day=timed(day, DAY),
            found=why.found,
            first=timed(first, DAY),
            mend=why.mend,
        )
        yield Finding(code="too-cold", text=text)


def weather_ends(site: Site, end: dt.datetime) -> Iterator[Finding]:
    """Whether the works go on after the last day whose temperature is given."""
    if not site.climate.days:
        return
    last, air = site.climate.days[-1]
    if site.calendar.shown(end).date() > last:
        text = worded(
            "the weather is given until {last}; {surface:g} °C goes on until the works end on {end}",
            last=timed(last, DAY),
            surface=air.surface,
            end=timed(site.calendar.shown(end), DAY),
        )
        yield Finding(code="weather-ends", text=text)


def missed_in_words(tasks: Sequence[Task], each: Missed, names: tuple[str, ...], site: Site) -> str:
    """A window that is missed."""
    task, before = tasks[each.task], tasks[each.after]
    shown = site.calendar.shown
    at, by = timed(shown(each.at), MOMENT), timed(shown(each.by), MOMENT)
    comes = worded("{name} goes on to {at}", name=task.name, at=at) if each.late else worded("{name} comes at {at}", name=task.name, at=at)
    if task.chain is None:
        window = worded("{name}, not broadcast, takes tile until {by} only", name=before.name, by=by)
    else:
        window = worded("the window of {name} closes at {by}", name=before.name, by=by)
    return worded("{where}: {comes}, but {window}", where=where(task, names), comes=comes, window=window)


def one_a_room(tasks: Sequence[Task], missed: Sequence[Missed]) -> list[Missed]:
    """Windows that are missed; of a room's tile the first stage that is, since the others come after it."""
    told: set[int] = set()
    result = []
    for each in missed:
        task = tasks[each.task]
        if task.chain is None and task.room in told:
            continue
        if task.chain is None:
            told.add(task.room)
        result.append(each)
    return result


def in_rooms(moments: Mapping[int, dt.datetime], site: Site) -> dict[int, dt.datetime]:
    """Moments by room as the site's clock shows them."""
    return {room: site.calendar.shown(at) for room, at in moments.items()}
