"""Shifts of a start that are told to leave fewer weak pieces: taken as a person would type them, and counted."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

import shapely

if TYPE_CHECKING:
    from collections.abc import Callable

    from tests.recount.tally import Tally

SHIFT = re.compile(r"the start shifted by [\d.]+ mm to \[([-\d.]+), ([-\d.]+)\] leaves (?:only )?(none|\d+)(?: and no cut under (\d+))?")
NECK = 30.0
"""A piece that falls apart, or vanishes, where it is eaten into by half of this is weak, mm (as the finding says: nowhere wider than 30)."""
EDGE = 20.0
"""A hole nearer than this to its piece's edge breaks out, mm."""


def count_mends(tally: Tally, text: str, setout: dict[str, Any], again: Callable[[str], dict[str, Any]]) -> None:
    """Each shift that is offered for a floor is set out with its start typed into the plan; `again` sets a plan's text out."""
    for number, room in enumerate(setout["rooms"]):
        floor = next(part for part in room["surfaces"] if part["kind"] == "floor")
        for warning in room["warnings"]:
            offer = SHIFT.search(warning["text"])
            if warning["code"] != "weak-piece" or warning["surface"] != "floor" or offer is None:
                continue
            taken = with_start(text, floor["tile"]["name"], offer[1], offer[2]) if len(setout["rooms"]) == 1 else None
            if taken is None:
                tally.unjudged["shifts offered in plans of several rooms, or of a tile without a table"] += 1
                continue
            made = again(taken)["rooms"][number]
            parts = [part for part in made["surfaces"] if part["id"] == floor["id"]]
            left = 0 if offer[3] == "none" else int(offer[3])
            tally.no_more("weak pieces once an offered shift is taken", weak_in(parts), left)
            if offer[4] is not None:  # told in whole millimetres, the shift in tenths
                tally.same(
                    "narrowest cut of an offered shift over the play, mm", float(offer[4]), parts[0]["start"]["smallest_cut_worst_mm"], 0.6
                )


def with_start(text: str, tile: str, x: str, y: str) -> str | None:
    """A plan's text with the start of one tile fixed there, in place of one that it has; None where the tile has no table of its own."""
    table = re.search(rf"^\[tiles\.{re.escape(tile)}\]\n", text, flags=re.MULTILINE)
    if table is None:
        return None
    rest = text[table.end() :]
    own = re.match(r"(?:[^\[\n][^\n]*\n|\n)*", rest)
    kept = "" if own is None else re.sub(r"^start(_line)? *=.*\n", "", own[0], flags=re.MULTILINE)
    return f"{text[: table.end()]}start = [{x}, {y}]\n{kept}{rest[0 if own is None else own.end() :]}"


def weak_in(parts: list[dict[str, Any]]) -> int:
    """How many cut pieces are weak."""
    found = 0
    for part in parts:
        for piece in part["pieces"]:
            if piece["mark"] is None:
                continue
            shape = shapely.Polygon(piece["outline"], piece["holes"])
            eaten = shape.buffer(-NECK / 2, join_style="mitre")
            holes = any(hole.distance(shape.exterior) < EDGE for hole in shape.interiors)
            found += holes or eaten.is_empty or eaten.geom_type != "Polygon"
    return found
