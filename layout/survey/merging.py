"""A drawing read again, into a plan that a person has gone on with: what the drawing changed is taken, what was typed stays.

Three states are held against each other: the plan as it is, what the drawing gave when it was read before, and what it gives
now. What only the drawing changed is applied; what only the person changed stays; what both changed is left as the person has
it and told with both values. Values are those of the file, rooms by their tables.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    Table = dict[str, Any]

FAR = 1500.0
"""A thing that stands further from where it stood is another one, mm."""
SAME = 0.05
"""Lengths that differ by less are the same, mm."""
DRAWN = {
    "openings": ("wall", "offset", "width", "sill", "head"),
    "columns": ("outline",),
    "pipes": ("at", "diameter"),
    "drains": ("at",),
}
"""What a drawing gives of each kind of thing."""
WORDS = {"openings": "opening", "columns": "column", "pipes": "pipe", "drains": "gully"}


@dataclass(slots=True)
class Merge:
    """What is to be done to the plan's text: values by path (None takes out), tables added to its room; and what is told of it."""

    room: int
    values: dict[tuple[str | int, ...], Any] = field(default_factory=dict)
    added: list[tuple[str, dict[str, Any]]] = field(default_factory=list)
    applied: list[str] = field(default_factory=list)
    left: list[str] = field(default_factory=list)

    def put(self, path: tuple[str | int, ...], value: Any, words: str) -> None:  # noqa: ANN401  # values of a file
        """Set a value of the room."""
        self.values["rooms", self.room, *path] = value
        self.applied.append(words)

    def conflict(self, what: str, mine: Any, theirs: Any) -> None:  # noqa: ANN401
        """Leave what the person has, and say so."""
        self.left.append(f"{what}: the plan says {said(mine)}, the drawing {said(theirs)}; left as the plan has it")


def merged(mine: Table, before: Table | None, now: Table) -> Merge:
    """What of a drawing read again goes into a plan; `before` is what the drawing gave then, None if nobody knows.

    All three are in the same axes: those that begin where the plan's begin (`corner_of`).
    """
    drawn = now["rooms"][0]
    index = next((k for k, room in enumerate(mine["rooms"]) if room.get("name") == drawn.get("name")), 0)
    own = mine["rooms"][index]
    base = before["rooms"][0] if before is not None else None
    result = Merge(index)
    _walls(own, base, drawn, result)
    for kind, keys in DRAWN.items():
        _things(kind, keys, own, base, drawn, result)
    if drawn.get("height") != (base or own).get("height") and drawn.get("height") is not None:
        _value("height", own.get("height"), None if base is None else base.get("height"), drawn["height"], ("height",), result)
    _tile(own, base, drawn, result)
    gone = sorted((path for path, value in result.values.items() if value is None), key=lambda path: -int(path[-1]))
    result.values = {path: value for path, value in result.values.items() if value is not None} | dict.fromkeys(gone)
    return result


def corner_of(room: Table) -> tuple[float, float] | None:
    """Where in the drawing the axes of a room's plan begin, mm; None if it does not say."""
    at = room.get("at")
    return (float(at[0]), float(at[1])) if isinstance(at, list) and len(at) == 2 else None


def _tile(own: Table, base: Table | None, drawn: Table, result: Merge) -> None:
    """Heights of wall tile: the room's, and those of single walls, which are told where they differ."""
    if "tile_height" not in drawn:
        return
    _value("tile_height", own.get("tile_height"), base.get("tile_height") if base else None, drawn["tile_height"], ("tile_height",), result)
    then = _by_wall(base) if base else {}
    mine = _by_wall(own)
    for wall, height in _by_wall(drawn).items():
        if not same(height, mine.get(wall, own.get("tile_height", 0.0))) and not same(height, then.get(wall)):
            result.conflict(f"tile_height of wall {wall}", mine.get(wall, own.get("tile_height", 0.0)), height)


def _by_wall(room: Table) -> dict[Any, float]:
    """Heights of wall tile that single walls have, by what the walls are called."""
    return {row.get("wall"): row["tile_height"] for row in room.get("walls", []) if "tile_height" in row}


def _value(what: str, mine: Any, base: Any, now: Any, path: tuple[str | int, ...], result: Merge) -> None:  # noqa: ANN401
    """One value, three ways."""
    if same(base, now) or same(mine, now):
        return
    if base is not None and same(mine, base):
        result.put(path, now, f"{what}: {said(base)} → {said(now)}")
    else:
        result.conflict(what, mine, now)


def _corner(value: Any) -> list[float]:  # noqa: ANN401
    return [float(x) for x in (value["to"] if isinstance(value, dict) else value)]


def _walls(own: Table, base: Table | None, drawn: Table, result: Merge) -> None:
    """Corners that the drawing moved; an outline of another number of corners as a whole."""
    mine, now = own["outline"], drawn["outline"]
    then = base["outline"] if base is not None else None
    if then is None:
        if not same([_corner(c) for c in mine], [_corner(c) for c in now]):
            _told_corners(mine, now, result)
    elif len(then) == len(now) == len(mine):
        for k in range(len(now)):
            here = (_corner(mine[k]), _corner(then[k]), _corner(now[k]))
            path: tuple[str | int, ...] = ("outline", k, "to") if isinstance(mine[k], dict) else ("outline", k)
            _value(f"corner {k + 1}", here[0], here[1], here[2], path, result)
            _arc(k, mine, then, now, result)
    elif same([_corner(c) for c in then], [_corner(c) for c in now]):
        return
    elif same([_corner(c) for c in mine], [_corner(c) for c in then]):
        result.put(("outline",), now, f"outline: {len(then)} corners → {len(now)} corners")
    else:
        result.conflict("outline", f"{len(mine)} corners", f"{len(now)} corners")


def _arc(k: int, mine: Sequence[Any], then: Sequence[Any], now: Sequence[Any], result: Merge) -> None:
    """The arc that arrives at a corner, three ways; arcs are the same where they rise alike over their chord."""
    own, base, drawn = (float(each[k].get("bulge", 0.0)) if isinstance(each[k], dict) else 0.0 for each in (mine, then, now))
    half = math.dist(_corner(now[k - 1]), _corner(now[k])) / 2
    if same(base * half, drawn * half) or same(own * half, drawn * half):
        return
    if same(own * half, base * half) and isinstance(mine[k], dict):
        result.put(("outline", k, "bulge"), drawn, f"arc to corner {k + 1}: bulge {base:.4g} → {drawn:.4g}")
    else:
        result.conflict(f"arc to corner {k + 1}", own, drawn)


def _told_corners(mine: Sequence[Any], now: Sequence[Any], result: Merge) -> None:
    if len(mine) != len(now):
        result.conflict("outline", f"{len(mine)} corners", f"{len(now)} corners")
        return
    for k, (one, other) in enumerate(zip(mine, now, strict=True), 1):
        if not same(_corner(one), _corner(other)):
            result.conflict(f"corner {k}", _corner(one), _corner(other))


def _things(kind: str, keys: Sequence[str], own: Table, base: Table | None, drawn: Table, result: Merge) -> None:
    """Things of one kind: those that moved, came and went in the drawing; those that were typed are not touched."""
    mine, now = own.get(kind, []), drawn.get(kind, [])
    then = base.get(kind, []) if base is not None else []
    known_mine = dict(_pairs(kind, then, base or own, mine, own))
    known_now = dict(_pairs(kind, then, base or own, now, drawn))
    word = WORDS[kind]
    for k, row in enumerate(then):
        m, n = known_mine.get(k), known_now.get(k)
        what = f"{word} {k + 1}" if m is None else mine[m].get("name") or f"{word} {m + 1}"
        if n is None and m is not None:
            if all(same(mine[m].get(key), row.get(key)) for key in keys) and set(mine[m]) <= set(row):
                result.put((kind, m), None, f"{what} at {_place(row)}: taken out, the drawing has it no more")
            else:
                result.left.append(f"{what} at {_place(mine[m])}: the drawing has it no more; left, since it was gone on with")
        elif n is not None and m is None:
            if any(not same(row.get(key), now[n].get(key)) for key in keys):
                result.left.append(f"{what}: taken out of the plan, and the drawing has it at {_place(now[n])} now; left out")
        elif n is not None and m is not None:
            for key in keys:
                if now[n].get(key) is not None:
                    _value(f"{what} {key}", mine[m].get(key), row.get(key), now[n][key], (kind, m, key), result)
    fresh = [n for n in range(len(now)) if n not in known_now.values()]
    taken = set(known_mine.values())
    for n in fresh:
        there = [m for m in range(len(mine)) if m not in taken and _apart(kind, mine[m], own, now[n], drawn) < FAR]
        near = min(there, key=lambda m: _apart(kind, mine[m], own, now[n], drawn), default=None)
        if near is None:
            result.added.append((kind, now[n]))
            result.applied.append(f"{word} at {_place(now[n])}: added")
            continue
        taken.add(near)
        for key in keys:
            if now[n].get(key) is not None and not same(mine[near].get(key), now[n][key]):
                result.conflict(f"{mine[near].get('name') or f'{word} {near + 1}'} {key}", mine[near].get(key), now[n][key])


def _pairs(kind: str, one: Sequence[Table], in_one: Table, other: Sequence[Table], in_other: Table) -> list[tuple[int, int]]:
    """Things that are one, by index: those that lie nearest to each other first."""
    ranked = sorted((_apart(kind, a, in_one, b, in_other), k, n) for k, a in enumerate(one) for n, b in enumerate(other))
    found: dict[int, int] = {}
    for apart, k, n in ranked:
        if apart < FAR and k not in found and n not in found.values():
            found[k] = n
    return list(found.items())


def _apart(kind: str, one: Table, in_one: Table, other: Table, in_other: Table) -> float:
    places = [_middle(kind, row, room) for row, room in ((one, in_one), (other, in_other))]
    if kind == "drains" and one.get("kind") != other.get("kind"):
        return math.inf
    return math.inf if None in places else math.dist(*places)  # type: ignore[arg-type]  # none of them is None here


def _middle(kind: str, row: Table, room: Table) -> tuple[float, float] | None:
    """Where a thing is, in the axes of its room; None where its place is told in another way than a drawing's."""
    if kind == "columns":
        points = [_corner(corner) for corner in row["outline"]]
        return math.fsum(p[0] for p in points) / len(points), math.fsum(p[1] for p in points) / len(points)
    if kind != "openings":
        return tuple(row["at"]) if "at" in row else None
    corners = room["outline"]
    for k, corner in enumerate(corners):
        name = corner.get("wall") if isinstance(corner, dict) else None
        if row.get("wall") in (name, k or len(corners)) and row.get("wall") is not None and row.get("from", "first") == "first":
            a, b = _corner(corners[k - 1]), _corner(corner)
            part = (row["offset"] + row["width"] / 2) / max(math.dist(a, b), 1e-9)
            return a[0] + (b[0] - a[0]) * part, a[1] + (b[1] - a[1]) * part
    return None


def _place(row: Mapping[str, Any]) -> str:
    if "at" in row:
        return said(row["at"])
    if "offset" in row:
        return f"{row['offset']:g} along {row.get('wall')}"
    return said(_corner(row["outline"][0])) if "outline" in row else "its place"


def same(one: Any, other: Any) -> bool:  # noqa: ANN401
    """Whether two values of a file say the same, lengths to `SAME`; a corner may be a point or a table."""
    if isinstance(one, dict) and "to" in one and not isinstance(other, dict):
        return same(one["to"], other)
    if isinstance(other, dict) and "to" in other and not isinstance(one, dict):
        return same(one, other["to"])
    numbers = (int, float)
    if isinstance(one, numbers) and isinstance(other, numbers):
        return abs(one - other) < SAME
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(same(a, b) for a, b in zip(one, other, strict=True))
    return bool(one == other)


def said(value: Any) -> str:  # noqa: ANN401
    """A value as a file shows it."""
    if value is None:
        return "nothing"
    if isinstance(value, list):
        return "[" + ", ".join(said(each) for each in value) + "]"
    if isinstance(value, dict):
        return said(value.get("to"))
    return f"{value:g}" if isinstance(value, float) else str(value)
