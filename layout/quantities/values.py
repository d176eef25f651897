"""What quantities are made of: places, parts, rows of the table of items, items, and a take-off.

A place is known by a value, as a surface is: room, kind, surface, number, course, coat. Its words are made where it is
measured, for people; nothing reads them back.
"""

from __future__ import annotations

import difflib
import math
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Literal, TypeAlias

from layout.notebook import html_table
from layout.words import worded

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from layout.identity import SurfaceId
    from layout.plan.values import Stage
    from layout.setout.values import RoomSetOut, SetOut

MEASURED = "net as built, from the set-out"

Unit: TypeAlias = Literal["m3", "m2", "m", "pcs", "kg", "ml", "h"]
Section: TypeAlias = Literal["waterproofing", "tiling", "sealants", "general"]
Work: TypeAlias = Literal["", "tanked", "tiled", "priming", "detailing", "coating", "fixing", "grouting", "sealing"]
PlaceKind: TypeAlias = Literal[
    "surface", "room", "tape", "joint", "rod", "section", "collar", "flange", "termination", "return", "cove", "arris", "edge", "skirting"
]


@dataclass(frozen=True, slots=True)
class Place:
    """Where a part of a quantity is.

    `room` counts from 0 as typed. `surface` is the surface it lies on, if it lies on one; `number` counts the things of its
    kind in the room, from 1, in the order of the set-out (tape run 3 is R3 of the sheets); `course` and `coat` are shares
    of one surface. `words` are what a person calls it and take no part in comparing.

    >>> Place(0, "tape", number=3, words="wall–floor, north") == Place(0, "tape", number=3, words="wall–floor, wall 1")
    True
    """

    room: int
    kind: PlaceKind
    surface: SurfaceId | None = None
    number: int = 0
    course: Literal["", "bottom"] = ""
    coat: int = 0
    words: str = field(default="", compare=False)

    def __str__(self) -> str:
        return self.words

    @property
    def key(self) -> str:
        """The identity as one word, for records: ``0.wall.3.bottom``, ``0.floor.coat.2``, ``1.tape.4``."""
        if self.kind == "surface" and self.surface is not None:
            base = self.surface.key
        else:
            base = ".".join(str(part) for part in (self.room, self.kind, *([self.number] if self.number else [])))
        return base + (f".{self.course}" if self.course else "") + (f".coat.{self.coat}" if self.coat else "")


@dataclass(frozen=True, slots=True)
class Part:
    """A share of an item: where it is and how much; of hours of fixing tile also the area, m²."""

    place: Place
    quantity: float
    m2: float = 0.0

    @property
    def where(self) -> str:
        """The place in words."""
        return self.place.words

    def times(self, factor: float) -> Part:
        """The same place with so many times as much."""
        return Part(self.place, self.quantity * factor)

    def coated(self, number: int) -> Part:
        """The part as one coat of several."""
        return Part(replace(self.place, coat=number, words=f"{self.where}, coat {number}"), self.quantity)


def words_of(setout: SetOut, room: RoomSetOut, words: str) -> str:
    """What a place of a room is called: with the room's name where there are several."""
    return words if len(setout.rooms) == 1 else f"{room.name}: {words}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """What was measured for a row of the table: `names` fill its key, name, formula and source; `size` is a tile's own, mm.

    Quantities of one `group` stand together in a block of rows: the tiles of a tile and its tiled area.
    """

    parts: tuple[Part, ...]
    names: Mapping[str, object] = field(default_factory=dict)
    size: tuple[float, float] | None = None
    group: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pack:
    """How an item is bought: in `word`s whose size is the figure `size` of the products.

    `beside` are items that come out of the same packs; `loss` is the figure of what is left in tins and on tools, or kept as
    spares. What is mixed says what a pack is spread over (`over`: work
    measured in m², `coats` times), its figure of pot life, and the work whose hours tell its `pace`.
    """

    word: Literal["box", "pack", "cartridge", "roll", "length"]
    size: str
    beside: tuple[str, ...] = ()
    loss: str = ""
    note: str = ""
    over: Work = ""
    coats: str = ""
    pot: str = ""
    pace: Work = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One row of the table of items: all that is said of an item before anything is measured.

    `key`, `name`, `formula` and `source` may hold fields in braces, filled from the quantity's `names` and from the
    products as ``p``. `work` is what mixing and programme count it as: areas, or hours of one hand. Rows of one `block` are ordered by their groups.
    """

    key: str
    name: str
    unit: Unit
    stage: Stage
    section: Section
    measure: Callable[[SetOut], Iterable[Quantity]]
    formula: str
    source: str = MEASURED
    pack: Pack | None = None
    work: Work = ""
    block: str = ""

    def item(self, quantity: Quantity, setout: SetOut) -> Item:
        """The item that a measured quantity makes."""
        names = {**quantity.names, "p": setout.plan.products}
        texts = [text.format(**names) for text in (self.key, self.formula, self.source)]
        return Item(
            row=self,
            key=texts[0],
            name=worded(self.name, **names),
            formula=texts[1],
            source=texts[2],
            parts=quantity.parts,
            size=quantity.size,
            tile=quantity.group,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One measured item. `key` is stable; `quantity` is the sum of its parts, in `unit`; `size` is a tile's own, mm, `tile` its name."""

    row: Row
    key: str
    name: str
    parts: tuple[Part, ...]
    formula: str
    source: str
    size: tuple[float, float] | None = None
    tile: str = ""

    @property
    def unit(self) -> Unit:
        """The unit it is measured in."""
        return self.row.unit

    @property
    def quantity(self) -> float:
        """Sum of the parts."""
        return math.fsum(part.quantity for part in self.parts)

    @property
    def shown(self) -> str:
        """The quantity as people write it: areas to 2 places, metres and weights to 0.1, pieces whole."""
        if self.unit in ("m2", "m3"):
            return f"{self.quantity:.2f} m{'²' if self.unit == 'm2' else '³'}"
        if self.unit == "pcs":
            return f"{self.quantity:.0f}"
        return f"{self.quantity:.0f} ml" if self.unit == "ml" else f"{self.quantity:.1f} {self.unit}"


@dataclass(frozen=True, slots=True, eq=False)
class TakeOff:
    """A set-out with its measured items, in the order of the works."""

    setout: SetOut
    items: tuple[Item, ...]

    def __repr__(self) -> str:
        return f"<TakeOff of {self.setout.plan!r}: {len(self.items)} items>"

    def _repr_html_(self) -> str:
        """Its items, as a notebook shows them."""
        rows = [(item.name, item.shown, item.formula, item.source) for item in self.items]
        return html_table(f"Take-off of {self.setout.plan.project.title}", ("item", "measured", "formula", "source"), rows, right=(1,))

    def item(self, key: str) -> Item | None:
        """The item of a key."""
        return next((item for item in self.items if item.key == key), None)

    def asked(self, text: str) -> Item | None:
        """The item that a person asks for by its key or its printed name."""
        own = text.strip().casefold()
        return self.item(text) or next((item for item in self.items if own in (item.key.casefold(), item.name.casefold())), None)

    def near(self, text: str) -> list[str]:
        """Keys of items that a text may mean: what is like their key, or like their printed name, or within it."""
        own = text.strip().casefold()
        names = {item.name.casefold(): item.key for item in self.items} | {item.key.casefold(): item.key for item in self.items}
        like = [names[each] for each in difflib.get_close_matches(own, names, n=3)]
        return list(dict.fromkeys([*like, *(key for name, key in names.items() if own and own in name)]))[:3]

    def worked(self, work: Work) -> list[Part]:
        """The parts of all items that the programme counts as one kind of work."""
        return [part for item in self.items if item.row.work == work for part in item.parts]
