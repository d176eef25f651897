"""Reads what a batch kept of a plan back into values."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from layout.quantities.blanks import Blank
from layout.quantities.needs import Cuts, Need, PlanWork, Saw, SawPiece

if TYPE_CHECKING:
    from collections.abc import Mapping


def plan_work(record: Mapping[str, Any]) -> PlanWork:
    """A plan's work from its record, as lists and tables.

    Raises
    ------
    KeyError, TypeError, ValueError
        If it is none.
    """
    needs = tuple(Need(**{**need, "runs": tuple((str(name), float(length)) for name, length in need["runs"])}) for need in record["needs"])
    cuts = tuple(
        Cuts(
            saw=Saw(**{**own["saw"], "tile": tuple(own["saw"]["tile"]), "turns": tuple(own["saw"]["turns"])}),
            whole=own["whole"],
            pieces=tuple(SawPiece(p["place"], p["mark"], _blank(p["blank"]), tuple(p["corner"])) for p in own["pieces"]),
        )
        for own in record["cuts"]
    )
    return PlanWork(**{**record, "needs": needs, "cuts": cuts})


def _blank(record: Mapping[str, Any]) -> Blank:
    leaves = tuple((slot, int(width), int(height)) for slot, width, height in record["leaves"])
    return Blank(record["width"], record["height"], frozenset(record["sides"]), leaves)
