"""Cards as shop drawings: each cut in its tile as laid, with its mark, how many, what cuts it, and where to saw.

Straight cuts and corners are small: their saw size says all. Of the others every notch and hole is told by figures from two factory
edges, every arc by its centre and radius. Saw lines are numbered in the order of sawing where there is more than one. Cards of what
is cut by one thing stand beside each other, under its name.
"""

from __future__ import annotations

import itertools
import math
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import Polygon

from layout.shapes import parts_of
from layout.sheets.lettering import fitted, text_width, wrapped
from layout.sheets.saw_lines import datum_corner, figures
from layout.sheets.scene import Fill, Label, Primitive, Stroke, bubble_ring
from layout.vectors import leftward, line_length, pair
from layout.vectors import unit as unit_of
from layout.words import say

if TYPE_CHECKING:
    from collections.abc import Sequence

    from layout.sheets.column import Column
    from layout.sheets.cut_by import CutBy
    from layout.sheets.cut_places import LaidCut
    from layout.sheets.saw_lines import SawLine, Side
    from layout.tiles.pieces import Cut
    from layout.vectors import Floats

MARK_HEIGHT, FIGURE = 5.0, 2.5
LINE = 3.6
"""From one line of a card's words to the next, paper mm."""
SMALL_ROW, LARGE_ROW = 4, 3
"""Small cards and shop drawings beside each other in a column."""
SMALL, LARGE = 13.5, 27.0
"""Longer side of a tile drawn on a small card and on a shop drawing, paper mm."""
BESIDE, BARE = 11.0, 2.5
"""Kept over and under a tile on its shop drawing where figures stand there, and where none do, paper mm."""
APART = 3.3
"""Figures beside a tile stand no nearer to each other, paper mm."""
ROUND = 3.2
"""Kept round a tile on a small card for the numbers of its saw lines, paper mm."""
HEAD = 5.0
"""Height of the name of what cuts the tiles under it, paper mm."""
ARROW, TIP = 6.0, 1.6
"""Length of the arrow to what cuts a tile and of its head, paper mm."""


def cards(cuts: Sequence[LaidCut], column: Column) -> None:
    """Cuts with their number: first what its saw size says all of, then shop drawings, each by what cuts it."""
    several = len({_tile_size(each.cut) for each in cuts}) > 1
    for large, per_row in ((False, SMALL_ROW), (True, LARGE_ROW)):
        own = [each for each in cuts if each.plain != large]
        if large and own:
            column.need(5.0 + HEAD + max(_large_height(each, column.width / per_row - 3.0, several) for each in own[:per_row]))
            column.words(say("Shaped pieces: figures run from ●, the corner of two factory edges that the piece keeps."))
        cell = column.width / per_row
        for row in [own[k : k + per_row] for k in range(0, len(own), per_row)]:
            tall = HEAD + max((_large_height if large else _small_height)(each, cell - 3.0, several) for each in row)
            column.need(tall)
            for place, each in enumerate(row):
                x = column.x + place * cell
                column.now.extend(_head(row, place, x, column.y, cell))
                column.now.extend(card(each, x, column.y - HEAD, cell - 3.0, name_tile=several))
            column.y -= tall


def _head(row: Sequence[LaidCut], place: int, x: float, y: float, cell: float) -> list[Primitive]:
    """The name of what cuts the tiles, over a line that runs along all its cards in the row; nothing over the others of them."""
    name = row[place].things[:1]
    if not name or (place and row[place - 1].things[:1] == name):
        return []
    span = next((k for k, each in enumerate(row[place:]) if each.things[:1] != name), len(row) - place) * cell - 3.0
    bold = text_width(name[0], FIGURE, bold=True) <= span
    words = Label(fitted(name[0], FIGURE, span), (x, y - 3.2), FIGURE, "TEXT", bold=bold)
    return [words, Stroke(np.array([[x, y - 4.2], [x + span, y - 4.2]]), "TITLE")]


def _tile_size(cut: Cut) -> str:
    return f"{round(cut.box[0], 1):g} × {round(cut.box[1], 1):g}"


def _size_words(size: tuple[float, float]) -> str:
    return " × ".join(f"{side:g}" if side >= 1.0 else say("under 1") for side in size)


def _said(each: LaidCut, *, name_tile: bool) -> list[str]:
    """What a card says under or beside its drawing."""
    lines = _cut_out(each) if not each.plain else [_size_words(each.size)]
    if each.cut.start is not None and each.cut.end is not None:
        lines = [f"{each.cut.start:g} → {each.cut.end:g}", say("scribe on site")]
    things = [line.thing for line in each.lines if line.thing]
    if len(each.lines) > 1 and len(set(things)) > 1:
        lines += [
            f"{', '.join(str(k) for k, line in enumerate(each.lines, 1) if line.thing == thing)}: {thing}"
            for thing in dict.fromkeys(things)
        ]
    if len(each.things) > len(set(things)):
        others = [thing for thing in each.things if thing not in things]
        lines.append(say("also {names}", names=", ".join(_short(thing, each.things[0].owner) for thing in others)))
    if each.bays:
        numbers = in_short(each.bays)
        lines.append(say("bays {numbers}", numbers=numbers) if len(each.bays) > 1 else say("bay {number}", number=numbers))
    if each.other:
        lines.append(each.other)
    return [*lines, say("of {tile_size}", tile_size=_tile_size(each.cut))] if name_tile else lines


def _short(thing: CutBy, owner: str) -> str:
    """A thing's name; of another side of the owner only which side, which says enough."""
    return say("side {side}", side=thing.side) if thing.side and thing.owner == owner else thing


def in_short(numbers: Sequence[int]) -> str:
    """Numbers in rising order, three and more that follow each other by first and last.

    >>> in_short((1, 2, 3, 5, 7, 8))
    '1–3, 5, 7, 8'
    """
    groups: list[list[int]] = []
    for number in numbers:
        if groups and number == groups[-1][-1] + 1:
            groups[-1].append(number)
        else:
            groups.append([number])
    return ", ".join(f"{own[0]}–{own[-1]}" if len(own) > 2 else ", ".join(map(str, own)) for own in groups)


def _cut_out(each: LaidCut) -> list[str]:
    """What is sawn out of the tile, if one part is gone and the piece still spans the tile; else the piece's own box."""
    piece = Polygon(each.ring, each.holes)
    gone = [part for part in parts_of(shapely.difference(Polygon(each.tile), piece)) if part.area > 1.0]
    low, high = np.array(piece.bounds).reshape(2, 2)
    spans = bool((high - low > np.array(each.box) - 1.0).all())
    arcs = [line for line in each.lines if line.arc is not None]
    words = [_arc_words(line, each) for line in arcs]
    if len(gone) == 1 and spans and not arcs:
        x0, y0, x1, y1 = gone[0].bounds
        word = say("hole") if each.cut.shape == "hole" else say("less")
        return [f"{word} {math.ceil(x1 - x0 - 1e-3):g} × {math.ceil(y1 - y0 - 1e-3):g}"]
    return [*([] if spans else [_size_words(each.size)]), *words, *([] if arcs else [say("saw as drawn")])]


def _arc_words(line: SawLine, each: LaidCut) -> str:
    """An arc's radius or a round hole's width, and its centre from the two factory edges that the piece keeps."""
    assert line.arc is not None
    x, y, radius = line.arc
    across, up = datum_corner(each.ring, each.tile)
    w, h = each.box
    told = []
    for value, word in (
        (w - x if across == "right" else x, say("across")),
        (h - y if up == "top" else y, say("down") if up == "top" else say("up")),
    ):
        way = say("outside") if value < -0.5 else word
        told.append(f"{abs(value):.0f} {way}")
    name = say("hole Ø {ceil:g}", ceil=math.ceil(2.0 * radius - 1e-3)) if line.closed else say("arc R {radius:.0f}", radius=radius)
    return say("{name}, centre {told}", name=name, told=", ".join(told))


def _wrapped(lines: Sequence[str], width: float) -> list[str]:
    return [part for line in lines for part in wrapped(line, FIGURE, width)]


def _small_height(each: LaidCut, width: float, name_tile: bool) -> float:
    lines = 1 + len(_wrapped(_said(each, name_tile=name_tile), width - SMALL - 2.0 * ROUND - 1.0))
    return max(SMALL * each.box[1] / max(each.box) + 2.0 * ROUND, 6.5 + LINE * lines) + 2.0


def _large_height(each: LaidCut, width: float, name_tile: bool) -> float:
    over, under = _beside(each)
    tile = LARGE * each.box[1] / max(each.box)
    return 8.0 + over + tile + under + LINE * len(_wrapped(_said(each, name_tile=name_tile), width)) + 2.0


def _beside(each: LaidCut) -> tuple[float, float]:
    """Room for figures over and under the tile of a shop drawing, paper mm."""
    beside = figures(each.lines, each.ring, each.tile, each.step)
    return BESIDE if beside["top"] else BARE, BESIDE if beside["bottom"] else BARE


def card(each: LaidCut, x: float, y: float, width: float, *, name_tile: bool) -> list[Primitive]:
    """The card of a cut, small or a shop drawing; top left at (x, y)."""
    return (small_card if each.plain else large_card)(each, x, y, width, name_tile=name_tile)


def small_card(each: LaidCut, x: float, y: float, width: float, *, name_tile: bool) -> list[Primitive]:
    """A cut whose saw size says all: the tile at the left, words beside it; top left at (x, y)."""
    unit = SMALL / max(each.box)
    low = np.array([x + ROUND + SMALL - each.box[0] * unit, y - ROUND - each.box[1] * unit])
    left = x + SMALL + 2.0 * ROUND + 1.0
    lines = [say("{count} off", count=each.count), *_wrapped(_said(each, name_tile=name_tile), width - SMALL - 2.0 * ROUND - 1.0)]
    return [
        *_tile(each, low, unit),
        *_arrows(each, low, unit),
        *_numbers(each, low, unit),
        Label(each.cut.mark, (left, y - 5.5), MARK_HEIGHT, "MARK", bold=True),
        *[Label(text, (left, y - 7.3 - LINE * k), FIGURE, "TEXT", "left", "top") for k, text in enumerate(lines)],
    ]


def large_card(each: LaidCut, x: float, y: float, width: float, *, name_tile: bool) -> list[Primitive]:
    """A shop drawing: mark and number over the tile, figures round it, words under it; top left at (x, y)."""
    unit = LARGE / max(each.box)
    wide, tall = each.box[0] * unit, each.box[1] * unit
    over, under = _beside(each)
    low = np.array([x + (width - wide) / 2.0, y - 8.0 - over - tall])
    foot = float(low[1]) - under
    words = _wrapped(_said(each, name_tile=name_tile), width)
    return [
        Label(each.cut.mark, (x + 1.0, y - 6.5), MARK_HEIGHT, "MARK", bold=True),
        Label(say("{count} off", count=each.count), (x + width - 1.0, y - 6.5), FIGURE, "TEXT", "right"),
        *_tile(each, low, unit),
        *_centres(each, low, unit),
        *_arrows(each, low, unit),
        *_numbers(each, low, unit),
        *_figures(each, low, unit),
        *[Label(text, (x + 1.0, foot - LINE * k), FIGURE, "TEXT", "left", "top") for k, text in enumerate(words)],
    ]


def _tile(each: LaidCut, low: Floats, unit: float) -> list[Primitive]:
    """The tile's outline, the piece in it, its saw lines bold."""
    ring, holes = each.ring * unit + low, [hole * unit + low for hole in each.holes]
    return [
        Stroke(each.tile * unit + low, "TONE", closed=True),
        Fill(Polygon(ring, holes), "TILE-CUT", 0.14),
        Stroke(ring, "TITLE", closed=True),
        *[Stroke(hole, "TITLE", closed=True) for hole in holes],
    ]


def _pointers(each: LaidCut, low: Floats, unit: float) -> list[tuple[Floats, Floats, Floats]]:
    """Tail, tip and way of an arrow in the piece to each thing that cuts it, on the longest of its saw lines there; paper mm."""
    longest: dict[object, SawLine] = {}
    for number, line in enumerate(each.lines):
        key = number if each.plain else line.thing
        if not line.closed and (key not in longest or line_length(line.points) > line_length(longest[key].points)):
            longest[key] = line
    piece = Polygon(each.ring, each.holes)
    result = []
    for line in longest.values():
        out = line.out
        ray = shapely.LineString([line.middle - out * 0.01, line.middle - out * 1e4])
        room = shapely.get_parts(shapely.intersection(ray, piece))
        here = [part.length for part in room if part.distance(shapely.Point(line.middle)) < 1.0]
        long = min(ARROW, max(here, default=0.0) * unit - 0.6)
        if long < 1.8:
            continue
        tip = line.middle * unit + low - out * 0.3
        result.append((tip - out * long, tip, out))
    return result


def _arrows(each: LaidCut, low: Floats, unit: float) -> list[Primitive]:
    result: list[Primitive] = []
    for tail, tip, out in _pointers(each, low, unit):
        head, side = min(TIP, 0.6 * float(np.hypot(*(tip - tail)))), leftward(out)
        result.append(Stroke(np.array([tail, tip]), "MARK"))
        result.append(Fill(Polygon([tip, tip - out * head + side * head / 3, tip - out * head - side * head / 3]), "MARK", 1.0))
    return result


def _numbers(each: LaidCut, low: Floats, unit: float) -> list[Primitive]:
    """Saw lines numbered in the order of sawing, each beside its line, in the piece or in what goes; none where there is one only."""
    if len(each.lines) < 2:
        return []
    result: list[Primitive] = []
    taken = [tail + (tip - tail) * part for tail, tip, _ in _pointers(each, low, unit) for part in (0.0, 0.25, 0.5, 0.75, 1.0)]
    piece = shapely.transform(Polygon(each.ring, each.holes), lambda xy: xy * unit + low)
    frame = shapely.box(*(low - 0.5), *(low + np.array(each.box) * unit + 0.5))
    for number, line in enumerate(each.lines, 1):
        ends = line.points[[0, -1]]
        run, long = unit_of(ends[1] - ends[0]), line_length(ends)
        parts = [0.28, 0.72, 0.15, 0.85, 0.5] if line.arc is None else []
        tries = [ends[0] + run * long * part for part in parts] or [line.middle]
        if not each.plain:  # beside a short line the number stands a little off its end
            tries += [line.middle + run * off / unit for off in (1.5, -1.5, 3.0, -3.0, 4.5, -4.5)]
        ways = (2.0,) if each.plain else (-2.2, 2.2, -3.2, 3.2, -4.5, -6.0, -8.0)  # a small tile has no room inside
        spots, worth = [], []
        for way, at in itertools.product(ways, tries):
            spot = at * unit + low + line.out * way
            box = shapely.box(*(spot - 1.4), *(spot + 1.4))
            free = min((float(np.abs(spot - other).max()) for other in taken), default=9.0)
            clear = frame.covers(box) and (piece.covers(box) if way < 0.0 else not piece.intersects(box))
            spots.append(spot)
            worth.append((free > 2.4) * 2.0 + clear * 3.0 + min(free, 3.0) * 0.01 - abs(way) * 0.001)
        at = spots[int(np.argmax(worth))]
        taken.append(at)
        result.append(Label(str(number), pair(at), FIGURE, "TEXT", "centre", "middle", bold=True))
    return result


def _centres(each: LaidCut, low: Floats, unit: float) -> list[Primitive]:
    """A cross at the centre of each arc that lies in the tile or close by it."""
    result: list[Primitive] = []
    for line in each.lines:
        if line.arc is None:
            continue
        at = np.array(line.arc[:2])
        off = np.maximum(np.maximum(-at, at - np.array(each.box)), 0.0) * unit
        if float(off.max()) < 5.0:
            middle = at * unit + low
            for way in (np.array([1.2, 0.0]), np.array([0.0, 1.2])):
                result.append(Stroke(np.array([middle - way, middle + way]), "TITLE"))
    return result


def _figures(each: LaidCut, low: Floats, unit: float) -> list[Primitive]:
    """Figures round the tile at thin lines from the ends of the saw lines, and the corner that they run from."""
    across, up = datum_corner(each.ring, each.tile)
    corner = np.array([each.box[0] if across == "right" else 0.0, each.box[1] if up == "top" else 0.0]) * unit + low
    result: list[Primitive] = [Fill(Polygon(bubble_ring(pair(corner), 0.9, 16)), "MARK", 1.0)]
    for side, own in figures(each.lines, each.ring, each.tile, each.step).items():
        result += _along(side, own, low, np.array(each.box) * unit, unit)
    return result


def _along(side: Side, own: Sequence[tuple[float, float]], low: Floats, size: Floats, unit: float) -> list[Primitive]:
    """Figures of one side, pushed apart where they would cover each other."""
    axis = 0 if side in ("bottom", "top") else 1
    out = -1.0 if side in ("bottom", "left") else 1.0
    edge = float(low[1 - axis]) + (0.0 if out < 0.0 else float(size[1 - axis]))
    places = _spread([float(low[axis]) + at * unit for at, _ in own], float(low[axis]) - 3.0, float(low[axis] + size[axis]) + 3.0)
    result: list[Primitive] = []
    for (at, value), place in zip(own, places, strict=True):
        tick = [(float(low[axis]) + at * unit, edge + out * 0.4), (place, edge + out * 2.0)]
        anchor = (place, edge + out * 2.4)
        points = np.array(tick if axis == 0 else [(b, a) for a, b in tick])
        spot = anchor if axis == 0 else (anchor[1], anchor[0])
        angle = 90.0 if axis == 0 else 0.0
        ahead = out > 0.0
        result.append(Stroke(points, "DIMENSION"))
        result.append(Label(f"{value:g}", spot, FIGURE, "DIMENSION", "left" if ahead else "right", "middle", angle))
    return result


def _spread(places: Sequence[float], low: float, high: float) -> list[float]:
    """Places in order at least `APART` from each other, near where they were, between bounds where they go there."""
    result = list(places)
    for _ in range(len(result)):
        for k in range(1, len(result)):
            gap = result[k] - result[k - 1]
            if gap < APART:
                result[k - 1] -= (APART - gap) / 2
                result[k] += (APART - gap) / 2
    if result and result[-1] > high:
        result = [place - (result[-1] - high) for place in result]
    if result and result[0] < low:
        result = [place + (low - result[0]) for place in result]
    return result
