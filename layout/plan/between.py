"""What must agree between the rooms of a job: their names, the doors they share, the deliveries they come with."""

from __future__ import annotations

import difflib
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from layout.fields import Faults
    from layout.plan.values import PlanFile, Room


def check_rooms(typed: PlanFile, rooms: tuple[Room, ...], faults: Faults) -> None:
    """Note what contradicts between rooms; `typed` is the file that they come from."""
    names = [room.name for room in rooms]
    for k, name in enumerate(names):
        if name in names[:k]:
            faults.add(f"rooms[{k}].name", f'"{name}" names an earlier room too', "give each room a name of its own")
    _check_same_doors(rooms, faults)
    _check_deliveries(typed, rooms, faults)


def _check_same_doors(rooms: tuple[Room, ...], faults: Faults) -> None:
    """A door that is another room's must be a door there."""
    names = {room.name: room for room in rooms}
    for r, room in enumerate(rooms):
        for k, opening in enumerate(room.openings):
            if opening.same_as is None:
                continue
            place, other = f"rooms[{r}].openings[{k}].same_as", names.get(opening.same_as.room)
            if other is None or other is room:
                others = ", ".join(f'"{name}"' for name in names if name != room.name) or "none: put the other room into the plan"
                faults.add(f"{place}.room", f'there is no other room "{opening.same_as.room}"', f"other rooms are {others}")
                continue
            there = next((each for each in other.openings if each.name == opening.same_as.opening), None)
            if there is None:
                known = ", ".join(f'"{each.name}"' for each in other.openings) or "none"
                faults.add(f"{place}.opening", f'"{other.name}" has no opening "{opening.same_as.opening}"', f"its openings are {known}")
            elif opening.sill > 0.0 or there.sill > 0.0:
                faults.add(place, "an opening with a sill has no threshold", "leave it out")


def _check_deliveries(typed: PlanFile, rooms: tuple[Room, ...], faults: Faults) -> None:
    """Deliveries have names of their own, and are for rooms and storeys that there are."""
    names = [each.name for each in typed.deliveries]
    storeys = dict.fromkeys(room.storey for room in rooms if room.storey)
    for k, each in enumerate(typed.deliveries):
        place = f"deliveries[{k}]"
        if each.name in names[:k]:
            faults.add(f"{place}.name", f'"{each.name}" names an earlier delivery too', "give each delivery a name of its own")
        for word, wanted, known in (("room", each.rooms, [room.name for room in rooms]), ("storey", each.storeys, list(storeys))):
            for name in wanted:
                if name not in known:
                    near = difflib.get_close_matches(name[:100], known, n=1)
                    listed = ", ".join(f'"{one}"' for one in known[:20]) or "none: give the rooms a storey"
                    mend = f'did you mean "{near[0]}"?' if near else f"{word}s are {listed}"
                    faults.add(f"{place}.{word}s", f'there is no {word} "{name}"', mend)
