"""Label placing: every needed label gets a place, none covers another; helpful ones go where there is room.

Works in paper millimetres. A label is asked for with the places that would do, nearest first. Needed labels may push others
aside: each of those goes to another of its own places, else, if it is only helpful, it is left out (exchange, two deep). What
finds no place near gets a leader: a line from the thing to words in the open; leaders cross neither labels nor each other.
Boxes are axis-parallel hulls of turned labels, from the widths of the shipped faces.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from shapely import Polygon

from layout.sheets.lettering import text_width
from layout.sheets.scene import Fill, Label, Stroke, View, bubble_ring
from layout.sheets.spots import Asked, Box, Spot, label_box, leader_spots
from layout.vectors import pair

if TYPE_CHECKING:
    from collections.abc import Iterable

    from layout.sheets.scene import Primitive
    from layout.vectors import Bools, Floats, Ints

CLEAR = 0.6
"""Clear space kept round a label, paper mm."""
DEPTH = 2
"""How many labels may push each other aside in a row."""
TRIED = 12
"""Places of a label at which others are pushed aside, those with fewest in the way first."""
SUMMED_FROM = 1500
"""From so many places looked at without a new claim on, sums over the cells are worth their making."""
AT_ONCE = 24
"""Places that are looked at together: most labels stand at one of the first."""
BUDGET = 300
"""Tries of pushing aside on one sheet: a bound on work by count, not by time, so that the same plan gives the same sheet."""
CELL = 0.25
"""Side of the cells in which it is kept what is taken, paper mm."""
SHARED = 1
"""A cell that no label may stand on, whoever owns it."""
DOT = 0.45
"""Radius of the dot at the foot of a leader, paper mm (ISO 128-2: a leader that ends within an outline ends in a dot)."""


@dataclass(slots=True)
class Placer:
    """Keeps what is taken on one sheet, paper mm, and the labels that were asked for."""

    bounds: Box
    asked: list[Asked] = field(default_factory=list)
    placed: list[Asked] = field(default_factory=list)
    fixed: list[Label] = field(default_factory=list)
    blocks: int = 0
    cells: Ints = field(init=False)
    budget: int = BUDGET
    standing: tuple[Floats, Floats, Floats] | None = None
    core: Box | None = None
    sums: Ints | None = None
    summed: tuple[int, int] = (-1, 0)
    hulls: dict[int, Box] = field(default_factory=dict)
    marked: list[Box] = field(default_factory=list)

    def __post_init__(self) -> None:
        wide, tall = (max(self.bounds[k + 2] - self.bounds[k], 0.0) for k in (0, 1))
        self.cells = np.zeros((math.ceil(tall / CELL) + 1, math.ceil(wide / CELL) + 1), dtype=np.int64)

    def _window(self, box: Box | Floats, grow: float = 0.0) -> tuple[slice, slice]:
        x0, y0 = ((box[k] - grow - self.bounds[k]) / CELL for k in (0, 1))
        x1, y1 = ((box[k + 2] + grow - self.bounds[k]) / CELL for k in (0, 1))
        return slice(max(round(y0), 0), max(round(y1), 0)), slice(max(round(x0), 0), max(round(x1), 0))

    def block(self, box: Box, owner: int = -1) -> None:
        """Keep labels off a box, those of the same owner (0 or more) excepted."""
        rows, columns = self._window(box)
        # a line thinner than a cell takes one all the same
        rows, columns = (slice(each.start, max(each.stop, each.start + 1)) for each in (rows, columns))
        area = self.cells[rows, columns]
        mine = owner + 2 if owner >= 0 else SHARED
        area[...] = np.where((area == 0) | (area == mine), mine, SHARED)
        self.blocks += 1
        if owner >= 0:
            hull = self.hulls.get(owner, box)
            self.hulls[owner] = (min(hull[0], box[0]), min(hull[1], box[1]), max(hull[2], box[2]), max(hull[3], box[3]))

    def mark_off(self, box: Box) -> None:
        """Keep everything off a box, what is fixed too: what a part of a floor says of its neighbours stands there."""
        self.marked.append(box)
        self.block(box)

    def keeps(self, box: Box) -> bool:
        """Whether what stands on a box is drawn: on a part of a floor all that lies outside it or on its marks is left out."""
        x0, y0, x1, y1 = self.bounds
        inside = box[0] >= x0 and box[1] >= y0 and box[2] <= x1 and box[3] <= y1
        return not self.marked or (inside and not any(_shared(box, tuple(other)) > 0.0 for other in self.marked))

    def fix(self, label: Label) -> None:
        """A needed label that has one place only, as the name in its bubble: others keep off it; none where it is not drawn."""
        if self.keeps(label_box(label)):
            self.fixed.append(label)
            self.block(label_box(label))

    def overlap(self, box: Box) -> float:
        """Area of a box that is taken or off the drawing, mm²."""
        x0, y0, x1, y1 = self.bounds
        inside = max(0.0, min(box[2], x1) - max(box[0], x0)) * max(0.0, min(box[3], y1) - max(box[1], y0))
        total = (box[2] - box[0]) * (box[3] - box[1]) - inside
        total += float(np.count_nonzero(self.cells[self._window(box, CLEAR)])) * CELL**2
        return total + sum(_shared(box, tuple(other.boxes[other.here])) for other in self.placed)

    def _is_free(self, box: Floats, owner: int) -> bool:
        """Whether a box is inside the drawing and on nothing that does not move."""
        x0, y0, x1, y1 = self.bounds
        if box[0] < x0 or box[1] < y0 or box[2] > x1 or box[3] > y1:
            return False
        area = self.cells[self._window(box, CLEAR)]
        if not area.any():
            return True
        if owner < 0:
            return False
        return bool(((area == 0) | (area == owner + 2)).all())

    def place(
        self,
        text: str,
        height: float,
        layer: str,
        spots: Iterable[Spot],
        *,
        boxed: bool = False,
        bold: bool = False,
        needed: bool = False,
        foot: Floats | tuple[float, float] | None = None,
        owner: int = -1,
        shown_with: tuple[Primitive, ...] = (),
    ) -> Label | None:
        """Ask for a label; what it got for now, None if no place is free.

        A needed label is asked for again when all others are known (`finish`); with a `foot` (paper mm) it may then stand off
        with a leader. `shown_with` is drawn with it only.
        """
        own_foot = None if foot is None else (float(foot[0]), float(foot[1]))
        own = Asked(text, height, layer, list(spots), boxed, bold, needed, own_foot, owner, shown_with)
        self.asked.append(own)
        self._weigh(own)
        if not self._put(own) and needed and self.concerns(own):
            self._exchange(own, 1)
        return own.label(own.here) if own.here >= 0 else None

    def _weigh(self, own: Asked) -> None:
        """Which of a label's places lie on nothing that does not move; their leaders, NaN where there is none."""
        own.boxes = _boxes_of(own)
        own.seen = -1
        self._look(own)
        own.leaders = np.full((len(own.spots), 4), np.nan)
        if own.foot is not None and len(own.boxes):
            lead = np.array([spot.leader for spot in own.spots])
            x = np.clip(own.foot[0], own.boxes[:, 0], own.boxes[:, 2])
            y = np.clip(own.foot[1], own.boxes[:, 1], own.boxes[:, 3])
            every = np.column_stack([np.full(len(x), own.foot[0]), np.full(len(x), own.foot[1]), x, y])
            own.leaders[lead] = every[lead]

    def _look(self, own: Asked) -> None:
        """See again which places are free, if more was blocked since."""
        if own.seen != self.blocks:
            own.known = np.zeros(len(own.boxes), dtype=bool)
            own.free = np.zeros(len(own.boxes), dtype=bool)
            own.seen = self.blocks

    def _within(self, own: Asked) -> Ints:
        """Places of a label that lie in the drawing."""
        x0, y0, x1, y1 = self.bounds
        boxes = own.boxes
        return np.flatnonzero((boxes[:, 0] >= x0) & (boxes[:, 1] >= y0) & (boxes[:, 2] <= x1) & (boxes[:, 3] <= y1))

    def _free_of(self, own: Asked, places: Ints) -> Ints:
        """Those of some places that lie on nothing that does not move; each is looked at once."""
        unknown = places[~own.known[places]]
        for k in self._perhaps_free(own, unknown).tolist():
            own.free[k] = self._is_free(own.boxes[k], own.owner)
        own.known[unknown] = True
        return places[own.free[places]]

    def _perhaps_free(self, own: Asked, places: Ints) -> Ints:
        """Places that must be looked at: on cells without a claim, or near what is the label's own; by sums over the cells (Crow, 1984)."""
        since, looked = self.summed
        if since != self.blocks:
            since, looked = (self.blocks, 0)
            self.sums = None
        self.summed = (since, looked + len(places))
        if self.sums is None and looked + len(places) < SUMMED_FROM:
            return places
        if self.sums is None:
            self.sums = np.zeros((self.cells.shape[0] + 1, self.cells.shape[1] + 1), dtype=np.int64)
            np.cumsum(np.cumsum(self.cells != 0, axis=0, dtype=np.int64), axis=1, out=self.sums[1:, 1:])
        boxes = own.boxes[places]
        low = np.array([self.bounds[0], self.bounds[1]])
        tall, wide = self.cells.shape
        left, below = (np.maximum(np.round((boxes[:, k] - CLEAR - low[k]) / CELL), 0).astype(np.int64) for k in (0, 1))
        right, above = (np.maximum(np.round((boxes[:, k + 2] + CLEAR - low[k]) / CELL), 0).astype(np.int64) for k in (0, 1))
        left, right, below, above = (np.minimum(each, most) for each, most in ((left, wide), (right, wide), (below, tall), (above, tall)))
        taken = self.sums[above, right] - self.sums[below, right] - self.sums[above, left] + self.sums[below, left]
        perhaps: Bools = taken == 0
        hull = self.hulls.get(own.owner)
        if hull is not None:
            grown = 2.0 * CLEAR
            near = (boxes[:, :2] < np.array(hull[2:]) + grown).all(axis=1) & (boxes[:, 2:] > np.array(hull[:2]) - grown).all(axis=1)
            perhaps |= near
        return places[perhaps]

    def _now(self) -> tuple[Floats, Floats, Floats]:
        """Boxes, leaders and hulls of both (n, 4) of the labels that stand."""
        if self.standing is None:
            boxes = np.array([other.boxes[other.here] for other in self.placed]).reshape(-1, 4)
            leaders = np.array([other.leaders[other.here] for other in self.placed]).reshape(-1, 4)
            self.standing = boxes, leaders, _hulls(boxes, leaders)
        return self.standing

    def _in_the_way(self, own: Asked, places: Ints) -> Bools:
        """For some of a label's places (k,), which of the standing labels (n,) each cannot stand beside: (k, n)."""
        boxes, leaders, hulls = self._now()
        mine, line = own.boxes[places], own.leaders[places]
        reach = _hulls(mine, line)
        low, high = reach[:, :2].min(axis=0) - CLEAR, reach[:, 2:].max(axis=0) + CLEAR
        near = np.flatnonzero((hulls[:, 2:] > low).all(axis=1) & (hulls[:, :2] < high).all(axis=1))
        result: Bools = np.zeros((len(places), len(boxes)), dtype=bool)
        if len(near) == 0:
            return result
        other, lead = boxes[near], leaders[near]
        hit = (other[None, :, 2] > mine[:, None, 0] - CLEAR) & (other[None, :, 0] < mine[:, None, 2] + CLEAR)
        hit &= (other[None, :, 3] > mine[:, None, 1] - CLEAR) & (other[None, :, 1] < mine[:, None, 3] + CLEAR)
        led, leading = np.flatnonzero(~np.isnan(line[:, 0])), np.flatnonzero(~np.isnan(lead[:, 0]))
        if len(led):
            hit[led] |= _runs_through(line[led, None], other[None])
        if len(leading):
            hit[:, leading] |= _runs_through(lead[None, leading], mine[:, None])
        if len(led) and len(leading):
            hit[np.ix_(led, leading)] |= _cross(line[led, None], lead[None, leading])
        result[:, near] = hit
        return result

    def _stand(self, own: Asked, place: int) -> None:
        if self.standing is not None:
            box, leader = own.boxes[place][None], own.leaders[place][None]
            self.standing = tuple(np.vstack(pair) for pair in zip(self.standing, (box, leader, _hulls(box, leader)), strict=True))  # type: ignore[assignment]
        own.here = place
        self.placed.append(own)

    def _put(self, own: Asked) -> bool:
        self._look(own)
        every = self._within(own)
        for k in range(0, len(every), AT_ONCE):
            some = self._free_of(own, every[k : k + AT_ONCE])
            if len(some) == 0:
                continue
            clear = np.flatnonzero(~self._in_the_way(own, some).any(axis=1)) if self.placed else np.arange(len(some))
            if len(clear):
                self._stand(own, int(some[clear[0]]))
                return True
        return False

    def _exchange(self, own: Asked, depth: int) -> bool:
        """Put a label where others stand that can go elsewhere, or are only helpful; the tries of a sheet are numbered."""
        self._look(own)
        places = self._free_of(own, self._within(own))
        if len(places) == 0 or not self.placed:
            return False
        hits = self._in_the_way(own, places)
        needed = np.array([1.0 if other.needed else 0.3 for other in self.placed])
        cost = hits @ needed + 0.01 * np.arange(len(places))
        for number in np.argsort(cost, kind="stable")[:TRIED].tolist():
            if self.budget <= 0:
                return False
            self.budget -= 1
            others = [self.placed[n] for n in np.flatnonzero(hits[number])]
            before = [(other, other.here) for other in self.placed]
            self.placed = [other for other in self.placed if other not in others]
            self.standing = None
            self._stand(own, int(places[number]))
            if all(self._moved(other, depth) for other in sorted(others, key=lambda other: not other.needed)):
                return True
            for other in (*others, own):
                other.here = -1
            self.placed = [other for other, _ in before]
            self.standing = None
            for other, here in before:
                other.here = here
        return False

    def _moved(self, own: Asked, depth: int) -> bool:
        """Whether a label that was pushed aside stands again, or may be left out."""
        own.here = -1
        return self._put(own) or not own.needed or (depth > 1 and self._exchange(own, depth - 1))

    def refresh(self) -> None:
        """Allow as many tries again, for labels that are asked for after all others stand."""
        self.budget = BUDGET

    def finish(self) -> None:
        """Give what is needed and still has no place one with a leader, the least free first; then what is helpful, if it can be."""
        for own in list(self.placed):
            self._look(own)
            if len(self._free_of(own, np.array([own.here]))) == 0:  # something that does not move came to stand there since
                own.here = -1
        self.placed = [own for own in self.placed if own.here >= 0]
        self.standing = None
        waiting = [own for own in self.asked if own.here < 0 and own.needed and self.concerns(own)]
        for own in waiting:
            if own.foot is not None:
                own.spots += leader_spots(own.foot)
            self._weigh(own)
        waiting.sort(key=lambda own: len(self._free_of(own, self._within(own))))
        for own in waiting:
            if not self._put(own):
                self._exchange(own, DEPTH)
        for own in self.asked:
            if own.here < 0 and own not in waiting:
                self._put(own)

    def concerns(self, own: Asked) -> bool:
        """Whether what a label names lies on this sheet: a part of a floor does not name what lies on other parts."""
        x, y = own.foot or (own.spots[0].at if own.spots else (math.inf, math.inf))
        x0, y0, x1, y1 = self.core or self.bounds
        return x0 <= x <= x1 and y0 <= y <= y1

    def missing(self) -> tuple[str, ...]:
        """Needed labels that have no place."""
        return tuple(text for text, _ in self.without_place())

    def without_place(self) -> tuple[tuple[str, tuple[float, float]], ...]:
        """Needed labels that have no place, each with what it names: a point of the paper, mm."""
        left = [own for own in self.asked if own.needed and own.here < 0 and self.concerns(own)]
        return tuple((own.text, own.foot or own.spots[0].at) for own in left)

    def needed(self) -> tuple[str, ...]:
        """Needed labels as they stand."""
        return (*(label.text for label in self.fixed), *(own.label(own.here).text for own in self.placed if own.needed))

    def drawn(self, view: View) -> tuple[Primitive, ...]:
        """The labels that have a place with their leaders, in room mm, in the order that they were asked for."""
        result: list[Primitive] = []
        for own in self.asked:
            if own.here < 0:
                continue
            leader = own.leader(own.here)
            if leader is not None:
                result.append(Stroke(view.to_room(leader), own.layer))
                dot = view.to_room(bubble_ring(pair(leader[0]), DOT, 12))
                result.append(Fill(Polygon(dot), own.layer, 1.0))
            result += own.shown_with
        result += [_in_room(label, view) for label in self.fixed]
        result += [_in_room(own.label(own.here), view) for own in self.asked if own.here >= 0]
        return tuple(result)


def _in_room(label: Label, view: View) -> Label:
    at = view.to_room(np.array([label.at]))[0]
    return Label(
        label.text,
        (float(at[0]), float(at[1])),
        label.height,
        label.layer,
        label.across,
        label.upward,
        label.angle,
        label.boxed,
        label.bold,
    )


def _boxes_of(own: Asked) -> Floats:
    """Hulls of a label at each of its places, (n, 4): `label_box` for all of them at once."""
    if not own.spots:
        return np.empty((0, 4))
    heights = np.array([spot.height or own.height for spot in own.spots])
    widths = np.array([text_width(spot.text or own.text, spot.height or own.height, own.bold) for spot in own.spots])
    part = {"left": 0.0, "centre": -0.5, "right": -1.0, "bottom": 0.0, "middle": -0.5, "top": -1.0}
    x0 = widths * np.array([part[spot.across] for spot in own.spots])
    y0 = heights * np.array([part[spot.upward] for spot in own.spots])
    turn = np.radians([spot.angle for spot in own.spots])
    cos, sin = np.cos(turn)[:, None], np.sin(turn)[:, None]
    x = np.column_stack([x0, x0 + widths, x0 + widths, x0])
    y = np.column_stack([y0 - 0.25 * heights, y0 - 0.25 * heights, y0 + heights, y0 + heights])
    at = np.array([spot.at for spot in own.spots])
    gx, gy = x * cos - y * sin + at[:, :1], x * sin + y * cos + at[:, 1:]
    return np.column_stack([gx.min(axis=1), gy.min(axis=1), gx.max(axis=1), gy.max(axis=1)])


def _shared(box: Box, other: tuple[float, ...]) -> float:
    wide = min(box[2] + CLEAR, other[2]) - max(box[0] - CLEAR, other[0])
    tall = min(box[3] + CLEAR, other[3]) - max(box[1] - CLEAR, other[1])
    return max(wide, 0.0) * max(tall, 0.0)


def _hulls(boxes: Floats, leaders: Floats) -> Floats:
    """Hulls (n, 4) of boxes with their leaders, if any."""
    with np.errstate(invalid="ignore"):
        low = np.fmin(boxes[:, :2], np.fmin(leaders[:, :2], leaders[:, 2:]))
        high = np.fmax(boxes[:, 2:], np.fmax(leaders[:, :2], leaders[:, 2:]))
    result: Floats = np.hstack([low, high])
    return result


def _runs_through(lines: Floats, boxes: Floats) -> Bools:
    """Whether segments (…, 4) run through boxes (…, 4), by slabs; no segment is NaN."""
    (ax, ay), (wx, wy) = ((lines[..., k], lines[..., k + 1]) for k in (0, 2))
    wx, wy = (np.where(np.abs(way) < 1e-9, 1e-9, way) for way in (wx - ax, wy - ay))
    x0, x1, y0, y1 = ((boxes[..., k] - a) / way for k, a, way in ((0, ax, wx), (2, ax, wx), (1, ay, wy), (3, ay, wy)))
    low = np.maximum(np.minimum(x0, x1), np.minimum(y0, y1))
    high = np.minimum(np.maximum(x0, x1), np.maximum(y0, y1))
    result: Bools = (low < high) & (high > 1e-6) & (low < 1.0 - 1e-6)
    return result


def _cross(one: Floats, two: Floats) -> Bools:
    """Whether segments (…, 4) cross."""

    def side(line: Floats, x: Floats, y: Floats) -> Floats:
        result: Floats = (line[..., 2] - line[..., 0]) * (y - line[..., 1]) - (line[..., 3] - line[..., 1]) * (x - line[..., 0])
        return result

    parted = side(one, two[..., 0], two[..., 1]) * side(one, two[..., 2], two[..., 3]) < 0.0
    result: Bools = parted & (side(two, one[..., 0], one[..., 1]) * side(two, one[..., 2], one[..., 3]) < 0.0)
    return result
