"""Small rooms share sheets: drawings set in rows on one paper, their words in one column, what is alike said once.

Each room is drawn as if it were alone; only then are drawings moved together, in the order of the rooms. All plans of a room stand at
the same place of their sheets, so that a drawing file holds the room once.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from layout.sheets.column import Column
from layout.sheets.draft import Draft, fit_of
from layout.sheets.lettering import text_width
from layout.sheets.paper import MARGIN_ROUND, SIZES, drawing_window, has_column
from layout.sheets.parts import parts_of_room
from layout.sheets.room_view import room_bounds
from layout.sheets.scene import Dimension, Fill, Label, Primitive, Stroke, Symbol, View, exploded
from layout.sheets.spots import Box, label_box
from layout.words import say

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from layout.setout.values import RoomSetOut, SetOut
    from layout.sheets.column import Section
    from layout.sheets.draft import RoomJob

Drawn: TypeAlias = tuple["RoomJob", Draft]

GAP, NAME = 7.0, 9.0
"""Between drawings, and kept above each for the room's name, paper mm."""
HEAD, FOOT = 13.0, 12.0
"""Kept free at the top of a sheet for its title and at its foot for the scale bar, paper mm."""
MOST_SHEETS = 4
"""A larger paper is taken where the plans of one kind would fill more sheets than this."""
AROUND = 10.0
"""Figures reach so much further out of a plan on each side than is kept free round a room that stands alone, paper mm."""
MANY = 12
"""So many small rooms are worth an A1; fewer stay on sheets of their own where no two go on an A2."""
LARGEST = 250.0
"""A room whose plan with its figures is wider or taller on paper than this has sheets of its own, mm."""


def extent(draft: Draft) -> Box:
    """What a drawing takes on paper, mm: lines, areas, symbols and letters."""
    view = draft.view
    assert view is not None
    low, high = np.full(2, np.inf), np.full(2, -np.inf)

    def take(points: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> None:
        nonlocal low, high
        paper = view.to_paper(points)
        low, high = np.minimum(low, paper.min(axis=0)), np.maximum(high, paper.max(axis=0))

    for item in draft.scene:
        for part in exploded(item, view.scale) if isinstance(item, Dimension) else (item,):
            match part:
                case Stroke():
                    take(part.points)
                case Fill():
                    take(np.array(part.polygon.bounds).reshape(2, 2))
                case Label():
                    take(np.array(label_box(part, view.scale)).reshape(2, 2))
                case Symbol():
                    half = part.size / 2.0 * view.scale
                    take(np.array(part.at) + np.array([[-half, -half], [half, half]]))
                case _:
                    pass  # tiles and drains lie inside walls
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


@dataclass(slots=True)
class Rows:
    """Places of drawings in rows on sheets of one size, in order: `at` gives the sheet and the upper left corner of the next."""

    size: tuple[float, float]
    page: int = 0
    x: float = field(init=False)
    top: float = field(init=False)
    tall: float = 0.0

    def __post_init__(self) -> None:
        left, _, _, top = drawing_window(self.size)
        self.x, self.top = left + GAP, top - HEAD

    def at(self, wide: float, tall: float) -> tuple[int, float, float]:
        """Sheet, left edge and top of a drawing, its name above it."""
        left, bottom, right, top = drawing_window(self.size)
        if self.x + wide > right - GAP and self.x > left + GAP:
            self.x, self.top, self.tall = left + GAP, self.top - self.tall - GAP, 0.0
        if self.top - NAME - tall < bottom + FOOT and self.top < top - HEAD:
            self.page, self.x, self.top, self.tall = self.page + 1, left + GAP, top - HEAD, 0.0
        here = self.page, self.x, self.top - NAME
        self.x += wide + GAP
        self.tall = max(self.tall, tall + NAME)
        return here


def sharers(setout: SetOut, paper: str | None, scale: float | None) -> tuple[str | None, frozenset[int]]:
    """The paper on which small rooms of a set share sheets, and which rooms do, from 0: none where there are too few, or no paper for them."""
    if paper is not None and not has_column(SIZES[paper]):
        return paper, frozenset()
    sides: dict[int, tuple[float, float]] = {}
    for index, room in enumerate(setout.rooms):
        own_paper, own_scale = fit_of(room, paper, scale, alone=len(setout.rooms) == 1)
        wide, tall = _on_paper(room, own_scale)
        if max(wide, tall) <= LARGEST and len(parts_of_room(room_bounds(room), SIZES[own_paper], own_scale)) == 1:
            sides[index] = wide, tall
    shared = paper or (shared_paper(list(sides.values())) if len(sides) > 1 else None)
    return shared, frozenset(sides) if shared is not None and len(sides) > 1 else frozenset()


def _on_paper(room: RoomSetOut, scale: float) -> tuple[float, float]:
    """Width and height of a room's plan with its figures round it, paper mm."""
    x0, y0, x1, y1 = room_bounds(room)
    return (x1 - x0) / scale + 2 * MARGIN_ROUND, (y1 - y0) / scale + 2 * MARGIN_ROUND


def shared_paper(sides: Sequence[tuple[float, float]]) -> str | None:
    """The paper on which small rooms share sheets, whose plans take so much, mm: A3 to A1; None where each is better off alone.

    >>> shared_paper([(120.0, 80.0)] * 4), shared_paper([(120.0, 100.0)] * 100), shared_paper([(200.0, 200.0)] * 6)
    ('A3', 'A1', None)
    """
    for paper in ("A3", "A2", "A1"):
        rows = Rows(SIZES[paper])
        for wide, tall in sides:
            rows.at(wide + 2.0 * AROUND, tall + 2.0 * AROUND)
        pages = rows.page + 1
        if 2 * pages <= len(sides) and (pages <= MOST_SHEETS or paper == "A1") and (paper != "A1" or len(sides) > MANY):
            return paper
    return None


def share(kinds: Sequence[Sequence[Drawn]], paper: str) -> Iterator[Draft]:
    """Sheets of small rooms: `kinds` are the drafts of each kind of sheet, in the order of rooms; those drawn in parts stay as they are."""
    plans: dict[int, Box] = {}
    for own, draft in (each for kind in kinds for each in kind):
        if _in_plan(own, draft):
            box = extent(draft)
            other = plans.get(own.index, box)
            plans[own.index] = (min(box[0], other[0]), min(box[1], other[1]), max(box[2], other[2]), max(box[3], other[3]))
    rows = Rows(SIZES[paper])
    places = {}
    for own in {own.index: own for kind in kinds for own, _ in kind}.values():
        if own.index in plans:
            x0, y0, x1, y1 = plans[own.index]
            page, x, y = rows.at(max(x1 - x0, _name_wide(own)), y1 - y0)
            places[own.index] = page, (x - x0, y - y1)
    for kind in kinds:
        pages: dict[tuple[int, float], list[tuple[Drawn, tuple[float, float]]]] = {}
        own_rows: dict[float, Rows] = {}
        alone: list[Draft] = []
        for own, draft in kind:
            if draft.view is None or draft.cut_off or draft.column is None:
                alone.append(_by_itself(draft))
            elif _in_plan(own, draft):
                page, shift = places[own.index]
                pages.setdefault((page, draft.view.scale), []).append(((own, draft), shift))
            else:
                box = extent(draft)
                page, x, y = own_rows.setdefault(draft.view.scale, Rows(SIZES[paper])).at(
                    max(box[2] - box[0], _name_wide(own)), box[3] - box[1]
                )
                pages.setdefault((page, draft.view.scale), []).append(((own, draft), (x - box[0], y - box[3])))
        column: Column | None = None
        made: list[Draft] = []
        for (_, scale), members in pages.items():
            draft, column = _sheet(members, scale, paper, column)
            made.append(draft)
        if column is not None:  # what the sheets of a kind leave over goes on from one to the next
            made[-1] = replace(made[-1], further=tuple(column.further))
        yield from made
        yield from _said_once(alone)


def _in_plan(own: RoomJob, draft: Draft) -> bool:
    return draft.view is own.parts[0].view and not draft.cut_off and draft.column is not None


def _by_itself(draft: Draft) -> Draft:
    """A draft that shares no sheet, as a part or a window of a floor, with its words in a column of its own."""
    if draft.view is None or draft.column is None:
        return draft
    column = Column(SIZES[draft.paper])
    for section in draft.column.sections():
        column.take(section)
    return replace(draft, words=[*column.scene, *draft.words], further=tuple(column.further))


def _name_wide(own: RoomJob) -> float:
    return text_width(_name(own), 5.0, bold=True)


def _name(own: RoomJob) -> str:
    return f"{own.prefix} {own.room.name}".strip()


def _sheet(members: Sequence[tuple[Drawn, tuple[float, float]]], scale: float, paper: str, before: Column | None) -> tuple[Draft, Column]:
    """Drawings of one kind together on a sheet: each with its room's name above it, the words of each under its name in the column."""
    left, bottom, right, top = drawing_window(SIZES[paper])
    view = View((0.0, 0.0), ((left + right) / 2, (bottom + top) / 2), scale, (right - left, top - bottom))
    scene: list[Primitive] = []
    names: list[Primitive] = []
    for (own, draft), shift in members:
        assert draft.view is not None
        by = (np.array(draft.view.at) + np.array(shift) - np.array(view.at)) * scale - np.array(draft.view.centre)
        scene += [own.moved(item, (float(by[0]), float(by[1]))) for item in draft.scene]
        box = extent(draft)
        at = (box[0] + shift[0], box[3] + shift[1] + 2.0)
        names.append(Label(_name(own), at, 5.0, "TEXT", bold=True))
    (first, draft), (last, _) = members[0][0], members[-1][0]
    room = first.room.name if first is last else say("rooms {first} to {last}", first=first.index + 1, last=last.index + 1)
    column = Column(SIZES[paper], before=before if before is not None and before.further else None)
    _words(members, column)
    if not column.further and before is not None:
        column.further, column.at, column.x, column.y, column.foot = before.further, before.at, before.x, before.y, before.foot
    return Draft(
        draft.key,
        draft.title,
        room,
        paper,
        view,
        tuple(scene),
        [*column.scene, *names],
        needed=tuple(text for (_, each), _ in members for text in each.needed),
        missing=tuple(text for (_, each), _ in members for text in each.missing),
        shows=tuple(dict.fromkeys(own.index for (own, _), _ in members)),
    ), column


def _words(members: Sequence[tuple[Drawn, tuple[float, float]]], column: Column) -> None:
    """The words of each room, and what several say alike once, at the end."""
    told: Counter[tuple[str, ...]] = Counter()
    sections: dict[tuple[str, ...], Section] = {}
    own: list[tuple[str, list[Section]]] = []
    for (room, draft), _ in members:
        assert draft.column is not None
        mine = draft.column.sections()
        own.append((_name(room), mine))
        for section in mine:
            told[section.told] += 1
            sections.setdefault(section.told, section)
    for name, mine in own:
        apart = [section for section in mine if told[section.told] == 1]
        if apart and len(own) > 1:
            column.gap(3.0)
            column.head(name)
        for section in apart:
            column.take(section)
    for key, section in sections.items():
        if told[key] > 1:
            column.take(section)


def _said_once(drafts: Sequence[Draft]) -> Iterator[Draft]:
    """Drafts without a drawing that moves, as details: those alike to the letter once, for all rooms that they hold for."""
    seen: dict[tuple[str, ...], list[Draft]] = {}
    for draft in drafts:
        if draft.view is None and not draft.needed:
            words = tuple(item.text for item in draft.words if isinstance(item, Label))
            seen.setdefault((draft.title, *words), []).append(draft)
        else:
            yield draft
    for alike in seen.values():
        yield (
            alike[0]
            if len(alike) == 1
            else replace(
                alike[0],
                room=say("{count} rooms, from {room} on", count=len(alike), room=alike[0].room),
                shows=tuple(dict.fromkeys(room for each in alike for room in each.shows)),
            )
        )
