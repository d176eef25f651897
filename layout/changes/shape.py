"""What differs in the shape of a room and in what stands in it: walls, heights, openings, drains, solids, pipes, joints."""

from __future__ import annotations

import math
from dataclasses import fields, replace
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import shapely

from layout.changes.values import SAME, Difference, ThingAt, WallAt, figure_of
from layout.plan.agree_rooms import default_names
from layout.room.outlines import wall_span
from layout.vectors import unit

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from layout.changes.match import Motion
    from layout.setout.values import RoomSetOut
    from layout.vectors import Floats

THINGS = {
    "openings": "opening",
    "drains": "drain",
    "plinths": "plinth",
    "columns": "column",
    "pipes": "pipe",
    "fixings": "fixing",
    "structural_joints": "structural joint",
    "day_joints": "day joint",
    "falls": "fall",
}
"""Lists of a room whose entries are things, and what one is called."""
PLACES = ("at", "middle", "begin", "end", "line", "outline", "region")
ON_WALLS = ("wall", "offset", "along", "up", "measured_from")
"""Fields that tell a place along a wall, which are held against each other as places."""


class _OnWall(NamedTuple):
    """A thing that stands in a wall: the wall's index, the point of its middle, how far above the floor; mm."""

    wall: int
    at: Floats
    up: float


def outline_changes(
    before: RoomSetOut, after: RoomSetOut, motion: Motion, walls: Sequence[tuple[int | None, int | None]]
) -> Iterable[Difference]:
    """Walls that are longer, shorter, elsewhere, gone or new; heights and tile that differ on them."""
    one, two = before.lining.outline.walls, after.lining.outline.walls
    for a, b in walls:
        if a is None or b is None:
            yield Difference(
                what=two[b].name if b is not None else one[a or 0].name,
                before="" if a is None else f"{one[a].run.length:.0f} long",
                after="" if b is None else f"{two[b].run.length:.0f} long",
                kind="outline",
                aspect="there",
            )
            continue
        old, new = one[a], two[b]
        name = new.name if new.name == old.name else f"{new.name}, was {old.name}"
        if abs(old.run.length - new.run.length) >= SAME:
            was, now = f"{old.run.length:.1f}", f"{new.run.length:.1f}"
            yield Difference(what=f"length of {name}", before=was, after=now, kind="outline", aspect="length", of=name)
        off = _apart(motion.moved(np.array([old.run.points[0], old.run.points[-1]])), np.array([new.run.points[0], new.run.points[-1]]))
        if max(abs(off[0]), abs(off[1])) >= SAME:
            ends = f"{off[0]:+.1f}" if abs(off[0] - off[1]) < SAME else f"{off[0]:+.1f} and {off[1]:+.1f} at its ends"
            side = f"{ends} into the room" if off.sum() > 0 else f"{ends} out of the room"
            moved = Difference(what=f"line of {name}", before="as drawn", after=side, kind="outline", aspect="line", of=name, at=WallAt(b))
            yield moved
        for key, words in (("tanking_height", "tanking height"), ("tile_height", "tile height")):
            high, higher = getattr(old, key), getattr(new, key)
            if abs(high - higher) >= SAME and getattr(before.lining.room, key) == getattr(after.lining.room, key):
                yield Difference(what=f"{words} of {name}", before=f"{high:g}", after=f"{higher:g}", kind="height")


def _apart(old: Floats, new: Floats) -> Floats:
    """How far the ends of a new wall stand off the line of the old one, to its left, (2,) mm: positive into the room."""
    way = (old[1] - old[0]) / max(float(np.hypot(*(old[1] - old[0]))), 1e-9)
    result: Floats = way[0] * (new - old[0])[:, 1] - way[1] * (new - old[0])[:, 0]
    return result


def height_changes(before: RoomSetOut, after: RoomSetOut) -> Iterable[Difference]:
    """Heights and levels of the whole room."""
    one, two = before.lining.room, after.lining.room
    for key, words in (("tanking_height", "tanking height"), ("tile_height", "tile height"), ("height", "height of the room")):
        old, new = getattr(one, key), getattr(two, key)
        if old != new:
            yield Difference(what=words, before=said(old), after=said(new), kind="height")
    for each in fields(two.levels):
        old, new = getattr(one.levels, each.name), getattr(two.levels, each.name)
        if old != new:
            yield figure_of("levels", each.name, said(old), said(new), "level")
    if one.outline_is != two.outline_is:
        yield Difference(what="face that the outline is of", before=one.outline_is, after=two.outline_is, kind="outline")


def thing_changes(
    before: RoomSetOut, after: RoomSetOut, motion: Motion, walls: Sequence[tuple[int | None, int | None]]
) -> Iterator[Difference]:
    """Openings, drains, solids, pipes and joints that differ: known by the names that people gave, then by place, then by the names they got."""
    same_wall = {a: b for a, b in walls if a is not None and b is not None}
    for key, word in THINGS.items():
        old, new = list(getattr(before.lining.room, key)), list(getattr(after.lining.room, key))
        if not old and not new:
            continue
        spots = [_spots(room, key, list(own)) for room, own in ((before, old), (after, new))]
        for a, b in _one_thing(old, new, word, spots, motion):
            at = ThingAt(key, a, b)
            if a is None or b is None:
                name = old[a].name if a is not None else new[b].name  # type: ignore[index]  # one of the two is there
                there = ["there" if each is not None else "" for each in (a, b)]
                yield Difference(what=name, before=there[0], after=there[1], kind=word, aspect="there", at=at)
                continue
            yield from (replace(each, at=at) for each in _fields(old[a], new[b], word, motion))
            one, two = spots[0][a], spots[1][b]
            if isinstance(one, _OnWall) and isinstance(two, _OnWall):
                found = _along_wall(new[b].name, one, two, same_wall, word, (before, after), motion)
                yield from (replace(each, at=at) for each in found)


def _one_thing(
    old: list[Any], new: list[Any], word: str, spots: Sequence[Sequence[_OnWall | Floats | None]], motion: Motion
) -> list[tuple[int | None, int | None]]:
    """Which thing is which, by index; in the order of the new plan, what is gone last."""
    found: dict[int, int] = {}

    def take(fits: Any) -> None:  # noqa: ANN401
        for b in range(len(new)):
            a = next((a for a in range(len(old)) if b not in found and a not in found.values() and fits(a, b)), None)
            if a is not None:
                found[b] = a

    given = default_names(new, "" if word == "drain" else word)
    take(lambda a, b: new[b].name != given[b] and old[a].name == new[b].name)
    take(lambda a, b: _together(spots[0][a], spots[1][b], motion))
    take(lambda a, b: old[a].name == new[b].name)
    pairs: list[tuple[int | None, int | None]] = [(found.get(b), b) for b in range(len(new))]
    return pairs + [(a, None) for a in range(len(old)) if a not in found.values()]


def _spots(room: RoomSetOut, key: str, things: Sequence[Any]) -> list[_OnWall | Floats | None]:
    """Where each thing is: a point of the plan, or a place in a wall; None where it has none of its own."""
    result: list[_OnWall | Floats | None] = []
    outline = room.lining.outline
    for each in things:
        if key == "openings" or getattr(each, "wall", None) is not None:
            width = each.width if key == "openings" else 0.0
            span = wall_span(room.lining.room, outline.walls, each.wall, each.offset, width, each.measured_from)
            assert span is not None  # a plan whose things stand in no wall is refused
            index, s0, s1 = span
            up = each.sill if key == "openings" else each.level
            result.append(_OnWall(index, np.array(outline.walls[index].run.at((s0 + s1) / 2)), up))
        elif getattr(each, "outline", None):
            result.append(np.array(shapely.Polygon([v.to for v in each.outline]).centroid.coords[0]))
        elif getattr(each, "line", None):
            result.append(np.array(each.line).mean(axis=0))
        else:
            at = getattr(each, "at", None)
            result.append(np.array(at) if at is not None else None)
    return result


def _together(one: _OnWall | Floats | None, other: _OnWall | Floats | None, motion: Motion) -> bool:
    if one is None or other is None or isinstance(one, _OnWall) != isinstance(other, _OnWall):
        return False
    here, there = (each.at if isinstance(each, _OnWall) else each for each in (one, other))
    return float(np.abs(motion.moved(here[None])[0] - there).max()) < SAME


def _along_wall(
    name: str, one: _OnWall, two: _OnWall, same_wall: Mapping[int, int], word: str, rooms: tuple[RoomSetOut, RoomSetOut], motion: Motion
) -> Iterator[Difference]:
    """A thing in a wall that stands in another one now, or elsewhere along it."""
    old, new = rooms[0].lining.outline.walls[one.wall], rooms[1].lining.outline.walls[two.wall]
    if same_wall.get(one.wall) != two.wall:
        yield figure_of(name, "wall", old.name, new.name, word)
        return
    way = unit(new.run.points[-1] - new.run.points[0])
    moved = float((two.at - motion.moved(one.at[None])[0]) @ way)
    if abs(moved) >= SAME:
        ends = [float((at - start) @ way) for at, start in ((two.at - moved * way, new.run.points[0]), (two.at, new.run.points[0]))]
        yield figure_of(name, f"middle along {new.name}, from its right-hand end", f"{ends[0]:.1f}", f"{ends[1]:.1f}", word)
    if word != "opening" and abs(one.up - two.up) >= SAME:
        yield figure_of(name, "height above the floor", f"{one.up:g}", f"{two.up:g}", word)


def _fields(old: Any, new: Any, word: str, motion: Motion) -> Iterator[Difference]:  # noqa: ANN401  # things of the plan are of many types
    for field in fields(new):
        was, now = getattr(old, field.name), getattr(new, field.name)
        if field.name in ON_WALLS and getattr(new, "wall", None) is not None:
            continue
        if field.name == "name":
            continue
        if not _alike(was, now, field.name, motion):
            yield figure_of(new.name, field.name.replace("_", " "), said(was), said(now), word)


def _alike(was: Any, now: Any, key: str, motion: Motion) -> bool:  # noqa: ANN401
    if was == now:
        return True
    if key in ("turn", "angle") and isinstance(was, float) and isinstance(now, float):
        return abs(math.remainder(now - was - motion.turn, 90.0)) < 1e-6
    if key == "plane" and was and now:
        one, two = np.array(was), np.array(now)
        return bool(np.abs(motion.moved(one[:, :2]) - two[:, :2]).max() < SAME and np.abs(one[:, 2] - two[:, 2]).max() < SAME)
    if key in PLACES and was and now:
        one, two = _points(was), _points(now)
        if one.shape != two.shape:
            return False
        moved = motion.moved(one)
        if key in ("outline", "region"):  # a ring is the same wherever it begins and whichever way it runs
            rings = [np.roll(ring, -k, axis=0) for ring in (two, two[::-1]) for k in range(len(two))]
            return min(float(np.abs(moved - ring).max()) for ring in rings) < SAME
        ways = (two, two[::-1]) if key == "line" else (two,)
        return min(float(np.abs(moved - way).max()) for way in ways) < SAME
    return False


def _points(value: Any) -> Floats:  # noqa: ANN401
    """Points of a place, a line or an outline of the plan, (n, 2)."""
    if hasattr(value[0], "x"):
        return np.array([[each.x, each.y] for each in value])
    return np.array(value, dtype=float).reshape(-1, 2)


def said(value: Any) -> str:  # noqa: ANN401
    """A value of the plan as a person writes it."""
    if value is None or value == "":
        return "not given"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:g}"
    if isinstance(value, tuple):
        return ", ".join(f"{each.x:g} {each.y:g}" if hasattr(each, "x") else said(each) for each in value)
    return str(value)
