"""A room's sheets on a paper without a column: each drawing at the head of its page, its words under it, what is left over on pages filled one after another."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from layout.sheets.column import Column
from layout.sheets.draft import Draft, with_further
from layout.sheets.paper import SIZES, drawing_window
from layout.sheets.scene import View
from layout.sheets.shared import FOOT, HEAD, extent
from layout.words import say

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

LEAST_UNDER = 40.0
"""Less room under a drawing is left free, paper mm."""
AIR = 4.0
"""Between a drawing and its scale bar, and between that and the words under it, paper mm."""


def on_clipboard(drafts: Sequence[Draft], prefix: str) -> Iterator[Draft]:
    """Drafts of one room, whose keys begin with `prefix`, in their order, words under their drawings; after them the pages of what did not go there, said once."""
    last: Column | None = None
    of = drafts[0]
    told: set[tuple[str, ...]] = set()
    for draft in drafts:
        if draft.view is None or draft.column is None:
            yield from with_further(draft)
            continue
        raised, spare = _raised(draft)
        column = Column(SIZES[draft.paper], spare=spare, before=last, rest=say("{title}, continued", title=draft.title))
        for section in draft.column.sections():
            if section.told not in told:
                column.need(math.fsum(height for _, _, height in section.pieces[:2]))  # a heading stays with the whole of what follows it
                column.take(section)
                told.add(section.told)
        if column.further:
            last = column
        marks = draft.words if draft.cut_off or draft.beside else []  # of others they are the words taken here
        yield replace(raised, words=[*column.scene, *marks], further=())
    if last is not None:
        title = say("Notes to the drawings")
        for k, page in enumerate(last.further, 1):
            yield Draft(f"{prefix}notes-{k}", title, of.room, of.paper, None, (), page, heading=title, shows=of.shows)


def _raised(draft: Draft) -> tuple[Draft, list[tuple[float, float, float]]]:
    """A drawing at the head of its page in a window no taller than it is, and the place for words under it.

    A part of a floor, and a drawing that takes its page, stay as they are.
    """
    view = draft.view
    assert view is not None
    if draft.cut_off or draft.beside:
        return draft, []
    left, y0, _, y1 = drawing_window(SIZES[draft.paper])
    _, low, _, high = extent(draft)
    tall = high - low + HEAD + FOOT + AIR
    foot = y1 - tall - AIR
    if foot - y0 < LEAST_UNDER:
        return draft, []
    up = y1 - HEAD - high
    at = (view.at[0], y1 - tall / 2.0)
    centre = (view.centre[0], view.centre[1] + (at[1] - view.at[1] - up) * view.scale)
    return replace(draft, view=View(centre, at, view.scale, (view.size[0], tall))), [(left + 2.0, foot, y0 + AIR / 2.0)]
