"""Places on the floor by the two start lines that are snapped on it, as seen on the sheet; the check that they are square.

A crew has the lines on the floor, not the plan's origin: what it must find is told by its distances from A and B.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.words import say, worded

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from layout.setout.values import RoomSetOut
    from layout.start.start_lines import StartLine
    from layout.vectors import Floats

SQUARE_TO = 1e-3
"""Cosine of the angle up to which two lines count as square to each other."""
ALONG_TO = 0.02
"""Sine of the angle up to which a joint runs along a start line."""
LEFT, RIGHT, LOWER, UPPER = (worded("left end"), worded("right end"), worded("lower end"), worded("upper end"))
"""Ends of a line as seen on the sheet."""
CLEAR = 5.0
"""Kept off walls, plinths and columns by the tape of a squaring check, mm."""


def way_of(line: StartLine) -> Floats:
    """Direction of a start line, length 1."""
    way = np.array(line.end) - np.array(line.start)
    return np.asarray(way / max(float(np.hypot(*way)), 1e-9))


def off_line(line: StartLine, at: tuple[float, float]) -> float:
    """Distance of a point from a start line, mm; positive to the left of the line's travel."""
    way, apart = way_of(line), np.array(at) - np.array(line.start)
    return float(way[0] * apart[1] - way[1] * apart[0])


def beside(line: StartLine, at: tuple[float, float]) -> str:
    """A point's distance from a start line and the side as seen on the sheet: "6080 right of B"."""
    off = off_line(line, at)
    if abs(off) < 0.5:
        return say("on {name}", name=line.name)
    x, y = np.array([-way_of(line)[1], way_of(line)[0]]) * off
    side = (say("right of") if x > 0 else say("left of")) if abs(x) >= abs(y) else (say("above") if y > 0 else say("below"))
    return f"{abs(off):.0f} {side} {line.name}"


def square_pair(room: RoomSetOut) -> tuple[StartLine, StartLine] | None:
    """Lines A and B where both are there and square to each other."""
    named = {line.name: line for line in room.floor.start.lines}
    if "A" not in named or "B" not in named:
        return None
    a, b = named["A"], named["B"]
    return (a, b) if abs(float(way_of(a) @ way_of(b))) <= SQUARE_TO else None


def first_tile(room: RoomSetOut) -> str:
    """Where the first whole tile lies: its lower-left corner by the two lines, or its colour where no two are square."""
    pair = square_pair(room)
    if pair is None:
        return say("First whole tile: coloured on the drawing.")
    level = min(abs(way_of(pair[0]))) <= SQUARE_TO
    corner = say("lower-left corner") if level else say("first corner")
    x, y = room.floor.start.origin
    return say(
        "First whole tile, coloured: its {corner} {beside}, {beside_2}.",
        corner=corner,
        beside=beside(pair[1], (x, y)),
        beside_2=beside(pair[0], (x, y)),
    )


def placed_points(room: RoomSetOut) -> list[tuple[str, tuple[float, float], str]]:
    """What a person must find on the floor: name, point in room mm, and the drain or pipe that it belongs to, if it does.

    Gullies and pipes by their middles, channels by the middles of both ends, plinths and columns (bare) by their lowest left and
    their opposite corner as seen on the sheet.
    """
    drains = {drain.name: drain for drain in room.lining.room.drains}
    result: list[tuple[str, tuple[float, float], str]] = []
    for each in room.lining.floor.breaks:
        drain = drains.get(each.name)
        if drain is None or drain.kind != "channel":
            result.append((say("{name}, middle", name=each.name), each.at, each.name))
            continue
        corners = shapely.get_coordinates(each.shape)[:4]
        sides = np.hypot(*(np.roll(corners, -1, axis=0) - corners).T)
        short = int(np.argmin(sides))
        ends = [(corners[k] + corners[(k + 1) % 4]) / 2 for k in (short, (short + 2) % 4)]
        for word, end in sorted(zip(_end_words(*ends), ends, strict=True), key=lambda item: item[0] in (RIGHT, UPPER)):
            result.append((say("{name}, {place}", name=each.name, place=word), (float(end[0]), float(end[1])), each.name))
    outline = room.lining.outline
    solids = [*zip(outline.plinths, outline.plinth_rings, strict=True), *zip(outline.columns, outline.column_rings, strict=True)]
    for solid, ring in solids:
        points = np.array(ring.points)
        rank = points @ np.array([1.0, 1.0])
        for word, k in ((say("lower-left corner"), int(np.argmin(rank))), (say("upper-right corner"), int(np.argmax(rank)))):
            result.append((f"{solid.solid.name}, {word}", (float(points[k][0]), float(points[k][1])), ""))
    return result


def _end_words(one: Floats, two: Floats) -> tuple[str, str]:
    x, y = two - one
    words = (LEFT, RIGHT) if abs(x) >= abs(y) else (LOWER, UPPER)
    return words if (x if abs(x) >= abs(y) else y) > 0 else words[::-1]


def joint_place(room: RoomSetOut, line: Floats) -> str:
    """Where a straight joint (n, 2) lies, by the two lines: off the one that it runs along, from end to end off the other."""
    pair = square_pair(room)
    if pair is None:
        return say("as drawn")
    a, b = ((float(x), float(y)) for x, y in (line[0], line[-1]))
    way = np.array(b) - np.array(a)
    way = way / max(float(np.hypot(*way)), 1e-9)
    for own, other in (pair, pair[::-1]):
        if abs(float(way @ way_of(other))) <= ALONG_TO:
            return say("{beside}, {beside_2} to {beside_3}", beside=beside(own, a), beside_2=beside(other, a), beside_3=beside(other, b))
    return " – ".join(", ".join(f"{line.name} {abs(off_line(line, at)):.0f}" for line in pair) for at in (a, b))


def squaring(room: RoomSetOut) -> str:
    """A check of the right angle by sides of 3, 4 and 5 parts, the largest that the floor takes: both legs on the lines, the tape clear."""
    pair = square_pair(room)
    if pair is None:
        return say("Square: check every pair of lines that cross on the floor by its diagonals.")
    found = _largest(room, *pair)
    if found is None:
        return say("Square: check the crossing of A and B with a large square; the floor is too small for 3-4-5.")
    on_a, on_b, legs = found
    return say(
        "Square: from the crossing of A and B measure {legs:.0f} along A, {towards}, and {legs_2:.0f} along B, "
        "{towards_2}; the diagonal is {hypot:.0f}.",
        legs=legs[0],
        towards=_towards(on_a),
        legs_2=legs[1],
        towards_2=_towards(on_b),
        hypot=float(np.hypot(*legs)),
    )


def _towards(way: Floats) -> str:
    x, y = way
    return (say("to the right") if x > 0 else say("to the left")) if abs(x) >= abs(y) else (say("upwards") if y > 0 else say("downwards"))


def _largest(room: RoomSetOut, a: StartLine, b: StartLine) -> tuple[Floats, Floats, tuple[float, float]] | None:
    """Ways along A and B and the two legs of the largest check in parts of 100 mm; None if the floor takes none."""
    way_a, way_b = way_of(a), way_of(b)
    crossing = np.array(a.start) + way_a * float((np.array(b.start) - np.array(a.start)) @ way_a)
    floor = _open_floor(room)
    shapely.prepare(floor)
    reach = [_reaches(line, crossing) for line in (a, b)]
    most = int(max(max(each) for each in reach) // 300.0)
    for part in range(most, 0, -1):
        for legs in ((400.0 * part, 300.0 * part), (300.0 * part, 400.0 * part)):
            for sign_a, room_a in zip((1.0, -1.0), reach[0], strict=True):
                for sign_b, room_b in zip((1.0, -1.0), reach[1], strict=True):
                    if legs[0] > room_a or legs[1] > room_b:
                        continue
                    ends = crossing + way_a * sign_a * legs[0], crossing + way_b * sign_b * legs[1]
                    if shapely.covers(floor, shapely.LinearRing([crossing, *ends])):
                        return way_a * sign_a, way_b * sign_b, legs
    return None


def _reaches(line: StartLine, crossing: Floats) -> tuple[float, float]:
    """How far a line goes on beyond the crossing: along its travel, and against it, mm."""
    way = way_of(line)
    return float((np.array(line.end) - crossing) @ way), float((crossing - np.array(line.start)) @ way)


def _open_floor(room: RoomSetOut) -> BaseGeometry:
    """The floor between bare walls over which a tape lies straight: without plinths and columns."""
    outline = room.lining.outline
    bare = shapely.Polygon(np.concatenate([wall.run.points[:-1] for wall in outline.walls]))
    solids = [
        shapely.Polygon(np.concatenate([run.points[:-1] for run in each.runs])).buffer(CLEAR)
        for each in (*outline.plinths, *outline.columns)
    ]
    return shapely.difference(bare.buffer(-1.0), shapely.union_all(solids))
