"""A whole plan counted again from its records."""

from __future__ import annotations

import tomllib
from typing import TYPE_CHECKING, Any

from tests.recount.orders import count_orders
from tests.recount.rooms import count_joints, count_levels, count_tape
from tests.recount.runs import count_runs
from tests.recount.surfaces import count_lines, count_marks, count_part, count_start

if TYPE_CHECKING:
    from tests.recount.tally import Tally


def count_plan(tally: Tally, name: str, text: str, setout: dict[str, Any], bill: dict[str, Any] | None) -> None:
    """Every figure of a set-out with its pieces, and of its take-off where there is one; `text` is the plan's file."""
    typed = {room["name"]: room for room in tomllib.loads(text)["rooms"] if "name" in room}
    seen: dict[str, int] = {}
    for room in setout["rooms"]:
        plan = typed.get(room["name"])
        surfaces: dict[str, list[dict[str, Any]]] = {}
        for part in room["surfaces"]:
            surfaces.setdefault(part["id"], []).append(part)
        for parts in surfaces.values():
            tally.where = f"{name}, {room['name']}, {parts[0]['name']}:"
            if parts[0].get("pieces") is None:
                continue
            for part in parts:
                count_part(tally, part, room)
                count_lines(tally, part, plan)
                for row in part["cuts"]:
                    seen[row["mark"]] = seen.get(row["mark"], 0) + row["count"]
            count_marks(tally, parts)
            count_start(tally, parts, room)
            count_runs(tally, parts, room)
        tally.where = f"{name}, {room['name']}:"
        count_joints(tally, room)
        count_tape(tally, room, plan)
        count_levels(tally, room, plan)
    tally.where = f"{name}:"
    if bill is not None:
        count_orders(tally, setout, bill)
