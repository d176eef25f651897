"""Membrane and what goes with it: areas, coats, tape, corner pieces, collars, flanges, ends."""

from __future__ import annotations

from typing import TYPE_CHECKING

import shapely

from layout.quantities.values import Part, Place, Quantity, words_of
from layout.tanking.membrane import ENDS, film_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from layout.lining.surfaces import Surface
    from layout.setout.values import RoomSetOut, SetOut
    from layout.tanking.tape import Junction

    Measure = Callable[[SetOut], list[Quantity]]

JUNCTIONS: tuple[Junction, ...] = ("internal", "external", "bridge")


def _slope(room: RoomSetOut, surface: Surface) -> float:
    """True area of a floor that falls over its area in plan; 1 where it hardly differs."""
    return room.levels.stretch if room.levels is not None and surface.kind in ("floor", "border") else 1.0


def tanked(setout: SetOut) -> list[Part]:
    """Tanked area of each surface without its channels, m², and the returns onto walls that are tanked lower.

    A channel takes its whole frame out of the membrane; gullies, pipes and fixings are small, and collars and flanges cover
    what they leave out.
    """
    result = []
    for index, room in enumerate(setout.rooms):
        for surface in room.membrane.lining.surfaces:
            channels = [each.shape for each in surface.breaks if each.kind == "channel"]
            bare = shapely.difference(surface.tanked, shapely.union_all(channels)) if channels else surface.tanked
            if bare.area > 1.0:
                place = Place(index, "surface", surface.id, words=words_of(setout, room, surface.name))
                result.append(Part(place, bare.area * _slope(room, surface) / 1e6))
        for k, run in enumerate(room.tape.runs, 1):
            if run.low_return is not None:
                place = Place(index, "return", number=k, words=words_of(setout, room, f"return beside {run.name}"))
                result.append(Part(place, run.low_return.value * run.return_length / 1e6))
    return result


def membrane_area(setout: SetOut) -> list[Quantity]:
    """The membrane, m²."""
    return [Quantity(parts=tuple(tanked(setout)))]


def coated(parts: list[Part], count: int) -> list[Part]:
    """The parts once for each coat; a single coat has no number."""
    return [part.coated(k) for k in range(1, count + 1) for part in parts] if count > 1 else parts * count


def coats(each: str, number: str) -> Measure:
    """Kilograms of a product in coats over all that is tanked: `each` and `number` are figures of the products."""

    def measure(setout: SetOut) -> list[Quantity]:
        products = setout.plan.products
        kg, count = getattr(products, each).value, round(getattr(products, number).value)
        own, film = coated([part.times(kg) for part in tanked(setout)], count), film_of(setout.plan)
        return [Quantity(parts=tuple(own), names={"wet": film.wet, "dry": film.coats * film.dry})]

    return measure


def broadcast(setout: SetOut) -> list[Quantity]:
    """Quartz over the floors, kg."""
    each = setout.plan.products.quartz_kg_m2.value
    return [
        Quantity(
            parts=tuple(
                part.times(each) for part in tanked(setout) if part.place.surface is not None and part.place.surface.kind == "floor"
            )
        )
    ]


def broadcast_last(setout: SetOut) -> list[Quantity]:
    """Quartz on the last coat, if the plan wants it."""
    return broadcast(setout) if setout.plan.rules.quartz_last else []


def _runs(setout: SetOut, junction: Junction) -> list[Part]:
    return [
        Part(Place(index, "tape", number=k, words=words_of(setout, room, run.name)), run.length / 1000.0)
        for index, room in enumerate(setout.rooms)
        for k, run in enumerate(room.tape.runs, 1)
        if run.junction == junction
    ]


def tape(junction: Junction) -> Measure:
    """Metres of tape on a kind of junction."""
    return lambda setout: [Quantity(parts=tuple(_runs(setout, junction)))]


def detail_coat(setout: SetOut) -> list[Quantity]:
    """Resin under and over all tape, kg."""
    each = setout.plan.products.detail_coat_kg_m.value
    return [Quantity(parts=tuple(part.times(each) for junction in JUNCTIONS for part in _runs(setout, junction)))]


def corner_pieces(kind: str) -> Measure:
    """Corner pieces of a kind, by room."""
    return lambda setout: [
        Quantity(
            parts=tuple(
                Part(Place(index, "room", words=room.name), room.tape.count(kind))
                for index, room in enumerate(setout.rooms)
                if room.tape.count(kind)
            )
        )
    ]


def collars(setout: SetOut) -> list[Quantity]:
    """One collar for each pipe and fixing through the tanking."""
    return [
        Quantity(
            parts=tuple(
                Part(Place(index, "collar", each.surface, k, words=words_of(setout, room, f"{each.label} in {each.surface}")), 1)
                for index, room in enumerate(setout.rooms)
                for k, each in enumerate(room.tape.collars, 1)
            )
        )
    ]


def flanges(setout: SetOut) -> list[Quantity]:
    """Metres of drain flange that the membrane laps."""
    return [
        Quantity(
            parts=tuple(
                Part(
                    Place(index, "flange", each.surface, k, words=words_of(setout, room, f"{each.label} in {each.surface}")),
                    each.length / 1000.0,
                )
                for index, room in enumerate(setout.rooms)
                for k, each in enumerate(room.tape.flanges, 1)
            )
        )
    ]


def terminations(setout: SetOut) -> list[Quantity]:
    """Metres of free edge of the membrane, by how it ends."""
    ends: dict[str, list[Part]] = {}
    for index, room in enumerate(setout.rooms):
        for k, end in enumerate(room.membrane.terminations, 1):
            place = Place(index, "termination", number=k, words=words_of(setout, room, end.where))
            ends.setdefault(end.kind, []).append(Part(place, end.length / 1000.0))
    return [Quantity(parts=tuple(own), names={"of": kind.replace(" ", "_"), "end": ENDS[kind]}) for kind, own in ends.items()]
