"""One thing to be done: a stage of an area, what it waits for, by when it must follow; stages and hold points in words."""

from __future__ import annotations

from dataclasses import dataclass

from layout.words import worded

NAMES = {
    "prime": worded("prime, broadcast quartz on the floor"),
    "details": worded("drains, collars, corner pieces, tape in a detail coat"),
    "coat 1": worded("membrane, first coat"),
    "coat 2": worded("membrane, second coat crosswise"),
    "flood": worded("flood test"),
    "walls": worded("fix wall tile from the second course up, on a level batten"),
    "floor": worded("fix floor tile from the start lines"),
    "bottom": worded("fix the bottom course of the walls, cut to the floor"),
    "grout": worded("grout, wash up inside the window"),
    "sealant": worded("sealant in every connection and movement joint"),
}
HOLDS = {
    "prime": worded("substrate sound, dry and clean: moisture and pull-off read and signed"),
    "coat 2": worded("wet film measured at the test points and signed"),
    "flood": worded("water level marked, read after the test and signed"),
    "walls": worded("start lines and squareness checked before the first tile"),
    "grout": worded("joints clean to the bed, backer rod set in every sealant joint"),
    "sealant": worded("joints dry and clean, edges masked"),
}


@dataclass(frozen=True, slots=True)
class After:
    """A task waits for another's end, `wait` hours at 20 degrees, and must follow within `by` hours of it (None: no end).

    The window counts from each square metre: what was done first must be followed first.
    """

    task: int
    wait: float
    by: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One stage of one area: `hours` of one hand; `whole` if it is not left overnight; `alone` hours that pass without hands.

    `chain` numbers the areas of membrane of all rooms; `opens` if it is the first of its chain. `hands` at it (0: the crew's);
    `tail` hours at 20 degrees that somebody must still be there after it, to wash up.
    """

    room: int
    key: str
    hours: float
    after: tuple[After, ...] = ()
    area: int = 1
    areas: int = 1
    whole: bool = False
    alone: float | None = None
    chain: int | None = None
    opens: bool = False
    hands: int = 0
    tail: float = 0.0

    @property
    def name(self) -> str:
        """The stage in words."""
        return name_of(self.key)


def name_of(key: str) -> str:
    """A stage in words.

    >>> name_of("coat 3")
    'membrane, coat 3'
    """
    return NAMES.get(key, worded("membrane, {key}", key=key))
