"""What is to be done: stages of each room cut into areas that take a day at most, what each waits for and by when it must follow.

Membrane is laid in areas, each with its own chain of prime, details and coats, whose windows count from that area; grout in
areas of its own, washed up on the day. A flood test takes the whole room; tile is fixed over as many days as it takes.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from layout.programme.task import After, Task
from layout.quantities.pace import fixing_stage
from layout.units import EPS

if TYPE_CHECKING:
    from collections.abc import Callable

    from layout.plan.works import Works
    from layout.programme.site import Site
    from layout.quantities.values import Place, TakeOff, Work
    from layout.standards.products import Products


def tasks_of(takeoff: TakeOff, works: Works, site: Site, *, quartz: bool, rooms: frozenset[int] | None = None) -> list[Task]:
    """Tasks of all rooms, or of some, by the hands of the plan; each comes after those that it waits for.

    `quartz` if the last coat is broadcast, and so takes tile for good.
    """
    result: list[Task] = []
    for room in range(len(takeoff.setout.rooms)):
        if rooms is None or room in rooms:
            _Room(takeoff, room, works, site, quartz, result).add()
    return result


class _Room:
    """Adds the tasks of one room."""

    def __init__(self, takeoff: TakeOff, room: int, works: Works, site: Site, quartz: bool, tasks: list[Task]) -> None:
        self.takeoff, self.room, self.works, self.site, self.tasks = takeoff, room, works, site, tasks
        self.quartz = quartz
        self.products: Products = takeoff.setout.plan.products

    def add(self) -> None:
        """Membrane by areas, flood test, tile, grout by areas, sealant."""
        products = self.products
        coats = self._membrane()
        tested = coats
        if coats:
            after = tuple(After(k, products.membrane_cure_h.value) for k in coats)
            tested = [self._put("flood", 0.0, after, alone=products.flood_test_h.value)]
        fixed = self._fixing(tested, coats)
        cured = tuple(After(k, products.adhesive_cure_h.value) for k in fixed) or tuple(After(k, 0.0) for k in tested)
        grouted = self._grout(cured)
        dry = tuple(After(k, products.grout_cure_h.value) for k in grouted) or cured
        if (hours := self._hours("sealing")) > 0.0:
            self._put("sealant", hours, dry)

    def _hours(self, work: Work, which: Callable[[Place], bool] = lambda _: True) -> float:
        return math.fsum(part.quantity for part in self.takeoff.worked(work) if part.place.room == self.room and which(part.place))

    def _coat(self, number: int) -> float:
        """Hours of one coat; a single one has no number."""
        return self._hours("coating", lambda at: (at.coat or 1) == number)

    def _areas(self, key: str, hours: float, tail: float = 0.0) -> int:
        """Areas of a stage that take a day of its hands at most, with what is washed up after it in that day; none is too short for that."""
        day = self.site.calendar.hours
        own = day - tail if tail < day else day
        return max(math.ceil(hours / (own * self.works.hands_at(key)) - EPS), 1)

    def _put(
        self, key: str, hours: float, after: tuple[After, ...], *, area: int = 1, areas: int = 1, whole: bool = False,
        alone: float | None = None, chain: int | None = None, tail: float = 0.0,
    ) -> int:  # fmt: skip
        opens = chain is not None and not after
        own = self.works.hands_at(key)
        task = Task(
            room=self.room, key=key, hours=hours, after=after, area=area, areas=areas, whole=whole, alone=alone, chain=chain, opens=opens,
            hands=0 if own == self.site.hands else own, tail=tail,
        )  # fmt: skip
        self.tasks.append(task)
        return len(self.tasks) - 1

    def _membrane(self) -> list[int]:
        """Prime, details and coats of each area; the last tasks of the areas."""
        p = self.products
        coats = round(p.membrane_coats.value)
        recoat = (p.membrane_recoat_from_h.value, p.membrane_recoat_by_h.value)
        steps = [("prime", self._hours("priming"), (p.primer_recoat_from_h.value, p.primer_recoat_by_h.value))]
        steps.append(("details", self._hours("detailing"), recoat))
        steps += [(f"coat {k}", self._coat(k), recoat) for k in range(1, coats + 1)]
        steps = [step for step in steps if step[1] > 0.0]
        areas = max((max(self._areas(key, hours), self.works.areas) for key, hours, _ in steps), default=0)
        chains = max((task.chain for task in self.tasks if task.chain is not None), default=-1) + 1
        last = []
        for area in range(1, areas + 1):
            after: tuple[After, ...] = ()
            at = -1
            for key, hours, (wait, by) in steps:
                at = self._put(key, hours / areas, after, area=area, areas=areas, whole=True, chain=chains + area - 1)
                after = (After(at, wait, by),)
            last.append(at)
        return last

    def _fixing(self, tested: list[int], coats: list[int]) -> list[int]:
        """Tile on walls, floor, then the bottom course; within its window after the last coat unless that is broadcast."""
        p = self.products
        window = None if self.quartz else p.membrane_tile_by_h.value
        coat = tuple(After(k, 0.0, window) for k in coats if window is not None)
        before = tuple(After(k, p.flood_dry_h.value if coats else 0.0) for k in tested)

        def of(stage: str) -> float:
            return self._hours("fixing", lambda at: fixing_stage(at) == stage)

        result: list[int] = []
        if (hours := of("walls")) > 0.0:
            result.append(self._put("walls", hours, (*before, *coat)))
            before = (After(result[-1], 0.0),)
        if (hours := of("floor")) > 0.0:
            result.append(self._put("floor", hours, (*before, *coat)))
            before = (After(result[-1], p.adhesive_cure_h.value),)
        if (hours := of("bottom")) > 0.0:
            result.append(self._put("bottom", hours, before))
        return result

    def _grout(self, cured: tuple[After, ...]) -> list[int]:
        """Grout by areas, each washed up within the shift in which it is worked in."""
        hours, tail = self._hours("grouting"), self.products.grout_wash_by_min.value / 60.0
        if hours <= 0.0:
            return []
        areas = max(self._areas("grout", hours, tail * self.site.climate.slowest), self.works.areas)
        return [self._put("grout", hours / areas, cured, area=k, areas=areas, whole=True, tail=tail) for k in range(1, areas + 1)]
