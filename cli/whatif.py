"""What if: a plan with some keys changed, against the plan as it stands."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import layout

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path


def compared_with(plan: Path, given: Sequence[str]) -> tuple[layout.Changes, layout.SetOut]:
    """What changes if keys of a plan are set otherwise, and the set-out that they give.

    Raises
    ------
    PlanError, PlanFaults
        If a key leads nowhere, or the plan is not valid with it.
    """
    before = layout.set_out(layout.read_plan(plan))
    values: dict[tuple[str | int, ...], Any] = dict(_asked(text) for text in given)
    try:
        changed = layout.with_values(layout.read_text(plan), values)
    except (KeyError, IndexError, TypeError) as error:
        raise layout.PlanError("--set", f"{' '.join(given)} leads nowhere in {plan.name} ({error})", _MEND) from None
    after = layout.set_out(layout.parse_plan(changed, f"{plan.name} with --set", folder=plan.parent))
    return layout.compare_setouts(before, after), after


_MEND = "write the key as it stands in the plan: tiles.floor.size=[300,300], rooms.0.drains.0.at=[2953,1546]"


def _asked(text: str) -> tuple[tuple[str | int, ...], Any]:
    """`rooms.0.tile_height=2000` as a path and a value, the value as TOML writes it; a word without quotes is a word."""
    import tomllib

    key, sign, written = text.partition("=")
    if not sign or not key.strip() or not written.strip():
        raise layout.PlanError("--set", f"{text!r} found", _MEND)
    try:
        value: Any = tomllib.loads(f"value = {written}")["value"]
    except (tomllib.TOMLDecodeError, RecursionError):
        value = written.strip()
    return tuple(int(step) if step.isdecimal() and len(step) < 10 else step for step in key.strip().split(".")), value
