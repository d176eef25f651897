"""Mends that findings offer and a plan can take by itself: starts of floors that leave fewer weak pieces."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from layout.errors import SetOutError
from layout.start.mends import weak_count

if TYPE_CHECKING:
    from layout.errors import Point
    from layout.setout.values import SetOut
    from layout.start.mends import Shift


@dataclass(frozen=True, slots=True)
class Mended:
    """A floor whose start was fixed to the one offered: its room, the start, mm, and its weak pieces before and after."""

    room: str
    start: Point
    weak_before: int
    weak_after: int

    def words(self) -> str:
        """What was done, for the person who asked."""
        x, y = self.start
        return f"{self.room}: the floor starts at [{x:g}, {y:g}] now; weak pieces: {self.weak_before} before, {self.weak_after} now"


def offered_mends(setout: SetOut) -> dict[int, Shift]:
    """The starts that the findings of floors offer, by room."""
    return {k: room.floor.mend for k, room in enumerate(setout.rooms) if room.floor.mend is not None}


def mends_taken(before: SetOut, after: SetOut) -> tuple[Mended, ...]:
    """What taking every mend that `before` offers has done, seen in the set-out of the plan that took them.

    Raises
    ------
    SetOutError
        If one does not hold: more weak pieces are left than was offered, or cuts are narrower by more than the walls' tolerance.
    """
    rows = []
    for k, mend in offered_mends(before).items():
        was, now = before.rooms[k], after.rooms[k]
        weak = weak_count(now.floor.field)
        if weak > mend.left or now.floor.start.worst < was.floor.start.worst - before.plan.rules.wall_tolerance:
            raise SetOutError(f"{before.plan.source}, {was.name}", f"the start {mend.words()} leaves {weak} weak pieces", "keep the start")
        start = (round(mend.to[0], 1), round(mend.to[1], 1))
        rows.append(Mended(was.name, start, weak_count(was.floor.field), weak))
    return tuple(rows)
