"""Plans of the rooms that were found in a drawing, a model or outlines."""

from __future__ import annotations

from typing import TYPE_CHECKING

from layout.names import told_apart
from layout.readers.planfile import parse_plan
from layout.survey.drafts import found_plan
from layout.survey.found import file_stem

if TYPE_CHECKING:
    from layout.plan.values import Plan
    from layout.survey.found import Found


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
