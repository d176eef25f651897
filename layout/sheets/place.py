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

from layout.sheets.clashes import boxes_of, clashes, hulls_of, leaders_of, shared_area
from layout.sheets.layers import LAYERS
from layout.sheets.scene import Fill, Label, Stroke, View, bubble_ring
from layout.sheets.spots import Asked, Box, Spot, label_box, leader_spots
from layout.sheets.taken import CELL, Taken
from layout.vectors import pair
from layout.words import spelt

if TYPE_CHECKING:
    from collections.abc import Iterable

    from layout.sheets.scene import Primitive
    from layout.vectors import Bools, Floats, Ints

DEPTH = 2
"""How many labels may push each other aside in a row."""
TRIED = 12
"""Places of a label at which others are pushed aside, those with fewest in the way first."""
AT_ONCE = 24
"""Places that are looked at together, after that four times as many each time: most labels stand at one of the first."""
BUDGET = 300
"""Tries of pushing aside on one sheet: a bound on work by count, not by time, so that the same plan gives the same sheet."""
THIN = 0.35
"""Pen of the widest line that is a leader, mm."""
DOT = 0.45
"""Radius of the dot at the foot of a leader, paper mm (ISO 128-2: a leader that ends within an outline ends in a dot)."""


@dataclass(slots=True)
class Placer:
    """Keeps what is taken on one sheet, paper mm, and the labels that were asked for."""

    bounds: Box
    asked: list[Asked] = field(default_factory=list)
    placed: list[Asked] = field(default_factory=list)
    fixed: list[Label] = field(default_factory=list)
    taken: Taken = field(init=False)
    budget: int = BUDGET
    standing: tuple[Floats, Floats, Floats] | None = None
    core: Box | None = None
    marked: list[Box] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.taken = Taken(self.bounds)

    @property
    def blocks(self) -> int:
        """How many boxes labels were kept off so far."""
        return self.taken.blocks

    def block(self, box: Box, owner: int = -1) -> None:
        """Keep labels off a box, those of the same owner (0 or more) excepted."""
        self.taken.block(np.array([box]), owner)

    def block_all(self, boxes: Floats, owner: int = -1) -> None:
        """Keep labels off boxes (n, 4)."""
        if len(boxes):
            self.taken.block(boxes, owner)

    def mark_off(self, box: Box) -> None:
        """Keep everything off a box, what is fixed too: what a part of a floor says of its neighbours stands there."""
        self.marked.append(box)
        self.block(box)

    def keeps(self, box: Box) -> bool:
        """Whether what stands on a box is drawn: on a part of a floor all that lies outside it or on its marks is left out."""
        x0, y0, x1, y1 = self.bounds
        inside = box[0] >= x0 and box[1] >= y0 and box[2] <= x1 and box[3] <= y1
        return not self.marked or (inside and not any(shared_area(box, tuple(other)) > 0.0 for other in self.marked))

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
        total += float(self.taken.count(box)) * CELL**2
        return total + math.fsum(shared_area(box, tuple(other.boxes[other.here])) for other in self.placed)

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
        own = Asked(spelt(text), height, layer, list(spots), boxed, bold, needed, own_foot, owner, shown_with)
        self.asked.append(own)
        self._weigh(own)
        if not self._put(own) and needed and self.concerns(own):
            self._exchange(own, 1)
        return own.label(own.here) if own.here >= 0 else None

    def _weigh(self, own: Asked) -> None:
        """Which of a label's places lie on nothing that does not move; their leaders, NaN where there is none."""
        own.boxes = boxes_of(own)
        own.leaders = leaders_of(own)
        x0, y0, x1, y1 = self.bounds
        boxes = own.boxes
        own.within = np.flatnonzero((boxes[:, 0] >= x0) & (boxes[:, 1] >= y0) & (boxes[:, 2] <= x1) & (boxes[:, 3] <= y1))
        own.known = np.zeros(len(boxes), dtype=bool)
        own.free = np.zeros(len(boxes), dtype=bool)
        own.seen = self.blocks

    def _free_of(self, own: Asked, places: Ints) -> Ints:
        """Those of some places in the drawing that lie on nothing that does not move; what was once taken stays so."""
        if own.seen != self.blocks:
            own.known &= ~own.free
            own.seen = self.blocks
        unknown = places[~own.known[places]]
        if len(unknown):
            own.free[unknown] = self.taken.free(own.boxes[unknown], own.owner)
            own.known[unknown] = True
        return places[own.free[places]]

    def _now(self) -> tuple[Floats, Floats, Floats]:
        """Boxes, leaders and hulls of both (n, 4) of the labels that stand."""
        if self.standing is None:
            boxes = np.array([other.boxes[other.here] for other in self.placed]).reshape(-1, 4)
            leaders = np.array([other.leaders[other.here] for other in self.placed]).reshape(-1, 4)
            self.standing = boxes, leaders, hulls_of(boxes, leaders)
        return self.standing

    def _in_the_way(self, own: Asked, places: Ints) -> Bools:
        """For some of a label's places (k,), which of the standing labels (n,) each cannot stand beside: (k, n)."""
        return clashes(own.boxes[places], own.leaders[places], self._now())

    def _stand(self, own: Asked, place: int) -> None:
        if self.standing is not None:
            box, leader = own.boxes[place][None], own.leaders[place][None]
            self.standing = tuple(np.vstack(pair) for pair in zip(self.standing, (box, leader, hulls_of(box, leader)), strict=True))  # type: ignore[assignment]
        own.here = place
        self.placed.append(own)

    def _put(self, own: Asked) -> bool:
        first, count = 0, AT_ONCE
        while first < len(own.within):
            some = self._free_of(own, own.within[first : first + count])
            first, count = first + count, 4 * count
            if len(some) == 0:
                continue
            clear = np.flatnonzero(~self._in_the_way(own, some).any(axis=1)) if self.placed else np.arange(len(some))
            if len(clear):
                self._stand(own, int(some[clear[0]]))
                return True
        return False

    def _exchange(self, own: Asked, depth: int) -> bool:
        """Put a label where others stand that can go elsewhere, or are only helpful; the tries of a sheet are numbered."""
        places = self._free_of(own, own.within)
        if len(places) == 0 or not self.placed:
            return False
        hits = self._in_the_way(own, places)
        needed = np.array([1.0 if other.needed else 0.3 for other in self.placed])
        cost = hits @ needed + 0.01 * np.arange(len(places))
        for number in np.argsort(cost, kind="stable")[:TRIED].tolist():
            if self.budget <= 0:
                return False
            self.budget -= 1
            before, standing = [(other, other.here) for other in self.placed], self._now()
            others = [self.placed[n] for n in np.flatnonzero(hits[number])]
            self.placed = [other for other, hit in zip(self.placed, hits[number].tolist(), strict=True) if not hit]
            stay = ~hits[number]
            self.standing = (standing[0][stay], standing[1][stay], standing[2][stay])
            self._stand(own, int(places[number]))
            if all(self._moved(other, depth) for other in sorted(others, key=lambda other: not other.needed)):
                return True
            for other in (*others, own):
                other.here = -1
            self.placed, self.standing = [other for other, _ in before], standing
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
            if len(self._free_of(own, np.array([own.here]))) == 0:  # something that does not move came to stand there since
                own.here = -1
        self.placed = [own for own in self.placed if own.here >= 0]
        self.standing = None
        waiting = [own for own in self.asked if own.here < 0 and own.needed and self.concerns(own)]
        for own in waiting:
            if own.foot is not None:
                own.spots += leader_spots(own.foot)
            self._weigh(own)
        waiting.sort(key=lambda own: len(self._free_of(own, own.within)))
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
                layer = leader_layer(own.layer)
                result.append(Stroke(view.to_room(leader), layer))
                dot = view.to_room(bubble_ring(pair(leader[0]), DOT, 12))
                result.append(Fill(Polygon(dot), layer, 1.0))
            result += own.shown_with
        result += [_in_room(label, view) for label in self.fixed]
        result += [_in_room(own.label(own.here), view) for own in self.asked if own.here >= 0]
        return tuple(result)


def leader_layer(layer: str) -> str:
    """The layer of a leader to words of a layer: thin and unbroken, or it would be taken for a tape, a joint or a line to snap.

    >>> leader_layer("PIPE"), leader_layer("START-LINE"), leader_layer("TAPE-INTERNAL")
    ('PIPE', 'DIMENSION', 'DIMENSION')
    """
    own = LAYERS[layer]
    return layer if own.pen <= THIN and not own.dash else "DIMENSION"


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
