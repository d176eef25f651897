"""What every sheet is drawn from, and what it gives back before it has a number: one signature for all sheets.

A sheet is one module with `drafts(job)`: it yields as many drafts as it takes, none if the room has nothing to show.
`draw.SHEETS` lists them in the order of the works.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from layout.sheets.column import Column
from layout.sheets.cut_runs import Run, room_runs
from layout.sheets.paper import (
    BLOCK_HEIGHT,
    MARGIN,
    MARGIN_ROUND,
    OWN_SCALES,
    PLAN_SCALES,
    SIZES,
    SMALLEST,
    choose,
    for_drawing,
    has_column,
    revision_table,
)
from layout.sheets.parts import Part, goes_whole, parts_of_room, view_on
from layout.sheets.room_view import Base, base_of, room_bounds
from layout.sheets.scene import Fill, Label, Primitive, Shown, Stroke, moved
from layout.sheets.spots import label_box
from layout.sheets.strips import Strip, strips_fit, strips_of
from layout.sheets.windows import name_windows, next_scale, windows_over
from layout.vectors import pair
from layout.words import say

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from layout.programme.values import Programme
    from layout.quantities.values import TakeOff
    from layout.setout.values import RoomSetOut, SetOut
    from layout.sheets.place import Placer
    from layout.sheets.scene import View
    from layout.sheets.windows import Window


@dataclass(frozen=True, slots=True, eq=False)
class RoomJob:
    """One room of a set: its number, what all its sheets share, paper, scale and parts of its plan, cuts that are named together."""

    index: int
    room: RoomSetOut
    base: Base
    paper: str
    scale: float
    parts: tuple[Part, ...]
    runs: dict[int, tuple[Run, ...]]
    prefix: str = ""
    together: bool = False
    shifted: dict[tuple[int, tuple[float, float]], Primitive] = field(default_factory=dict)

    @property
    def size(self) -> tuple[float, float]:
        """Size of its paper, mm."""
        return SIZES[self.paper]

    def column(self, paper: str, **kept: Any) -> Column:  # noqa: ANN401
        """A column for its words on a paper, `kept` as a `Column` takes it; without a foot where the room shares its sheets."""
        return Column(SIZES[paper], endless=True) if self.together else Column(SIZES[paper], **kept)

    def moved(self, item: Primitive, by: tuple[float, float]) -> Primitive:
        """A primitive of its drawings shifted: the same one each time, so that what its sheets share is shared after the move too."""
        key = (id(item), by)
        if key not in self.shifted:
            self.shifted[key] = moved(item, by)
        return self.shifted[key]


@dataclass(frozen=True, slots=True, eq=False)
class Job:
    """What a sheet is drawn from; `rooms` is one room for a sheet of a room, all of them for a sheet of the set.

    `paper` and `scale` are what was asked for, None where they are to be chosen; `works` the programme, None where there is no date.
    """

    setout: SetOut
    takeoff: TakeOff
    rooms: tuple[RoomJob, ...]
    paper: str | None = None
    scale: float | None = None
    works: Programme | None = None

    @property
    def only(self) -> RoomJob:
        """The room of a sheet of one room."""
        return self.rooms[0]

    @property
    def named(self) -> str:
        """What the sheets of the set are called by: the room, if there is one only."""
        return self.rooms[0].room.name if len(self.rooms) == 1 else say("all rooms")


@dataclass(frozen=True, slots=True, eq=False)
class Draft:
    """A sheet before its number and title block are known.

    `scene` is in room mm, seen through `view`; `words` in paper mm; `heading` is what stands over a sheet without a view,
    `further` the pages of words that do not go beside the drawing; `missing_at` where in the room belongs what is missing, mm;
    `placer` and `drawn` what a sheet with windows is drawn from again, `column` its words for a shared sheet; `shows` the rooms that it
    shows, by their index, none where it is of the whole set; `strip` its letter where it is a strip that stands on one sheet with others,
    which are `beside` the first in the end.
    """

    key: str
    title: str
    room: str
    paper: str
    view: View | None
    scene: tuple[Primitive, ...]
    words: list[Primitive]
    cut_off: bool = False
    scale: float | None = None
    heading: str = ""
    needed: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    missing_at: tuple[tuple[float, float], ...] = ()
    placer: Placer | None = None
    drawn: tuple[Primitive, ...] = ()
    further: tuple[list[Primitive], ...] = ()
    column: Column | None = None
    shows: tuple[int, ...] = ()
    strip: str = ""
    beside: tuple[Shown, ...] = ()


def fit_of(room: RoomSetOut, paper: str | None, scale: float | None, *, alone: bool) -> tuple[str, float]:
    """The paper and scale that were asked for, else those that take a room; rooms that may share sheets keep to scales of which one is theirs."""
    x0, y0, x1, y1 = bounds = room_bounds(room)
    scales = OWN_SCALES if alone else PLAN_SCALES
    chosen, fit = choose(x1 - x0, y1 - y0, scales=scales)
    if scale is None:
        share = math.prod(side / fit + 2 * MARGIN_ROUND for side in (x1 - x0, y1 - y0)) / for_drawing(SIZES[chosen])
        strips = strips_fit(room, (paper,) if paper else ("A3", "A2", "A1"), scales, share)
        if strips is not None:
            return strips
    return paper or chosen, scale or (fit if paper in (None, chosen) else _fewest_parts(bounds, paper, fit))


def room_job(setout: SetOut, index: int, paper: str | None, scale: float | None, *, alone: bool | None = None) -> RoomJob:
    """A room with its base, on the paper and at the scale of `fit_of`; a plan's only room is `alone` if nothing is said."""
    room = setout.rooms[index]
    own_paper, own_scale = fit_of(room, paper, scale, alone=len(setout.rooms) == 1 if alone is None else alone)
    parts = parts_of_room(room_bounds(room), SIZES[own_paper], own_scale)
    if len(parts) > 1:
        parts = strips_of(room, SIZES[own_paper], own_scale) or parts
    prefix = f"{index + 1}" if len(setout.rooms) > 1 else ""
    return RoomJob(index, room, base_of(room), own_paper, own_scale, tuple(parts), room_runs(setout, index), prefix)


def _fewest_parts(bounds: tuple[float, float, float, float], paper: str, fit: float) -> float:
    """The scale on a paper that was asked for: from `fit`, which the room's own paper would take, down to 1:50, that with fewest parts."""
    scales = [fit, *(scale for scale in PLAN_SCALES if fit < scale <= SMALLEST)]
    return min(
        scales, key=lambda scale: (len(parts_of_room(bounds, SIZES[paper], scale)), not goes_whole(bounds, SIZES[paper], scale), scale)
    )


LARGER = (40.0, 30.0, 25.0, 20.0, 10.0)
"""Scales of building practice that are tried where words do not go on a sheet at its own (ISO 5455 allows what lies between, from memory)."""


MOST_TRIES = 3
"""Whole rooms are tried at so many papers and scales."""


def in_plan(
    job: Job,
    key: str,
    title: str,
    draw: Callable[[View, Placer, Column], tuple[Primitive, ...]],
    around: float = MARGIN_ROUND,
) -> Iterator[Draft]:
    """A sheet that shows the room in plan, once for each part of it; `draw` gives the scene and fills the column.

    `around` is what its figures and names take round the room, paper mm: a sheet with few of them is drawn larger on the same paper,
    if all of them find a place there.
    Where needed words find no place, it is drawn at the next larger scale or on the next larger paper, unless they were asked for;
    where that does not do either, what is crowded is drawn again larger, in windows.
    """
    own = job.only
    parts = _parts_at(job, around)
    best = _parts_of(own, own.paper, parts, key, title, draw)
    if parts is not own.parts and any(draft.missing for draft in best):
        best = _parts_of(own, own.paper, own.parts, key, title, draw)
    if sum(len(draft.missing) for draft in best) <= FEW * sum(len(draft.needed) for draft in best):
        for paper, scale in _tries(job):
            if not any(draft.missing for draft in best):
                break
            parts = tuple(parts_of_room(room_bounds(own.room), SIZES[paper], scale))
            made = _parts_of(own, paper, parts, key, title, draw)
            if not any(draft.missing for draft in made):
                best = made
    if job.scale is None:
        best = _with_windows(own, best, key, title, draw)
    yield from _strips_together(own, best, key)


def _parts_at(job: Job, around: float) -> tuple[Part, ...]:
    """The parts of the room on one kind of sheet: the whole at the largest scale at which it goes on its paper with so much round it.

    A room in parts, one that shares its sheets or has a scale that was asked for is drawn alike on all of them.
    """
    own = job.only
    if job.scale or own.together or len(own.parts) > 1:
        return own.parts
    bounds = room_bounds(own.room)
    scale = next((each for each in OWN_SCALES if each < own.scale and goes_whole(bounds, own.size, each, around)), None)
    return own.parts if scale is None else (Part(view_on(bounds, own.size, scale, around)),)


FEW = 0.1
"""Where more labels than this part of those that stand have no place, no other paper or scale is tried: windows are needed."""


def _with_windows(
    own: RoomJob, drafts: list[Draft], key: str, title: str, draw: Callable[[View, Placer, Column], tuple[Primitive, ...]]
) -> list[Draft]:
    """Sheets with windows where labels are without a place, as long as a larger scale is left; what a window shows is not missing."""
    done: list[Draft] = []
    count, waiting = 0, list(drafts)
    while waiting:
        draft = waiting.pop(0)
        scale = next_scale(draft.view.scale) if draft.view is not None and draft.missing else None
        if scale is None or draft.view is None or draft.placer is None:
            done.append(draft)
            continue
        windows = windows_over(draft.missing_at, SIZES[draft.paper], scale, count)
        count += len(windows)
        edges = name_windows(windows, draft.view, draft.placer)
        scene = (*edges, *draft.drawn, *draft.placer.drawn(draft.view))
        done.append(replace(draft, scene=scene, needed=draft.placer.needed(), **_left(draft.placer, draft.view, windows)))
        waiting += [replace(each, further=()) for each in _parts_of(own, draft.paper, tuple(windows), key, title, draw)]
    return done


def _tries(job: Job) -> list[tuple[str, float]]:
    """Papers and scales to try for a whole room after its own."""
    own = job.only
    scales = [job.scale] if job.scale else [scale for scale in LARGER if scale < own.scale]
    papers = [job.paper] if job.paper else [paper for paper in ("A3", "A2", "A1") if SIZES[paper] >= own.size]
    every = [(paper, scale) for scale in scales for paper in papers if (paper, scale) != (own.paper, own.scale)]
    return [each for each in every if len(parts_of_room(room_bounds(own.room), SIZES[each[0]], each[1])) == 1][:MOST_TRIES]


def _parts_of(
    own: RoomJob,
    paper: str,
    parts: Sequence[Part],
    key: str,
    title: str,
    draw: Callable[[View, Placer, Column], tuple[Primitive, ...]],
) -> list[Draft]:
    """`key` setting-out of a set of one room is its first sheet: it lists the revisions."""
    plan = own.room.lining.plan
    revised = plan.project if key == "setting-out" and len(plan.rooms) == 1 else None
    result = []
    for part in parts:
        first = revised if part is parts[0] and has_column(SIZES[paper]) else None
        listed, reserve = revision_table(first, SIZES[paper]) if first else ([], 0.0)
        column = own.column(paper, reserve=reserve)
        placer = part.placer()
        drawn = draw(part.view, placer, column)
        placer.finish()
        drawn = part.kept(drawn)
        name = f"{own.prefix}{key}" + (f"-{part.letter}" if part.letter else "")
        strip = part.letter if isinstance(part, Strip) else ""
        beside = own.together or (strip and part is not parts[0])  # strips on one sheet say their words once
        words = [*(() if beside else column.scene), *listed, *part.marks(own.room, SIZES[paper])]
        result.append(
            Draft(
                name,
                title + part.title,
                own.room.name,
                paper,
                part.view,
                (*drawn, *part.kept(placer.drawn(part.view))),
                words,
                cut_off=bool(part.letter),
                needed=placer.needed(),
                placer=placer,
                drawn=drawn,
                column=column,
                strip=strip,
                **_left(placer, part.view),
                further=tuple(column.further) if part is parts[0] else (),  # the words are the same on every part
            )
        )
    return result


def _strips_together(own: RoomJob, drafts: Sequence[Draft], key: str) -> Iterator[Draft]:
    """Strips of a floor as one sheet, with the words of the first and the match lines of all; other drafts as they are."""
    strips = [draft for draft in drafts if draft.strip]
    if strips:
        first = strips[0]
        yield replace(
            first,
            key=f"{own.prefix}{key}",
            words=[item for draft in strips for item in draft.words],
            needed=tuple(text for draft in strips for text in draft.needed),
            missing=tuple(text for draft in strips for text in draft.missing),
            beside=tuple(Shown(draft.strip, draft.view, draft.scene) for draft in strips[1:] if draft.view is not None),
        )
    yield from (draft for draft in drafts if not draft.strip)


def _left(placer: Placer, view: View, windows: Sequence[Window] = ()) -> dict[str, Any]:
    """What is without a place, and where in the room it belongs, but for what windows show."""
    left = [(text, pair(view.to_room(np.array([at]))[0])) for text, at in placer.without_place()]
    left = [(text, at) for text, at in left if not any(window.shows(at) for window in windows)]
    return {"missing": tuple(text for text, _ in left), "missing_at": tuple(at for _, at in left)}


def labelled(draft: Draft, placer: Placer) -> Draft:
    """A draft with the labels that were asked for while its scene was drawn."""
    assert draft.view is not None
    placer.finish()
    scene = (*draft.scene, *placer.drawn(draft.view))
    return replace(draft, scene=scene, needed=placer.needed(), **_left(placer, draft.view))


def with_further(draft: Draft) -> list[Draft]:
    """A draft and a sheet for each of its further pages of words."""
    title = say("{title}, continued", title=draft.title)
    pages = []
    for k, page in enumerate(draft.further, 1):
        paper, words = _on_less(draft.paper, page)
        pages.append(Draft(f"{draft.key}-words-{k}", title, draft.room, paper, None, (), words, heading=title, shows=draft.shows))
    return [draft, *pages]


def _on_less(paper: str, page: list[Primitive]) -> tuple[str, list[Primitive]]:
    """A page of words on A3 where it fills no more than that and the set is on a plotter's paper: a few cards do not go out on a sheet of A1.

    A set on A2 or less stays on one size.
    """
    (across, tall), (wide, less) = SIZES[paper], SIZES["A3"]
    if across * tall <= math.prod(SIZES["A2"]):
        return paper, page
    by = less - tall
    boxes = [_box_on_paper(item) for item in page]
    right, low = max((box[2] for box in boxes), default=0.0), min((box[1] for box in boxes), default=tall)
    if right > wide - MARGIN or low + by < MARGIN + BLOCK_HEIGHT + 2.0:
        return paper, page
    return "A3", [moved(item, (0.0, by)) for item in page]


def _box_on_paper(item: Primitive) -> tuple[float, float, float, float]:
    """Bounds of a primitive of the paper; a kind that no page of words has counts as all over it."""
    match item:
        case Label():
            return label_box(item)
        case Stroke():
            low, high = item.points.min(axis=0), item.points.max(axis=0)
            return float(low[0]), float(low[1]), float(high[0]), float(high[1])
        case Fill():
            x0, y0, x1, y1 = item.polygon.bounds
            return x0, y0, x1, y1
        case _:
            return -math.inf, -math.inf, math.inf, math.inf


def layers_of(scene: tuple[Primitive, ...] | list[Primitive]) -> set[str]:
    """Layers of lines and areas that a scene shows, for the key."""
    return {item.layer for item in scene if isinstance(item, (Stroke, Fill))}
