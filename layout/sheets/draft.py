"""What every sheet is drawn from, and what it gives back before it has a number: one signature for all sheets.

A sheet is one module with `drafts(job)`: it yields as many drafts as it takes, none if the room has nothing to show.
`draw.SHEETS` lists them in the order of the works.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from layout.sheets.column import Column
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
    """One room of a set: its number among the rooms, what all its sheets share, paper and scale of its plan, its parts."""

    index: int
    room: RoomSetOut
    base: Base
    paper: str
    scale: float
    parts: tuple[Part, ...]
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

    `scene` is in room mm, seen through `view`; `words` in paper mm; `heading` is what stands over a sheet without a view.
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


def room_job(setout: SetOut, index: int, paper: str | None, scale: float | None) -> RoomJob:
    """A room with its base, on the paper and at the scale that were asked for, else on what takes it."""
    room = setout.rooms[index]
    x0, y0, x1, y1 = room_bounds(room)
    chosen, fit = choose(x1 - x0, y1 - y0)
    own_paper, own_scale = paper or chosen, scale or fit
    parts = parts_of_room((x0, y0, x1, y1), SIZES[own_paper], own_scale)
    prefix = f"{index + 1}" if len(setout.rooms) > 1 else ""
    return RoomJob(index, room, base_of(room), own_paper, own_scale, tuple(parts), prefix)


def in_plan(job: Job, key: str, title: str, draw: Callable[[View, Placer, Column], tuple[Primitive, ...]]) -> Iterator[Draft]:
    """A sheet that shows the room in plan, once for each part of it; `draw` gives the scene and fills the column."""
    own = job.only
    for part in own.parts:
        column = Column(own.size)
        scene = part.kept(draw(part.view, part.placer(), column))
        name = f"{own.prefix}{key}" + (f"-{part.letter}" if part.letter else "")
        words = [*column.scene, *part.marks(own.room, own.size)]
        yield Draft(name, title + part.title, own.room.name, own.paper, part.view, scene, words, cut_off=bool(part.letter))


def layers_of(scene: tuple[Primitive, ...] | list[Primitive]) -> set[str]:
    """Layers of lines and areas that a scene shows, for the key."""
    return {item.layer for item in scene if isinstance(item, (Stroke, Fill))}
