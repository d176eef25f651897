"""Three things to look at in a new plan before anybody builds from it: what was found first, then what was taken for granted."""

from __future__ import annotations

from typing import TYPE_CHECKING

import layout

if TYPE_CHECKING:
    from layout import SetOut

WEIGHTS = ("stop", "look", "note")


def look_at(setout: SetOut) -> str:
    """Findings by their weight, each code once; then the narrowest cut, falls and build-up as they were taken; three in all."""
    room = setout.rooms[0]
    told: dict[str, str] = {}
    for finding in sorted(room.findings, key=lambda each: WEIGHTS.index(layout.CODES[each.code].weight)):
        more = sum(each.code == finding.code for each in room.findings) - 1
        told.setdefault(finding.code, f"{finding.text}{f', and {more} more like it' if more else ''} (check --explain {finding.code})")
    start, tile = room.floor.start, room.floor.tile
    where = f" at {start.smallest_at}" if start.smallest_at else ""
    rules = setout.plan.rules
    taken = [
        f"the narrowest cut of the floor is {start.smallest:.0f} mm{where}; {start.worst:.0f} if walls stand off by {rules.wall_tolerance:g}",
        "the floor is level: no fall is given, and water stays where it lies" if room.levels is None else "",
        f"taken for granted: tile {tile.thickness:g} thick on a bed of {tile.bed:g}, membrane {rules.membrane:g}; "
        f"joints by {rules.movement.name}; measure them, or name your own",
        "measure both diagonals of the room, and tell the plan what they are",
    ]
    lines = [*told.values(), *(each for each in taken if each)][:3]
    return "\n".join(["look at three things:", *(f"  {k}. {line}" for k, line in enumerate(lines, 1))])
