"""Plans of the rooms that were found in a drawing, a model or outlines; a drawing read again into plans that are there."""

from __future__ import annotations

from typing import TYPE_CHECKING

from layout.errors import PlanError
from layout.names import told_apart
from layout.readers.planfile import parse_plan
from layout.readers.texts import parse_toml
from layout.survey.drafts import found_plan
from layout.survey.found import file_stem
from layout.survey.merging import corner_of, merged

if TYPE_CHECKING:
    from layout.plan.values import Plan
    from layout.survey.found import Found
    from layout.survey.merging import Merge


def plans_of(found: Found) -> tuple[Plan, ...]:
    """A plan for each room found.

    Raises
    ------
    PlanError, PlanFaults
        If a room cannot be set out as it was drawn.
    """
    note = f"From {found.source}"
    stems = told_apart(file_stem(room.name) for room in found.rooms)
    return tuple(parse_plan(found_plan(room, note=note), f"{stem}.toml") for room, stem in zip(found.rooms, stems, strict=True))


def reread(mine: str, before: str | None, now: str, source: str) -> Merge:
    """What of a drawing read again goes into a plan that a person has gone on with.

    `mine` is the plan's text, `before` the text of the plan as the drawing gave it then (None if it is not known), `now` as it
    gives it now; `source` names the plan in messages.

    Raises
    ------
    PlanError
        If the plan is no TOML, or has no room with an outline of its own.
    """
    own = parse_toml(mine, source)
    rooms = own.get("rooms")
    if (
        not isinstance(rooms, list)
        or not rooms
        or not all(isinstance(room, dict) and isinstance(room.get("outline"), list) for room in rooms)
    ):
        raise PlanError(source, "it has no room with an outline", "mend it, or let --force write it anew from the drawing")
    try:
        return merged(own, parse_toml(before, source) if before is not None else None, parse_toml(now, source))
    except (KeyError, TypeError, IndexError, ValueError) as error:  # a plan that a person left half typed
        raise PlanError(
            source, f"it is not a plan that can be read ({error!r})", "mend it first: gaugerod check tells what is wrong"
        ) from None


def axes_of(text: str, source: str, name: str) -> tuple[float, float] | None:
    """Where in the drawing the axes of a plan's room begin, mm: by the room's name, else the first; None if it does not say."""
    rooms = parse_toml(text, source).get("rooms")
    own = [room for room in rooms if isinstance(room, dict)] if isinstance(rooms, list) else []
    return corner_of(next((room for room in own if room.get("name") == name), own[0])) if own else None
