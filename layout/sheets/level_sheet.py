"""Falls and levels of a floor: where water runs and how steeply, spot levels to check with a laser, lines to saw along."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.falls.datum import datum_point
from layout.sheets.column import told
from layout.sheets.draft import Draft, Job, in_plan, layers_of
from layout.sheets.room_view import block_line, block_solid, block_walls, entrance, name_things, name_walls
from layout.sheets.scene import Dimension, Fill, Primitive, Stroke, View, bubble_ring, readable
from layout.sheets.spots import Spot
from layout.standards.rules import FALL_RANGES
from layout.vectors import pair
from layout.words import say, worded

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from layout.falls.facets import Facet, FallLine
    from layout.falls.levels import Levels
    from layout.falls.levels import Spot as Level
    from layout.plan.things import Drain
    from layout.setout.values import RoomSetOut
    from layout.sheets.column import Column
    from layout.sheets.place import Placer
    from layout.sheets.room_view import Base

    Floats = NDArray[np.float64]

LAYER_OF = {
    worded("hip"): "HIP",
    worded("high line"): "HIP",
    worded("valley"): "VALLEY",
    worded("low line"): "VALLEY",
    worded("step"): "STEP",
}
ARROW, HEAD = 16.0, 4.2
"""Length of a fall arrow and of its head, paper mm."""
SMALL_FACET = 30.0
"""Facets with less area on paper, mm², get no arrow of their own."""
BENCHMARK = 2.2
"""Radius of the mark of the datum, paper mm."""
SLANT = 20.0
"""The datum's leader comes no nearer to the way of a wall, degrees."""
ORDER = (
    worded("Set drain frames to their level first, from the datum; check them again after the screed."),
    worded("Mark the high and low lines and the spot levels on the wall and the slab; set rails along hips and valleys."),
    worded("Test with water before the membrane: a bucket at each spot must run to its drain and leave nothing."),
)


def told_ratio(ratio: float) -> str:
    """A fall as people write it.

    >>> told_ratio(60.02), told_ratio(36.4), told_ratio(float("inf"))
    ('1:60', '1:36', 'level')
    """
    return f"1:{ratio:.0f}" if math.isfinite(ratio) and ratio < 5000.0 else "level"


CODES = (
    "perimeter-not-level",
    "fall-outside-range",
    "ramp-steep",
    "ramp-foot",
    "floor-without-fall",
    "pond",
    "step-in-floor",
    "threshold-step",
    "screed-thin",
    "tile-over-hip",
)
"""What findings this sheet tells."""


def drafts(job: Job) -> Iterator[Draft]:
    """The sheet of drains and levels, if the floor falls."""
    room = job.only.room
    levels = room.levels
    if levels is None:
        return

    def draw(view: View, placer: Placer, column: Column) -> tuple[Primitive, ...]:
        drawn = scene(room, levels, job.only.base, view, placer)
        words(room, levels, column, layers_of(drawn))
        return drawn

    yield from in_plan(job, "falls", say("Falls and levels"), draw, around=14.0)


def scene(room: RoomSetOut, levels: Levels, base: Base, view: View, placer: Placer) -> tuple[Primitive, ...]:
    """The room scene of the falls sheet."""
    # steeper facets are darker, under the lines
    result: list[Primitive] = [Fill(facet.polygon, "TONE", 0.10 if facet.gradient < 1 / 60 else 0.2) for facet in levels.facets]
    result += [*base.outline, *base.services]
    result += entrance(room, view, placer)
    for line in levels.lines:
        result.append(Stroke(line.line, LAYER_OF[line.kind]))
        block_line(placer, view, line.line, 0.5)
    block_walls(placer, view, room)
    for ring in (*room.lining.outline.column_rings, *room.lining.outline.plinth_rings):
        block_solid(placer, view, ring.polygon())
    for facet in levels.facets:
        _arrow(facet, view, placer, result)
    _, level, datum = datum_point(levels.falls, room.lining.outline, room.lining.room.levels.floor)
    _benchmark(datum, view, placer, result)
    for spot in levels.spots:
        if math.dist(spot.at, datum) > 1.0:  # the words of the datum say its level
            _spot(spot, view, placer, height=3.5)
    name_things(room, view, placer)
    _offsets(room, view, placer, result)
    name_walls(room, view, placer, out=9.0)
    _benchmark_words(room, level, datum, view, placer)  # last of what is needed: what does not move is known by now
    for spot in levels.grid:
        if not any(math.dist(spot.at, other.at) < 400.0 for other in levels.spots):
            _spot(spot, view, placer, height=2.5, must=False)
    return tuple(result)


def _arrow(facet: Facet, view: View, placer: Placer, result: list[Primitive]) -> None:
    """An arrow the way that water runs, with the ratio beside it."""
    if facet.polygon.area / view.scale**2 < SMALL_FACET:
        return
    middle = shapely.get_coordinates(shapely.maximum_inscribed_circle(facet.polygon, 20.0))
    centre, reach = middle[0], float(np.hypot(*(middle[1] - middle[0]))) / view.scale
    way = facet.way
    if not way.any():
        return
    long = min(ARROW, max(2.0 * reach - 1.0, 6.0))
    normal = np.array([-way[1], way[0]])
    tail, tip = centre - way * long / 2 * view.scale, centre + way * long / 2 * view.scale
    head = [tip, tip - (way * HEAD + normal * HEAD / 3) * view.scale, tip - (way * HEAD - normal * HEAD / 3) * view.scale]
    result += [Stroke(np.array([tail, tip]), "FALL"), Fill(shapely.Polygon(head), "FALL", 1.0)]
    block_line(placer, view, np.array([tail, tip]), 0.6)
    angle = readable(math.degrees(math.atan2(way[1], way[0])))
    paper = view.to_paper(centre[None])[0]
    spots = [
        Spot((float((paper + normal * far + way * on)[0]), float((paper + normal * far + way * on)[1])), angle=angle)
        for far in (3.2, -3.2, 5.5, -5.5)
        for on in (0.0, 5.0, -5.0, 9.0, -9.0)
    ]
    spots += [Spot((float((paper + way * far)[0]), float((paper + way * far)[1])), angle=angle) for far in (-13.0, 13.0)]
    placer.place(told_ratio(facet.ratio), 3.5, "FALL", spots, boxed=True, bold=True, needed=True, foot=paper)


def _benchmark(at: tuple[float, float], view: View, placer: Placer, result: list[Primitive]) -> None:
    """The place from which ±0 is told: a ring with two quarters filled."""
    ring = bubble_ring(at, BENCHMARK * view.scale)
    quarter = len(ring) // 4
    for first in (0, 2 * quarter):
        part = np.vstack([ring[first : first + quarter + 1], np.array([at])])
        result.append(Fill(shapely.Polygon(part), "LEVEL", 1.0))
    result.append(Stroke(ring, "LEVEL", closed=True))
    x, y = pair(view.to_paper(np.array([at]))[0])
    placer.block((x - BENCHMARK, y - BENCHMARK, x + BENCHMARK, y + BENCHMARK))


def _benchmark_words(room: RoomSetOut, level: float, at: tuple[float, float], view: View, placer: Placer) -> None:
    """The finished floor's level at the mark of the datum, close to it or with a leader that leaves the wall."""
    x, y = pair(view.to_paper(np.array([at]))[0])
    ways = [(math.cos(turn), math.sin(turn)) for turn in np.radians(np.arange(12) * 30.0)]
    spots = [
        Spot((x + far * along, y + far * up), "left" if along > 0.4 else "right" if along < -0.4 else "centre")
        for far in (BENCHMARK + 2.0, 7.0)
        for along, up in ways
    ]
    slanted = _off_walls(room, at, (x, y))
    short = say("datum: {level}", level=told(level))  # goes between a wall and the low line of a narrow floor
    spots += slanted + [replace(spot, text=short) for spot in (*spots, *slanted)]
    placer.place(say("datum: floor {level} here", level=told(level)), 3.5, "LEVEL", spots, boxed=True, bold=True, needed=True, foot=(x, y))


def _off_walls(room: RoomSetOut, at: tuple[float, float], foot: tuple[float, float]) -> list[Spot]:
    """Places for words with a slanted leader from a foot (paper mm) at a room's edge, nearest first.

    A leader that runs along the wall is not seen, and where it ends at a corner it names that corner: none comes within `SLANT` of a wall
    that passes `at`, room mm.
    """
    near = [wall.run.points for wall in room.lining.outline.walls if shapely.LineString(wall.run.points).distance(shapely.Point(at)) < 1.0]
    turns = np.array([math.atan2(*(step[::-1])) for points in near for step in np.diff(points, axis=0).tolist()])
    result = []
    for dx, dy in sorted(
        ((dx, dy) for dx in (5.0, 8.0, 12.0, 18.0) for dy in (5.0, 8.0, 12.0, 16.0, 22.0, 30.0)), key=lambda step: math.hypot(*step)
    ):
        for right, up in ((1, 1), (1, -1), (-1, 1), (-1, -1)):
            if np.all(np.abs(np.sin(turns - math.atan2(up * dy, right * dx))) > math.sin(math.radians(SLANT))):
                result.append(Spot((foot[0] + right * dx, foot[1] + up * dy), "left" if right > 0 else "right", leader=True))
    return result


def _spot(spot: Level, view: View, placer: Placer, *, height: float, must: bool = True) -> None:
    """A small cross and the level beside it."""
    x, y = spot.at
    paper = view.to_paper(np.array([spot.at]))[0]
    near, far = 2.0 + height / 2, 5.0 + height
    around = ((1, 1), (-1, 1), (1, -1), (-1, -1)) if must else ((1, 1), (1, -1))  # right of its cross, so that no other can claim it
    spots = [
        Spot((float(paper[0] + sx * off), float(paper[1] + sy * off)), "left" if sx > 0 else "right")
        for off in ((near, far) if must else (near,))
        for sx, sy in around
    ]
    if must:
        spots += [Spot((float(paper[0]), float(paper[1] + sy * off))) for off in (near + 1.0, far + 1.0, far + 5.0) for sy in (1, -1)]
    arm = 0.4 * height * view.scale
    cross = (Stroke(np.array([[x - arm, y], [x + arm, y]]), "LEVEL"), Stroke(np.array([[x, y - arm], [x, y + arm]]), "LEVEL"))
    placer.place(
        told(spot.level), height, "LEVEL", spots, boxed=True, bold=height > 3.0, needed=must, foot=paper if must else None, shown_with=cross
    )


def _offsets(room: RoomSetOut, view: View, placer: Placer, result: list[Primitive]) -> None:
    """Each drain by two offsets from two bare walls at right angles, or the two nearest; a channel by its two ends and one wall ahead."""
    for drain in room.lining.room.drains:
        at = np.array(drain.at)
        if drain.kind == "channel":
            _channel_offsets(room, drain, view, placer, result)
            continue
        chosen: list[tuple[float, Floats]] = []
        for length, foot in _feet(room, at):
            if not chosen or abs(float((foot - at) @ (chosen[0][1] - at))) < 0.3 * length * chosen[0][0]:
                chosen.append((length, foot))
            if len(chosen) == 2:
                break
        for _, foot in chosen:
            _offset(at, foot, view, placer, result)


def _channel_offsets(room: RoomSetOut, drain: Drain, view: View, placer: Placer, result: list[Primitive]) -> None:
    """The ends of a channel's frame off the wall beside it, and the nearer end off the wall ahead of it: no line lies on the channel."""
    long = max(drain.frame)
    turn = math.radians(drain.turn + (0.0 if drain.frame[0] == long else 90.0))
    way = np.array([math.cos(turn), math.sin(turn)])
    ends = [np.array(drain.at) + way * side * long / 2 for side in (-1.0, 1.0)]
    beside, ahead = [], []
    for end, out in zip(ends, (-way, way), strict=True):
        feet = [(length, foot, (foot - end) / max(length, 1e-9)) for length, foot in _feet(room, end)]
        beside.append([(length, foot) for length, foot, to in feet if abs(float(to @ way)) < 0.1][:1])
        ahead += [(length, end, foot) for length, foot, to in feet if float(to @ out) > 0.99][:1]
    for end, own in zip(ends, beside, strict=True):
        for _, foot in own:
            _offset(end, foot, view, placer, result)
    if ahead:
        _, end, foot = min(ahead, key=lambda item: item[0])
        _offset(end, foot, view, placer, result)


def _feet(room: RoomSetOut, at: Floats) -> list[tuple[float, Floats]]:
    """Feet of a point on straight bare walls that it can be measured from square to them, nearest first."""
    feet: list[tuple[float, Floats]] = []
    for wall in room.lining.outline.walls:
        if wall.run.straight:
            foot = wall.run.at(wall.run.along(at))
            way = wall.run.points[-1] - wall.run.points[0]
            square = abs(float((foot - at) @ way)) < 1e-3 * float(np.hypot(*way)) * max(float(np.hypot(*(foot - at))), 1.0)
            if square:
                feet.append((float(np.hypot(*(foot - at))), foot))
    return sorted(feet, key=lambda item: item[0])


def _offset(at: Floats, foot: Floats, view: View, placer: Placer, result: list[Primitive]) -> None:
    """A measuring line from a point to a wall, its figure along it."""
    length = float(np.hypot(*(foot - at)))
    middle = view.to_paper(np.array([(at + foot) / 2]))[0]
    way = (foot - at) / max(length, 1e-9)
    angle = readable(math.degrees(math.atan2(way[1], way[0])))
    result.append(Dimension((float(at[0]), float(at[1])), (float(foot[0]), float(foot[1])), 0.0, "", "DIMENSION", 2.5))
    normal = np.array([-way[1], way[0]])
    spots = [
        Spot((float((middle + normal * off + way * on)[0]), float((middle + normal * off + way * on)[1])), angle=angle)
        for on in (0.0, 6.0, -6.0, 12.0, -12.0)
        for off in (2.4, -2.4)
    ]
    placer.place(f"{length:.0f}", 2.5, "DIMENSION", spots, boxed=True, needed=True, foot=middle)


def _kinds(lines: tuple[FallLine, ...]) -> list[str]:
    totals: dict[str, float] = {}
    for line in lines:
        totals[line.kind] = totals.get(line.kind, 0.0) + line.length / 1000.0
    return [f"{kind} {metres:.2f} m" for kind, metres in totals.items()]


def _nearest(room: RoomSetOut, at: tuple[float, float]) -> str:
    """A place in words: beside which wall, or how far from it."""
    point = shapely.Point(at)
    off, label = min((float(shapely.LineString(wall.run.points).distance(point)), wall.label) for wall in room.lining.outline.walls)
    return say("at {label}", label=label) if off < 50.0 else say("{off:.0f} from {label}", off=off, label=label)


def words(room: RoomSetOut, levels: Levels, column: Column, present: set[str]) -> None:
    """The column: datum, drains, lines, tile over hips, screed, order of work, findings."""
    column.head(say("Levels"))
    column.words(
        say(
            "Finished levels in mm: {datum}. Bare screed lies {build_up:g} lower.", datum=levels.datum, build_up=room.floor.surface.build_up
        ),
        3.0,
    )
    column.head(say("Drains: set these first"))
    rows = [[say("drain"), say("frame at"), say("flattest"), say("steepest")]]
    for drain in levels.drains:
        rows.append([drain.name, told(drain.level), told_ratio(drain.flattest), told_ratio(drain.steepest)])
    column.rows((60, 34, 40, 40), rows, height=3.5, right=(1, 2, 3))
    kept = FALL_RANGES[room.lining.plan.rules.fall_range]
    column.words(say("Falls are checked to lie between 1:{flattest:g} and 1:{steepest:g}.", flattest=kept.flattest, steepest=kept.steepest))
    _notes(room, levels, column)
    column.head(say("Order of work"))
    for text in ORDER:
        column.words(text, bullet="•")
    column.head(say("Levels to check"))
    spots = [[say("place"), say("level"), say("as laid")], *[[spot.what, told(spot.level), "______"] for spot in levels.spots]]
    column.rows((110, 32, 32), spots, height=2.5, right=(1, 2))
    column.head(say("Key"))
    column.legend("falls", present)
    column.findings(room, floor_only=True, most=6, codes=CODES)
    if column.left > 62.0:
        column.cautions()


def _notes(room: RoomSetOut, levels: Levels, column: Column) -> None:
    """Lines, tile over hips, screed, the water test on paper."""
    if levels.lines:
        column.words(say("Lines: {kinds}.", kinds=", ".join(_kinds(levels.lines))))
    tile = room.floor.tile
    if levels.cuts:
        column.words(
            say(
                "Tile {size:g} long is cut along the lines drawn: over the sharpest of them it would stand out by more "
                "than the limit; up to {greatest:.0f} it need not be.",
                size=max(tile.size),
                greatest=levels.greatest,
            ),
            bullet="•",
        )
    elif levels.lines and math.isfinite(levels.greatest):
        column.words(
            say(
                "Tile up to {greatest:.0f} long may lie over the lines; this one is {size:g}.",
                greatest=levels.greatest,
                size=max(tile.size),
            ),
            bullet="•",
        )
    screed = levels.screed
    column.words(
        say(
            "Screed {least:.0f} to {most:.0f} thick over a slab at {told}, {volume:.2f} m³. Thinnest {nearest}.",
            least=screed.least,
            most=screed.most,
            told=told(screed.slab),
            volume=screed.volume,
            nearest=_nearest(room, screed.least_at),
        ),
        bullet="•",
    )
    if levels.ponds:
        column.words(
            say("{count} ponds on paper: see below.", count=len(levels.ponds))
            if len(levels.ponds) > 1
            else say("1 pond on paper: see below."),
            bullet="□",
        )
    else:
        column.words(say("Water test on paper: from every place a falling way leads to a drain."), bullet="•")
