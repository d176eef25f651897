"""What must agree within one room of a plan, and what follows: numbers of what has no name, names told apart, heights, falls, walls."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING, Any, TypeVar

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from layout.fields import Faults
    from layout.plan.tile import Tile
    from layout.plan.values import Drain, Fall, Room

    Item = TypeVar("Item", bound=Any)  # anything with a name


def settled_room(typed: Room, index: int, tiles: Mapping[str, Tile], faults: Faults) -> Room:
    """A room with its things numbered and told apart; what does not agree in it goes to the faults."""
    place = f"rooms[{index}]"
    typed = _apart_from_marks(typed)
    room = replace(
        typed,
        name=typed.name or f"Room {index + 1}",
        openings=_apart(_numbered(typed.openings, "opening")),
        drains=_numbered(typed.drains, ""),
        plinths=_numbered(typed.plinths, "plinth"),
        columns=_numbered(typed.columns, "column"),
        pipes=_numbered(typed.pipes, "pipe"),
        fixings=_numbered(typed.fixings, "fixing"),
        structural_joints=_apart(_numbered(typed.structural_joints, "structural joint")),
        day_joints=_apart(_numbered(typed.day_joints, "day joint")),
        falls=_apart(_numbered(typed.falls, "fall")),
    )
    for k, opening in enumerate(room.openings):
        if opening.head <= opening.sill:
            faults.add(f"{place}.openings[{k}].head", f"{opening.head:g} is not above the sill", f"give more than {opening.sill:g}")
    for k, drain in enumerate(room.drains):
        _check_drain(drain, f"{place}.drains[{k}]", faults)
    for kind, breaks in (("pipes", room.pipes), ("fixings", room.fixings)):
        for k, each in enumerate(breaks):
            here = f"{place}.{kind}[{k}]"
            if (each.at is None) == (each.wall is None):
                faults.add(here, "it needs one place", "give either at = [x, y] on the floor, or wall, offset and level")
            elif each.wall is not None and (each.along is None or each.up is None):
                faults.add(here, "its place on the wall is not complete", "give offset and level")
    for k, fall in enumerate(room.falls):
        _check_fall(fall, f"{place}.falls[{k}]", faults)
    if room.levels.slab is not None and room.levels.least is not None:
        faults.add(f"{place}.levels.slab", "the least screed is given too", "give slab or screed")
    _check_names(room, place, tiles, faults)
    _check_walls(room, place, faults)
    _check_doubt(typed, place, faults)
    _check_heights(room, place, faults)
    return room


def like_a_mark(name: str) -> bool:
    """Whether a name reads as the sheets' own: of a cut piece (C3), a start line (A, A2), a tape run (R2), a joint (J1), a test point (P1).

    >>> [like_a_mark(name) for name in ("C3", "A", "r 2", "gully 1", "WC")]
    [True, True, True, False, False]
    """
    return MARK.fullmatch(name) is not None


MARK = re.compile(r"[A-Za-z][ .-]?\d{0,4}")
LIKE_A_WALL = re.compile(r"wall \d+")
"""What a wall is called by its number."""


def _apart_from_marks(room: Room) -> Room:
    """Things in a room whose names read as marks or as a wall's number get their kind in front: a column "C3" is "column C3".

    Falls, pulls and what is out of view go on to find them.
    """
    called: dict[str, str] = {}

    def apart(items: tuple[Any, ...], word: str) -> tuple[Any, ...]:
        result = []
        for each in items:
            if each.name and (like_a_mark(each.name) or LIKE_A_WALL.fullmatch(each.name)):
                called[each.name] = f"{word or each.kind} {each.name}"
                each = replace(each, name=called[each.name])  # the same thing by its longer name
            result.append(each)
        return tuple(result)

    things: dict[str, Any] = {
        "drains": apart(room.drains, ""),
        "plinths": apart(room.plinths, "plinth"),
        "columns": apart(room.columns, "column"),
        "pipes": apart(room.pipes, "pipe"),
        "fixings": apart(room.fixings, "fixing"),
    }
    if not called:
        return room
    falls = tuple(replace(fall, to=called.get(fall.to, fall.to), name=called.get(fall.name, fall.name)) for fall in room.falls)
    # an opening or a wall of that name keeps it, and is what a pull means
    walls = {name for name in (*(vertex.wall for vertex in room.outline), *(note.name for note in room.walls)) if name}
    walls |= {name for name in called if LIKE_A_WALL.fullmatch(name)}
    kept = walls | {opening.name for opening in room.openings}
    pulls = tuple(
        replace(pull, to=called[pull.to]) if isinstance(pull.to, str) and pull.to in called and pull.to not in kept else pull
        for pull in room.pulls
    )
    hidden = tuple(called.get(ref, ref) if isinstance(ref, str) and ref not in walls else ref for ref in room.hidden)
    return replace(room, **things, falls=falls, pulls=pulls, hidden=hidden)


def default_names(items: Sequence[Any], word: str) -> list[str]:
    """What things of a list are called where a person gave no name: by their kind and place; with no `word` each by its own kind.

    >>> from types import SimpleNamespace as Drain
    >>> default_names([Drain(kind="gully"), Drain(kind="channel"), Drain(kind="gully")], "")
    ['gully 1', 'channel 1', 'gully 2']
    """
    counts: Counter[str] = Counter()
    names = []
    for each in items:
        kind = word or each.kind
        counts[kind] += 1
        names.append(f"{kind} {counts[kind]}")
    return names


def _numbered(items: tuple[Item, ...], word: str) -> tuple[Item, ...]:
    """Things of one kind, those without a name called by their kind and place in the list."""
    return tuple(each if each.name else replace(each, name=name) for each, name in zip(items, default_names(items, word), strict=True))


def _apart(items: tuple[Item, ...]) -> tuple[Item, ...]:
    """Things of one kind with the words for them told apart: a second "door" is "door 2"."""
    taken = {each.name for each in items}
    seen: set[str] = set()
    result = []
    for each in items:
        name, count = each.name, 1
        while name in seen or (count > 1 and name in taken):
            count += 1
            name = f"{each.name} {count}"
        seen.add(name)
        result.append(each if name == each.name else replace(each, name=name))
    return tuple(result)


def _check_drain(drain: Drain, place: str, faults: Faults) -> None:
    if drain.kind == "gully" and drain.middle is None:
        faults.add(f"{place}.at", "it is missing", "give the centre of the gully as [x, y]")
    elif drain.kind == "channel" and (drain.begin is None or drain.end is None or drain.begin == drain.end):
        faults.add(place, "a channel needs two different ends", "give from = [x, y] and to = [x, y]")


def _check_fall(fall: Fall, place: str, faults: Faults) -> None:
    if not fall.to and not fall.plane:
        faults.add(place, "it goes to no drain", 'give to = "gully 1", or plane = three points [x, y, level]')
    elif fall.plane and any(each is not None for each in (fall.ratio, fall.drop, fall.perimeter)):
        faults.add(f"{place}.plane", "a given plane has its own ratio and perimeter", "give the plane alone, with region and to at most")
    elif fall.ratio is not None and fall.drop is not None:
        faults.add(f"{place}.drop", "a ratio is given too", "give ratio or drop")


def _check_heights(room: Room, place: str, faults: Faults) -> None:
    """Nothing is tanked or tiled above the ceiling."""
    height = room.height
    if height is None:
        return
    mend = f"the room is {height:g} high; give at most that"

    def check(where: str, value: float | None) -> None:
        if value is not None and value > height:
            faults.add(f"{place}.{where}", f"{value:g} is above the ceiling", mend)

    check("tanking_height", room.tanking_height)
    for k, note in enumerate(room.walls):
        check(f"walls[{k}].tanking_height", note.tanking_height)
    check("tile_height", room.tile_height)
    for k, note in enumerate(room.walls):
        check(f"walls[{k}].tile_height", note.tile_height)
    for k, opening in enumerate(room.openings):
        check(f"openings[{k}].head", opening.head)


def _check_walls(room: Room, place: str, faults: Faults) -> None:
    """A name means one wall."""
    count = len(room.outline)
    named = [(f"outline[{k}].wall", vertex.wall) for k, vertex in enumerate(room.outline) if vertex.wall]
    for k, note in enumerate(room.walls):
        edge = room.edge_of(note.wall, noted=False)
        own = room.outline[edge % count].wall if edge is not None and 1 <= edge <= count else None
        if note.name and own and note.name != own:
            faults.add(f"{place}.walls[{k}].name", f'the outline calls that wall "{own}"', "give a wall one name")
        elif note.name and note.name != own:
            named.append((f"walls[{k}].name", note.name))
    seen: set[str] = set()
    for where, name in named:
        if name in seen:
            faults.add(f"{place}.{where}", f'"{name}" is used twice', "give each wall a name of its own")
        seen.add(name)


def _check_doubt(typed: Room, place: str, faults: Faults) -> None:
    """A pull must not refer to a name that several openings bear."""
    names = [opening.name for opening in typed.openings]
    for k, pull in enumerate(typed.pulls):
        count = names.count(str(pull.to)) if pull.to and pull.want in ("whole", "axis", "carry") else 0
        if count > 1:
            faults.add(f"{place}.pulls[{k}].to", f'{count} openings are called "{pull.to}"', "give each a name of its own")


def _check_names(room: Room, place: str, tiles: Mapping[str, Tile], faults: Faults) -> None:
    seen: set[str] = set()
    kinds: tuple[tuple[str, tuple[Any, ...]], ...] = (
        ("drains", room.drains),
        ("plinths", room.plinths),
        ("columns", room.columns),
        ("pipes", room.pipes),
        ("fixings", room.fixings),
    )
    for kind, items in kinds:
        for k, each in enumerate(items):
            if each.name in seen:
                faults.add(f"{place}.{kind}[{k}].name", f'"{each.name}" is used twice', "give each a name of its own")
            seen.add(each.name)
    known = {"floor", "wall", "plinth", *tiles}
    wanted = [(f"{place}.floor_tile", room.floor_tile), (f"{place}.wall_tile", room.wall_tile)]
    tiled: tuple[tuple[str, tuple[Any, ...]], ...] = (("walls", room.walls), ("plinths", room.plinths), ("columns", room.columns))
    for kind, noted in tiled:
        wanted += [(f"{place}.{kind}[{k}].tile", each.tile) for k, each in enumerate(noted) if each.tile]
    for where, name in wanted:
        if name not in known:
            faults.add(where, f'there is no tile "{name}"', "tiles are " + ", ".join(sorted(known)))
    drains = [each.name for each in room.drains]
    for k, fall in enumerate(room.falls):
        if fall.name in drains and fall.name != fall.to:
            faults.add(f"{place}.falls[{k}].name", f'"{fall.name}" is a drain that it does not go to', "give the fall another name")
    for k, fall in enumerate(room.falls):
        if fall.to and fall.to not in drains:
            faults.add(f"{place}.falls[{k}].to", f'there is no drain "{fall.to}"', "drains are " + (", ".join(drains) or "none"))
