"""What every sheet is drawn from, and what it gives back before it has a number: one signature for all sheets.

A sheet is one module with `drafts(job)`: it yields as many drafts as it takes, none if the room has nothing to show.
`draw.SHEETS` lists them in the order of the works.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from layout.sheets.column import Column
from layout.sheets.cut_runs import Run, room_runs
from layout.sheets.paper import SIZES, choose
from layout.sheets.parts import Part, parts_of_room
from layout.sheets.room_view import Base, base_of, room_bounds
from layout.sheets.scene import Fill, Primitive, Stroke

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from layout.quantities.values import TakeOff
    from layout.setout.values import RoomSetOut, SetOut
    from layout.sheets.place import Placer
    from layout.sheets.scene import View


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

    @property
    def size(self) -> tuple[float, float]:
        """Size of its paper, mm."""
        return SIZES[self.paper]


@dataclass(frozen=True, slots=True, eq=False)
class Job:
    """What a sheet is drawn from; `rooms` is one room for a sheet of a room, all of them for a sheet of the set.

    `paper` and `scale` are what was asked for, None where they are to be chosen.
    """

    setout: SetOut
    takeoff: TakeOff
    rooms: tuple[RoomJob, ...]
    paper: str | None = None
    scale: float | None = None

    @property
    def only(self) -> RoomJob:
        """The room of a sheet of one room."""
        return self.rooms[0]

    @property
    def named(self) -> str:
        """What the sheets of the set are called by: the room, if there is one only."""
        return self.rooms[0].room.name if len(self.rooms) == 1 else "all rooms"


@dataclass(frozen=True, slots=True, eq=False)
class Draft:
    """A sheet before its number and title block are known.

    `scene` is in room mm, seen through `view`; `words` in paper mm; `heading` is what stands over a sheet without a view,
    `further` the pages of words that do not go beside the drawing.
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
    further: tuple[list[Primitive], ...] = ()


def room_job(setout: SetOut, index: int, paper: str | None, scale: float | None) -> RoomJob:
    """A room with its base, on the paper and at the scale that were asked for, else on what takes it."""
    room = setout.rooms[index]
    x0, y0, x1, y1 = room_bounds(room)
    chosen, fit = choose(x1 - x0, y1 - y0)
    own_paper, own_scale = paper or chosen, scale or fit
    parts = parts_of_room((x0, y0, x1, y1), SIZES[own_paper], own_scale)
    prefix = f"{index + 1}" if len(setout.rooms) > 1 else ""
    return RoomJob(index, room, base_of(room), own_paper, own_scale, tuple(parts), room_runs(setout, index), prefix)


LARGER = (40.0, 30.0, 25.0, 20.0, 10.0)
"""Scales of building practice that are tried where words do not go on a sheet at its own (ISO 5455 allows what lies between, from memory)."""


MOST_TRIES = 3
"""Whole rooms, and rooms in parts, are tried at so many papers and scales."""


def in_plan(job: Job, key: str, title: str, draw: Callable[[View, Placer, Column], tuple[Primitive, ...]]) -> Iterator[Draft]:
    """A sheet that shows the room in plan, once for each part of it; `draw` gives the scene and fills the column.

    Where needed words find no place, it is drawn at the next larger scale, on the next larger paper or in parts, unless paper and
    scale were asked for; of all tries the one that misses least is taken.
    """
    own = job.only
    best = _parts_of(own, own.paper, own.parts, key, title, draw)
    for paper, scale in _tries(job):
        if not any(draft.missing for draft in best):
            break
        parts = tuple(parts_of_room(room_bounds(own.room), SIZES[paper], scale))
        made = _parts_of(own, paper, parts, key, title, draw)
        if sum(len(draft.missing) for draft in made) < sum(len(draft.missing) for draft in best):
            best = made
    yield from best


def _tries(job: Job) -> list[tuple[str, float]]:
    """Papers and scales to try after a room's own: whole rooms first, then in parts."""
    own = job.only
    scales = [job.scale] if job.scale else [scale for scale in LARGER if scale < own.scale]
    papers = [job.paper] if job.paper else [paper for paper in ("A3", "A2", "A1") if SIZES[paper] >= own.size]
    every = [(paper, scale) for scale in scales for paper in papers if (paper, scale) != (own.paper, own.scale)]
    whole = [each for each in every if len(parts_of_room(room_bounds(own.room), SIZES[each[0]], each[1])) == 1]
    return [*whole[:MOST_TRIES], *[each for each in every if each not in whole and each[0] == papers[-1]][:MOST_TRIES]]


def _parts_of(
    own: RoomJob,
    paper: str,
    parts: tuple[Part, ...],
    key: str,
    title: str,
    draw: Callable[[View, Placer, Column], tuple[Primitive, ...]],
) -> list[Draft]:
    result = []
    for part in parts:
        column = Column(SIZES[paper])
        placer = part.placer()
        drawn = draw(part.view, placer, column)
        placer.finish()
        scene = part.kept((*drawn, *placer.drawn(part.view)))
        name = f"{own.prefix}{key}" + (f"-{part.letter}" if part.letter else "")
        words = [*column.scene, *part.marks(own.room, SIZES[paper])]
        result.append(
            Draft(
                name,
                title + part.title,
                own.room.name,
                paper,
                part.view,
                scene,
                words,
                cut_off=bool(part.letter),
                needed=placer.needed(),
                missing=placer.missing(),
                further=tuple(column.further) if part is parts[0] else (),  # the words are the same on every part
            )
        )
    return result


def labelled(draft: Draft, placer: Placer) -> Draft:
    """A draft with the labels that were asked for while its scene was drawn."""
    assert draft.view is not None
    placer.finish()
    scene = (*draft.scene, *placer.drawn(draft.view))
    return replace(draft, scene=scene, needed=placer.needed(), missing=placer.missing())


def with_further(draft: Draft) -> list[Draft]:
    """A draft and a sheet for each of its further pages of words."""
    title = f"{draft.title}, continued"
    pages = [
        Draft(f"{draft.key}-words-{k}", title, draft.room, draft.paper, None, (), page, heading=title)
        for k, page in enumerate(draft.further, 1)
    ]
    return [draft, *pages]


def layers_of(scene: tuple[Primitive, ...] | list[Primitive]) -> set[str]:
    """Layers of lines and areas that a scene shows, for the key."""
    return {item.layer for item in scene if isinstance(item, (Stroke, Fill))}
