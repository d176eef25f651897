"""A drawing read again into plans that are there: what was typed stays, what the drawing changed is taken in and told."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import layout
from cli.keeping import kept_of, lines_text

if TYPE_CHECKING:
    from pathlib import Path

AS_READ = ".as-read"
"""Ending of the file that holds what a drawing gave, so that reading it again knows what was typed since."""
_HEAD = "# What the drawing gave when it was read: kept so that reading it again knows what you have typed since. Leave it as it is.\n"


class Text(NamedTuple):
    """A plan's text as it is to be written: what the drawing gave, what was taken in of it, what was left, and what was there before."""

    text: str
    as_read: str
    applied: tuple[str, ...] = ()
    left: tuple[str, ...] = ()
    before: bytes | None = None
    moves: str = ""


def text_of(room: layout.FoundRoom, note: str, place: Path, *, anew: bool, keep: tuple[str, ...] = ()) -> Text:
    """The text of a room's plan: as found, or the plan that stands there with what the drawing changed.

    `anew` writes it as found, whatever was typed. Lines, joints or marks to `keep` are put in as keys where the room changed.
    """
    if anew or not place.is_file() or place.stat().st_size == 0:
        made = layout.found_plan(room, note=note)
        return Text(made, _HEAD + made)
    there = place.read_bytes()
    mine = layout.read_text(place)
    earlier = place.with_suffix(AS_READ)
    before = layout.read_text(earlier) if earlier.is_file() else None
    corner = layout.axes_of(before if before is not None else mine, place.name, room.name)
    now = layout.found_plan(room, note=note, corner=corner)
    merge = layout.reread(mine, before, now, place.name)
    text = layout.with_merge(mine, merge)
    moves = ""
    if merge.applied:
        text, moves = _lines(mine, text, place, keep)
    return Text(text, _HEAD + now, tuple(merge.applied), tuple(merge.left), there, moves)


def _lines(mine: str, text: str, place: Path, keep: tuple[str, ...]) -> tuple[str, str]:
    """The text with what is kept as keys, and which lines move or would move, in words; nothing where a plan does not stand by itself."""
    try:
        before, after = (layout.set_out(layout.parse_plan(each, place.name, folder=place.parent)) for each in (mine, text))
        if not keep:
            return text, lines_text(layout.compare_setouts(before, after))
        kept = kept_of(before, after, keep)
    except layout.LayoutError as error:
        return text, f"which lines move is not told: {str(error).splitlines()[0]}"
    return layout.with_kept(text, after.plan, kept.setout.plan), kept.cost_text()
