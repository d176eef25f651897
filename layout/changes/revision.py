"""Words for the revision table: what an issue changed, as one row tells it."""

from __future__ import annotations

from typing import TYPE_CHECKING, assert_never

if TYPE_CHECKING:
    from collections.abc import Iterable

    from layout.changes.values import Changes, RoomChange

MOST = 4
"""Things that one row names of a room; more are counted."""


def revision_words(changes: Changes) -> str:
    """What changed, in one sentence for the revision table.

    Walls and things come first, then tiles and rules, then the lines that are snapped; what follows from these is not named.
    """
    if not changes.changed:
        return "no change"
    parts = []
    several = len(changes.rooms) > 1
    for room in changes.rooms:
        words = _room(room)
        if words:
            parts.append(f"{room.name or room.was}: {words}" if several else words)
    if changes.plan:
        parts.append(_few(f"{each.plainly} {each.before or 'none'} to {each.after or 'none'}" for each in changes.plan))
    return "; ".join(parts) or "quantities only"


def _room(room: RoomChange) -> str:
    if not room.was or not room.name:
        return "new room" if room.name else "room taken out"
    told: dict[str, None] = {}
    lengths: dict[str, None] = {}
    for each in room.shape:
        match each.aspect:
            case "line":
                told[f"{each.of} moved {each.after}"] = None
            case "length":
                lengths[f"{each.of} {each.before} to {each.after}"] = None
            case "there":
                told[f"{each.what} {'added' if each.after else 'taken out'}"] = None
            case "figure":
                told[f"{each.plainly} {each.before} to {each.after}"] = None
            case _:
                assert_never(each.aspect)
    parts = [_few(told or lengths)] if told or lengths else []
    if room.moved:
        parts.insert(0, f"drawn {room.moved}")
    if room.lines:
        names = sorted({line.surface for line in room.lines})
        parts.append(f"start lines of {_few(names)} moved")
    if not parts and (room.works or room.surfaces):
        parts.append("tiles and joints set out otherwise")
    return ", ".join(parts)


def _few(words: Iterable[str]) -> str:
    own = list(words)
    return ", ".join(own[:MOST]) + (f" and {len(own) - MOST} more" if len(own) > MOST else "")
