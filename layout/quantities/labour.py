"""Hours of one hand, from what a hand does in an hour by the products' figures; the programme reckons with the same hours."""

from __future__ import annotations

from typing import TYPE_CHECKING

from layout.quantities.pace import fixings
from layout.quantities.sealing import joints
from layout.quantities.tiling import each_surface
from layout.quantities.values import Part, Quantity
from layout.quantities.waterproofing import JUNCTIONS, coated, tanked, tape

if TYPE_CHECKING:
    from collections.abc import Iterable

    from layout.setout.values import SetOut


def _hours(parts: Iterable[Part], an_hour: float) -> list[Quantity]:
    """Quantities as hours: so much of them an hour."""
    return [Quantity(parts=tuple(part.times(1.0 / an_hour) for part in parts))]


def priming(setout: SetOut) -> list[Quantity]:
    """Hours of priming, every coat."""
    products = setout.plan.products
    return _hours([part.times(round(products.primer_coats.value)) for part in tanked(setout)], products.primer_m2_h.value)


def detailing(setout: SetOut) -> list[Quantity]:
    """Hours of tape with its detail coat; corner pieces, collars and flanges within it."""
    runs = [part for junction in JUNCTIONS for made in tape(junction)(setout) for part in made.parts]
    return _hours(runs, setout.plan.products.tape_m_h.value)


def coating(setout: SetOut) -> list[Quantity]:
    """Hours of membrane, coat by coat."""
    products = setout.plan.products
    count = round(products.membrane_coats.value)
    return _hours(coated(tanked(setout), count), products.membrane_m2_h.value)


def fixing(setout: SetOut) -> list[Quantity]:
    """Hours of fixing tile by its size, pattern, height and cuts; a wall's bottom course apart."""
    made = fixings(setout)
    outputs = "; ".join(sorted({each.why for each in made}))
    names = {"outputs": outputs, "sources": "; ".join(sorted({each.source for each in made})), "cuts": sum(each.cuts for each in made)}
    return [Quantity(parts=tuple(Part(each.place, each.hours, each.m2) for each in made), names=names)]


def grouting(setout: SetOut) -> list[Quantity]:
    """Hours of grouting, washed up."""
    return _hours([Part(place, done.tiled_m2) for place, done in each_surface(setout)], setout.plan.products.grout_m2_h.value)


def sealing(setout: SetOut) -> list[Quantity]:
    """Hours of sealing joints, rod and masking within them."""
    return _hours([part for made in joints(setout) for part in made.parts], setout.plan.products.sealant_m_h.value)
