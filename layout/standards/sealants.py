"""The sealant joint by calculation: width from movement, depth, backer rod, yield.

What moves, and by how much, is the plan's to say; the figures here are those of published guides and handbooks.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from layout.errors import Rule
from layout.fields import Among, Number, Pair
from layout.keys import declared, key
from layout.standards.rules import STOCK_WIDTHS
from layout.units import EPS

CLASSES = (25.0, 20.0, 12.5, 7.5)
"""Movement capability by ISO 11600, percent of the width to either side (BASA guide to ISO 11600; the meaning from memory)."""
TILE_EXPANSION = Rule(7.0, "1e-6 per K", "common practice for porcelain, no source; ISO 10545-8 pages report 4.1 to 8.1")
FRAME_EXPANSION = Rule(16.0, "1e-6 per K", "stainless steel, from memory")
WASH_STEP = Rule(60.0, "K", "common practice, no source: hot wash-down on a cool floor")
DEPTH_LEAST = Rule(6.0, "mm", "depth = half the width, clamped to 6-13 mm; architectural detailing textbook")
DEPTH_GREATEST = Rule(13.0, "mm", DEPTH_LEAST.source)
ROD_OVER = Rule(0.25, "part", "closed-cell rod about 25 % larger than the joint, from memory")
ROD_STOCK = (8.0, 10.0, 13.0, 15.0, 20.0, 25.0, 30.0, 40.0)
"""Diameters of backer rod, mm (common practice, no source)."""
WIDTH_SOURCE = "movement / capability + tolerance, the form of ASTM C1472 (from memory; its scope confirmed)"


@declared
class Sealant:
    """What a plan says of its sealant joints.

    `temperatures` the lowest and highest of the tile's surface, degrees C, None if not given; `expansion` 1e-6 per K;
    `shrinkage` of what the tile is fixed to, mm/m; `movement_class` percent; `tolerance` of the building, mm.
    """

    temperatures: tuple[float, float] | None = key(
        Pair(Number(-60, 150, length=False), "[lowest, highest]"),
        "lowest and highest temperature of the tile's surface",
        unit="degrees C",
        default=None,
        example=[5, 60],
    )
    expansion: float = key(Number(0, 100, above=True, length=False), "of the tile", unit="1e-6 per K", default=TILE_EXPANSION.value)
    shrinkage: float = key(Number(0, 5, length=False), "of what the tile is fixed to", unit="mm per m", default=0.0)
    movement_class: float = key(Among(CLASSES), "of the sealant, ISO 11600", unit="percent of its width", default=25.0)
    tolerance: float = key(Number(0, 20), "of the building", unit="mm", default=0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class JointDesign:
    """One joint by calculation; lengths in mm, `yields` ml/m. `needed` is None where the plan gives no temperatures."""

    moving: float
    movement: float | None
    needed: float | None
    stock: float | None
    width: float
    depth: float
    rod: float
    yields: float
    formula: str
    source: str

    @property
    def enough(self) -> bool:
        """Whether the joint is as wide as its movement asks."""
        return self.needed is None or self.width >= self.needed - 0.05


def movement(length: float, sealant: Sealant) -> float | None:
    """Change of length between the lowest and the highest temperature, with shrinkage, mm; None without temperatures.

    dL = alpha x L x dT (cross-reference page on thermal expansion of building materials).

    >>> round(movement(6000.0, Sealant(temperatures=(10.0, 50.0))), 2)
    1.68
    """
    if sealant.temperatures is None:
        return None
    low, high = sealant.temperatures
    return sealant.expansion * 1e-6 * length * (high - low) + sealant.shrinkage * length / 1000.0


def joint_width(moved: float, capability: float, tolerance: float = 0.0) -> float:
    """Width that a sealant of a movement capability (percent) needs, mm: W = dL / S + C (ASTM C1472 form, from memory).

    >>> round(joint_width(1.68, 25.0, 1.6), 2)
    8.32
    """
    return moved / (capability / 100.0) + tolerance


def exterior_extra(span: float) -> float:
    """What EJ171 adds to an exterior joint for a yearly range of the tile's surface, K: 1/16 in for each 15 degF begun above 100 degF, mm.

    Source: "Expansion joints - width and spacing" (trade magazine on the handbook): 115 degF makes 1/2 in 9/16 in.

    >>> round(12.7 + exterior_extra(115 / 1.8), 2)
    14.29
    """
    over = max(span * 1.8 - 100.0, 0.0)
    return math.ceil(over / 15.0 - EPS) * 25.4 / 16.0


def stock_width(width: float) -> float:
    """The next stock width, mm; whole fives beyond the last.

    >>> [stock_width(w) for w in (3.4, 8.32, 31.0)]
    [6.0, 10.0, 35.0]
    """
    found = next((stock for stock in STOCK_WIDTHS if stock >= width - EPS), None)
    return found if found is not None else math.ceil(width / 5.0 - EPS) * 5.0


def sealant_depth(width: float) -> float:
    """Depth of a sealant joint of a given width, mm: half the width, clamped to 6-13 mm.

    Source: architectural detailing textbook (6 x 6, 19 x 9, 32 x 13).

    >>> [sealant_depth(w) for w in (6, 10, 16, 25, 32)]
    [6.0, 6.0, 8.0, 12.5, 13.0]
    """
    return min(max(width / 2.0, DEPTH_LEAST.value), DEPTH_GREATEST.value)


def backer_rod(width: float) -> float:
    """Diameter of backer rod for a joint, mm: a quarter over its width, the next in stock; whole fives beyond.

    >>> [backer_rod(w) for w in (6, 8, 10, 12, 15, 20)]
    [8.0, 10.0, 13.0, 15.0, 20.0, 25.0]
    """
    wanted = width * (1.0 + ROD_OVER.value)
    found = next((stock for stock in ROD_STOCK if stock >= wanted - EPS), None)
    return found if found is not None else math.ceil(wanted / 5.0 - EPS) * 5.0


def design(width: float, moving: float, sealant: Sealant) -> JointDesign:
    """A joint of a given width beside a length of tile that moves into it, mm."""
    moved = movement(moving, sealant)
    needed = None if moved is None else joint_width(moved, sealant.movement_class, sealant.tolerance)
    depth = sealant_depth(width)
    if moved is None or sealant.temperatures is None:
        formula = "no temperatures given: the rule set's width"
    else:
        low, high = sealant.temperatures
        shrinks = f" + {sealant.shrinkage:g} mm/m x {moving / 1000:.2f} m" if sealant.shrinkage else ""
        spare = f" + {sealant.tolerance:g}" if sealant.tolerance else ""
        formula = f"({sealant.expansion:g}e-6 x {moving:.0f} x {high - low:g} K{shrinks}) / {sealant.movement_class / 100:g}{spare} = {needed:.1f}"
    return JointDesign(
        moving=moving,
        movement=moved,
        needed=needed,
        stock=None if needed is None else stock_width(needed),
        width=width,
        depth=depth,
        rod=backer_rod(width),
        yields=width * depth,
        formula=formula,
        source=WIDTH_SOURCE,
    )
