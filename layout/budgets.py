"""How much is read and worked on before a person is asked: one table of bounds.

A bound is far beyond any room that is tiled, so what passes it is nearly always a slip (a zero too many, a wrong unit) or a
file that would run for hours. Each can be set: in a plan under [budgets], for one command by `--budget NAME=NUMBER`, which goes
before the plan's, and by `read_dxf(..., budgets=)` or `with_bounds`. All are common practice without a source, except where said.

Time and memory are bounds like the others: work that passes one is refused, never cut short, so a result does not depend on
how fast a machine is. They are looked at in cheap places (`heed`) of what runs `within` them.
"""

from __future__ import annotations

import sys
import time
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from layout.errors import BudgetError, PlanError, PlanFaults
from layout.fields import Count, Faults, Number, shown
from layout.keys import declared, key, rows_of, told_unknown

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence


SIZE = Number(0.0, 1e5, above=True, length=False)
MANY = Count(1, 100_000_000)
LONG = Number(0.0, 1e9, above=True, length=False)


@declared
class Budgets:
    """Bounds of what is read and worked on."""

    file_mb: float = key(SIZE, "size of a text file: plan, products, rates, survey, outlines", unit="MB", default=20.0, since="0.2")
    drawing_mb: float = key(SIZE, "size of a drawing (DXF)", unit="MB", default=150.0, since="0.2")
    model_mb: float = key(SIZE, "size of a building model (IFC)", unit="MB", default=300.0, since="0.2")
    rows: int = key(MANY, "lines of a table of readings or points", default=20_000, since="0.2")
    cell: int = key(MANY, "letters of one line of such a table", default=1_000, since="0.2")
    digits: int = key(Count(20, 4_300), "digits of one number of a text file", default=1_000, since="0.2")
    depth: int = key(Count(10, 200), "lists and tables within one another, of a text file", default=100, since="0.2")
    entities: int = key(MANY, "entities of a drawing, blocks exploded", default=300_000, since="0.2")
    inserts: int = key(MANY, "copies of a block that one insert sets out in rows and columns", default=10_000, since="0.2")
    nesting: int = key(Count(1, 50), "blocks within blocks of a drawing", default=8, since="0.2")
    polygons: int = key(MANY, "outlines of a GeoJSON file", default=10_000, since="0.2")
    rooms: int = key(MANY, "rooms of a plan", default=1_000, since="0.2")
    things: int = key(MANY, "things of one kind in a room", default=5_000, since="0.2")
    corners: int = key(MANY, "corners of an outline", default=20_000, since="0.2")
    side: float = key(Number(1.0, 1e9), "length of a side of an outline", unit="mm", default=500_000.0, since="0.2")
    extent: float = key(Number(1.0, 1e9), "width and depth of an outline over all", unit="mm", default=1_000_000.0, since="0.2")
    aspect: float = key(Number(1.0, 1e12, length=False), "the square of a room's longest way over its area", default=20_000.0, since="0.2")
    tile_least: float = key(Number(0.001, 1e9), "side of a tile, at least", unit="mm", default=1.0, since="0.2")
    tile_most: float = key(Number(1.0, 1e9), "side of a tile, at most", unit="mm", default=5_000.0, since="0.2")
    tiles: int = key(Count(1, 50_000_000), "tiles of one surface, as estimated", default=2_000_000, since="0.2")
    cuts: int = key(MANY, "cut tiles along the edges of one surface, as estimated", default=200_000, since="0.2")
    remeasured: float = key(
        Number(1.0, 1e9), "how far an as-measured length may be off the plan before it is refused", unit="mm", default=500.0, since="0.2"
    )
    remeasured_told: float = key(Number(0.0, 1e9), "how far it may be off before it is told", unit="mm", default=50.0, since="0.2")
    seconds: float = key(
        LONG, "time that the processor works on reading a file, or on setting a plan out", unit="s", default=3_600.0, since="0.2"
    )
    memory_mb: float = key(
        LONG, "memory that the work takes at its most, where the system tells it", unit="MB", default=16_000.0, since="0.2"
    )


BUDGETS = Budgets()

_GIVEN: ContextVar[tuple[str, ...]] = ContextVar("given", default=())


def in_force(budgets: Budgets = BUDGETS) -> Budgets:
    """Budgets with those set that `with_bounds` gives for all that is done now."""
    given = _GIVEN.get()
    return replace(budgets, **_bounds(given)) if given else budgets


def bounds_given() -> tuple[str, ...]:
    """What `with_bounds` was given, for a process that goes on with the work."""
    return _GIVEN.get()


@contextmanager
def with_bounds(given: Sequence[str]) -> Iterator[None]:
    """Have bounds, each as ``name=number``, go before all others for all that is read and worked on meanwhile.

    Raises
    ------
    PlanFaults
        If a name or a number is none.
    """
    _bounds(given)
    token = _GIVEN.set((*_GIVEN.get(), *given))
    try:
        yield
    finally:
        _GIVEN.reset(token)


def budgets_of(given: Sequence[str]) -> Budgets:
    """Budgets with some set, each as ``name=number``. Errors are those of `with_bounds`."""
    return replace(BUDGETS, **_bounds(given))


def _bounds(given: Sequence[str]) -> dict[str, Any]:
    """Bounds by name.

    Raises
    ------
    PlanFaults
        If a name or a number is none.
    """
    rows, faults = rows_of(Budgets), Faults("--budget")
    found: dict[str, Any] = {}
    for each in given:
        name, _, text = each.partition("=")
        if name not in rows:
            told_unknown(name, tuple(rows), shown(name), faults)
            continue
        try:
            number = float(text)
        except ValueError:
            faults.add(shown(each), "there is no number", f"give a number, as {name}={rows[name].default:g}")
            continue
        value = rows[name].key.check.read(number, name, faults)
        if value is not None:
            found[name] = value
    if faults.found:
        raise PlanFaults(tuple(faults.found))
    return found


def over(
    place: str, found: float, what: str, bound: str, mend: str, budgets: Budgets = BUDGETS, kind: type[PlanError] = PlanError
) -> PlanError:
    """That a figure is over its bound, with the mend and how to raise it."""
    limit = getattr(budgets, bound)
    return kind(place, f"{found:,.10g} {what} are over the bound of {limit:,.10g}", f"{mend}; or raise budgets.{bound}")


@dataclass(frozen=True, slots=True)
class _Work:
    """What is worked on, its bounds, and what had been used when it began: s of this thread, MB of the process."""

    place: str
    budgets: Budgets
    begun: float
    memory: float


_WORK: ContextVar[_Work | None] = ContextVar("work", default=None)


@contextmanager
def within(place: str, budgets: Budgets) -> Iterator[None]:
    """Work that keeps to its bounds of time and memory; `place` is the file that a message names.

    Work within work counts as a part of the outer, so that the bound is one for all that a person waits for.
    """
    if _WORK.get() is not None:
        yield
        return
    token = _WORK.set(_Work(place, budgets, time.thread_time(), peak_mb()))
    try:
        yield
    finally:
        _WORK.reset(token)


def heed() -> None:
    """Look whether the work is still within its bounds; nothing where there are none.

    Raises
    ------
    BudgetError
        If it has used up its time or memory.
    """
    work = _WORK.get()
    if work is None:
        return
    bounds = work.budgets
    spent = time.thread_time() - work.begun
    if spent > bounds.seconds:
        raise over(work.place, round(spent, 2), "s of work", "seconds", "part it, or leave out what is not built", bounds, BudgetError)
    memory = peak_mb()
    if memory > bounds.memory_mb and memory > work.memory:
        raise over(work.place, round(memory), "MB of memory", "memory_mb", "part it, or leave out what is not built", bounds, BudgetError)


def peak_mb() -> float:
    """Memory that this process has taken at its most, MB; 0 where the system does not tell it."""
    try:
        import resource  # noqa: PLC0415  # not there on every system
    except ImportError:
        return 0.0
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return most / (1e6 if sys.platform == "darwin" else 1e3)  # bytes there, kB elsewhere
