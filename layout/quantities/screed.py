"""Screed to falls, where a room has levels."""

from __future__ import annotations

from typing import TYPE_CHECKING

from layout.quantities.values import Part, Place, Quantity, words_of

if TYPE_CHECKING:
    from layout.setout.values import SetOut


def screed(setout: SetOut) -> list[Quantity]:
    """Volume of the screed of each floor with levels, m³."""
    parts, reach = [], []
    for index, room in enumerate(setout.rooms):
        if room.levels is not None:
            made = room.levels.screed
            floor = room.lining.floor.id
            parts.append(Part(Place(index, "surface", floor, words=words_of(setout, room, "floor")), made.volume))
            reach.append(f"{made.least:.0f} to {made.most:.0f} thick")
    return [Quantity(parts=tuple(parts), names={"reach": ", ".join(dict.fromkeys(reach))})]
