"""Sealant joints: metres by kind, sealant by section, backer rod by size, primer and tapes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from layout.joints.lines import CALLED, KINDS
from layout.quantities.values import Part, Place, Quantity, words_of
from layout.standards.sealants import backer_rod, sealant_depth

if TYPE_CHECKING:
    from collections.abc import Callable

    from layout.joints.lines import MovementJoint
    from layout.setout.values import SetOut


def _each_joint(setout: SetOut) -> list[tuple[Place, MovementJoint]]:
    """Every joint of the set-out with its place."""
    return [
        (Place(index, "joint", joint.surface, k, words=words_of(setout, room, f"{joint.kind}, {joint.surface}")), joint)
        for index, room in enumerate(setout.rooms)
        for k, joint in enumerate(room.joints, 1)
    ]


def joints(setout: SetOut) -> list[Quantity]:
    """Metres of sealant joint, by kind."""
    every = _each_joint(setout)
    result = []
    for kind in KINDS:
        parts = []
        for place, joint in every:
            if joint.kind == kind:
                words = f"{place.words} {joint.label}" if joint.label else place.words
                parts.append(Part(Place(place.room, "joint", place.surface, place.number, words=words), joint.length / 1000.0))
        result.append(Quantity(parts=tuple(parts), names={"kind": CALLED[kind]}))
    return result


def sealant(setout: SetOut) -> list[Quantity]:
    """Millilitres of sealant by room and section, width by depth."""
    products = setout.plan.products
    waste, size = products.sealant_waste.value, products.sealant_cartridge_ml.value
    sections: dict[tuple[int, float, float], float] = {}
    for place, joint in _each_joint(setout):
        section = (place.room, joint.width, sealant_depth(joint.width))
        sections[section] = sections.get(section, 0.0) + joint.length / 1000.0
    parts = []
    for number, ((index, w, d), metres) in enumerate(sorted(sections.items()), 1):
        words = f"{w:g} × {d:g}: {metres:.1f} m, {size / (w * d) / (1 + waste):.1f} m from a cartridge"
        place = Place(index, "section", number=number, words=words_of(setout, setout.rooms[index], words))
        parts.append(Part(place, metres * w * d * (1 + waste)))
    return [Quantity(parts=tuple(parts), names={"factor": 1 + waste})]


def backer_rods(setout: SetOut) -> list[Quantity]:
    """Metres of backer rod by its size; none round pipes."""
    rods: dict[float, list[Part]] = {}
    for place, joint in _each_joint(setout):
        if joint.kind != "pipe":
            rods.setdefault(backer_rod(joint.width), []).append(Part(place, joint.length / 1000.0))
    return [Quantity(parts=tuple(rods[rod]), names={"rod": rod}) for rod in sorted(rods)]


def along_joints(each: str) -> Callable[[SetOut], list[Quantity]]:
    """What every metre of joint takes of a product: `each` is its figure; nothing where that is 0."""

    def measure(setout: SetOut) -> list[Quantity]:
        rate = getattr(setout.plan.products, each).value
        if rate <= 0.0:
            return []
        return [Quantity(parts=tuple(Part(place, joint.length / 1000.0 * rate) for place, joint in _each_joint(setout)))]

    return measure
