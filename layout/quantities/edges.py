"""Coves, trims on external arrises, and skirting in pieces."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from layout.lining.owners import owner_of
from layout.quantities.values import Part, Place, Quantity, words_of
from layout.tiles.skirting import arrises, skirting_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from layout.setout.values import SetOut


def coves(setout: SetOut) -> list[Quantity]:
    """Metres of coved skirting at the foot of walls, plinths and columns, if the plan has it."""
    if setout.plan.rules.foot != "cove":
        return []
    return [
        Quantity(
            parts=tuple(
                Part(Place(index, "cove", joint.surface, k, words=words_of(setout, room, joint.label)), joint.length / 1000.0)
                for index, room in enumerate(setout.rooms)
                for k, joint in enumerate(room.joints, 1)
                if joint.surface.kind == "floor" and joint.kind in ("perimeter", "plinth", "column")
            )
        )
    ]


def trims(setout: SetOut) -> list[Quantity]:
    """Metres of trim on tiled upright arrises and plinth edges."""
    parts: list[Part] = []
    for index, room in enumerate(setout.rooms):
        outline = room.lining.outline
        for k, (name, _, low, top) in enumerate(arrises(room.lining), 1):
            parts.append(Part(Place(index, "arris", number=k, words=words_of(setout, room, f"arris {name}")), (top - low) / 1000.0))
        edges = [face for face in room.lining.shell.faces if face.tag.owner == "plinth" and face.high >= 0 and owner_of(outline, face).tile]
        for k, face in enumerate(edges, 1):
            words = words_of(setout, room, f"edge of {owner_of(outline, face).label}")
            parts.append(Part(Place(index, "edge", number=k, words=words), face.length / 1000.0))
    return [Quantity(parts=tuple(parts))]


def skirting(kind: Literal["straight", "internal", "external", "stop_left", "stop_right"]) -> Callable[[SetOut], list[Quantity]]:
    """Skirting pieces of a kind, if the plan gives their length: straight ones by run, others by room."""

    def measure(setout: SetOut) -> list[Quantity]:
        parts: list[Part] = []
        for index, room in enumerate(setout.rooms):
            made = skirting_of(room.lining)
            if made is None:
                continue
            if kind == "straight":
                parts += [
                    Part(Place(index, "skirting", number=k, words=words_of(setout, room, run.label)), run.straight)
                    for k, run in enumerate(made.runs, 1)
                ]
            elif getattr(made, kind):
                parts.append(Part(Place(index, "room", words=room.name), getattr(made, kind)))
        return [Quantity(parts=tuple(parts))]

    return measure
