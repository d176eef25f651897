"""What is to be done: stages of each room cut into areas that take a day at most, what each waits for and by when it must follow.

Membrane is laid in areas, each with its own chain of prime, details and coats, whose windows count from that area; grout in
areas of its own, washed up on the day. A flood test takes the whole room; tile is fixed over as many days as it takes.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from layout.units import EPS

if TYPE_CHECKING:
    from collections.abc import Callable

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


@dataclass(frozen=True, slots=True)
class After:
    """A task waits for another's end, `wait` hours, and must follow within `by` hours of it (None: no end).

    The window counts from each square metre: what was done first must be followed first.
    """

    task: int
    wait: float
    by: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One stage of one area: `hours` of one hand; `whole` if it is not left overnight; `alone` hours that pass without hands.

    `chain` numbers the areas of membrane of all rooms; `opens` if it is the first of its chain.
    """

    room: int
    key: str
    hours: float
    after: tuple[After, ...] = ()
    area: int = 1
    areas: int = 1
    whole: bool = False
    alone: float | None = None
    chain: int | None = None
    opens: bool = False

    @property
    def name(self) -> str:
        """The stage in words."""
        return NAMES.get(self.key, f"membrane, {self.key}")


def tasks_of(takeoff: TakeOff, *, day: float, factor: float) -> list[Task]:
    """Tasks of all rooms; each comes after those that it waits for.

    Parameters
    ----------
    day : hours of hands in a working day.
    factor : how many times longer resin takes than at 20 degrees.
    """
    result: list[Task] = []
    for room in range(len(takeoff.setout.rooms)):
        _Room(takeoff, room, day, factor, result).add()
    return result


class _Room:
    """Adds the tasks of one room."""

    def __init__(self, takeoff: TakeOff, room: int, day: float, factor: float, tasks: list[Task]) -> None:
        self.takeoff, self.room, self.day, self.factor, self.tasks = takeoff, room, day, factor, tasks
        self.products: Products = takeoff.setout.plan.products

    def add(self) -> None:
        """Membrane by areas, flood test, tile, grout by areas, sealant."""
        products, factor = self.products, self.factor
        coats = self._membrane()
        tested = coats
        if coats:
            after = tuple(After(k, products.membrane_cure_h.value * factor) for k in coats)
            tested = [self._put("flood", 0.0, after, alone=products.flood_test_h.value)]
        fixed = self._fixing(tested, coats)
        cured = tuple(After(k, products.adhesive_cure_h.value * factor) for k in fixed) or tuple(After(k, 0.0) for k in tested)
        grout = self._hours("grouting")
        areas = self._areas(grout)
        grouted = [self._put("grout", grout / areas, cured, area=k, areas=areas, whole=True) for k in range(1, areas + 1) if grout > 0.0]
        dry = tuple(After(k, products.grout_cure_h.value * factor) for k in grouted) or cured
        if (hours := self._hours("sealing")) > 0.0:
            self._put("sealant", hours, dry)

    def _hours(self, work: Work, which: Callable[[Place], bool] = lambda _: True) -> float:
        return sum(part.quantity for part in self.takeoff.worked(work) if part.place.room == self.room and which(part.place))

    def _coat(self, number: int) -> float:
        """Hours of one coat; a single one has no number."""
        return self._hours("coating", lambda at: (at.coat or 1) == number)

    def _areas(self, hours: float) -> int:
        return max(math.ceil(hours / self.day - EPS), 1)

    def _put(
        self, key: str, hours: float, after: tuple[After, ...], *, area: int = 1, areas: int = 1, whole: bool = False,
        alone: float | None = None, chain: int | None = None,
    ) -> int:  # fmt: skip
        opens = chain is not None and not after
        task = Task(
            room=self.room, key=key, hours=hours, after=after, area=area, areas=areas, whole=whole, alone=alone, chain=chain, opens=opens
        )  # fmt: skip
        self.tasks.append(task)
        return len(self.tasks) - 1

    def _membrane(self) -> list[int]:
        """Prime, details and coats of each area; the last tasks of the areas."""
        p, factor = self.products, self.factor
        coats = round(p.membrane_coats.value)
        recoat = (p.membrane_recoat_from_h.value, p.membrane_recoat_by_h.value)
        steps = [("prime", self._hours("priming"), (p.primer_recoat_from_h.value, p.primer_recoat_by_h.value))]
        steps.append(("details", self._hours("detailing"), recoat))
        steps += [(f"coat {k}", self._coat(k), recoat) for k in range(1, coats + 1)]
        steps = [step for step in steps if step[1] > 0.0]
        areas = max((self._areas(hours) for _, hours, _ in steps), default=0)
        chains = max((task.chain for task in self.tasks if task.chain is not None), default=-1) + 1
        last = []
        for area in range(1, areas + 1):
            after: tuple[After, ...] = ()
            at = -1
            for key, hours, (wait, by) in steps:
                at = self._put(key, hours / areas, after, area=area, areas=areas, whole=True, chain=chains + area - 1)
                after = (After(at, wait * factor, by * factor),)
            last.append(at)
        return last

    def _fixing(self, tested: list[int], coats: list[int]) -> list[int]:
        """Tile on walls, floor, then the bottom course; within its window after the last coat unless that is broadcast."""
        p = self.products
        window = None if self.takeoff.setout.plan.rules.quartz_last else p.membrane_tile_by_h.value * self.factor
        coat = tuple(After(k, 0.0, window) for k in coats if window is not None)
        before = tuple(After(k, 0.0) for k in tested)
        floor = ("floor", "border")

        def on_floor(place: Place) -> bool:
            return place.surface is not None and place.surface.kind in floor

        result: list[int] = []
        walls = self._hours("fixing", lambda at: not on_floor(at) and not at.course)
        if walls > 0.0:
            result.append(self._put("walls", walls, (*before, *coat)))
            before = (After(result[-1], 0.0),)
        if (hours := self._hours("fixing", on_floor)) > 0.0:
            result.append(self._put("floor", hours, (*before, *coat)))
            before = (After(result[-1], p.adhesive_cure_h.value * self.factor),)
        if (hours := self._hours("fixing", lambda at: at.course == "bottom")) > 0.0:
            result.append(self._put("bottom", hours, before))
        return result
